"""What a guitar does to the ear when it has a fault, computed from its response.

A symptom is a statement that is true or false of a faulty guitar beside the sound one, such as
that a switch place is silent or that a knob does nothing. Limits in decibels are conventions of
ours: a person notices such changes; nothing more is claimed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.netlist import Branch
from ...errors import BadSetting, has_items, nearest
from ...gate import public
from ...parts.output import Jack
from ...parts.pot import Pot
from ...solve import ac
from ...solve.structure import LIVE, place as branches_of, reduce, single_state
from ..bench.continuity import heard, senses
from ..response.labels import decibels
from .faults import Fault, main_places, stations

__all__ = [
    "KNOB_SYMPTOMS",
    "SYMPTOMS",
    "Circuits",
    "Ear",
    "Place",
    "everywhere",
    "place_words",
    "read_symptoms",
    "symptoms_of",
]

_HERTZ = [100.0, 1000.0, 3500.0]
_DOWN = [2.0, 0.0]  # marks to which each knob is turned
_NOTHING = -300.0  # dB; what silence counts as, so that differences stay numbers


Station = tuple[tuple[str, str], ...]
"""Places of switches, the others as they stand."""

Place = Station | str
"""Where a symptom is met: at a station, or with a knob, by its name."""

Circuits = dict[Any, "_Circuit"]
"""Circuits by place, of one guitar, and by what they are."""


class Ear:
    """A faulty guitar beside the sound one, place by place, listened to when asked.

    Parameters
    ----------
    fault : Fault
        The fault.
    known : dict
        Circuits that were listened to already, shared by the ears of a guitar's faults.
    """

    def __init__(self, fault: Fault, known: Circuits) -> None:
        self.fault = fault
        self._known = known
        self._own: Circuits = {}

    def has(self, symptom: str, where: Place | None) -> bool:
        """Whether the fault shows a symptom at a place or knob; anywhere, where None is given."""
        places = everywhere(self.fault.sound, symptom) if where is None else [where]
        return any(SYMPTOMS[symptom](self, place) for place in places)

    def levels(self, place: Station, knob: str = "") -> tuple[np.ndarray, np.ndarray]:
        """Levels [dB] of faulty and sound guitar at a place, shape (marks, frequencies).

        All controls are up; or a knob stands at each of the marks 10, 2 and 0.
        """
        states = [0] if not knob else [0, *_turned(self.fault.sound, knob)]
        own, sound = self._at(place)
        return own.levels[states], sound.levels[states]

    def _at(self, place: Station) -> tuple[_Circuit, _Circuit]:
        """Circuit of the faulty and of the sound guitar at a place."""
        if place not in self._known:
            self._known[place] = self._circuit(self.fault.sound, place)
        if place not in self._own:
            self._own[place] = self._circuit(self.fault.guitar, place)
        return self._own[place], self._known[place]

    def _circuit(self, guitar: Harness, place: Station) -> _Circuit:
        """Circuit at a place; many faults leave that of some places as it was."""
        made = _Circuit(guitar, place)
        return self._known.setdefault(made.key(), made)

    def changes(self, place: Station) -> np.ndarray:
        """Change of level by the fault at each frequency [dB], all controls up."""
        own, sound = self.levels(place)
        return own[0] - sound[0]

    def opposed(self, place: Station) -> bool:
        """Whether coils that should sound with one sign sound with both.

        Where the string's signal differs from coil to coil more is left than the model's equal
        signals leave, least in the bass.
        """
        own, sound = self._at(place)
        return len(sound.signs) == 1 and len(own.signs) == 2

    def turned(self, knob: str) -> list[tuple[np.ndarray, np.ndarray]]:
        """Levels over the marks of a knob, in the places where the sound guitar follows it."""
        places = [tuple(station.items()) for station in stations(self.fault.sound)]
        pairs = [self.levels(place, knob) for place in places]
        return [(own, sound) for own, sound in pairs if np.ptp(sound, axis=0).max() > 1]


class _Circuit:
    """What a guitar is at one place, each knob up and turned down."""

    def __init__(self, guitar: Harness, place: Station) -> None:
        for switch, position in place:
            guitar = guitar.replace(switch, position)
        knobs = _knobs(guitar)
        marks = np.full((len(knobs), 1 + len(_DOWN) * len(knobs)), 10.0)
        for own, knob in zip(marks, knobs, strict=True):
            own[_turned(guitar, knob)] = _DOWN
        values = {
            f"{knob}.mark": xr.Variable("state", own)
            for own, knob in zip(marks, knobs, strict=True)
        }
        self._guitar, self._net = guitar, guitar.stamp(values)
        self._output = guitar.node(guitar.output_lug())

    def key(self) -> Any:
        """Tell it from other circuits by what counts at the output; nodes are numbers."""
        states = {
            branch.name: LIVE if isinstance(branch.value, xr.Variable) else single_state(branch)
            for branch in self._net
        }
        left = reduce(branches_of(self._net), states, self._net.ground, self._output, driven=True)
        number = {left.ground: 0}
        number.setdefault(left.output, 1)
        return len(number), *(
            (*(number.setdefault(node, len(number)) for node in nodes), *_told(branch))
            for branch, nodes in left.branches
        )

    @cached_property
    def levels(self) -> np.ndarray:
        """Levels [dB] with all controls up and then with each knob turned down, one by one."""
        h = np.abs(ac.node_voltage(self._net, self._output, np.array(_HERTZ)).values)
        return np.maximum(decibels(h), _NOTHING).reshape(-1, len(_HERTZ))

    @cached_property
    def signs(self) -> set[int]:
        """Signs in which coils are heard, by continuity; none where the circuit is a mesh."""
        tree, _ = heard(self._guitar, {})
        return set(senses(tree).values())


def _told(branch: Branch) -> tuple[Any, ...]:
    value = branch.value
    exact = value.values.tobytes() if isinstance(value, xr.Variable) else value
    return branch.name, branch.kind, exact, branch.loss


def _knobs(guitar: Harness) -> list[str]:
    return [name for name, part in guitar.parts.items() if isinstance(part, Pot)]


def _turned(guitar: Harness, knob: str) -> list[int]:
    """Which of the states that are computed turn a knob down."""
    first = 1 + len(_DOWN) * _knobs(guitar).index(knob)
    return list(range(first, first + len(_DOWN)))


def _silent(ear: Ear, place: Any) -> bool:
    own, sound = ear.levels(place)
    return bool(sound.max() > _NOTHING and own.max() - sound.max() < -40)


def _weak(ear: Ear, place: Any) -> bool:
    return bool(-40 <= np.mean(ear.changes(place)[:2]) <= -3)


def _thin(ear: Ear, place: Any) -> bool:
    change = ear.changes(place)
    bass_gone = bool(change.max() > -40 and change[0] - change[2] <= -6)
    return bass_gone or ear.opposed(place)


def _dull(ear: Ear, place: Any) -> bool:
    change = ear.changes(place)
    return bool(change[0] > -40 and change[2] - change[0] <= -3)


def _bright(ear: Ear, place: Any) -> bool:
    change = ear.changes(place)
    return bool(change[0] > -40 and 1 <= change[2] - change[0] < 6)


def _does_nothing(ear: Ear, knob: Any) -> bool:
    pairs = ear.turned(knob)
    return bool(pairs) and all(
        own.max() > _NOTHING and np.abs(own - own[0]).max() < 1 for own, _ in pairs
    )


def _backwards(ear: Ear, knob: Any) -> bool:
    # A sound tone control lifts some frequency, too: its capacitor moves the peak down.
    return any(
        min(_rise(own), _rise(own) - max(_rise(sound), 0.0)) > 3 for own, sound in ear.turned(knob)
    )


def _rise(levels: np.ndarray) -> float:
    """By how much the loudest frequency is louder with the knob turned down [dB]."""
    return float(levels[1:].max() - levels[0].max())


def _never_silent(ear: Ear, knob: Any) -> bool:
    return any(
        sound[2].max() - sound[0].max() < -40 <= own[2].max() - own[0].max()
        for own, sound in ear.turned(knob)
        if own[0].max() > _NOTHING
    )


def _like_a_volume(ear: Ear, knob: Any) -> bool:
    return any(
        (own[2, 0] - own[0, 0]) - (sound[2, 0] - sound[0, 0]) < -10
        for own, sound in ear.turned(knob)
    )


def _crackles(ear: Ear, place: Any) -> bool:
    loose = ear.fault.kind == "resistive joint" or "contact" in ear.fault.words
    return loose and bool(np.abs(ear.changes(place)).max() > 0.1)


def _buzzes(ear: Ear, place: Any) -> bool:
    """Whether the ground bus, and with it the strings, is on the tip, or on nothing."""
    guitar = ear.fault.guitar
    jack = guitar.only(Jack)
    bus = [
        lug
        for joint in ear.fault.sound.joined
        if f"{jack}.sleeve" in joint
        for lug in joint
        if isinstance(ear.fault.sound.parts[lug.partition(".")[0]], Pot) or lug.endswith(".ground")
    ]
    nodes = [guitar.node(lug) for lug in bus]
    return bool(nodes) and guitar.ground not in nodes


SYMPTOMS: Mapping[str, Callable[[Ear, Any], bool]] = {
    "silent": _silent,
    "weak": _weak,
    "thin": _thin,
    "dull": _dull,
    "bright": _bright,
    "does nothing": _does_nothing,
    "works backwards": _backwards,
    "never goes to zero": _never_silent,
    "works like a volume": _like_a_volume,
    "crackles": _crackles,
    "buzzes on touching the strings": _buzzes,
}
"""Symptoms by name. Four are of a knob: see `KNOB_SYMPTOMS`; the others of a switch place.

"silent": 40 dB down or more. "weak": 3 to 40 dB down at 100 Hz and 1 kHz. "thin": 100 Hz falls
by 6 dB or more against 3.5 kHz, or coils sound with opposite signs that should not. "dull":
3.5 kHz falls by 3 dB or more against 100 Hz. "bright": it rises by 1 to 6 dB. "does nothing":
less than 1 dB from 10 to 0. "never goes to zero": less than 40 dB. "works like a volume": 100 Hz
falls by 10 dB more than it should. Words: common practice, no source; limits: conventions of ours.
"""
ALSO_SAID = {
    **dict.fromkeys(("no sound", "no output", "dead"), "silent"),
    **dict.fromkeys(("quiet", "low output"), "weak"),
    **dict.fromkeys(("dark", "muffled"), "dull"),
    **dict.fromkeys(("nasal", "hollow"), "thin"),
    **dict.fromkeys(("scratchy", "cuts out"), "crackles"),
}
"""Other words for the same, taken as such: common practice, no source."""
KNOB_SYMPTOMS = ("does nothing", "works backwards", "never goes to zero", "works like a volume")


def everywhere(guitar: Harness, symptom: str) -> list[Any]:
    """Knobs, or switch places, at which a symptom may be met."""
    if symptom in KNOB_SYMPTOMS:
        return _knobs(guitar)
    return [tuple(station.items()) for station in stations(guitar)]


def place_words(guitar: Harness, place: Place) -> str:
    """Say a place or knob; a switch is named where another has such a place too."""
    if isinstance(place, str):
        return place
    owners = [own for places in main_places(guitar).values() for own in places]
    return ", ".join(
        own if owners.count(own) == 1 else f"{switch} at {own}" for switch, own in place
    )


@public
def symptoms_of(fault: Fault) -> dict[str, list[str]]:
    """Say what a fault does to the ear, as the response of the faulty guitar tells.

    Parameters
    ----------
    fault : Fault
        The fault, from `guitarnet.bench.faults`.

    Returns
    -------
    dict of str to list of str
        Switch places (one switch moved at a time) or knobs at which each of `SYMPTOMS` is met;
        "" where there is no switch.

    References
    ----------
    Words: common practice, no source; limits, under `SYMPTOMS`: conventions of ours.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.bench import faults
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> symptoms_of(faults(guitar)["tone capacitor open"])
    {'bright': [''], 'does nothing': ['tone']}
    """
    ear = Ear(fault, {})
    found = {
        symptom: [
            place_words(fault.sound, where)
            for where in everywhere(fault.sound, symptom)
            if ear.has(symptom, where)
        ]
        for symptom in SYMPTOMS
    }
    return {symptom: places for symptom, places in found.items() if places}


def read_symptoms(guitar: Harness, given: Any) -> list[tuple[str, Place | None]]:
    """Read symptoms as one notes them down.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    given : str, iterable of str, or mapping
        Symptoms of `SYMPTOMS` (a few other words for them are known), or where each is met by
        symptom: ``{"silent": "neck", "does nothing": "tone_1"}``; several places in a list. With
        several switches a place stands for its switch alone, the others as they stand; or give
        settings, as ``{"silent": {"switch": "bridge", "pull": "split"}}``.

    Returns
    -------
    list of (str, Place or None)
        Each symptom, and where; None is anywhere.

    Raises
    ------
    BadSetting
        If a symptom, place or knob does not exist, or a place is one of several switches.
    """
    if isinstance(given, str):
        given = [given]
    if given is not None and not has_items(given):
        raise BadSetting(
            "symptoms", f"{given!r} is no symptom", "give {'silent': 'neck'} or ['silent']", given
        )
    pairs: list[tuple[str, Place | None]] = []
    for symptom in () if given is None else given:
        said = ALSO_SAID.get(symptom, symptom) if isinstance(symptom, str) else symptom
        if isinstance(said, str) and said in ("hum", "hums"):
            raise BadSetting(
                "symptoms",
                "'hum' is not told apart here, for it depends on what is near",
                "if it changes when the strings are touched say 'buzzes on touching the strings', "
                "else leave it out and compare places with hum()",
                symptom,
            )
        if not isinstance(said, str) or said not in SYMPTOMS:
            raise BadSetting(
                "symptoms", f"{symptom!r} is unknown", nearest(str(symptom), SYMPTOMS), symptom
            )
        places: Any = given[symptom] if isinstance(given, Mapping) else None
        several = has_items(places) and not isinstance(places, (str, Mapping))
        for place in places if several else [places]:
            pairs.append((said, None if place is None else _read_place(guitar, said, place)))
    return pairs


def _read_place(guitar: Harness, symptom: str, given: Any) -> Place:
    where = f"symptoms, {symptom}"
    if symptom in KNOB_SYMPTOMS:
        if isinstance(given, str) and given not in _knobs(guitar):
            given = given.replace(" ", "_")  # as it is written in every table
        if given not in _knobs(guitar):
            raise BadSetting(
                where, f"there is no knob {given!r}", nearest(str(given), _knobs(guitar)), given
            )
        return str(given)
    switches = main_places(guitar)
    if not isinstance(given, Mapping):
        owners = [name for name, places in switches.items() if given in places]
        if len(owners) > 1:
            raise BadSetting(
                where,
                f"{given!r} is a place of {' and of '.join(owners)}",
                f"give {{{owners[0]!r}: {given!r}}}",
                given,
            )
        given = {owners[0] if owners else "": given}
    for name, place in given.items():
        known = switches.get(name, [own for places in switches.values() for own in places])
        if name not in switches or place not in known:
            raise BadSetting(
                where, f"there is no switch place {place!r}", nearest(str(place), known), place
            )
    return tuple((str(name), str(place)) for name, place in given.items())
