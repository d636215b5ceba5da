"""Figures of responses. Each returns Axes and changes no global state."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ..errors import BadFile, BadSetting
from ..files import read_csv_columns
from ..study.measures import at_place, effective_taper, in_words, level_db, reference_level
from ..units import format_value
from . import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

__all__ = [
    "plot_builds",
    "plot_difference",
    "plot_map",
    "plot_measured",
    "plot_response",
    "plot_taper",
]

_DEEPEST = 60.0  # dB under the loudest point; deeper curves run out of the picture
_ALIKE = 0.05  # dB; closer curves look like one
_MARKS = (10, 9, 7, 5, 3)


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
        From `guitarnet.response` or `guitarnet.compare`, with at most one dimension of more than
        one value besides ``frequency``.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure unless given.
    re : None, "reference" or mapping
        What 0 dB is; see `guitarnet.level_db`.
    title : str, optional
        What one sees.
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
    h = _at_most_one_family(h)
    levels = level_db(h, re=re)
    with style.style():
        if ax is None:
            _, grid = style.new_axes()
            ax = grid[0, 0]
        _draw_family(ax, levels, view)
        ax.set_title(title or _title(levels))
        style.caption(ax, _assumed(h))
    return ax


def plot_builds(
    h: xr.DataArray,
    marks: Sequence[float] = _MARKS,
    *,
    knob: str = "volume",
    re: str | Mapping[str, Any] | None = "reference",
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw builds over each other, a panel for each knob mark.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.compare` (or a response swept over a category), swept over the knob.
    marks : sequence of float
        Marks to show; those that were swept.
    knob : str
        Dimension of the knob.
    re : None, "reference" or mapping
        What 0 dB is; see `guitarnet.level_db`.
    title : str, optional
        What one sees.
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
    >>> from guitarnet import Pickup, compare, layouts
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> guitars = {b or "none": layouts.one_pickup(pickup, treble_bleed=b) for b in (None, "1n")}
    >>> plot_builds(compare(guitars, volume=[10, 5])).shape
    (2,)
    """
    return _panels(h, level_db(h, re=re), marks, knob, title or "Builds at each mark", view)


def plot_difference(
    h: xr.DataArray,
    marks: Sequence[float] = _MARKS,
    *,
    knob: str = "volume",
    re: Mapping[str, Any],
    matched: bool = True,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw differences from one build or one knob mark, a panel for each mark.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.compare`, swept over the knob.
    marks : sequence of float
        Marks to show.
    knob : str
        Dimension of the knob.
    re : mapping
        From what: ``{"build": "no bleed"}`` or ``{"volume": 10}``.
    matched : bool
        Whether levels are matched at the reference frequency first, so that only the shape is
        compared.
    title : str, optional
        What one sees.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        One for each mark.

    Raises
    ------
    BadSetting
        If ``re`` or the knob was not swept.

    Examples
    --------
    >>> from guitarnet import Pickup, compare, layouts
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> guitars = {b or "none": layouts.one_pickup(pickup, treble_bleed=b) for b in (None, "1n")}
    >>> h = compare(guitars, volume=[10, 5])
    >>> plot_difference(h, re={"volume": 10}).shape
    (2,)
    """
    levels = level_db(h, re=re)
    if matched:
        # How much of the difference is there at the reference frequency already.
        own = reference_level(h)
        levels = levels - (own - at_place(own, re))
    words = in_words(re)
    matched_words = ", levels matched at the reference frequency" if matched else ""
    levels = levels.assign_attrs(units="dB", long_name=f"difference re {words}{matched_words}")
    return _panels(h, levels, marks, knob, title or f"Difference from {words}", view)


def plot_taper(
    h: xr.DataArray,
    tapers: Mapping[str, Any] | None = None,
    *,
    knob: str = "volume",
    title: str | None = None,
) -> np.ndarray:
    """Draw a taper as cut, and as level at the output.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response` or `guitarnet.compare`, swept over the knob and holding mark 10.
    tapers : mapping of str to Taper, optional
        Laws to draw as cut beside the level; without them one panel is drawn.
    knob : str
        Dimension of the knob.
    title : str, optional
        What one sees.

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        The panel of tapers where there are any, and the panel of levels.

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
    levels = effective_taper(h, knob)
    family = [str(dim) for dim in levels.dims if dim != knob and levels.sizes[dim] > 1]
    if len(family) > 1:
        raise BadSetting("plot_taper", f"h still varies over {', '.join(family)}", "choose one")
    curves = _curves(levels.squeeze([d for d in levels.dims if d != knob and d not in family]), family)
    with style.style():
        _, grid = style.new_axes(1, 2 if tapers else 1, size=(9.6, 4.4) if tapers else None)
        ax = grid[0, -1]
        if tapers:
            _draw_tapers(grid[0, 0], tapers)
        lines, labels = [], []
        for label, curve, look in curves:
            line = ax.plot(curve[knob], np.where(np.isneginf(curve), np.nan, curve), **look)[0]
            lines.append(line)
            labels.append(label)
        style.decibel_axis(ax, [levels.values], _y_label(levels), deepest=_DEEPEST)
        ax.set_xlim(0, 10)
        ax.set_xlabel(f"{knob} mark")
        ax.set_title(title or "Level at the output")
        if len(lines) > 1:
            ax.legend(lines, labels, loc="lower right", handlelength=3)
        style.figure_caption(ax.figure, [levels.attrs["long_name"], *_assumed(h)])
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
        line.set_label(label)
    ax.legend(loc="upper left")


def plot_map(
    h: xr.DataArray,
    ax: Axes | None = None,
    *,
    knob: str = "volume",
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
        Where to draw; a new figure unless given.
    knob : str
        Dimension of the knob.
    re : None, "reference" or mapping
        What 0 dB is; see `guitarnet.level_db`.
    title : str, optional
        What one sees.
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

    h = _at_most_one_family(h)
    if knob not in h.dims:
        raise BadSetting("plot_map", f"{knob!r} was not swept", f"give {knob}=range(11)")
    levels = level_db(h, re=re).sortby(knob)
    values = np.where(np.isneginf(levels), np.nan, levels.transpose(knob, "frequency"))
    inside = (h["frequency"].values >= view[0]) & (h["frequency"].values <= view[1])
    visible = values[:, inside]
    heard = visible[np.isfinite(visible)]
    low, high = (heard.min(), heard.max()) if heard.size else (-1.0, 1.0)
    with style.style():
        if ax is None:
            _, grid = style.new_axes()
            ax = grid[0, 0]
        steps = style.map_steps(max(low, high - _DEEPEST), high)
        mesh = ax.contourf(
            h["frequency"].values[inside],
            levels[knob].values,
            visible,
            levels=steps,
            cmap="viridis" if re is None else "PuOr_r",
            norm=None if re is None else CenteredNorm(0, max(abs(low), abs(high))),
            extend="both",
        )
        bar = ax.figure.colorbar(mesh, ax=ax, pad=0.02, ticks=steps[:: max(1, len(steps) // 10)])
        bar.set_label(_y_label(levels))
        silent = levels[knob].values[np.isnan(visible).all(axis=1)]
        _say_silent(ax, [f"{knob} {mark:g}" for mark in silent])
        style.frequency_axis(ax, view)
        ax.set_ylabel(f"{knob} mark")
        ax.set_title(title or f"{_sentence(levels.attrs['long_name'])}, at every mark")
        style.caption(ax, _assumed(h))
    return ax


def plot_measured(
    path: str | os.PathLike[str],
    ax: Axes,
    *,
    match: float | None = None,
    slope: float = 0.0,
    label: str = "measured",
) -> Axes:
    """Lay one's own measured curve over a figure.

    Unplug the guitar from the amplifier before connecting anything to it.

    Parameters
    ----------
    path : path
        CSV file with the columns ``frequency_hz`` and ``magnitude_db``; lines that begin with
        ``#`` are comments. The file is never changed.
    ax : matplotlib.axes.Axes
        Axes that show a level against frequency.
    match : float, optional
        Shift the curve so that it meets the first line of the axes at this frequency [Hz]; a
        level measured with an uncalibrated rig needs it.
    slope : float
        Slope of the rig to take away [dB per decade]; 20 for an exciter coil without integrator.
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
    ...     _ = file.write_text("frequency_hz,magnitude_db\\n100,0\\n1000,1\\n5000,6\\n")
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
    level = level - slope * np.log10(f / f[0])
    note = ""
    if match is not None:
        if not ax.lines:
            raise BadSetting("plot_measured", "the axes hold no line to match", "draw one first")
        own_x = np.asarray(ax.lines[0].get_xdata(), float)
        own_y = np.asarray(ax.lines[0].get_ydata(), float)
        there = np.interp(match, own_x, own_y)
        level = level + there - np.interp(np.log(match), np.log(f), level)
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


# -- what the figures share ---------------------------------------------------------------------


def _panels(
    h: xr.DataArray,
    levels: xr.DataArray,
    marks: Sequence[float],
    knob: str,
    title: str,
    view: tuple[float, float],
) -> np.ndarray:
    if knob not in h.dims:
        raise BadSetting("figure", f"{knob!r} was not swept", f"give {knob}=[10, 5]")
    present = [mark for mark in marks if np.isclose(h[knob].values, mark).any()]
    if not present:
        raise BadSetting("marks", f"none of {list(marks)} was swept", f"add one to {knob}")
    family = [str(dim) for dim in h.dims if dim not in (knob, "frequency") and h.sizes[dim] > 1]
    if len(family) > 1:
        raise BadSetting(
            "figure", f"h still varies over {', '.join(family)}", "choose with h.sel(...)"
        )
    drop = [d for d in levels.dims if d not in (knob, "frequency", *family)]
    levels = levels.squeeze(drop)
    seen = levels.sel({knob: present}, method="nearest")
    f = h["frequency"].values
    seen = seen.isel(frequency=np.flatnonzero((f >= view[0]) & (f <= view[1])))
    with style.style():
        figure, axes, legend_ax = style.new_panels(len(present))
        for ax, mark in zip(axes, present, strict=True):
            here = seen.sel({knob: mark}, method="nearest")
            lines, labels, silent = _draw_curves(ax, here, family)
            style.frequency_axis(ax, view)
            ax.set_xlabel("")
            ax.set_title(f"{knob} {mark:g}", fontweight="normal", fontsize=11)
            _say_silent(ax, silent)
            _say_alike(ax, lines)
        style.decibel_axis(axes[0], [seen.values], _y_label(levels), deepest=_DEEPEST)
        for ax in axes[1:]:
            style.stress_zero(ax)
        axes[len(axes) // 2].set_xlabel("frequency [Hz]")
        if len(lines) > 1:
            names = [*labels]
            legend_ax.legend(
                lines, names, loc="center left", ncols=len(names), handlelength=3, borderpad=0
            )
        figure.suptitle(title, x=0.01, ha="left", fontweight="bold", fontsize=12)
        style.figure_caption(figure, [levels.attrs["long_name"], *_assumed(h)])
    return axes


def _draw_family(ax: Axes, levels: xr.DataArray, view: tuple[float, float]) -> None:
    family = [str(dim) for dim in levels.dims if dim != "frequency"]
    f = levels["frequency"].values
    inside = levels.isel(frequency=np.flatnonzero((f >= view[0]) & (f <= view[1])))
    lines, labels, silent = _draw_curves(ax, levels, family)
    style.frequency_axis(ax, view)
    style.decibel_axis(ax, [inside.values], _y_label(levels), deepest=_DEEPEST)
    if not family:
        return
    if levels[family[0]].dtype.kind not in "fiu":
        ax.legend(lines, labels, loc="lower left", handlelength=3)
    elif lines:
        # On the side where the curves lie further apart.
        first, last = np.searchsorted(f, view[0]), np.searchsorted(f, view[1], "right") - 1
        left, right = (np.ptp([np.asarray(line.get_ydata())[i] for line in lines]) for i in (first, last))
        style.label_lines(ax, lines, labels, at="left" if left > 0.5 * right else "right")
    name = levels[family[0]].attrs.get("long_name", family[0])
    _say_silent(ax, [f"{name} {label}" for label in silent])


def _draw_curves(
    ax: Axes, levels: xr.DataArray, family: Sequence[str]
) -> tuple[list[Line2D], list[str], list[str]]:
    """Draw a family; silent curves are named, not drawn."""
    lines, labels, silent = [], [], []
    for label, curve, look in _curves(levels, family):
        if np.isneginf(curve).all():
            silent.append(label)
            continue
        heard = np.where(np.isneginf(curve), np.nan, curve)
        lines.append(ax.plot(curve["frequency"].values, heard, **look)[0])
        labels.append(label)
    return lines, labels, silent


def _y_label(levels: xr.DataArray) -> str:
    return f"{str(levels.attrs['long_name']).split(',')[0]} [dB]"


def _say_silent(ax: Axes, labels: Sequence[str]) -> None:
    if labels:
        ax.text(
            0.98,
            0.03,
            f"{', '.join(labels)}: silent",
            transform=ax.transAxes,
            ha="right",
            fontsize=9,
            color=style.GREY,
        )


def _say_alike(ax: Axes, lines: Sequence[Line2D]) -> None:
    """Say so where the last line hides all others."""
    if len(lines) > 1:
        apart = np.ptp([np.asarray(line.get_ydata(), float) for line in lines], axis=0).max()
        if apart < _ALIKE:
            words = f"{len(lines)} curves within {_ALIKE:g} dB"
            ax.text(0.04, 0.03, words, transform=ax.transAxes, fontsize=8, color=style.GREY)


def _curves(
    levels: xr.DataArray, family: Sequence[str]
) -> list[tuple[str, xr.DataArray, dict[str, Any]]]:
    """Label, values and look of every curve of a family."""
    if not family:
        colour, _ = style.BUILD_STYLES[0]
        return [("", levels, {"color": colour})]
    dim = family[0]
    values = levels[dim].values if dim in levels.coords else np.arange(levels.sizes[dim])
    unit = levels[dim].attrs.get("units", "") if dim in levels.coords else ""
    written = f"{dim}_written"
    names = levels[written].values if written in levels.coords else values
    labels = [style.shown(name if isinstance(name, str) else name.item(), unit) for name in names]
    if values.dtype.kind in "fiu":
        looks = [{"color": colour} for colour in style.knob_colours(values.astype(float))]
    else:
        if len(values) > len(style.BUILD_STYLES):
            raise BadSetting(
                dim,
                f"{len(values)} curves cannot be told apart",
                f"choose up to {len(style.BUILD_STYLES)} with h.sel({dim}=[...])",
            )
        looks = [{"color": c, "linestyle": d} for c, d in style.BUILD_STYLES[: len(values)]]
    return [(label, levels.isel({dim: i}), look) for i, (label, look) in enumerate(zip(labels, looks, strict=True))]


def _at_most_one_family(h: xr.DataArray) -> xr.DataArray:
    if not isinstance(h, xr.DataArray) or "frequency" not in h.dims:
        raise BadSetting("figure", "needs a response over frequency", "give what response() returns")
    h = h.squeeze([dim for dim in h.dims if dim != "frequency" and h.sizes[dim] == 1])
    family = [str(dim) for dim in h.dims if dim != "frequency"]
    if len(family) > 1:
        raise BadSetting(
            "figure",
            f"h varies over {', '.join(family)}",
            f"choose one of each but one, as h.sel({family[-1]}=...)",
        )
    return h


def _title(levels: xr.DataArray) -> str:
    family = [str(dim) for dim in levels.dims if dim != "frequency"]
    words = _sentence(levels.attrs["long_name"])
    return f"{words}, for each {levels[family[0]].attrs.get('long_name', family[0])}" if family else words


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _assumed(h: xr.DataArray) -> list[str]:
    return [words for words in str(h.attrs.get("assumptions", "")).split("; ") if words]
