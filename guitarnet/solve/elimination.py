"""Sparse elimination of many small systems at once.

The entries of one matrix are plain numbers or numpy arrays over frequency (and settings) that
broadcast against each other, so one elimination serves every frequency. Pivots are chosen by
Markowitz count among those that are large enough everywhere, numbers before arrays.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Any

import numpy as np

__all__ = ["Matrix", "minors", "schur_complement"]

Entry = Any  # float, complex or array
_ENOUGH = 30.0
"""How far the largest entry of its row or column may exceed a pivot. The equations of `tree` are
counted in units in which their own diagonal grows no error; other systems would ask for 1."""
_MOST_PLANS = 256
_PLANS: dict[Hashable, list[tuple[Hashable, Hashable]]] = {}
"""Orders of pivots found for earlier systems of the same pattern. Each pivot is tested again
before it is used, so that an order is a saving of time and never of care."""


class Matrix:
    """A sparse square system by row and column keys."""

    def __init__(self) -> None:
        self.rows: dict[Hashable, dict[Hashable, Entry]] = {}
        self.columns: dict[Hashable, set[Hashable]] = {}
        # Sizes of array entries, and their largest, as far as they were asked for.
        self._sizes: dict[tuple[Hashable, Hashable], np.ndarray] = {}
        self._largest: dict[tuple[Hashable, Hashable], float] = {}

    def add(self, row: Hashable, column: Hashable, value: Entry) -> None:
        """Add a value to an entry."""
        entries = self.rows.setdefault(row, {})
        if column in entries:
            value = entries[column] + value
            self._sizes.pop((row, column), None)
            self._largest.pop((row, column), None)
        if not isinstance(value, np.ndarray) and value == 0:
            entries.pop(column, None)
            self.columns.setdefault(column, set()).discard(row)
            return
        entries[column] = value
        self.columns.setdefault(column, set()).add(row)

    def pattern(self) -> Hashable:
        """Which entries there are, and which of them are arrays."""
        return frozenset(
            (row, column, isinstance(value, np.ndarray))
            for row, entries in self.rows.items()
            for column, value in entries.items()
        )

    def size(self, row: Hashable, column: Hashable) -> Any:
        """Absolute value of an entry."""
        value = self.rows[row][column]
        if not isinstance(value, np.ndarray):
            return abs(value)
        key = row, column
        if key not in self._sizes:
            self._sizes[key] = np.abs(value)
        return self._sizes[key]

    def largest(self, row: Hashable, column: Hashable) -> float:
        """Largest absolute value of an entry."""
        value = self.rows[row][column]
        if not isinstance(value, np.ndarray):
            return abs(value)
        key = row, column
        if key not in self._largest:
            self._largest[key] = float(self.size(row, column).max())
        return self._largest[key]

    def get(self, row: Hashable, column: Hashable) -> Entry:
        """Read an entry; a missing one is the number 0."""
        return self.rows.get(row, {}).get(column, 0.0)


def schur_complement(
    matrix: Matrix, keep_rows: Iterable[Hashable], keep_columns: Iterable[Hashable]
) -> tuple[list[Hashable], list[Hashable]]:
    """Eliminate in place every row and column that need not be kept.

    Parameters
    ----------
    matrix : Matrix
        The system; changed in place.
    keep_rows, keep_columns : iterable
        Keys that stay.

    Returns
    -------
    rows, columns : list
        Keys that could not be eliminated because every pivot left is too small somewhere.
    """
    kept_rows, kept_columns = set(keep_rows), set(keep_columns)
    rows = [row for row in matrix.rows if row not in kept_rows]
    columns = {column for column in matrix.columns if column not in kept_columns}
    left = set(rows)
    key = matrix.pattern(), frozenset(left), frozenset(columns)
    planned = _PLANS.get(key)
    order: list[tuple[Hashable, Hashable]] = []
    for pivot in planned or ():
        if not _serves(matrix, *pivot):
            planned = None
            break
        order.append(pivot)
        _eliminate(matrix, *pivot)
    left.difference_update(row for row, _ in order)
    columns.difference_update(column for _, column in order)
    while left and planned is None:
        found = _cheapest_pivot(matrix, left, columns)
        if found is None:
            break
        order.append(found)
        _eliminate(matrix, *found)
        left.discard(found[0])
        columns.discard(found[1])
    if len(_PLANS) >= _MOST_PLANS:
        _PLANS.clear()
    _PLANS[key] = order
    return [row for row in rows if row in left], sorted(columns, key=repr)


def _cheapest_pivot(
    matrix: Matrix, rows: set[Hashable], columns: set[Hashable]
) -> tuple[Hashable, Hashable] | None:
    """Cheapest pivot by Markowitz count that serves; numbers before arrays."""
    candidates = [
        (
            isinstance(value, np.ndarray),
            (len(entries) - 1) * (len(matrix.columns[column]) - 1),
            row,
            column,
        )
        for row, entries in matrix.rows.items()
        if row in rows
        for column, value in entries.items()
        if column in columns
    ]
    candidates.sort(key=lambda candidate: candidate[:2])
    for _, _, row, column in candidates:
        if _serves(matrix, row, column):
            return row, column
    return None


def _serves(matrix: Matrix, row: Hashable, column: Hashable) -> bool:
    """Tell whether a pivot is large enough in its row or in its column, everywhere."""
    others = (
        [(row, c) for c in matrix.rows[row] if c != column],
        [(r, column) for r in matrix.columns[column] if r != row],
    )
    # What holds fewer values is looked at first.
    lines = sorted(others, key=lambda line: sum(np.size(matrix.rows[r][c]) for r, c in line))
    if isinstance(matrix.rows[row][column], np.ndarray):
        size = matrix.size(row, column)
        enough = _ENOUGH * size
        return bool((size > 0).all()) and any(
            all((matrix.size(*at) <= enough).all() for at in line) for line in lines
        )
    number = _ENOUGH * matrix.largest(row, column)
    return any(all(matrix.largest(*at) <= number for at in line) for line in lines)


def _eliminate(matrix: Matrix, row: Hashable, column: Hashable) -> None:
    pivot_row = matrix.rows.pop(row)
    pivot = pivot_row.pop(column)
    for other_column in (*pivot_row, column):
        matrix.columns[other_column].discard(row)
    one = not isinstance(pivot, np.ndarray) and pivot == 1  # by which no array need be divided
    for other in list(matrix.columns.pop(column)):
        entry = matrix.rows[other].pop(column)
        factor = -entry if one else entry / -pivot
        for other_column, value in pivot_row.items():
            matrix.add(other, other_column, factor * value)


def minors(
    matrix: Matrix,
    free: list[tuple[Hashable, Hashable]],
    fixed: list[tuple[Hashable, Hashable]],
) -> dict[int, Entry]:
    """Minors of a small block, by which of its free rows and columns are left out.

    Division-free expansion along rows, shared between minors; 3^n products for n free pairs.

    Parameters
    ----------
    matrix : Matrix
        Holds the entries.
    free : list of (row, column)
        Pairs of a row and a column that may be left out together.
    fixed : list of (row, column)
        Rows and columns that are in every minor.

    Returns
    -------
    dict of int to number or array
        Determinant by bit mask: bit i is set where ``free[i]`` is left out. Zeros are absent.
    """
    pairs = [*free, *fixed]
    places = {column: j for j, (_, column) in enumerate(pairs)}
    entries = [[(places[c], v) for c, v in matrix.rows.get(row, {}).items()] for row, _ in pairs]
    known: dict[tuple[int, int], Entry] = {}

    def determinant(rows: int, columns: int) -> Entry:
        if rows == 0:
            return 1.0
        key = rows, columns
        if key not in known:
            first = (rows & -rows).bit_length() - 1
            rest = rows & (rows - 1)
            total: Entry = 0.0
            for j, value in entries[first]:
                if columns >> j & 1:
                    below = determinant(rest, columns & ~(1 << j))  # noqa: F821 (deleted later)
                    if isinstance(below, np.ndarray) or below != 0:
                        odd = (columns & ((1 << j) - 1)).bit_count() % 2
                        total = total - value * below if odd else total + value * below
            known[key] = total
        return known[key]

    everything = (1 << len(pairs)) - 1
    found: dict[int, Entry] = {}
    for out in range(1 << len(free)):
        kept = everything & ~out
        value = determinant(kept, kept)
        if isinstance(value, np.ndarray) or value != 0:
            found[out] = value
    # The function holds itself and so all products, until the garbage collector comes by.
    del determinant
    return found
