"""Words of the pages: labels, what was assumed, what 0 dB is, and the table of numbers."""

from __future__ import annotations

import numbers
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from ...errors import BadSetting, plain
from ...ranking import at_least
from ...units import fixed, format_value
from ..figures.style import shown

__all__ = [
    "LEAST_PEAK",
    "NAMED",
    "Shown",
    "cells_of",
    "columns_of",
    "labels_of",
    "mode_of",
    "modes_of",
    "notes_of",
]

NAMED = (100.0, 1e3, 3e3, 5e3)
"""Frequencies at which pages give levels or their change [Hz]; the first is their reference."""
LEAST_PEAK = 0.1
"""Lowest peak that counts [dB]; a lower bump comes and goes from mark to mark."""
_NONE = "\u2014"


class Shown(NamedTuple):
    """What a live page shows."""

    data: dict[str, Any]
    title: str
    notes: str
    still: Callable[[], dict[str, Any]]
    """Gives curves and numbers of the still picture, once that is asked for."""


def labels_of(values: xr.DataArray, dim: str) -> list[str]:
    """Call each place along a dimension by what the user wrote, or the value with its unit."""
    coord = values[dim]
    written = f"{dim}_written"
    if written in values.coords:
        return [plain(value) for value in values[written].values]
    unit = str(coord.attrs.get("units", ""))
    before = f"{coord.attrs.get('long_name', dim)} " if unit == "mark" else ""
    return [plain(before + shown(value, unit)) for value in coord.values.tolist()]


def notes_of(h: xr.DataArray) -> str:
    """Say in sentences what was assumed and which settings stand still."""
    said = [
        plain(h.attrs[name]) for name in ("long_name", "assumptions", "guitar") if h.attrs.get(name)
    ]
    for name, coord in h.coords.items():
        if coord.ndim == 0 and name not in ("reference_frequency", "rate"):
            unit = str(coord.attrs.get("units", ""))
            words = f"{coord.attrs.get('long_name', name)} {shown(coord.item(), unit)}"
            if words not in str(h.attrs.get("guitar", "")).split("; "):  # set once, told there
                said.append(plain(words))
    sentences = [f"{text[:1].upper()}{text[1:]}." for text in said if text]
    return " ".join(sentences)


def modes_of(reference: float, full: str) -> list[dict[str, str]]:
    """Say what 0 dB may be: volts, the level at the reference frequency [Hz], the knobs full up.

    ``full`` says what "volume 10" is here, "" where that cannot be.
    """
    hertz = format_value(reference, "Hz")
    known = [
        ("absolute", "1 V/V", ": volts out per volt induced", ""),
        ("reference", hertz, ": shape only", ", each curve its own"),
        ("full", full, ": what turning down changes", ", each curve its own"),
    ]
    return [
        {"name": name, "option": f"{words}{what}", "axis": f"level re {words}{whose} [dB]"}
        for name, words, what, whose in known
        if words
    ]


def mode_of(
    modes: Sequence[Mapping[str, str]],
    re: str | Mapping[str, Any] | None,
    knobs: Sequence[str],
) -> int:
    """Find the mode that a page opens with; ``knobs`` are those that are full up at 10."""
    if isinstance(re, Mapping):
        marks = [mark for name, mark in re.items() if name in knobs]
        full = all(isinstance(mark, numbers.Real) and mark == 10 for mark in marks)
        up = full and 0 < len(re) == len(marks)
        wanted = "full" if up else ""
    else:
        wanted = {None: "absolute", "reference": "reference"}.get(re, "")
    names = [mode["name"] for mode in modes]
    if wanted not in names:
        raise BadSetting(
            "re",
            f"{re!r} is no reference of the page",
            f"use None, 'reference' or {{{[*knobs, 'volume'][0]!r}: 10}}",
            re,
        )
    return names.index(wanted)


def columns_of(reference: float, full: str, named: Sequence[float]) -> list[dict[str, str]]:
    """Head the columns of numbers, for the same and some frequencies [Hz]."""
    # Hard spaces, so that no heading breaks between a number and its unit.
    where = format_value(reference, "Hz").replace(" ", "\u00a0")
    columns = []
    if full:
        full = full.replace(" ", "\u00a0")
        group = f"level re {full}\u00a0[dB]"
        columns.append({"group": group, "name": where, "said": "level {} dB"})
        group = f"change re {full}, matched at {where}\u00a0[dB]"
        for f in named:
            name = format_value(f, "Hz")
            columns.append({"group": group, "name": name, "said": f"change at {name} {{}} dB"})
    columns.append({"group": "peak", "name": "kHz", "said": "peak {} kHz"})
    columns.append({"group": "peak", "name": f"dB re {where}", "said": "{} dB high"})
    return columns


def cells_of(
    numbers: Sequence[float], columns: Sequence[dict[str, str]], silent: bool
) -> list[str]:
    """Write a row of numbers as the page's script does; NaN where there is none."""
    cells = [
        _NONE if not np.isfinite(x) else f"{x:.2f}" if column["name"] == "kHz" else _decibels(x)
        for x, column in zip(numbers, columns, strict=True)
    ]
    return ["silent", *cells[1:]] if silent else cells


def _decibels(x: float) -> str:
    return fixed(x, 1, sign=True).replace("-", "\u2212") if at_least(abs(x), 0.05) else "0.0"
