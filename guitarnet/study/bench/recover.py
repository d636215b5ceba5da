"""Values of the parts inside a closed guitar, from ohmmeter readings at its jack."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import target
from ...errors import BadSetting
from ...frozen import Frozen
from ...gate import public
from ...identity import ByValue
from ...table import Table, Tabled
from ...units import Quantity, format_value
from ..spread.tolerance import nominal, read_tolerances
from .meter import coil_celsius
from .ohmmeter import Ohmmeter
from .readings import ResistanceReading, readings_of

__all__ = ["RecoveredValues", "pot_from_largest", "values_from_readings"]

_OHM = Quantity("ohm", above=0)
_STEP = 1e-4  # in the logarithm of a value, to either side, for slopes
_NO_SLOPE = 1e-6  # relative to the largest slope or singular value: below this is rounding
_RANGE = 100.0  # largest factor between a value and its start


@public
def pot_from_largest(largest: float | str, dcr: float | str) -> float:
    """Resistance of a volume pot from the largest reading at the jack while it is turned.

    Parameters
    ----------
    largest : float or str
        Largest reading while you turn the volume [ohm].
    dcr : float or str
        DC resistance of the selected pickup [ohm].

    Returns
    -------
    float
        Resistance of the pot, end lug to end lug [ohm].

    Raises
    ------
    BadValue
        If a value is not a resistance.
    BadSetting
        If the reading is below half the pickup's resistance; no pot gives that.

    Notes
    -----
    With a pickup of resistance D, a pot of resistance R and the track fraction t, the jack sees
    t R in parallel with (1 - t) R + D. Their sum R + D does not change with t, so the reading is
    largest if both are equal: (R + D) / 4, thus R = 4 x largest - D. The rule of thumb
    "largest x 4" leaves D out.

    This is exact for an ordinary volume (pickup on the outer lug), a pickup of lower resistance
    than the pot, no other resistance in circuit and no end resistance. If the treble bleed has a
    resistor, use `values_from_readings` and a reading with ``largest_over``. With independent
    wiring the largest reading, at 0, is the pot itself.

    References
    ----------
    "Near a quarter of the pot": common practice, no source.

    Examples
    --------
    >>> pot_from_largest("64.05k", "6.2k")
    250000.0
    """
    top, coil = _OHM.read(largest, "largest"), _OHM.read(dcr, "dcr")
    assert top is not None
    assert coil is not None
    if top < coil / 2:
        raise BadSetting(
            "largest",
            f"{format_value(top, 'ohm')} is below half the pickup's {format_value(coil, 'ohm')}",
            "turn the volume through its whole travel and take the largest reading",
            top,
        )
    return 4 * top - coil


@public
@dataclass(frozen=True, eq=False, repr=False)
class RecoveredValues(Tabled, ByValue):
    """Values of parts computed from readings. Made by `values_from_readings`.

    Parameters
    ----------
    values : mapping of str to float
        Values [ohm] by path.
    uncertainties : mapping of str to float
        Standard uncertainty of each [ohm].
    correlation : numpy.ndarray
        Correlation of the values, in their order.
    misses : tuple of float
        Deviation of each reading that has a number, in its standard uncertainties.
    chi_square : float
        Sum of the squares of all misses, with those of other parts within their tolerance.
    degrees_of_freedom : int
        Readings minus unknowns; 0 means that nothing is left to check the readings.

    Examples
    --------
    See `values_from_readings`.
    """

    values: Mapping[str, float]
    uncertainties: Mapping[str, float]
    correlation: np.ndarray
    misses: tuple[float, ...]
    chi_square: float
    degrees_of_freedom: int

    def table(self) -> Table:
        """Return the values as a table."""
        rows = [
            (path, format_value(value, "ohm"), format_value(self.uncertainties[path], "ohm"))
            for path, value in self.values.items()
        ]
        return Table(("value", "found", "standard uncertainty"), rows, note=self._checked())

    def _records(self) -> Iterator[dict[str, Any]]:
        for path, value in self.values.items():
            yield {"path": path, "value": value, "uncertainty": self.uncertainties[path]}

    def _checked(self) -> str:
        """Sentence about whether the readings agree."""
        free = self.degrees_of_freedom
        if not free:
            return "There are as many readings as unknowns, so nothing checks the readings."
        sentence = f"Chi-square {self.chi_square:.3g} with {free} degrees of freedom"
        # Mean and variance of chi-square are n and 2 n.
        if self.chi_square > free + 4 * math.sqrt(2 * free):
            return f"{sentence}: the readings contradict the circuit or one another."
        return f"{sentence}: the readings agree."


@public(tolerances=None)
def values_from_readings(
    guitar: Harness,
    readings: Any,
    unknown: Sequence[str] | str = ("pickup.resistance", "volume.resistance"),
    *,
    meter: Ohmmeter | None = None,
    coil_temperature: float | str = 20.0,
    tolerances: Mapping[str, Any] | None = None,
) -> RecoveredValues:
    """Find the values of parts that explain resistance readings, from the whole circuit.

    Unplug the guitar from the amplifier before measuring.

    Parameters
    ----------
    guitar : Harness
        The guitar with its bleeds, and with a guess for each unknown value.
    readings : mapping, ResistanceReading or sequence of ResistanceReading
        As in `readings_of`. A reading with ``largest_over="volume"`` is the largest while you
        turn that knob, and does not depend on the taper.
    unknown : sequence of str
        Paths of the values to find: resistances.
    meter : Ohmmeter, optional
        The meter; ``Ohmmeter()`` by default. Its accuracy sets the weights of the readings.
    coil_temperature : float or str
        Temperature of the coils [°C]; the result is for 20 °C.
    tolerances : mapping of str to float or str, optional
        Tolerances of the other values by path; by default from
        `guitarnet.tolerances.tolerances_of`. Empty: all other values are exact.

    Returns
    -------
    RecoveredValues
        Value and standard uncertainty of each unknown.

    Raises
    ------
    BadSetting
        If the readings do not determine an unknown, a reading is open and the guitar is not (or
        the reverse), or a path or place does not exist.
    BadValue, BadHarness
        As in `readings_of` and `ResistanceReading`.

    Notes
    -----
    Weighted least squares in the logarithms of the values. The other parts are quantities known
    with the standard uncertainty limit / sqrt(3), so the uncertainty includes theirs. It comes
    from the inverse of J^T J, with J the slopes of the misses. Tapers are taken as stated: prefer
    readings at 10 and ``largest_over``.

    References
    ----------
    Weighted least squares and its covariance: textbook. Rectangular distributions: JCGM 100:2008
    (GUM), 4.3.7.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6k", "2.4 H", "120p"), treble_bleed="150k || 1n")
    >>> notes = [ResistanceReading("6.05k", volume=10)]
    >>> notes += [ResistanceReading("46.7k", largest_over="volume")]
    >>> found = values_from_readings(guitar, notes)
    >>> {path: round(ohms, -2) for path, ohms in found.values.items()}
    {'pickup.resistance': 6200.0, 'volume.resistance': 250000.0}
    """
    problem = _Problem.of(
        guitar,
        readings_of(guitar, readings),
        [unknown] if isinstance(unknown, str) else list(unknown),
        Ohmmeter() if meter is None else meter,
        coil_celsius(coil_temperature),
        tolerances,
    )
    return problem.solved()


@dataclass(frozen=True, eq=False)
class _Problem:
    """Readings, and the values that explain them: first the unknown ones, then the known ones."""

    guitar: Harness
    readings: tuple[ResistanceReading, ...]
    meter: Ohmmeter
    degrees: float
    start: Mapping[str, float]
    known: np.ndarray  # standard uncertainty of the logarithm of each known value

    @classmethod
    def of(
        cls,
        guitar: Harness,
        readings: Sequence[ResistanceReading],
        unknown: Sequence[str],
        meter: Ohmmeter,
        degrees: float,
        shares: Mapping[str, Any] | None,
    ) -> _Problem:
        start = _unknowns(guitar, unknown)
        known = {
            path: share / math.sqrt(3)
            for path, share in read_tolerances(guitar, shares).items()
            if share and path not in start and target(guitar, path)[1].unit == "ohm"
        }
        start |= {path: nominal(guitar, path) for path in known}
        for reading in readings:
            _check_open(reading, guitar, meter, degrees)
        numbers = tuple(reading for reading in readings if not reading.is_open)
        return cls(guitar, numbers, meter, degrees, start, np.array([*known.values()]))

    @property
    def unknown(self) -> list[str]:
        return list(self.start)[: len(self.start) - self.known.size]

    def misses(self, logs: np.ndarray) -> np.ndarray:
        """Misses of the readings in their standard uncertainties, for rows of logarithms."""
        values: dict[str, Any] = {
            path: xr.DataArray(ohms * np.exp(logs[:, column]), dims="sample")
            for column, (path, ohms) in enumerate(self.start.items())
        }
        misses = np.empty((len(logs), len(self.readings)))
        for column, reading in enumerate(self.readings):
            ohms = reading.expected(self.guitar, values, coil_temperature=self.degrees)
            off = ohms.values + self.meter.leads - reading.ohms
            misses[:, column] = off / self.meter.uncertainty(reading.ohms)
        return misses

    def evaluate(self, logs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Misses of readings and known values, and their slopes."""
        size = logs.size
        steps = _STEP * np.eye(size)
        rows = self.misses(logs + np.concatenate([np.zeros((1, size)), steps, -steps]))
        slopes = (rows[1 : size + 1] - rows[size + 1 :]).T / (2 * _STEP)
        held = np.eye(size)[size - self.known.size :] / self.known[:, None]
        return np.concatenate([rows[0], held @ logs]), np.concatenate([slopes, held])

    def solved(self) -> RecoveredValues:
        """Find the values with the least misses."""
        from scipy.optimize import least_squares

        evaluate = lru_cache(lambda logs: self.evaluate(np.array(logs)))
        origin = np.zeros(len(self.start))
        self._check_slopes(evaluate(tuple(origin))[1])
        reach = math.log(_RANGE)
        fit = least_squares(
            lambda logs: evaluate(tuple(logs))[0],
            origin,
            lambda logs: evaluate(tuple(logs))[1],
            bounds=(-reach, reach),
            xtol=1e-12,
            ftol=1e-12,
            gtol=1e-12,
        )
        for path, log in zip(self.unknown, fit.x, strict=False):
            if abs(log) > 0.99 * reach:
                raise BadSetting(
                    path,
                    f"no value within a factor of {_RANGE:g} of the stated one fits the readings",
                    "check them, or look for a fault",
                )
        misses, slopes = evaluate(tuple(fit.x))
        self._check_slopes(slopes)
        return self._result(fit.x, misses, slopes)

    def _result(self, logs: np.ndarray, misses: np.ndarray, slopes: np.ndarray) -> RecoveredValues:
        count = len(self.unknown)
        covariance = np.linalg.inv(slopes.T @ slopes)[:count, :count]
        relative = np.sqrt(np.diag(covariance))
        values = {p: self.start[p] * math.exp(logs[i]) for i, p in enumerate(self.unknown)}
        return RecoveredValues(
            Frozen(values),
            Frozen({p: ohms * float(relative[i]) for i, (p, ohms) in enumerate(values.items())}),
            covariance / np.outer(relative, relative),
            tuple(float(miss) for miss in misses[: len(self.readings)]),
            float(misses @ misses),
            len(self.readings) - count,
        )

    def _check_slopes(self, slopes: np.ndarray) -> None:
        """Refuse readings that do not determine an unknown."""
        names = self.unknown
        of_unknowns = slopes[: len(self.readings), : len(names)]
        sizes = np.linalg.norm(of_unknowns, axis=0)
        blind = [n for n, size in zip(names, sizes, strict=True) if size <= _NO_SLOPE * _top(sizes)]
        if blind or not of_unknowns.size:
            raise BadSetting(
                " and ".join(blind or names),
                "no reading depends on it"
                if len(blind or names) == 1
                else "no reading depends on them",
                "add a reading between the part's own lugs, such as "
                "gn.bench.ResistanceReading(..., between=('tone.wiper', 'tone.low'))",
            )
        _, strength, directions = np.linalg.svd(of_unknowns / sizes, full_matrices=True)
        if len(strength) < len(names) or strength[-1] <= _NO_SLOPE * strength[0]:
            mixed = [n for n, part in zip(names, directions[-1], strict=True) if abs(part) > 0.05]
            raise BadSetting(
                " and ".join(mixed),
                "the readings cannot tell them apart",
                "add a reading, such as gn.bench.ResistanceReading(..., largest_over='volume')",
            )


def _top(sizes: np.ndarray) -> float:
    return float(sizes.max(initial=0.0))


def _unknowns(guitar: Harness, given: Sequence[str]) -> dict[str, float]:
    """Start of each unknown value, by path."""
    starts: dict[str, float] = {}
    for name in given:
        path, spec = target(guitar, name)
        if spec.unit != "ohm":
            raise BadSetting(
                name, "is no resistance, so an ohmmeter does not find it", "leave it out", name
            )
        if path in starts:
            raise BadSetting(name, "is named twice", "name it once", name)
        starts[path] = nominal(guitar, path)
        if not starts[path]:
            raise BadSetting(name, "has no value to start from", "give the part a likely one", name)
    if not starts:
        raise BadSetting("unknown", "names no value", "give ['pickup.resistance']")
    return starts


def _check_open(
    reading: ResistanceReading, guitar: Harness, meter: Ohmmeter, degrees: float
) -> None:
    """Refuse a reading that no value explains: open but the guitar is not, or the reverse."""
    ohms = reading.expected(guitar, coil_temperature=degrees, meter=meter)
    should_be_open = bool(np.isinf(ohms))
    if reading.is_open and not should_be_open:
        raise BadSetting(
            reading.label(),
            f"the guitar should read {format_value(float(ohms), 'ohm')} there",
            "look for an open joint or coil first; a value of a part does not explain it",
        )
    if should_be_open and not reading.is_open:
        raise BadSetting(
            reading.label(),
            "the guitar should be open there",
            "look for a short first; a value of a part does not explain it",
        )
