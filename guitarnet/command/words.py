"""What a person writes behind a verb: readings, symptoms, settings. Nothing is ever evaluated."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, TextIO

from ..circuit.harness import Harness
from ..circuit.usual import ask_setting
from ..errors import BadFile, BadSetting, BadValue, nearest
from ..parts.switch import Switch
from ..study.bench.readings import ResistanceReading
from ..study.faults.symptoms import SYMPTOMS
from ..study.fit.loads import Load
from ..study.fit.measured import PeakReading
from ..units import read_value

__all__ = [
    "folder_for",
    "pair",
    "progress",
    "put",
    "read_pickup",
    "read_readings",
    "read_settings",
    "read_symptoms",
    "read_tests",
    "refuse",
    "say",
]

_JACK = "at"


def pair(written: str, like: str = "neck=6.05k", what: str = "place") -> tuple[str, str]:
    """Split "neck=6.05k" at its last equals sign.

    Parameters
    ----------
    written : str
        The words.
    like, what : str
        How it should be written, and what stands before the sign, for the error text.

    Returns
    -------
    tuple of str
        What stands before the sign and what behind.

    Raises
    ------
    BadSetting
        If one of the two is missing.
    """
    where, sign, value = (piece.strip() for piece in written.rpartition("="))
    if not (sign and where and value):
        raise BadSetting(written, f"is no {what} with a value", f"write it like {like}", written)
    return where, value


def read_pickup(readings: Mapping[str, str], load: str | None) -> dict[str, Any]:
    """Read what is known of a pickup: ohms, henry, and a peak with its load.

    Parameters
    ----------
    readings : mapping of str to str
        Values by name.
    load : str, optional
        A resistor, a capacitor, or both side by side.

    Returns
    -------
    dict
        Arguments of `guitarnet.catalogue.nearest_pickups`.

    Raises
    ------
    BadSetting
        If there is no such reading, or the load is missing, or not such a network.
    """
    known = ("resistance", "inductance", "peak")
    for name in readings:
        if name not in known:
            raise BadSetting("pickups", f"there is no reading {name!r}", nearest(name, known), name)
    found: dict[str, Any] = {name: value for name, value in readings.items() if name != "peak"}
    if "peak" in readings:
        if load is None:
            fix = "give it, as --load '200k || 470p', with the cable and the meter's input"
            raise BadSetting("peak", "its load is not told", fix)
        found["peak"] = PeakReading(readings["peak"], _load(load))
    elif load is not None:
        raise BadSetting("--load", "there is no peak", "give peak='3 kHz' too, or leave it out")
    return found


def _load(written: str) -> Load:
    pieces = [piece.strip() for piece in written.split("||")]
    ohms = [piece for piece in pieces if _reads(piece, "ohm")]
    farads = [piece for piece in pieces if piece not in ohms and _reads(piece, "F")]
    if len(ohms) > 1 or len(farads) > 1 or len(ohms) + len(farads) != len(pieces):
        fix = "write a resistance, a capacitance, or both, as '200k || 470p'"
        raise BadSetting("--load", f"{written!r} is no load", fix, written)
    return Load(ohms[0] if ohms else None, farads[0] if farads else 0.0)


def _reads(written: str, unit: str) -> bool:
    try:
        read_value(written, unit)
    except BadValue:
        return False
    return True


def read_readings(guitar: Harness, written: Iterable[str]) -> list[ResistanceReading]:
    """Read what a meter showed.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    written : iterable of str
        "neck=6.05k" by switch place, or "at=6.05k" where there is no switch. A place may be said
        in full, and with more: "neck_pull:coil 1, volume:5=32k"; two lugs that the probes
        touched: "volume.wiper:jack.tip=0 ohm".

    Returns
    -------
    list of ResistanceReading
        The readings.

    Raises
    ------
    BadSetting
        If a reading is not written so, or a place does not exist.
    BadValue
        If the value is no resistance.
    """
    return [_reading(guitar, one) for one in written]


def _reading(guitar: Harness, written: str) -> ResistanceReading:
    where, ohms = pair(written)
    settings: dict[str, Any] = {}
    between = None
    for term in where.split(","):
        name, colon, value = (piece.strip() for piece in term.partition(":"))
        if not name or (colon and not value):
            raise BadSetting(
                written,
                "leaves a place out",
                "write it like neck=6.05k or volume:5=32k",
                written,
            )
        if not colon:
            settings |= _place(guitar, name)
        elif "." in name:
            between = (name, value)
        elif name in guitar.parts:
            settings[name] = value
        else:
            raise BadSetting(
                "readings", f"there is no part {name!r}", nearest(name, guitar.parts), name
            )
    try:
        return ResistanceReading(ohms, settings, between=between)
    except BadValue as error:
        raise BadValue(f"reading {where}", error.problem, error.fix, error.value) from None


def _place(guitar: Harness, place: str) -> dict[str, str]:
    """Name the switch that has a place."""
    switches = {name: part for name, part in guitar.parts.items() if isinstance(part, Switch)}
    having = [name for name, part in switches.items() if place in part.places]
    if len(having) == 1:
        return {having[0]: place}
    if having:
        raise BadSetting(
            "readings",
            f"{place!r} is a place of {' and of '.join(having)}",
            f"write it like '{having[0]}:{place}=6.05k'",
            place,
        )
    if place == _JACK and len(switches) == 1:
        (name,) = switches
        raise BadSetting(
            "readings",
            f"{_JACK}= does not say where {name} stood",
            f"write it like '{switches[name].places[0]}=6.05k'",
            place,
        )
    if place == _JACK:
        return {}  # all switches as they stand, or none
    if not switches:
        raise BadSetting(
            "readings",
            f"{guitar.name} has no switch, so there is no place {place!r}",
            f"write it like {_JACK}=6.05k",
            place,
        )
    every = {place for part in switches.values() for place in part.places}
    raise BadSetting(
        "readings", f"there is no switch place {place!r}", nearest(place, every), place
    )


def read_symptoms(written: Iterable[str]) -> dict[str, list[str | None]]:
    """Read what is heard.

    Parameters
    ----------
    written : iterable of str
        "neck=silent" or "tone=does nothing", where it is known at which switch place or knob;
        "silent" alone where it may be anywhere.

    Returns
    -------
    dict of str to list of str or None
        Where each symptom is met, None anywhere, as `diagnose` takes it.

    Raises
    ------
    BadSetting
        If there is no equals sign after a place or knob, or one of its sides is empty.
    """
    found: dict[str, list[str | None]] = {}
    for one in written:
        told = next((word for word in SYMPTOMS if one.strip().endswith(f" {word}")), "")
        if told and "=" not in one:
            like = f"'{one.strip().removesuffix(told).strip()}={told}'"
            raise BadSetting("--heard", f"{one!r} has no equals sign", f"write it like {like}", one)
        where, symptom = pair(one, "neck=silent") if "=" in one else (None, one.strip())
        found.setdefault(symptom, []).append(where)
    return found


def read_tests(written: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Read the results of tests at the bench.

    Parameters
    ----------
    written : iterable of str
        "compass:middle=south", "screwdriver:neck=positive", "tap:neck=neck"; a place at which
        several pickups sound is given several times.

    Returns
    -------
    dict of str to dict
        Results by test and coil, or place, as `diagnose` takes them.

    Raises
    ------
    BadSetting
        If there is no colon or no equals sign, or one coil has two results.
    """
    like = "compass:middle=south"
    found: dict[str, dict[str, Any]] = {}
    for one in written:
        test, _, rest = one.partition(":")
        if not rest:
            raise BadSetting("--test", f"{one!r} has no colon", f"write it like {like}", one)
        where, result = pair(rest, like.partition(":")[2], "coil or place")
        known = found.setdefault(test.strip(), {})
        if test.strip() == "tap":
            known.setdefault(where, []).append(result)
        elif known.setdefault(where, result) != result:
            raise BadSetting("--test", f"{where} has two results", "give one", one)
    return found


def read_settings(guitar: Harness, written: Iterable[str]) -> dict[str, Any]:
    """Read knob marks, switch places and values of parts.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    written : iterable of str
        "switch=neck", "tone=5", "cable.length=3 m"; what stands there several times becomes a
        list.

    Returns
    -------
    dict of str to str or list of str
        Settings as `response` takes them.

    Raises
    ------
    BadSetting
        If there is no equals sign, nothing on one of its sides, or no such part.
    """
    found: dict[str, list[str]] = {}
    for one in written:
        name, value = pair(one, "cable.length='3 m'", "name")
        guitar.split(name)
        ask_setting(guitar, name, value)
        found.setdefault(name, []).append(value)
    return {name: values if len(values) > 1 else values[0] for name, values in found.items()}


def folder_for(file: str, out: str | None) -> Path:
    """Name the folder for what is left behind, and see that it can be written to.

    Parameters
    ----------
    file : str
        The harness file.
    out : str or None
        The folder that was asked for; one named after the file, where one stands, unless given.

    Returns
    -------
    pathlib.Path
        The folder, which need not exist yet.

    Raises
    ------
    BadFile
        If it is no folder, or nothing may be written there: said before anything is computed.
    """
    name = Path(file)
    folder = Path(out) if out else Path(name.stem if name.suffix else f"{name.name}_files")
    try:
        standing = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    except OSError as error:  # a name that no file can have
        raise BadFile(
            str(folder), f"cannot be a folder ({error.strerror})", "name another"
        ) from None
    if not standing.is_dir():
        raise BadFile(str(standing), "is no folder", "name another with --out")
    if not os.access(standing, os.W_OK | os.X_OK):
        raise BadFile(
            str(standing), "may not be written to", "mend its rights, or name another with --out"
        )
    return folder


def progress(words: str) -> None:
    """Show what is going on, on a terminal only; nothing takes the line away again.

    Parameters
    ----------
    words : str
        What is going on.
    """
    if sys.stderr is not None and sys.stderr.isatty():
        print(f"\r\033[K{words}", end="", file=sys.stderr, flush=True)


def say(text: object) -> None:
    """Print text that may hold what someone else wrote.

    Parameters
    ----------
    text : object
        What to print; characters that would steer a terminal become spaces.

    Raises
    ------
    BadFile, BrokenPipeError
        As from `put`.
    """
    put(f"{_harmless(text)}\n")


def put(text: str) -> None:
    """Print text as it is, or pass on what was printed so far.

    Parameters
    ----------
    text : str
        The text; where there is none, what waits is sent.

    Raises
    ------
    BadFile
        If it cannot be printed, as into a file on a full disk.
    BrokenPipeError
        If whoever read along has seen enough.
    """
    if sys.stdout is None:  # closed by whoever began the process
        return
    try:
        sys.stdout.write(text)
        if not text:
            sys.stdout.flush()
    except OSError as error:
        # What waits must lead nowhere, or the end of the process stumbles over it again.
        _let_go(sys.stdout)
        if isinstance(error, BrokenPipeError):
            raise
        problem = f"cannot be printed ({error.strerror})"
        raise BadFile("the answer", problem, "make room, or send it elsewhere") from None


def refuse(text: object) -> None:
    """Say why nothing came of it, on the error stream as far as there is one.

    Parameters
    ----------
    text : object
        As in `say`.
    """
    try:
        progress("")
        if sys.stderr is not None:
            print(_harmless(text), file=sys.stderr, flush=True)
    except OSError:
        _let_go(sys.stderr)


def _harmless(text: object) -> str:
    return "".join(c if c.isprintable() or c == "\n" else " " for c in str(text))


def _let_go(stream: TextIO) -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)
