"""One circuit at many settings: two polynomials in the swept values, evaluated all at once.

What is fixed is eliminated once per frequency. The minors of what is left are the coefficients of
a numerator and a denominator, linear in each swept value; every setting is then a matrix product
and a division. Settings stand in rows and columns. Where few values are swept, one elimination
serves all rows; where many are, each row is eliminated by itself, and only what moves along its
columns is left open.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np

from ..errors import NoSolution
from .elimination import minors, schur_complement
from .structure import Reduced, coupled
from .tree import DRIVE, OUT, Tree, equations

__all__ = ["MOST", "System", "no_unique_answer", "products_for_a_point"]

MOST = 8
"""Values that may stand in one polynomial."""

_ELIMINATION = 100  # products that one elimination takes, about
_POINTS = 65536  # points eliminated at once, so that they stay in the processor's cache
_EVALUATED = 16384  # points evaluated at once, for the same reason
_STEPS = 5  # over the frequencies at which an answer is worked out twice
_FEW = 12  # settings that are all looked at
_NEXT = 1 + 2.0**-47  # the second time at a frequency so much higher

Terms = tuple[list[int], np.ndarray]
"""Which moving values are in each monomial, by bits; coefficients: rows, monomials, frequency."""

Coefficients = dict[int, Any]
"""A polynomial: coefficients by the bits of the values in their monomials."""

Groups = dict[int, tuple[list[int], np.ndarray]]
"""By what moves in them: monomials of what stands still, and their coefficients over frequency."""

Block = tuple[slice, slice, np.ndarray, np.ndarray]
"""Rows and columns; numerators and denominators over rows, columns and frequency."""


def products_for_a_point(moving: int, swept: int, columns: int, own_rows: bool) -> float:
    """About how many products a point takes if so many values move along rows of columns."""
    row = _ELIMINATION + 3.0**moving
    if swept <= MOST and not own_rows:
        row = min(row, 2.0**swept)
    return 2.0**moving + row / columns


def no_unique_answer(reduced: Reduced) -> NoSolution:
    """Say that a circuit has no answer or many."""
    names = ", ".join(branch.name for branch, _ in reduced.branches[:6])
    return NoSolution(
        "circuit",
        f"has no unique answer around {names}",
        "look for sources in parallel or a lossless resonance exactly at a frequency",
    )


class System:
    """A reduced circuit at settings in rows and columns.

    Parameters
    ----------
    reduced, tree : Reduced, Tree
        The circuit.
    units : mapping of str to float
        As for `tree.equations`.
    frequency : numpy.ndarray
        Frequencies [Hz].
    values : mapping of str to number or array
        Values that are the same in every setting; arrays are over frequency.
    tables : mapping of str to numpy.ndarray
        Values in rows and columns, of size 1 along what they do not change with.
    volts : mapping of str to complex, or None
        Volts of each source; None for 1 A into the output.
    shape : tuple of int
        Rows and columns.
    """

    def __init__(
        self,
        reduced: Reduced,
        tree: Tree,
        units: Mapping[str, float],
        frequency: np.ndarray,
        values: Mapping[str, Any],
        tables: Mapping[str, np.ndarray],
        volts: Mapping[str, complex] | None,
        shape: tuple[int, int],
    ) -> None:
        self.reduced, self.tree, self.units, self.volts = reduced, tree, units, volts
        self.rows, self.columns = shape
        # A value that is the same in all settings is no variable.
        same = {name for name, t in tables.items() if t.size == 1 or (t == t.flat[0]).all()}
        self.tables = {name: t for name, t in tables.items() if name not in same}
        self.moving = [name for name, t in self.tables.items() if t.shape[1] > 1]
        self.still = [name for name, t in self.tables.items() if t.shape[1] == 1]
        self.branches = {branch.name: branch for branch, _ in reduced.branches}
        # Behind the frequencies that are asked for, some stand again, then a few roundings up.
        self.asked = frequency.size
        some = np.s_[:: max(1, (frequency.size - 1) // _STEPS)]
        looked_at = frequency[some]
        self.s = 2j * np.pi * np.concatenate([frequency, looked_at, looked_at * _NEXT])
        self.values: dict[str, Any] = {name: tables[name].flat[0] for name in same}
        for name, value in values.items():
            over = isinstance(value, np.ndarray)
            self.values[name] = np.concatenate([value, *2 * [value[some]]]) if over else value
        self.references = {name: self._reference(name) for name in self.tables}
        self.factors = {name: self._factor(name) for name in self.tables}
        self.extremes = _extremes([self.factors[n][0] for n in self.moving], self.columns)
        # What rounding does to answers there, and the largest of them, as far as they are known.
        self.errors, self.sizes = np.empty((2, self.rows, self.extremes.size))
        self.rows_alone = self.rows > 1 and self._rows_alone()

    def _rows_alone(self) -> bool:
        """Tell whether each row must be, or had better be, eliminated by itself."""
        # A mutual inductance is no single coefficient, so not one linear variable.
        swept = len(self.tables)
        if swept > MOST or not coupled(self.branches.values()).isdisjoint(self.still):
            return True
        one, other = (
            products_for_a_point(len(self.moving), swept, self.columns, own)
            for own in (True, False)
        )
        return one <= other

    # -- swept values as factors ----------------------------------------------------------------

    def _grows(self, name: str) -> bool:
        """Tell whether a branch's coefficient grows with its value, as z does of a resistor."""
        return (name in self.tree.branches) == (self.branches[name].kind != "C")

    def _reference(self, name: str) -> Any:
        """Value of a swept branch at which its coefficient is largest."""
        values = self.tables[name].ravel()
        sizes = np.abs(values)
        return values[sizes.argmax() if self._grows(name) else sizes.argmin()]

    def _factor(self, name: str) -> np.ndarray:
        """Coefficient of a swept branch as a share of the largest."""
        table, reference = self.tables[name], self.references[name]
        return table / reference if self._grows(name) else reference / table

    # -- answers ----------------------------------------------------------------------------------

    def blocks(self) -> Iterator[Block]:
        """Numerators and denominators of all settings, some rows and columns at a time."""
        points = 2 * _POINTS if self.rows_alone else _POINTS
        step = max(1, points // (self.s.size << len(self.moving)))
        for first in range(0, self.rows, step):
            rows = np.arange(first, min(first + step, self.rows))
            over, under = self._terms(rows)
            self._look_again(rows, over, under)
            for row, column, above, below in self._evaluated(rows, over, under):
                yield slice(first + row.start, first + row.stop), column, above, below

    def _look_again(self, rows: np.ndarray, over: Terms, under: Terms) -> None:
        """See what rounding does to the answers of some rows, in the extreme columns.

        The same answer is worked out again at frequencies that are higher by a few roundings. No
        answer with nine true digits changes by that, and every rounding falls otherwise.
        """
        factors = [_taken(self.factors[n], rows)[:, self.extremes] for n in self.moving]
        above, below = (
            _times(_products(factors, masks), terms[..., self.asked :])
            for masks, terms in (over, under)
        )
        once, again = np.split(above / below, 2, axis=-1)
        self.errors[rows] = np.abs(again - once).max(axis=-1)
        self.sizes[rows] = np.abs(once).max(axis=-1)

    def _evaluated(self, rows: np.ndarray, over: Terms, under: Terms) -> Iterator[Block]:
        """Numerators and denominators of some rows, as far as fits in the cache at a time."""
        factors = [_taken(self.factors[name], rows) for name in self.moving]
        above_x, below_x = (_products(factors, masks) for masks, _ in (over, under))
        count, size = self.columns, self.asked
        wide = min(count, max(1, _EVALUATED // size))
        high = max(1, _EVALUATED // (size * wide))
        for first in range(0, rows.size, high):
            row = slice(first, min(first + high, rows.size))
            for start in range(0, count, wide):
                column = slice(start, min(start + wide, count))
                above, below = (
                    _times(
                        _part(x, row, column), (terms[row] if len(terms) > 1 else terms)[..., :size]
                    )
                    for x, (_, terms) in ((above_x, over), (below_x, under))
                )
                yield row, column, above, below

    # -- coefficients -----------------------------------------------------------------------------

    def _terms(self, rows: np.ndarray) -> tuple[Terms, Terms]:
        """Coefficients of numerator and denominator in the moving values, for some rows."""
        if self.rows_alone:
            shape = rows.size, self.s.size
            own = self._coefficients(self.moving, rows)
            return _stacked(own[0], shape), _stacked(own[1], shape)
        if not self.still:
            return self._moving_alone
        numerator, denominator = self._both
        return self._summed(numerator, rows), self._summed(denominator, rows)

    @cached_property
    def _moving_alone(self) -> tuple[Terms, Terms]:
        """Numerator and denominator where nothing differs from row to row."""
        over, under = self._coefficients(self.moving, None)
        return _stacked(over, (1, self.s.size)), _stacked(under, (1, self.s.size))

    @cached_property
    def _both(self) -> list[Groups]:
        """Numerator and denominator, by what moves in their monomials."""
        made = []
        for found in self._coefficients([*self.moving, *self.still], None):
            groups: dict[int, dict[int, Any]] = {}
            for mask, value in found.items():
                moving = mask & ((1 << len(self.moving)) - 1)
                groups.setdefault(moving, {})[mask >> len(self.moving)] = value
            made.append(
                {
                    moving: (list(own), _stacked(own, (1, self.s.size))[1][0])
                    for moving, own in groups.items()
                }
            )
        return made

    def _summed(self, groups: Groups, rows: np.ndarray) -> Terms:
        """Sum up the monomials that differ in what stands still along a row."""
        factors = [_taken(self.factors[name], rows) for name in self.still]
        made = np.empty((rows.size, len(groups), self.s.size), dtype=complex)
        for place, (masks, table) in enumerate(groups.values()):
            made[:, place] = _times(_products(factors, masks)[:, 0], table)
        return list(groups), made

    def _coefficients(
        self, free: Sequence[str], rows: np.ndarray | None
    ) -> tuple[Coefficients, Coefficients]:
        """Coefficients of numerator and denominator, by the bits of the values they go with."""
        values = dict(self.values)
        for name, table in self.tables.items():
            values[name] = self.references[name] if name in free else table[rows]
        matrix = equations(
            self.reduced, self.tree, self.units, values, self.s, self.volts, frozenset(free)
        )
        keep = [*free, OUT], [*free, DRIVE]
        left = schur_complement(matrix, *keep)
        found = minors(matrix, list(zip(*keep, strict=True)), list(zip(*left, strict=True)))
        every, border = (1 << len(free)) - 1, 1 << len(free)
        # The bits of a minor say what is left out of it.
        over = {every ^ out: -value for out, value in found.items() if not out & border}
        under = {every ^ out ^ border: value for out, value in found.items() if out & border}
        return over, under


def _extremes(factors: Sequence[np.ndarray], count: int) -> np.ndarray:
    """All places where they are few; else the first, the middle, the last, and the extremes."""
    if count <= _FEW:
        return np.arange(count)
    found = {0, count // 2, count - 1}
    for factor in factors:
        if factor.size == count:
            sizes = np.abs(factor)
            found |= {int(sizes.argmin()), int(sizes.argmax())}
    return np.fromiter(found, dtype=int)


def _taken(table: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Some rows of a table that may have one for all."""
    return table[rows] if len(table) > rows.size else table


def _part(products: np.ndarray, rows: slice, columns: slice) -> np.ndarray:
    products = products[rows] if len(products) > 1 else products
    return products[:, columns] if products.shape[1] > 1 else products


def _stacked(found: Coefficients, shape: tuple[int, int]) -> Terms:
    """Coefficients for rows and frequencies."""
    made = np.empty((shape[0], len(found), shape[1]), dtype=complex)
    for place, value in enumerate(found.values()):
        made[:, place] = value
    return list(found), made


def _products(factors: Sequence[np.ndarray], masks: Sequence[int]) -> np.ndarray:
    """Products of factors for each mask: rows, columns, masks."""
    known: dict[int, Any] = {0: 1.0}
    for place, factor in enumerate(factors):
        known |= {mask | 1 << place: product * factor for mask, product in known.items()}
    rows, columns = (max((f.shape[axis] for f in factors), default=1) for axis in (0, 1))
    kind = complex if any(map(np.iscomplexobj, factors)) else float
    made = np.empty((rows, columns, len(masks)), dtype=kind)
    for place, mask in enumerate(masks):
        made[..., place] = known[mask]
    return made


def _times(products: np.ndarray, coefficients: np.ndarray) -> np.ndarray:
    """Matrix product; a real left side is multiplied as real numbers."""
    if np.iscomplexobj(products):
        return products @ coefficients
    return (products @ coefficients.view(float)).view(complex)
