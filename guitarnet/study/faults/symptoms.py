"""What you hear when a guitar has a fault, computed from its response.

A symptom is true or false of a faulty guitar beside the healthy one: a switch place is silent, a
knob does nothing. The limits in decibels are conventions of this library: a person notices such
changes; nothing more is claimed.
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
from ...parts.humbucker import Humbucker
from ...parts.output import Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...solve import ac
from ...solve.structure import LIVE, place as branches_of, reduce, single_state
from ..bench.continuity import audible_coils, senses
from ..response.labels import decibels
from .faults import Fault, main_places, stations

__all__ = [
    "KNOB_SYMPTOMS",
    "SYMPTOMS",
    "Comparisons",
    "KnownCircuits",
    "LevelComparison",
    "Site",
    "Station",
    "coil_paths",
    "everywhere",
    "read_place",
    "read_symptoms",
    "site_label",
    "symptoms_of",
]

_HERTZ = [100.0, 1000.0, 3500.0]
_DOWN = [2.0, 0.0]  # marks to which each knob is turned
_NOTHING = -300.0  # dB; stands for silence, so that differences stay finite


Station = tuple[tuple[str, str], ...]
"""Places of some switches; the others stay as they are."""

Site = Station | str
"""Where a symptom occurs: at a station, or at a knob, given by name."""

KnownCircuits = dict[Any, "_Circuit"]
"""Circuits of one guitar, by station and by their own key."""


class Comparisons:
    """The faults of one guitar, compared with it; each circuit is computed once."""

    def __init__(self) -> None:
        self._circuits: KnownCircuits = {}
        self._made: dict[int, LevelComparison] = {}

    def of(self, fault: Fault) -> LevelComparison:
        """Compare a fault with the healthy guitar."""
        # The comparison holds the faulty guitar, so that no other gets its id.
        return self._made.setdefault(id(fault.guitar), LevelComparison(fault, self._circuits))


class LevelComparison:
    """Levels of a faulty guitar and of the healthy one, computed when asked for.

    Parameters
    ----------
    fault : Fault
        The fault.
    known : dict
        Circuits that were computed already; all faults of a guitar share them.
    """

    def __init__(self, fault: Fault, known: KnownCircuits) -> None:
        self.fault = fault
        self._known = known
        self._faulty: KnownCircuits = {}

    def has(self, symptom: str, where: Site | None) -> bool:
        """Whether the fault shows a symptom at a place or knob; None means anywhere."""
        places = everywhere(self.fault.healthy_guitar, symptom) if where is None else [where]
        return any(SYMPTOMS[symptom](self, place) for place in places)

    def levels(self, place: Station, knob: str = "") -> tuple[np.ndarray, np.ndarray]:
        """Levels [dB] of the faulty and the healthy guitar at a place, shape (marks, frequencies).

        All controls are up, or the named knob is at the marks 10, 2 and 0.
        """
        states = [0] if not knob else [0, *_turned(self.fault.healthy_guitar, knob)]
        faulty, healthy = self._at(place)
        return faulty.levels[states], healthy.levels[states]

    def _at(self, place: Station) -> tuple[_Circuit, _Circuit]:
        """Circuits of the faulty and the healthy guitar at a place."""
        if place not in self._faulty:
            self._faulty[place] = self._circuit(self.fault.guitar, place)
        return self._faulty[place], self._healthy(place)

    def _healthy(self, place: Station) -> _Circuit:
        if place not in self._known:
            self._known[place] = self._circuit(self.fault.healthy_guitar, place)
        return self._known[place]

    def _circuit(self, guitar: Harness, place: Station) -> _Circuit:
        """Circuit at a place; many faults do not change every place."""
        made = _Circuit(guitar, place)
        return self._known.setdefault(made.key(), made)

    def magnets(self) -> dict[str, int]:
        """Direction of the magnet under each coil of the faulty guitar, by the coil's path."""
        guitar = self.fault.guitar
        return {path: _coil(guitar, path).magnet or 1 for path in coil_paths(guitar)}

    def changes(self, place: Station) -> np.ndarray:
        """Change of level that the fault makes at each frequency [dB], all controls up."""
        faulty, healthy = self.levels(place)
        return faulty[0] - healthy[0]

    def coils(self, place: Station) -> tuple[Mapping[str, int] | None, Mapping[str, int] | None]:
        """Signs of the audible coils of the faulty and the healthy guitar; None for a mesh."""
        faulty, healthy = self._at(place)
        return faulty.coils, healthy.coils

    def healthy_coils(self, place: Station) -> Mapping[str, int] | None:
        """Signs of the audible coils of the healthy guitar; None for a mesh."""
        return self._healthy(place).coils

    def opposed(self, place: Station) -> bool:
        """Whether coils have opposite signs that should have the same sign.

        Real strings leave more signal than the model, whose coils all get equal signals; the bass
        cancels most.
        """
        faulty, healthy = ({*(signs or {}).values()} for signs in self.coils(place))
        return len(healthy) == 1 and len(faulty) == 2

    def turned(self, knob: str) -> list[tuple[np.ndarray, np.ndarray]]:
        """Levels over the marks of a knob, where a healthy guitar responds to it."""
        places = [tuple(station.items()) for station in stations(self.fault.healthy_guitar)]
        pairs = [self.levels(place, knob) for place in places]
        return [(faulty, healthy) for faulty, healthy in pairs if np.ptp(healthy, axis=0).max() > 1]


class _Circuit:
    """The circuit of a guitar at one place, with each knob up and turned down."""

    def __init__(self, guitar: Harness, place: Station) -> None:
        for switch, position in place:
            guitar = guitar.replace(switch, position)
        knobs = _knobs(guitar)
        marks = np.full((len(knobs), 1 + len(_DOWN) * len(knobs)), 10.0)
        for row, knob in zip(marks, knobs, strict=True):
            row[_turned(guitar, knob)] = _DOWN
        values = {
            f"{knob}.mark": xr.Variable("state", row)
            for row, knob in zip(marks, knobs, strict=True)
        }
        self._guitar, self._net = guitar, guitar.stamp(values)
        self._output = guitar.node(guitar.output_lug())

    def key(self) -> Any:
        """Key of the circuit: the branches that reach the output, with nodes as numbers."""
        states = {
            branch.name: LIVE if isinstance(branch.value, xr.Variable) else single_state(branch)
            for branch in self._net
        }
        reduced = reduce(
            branches_of(self._net), states, self._net.ground, self._output, driven=True
        )
        number = {reduced.ground: 0}
        number.setdefault(reduced.output, 1)
        return len(number), *(
            (*(number.setdefault(node, len(number)) for node in nodes), *_exact(branch))
            for branch, nodes in reduced.branches
        )

    @cached_property
    def levels(self) -> np.ndarray:
        """Levels [dB] with all controls up, then with each knob turned down in turn."""
        h = np.abs(ac.node_voltage(self._net, self._output, np.array(_HERTZ)).values)
        return np.maximum(decibels(h), _NOTHING).reshape(-1, len(_HERTZ))

    @cached_property
    def coils(self) -> dict[str, int] | None:
        """Sign of each audible coil, from continuity; None if the circuit is a mesh."""
        tree, plain = audible_coils(self._guitar, {})
        if not plain:
            return None
        return {
            path: sign
            for path, sign in senses(tree).items()
            if not _coil(self._guitar, path).broken  # its capacitance alone still joins
        }


def _coil(guitar: Harness, path: str) -> Any:
    """The coil at a path: a pickup, or one coil of a humbucker."""
    name, _, inner = path.partition(".")
    part = guitar.parts[name]
    return part.inner()[inner] if inner else part


def _exact(branch: Branch) -> tuple[Any, ...]:
    value = branch.value
    exact = value.values.tobytes() if isinstance(value, xr.Variable) else value
    return branch.name, branch.kind, exact, branch.loss


def _knobs(guitar: Harness) -> list[str]:
    return [name for name, part in guitar.parts.items() if isinstance(part, Pot)]


def _turned(guitar: Harness, knob: str) -> list[int]:
    """Numbers of the states in which a knob is turned down."""
    first = 1 + len(_DOWN) * _knobs(guitar).index(knob)
    return list(range(first, first + len(_DOWN)))


def _silent(comparison: LevelComparison, place: Any) -> bool:
    faulty, healthy = comparison.levels(place)
    return bool(healthy.max() > _NOTHING and faulty.max() - healthy.max() < -40)


def _weak(comparison: LevelComparison, place: Any) -> bool:
    return bool(-40 <= np.mean(comparison.changes(place)[:2]) <= -3)


def _thin(comparison: LevelComparison, place: Any) -> bool:
    change = comparison.changes(place)
    bass_gone = bool(change.max() > -40 and change[0] - change[2] <= -6)
    return bass_gone or comparison.opposed(place)


def _dull(comparison: LevelComparison, place: Any) -> bool:
    change = comparison.changes(place)
    return bool(change[0] > -40 and change[2] - change[0] <= -3)


def _bright(comparison: LevelComparison, place: Any) -> bool:
    change = comparison.changes(place)
    return bool(change[0] > -40 and 1 <= change[2] - change[0] < 6)


def _does_nothing(comparison: LevelComparison, knob: Any) -> bool:
    pairs = comparison.turned(knob)
    return bool(pairs) and all(
        faulty.max() > _NOTHING and np.abs(faulty - faulty[0]).max() < 1 for faulty, _ in pairs
    )


def _backwards(comparison: LevelComparison, knob: Any) -> bool:
    # A healthy tone control raises some frequencies too: its capacitor moves the peak down.
    return any(
        min(_rise(faulty), _rise(faulty) - max(_rise(healthy), 0.0)) > 3
        for faulty, healthy in comparison.turned(knob)
    )


def _rise(levels: np.ndarray) -> float:
    """Rise of the loudest frequency when the knob is turned down [dB]."""
    return float(levels[1:].max() - levels[0].max())


def _never_silent(comparison: LevelComparison, knob: Any) -> bool:
    return any(
        healthy[2].max() - healthy[0].max() < -40 <= faulty[2].max() - faulty[0].max()
        for faulty, healthy in comparison.turned(knob)
        if faulty[0].max() > _NOTHING
    )


def _like_a_volume(comparison: LevelComparison, knob: Any) -> bool:
    return any(
        (faulty[2, 0] - faulty[0, 0]) - (healthy[2, 0] - healthy[0, 0]) < -10
        for faulty, healthy in comparison.turned(knob)
    )


def _crackles(comparison: LevelComparison, place: Any) -> bool:
    loose = comparison.fault.kind == "resistive joint" or "contact" in comparison.fault.label
    return loose and bool(np.abs(comparison.changes(place)).max() > 0.1)


def _buzzes(comparison: LevelComparison, place: Any) -> bool:
    """Whether the ground bus, with the strings, is connected to the tip or to nothing."""
    guitar = comparison.fault.guitar
    jack = guitar.only(Jack)
    bus = [
        lug
        for joint in comparison.fault.healthy_guitar.joined
        if f"{jack}.sleeve" in joint
        for lug in joint
        if isinstance(comparison.fault.healthy_guitar.parts[lug.partition(".")[0]], Pot)
        or lug.endswith(".ground")
    ]
    nodes = [guitar.node(lug) for lug in bus]
    return bool(nodes) and guitar.ground not in nodes


SYMPTOMS: Mapping[str, Callable[[LevelComparison, Any], bool]] = {
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
"""Symptoms by name. Four belong to a knob (`KNOB_SYMPTOMS`), the others to a switch place.

"silent": 40 dB down or more. "weak": 3 to 40 dB down at 100 Hz and 1 kHz. "thin": 100 Hz falls
by 6 dB or more relative to 3.5 kHz, or coils have opposite signs that should not. "dull": 3.5 kHz
falls by 3 dB or more relative to 100 Hz. "bright": it rises by 1 to 6 dB. "does nothing": less
than 1 dB from 10 to 0. "never goes to zero": less than 40 dB. "works like a volume": 100 Hz falls
by 10 dB more than it should. The words: common practice, no source. The limits: conventions of
this library.
"""
SYNONYMS = {
    **dict.fromkeys(("no sound", "no output", "dead"), "silent"),
    **dict.fromkeys(("quiet", "low output"), "weak"),
    **dict.fromkeys(("dark", "muffled"), "dull"),
    **dict.fromkeys(("nasal", "hollow"), "thin"),
    **dict.fromkeys(("scratchy", "cuts out"), "crackles"),
}
"""Other words for the same symptoms: common practice, no source."""
KNOB_SYMPTOMS = ("does nothing", "works backwards", "never goes to zero", "works like a volume")


def coil_paths(guitar: Harness) -> list[str]:
    """Paths of all coils of a guitar, in its order."""
    paths = []
    for name, part in guitar.parts.items():
        if isinstance(part, Coil):
            paths.append(name)
        elif isinstance(part, Humbucker):
            paths += [f"{name}.{inner}" for inner in part.inner()]
    return paths


def everywhere(guitar: Harness, symptom: str) -> list[Any]:
    """Knobs, or switch places, at which a symptom may occur."""
    if symptom in KNOB_SYMPTOMS:
        return _knobs(guitar)
    return [tuple(station.items()) for station in stations(guitar)]


def site_label(guitar: Harness, site: Site) -> str:
    """Label of a place or knob; names the switch if another switch has the same place."""
    if isinstance(site, str):
        return site
    owners = [position for places in main_places(guitar).values() for position in places]
    return ", ".join(
        position if owners.count(position) == 1 else f"{switch} at {position}"
        for switch, position in site
    )


@public
def symptoms_of(fault: Fault) -> dict[str, list[str]]:
    """List what you hear when a guitar has a fault, from the response of the faulty guitar.

    Parameters
    ----------
    fault : Fault
        The fault, from `guitarnet.bench.faults`.

    Returns
    -------
    dict of str to list of str
        For each of `SYMPTOMS` that occurs, the switch places (one switch moved at a time) or the
        knobs; "" if there is no switch.

    References
    ----------
    Words: common practice, no source. Limits (see `SYMPTOMS`): conventions of this library.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.bench import faults
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> symptoms_of(faults(guitar)["tone capacitor open"])
    {'bright': [''], 'does nothing': ['tone']}
    """
    comparison = LevelComparison(fault, {})
    sites = {
        symptom: [
            site_label(fault.healthy_guitar, site)
            for site in everywhere(fault.healthy_guitar, symptom)
            if comparison.has(symptom, site)
        ]
        for symptom in SYMPTOMS
    }
    return {symptom: labels for symptom, labels in sites.items() if labels}


def read_symptoms(guitar: Harness, given: Any) -> list[tuple[str, Site | None]]:
    """Read symptoms as a person writes them down.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    given : str, iterable of str, or mapping
        Symptoms from `SYMPTOMS` (a few other words for them are known), or a mapping of where
        each occurs: ``{"silent": "neck", "does nothing": "tone_1"}``; several places in a list.
        With several switches a place sets its own switch and the others stay as they are; or give
        settings, as ``{"silent": {"switch": "bridge", "pull": "split"}}``.

    Returns
    -------
    list of (str, Place or None)
        Each symptom and where it occurs; None means anywhere.

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
    pairs: list[tuple[str, Site | None]] = []
    for word in () if given is None else given:
        symptom = SYNONYMS.get(word, word) if isinstance(word, str) else word
        if isinstance(symptom, str) and symptom in ("hum", "hums"):
            raise BadSetting(
                "symptoms",
                "'hum' depends on what is near the guitar, so no fault can be told from it",
                "if it changes when you touch the strings, give 'buzzes on touching the strings'; "
                "otherwise leave it out and compare places with hum()",
                word,
            )
        if not isinstance(symptom, str) or symptom not in SYMPTOMS:
            raise BadSetting("symptoms", f"{word!r} is unknown", nearest(str(word), SYMPTOMS), word)
        places: Any = given[word] if isinstance(given, Mapping) else None
        several = has_items(places) and not isinstance(places, (str, Mapping))
        for place in places if several else [places]:
            pairs.append((symptom, None if place is None else read_place(guitar, symptom, place)))
    return pairs


def read_place(guitar: Harness, symptom: str, given: Any, of: str = "symptoms") -> Site:
    """Read the switch place or the knob at which something was observed."""
    where = f"{of}, {symptom}"
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
        known = switches.get(name, [each for places in switches.values() for each in places])
        if name not in switches or place not in known:
            raise BadSetting(
                where, f"there is no switch place {place!r}", nearest(str(place), known), place
            )
    return tuple((str(name), str(place)) for name, place in given.items())
