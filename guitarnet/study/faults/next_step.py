"""What to measure or try next: the reading or trial that is expected to tell most."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...circuit.harness import Harness
from ...gate import public
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Empty
from ...ranking import at_least, most, order, ranked
from ...units import fixed, plain_words
from ..bench.ohmmeter import Ohmmeter
from ..bench.readings import ResistanceReading
from .faults import Fault, stations
from .likelihood import SAME, Evidence, Expected, ReadingModel
from .symptoms import (
    KNOB_SYMPTOMS,
    SYMPTOMS,
    KnownCircuits,
    LevelComparison,
    Site,
    everywhere,
    site_label,
)

__all__ = ["NextStep", "next_steps"]

_MOST = 48  # faults that are compared with each other
_FEW, _SHORTLIST = 12, 12  # so many of them select so many readings
_MOST_COMPARED = 16  # so many of them are compared by ear
_ROWS = 6  # values of an unknown that are kept for each fault
_POSSIBLE = math.log(1e-3)  # less likely faults are left out
_WORTH = 0.05  # bits; less is not worth doing
_ENOUGH = 0.8  # share of the missing bits; if the readings give so much, no trial by ear is needed
_REPORTED = np.array([0.9, 0.05])  # a symptom is reported where it occurs, and where not
_KINDS = ("at the jack", "by ear", "guitar open")  # by rising trouble
_TROUBLE = 0.8  # weight of a reading that needs the guitar open
_GRID = np.linspace(math.log(0.3), math.log(40e6), 600)  # log ohm


@public
@dataclass(frozen=True)
class NextStep:
    """A reading to take or a trial by ear, and how much information to expect from it.

    Parameters
    ----------
    text : str
        What to do.
    bits : float
        Expected information about which fault it is [bit].
    reading : ResistanceReading, optional
        The reading, with an expected value; None for a trial by ear.
    before : float
        Missing information before it [bit]: log2(n) for n equally likely faults.

    Notes
    -----
    The text gives bits as a number of faults: if H bits are missing and b are expected, about
    2^(H - b) of 2^H equally likely faults remain.
    """

    text: str
    bits: float
    reading: ResistanceReading | None = None
    before: float = math.nan

    @property
    def kind(self) -> str:
        """Kind of step: "at the jack", "guitar open" or "by ear"."""
        if self.reading is None:
            return "by ear"
        return "guitar open" if self.reading.between else "at the jack"

    def __str__(self) -> str:
        if math.isnan(self.before):
            return self.text
        remaining, of = 2 ** (self.before - self.bits), 2**self.before
        shown = fixed(remaining, 1), fixed(of, 1)
        return f"{self.text} (on average leaves {shown[0]} of {shown[1]} candidates)"


def next_steps(
    guitar: Harness,
    candidates: Sequence[Fault],
    expected: Sequence[Expected],
    weighed: Sequence[Evidence],
    totals: np.ndarray,
    taken: Sequence[ResistanceReading],
    model: ReadingModel,
    reported: Sequence[tuple[str, Site | None]] = (),
) -> list[NextStep]:
    """Rank what to do next by the information to expect from it.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    candidates, expected, weighed, totals
        Faults, their expected readings, the evidence of the readings, and the log likelihoods.
    taken : sequence of ResistanceReading
        The readings taken already.
    model : ReadingModel
        The meter and the tolerances.
    reported : sequence of (str, Site or None)
        Symptoms that were reported already.

    Returns
    -------
    list of NextStep
        The most informative first; a reading that needs the guitar open counts for less. With
        equal information: at the jack, then by ear, then with the guitar open; then between the
        lugs of a part that the likeliest fault affects; then in the order of the harness. Empty if
        one fault is left.
    """
    kept, weights = _possible(totals)
    if len(kept) < 2:
        return []

    def foresee(rows: Sequence[int], options: Sequence[ResistanceReading]) -> list[_Foreseen]:
        return [
            _Foreseen(candidates[i], expected[i], weighed[i], taken, options, model) for i in rows
        ]

    def bits_of(rows: Sequence[int], views: Sequence[_Foreseen], column: int) -> float:
        shares = weights[[kept.index(i) for i in rows]]
        return _information(shares / shares.sum(), [view.density(column) for view in views])

    # A few faults, likely and less likely, show which readings are worth comparing.
    options = _readings(guitar, taken)
    half = _FEW // 2
    some = kept[:half] + kept[half :: max(1, len(kept) // half)]
    views = foresee(some, options)
    suspects = _touched(candidates[kept[0]])
    first = order(
        [-bits_of(some, views, column) for column in range(len(options))],
        [_trouble(reading) for reading in options],
        [not _between_own_lugs(reading, suspects) for reading in options],
    )
    options = [options[column] for column in sorted(first[:_SHORTLIST])]
    views = foresee(kept, options)
    steps = []
    for column, reading in enumerate(options):
        bits = bits_of(kept, views, column)
        if at_least(bits, _WORTH):
            steps.append(_step(reading, bits, views[0].mean(column)))
    best, before = max((step.bits for step in steps), default=0.0), _entropy(weights)
    if not at_least(best, _ENOUGH * before):
        steps += _by_ear(guitar, [candidates[i] for i in kept], weights, reported)
    return [replace(step, before=before) for step in _sorted(steps, suspects)]


def _possible(totals: np.ndarray) -> tuple[list[int], np.ndarray]:
    """Select the faults to compare, and their shares.

    If there are many: the likeliest, and an even selection of the others with a larger weight.
    """
    top = totals.max()
    rank = order(top - totals, floor=SAME)
    possible = [int(i) for i in rank if totals[i] - top > _POSSIBLE]
    first, others = possible[: _MOST // 2], possible[_MOST // 2 :]
    stride = max(1, math.ceil(len(others) / (_MOST - _MOST // 2)))
    kept = first + others[::stride]
    weights = np.exp(totals[kept] - top)
    weights[len(first) :] *= stride
    return kept, weights / weights.sum()


def _sorted(steps: Sequence[NextStep], suspects: set[str]) -> list[NextStep]:
    """Sort the steps, best first; opening the guitar must give more information to go first."""

    def worth(step: NextStep) -> float:
        return step.bits * (_TROUBLE if step.kind == "guitar open" else 1.0)

    return ranked(
        steps,
        lambda step: -worth(step),
        lambda step: _KINDS.index(step.kind),
        lambda step: not (step.reading and _between_own_lugs(step.reading, suspects)),
    )


def _trouble(reading: ResistanceReading) -> int:
    return _KINDS.index("guitar open" if reading.between else "at the jack")


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


def _between_own_lugs(reading: ResistanceReading, parts: set[str]) -> bool:
    """Whether a reading is taken between two lugs of one of these parts."""
    owners = {lug.partition(".")[0] for lug in reading.between or ()}
    return len(owners) == 1 and owners <= parts


def _entropy(weights: np.ndarray) -> float:
    return float(-(weights * np.log2(weights)).sum())


def _readings(guitar: Harness, taken: Sequence[ResistanceReading]) -> list[ResistanceReading]:
    """Readings that you could take: at the jack for each place and knob, and between lugs."""
    done = {_where(reading) for reading in taken}
    states: list[dict[str, Any]] = []
    for place in stations(guitar):
        states.append(place)
        for name, part in guitar.parts.items():
            if isinstance(part, Pot):
                states += [place | {name: mark} for mark in (5, 0)]
    options = [ResistanceReading(settings=state) for state in states]
    options += [ResistanceReading(between=pair) for pair in _pairs(guitar)]
    return [reading for reading in options if _where(reading) not in done]


def _where(reading: ResistanceReading) -> Any:
    return tuple(sorted(reading.settings.items())), reading.between, reading.largest_over


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
        self._share = np.exp(log[rows] - log[rows].max())
        self._share /= self._share.sum()
        unknown = fault.unknown
        if unknown:
            unknown = unknown[0], tuple(unknown[1][row] for row in rows)
        ahead = model.predict(fault.guitar, options, unknown)
        self.ohms, self._sigma = _given(
            known.take(rows), np.array([reading.ohms for reading in taken]), ahead, model.meter
        )

    def mean(self, column: int) -> float:
        """Likeliest value of a further reading [ohm]."""
        return float(self.ohms[int(most(self._share, SAME)), column])

    def density(self, column: int) -> np.ndarray:
        """Probability of each cell of the grid of log ohm, and of OL in the last cell."""
        shares = np.zeros(_GRID.size + 1)
        for share, ohms, sigma in zip(
            self._share, self.ohms[:, column], self._sigma[:, column], strict=True
        ):
            if math.isinf(ohms):
                shares[-1] += share
                continue
            width = max(sigma / max(ohms, self._floor), _GRID[1] - _GRID[0])
            bell = np.exp(-0.5 * ((_GRID - math.log(max(ohms, self._floor))) / width) ** 2)
            shares[:-1] += share * bell / bell.sum()
        return shares


def _given(
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


def _information(weights: np.ndarray, densities: Sequence[np.ndarray]) -> float:
    """Mutual information of the outcome and the fault [bit]."""
    table = np.stack(densities)
    mixed = weights @ table
    possible = table > 1e-300  # smaller is rounding of a bell's foot
    ratio = np.divide(table, mixed, out=np.ones_like(table), where=possible)
    return float(weights @ (np.where(possible, table, 0.0) * np.log2(ratio)).sum(axis=1))


def _step(reading: ResistanceReading, bits: float, ohms: float) -> NextStep:
    opened = ", the guitar open" if reading.between else ""
    where = plain_words(reading.where())
    return NextStep(f"measure {where}{opened}", bits, reading.with_ohms(ohms))


def _by_ear(
    guitar: Harness,
    faults: Sequence[Fault],
    weights: np.ndarray,
    reported: Sequence[tuple[str, Site | None]],
) -> list[NextStep]:
    """Trials by ear, ranked over the likeliest faults, except where a symptom was reported."""
    listened = {where for _, where in reported}
    known: KnownCircuits = {}
    share = (np.arange(_MOST_COMPARED) + 0.5) / _MOST_COMPARED
    # A share may end exactly at one of these, as with 32 equally likely faults.
    ends = np.cumsum(weights)
    chosen, times = np.unique(np.searchsorted(ends, share - SAME), return_counts=True)
    comparisons = [LevelComparison(faults[i], known) for i in np.minimum(chosen, len(faults) - 1)]
    shares = times / times.sum()
    steps = []
    for symptom in SYMPTOMS:
        for where in everywhere(guitar, symptom):
            # Whoever reported a symptom here has listened already.
            if where in listened or (symptom, None) in reported:
                continue
            probabilities = np.array(
                [
                    _REPORTED[0] if comparison.has(symptom, where) else _REPORTED[1]
                    for comparison in comparisons
                ]
            )
            bits = _information(shares, [np.array([p, 1 - p]) for p in probabilities])
            if at_least(bits, _WORTH):
                site = site_label(guitar, where).replace("_", " ") or "the guitar"
                steps.append(NextStep(f"find out by ear whether {site} {_verb(symptom)}", bits))
    return steps


def _verb(symptom: str) -> str:
    """A symptom as a verb: what a place or knob does."""
    return symptom if symptom in KNOB_SYMPTOMS or symptom[-1] == "s" else f"is {symptom}"
