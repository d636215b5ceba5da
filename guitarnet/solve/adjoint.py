"""How a voltage changes with every branch of a netlist, exact and all at once.

One solve with the sources and one of the transposed system with the output give the derivative
with respect to every branch.
"""

from __future__ import annotations

import numpy as np

from ..circuit.netlist import Netlist
from ..errors import NoSolution
from .ac import DRIVE, OUT, System
from .elimination import Matrix
from .structure import settle

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
    system = System(reduced, frequency, {}, volts)
    matrix = Matrix()
    for branch, nodes in reduced.branches:
        system._stamp_fixed(matrix, branch, nodes, system._value(branch))
    system._stamp_border(matrix)
    x, w = _both_ways(matrix, frequency.size)
    ground = np.zeros(frequency.size, complex)

    def across(solution: dict[object, np.ndarray], nodes: tuple[str, ...]) -> np.ndarray:
        return solution.get(nodes[0], ground) - solution.get(nodes[1], ground)

    found = {}
    for branch, nodes in reduced.branches:
        key = "current", branch.name
        if branch.kind == "R":
            found[branch.name] = w[key] * x[key] / system.unit
        elif branch.kind == "L":
            found[branch.name] = w[key] * x[key] * system.s / system.unit
        elif branch.kind == "C":
            found[branch.name] = -across(w, nodes) * across(x, nodes) * system.s * system.unit
        elif branch.kind == "M":
            one, other = (("current", name) for name in branch.between)
            product = w[one] * x[other] + w[other] * x[one]
            found[branch.name] = product * system.s / system.unit
    return x[reduced.output], found


def _both_ways(
    matrix: Matrix, size: int
) -> tuple[dict[object, np.ndarray], dict[object, np.ndarray]]:
    """Solve the system for its sources, and its transpose for the output; by key."""
    rows = [row for row in matrix.rows if row != OUT]
    columns = [column for column in matrix.columns if column != DRIVE]
    dense = np.zeros((size, len(rows), len(columns)), dtype=complex)
    drive = np.zeros((size, len(rows), 1), dtype=complex)
    out = np.zeros((size, len(columns), 1), dtype=complex)
    for i, row in enumerate(rows):
        drive[:, i, 0] = matrix.get(row, DRIVE)
        for j, column in enumerate(columns):
            dense[:, i, j] = matrix.get(row, column)
    for j, column in enumerate(columns):
        out[:, j, 0] = matrix.get(OUT, column)
    try:
        forward = np.linalg.solve(dense, drive)[..., 0]
        backward = np.linalg.solve(dense.transpose(0, 2, 1), out)[..., 0]
    except np.linalg.LinAlgError:
        raise NoSolution(
            "circuit",
            "has no unique answer at one of the frequencies",
            "look for sources in parallel or a lossless resonance exactly at a frequency",
        ) from None
    return (
        {column: forward[:, j] for j, column in enumerate(columns)},
        {row: backward[:, i] for i, row in enumerate(rows)},
    )
