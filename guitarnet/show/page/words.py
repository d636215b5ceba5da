"""Text of the pages: labels, notes, references of 0 dB, and the table of numbers."""

from __future__ import annotations

import numbers
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from ...errors import BadSetting, plain
from ...ranking import at_least
from ...study.explain.explain import BASS
from ...study.explain.sentences import BEYOND, FINE, MOVED, NOTHING, PHRASES
from ...study.response.sweep import BAND, TREBLE, read_frequency
from ...units import as_preferred, fixed, format_value, sentence
from ..figures.style import shown

__all__ = [
    "BASS_TO",
    "LEAST_PEAK",
    "NAMED",
    "TREBLE_FROM",
    "Shown",
    "cells_of",
    "columns_of",
    "decibel_text",
    "labels_of",
    "mode_of",
    "modes_of",
    "notes_of",
    "told",
]

NAMED = (100.0, 1e3, 3e3, 5e3)
"""Frequencies at which pages give levels or their change [Hz]; the first is their reference."""
LEAST_PEAK = 0.1
"""Lowest peak that counts [dB]; a lower one comes and goes from mark to mark."""
BASS_TO, TREBLE_FROM = 250.0, 2e3
"""Where bass ends and treble begins [Hz]: common practice, no source."""
_NONE = "\u2014"
# Twice as loud for 10 dB: S. S. Stevens, "The measurement of loudness", Journal of the Acoustical
# Society of America 27 (1955), from memory; 1 dB: common practice, no source.
_DECIBELS = "6 dB more is twice the voltage, 20 dB more ten times."


class Shown(NamedTuple):
    """Content of a live page."""

    data: dict[str, Any]
    title: str
    notes: str
    still: Callable[[], dict[str, Any]]
    """Function that computes curves and numbers of the still picture."""


def labels_of(values: xr.DataArray, dim: str) -> list[str]:
    """Labels along a dimension: what the user wrote, or the value with its unit."""
    coord = values[dim]
    unit = str(coord.attrs.get("units", ""))
    written = f"{dim}_written"
    if written in values.coords:
        texts = values[written].values
        return [plain(as_preferred(t, v, unit)) for t, v in zip(texts, coord.values, strict=True)]
    before = f"{coord.attrs.get('long_name', dim)} " if unit == "mark" else ""
    return [plain(before + shown(value, unit)) for value in coord.values.tolist()]


def notes_of(h: xr.DataArray) -> str:
    """Sentences about assumptions and fixed settings."""
    notes = [
        plain(h.attrs[name]) for name in ("long_name", "assumptions", "guitar") if h.attrs.get(name)
    ]
    for name, coord in h.coords.items():
        if coord.ndim == 0 and name not in ("reference_frequency", "rate"):
            unit = str(coord.attrs.get("units", ""))
            text = f"{coord.attrs.get('long_name', name)} {shown(coord.item(), unit)}"
            if text not in str(h.attrs.get("guitar", "")).split("; "):  # the guitar's note has it
                notes.append(plain(text))
    return " ".join(f"{sentence(text)}." for text in notes if text)


def modes_of(reference: float, full: str) -> list[dict[str, str]]:
    """Choices of 0 dB: volts, the level at the reference frequency [Hz], the knobs full up.

    ``full`` is the label of "volume 10" on this page, "" if there is none.
    """
    hertz = format_value(reference, "Hz")
    bass = f"the bass ({hertz})" if reference <= BASS_TO else hertz
    known = [
        (
            "absolute",
            "1 V/V",
            "1 V/V: volts out per volt induced",
            "0 dB is 1 volt at the amp for each volt that the string induces, so lost level shows.",
        ),
        (
            "reference",
            bass.removeprefix("the "),
            f"{bass}: shape only",
            f"0 dB is {bass} of each curve: above the line is louder than that, below it quieter.",
        ),
        (
            "full",
            full,
            f"{full}: what turning down changes",
            f"0 dB is the same guitar with {full}: below the line, turning down has taken it away.",
        ),
    ]
    return [
        {
            "name": name,
            "option": option,
            "axis": f"level in dB; 0 dB: {label}",
            "meaning": f"{meaning} {_DECIBELS}",
        }
        for name, label, option, meaning in known
        if label
    ]


def told() -> dict[str, Any]:
    """Words and limits of the sentences that compare, for the script of a page."""
    low, high = (read_frequency(one)[0] for one in BAND)
    return {
        "phrases": PHRASES,
        "limits": {"nothing": NOTHING, "fine": FINE, "beyond": BEYOND, "moved": MOVED},
        "bass": BASS,
        "treble": read_frequency(TREBLE)[0],
        "band": [low, high],
    }


def mode_of(
    modes: Sequence[Mapping[str, str]],
    re: str | Mapping[str, Any] | None,
    knobs: Sequence[str],
) -> int:
    """Number of the mode that a page opens with; ``knobs`` are those that are full up at 10."""
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
    """Headings of the columns of numbers, for some frequencies [Hz]."""
    # Hard spaces, so that no heading breaks between a number and its unit.
    where = format_value(reference, "Hz").replace(" ", "\u00a0")
    columns = []
    if full:
        full = full.replace(" ", "\u00a0")
        group = f"change from {full}\u00a0[dB]"
        columns.append({"group": group, "name": where, "said": "level {} dB"})
        group = f"change from {full}, matched at {where}\u00a0[dB]"
        for f in named:
            name = format_value(f, "Hz")
            columns.append({"group": group, "name": name, "said": f"change at {name} {{}} dB"})
    columns.append({"group": "peak", "name": "kHz", "said": "peak {} kHz"})
    columns.append({"group": "peak", "name": f"dB above {where}", "said": "{} dB high"})
    return columns


def cells_of(
    numbers: Sequence[float], columns: Sequence[dict[str, str]], silent: bool
) -> list[str]:
    """A row of numbers as text, as the page's script writes it; NaN for no number."""
    cells = [
        _NONE if not np.isfinite(x) else f"{x:.2f}" if column["name"] == "kHz" else decibel_text(x)
        for x, column in zip(numbers, columns, strict=True)
    ]
    return ["silent", *cells[1:]] if silent else cells


def decibel_text(x: float) -> str:
    """Decibels with a sign and one digit; 0.0 for less than half a digit."""
    return fixed(x, 1, sign=True).replace("-", "\u2212") if at_least(abs(x), 0.05) else "0.0"
