"""Controls and notes of the live page: what moves, its limits, and the assumptions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ...circuit.harness import Harness
from ...circuit.roles import roles
from ...errors import plain
from ...parts.base import Part
from ...parts.blend import BlendPot
from ...parts.output import Cable
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Capacitor
from ...preferred import preferred_values
from ...study.response.sweep import assumed_by, in_common
from ...units import format_value, plain_words, sentence

__all__ = [
    "full_label",
    "knobs_of",
    "named",
    "notes",
    "placed",
    "settings_text",
    "with_role",
]

_LONGEST = 15.0  # m of cable, at least


def named(builds: Mapping[str, Harness], *kinds: type[Part]) -> list[tuple[str, Any]]:
    """Parts of some kinds by name, each name once, in the order of the guitars."""
    parts: dict[str, Part] = {}
    for guitar in builds.values():
        for name, part in guitar.parts.items():
            if isinstance(part, kinds):
                parts.setdefault(name, part)
    return list(parts.items())


def knobs_of(builds: Mapping[str, Harness]) -> list[tuple[str, Any]]:
    """Pots and blend pots by name."""
    return named(builds, Pot, BlendPot)


def with_role(builds: Mapping[str, Harness], kind: str) -> list[str]:
    """Parts with a role in any of the guitars, each name once.

    A control so keeps its role if a fault in one of the guitars takes it away.
    """
    known = [roles(guitar) for guitar in builds.values()]
    return list(
        dict.fromkeys(n for by_name in known for n, role in by_name.items() if role.kind == kind)
    )


def full_label(volumes: list[str]) -> str:
    """Label of all volumes at 10; "" if there is none."""
    if len(volumes) == 1:
        return f"{plain_words(volumes[0])} 10"
    return "volumes 10" if volumes else ""


# -- controls ---------------------------------------------------------------------------------


def placed(builds: Mapping[str, Harness]) -> dict[str, Any]:
    """Switches, cable, treble bleeds and tone capacitors, and the values they may take."""
    switches = []
    for name, part in named(builds, Switch):
        owners = [guitar.parts[name] for guitar in builds.values() if name in guitar.parts]
        places = dict.fromkeys(
            place for switch_ in owners if isinstance(switch_, Switch) for place in switch_.places
        )
        switches.append(
            {"name": name, "said": plain_words(name), "places": list(places), "place": part.place}
        )
    two_lug = with_role(builds, "treble bleed")
    capacitors = [name for name, _ in named(builds, Capacitor) if name not in two_lug]
    return {
        "switches": switches,
        "cable": _cable(builds),
        "bleeds": [_as_built(builds, name) for name in two_lug],
        "capacitors": [_as_built(builds, name) for name in capacitors],
        "lists": {
            "bleed": _values("E12", "100p", "4.7n", "F"),
            "resistor": _values("E24", "47k", "470k", "ohm"),
            "tone": _values("E12", "1n", "220n", "F"),
        },
        "usual": {"c": 1e-9, "r": 150e3},
    }


def _values(series: str, low: str, high: str, unit: str) -> list[tuple[float, str]]:
    values = preferred_values(series, low, high).tolist()
    return [(float(f"{x:.6g}"), format_value(x, unit)) for x in values]


def _as_built(builds: Mapping[str, Harness], name: str) -> dict[str, str]:
    labels = {guitar.parts[name].label() for guitar in builds.values() if name in guitar.parts}
    value = labels.pop() if len(labels) == 1 else "each its own"
    return {"name": name, "said": plain_words(name), "own": f"as built: {value}"}


def _cable(builds: Mapping[str, Harness]) -> dict[str, Any] | None:
    lengths = [
        part.length
        for guitar in builds.values()
        for part in guitar.parts.values()
        if isinstance(part, Cable)
    ]
    if not lengths:
        return None
    differ = len(set(lengths)) > 1
    return {
        "length": None if differ else lengths[0],
        "differ": differ,
        "own": lengths[0],
        "most": max(_LONGEST, *lengths),
    }


# -- notes ---------------------------------------------------------------------------------------


def notes(builds: Mapping[str, Harness]) -> str:
    """Sentences about assumptions, common parts and missing parts."""
    parts = [
        [
            f"{plain_words(name)} {value}"
            for name, value in guitar.summary().items()
            if not isinstance(guitar.parts[name], Switch)
        ]
        for guitar in builds.values()
    ]
    texts = [
        "response at the amp",
        assumed_by([guitar.assumptions() for guitar in builds.values()]),
        f"as built: {in_common(parts)}",
        *_lacking(builds),
    ]
    return " ".join(plain(f"{sentence(text)}.") for text in texts if text)


def _lacking(builds: Mapping[str, Harness]) -> Iterable[str]:
    kinds: tuple[tuple[type[Part], ...], ...] = ((Pot, BlendPot), (Switch,))
    for label, guitar in builds.items():
        lacks = [
            plain_words(name)
            for wanted in kinds
            for name, _ in named(builds, *wanted)
            if not isinstance(guitar.parts.get(name), wanted)
        ]
        if lacks:
            yield f"{label} has no {', no '.join(lacks)}"
    for name, part in named(builds, Switch):
        for label, guitar in builds.items():
            wanted = guitar.parts.get(name)
            if isinstance(wanted, Switch) and set(wanted.places) != set(part.places):
                yield f"{label} stays at {wanted.place} where its {plain_words(name)} lacks a place"


def settings_text(builds: Mapping[str, Harness], marks: Mapping[str, float]) -> str:
    """Settings of knobs and switches, as text."""
    texts = [f"{plain_words(name)} {mark:g}" for name, mark in marks.items()]
    texts += [f"{plain_words(name)} {part.place}" for name, part in named(builds, Switch)]
    return "; ".join(texts)
