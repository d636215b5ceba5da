"""Exercises of the lesson "A pickup is a resonant circuit"."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "capacitance_from_peak",
    "data_sheet_peak",
    "height_with_500k",
    "hotter_is_louder",
    "inductance_for_a_peak",
    "resonance_by_formula",
    "twice_the_ohms",
]

_PICKUP = gn.Pickup(6.2e3, 2.4, 120e-12)


def _guitar(pots: str = "250k") -> gn.Harness:
    return gn.layouts.one_pickup(_PICKUP, volume=pots, tone=pots, cable="5 m")


def _louder(pickup: gn.Pickup, volts: float, hertz: float) -> float:
    """Level of another pickup in the guitar, ``volts`` induced, against the first [dB]."""
    guitars = [_guitar(), _guitar().replace("pickup", pickup)]
    own, other = (
        float(gn.level_db(gn.response(guitar, frequency=[hertz]))[0]) for guitar in guitars
    )
    return other - own + 20 * math.log10(volts)


def _moved_in_the_guitar() -> float:
    alone = 1 / (2 * math.pi * math.sqrt(_PICKUP.inductance * _PICKUP.capacitance))
    return float(gn.peak(gn.response(_guitar())).frequency) / alone


def _henries(hertz: float) -> float:
    """Inductance that puts the peak in the guitar there, read off a fine table [H]."""
    henries = np.linspace(2, 6, 81)
    swept: dict[str, Any] = {"pickup.inductance": henries}
    found = gn.peak(gn.response(_guitar(), **swept)).frequency.values
    return float(np.interp(-hertz, -found, henries))


twice_the_ohms = Exercise(
    "Twice the DC resistance, all else alike: does the guitar get louder at 100 Hz?",
    lambda: _louder(gn.Pickup(12.4e3, 2.4, 120e-12), 1.0, 100) > 0,
    hint="The resistance lies in series with the induced voltage, the pots across.",
)
data_sheet_peak = Exercise(
    "Is the peak in the guitar, with 250 kΩ pots and 5 m of cable, within 10 % of the peak of the "
    "pickup alone?",
    lambda: abs(_moved_in_the_guitar() - 1) < 0.1,
    hint="Add the cable's capacitance to the winding's.",
)
hotter_is_louder = Exercise(
    "Twice the turns (twice the voltage, twice the resistance, four times the inductance): is the "
    "guitar louder at 5 kHz too?",
    lambda: _louder(gn.Pickup(12.4e3, 9.6, 120e-12), 2.0, 5000) > 0,
    hint="Four times the inductance puts the peak far below 5 kHz.",
)
# H. Lemme, "The Secrets of Electric Guitar Pickups", Electronic Musician, December 1986 (read in
# a text that quotes it), prints about 1827 Hz.
resonance_by_formula = Exercise(
    "A coil of 8 H with 150 pF of winding and 800 pF of cable, no damping: where does it resonate?",
    lambda: 1 / (2 * math.pi * math.sqrt(8 * 950e-12)),
    within="1 %",
    unit="Hz",
    hint="Put henries and farads into 1/(2π√(LC)), with both capacitances side by side.",
)
# A printed data sheet: 2.9 H at 120 Hz, 7.85 kHz (Premier Guitar, "Demystifying DCR").
capacitance_from_peak = Exercise(
    "A data sheet gives 2.9 H and an unloaded peak at 7.85 kHz: what is the coil's capacitance?",
    lambda: 1e12 / ((2 * math.pi * 7850) ** 2 * 2.9),
    within="3 %",
    unit="pF",
    hint="Turn the formula of the resonance round: C = 1/((2πf)²L).",
)
height_with_500k = Exercise(
    "Your customer swaps both 250 kΩ pots for 500 kΩ. How high is the peak, re 100 Hz?",
    lambda: float(gn.peak(gn.response(_guitar("500k"))).height),
    within="0.5 dB",
    unit="dB",
    hint="Build the guitar with volume='500k' and tone='500k' and ask gn.peak for the height.",
    low="Larger pots damp the peak less.",
    high="The pots are not all that damps: the amp and the coil's resistance stay.",
)
inductance_for_a_peak = Exercise(
    "Which inductance puts the peak in the lesson's guitar at 3 kHz, resistance and capacitance "
    "as they are?",
    lambda: _henries(3000),
    within="3 %",
    unit="H",
    hint="Sweep pickup.inductance, and look where the peak passes 3 kHz.",
    low="More inductance lowers the peak.",
    high="Less inductance raises the peak.",
)
