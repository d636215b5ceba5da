"""What the wiring of a volume changes with one guitar, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...circuit.harness import Harness
from ..explain.explain import explain
from ..explain.sentences import Answer
from .port import bleed_place, check_audible, knob_across
from .wiring import wirings

__all__ = ["wiring_answer", "wiring_settings"]

_DOWN = 5.0  # mark


def wiring_settings(
    guitar: Harness, place: str | None = None, settings: Mapping[str, Any] | None = None
) -> tuple[str, dict[str, Any]]:
    """Name the volume that is turned, and set it to 10 and 5."""
    knob = knob_across(guitar, place or bleed_place(guitar)) or ""
    others = {name: value for name, value in (settings or {}).items() if name != knob}
    return knob, {knob: [10.0, _DOWN], **others}


def wiring_answer(
    guitar: Harness, place: str | None = None, settings: Mapping[str, Any] | None = None
) -> Answer:
    """Say what each other wiring changes at 10 and at 5, and what turning down does as it is.

    The sentences are those of `explain`, a chosen few of them in their own order.
    """
    builds = wirings(guitar, place)
    knob, marks = wiring_settings(guitar, place, settings)
    check_audible(guitar, knob, {name: one for name, one in marks.items() if name != knob})
    found = explain(builds, marks)
    others = len(builds) - 1
    # Of each pair of builds at 10, then at 5; then of each build from 10 to 5.
    full, down = found.paragraphs[:others], found.paragraphs[others : 2 * others]
    turned = found.paragraphs[2 * others]
    return Answer((*full, turned, *down), found.assumed)
