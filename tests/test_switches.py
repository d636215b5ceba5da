"""Switches and the layouts that use them: truth tables, hum, other solvers, files."""

from __future__ import annotations

import numpy as np
import pytest

import guitarnet as gn
from guitarnet import Pickup, Switch, layouts
from guitarnet.parts.switch import four_way_lever, on_on_on
from guitarnet.solve.spice import run_ngspice

F = [100.0]
NECK = Pickup("6.0k", "2.3 H", "110p")
MIDDLE = Pickup("6.2k", "2.4 H", "120p", winding=-1, magnet=-1)
BRIDGE = Pickup("6.8k", "2.8 H", "130p")
PAIR = Pickup("8.4k", "4.6 H", "110p"), Pickup("9k", "5 H", "110p")


def sounding(guitar, place):
    """Which pickups are heard at a place of the switch, with the sign in which they are."""
    h = gn.response(guitar, frequency=F, switch=place, pickups="each").isel(frequency=0)
    heard = abs(h) > 1e-3 * abs(h).max()
    return {
        str(name): int(np.sign(float(h.sel(pickup=name).real)))
        for name in h.pickup.values
        if bool(heard.sel(pickup=name))
    }


def working(guitar, place, knobs):
    """Which knobs change anything at a place of the switch, turned from 10 to 2."""
    f = [100.0, 1000.0, 4000.0]
    plain = gn.response(guitar, frequency=f, switch=place).values
    return {
        knob
        for knob in knobs
        if np.abs(
            gn.response(guitar, frequency=f, switch=place, **{knob: 2}).values / plain - 1
        ).max()
        > 1e-3
    }


@pytest.mark.parametrize(
    ("tones", "table"),
    [
        (
            "neck and middle",
            {
                "neck": {"tone_1"},
                "neck+middle": {"tone_1", "tone_2"},
                "middle": {"tone_2"},
                "middle+bridge": {"tone_2"},
                "bridge": set(),
            },
        ),
        (
            "neck and bridge",
            {
                "neck": {"tone_1"},
                "neck+middle": {"tone_1"},
                "middle": set(),
                "middle+bridge": {"tone_2"},
                "bridge": {"tone_2"},
            },
        ),
    ],
)
def test_three_single_coils_truth_table(tones, table):
    """What sounds is what the place says; which tones work: common practice, no source."""
    guitar = layouts.three_single_coils(NECK, MIDDLE, BRIDGE, tones=tones)
    assert guitar.parts["switch"].places == tuple(table)
    for place, knobs in table.items():
        assert sounding(guitar, place) == dict.fromkeys(place.split("+"), 1)
        assert working(guitar, place, ["tone_1", "tone_2"]) == knobs


def test_a_reversed_middle_cancels_hum_between():
    """The half-stops with a reverse-wound, reverse-polarity middle (common practice, no source)."""
    same = Pickup("6.2k", "2.4 H", "120p")
    guitar = layouts.three_single_coils(same, MIDDLE, same)
    cancels = {
        place: bool(gn.audio.hum(guitar, frequency=[50.0], switch=place).cancelling)
        for place in guitar.parts["switch"].places
    }
    assert cancels == {
        "neck": False,
        "neck+middle": True,
        "middle": False,
        "middle+bridge": True,
        "bridge": False,
    }


def test_two_single_coils_truth_table():
    """Three places, a master volume and tone that always work (common practice, no source)."""
    guitar = layouts.two_single_coils(NECK, BRIDGE)
    for place in ("neck", "neck+bridge", "bridge"):
        assert sounding(guitar, place) == dict.fromkeys(place.split("+"), 1)
        assert working(guitar, place, ["volume", "tone"]) == {"volume", "tone"}


@pytest.mark.parametrize("wiring", layouts.WIRINGS)
def test_two_humbuckers_truth_table(wiring):
    """Each place with its own controls; one volume at 0 silences both, but not when independent.

    Common practice, no source.
    """
    guitar = layouts.two_humbuckers(*PAIR, wiring=wiring)
    knobs = ["neck_volume", "neck_tone", "bridge_volume", "bridge_tone"]
    for place in ("neck", "neck+bridge", "bridge"):
        assert sounding(guitar, place) == dict.fromkeys(place.split("+"), 1)
        own = {knob for knob in knobs if knob.split("_")[0] in place.split("+")}
        assert working(guitar, place, knobs) == own
    both = gn.response(guitar, frequency=F, switch="neck+bridge", neck_volume=0, pickups="each")
    left = abs(both.sel(pickup="bridge").values[0])
    if wiring.startswith("independent"):
        assert left > 0.5
    else:
        assert left == 0


def test_independent_volumes_leave_the_other_pickup_alone():
    """With both on, the neck volume at 0 shorts the neck pickup and only loads the bridge."""
    guitar = layouts.two_humbuckers(*PAIR, wiring="independent")
    h = gn.response(guitar, frequency=F, switch="neck+bridge", neck_volume=0, pickups="each")
    assert h.sel(pickup="neck").values[0] == 0
    assert abs(h.sel(pickup="bridge").values[0]) > 0.9


@pytest.mark.parametrize(
    ("guitar", "settings"),
    [
        (
            layouts.three_single_coils(NECK, MIDDLE, BRIDGE, treble_bleed="150k || 1n"),
            {"volume": 7, "tone_1": 4, "tone_2": 6},
        ),
        (layouts.two_single_coils(NECK, BRIDGE, treble_bleed="1n"), {"volume": 6, "tone": 3}),
        (
            layouts.two_humbuckers(*PAIR, wiring="50s", treble_bleed="680p"),
            {"neck_volume": 6, "bridge_volume": 8, "neck_tone": 5},
        ),
        (
            layouts.two_humbuckers(*PAIR, wiring="independent"),
            {"neck_volume": 6, "bridge_volume": 8, "neck_tone": 5},
        ),
    ],
)
def test_layouts_against_ngspice(ngspice, guitar, settings):
    """Every place of the switch, by the text that to_spice writes, 1e-9 of the largest value."""
    for place in guitar.parts["switch"].places:
        text = gn.formulas.to_spice(
            guitar, frequency=(50, 15e3), per_decade=6, switch=place, **settings
        )
        f, volts = run_ngspice(text)
        h = gn.response(guitar, frequency=f, switch=place, **settings).values
        assert np.max(np.abs(volts - h)) < 1e-9 * np.max(np.abs(h))


def test_places_are_a_dimension_of_labels():
    """A list of places is swept; knobs multiply out beside it."""
    guitar = layouts.two_single_coils(NECK, BRIDGE)
    h = gn.response(guitar, volume=[10, 5], switch=["neck", "neck+bridge"])
    assert h.dims == ("volume", "switch", "frequency")
    assert h.switch.values.tolist() == ["neck", "neck+bridge"]
    np.testing.assert_array_equal(
        h.sel(switch="neck").values, gn.response(guitar, volume=[10, 5]).values
    )
    ohms = gn.jack_resistance(guitar, switch=["neck", "neck+bridge", "bridge"], volume=10)
    assert ohms.sel(switch="neck") == pytest.approx(1 / (1 / 6000 + 1 / 250e3))
    both = 1 / (1 / 6000 + 1 / 6800 + 1 / 250e3)
    assert ohms.sel(switch="neck+bridge") == pytest.approx(both)


@pytest.mark.parametrize(
    "guitar",
    [layouts.three_single_coils(NECK, MIDDLE, BRIDGE), layouts.two_humbuckers(*PAIR)],
)
def test_switched_guitars_save_and_load(tmp_path, guitar):
    """Contacts, places and the place where it stands come back exactly."""
    turned = guitar.replace("switch", "bridge")
    loaded = gn.load_harness(gn.save_harness(turned, tmp_path / "g.toml"))
    assert loaded == turned
    assert loaded.parts["switch"].place == "bridge"


def test_rotary_and_two_way_switches():
    """Each common touches one lug for each place."""
    tone = gn.switches.rotary(2, ["off", "10 nF", "22 nF"])
    assert dict(tone.contacts)["22 nF"] == (("a", "a3"), ("b", "b3"))
    phase = gn.switches.double_throw(["in phase", "out of phase"])
    # A pickup whose leads go through a two-pole two-way switch changes its sign, nothing else.
    guitar = gn.Harness(
        {"pickup": NECK, "phase": phase, "jack": gn.Jack()},
        [
            ("pickup.hot", "phase.a"),
            ("pickup.ground", "phase.b"),
            ("phase.a1", "phase.b2", "jack.tip"),
            ("phase.b1", "phase.a2", "jack.sleeve"),
        ],
    )
    h = gn.response(guitar, frequency=[100.0, 4000.0], phase=["in phase", "out of phase"])
    np.testing.assert_allclose(h.values[0], -h.values[1], rtol=1e-12)


def test_a_four_way_lever_touches_one_lug_of_each_bank():
    """Unlike the five-way it bridges no neighbours (common practice, no source)."""
    lever = four_way_lever(["one", "two", "three", "four"])
    assert dict(lever.contacts) == {
        "one": (("a", "a1"), ("b", "b1")),
        "two": (("a", "a2"), ("b", "b2")),
        "three": (("a", "a3"), ("b", "b3")),
        "four": (("a", "a4"), ("b", "b4")),
    }
    assert lever.label() == "four-way lever: one, two, three, four"


def test_the_middle_of_an_on_on_on_is_neither_end():
    """One pole has moved and the other has not: a table of its own (common practice, no source)."""
    toggle = on_on_on(["up", "middle", "down"])
    assert dict(toggle.contacts) == {
        "up": (("a", "a1"), ("b", "b1")),
        "middle": (("a", "a1"), ("b", "b2")),
        "down": (("a", "a2"), ("b", "b2")),
    }
    assert toggle.lugs == gn.switches.double_throw().lugs


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: four_way_lever(["neck", "bridge"]),
            "switch: 2 places were named, it has 4; name each place once.",
        ),
        (
            lambda: on_on_on(["in", "out"]),
            "switch: 2 places were named, it has 3; name each place once.",
        ),
        (
            lambda: gn.response(
                layouts.two_single_coils(NECK, BRIDGE), frequency=F, switch="middle"
            ),
            "switch: 'middle' is no place of this switch; use one of bridge, neck, neck+bridge.",
        ),
        (
            lambda: gn.response(layouts.two_single_coils(NECK, BRIDGE), frequency=F, switch=2),
            "switch: 2 is no place of this switch; use one of bridge, neck, neck+bridge.",
        ),
        (
            lambda: Switch({"on": [["a", "c"]]}, ["a", "b"]),
            "Switch.contacts, on: there is no lug 'c'; use one of a, b.",
        ),
        (
            lambda: Switch({"on": [["a", "b"], ["b", "c"]]}, ["a", "b", "c"]),
            "Switch.contacts, on: 'b' stands in two groups; join the groups, or name the lug once.",
        ),
        (
            lambda: Switch({"on": []}, 3),
            "Switch.all_lugs: an int is no list; name the lugs, as ['a', 'b'].",
        ),
        (
            lambda: Switch({"on": []}, "ab"),
            "Switch.all_lugs: a str is no list; name the lugs, as ['a', 'b'].",
        ),
        (
            lambda: Switch({"on": [], "off": []}, ["a"], place="of"),
            "Switch.place: 'of' is no place of this switch; did you mean 'off'?",
        ),
        (
            lambda: Switch([("on", []), ("on", [])], ["a"]),
            "Switch.contacts: a place stands twice; give each place once.",
        ),
        (
            lambda: Switch({}, ["a"]),
            "Switch.contacts: there is no place; give each place once.",
        ),
        (
            lambda: Switch({"on": []}, []),
            "Switch.all_lugs: a lug stands twice or none at all; name each once.",
        ),
        (
            lambda: Switch({"on": []}, ["a", "a"]),
            "Switch.all_lugs: a lug stands twice or none at all; name each once.",
        ),
        (
            lambda: Switch("on", ["a"]),
            "Switch.contacts: a str is no list; give {'on': [['a', 'b']], 'off': []}.",
        ),
        (
            lambda: Switch({"on": 3}, ["a"]),
            "Switch.contacts, on: an int is no list; give {'on': [['a', 'b']], 'off': []}.",
        ),
        (
            lambda: Switch({"on": [3]}, ["a"]),
            "Switch.contacts, on: an int is no list; give {'on': [['a', 'b']], 'off': []}.",
        ),
        (
            lambda: Switch([("on",)], ["a"]),
            "Switch.contacts: is a list of 1, not of two; give {'on': [['a', 'b']], 'off': []}.",
        ),
        (
            lambda: gn.switches.rotary(2, "ab"),
            "rotary: a str is no list; name its places in a list, as ['up', 'down'].",
        ),
        (
            lambda: gn.switches.double_throw("xy"),
            "switch: a str is no list; name its places in a list, as ['up', 'down'].",
        ),
        (
            lambda: gn.switches.five_way_lever(["neck", "bridge"]),
            "switch: 2 places were named, it has 5; name each place once.",
        ),
        (
            lambda: gn.switches.rotary(0, ["one", "two"]),
            "rotary: 0 poles and 2 places make no rotary switch; give 1 to 8 poles and 2 to 24 "
            "places.",
        ),
        (
            lambda: layouts.three_single_coils(NECK, MIDDLE, BRIDGE, tones="all"),
            "tones: 'all' is unknown; use 'neck and middle' or 'neck and bridge'.",
        ),
    ],
)
def test_refused(make, message):
    with pytest.raises(gn.GuitarnetError) as refusal:
        make()
    assert str(refusal.value) == message


@pytest.mark.parametrize(
    ("switch", "kind"),
    [
        (gn.switches.rotary(1, ["x", "y"]), "rotary"),
        (gn.switches.rotary(2, ["x", "y"]), "rotary, 2 poles"),
        (gn.switches.rotary(8, [str(n) for n in range(24)]), "rotary, 8 poles"),
        (gn.switches.double_throw(), "two-way, 2 poles"),
        (gn.switches.double_throw(poles=1), "two-way, 1 pole"),
        (gn.switches.on_on_on(), "on-on-on toggle, 2 poles"),
        (gn.switches.three_way_toggle(), "three-way toggle"),
        (gn.switches.four_way_lever(), "four-way lever"),
        (gn.switches.five_way_lever(), "five-way lever"),
    ],
)
def test_what_a_switch_is_called(switch, kind):
    assert switch.kind == kind
    assert switch.label() == f"{kind}: {', '.join(switch.places)}"
    assert switch.caption() == f"{kind} at {switch.places[0]}"


@pytest.mark.parametrize(
    ("poles", "count"), [(0, 2), (9, 2), (-1, 2), (1, 1), (1, 0), (1, 25), (2.0, 2), ("2", 2)]
)
def test_rotaries_that_are_not_made(poles, count):
    with pytest.raises(
        gn.errors.BadValue, match=rf"^rotary: {poles!r} poles and {count} places make no"
    ):
        gn.switches.rotary(poles, [str(n) for n in range(count)])


def test_what_a_switch_joins_as_a_table():
    switch = Switch({"on": [["a", "b"], ["c", "d"]], "off": []}, ["a", "b", "c", "d"])
    assert str(switch).splitlines() == [
        "switch  value",
        "on      a and b joined; c and d joined",
        "off     all open",
    ]


def test_lugs_of_eight_poles():
    lugs = gn.switches.rotary(8, ["in", "out"]).lugs
    assert lugs == tuple(bank + lug for bank in "abcdefgh" for lug in ("", "1", "2"))
