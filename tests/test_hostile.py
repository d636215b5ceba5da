"""Hostile text and oversized files: what people write is data wherever it comes out again."""

from __future__ import annotations

import ast
import contextlib
import csv
import errno
import io
import itertools
import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

import guitarnet as gn
from guitarnet import files
from guitarnet.command.line import main
from guitarnet.errors import plain
from guitarnet.show.figures.picture import picture
from guitarnet.show.page.bleed_report import bleed_page
from guitarnet.solve.spice import run_ngspice
from guitarnet.study.choose.bleed_tables import compare_bleeds
from guitarnet.table import Table

ROOT = Path(gn.__file__).parent
EVIL = (
    "<script>alert(1)</script>\"'&<img src=x onerror=alert(1)>",
    "]]>--></style></title></script><script>alert(1)</script>",
    "{{ 7*7 }}{% raw %}",
    "$\\frac{$ $x^2$ \\input{/etc/passwd}",
    "\x1b[31mred\x1b[0m\x1b]0;title\x07\x9b2J",
    "\u202eevil\u2066\u200f\u2028\x00\x7f",
    "x\n.control\nshell touch broken\n.endc\n.include '/dev/zero'\n* \u00e9",
    "../../../broken\\..\\CON:",
    '=HYPERLINK("http://x")',
)
"""Markup, templates, formulas, escape sequences, reading direction, SPICE, paths, spreadsheets."""

MIXED = (" ".join(EVIL[:3]), " ".join(EVIL[3:6]), " ".join(EVIL[6:]))
KINDS = ("markup", "templates and what steers", "programs and paths")
"""The same in three, where each is a picture, a card or a page."""

CONTROLS = tuple("\x1b\x9b\x07\x00\x7f\u202e\u2066\u200f\u2028")


def hostile_guitar(evil: str) -> gn.Harness:
    """Evil in every free text: the guitar's name, places, a switch's kind, a taper, sources."""
    pickup = gn.Pickup("6.2k", "2.4 H", "120p", source=evil)
    guitar = gn.layouts.two_single_coils(pickup, pickup, name=evil)
    one, both, other = guitar.parts["switch"].contacts
    contacts = {f"1 {evil}": one[1], f"2 {evil}": both[1], f"3 {evil}": other[1]}
    lugs = guitar.parts["switch"].all_lugs
    guitar = guitar.replace("switch", gn.Switch(contacts, lugs, kind=evil, source=evil))
    return guitar.replace("volume.taper", gn.Taper(evil, base=10.0))


class Seen(HTMLParser):
    """Tags, attributes and text of a page; text of scripts and styles by itself."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text, self.inside = "", ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        self.inside = tag if tag in ("script", "style") else ""

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if not self.inside:
            self.text += data


def check_page(page: str, like: str, evil: str) -> None:
    """A page with evil has the elements of the same page without it, and nothing that steers."""
    seen, harmless = Seen(page), Seen(like)
    assert seen.tags.count("script") == harmless.tags.count("script")
    assert set(seen.tags) <= set(harmless.tags)
    assert not [name for name, _ in seen.attributes if name.startswith("on")]
    assert not any(control in seen.text for control in CONTROLS)


# -- pages ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("evil", EVIL)
def test_tables_in_notebooks(evil):
    """Columns, cells, title and note."""
    page = Table((evil, "b"), [(evil, 1)], evil, evil)._repr_html_()
    check_page(page, Table(("a", "b"), [("c", 1)], "d", "e\nf")._repr_html_(), evil)
    if "\n" not in evil and evil.isprintable():
        assert Seen(page).text.count(evil) == 4
    guitar = hostile_guitar(evil)
    for table in (guitar.part_table(), guitar.joints(), gn.truth_table(guitar)):
        assert "<script" not in table._repr_html_()
        assert "onerror=alert(1)>" not in table._repr_html_()


def job_card_of(words: str, folder: Path) -> str:
    """A card with these words for name, places, notes, who and when."""
    head = dict.fromkeys(("by", "notes", "number", "date"), words)
    return gn.job_card(hostile_guitar(words), folder / "card.html", **head).read_text("utf-8")


def live_page_of(words: str, folder: Path) -> str:
    """A live page with these words for title, notes and the label of a build."""
    guitar = hostile_guitar(words)
    builds = {words: guitar, "other": guitar.replace("treble_bleed", "1n")}
    h = gn.response(builds, volume=[10, 5, 0])
    return gn.live_page(h, title=words).save(folder / "live.html").read_text("utf-8")


@pytest.fixture(scope="module")
def harmless(tmp_path_factory):
    """The same card and live page with nothing evil on them."""
    folder = tmp_path_factory.mktemp("harmless")
    return job_card_of("nothing", folder), live_page_of("nothing", folder)


@pytest.mark.parametrize("evil", MIXED, ids=KINDS)
def test_job_card(tmp_path, harmless, evil):
    """Name, places, notes, who and when."""
    page, like = job_card_of(evil, tmp_path), harmless[0]
    check_page(page, like, evil)
    assert "49" not in "".join(set(Seen(page).text.split()) - set(Seen(like).text.split()))


@pytest.mark.parametrize("evil", MIXED[:2], ids=KINDS[:2])
def test_live_pages(tmp_path, harmless, evil):
    """A live page of an array: titles, labels of builds, notes."""
    page = live_page_of(evil, tmp_path)
    seen, like = Seen(page), Seen(harmless[1])
    assert seen.tags.count("script") == like.tags.count("script")
    assert "img" not in set(seen.tags) - set(like.tags)
    assert not any(control in page for control in CONTROLS)


def test_page_of_bleeds(tmp_path):
    """A guitar's name stands in its title and in its tables."""
    evil = EVIL[0]
    pickup = gn.Pickup("6.2k", "2.4 H", "120p")
    guitar = gn.layouts.one_pickup(pickup, name=evil)
    found = compare_bleeds(guitar, ["1n"])
    file = bleed_page(found).save(tmp_path / "bleeds.html")
    page = file.read_text(encoding="utf-8")
    assert "<script>alert" not in page
    assert "<img src=x" not in page


@pytest.mark.parametrize("evil", MIXED, ids=KINDS)
def test_drawings_and_figures(evil):
    """No markup in SVG, no formula, no letter that a font cannot have; warnings are errors."""
    import matplotlib.pyplot as plt

    guitar = hostile_guitar(evil)
    drawn = picture(gn.draw(guitar, title=evil), "svg").decode("utf-8")
    assert "<script" not in drawn
    assert "<img" not in drawn
    places = list(guitar.parts["switch"].places)
    with contextlib.suppress(gn.errors.BadSetting):  # curves alike are said, not drawn
        axes = gn.plot_response(gn.response(guitar, switch=places))
        assert "<script" not in picture(np.ravel(axes)[0].figure, "svg").decode("utf-8")
    plt.close("all")


# -- SPICE ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("evil", EVIL)
def test_spice_text(evil):
    """Free text never reaches it: nothing but plain letters, comments and cards."""
    text = gn.formulas.to_spice(hostile_guitar(evil), switch=f"2 {evil}")
    harmless = gn.formulas.to_spice(hostile_guitar("nothing"), switch="2 nothing")
    assert text.isascii()
    assert text == harmless


def test_ngspice_runs_it_and_nothing_else(ngspice, tmp_path, monkeypatch):
    """The shell command in a name is no command."""
    monkeypatch.chdir(tmp_path)
    evil = EVIL[6]
    _, volts = run_ngspice(gn.formulas.to_spice(hostile_guitar(evil), per_decade=2))
    assert abs(volts).min() > 0
    assert list(tmp_path.iterdir()) == []


# -- spreadsheets ---------------------------------------------------------------------------------


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r", "\n", " =", "\uff1d", "\uff20"])
def test_no_formula_in_a_spreadsheet(tmp_path, first):
    """A cell or a column's name that a spreadsheet would compute is text, by a leading quote.

    The characters are those of OWASP, "CSV Injection" (the wide ones and a leading space added).
    """
    words = f"{first}cmd|' /C calc'!A0"
    Table((words, "b"), [(words, 2.5)]).to_csv(tmp_path / "table.csv")
    with (tmp_path / "table.csv").open(newline="", encoding="utf-8") as stream:
        rows = list(csv.reader(stream))
    shown = plain(words) if first in "\t\r\n" else f"'{words}"
    assert rows == [[shown, "b"], [shown, "2.5"]]
    assert shown[0] in "'\\"
    Table(("a",), [(f"x{words}",)]).to_csv(tmp_path / "table.csv")
    with (tmp_path / "table.csv").open(newline="", encoding="utf-8") as stream:
        assert [row[0][:1] for row in csv.reader(stream)] == ["a", "x"]


def test_numbers_in_a_spreadsheet_stay_numbers(tmp_path):
    cells = [-1.5, 0, 3, "-3", "+4.5", "-1e-3", "\u22122", "-", "\u2014", "", None]
    Table(("value",), [(cell,) for cell in cells]).to_csv(tmp_path / "table.csv")
    with (tmp_path / "table.csv").open(newline="", encoding="utf-8") as stream:
        read = ["".join(row) for row in csv.reader(stream)][1:]
    assert read == ["" if cell is None else str(cell) for cell in cells]


# -- terminals ------------------------------------------------------------------------------------


@pytest.mark.parametrize("evil", EVIL)
def test_terminal(evil):
    """Nothing steers the terminal or turns the reading direction: tables and errors."""
    guitar = hostile_guitar(evil)
    said = [str(guitar), repr(guitar.part_table()), str(gn.truth_table(guitar))]
    said += [str(Table((evil,), [(evil,)], evil, evil))]
    with pytest.raises(gn.GuitarnetError) as caught:
        guitar.replace(evil, 3)
    said.append(str(caught.value))
    assert "\n" not in said[-1]
    with pytest.raises(gn.GuitarnetError) as caught:
        gn.response(guitar, switch=evil * 1000)
    said.append(str(caught.value))
    assert len(said[-1]) < 1300
    for words in said:
        assert all(c.isprintable() or c == "\n" for c in words), words


def test_plain_text_keeps_spaces_and_says_the_rest():
    assert plain("5\u00a0k\u2009Ω") == "5 k Ω"
    assert plain("a\x1b\u202e\ud800\n") == "a\\x1b\\u202e\\ud800\\n"
    assert plain(3.5) == "3.5"


# -- file names -----------------------------------------------------------------------------------


@pytest.mark.parametrize("evil", EVIL)
def test_no_file_is_named_after_a_guitar(tmp_path, monkeypatch, evil):
    """A path in a name leads nowhere: all that is written lies in the folder that was asked for."""
    bench = tmp_path / "deep" / "bench"
    bench.mkdir(parents=True)
    monkeypatch.chdir(bench)
    gn.save_harness(hostile_guitar(evil), "mine.toml", comment=evil)
    with contextlib.redirect_stdout(io.StringIO()) as said:
        assert main(["check", "mine.toml"]) == 0
    assert all(c.isprintable() or c == "\n" for c in said.getvalue())
    made = {str(file.relative_to(tmp_path)) for file in tmp_path.rglob("*") if file.is_file()}
    below = {"mine.toml", "mine/readings.txt", "mine/readings.csv"}
    assert made == {f"deep/bench/{name}" for name in below}


# -- harness files are data -----------------------------------------------------------------------

CODE = (
    "__import__('os').system('touch broken')",
    "{0.__class__.__init__.__globals__}",
    "!!python/object/apply:os.system ['touch broken']",
    "lambda: open('broken', 'w')",
    "exec(\"open('broken','w')\")",
    "${HOME}`touch broken`",
    "%(name)s",
)


@pytest.mark.parametrize("code", CODE)
def test_a_harness_file_is_data_only(tmp_path, monkeypatch, code):
    """Code in every text of a file is text: it is kept, and no process or code object is made."""
    monkeypatch.chdir(tmp_path)
    guitar = hostile_guitar(code)
    file = gn.save_harness(guitar, "mine.toml", comment=code)
    assert gn.load_harness(file) == guitar
    gn.response(guitar, frequency=[1000.0])  # what is imported when needed is imported now
    forbidden = ("exec", "compile", "os.system", "os.exec", "subprocess.Popen", "socket.connect")
    heard: list[str] = []
    with _listening(heard):
        again = gn.load_harness(file)
        gn.response(again, frequency=[1000.0])
        str(again), again.joints()._repr_html_()
    assert "open" in heard
    assert [event for event in heard if event in forbidden] == []
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]


_HEARD: list[list[str]] = []


@contextlib.contextmanager
def _listening(heard: list[str]):
    """Hear what Python's audit tells; a hook stays for good, so one serves all tests."""
    if not _HEARD:
        _HEARD.append([])
        sys.addaudithook(lambda event, _: _HEARD[-1].append(event) if len(_HEARD) > 1 else None)
    _HEARD.append(heard)
    try:
        yield
    finally:
        _HEARD.pop()


def test_a_kind_is_one_of_ours():
    """No class by its dotted name, no attribute, no base class of all parts."""
    for kind in ("os.system", "Part", "builtins.eval", "Pot.__init__", "", "pot"):
        data = {"schema": 1, "parts": {"a": {"kind": kind}}}
        with pytest.raises(gn.errors.BadFile, match="kind"):
            gn.harness_from_dict(data)


# -- limits ---------------------------------------------------------------------------------------


def _jacks(count):
    return {f"p{number}": {"kind": "Jack"} for number in range(count)}


def _nested(depth):
    part = {"kind": "Resistor", "resistance": "1k"}
    for level in range(depth):
        form = "series" if level % 2 else "parallel"
        part = {"kind": "Network", "form": form, "elements": [part, part]}
    return part


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"parts": _jacks(501)}, "harness: has 501 parts; a guitar has at most 500."),
        ({"parts": _jacks(1001)}, "harness: has a list of 1001; write at most 1000."),
        (
            {"parts": _jacks(1), "joined": [["a.b", "c.d"]] * 1001},
            "harness: has a list of 1001; write at most 1000.",
        ),
        (
            {"parts": _jacks(1), "joined": [["p0.tip"] * 1001]},
            "harness: has a list of 1001; write at most 1000.",
        ),
        (
            {"parts": _jacks(1), "name": "x" * 2001},
            "harness: has a text of 2001 characters; write at most 2000.",
        ),
        ({"parts": {"a": _nested(15)}}, "harness: is nested too deep; write it more simply."),
        (
            {"parts": {"a": _nested(11)}},
            "harness, parts.a.elements, network: is nested over 10 deep; write it more simply.",
        ),
        (
            {"parts": {"a" * 41: {"kind": "Jack"}}},
            f"harness, part {'a' * 40!r}: cannot be a part's name; use a letter and then letters, "
            "digits or underscores, 40 at the most.",
        ),
    ],
)
def test_limits_of_a_harness(data, message):
    with pytest.raises(gn.errors.BadFile) as caught:
        gn.harness_from_dict({"schema": 1, **data})
    assert str(caught.value) == message


@pytest.mark.parametrize(
    "data",
    [
        {"parts": _jacks(500)},
        {"parts": _jacks(1), "joined": [["a.b", "c.d"]] * 1000},
        {"parts": _jacks(1), "joined": [["p0.tip"] * 1000]},
        {"parts": _jacks(1), "name": "x" * 2000},
    ],
)
def test_a_limit_itself_is_allowed(data):
    """What is refused of it is another thing."""
    with pytest.raises(gn.errors.BadFile) as caught:
        gn.harness_from_dict({"schema": 1, **data})
    assert "at most" not in str(caught.value)


def test_limits_of_a_harness_file(tmp_path):
    """Characters, depth of brackets, digits of a number: said before anything is made of it."""
    file = tmp_path / "mine.toml"
    for text, words in (
        ("#" * 1_000_001, "has 1000001 characters; a harness has at most 1000000."),
        ("a = " + "[" * 5000, "is nested too deep; write it more simply."),
        ("schema = 1\na = " + "9" * 5000, "is not TOML ("),
    ):
        file.write_text(text)
        with pytest.raises(gn.errors.BadFile) as caught:
            gn.load_harness(file)
        assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("x" * 10_001, ", line 1: has 10001 characters; a line of numbers has at most 10000."),
        (
            "frequency_hz,magnitude_db\n1,2\n1," + "9" * 20_000,
            ", line 3: has 20002 characters; a line of numbers has at most 10000.",
        ),
        (
            "frequency_hz,magnitude_db" + ",x" * 199 + "\n",
            ": has 201 columns; keep frequency_hz,magnitude_db,impedance_ohm,phase_deg.",
        ),
        ("\n" * 1_000_001, ": has 1000001 lines; keep 1000000 at the most."),
        (
            " " * 20_000_001,
            ": has 20000001 bytes; give a file of at most 20000000 bytes.",
        ),
    ],
)
def test_limits_of_a_data_file(tmp_path, text, message):
    file = tmp_path / "curve.csv"
    file.write_text(text)
    with pytest.raises(gn.errors.BadFile) as caught:
        gn.fitting.read_curve(file, load=gn.fitting.Load("10M"))
    assert str(caught.value) == f"{file}{message}"


def test_limit_of_a_sound_file(tmp_path):
    """A gigabyte of nothing is not read."""
    file = tmp_path / "note.wav"
    with file.open("wb") as stream:
        stream.truncate(2**30 + 1)
    with pytest.raises(gn.errors.BadFile) as caught:
        gn.audio.read_sound(file)
    assert str(caught.value) == (f"{file}: is too large for memory; cut out the part to listen to.")


# -- whole or not at all --------------------------------------------------------------------------


def _written():
    """Every public writer, as a function of a path."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"))
    h = gn.response(guitar, volume=list(range(11)))
    clip = gn.audio.sound(np.sin(np.arange(100.0)) / 2)
    return {
        "text": lambda path: files.write_text(path, "text"),
        "bytes": lambda path: files.write_bytes(path, b"bytes"),
        "harness": lambda path: gn.save_harness(guitar, path),
        "table": lambda path: guitar.part_table().to_csv(path),
        "sound": lambda path: gn.audio.write_sound(path, clip),
        "live page": lambda path: gn.live_page(h).save(path),
    }


@pytest.mark.parametrize("name", list(_written()))
@pytest.mark.parametrize("step", ["write", "replace"])
def test_a_full_disk_leaves_the_old_file(tmp_path, monkeypatch, name, step):
    """Whatever fails on the way, the file is the old one and nothing lies beside it."""
    file = tmp_path / "file"
    file.write_text("old")
    write = _written()[name]

    def full(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        if step == "replace":
            patch.setattr(files.os, "replace", full)
        else:
            patch.setattr(Path, "write_bytes", full)
        with pytest.raises(gn.errors.BadFile) as caught:
            write(file)
    assert str(caught.value) == (
        f"{file}: cannot be written (No space left on device); check the folder and its rights."
    )
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
    assert file.read_text() == "old"
    write(file)
    assert file.read_bytes() != b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_files_that_belong_together_appear_together(tmp_path):
    """One that cannot be written leaves the others unwritten too."""
    target = tmp_path / "new" / "folder"
    with files.together(target) as beside:
        files.write_text(beside / "a.txt", "a")
        files.write_text(beside / "b.txt", "b")
        assert not target.exists()
    assert sorted(path.name for path in target.iterdir()) == ["a.txt", "b.txt"]
    for trouble in (
        gn.errors.BadSetting("x", "y", "z"),
        OSError(errno.EIO, "broken"),
        KeyboardInterrupt(),
    ):
        with (
            pytest.raises((gn.GuitarnetError, KeyboardInterrupt)),
            files.together(target) as beside,
        ):
            files.write_text(beside / "a.txt", "other")
            raise trouble
    (target / "c.txt").mkdir()
    with pytest.raises(gn.errors.BadFile, match="is a folder"), files.together(target) as beside:
        files.write_text(beside / "a.txt", "other")
        files.write_text(beside / "c.txt", "other")
    assert (target / "a.txt").read_text() == "a"
    assert sorted(path.name for path in target.iterdir()) == ["a.txt", "b.txt", "c.txt"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["new"]


def test_a_verb_leaves_all_its_files_or_none(tmp_path, monkeypatch):
    """A folder stands where the last file should: the first ones are not written either."""
    monkeypatch.chdir(tmp_path)
    pickup = gn.Pickup("6.2k", "2.4 H", "120p")
    gn.save_harness(gn.layouts.one_pickup(pickup), "mine.toml")
    Path("out", "joints.csv").mkdir(parents=True)
    told = io.StringIO()
    with contextlib.redirect_stderr(told), contextlib.redirect_stdout(io.StringIO()) as said:
        assert main(["draw", "mine.toml", "--out", "out"]) == 2
    assert told.getvalue() == (
        f"error: {Path('out', 'joints.csv')}: is a folder; remove it, or name another.\n"
    )
    assert said.getvalue() == ""
    assert [path.name for path in Path("out").iterdir()] == ["joints.csv"]


_MAY_WRITE = {"files.py"}
_WRITERS = {
    "write_text",
    "write_bytes",
    "savefig",
    "tofile",
    "to_netcdf",
    "savetxt",
    "dump",
}


def test_every_writer_goes_through_one_place():
    """No file of the package opens a file for writing itself, but files.py.

    Figures go into memory first; ngspice's input lies in a temporary folder; a Zarr store is made
    beside its name and renamed, then filled chunk by chunk with a record of what is done.
    """
    found = set()
    for file in sorted(ROOT.rglob("*.py")):
        if file.name in _MAY_WRITE:
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = node.func
            name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
            if name not in ("open", *_WRITERS):
                continue
            arguments = [ast.unparse(a) for a in itertools.chain(node.args, node.keywords)]
            if name == "open" and any(a.strip("'\"") in ("w", "wb", "a", "x") for a in arguments):
                found.add((file.name, "open"))
            if isinstance(called, ast.Attribute) and name in _WRITERS:
                found.add(
                    (file.name, f"{ast.unparse(called)}({arguments[0] if arguments else ''})")
                )
    allowed = {
        ("spice.py", "deck.write_text(text)"),  # in a temporary folder
    }
    in_memory = {(name, call) for name, call in found if call.endswith("savefig(stream)")}
    assert found - allowed - in_memory == set()
    assert allowed <= found


def test_examples_write_through_it_too(project):
    """An example is what people copy."""
    for file in sorted((project / "examples").glob("*.py")):
        text = file.read_text(encoding="utf-8")
        assert ".write_text(" not in text.replace("files.write_text(", ""), file.name
        assert "savefig(" not in text, file.name
        assert "open(" not in text, file.name


def test_nothing_is_left_where_the_process_is_killed(tmp_path):
    """Killed on the way the target is untouched; what lies beside goes with the next writing."""
    file = tmp_path / "file.txt"
    file.write_text("old")
    code = (
        "import os, sys\n"
        "from guitarnet import files\n"
        "files.os.replace = lambda *_: os._exit(9)\n"
        "files.write_text(sys.argv[1], 'new' * 1000)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, str(file)], timeout=60, check=False)
    assert done.returncode == 9
    assert file.read_text() == "old"
    others = [path.name for path in tmp_path.iterdir() if path != file]
    assert len(others) == 1
    assert re.fullmatch(r"\.guitarnet\.[0-9a-f]{16}", others[0])
    gn.layouts.pickup_alone(gn.Pickup("6k", "2 H", "100p")).part_table().to_csv(file)
    assert [path.name for path in tmp_path.iterdir()] == ["file.txt"]
