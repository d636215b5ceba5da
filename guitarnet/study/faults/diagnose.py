"""Which fault explains what was read: every fault that fits, and what to measure next."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ...circuit.harness import CAUTIONS, Harness
from ...errors import BadSetting, a
from ...gate import public
from ...ranking import at_least, at_most, most, ranked
from ...table import Table, Tabled
from ...units import fixed, format_value
from ..bench.meter import coil_warmth
from ..bench.ohmmeter import Ohmmeter
from ..bench.readings import ResistanceReading, readings_of
from ..response.sweep import check_guitar
from ..spread.tolerance import read_tolerances
from .faults import Fault, faults
from .likelihood import SAME, Bench, Expected
from .next_step import NextStep, next_steps
from .symptoms import Circuits, Ear, Place, read_symptoms

__all__ = ["Diagnosis", "Explanation", "alike", "diagnose"]

_OPEN = 20e6  # ohm; what OL counts as where only nearness is asked
_RARE = 1e-3  # a deviation that parts and meter exceed this seldom counts as not fitting
_HEARD, _UNHEARD = math.log(0.9), math.log(0.05)  # that a symptom is told where it is, where not


@public
@dataclass(frozen=True)
class Explanation:
    """Faults that the given readings cannot tell apart, and how well they fit.

    Parameters
    ----------
    faults : tuple of Fault
        The faults; "no fault" is one of kind "none".
    probability : float
        That it is one of them, given the readings, every fault being as likely as any other
        before; where nothing fits, the nearest has the largest and the number means no more.
    fits : bool
        Whether parts and meter within their limits may give these readings; worse deviations
        come about once in a thousand sound cases.
    readings : tuple of float
        What the first of the faults should read [ohm], in the order of the readings; where the
        fault leaves a value unknown, with the value that fits best.
    """

    faults: tuple[Fault, ...]
    probability: float
    fits: bool
    readings: tuple[float, ...] = field(repr=False)

    @property
    def healthy(self) -> bool:
        """Whether the guitar without a fault is among them."""
        return any(fault.kind == "none" for fault in self.faults)

    def __str__(self) -> str:
        return "; ".join(fault.words for fault in self.faults)


@public
@dataclass(frozen=True, repr=False)
class Diagnosis(Tabled):
    """What may be wrong with a guitar, the likeliest first. Made by `guitarnet.diagnose`.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    readings : tuple of ResistanceReading
        What was read.
    explanations : tuple of Explanation
        Every class of faults, by falling probability; within one, the readings are alike.
    next : tuple of NextStep
        What to measure or try next, by falling expected information.
    heard_fits : bool
        Whether a fault that fits the readings makes every symptom that was told.
    """

    guitar: Harness
    readings: tuple[ResistanceReading, ...]
    explanations: tuple[Explanation, ...]
    next: tuple[NextStep, ...]
    heard_fits: bool = True

    @property
    def fitting(self) -> tuple[Explanation, ...]:
        """The explanations that fit."""
        return tuple(one for one in self.explanations if one.fits)

    @property
    def healthy_fits(self) -> bool:
        """Whether the guitar without a fault fits the readings."""
        return any(one.fits and one.healthy for one in self.explanations)

    def verdict(self) -> str:
        """Say the outcome in a sentence or two."""
        words = self._outcome()
        if self.fitting and not self.heard_fits:
            words += " But none of these sounds as was told: there may be two faults."
        return words

    def _outcome(self) -> str:
        if not self.fitting:
            nearest = self.explanations[0].faults[0].words
            words = (
                f"No single fault explains these readings; nearest comes: {nearest}. Check the "
                "readings, the meter's range and the switch place, or look for two faults."
            )
            if any(math.isinf(reading.ohms) for reading in self.readings):
                words += (
                    " A meter on a fixed range shows OL from that range up: give the range as "
                    "the largest reading, such as 20k."
                )
            return words
        count = sum(len(one.faults) for one in self.fitting)
        if self.healthy_fits:
            fits = "The guitar without a fault fits these readings"
            if count == 1:
                return f"{fits}, and nothing else does."
            others = "so does 1 fault" if count == 2 else f"so do {count - 1} faults"
            return (
                f"{fits}; {others} that they cannot see or cannot tell from parts within their "
                "limits."
            )
        if count == 1:
            return f"One fault fits: {self.fitting[0].faults[0].words}."
        if len(self.fitting) == 1:
            return f"{count} faults fit; nothing that was given tells them apart."
        return f"{count} faults fit, in {len(self.fitting)} groups that the readings tell apart."

    def table(self, *, fitting: bool = True, most: int = 6) -> Table:
        """List explanations, the likeliest first.

        Parameters
        ----------
        fitting : bool
            Whether to list only those that fit and are not rarer than one in a thousand.
        most : int
            How many faults of each to name; the rest is counted.

        Returns
        -------
        Table
            For each explanation its probability, what should be read, and its faults.
        """
        likely = [one for one in self.fitting if at_least(one.probability, _RARE)]
        listed = (likely or self.explanations[:3]) if fitting else self.explanations
        rows = [
            (
                number,
                _share(one.probability) if self.fitting else "",
                ", ".join(_shown(ohms) for ohms in one.readings),
                _in_words(one.faults, most),
            )
            for number, one in enumerate(listed, 1)
        ]
        read = ", ".join(_shown(reading.ohms) for reading in self.readings)
        columns = ("", "probability", "should read", "faults that this cannot tell apart")
        note = "\n".join([self.verdict(), *self._steps(), CAUTIONS])
        return Table(columns, rows, f"{self.guitar.name}, read: {read}", note)

    def _records(self) -> Iterator[dict[str, Any]]:
        for number, one in enumerate(self.explanations, 1):
            for fault in one.faults:
                yield {
                    "group": number,
                    "fault": fault.words,
                    "kind": fault.kind,
                    "probability": one.probability,
                    "fits": one.fits,
                }

    def _steps(self) -> list[str]:
        if not self.next:
            return ["No further reading or trial would tell the faults apart."]
        # The best of each kind: at the closed guitar, with the guitar open, by ear.
        best = {step.kind: step for step in reversed(self.next)}.values()
        first, *others = sorted(best, key=self.next.index)
        return [f"Next: {first}.", *(f"Or: {step}." for step in others)]


@public(symptoms=None, kinds=None, tolerances=None, readings=None)
def diagnose(
    guitar: Harness,
    readings: Mapping[str, Any] | Sequence[ResistanceReading] | ResistanceReading,
    *,
    symptoms: Mapping[str, Any] | Iterable[str] | str | None = (),
    meter: Ohmmeter | None = None,
    tolerances: Mapping[str, Any] | None = None,
    kinds: Iterable[str] | str | None = None,
    coil_temperature: float | str = 20.0,
    steps: bool = True,
) -> Diagnosis:
    """Find the faults that explain resistance readings, and what would tell them apart.

    Unplug the guitar from everything before opening or measuring it.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    readings : mapping, ResistanceReading or sequence of ResistanceReading
        What was read: by switch place at the jack with all controls up, as ``{"neck": "6.05k",
        "bridge": "OL"}``, or in full.
    symptoms : mapping, iterable of str or str
        What is heard, of `guitarnet.bench.SYMPTOMS`: ``{"silent": "neck", "does nothing":
        "tone_1"}``, or the symptom alone where it may be anywhere.
    meter : Ohmmeter, optional
        The meter; a usual one unless given.
    tolerances : mapping of str to float or str, optional
        Plus or minus share of each value by path; as in
        `guitarnet.tolerances.tolerances_of` unless given.
    kinds : str or iterable of str, optional
        Kinds of faults to look for, of `guitarnet.bench.FAULT_KINDS`; all unless given.
    coil_temperature : float or str
        Temperature of the coils [°C]; a warm coil reads more.
    steps : bool
        Whether to look for what to measure next.

    Returns
    -------
    Diagnosis
        Explanations by falling probability, and the next steps.

    Raises
    ------
    BadSetting, BadValue, BadHarness
        If a reading, place, symptom or kind does not exist.

    Notes
    -----
    Faults are alike where their nominal readings agree within the meter's limits of error; those
    whose likelihoods agree within a thousandth keep the order of `guitarnet.bench.faults`. Each
    fault is as likely as any other before. Parts' errors are independent, with the standard
    deviation of a rectangular distribution within their limits; readings are linear in them, with
    exact slopes. A symptom is told with probability 0.9 where the fault makes it and 0.05 where
    not (assumed). Every possible next reading is weighed by its mutual information with the
    fault, given what was read.

    References
    ----------
    Propagation of uncertainty: JCGM 100:2008 (GUM), 5. Expected information: D. V. Lindley, "On a
    measure of the information provided by an experiment", Annals of Mathematical Statistics 27,
    1956, 986-1005.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> guitar = layouts.two_single_coils(coil, coil)
    >>> found = diagnose(guitar, {"neck": "250k", "neck+bridge": "6.05k", "bridge": "6.05k"})
    >>> found.explanations[0].faults[0].words
    'open joint at neck ground'
    """
    check_guitar(guitar)
    guitar.check()
    if meter is not None and not isinstance(meter, Ohmmeter):
        raise BadSetting(
            "meter", f"{a(type(meter))} is no meter", "give gn.bench.Ohmmeter(...)", meter
        )
    taken = readings_of(guitar, readings)
    heard = read_symptoms(guitar, symptoms)
    candidates = [Fault("none", "no fault", guitar, guitar), *faults(guitar, kinds=kinds)]
    warmed = float(coil_warmth(coil_temperature))
    bench = Bench(meter or Ohmmeter(), read_tolerances(guitar, tolerances), warmed)
    _check_range(taken, bench.meter)
    expected = [bench.predict(f.guitar, taken, f.unknown) for f in candidates]
    seen = np.array([reading.ohms for reading in taken])
    weighed = [bench.weigh(one, seen) for one in expected]
    totals = np.array([one.total for one in weighed])
    limit = _chi_square_limit(seen.size)
    fits = np.array([bool(at_most(one.chi_square, limit)) for one in weighed])
    made = _by_ear(candidates, totals, heard)
    totals = totals + made * _HEARD + (len(heard) - made) * _UNHEARD
    # What is heard may tell apart what the readings cannot.
    groups = [
        [index for index in group if made[index] == count]
        for group in alike(candidates, expected, bench.meter)
        for count in dict.fromkeys(made[group])
    ]
    ranks = totals if fits.any() else _nearness(candidates, expected, seen)
    likeliest = [
        one.ohms[int(most(own.log_likelihood, SAME))]
        for one, own in zip(expected, weighed, strict=True)
    ]
    explanations = _ranked(groups, candidates, likeliest, ranks, fits)
    heard_fits = bool(np.any(fits & (made == len(heard)))) or not heard
    found: list[NextStep] = []
    if steps:
        found = next_steps(guitar, candidates, expected, weighed, totals, taken, bench, heard)
    return Diagnosis(guitar, taken, explanations, tuple(found), heard_fits)


def _check_range(readings: Sequence[ResistanceReading], meter: Ohmmeter) -> None:
    for reading in readings:
        if meter.largest < reading.ohms < math.inf:
            raise BadSetting(
                "readings",
                f"{format_value(reading.ohms, 'ohm')} {reading.where()} is above the meter's "
                f"largest reading, {format_value(meter.largest, 'ohm')}",
                "give 'OL', or the meter's range as gn.bench.Ohmmeter(largest=...)",
                reading.ohms,
            )


def _nearness(
    candidates: Sequence[Fault], expected: Sequence[Expected], seen: np.ndarray
) -> np.ndarray:
    """How near each fault comes where none fits: by ratio, OL being taken as 20 megohm."""
    found = []
    for fault, one in zip(candidates, expected, strict=True):
        ohms = _nominal(fault, one)
        read, due = (np.minimum(values, _OPEN) for values in (seen, ohms))
        found.append(-np.sum(np.abs(np.log((read + 1) / (due + 1)))))
    return np.array(found)


def alike(
    candidates: Sequence[Fault], expected: Sequence[Expected], meter: Ohmmeter
) -> list[list[int]]:
    """Put faults into classes whose nominal readings agree within the meter's limits of error.

    Parameters
    ----------
    candidates : sequence of Fault
        The faults.
    expected : sequence of Expected
        What each should read.
    meter : Ohmmeter
        The meter.

    Returns
    -------
    list of list of int
        Classes of indices; each fault is in the first class whose first member it agrees with.
    """
    nominal = [_nominal(fault, one) for fault, one in zip(candidates, expected, strict=True)]
    classes: list[list[int]] = []
    for index, ohms in enumerate(nominal):
        first = np.array([nominal[known[0]] for known in classes]).reshape(-1, ohms.size)
        with np.errstate(invalid="ignore"):
            near = at_most(np.abs(first - ohms), meter.limit(np.minimum(first, ohms)))
        both_open = first == ohms
        agree = both_open | (near & np.isfinite(first) & np.isfinite(ohms))
        same = np.flatnonzero(agree.all(axis=1))
        if same.size:
            classes[same[0]].append(index)
        else:
            classes.append([index])
    return classes


def _nominal(fault: Fault, expected: Expected) -> np.ndarray:
    """Readings at the nominal values: those of the harness as `guitarnet.bench.faults` made it."""
    if fault.unknown is None:
        return expected.ohms[0]
    path, values = fault.unknown
    name, _, local = path.partition(".")
    part: Any = fault.guitar.parts[name]
    for step in local.split("."):
        part = getattr(part, step)
    return expected.ohms[int(np.argmin(np.abs(np.asarray(values) - part)))]


def _chi_square_limit(count: int) -> float:
    from scipy.special import chdtri  # scipy is heavy to import

    return float(chdtri(count, _RARE))


def _by_ear(
    candidates: Sequence[Fault], totals: np.ndarray, heard: Sequence[tuple[str, Place | None]]
) -> np.ndarray:
    """Count the symptoms that each fault makes which the readings leave possible."""
    known: Circuits = {}
    made = np.zeros(len(candidates), dtype=int)
    for index, fault in enumerate(candidates):
        if totals[index] >= totals.max() - 12:
            ear = Ear(fault, known)
            made[index] = sum(ear.has(*one) for one in heard)
    return made


def _ranked(
    groups: Sequence[Sequence[int]],
    candidates: Sequence[Fault],
    likeliest: Sequence[np.ndarray],
    totals: np.ndarray,
    fits: np.ndarray,
) -> tuple[Explanation, ...]:
    whole = np.logaddexp.reduce(totals)
    made = []
    for group in groups:
        # The guitar without a fault comes first of what the readings cannot tell from it.
        order = ranked(
            group,
            lambda index: candidates[index].kind != "none",
            lambda index: -float(totals[index]),
            floor=SAME,
        )
        log = float(np.logaddexp.reduce(totals[order]) - whole)
        explanation = Explanation(
            tuple(candidates[index] for index in order),
            math.exp(log),
            bool(fits[order].any()),
            tuple(float(ohms) for ohms in likeliest[order[0]]),
        )
        made.append((log, explanation))
    return tuple(one for _, one in ranked(made, lambda pair: -pair[0], floor=SAME))


def _share(probability: float) -> str:
    return "< 1%" if at_most(probability, 0.005) else f"{fixed(100 * probability, 0)}%"


def _shown(ohms: float) -> str:
    return "OL" if math.isinf(ohms) else format_value(ohms, "ohm", digits=3)


def _in_words(found: Sequence[Fault], most: int) -> str:
    said = [" = ".join([fault.words, *fault.also]) for fault in found[:most]]
    return "; ".join(said + [f"and {len(found) - most} more"] * bool(len(found) > most))
