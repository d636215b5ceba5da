"""Sparse elimination, minors and their rounding against determinants of numpy and of hand."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from guitarnet.solve import elimination
from guitarnet.solve.elimination import Matrix, minors, schur_complement, without_rounding


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
def test_a_schur_complement_is_that_of_a_dense_matrix(seed, monkeypatch):
    """The textbook's D - C inv(A) B, for numbers and for arrays over a frequency, three times.

    The second time the plan of the first is used, the third time its pivots no longer serve.
    """
    monkeypatch.setattr(elimination, "_PLANS", {})
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


def test_a_pivot_is_the_largest_of_its_row_or_its_column():
    """At a tenth of the largest two digits are lost: no pivot is chosen that is less."""
    serves = elimination._serves
    matrix = filled([[1.0, 2.0], [4.0, 3.0]])
    assert not serves(matrix, "r0", "c0")
    assert serves(matrix, "r0", "c1")  # largest of its row
    assert serves(matrix, "r1", "c0")
    assert serves(matrix, "r1", "c1")  # largest of its column
    matrix = filled([[np.array([1.0, 5.0]), 3.0], [np.array([2.0, 4.0]), 1.0]])
    assert not serves(matrix, "r0", "c0")  # the largest at one place only, in row and in column
    assert not serves(matrix, "r1", "c1")
    matrix = filled([[np.array([3.0, 5.0]), 3.0], [np.array([9.0, 9.0]), 1.0]])
    assert serves(matrix, "r0", "c0")  # of its row, equal at one place


def test_the_cheapest_pivot_is_a_number_that_fills_nothing_in():
    cheapest = elimination._cheapest_pivot
    every = {"r0", "r1", "r2"}, {"c0", "c1", "c2"}
    arrow = filled([[5.0, 1.0, 1.0], [1.0, 5.0, 0], [1.0, 0, 5.0]])
    assert cheapest(arrow, *every) in (("r1", "c1"), ("r2", "c2"))
    assert cheapest(arrow, {"r0"}, {"c0"}) == ("r0", "c0")
    assert cheapest(arrow, {"r0"}, {"c1"}) is None  # less than the 5 of its row and its column
    array = np.array([5.0, 6.0])
    arrow = filled([[5.0, 1.0, 1.0], [1.0, array, 0], [1.0, 0, array]])
    assert cheapest(arrow, *every) == ("r0", "c0")  # the only number that serves


@pytest.mark.parametrize("seed", range(8))
def test_the_pivot_is_the_cheapest_by_markowitz_count(seed):
    """(r - 1)(c - 1) of the entries of its row and column, among all that serve."""
    rng = np.random.default_rng(seed)
    for _ in range(10):
        table = np.round(rng.normal(size=(6, 6)), 2) * (rng.random((6, 6)) < 0.5)
        matrix = filled(table.tolist())
        rows, columns = {f"r{i}" for i in range(5)}, {f"c{j}" for j in range(1, 6)}
        there = table != 0
        costs = {
            (f"r{i}", f"c{j}"): (there[i].sum() - 1) * (there[:, j].sum() - 1)
            for i in range(5)
            for j in range(1, 6)
            if there[i, j] and elimination._serves(matrix, f"r{i}", f"c{j}")
        }
        found = elimination._cheapest_pivot(matrix, rows, columns)
        if costs:
            assert costs[found] == min(costs.values())
        else:
            assert found is None


def test_plans_are_forgotten_before_they_fill_the_memory(monkeypatch):
    plans = {}
    monkeypatch.setattr(elimination, "_PLANS", plans)
    monkeypatch.setattr(elimination, "_MOST_PLANS", 3)
    for number in range(1, 6):
        matrix = Matrix()
        for place in range(number):
            matrix.add(f"r{place}", f"c{place}", 1.0)
        schur_complement(matrix, [], [])
        assert len(plans) == (number if number <= 3 else number - 3)


def test_a_plan_is_used_again(monkeypatch):
    """The same pattern asks for no search; a pivot that no longer serves asks for a new one."""
    monkeypatch.setattr(elimination, "_PLANS", {})
    searched = []
    search = elimination._cheapest_pivot
    monkeypatch.setattr(
        elimination, "_cheapest_pivot", lambda *given: searched.append(given) or search(*given)
    )
    for expected, beside in ((2, 1.0), (2, 1.5), (4, 5.0), (4, 6.0)):
        schur_complement(filled([[2.0, beside], [beside, 3.0]]), [], [])
        assert len(searched) == expected


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


def test_without_rounding_drops_what_is_rounding_everywhere():
    """0.1 + 0.2 - 0.3 is not zero in doubles, but nothing else than zero was meant."""
    tiny = 0.1 + 0.2 - 0.3
    rounding = np.full(3, tiny)
    free, fixed = [("r0", "c0")], [("r1", "c1")]
    matrix = filled([[1.0, 1.0], [1.0, 1.0]])
    assert without_rounding(matrix, free, fixed, {0: rounding, 1: np.ones(3)}).keys() == {1}
    assert without_rounding(matrix, free, fixed, {0: tiny, 1: 1.0}) == {1: 1.0}
    # Beside products as small as itself it is a value like another.
    matrix = filled([[tiny, 0], [0, 1.0]])
    kept = {0: tiny, 1: 1.0}
    assert without_rounding(matrix, free, fixed, kept) == kept


@pytest.mark.parametrize("true_at", range(3))
def test_a_minor_that_is_true_at_one_frequency_stays(true_at):
    free, fixed = [("r0", "c0")], [("r1", "c1")]
    for size in (3, 6, 50):
        values = np.full(size, 1e-17)
        # The three frequencies that are looked at: a sixth of the way, the middle, five sixths.
        values[size // 6 + true_at * -(-size // 3)] = 1e-3
        matrix = filled([[1.0, 1.0], [np.ones(size), 1.0]])
        assert without_rounding(matrix, free, fixed, {0: values}).keys() == {0}
        values[:] = 1e-17
        assert without_rounding(matrix, free, fixed, {0: values}) == {}


@pytest.mark.parametrize("size", [1, 2, 3, 4])
def test_a_permanent_is_the_sum_of_all_products(size):
    rng = np.random.default_rng(size)
    table = rng.random((size, size))
    sizes = [list(enumerate(row)) for row in table.tolist()]
    everything = (1 << size) - 1
    got = elimination._permanent(sizes, everything, everything, {(0, 0): 1.0})
    expected = sum(
        np.prod([table[i, j] for i, j in enumerate(order)])
        for order in itertools.permutations(range(size))
    )
    assert got == pytest.approx(expected, rel=1e-14)
