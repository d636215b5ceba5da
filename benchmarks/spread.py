"""A thousand drawn guitars at eleven marks and 601 frequencies: one call of response().

Beside it, in the same run, one complex division of arrays of that size, which is what any way
through the sweep does to each point at least. Before one solver served every sweep, this call took
68 times such a division.
"""

from __future__ import annotations

import sys

from common import MISSED, best_of, report  # first: sets the number of threads

import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.study.spread.tolerance import spread

GUITARS, MARKS = 1000, list(range(11))


def main() -> int:
    """Print the ratio, and whether some of the guitars have the answer that they have alone."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")
    drawn = spread(guitar, GUITARS, seed=1)
    found = gn.response(guitar, volume=MARKS, **drawn)
    above, below = np.ones(found.shape, complex), np.full(found.shape, 1 + 1j)
    division = best_of(lambda: above / below, 5)
    seconds = best_of(lambda: gn.response(guitar, volume=MARKS, **drawn), 5)
    print(f"{1e3 * seconds:.0f} ms, one division {1e3 * division:.0f} ms")
    met = report("against one division", seconds / division, "times", 6, at_least=False)
    if not agrees(guitar, drawn, found):
        print("guitars drawn together and alone do not agree")
        return 2
    return 0 if met else MISSED


def agrees(guitar: gn.Harness, drawn: dict, found: xr.DataArray) -> bool:
    """Compare three guitars with themselves, one call each."""
    for number in (0, GUITARS // 2, GUITARS - 1):
        own = {path: float(values[number]) for path, values in drawn.items()}
        alone = gn.response(guitar, volume=MARKS, **own)
        apart = float(abs(found.isel(sample=number).variable - alone.variable).max())
        if not apart <= 1e-11 * float(abs(alone).max()):
            return False
    return True


if __name__ == "__main__":
    sys.exit(main())
