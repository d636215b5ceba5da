"""The verbs of a record, and what other verbs write into it."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..circuit.harness import Harness
from ..circuit.saved import load_harness
from ..errors import BadSetting
from ..files import write_bytes
from .words import pair, read_readings, say

__all__ = ["certificate", "history", "keep", "record", "returned", "sheet"]

FINE, NOT_AS_IT_SHOULD = 0, 1
_ROOM = "20 C"


def record(options: Namespace) -> int:
    """List what is in a record, or write into it, export it, erase from it."""
    given = _given(options)
    begin = options.new is not None
    with _opened(options.file, begin=begin) as opened:
        if options.erase is not None:
            gone = opened.erase(options.erase)
            say(f"erased from {options.file}: {', '.join(gone)}")
        elif options.export is not None:
            say(f"written to {opened.export(options.export)}")
        elif options.correct is not None:
            number = opened.correct(options.correct, **_correction(options))
            say(f"entry {number} corrects entry {options.correct}; both are kept")
        elif options.name is None:
            if given or begin:
                raise BadSetting("record", "whose it is was not said", "give a NAME after FILE")
            say(opened.table())
        else:
            if begin:
                about = {"sort": options.sort or "", "customer": options.customer or ""}
                opened.add(options.name, options.new, **about)
            if given:
                _write(opened, options, given)
            say(opened.table(options.name, corrected=options.all))
    return FINE


def _given(options: Namespace) -> dict[str, Any]:
    words = {name: getattr(options, name) for name in ("finding", "work", "remark")}
    given = {name: text for name, text in words.items() if text}
    if options.readings:
        given["readings"] = options.readings
    if options.harness:
        given["guitar"] = load_harness(options.harness)
    return given


def _write(opened: Any, options: Namespace, given: dict[str, Any]) -> None:
    how = {"at": options.temperature or _ROOM, "accuracy": options.accuracy}
    if (readings := given.get("readings")) is not None:
        if opened.kind(options.name) == "pickup":
            read = [_of_pickup(one) for one in readings]
            given["readings"] = dict(read) if any(place for place, _ in read) else read[0][1]
            if len(read) > 1 and len(dict(read)) < len(read):
                raise BadSetting("record", "one place was read twice", "write each by itself")
        else:
            guitar = given.get("guitar") or opened.harness(options.name)
            given["readings"] = read_readings(guitar, readings)
    opened.write(options.name, state=options.state, date=options.date, **how, **given)


def _of_pickup(written: str) -> tuple[str, str]:
    return pair(written) if "=" in written else ("", written)


def _correction(options: Namespace) -> dict[str, Any]:
    text = options.finding or options.work or options.remark
    found = {"text": text, "why": options.why or ""}
    if options.readings:
        found["ohms"] = options.readings[-1]
    if options.temperature:
        found["at"] = options.temperature
    return found


def certificate(options: Namespace) -> int:
    """Write certificates of pickups, or labels."""
    from ..show.page.sheets import certificate_page
    from ..study.record.pickups import certificate as certificate_of

    with _opened(options.file) as opened:
        made = [certificate_of(opened, name) for name in options.names]
    for one in made:
        say(f"{one}\n")
    say(f"written to {certificate_page(made, options.out, labels=options.labels)}")
    return FINE


def returned(options: Namespace) -> int:
    """Hold a pickup that came back against what was shipped."""
    from ..study.record.pickups import returned as read_again

    how = {"at": options.temperature or _ROOM, "accuracy": options.accuracy, "date": options.date}
    with _opened(options.file) as opened:
        found = read_again(opened, options.name, options.ohms, **how)
    say(found.sentence())
    return FINE if found.sound else NOT_AS_IT_SHOULD


def sheet(options: Namespace) -> int:
    """Write the sheet of a guitar."""
    from ..show.page.sheets import guitar_sheet

    with _opened(options.file) as opened:
        say(f"written to {guitar_sheet(opened, options.name, options.out)}")
    return FINE


def history(options: Namespace) -> int:
    """Show all pickups of one sort over time."""
    from ..show.figures.history import plot_history
    from ..show.figures.picture import picture
    from ..study.record.pickups import history as history_of

    with _opened(options.file) as opened:
        found = history_of(opened, options.sort)
    drawn = plot_history(found, limits=tuple(options.limits) if options.limits else None)
    path = write_bytes(options.out, picture(drawn, dpi=160))
    say(f"{found}\n\nwritten to {path}")
    return FINE


def keep(options: Namespace, guitar: Harness, **given: Any) -> None:
    """Write into the record what a verb saw, where it was told to.

    Parameters
    ----------
    options : Namespace
        What the command line holds; ``record`` is the record's file, or None.
    guitar : Harness
        The guitar.
    **given
        What to write besides the harness, as `Record.write` takes it.
    """
    if options.record is None:
        return
    name = options.number or guitar.name
    with _opened(options.record, begin=True) as opened:
        if name not in opened.names():
            opened.add(name, "guitar")
        same = _last(opened, name) == guitar
        numbers = opened.write(
            name,
            state=options.state,
            date=options.date,
            guitar=None if same and given.get("readings") else guitar,
            **given,
        )
    say(f"recorded in {options.record}: {name}, {_numbered(numbers)}")


def _last(opened: Any, name: str) -> Harness | None:
    kept = [one for one in opened.entries(name) if one.kind == "harness"]
    return opened.harness(name) if kept else None


def _numbered(numbers: Sequence[int]) -> str:
    first, last = numbers[0], numbers[-1]
    return f"entry {first}" if first == last else f"entries {first} to {last}"


def _opened(file: str | os.PathLike[str], *, begin: bool = False) -> Any:
    from ..study.record.record import Record

    return Record(Path(file), begin=begin)
