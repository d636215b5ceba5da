"""Run wires in lanes: few bends, few crossings, none on another.

Whole numbers throughout, and ties in a fixed order: the same picture on every machine.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from .form import Lane

__all__ = ["Board", "Run"]

STEP, BEND, CROSS, NEAR, BESIDE = 10, 28, 200, 4, 3
"""Costs of a lane further, a bend, a crossing, a lane along a part, and one along a wire."""
BY_LUG = 6
"""Lanes along a part that one beside a lug is worth."""
ROUNDS = 3
MOST = 3
"""Crossings of one wire, above which it is not drawn but numbered at both ends."""
_WAYS: tuple[Lane, ...] = ((1, 0), (0, 1), (-1, 0), (0, -1))


@dataclass(frozen=True)
class Run:
    """A wire to run: its joint, where it may start and how, where it may end and how."""

    joint: int
    start: Lane
    out: tuple[Lane, ...]
    ends: tuple[tuple[Lane, tuple[Lane, ...]], ...]


@dataclass
class Board:
    """Lanes of a picture: which are closed, and which wires lie in them."""

    wide: int
    high: int
    closed: bytearray = field(init=False)
    near: bytearray = field(init=False)
    used: bytearray = field(init=False)  # 1 a wire across, 2 one up and down, 4 a bend or an end

    def __post_init__(self) -> None:
        count = self.wide * self.high
        self.closed, self.near = bytearray(count), bytearray(count)
        self.used = bytearray(count)
        for x in range(self.wide):
            self.close(x, 0, x, 0)
            self.close(x, self.high - 1, x, self.high - 1)
        for y in range(self.high):
            self.close(0, y, 0, y)
            self.close(self.wide - 1, y, self.wide - 1, y)

    def close(self, left: int, top: int, right: int, bottom: int) -> None:
        """Keep wires out of a rectangle, both ends included."""
        for y in range(max(top, 0), min(bottom, self.high - 1) + 1):
            for x in range(max(left, 0), min(right, self.wide - 1) + 1):
                self.closed[y * self.wide + x] = 1

    def open(self, places: Iterable[Lane]) -> None:
        """Let wires into single lanes again."""
        for x, y in places:
            self.closed[y * self.wide + x] = 0

    def lay_bus(self, one: Lane, other: Lane) -> None:
        """Lay a straight bare wire, which other wires may cross and not follow."""
        (x0, y0), (x1, y1) = sorted((one, other))
        bit = 1 if y0 == y1 else 2
        for y in range(y0, y1 + 1):
            for x in range(x0, x1 + 1):
                self.used[y * self.wide + x] |= bit

    def mark_near(self, lugs: Iterable[Lane]) -> None:
        """Note which lanes lie along what is closed, and which beside a lug."""
        wide, closed = self.wide, self.closed
        for y in range(1, self.high - 1):
            for x in range(1, wide - 1):
                i = y * wide + x
                if not closed[i] and (
                    closed[i - 1] or closed[i + 1] or closed[i - wide] or closed[i + wide]
                ):
                    self.near[i] = 1
        for x, y in lugs:
            for dx, dy in _WAYS:
                self.near[(y + dy) * wide + x + dx] = BY_LUG

    # -- all wires ------------------------------------------------------------------------------

    def run_all(self, runs: Sequence[Run]) -> list[list[Lane] | None]:
        """Run all wires, the short ones first; run those that cross again, each in turn."""
        order = sorted(range(len(runs)), key=lambda k: (_span(runs[k]), k))
        paths: list[list[Lane] | None] = [None] * len(runs)
        for k in order:
            paths[k] = self._lay(runs[k])
        best, least = list(paths), self._total(paths)
        for _ in range(ROUNDS):
            crossing = self.crossed(paths)
            again = [k for k in order if paths[k] is None or crossing[k]]
            if not again:
                break
            for k in sorted(again, key=lambda k: (-crossing[k], k)):
                self._lift(paths[k])
                paths[k] = None
                paths[k] = self._lay(runs[k])
            if (total := self._total(paths)) < least:
                best, least = list(paths), total
        self._relay(paths, best)
        for _ in runs:
            crossing = self.crossed(best)
            worst = max(range(len(runs)), key=lambda k: (crossing[k], k), default=None)
            if worst is None or crossing[worst] <= MOST:
                break
            self._lift(best[worst])
            best[worst] = None
        return best

    def _relay(self, old: Sequence[list[Lane] | None], new: Sequence[list[Lane] | None]) -> None:
        for path in old:
            self._lift(path)
        for path in new:
            self._mark(path, True)

    def _lay(self, run: Run) -> list[Lane] | None:
        path = self._shortest(run)
        self._mark(path, True)
        return path

    def _lift(self, path: list[Lane] | None) -> None:
        self._mark(path, False)

    def _mark(self, path: list[Lane] | None, lie: bool) -> None:
        for k in range(1, len(path or ()) - 1):
            (x0, y0), (x, y), (x1, y1) = path[k - 1 : k + 2]  # type: ignore[index]
            bit = 1 if y0 == y == y1 else 2 if x0 == x == x1 else 4
            i = y * self.wide + x
            self.used[i] = self.used[i] | bit if lie else self.used[i] & ~bit

    def crossed(self, paths: Sequence[list[Lane] | None]) -> list[int]:
        """Count the crossings of each wire."""
        return [
            sum(self.used[y * self.wide + x] == 3 for x, y in (path or ())[1:-1]) for path in paths
        ]

    def _total(self, paths: Sequence[list[Lane] | None]) -> int:
        """Cost of all wires together; a wire that found no way costs most."""
        total = 0
        for path in paths:
            if path is None:
                total += 20 * CROSS
                continue
            total += STEP * len(path)
            for k in range(1, len(path) - 1):
                (x0, y0), (x, y), (x1, y1) = path[k - 1 : k + 2]
                i = y * self.wide + x
                total += NEAR * self.near[i] + BEND * (x0 != x1 and y0 != y1)
                total += CROSS // 2 * (self.used[i] == 3)
        return total

    # -- one wire -------------------------------------------------------------------------------

    def _shortest(self, run: Run) -> list[Lane] | None:
        """Find the cheapest way of one wire among those that lie already."""
        wide, closed, near, used = self.wide, self.closed, self.near, self.used
        ends = {y * wide + x: ways for (x, y), ways in run.ends}
        xs = [x for (x, _), _ in run.ends]
        ys = [y for (_, y), _ in run.ends]
        left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)
        moves = tuple((dy * wide + dx, 1 if dx else 2, (dx, dy)) for dx, dy in _WAYS)

        # The least that is left to go, across and up or down.
        across = [STEP * max(left - x, x - right, 0) for x in range(wide)]
        along = [STEP * max(top - y, y - bottom, 0) for y in range(self.high)]
        start = run.start[1] * wide + run.start[0]
        cost: dict[int, int] = {}
        back: dict[int, int] = {}
        heap: list[tuple[int, int, int]] = []
        for d, way in enumerate(_WAYS):
            if way in run.out:
                first = 6 * run.out.index(way)
                cost[start * 4 + d] = first
                heap.append((first, first, start * 4 + d))
        heapq.heapify(heap)
        while heap:
            _, spent, state = heapq.heappop(heap)
            if spent > cost[state]:
                continue
            i, d = divmod(state, 4)
            if i in ends and i != start:
                return self._traced(state, back)
            for t in range(4):
                if t == d ^ 2 or (t != d and (i == start or used[i])):
                    continue
                step, axis, way = moves[t]
                j = i + step
                end = j in ends and way in ends[j]
                if closed[j] and not end:
                    continue
                lying = 0 if end else used[j]
                if lying and lying != 3 - axis:
                    continue
                now = spent + STEP + NEAR * near[j] + (BEND if t != d else 0)
                if lying:
                    now += CROSS
                elif not end:
                    side = wide if axis == 1 else 1
                    now += BESIDE * ((used[j - side] & axis > 0) + (used[j + side] & axis > 0))
                to = j * 4 + t
                if to not in cost or now < cost[to]:
                    cost[to] = now
                    back[to] = state
                    heapq.heappush(heap, (now + across[j % wide] + along[j // wide], now, to))
        return None

    def _traced(self, state: int, back: dict[int, int]) -> list[Lane]:
        path = [state]
        while path[-1] in back:
            path.append(back[path[-1]])
        return [(q // 4 % self.wide, q // 4 // self.wide) for q in reversed(path)]


def _span(run: Run) -> int:
    return min(abs(run.start[0] - x) + abs(run.start[1] - y) for (x, y), _ in run.ends)
