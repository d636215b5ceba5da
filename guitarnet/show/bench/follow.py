"""Follow the lines of a bench picture from lug to lug, and say what they join."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ...groups import Groups
from .wiring import Picture, Point, Wire

__all__ = ["drawn_joints", "listed_joints"]

_NEAR = 1e-6  # lanes; points closer than this are one
_GROUND = "ground"


def drawn_joints(picture: Picture, wires: Iterable[Wire] | None = None) -> set[frozenset[str]]:
    """Groups of two lugs or cans and more that the drawn lines join.

    A line joins what lies at its ends: a lug, a can, or bare bus wire on which it ends. Lines
    that cross are not joined. Lugs with the sign of ground are joined to the bus and to each
    other, lugs with the same number in a filled circle to each other.
    """
    lines = list(picture.wires if wires is None else wires)
    joined: Groups[Any] = Groups()
    for k, wire in enumerate(lines):
        for end in (wire.points[0], wire.points[-1]):
            for lug, spots in picture.spots.items():
                if any(_same(end, spot) for spot in spots):
                    joined.merge(("line", k), lug)
            for can, spots in picture.cans.items():
                if any(_same(end, spot) for spot in spots):
                    joined.merge(("line", k), can)
            for j, other in enumerate(lines):
                if other.kind == "bus" and j != k and _on(end, other):
                    joined.merge(("line", k), ("line", j))
        if wire.kind == "bus" and picture.strings and _on(picture.strings, wire):
            joined.merge(("line", k), _GROUND)
    for lug in picture.grounds:
        joined.merge(lug, _GROUND)
    for lug, number in picture.points.items():
        joined.merge(lug, ("number", number))
    groups: dict[Any, set[str]] = {}
    for lug in (*picture.spots, *picture.cans):
        groups.setdefault(joined.find(lug), set()).add(lug)
    return {frozenset(group) for group in groups.values() if len(group) > 1}


def listed_joints(picture: Picture) -> set[frozenset[str]]:
    """Groups of two lugs or more that the list of joints solders, the cans with ground."""
    bench = picture.bench
    return {
        frozenset((*bench.lugs_of(n), *(picture.cans if n == bench.ground else ())))
        for n in range(1, len(bench.joints) + 1)
    }


def _same(one: Point, other: Point) -> bool:
    return abs(one[0] - other[0]) <= _NEAR and abs(one[1] - other[1]) <= _NEAR


def _on(point: Point, wire: Wire) -> bool:
    """Whether a point lies on a straight wire."""
    (a, b), (c, d) = wire.points[0], wire.points[-1]
    x, y = point
    return (
        min(a, c) - _NEAR <= x <= max(a, c) + _NEAR and min(b, d) - _NEAR <= y <= max(b, d) + _NEAR
    )
