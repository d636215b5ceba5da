"""The examples of choosing: what they print and leave, and how they refuse."""

from __future__ import annotations

import csv

import numpy as np
import pytest

import guitarnet as gn


@pytest.fixture
def run(example, tmp_path, monkeypatch):
    """Run one example in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return example


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.long
def test_choose_bleed(run, tmp_path, project):
    """On a harness file, with a network of one's own."""
    harness = str(project / "examples" / "single_coil.toml")
    done = run(
        "choose_bleed.py", "--harness", harness, "--series", "E6", "--network", "130k + 1.2n",
        "--cable", "1 m", "--cable", "6 m", "--out", "found",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    files = {path.name for path in (tmp_path / "found").iterdir()}
    assert files == {"bleeds.csv", "rounding.csv", "front.png", "shape.png"}
    rows = rows_of(tmp_path / "found" / "bleeds.csv")
    networks = {row["network"] for row in rows}
    assert {"none", "none, 50s wiring", "130 kΩ + 1.2 nF"} <= networks
    assert any(name.startswith("as it is: ") for name in networks)
    none = next(row for row in rows if row["network"] == "none")
    guitar = gn.load_harness(harness).replace("treble_bleed", None)
    h = gn.response(guitar, volume=range(1, 11), **{"cable.length": ["1 m", "6 m"]})
    worst = gn.treble_change(h).worst.values
    assert float(none["worst [dB]"]) == pytest.approx(worst.flat[abs(worst).argmax()], abs=0.06)


def test_choose_bleed_refuses(run, tmp_path):
    done = run("choose_bleed.py", "--within", "0.1", "--series", "E3", "--out", "found")
    assert done.returncode == 2
    assert "no candidate keeps the shape within 0.1 dB; the best reached is" in done.stderr
    assert not (tmp_path / "found").exists()


def test_what_if(run, tmp_path):
    """The numbers of a row, from the library's own functions."""
    done = run("what_if.py", "table.csv")
    assert done.returncode == 0, done.stderr
    rows = {row["change"]: row for row in rows_of(tmp_path / "table.csv")}
    assert len(rows) == 8
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), cable="10 m")
    long = rows["10 m of cable"]
    assert float(long["peak [Hz]"]) == pytest.approx(
        float(gn.peak(gn.response(guitar)).frequency), abs=0.51
    )
    h = gn.response(guitar, volume=[10, 5])
    assert float(long["worst change of shape at 5 [dB]"]) == pytest.approx(
        float(gn.treble_change(h).worst.sel(volume=5)), abs=0.051
    )
    assert float(rows["linear volume"]["level at 5 [dB re 10]"]) > float(
        rows["as it is"]["level at 5 [dB re 10]"]
    )


@pytest.mark.parametrize(("argument", "code"), [("--help", 0), ("--nonsense", 2)])
def test_what_if_takes_no_option_for_a_file(run, tmp_path, argument, code):
    done = run("what_if.py", argument)
    assert done.returncode == code
    assert "usage:" in done.stdout + done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
def test_cable_length(run, tmp_path):
    """Longer is lower, and the length found gives the frequency asked for."""
    done = run("cable_length.py", "--peak", "3.5 kHz", "--per-metre", "33 pF/ft", "--out", "c")
    assert done.returncode == 0, done.stderr
    hertz = [float(row["peak [Hz]"]) for row in rows_of(tmp_path / "c" / "cables.csv")]
    assert len(hertz) == 10
    assert (np.diff(hertz) < 0).all()
    line = next(line for line in done.stdout.splitlines() if line.startswith("3.5 kHz with "))
    guitar = gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p"), cable=gn.Cable(line.split()[3] + " m", "33 pF/ft")
    )
    assert float(gn.peak(gn.response(guitar)).frequency) == pytest.approx(3500, rel=5e-3)
    refused = run("cable_length.py", "--peak", "250 Hz", "--out", "d")
    assert refused.returncode == 2
    assert "the best reached is peak frequency" in refused.stderr
    assert not (tmp_path / "d").exists()
