"""What to measure or try next: what is expected to tell most for its cost.

One list of readings and trials is searched, the cheap ones first. Only if nothing among them tells
the causes apart are two knobs turned, all pairs of lugs taken and leads lifted.
"""

from __future__ import annotations

import itertools
import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

import numpy as np

from ...circuit.harness import Harness, kept
from ...gate import public
from ...parts.output import AmpInput, Cable
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Empty
from ...ranking import at_least, at_most, most, order, ranked
from ...units import fixed, plain_words, sentence
from ..bench.ohmmeter import Ohmmeter, displayed
from ..bench.readings import ResistanceReading
from .faults import Fault, stations
from .likelihood import SAME, Evidence, Expected, ReadingModel
from .observed import Observed, trials
from .symptoms import Comparisons

__all__ = [
    "NextStep",
    "Search",
    "Suspects",
    "given_so_far",
    "in_ten",
    "next_steps",
    "told",
]

_MOST = 48  # faults that are compared with each other
_FEW, _SHORTLIST = 12, 12  # so many of them select so many readings
_MOST_COMPARED = 16  # so many of them are compared without an ohmmeter
_ROWS = 6  # values of an unknown that are kept for each fault
_POSSIBLE = math.log(1e-3)  # less likely faults are left out
_WORTH = 0.05  # bits; less is not worth doing
_ENOUGH = 0.8  # share of the missing bits; if the readings give so much, nothing else is tried
_SECONDS = 5.0  # of computing, for the search of everything
_OWN = 3  # causes whose own lugs are measured first
_POINTS = np.array([NormalDist().inv_cdf((n + 0.5) / 7) for n in range(7)])
"""Equally likely points of a normal distribution, in standard deviations."""

# What a step costs beside a reading at the jack. Common practice, no source.
_KNOBS = {0: 1.0, 1: 1.0, 2: 1.5}  # knobs to turn
_TRIAL = 2.0
_OWN_LUGS, _OTHER_LUGS, _LIFTED = 15.0, 20.0, 30.0
_OPENED = 14.0  # less to pay if the guitar is open already
_NOTHING_TELLS = (
    "No further reading or trial would tell these apart. Mend the likeliest, and read again."
)
_RAN_OUT = (
    f"Nothing was found yet that tells these apart: the search ended after {_SECONDS:g} s of "
    "computing. Mend the likeliest, and read again."
)
_SHOWN, _NAMED = 4, 2  # so many outcomes are written out, and so many causes of each


@public
@dataclass(frozen=True)
class NextStep:
    """A reading to take or a trial, and what each cause would show.

    Parameters
    ----------
    text : str
        What to do.
    right : float
        Probability that the cause that is then the likeliest is the right one.
    outcomes : tuple of (str, tuple of str)
        Each result, and the labels of the faults that show it; the likeliest first.
    reading : ResistanceReading, optional
        The reading, with an expected value; None for a trial without an ohmmeter.
    """

    text: str
    right: float
    outcomes: tuple[tuple[str, tuple[str, ...]], ...] = ()
    reading: ResistanceReading | None = None

    @property
    def kind(self) -> str:
        """Kind of step: "at the jack", "trial", "guitar open" or "lead lifted"."""
        if self.reading is None:
            return "trial"
        if self.reading.lifted:
            return "lead lifted"
        return "guitar open" if self.reading.between else "at the jack"

    def __str__(self) -> str:
        shown = [_outcome(result, labels) for result, labels in self.outcomes[:_SHOWN]]
        if len(self.outcomes) > _SHOWN:
            more = len(self.outcomes) - _SHOWN
            shown.append(f"{more} more result{'s' * (more > 1)}")
        results = f" {sentence('; '.join(shown))}." if shown else ""
        return f"{self.text}.{results} The likeliest cause is then right {in_ten(self.right)}."


@dataclass(frozen=True)
class Search:
    """Next steps, the best first, and a sentence if none was found."""

    steps: tuple[NextStep, ...] = ()
    note: str = ""


def in_ten(probability: float) -> str:
    """Write a probability as people say it: "nine times in ten"."""
    number = int(fixed(10 * probability, 0))
    words = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    if number >= 10:
        return "nearly every time"
    return f"{words[max(number, 1) - 1]} time{'s' if number > 1 else ''} in ten"


class Suspects:
    """The faults that the evidence leaves possible, with their weights.

    Parameters
    ----------
    candidates, expected, weighed
        All faults, their expected readings and the evidence of the readings.
    log_weights : numpy.ndarray
        Log probability of each fault, given the evidence.
    taken : sequence of ResistanceReading
        The readings taken already.
    model : ReadingModel
        The meter and the tolerances.
    """

    def __init__(
        self,
        candidates: Sequence[Fault],
        expected: Sequence[Expected],
        weighed: Sequence[Evidence],
        log_weights: np.ndarray,
        taken: Sequence[ResistanceReading],
        model: ReadingModel,
    ) -> None:
        kept, self.weights = _possible(log_weights)
        self.faults = [candidates[i] for i in kept]
        self._known = [(expected[i], weighed[i]) for i in kept]
        self._taken, self._model = taken, model

    def few(self) -> list[int]:
        """Select some likely and some less likely ones."""
        half = _FEW // 2
        every = range(len(self.faults))
        return [*every[:half], *every[half :: max(1, len(every) // half)]]

    def foresee(self, rows: Sequence[int], options: Sequence[ResistanceReading]) -> list[_Foreseen]:
        """Predict further readings with some of the faults."""
        return [
            _Foreseen(self.faults[i], *self._known[i], self._taken, options, self._model)
            for i in rows
        ]


def next_steps(
    guitar: Harness,
    suspects: Suspects,
    taken: Sequence[ResistanceReading],
    observed: Sequence[Observed] = (),
    seconds: float = _SECONDS,
) -> Search:
    """Rank what to do next by what it tells for its cost.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    suspects : Suspects
        The possible faults.
    taken : sequence of ResistanceReading
        The readings taken already.
    observed : sequence of Observed
        What was observed already.
    seconds : float
        Computing time for the search of everything.

    Returns
    -------
    Search
        The best first: expected information about the fault over its cost, in the order of the
        list where that is equal. Nothing if one fault is left.
    """
    before = _entropy(suspects.weights)
    if not at_least(before, _WORTH):
        return Search()
    done = {_where(reading, guitar) for reading in taken}
    own = {name for fault in suspects.faults[:_OWN] for name in _touched(fault)}
    opened = any(reading.between for reading in taken)

    def search(options: Sequence[ResistanceReading]) -> list[tuple[float, float, NextStep]]:
        new = [reading for reading in options if _where(reading, guitar) not in done]
        costs = [_cost(reading, own, opened) for reading in new]
        return _best_readings(suspects, new, costs)

    rated = search(_near(guitar, own))
    if not at_least(max((bits for bits, _, _ in rated), default=0.0), _ENOUGH * before):
        rated += _best_trials(guitar, suspects, observed)
    note, begun = _NOTHING_TELLS, time.process_time()
    for options in () if rated else _far(guitar):
        if time.process_time() - begun > seconds:
            note = _RAN_OUT
            break
        rated += search(options)
        if rated:
            break
    best = ranked(rated, lambda one: -one[0] / one[1], lambda one: one[1])
    return Search(tuple(step for _, _, step in best), "" if best else note)


def _best_readings(
    suspects: Suspects,
    options: Sequence[ResistanceReading],
    costs: Sequence[float],
) -> list[tuple[float, float, NextStep]]:
    """The readings that tell most: information, cost and step of each."""
    if not options:
        return []
    some = suspects.few()
    views = suspects.foresee(some, options)
    apart = _apart(suspects.weights[some], views)
    first = order(-apart / np.array(costs), costs)
    chosen = [int(n) for n in sorted(first[:_SHORTLIST]) if apart[n] > SAME]
    if not chosen:
        return []
    everyone = range(len(suspects.faults))
    views = suspects.foresee(everyone, [options[n] for n in chosen])
    rated = []
    for column, number in enumerate(chosen):
        bits, right = _information(suspects.weights, views, column)
        if at_least(bits, _WORTH):
            reading = options[number].with_ohms(views[0].mean(column))
            outcomes = _outcomes(suspects, views, column)
            step = NextStep(_text(reading), right, outcomes, reading)
            rated.append((bits, costs[number], step))
    return rated


def _best_trials(
    guitar: Harness, suspects: Suspects, observed: Sequence[Observed]
) -> list[tuple[float, float, NextStep]]:
    """The trials that tell anything, over the likeliest faults."""
    share = (np.arange(_MOST_COMPARED) + 0.5) / _MOST_COMPARED
    # A share may end exactly at one of these, as with 32 equally likely faults.
    ends = np.cumsum(suspects.weights)
    chosen, times = np.unique(np.searchsorted(ends, share - SAME), return_counts=True)
    if len(ends) <= _MOST_COMPARED:
        chosen, times = np.arange(len(ends)), suspects.weights
    faults = [suspects.faults[i] for i in np.minimum(chosen, len(ends) - 1)]
    compared = kept(guitar, Comparisons, Comparisons)
    comparisons = [compared.of(fault) for fault in faults]
    weights = times / times.sum()
    rated = []
    for trial in trials(guitar, observed):
        shown, table = trial.table(comparisons)
        bits, right = told((weights[:, None] * table).T, weights)
        if at_least(bits, _WORTH):
            outcomes = _gathered(shown, faults)
            rated.append((bits, _TRIAL, NextStep(trial.text, right, outcomes)))
    return rated


def _possible(log_weights: np.ndarray) -> tuple[list[int], np.ndarray]:
    """Select the faults to compare, and their shares.

    If there are many: the likeliest, and an even selection of the others with a larger weight.
    """
    top = log_weights.max()
    rank = order(top - log_weights, floor=SAME)
    possible = [int(i) for i in rank if log_weights[i] - top > _POSSIBLE]
    first, others = possible[: _MOST // 2], possible[_MOST // 2 :]
    stride = max(1, math.ceil(len(others) / (_MOST - _MOST // 2)))
    kept = first + others[::stride]
    weights = np.exp(log_weights[kept] - top)
    weights[len(first) :] *= stride
    return kept, weights / weights.sum()


def _entropy(weights: np.ndarray) -> float:
    """Missing information [bit]: log2(n) for n equally likely faults."""
    return float(-(weights * np.log2(weights)).sum())


# -- what may be read ------------------------------------------------------------------------------


def _cost(reading: ResistanceReading, own: set[str], opened: bool) -> float:
    """What a reading costs; of all lugs those of the suspects come first."""
    if not reading.between:
        return _KNOBS[sum(value != 10 for value in reading.settings.values() if value in (0, 5))]
    of_own = {lug.partition(".")[0] for lug in reading.between} & own
    lugs = _OWN_LUGS if of_own else _OTHER_LUGS
    return (_LIFTED if reading.lifted else lugs) - _OPENED * opened


def _touched(fault: Fault) -> set[str]:
    """Names of the parts that a fault changes, disconnects or bridges."""
    faulty, healthy = fault.guitar, fault.healthy_guitar
    touched = {name for name, part in healthy.parts.items() if faulty.parts.get(name) != part}
    # A lug that came off its joint has lost more neighbours than those that stayed.
    before, after = ({lug: {*j} for j in one.joined for lug in j} for one in (healthy, faulty))
    lost = {lug: len(joint - after.get(lug, set())) for lug, joint in before.items()}
    most_lost = max(lost.values(), default=0)
    touched |= {lug.partition(".")[0] for lug, many in lost.items() if many == most_lost > 0}
    for added in faulty.parts.keys() - healthy.parts.keys():
        ends = {faulty.node(f"{added}.{lug}") for lug in faulty.parts[added].lugs}
        for name, part in healthy.parts.items():
            if ends <= {faulty.node(f"{name}.{lug}") for lug in part.lugs}:
                touched.add(name)
    return touched


def _standing(guitar: Harness) -> dict[str, Any]:
    """The places of all switches as they stand."""
    return {name: part.place for name, part in guitar.parts.items() if isinstance(part, Switch)}


def _states(guitar: Harness) -> list[dict[str, Any]]:
    """Places of all switches, one moved at a time; as they stand comes first."""
    standing = _standing(guitar)
    moved = [{**standing, **place} for place in stations(guitar)]
    return [standing, *(state for state in moved if state != standing)]


def _pots(guitar: Harness) -> list[str]:
    return [name for name, part in guitar.parts.items() if isinstance(part, Pot)]


def _near(guitar: Harness, own: set[str]) -> list[ResistanceReading]:
    """What you read first: at the jack, along joints, across parts, and on the suspects' lugs."""
    states, pots = _states(guitar), _pots(guitar)
    options = [
        ResistanceReading(settings=state | turned)
        for state in states
        for turned in ({}, *({name: mark} for name in pots for mark in (5, 0)))
    ]
    pairs = dict.fromkeys(_pairs(guitar))
    of_own = dict.fromkeys(
        pair for name in guitar.parts if name in own for pair in _across(guitar, name)
    )
    options += [ResistanceReading(settings=states[0], between=pair) for pair in pairs]
    options += [
        ResistanceReading(settings=state, between=pair)
        for state in states
        for pair in of_own
        if state != states[0] or pair not in pairs
    ]
    return options


def _far(guitar: Harness) -> Iterator[list[ResistanceReading]]:
    """Everything else: two knobs turned, all pairs of lugs in every place, one lead lifted."""
    states, pots = _states(guitar), _pots(guitar)
    marks = list(itertools.product((0, 5), repeat=2))
    yield [
        ResistanceReading(settings={**state, one: low, other: high})
        for state in states
        for one, other in itertools.combinations(pots, 2)
        for low, high in marks
    ]
    lugs = [
        lug
        for name, part in guitar.parts.items()
        if not isinstance(part, (Cable, AmpInput))
        for lug in _lugs(guitar, name)
    ]
    for state in states:
        yield [
            ResistanceReading(settings=state, between=pair)
            for pair in itertools.combinations(lugs, 2)
        ]
    for state in states:
        yield [
            ResistanceReading(settings=state, between=pair, lifted=(lug,))
            for lug in lugs
            for pair in (
                *_across(guitar, lug.partition(".")[0]),
                *((lug, other) for joint in guitar.joined if lug in joint for other in joint[:1]),
            )
            if pair[0] != pair[1]
        ]


def _lugs(guitar: Harness, name: str) -> list[str]:
    """Lugs of a part that a probe can reach."""
    part = guitar.parts[name]
    if isinstance(part, (Empty, Cable, AmpInput)):
        return []
    return [f"{name}.{lug}" for lug in part.lugs]


def _across(guitar: Harness, name: str) -> Iterator[tuple[str, str]]:
    """Pairs of lugs of one part; of a switch those that touch in a place, or lie side by side."""
    lugs, part = _lugs(guitar, name), guitar.parts[name]
    if not isinstance(part, Switch):
        yield from itertools.combinations(lugs, 2)
        return
    yield from itertools.pairwise(lugs)
    for _, groups in part.contacts:
        for group in groups:
            yield from itertools.combinations([f"{name}.{lug}" for lug in group], 2)


def _pairs(guitar: Harness) -> Iterator[tuple[str, str]]:
    """Pairs of lugs to measure between: along each joint, and across each part."""
    for joint in guitar.joined:
        lugs = [lug for lug in joint if not isinstance(guitar.parts[lug.partition(".")[0]], Empty)]
        yield from ((lugs[0], other) for other in lugs[1:] if "cable" not in other)
    for name, part in guitar.parts.items():
        if not isinstance(part, (Empty, Switch)) and len(part.lugs) <= 4:
            yield from (
                (f"{name}.{one}", f"{name}.{other}")
                for one, other in itertools.pairwise(part.lugs)
                if guitar.node(f"{name}.{one}") != guitar.node(f"{name}.{other}")
            )


def _where(reading: ResistanceReading, guitar: Harness) -> Any:
    """Key of where a reading is taken; what is not set stands as it stands, knobs at 10."""
    up = {name: value for name, value in reading.settings.items() if value != 10}
    state = {**_standing(guitar), **up}
    return tuple(sorted(state.items())), reading.between, reading.lifted, reading.largest_over


def _text(reading: ResistanceReading) -> str:
    """What to do for a reading: knobs, switches, lugs."""
    knobs = {name: value for name, value in reading.settings.items() if not isinstance(value, str)}
    places = {n: value for n, value in reading.settings.items() if n not in knobs}
    at = [f"{plain_words(name)} at {place}" for name, place in places.items()]
    at += [f"{plain_words(name)} at {mark:g}" for name, mark in knobs.items()]
    at.append("the other knobs at 10" if knobs else "all knobs at 10")
    if not reading.between:
        return f"measure at the jack, {', '.join(at)}"
    one, other = map(plain_words, reading.between)
    lifted = "".join(f" lift the lead of {plain_words(lug)} and" for lug in reading.lifted)
    return f"open the guitar,{lifted} measure from {one} to {other}, {', '.join(at)}"


# -- what is then seen -----------------------------------------------------------------------------


class _Foreseen:
    """Further readings that a fault would give, given the readings so far."""

    def __init__(
        self,
        fault: Fault,
        known: Expected,
        weighed: Evidence,
        taken: Sequence[ResistanceReading],
        options: Sequence[ResistanceReading],
        model: ReadingModel,
    ) -> None:
        self._floor = model.meter.floor
        log = weighed.log_likelihood
        rows = np.sort(order(log.max() - log, floor=SAME)[:_ROWS])
        self.share = np.exp(log[rows] - log[rows].max())
        self.share /= self.share.sum()
        unknown = fault.unknown
        if unknown:
            unknown = unknown[0], tuple(unknown[1][row] for row in rows)
        ahead = model.predict(fault.guitar, options, unknown)
        self.ohms, self.sigma = given_so_far(
            known.take(rows), np.array([reading.ohms for reading in taken]), ahead, model.meter
        )

    def mean(self, column: int) -> float:
        """Likeliest value of a further reading [ohm]."""
        return float(self.ohms[int(most(self.share, SAME)), column])

    def deviation(self, column: int) -> float:
        """Standard deviation of that value [ohm]."""
        return float(self.sigma[int(most(self.share, SAME)), column])

    def moments(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Probability of a value, and mean and variance of its logarithm."""
        read = np.isfinite(self.ohms)
        share = self.share[:, None] * read
        finite = share.sum(axis=0)
        share = share / np.where(finite > 0, finite, 1)
        ohms = np.where(read, self.ohms, 0) + self._floor
        log, width = np.log(ohms), np.where(read, self.sigma, 0) / ohms
        mean = (share * log).sum(axis=0)
        variance = (share * (width**2 + (log - mean) ** 2)).sum(axis=0)
        return finite, mean, np.where(finite > 0, variance, 1.0)


def given_so_far(
    known: Expected, seen: np.ndarray, ahead: Expected, meter: Ohmmeter
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and standard deviation of further readings, given the readings so far.

    Both depend on the same errors of the parts, so the readings so far narrow the next ones.
    """
    names = list({**known.spread, **ahead.spread})
    ohms, sigma = ahead.ohms.copy(), np.zeros(ahead.ohms.shape)
    before, after = known.table(names), ahead.table(names)
    for row in range(len(ohms)):
        columns = np.isfinite(seen) & np.isfinite(known.ohms[row])
        change = before[row][columns]
        covariance = change @ change.T + np.diag(meter.uncertainty(seen[columns]) ** 2)
        gain = np.linalg.solve(covariance, change @ after[row].T).T
        off = seen[columns] - known.ohms[row][columns]
        shift = gain @ off
        variance = (after[row] ** 2).sum(axis=1) - (gain * (after[row] @ change.T)).sum(axis=1)
        finite = np.isfinite(ohms[row])
        ohms[row, finite] = np.maximum(ohms[row, finite] + shift[finite], 0)
        noise = meter.uncertainty(np.where(finite, ohms[row], 0.0))
        sigma[row] = np.sqrt(np.maximum(variance, 0) + noise**2)
    return ohms, sigma


def _apart(weights: np.ndarray, views: Sequence[_Foreseen]) -> np.ndarray:
    """How well each reading sets the faults apart: the mean over pairs of 1 - overlap.

    Overlap of two normal distributions: A. Bhattacharyya, Bulletin of the Calcutta Mathematical
    Society 35, 1943, 99-109.
    """
    finite, mean, variance = (
        np.stack(one) for one in zip(*(v.moments() for v in views), strict=True)
    )
    apart = np.zeros(mean.shape[1])
    for i, j in itertools.combinations(range(len(views)), 2):
        both = variance[i] + variance[j]
        overlap = np.sqrt(2 * np.sqrt(variance[i] * variance[j]) / both) * np.exp(
            -((mean[i] - mean[j]) ** 2) / (4 * both)
        )
        opened = np.maximum((1 - finite[i]) * (1 - finite[j]), 0)
        same = np.sqrt(opened) + np.sqrt(finite[i] * finite[j]) * overlap
        apart += weights[i] * weights[j] * (1 - same)
    return apart


def _information(
    weights: np.ndarray, views: Sequence[_Foreseen], column: int
) -> tuple[float, float]:
    """Mutual information of a reading and the fault [bit], and how often the likeliest is right."""
    owner = np.repeat(np.arange(len(views)), [view.share.size for view in views])
    share = np.concatenate([view.share for view in views])
    ohms = np.concatenate([view.ohms[:, column] for view in views])
    sigma = np.concatenate([view.sigma[:, column] for view in views])
    read = np.isfinite(ohms)
    opened = weights * np.bincount(owner, share * ~read, minlength=len(views))
    bits, right = told(opened[None, :], weights)
    if read.any():
        owner, share, ohms, sigma = owner[read], share[read], ohms[read], sigma[read]
        points = (ohms[:, None] + sigma[:, None] * _POINTS).ravel()
        density = share * np.exp(-0.5 * ((points[:, None] - ohms) / sigma) ** 2) / sigma
        first = np.flatnonzero(np.diff(owner, prepend=-1))
        joint = np.zeros((points.size, len(views)))
        joint[:, owner[first]] = np.add.reduceat(density, first, axis=1)
        joint *= weights
        # Each point stands for its share of the outcomes.
        own = np.repeat(owner, _POINTS.size)
        mass = weights[own] * np.repeat(share, _POINTS.size) / _POINTS.size
        of_it = joint / joint.sum(axis=1, keepdims=True)
        bits += float(mass @ np.log2(of_it[np.arange(points.size), own] / weights[own]))
        right += float(mass @ of_it.max(axis=1))
    return bits, min(right, 1.0)


def told(joint: np.ndarray, weights: np.ndarray) -> tuple[float, float]:
    """Information and share of right answers from outcomes, each a row of joint probabilities."""
    whole = joint.sum(axis=1, keepdims=True)
    there = joint > 0
    ratio = np.divide(joint, whole * weights, out=np.ones_like(joint), where=there)
    return float((joint * np.log2(ratio)).sum()), float(joint.max(axis=1).sum())


def _outcomes(
    suspects: Suspects, views: Sequence[_Foreseen], column: int
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What the meter shows with each fault; readings too near to tell apart are one result."""
    shown: list[str] = []
    known: list[tuple[float, float, str]] = []
    for view in views:
        ohms, sigma = view.mean(column), view.deviation(column)
        result = next(
            (
                text
                for value, other, text in known
                if ohms == value or at_most(abs(ohms - value), math.hypot(sigma, other))
            ),
            None,
        )
        if result is None:
            result = displayed(ohms, digits=3)
            known.append((ohms, sigma, result))
        shown.append(result)
    return _gathered(shown, suspects.faults)


def _gathered(
    shown: Sequence[str], faults: Sequence[Fault]
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    by_result: dict[str, list[str]] = {}
    for result, fault in zip(shown, faults, strict=True):
        by_result.setdefault(result, []).append(fault.label)
    return tuple((result, tuple(labels)) for result, labels in by_result.items())


def _outcome(result: str, labels: Sequence[str]) -> str:
    more = f" and {len(labels) - _NAMED} more" if len(labels) > _NAMED else ""
    return f"{result}: {', '.join(labels[:_NAMED])}{more}"
