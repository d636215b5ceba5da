"""Feet and degrees Fahrenheit where a person prefers them: in all text, nowhere inside."""

from __future__ import annotations

import re

import pytest

import guitarnet as gn
from guitarnet.command.line import main
from guitarnet.study.choose.bleed_answer import bleed_answer
from guitarnet.study.choose.bleed_tables import compare_bleeds

METRES = re.compile(r"\d m\b")


@pytest.fixture
def feet():
    with gn.values.prefer_units("feet"):
        yield


@pytest.fixture(scope="module")
def guitar():
    return gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p"), cable=gn.Cable("5 m", "100 pF/m"), name="mine"
    )


def test_lengths_are_those_of_the_international_foot(feet):
    """0.3048 m, exact since 1959 (NIST SP 811, B.6); what is typed is read in any unit."""
    for metres in (0.31, 1.0, 5.0, 6.096, 30.0):
        text = gn.values.format_value(metres, "m")
        assert float(text.removesuffix(" ft")) == pytest.approx(metres / 0.3048, rel=5e-3)
        assert gn.values.read_value(text, "m") == pytest.approx(metres, rel=5e-3)
    assert gn.values.format_value(0.0254, "m") == "1 in"
    assert gn.values.format_value(0, "m") == "0 ft"
    assert gn.values.format_value(100e-12, "F/m") == "30.5 pF/ft"
    assert gn.values.read_value("5 m", "m") == 5


def test_every_text_about_a_guitar_is_in_feet(feet, guitar):
    """Sentences, tables, captions, legends, page and joints; no metre is left."""
    found = compare_bleeds(guitar, ["1n"], marks=[10, 5])
    h = gn.response(guitar, {"cable.length": ["3 m", "20 ft"]})
    ax = gn.plot_response(h)
    texts = {
        "answer": str(bleed_answer(found)),
        "tables": "\n".join(map(str, found.tables())),
        "explain": str(gn.explain(guitar, {"cable.length": ["3 m", "20 ft"]})),
        "parts": str(guitar.part_table()),
        "guitar": str(guitar),
        "figure": " | ".join(text.get_text() for text in (*ax.texts, ax.figure._supxlabel)),
    }
    assert {name for name, text in texts.items() if METRES.search(text)} == set()
    assert "16.4 ft" in texts["answer"]
    assert "cable length 20 ft instead of 9.84 ft" in " ".join(texts["explain"].split())
    assert "16.4 ft at 30.5 pF/ft" in texts["parts"]
    assert h["cable.length"].values.tolist() == pytest.approx([3, 6.096])


def test_temperatures_are_in_fahrenheit(feet, guitar):
    """70 F is 21.1 °C; the note says what was typed."""
    assert "coils at 70 °F" in str(gn.expected_readings(guitar, coil_temperature="70 F").table())
    assert "all parts at 68 °F" in str(gn.audio.noise_table(guitar))


def test_a_file_and_a_later_text_do_not_depend_on_it(feet, guitar, tmp_path):
    gn.save_harness(guitar, tmp_path / "mine.toml")
    assert 'length = "5 m"' in (tmp_path / "mine.toml").read_text(encoding="utf-8")
    assert gn.load_harness(tmp_path / "mine.toml") == guitar
    with gn.values.prefer_units("metric"):
        assert gn.values.format_value(5, "m") == "5 m"
    assert gn.values.format_value(5, "m") == "16.4 ft"


def test_units_that_are_not_there():
    with pytest.raises(gn.errors.BadSetting) as refusal:
        gn.values.prefer_units("cubits")
    assert str(refusal.value) == "units: there are no 'cubits'; give 'metric' or 'feet'."


def test_the_command_writes_feet(guitar, tmp_path, monkeypatch, capsys):
    """And goes back to metres for whoever comes after."""
    monkeypatch.setenv("MPLBACKEND", "Agg")
    gn.save_harness(guitar, tmp_path / "mine.toml")
    out = ["--out", str(tmp_path / "out")]
    assert main(["cable", str(tmp_path / "mine.toml"), "--feet", *out]) == 0
    said = capsys.readouterr().out
    assert "with cable length 19.4 ft instead of 16.4 ft" in said
    assert not METRES.search(said)
    assert gn.values.format_value(5, "m") == "5 m"
