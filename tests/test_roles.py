"""Roles come from joints and contacts: no answer changes as parts are called otherwise."""

from __future__ import annotations

import inspect
import re
from dataclasses import replace

import matplotlib as mpl

mpl.use("Agg")

import numpy as np
import pytest

import guitarnet as gn
from guitarnet.circuit.edits import renamed, separated, swapped
from guitarnet.circuit.roles import pickups_in_order, roles, the_volume
from guitarnet.parts.blend import BlendPot
from guitarnet.show.card.content import content
from guitarnet.show.page.live_page import live_page
from guitarnet.show.schematic.draw import sheet_of
from guitarnet.show.schematic.sheet import drawn_groups, harness_groups
from guitarnet.study.choose.bleed import choose_treble_bleed
from guitarnet.study.choose.bleed_tables import compare_bleeds

layouts = gn.layouts
SINGLE = gn.Pickup("6.2k", "2.4 H", "120p")
OTHER = gn.Pickup("6.8k", "2.8 H", "130p", winding=-1, magnet=-1)
LEADS = gn.Humbucker(
    gn.Coil("4k", "2 H", "150p"), gn.Coil("4.2k", "2.1 H", "150p"), connection="leads"
)
BLEED = "150k || 1n"
LAYOUTS = {
    "alone": layouts.pickup_alone(SINGLE),
    "rotary tone": layouts.rotary_tone(SINGLE, capacitors=("22n", "47n"), treble_bleed=BLEED),
    "notch": layouts.rotary_notch(SINGLE, capacitors=("10n", "33n"), treble_bleed=BLEED),
    "bass cut": layouts.bass_cut(SINGLE, treble_bleed=BLEED),
    "bass cut, switch": layouts.bass_cut(SINGLE, control="switch"),
    "two": layouts.two_single_coils(SINGLE, OTHER, treble_bleed=BLEED),
    "four-way": layouts.two_single_coils_four_way(SINGLE, OTHER, treble_bleed=BLEED),
    "stacked": layouts.two_stacked_pairs(SINGLE, OTHER, treble_bleed=BLEED),
    "two volumes": layouts.bass_two_volumes(SINGLE, OTHER),
    "humbuckers": layouts.two_humbuckers(SINGLE, OTHER, treble_bleed=BLEED, wiring="50s"),
    "rotary": layouts.two_humbuckers_rotary(LEADS, LEADS, treble_bleed=BLEED),
    "push-pulls": layouts.two_humbuckers_push_pull(
        LEADS, LEADS, neck_volume_pull="phase", neck_tone_pull="split"
    ),
    "three": layouts.three_single_coils(SINGLE, OTHER, SINGLE, treble_bleed=BLEED),
    "blender": layouts.three_single_coils_blender(SINGLE, OTHER, SINGLE),
    "hss": layouts.hss(SINGLE, OTHER, LEADS, single_coil_resistor="470k"),
}
LAYOUTS |= {
    f"one, {wiring}": layouts.one_pickup(SINGLE, wiring=wiring, treble_bleed=BLEED)
    for wiring in layouts.WIRINGS
}
LAYOUTS |= {
    f"blend, {way}": layouts.bass_blend(SINGLE, OTHER, blending=way) for way in layouts.BLENDINGS
}
CARDS = (
    "one, 50s",
    *(pytest.param(name, marks=pytest.mark.long) for name in ("bass cut", "stacked")),
)
"""For what takes longer."""


def test_no_layout_is_left_out():
    """A layout that is added later is renamed here too."""
    made = {guitar.name for guitar in LAYOUTS.values()}
    makers = [getattr(layouts, name) for name in layouts.__all__ if name.islower()]
    assert {inspect.signature(maker).parameters["name"].default for maker in makers} == made


# -- names ----------------------------------------------------------------------------------------


def called_otherwise(guitar):
    """The guitar with names of letters drawn by lot, and what takes its own names back."""
    rng = np.random.default_rng(len(guitar.parts))
    words = ["x" + "".join(rng.choice(list("qxzjkvw"), 11)) for _ in guitar.parts]
    names = dict(zip(guitar.parts, words, strict=True))
    old = {new: name for name, new in names.items()}
    old |= {new.capitalize(): name.capitalize() for new, name in list(old.items())}

    def back(told):
        return as_words(re.sub("|".join(old), lambda found: old[found[0]], str(told)))

    return renamed(guitar, names), back


def as_words(told):
    """Text in which a name is written as its words are: new names have no space to keep."""
    return str(told).replace("_", " ").replace(r"\xa0", " ")


def drawn(guitar):
    """What the schematic says and joins, without where it stands: names differ in width."""
    sheet = sheet_of(guitar)
    assert sheet.form == "schematic"
    assert drawn_groups(sheet) == harness_groups(guitar)
    words = [text.words for text in sheet.texts]
    return words, list(sheet.lugs), len(sheet.wires), len(sheet.drawing.elements), sheet.notes


def card(guitar):
    """All that a job card says."""
    told = content(guitar)
    for pictured in ("schematic", "response"):
        del told[pictured]["picture"]
    del told["schematic"]["height"], told["bench"]
    return told


def choices(guitar):
    """What comparing and choosing a bleed say, where the guitar has one place for it."""
    found = choose_treble_bleed(guitar, series="E3", forms="capacitor")
    tables = compare_bleeds(guitar, ["1n"]).in_short(), found.table()
    return [(table.columns, list(table), table.note) for table in tables]


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=() if i % 2 else pytest.mark.long) for i, n in enumerate(LAYOUTS)],
)
def test_drawing_and_page_are_the_same_under_other_names(name):
    """Every layout with all its parts renamed at random."""
    guitar = LAYOUTS[name]
    other, back = called_otherwise(guitar)
    assert back(drawn(other)) == as_words(drawn(guitar))
    assert back(live_page(other).html()) == as_words(live_page(guitar).html())


@pytest.mark.parametrize("name", CARDS)
def test_cards_and_choices_are_the_same_under_other_names(name):
    """Readings, joints, parts and tests of the card; what a bleed does; which is best."""
    guitar = LAYOUTS[name]
    other, back = called_otherwise(guitar)
    assert back(card(other)) == as_words(card(guitar))
    if name != "stacked":
        assert back(choices(other)) == as_words(choices(guitar))


# -- what is what ---------------------------------------------------------------------------------


def told(guitar):
    """Roles in words, as "tone of neck"."""
    return {
        name: " of ".join(filter(None, [role.kind, " and ".join(role.of)]))
        for name, role in roles(guitar).items()
    }


def test_each_volume_and_tone_knows_its_pickups():
    """A five-way lever whose tones share a capacitor."""
    assert told(LAYOUTS["three"]) == {
        "neck": "pickup",
        "middle": "pickup",
        "bridge": "pickup",
        "switch": "selector of neck and middle and bridge",
        "volume": "volume of neck and middle and bridge",
        "tone_1": "tone of neck",
        "tone_2": "tone of middle",
        "tone_capacitor": "tone capacitor of tone_1 and tone_2",
        "treble_bleed": "treble bleed of volume",
    }


@pytest.mark.parametrize("wiring", layouts.WIRINGS)
def test_own_volumes_in_every_wiring(wiring):
    """Each pickup's own controls, wherever the tone is joined."""
    found = told(layouts.two_humbuckers(SINGLE, OTHER, wiring=wiring))
    for side in ("neck", "bridge"):
        assert found[f"{side}_volume"] == f"volume of {side}"
        assert found[f"{side}_tone"] == f"tone of {side}"
        assert found[f"{side}_bleed"] == f"treble bleed of {side}_volume"


def test_what_lies_in_the_signal():
    """Bass cut, blender, blend, isolating and loading resistors, switched capacitors."""
    found = {name: told(guitar) for name, guitar in LAYOUTS.items()}
    for control in ("bass cut", "bass cut, switch"):
        assert found[control]["bass"] == "bass cut of bass_capacitor"
        assert found[control]["bass_capacitor"] == "bass capacitor of bass"
    assert found["blender"]["blender"] == "blender of neck and bridge"
    assert found["blend, independent"]["blend"] == "blend of neck and bridge"
    assert found["stacked"]["neck_resistor"] == "series resistor of neck"
    assert found["hss"]["middle_resistor"] == "load resistor of middle"
    assert found["notch"]["capacitor_2"] == "switched capacitor of notch"
    assert found["push-pulls"]["neck_tone_pull"] == "selector of neck"


@pytest.mark.parametrize("name", ["three", "push-pulls", "rotary", "bass cut, switch"])
def test_where_a_switch_stands_does_not_matter(name):
    """Roles are those of all positions together."""
    guitar = LAYOUTS[name]
    for switch, part in guitar.parts.items():
        if isinstance(part, gn.Switch):
            assert roles(guitar.replace(switch, part.places[-1])) == roles(guitar)


def wired(joined, open_lugs=(), **parts):
    """One pickup with a volume, and parts of one's own."""
    own = {"coil": SINGLE, "v": gn.Pot("250k", "linear"), "jack": gn.Jack(), **parts}
    joints = [("coil.ground", "v.low", "jack.sleeve"), ("coil.hot", "v.high")]
    guitar = gn.Harness(own, (*joints, ("v.wiper", "jack.tip"), *joined), open_lugs)
    guitar.check()
    return told(guitar)


POT = gn.Pot("250k", "linear")


@pytest.mark.parametrize(
    ("joined", "opened"),
    [
        ([("coil.hot", "t.wiper"), ("t.low", "c.a"), ("c.b", "jack.sleeve")], ["t.high"]),
        ([("coil.hot", "t.high"), ("t.wiper", "c.a"), ("c.b", "jack.sleeve")], ["t.low"]),
        ([("coil.hot", "c.a"), ("c.b", "t.high"), ("t.wiper", "t.low", "jack.sleeve")], []),
        ([("jack.tip", "t.wiper", "t.high"), ("t.low", "c.b"), ("c.a", "jack.sleeve")], []),
    ],
)
@pytest.mark.parametrize("network", ["22n", "22n + 3.3k", "(22n + 1k) || 470k"])
def test_a_tone_control_in_any_order(joined, opened, network):
    """The pot or the capacitor first, either end of the pot, a resistor in the network."""
    found = wired(joined, opened, t=POT, c=gn.bleed(network))
    assert found == {
        "coil": "pickup",
        "v": "volume of coil",
        "t": "tone of coil",
        "c": "tone capacitor of t",
    }


def test_a_pot_that_only_loads_is_no_tone_and_no_volume():
    """Without a capacitor a rheostat to ground is a load."""
    found = wired([("coil.hot", "t.wiper"), ("t.low", "jack.sleeve")], ["t.high"], t=POT)
    assert found == {"coil": "pickup", "v": "volume of coil"}


def test_a_bleed_behind_a_switch_and_a_pot_wired_backwards():
    """A pull switch connects the bleed; the ends of a volume are exchanged."""
    pull = gn.switches.double_throw(["bleed", "no bleed"], poles=1)
    found = wired(
        [("v.high", "n.a"), ("n.b", "pull.a1"), ("pull.a", "v.wiper")],
        ["pull.a2"],
        n=gn.bleed("1n"),
        pull=pull,
    )
    assert found["n"] == "treble bleed of v"
    guitar = LAYOUTS["one, modern"]
    backwards = swapped(guitar, ["volume.high"], ["volume.low"])
    assert told(backwards)["volume"] == "volume of pickup"
    assert told(backwards)["treble_bleed"] == "treble bleed of volume"


def test_a_faulty_guitar_keeps_its_controls_beside_the_sound_one():
    """A volume whose ground has come off divides nothing, but it is still called volume."""
    sound = LAYOUTS["one, modern"]
    faulty = separated(sound, "volume.low")
    assert roles(faulty)["volume"].kind != "volume"
    page = live_page({"sound": sound, "faulty": faulty})
    assert page.opening()["marks"]["volume"] == 5
    assert list(page.opening()["bleeds"]) == ["treble_bleed"]


def test_any_harness_has_roles_or_none():
    """Parts joined at random, whole or not, with any number of jacks: never an error."""
    rng = np.random.default_rng(4)
    kinds = [
        *(SINGLE, LEADS, POT, BlendPot("250k"), gn.Capacitor("22n"), gn.Resistor("1k"), None),
        *(
            gn.switches.five_way_lever(),
            gn.switches.double_throw(["down", "up"]),
            gn.Jack(),
            gn.Cable("3 m"),
        ),
    ]
    kinds_found = set()
    for _ in range(60):
        drawn = rng.integers(len(kinds), size=rng.integers(1, 12))
        parts = {f"p{number}": kinds[kind] for number, kind in enumerate(drawn)}
        parts |= {"jack": gn.Jack()} if rng.random() < 0.9 else {}
        guitar = gn.Harness(parts)
        lugs = [f"{name}.{lug}" for name, part in guitar.parts.items() for lug in part.lugs]
        for _ in range(rng.integers(1, 2 + len(lugs))):
            pair = rng.choice(lugs, 2)
            guitar = guitar.join(*pair) if pair[0] != pair[1] else guitar
        kinds_found |= {role.kind for role in roles(guitar).values()}
        assert all(set(role.of) <= set(guitar.parts) for role in roles(guitar).values())
    assert {"pickup", "selector"} <= kinds_found


def test_many_switches_take_no_longer():
    """A combination of every position of 12 switches would be half a million."""
    guitar = LAYOUTS["one, modern"]
    for number in range(12):
        name = f"s{number}"
        guitar = guitar.add(name, gn.switches.double_throw(["off", "on"]))
        guitar = guitar.join("pickup.hot", f"{name}.a").leave_open(
            *(f"{name}.{lug}" for lug in ("a1", "a2", "b", "b1", "b2"))
        )
    assert told(guitar)["volume"] == "volume of pickup"


# -- where a pickup sits --------------------------------------------------------------------------


def test_layouts_say_where_pickups_sit_and_files_keep_it(tmp_path):
    """A file without it still loads, and its guitar is drawn by hand."""
    guitar = LAYOUTS["three"]
    assert [guitar.parts[name].position for name in ("neck", "middle", "bridge")] == [
        "neck",
        "middle",
        "bridge",
    ]
    path = gn.save_harness(guitar, tmp_path / "guitar.toml")
    assert gn.load_harness(path) == guitar
    text = re.sub("^position = .*\n", "", path.read_text(), flags=re.MULTILINE)
    path.write_text(text)
    loaded = gn.load_harness(path)
    assert loaded.parts["neck"].position == ""
    assert sheet_of(loaded).form == "schematic"


def test_the_pickups_may_be_held_in_any_order():
    """Positions say which is which; where none is said every order is tried."""
    guitar = LAYOUTS["four-way"]
    parts = dict(reversed(guitar.parts.items()))
    turned = gn.Harness(parts, guitar.joined, guitar.open_lugs)
    assert sheet_of(turned).form == "schematic"
    bare = {
        name: replace(part, position="") if hasattr(part, "position") else part
        for name, part in parts.items()
    }
    assert sheet_of(gn.Harness(bare, guitar.joined, guitar.open_lugs)).form == "schematic"


def test_a_position_that_does_not_exist_is_refused():
    with pytest.raises(gn.errors.BadValue) as error:
        gn.Pickup("6.2k", "2.4 H", "120p", position="front")
    assert str(error.value) == (
        "Pickup.position: 'front' is no position; use 'neck', 'middle', 'bridge', or '' where it "
        "is not known."
    )


@pytest.mark.parametrize(
    ("positions", "orders"),
    [
        ([], [""]),
        (["bridge", "neck"], ["ba"]),
        (["bridge", "middle", "neck"], ["cba"]),
        (["", ""], ["ab", "ba"]),
        (["bridge", "", ""], ["bca", "cba"]),
        (["", "middle", "neck"], ["cab", "cba"]),
        (["bridge", "", "", "neck"], ["dbca"]),
    ],
)
def test_positions_leave_some_orders_open(positions, orders):
    """Of more than three pickups only the first order is given."""
    parts = {
        name: SINGLE.replace("position", position)
        for name, position in zip("abcd", positions, strict=False)
    }
    guitar = gn.Harness({"v": POT, **parts, "jack": gn.Jack()})
    assert pickups_in_order(guitar) == [list(order) for order in orders]


def test_a_resistor_on_a_way_beside_the_volume():
    """Both its sides lead to the tip; the pickup is on one of them."""
    found = wired(
        [("coil.hot", "r.a"), ("r.b", "s.a"), ("s.b", "jack.tip")],
        r=gn.Resistor("100k"),
        s=gn.Resistor("220k"),
    )
    assert found["r"] == "series resistor of coil"


def test_the_one_volume():
    assert the_volume(LAYOUTS["three"]) == "volume"
    for name, sentence in (
        ("alone", "knob: pickup alone has no volume; name the knob that is turned."),
        (
            "two volumes",
            "knob: bass, two volumes has 2 volumes; name one: 'neck_volume' or 'bridge_volume'.",
        ),
    ):
        with pytest.raises(gn.errors.BadSetting) as error:
            the_volume(LAYOUTS[name])
        assert str(error.value) == sentence
