"""Exercises of the lesson "Choosing a bleed before soldering"."""

from __future__ import annotations

from functools import cache
from typing import Any

import guitarnet as gn
from guitarnet.study.choose.bleed_result import BleedChoices

from .checking import Exercise

__all__ = [
    "from_the_drawer",
    "odd_values_would_help",
    "one_nf_beats_none",
    "parallel_keeps_the_taper",
    "price_of_3_db",
    "score_of_680_pf",
    "worst_of_a_humbucker",
]

_TWO_CABLES: dict[str, Any] = {"cable.length": ["3 m", "6 m"]}
_FAVOURITES = ["1n", "150k || 1n"]
_DRAWER: dict[str, Any] = {
    "capacitors": ["220p", "470p", "680p", "1n"],
    "resistors": ["100k", "150k", "220k"],
}


def _guitar(cable: str = "5 m") -> gn.Harness:
    pickup = gn.Pickup(6.2e3, 2.4, 120e-12)
    return gn.layouts.one_pickup(
        pickup, volume="250k", tone="250k", tone_capacitor="22n", cable=cable
    )


@cache  # a search takes its time
def _favourites() -> BleedChoices:
    return gn.choose_treble_bleed(_guitar(), forms=[], networks=_FAVOURITES, **_TWO_CABLES)


@cache
def _rounding_costs() -> float:
    """Largest treble error that rounding to preferred values adds to a form [dB]."""
    table = gn.choose_treble_bleed(_guitar(), **_TWO_CABLES).rounding()
    return max(float(row[4]) - float(row[2]) for row in table)


@cache
def _humbucker_worst() -> float:
    pickup = gn.Pickup(8.4e3, 4.6, 110e-12)
    guitar = gn.layouts.one_pickup(
        pickup, volume="500k", tone="500k", tone_capacitor="22n", cable="5 m"
    )
    return gn.choose_treble_bleed(guitar).best.worst


@cache
def _taper_within_3_db() -> float:
    return gn.choose_treble_bleed(_guitar(), goal=gn.choosing.BleedGoal(within=3)).best.taper


one_nf_beats_none = Exercise(
    "Over the whole travel, the worse of 3 m and 6 m of cable counting: does 1 nF alone keep the "
    "shape better (rms, 200 Hz to 5 kHz) than no bleed?",
    lambda: _favourites()["1 nF"].treble < _favourites()["none"].treble,
    hint="Too much treble is a change of shape, too.",
)
parallel_keeps_the_taper = Exercise(
    "Does 150 kΩ parallel to 1 nF leave the taper within 1 dB rms of what it was?",
    lambda: _favourites()["150 kΩ ∥ 1 nF"].taper < 1,
    hint="What does a resistor from the input to the output of the pot do to the level at 3?",
)
odd_values_would_help = Exercise(
    "Would values that nobody sells keep treble by more than 0.1 dB better, in any of the forms?",
    lambda: _rounding_costs() > 0.1,
    hint="Look at the table of what rounding costs.",
)
score_of_680_pf = Exercise(
    "With 5 m of cable, how far is the shape with 680 pF alone from that of volume 10, rms over "
    "the travel?",
    lambda: gn.choose_treble_bleed(_guitar(), forms=[], networks=["680p"])["680 pF"].treble,
    unit="dB",
    hint="Try gn.choose_treble_bleed(guitar, forms=[], networks=['680p']), and read "
    "the column treble.",
)
from_the_drawer = Exercise(
    "With 5 m of cable, 220 pF, 470 pF, 680 pF and 1 nF, and 100, 150 and 220 kΩ: which network "
    "ranks first for treble and taper?",
    lambda: gn.choose_treble_bleed(_guitar(), **_DRAWER).best.network,
    hint="Give capacitors=[...] and resistors=[...]; favourites have no privilege.",
    choices=("220 pF + 220 kΩ", "680 pF ∥ 150 kΩ", "1 nF ∥ 100 kΩ", "470 pF", "none, 50s wiring"),
)
worst_of_a_humbucker = Exercise(
    "A pickup of 8.4 kΩ, 4.6 H and 110 pF, 500 kΩ pots, 5 m of cable: what is the worst deviation "
    "of shape that even the best network leaves?",
    _humbucker_worst,
    within="0.3 dB",
    unit="dB",
    hint="Make the same search with another guitar; read the column worst of the first row.",
)
price_of_3_db = Exercise(
    "With 5 m of cable, the shape must stay within 3 dB at every mark: how much taper, rms, does "
    "the network that ranks first give away?",
    _taper_within_3_db,
    unit="dB",
    hint="Give the search gn.choosing.BleedGoal(within=3).",
)
