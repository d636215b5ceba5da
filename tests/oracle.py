"""A slow, plain solver to check the fast one: one setting, one frequency at a time.

The whole tableau, written down by hand: every voltage and every current is an unknown, every law
a row, solved by Gaussian elimination in extended precision, or in 50 digits by mpmath where values
lie many decades apart. Nothing is shared with the package but the list of branches.
"""

from __future__ import annotations

import cmath
import contextlib
import itertools
import math
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from guitarnet.circuit.netlist import Branch, Netlist

__all__ = ["NoUniqueAnswer", "fifty_digits", "impedance", "single_settings", "voltage"]

_WIDE: Callable[[Any], Any] = np.clongdouble
_KIND: Any = np.clongdouble


@contextlib.contextmanager
def fifty_digits() -> Iterator[None]:
    """Calculate in 50 digits, a thousand times slower."""
    import mpmath

    global _WIDE, _KIND
    usual = _WIDE, _KIND
    with mpmath.workdps(50):
        _WIDE, _KIND = mpmath.mpc, object
        try:
            yield
        finally:
            _WIDE, _KIND = usual


class NoUniqueAnswer(ArithmeticError):
    """An ideal source is shorted, or the laws leave a voltage undefined."""


def single_settings(net: Netlist) -> Iterator[tuple[dict[str, int], Netlist]]:
    """Take a swept netlist apart: one netlist of plain numbers for each setting."""
    sizes = net.dims()
    for place in itertools.product(*(range(size) for size in sizes.values())):
        at = dict(zip(sizes, place, strict=True))
        single = Netlist(net.ground)
        for branch in net:
            value, loss = (_pick(held, at) for held in (branch.value, branch.loss))
            single.add(Branch(branch.name, branch.kind, branch.nodes, value, loss, branch.between))
        yield at, single


def _pick(held, at):
    if not hasattr(held, "dims"):
        return held
    return float(held.isel({dim: at[dim] for dim in held.dims}).values)


def voltage(net: Netlist, output: str, frequency: float) -> complex:
    """Volts at a node with every source at 1 V; 0 where the node floats."""
    return _solve(net, output, frequency, amperes=0.0)


def impedance(net: Netlist, output: str, frequency: float) -> complex:
    """Ohms from a node to ground with every source at rest; infinite where no current flows."""
    return _solve(net, output, frequency, amperes=1.0)


def _solve(net: Netlist, output: str, frequency: float, amperes: float) -> complex:
    joined: list[set[str]] = [{node} for node in {*net.nodes(), net.ground, output}]
    links = []
    for branch in net:
        if branch.kind == "M":
            continue
        ohms = 0.0 if branch.kind == "V" and amperes else _ohms(branch, frequency)
        if ohms == 0:
            joined = _join(joined, *branch.nodes)
        else:
            links.append((branch, ohms))
    number = {node: index for index, group in enumerate(joined) for node in group}
    ground, out = number[net.ground], number[output]
    if out not in _with_a_path(links, number, ground):
        return complex(math.inf) if amperes else 0j
    if out == ground:
        return 0j
    alive, tied = _with_coupled_islands(net, links, number, ground)
    number = {node: ground if index in tied else index for node, index in number.items()}
    row_of = {node: row for row, node in enumerate(sorted(alive - tied - {ground}))}
    carrying = [
        (branch, ohms)
        for branch, ohms in links
        if {number[node] for node in branch.nodes} <= alive
        and (branch.kind in "VE" or not cmath.isinf(ohms))
    ]
    size = len(row_of) + len(carrying)
    matrix, right = _zeros((size, size)), _zeros(size)
    for row, (branch, ohms) in enumerate(carrying, start=len(row_of)):
        for node, sign in zip(branch.nodes, (1, -1, -1, 1), strict=False):
            if number[node] != ground:
                matrix[row, row_of[number[node]]] += sign  # law of the branch
        for node, sign in zip(branch.nodes[:2], (1, -1), strict=True):
            if number[node] != ground:
                matrix[row_of[number[node]], row] += sign  # currents of the node
        if branch.kind not in "VE":
            matrix[row, row] -= ohms
        right[row] = branch.value if branch.kind == "V" and not amperes else 0
    rows = {branch.name: row for row, (branch, _) in enumerate(carrying, start=len(row_of))}
    for branch in net:
        if branch.kind == "M" and rows.keys() >= set(branch.between):
            one, other = (rows[name] for name in branch.between)
            matrix[one, other] -= 2j * math.pi * frequency * branch.value
            matrix[other, one] -= 2j * math.pi * frequency * branch.value
    right[row_of[out]] += amperes
    return complex(_eliminate(matrix, right)[row_of[out]])


def _ohms(branch: Branch, frequency: float):
    """Impedance of a passive branch, wide; a source's is no number."""
    w = _WIDE(2j * math.pi * frequency)
    if branch.kind == "R":
        return _WIDE(branch.value)
    if branch.kind == "L":
        return w * branch.value
    if branch.kind == "C":
        admittance = w * branch.value * (1 - 1j * branch.loss)
        return _WIDE(1) / admittance if admittance != 0 else _WIDE(math.inf)
    if branch.kind == "Z":
        return _WIDE(complex(np.ravel(branch.value(np.array([frequency])))[0]))
    return _WIDE(math.nan)


def _join(groups: list[set[str]], a: str, b: str) -> list[set[str]]:
    both = [group for group in groups if a in group or b in group]
    return [group for group in groups if group not in both] + [set().union(*both)]


def _with_a_path(links, number: dict[str, int], ground: int) -> set[int]:
    """Nodes from which current can reach ground."""
    alive = {ground}
    grown = True
    while grown:
        grown = False
        for branch, ohms in links:
            ends = {number[node] for node in branch.nodes[:2]}
            carries = branch.kind in "VE" or not cmath.isinf(ohms)
            if carries and alive & ends and not ends <= alive:
                alive |= ends
                grown = True
    return alive


def _with_coupled_islands(net, links, number, ground: int) -> tuple[set[int], set[int]]:
    """Nodes that matter, and one of each island that only a coupling reaches: it counts as ground.

    No current flows through that one tie.
    """
    alive, tied = _with_a_path(links, number, ground), set()
    ends = {branch.name: number[branch.nodes[0]] for branch, _ in links}
    there = [b.between for b in net if b.kind == "M" and ends.keys() >= set(b.between)]
    grown = True
    while grown:
        grown = False
        for pair in there:
            one, other = sorted((ends[name] for name in pair), key=lambda end: end not in alive)
            if one in alive and other not in alive:
                tied.add(other)
                alive |= _with_a_path(links, number, other)
                grown = True
    return alive, tied


def _zeros(shape) -> np.ndarray:
    return np.full(shape, _WIDE(0), dtype=_KIND)


def _eliminate(matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    size = len(right)
    table = np.concatenate([matrix, right[:, None]], axis=1)
    # Rows differ by many decades: scale before choosing pivots.
    largest = np.abs(matrix).max(axis=1)
    if not largest.all():
        raise NoUniqueAnswer  # a source with both ends on one node
    table /= largest[:, None]
    for column in range(size):
        best = column + int(np.argmax(np.abs(table[column:, column])))
        table[[column, best]] = table[[best, column]]
        if table[column, column] == 0:
            raise NoUniqueAnswer
        below = column + 1 + np.flatnonzero(table[column + 1 :, column])
        factors = table[below, column] / table[column, column]
        table[below, column:] -= factors[:, None] * table[column, column:]
    answer = _zeros(size)
    for row in range(size - 1, -1, -1):
        rest = table[row, row + 1 : size] @ answer[row + 1 :]
        answer[row] = (table[row, size] - rest) / table[row, row]
    return answer
