"""The knob view: one live picture of what a knob does, for a notebook and for a browser.

Everything is computed beforehand; `guitarnet.show.page.knob_page` puts it into a page.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, nearest, plain
from ...gate import public
from ...ranking import at_least
from ...study.response.measures import (
    effective_taper,
    level_db,
    peak,
    reference_level,
    treble_change,
)
from ...units import fixed, format_value
from ..figures import style
from .files import labels_of, notes_of
from .knob_page import STEP, KnobView, pack

__all__ = ["KnobView", "knob_view"]

MOST_BUILDS = len(style.BUILD_STYLES)
MOST_MARKS = 201
POINTS = 140
_FULL = 10.0
LEAST_PEAK = 0.1  # dB; a lower bump comes and goes from mark to mark
NAMED = (1e3, 3e3, 5e3)


@public
def knob_view(
    h: xr.DataArray,
    *,
    knob: str | None = None,
    re: str | Mapping[str, Any] | None = "reference",
    mark: float | None = None,
    view: tuple[float, float] = style.VIEW,
    title: str = "",
) -> KnobView:
    """Make a live picture of what a knob does to one guitar or to several builds.

    The page shows the curves at one mark of the knob, a choice of builds, a choice of what 0 dB
    is, and a table: the level and the change of treble re mark 10, and the peak. It snaps to
    the marks that were computed. Arrow keys turn the knob.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`: one knob swept over marks [0 to 10],
        10 among them, and at most one other dimension of up to 8 builds or values.
    knob : str, optional
        The dimension that turns; needed only where two knobs were swept.
    re : None, "reference" or mapping
        What 0 dB is when the page opens, as in `guitarnet.level_db`: None (1 V/V), "reference"
        (the level at the reference frequency, each curve its own) or ``{"volume": 10}``.
    mark : float, optional
        The mark at which the page opens; the computed one nearest to 5 unless given, since at
        10 the curves of most treble bleeds coincide.
    view : pair of float
        Lowest and highest frequency to draw [Hz].
    title : str
        Title of the page, plain text.

    Returns
    -------
    KnobView
        Shown by a notebook as it stands; ``.save("bleeds.html")`` writes a page that stands
        alone.

    Raises
    ------
    BadSetting
        If no knob was swept, or too much else, or mark 10 is missing, or ``re``, ``mark`` or
        ``view`` does not fit the response.

    Notes
    -----
    Levels are packed as 16-bit steps of 0.01 dB at 140 of the computed frequencies, closest
    together where the curves bend most; no level is interpolated between frequencies or marks.
    The numbers of the table come from `guitarnet.effective_taper`, `guitarnet.treble_change`
    and `guitarnet.peak` on the whole grid.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> builds = {"no bleed": None, "1 nF": "1n"}
    >>> guitars = {k: layouts.one_pickup(pickup, treble_bleed=v) for k, v in builds.items()}
    >>> knob_view(response(guitars, volume=range(11)), title="A treble bleed")
    KnobView(2 x volume 0 to 10, opens at 5)
    """
    level_db(h)  # refuses what is no response
    turned = _knob(h, knob)
    others = [str(dim) for dim in h.dims if dim not in (turned, "frequency")]
    if len(others) > 1:
        raise BadSetting(
            "knob_view",
            f"the response has {len(others)} dimensions beside {turned} and frequency: "
            + ", ".join(others),
            f"choose a place of all but one, as in h.sel({{{others[-1]!r}: ...}})",
        )
    choice = others[0] if others else "build"
    _check_size(h, turned, choice)
    h = h.compute().sortby(turned)
    if not others:
        h = h.expand_dims(build=["this guitar"])
    h = h.transpose(choice, turned, "frequency")
    if h.coords["at_reference"].dims != (choice, turned):
        at_reference = h.coords["at_reference"].broadcast_like(h.isel(frequency=0, drop=True))
        h = h.assign_coords(at_reference=at_reference.transpose(choice, turned))
    data = {
        "knob": plain(h[turned].attrs.get("long_name", turned)),
        "choice": plain(h[choice].attrs.get("long_name", choice)),
        "labels": labels_of(h, choice),
        "marks": [float(f"{mark:.6g}") for mark in h[turned].values],
        "mark": _opening(h[turned].values, turned, mark),
        **_packed(h, view),
        **_modes(h, turned, re),
        **_cells(h, turned),
    }
    data["caption"] = f"Level, change and peak of each {data['choice']} at the {data['knob']} mark"
    return KnobView(data, plain(title), notes_of(h))


def _knob(h: xr.DataArray, knob: str | None) -> str:
    """Name of the dimension that turns."""
    knobs = [str(dim) for dim in h.dims if dim in h.coords and h[dim].attrs.get("units") == "mark"]
    if knob is not None:
        if knob not in knobs:
            advice = nearest(knob, knobs) if knobs else _sweep_it(knob)
            raise BadSetting("knob", f"{knob!r} is no knob that was swept", advice, knob)
        return knob
    if not knobs:
        raise BadSetting("knob_view", "the response was swept over no knob", _sweep_it("volume"))
    if len(knobs) > 1:
        raise BadSetting(
            "knob_view",
            f"{len(knobs)} knobs were swept: " + ", ".join(knobs),
            f"say which one turns, as in knob={knobs[0]!r}",
        )
    return knobs[0]


def _sweep_it(knob: str) -> str:
    return f"give response() marks, as in {knob}=range(11)"


def _check_size(h: xr.DataArray, knob: str, choice: str) -> None:
    builds, marks = h.sizes.get(choice, 1), h.sizes[knob]
    if builds > MOST_BUILDS:
        raise BadSetting(
            "knob_view",
            f"{builds} curves of {choice!r} cannot be told apart",
            f"choose up to {MOST_BUILDS}, as in h.isel({{{choice!r}: [0, 1, 2]}})",
            builds,
        )
    if marks > MOST_MARKS:
        raise BadSetting(
            "knob_view",
            f"{marks} marks of {knob!r} make a page too large",
            f"give up to {MOST_MARKS}, such as numpy.linspace(0, 10, 21)",
            marks,
        )


def _opening(marks: np.ndarray, knob: str, mark: float | None) -> int:
    """Place of the mark at which the page opens."""
    near = int(np.argmin(np.abs(marks - (5.0 if mark is None else mark))))
    if mark is not None and not math.isclose(marks[near], mark, abs_tol=1e-9):
        shown = ", ".join(f"{value:g}" for value in marks[:12])
        raise BadSetting("mark", f"{mark:g} is not among {shown}", f"add {mark:g} to {knob}", mark)
    return near


def _packed(h: xr.DataArray, view: tuple[float, float]) -> dict[str, Any]:
    """Levels re 1 V/V at some of the frequencies, packed, and the level at the reference."""
    grid = h["frequency"].values
    low, high = max(view[0], grid[0]), min(view[1], grid[-1])
    inside = np.flatnonzero((grid >= low) & (grid <= high) & (grid > 0))
    if inside.size < 2:
        raise BadSetting(
            "view",
            f"{format_value(view[0], 'Hz')} to {format_value(view[1], 'Hz')} holds "
            f"{inside.size} frequencies of the response",
            f"give a view within {format_value(grid[0], 'Hz')} to {format_value(grid[-1], 'Hz')}",
        )
    # One neighbour on each side, so that lines run to the edges.
    first = inside[0] - (inside[0] > 0 and grid[inside[0] - 1] > 0)
    last = min(inside[-1] + 1, grid.size - 1)
    levels = level_db(h).values[..., first : last + 1]
    hertz = grid[first : last + 1]
    chosen = _bends(levels, np.log(hertz), POINTS)
    return {
        "frequency": [float(f"{f:.6g}") for f in hertz[chosen]],
        "limits": [float(f"{f:.6g}") for f in (max(low, hertz[0]), high)],
        "step": STEP,
        "levels": pack(levels[..., chosen]),
        "reference": [
            [round(x, 3) + 0.0 if np.isfinite(x) else None for x in row]
            for row in reference_level(h).values.tolist()
        ],
    }


def _bends(levels: np.ndarray, x: np.ndarray, count: int) -> np.ndarray:
    """Choose points so that straight lines between them stay near every curve.

    A straight line misses a curve by its second derivative times the square of the step, so
    the points lie as densely as the root of the largest second derivative.
    """
    if x.size <= count:
        return np.arange(x.size)
    slope = np.gradient(np.where(np.isneginf(levels), 0.0, levels), x, axis=-1)
    bend = np.abs(np.gradient(slope, x, axis=-1)).reshape(-1, x.size).max(axis=0)
    density = np.sqrt(bend)
    density += 0.2 * density.mean() + 1e-6
    along = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(x))])
    wanted = np.linspace(0, along[-1], count)
    return np.unique(np.rint(np.interp(wanted, along, np.arange(x.size))).astype(int))


def _modes(h: xr.DataArray, knob: str, re: str | Mapping[str, Any] | None) -> dict[str, Any]:
    """Say in words what 0 dB may be, and which of them the page opens with."""
    full = {knob: _FULL}
    references: list[tuple[str, Any, str, str]] = [
        ("absolute", None, "", ": volts out per volt induced"),
        ("reference", "reference", ": shape only", ", each curve its own"),
        ("mark", full, ": what turning down changes", ", each curve its own"),
    ]
    opens = dict(re) if isinstance(re, Mapping) else re
    found = [i for i, (_, reference, *_) in enumerate(references) if reference == opens]
    if not found:
        raise BadSetting(
            "re",
            f"{re!r} is no reference of the knob view",
            f"use None, 'reference' or {{{knob!r}: 10}}",
            re,
        )
    modes = []
    for name, reference, what, whose in references:
        words = level_db(h, re=reference).attrs["long_name"]
        option = words.removeprefix("level re ") + what
        modes.append({"name": name, "option": option, "axis": f"{words}{whose} [dB]"})
    return {"modes": modes, "mode": found[0]}


def _cells(h: xr.DataArray, knob: str) -> dict[str, Any]:
    """Cells of the table, as text, for each build and mark."""
    grid = h["frequency"].values
    reference = float(h.coords["reference_frequency"])
    named = [f for f in NAMED if grid[0] <= f <= grid[-1]]
    columns = number_columns(f"{knob}\u00a010", reference, named)
    numbers = [decibels(effective_taper(h, knob).values)]
    if named:
        change = treble_change(h, knob, frequencies=named, band=(grid[0], grid[-1])).change
        numbers += [decibels(change.sel(frequency=f).values) for f in named]
    peaks = peak(h)
    peaks = peaks.where(peaks.height >= LEAST_PEAK)
    numbers.append(texts(peaks.frequency.values, lambda f: f"{f / 1000:.2f}"))
    numbers.append(decibels(peaks.height.values))
    cells = np.stack(numbers, axis=-1)
    cells[np.isneginf(reference_level(h).values), 0] = "silent"
    return {"columns": columns, "cells": cells.tolist()}


def number_columns(full: str, reference: float, named: list[float]) -> list[dict[str, str]]:
    """Head the columns of numbers: what ``full`` is at 0 dB, frequencies [Hz]; "" leaves out."""
    # Hard spaces, so that no heading breaks between a number and its unit.
    where = format_value(reference, "Hz").replace(" ", "\u00a0")
    columns = []
    if full:
        group = f"level re {full}\u00a0[dB]"
        columns.append({"group": group, "name": where, "said": "level {} dB"})
        group = f"change re {full}, matched at {where}\u00a0[dB]"
        for f in named:
            name = format_value(f, "Hz")
            columns.append({"group": group, "name": name, "said": f"change at {name} {{}} dB"})
    columns.append({"group": "peak", "name": "kHz", "said": "peak {} kHz"})
    columns.append({"group": "peak", "name": f"dB re {where}", "said": "{} dB high"})
    return columns


def texts(values: np.ndarray, write: Callable[[float], str]) -> np.ndarray:
    flat = [write(x) if np.isfinite(x) else "\u2014" for x in values.ravel()]
    return np.array(flat, dtype=object).reshape(values.shape)


def decibels(values: np.ndarray) -> np.ndarray:
    def write(x: float) -> str:
        return fixed(x, 1, sign=True).replace("-", "\u2212") if at_least(abs(x), 0.05) else "0.0"

    return texts(values, write)
