"""Where parts stand: pots under the ground bus, switches, small parts, pickups below.

The order within the rows is the one whose straight lines from lug to lug cross least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, permutations, product

from .cells import Bench, Cell
from .form import Form, Lane, Lug

__all__ = ["Placed", "arranged", "connections"]

MARGIN = 3  # lanes at the left and right edge
LEAST = 46  # lanes, width of a picture
WIDEST = 56
_PAST = 40  # lanes of wire that it is worth not to pass a row of pots
_AWAY = 14  # and not to leave a lug on the far side
_CROSSING = 60  # lanes of wire that one crossing is worth


@dataclass
class Placed:
    """Cells at their places; ``buses`` are the levels of ground buses and how far they reach."""

    bench: Bench
    cells: dict[str, tuple[Cell, int, int]]
    buses: list[int]
    bus_rows: list[list[str]]
    wide: int
    high: int

    def lug(self, lug: str) -> Lug:
        """A solder point on the picture."""
        return self.lugs[lug]

    def __post_init__(self) -> None:
        self.lugs: dict[str, Lug] = {}
        self.hung: dict[str, str] = {}
        for cell, x, y in self.cells.values():
            for name, lug in cell.lugs.items():
                self.lugs[name] = _moved(lug, x, y)
            self.hung |= cell.legs

    def form(self, name: str) -> Form:
        """Form of a cell, at its place."""
        cell, x, y = self.cells[name]
        return cell.form.moved(x, y)


def _moved(lug: Lug, x: int, y: int) -> Lug:
    inner = lug.inner and (lug.inner[0] + x, lug.inner[1] + y)
    return replace(lug, x=lug.x + x, y=lug.y + y, inner=inner)


@dataclass(frozen=True)
class _Order:
    """Order of the rows; ``turned`` are pickups and switches that stand the other way round.

    ``shift`` and ``low`` move the row of switches and that of pickups to the right.
    """

    pots: tuple[str, ...]
    switches: tuple[str, ...]
    pickups: tuple[str, ...]
    turned: frozenset[str] = frozenset()
    shift: int = 0
    low: int = 0


def arranged(bench: Bench) -> list[Placed]:
    """Place the parts, the best arrangement first."""
    by_kind = {
        kind: tuple(n for n, cell in bench.cells.items() if cell.kind == kind)
        for kind in ("pot", "switch", "pickup", "jack")
    }
    start = _Order(by_kind["pot"], (*by_kind["switch"],), by_kind["pickup"])
    rated: dict[_Order, int] = {}

    def rate(order: _Order) -> int:
        if order not in rated:
            rated[order] = _estimate(_place(bench, order))
        return rated[order]

    def better(orders: Sequence[_Order]) -> _Order:
        return min(orders, key=rate)  # the first of equals

    first = better(
        [
            replace(start, pots=pots, pickups=pickups)
            for pots in _orders(start.pots)
            for pickups in dict.fromkeys((start.pickups, start.pickups[::-1]))
        ]
    )
    for _ in range(2):
        for name in (*first.switches, *first.pickups):
            first = better([first, replace(first, turned=first.turned ^ {name})])
        if len(first.switches) > 1:
            first = better([first, *(replace(first, switches=s) for s in _orders(first.switches))])
        if first.switches:
            first = better([first, *(replace(first, shift=s) for s in range(-9, 10))])
        first = better([first, *(replace(first, low=s) for s in range(-6, 7))])
        first = better([first, *(replace(first, pots=pots) for pots in _orders(first.pots))])
    second = sorted(rated, key=lambda order: rated[order])[:12]
    chosen = dict.fromkeys([first, *second])
    return [_place(bench, order) for order in list(chosen)[:3]]


def _orders(names: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Every order of a few names; of many, the given one and those with two exchanged."""
    if len(names) <= 4:
        return list(permutations(names))
    orders = [names]
    for i, j in combinations(range(len(names)), 2):
        new = list(names)
        new[i], new[j] = new[j], new[i]
        orders.append(tuple(new))
    return orders


# -- rows -----------------------------------------------------------------------------------------


def _place(bench: Bench, order: _Order) -> Placed:
    """Stand the cells in rows."""
    cells = {
        name: bench.turned(name) if name in order.turned else cell
        for name, cell in bench.cells.items()
    }
    jacks = [name for name, cell in cells.items() if cell.kind == "jack"]
    pots = _pot_rows(cells, order.pots)
    last = pots[-1] if pots else []
    rows: list[tuple[str, list[str]]] = [("pots", row) for row in pots]
    switches, beside = list(order.switches), []
    if pots and _width(cells, [*last, *jacks]) <= WIDEST - 2 * MARGIN:
        last += jacks
    elif switches and _width(cells, [*switches, *jacks]) <= WIDEST - 2 * MARGIN:
        switches += jacks
    elif switches or not order.pickups:
        rows.append(("pots", jacks))
    else:
        beside = jacks
    shelf: dict[str, Cell] = {}
    wide = max(LEAST, *(2 * MARGIN + _width(cells, row) for _, row in rows), 0) if rows else LEAST
    wide = max(wide, min(WIDEST, 2 * MARGIN + 6 * len(bench.shelf)))
    below = [("switches", row) for row in _filled(cells, switches, max(wide, WIDEST))]
    under = [
        ("pickups", row) for row in _filled(cells, [*order.pickups, *beside], max(wide, WIDEST))
    ]
    wide = max(wide, *(2 * MARGIN + _width(cells, row) for _, row in (*below, *under)), 0)
    placed: dict[str, tuple[Cell, int, int]] = {}
    buses: list[int] = []
    bus_rows: list[list[str]] = []
    y = 1 if rows else 4
    for kind, row in (*rows, *below):
        y = _stand(cells, row, kind, y, wide, order.shift, placed, buses, bus_rows)
    if bench.shelf:
        shelf = _shelved(bench, Placed(bench, placed, buses, bus_rows, wide, y), under, cells)
        for row in _filled(shelf, list(shelf), wide):
            y = _stand(shelf, row, "shelf", y, wide, 0, placed, buses, bus_rows)
    for kind, row in under:
        y = _stand(cells, row, kind, y, wide, order.low, placed, buses, bus_rows)
    return Placed(bench, placed, buses, bus_rows, wide, y - 3)


def _pot_rows(cells: dict[str, Cell], names: Sequence[str]) -> list[list[str]]:
    """Rows of pots, as even as can be."""
    if not names:
        return []
    rows = _filled(cells, list(names), WIDEST)
    count = len(rows)
    if len(names) == 4 and count < 3:
        count = 2
    size = -(-len(names) // count)
    return [list(names[k : k + size]) for k in range(0, len(names), size)]


def _width(cells: dict[str, Cell], row: Sequence[str]) -> int:
    return sum(cells[n].box[2] - cells[n].box[0] + 1 for n in row) + len(row) - 1


def _filled(cells: dict[str, Cell], names: Sequence[str], wide: int) -> list[list[str]]:
    """Names in rows that are no wider than the picture."""
    rows: list[list[str]] = []
    for name in names:
        if rows and _width(cells, [*rows[-1], name]) <= wide - 2 * MARGIN:
            rows[-1].append(name)
        else:
            rows.append([name])
    return rows


def _stand(
    cells: dict[str, Cell], row: Sequence[str], kind: str, y: int, wide: int, shift: int,
    placed: dict[str, tuple[Cell, int, int]], buses: list[int], bus_rows: list[list[str]],
) -> int:  # fmt: skip
    """Stand one row; return the level below it."""
    if not row:
        return y
    spare = wide - 2 * MARGIN - _width(cells, row)
    gap, x = spare // (len(row) + 1), MARGIN
    if kind == "shelf":
        gap, x = 0, MARGIN + spare // 2
    top = min(cells[n].box[1] for n in row)
    if kind == "pots":
        buses.append(y + 1)
        bus_rows.append(list(row))
        y += 3
    centre = y - top
    offset = max(min(shift, spare // 2), -(spare // 2)) if kind in ("switches", "pickups") else 0
    for name in row:
        left, _, right, _ = cells[name].box
        x += gap
        placed[name] = (cells[name], x - left + offset, centre)
        x += right - left + 2
    bottom = centre + max(cells[n].box[3] for n in row)
    return bottom + (5 if kind == "pots" else 4 if kind == "switches" else 3)


def _shelved(
    bench: Bench, above: Placed, under: list[tuple[str, list[str]]], cells: dict[str, Cell]
) -> dict[str, Cell]:
    """Small parts on their own, in the order of what they are soldered to above them."""
    mine = set(bench.shelf)

    def lugs_above(name: str, leg: str) -> list[int]:
        if bench.number.get(f"{name}.{leg}") == bench.ground:
            return []
        return [above.lugs[q].x for q in bench.joined(f"{name}.{leg}") if q in above.lugs]

    def shared(name: str, leg: str) -> int:
        return sum(q.partition(".")[0] in mine for q in bench.joined(f"{name}.{leg}"))

    keys: dict[str, tuple[int, int]] = {}
    tops: dict[str, str] = {}
    for rank, name in enumerate(bench.shelf):
        legs = sorted(
            "ab",
            key=lambda leg: (
                bench.number.get(f"{name}.{leg}") == bench.ground,
                shared(name, leg),
                not lugs_above(name, leg),
                leg,
            ),
        )
        tops[name] = legs[0]
        xs = lugs_above(name, legs[0]) or lugs_above(name, legs[1]) or [above.wide // 2]
        keys[name] = sum(xs) * 12 // len(xs), rank
    return {name: bench.stand(name, tops[name]) for name in sorted(mine, key=keys.__getitem__)}


# -- which lug to which ---------------------------------------------------------------------------


def connections(placed: Placed) -> list[tuple[int, str, str]]:
    """Wires from lug to lug, joint by joint: each joint as a tree of short wires, no branches.

    Legs that hang on a lug are soldered there already; ground is joined by the bus and points.
    """
    bench = placed.bench
    wires: list[tuple[int, str, str]] = []
    load: dict[str, int] = {}
    for lug in placed.hung.values():
        load[lug] = load.get(lug, 0) + 1
    for number in range(1, len(bench.joints) + 1):
        if number == bench.ground:
            continue
        joint = bench.joints[number - 1]
        fixed = [q for q in joint.fixed if q in placed.lugs]
        leads = [q for q in joint.leads if q in placed.lugs]
        if not fixed:
            fixed, leads = leads[:1], leads[1:]
        for some in (fixed[1:], leads):
            seen = fixed[:1] if some is not leads else list(fixed)
            rest = list(some)
            while rest:
                _, _, _, near, far = min(
                    (_far(placed, p, q) + _crowded(placed, p, load), i, j, p, q)
                    for (i, p), (j, q) in product(enumerate(seen), enumerate(rest))
                )
                wires.append((number, near, far))
                for lug in (near, far):
                    load[lug] = load.get(lug, 0) + 1
                rest.remove(far)
                seen.append(far)
    return wires


def _crowded(placed: Placed, lug: str, load: dict[str, int]) -> int:
    """Lanes of wire that it is worth to leave a lug alone to which wires go already."""
    return (9 if len(placed.lugs[lug].out) > 1 else 90) * load.get(lug, 0)


def _far(placed: Placed, one: str, other: str) -> int:
    p, q = placed.lugs[one], placed.lugs[other]
    same = one.partition(".")[0] == other.partition(".")[0]
    return abs(p.x - q.x) + abs(p.y - q.y) - (6 if same else 0)


def _estimate(placed: Placed) -> int:
    """Length of straight lines from lug to lug, and what their crossings are worth."""
    lines: list[tuple[int, Lane, Lane]] = []
    total = 0
    for number, one, other in connections(placed):
        p, q = placed.lugs[one], placed.lugs[other]
        lines.append((number, (p.x, p.y), (q.x, q.y)))
        total += abs(p.x - q.x) + abs(p.y - q.y) - 6 * (p.x == q.x)
        total += _AWAY * (_away(p, q) + _away(q, p))
        low, high = sorted((p.y, q.y))
        total += _PAST * sum(low < level < high for level in placed.buses)
    for (n, a, b), (m, c, d) in combinations(lines, 2):
        if n != m and _cross(a, b, c, d):
            total += _CROSSING
    return total


def _away(lug: Lug, other: Lug) -> bool:
    """Whether a wire leaves a lug on the side that is away from the other lug."""
    dx, dy = lug.out[0]
    return dx * (other.x - lug.x) + dy * (other.y - lug.y) < 0


def _cross(a: Lane, b: Lane, c: Lane, d: Lane) -> bool:
    """Whether two straight lines cross."""
    if max(a[0], b[0]) < min(c[0], d[0]) or max(c[0], d[0]) < min(a[0], b[0]):
        return False

    def side(p: Lane, q: Lane, r: Lane) -> int:
        turn = (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
        return (turn > 0) - (turn < 0)

    return side(a, b, c) != side(a, b, d) and side(c, d, a) != side(c, d, b)
