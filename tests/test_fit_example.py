"""Fitting a pickup as a person without Python runs it: what it leaves, and what it refuses."""

from __future__ import annotations

import re
import struct
import tomllib

import numpy as np
import pytest
from conftest import run_example

import guitarnet as gn

FILES = {"data-sheet.png", "data-sheet.txt", "fit.png", "guitar.toml"}
TRUE = gn.Pickup(*(7100, 3.6, 145e-12, 27e3, 0.3), screening_frequency=3100, eddy_order=0.9)


@pytest.fixture
def run(example, tmp_path):
    """Run the example in this process."""
    return lambda *options: example("fit_pickup.py", *options, "--out", tmp_path / "out")


def value_of(text, name):
    """A value and its standard error as the table states them, in SI."""
    unit = {"resistance": "ohm", "inductance": "H", "capacitance": "F"}[name]
    row = re.search(rf"^{name}  +(\S+ \S+)  +(\S+ \S+)", text, re.MULTILINE)
    return tuple(gn.values.read_value(cell, unit) for cell in row.groups())


def invented(path, load=(1e9, 0.0), impedance=False):
    """A curve of a known pickup, as a file, measured through a 1 Mohm instrument."""
    f = np.geomspace(60, 12e3, 80)
    ohm, farad = load
    parts = {"pickup": TRUE, "jack": gn.Jack(), "load": gn.Resistor(ohm, unusual=True)}
    joints = [["pickup.hot", "jack.tip", "load.a"], ["pickup.ground", "jack.sleeve", "load.b"]]
    if farad:
        parts["across"] = gn.Capacitor(farad)
        joints = [[*joints[0], "across.a"], [*joints[1], "across.b"]]
    if impedance:
        z = gn.impedance(gn.Harness(parts, joints), frequency=f).values
        head, columns = "frequency_hz,impedance_ohm,phase_deg", (np.abs(z), np.angle(z, deg=True))
    else:
        parts["instrument"] = gn.AmpInput("1M")
        joints = [[*joints[0], "instrument.tip"], [*joints[1], "instrument.sleeve"]]
        level = gn.level_db(gn.response(gn.Harness(parts, joints), frequency=f)).values
        head, columns = "frequency_hz,magnitude_db", (level + 20 * np.log10(f) - 51,)
    rows = (",".join(f"{x:.6g}" for x in row) for row in zip(f, *columns, strict=True))
    path.write_text("\n".join([f"# invented\n{head}", *rows]) + "\n")
    return path


@pytest.fixture(scope="module")
def shipped(project, tmp_path_factory):
    """Output and files of a run without options."""
    folder = tmp_path_factory.mktemp("fit") / "out"
    return run_example(project, "fit_pickup.py", "--out", folder), folder


def test_without_options_it_runs_on_the_data_that_ships(shipped):
    """Four files and nothing half-written; what is printed is the data sheet."""
    done, folder = shipped
    assert (done.returncode, done.stderr) == (0, "")
    assert {path.name for path in folder.iterdir()} == FILES
    text = (folder / "data-sheet.txt").read_text(encoding="utf-8")
    assert done.stdout.startswith(text)
    for words in ("in the guitar", "impedance at", "Standard errors", "cable 5 m at 100 pF/m"):
        assert words in text
    assert "DC resistance 10.6k; inductance 6.7 H at 120 Hz" in text


def test_the_sheet_agrees_with_the_meters_and_the_residual_is_small(shipped):
    """10.6 kohm and 6.7 H are what the dataset's author states of this pickup."""
    text = (shipped[1] / "data-sheet.txt").read_text(encoding="utf-8")
    for name, stated in {"resistance": 10.6e3, "inductance": 6.7}.items():
        value, error = value_of(text, name)
        assert abs(value - stated) < 2 * error
        assert 0 < error < 0.05 * value
    residuals = re.findall(r"^residual, .+?  +(\d\.\d\d) dB", text, re.MULTILINE)
    assert len(residuals) == 2
    assert all(0 < float(one) < 0.2 for one in residuals)


def test_the_page_is_upright_and_of_a_size_to_print(shipped):
    """A PNG of the proportions of A4 (ISO 216: 210 by 297 mm) with 200 dots an inch on it."""
    data = (shipped[1] / "data-sheet.png").read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", data[16:24])
    assert high / wide == pytest.approx(297 / 210, rel=0.01)
    assert wide / (210 / 25.4) == pytest.approx(200, rel=0.02)
    assert len(data) > 100_000


def test_the_harness_holds_what_was_found(shipped):
    """It loads, says where its values come from, and gives the resonance of the sheet."""
    _, folder = shipped
    guitar = gn.load_harness(folder / "guitar.toml")
    pickup = guitar.parts["pickup"]
    text = (folder / "data-sheet.txt").read_text(encoding="utf-8")
    assert pickup.inductance == pytest.approx(value_of(text, "inductance")[0], rel=1e-3)
    assert pickup.source.startswith("fitted to 2 measured curves")
    assert tomllib.loads((folder / "guitar.toml").read_text(encoding="utf-8"))["name"]
    top = gn.peak(gn.response(gn.layouts.pickup_alone(pickup)))
    stated = re.search(r"^unloaded +(\S+ \S+) +(\S+)", text, re.MULTILINE)
    assert gn.values.read_value(stated[1], "Hz") == pytest.approx(float(top.frequency), rel=5e-3)
    assert float(stated[2]) == pytest.approx(float(top.height), abs=0.06)


def test_what_ships_is_the_measured_set(project):
    """The copies are those that the tests of fitting use, with their source."""
    copies = sorted((project / "examples" / "data").glob("*.csv"))
    assert len(copies) == 3
    for copy in copies:
        original = project / "tests" / "reference" / "measured_pickups" / copy.name
        assert copy.read_bytes() == original.read_bytes()
        assert copy.read_text(encoding="utf-8").startswith("# SOURCE: ")


@pytest.mark.long
def test_own_curves_of_both_kinds_give_the_pickup_back(run, tmp_path):
    """A known pickup, invented curves: every value within twice its standard error, files
    untouched, a page with both kinds of curve."""
    driven = invented(tmp_path / "driven.csv")
    loaded = invented(tmp_path / "loaded.csv", (200e3, 470e-12))
    ohms = invented(tmp_path / "ohms.csv", impedance=True)
    before = [path.read_bytes() for path in (driven, loaded, ohms)]
    options = (driven, ohms, "--load-curve", loaded, "200k", "470p", "--slope", 20)
    done = run(*options, "--dcr", "7.1k", "--name", "mine, $1 $2")
    assert (done.returncode, done.stderr) == (0, "")
    for name in ("resistance", "inductance", "capacitance"):
        value, error = value_of(done.stdout, name)
        assert abs(value - getattr(TRUE, name)) < 2 * error, name
        assert value == pytest.approx(getattr(TRUE, name), rel=0.03), name
    assert "residual, impedance, unloaded" in done.stdout
    assert "mine, $1 $2: data sheet" in done.stdout
    assert [path.read_bytes() for path in (driven, loaded, ohms)] == before
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES


@pytest.mark.long
def test_a_load_that_is_not_quite_known_is_found(run, tmp_path):
    """'about 9n' for a capacitor of 10 nF, the inductance metered."""
    loaded = invented(tmp_path / "loaded.csv", (1e9, 10e-9))
    options = (invented(tmp_path / "a.csv"), "-l", loaded, "none", "about 9n", "--slope", "20")
    readings = ("--dcr", "7.1k", "--inductance", "3.6 H at 120 Hz")
    done = run(*options, *readings)
    assert done.returncode == 0, done.stderr
    found = re.search(r"^about 9n capacitance  +(\S+ \S+)", done.stdout, re.MULTILINE)
    assert gn.values.read_value(found[1], "F") == pytest.approx(10e-9, rel=0.03)


REFUSED = {
    "no curve": (
        ("--dcr", "6k"),
        "curves: none is given; name a CSV file, or give no option at all.",
    ),
    "no file": (("nothing.csv",), "nothing.csv: there is no such file; check the name and folder."),
    "no slope": (
        ("curve.csv",),
        "curve.csv: rises by 20 dB a decade below 250 Hz; give --slope 20 for an exciter coil "
        "without integrator.",
    ),
    "load unclear": (
        ("--load-curve", "curve.csv", "200k", "47Op", "--slope", "20"),
        "Load.capacitance: '47Op' is not a value in F; did you mean '470p' (digit zero)?",
    ),
    "bad resistance": (
        ("curve.csv", "--slope", "20", "--dcr", "25Ok"),
        "resistance: '25Ok' is not a value in ohm; did you mean '250k' (digit zero)?",
    ),
    "bad guitar": (
        ("curve.csv", "--slope", "20", "--wiring", "modern"),
        "unrecognized arguments: --wiring modern; --help says how.",
    ),
    "load incomplete": (
        ("--load-curve", "curve.csv"),
        "argument --load-curve/-l: expected 3 arguments; --help says how.",
    ),
    "a load that was not there": (
        (
            *("--load-curve", "curve.csv", "none", "100n", "--slope", "20"),
            *("--dcr", "7.1k", "--inductance", "3.6 H at 120 Hz"),
        ),
        "100 nF: the model of pickup misses it by 11.4 dB rms; check its load and slope, and that "
        "all curves are of one pickup.",
    ),
}


DEAR = "a load that was not there"
"""A whole fit: its sentence is that of `test_fit.py`, its exit code that of the others."""


@pytest.mark.parametrize(
    "case", [pytest.param(c, marks=pytest.mark.long) if c == DEAR else c for c in REFUSED]
)
def test_what_cannot_be_is_refused_in_one_sentence(example, tmp_path, monkeypatch, case):
    """Exit code 2, no folder, nothing printed but the sentence, the file as it was."""
    monkeypatch.chdir(tmp_path)
    file = invented(tmp_path / "curve.csv")
    before = file.read_bytes()
    options, message = REFUSED[case]
    done = example("fit_pickup.py", *options, "--out", "out")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", f"error: {message}\n")
    assert not (tmp_path / "out").exists()
    assert file.read_bytes() == before


@pytest.mark.long
def test_a_folder_that_cannot_be_is_said_and_what_stands_there_stays(run, tmp_path):
    (tmp_path / "out").write_text("mine")
    curve = invented(tmp_path / "a.csv")
    done = run(curve, "--slope", 20, "--dcr", "7.1k", "--inductance", "3.6 H at 120 Hz")
    assert done.returncode == 2
    assert done.stderr == f"error: {tmp_path / 'out'}: is no folder; name another with --out.\n"
    assert (tmp_path / "out").read_text() == "mine"


def test_help_states_the_cautions(run, tmp_path):
    """Where measuring is described, the usual cautions stand."""
    done = run("--help")
    for words in ("unplug the guitar", "Never open an amplifier", "mains earth", "licensed"):
        assert words in done.stdout
    assert not (tmp_path / "out").exists()
