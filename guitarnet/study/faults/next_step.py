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
from .likelihood import SAME, Bench, Evidence, Expected
from .symptoms import KNOB_SYMPTOMS, SYMPTOMS, Circuits, Ear, Place, everywhere, place_words

__all__ = ["NextStep", "next_steps"]

_MOST = 48  # faults that are weighed against each other
_FEW, _SHORTLIST = 12, 12  # of which so many pick so many readings out
_MOST_HEARD = 16  # of which so many are listened to
_ROWS = 6  # values of an unknown that are kept of each fault
_POSSIBLE = math.log(1e-3)  # faults less likely than that are left aside
_WORTH = 0.05  # bits; less is not worth the trouble
_ENOUGH = (
    0.8  # share of what there is to know; the guitar stays closed where the jack tells so much
)
_HEARD = np.array([0.9, 0.05])  # that a symptom is told where it is, and where it is not
_KINDS = ("at the jack", "by ear", "guitar open")  # by rising trouble
_TROUBLE = 0.8  # an open guitar must tell more to go first
_GRID = np.linspace(math.log(0.3), math.log(40e6), 600)  # log ohm


@public
@dataclass(frozen=True)
class NextStep:
    """A reading to take or a thing to try, and how much it is expected to tell.

    Parameters
    ----------
    words : str
        What to do.
    bits : float
        Expected information about which fault it is [bit].
    reading : ResistanceReading, optional
        The reading, with an expected value; None where it is a trial by ear.
    before : float
        What is not known before it [bit]: of n faults that are alike likely, log2(n).

    Notes
    -----
    In words, bits are told as a number of faults: where H bits are open and b are expected, about
    2^(H - b) of 2^H faults that are alike likely stay.
    """

    words: str
    bits: float
    reading: ResistanceReading | None = None
    before: float = math.nan

    @property
    def kind(self) -> str:
        """Where it is done: "at the jack", "guitar open" or "by ear"."""
        if self.reading is None:
            return "by ear"
        return "guitar open" if self.reading.between else "at the jack"

    def __str__(self) -> str:
        if math.isnan(self.before):
            return self.words
        left, of = 2 ** (self.before - self.bits), 2**self.before
        shown = fixed(left, 1), fixed(of, 1)
        return f"{self.words} (on average leaves {shown[0]} of {shown[1]} candidates)"


def next_steps(
    guitar: Harness,
    candidates: Sequence[Fault],
    expected: Sequence[Expected],
    weighed: Sequence[Evidence],
    totals: np.ndarray,
    taken: Sequence[ResistanceReading],
    bench: Bench,
    told: Sequence[tuple[str, Place | None]] = (),
) -> list[NextStep]:
    """Rank what to do next by the information that it is expected to give.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    candidates, expected, weighed, totals
        Faults, what each should read, the evidence of the readings, and the log likelihoods.
    taken : sequence of ResistanceReading
        What was read already.
    bench : Bench
        The meter, and how far parts may be off.
    told : sequence of (str, Place or None)
        Symptoms that were told already.

    Returns
    -------
    list of NextStep
        By falling information; at the jack first where that tells nearly as much as opening the
        guitar. Of those that tell the same: at the jack, then by ear, then with the guitar open;
        then between the own leads of a part that the likeliest fault touches; then in the order of
        the harness. Empty where nothing is left to tell apart.
    """
    kept, weights = _possible(totals)
    if len(kept) < 2:
        return []

    def foresee(rows: Sequence[int], options: Sequence[ResistanceReading]) -> list[_Foreseen]:
        return [
            _Foreseen(candidates[i], expected[i], weighed[i], taken, options, bench) for i in rows
        ]

    def bits_of(rows: Sequence[int], views: Sequence[_Foreseen], column: int) -> float:
        own = weights[[kept.index(i) for i in rows]]
        return _information(own / own.sum(), [view.density(column) for view in views])

    # A few of the faults, the likely and the less likely, show which readings are worth weighing.
    options = _readings(guitar, taken)
    half = _FEW // 2
    some = kept[:half] + kept[half :: max(1, len(kept) // half)]
    views = foresee(some, options)
    suspects = _touched(candidates[kept[0]])
    first = order(
        [-bits_of(some, views, column) for column in range(len(options))],
        [_trouble(reading) for reading in options],
        [not _own_leads(reading, suspects) for reading in options],
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
        steps += _by_ear(guitar, [candidates[i] for i in kept], weights, told)
    return [replace(step, before=before) for step in _sorted(steps, suspects)]


def _possible(totals: np.ndarray) -> tuple[list[int], np.ndarray]:
    """Pick the faults that are worth weighing, and their shares.

    Where there are many, the likeliest and an even pick of the others, which then count for more.
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
    """Best first; what needs no opening goes before what tells a little more."""

    def worth(step: NextStep) -> float:
        return step.bits * (_TROUBLE if step.kind == "guitar open" else 1.0)

    return ranked(
        steps,
        lambda step: -worth(step),
        lambda step: _KINDS.index(step.kind),
        lambda step: not (step.reading and _own_leads(step.reading, suspects)),
    )


def _trouble(reading: ResistanceReading) -> int:
    return _KINDS.index("guitar open" if reading.between else "at the jack")


def _touched(fault: Fault) -> set[str]:
    """Names of the parts that a fault changes, takes off their joint or lies across."""
    faulty, sound = fault.guitar, fault.sound
    found = {name for name, part in sound.parts.items() if faulty.parts.get(name) != part}
    # The lug that came off its joint has lost, or changed, more company than those that stayed.
    before, after = ({lug: {*j} for j in one.joined for lug in j} for one in (sound, faulty))
    lost = {lug: len(joint - after.get(lug, set())) for lug, joint in before.items()}
    most_lost = max(lost.values(), default=0)
    found |= {lug.partition(".")[0] for lug, many in lost.items() if many == most_lost > 0}
    for added in faulty.parts.keys() - sound.parts.keys():
        ends = {faulty.node(f"{added}.{lug}") for lug in faulty.parts[added].lugs}
        for name, part in sound.parts.items():
            if ends <= {faulty.node(f"{name}.{lug}") for lug in part.lugs}:
                found.add(name)
    return found


def _own_leads(reading: ResistanceReading, parts: set[str]) -> bool:
    """Whether a reading is taken between two lugs of one of some parts."""
    owners = {lug.partition(".")[0] for lug in reading.between or ()}
    return len(owners) == 1 and owners <= parts


def _entropy(weights: np.ndarray) -> float:
    return float(-(weights * np.log2(weights)).sum())


def _readings(guitar: Harness, taken: Sequence[ResistanceReading]) -> list[ResistanceReading]:
    """Readings that could be taken: at the jack over places and knobs, and between lugs."""
    done = {_where(reading) for reading in taken}
    states: list[dict[str, Any]] = []
    for place in stations(guitar):
        states.append(place)
        for name, part in guitar.parts.items():
            if isinstance(part, Pot):
                states += [place | {name: mark} for mark in (5, 0)]
    found = [ResistanceReading(settings=state) for state in states]
    found += [ResistanceReading(between=pair) for pair in _pairs(guitar)]
    return [reading for reading in found if _where(reading) not in done]


def _where(reading: ResistanceReading) -> Any:
    return tuple(sorted(reading.settings.items())), reading.between, reading.largest_over


def _pairs(guitar: Harness) -> Iterator[tuple[str, str]]:
    """Pairs of lugs that a probe reaches: along each joint, and across each part."""
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
    """What a fault would show in further readings, given what was read."""

    def __init__(
        self,
        fault: Fault,
        known: Expected,
        weighed: Evidence,
        taken: Sequence[ResistanceReading],
        options: Sequence[ResistanceReading],
        bench: Bench,
    ) -> None:
        self._floor = bench.meter.floor
        log = weighed.log_likelihood
        rows = np.sort(order(log.max() - log, floor=SAME)[:_ROWS])
        self._share = np.exp(log[rows] - log[rows].max())
        self._share /= self._share.sum()
        unknown = fault.unknown
        if unknown:
            unknown = unknown[0], tuple(unknown[1][row] for row in rows)
        ahead = bench.predict(fault.guitar, options, unknown)
        self.ohms, self._sigma = _given(
            known.take(rows), np.array([reading.ohms for reading in taken]), ahead, bench.meter
        )

    def mean(self, column: int) -> float:
        """Likeliest value of a further reading [ohm]."""
        return float(self.ohms[int(most(self._share, SAME)), column])

    def density(self, column: int) -> np.ndarray:
        """Probability of each cell of the grid of log ohm, and of OL in the last cell."""
        found = np.zeros(_GRID.size + 1)
        for share, ohms, sigma in zip(
            self._share, self.ohms[:, column], self._sigma[:, column], strict=True
        ):
            if math.isinf(ohms):
                found[-1] += share
                continue
            width = max(sigma / max(ohms, self._floor), _GRID[1] - _GRID[0])
            bell = np.exp(-0.5 * ((_GRID - math.log(max(ohms, self._floor))) / width) ** 2)
            found[:-1] += share * bell / bell.sum()
        return found


def _given(
    known: Expected, seen: np.ndarray, ahead: Expected, meter: Ohmmeter
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and standard deviation of further readings, given what was read.

    Both share the parts' errors, so what was read narrows what will be.
    """
    names = list({**known.spread, **ahead.spread})
    ohms, sigma = ahead.ohms.copy(), np.zeros(ahead.ohms.shape)
    before, after = known.table(names), ahead.table(names)
    for row in range(len(ohms)):
        columns = np.isfinite(seen) & np.isfinite(known.ohms[row])
        own = before[row][columns]
        covariance = own @ own.T + np.diag(meter.uncertainty(seen[columns]) ** 2)
        gain = np.linalg.solve(covariance, own @ after[row].T).T
        off = seen[columns] - known.ohms[row][columns]
        shift = gain @ off
        variance = (after[row] ** 2).sum(axis=1) - (gain * (after[row] @ own.T)).sum(axis=1)
        finite = np.isfinite(ohms[row])
        ohms[row, finite] = np.maximum(ohms[row, finite] + shift[finite], 0)
        noise = meter.uncertainty(np.where(finite, ohms[row], 0.0))
        sigma[row] = np.sqrt(np.maximum(variance, 0) + noise**2)
    return ohms, sigma


def _information(weights: np.ndarray, densities: Sequence[np.ndarray]) -> float:
    """Mutual information of the outcome and the fault [bit]."""
    table = np.stack(densities)
    mixed = weights @ table
    there = table > 1e-300  # smaller is rounding of a bell's foot
    ratio = np.divide(table, mixed, out=np.ones_like(table), where=there)
    return float(weights @ (np.where(there, table, 0.0) * np.log2(ratio)).sum(axis=1))


def _step(reading: ResistanceReading, bits: float, ohms: float) -> NextStep:
    opened = ", the guitar open" if reading.between else ""
    where = plain_words(reading.where())
    return NextStep(f"measure {where}{opened}", bits, reading.with_ohms(ohms))


def _by_ear(
    guitar: Harness,
    faults: Sequence[Fault],
    weights: np.ndarray,
    told: Sequence[tuple[str, Place | None]],
) -> list[NextStep]:
    """Trials by ear, weighed over the likeliest faults, but for where something was heard."""
    listened = {where for _, where in told}
    known: Circuits = {}
    share = (np.arange(_MOST_HEARD) + 0.5) / _MOST_HEARD
    # Shares may end where one of these lies, as of 32 faults that are alike likely.
    ends = np.cumsum(weights)
    chosen, times = np.unique(np.searchsorted(ends, share - SAME), return_counts=True)
    ears = [Ear(faults[i], known) for i in np.minimum(chosen, len(faults) - 1)]
    own = times / times.sum()
    steps = []
    for symptom in SYMPTOMS:
        for where in everywhere(guitar, symptom):
            # One who says what is wrong there has listened: it would come to the same again.
            if where in listened or (symptom, None) in told:
                continue
            heard = np.array([_HEARD[0] if ear.has(symptom, where) else _HEARD[1] for ear in ears])
            bits = _information(own, [np.array([p, 1 - p]) for p in heard])
            if at_least(bits, _WORTH):
                place = place_words(guitar, where).replace("_", " ") or "the guitar"
                steps.append(NextStep(f"find out by ear whether {place} {_verb(symptom)}", bits))
    return steps


def _verb(symptom: str) -> str:
    """A symptom as what a place or knob does."""
    return symptom if symptom in KNOB_SYMPTOMS or symptom[-1] == "s" else f"is {symptom}"
