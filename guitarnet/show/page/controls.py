"""Controls and words of the live page: what moves, between which limits, and what is assumed."""

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
from ...units import format_value

__all__ = [
    "full_words",
    "knobs_of",
    "named",
    "notes",
    "placed",
    "said",
    "standing",
    "with_role",
]

_LONGEST = 15.0  # m of cable, at least


def named(builds: Mapping[str, Harness], *kinds: type[Part]) -> list[tuple[str, Any]]:
    """Parts of some kinds by name, each name once, in the order in which guitars have them."""
    found: dict[str, Part] = {}
    for guitar in builds.values():
        for name, part in guitar.parts.items():
            if isinstance(part, kinds):
                found.setdefault(name, part)
    return list(found.items())


def knobs_of(builds: Mapping[str, Harness]) -> list[tuple[str, Any]]:
    """Pots and blend pots by name."""
    return named(builds, Pot, BlendPot)


def with_role(builds: Mapping[str, Harness], kind: str) -> list[str]:
    """Parts that have a kind of role in any guitar, each name once.

    So a control keeps its role where a fault in one of the guitars takes it away.
    """
    known = [roles(guitar) for guitar in builds.values()]
    return list(dict.fromkeys(n for own in known for n, role in own.items() if role.kind == kind))


def said(name: str) -> str:
    """Say a part's name as people do."""
    return name.replace("_", " ")


def full_words(volumes: list[str]) -> str:
    """Say what "volume 10" is: all of them where there are several, nothing where there is none."""
    if len(volumes) == 1:
        return f"{said(volumes[0])} 10"
    return "volumes 10" if volumes else ""


# -- controls ---------------------------------------------------------------------------------


def placed(builds: Mapping[str, Harness]) -> dict[str, Any]:
    """Switches, cable, treble bleeds and tone capacitors, and the values they may take."""
    switches = []
    for name, part in named(builds, Switch):
        owners = [guitar.parts[name] for guitar in builds.values() if name in guitar.parts]
        places = dict.fromkeys(
            place for own in owners if isinstance(own, Switch) for place in own.places
        )
        switches.append(
            {"name": name, "said": said(name), "places": list(places), "place": part.place}
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
    words = labels.pop() if len(labels) == 1 else "each its own"
    return {"name": name, "said": said(name), "own": f"as built: {words}"}


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


# -- words ---------------------------------------------------------------------------------------


def notes(builds: Mapping[str, Harness]) -> str:
    """Say in sentences what was assumed, what is the same in all, and what some lack."""
    parts = [
        [
            f"{said(name)} {words}"
            for name, words in guitar.summary().items()
            if not isinstance(guitar.parts[name], Switch)
        ]
        for guitar in builds.values()
    ]
    told = [
        "response at the amp",
        assumed_by([guitar.assumptions() for guitar in builds.values()]),
        f"as built: {in_common(parts)}",
        *_lacking(builds),
    ]
    sentences = [plain(f"{text[:1].upper()}{text[1:]}.") for text in told if text]
    return " ".join(sentences)


def _lacking(builds: Mapping[str, Harness]) -> Iterable[str]:
    kinds: tuple[tuple[type[Part], ...], ...] = ((Pot, BlendPot), (Switch,))
    for label, guitar in builds.items():
        lacks = [
            said(name)
            for own in kinds
            for name, _ in named(builds, *own)
            if not isinstance(guitar.parts.get(name), own)
        ]
        if lacks:
            yield f"{label} has no {', no '.join(lacks)}"
    for name, part in named(builds, Switch):
        for label, guitar in builds.items():
            own = guitar.parts.get(name)
            if isinstance(own, Switch) and set(own.places) != set(part.places):
                yield f"{label} stays at {own.place} where its {said(name)} lacks a place"


def standing(builds: Mapping[str, Harness], marks: Mapping[str, float]) -> str:
    """Say where knobs and switches stand."""
    told = [f"{said(name)} {mark:g}" for name, mark in marks.items()]
    told += [f"{said(name)} {part.place}" for name, part in named(builds, Switch)]
    return "; ".join(told)
