"""A guitar with bleed and tone over 1,211 knob settings: guitarnet against ngspice.

Both run here, one after the other, one thread each, 512 frequencies a setting. ngspice does the
same sweep in one batch process, by ``alter`` and ``.ac`` for each setting; its start and the
reading of its netlist are counted out by a run with a single setting.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from common import best_of, report  # first: sets the number of threads

import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.solve.structure import OPEN, SHORT, place, reduce

SETTINGS, POINTS, PER_DECADE = 1211, 512, 170
TARGET = 80.0


def main() -> int:
    """Run both, compare their results, print the ratio."""
    guitar = gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n", cable="5 m"
    )
    f = 20 * 10 ** (np.arange(POINTS) / PER_DECADE)  # as ngspice steps
    generator = np.random.default_rng(1)
    # Away from the ends, where ngspice would put a small resistance for 0 ohm.
    volume = xr.DataArray(generator.uniform(0.2, 9.8, SETTINGS), dims="knobs")
    tone = xr.DataArray(generator.uniform(0.2, 9.8, SETTINGS), dims="knobs")
    ours = best_of(lambda: gn.response(guitar, f, volume=volume, tone=tone)) / (SETTINGS * POINTS)
    print(f"guitarnet: {ours * 1e9:.1f} ns a point")
    if shutil.which("ngspice") is None:
        print("ngspice is not installed: nothing to compare with")
        return 1
    h = gn.response(guitar, f, volume=volume, tone=tone)
    marks = list(zip(volume.values, tone.values, strict=True))
    whole, last = run_ngspice(guitar, f, marks)
    start, _ = run_ngspice(guitar, f, marks[:1])
    theirs = (whole - start) / ((SETTINGS - 1) * POINTS)
    print(f"ngspice:   {theirs * 1e9:.0f} ns a point")
    apart = np.max(np.abs(last - h.values[-1])) / np.max(np.abs(last))
    print(f"largest difference at the last setting: {apart:.1e} of the largest value")
    if not apart < 1e-9:
        print("the two do not agree")
        return 1
    return 0 if report("ratio", theirs / ours, "times faster", TARGET, at_least=True) else 1


def run_ngspice(
    guitar: gn.Harness, f: np.ndarray, marks: list[tuple[float, float]]
) -> tuple[float, np.ndarray]:
    """Sweep in one batch process; returns its seconds and the last response."""
    net = guitar.netlist(volume=marks[0][0], tone=marks[0][1])
    # The same circuit that guitarnet solves: wires merged, empty and dangling branches left out.
    states = {b.name: SHORT if b.kind == "R" else OPEN for b in net if b.value == 0}
    reduced = reduce(place(net), states, net.ground, guitar.node("amp.tip"), driven=True)
    number = {reduced.ground: 0}
    lines, names = ["sweep"], {}
    for i, (branch, nodes) in enumerate(reduced.branches):
        a, b = (number.setdefault(node, len(number)) for node in nodes)
        names[branch.name] = f"{branch.kind}{i}".lower()
        value = "AC 1" if branch.kind == "V" else f"{branch.value:.17g}"
        lines.append(f"{branch.kind}{i} {a} {b} {value}")
    output = number[reduced.output]
    control = [".control", "set numdgt=15"]
    for volume, tone in marks:
        values = {b.name: b.value for b in guitar.netlist(volume=volume, tone=tone)}
        for part in ("volume.upper", "volume.lower", "tone.lower"):
            control.append(f"alter {names[part]} = {values[part]:.17g}")
        control.append(f"ac dec {PER_DECADE} {f[0]:.17g} {f[-1] * (1 + 1e-9):.17g}")
        if (volume, tone) != marks[-1]:
            control.append("destroy all")
    with tempfile.TemporaryDirectory() as folder:
        control += [f"wrdata {folder}/last v({output})", "quit 0", ".endc", ".end"]
        file = Path(folder, "sweep.cir")
        file.write_text("\n".join([*lines, *control]) + "\n")
        began = time.perf_counter()
        subprocess.run(["ngspice", "-b", str(file)], check=True, capture_output=True, timeout=300)
        seconds = time.perf_counter() - began
        table = np.loadtxt(Path(folder, "last"))
    return seconds, table[:, 1] + 1j * table[:, 2]


if __name__ == "__main__":
    sys.exit(main())
