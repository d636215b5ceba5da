"""The solder-joint list: order of work, lugs in words, wire to cut."""

from __future__ import annotations

import inspect
import re

import pytest

from guitarnet import (
    AmpInput,
    Capacitor,
    Coil,
    GuitarnetError,
    Harness,
    Humbucker,
    Jack,
    Pickup,
    layouts,
)
from guitarnet.parts.output import Cable
from guitarnet.parts.two_lug import Empty
from guitarnet.switches import three_way_toggle

PICKUP = Pickup("6.2k", "2.4 H", "120p")
COIL = Coil("4k", "2 H", "150p")
LEADS = Humbucker(COIL, COIL, connection="leads")


def ready():
    """Every ready layout, with whatever kind of pickups it takes."""
    for name in layouts.__all__:
        make = getattr(layouts, name)
        if not inspect.isfunction(make):
            continue
        wanted = [
            parameter
            for parameter in inspect.signature(make).parameters.values()
            if parameter.default is parameter.empty and parameter.kind is not parameter.VAR_KEYWORD
        ]
        yield pytest.param(made(make, wanted), id=name)


def made(make, wanted):
    for kinds in ([PICKUP] * len(wanted), [LEADS] * len(wanted), [PICKUP, PICKUP, LEADS]):
        try:
            return make(*kinds)
        except (GuitarnetError, TypeError):
            continue
    raise AssertionError(f"{make.__name__} takes none of the pickups tried")


READY = list(ready())


# -- three lists written out by hand --------------------------------------------------------------


def test_one_pickup():
    """Ground first; then each joint with the last of its parts. Common practice, no source."""
    table = layouts.one_pickup(PICKUP, treble_bleed="150k || 1n").joints()
    high, low = "(touched at 10)", "(touched at 0)"
    assert table.columns == ("done", "joint", "step", "lugs", "leads that come here", "wire")
    assert [row[1:] for row in table] == [
        ("1", "ground", f"volume low {low}, jack sleeve",
         "tone capacitor leg b, pickup ground", "1 ground wire"),
        ("", "make up", "treble bleed: 150 k\u03a9 \u2225 1 nF", "", "none: its own legs"),
        ("2", "small parts", f"tone low {low}", "tone capacitor leg a", "none"),
        ("3", "pickups", f"volume high {high}, tone wiper", "treble bleed leg a, pickup hot",
         "1 hook-up wire"),
        ("4", "jack", "volume wiper, jack tip", "treble bleed leg b", "1 hook-up wire"),
        ("", "plug", "cable into jack", "", ""),
        ("", "plug", "cable into amp", "", ""),
        ("", "leave open", f"tone high {high}", "", ""),
    ]  # fmt: skip
    assert {row[0] for row in table} == {"[ ]"}  # a box to tick
    assert table.title == "Joints of one pickup"


def test_three_single_coils():
    """The lever's two commons are bridged; each pickup's own lead reaches its lug."""
    table = layouts.three_single_coils(PICKUP, PICKUP, PICKUP).joints()
    rows = [row[1:] for row in table if row[1]]
    low = "(touched at 0)"
    assert rows == [
        ("1", "ground", f"volume low {low}, jack sleeve",
         "tone capacitor leg b, neck ground, middle ground, bridge ground", "1 ground wire"),
        ("2", "small parts", f"tone 1 low {low}, tone 2 low {low}", "tone capacitor leg a",
         "1 hook-up wire"),
        ("3", "switch", "volume high (touched at 10), switch a, switch b", "",
         "1 hook-up wire, 1 jumper"),
        ("4", "switch", "tone 1 wiper, switch b1", "", "1 hook-up wire"),
        ("5", "switch", "tone 2 wiper, switch b2", "", "1 hook-up wire"),
        ("6", "pickups", "switch a1", "neck hot", "none"),
        ("7", "pickups", "switch a2", "middle hot", "none"),
        ("8", "pickups", "switch a3", "bridge hot", "none"),
        ("9", "jack", "volume wiper, jack tip", "", "1 hook-up wire"),
    ]  # fmt: skip
    assert table.note.startswith(
        "Wire to cut: 1 ground wire, 5 hook-up wires, 1 jumper; and, as is common practice, a "
        "ground wire each from the ground bus to what is no lug of the model: each of 3 pot cans, "
        "the switch frame, the bridge or tailpiece (string ground)."
    )


def test_two_humbuckers():
    table = layouts.two_humbuckers(PICKUP, PICKUP, wiring="50s", treble_bleed="1n").joints()
    rows = [row[1:] for row in table if row[1]]
    high, low = "(touched at 10)", "(touched at 0)"
    assert rows == [
        ("1", "ground", f"neck volume low {low}, bridge volume low {low}, jack sleeve",
         "neck capacitor leg b, bridge capacitor leg b, neck ground, bridge ground",
         "2 ground wires"),
        ("2", "small parts", f"neck tone low {low}", "neck capacitor leg a", "none"),
        ("3", "small parts", f"bridge tone low {low}", "bridge capacitor leg a", "none"),
        ("4", "switch", "neck volume wiper, neck tone wiper, switch first", "neck bleed leg b",
         "2 hook-up wires"),
        ("5", "switch", "bridge volume wiper, bridge tone wiper, switch second",
         "bridge bleed leg b", "2 hook-up wires"),
        ("6", "pickups", f"neck volume high {high}", "neck bleed leg a, neck hot", "none"),
        ("7", "pickups", f"bridge volume high {high}", "bridge bleed leg a, bridge hot", "none"),
        ("8", "jack", "switch common, jack tip", "", "1 hook-up wire"),
    ]  # fmt: skip


# -- what holds for every guitar ------------------------------------------------------------------


def lugs_of(cell):
    """Lugs named in a cell, as the harness writes them but with spaces."""
    plain = re.sub(r" \(touched [^)]*\)", "", cell).replace(" leg ", " ")
    return {lug for lug in plain.split(", ") if lug}


def on_the_bench(guitar, joint):
    away = (Cable, AmpInput, Empty)
    lugs = [lug for lug in joint if not isinstance(guitar.parts[lug.split(".")[0]], away)]
    return {re.sub("[._]", " ", lug) for lug in lugs}


@pytest.mark.parametrize("guitar", READY)
def test_every_joint_stands_there_once(guitar):
    """Numbered from 1, each joint of the harness in one row and nothing else."""
    rows = [row for row in guitar.joints() if row[1]]
    assert [row[1] for row in rows] == [str(n) for n in range(1, len(rows) + 1)]
    listed = [lugs_of(row[3]) | lugs_of(row[4]) for row in rows]
    joints = [on_the_bench(guitar, joint) for joint in guitar.joined]
    assert sorted(map(sorted, listed)) == sorted(sorted(j) for j in joints if len(j) > 1)


@pytest.mark.parametrize("guitar", READY)
def test_wire_is_counted(guitar):
    """N lugs that bring no wire need n - 1 pieces, and the note adds them up."""
    table = guitar.joints()
    total = 0
    for row in table:
        if row[1]:
            pieces = sum(int(n) for n in re.findall(r"\d+", row[5]))
            assert pieces == max(len(lugs_of(row[3])) - 1, 0), row
            total += pieces
    counted = table.note.partition(";")[0]
    assert sum(int(n) for n in re.findall(r"\d+", counted)) == total


@pytest.mark.parametrize("guitar", READY)
def test_the_order_of_work(guitar):
    """Ground bus, pots, small parts, switch, pickups, jack, plugs, what stays open."""
    steps = [row[2] for row in guitar.joints() if row[2] != "make up"]
    order = ["ground", "pots", "small parts", "switch", "pickups", "jack", "plug", "leave open"]
    assert [order.index(step) for step in steps] == sorted(order.index(step) for step in steps)
    assert steps[0] == "ground"


@pytest.mark.parametrize("guitar", READY)
def test_the_cautions_stand_under_the_table(guitar):
    table = guitar.joints()
    assert "Unplug the guitar from everything" in str(table)
    assert "lethal voltage" in table._repr_html_()


# -- by themselves --------------------------------------------------------------------------------


def test_leads_that_meet_in_the_air():
    """The two coils of a humbucker in series: no lug between them, so no wire to cut."""
    guitar = Harness(
        {"pickup": LEADS, "jack": Jack()},
        [
            ("pickup.coil_1_finish", "jack.tip"),
            ("pickup.coil_1_start", "pickup.coil_2_start"),
            ("pickup.coil_2_finish", "jack.sleeve"),
        ],
    )
    assert [row[1:] for row in guitar.joints()] == [
        ("1", "ground", "jack sleeve", "pickup coil 2 finish", "none"),
        ("2", "pickups", "", "pickup coil 1 start, pickup coil 2 start",
         "none: twist the leads, sleeve the joint"),
        ("3", "jack", "jack tip", "pickup coil 1 finish", "none"),
    ]  # fmt: skip


def test_lugs_of_one_part_are_bridged_by_jumpers():
    switch = three_way_toggle()
    guitar = Harness(
        {"pickup": PICKUP, "switch": switch, "jack": Jack()},
        [
            ("pickup.hot", "switch.first", "switch.second"),
            ("switch.common", "jack.tip"),
            ("pickup.ground", "jack.sleeve"),
        ],
    )
    row = next(row for row in guitar.joints() if row[2] == "pickups")
    assert row[3:] == ("switch first, switch second", "pickup hot", "1 jumper")


def test_an_empty_place_is_not_soldered():
    table = layouts.one_pickup(PICKUP).joints()
    assert "treble bleed" not in str(table)


def test_a_lug_whose_partner_is_an_empty_place_stays_open():
    guitar = Harness(
        {"pickup": PICKUP, "switch": three_way_toggle(), "extra": None, "jack": Jack()},
        [
            ("pickup.hot", "switch.first"),
            ("extra.a", "switch.second"),
            ("switch.common", "jack.tip"),
            ("pickup.ground", "jack.sleeve", "extra.b"),
        ],
    )
    assert [row[3] for row in guitar.joints() if row[2] == "leave open"] == ["switch second"]
    filled = guitar.replace("extra", Capacitor("1n")).joints()
    assert [row[3] for row in filled if row[2] == "leave open"] == []


def test_plugged_without_a_cable():
    guitar = Harness(
        {"pickup": PICKUP, "jack": Jack(), "amp": AmpInput("1M")},
        [("pickup.hot", "jack.tip", "amp.tip"), ("pickup.ground", "jack.sleeve", "amp.sleeve")],
    )
    assert [row[3] for row in guitar.joints() if row[2] == "plug"] == ["amp into jack"]


def test_a_blend_pot_says_where_its_tracks_are_touched():
    """Full at the centre: the first track falls above 5, the second below it."""
    text = str(layouts.bass_blend(PICKUP, PICKUP).joints())
    for words in (
        "blend first high (touched to 5)",
        "blend first low (touched at 10)",
        "blend second high (touched from 5)",
        "blend second low (touched at 0)",
    ):
        assert words in text


def test_what_is_grounded_and_no_lug():
    """Cans and frames, by how many there are: common practice, no source."""

    def places(guitar):
        (said,) = (line for line in joint_note(guitar) if line.startswith("Wire to cut"))
        return said.partition("no lug of the model: ")[2]

    string = "the bridge or tailpiece (string ground)."
    assert places(layouts.one_pickup(PICKUP)) == f"each of 2 pot cans, {string}"
    assert places(layouts.one_pickup(PICKUP, tone=None)) == f"the pot can, {string}"
    assert places(layouts.pickup_alone(PICKUP)) == string
    three = layouts.three_single_coils(PICKUP, PICKUP, PICKUP)
    assert places(three) == f"each of 3 pot cans, the switch frame, {string}"
    pulls = layouts.two_humbuckers_push_pull(LEADS, LEADS)
    assert places(pulls) == (f"each of 4 pot cans, each switch frame that is no pot can, {string}")


def joint_note(guitar):
    return guitar.joints().note.splitlines()
