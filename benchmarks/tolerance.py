"""Ten thousand guitars x 11 marks x 256 frequencies, reduced to a band."""

from __future__ import annotations

import sys
import tracemalloc

from common import MISSED, best_of, report  # first: sets the number of threads

import numpy as np

import guitarnet as gn
from guitarnet.study.spread.bands import tolerance_band
from guitarnet.study.spread.quantiles import quantiles
from guitarnet.study.spread.tolerance import spread

GUITARS, MARKS, FREQUENCIES = 10_000, np.arange(11.0), np.geomspace(50, 15e3, 256)
POINTS = GUITARS * MARKS.size * FREQUENCIES.size


def guitar() -> gn.Harness:
    """Ten values with a tolerance."""
    return gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")


def main() -> int:
    """Print the result beside its target, and what bounds it."""
    drawn = spread(guitar(), GUITARS, seed=1)
    seconds = best_of(
        lambda: tolerance_band(guitar(), drawn, frequency=FREQUENCIES, volume=MARKS), repeats=5
    )
    met = report("band of 10,000 guitars x 11 x 256", seconds, "s", 3, at_least=False)
    print(f"        {1e9 * seconds / POINTS:.0f} ns a point; beside it, on this machine:")
    few, some = drawn_few(drawn, 500), FREQUENCIES[::8]
    count = 500 * MARKS.size * some.size
    general = best_of(lambda: gn.response(guitar(), frequency=some, volume=MARKS, **few), 3) / count
    print(f"        {1e9 * general:.0f} ns by response(), which eliminates each point by itself")
    power = np.random.default_rng(1).random((176, GUITARS))
    sorted_ = best_of(lambda: np.partition(power, [500, 5000, 9500], axis=-1), 3) / power.size
    print(f"        {1e9 * sorted_:.0f} ns to find three quantiles alone")
    source, target = np.ones(POINTS, complex), np.ones(POINTS, complex)
    moved = best_of(lambda: np.copyto(target, source), 3) / POINTS
    print(f"        {1e9 * moved:.1f} ns to copy one complex number (memory bandwidth)")
    again = tolerance_band(guitar(), few, frequency=some, volume=MARKS)
    h = gn.response(guitar(), frequency=some, volume=MARKS[1:], **few)
    expected = quantiles(gn.level_db(h)).transpose("volume", "quantile", "frequency")
    apart = float(abs(again.sel(volume=MARKS[1:]) - expected).max())
    print(f"largest difference from response(): {apart:.1e} dB")
    if not apart < 1e-9:
        print("the two do not agree")
        return 2
    most = peak_memory(drawn)
    print(f"peak memory: {most:.0f} MB (all responses at once: {16 * POINTS / 1e6:.0f} MB)")
    return 0 if met else MISSED


def drawn_few(drawn: dict, count: int) -> dict:
    """The first of many drawn guitars."""
    return {path: values[:count] for path, values in drawn.items()}


def peak_memory(drawn: dict) -> float:
    """Largest memory in use on the way [MB]."""
    tracemalloc.start()
    tolerance_band(guitar(), drawn, frequency=FREQUENCIES, volume=MARKS)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / 1e6


if __name__ == "__main__":
    sys.exit(main())
