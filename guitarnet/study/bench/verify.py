"""Check an installation: each reading beside the range of a healthy guitar."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ...circuit.harness import CAUTIONS, Harness
from ...gate import public
from ...ranking import at_least, at_most
from ...table import Table, Tabled
from ...units import write_celsius
from ..spread.tolerance import limits
from .expected import resistance_tolerances, widened
from .meter import coil_celsius
from .ohmmeter import Ohmmeter, displayed
from .readings import ResistanceReading, readings_of

__all__ = ["CheckedReading", "Verification", "verify"]


@public
@dataclass(frozen=True)
class CheckedReading:
    """One reading, and the range of a healthy guitar. Made by `guitarnet.verify`.

    Parameters
    ----------
    reading : ResistanceReading
        The reading.
    nominal, low, high : float
        Reading with all parts at their nominal values, and the lowest and highest that parts and
        meter within their limits give [ohm]; infinite is "OL".
    """

    reading: ResistanceReading
    nominal: float
    low: float
    high: float

    @property
    def fits(self) -> bool:
        """Whether the reading is in the range; "OL" fits if the circuit should be open."""
        return bool(at_least(self.reading.ohms, self.low) & at_most(self.reading.ohms, self.high))

    def verdict(self) -> str:
        """Compare the reading with its range, in a few words."""
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
    """Readings of a guitar, each beside its range. Made by `guitarnet.verify`.

    Parameters
    ----------
    guitar : str
        Name of the guitar.
    checked : tuple of CheckedReading
        The readings, in the order given.
    conditions : str
        Conditions of the ranges, in a sentence.
    """

    guitar: str
    checked: tuple[CheckedReading, ...]
    conditions: str

    @property
    def fits(self) -> bool:
        """Whether every reading is in its range."""
        return all(one.fits for one in self.checked)

    def verdict(self) -> str:
        """Sum the outcome up in a sentence."""
        wrong = sum(not one.fits for one in self.checked)
        count = len(self.checked)
        if wrong and count == 1:
            return "The reading cannot come from this guitar without a fault."
        if wrong:
            return f"{wrong} of {count} readings cannot come from this guitar without a fault."
        what = "The reading fits" if count == 1 else f"All {count} readings fit"
        return (
            f"{what} a guitar without a fault. An ohmmeter cannot check everything: phase and the "
            "values of capacitors are not verified."
        )

    def table(self) -> Table:
        """List each reading with its range and verdict, and the usual cautions."""
        rows = [
            (
                one.reading.where(),
                *(displayed(ohms) for ohms in (one.reading.ohms, one.nominal, one.low, one.high)),
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
    """Compare readings of a guitar with what it must show without a fault.

    Unplug the guitar from everything before opening or measuring it.

    Parameters
    ----------
    guitar : Harness
        The guitar as it should be.
    readings : mapping, ResistanceReading or sequence of ResistanceReading
        The readings, as in `diagnose`.
    meter : Ohmmeter, optional
        The meter; a usual one by default.
    tolerances : mapping of str to float or str, optional
        As in `diagnose`.
    coil_temperature : float or str
        Temperature of the coils [°C]; a warm coil reads more.

    Returns
    -------
    Verification
        Each reading with its range; prints as a table.

    Raises
    ------
    BadSetting, BadValue, BadHarness
        If a reading, place or tolerance is not right.

    Notes
    -----
    The range runs from all parts at their lower limits to all at their upper limits, which is
    exact for resistances (see `guitarnet.tolerances.limits`). The meter's limits of error widen
    it.

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
    conditions = (
        f"Ranges: all parts and the meter ({used.label()}) at their limits, coils at "
        f"{write_celsius(degrees)}; readings at the jack with the cable plugged in and the amp "
        "unplugged; other controls at 10."
    )
    return Verification(guitar.name, tuple(checked), conditions)
