"""The documentation: its code runs and prints what it says, its tables are those of the tests."""

from __future__ import annotations

import ast
import importlib.util
import json
import re
import sys
from pathlib import Path

import mpmath
import numpy as np
import pytest
from agreement import MOST, digits, largest_difference, rows

import guitarnet as gn
from net.names import face

DOCS = Path(__file__).resolve().parents[1] / "docs"


def script(name):
    """A script of the documentation, as a module."""
    spec = importlib.util.spec_from_file_location(name, DOCS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


pages, agreement_table, check_site = map(script, ("pages", "agreement_table", "check_site"))


# -- the pages ------------------------------------------------------------------------------------


DEAR = {
    *("start", "gallery", "catalogue"),
    *(
        f"howto/{job}"
        for job in ("choose_a_cable", "compare_bleeds", "find_a_fault", "fit_a_pickup")
    ),
    "howto/sweep_a_million",
}
"""Pages that take half a minute together: left to the site, whose making runs every page."""


@pytest.mark.parametrize(
    "name",
    [pytest.param(p, marks=pytest.mark.long) if p in DEAR else p for p in pages.pages()],
)
def test_the_code_of_a_page_runs_and_prints_what_the_page_says(name, tmp_path):
    """Every block, in order, in one folder; every figure that the page shows is made by it."""
    figures = pages.run(name, tmp_path / "page")
    text = (DOCS / f"{name}.md").read_text(encoding="utf-8")
    shown = re.findall(rf"_made/{name}/([\w/.-]+)", text)
    assert [one for one in shown if not (tmp_path / "page" / one).exists()] == []
    assert {f"figure-{n + 1}.png" for n in range(figures)} <= set(shown)


def test_pages_that_must_be_there():
    """One for each job of the bench."""
    jobs = {
        f"howto/{job}"
        for job in (
            "check_an_installation",
            "choose_a_cable",
            "compare_bleeds",
            "find_a_fault",
            "fit_a_pickup",
            "hear_it",
            "make_a_live_page",
            "sweep_a_million",
        )
    }
    assert {"start", "gallery", *jobs, *DEAR} <= set(pages.pages())
    listed = (DOCS / "howto" / "index.md").read_text(encoding="utf-8")
    there = {path.stem for path in (DOCS / "howto").glob("*.md")} - {"index"}
    assert set(re.findall(r"^(\w+)$", listed, re.MULTILINE)) == there


OPENS = re.compile(r"\b(solder|at the jack|ohmmeter|exciter coil)\b")


@pytest.mark.parametrize("name", pages.pages())
def test_cautions_stand_where_a_guitar_is_opened_or_measured(name):
    text = (DOCS / f"{name}.md").read_text(encoding="utf-8")
    prose = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    if OPENS.search(prose):
        assert "_cautions.md" in text


def test_the_cautions_are_those_of_the_readme(project):
    said = (DOCS / "_cautions.md").read_text(encoding="utf-8")
    for words in ("Unplug the guitar", "Never open an amplifier", "earth", "goggles", "licensed"):
        assert words in said
        assert words in (project / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("said", "printed", "same"),
    [
        ("a\nb\n", "a\nb\n", True),
        ("a\nb\n", "a\nc\n", False),
        ("a\n", "a\nb\n", False),
        ("a\n...\n", "a\nb\nc\n", True),
        ("...\nc\n", "a\nb\nc\n", True),
        ("a\n...\nd\n", "a\nb\nc\n", False),
        ("a (...).\n", "a (3.5 of 7).\n", True),
        ("a (...).\n", "b (3.5 of 7).\n", False),
        ("a  1\n", "a 1\n", False),
        ("a.c\n", "abc\n", False),
        ("a\n", "a  \n\n", True),
    ],
)
def test_what_counts_as_printed(said, printed, same):
    assert pages.matches(said, printed) is same


def made(tmp_path, monkeypatch, text):
    monkeypatch.setattr(pages, "DOCS", tmp_path)
    (tmp_path / "one.md").write_text(text, encoding="utf-8")
    return lambda **how: pages.run("one", tmp_path / "made", **how)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("```python\nprint(1)\n```\n\n```text\n2\n```\n", "docs/one.md:1: the page says"),
        ("\n```python\n1 / 0\n```\n", r"docs/one.md:2: [\s\S]*ZeroDivisionError"),
        ("```sh\nexit 3\n```\n", "docs/one.md:1: exit code 3"),
        ("```sh\necho no >&2; exit 1\n```\n", "docs/one.md:1: exit code 1\nno"),
        ("```text\n1\n```\n", "one.md:1: a text block follows no code"),
    ],
)
def test_a_page_that_lies_is_found(tmp_path, monkeypatch, text, words):
    with pytest.raises(pages.PageError, match=words):
        made(tmp_path, monkeypatch, text)()


def test_a_page_is_brought_up_to_date_where_no_line_is_left_out(tmp_path, monkeypatch):
    text = "```python\nprint(1)\n```\n\n```text\n{}\n```\n\n```sh\necho a\n```\n\n```text\na\n```\n"
    assert made(tmp_path, monkeypatch, text.format("2"))(update=True) == 0
    assert (tmp_path / "one.md").read_text(encoding="utf-8") == text.format("1")
    with pytest.raises(pages.PageError):
        made(tmp_path, monkeypatch, text.format("...\n2"))(update=True)


def test_an_import_of_the_package_begins_anew(tmp_path, monkeypatch):
    """So that each piece of the gallery stands alone; and installing is for a fresh clone."""
    one, other = "import guitarnet\na = 1", "import guitarnet\nprint(a)"
    text = f"```sh\npip install nothing\n```\n```python\n{one}\n```\n```python\n{other}\n```\n"
    with pytest.raises(pages.PageError, match="name 'a' is not defined"):
        made(tmp_path, monkeypatch, text)()


# -- the reference --------------------------------------------------------------------------------


def test_the_reference_lists_every_public_name_once():
    """Sorted into groups by what one does with them."""
    listed = []
    for page in (DOCS / "api").glob("*.md"):
        if page.stem != "layouts":
            listed += re.findall(r"^   (\w+)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    public = [path for path in face() if not path.startswith("layouts.")]
    assert sorted(listed) == sorted(path.rpartition(".")[2] for path in public)
    layouts = (DOCS / "api" / "layouts.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"^   (\w+)$", layouts, re.MULTILINE)) == sorted(gn.layouts.__all__)
    index = (DOCS / "api" / "index.md").read_text(encoding="utf-8")
    for page in (DOCS / "api").glob("*.md"):
        assert page.stem == "index" or f"\n{page.stem}\n" in index


# -- the agreement table --------------------------------------------------------------------------


def test_largest_difference():
    """Relative to theirs, value by value, also of complex and of very long numbers."""
    assert largest_difference([1.0, 2.0], [1.0, 2.0]) == (0.0, 2)
    worst, count = largest_difference(np.array([1.0, 1.01 + 0j]), [1.0, 1.0])
    assert (worst, count) == (pytest.approx(0.01), 2)
    assert largest_difference([0.0, 1e-30], [0.0, 0.0])[0] == np.inf
    assert largest_difference([float("nan")], [1.0])[0] == np.inf
    assert largest_difference([[1.0], [2.0]], [1.0, 2.0])[1] == 2
    with mpmath.workdps(40):
        long = mpmath.mpf(1) / 3
        assert largest_difference([long * (1 + mpmath.mpf(10) ** -25)], [long])[0] < 2e-25
    with pytest.raises(AssertionError):
        largest_difference([1.0, 2.0], [1.0])


def test_digits():
    assert [digits(x) for x in (0.5, 1e-3, 2e-10, 1e-16, 0.0)] == [0.3, 3.0, 9.7, MOST, MOST]
    assert digits(np.inf) == -np.inf


def test_rows_are_the_worst_of_their_notes():
    note = {"source": "a", "what": "b", "limit": "", "difference": 1e-9, "cases": 2}
    other = {**note, "difference": 1e-5, "cases": 3}
    assert rows([note, other, {**note, "source": "A"}]) == [
        {"source": "A", "what": "b", "cases": 2, "digits": 9.0, "limit": ""},
        {"source": "a", "what": "b", "cases": 5, "digits": 5.0, "limit": ""},
    ]


def test_a_fresh_table_is_compared_with_the_kept_one(tmp_path, capsys):
    """Half a digit is rounding; a row more or less, another count or another limit is not."""
    kept = agreement_table.kept()
    assert agreement_table.differences(kept, kept) == []

    def said(**changes):
        return agreement_table.differences(kept, [{**kept[0], **changes}, *kept[1:]])

    assert said(digits=kept[0]["digits"] + 0.4) == []
    for changes in ({"digits": kept[0]["digits"] - 0.6}, {"cases": 0}, {"limit": "x"}):
        assert len(said(**changes)) == 1
    assert len(said(what="something else")) == 2
    assert len(agreement_table.differences(kept, kept[1:])) == 1
    fresh = tmp_path / "fresh.json"
    fresh.write_text(json.dumps({"rows": kept}), encoding="utf-8")
    assert agreement_table.main([str(fresh)]) == 0
    fresh.write_text(json.dumps({"rows": kept[1:]}), encoding="utf-8")
    assert agreement_table.main([str(fresh)]) == 1
    assert "was not found again" in capsys.readouterr().out


def noted():
    """Sources and subjects that the tests note, as far as they are written out."""
    for file in Path(__file__).parent.glob("test_*.py"):
        text = file.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)) if "agreement(" in text else ():
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "agreement":
                source, what = node.args[:2]
                yield source.value, getattr(what, "value", None)


def test_the_kept_table_holds_what_the_tests_note():
    """Without running them: no row without a check, no check without a row."""
    kept = {(row["source"], row["what"]) for row in agreement_table.kept()}
    notes = set(noted())
    written = {pair for pair in notes if pair[1] is not None}
    assert len(written) > 10
    assert written <= kept
    by_name = {source for source, what in notes if what is None}
    assert {source for source, _ in kept - written} <= by_name
    assert {source for own in agreement_table.KINDS.values() for source in own} <= {
        source for source, _ in kept
    }


def test_the_table_is_written_for_people():
    text = agreement_table.as_markdown(agreement_table.kept())
    assert text.count("\n| ") == len(agreement_table.kept()) + len(agreement_table.KINDS)
    assert "| ngspice | " in text
    assert "≥ 15" in text


RUNS = """
import pytest, sys
for name in sys.argv[1:]:
    pytest.main(["--agreement", f"{name}/table.json", f"{name}/test_{name}.py"])
    print("-- end --")
"""


def test_a_table_is_not_written_where_a_check_fails(tmp_path):
    """What failed or was skipped would make it a lie. Small noting tests under our conftest."""
    import subprocess

    for name in ("conftest.py", "agreement.py"):
        (tmp_path / name).write_bytes((Path(__file__).parent / name).read_bytes())
    lines = {"passes": "pass", "fails": "assert False", "skips": "import pytest; pytest.skip()"}
    for name, line in lines.items():
        code = f"def test_one(agreement):\n    agreement('a', 'b', [1], [1])\n    {line}\n"
        (tmp_path / name).mkdir()
        code += "def test_other():\n    assert False\n"
        (tmp_path / name / f"test_{name}.py").write_text(code, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", RUNS, *lines],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env={"PATH": "", "PYTHONDONTWRITEBYTECODE": "1", "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
    )
    passes, fails, skips, _ = done.stdout.split("-- end --")
    assert "1 passed" in passes
    for said in (fails, skips):
        assert "is not written: 1 checks failed or skipped" in said
    assert [(tmp_path / name / "table.json").exists() for name in lines] == [True, False, False]


# -- the built site -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("<article><h1>a</h1><img src='b.png' alt='c'><a href='#d' id='d'>e</a></article>", ""),
        ("<script src='https://cdn.example/a.js'></script>", "from the network"),
        ("<link rel='stylesheet' href='//fonts.example/a.css'>", "from the network"),
        ("<style>@import 'https://a.example/b.css';</style>", "from the network"),
        ("<p style='background: url(http://a.example/b.png)'></p>", "from the network"),
        (
            '<iframe title="a" srcdoc="&lt;img alt=&quot;b&quot; src=&quot;http://c.example&quot;'
            '&gt;"></iframe>',
            "from the network",
        ),
        ("<img src='b.png' alt=' '>", "no words"),
        ("<iframe srcdoc='a'></iframe>", "no words"),
        ("<article><h1>a</h1><h3>b</h3></article>", "level 3 follows one of level 1"),
        ("<article><h2>a</h2></article>", "0 first headings"),
        ("<a href='gone.html'>a</a>", "which is not there"),
        ("<a href='index.html#gone'>a</a>", "no such place"),
    ],
)
def test_what_a_reader_would_stumble_over_is_found(tmp_path, body, words):
    (tmp_path / "index.html").write_text(f"<html><body>{body}</body></html>", encoding="utf-8")
    said = check_site.findings(tmp_path)
    assert [words in one for one in said] == ([True] if words else [])


def test_a_sheet_that_fetches_a_font_is_found(tmp_path):
    (tmp_path / "index.html").write_text("<p>a</p>", encoding="utf-8")
    (tmp_path / "a.css").write_text("@font-face { src: url(https://a.example/b.woff2) }")
    assert check_site.findings(tmp_path) == [
        "a.css: loads https://a.example/b.woff2 from the network"
    ]
