"""The command as a person without Python uses it: what it says and leaves, and how it refuses."""

from __future__ import annotations

import contextlib
import csv
import importlib.metadata
import io
import json
import re
import shutil
import subprocess
import sys
from dataclasses import replace

import pytest
from conftest import printer_is_there

import guitarnet as gn
from guitarnet.circuit.harness import CAUTIONS
from guitarnet.command.line import main
from guitarnet.command.options import SHELLS, parser, parsers_of_verbs
from guitarnet.command.start import LAYOUTS, beginning, layout_table, value_table
from guitarnet.command.words import read_readings, read_settings, read_symptoms
from guitarnet.study.bench.verify import verify
from guitarnet.study.choose.bleed_tables import compare_bleeds

VERBS = (
    *("new", "pickups", "draw", "card", "check", "fault", "bleeds", "cable", "wiring"),
    *("choose", "page", "measure", "record", "certificate", "returned", "sheet", "history"),
    "completion",
)
COIL = gn.Pickup("6.2k", "2.4 H", "120p")


@pytest.fixture(scope="module")
def guitars(tmp_path_factory):
    """A folder with one guitar of each kind the tests need."""
    folder = tmp_path_factory.mktemp("guitars")
    gn.save_harness(gn.layouts.two_single_coils(COIL, COIL), folder / "mine.toml")
    gn.save_harness(gn.layouts.one_pickup(COIL, name="one"), folder / "one.toml")
    return folder


@pytest.fixture
def bench(guitars, tmp_path, monkeypatch):
    """A folder to work in, with copies of the guitars and nothing else."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MPLBACKEND", "Agg")  # which the command sets, and which is put back
    shutil.copytree(guitars, tmp_path, dirs_exist_ok=True)
    return tmp_path


@pytest.fixture
def told(bench, capsys):
    """Run the command in this process; give its exit code, what it said, and how it refused."""

    def run(*words):
        code = main(words)
        return code, *capsys.readouterr()

    return run


def left(folder):
    return {path.name for path in folder.iterdir()}


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


# -- from nothing to a fault ----------------------------------------------------------------------


def test_a_day_at_the_bench(told, tmp_path):
    """Begin a file, verify readings, find the fault, as in the help."""
    code, made, refused = told("new", "three_single_coils", "my.toml", "cable=5 m")
    assert (code, refused) == (0, "")
    assert "written to my.toml; edit it, then: guitarnet check my.toml" in made
    before = (tmp_path / "my.toml").read_bytes()

    code, good, refused = told("check", "my.toml", "neck=6.05k", "neck+middle=3.06k")
    assert (code, refused) == (0, "")
    assert "All 2 readings fit a guitar without a fault" in good
    assert left(tmp_path / "my") == {
        f"{name}.{ending}" for name in ("readings", "verified") for ending in ("txt", "csv")
    }

    wrong = ("neck=6.05k", "middle=249k", "bridge=6.1k")
    code, bad, refused = told("check", "my.toml", *wrong)
    assert (code, refused) == (1, "")
    assert "1 of 3 readings cannot come from this guitar without a fault." in bad

    seen = ("--heard", "middle=silent", "--test", "tap:middle=none", "--test", "tap:neck=neck")
    code, found, refused = told("fault", "my.toml", *wrong, *seen)
    assert (code, refused) == (0, "")
    first = rows_of(tmp_path / "my" / "diagnosis.csv")[0]
    assert "middle coil broken" in first["faults with the same readings"]
    for said in (good, bad, found):
        assert CAUTIONS in said
    assert (tmp_path / "my.toml").read_bytes() == before


def test_the_script_is_installed():
    """Packaging makes a command of the name, which begins where the tests begin."""
    (script,) = importlib.metadata.entry_points(group="console_scripts", name="guitarnet")
    assert script.load() is main


# -- each verb ------------------------------------------------------------------------------------


def test_new_lists_layouts_and_values(told):
    """All layouts, each with a sentence; all values of one, with what stands there unless given."""
    code, said, _ = told("new")
    assert code == 0
    assert said == f"{layout_table()}\n"
    assert set(LAYOUTS) == {
        name for name in gn.layouts.__all__ if callable(getattr(gn.layouts, name))
    }
    code, said, _ = told("new", "one_pickup")
    assert code == 0
    assert said == f"{value_table('one_pickup')}\n"
    assert re.search(r"^tone_capacitor +22n$", said, re.MULTILINE)
    assert re.search(r"^treble_bleed +none$", said, re.MULTILINE)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_new_begins_every_layout(told, bench, layout):
    """The file is that guitar, and can be read again as it was written."""
    code, said, refused = told("new", layout, "begun.toml")
    assert (code, refused) == (0, "")
    assert gn.load_harness("begun.toml") == beginning(layout)
    text = (bench / "begun.toml").read_text(encoding="utf-8")
    assert text.startswith(f"# Begun by: guitarnet new {layout}. ")
    assert str(beginning(layout)) in said


def test_new_takes_values_as_they_are_written_on_the_bench():
    """Parameters of the layout, paths to values of parts, ready pickups, none, and a list."""
    made = beginning(
        "two_humbuckers",
        [
            *("neck=7", "bridge=humbucker, 11.9k", "bridge.resistance=9k"),
            *("volume=300k", "bridge_volume.taper=linear", "treble_bleed=150k || 1n"),
            *("cable=5 m", "wiring=50s", "name=a = b"),
        ][:-1],
    )
    hot = gn.ready_pickup(7)
    assert made.parts["neck"] == replace(hot, position="neck")
    assert made.parts["bridge"].resistance == 9000
    assert made.parts["bridge"].inductance == hot.inductance
    assert made.parts["bridge"].source == "", "its source no longer holds"
    assert made.parts["neck_volume"] == gn.Pot("300k", "audio 15%")
    assert made.parts["bridge_volume"] == gn.Pot("300k", "linear")
    assert made.parts["neck_bleed"] == gn.bleed("150k || 1n")
    assert made.parts["cable"].length == 5
    assert beginning("one_pickup", ["tone=none"]).parts.keys() & {"tone"} == set()
    assert beginning("three_single_coils", ["middle.winding=-1"]).parts["middle"].winding == -1
    places = beginning("rotary_tone", ["capacitors=10n, 22n"]).parts["tone"].places
    assert list(places) == ["none", "10 nF", "22 nF"]
    split = beginning("two_humbuckers_push_pull", ["neck.coil_1.resistance=4k"])
    assert split.parts["neck"].coil_1.resistance == 4000


def test_pickups(told):
    """All, one kind, one pickup, and what is nearest to readings."""
    code, said, refused = told("pickups")
    assert (code, refused) == (0, "")
    assert said == f"{gn.catalogue.table()}\n\n{gn.catalogue.kind_table()}\n"
    assert told("pickups", "single coil")[1] == f"{gn.catalogue.table('single coil')}\n"
    assert told("pickups", "9")[1] == f"{gn.catalogue.entry(9)}\n"
    assert told("pickups", "neck humbucker, 12.7k")[1] == f"{gn.catalogue.entry(9)}\n"
    peak = gn.fitting.PeakReading("3 kHz", gn.fitting.Load("200k", "470p"))
    found = gn.catalogue.nearest_pickups(resistance="8.2k", peak=peak, kind="humbucker")
    words = ("resistance=8.2k", "peak=3 kHz", "humbucker", "--load", "200k || 470p")
    assert told("pickups", *words)[1] == f"{found}\n"


def test_new_takes_a_measured_coil_for_both_coils():
    """Four leads: one coil of the catalogue twice."""
    made = beginning("two_humbuckers_push_pull", ["neck=17"]).parts["neck"]
    assert made.connection == "leads"
    assert made.coil_1.inductance == made.coil_2.inductance
    assert made.coil_1.resistance == gn.catalogue.entry(17).pickup.coil_1.resistance


@pytest.mark.long
def test_draw(told, bench):
    """Drawn twice it is the same: no date, no random names, so that versions can be compared."""
    code, said, _ = told("draw", "mine.toml", "--bench", "--out", "drawn")
    assert code == 0
    pictures = {f"{view}.{end}" for view in ("schematic", "bench") for end in ("svg", "png")}
    assert left(bench / "drawn") == {*pictures, "joints.txt", "joints.csv"}
    assert "the side you solder on" in (bench / "drawn" / "bench.svg").read_text(encoding="utf-8")
    assert (bench / "drawn" / "schematic.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (bench / "drawn" / "schematic.svg").read_text(encoding="utf-8")
    assert CAUTIONS in said
    assert f"{gn.load_harness('mine.toml').joints()}\n" in said
    told("draw", "mine.toml", "--bench", "--out", "again")
    for name in left(bench / "drawn"):
        assert (bench / "drawn" / name).read_bytes() == (bench / "again" / name).read_bytes(), name


@pytest.mark.long
def test_card(told, bench):
    """HTML and PDF, with what was given in the head."""
    code, _, refused = told("card", "one.toml", "--paper", "Letter", "--by", "<R. L.>")
    assert (code, refused) == (0, "")
    tables = {f"{n}.{e}" for n in ("joints", "parts", "selects") for e in ("txt", "csv")}
    assert left(bench / "one") == tables | {"job-card.html", "job-card.pdf"}
    assert "&lt;R. L.&gt;" in (bench / "one" / "job-card.html").read_text(encoding="utf-8")
    assert (bench / "one" / "job-card.pdf").read_bytes().startswith(b"%PDF")


def test_card_without_what_a_pdf_needs(told, bench, monkeypatch):
    """Where WeasyPrint is missing nothing is written, and the sentence names the way out."""
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    code, _, refused = told("card", "one.toml")
    assert (code, refused) == (
        2,
        "error: job_card: a PDF needs WeasyPrint and, of the system, Pango, and one of them is "
        "not installed; pip install 'guitarnet[cards]', or give --html-only.\n",
    )
    assert not (bench / "one").exists()
    code, _, _ = told("card", "one.toml", "--html-only")
    assert code == 0
    assert "job-card.pdf" not in left(bench / "one")


def test_check_without_readings(told, bench):
    code, said, _ = told("check", "one.toml", "--temperature", "30", "--leads", "0.5 ohm")
    assert code == 0
    assert left(bench / "one") == {"readings.txt", "readings.csv"}
    assert "coils at 30 °C" in said
    assert "leads 500 mΩ" in said


def test_fault_without_a_switch(told):
    """A symptom of a knob decides where one reading cannot."""
    code, said, _ = told("fault", "one.toml", "at=6.05k", "--heard", "tone=does nothing")
    assert code == 0
    assert "tone capacitor open" in said.split("same readings")[1].splitlines()[1]


@pytest.fixture(scope="module")
def bleeds(tmp_path_factory):
    """Folder and words of one comparison in a guitar with two volumes."""
    folder = tmp_path_factory.mktemp("bleeds")
    guitar = gn.layouts.two_humbuckers(COIL, COIL, name="two volumes")
    gn.save_harness(guitar, folder / "two.toml")
    options = (
        "--place",
        "neck_bleed",
        "--set",
        "switch=neck",
        "--marks",
        "10",
        "7",
        "5",
        "--tables",
    )
    said, refused = io.StringIO(), io.StringIO()
    with (
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(refused),
    ):
        patch.chdir(folder)
        patch.setenv("MPLBACKEND", "Agg")
        # Options between what stands in order, as people type.
        code = main(["bleeds", *options, "--out", "out", "two.toml", "680p"])
    assert (code, refused.getvalue()) == (0, "")
    return folder, said.getvalue()


def test_bleeds_leaves_pictures_tables_and_a_page(bleeds):
    folder, said = bleeds
    pictures = {name for name in left(folder / "out") if name.endswith(".png")}
    assert pictures == {
        "bleeds-answer.png",
        "bleeds-difference-from-neck-volume-10.png",
    }
    others = {"bleeds.txt", "bleeds.csv", "bleeds-live.html", "report.html"}
    if printer_is_there():
        others.add("report.pdf")
    assert left(folder / "out") == pictures | others
    assert (folder / "out" / "bleeds.txt").read_text(encoding="utf-8") in said
    assert "Lossless coil assumed" in said
    assert "switch neck" in " ".join(said.split()), "what was set is told"


def test_bleeds_says_what_the_library_computes(bleeds):
    """A row of the CSV file and a cell of the printed taper against a direct computation."""
    folder, said = bleeds
    guitar = gn.load_harness(folder / "two.toml").replace("neck_bleed", "680p")
    h = gn.response(guitar, neck_volume=[10, 5], switch="neck")
    rows = rows_of(folder / "out" / "bleeds.csv")
    assert {row["build"] for row in rows} == {"no bleed", "680 pF", "50s wiring"}
    row = next(r for r in rows if r["build"] == "680 pF" and r["volume"] == "5")
    change = gn.treble_change(h, "neck_volume").sel(neck_volume=5)
    assert float(row["change_3kHz_dB"]) == pytest.approx(float(change.change[2]), rel=1e-3)
    level = float(gn.effective_taper(h, "neck_volume").sel(neck_volume=5))
    cells = re.search(r"^680 pF +0 +\S+ +(\S+) +\S+$", said.split("(c) ")[1], re.MULTILINE)
    assert float(cells[1]) == pytest.approx(level, abs=0.006)


def test_bleeds_says_why_no_other_wiring_is_compared():
    """Tone controls before the switch are not this volume's own."""
    found = compare_bleeds(gn.layouts.three_single_coils(COIL, COIL, COIL), ["1n"], marks=[5])
    assert found.rewired is None
    assert (
        "no other wiring compared (the tone control does not belong to this pot alone)"
        in found.assumed()
    )


def test_bleeds_compares_what_is_there_first():
    """The guitar's own bleed stands before the others; the other wiring last."""
    guitar = gn.layouts.one_pickup(COIL, treble_bleed="1n", wiring="50s")
    found = compare_bleeds(guitar, ["none", "680p"], marks=[5])
    assert list(found.builds) == ["no bleed", "1 nF", "680 pF", "modern wiring"]
    assert found.marks == (10, 5)
    assert found.other_side().columns[:3] == ("tone", "volume", "wiring")
    assert {row[2] for row in found.other_side()} == {"50s", "modern"}


def test_cable(told, bench):
    """One metre more first; lengths as they were written; a picture of all."""
    code, said, _ = told("cable", "one.toml", "10 ft", "--out", "lengths")
    assert code == 0
    assert left(bench / "lengths") == {"cable.txt", "cable.png"}
    assert (bench / "lengths" / "cable.txt").read_text(encoding="utf-8") in said
    first, second = said.split("\n\n")[1:3]
    assert first.startswith("At volume 10, with cable length 4 m instead of 3 m, the bass")
    assert "with cable length 10 ft instead of 3 m" in second


def test_wiring(told, bench):
    """All four at 10, then turned down; what was set is told; a picture."""
    code, said, _ = told("wiring", "one.toml", "--set", "tone=5", "--out", "ways")
    assert code == 0
    assert left(bench / "ways") == {"wiring.txt", "wiring.png"}
    assert (bench / "ways" / "wiring.txt").read_text(encoding="utf-8") in said
    head, first, *_ = said.split("\n\n")
    assert head == "one, with tone at 5"
    assert first.startswith("At volume 10, with 50s wiring instead of modern wiring, ")
    assert "independent 50s wiring" in said


@pytest.mark.long
def test_choose(told, bench):
    code, said, _ = told(
        *("choose", "one.toml", "130k + 1.2n", "--series", "E6", "--goal", "treble"),
        *("--cable", "1 m", "--cable", "6 m", "--out", "found"),
    )
    assert code == 0
    tables = {f"{n}.{e}" for n in ("choice", "choice-rounding") for e in ("txt", "csv")}
    assert left(bench / "found") == tables | {"choice-front.png", "choice-shape.png"}
    networks = {row["network"] for row in rows_of(bench / "found" / "choice.csv")}
    assert {"none", "none, 50s wiring", "130 kΩ + 1.2 nF"} <= networks
    assert "Ranked by the treble alone" in said


def data_of(page):
    """What a live page holds."""
    (text,) = re.findall(
        r'<script[^>]*type="application/json"[^>]*>(.*?)</script>', page, re.DOTALL
    )
    return json.loads(text)


def test_page_lays_values_over_each_other(told, bench):
    """One setting given twice: two curves, named as they were written; no network."""
    code, said, _ = told(
        *("page", "one.toml", "--set", "cable.length=1 m", "--set", "cable.length=6 m"),
        *("--set", "tone=5", "--title", "<b>Cables</b>"),
    )
    assert (code, said) == (0, "in the folder one: live.html\n")
    page = (bench / "one" / "live.html").read_text(encoding="utf-8")
    assert data_of(page)["labels"] == ["1 m", "6 m"]
    assert data_of(page)["cable"]["differ"]
    marks = {knob["name"]: knob["mark"] for knob in data_of(page)["knobs"]}
    assert marks == {"volume": 5, "tone": 5}
    assert "<b>Cables" not in page


def test_page_lays_guitars_over_each_other(told, bench):
    """By their names, or by their files where two are called alike."""
    told("page", "mine.toml", "one.toml")
    page = (bench / "mine" / "live.html").read_text(encoding="utf-8")
    assert data_of(page)["labels"] == ["two single coils", "one"]
    shutil.copy("one.toml", "other.toml")
    told("page", "one.toml", "other.toml", "--set", "tone=3")
    page = (bench / "one" / "live.html").read_text(encoding="utf-8")
    assert data_of(page)["labels"] == ["one.toml", "other.toml"]
    assert [knob["mark"] for knob in data_of(page)["knobs"]] == [5, 3]


def test_page_of_a_knob_that_has_the_name_of_an_argument(told, bench):
    """A part may be called anything, also as what else the page is given."""
    text = (bench / "one.toml").read_text(encoding="utf-8")
    (bench / "titled.toml").write_text(text.replace("volume", "title"), encoding="utf-8")
    assert told("page", "titled.toml", "--set", "title=7")[0] == 0
    page = (bench / "titled" / "live.html").read_text(encoding="utf-8")
    assert {knob["name"]: knob["mark"] for knob in data_of(page)["knobs"]}["title"] == 7


def test_page_of_a_guitar_with_two_volumes(told, bench):
    """Every control of it is on the page."""
    told("new", "two_humbuckers", "two.toml")
    told("page", "two.toml", "--set", "switch=bridge", "--set", "neck_volume=7")
    page = (bench / "two" / "live.html").read_text(encoding="utf-8")
    marks = {knob["name"]: knob["mark"] for knob in data_of(page)["knobs"]}
    assert marks == {"neck_volume": 7, "neck_tone": 10, "bridge_volume": 10, "bridge_tone": 10}
    assert data_of(page)["switches"][0]["place"] == "bridge"


@pytest.mark.parametrize("shell", SHELLS)
def test_completion(told, shell):
    """A script with every verb in it."""
    code, said, _ = told("completion", shell)
    assert code == 0
    assert all(re.search(rf"\b{verb}\b", said) for verb in VERBS)


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not installed")
@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["ch"], {"check", "choose"}),
        (["new", "two_h"], {name for name in LAYOUTS if name.startswith("two_h")}),
        (["check", "--lea"], {"--leads"}),
        (["draw", "mi"], {"mine.toml"}),
        (["card", "mine.toml", "--paper", "L"], {"Letter"}),
    ],
)
def test_bash_completes(told, bench, words, expected):
    """What a shell offers, by the script and bash itself."""
    _, script, _ = told("completion", "bash")
    (bench / "script").write_text(script, encoding="utf-8")
    lines = [
        "source ./script",
        f"COMP_WORDS=(guitarnet {' '.join(words)}); COMP_CWORD={len(words)}",
        "_shtab_guitarnet",
        'printf "%s\\n" "${COMPREPLY[@]}"',
    ]
    done = subprocess.run(
        ["bash", "-c", "\n".join(lines)], capture_output=True, text=True, timeout=20
    )
    assert {word.strip() for word in done.stdout.split("\n")} - {""} == expected


# -- help -----------------------------------------------------------------------------------------


def test_no_word_at_all_is_help(told):
    assert told() == told("--help")


@pytest.mark.parametrize("verb", [(), *((verb,) for verb in VERBS)])
def test_help_teaches(told, monkeypatch, verb):
    """An example of the verb itself, and the exit codes, in lines that fit."""
    monkeypatch.setenv("COLUMNS", "90")
    code, said, refused = told(*verb, "--help")
    assert (code, refused) == (0, "")
    assert f"\n  {' '.join(('guitarnet', *verb))}" in said.split("Example:")[1]
    assert "Exit code: 0 fine; 2 something given is not right" in said
    assert max(map(len, said.splitlines())) <= 90
    opens_or_measures = verb[:1] not in (*(("new",), ("page",), ("completion",), ("history",)),)
    assert (" ".join(CAUTIONS.split()) in " ".join(said.split())) == opens_or_measures


def test_verbs_are_those_of_the_help():
    assert tuple(parsers_of_verbs(parser())) == VERBS


def test_every_example_of_the_help_can_be_read(monkeypatch):
    """Each line that begins with the command is taken by the parser."""
    import shlex

    whole = parser()
    texts = [whole.epilog, *(own.epilog for own in parsers_of_verbs(whole).values())]
    joined = "\n".join(map(str, texts)).replace("\\\n", " ")
    lines = re.findall(r"^  guitarnet (.*)$", joined, re.MULTILINE)
    assert len(lines) > 15
    for line in lines:
        words = shlex.split(line.partition(" > ")[0])
        own = parsers_of_verbs(whole)[words[0]]
        assert own.parse_known_intermixed_args(words[1:])[1] == [], line


def test_version(told):
    assert told("--version") == (0, f"guitarnet {gn.__version__}\n", "")


# -- words ----------------------------------------------------------------------------------------


def test_readings_as_they_are_noted_down():
    """Place, knob, two lugs, two switches; the same as written out in Python."""
    coils = gn.Humbucker(COIL, COIL, connection="leads")
    guitar = gn.layouts.two_humbuckers_push_pull(coils, coils)
    pull = "neck_volume_pull"
    found = read_readings(
        guitar,
        [
            *("neck = 12k", f"neck, {pull}:coil 1=OL", "neck_volume:5=32k", "at=1k"),
            "neck_volume.high:neck_volume.low=249k",
        ],
    )
    assert found == [
        gn.bench.ResistanceReading("12k", switch="neck"),
        gn.bench.ResistanceReading("OL", switch="neck", **{pull: "coil 1"}),
        gn.bench.ResistanceReading("32k", neck_volume="5"),
        gn.bench.ResistanceReading("1k"),
        gn.bench.ResistanceReading("249k", between=("neck_volume.high", "neck_volume.low")),
    ]


def test_symptoms_and_settings():
    assert read_symptoms(["neck=silent", "bridge=silent", "weak"]) == {
        "silent": ["neck", "bridge"],
        "weak": [None],
    }
    guitar = gn.layouts.one_pickup(COIL)
    written = ["cable.length=1 m", "cable.length=3 m", "tone=5"]
    assert read_settings(guitar, written) == {"cable.length": ["1 m", "3 m"], "tone": "5"}


# -- an installation verified ---------------------------------------------------------------------


def test_ranges_by_hand():
    """A coil beside a volume pot, both at their limits, and the meter: by hand.

    Parallel resistors: textbook. Limits of 5 % and 20 %, and the meter: common practice, no
    source.
    """
    guitar = gn.layouts.one_pickup(COIL, cable=gn.Cable("3 m", resistance_per_metre=0))
    found = verify(guitar, gn.bench.ResistanceReading("6.05k"))

    def beside(coil, pot):
        return coil * pot / (coil + pot) + 0.2  # leads

    low, nominal, high = (
        beside(6200 * (1 + 0.05 * side), 250e3 * (1 + 0.2 * side)) for side in (-1, 0, 1)
    )
    (one,) = found.checked
    assert one.nominal == pytest.approx(nominal, rel=1e-9)
    assert one.low == pytest.approx(low - (0.008 * low + 1), rel=1e-9)
    assert one.high == pytest.approx(high + (0.008 * high + 1), rel=1e-9)
    assert found.fits
    for edge in (one.low, one.high):
        assert verify(guitar, gn.bench.ResistanceReading(edge)).fits
        outside = edge * (1.0001 if edge == one.high else 0.9999)
        assert not verify(guitar, gn.bench.ResistanceReading(outside)).fits


@pytest.mark.parametrize(
    ("ohms", "settings", "words"),
    [
        ("6.05k", {}, "as it should be"),
        ("OL", {}, "open, but should show a value"),
        ("2k", {}, "too low"),
        ("20k", {}, "too high"),
        ("0.3 ohm", {"volume": 0}, "as it should be"),
        ("5k", {"between": ("tone.low", "jack.sleeve")}, "shows a value, but should be open"),
        ("OL", {"between": ("tone.low", "jack.sleeve")}, "as it should be"),
    ],
)
def test_verdicts(ohms, settings, words):
    """At 0 a volume shorts the jack; behind a tone pot's lifted wiper there is a capacitor only."""
    guitar = gn.layouts.one_pickup(COIL)
    if "between" in settings:
        settings = {**settings, "lifted": "tone.wiper"}
    found = verify(guitar, gn.bench.ResistanceReading(ohms, **settings))
    assert found.checked[0].verdict() == words
    assert found.fits == (words == "as it should be")


# -- refusals -------------------------------------------------------------------------------------


SINGLE = "treble_bleed"
PARTS = "amp, bridge, cable, jack, neck, switch, tone, tone_capacitor, treble_bleed, volume"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["chek", "mine.toml"], "guitarnet: there is no verb 'chek'; did you mean 'check'?"),
        (
            ["check"],
            "guitarnet check: needs FILE; guitarnet check --help says how.",
        ),
        (
            ["check", "mine.toml", "--ouf", "x"],
            "guitarnet check: there is no option '--ouf'; did you mean '--out'?",
        ),
        (
            ["check", "none.toml"],
            "none.toml: there is no such file; check the name and folder.",
        ),
        (
            ["draw", "broken.toml"],
            "broken.toml: is not TOML (Invalid value (at line 1, column 10)); mend that place.",
        ),
        (
            ["page", "folder.toml"],
            "folder.toml: is a folder; name a file.",
        ),
        (["card", "bytes.toml"], "bytes.toml: is not UTF-8 text; save it as plain UTF-8 text."),
        (
            ["check", "mine.toml", "nek=6k"],
            "readings: there is no switch place 'nek'; did you mean 'neck'?",
        ),
        (
            ["check", "mine.toml", "6k"],
            "6k: is no place with a value; write it like neck=6.05k.",
        ),
        (
            ["check", "mine.toml", "neck=6Ok"],
            "reading neck: '6Ok' is not a value in ohm; did you mean '60k' (digit zero)?",
        ),
        (
            ["check", "mine.toml", "neck=__import__('os').abort()"],
            "reading neck: \"__import__('os').abort()\" is not a value in ohm; write it like "
            "'250k', '4k7' or '6200 ohm'.",
        ),
        (
            ["check", "mine.toml", "volum:5=6k"],
            "readings: there is no part 'volum'; did you mean 'volume'?",
        ),
        (
            ["check", "mine.toml", "volume:=6k"],
            "volume:=6k: leaves a place out; write it like neck=6.05k or volume:5=32k.",
        ),
        (
            ["check", "one.toml", "neck=6k"],
            "readings: one has no switch, so there is no place 'neck'; write it like at=6.05k.",
        ),
        (
            ["check", "mine.toml", "--temperature", "warm"],
            "--temperature: 'warm' is no temperature; write '21 C' or '70 F'.",
        ),
        (
            ["check", "mine.toml", "--leads=-1 ohm"],
            "--leads: '-1 ohm' is negative; give a value from 0 Ω to 100 Ω.",
        ),
        (["check", "mine.toml", "--out", "one.toml"], "one.toml: is no folder; name another with "
         "--out."),
        (
            ["fault", "mine.toml", "neck=6k", "--heard", "tone does nothing"],
            "--heard: 'tone does nothing' has no equals sign; write it like 'tone=does nothing'.",
        ),
        (
            ["fault", "mine.toml", "neck=6k", "--test", "compass=north"],
            "--test: 'compass=north' has no colon; write it like compass:middle=south.",
        ),
        (
            ["fault", "mine.toml", "neck=6k", "--test", "compass:north"],
            "north: is no coil or place with a value; write it like middle=south.",
        ),
        (
            ["fault", "mine.toml", "neck=6k", "--heard", "silnt"],
            "symptoms: 'silnt' is unknown; did you mean 'silent'?",
        ),
        (
            ["bleeds", "mine.toml", "1k ||"],
            "treble bleed: '1k ||' cannot be read; write it like '1n', '150k || 1n', "
            "'1.2n + 130k' or '100k + (1n || 470k)'.",
        ),
        (
            ["bleeds", "mine.toml", "150k || 1m"],
            "treble bleed: '1m' would be a thousandth of an ohm; write '1M' for a resistor, '1n' "
            "for a capacitor.",
        ),
        (
            ["bleeds", "mine.toml", "--marks", "10"],
            "--marks: holds no mark below 10; give at least one, such as 5.",
        ),
        (
            ["bleeds", "mine.toml", "--marks", "5", "680p"],
            "--marks: '680p' is not a knob mark; give a number from 0 to 10.",
        ),
        (
            ["bleeds", "mine.toml", "--place", "tone"],
            "--place: tone is no two-lug place across a volume pot; name the place of a bleed, "
            "such as treble_bleed; it may be empty.",
        ),
        (
            ["bleeds", "mine.toml", "--set", "tone=5", "--set", "tone=6"],
            "tone: ['5', '6'] is several values; give one.",
        ),
        (
            ["bleeds", "mine.toml", *(f"{n}n" for n in range(1, 9))],
            "bleeds: 10 builds cannot be told apart in one picture; compare up to 8, no bleed and "
            "the other wiring among them.",
        ),
        (
            ["bleeds", "alone.toml"],
            "pickup alone: has no place across a volume pot; add [parts.treble_bleed] with kind "
            '= "Empty" to the file, its lugs a and b joined to the input and the output of the '
            "volume pot.",
        ),
        (
            ["bleeds", "two.toml"],
            "two humbuckers: has 2 places for a treble bleed; give --place neck_bleed, or another "
            "of neck_bleed, bridge_bleed.",
        ),
        (
            ["choose", "mine.toml", "--goal", "trebel"],
            "--goal: there is no 'trebel'; did you mean 'treble'?",
        ),
        (
            ["choose", "mine.toml", "--within", "little"],
            "--within: 'little' is not a number; give a plain number.",
        ),
        (
            ["choose", "mine.toml", "--set", "volume=5"],
            "volume: is the knob that is turned; leave it out.",
        ),
        (
            ["choose", "mine.toml", "--set", "rows=5"],
            f"rows: the harness has no part 'rows'; use one of {PARTS}.",
        ),
        (
            ["page", "mine.toml", "mine.toml"],
            "mine.toml: is given twice; give each file once.",
        ),
        (
            ["page", "mine.toml", "one.toml", "--set", "tone=5", "--set", "tone=6"],
            "--set: a page overlays several guitars, or several values of one setting, not both; "
            "give one of them once.",
        ),
        (
            ["page", "mine.toml", *(f"--set=cable={metres} m" for metres in range(1, 10))],
            "guitars: 9 curves cannot be told apart; give up to 8.",
        ),
        (
            ["page", "mine.toml", "--set", "tone=5", "--set", "tone=6"],
            "tone: moves on the page itself; give it once, to open with.",
        ),
        (
            ["card", "mine.toml", "--paper", "A5"],
            "--paper: 'A5' is unknown; use 'A4' or 'Letter'.",
        ),
        (
            ["new", "two_humbucker"],
            "layout: there is no 'two_humbucker'; did you mean 'two_humbuckers'?",
        ),
        (
            ["new", "one_pickup", "mine.toml"],
            "mine.toml: is there already; name a new file; nothing is written over.",
        ),
        (
            ["new", "one_pickup", "x.toml", "volum=3k"],
            "volum: one_pickup takes no such value; did you mean 'volume'?",
        ),
        (
            ["new", "one_pickup", "x.toml", "volume"],
            "volume: is no name with a value; write it like volume=500k.",
        ),
        (
            ["new", "one_pickup", "x.toml", "volume=25Ok"],
            "volume: '25Ok' is not a value in ohm; did you mean '250k' (digit zero)?",
        ),
        (
            ["new", "hss", "x.toml", "bridge=humbucker, 11.9k"],
            "bridge: 'humbucker, 11.9k' cannot be both its coils; give each, as "
            "bridge.coil_1.resistance=4k and bridge.coil_2.resistance=4k; or the number of one "
            "measured coil.",
        ),
        (
            ["pickups", "peak=3 kHz"],
            "peak: its load is not told; give it, as --load '200k || 470p', with the cable and the "
            "meter's input.",
        ),
        (
            ["pickups", "peak=3 kHz", "--load", "200k || 100k"],
            "--load: '200k || 100k' is no load; write a resistance, a capacitance, or both, as "
            "'200k || 470p'.",
        ),
        (
            ["pickups", "resistance=8k", "--load", "200k"],
            "--load: there is no peak; give peak='3 kHz' too, or leave it out.",
        ),
        (
            ["pickups", "height=8k"],
            "pickups: there is no reading 'height'; use one of inductance, peak, resistance.",
        ),
        (
            ["pickups", "single coi"],
            "pickups: there is no 'single coi'; did you mean 'single coil'?",
        ),
        (["pickups", "30"], "catalogue: there is no pickup 30; give 1 to 29."),
        (
            ["pickups", "single", "coil"],
            "pickups: 2 are asked for; give one kind, number or name, in quotes where it has "
            "spaces.",
        ),
        (
            ["new", "hss", "x.toml", "bridge.resistance=8.2k"],
            "bridge.resistance: each coil has its own; give bridge.coil_1.resistance and "
            "bridge.coil_2.resistance, to each half of what both in series read.",
        ),
        (
            ["new", "hss", "x.toml", "neck=6.05k"],
            "neck: '6.05k' is no pickup; give its DCR as neck.resistance=6.05k, or a number "
                "of the catalogue, 1 to 29.",
        ),
        (
            ["new", "x.toml"],
            "layout: 'x.toml' is a file; put a layout before it, as one_pickup x.toml.",
        ),
        (["new", "one_pickup", "mine.toml/x.toml"], None),
        (
            ["new", "one_pickup", "x.toml", "name=\udcff"],
            "'name=\\udcff': holds bytes that are no UTF-8 text; write it in UTF-8.",
        ),
        (["completion", "bsh"], "completion: there is none for 'bsh'; did you mean 'bash'?"),
    ],
    ids=lambda given: " ".join(given).encode("ascii", "replace").decode() if isinstance(given, list)
    else "",
)  # fmt: skip
def test_a_refusal_is_one_sentence_and_leaves_nothing(told, bench, words, message):
    """Exit code 2, the whole sentence on the error stream, nothing on the other, no file."""
    (bench / "broken.toml").write_text("schema = = 1")
    (bench / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    (bench / "folder.toml").mkdir()
    gn.save_harness(gn.layouts.pickup_alone(COIL), "alone.toml")
    gn.save_harness(gn.layouts.two_humbuckers(COIL, COIL), "two.toml")
    before = left(bench)
    code, said, refused = told(*words)
    assert (code, said) == (2, "")
    if message is None:  # the words of the system differ
        assert refused.startswith(f"error: {words[-1]}: cannot be written (")
    else:
        assert refused == f"error: {message}\n"
    assert left(bench) == before


def test_a_folder_without_rights_is_said_before_anything_is_computed(told, bench, monkeypatch):
    """The system's answer is put in, since one who is root may write anywhere."""
    monkeypatch.setattr("guitarnet.command.words.os.access", lambda *_: False)
    code, _, refused = told("check", "mine.toml", "--out", "shut/out")
    assert code == 2
    assert refused == (
        f"error: {bench}: may not be written to; mend its rights, or name another with --out.\n"
    )


def test_a_name_cannot_steer_the_terminal(told, bench):
    """What someone else wrote into a file is printed without its control characters."""
    guitar = gn.layouts.one_pickup(COIL, name="nice\x1b]0;title\x07\x1b[31m guitar")
    gn.save_harness(guitar, "odd.toml")
    for words in (("check", "odd.toml"), ("check", "odd.toml", "neck=6k")):
        _, said, refused = told(*words)
        assert "nice" in said + refused
        assert "\x1b" not in said + refused
        assert "\x07" not in said + refused


def test_a_file_without_an_ending_gets_a_folder_beside_it(told, bench):
    shutil.copy("one.toml", "guitar")
    code, _, _ = told("check", "guitar")
    assert code == 0
    assert (bench / "guitar_files" / "readings.txt").exists()


def test_stopping_is_no_traceback(told, bench, monkeypatch):
    """As by the keyboard: a word on the error stream, code 130, nothing left."""

    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("guitarnet.study.bench.expected.expected_readings", stopped)
    assert told("check", "one.toml") == (130, "", "stopped\n")
    assert not (bench / "one").exists()


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not installed")
def test_a_reader_that_has_seen_enough_is_no_error(bench):
    """As with ``| head -1``."""
    command = f"{sys.executable} -u -W error -m guitarnet new | head -n 1; exit ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=30)
    assert (done.returncode, done.stdout, done.stderr) == (0, "Ready layouts\n", "")


def test_progress_is_shown_on_a_terminal_only(told, monkeypatch):
    """And taken away again before a refusal."""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    code, _, shown = told("check", "one.toml")
    assert code == 0
    assert shown == "\r\x1b[Kcomputing what the meter must show\r\x1b[K"


def test_a_reading_at_the_jack_names_the_place_of_a_switch():
    """Where the switch stood cannot be guessed from the file."""
    from guitarnet.command.words import read_readings

    coil = gn.Pickup("6.2k", "2.4 H", "120p")
    with pytest.raises(gn.errors.BadSetting) as refusal:
        read_readings(gn.layouts.two_single_coils(coil, coil), ["at=6.05k"])
    assert str(refusal.value) == (
        "readings: at= does not say where switch stood; write it like 'neck=6.05k'."
    )
    (reading,) = read_readings(gn.layouts.one_pickup(coil), ["at=6.05k"])
    assert reading.ohms == 6050


def test_a_file_whose_coils_are_crossed_is_told_first(told, bench):
    """Joined for bobbins wound alike, and said to be wound in opposite directions."""
    coil = gn.Coil("4k", "2 H", "100p")
    guitar = gn.layouts.hss(
        gn.Pickup("6k", "2.3 H", "110p"),
        gn.Pickup("6k", "2.3 H", "110p"),
        gn.Humbucker(coil, coil, connection="leads"),
    )
    gn.save_harness(guitar.replace("bridge.bobbins", "opposite"), bench / "crossed.toml")
    code, said, _ = told("draw", "crossed.toml")
    assert code == 0
    assert said.startswith(
        "Beware: the coils of the bridge cancel the string's signal and double their hum; swap "
        "the two leads of one coil, or say bobbins = 'alike' if the bobbins are wound so.\n"
    )
    assert told("page", "crossed.toml", "mine.toml")[1].startswith("Beware: the coils of the")
