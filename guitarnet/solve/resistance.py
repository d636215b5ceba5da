"""Resistances of a netlist at 0 Hz between any two nodes, and what each depends on.

One inverse of the conductance matrix gives every pair of nodes and every derivative; a bench full
of hypotheses needs all of these. `ac.node_impedance` at 0 Hz is the same number for one node.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ..circuit.netlist import Branch, Netlist
from ..errors import NoSolution
from ..groups import Groups
from .structure import LIVE, OPEN, SHORT, single_state

__all__ = ["Resistances"]


class Resistances:
    """The resistances of a netlist at 0 Hz, every source at rest.

    Capacitors are open, inductors and sources shorts. A follower's input is taken to be at rest
    too, so its output is a short: true of the screening of a coil.

    Parameters
    ----------
    net : Netlist
        The circuit. Resistances may vary along named dimensions, where they are neither zero nor
        infinite.
    dims : sequence of str
        Order of these dimensions.

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
    >>> net = Netlist()
    >>> net.resistor("one", "a", "0", 3e3)
    >>> net.resistor("other", "a", "0", 6e3)
    >>> ohms, by = Resistances(net).between("a", "0")
    >>> float(ohms.round(6)), {name: float(by[name].round(6)) for name in by}
    (2000.0, {'one': 1333.333333, 'other': 666.666667})
    """

    def __init__(self, net: Netlist, dims: Sequence[str] = ()) -> None:
        there = net.dims()
        self._dims = [*(dim for dim in dims if dim in there), *(d for d in there if d not in dims)]
        self.shape = tuple(there[dim] for dim in self._dims)
        merged: Groups[str] = Groups()
        live = []
        for branch in net:
            state = SHORT if branch.kind in ("V", "E") else _state(branch)
            if state == SHORT:
                merged.merge(*branch.nodes[:2])
            elif state == LIVE:
                live.append(branch)
        self._find = merged.find
        ends = [(merged.find(b.nodes[0]), merged.find(b.nodes[1])) for b in live]
        kept = [(b, pair) for b, pair in zip(live, ends, strict=True) if pair[0] != pair[1]]
        self._names = [branch.name for branch, _ in kept]
        self._ohms = np.empty((*self.shape, len(kept)))
        for column, (branch, _) in enumerate(kept):
            self._ohms[..., column] = self._value(branch)
        self._islands(pair for _, pair in kept)

    def _islands(self, pairs: Iterable[tuple[str, str]]) -> None:
        """Number the nodes and invert the conductance matrix, island by island at once."""
        pairs = list(pairs)
        nodes = list(dict.fromkeys(node for pair in pairs for node in pair))
        self._index = {node: number for number, node in enumerate(nodes)}
        together: Groups[str] = Groups()
        for pair in pairs:
            together.merge(*pair)
        self._island = {node: together.find(node) for node in nodes}
        count = len(nodes)
        self._ends = np.array(
            [(self._index[a], self._index[b]) for a, b in pairs], dtype=int
        ).reshape(-1, 2)
        matrix = np.zeros((*self.shape, count, count))
        for column, (i, j) in enumerate(self._ends):
            siemens = 1 / self._ohms[..., column]
            matrix[..., i, i] += siemens
            matrix[..., j, j] += siemens
            matrix[..., i, j] -= siemens
            matrix[..., j, i] -= siemens
        # One node of each island is held: its potential does not matter, so it is tied by the
        # island's own conductance, which carries no current. The largest serves best: what the
        # tie adds to every potential goes out again in differences, except its rounding.
        own = np.einsum("...ii->...i", matrix).sum(axis=tuple(range(len(self.shape))))
        for root in dict.fromkeys(self._island.values()):
            members = [self._index[node] for node in nodes if self._island[node] == root]
            at = max(members, key=own.__getitem__)
            matrix[..., at, at] *= 2
        self._inverse = np.linalg.inv(matrix) if count else matrix

    def between(self, one: str, other: str) -> tuple[np.ndarray, dict[str, np.ndarray]]:
        """Resistance between two nodes.

        Parameters
        ----------
        one, other : str
            Nodes.

        Returns
        -------
        ohms : numpy.ndarray
            Resistance [ohm] over the dimensions; infinite where there is no path.
        by : dict of str to numpy.ndarray
            Derivative by the relative change of each branch's resistance [ohm], by its name.
        """
        a, b = self._find(one), self._find(other)
        nothing: dict[str, np.ndarray] = {}
        if a == b:
            return np.zeros(self.shape), nothing
        if self._island.get(a, a) != self._island.get(b, b) or a not in self._index:
            return np.full(self.shape, np.inf), nothing
        i, j = self._index[a], self._index[b]
        potentials = self._inverse[..., i] - self._inverse[..., j]
        across = potentials[..., self._ends[:, 0]] - potentials[..., self._ends[:, 1]]
        slopes = across**2 / self._ohms
        by = {name: slopes[..., column] for column, name in enumerate(self._names)}
        return potentials[..., i] - potentials[..., j], by

    def _value(self, branch: Branch) -> Any:
        """Ohms of a branch, ready to be spread over the dimensions."""
        if branch.kind == "Z":
            return complex(np.asarray(branch.value(np.zeros(1))).reshape(-1)[0]).real
        if not isinstance(branch.value, xr.Variable):
            return branch.value
        sizes = dict(zip(self._dims, self.shape, strict=True))
        own = branch.value.transpose(*[dim for dim in self._dims if dim in branch.value.dims])
        return own.values.reshape([n if dim in own.dims else 1 for dim, n in sizes.items()])


def _state(branch: Branch) -> int:
    if not isinstance(branch.value, xr.Variable):
        return single_state(branch, dc=True)
    if branch.kind != "R":
        return SHORT if branch.kind == "L" else OPEN
    values = branch.value.values
    if (values == 0).any() or not np.isfinite(values).all():
        raise NoSolution(branch.name, "is zero or infinite in a sweep", "leave these values out")
    return LIVE
