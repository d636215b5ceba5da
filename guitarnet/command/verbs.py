"""What each verb does: read a harness file, compute all, then write, then say what was left.

Each takes what the command line holds and returns the exit code. Nothing is written before all
is computed, so that a refusal leaves nothing behind.
"""

from __future__ import annotations

import contextlib
from argparse import Namespace
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any, Literal

from ..circuit.harness import CAUTIONS, Harness
from ..circuit.saved import harness_text, load_harness
from ..circuit.usual import ask_setting
from ..errors import BadSetting, TooLarge, nearest
from ..files import together, write_bytes, write_text
from ..parts.output import Cable
from ..study.bench.ohmmeter import Ohmmeter
from ..table import Table
from ..units import plain_words, sentence
from .options import SHELLS, completion_script
from .records import certificate, history, keep, record, returned, sheet
from .start import layout_table, new_file, value_table
from .words import (
    folder_for,
    pair,
    progress,
    put,
    read_pickup,
    read_readings,
    read_settings,
    read_symptoms,
    read_tests,
    say,
)

__all__ = [
    "bleeds",
    "cable",
    "card",
    "certificate",
    "check",
    "choose",
    "completion",
    "draw",
    "fault",
    "history",
    "measure",
    "new",
    "page",
    "pickups",
    "record",
    "returned",
    "sheet",
    "wiring",
]

FINE, NOT_AS_IT_SHOULD = 0, 1


def new(options: Namespace) -> int:
    """List layouts, list the values of one, or write a file to begin with."""
    if options.layout is None:
        say(layout_table())
    elif options.file is None:
        say(value_table(options.layout))
    else:
        guitar, comment = new_file(options.layout, options.values)
        write_text(options.file, harness_text(guitar, comment=comment), new=True)
        say(guitar)
        say(f"\nwritten to {options.file}; edit it, then: guitarnet check {options.file}")
    return FINE


def pickups(options: Namespace) -> int:
    """List measured pickups, show one, or find what is nearest to readings."""
    from ..parts.catalogue import ready_pickups
    from ..study.catalogue import entries, kinds, listing, nearest as near

    readings = dict(pair(one, "resistance=8.2k", "reading") for one in options.words if "=" in one)
    names = [one for one in options.words if "=" not in one]
    if readings:
        kind = names[0] if names else None
        say(near.nearest_pickups(**read_pickup(readings, options.load), kind=kind))
    elif not names:
        say(listing.table())
        say(f"\n{kinds.kind_table()}")
    elif len(names) > 1:
        fix = "give one kind, number or name, in quotes where it has spaces"
        raise BadSetting("pickups", f"{len(names)} are asked for", fix, names)
    elif names[0] in entries.kinds:
        say(listing.table(names[0]))
    elif names[0].isdecimal() or names[0] in ready_pickups:
        say(entries.entry(int(names[0]) if names[0].isdecimal() else names[0]))
    else:
        fix = nearest(names[0], [*entries.kinds, *ready_pickups], otherwise="guitarnet pickups")
        raise BadSetting("pickups", f"there is no {names[0]!r}", fix, names[0])
    return FINE


def draw(options: Namespace) -> int:
    """Leave the schematic, and the bench picture if asked for, and say what joins what."""
    from ..show.draw import draw as drawn
    from ..show.figures.picture import picture

    guitar, folder = _begun(options)
    progress("drawing")
    views: tuple[Literal["schematic", "bench"], ...]
    views = ("schematic", "bench") if options.bench else ("schematic",)
    pictures = {
        f"{view}.{ending}": picture(drawn(guitar, view=view), ending, dpi=160)
        for view in views
        for ending in ("svg", "png")
    }
    _leave(folder, {"joints": guitar.joints()}, pictures)
    return FINE


def card(options: Namespace) -> int:
    """Leave the job card, and its lists as tables."""
    from ..show.card.card import job_card
    from ..study.bench.truth_table import truth_table

    guitar, folder = _begun(options)
    tables = {
        "joints": guitar.joints(),
        "parts": guitar.part_table(),
        "selects": truth_table(guitar),
    }
    head = {name: getattr(options, name) for name in ("date", "by", "number", "notes")}

    def lay_out(path: Path) -> None:
        progress(f"laying out the job card ({path.suffix[1:].upper()})")
        job_card(guitar, path, paper=options.paper, meter=_meter(options), **head)

    endings = ("html",) if options.html_only else ("pdf", "html")
    cards = {f"job-card.{ending}": lay_out for ending in endings}
    _leave(folder, tables, shown=["parts"], written=cards)
    keep(options, guitar, remark=options.notes)
    return FINE


def check(options: Namespace) -> int:
    """Say what the meter must show, and hold what it showed against that."""
    from ..study.bench.expected import expected_readings
    from ..study.bench.verify import verify

    guitar, folder = _begun(options)
    progress("computing what the meter must show")
    how: dict[str, Any] = {"meter": _meter(options), "coil_temperature": options.temperature}
    tables = {"readings": expected_readings(guitar, **how).table()}
    if not options.readings:
        _leave(folder, tables)
        return FINE
    readings = read_readings(guitar, options.readings)
    found = verify(guitar, readings, **how)
    keep(options, guitar, readings=readings, finding=found.verdict(), **_coil(options))
    _leave(folder, {**tables, "verified": found.table()}, shown=["verified"])
    return FINE if found.fits else NOT_AS_IT_SHOULD


def fault(options: Namespace) -> int:
    """Rank the faults that explain what was read and heard."""
    from ..study.faults.diagnose import diagnose

    guitar, folder = _begun(options)
    readings, symptoms = read_readings(guitar, options.readings), read_symptoms(options.heard)
    tests = read_tests(options.test)
    progress("weighing every fault there may be")
    found = diagnose(
        guitar,
        readings,
        symptoms=symptoms,
        tests=tests,
        meter=_meter(options),
        coil_temperature=options.temperature,
    )
    seen = [f"heard: {one}" for one in options.heard] + [f"tested: {one}" for one in options.test]
    told = {"finding": found.verdict(), "remark": "; ".join(seen)}
    keep(options, guitar, readings=readings, **told, **_coil(options))
    _leave(folder, {"diagnosis": found.table()})
    return FINE


def bleeds(options: Namespace) -> int:
    """Compare treble bleeds in one guitar, with pictures and a live page."""
    from ..show.page.bleed_report import bleed_page, bleed_pictures, bleed_report, check_builds
    from ..show.page.report import report_pdf
    from ..study.choose.bleed_answer import bleed_answer
    from ..study.choose.bleed_tables import SUMMARY, USUAL, compare_bleeds

    guitar, folder = _begun(options)
    found = compare_bleeds(
        guitar,
        options.networks or USUAL,
        settings=read_settings(guitar, options.set),
        place=options.place,
        marks=options.marks,
    )
    check_builds(found)
    progress("computing")
    answer = bleed_answer(found)
    told = f"{found.name}\n\n{answer}"
    tables = [found.in_short(), *found.tables()]
    summary = Table(SUMMARY, found.summary_rows())
    pictures = {}
    for name, content in bleed_pictures(found, every=options.pictures):
        pictures[f"bleeds-{name}"] = content
        progress(f"drawing: {name}")
    progress("making the live page")
    live = bleed_page(found)
    said = "\n\n".join([told, *map(str, tables)])
    report = bleed_report(found, answer, pictures["bleeds-answer.png"])
    progress("printing the report")
    printed = report_pdf(report)
    progress("")
    pdf = {} if printed is None else {"report.pdf": lambda path: write_bytes(path, printed)}
    written = {
        **pdf,
        "report.html": lambda path: write_text(path, report),
        "bleeds-live.html": live.save,
        "bleeds.txt": lambda path: write_text(path, f"{said}\n"),
        "bleeds.csv": summary.to_csv,
    }
    _leave(folder, {}, pictures, written=written, said=said if options.tables else told)
    return FINE


def cable(options: Namespace) -> int:
    """Say what a metre of cable costs with one guitar."""
    from ..show.figures.picture import picture
    from ..show.figures.responses import plot_response
    from ..study.explain.cable import cable_settings
    from ..study.explain.explain import explain
    from ..study.response.response import response

    guitar, folder = _begun(options)
    settings = read_settings(guitar, options.set)
    _check_single(settings)
    wanted = cable_settings(guitar, options.lengths, settings)
    for length in options.lengths:
        ask_setting(guitar, f"{guitar.only(Cable)}.length", length)
    progress("computing")
    found = explain(guitar, wanted)
    h = response(guitar, wanted)
    full = h.isel({dim: 0 for dim in h.dims if h[dim].attrs.get("units") == "mark"})
    drawn = plot_response(full, re="reference", title=f"{guitar.name}: one curve a cable")
    said = f"{_head(guitar, settings)}\n\n{found}"
    written = {"cable.txt": lambda path: write_text(path, f"{said}\n")}
    _leave(folder, {}, {"cable.png": picture(drawn, dpi=160)}, written=written, said=said)
    return FINE


def wiring(options: Namespace) -> int:
    """Say what the wiring of the volume changes with one guitar."""
    from ..show.figures.picture import picture
    from ..show.figures.turned_down import plot_turned_down
    from ..study.choose.wiring import wirings
    from ..study.choose.wiring_answer import wiring_answer, wiring_settings
    from ..study.response.response import response

    guitar, folder = _begun(options)
    settings = read_settings(guitar, options.set)
    _check_single(settings)
    progress("computing")
    said = f"{_head(guitar, settings)}\n\n{wiring_answer(guitar, options.place, settings)}"
    knob, marks = wiring_settings(guitar, options.place, settings)
    h = response(wirings(guitar, options.place), marks)
    title = f"{sentence(guitar.name)}: shape at {plain_words(knob)} 5, by wiring"
    drawn = plot_turned_down(h, 5, knob=knob, title=title)
    written = {"wiring.txt": lambda path: write_text(path, f"{said}\n")}
    _leave(folder, {}, {"wiring.png": picture(drawn, dpi=160)}, written=written, said=said)
    return FINE


def choose(options: Namespace) -> int:
    """Rank every treble bleed one can buy."""
    from ..show.page.bleed_report import choice_pictures
    from ..study.choose.bleed import choose_treble_bleed
    from ..study.choose.score import BleedGoal

    guitar, folder = _begun(options)
    settings = read_settings(guitar, options.set)
    _check_single(settings)
    goals = {"treble": 0.0, "treble and taper": 1.0}
    if options.goal not in goals:
        raise BadSetting(
            "--goal", f"there is no {options.goal!r}", nearest(options.goal, goals), options.goal
        )
    goal = BleedGoal(taper=goals[options.goal], within=options.within)
    cables: dict[str, Any] = {"cable.length": options.cable} if options.cable else {}
    for length in options.cable:
        ask_setting(guitar, "cable.length", length)
    for name in cables.keys() & settings.keys():
        raise BadSetting("--set", f"{name} is given by --cable too", "keep one of the two", name)
    progress("trying every network")
    found = choose_treble_bleed(
        guitar,
        {**settings, **cables},
        goal=goal,
        place=options.place,
        series=options.series,
        networks=options.networks,
    )
    tables = {"choice": found.table(), "choice-rounding": found.rounding()}
    progress("drawing")
    drawn = choice_pictures(found, options.cable, **settings)
    _leave(folder, tables, {f"choice-{name}": content for name, content in drawn.items()})
    return FINE


def page(options: Namespace) -> int:
    """Leave a live page of one guitar, or of several beside each other."""
    from ..show.page.live_page import live_page

    guitars = _named(options.files)
    folder = folder_for(options.files[0], options.out)
    first = next(iter(guitars.values()))
    settings = read_settings(first, options.set)
    swept = [name for name, value in settings.items() if isinstance(value, list)]
    if len(swept) + (len(guitars) > 1) > 1:
        raise BadSetting(
            "--set",
            "a page overlays several guitars, or several values of one setting, not both",
            "give one of them once",
            swept,
        )
    for name in swept:
        values = settings.pop(name)
        owner, local = first.split(name)
        part = first.parts[owner]
        if (local or part.main) in (*part.controls, "place"):
            raise BadSetting(name, "moves on the page itself", "give it once, to open with", values)
        guitars = {value: first.replace(name, value) for value in values}
        if len(guitars) < len(values):
            raise BadSetting(name, "is given one value twice", "give each once", values)
    progress("making the page")
    shown = first if len(guitars) == 1 else guitars
    live = live_page(shown, settings=settings, title=options.title or "")
    _leave(folder, {}, written={"live.html": live.save})
    return FINE


def measure(options: Namespace) -> int:
    """Leave the tones and the adapter; with recordings, what was measured."""
    from ..show.figures.impedance import plot_impedance
    from ..show.figures.picture import picture
    from ..show.schematic.adapter import draw_adapter
    from ..study.measuring.calibration import read_calibration
    from ..study.measuring.measured import read_impedance, read_transfer
    from ..study.measuring.report import measured_table
    from ..study.measuring.saving import save_measurement
    from ..study.measuring.stimulus import write_stimulus

    folder = folder_for("measured", options.out)
    if not options.recordings:
        drawn = draw_adapter(options.series)
        pictures = {f"adapter.{end}": picture(drawn, end, dpi=160) for end in ("svg", "png")}
        tones = {"tones.wav": lambda path: write_stimulus(path, rate=options.rate)}
        _leave(folder, {}, pictures, written=tones, said=CAUTIONS)
        return FINE
    for name in ("open", "short", "known", "resistance"):
        if getattr(options, name) is None:
            raise BadSetting(
                f"--{name}", "is needed to calibrate", f"give it, or see {_HELP_OF_MEASURE}"
            )
    names = [Path(file).stem for file in options.recordings]
    if len(set(names)) < len(names):
        raise BadSetting("recordings", "two have the same name", "give each a name of its own")
    progress("reading the calibration")
    calibration = read_calibration(
        options.open, options.short, options.known, options.resistance,
        accuracy=options.accuracy, series=options.series,
    )  # fmt: skip
    found = {}
    for name, file in zip(names, options.recordings, strict=True):
        progress(f"reading {name}")
        if options.exciter:
            found[name] = read_transfer(file, calibration)
        else:
            found[name] = read_impedance(file, calibration, options.again)
    written: dict[str, Callable[[Path], Any]] = {}
    pictures = {}
    for name, one in found.items():
        if not options.exciter:
            size_and_phase = plot_impedance(
                one["impedance"], title=f"Impedance of {name}", view=(20, 20e3)
            )
            pictures[f"{name}.png"] = picture(size_and_phase)
        for ending in ("csv",) if options.exciter else ("csv", "s1p"):
            written[f"{name}.{ending}"] = partial(save_measurement, one)
    tables = [measured_table(one) for one in found.values()]
    said = "\n\n".join(map(str, [calibration, *tables]))
    written["measured.txt"] = lambda path: write_text(path, f"{said}\n")
    _leave(folder, {}, pictures, written=written, said=said)
    return FINE


_HELP_OF_MEASURE = "guitarnet measure --help"


def completion(options: Namespace) -> int:
    """Print what a shell completes the command by."""
    if options.shell not in SHELLS:
        raise BadSetting(
            "completion",
            f"there is none for {options.shell!r}",
            nearest(options.shell, SHELLS),
            options.shell,
        )
    put(f"{completion_script(options.shell)}\n")
    return FINE


# -- what all of them do ----------------------------------------------------------------------


def _begun(options: Namespace) -> tuple[Harness, Path]:
    """Load the guitar, and name the folder for what is left."""
    return _loaded(options.file), folder_for(options.file, options.out)


def _loaded(file: str) -> Harness:
    """Load a guitar, and say what is crossed in it before it is used."""
    from ..study.bench.truth_table import crossed_coils

    guitar = load_harness(file)
    with contextlib.suppress(TooLarge):  # a switchboard: its truth table asks for less
        for words in crossed_coils(guitar):
            say(words)
    return guitar


def _coil(options: Namespace) -> dict[str, Any]:
    """How a coil was read, for the record."""
    return {"at": options.temperature, "accuracy": options.accuracy}


def _meter(options: Namespace) -> Ohmmeter:
    return Ohmmeter(accuracy=options.accuracy, leads=options.leads, largest=options.largest)


def _leave(
    folder: Path,
    tables: Mapping[str, Table],
    pictures: Mapping[str, bytes] | None = None,
    shown: list[str] | None = None,
    written: Mapping[str, Callable[[Path], Any]] | None = None,
    said: str = "",
) -> None:
    """Leave tables as text and CSV, pictures, and what others write: all of them or none.

    Prints what is to be said, and the tables, or those to be shown.
    """
    names = []
    with together(folder) as beside:
        for name, write in (written or {}).items():
            write(beside / name)
            names.append(name)
        progress("")
        for name, content in (pictures or {}).items():
            write_bytes(beside / name, content)
            names.append(name)
        for name, table in tables.items():
            write_text(beside / f"{name}.txt", f"{table}\n")
            table.to_csv(beside / f"{name}.csv")
            names += [f"{name}.txt", f"{name}.csv"]
    for words in [said, *(tables[name] for name in (tables if shown is None else shown))]:
        if words:
            say(f"{words}\n")
    say(f"in the folder {folder}: {', '.join(names)}")


def _named(files: list[str]) -> dict[str, Harness]:
    """Guitars by what they are called, or by their files where two are called alike."""
    guitars = [_loaded(file) for file in files]
    names = [guitar.name for guitar in guitars]
    labels = names if len(set(names)) == len(names) else files
    if len(set(labels)) < len(labels):
        twice = next(file for file in files if files.count(file) > 1)
        raise BadSetting(twice, "is given twice", "give each file once", twice)
    return dict(zip(labels, guitars, strict=True))


def _head(guitar: Harness, settings: Mapping[str, Any]) -> str:
    """Name the guitar, and how its controls stand where they were set."""
    stand = ", ".join(f"{plain_words(name)} at {value}" for name, value in settings.items())
    return f"{guitar.name}, with {stand}" if stand else guitar.name


def _check_single(settings: Mapping[str, Any]) -> None:
    for name, value in settings.items():
        if isinstance(value, list):
            raise BadSetting("--set", f"{name} is given {len(value)} times", "give it once", value)
