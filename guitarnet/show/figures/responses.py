"""Figures of responses. Each returns Axes and changes no global state."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...errors import BadFile, BadSetting, plain
from ...files import read_csv_columns
from ...gate import public
from ...parts.taper import Taper
from ...study.response.arrays import read_response
from ...study.response.labels import place_in_words, the_knob
from ...study.response.measures import (
    at_place,
    effective_taper,
    level_db,
    reference_level,
)
from ...study.response.sweep import BAND
from ...units import format_value, read_value, sentence
from . import style
from .families import (
    DEEPEST,
    assumed,
    at_most_one_family,
    audible,
    curves_of,
    draw_family,
    guitar_of,
    one_family,
    panels,
    title_of,
    y_label,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "plot_builds",
    "plot_difference",
    "plot_map",
    "plot_measured",
    "plot_response",
    "plot_taper",
]

_STEEPEST = 1000.0  # dB per decade; no rig falls or rises faster
_MARKS = (10, 9, 7, 5, 3)


@public(h=None)
def plot_response(
    h: xr.DataArray,
    ax: Axes | None = None,
    *,
    re: str | Mapping[str, Any] | None = None,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> Axes:
    """Draw one family of curves: level against frequency.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, with at most one dimension besides ``frequency``.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    re : None, "reference" or mapping
        Reference of 0 dB; see `guitarnet.level_db`.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    matplotlib.axes.Axes
        The axes.

    Raises
    ------
    BadSetting
        If the response has more dimensions; choose with ``h.sel(...)``.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=[10, 7, 5])
    >>> plot_response(h).get_xlabel()
    'frequency [Hz]'
    """
    h = at_most_one_family(h)
    levels = level_db(h, re=re)
    with style.style():
        ax = style.one_axes(ax)
        draw_family(ax, levels, view)
        ax.set_title(title or title_of(levels))
        style.caption(ax, assumed(h), guitar_of(h))
    return ax


@public(h=None)
def plot_builds(
    h: xr.DataArray,
    marks: Sequence[float] = _MARKS,
    *,
    knob: str | None = None,
    re: str | Mapping[str, Any] | None = "reference",
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw the curves of several builds, in a panel for each knob mark.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over builds (or a category) and the knob.
    marks : sequence of float
        Marks to show; those that were not swept are left out.
    knob : str, optional
        Name of the knob; by default the one knob that was swept.
    re : None, "reference" or mapping
        Reference of 0 dB; see `guitarnet.level_db`.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        One for each mark.

    Raises
    ------
    BadSetting
        If the knob or none of the marks was swept, or other dimensions are left.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> guitars = {b or "none": layouts.one_pickup(pickup, treble_bleed=b) for b in (None, "1n")}
    >>> plot_builds(response(guitars, volume=[10, 5])).shape
    (2,)
    """
    return panels(
        h, level_db(h, re=re), marks, the_knob(h, knob), title or "Builds at each mark", view
    )


@public(h=None)
def plot_difference(
    h: xr.DataArray,
    marks: Sequence[float] = _MARKS,
    *,
    knob: str | None = None,
    re: Mapping[str, Any],
    matched: bool = True,
    title: str | None = None,
    view: tuple[float, float] = BAND,
) -> np.ndarray:
    """Draw differences from one build or one knob mark, in a panel for each mark.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob.
    marks : sequence of float
        Marks to show.
    knob : str, optional
        Name of the knob; by default the one knob that was swept.
    re : mapping
        What to subtract: ``{"build": "no bleed"}`` or ``{"volume": 10}``.
    matched : bool
        Whether to match levels at the reference frequency, so that you compare shapes only.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz]; by default the band in which shapes are compared. Above it every
        build turned down rises steeply against 10, which says little.

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        One for each mark at which there is a difference; the caption names the others.

    Raises
    ------
    BadSetting
        If ``re`` or the knob was not swept.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> guitars = {b or "none": layouts.one_pickup(pickup, treble_bleed=b) for b in (None, "1n")}
    >>> h = response(guitars, volume=[10, 5])
    >>> plot_difference(h, re={"volume": 10}).shape
    (1,)
    """
    levels = level_db(h, re=re)
    if matched:
        # The difference at the reference frequency.
        at_reference = reference_level(h)
        levels = levels - (at_reference - at_place(at_reference, re))
    reference = place_in_words(re)
    matched_note = f", levels matched at {_reference(h)}" if matched else ""
    levels = levels.assign_attrs(units="dB", long_name=f"difference re {reference}{matched_note}")
    return panels(
        *(h, levels, marks, the_knob(h, knob), title or f"Difference from {reference}", view),
        skip=True,
    )


def _reference(h: xr.DataArray) -> str:
    return format_value(float(h.coords["reference_frequency"]), "Hz")


@public(h=None)
def plot_taper(
    h: xr.DataArray,
    tapers: Mapping[str, Taper] | None = None,
    *,
    knob: str | None = None,
    title: str | None = None,
) -> np.ndarray:
    """Draw a taper as track, and as level at the output.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob with mark 10.
    tapers : mapping of str to Taper, optional
        Tapers to draw beside the level; without them there is one panel.
    knob : str, optional
        Name of the knob; by default the one knob that was swept.
    title : str, optional
        Title of the figure.

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        The panel of tapers, if there are any, and the panel of levels.

    Raises
    ------
    BadSetting
        If the knob was not swept to mark 10.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, linear_taper, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=[10, 5, 0])
    >>> plot_taper(h, {"linear": linear_taper()}).shape
    (2,)
    """
    read_response(h)
    knob = the_knob(h, knob)
    levels, family = one_family(effective_taper(h, knob), knob)
    curves = curves_of(levels, family)
    with style.style():
        _, grid = style.new_axes(1, 2 if tapers else 1, size=None)
        ax = grid[0, -1]
        if tapers:
            _draw_tapers(grid[0, 0], tapers)
        lines, labels = [], []
        for label, curve, look in curves:
            line = ax.plot(curve[knob].values, audible(curve), **look)[0]
            lines.append(line)
            labels.append(label)
        style.decibel_axis(ax, [levels.values], y_label(levels), deepest=DEEPEST)
        ax.set_xlim(0, 10)
        ax.set_xlabel(f"{knob} mark")
        ax.set_title(title or "Level at the output")
        if len(lines) > 1:
            ax.legend(lines, labels, loc="lower right", handlelength=3)
        style.figure_caption(ax.figure, [levels.attrs["long_name"], *assumed(h)], guitar_of(h))
    return grid[0]


def _draw_tapers(ax: Axes, tapers: Mapping[str, Any]) -> None:
    marks = np.linspace(0, 10, 201)
    lines = [
        ax.plot(marks, 100 * law(marks / 10), color=colour, linestyle=dash)[0]
        for law, (colour, dash) in zip(tapers.values(), style.BUILD_STYLES, strict=False)
    ]
    ax.set_xlim(0, 10)
    ax.set_ylim(0, 100)
    ax.set_xlabel("knob mark")
    ax.set_ylabel("track below the wiper [%]")
    ax.set_title("As cut")
    for line, label in zip(lines, tapers, strict=False):
        line.set_label(plain(label))
    ax.legend(loc="upper left")


@public(h=None)
def plot_map(
    h: xr.DataArray,
    ax: Axes | None = None,
    *,
    knob: str | None = None,
    re: str | Mapping[str, Any] | None = "reference",
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> Axes:
    """Draw a map of level over knob mark and frequency.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob only.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    knob : str, optional
        Name of the knob; by default the one knob that was swept.
    re : None, "reference" or mapping
        Reference of 0 dB; see `guitarnet.level_db`.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    matplotlib.axes.Axes
        The axes.

    Raises
    ------
    BadSetting
        If the knob was not swept, or other dimensions are left.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=range(11))
    >>> plot_map(h).get_ylabel()
    'volume mark'
    """
    from matplotlib.colors import CenteredNorm

    h = at_most_one_family(h)
    knob = the_knob(h, knob)
    if knob not in h.dims:
        raise BadSetting("plot_map", f"{knob!r} was not swept", f"give {knob}=range(11)")
    if h[knob].dtype.kind not in "iuf":
        raise BadSetting("plot_map", f"{knob!r} has no marks that are numbers", "choose another")
    levels = level_db(h, re=re).sortby(knob)
    values = audible(levels.transpose(knob, "frequency"))
    inside = (h["frequency"].values >= view[0]) & (h["frequency"].values <= view[1])
    visible = values[:, inside]
    if min(visible.shape) < 2:
        what = f"holds {visible.shape[0]} marks and {visible.shape[1]} frequencies in view"
        raise BadSetting("plot_map", what, "sweep two or more of each")
    finite = visible[np.isfinite(visible)]
    low, high = (finite.min(), finite.max()) if finite.size else (-1.0, 1.0)
    with style.style():
        ax = style.one_axes(ax)
        steps = style.map_steps(max(low, high - DEEPEST), high)
        mesh = ax.contourf(
            h["frequency"].values[inside],
            levels[knob].values,
            visible,
            levels=steps,
            cmap="viridis" if re is None else "PuOr_r",
            norm=None if re is None else CenteredNorm(0, max(abs(low), abs(high))),
            extend="both",
        )
        bar = ax.figure.colorbar(mesh, ax=ax, pad=0.02, ticks=style.map_ticks(steps))
        bar.set_label(y_label(levels))
        marks, silent = levels[knob].values, np.isnan(visible).all(axis=1)
        audible_marks = marks[~silent]
        if audible_marks.size and np.ptp(audible_marks):
            ax.set_ylim(audible_marks.min(), audible_marks.max())
        remarks = [f"{knob} {mark:g}: silent" for mark in marks[silent]]
        style.frequency_axis(ax, view, grid=False)
        ax.grid(False, axis="y")
        ax.set_ylabel(f"{knob} mark")
        ax.set_title(title or f"{sentence(levels.attrs['long_name'])}, at every mark")
        style.caption(ax, [*remarks, *assumed(h)], guitar_of(h))
    return ax


@public
def plot_measured(
    path: str | os.PathLike[str],
    ax: Axes,
    *,
    match: float | None = None,
    slope: float = 0.0,
    label: str = "measured",
) -> Axes:
    r"""Draw your own measured curve over a figure.

    Unplug the guitar from the amplifier before connecting anything to it.

    Parameters
    ----------
    path : path
        CSV file with the columns ``frequency_hz`` and ``magnitude_db``; lines that begin with
        ``#`` are comments.
    ax : matplotlib.axes.Axes
        Axes that show a level against frequency.
    match : float, optional
        Frequency [Hz] at which the curve is shifted onto the first line of the axes; needed for a
        level from an uncalibrated rig.
    slope : float
        Slope of the rig to remove [dB per decade]; 20 for an exciter coil without integrator.
    label : str
        Name of the curve.

    Returns
    -------
    matplotlib.axes.Axes
        The axes.

    Raises
    ------
    BadFile
        If the file lacks a column, its frequencies do not rise, or are not above zero.
    BadSetting
        If there is nothing to match to.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet import Pickup, layouts, response
    >>> ax = plot_response(response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "curve.csv")
    ...     _ = file.write_text("frequency_hz,magnitude_db\n100,0\n1000,1\n5000,6\n")
    ...     _ = plot_measured(file, ax, match=100)
    """
    columns = read_csv_columns(path, ["frequency_hz", "magnitude_db"])
    f, level = columns["frequency_hz"], columns["magnitude_db"]
    if f.size < 2 or (f <= 0).any() or (np.diff(f) <= 0).any():
        raise BadFile(
            str(path),
            "needs two or more frequencies above zero that rise from line to line",
            "sort the lines, each frequency once",
        )
    steep = read_value(slope, "number", where="slope")
    if not abs(steep) <= _STEEPEST:
        raise BadSetting("slope", f"{slope!r} is no slope", "give dB per decade, as 20", slope)
    level = level - steep * np.log10(f / f[0])
    note = ""
    if match is not None:
        if not ax.lines:
            raise BadSetting("plot_measured", "the axes hold no line to match", "draw one first")
        line_x = np.asarray(ax.lines[0].get_xdata(), float)
        line_y = np.asarray(ax.lines[0].get_ydata(), float)
        target = np.interp(match, line_x, line_y)
        level = level + target - np.interp(np.log(match), np.log(f), level)
        note = f", matched at {format_value(match, 'Hz')}"
    with style.style():
        ax.plot(f, level, color="black", linewidth=1.1, alpha=0.75, label=label, zorder=5)
        ax.annotate(
            label + note,
            (0.99, 0.97),
            xycoords="axes fraction",
            ha="right",
            va="top",
            fontsize=9,
            color="black",
        )
    return ax
