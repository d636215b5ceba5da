"""Data for a page that computes a guitar: controls, pieces and polynomials.

Switch places are structure: each combination of them has its own polynomials. Knob marks, cable
length, treble bleeds and tone capacitors are pieces that the page evaluates.
"""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Mapping
from typing import Any

from ...circuit.harness import Harness
from ...circuit.netlist import Branch, Netlist
from ...circuit.roles import roles
from ...circuit.settings import resolve, variants
from ...errors import BadSetting, NotExpressible
from ...parts.base import Part, Values
from ...parts.blend import BlendPot
from ...parts.output import Cable
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.taper import Taper
from ...parts.two_lug import Capacitor, Empty, Network, Resistor
from ...solve.one_ports import SPEED, UNIT, Circuit, one_ports
from ...study.response.response import node_at

__all__ = ["live_model", "opened"]

MOST_PLACES = 400
"""Combinations of switch places in one guitar."""
_CABLE = {"resistance": "r", "capacitance": "c", "leakage": "g"}
# Direction of each track of a blend pot.
_WAYS = {"first": "falling", "second": "rising"}


def opened(
    builds: Mapping[str, Harness], settings: Mapping[str, Any]
) -> tuple[dict[str, Harness], dict[str, float]]:
    """Read the opening settings of a page: builds with these settings, and marks of the knobs.

    Each setting has one value; a build without the part does not change.
    """
    marks: dict[str, float] = {}
    made = {}
    for name in settings:
        if not any(name.partition(".")[0] in guitar.parts for guitar in builds.values()):
            next(iter(builds.values())).split(name)  # refuses, with the nearest name
    for label, guitar in builds.items():
        given = {n: v for n, v in settings.items() if n.partition(".")[0] in guitar.parts}
        labels, harnesses, rest = variants(guitar, given)
        resolved = resolve(guitar, rest)
        for name in (*labels, *resolved.dims):
            raise BadSetting(
                name,
                "is given several values, and a page opens with one",
                "give one; you can move it on the page, or give several guitars as builds",
            )
        _, harness = next(harnesses)
        for path, value in resolved.values.items():
            name, local = harness.split(path)
            if local == "track":
                raise BadSetting(
                    path, "is the track, not the mark", f"set the mark, as {name}=5", value
                )
            if local in harness.parts[name].controls:
                marks[name] = value
            else:
                harness = harness.replace(path, value)
        made[label] = harness
    return made, marks


def live_model(builds: Mapping[str, Harness]) -> dict[str, Any]:
    """Guitars as plain data for a page.

    The data are ``unit`` [ohm] and ``speed`` [rad/s] of the coefficients, the ``circuits``, and
    for each of the ``builds`` its ``knobs``, ``switches``, ``pieces`` and the number of the
    circuit for each combination of places (-1 is silent); the last switch changes fastest.
    """
    circuits: dict[str, int] = {}
    made = [_build(guitar, circuits) for guitar in builds.values()]
    return {
        "unit": UNIT,
        "speed": SPEED,
        "circuits": [json.loads(text) for text in circuits],
        "builds": made,
    }


def _build(guitar: Harness, circuits: dict[str, int]) -> dict[str, Any]:
    switches = {n: p for n, p in guitar.parts.items() if isinstance(p, Switch)}
    count = math.prod(len(part.places) for part in switches.values())
    if count > MOST_PLACES:
        raise NotExpressible(
            guitar.name,
            f"has {count} combinations of switch places, over {MOST_PLACES}",
            "leave out a switch, or give live_page() a response at some of its places",
        )
    pieces = _pieces(guitar)
    numbers = []
    used: set[str] = set()
    for places in itertools.product(*(part.places for part in switches.values())):
        placed = guitar
        for name, place in zip(switches, places, strict=True):
            placed = placed.replace(name, place)
        circuit = one_ports(_netlist(placed, pieces), node_at(placed, "amp"), pieces)
        if circuit is None:
            numbers.append(-1)
            continue
        used.update(port for port in circuit.ports if isinstance(port, str))
        numbers.append(circuits.setdefault(_text(circuit), len(circuits)))
    return {
        "knobs": {
            name: _taper(part.taper)
            for name, part in guitar.parts.items()
            if isinstance(part, (Pot, BlendPot))
        },
        "switches": [[name, list(part.places)] for name, part in switches.items()],
        "stands": {name: part.places.index(part.place) for name, part in switches.items()},
        "pieces": {name: piece for name, piece in pieces.items() if name in used},
        "circuits": numbers,
    }


def _text(circuit: Circuit) -> str:
    ports = [
        port
        if isinstance(port, str)
        else {name: [float(f"{x:.13g}") for x in row] for name, row in port.items()}
        for port in circuit.ports
    ]
    return json.dumps({**vars(circuit), "ports": ports}, separators=(",", ":"))


# -- pieces that the page evaluates -----------------------------------------------------------


def _pieces(guitar: Harness) -> dict[str, dict[str, Any]]:
    """Every piece by the name of its branch: of which part, and how its value comes about."""
    pieces: dict[str, dict[str, Any]] = {}
    bleeds = {name for name, role in roles(guitar).items() if role.kind == "treble bleed"}
    for name, part in guitar.parts.items():
        if isinstance(part, (Pot, BlendPot)):
            pieces |= _tracks(name, part)
        elif isinstance(part, Cable):
            pieces |= _cable(name, part)
        elif isinstance(part, (Capacitor, Network)) or name in bleeds:
            pieces[name] = {"kind": "part", "of": name, "tree": _tree(name, part)}
    return pieces


def _stamped(name: str, part: Part, values: Mapping[str, float]) -> dict[str, float]:
    net = Netlist("ground")
    lugs = {lug: f"{name}.{lug}" for lug in part.lugs}
    given = {f"{name}.{local}": value for local, value in values.items()}
    part.stamp(net.inner(name, **lugs), Values(part, name, given))
    return {branch.name: branch.value for branch in net}


def _tracks(name: str, part: Pot | BlendPot) -> dict[str, dict[str, Any]]:
    """Both halves of each track; their ohms are linear in what lies below the wiper."""
    whole = isinstance(part, Pot)
    low = _stamped(name, part, {"track": 0.0} if whole else {"mark": 0.0})
    high = _stamped(name, part, {"track": 1.0} if whole else {"mark": 10.0})
    tracks = {}
    for branch, at_low in low.items():
        way = _WAYS.get(branch.rpartition(".")[2].partition("_")[0], "whole")
        ends = (high[branch], at_low) if way == "falling" else (at_low, high[branch])
        tracks[branch] = {"kind": "pot", "of": name, "way": way, "ends": ends}
    return tracks


def _cable(name: str, part: Cable) -> dict[str, dict[str, Any]]:
    values = _stamped(name, part, {"length": 1.0})
    return {
        f"{name}.{field}": {
            "kind": "cable",
            "of": name,
            "what": letter,
            "value": values[f"{name}.{field}"],
            "length": part.length,
        }
        for field, letter in _CABLE.items()
        if values.get(f"{name}.{field}")
    }


def _tree(name: str, part: Part) -> list[Any]:
    """Write a two-lug part as resistors and capacitors in series and in parallel."""
    if isinstance(part, Empty):
        return ["open"]
    if isinstance(part, Resistor):
        return ["r", part.resistance]
    if isinstance(part, Capacitor):
        losses = part.dissipation_factor, part.series_resistance, part.parallel_resistance
        return ["c", part.capacitance, *losses]
    if isinstance(part, Network):
        return [part.kind, *(_tree(name, inner) for inner in part.elements)]
    raise NotExpressible(
        name,
        f"holds {part.label()}, which a live page does not evaluate",
        "make it of capacitors and resistors",
    )


def _netlist(guitar: Harness, pieces: Mapping[str, Mapping[str, Any]]) -> Netlist:
    """Netlist in which every piece is a resistor that is neither a wire nor an open."""
    lengths = {f"{n}.length": 1.0 for n, part in guitar.parts.items() if isinstance(part, Cable)}
    networks = [name for name, piece in pieces.items() if piece["kind"] == "part"]
    net = guitar.stamp(lengths, without=networks)
    for name in pieces:
        if name in networks:
            net.resistor(name, guitar.node(f"{name}.a"), guitar.node(f"{name}.b"), 1.0)
        else:
            net.branches[name] = Branch(name, "R", net.branches[name].nodes, 1.0)
    return net


def _taper(law: Taper) -> dict[str, Any]:
    shape = {"points": law.points} if law.points is not None else {"base": law.base}
    return {**shape, "zone": law.dead_zone, "opens": law.opens_at_full}
