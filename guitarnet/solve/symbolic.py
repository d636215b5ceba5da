"""Exact transfer functions of a netlist, as polynomials in s.

Resistors and inductors are branches v = z i and capacitors are admittances, so that every entry
of the matrix is a polynomial in s and in the letters, and both determinants are found without
division. This module loads sympy: import it where it is used.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Hashable, Mapping
from typing import Any

import mpmath
import numpy as np
import sympy
from sympy.polys.matrices import DomainMatrix

from ..circuit.netlist import Branch, Netlist
from ..errors import NoSolution, NotExpressible
from .structure import Reduced, settle

__all__ = ["S", "exact", "expression", "letters", "low_frequency_limit", "roots", "transfer"]

S = sympy.Symbol("s")
"""The complex frequency, j w on the imaginary axis."""

_DIGITS = 40  # of the roots while they are sought; double precision is what is returned
_LETTERS = {
    "ohm": "R",
    "H": "L",
    "F": "C",
    "Hz": "f",
    "m": "l",
    "ohm/m": "r",
    "F/m": "c",
    "ohm m": "rho",
    "fraction": "k",
}
_SAID_BY_LETTER = re.compile(
    r"_?(resistance|inductance|capacitance|frequency|length|share|track)(_per_metre)?$"
)


def letters(units: Mapping[str, str]) -> dict[str, sympy.Symbol]:
    """Give each quantity a symbol of its own, positive and with a name that reads well.

    Parameters
    ----------
    units : mapping of str to str
        Path of each quantity, such as "pickup.inductance", and its unit.

    Returns
    -------
    dict of str to sympy.Symbol
        ``L_pickup``, ``R_amp_grid``, ``t_volume`` for a track fraction; a number is added where
        two names would be one.
    """
    taken: dict[str, sympy.Symbol] = {}
    named: dict[str, sympy.Symbol] = {}
    for path, unit in units.items():
        *owner, field = path.split(".")
        letter = "t" if field == "track" else _LETTERS.get(unit, "x")
        words = [letter, *owner, _SAID_BY_LETTER.sub("", field)]
        name = first = "_".join(word for word in words if word)
        number = 1
        while name in taken:
            number += 1
            name = f"{first}_{number}"
        taken[name] = named[path] = sympy.Symbol(name, positive=True)
    return named


def exact(value: Any) -> Any:
    """Turn a number into the rational that its decimal says, also inside an expression."""
    if value is sympy.zoo:  # one over zero, which is an open
        return sympy.oo
    if isinstance(value, sympy.Basic):
        return value.xreplace({number: exact(float(number)) for number in value.atoms(sympy.Float)})
    if math.isinf(value):
        return sympy.oo
    return sympy.Rational(repr(float(value)))


def transfer(net: Netlist, output: str) -> tuple[sympy.Poly, sympy.Poly]:
    """Numerator and denominator of a node's voltage, every source at 1 V.

    Parameters
    ----------
    net : Netlist
        The circuit; its values are single numbers and expressions of letters.
    output : str
        Node.

    Returns
    -------
    numerator, denominator : sympy.Poly
        Polynomials in s without a common factor; 0 and 1 where nothing reaches the node.

    Raises
    ------
    NotExpressible
        If a branch in the way is no rational function of s.
    NoSolution
        If the circuit has no unique answer.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("R", "in", "out", sympy.Symbol("R"))
    >>> net.capacitor("C", "out", "0", sympy.Symbol("C"))
    >>> expression(*transfer(net, "out"))
    1/(C*R*s + 1)
    """
    reduced, _ = settle(_in_rationals(net), output)
    if reduced.silent:
        return sympy.Poly(0, S), sympy.Poly(1, S)
    for branch, _ in reduced.branches:
        _refuse_inexpressible(branch)
    system = _System(reduced)
    numerator, denominator = system.solve()
    return sympy.Poly(numerator.as_expr(), S), sympy.Poly(denominator.as_expr(), S)


def expression(numerator: sympy.Poly, denominator: sympy.Poly) -> sympy.Expr:
    """Write a ratio of polynomials as one expression, both in powers of s."""
    return numerator.as_expr() / denominator.as_expr()


def low_frequency_limit(numerator: sympy.Poly, denominator: sympy.Poly) -> sympy.Expr:
    """Limit at s -> 0 of a ratio of polynomials without a common factor."""
    below = denominator.nth(0)
    return numerator.nth(0) / below if below != 0 else sympy.zoo


def roots(polynomial: sympy.Poly) -> np.ndarray:
    """Roots of a polynomial in s with rational coefficients, as s / (2 pi).

    Parameters
    ----------
    polynomial : sympy.Poly
        The polynomial.

    Returns
    -------
    numpy.ndarray
        Complex frequencies [Hz], each as often as it counts, slowest first and a conjugate
        pair with its negative imaginary part first.
    """
    if polynomial.degree() < 1:
        return np.zeros(0, dtype=complex)
    found: list[complex] = []
    # A factor free of squares has simple roots, which are found to full precision.
    for factor, times in polynomial.sqf_list()[1]:
        found += [root for root in _simple_roots(factor) for _ in range(times)]
    return np.array(sorted(found, key=lambda root: (abs(root), root.imag)), dtype=complex)


def _simple_roots(factor: sympy.Poly) -> list[complex]:
    coefficients = [sympy.Rational(value) for value in factor.all_coeffs()]
    with mpmath.workdps(_DIGITS):
        values = [mpmath.mpf(int(value.p)) / int(value.q) for value in coefficients]
        degree = len(values) - 1
        if values[-1] == 0:
            # Simple roots: s = 0 is one of them, once.
            return [0j, *_simple_roots(sympy.Poly(coefficients[:-1], S))] if degree > 1 else [0j]
        # Counted in the geometric mean of the roots, the outer coefficients are of one size.
        scale = mpmath.root(abs(values[-1] / values[0]), degree)
        scaled = [value / values[0] / scale**power for power, value in enumerate(values)]
        found = mpmath.polyroots(scaled, maxsteps=500, extraprec=4 * _DIGITS)
        return [complex(root * scale / (2 * mpmath.pi)) for root in found]


def _in_rationals(net: Netlist) -> Netlist:
    made = Netlist(net.ground)
    for branch in net:
        passive = branch.kind in "RLC"
        made.add(dataclasses.replace(branch, value=exact(branch.value)) if passive else branch)
    return made


def _refuse_inexpressible(branch: Branch) -> None:
    if branch.kind == "Z":
        raise NotExpressible(
            branch.name,
            "is a table or function of frequency, which no formula in s states",
            "model it with resistors, inductors and capacitors",
        )
    if branch.kind == "C" and branch.loss != 0:
        raise NotExpressible(
            branch.name,
            "loses the same share at every frequency (dissipation factor), which no formula in s "
            "states",
            "set dissipation_factor to 0, and give series_resistance or parallel_resistance",
        )


class _System:
    """The matrix of a reduced circuit, with entries in a ring of polynomials."""

    def __init__(self, reduced: Reduced) -> None:
        self.reduced = reduced
        fractions = {
            branch.name: sympy.fraction(sympy.together(branch.value))
            for branch, _ in reduced.branches
            if branch.kind in "RLC"
        }
        free = {symbol for pair in fractions.values() for side in pair for symbol in side.free_symbols}
        # The order of the letters must not depend on the run.
        self.domain = sympy.QQ[(S, *sorted(free, key=str))]
        self.rows: dict[Hashable, dict[Hashable, Any]] = {}
        self.drive: dict[Hashable, Any] = {}
        for branch, nodes in reduced.branches:
            if branch.kind in "RLC":
                above, below = map(self.domain.from_sympy, fractions[branch.name])
                self._stamp_passive(branch, nodes, above, below)
            else:
                self._stamp_source(branch, nodes)

    def _add(self, row: Hashable, column: Hashable, value: Any) -> None:
        if self.reduced.ground not in (row, column):
            entries = self.rows.setdefault(row, {})
            entries[column] = entries.get(column, self.domain.zero) + value

    def _stamp_passive(self, branch: Branch, nodes: tuple[str, ...], above: Any, below: Any) -> None:
        s, one = self.domain.from_sympy(S), self.domain.one
        a, b = nodes
        if branch.kind == "C" and below == one:
            for row, column, sign in ((a, a, one), (b, b, one), (a, b, -one), (b, a, -one)):
                self._add(row, column, sign * s * above)
        elif branch.kind == "C":
            self._stamp_branch(branch, nodes, s * above, below)
        else:
            self._stamp_branch(branch, nodes, below, above * (s if branch.kind == "L" else one))

    def _stamp_source(self, branch: Branch, nodes: tuple[str, ...]) -> None:
        one = self.domain.one
        key = self._stamp_branch(branch, nodes[:2], one, self.domain.zero)
        if branch.kind == "V":
            self.drive[key] = one
        else:
            self._add(key, nodes[2], -one)
            self._add(key, nodes[3], one)

    def _stamp_branch(
        self, branch: Branch, nodes: tuple[str, ...], volts: Any, amperes: Any
    ) -> Hashable:
        """Write volts (v(a) - v(b)) - amperes i = 0 and the current i that leaves a for b."""
        key = "current", branch.name
        for node, sign in zip(nodes, (self.domain.one, -self.domain.one), strict=True):
            self._add(key, node, sign * volts)
            self._add(node, key, sign)
        self._add(key, key, -amperes)
        return key

    def solve(self) -> tuple[Any, Any]:
        """Numerator and denominator of the output's voltage, by Cramer's rule."""
        keys = list(self.rows)
        denominator = self._determinant(keys, None)
        if denominator == 0:
            names = ", ".join(branch.name for branch, _ in self.reduced.branches[:6])
            raise NoSolution(
                "circuit", f"has no unique answer around {names}", "look for sources in parallel"
            )
        numerator = self._determinant(keys, self.reduced.output)
        return numerator.cancel(denominator)

    def _determinant(self, keys: list[Hashable], driven: Hashable | None) -> Any:
        """Determinant with the drive in place of one column."""
        place = {key: index for index, key in enumerate(keys)}
        entries: dict[int, dict[int, Any]] = {}
        for row in keys:
            filled = {
                place[column]: value
                for column, value in self.rows[row].items()
                if value and column != driven
            }
            if driven is not None and row in self.drive:
                filled[place[driven]] = self.drive[row]
            entries[place[row]] = filled
        shape = len(keys), len(keys)
        return DomainMatrix(entries, shape, self.domain).det()
