"""An installation verified: each reading beside the range in which a sound guitar shows it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ...circuit.harness import CAUTIONS, Harness
from ...gate import public
from ...ranking import at_least, at_most
from ...table import Table, Tabled
from ...units import format_value
from ..spread.tolerance import limits
from .expected import resistance_tolerances, widened
from .meter import coil_celsius
from .ohmmeter import Ohmmeter
from .readings import ResistanceReading, readings_of

__all__ = ["CheckedReading", "Verification", "verify"]


@public
@dataclass(frozen=True)
class CheckedReading:
    """One reading, and what a sound guitar shows in its place. Made by `guitarnet.verify`.

    Parameters
    ----------
    reading : ResistanceReading
        What was read.
    nominal, low, high : float
        What all parts at their nominal values give, and the least and most that parts and meter
        within their limits give [ohm]; infinite is "OL".
    """

    reading: ResistanceReading
    nominal: float
    low: float
    high: float

    @property
    def fits(self) -> bool:
        """Whether the reading lies in the range; "OL" fits where no value is to be seen."""
        return bool(at_least(self.reading.ohms, self.low) & at_most(self.reading.ohms, self.high))

    def verdict(self) -> str:
        """Say how the reading lies to its range."""
        if self.fits:
            return "as it should be"
        if self.reading.is_open:
            return "open, but should show a value"
        if math.isinf(self.low):
            return "shows a value, but should be open"
        return "too low" if self.reading.ohms < self.low else "too high"


@public
@dataclass(frozen=True, repr=False)
class Verification(Tabled):
    """What was read on a guitar, each reading beside its range. Made by `guitarnet.verify`.

    Parameters
    ----------
    guitar : str
        What the guitar is called.
    checked : tuple of CheckedReading
        The readings, in the order given.
    conditions : str
        What the ranges rest on, in a sentence.
    """

    guitar: str
    checked: tuple[CheckedReading, ...]
    conditions: str

    @property
    def fits(self) -> bool:
        """Whether every reading lies in its range."""
        return all(one.fits for one in self.checked)

    def verdict(self) -> str:
        """Say the outcome in a sentence."""
        wrong = sum(not one.fits for one in self.checked)
        count = len(self.checked)
        if wrong and count == 1:
            return "The reading cannot come from this guitar without a fault."
        if wrong:
            return f"{wrong} of {count} readings cannot come from this guitar without a fault."
        what = "The reading lies" if count == 1 else f"All {count} readings lie"
        return (
            f"{what} where a guitar without a fault shows it; what an ohmmeter cannot see, such "
            "as phase or a capacitor's value, is not verified by that."
        )

    def table(self) -> Table:
        """Set out each reading with its range and verdict, and the usual cautions."""
        rows = [
            (
                one.reading.where(),
                *(_shown(ohms) for ohms in (one.reading.ohms, one.nominal, one.low, one.high)),
                one.verdict(),
            )
            for one in self.checked
        ]
        columns = ("where", "read", "nominal", "lowest", "highest", "verdict")
        note = "\n".join([self.verdict(), self.conditions, CAUTIONS])
        return Table(columns, rows, f"What was read on {self.guitar}", note)

    def _records(self) -> Iterator[dict[str, Any]]:
        for one in self.checked:
            yield {
                "where": one.reading.where(),
                "read": one.reading.ohms,
                "nominal": one.nominal,
                "low": one.low,
                "high": one.high,
                "fits": one.fits,
            }


@public(readings=None)
def verify(
    guitar: Harness,
    readings: Mapping[str, Any] | Sequence[ResistanceReading] | ResistanceReading,
    *,
    meter: Ohmmeter | None = None,
    tolerances: Mapping[str, Any] | None = None,
    coil_temperature: float | str = 20.0,
) -> Verification:
    """Hold what was read on a guitar against what it must show without a fault.

    Unplug the guitar from everything before opening or measuring it.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    readings : mapping, ResistanceReading or sequence of ResistanceReading
        What was read, as in `diagnose`.
    meter : Ohmmeter, optional
        The meter; a usual one unless given.
    tolerances : mapping of str to float or str, optional
        Plus or minus share of each value by path; as in
        `guitarnet.tolerances.tolerances_of` unless given.
    coil_temperature : float or str
        Temperature of the coils [°C]; a warm coil reads more.

    Returns
    -------
    Verification
        Each reading with its range; a table to print.

    Raises
    ------
    BadSetting, BadValue, BadHarness
        If a reading, place or tolerance is not right.

    Notes
    -----
    The range has all parts at their lower and all at their upper limits, exact for resistances
    (see `guitarnet.tolerances.limits`), widened by the meter's limits of error.

    References
    ----------
    Method of reading: common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> guitar = layouts.two_single_coils(coil, coil)
    >>> found = verify(guitar, {"neck": "6.05k", "bridge": "OL"})
    >>> [one.verdict() for one in found.checked]
    ['as it should be', 'open, but should show a value']
    """
    taken = readings_of(guitar, readings)
    used = meter or Ohmmeter()
    ends = limits(guitar, tolerances=resistance_tolerances(guitar, tolerances))
    degrees = coil_celsius(coil_temperature)
    how: dict[str, Any] = {"coil_temperature": degrees, "meter": used}
    checked = []
    for reading in taken:
        # A value that the reading sets has no tolerance.
        free: dict[str, Any] = {
            path: value for path, value in ends.items() if path not in reading.settings
        }
        ohms = reading.expected(guitar, free, **how)
        if "limit" not in ohms.dims:
            ohms = ohms.expand_dims(limit=["low", "high"])
        low, high = widened(ohms.sel(limit="low"), ohms.sel(limit="high"), used)
        nominal = reading.expected(guitar, **how)
        checked.append(CheckedReading(reading, float(nominal), float(low), float(high)))
    words = (
        f"Ranges: all parts and the meter ({used.label()}) at their limits, coils at "
        f"{degrees:.4g} °C; readings at the jack with the cable plugged in and the amp "
        "unplugged, controls that are not named up."
    )
    return Verification(guitar.name, tuple(checked), words)


def _shown(ohms: float) -> str:
    return "OL" if math.isinf(ohms) else format_value(ohms, "ohm", digits=4)
