"""Single faults of a guitar. Each is an edited harness, and you ask it like any other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import CAUTIONS, Harness, kept, merged
from ...circuit.settings import Settings, one_mapping
from ...errors import BadHarness, BadSetting, listed, nearest
from ...gate import public
from ...identity import ByValue
from ...parts.switch import Switch
from ...parts.two_lug import Empty, Resistor
from ...ranking import most
from ...table import Table, Tabled
from ...units import fixed
from ..bench.meter import jack_resistance
from ..bench.ohmmeter import displayed
from ..response.measures import level_db
from ..response.response import response
from ..response.sweep import check_guitar
from .kinds import FAULT_KINDS, MAKERS

__all__ = ["Fault", "Faults", "faults", "main_places", "stations"]

_MOST = 1000  # faults, each a harness of its own; the largest layout has some 200


@public
@dataclass(frozen=True)
class Fault:
    """One fault of a guitar: a label, and the harness with the fault.

    Made by `faults`.

    Parameters
    ----------
    kind : str
        One of `FAULT_KINDS`.
    label : str
        What is wrong, such as "pickup coil broken".
    guitar : Harness
        The faulty guitar.
    healthy_guitar : Harness
        The guitar without the fault.
    also : tuple of str
        Labels of other faults that make the same circuit.
    unknown : tuple, optional
        Path of a value that the fault leaves unknown, such as the resistance of a bad joint, and
        the values it may have; ``guitar`` has one of them.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> fault = faults(guitar)["pickup coil broken"]
    >>> float(fault.readings()), float(fault.change_db(frequency=[1000.0]).values[0])
    (250000.0, -inf)
    """

    kind: str
    label: str
    guitar: Harness = field(repr=False)
    healthy_guitar: Harness = field(repr=False)
    also: tuple[str, ...] = ()
    unknown: tuple[str, tuple[float, ...]] | None = field(default=None, repr=False)

    def readings(self, settings: Settings = None, **keywords: Any) -> xr.DataArray:
        """Resistance at the jack of the faulty guitar.

        Parameters
        ----------
        settings, **keywords
            As in `guitarnet.jack_resistance`. By default every place of the switch, all controls
            up.

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
        """Change of level that the fault makes.

        Parameters
        ----------
        frequency : array_like, optional
            Frequencies [Hz], as in `guitarnet.response`.
        settings, **keywords
            As in `guitarnet.response`. By default every place of the switch, all controls up.

        Returns
        -------
        xarray.DataArray
            Level with the fault minus the level without it [dB]; -inf where the fault silences
            the guitar, NaN where the guitar is silent with and without it.

        Raises
        ------
        BadSetting, BadValue
            If a setting is not right.
        """
        settings = one_mapping(settings, keywords)
        given = settings or main_places(self.guitar)
        return self._change_db(
            level_db(response(self.healthy_guitar, given, frequency=frequency)), given
        )

    def _change_db(self, without: xr.DataArray, settings: Mapping[str, Any]) -> xr.DataArray:
        """Change from a given level without the fault, so that many faults can share it."""
        with_fault = level_db(response(self.guitar, settings, frequency=without.frequency.values))
        with np.errstate(invalid="ignore"):
            change = with_fault - without
        change_name = "change of level by the fault"
        return change.assign_attrs(units="dB", long_name=change_name, reference="without the fault")

    def __str__(self) -> str:
        return self.label


@public
class Faults(Tabled, ByValue, Sequence[Fault]):
    """Faults of one guitar, by number or by label; shows itself as a table of readings.

    Made by `faults`.

    Parameters
    ----------
    faults : iterable of Fault
        The faults.
    healthy_guitar : Harness
        The guitar without a fault.
    """

    def __init__(self, faults: Iterable[Fault], healthy_guitar: Harness) -> None:
        self._faults = tuple(faults)
        self.healthy_guitar = healthy_guitar

    def __len__(self) -> int:
        return len(self._faults)

    def __iter__(self) -> Iterator[Fault]:
        return iter(self._faults)

    def __getitem__(self, index: Any) -> Any:
        if isinstance(index, slice):
            return Faults(self._faults[index], self.healthy_guitar)
        if not isinstance(index, str):
            return self._faults[index]
        for fault in self._faults:
            if index in (fault.label, *fault.also):
                return fault
        known = [label for fault in self._faults for label in (fault.label, *fault.also)]
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
        return Faults([fault for fault in self if fault.kind == kind], self.healthy_guitar)

    def table(self) -> Table:
        """List what the meter shows at the jack, and how the response changes, by fault.

        Returns
        -------
        Table
            Resistance at each place of the switch, with all controls up and without the
            resistance of the leads. Change of level [dB] at 100 Hz, 1 kHz and 4 kHz, at the place
            where it is largest.
        """
        hertz = [100.0, 1000.0, 4000.0]
        places = main_places(self.healthy_guitar)
        labels = [f"{place}" for place in _labels(places)] or ["reading"]
        without = level_db(response(self.healthy_guitar, places, frequency=hertz))
        rows = []
        for label, guitar, fault in [
            ("no fault", self.healthy_guitar, None),
            *((fault.label, fault.guitar, fault) for fault in self),
        ]:
            ohms = jack_resistance(guitar, places).values.ravel()
            shown = [displayed(r, digits=3) for r in ohms]
            change = _largest_change(fault, without, places) if fault else ["", "", ""]
            rows.append((label, *shown, *change))
        columns = ("fault", *labels, "100 Hz [dB]", "1 kHz [dB]", "4 kHz [dB]")
        title = f"{len(self)} single faults of {self.healthy_guitar.name}"
        note = (
            "Changes relative to the guitar without a fault, all controls up, at the switch place "
            f"where they are largest. {CAUTIONS}"
        )
        return Table(columns, rows, title, note)

    def __repr__(self) -> str:
        return f"{len(self)} single faults of {self.healthy_guitar.name}"

    def _records(self) -> Iterator[dict[str, Any]]:
        labels = list(map(str, _labels(main_places(self.healthy_guitar)))) or ["reading"]
        for fault in self:
            ohms = fault.readings().values.ravel().tolist()
            named = {"fault": fault.label, "kind": fault.kind, "also": "; ".join(fault.also)}
            yield {**named, **dict(zip(labels, ohms, strict=True))}


@public(kinds=None)
def faults(guitar: Harness, *, kinds: Iterable[str] | str | None = None) -> Faults:
    """List the single faults that a guitar may have. Each is an edited harness.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    kinds : str or iterable of str, optional
        Kinds of faults, from `FAULT_KINDS`; all by default.

    Returns
    -------
    Faults
        The faults. Faults that make the same circuit are one entry; ``also`` names the others.

    Raises
    ------
    BadHarness
        If the harness is not complete, or may have more than 1000 faults, which no guitar has.
    BadSetting
        If a kind is unknown.

    Notes
    -----
    A bad joint has 10 kΩ here, and a coil with shorted turns has lost 30 % of them;
    `guitarnet.diagnose` tries many values. The shorted turns are a loss across the others, coupled
    with k² = 0.8 (assumed). Two lugs that touch have a part of 0 ohm named ``fault`` between them.

    References
    ----------
    Which faults occur: common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> faults(guitar, kinds="pot")[0].label
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
    return kept(guitar, ("faults", *chosen), lambda: _faults(guitar, chosen))


def _faults(guitar: Harness, chosen: Sequence[str]) -> Faults:
    """The faults of some kinds, each circuit once."""
    every = [(kind, *one) for kind in FAULT_KINDS if kind in chosen for one in MAKERS[kind](guitar)]
    if len(every) > _MOST:
        raise BadHarness(
            guitar.name,
            f"may have {len(every)} single faults",
            f"a guitar has at most {_MOST}; ask for some of them, as kinds=['coil', 'pot']",
        )
    by_circuit: dict[Any, Fault] = {}
    healthy = _circuit(guitar)
    for kind, label, make, *unknown in every:
        try:
            made = make()
            made.check()
        except BadHarness:
            continue  # both ends of a part on one joint: nobody could hear or measure it
        circuit = _circuit(made)
        fault = Fault(kind, label, made, guitar, (), unknown[0] if unknown else None)
        first = by_circuit.get(circuit)
        if first is None:
            by_circuit[circuit] = fault
        elif label not in (first.label, *first.also):
            by_circuit[circuit] = replace(first, also=(*first.also, label))
    by_circuit.pop(healthy, None)
    return Faults(by_circuit.values(), guitar)


def main_places(guitar: Harness) -> dict[str, Any]:
    """Return the settings that sweep every place of every switch.

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
    """List the settings at which you listen or measure: one switch moved at a time.

    Parameters
    ----------
    guitar : Harness
        The guitar.

    Returns
    -------
    list of dict of str to str
        Every place of the first switch, then the other places of the other switches; the
        switches that are not named stay as they are. One empty dict if there is no switch.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> stations(layouts.two_single_coils(coil, coil))[1]
    {'switch': 'neck+bridge'}
    """
    settings: list[dict[str, str]] = []
    for name, places in main_places(guitar).items():
        current = guitar.parts[name].place  # type: ignore[attr-defined]
        settings += [{name: place} for place in places if not settings or place != current]
    return settings or [{}]


def _labels(places: Mapping[str, list[str]]) -> list[str]:
    labels = [""]
    for names in places.values():
        labels = [f"{before}, {place}" if before else place for before in labels for place in names]
    return labels if places else []


def _largest_change(fault: Fault, without: xr.DataArray, places: Mapping[str, Any]) -> list[str]:
    """Change at each frequency, as text, at the place where the largest change occurs."""
    change = fault._change_db(without, places).values
    change = change.reshape(-1, without.sizes["frequency"])
    sizes = np.nan_to_num(np.abs(change), nan=0.0, posinf=np.inf).max(axis=1)
    return ["silent" if np.isneginf(db) else fixed(db, 1, sign=True) for db in change[most(sizes)]]


def _check_kind(kind: str) -> None:
    if not isinstance(kind, str) or kind not in FAULT_KINDS:
        raise BadSetting("kind", f"{kind!r} is no kind of fault", nearest(str(kind), FAULT_KINDS))


def _circuit(guitar: Harness) -> Any:
    """Key of a circuit: its parts and its nodes. A part of 0 ohm joins as solder does."""
    zero = [n for n, p in guitar.parts.items() if isinstance(p, Resistor) and p.resistance == 0]
    empty = {*zero, *(n for n, part in guitar.parts.items() if isinstance(part, Empty))}
    joined = merged([*guitar.joined, *((f"{name}.a", f"{name}.b") for name in zero)])
    nodes = (frozenset(g for g in joint if g.partition(".")[0] not in empty) for joint in joined)
    parts = {name: part for name, part in guitar.parts.items() if name not in empty}
    return frozenset(parts.items()), frozenset(node for node in nodes if len(node) > 1)
