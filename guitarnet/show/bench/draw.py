"""The bench picture of a guitar, drawn only where its wires are those of the list of joints."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING

from ...circuit.bench_lists import CAUTIONS
from ...circuit.harness import Harness
from ...parts.blend import BlendPot
from ...parts.pot import Pot
from ...parts.switch import Switch
from ..figures import style
from .follow import drawn_joints, listed_joints
from .form import LANE, SMALL, TEXT, Words
from .ink import GROUND, PALE, Pen, stroke_of
from .letters import broken
from .live import Live, live_at
from .small import TINY
from .wiring import Picture, Point, Wire, wired

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_bench", "picture_of", "size_of"]

_MARGIN = 1  # lanes
_TITLE = 12.0  # points
_LONG = 9  # lanes of a straight stretch on which a wire bears its number
_NUMBERED = {"low": "1", "wiper": "2", "high": "3"}
_POTS = (Pot, BlendPot)
SEEN = {
    "bench": "seen from behind, the side you solder on",
    "bench from the front": "seen from the front, as if the plate were glass",
}


@lru_cache(maxsize=8)
def picture_of(guitar: Harness) -> Picture:
    """Place and wire a guitar, and hold what the lines join against its joints.

    Raises
    ------
    BadHarness
        If there is no part to draw, or no jack.
    """
    made = wired(guitar)
    if drawn_joints(made) != listed_joints(made):
        raise AssertionError("the bench picture joins what the harness does not")
    return made


def draw_bench(
    guitar: Harness,
    ax: Axes | None,
    view: str,
    title: str | None,
    lug_numbers: bool = False,
    places: Mapping[str, str] | None = None,
) -> Axes:
    """Draw the bench picture of a guitar on axes; their unit is a lane of 2.5 mm."""
    made = picture_of(guitar)
    live = None if places is None else live_at(guitar, places)
    with style.style():
        texts = _texts(made, view, title, lug_numbers, live)
        wide = made.placed.wide
        top, bottom = _ends(texts)
        if ax is None:
            _, grid = style.new_axes(size=_inches(wide, texts), layout="none")
            ax = grid[0, 0]
            ax.set_position((0, 0, 1, 1))
        ax.set_axis_off()
        ax.set_aspect("equal", adjustable="box")
        ax.set_xlim(-_MARGIN, wide + _MARGIN)
        ax.set_ylim(bottom, top)
        box = ax.get_window_extent()
        dots = min(box.width / (wide + 2 * _MARGIN), box.height / (bottom - top))
        mirror = wide if view == "bench from the front" else None
        ink(made, ax, dots / ax.figure.dpi * 25.4 / LANE, mirror, live)
        if lug_numbers:
            _number_lugs(made, Pen(ax, dots / ax.figure.dpi * 25.4 / LANE, mirror))
        pen = Pen(ax, dots / ax.figure.dpi * 25.4 / LANE)
        for words in texts:
            pen.words(words, 9)
        ax.set_xlim(-_MARGIN, wide + _MARGIN)
        ax.set_ylim(bottom, top)
    return ax


def size_of(made: Picture) -> tuple[float, float]:
    """Width and height of a picture seen from behind, at full size [inches]."""
    with style.style():
        return _inches(made.placed.wide, _texts(made, "bench", None))


def _inches(wide: int, texts: list[Words]) -> tuple[float, float]:
    top, bottom = _ends(texts)
    return (wide + 2 * _MARGIN) * LANE / 25.4, (bottom - top) * LANE / 25.4


def _ends(texts: list[Words]) -> tuple[float, float]:
    """Top and bottom of the picture, by its first and last line of text."""
    return min(w.y for w in texts) - 1.4, max(w.y for w in texts) + 1.2


def ink(
    made: Picture, ax: Axes, scale: float, mirror: float | None, live: Live | None = None
) -> None:
    """Draw wires, parts and numbers; grey, what is not in the circuit."""
    pen, bench = Pen(ax, scale, mirror), made.bench
    dead = {
        number
        for number in range(1, len(bench.joints) + 1)
        if live and number != bench.ground and not live.lugs & {*bench.lugs_of(number)}
    }

    def look_of(number: int) -> tuple[str, str]:
        colour, stroke = stroke_of(number, bench.ground)
        return (PALE if number in dead else colour), stroke

    for name, form in made.forms():
        pen.form(form, 2, grey=live is not None and name not in live.parts)
    crossings = list(made.crossings)
    for wire in made.wires:
        z = 3.0 if wire.kind == "jumper" else 3.5 if wire.kind == "bus" else 4.0
        colour, stroke = look_of(wire.joint)
        pen.wire(wire, colour, stroke, crossings, z)
        for end in (wire.points[0], wire.points[-1]):
            if any(end in spots for spots in made.cans.values()):
                pen.solder(*end)
    for wire in made.wires:
        if (at := _number_at(wire, crossings)) is not None:
            pen.tag(*at, wire.joint)
    for lug, (at, way) in made.grounds.items():
        pen.ground_sign(at[0], at[1], way, made.placed.lugs[lug].stub)
        pen.badge(at[0], at[1], bench.number[lug], GROUND)
    for lug, spot in made.placed.lugs.items():
        number = bench.number.get(lug)
        if number is None:
            pen.ring(spot.x, spot.y)
        elif lug not in made.grounds:
            colour, _ = look_of(number)
            pen.badge(spot.x, spot.y, number, colour, filled=lug in made.points)
    for _, form in made.forms():
        if form.frame and form.bus is None and bench.ground:
            pen.badge(*form.frame, bench.ground, GROUND)
    if made.strings and bench.ground:
        pen.badge(*made.strings, bench.ground, GROUND)


def _number_lugs(made: Picture, pen: Pen) -> None:
    """Number the lugs of pots on their tabs."""
    for lug, spot in made.placed.lugs.items():
        number = _NUMBERED.get(lug.partition(".")[2].rpartition("_")[2])
        if number and spot.inner and isinstance(made.bench.parts[lug.split(".")[0]], _POTS):
            pen.words(Words(spot.x, spot.inner[1] + 0.35, number, TINY), 7)


def _number_at(wire: Wire, crossings: list[tuple[int, int]]) -> Point | None:
    """Where a long wire bears its number: on its longest stretch, off the crossings."""
    if wire.kind != "wire":
        return None
    best: tuple[tuple[bool, float, float], Point] | None = None
    for (a, b), (c, d) in zip(wire.points, wire.points[1:], strict=False):
        long = abs(a - c) + abs(b - d)
        if long < _LONG:
            continue
        for share in (0.5, 0.375, 0.625, 0.25, 0.75):
            x, y = a + (c - a) * share, b + (d - b) * share
            free = all(abs(x - i) + abs(y - j) > 1.6 for i, j in crossings)
            rank = free, long, -abs(share - 0.5)
            if best is None or rank > best[0]:
                best = rank, (x, y)
    return best[1] if best else None


def _texts(
    made: Picture, view: str, title: str | None, lug_numbers: bool = False, live: Live | None = None
) -> list[Words]:
    """Title and how it is seen above, how to read it and the cautions below."""
    guitar, wide = made.bench.guitar, made.placed.wide
    texts: list[Words] = []
    y = -1.0
    if made.strings:
        x, level = made.strings
        # Beside the bus, so that it may be mirrored with it.
        said = Words(x + 1.4, level - 1.1, "string ground: a wire to the bridge", SMALL, "left")
        if view != "bench":
            said = Words(wide - said.x, said.y, said.words, SMALL, "right")
        texts.append(said)
    above = broken(guitar.name if title is None else title, wide, 2, _TITLE, True)
    lines = [(line, _TITLE, True) for line in above]
    lines.append((f"{SEEN[view][0].upper()}{SEEN[view][1:]}", TEXT, False))
    y -= 1.5 * len(lines)
    for words, size, bold in lines:
        y += 1.5
        texts.append(Words(0, y, words, size, "left", bold))
    y = made.placed.high + 1.2
    for line in broken(_reading(made, lug_numbers, live), wide, 16, SMALL):
        texts.append(Words(0, y, line, SMALL, "left"))
        y += 1.3
    y += 0.5
    for line in broken(CAUTIONS, wide, 12, SMALL):
        texts.append(Words(0, y, line, SMALL, "left"))
        y += 1.3
    return texts


def _reading(made: Picture, lug_numbers: bool, live: Live | None) -> str:
    """Sentences on how to read this picture."""
    bench = made.bench
    sentences = []
    if live:
        sentences.append(f"{live.sentence} Grey: on no way from tip to sleeve there.")
    sentences += ["Numbers are the joints of the solder list: same number, same joint."]
    if bench.ground:
        sentences.append(
            f"{bench.ground} is ground. A lug with the sign of ground gets a wire to the bus or to "
            "a can."
        )
    if made.points:
        sentences.append("Filled circles of one number are joined by wires that are not drawn.")
    if any(cell.kind == "pot" for cell in bench.cells.values()):
        sentences.append("The wiper touches the lug marked 10 at 10, the lug marked 0 at 0.")
    if lug_numbers:
        sentences.append(
            "Small numbers on a tab count a pot's lugs from left to right, its shaft towards you "
            "and its lugs down."
        )
    if any(q not in bench.number for q in made.placed.lugs):
        sentences.append("A small open ring: leave this lug open.")
    if any(isinstance(part, Switch) for part in bench.parts.values()):
        sentences.append(
            "Switches of other makes have their lugs in another order: find the commons with the "
            "meter first."
        )
    return " ".join(sentences)
