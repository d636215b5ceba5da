"""The search for a treble bleed over all forms, and the same by one call of response() each.

E12 values (100 pF to 10 nF, 10 kΩ to 1 MΩ), every form, 11 marks, 3 cables. For reference a
random sample of the same networks goes through the solver in full, at the frequencies of the
search, in the same run; its numbers must be those of the search.
"""

from __future__ import annotations

import sys

from common import MISSED, best_of, report  # first: sets the number of threads

import numpy as np

import guitarnet as gn
from guitarnet.study.choose.bleed import choose_treble_bleed
from guitarnet.study.choose.networks import FORMS

CABLES = {"cable.length": ["1 m", "3 m", "6 m"]}
SAMPLE = 40


def main() -> int:
    """Print the result beside its target; returns the exit code."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), cable="5 m")
    seconds = best_of(lambda: choose_treble_bleed(guitar, **CABLES), 3)
    found = choose_treble_bleed(guitar, **CABLES)
    tried = sum(len(one.values) for one in found.searched)
    f = np.geomspace(200, 5000, 29)
    generator = np.random.default_rng(1)
    sample = [
        (one, int(index))
        for one in found.searched
        for index in generator.integers(len(one.values), size=SAMPLE // len(found.searched))
    ]
    parts = [FORMS[one.form].part(*map(float, one.values[index])) for one, index in sample]

    def in_full() -> list:
        return [
            gn.response(
                guitar.replace("treble_bleed", part), frequency=f, volume=range(11), **CABLES
            )
            for part in parts
        ]

    each = best_of(in_full, 3) / len(parts)
    print(f"{tried} networks; by response() {1e3 * each:.1f} ms each, {tried * each:.0f} s for all")
    worst = max(
        abs(worst_of(h) - one.rows[index, 2])
        for h, (one, index) in zip(in_full(), sample, strict=True)
    )
    print(f"largest difference of the worst deviation, {len(parts)} networks: {worst:.1e} dB")
    if not worst < 1e-8:
        print("the two do not agree")
        return 2
    met = report("search, all forms, E12, 11 marks, 3 cables", seconds, "s", 3, at_least=False)
    return 0 if met else MISSED


def worst_of(h: object) -> float:
    """Largest deviation of the shape re volume 10."""
    shape = gn.level_db(h, re="reference").sel(volume=slice(1, None))  # 0 is silent
    return float(abs(shape - shape.sel(volume=10)).max())


if __name__ == "__main__":
    sys.exit(main())
