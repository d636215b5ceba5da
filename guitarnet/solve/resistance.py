"""Resistances of netlists at 0 Hz between any two nodes, and what each depends on.

One inverse of the conductance matrix gives every pair of nodes and every derivative; a bench full
of hypotheses needs all of these, so several netlists are inverted at once. `ac.node_impedance` at
0 Hz is the same number for one node.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np
import xarray as xr

from ..circuit.netlist import Branch
from ..errors import NoSolution
from ..groups import Groups
from .structure import LIVE, OPEN, SHORT, ohms_at_0_hz, single_state

__all__ = ["Resistances"]

_NO_DIMENSIONS: Mapping[str, int] = MappingProxyType({})


class Resistances:
    """The resistances of netlists at 0 Hz, every source at rest.

    Capacitors are open, inductors and sources shorts. A follower's input is taken to be at rest
    too, so its output is a short: true of the screening of a coil.

    Parameters
    ----------
    *nets : iterable of Branch
        The circuits, such as netlists. Resistances may vary along named dimensions, where they
        are neither zero nor infinite.
    dims : mapping of str to int
        These dimensions in order, and their sizes.

    Attributes
    ----------
    names : tuple of str
        The branches of all circuits in which current may flow.

    Raises
    ------
    NoSolution
        If a resistance that varies is zero or infinite.

    Notes
    -----
    With the conductance matrix G of each connected island, one node of it at zero, and x the
    potentials that 1 A from node a to node b raises, R_ab = x_a - x_b, and the derivative by the
    resistance of a branch is the square of the current in it,
    dR_ab / d ln R_k = (x_i - x_j)^2 / R_k.

    References
    ----------
    Derivative: R. M. Cohn, "The resistance of an electrical network", Proc. American Mathematical
    Society 1, 1950, 316-324.

    Examples
    --------
    >>> from guitarnet.circuit.netlist import Netlist
    >>> net = Netlist()
    >>> net.resistor("one", "a", "0", 3e3)
    >>> net.resistor("other", "a", "0", 6e3)
    >>> found = Resistances(net)
    >>> ohms, slopes = found.between((0, "a", "0"))
    >>> ohms.round(6).tolist(), found.names, slopes.round(6).tolist()
    ([2000.0], ('one', 'other'), [[1333.333333, 666.666667]])
    """

    def __init__(self, *nets: Iterable[Branch], dims: Mapping[str, int] = _NO_DIMENSIONS) -> None:
        self._joined, live = [], []
        for net in nets:
            merged, left = _merged(net)
            ends = ((b, (merged.find(b.nodes[0]), merged.find(b.nodes[1]))) for b in left)
            self._joined.append(merged)
            live.append([(branch, pair) for branch, pair in ends if pair[0] != pair[1]])
        columns: dict[str, int] = {}
        for own in live:
            for branch, _ in own:
                columns.setdefault(branch.name, len(columns))
        self.names = tuple(columns)
        # A branch that a circuit has not is one of infinite resistance from a node to itself.
        self._ohms = np.full((len(nets), *dims.values(), len(columns)), np.inf)
        self._ends = np.zeros((len(nets), len(columns), 2), dtype=int)
        self._index: list[dict[str, int]] = []
        for number, own in enumerate(live):
            index: dict[str, int] = {}
            for branch, pair in own:
                column = columns[branch.name]
                self._ohms[number, ..., column] = _ohms(branch, dims)
                self._ends[number, column] = [index.setdefault(n, len(index)) for n in pair]
            self._index.append(index)
        self._islands = [_islands(pair for _, pair in own) for own in live]
        self._inverse = self._inverted()

    def _inverted(self) -> np.ndarray:
        """Invert all conductance matrices at once, each as large as the largest of them."""
        count = max([1, *map(len, self._index)])
        there = np.arange(len(self._index))[:, None], np.arange(len(self.names))
        ends = np.zeros((len(self._index), len(self.names), count))
        ends[(*there, self._ends[..., 0])] += 1
        ends[(*there, self._ends[..., 1])] -= 1
        swept = tuple(range(1, self._ohms.ndim - 1))
        spread = np.expand_dims(ends, swept)
        matrix = (np.swapaxes(spread, -1, -2) / self._ohms[..., None, :]) @ spread
        # One node of each island is held: its potential does not matter, so it is tied by the
        # island's own conductance, which carries no current. The largest serves best: what the
        # tie adds to every potential goes out again in differences, except its rounding.
        own = np.einsum("...ii->...i", matrix).sum(axis=swept)
        for number, (index, island) in enumerate(zip(self._index, self._islands, strict=True)):
            most: dict[str, int] = {}
            for node, at in index.items():
                held = most.setdefault(island.find(node), at)
                if own[number, at] > own[number, held]:
                    most[island.find(node)] = at
            for at in most.values():
                matrix[number, ..., at, at] *= 2
            for at in range(len(index), count):
                matrix[number, ..., at, at] = 1.0
        return np.linalg.inv(matrix)

    def between(self, *probes: tuple[int, str, str]) -> tuple[np.ndarray, np.ndarray]:
        """Resistances between pairs of nodes.

        Parameters
        ----------
        *probes : tuple of int, str and str
            Number of the circuit, and two of its nodes.

        Returns
        -------
        ohms : numpy.ndarray
            Resistance [ohm] for each pair, over the dimensions; infinite where there is no path.
        slopes : numpy.ndarray
            Derivative by the relative change of each branch's resistance [ohm], along a last
            axis in the order of ``names``.
        """
        ends = [self._pair(*probe) for probe in probes]
        broken = np.array([pair is None for pair in ends])
        net = np.array([number for number, _, _ in probes])
        i, j = np.array([pair or (0, 0) for pair in ends]).T
        each = np.arange(len(probes))
        potentials = self._inverse[net, ..., i] - self._inverse[net, ..., j]
        near, far = np.moveaxis(self._ends[net], -1, 0)
        across = potentials[each[:, None], ..., near] - potentials[each[:, None], ..., far]
        slopes = np.moveaxis(across, 1, -1) ** 2 / self._ohms[net]
        ohms = potentials[each, ..., i] - potentials[each, ..., j]
        ohms[broken], slopes[broken] = np.inf, 0.0
        return ohms, slopes

    def _pair(self, number: int, one: str, other: str) -> tuple[int, int] | None:
        """Rows of two nodes in the matrix of a circuit; None where no path joins them."""
        a, b = (self._joined[number].find(node) for node in (one, other))
        if a == b:
            return 0, 0
        index, island = self._index[number], self._islands[number]
        if a not in index or b not in index or island.find(a) != island.find(b):
            return None
        return index[a], index[b]


def _merged(net: Iterable[Branch]) -> tuple[Groups[str], list[Branch]]:
    """Merge the ends of shorts; give the groups of nodes and the branches that are live."""
    merged: Groups[str] = Groups()
    live = []
    for branch in net:
        state = SHORT if branch.kind in ("V", "E") else _state(branch)
        if state == SHORT:
            merged.merge(*branch.nodes[:2])
        elif state == LIVE:
            live.append(branch)
    return merged, live


def _islands(pairs: Iterable[Sequence[str]]) -> Groups[str]:
    together: Groups[str] = Groups()
    for pair in pairs:
        together.merge(*pair)
    return together


def _ohms(branch: Branch, dims: Mapping[str, int]) -> Any:
    """Ohms of a branch, ready to be spread over the dimensions."""
    if branch.kind == "Z":
        return ohms_at_0_hz(branch).real
    if not isinstance(branch.value, xr.Variable):
        return branch.value
    own = branch.value.transpose(*[dim for dim in dims if dim in branch.value.dims])
    return own.values.reshape([n if dim in own.dims else 1 for dim, n in dims.items()])


def _state(branch: Branch) -> int:
    if not isinstance(branch.value, xr.Variable):
        return single_state(branch, dc=True)
    if branch.kind != "R":
        return SHORT if branch.kind == "L" else OPEN
    values = branch.value.values
    if (values == 0).any() or not np.isfinite(values).all():
        raise NoSolution(branch.name, "is zero or infinite in a sweep", "leave these values out")
    return LIVE
