"""The record: what is confirmed stays, and is found again."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import matplotlib.pyplot as plt
import pytest

import guitarnet as gn
from guitarnet.command.line import main
from guitarnet.errors import BadFile, GuitarnetError
from guitarnet.records import (
    Record,
    certificate,
    certificate_page,
    guitar_sheet,
    history,
    returned,
)

COIL = gn.Pickup("6.2k", "2.4 H", "120p")
HOSTILE = "<script>alert(1)</script>\x1b[2J&\u202e'\"; DROP TABLE entry; --"
DAY = "2026-12-01"
ROD = "single coil, alnico rods"


@pytest.fixture(scope="module")
def guitar():
    return gn.layouts.three_single_coils(COIL, COIL, COIL)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "bench.record"


@pytest.fixture
def record(path):
    with Record(path, begin=True) as opened:
        opened.add("N-12", "pickup", sort=ROD, customer="customer one")
        opened.add("T-7", "guitar", customer="customer one")
        yield opened


def test_what_is_written_is_found_again(path, guitar):
    with Record(path, begin=True) as record:
        record.add("T-7", "guitar")
        numbers = record.write(
            "T-7",
            guitar=guitar,
            readings={"neck": "6.05k", "bridge": "OL"},
            finding="bridge silent",
            remark="rain",
            state="found",
            date=DAY,
            at="66 F",
        )
        assert numbers == (1, 2, 3, 4, 5)
    with Record(path) as record:
        assert record.harness("T-7") == record.harness("T-7", "found") == guitar
        kinds = ["harness", "reading", "reading", "finding", "remark"]
        assert [one.kind for one in record.entries("T-7")] == kinds
        assert record.table("T-7").rows[1:4] == [
            (2, DAY, "reading", "found", "6.05 kΩ at the jack, switch neck at 18.89 °C"),
            (3, DAY, "reading", "found", "OL at the jack, switch bridge at 18.89 °C"),
            (4, DAY, "finding", "found", "bridge silent"),
        ]
        assert record.table().rows == [("T-7", "guitar", "", "", 5, DAY)]
        assert len(record.to_dataframe()) == 5
        assert "schema = 1" in record.to_text()


def test_an_entry_is_corrected_and_never_changed(record, path):
    first, remark = record.write("N-12", readings="7.15k", remark="cold room", date=DAY)
    second = record.correct(first, ohms="7.25k", at="18 C")
    words = record.correct(remark, text="warm room")
    (now, said) = record.entries("N-12")
    assert (now.number, now.ohms, now.celsius, now.corrects) == (second, 7250, 18, first)
    assert (said.number, said.text) == (words, "warm room")
    record.correct(second, why="read on another pickup")
    assert [one.number for one in record.entries("N-12")] == [words]
    told = [row[-1] for row in record.table("N-12", corrected=True).rows]
    assert told[:2] == ["corrected by 3", "corrected by 4"]
    with pytest.raises(GuitarnetError) as refusal:
        record.correct(first, ohms="7k")
    assert str(refusal.value) == "entry 1: was corrected by entry 3; correct that one."
    # Whoever opens the file by other means cannot change an entry either.
    other = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="never changed"):
        other.execute("UPDATE entry SET ohms = 1")
    other.close()


def test_what_is_a_customers_is_erased_out_of_the_file(record, path):
    record.write("N-12", readings="7.15k", remark="secret words of one", date=DAY)
    record.add("N-13", "pickup", customer="customer two")
    record.write("N-13", remark="words of two", date=DAY)
    assert record.erase("customer one") == ("N-12", "T-7")
    held = b"".join(file.read_bytes() for file in path.parent.iterdir())
    assert b"secret words" not in held
    assert b"customer one" not in held
    assert b"words of two" in held
    assert record.names() == ("N-13",)


def test_a_certificate_and_what_comes_back(record):
    """Copper by IEC 60028, 0.393 % a kelvin; 6.95 kΩ at 14 °C are 7.118 kΩ at 20 °C by hand."""
    record.write("N-12", readings="7.15k", at="20 C", accuracy="0.5%", state="shipped", date=DAY)
    cold, _, warm = certificate(record, "N-12").rows
    limit = 0.005 + 0.008 + 2 * 0.00393
    assert cold == pytest.approx(
        (15, *(7150 * (1 - 5 * 0.00393) * by for by in (1, 1 - limit, 1 + limit)))
    )
    assert warm[1] == pytest.approx(7150 * (1 + 5 * 0.00393))
    again = returned(record, "N-12", "6.95k", at="14 C")
    assert again.at_20 == pytest.approx(6950 / (1 - 6 * 0.00393))
    assert again.sound
    assert again.sentence() == (
        "6.95 kΩ at 14 °C is 7.12 kΩ at 20 °C; shipped at 7.15 kΩ: sound, within the 2.1 % of "
        "meters and thermometers."
    )
    half = returned(record, "N-12", "3.5k")
    assert not half.sound
    assert half.sentence().endswith("It is not as it was shipped.")
    warm_hand = returned(record, "N-12", "7.4k")
    assert warm_hand.sentence().endswith("read both once more.")
    assert returned(record, "N-12", "OL").sentence() == (
        "OL: the coil or a lead is open; shipped at 7.15 kΩ at 20 °C."
    )
    # What came back is written down, and does not count as shipped.
    assert len(record.entries("N-12")) == 5
    assert certificate(record, "N-12").shipped.ohms == 7150


def test_all_of_one_sort_and_their_picture(record):
    record.add("N-13", "pickup", sort=ROD)
    record.add("N-14", "pickup", sort="another")
    record.write("N-13", readings="7.4k", at="20 C", date="2026-11-20")
    record.write("N-12", readings="7.15k", at="20 C", date=DAY)
    record.write("N-12", readings="7.2k", at="20 C", date="2026-12-03")
    found = history(record, ROD)
    assert [one.thing for one in found.entries] == ["N-13", "N-12"]
    assert found.ohms == pytest.approx([7400, 7150])
    ax = gn.plots.plot_history(found, limits=("7k", "7.3k"))
    inside, outside = ax.lines[:2]
    assert (list(inside.get_ydata()), list(outside.get_ydata())) == ([7.15], [7.4])
    words = [text.get_text() for text in ax.texts]
    assert words == ["median 7.28 kΩ", "from 7 kΩ", "to 7.3 kΩ"]
    plt.close(ax.figure)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (lambda r: r.add("N-12", "pickup"), "name: 'N-12' is in the record; take another name."),
        (lambda r: r.add("", "pickup"), "name: '' is no name; take letters and figures."),
        (
            lambda r: r.write("N-21", remark="x"),
            "record: there is no 'N-21' in it; did you mean 'N-12'?",
        ),
        (
            lambda r: r.write("N-12"),
            "record: nothing was given to write; give readings, or a remark.",
        ),
        (
            lambda r: r.write("N-12", remark="x", date="1.12.2026"),
            "date: '1.12.2026' is no day; write it like 2026-12-01.",
        ),
        (
            lambda r: r.write("N-12", remark="x", state="ship"),
            "state: there is no 'ship'; did you mean 'shipped'?",
        ),
        (
            lambda r: r.write("T-7", readings="6k"),
            "record: holds no harness of 'T-7'; write one first.",
        ),
        (
            lambda r: r.write("N-12", readings="7.15n"),
            "reading from lead to lead: '7.15n' is a capacitance, not a resistance; write it like "
            "'250k', '4k7' or '6200 ohm'.",
        ),
        (lambda r: r.correct(9, ohms="7k"), "entry: there is no entry 9; take one of table()."),
        (
            lambda r: r.erase("customer on"),
            "customer: nothing is of 'customer on'; did you mean 'customer one'?",
        ),
        (
            lambda r: certificate(r, "N-12"),
            "pickup: 'N-12' was not read before it went out; write its reading first.",
        ),
        (lambda r: certificate(r, "T-7"), "pickup: 'T-7' is a guitar; name a pickup."),
        (
            lambda r: history(r, "x"),
            "sort: no pickup of the sort 'x' was read; name another.",
        ),
    ],
)
def test_refusals_leave_nothing(record, asked, said):
    with pytest.raises(GuitarnetError) as refusal:
        asked(record)
    assert str(refusal.value) == said
    assert record.entries() == ()


def test_what_is_no_record(tmp_path, path):
    text = tmp_path / "some.txt"
    text.write_text("some text that is longer than a head")
    other = tmp_path / "other.db"
    base = sqlite3.connect(other)
    base.execute("CREATE TABLE a (b)")
    base.close()
    newer = tmp_path / "newer.record"
    Record(newer, begin=True).close()
    assert newer.stat().st_mode & 0o777 == 0o600  # its owner's: it may name customers
    base = sqlite3.connect(newer)
    base.execute("PRAGMA user_version = 2")
    base.close()
    damaged = tmp_path / "damaged.record"
    damaged.write_bytes(b"SQLite format 3\0" + bytes(200))
    for file, begin, said in (
        (path, False, "there is no such record; check the name and folder."),
        (text, True, "is no record; name another file."),
        (other, True, "is no record; name another file."),
        (damaged, True, "is damaged; take the last copy of it that is whole."),
        (tmp_path, True, "is a folder; name a file."),
        (
            newer,
            False,
            "was written by a newer version (schema 2, this one reads 1); bring guitarnet up to "
            "date.",
        ),
    ):
        with pytest.raises(BadFile) as refusal:
            Record(file, begin=begin)
        assert str(refusal.value) == f"{file}: {said}"
    assert text.read_text() == "some text that is longer than a head"
    closed = Record(path, begin=True)
    closed.close()
    with pytest.raises(BadFile, match="is closed; open it again"):
        closed.names()


def test_hostile_words_are_words(record, tmp_path):
    """In tables, exported text and pages; the database takes them as they are."""
    record.add(HOSTILE[:8] + "N", "pickup", sort=HOSTILE)
    name = record.names("pickup")[-1]
    record.write(name, readings="7k", remark=HOSTILE, date=DAY)
    record.write("T-7", finding=HOSTILE, work=HOSTILE, date=DAY)
    assert record.entries(name)[-1].text == HOSTILE
    sheet = guitar_sheet(record, "T-7", tmp_path / "sheet.html").read_text()
    made = [certificate(record, name)]
    pages = [sheet, record.table(name)._repr_html_()]
    for labels in (False, True):
        page = certificate_page(made, tmp_path / "certificate.html", labels=labels)
        pages.append(page.read_text())
    for page in pages:
        assert "<script" not in page
        assert "\x1b" not in page
        assert "\u202e" not in page
        assert "&lt;script" in page
    text = record.export(tmp_path / "bench.txt").read_text()
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "DROP TABLE" in text


# -- what happens to a file -----------------------------------------------------------------------


@pytest.mark.long
def test_killed_shared_and_full(tmp_path):
    """Five kills, two processes at once, a limit for the file; by itself it makes 200 kills."""
    tool = Path(__file__).parent.parent / "tools" / "record_kills.py"
    done = subprocess.run(
        [sys.executable, tool, "--kills", "5"], capture_output=True, text=True, cwd=tmp_path
    )
    assert done.stdout.splitlines()[-1:] == ["whole"], done.stdout + done.stderr
    assert "two at once, 10 pairs, lost: []" in done.stdout


# -- the command ----------------------------------------------------------------------------------


@pytest.fixture
def told(tmp_path, monkeypatch, capsys, guitar):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MPLBACKEND", "Agg")
    gn.save_harness(guitar, tmp_path / "mine.toml")

    def run(*words):
        code = main(words)
        out, refused = capsys.readouterr()
        assert refused == ""
        return code, out

    return run


def test_a_guitar_comes_in_and_goes_out(told):
    kept = ("--record", "b.record", "--number", "T-7", "--date", DAY)
    assert told("check", "mine.toml", "neck=6.05k", "bridge=OL", *kept)[0] == 1
    _, said = told("fault", "mine.toml", "neck=6.05k", "bridge=OL", *kept)
    assert "recorded in b.record: T-7, entries 5 to 7\n" in said
    words = ("--work", "joint made anew", "--reading", "bridge=6.05k", "--state", "left")
    told("record", "b.record", "T-7", *words, "--harness", "mine.toml", "--date", DAY)
    _, said = told("record", "b.record", "T-7")
    assert [line.split()[2:4] for line in said.splitlines()[2:]] == [
        ["harness", "found"],
        *([["reading", "found"]] * 2),
        ["finding", "found"],
        *([["reading", "found"]] * 2),
        ["finding", "found"],
        ["harness", "left"],
        ["reading", "left"],
        ["work", "left"],
    ]
    assert told("sheet", "b.record", "T-7") == (0, "written to sheet.html\n")
    page = Path("sheet.html").read_text(encoding="utf-8")
    for words in ("2026-12-01, as found", "2026-12-01, as left", "joint made anew", "lethal"):
        assert words in page


def test_a_pickup_goes_out_and_comes_back(told):
    new = ("--new", "pickup", "--sort", ROD, "--state", "shipped", "--date", DAY)
    told("record", "b.record", "N-12", *new, "--reading", "7.15k", "--customer", "one")
    told("record", "b.record", "H-1", "--new", "pickup", "--reading", "a=3.6k", "--reading", "b=OL")
    code, said = told("certificate", "b.record", "N-12", "--labels", "--out", "l.html")
    assert (code, said.splitlines()[-1]) == (0, "written to l.html")
    again = ("returned", "b.record", "N-12", "6.95k")
    assert told(*again, "--temperature", "14 C")[0] == 0
    assert told("returned", "b.record", "N-12", "5k")[0] == 1
    told("record", "b.record", "--correct", "1", "--reading", "7.2k", "--temperature", "21 C")
    _, said = told("record", "b.record", "N-12", "--all")
    assert "7.2 kΩ from lead to lead at 21 °C" in said
    assert "corrected by" in said
    assert told("history", "b.record", ROD, "--limits", "7k", "7.3k")[0] == 0
    assert Path("history.png").stat().st_size > 10_000
    assert told("record", "b.record", "--export", "b.txt") == (0, "written to b.txt\n")
    assert told("record", "b.record", "--erase", "one")[1] == "erased from b.record: N-12\n"
    assert "N-12" not in told("record", "b.record")[1]
