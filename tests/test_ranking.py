"""Ranking by groups: the last digits of a float decide nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from guitarnet import ranking

# Values that tie exactly or lie ten groups apart, of any size and sign.
POOLS = st.lists(
    st.integers(-40, 40).map(lambda n: float(np.sign(n) * 10 ** (abs(n) / 8) * (n != 0))),
    min_size=1,
    max_size=6,
)
SCORES = POOLS.flatmap(lambda pool: st.lists(st.sampled_from(pool), min_size=1, max_size=30))


def noisy(values, seed, size=1e-9):
    return np.asarray(values) * (1 + size * np.random.default_rng(seed).uniform(-1, 1, len(values)))


@settings(max_examples=150, deadline=None)
@given(SCORES, st.integers(0, 2**32 - 1))
def test_noise_moves_nothing(scores, seed):
    """Ties keep the order given, whatever 1e-9 of noise does to them."""
    exact = sorted(range(len(scores)), key=lambda i: scores[i])
    moved = noisy(scores, seed)
    assert ranking.order(moved).tolist() == exact
    assert ranking.ranked(range(len(scores)), lambda i: moved[i]) == exact
    assert int(ranking.least(moved)) == exact[0]
    assert int(ranking.most(moved)) == scores.index(max(scores))
    assert ranking.at_most(moved, max(scores)).all()
    assert ranking.at_least(moved, min(scores)).all()


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.floats(-1e6, 1e6, allow_nan=False), min_size=1, max_size=40),
    st.lists(st.integers(0, 60), min_size=1, max_size=40),
)
def test_a_group_is_taken_from_its_least(values, steps):
    """Against the definition, on scattered values and on a chain of steps of a third of a group."""
    for given_values in (values, 1.0 + np.array(steps) * ranking.CLOSE / 3):
        number = ranking.groups(given_values)
        for own in range(number.max() + 1):
            inside = np.asarray(given_values)[number == own]
            reach = inside.min() + ranking.CLOSE * max(1.0, abs(inside.min()))
            assert inside.max() <= reach
            assert (np.asarray(given_values)[number > own] > reach).all()


def test_a_second_key_decides_within_a_group_only():
    rows = [(0.3, 2), (0.1 + 0.2, 1), (0.1, 9), (0.30001, 0)]
    found = ranking.ranked(rows, lambda row: row[0], lambda row: row[1])
    assert found == [(0.1, 9), (0.1 + 0.2, 1), (0.3, 2), (0.30001, 0)]
    assert ranking.order(["b", "a", "b"], [1.0, 1.0, 0.5]).tolist() == [1, 2, 0]


def test_infinite_and_missing_values_come_last_each_as_one():
    values = [np.nan, np.inf, 1.0, -np.inf, np.nan, np.inf, -np.inf]
    assert ranking.groups(values).tolist() == [3, 2, 1, 0, 3, 2, 0]
    assert int(ranking.least([np.nan, np.inf, np.inf])) == 0
    assert int(ranking.least([np.nan, 5.0, 4.0])) == 2
    assert ranking.most([[1.0, 1.0 + 1e-12], [0.0, np.nan]]).tolist() == [0, 0]
    assert not ranking.at_most(np.nan, 1.0)
    assert ranking.ranked([], float) == []
    assert ranking.groups([]).size == ranking.order([]).size == 0


@pytest.mark.parametrize("size", [1e-12, 1e6])
def test_a_floor_counts_small_values_alike_unless_it_is_none(size):
    close, apart = [size, size * (1 + 1e-8)], [size, size * 1.01]
    assert ranking.groups(close, floor=0.0).tolist() == [0, 0]
    assert ranking.groups(apart, floor=0.0).tolist() == [0, 1]
    assert ranking.groups(apart).tolist() == ([0, 0] if size < 1 else [0, 1])
