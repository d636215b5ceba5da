"""Exercises of the lesson "Joints, switches, your own harness"."""

from __future__ import annotations

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "capacitor_for_1_khz",
    "grounded_middle_lug",
    "jumper_on_the_wrong_lug",
    "larger_takes_more",
    "phase_toggle",
    "series_cancels_hum",
    "with_a_500k_pot",
]

_REST = (
    ("mode.a1", "jack.sleeve"),
    ("mode.b1", "volume.high"),
    ("tone.a2", "small.a"),
    ("tone.a3", "medium.a"),
    ("tone.a4", "large.a"),
    ("tone.a", "volume.high"),
    ("bridge.ground", "small.b", "medium.b", "large.b", "volume.low", "jack.sleeve"),
    ("bridge.hot", "mode.b"),
    ("volume.wiper", "jack.tip"),
)


def _guitar(*joints: tuple[str, ...], left: tuple[str, ...] = (), **parts: gn.Switch) -> gn.Harness:
    """The guitar of the lesson, with the joints of the neck and the jumper as given."""
    there = {
        "neck": gn.Pickup(6e3, 2.3, 110e-12),
        "bridge": gn.Pickup(6.8e3, 2.8, 130e-12),
        "mode": gn.switches.double_throw(["parallel", "series"]),
        "tone": gn.switches.rotary(1, ["none", "2.2 nF", "10 nF", "47 nF"]),
        "small": gn.Capacitor(2.2e-9),
        "medium": gn.Capacitor(10e-9),
        "large": gn.Capacitor(47e-9),
        "volume": gn.Pot(250e3, gn.audio_taper(0.15)),
        "jack": gn.Jack(),
        **parts,
    }
    given = joints or (*_NECK, ("mode.a2", "mode.b2"))
    return gn.Harness(there, (*_REST, *given)).plugged("5 m").leave_open("tone.a1", *left)


_NECK = (("neck.hot", "volume.high"), ("neck.ground", "mode.a"))


def _at_600_hz(capacitor: str) -> float:
    return float(gn.level_db(gn.response(_guitar(), frequency=[600], tone=capacitor))[0])


def _left_by_a_grounded_wiper() -> float:
    """Largest output [V/V] with the lugs of wiper and ground changed over."""
    swapped = gn.bench.faults(_guitar())["volume wiper and low swapped"].guitar
    return float(abs(gn.response(swapped, volume=[10, 5, 2])).max())


def _farad_for(hertz: float) -> float:
    """Capacitor in the third place that puts the peak there, in parallel [F]."""
    farad = np.geomspace(10e-9, 30e-9, 41)
    h = gn.response(_guitar(), tone="10 nF", medium=farad)
    found = gn.peak(h).frequency.values
    return float(np.exp(np.interp(-np.log(hertz), -np.log(found), np.log(farad))))


def _reversed_against_in_phase() -> float:
    """Change of level at 100 Hz, both in parallel, by reversing the neck pickup [dB]."""
    guitar = _guitar(
        ("neck.hot", "phase.a"),
        ("neck.ground", "phase.b"),
        ("phase.a1", "phase.b2", "volume.high"),
        ("phase.b1", "phase.a2", "mode.a"),
        ("mode.a2", "mode.b2"),
        phase=gn.switches.double_throw(["in phase", "reversed"]),
    )
    level = gn.level_db(gn.response(guitar, frequency=[100], phase=["in phase", "reversed"]))
    return float(level[1, 0] - level[0, 0])


def _ohms_with_wrong_jumper() -> float:
    guitar = _guitar(*_NECK, ("mode.a2", "mode.b1"), left=("mode.b2",))
    return float(gn.jack_resistance(guitar, mode="series"))


larger_takes_more = Exercise(
    "Both pickups in parallel, volume at 10: is there less level with 47 nF switched in than with "
    "10 nF at 600 Hz too?",
    lambda: _at_600_hz("47 nF") < _at_600_hz("10 nF"),
    hint="Look where the peak of each lies.",
)
grounded_middle_lug = Exercise(
    "Ground on the middle lug of the volume pot, the output on the lug that it touches at 0: does "
    "any signal reach the jack at 10, at 5 or at 2?",
    lambda: _left_by_a_grounded_wiper() > 1e-6,
    hint="Follow the track from the output lug: what does it meet first?",
)
series_cancels_hum = Exercise(
    "Both coils wound in one direction, over magnets of one direction, in series: is their hum "
    "less than a tenth of one coil's?",
    lambda: bool(gn.audio.hum(_guitar(), mode="series").cancelling),
    hint="Series adds; what would have to be reversed for hum to be subtracted?",
)
with_a_500k_pot = Exercise(
    "With a 500 kΩ volume pot, what does the ohmmeter show at the jack in series, volume at 10?",
    lambda: (
        float(gn.jack_resistance(_guitar().replace("volume.resistance", "500k"), mode="series"))
        / 1000
    ),
    within="1 %",
    unit="kΩ",
    hint="The two coils add, and the pot lies across both.",
    high="The pot takes something off.",
)
capacitor_for_1_khz = Exercise(
    "In parallel, volume at 10: which capacitor in the rotary's third place puts the peak at "
    "1 kHz?",
    lambda: _farad_for(1000) * 1e9,
    within="4 %",
    unit="nF",
    hint="Sweep medium=[...] and look where gn.peak passes 1 kHz, a little below 1/(2π√(LC)).",
    low="A larger capacitor puts the peak lower.",
    high="A smaller capacitor puts the peak higher.",
)
phase_toggle = Exercise(
    "With the neck pickup reversed by a second toggle, how does the level at 100 Hz change in "
    "parallel, volume at 10?",
    _reversed_against_in_phase,
    within="1 dB",
    unit="dB",
    hint="Two poles: each lead of the pickup on a middle lug, the four outer lugs crossed.",
)
jumper_on_the_wrong_lug = Exercise(
    "The jumper went from a2 to b1 in place of b2: what does the ohmmeter show at the jack in "
    "series, volume at 10?",
    lambda: _ohms_with_wrong_jumper() / 1000,
    within="2 %",
    unit="kΩ",
    hint="Follow the neck's two leads, then the bridge's hot lead: which coil is still across "
    "the pot?",
)
