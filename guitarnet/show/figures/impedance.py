"""Figure of an impedance: magnitude above, phase below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...errors import BadSetting
from ...gate import public
from . import style
from .families import (
    assumed,
    at_most_one_family,
    curves_of,
    guitar_of,
    label_family,
    title_of,
    write,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

__all__ = ["plot_impedance"]

_DEEPEST = 1e4
"""Largest impedance over the smallest in the picture."""


@public(z=None)
def plot_impedance(
    z: xr.DataArray,
    ax: Any = None,
    *,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw one family of impedances: magnitude on a logarithmic axis, phase below.

    Parameters
    ----------
    z : xarray.DataArray
        From `guitarnet.impedance`, with at most one dimension besides ``frequency``.
    ax : array of matplotlib.axes.Axes, optional
        Two axes to draw on, magnitude first; a new figure by default.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        Two: magnitude [ohm] and phase [degree]. In a new figure they share the frequency axis.

    Raises
    ------
    BadSetting
        If ``z`` is no impedance or has more dimensions, or ``ax`` is not two axes.

    Notes
    -----
    An open or shorted output has no curve; the figure says "open" or "0 Ω" instead. The phase of
    a passive circuit is between -90 and 90 degrees: above zero it acts like an inductor, below
    like a capacitor, at zero like a resistor.

    Examples
    --------
    >>> from guitarnet import Pickup, impedance, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> [ax.get_ylabel() for ax in plot_impedance(impedance(guitar, volume=[10, 5]))]
    ['impedance [Ω]', 'phase [°]']
    """
    z = at_most_one_family(z)
    if z.attrs.get("units") != "ohm":
        raise BadSetting(
            "plot_impedance", "needs an impedance in ohm", "give what impedance() returns"
        )
    with style.style():
        if ax is None:
            _, ax = style.new_axes(
                2, size=(style.WIDTH, 5.2), sharex="col", gridspec_kw={"height_ratios": (2, 1)}
            )
        size, phase = style.given_axes(ax, (2, 1), "plot_impedance")[:, 0]
        for panel in (size, phase):
            style.frequency_axis(panel, view)
        size.set_xlabel("")
        size.set_yscale("log")
        lines, labels, remarks = _draw(size, phase, z)
        _ohm_axis(size, lines, view)
        _degree_axis(phase)
        label_family(size, z, lines, labels, view, loc="upper left")
        write(size, "; ".join(remarks))
        size.set_title(title or title_of(z))
        style.caption(phase, assumed(z), guitar_of(z), first=size)
    return np.array([size, phase])


def _draw(size: Axes, phase: Axes, z: xr.DataArray) -> tuple[list[Line2D], list[str], list[str]]:
    """Draw the finite curves; return lines, labels, and remarks about the others."""
    lines, labels, remarks = [], [], []
    family = [str(dim) for dim in z.dims if dim != "frequency"]
    name = z[family[0]].attrs.get("long_name", family[0]) if family else ""
    for label, curve, look in curves_of(z, family):
        values = curve.values
        whole = np.isfinite(values) & (values != 0)
        if not whole.any():
            remark = "open" if np.isinf(values).any() else "0 Ω"
            remarks.append(f"{name} {label}: {remark}" if family else remark)
            continue
        f, drawn = curve["frequency"].values, np.where(whole, values, np.nan)
        lines.append(size.plot(f, np.abs(drawn), **look)[0])
        phase.plot(f, np.angle(drawn, deg=True), **look)
        labels.append(label)
    return lines, labels, remarks


def _ohm_axis(ax: Axes, lines: Sequence[Line2D], view: tuple[float, float]) -> None:
    """Draw a logarithmic axis around the lines in the view, in steps of 1, 2, 5."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

    steps = np.array([digit * 10.0**power for power in range(-3, 13) for digit in (1, 2, 5)])
    seen = [
        np.asarray(y)[(np.asarray(f) >= view[0]) & (np.asarray(f) <= view[1])]
        for f, y in (line.get_data() for line in lines)
    ]
    ohms = np.concatenate([*seen, [np.nan]])
    ohms = ohms[np.isfinite(ohms)]
    low, high = (ohms.min(), ohms.max()) if ohms.size else (1e3, 1e6)
    high = np.clip(high, 2 * steps[0], steps[-1] / 2)
    low = np.clip(low, max(high / _DEEPEST, 2 * steps[0]), high)
    bottom, top = steps[steps <= low / 1.1].max(), steps[steps >= high * 1.1].min()
    ax.set_ylim(bottom, top)
    few = np.log10(top / bottom) < 2.8
    ticks = list(steps if few else steps[::3])
    ax.yaxis.set_major_locator(FixedLocator(ticks))
    ax.yaxis.set_minor_locator(FixedLocator([] if few else list(steps)))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda ohm, _: _short(ohm)))
    ax.yaxis.set_minor_formatter(NullFormatter())
    ax.set_ylabel("impedance [Ω]")


def _short(ohm: float) -> str:
    """Write 1k, 20k, 5M."""
    for scale, letter in ((1e6, "M"), (1e3, "k")):
        if ohm >= scale * (1 - 1e-9):
            return f"{ohm / scale:g}{letter}"
    return f"{ohm:g}"


def _degree_axis(ax: Axes) -> None:
    """Draw an axis from -90 to 90 degrees, the phases of passive circuits."""
    from matplotlib.ticker import FixedLocator

    ax.set_ylim(-100, 100)
    ax.yaxis.set_major_locator(FixedLocator([-90, -45, 0, 45, 90]))
    style.stress_zero(ax)
    ax.set_ylabel("phase [°]")
