"""The equations of a circuit, from a spanning tree of its smallest impedances.

Tree branches are impedances, v = z i; the other branches, the links, are admittances, i = y v.
Each link closes one loop through the tree, so its voltage is a sum of tree voltages, and a tree
branch carries a sum of link currents. What is left to solve holds every value of a part alone, in
a coefficient of its own: nothing is added up beforehand, so no small value drowns in a large one.
A link's impedance is the largest of its loop, so no product z y of a tree branch and a link is
above 1: a milliohm beside a gigohm costs no digits. It also means that a tree branch may be
exactly 0 ohm, and a link exactly open.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..circuit.netlist import Branch
from ..errors import NoSolution
from ..groups import Groups
from .elimination import Matrix
from .structure import Placed, Reduced

__all__ = [
    "DRIVE",
    "OUT",
    "Span",
    "Tree",
    "effective",
    "equations",
    "middle",
    "most_apart",
    "span",
    "spanning_tree",
    "units_of",
]

OUT, DRIVE = ("output",), ("drive",)
"""The row that reads the output, and the column of what drives the circuit; no branch's name."""

_INJECTED = "the current of 1 A into the output"

_LARGEST = 1e280  # impedances and admittances beyond leave no room for products

Span = tuple[tuple[float, float], tuple[float, float]]
"""Smallest and largest impedance [ohm] at the lowest frequency, then at the highest."""

Signs = dict[str, float]
"""Tree branches with the sign, 1 or -1, with which each is passed."""


@dataclass(frozen=True)
class Tree:
    """A spanning tree of a reduced circuit.

    Parameters
    ----------
    loops : dict of str to dict
        For each link the tree branches whose voltages add up to its own.
    paths : dict of str to dict
        For each node the tree branches whose voltages add up to its potential.
    branches : set of str
        Names of the tree branches; sources and followers are among them.
    """

    loops: dict[str, Signs]
    paths: dict[str, Signs]
    branches: frozenset[str]


def spanning_tree(placed: Placed, ground: str, weights: Mapping[str, float]) -> Tree | None:
    """Span the nodes by sources, followers, and then the branches of the smallest weights.

    None where sources and followers alone close a loop.
    """
    first = {"V": 0, "E": 1}
    order = sorted(
        (item for item in placed if item[0].kind != "M"),
        key=lambda item: (first.get(item[0].kind, 2), weights.get(item[0].name, 0.0)),
    )
    joined: Groups[str] = Groups()
    links: list[tuple[str, tuple[str, ...]]] = []
    at: dict[str, list[tuple[str, str, float]]] = {}
    tree = set()
    for branch, (a, b, *_) in order:
        if joined.find(a) == joined.find(b):
            if branch.kind in first:
                return None
            links.append((branch.name, (a, b)))
            continue
        joined.merge(a, b)
        tree.add(branch.name)
        at.setdefault(a, []).append((branch.name, b, -1.0))
        at.setdefault(b, []).append((branch.name, a, 1.0))
    paths: dict[str, Signs] = {ground: {}}
    reached = [ground]
    for node in reached:
        for name, other, sign in at.get(node, ()):
            if other not in paths:
                paths[other] = {**paths[node], name: sign}
                reached.append(other)
    loops = {name: _between(paths, a, b) for name, (a, b) in links}
    return Tree(loops, paths, frozenset(tree))


def most_apart(tree: Tree, spans: Mapping[str, Span]) -> float:
    """Largest ratio of a tree branch's impedance to that of a link on whose loop it lies."""
    return max(
        (
            spans[branch][end][1] / spans[link][end][0]
            for link, loop in tree.loops.items()
            for branch in loop
            if branch in spans
            for end in (0, 1)
        ),
        default=0.0,
    )


def span(branch: Branch, values: Any, ends: tuple[float, float]) -> Span:
    """Smallest and largest impedance of a branch at two frequencies; zeros and opens apart.

    Raises
    ------
    NoSolution
        If double precision has no number for it.
    """
    sizes = np.abs(values)
    if np.ndim(sizes):
        live = sizes[(sizes > 0) & (sizes < np.inf)]
        low, high = (float(live.min()), float(live.max())) if live.size else (1.0, 1.0)
    else:
        low = high = float(sizes)
    found = []
    for hertz in ends:
        least, most = low, high
        if branch.kind in "LC":
            least, most = 2 * np.pi * hertz * low, 2 * np.pi * hertz * high
            if not most < _LARGEST:
                raise NoSolution(
                    branch.name,
                    f"has no impedance that a number can hold at {hertz:g} Hz",
                    "leave out frequencies so far from the audible, or check its value",
                )
        # What is smaller than all numbers is nothing beside any other part.
        least, most = (min(max(size, 1 / _LARGEST), _LARGEST) for size in (least, most))
        found.append((1 / most, 1 / least) if branch.kind == "C" else (least, most))
    return found[0], found[1]


def middle(own: Span) -> float:
    """Middle of impedances, as a logarithm."""
    return math.fsum(math.log(ohms) for end in own for ohms in end) / 4


def units_of(spans: Mapping[str, Span]) -> dict[str, float]:
    """Units for `equations`, powers of 2, by which nothing is rounded."""
    return {name: 2.0 ** round(middle(own) / (2 * math.log(2))) for name, own in spans.items()}


def _between(paths: Mapping[str, Signs], a: str, b: str) -> Signs:
    """Tree branches whose voltages add up to that from a node to another."""
    one, other = paths[a], paths[b]
    found = {name: sign for name, sign in one.items() if name not in other}
    found |= {name: -sign for name, sign in other.items() if name not in one}
    return found


def effective(branch: Branch) -> Any:
    """Value of a branch; a lossy capacitor is C (1 - j tan delta)."""
    if branch.kind == "C" and not (isinstance(branch.loss, (int, float)) and branch.loss == 0):
        return branch.value * (1 - 1j * branch.loss)
    return branch.value


def _impedance(branch: Branch, value: Any, s: np.ndarray) -> tuple[Any, Any]:
    """Impedance as two factors: what depends on the value, and what on frequency alone."""
    if branch.kind == "L":
        return value, s
    return (1 / value, 1 / s) if branch.kind == "C" else (value, 1.0)


def _admittance(branch: Branch, value: Any, s: np.ndarray) -> tuple[Any, Any]:
    """Admittance as two factors, as `_impedance`."""
    if branch.kind == "C":
        return value, s
    return 1 / value, 1 / s if branch.kind == "L" else 1.0


def equations(
    reduced: Reduced,
    tree: Tree,
    units: Mapping[str, float],
    values: Mapping[str, Any],
    s: np.ndarray,
    volts: Mapping[str, complex] | None,
    free: frozenset[str] = frozenset(),
) -> Matrix:
    """Write down what is left to solve: tree voltages and link currents by branch names.

    Parameters
    ----------
    reduced, tree : Reduced, Tree
        The circuit.
    units : mapping of str to float
        For each passive branch the root of about its impedance: voltages are counted in it,
        currents in its inverse, so that no coefficient is far above 1.
    values : mapping of str to number or array
        Value of each passive branch: over frequency alone or over rows and frequency.
    s : numpy.ndarray
        2 pi j times frequency.
    volts : mapping of str to complex, or None
        Volts of each source by name; None for 1 A into the output.
    free : frozenset of str
        Branches x z or x y whose factor x is left open: their voltage or current is the column
        of their name without the factor, and their row gives it before the factor.

    Returns
    -------
    Matrix
        With the row `OUT` and the column `DRIVE` as a border.
    """
    matrix = Matrix()
    matrix.columns[DRIVE] = set()
    matrix.rows[OUT] = {}
    loops = dict(tree.loops)
    if volts is None:
        # It flows from ground to the output through the source: -1 times the potential's path.
        loops[_INJECTED] = {name: -sign for name, sign in tree.paths[reduced.output].items()}
    carried: dict[str, Signs] = {}  # what each tree branch carries, in link currents
    for link, loop in loops.items():
        for name, sign in loop.items():
            carried.setdefault(name, {})[link] = -sign
    coupled = _couplings(reduced)

    # Values, often fewer than frequencies, are multiplied up before these come in.
    def add_voltages(row: Hashable, terms: Signs, scale: Any, over: Any = 1.0) -> None:
        """Add tree voltages to a row, times a scale and what depends on frequency alone."""
        for name, sign in terms.items():
            if volts is not None and name in volts:
                matrix.add(row, DRIVE, (-sign * volts[name] * scale) * over)
            else:
                matrix.add(row, name, (sign * units.get(name, 1.0) * scale) * over)

    def add_currents(row: str, of: str, scale: Any, over: Any = 1.0) -> None:
        """Add a branch's current to a row, times a scale and what depends on frequency alone."""
        for link, sign in ({of: 1.0} if of in loops else carried.get(of, {})).items():
            if link == _INJECTED:
                matrix.add(row, DRIVE, (-sign * scale) * over)
            else:
                matrix.add(row, link, (sign / units[link] * scale) * over)

    for branch, nodes in reduced.branches:
        name, value = branch.name, values.get(branch.name)
        if branch.kind in ("V", "M"):
            continue
        matrix.rows.setdefault(name, {})
        matrix.columns.setdefault(name, set())
        if name not in free:
            matrix.add(name, name, 1.0)
        if branch.kind == "E":
            add_voltages(name, _between(tree.paths, nodes[2], nodes[3]), -1.0)
        elif name in tree.branches:
            z, over = _impedance(branch, value, s)
            add_currents(name, name, -1 / units[name] * z, over)
            for other, mutual in coupled.get(name, ()):
                add_currents(name, other, -1 / units[name] * values[mutual], s)
        else:
            y, over = _admittance(branch, value, s)
            add_voltages(name, loops[name], -units[name] * y, over)
            for other, mutual in coupled.get(name, ()):
                # Of two inductors s cancels: y s M is M over L.
                add_currents(name, other, units[name] * (values[mutual] / value))
    add_voltages(OUT, tree.paths[reduced.output], 1.0)
    return matrix


def _couplings(reduced: Reduced) -> dict[str, list[tuple[str, str]]]:
    """For each coupled inductor the other one and the name of their mutual inductance."""
    found: dict[str, list[tuple[str, str]]] = {}
    for branch, _ in reduced.branches:
        if branch.kind == "M":
            one, other = branch.between
            found.setdefault(one, []).append((other, branch.name))
            found.setdefault(other, []).append((one, branch.name))
    return found
