r"""Which treble bleed keeps most treble, most of the taper, or both, before anything is soldered.

Without arguments this runs on an invented single coil guitar with cables of 1, 3 and 6 m. With a
harness file it runs on yours; no Python is needed:

    python examples/choose_bleed.py --harness my_guitar.toml --cable "3 m" --cable "6 m" \
        --goal treble --series E24 --within 4 --network "1.2n + 130k" --out bleeds

It prints a ranked table and leaves it as CSV, with a figure of every network tried and one of the
shape at each mark. It tells numbers, not taste; none and 50s wiring always compete.

Cautions: unplug the guitar from everything before you open it. Never open an amplifier: its
voltages are lethal even when it is off; its mains earth must be intact. An iron is hot, fumes want
air, lead solder wants washed hands, clipped leads fly: wear goggles. Local electrical codes and a
licensed technician come before this tool.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import guitarnet as gn
from guitarnet.files import write_bytes
from guitarnet.show.page.bleed_report import choice_pictures


def main(arguments: list[str] | None = None) -> int:
    """Run the job; returns the exit code."""
    try:
        run(read_options(arguments))
    except gn.GuitarnetError as error:
        print(f"error: {error}", file=sys.stderr)
        return 2
    return 0


def run(options: argparse.Namespace) -> None:
    """Search, print the tables, write them and the figures."""
    if options.harness:
        guitar = gn.load_harness(options.harness)
    else:
        print("An invented guitar; give --harness to choose for your own.\n")
        guitar = gn.layouts.one_pickup(
            gn.Pickup("6.2k", "2.4 H", "120p"), name="an invented single coil guitar"
        )
    cables = {"cable.length": options.cable} if options.cable else {}
    found = gn.choose_treble_bleed(
        guitar,
        goal=gn.choosing.BleedGoal(
            taper=0.0 if options.goal == "treble" else 1.0, within=options.within
        ),
        place=options.place,
        series=options.series,
        networks=options.network,
        **cables,
    )
    table, rounding = found.table(), found.rounding()
    pictures = choice_pictures(found, options.cable)
    folder = Path(options.out)
    table.to_csv(folder / "bleeds.csv")
    rounding.to_csv(folder / "rounding.csv")
    for name, content in pictures.items():
        write_bytes(folder / name, content)
    print(f"{table}\n\n{rounding}\n")
    print(f"bleeds.csv, rounding.csv, {' and '.join(pictures)} are in the folder {folder}")


def read_options(arguments: list[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--harness", help="TOML file of your guitar, with a place for the bleed")
    parser.add_argument("--place", help="name of that place, where there are several")
    parser.add_argument(
        "--goal", choices=["treble and taper", "treble"], default="treble and taper"
    )
    parser.add_argument("--within", type=float, help="most that the shape may change anywhere [dB]")
    parser.add_argument("--series", default="E12", help="preferred values, E6 to E192")
    parser.add_argument(
        "--network", action="append", default=[], help="a network of yours, such as '1n'"
    )
    parser.add_argument(
        "--cable", action="append", default=[], help="a length it has to serve; give it again"
    )
    parser.add_argument("--out", default="bleeds", help="folder for the files")
    options = parser.parse_args(arguments)
    if not options.cable and not options.harness:
        options.cable = ["1 m", "3 m", "6 m"]
    return options


if __name__ == "__main__":
    sys.exit(main())
