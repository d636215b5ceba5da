"""Mutation testing: whether some test fails when the code is wrong in one small place.

    python tools/mutate.py --seed 1                 # every mutant of parts, circuit and solve
    python tools/mutate.py --seed 1 --sample 200    # so many of each folder, drawn by the seed
    python tools/mutate.py --again old.jsonl --out new.jsonl     # the same mutants once more
    python tools/mutate.py --again old.jsonl --survivors --out new.jsonl

The checkout is only read: all runs in a copy in a temporary folder, and a mutant lives in the
memory of one forked process. Needs the test extra and ``coverage``, and a system that forks.

How it works. The fast tests (``LEFT_OUT`` in mutation/lines.py names what is left out) run once
under coverage, so that it is known which test reaches which line and how long it takes. A mutant in
the body of a function is compiled and put into the living function of a process forked after the
tests were collected; then the tests that reach its line run, those of files that import its module
by name first, and of these the quickest. Any other (a
default, a table, a class body) is imported afresh in a forked process, and the tests of the few
files that name it or run its module most run. That goes on until a test fails (killed), takes far
longer than it did (timed out: an endless loop, counted as killed), or all have passed, or those
that fit in ``--budget`` seconds of the processor (survived). A line that no test reaches is a
survivor. Tests that were left out or came too late can only make the score larger than is told.

Survivors that no test can kill are listed in tools/mutation.md by their key, with the reason; the
table counts them as survivors, and tells the score without them beside it.
"""

from __future__ import annotations

import argparse
import importlib
import json
import math
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from mutation.lines import FOLDERS, Chooser, line_map
from mutation.mutants import Mutant, mutants
from mutation.processes import KILLED, SURVIVED, TIMED_OUT, UNREACHED, forked, pytest_arguments
from mutation.trying import Living, Run, fresh


def chosen_mutants(root: Path, options: argparse.Namespace) -> list[Mutant]:
    """Draw the mutants that were asked for."""
    every: list[Mutant] = []
    for folder in options.folders:
        found = [
            mutant
            for path in sorted((root / "guitarnet" / folder).rglob("*.py"))
            for mutant in mutants(str(path.relative_to(root)), path.read_text(encoding="utf-8"))
        ]
        draw = random.Random(f"{options.seed}:{folder}")
        found.sort(key=lambda mutant: mutant.key)
        draw.shuffle(found)
        every += found[: options.sample]
    if options.again:
        rows = read_results(options.again)
        if options.survivors:
            rows = {k: r for k, r in rows.items() if r["outcome"] in (SURVIVED, UNREACHED)}
        gone = len(rows.keys() - {mutant.key for mutant in every})
        if gone:
            print(f"{gone} mutants of {options.again} are no more: their statement has changed")
        every = [mutant for mutant in every if mutant.key in rows]
    return every


def read_results(path: Path) -> dict[str, dict]:
    """Rows by key, the last one said."""
    rows = (json.loads(line) for line in path.read_text(encoding="utf-8").splitlines())
    return {row["key"]: row for row in rows}


def table(rows: dict[str, dict], equivalent: set[str]) -> str:
    """Write the score of each folder in Markdown, with the 95 % interval of Wilson."""
    lines = [
        "| folder | mutants | killed | timed out | survived | of these equivalent | score | 95 % "
        "interval | without the equivalent |",
        "|---|--:|--:|--:|--:|--:|--:|--:|--:|",
    ]
    for folder in (*FOLDERS, "all"):
        own = [row for row in rows.values() if folder in (row["folder"], "all")]
        if not own:
            continue
        n = len(own)
        killed = sum(row["outcome"] == KILLED for row in own)
        over = sum(row["outcome"] == TIMED_OUT for row in own)
        same = sum(row["key"] in equivalent and row["outcome"] == SURVIVED for row in own)
        dead = killed + over
        low, high = wilson(dead, n)
        lines.append(
            f"| {folder} | {n} | {killed} | {over} | {n - dead} | {same} | {dead / n:.1%} | "
            f"{low:.1%} to {high:.1%} | {dead / max(n - same, 1):.1%} |"
        )
    return "\n".join(lines)


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """Interval of a share by Wilson's score."""
    share = hits / n
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return middle - half, middle + half


def state_of(project: Path) -> str:
    """Say which source was measured."""

    def git(*command: str) -> str:
        done = subprocess.run(["git", "-C", str(project), *command], capture_output=True, text=True)
        return done.stdout.strip()

    commit = git("rev-parse", "--short", "HEAD")
    if not commit:
        return "a folder without its history"
    return f"commit {commit}" + (", with changes" if git("status", "--porcelain") else "")


def known_equivalent(project: Path) -> set[str]:
    """Keys that tools/mutation.md lists with their reason."""
    path = project / "tools" / "mutation.md"
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    heads = re.findall(r"^- (?:`[0-9a-f]{10}`[,:\s]+)+", text, re.M)
    return set(re.findall(r"`([0-9a-f]{10})`", " ".join(heads)))


def _path(written: str) -> Path:
    return Path(written).resolve()


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--seed", type=int, default=1, help="seed of the drawing and the order")
    parser.add_argument("--sample", type=int, help="mutants of each folder; all unless given")
    parser.add_argument("--folders", nargs="+", choices=FOLDERS, default=list(FOLDERS))
    parser.add_argument("--budget", type=float, default=3, help="seconds of tests for a mutant")
    parser.add_argument("--again", type=_path, help="only the mutants of these results")
    parser.add_argument("--survivors", action="store_true", help="of these, what survived")
    usual = Path(tempfile.gettempdir(), "mutation.jsonl")
    parser.add_argument("--out", type=_path, default=usual, help=f"results; {usual} unless given")
    parser.add_argument("--go-on", action="store_true", help="add to results that are there")
    parser.add_argument("--cache", type=_path, default=usual.parent, help="folder for line maps")
    return parser.parse_args()


def main() -> None:
    """Run what was asked for and print the table."""
    options = arguments()
    project = Path(__file__).resolve().parent.parent
    out = options.out
    if out.exists() and not options.go_on:
        raise SystemExit(f"{out} is there already: remove it, or add --go-on")
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        root = Path(folder).resolve() / "project"
        ignored = shutil.ignore_patterns(".*", "__pycache__", "build", "*.egg-info", "dist")
        shutil.copytree(project, root, ignore=ignored)
        os.chdir(root)
        measure(root, out, options)
    print(table(read_results(out), known_equivalent(project)))
    print(f"of {state_of(project)}")
    for row in read_results(out).values():
        if row["outcome"] in (SURVIVED, UNREACHED):
            print(f"- `{row['key']}` {row['outcome']}: {row['mutant']}")


def measure(root: Path, out: Path, options: argparse.Namespace) -> None:
    """Try every chosen mutant that ``out`` does not hold yet."""
    os.environ |= {"OMP_NUM_THREADS": "1", "MPLBACKEND": "Agg"}
    sys.path.insert(0, str(root))
    for name in ("numpy", "xarray", "scipy.optimize", "scipy.signal", "sympy", "hypothesis"):
        importlib.import_module(name)
    from hypothesis import Phase, settings

    quick = [Phase.explicit, Phase.generate]  # no shrinking
    settings.register_profile(
        "mutation", phases=quick, derandomize=True, database=None, deadline=None
    )
    settings.load_profile("mutation")
    found = line_map(root, options.cache)
    print(f"{len(found['seconds'])} tests, {sum(found['seconds'].values()):.0f} s")
    for name in found["failed"]:
        print(f"left out, for it does not pass without a mutant: {name}")
    chooser = Chooser(root, found)
    todo = chosen_mutants(root, options)
    done = read_results(out).keys() if out.exists() else ()
    todo = [mutant for mutant in todo if mutant.key not in done]
    random.Random(options.seed).shuffle(todo)  # whatever is done when it is stopped is a sample
    run = Run(out, found["seconds"], options.budget)
    print(f"{len(todo)} mutants", flush=True)
    living: list[tuple[Mutant, list[str]]] = []
    early: set[str] = set()  # run when the tests are collected too, before any mutant is put in
    for mutant in todo:
        tests, on_import = chooser.reaching(mutant)
        if mutant.inside and not tests and not on_import:
            run.note(mutant, UNREACHED, "", 0, 0)
        elif mutant.inside and tests:
            living.append((mutant, tests))
            early |= {mutant.key} if on_import else set()
    if living:
        files = sorted(chooser.of_file)
        plugin = Living(root, living, run)
        code, told = forked(lambda: int(pytest.main(pytest_arguments(*files), plugins=[plugin])))
        if code:
            print(f"the tests could not be collected together: exit code {code} {told}", flush=True)
    # What could not be put into a living function, or may have survived only because a test made
    # its parts when it was collected, is imported afresh too.
    there = read_results(out) if out.exists() else {}
    spared = {key for key in early if there.get(key, {}).get("outcome") == SURVIVED}
    anew = [mutant for mutant in todo if mutant.key not in there or mutant.key in spared]
    print(f"{len(anew)} by import", flush=True)
    for mutant in anew:
        fresh(root, mutant, chooser, run)


if __name__ == "__main__":
    main()
