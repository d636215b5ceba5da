"""Bench pictures of random harnesses: true to their joints, no text on anything.

    python tools/bench_pictures.py --harnesses 300 --seed 1

A third of the harnesses each are really random graphs, layouts with options at random, and
layouts with a fault; half of them with edits on top. Of each picture the lines are followed and
held against the joints, every wire is taken away once (which must be noticed), and texts are
held against wires and each other. Figures stand in `tools/bench_pictures.md`.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from itertools import combinations, pairwise

import numpy as np

from guitarnet.circuit.harness import Harness
from guitarnet.command.start import LAYOUTS, beginning
from guitarnet.errors import GuitarnetError
from guitarnet.show.bench.follow import drawn_joints, listed_joints
from guitarnet.show.bench.ink import BADGE
from guitarnet.show.bench.letters import boxed
from guitarnet.show.bench.wiring import Picture, wired

__all__ = ["collisions", "unnoticed"]

FAMILIES = ("graph", "layout", "fault")


def unnoticed(picture: Picture, every: int = 1) -> list[int]:
    """Wires that can be left out without a change of what the lines join."""
    whole = drawn_joints(picture)
    return [
        k
        for k in range(0, len(picture.wires), every)
        if drawn_joints(picture, [w for j, w in enumerate(picture.wires) if j != k]) == whole
    ]


def collisions(picture: Picture) -> list[str]:
    """Texts that lie on a wire, a number or another text, and numbers that lie on each other."""
    texts = [words for _, form in picture.forms() for words in form.words]
    boxes = [(words.words, boxed(words)) for words in texts]
    found = [
        f"{one!r} on {other!r}" for (one, a), (other, b) in combinations(boxes, 2) if _overlap(a, b)
    ]
    for wire in picture.wires:
        for (x0, y0), (x1, y1) in pairwise(wire.points):
            line = min(x0, x1) - 0.2, min(y0, y1) - 0.2, max(x0, x1) + 0.2, max(y0, y1) + 0.2
            found += [f"{words!r} on wire {wire.joint}" for words, b in boxes if _overlap(line, b)]
    badges = {lug: (spot.x, spot.y) for lug, spot in picture.placed.lugs.items()}
    for lug, (x, y) in badges.items():
        if lug in picture.bench.number:
            ring = x - BADGE + 0.1, y - BADGE + 0.1, x + BADGE - 0.1, y + BADGE - 0.1
            found += [f"{words!r} on {lug}" for words, b in boxes if _overlap(ring, b)]
    for (one, p), (other, q) in combinations(badges.items(), 2):
        if max(abs(p[0] - q[0]), abs(p[1] - q[1])) < 2 * BADGE:
            found.append(f"{one} on {other}")
    return found


def _overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def harnesses(seed: int, count: int) -> Iterator[tuple[str, Harness]]:
    """Harnesses drawn at random, the same ones for the same seed."""
    from fuzz.draw import draw_trial

    for number in range(count):
        family = FAMILIES[number % len(FAMILIES)]
        rng = np.random.default_rng([seed, number])
        yield f"{family} {number}", draw_trial(rng, family, swept=False).guitar


def main(given: list[str] | None = None) -> int:
    """Draw, follow, count; 0 where all went well."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--harnesses", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(given)
    rows: list[tuple[str, Harness]] = [(name, beginning(name)) for name in LAYOUTS]
    rows += list(harnesses(options.seed, options.harnesses))
    total: Counter[str] = Counter()
    wrong = 0
    began = time.process_time()
    for name, guitar in rows:
        try:
            picture = wired(guitar)
        except GuitarnetError as error:
            print(f"{name}: refused: {error}")
            total["refused"] += 1
            continue
        counts = {
            "wires": len(picture.wires),
            "crossings": len(picture.crossings),
            "numbered lugs": len(picture.points),
            "texts on something": len(collisions(picture)),
            "wires not missed": len(unnoticed(picture)),
            "not true": int(drawn_joints(picture) != listed_joints(picture)),
        }
        total += Counter({"pictures": 1, **counts})
        bad = counts["texts on something"] + counts["wires not missed"] + counts["not true"]
        wrong += bool(bad)
        if bad or name in LAYOUTS:
            print(f"{name}: {counts} {collisions(picture)[:3] if bad else ''}")
    print(dict(total), f"{time.process_time() - began:.0f} s of processor time")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
