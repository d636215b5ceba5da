"""The bench picture: its own lines are followed and give back the joints; nothing lies on text.

How parts look is common practice, no source.
"""

from functools import cache

import matplotlib as mpl
import pytest
from matplotlib import pyplot as plt

import guitarnet as gn
from bench_pictures import collisions, harnesses, unnoticed
from guitarnet.command.start import LAYOUTS, beginning
from guitarnet.show.bench import draw as bench_draw
from guitarnet.show.bench.follow import drawn_joints, listed_joints
from guitarnet.show.bench.wiring import wired

CROSSINGS = {
    "bass_blend": 2, "bass_cut": 0, "bass_two_volumes": 2, "hss": 4, "one_pickup": 0,
    "pickup_alone": 0, "rotary_notch": 3, "rotary_tone": 4, "three_single_coils": 1,
    "three_single_coils_blender": 1, "two_humbuckers": 4, "two_humbuckers_push_pull": 9,
    "two_humbuckers_rotary": 3, "two_single_coils": 0, "two_single_coils_four_way": 2,
    "two_stacked_pairs": 2,
}  # fmt: skip
"""Crossings of wires, as counted; a change that makes them fewer is welcome here."""
DEAR = ("rotary_notch", "rotary_tone", "two_humbuckers_push_pull", "two_humbuckers_rotary")
SOME = [pytest.param(n, marks=pytest.mark.long if n in DEAR else ()) for n in LAYOUTS]
SINGLE = gn.Pickup("6.2k", "2.4 H", "120p")
COIL = gn.Coil("4.2k", "2 H", "150p")


@cache
def picture(name):
    """Picture of a layout, made once."""
    return wired(beginning(name))


@pytest.fixture(autouse=True)
def _closed():
    """Leave no figure open, and no global setting changed."""
    before = dict(mpl.rcParams)
    yield
    plt.close("all")
    assert dict(mpl.rcParams) == before


def words(ax):
    return [text.get_text() for text in ax.texts]


@pytest.mark.parametrize("name", SOME)
def test_the_lines_give_back_the_joints(name):
    """Of every layout; each wire matters, and no text lies on a wire, a number or a text."""
    made = picture(name)
    assert drawn_joints(made) == listed_joints(made)
    assert unnoticed(made) == []
    assert collisions(made) == []
    assert len(made.crossings) == CROSSINGS[name]


def test_what_it_joins_is_what_the_list_of_joints_says():
    """Against the harness itself: ground among them, with each pot's can."""
    guitar = gn.layouts.one_pickup(SINGLE)
    made = wired(guitar)
    lugs = {frozenset(q for q in joint if not q.startswith(("cable", "amp", "treble_bleed")))
            for joint in guitar.joined}  # fmt: skip
    cans = {"volume.can", "tone.can"}
    assert {group - cans for group in drawn_joints(made)} == {q for q in lugs if len(q) > 1}
    assert cans <= next(group for group in drawn_joints(made) if "jack.sleeve" in group)


def test_random_harnesses():
    """Of each family one; 300 of them run in tools/bench_pictures.py."""
    for _, guitar in harnesses(4, 3):
        made = wired(guitar)
        assert drawn_joints(made) == listed_joints(made)
        assert unnoticed(made) == []
        assert collisions(made) == []


def test_the_checks_can_fail():
    """Two joints in one, a text moved onto a wire."""
    made = wired(gn.layouts.one_pickup(SINGLE))
    wire = next(w for w in made.wires if w.kind == "wire" and w.joint != made.bench.ground)
    assert drawn_joints(made, [w for w in made.wires if w is not wire]) != listed_joints(made)
    assert unnoticed(made, 1) == []
    made.wires.append(wire)
    assert len(unnoticed(made)) == 2
    cell, x, y = made.placed.cells["volume"]
    made.placed.cells["volume"] = (cell, x, y + 4)
    assert collisions(made) != []


def test_a_picture_that_lies_is_not_drawn(monkeypatch):
    """The check stands before the drawing."""
    monkeypatch.setattr(bench_draw, "drawn_joints", lambda made: set())
    with pytest.raises(AssertionError, match="joins what the harness does not"):
        bench_draw.picture_of(gn.layouts.one_pickup(SINGLE, name="drawn by nobody before"))


def test_it_says_how_it_is_seen_and_what_to_mind():
    """Both views, and the cautions, stand on the picture; the other view is its mirror image."""
    guitar = gn.layouts.one_pickup(SINGLE, treble_bleed="150k || 1n")
    behind = gn.draw(guitar, view="bench")
    front = gn.draw(guitar, view="bench from the front", title="Mirrored")
    assert "Seen from behind, the side you solder on" in words(behind)
    assert "Seen from the front, as if the plate were glass" in words(front)
    assert "Mirrored" in words(front)
    for ax in (behind, front):
        assert "Unplug the guitar" in " ".join(words(ax))
        assert {"150k", "1n", "volume", "tip", "sleeve"} <= set(words(ax))
    marks = [{t.get_text(): t.get_position()[0] for t in ax.texts} for ax in (behind, front)]
    assert (marks[0]["volume"] < marks[0]["jack"]) != (marks[1]["volume"] < marks[1]["jack"])


def test_numbers_are_those_of_the_list():
    """Each joint's number stands at each of its lugs, but where a part hangs on a lug."""
    guitar = gn.layouts.two_single_coils(SINGLE, SINGLE)
    shown = words(gn.draw(guitar, view="bench"))
    rows = {row[1]: row for row in guitar.joints().rows if row[1]}
    assert set(rows) <= set(shown)
    assert shown.count("4") >= 2
    assert "1" in shown


def test_lugs_are_numbered_if_wanted():
    """From the front 1 is the lug touched at 0: common practice, no source."""
    guitar = gn.layouts.one_pickup(SINGLE)
    plain, numbered = (gn.draw(guitar, view="bench", lug_numbers=q) for q in (False, True))
    more = [*words(numbered)]
    for word in words(plain):
        if word in more:
            more.remove(word)
    assert [q for q in more if q.isdigit()] == ["3", "2", "1", "3", "2", "1"]


def test_leads_bear_the_names_they_were_given():
    """Colours of a four-lead pickup stand under the leads."""
    names = {"coil_1_start": "black", "coil_1_finish": "red", "coil_2_start": "green"}
    pickup = gn.Humbucker(COIL, COIL, connection="leads", lead_names=names)
    guitar = gn.Harness(
        {"pickup": pickup, "jack": gn.Jack()},
        [
            ("pickup.coil_1_start", "jack.tip"),
            ("pickup.coil_1_finish", "pickup.coil_2_finish"),
            ("pickup.coil_2_start", "jack.sleeve"),
        ],
    )
    assert {"black", "red", "green"} <= set(words(gn.draw(guitar, view="bench")))


def test_colour_is_never_the_only_sign():
    """Joints of one colour differ in their stroke, up to twenty-four of them."""
    from guitarnet.show.bench.ink import stroke_of

    looks = [stroke_of(number, 1) for number in range(2, 26)]
    assert len(set(looks)) == len(looks) == 24


def test_it_is_the_same_whatever_the_order_of_joints():
    """No set decides the order: places are those of the parts."""
    guitar = beginning("two_single_coils")
    other = gn.Harness(guitar.parts, guitar.joined, guitar.open_lugs, guitar.name)
    one, two = wired(guitar), wired(other)
    assert one.wires == two.wires


def test_without_a_jack_one_sentence_says_so():
    with pytest.raises(gn.errors.BadHarness, match="has no Jack"):
        gn.draw(gn.Harness({"volume": gn.Pot("250k", "linear")}), view="bench")


@pytest.mark.parametrize("place", ["neck", "neck+middle", "bridge"])
def test_what_is_in_the_circuit_is_what_the_truth_table_says(place):
    """By continuity here, by the solver there; of pickups and tones."""
    from guitarnet.show.bench.live import live_at

    guitar = beginning("three_single_coils")
    live = live_at(guitar, {"switch": place})
    audible = set(place.split("+"))
    tones = {"neck": {"tone_1"}, "neck+middle": {"tone_1", "tone_2"}, "bridge": set()}[place]
    always = {"volume", "switch", "jack"} | ({"tone_capacitor"} if tones else set())
    assert live.parts == audible | tones | always
    row = next(row for row in gn.truth_table(guitar).rows if row[0] == place)
    assert all(name in " ".join(row) for name in audible)


def test_a_position_is_drawn_and_said():
    guitar = beginning("two_single_coils")
    ax = gn.draw(guitar, view="bench", places={"switch": "bridge"})
    assert "Switch at bridge: second and common touch." in " ".join(words(ax))
    grey = {t.get_text() for t in ax.texts if t.get_color() == "#9aa1a8"}
    assert "neck" in grey
    assert not {"bridge", "volume"} & grey
    with pytest.raises(gn.errors.BadSetting, match="'brigde' is no place of this switch"):
        gn.draw(guitar, view="bench", places={"switch": "brigde"})
