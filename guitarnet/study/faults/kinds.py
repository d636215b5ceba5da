"""The kinds of single faults: what may be wrong, and how to edit the harness for it.

Each kind is a function from a harness to its faults: a label, a function that makes the faulty
harness, and perhaps a value that the fault leaves unknown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from typing import Any

import numpy as np

from ...circuit.edits import bridged, free_name, leads, separated, swapped, through
from ...circuit.harness import Harness
from ...parts.blend import BlendPot
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Capacitor, Empty, Network, Resistor
from ...units import format_value, plain_words

__all__ = ["FAULT_KINDS", "MAKERS", "OFTEN"]

# Resistance of a bad joint: anything in between is equally likely on a scale of ratios. Common
# practice, no source.
_BAD_JOINT = np.geomspace(1e3, 100e3, 47)
# Share of a coil's turns that are shorted.
_SHORTED = np.linspace(0.05, 0.95, 37)
_NOMINAL_SHARE = 0.3
# Square of the coupling between the shorted turns and the others; assumed.
_TURN_COUPLING = 0.8
_POTS = (100e3, 250e3, 500e3, 1e6)  # usual values; common practice, no source
_TWO_LUG = (Capacitor, Resistor, Network)

_Made = Iterator[tuple[Any, ...]]  # label, how to make the harness, perhaps what is unknown


def _bench_joints(guitar: Harness) -> list[list[tuple[str, ...]]]:
    """Soldered joints, each as its leads."""
    joints = [leads(guitar, joint) for joint in guitar.joined]
    return [joint for joint in joints if len(joint) > 1]


def _ends(guitar: Harness) -> Iterator[tuple[tuple[str, ...], str]]:
    """Each lead that may come off its joint, with a label of where."""
    for joint in _bench_joints(guitar):
        # In a joint of two leads it does not matter which one comes off.
        for lead in joint if len(joint) > 2 else joint[:1]:
            other = f" and {plain_words(joint[1][0])}" if len(joint) == 2 else ""
            yield lead, f"{plain_words(lead[0])}{other}"


def _open_joints(guitar: Harness) -> _Made:
    for lead, where in _ends(guitar):
        yield f"open joint at {where}", lambda lead=lead: separated(guitar, *lead)
        if isinstance(guitar.parts[lead[0].partition(".")[0]], Jack) and len(lead) > 1:
            yield "cable broken", lambda lead=lead: separated(guitar, *lead)


def _bad_joints(guitar: Harness) -> _Made:
    unknown = f"{free_name(guitar)}.resistance", tuple(_BAD_JOINT)
    for lead, where in _ends(guitar):
        yield (
            f"resistive joint at {where}",
            lambda lead=lead: through(guitar, lead, 10e3),
            unknown,
        )


def _bridges(guitar: Harness) -> _Made:
    jack = guitar.only(Jack)
    ends = f"{jack}.tip", f"{jack}.sleeve"
    yield "hot touches the shield at the jack", lambda: bridged(guitar, *ends)
    yield "cable shorted", lambda: bridged(guitar, *ends)
    for name, part in guitar.parts.items():
        if name == jack or isinstance(part, (Cable, AmpInput, Empty, *_TWO_LUG)):
            continue
        for one, other in _neighbours(name, part.lugs):
            yield (
                f"{plain_words(one)} touches {_local(other)}",
                lambda one=one, other=other: bridged(guitar, one, other),
            )


def _neighbours(name: str, lugs: Sequence[str]) -> list[tuple[str, str]]:
    """Pairs of lugs that lie side by side; the banks of a switch lie apart."""
    return [
        (f"{name}.{one}", f"{name}.{other}")
        for one, other in pairwise(lugs)
        if not (_bank(one) and _bank(other) and _bank(one) != _bank(other))
    ]


def _bank(lug: str) -> str:
    """Letter of a switch's bank: of "a3" and of its common "a"."""
    return lug[0] if lug[0] in "abcdefgh" and (lug[1:].isdigit() or len(lug) == 1) else ""


def _to_shield(guitar: Harness) -> _Made:
    jack = guitar.only(Jack)
    for joint in _bench_joints(guitar):
        lug = joint[0][0]
        if guitar.node(lug) != guitar.ground:
            yield (
                f"{plain_words(lug)} touches ground",
                lambda lug=lug: bridged(guitar, lug, f"{jack}.sleeve"),
            )


def _swaps(guitar: Harness) -> _Made:
    plugged = {lead[0]: lead for joint in guitar.joined for lead in leads(guitar, joint)}
    for name, part in guitar.parts.items():
        if isinstance(part, (Cable, AmpInput, Empty, *_TWO_LUG)):
            continue
        every = combinations([f"{name}.{lug}" for lug in part.lugs], 2)
        for first, second in every if isinstance(part, Pot) else _neighbours(name, part.lugs):
            these, those = plugged.get(first, (first,)), plugged.get(second, (second,))
            yield (
                f"{plain_words(first)} and {_local(second)} swapped",
                lambda these=these, those=those: swapped(guitar, these, those),
            )
    hots = [
        name
        for name, part in guitar.parts.items()
        if isinstance(part, (Coil, Humbucker)) and "hot" in part.lugs
    ]
    for one, other in combinations(hots, 2):
        yield (
            f"hot leads of {plain_words(one)} and {plain_words(other)} swapped",
            lambda one=one, other=other: swapped(guitar, (f"{one}.hot",), (f"{other}.hot",)),
        )


def _coils(guitar: Harness) -> _Made:
    for name, part in guitar.parts.items():
        if isinstance(part, Coil):
            yield from _coil(guitar, name, part, part.lugs)
        elif isinstance(part, Humbucker):
            for inner, coil in part.inner().items():
                yield from _coil(guitar, f"{name}.{inner}", coil, ())  # type: ignore[arg-type]
            yield from _connections(guitar, name, part)


def _coil(guitar: Harness, path: str, coil: Coil, lugs: Sequence[str]) -> _Made:
    label = plain_words(path)
    yield f"{label} coil broken", lambda: guitar.replace(f"{path}.broken", True)
    if lugs:
        ends = [f"{path}.{lug}" for lug in lugs]
        yield f"{label} coil shorted", lambda: bridged(guitar, *ends)
    remaining = tuple(float(coil.resistance * (1 - share)) for share in _SHORTED)
    yield (
        f"{label} coil, part of its turns shorted",
        lambda: _with_coil(guitar, path, _part_shorted(coil)),
        (f"{path}.resistance", remaining),
    )
    turned = -(coil.winding or 1)
    yield f"{label} coil reversed", lambda: guitar.replace(f"{path}.winding", turned)
    flipped = -(coil.magnet or 1)
    yield f"{label} magnet reversed", lambda: guitar.replace(f"{path}.magnet", flipped)


def _part_shorted(coil: Coil) -> Coil:
    """A coil with some of its turns shorted: they act as a shorted secondary of the others.

    The remaining turns keep the share 1 - s of resistance, turns and signal, (1 - s)^2 of
    inductance.
    The shorted turns load the coupled part of it, transformed by the square of the turns ratio.
    """
    share = _NOMINAL_SHARE
    across = coil.resistance * share * ((1 - share) / share) ** 2 * _TURN_COUPLING
    if coil.eddy_resistance is not None:
        across = 1 / (1 / across + 1 / coil.eddy_resistance)
    return replace(
        coil,
        resistance=coil.resistance * (1 - share),
        inductance=coil.inductance * (1 - share) ** 2,
        eddy_resistance=across,
        eddy_share=max(_TURN_COUPLING, coil.eddy_share or 0),
        eddy_order=None,  # of copper, and the smaller of the two
        signal=(1.0 if coil.signal is None else coil.signal) * (1 - share),
        turns=None if coil.turns is None else coil.turns * (1 - share),
    )


def _with_coil(guitar: Harness, path: str, coil: Coil) -> Harness:
    """Replace a pickup, or one coil of a humbucker."""
    name, _, inner = path.partition(".")
    whole = replace(guitar.parts[name], **{inner: coil}) if inner else coil  # type: ignore[type-var]
    return guitar.replace(name, whole)


def _connections(guitar: Harness, name: str, pickup: Humbucker) -> _Made:
    """Wrong connections of a humbucker's four leads."""
    if pickup.connection == "leads":
        return
    shorted = {
        "coil 1, other shunted": f"{plain_words(name)} coil 2 shorted",
        "coil 2, other shunted": f"{plain_words(name)} coil 1 shorted",
    }
    labels = {
        "series": f"{plain_words(name)} in series, not {pickup.connection}",
        "parallel": f"{plain_words(name)} in parallel, not {pickup.connection}",
        "coil 1": f"{plain_words(name)} coil 1 alone, not {pickup.connection}",
        "coil 2": f"{plain_words(name)} coil 2 alone, not {pickup.connection}",
    }
    if pickup.connection == "series":
        labels |= shorted
    for connection, label in labels.items():
        if connection != pickup.connection:
            yield (
                label,
                lambda connection=connection: guitar.replace(f"{name}.connection", connection),
            )


def _two_lug_parts(guitar: Harness) -> _Made:
    for name, part in guitar.parts.items():
        if isinstance(part, _TWO_LUG):
            for label, other in _faulty(part):
                yield (
                    f"{plain_words(name)}{label}",
                    lambda name=name, other=other: guitar.replace(name, other),
                )


def _faulty(part: Any) -> Iterator[tuple[str, Any]]:
    """A two-lug part after each fault of its own, or of a part inside it."""
    if isinstance(part, Network):
        inner = list(part.inner().items())
        for position, (name, element) in enumerate(inner):
            for label, other in _faulty(element):
                elements = [kept for _, kept in inner]
                yield f" {plain_words(name)}{label}", _network(part.kind, elements, position, other)
        return
    yield " open", None
    yield " shorted", Resistor(0.0)
    field_name = "capacitance" if isinstance(part, Capacitor) else "resistance"
    value, unit = getattr(part, field_name), "F" if isinstance(part, Capacitor) else "ohm"
    for factor in (10, 0.1):
        wrong = float(f"{value * factor:.12g}")
        label = f" is {format_value(wrong, unit)}, not {format_value(value, unit)}"
        yield label, replace(part, **{field_name: wrong})


def _network(kind: str, elements: list[Any], position: int, other: Any) -> Any:
    """A network with one element replaced; None is open, 0 ohm is a wire."""
    short = isinstance(other, Resistor) and other.resistance == 0
    if (kind == "series" and other is None) or (kind == "parallel" and short):
        return other  # the whole network is open, or shorted
    kept = [] if other is None or short else [other]
    elements_left = [*elements[:position], *kept, *elements[position + 1 :]]
    return elements_left[0] if len(elements_left) == 1 else Network(kind, tuple(elements_left))  # type: ignore[arg-type]


def _pots(guitar: Harness) -> _Made:
    for name, part in guitar.parts.items():
        if not isinstance(part, (Pot, BlendPot)):
            continue
        other = [r for r in _POTS if not 0.7 < r / part.resistance < 1.4]
        below = [r for r in other if r < part.resistance][-1:]
        above = [r for r in other if r > part.resistance][:1]
        stated = format_value(part.resistance, "ohm")
        for wrong in below + above:
            yield (
                f"{plain_words(name)} is {format_value(wrong, 'ohm')}, not {stated}",
                lambda name=name, wrong=wrong: guitar.replace(f"{name}.resistance", wrong),
            )
        for taper in ("linear", "audio 15%", "reverse audio 15%") if isinstance(part, Pot) else ():
            yield (
                f"{plain_words(name)} is {taper}, not {part.taper}",
                lambda name=name, taper=taper: guitar.replace(f"{name}.taper", taper),
            )


def _misplaced(guitar: Harness) -> _Made:
    """Two-lug parts across a pot, soldered to the wrong pair of its lugs."""
    for name, part in guitar.parts.items():
        if not isinstance(part, _TWO_LUG):
            continue
        ends = [guitar.node(f"{name}.{lug}") for lug in part.lugs]
        for pot, across in guitar.parts.items():
            if not isinstance(across, Pot):
                continue
            nodes = {lug: guitar.node(f"{pot}.{lug}") for lug in across.lugs}
            if not set(ends) <= set(nodes.values()) or ends[0] == ends[1]:
                continue
            for one, other in combinations(across.lugs, 2):
                if {nodes[one], nodes[other]} != set(ends):
                    yield (
                        f"{plain_words(name)} from {plain_words(f'{pot}.{one}')} to {other}",
                        lambda name=name, pot=pot, pair=(one, other): _moved(
                            guitar, name, [f"{pot}.{lug}" for lug in pair]
                        ),
                    )


def _moved(guitar: Harness, name: str, to: Sequence[str]) -> Harness:
    """Take a two-lug part off its joints and solder it to two other lugs."""
    lugs = [f"{name}.a", f"{name}.b"]
    opened = guitar.lift(*lugs)
    free = tuple(lug for lug in opened.open_lugs if lug not in (*lugs, *to))
    joined = (*opened.joined, (lugs[0], to[0]), (lugs[1], to[1]))
    return replace(opened, joined=joined, open_lugs=free)


def _contacts(guitar: Harness) -> _Made:
    joined = {lug for joint in guitar.joined for lug in joint}
    for name, part in guitar.parts.items():
        if not isinstance(part, Switch):
            continue
        for lug in part.lugs:
            if f"{name}.{lug}" not in joined:
                continue  # nothing is on it
            yield (
                f"{plain_words(name)} contact {lug} dead",
                lambda name=name, part=part, lug=lug: guitar.replace(
                    name, _without_contact(part, lug, part.places)
                ),
            )
            for place, groups in part.contacts:
                if any(lug in group for group in groups):
                    yield (
                        f"{plain_words(name)} contact {lug} dead at {place}",
                        lambda name=name, part=part, lug=lug, place=place: guitar.replace(
                            name, _without_contact(part, lug, (place,))
                        ),
                    )
        turned = zip(part.places, [groups for _, groups in part.contacts][::-1], strict=True)
        yield (
            f"{plain_words(name)} the wrong way round",
            lambda name=name, part=part, turned=tuple(turned): guitar.replace(
                name, replace(part, contacts=turned)
            ),
        )


def _without_contact(switch: Switch, lug: str, places: Sequence[str]) -> Switch:
    table = {
        place: [
            kept
            for group in groups
            if len(kept := [contact for contact in group if contact != lug or place not in places])
            > 1
        ]
        for place, groups in switch.contacts
    }
    return replace(switch, contacts=table)


def _local(lug: str) -> str:
    return plain_words(lug.rpartition(".")[2])


MAKERS: Mapping[str, Callable[[Harness], _Made]] = {
    "open joint": _open_joints,
    "coil": _coils,
    "touching lugs": _bridges,
    "hot to shield": _to_shield,
    "swapped leads": _swaps,
    "two-lug part": _two_lug_parts,
    "pot": _pots,
    "misplaced part": _misplaced,
    "switch": _contacts,
    "resistive joint": _bad_joints,
}
FAULT_KINDS = tuple(MAKERS)
"""Kinds of faults that `faults` lists."""

OFTEN: Mapping[str, float] = {
    "open joint": 1.0,
    "resistive joint": 1.0,
    "touching lugs": 0.5,
    "hot to shield": 0.5,
    "swapped leads": 0.5,
    "misplaced part": 0.5,
    "coil": 0.05,
    "two-lug part": 0.05,
    "pot": 0.05,
    "switch": 0.05,
    "none": 10.0,
}
"""How often a fault of each kind occurs beside an open joint: joints before leads, leads before
parts, and parts, which are new, one time in twenty. A guitar whose readings are right is taken to
be sound ten times as often as to have one given fault. Common practice, no source."""
