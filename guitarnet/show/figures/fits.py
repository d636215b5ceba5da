"""Figures of a fit: measured curves, the model and the residual."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...errors import BadSetting, a
from ...gate import public
from ...study.fit.result import CurveFit, PickupFit
from . import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_fit"]

_DEEPEST = 60.0
_KINDS = {
    "string": ("Measured and model", "level re 1 V/V [dB]"),
    "impedance": ("Measured and model impedance", "impedance re 1 ohm [dB]"),
}


@public(fit=None)
def plot_fit(
    fit: PickupFit,
    ax: np.ndarray | None = None,
    *,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw measured curves over the fitted model, and the residual below.

    Parameters
    ----------
    fit : PickupFit
        From `guitarnet.fit_pickup` or `guitarnet.fitting.fit_pickups`.
    ax : array of matplotlib.axes.Axes, optional
        Axes to draw on: two rows, a column for each kind of curve; a new figure by default.
    title : str, optional
        Title of the figure; for both kinds of curve, above the first kind.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        Two rows, with the residual in the second, and a column for each kind of curve.

    Raises
    ------
    BadSetting
        If no curve or too many curves were fitted, or ``ax`` is another grid.

    Examples
    --------
    >>> from guitarnet.study.fit.curves import MeasuredCurve
    >>> from guitarnet.study.fit.fit import fit_pickup
    >>> from guitarnet.study.fit.loads import Load
    >>> f = np.geomspace(50, 15e3, 80)
    >>> level = -10 * np.log10((1 - (f / 5e3) ** 2) ** 2 + (f / 15e3) ** 2)
    >>> plot_fit(fit_pickup(MeasuredCurve(f, level, load=Load()))).shape
    (2, 1)
    """
    if not isinstance(fit, PickupFit):
        raise BadSetting(
            "plot_fit", f"{a(type(fit))} is given", "give what fit_pickup(...) returned", fit
        )
    kinds = [kind for kind in _KINDS if any(c.curve.kind == kind for c in fit.curves)]
    if not kinds:
        raise BadSetting("plot_fit", f"{fit.name} was not fitted to a curve", "print(fit) instead")
    with style.style():
        if ax is None:
            # One kind under the other: two in a row would be too small on a page.
            _, rows = style.new_axes(
                2 * len(kinds),
                size=(style.WIDTH, 4.8 * len(kinds)),
                sharex="col",
                gridspec_kw={"height_ratios": (3, 1) * len(kinds)},
            )
            ax = rows.reshape(len(kinds), 2).T
        grid = style.given_axes(ax, (2, len(kinds)), "plot_fit")
        for column, kind in zip(grid.T, kinds, strict=True):
            shown = [c for c in fit.curves if c.curve.kind == kind]
            if len(shown) > len(style.BUILD_STYLES):
                raise BadSetting("plot_fit", f"{len(shown)} curves cannot be told apart", "fit few")
            _draw(column, shown, kind, fit, view)
        if title:
            grid[0, 0].set_title(title)
        style.caption(grid[-1, 0], _notes(fit), first=grid[0, 0])
    return grid


def _draw(
    axes: np.ndarray, shown: list[CurveFit], kind: str, fit: PickupFit, view: tuple[float, float]
) -> None:
    above, below = axes
    levels, misses, lines, labels = [], [], [], []
    for one, (colour, dash) in zip(shown, style.BUILD_STYLES, strict=False):
        f = one.curve.frequency
        seen = (f >= view[0]) & (f <= view[1])
        fitted = (f >= fit.band[0]) & (f <= fit.band[1])
        above.plot(f, one.measured, color=colour, linewidth=4, alpha=0.28, solid_capstyle="butt")
        lines.append(above.plot(f, one.model, color=colour, linestyle=dash)[0])
        labels.append(f"{one.curve.name}, rms {one.rms:.2f} dB")
        below.plot(f, one.residual, color=colour, linewidth=1.1, linestyle=dash)
        levels += [one.measured[seen], one.model[seen]]
        misses.append(one.residual[seen & fitted])
    title, label = _KINDS[kind]
    for ax in axes:
        style.frequency_axis(ax, view)
        _shade_outside(ax, fit.band, view)
    style.decibel_axis(above, levels, label, deepest=_DEEPEST)
    reach = float(np.ceil(np.abs(np.concatenate(misses)).max(initial=1.0)))
    below.set_ylim(-reach, reach)
    below.set_ylabel("measured\nminus model [dB]")
    below.axhline(0, color="#9a9a9a", linewidth=1.1, zorder=1)
    above.set_xlabel("")
    above.set_title(f"{title}: {fit.name}")
    above.legend(lines, labels, loc="lower left", handlelength=3)


def _shade_outside(ax: Axes, band: tuple[float, float], view: tuple[float, float]) -> None:
    for low, high in ((view[0], band[0]), (band[1], view[1])):
        if low < high:
            ax.axvspan(low, high, color="#f2f2f2", zorder=0)


def _notes(fit: PickupFit) -> list[str]:
    moved = any(not c.curve.known_scale for c in fit.curves)
    notes = ["pale: measured" + (", level moved onto the model" if moved else ""), "thin: model"]
    if "eddy_resistance" not in fit.values:
        notes.append("lossless coil assumed")
    return [*notes, "grey: not fitted"]
