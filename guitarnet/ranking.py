"""Ranking that the last digits of a float do not decide.

Processors differ in the last digits, and much in a guitar ties: equal pickups, equal places. So
values within a millionth of the least are one group, the least of the others begins the next, and
what is stated besides decides within a group: a further key, then the order given. A group is
taken from its first value, so that no chain of near values makes one of all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import numpy as np

__all__ = ["CLOSE", "at_least", "at_most", "groups", "least", "most", "order", "ranked"]

CLOSE = 1e-6  # share of a value, and size, under which a difference is none

_Item = TypeVar("_Item")


def groups(values: Any, floor: float = CLOSE) -> np.ndarray:
    """Number the groups of values, 0 for that of the least; NaN comes last.

    Parameters
    ----------
    values : array_like
        Numbers, one dimension.
    floor : float
        Difference that is none however small the values are.

    Returns
    -------
    numpy.ndarray
        Number of each value's group.

    Examples
    --------
    >>> groups([2.0, 0.5, 2.0000001, 3.0]).tolist()
    [1, 0, 1, 2]
    """
    given = np.asarray(values, dtype=float)
    rising = np.argsort(given, kind="stable")
    ordered = given[rising]
    first = np.zeros(ordered.size, dtype=bool)
    # Where a value lies far from the one before, a group begins for certain.
    with np.errstate(invalid="ignore"):
        first[1:] = ~(ordered[1:] <= _reach(ordered[:-1], floor))
        first[1:] &= ~(np.isnan(ordered[1:]) & np.isnan(ordered[:-1]))
    starts = np.flatnonzero(first | (np.arange(ordered.size) == 0))
    ends = np.append(starts[1:], ordered.size)[: starts.size]
    for start, end in zip(starts, ends, strict=True):
        at = int(start)
        while ordered[end - 1] > (reach := _reach(ordered[at], floor)):
            at += int(np.searchsorted(ordered[at:end], reach, "right"))
            first[at] = True
    found = np.empty(ordered.size, dtype=int)
    found[rising] = np.cumsum(first)
    return found


def order(*columns: Any, floor: float = CLOSE) -> np.ndarray:
    """Order rows by rising columns: by the first, within its groups by the next, as given last.

    Parameters
    ----------
    *columns : array_like
        Numbers of floats, which are grouped; or whole numbers, truth values or texts, which count
        exactly.
    floor : float
        As in `groups`.

    Returns
    -------
    numpy.ndarray
        Indices.

    Examples
    --------
    >>> order([0.3, 0.1 + 0.2, 0.1], ["b", "a", "c"]).tolist()
    [2, 1, 0]
    """
    numbers = []
    for column in columns:
        values = np.asarray(column)
        if values.dtype.kind == "f":
            numbers.append(groups(values, floor))
        else:
            numbers.append(np.unique(values, return_inverse=True)[1].ravel())
    return np.lexsort(numbers[::-1])


def ranked(
    items: Iterable[_Item], *keys: Callable[[_Item], Any], floor: float = CLOSE
) -> list[_Item]:
    """Rank items by rising keys, as `order` does.

    Parameters
    ----------
    items : iterable
        What is ranked.
    *keys : callable
        From an item to a number, a truth value or a text.
    floor : float
        As in `groups`.

    Returns
    -------
    list
        The items, ranked.

    Examples
    --------
    >>> ranked(["0.3", "0.1", "0.30000000000000004"], float)
    ['0.1', '0.3', '0.30000000000000004']
    """
    known = list(items)
    if not known:
        return []
    return [known[i] for i in order(*([key(one) for one in known] for key in keys), floor=floor)]


def least(values: Any, floor: float = CLOSE) -> Any:
    """Index along the last axis of the first value that is as small as the least.

    Parameters
    ----------
    values : array_like
        Numbers; NaN counts as infinite.
    floor : float
        As in `groups`.

    Returns
    -------
    numpy.ndarray or numpy.intp
        Indices.

    Examples
    --------
    >>> int(least([0.1 + 0.2, 0.3]))
    0
    """
    given = np.asarray(values, dtype=float)
    given = np.where(np.isnan(given), np.inf, given)
    return np.argmax(given <= _reach(given.min(axis=-1, keepdims=True), floor), axis=-1)


def most(values: Any, floor: float = CLOSE) -> Any:
    """Index along the last axis of the first value that is as large as the largest; see `least`.

    Parameters
    ----------
    values : array_like
        Numbers; NaN counts as minus infinity.
    floor : float
        As in `groups`.

    Returns
    -------
    numpy.ndarray or numpy.intp
        Indices.
    """
    return least(-np.asarray(values, dtype=float), floor)


def at_most(values: Any, limit: Any, floor: float = CLOSE) -> Any:
    """Whether values reach up to a limit and no further; what is as large as it counts as within.

    Parameters
    ----------
    values, limit : array_like
        Numbers.
    floor : float
        As in `groups`.

    Returns
    -------
    numpy.ndarray or numpy.bool
        False for NaN.

    Examples
    --------
    >>> bool(at_most(0.1 + 0.2, 0.3))
    True
    """
    return np.asarray(values) <= _reach(limit, floor)


def at_least(values: Any, limit: Any, floor: float = CLOSE) -> Any:
    """Whether values reach a limit; what is as large as it does.

    Parameters
    ----------
    values, limit : array_like
        Numbers.
    floor : float
        As in `groups`.

    Returns
    -------
    numpy.ndarray or numpy.bool
        False for NaN.
    """
    return at_most(np.negative(values), np.negative(limit), floor)


def _reach(values: Any, floor: float) -> Any:
    """How far the group reaches that begins with a value."""
    given = np.asarray(values, dtype=float)
    sizes = np.where(np.isfinite(given), np.abs(given), 0.0)
    return given + np.maximum(floor, CLOSE * sizes)
