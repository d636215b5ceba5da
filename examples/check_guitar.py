r"""One guitar on the bench: job card, schematic, what the meter must show, and the fault.

Without arguments this runs on an invented guitar of three single coils with a broken middle coil.
With arguments it runs on yours, described in a harness file; no Python is needed:

    python examples/check_guitar.py --harness my_guitar.toml --reading neck=6.05k \
        --reading bridge=OL --symptom "neck=weak" --out my_guitar

A reading is taken between tip and sleeve of the plugged-in cable, with all controls up, once for
each place of the switch; write "at=6.05k" where there is no switch. A symptom is one of those that
--help lists, of a switch place or a knob. Without readings there is no diagnosis.

It leaves the job card (HTML and PDF, to print), the schematic (PNG and SVG), what joins what, the
parts, the readings to expect, the single faults there may be and, given readings, the diagnosis,
each as text and most as CSV. Your files are never changed. It needs pip install ".[cards]".

Cautions: unplug the guitar from everything before you open or measure it, and take the battery out
of active electronics. Never open an amplifier: its voltages are lethal even when it is off; its
mains earth must be intact. An iron is hot, fumes want air, lead solder wants washed hands, clipped
leads fly: wear goggles. Local electrical codes and a licensed technician come before this tool.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import guitarnet as gn
from guitarnet.command.words import read_readings, read_symptoms
from guitarnet.files import write_bytes, write_text
from guitarnet.show.figures.picture import picture

DEMO = ["neck=6.02k", "neck+middle=6.01k", "middle=249k", "bridge=6.71k"]


def main(arguments: list[str] | None = None) -> int:
    """Run the job; returns the exit code."""
    try:
        run(read_options(sys.argv[1:] if arguments is None else arguments))
    except gn.GuitarnetError as error:
        print(f"error: {error}", file=sys.stderr)
        return 2
    return 0


def run(options: argparse.Namespace) -> None:
    """Compute everything first, then write, so that a refusal leaves nothing behind."""
    demo = options.harness is None
    guitar = invented_guitar() if demo else gn.load_harness(options.harness)
    given = options.reading or (DEMO if demo else [])
    meter = gn.bench.Ohmmeter(leads=options.leads)
    found = None
    if given:
        readings = read_readings(guitar, given)
        symptoms = read_symptoms(options.symptom)
        found = gn.diagnose(guitar, readings, symptoms=symptoms, meter=meter)
    tables = {
        "joints": guitar.joints(),
        "parts": guitar.part_table(),
        "selects": gn.truth_table(guitar),
        "readings": gn.expected_readings(guitar, meter=meter).table(),
        "faults": gn.bench.faults(guitar).table(),
    }
    if found is not None:
        tables["diagnosis"] = found.table()
    pictures = {
        f"schematic.{ending}": picture(gn.draw(guitar), ending, dpi=160)
        for ending in ("png", "svg")
    }
    folder = Path(options.out)
    for ending in ("html", "pdf"):
        gn.job_card(guitar, folder / f"job-card.{ending}", paper=options.paper, meter=meter)
    for name, content in pictures.items():
        write_bytes(folder / name, content)
    for name, table in tables.items():
        write_text(folder / f"{name}.txt", f"{table}\n")
        table.to_csv(folder / f"{name}.csv")
    print(tables["readings"], end="\n\n")
    if found is not None:
        print(found)
    print(f"\nwritten to {folder}: {', '.join(sorted(path.name for path in folder.iterdir()))}")


def invented_guitar() -> gn.Harness:
    """Three single coils of no one's make, the middle one reversed."""
    middle = gn.Pickup("6.2k", "2.4 H", "120p", winding=-1, magnet=-1)
    return gn.layouts.three_single_coils(
        gn.Pickup("6.1k", "2.3 H", "110p"),
        middle,
        gn.Pickup("6.8k", "2.8 H", "130p"),
        treble_bleed="150k || 1n",
        name="three single coils (invented)",
    )


def read_options(arguments: list[str]) -> argparse.Namespace:
    """Read the command line."""
    about, _, rest = (__doc__ or "").partition("\n\n")
    parser = argparse.ArgumentParser(
        description=about, epilog=rest, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--harness", help="harness file (TOML); an invented guitar unless given")
    parser.add_argument(
        "--reading",
        action="append",
        default=[],
        metavar="PLACE=OHM",
        help='what the meter showed, as "neck=6.05k" or "bridge=OL"; once for each place',
    )
    parser.add_argument(
        "--symptom",
        action="append",
        default=[],
        metavar="WHERE=WORD",
        help=f"what is heard at a place or knob: {', '.join(gn.bench.SYMPTOMS)}",
    )
    parser.add_argument("--leads", default="0.2 ohm", help="resistance of the meter's leads")
    parser.add_argument("--paper", default="A4", choices=["A4", "Letter"])
    parser.add_argument("--out", default="checked_guitar", help="folder to write to")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    raise SystemExit(main())
