"""How likely readings are on a guitar whose parts and whose meter are only known within limits.

Near the nominal values each reading is linear in the parts' relative errors, with slopes that are
exact. Errors are taken as independent and normal, with the standard deviation of a rectangular
distribution within the limits. Readings that share a part are correlated.
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
from ...parts.base import Part, Values
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pot import Pot
from ...ranking import most
from ...solve.resistance import Resistances
from ..bench.ohmmeter import Ohmmeter
from ..bench.readings import ResistanceReading
from ..response.looking_in import warmed_coils

__all__ = ["SAME", "Bench", "Evidence", "Expected", "Unknown"]

SAME = 1e-3
"""Difference of log likelihoods that is none: far above rounding, far below what a person asks."""

# How far a wiper may be from where the mark says, as a share of the shorter piece of the track:
# by the taper, and by the hand that sets the knob. Common practice, no source.
_TRACK = 0.2
_TURN = np.linspace(0.002, 0.998, 84)  # where the largest reading over a knob is sought
_SLIP = 1e-6  # how often OL is read for a value, or a value for OL

Unknown = tuple[str, tuple[float, ...]] | None
"""Path of a value that may be anything, and values close together that it may have."""


@dataclass(frozen=True)
class Expected:
    """What a meter should show, and how that depends on the parts.

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
        """Stack the changes by the named parts along a last axis, after a first of zeros."""
        nothing = np.zeros(self.ohms.shape)
        return np.stack([nothing, *(self.spread.get(name, nothing) for name in names)], axis=-1)

    def take(self, rows: Any) -> Expected:
        """Keep some values of the unknown."""
        return Expected(self.ohms[rows], {name: own[rows] for name, own in self.spread.items()})


@dataclass(frozen=True)
class Evidence:
    """How well readings agree with what was expected.

    Parameters
    ----------
    log_likelihood : numpy.ndarray
        For each value of the unknown.
    chi_square : float
        Least weighted square of the deviations over the values of the unknown; infinite where a
        value was read for OL or OL for a value.
    """

    log_likelihood: np.ndarray
    chi_square: float

    @property
    def total(self) -> float:
        """Log likelihood, every value of the unknown being equally likely before."""
        top = self.log_likelihood.max()
        return float(top + np.log(np.mean(np.exp(self.log_likelihood - top))))


@dataclass(frozen=True)
class Bench:
    """The meter at hand, how far each part may be off, and how warm the coils are.

    Parameters
    ----------
    meter : Ohmmeter
        The meter.
    shares : mapping of str to float
        Plus or minus share of each value by path, as `guitarnet.tolerances.tolerances_of` gives it.
    warmed : float
        Resistance of the coils over that at 20 °C.
    written : dict
        Parts and joints as they were written down already; most faults leave most of them alone.
    """

    meter: Ohmmeter
    shares: Mapping[str, float]
    warmed: float = 1.0
    written: dict[Any, Any] = field(default_factory=dict, repr=False, compare=False)

    def predict(
        self, guitar: Harness, readings: Sequence[ResistanceReading], unknown: Unknown = None
    ) -> Expected:
        """Predict readings, with what each depends on.

        Parameters
        ----------
        guitar : Harness
            The guitar, with its fault.
        readings : sequence of ResistanceReading
            Where and how is read; their values do not matter.
        unknown : tuple, optional
            Path of a value that may be anything, and the values to try.

        Returns
        -------
        Expected
            A row for each value of the unknown, a column for each reading.
        """
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
        """Weigh readings against what was expected.

        Parameters
        ----------
        expected : Expected
            What should be read.
        seen : numpy.ndarray
            What was read [ohm]; infinite for OL.

        Returns
        -------
        Evidence
            Log likelihood and chi-square.

        Notes
        -----
        Normal density with the covariance J J' + D, where J holds the changes by one standard
        deviation of each part's error and D the squares of the meter's standard uncertainties.
        That OL is read for a value, or a value for OL, happens once in a million readings
        (assumed).
        """
        there, here = np.isfinite(expected.ohms), np.isfinite(seen)
        slips = (there != here).sum(axis=1)
        # A value for OL may be any value, as likely in each decade.
        decade = np.log(np.where(here, seen, 0) + self.meter.floor)
        log = slips * math.log(_SLIP) - np.where(~there & here, decade, 0).sum(axis=1)
        chi = np.where(slips > 0, np.inf, 0.0)
        for pattern in {tuple(row) for row in there & here}:
            columns = np.flatnonzero(pattern)
            rows = np.flatnonzero(((there & here) == pattern).all(axis=1))
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


def _errors(shares: Mapping[str, float], unknown: Unknown) -> dict[str, np.ndarray | float]:
    """Standard deviation of the relative error of each resistance, by path."""
    errors: dict[str, Any] = {
        path: share / math.sqrt(3) for path, share in shares.items() if path.endswith("resistance")
    }
    if unknown:
        path, values = unknown[0], np.asarray(unknown[1])
        # Between the values that are tried lies a gap, within which the true one may be.
        gap = np.abs(np.gradient(values)) / values / math.sqrt(12)
        errors[path] = np.hypot(errors.get(path, 0.0), gap)
    return errors


class _Readings:
    """Readings on one guitar, their circuits solved at once.

    Each part is written down with its lugs on nothing and a joint is a wire between lugs. So
    what the faults of a guitar have in common is written down once.
    """

    def __init__(
        self,
        bench: Bench,
        guitar: Harness,
        readings: Sequence[ResistanceReading],
        unknown: Unknown,
        knob: str | None,
    ) -> None:
        self._errors = _errors(bench.shares, unknown)
        self._bench, self._guitar = bench, guitar
        self._swept: dict[str, Any] = {}
        if unknown:
            self._swept[unknown[0]] = xr.Variable(("unknown",), np.asarray(unknown[1]))
        if knob:
            self._swept[f"{knob}.track"] = xr.Variable(("track",), _TURN)
        self._own: dict[Any, Any] = {}  # parts of which a value is swept, as they were written
        self._own_names = {path.partition(".")[0] for path in self._swept}
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
        found = Resistances(*nets, dims=dims)
        ohms, slopes = found.between(*probes)
        at = most(ohms)[..., None]  # where the largest over a turned knob is
        self.ohms = np.take_along_axis(ohms, at, -1)[..., 0].T
        self._slopes = np.take_along_axis(slopes, at[..., None], -2)[..., 0, :].swapaxes(0, 1)
        self._names, self._states = found.names, [state for state, _, _ in probes]

    def changes(self) -> Iterator[tuple[str, np.ndarray]]:
        """Change of the readings by each part's error, shape (values of the unknown, readings)."""
        paths, prefixes = list(self._errors), [p[: -len("resistance")] for p in self._errors]
        own = np.array([[name.startswith(p) for name in self._names] for p in prefixes], float)
        own = own.reshape(len(paths), len(self._names))  # also where nothing has a tolerance
        every = self._slopes @ own.T
        for number, path in enumerate(paths):
            if own[number].any():
                yield path, (every[..., number].T * self._errors[path]).T
        yield from self._by_tracks().items()

    def _by_tracks(self) -> dict[str, np.ndarray]:
        """Change by the wipers' places, where knobs stand somewhere between their ends."""
        columns = {name: self._slopes[..., number] for number, name in enumerate(self._names)}
        found: dict[str, np.ndarray] = {}
        for reading, state in enumerate(self._states):
            for label, by_branch in self._turned[state]:
                change = found.setdefault(label, np.zeros(self.ohms.shape))
                for branch, slip in by_branch.items():
                    if branch in columns:
                        change[:, reading] += columns[branch][:, reading] * slip
        return found

    def _wires(self, lifted: Sequence[str]) -> list[Branch]:
        """The joints of the guitar as it is held, as wires."""
        joined = {lug for joint in self._guitar.joined for lug in joint}
        held = self._guitar.lift(*(lug for lug in lifted if lug in joined))
        known = self._bench.written
        for joint in held.joined:
            if joint not in known:
                known[joint] = [Branch("", "R", pair, 0.0) for pair in pairwise(joint)]
        return [wire for joint in held.joined for wire in known[joint]]

    def _set(self, settings: Mapping[str, Any], among: Iterable[str]) -> dict[str, _Piece]:
        """The parts that settings change, of those that are there."""
        by_part: dict[str, dict[str, Any]] = {}
        for path, value in settings.items():
            by_part.setdefault(path.partition(".")[0], {})[path] = value
        return {name: self._piece(name, own) for name, own in by_part.items() if name in among}

    def _piece(self, name: str, settings: Mapping[str, Any]) -> _Piece:
        """Write a part down as it stands for a reading, or find it written."""
        part = self._guitar.parts[name]
        known = self._own if name in self._own_names else self._bench.written
        key = (name, id(part), *settings.items())
        if key not in known:
            # The part is kept, so that no other has its number.
            known[key] = self._written(name, part, settings), part
        piece: _Piece = known[key][0]
        return piece

    def _written(self, name: str, part: Part, settings: Mapping[str, Any]) -> _Piece:
        _, harnesses, rest = variants(Harness({name: part}), settings)
        alone = next(harness for _, harness in harnesses)
        part = alone.parts[name]
        values = resolve(alone, rest).values
        values |= {path: v for path, v in self._swept.items() if path.startswith(f"{name}.")}
        values |= warmed_coils(alone.parts, values, self._bench.warmed)
        net = Netlist()
        lugs = {lug: f"{name}.{lug}" for lug in part.lugs}
        part.stamp(net.inner(name, **lugs), Values(part, name, values))
        carrying = [branch for branch in net if branch.kind not in ("C", "M")]
        return carrying, _turned(name, part, values)


_Turned = tuple[str, dict[str, float]]
_Piece = tuple[list[Branch], _Turned | None]
"""Branches of a part; and where a knob stands between its ends, what to call it and by how much
the resistances of its branches change with the wiper's place: relative, by a standard deviation."""


def _turned(name: str, part: Part, values: Mapping[str, Any]) -> _Turned | None:
    """Say how far the wiper of a pot may be from where its mark says."""
    if not isinstance(part, Pot):
        return None
    mark = values.get(f"{name}.mark", part.controls["mark"].default)
    track = values.get(f"{name}.track", float(part.taper(float(mark or 0) / 10)))
    if isinstance(track, xr.Variable):  # turned over all of it
        return None
    least = min(track, 1 - track)
    if least <= 0:
        return None
    slip = least * _TRACK / math.sqrt(3)
    return f"{name} at {mark:g}", {
        f"{name}.upper": -slip / (1 - track),
        f"{name}.lower": slip / track,
    }
