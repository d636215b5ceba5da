"""The truth table: coils, senses, series and parallel, controls, from joints alone.

The check from outside is the closed form of coils in series and in parallel at 0 Hz (each a
source behind its resistance): random trees of coils are built as harnesses and read back.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from layout_checks import BRIDGE, LEADS, MIDDLE, NECK, OTHER_LEADS

import guitarnet as gn
from guitarnet import layouts
from guitarnet.study.bench.truth_table import selections, truth_table

# -- random trees ---------------------------------------------------------------------------------


def random_tree(rng, coils, kind=None):
    """A tree of coils, as (kind, members) or (name, sense); neighbours differ in kind."""
    if len(coils) == 1:
        return coils[0], rng.choice([1, -1])
    kind = kind or rng.choice(["series", "parallel"])
    cuts = sorted(rng.sample(range(1, len(coils)), rng.randint(1, len(coils) - 1)))
    pieces = [coils[a:b] for a, b in zip([0, *cuts], [*cuts, len(coils)], strict=True)]
    other = "parallel" if kind == "series" else "series"
    return kind, [random_tree(rng, piece, other) for piece in pieces]


def joints(tree, top, bottom, joined):
    """Join the coils of a tree between two lists of lugs, which become joints."""
    kind, members = tree
    if not isinstance(members, list):
        ends = (top, bottom) if members > 0 else (bottom, top)
        ends[0].append(f"{kind}.hot")
        ends[1].append(f"{kind}.ground")
        return
    upper = top
    for number, member in enumerate(members):
        lower = bottom
        if kind == "series" and number < len(members) - 1:
            lower = []
            joined.append(lower)
        joints(member, upper if kind == "series" else top, lower, joined)
        upper = lower


def closed_form(tree, ohms):
    """Open-circuit volts of each coil and the resistance of a tree.

    In series volts and ohms add; in parallel each branch counts in proportion to its conductance.
    """
    kind, members = tree
    if not isinstance(members, list):
        return {kind: float(members)}, ohms[kind]
    parts = [closed_form(member, ohms) for member in members]
    if kind == "series":
        return {k: v for volts, _ in parts for k, v in volts.items()}, sum(r for _, r in parts)
    total = sum(1 / r for _, r in parts)
    return {k: v / r / total for volts, r in parts for k, v in volts.items()}, 1 / total


def formula(tree, outer=False):
    kind, members = tree
    if not isinstance(members, list):
        return kind
    text = (" + " if kind == "series" else " ∥ ").join(formula(m, True) for m in members)
    return f"({text})" if outer else text


def as_words(tree):
    kind, members = tree
    if not isinstance(members, list):
        return "alone"
    flat = all(not isinstance(m[1], list) for m in members)
    return f"in {kind}" if flat else formula(tree)


def built(tree, coils, rng):
    """The harness of a tree, its joints and parts in any order."""
    top, bottom = ["jack.tip"], ["jack.sleeve"]
    joined = [top, bottom]
    joints(tree, top, bottom, joined)
    for joint in joined:
        rng.shuffle(joint)
    rng.shuffle(joined)
    return gn.Harness({**coils, "jack": gn.Jack()}, joined)


@pytest.mark.parametrize("seed", range(60))
def test_random_trees_of_coils(seed):
    """Up to eight coils: senses, how they are joined, and weights to 1e-12."""
    rng = random.Random(seed)
    names = [f"c{number}" for number in range(rng.randint(1, 8))]
    coils = {
        name: gn.Pickup(rng.uniform(3e3, 12e3), "2.5 H", "110p", winding=rng.choice([1, -1]))
        for name in names
    }
    tree = random_tree(rng, names)
    (row,) = selections(built(tree, coils, rng))
    volts, _ = closed_form(tree, {name: coil.resistance for name, coil in coils.items()})
    expected = {name: v * coils[name].winding for name, v in volts.items()}
    assert dict(row.coils) == {name: 1 if v > 0 else -1 for name, v in expected.items()}
    assert dict(row.weights) == pytest.approx(expected, rel=1e-12)
    assert row.how == as_words(tree)
    assert row.controls == row.capacitors == ()


@pytest.mark.parametrize("seed", range(20))
def test_what_else_is_there_does_not_hide_the_coils(seed):
    """A random tree behind volume, tone, cable and amp reads the same, scaled by its load."""
    rng = random.Random(1000 + seed)
    names = [f"c{number}" for number in range(rng.randint(1, 6))]
    coils = {name: gn.Pickup(rng.uniform(3e3, 12e3), "2.5 H", "110p") for name in names}
    tree = random_tree(rng, names)
    bare = built(tree, coils, rng)
    whole = gn.Harness(
        {
            **bare.parts,
            "volume": gn.Pot("250k", "linear"),
            "tone": gn.Pot("250k", "linear"),
            "tone_capacitor": gn.Capacitor("22n"),
            "amp": gn.AmpInput("1M"),
        },
        [
            *([lug.replace("jack.tip", "volume.high") for lug in joint] for joint in bare.joined),
            ("volume.wiper", "jack.tip", "amp.tip"),
            ("volume.low", "jack.sleeve", "amp.sleeve", "tone_capacitor.b"),
            ("tone.low", "tone_capacitor.a"),
            ("tone.wiper", "volume.high"),
        ],
        ["tone.high"],
    )
    (row,), (alone,) = selections(whole, volume=7, tone=3), selections(bare)
    assert (dict(row.coils), row.how) == (dict(alone.coils), alone.how)
    assert set(row.controls) == {"volume", "tone"}
    assert row.capacitors == ("tone_capacitor",)
    shares = {row.weights[name] / alone.weights[name] for name in row.coils}
    assert max(shares) == pytest.approx(min(shares), rel=1e-12)


# -- what is neither series nor parallel ----------------------------------------------------------


def test_a_bridge_of_coils_is_called_meshed():
    """Five coils as a bridge: the weights at 0 Hz tell which are heard, and their senses."""
    coil = gn.Pickup("6k", "2.5 H", "110p")
    odd = gn.Pickup("9k", "2.5 H", "110p")
    guitar = gn.Harness(
        {"p": coil, "q": odd, "r": odd, "s": coil, "across": coil, "jack": gn.Jack()},
        [
            ("jack.tip", "p.hot", "q.hot"),
            ("p.ground", "r.hot", "across.hot"),
            ("q.ground", "s.hot", "across.ground"),
            ("r.ground", "s.ground", "jack.sleeve"),
        ],
    )
    (row,) = selections(guitar)
    assert row.how == "meshed"
    h = gn.response(guitar, frequency=[0.0], pickups="each").values[:, 0].real
    assert list(row.weights.values()) == pytest.approx(h, rel=1e-12)
    assert dict(row.coils) == {"p": 1, "q": 1, "r": 1, "s": 1, "across": 1 if h[4] > 0 else -1}


def test_a_balanced_bridge_hears_nothing_across():
    """The coil across a balanced bridge drives no current through the output."""
    coil = gn.Pickup("6k", "2.5 H", "110p")
    guitar = gn.Harness(
        {"p": coil, "q": coil, "r": coil, "s": coil, "across": coil, "jack": gn.Jack()},
        [
            ("jack.tip", "p.hot", "q.hot"),
            ("p.ground", "r.hot", "across.hot"),
            ("q.ground", "s.hot", "across.ground"),
            ("r.ground", "s.ground", "jack.sleeve"),
        ],
    )
    (row,) = selections(guitar)
    assert set(row.coils) == {"p", "q", "r", "s"}


# -- silence and shorts ---------------------------------------------------------------------------


def test_silence_is_said():
    """Volume at 0: no coil, and the one knob that brings the sound back."""
    (row,) = selections(layouts.one_pickup(NECK), volume=0)
    assert (dict(row.coils), row.how, row.controls) == ({}, "silent", ("volume",))


def test_a_shorted_or_lifted_coil_is_not_heard():
    """One coil with its ends joined, one that hangs by one end."""
    guitar = layouts.two_single_coils(NECK, BRIDGE)
    shorted = guitar.add("wire", gn.Resistor(0)).join("bridge.hot", "wire.a")
    shorted = shorted.join("bridge.ground", "wire.b")
    assert [row.how for row in selections(shorted)] == ["alone", "silent", "silent"]
    lifted = guitar.lift("bridge.ground")
    assert [dict(row.coils) for row in selections(lifted)] == [{"neck": 1}, {"neck": 1}, {}]


def test_reversed_leads_and_reversed_magnets_change_the_sense():
    """By the lugs or by the magnet alone; by winding and magnet together not."""
    plain = gn.Pickup("6k", "2.5 H", "110p")
    for given, sense in (({"magnet": -1}, -1), ({"winding": -1}, -1), ({}, 1)):
        pickup = gn.Pickup("6k", "2.5 H", "110p", **given)
        (row,) = selections(layouts.two_single_coils(plain, pickup), switch="bridge")
        assert dict(row.coils) == {"bridge": sense}
    rows = selections(layouts.two_single_coils(plain, MIDDLE))
    assert dict(rows[1].coils) == {"neck": 1, "bridge": 1}


def test_controls_work_where_two_pickups_cancel():
    """Equal and opposite: nothing is heard together, yet volume and tone are in circuit."""
    one, other = gn.Pickup("6k", "2.5 H", "110p"), gn.Pickup("6k", "2.5 H", "110p", magnet=-1)
    guitar = layouts.two_single_coils(one, other)
    assert abs(gn.response(guitar, frequency=[500.0], switch="neck+bridge")).max() < 1e-12
    (row,) = selections(guitar, switch="neck+bridge")
    assert row.controls == ("volume", "tone")


# -- settings -------------------------------------------------------------------------------------


def test_rows_are_all_combinations_in_order():
    """The last switch changes fastest; a switch that is set keeps its place."""
    guitar = layouts.two_humbuckers_push_pull(LEADS, OTHER_LEADS)
    rows = [tuple(row.setting.values()) for row in selections(guitar)]
    assert len(rows) == 12
    assert rows[:4] == [
        ("both coils", "both coils", "neck"),
        ("both coils", "both coils", "neck+bridge"),
        ("both coils", "both coils", "bridge"),
        ("both coils", "coil 1", "neck"),
    ]
    kept = selections(guitar, switch="neck", **{"bridge_volume_pull.place": ["coil 1"]})
    assert [tuple(row.setting.values()) for row in kept] == [
        ("both coils", "coil 1", "neck"),
        ("coil 1", "coil 1", "neck"),
    ]


def test_other_settings():
    """A list of marks is a column, one value a condition; a track fraction is turned too."""
    guitar = layouts.two_single_coils(NECK, BRIDGE)
    table = truth_table(guitar, switch=["neck", "bridge"], volume=[10, 0])
    assert table.columns == (
        "switch",
        "volume",
        "coils",
        "how",
        "weights",
        "controls",
        "capacitors",
    )
    assert [row[:4] for row in table] == [
        ("neck", "10", "neck +", "alone"),
        ("neck", "0", "", "silent"),
        ("bridge", "10", "bridge +", "alone"),
        ("bridge", "0", "", "silent"),
    ]
    (row,) = selections(guitar, switch="neck", **{"volume.track": 0.5, "tone.track": 0.2})
    assert row.controls == ("volume", "tone")
    marked = selections(guitar, switch="neck", volume=[gn.Pot("1M", "linear")])
    assert truth_table(guitar, volume=[gn.Pot("1M", "linear")]).rows[0][1] == "1 MΩ, linear"
    assert marked[0].weights["neck"] > row.weights["neck"]


def test_replaced_and_faulty_harnesses_tell_the_truth():
    """Nothing is stored beside the harness: a dead contact shows at once."""
    guitar = layouts.three_single_coils(NECK, MIDDLE, BRIDGE)
    switch = guitar.parts["switch"]
    dead = {
        place: [[lug for lug in group if lug != "a2"] for group in groups]
        for place, groups in switch.contacts
    }
    broken = guitar.replace("switch", gn.Switch(dead, switch.all_lugs))
    assert [" ".join(row.coils) for row in selections(broken)] == [
        "neck",
        "neck",
        "",
        "bridge",
        "bridge",
    ]


# -- the table ------------------------------------------------------------------------------------


def test_the_table_of_the_five_way():
    """As printed; common practice, no source."""
    table = truth_table(layouts.three_single_coils(NECK, MIDDLE, BRIDGE))
    assert str(table).splitlines()[:-1] == [
        "What three single coils selects",
        "switch         coils               how          weights     controls                "
        "capacitors",
        "neck           neck +              alone        0.97        volume, tone_1          "
        "tone_capacitor",
        "neck+middle    neck +, middle +    in parallel  0.50, 0.48  volume, tone_1, tone_2  "
        "tone_capacitor",
        "middle         middle +            alone        0.97        volume, tone_2          "
        "tone_capacitor",
        "middle+bridge  middle +, bridge +  in parallel  0.51, 0.47  volume, tone_2          "
        "tone_capacitor",
        "bridge         bridge +            alone        0.97        volume                  none",
    ]
    assert "Knobs that are not set are at 10" in table.note
    assert "0 Hz" in table.note


def test_a_column_of_capacitors_only_where_they_differ():
    assert "capacitors" not in truth_table(layouts.two_single_coils(NECK, BRIDGE)).columns
    assert truth_table(layouts.pickup_alone(NECK)).rows == [
        ("pickup +", "alone", "1.00", "none"),
    ]


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        (
            {"switch": "middle"},
            "switch: 'middle' is no place of this switch; use one of bridge, neck, neck+bridge.",
        ),
        ({"switch": []}, "switch: is an empty list; give at least one value."),
        ({"volume": []}, "volume: is an empty list; give at least one value."),
        (
            {"volumes": 5},
            "volumes: the harness has no part 'volumes'; did you mean 'volume'?",
        ),
        (
            {"volume": list(range(11)) * 200},
            "truth table: has 6600 rows, more than 4096; set some of switch, volume.",
        ),
    ],
)
def test_refused(settings, message):
    with pytest.raises(gn.GuitarnetError) as refusal:
        truth_table(layouts.two_single_coils(NECK, BRIDGE), **settings)
    assert str(refusal.value) == message


def test_a_labelled_array_is_refused():
    import xarray as xr

    with pytest.raises(gn.errors.BadSetting) as refusal:
        truth_table(layouts.one_pickup(NECK), volume=xr.DataArray([1.0, 2.0], dims="sample"))
    assert str(refusal.value) == (
        "volume: is a list, and a row of a truth table is of one setting; give one value, or loop "
        "over them."
    )


def test_a_harness_that_is_not_whole_is_refused():
    loose = gn.Harness({"pickup": NECK, "jack": gn.Jack()}, [("pickup.ground", "jack.sleeve")])
    with pytest.raises(gn.errors.BadHarness) as refusal:
        truth_table(loose)
    assert str(refusal.value).startswith("pickup.hot: is not joined to anything")


def test_weights_are_the_response_at_dc():
    """The same numbers by the other road, loads and humbuckers included."""
    guitar = layouts.hss(NECK, MIDDLE, LEADS, single_coil_resistor="470k")
    for row in selections(guitar, volume=6):
        h = gn.response(
            guitar, frequency=[0.0], volume=6, switch=row.setting["switch"], pickups="each coil"
        )
        for path, weight in row.weights.items():
            assert weight == pytest.approx(float(h.sel(pickup=path).real.values[0]), rel=1e-12)
        left = [str(name) for name in h.pickup.values if str(name) not in row.coils]
        assert not np.any(h.sel(pickup=left).values)
