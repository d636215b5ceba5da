"""Exercises of the lesson on tapers."""

from __future__ import annotations

from typing import Any

import guitarnet as gn
from guitarnet.ranking import least

from .checking import Exercise

__all__ = [
    "a_always_means_linear",
    "brighter_at_10",
    "level_with_a_bleed",
    "linear_acts_at_the_top",
    "loaded_at_half",
    "mark_for_half",
    "taper_by_the_meter",
]


def _guitar(words: str, **changed: Any) -> gn.Harness:
    """The guitar of the lesson."""
    volume: Any = words
    pot = gn.Pot(250e3, volume)
    return gn.layouts.one_pickup(gn.Pickup(6.2e3, 2.4, 120e-12), volume=pot, cable="5 m", **changed)


def _always_linear() -> bool:
    meanings = (gn.taper("A", convention=era) for era in ("old", "today"))
    return all(meaning == gn.taper("linear") for meaning in meanings)


def _acts_at_the_top() -> bool:
    at_5, at_1 = gn.effective_taper(gn.response(_guitar("linear"), volume=[10, 5, 1])).values[1:]
    return bool(-at_5 > at_5 - at_1)


def _brighter() -> bool:
    linear, audio = (gn.level_db(gn.response(_guitar(words))) for words in ("linear", "audio 15%"))
    return float(abs(linear - audio).max()) > 0.1


def _by_the_meter() -> str:
    laws = ("linear", "audio 15%", "audio 30%")
    off = (float(gn.jack_resistance(_guitar(law), volume=5)) - 32e3 for law in laws)
    return laws[least([abs(ohms) for ohms in off])]


def _mark_for_half() -> float:
    from scipy.optimize import brentq

    law = gn.audio_taper(0.15)
    return float(brentq(lambda mark: law(mark / 10) - 0.5, 0, 10))


def _loaded_at_half() -> float:
    source = gn.Pickup("1k", "1 H", 0).replace("resistance", 1e-3)  # next to none of its own
    bench: Any = {
        "volume": gn.Pot(250e3, gn.taper("linear")),
        "tone": None,
        "cable": 0,
        "amp": "250k",
    }
    return 100 * float(gn.formulas.dc_gain(gn.layouts.one_pickup(source, **bench), volume=5))


def _with_a_bleed() -> float:
    h = gn.response(_guitar("audio 15%", treble_bleed="1n || 150k"), volume=[10, 5])
    return float(gn.effective_taper(h).sel(volume=5))


a_always_means_linear = Exercise(
    "Does the letter A mean a linear taper on every pot, old or new?",
    _always_linear,
    hint="Letters changed their meaning between eras and standards.",
)

linear_acts_at_the_top = Exercise(
    "A linear volume pot does more between 10 and 5, in decibels, than between 5 and 1: is it so?",
    _acts_at_the_top,
    hint="Decibels go by ratios: from 10 to 5 the track is halved, from 5 to 1 divided by five.",
)

brighter_at_10 = Exercise(
    "At volume 10: does a linear pot for an audio pot of the same resistance change any frequency "
    "at the amp by more than 0.1 dB?",
    _brighter,
    hint="Where is the wiper at 10, and what does it divide there?",
)

taper_by_the_meter = Exercise(
    "6.2 kΩ of pickup, 250 kΩ of volume pot, and 32 kΩ at the jack with the volume at 5: which "
    "taper is it?",
    _by_the_meter,
    choices=("linear", "audio 15%", "audio 30%"),
    hint="The jack sees the lower piece of the track, parallel to the upper piece and the pickup.",
)

mark_for_half = Exercise(
    "An audio pot of 15 %, two straight segments, nothing connected to the wiper: at which mark is "
    "half the voltage left?",
    _mark_for_half,
    within=0.1,
    hint="From mark 5 to 10 the track fraction runs from 15 % to 100 % in a straight line.",
)

loaded_at_half = Exercise(
    "A linear pot of 250 kΩ feeds 250 kΩ: which share of the voltage is left at half travel?",
    _loaded_at_half,
    within=1.0,
    unit="%",
    hint="The lower half of the track has the load in parallel.",
    high="Without the load it would be half.",
)

level_with_a_bleed = Exercise(
    "The audio pot of 15 % with a bleed of 150 kΩ and 1 nF in parallel: what is the level at 5, at "
    "100 Hz, in dB re the level at 10 (below it is negative)?",
    _with_a_bleed,
    within="0.5 dB",
    unit="dB",
    hint="At 100 Hz the bleed is its resistor: 150 kΩ across the upper piece of the track.",
    low="The resistor lets more through than the track alone.",
)
