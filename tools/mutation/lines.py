"""Which test reaches which line, and how long it takes."""

from __future__ import annotations

import hashlib
import json
import signal
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from .mutants import Mutant
from .processes import forked, pytest_arguments

FOLDERS = ("parts", "circuit", "solve")
LEFT_OUT = (
    "notebooks course live_array live_page live_sound ngspice lcapy fuzz example choose_examples "
    "check_example fit_example command job_card figures choose_figures impedance_figure draw "
    "draw_check diagnose recover sound choose_match fit"
)
SLOW = 4.0  # seconds of the processor; a slower test is left out


def test_files(root: Path) -> list[str]:
    """Test files that run in this process and in short time."""
    left_out = {f"test_{name}.py" for name in LEFT_OUT.split()}
    found = sorted((root / "tests").glob("test_*.py"))
    return [f"tests/{path.name}" for path in found if path.name not in left_out]


class Map:
    """Plugin that records, for every test, its lines and its time."""

    def __init__(self, root: Path) -> None:
        import coverage

        include = [f"{root}/guitarnet/{folder}/*" for folder in FOLDERS]
        self.coverage = coverage.Coverage(data_file=None, include=include, config_file=False)
        self.coverage.start()
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Take the time of a test, and note its lines under its name."""

        def stop(*_: object) -> None:
            raise TimeoutError("slow")

        self.coverage.switch_context(item.nodeid)
        signal.signal(signal.SIGPROF, stop)
        signal.setitimer(signal.ITIMER_PROF, 2 * SLOW)
        began = time.process_time()
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
            self.seconds[item.nodeid] = time.process_time() - began
            self.coverage.switch_context("")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note what does not pass."""
        if report.outcome != "passed":
            self.failed.add(report.nodeid)

    def result(self, root: Path) -> dict:
        """Give lines by file with their tests, and seconds by test."""
        self.coverage.stop()
        data = self.coverage.get_data()
        lines: dict[str, dict[int, list[str]]] = {
            str(Path(file).relative_to(root)): data.contexts_by_lineno(file)
            for file in data.measured_files()
        }
        slow = {name for name, seconds in self.seconds.items() if seconds > SLOW}
        failed = sorted(self.failed - slow)
        use = {n: s for n, s in self.seconds.items() if n not in slow | self.failed}
        return {"lines": lines, "seconds": use, "slow": sorted(slow), "failed": failed}


def of_one_file(found: dict, test_file: str) -> dict:
    """What a map says of the tests of one file; what ran on import is said in each."""
    own = test_file + "::"

    def some(names: Iterable[str]) -> list[str]:
        return [name for name in names if name.startswith(own) or not name]

    return {
        "lines": {
            file: {n: some(tests) for n, tests in lines.items() if some(tests)}
            for file, lines in found["lines"].items()
        },
        "seconds": {n: found["seconds"][n] for n in some(found["seconds"])},
        "slow": some(found["slow"]),
        "failed": some(found["failed"]),
    }


def line_map(root: Path, cache: Path) -> dict:
    """Read the map of this very source from the cache, and record what is missing."""
    told = hashlib.sha256(f"{SLOW}".encode())
    helpers = {path for path in root.glob("tests/*.py") if not path.name.startswith("test_")}
    for path in sorted({*root.glob("guitarnet/**/*.py"), *helpers}):
        told.update(path.read_bytes())
    source = told.hexdigest()[:12]

    def kept(test_file: str) -> Path:
        own = hashlib.sha256((root / test_file).read_bytes()).hexdigest()[:12]
        return cache / f"lines-{source}-{Path(test_file).stem}-{own}.json"

    every = test_files(root)
    new = [file for file in every if not kept(file).exists()]

    def record() -> int:
        plugin = Map(root)
        code = pytest.main(
            pytest_arguments("--continue-on-collection-errors", *new), plugins=[plugin]
        )
        if code not in (0, 1):
            return int(code)
        found = plugin.result(root)
        for file in new:
            kept(file).write_text(json.dumps(of_one_file(found, file)), encoding="utf-8")
        return 0

    if new:
        code, said = forked(record)
        if code:
            raise SystemExit(f"the tests do not run without a mutant (exit {code})\n{said}")
    whole: dict = {"lines": defaultdict(lambda: defaultdict(list)), "seconds": {}, "failed": []}
    for file in every:
        part = json.loads(kept(file).read_text(encoding="utf-8"))
        whole["seconds"] |= part["seconds"]
        whole["failed"] += part["failed"]
        for name, lines in part["lines"].items():
            for n, tests in lines.items():
                whole["lines"][name][n] += tests
    return whole


class Chooser:
    """Says which tests to run for a mutant, the quickest first."""

    def __init__(self, root: Path, found: dict) -> None:
        self.seconds: dict[str, float] = found["seconds"]
        self.lines: dict[str, dict[str, list[str]]] = found["lines"]
        self.of_file: dict[str, list[str]] = defaultdict(list)
        for test in self.quickest(self.seconds):
            self.of_file[test.partition("::")[0]].append(test)
        self.cost = {
            file: 1 + sum(self.seconds[test] for test in tests)
            for file, tests in self.of_file.items()
        }
        self.text = {file: (root / file).read_text(encoding="utf-8") for file in self.of_file}

    def quickest(self, names: Iterable[str]) -> list[str]:
        """Sort tests by their time; what is no test goes."""
        return sorted((n for n in names if n in self.seconds), key=lambda n: (self.seconds[n], n))

    def reaching(self, mutant: Mutant) -> tuple[list[str], bool]:
        """Tests that run a mutant's line, and whether it runs on import already.

        First those of the files that import the mutant's module by name: they ask it closest.
        """
        lines = self.lines.get(mutant.file, {})
        for first, last in ((mutant.first, mutant.last), mutant.around):
            found = {test for n in range(first, last + 1) for test in lines.get(str(n), ())}
            if found:
                break
        *folder, module = mutant.file.removesuffix(".py").split("/")
        names = f"{'.'.join(folder)}.{module} import", f"{'.'.join(folder)} import {module}\n"
        close = {file for file, text in self.text.items() if any(name in text for name in names)}
        tests = sorted(self.quickest(found), key=lambda test: test.partition("::")[0] not in close)
        return tests, "" in found

    def near(self, mutant: Mutant, count: int) -> list[str]:
        """A few test files: those that name the mutant's owner most, then those that run its file.

        For a default, a table or a class body, which no test is seen to run.
        """
        reach: dict[str, int] = defaultdict(int)
        for tests in self.lines.get(mutant.file, {}).values():
            for file in {test.partition("::")[0] for test in tests}:
                reach[file] += 1
        named = {file: text.count(mutant.owner or "\0") for file, text in self.text.items()}
        found: dict[str, None] = {}
        for told, most in ((named, count // 2), (reach, count)):
            for file in sorted(self.text, key=lambda f, told=told: (-told[f] / self.cost[f], f)):
                if told[file] and len(found) < most:
                    found[file] = None
        return list(found)
