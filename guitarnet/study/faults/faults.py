"""Single faults of a guitar, each as an edited harness that answers like any other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import CAUTIONS, Harness, merged
from ...circuit.settings import Settings, one_mapping
from ...errors import BadHarness, BadSetting, listed, nearest
from ...gate import public
from ...identity import ByValue
from ...parts.switch import Switch
from ...parts.two_lug import Empty, Resistor
from ...ranking import most
from ...table import Table, Tabled
from ...units import fixed, format_value
from ..bench.meter import jack_resistance
from ..response.measures import level_db
from ..response.response import response
from ..response.sweep import check_guitar
from .kinds import FAULT_KINDS, MAKERS

__all__ = ["Fault", "Faults", "faults", "main_places", "stations"]

_MOST = 1000  # faults, each a harness of its own; the largest layout has some 200


@public
@dataclass(frozen=True)
class Fault:
    """One fault: what is wrong, and the harness that it makes of a guitar.

    Made by `faults`.

    Parameters
    ----------
    kind : str
        One of `FAULT_KINDS`.
    words : str
        What is wrong, in words.
    guitar : Harness
        The faulty guitar.
    sound : Harness
        The guitar without the fault.
    also : tuple of str
        Other faults that make the same circuit.
    unknown : tuple, optional
        Path of a value that the fault leaves unknown, and the values it may have, such as the
        resistance of a bad joint; ``guitar`` holds one of them.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> found = faults(guitar)["pickup coil broken"]
    >>> float(found.readings()), float(found.change_db(frequency=[1000.0]).values[0])
    (250000.0, -inf)
    """

    kind: str
    words: str
    guitar: Harness = field(repr=False)
    sound: Harness = field(repr=False)
    also: tuple[str, ...] = ()
    unknown: tuple[str, tuple[float, ...]] | None = field(default=None, repr=False)

    def readings(self, settings: Settings = None, **keywords: Any) -> xr.DataArray:
        """Resistance at the jack of the faulty guitar.

        Parameters
        ----------
        settings, **keywords
            As in `guitarnet.jack_resistance`; every place of the switch, all controls up, unless
            given.

        Returns
        -------
        xarray.DataArray
            Resistance [ohm], as from `guitarnet.jack_resistance`.

        Raises
        ------
        BadSetting, BadValue
            If a setting is not right.
        """
        settings = one_mapping(settings, keywords)
        return jack_resistance(self.guitar, settings or main_places(self.guitar))

    def change_db(
        self, settings: Settings = None, *, frequency: Any = None, **keywords: Any
    ) -> xr.DataArray:
        """Change of the response by the fault.

        Parameters
        ----------
        frequency : array_like, optional
            Frequencies [Hz], as in `guitarnet.response`.
        settings, **keywords
            As in `guitarnet.response`; every place of the switch, all controls up, unless given.

        Returns
        -------
        xarray.DataArray
            Level with the fault less the level without [dB]; -inf where the fault silences the
            guitar, NaN where it is silent with or without.

        Raises
        ------
        BadSetting, BadValue
            If a setting is not right.
        """
        settings = one_mapping(settings, keywords)
        given = settings or main_places(self.guitar)
        return self._change_db(level_db(response(self.sound, given, frequency=frequency)), given)

    def _change_db(self, without: xr.DataArray, given: Mapping[str, Any]) -> xr.DataArray:
        """Change from the level without the fault, which many faults of a guitar share."""
        with_fault = level_db(response(self.guitar, given, frequency=without.frequency.values))
        with np.errstate(invalid="ignore"):
            change = with_fault - without
        words = "change of level by the fault"
        return change.assign_attrs(units="dB", long_name=words, reference="without the fault")

    def __str__(self) -> str:
        return self.words


@public
class Faults(Tabled, ByValue, Sequence[Fault]):
    """Faults of one guitar: a sequence, and by words; shows itself as a table of readings.

    Made by `faults`.

    Parameters
    ----------
    found : iterable of Fault
        The faults.
    sound : Harness
        The guitar without a fault.
    """

    def __init__(self, found: Iterable[Fault], sound: Harness) -> None:
        self._found = tuple(found)
        self.sound = sound

    def __len__(self) -> int:
        return len(self._found)

    def __iter__(self) -> Iterator[Fault]:
        return iter(self._found)

    def __getitem__(self, index: Any) -> Any:
        if isinstance(index, slice):
            return Faults(self._found[index], self.sound)
        if not isinstance(index, str):
            return self._found[index]
        for fault in self._found:
            if index in (fault.words, *fault.also):
                return fault
        known = [words for fault in self._found for words in (fault.words, *fault.also)]
        raise BadSetting("fault", f"there is no {index!r}", nearest(index, known), index)

    def of_kind(self, kind: str) -> Faults:
        """Keep the faults of one kind.

        Parameters
        ----------
        kind : str
            One of `FAULT_KINDS`.

        Returns
        -------
        Faults
            The faults.

        Raises
        ------
        BadSetting
            If the kind is unknown.
        """
        _check_kind(kind)
        return Faults([fault for fault in self if fault.kind == kind], self.sound)

    def table(self) -> Table:
        """Say of each fault what the meter shows at the jack and how the response changes.

        Returns
        -------
        Table
            Resistance at each place of the switch, all controls up, as a meter without leads
            shows it, and the change of level [dB] at 100 Hz, 1 kHz and 4 kHz in the place where
            it is largest.
        """
        hertz = [100.0, 1000.0, 4000.0]
        places = main_places(self.sound)
        labels = [f"{place}" for place in _labels(places)] or ["reading"]
        without = level_db(response(self.sound, places, frequency=hertz))
        rows = []
        for words, guitar, fault in [
            ("no fault", self.sound, None),
            *((fault.words, fault.guitar, fault) for fault in self),
        ]:
            ohms = jack_resistance(guitar, places).values.ravel()
            shown = ["OL" if np.isinf(r) else format_value(r, "ohm", digits=3) for r in ohms]
            change = _largest_change(fault, without, places) if fault else ["", "", ""]
            rows.append((words, *shown, *change))
        columns = ("fault", *labels, "100 Hz [dB]", "1 kHz [dB]", "4 kHz [dB]")
        title = f"{len(self)} single faults of {self.sound.name}"
        note = (
            "Changes re the guitar without a fault, all controls up, in the place of the switch "
            f"where they are largest. {CAUTIONS}"
        )
        return Table(columns, rows, title, note)

    def __repr__(self) -> str:
        return f"{len(self)} single faults of {self.sound.name}"

    def _records(self) -> Iterator[dict[str, Any]]:
        labels = list(map(str, _labels(main_places(self.sound)))) or ["reading"]
        for fault in self:
            ohms = fault.readings().values.ravel().tolist()
            named = {"fault": fault.words, "kind": fault.kind, "also": "; ".join(fault.also)}
            yield {**named, **dict(zip(labels, ohms, strict=True))}


@public(kinds=None)
def faults(guitar: Harness, *, kinds: Iterable[str] | str | None = None) -> Faults:
    """List the single faults that a guitar may have, each as an edited harness.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    kinds : str or iterable of str, optional
        Kinds of faults, of `FAULT_KINDS`; all unless given.

    Returns
    -------
    Faults
        The faults. Those that make the same circuit stand once, with the others under ``also``.

    Raises
    ------
    BadHarness
        If the harness is not whole, or may have over 1000 faults, which no guitar has.
    BadSetting
        If a kind is unknown.

    Notes
    -----
    A bad joint has 10 kΩ, and a coil with shorted turns has lost 30 % of them, where one value is
    needed; `guitarnet.diagnose` tries many. The shorted turns are a loss across the others, coupled
    with k² = 0.8 (assumed). A touch is a part of 0 ohm named ``fault``.

    References
    ----------
    Which faults occur: common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> faults(guitar, kinds="pot")[0].words
    'volume is 100 kΩ, not 250 kΩ'
    """
    check_guitar(guitar)
    guitar.check()
    given = FAULT_KINDS if kinds is None else [kinds] if isinstance(kinds, str) else kinds
    chosen = listed(given, "kinds", f"use some of {', '.join(FAULT_KINDS)}")
    for kind in chosen:
        _check_kind(kind)
    if not chosen:
        raise BadSetting("kinds", "is an empty list", "give at least one, or leave it out")
    every = [(kind, *one) for kind in FAULT_KINDS if kind in chosen for one in MAKERS[kind](guitar)]
    if len(every) > _MOST:
        raise BadHarness(
            guitar.name,
            f"may have {len(every)} single faults",
            f"a guitar has under {_MOST}; ask for some of them, as kinds=['coil', 'pot']",
        )
    found: dict[Any, Fault] = {}
    nothing = _circuit(guitar)
    for kind, words, make, *unknown in every:
        try:
            made = make()
            made.check()
        except BadHarness:
            continue  # both ends of a part on one joint: no one could hear or measure it
        circuit = _circuit(made)
        fault = Fault(kind, words, made, guitar, (), unknown[0] if unknown else None)
        first = found.get(circuit)
        if first is None:
            found[circuit] = fault
        elif words not in (first.words, *first.also):
            found[circuit] = replace(first, also=(*first.also, words))
    found.pop(nothing, None)
    return Faults(found.values(), guitar)


def main_places(guitar: Harness) -> dict[str, Any]:
    """Settings that sweep every place of every switch.

    Parameters
    ----------
    guitar : Harness
        The guitar.

    Returns
    -------
    dict of str to list of str
        Places by the switch's name; empty where there is no switch.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> main_places(layouts.two_single_coils(coil, coil))
    {'switch': ['neck', 'neck+bridge', 'bridge']}
    """
    return {
        name: list(part.places) for name, part in guitar.parts.items() if isinstance(part, Switch)
    }


def stations(guitar: Harness) -> list[dict[str, str]]:
    """Places at which a guitar is listened to and measured: one switch moved at a time.

    Parameters
    ----------
    guitar : Harness
        The guitar.

    Returns
    -------
    list of dict of str to str
        Settings of the switch that is moved, the others as they stand; every place of the first
        switch, then the other places of the others. One empty dict where there is no switch.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> stations(layouts.two_single_coils(coil, coil))[1]
    {'switch': 'neck+bridge'}
    """
    found: list[dict[str, str]] = []
    for name, places in main_places(guitar).items():
        rest = guitar.parts[name].place  # type: ignore[attr-defined]
        found += [{name: place} for place in places if not found or place != rest]
    return found or [{}]


def _labels(places: Mapping[str, list[str]]) -> list[str]:
    labels = [""]
    for own in places.values():
        labels = [f"{before}, {place}" if before else place for before in labels for place in own]
    return labels if places else []


def _largest_change(fault: Fault, without: xr.DataArray, places: Mapping[str, Any]) -> list[str]:
    """Change at each frequency in the place where the largest of them is largest, in words."""
    change = fault._change_db(without, places).values
    change = change.reshape(-1, without.sizes["frequency"])
    sizes = np.nan_to_num(np.abs(change), nan=0.0, posinf=np.inf).max(axis=1)
    return ["silent" if np.isneginf(db) else fixed(db, 1, sign=True) for db in change[most(sizes)]]


def _check_kind(kind: str) -> None:
    if not isinstance(kind, str) or kind not in FAULT_KINDS:
        raise BadSetting("kind", f"{kind!r} is no kind of fault", nearest(str(kind), FAULT_KINDS))


def _circuit(guitar: Harness) -> Any:
    """What tells one circuit from another: its parts and which of their lugs are one node.

    A touch of 0 ohm joins as solder does, an empty place is nothing.
    """
    zero = [n for n, p in guitar.parts.items() if isinstance(p, Resistor) and p.resistance == 0]
    nothing = {*zero, *(n for n, part in guitar.parts.items() if isinstance(part, Empty))}
    joined = merged([*guitar.joined, *((f"{name}.a", f"{name}.b") for name in zero)])
    nodes = (frozenset(g for g in joint if g.partition(".")[0] not in nothing) for joint in joined)
    parts = {name: part for name, part in guitar.parts.items() if name not in nothing}
    return frozenset(parts.items()), frozenset(node for node in nodes if len(node) > 1)
