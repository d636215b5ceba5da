"""The ohmmeter and what was read on it, against the GUM and formulas done by hand."""

from __future__ import annotations

import copy
import math
import pickle

import numpy as np
import pytest
import xarray as xr

from guitarnet import GuitarnetError, Pickup, layouts
from guitarnet.circuit.harness import Harness
from guitarnet.errors import BadHarness, BadSetting, BadValue
from guitarnet.parts.output import Jack
from guitarnet.parts.switch import double_throw
from guitarnet.study.bench.ohmmeter import Ohmmeter
from guitarnet.study.bench.readings import ResistanceReading, readings_of
from guitarnet.study.spread.tolerance import spread

COIL = Pickup("6.2k", "2.4 H", "120p")
GUITAR = layouts.one_pickup(COIL)
FIVE = layouts.three_single_coils(COIL, COIL, COIL)


# -- the meter -----------------------------------------------------------------------------------


def test_limits_of_error_become_a_standard_uncertainty():
    """JCGM 100:2008, 4.3.7, example 1: not over 0.40 gives a standard uncertainty of 0.23."""
    assert round(Ohmmeter(accuracy=0, floor=0.40).uncertainty(16.52), 2) == 0.23
    meter = Ohmmeter(accuracy="1%", floor=2)
    assert meter.limit(5000) == pytest.approx(52)
    np.testing.assert_allclose(
        meter.uncertainty([5000, np.inf]), [52 / math.sqrt(3), np.inf], rtol=1e-15
    )


def test_what_the_display_shows():
    """Leads add; above the largest reading it is OL; labelled arrays stay labelled."""
    meter = Ohmmeter(leads=0.5, largest="20k")
    assert meter.shows(19_999.5) == 20e3
    assert meter.shows(19_999.6) == math.inf
    assert isinstance(meter.shows(1), float)
    np.testing.assert_array_equal(meter.shows([0, 3, np.inf]), [0.5, 3.5, np.inf])
    ohms = xr.DataArray([1.0, 30e3], {"switch": ["a", "b"]}, attrs={"units": "ohm"})
    shown = meter.shows(ohms)
    np.testing.assert_array_equal(shown, [1.5, np.inf])
    assert shown.attrs == {"units": "ohm"}
    assert list(shown.switch.values) == ["a", "b"]


def test_label():
    assert Ohmmeter().label() == "±(0.8 % + 1 Ω), leads 200 mΩ, OL above 20 MΩ"


# -- a reading -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "ohms"),
    [
        ("6.05k", 6050.0),
        ("6k05", 6050.0),
        ("0.3 ohm", 0.3),
        (7100, 7100.0),
        (np.float64(7.1), 7.1),
        (0, 0.0),
        *((text, math.inf) for text in ("OL", "ol", " O.L ", "0L", "Open", "INF", "∞", math.inf)),
        (np.float64(np.inf), math.inf),
    ],
)
def test_what_is_noted_down(written, ohms):
    reading = ResistanceReading(written)
    assert reading.ohms == ohms
    assert reading.is_open == math.isinf(ohms)


def test_a_reading_is_a_value():
    """Frozen, equal by what it says, hashable, copied and pickled whole."""
    one = ResistanceReading("6k", switch="neck", volume=10, lifted="pickup.hot")
    same = ResistanceReading(6000, volume=10, switch="neck", lifted=["pickup.hot"])
    assert one == same
    assert hash(one) == hash(same)
    assert one != ResistanceReading("6k", switch="neck", volume=9, lifted="pickup.hot")
    assert one != ResistanceReading("6k", switch="neck", volume=10)
    assert pickle.loads(pickle.dumps(one)) == one == copy.deepcopy(one)
    with pytest.raises(TypeError):
        one.settings["volume"] = 5
    with pytest.raises(AttributeError):
        one.ohms = 5


def test_where_in_words():
    between = ResistanceReading(
        "OL", between=("volume.high", "jack.sleeve"), lifted=("pickup.hot", "tone.wiper"), volume=5
    )
    assert between.label() == (
        "OL from volume.high to jack.sleeve, volume at 5, pickup.hot and tone.wiper lifted"
    )
    largest = ResistanceReading("64k", largest_over="neck_volume", switch="neck")
    assert largest.label() == "64 kΩ at the jack, switch neck, the largest over neck volume"


def test_expected_at_the_jack_and_between_lugs():
    """Pickup across the pot; the track alone with the pickup lifted; the meter's leads."""
    pair = 6200 * 250e3 / 256.2e3
    assert float(ResistanceReading(1, volume=10).expected(GUITAR)) == pytest.approx(pair)
    warm = ResistanceReading(1).expected(GUITAR, coil_temperature=30, meter=Ohmmeter(leads=1))
    ohms = 6200 * 1.0393
    assert float(warm) == pytest.approx(ohms * 250e3 / (250e3 + ohms) + 1)
    track = ResistanceReading(1, between=("volume.high", "volume.low"), lifted="pickup.hot")
    assert float(track.expected(GUITAR)) == pytest.approx(250e3)
    at_jack = ResistanceReading(1, lifted="pickup.hot", volume=10)
    assert float(at_jack.expected(GUITAR)) == pytest.approx(250e3)


def test_expected_of_many_guitars():
    drawn = spread(GUITAR, 20, seed=3)
    found = ResistanceReading(1, volume=10).expected(GUITAR, **drawn)
    coil, pot = (drawn[f"{part}.resistance"].values for part in ("pickup", "volume"))
    assert found.dims == ("sample",)
    np.testing.assert_allclose(found, coil * pot / (coil + pot))


@pytest.mark.parametrize("bleed", [None, "1n", "150k || 1n", "20k || 1n"])
@pytest.mark.parametrize("coil", [6.2e3, 100e3])
def test_the_largest_while_a_knob_is_turned(bleed, coil):
    """Against a scan of the divider written out; without a resistor it is (R + D) / 4."""
    guitar = layouts.one_pickup(Pickup(coil, "2.4 H", "120p"), treble_bleed=bleed)
    t = np.linspace(0, 1, 2_000_001)
    upper, lower = 250e3 * (1 - t), 250e3 * t
    if bleed and "k" in bleed:
        across = float(bleed.partition("k")[0]) * 1e3
        upper = upper * across / (upper + across)
    expected = (lower * (upper + coil) / (lower + upper + coil)).max()
    if not bleed or "k" not in bleed:
        assert expected == pytest.approx((250e3 + coil) / 4, rel=1e-9)
    found = ResistanceReading(1, largest_over="volume").expected(guitar)
    assert found.dims == ()
    assert float(found) == pytest.approx(expected, rel=1e-6)


def test_the_largest_of_many_guitars_and_at_an_end():
    """Pointwise along samples; with independent wiring it is the whole pot, at 0."""
    drawn = spread(GUITAR, 30, seed=4)
    found = ResistanceReading(1, largest_over="volume").expected(GUITAR, **drawn)
    sums = drawn["volume.resistance"].values + drawn["pickup.resistance"].values
    np.testing.assert_allclose(found, sums / 4, rtol=1e-6)
    reversed_pot = layouts.one_pickup(COIL, wiring="independent")
    at_end = ResistanceReading(1, largest_over="volume").expected(reversed_pot)
    assert float(at_end) == pytest.approx(250e3)
    tone = ResistanceReading(1, between=("tone.high", "jack.sleeve"), largest_over="tone")
    assert np.isinf(tone.expected(GUITAR.replace("volume.resistance", "1M").lift("tone.wiper")))


# -- many readings -------------------------------------------------------------------------------


def test_readings_by_switch_place():
    found = readings_of(FIVE, {"neck": "6.05k", "neck+middle": "OL"})
    assert found == (
        ResistanceReading("6.05k", switch="neck"),
        ResistanceReading(math.inf, switch="neck+middle"),
    )
    assert readings_of(FIVE, {"neck": 6050, "bridge": math.inf, "middle": "OL"})[0].ohms == 6050


def test_readings_as_they_are():
    one = ResistanceReading("6.05k", switch="neck", volume=5)
    assert readings_of(FIVE, one) == readings_of(FIVE, [one]) == readings_of(FIVE, (one,)) == (one,)


def test_the_switch_that_has_the_place():
    two = (
        Harness({"pickup": COIL, "jack": Jack()}, [("pickup.ground", "jack.sleeve")], name="bench")
        .add("phase", double_throw(["as wound", "reversed"], poles=1))
        .add("kill", double_throw(["on", "off"], poles=1))
        .join("pickup.hot", "phase.a", "kill.a")
        .join("jack.tip", "kill.a1")
        .leave_open("phase.a1", "phase.a2", "kill.a2")
    )
    (found,) = readings_of(two, {"off": "OL"})
    assert dict(found.settings) == {"kill": "off"}
    assert np.isinf(found.expected(two))


TWO_ALIKE = FIVE.add("other", double_throw(["neck", "all"])).leave_open(
    *(f"other.{lug}" for lug in ("a", "a1", "a2", "b", "b1", "b2"))
)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: ResistanceReading("-6k"),
            "ResistanceReading: '-6k' is negative; give a value from 0 Ω (or 'OL' for open).",
        ),
        (
            lambda: ResistanceReading(-math.inf),
            "ResistanceReading: -inf is negative; give a value from 0 Ω, or 'OL' for open.",
        ),
        (
            lambda: ResistanceReading(math.nan),
            "ResistanceReading: nan Ω is not a number; give a finite value from 0 Ω (or 'OL' for "
            "open).",
        ),
        (
            lambda: ResistanceReading("10 nF"),
            "ResistanceReading: '10 nF' is a capacitance, not a resistance; write it like "
            "'250k', '4k7' or '6200 ohm'.",
        ),
        (
            lambda: ResistanceReading("6.05"),
            "ResistanceReading: '6.05' has no unit; write '6.05k' if you mean that, or write it "
            "like '250k', '4k7' or '6200 ohm'.",
        ),
        (
            lambda: ResistanceReading("6k", volume=[10, 5]),
            "volume: [10, 5] is several values; give one reading for each.",
        ),
        (
            lambda: ResistanceReading("6k", between="volume.high"),
            "between: 'volume.high' is not two lugs; give ('volume.high', 'volume.low').",
        ),
        (
            lambda: ResistanceReading(1, volume=5).expected(GUITAR, volume=7),
            "volume: is set in the reading already; leave it out of one.",
        ),
        (
            lambda: readings_of(FIVE, {"nek": "6k"}),
            "readings: there is no switch place 'nek'; did you mean 'neck'?",
        ),
        (
            lambda: readings_of(FIVE, {"neck": "-6k"}),
            "reading at neck: '-6k' is negative; give a value from 0 Ω (or 'OL' for open).",
        ),
        (
            lambda: readings_of(FIVE, {"neck": "6.05k", "bridge": 7.1}),
            "readings: 7.1 has no unit and '6.05k' has one; write all with their unit, as "
            "'7.1 ohm' or '7.1k'.",
        ),
        (
            lambda: readings_of(FIVE, {}),
            "readings: there is none; give at least one, as {'neck': '6.05k'}.",
        ),
        (
            lambda: readings_of(FIVE, "6.05k"),
            "readings: '6.05k' is no ResistanceReading; give {'neck': '6.05k'} or "
            "[gn.bench.ResistanceReading('6.05k', switch='neck')].",
        ),
        (
            lambda: readings_of(GUITAR, {"neck": "6k"}),
            "readings: one pickup has no switch, so there is no place 'neck'; give a reading by "
            "itself, as gn.bench.ResistanceReading('6.05k').",
        ),
        (
            lambda: readings_of(TWO_ALIKE, {"neck": "6k"}),
            "readings: 'neck' is a place of switch and of other; give "
            "gn.bench.ResistanceReading(..., switch='neck').",
        ),
        (
            lambda: readings_of(FIVE, [ResistanceReading("6k", switch="bridg")]),
            "switch: 'bridg' is no place of it; did you mean 'bridge'?",
        ),
        (
            lambda: readings_of(FIVE, [ResistanceReading("6k", volum=5)]),
            "volum: the harness has no part 'volum'; did you mean 'volume'?",
        ),
        (
            lambda: readings_of(FIVE, [ResistanceReading("6k", volume=12)]),
            "volume: 12 is too large; give a value from 0 to 10 (knob marks run from 0 to 10).",
        ),
        (
            lambda: readings_of(
                FIVE, [ResistanceReading("6k", between=("volume.hot", "jack.tip"))]
            ),
            "volume.hot: a Pot has no lug 'hot'; use one of high, low, wiper.",
        ),
        (
            lambda: readings_of(FIVE, [ResistanceReading("6k", lifted="tone_1.high")]),
            "tone_1.high: is joined to nothing; lift a lug that is joined.",
        ),
        (
            lambda: readings_of(FIVE, [ResistanceReading("6k", largest_over="volumes")]),
            "largest_over: 'volumes' is no knob; did you mean 'volume'?",
        ),
        (
            lambda: readings_of(FIVE, [ResistanceReading("6k", largest_over="volume", volume=5)]),
            "volume: is both turned and set; leave out its mark.",
        ),
        (
            lambda: Ohmmeter(floor=0),
            "Ohmmeter.floor: 0 Ω is zero; give a value above 0 Ω (the contact of a probe alone is "
            "a tenth of an ohm).",
        ),
        (
            lambda: Ohmmeter(accuracy="60%"),
            "Ohmmeter.accuracy: '60%' is too large; give a value from 0 % to 50 %.",
        ),
    ],
)
def test_refused(call, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        call()
    assert str(refusal.value) == message
    assert isinstance(refusal.value, (BadSetting, BadValue, BadHarness))
