"""Exercises of the lesson "Measure a pickup, fit a model"."""

from __future__ import annotations

from functools import cache

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "cold_workshop",
    "inductance_by_two_peaks",
    "more_ohms_more_volts",
    "only_r_l_c",
    "own_peak_under_1_db",
    "winding_capacitance_by_two_peaks",
    "with_500k_pots",
]

# As the lesson's fit finds it, rounded: a wide single coil, its curves in examples/data.
_WIDE = gn.Pickup(10.6e3, 6.8, 133e-12, 27e3, 0.365, 2.65e3, eddy_order=0.894)
_AS_CABLE = gn.Cable(1.0, 470e-12)
_BOBBIN = {"core_length": 57e-3, "core_width": 4.8e-3, "traverse": 11e-3}


def _off_by_losses() -> float:
    """How far R, L and C alone are from the whole model under a guitar's load [dB rms]."""
    f = np.geomspace(200, 8000, 120)
    lossless = gn.Pickup(_WIDE.resistance, _WIDE.inductance, _WIDE.capacitance)
    loaded = [
        gn.layouts.one_pickup(coil, volume="200k", tone=None, cable=_AS_CABLE, amp="10M")
        for coil in (_WIDE, lossless)
    ]
    whole, plain = (gn.level_db(gn.response(one, frequency=f), re="reference") for one in loaded)
    return float(np.sqrt(np.mean((whole - plain).values ** 2)))


def _height_alone() -> float:
    return float(gn.peak(gn.response(gn.layouts.pickup_alone(_WIDE))).height)


def _coil(wire: str, turns: int) -> gn.windings.Winding:
    return gn.windings.winding(wire, turns=turns, **_BOBBIN)


@cache
def _from_two_peaks() -> gn.fitting.PickupFit:
    bare, loaded = gn.fitting.Load("1M"), gn.fitting.Load("1M", "470p")
    peaks = [gn.fitting.PeakReading("7.4 kHz", bare), gn.fitting.PeakReading("3.4 kHz", loaded)]
    return gn.fit_pickup(resistance="6.1k", peak=peaks)


def _at_3_khz(pots: str) -> float:
    guitar = gn.layouts.one_pickup(_WIDE, volume=pots, tone=pots, cable="5 m")
    return float(gn.level_db(gn.response(guitar, frequency=[3000]), re="reference")[0])


only_r_l_c = Exercise(
    "Under a guitar's load, 200 kΩ and 470 pF, is the wide single coil within 1 dB rms (200 Hz to "
    "8 kHz) of its R, L and C alone?",
    lambda: _off_by_losses() < 1,
    hint="Look at the last row of the table of fits.",
)
own_peak_under_1_db = Exercise(
    "Does this pickup, with nothing at all across it, peak by less than 1 dB?",
    lambda: _height_alone() < 1,
    hint="The instrument's input lay across it while the curve was taken.",
)
more_ohms_more_volts = Exercise(
    "7000 turns of AWG 44 and 8000 turns of AWG 42 on one bobbin, with the same magnets: does the "
    "coil with more ohms give more volts?",
    lambda: (_coil("AWG 44", 7000).resistance > _coil("AWG 42", 8000).resistance) == (7000 > 8000),
    hint="Volts go with the turns; ohms go with the length and the thinness of the wire.",
)
cold_workshop = Exercise(
    "A pickup reads 10.15 kΩ at 8 °C: what has it at 20 °C?",
    lambda: gn.windings.resistance_at("10.15k", 20, measured_at=8) / 1000,
    within="1 %",
    unit="kΩ",
    hint="Copper changes by 0.393 % for each degree, and gn.windings.resistance_at knows it.",
    low="A cold coil reads too little.",
    high="Count the degrees between the two temperatures.",
)
winding_capacitance_by_two_peaks = Exercise(
    "A peak at 7.4 kHz falls to 3.4 kHz with 470 pF added: what is the capacitance of the winding "
    "and its lead?",
    lambda: _from_two_peaks().values["capacitance"].value * 1e12,
    unit="pF",
    hint="The frequencies go with one over the square root of the whole capacitance.",
    low="The squared ratio of the peaks is (C + 470 pF) / C.",
    high="The squared ratio of the peaks is (C + 470 pF) / C.",
)
inductance_by_two_peaks = Exercise(
    "And what is its inductance?",
    lambda: _from_two_peaks().values["inductance"].value,
    unit="H",
    hint="Use 1/(2π√(LC)) at either peak, with the capacitance that is there.",
)
with_500k_pots = Exercise(
    "With 500 kΩ pots in place of 250 kΩ, how much more level at 3 kHz re 100 Hz has the wide "
    "single coil behind 5 m of cable?",
    lambda: _at_3_khz("500k") - _at_3_khz("250k"),
    within="0.3 dB",
    unit="dB",
    hint="Replace both pots, and take the level re its own level at 100 Hz.",
)
