"""How a voltage changes with every branch of a netlist, exact and all at once.

One solve with the sources and one of the transposed system with the output give the derivative
with respect to every branch.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..circuit.netlist import Branch, Netlist
from ..errors import NoSolution
from .elimination import Matrix
from .structure import settle
from .tree import DRIVE, OUT, effective, equations, middle, span, spanning_tree, units_of

__all__ = ["branch_derivatives"]


def branch_derivatives(
    net: Netlist, output: str, frequency: np.ndarray
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Voltage from a node to ground, and its derivative with respect to every branch.

    Parameters
    ----------
    net : Netlist
        The circuit, single numbers as values.
    output : str
        Node.
    frequency : numpy.ndarray
        Frequencies [Hz], above 0.

    Returns
    -------
    volts : numpy.ndarray
        Complex volts over frequency.
    derivatives : dict of str to numpy.ndarray
        Complex volts per ohm, henry or farad over frequency, by branch; of a lossy capacitor,
        per farad of C (1 - j tan delta). What is a short or an open, or does not reach the
        output, is not listed.

    Raises
    ------
    NoSolution
        If an ideal source is shorted, or the circuit has no unique answer.

    Notes
    -----
    With A x = b and v = c'x, a change dA of the matrix changes v by -w' dA x, where A'w = c is
    the adjoint system.

    References
    ----------
    S. W. Director, R. A. Rohrer, The generalized adjoint network and network sensitivities,
    IEEE Transactions on Circuit Theory 16 (1969) 318-323, doi:10.1109/TCT.1969.1082965.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("upper", "in", "out", 3.0)
    >>> net.resistor("lower", "out", "0", 1.0)
    >>> volts, by = branch_derivatives(net, "out", np.array([1000.0]))
    >>> {name: float(value[0].real.round(4)) for name, value in by.items()}
    {'upper': -0.0625, 'lower': 0.1875}
    """
    reduced, _ = settle(net, output)
    if reduced.silent:
        return np.zeros(frequency.size, complex), {}
    volts = {name: net.branches[name].value for name in net.sources()}
    ends = float(frequency.min()), float(frequency.max())
    values = {
        b.name: np.asarray(b.value(frequency), complex) if b.kind == "Z" else effective(b)
        for b, _ in reduced.branches
    }
    spans = {b.name: span(b, values[b.name], ends) for b, _ in reduced.branches if b.kind in "RLCZ"}
    weights = {name: round(middle(own), 6) for name, own in spans.items()}
    tree = spanning_tree(reduced.branches, reduced.ground, weights)
    if tree is None:
        raise _no_unique_answer()
    units, s = units_of(spans), 2j * np.pi * frequency
    matrix = equations(reduced, tree, units, values, s, volts)
    x, w = _both_ways(matrix, frequency.size)
    output = sum(value * x[name] for name, value in matrix.rows[OUT].items() if name != DRIVE)

    def current(name: str) -> Any:
        """Amperes through a branch."""
        if name in tree.loops:
            return x[name] / units[name]
        own = [(link, loop[name]) for link, loop in tree.loops.items() if name in loop]
        return sum((-sign * x[link] / units[link] for link, sign in own), 0.0 * s)

    def weight(branch: Branch) -> Any:
        """Volts at the output per volt in series with a branch."""
        if branch.name in tree.branches:
            return w[branch.name] / units[branch.name]
        value = values[branch.name]
        y = {"C": s * value, "L": 1 / (s * value)}.get(branch.kind, 1 / value)
        return -w[branch.name] * units[branch.name] * y

    found = {}
    for branch, _ in reduced.branches:
        name = branch.name
        if branch.kind == "M":
            one, other = (net.branches[coil] for coil in branch.between)
            product = weight(one) * current(other.name) + weight(other) * current(one.name)
            found[name] = product * s
        elif branch.kind in "RLC":
            slope = {"R": 1.0, "L": s}.get(
                branch.kind, -1 / (s * values[name] ** 2)
            )  # of the impedance
            found[name] = weight(branch) * current(name) * slope
    return output - matrix.get(OUT, DRIVE) + 0.0 * s, found


def _both_ways(
    matrix: Matrix, size: int
) -> tuple[dict[object, np.ndarray], dict[object, np.ndarray]]:
    """Solve the system for its sources, and its transpose for the output; by key."""
    rows = [row for row in matrix.rows if row != OUT]
    columns = [column for column in matrix.columns if column != DRIVE]
    dense = np.empty((size, len(rows), len(columns)), dtype=complex)
    drive, out = np.empty((2, size, len(rows)), dtype=complex)
    for i, row in enumerate(rows):
        drive[:, i] = matrix.get(row, DRIVE)
        for j, column in enumerate(columns):
            dense[:, i, j] = matrix.get(row, column)
    for j, column in enumerate(columns):
        out[:, j] = matrix.get(OUT, column)
    try:
        forward = np.linalg.solve(dense, drive[..., None])[..., 0]
        backward = np.linalg.solve(dense.transpose(0, 2, 1), out[..., None])[..., 0]
    except np.linalg.LinAlgError:
        raise _no_unique_answer() from None
    return (
        {column: forward[:, j] for j, column in enumerate(columns)},
        {row: backward[:, i] for i, row in enumerate(rows)},
    )


def _no_unique_answer() -> NoSolution:
    return NoSolution(
        "circuit",
        "has no unique answer at one of the frequencies",
        "look for sources in parallel or a lossless resonance exactly at a frequency",
    )
