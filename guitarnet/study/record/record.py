"""A record of pickups and guitars: what was read, found and done, and when."""

from __future__ import annotations

import dataclasses
import datetime
import json
import math
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from ...circuit.harness import Harness
from ...circuit.saved import harness_from_text, harness_text
from ...errors import BadSetting, BadValue, nearest, plain
from ...files import write_text
from ...gate import public
from ...parts.copper import PER_KELVIN
from ...table import Table
from ...units import BARE_SHARE, Quantity, read_celsius, read_share, write_celsius
from ..bench.ohmmeter import displayed
from ..bench.readings import ResistanceReading, readings_of
from .store import Store

__all__ = ["STATES", "Entry", "Record", "at_20"]

Kind = Literal["pickup", "guitar"]

STATES = ("", "found", "left", "shipped", "returned")
_WORDS = ("finding", "work", "remark")  # entries that are words alone
_BOTH_LEADS = "from lead to lead"
_LONGEST_NAME, _LONGEST_WORDS = 80, 20_000
_CELSIUS = Quantity("number", at_least=-50, at_most=180, hint="in °C")
_ACCURACY = Quantity("fraction", above=0, at_most=BARE_SHARE)
_COLUMNS = (
    "entry.number, thing.name, entry.kind, entry.date, entry.state, entry.place, entry.ohms, "
    "entry.celsius, entry.accuracy, entry.text, entry.corrects, later.number"
)
_FROM = (
    "FROM entry JOIN thing ON thing.id = entry.thing "
    "LEFT JOIN entry AS later ON later.corrects = entry.number"
)


@public
@dataclass(frozen=True)
class Entry:
    """One entry of a record. Made by `Record.write`; never changed.

    Parameters
    ----------
    number : int
        Its number in the record.
    thing : str
        The pickup or guitar.
    kind : str
        "reading", "harness", "finding", "work", "remark" or "withdrawn".
    date : str
        The day it is of, "2026-12-01".
    state : str
        "found", "left", "shipped" or "returned"; empty if none was said.
    place : str
        Where the meter stood, in words.
    ohms : float
        What it showed [ohm], infinite for "OL"; NaN where it is no reading.
    celsius : float
        Temperature of the coil [°C]; NaN where it is no reading.
    accuracy : float
        Limits of error of the meter, as a share; NaN where it is no reading.
    text : str
        Words, or the harness as a file holds it.
    corrects, corrected_by : int or None
        The entry that this one corrects, and the one that corrects it.

    Examples
    --------
    See `Record`.
    """

    number: int
    thing: str
    kind: str
    date: str
    state: str
    place: str
    ohms: float
    celsius: float
    accuracy: float
    text: str
    corrects: int | None
    corrected_by: int | None

    def what(self) -> str:
        """Say what the entry holds, on one line."""
        if self.kind == "reading":
            return f"{displayed(self.ohms)} {self.place} at {write_celsius(self.celsius)}"
        if self.kind == "harness":
            return f"the harness as a file of {len(self.text.splitlines())} lines"
        return " ".join(plain(line) for line in self.text.split("\n"))


@public
class Record:
    """A record of pickups and guitars in one file, to which entries are only ever added.

    Parameters
    ----------
    path : path
        The file.
    begin : bool
        Whether to begin a new record where there is no such file.

    Raises
    ------
    BadFile
        If there is no such file, it is no record, is damaged or may not be written to.

    Notes
    -----
    Each `write` is on the disk, whole, when it returns; killed before that, it leaves nothing.
    Several processes may have one record open. The file is readable by its owner alone.

    References
    ----------
    SQLite, write-ahead log: https://sqlite.org/wal.html.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Record(pathlib.Path(folder, "bench.record"), begin=True) as record:
    ...         record.add("N-12", "pickup", sort="single coil, alnico rods")
    ...         _ = record.write("N-12", readings="7.15k", at="19 C", state="shipped")
    ...         entry: Entry = record.entries("N-12")[0]
    >>> entry.state, entry.what()
    ('shipped', '7.15 kΩ from lead to lead at 19 °C')
    """

    def __init__(self, path: str | os.PathLike[str], *, begin: bool = False) -> None:
        self._store = Store(Path(path), begin=begin)

    def __enter__(self) -> Record:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def __reduce__(self) -> Any:
        raise BadSetting("record", "is an open file", "hand on its path, and open it there")

    def close(self) -> None:
        """Close the file."""
        self._store.close()

    # -- what there is ------------------------------------------------------------------------

    def add(self, name: str, kind: Kind, *, sort: str = "", customer: str = "") -> None:
        """Add a pickup or a guitar.

        Parameters
        ----------
        name : str
            What it is called: its number, say. No two have one name.
        kind : {"pickup", "guitar"}
            What it is.
        sort : str
            What sort it is, in your words: all of one sort are compared with each other.
        customer : str
            Whose it is; `erase` erases by this name.

        Raises
        ------
        BadSetting
            If the name is taken or is no name, or the kind is another.
        BadFile
            If the file cannot be written to.
        """
        name = _name(name, "name")
        if kind not in ("pickup", "guitar"):
            raise BadSetting("kind", f"{kind!r} is neither", "say 'pickup' or 'guitar'", kind)
        with self._store.transaction():
            if self._store.rows("SELECT 1 FROM thing WHERE name = ?", (name,)):
                raise BadSetting("name", f"{name!r} is in the record", "take another name", name)
            self._store.add(
                "thing",
                name=name,
                kind=kind,
                sort=_words(sort, "sort", _LONGEST_NAME),
                customer=_words(customer, "customer", _LONGEST_NAME),
            )

    def names(self, kind: Kind | None = None, *, sort: str | None = None) -> tuple[str, ...]:
        """List the names of what is in the record.

        Parameters
        ----------
        kind : {"pickup", "guitar"}, optional
            Only these.
        sort : str, optional
            Only those of this sort.

        Returns
        -------
        tuple of str
            The names, in the order they came in.
        """
        rows = self._store.rows("SELECT name, kind, sort FROM thing ORDER BY id")
        return tuple(
            str(name)
            for name, own, its_sort in rows
            if kind in (None, own) and sort in (None, its_sort)
        )

    def kind(self, name: str) -> str:
        """Say whether a name is that of a pickup or of a guitar.

        Parameters
        ----------
        name : str
            The name.

        Returns
        -------
        str
            "pickup" or "guitar".

        Raises
        ------
        BadSetting
            If there is none of that name.
        """
        return str(self._thing(name)[1])

    def sort(self, name: str) -> str:
        """Say of what sort something is.

        Parameters
        ----------
        name : str
            The name.

        Returns
        -------
        str
            The sort, as it was given; may be empty.

        Raises
        ------
        BadSetting
            If there is none of that name.
        """
        return str(self._thing(name)[2])

    def _thing(self, name: str) -> tuple[int, str, str, str]:
        question = "SELECT id, kind, sort, customer FROM thing WHERE name = ?"
        found = self._store.rows(question, (_name(name, "name"),))
        if not found:
            every = self.names()
            fix = nearest(name, every) if every else "add it first"
            raise BadSetting("record", f"there is no {name!r} in it", fix, name)
        return found[0]

    # -- writing ------------------------------------------------------------------------------

    def write(
        self,
        name: str,
        *,
        readings: Any = None,
        guitar: Harness | None = None,
        finding: str = "",
        work: str = "",
        remark: str = "",
        state: str = "",
        date: str = "",
        at: float | str = 20.0,
        accuracy: float | str = "0.8%",
    ) -> tuple[int, ...]:
        """Write what was read, found or done on one day: all of it, or nothing.

        Parameters
        ----------
        name : str
            The pickup or guitar.
        readings : optional
            Of a pickup what the meter showed from lead to lead, "7.15k" or "OL", or several
            places with what was read there, {"coil 1": "3.6k", "coil 2": "3.5k"}. Of a guitar as
            `guitarnet.verify` takes them, which needs ``guitar`` or a harness in the record.
        guitar : Harness, optional
            The harness of a guitar, as it is now.
        finding, work, remark : str
            What was found, what was done, and anything else.
        state : {"", "found", "left", "shipped", "returned"}
            In which state it was: a guitar as found or as left, a pickup shipped or returned.
        date : str
            The day, "2026-12-01"; today unless given.
        at : float or str
            Temperature of the coils [°C], "19 C" or "66 F".
        accuracy : float or str
            Limits of error of the meter, as a share of the reading.

        Returns
        -------
        tuple of int
            Numbers of the entries.

        Raises
        ------
        BadSetting, BadValue
            If there is nothing to write, or something given is not right; nothing is written.
        BadFile
            If the file cannot be written to.
        """
        thing, kind, *_ = self._thing(name)
        common = {"date": _date(date), "state": _state(state)}
        entries = []
        if guitar is not None:
            if kind != "guitar":
                raise BadSetting("guitar", f"{name!r} is a pickup", "leave it out", name)
            entries.append({"kind": "harness", "text": harness_text(guitar)})
        if readings is not None:
            how: dict[str, Any] = {
                "celsius": read_celsius(at, "at", _CELSIUS),
                "accuracy": read_share(accuracy, _ACCURACY, "accuracy"),
            }
            if kind == "pickup":
                taken = _of_pickup(readings)
            else:
                taken = _of_guitar(readings_of(guitar or self.harness(name), readings))
            entries += [{"kind": "reading", **one, **how} for one in taken]
        for word, given in zip(_WORDS, (finding, work, remark), strict=True):
            if given:
                entries.append({"kind": word, "text": _words(given, word)})
        if not entries:
            raise BadSetting(
                "record", "nothing was given to write", "give readings, or a remark", None
            )
        with self._store.transaction():
            return tuple(self._put(thing, **common, **entry) for entry in entries)

    def correct(
        self,
        number: int,
        *,
        ohms: float | str | None = None,
        text: str = "",
        at: float | str | None = None,
        why: str = "",
    ) -> int:
        """Correct an entry: another stands in its place from now on, and both are kept.

        Parameters
        ----------
        number : int
            The entry.
        ohms : float or str, optional
            What the meter had shown, of a reading.
        text : str
            The words, of a finding, work or remark.
        at : float or str, optional
            The temperature of the coils [°C], of a reading.
        why : str
            To withdraw the entry altogether, why: "read on another pickup".

        Returns
        -------
        int
            Number of the entry that corrects it.

        Raises
        ------
        BadSetting, BadValue
            If there is no such entry, it was corrected before, or what is given is not right.
        BadFile
            If the file cannot be written to.
        """
        old = self._entry(number)
        if old.corrected_by is not None:
            raise BadSetting(
                f"entry {number}",
                f"was corrected by entry {old.corrected_by}",
                "correct that one",
                number,
            )
        new = {
            "date": old.date,
            "state": old.state,
            "place": old.place,
            "ohms": _stored(old.ohms),
            "celsius": _stored(old.celsius),
            "accuracy": _stored(old.accuracy),
            "text": old.text,
            "kind": old.kind,
        }
        is_reading = old.kind == "reading"
        if why and (ohms is not None or text or at is not None):
            raise BadSetting("why", "withdraws the entry", "leave it out to correct it", why)
        if why:
            nothing = dict.fromkeys(("ohms", "celsius", "accuracy"))
            new |= {"kind": "withdrawn", "text": _words(why, "why"), **nothing}
        elif is_reading and not text and (ohms is not None or at is not None):
            if ohms is not None:
                new["ohms"] = _stored(_ohms(ohms, "ohms"))
            if at is not None:
                new["celsius"] = read_celsius(at, "at", _CELSIUS)
        elif old.kind in _WORDS and text and ohms is None and at is None:
            new["text"] = _words(text, "text")
        else:
            fix = "give ohms, or at" if is_reading else "give text"
            if old.kind not in ("reading", *_WORDS):
                fix = "withdraw it by why, and write it anew"
            raise BadSetting(f"entry {number}", f"is a {old.kind}", fix, number)
        with self._store.transaction():
            return self._put(self._thing(old.thing)[0], corrects=number, **new)

    def _put(self, thing: int, **columns: Any) -> int:
        return self._store.add(
            "entry", **{"state": "", "place": "", "text": "", **columns}, thing=thing
        )

    def erase(self, customer: str) -> tuple[str, ...]:
        """Erase everything of one customer, out of the file itself.

        Parameters
        ----------
        customer : str
            The customer, as written in `add`.

        Returns
        -------
        tuple of str
            Names of the pickups and guitars that are gone.

        Raises
        ------
        BadSetting
            If nothing in the record is of that customer.
        BadFile
            If the file cannot be written to.
        """
        rows = self._store.rows("SELECT id, name, customer FROM thing ORDER BY id")
        gone = [(thing, str(name)) for thing, name, own in rows if own == customer]
        if not customer or not gone:
            known = sorted({str(own) for *_, own in rows if own})
            fix = nearest(customer, known) if known else "name one that `add` was given"
            raise BadSetting("customer", f"nothing is of {customer!r}", fix, customer)
        self._store.erase([thing for thing, _ in gone])
        return tuple(name for _, name in gone)

    # -- reading ------------------------------------------------------------------------------

    def entries(self, name: str | None = None, *, corrected: bool = False) -> tuple[Entry, ...]:
        """Give the entries of one thing, or of all.

        Parameters
        ----------
        name : str, optional
            The pickup or guitar; all of them unless given.
        corrected : bool
            Whether to give those too that were corrected or withdrawn, and what withdrew them.

        Returns
        -------
        tuple of Entry
            The entries by date, and on one day as they were written.

        Raises
        ------
        BadSetting
            If there is none of that name.
        """
        where: str = ""
        values: tuple[int, ...] = ()
        if name is not None:
            where, values = "WHERE entry.thing = ?", (self._thing(name)[0],)
        order = "ORDER BY entry.date, entry.number"
        rows = self._store.rows(f"SELECT {_COLUMNS} {_FROM} {where} {order}", values)
        found = [_entry(row) for row in rows]
        return tuple(
            one
            for one in found
            if corrected or (one.corrected_by is None and one.kind != "withdrawn")
        )

    def _entry(self, number: int) -> Entry:
        rows = self._store.rows(f"SELECT {_COLUMNS} {_FROM} WHERE entry.number = ?", (number,))
        if not rows:
            raise BadSetting("entry", f"there is no entry {number}", "take one of table()", number)
        return _entry(rows[0])

    def harness(self, name: str, state: str | None = None) -> Harness:
        """Give the last harness of a guitar.

        Parameters
        ----------
        name : str
            The guitar.
        state : {"found", "left"}, optional
            The last in this state; the last of all unless given.

        Returns
        -------
        Harness
            The harness.

        Raises
        ------
        BadSetting
            If there is no such guitar, or no harness of it.
        """
        kept = [
            one
            for one in self.entries(name)
            if one.kind == "harness" and state in (None, one.state)
        ]
        if not kept:
            raise BadSetting("record", f"holds no harness of {name!r}", "write one first", name)
        return harness_from_text(kept[-1].text, where=f"{name}, entry {kept[-1].number}")

    def table(self, name: str | None = None, *, corrected: bool = False) -> Table:
        """List the entries of one thing, or what there is.

        Parameters
        ----------
        name : str, optional
            The pickup or guitar; unless given, all of them are listed, without their entries.
        corrected : bool
            As in `entries`.

        Returns
        -------
        Table
            The list.

        Raises
        ------
        BadSetting
            If there is none of that name.
        """
        if name is None:
            return self._list()
        _, kind, sort, customer = self._thing(name)
        rows = []
        for one in self.entries(name, corrected=corrected):
            row = (one.number, one.date, one.kind, one.state, one.what())
            rows.append((*row, _correction(one)) if corrected else row)
        columns = ("no.", "date", "entry", "state", "what")
        title = ", ".join(words for words in (f"{kind} {name}", sort, customer) if words)
        return Table((*columns, "correction") if corrected else columns, rows, title)

    def _list(self) -> Table:
        question = (
            "SELECT thing.name, thing.kind, thing.sort, thing.customer, count(entry.number), "
            "max(entry.date) FROM thing LEFT JOIN entry ON entry.thing = thing.id "
            "GROUP BY thing.id ORDER BY thing.id"
        )
        rows = [(*row[:5], row[5] or "") for row in self._store.rows(question)]
        return Table(("name", "kind", "sort", "customer", "entries", "last"), rows, "Record")

    def to_text(self) -> str:
        """Write the whole record as plain text: all entries, corrected ones too, and harnesses.

        Returns
        -------
        str
            The text.
        """
        pieces = []
        for name in self.names():
            lines = [str(self.table(name, corrected=True))]
            for one in self.entries(name, corrected=True):
                if one.kind == "harness":
                    lines.append(f"\nharness of entry {one.number}:")
                    lines += [f"    {plain(line)}" for line in one.text.splitlines()]
            pieces.append("\n".join(lines))
        return "\n\n".join(pieces) + "\n"

    def export(self, path: str | os.PathLike[str]) -> Path:
        """Write the whole record to a text file, as `to_text` gives it.

        Parameters
        ----------
        path : path
            The file.

        Returns
        -------
        pathlib.Path
            The file, written whole or not at all.

        Raises
        ------
        BadFile
            If it cannot be written.
        """
        return write_text(path, self.to_text())

    def to_dataframe(self) -> Any:
        """Give all entries as a pandas DataFrame, numbers in SI.

        Returns
        -------
        pandas.DataFrame
            A row for each entry, corrected ones too.
        """
        import pandas as pd

        fields = [field.name for field in dataclasses.fields(Entry)]
        rows = [dataclasses.astuple(one) for one in self.entries(corrected=True)]
        return pd.DataFrame(rows, columns=fields)


def at_20(entry: Entry) -> float:
    """Resistance of a coil at 20 °C [ohm], from what was read."""
    return entry.ohms / (1 + PER_KELVIN * (entry.celsius - 20))


# -- reading what people write --------------------------------------------------------------------


def _of_pickup(given: Any) -> Iterator[dict[str, Any]]:
    """Give what a meter showed from lead to lead, or at named places."""
    places = given if isinstance(given, Mapping) else {_BOTH_LEADS: given}
    for place, ohms in places.items():
        where = _name(place, "place")
        yield {"place": where, "ohms": _stored(_ohms(ohms, f"reading {where}"))}


def _of_guitar(readings: Sequence[ResistanceReading]) -> Iterator[dict[str, Any]]:
    for one in readings:
        again = {
            "settings": {name: str(value) for name, value in one.settings.items()},
            "between": one.between,
            "lifted": one.lifted,
            "largest_over": one.largest_over,
        }
        yield {"place": one.where(), "ohms": _stored(one.ohms), "text": json.dumps(again)}


def _ohms(given: Any, where: str) -> float:
    try:
        return ResistanceReading(given).ohms
    except BadValue as error:
        raise BadValue(where, error.problem, error.fix, error.value) from None


def _stored(number: float) -> float | None:
    """SQLite has no NaN; infinite it keeps."""
    return None if math.isnan(number) else float(number)


def _entry(row: tuple[Any, ...]) -> Entry:
    number, thing, kind, date, state, place, *numbers, text, corrects, later = row
    ohms, celsius, accuracy = (math.nan if one is None else float(one) for one in numbers)
    return Entry(
        number, thing, kind, date, state, place, ohms, celsius, accuracy, text, corrects, later
    )


def _correction(one: Entry) -> str:
    words = [f"corrects {one.corrects}"] * (one.corrects is not None)
    words += [f"corrected by {one.corrected_by}"] * (one.corrected_by is not None)
    return ", ".join(words)


def _words(given: str, where: str, longest: int = _LONGEST_WORDS) -> str:
    if len(given) > longest:
        raise BadSetting(where, f"has {len(given)} characters", f"{longest} are the most")
    try:
        given.encode("utf-8")
    except UnicodeEncodeError as error:
        half = ascii(given[error.start])
        raise BadSetting(where, f"holds half a character, {half}", "leave it out") from None
    return given.strip()


def _name(given: Any, where: str) -> str:
    name = _words(given, where, _LONGEST_NAME) if isinstance(given, str) else ""
    if not name or not name.isprintable():
        raise BadSetting(where, f"{given!r} is no name", "take letters and figures", given)
    return name


def _date(given: str) -> str:
    if not given:
        return datetime.date.today().isoformat()
    try:
        return datetime.date.fromisoformat(given).isoformat()
    except ValueError:
        raise BadSetting(
            "date", f"{given!r} is no day", "write it like 2026-12-01", given
        ) from None


def _state(given: str) -> str:
    if given not in STATES:
        raise BadSetting("state", f"there is no {given!r}", nearest(given, STATES[1:]), given)
    return given
