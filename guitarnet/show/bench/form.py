"""What a form is made of: solder points, outlines and words, on a grid of lanes.

A lane is 2.5 mm. Solder points stand on whole lanes, to the right and downwards, so that wires
run in lanes; outlines and words may stand anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

__all__ = [
    "BOLD",
    "DOWN",
    "LANE",
    "LEFT",
    "RIGHT",
    "SMALL",
    "TEXT",
    "UP",
    "Box",
    "Disc",
    "Form",
    "Lane",
    "Line",
    "Lug",
    "Shape",
    "Words",
    "tab",
]

LANE = 2.5
"""Millimetres."""
Lane = tuple[int, int]
"""A crossing of two lanes, to the right and downwards."""
LEFT, RIGHT, UP, DOWN = (-1, 0), (1, 0), (0, -1), (0, 1)
BOLD, TEXT, SMALL = 9.0, 8.0, 7.2
"""Sizes of letters at full size [points]."""


@dataclass(frozen=True)
class Lug:
    """A solder point, the ways in which a wire may leave it, and where its tab begins.

    ``stub`` is how far a sign of ground stands off [lanes].
    """

    x: int
    y: int
    out: tuple[Lane, ...]
    inner: tuple[float, float] | None = None
    stub: int = 1


@dataclass(frozen=True)
class Line:
    """A bare line: an edge, a leg, a tab."""

    points: tuple[tuple[float, float], ...]
    width: float = 1.0
    colour: str = "ink"


@dataclass(frozen=True)
class Box:
    """A rectangle with round corners."""

    left: float
    top: float
    right: float
    bottom: float
    fill: str = "body"
    edge: str = "ink"
    radius: float = 0.5


@dataclass(frozen=True)
class Disc:
    """A round outline."""

    x: float
    y: float
    radius: float
    fill: str = "metal"
    edge: str = "ink"


@dataclass(frozen=True)
class Words:
    """One line of text; ``y`` is its middle."""

    x: float
    y: float
    words: str
    size: float = SMALL
    across: str = "center"
    bold: bool = False


Shape = Line | Box | Disc


@dataclass(frozen=True)
class Form:
    """A part as it is drawn around its own middle.

    ``solid`` are rectangles of lanes, both ends included, that wires keep out of; ``cans`` are
    lanes from which a wire reaches the can, with the spot of solder on it; ``bus`` is the spot to
    which the ground bus reaches; ``frame`` is the spot of a frame that is grounded too.
    """

    lugs: dict[str, Lug]
    shapes: tuple[Shape, ...] = ()
    words: tuple[Words, ...] = ()
    solid: tuple[tuple[int, int, int, int], ...] = ()
    cans: tuple[tuple[Lane, tuple[float, float]], ...] = ()
    bus: tuple[float, float] | None = None
    frame: tuple[float, float] | None = None
    box: tuple[int, int, int, int] = field(default=(0, 0, 0, 0))

    def moved(self, x: int, y: int) -> Form:
        """The form elsewhere."""
        return Form(
            {k: _moved_lug(lug, x, y) for k, lug in self.lugs.items()},
            tuple(_moved(shape, x, y) for shape in self.shapes),
            tuple(replace(w, x=w.x + x, y=w.y + y) for w in self.words),
            tuple((a + x, b + y, c + x, d + y) for a, b, c, d in self.solid),
            tuple(((a + x, b + y), (c + x, d + y)) for (a, b), (c, d) in self.cans),
            self.bus and (self.bus[0] + x, self.bus[1] + y),
            self.frame and (self.frame[0] + x, self.frame[1] + y),
            (self.box[0] + x, self.box[1] + y, self.box[2] + x, self.box[3] + y),
        )


def _moved_lug(lug: Lug, x: int, y: int) -> Lug:
    inner = lug.inner and (lug.inner[0] + x, lug.inner[1] + y)
    return replace(lug, x=lug.x + x, y=lug.y + y, inner=inner)


def _moved(shape: Shape, x: int, y: int) -> Shape:
    if isinstance(shape, Line):
        return replace(shape, points=tuple((a + x, b + y) for a, b in shape.points))
    if isinstance(shape, Disc):
        return replace(shape, x=shape.x + x, y=shape.y + y)
    return replace(
        shape,
        left=shape.left + x, right=shape.right + x, top=shape.top + y, bottom=shape.bottom + y,
    )  # fmt: skip


def tab(x: float, y0: float, y1: float) -> Box:
    """A tinned tab, upright."""
    return Box(x - 0.42, min(y0, y1), x + 0.42, max(y0, y1), "metal", radius=0.3)
