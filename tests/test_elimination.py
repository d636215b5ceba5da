"""Sparse elimination and minors against determinants of numpy and of hand."""

from __future__ import annotations

import numpy as np
import pytest

from guitarnet.solve.elimination import Matrix, minors, schur_complement


def filled(table):
    """A matrix of a dense table; row keys are "r0" ..., columns "c0" ...; 0 is no entry."""
    matrix = Matrix()
    for i, row in enumerate(table):
        for j, value in enumerate(row):
            matrix.add(f"r{i}", f"c{j}", value)
    return matrix


def dense(matrix, rows, columns):
    return np.array([[complex(matrix.get(row, column)) for column in columns] for row in rows])


def test_entries_add_up_and_vanish():
    matrix = Matrix()
    matrix.add("r", "c", 2.0)
    matrix.add("r", "c", 3.0)
    assert matrix.get("r", "c") == 5.0
    assert matrix.columns == {"c": {"r"}}
    matrix.add("r", "c", -5.0)  # exactly nothing: no entry any more
    assert matrix.rows == {"r": {}}
    assert matrix.columns == {"c": set()}
    assert matrix.get("r", "c") == 0.0
    assert matrix.get("nowhere", "c") == 0.0
    matrix.add("r", "d", np.zeros(2))  # an array stays, whatever it holds
    assert matrix.columns["d"] == {"r"}


def test_sizes_are_told_anew_when_an_entry_changes():
    matrix = Matrix()
    matrix.add("r", "c", np.array([3.0 + 4.0j, 1.0]))
    assert matrix.size("r", "c").tolist() == [5.0, 1.0]
    assert matrix.largest("r", "c") == 5.0
    assert matrix.size("r", "c") is matrix.size("r", "c")  # counted once
    matrix.add("r", "c", np.array([0.0, -13.0]))
    assert matrix.size("r", "c").tolist() == [5.0, 12.0]
    assert matrix.largest("r", "c") == 12.0
    matrix.add("r", "d", -2.0)
    assert matrix.size("r", "d") == matrix.largest("r", "d") == 2.0


def test_a_pattern_tells_entries_and_arrays():
    assert filled([[1.0, 0], [2.0, 3.0]]).pattern() == {
        ("r0", "c0", False),
        ("r1", "c0", False),
        ("r1", "c1", False),
    }
    assert filled([[np.ones(2)]]).pattern() == {("r0", "c0", True)}


@pytest.mark.parametrize("seed", range(12))
def test_a_schur_complement_is_that_of_a_dense_matrix(seed):
    """The textbook's D - C inv(A) B, for numbers and for arrays over a frequency, three times.

    The second time has the pattern of the first, the third time its pivots no longer serve.
    """
    rng = np.random.default_rng(seed)
    for turn in range(3):
        table = rng.normal(size=(6, 6)) * (rng.random((6, 6)) < 0.6) + np.diag([4.0] * 6)
        if turn == 2:
            table[:4, :4] = table[:4, :4][::-1]
        entries = [[float(x) for x in row] for row in table]
        wide = np.array([1.0, 2.0, -3.0])
        entries[1][1] = table[1, 1] * wide
        matrix = filled(entries)
        left = schur_complement(matrix, ["r4", "r5"], ["c4", "c5"])
        keep = {"rows": ["r4", "r5"], "columns": ["c4", "c5"]}
        for at, factor in enumerate(wide):
            whole = table.copy()
            whole[1, 1] *= factor
            # What no pivot served is left standing: eliminate it here.
            rows, columns = ([*part, *keep[name]] for part, name in zip(left, keep, strict=True))
            got = np.array(
                [
                    [
                        np.ravel(matrix.get(r, c))[min(at, np.size(matrix.get(r, c)) - 1)]
                        for c in columns
                    ]
                    for r in rows
                ]
            )
            n = len(left[0])
            got = got[n:, n:] - got[n:, :n] @ np.linalg.solve(got[:n, :n], got[:n, n:])
            expected = whole[4:, 4:] - whole[4:, :4] @ np.linalg.solve(whole[:4, :4], whole[:4, 4:])
            np.testing.assert_allclose(got, expected, rtol=1e-9, atol=1e-12)


def test_what_no_pivot_serves_everywhere_is_left():
    """An array that is zero at one place can be no pivot there, a singular block has none."""
    zero_once = np.array([0.0, 1.0])
    matrix = filled([[zero_once, 1.0], [1.0, 0]])
    assert schur_complement(matrix, ["r1"], ["c1"]) == (["r0"], ["c0"])
    matrix = filled([[1.0, 1.0, 1.0], [1.0, 1.0, 2.0], [1.0, 2.0, 3.0]])
    assert schur_complement(matrix, ["r2"], ["c2"]) == (["r1"], ["c1"])  # 1 - 1 is no entry


@pytest.mark.parametrize("small", [1e-3, 1e-9, 1e-16])
def test_a_pivot_is_not_small_in_its_row_and_its_column(small):
    """1e-16 as a pivot would cost all digits: 1 + 1e16 has lost the 1."""
    # A matrix of the same pattern, whose first pivot does not serve here, comes before.
    schur_complement(filled([[2.0, 1.0, 1.0], [1.0, 1.0, 2.0], [1.0, 3.0, 0.5]]), ["r2"], ["c2"])
    matrix = filled([[small, 1.0, 1.0], [1.0, 1.0, 2.0], [1.0, 3.0, 0.5]])
    assert schur_complement(matrix, ["r2"], ["c2"]) == ([], [])
    table = np.array([[small, 1.0, 1.0], [1.0, 1.0, 2.0], [1.0, 3.0, 0.5]])
    expected = 0.5 - table[2, :2] @ np.linalg.solve(table[:2, :2], table[:2, 2])
    assert matrix.get("r2", "c2") == pytest.approx(expected, rel=1e-14)


def test_many_patterns_one_after_the_other():
    """What is kept of earlier systems is kept by their pattern, and not without end."""
    for number in (*range(1, 300), 7):
        matrix = filled([[2.0 if i == j else 0 for j in range(3)] for i in range(3)])
        matrix.add("keep", f"c{number}", 1.0)
        matrix.add(f"r{number}", "keep", 4.0)
        matrix.add(f"r{number}", f"c{number}", float(number))
        assert schur_complement(matrix, ["keep"], ["keep"]) == ([], [])
        pivot = number + (2.0 if number < 3 else 0.0)
        assert matrix.get("keep", "keep") == pytest.approx(-4.0 / pivot, rel=1e-15)


@pytest.mark.parametrize("complex_entries", [False, True])
def test_minors_are_the_determinants_of_what_is_left(complex_entries):
    rng = np.random.default_rng(7)
    table = rng.normal(size=(5, 5)) + (1j * rng.normal(size=(5, 5)) if complex_entries else 0)
    table[0, 3] = table[2, 1] = 0
    array = np.array([1.0, -2.0])
    entries = table.tolist()
    entries[4][0] = table[4, 0] * array
    pairs = [(f"r{i}", f"c{(i + 1) % 5}") for i in range(5)]
    found = minors(filled(entries), pairs[:3], pairs[3:])
    assert sorted(found) == list(range(8))
    for mask, value in found.items():
        kept = [i for i in range(5) if not mask >> i & 1]
        for at, factor in enumerate(array):
            whole = table.copy()
            whole[4, 0] *= factor
            expected = np.linalg.det(whole[np.ix_(kept, [(i + 1) % 5 for i in kept])])
            assert np.broadcast_to(value, 2)[at] == pytest.approx(expected, rel=1e-12)


def test_minors_that_are_zero_are_absent():
    found = minors(filled([[0, 2.0], [3.0, 0]]), [("r0", "c0"), ("r1", "c1")], [])
    assert found == {0b00: -6.0, 0b11: 1.0}
    found = minors(filled([[4.0]]), [("r0", "c0")], [])
    assert found == {0: 4.0, 1: 1.0}
    assert minors(filled([[1.0, 0], [0, 1.0]]), [], [("r0", "c1"), ("r1", "c0")]) == {0: -1.0}


def test_a_pivot_that_vanishes_with_all_its_row_is_none():
    """Where a row is all zero at one place, nothing can be divided there."""
    zero_once = np.array([0.0, 1.0])
    matrix = filled([[zero_once, zero_once], [1.0, 2.0]])
    assert schur_complement(matrix, ["r1"], ["c1"]) == (["r0"], ["c0"])
    matrix = filled([[zero_once, 1.0], [zero_once, 2.0]])
    assert schur_complement(matrix, ["r1"], ["c1"]) == (["r0"], ["c0"])
