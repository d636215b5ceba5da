"""Figures of tolerance: bands of level, slopes by part, and the ranking of parts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...errors import BadSetting
from ...gate import public
from ...ranking import order
from ...study.response.arrays import above_zero, read_array, read_axis
from ...study.response.measures import level_db
from ...study.spread.quantiles import quantiles
from ...units import format_value, plain_words, sentence
from . import style
from .families import DEEPEST, assumed, curves_of, guitar_of, one_family, write_silent, y_label

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

__all__ = ["plot_bands", "plot_ranking", "plot_sensitivity"]

_MOST = len(style.BUILD_STYLES)
_MARKED: dict[str, Any] = {"color": "#222222", "linestyle": (0, (3, 2)), "linewidth": 0.9}


@public(h=None)
def plot_bands(
    h: xr.DataArray,
    nominal: xr.DataArray | None = None,
    ax: Axes | None = None,
    *,
    levels: Any = (0.05, 0.5, 0.95),
    re: str | Mapping[str, Any] | None = None,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> Axes:
    """Draw the band of levels of many guitars, and the guitar with the marked values.

    Parameters
    ----------
    h : xarray.DataArray
        A response along ``sample``, or levels from `guitarnet.tolerances.tolerance_band`, with at
        most one more dimension besides ``frequency``.
    nominal : xarray.DataArray, optional
        Response with the marked values of all parts, drawn dashed.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    levels : sequence of float or str
        Shares of the guitars below the lower edge of the band, its line and its upper edge. A
        given band shows its lowest, middle and highest.
    re : None, "reference" or mapping
        Reference of 0 dB; see `guitarnet.level_db`. For a band, give the same as when it was made.
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
        If there is neither ``sample`` nor ``quantile``, there are more dimensions, or a band has
        another reference than ``re``.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> from guitarnet.study.spread.tolerance import spread
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> h = response(guitar, volume=[10, 5], **spread(guitar, 100, seed=1))
    >>> plot_bands(h, response(guitar, volume=[10, 5])).get_xlabel()
    'frequency [Hz]'
    """
    band, count = _band(h, levels, re)
    band, family = one_family(band, "quantile")
    low, middle, high = (
        band.isel(quantile=i, drop=True) for i in (0, band.sizes["quantile"] // 2, -1)
    )
    marked = None if nominal is None else _like(level_db(nominal, re=re), middle)
    f = band["frequency"].values
    inside = (f >= view[0]) & (f <= view[1])
    with style.style():
        ax = style.one_axes(ax)
        lines: list[Line2D] = []
        labels, silent = [], []
        for index, (label, curve, look) in enumerate(curves_of(middle, family)):
            pick = {family[0]: index} if family else {}
            below, above = (
                np.where(np.isneginf(e), np.nan, e) for e in (low.isel(pick), high.isel(pick))
            )
            if np.isneginf(curve).all():
                silent.append(label)
                continue
            ax.fill_between(f, below, above, color=look["color"], alpha=0.2, linewidth=0)
            lines.append(ax.plot(f, np.where(np.isneginf(curve), np.nan, curve), **look)[0])
            labels.append(label)
            if marked is not None:
                marked_curve = np.where(np.isneginf(marked.isel(pick)), np.nan, marked.isel(pick))
                ax.plot(marked["frequency"].values, marked_curve, **_MARKED)
        style.frequency_axis(ax, view)
        seen = [edge.isel(frequency=np.flatnonzero(inside)).values for edge in (low, high)]
        style.decibel_axis(ax, seen, y_label(band), deepest=DEEPEST)
        if family:
            style.label_lines(ax, lines, labels, at="left")
            name = band[family[0]].attrs.get("long_name", family[0])
            if lines and band[family[0]].dtype.kind in "fiu":
                _name_the_top(ax, name)
            write_silent(ax, [f"{name} {label}" for label in silent])
        _draw_key(ax, band["quantile"].values, marked is not None)
        first = f"Between {_percent(band['quantile'].values[0])} and "
        ax.set_title(title or f"{first}{_percent(band['quantile'].values[-1])} of the guitars")
        style.caption(ax, [*([count] if count else []), *assumed(band)], guitar_of(band))
    return ax


def _band(
    h: xr.DataArray, levels: Any, re: str | Mapping[str, Any] | None
) -> tuple[xr.DataArray, str]:
    """Levels along ``quantile``, and a caption of the number of guitars."""
    dims = h.dims if isinstance(h, xr.DataArray) else ()
    if "quantile" in dims and "frequency" in dims:
        fix = "give what tolerance_band() returns"
        above_zero(read_array(h, "band", fix, real=True))
        read_axis(h, "quantile", "band", fix)
        made = "reference" if " re 1 V/V" not in f" {h.attrs.get('long_name', '')}" else None
        if made != re:
            raise BadSetting(
                "re", f"{re!r} is not what the band was made with", f"state re={made!r}", re
            )
        return h, ""
    if "sample" not in dims or "frequency" not in dims:
        raise BadSetting(
            "figure",
            "needs many guitars: there is no dimension 'sample'",
            "give response(guitar, **spread(guitar, 500))",
        )
    band = quantiles(above_zero(level_db(h, re=re)), levels)
    captions = {key: h.attrs.get(key, "") for key in ("assumptions", "guitar")}
    return band.assign_attrs(captions), f"{h.sizes['sample']} guitars"


def _like(levels: xr.DataArray, middle: xr.DataArray) -> xr.DataArray:
    """The nominal levels with the dimensions of the band's middle."""
    levels = levels.squeeze([d for d in levels.dims if d != "frequency" and levels.sizes[d] == 1])
    if set(levels.dims) != set(middle.dims):
        raise BadSetting(
            "nominal",
            f"runs along {', '.join(map(str, levels.dims))}, the band along "
            f"{', '.join(map(str, middle.dims))}",
            "give the response at the same settings",
        )
    return levels.transpose(*middle.dims)


def _name_the_top(ax: Axes, name: str) -> None:
    """Write the name of the numbers once, before the highest, which is the last text."""
    top = ax.texts[-1]
    top.set(text=f"{name} {top.get_text()}", x=0.01, horizontalalignment="left")


def _percent(share: float) -> str:
    return f"{100 * share:g} %"


def _draw_key(ax: Axes, shares: np.ndarray, marked: bool) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    middle = shares[len(shares) // 2]
    keys: list[Any] = [
        Line2D([], [], color=style.GREY, label="median" if middle == 0.5 else _percent(middle)),
        Patch(color=style.GREY, alpha=0.25, linewidth=0,
              label=f"{100 * shares[0]:g} to {_percent(shares[-1])}"),
    ]  # fmt: skip
    if marked:
        keys.append(Line2D([], [], label="every part as marked", **_MARKED))
    ax.legend(handles=keys, loc="lower left", handlelength=2.4, fontsize=9)


@public(slopes=None)
def plot_sensitivity(
    slopes: xr.DataArray,
    ax: Axes | None = None,
    *,
    most: int = 6,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> Axes:
    """Draw the change of level by each part, in decibels per percent, against frequency.

    Parameters
    ----------
    slopes : xarray.DataArray
        From `guitarnet.tolerances.sensitivity`, at one setting.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    most : int
        How many values to draw, with the largest slopes first; at most 8.
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
        If there is no dimension ``value``, there are more settings, or the guitar is silent.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.study.spread.sensitivity import sensitivity
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> len(plot_sensitivity(sensitivity(guitar, volume=5), most=3).get_legend().get_texts())
    3
    """
    slopes = _one_setting(slopes, ("value", "frequency"))
    if not 1 <= most <= _MOST:
        raise BadSetting("most", f"{most} curves cannot be told apart", f"give 1 to {_MOST}")
    f = slopes["frequency"].values
    inside = slopes.isel(frequency=np.flatnonzero((f >= view[0]) & (f <= view[1])))
    if not inside.size:
        raise BadSetting("view", "has no computed frequency", "give a wider one")
    size = abs(inside).max("frequency").values
    if not np.isfinite(size).any():
        raise BadSetting("figure", "the guitar is silent", "turn the volume up")
    rank = order(-size)[:most]
    with style.style():
        ax = style.one_axes(ax)
        for index, (colour, dash) in zip(rank, style.BUILD_STYLES, strict=False):
            label = _value_label(slopes["value"].values[index])
            ax.plot(f, slopes.isel(value=index), color=colour, linestyle=dash, label=label)
        style.frequency_axis(ax, view)
        style.stress_zero(ax)
        ax.set_ylabel("change for 1 % more [dB]")
        ax.legend(loc="best", handlelength=3, fontsize=9)
        ax.set_title(title or sentence(str(slopes.attrs.get("long_name", "change of the level"))))
        style.caption(ax, assumed(slopes), guitar_of(slopes))
    return ax


@public(ranked=None)
def plot_ranking(
    ranked: xr.Dataset,
    ax: Axes | None = None,
    *,
    most: int = 10,
    title: str | None = None,
) -> Axes:
    """Draw the effect of each part's tolerance on the level, largest first.

    Parameters
    ----------
    ranked : xarray.Dataset
        From `guitarnet.tolerances.sensitivity_ranking`, at one setting.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    most : int
        How many values to draw.
    title : str, optional
        Title of the figure.

    Returns
    -------
    matplotlib.axes.Axes
        The axes: a bar for each value, with its tolerance and its size in decibels.

    Raises
    ------
    BadSetting
        If it is no ranking, or there are more settings.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.study.spread.sensitivity import sensitivity_ranking
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> ranking = sensitivity_ranking(guitar, frequency=["1 kHz", "4 kHz"], volume=5)
    >>> plot_ranking(ranking).get_xlabel()
    'largest change [dB]'
    """
    needed = {"worst", "tolerance", "value"}
    if not isinstance(ranked, xr.Dataset) or not needed <= {*ranked.variables}:
        raise BadSetting("figure", "needs a ranking", "give what sensitivity_ranking() returns")
    if most < 1:
        raise BadSetting("most", f"{most} is no number of bars", "give 1 or more", most)
    worst = _one_setting(ranked["worst"], ("value",)).isel(value=slice(0, most))[::-1]
    if not np.isfinite(worst.values).all():
        raise BadSetting("figure", "has changes that are not numbers", "leave them out")
    f = read_axis(ranked, "frequency", "figure", "give what sensitivity_ranking() returns")
    span = format_value(float(f[0]), "Hz")
    if f.size > 1:
        span += f" to {format_value(float(f[-1]), 'Hz')}"
    off = worst.coords.get("tolerance")
    if off is None or off.dims != ("value",) or off.dtype.kind not in "iuf":
        raise BadSetting("figure", "holds no tolerances", "give what sensitivity_ranking() returns")
    names = [
        f"{_value_label(name)} ±{100 * share:g} %"
        for name, share in zip(worst["value"].values, off.values, strict=True)
    ]
    with style.style():
        ax = style.one_axes(ax, (style.WIDTH, 1.5 + 0.32 * len(names)))
        bars = ax.barh(names, worst.values, color=style.BUILD_STYLES[0][0], height=0.62)
        ax.bar_label(bars, [f"{value:.2f}" for value in worst.values], padding=4, fontsize=9)
        ax.set_xlim(0, 1.12 * float(worst.max()) or 1)
        ax.grid(False, axis="y")
        ax.set_xlabel("largest change [dB]")
        ax.set_title(title or "What each tolerance does to the level")
        notes = [ranked["worst"].attrs.get("long_name", "largest change"), span]
        style.caption(ax, [", ".join(notes), *assumed(ranked)], guitar_of(ranked))  # type: ignore[arg-type]
    return ax


def _value_label(path: str) -> str:
    """Label of a path: "volume resistance", but only "tone capacitor"."""
    part, _, field = str(path).rpartition(".")
    main_values = {"capacitor": "capacitance", "resistor": "resistance"}
    known = any(part.endswith(kind) and field == main for kind, main in main_values.items())
    return plain_words(part if known else f"{part} {field}")


def _one_setting(values: xr.DataArray, dims: tuple[str, ...]) -> xr.DataArray:
    """Drop dimensions of one value; refuse several values and missing dimensions."""
    dimensions = values.dims if isinstance(values, xr.DataArray) else ()
    missing = [dim for dim in dims if dim not in dimensions]
    if missing:
        raise BadSetting("figure", f"there is no dimension {missing[0]!r}", "see its docstring")
    read_array(values, "figure", "see its docstring", real=True)
    values = values.squeeze([d for d in values.dims if d not in dims and values.sizes[d] == 1])
    others = [str(dim) for dim in values.dims if dim not in dims]
    if others:
        raise BadSetting(
            "figure",
            f"it varies over {', '.join(others)}",
            f"choose with .sel({{{others[0]!r}: ...}})",
        )
    return values
