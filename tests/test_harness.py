"""Harness, joints, layouts, tables."""

from __future__ import annotations

import copy
import csv
import itertools
import pickle
import random

import numpy as np
import pytest

from guitarnet import (
    AmpInput,
    Cable,
    Capacitor,
    Coil,
    Harness,
    Humbucker,
    Jack,
    Pickup,
    Pot,
    Resistor,
    Table,
    in_parallel,
    jack_resistance,
    layouts,
    level_db,
    no_load,
    response,
    taper,
)
from guitarnet.circuit.harness import merged
from guitarnet.errors import BadHarness, BadSetting, BadValue
from guitarnet.formulas import Branch, Netlist

HERTZ = [50.0, 1e3, 4e3, 12e3]
PICKUP = Pickup("6.2k", "2.4 H", "120p")


@pytest.fixture
def guitar():
    return layouts.one_pickup(PICKUP, treble_bleed="150k || 1n")


# -- refusals -------------------------------------------------------------------------------------

REFUSED = [
    (
        lambda g: Harness({"jack": Jack()}, open_lugs=3),
        "open_lugs: 3 is no list of lugs; give ['tone.high'].",
    ),
    (
        lambda g: Harness({"jack": Jack()}, "jack.tip"),
        "joined: 'jack.tip' is no list of joints; give lists of lugs, as [('pickup.hot', "
        "'volume.high')].",
    ),
    (
        lambda g: Harness({"jack": Jack()}, ["jack.tip"]),
        "joined: 'jack.tip' is no joint; give lists of lugs, as [('pickup.hot', 'volume.high')].",
    ),
    (
        lambda g: Harness({"jack": Jack()}, [3]),
        "joined: 3 is no joint; give lists of lugs, as [('pickup.hot', 'volume.high')].",
    ),
    (
        lambda g: Harness({"jack": Jack()}, [("jack.tip",)]),
        "joint jack.tip: joins nothing; name two lugs or more in each joint.",
    ),
    (
        lambda g: Harness({"jack": Jack()}, [("jack.tip", "jack.tip")]),
        "joint jack.tip - jack.tip: joins nothing; name two lugs or more in each joint.",
    ),
    (
        lambda g: Harness({"jack": 3}),
        "jack: 3 is not a part; give a part such as gn.Capacitor('22n').",
    ),
    (
        lambda g: Harness({3: Jack()}),
        "part '3': cannot be a part's name; use a letter and then letters, digits or "
        "underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({"a" * 41: Jack()}),
        "part 'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa': cannot be a part's name; use "
        "a letter and then letters, digits or underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({"_a": Jack()}),
        "part '_a': cannot be a part's name; use a letter and then letters, digits or "
        "underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({"a b": Jack()}),
        "part 'a b': cannot be a part's name; use a letter and then letters, digits or "
        "underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({"<script>": Jack()}),
        "part '<script>': cannot be a part's name; use a letter and then letters, digits or "
        "underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({"volume.wiper": Jack()}),
        "part 'volume.wiper': cannot be a part's name; use a letter and then letters, digits or "
        "underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({"x" * 41: Jack()}),
        f"part '{'x' * 40}': cannot be a part's name; use a letter and then letters, digits or "
        "underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({3: Jack()}),
        "part '3': cannot be a part's name; use a letter and then letters, digits or "
        "underscores, 40 at the most.",
    ),
    (
        lambda g: Harness({"frequency": Jack()}),
        "frequency: is a reserved word; name the part otherwise, as frequency_1.",
    ),
    (
        lambda g: Harness({"tone": "250k"}),
        "tone: '250k' is not a part; give a part such as gn.Capacitor('22n').",
    ),
    (
        lambda g: Harness([("jack", Jack()), ("jack", Jack())]),
        "guitar: a list is not a mapping of names to parts; give {'pickup': gn.Pickup(...), ...}.",
    ),
    (
        lambda g: g.add("tone", Capacitor("1n")),
        "tone: is in the harness already; give the new part another name.",
    ),
    (
        lambda g: g.join("pickup.hott", "jack.tip"),
        "pickup.hott: a Pickup has no lug 'hott'; did you mean 'hot'?",
    ),
    (
        lambda g: g.join("amp.hot", "jack.tip"),
        "amp.hot: an AmpInput has no lug 'hot'; use one of sleeve, tip.",
    ),
    (
        lambda g: g.join("pick.hot", "jack.tip"),
        "pick.hot: there is no part 'pick'; did you mean 'pickup'?",
    ),
    (
        lambda g: g.join("jack.tip"),
        "joint jack.tip: joins nothing; name two lugs or more in each joint.",
    ),
    (
        lambda g: g.join("jack.tip", "jack.tip"),
        "joint jack.tip - jack.tip: joins nothing; name two lugs or more in each joint.",
    ),
    (lambda g: g.join(), "joint: joins nothing; name two lugs or more in each joint."),
    (
        lambda g: g.join("tone.high", "jack.sleeve").check(),
        "tone.high: is declared open and joined too; do one of the two.",
    ),
    (
        lambda g: g.add("spare", Capacitor("1n")).check(),
        "spare.a: is not joined to anything; join it, or list it in open_lugs.",
    ),
    (
        lambda g: Harness({"p": PICKUP}, open_lugs=["p.hot", "p.ground"]).check(),
        "guitar: has no Jack; add one: Jack().",
    ),
    (
        lambda g: (
            g.add("jack_2", Jack())
            .join("jack.tip", "jack_2.tip")
            .join("jack.sleeve", "jack_2.sleeve")
            .check()
        ),
        "one pickup: has 2 Jack parts; keep one of jack, jack_2.",
    ),
    (
        lambda g: g.replace("volume", Capacitor("1n")),
        "volume: a Capacitor has the lugs a, b, but a Pot has high, wiper, low; replace a part by "
        "one with the same lugs, or build the harness anew.",
    ),
    (
        lambda g: g.replace("volume", None),
        "volume: None leaves a two-lug place empty, but a Pot has high, wiper, low; replace a part "
        "by one with the same lugs, or build the harness anew.",
    ),
]


@pytest.mark.parametrize(
    ("make", "message"), REFUSED, ids=[m.partition(":")[0] for _, m in REFUSED]
)
def test_refused(guitar, make, message):
    with pytest.raises(BadHarness) as refusal:
        make(guitar)
    assert str(refusal.value) == message


def bare(*joints):
    parts = {"pickup": PICKUP, "jack": Jack()}
    whole = [("pickup.hot", "jack.tip"), ("pickup.ground", "jack.sleeve")]
    return Harness(parts, [*whole, *joints])


@pytest.mark.parametrize("short", [("jack.tip", "jack.sleeve"), ("pickup.hot", "pickup.ground")])
def test_hot_joined_to_ground(short):
    bare().check()
    with pytest.raises(BadHarness) as refusal:
        bare(short).check()
    assert str(refusal.value) == (
        "jack.tip: is joined to ground (pickup.hot - jack.tip - pickup.ground - jack.sleeve); "
        "hot and ground must not share a joint."
    )


def test_pickup_shorted_behind_a_volume_pot(guitar):
    with pytest.raises(BadHarness, match=r"^pickup.hot: is joined to ground \(pickup.ground - "):
        response(guitar.join("pickup.hot", "jack.sleeve"), frequency=HERTZ)


def test_nothing_is_computed_from_an_unfinished_harness(guitar):
    loose = guitar.add("spare", Capacitor("1n"))
    for question in (response, jack_resistance, Harness.netlist, Harness.joints):
        with pytest.raises(BadHarness, match=r"^spare.a: is not joined to anything"):
            question(loose)


# -- values ---------------------------------------------------------------------------------------


def test_a_harness_is_a_value(guitar):
    """``replace`` and its kin give a new harness and leave the old one as it is."""
    before = str(guitar), guitar.joined
    changed = (
        guitar.replace("volume", Pot("500k", "linear"))
        .replace("cable", "10 ft")
        .replace("tone_capacitor", "47n")
        .add("spare", Capacitor("1n"))
        .leave_open("spare.a", "spare.b")
    )
    assert (str(guitar), guitar.joined) == before
    assert changed.parts["volume"].label() == "500 k\u03a9, linear"
    assert changed.parts["cable"].length == 3.048
    assert changed.parts["tone_capacitor"].capacitance == 47e-9
    assert changed.joined == guitar.joined
    assert changed != guitar
    assert layouts.one_pickup(PICKUP, treble_bleed="150k || 1n") == guitar


@pytest.mark.parametrize(
    ("path", "value", "part", "words"),
    [
        ("pickup.inductance", "3 H", "pickup", "6.2 k\u03a9, 3 H, 120 pF"),
        ("volume.taper", "linear", "volume", "250 k\u03a9, linear"),
        ("volume.end_resistance", "1%", "volume", "250 k\u03a9, audio 15%, ends 1%"),
        ("treble_bleed.capacitor.capacitance", "2n", "treble_bleed", "150 k\u03a9 \u2225 2 nF"),
        ("treble_bleed.capacitance", "2n", "treble_bleed", "150 k\u03a9 \u2225 2 nF"),  # alias
        ("treble_bleed.resistance", "1M", "treble_bleed", "1 M\u03a9 \u2225 1 nF"),
        ("treble_bleed", None, "treble_bleed", "none"),
        ("treble_bleed", Capacitor("680p"), "treble_bleed", "680 pF"),
        ("amp", "500k", "amp", "500 k\u03a9"),
        ("cable.capacitance_per_metre", "40 pF/ft", "cable", "3 m at 131.2 pF/m"),
    ],
)
def test_replace(guitar, path, value, part, words):
    assert guitar.replace(path, value).parts[part].label() == words


@pytest.mark.parametrize("there", [None, "1n", "150k", "150k || 1n"])
def test_a_network_in_words_replaces_whatever_is_there(there):
    """One capacitor as text is a value of the capacitor; joined values are a network."""
    guitar = layouts.one_pickup(PICKUP, treble_bleed=there)
    for words, said in [("1.2n + 130k", "1.2 nF + 130 k\u03a9"), ("none", "none")]:
        assert guitar.replace("treble_bleed", words).parts["treble_bleed"].label() == said
    assert layouts.one_pickup(PICKUP).replace("tone_capacitor", "1e+1n") == (
        layouts.one_pickup(PICKUP, tone_capacitor="10n")
    )


def test_an_emptied_place_can_be_filled_again(guitar):
    refilled = guitar.replace("treble_bleed", None).replace("treble_bleed", Capacitor("1n"))
    assert refilled.parts["treble_bleed"] == Capacitor("1n")


@pytest.mark.parametrize(
    ("path", "value", "error", "message"),
    [
        (
            "volum",
            "500k",
            BadSetting,
            "volum: the harness has no part 'volum'; did you mean 'volume'?",
        ),
        (
            "cable_length",
            "3 m",
            BadSetting,
            "cable_length: the harness has no part 'cable_length'; did you mean 'cable.length'?",
        ),
        (
            "volume.resistence",
            "500k",
            BadSetting,
            "volume.resistence: a Pot has no 'resistence'; did you mean 'resistance'?",
        ),
        (
            "volume.mark",
            5,
            BadSetting,
            "volume.mark: is set by hand, not a part's value; give it to response as a setting.",
        ),
        (
            "volume",
            "500k",
            BadSetting,
            "volume: '500k' is not a part; give a part such as gn.Pot(...).",
        ),
        (
            "treble_bleed",
            1e-9,
            BadSetting,
            "treble_bleed: 1e-09 is not a part; give a part such as gn.bleed('1n').",
        ),
        (
            "tone_capacitor",
            "25On",
            BadValue,
            "tone_capacitor: '25On' is not a value in F; did you mean '250n' (digit zero)?",
        ),
        (
            "tone_capacitor.capacitance",
            0,
            BadValue,
            "tone_capacitor.capacitance: 0 F is zero; give a value above 0 F up to 1 F (a missing "
            "part is None, not 0).",
        ),
    ],
)
def test_refused_replacement(guitar, path, value, error, message):
    with pytest.raises(error) as refusal:
        guitar.replace(path, value)
    assert type(refusal.value) is error
    assert str(refusal.value) == message


# -- joints ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wiring", "hot", "out"),
    [
        ("modern", {"volume.high", "tone.wiper"}, {"volume.wiper"}),
        ("50s", {"volume.high"}, {"volume.wiper", "tone.wiper"}),
        ("independent", {"volume.wiper", "tone.wiper"}, {"volume.high"}),
        ("independent 50s", {"volume.wiper"}, {"volume.high", "tone.wiper"}),
    ],
)
def test_wirings(wiring, hot, out):
    """What each wiring joins to the pickup's hot and to the jack's tip.

    Modern and 50s: Premier Guitar, on tone pot wiring (capacitor on the pot's input, output).
    """
    guitar = layouts.one_pickup(PICKUP, wiring=wiring)
    joints = [set(joint) for joint in guitar.joined]
    own = {"volume.high", "volume.wiper", "tone.wiper"}
    assert next(j for j in joints if "pickup.hot" in j) & own == hot
    assert next(j for j in joints if "jack.tip" in j) & own == out
    assert guitar.node("tone.low") == guitar.node("tone_capacitor.a")
    assert guitar.open_lugs == ("tone.high",)


@pytest.mark.parametrize(
    ("wiring", "message"),
    [
        ("50", "wiring: '50' is unknown; did you mean '50s'?"),
        (
            "vintage",
            "wiring: 'vintage' is unknown; use one of 50s, independent, independent 50s, modern.",
        ),
    ],
)
def test_unknown_wiring(wiring, message):
    with pytest.raises(BadSetting) as refusal:
        layouts.one_pickup(PICKUP, wiring=wiring)
    assert str(refusal.value) == message


def test_a_guitar_without_a_tone_control():
    guitar = layouts.one_pickup(PICKUP, tone=None)
    assert set(guitar.parts) == {"pickup", "volume", "treble_bleed", "jack", "cable", "amp"}
    h = response(guitar, frequency=HERTZ)
    with_tone = response(
        layouts.one_pickup(PICKUP, tone=Pot("250k", no_load(taper("linear")))), frequency=HERTZ
    )
    assert h.values == pytest.approx(with_tone.values, rel=1e-12)  # a no-load tone at 10 is none


def test_the_order_of_joints_does_not_matter(guitar):
    expected = response(guitar, frequency=HERTZ, volume=[10, 4, 0], tone=[10, 3, 0]).values
    rng = random.Random(2)
    for _ in range(5):
        pairs = [pair for joint in guitar.joined for pair in itertools.pairwise(joint)]
        pairs = [pair if rng.random() < 0.5 else pair[::-1] for pair in pairs]
        rng.shuffle(pairs)
        names = list(guitar.parts)
        rng.shuffle(names)
        parts = {name: guitar.parts[name] for name in names}
        shuffled = Harness(parts, pairs, guitar.open_lugs)
        assert {frozenset(j) for j in shuffled.joined} == {frozenset(j) for j in guitar.joined}
        found = response(shuffled, frequency=HERTZ, volume=[10, 4, 0], tone=[10, 3, 0]).values
        assert found == pytest.approx(expected, rel=1e-11, abs=0)


def test_joints_that_share_a_lug_are_one_joint():
    parts = {"pickup": PICKUP, "jack": Jack(), "extra": Resistor("1M")}
    harness = Harness(
        parts,
        [
            ("pickup.hot", "jack.tip"),
            ("pickup.ground", "jack.sleeve"),
            ("extra.a", "jack.tip"),
            ("extra.b", "jack.sleeve", "pickup.ground"),
        ],
    )
    assert harness.joined == (
        ("pickup.hot", "jack.tip", "extra.a"),
        ("pickup.ground", "jack.sleeve", "extra.b"),
    )
    assert harness.node("extra.a") == "pickup.hot"


def test_two_cascaded_pots_in_a_harness():
    """x^2 / (1 + x (1 - x)): -13.98 dB at 0.5, -6.49 at 0.75 (diybanter post 4043170)."""
    harness = Harness(
        {
            "pickup": Pickup(1e-6, 1e-6, 0, unusual=True),  # as good as an ideal source at 100 Hz
            "first": Pot("250k", "linear"),
            "second": Pot("250k", "linear"),
            "jack": Jack(),
        },
        [
            ("pickup.hot", "first.high"),
            ("first.wiper", "second.high"),
            ("second.wiper", "jack.tip"),
            ("pickup.ground", "first.low", "second.low", "jack.sleeve"),
        ],
    )
    h = response(harness, frequency=[100], first=[5, 7.5], second=[5, 7.5]).isel(frequency=0)
    levels = [float(level_db_of(h.sel(first=m, second=m))) for m in (5, 7.5)]
    assert levels == pytest.approx([-13.98, -6.49], abs=0.005)
    for mark in (5, 7.5):
        x = mark / 10
        found = complex(h.sel(first=mark, second=mark))
        assert found == pytest.approx(x**2 / (1 + x * (1 - x)), rel=1e-8)


def level_db_of(h):
    return 20 * np.log10(np.abs(h))


# -- netlist --------------------------------------------------------------------------------------


def test_nodes_are_named_by_the_first_lug_of_their_joint(guitar):
    net = guitar.netlist(volume=5)
    assert net.ground == "pickup.ground"
    assert net.branches["volume.upper"].nodes == ("pickup.hot", "volume.wiper")
    assert net.branches["volume.lower"].value == pytest.approx(37.5e3)
    assert net.sources() == ["pickup.induced"]


def test_a_sweep_is_one_netlist(guitar):
    net = guitar.netlist(volume=[10, 5, 0], **{"cable.length": ["1 m", "6 m"]})
    assert net.dims() == {"volume": 3, "cable.length": 2}
    assert net.branches["volume.lower"].value.values.tolist() == [250e3, 37500.0, 0.0]
    assert net.branches["cable.capacitance"].value.values == pytest.approx([1e-10, 6e-10])


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda net: net.resistor("R", "a", "0", "2k"),
            "R: stands twice in the netlist; give each part one name.",
        ),
        (
            lambda net: net.capacitor("C", "a", "0", "-1n"),
            "C: '-1n' is negative; give a value from 0 F.",
        ),
        (
            lambda net: net.resistor("R2", "a", "0", float("nan")),
            "R2: nan \u03a9 is not a number; give a finite value from 0 \u03a9.",
        ),
        (
            lambda net: net.impedance("Z", "a", "0", 50),
            "Z: is not a function of frequency; give a callable.",
        ),
    ],
)
def test_refused_branches(make, message):
    net = Netlist()
    net.resistor("R", "a", "0", "1k")
    with pytest.raises((BadHarness, BadValue)) as refusal:
        make(net)
    assert str(refusal.value) == message
    assert list(net) == [Branch("R", "R", ("a", "0"), 1000.0)]  # nothing half-built


# -- tables ---------------------------------------------------------------------------------------


def test_part_table(guitar):
    table = guitar.replace("volume", Pot("250k", "linear", tolerance="20%")).part_table()
    assert ("volume", "pot", "250 k\u03a9, linear", "", "250K", "\u00b120 %") in list(table)
    assert str(guitar).startswith("one pickup\npart ")


def test_a_hostile_name_stays_text():
    guitar = layouts.one_pickup(PICKUP, name="<script>alert(1)</script>")
    for html in (guitar._repr_html_(), guitar.joints()._repr_html_()):
        assert "<script>" not in html
        assert "&lt;script&gt;" in html


def test_table_aligns_numbers_right():
    table = Table(("knob", "level"), [("volume", -3.5), ("tone", 12)], title="Levels")
    assert str(table) == "Levels\nknob    level\nvolume   -3.5\ntone       12"
    assert len(table) == 2


def test_a_title_and_a_note_may_have_lines():
    table = Table(("knob",), [("tone",)], title="Levels\n  re 100 Hz", note="one\ntwo")
    assert str(table) == "Levels\n  re 100 Hz\nknob\ntone\none\ntwo"
    assert "<caption>Levels<br>  re 100 Hz</caption>" in table._repr_html_()


def test_table_as_csv_holds_no_formula(tmp_path):
    """A cell that a spreadsheet would take for a formula is quoted; numbers stay numbers."""
    file = tmp_path / "table.csv"
    Table(("name", "dB"), [("=1+1", -3.5), ("@x, y", "-2"), ("plain", 4)]).to_csv(file)
    with file.open(newline="", encoding="utf-8") as stream:
        rows = list(csv.reader(stream))
    assert rows == [["name", "dB"], ["'=1+1", "-3.5"], ["'@x, y", "-2"], ["plain", "4"]]


def test_layout_takes_parts_or_text():
    written = layouts.one_pickup(
        PICKUP, volume="500k", tone="250k", tone_capacitor="22n", treble_bleed="1n",
        cable="10 ft", amp="1M",
    )  # fmt: skip
    made = layouts.one_pickup(
        PICKUP,
        volume=Pot("500k", "audio 15%"),
        tone=Pot("250k", "audio 15%"),
        tone_capacitor=Capacitor("22n"),
        treble_bleed=Capacitor("1n"),
        cable=Cable("10 ft"),
        amp=AmpInput("1M"),
    )
    assert written == made
    assert level_db(response(made, frequency=HERTZ)).equals(
        level_db(response(written, frequency=HERTZ))
    )
    other = made.replace("treble_bleed", in_parallel(Capacitor("1n"), Resistor("150k")))
    assert other != written


# -- what a first user met ------------------------------------------------------------------------


def test_a_pickup_may_be_reversed(guitar):
    """Hot on ground is phase, not a short: the response changes its sign and nothing else."""
    turned = Harness(
        guitar.parts,
        [
            [
                {"pickup.hot": "pickup.ground", "pickup.ground": "pickup.hot"}.get(x, x)
                for x in joint
            ]
            for joint in guitar.joined
        ],
        guitar.open_lugs,
    )
    turned.check()
    f = [100.0, 1000.0, 4000.0]
    np.testing.assert_allclose(
        response(turned, frequency=f, volume=7).values,
        -response(guitar, frequency=f, volume=7).values,
        rtol=1e-12,
    )


def test_a_cable_that_is_not_at_the_jack_is_refused(guitar):
    """A cable plugs into the jack and nowhere else."""
    joined = [[lug for lug in joint if lug != "cable.guitar_tip"] for joint in guitar.joined]
    astray = Harness(guitar.parts, joined, guitar.open_lugs).join("cable.guitar_tip", "tone.low")
    with pytest.raises(BadHarness) as refusal:
        astray.check()
    assert str(refusal.value) == (
        "cable.guitar_tip: is not at jack.tip; join cable.guitar_tip to jack.tip."
    )


def test_parts_cannot_be_changed_behind_its_back(guitar):
    """A harness is a value: no assignment, and copies and pickles are equal."""
    with pytest.raises(TypeError):
        guitar.parts["jack"] = Jack()
    assert pickle.loads(pickle.dumps(guitar)) == guitar == copy.deepcopy(guitar)
    assert hash(guitar) == hash(copy.deepcopy(guitar))


@pytest.mark.parametrize("joined", [5, None, "pickup.hot"])
def test_joints_that_are_no_list_are_refused(guitar, joined):
    with pytest.raises(BadHarness) as refusal:
        Harness(guitar.parts, joined)
    assert str(refusal.value) == (
        f"joined: {joined!r} is no list of joints; give lists of lugs, as "
        "[('pickup.hot', 'volume.high')]."
    )


def test_joints_that_share_a_lug_are_one_where_the_first_of_them_stands():
    """However late they are tied together; the first lug names the node."""
    joints = [("a.hot", "b.hot"), ("p.hot", "q.hot"), ("c.hot", "d.hot"), ("d.hot", "a.hot")]
    assert merged(joints) == [("a.hot", "b.hot", "c.hot", "d.hot"), ("p.hot", "q.hot")]
    with pytest.raises(BadHarness, match="^joint a.hot - a.hot: joins nothing"):
        merged([("a.hot", "a.hot")])


def test_a_summary_leaves_out_what_a_setting_changes(guitar):
    """A sweep of a value says it itself; a knob's mark changes no part."""
    whole = guitar.summary()
    assert "jack" not in whole
    assert whole["volume"] == guitar.parts["volume"].caption()
    assert guitar.summary({"volume.mark": 5.0, "tone.track": 0.5}) == whole
    other = guitar.replace("pickup.resistance", 9e3).summary()
    assert {name for name in whole if other[name] != whole[name]} == {"pickup"}
    assert "9 kΩ" in other["pickup"]
    less = guitar.summary({"pickup.resistance": 1.0, "volume.mark": 5.0})
    assert less == {name: words for name, words in whole.items() if name != "pickup"}


def test_a_part_whose_lugs_change_is_joined_anew():
    """With its leads out a humbucker has no lug hot any more: the old joints are refused."""
    coil = Coil("4k", "2 H", "150p")
    guitar = layouts.one_pickup(Humbucker(coil, coil))
    assert guitar.replace("pickup.connection", "parallel").joined == guitar.joined
    with pytest.raises(BadHarness, match="has no lug"):
        guitar.replace("pickup.connection", "leads")


def test_nodes_are_no_field_to_give_or_to_show(guitar):
    """They follow from the joints."""
    assert "_nodes" not in repr(guitar)
    with pytest.raises(TypeError, match="_nodes"):
        Harness(guitar.parts, guitar.joined, guitar.open_lugs, _nodes={})


def test_a_name_has_forty_letters_at_the_most():
    assert list(Harness({"a" * 40: Jack()}).parts) == ["a" * 40]


def test_a_guitar_is_called_by_text():
    with pytest.raises(BadSetting) as refusal:
        Harness({"jack": Jack()}, name=3)
    assert str(refusal.value) == "Harness.name: 3 is no text; give text, such as 'guitar'."


def test_what_a_guitar_is_is_told_in_one_order(guitar):
    turned = Harness(
        dict(reversed(guitar.parts.items())), guitar.joined[::-1], guitar.open_lugs, guitar.name
    )
    assert list(turned.described().items()) == list(guitar.described().items())
