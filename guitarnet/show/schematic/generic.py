"""The connection diagram of any harness: each joint is a numbered line."""

from __future__ import annotations

from collections.abc import Sequence

from ...circuit.bench_lists import words_of
from ...circuit.harness import Harness
from ...errors import BadHarness
from ...parts.two_lug import Empty
from .blocks import value_lines
from .sheet import INK, PALE, SMALL, Sheet, harness_groups, shorten, text_width

__all__ = ["connections"]

_ROW, _COLUMN = 0.46, 0.7
_PAD, _GAP = 0.32, 2 * _ROW - 0.32  # rows of every part stand on one grid
_BOX, _LUG = 5.0, 2.4  # width of a box, and the most of it that a lug's name takes


def connections(guitar: Harness, *, asked: bool = False) -> Sheet:
    """Place parts as boxes at both sides, and between them each joint as a numbered line.

    Parameters
    ----------
    guitar : Harness
        Any harness, whole or not.
    asked : bool
        Whether it was asked for although a schematic may be at hand.

    Returns
    -------
    Sheet
        The sheet.
    """
    sheet = Sheet(guitar, "connections")
    names = [name for name, part in guitar.parts.items() if not isinstance(part, Empty)]
    joints = _joints(guitar)
    first = _COLUMN
    width = first + _COLUMN * (len(joints) + 1)
    left, right = _halves(guitar, names)
    alone = {lug for group in harness_groups(guitar) if len(group) == 1 for lug in group}
    for side, edge, held in ((-1, 0.0, left), (1, width, right)):
        # Half a row apart, so that no line from the left runs into one from the right.
        y = 0.0 if side < 0 else -_ROW / 2
        for name in held:
            y = _part(sheet, name, edge, y, side, alone)
    for number, (title, lugs) in enumerate(joints):
        _column(sheet, first + _COLUMN * (number + 0.5), title, lugs)
    why = "as asked" if asked else "no schematic placed by hand joins what this harness joins"
    numbered = "as the joint list numbers it" if _numbers(guitar) else "not whole, so not listed"
    sheet.notes = [
        f"Connection diagram: {why}. Each upright line is one joint, {numbered}; what is plugged "
        "bears no number. A line from a lug joins it at the dot; lines that only cross are not "
        "joined; a ring is a lug joined to nothing. Every line was followed and joins what the "
        "harness joins."
    ]
    return sheet


def _joints(guitar: Harness) -> list[tuple[str, list[str]]]:
    """Joints of two or more lugs, with their numbers in the list of joints."""
    held = [
        [lug for lug in joint if not isinstance(guitar.parts[lug.partition(".")[0]], Empty)]
        for joint in guitar.joined
    ]
    held = [lugs for lugs in held if len(lugs) > 1]
    numbers = _numbers(guitar)
    if not numbers:
        # A hot lug on ground and such: there is no list then, and joints are counted as they stand.
        return [(str(number), lugs) for number, lugs in enumerate(held, 1)]
    titled = [
        (next((numbers[word] for lug in lugs for word in _words(lug) if word in numbers), ""), lugs)
        for lugs in held
    ]
    titled.sort(key=lambda joint: int(joint[0] or 1000))
    return [(title or "plug", lugs) for title, lugs in titled]


def _words(lug: str) -> tuple[str, str]:
    """A lug as in the list of joints."""
    name, _, local = lug.partition(".")
    return words_of(lug), f"{words_of(name)} leg {words_of(local)}"


def _numbers(guitar: Harness) -> dict[str, str]:
    """Number of the joint of each soldered lug; empty if the harness is not whole."""
    try:
        table = guitar.joints()
    except BadHarness:
        return {}
    rows = [dict(zip(table.columns, row, strict=True)) for row in table]
    return {
        word.partition(" (")[0]: row["joint"]
        for row in rows
        if row["joint"]
        for word in f"{row['lugs']}, {row['leads that come here']}".split(", ")
    }


def _halves(guitar: Harness, names: Sequence[str]) -> tuple[list[str], list[str]]:
    """Distribute parts to two sides of about the same height, in order."""
    heights = [_height(guitar, name) for name in names]
    half, done = sum(heights) / 2, 0.0
    left: list[str] = []
    for name, height in zip(names, heights, strict=True):
        if left and done + height / 2 > half:
            break
        left.append(name)
        done += height
    return left, list(names[len(left) :])


def _height(guitar: Harness, name: str) -> float:
    return max(len(guitar.parts[name].lugs), 2) * _ROW + _GAP + _PAD


def _part(sheet: Sheet, name: str, edge: float, y: float, side: int, alone: set[str]) -> float:
    """Draw a part as a box with its lugs towards the joints; return the start of the next."""
    part = sheet.part(name)
    rows = max(len(part.lugs), 2)
    far = edge + side * _BOX
    low = y - rows * _ROW - _PAD
    frame = [(edge, y), (far, y), (far, low), (edge, low), (edge, y)]
    sheet.put(sheet.shape([frame], color=PALE, lw=0.9))
    written = {lug: shorten(words_of(lug), _LUG, SMALL) for lug in part.lugs}
    wide = max((text_width(words, SMALL) for words in written.values()), default=0.0)
    room = _BOX - wide - 0.5
    lines = [shorten(words_of(name), room, weight="bold")]
    lines += value_lines(part, room, max(1, rows - 1))
    sheet.label(far - side * 0.15, (y + low) / 2, lines, across="left" if side < 0 else "right")
    places = {lug: (edge, y - _PAD / 2 - (n + 0.5) * _ROW) for n, lug in enumerate(part.lugs)}
    nothing = [[at, at] for at in places.values()]
    anchors = {f"lug_{n}": at for n, at in enumerate(places.values())}
    lugs = {f"lug_{n}": f"{name}.{lug}" for n, lug in enumerate(places)}
    sheet.put(sheet.shape(nothing, anchors=anchors), **lugs)
    across = "right" if side < 0 else "left"
    for lug, (_, up) in places.items():
        sheet.write(edge + side * 0.16, up, written[lug], size=SMALL, colour=PALE, across=across)
    free = [places[lug] for lug in part.lugs if f"{name}.{lug}" in alone]
    if free:
        sheet.put(sheet.shape(circles=[(at, 0.09) for at in free]))
    return low - _GAP


def _column(sheet: Sheet, x: float, title: str, lugs: Sequence[str]) -> None:
    """Draw a joint: an upright line, and a line with a dot from each of its lugs."""
    heights = [sheet.at(lug)[1] for lug in lugs]
    for lug, y in zip(lugs, heights, strict=True):
        sheet.wire(lug, (x, y))
    for y in dict.fromkeys(heights):
        sheet.dot((x, y))
    sheet.wire((x, max(heights)), (x, min(heights)))
    if title == "plug":
        sheet.write(x, 0.45, title, size=SMALL, colour=PALE, across="center")
        return
    sheet.write(x, 0.45, title, size=SMALL + 1, colour=INK, across="center", weight="bold")
    if any(lug.endswith(".sleeve") for lug in lugs):
        sheet.write(x, 0.85, "ground", size=SMALL, colour=PALE, across="center")
