"""Exercises of the lesson "How far apart are two guitars built alike?"."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "half_of_pairs_within_half_a_db",
    "inductance_for_400_hz",
    "level_of_two_tapers",
    "pots_to_10_percent",
    "same_cable_for_all",
    "sorted_pots_same_peak",
    "total_more_than_taper",
]

_HERTZ = np.geomspace(50, 15e3, 200)
_POTS = ("volume.resistance", "tone.resistance")


def _guitar() -> gn.Harness:
    pickup = gn.Pickup(6.2e3, 2.4, 120e-12, 300e3, 0.3, 8e3)
    return gn.layouts.one_pickup(
        pickup, volume="250k", tone="250k", tone_capacitor="22n", cable="5 m"
    )


@cache  # drawing many guitars takes its time
def _nine_in_ten(name: str, **changed: Any) -> float:
    """Range of the peak's "frequency" [Hz] or "height" [dB], tolerances changed by path."""
    guitar = _guitar()
    shares = gn.tolerances.tolerances_of(guitar) | {
        path.replace("__", "."): share for path, share in changed.items()
    }
    drawn: dict[str, Any] = gn.tolerances.spread(guitar, 2000, seed=1, tolerances=shares)
    found = gn.peak(gn.response(guitar, frequency=_HERTZ, volume=10, **drawn))
    return float(np.ptp(gn.tolerances.quantiles(found[name], [0.05, 0.95]).values))


def _pots_within(share: float) -> dict[str, float]:
    return {path.replace(".", "__"): share for path in _POTS}


@cache
def _share_of_pairs(within: float) -> float:
    """Share of all pairs whose shapes stay so near [dB] from 200 Hz to 5 kHz."""
    guitar = _guitar()
    drawn: dict[str, Any] = gn.tolerances.spread(guitar, 2000, seed=1)
    many = gn.response(guitar, frequency=_HERTZ, volume=10, **drawn)
    shape = gn.level_db(many, re="reference").sel(frequency=slice(200, 5000)).values
    return float(np.mean(np.abs(shape[::2] - shape[1::2]).max(axis=1) < within))


def _level_range_at_5(**varied: Any) -> float:
    """Range of the level at 100 Hz, volume 5, of nine guitars in ten [dB]."""
    band = gn.tolerances.tolerance_band(_guitar(), varied, frequency=[100.0], volume=5)
    return float(band[-1, 0] - band[0, 0])


def _range_by_pot() -> float:
    guitar = _guitar()
    none = dict.fromkeys(gn.tolerances.tolerances_of(guitar), 0.0)
    return _level_range_at_5(
        **gn.tolerances.spread(guitar, 2000, seed=1, tolerances=none | {"volume.resistance": 0.2})
    )


def _range_by_taper() -> float:
    guitar = _guitar()
    tapers = gn.tolerances.spread_tapers(guitar, {"volume": [5]}, 2000, seed=1)
    return float(
        np.ptp(
            gn.tolerances.tolerance_band(guitar, tapers, frequency=[100.0]).isel(frequency=0).values
        )
    )


def _two_tapers() -> float:
    pots = {f"{half:.0%}": gn.Pot(250e3, gn.audio_taper(half)) for half in (0.13, 0.17)}
    builds = {label: _guitar().replace("volume", pot) for label, pot in pots.items()}
    level = gn.level_db(gn.response(builds, frequency=[100.0], volume=5)).values
    return float(level[1, 0] - level[0, 0])


def _sorted_to(hertz: float) -> float:
    """Tolerance of the inductance that holds the peaks within a range [%]."""
    shares = np.array([0.05, 0.06, 0.07, 0.08])
    ranges = [_nine_in_ten("frequency", pickup__inductance=share) for share in shares]
    return 100 * float(np.interp(hertz, ranges, shares))


half_of_pairs_within_half_a_db = Exercise(
    "Volume 10, levels matched at 100 Hz: do half of all pairs stay within 0.5 dB of each other "
    "from 200 Hz to 5 kHz?",
    lambda: _share_of_pairs(0.5) > 0.5,
    hint="Look at the median of the pairs.",
)
total_more_than_taper = Exercise(
    "At volume 5, 100 Hz: does the pot's total, ±20 %, move the level more than its taper, "
    "±20 % of the curve?",
    lambda: _range_by_pot() > _range_by_taper(),
    hint="With another total, do the two pieces of the track change alike or against each other?",
)
sorted_pots_same_peak = Exercise(
    "With pots sorted to ±5 %, does the range of the peak's frequency shrink by more than "
    "a quarter?",
    lambda: _nine_in_ten("frequency", **_pots_within(0.05)) < 0.75 * _nine_in_ten("frequency"),
    hint="Look which values go with the frequency, and which with the height.",
)
level_of_two_tapers = Exercise(
    "One volume pot has 13 % of its track at 5, another 17 %: how much louder is the second at 5, "
    "at 100 Hz?",
    _two_tapers,
    unit="dB",
    hint="Fit gn.Pot('250k', gn.audio_taper(0.13)), then 0.17; take the level of each at volume 5.",
)
pots_to_10_percent = Exercise(
    "With both pots sorted to ±10 %, within how many decibels of peak height do nine guitars in "
    "ten lie?",
    lambda: _nine_in_ten("height", **_pots_within(0.1)),
    within="8 %",
    unit="dB",
    hint="Change two of gn.tolerances.tolerances_of(guitar), draw again with "
    "gn.tolerances.spread(..., tolerances=...).",
)
same_cable_for_all = Exercise(
    "All guitars are played through one and the same cable: within how many hertz do nine peaks in "
    "ten lie?",
    lambda: _nine_in_ten("frequency", cable__capacitance_per_metre=0.0),
    within="8 %",
    unit="Hz",
    hint="A part that is the same in all guitars has a tolerance of 0.",
    high="Does the cable still vary?",
)
inductance_for_400_hz = Exercise(
    "How closely, plus or minus, must coils be sorted by inductance so that nine peaks in ten lie "
    "within 400 Hz?",
    lambda: _sorted_to(400),
    within="8 %",
    unit="%",
    hint="Try some tolerances of pickup.inductance and look where the range passes 400 Hz.",
)
