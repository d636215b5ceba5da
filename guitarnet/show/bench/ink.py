"""Draw a bench picture on axes, in lanes: wires, parts, numbers and words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ...errors import plain
from .form import Box, Disc, Form, Line, Words
from .wiring import Point, Wire

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["BADGE", "COLOURS", "GROUND", "Pen", "stroke_of"]

INK, PALE, PAPER, GROUND = "#22262b", "#9aa1a8", "#ffffff", "#3a3f45"
COLOURS = {
    "ink": INK, "pale": "#b4bac0", "paper": PAPER, "none": "none", "metal": "#e6e8ea",
    "body": "#f1f0ec", "wafer": "#eadfc6", "film": "#dfe8ee", "ground": GROUND,
    "tab": INK, "lead": "#7d858c", "tie": "#5a6067",
}  # fmt: skip
# Six hues of different lightness and four strokes that stay apart in grey: plain, with a white
# core, long dashes, short dashes. Joints take them in turn, so that the first twelve differ in
# both taken together and neighbours in each.
HUES = ("#1f4e9a", "#b5482a", "#2b7a4b", "#8a5aa8", "#946a08", "#0f7684")
STROKES = ("plain", "cored", "long", "short")
_DASHES = {"long": (0, (4.2, 1.1)), "short": (0, (1.5, 0.9))}  # in widths of the line
WIRE = 1.1  # mm
BADGE = 0.74  # lanes, radius of a number's circle
_POINT = 72 / 25.4  # points in a millimetre
_ROUND = 0.62  # lanes, radius of a corner


def stroke_of(number: int, ground: int) -> tuple[str, str]:
    """Colour and stroke of a joint's wires."""
    if number == ground:
        return GROUND, "plain"
    k = number - 1 - (0 < ground < number)
    return HUES[k % 6], STROKES[(k + k // 12) % 4]


class Pen:
    """Draws on axes whose units are lanes; ``scale`` is the size against full size."""

    def __init__(self, ax: Axes, scale: float, mirror: float | None = None) -> None:
        self.ax, self.scale, self.mirror = ax, scale, mirror

    def x(self, x: float) -> float:
        """Place across, mirrored where the picture is seen from the other side."""
        return x if self.mirror is None else self.mirror - x

    def width(self, millimetres: float) -> float:
        """Width of a line [points]."""
        return millimetres * _POINT * self.scale

    def path(
        self, points: Sequence[Point], width: float, colour: str, z: float, **look: Any
    ) -> None:
        """A line with round corners, from end to end."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        places = [(self.x(x), y) for x, y in points]
        vertices, codes = [places[0]], [Path.MOVETO]
        for a, p, b in zip(places, places[1:], places[2:], strict=False):
            before, after = _towards(p, a), _towards(p, b)
            vertices += [before, p, after]
            codes += [Path.LINETO, Path.CURVE3, Path.CURVE3]
        vertices.append(places[-1])
        codes.append(Path.LINETO)
        look = {"capstyle": "butt" if "linestyle" in look else "round", **look}
        gid = look.pop("gid", None)
        patch = PathPatch(
            Path(vertices, codes), fill=False, edgecolor=colour, linewidth=self.width(width),
            joinstyle="round", zorder=z, clip_on=False, **look,
        )  # fmt: skip
        patch.set_gid(gid)
        self.ax.add_patch(patch)

    def shape(self, shape: Line | Box | Disc, z: float, grey: bool = False) -> None:
        """An outline."""
        from matplotlib.patches import Circle, FancyBboxPatch

        edge = PALE if grey else None
        if isinstance(shape, Line):
            if shape.colour == "tie":
                self.path(shape.points, 0.5, COLOURS["tie"], z, linestyle=(0, (4, 3)))
            elif shape.colour == "tab":
                self.path(shape.points, 2.1, edge or INK, z)
                self.path(shape.points, 1.5, COLOURS["metal"], z)
            else:
                self.path(shape.points, shape.width * 0.4, edge or COLOURS[shape.colour], z)
            return
        look: dict[str, Any] = {
            "facecolor": COLOURS[shape.fill], "edgecolor": edge or COLOURS[shape.edge],
            "linewidth": self.width(0.32 if shape.edge == "ink" else 0.22), "zorder": z,
            "clip_on": False,
        }  # fmt: skip
        if isinstance(shape, Disc):
            self.ax.add_patch(Circle((self.x(shape.x), shape.y), shape.radius, **look))
            return
        left = min(self.x(shape.left), self.x(shape.right))
        high, wide = shape.bottom - shape.top, shape.right - shape.left
        r = min(shape.radius, high / 2, wide / 2)
        self.ax.add_patch(
            FancyBboxPatch(
                (left + r, shape.top + r),
                wide - 2 * r,
                high - 2 * r,
                boxstyle=f"round,pad={r},rounding_size={r}",
                **look,
            )
        )

    def form(self, form: Form, z: float, grey: bool = False) -> None:
        """A part's outlines and words."""
        for shape in form.shapes:
            self.shape(shape, z, grey)
        for words in form.words:
            self.words(words, z + 0.5, PALE if grey else INK)

    def words(self, words: Words, z: float, colour: str = INK) -> None:
        """One line of text."""
        across = words.across
        if self.mirror is not None:
            across = {"left": "right", "right": "left"}.get(across, across)
        self.ax.text(
            self.x(words.x), words.y, plain(words.words), fontsize=words.size * self.scale,
            color=colour, ha=across, va="center_baseline", parse_math=False, usetex=False,
            fontweight="bold" if words.bold else "normal", zorder=z,
        )  # fmt: skip

    def badge(self, x: float, y: float, number: int, colour: str, *, filled: bool = False) -> None:
        """A joint's number in a circle on its solder."""
        from matplotlib.patches import Circle

        circle = Circle(
            (self.x(x), y), BADGE, facecolor=colour if filled else PAPER, edgecolor=colour,
            linewidth=self.width(0.45), zorder=8, clip_on=False,
        )  # fmt: skip
        circle.set_gid(f"joint-{number}-at")
        self.ax.add_patch(circle)
        size = 7.4 if number < 10 else 6.4
        words = Words(x, y, str(number), size, bold=True)
        self.words(words, 9, PAPER if filled else INK)

    def tag(self, x: float, y: float, number: int) -> None:
        """A joint's number on a long wire, on paper of its own."""
        from matplotlib.patches import Circle

        self.ax.add_patch(
            Circle((self.x(x), y), 0.62, facecolor=PAPER, edgecolor="none", zorder=6, clip_on=False)
        )
        self.words(Words(x, y, str(number), 7.4 if number < 10 else 6.4, bold=True), 9)

    def ring(self, x: float, y: float) -> None:
        """A lug that is left open."""
        from matplotlib.patches import Circle

        self.ax.add_patch(
            Circle((self.x(x), y), 0.3, facecolor=PAPER, edgecolor=PALE,
                   linewidth=self.width(0.35), zorder=8, clip_on=False)
        )  # fmt: skip

    def solder(self, x: float, y: float, radius: float = 0.5) -> None:
        """A spot of solder on a can or on the bus."""
        from matplotlib.patches import Circle

        self.ax.add_patch(
            Circle((self.x(x), y), radius, facecolor="#b9bfc5", edgecolor=INK,
                   linewidth=self.width(0.3), zorder=7, clip_on=False)
        )  # fmt: skip

    def ground_sign(self, x: float, y: float, way: Point, stub: int) -> None:
        """The sign of ground behind a lug: a stub and three bars."""
        dx, dy = way
        end = stub + 0.35
        self.path(((x, y), (x + end * dx, y + end * dy)), 0.9, GROUND, 4)
        for k, half in enumerate((0.85, 0.55, 0.25)):
            d = end + 0.42 * k
            a, b = x + d * dx, y + d * dy
            ends = ((a - half * dy, b - half * dx), (a + half * dy, b + half * dx))
            self.path(ends, 0.55, GROUND, 4)

    def wire(self, wire: Wire, colour: str, stroke: str, over: Sequence[Point], z: float) -> None:
        """A wire with its stroke; where it goes over another, the other has a gap."""
        gid = f"joint-{wire.joint}"
        if wire.kind == "leg":
            self.path(wire.points, 0.65, GROUND, z, gid=gid)
            return
        if wire.kind == "bus":
            self.path(wire.points, 1.3, GROUND, z, gid=gid)
            self._over(wire, over, 1.3, GROUND, False)
            return
        look: dict[str, Any] = {"gid": gid}
        if stroke in _DASHES:
            look["linestyle"] = _DASHES[stroke]
        self.path(wire.points, WIRE + (0.2 if stroke == "cored" else 0), colour, z, **look)
        if stroke == "cored":
            self.path(wire.points, 0.5, PAPER, z + 0.01, capstyle="butt")
        self._over(wire, over, WIRE + (0.2 if stroke == "cored" else 0), colour, stroke == "cored")

    def _over(
        self, wire: Wire, over: Sequence[Point], width: float, colour: str, cored: bool
    ) -> None:
        """Where a wire goes across over another, give the other a gap."""
        for x, y in over:
            if any(
                y == b == d and min(a, c) < x < max(a, c)
                for (a, b), (c, d) in zip(wire.points, wire.points[1:], strict=False)
            ):
                self.path(((x - 0.6, y), (x + 0.6, y)), WIRE + 1.4, PAPER, 5, capstyle="butt")
                ends = ((x - 0.7, y), (x + 0.7, y))
                self.path(ends, width, colour, 5.1, capstyle="butt")
                if cored:
                    self.path(ends, 0.5, PAPER, 5.2, capstyle="butt")


def _towards(corner: Point, end: Point) -> Point:
    """The point on the way from a corner to an end where its rounding begins."""
    dx, dy = end[0] - corner[0], end[1] - corner[1]
    far = abs(dx) + abs(dy)
    share = min(_ROUND, far / 2) / far if far else 0.0
    return corner[0] + dx * share, corner[1] + dy * share
