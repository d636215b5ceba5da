"""What an ohmmeter must show at the jack: closed forms, all corners, and what is said of it."""

from __future__ import annotations

import math

import numpy as np
import pytest

import guitarnet as gn
from guitarnet import Pickup, Pot, layouts
from guitarnet.circuit.harness import CAUTIONS
from guitarnet.errors import GuitarnetError
from guitarnet.study.bench.expected import expected_readings
from guitarnet.study.bench.ohmmeter import Ohmmeter
from guitarnet.study.spread.tolerance import corners, spread, tolerances_of

NECK, MIDDLE, BRIDGE = (Pickup(ohms, "2.4 H", "120p") for ohms in ("5.8k", "6.2k", "7k"))
FIVE = layouts.three_single_coils(NECK, MIDDLE, BRIDGE)
ONE = layouts.one_pickup(MIDDLE, treble_bleed="150k || 1n")


def parallel(*ohms):
    """Parallel resistances; zero wins."""
    return 0.0 if 0 in ohms else 1 / sum(1 / ohm for ohm in ohms)


def test_five_places_in_closed_form():
    """The selected coils and the volume pot in parallel; nothing at 0."""
    data = expected_readings(FIVE, marks={"volume": 0}).data
    assert data.nominal.dims == ("switch", "knobs")
    assert list(data.knobs.values) == ["all at 10", "volume 0"]
    coils = {
        "neck": [5800],
        "neck+middle": [5800, 6200],
        "middle": [6200],
        "middle+bridge": [6200, 7000],
        "bridge": [7000],
    }
    for place, ohms in coils.items():
        here = data.sel(switch=place)
        assert float(here.nominal[0]) == pytest.approx(parallel(*ohms, 250e3))
        assert float(here.low[0]) == pytest.approx(parallel(*(0.95 * ohm for ohm in ohms), 200e3))
        assert float(here.high[0]) == pytest.approx(parallel(*(1.05 * ohm for ohm in ohms), 300e3))
        assert not here[["nominal", "low", "high"]].isel(knobs=1).to_array().any()


def test_the_reading_is_within_a_couple_of_percent_of_the_pickup():
    """Common practice, no source: with a pot of 250k, at full volume."""
    nominal = expected_readings(FIVE).data.nominal.isel(knobs=0)
    for place, ohms in (("neck", 5800), ("middle", 6200), ("bridge", 7000)):
        assert float(nominal.sel(switch=place)) == pytest.approx(ohms, rel=0.03)


@pytest.mark.parametrize("wiring", ["modern", "independent"])
def test_the_whole_range_against_all_corners(wiring):
    """Two coils of two pickups, pots and bleeds at every combination of their limits."""
    coil = gn.Coil("4k", "2 H", "150p")
    pair = gn.Humbucker(coil, coil)
    guitar = layouts.two_humbuckers(pair, pair, wiring=wiring, treble_bleed="150k || 1n")
    marks = {"neck_volume": 7, "bridge_volume": 4}
    data = expected_readings(guitar, marks=marks).data
    shares = {
        path: share
        for path, share in tolerances_of(guitar).items()
        if path.endswith(".resistance") and "tone" not in path and not path.startswith("amp")
    }
    assert len(shares) == 8
    every = corners(guitar, tolerances=shares)
    for label, turned in (
        ("all at 10", {}),
        ("neck volume 7", {"neck_volume": 7}),
        ("bridge volume 4", {"bridge_volume": 4}),
    ):
        here = data.sel(knobs=label)
        brute = gn.jack_resistance(guitar, switch=list(here.switch.values), **turned, **every)
        np.testing.assert_allclose(here.low, brute.min("sample"), rtol=1e-9)
        np.testing.assert_allclose(here.high, brute.max("sample"), rtol=1e-9)
        assert (here.sampled_low > here.low).all()
        assert (here.sampled_low < here.nominal).all()
        assert (here.nominal < here.sampled_high).all()
        assert (here.sampled_high < here.high).all()


def test_the_sampled_range_of_one_coil():
    """Evenly between 95 and 105 %: 90 % of it lie between 95.5 and 104.5 %."""
    alone = layouts.pickup_alone(Pickup("10k", "2.4 H", "120p"))
    data = expected_readings(alone, count=20_000, within="90%").data
    assert float(data.sampled_low[0]) == pytest.approx(9550, abs=15)
    assert float(data.sampled_high[0]) == pytest.approx(10450, abs=15)
    draws = spread(alone, 20_000)["pickup.resistance"]
    inside = (draws >= data.sampled_low[0]) & (draws <= data.sampled_high[0])
    assert int(inside.sum()) == 18_001  # r to r + q of JCGM 101:2008, 7.7.2, both included


def test_the_meter_widens_the_range():
    """Its limits of error on top of the parts' own, its leads in all of it."""
    meter = Ohmmeter(accuracy="1%", floor=2, leads=0.5)
    bare, read = (expected_readings(ONE, meter=one).data.isel(knobs=0) for one in (None, meter))
    assert float(read.nominal) == pytest.approx(float(bare.nominal) + 0.5)
    low, high = float(bare.low) + 0.5, float(bare.high) + 0.5
    assert float(read.low) == pytest.approx(low - (0.01 * low + 2))
    assert float(read.high) == pytest.approx(high + (0.01 * high + 2))
    assert float(read.low) < float(read.sampled_low) < float(bare.sampled_low)
    assert float(bare.sampled_high) < float(read.sampled_high) < float(read.high)


def test_no_reading_below_zero():
    data = expected_readings(ONE, marks={"volume": 0}, meter=Ohmmeter()).data.isel(knobs=1)
    assert float(data.nominal) == 0.2
    assert float(data.low) == 0
    assert float(data.sampled_low) >= 0


def test_open_is_shown_as_ol():
    """A coil lead lifted, a pot that opens at 10, and a range that is too small."""
    loose = FIVE.lift("bridge.hot")
    assert expected_readings(loose).table().rows[4][2] == "250 kΩ", "the pot alone"
    no_volume = layouts.pickup_alone(MIDDLE).lift("pickup.hot")
    found = expected_readings(no_volume, meter=Ohmmeter())
    assert [float(found.data[name][0]) for name in ("nominal", "low", "high", "sampled_low")] == [
        math.inf
    ] * 4
    assert found.table().rows == [("no knob", "OL", "OL", "OL", "OL", "OL", "no control")]
    short = expected_readings(ONE, marks={"volume": 5}, meter=Ohmmeter(largest="20k"))
    assert short.table().rows[1][:2] == ("volume 5", "OL")


def test_a_tone_pot_does_not_count_unless_its_capacitor_is_shorted():
    """Common practice, no source: a capacitor blocks DC."""
    found = expected_readings(FIVE)
    assert found.silent_controls == ("tone_1", "tone_2")
    assert "No reading depends on tone 1, tone 2." in found.table().note
    shorted = FIVE.replace("tone_capacitor", gn.Resistor(0))
    counts = expected_readings(shorted).data.counts
    assert counts.sel(switch="neck", control="tone_1")
    assert not counts.sel(switch="neck", control="tone_2")
    assert not counts.sel(switch="bridge", control=["tone_1", "tone_2"]).any()
    assert counts.sel(control="volume").all()


def test_what_counts_by_place():
    """Of two volumes, only the one that is switched on; both in the middle."""
    guitar = layouts.two_humbuckers(NECK, BRIDGE)
    found = expected_readings(guitar)
    counting = [row[-1] for row in found.table()]
    assert counting == ["neck volume", "neck volume, bridge volume", "bridge volume"]


def test_knobs_that_stand_elsewhere_and_marks_for_all():
    found = expected_readings(ONE, marks=[5, 10, "0"])
    labels = ["all at 10", "volume 5", "volume 0", "tone 5", "tone 0"]
    assert list(found.data.knobs.values) == labels
    assert [row[0] for row in found.table()] == labels[:3], "the tone does not count"
    t = gn.audio_taper(0.15)(0.5)
    expected = parallel(250e3 * t, 6200 + parallel(250e3 * (1 - t), 150e3))
    assert float(found.data.nominal.sel(knobs="volume 5")) == pytest.approx(expected)


def test_temperature_and_own_tolerances():
    """A coil at 30 °C has 1.0393 times its resistance (IEC 60028); nothing varies."""
    found = expected_readings(ONE, coil_temperature=30, tolerances={}).data.isel(knobs=0)
    ohms = parallel(6200 * 1.0393, 250e3)
    for name in ("nominal", "low", "high", "sampled_low", "sampled_high"):
        assert float(found[name]) == pytest.approx(ohms)
    only_pot = expected_readings(ONE, tolerances={"volume.resistance": "8%"}).data.isel(knobs=0)
    assert float(only_pot.high) == pytest.approx(parallel(6200, 270e3))


def test_a_switch_that_no_reading_depends_on():
    """Both throws join the same: it is left out of the table and named under it."""
    from guitarnet.parts.switch import double_throw

    idle = FIVE.add("bright", double_throw(["off", "on"])).leave_open(
        *(f"bright.{lug}" for lug in ("a", "a1", "a2", "b", "b1", "b2"))
    )
    found = expected_readings(idle)
    assert found.silent_switches == ("bright",)
    assert found.data.nominal.dims == ("switch", "bright", "knobs")
    table = found.table()
    assert table.columns[:2] == ("switch", "knobs")
    assert len(table) == 5
    assert "No reading depends on the place of bright." in table.note
    # Two pickups alike do read alike, but they are two: the places stay.
    assert expected_readings(layouts.two_single_coils(NECK, NECK)).silent_switches == ()


def test_the_table_whole():
    guitar = layouts.one_pickup(MIDDLE, volume=Pot("250k", "linear"), tone=None, name="plank")
    table = expected_readings(guitar, marks={"volume": 5}, count=100, within=0.9).table()
    assert table.columns == (
        "knobs", "shows", "lowest", "highest", "90 % from", "90 % to", "what counts"
    )  # fmt: skip
    low, high = parallel(5890, 200e3), parallel(6510, 300e3)
    shown = [f"{ohms / 1e3:.4g} kΩ" for ohms in (parallel(6200, 250e3), low, high)]
    assert list(table.rows[0][:4]) == ["all at 10", *shown]
    assert table.rows[0][-1] == "volume"
    assert table.title == "What an ohmmeter shows at the jack: plank"
    assert table.note == (
        "Cable plugged in, amp unplugged, tip to sleeve; coils at 20 °C; a perfect meter. Lowest "
        "and highest: all parts at their limits; 90 % of 100 guitars drawn at random are between "
        f"the other two. Between the ends of a knob, its taper and its setting are taken as exact, "
        f"so the true range is wider. {CAUTIONS}"
    )


def test_seeded():
    one, same, other = (expected_readings(ONE, seed=seed).data.sampled_low for seed in (1, 1, 2))
    np.testing.assert_array_equal(one, same)
    assert (one != other).all()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"marks": {"volum": 5}}, "marks: 'volum' is no knob; did you mean 'volume'?"),
        (
            {"marks": {"volume": 11}},
            "volume: 11 is too large; give a value from 0 to 10 (knob marks run from 0 to 10).",
        ),
        (
            {"count": 50},
            "count: 50 is too small; give a value from 100 to 1e+07 (95 % of a few draws "
            "means little).",
        ),
        ({"within": 1}, "within: 100 % is too large; give a value from 50 % to 98 %."),
    ],
)
def test_refused(options, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        expected_readings(ONE, **options)
    assert str(refusal.value) == message


def test_a_knob_between_its_ends_is_said_to_be_exact():
    """The range leaves out the taper and the hand, and says so where that counts."""
    guitar = layouts.one_pickup(MIDDLE)
    said = "its taper and its setting are taken as exact"
    assert said in expected_readings(guitar, marks={"volume": 5}).conditions
    assert said not in expected_readings(guitar, marks={"volume": 0}).conditions
    assert said not in expected_readings(guitar).conditions
