"""Exercises of the lesson "Six readings, one fault"."""

from __future__ import annotations

import math
from functools import cache

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "broken_coil_reads_open",
    "ohms_of_the_joint",
    "pot_behind_a_bleed",
    "three_zeros",
    "weak_bridge",
    "wrong_tone_capacitor",
    "zero_means_broken",
]

_ZEROS = {
    "neck": "5.9k",
    "neck+middle": "0",
    "middle": "0",
    "middle+bridge": "0",
    "bridge": "6.7k",
}
_HIGH = {
    "neck": 8690.0,
    "neck+middle": 5910.0,
    "middle": 8870.0,
    "middle+bridge": 6090.0,
    "bridge": 9430.0,
}


def _guitar() -> gn.Harness:
    return gn.layouts.three_single_coils(
        gn.Pickup(6e3, 2.3, 110e-12),
        gn.Pickup(6.2e3, 2.4, 120e-12),
        gn.Pickup(6.8e3, 2.8, 130e-12),
        volume="250k",
        tone="250k",
        tone_capacitor="22n",
        cable="5 m",
    )


def _six() -> list[gn.bench.ResistanceReading]:
    places = [gn.bench.ResistanceReading(switch=place) for place in _HIGH]
    return [*places, gn.bench.ResistanceReading(switch="neck", largest_over="volume")]


def _largest_change_by(fault: str) -> float:
    """Largest change of the six readings by a fault, as a share."""
    sound = _guitar()
    faulty = gn.bench.faults(sound)[fault].guitar
    pairs = ((float(one.expected(faulty)), float(one.expected(sound))) for one in _six())
    return max(abs(with_fault / without - 1) for with_fault, without in pairs)


def _bridge_short_of() -> float:
    """What the bridge coil lacks when 5.83 kohm are read in its place [%]."""
    path = "bridge.resistance"
    found = gn.bench.values_from_readings(_guitar(), {"bridge": "5.83k"}, [path], tolerances={})
    return 100 * (1 - found.values[path] / 6.8e3)


def _pot() -> float:
    """The pot behind a bleed with 150 kohm in parallel [ohm]."""
    readings = [
        gn.bench.ResistanceReading("5.84k", switch="neck", volume=10),
        gn.bench.ResistanceReading("43.5k", switch="neck", largest_over="volume"),
    ]
    unknown = ["neck.resistance", "volume.resistance"]
    with_bleed = _guitar().replace("treble_bleed", "1n || 150k")
    return gn.bench.values_from_readings(with_bleed, readings, unknown).values["volume.resistance"]


def _joint() -> float:
    """The bad joint before the volume pot that explains six high readings [ohm]."""
    fault = gn.bench.faults(_guitar(), kinds="resistive joint")["resistive joint at volume high"]
    assert fault.unknown is not None
    path = fault.unknown[0]
    pairs = zip(_six(), [*_HIGH.values(), 64750.0], strict=True)
    readings = [one.with_ohms(ohms) for one, ohms in pairs]
    return gn.bench.values_from_readings(fault.guitar, readings, [path], tolerances={}).values[path]


@cache  # a diagnosis takes its time
def _fitting_zeros() -> str:
    return gn.diagnose(_guitar(), _ZEROS, steps=False).explanations[0].faults[0].label


zero_means_broken = Exercise(
    "Continuity from the volume's wiper to the jack's tip shows zero: is that joint broken?",
    lambda: math.isinf(gn.bench.lug_resistance(_guitar(), "volume.wiper", "jack.tip")),
    hint="What does a meter show when its two probes touch each other?",
)
broken_coil_reads_open = Exercise(
    "The wire of the neck pickup is broken: does the meter show OL at the jack, in the place neck, "
    "all controls up?",
    lambda: math.isinf(
        gn.jack_resistance(gn.bench.faults(_guitar())["neck coil broken"].guitar, switch="neck")
    ),
    hint="What else lies from the hot side to ground?",
)
wrong_tone_capacitor = Exercise(
    "Someone fitted 220 nF where 22 nF belong on the tone controls: does any of the six readings "
    "change by more than 0.1 %?",
    lambda: _largest_change_by("tone capacitor is 220 nF, not 22 nF") > 0.001,
    hint="An ohmmeter measures with direct current.",
)
weak_bridge = Exercise(
    "The place bridge reads 5.83 kΩ, all else as it should be: by how much is the coil short of "
    "its 6.8 kΩ?",
    _bridge_short_of,
    within=1,
    unit="%",
    hint="The pot lies across the coil; take it out of the reading first.",
    high="The pot takes its part off a sound guitar as well.",
)
three_zeros = Exercise(
    "Neck 5.9 kΩ, neck+middle 0, middle 0, middle+bridge 0, bridge 6.7 kΩ: which of these fits?",
    _fitting_zeros,
    hint="Zero is joined, not open; what is it that three places share and two do not?",
    choices=(
        "middle coil broken",
        "middle coil shorted",
        "open joint at middle ground",
        "hot touches the shield at the jack",
    ),
)
pot_behind_a_bleed = Exercise(
    "With a bleed of 1 nF parallel to 150 kΩ the place neck reads 5.84 kΩ at 10 and at most "
    "43.5 kΩ as the volume is turned: what has the pot?",
    lambda: _pot() / 1000,
    within="2 %",
    unit="kΩ",
    hint="Give both readings to gn.bench.values_from_readings, with the bleed in the harness.",
    low="The resistor of the bleed lies across the upper piece of the track.",
)
ohms_of_the_joint = Exercise(
    "All parts are as marked, and the six readings are 8.69, 5.91, 8.87, 6.09, 9.43 and 64.75 kΩ: "
    "what has the bad joint?",
    lambda: _joint() / 1000,
    within="3 %",
    unit="kΩ",
    hint="Does the sixth reading rise by all of it, or by a quarter?",
    low="A joint before the pot has the pot across it, so that the reading rises by less.",
)
