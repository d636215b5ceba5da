"""Edits of a harness that no one would solder on purpose, by what they leave joined."""

from __future__ import annotations

import pytest

import guitarnet as gn
from guitarnet.circuit.edits import bridged, free_name, leads, renamed, separated, swapped, through

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")


@pytest.fixture
def guitar():
    return gn.layouts.one_pickup(PICKUP)


def joints(guitar):
    return {frozenset(joint) for joint in guitar.joined}


def of(guitar, lug):
    """The joint of a lug."""
    (found,) = (joint for joint in guitar.joined if lug in joint)
    return found


def test_leads_of_a_joint(guitar):
    """The plug stays in the jack; an empty place has no lead."""
    hot = of(guitar, "volume.wiper")
    assert set(hot) == {"volume.wiper", "jack.tip", "cable.guitar_tip", "treble_bleed.b"}
    assert leads(guitar, hot) == [("volume.wiper",), ("jack.tip", "cable.guitar_tip")]
    assert leads(guitar, ("volume.high", "pickup.hot")) == [("volume.high",), ("pickup.hot",)]
    filled = guitar.replace("treble_bleed", "1n")
    assert ("treble_bleed.b",) in leads(filled, hot)
    # Plugs in the air stand at no jack.
    assert leads(guitar, ("cable.amp_tip", "amp.tip")) == []


def test_separated_lugs_stay_joined_to_each_other(guitar):
    made = separated(guitar, "pickup.hot", "volume.high")
    was = of(guitar, "pickup.hot")
    rest = frozenset(was) - {"pickup.hot", "volume.high"}
    assert joints(made) == joints(guitar) - {frozenset(was)} | {
        frozenset({"pickup.hot", "volume.high"}),
        rest,
    }
    assert made.open_lugs == guitar.open_lugs
    assert set(guitar.joined) - {was} < set(made.joined)  # untouched joints stay as they were
    # The first lug of a joint names its node: the order is kept.
    turned = separated(guitar, "volume.high", "pickup.hot")
    assert ("volume.high", "pickup.hot") in turned.joined
    assert ("pickup.hot", "volume.high") in made.joined
    one = separated(guitar, "pickup.hot")
    assert one.open_lugs == (*guitar.open_lugs, "pickup.hot")
    assert frozenset(was) - {"pickup.hot"} in joints(one)
    one.check()


def test_of_a_joint_of_two_both_are_open(guitar):
    made = separated(guitar, "tone.low")
    assert set(made.open_lugs) == {*guitar.open_lugs, "tone.low", "tone_capacitor.a"}
    assert not any({"tone.low", "tone_capacitor.a"} & set(joint) for joint in made.joined)
    made.check()


def test_the_whole_joint_taken_off_is_the_joint(guitar):
    made = separated(guitar, "tone.low", "tone_capacitor.a")
    assert joints(made) == joints(guitar)
    assert made.open_lugs == guitar.open_lugs


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (
            lambda g: separated(g, "tone.low", "volume.wiper"),
            "volume.wiper: is not at the joint of tone.low; name lugs of one joint.",
        ),
        (
            lambda g: separated(g, "tone.high", "tone.low"),
            "tone.low: is not at the joint of tone.high; name lugs of one joint.",
        ),
        (
            lambda g: swapped(g, ["pickup.hot"], ["volume.high"]),
            "pickup.hot and volume.high: are at the same joint; swap lugs of two joints.",
        ),
        (
            lambda g: through(g, ["tone.low", "tone_capacitor.a"], 1e3),
            "tone.low: is joined to nothing else; name some lugs of a joint.",
        ),
        (
            lambda g: through(g, ["tone.high"], 1e3),
            "tone.high: is joined to nothing else; name some lugs of a joint.",
        ),
        (
            lambda g: renamed(g, {"tone": "volume"}),
            "one pickup: would have two parts of one name; give each its own.",
        ),
        (
            lambda g: bridged(g, "tone.low", "tone.hi"),
            "tone.hi: a Pot has no lug 'hi'; did you mean 'high'?",
        ),
    ],
)
def test_refused(guitar, edit, message):
    with pytest.raises(gn.errors.BadHarness) as refusal:
        edit(guitar)
    assert str(refusal.value) == message


def test_swapped_leads_change_places(guitar):
    made = swapped(guitar, ["pickup.hot"], ["pickup.ground"])
    hot, ground = of(guitar, "pickup.hot"), of(guitar, "pickup.ground")
    exchange = {"pickup.hot": "pickup.ground", "pickup.ground": "pickup.hot"}
    turned = {frozenset(exchange.get(lug, lug) for lug in joint) for joint in (hot, ground)}
    assert joints(made) == joints(guitar) - {frozenset(hot), frozenset(ground)} | turned
    assert joints(swapped(made, ["pickup.hot"], ["pickup.ground"])) == joints(guitar)


def test_a_lead_swapped_with_an_open_lug(guitar):
    """The tone pot wired by its other end: what was open is joined, what was joined is open."""
    made = swapped(guitar, ["tone.low"], ["tone.high"])
    assert frozenset({"tone.high", "tone_capacitor.a"}) in joints(made)
    assert made.open_lugs == ("tone.low",)
    made.check()
    turned = swapped(guitar, ["tone_capacitor.a", "tone.low"], ["tone.high"])
    assert joints(turned) == joints(guitar)
    assert ("tone_capacitor.a", "tone.low") in turned.joined
    turned = swapped(guitar, ["tone.high"], ["tone_capacitor.a", "tone.low"])
    assert ("tone_capacitor.a", "tone.low") in turned.joined


def test_a_bridge_is_a_resistor_that_touches_two_lugs(guitar):
    made = bridged(guitar, "volume.high", "volume.wiper", "10k")
    assert made.parts["fault"] == gn.Resistor("10k")
    assert "fault.a" in of(made, "volume.high")
    assert "fault.b" in of(made, "volume.wiper")
    assert set(of(made, "volume.high")) - {"fault.a"} == set(of(guitar, "volume.high"))
    assert bridged(guitar, "volume.high", "volume.wiper").parts["fault"].resistance == 0
    assert set(made.parts) == {*guitar.parts, "fault"}
    # An open lug that is touched is open no more.
    touched = bridged(guitar, "jack.tip", "tone.high")
    assert touched.open_lugs == ()
    touched.check()
    with pytest.raises(gn.errors.BadValue):
        bridged(guitar, "jack.tip", "tone.high", -1)


def test_a_name_that_is_free(guitar):
    assert free_name(guitar) == "fault"
    once = bridged(guitar, "volume.high", "volume.wiper", 1)
    assert free_name(once) == "fault_2"
    twice = bridged(once, "volume.high", "volume.low", 1)
    assert set(twice.parts) - set(guitar.parts) == {"fault", "fault_2"}
    assert free_name(twice) == "fault_3"


def test_a_bad_joint_stands_between_a_lead_and_the_rest(guitar):
    made = through(guitar, ["pickup.hot"], "47k")
    assert made.parts["fault"].resistance == 47e3
    assert frozenset({"pickup.hot", "fault.b"}) in joints(made)
    assert set(of(made, "fault.a")) == (set(of(guitar, "pickup.hot")) | {"fault.a"}) - {
        "pickup.hot"
    }
    made.check()
    # 47 kΩ more in the lead of a 6.2 kΩ pickup, as an ohmmeter at the jack sees it beside the pot.
    ohms = gn.impedance(made, frequency=0.0, at="jack", volume=10).item().real
    assert ohms == pytest.approx(1 / (1 / (6.2e3 + 47e3) + 1 / 250e3), rel=1e-12)
