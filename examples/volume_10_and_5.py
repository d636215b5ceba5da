r"""What does a treble bleed across the volume pot do at volume 10, and at volume 5?

Without options this runs an invented guitar: a single coil and 6 m of cable. With options it runs
your own guitar; no Python is needed:

    python examples/volume_10_and_5.py --resistance 6.2k --inductance 2.4H --volume 250k \
        --bleed "150k || 1n" --bleed 680p --cable "5 m"
    python examples/volume_10_and_5.py --harness my_guitar.toml --bleed "150k || 1n"
    python examples/volume_10_and_5.py --scenario

The last is an invented workshop: a single coil and a humbucker guitar, each with a long and with a
short cable. It prints the answer in sentences (--tables: the numbers too), and leaves a report to
hand over, two pictures (--pictures: seven), tables and a live page in a folder. Nothing here is
measured on a guitar; before you measure or solder one, unplug it from the amplifier, and never
open an amplifier: its voltages are lethal even when it is off.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from pathlib import Path
from typing import Any

import matplotlib

matplotlib.use("Agg")

import guitarnet as gn
from guitarnet.command.words import progress
from guitarnet.files import write_bytes, write_text
from guitarnet.gate import insisting
from guitarnet.show.page.bleed_report import bleed_page, bleed_pictures, bleed_report
from guitarnet.show.page.report import report_pdf
from guitarnet.study.choose.bleed_answer import bleed_answer
from guitarnet.study.choose.bleed_tables import SUMMARY, USUAL, BleedComparison, compare_bleeds

PICTURES = ("answer", "builds", "difference-from-*", "taper", "every-mark", "map")


def main(arguments: list[str] | None = None) -> int:
    """Run the job; returns the exit code."""
    options = read_options(arguments)
    try:
        units = "feet" if options.feet else "metric"
        with insisting(options.unusual), gn.values.prefer_units(units):
            run(options)
    except gn.GuitarnetError as error:
        words = f"error: {error}".replace("unusual = true beside it", "--unusual")
        print(words.replace("unusual=True", "--unusual"), file=sys.stderr)
        return 2
    return 0


def run(options: argparse.Namespace) -> None:
    """Compute every case, leave its files, print its answer."""
    began = time.perf_counter()
    cases = (
        scenario()[: None if options.scenario else 1] if options.invented else [own_guitar(options)]
    )
    folder = prepared(Path(options.out))
    rows: list[tuple[Any, ...]] = []
    answers: list[str] = [(__doc__ or "").splitlines()[0]]
    if options.invented:
        answers.append("An invented guitar; give options to run your own (--help).")
    tables: list[str] = []
    seen: list[list[Any]] = []
    for number, case in enumerate(cases, 1):
        progress(f"[{number}/{len(cases)}] {case.name}: computing")
        rows += case.summary_rows()
        answer = bleed_answer(case)
        answers.append(f"=== {case.name} ===\n{case.guitar}\n\n{answer}")
        begins = file_name(case)
        for name, content in bleed_pictures(case, every=options.pictures):
            progress(f"[{number}/{len(cases)}] {case.name}: {name}")
            write_bytes(folder / f"{begins}-{name}", content)
            if name == "answer.png":
                report = bleed_report(case, answer, content)
        write_text(folder / f"{begins}-report.html", report)
        progress(f"[{number}/{len(cases)}] {case.name}: printing the report")
        if (printed := report_pdf(report)) is not None:
            write_bytes(folder / f"{begins}-report.pdf", printed)
        bleed_page(case).save(folder / f"{begins}-live.html")
        # What the cable does is told once for each guitar.
        pickups = [
            part for part in case.guitar.parts.values() if isinstance(part, (gn.Coil, gn.Humbucker))
        ]
        tables += [f"=== {case.name}: tables ===", str(case.in_short())]
        tables += [str(table) for table in case.tables(cable=pickups not in seen)]
        seen.append(pickups)
    progress("")
    gn.Table(SUMMARY, rows).to_csv(folder / "summary.csv")
    write_text(folder / "answers.txt", "\n\n".join([*answers, *tables]) + "\n")
    print("\n\n".join([*answers, *(tables if options.tables else [])]))
    print(f"\nReport, pictures, live page and tables are in the folder {folder}")
    print(f"({time.perf_counter() - began:.0f} s)")


def prepared(folder: Path) -> Path:
    """Make the folder before anything is computed, and take away what an earlier run left."""
    write_text(folder / "answers.txt", "")
    ours = ("*-live.html", "*-report.html", "*-report.pdf", *(f"*-{kind}.png" for kind in PICTURES))
    for old in [file for pattern in ours for file in folder.glob(pattern)]:
        old.unlink()
    return folder


# -- guitars ----------------------------------------------------------------------------------


def scenario() -> list[BleedComparison]:
    """Two invented guitars, each with two cables; the first is the one to begin with."""
    guitars = {
        "single coil": ("6.2k", "2.4 H", "120p", "250k", "47n"),
        "humbucker": ("8.4k", "4.6 H", "110p", "500k", "22n"),
    }
    cables = {
        "long cable": gn.Cable("6 m", "150 pF/m"),
        "short cable": gn.Cable("3 m", "70 pF/m"),
    }
    cases = []
    for guitar, (ohms, henries, farads, pot, capacitor) in guitars.items():
        for cable_name, cable in cables.items():
            name = f"{guitar}, {cable_name}"
            made = gn.layouts.one_pickup(
                gn.Pickup(ohms, henries, farads),
                volume=pot,
                tone=pot,
                tone_capacitor=capacitor,
                cable=cable,
                name=f"{name} (invented)",
            )
            cases.append(compare_bleeds(made, name=name))
    return cases


def own_guitar(options: argparse.Namespace) -> BleedComparison:
    """The reader's guitar, from a harness file or from values."""
    if options.harness:
        return compare_bleeds(gn.load_harness(options.harness), options.bleed or USUAL)
    guitar = gn.layouts.one_pickup(
        gn.Pickup(options.resistance, options.inductance, options.capacitance),
        volume=gn.Pot(options.volume, options.taper),
        tone=None if options.tone == "none" else gn.Pot(options.tone, options.taper),
        tone_capacitor=options.tone_capacitor,
        cable=gn.Cable(options.cable, options.cable_capacitance),
        amp=options.amp,
        wiring=options.wiring,
        name="your guitar",
    )
    return compare_bleeds(guitar, options.bleed or USUAL)


# -- what is left behind ----------------------------------------------------------------------


def file_name(case: BleedComparison) -> str:
    """The case's name as the beginning of a file name."""
    return "-".join("".join(c if c.isalnum() else " " for c in case.name.lower()).split())


def read_options(arguments: list[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    own = parser.add_argument_group(
        "your own guitar (give any of these to run it instead of the invented one)"
    )
    values = {
        "resistance": ("6.2k", "DC resistance of the pickup"),
        "inductance": ("2.4H", "inductance of the pickup"),
        "capacitance": ("120p", "capacitance of the pickup's winding and lead"),
        "volume": ("250k", "volume pot"),
        "tone": ("250k", "tone pot, or none"),
        "taper": ("audio 15%", "taper of the pots, in words: linear, audio 10%%, ..."),
        "tone-capacitor": ("22n", "tone capacitor"),
        "wiring": ("modern", "modern, 50s, independent or 'independent 50s'"),
        "cable": ("5 m", "length of the cable"),
        "cable-capacitance": ("100 pF/m", "capacitance of the cable"),
        "amp": ("1M", "input resistance of the amp"),
    }
    for name, (default, words) in values.items():
        shown = default.replace("%", "%%")
        own.add_argument(f"--{name}", metavar="VALUE", help=f"{words} ({shown})")
    own.add_argument(
        "--bleed",
        action="append",
        metavar="NETWORK",
        help="a treble bleed: 1n, '150k || 1n', '130k + 1.2n'; may be given several times",
    )
    own.add_argument(
        "--unusual",
        action="store_true",
        help="take values that hardly any guitar has as they are, without asking",
    )
    own.add_argument("--harness", metavar="FILE", help="a harness file (TOML) instead of values")
    parser.add_argument(
        "--scenario", action="store_true", help="run the invented workshop of two guitars"
    )
    parser.add_argument("--tables", action="store_true", help="print the tables as well")
    parser.add_argument("--feet", action="store_true", help="write lengths in feet")
    parser.add_argument("--pictures", action="store_true", help="leave five more pictures")
    parser.add_argument(
        "--out", default="volume_10_and_5", metavar="FOLDER", help="where to leave the files"
    )
    given_words = sys.argv[1:] if arguments is None else arguments
    # "--resistance -6.2k": let the value be refused as a value, not taken for an option.
    joined = re.sub(r"\n(-[\d.][^\n]*)", r"=\1", "\n".join(given_words))
    options = parser.parse_args(joined.split("\n") if joined else [])
    given = {
        name: value
        for name, value in vars(options).items()
        if name not in ("out", "scenario", "tables", "pictures", "feet", "unusual")
        and value is not None
    }
    options.invented = not given
    if options.scenario and given:
        parser.error("--scenario runs the invented guitars; leave it out to run your own")
    if options.harness and set(given) - {"harness", "bleed"}:
        parser.error("--harness brings all values; only --bleed may be given with it")
    for name, (default, _) in values.items():
        key = name.replace("-", "_")
        if getattr(options, key) is None:
            setattr(options, key, default)
    return options


if __name__ == "__main__":
    sys.exit(main())
