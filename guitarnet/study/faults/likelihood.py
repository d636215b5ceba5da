"""How likely readings are on a guitar whose parts and whose meter are only known within limits.

Near the nominal values each reading is linear in the parts' relative errors, with slopes that are
exact. Errors are taken as independent and normal, with the standard deviation of a rectangular
distribution within the limits. Readings that share a part are correlated.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import resolve, variants
from ...parts.pot import Pot
from ...ranking import most
from ...solve.resistance import Resistances
from ..bench.ohmmeter import Ohmmeter
from ..bench.readings import ResistanceReading
from ..response.looking_in import net_at_meter

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
    """

    meter: Ohmmeter
    shares: Mapping[str, float]
    warmed: float = 1.0

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
        count = len(unknown[1]) if unknown else 1
        errors = _errors(self.shares, unknown)
        ohms = np.empty((count, len(readings)))
        spread: dict[str, np.ndarray] = {}
        networks: dict[Any, _Network] = {}
        for column, reading in enumerate(readings):
            state = tuple(reading.settings.items()), reading.lifted, reading.largest_over
            if state not in networks:
                networks[state] = _Network(guitar, reading, unknown, self.warmed)
            found, by = networks[state].read(reading, errors)
            ohms[:, column] = self.meter.shows(found)
            for name, change in by.items():
                spread.setdefault(name, np.zeros((count, len(readings))))[:, column] = change
        return Expected(ohms, spread)

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


class _Network:
    """The resistances of a guitar as it is held for one or more readings."""

    def __init__(
        self, guitar: Harness, reading: ResistanceReading, unknown: Unknown, warmed: float
    ) -> None:
        joined = {lug for joint in guitar.joined for lug in joint}
        held = guitar.lift(*(lug for lug in reading.lifted if lug in joined))
        settings = {k: v for k, v in reading.settings.items() if k.partition(".")[0] in held.parts}
        _, harnesses, rest = variants(held, settings)
        self.harness = next(harness for _, harness in harnesses)
        self.values = resolve(self.harness, rest).values
        if unknown:
            self.values[unknown[0]] = xr.Variable(("unknown",), np.asarray(unknown[1]))
        self.turned = reading.largest_over
        if self.turned:
            self.values[f"{self.turned}.track"] = xr.Variable(("track",), _TURN)
        self.count = len(unknown[1]) if unknown else 1
        net, plug = net_at_meter(self.harness, self.values, warmed=warmed)
        self.jack = plug, self.harness.ground
        self.net = Resistances(net, ("unknown", "track"))

    def read(
        self, reading: ResistanceReading, errors: Mapping[str, Any]
    ) -> tuple[np.ndarray, dict[str, np.ndarray]]:
        """Resistance for each value of the unknown, and its change by each part's error."""
        found, by_branch = self.net.between(
            *(map(self.harness.node, reading.between) if reading.between else self.jack)
        )
        if self.turned:
            found, by_branch = self._largest(found, by_branch)
        by: dict[str, np.ndarray] = {}
        for path, error in errors.items():
            prefix = path[: -len("resistance")]
            own = [slope for name, slope in by_branch.items() if name.startswith(prefix)]
            if own:
                by[path] = np.sum(own, axis=0) * error
        for name, part in self.harness.parts.items():
            if isinstance(part, Pot) and name != self.turned:
                by.update(self._by_track(name, part, by_branch))
        return np.broadcast_to(found, self.count), by

    def _by_track(
        self, name: str, pot: Pot, by_branch: Mapping[str, np.ndarray]
    ) -> dict[str, np.ndarray]:
        """Change by the wiper's place, where the knob stands somewhere between its ends."""
        mark = self.values.get(f"{name}.mark", pot.controls["mark"].default)
        track = self.values.get(f"{name}.track", float(pot.taper(float(mark or 0) / 10)))
        least = min(track, 1 - track)
        if least <= 0:
            return {}
        upper, lower = (by_branch.get(f"{name}.{half}", 0.0) for half in ("upper", "lower"))
        slope = lower / track - upper / (1 - track)
        return {f"{name} at {mark:g}": np.asarray(slope * least * _TRACK / math.sqrt(3))}

    def _largest(
        self, ohms: np.ndarray, by_branch: Mapping[str, np.ndarray]
    ) -> tuple[np.ndarray, dict[str, np.ndarray]]:
        """Take the largest reading over a turned knob."""
        table = np.broadcast_to(ohms, (self.count, _TURN.size))
        at = most(table)
        rows = np.arange(self.count)
        by = {
            name: np.broadcast_to(slope, table.shape)[rows, at] for name, slope in by_branch.items()
        }
        return table[rows, at], by
