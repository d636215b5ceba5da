"""A million designs x 11 marks x 64 frequencies reduced to measures, and the memory that takes.

One core, in processor time, so that a busy machine counts little. The logarithm is taken at every
point, the maximum over every curve. Beside it stands what the machine's memory would allow if each
point were only written once and read once.
"""

from __future__ import annotations

import argparse
import sys
import time

from common import MISSED, report  # first: sets the number of threads

import dask
import numpy as np
import xarray as xr

import guitarnet as gn

TARGET = 20.0  # million points per second per core
MEMORY = 300e6  # bytes at work for one chunk
AGREED = 1e-9  # dB; Hz and Q relative
MARKS = np.arange(11.0)
HERTZ = np.geomspace(50, 15e3, 64)
RANGES = {
    "treble_bleed.resistance": (47e3, 470e3),
    "treble_bleed.capacitance": (220e-12, 3.3e-9),
    "cable.length": (1.0, 8.0),
    "pickup.inductance": (2.0, 8.0),
}


def loudest(h: xr.DataArray) -> xr.DataArray:
    """Highest level of each curve [dB re 1 V/V]."""
    return gn.level_db(h).max("frequency")


def main() -> int:
    """Print the results beside their targets."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--designs", type=int, default=1_000_000)
    designs = parser.parse_args().designs
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")
    generator = np.random.default_rng(1)
    drawn = {
        name: xr.DataArray(np.exp(generator.uniform(*np.log(limits), designs)), dims="design")
        for name, limits in RANGES.items()
    }
    measures = {"peak": gn.peak, "loudest": loudest}
    plan = gn.sweeps.plan_sweep(guitar, measures, frequency=HERTZ, **drawn, volume=MARKS)
    print(plan)
    with dask.config.set(scheduler="synchronous"):
        began, wall = time.process_time(), time.perf_counter()
        found = plan.dataset().compute()
        seconds, wall = time.process_time() - began, time.perf_counter() - wall
    points = plan.responses * HERTZ.size
    print(f"{points:,} points in {seconds:.1f} s of processor time, {wall:.1f} s by the clock")
    if not agrees(guitar, drawn, found):
        return 2
    rate = points / seconds / 1e6
    bound = bandwidth() / 16 / 1e6
    print(f"memory alone, 8 bytes written and read a point: {bound:.0f} million points a second")
    met = [
        report(
            "reduced to measures",
            rate,
            "million points a second",
            min(TARGET, bound),
            at_least=True,
        ),
        report(
            "memory for one chunk, at most",
            plan.estimate()["chunk_bytes"] / 1e6,
            "MB",
            MEMORY / 1e6,
            at_least=False,
        ),
    ]
    return 0 if all(met) else MISSED


def agrees(guitar: gn.Harness, drawn: dict[str, xr.DataArray], found: xr.Dataset) -> bool:
    """Compare some designs with the complex responses, one call for all of them."""
    some = slice(None, None, max(1, found.sizes["design"] // 500))
    own = {name: values.isel(design=some) for name, values in drawn.items()}
    h = gn.response(guitar, frequency=HERTZ, **own, volume=MARKS)
    top, here = gn.peak(h), found.isel(design=some)
    apart = {
        "frequency": np.abs(here.peak_frequency / top.frequency - 1).max(),
        "height": np.abs(here.peak_height - top.height).max(),
        "q": np.abs(here.peak_q / top.q - 1).max(),
        "loudest": np.abs((here.loudest - loudest(h)).where(np.isfinite(here.loudest))).max(),
    }
    holes = sum(
        int((here[f"peak_{name}"].isnull() != top[name].isnull()).sum())
        for name in ("frequency", "height", "q")
    )
    largest = float(max(apart.values()))
    print(f"against the complex responses: at most {largest:.1e} apart, {holes} holes differ")
    return largest < AGREED and holes == 0


def bandwidth() -> float:
    """Bytes a second that one core copies, read and written, far beyond the cache."""
    source = np.ones(1 << 25)
    target = np.empty_like(source)
    best = np.inf
    for _ in range(4):
        began = time.perf_counter()
        np.copyto(target, source)
        best = min(best, time.perf_counter() - began)
    return 2 * source.nbytes / best


if __name__ == "__main__":
    sys.exit(main())
