"""Schematics: every layout has one, its words do not collide, and nothing else is disturbed."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Collection

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import pytest
from matplotlib.axes import Axes
from matplotlib.transforms import Bbox

import guitarnet as gn
from guitarnet.circuit.harness import CAUTIONS
from guitarnet.show.draw import draw
from guitarnet.show.schematic.draw import sheet_of
from guitarnet.show.schematic.sheet import drawn_groups, harness_groups

pytest.importorskip("schemdraw")

layouts = gn.layouts
SINGLE = gn.Pickup("6.2k", "2.4 H", "120p")
REVERSED = gn.Pickup("6.2k", "2.4 H", "120p", winding=-1, magnet=-1)
BLEEDS = (None, "1n", "150k || 1n", "100k + 1n", "20k + (150k || 1n)")
MANY = [f"{n}n" for n in range(1, 12)]


def humbucker(connection="series"):
    coils = gn.Coil("4k", "2 H", "150p"), gn.Coil("4.2k", "2.1 H", "150p")
    return gn.Humbucker(*coils, connection=connection)


LEADS = humbucker("leads")


def one_pickups():
    for way in ("series", "parallel", "coil 1", "coil 2, other shunted"):
        yield f"one {way}", layouts.one_pickup(humbucker(way))
        yield f"alone {way}", layouts.pickup_alone(humbucker(way))
    for bleed, wiring, tone in itertools.product(BLEEDS, layouts.WIRINGS, ("250k", None)):
        guitar = layouts.one_pickup(SINGLE, treble_bleed=bleed, wiring=wiring, tone=tone)
        yield f"one, {bleed}, {wiring}, tone {tone}", guitar
    for control, tone in itertools.product(layouts.BASS_CUTS, ("500k", None)):
        cut = layouts.bass_cut(SINGLE, control=control, tone=tone, treble_bleed="1n")
        yield f"cut, {control}, tone {tone}", cut
    for values, tone in itertools.product((("22n",), MANY), ("500k", None)):
        name = f"{len(values)}, tone {tone}"
        yield f"notch, {name}", layouts.rotary_notch(SINGLE, capacitors=values, tone=tone)
    for values in (("22n",), ("2.2n", "10n", "39n"), MANY):
        yield f"rotary tone, {len(values)}", layouts.rotary_tone(SINGLE, capacitors=values)


def pairs():
    for bleed, wiring in itertools.product((None, BLEEDS[2], BLEEDS[4]), layouts.WIRINGS):
        guitar = layouts.two_humbuckers(humbucker(), SINGLE, treble_bleed=bleed, wiring=wiring)
        yield f"humbuckers, {bleed}, {wiring}", guitar
    for bleed in (None, BLEEDS[2]):
        both = (SINGLE, REVERSED)
        yield f"two, {bleed}", layouts.two_single_coils(*both, treble_bleed=bleed)
        yield f"four-way, {bleed}", layouts.two_single_coils_four_way(*both, treble_bleed=bleed)
        yield f"stacked, {bleed}", layouts.two_stacked_pairs(*both, treble_bleed=bleed)
        yield f"rotary, {bleed}", layouts.two_humbuckers_rotary(LEADS, LEADS, treble_bleed=bleed)
        yield f"two volumes, {bleed}", layouts.bass_two_volumes(*both, treble_bleed=bleed)
        for way in layouts.BLENDINGS:
            yield f"blend, {bleed}, {way}", layouts.bass_blend(*both, blending=way)
    pulls = [(None, None), ("split", None), (None, "parallel"), ("phase", None)]
    pulls += [("split", "phase"), ("phase", "parallel")]
    for (volume, tone), wiring in itertools.product(pulls, layouts.WIRINGS):
        guitar = layouts.two_humbuckers_push_pull(
            LEADS, LEADS, wiring=wiring, neck_volume_pull=volume, neck_tone_pull=tone,
            bridge_volume_pull=tone, bridge_tone_pull=volume, treble_bleed="150k || 1n",
        )  # fmt: skip
        yield f"push-pulls, {volume}, {tone}, {wiring}", guitar


def triples():
    three = (SINGLE, REVERSED, SINGLE)
    for bleed, tones in itertools.product(
        (None, BLEEDS[2]), ("neck and middle", "neck and bridge")
    ):
        guitar = layouts.three_single_coils(*three, tones=tones, treble_bleed=bleed)
        yield f"three, {bleed}, {tones}", guitar
        for resistor in (None, "470k"):
            guitar = layouts.hss(
                *three[:2], LEADS, tones=tones, single_coil_resistor=resistor, treble_bleed=bleed
            )
            yield f"hss, {bleed}, {tones}, {resistor}", guitar
        yield f"blender, {bleed}, {tones}", layouts.three_single_coils_blender(*three)


GUITARS = dict(itertools.chain(one_pickups(), pairs(), triples()))


def some(every: int, always: Collection[str] = ()) -> list:
    """One guitar in so many, and what is named; all in the long campaign."""
    few = {*list(GUITARS)[::every], *always}
    return [pytest.param(name, marks=() if name in few else pytest.mark.long) for name in GUITARS]


FIRSTS = {name.split(" ")[0].strip(","): name for name in reversed(GUITARS)}.values()
"""One of each kind."""


@pytest.fixture(autouse=True)
def _closed():
    """Leave no figure open, and no global setting changed."""
    before = dict(mpl.rcParams)
    yield
    plt.close("all")
    assert dict(mpl.rcParams) == before


def words(ax):
    return [text.get_text() for text in ax.texts]


# -- a schematic for every layout -----------------------------------------------------------------


@pytest.mark.parametrize("name", some(8, FIRSTS))
def test_every_layout_is_drawn_by_hand(name):
    """With all its options; the lines join what the harness joins."""
    guitar = GUITARS[name]
    sheet = sheet_of(guitar)
    assert sheet.form == "schematic"
    assert drawn_groups(sheet) == harness_groups(guitar)


def test_no_layout_is_left_out(monkeypatch):
    """A layout that is added later needs a schematic and a case here."""
    made = {getattr(layouts, name) for name in layouts.__all__ if name.islower()}
    called = set()
    for function in made:
        monkeypatch.setattr(
            layouts, function.__name__,
            lambda *given, function=function, **kw: called.add(function) or function(*given, **kw),
        )  # fmt: skip
    assert len(dict(itertools.chain(one_pickups(), pairs(), triples()))) == len(GUITARS)
    assert called == made


def test_without_cable_or_amp():
    """What is not in the harness is not drawn."""
    whole = layouts.one_pickup(SINGLE)
    parts = {name: part for name, part in whole.parts.items() if name not in ("cable", "amp")}
    joined = [[lug for lug in joint if lug.split(".")[0] in parts] for joint in whole.joined]
    bare = gn.Harness(parts, [joint for joint in joined if len(joint) > 1], whole.open_lugs)
    assert sheet_of(bare).form == "schematic"
    assert not {"cable", "amp"} & set(words(draw(bare)))


def test_a_part_of_another_kind_or_a_large_network_is_drawn():
    """A network as tone capacitor, and a bleed too large for its place, become boxes."""
    large = gn.in_series(*[gn.parallel_bleed("1n", "150k")] * 4)
    guitar = layouts.one_pickup(SINGLE, treble_bleed=large)
    assert sheet_of(guitar).form == "schematic"
    guitar = guitar.replace("tone_capacitor", gn.in_series(gn.Capacitor("22n"), gn.Resistor("10k")))
    assert sheet_of(guitar).form == "schematic"
    assert "22 nF + 10 kΩ" in words(draw(guitar))


# -- what is written ------------------------------------------------------------------------------


def test_names_values_and_cautions_are_written():
    """A pot with its taper, a capacitor, the network's parts, the marks of the lugs, the place."""
    said = words(draw(layouts.three_single_coils(SINGLE, REVERSED, SINGLE, treble_bleed=BLEEDS[2])))
    for expected in ("volume", "250 kΩ", "audio 15 %", "tone capacitor", "22 nF", "1 nF"):
        assert expected in said
    assert {"150 kΩ", "6.2 kΩ, 2.4 H", "at “neck”", "10", "0", "tip", "sleeve"} <= set(said)
    assert {"100 pF/m", "1 MΩ", "a1", "a", "b3", "three single coils"} <= set(said)
    assert "magnet reversed" in said
    text = " ".join(said)
    assert CAUTIONS in text
    assert "solder by that" in text


@pytest.mark.parametrize(("place", "touched"), [("neck", {"a1"}), ("middle+bridge", {"a2", "a3"})])
def test_a_switch_is_drawn_where_it_stands(place, touched):
    """Blades, the thickest lines, run from the common to the lugs that touch."""
    guitar = layouts.three_single_coils(SINGLE, SINGLE, SINGLE).replace("switch.place", place)
    sheet = sheet_of(guitar)
    ax = draw(guitar)
    assert f"at “{place}”" in words(ax)
    widest = max(line.get_linewidth() for line in ax.lines)
    ends = [
        tuple(tuple(map(float, xy)) for xy in line.get_xydata())
        for line in ax.lines
        if line.get_linewidth() == widest
    ]
    common = sheet.at("switch.a")
    found = {
        lug for lug in ("a1", "a2", "a3") if (common, sheet.at(f"switch.{lug}")) in ends
    }  # fmt: skip
    assert found == touched


def problems(ax):
    """Texts that leave the figure, lie on each other, or are crossed by a line."""
    figure = ax.figure
    figure.canvas.draw()
    dot = figure.dpi / 72
    boxes = []
    for text in ax.texts:
        box = text.get_window_extent()
        # What the renderer adds round the letters: up to 1.2 points above and below.
        tight = (box.x0 + 0.6 * dot, box.y0 + 1.2 * dot, box.x1 - 0.6 * dot, box.y1 - 1.2 * dot)
        boxes.append((text.get_text(), Bbox.from_extents(*tight)))
    found = []
    for words, box in boxes:
        if box.x0 < 0 or box.y0 < 0 or box.x1 > figure.bbox.x1 or box.y1 > figure.bbox.y1:
            found.append(f"{words!r} leaves the figure")
        for line in ax.lines:
            path = line.get_path().transformed(line.get_transform())
            if line.get_linestyle() == "-" and path.intersects_bbox(box, filled=False):
                found.append(f"a line crosses {words!r}")
    for (one, here), (other, there) in itertools.combinations(boxes, 2):
        if here.overlaps(there):
            found.append(f"{one!r} lies on {other!r}")
    return found


@pytest.mark.parametrize("name", some(50))
def test_words_do_not_collide(name):
    """In a figure of its own: all words inside, clear of each other and of every line."""
    assert problems(draw(GUITARS[name])) == []


@pytest.mark.parametrize(
    "name",
    [
        "three, None, neck and middle",
        pytest.param("push-pulls, split, phase, modern", marks=pytest.mark.long),
    ],
)
def test_words_of_a_connection_diagram_do_not_collide(name):
    """With twenty parts too, in the long campaign."""
    assert problems(draw(GUITARS[name], view="connections")) == []


def test_the_check_of_words_can_fail():
    """Two texts on each other, one on a line, one outside."""
    ax = draw(layouts.pickup_alone(SINGLE))
    ax.text(*ax.texts[0].get_position(), "above", va="center_baseline", ha="right", fontsize=8)
    ax.text(ax.get_xlim()[1], 0, "outside")
    x, y = ax.lines[0].get_xydata()[0]
    ax.text(x, y, "line", va="center", ha="center")
    found = " ".join(problems(ax))
    assert "lies on" in found
    assert "'outside' leaves the figure" in found
    assert "a line crosses 'line'" in found


# -- where it is drawn ----------------------------------------------------------------------------


def test_axes_given_are_used_and_words_shrink_with_them():
    """No figure is made, what was drawn before stays as it was."""
    guitar = layouts.one_pickup(SINGLE)
    own = draw(guitar)
    assert isinstance(own, Axes)
    _, ax = plt.subplots(figsize=(3, 2))
    line = ax.plot([0, 1], [0, 1], linewidth=3)[0]
    before = plt.get_fignums()
    assert draw(guitar, ax) is ax
    assert plt.get_fignums() == before
    assert line.get_linewidth() == 3
    ratio = ax.texts[0].get_fontsize() / own.texts[0].get_fontsize()
    assert 0.2 < ratio < 0.6
    assert problems(ax) == []


@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_it_is_saved(tmp_path, kind):
    file = tmp_path / f"guitar.{kind}"
    draw(layouts.one_pickup(SINGLE)).figure.savefig(file)
    start = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}[kind]
    assert file.read_bytes().startswith(start)


@pytest.mark.parametrize("name", ["$\\frac{ $x^2$ <script>alert(1)</script>", "a\nb" * 9000, ""])
def test_free_text_is_text(tmp_path, name):
    """No formula, no LaTeX, no markup; too long a name is cut."""
    guitar = layouts.pickup_alone(SINGLE, name=name)
    for view in ("schematic", "connections"):
        ax = draw(guitar, view=view)
        assert problems(ax) == []
        if len(name) < 50 and name:
            assert name in words(ax)
        if "<" in name:
            ax.figure.savefig(tmp_path / "guitar.svg")
            assert "<script" not in (tmp_path / "guitar.svg").read_text()


def test_long_names_of_parts_and_places(tmp_path):
    """Forty letters, and a switch with lugs and places of any text."""
    long = "W" * 40
    guitar = gn.Harness(
        {
            long: SINGLE,
            "choice": gn.Switch({"$\\x{" * 30: [["in", "out " * 30]]}, ["in", "out " * 30]),
            "jack": gn.Jack(),
        },
        [(f"{long}.hot", "choice.in"), ("choice." + "out " * 30, "jack.tip"),
         (f"{long}.ground", "jack.sleeve")],
    )  # fmt: skip
    assert problems(draw(guitar)) == []


def test_nobody_elses_drawing_is_touched():
    """Elements stay out of an open drawing, and its settings stay out of ours."""
    import schemdraw
    from schemdraw import drawing_stack

    settings = dict(schemdraw.schemdraw.schemdrawstyle)
    with schemdraw.Drawing(show=False) as theirs:
        schemdraw.elements.Resistor()
        draw(layouts.one_pickup(SINGLE))
        schemdraw.elements.Resistor()
    assert len(theirs.elements) == 2
    assert drawing_stack.drawing_stack == {}
    assert drawing_stack.pause is False
    assert dict(schemdraw.schemdraw.schemdrawstyle) == settings


def test_their_background_and_latex_stay_out(monkeypatch):
    """A theme, or LaTeX for all texts, chosen by someone for other drawings."""
    import schemdraw

    monkeypatch.setitem(schemdraw.schemdraw.schemdrawstyle, "bgcolor", "black")
    monkeypatch.setitem(schemdraw.schemdraw.schemdrawstyle, "color", "white")
    with mpl.rc_context({"text.usetex": True}):
        ax = draw(layouts.one_pickup(SINGLE))
    assert mpl.colors.to_hex(ax.figure.get_facecolor()) == "#ffffff"
    assert not any(text.get_usetex() or text.get_parse_math() for text in ax.texts)
    assert "#ffffff" not in {mpl.colors.to_hex(line.get_color()) for line in ax.lines}


# -- refusals -------------------------------------------------------------------------------------


def test_without_schemdraw_one_sentence_says_how_to_get_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "schemdraw", None)
    with pytest.raises(gn.errors.NotInstalled) as refusal:
        draw(layouts.one_pickup(SINGLE))
    expected = "schemdraw: is not installed; install it with: pip install 'guitarnet[drawing]'."
    assert str(refusal.value) == expected
    assert not plt.get_fignums()


def test_nothing_to_draw_is_refused():
    with pytest.raises(gn.errors.BadHarness) as refusal:
        draw(gn.Harness({"bleed": None}))
    expected = "guitar: has no part to draw; add one, as add('jack', gn.Jack())."
    assert str(refusal.value) == expected
