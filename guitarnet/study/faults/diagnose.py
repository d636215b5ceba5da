"""Which faults explain the readings, and what to measure next."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ...circuit.harness import CAUTIONS, Harness, kept
from ...errors import BadSetting, a
from ...gate import public
from ...ranking import at_least, at_most, groups as groups_of, most, ranked
from ...table import Table, Tabled
from ...units import fixed, format_value
from ..bench.meter import coil_warmth
from ..bench.ohmmeter import Ohmmeter, displayed
from ..bench.readings import ResistanceReading, readings_of
from ..response.sweep import check_guitar
from ..spread.tolerance import read_tolerances
from .faults import Fault, faults
from .kinds import OFTEN
from .likelihood import SAME, Evidence, Expected, ReadingModel
from .next_step import NextStep, Search, Suspects, in_ten, next_steps
from .observed import Observed, read_observed
from .symptoms import Comparisons

__all__ = ["Diagnosis", "Explanation", "diagnose", "same_readings"]

_OPEN = 20e6  # ohm; stands for OL when distances are compared
_RARE = 1e-3  # a deviation this rare does not fit
_UNLIKELY = math.log(0.05)  # of anything observed, with a fault that the readings rule out
_CERTAIN = 0.9  # a guitar is called sound, and a cause is named, from here on
_OCCURS = {"likely": 1 / 3, "possible": 0.1, "rare": 0.0}
"""Least probability of a cause beside the likeliest one of its explanation."""


@public
@dataclass(frozen=True)
class Explanation:
    """Faults that the given readings cannot tell apart, and how well they fit.

    Parameters
    ----------
    faults : tuple of Fault
        The faults, the likeliest first. The guitar without a fault is one of kind "none".
    probability : float
        Probability that it is one of them, given the readings, if every fault is equally likely
        before. If nothing fits, the number only ranks the explanations.
    fits : bool
        Whether parts and meter within their limits may give these readings. Worse deviations
        occur once in a thousand cases.
    readings : tuple of float
        Expected readings of the first of the faults [ohm], in the order of the readings; with the
        best fitting value if the fault leaves one unknown.
    shares : tuple of float
        Probability of each fault if it is one of them: by the readings, and by how often faults of
        its kind occur.
    values : tuple
        For each fault that leaves a resistance unknown its likeliest value and the limits within
        which it lies 95 times in 100 [ohm]; None for the others.
    """

    faults: tuple[Fault, ...]
    probability: float
    fits: bool
    readings: tuple[float, ...] = field(repr=False)
    shares: tuple[float, ...] = field(default=(), repr=False)
    values: tuple[tuple[float, float, float] | None, ...] = field(default=(), repr=False)

    @property
    def healthy(self) -> bool:
        """Whether the guitar without a fault is one of them."""
        return any(fault.kind == "none" for fault in self.faults)

    def occurrence(self) -> tuple[str, ...]:
        """Say of each fault whether it is "likely", "possible" or "rare" beside the likeliest."""
        top = max(self.shares, default=1.0)
        return tuple(
            next(word for word, least in _OCCURS.items() if at_least(share, least * top))
            for share in self.shares
        )

    def labels(self) -> tuple[str, ...]:
        """Label each fault, with its other names and its ohms."""
        return tuple(
            " = ".join([fault.label, *fault.also]) + _ohms_label(value)
            for fault, value in zip(self.faults, self.values, strict=True)
        )

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
        What to measure or try next; first what tells most for its cost.
    symptoms_fit : bool
        Whether some fault that fits the readings also makes every symptom that was reported, and
        every result of a test.
    sound : bool
        Whether the guitar is called sound: nothing observed speaks against it, and it is right
        nine times in ten.
    note : str
        Why there is no next step, if the causes are not told apart.
    """

    guitar: Harness
    readings: tuple[ResistanceReading, ...]
    explanations: tuple[Explanation, ...]
    next: tuple[NextStep, ...]
    symptoms_fit: bool = True
    sound: bool = False
    note: str = ""

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
        text = self._outcome()
        if self.fitting and not self.symptoms_fit:
            text += " But none of these makes what was observed: there may be two faults."
        return text

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
        first = self.fitting[0]
        if self.sound:
            right = in_ten(first.probability)
            text = f"The guitar is sound as far as these readings go; that is right {right}."
            hidden = Counter(fault.kind for fault in first.faults[1:])
            if hidden:
                kinds = ", ".join(f"{kind} {count}" for kind, count in hidden.items())
                text += (
                    f" They cannot see {hidden.total()} faults ({kinds}): turn every knob, tap "
                    "every pole and listen in every switch place."
                )
            return text
        groups = self._listed()
        count, cause = sum(len(one.faults) for one in groups), first.labels()[0]
        if count == 1:
            return f"One fault fits: {cause}."
        if at_least(first.probability, _CERTAIN):
            right = in_ten(first.probability)
            if len(first.faults) == 1:
                return f"The cause is {cause}; that is right {right}."
            return (
                f"{len(first.faults)} faults explain this, and one of them is right {right}; your "
                "readings do not tell them apart."
            )
        text = f"{count} faults fit, in {len(groups)} groups that the readings tell apart."
        if any(one.healthy for one in groups):
            text = f"The guitar without a fault fits, but {count - 1} faults fit too."
        return f"{text} None is certain yet: solder nothing before the next step."

    def _listed(self) -> Sequence[Explanation]:
        """Explanations that fit and are not very unlikely."""
        likely = [one for one in self.fitting if at_least(one.probability, _RARE)]
        return likely or self.explanations[:3]

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
        listed = self._listed() if fitting else self.explanations
        rows = [
            (
                number,
                _share(one.probability) if self.fitting else "",
                ", ".join(displayed(ohms, digits=3) for ohms in one.readings),
                _in_words(one, most),
            )
            for number, one in enumerate(listed, 1)
        ]
        read = ", ".join(displayed(reading.ohms, digits=3) for reading in self.readings)
        columns = ("", "probability", "should read", "faults with the same readings")
        note = "\n".join([self.verdict(), *self._steps(), CAUTIONS])
        return Table(columns, rows, f"{self.guitar.name}, read: {read}", note)

    def _records(self) -> Iterator[dict[str, Any]]:
        for number, one in enumerate(self.explanations, 1):
            for fault, share, occurs, value in zip(
                one.faults, one.shares, one.occurrence(), one.values, strict=True
            ):
                ohms, low, high = value or (math.nan,) * 3
                yield {
                    "group": number,
                    "fault": fault.label,
                    "kind": fault.kind,
                    "probability": one.probability,
                    "share": share,
                    "occurs": occurs,
                    "fits": one.fits,
                    "ohms": ohms,
                    "low": low,
                    "high": high,
                }

    def _steps(self) -> list[str]:
        if self.next:
            # The best step of each kind.
            best = {step.kind: step for step in reversed(self.next)}.values()
            first, *others = sorted(best, key=self.next.index)
            return [f"Next: {first}", *(f"Or: {step}" for step in others)]
        return [self.note] if self.note else []


@public(symptoms=None, tests=None, kinds=None, tolerances=None, readings=None)
def diagnose(
    guitar: Harness,
    readings: Mapping[str, Any] | Sequence[ResistanceReading] | ResistanceReading,
    *,
    symptoms: Mapping[str, Any] | Iterable[str] | str | None = (),
    tests: Mapping[str, Any] | None = None,
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
    tests : mapping of str to mapping, optional
        Results of tests at the bench. ``{"compass": {"neck": "north", "middle": "south"}}``: the
        pole above each coil. ``{"screwdriver": {"neck": "positive", "middle": "negative"}}``: how
        the meter kicks, on low DC volts at the jack, when the screwdriver touches a pole; "none"
        if it does not. ``{"tap": {"bridge": ["bridge"]}}``: the pickups that sound at a switch
        place when you tap them; "none" if all are silent.
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
        If a reading, place, symptom, test or kind does not exist.

    Notes
    -----
    Faults are in one group if their nominal readings agree within the meter's limits of error.
    Each fault is equally likely before the readings. Within a group, which the readings do not
    split, causes are weighed by how often they occur: a joint 1, wrong or touching leads 1/2, a
    part, being new, 1/20 (common practice, no source). "likely" is from a third of the likeliest
    on, "possible" from a tenth, "rare" is less. Faults that weigh the same within a thousandth
    keep the order of `guitarnet.bench.faults`. Parts' errors are independent, with the
    standard deviation of a rectangular distribution within their limits, but half the variance of
    a coil's resistance is common to all coils (one spool of wire, or one meter and thermometer: a
    guess, no source); readings are linear in them, with exact slopes. A person reports a symptom
    with probability 0.9 if the fault makes it and 0.05 if not, and notes a test wrongly with
    probability 0.001 (assumed). For a compass and a
    screwdriver only the differences between coils count. A guitar is called sound if that is right
    nine times in ten; then there is no next step. Next steps are ranked by their mutual
    information with the fault, given the readings, over what they cost: a reading at the jack 1, a
    trial 2, the suspects' own lugs 15, other lugs 20, a lifted lead 30, and 14 less once the guitar
    is open (common practice, no source). If none of these tells the causes apart, two knobs are
    turned, all pairs of lugs are taken in every switch place and each lead is lifted, for 5 s of
    computing at most.

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
    observed = read_observed(guitar, symptoms, tests)
    candidates = [Fault("none", "no fault", guitar, guitar), *faults(guitar, kinds=kinds)]
    warmed = coil_warmth(coil_temperature)
    shares = read_tolerances(guitar, tolerances)
    as_given = meter or Ohmmeter(), warmed, tuple(shares.items())
    # Further readings of a guitar change how well each fault fits, not what each would show.
    model = kept(guitar, as_given, lambda: ReadingModel(as_given[0], shares, warmed))
    _check_range(taken, model.meter)
    expected = [model.predict(f.guitar, taken, f.unknown) for f in candidates]
    seen = np.array([reading.ohms for reading in taken])
    weighed = [model.weigh(one, seen) for one in expected]
    totals = np.array([one.total for one in weighed])
    limit = _chi_square_limit(seen.size)
    fits = np.array([bool(at_most(one.chi_square, limit)) for one in weighed])
    likely, made = _observations(guitar, candidates, totals, observed)
    totals = totals + likely
    # What was observed may tell apart what the readings cannot.
    evidence = groups_of(likely)
    groups = [
        [index for index in group if evidence[index] == number]
        for group in same_readings(candidates, expected, model.meter)
        for number in dict.fromkeys(evidence[group])
    ]
    ranks = totals if fits.any() else _nearness(candidates, expected, seen)
    often = np.log([OFTEN[fault.kind] for fault in candidates])
    explanations, weights = _ranked(groups, candidates, expected, weighed, (ranks, often, fits))
    symptoms_fit = bool(np.any(fits & made)) or not observed
    first, search = explanations[0], Search()
    # The guitar without a fault is the first candidate.
    sound = first.healthy and first.fits and (made[0] or not observed)
    sound = bool(sound and at_least(first.probability, _CERTAIN))
    if steps and not sound:
        suspects = Suspects(candidates, expected, weighed, weights, taken, model)
        search = next_steps(guitar, suspects, taken, observed)
    return Diagnosis(guitar, taken, explanations, search.steps, symptoms_fit, sound, search.note)


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


def _observations(
    guitar: Harness, candidates: Sequence[Fault], totals: np.ndarray, observed: Sequence[Observed]
) -> tuple[np.ndarray, np.ndarray]:
    """Log likelihood of what was observed with each fault, and whether the fault makes all of it.

    Faults that the readings rule out are not asked.
    """
    compared = kept(guitar, Comparisons, Comparisons)
    likely = np.full(len(candidates), len(observed) * _UNLIKELY)
    made = np.zeros(len(candidates), dtype=bool)
    for index, fault in enumerate(candidates):
        if observed and totals[index] >= totals.max() - 12:
            comparison = compared.of(fault)
            likely[index] = sum(one.log_likelihood(comparison) for one in observed)
            made[index] = all(one.fits(comparison) for one in observed)
    return likely, made


def _ranked(
    groups: Sequence[Sequence[int]],
    candidates: Sequence[Fault],
    expected: Sequence[Expected],
    weighed: Sequence[Evidence],
    by: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> tuple[tuple[Explanation, ...], np.ndarray]:
    """The explanations by falling probability, and the log probability of each fault."""
    totals, often, fits = by
    whole = np.logaddexp.reduce(totals)
    weights = totals + often
    made = []
    for group in groups:
        log = float(np.logaddexp.reduce(totals[group]) - whole)
        own = weights[group] - np.logaddexp.reduce(weights[group])
        weights[group] = own + log
        # The guitar without a fault comes first in its group.
        order = ranked(
            group,
            lambda index: candidates[index].kind != "none",
            lambda index: -float(weights[index]),
            floor=SAME,
        )
        first = order[0]
        likeliest = expected[first].ohms[int(most(weighed[first].log_likelihood, SAME))]
        explanation = Explanation(
            tuple(candidates[index] for index in order),
            math.exp(log),
            bool(fits[order].any()),
            tuple(float(ohms) for ohms in likeliest),
            tuple(math.exp(weights[index] - log) for index in order),
            tuple(_value(candidates[index], weighed[index]) for index in order),
        )
        made.append((log, explanation))
    return tuple(one for _, one in ranked(made, lambda pair: -pair[0], floor=SAME)), weights


def _value(fault: Fault, weighed: Evidence) -> tuple[float, float, float] | None:
    """The unknown resistance of a fault: likeliest value, and limits of 95 in 100.

    Between two values that were tried all values are equally likely on a scale of ratios.
    """
    if fault.unknown is None:
        return None
    tried = np.log(np.array(fault.unknown[1]))
    share = np.exp(weighed.log_likelihood - weighed.log_likelihood.max())
    middle = (tried[1:] + tried[:-1]) / 2
    edges = np.concatenate([tried[:1], middle, tried[-1:]])
    rising = np.concatenate([[0.0], np.cumsum(share / share.sum())])
    if edges[0] > edges[-1]:
        edges, rising = edges[::-1], 1 - rising[::-1]
    mean = float(share @ tried / share.sum())
    low, high = np.interp([0.025, 0.975], rising, edges)
    return math.exp(mean), math.exp(low), math.exp(high)


def _ohms_label(value: tuple[float, float, float] | None) -> str:
    if value is None:
        return ""
    ohms, low, high = (displayed(one, digits=2) for one in value)
    return f" ({ohms}, from {low} to {high})"


def _share(probability: float) -> str:
    return "< 1%" if at_most(probability, 0.005) else f"{fixed(100 * probability, 0)}%"


def _in_words(one: Explanation, most: int) -> str:
    """Causes by how often they occur: "likely: ...; possible: ...; rare: ..."."""
    if one.healthy and len(one.faults) > 1:
        return f"{one.faults[0].label}, or one of {len(one.faults) - 1} faults that read the same"
    named: dict[str, list[str]] = {}
    for occurs, label in list(zip(one.occurrence(), one.labels(), strict=True))[:most]:
        named.setdefault(occurs, []).append(label)
    if len(one.faults) == 1:
        return one.labels()[0]
    more = [f"and {len(one.faults) - most} more"] * bool(len(one.faults) > most)
    return "; ".join(
        [*(f"{occurs}: {', '.join(labels)}" for occurs, labels in named.items()), *more]
    )
