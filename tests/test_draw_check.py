"""The check behind a schematic: its lines are followed, and a drawing that lies is not used."""

from __future__ import annotations

import itertools

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import pytest

import guitarnet as gn
from guitarnet.show.draw import draw
from guitarnet.show.schematic import draw as schematic
from guitarnet.show.schematic.draw import sheet_of
from guitarnet.show.schematic.sheet import Sheet, drawn_groups, harness_groups

pytest.importorskip("schemdraw")

layouts = gn.layouts
SINGLE = gn.Pickup("6.2k", "2.4 H", "120p")
LEADS = gn.Humbucker(gn.Coil("4k", "2 H", "150p"), gn.Coil("4k", "2 H", "150p"), connection="leads")
GUITARS = {
    "one": layouts.one_pickup(SINGLE, treble_bleed="1n", wiring="independent 50s"),
    "three": layouts.three_single_coils(SINGLE, SINGLE, SINGLE, treble_bleed="150k || 1n"),
    "four-way": layouts.two_single_coils_four_way(SINGLE, SINGLE),
    "rotary": layouts.two_humbuckers_rotary(LEADS, LEADS),
    "push-pulls": layouts.two_humbuckers_push_pull(LEADS, LEADS, neck_tone_pull="phase"),
    "hss": layouts.hss(SINGLE, SINGLE, LEADS, tones="neck and bridge"),
}


@pytest.fixture(autouse=True)
def _closed():
    yield
    plt.close("all")


@pytest.fixture
def sheet():
    """A sheet with three lugs in a row, far apart."""
    guitar = gn.Harness({name: gn.Resistor("1k") for name in ("left", "right")})
    made = Sheet(guitar, "test")
    for name, x in (("left", 0.0), ("right", 10.0)):
        ends = made.shape([[(x, 0), (x, 0)]], anchors={"a": (x, 0), "b": (x, 5)})
        made.put(ends, a=f"{name}.a", b=f"{name}.b")
    return made


def groups(*joined):
    """Groups of the four lugs, where those named are joined and the others stand alone."""
    lugs = {"left.a", "left.b", "right.a", "right.b"} - {lug for group in joined for lug in group}
    return {frozenset(group) for group in joined} | {frozenset([lug]) for lug in lugs}


# -- how lines are read ---------------------------------------------------------------------------


def test_a_line_joins_what_it_reaches(sheet):
    assert drawn_groups(sheet) == groups()
    sheet.wire((0, 0), (4, 0))
    assert drawn_groups(sheet) == groups()
    sheet.wire((4, 0), (10, 0))
    assert drawn_groups(sheet) == groups(["left.a", "right.a"])


def test_lines_that_only_cross_are_not_joined(sheet):
    """From corner to corner, both ways; a dot on the crossing joins them."""
    sheet.wire("left.a", "right.b")
    sheet.wire("left.b", "right.a")
    assert drawn_groups(sheet) == groups(["left.a", "right.b"], ["left.b", "right.a"])
    sheet.dot((5, 2.5))
    assert drawn_groups(sheet) == groups(["left.a", "right.b", "left.b", "right.a"])


def test_a_line_that_ends_on_another_is_joined_to_it_and_gets_a_dot(sheet):
    sheet.wire("left.a", "right.a")
    sheet.wire((5, 0), (5, 5), "right.b")
    assert drawn_groups(sheet) == groups(["left.a", "right.a", "right.b"])
    sheet.dot_joints()
    assert [tuple(dot.absanchors["center"]) for dot in sheet.dots] == [(5, 0)]


def test_a_near_miss_joins_nothing(sheet):
    sheet.wire("left.a", (9.99, 0))
    sheet.wire("left.b", (5, 5))
    sheet.wire((5, 4.99), (5, 1), "right.b")
    assert drawn_groups(sheet) == groups()


def test_ground_symbols_are_one(sheet):
    sheet.ground("left.a")
    sheet.ground("right.b", 3.0)
    assert drawn_groups(sheet) == groups(["left.a", "right.b"])


def test_a_lug_stands_once(sheet):
    with pytest.raises(ValueError, match=r"left\.a is drawn twice"):
        sheet.put(sheet.shape(anchors={"a": (1, 1)}), a="left.a")


# -- every line of a schematic matters ------------------------------------------------------------


@pytest.mark.parametrize("name", GUITARS)
def test_no_line_can_be_left_out(name):
    """Without any one of its lines or ground symbols, a schematic joins something else."""
    sheet = sheet_of(GUITARS[name])
    expected = harness_groups(GUITARS[name])
    assert sheet.form == "schematic"
    for kept in (sheet.wires, sheet.grounds):
        for index in range(len(kept)):
            taken = kept.pop(index)
            assert drawn_groups(sheet) != expected, taken.absanchors
            kept.insert(index, taken)
    assert drawn_groups(sheet) == expected


@pytest.mark.parametrize("lie", ["shorter", "elsewhere", "more"])
def test_a_recipe_that_draws_another_circuit_is_not_used(monkeypatch, lie):
    """A line that stops short, ends at another lug, or is one too many."""
    wire = Sheet.wire

    def lying(self, *points):
        if points[-1] == "jack.tip":
            x, y = self.at("jack.tip")
            end = {"shorter": (x - 0.1, y), "elsewhere": (x, y - 2.0), "more": "jack.tip"}[lie]
            points = (*points[:-1], end)
            if lie == "more":
                wire(self, "jack.tip", "jack.sleeve")
        wire(self, *points)

    guitar = GUITARS["one"]
    assert sheet_of(guitar).form == "schematic"
    monkeypatch.setattr(Sheet, "wire", lying)
    assert sheet_of(guitar).form == "connections"


def test_a_connection_diagram_that_lies_is_not_drawn(monkeypatch):
    """The check holds for the other form too."""
    monkeypatch.setattr(Sheet, "dot", lambda self, point: None)
    monkeypatch.setattr(Sheet, "wire", lambda self, *points: None)
    with pytest.raises(AssertionError, match="joins what the harness does not"):
        sheet_of(GUITARS["one"], generic=True)


# -- edited and faulty harnesses ------------------------------------------------------------------


@pytest.mark.parametrize("name", GUITARS)
def test_any_joint_that_is_changed_leads_to_a_connection_diagram(name, draws):
    """Joined lugs lifted, one at a time, or one in so many; neighbouring joints made one."""
    guitar = GUITARS[name]
    present = {lug for group in harness_groups(guitar) if len(group) > 1 for lug in group}
    edited = [guitar.lift(lug) for lug in sorted(present)[:: draws(16, 1)]]
    firsts = [next(lug for lug in joint if lug in present) for joint in guitar.joined]
    edited += [
        guitar.join(one, other)
        for one, other in itertools.islice(itertools.pairwise(firsts), draws(1, 9))
    ]
    for other in edited:
        sheet = sheet_of(other)
        assert sheet.form == "connections"
        assert drawn_groups(sheet) == harness_groups(other)


def test_swapped_lugs_and_an_added_part_lead_to_a_connection_diagram():
    """Hot and sleeve swapped at the jack; a resistor across the volume."""
    guitar = GUITARS["one"]
    turned = {"jack.tip": "jack.sleeve", "jack.sleeve": "jack.tip"}
    joined = [[turned.get(lug, lug) for lug in joint] for joint in guitar.joined]
    assert sheet_of(gn.Harness(dict(guitar.parts), joined, guitar.open_lugs)).form == "connections"
    more = guitar.add("extra", gn.Resistor("1M")).join("extra.a", "volume.high")
    assert sheet_of(more.join("extra.b", "volume.low")).form == "connections"


def test_the_form_is_found_by_the_joints_alone():
    """Another name, the order of parts and of joints reversed, values changed: the same form."""
    guitar = GUITARS["three"]
    turned = gn.Harness(
        dict(reversed(guitar.parts.items())), guitar.joined[::-1], guitar.open_lugs, "anything"
    )
    assert sheet_of(turned).form == "schematic"
    assert sheet_of(guitar.replace("volume.resistance", "1M")).form == "schematic"
    assert sheet_of(guitar, generic=True).form == "connections"


def test_what_is_not_whole_is_drawn_too():
    """A hot lug on ground, which has no list of joints, and a heap of loose parts."""
    shorted = GUITARS["one"].join("jack.tip", "jack.sleeve")
    with pytest.raises(gn.errors.BadHarness):
        shorted.joints()
    assert "not whole, so not listed" in " ".join(t.get_text() for t in draw(shorted).texts)
    loose = gn.Harness({"pickup": SINGLE, "jack": gn.Jack()})
    assert drawn_groups(sheet_of(loose)) == harness_groups(loose)


# -- connection diagrams --------------------------------------------------------------------------


@pytest.mark.parametrize("name", GUITARS)
def test_numbers_are_those_of_the_list_of_joints(name):
    """The number above each upright line, and the lugs with a dot on it, against the list."""
    guitar = GUITARS[name]
    sheet = sheet_of(guitar, generic=True)
    columns = {text.x: text.words for text in sheet.texts if text.words.isdigit() and text.y > 0}
    at = {tuple(dot.absanchors["center"]) for dot in sheet.dots}
    drawn = {}
    for lug, (_, y) in ((lug, sheet.at(lug)) for lug in sheet.lugs):
        for x, number in columns.items():
            if any(abs(x - a) < 1e-6 and abs(y - b) < 1e-6 for a, b in at):
                drawn.setdefault(number, set()).add(lug.replace(".", " ").replace("_", " "))
    rows = [dict(zip(guitar.joints().columns, row, strict=True)) for row in guitar.joints()]
    listed = {
        row["joint"]: {
            word.partition(" (")[0].replace(" leg ", " ")
            for word in f"{row['lugs']}, {row['leads that come here']}".split(", ")
            if word
        }
        for row in rows
        if row["joint"]
    }
    assert drawn.keys() == listed.keys()
    for number, lugs in listed.items():
        plugged = {lug for lug in drawn[number] - lugs if lug.startswith(("cable", "amp"))}
        assert drawn[number] - plugged == lugs


def test_the_caption_says_which_form_it_is():
    guitar = GUITARS["one"]
    asked = " ".join(t.get_text() for t in draw(guitar, view="connections").texts)
    assert "Connection diagram: as asked." in asked
    faulty = " ".join(t.get_text() for t in draw(guitar.lift("volume.low")).texts)
    assert "no schematic placed by hand joins what this harness joins" in faulty
    assert "Unplug the guitar" in faulty
    by_hand = " ".join(t.get_text() for t in draw(guitar).texts)
    assert "onnection diagram" not in by_hand


def test_recipes_say_what_they_can_place():
    """Names that a recipe needs are among those it allows, and no recipe has an empty way."""
    for made in (*schematic.PLAIN, *schematic.SWITCHED):
        assert made.needed <= made.allowed
        assert made.ways
