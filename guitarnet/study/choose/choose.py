"""Choose values of any parts by goals for measures of the response."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, is_knob, one_mapping, target
from ...errors import BadSetting, listed, mapped
from ...gate import public
from ...preferred import preferred_values
from ...ranking import at_most, groups, most, ranked
from ...units import as_preferred
from ..response.labels import one_knob, value_in_words
from ..response.sweep import check_guitar
from .goals import Goal, read_goals
from .result import Choice, Choices

__all__ = ["Range", "choose"]

_GRID = 13  # values of a range to try before the continuous search
_MOST = 20_000  # combinations
_SOLD = 1e-4  # a value this near to a preferred value is that value
_STARTS = 3  # starts of a continuous search: combinations, and values along each


@public
@dataclass(frozen=True)
class Range:
    """A range of candidates: every value between two limits.

    Parameters
    ----------
    low, high : float or str
        Limits, both included, in the unit of the value.
    series : str, optional
        Series of preferred values to round to, such as "E12"; by default no rounding.

    Raises
    ------
    BadValue
        When it is used, if a limit is not possible.
    BadSetting
        When it is used, if the limits are not above 0 and in order.

    Examples
    --------
    >>> Range("1 m", "10 m").high
    '10 m'
    """

    low: Any
    high: Any
    series: str | None = None


@public(candidates=None, goal=None)
def choose(
    guitar: Harness,
    candidates: Mapping[str, Any],
    goal: Goal | Sequence[Goal],
    settings: Settings = None,
    *,
    at: str = "amp",
    anyway: bool = False,
    **keywords: Any,
) -> Choices:
    """Choose values of any parts so that measures of the response reach your goals.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    candidates : mapping of str to list or Range
        What to choose from, by setting of `guitarnet.response`: a list of values or parts, or a
        `Range`. All combinations compete.
    goal : Goal or list of Goal
        One goal, or several that must all be reached.
    at : str
        Where to listen, as in `guitarnet.response`.
    anyway : bool
        Whether to return the ranking if no candidate reaches every goal.
    settings, **keywords
        As in `guitarnet.response`. A list gives several conditions; the goals must be reached
        under each of them.

    Returns
    -------
    Choices
        Every combination of the lists, ranked; with a `Range`, its best values and the nearest
        preferred values. Misses that agree to a millionth keep the given order.

    Raises
    ------
    BadSetting
        If there is no candidate, a goal's measure is unknown, or no candidate reaches every goal:
        the message names the best one, and the error's ``value`` is the ranking.
    BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    All values of lists are tried. A `Range` is first tried at 13 values in a geometric series;
    from the best combinations a bounded scalar search (Brent), or a simplex search for several
    ranges, goes on over the logarithms. Each result is rounded to the preferred values on both
    sides and measured again. Two values may give a peak at the same frequency: along one range
    the search starts at every local minimum of the miss, so both are found, unless they are
    within one of the 13 steps. Over several ranges only one may be found.

    References
    ----------
    R. P. Brent, Algorithms for Minimization without Derivatives, 1973, chapter 5.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> goal = Goal("peak frequency", near="4 kHz", within="2%")
    >>> found = choose(guitar, {"cable.length": Range("1 m", "10 m")}, goal)
    >>> found.best.written["cable.length"]
    '4.16 m'
    """
    settings = one_mapping(settings, keywords)
    check_guitar(guitar)
    goals = read_goals(goal)
    lists, ranges = _read_candidates(guitar, candidates, settings, goals)
    search = _PartSearch(guitar, goals, settings, at)
    choices, measured = search.every(lists)
    if ranges:
        choices = search.refined(choices, ranges)
    choices = ranked(choices, lambda choice: not choice.met, lambda choice: choice.miss)
    title = f"Choices for {guitar.name}"
    result = Choices(tuple(choices), goals, measured, title, settings)
    if not result.best.met and not anyway:
        raise _unreached(result)
    return result


def _read_candidates(
    guitar: Harness,
    candidates: Mapping[str, Any],
    settings: Mapping[str, Any],
    goals: Sequence[Goal],
) -> tuple[dict[str, Any], dict[str, tuple[float, float, str | None]]]:
    """Lists of values to try, with those of ranges, and the ranges."""
    fix = "give {'tone_capacitor': [...]}"
    if not mapped(candidates, "candidates", fix):
        raise BadSetting("candidates", "name nothing to choose", fix)
    lists: dict[str, Any] = {}
    ranges: dict[str, tuple[float, float, str | None]] = {}
    turned = [knobs for one in goals if (knobs := one.knobs(guitar, settings)) is not None]
    for name, given in candidates.items():
        if name in settings or any(name in one.at for one in goals):
            raise BadSetting(name, "is a candidate and a setting", "keep one of the two")
        if any(name in knobs or (not knobs and is_knob(guitar, name)) for knobs in turned):
            fix = f"give its marks in the goal, as at={{{name!r}: [10, 7, 5]}}"
            raise BadSetting(name, "is a candidate and the knob that a goal turns", fix)
        if isinstance(given, Range):
            _, spec = target(guitar, name)
            low, high = (spec.read(limit, name) for limit in (given.low, given.high))
            if low is None or high is None or not 0 < low < high:
                raise BadSetting(
                    name, f"{given.low!r} to {given.high!r} is no range", "give 0 < low < high"
                )
            ranges[name] = low, high, given.series
            lists[name] = np.geomspace(low, high, _GRID)
        else:
            lists[name] = listed(given, name, "give a list or gn.choosing.Range(...)")
            if not lists[name]:
                raise BadSetting(name, "is an empty list", "give at least one candidate")
    count = math.prod(len(given) for given in lists.values())
    if count > _MOST:
        raise BadSetting(
            "candidates", f"make {count} combinations, over {_MOST}", "give fewer values of each"
        )
    return lists, ranges


def _unreached(result: Choices) -> BadSetting:
    best = result.best
    what = ", ".join(f"{name} {value}" for name, value in best.written.items())
    reached = ", ".join(
        f"{goal.name} {goal.shown(value)}"
        for goal, value in zip(result.goals, best.reached, strict=True)
    )
    return BadSetting(
        "goal",
        f"no candidate reaches {'; '.join(str(goal) for goal in result.goals)}; the best reached "
        f"is {reached}, with {what}",
        "give other candidates or allow more, or take the ranking with anyway=True",
        result,
    )


class _PartSearch:
    """One question: the guitar, the goals and the conditions."""

    def __init__(
        self, guitar: Harness, goals: Sequence[Goal], settings: Mapping[str, Any], at: str
    ) -> None:
        self.guitar, self.goals, self.settings, self.at = guitar, goals, settings, at
        self.knobs = [
            None if (knobs := goal.knobs(guitar, settings)) is None else one_knob(knobs)
            for goal in goals
        ]

    def every(self, lists: Mapping[str, Any]) -> tuple[list[Choice], tuple[xr.DataArray, ...]]:
        """Measure every combination of lists."""
        names = list(lists)
        swept = {**{name: list(given) for name, given in lists.items()}, **self.settings}
        measured = tuple(
            goal.values(self.guitar, swept, self.at, knob)
            for goal, knob in zip(self.goals, self.knobs, strict=True)
        )
        sizes = [len(lists[name]) for name in names]
        reached, misses = [], []
        for goal, values in zip(self.goals, measured, strict=True):
            for lost in set(names) - set(values.dims):
                raise BadSetting(
                    f"goal {goal.name!r}",
                    f"lost the dimension {lost!r} of the response",
                    "reduce over 'frequency' only",
                )
            flat = values.transpose(*names, ...).values.reshape(math.prod(sizes), -1)
            beyond = goal.excess(xr.DataArray(flat)).values
            at = most(beyond)[:, None]
            reached.append(np.take_along_axis(flat, at, axis=1)[:, 0])
            misses.append(np.maximum(np.take_along_axis(beyond, at, axis=1)[:, 0], 0.0))
        total = np.sqrt(np.sum(np.square(misses), axis=0))
        allowed = np.array([[goal.allowed] for goal in self.goals])
        met = np.all(at_most(misses, allowed), axis=0)
        coords = measured[0].coords
        choices = []
        for number, indices in enumerate(itertools.product(*map(range, sizes))):
            index_of = dict(zip(names, indices, strict=True))
            choices.append(
                Choice(
                    {name: coords[name].values[i].item() for name, i in index_of.items()},
                    {name: _written(coords, name, i) for name, i in index_of.items()},
                    tuple(float(values[number]) for values in reached),
                    float(total[number]),
                    bool(met[number]),
                )
            )
        return choices, measured

    def refined(
        self, choices: Sequence[Choice], ranges: Mapping[str, tuple[float, float, str | None]]
    ) -> list[Choice]:
        """Search the ranges continuously from the best combinations, and round."""
        by_others: dict[tuple[Any, ...], list[Choice]] = {}
        for choice in choices:  # by rising values of each range
            key = tuple(v for name, v in choice.values.items() if name not in ranges)
            by_others.setdefault(key, []).append(choice)
        starts = [
            _least(one) if len(ranges) == 1 else ranked(one, _missed)[:1]
            for one in by_others.values()
        ]
        starts = ranked(starts, lambda some: some[0].miss)
        made: dict[tuple[Any, ...], Choice] = {}
        for start in itertools.chain.from_iterable(starts[:_STARTS]):
            exact = self._between(start, ranges)
            for choice in (exact, *self._rounded(exact, ranges)):
                made.setdefault((choice.how, *choice.written.values()), choice)
        return list(made.values())

    def _at(self, values: Mapping[str, Any], how: str) -> Choice:
        """Measure one combination."""
        choice = self.every({name: [value] for name, value in values.items()})[0][0]
        return Choice(values, choice.written, choice.reached, choice.miss, choice.met, how)

    def _between(
        self, start: Choice, ranges: Mapping[str, tuple[float, float, str | None]]
    ) -> Choice:
        from scipy.optimize import minimize, minimize_scalar

        names = list(ranges)
        limits = [(np.log(ranges[name][0]), np.log(ranges[name][1])) for name in names]

        def values(logs: Any) -> dict[str, Any]:
            tried = {n: float(np.exp(x)) for n, x in zip(names, np.atleast_1d(logs), strict=True)}
            return {**start.values, **tried}

        def cost(logs: Any) -> float:
            # Squared, so that it is smooth at zero; bounded, so that a missing peak is finite.
            return min(self._at(values(logs), "between").miss, 1e6) ** 2

        first = np.log([start.values[name] for name in names])
        if len(names) == 1:
            (low, high), step = limits[0], (limits[0][1] - limits[0][0]) / (_GRID - 1)
            inside = max(low, first[0] - step), min(high, first[0] + step)
            logs = minimize_scalar(cost, bounds=inside, method="bounded", options={"xatol": 1e-6}).x
        else:
            options = {"xatol": 1e-5, "fatol": 1e-9, "maxfev": 300}
            logs = minimize(cost, first, method="Nelder-Mead", bounds=limits, options=options).x
        exact = self._at(values(logs), "between")
        better = not at_most(start.miss, exact.miss)
        return exact if better else self._at(start.values, "between")

    def _rounded(
        self, exact: Choice, ranges: Mapping[str, tuple[float, float, str | None]]
    ) -> list[Choice]:
        """The preferred values on both sides of the optimum."""
        near: dict[str, list[float]] = {}
        for name, (low, high, series) in ranges.items():
            value = exact.values[name]
            if series is None:
                near[name] = [value]
                continue
            sold = preferred_values(series, low, high)
            if not sold.size:
                raise BadSetting(name, f"no {series} value lies in its range", "widen it")
            index = int(np.searchsorted(sold, value * (1 - _SOLD)))
            near[name] = [float(v) for v in sold[max(0, index - 1) : index + 1]]
        if all(series is None for _, _, series in ranges.values()):
            return []
        return [
            self._at({**exact.values, **dict(zip(near, values, strict=True))}, "rounded")
            for values in itertools.product(*near.values())
        ]


def _least(along: Sequence[Choice]) -> list[Choice]:
    """Local minima of the miss along one range, the least first."""
    ranks = groups([np.inf, *map(_missed, along), np.inf])
    minima = [
        choice
        for before, middle, after, choice in zip(ranks, ranks[1:], ranks[2:], along, strict=False)
        if middle < before and middle <= after
    ]
    # If it is infinite everywhere, any one serves as the answer.
    return ranked(minima or along[:1], _missed)[:_STARTS]


def _missed(choice: Choice) -> float:
    return choice.miss


def _written(coords: Any, name: str, index: int) -> str:
    written = f"{name}_written"
    value, unit = coords[name].values[index], coords[name].attrs.get("units", "")
    if written in coords:
        return as_preferred(str(coords[written].values[index]), value, unit)
    return value_in_words(value, unit, digits=3)
