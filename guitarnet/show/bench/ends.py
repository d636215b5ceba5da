"""Forms of the two ends of a guitar's wiring: pickups with their leads, and the jack."""

from __future__ import annotations

from ...circuit.bench_lists import words_of
from ...parts.base import Part
from .form import BOLD, DOWN, LEFT, RIGHT, SMALL, UP, Box, Disc, Form, Line, Lug, Words, tab
from .letters import cut, lanes

__all__ = ["jack", "pickup"]

LEADS = {2: 6, 4: 4}  # lanes between the leads of a pickup that has so many
_BY_COIL = ("coil_1_start", "coil_1_finish", "coil_2_finish", "coil_2_start")


def jack(name: str) -> Form:
    """From behind: the round body is the sleeve, the long spring is the tip."""
    spring = ((-2.0, 3.4), (-2.0, -0.5), (-1.0, -1.2), (-0.2, -0.6))
    return Form(
        {
            "sleeve": Lug(0, -6, (UP, LEFT, RIGHT), (0, -4.0)),
            "tip": Lug(-2, 6, (DOWN, LEFT, RIGHT), (-2, 3.6)),
        },
        (
            tab(0, -3.4, -6), tab(-2, 3.2, 6), Disc(0, 0, 4.0), Disc(0, 0, 1.9, "paper"),
            Disc(0, 0, 1.3, "body", "pale"), Line(spring, 3.4), Line(spring, 1.8, "metal"),
        ),
        (
            Words(1.2, -5.2, "sleeve", SMALL, "left"), Words(-0.9, 5.2, "tip", SMALL, "left"),
            Words(0.3, 2.75, cut(words_of(name), 3.4, BOLD, True), BOLD, bold=True),
        ),
        ((-4, -5, 4, 5),),
        box=(-5, -7, 5, 7),
    )  # fmt: skip


def pickup(name: str, part: Part, turned: bool) -> Form:
    """A bar with its leads, each with the name that it was given."""
    # The two finishes stand side by side: they are joined more often than not.
    leads = part.lugs if len(part.lugs) == 2 else sorted(part.lugs, key=_BY_COIL.index)
    names = list(leads)[:: -1 if turned else 1]
    label = cut(words_of(name), 15, BOLD, True)
    pitch = LEADS[len(names)]
    first = -(pitch * (len(names) - 1) // 2)
    half = max(6, round(lanes(label, BOLD, True) / 2) + 1, 2 - first)
    lugs, words = {}, []
    shapes: list[Line | Box | Disc] = []
    called = {q: getattr(part, "lead_name", lambda _: "")(q) or "" for q in names}
    lines = 1 if len(names) == 2 else 2
    low = 1.0 + 1.2 * (lines + any(called.values())) + 1.6
    for k, lug in enumerate(names):
        x = first + pitch * k
        lugs[lug] = Lug(x, -3, (UP, LEFT, RIGHT), (x, 0.0))
        shapes.append(Line(((x, -3), (x, 0)), 2.2, "lead"))
        said = words_of(lug).rsplit(" ", 1) if lines == 2 else [words_of(lug)]
        said += [called[lug]] if any(called.values()) else []
        words += [
            Words(x, 0.9 + 1.2 * j, cut(line, pitch - 0.2, SMALL), SMALL)
            for j, line in enumerate(said)
        ]
    words.append(Words(0, low - 0.75, label, BOLD, bold=True))
    bar = Box(-half, 0, half, low + 0.2, "body", radius=1.2)
    return Form(
        lugs, (bar, *shapes), tuple(words), ((-half, -2, half, round(low) + 1),),
        box=(-half, -4, half, round(low) + 1),
    )  # fmt: skip
