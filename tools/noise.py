"""Texts under noise: nothing that is ranked, grouped or chosen may hang on a float's last digits.

Run it from the checkout::

    python tools/noise.py --seeds 100

Every number that a solver returns is multiplied by 1 + e, with e drawn evenly from -1e-9 to 1e-9 by
a seed; what is exactly 0 or infinite stays so. The library's texts must be the same as without.
Ends with 0 where all are, else with 1 and the lines that differ. Figures in `noise.md`.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import dataclasses
import difflib
import importlib
import io
import os
import re
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
import xarray as xr

ROOT = Path(__file__).resolve().parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

import guitarnet as gn  # noqa: E402
from guitarnet.units import fixed, format_value  # noqa: E402
from net.names import face  # noqa: E402

SIZE = 1e-9
# Where numbers leave the solver. A method is named with its class.
EXITS = (
    ("guitarnet.solve.ac", "node_voltage"),
    ("guitarnet.solve.ac", "node_impedance"),
    ("guitarnet.solve.ac", "node_size"),
    ("guitarnet.solve.adjoint", "branch_derivatives"),
    ("guitarnet.solve.resistance", "Resistances.between"),
    ("guitarnet.solve.one_ports", "one_ports"),
)
DRAWN = ("draw", "listen", "live_page", "job_card")
LESSONS = (
    "07_series_parallel_split",
    "09_your_own_harness",
    "10_six_readings_one_fault",
    "13_choosing_a_bleed_before_soldering",
)


def shaken(value: Any, draws: np.random.Generator) -> Any:
    """Multiply every float and complex number in a result by 1 + e."""
    if isinstance(value, (xr.Variable, xr.DataArray)):
        return value.copy(data=shaken(value.values, draws))
    if isinstance(value, np.ndarray) and value.dtype.kind in "fc":
        factor = 1 + SIZE * draws.uniform(-1, 1, value.shape)
        with np.errstate(invalid="ignore"):  # infinite times 0 i, left out
            return np.where(np.isfinite(value), value * factor, value)
    if isinstance(value, (float, complex)):
        return type(value)(shaken(np.asarray(value), draws))
    if isinstance(value, dict):
        return {key: shaken(own, draws) for key, own in value.items()}
    if isinstance(value, (list, tuple)):
        return type(value)(shaken(own, draws) for own in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {f.name: getattr(value, f.name) for f in dataclasses.fields(value) if f.init}
        return dataclasses.replace(value, **shaken(fields, draws))
    return value


@contextlib.contextmanager
def noise(seed: int | None) -> Iterator[dict[str, int]]:
    """Shake what the solver returns, wherever it is used; count the calls. None is no noise."""
    draws = None if seed is None else np.random.default_rng(seed)
    calls: dict[str, int] = {}
    undo: list[tuple[Any, str, Any]] = []
    for module, name in EXITS:
        holder: Any = importlib.import_module(module)
        *path, attribute = name.split(".")
        for step in path:
            holder = getattr(holder, step)
        plain = getattr(holder, attribute)

        def noisy(
            *given: Any, _plain: Callable[..., Any] = plain, _name: str = name, **more: Any
        ) -> Any:
            calls[_name] = calls.get(_name, 0) + 1
            found = _plain(*given, **more)
            return found if draws is None else shaken(found, draws)

        undo.append((holder, attribute, plain))
        if not path:  # modules that imported the name hold it themselves
            undo += [
                (other, own, plain)
                for other in list(sys.modules.values())
                if getattr(other, "__name__", "").startswith("guitarnet") and other is not holder
                for own, value in list(vars(other).items())
                if value is plain
            ]
        for target, own, value in undo:
            if value is plain:
                setattr(target, own, noisy)
    try:
        yield calls
    finally:
        for target, own, value in reversed(undo):
            setattr(target, own, value)


def lesson(name: str) -> str:
    """All that a lesson and its exercises print, but for figures and for its own assertions."""
    source = (ROOT / "notebooks" / f"{name}.py").read_text(encoding="utf-8")
    source = source.partition("# %% [markdown]\n# ## Check\n")[0]
    known: dict[str, Any] = {"__name__": "lesson"}
    printed = io.StringIO()
    # Drawing prints nothing and takes most of the time.
    with contextlib.ExitStack() as quiet:
        quiet.enter_context(contextlib.redirect_stdout(printed))
        for path in face():
            room, _, bare = path.rpartition(".")
            if bare.startswith("plot_") or bare in DRAWN:
                quiet.enter_context(mock.patch.object(getattr(gn, room) if room else gn, bare))
        for cell in re.split(r"^# %%", source, flags=re.MULTILINE)[1:]:
            if cell.startswith(" [markdown]"):
                continue
            tree = ast.parse(cell)
            last = tree.body[-1] if tree.body else None
            shown = isinstance(last, ast.Expr)
            body = ast.Module(tree.body[:-1] if shown else tree.body, [])
            exec(compile(body, name, "exec"), known)  # our own lesson
            if shown:
                value = eval(compile(ast.Expression(last.value), name, "eval"), known)
                print(re.sub(r" at 0x[0-9a-f]+| id='[0-9]+'", "", repr(value)))
        for task in (value for value in vars(known["exercise"]).values() if is_exercise(value)):
            print(task.question, _answer(task.expected))
    _close_figures()
    return printed.getvalue()


def is_exercise(value: Any) -> bool:
    """Whether a name of a course module is an exercise."""
    return type(value).__name__ == "Exercise"


def _answer(expected: Any) -> str:
    value = expected() if callable(expected) else expected
    return str(value) if isinstance(value, (bool, str)) else format_value(float(value), "m")


def _close_figures() -> None:
    import matplotlib.pyplot as plt

    plt.close("all")


def five_way() -> gn.Harness:
    """An invented guitar of three single coils."""
    coils = ("6k", "2.3 H", "110p"), ("6.2k", "2.4 H", "120p"), ("6.8k", "2.8 H", "130p")
    parts = [gn.Pickup(*values) for values in coils]
    return gn.layouts.three_single_coils(*parts, volume="250k", tone="250k", cable="5 m")


def equal_coils() -> gn.Harness:
    """Two single coils that are the same in everything, so that much ties."""
    coil = gn.Pickup("6.2k", "2.4 H", "120p")
    return gn.layouts.two_single_coils(coil, coil, cable="5 m")


def humbuckers() -> gn.Harness:
    """Two humbuckers of four equal coils."""
    coil = gn.Coil("4k", "2 H", "150p")
    pair = gn.Humbucker(coil, coil)
    return gn.layouts.two_humbuckers(pair, pair, cable="5 m")


def one_pickup(**changed: Any) -> gn.Harness:
    """A guitar with one pickup."""
    given = {"cable": "5 m", **changed}
    return gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), **given)


def diagnoses(guitar: gn.Harness, count: int, symptoms: Any = (), kinds: Any = None) -> str:
    """Diagnose some faults of a guitar, evenly picked, from what a meter shows of each."""
    possible = gn.bench.faults(guitar, kinds=kinds)
    texts = []
    for index in np.linspace(0, len(possible) - 1, count).astype(int):
        fault = possible[int(index)]
        readings = [
            reading.with_ohms(
                _four_digits(reading.expected(fault.guitar, meter=gn.bench.Ohmmeter()))
            )
            for reading in _usual(guitar)
        ]
        found = gn.diagnose(guitar, readings, symptoms=symptoms, kinds=kinds)
        steps = [f"{step} | {step.kind}" for step in found.next]
        classes = [f"{one.fits} {one.faults}" for one in found.explanations]
        texts.append("\n".join([fault.label, str(found.table(most=99)), *classes, *steps]))
    return "\n".join(texts)


def _usual(guitar: gn.Harness) -> list[gn.bench.ResistanceReading]:
    """At the jack, every place of the first switch."""
    for name, part in guitar.parts.items():
        if isinstance(part, gn.Switch):
            return [gn.bench.ResistanceReading(**{name: place}) for place in part.places]
    return [gn.bench.ResistanceReading(), gn.bench.ResistanceReading(largest_over="volume")]


def _four_digits(ohms: Any) -> float:
    return float(f"{float(ohms) * (1 + 1e-7):.4g}")


def tables(guitar: gn.Harness) -> str:
    """List faults, readings and their verdicts, and which tolerances count."""
    readings = {reading.where(): reading.expected(guitar) for reading in _usual(guitar)}
    ranking = gn.tolerances.sensitivity_ranking(
        guitar, frequency=[1000.0, 4000.0], **{_volume(guitar): 5}
    )
    shown = [
        gn.bench.faults(guitar).table(),
        gn.expected_readings(guitar).table(),
        gn.verify(guitar, _usual_read(guitar)).table(),
        [f"{one.value.item()} {fixed(float(one.worst.max()), 3)}" for one in _rows(ranking)],
        [f"{where} {format_value(float(ohms), 'ohm')}" for where, ohms in readings.items()],
    ]
    return "\n".join(map(str, shown))


def selections(guitar: gn.Harness) -> str:
    """List what the switches select, and what noise and hum are left."""
    shown = [gn.truth_table(guitar), gn.audio.noise_table(guitar, knob=_volume(guitar))]
    if _switched(guitar):
        shown.append(gn.audio.hum_table(guitar))
    return "\n".join(map(str, shown))


def _volume(guitar: gn.Harness) -> str:
    return next(name for name in guitar.parts if name.endswith("volume"))


def _switched(guitar: gn.Harness) -> bool:
    return any(isinstance(part, gn.Switch) for part in guitar.parts.values())


def _rows(ranking: xr.Dataset) -> Iterator[xr.Dataset]:
    for place in range(ranking.sizes["value"]):
        yield ranking.isel(value=place)


def _usual_read(guitar: gn.Harness) -> list[gn.bench.ResistanceReading]:
    """The usual readings, each as one of a sound guitar."""
    return [one.with_ohms(_four_digits(one.expected(guitar))) for one in _usual(guitar)]


def bleeds() -> str:
    """Search for a bleed, all four forms, over three cables, and how values round."""
    lengths = {"cable.length": ["1 m", "3 m", "6 m"]}
    found = gn.choose_treble_bleed(one_pickup(), series="E6", networks=["150k || 1n"], **lengths)
    limited = gn.choose_treble_bleed(
        one_pickup(),
        goal=gn.choosing.BleedGoal(within=6.0),
        series="E6",
        forms=["parallel", "series"],
    )
    return "\n".join(map(str, [found, found.rounding(), limited]))


def choices() -> str:
    """Choose from lists and match one guitar to another."""
    guitar = one_pickup()
    height = gn.choosing.Goal("peak height", at_most=6)
    dark = guitar.add("extra", gn.Capacitor("470p"))
    dark = dark.join("extra.a", "jack.tip").join("extra.b", "jack.sleeve")
    lists = {"cable.length": ["1 m", "3 m", "6 m"], "volume.resistance": ["250k", "500k"]}
    found = [
        gn.choosing.choose(guitar, lists, [PEAK, height], anyway=True),
        gn.choosing.match_response(guitar, dark, loads=["capacitor", "resistor"]),
    ]
    return "\n".join(map(str, found))


def more_choices() -> str:
    """Choose from ranges; match with every form of load."""
    guitar = one_pickup()
    level = gn.choosing.Goal("level", at_least=-30, options={"frequency": "5 kHz"}, at={"tone": 0})
    found = [
        gn.choosing.choose(guitar, {"cable.length": gn.choosing.Range("1 m", "10 m")}, PEAK),
        gn.choosing.choose(guitar, {"tone_capacitor": ["10n", "22n", "47n"]}, [level], anyway=True),
        gn.choosing.match_response(guitar, equal_coils()),
    ]
    return "\n".join(map(str, found))


PEAK = gn.choosing.Goal("peak frequency", near="4 kHz", within="2%")
FEW_KINDS = ("open joint", "coil", "resistive joint")
GUITARS = {
    "one pickup": one_pickup,
    "equal coils": equal_coils,
    "five-way": five_way,
    "humbuckers": humbuckers,
}
QUICK: dict[str, Callable[[], str]] = {
    "selections, equal coils": lambda: selections(equal_coils()),
    "a diagnosis": lambda: diagnoses(one_pickup(), 1, kinds=FEW_KINDS),
    "choices": choices,
}
"""Texts that take a second or so together; five seeds of them run in the tests.

Each makes its guitars anew, for a guitar keeps what was computed of it, with the noise of then.
"""
ALL: dict[str, Callable[[], str]] = {
    **QUICK,
    "more choices": more_choices,
    "bleeds": bleeds,
    **{
        f"selections, {name}": lambda make=make: selections(make())
        for name, make in GUITARS.items()
    },
    **{f"tables, {name}": lambda make=make: tables(make()) for name, make in GUITARS.items()},
    "diagnoses, one pickup": lambda: diagnoses(one_pickup(), 3),
    "diagnoses, equal coils": lambda: diagnoses(equal_coils(), 3),
    "diagnoses, five-way": lambda: diagnoses(five_way(), 2),
    "diagnoses, five-way, heard": lambda: diagnoses(five_way(), 1, {"silent": "neck"}),
    "diagnoses, humbuckers": lambda: diagnoses(humbuckers(), 2),
    **{f"lesson {name}": lambda name=name: lesson(name) for name in LESSONS},
}


def difference(plain: str, noisy: str) -> str:
    """Lines that differ, "" where none does."""
    lines = difflib.unified_diff(plain.splitlines(), noisy.splitlines(), "plain", "noisy", n=0)
    return "\n".join(lines)


def main() -> int:
    """Run the campaign; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=100, help="how many seeds")
    parser.add_argument("--first", type=int, default=1, help="the first of them")
    parser.add_argument("--only", default="", help="texts whose name holds this")
    options = parser.parse_args()
    os.environ.setdefault("MPLBACKEND", "Agg")
    chosen = {name: make for name, make in ALL.items() if options.only in name}
    wrong = 0
    for name, make in chosen.items():
        start = time.process_time()
        with noise(None) as calls:
            plain = make()
        differing = []
        for seed in range(options.first, options.first + options.seeds):
            with noise(seed):
                found = difference(plain, make())
            if found:
                differing.append(seed)
                print(f"{name}, seed {seed}:\n{found}", flush=True)
        wrong += len(differing)
        print(
            f"{name}: {len(plain.splitlines())} lines, {sum(calls.values())} solver calls, "
            f"{options.seeds} seeds, {len(differing)} differ, "
            f"{time.process_time() - start:.0f} s of processor",
            flush=True,
        )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
