"""What is observed without an ohmmeter: by ear, with a screwdriver, a compass, or by tapping.

Each observation says how likely it is if a guitar has a certain fault. What was observed already
is evidence; what may be observed next is a trial.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from ...circuit.harness import Harness
from ...errors import BadSetting, has_items, mapped, nearest
from ...units import plain_words
from .faults import main_places, stations
from .symptoms import (
    KNOB_SYMPTOMS,
    SYMPTOMS,
    LevelComparison,
    Site,
    Station,
    coil_paths,
    everywhere,
    read_place,
    read_symptoms,
    site_label,
)

__all__ = ["BENCH_TESTS", "Observed", "Trial", "read_observed", "trials"]

_REPORTED, _UNREPORTED = 0.9, 0.05  # a symptom is reported where it occurs, and where not
_RIGHT = 0.999  # a test at the bench is noted rightly
_SILENT = "none"

BENCH_TESTS: Mapping[str, tuple[str, ...]] = {
    "screwdriver": ("positive", "negative", _SILENT),
    "compass": ("north", "south"),
    "tap": (_SILENT,),
}
"""Tests at the bench, and what each may show.

"screwdriver": the meter's kick on low DC volts at the jack when the screwdriver touches a pole of
the coil. "compass": the pole above the coil. "tap": the pickups that sound when you tap the poles
of each, at a switch place.

Makers' conventions differ, so only the differences between coils count. The tests: common
practice, no source.
"""


@dataclass(frozen=True)
class Observed:
    """One thing that was observed.

    Parameters
    ----------
    kind : str
        A symptom, or one of `BENCH_TESTS`.
    site : tuple, str or None
        Where; None means anywhere, or the whole guitar.
    result : frozenset or mapping
        The pickups that sound, or the sign of each coil; not used for a symptom.
    """

    kind: str
    site: Site | None
    result: Any = None

    def fits(self, comparison: LevelComparison) -> bool:
        """Whether the fault makes what was observed."""
        if self.kind in SYMPTOMS:
            return comparison.has(self.kind, self.site)
        if self.kind == "tap":
            sounding = _sounding(comparison, self.site)
            return sounding is None or sounding == self.result
        return len(self.result) in self._signs(comparison)

    def log_likelihood(self, comparison: LevelComparison) -> float:
        """Log likelihood of what was observed, if the guitar has the fault."""
        if self.kind in SYMPTOMS:
            return math.log(_REPORTED if self.fits(comparison) else _UNREPORTED)
        if self.kind == "tap":
            return math.log(_RIGHT if self.fits(comparison) else 1 - _RIGHT)
        return math.log(
            sum(
                0.5 * _RIGHT**right * (1 - _RIGHT) ** (len(self.result) - right)
                for right in self._signs(comparison)
            )
        )

    def _signs(self, comparison: LevelComparison) -> tuple[int, int]:
        """Count the coils whose sign is right by one convention, and by the other."""
        due = _SIGNS[self.kind](comparison)
        agree = [due.get(path, 0) == sign for path, sign in self.result.items()]
        opposed = [due.get(path, 0) == -sign for path, sign in self.result.items()]
        return sum(agree), sum(opposed)


@dataclass(frozen=True)
class Trial:
    """Something to try without an ohmmeter.

    Parameters
    ----------
    text : str
        What to do.
    shows : callable
        From a comparison to what is then observed, in words.
    right, wrong : float
        Probability of each outcome if it is due, and if it is not.
    """

    text: str
    shows: Callable[[LevelComparison], str]
    right: float = _RIGHT
    wrong: float = 1 - _RIGHT

    def table(self, comparisons: Iterable[LevelComparison]) -> tuple[list[str], np.ndarray]:
        """Return what each fault shows, and the probability of each outcome with each fault."""
        shown = [self.shows(comparison) for comparison in comparisons]
        outcomes = list(dict.fromkeys(shown))
        due = np.array([[one == outcome for outcome in outcomes] for one in shown])
        if len(outcomes) == 1:
            return shown, np.ones((len(shown), 1))
        if outcomes[0] in ("yes", "no"):
            yes = np.where(np.array(shown) == "yes", self.right, self.wrong)
            return shown, np.stack([yes, 1 - yes], axis=1)
        return shown, np.where(due, self.right, self.wrong / (len(outcomes) - 1))


def read_observed(guitar: Harness, symptoms: Any, tests: Any) -> list[Observed]:
    """Read symptoms and the results of bench tests, as a person writes them down.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    symptoms : str, iterable of str, or mapping
        As in `read_symptoms`.
    tests : mapping or None
        Results by test and coil, or by switch place: ``{"compass": {"neck": "north", "middle":
        "south"}, "tap": {"neck": ["neck"]}}``.

    Returns
    -------
    list of Observed
        What was observed.

    Raises
    ------
    BadSetting
        If a symptom, test, coil, place or result does not exist.
    """
    found = [Observed(*one) for one in read_symptoms(guitar, symptoms)]
    like = "give {'compass': {'neck': 'north', 'middle': 'south'}}"
    for kind, results in mapped({} if tests is None else tests, "tests", like).items():
        if kind not in BENCH_TESTS:
            raise BadSetting("tests", f"{kind!r} is unknown", nearest(str(kind), BENCH_TESTS), kind)
        read = mapped(results, f"tests, {kind}", like)
        if kind == "tap":
            found += [_tapped(guitar, place, sounding) for place, sounding in read.items()]
        elif read:
            signs = dict(_read_sign(guitar, kind, *one) for one in read.items())
            found.append(Observed(kind, None, signs))
    return found


def trials(guitar: Harness, observed: Sequence[Observed]) -> list[Trial]:
    """List what may be tried next by ear, with a screwdriver, a compass or by tapping."""
    done = {(one.kind, one.site) for one in observed}
    # Whoever reported a symptom at a place has listened there already.
    listened = {one.site for one in observed if one.kind in SYMPTOMS}
    found = []
    for symptom in SYMPTOMS:
        for where in everywhere(guitar, symptom):
            if where not in listened and (symptom, None) not in done:
                site = site_label(guitar, where).replace("_", " ") or "the guitar"
                text = f"find out by ear whether {site} {_verb(symptom)}"
                found.append(Trial(text, partial(_heard, symptom, where), _REPORTED, _UNREPORTED))
    if len(coil_paths(guitar)) > 1:
        found += [
            Trial(text, partial(_signs_label, kind))
            for kind, text in _TEXTS.items()
            if (kind, None) not in done
        ]
    for station in stations(guitar):
        place = tuple(station.items())
        if ("tap", place) not in done:
            label = site_label(guitar, place)
            at = f" at {label}" if label else ""
            text = f"tap the poles of each pickup with a screwdriver{at}, amp turned low"
            found.append(Trial(text, partial(_sounding_label, place)))
    return found


def _verb(symptom: str) -> str:
    """A symptom as a verb: what a place or knob does."""
    return symptom if symptom in KNOB_SYMPTOMS or symptom[-1] == "s" else f"is {symptom}"


def _heard(symptom: str, where: Site, comparison: LevelComparison) -> str:
    return "yes" if comparison.has(symptom, where) else "no"


def _kicks(comparison: LevelComparison) -> dict[str, int]:
    """Sign of each coil's kick at the jack, where it should be heard with the fewest others."""
    places = [tuple(station.items()) for station in stations(comparison.fault.healthy_guitar)]
    due = {place: comparison.healthy_coils(place) or {} for place in places}
    kicks: dict[str, int] = {}
    for place in sorted(places, key=lambda place: len(due[place])):
        if due[place].keys() - kicks.keys():
            faulty = comparison.coils(place)[0] or {}
            kicks = {path: faulty.get(path, 0) for path in due[place]} | kicks
    return kicks


_SIGNS: Mapping[str, Callable[[LevelComparison], Mapping[str, int]]] = {
    "screwdriver": _kicks,
    "compass": LevelComparison.magnets,
}
_TEXTS = {
    "screwdriver": "touch a pole of each coil with a screwdriver, meter on low DC volts at the "
    "jack, switch where the coil should sound, and note which way the meter kicks",
    "compass": "hold a compass above each coil",
}
_UNLIKE = {"screwdriver": "kicks the other way", "compass": "has the other pole"}


def _signs_label(kind: str, comparison: LevelComparison) -> str:
    """What a test shows, in words: which coils differ from most, beside the healthy guitar."""
    due = _SIGNS[kind](comparison)
    silent = [plain_words(path) for path, sign in due.items() if not sign]
    signs = {path: sign for path, sign in due.items() if sign}
    if sum(signs.values()) < 0:
        signs = {path: -sign for path, sign in signs.items()}
    if not sum(signs.values()) and next(iter(signs.values()), 1) < 0:
        signs = {path: -sign for path, sign in signs.items()}
    unlike = [plain_words(path) for path, sign in signs.items() if sign < 0]
    parts = [f"{' and '.join(unlike)} {_UNLIKE[kind]}"] if unlike else []
    parts += [f"{' and '.join(silent)} does not kick"] if silent else []
    return ", ".join(parts) or "all are alike"


def _sounding(comparison: LevelComparison, place: Any) -> frozenset[str] | None:
    """Pickups that sound at a place; None if continuity does not say."""
    faulty, _ = comparison.coils(place)
    return None if faulty is None else frozenset(path.partition(".")[0] for path in faulty)


def _sounding_label(place: Station, comparison: LevelComparison) -> str:
    """Which pickups sound when they are tapped, in words."""
    pickups = _sounding(comparison, place)
    if pickups is None:
        return "it depends"
    names = " and ".join(plain_words(name) for name in sorted(pickups)) or "nothing"
    return f"{names} {'sound' if len(pickups) > 1 else 'sounds'}"


def _pickups(guitar: Harness) -> list[str]:
    return list(dict.fromkeys(path.partition(".")[0] for path in coil_paths(guitar)))


def _tapped(guitar: Harness, place: Any, given: Any) -> Observed:
    """Read which pickups sounded when they were tapped at a place."""
    where: Station = ()
    if main_places(guitar) or place not in ("", "at"):
        where = read_place(guitar, "tap", place, "tests")  # type: ignore[assignment]
    several = has_items(given) and not isinstance(given, (str, Mapping))
    names = [one for one in (given if several else [given]) if one != _SILENT]
    known = _pickups(guitar)
    for name in names:
        if name not in known:
            raise BadSetting(
                "tests, tap",
                f"there is no pickup {name!r}",
                nearest(str(name), [*known, _SILENT]),
                name,
            )
    return Observed("tap", where, frozenset(names))


def _read_sign(guitar: Harness, kind: str, coil: Any, result: Any) -> tuple[str, int]:
    known = coil_paths(guitar)
    path = next((path for path in known if coil in (path, plain_words(path))), None)
    if path is None:
        raise BadSetting(
            f"tests, {kind}", f"there is no coil {coil!r}", nearest(str(coil), known), coil
        )
    words = BENCH_TESTS[kind]
    if not isinstance(result, str) or result not in words:
        raise BadSetting(
            f"tests, {kind}", f"{result!r} is no result", f"give one of {', '.join(words)}", result
        )
    return path, (1, -1, 0)[words.index(result)]
