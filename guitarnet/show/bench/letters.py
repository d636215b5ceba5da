"""Room that words take on the bench picture."""

from __future__ import annotations

from ..schematic.sheet import INCH, shorten, text_width, wrap
from .form import LANE, Words

__all__ = ["boxed", "broken", "cut", "lanes"]

_UNIT = INCH * 25.4 / LANE  # lanes in a unit of a schematic's sheet


def lanes(words: str, size: float, bold: bool = False) -> float:
    """Width of a text [lanes]."""
    return text_width(words, size, "bold" if bold else "normal") * _UNIT


def cut(words: str, width: float, size: float, bold: bool = False) -> str:
    """A text cut to a width [lanes], with an ellipsis."""
    return shorten(words, width / _UNIT, size, "bold" if bold else "normal")


def broken(words: str, width: float, most: int, size: float, bold: bool = False) -> list[str]:
    """A text in at most so many lines of a width [lanes]."""
    return wrap(words, width / _UNIT, most, size, "bold" if bold else "normal")


def boxed(words: Words) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of a text [lanes]."""
    width = lanes(words.words, words.size, words.bold)
    left = words.x - {"left": 0.0, "center": 0.5, "right": 1.0}[words.across] * width
    half = 0.42 * words.size * 25.4 / 72 / LANE
    return left, words.y - half, left + width, words.y + half
