"""Content of a live page from a computed array: one dimension turns, another is the curves."""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping, Sequence
from numbers import Real
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, nearest, plain
from ...study.response.arrays import read_response
from ...study.response.measures import (
    effective_taper,
    level_db,
    peak,
    reference_level,
    treble_change,
)
from ...units import format_value
from .still import MOST_CURVES
from .words import (
    BASS_TO,
    LEAST_PEAK,
    NAMED,
    TREBLE_FROM,
    Shown,
    cells_of,
    columns_of,
    labels_of,
    mode_of,
    modes_of,
    notes_of,
    told,
)

__all__ = ["from_array"]

_MOST = 350  # curves in all, each some 430 bytes of a page of 300 kB
_POINTS = 140
_STEP = 0.01  # dB; steps of 0.1 dB can be seen
_SILENT = -32768
_SWEEP = "give response() marks, as in volume=range(11)"


def from_array(
    h: xr.DataArray,
    knob: str | None,
    re: str | Mapping[str, Any] | None,
    view: tuple[float, float],
    settings: Mapping[str, Any],
) -> Shown:
    """Content for an array of responses or of levels [dB].

    Levels are packed as 16-bit steps of 0.01 dB at 140 frequencies, which are closest where the
    curves bend most. The numbers come from the measures, on the whole grid.
    """
    read_response(h)
    of_levels = h.attrs.get("units") == "dB"
    if of_levels:
        if h.dtype.kind == "c":
            raise BadSetting("live_page", "holds complex levels", "give what level_db() returns")
        h = h.assign_coords(at_reference=1.0, reference_frequency=NAMED[0])
    else:
        level_db(h)  # refuses anything but a response
    turned = _turned(h, knob)
    h, choice = _in_order(h.compute(), turned)
    label, whose = (plain(h[dim].attrs.get("long_name", dim)) for dim in (turned, choice))
    is_mark = h[turned].attrs.get("units") == "mark"
    places = [f"{x:g}" for x in h[turned].values] if is_mark else labels_of(h, turned)
    if len(set(places)) < len(places):
        places = [f"{place} ({i})" for i, place in enumerate(places, 1)]
    full = places.index("10") if is_mark and "10" in places else -1
    at = _opening(h[turned].values, places, turned, is_mark, settings)

    levels = h.values if of_levels else level_db(h).values
    reference = reference_level(h).values
    if of_levels:
        modes, mode = _level_mode(h, re)
        columns, numbers = _level_numbers(h, levels)
    else:
        if isinstance(re, Mapping) and turned in re and full < 0:
            swept = ", ".join(places[:12])
            raise BadSetting(f"re {turned}", f"10 is not among {swept}", f"add 10 to {turned}", re)
        full_label = f"{label} 10" if full >= 0 else ""
        modes = modes_of(float(h.coords["reference_frequency"]), full_label)
        mode = mode_of(modes, re, [turned] if full >= 0 else [])
        columns, numbers = _measured(h, turned, full_label)
    drawn, limits = _points(h["frequency"].values, levels, view)
    labels = labels_of(h, choice)
    frequency = h["frequency"].values[drawn]
    data = {
        "labels": labels,
        "choice": whose,
        "caption": f"Numbers of each {whose} at this setting",
        "columns": columns,
        "limits": limits,
        "modes": modes,
        "mode": mode,
        "knobs": [],
        "switches": [
            {"name": turned, "said": label, "places": places, "place": places[at], "turns": True}
        ],
        # Sentences are about the bass, which must be what the curves are compared with.
        "told": told() if not of_levels and h.reference_frequency == NAMED[0] else None,
        "middle": [BASS_TO, TREBLE_FROM],
        "cable": None,
        "bleeds": [],
        "capacitors": [],
        "table": {
            "frequency": [float(f"{f:.6g}") for f in frequency],
            "step": _STEP,
            "levels": _packed(levels[..., drawn]),
            "reference": _plain_numbers(reference),
            "numbers": _plain_numbers(numbers),
            "full": full,
        },
    }

    def still() -> dict[str, Any]:
        at_setting = levels[:, at][:, drawn]
        with np.errstate(invalid="ignore"):  # where it is silent
            minus = {"reference": reference[:, at, None], "full": levels[:, full][:, drawn]}
            shown = at_setting - minus.get(modes[mode]["name"], 0.0)
        silent = ~np.isfinite(at_setting).any(axis=-1)
        return {
            "frequency": frequency,
            "levels": np.where(np.isfinite(shown), shown, np.nan),
            "cells": [
                cells_of(row, columns, mute)
                for row, mute in zip(numbers[:, at], silent, strict=True)
            ],
            "stands": f"{label} {places[at]}",
        }

    title = f"What the {label} knob does" if is_mark else f"What {label} does"
    return Shown(data, title, notes_of(h), still)


# -- which dimension turns, and where it opens -----------------------------------------------


def _turned(h: xr.DataArray, knob: str | None) -> str:
    """Name of the dimension that turns."""
    swept = [str(dim) for dim in h.dims if dim != "frequency"]
    knobs = [dim for dim in swept if h[dim].attrs.get("units") == "mark"]
    if knob is not None:
        if knob not in swept:
            advice = nearest(knob, swept) if swept else _SWEEP
            raise BadSetting("knob", f"{knob!r} was not swept", advice, knob)
        return knob
    if not knobs:
        other = f", or say what turns, as in knob={swept[0]!r}" if swept else ""
        raise BadSetting("live_page", "the response was swept over no knob", _SWEEP + other)
    if len(knobs) > 1:
        raise BadSetting(
            "live_page",
            f"{len(knobs)} knobs were swept: " + ", ".join(knobs),
            f"say which one turns, as in knob={knobs[0]!r}",
        )
    return knobs[0]


def _in_order(h: xr.DataArray, turned: str) -> tuple[xr.DataArray, str]:
    """Array over curves, the turned dimension and frequency; and the name of the curves."""
    others = [str(dim) for dim in h.dims if dim not in (turned, "frequency")]
    if len(others) > 1:
        raise BadSetting(
            "live_page",
            f"the response has {len(others)} dimensions beside {turned} and frequency: "
            + ", ".join(others),
            f"choose a place of all but one, as in h.sel({{{others[-1]!r}: ...}})",
        )
    choice = others[0] if others else "build"
    curves, places = h.sizes.get(choice, 1), h.sizes[turned]
    if curves > MOST_CURVES:
        raise BadSetting(
            "live_page",
            f"{curves} curves of {choice!r} cannot be told apart",
            f"choose up to {MOST_CURVES}, as in h.isel({{{choice!r}: [0, 1, 2]}})",
            curves,
        )
    if curves * places > _MOST:
        raise BadSetting(
            "live_page",
            f"{places} places of {turned!r} make a page too large",
            f"give up to {_MOST // curves}, such as numpy.linspace(0, 10, 21)",
            places,
        )
    if turned in h.coords and h[turned].dtype.kind in "iuf":
        h = h.sortby(turned)
    if not others:
        h = h.expand_dims("build" if "build" in h.coords else {"build": ["this guitar"]})
    h = h.transpose(choice, turned, "frequency")
    # The measures give one number for each curve, whichever dimensions the reference has.
    like = h.isel(frequency=0, drop=True)
    at_reference = h.coords["at_reference"].broadcast_like(like).transpose(choice, turned)
    return h.assign_coords(at_reference=at_reference), choice


def _opening(
    values: np.ndarray,
    places: Sequence[str],
    turned: str,
    is_mark: bool,
    settings: Mapping[str, Any],
) -> int:
    """Index at which the page opens: the mark nearest to 5, as most bleeds do nothing at 10."""
    for name in settings:
        if name != turned:
            raise BadSetting(name, "does not turn on this page", f"only {turned} does", name)
    if turned not in settings:
        return int(np.argmin(np.abs(values - 5.0))) if is_mark else 0
    wanted = settings[turned]
    if isinstance(wanted, str) and wanted in places:
        return list(places).index(wanted)
    if isinstance(wanted, Real) and values.dtype.kind in "iuf":
        near = int(np.argmin(np.abs(values - wanted)))
        if math.isclose(values[near], float(wanted), abs_tol=1e-9):
            return near
    swept = ", ".join(places[:12])
    raise BadSetting(turned, f"{wanted!r} is not among {swept}", "sweep it as well", wanted)


# -- levels and numbers ----------------------------------------------------------------------


def _points(
    grid: np.ndarray, levels: np.ndarray, view: tuple[float, float]
) -> tuple[np.ndarray, list[float]]:
    """Indices of the frequencies to draw, and their limits [Hz]."""
    low, high = max(view[0], grid[0]), min(view[1], grid[-1])
    inside = np.flatnonzero((grid >= low) & (grid <= high) & (grid > 0))
    if inside.size < 2:
        raise BadSetting(
            "view",
            f"{format_value(view[0], 'Hz')} to {format_value(view[1], 'Hz')} holds "
            f"{inside.size} frequencies of the response",
            f"give a view within {format_value(grid[0], 'Hz')} to {format_value(grid[-1], 'Hz')}",
        )
    # One neighbour on each side, so that lines reach the edges.
    first = inside[0] - (inside[0] > 0 and grid[inside[0] - 1] > 0)
    last = min(inside[-1] + 1, grid.size - 1)
    hertz = grid[first : last + 1]
    chosen = first + _bends(levels[..., first : last + 1], np.log(hertz))
    return chosen, [float(f"{f:.6g}") for f in (max(low, hertz[0]), high)]


def _bends(levels: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Indices of points so that straight lines between them stay near every curve.

    A straight line misses a curve by its second derivative times the square of the step, so the
    density of points is the root of the largest second derivative.
    """
    if x.size <= _POINTS:
        return np.arange(x.size)
    slope = np.gradient(np.where(np.isfinite(levels), levels, 0.0), x, axis=-1)
    bend = np.abs(np.gradient(slope, x, axis=-1)).reshape(-1, x.size).max(axis=0)
    density = np.sqrt(bend)
    density += 0.2 * density.mean() + 1e-6
    along = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(x))])
    wanted = np.linspace(0, along[-1], _POINTS)
    return np.unique(np.rint(np.interp(wanted, along, np.arange(x.size))).astype(int))


def _packed(levels: np.ndarray) -> str:
    """Levels [dB] as 16-bit steps, least byte first, in base64; silence has its own code."""
    finite = np.isfinite(levels)
    # Below -327 dB there are only rounding errors; they become the lowest 16-bit step.
    steps = np.clip(np.rint(np.where(finite, levels, 0.0) / _STEP), _SILENT + 1, -_SILENT - 1)
    return base64.b64encode(np.where(finite, steps, _SILENT).astype("<i2").tobytes()).decode()


def _plain_numbers(values: np.ndarray) -> Any:
    """Lists of numbers for a page; None for no number."""
    if values.ndim:
        return [_plain_numbers(row) for row in values]
    return round(float(values), 4) + 0.0 if np.isfinite(values) else None


def _measured(h: xr.DataArray, turned: str, full: str) -> tuple[list[dict[str, str]], np.ndarray]:
    """Headings and numbers of a response: level and change re the knob at 10, and the peak."""
    grid = h["frequency"].values
    named = [f for f in NAMED[1:] if grid[0] <= f <= grid[-1]]
    numbers = []
    if full:
        numbers.append(effective_taper(h, turned).values)
    if full and named:
        changes = treble_change(h, turned, frequencies=named, band=(grid[0], grid[-1])).change
        numbers += [changes.sel(frequency=f).values for f in named]
    peaks = peak(h)
    peaks = peaks.where(peaks.height >= LEAST_PEAK)
    numbers += [peaks.frequency.values / 1000, peaks.height.values]
    reference = float(h.coords["reference_frequency"])
    return columns_of(reference, full, named), np.stack(numbers, axis=-1)


def _level_numbers(h: xr.DataArray, levels: np.ndarray) -> tuple[list[dict[str, str]], np.ndarray]:
    """Headings and numbers of levels at some frequencies, interpolated over log frequency."""
    grid = h["frequency"].values
    named = [f for f in NAMED if grid[0] <= f <= grid[-1]] or [float(grid[0]), float(grid[-1])]
    names = [format_value(f, "Hz") for f in named]
    columns = [{"group": "level [dB]", "name": w, "said": f"{w} {{}} dB"} for w in names]
    x = np.log(np.maximum(grid, 1e-3))
    rows = [np.interp(np.log(named), x, row) for row in levels.reshape(-1, grid.size)]
    return columns, np.array(rows).reshape(*levels.shape[:-1], -1)


def _level_mode(
    h: xr.DataArray, re: str | Mapping[str, Any] | None
) -> tuple[list[dict[str, str]], int]:
    """Mode of levels, which already have a reference."""
    label = plain(h.attrs.get("long_name", "level"))
    if re not in ("reference", None):
        raise BadSetting("re", f"{label} already has a reference", "leave re out", re)
    axis = f"{label.replace('level re ', 'level compared with ')} [dB]"
    return [{"name": "absolute", "option": label, "axis": axis, "meaning": ""}], 0
