"""Which faults explain the readings, and what to measure next."""

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
from ..bench.ohmmeter import Ohmmeter, displayed
from ..bench.readings import ResistanceReading, readings_of
from ..response.sweep import check_guitar
from ..spread.tolerance import read_tolerances
from .faults import Fault, faults
from .likelihood import SAME, Expected, ReadingModel
from .next_step import NextStep, next_steps
from .symptoms import KnownCircuits, LevelComparison, Site, read_symptoms

__all__ = ["Diagnosis", "Explanation", "diagnose", "same_readings"]

_OPEN = 20e6  # ohm; stands for OL when distances are compared
_RARE = 1e-3  # a deviation this rare does not fit
_LOG_REPORTED, _LOG_UNREPORTED = (
    math.log(0.9),
    math.log(0.05),
)  # a symptom is reported where it occurs, or where not


@public
@dataclass(frozen=True)
class Explanation:
    """Faults that the given readings cannot tell apart, and how well they fit.

    Parameters
    ----------
    faults : tuple of Fault
        The faults. The guitar without a fault is one of kind "none".
    probability : float
        Probability that it is one of them, given the readings, if every fault is equally likely
        before. If nothing fits, the number only ranks the explanations.
    fits : bool
        Whether parts and meter within their limits may give these readings. Worse deviations
        occur once in a thousand cases.
    readings : tuple of float
        Expected readings of the first of the faults [ohm], in the order of the readings; with the
        best fitting value if the fault leaves one unknown.
    """

    faults: tuple[Fault, ...]
    probability: float
    fits: bool
    readings: tuple[float, ...] = field(repr=False)

    @property
    def healthy(self) -> bool:
        """Whether the guitar without a fault is one of them."""
        return any(fault.kind == "none" for fault in self.faults)

    def __str__(self) -> str:
        return "; ".join(fault.label for fault in self.faults)


@public
@dataclass(frozen=True, repr=False)
class Diagnosis(Tabled):
    """Possible faults of a guitar, the likeliest first. Made by `guitarnet.diagnose`.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    readings : tuple of ResistanceReading
        What was read.
    explanations : tuple of Explanation
        Groups of faults with the same readings, by falling probability.
    next : tuple of NextStep
        What to measure or try next; the most informative first.
    symptoms_fit : bool
        Whether some fault that fits the readings also makes every symptom that was reported.
    """

    guitar: Harness
    readings: tuple[ResistanceReading, ...]
    explanations: tuple[Explanation, ...]
    next: tuple[NextStep, ...]
    symptoms_fit: bool = True

    @property
    def fitting(self) -> tuple[Explanation, ...]:
        """The explanations that fit."""
        return tuple(one for one in self.explanations if one.fits)

    @property
    def healthy_fits(self) -> bool:
        """Whether the guitar without a fault fits the readings."""
        return any(one.fits and one.healthy for one in self.explanations)

    def verdict(self) -> str:
        """Sum the outcome up in a sentence or two."""
        sentence = self._outcome()
        if self.fitting and not self.symptoms_fit:
            sentence += (
                " But none of these makes the symptoms that were given: there may be two faults."
            )
        return sentence

    def _outcome(self) -> str:
        if not self.fitting:
            nearest = self.explanations[0].faults[0].label
            sentence = (
                f"No single fault explains these readings; the nearest is: {nearest}. Check the "
                "readings, the meter's range and the switch place, or look for two faults."
            )
            if any(math.isinf(reading.ohms) for reading in self.readings):
                sentence += (
                    " A meter on a fixed range shows OL above that range: give the range as the "
                    "largest reading, such as 20k."
                )
            return sentence
        count = sum(len(one.faults) for one in self.fitting)
        if self.healthy_fits:
            fits = "The guitar without a fault fits these readings"
            if count == 1:
                return f"{fits}, and nothing else does."
            others = "so does 1 fault" if count == 2 else f"so do {count - 1} faults"
            return f"{fits}; {others}, which change the readings too little to notice."
        if count == 1:
            return f"One fault fits: {self.fitting[0].faults[0].label}."
        if len(self.fitting) == 1:
            return f"{count} faults fit; your readings and symptoms do not tell them apart."
        return f"{count} faults fit, in {len(self.fitting)} groups that the readings tell apart."

    def table(self, *, fitting: bool = True, most: int = 6) -> Table:
        """List explanations, the likeliest first.

        Parameters
        ----------
        fitting : bool
            Whether to list only explanations that fit and have a probability of 0.001 or more.
        most : int
            How many faults of each explanation to name; the others are counted.

        Returns
        -------
        Table
            Probability, expected readings and faults of each explanation.
        """
        likely = [one for one in self.fitting if at_least(one.probability, _RARE)]
        listed = (likely or self.explanations[:3]) if fitting else self.explanations
        rows = [
            (
                number,
                _share(one.probability) if self.fitting else "",
                ", ".join(displayed(ohms, digits=3) for ohms in one.readings),
                _in_words(one.faults, most),
            )
            for number, one in enumerate(listed, 1)
        ]
        read = ", ".join(displayed(reading.ohms, digits=3) for reading in self.readings)
        columns = ("", "probability", "should read", "faults with the same readings")
        note = "\n".join([self.verdict(), *self._steps(), CAUTIONS])
        return Table(columns, rows, f"{self.guitar.name}, read: {read}", note)

    def _records(self) -> Iterator[dict[str, Any]]:
        for number, one in enumerate(self.explanations, 1):
            for fault in one.faults:
                yield {
                    "group": number,
                    "fault": fault.label,
                    "kind": fault.kind,
                    "probability": one.probability,
                    "fits": one.fits,
                }

    def _steps(self) -> list[str]:
        if not self.next:
            return ["No further reading or trial would tell the faults apart."]
        # The best step of each kind: with the guitar closed, with it open, by ear.
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
    """Find the faults that explain resistance readings, and what to measure next.

    Unplug the guitar from everything before opening or measuring it.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    readings : mapping, ResistanceReading or sequence of ResistanceReading
        What you read at the jack with all controls up, by switch place: ``{"neck": "6.05k",
        "bridge": "OL"}``; or other readings in full.
    symptoms : mapping, iterable of str or str
        What you hear, from `guitarnet.bench.SYMPTOMS`: ``{"silent": "neck", "does nothing":
        "tone_1"}``, or the symptom alone if it may be anywhere.
    meter : Ohmmeter, optional
        The meter; a usual one by default.
    tolerances : mapping of str to float or str, optional
        Tolerance of each value by path, as 0.05 or "5%"; by default from
        `guitarnet.tolerances.tolerances_of`.
    kinds : str or iterable of str, optional
        Kinds of faults to look for, from `guitarnet.bench.FAULT_KINDS`; all by default.
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
    Faults are in one group if their nominal readings agree within the meter's limits of error.
    Faults whose likelihoods agree within a thousandth keep the order of `guitarnet.bench.faults`.
    Each fault is equally likely before the readings. Parts' errors are independent, with the
    standard deviation of a rectangular distribution within their limits, but half the variance of a
    coil's resistance is common to all coils (one spool of wire, or one meter and thermometer: a
    guess, no source); readings are linear in them, with exact slopes. A person reports a symptom
    with probability 0.9 if the fault makes it and 0.05 if not (assumed). Next steps are ranked by
    their mutual information with the fault, given the readings.

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
    >>> found.explanations[0].faults[0].label
    'open joint at neck ground'
    """
    check_guitar(guitar)
    guitar.check()
    if meter is not None and not isinstance(meter, Ohmmeter):
        raise BadSetting(
            "meter", f"{a(type(meter))} is no meter", "give gn.bench.Ohmmeter(...)", meter
        )
    taken = readings_of(guitar, readings)
    reported = read_symptoms(guitar, symptoms)
    candidates = [Fault("none", "no fault", guitar, guitar), *faults(guitar, kinds=kinds)]
    warmed = coil_warmth(coil_temperature)
    model = ReadingModel(meter or Ohmmeter(), read_tolerances(guitar, tolerances), warmed)
    _check_range(taken, model.meter)
    expected = [model.predict(f.guitar, taken, f.unknown) for f in candidates]
    seen = np.array([reading.ohms for reading in taken])
    weighed = [model.weigh(one, seen) for one in expected]
    totals = np.array([one.total for one in weighed])
    limit = _chi_square_limit(seen.size)
    fits = np.array([bool(at_most(one.chi_square, limit)) for one in weighed])
    made = _symptoms_made(candidates, totals, reported)
    totals = totals + made * _LOG_REPORTED + (len(reported) - made) * _LOG_UNREPORTED
    # Symptoms may tell apart what the readings cannot.
    groups = [
        [index for index in group if made[index] == count]
        for group in same_readings(candidates, expected, model.meter)
        for count in dict.fromkeys(made[group])
    ]
    ranks = totals if fits.any() else _nearness(candidates, expected, seen)
    likeliest = [
        one.ohms[int(most(evidence.log_likelihood, SAME))]
        for one, evidence in zip(expected, weighed, strict=True)
    ]
    explanations = _ranked(groups, candidates, likeliest, ranks, fits)
    symptoms_fit = bool(np.any(fits & (made == len(reported)))) or not reported
    next_ones: list[NextStep] = []
    if steps:
        next_ones = next_steps(
            guitar, candidates, expected, weighed, totals, taken, model, reported
        )
    return Diagnosis(guitar, taken, explanations, tuple(next_ones), symptoms_fit)


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
    """How near each fault comes if none fits: by ratio, with OL taken as 20 megohm."""
    distances = []
    for fault, one in zip(candidates, expected, strict=True):
        ohms = _nominal(fault, one)
        read, due = (np.minimum(values, _OPEN) for values in (seen, ohms))
        distances.append(-np.sum(np.abs(np.log((read + 1) / (due + 1)))))
    return np.array(distances)


def same_readings(
    candidates: Sequence[Fault], expected: Sequence[Expected], meter: Ohmmeter
) -> list[list[int]]:
    """Group faults whose nominal readings agree within the meter's limits of error.

    Parameters
    ----------
    candidates : sequence of Fault
        The faults.
    expected : sequence of Expected
        The expected readings of each.
    meter : Ohmmeter
        The meter.

    Returns
    -------
    list of list of int
        Groups of indices; each fault is in the first group whose first member it agrees with.
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
    """Readings at the nominal values of the faulty harness."""
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


def _symptoms_made(
    candidates: Sequence[Fault], totals: np.ndarray, reported: Sequence[tuple[str, Site | None]]
) -> np.ndarray:
    """Count the reported symptoms that each fault makes, if the readings leave it possible."""
    known: KnownCircuits = {}
    made = np.zeros(len(candidates), dtype=int)
    for index, fault in enumerate(candidates):
        if totals[index] >= totals.max() - 12:
            comparison = LevelComparison(fault, known)
            made[index] = sum(comparison.has(*one) for one in reported)
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
        # The guitar without a fault comes first in its group.
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


def _in_words(faults: Sequence[Fault], most: int) -> str:
    labels = [" = ".join([fault.label, *fault.also]) for fault in faults[:most]]
    return "; ".join(labels + [f"and {len(faults) - most} more"] * bool(len(faults) > most))
