"""Checking a guitar as a person without Python runs it: what it leaves, and what it refuses."""

from __future__ import annotations

import pytest

import guitarnet as gn

FILES = {
    *(
        f"{name}.{ending}"
        for name in ("joints", "parts", "selects", "readings", "faults")
        for ending in ("txt", "csv")
    ),
    *("job-card.html", "job-card.pdf", "schematic.png", "schematic.svg"),
}
DIAGNOSIS = {"diagnosis.txt", "diagnosis.csv"}


@pytest.fixture
def run(example, tmp_path):
    """Run the example in this process."""
    return lambda *options: example("check_guitar.py", *options, "--out", tmp_path / "out")


@pytest.mark.long
def test_the_demonstration_finds_its_fault(run, tmp_path):
    """The invented guitar has a broken middle coil, which four readings give away."""
    done = run()
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    left = {path.name for path in (tmp_path / "out").iterdir()}
    assert left == FILES | DIAGNOSIS
    first = done.stdout.split("same readings")[1].splitlines()[1]
    assert "middle coil broken" in first
    assert "Unplug the guitar" in done.stdout


@pytest.mark.long
def test_an_own_guitar_without_a_switch(run, tmp_path):
    """A harness file, one reading, one symptom: all files; the given one stays as it is."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), name="my guitar")
    file = gn.save_harness(guitar, tmp_path / "g.toml")
    before = (tmp_path / "g.toml").read_bytes()
    done = run(
        *("--harness", file, "--reading", "at=6.05k"),
        *("--symptom", "tone=does nothing", "--paper", "Letter"),
    )
    assert done.returncode == 0, done.stderr
    assert "tone capacitor open" in done.stdout.split("same readings")[1].splitlines()[1]
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES | DIAGNOSIS
    assert "Unplug the guitar" in done.stdout
    assert done.stderr == ""
    assert (tmp_path / "g.toml").read_bytes() == before


@pytest.mark.long
def test_without_readings_there_is_no_diagnosis(run, tmp_path):
    guitar = gn.layouts.pickup_alone(gn.Pickup("6.2k", "2.4 H", "120p"))
    file = gn.save_harness(guitar, tmp_path / "g.toml")
    done = run("--harness", file)
    assert done.returncode == 0, done.stderr
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (
            ["--reading", "nek=6k"],
            "error: readings: there is no switch place 'nek'; did you mean 'neck'?",
        ),
        (["--reading", "6k"], "error: 6k: is no place with a value; write it like neck=6.05k."),
        (
            ["--reading", "neck=6k", "--symptom", "neck=silnt"],
            "error: symptoms: 'silnt' is unknown; did you mean 'silent'?",
        ),
        (
            ["--harness", "none.toml"],
            "error: none.toml: there is no such file; check the name and folder.",
        ),
    ],
)
def test_a_refusal_is_one_sentence_and_leaves_nothing(run, tmp_path, options, message):
    done = run(*options)
    assert done.returncode == 2
    assert done.stderr.strip() == message
    assert not (tmp_path / "out").exists()
