"""How likely readings are, when parts and meter are known only within limits.

Near the nominal values each reading is linear in the parts' relative errors, with exact slopes.
Errors are taken as normal, with the standard deviation of a rectangular distribution within the
limits, and as independent, except that the coils of a guitar are partly off together: their wire
comes from one spool, or one meter and one thermometer measured them. Readings that share a part
are correlated.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.netlist import Branch, Netlist
from ...circuit.settings import resolve, variants
from ...parts.base import Part, Values, part_inside
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...ranking import most
from ...solve.resistance import Resistances
from ..bench.ohmmeter import Ohmmeter
from ..bench.readings import ResistanceReading
from ..response.looking_in import warmed_coils

__all__ = ["SAME", "Evidence", "Expected", "ReadingModel", "UnknownValue"]

SAME = 1e-3
"""Log likelihoods closer than this are equal: far above rounding, far below what matters."""

# How far a wiper may be from its mark, as a share of the shorter piece of the track, because of the
# taper and of the hand that sets the knob. Common practice, no source.
_TRACK = 0.2
# Share of the variance of a coil's resistance that all coils of a guitar have in common. Half is a
# guess between none and all; common practice, no source.
_TOGETHER = 0.5
_TURN = np.linspace(0.002, 0.998, 84)  # track positions tried for the largest reading over a knob
_KEPT = 400  # readings that are asked for at once; what more predict is not kept
_SLIP = 1e-6  # how often a person notes OL for a value, or a value for OL

UnknownValue = tuple[str, tuple[float, ...]] | None
"""Path of an unknown value, and the values to try, close together."""


@dataclass(frozen=True)
class Expected:
    """Readings that a meter should show, and how they depend on the parts.

    Parameters
    ----------
    ohms : numpy.ndarray
        Readings [ohm], shape (values of the unknown, readings); infinite for OL.
    spread : mapping of str to numpy.ndarray
        Change of each reading by one standard deviation of each part's error [ohm], same shape.
    """

    ohms: np.ndarray
    spread: Mapping[str, np.ndarray]

    def table(self, names: Sequence[str]) -> np.ndarray:
        """Stack the changes of the named parts along a last axis, after a first entry of zeros."""
        nothing = np.zeros(self.ohms.shape)
        return np.stack([nothing, *(self.spread.get(name, nothing) for name in names)], axis=-1)

    def at(self, columns: Sequence[int]) -> Expected:
        """Take some readings, in this order."""
        spread = {name: change[:, columns] for name, change in self.spread.items()}
        return Expected(self.ohms[:, columns], spread)

    def beside(self, other: Expected) -> Expected:
        """Put further readings beside these."""
        names = list({**self.spread, **other.spread})
        changes = np.concatenate([self.table(names), other.table(names)], axis=1)
        return Expected(
            np.concatenate([self.ohms, other.ohms], axis=1),
            {name: changes[..., 1 + number] for number, name in enumerate(names)},
        )

    def take(self, rows: Any) -> Expected:
        """Keep some values of the unknown."""
        return Expected(
            self.ohms[rows], {name: change[rows] for name, change in self.spread.items()}
        )


@dataclass(frozen=True)
class Evidence:
    """How well readings agree with what was expected.

    Parameters
    ----------
    log_likelihood : numpy.ndarray
        For each value of the unknown.
    chi_square : float
        Least weighted square of the deviations over the values of the unknown; infinite if a
        value was read where OL was expected, or the reverse.
    """

    log_likelihood: np.ndarray
    chi_square: float

    @property
    def total(self) -> float:
        """Log likelihood, if every value of the unknown is equally likely before the readings."""
        top = self.log_likelihood.max()
        return float(top + np.log(np.mean(np.exp(self.log_likelihood - top))))


@dataclass(frozen=True)
class ReadingModel:
    """The meter, the tolerances of the parts and the warmth of the coils.

    Parameters
    ----------
    meter : Ohmmeter
        The meter.
    shares : mapping of str to float
        Tolerance of each value by path, as a share, as from `guitarnet.tolerances.tolerances_of`.
    warmed : float
        Resistance of the coils relative to 20 °C.
    written : dict
        Parts and joints stamped already; most faults leave most of them unchanged.
    predicted : dict
        Readings predicted already, by guitar and values of the unknown.
    """

    meter: Ohmmeter
    shares: Mapping[str, float]
    warmed: float = 1.0
    written: dict[Any, Any] = field(default_factory=dict, repr=False, compare=False)
    predicted: dict[Any, _Predicted] = field(default_factory=dict, repr=False, compare=False)

    def predict(
        self, guitar: Harness, readings: Sequence[ResistanceReading], unknown: UnknownValue = None
    ) -> Expected:
        """Predict readings, and how each depends on the parts.

        Parameters
        ----------
        guitar : Harness
            The guitar, with its fault.
        readings : sequence of ResistanceReading
            Where and how to read; their values do not matter.
        unknown : tuple, optional
            Path of an unknown value, and the values to try.

        Returns
        -------
        Expected
            One row for each value of the unknown, one column for each reading.
        """
        if len(readings) > _KEPT:
            return self._computed(guitar, readings, unknown)
        # The guitar is kept, so that no other gets its id.
        key = (id(guitar), *((unknown[0], *unknown[1]) if unknown else ()))
        known = self.predicted.setdefault(key, _Predicted(guitar))
        places = [_place(reading) for reading in readings]
        new = {p: r for p, r in zip(places, readings, strict=True) if p not in known.columns}
        if new:
            known.add(list(new), self._computed(guitar, list(new.values()), unknown))
        assert known.expected is not None
        return known.expected.at([known.columns[place] for place in places])

    def _computed(
        self, guitar: Harness, readings: Sequence[ResistanceReading], unknown: UnknownValue
    ) -> Expected:
        """Predict readings anew."""
        ohms = np.empty((len(unknown[1]) if unknown else 1, len(readings)))
        spread: dict[str, np.ndarray] = {}
        for knob in dict.fromkeys(reading.largest_over for reading in readings):
            columns = [n for n, reading in enumerate(readings) if reading.largest_over == knob]
            together = _Readings(self, guitar, [readings[n] for n in columns], unknown, knob)
            ohms[:, columns] = together.ohms
            for name, change in together.changes():
                spread.setdefault(name, np.zeros(ohms.shape))[:, columns] = change
        return Expected(self.meter.shows(ohms), spread)

    def weigh(self, expected: Expected, seen: np.ndarray) -> Evidence:
        """Compare readings with what was expected.

        Parameters
        ----------
        expected : Expected
            The expected readings.
        seen : numpy.ndarray
            The readings [ohm]; infinite for OL.

        Returns
        -------
        Evidence
            Log likelihood and chi-square.

        Notes
        -----
        Normal density with the covariance J J' + D, where J holds the changes by one standard
        deviation of each part's error and D the squares of the meter's standard uncertainties.
        A person notes OL for a value, or a value for OL, once in a million readings (assumed).
        """
        value_expected, value_read = np.isfinite(expected.ohms), np.isfinite(seen)
        slips = (value_expected != value_read).sum(axis=1)
        # A value for OL may be any value, as likely in each decade.
        decade = np.log(np.where(value_read, seen, 0) + self.meter.floor)
        log = slips * math.log(_SLIP) - np.where(~value_expected & value_read, decade, 0).sum(
            axis=1
        )
        chi = np.where(slips > 0, np.inf, 0.0)
        for pattern in {tuple(row) for row in value_expected & value_read}:
            columns = np.flatnonzero(pattern)
            rows = np.flatnonzero(((value_expected & value_read) == pattern).all(axis=1))
            if columns.size:
                square, logdet = self._deviation(expected.take(rows), seen, columns)
                log[rows] -= (square + logdet) / 2
                chi[rows] += square
        return Evidence(log, float(chi.min()))

    def _deviation(
        self, expected: Expected, seen: np.ndarray, columns: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Weighted square of the deviations, and log determinant of 2 pi times the covariance."""
        off = seen[columns] - expected.ohms[:, columns]
        change = expected.table(list(expected.spread))[:, columns]
        noise = np.diag(self.meter.uncertainty(seen[columns]) ** 2)
        covariance = change @ np.swapaxes(change, 1, 2) + noise
        square = (off * np.linalg.solve(covariance, off[..., None])[..., 0]).sum(axis=1)
        return square, np.linalg.slogdet(2 * math.pi * covariance)[1]


@dataclass
class _Predicted:
    """Predicted readings of one guitar, and the column of each."""

    guitar: Harness
    columns: dict[Any, int] = field(default_factory=dict)
    expected: Expected | None = None

    def add(self, places: Iterable[Any], further: Expected) -> None:
        self.expected = self.expected.beside(further) if self.expected else further
        for place in places:
            self.columns[place] = len(self.columns)


def _place(reading: ResistanceReading) -> Any:
    """Where and how a reading is taken."""
    return tuple(reading.settings.items()), reading.between, reading.lifted, reading.largest_over


def _errors(shares: Mapping[str, float], unknown: UnknownValue) -> dict[str, np.ndarray | float]:
    """Standard deviation of the relative error of each resistance, by path."""
    errors: dict[str, Any] = {
        path: share / math.sqrt(3) for path, share in shares.items() if path.endswith("resistance")
    }
    if unknown:
        path, values = unknown[0], np.asarray(unknown[1])
        # The true value may lie anywhere in the gap between two values that are tried.
        gap = np.abs(np.gradient(values)) / values / math.sqrt(12)
        errors[path] = np.hypot(errors.get(path, 0.0), gap)
    return errors


def _is_coil(guitar: Harness, path: str) -> bool:
    """Whether a path leads to a value of a coil."""
    name, _, local = path.partition(".")
    part, inside = guitar.parts.get(name), local.rpartition(".")[0]
    return isinstance(part_inside(part, inside) if part and inside else part, Coil)


class _Readings:
    """Readings on one guitar, with their circuits solved at once.

    Each part is stamped alone and each joint is a wire between lugs, so that the faults of a
    guitar share what they have in common.
    """

    def __init__(
        self,
        model: ReadingModel,
        guitar: Harness,
        readings: Sequence[ResistanceReading],
        unknown: UnknownValue,
        knob: str | None,
    ) -> None:
        self._errors = _errors(model.shares, unknown)
        self._model, self._guitar = model, guitar
        self._swept: dict[str, Any] = {}
        if unknown:
            self._swept[unknown[0]] = xr.Variable(("unknown",), np.asarray(unknown[1]))
        if knob:
            self._swept[f"{knob}.track"] = xr.Variable(("track",), _TURN)
        self._swept_parts: dict[Any, Any] = {}  # stamped parts with a swept value
        self._swept_names = {path.partition(".")[0] for path in self._swept}
        jack, cable = guitar.only(Jack), guitar.only(Cable, needed=False)
        at_jack = f"{cable}.amp_tip" if cable else f"{jack}.tip", f"{jack}.sleeve"
        as_it_is = {
            name: self._piece(name, {})
            for name, part in guitar.parts.items()
            if not isinstance(part, AmpInput)
        }
        states: dict[Any, int] = {}
        wires: dict[tuple[str, ...], list[Branch]] = {}
        nets: list[list[Branch]] = []
        probes: list[tuple[int, str, str]] = []
        self._turned: list[list[_Turned]] = []
        for reading in readings:
            state = tuple(reading.settings.items()), reading.lifted
            if state not in states:
                states[state] = len(nets)
                if reading.lifted not in wires:
                    wires[reading.lifted] = self._wires(reading.lifted)
                pieces = {**as_it_is, **self._set(reading.settings, as_it_is)}
                nets.append([*wires[reading.lifted], *(b for p in pieces.values() for b in p[0])])
                self._turned.append([turned for _, turned in pieces.values() if turned])
            probes.append((states[state], *(reading.between or at_jack)))
        dims = {"unknown": len(unknown[1]) if unknown else 1, "track": len(_TURN) if knob else 1}
        resistances = Resistances(*nets, dims=dims)
        ohms, slopes = resistances.between(*probes)
        at = most(ohms)[..., None]  # track position of the largest reading over a turned knob
        self.ohms = np.take_along_axis(ohms, at, -1)[..., 0].T
        self._slopes = np.take_along_axis(slopes, at[..., None], -2)[..., 0, :].swapaxes(0, 1)
        self._names, self._states = resistances.names, [state for state, _, _ in probes]

    def changes(self) -> Iterator[tuple[str, np.ndarray]]:
        """Change of the readings by each part's error, shape (values of the unknown, readings)."""
        paths, prefixes = list(self._errors), [p[: -len("resistance")] for p in self._errors]
        belongs = np.array([[name.startswith(p) for name in self._names] for p in prefixes], float)
        belongs = belongs.reshape(
            len(paths), len(self._names)
        )  # also where nothing has a tolerance
        every = self._slopes @ belongs.T
        together = np.zeros(self.ohms.shape)
        for number, path in enumerate(paths):
            if not belongs[number].any():
                continue
            change, alone = every[..., number], self._errors[path]
            if _is_coil(self._guitar, path):
                common = math.sqrt(_TOGETHER / 3) * self._model.shares.get(path, 0.0)
                together += change * common
                alone = np.sqrt(np.square(alone) - common**2)
            yield path, (change.T * alone).T
        if together.any():
            yield "coils together", together
        yield from self._by_tracks().items()

    def _by_tracks(self) -> dict[str, np.ndarray]:
        """Change of the readings by the wipers of knobs that are between their ends."""
        columns = {name: self._slopes[..., number] for number, name in enumerate(self._names)}
        changes: dict[str, np.ndarray] = {}
        for reading, state in enumerate(self._states):
            for label, by_branch in self._turned[state]:
                change = changes.setdefault(label, np.zeros(self.ohms.shape))
                for branch, slip in by_branch.items():
                    if branch in columns:
                        change[:, reading] += columns[branch][:, reading] * slip
        return changes

    def _wires(self, lifted: Sequence[str]) -> list[Branch]:
        """The joints of the guitar as wires, with some lugs lifted."""
        joined = {lug for joint in self._guitar.joined for lug in joint}
        held = self._guitar.lift(*(lug for lug in lifted if lug in joined))
        known = self._model.written
        for joint in held.joined:
            if joint not in known:
                known[joint] = [Branch("", "R", pair, 0.0) for pair in pairwise(joint)]
        return [wire for joint in held.joined for wire in known[joint]]

    def _set(self, settings: Mapping[str, Any], among: Iterable[str]) -> dict[str, _Piece]:
        """The parts that settings change, among the given ones."""
        by_part: dict[str, dict[str, Any]] = {}
        for path, value in settings.items():
            by_part.setdefault(path.partition(".")[0], {})[path] = value
        return {
            name: self._piece(name, values) for name, values in by_part.items() if name in among
        }

    def _piece(self, name: str, settings: Mapping[str, Any]) -> _Piece:
        """Stamp a part as it is set for a reading, or take it from the store."""
        part = self._guitar.parts[name]
        pieces = self._swept_parts if name in self._swept_names else self._model.written
        key = (name, id(part), *settings.items())
        if key not in pieces:
            # The part is kept, so that no other part gets its id.
            pieces[key] = self._written(name, part, settings), part
        piece: _Piece = pieces[key][0]
        return piece

    def _written(self, name: str, part: Part, settings: Mapping[str, Any]) -> _Piece:
        _, harnesses, rest = variants(Harness({name: part}), settings)
        alone = next(harness for _, harness in harnesses)
        part = alone.parts[name]
        values = resolve(alone, rest).values
        values |= {path: v for path, v in self._swept.items() if path.startswith(f"{name}.")}
        values |= warmed_coils(alone.parts, values, self._model.warmed)
        net = Netlist()
        lugs = {lug: f"{name}.{lug}" for lug in part.lugs}
        part.stamp(net.inner(name, **lugs), Values(part, name, values))
        carrying = [branch for branch in net if branch.kind not in ("C", "M")]
        return carrying, _turned(name, part, values)


_Turned = tuple[str, dict[str, float]]
_Piece = tuple[list[Branch], _Turned | None]
"""Branches of a part. For a knob between its ends also its label and the relative change of its
branches' resistances by one standard deviation of the wiper's position."""


def _turned(name: str, part: Part, values: Mapping[str, Any]) -> _Turned | None:
    """How far the wiper of a pot may be from its mark."""
    if not isinstance(part, Pot):
        return None
    mark = values.get(f"{name}.mark", part.controls["mark"].default)
    track = values.get(f"{name}.track", float(part.taper(float(mark or 0) / 10)))
    if isinstance(track, xr.Variable):  # turned over the whole track
        return None
    least = min(track, 1 - track)
    if least <= 0:
        return None
    slip = least * _TRACK / math.sqrt(3)
    return f"{name} at {mark:g}", {
        f"{name}.upper": -slip / (1 - track),
        f"{name}.lower": slip / track,
    }
