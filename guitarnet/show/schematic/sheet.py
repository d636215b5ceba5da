"""The sheet of a schematic: parts, wires and the lugs that they join."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

from ...circuit.bench_lists import words_of
from ...circuit.harness import Harness
from ...errors import NotInstalled, plain
from ...groups import Groups
from ...parts.base import Part
from ...parts.two_lug import Empty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "FAINT",
    "INCH",
    "INK",
    "PALE",
    "SMALL",
    "Point",
    "Sheet",
    "apart",
    "drawn_groups",
    "harness_groups",
    "shorten",
    "text_width",
    "wrap",
]

Point = tuple[float, float]
"""A point on the sheet [units]."""

INCH = 0.36
"""Inches per unit of the sheet in a new figure."""
FONT, SMALL = 8.5, 6.8  # points, at that size
_LINE = 0.4  # units, between two lines of a label
INK, PALE, FAINT = "#111111", "#555555", "#9a9a9a"
_UNIT = re.compile(r"(?<=\d) (?=[pn\u00b5mkMG]?[\u03a9FHVm%])")
_CUT, _MOST = "\u2026", 2000  # sign where a text is cut, and letters that none fits in full
_SHARES = {"left": 0.0, "center": 0.5, "right": 1.0}  # of a text, left of its place
_NEAR = 1e-6  # units; points closer than this are one


@dataclass
class Text:
    """One line of text on the sheet."""

    x: float
    y: float
    words: str
    size: float = FONT
    colour: str = INK
    across: str = "left"
    up: str = "center"
    weight: str = "normal"


class Sheet:
    """Parts of a harness at their places, and wires between them.

    Positions are in units, to the right and upwards. A lug is where its symbol ends: wires join
    it by reaching that point, and nothing else says what is joined. ``names`` says what parts are
    called where the harness holds them under another name.
    """

    def __init__(self, guitar: Harness, form: str, names: Mapping[str, str] | None = None) -> None:
        schemdraw, self.elements = _schemdraw()
        self.guitar, self.form = guitar, form
        self._names = names or {}
        self.drawing = schemdraw.Drawing(
            show=False, unit=2.0, inches_per_unit=INCH, lblofst=0.1, fontsize=FONT,
            font="sans-serif", color=INK, lw=1.15, ls="-", fill=None, margin=0.0,
        )  # fmt: skip
        # A background or a font for formulas that someone chose for all drawings is not ours.
        for chosen in ("bgcolor", "mathfont"):
            self.drawing.dwgparams.pop(chosen, None)
        self.lugs: dict[str, tuple[Any, str]] = {}
        self.wires: list[Any] = []
        self.dots: list[Any] = []
        self.grounds: list[Any] = []
        self.texts: list[Text] = []
        self.notes: list[str] = []
        self.sockets: list[Point] = []

    # -- placing ----------------------------------------------------------------------------

    def part(self, name: str) -> Part:
        """A part of the harness."""
        return self.guitar.parts[name]

    def words(self, name: str) -> str:
        """Label of a part."""
        return words_of(self._names.get(name, name))

    def call_as(self, guitar: Harness) -> None:
        """Rename parts and lugs to the names of the guitar, after all are placed."""
        lugs = {tuple(lug.split(".")): end for lug, end in self.lugs.items()}
        self.lugs = {f"{self._names.get(name, name)}.{lug}": e for (name, lug), e in lugs.items()}
        self.guitar, self._names = guitar, {}

    def has(self, name: str) -> bool:
        """Whether the harness has a part of that name that is not an empty place."""
        return name in self.guitar.parts and not isinstance(self.guitar.parts[name], Empty)

    def put(self, element: Any, **lugs: str) -> Any:
        """Place an element; each lug ("volume.high") is at the anchor given with it."""
        self.drawing.add(element)
        for anchor, lug in lugs.items():
            if lug in self.lugs:
                raise ValueError(f"{lug} is drawn twice")
            self.lugs[lug] = (element, anchor)
        return element

    def two_ends(self, kind: str, start: Point, end: Point, **options: Any) -> Any:
        """Make an element of two ends, such as "ResistorIEC", between two points."""
        return getattr(self.elements, kind)(**options).endpoints(start, end)

    def shape(
        self,
        paths: Iterable[Sequence[Point]] = (),
        anchors: dict[str, Point] | None = None,
        circles: Iterable[tuple[Point, float]] = (),
        **look: Any,
    ) -> Any:
        """Make an element from lines and circles at their points on the sheet."""
        from schemdraw import Segment, SegmentCircle

        element = self.elements.Element(at=(0.0, 0.0), theta=0, **look)
        element.segments = [Segment(path) for path in paths]
        element.segments += [
            SegmentCircle(centre, radius, fill="white", zorder=5) for centre, radius in circles
        ]
        element.anchors.update(anchors or {})
        return element

    def at(self, lug: str) -> Point:
        """Point of a lug on the sheet."""
        element, anchor = self.lugs[lug]
        return _point(element.absanchors[anchor])

    def wire(self, *points: Point | str) -> None:
        """Draw a wire through points and lugs in turn."""
        places = [self.at(point) if isinstance(point, str) else point for point in points]
        for start, end in pairwise(places):
            if _far(start, end):
                line = self.elements.Line().endpoints(start, end)
                self.wires.append(self.put(line))

    def ground(self, point: Point | str, level: float | None = None) -> None:
        """Draw a ground symbol, with a wire down to a level."""
        x, y = self.at(point) if isinstance(point, str) else point
        low = y if level is None else level
        self.wire((x, y), (x, low))
        symbol = self.elements.Ground(lead=False).at((x, low)).theta(0).scale(0.8)
        self.grounds.append(self.put(symbol))

    def dot(self, point: Point) -> None:
        """Draw a dot, which joins all lines at this point."""
        self.dots.append(self.put(self.elements.Dot(radius=0.085).at(point).theta(0)))

    def dot_joints(self) -> None:
        """Draw a dot wherever three or more lines meet."""
        taken = [_rounded(self.at(lug)) for lug in self.lugs]
        points = {_rounded(end) for wire in self.wires for end in _ends(wire)} | set(taken)
        lines = [_ends(wire) for wire in self.wires]
        for point in sorted(points - {_rounded(socket) for socket in self.sockets}):
            # A line that ends there leaves one way, one that passes leaves two ways.
            ways = sum(1 + all(_far(point, end) for end in line) for line in lines
                       if _on(point, *line))  # fmt: skip
            if ways + taken.count(point) > 2:
                self.dot(point)

    def write(self, x: float, y: float, words: str, **look: Any) -> float:
        """Write one line of text; return its right edge."""
        self.texts.append(Text(x, y, plain(words), **look))
        return text_box(self.texts[-1])[2]

    def label(
        self, x: float, y: float, lines: Sequence[str], across: str = "left", up: str = "center"
    ) -> float:
        """Write a name with values under it; ``y`` is its middle, top or bottom.

        Returns the right edge of what is written.
        """
        lines = [line for line in lines if line]
        rise = {"center": (len(lines) - 1) / 2, "top": -0.5, "bottom": len(lines) - 0.5}[up]
        edges = [
            self.write(
                x, y + (rise - number) * _LINE, line, across=across,
                colour=PALE if number else INK, weight="normal" if number else "bold",
            )
            for number, line in enumerate(lines)
        ]  # fmt: skip
        return max(edges, default=x)

    # -- inking -----------------------------------------------------------------------------

    def extent(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of the drawing, with the printed width of texts."""
        box = self.drawing.get_bbox()
        boxes = [(box.xmin, box.ymin, box.xmax, box.ymax)]
        boxes += [text_box(text) for text in self.texts]
        lefts, bottoms, rights, tops = zip(*boxes, strict=True)
        return min(lefts), min(bottoms), max(rights), max(tops)

    def ink(self, ax: Axes, scale: float, *, from_left: bool = False) -> None:
        """Draw everything on axes, with text and lines scaled.

        ``from_left`` writes every text from where its first letter stands.
        """
        from matplotlib.lines import Line2D
        from matplotlib.patches import Patch

        before = set(ax.get_children())
        self.drawing.draw(show=False, canvas=ax)
        for artist in set(ax.get_children()) - before:
            if isinstance(artist, (Line2D, Patch)):
                artist.set_linewidth(artist.get_linewidth() * scale)
            artist.set_clip_on(False)
        # Straight to matplotlib, with formulas and LaTeX off: names are free text.
        for text in self.texts:
            x, across = text.x, text.across
            if from_left:
                x -= _SHARES[across] * _printed_width(text.words, text.size, text.weight)
                across = "left"
            ax.text(
                x, text.y, text.words, fontsize=text.size * scale, color=text.colour,
                ha=across, va="center_baseline" if text.up == "center" else text.up,
                fontweight=text.weight, parse_math=False, usetex=False, zorder=6,
            )  # fmt: skip


def text_box(text: Text) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of a text on the sheet."""
    width = text_width(text.words, text.size, text.weight)
    left = text.x - _SHARES[text.across] * width
    half = 0.6 * text.size / 72 / INCH
    return left, text.y - half, left + width, text.y + half


def text_width(words: str, size: float = FONT, weight: str = "normal") -> float:
    """Room for a text [units]: hinting on a coarse screen makes letters wider than in print."""
    return 1.06 * _printed_width(words, size, weight)


def _printed_width(words: str, size: float, weight: str) -> float:
    """Width of a text in print [units]."""
    from matplotlib import rcParams

    return _width(plain(words), size, weight, tuple(rcParams["font.sans-serif"]))


@lru_cache(maxsize=4096)
def _width(words: str, size: float, weight: str, fonts: tuple[str, ...]) -> float:
    """Width of a text; ``fonts`` is only a key of the cache."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="sans-serif", size=size, weight=weight)
    wide, _, _ = text_to_path.get_text_width_height_descent(words, font, ismath=False)
    return float(wide) / 72 / INCH


def shorten(words: str, width: float, size: float = FONT, weight: str = "normal") -> str:
    """Cut a text to a width [units], with an ellipsis."""
    words = words[:_MOST]
    if text_width(words, size, weight) <= width:
        return words
    fits = bisect_left(
        range(len(words)), True, key=lambda n: text_width(words[:n] + _CUT, size, weight) > width
    )
    return words[: max(fits - 1, 0)].rstrip() + _CUT


def wrap(
    words: str, width: float, most: int, size: float = FONT, weight: str = "normal"
) -> list[str]:
    """Break a text into at most ``most`` lines of a width [units]; keeps numbers with units."""
    lines: list[str] = []
    room, gap = 0.0, text_width(" ", size, weight)
    for glued in _UNIT.sub("\u00a0", words[:_MOST]).split(" "):
        word = " ".join(glued.split())
        wide = text_width(word, size, weight) + gap
        if lines and wide <= room + gap:
            lines[-1] += f" {word}"
            room -= wide
        else:
            lines.append(word)
            room = width - wide
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return [shorten(line, width, size, weight) for line in lines]


# -- what the lines join --------------------------------------------------------------------------


def drawn_groups(sheet: Sheet) -> set[frozenset[str]]:
    """Groups of lugs that the drawn lines join, read from the places of lines, dots and lugs.

    A line that ends on another, or on a lug, is joined to it; lines that only cross are not,
    unless a dot lies on the crossing; all ground symbols are one.
    """
    lugs = {lug: sheet.at(lug) for lug in sheet.lugs}
    lines = [_ends(wire) for wire in sheet.wires]
    joined: Groups[Any] = Groups()
    for (i, one), (j, other) in combinations(enumerate(lines), 2):
        if any(_on(end, *other) for end in one) or any(_on(end, *one) for end in other):
            joined.merge(i, j)
    spots: list[tuple[Any, Point]] = list(lugs.items())
    spots += [(("dot", k), _point(dot.absanchors["center"])) for k, dot in enumerate(sheet.dots)]
    spots += [("ground", _point(ground.absanchors["xy"])) for ground in sheet.grounds]
    for thing, place in spots:
        for i, line in enumerate(lines):
            if _on(place, *line):
                joined.merge(thing, i)
    for (one, here), (other, there) in combinations(spots, 2):
        if not _far(here, there):
            joined.merge(one, other)
    groups: dict[Any, set[str]] = {}
    for lug in lugs:
        groups.setdefault(joined.find(lug), set()).add(lug)
    return {frozenset(group) for group in groups.values()}


def harness_groups(guitar: Harness) -> set[frozenset[str]]:
    """Groups of lugs that the harness joins, without empty places; one lug may be a group."""
    parts = {name: part for name, part in guitar.parts.items() if not isinstance(part, Empty)}
    groups: dict[str, set[str]] = {}
    for name, part in parts.items():
        for lug in part.lugs:
            groups.setdefault(guitar.node(f"{name}.{lug}"), set()).add(f"{name}.{lug}")
    return {frozenset(group) for group in groups.values()}


def _point(xy: Any) -> Point:
    return float(xy[0]), float(xy[1])


def _ends(wire: Any) -> tuple[Point, Point]:
    return _point(wire.absanchors["start"]), _point(wire.absanchors["end"])


def _rounded(point: Point) -> Point:
    return round(point[0], 6), round(point[1], 6)


def _far(one: Point, other: Point) -> bool:
    return abs(one[0] - other[0]) > _NEAR or abs(one[1] - other[1]) > _NEAR


def _on(point: Point, start: Point, end: Point) -> bool:
    """Whether a point is on a line or at its ends."""
    along = (end[0] - start[0], end[1] - start[1])
    offset = (point[0] - start[0], point[1] - start[1])
    length = (along[0] ** 2 + along[1] ** 2) ** 0.5
    beside = abs(along[0] * offset[1] - along[1] * offset[0]) / length
    ahead = (along[0] * offset[0] + along[1] * offset[1]) / length
    return beside <= _NEAR and -_NEAR <= ahead <= length + _NEAR


# -- the pen --------------------------------------------------------------------------------------


def _schemdraw() -> tuple[Any, Any]:
    try:
        import schemdraw
        from schemdraw import elements
    except ImportError:
        raise NotInstalled(
            "schemdraw", "is not installed", "install it with: pip install 'guitarnet[drawing]'"
        ) from None
    return schemdraw, elements


@contextmanager
def apart() -> Iterator[None]:
    """Keep the elements out of another open drawing."""
    _schemdraw()
    from schemdraw import drawing_stack

    before, drawing_stack.pause = drawing_stack.pause, True
    try:
        yield
    finally:
        drawing_stack.pause = before
