"""Many circuits, each at many settings of a few branches.

Ten thousand guitars at eleven marks: nearly every branch differs from guitar to guitar, but only
the two halves of a pot's track move with the mark. Each guitar's circuit is eliminated once per
frequency down to polynomials in the few; the marks are then one matrix product and one division.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ..circuit.netlist import Branch, Netlist
from .ac import DRIVE, OUT, System, effective, groups, node_voltage, stamp_branch, states_of
from .elimination import Matrix, minors, schur_complement, without_rounding
from .structure import Reduced, place, reduce, single_state

__all__ = ["sample_voltages"]

_POINTS = 32768  # guitars times frequencies eliminated at once, so that they stay in the cache
_FEW = 4  # branches that may move with the settings; else the general road is taken
_LEFT = 5  # rows that no pivot serves, up to which minors are the shorter way


def sample_voltages(
    net: Netlist,
    output: str,
    frequency: np.ndarray,
    *,
    along: str = "sample",
    dims: Sequence[str] = (),
    power: bool = False,
) -> xr.Variable:
    """Voltage from a node to ground for many circuits that differ in most of their values.

    Parameters
    ----------
    net : Netlist
        The circuit; values may carry named dimensions, not chunked.
    output : str
        Node.
    frequency : numpy.ndarray
        Frequencies [Hz], one dimension, above 0.
    along : str
        Dimension that numbers the circuits.
    dims : sequence of str
        Order of the other dimensions in the result.
    power : bool
        Give the squares of the sizes instead, which take half the memory.

    Returns
    -------
    xarray.Variable
        Complex volts, or their squared sizes: ``along`` first, the other dimensions,
        ``frequency`` last. The same as from `node_voltage`.

    Raises
    ------
    NoSolution
        As `node_voltage`.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("upper", "in", "out", xr.Variable("sample", [3e3, 1e3]))
    >>> net.resistor("lower", "out", "0", 1e3)
    >>> sample_voltages(net, "out", np.array([1000.0])).values[:, 0].real.tolist()
    [0.25, 0.5]
    """
    net.check_node(output)
    sizes = net.dims()
    order = [along, *dims, *(dim for dim in sizes if dim not in (along, *dims))]
    order = [dim for dim in order if dim in sizes]
    swept = {b.name: effective(b) for b in net if b.name in _swept(net)}
    moving = {name for name, value in swept.items() if set(value.dims) - {along}}
    if along not in sizes or len(moving) > _FEW or any(value.chunks for value in swept.values()):
        return _general(net, output, frequency, order, power)
    shape = tuple(sizes[dim] for dim in order[1:])
    # Rows are circuits; columns the settings of the few, of one column where they do not move.
    tables = {
        name: np.broadcast_to(
            value.set_dims({d: sizes[d] for d in order if d == along or name in moving})
            .transpose(*(d for d in order if d == along or name in moving))
            .values.reshape(sizes[along], -1),
            (sizes[along], int(np.prod(shape)) if name in moving else 1),
        )
        for name, value in swept.items()
    }
    kind = float if power else complex
    result = np.empty((sizes[along], int(np.prod(shape)), frequency.size), dtype=kind)
    fixed = {b.name: single_state(b) for b in net if b.name not in swept}
    start = reduce(place(net), fixed, net.ground, output, driven=True)
    states = {}
    for branch, _ in start.branches:
        if branch.name in swept:
            state = states_of(branch, tables[branch.name], dc=False)
            if (state != state[0]).any():  # zeros and opens that differ from circuit to circuit
                return _general(net, output, frequency, order, power)
            states[branch.name] = np.broadcast_to(state[0], result.shape[1])
    for members, pattern in groups(states, result.shape[1]):
        reduced = reduce(start.branches, pattern, start.ground, start.output, driven=True)
        if reduced.silent or reduced.output == reduced.ground:
            result[:, members] = 0
            continue
        own = {
            branch.name: tables[branch.name][:, members if branch.name in moving else slice(None)]
            for branch, _ in reduced.branches
            if branch.name in swept
        }
        _fill(result, members, reduced, frequency, own, moving, net)
    return xr.Variable((*order, "frequency"), result.reshape(-1, *shape, frequency.size))


def _general(
    net: Netlist, output: str, frequency: np.ndarray, order: Sequence[str], power: bool
) -> xr.Variable:
    volts = node_voltage(net, output, frequency, dims=order)
    return volts.copy(data=_square(volts.values)) if power else volts


def _square(volts: np.ndarray) -> np.ndarray:
    return np.square(volts.real) + np.square(volts.imag)


def _swept(net: Netlist) -> set[str]:
    return {b.name for b in net if any(isinstance(v, xr.Variable) for v in (b.value, b.loss))}


def _fill(
    result: np.ndarray,
    members: np.ndarray | slice,
    reduced: Reduced,
    frequency: np.ndarray,
    tables: Mapping[str, np.ndarray],
    moving: set[str],
    net: Netlist,
) -> None:
    """Fill the columns of ``result`` that share a pattern, block by block of circuits."""
    volts = {name: net.branches[name].value for name in net.sources()}
    coupled = {b.name for b, _ in reduced.branches if b.between}
    coupled |= {name for b, _ in reduced.branches for name in b.between}
    step = max(1, _POINTS // frequency.size)
    columns = next((t.shape[1] for name, t in tables.items() if name in moving), 1)
    kept = None
    for first in range(0, len(result), step):
        rows = slice(first, first + step)
        block = _Block(reduced, frequency, {n: t[rows] for n, t in tables.items()}, volts)
        block.moves, block.kept = moving & set(tables), kept
        block.power = not np.iscomplexobj(result)
        count = len(result[rows])
        # A mutual inductance is no single entry of the diagonal, so not one linear variable.
        found = None if coupled & block.moves else block.polynomial(count, columns)
        if found is None:
            found = block.one_by_one(count, columns)
        kept = block.kept
        # Settings that nothing moves any more are all alike.
        result[rows, members] = found


class _Block(System):
    """The matrix of a block of circuits; values are columns over circuits."""

    def __init__(
        self,
        reduced: Reduced,
        frequency: np.ndarray,
        swept: Mapping[str, np.ndarray],
        volts: Mapping[str, complex],
    ) -> None:
        super().__init__(reduced, frequency, {}, volts)
        self.variables = dict(swept)
        self.moves: set[str] = set()
        self.kept: set[int] | None = None  # minors that are not rounding
        self.power = False
        sizes = [
            np.abs(np.asarray(self._value(b))).max() for b, _ in reduced.branches if b.kind == "R"
        ]
        self.unit = float(np.exp(np.mean(np.log(sizes)))) if sizes else 1.0

    def polynomial(self, count: int, columns: int) -> np.ndarray | None:
        """Volts over circuits, settings and frequency; None where minors are the longer way."""
        matrix, keys, scaled = Matrix(), [], []
        for branch, nodes in self.reduced.branches:
            value = self._value(branch)
            if branch.name in self.moves:
                x, gain = self._scaled(branch)
                key = "current", branch.name
                stamp_branch(matrix, key, nodes, self.reduced.ground, 0.0, gain)
                matrix.rows.setdefault(key, {})
                keys.append(key)
                scaled.append(x)
            else:
                self._stamp_fixed(matrix, branch, nodes, value)
        self._stamp_border(matrix)
        left = list(zip(*schur_complement(matrix, [*keys, OUT], [*keys, DRIVE]), strict=True))
        if len(left) > _LEFT:
            return None
        pairs: list[Any] = [*((key, key) for key in keys), (OUT, DRIVE)]
        found = minors(matrix, pairs, left)
        if self.kept is None:  # the same for all blocks: it is structure
            first = _first_circuit(matrix)
            self.kept = set(without_rounding(first, pairs, left, minors(first, pairs, left)))
        found = {mask: value for mask, value in found.items() if mask in self.kept}
        border = 1 << len(keys)  # left out of the denominator
        below = {mask ^ border: value for mask, value in found.items() if mask & border}
        above = {mask: value for mask, value in found.items() if not mask & border}
        if not below:
            raise self._singular()
        if not above:
            return np.zeros((count, columns, self.s.size), float if self.power else complex)
        over = self._evaluated(above, scaled, -1.0, count, columns)
        under = self._evaluated(below, scaled, 1.0, count, columns)
        if self.power:
            over, under = _square(over), _square(under)
        return np.divide(over, under, out=over)

    def _scaled(self, branch: Branch) -> tuple[np.ndarray, Any]:
        """Scale a moving branch to v = x u with x up to 1; its current is gain times u."""
        values = self.variables[branch.name]
        size = np.abs(values)
        if branch.kind == "C":
            least = values.flat[np.argmin(size)]
            return least / values, self.unit * least * self.s
        most = values.flat[np.argmax(size)]
        return values / most, self.unit / (self.s * most if branch.kind == "L" else most)

    def _evaluated(
        self,
        found: Mapping[int, np.ndarray],
        scaled: Sequence[np.ndarray],
        sign: float,
        count: int,
        columns: int,
    ) -> np.ndarray:
        """A polynomial's value: products of the moving values times coefficients."""
        shape = count, columns if scaled else 1
        products = np.empty((*shape, len(found)), dtype=np.result_type(float, *scaled))
        coefficients = np.empty((count, len(found), self.s.size), dtype=complex)
        for place_, (mask, value) in enumerate(found.items()):
            coefficients[:, place_] = value * (-sign if mask.bit_count() % 2 else sign)
            factors = [x for i, x in enumerate(scaled) if mask >> i & 1]
            products[..., place_] = np.prod(np.broadcast_arrays(*factors), 0) if factors else 1.0
        if np.iscomplexobj(products):
            return products @ coefficients
        return (products @ coefficients.view(float)).view(complex)

    def one_by_one(self, count: int, columns: int) -> np.ndarray:
        """Volts with every circuit and setting eliminated by itself."""
        matrix = Matrix()
        for branch, nodes in self.reduced.branches:
            value = self._value(branch)
            if branch.name in self.variables:
                value = np.broadcast_to(value, (count, columns)).reshape(-1, 1)
            self._stamp_fixed(matrix, branch, nodes, value)
        self._stamp_border(matrix)
        rows, found = schur_complement(matrix, [OUT], [DRIVE])
        volts = self._last_step(matrix, rows, found, (count * columns, self.s.size))
        return (_square(volts) if self.power else volts).reshape(count, columns, -1)


def _first_circuit(matrix: Matrix) -> Matrix:
    """The entries of a block's first circuit."""
    first = Matrix()
    for row, entries in matrix.rows.items():
        first.rows[row] = {}
        for column, value in entries.items():
            if isinstance(value, np.ndarray) and value.ndim > 1:
                value = value[0] if value.shape[1] > 1 else value[0, 0]
            first.rows[row][column] = value
            first.columns.setdefault(column, set()).add(row)
    return first
