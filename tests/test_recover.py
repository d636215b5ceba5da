"""Pickup and pot from readings at the jack: closed forms, hidden values, noise, and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from guitarnet import Pickup, layouts
from guitarnet.errors import GuitarnetError
from guitarnet.study.bench.ohmmeter import Ohmmeter
from guitarnet.study.bench.readings import ResistanceReading
from guitarnet.study.bench.recover import pot_from_largest, values_from_readings
from guitarnet.study.spread.tolerance import spread

STATED = layouts.one_pickup(Pickup("6k", "2.4 H", "120p"), treble_bleed="150k || 1n")
BOTH = ["pickup.resistance", "volume.resistance"]
HIDDEN = {"pickup.resistance": 6430.0, "volume.resistance": 281e3}
METER = Ohmmeter()
AT_10 = {"volume": 10}
LARGEST = {"largest_over": "volume"}
TRACK = {"between": ("volume.high", "volume.low"), "volume": 0, "lifted": "pickup.hot"}


def read(place, guitar=STATED, error=0.0, **values):
    """What the meter shows with the hidden values; ``error`` as a share of its limit."""
    ohms = float(ResistanceReading(1, **place).expected(guitar, meter=METER, **values))
    return ResistanceReading(ohms + error * METER.limit(ohms), **place)


# -- a quarter of the pot ------------------------------------------------------------------------


@pytest.mark.parametrize(("pot", "coil"), [(250e3, 6.2e3), (500e3, 16e3), (50e3, 40e3)])
def test_the_largest_reading_is_a_quarter_of_pot_and_pickup(pot, coil):
    """t R parallel to (1 - t) R + D, scanned: its maximum is (R + D) / 4."""
    t = np.linspace(0, 1, 1_000_001)
    lower, upper = t * pot, (1 - t) * pot + coil
    largest = (lower * upper / (lower + upper)).max()
    assert largest == pytest.approx((pot + coil) / 4, rel=1e-10)
    assert pot_from_largest(largest, coil) == pytest.approx(pot, rel=1e-10)
    # The rule of thumb, "largest x 4" (common practice, no source), is off by the pickup.
    assert 4 * largest - pot == pytest.approx(coil, rel=1e-6)


def test_a_resistive_bleed_spoils_the_quarter():
    """150k across a pot of 250k: the formula misses by more than a quarter of the pot."""
    largest = read(LARGEST, **HIDDEN).ohms
    assert pot_from_largest(largest, 6430) < 0.75 * 281e3
    bare = STATED.replace("treble_bleed", "1n")
    assert pot_from_largest(read(LARGEST, bare, **HIDDEN).ohms - 0.2, 6430) == pytest.approx(
        281e3, rel=1e-6
    )


# -- by the model --------------------------------------------------------------------------------


def test_hidden_values_behind_a_bleed():
    """From two readings at the jack, and from three with one degree of freedom."""
    two = values_from_readings(STATED, [read(AT_10, **HIDDEN), read(LARGEST, **HIDDEN)])
    assert dict(two.values) == pytest.approx(HIDDEN, rel=1e-8)
    assert two.degrees_of_freedom == 0
    assert two.chi_square == pytest.approx(0, abs=1e-9)
    three = values_from_readings(
        STATED, [read(place, **HIDDEN) for place in (AT_10, LARGEST, TRACK)], BOTH, meter=METER
    )
    assert dict(three.values) == pytest.approx(HIDDEN, rel=1e-8)
    assert three.degrees_of_freedom == 1
    for path in BOTH:
        assert three.uncertainties[path] <= two.uncertainties[path] * (1 + 1e-9)


def test_uncertainty_in_closed_form():
    """One coil alone: the meter's. The pot at the jack, the bleed exact: by the divider's slope."""
    alone = layouts.pickup_alone(Pickup("6k", "2.4 H", "120p"))
    found = values_from_readings(alone, ResistanceReading(6430), "pickup.resistance")
    assert found.values["pickup.resistance"] == pytest.approx(6429.8)
    assert found.uncertainties["pickup.resistance"] == pytest.approx(METER.uncertainty(6430))
    # D R / (D + R) at 10 has the slope (D / (D + R))^2 in R, where the pickup is exact.
    pot = values_from_readings(
        STATED, read(AT_10, **HIDDEN | {"pickup.resistance": 6000}), BOTH[1:], tolerances={}
    )
    slope = (6000 / 287e3) ** 2
    expected = METER.uncertainty(6000 * 281e3 / 287e3 + 0.2) / slope
    assert pot.values["volume.resistance"] == pytest.approx(281e3, rel=1e-6)
    assert pot.uncertainties["volume.resistance"] == pytest.approx(expected, rel=1e-4)


def test_a_bleed_that_is_not_known_well_widens_the_pot():
    """Its 5 % show in the uncertainty; a bleed taken as stated leaves them out."""
    readings = [read(AT_10, **HIDDEN), read(LARGEST, **HIDDEN)]
    usual = values_from_readings(STATED, readings)
    exact = values_from_readings(STATED, readings, tolerances={})
    assert dict(exact.values) == pytest.approx(dict(usual.values), rel=1e-8)
    wider = usual.uncertainties["volume.resistance"] / exact.uncertainties["volume.resistance"]
    assert wider > 1.5


@pytest.mark.long
def test_noise_stays_within_the_stated_uncertainty(draws):
    """Meter and bleed off within their limits: chi-square of what was found.

    With two unknowns each, the sum has twice as many degrees of freedom as there are guitars.
    """
    count = draws(12, 40)
    rng = np.random.default_rng(12)
    bleed = "treble_bleed.resistor.resistance"
    off = spread(STATED, count, seed=12)[bleed].values
    total, singles = 0.0, []
    for ohms in off:
        errors = rng.uniform(-1, 1, 2)
        readings = [
            read(place, error=error, **HIDDEN, **{bleed: ohms})
            for place, error in zip((AT_10, LARGEST), errors, strict=True)
        ]
        found = values_from_readings(STATED, readings)
        sizes = np.array([found.uncertainties[path] for path in BOTH])
        miss = np.array([found.values[path] - HIDDEN[path] for path in BOTH]) / sizes
        total += miss @ np.linalg.solve(found.correlation, miss)
        singles.append(miss)
    low, high = stats.chi2.ppf([0.0005, 0.9995], 2 * count)
    assert low < total < high
    assert np.abs(np.mean(singles, axis=0)).max() < 4 / np.sqrt(count)


def test_a_whole_guitar_at_once():
    """Three coils and the pot of a five-way guitar, warm, by switch place."""
    coil = Pickup("6k", "2.4 H", "120p")
    guitar = layouts.three_single_coils(coil, coil, coil, treble_bleed="150k || 1n")
    hidden = {
        "neck.resistance": 5710.0,
        "middle.resistance": 6210.0,
        "bridge.resistance": 6880.0,
        "volume.resistance": 231e3,
    }
    places = [{"switch": place} for place in guitar.parts["switch"].places]
    places += [{"switch": "neck", **LARGEST}]
    readings = [
        ResistanceReading(
            float(ResistanceReading(1, **p).expected(
                guitar, coil_temperature=27, meter=METER, **hidden
            )),
            **p,
        )
        for p in places
    ]  # fmt: skip
    found = values_from_readings(guitar, readings, [*hidden], coil_temperature=27)
    assert dict(found.values) == pytest.approx(hidden, rel=1e-7)
    assert found.degrees_of_freedom == 2
    assert "the readings agree" in found.table().note
    by_place = values_from_readings(
        guitar, {"neck": 5710, "middle": 6210}, ["neck.resistance", "middle.resistance"]
    )
    assert by_place.values["neck.resistance"] == pytest.approx(5710 / (1 - 5710 / 250e3), rel=1e-3)


def test_readings_that_contradict_one_another_are_said_to():
    one = read(AT_10, **HIDDEN)
    other = ResistanceReading(1.3 * one.ohms, **AT_10)
    found = values_from_readings(STATED, [one, other], "pickup.resistance")
    assert found.table().note.endswith("the readings contradict the circuit or one another.")
    assert min(map(abs, found.misses)) > 3


def test_the_table():
    found = values_from_readings(STATED, [read(AT_10, **HIDDEN), read(LARGEST, **HIDDEN)])
    table = found.table()
    assert table.columns == ("value", "found", "standard uncertainty")
    assert [row[:2] for row in table] == [
        ("pickup.resistance", "6.43 kΩ"), ("volume.resistance", "281 kΩ"),
    ]  # fmt: skip
    assert table.note == ("There are as many readings as unknowns, so nothing checks the readings.")


TELL = "add a reading, such as gn.bench.ResistanceReading(..., largest_over='volume')."
LUGS = (
    "add a reading between the part's own lugs, such as gn.bench.ResistanceReading(..., "
    "between=('tone.wiper', 'tone.low'))."
)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: values_from_readings(STATED, ResistanceReading("6k"), "tone.resistance"),
            f"tone.resistance: no reading depends on it; {LUGS}",
        ),
        (
            lambda: values_from_readings(STATED, ResistanceReading("6k"), BOTH),
            f"pickup.resistance and volume.resistance: the readings cannot tell them apart; {TELL}",
        ),
        (
            lambda: values_from_readings(
                STATED,
                [ResistanceReading("6k"), ResistanceReading("6.01k", tone=5)],
                BOTH,
            ),
            f"pickup.resistance and volume.resistance: the readings cannot tell them apart; {TELL}",
        ),
        (
            lambda: values_from_readings(STATED, ResistanceReading("OL"), BOTH),
            "OL at the jack: the guitar should read 5.86 kΩ there; look for an open joint or coil "
            "first; a value of a part does not explain it.",
        ),
        (
            lambda: values_from_readings(
                STATED, ResistanceReading("6k", between=("tone.high", "jack.tip"),
                                          lifted=("tone.wiper", "tone.low"))
            ),
            "6 kΩ from tone.high to jack.tip, tone.wiper and tone.low lifted: the guitar should be "
            "open there; look for a short first; a value of a part does not explain it.",
        ),
        (
            lambda: values_from_readings(STATED, ResistanceReading("2M"), "pickup.resistance"),
            "pickup.resistance: no value within a factor of 100 of the stated one fits the "
            "readings; check them, or look for a fault.",
        ),
        (
            lambda: values_from_readings(STATED, ResistanceReading("6k"), "pickup.inductance"),
            "pickup.inductance: is no resistance, so an ohmmeter does not find it; leave it out.",
        ),
        (
            lambda: values_from_readings(STATED, ResistanceReading("6k"), "volume"),
            "volume: is no resistance, so an ohmmeter does not find it; leave it out.",
        ),
        (
            lambda: values_from_readings(STATED, ResistanceReading("6k"), BOTH[:1] * 2),
            "pickup.resistance: is named twice; name it once.",
        ),
        (
            lambda: values_from_readings(STATED, ResistanceReading("6k"), []),
            "unknown: names no value; give ['pickup.resistance'].",
        ),
        (
            lambda: values_from_readings(
                STATED, ResistanceReading("6k"), "cable.resistance_per_metre"
            ),
            "cable.resistance_per_metre: is no resistance, so an ohmmeter does not find it; leave "
            "it out.",
        ),
        (
            lambda: pot_from_largest("3k", "6.2k"),
            "largest: 3 kΩ is below half the pickup's 6.2 kΩ; turn the volume through its whole "
            "travel and take the largest reading.",
        ),
        (
            lambda: pot_from_largest("-3k", "6.2k"),
            "largest: '-3k' is negative; give a value above 0 Ω.",
        ),
    ],
)  # fmt: skip
def test_refused(call, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        call()
    assert str(refusal.value) == message
