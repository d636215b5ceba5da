"""Exercises of the lesson "Cable length"."""

from __future__ import annotations

from typing import Any

import numpy as np

import guitarnet as gn
from guitarnet.ranking import least

from .checking import Exercise

__all__ = [
    "coiled_cable",
    "good_cable",
    "low_capacitance",
    "metres_for_a_peak",
    "one_bleed_for_two",
    "peak_with_9_m",
    "thick_conductor",
]

_NETWORKS = ("none", "220p", "1n", "150k || 470p", "150k || 1n")


def _guitar(cable: str | gn.Cable = "3 m") -> gn.Harness:
    pickup = gn.Pickup(6.2e3, 2.4, 120e-12)
    return gn.layouts.one_pickup(
        pickup, volume="250k", tone="250k", tone_capacitor="22n", cable=cable
    )


def _peak_with(cable: str | gn.Cable) -> float:
    return float(gn.peak(gn.response(_guitar(cable))).frequency)


def _level(cable: str | gn.Cable, hertz: float) -> float:
    return float(gn.level_db(gn.response(_guitar(cable), frequency=[hertz]), re="reference")[0])


def _worst_with_1_m() -> float:
    h = gn.response(_guitar("1 m"), volume=[10, 9, 7, 5, 3])
    return float(abs(gn.treble_change(h).worst).max())


def _thick_against_thin() -> float:
    """Level that 6 m lose at 5 kHz with 1 ohm a metre instead of none [dB]."""
    thick, thin = (gn.Cable(6.0, resistance_per_metre=ohm) for ohm in (0.0, 1.0))
    return abs(_level(thick, 5000) - _level(thin, 5000))


def _metres(hertz: float) -> float:
    """Length that puts the peak there, read off a fine table [m]."""
    metres = np.linspace(3, 12, 91)
    swept: dict[str, Any] = {"cable.length": metres}
    found = gn.peak(gn.response(_guitar(), **swept)).frequency.values
    return float(np.interp(-hertz, -found, metres))


def _steadiest() -> str:
    """The network whose worst deviation at volume 5 is smallest, over 3 m and 6 m of cable."""
    networks = [None if text == "none" else gn.bleed(text) for text in _NETWORKS]
    lengths: dict[str, Any] = {"cable.length": ["3 m", "6 m"]}
    h = gn.response(_guitar(), volume=[10, 5], treble_bleed=networks, **lengths)
    worst = abs(gn.treble_change(h).worst.sel(volume=5)).max("cable.length")
    return _NETWORKS[least(worst.values)]


low_capacitance = Exercise(
    "At volume 10, is there more level at 3 kHz (re 100 Hz) with 1 m of cable than with 10 m?",
    lambda: _level("1 m", 3000) > _level("10 m", 3000),
    hint="Look where the peak of each lies.",
)
good_cable = Exercise(
    "With 1 m of cable and no bleed, does the shape between 200 Hz and 5 kHz stay within 1 dB of "
    "that of volume 10 at the marks 9, 7, 5 and 3?",
    lambda: _worst_with_1_m() < 1,
    hint="Look at the column of 1 m in the table of worst deviations.",
)
thick_conductor = Exercise(
    "Do 6 m of a cable with 1 Ω a metre lose more than 0.1 dB at 5 kHz against one without "
    "resistance?",
    lambda: _thick_against_thin() > 0.1,
    hint="Compare 6 Ω with the pickup's own resistance, and with what the cable feeds.",
)
peak_with_9_m = Exercise(
    "Where is the peak at volume 10 with 9 m of cable at 100 pF a metre?",
    lambda: _peak_with("9 m"),
    within="3 %",
    unit="Hz",
    hint="Ask gn.peak of the response of guitar.replace('cable.length', ...).",
    low="The winding's 120 pF and the damping do not change with the cable.",
    high="The cable's 900 pF hang beside the winding's 120 pF.",
)
coiled_cable = Exercise(
    "A coiled cable has 2.4 nF from tip to sleeve. Where is the peak at volume 10?",
    lambda: _peak_with(gn.Cable(6.0, 400e-12)),
    within="3 %",
    unit="Hz",
    hint="Only the whole capacitance counts: 6 m at 400 pF a metre, or 24 m at 100.",
)
metres_for_a_peak = Exercise(
    "Which length of cable at 100 pF a metre puts the peak at 3.3 kHz, at volume 10?",
    lambda: _metres(3300),
    within="3 %",
    unit="m",
    hint="Sweep cable.length and look where the peak passes 3.3 kHz.",
    low="A longer cable lowers the peak.",
    high="A shorter cable raises the peak.",
)
one_bleed_for_two = Exercise(
    "Which of these leaves the smallest worst deviation (200 Hz to 5 kHz) at volume 5, the worse "
    "of 3 m and 6 m counting?",
    _steadiest,
    hint="Sweep treble_bleed and cable.length at once, then take the larger of each pair.",
    choices=_NETWORKS,
)
