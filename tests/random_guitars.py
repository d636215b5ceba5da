"""Guitars drawn at random, the same ones for the same seed.

Each value lies within a factor of 10^1.5 on both sides of a usual one: three decades.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

import guitarnet as gn
from guitarnet.circuit.layouts import WIRINGS
from guitarnet.gate import insisting
from guitarnet.parts.base import Part
from guitarnet.parts.taper import Taper

__all__ = ["BLEEDS", "Drawn", "random_guitar", "random_guitars"]

BLEEDS = ("none", "capacitor", "parallel", "series", "composed", "two capacitors")


@dataclass(frozen=True)
class Drawn:
    """A guitar, its knobs and where to listen."""

    guitar: gn.Harness
    marks: dict[str, float] = field(default_factory=dict)
    at: str = "amp"
    at_an_end: bool = False


def random_guitars(seed: int, count: int, *, travel: str = "any") -> Iterator[Drawn]:
    """Draw guitars; wirings and forms of the bleed take turns, so that all combinations occur.

    Parameters
    ----------
    seed : int
        Seed of the generator.
    count : int
        How many.
    travel : {"any", "middle", "ends"}
        Knobs anywhere, between 0.5 and 9.5, or each at 0 or 10.
    """
    rng = np.random.default_rng(seed)
    for number in range(count):
        wiring = WIRINGS[number % len(WIRINGS)]
        bleed = BLEEDS[number // len(WIRINGS) % len(BLEEDS)]
        yield random_guitar(rng, wiring, bleed, travel=travel)


@insisting(True)  # values three decades around usual ones
def random_guitar(
    rng: np.random.Generator, wiring: str, bleed: str, *, travel: str = "any"
) -> Drawn:
    """Draw one guitar with a wiring and a form of the bleed."""
    has_tone = rng.random() < 0.85
    guitar = gn.layouts.one_pickup(
        _pickup(rng),
        volume=_pot(rng),
        tone=_pot(rng) if has_tone else None,
        tone_capacitor=_capacitor(rng, 22e-9),
        treble_bleed=_bleed(rng, bleed),
        wiring=wiring,
        cable=_cable(rng),
        amp=_amp(rng),
    )
    marks = {"volume": _mark(rng, travel)}
    if has_tone:
        marks["tone"] = _mark(rng, travel)
    at = str(rng.choice(["amp", "amp", "jack", "grid"]))
    return Drawn(guitar, marks, at, any(mark in (0, 10) for mark in marks.values()))


def near(rng: np.random.Generator, usual: float) -> float:
    """Draw a value within three decades around a usual one."""
    return float(usual * 10 ** rng.uniform(-1.5, 1.5))


def _mark(rng: np.random.Generator, travel: str) -> float:
    if travel == "ends" or (travel == "any" and rng.random() < 0.3):
        return float(rng.choice([0.0, 10.0]))
    return float(rng.uniform(0.5, 9.5))


def _taper(rng: np.random.Generator) -> Taper:
    half = float(rng.uniform(0.05, 0.4))
    tapers = (
        gn.linear_taper(),
        gn.audio_taper(half),
        gn.audio_taper(half, shape="exponential"),
        gn.reverse_audio_taper(1 - half),
        gn.no_load(gn.audio_taper(half)),
    )
    return tapers[rng.integers(len(tapers))]


def _pot(rng: np.random.Generator) -> gn.Pot:
    ends = (0.0, 0.0, 2.0, "1%", (0.0, 50.0))[rng.integers(5)]
    return gn.Pot(near(rng, 250e3), _taper(rng), end_resistance=ends)


def _pickup(rng: np.random.Generator) -> gn.Pickup:
    more: dict[str, float] = {}
    if rng.random() < 0.4:
        share = float(rng.choice([1.0, rng.uniform(0.1, 0.9)]))
        more = {"eddy_resistance": near(rng, 200e3), "eddy_share": share}
    if rng.random() < 0.3:
        more["screening_frequency"] = near(rng, 9e3)
    return gn.Pickup(near(rng, 6200), near(rng, 2.4), near(rng, 120e-12), **more)


def _capacitor(rng: np.random.Generator, usual: float) -> gn.Capacitor:
    more = {}
    if rng.random() < 0.2:
        more["series_resistance"] = near(rng, 10)
    if rng.random() < 0.2:
        more["parallel_resistance"] = near(rng, 10e6)
    return gn.Capacitor(near(rng, usual), **more)


def _bleed(rng: np.random.Generator, form: str) -> Part | None:
    capacitor, resistor = _capacitor(rng, 1e-9), gn.Resistor(near(rng, 150e3))
    if form == "none":
        return None
    if form == "capacitor":
        return capacitor
    if form == "parallel":
        return gn.in_parallel(capacitor, resistor)
    if form == "series":
        return gn.in_series(capacitor, resistor)
    if form == "two capacitors":
        return gn.in_series(capacitor, gn.Capacitor(near(rng, 1e-9)))
    other = gn.in_series(_capacitor(rng, 1e-9), gn.Resistor(near(rng, 50e3)))
    return gn.in_parallel(gn.in_series(gn.in_parallel(capacitor, resistor), other), _bleed_leg(rng))


def _bleed_leg(rng: np.random.Generator) -> Part:
    return gn.Resistor(near(rng, 1e6)) if rng.random() < 0.5 else gn.Capacitor(near(rng, 100e-12))


def _cable(rng: np.random.Generator) -> gn.Cable:
    length = float(rng.choice([0.0, 1.0, 3.0, 6.0, 10.0]))
    return gn.Cable(
        length,
        near(rng, 100e-12),
        resistance_per_metre=float(rng.choice([0.0, 0.5])),
        insulation_resistance=float(rng.choice([1e8, 1e10])) if rng.random() < 0.2 else None,
    )


def _amp(rng: np.random.Generator) -> gn.AmpInput:
    behind = rng.random() < 0.4
    return gn.AmpInput(
        near(rng, 1e6),
        capacitance=near(rng, 100e-12) if rng.random() < 0.5 else 0.0,
        grid_resistance=near(rng, 68e3) if behind else 0.0,
    )
