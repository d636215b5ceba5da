"""Exact transfer functions of a netlist, as polynomials in s.

Resistors and inductors are branches v = z i and capacitors are admittances, so that every entry
of the matrix is a polynomial in s and in the values, and the determinants need no division. This
module loads sympy: import it where it is used.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..circuit.netlist import Branch, Netlist
from ..errors import BadSetting, NoSolution, a, needs
from ..ranking import ranked
from .elimination import Matrix, minors
from .structure import Reduced, refuse_inexpressible, settle

needs("sympy", "symbols")

import mpmath  # noqa: E402
import sympy  # noqa: E402
import sympy.polys.rings  # noqa: E402
from sympy.polys.matrices import DomainMatrix  # noqa: E402
from sympy.polys.matrices.exceptions import DMNonInvertibleMatrixError  # noqa: E402

__all__ = ["Ratio", "S", "exact", "letters", "read", "roots", "transfer"]

S = sympy.Symbol("s")
"""The complex frequency, j w on the imaginary axis."""

_OUT, _DRIVE = "output", "drive"  # the border of the matrix
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


def read(expression: Any) -> Ratio:
    """Take an expression in s apart.

    Parameters
    ----------
    expression : sympy.Expr
        A ratio of polynomials in s whose numbers are all given.

    Returns
    -------
    Ratio
        Two polynomials in s without a common factor.

    Raises
    ------
    BadSetting
        If it is no such expression.

    Examples
    --------
    >>> read(1 / (S**2 + 4)).denominator
    [1, 0, 4]
    """
    where, fix = "formula", "give what transfer_function() gave"
    if isinstance(expression, (int, float)) and not isinstance(expression, bool):
        expression = sympy.Float(expression)
    if not isinstance(expression, sympy.Expr):
        raise BadSetting(where, f"{a(type(expression))} is no guitar and no formula", fix)
    expression = exact(expression)
    if expression.has(sympy.oo, -sympy.oo, sympy.zoo, sympy.nan):
        raise BadSetting(where, "holds what is infinite or no number", fix)
    others = sorted(map(str, expression.free_symbols - {S}))
    if others:
        left = ", ".join(others[:6])
        raise BadSetting(
            where,
            f"still holds the letters {left}",
            f"give each a number, as formula.subs({{{others[0]}: ...}})",
        )
    above, below = sympy.fraction(sympy.cancel(sympy.together(expression)))
    try:
        rows = [sympy.Poly(side, S, domain="QQ").all_coeffs() for side in (above, below)]
    except sympy.polys.polyerrors.BasePolynomialError:
        raise BadSetting(where, "is no ratio of polynomials in s", fix) from None
    return Ratio(*rows)


def transfer(net: Netlist, output: str) -> Ratio:
    """Transfer function from the sources, each at 1 V, to a node.

    Parameters
    ----------
    net : Netlist
        The circuit; its values are single numbers and expressions of letters.
    output : str
        Node.

    Returns
    -------
    Ratio
        Two polynomials in s without a common factor; 0 and 1 where nothing reaches the node.

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
    >>> transfer(net, "out").expression()
    1/(C*R*s + 1)
    """
    reduced, _ = settle(_in_rationals(net), output)
    if reduced.silent:
        return Ratio((sympy.S.Zero,), (sympy.S.One,))
    for branch, _ in reduced.branches:
        refuse_inexpressible(branch, "a formula in s")
    return _System(reduced).solve()


@dataclass(frozen=True)
class Ratio:
    """A ratio of two polynomials in s, without a common factor.

    Parameters
    ----------
    numerator, denominator : tuple of sympy.Expr
        Coefficients, the highest power first.
    """

    numerator: tuple[sympy.Expr, ...]
    denominator: tuple[sympy.Expr, ...]

    def expression(self) -> sympy.Expr:
        """Write the ratio as one expression, both polynomials in powers of s."""
        return _in_powers(self.numerator) / _in_powers(self.denominator)

    def low_frequency_limit(self) -> sympy.Expr:
        """Limit at s -> 0."""
        below = self.denominator[-1]
        return self.numerator[-1] / below if below != 0 else sympy.zoo


def _in_powers(coefficients: tuple[sympy.Expr, ...]) -> sympy.Expr:
    top = len(coefficients) - 1
    return sympy.Add(*(value * S ** (top - n) for n, value in enumerate(coefficients)))


def roots(coefficients: Sequence[sympy.Expr]) -> np.ndarray:
    """Roots of a polynomial in s with rational coefficients, as s / (2 pi).

    Parameters
    ----------
    coefficients : sequence of sympy.Expr
        The highest power first.

    Returns
    -------
    numpy.ndarray
        Complex frequencies [Hz], each as often as it counts, the smallest magnitude first and
        of a conjugate pair the one with the negative imaginary part.

    Examples
    --------
    >>> (roots([1, 200, 10000]) * 2 * np.pi).round(9).tolist()
    [(-100+0j), (-100+0j)]
    """
    polynomial = sympy.Poly(coefficients, S, domain="QQ")
    if polynomial.degree() < 1:
        return np.zeros(0, dtype=complex)
    found: list[complex] = []
    # A factor free of squares has simple roots, which are found to full precision; it is monic.
    for factor, times in polynomial.sqf_list()[1]:
        found += [root for root in _simple_roots(factor.all_coeffs()) for _ in range(times)]
    rank = ranked(found, abs, lambda root: root.imag, floor=0.0)
    return np.array(rank, dtype=complex)


def _simple_roots(coefficients: Sequence[sympy.Rational]) -> list[complex]:
    degree = len(coefficients) - 1
    if degree == 0:
        return []
    if coefficients[-1] == 0:
        return [0j, *_simple_roots(coefficients[:-1])]
    with mpmath.workdps(_DIGITS):
        values = [mpmath.mpf(int(value.p)) / int(value.q) for value in coefficients]
        # Counted in the geometric mean of the roots, the outer coefficients are of one size.
        scale = mpmath.root(abs(values[-1]), degree)
        scaled = [value / scale**power for power, value in enumerate(values)]
        found = mpmath.polyroots(scaled, maxsteps=500, extraprec=4 * _DIGITS)
        return [complex(root * scale / (2 * mpmath.pi)) for root in found]


def _in_rationals(net: Netlist) -> Netlist:
    made = Netlist(net.ground)
    for branch in net:
        passive = branch.kind in "RLCM"
        made.add(dataclasses.replace(branch, value=exact(branch.value)) if passive else branch)
    return made


class _System:
    """The matrix of a reduced circuit, bordered by its drive and its output.

    Each value that is not a number is one generator of the polynomial ring, whatever expression
    it stands for. The determinants are then linear in every generator, and short.
    """

    def __init__(self, reduced: Reduced) -> None:
        self.reduced = reduced
        self.values: list[sympy.Expr] = list(
            dict.fromkeys(
                branch.value
                for branch, _ in reduced.branches
                if branch.kind in "RLCM" and branch.value.free_symbols
            )
        )
        names = [f"x{index}" for index in range(len(self.values))]
        self.ring, self.s, *generators = sympy.polys.rings.ring(["s", *names], sympy.QQ)
        self.generators = dict(zip(self.values, generators, strict=True))
        self.matrix = Matrix()
        for branch, nodes in reduced.branches:
            self._stamp(branch, nodes)
        self._add(_OUT, reduced.output, self.ring.one)

    def _add(self, row: Hashable, column: Hashable, value: Any) -> None:
        if self.reduced.ground not in (row, column):
            self.matrix.add(row, column, value)

    def _stamp(self, branch: Branch, nodes: tuple[str, ...]) -> None:
        one = self.ring.one
        if branch.kind == "M":
            first, second = (("current", name) for name in branch.between)
            for coil, partner in ((first, second), (second, first)):
                self._add(coil, partner, -self._value(branch) * self.s)
            return
        a, b = nodes[:2]
        if branch.kind == "C":
            admittance = self._value(branch) * self.s
            for row, column, sign in ((a, a, one), (b, b, one), (a, b, -one), (b, a, -one)):
                self._add(row, column, sign * admittance)
            return
        # v(a) - v(b) - z i = 0, and the current i leaves a for b.
        key = "current", branch.name
        for node, sign in ((a, one), (b, -one)):
            self._add(key, node, sign)
            self._add(node, key, sign)
        if branch.kind == "R":
            self._add(key, key, -self._value(branch))
        elif branch.kind == "L":
            self._add(key, key, -self._value(branch) * self.s)
        elif branch.kind == "V":
            self._add(key, _DRIVE, self.ring.from_expr(exact(branch.value)))
        else:
            self._add(key, nodes[2], -one)
            self._add(key, nodes[3], one)

    def _value(self, branch: Branch) -> Any:
        if branch.value in self.generators:
            return self.generators[branch.value]
        return self.ring.from_expr(branch.value)

    def solve(self) -> Ratio:
        """Voltage of the output."""
        keys = [row for row in self.matrix.rows if row != _OUT]
        above, below = (self._by_minors if self.values else self._by_elimination)(keys)
        if below == 0:
            names = ", ".join(branch.name for branch, _ in self.reduced.branches[:6])
            raise NoSolution(
                "circuit", f"has no unique answer around {names}", "look for sources in parallel"
            )
        above, below = above.cancel(below)
        return Ratio(self._coefficients(above), self._coefficients(below))

    def _by_elimination(self, keys: list[Hashable]) -> tuple[Any, Any]:
        """Without letters: fraction-free elimination, whose work is bounded for any circuit."""
        place = {key: number for number, key in enumerate(keys)}
        entries: dict[int, dict[int, Any]] = {number: {} for number in place.values()}
        drive: dict[int, dict[int, Any]] = {}
        for row, number in place.items():
            for column, value in self.matrix.rows[row].items():
                if column == _DRIVE:
                    drive[number] = {0: value}
                else:
                    entries[number][place[column]] = value
        domain, size = self.ring.to_domain(), len(keys)
        try:
            solution, below = DomainMatrix(entries, (size, size), domain).solve_den(
                DomainMatrix(drive, (size, 1), domain), method="rref"
            )
        except DMNonInvertibleMatrixError:
            return self.ring.zero, self.ring.zero
        return solution[place[self.reduced.output], 0].element, below

    def _by_minors(self, keys: list[Hashable]) -> tuple[Any, Any]:
        """With letters: Cramer's rule, in which no product of letters has to be divided."""
        found = minors(self.matrix, [(_OUT, _DRIVE)], [(key, key) for key in self._ordered(keys)])
        # The border's determinant is that of the rest times minus the output's voltage.
        return -found.get(0, self.ring.zero), found.get(1, self.ring.zero)

    def _ordered(self, keys: list[Hashable]) -> list[Hashable]:
        """Rows in an order in which few columns are open at a time, so that minors are few."""
        rows = {key: set(self.matrix.rows[key]) for key in keys}
        done: list[Hashable] = []
        opened: set[Hashable] = set()
        while rows:
            uses = Counter(column for columns in rows.values() for column in columns)
            cost = {
                key: sum((column not in opened) - (uses[column] == 1) for column in columns)
                for key, columns in rows.items()
            }
            done.append(min(cost, key=cost.__getitem__))
            opened |= rows.pop(done[-1])
        return done

    def _coefficients(self, polynomial: Any) -> tuple[sympy.Expr, ...]:
        """Coefficients of the powers of s, with the values put in for the generators."""
        terms: dict[int, list[sympy.Expr]] = {0: []}
        for (power, *exponents), number in polynomial.terms():
            factors = (value**n for value, n in zip(self.values, exponents, strict=True) if n)
            product = sympy.Mul(self.ring.domain.to_sympy(number), *factors)
            terms.setdefault(power, []).append(product)
        return tuple(sympy.Add(*terms.get(power, [])) for power in range(max(terms), -1, -1))
