"""The main job as a person without Python runs it, and the README's promises."""

from __future__ import annotations

import csv
import re
import runpy

import numpy as np
import pytest
from conftest import printer_is_there, run_example

import guitarnet as gn


@pytest.fixture
def run(example, tmp_path):
    """Run the main job in this process."""
    return lambda *options: example("volume_10_and_5.py", *options, "--out", tmp_path / "out")


@pytest.fixture(scope="module")
def own_guitar(project, tmp_path_factory):
    """Output and files of one run with options."""
    folder = tmp_path_factory.mktemp("job") / "out"
    options = ("--resistance", "7k", "--bleed", "150k || 1n", "--cable", "3 m", "--tables")
    done = run_example(project, "volume_10_and_5.py", *options, "--out", folder)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout, folder


def test_the_job_leaves_pictures_a_table_and_a_live_page(own_guitar):
    """Two pictures of some size, a live page and a CSV file, and nothing half-written."""
    _, folder = own_guitar
    names = sorted(path.name for path in folder.iterdir())
    assert [name for name in names if name.endswith(".png")] == [
        f"your-guitar-{kind}.png"
        for kind in (
            "answer",
            "difference-from-volume-10",
        )
    ]
    others = {"answers.txt", "summary.csv", "your-guitar-live.html", "your-guitar-report.html"}
    if printer_is_there():
        others.add("your-guitar-report.pdf")
    assert {name for name in names if not name.endswith(".png")} == others
    assert all(path.stat().st_size > 10_000 for path in folder.glob("*.png"))


def test_the_summary_holds_what_the_library_computes(own_guitar):
    """A row for each build and mark; a sample compared with a direct computation."""
    _, folder = own_guitar
    with (folder / "summary.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 3 * 21
    guitar = gn.layouts.one_pickup(
        gn.Pickup("7k", "2.4 H", "120p"), treble_bleed="150k || 1n", cable="3 m"
    )
    h = gn.response(guitar, volume=[10, 5])
    row = next(r for r in rows if r["build"] == "150 kΩ ∥ 1 nF" and r["volume"] == "5")
    change = gn.treble_change(h).sel(volume=5)
    assert float(row["change_3kHz_dB"]) == pytest.approx(float(change.change[2]), rel=1e-3)
    assert float(row["peak_Hz"]) == pytest.approx(float(gn.peak(h).frequency[1]), rel=1e-3)


def test_the_answers_are_printed(own_guitar):
    """The answer, a table for each of five questions, what was assumed; kept in a file as well."""
    printed, folder = own_guitar
    assert (folder / "answers.txt").read_text(encoding="utf-8")[:-1] in printed
    for letter in "abcde":
        assert f"({letter}) " in printed
    assert "Lossless coil assumed" in printed
    assert re.search(r"^150 kΩ ∥ 1 nF +0 +0 ", printed, re.MULTILINE), "no effect at 10"


def test_a_harness_file_runs(project):
    """The file that ships: its own bleed first, then that of the command line."""
    there = runpy.run_path(str(project / "examples" / "volume_10_and_5.py"))
    file = str(project / "examples" / "single_coil.toml")
    case = there["own_guitar"](there["read_options"](["--harness", file, "--bleed", "680p"]))
    said = "\n".join(map(str, case.tables(cable=True)))
    rows = re.findall(r"^(no bleed|150 kΩ ∥ 1 nF|680 pF) ", said, re.MULTILINE)
    assert rows[:2] == ["150 kΩ ∥ 1 nF", "680 pF"], "table (a)"
    assert case.guitar == gn.load_harness(file)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (
            ("--resistance", "25Ok"),
            "error: Pickup.resistance: '25Ok' is not a value in ohm; "
            "did you mean '250k' (digit zero)?\n",
        ),
        (
            ("--bleed", "1k ||"),
            "error: treble bleed: '1k ||' cannot be read; write it like '1n', '150k || 1n', "
            "'1.2n + 130k' or '100k + (1n || 470k)'.\n",
        ),
        (
            ("--harness", "nothing.toml"),
            "error: nothing.toml: there is no such file; check the name and folder.\n",
        ),
        (
            ("--resistance", "-6.2k"),
            "error: Pickup.resistance: '-6.2k' is negative; give a value above 0 \u03a9 up to "
            "10 M\u03a9 (a coil without resistance does not exist).\n",
        ),
        (
            ("--wiring", "modren"),
            "error: wiring: 'modren' is unknown; did you mean 'modern'?\n",
        ),
        (
            ("--volume", "1k"),
            "error: Pot.resistance: 1 kΩ is unusual, 5 kΩ to 4.9 MΩ is what occurs (25k to 1M: "
            "common practice, no source); write '1M' if you mean that, or insist with "
            "--unusual.\n",
        ),
    ],
)
def test_a_wrong_option_is_answered_by_one_sentence(run, tmp_path, options, message):
    """No traceback, exit code 2, and no folder left behind."""
    done = run(*options)
    assert (done.returncode, done.stderr) == (2, message)
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_is_said_before_anything_is_computed(run, tmp_path):
    """A file stands where the folder should be."""
    (tmp_path / "out").write_text("mine")
    done = run("--resistance", "7k", "--volume", "4k", "--unusual")  # which is not asked about
    assert done.returncode == 2
    assert done.stderr.startswith(f"error: {tmp_path / 'out' / 'answers.txt'}: cannot be written (")
    assert (tmp_path / "out").read_text() == "mine"


def test_the_readme_begins_with_the_job_and_its_commands(project):
    """The job first; two commands set up, one runs the main job, one the tests."""
    text = (project / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    assert text.startswith("# guitarnet\n\nYou wind pickups")
    assert [block.count("\n") for block in blocks[:3]] == [2, 1, 1]
    assert "install" in blocks[0]
    assert "examples/volume_10_and_5.py" in blocks[1]
    assert blocks[2].rstrip().endswith("-m pytest -n auto")
    for target in re.findall(r"\]\(((?!http)[^)#]+)\)", text):
        assert (project / target).exists(), target


def test_the_python_of_the_readme_runs(project, tmp_path, monkeypatch, capsys):
    """Every block is executed as it stands; it has the twelve lines that its heading says."""
    monkeypatch.setenv("MPLBACKEND", "Agg")
    monkeypatch.chdir(tmp_path)
    text = (project / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    assert len(block.strip().splitlines()) - 1 == 12  # and one that is empty
    names: dict = {}
    exec(compile(block, "README.md", "exec"), names)
    printed = " ".join(capsys.readouterr().out.split())
    assert "At volume 10, with 1n instead of none, nothing changes" in printed
    assert "volume high (touched at 10)" in printed
    assert len(names["h"].dims) == 4


def test_the_caption_of_the_readme_is_true(project):
    """At 10 no change at all; at 5 the numbers of its sentences, from the volts."""
    made = {
        bleed: gn.layouts.one_pickup(
            gn.Pickup("6.2k", "2.4 H", "120p"),
            tone_capacitor="47n",
            cable=gn.Cable("6 m", "150 pF/m"),
            treble_bleed=bleed,
        )
        for bleed in ("none", "1n", "150k || 1n")
    }
    volts = np.abs(gn.response(made, volume=[10, 5], frequency=[100, 3000]).values)
    bass, treble = np.moveaxis(20 * np.log10(volts), -1, 0)
    np.testing.assert_allclose(bass[:, 0], bass[0, 0], atol=1e-9)
    np.testing.assert_allclose(treble[:, 0], treble[0, 0], atol=1e-9)
    against = (treble - bass)[:, 1] - (treble - bass)[:, 0]
    text = " ".join((project / "README.md").read_text(encoding="utf-8").split())
    stated = re.search(
        r"3 kHz stands ([\d.]+) dB lower against the bass than at 10, and with 1 nF alone "
        r"([\d.]+) dB higher. With 150 kΩ ∥ 1 nF it stands ([\d.]+) dB lower, and the bass is "
        r"([\d.]+) dB louder",
        text,
    )
    expected = [-against[0], against[1], -against[2], bass[2, 1] - bass[0, 1]]
    assert [float(one) for one in stated.groups()] == pytest.approx(expected, abs=0.051)


def test_notebooks_hold_their_sources(project):
    """Each lesson's stored notebook has the cells of its source, and outputs, and no errors."""
    jupytext = pytest.importorskip("jupytext")
    import nbformat

    lessons = [path for path in (project / "notebooks").glob("*.py") if path.name != "build.py"]
    assert len(lessons) >= 2
    for source in lessons:
        stored = nbformat.read(source.with_suffix(".ipynb"), as_version=4)
        fresh = jupytext.read(source, fmt="py:percent")
        assert [c.source for c in stored.cells] == [c.source for c in fresh.cells], source.name
        for cell in stored.cells:
            if cell.cell_type == "code" and "gn.plot_" in cell.source:
                kinds = [kind for o in cell.outputs for kind in o.get("data", {})]
                assert "image/png" in kinds, f"{source.name}: no picture of {cell.source[:60]!r}"
        outputs = [o for c in stored.cells if c.cell_type == "code" for o in c.outputs]
        assert outputs
        assert not [o for o in outputs if o.output_type == "error"]
        assert source.with_suffix(".ipynb").stat().st_size < 400_000
