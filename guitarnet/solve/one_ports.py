"""A circuit as polynomials in its two-terminal pieces, for a page that must solve it by itself.

Every piece between two nodes is a ratio: q v - p i = e, with the current i from its first to its
second node. Determinants are linear in the pairs (p, q), so that a short (p = 0) and an open
(q = 0) are places like any other. What is fixed (coils with their losses, screening and coupling)
is eliminated to such pieces once, p, q and e polynomials in s. Pieces in series and in parallel
are joined step by step, which is the same polynomial in factors; for what is left the polynomials
are written out over the spanning trees of the circuit (Kirchhoff's theorem).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..circuit.netlist import Branch, Netlist
from ..errors import NotExpressible
from ..groups import Groups
from .structure import Placed, place, reduce, single_state

__all__ = ["SPEED", "UNIT", "Circuit", "one_ports"]

UNIT = 1e5
"""Impedances are counted in this unit [ohm]."""
SPEED = 2 * math.pi * 3e3
"""s is counted in this unit [rad/s]."""
_RADII = 4.0 ** np.arange(-4, 5)  # of circles of s, in SPEED: the corners of coils and their losses
_ROUNDING = 1e-12  # of the largest term
_MOST_TREES = 20000


@dataclass
class Circuit:
    """A circuit as steps from its pieces to its output.

    Parameters
    ----------
    ports : list of str or dict
        Pieces: the name of a branch that is evaluated later, or the polynomials ``p``, ``q`` and
        ``e`` of a fixed piece, coefficients of rising powers of s / `SPEED`, p in `UNIT`.
    steps : list of (str, int, int)
        Each makes one more piece of two: "s" in series or "p" in parallel, with the number of
        either piece, counted from 1 and negative where it is turned round.
    rest : list of int
        Pieces that are left, counted from 0.
    below : list of int
        Spanning trees: bit i is set where the piece ``rest[i]`` is in the tree.
    above : list of (int, int, int)
        For each source and forest: place in ``rest``, sign, and the forest by bits.

    Notes
    -----
    The output is N / D, with D the sum over trees of the product of q of what is in the tree and
    p of what is not, and N the sum over forests of sign and e of the source times the same
    product over the other pieces.
    """

    ports: list[str | dict[str, list[float]]] = field(default_factory=list)
    steps: list[tuple[str, int, int]] = field(default_factory=list)
    rest: list[int] = field(default_factory=list)
    below: list[int] = field(default_factory=list)
    above: list[tuple[int, int, int]] = field(default_factory=list)


@dataclass
class _Edge:
    number: int
    a: str
    b: str
    driven: bool


def one_ports(net: Netlist, output: str, later: Collection[str]) -> Circuit | None:
    """Write a circuit as polynomials in its two-terminal pieces.

    Parameters
    ----------
    net : Netlist
        The circuit. Resistors named in ``later`` stand for pieces whose impedance is known later;
        their values do not matter if they are neither 0 nor infinite.
    output : str
        Node whose voltage to ground is asked for.
    later : collection of str
        Names of such branches.

    Returns
    -------
    Circuit, optional
        None where nothing reaches the output whatever the pieces are.

    Raises
    ------
    NotExpressible
        If a fixed branch is no rational function of s, or the circuit has too many meshes.

    References
    ----------
    Spanning trees: G. Kirchhoff, "Ueber die Auflösung der Gleichungen, auf welche man bei der
    Untersuchung der linearen Vertheilung galvanischer Ströme geführt wird", Annalen der Physik
    148 (1847), p. 497.
    """
    states = {branch.name: single_state(branch) for branch in net}
    reduced = reduce(place(net), states, net.ground, output, driven=True)
    if reduced.silent:
        return None
    made = Circuit()
    edges: list[_Edge] = []

    def add(port: str | dict[str, list[float]], a: str, b: str) -> None:
        driven = not isinstance(port, str) and bool(port["e"])
        edges.append(_Edge(len(made.ports), a, b, driven))
        made.ports.append(port)

    fixed = []
    for branch, nodes in reduced.branches:
        if branch.name in later:
            add(branch.name, *nodes)
        else:
            fixed.append((branch, nodes))
    ends = {reduced.ground, reduced.output, *(node for edge in edges for node in (edge.a, edge.b))}
    for piece in _pieces(fixed, ends):
        for port, a, b in _eliminated(piece, ends, reduced.ground):
            add(port, a, b)
    edges = _joined(edges, made, {reduced.ground, reduced.output})
    _trees(edges, made, reduced.ground, reduced.output)
    return made if made.above else None


# -- fixed pieces -----------------------------------------------------------------------------


def _pieces(fixed: Placed, ends: set[str]) -> list[Placed]:
    """Divide fixed branches into pieces that meet the rest at ``ends`` alone."""
    groups: Groups[str] = Groups()
    for branch, nodes in fixed:
        own = f"branch {branch.name}"
        for node in nodes:
            if node not in ends:
                groups.merge(own, f"node {node}")
        for name in branch.between:
            groups.merge(own, f"branch {name}")
    found: dict[str, Placed] = {}
    for branch, nodes in fixed:
        found.setdefault(groups.find(f"branch {branch.name}"), []).append((branch, nodes))
    # Pieces between the same ends are one.
    together: dict[frozenset[str], Placed] = {}
    for piece in found.values():
        key = frozenset(node for _, nodes in piece for node in nodes if node in ends)
        together.setdefault(key, []).extend(piece)
    return list(together.values())


def _eliminated(
    piece: Placed, ends: set[str], ground: str
) -> list[tuple[dict[str, list[float]], str, str]]:
    """Replace a fixed piece by one port between each two of its ends."""
    nodes = list(dict.fromkeys(node for _, own in piece for node in own))
    reference = ground if ground in nodes else next(node for node in nodes if node in ends)
    terminals = [node for node in nodes if node in ends and node != reference]
    inner = [node for node in nodes if node not in ends]
    degree = sum(branch.kind in "LC" for branch, _ in piece)
    turn = np.exp(2j * np.pi * np.arange(degree + 1) / (degree + 1))
    s = (SPEED * _RADII[:, np.newaxis] * turn).ravel()
    matrix, drive = _stamped(piece, [*terminals, *inner], reference, s)
    count = len(terminals)
    body = matrix[:, count:, count:]
    below = np.linalg.det(body)
    if not np.all(below):
        names = ", ".join(branch.name for branch, _ in piece[:3])
        raise NotExpressible(
            names, "is an ideal source with nothing in series", "add a resistor in series"
        )
    solved = np.linalg.solve(
        body, np.concatenate([matrix[:, count:, :count], drive[:, count:]], axis=2)
    )
    outer = matrix[:, :count, count:]
    admittance = matrix[:, :count, :count] - outer @ solved[..., :count]
    current = -(outer @ solved[..., count:])[..., 0]
    if not np.allclose(admittance, admittance.transpose(0, 2, 1), rtol=1e-9):
        names = ", ".join(branch.name for branch, _ in piece[:3])
        raise NotExpressible(
            names, "cannot be written as pieces with two ends", "use response() instead"
        )
    made = []
    for i, node in enumerate(terminals):
        whole = admittance[:, i].sum(axis=1)
        made.append((_port(below, whole * below, current[:, i] * below), node, reference))
        made += [
            (_port(below, -admittance[:, i, j] * below, 0 * below), node, terminals[j])
            for j in range(i)
        ]
    return [(port, a, b) for port, a, b in made if port["q"] or port["e"]]


def _stamped(
    piece: Placed, nodes: list[str], reference: str, s: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Currents that leave the nodes, and equations of branches, at samples of s."""
    with_current = [branch.name for branch, _ in piece if branch.kind in "LVE"]
    index = {key: i for i, key in enumerate([*nodes, *((name,) for name in with_current)])}
    size = len(index)
    matrix, drive = np.zeros((s.size, size, size), dtype=complex), np.zeros((s.size, size, 1))

    def add(row: Any, column: Any, value: Any) -> None:
        if reference not in (row, column):
            matrix[:, index[row], index[column]] += value

    for branch, own in piece:
        if branch.kind == "M":
            one, other = ((name,) for name in branch.between)
            add(one, other, -s * branch.value / UNIT)
            add(other, one, -s * branch.value / UNIT)
            continue
        a, b = own[:2]
        if branch.kind in "RC":
            y = UNIT / branch.value if branch.kind == "R" else _siemens(branch, s) * UNIT
            for row, column, value in ((a, a, y), (b, b, y), (a, b, -y), (b, a, -y)):
                add(row, column, value)
            continue
        if branch.kind == "Z":
            _refuse(branch)
        key = (branch.name,)
        for node, sign in ((a, 1.0), (b, -1.0)):
            add(key, node, sign)
            add(node, key, sign)
        if branch.kind == "L":
            add(key, key, -s * branch.value / UNIT)
        elif branch.kind == "V":
            drive[:, index[key]] = branch.value
        else:
            add(key, own[2], -1.0)
            add(key, own[3], 1.0)
    return matrix, drive


def _siemens(branch: Branch, s: np.ndarray) -> np.ndarray:
    if branch.loss != 0:
        _refuse(branch)
    return s * branch.value


def _refuse(branch: Branch) -> None:
    raise NotExpressible(
        branch.name,
        "is no rational function of frequency, which a live page needs",
        "model it with resistors, inductors and capacitors",
    )


def _port(p: np.ndarray, q: np.ndarray, e: np.ndarray) -> dict[str, list[float]]:
    """Coefficients in s from samples round circles, scaled together.

    Round a small circle the low powers are seen, round a large one the high ones: each coefficient
    is taken where its term is the largest beside the others.
    """
    samples = p.size // _RADII.size
    radius = _RADII[:, np.newaxis] ** np.arange(samples)
    terms = {
        name: np.fft.fft(x.reshape(-1, samples)).real / samples
        for name, x in (("p", p), ("q", q), ("e", e))
    }
    # p / q is in UNIT already; admittances were counted in it.
    most = np.max([np.abs(rows).max(axis=1) for rows in terms.values()], axis=0)[:, np.newaxis]
    found, every = {}, np.arange(samples)
    for name, rows in terms.items():
        share = np.abs(rows) / most
        best = share.argmax(axis=0)
        kept = np.where(share[best, every] > _ROUNDING, (rows / radius)[best, every], 0.0)
        found[name] = np.trim_zeros(kept, "b")
    largest = max(np.abs(row).max(initial=0.0) for row in found.values())
    return {name: (row / largest).tolist() for name, row in found.items()}


# -- series and parallel ----------------------------------------------------------------------


def _joined(edges: list[_Edge], made: Circuit, kept: set[str]) -> list[_Edge]:
    """Join pieces in series and in parallel as long as there are any."""
    while True:
        pair = _parallel(edges) or _series(edges, kept)
        if pair is None:
            return edges
        kind, one, other, a, b = pair
        numbers = []
        for edge, turned in ((one, one.a != a), (other, other.b != b)):
            numbers.append(-(edge.number + 1) if turned else edge.number + 1)
        made.steps.append((kind, numbers[0], numbers[1]))
        number = len(made.ports) + len(made.steps) - 1
        edges = [edge for edge in edges if edge not in (one, other)]
        if a != b:
            edges.append(_Edge(number, a, b, one.driven or other.driven))


def _parallel(edges: list[_Edge]) -> tuple[str, _Edge, _Edge, str, str] | None:
    seen: dict[frozenset[str], _Edge] = {}
    for edge in edges:
        before = seen.setdefault(frozenset((edge.a, edge.b)), edge)
        if before is not edge:
            return "p", before, edge, before.a, before.b
    return None


def _series(edges: list[_Edge], kept: set[str]) -> tuple[str, _Edge, _Edge, str, str] | None:
    at: dict[str, list[_Edge]] = {}
    for edge in edges:
        at.setdefault(edge.a, []).append(edge)
        at.setdefault(edge.b, []).append(edge)
    for node, own in at.items():
        if node not in kept and len(own) == 2:
            one, other = own
            return (
                "s",
                one,
                other,
                one.a if one.b == node else one.b,
                other.b if other.a == node else other.a,
            )
    return None


# -- what is left -----------------------------------------------------------------------------


def _trees(edges: list[_Edge], made: Circuit, ground: str, output: str) -> None:
    """Write out the polynomials over spanning trees and two-part forests."""
    nodes = {node for edge in edges for node in (edge.a, edge.b)}
    made.rest = [edge.number for edge in edges]
    if output not in nodes:
        return
    inner = len(nodes) - 1
    if math.comb(len(edges), inner) > _MOST_TREES:
        raise NotExpressible(
            "circuit", f"has {len(edges)} pieces in one mesh of nodes", "use response() instead"
        )
    for chosen in itertools.combinations(range(len(edges)), inner):
        if _forest(edges, chosen) is not None:
            made.below.append(sum(1 << i for i in chosen))
    for chosen in itertools.combinations(range(len(edges)), inner - 1):
        groups = _forest(edges, chosen)
        if groups is None or groups.find(output) == groups.find(ground):
            continue
        mask = sum(1 << i for i in chosen)
        for k, edge in enumerate(edges):
            reached = [groups.find(node) == groups.find(output) for node in (edge.a, edge.b)]
            if edge.driven and reached[0] != reached[1]:
                made.above.append((k, 1 if reached[0] else -1, mask))


def _forest(edges: list[_Edge], chosen: tuple[int, ...]) -> Groups[str] | None:
    """Groups of nodes that the chosen pieces join; None where they close a loop."""
    groups: Groups[str] = Groups()
    for i in chosen:
        if groups.find(edges[i].a) == groups.find(edges[i].b):
            return None
        groups.merge(edges[i].a, edges[i].b)
    return groups
