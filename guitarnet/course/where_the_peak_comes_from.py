"""Exercises of the lesson on where the peak comes from."""

from __future__ import annotations

import math
from typing import Any

from ..circuit import layouts
from ..circuit.harness import Harness
from ..parts.pickup import Pickup
from ..study.measures import peak
from ..study.response import response
from ..study.symbols import poles
from .checking import Exercise

__all__ = [
    "a_pole_for_each_part",
    "capacitance_from_the_data_sheet",
    "peak_is_at_lc",
    "poles_with_a_bleed",
    "q_from_the_poles",
    "resonance_of_a_hot_pickup",
]


def _guitar(pots: str, **changed: Any) -> Harness:
    """The guitar of the lesson."""
    given: dict[str, Any] = {"volume": pots, "tone": pots, "cable": "5 m"} | changed
    return layouts.one_pickup(Pickup(6.2e3, 2.4, 120e-12), **given)


def _resonance(inductance: float, capacitance: float) -> float:
    return 1 / (2 * math.pi * math.sqrt(inductance * capacitance))


def _within_a_percent() -> bool:
    found = float(peak(response(_guitar("250k"))).frequency)
    return abs(found / _resonance(2.4, 620e-12) - 1) < 0.01


def _quality() -> float:
    # The slow real pole belongs to the tone network.
    pole = poles(_guitar("500k"))[-1]
    return float(-abs(pole) / (2 * pole.real))


def _winding_pf() -> float:
    return 1e12 / ((2 * math.pi * 7850) ** 2 * 2.9)


peak_is_at_lc = Exercise(
    "The peak of this guitar lies within 1 % of 1/(2π√(LC)): is it so?",
    _within_a_percent,
    hint="the formula knows nothing of what damps, and damping moves the peak.",
)

a_pole_for_each_part = Exercise(
    "With both knobs at 10 the guitar holds a coil and three capacitances (winding, cable, tone), "
    "so it has four poles: is it so?",
    lambda: len(poles(_guitar("250k"))) == 4,
    hint="how many of the capacitances can have a voltage of their own?",
)

resonance_of_a_hot_pickup = Exercise(
    "8 H, a winding of 150 pF and a cable of 800 pF: where do they resonate, undamped?",
    lambda: _resonance(8, 950e-12),
    within="0.5 %",
    unit="Hz",
    hint="the capacitances add; put henries and farads into 1/(2π√(LC)).",
)

capacitance_from_the_data_sheet = Exercise(
    "A data sheet says 2.9 H and a resonance at 7.85 kHz with nothing connected: which capacitance "
    "has the winding?",
    _winding_pf,
    within="2 %",
    unit="pF",
    hint="solve (2πf)² LC = 1 for C.",
)

q_from_the_poles = Exercise(
    "The guitar of this lesson with both pots of 500 kΩ, knobs at 10: what is the Q of its pair of "
    "poles?",
    _quality,
    within="2 %",
    hint="Q of a pole p is -|p| / (2 Re p); gn.poles gives them.",
)

poles_with_a_bleed = Exercise(
    "A treble bleed of 1 nF, volume at 5: a coil and four capacitances. How many poles?",
    lambda: float(len(poles(_guitar("250k", treble_bleed="1n"), volume=5))),
    within=0,
    hint="three of the capacitances form a ring: when two of their voltages are known, so is the "
    "last.",
)
