"""Voltages and impedances of a netlist at many frequencies and settings at once.

In what `structure.reduce` leaves, resistors, inductors and swept capacitors are branches
v = z i, so each swept value enters the determinant linearly. The fixed part is eliminated once
per frequency; the minors of what is left are the coefficients of two polynomials in the swept
values; every setting is then one matrix product and one division. Where more than `_MOST` values
are swept, or fewer settings than coefficients are asked for, each block of settings is eliminated
by itself. 0 Hz is structure too: capacitors open, inductors short.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
import xarray as xr

from ..circuit.netlist import Branch, Netlist
from ..errors import NoSolution
from .elimination import Matrix, minors, schur_complement, without_rounding
from .structure import LIVE, OPEN, SHORT, Reduced, place, reduce, single_state

__all__ = ["node_impedance", "node_voltage"]

_MOST = 8  # swept values in one polynomial
_BLOCK = 32  # settings evaluated at once, so that a block stays in the processor's cache
OUT, DRIVE = "output", "drive"  # the border of the matrix


def node_voltage(
    net: Netlist,
    output: str,
    frequency: np.ndarray,
    *,
    amplitudes: Mapping[str, complex] | None = None,
    dims: Sequence[str] = (),
) -> xr.Variable:
    """Voltage from a node to ground, driven by the netlist's sources.

    Parameters
    ----------
    net : Netlist
        The circuit; values may carry named dimensions and may be chunked.
    output : str
        Node.
    frequency : numpy.ndarray
        Frequencies [Hz], one dimension, from 0.
    amplitudes : mapping of str to complex, optional
        Volts of each source by name; its own unless given.
    dims : sequence of str
        Order of the dimensions in the result.

    Returns
    -------
    xarray.Variable
        Complex volts, with the named dimensions and ``frequency`` last. A node that nothing
        reaches is at exactly 0.

    Raises
    ------
    NoSolution
        If an ideal source is shorted or the circuit has no unique answer.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("upper", "in", "out", 3e3)
    >>> net.resistor("lower", "out", "0", 1e3)
    >>> node_voltage(net, "out", np.array([0.0, 1000.0])).values.real.tolist()
    [0.25, 0.25]
    """
    own = {name: net.branches[name].value for name in net.sources()}
    volts = own if amplitudes is None else dict(amplitudes)
    return over_settings(Task, net, output, frequency, volts, dims)


def node_impedance(
    net: Netlist, output: str, frequency: np.ndarray, *, dims: Sequence[str] = ()
) -> xr.Variable:
    """Impedance from a node to ground, with every source at rest.

    Parameters
    ----------
    net : Netlist
        The circuit; values may carry named dimensions and may be chunked.
    output : str
        Node.
    frequency : numpy.ndarray
        Frequencies [Hz], one dimension, from 0.
    dims : sequence of str
        Order of the dimensions in the result.

    Returns
    -------
    xarray.Variable
        Complex ohms, with the named dimensions and ``frequency`` last; infinite where no
        current can flow.

    Raises
    ------
    NoSolution
        If the circuit has no unique answer.

    Examples
    --------
    >>> net = Netlist()
    >>> net.resistor("one", "a", "0", 3e3)
    >>> net.resistor("other", "a", "0", 6e3)
    >>> node_impedance(net, "a", np.array([0.0])).values.real.round(6).tolist()
    [2000.0]
    """
    return over_settings(Task, net, output, frequency, None, dims)


def over_settings(
    kind: type[Task],
    net: Netlist,
    output: str,
    frequency: np.ndarray,
    volts: Mapping[str, complex] | None,
    dims: Sequence[str],
) -> xr.Variable:
    net.check_node(output)
    swept = [branch for branch in net if _is_swept(branch)]
    values = [effective(branch) for branch in swept]
    there = net.dims()
    order = [dim for dim in dims if dim in there]
    order += [dim for dim in there if dim not in order]
    frequency = np.asarray(frequency, dtype=float)
    task = kind(net, output, frequency, volts, tuple(branch.name for branch in swept))
    if any(not isinstance(value.data, np.ndarray) for value in values):
        lazy = xr.apply_ufunc(
            task,
            *values,
            output_core_dims=[["frequency"]],
            dask="parallelized",
            output_dtypes=[kind.dtype],
            dask_gufunc_kwargs={"output_sizes": {"frequency": frequency.size}},
        )
        return lazy.transpose(*order, "frequency")
    arrays = [_aligned(value, order) for value in values]
    return xr.Variable((*order, "frequency"), task(*arrays))


def _is_swept(branch: Branch) -> bool:
    return isinstance(branch.value, xr.Variable) or isinstance(branch.loss, xr.Variable)


def effective(branch: Branch) -> Any:
    """Value of a branch; a lossy capacitor is C (1 - j tan delta)."""
    if branch.kind == "C" and not (isinstance(branch.loss, (int, float)) and branch.loss == 0):
        return branch.value * (1 - 1j * branch.loss)
    return branch.value


def _aligned(value: xr.Variable, order: Sequence[str]) -> np.ndarray:
    """Values with one axis for each dimension, of size 1 where they do not depend on it."""
    own = value.transpose(*[dim for dim in order if dim in value.dims])
    return own.values.reshape([own.sizes.get(dim, 1) for dim in order])


@dataclass(frozen=True)
class Task:
    """One netlist's work on arrays of its swept values. Calling it does the work."""

    dtype: ClassVar[type] = complex

    net: Netlist
    output: str
    frequency: np.ndarray
    volts: Mapping[str, complex] | None
    names: tuple[str, ...]

    def __call__(self, *arrays: np.ndarray) -> np.ndarray:
        shape = np.broadcast_shapes(*(np.shape(array) for array in arrays))
        count = int(np.prod(shape))
        swept = {
            name: np.broadcast_to(array, shape).reshape(count)
            for name, array in zip(self.names, arrays, strict=True)
        }
        result = np.empty((count, self.frequency.size), dtype=complex)
        for constant in np.unique(self.frequency == 0):
            at = np.flatnonzero((self.frequency == 0) == constant)
            whole = at.size == self.frequency.size
            part = result if whole else np.empty((count, at.size), dtype=complex)
            self._fill(part, self.frequency[at], swept)
            if not whole:
                result[:, at] = part
        return result.reshape((*shape, self.frequency.size))

    def _fill(
        self, result: np.ndarray, frequency: np.ndarray, swept: Mapping[str, np.ndarray]
    ) -> None:
        dc = not frequency[0]
        driven = self.volts is not None
        start = self._start(dc)
        states = {
            branch.name: states_of(branch, swept[branch.name], dc)
            for branch, _ in start.branches
            if branch.name in swept
        }
        for members, pattern in groups(states, len(result)):
            reduced = reduce(start.branches, pattern, start.ground, start.output, driven)
            if reduced.floating and not driven:
                result[members] = np.inf
            elif reduced.silent or reduced.output == reduced.ground:
                result[members] = 0
            else:
                own = {
                    branch.name: swept[branch.name][members]
                    for branch, _ in reduced.branches
                    if branch.name in swept
                }
                System(reduced, frequency, own, self.volts).evaluate(result, members)

    def _start(self, dc: bool) -> Reduced:
        """Leave out what does not matter whatever the swept values are."""
        fixed = {b.name: single_state(b, dc) for b in self.net if b.name not in self.names}
        driven = self.volts is not None
        return reduce(place(self.net), fixed, self.net.ground, self.output, driven)


def states_of(branch: Branch, values: np.ndarray, dc: bool) -> np.ndarray:
    """Which values of a swept branch are shorts, live or opens."""
    zero = values == 0
    if branch.kind == "R":
        return np.where(zero, SHORT, np.where(np.isinf(values), OPEN, LIVE))
    return np.where(zero | dc, SHORT if branch.kind == "L" else OPEN, LIVE)


def groups(
    states: Mapping[str, np.ndarray], count: int
) -> list[tuple[np.ndarray | slice, dict[str, int]]]:
    """Settings with the same pattern of shorts and opens, and the pattern."""
    varying = {name: state for name, state in states.items() if np.any(state != state[0])}
    pattern = {name: int(state[0]) for name, state in states.items() if name not in varying}
    if not varying:
        return [(slice(None), pattern)]
    table = np.stack(list(varying.values()))
    code = np.zeros(count, dtype=np.int64)
    for row in table:
        code = code * 3 + row
    found: list[tuple[np.ndarray | slice, dict[str, int]]] = []
    for value in np.unique(code):
        members = np.flatnonzero(code == value)
        own = {name: int(state) for name, state in zip(varying, table[:, members[0]], strict=True)}
        found.append((members, pattern | own))
    return found


class System:
    """The matrix of a reduced circuit, for one group of settings."""

    def __init__(
        self,
        reduced: Reduced,
        frequency: np.ndarray,
        swept: Mapping[str, np.ndarray],
        volts: Mapping[str, complex] | None,
    ) -> None:
        self.reduced = reduced
        self.s = 2j * np.pi * frequency
        self.volts = volts
        # A value that is the same for the whole group is no variable.
        varies = {name: bool(np.any(values != values.flat[0])) for name, values in swept.items()}
        self.variables = {name: values for name, values in swept.items() if varies[name]}
        self.constants = {
            name: values.flat[0] for name, values in swept.items() if not varies[name]
        }
        # Impedances are counted in this unit, so that matrix entries are near 1.
        ohms = [
            float(np.abs(np.max(self._value(branch))))
            for branch, _ in reduced.branches
            if branch.kind == "R"
        ]
        self.unit = float(np.exp(np.mean(np.log(ohms)))) if ohms else 1.0

    def _value(self, branch: Branch) -> Any:
        if branch.name in self.variables:
            return self.variables[branch.name]
        if branch.name in self.constants:
            return self.constants[branch.name]
        return effective(branch)

    def evaluate(self, result: np.ndarray, members: np.ndarray | slice) -> None:
        """Fill the rows of ``result`` that are this group's settings."""
        count = len(result) if isinstance(members, slice) else members.size
        if self._as_polynomials(count):
            self._polynomials(result, members, count)
        else:
            self._block_by_block(result, members, count)

    def _as_polynomials(self, count: int) -> bool:
        """Tell whether polynomials are possible, and worth it for so many settings."""
        # A mutual inductance is no single entry of the diagonal, so not one linear variable.
        coupled = {
            name for b, _ in self.reduced.branches for name in (b.name, *b.between) if b.between
        }
        few = 2 ** len(self.variables) > 2 * count
        return len(self.variables) <= _MOST and not few and not coupled & set(self.variables)

    # -- as polynomials in the swept values ---------------------------------------------------

    def _polynomials(self, result: np.ndarray, members: np.ndarray | slice, count: int) -> None:
        scaled, above, numerator, below, denominator = self._fractions()
        if not above:
            result[members] = 0
            return
        products = _products(scaled, count)
        above_x = np.ascontiguousarray(products[:, above])
        below_x = np.ascontiguousarray(products[:, below])
        for first in range(0, count, _BLOCK):
            block = slice(first, first + _BLOCK)
            over = _times(above_x[block], numerator)
            under = _times(below_x[block], denominator)
            if isinstance(members, slice):
                np.divide(over, under, out=result[block])
            else:
                result[members[block]] = np.divide(over, under, out=over)

    def _fractions(
        self,
    ) -> tuple[list[np.ndarray], list[int], np.ndarray, list[int], np.ndarray]:
        """Scaled variables, and bit masks and coefficients of the numerator and denominator."""
        matrix = Matrix()
        scaled: list[np.ndarray] = []
        keys: list[Any] = []
        for branch, nodes in self.reduced.branches:
            if branch.name in self.variables:
                x, gain = self._variable(branch)
                key = "current", branch.name
                stamp_branch(matrix, key, nodes, self.reduced.ground, 0.0, gain)
                matrix.rows.setdefault(key, {})
                scaled.append(x)
                keys.append(key)
            else:
                self._stamp_fixed(matrix, branch, nodes, self._value(branch))
        self._stamp_border(matrix)
        rows, columns = schur_complement(matrix, [*keys, OUT], [*keys, DRIVE])
        pairs = [*((key, key) for key in keys), (OUT, DRIVE)]
        fixed = list(zip(rows, columns, strict=True))
        found = without_rounding(matrix, pairs, fixed, minors(matrix, pairs, fixed))
        border = 1 << len(keys)  # left out of the denominator
        above = {mask: value for mask, value in found.items() if not mask & border}
        below = {mask ^ border: value for mask, value in found.items() if mask & border}
        if not below:
            raise self._singular()
        numerator, denominator = self._coefficients(above, -1.0), self._coefficients(below, 1.0)
        return scaled, list(above), numerator, list(below), denominator

    def _variable(self, branch: Branch) -> tuple[np.ndarray, Any]:
        """Scale a swept branch to v = x u with x up to 1; its current is gain times u."""
        values = self.variables[branch.name]
        if branch.kind == "C":
            least = values.flat[np.argmin(np.abs(values))]
            return least / values, self.unit * least * self.s
        most = values.flat[np.argmax(np.abs(values))]
        if branch.kind == "L":
            return values / most, self.unit / (self.s * most)
        return values / most, self.unit / most

    def _coefficients(self, found: Mapping[int, Any], sign: float) -> np.ndarray:
        """Stack minors into rows over frequency, each with the sign of its monomial."""
        rows = np.empty((len(found), self.s.size), dtype=complex)
        for row, (mask, value) in zip(rows, found.items(), strict=True):
            row[:] = value * (-sign if mask.bit_count() % 2 else sign)
        return rows

    # -- block by block -----------------------------------------------------------------------

    def _block_by_block(self, result: np.ndarray, members: np.ndarray | slice, count: int) -> None:
        rows = np.arange(count) if isinstance(members, slice) else members
        step = max(1, 65536 // self.s.size)
        for first in range(0, count, step):
            block = slice(first, first + step)
            matrix = Matrix()
            for branch, nodes in self.reduced.branches:
                value = self._value(branch)
                if branch.name in self.variables:
                    value = value[block, None]
                self._stamp_fixed(matrix, branch, nodes, value)
            self._stamp_border(matrix)
            left_rows, left_columns = schur_complement(matrix, [OUT], [DRIVE])
            shape = len(rows[block]), self.s.size
            result[rows[block]] = self._last_step(matrix, left_rows, left_columns, shape)

    def _last_step(
        self, matrix: Matrix, rows: list[Any], columns: list[Any], shape: tuple[int, int]
    ) -> np.ndarray:
        """Solve what no pivot served everywhere with row exchanges for each point."""
        direct = -np.broadcast_to(matrix.get(OUT, DRIVE), shape)
        if not rows:
            return direct
        size = len(rows)
        inner = np.zeros((*shape, size, size), dtype=complex)
        drive = np.zeros((*shape, size, 1), dtype=complex)
        out = np.zeros((*shape, 1, size), dtype=complex)
        for i, row in enumerate(rows):
            drive[..., i, 0] = matrix.get(row, DRIVE)
            for j, column in enumerate(columns):
                inner[..., i, j] = matrix.get(row, column)
        for j, column in enumerate(columns):
            out[..., 0, j] = matrix.get(OUT, column)
        try:
            return direct + (out @ np.linalg.solve(inner, drive))[..., 0, 0]
        except np.linalg.LinAlgError:
            raise self._singular() from None

    def _singular(self) -> NoSolution:
        names = ", ".join(branch.name for branch, _ in self.reduced.branches[:6])
        return NoSolution(
            "circuit",
            f"has no unique answer around {names}",
            "look for sources in parallel or a lossless resonance exactly at a frequency",
        )

    # -- stamps -------------------------------------------------------------------------------

    def _stamp_fixed(
        self, matrix: Matrix, branch: Branch, nodes: tuple[str, ...], value: Any
    ) -> None:
        ground = self.reduced.ground
        if branch.kind == "M":
            henries = self.s * value / self.unit
            one, other = (("current", name) for name in branch.between)
            matrix.add(one, other, -henries)
            matrix.add(other, one, -henries)
            return
        if branch.kind == "C":
            admittance = self.unit * value * self.s
            for a, b, sign in ((0, 0, 1.0), (1, 1, 1.0), (0, 1, -1.0), (1, 0, -1.0)):
                if ground not in (nodes[a], nodes[b]):
                    matrix.add(nodes[a], nodes[b], sign * admittance)
            return
        ohms: Any = 0.0
        if branch.kind == "R":
            ohms = value / self.unit
        elif branch.kind == "L":
            ohms = self.s * value / self.unit
        elif branch.kind == "Z":
            ohms = np.asarray(branch.value(self.s.imag / (2 * np.pi)), dtype=complex) / self.unit
        key = "current", branch.name
        stamp_branch(matrix, key, nodes[:2], ground, ohms, 1.0)
        if branch.kind == "V":
            assert self.volts is not None
            matrix.add(key, DRIVE, self.volts.get(branch.name, 0.0))
        elif branch.kind == "E":
            for node, sign in zip(nodes[2:], (-1.0, 1.0), strict=True):
                if node != ground:
                    matrix.add(key, node, sign)

    def _stamp_border(self, matrix: Matrix) -> None:
        matrix.add(OUT, self.reduced.output, 1.0)
        matrix.columns.setdefault(DRIVE, set())
        if self.volts is None:  # 1 A into the output
            matrix.add(self.reduced.output, DRIVE, self.unit)


def stamp_branch(
    matrix: Matrix, key: Any, nodes: tuple[str, ...], ground: str, ohms: Any, gain: Any
) -> None:
    """Write v(a) - v(b) - ohms i = 0 and the current gain times i that leaves a for b."""
    for node, sign in zip(nodes, (1.0, -1.0), strict=True):
        if node != ground:
            matrix.add(key, node, sign)
            matrix.add(node, key, sign * gain)
    if isinstance(ohms, np.ndarray) or ohms != 0:
        matrix.add(key, key, -ohms)


def _products(scaled: Sequence[np.ndarray], count: int) -> np.ndarray:
    """Every product of the swept values, by bit mask."""
    products = np.ones((count, 1))
    for x in scaled:
        products = np.concatenate([products, products * x[:, None]], axis=1)
    return products


def _times(products: np.ndarray, coefficients: np.ndarray) -> np.ndarray:
    """Matrix product; a real left side is multiplied as real numbers."""
    if np.iscomplexobj(products):
        return products @ coefficients
    return (products @ coefficients.view(float)).view(complex)
