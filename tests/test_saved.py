"""Harnesses as plain data and files: exact round trips, refusals in one sentence."""

from __future__ import annotations

import numpy as np
import pytest

import guitarnet as gn

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")


def guitars() -> dict[str, gn.Harness]:
    """Harnesses that between them use every kind of part and value."""
    third = 1 / 3
    return {
        "plain": gn.layouts.one_pickup(PICKUP),
        "no tone": gn.layouts.one_pickup(PICKUP, tone=None),
        "odd numbers": gn.layouts.one_pickup(
            gn.Pickup(6000 + third, 2 + third, 1e-10 * third, 1e5 * third, third, 9e3 * third),
            volume=gn.Pot(1e5 * third, gn.audio_taper(third), end_resistance=("1%", third)),
            cable=gn.Cable(
                third, "30 pF/ft", resistance_per_metre=third, insulation_resistance=1e9
            ),
            amp=gn.AmpInput(1e6 * third, 1e-11 * third, 68e3),
        ),
        "tapers": gn.layouts.one_pickup(
            PICKUP,
            volume=gn.Pot("250k", gn.measured_taper([0, 150, 300], [0, 37, 250])),
            tone=gn.Pot("250k", gn.no_load(gn.audio_taper(0.1, knee=0.7, dead_zone=0.02))),
        ),
        "nested bleed": gn.layouts.one_pickup(PICKUP, treble_bleed="100k + (1n || (470k + 220p))"),
        "lossy capacitor": gn.layouts.one_pickup(
            PICKUP,
            tone_capacitor=gn.Capacitor("22n", 0.1, 0.02, "3 ohm", "100M", source="measured"),
        ),
        "hostile name": gn.layouts.one_pickup(
            PICKUP, name='"]\n[parts.x]\nkind = "Jack" \x7f é 🎸'
        ),
    }


@pytest.mark.parametrize("name", guitars())
def test_a_saved_harness_loads_equal_to_the_last_bit(name, tmp_path):
    """Numbers, tapers, networks and hostile text come back exactly."""
    guitar = guitars()[name]
    loaded = gn.load_harness(gn.save_harness(guitar, tmp_path / "guitar.toml"))
    assert loaded == guitar
    assert gn.harness_from_dict(gn.harness_to_dict(guitar)) == guitar


def test_a_file_written_by_hand_gives_the_same_response_as_the_layout(project):
    """The example file, read as a person wrote it, is the harness that its layout makes."""
    loaded = gn.load_harness(project / "examples" / "single_coil.toml")
    made = gn.layouts.one_pickup(
        PICKUP, tone_capacitor="22n", treble_bleed="150k || 1n", cable=gn.Cable("5 m")
    )
    marks = [10, 7, 5, 0]
    np.testing.assert_array_equal(
        gn.response(loaded, volume=marks).values, gn.response(made, volume=marks).values
    )


def data(**changes):
    """Plain data of a guitar with some top-level keys replaced."""
    return gn.harness_to_dict(gn.layouts.one_pickup(PICKUP)) | changes


def with_part(name, **changes):
    """Plain data of a guitar with one part's values replaced."""
    plain = gn.harness_to_dict(gn.layouts.one_pickup(PICKUP))
    plain["parts"][name] = plain["parts"][name] | changes
    return plain


@pytest.mark.parametrize(
    ("plain", "message"),
    [
        ([], "harness: is not a table; give schema, parts and joined."),
        (data(schema=2), "harness: the schema is 2; this version reads schema = 1."),
        (data(joints=[]), "harness: the key 'joints' is unknown; did you mean 'joined'?"),
        (data(parts={}), "harness: has no parts; add tables such as [parts.volume]."),
        (
            with_part("volume", kind="Pott"),
            "harness, parts.volume: the kind 'Pott' is unknown; did you mean 'Pot'?",
        ),
        (
            with_part("volume", resistence="1k"),
            "harness, parts.volume: a Pot has no 'resistence'; did you mean 'resistance'?",
        ),
        (
            with_part("volume", resistance="25Ok"),
            "harness, parts.volume, Pot.resistance: '25Ok' is not a value in ohm; "
            "did you mean '250k' (digit zero)?",
        ),
        (
            with_part("volume", taper="A"),
            "harness, parts.volume.taper, taper: the letter 'A' means different tapers in "
            "different standards; say it in words ('linear', 'audio 15%'), or add "
            "convention='today' or 'old'.",
        ),
        (
            with_part("tone_capacitor", kind="Network", form="parallel", elements=[]),
            "harness, parts.tone_capacitor: a Network has no 'capacitance'; use one of "
            "elements, form, source.",
        ),
        (
            data(joined=["pickup.hot"]),
            "harness, joined: is not a list of lugs; write it like ['volume.wiper'].",
        ),
        (
            data(open_lugs=[]),
            "harness, tone.high: is not joined to anything; join it, or list it in open_lugs.",
        ),
    ],
)
def test_data_that_make_no_harness_are_refused_in_one_sentence(plain, message):
    """The sentence names the place, what was found, and what to do."""
    with pytest.raises(gn.errors.BadFile) as refusal:
        gn.harness_from_dict(plain)
    assert str(refusal.value) == message


def test_a_part_without_a_needed_value_is_refused():
    """A missing value is named."""
    plain = with_part("tone_capacitor")
    del plain["parts"]["tone_capacitor"]["capacitance"]
    with pytest.raises(gn.errors.BadFile) as refusal:
        gn.harness_from_dict(plain)
    assert str(refusal.value) == (
        "harness, parts.tone_capacitor: has no 'capacitance'; add it to this Capacitor."
    )


def test_a_file_that_is_not_toml_is_refused_and_left_alone(tmp_path):
    """The file keeps its content."""
    file = tmp_path / "guitar.toml"
    file.write_text("parts = [")
    with pytest.raises(gn.errors.BadFile, match=r"guitar\.toml: is not TOML \("):
        gn.load_harness(file)
    assert file.read_text() == "parts = ["
    with pytest.raises(gn.errors.BadFile, match="there is no such file; check the name and folder"):
        gn.load_harness(tmp_path / "nothing.toml")


def test_deep_nesting_is_refused(tmp_path):
    """A file cannot exhaust the stack."""
    element = {"kind": "Capacitor", "capacitance": "1n"}
    for _ in range(40):
        element = {"kind": "Network", "form": "series", "elements": [element, element]}
    with pytest.raises(gn.errors.BadFile, match="nested too deep"):
        gn.harness_from_dict(with_part("treble_bleed", **element))
    file = tmp_path / "deep.toml"
    file.write_text("x = " + "[" * 100_000)
    with pytest.raises(gn.errors.BadFile, match="nested too deep|is not TOML"):
        gn.load_harness(file)


def test_a_failed_save_keeps_what_was_there(tmp_path, monkeypatch):
    """Nothing written is lost: a failing rename leaves the old file and no rubbish."""
    import os

    file = gn.save_harness(gn.layouts.one_pickup(PICKUP), tmp_path / "guitar.toml")
    before = file.read_bytes()

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(gn.errors.BadFile, match="cannot be written \\(No space left on device\\)"):
        gn.save_harness(gn.layouts.one_pickup(PICKUP, treble_bleed="1n"), file)
    assert file.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["guitar.toml"]
