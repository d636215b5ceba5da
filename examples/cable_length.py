r"""How long may the cable be? Where the peak lies with each length, and which length moves it.

    python examples/cable_length.py
    python examples/cable_length.py --harness my_guitar.toml --per-metre "33 pF/ft" \
        --peak "3.5 kHz" --out cables

Without arguments the guitar is invented. It prints the peak for lengths from 1 to 10 m and the
length that brings the peak to the frequency asked for, and leaves a table (CSV) and a figure.
Measure a cable's capacitance with both its ends unplugged, never on an amplifier.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import guitarnet as gn
from guitarnet.files import write_bytes
from guitarnet.show.figures.picture import picture

LENGTHS = [f"{metres} m" for metres in range(1, 11)]


def main(arguments: list[str] | None = None) -> int:
    """Run the job; returns the exit code."""
    try:
        run(read_options(arguments))
    except gn.GuitarnetError as error:
        print(f"error: {error}", file=sys.stderr)
        return 2
    return 0


def run(options: argparse.Namespace) -> None:
    """Measure every length, find the one asked for, write table and figure."""
    if options.harness:
        guitar = gn.load_harness(options.harness)
    else:
        guitar = gn.layouts.one_pickup(
            gn.Pickup("6.2k", "2.4 H", "120p"), name="an invented single coil guitar"
        )
    guitar = guitar.replace("cable.capacitance_per_metre", options.per_metre)
    h = gn.response(guitar, {"cable.length": LENGTHS})
    peak = gn.peak(h)
    rows = [
        (length, round(float(hertz)), round(float(height), 1))
        for length, hertz, height in zip(LENGTHS, peak.frequency, peak.height, strict=True)
        if hertz.notnull()
    ]
    table = gn.Table(("cable", "peak [Hz]", "height [dB re 100 Hz]"), rows)
    goal = gn.choosing.Goal("peak frequency", near=options.peak, within="2%")
    found = gn.choosing.choose(guitar, {"cable.length": gn.choosing.Range("0.3 m", "15 m")}, goal)
    drawn = picture(gn.plots.plot_choices(found), dpi=110)
    folder = Path(options.out)
    table.to_csv(folder / "cables.csv")
    write_bytes(folder / "cables.png", drawn)
    print(f"{guitar.name}, volume 10, {options.per_metre} of cable\n\n{table}\n")
    for one in found.met:
        print(f"{found.goals[0].shown(one.reached[0])} with {one.written['cable.length']} of cable")
    print(f"cables.csv and cables.png are in the folder {folder}")


def read_options(arguments: list[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--harness", help="TOML file of your guitar")
    parser.add_argument("--per-metre", default="100 pF/m", help="such as '100 pF/m' or '30 pF/ft'")
    parser.add_argument("--peak", default="4 kHz", help="frequency that the peak is to have")
    parser.add_argument("--out", default="cables", help="folder for the files")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    sys.exit(main())
