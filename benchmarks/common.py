"""What the benchmarks share: timing in one process, one thread, and a line of result."""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded

import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.solve.structure import OPEN, SHORT, place, reduce


MISSED = 3
"""Exit code of a benchmark whose target is missed; a busy machine may do that."""


def best_of(task: Callable[[], object], repeats: int = 7) -> float:
    """Shortest of several runs [s]; the first, which fills caches, is not counted."""
    task()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        task()
        times.append(time.perf_counter() - began)
    return min(times)


def report(name: str, value: float, unit: str, limit: float, *, at_least: bool) -> bool:
    """Print one result beside its target; returns whether it is met."""
    met = value >= limit if at_least else value <= limit
    sign = ">=" if at_least else "<="
    print(f"{'met   ' if met else 'MISSED'}  {name}: {value:.3g} {unit} (target {sign} {limit:g})")
    return met


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
        control += [f"alter {names[name]} = {values[name]:.17g}" for name in altered]
        control.append(f"ac dec {per_decade} {f[0]:.17g} {f[-1] * (1 + 1e-9):.17g}")
        if number_of < len(settings):
            control.append("destroy all")
    with tempfile.TemporaryDirectory() as folder:
        control += [f"wrdata {folder}/last v({number[reduced.output]})", "quit 0", ".endc", ".end"]
        file = Path(folder, "sweep.cir")
        file.write_text("\n".join([*lines, *control]) + "\n")
        began = time.perf_counter()
        subprocess.run(["ngspice", "-b", str(file)], check=True, capture_output=True, timeout=600)
        seconds = time.perf_counter() - began
        table = np.loadtxt(Path(folder, "last"))
    return seconds, table[:, 1] + 1j * table[:, 2]


def against_ngspice(
    guitar: gn.Harness, altered: tuple[str, ...], count: int, target: float, seed: int = 1
) -> int:
    """Sweep volume and tone in both, one thread each; compare results, print the ratio.

    Returns the exit code: 0, `MISSED` where the target is missed, 2 where the two disagree.
    """
    per_decade, points = 170, 512
    f = 20 * 10 ** (np.arange(points) / per_decade)  # as ngspice steps
    generator = np.random.default_rng(seed)
    # Away from the ends, where ngspice would put a small resistance for 0 ohm.
    marks = {
        name: xr.DataArray(generator.uniform(0.2, 9.8, count), dims="knobs")
        for name in ("volume", "tone")
    }
    ours = best_of(lambda: gn.response(guitar, f, **marks)) / (count * points)
    print(f"guitarnet: {ours * 1e9:.1f} ns a point")
    if shutil.which("ngspice") is None:
        print("ngspice is not installed: nothing to compare with")
        return 2
    h = gn.response(guitar, f, **marks)
    settings = [{name: float(m[i]) for name, m in marks.items()} for i in range(count)]
    whole, last = run_ngspice(guitar, f, per_decade, settings, altered)
    start, _ = run_ngspice(guitar, f, per_decade, settings[:1], altered)
    theirs = (whole - start) / ((count - 1) * points)
    print(f"ngspice:   {theirs * 1e9:.0f} ns a point")
    apart = np.max(np.abs(last - h.values[-1])) / np.max(np.abs(last))
    print(f"largest difference at the last setting: {apart:.1e} of the largest value")
    if not apart < 1e-9:
        print("the two do not agree")
        return 2
    met = report("ratio", theirs / ours, "times faster", target, at_least=True)
    return 0 if met else MISSED
