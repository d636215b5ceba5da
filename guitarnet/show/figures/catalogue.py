"""Figures of measured pickups: their loaded peaks, and bands by what they come from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...errors import BadSetting
from ...gate import public
from ...study.response.arrays import read_array
from ...units import fixed, sentence
from . import style
from .families import DEEPEST, assumed, guitar_of, y_label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_bands_by_cause", "plot_catalogue"]

_ROW = 0.22  # inches
_COLOURS = dict(
    zip(
        ("measurement", "model", "other parts", "all"),
        [*[colour for colour, _ in style.BUILD_STYLES[1:4]], "#222222"],
        strict=True,
    )
)


@public(peaks=None)
def plot_catalogue(peaks: xr.Dataset, ax: Axes | None = None, *, title: str | None = None) -> Axes:
    """Draw where measured pickups peak in a guitar, and up to where they reach, by kind.

    Parameters
    ----------
    peaks : xarray.Dataset
        From `guitarnet.catalogue.loaded_peaks`.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure, as tall as the list, by default.
    title : str, optional
        Title of the figure.

    Returns
    -------
    matplotlib.axes.Axes
        The axes.

    Raises
    ------
    BadSetting
        If it is not what ``loaded_peaks`` returns.

    Examples
    --------
    >>> from guitarnet import layouts
    >>> from guitarnet.study.catalogue.entries import entry
    >>> from guitarnet.study.catalogue.listing import loaded_peaks
    >>> guitar = layouts.one_pickup(entry(1).pickup)
    >>> plot_catalogue(loaded_peaks(guitar, kind="single coil", count=4)).get_xlabel()
    'frequency [Hz]'
    """
    needed = {"number", "name", "kind", "frequency", "frequency_error", "height"}
    needed |= {"bandwidth", "bandwidth_error"}
    if not isinstance(peaks, xr.Dataset) or not needed <= set(peaks.variables):
        fix = "give what gn.catalogue.loaded_peaks() returns"
        raise BadSetting("figure", "shows peaks of the catalogue", fix)
    kinds = list(dict.fromkeys(peaks["kind"].values.tolist()))
    rows: dict[int, float] = {}
    heads: dict[str, float] = {}
    line = 0.0
    for kind in kinds:
        heads[kind] = line
        line += 1
        for number in peaks["number"].values[peaks["kind"].values == kind].tolist():
            rows[number] = line
            line += 1
        line += 0.35
    with style.style():
        ax = style.one_axes(ax, (style.WIDTH, _ROW * line + 1.5))
        reach = peaks[["frequency", "bandwidth"]].to_array().values
        ends = min(900.0, float(np.nanmin(reach)) / 1.4), max(1e4, 1.1 * float(np.nanmax(reach)))
        style.frequency_axis(ax, ends)
        for number, at in rows.items():
            one = peaks.sel(number=number)
            _draw_pickup(ax, one, at)
        labels = [f"{peaks['name'].sel(number=n).item()}  {n}" for n in rows]
        ax.set_yticks(list(rows.values()), labels, fontsize=8.5)
        ax.tick_params(axis="y", length=0)
        for kind, at in heads.items():
            ax.text(0.006, at, sentence(kind), transform=ax.get_yaxis_transform(), fontsize=9,
                    fontweight="bold", va="center")  # fmt: skip
        ax.set_ylim(line - 0.4, -0.7)
        ax.set_title(title or f"Measured pickups in: {peaks.attrs['name']}", pad=36)
        ax.grid(False, axis="y")
        ax.set_ylabel("")
        _draw_key(ax)
        style.caption(
            ax,
            ["all measured, with their losses", "bars: one standard error of the fitted values",
             "levels re 100 Hz"],
            peaks.attrs["guitar"],
        )  # fmt: skip
    return ax


def _draw_pickup(ax: Axes, one: xr.Dataset, at: float) -> None:
    limit, peak = float(one["bandwidth"]), float(one["frequency"])
    blue, grey = style.BUILD_STYLES[1][0], style.GREY
    if np.isfinite(limit):
        error = float(one["bandwidth_error"])
        ax.plot([limit - error, limit + error], [at, at], color=grey, linewidth=1.4)
        ax.plot(limit, at, "|", color=grey, markersize=9, markeredgewidth=1.6)
    if np.isfinite(peak):
        error = float(one["frequency_error"])
        ax.plot([peak - error, peak + error], [at, at], color=blue, linewidth=1.4)
        ax.plot(peak, at, "o", color=blue, markersize=5.5)
        ax.annotate(
            f"{fixed(float(one['height']), 1, sign=True)} dB", (peak - error, at), (-7, 0),
            textcoords="offset points", ha="right", va="center", fontsize=8, color=blue,
        )  # fmt: skip


def _draw_key(ax: Axes) -> None:
    from matplotlib.lines import Line2D

    keys: list[Any] = [
        Line2D([], [], color=style.BUILD_STYLES[1][0], marker="o", markersize=5.5, linewidth=0,
               label="peak, with its height; no dot: no peak"),
        Line2D([], [], color=style.GREY, marker="|", markersize=9, markeredgewidth=1.6,
               linewidth=0, label="level has fallen by 3 dB"),
    ]  # fmt: skip
    ax.legend(
        handles=keys, loc="lower left", bbox_to_anchor=(-0.01, 0.995), fontsize=8.5,
        handlelength=1.2, frameon=False,
    )  # fmt: skip


@public(band=None)
def plot_bands_by_cause(
    band: xr.DataArray,
    ax: np.ndarray | None = None,
    *,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw how well a response is known, and what that comes from.

    Parameters
    ----------
    band : xarray.DataArray
        From `guitarnet.tolerances.bands_by_cause`, at one setting.
    ax : array of matplotlib.axes.Axes, optional
        Two axes, one above the other; a new figure by default.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        Two rows: the level with the band of all together, and half the width of each band.

    Raises
    ------
    BadSetting
        If it is no such band, or of several settings.

    Examples
    --------
    >>> from guitarnet import layouts
    >>> from guitarnet.study.catalogue.bands import bands_by_cause
    >>> from guitarnet.study.catalogue.entries import entry
    >>> guitar = layouts.one_pickup(entry(3).pickup)
    >>> plot_bands_by_cause(bands_by_cause(guitar, {"pickup": entry(3)}, count=40)).shape
    (2, 1)
    """
    if not isinstance(band, xr.DataArray) or not {"cause", "quantile"} <= set(band.dims):
        fix = "give what gn.tolerances.bands_by_cause() returns"
        raise BadSetting("figure", "shows bands by their causes", fix)
    read_array(band, "band", "give what gn.tolerances.bands_by_cause() returns", real=True)
    if not {"frequency", "cause"} <= set(band.coords) or "all" not in band["cause"].values.tolist():
        raise BadSetting("band", "has no causes, or no frequency", "bands_by_cause() gives them")
    more = [str(d) for d in band.dims if d not in ("cause", "quantile", "frequency")]
    band = band.squeeze([d for d in more if band.sizes[d] == 1])
    more = [d for d in more if d in band.dims]
    if more:
        fix = f"choose one, as band.sel({more[0]}=...)"
        raise BadSetting("figure", f"the band varies over {', '.join(more)}", fix)
    band = band.transpose("cause", "quantile", "frequency")
    f = band["frequency"].values
    inside = (f >= view[0]) & (f <= view[1])
    whole = band.sel(cause="all").values
    half = (band.isel(quantile=-1) - band.isel(quantile=0)) / 2
    with style.style():
        if ax is None:
            _, ax = style.new_axes(
                2, 1, size=(style.WIDTH, 5.4), sharex="col", gridspec_kw={"height_ratios": (3, 2)}
            )
        grid = style.given_axes(ax, (2, 1), "plot_bands_by_cause")
        above, below = grid[:, 0]
        above.fill_between(f, whole[0], whole[-1], color="#222222", alpha=0.16, linewidth=0)
        above.plot(f, whole[len(whole) // 2], color="#222222")
        lines = []
        for cause in half["cause"].values.tolist():
            width = 1.9 if cause == "all" else 1.5
            dash = "-" if cause == "all" else (0, (4, 1.5)) if cause == "model" else "-"
            colour = _COLOURS.get(cause, style.GREY)
            level = half.sel(cause=cause)
            lines += below.plot(f, level, color=colour, linestyle=dash, linewidth=width)
        for axes in (above, below):
            style.frequency_axis(axes, view)
        style.decibel_axis(above, [whole[:, inside]], y_label(band), deepest=DEEPEST)
        below.set_ylim(0, max(0.5, 1.15 * float(half.values[:, inside].max(initial=0))))
        below.set_ylabel("half width [dB]")
        below.legend(lines, half["cause"].values.tolist(), loc="upper left", fontsize=9, ncols=2)
        above.set_xlabel("")
        shares = 100 * band["quantile"].values[[0, -1]]
        above.set_title(title or f"Between {shares[0]:g} % and {shares[1]:g} % of the guitars")
        style.caption(below, assumed(band), guitar_of(band), first=above)
    return grid
