"""Two and three single coils: truth tables, what the wiring promises, ngspice, wiring errors.

What each place selects is common practice, no source, unless a test says otherwise.
"""

from __future__ import annotations

import numpy as np
import pytest
from layout_checks import BRIDGE, MIDDLE, NECK, same_as_ngspice, swapped, truth

import guitarnet as gn
from guitarnet import layouts

F = np.geomspace(50, 15e3, 40)
MASTER = {"volume", "tone"}

FOUR_WAY = {
    "bridge": ("+bridge", "alone", MASTER),
    "neck+bridge": ("+neck +bridge", "in parallel", MASTER),
    "neck": ("+neck", "alone", MASTER),
    "neck+bridge in series": ("+neck +bridge", "in series", MASTER),
}
BLENDED = {"blender", "volume", "tone"}
BLENDER = {
    "neck": ("+neck", "alone", BLENDED),
    "neck+middle": ("+neck +middle", "in parallel", BLENDED),
    "middle": ("+middle", "alone", MASTER),
    "middle+bridge": ("+middle +bridge", "in parallel", BLENDED),
    "bridge": ("+bridge", "alone", BLENDED),
}
ALL_THREE = "+neck +middle +bridge", "in parallel", BLENDED
BOTH = "+neck +bridge", "in parallel", BLENDED
BLENDER_AT_0 = {
    "neck": BOTH,
    "neck+middle": ALL_THREE,
    "middle": ("+middle", "alone", MASTER),
    "middle+bridge": ALL_THREE,
    "bridge": BOTH,
}


def four_way(**given):
    return layouts.two_single_coils_four_way(NECK, BRIDGE, **given)


def stacked(**given):
    return layouts.two_stacked_pairs(NECK, BRIDGE, **given)


def blender(**given):
    return layouts.three_single_coils_blender(NECK, MIDDLE, BRIDGE, **given)


# -- four-way -------------------------------------------------------------------------------------


def test_four_way_truth_table():
    """Bridge, both, neck, both in series."""
    assert truth(four_way()) == FOUR_WAY


@pytest.mark.parametrize("place", ["neck", "neck+bridge", "bridge"])
def test_three_places_of_the_four_way_are_those_of_the_three_way(place):
    """The neck that hangs by one end changes nothing."""
    three = layouts.two_single_coils(NECK, BRIDGE)
    np.testing.assert_allclose(
        gn.response(four_way(), frequency=F, switch=place, tone=4).values,
        gn.response(three, frequency=F, switch=place, tone=4).values,
        rtol=1e-11,
    )


def test_in_series_the_meter_adds_both_coils():
    """Closed form: both coils in series, the volume pot across."""
    ohms = float(gn.jack_resistance(four_way(), switch="neck+bridge in series"))
    assert ohms == pytest.approx(1 / (1 / 12.8e3 + 1 / 250e3), rel=1e-12)


def test_reversed_bridge_cancels_hum_in_parallel_and_in_series():
    """A pair of which one is reverse wound over a reversed magnet."""
    reverse = gn.Pickup("6k", "2.3 H", "110p", winding=-1, magnet=-1)
    guitar = layouts.two_single_coils_four_way(NECK, reverse)
    cancels = {
        place: bool(gn.audio.hum(guitar, frequency=[50.0], switch=place).cancelling)
        for place in guitar.parts["switch"].places
    }
    assert cancels == {
        "bridge": False,
        "neck+bridge": True,
        "neck": False,
        "neck+bridge in series": True,
    }


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("neck.hot", "neck.ground"),
        ("bridge.hot", "neck.ground"),
        ("switch.a1", "switch.a3"),
        ("switch.a2", "switch.a4"),
        ("switch.b2", "switch.b1"),
        ("switch.b3", "switch.b4"),
        ("switch.b2", "switch.b4"),
        ("switch.a", "switch.b"),
    ],
)
def test_a_wrong_four_way_is_seen(one, other):
    """Two lugs swapped give another truth table, so the one above does test the wiring."""
    assert truth(swapped(four_way(), one, other)) != FOUR_WAY


# -- stacked pairs --------------------------------------------------------------------------------

OWN = {"neck_volume", "neck_tone", "bridge_volume", "bridge_tone"}


def test_stacked_pairs_truth_table():
    """No switch: both at once, each with its own controls; a volume at 0 leaves the other alone."""
    assert truth(stacked()) == {(): ("+neck +bridge", "in parallel", OWN)}
    silenced = truth(stacked(), neck_volume=0)[()]
    assert silenced == ("+bridge", "alone", OWN - {"neck_tone"})


def test_isolating_resistors_keep_one_volume_from_silencing_both():
    """With them the bridge keeps under half of its level; without them nothing is left."""
    for ohms, left in ((220e3, True), (0, False)):
        guitar = stacked(isolating_resistor=ohms)
        h = gn.response(guitar, frequency=[100.0], neck_volume=0)
        assert bool(abs(h).values[0] > 0.3) is left


def test_stacked_pairs_at_dc():
    """Closed form at 0 Hz: each coil over its pot, through 220 kΩ, both into 1 MΩ."""
    thevenin = [250 / (250 + r) for r in (6.0, 6.8)]
    ohms = [220 + 250 * r / (250 + r) for r in (6.0, 6.8)]
    current = sum(v / r for v, r in zip(thevenin, ohms, strict=True))
    expected = current / (sum(1 / r for r in ohms) + 1 / 1000)
    assert gn.response(stacked(), frequency=[0.0]).values[0] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("neck.hot", "neck.ground"),
        ("neck_volume.high", "neck_volume.low"),
        ("neck_resistor.a", "bridge_tone.wiper"),
        ("bridge_volume.wiper", "bridge_volume.low"),
    ],
)
def test_wrong_stacked_pairs_are_seen(one, other):
    guitar, wrong = stacked(), swapped(stacked(), one, other)
    both = [(truth(g), truth(g, neck_volume=0), truth(g, bridge_volume=0)) for g in (guitar, wrong)]
    assert both[0] != both[1]


# -- blender --------------------------------------------------------------------------------------


def test_blender_truth_table():
    """At 10 the guitar is as without a blender; at 0 neck and bridge are together."""
    assert truth(blender()) == BLENDER
    assert truth(blender(), blender=0) == BLENDER_AT_0


def test_at_10_the_blender_is_not_there():
    """The no-load pot opens: as a five-way guitar whose blender was left out."""
    with_it = blender()
    without = gn.Harness(
        {name: part for name, part in with_it.parts.items() if name != "blender"},
        [
            joint
            for joint in (
                [lug for lug in joint if not lug.startswith("blender.")] for joint in with_it.joined
            )
            if len(joint) > 1
        ],
        [lug for lug in with_it.open_lugs if not lug.startswith("blender.")],
    )
    for place in with_it.parts["switch"].places:
        np.testing.assert_array_equal(
            gn.response(with_it, frequency=F, switch=place, tone=3).values,
            gn.response(without, frequency=F, switch=place, tone=3).values,
        )


def test_at_0_the_blender_is_a_wire():
    """Neck and bridge as a two-pickup guitar has them with both on; a swapped lug is seen here."""
    both = layouts.two_single_coils(NECK, BRIDGE, tone_capacitor="22n")
    expected = gn.response(both, frequency=F, switch="neck+bridge", tone=6).values
    turned = {"switch": "neck", "tone": 6, "blender": 0}
    np.testing.assert_allclose(
        gn.response(blender(), frequency=F, **turned).values, expected, rtol=1e-11
    )
    wrong = swapped(blender(), "blender.wiper", "blender.high")
    assert np.abs(gn.response(wrong, frequency=F, **turned).values - expected).max() > 0.1


def test_an_ordinary_pot_as_blender_leaves_some_of_the_other_in():
    guitar = blender(blender=gn.Pot("250k", "linear"))
    assert truth(guitar)["neck"] == BOTH


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("neck.hot", "middle.hot"),
        ("middle.hot", "bridge.hot"),
        ("bridge.hot", "bridge.ground"),
        ("blender.low", "middle.hot"),
        ("switch.a1", "switch.a3"),
        ("switch.a", "switch.b"),
    ],
)
def test_a_wrong_blender_is_seen(one, other):
    wrong = swapped(blender(), one, other)
    assert (truth(wrong), truth(wrong, blender=0)) != (BLENDER, BLENDER_AT_0)


# -- ngspice --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("guitar", "settings"),
    [
        (four_way(treble_bleed="150k || 1n"), {"volume": 6, "tone": 3}),
        (
            stacked(treble_bleed="1n"),
            {"neck_volume": 7, "neck_tone": 4, "bridge_volume": 5, "bridge_tone": 9},
        ),
        (blender(treble_bleed="680p"), {"volume": 7, "tone": 5, "blender": 4}),
        (blender(), {}),
    ],
    ids=lambda given: getattr(given, "name", ""),
)
def test_against_ngspice(ngspice, guitar, settings):
    same_as_ngspice(guitar, **settings)
