"""Sparse elimination of many small systems at once.

The entries of one matrix are plain numbers or numpy arrays over frequency (and settings) that
broadcast against each other, so one elimination serves every frequency. Pivots are chosen by
Markowitz count among those that are large enough everywhere, numbers before arrays.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Any

import numpy as np

__all__ = ["Matrix", "minors", "schur_complement", "without_rounding"]

Entry = Any  # float, complex or array
# Smallest pivot, as a share of the largest entry in its row or column. The largest alone: at a
# tenth of it, 2 ohm beside 1 megohm costs two digits more, at a thousandth six.
_SMALLEST = 1.0
_ROUNDING = 1e-12  # a minor this small beside its own products is zero by structure


class Matrix:
    """A sparse square system by row and column keys."""

    def __init__(self) -> None:
        self.rows: dict[Hashable, dict[Hashable, Entry]] = {}
        self.columns: dict[Hashable, set[Hashable]] = {}

    def add(self, row: Hashable, column: Hashable, value: Entry) -> None:
        """Add a value to an entry."""
        entries = self.rows.setdefault(row, {})
        if column in entries:
            value = entries[column] + value
        if not isinstance(value, np.ndarray) and value == 0:
            entries.pop(column, None)
            self.columns.setdefault(column, set()).discard(row)
            return
        entries[column] = value
        self.columns.setdefault(column, set()).add(row)

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
    rows = [row for row in matrix.rows if row not in set(keep_rows)]
    columns = {column for column in matrix.columns if column not in set(keep_columns)}
    left = set(rows)
    while left:
        pivot = _constant_pivot(matrix, left, columns) or _array_pivot(matrix, left, columns)
        if pivot is None:
            break
        _eliminate(matrix, *pivot)
        left.discard(pivot[0])
        columns.discard(pivot[1])
    return [row for row in rows if row in left], sorted(columns, key=repr)


def _constant_pivot(
    matrix: Matrix, rows: set[Hashable], columns: set[Hashable]
) -> tuple[Hashable, Hashable] | None:
    """Cheapest pivot that is a number and not small beside its row or its column."""
    best, best_cost = None, None
    for row in matrix.rows:
        if row not in rows:
            continue
        entries = matrix.rows[row]
        for column, value in entries.items():
            if column not in columns or isinstance(value, np.ndarray):
                continue
            cost = (len(entries) - 1) * (len(matrix.columns[column]) - 1)
            if best_cost is not None and cost >= best_cost:
                continue
            size = abs(value)
            if all(_largest(v) * _SMALLEST <= size for v in entries.values()) or all(
                _largest(matrix.rows[r][column]) * _SMALLEST <= size
                for r in matrix.columns[column]
            ):
                best, best_cost = (row, column), cost
                if cost == 0:
                    return best
    return best


def _largest(value: Entry) -> float:
    """Largest size of an entry."""
    return float(np.abs(value).max()) if isinstance(value, np.ndarray) else abs(value)


def _array_pivot(
    matrix: Matrix, rows: set[Hashable], columns: set[Hashable]
) -> tuple[Hashable, Hashable] | None:
    """Cheapest pivot that is large enough at every frequency and setting."""
    candidates = [
        ((len(matrix.rows[row]) - 1) * (len(matrix.columns[column]) - 1), row, column)
        for row in matrix.rows
        if row in rows
        for column in matrix.rows[row]
        if column in columns
    ]
    for _, row, column in sorted(candidates, key=lambda candidate: candidate[0]):
        size = np.abs(matrix.rows[row][column])
        if not np.all(size > 0):
            continue
        along_row = (np.abs(v) for c, v in matrix.rows[row].items() if c != column)
        if all(np.all(other * _SMALLEST <= size) for other in along_row):
            return row, column
        along_column = (np.abs(matrix.rows[r][column]) for r in matrix.columns[column] if r != row)
        if all(np.all(other * _SMALLEST <= size) for other in along_column):
            return row, column
    return None


def _eliminate(matrix: Matrix, row: Hashable, column: Hashable) -> None:
    pivot_row = matrix.rows.pop(row)
    pivot = pivot_row.pop(column)
    for other_column in (*pivot_row, column):
        matrix.columns[other_column].discard(row)
    others = list(matrix.columns.pop(column))
    for other in others:
        factor = matrix.rows[other].pop(column) / -pivot
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
    entries = [
        [(places[c], v) for c, v in matrix.rows.get(row, {}).items()] for row, _ in pairs
    ]
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
                    below = determinant(rest, columns & ~(1 << j))
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
    return found


def without_rounding(
    matrix: Matrix,
    free: list[tuple[Hashable, Hashable]],
    fixed: list[tuple[Hashable, Hashable]],
    found: dict[int, Entry],
) -> dict[int, Entry]:
    """Drop minors that are nothing but the rounding of the products they are made of.

    Times a large swept value, such a rounding would drown a small minor that is true: the few
    ohms that stay at a pot's end beside its megohm.

    Parameters
    ----------
    matrix, free, fixed
        As given to `minors`; entries are numbers, or arrays over frequency alone.
    found : dict of int to number or array
        What `minors` gave.

    Returns
    -------
    dict of int to number or array
        Those that are not rounding at each of three frequencies.
    """
    pairs = [*free, *fixed]
    places = {column: j for j, (_, column) in enumerate(pairs)}
    rows = [[(places[c], v) for c, v in matrix.rows.get(r, {}).items()] for r, _ in pairs]
    size = max((v.size for row in rows for _, v in row if isinstance(v, np.ndarray)), default=1)
    everything = (1 << len(pairs)) - 1
    doubtful = list(found)
    for at in range(size // 6, size, -(-size // 3)):
        sizes = [[(j, abs(_at(v, at))) for j, v in row] for row in rows]
        known: dict[tuple[int, int], float] = {(0, 0): 1.0}
        doubtful = [
            mask
            for mask in doubtful
            if abs(_at(found[mask], at))
            <= _ROUNDING * _permanent(sizes, everything & ~mask, everything & ~mask, known)
        ]
        if not doubtful:
            return found
    return {mask: value for mask, value in found.items() if mask not in doubtful}


def _at(value: Entry, index: int) -> complex:
    return complex(value[index]) if isinstance(value, np.ndarray) else complex(value)


def _permanent(
    sizes: list[list[tuple[int, float]]],
    rows: int,
    columns: int,
    known: dict[tuple[int, int], float],
) -> float:
    """Sum of the sizes of all products in a determinant, by bit masks of its rows and columns."""
    key = rows, columns
    if key not in known:
        first = (rows & -rows).bit_length() - 1
        known[key] = sum(
            size * _permanent(sizes, rows & (rows - 1), columns & ~(1 << j), known)
            for j, size in sizes[first]
            if columns >> j & 1
        )
    return known[key]
