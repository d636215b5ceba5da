"""What a record says of pickups: a certificate, an answer on return, and all of one sort."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...errors import BadSetting, BadValue
from ...gate import public
from ...parts.copper import PER_KELVIN
from ...ranking import at_most
from ...table import Table, Tabled
from ...units import format_value, write_celsius
from .record import Entry, Record, at_20

__all__ = ["Certificate", "History", "Returned", "certificate", "history", "returned"]

_CUSTOMER = 0.008  # of the meter that reads it next, as a share; common practice, no source
_KELVIN = 1.0  # limits of error of a thermometer, or of a guess by the room
_RETURN = 0.05  # what is taken back on sight when it is off by more; common practice, no source
_ROOMS = (15.0, 20.0, 25.0)  # °C


@public
@dataclass(frozen=True, repr=False)
class Certificate(Tabled):
    """What a meter should show of one pickup. Made by `certificate`.

    Parameters
    ----------
    pickup, sort : str
        Its name and sort.
    shipped : Entry
        The reading at shipping.
    rows : tuple of (float, float, float, float)
        Temperature [°C], what a meter should show, and the limits of what it may [ohm].

    Examples
    --------
    See `certificate`.
    """

    pickup: str
    sort: str
    shipped: Entry
    rows: tuple[tuple[float, float, float, float], ...]

    def table(self) -> Table:
        """List what a meter should show, warm and cold."""
        rows = [
            (write_celsius(celsius), *(_ohms(ohms) for ohms in more))
            for celsius, *more in self.rows
        ]
        title = ", ".join(words for words in (f"Pickup {self.pickup}", self.sort) if words)
        return Table(("at", "should show", "from", "to"), rows, title, self.conditions())

    def conditions(self) -> str:
        """Say what the limits hold."""
        return (
            f"Read {_ohms(self.shipped.ohms)} at {write_celsius(self.shipped.celsius)} on "
            f"{self.shipped.date}, by a meter within {self.shipped.accuracy * 100:.2g} %. Limits: "
            f"that meter, another within {_CUSTOMER * 100:.2g} %, and {_KELVIN:g} K at each "
            "reading. Copper rises by 0.393 % with each kelvin. Let a pickup lie in the room for "
            "an hour and do not hold it in the hand."
        )

    def _records(self) -> Iterator[dict[str, Any]]:
        for celsius, ohms, low, high in self.rows:
            yield {"celsius": celsius, "ohms": ohms, "low": low, "high": high}


@public
@dataclass(frozen=True, repr=False)
class Returned(Tabled):
    """A pickup read again. Made by `returned`.

    Parameters
    ----------
    pickup : str
        Its name.
    ohms, celsius : float
        What was read [ohm], and the temperature of the coil [°C].
    at_20, shipped_at_20 : float
        Both readings, brought to 20 °C [ohm].
    limit : float
        By how much the two may differ for meters and thermometers alone, as a share.

    Examples
    --------
    See `returned`.
    """

    pickup: str
    ohms: float
    celsius: float
    at_20: float
    shipped_at_20: float
    limit: float

    @property
    def off(self) -> float:
        """By how much it is off, as a share of the reading at shipping."""
        return self.at_20 / self.shipped_at_20 - 1

    @property
    def sound(self) -> bool:
        """Whether it reads as it was shipped, as far as the meters can tell."""
        return bool(at_most(abs(self.off), self.limit))

    def sentence(self) -> str:
        """Answer in a sentence."""
        shipped = _ohms(self.shipped_at_20)
        if math.isinf(self.ohms):
            return f"OL: the coil or a lead is open; shipped at {shipped} at {write_celsius(20)}."
        told = (
            f"{_ohms(self.ohms)} at {write_celsius(self.celsius)} is "
            f"{_ohms(self.at_20)} at {write_celsius(20)}; shipped at {shipped}"
        )
        if self.sound:
            return f"{told}: sound, within the {self.limit * 100:.1f} % of meters and thermometers."
        side = "over" if self.off > 0 else "under"
        more = f"{abs(self.off) * 100:.2g} % {side}, more than the {self.limit * 100:.1f} %"
        if abs(self.off) <= _RETURN:
            return f"{told}: {more} of meters and thermometers; read both once more."
        return f"{told}: {more} of meters and thermometers. It is not as it was shipped."

    def table(self) -> Table:
        """Set out both readings."""
        rows = [
            ("read", _ohms(self.ohms), write_celsius(self.celsius)),
            ("read, brought to", _ohms(self.at_20), write_celsius(20)),
            ("shipped, brought to", _ohms(self.shipped_at_20), write_celsius(20)),
        ]
        return Table(("", "ohms", "at"), rows, f"Pickup {self.pickup}", self.sentence())

    def _records(self) -> Iterator[dict[str, Any]]:
        yield {
            "pickup": self.pickup,
            "ohms": self.ohms,
            "celsius": self.celsius,
            "at_20": self.at_20,
            "shipped_at_20": self.shipped_at_20,
            "limit": self.limit,
            "sound": self.sound,
        }


@public
@dataclass(frozen=True, repr=False)
class History(Tabled):
    """All pickups of one sort, as they were read first. Made by `history`.

    Parameters
    ----------
    sort : str
        The sort.
    entries : tuple of Entry
        The first reading of each pickup, by date.

    Examples
    --------
    See `history`.
    """

    sort: str
    entries: tuple[Entry, ...]

    @property
    def ohms(self) -> np.ndarray:
        """Resistance of each at 20 °C [ohm], shape (pickups,)."""
        return np.array([at_20(one) for one in self.entries])

    def table(self) -> Table:
        """List each pickup with its reading, brought to 20 °C."""
        rows = [
            (one.date, one.thing, _ohms(ohms))
            for one, ohms in zip(self.entries, self.ohms, strict=True)
        ]
        low, middle, high = (_ohms(f(self.ohms)) for f in (np.min, np.median, np.max))
        count = f"{len(rows)} pickup{'s' * (len(rows) > 1)}"
        note = f"{count}: {low} to {high}, median {middle}, at {write_celsius(20)}."
        return Table(("date", "pickup", f"at {write_celsius(20)}"), rows, self.sort, note)

    def _records(self) -> Iterator[dict[str, Any]]:
        for one, ohms in zip(self.entries, self.ohms, strict=True):
            yield {"date": one.date, "pickup": one.thing, "ohms_at_20": ohms}


@public
def certificate(record: Record, pickup: str) -> Certificate:
    """Say what a meter should show of a pickup in a cold, a usual and a warm room.

    Parameters
    ----------
    record : Record
        The record.
    pickup : str
        The pickup; its last reading in the state "shipped" counts, else its last.

    Returns
    -------
    Certificate
        What a meter should show; prints as a table.

    Raises
    ------
    BadSetting
        If there is no such pickup, or no reading of it that shows ohms.

    Notes
    -----
    R(t) = R20 (1 + 0.00393 (t - 20)). The limits are those errors added: of the meter that read
    it, of one within 0.8 % that reads it next, and of a kelvin at each reading, 0.393 %.

    References
    ----------
    Copper: IEC 60028. A meter within 0.8 %: common practice, no source.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet.records import Record
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Record(pathlib.Path(folder, "bench.record"), begin=True) as record:
    ...         record.add("N-12", "pickup")
    ...         _ = record.write("N-12", readings="7.15k", at="20 C", accuracy="0.5%")
    ...         made: Certificate = certificate(record, "N-12")
    >>> made.table().rows[0]
    ('15 °C', '7.01 kΩ', '6.86 kΩ', '7.16 kΩ')
    """
    entry = _shipped(record, pickup)
    nominal, limit = at_20(entry), _limit(entry.accuracy, _CUSTOMER)
    rows = []
    for celsius in _ROOMS:
        ohms = nominal * (1 + PER_KELVIN * (celsius - 20))
        rows.append((celsius, ohms, ohms * (1 - limit), ohms * (1 + limit)))
    return Certificate(pickup, record.sort(pickup), entry, tuple(rows))


@public
def returned(
    record: Record,
    pickup: str,
    ohms: float | str,
    *,
    at: float | str = 20.0,
    accuracy: float | str = "0.8%",
    date: str = "",
) -> Returned:
    """Write down what a pickup reads that came back, and hold it against what was shipped.

    Parameters
    ----------
    record : Record
        The record.
    pickup : str
        The pickup.
    ohms : float or str
        What the meter shows [ohm], "OL" if nothing.
    at : float or str
        Temperature of the coil [°C], "14 C" or "57 F".
    accuracy : float or str
        Limits of error of the meter, as a share of the reading.
    date : str
        The day; today unless given.

    Returns
    -------
    Returned
        Both readings at 20 °C and whether they agree; prints as a sentence under a table.

    Raises
    ------
    BadSetting, BadValue
        If there is no such pickup, no reading of it, or a value is not right; then nothing is
        written.
    BadFile
        If the record cannot be written to.

    Notes
    -----
    As in `certificate`. Beyond 5 % the sentence says that it is not as it was shipped: common
    practice, no source.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet.records import Record
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Record(pathlib.Path(folder, "bench.record"), begin=True) as record:
    ...         record.add("N-12", "pickup")
    ...         _ = record.write("N-12", readings="7.15k", at="20 C", state="shipped")
    ...         found: Returned = returned(record, "N-12", "6.95k", at="14 C")
    >>> found.sentence().partition(":")[0]
    '6.95 kΩ at 14 °C is 7.12 kΩ at 20 °C; shipped at 7.15 kΩ'
    """
    before = _shipped(record, pickup)
    if isinstance(ohms, Mapping):
        raise BadValue("ohms", "several readings are given", "give one, from lead to lead", ohms)
    (number,) = record.write(
        pickup, readings=ohms, at=at, accuracy=accuracy, state="returned", date=date
    )
    now = next(one for one in record.entries(pickup) if one.number == number)
    limit = _limit(before.accuracy, now.accuracy)
    return Returned(pickup, now.ohms, now.celsius, at_20(now), at_20(before), limit)


@public
def history(record: Record, sort: str) -> History:
    """Gather the first reading of every pickup of one sort.

    Parameters
    ----------
    record : Record
        The record.
    sort : str
        The sort, as given to `Record.add`.

    Returns
    -------
    History
        The readings at 20 °C by date; `guitarnet.plots.plot_history` draws them.

    Raises
    ------
    BadSetting
        If no pickup of that sort was read.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet.records import Record
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Record(pathlib.Path(folder, "bench.record"), begin=True) as record:
    ...         record.add("N-12", "pickup", sort="single coil")
    ...         _ = record.write("N-12", readings="7.15k", at="20 C")
    ...         made: History = history(record, "single coil")
    >>> print(made.table().note)
    1 pickup: 7.15 kΩ to 7.15 kΩ, median 7.15 kΩ, at 20 °C.
    """
    entries = []
    for name in record.names("pickup", sort=sort):
        entries += [one for one in record.entries(name) if _whole(one)][:1]
    if not entries:
        raise BadSetting("sort", f"no pickup of the sort {sort!r} was read", "name another", sort)
    return History(sort, tuple(sorted(entries, key=lambda one: (one.date, one.number))))


def _ohms(ohms: float) -> str:
    return format_value(ohms, "ohm", digits=3)


def _limit(first: float, second: float) -> float:
    return first + second + 2 * _KELVIN * PER_KELVIN


def _whole(entry: Entry) -> bool:
    return entry.kind == "reading" and math.isfinite(entry.ohms) and entry.ohms > 0


def _shipped(record: Record, pickup: str) -> Entry:
    """The last reading at shipping, or the last but what came back."""
    if record.kind(pickup) != "pickup":
        raise BadSetting("pickup", f"{pickup!r} is a guitar", "name a pickup", pickup)
    read = [one for one in record.entries(pickup) if _whole(one) and one.state != "returned"]
    shipped = [one for one in read if one.state == "shipped"] or read
    if not shipped:
        raise BadSetting(
            "pickup",
            f"{pickup!r} was not read before it went out",
            "write its reading first",
            pickup,
        )
    return shipped[-1]
