"""All that is drawn on a bench picture: parts at their places, wires, the ground bus, points."""

from __future__ import annotations

from dataclasses import dataclass, field

from ...circuit.harness import Harness
from ...groups import Groups
from .cells import Bench
from .form import Form, Lane
from .place import Placed, arranged, connections
from .route import Board, Run

__all__ = ["Picture", "Wire", "wired"]

Point = tuple[float, float]


@dataclass(frozen=True)
class Wire:
    """A line that joins what is at its two ends: a wire, a leg or bare bus wire."""

    joint: int
    points: tuple[Point, ...]
    kind: str = "wire"


@dataclass
class Picture:
    """What is drawn, at its places in lanes.

    ``spots`` are the places at which a lug is reached; ``cans`` the spots of solder on each can,
    which is grounded too; ``points`` are lugs at which a number stands for a wire that is not
    drawn; ``grounds`` are spots with the sign of ground, and in which direction it points.
    """

    bench: Bench
    placed: Placed
    wires: list[Wire] = field(default_factory=list)
    spots: dict[str, list[Point]] = field(default_factory=dict)
    cans: dict[str, list[Point]] = field(default_factory=dict)
    points: dict[str, int] = field(default_factory=dict)
    grounds: dict[str, tuple[Lane, Lane]] = field(default_factory=dict)
    crossings: list[Lane] = field(default_factory=list)
    strings: Point | None = None

    def forms(self) -> list[tuple[str, Form]]:
        """All forms at their places, a part before what hangs on it."""
        made = []
        for name, (cell, x, y) in self.placed.cells.items():
            made.append((name, cell.form.moved(x, y)))
            made += [(small, form.moved(x, y)) for small, form in cell.hanging.items()]
        return made


def wired(guitar: Harness) -> Picture:
    """Place and wire a guitar; of a few arrangements the one whose wires cross least."""
    bench = Bench(guitar)
    best: Picture | None = None
    least = (0, 0)
    for placed in arranged(bench):
        made = _wire(bench, placed)
        rank = 3 * len(made.points) + len(made.crossings), sum(map(_length, made.wires))
        if best is None or rank[0] < least[0] or (rank[0] == least[0] and rank[1] + 20 < least[1]):
            best, least = made, rank
        if least[0] <= 1:
            break
    assert best is not None
    return best


def _length(wire: Wire) -> int:
    return round(
        sum(
            abs(a - c) + abs(b - d)
            for (a, b), (c, d) in zip(wire.points, wire.points[1:], strict=False)
        )
    )


def _wire(bench: Bench, placed: Placed) -> Picture:
    made = Picture(bench, placed)
    board = Board(placed.wide, placed.high + 1)
    for _name, (cell, x, y) in placed.cells.items():
        for form in (cell.form, *cell.hanging.values()):
            for left, top, right, bottom in form.moved(x, y).solid:
                board.close(left, top, right, bottom)
        for full in cell.lugs:
            spot = placed.lugs[full]
            made.spots[full] = [(spot.x, spot.y)] + ([spot.inner] if spot.inner else [])
        for small, form in cell.hanging.items():
            for leg, lug in form.moved(x, y).lugs.items():
                made.spots[f"{small}.{leg}"] = [(lug.x, lug.y)]
    board.open(at for cell, x, y in placed.cells.values() for at, _ in cell.form.moved(x, y).cans)
    for at in placed.lugs.values():
        board.close(at.x, at.y, at.x, at.y)
    if bench.ground:
        _buses(made, board)
    _legs(made, board)
    runs, ends = _grounds(made, board)
    for number, one, other in connections(placed):
        p, q = placed.lugs[one], placed.lugs[other]
        if (bare := _across(made, one, other)) is not None:
            made.wires.append(Wire(number, bare, "jumper"))
            continue
        way = tuple((-a, -b) for a, b in q.out)
        runs.append(Run(number, (p.x, p.y), p.out, (((q.x, q.y), way),)))
        ends.append((one, other))
    board.mark_near((at.x, at.y) for at in placed.lugs.values())
    paths = board.run_all(runs)
    for run, (one, other), path in zip(runs, ends, paths, strict=True):
        if path is None:
            if not other:
                _ground_point(made, one)
            continue
        points: list[Point] = [*path]
        if not other:
            form = placed.form(one.partition(".")[0])
            points.append(dict(form.cans)[path[-1]])
        made.wires.append(Wire(run.joint, tuple(_corners(points))))
    _number_ends(made, [(run.joint, *ends[k]) for k, run in enumerate(runs) if paths[k] is None])
    made.crossings = [
        (x, y)
        for path in paths
        for x, y in (path or ())[1:-1]
        if board.used[y * board.wide + x] == 3
    ]
    made.crossings = sorted(set(made.crossings))
    return made


def _number_ends(made: Picture, left: list[tuple[int, str, str]]) -> None:
    """Mark lugs between which no wire is drawn: one lug of each group that wires join."""
    at = {spot: lug for lug, spots in made.spots.items() for spot in spots}
    groups: Groups[str] = Groups()
    for wire in made.wires:
        ends = [at[end] for end in (wire.points[0], wire.points[-1]) if end in at]
        if len(ends) == 2:
            groups.merge(*ends)
    marked: dict[str, str] = {}
    for number, *ends in left:
        for lug in ends:
            if lug and all(ends) and groups.find(lug) not in marked:
                marked[groups.find(lug)] = lug
                made.points[lug] = number


def _corners(points: list[Point]) -> list[Point]:
    """A path by its ends and corners."""
    kept = [points[0]]
    for a, p, b in zip(points, points[1:], points[2:], strict=False):
        if (p[0] - a[0]) * (b[1] - p[1]) != (p[1] - a[1]) * (b[0] - p[0]):
            kept.append(p)
    return [*kept, points[-1]]


def _buses(made: Picture, board: Board) -> None:
    """A bare wire above each row of pots, soldered to every can; those rows tied at the left."""
    placed, ground = made.placed, made.bench.ground
    left = 2
    for level, row in zip(placed.buses, placed.bus_rows, strict=True):
        ends = [left]
        for name in row:
            cell, x, y = placed.cells[name]
            form = cell.form.moved(x, y)
            half = len(form.cans) // (2 if form.frame else 1)  # the two cans of a blend pot
            for can, spot, own in (
                ("can", form.bus, form.cans[:half]),
                ("second can", form.frame if cell.kind == "pot" else None, form.cans[half:]),
            ):
                if spot is not None:
                    made.cans[f"{name}.{can}"] = [spot, *(at for _, at in own)]
                    made.wires.append(Wire(ground, ((spot[0], level), spot), "bus"))
                    ends.append(round(spot[0]))
            for up in cell.up:
                if made.bench.number.get(up) == ground:
                    ((a, b),) = made.spots[up]
                    made.wires.append(Wire(ground, ((a, level), (a, b)), "leg"))
                    ends.append(round(a))
            sleeve = placed.lugs.get(f"{name}.sleeve") if cell.kind == "jack" else None
            if sleeve and made.bench.number.get(f"{name}.sleeve") == ground:
                made.wires.append(Wire(ground, ((sleeve.x, sleeve.y), (sleeve.x, level))))
                board.close(sleeve.x, level, sleeve.x, sleeve.y)
                ends.append(sleeve.x)
        made.wires.append(Wire(ground, ((left, level), (max(ends), level)), "bus"))
        board.lay_bus((left, level), (max(ends), level))
        for end in ends:
            board.close(end, level, end, level)
        for name in row:
            cell, x, y = placed.cells[name]
            if (bus := cell.form.moved(x, y).bus) is not None:
                board.close(round(bus[0]), level, round(bus[0]), round(bus[1]))
    if placed.buses:
        made.strings = (left, placed.buses[0])
        if len(placed.buses) > 1:
            low, high = placed.buses[0], placed.buses[-1]
            made.wires.append(Wire(ground, ((left, low), (left, high)), "bus"))
            board.lay_bus((left, low), (left, high))
            for level in placed.buses:
                board.close(left, level, left, level)


def _legs(made: Picture, board: Board) -> None:
    """Legs of what hangs on a pot, down from its lug or along to what stands beside it."""
    for leg, lug in made.placed.hung.items():
        at = made.placed.lugs[lug]
        ((x, y),) = made.spots[leg]
        number = made.bench.number[leg]
        if x == at.x:
            points: tuple[Point, ...] = ((at.x, at.y), (x, y))
        else:
            points = ((at.x, at.y), (x, at.y), (x, y))
            for k in range(min(at.x, int(x)), max(at.x, int(x)) + 1):
                board.close(k, at.y, k, at.y)
            board.close(int(x), at.y - 8, int(x), at.y)
        made.wires.append(Wire(number, points, "leg"))


def _grounds(made: Picture, board: Board) -> tuple[list[Run], list[tuple[str, str]]]:
    """Grounded lugs: of a pot to its own can, of others a point with the sign of ground."""
    runs: list[Run] = []
    ends: list[tuple[str, str]] = []
    placed, ground = made.placed, made.bench.ground
    done = {q for w in made.wires if w.joint == ground for q in _at(made, w.points[0])}
    for q in made.bench.lugs_of(ground) if ground else ():
        if q in done or q not in placed.lugs:
            continue
        name = q.partition(".")[0]
        cans = placed.form(name).cans if name in placed.cells else ()
        lug = placed.lugs[q]
        if cans:
            near = sorted(cans, key=lambda can: abs(can[0][0] - lug.x))[:2]
            goals = tuple((at, ((1 if spot[0] > at[0] else -1, 0),)) for at, spot in near)
            runs.append(Run(ground, (lug.x, lug.y), lug.out, goals))
            ends.append((q, ""))
        else:
            _ground_point(made, q)
            (x, y), (dx, dy) = made.grounds[q]
            far = lug.stub + 1
            board.close(
                min(x, x + far * dx), min(y, y + far * dy), max(x, x + far * dx),
                max(y, y + far * dy),
            )  # fmt: skip
    return runs, ends


def _at(made: Picture, point: Point) -> list[str]:
    return [q for q, spots in made.spots.items() if point in spots]


def _ground_point(made: Picture, lug: str) -> None:
    at = made.placed.lugs[lug]
    made.grounds[lug] = (at.x, at.y), at.out[0]


def _across(made: Picture, one: str, other: str) -> tuple[Point, ...] | None:
    """A jumper over the body of a lever, from bank to bank, where none lies yet."""
    p, q = made.placed.lugs[one], made.placed.lugs[other]
    same = one.partition(".")[0] == other.partition(".")[0]
    if not same or p.inner is None or q.inner is None or abs(p.y - q.y) != 12:
        return None
    level = (p.y + q.y) / 2
    low, high = min(p.x, q.x) - 1, max(p.x, q.x) + 1
    for wire in made.wires:
        if wire.kind == "jumper":
            xs = [x for x, y in wire.points if y == level]
            if xs and min(xs) <= high and max(xs) >= low:
                return None
    return (p.inner, (p.inner[0], level), (q.inner[0], level), q.inner)
