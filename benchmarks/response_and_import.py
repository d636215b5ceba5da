"""One call of response(), the import, peak memory and the all-letters transfer function."""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc

from common import MISSED, best_of, report  # first: sets the number of threads

import numpy as np

import guitarnet as gn


def main() -> int:
    """Print each result beside its target."""
    guitar = gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n", cable="5 m"
    )
    f, marks = np.geomspace(20, 20e3, 512), np.arange(11.0)
    met = [
        report(
            "response() on 11 x 11 marks x 512 frequencies",
            1e3 * best_of(lambda: gn.response(guitar, frequency=f, volume=marks, tone=marks), 100),
            "ms",
            5,
            at_least=False,
        ),
        report(
            "import, against import numpy, xarray", import_ratio(), "times", 1.3, at_least=False
        ),
        report("peak memory, against the result", memory_ratio(guitar), "times", 2, at_least=False),
    ]
    met.append(
        report("fit of two 300-point curves", best_of(fit_two_curves, 3), "s", 2, at_least=False)
    )
    began = time.perf_counter()
    gn.formulas.transfer_function(guitar, keep="all")
    seconds = time.perf_counter() - began
    met.append(report("transfer function, all letters", seconds, "s", 5, at_least=False))
    return 0 if all(met) else MISSED


def fit_two_curves() -> gn.fitting.PickupFit:
    """Fit two invented curves of 300 points, with noise."""
    generator = np.random.default_rng(1)
    f = np.geomspace(60, 12e3, 300)
    true = gn.Pickup("7k", "3 H", "120p", "300k", 0.3, "6 kHz")
    curves = []
    for load in (gn.fitting.Load(), gn.fitting.Load("200k", "470p")):
        guitar = gn.layouts.one_pickup(
            true,
            volume="900M",
            tone=None,
            cable=gn.Cable(1, load.capacitance, unusual=True),
            amp=load.resistance or "900M",
            unusual=True,
        )
        level = gn.level_db(gn.response(guitar, frequency=f)).values + generator.normal(
            0, 0.05, f.size
        )
        curves.append(gn.fitting.MeasuredCurve(f, level, load=load, name=str(load)))
    return gn.fit_pickup(curves, resistance="7k")


def import_ratio(repeats: int = 9) -> float:
    """Shortest time of a fresh process that imports guitarnet, over one that imports its core."""
    shortest = {}
    for _ in range(repeats):  # in turn, so that both meet the same machine
        for what in ("numpy, xarray", "guitarnet"):
            began = time.perf_counter()
            subprocess.run([sys.executable, "-c", f"import {what}"], check=True)
            seconds = time.perf_counter() - began
            shortest[what] = min(seconds, shortest.get(what, seconds))
    return shortest["guitarnet"] / shortest["numpy, xarray"]


def memory_ratio(guitar: gn.Harness) -> float:
    """Peak memory of one large response over the size of its result."""
    marks = np.linspace(0, 10, 101)
    gn.response(guitar, frequency=[100, 1000], volume=marks)
    tracemalloc.start()
    h = gn.response(guitar, frequency=np.geomspace(20, 20e3, 512), volume=marks, tone=marks)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / h.nbytes


if __name__ == "__main__":
    sys.exit(main())
