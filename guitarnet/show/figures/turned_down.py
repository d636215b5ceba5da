"""One picture for one question: what becomes of the shape when a knob is turned down."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from ...gate import public
from ...study.explain.sentences import NOTHING, hertz
from ...study.response.labels import the_knob
from ...study.response.measures import at_place, level_db
from ...study.response.sweep import BAND
from ...units import fixed, plain_words
from . import style
from .families import DEEPEST, assumed, audible, curves_of, guitar_of, one_family, write_silent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_turned_down"]

_ONE = 0.5  # dB; curves so close are one broad line
_FULL = {"color": "#adadad", "linewidth": 6, "solid_capstyle": "butt", "zorder": 1.5}


@public(h=None)
def plot_turned_down(
    h: xr.DataArray,
    mark: float = 5,
    ax: Axes | None = None,
    *,
    knob: str | None = None,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> Axes:
    """Draw the shape of several builds with a knob turned down, over their shape at 10.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob, with 10 among its marks, and over builds
        (or a category).
    mark : float
        Mark to show; one that was swept.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    knob : str, optional
        Name of the knob; by default the one knob that was swept.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    matplotlib.axes.Axes
        The axes. Every curve is its level relative to its own level at the reference frequency.

    Raises
    ------
    BadSetting
        If the knob or one of the marks was not swept, or other dimensions are left.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> guitars = {b or "none": layouts.one_pickup(pickup, treble_bleed=b) for b in (None, "1n")}
    >>> plot_turned_down(response(guitars, volume=[10, 5])).get_ylabel()
    'level re 100 Hz [dB]'
    """
    levels = level_db(h, re="reference")
    knob = the_knob(levels, knob)
    levels, family = one_family(levels, knob)
    full, down = (at_place(levels, {knob: value}) for value in (10, mark))
    f = levels["frequency"].values
    inside = np.flatnonzero((f >= view[0]) & (f <= view[1]))
    full, down = full.isel(frequency=inside), down.isel(frequency=inside)
    f, name = f[inside], plain_words(knob)
    with style.style():
        ax = style.one_axes(ax)
        style.frequency_axis(ax, view)
        drawn = [full.values, down.values]
        style.decibel_axis(ax, drawn, f"{levels.attrs['long_name']} [dB]", deepest=DEEPEST)
        ax.axvspan(*BAND, color="#f4f6f8", zorder=0)
        lines, labels, silent = [], [], []
        curves = curves_of(down, family)
        apart = _apart(full)
        same = apart < _ONE
        for place, (label, curve, look) in enumerate(curves):
            at_ten = full.isel({family[0]: place}) if family else full
            if not same or place == 0:
                colour = {} if same else {"color": look["color"], "alpha": 0.25}
                (line,) = ax.plot(f, audible(at_ten), **{**_FULL, **colour})
                if same:
                    lines.append(line)
                    labels.append(f"at {name} 10" if len(curves) == 1 else f"all at {name} 10")
            if np.isneginf(curve.values).all():
                silent.append(label)
                continue
            lines.append(ax.plot(f, audible(curve), **look)[0])
            labels.append(label)
        style.label_lines(ax, lines, labels, at="right")
        for text in ax.texts if same else ():
            if text.get_text() == labels[0]:
                text.set(color=style.GREY, fontsize=10)  # the pale grey of its line is hard to read
        write_silent(ax, silent)
        ax.set_title(title or f"Shape at {name} {mark:g}")
        note = "broad: the same at 10" if not same else ""
        if same and apart >= NOTHING:
            note = f"at {name} 10 all curves lie within {fixed(apart, 2)} dB"
        shaded = "shaded: {} to {}".format(*map(hertz, BAND))
        notes = [str(levels.attrs["long_name"]), shaded, note, *assumed(h)]
        style.caption(ax, notes, guitar_of(h))
    return ax


def _apart(levels: xr.DataArray) -> float:
    """How far curves lie apart at most [dB]."""
    values = levels.values.reshape(-1, levels.sizes["frequency"])
    if not np.isfinite(values).all():  # silence
        return float("inf") if np.isfinite(values).any() else 0.0
    return float(np.ptp(values, axis=0).max())
