"""Sizes of voltages over large grids of settings, without their phases.

Most studies of many designs ask for levels alone. Where one dimension moves few of the swept
values (a knob's marks move the two halves of one track) the polynomials of `ac` are summed in two
steps: over what stays still along that dimension, once for each design; then over the few that
move. Sums, squares and root are taken block by block, so that they stay in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
import xarray as xr

from ..circuit.netlist import Netlist
from .ac import System, Task, groups, over_settings, states_of
from .structure import reduce

__all__ = ["node_size"]

_POINTS = 32768  # points evaluated at once: two blocks of them fill a megabyte

Members = np.ndarray | slice


def node_size(
    net: Netlist, output: str, frequency: np.ndarray, *, dims: Sequence[str] = ()
) -> xr.Variable:
    """Size of the voltage from a node to ground, driven by the netlist's sources.

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
        Volts, real; the absolute value of what `ac.node_voltage` gives.

    Raises
    ------
    NoSolution
        If an ideal source is shorted or the circuit has no unique answer.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("R", "in", "out", xr.Variable("design", [1e3, 2e3]))
    >>> net.capacitor("C", "out", "0", 1e-6)
    >>> node_size(net, "out", np.array([159.15494])).values[:, 0].round(4).tolist()
    [0.7071, 0.4472]
    """
    volts = {name: net.branches[name].value for name in net.sources()}
    return over_settings(_SizeTask, net, output, frequency, volts, dims)


@dataclass(frozen=True)
class _SizeTask(Task):
    """As its base; calling it gives sizes."""

    dtype: ClassVar[type] = float

    def __call__(self, *arrays: np.ndarray) -> np.ndarray:
        found = self._on_grid(arrays)
        return np.abs(super().__call__(*arrays)) if found is None else found

    def _on_grid(self, arrays: Sequence[np.ndarray]) -> np.ndarray | None:
        """Sizes by rows and columns; None where the general road must be taken."""
        shape = np.broadcast_shapes(*(np.shape(array) for array in arrays))
        padded = [np.reshape(a, (1,) * (len(shape) - np.ndim(a)) + np.shape(a)) for a in arrays]
        axis = _inner_axis(padded, shape)
        complex_values = any(np.iscomplexobj(array) for array in arrays)
        if axis is None or complex_values or (self.frequency == 0).any():
            return None
        rest = [size for place, size in enumerate(shape) if place != axis]
        count, columns = int(np.prod(rest)), shape[axis]
        tables = {
            name: _table(np.moveaxis(array, axis, -1), rest)
            for name, array in zip(self.names, padded, strict=True)
        }
        start = self._start(dc=False)
        along_rows, along_columns = {}, {}
        for branch, _ in start.branches:
            if branch.name in tables:
                states = states_of(branch, tables[branch.name], dc=False)
                if (states == states[:, :1]).all():
                    along_rows[branch.name] = np.broadcast_to(states[:, 0], count)
                elif (states == states[:1]).all():
                    along_columns[branch.name] = states[0]
                else:
                    return None
        result = np.empty((count, columns, self.frequency.size))
        for rows, by_row in groups(along_rows, count):
            for members, by_column in groups(along_columns, columns):
                pattern = by_row | by_column
                left = reduce(start.branches, pattern, start.ground, start.output, driven=True)
                at = rows if isinstance(rows, slice) else rows[:, None], members
                if left.silent or left.output == left.ground:
                    result[at] = 0
                    continue
                own = {
                    branch.name: _taken(tables[branch.name], rows, members)
                    for branch, _ in left.branches
                    if branch.name in tables
                }
                size = len(np.arange(count)[rows]), len(np.arange(columns)[members])
                _Grid(left, self.frequency, own, self.volts).fill(result, rows, members, size)
        return np.moveaxis(result.reshape((*rest, columns, -1)), -2, axis)


def _inner_axis(arrays: Sequence[np.ndarray], shape: Sequence[int]) -> int | None:
    """Axis along which sums are shortest; None where there is none."""
    swept = sum(array.size > 1 for array in arrays)
    cost = {
        axis: 2 ** sum(array.shape[axis] > 1 for array in arrays) + 2**swept / size
        for axis, size in enumerate(shape)
        if size > 1
    }
    return min(cost, key=lambda axis: cost[axis]) if cost else None


def _table(array: np.ndarray, rest: Sequence[int]) -> np.ndarray:
    """Values in rows and columns; one row or column where nothing changes along it."""
    columns = array.shape[-1]
    if array.size == columns:
        return array.reshape(1, columns)
    return np.broadcast_to(array, (*rest, columns)).reshape(-1, columns)


def _taken(table: np.ndarray, rows: Members, columns: Members) -> np.ndarray:
    if table.shape[0] > 1:
        table = table[rows]
    return table[:, columns] if table.shape[1] > 1 else table


class _Grid(System):
    """The matrix of a reduced circuit, for settings in rows and columns."""

    def fill(
        self, result: np.ndarray, rows: Members, columns: Members, size: tuple[int, int]
    ) -> None:
        """Fill the sizes of one group of rows and columns."""
        numbers = np.arange(len(result))[rows]
        step = max(1, _POINTS // (size[1] * self.s.size))
        polynomials = self._as_polynomials(size[0] * size[1])
        if polynomials:
            scaled, above, numerator, below, denominator = self._fractions()
            if not above:
                result[numbers[:, None], columns] = 0
                return
            over = _Polynomial(scaled, above, numerator)
            under = _Polynomial(scaled, below, denominator)
        for first in range(0, size[0], step):
            block = slice(first, first + step)
            number = numbers[block]
            if polynomials:
                found = over.squared(block, len(number), size[1])
                np.divide(found, under.squared(block, len(number), size[1]), out=found)
                np.sqrt(found, out=found)
            else:
                found = self._one_by_one(block, (len(number), size[1]))
            if isinstance(columns, slice):
                result[number] = found
            else:
                result[number[:, None], columns] = found

    def _one_by_one(self, block: slice, size: tuple[int, int]) -> np.ndarray:
        """Sizes of one block of rows by the general road."""
        swept = {
            name: np.broadcast_to(_taken(table, block, slice(None)), size).ravel()
            for name, table in {**self.variables, **_tables(self.constants)}.items()
        }
        volts = np.empty((size[0] * size[1], self.s.size), dtype=complex)
        frequency = self.s.imag / (2 * np.pi)
        System(self.reduced, frequency, swept, self.volts).evaluate(volts, slice(None))
        return np.abs(volts).reshape(*size, -1)


def _tables(constants: Mapping[str, Any]) -> dict[str, np.ndarray]:
    return {name: np.reshape(value, (1, 1)) for name, value in constants.items()}


class _Polynomial:
    """A polynomial, linear in each variable: values in rows and columns, coefficients complex.

    Parameters
    ----------
    scaled : sequence of numpy.ndarray
        Values of each variable, in rows and columns.
    masks : sequence of int
        Variables of each monomial, by bits.
    coefficients : numpy.ndarray
        Complex, a row over frequency for each monomial.
    """

    def __init__(
        self, scaled: Sequence[np.ndarray], masks: Sequence[int], coefficients: np.ndarray
    ) -> None:
        moving = sum(1 << i for i, values in enumerate(scaled) if values.shape[1] > 1)
        still: dict[int, list[int]] = {}  # monomials by the mask of what moves in them
        for place, mask in enumerate(masks):
            still.setdefault(mask & moving, []).append(place)
        # Real parts, then imaginary: squares and sums then run along whole stretches.
        parts = np.concatenate([coefficients.real, coefficients.imag], axis=1)
        self.coefficients = [parts[own] for own in still.values()]
        self.still = [
            _products(scaled, [masks[place] & ~moving for place in own])[:, 0]
            for own in still.values()
        ]
        self.moved = _products(scaled, list(still))

    def squared(self, block: slice, count: int, columns: int) -> np.ndarray:
        """Squared sizes of one block of rows: rows, columns, frequency."""
        width = self.coefficients[0].shape[1]
        still = np.empty((count, len(self.still), width))
        for place, (products, own) in enumerate(zip(self.still, self.coefficients, strict=True)):
            still[:, place] = (products[block] if len(products) > 1 else products) @ own
        moved = self.moved[block] if len(self.moved) > 1 else self.moved
        values = np.matmul(np.broadcast_to(moved, (len(moved), columns, moved.shape[2])), still)
        np.square(values, out=values)
        return np.add(values[..., : width // 2], values[..., width // 2 :])


def _products(scaled: Sequence[np.ndarray], masks: Sequence[int]) -> np.ndarray:
    """Products of variables: rows, columns, and one for each mask."""
    found = []
    for mask in masks:
        product = np.ones((1, 1))
        for place, values in enumerate(scaled):
            if mask >> place & 1:
                product = product * values
        found.append(product)
    return np.stack(np.broadcast_arrays(*found), axis=-1)
