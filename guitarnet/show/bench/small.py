"""Capacitors, resistors and networks: hung on the lugs of a pot, beside it, or on their own."""

from __future__ import annotations

from ...parts.base import Part
from ...parts.two_lug import Capacitor, Network, Resistor
from ...units import format_value
from .form import DOWN, LEFT, RIGHT, SMALL, UP, Box, Form, Line, Lug, Shape, Words
from .forms import TIP
from .letters import cut, lanes

__all__ = ["TINY", "beside", "hung", "upright"]

TINY = 6.6  # points, of a value on a body across two lugs
BESIDE = 9  # lanes from the middle of a pot to what stands beside it


def _value(part: Part) -> str:
    if isinstance(part, Capacitor):
        return format_value(part.capacitance, "F")
    if isinstance(part, Resistor):
        return format_value(part.resistance, "ohm")
    return part.label()


def _brief(part: Part) -> str:
    """A value as on the part itself: 150k, 1n."""
    return _value(part).replace("\u00a0", " ").replace(" ", "").rstrip("Ω").removesuffix("F")


def _body(part: Part, left: float, top: float, right: float, bottom: float) -> Box:
    round_end = min(right - left, bottom - top) / 2
    if isinstance(part, Resistor):
        return Box(left, top, right, bottom, "wafer", radius=round_end)
    return Box(left, top, right, bottom, "film", radius=0.25)


def _written(part: Part, x: float, y: float, width: float) -> list[Words]:
    """A value on an upright body, number over unit."""
    number, _, unit = _value(part).replace("\u00a0", " ").partition(" ")
    if lanes(unit, SMALL) > width or isinstance(part, Network):
        number, unit = "net", "work"
    lines = [cut(number, width, SMALL, True), *([unit] if unit else [])]
    y -= 0.6 * (len(lines) - 1)
    return [Words(x, y + 1.2 * k, q, SMALL, bold=not k) for k, q in enumerate(lines)]


def upright(part: Part, top: str) -> Form:
    """A part on its own, standing on its legs; ``top`` is the leg that is up."""
    low = "b" if top == "a" else "a"
    return Form(
        {top: Lug(0, -5, (UP, LEFT, RIGHT)), low: Lug(0, 5, (DOWN, LEFT, RIGHT))},
        (
            Line(((0, -5), (0, 5)), 1.6, "ground"),
            _body(part, -1.6, -2.2, 1.6, 2.2),
        ),
        tuple(_written(part, 0, 0, 3.0)),
        ((-2, -4, 2, 4),),
        box=(-2, -6, 2, 6),
    )


def beside(part: Part, leg: str, side: int) -> Form:
    """A part between a lug of a pot and the ground bus, standing beside the can.

    Its leg ``leg`` comes from the lug on that side; the other goes up to the bus.
    """
    x = BESIDE * side
    other = "b" if leg == "a" else "a"
    return Form(
        {leg: Lug(x, 3, ()), other: Lug(x, -3, ())},
        (Line(((x, -3), (x, 3)), 1.6, "ground"), _body(part, x - 1.6, -2.2, x + 1.6, 2.2)),
        tuple(_written(part, x, 0, 3.0)),
        ((x - 1, -7, x + 1, TIP),),
        box=(min(x - 2, 0), -5, max(x + 2, 0), TIP + 1),
    )


def hung(part: Part, legs: dict[str, int]) -> Form:
    """A part across two neighbouring lugs of a pot, hung on its own legs; ``legs`` says where."""
    left, right = sorted(legs.values())
    swap = legs["a"] > legs["b"]
    pieces = list(part.elements) if isinstance(part, Network) else [part]
    shapes: list[Shape] = []
    words: list[Words] = []
    y = TIP + 1.0
    plain = all(isinstance(piece, (Capacitor, Resistor)) for piece in pieces)
    if isinstance(part, Network) and part.kind == "series" and plain and len(pieces) == 2:
        ordered = pieces[::-1] if swap else pieces
        for x, piece in ((left, ordered[0]), (right, ordered[1])):
            shapes += [Line(((x, y), (x, y + 5)), 1.6, "ground")]
            shapes += [_body(piece, x - 0.8, y + 0.6, x + 0.8, y + 4.2)]
        shapes.append(Line(((left, y + 5), (right, y + 5)), 1.6, "ground"))
        values = [f"{_value(piece)}" for piece in ordered]
        words = [
            Words(left - 1.2, y + 1.6 + 1.3 * k, v, SMALL, "right") for k, v in enumerate(values)
        ]
        bottom = y + 5
    else:
        if not plain or (isinstance(part, Network) and part.kind == "series") or len(pieces) > 3:
            pieces = [part]
        for k, piece in enumerate(pieces):
            row = y + 1.1 + 1.9 * k
            shapes.append(Line(((left, y), (left, row), (right, row), (right, y)), 1.6, "ground"))
            shapes.append(_body(piece, left + 0.05, row - 0.75, right - 0.05, row + 0.75))
            said = _brief(piece)
            if not isinstance(piece, (Capacitor, Resistor)):
                said = "bleed"
                values = _lines_of(part)
                words += [
                    Words(left - 0.8, row + 1.2 * j, line, SMALL, "right")
                    for j, line in enumerate(values)
                ]
            words.append(Words((left + right) / 2, row, cut(said, 2.8, TINY), TINY))
        bottom = y + 1.9 * len(pieces)
    outside = max((lanes(w.words, w.size) for w in words if w.across == "right"), default=0.0)
    bottom = max([bottom, *(w.y + 0.5 for w in words)])
    edge = left - round(outside + 1.7) if outside else left
    low = round(bottom + 0.4)
    return Form(
        {"a": Lug(legs["a"], TIP + 1, ()), "b": Lug(legs["b"], TIP + 1, ())},
        tuple(shapes),
        tuple(words),
        ((edge, TIP + 1, right, low),),
        box=(edge - 1, TIP, right, low + 1),
    )


def _lines_of(part: Part) -> list[str]:
    """What a larger network is, in short lines."""
    lines: list[str] = []
    for word in part.label().replace("\u00a0", "~").replace(" ", "~").split("~"):
        if lines and lanes(f"{lines[-1]} {word}", SMALL) < 7:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return [cut(line, 7.5, SMALL) for line in lines[:4]]
