"""Exercises of the lesson on where the peak comes from."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "a_pole_for_each_part",
    "height_at_q_2",
    "peak_is_at_lc",
    "poles_with_a_bleed",
    "q_from_the_poles",
    "quality_for_twice",
]


def _guitar(pots: str, **changed: Any) -> gn.Harness:
    """The guitar of the lesson."""
    given: dict[str, Any] = {"volume": pots, "tone": pots, "cable": "5 m"} | changed
    return gn.layouts.one_pickup(gn.Pickup(6.2e3, 2.4, 120e-12), **given)


def _within_a_percent() -> bool:
    found = float(gn.peak(gn.response(_guitar("250k"))).frequency)
    return abs(found * 2 * math.pi * math.sqrt(2.4 * 620e-12) - 1) < 0.01


def _quality() -> float:
    # The slow real pole belongs to the tone network.
    pole = gn.formulas.poles(_guitar("500k"))[-1]
    return float(-abs(pole) / (2 * pole.real))


def _height(quality: float) -> float:
    """Largest size of 1/(1 + j x/Q - x²) over all x, looked for and not derived."""
    x = np.linspace(0, 2, 200_001)
    return float(1 / np.sqrt((1 - x**2) ** 2 + (x / quality) ** 2).min())


def _quality_for_twice() -> float:
    from scipy.optimize import brentq

    return float(brentq(lambda quality: _height(quality) - 2, 1, 3))


peak_is_at_lc = Exercise(
    "Does the peak of this guitar lie within 1 % of 1/(2π√(LC))?",
    _within_a_percent,
    hint="The formula knows nothing of what damps, and damping moves the peak.",
)

a_pole_for_each_part = Exercise(
    "With both knobs at 10 the guitar holds a coil and three capacitances (winding, cable, tone), "
    "so has it four poles?",
    lambda: len(gn.formulas.poles(_guitar("250k"))) == 4,
    hint="How many of the capacitances can have a voltage of their own?",
)

height_at_q_2 = Exercise(
    "A pair of poles with Q = 2: how high does the peak stand, re the level at low frequency?",
    lambda: 20 * math.log10(_height(2.0)),
    within="0.1 dB",
    unit="dB",
    hint="Put Q = 2 into Q/√(1 - 1/(4Q²)), and write the ratio in decibels.",
    low="The height is a little more than Q itself.",
)

quality_for_twice = Exercise(
    "The peak is to stand at just twice the level at low frequency: which Q must the poles have?",
    _quality_for_twice,
    within="1 %",
    hint="Set Q/√(1 - 1/(4Q²)) to 2 and square it: a quadratic in Q².",
    high="The height is a little more than Q, so Q is a little less than the height.",
)

q_from_the_poles = Exercise(
    "The guitar of this lesson with both pots of 500 kΩ, knobs at 10: what is the Q of its pair of "
    "poles?",
    _quality,
    within="2 %",
    hint="Q of a pole p is -|p| / (2 Re p); gn.formulas.poles gives them.",
)

poles_with_a_bleed = Exercise(
    "A treble bleed of 1 nF, volume at 5: a coil and four capacitances. How many poles?",
    lambda: float(len(gn.formulas.poles(_guitar("250k", treble_bleed="1n"), volume=5))),
    within=0,
    hint="Three of the capacitances form a ring: when two of their voltages are known, so is the "
    "last.",
)
