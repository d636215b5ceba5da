"""The plain data of a harness: what it holds, how large it may be, what is refused."""

from __future__ import annotations

import json

import pytest

import guitarnet as gn
from guitarnet.circuit import saved

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")


def data(**parts):
    """Plain data of a guitar with some parts replaced."""
    plain = gn.harness_to_dict(gn.layouts.one_pickup(PICKUP))
    plain["parts"] |= parts
    return plain


def pot(taper):
    return data(volume={"kind": "Pot", "resistance": "250k", "taper": taper})


def refusal(plain):
    with pytest.raises(gn.errors.BadFile) as refused:
        gn.harness_from_dict(plain, where="file")
    return str(refused.value)


@pytest.mark.parametrize(
    "part",
    [
        gn.Pot("250k", gn.audio_taper(0.15, dead_zone=(0.05, 0.02)), end_resistance=("1%", 3)),
        gn.Pot("250k", gn.measured_taper([0, 150, 300], [0, 37, 250])),
        gn.Pot("250k", gn.audio_taper(0.2, shape="exponential", dead_zone=0.01)),
        gn.Pot("250k", gn.no_load(gn.linear_taper(dead_zone=0.03)), tolerance=0.1),
    ],
)
def test_data_are_text_numbers_lists_and_tables_alone(part):
    """So that any format can hold them: JSON gives back what went in, tuples would not be."""
    guitar = gn.layouts.one_pickup(PICKUP, volume=part)
    plain = gn.harness_to_dict(guitar)
    assert json.loads(json.dumps(plain)) == plain
    _only_plain(plain)
    assert gn.harness_from_dict(json.loads(json.dumps(plain))) == guitar


def _only_plain(value):
    assert type(value) in (dict, list, str, int, float, bool)
    for item in value.values() if isinstance(value, dict) else value if type(value) is list else ():
        _only_plain(item)


def test_what_is_usual_is_not_written():
    """A default is left out, a value is written as a person would where that reads back exactly."""
    parts = gn.harness_to_dict(
        gn.layouts.one_pickup(
            gn.Pickup("6.2k", 2 + 1 / 3, "120p", 39e3, 0.41, magnet=-1, broken=True),
            volume=gn.Pot("250k", gn.linear_taper(), tolerance="10%", end_resistance=(0, 2)),
            tone=gn.Pot("500k", gn.no_load("audio 10%"), end_resistance=0),
            tone_capacitor=gn.Capacitor("22n", dissipation_factor=0.02, source="measured"),
        )
    )["parts"]
    assert parts["pickup"] == {
        "kind": "Pickup",
        "resistance": "6.2 kohm",
        "inductance": "2.3333333333333335 H",
        "capacitance": "120 pF",
        "eddy_resistance": "39 kohm",
        "eddy_share": 0.41,
        "magnet": -1,
        "broken": True,
    }
    assert parts["volume"] == {
        "kind": "Pot",
        "resistance": "250 kohm",
        "taper": "linear",
        "tolerance": 0.1,
        "end_resistance": [0.0, "2 ohm"],
    }
    assert parts["tone"] == {
        "kind": "Pot",
        "resistance": "500 kohm",
        "taper": "audio 10%, no-load",
    }
    assert parts["tone_capacitor"] == {
        "kind": "Capacitor",
        "capacitance": "22 nF",
        "dissipation_factor": 0.02,
        "source": "measured",
    }


def test_six_digits_are_written_with_a_prefix_more_to_the_last_bit():
    """A person reads 6.12345 kohm; what six digits do not say comes back from all of them."""
    third = 1e5 / 3
    for ohms, written in (
        (6123.45, "6.12345 kohm"),
        (6123.457, "6123.457 ohm"),
        (third, f"{third!r} ohm"),
    ):
        guitar = gn.layouts.one_pickup(PICKUP, tone_capacitor="22n", treble_bleed=gn.Resistor(ohms))
        plain = gn.harness_to_dict(guitar)
        assert plain["parts"]["treble_bleed"] == {"kind": "Resistor", "resistance": written}
        assert gn.harness_from_dict(plain) == guitar


def test_a_taper_is_written_in_words_where_words_say_it_all():
    def written(law):
        guitar = gn.layouts.one_pickup(PICKUP, volume=gn.Pot("250k", law))
        return gn.harness_to_dict(guitar)["parts"]["volume"]["taper"]

    assert written(gn.audio_taper(0.15)) == "audio 15%"
    assert written(gn.audio_taper(0.15, dead_zone=0.02)) == {
        "name": "audio 15%",
        "points": [[0.0, 0.0], [0.5, 0.15], [1.0, 1.0]],
        "dead_zone": [0.02, 0.02],
    }
    bent = gn.parts.taper.Taper("my own", base=7.0, opens_at_full=True)
    assert written(bent) == {"name": "my own", "base": 7.0, "opens_at_full": True}


def test_a_network_and_a_humbucker_are_tables_in_tables():
    coil = gn.Coil("4k", "2 H", "150p")
    guitar = gn.layouts.one_pickup(
        gn.Humbucker(coil, coil, coupling=0.2, connection="parallel"), treble_bleed="150k + 1n"
    )
    parts = gn.harness_to_dict(guitar)["parts"]
    assert parts["treble_bleed"] == {
        "kind": "Network",
        "form": "series",
        "elements": [
            {"kind": "Resistor", "resistance": "150 kohm"},
            {"kind": "Capacitor", "capacitance": "1 nF"},
        ],
    }
    assert parts["pickup"]["coil_2"] == {
        "kind": "Coil",
        "resistance": "4 kohm",
        "inductance": "2 H",
        "capacitance": "150 pF",
        "winding": -1,
        "magnet": -1,
        "signal": 1.0,
    }
    assert parts["pickup"]["connection"] == "parallel"


def test_one_element_may_stand_without_brackets():
    """A table where a list of tables is meant is a list of one, and then refused as such."""
    one = {"kind": "Capacitor", "capacitance": "1n"}
    plain = data(treble_bleed={"kind": "Network", "form": "series", "elements": one})
    assert refusal(plain) == (
        "file, parts.treble_bleed, series network: has only one part; give two or more."
    )


@pytest.mark.parametrize(
    ("plain", "message"),
    [
        ({}, "file: is empty; begin one with guitarnet new, or with save_harness."),
        ({"name": "x"}, "file: does not say its schema; begin it with: schema = 1."),
        ({"schema": 1}, "file: has no parts; add tables such as [parts.volume]."),
        ({"schema": 1, "parts": [1]}, "file: has no parts; add tables such as [parts.volume]."),
        (
            {"schema": 1, "k" * 50: 1},
            f"file: the key '{'k' * 40}' is unknown; use one of joined, name, open_lugs, "
            "parts, schema.",
        ),
        (data(volume=5), "file, parts.volume: is not a table; give kind and values."),
        (data(volume={"kind": 5}), "file, parts.volume: the kind 5 is unknown; use one of "),
        (data(volume={}), "file, parts.volume: does not say its kind; add kind = one of "),
        (data(volume={"kind": "Jack", "x" * 50: 1}), f"parts.volume: a Jack has no '{'x' * 40}'"),
        (pot({"points": [[0, 0], [1, 1]]}), "volume.taper: has no 'name'; name the taper in words"),
        (pot({"name": "x", "bass": 3}), "volume.taper: 'bass' is unknown; did you mean 'base'?"),
        (pot({"name": "x", "n" * 50: 3}), f"volume.taper: '{'n' * 40}' is unknown; "),
        (
            pot({"name": "x"}),
            "file, parts.volume.taper, taper: needs either points or a base; give one of the two.",
        ),
        (
            pot({"name": "x", "points": [[0, 0], [1, 1]], "dead_zone": {"a": 1}}),
            "file, parts.volume.taper",
        ),
        (pot(5), "file, parts.volume.taper, taper: '5' is not a taper in words; write 'linear'"),
        (
            {**data(), "open_lugs": "tone.high"},
            "file, open_lugs: is not a list of lugs; write it like ['volume.wiper'].",
        ),
        (
            {**data(), "open_lugs": [5]},
            "file, open_lugs: is not a list of lugs; write it like ['volume.wiper'].",
        ),
        (
            {**data(), "joined": "tone.high"},
            "file, joined: is not a list of joints; write it like [['a.b', 'c.d']].",
        ),
        ({**data(), "joined": []}, "is not joined to anything; join it, or list it in open_lugs."),
    ],
)
def test_refused(plain, message):
    assert message in refusal(plain)


def test_nothing_but_parts_need_stand_there():
    """Name, joints and open lugs may be missing: a jack alone with both lugs open is a harness."""
    plain = {
        "schema": 1,
        "parts": {"jack": {"kind": "Jack"}},
        "open_lugs": ["jack.tip", "jack.sleeve"],
    }
    made = gn.harness_from_dict(plain)
    assert made.name == "guitar"
    assert made.joined == ()
    assert "name" not in plain
    assert gn.harness_from_dict({**plain, "name": 7}).name == "7"


@pytest.mark.parametrize(("over", "message"), [(0, None), (1, "has 61 characters; a harness has")])
def test_a_file_that_is_too_long_is_refused(over, message, tmp_path, monkeypatch):
    monkeypatch.setattr(saved, "_LARGEST", 60)
    file = tmp_path / "guitar.toml"
    file.write_text("#" * (60 + over))
    with pytest.raises(gn.errors.BadFile, match=message or "is empty"):
        gn.load_harness(file)


def test_how_large_and_deep_a_file_may_be():
    """A million characters; a network in a network ten deep, as the bench would not solder it."""
    assert saved._LARGEST == 1_000_000
    leaf = {"kind": "Capacitor", "capacitance": "1n"}

    def nested(depth):
        made = leaf
        for _ in range(depth):
            made = {"kind": "Network", "form": "series", "elements": [made, leaf]}
        return data(treble_bleed=made)

    assert gn.harness_from_dict(nested(9)).parts["treble_bleed"].kind == "series"
    assert "network: is nested over 10 deep; write it more simply." in refusal(nested(10))
    assert "network: is nested over 10 deep; write it more simply." in refusal(nested(12))
    assert refusal(nested(13)).endswith("elements: is nested too deep; write it more simply.")


def test_a_comment_is_for_people(tmp_path):
    guitar = gn.layouts.one_pickup(PICKUP)
    file = gn.save_harness(guitar, tmp_path / "g.toml", comment="one\n\n two\x07three ")
    text = file.read_text(encoding="utf-8")
    assert text.startswith("# one\n#\n#  two three\nschema = 1\n")
    assert gn.load_harness(file) == guitar
    assert (tmp_path / "g.toml") == file


def test_a_refusal_names_the_file(tmp_path):
    file = tmp_path / "guitar.toml"
    file.write_text("schema = 1\n[parts.jack]\nkind = 'Jak'\n")
    with pytest.raises(gn.errors.BadFile) as refused:
        gn.load_harness(file)
    assert str(refused.value).startswith(f"{file}, parts.jack: the kind 'Jak' is unknown; did you")


def test_what_is_just_within_the_limits_loads():
    """Text of 2000 characters, a list of 1000."""
    written = data()
    written["name"] = "x" * 2000
    joint = next(joint for joint in written["joined"] if "jack.sleeve" in joint)
    joint += ["jack.sleeve"] * (1000 - len(joint))
    loaded = gn.harness_from_dict(written)
    assert loaded.name == "x" * 2000
    assert loaded.joined == gn.harness_from_dict(data()).joined


def test_a_list_in_a_list_28_deep_is_read():
    """As deep as networks may be, and their tables; what is too deep is refused by its depth."""

    def nested(depth):
        return [nested(depth - 1)] if depth > 1 else []

    written = data()
    assert gn.harness_from_dict({**written, "name": nested(28)}).name == "[" * 28 + "]" * 28
    with pytest.raises(gn.errors.BadFile, match=r"^harness: is nested too deep"):
        gn.harness_from_dict({**written, "name": nested(29)})


def test_end_resistances_in_a_file_have_units_one_or_two():
    written = data()
    volume = written["parts"]["volume"]
    for ends, problem in ((2, "2"), ([0, 2], "2"), ([3, "1%"], "3")):
        volume["end_resistance"] = ends
        assert f"parts.volume.end_resistance: {problem} has no unit" in refusal(written)
    volume["end_resistance"] = ["2 ohm", "1%"]
    assert gn.harness_from_dict(written).parts["volume"].end_resistance == (2, "1%")


def test_what_is_meant_of_a_file_stays_with_the_part_by_its_place():
    """22 pF is a capacitor, but hardly that of a tone control."""
    written = data()
    written["parts"]["tone_capacitor"]["capacitance"] = "22 pF"
    loaded = gn.harness_from_dict(written, unusual=True)
    assert loaded.parts["tone_capacitor"].unusual
    assert not loaded.parts["volume"].unusual
