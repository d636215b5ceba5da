"""Figure of the harmonics that a pickup senses on a string."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...gate import public
from ...study.string.string import harmonic_level_db
from ...units import sentence
from . import style
from .families import DEEPEST, assumed, curves_of, guitar_of, one_family, y_label

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

__all__ = ["plot_string_spectrum"]

_APART = 16.0  # points; closer numbers would overlap


@public
def plot_string_spectrum(
    spectrum: xr.DataArray,
    ax: Axes | None = None,
    *,
    re: str | None = None,
    title: str | None = None,
    view: tuple[float, float] | None = None,
) -> Axes:
    """Draw the harmonics that a pickup senses on a string: level against frequency.

    Parameters
    ----------
    spectrum : xarray.DataArray
        From `guitarnet.strings.string_spectrum`, with at most one dimension besides ``harmonic``.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    re : None or "loudest"
        Reference of 0 dB; see `guitarnet.strings.harmonic_level_db`.
    title : str, optional
        Title of the figure.
    view : pair of float, optional
        Frequencies shown [Hz]; by default those of the harmonics, up to 15 kHz.

    Returns
    -------
    matplotlib.axes.Axes
        The axes. One spectrum has stems, and a cross with the number of each harmonic that
        vanishes. Several spectra are dots joined by thin lines, which only guide the eye.

    Raises
    ------
    BadSetting
        If it is no spectrum, or has more dimensions; choose with ``spectrum.sel(...)``.

    Examples
    --------
    >>> from guitarnet.study.string.string import string_spectrum
    >>> plot_string_spectrum(string_spectrum("162 mm", fret=[0, 5, 12])).get_xlabel()
    'frequency [Hz]'
    """
    levels, family = one_family(harmonic_level_db(spectrum, re), "harmonic", given="spectrum")
    f = levels["frequency"].values
    if view is None:
        view = float(f.min()) / 1.25, min(1.25 * float(f.max()), style.VIEW[1])
    with style.style():
        ax = style.one_axes(ax)
        style.frequency_axis(ax, view)
        style.decibel_axis(ax, [_seen(levels, view)], y_label(levels), deepest=DEEPEST)
        curves = curves_of(levels, family)
        if family:
            _draw_family(ax, curves, levels[family[0]])
        else:
            _draw_stems(ax, *curves[0][1:], view)
        ax.set_title(title or _title(levels, family))
        vanish = _seen(levels, view)
        notes = ["×: this harmonic vanishes"] if not family and np.isneginf(vanish).any() else []
        style.caption(ax, [*notes, *assumed(levels)], guitar_of(levels))
    return ax


def _seen(levels: xr.DataArray, view: tuple[float, float]) -> np.ndarray:
    f = levels["frequency"]
    return levels.where((f >= view[0]) & (f <= view[1])).values


def _draw_stems(
    ax: Axes, levels: xr.DataArray, look: dict[str, Any], view: tuple[float, float]
) -> None:
    bottom, top = ax.get_ylim()
    f, level = levels["frequency"].values, levels.values
    inside = (f >= view[0]) & (f <= view[1])
    visible = np.isfinite(level) & (level > bottom)
    ax.vlines(f[visible], bottom, level[visible], color=look["color"], linewidth=1.2)
    ax.plot(f[visible], level[visible], "o", color=look["color"], markersize=4)
    gone = inside & np.isneginf(level)
    if not gone.any():
        return
    foot = bottom + 0.02 * (top - bottom)
    ax.plot(f[gone], np.full(gone.sum(), foot), "x", color=style.GREY, markersize=5)
    per_octave = ax.get_window_extent().width * 72 / ax.figure.dpi / np.log2(view[1] / view[0])
    stems = np.log2(f[visible])
    last = 0.0
    for at, number in zip(f[gone], levels["harmonic"].values[gone], strict=True):
        if last and per_octave * np.log2(at / last) < _APART:
            break
        if stems.size and per_octave * np.abs(stems - np.log2(at)).min() < _APART / 2:
            break  # its neighbours' stems would run through the number
        last = at
        ax.annotate(
            f"{number}",
            (at, foot),
            xytext=(0, 5),
            textcoords="offset points",
            ha="center",
            fontsize=8,
            color=style.GREY,
        )


def _draw_family(
    ax: Axes, curves: list[tuple[str, xr.DataArray, dict[str, Any]]], dim: xr.DataArray
) -> None:
    lines: list[Line2D] = []
    labels = []
    for label, curve, look in curves:
        level = np.where(np.isneginf(curve.values), np.nan, curve.values)
        f = curve["frequency"].values
        lines.append(ax.plot(f, level, marker="o", markersize=3.5, linewidth=0.9, **look)[0])
        labels.append(label)
    name = dim.attrs.get("long_name", dim.name)
    ax.legend(lines, labels, title=name, loc="lower left", handlelength=3, alignment="left")


def _title(levels: xr.DataArray, family: list[str]) -> str:
    title = "harmonics of the string at the pickup"
    if levels.attrs.get("guitar"):
        title = "harmonics of the string through the guitar"
    if family:
        title += (
            f", for each {str(levels[family[0]].attrs.get('long_name', family[0])).split(',')[0]}"
        )
    return sentence(title)
