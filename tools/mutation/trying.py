"""Trying one mutant: put into a living function, or imported afresh."""

from __future__ import annotations

import gc
import importlib.abc
import importlib.util
import json
import os
import signal
import sys
import time
import types
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

from .lines import Chooser
from .mutants import Mutant, mutated
from .processes import NOT_LIVING, NOT_PUT_IN, forked, outcome, pytest_arguments

TEST = 3, 20  # a test may take so many seconds more, and so many times longer, than without mutant
NEAREST = 4  # test files that are collected for a mutant on a fresh import


class Run:
    """Results as they come, one line of JSON each."""

    def __init__(self, out: Path, seconds: dict[str, float], budget: float) -> None:
        self.out, self.seconds, self.budget = out, seconds, budget
        self.count = 0

    def note(self, mutant: Mutant, result: str, by: str, took: float, code: int) -> None:
        """Add a line."""
        row = {
            "key": mutant.key,
            "folder": mutant.file.split("/")[1],
            "outcome": result,
            "by": by,
            "exit": code,
            "seconds": round(took, 2),
            "mutant": str(mutant),
        }
        with self.out.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row, ensure_ascii=False) + "\n")
        self.count += 1
        if self.count % 100 == 0:
            print(f"{self.count}", flush=True)


class Killer:
    """Plugin that runs chosen tests, in their order, until one fails or the time is over."""

    def __init__(self, chosen: list[str], seconds: dict[str, float], budget: float) -> None:
        self.chosen, self.seconds, self.budget = chosen, seconds, budget

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Run the chosen tests of a session of its own; tests that cannot be collected fail."""
        if session.testsfailed:
            os.write(forked.tell, b"collection")  # type: ignore[attr-defined]
            os._exit(1)
        self.run({item.nodeid: item for item in session.items})
        os._exit(0)

    def run(self, items: dict[str, pytest.Item]) -> None:
        """Run the chosen tests among items, each with the time that it may take."""
        signal.signal(signal.SIGPROF, signal.SIG_DFL)
        end = time.process_time() + self.budget
        chosen = [items[name] for name in self.chosen if name in items]
        for item, following in zip(chosen, [*chosen[1:], None], strict=True):
            more, times = TEST
            signal.setitimer(signal.ITIMER_PROF, more + times * self.seconds[item.nodeid])
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if time.process_time() > end:
                break
        signal.setitimer(signal.ITIMER_PROF, 0)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_makereport(self, item: pytest.Item, call: pytest.CallInfo) -> None:
        """End the process with the first test that fails, before its failure is written out."""
        raised = call.excinfo
        expected = item.get_closest_marker("xfail") is not None
        if raised and not expected and not raised.errisinstance(pytest.skip.Exception):
            os.write(forked.tell, item.nodeid.encode())  # type: ignore[attr-defined]
            os._exit(1)


class Living:
    """Plugin whose session puts mutants into the functions of its process, one fork each."""

    def __init__(self, root: Path, work: list[tuple[Mutant, list[str]]], run: Run) -> None:
        self.root, self.work, self.run = root, work, run

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try one mutant after the other."""
        items = {item.nodeid: item for item in session.items}
        living: dict[types.CodeType, list[types.FunctionType]] = defaultdict(list)
        gc.unfreeze()  # what is frozen, as by the tests' own conftest, is not listed
        for thing in gc.get_objects():
            if (
                isinstance(thing, types.FunctionType)
                and str(self.root) in thing.__code__.co_filename
            ):
                living[thing.__code__].append(thing)
        gc.collect()
        gc.freeze()
        for mutant, chosen in self.work:
            killer = Killer(chosen, self.run.seconds, self.run.budget)
            session.config.pluginmanager.register(killer, "killer")

            def work(mutant: Mutant = mutant, killer: Killer = killer) -> int:
                self._put_in(mutant, living)
                killer.run(items)
                return 0

            began = time.perf_counter()
            code, told = forked(work)
            session.config.pluginmanager.unregister(killer)
            if code not in NOT_PUT_IN:
                self.run.note(mutant, outcome(code), told, time.perf_counter() - began, code)
        os._exit(0)

    def _put_in(self, mutant: Mutant, living: dict) -> None:
        path = self.root / mutant.file
        source = path.read_text(encoding="utf-8")
        old = compile(source, str(path), "exec", dont_inherit=True)
        new = compile(mutated(source, mutant), str(path), "exec", dont_inherit=True)
        changed = 0
        for was, now in _functions(old, new):
            for function in living.get(was, ()):
                function.__code__ = now
                changed += 1
        if not changed:
            os._exit(NOT_LIVING)


def _functions(old: types.CodeType, new: types.CodeType) -> Iterator[tuple]:
    """Pairs of outermost functions that differ. A class body or a module is looked into."""
    pairs = zip(_codes(old), _codes(new), strict=True)
    for was, now in pairs:
        if was.co_flags & 2:  # a function, with fast locals
            if was != now or _text(was) != _text(now):
                yield was, now
        else:
            yield from _functions(was, now)


def _codes(code: types.CodeType) -> list[types.CodeType]:
    return [c for c in code.co_consts if isinstance(c, types.CodeType)]


def _text(code: types.CodeType) -> tuple:
    return code.co_code, repr(code.co_consts), code.co_names


class Importer(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports one module with its mutant."""

    def __init__(self, root: Path, mutant: Mutant) -> None:
        self.path, self.mutant = root / mutant.file, mutant
        name = mutant.file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        self.name = name

    def find_spec(self, fullname: str, path: object, target: object = None) -> object:
        """Find the one module."""
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(
            fullname,
            self.path,
            loader=self,
            submodule_search_locations=[str(self.path.parent)]
            if self.path.name == "__init__.py"
            else None,
        )

    def create_module(self, spec: object) -> None:
        """Leave it to the usual way."""

    def exec_module(self, module: types.ModuleType) -> None:
        """Run the module's text with its mutant."""
        tree = mutated(self.path.read_text(encoding="utf-8"), self.mutant)
        exec(compile(tree, str(self.path), "exec", dont_inherit=True), module.__dict__)


def fresh(root: Path, mutant: Mutant, chooser: Chooser, run: Run) -> None:
    """Try a mutant by importing all afresh, with the tests of the files nearest to it."""
    files = chooser.near(mutant, NEAREST)
    chosen = chooser.quickest(test for file in files for test in chooser.of_file[file])
    began = time.perf_counter()
    code, told = forked(lambda: imported(root, mutant, files, chosen, run)) if chosen else (0, "")
    if code in NOT_PUT_IN:
        raise SystemExit(f"{mutant}\n{told}")
    run.note(mutant, outcome(code), told or "import", time.perf_counter() - began, code)


def imported(root: Path, mutant: Mutant, files: list[str], chosen: list[str], run: Run) -> int:
    """Import the package with a mutant in it and run tests; the forked part of `fresh`."""
    sys.meta_path.insert(0, Importer(root, mutant))
    signal.setitimer(signal.ITIMER_PROF, 60)  # for the imports
    killer = Killer(chosen, run.seconds, run.budget)
    return 1 if pytest.main(pytest_arguments(*files), plugins=[killer]) else 0
