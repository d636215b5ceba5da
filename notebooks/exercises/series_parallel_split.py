"""Exercises of the lesson "Series, parallel, split"."""

from __future__ import annotations

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "an_octave_up",
    "coils_alike",
    "parallel_hums",
    "parallel_inductance",
    "parallel_with_9_m",
    "reading_in_parallel",
    "split_is_a_single_coil",
]

_COIL = gn.Coil(4.2e3, 2.1, 180e-12)


def _guitar(connection: str, cable: str = "5 m", second: gn.Coil = _COIL) -> gn.Harness:
    pickup = gn.Humbucker(_COIL, second, coupling=0.12, connection=connection)
    return gn.layouts.one_pickup(
        pickup, volume="500k", tone="500k", tone_capacitor="22n", cable=cable
    )


def _peak(guitar: gn.Harness) -> tuple[float, float]:
    """Frequency [Hz] and height [dB re 100 Hz]."""
    found = gn.peak(gn.response(guitar))
    return float(found.frequency), float(found.height)


def _higher_than_single() -> float:
    """How much higher the split coil's peak stands than that of a single coil pickup [dB]."""
    single = gn.layouts.one_pickup(
        gn.Pickup(6.2e3, 2.4, 120e-12), volume="250k", tone="250k", cable="5 m"
    )
    return _peak(_guitar("coil 1"))[1] - _peak(single)[1]


def _octaves_up() -> float:
    return _peak(_guitar("parallel"))[0] / _peak(_guitar("series"))[0]


def _left_of_hum(connection: str, second: gn.Coil = _COIL) -> float:
    return float(gn.audio.hum(_guitar(connection, second=second), frequency=[50]).residual.max())


def _henries() -> float:
    coil = gn.Coil(4e3, 3.0, 200e-12)
    both = gn.Humbucker(coil, coil, coupling=0.12, connection="parallel")
    return float(gn.impedance(gn.layouts.pickup_alone(both), frequency=[1.0]).imag[0]) / (2 * np.pi)


def _reading() -> float:
    coils = gn.Coil(5.4e3, 3.8, 120e-12), gn.Coil(7.2e3, 4.9, 130e-12)
    pickup = gn.Humbucker(*coils, connection="parallel")
    return float(gn.jack_resistance(gn.layouts.one_pickup(pickup, volume="500k"))) / 1000


def _percent_more() -> float:
    """How many per cent more turns of the second coil leave a tenth of the hum."""
    percent = np.arange(1.0, 21.0)
    left = [
        _left_of_hum(
            "series",
            gn.Coil(4200 * (1 + p / 100), 2.1 * (1 + p / 100) ** 2, 180e-12),
        )
        for p in percent
    ]
    return float(np.interp(-20, left, percent))


split_is_a_single_coil = Exercise(
    "Is the peak of the split coil, with its 500 kΩ pots, within 2 dB as high as that of a single "
    "coil of 6.2 kΩ, 2.4 H and 120 pF with 250 kΩ pots?",
    lambda: abs(_higher_than_single()) < 2,
    hint="The pots damp the peak, and they are not the same.",
)
an_octave_up = Exercise(
    "In the guitar with 5 m of cable, is the peak in parallel within 5 % of twice that in series?",
    lambda: abs(_octaves_up() / 2 - 1) < 0.05,
    hint="The cable does not change with the switch, but the windings and the damping count too.",
)
parallel_hums = Exercise(
    "Two equal coils in parallel: is hum from a field that is the same in both still there, less "
    "than 20 dB below that of the loudest coil alone?",
    lambda: _left_of_hum("parallel") > -20,
    hint="Parallel or series, both coils are in use, and one is wound the other way.",
)
# Without coupling it is 1.5 H (Slightly Technical Academy, "Pickup coils in parallel, why not").
parallel_inductance = Exercise(
    "Two coils of 3 H and 4 kΩ, coupling 0.12, in parallel: what inductance does a meter find?",
    _henries,
    within="2 %",
    unit="H",
    hint="A quarter of what they have in series, and in series the coupling adds to the sum.",
    low="The coupled partner adds some.",
    high="In parallel it is less than one coil has.",
)
parallel_with_9_m = Exercise(
    "Your customer has 9 m of cable. Where is the peak in parallel?",
    lambda: _peak(_guitar("parallel", "9 m"))[0],
    within="3 %",
    unit="Hz",
    hint="Make guitar.replace('cable.length', '9 m'); then gn.peak with the connection 'parallel'.",
)
reading_in_parallel = Exercise(
    "A humbucker with coils of 5.4 kΩ and 7.2 kΩ, a 500 kΩ volume pot: what does the meter show "
    "at the jack in parallel, all controls at 10?",
    _reading,
    within="1 %",
    unit="kΩ",
    hint="Three resistances side by side: both coils and the track of the volume pot.",
    high="That would be the coils in series, or one of them.",
)
coils_alike = Exercise(
    "How many per cent more turns may one coil have before less than 20 dB of the hum cancel, in "
    "series?",
    _percent_more,
    within=1,
    unit="%",
    hint="Hum goes with the turns, so a tenth of the larger coil's is left where they differ so.",
)
