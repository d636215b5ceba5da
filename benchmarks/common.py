"""What the benchmarks share: timing in one process, one thread, and a line of result."""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded

import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.solve.structure import OPEN, SHORT, place, reduce


MISSED = 3
"""Exit code of a benchmark whose target is missed; a busy machine may do that."""


def best_of(task: Callable[[], object], repeats: int = 7) -> float:
    """Shortest of several runs [s of processor time]; the first, which fills caches, not counted.

    All runs here are of one thread, and processor time is what a busy machine changes least.
    """
    task()
    times = []
    for _ in range(repeats):
        began = time.process_time()
        task()
        times.append(time.process_time() - began)
    return min(times)


def report(name: str, value: float, unit: str, limit: float, *, at_least: bool) -> bool:
    """Print one result beside its target; returns whether it is met."""
    met = value >= limit if at_least else value <= limit
    sign = ">=" if at_least else "<="
    print(f"{'met   ' if met else 'MISSED'}  {name}: {value:.3g} {unit} (target {sign} {limit:g})")
    return met


def _of_children() -> float:
    """Processor time of the programs that were run and have ended [s]."""
    times = os.times()
    return times.children_user + times.children_system


def of_process(command: list[str]) -> float:
    """Processor time of one run of a program [s]."""
    began = _of_children()
    subprocess.run(command, check=True, capture_output=True, timeout=600)
    return _of_children() - began


def run_ngspice(
    guitar: gn.Harness,
    f: np.ndarray,
    per_decade: int,
    settings: list[dict[str, float]],
    altered: tuple[str, ...],
) -> tuple[float, np.ndarray]:
    """Sweep in one batch process by ``alter`` and ``ac``; its seconds and the last response."""
    net = guitar.netlist(**settings[0])
    # The same circuit that guitarnet solves: wires merged, empty and dangling branches left out.
    states = {b.name: SHORT if b.kind == "R" else OPEN for b in net if b.value == 0}
    output = guitar.node("amp.tip")
    reduced = reduce(place(net), states, net.ground, output, driven=True)
    number = {reduced.ground: 0}
    lines, names = ["sweep"], {}
    for i, (branch, nodes) in enumerate(reduced.branches):
        names[branch.name] = f"{'K' if branch.kind == 'M' else branch.kind}{i}".lower()
        if branch.kind != "M":
            a, b = (number.setdefault(node, len(number)) for node in nodes)
            value = f"AC {branch.value:g}" if branch.kind == "V" else f"{branch.value:.17g}"
            lines.append(f"{names[branch.name]} {a} {b} {value}")
    for branch, _ in reduced.branches:
        if branch.kind == "M":
            one, other = branch.between
            k = branch.value / (net.branches[one].value * net.branches[other].value) ** 0.5
            lines.append(f"{names[branch.name]} {names[one]} {names[other]} {k:.17g}")
    control = [".control", "set numdgt=15"]
    for number_of, setting in enumerate(settings, 1):
        values = {b.name: b.value for b in guitar.netlist(**setting)}
        # ngspice cannot state 0 ohm.
        control += [f"alter {names[name]} = {max(values[name], 1e-3):.17g}" for name in altered]
        control.append(f"ac dec {per_decade} {f[0]:.17g} {f[-1] * (1 + 1e-9):.17g}")
        if number_of < len(settings):
            control.append("destroy all")
    with tempfile.TemporaryDirectory() as folder:
        control += [f"wrdata {folder}/last v({number[reduced.output]})", "quit 0", ".endc", ".end"]
        file = Path(folder, "sweep.cir")
        file.write_text("\n".join([*lines, *control]) + "\n")
        began = _of_children()
        subprocess.run(["ngspice", "-b", str(file)], check=True, capture_output=True, timeout=600)
        seconds = _of_children() - began
        table = np.loadtxt(Path(folder, "last"))
    return seconds, table[:, 1] + 1j * table[:, 2]


def against_ngspice(
    guitar: gn.Harness,
    altered: tuple[str, ...],
    sweep: Mapping[str, Any],
    settings: list[dict[str, float]],
    target: float,
) -> int:
    """Sweep in both, one thread each; compare the last response, print the ratio of whole runs.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    altered : tuple of str
        Branches that ngspice alters from setting to setting.
    sweep, settings
        The same settings, as `response` takes them and one by one.
    target : float
        Ratio to reach.

    Returns
    -------
    int
        Exit code: 0, `MISSED` where the target is missed, 2 where the two disagree.
    """
    per_decade, points = 170, 512
    f = 20 * 10 ** (np.arange(points) / per_decade)  # as ngspice steps
    ours = best_of(lambda: gn.response(guitar, frequency=f, **sweep)) / (len(settings) * points)
    print(f"guitarnet: {ours * 1e9:.1f} ns a point")
    if shutil.which("ngspice") is None:
        print("ngspice is not installed: nothing to compare with")
        return 2
    whole, last = run_ngspice(guitar, f, per_decade, settings, altered)
    theirs = whole / (len(settings) * points)
    print(f"ngspice:   {theirs * 1e9:.0f} ns a point, its start counted")
    swept = gn.response(guitar, frequency=f, **sweep).values.reshape(-1, points)
    # The setting that ngspice did last is one of them.
    apart = np.abs(swept - last).max(axis=-1).min() / np.max(np.abs(last))
    print(f"largest difference at the last setting: {apart:.1e} of the largest value")
    if not apart < 1e-7:  # what ngspice is allowed in tools/fuzz.md
        print("the two do not agree")
        return 2
    met = report("ratio", theirs / ours, "times faster", target, at_least=True)
    return 0 if met else MISSED


def drawn_marks(count: int, seed: int = 1) -> tuple[dict[str, Any], list[dict[str, float]]]:
    """Volume and tone drawn together, as a sweep and one by one.

    Away from the ends, where ngspice would put a small resistance for 0 ohm.
    """
    generator = np.random.default_rng(seed)
    marks = {
        name: xr.DataArray(generator.uniform(0.2, 9.8, count), dims="knobs")
        for name in ("volume", "tone")
    }
    return marks, [{name: float(m[i]) for name, m in marks.items()} for i in range(count)]
