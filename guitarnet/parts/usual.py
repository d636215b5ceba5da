"""What hardly any guitar has: asked of whole parts, and of parts by what they are for.

A part by itself knows the usual range of each of its values. A capacitor may be a treble bleed's
or a tone control's, which have ranges of their own.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import TypeVar

from ..errors import Unusual
from ..gate import entered, insisted, public
from ..units import Quantity
from .base import PRACTICE, Part, as_entered

T = TypeVar("T", bound=Part)

__all__ = ["IN_PLACE", "marked", "questions", "settle", "settled"]

IN_PLACE = {
    "treble bleed": {
        "capacitance": Quantity("F", above=0, usual=("22p", "10n", PRACTICE), marked=True),
        "resistance": Quantity("ohm", at_least=0, usual=("4.7k", "4.6M", PRACTICE)),
    },
    "tone capacitor": {
        "capacitance": Quantity("F", above=0, usual=("1n", "470n", PRACTICE), marked=True),
    },
}
"""Usual values of what stands in a place, by field."""


def questions(part: Part, where: str, place: str = "") -> Iterator[tuple[str, Unusual]]:
    """Give each value that hardly any guitar has, unless its part says that it is meant.

    Parameters
    ----------
    part : Part
        Any part; those inside it are asked as well.
    where : str
        Its name, for the sentence.
    place : str
        What it is for, a key of `IN_PLACE`; unless given, what it is by itself counts.

    Yields
    ------
    tuple of str and Unusual
        The path of the part inside, with a dot at its end, and the question.
    """
    for name, inner in part.inner().items():
        for local, question in questions(inner, f"{where}.{name}", place):
            yield f"{name}.{local}", question
    if getattr(part, "unusual", None) is not False:
        return
    own = {
        field.name: field.metadata["quantity"]
        for field in dataclasses.fields(part)  # type: ignore[arg-type]
        if "quantity" in field.metadata
    }
    known = {name: spec for name, spec in IN_PLACE[place].items() if name in own} if place else own
    for name, spec in known.items():
        value = getattr(part, name)
        shown = as_entered(value, spec)
        number = shown if isinstance(shown, float) else value
        try:
            spec.ask(number, f"{where}.{name}", shown)
        except Unusual as question:
            yield "", question


def marked(part: T, place: str = "") -> T:
    """Give a part that says of itself, and of those inside it, that unusual values are meant."""
    for local in dict.fromkeys(local for local, _ in questions(part, "", place)):
        part = part.replace(f"{local}unusual", True)
    return part


def settle(part: T, where: str, place: str = "") -> T:
    """Ask about what a person has entered; where they insist, mark it as meant.

    Parameters
    ----------
    part, where, place
        As in `questions`.

    Returns
    -------
    Part
        The part, marked where that is needed.

    Raises
    ------
    Unusual
        If a person entered an unusual value and did not insist.
    """
    if not entered():
        return part
    if insisted():
        return marked(part, place)
    for _, question in questions(part, where, place):
        raise question
    return part


settled = public(settle)
"""The same, for a function that hands on what a person enters."""
