"""Exercises of the lesson on loading by pots, cable and amp."""

from __future__ import annotations

from typing import Any

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "larger_pots_are_louder",
    "load_without_a_peak",
    "peak_of_another",
    "pedal_in_front",
    "resistance_across",
    "resistor_leads_treble_away",
    "tone_capacitor_at_10",
]


def _guitar(pots: str, **changed: Any) -> gn.Harness:
    """The guitar of the lesson."""
    given: dict[str, Any] = {"volume": pots, "tone": pots, "cable": "5 m"} | changed
    return gn.layouts.one_pickup(gn.Pickup(6.2e3, 2.4, 120e-12), **given)


def _gain_db(new: gn.Harness, old: gn.Harness, frequency: Any) -> Any:
    """Level of one guitar re the other at some frequencies [dB]."""
    return (
        gn.level_db(gn.response(new, frequency=frequency))
        - gn.level_db(gn.response(old, frequency=frequency))
    ).values


def _louder() -> bool:
    return bool(_gain_db(_guitar("500k"), _guitar("250k"), [100.0])[0] >= 1)


def _treble_is_led_away() -> bool:
    """Whether the highest treble gains most when the resistance is doubled."""
    at_the_peak, above = _gain_db(_guitar("500k"), _guitar("250k"), [4e3, 15e3])
    return bool(above > at_the_peak)


def _capacitor_counts() -> bool:
    other = _guitar("250k", tone_capacitor="100n")
    return bool(abs(_gain_db(other, _guitar("250k"), np.geomspace(80, 20e3, 200))).max() > 0.5)


def _another() -> float:
    tone = gn.Pot(250e3, gn.no_load("audio 15%"))
    guitar = _guitar("300k", tone=tone, cable="3 m")
    return float(gn.peak(gn.response(guitar)).frequency)


def _without_a_peak() -> float:
    """The load in kΩ at which the poles' Q is 1/√2, and the curve has no maximum any more."""
    from scipy.optimize import brentq

    def surplus(ohm: float) -> float:
        guitar = _guitar("1M", tone=None, amp=ohm).replace("volume.resistance", "1G")
        pole = gn.formulas.poles(guitar)[0]
        return float(-abs(pole) / (2 * pole.real)) - 0.5**0.5

    return float(brentq(surplus, 35e3, 200e3)) / 1e3


def _with_pedal() -> float:
    heights = [float(gn.peak(gn.response(_guitar("250k", amp=ohm))).height) for ohm in (500e3, 1e6)]
    return heights[0] - heights[1]


resistor_leads_treble_away = Exercise(
    "250 kΩ pots are darker than 500 kΩ ones because the resistor leads the treble away to ground, "
    "the more the higher it is: is it so?",
    _treble_is_led_away,
    hint="A resistor does not know the frequency; compare 4 kHz with 15 kHz.",
)

larger_pots_are_louder = Exercise(
    "With 500 kΩ pots for 250 kΩ the guitar is louder, by 1 dB or more at 100 Hz: is it so?",
    _louder,
    hint="There the pickup is 6.2 kΩ, and it feeds 111 or 200 kΩ.",
)

tone_capacitor_at_10 = Exercise(
    "With the tone knob at 10, 100 nF for 22 nF changes the response by more than half a decibel "
    "somewhere from 80 Hz up: is it so?",
    _capacitor_counts,
    hint="Compare the capacitor's reactance, 1/(2πfC), with the 250 kΩ in series with it.",
)

resistance_across = Exercise(
    "A volume pot of 500 kΩ at 10, a tone pot of 500 kΩ at 10 and an amp of 1 MΩ: what resistance "
    "loads the pickup at its peak?",
    lambda: 1 / (1 / 500 + 1 / 500 + 1 / 1000),
    within="1 %",
    unit="kΩ",
    hint="Three resistances in parallel: add what conducts, 1/R.",
    high="In parallel it is less than the smallest of them.",
)

peak_of_another = Exercise(
    "The same pickup with a 300 kΩ volume pot, a no-load tone pot at 10, 3 m of cable and 1 MΩ: "
    "where is the peak?",
    _another,
    within="2 %",
    unit="Hz",
    hint="The load is 300 kΩ and 1 MΩ in parallel, the capacitance 120 pF and 3 m of cable.",
    high="The damping moves the peak down a little: count √(1 - 1/(2Q²)).",
    low="A no-load pot at 10 is not there at all.",
)

load_without_a_peak = Exercise(
    "With 2.4 H, 6.2 kΩ and 620 pF: which load is just small enough that no peak is left?",
    _without_a_peak,
    within="3 %",
    unit="kΩ",
    hint="From Q = 1/√2 down there is none; take the closed form of Q, and neglect R first.",
)

pedal_in_front = Exercise(
    "250 kΩ pots and 5 m of cable: by how much does the height of the peak change when the input "
    "has 500 kΩ for 1 MΩ?",
    _with_pedal,
    within="0.1 dB",
    unit="dB",
    hint="Compute Q with both loads, then the heights, and subtract the old one from the new one.",
)
