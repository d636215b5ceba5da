"""What if: one function from a guitar and some changes to a table, and the table to CSV.

    python examples/what_if.py [FILE.csv]

The guitar and the changes are invented; put your own in their place. `what_if` is all there is to
it: each change is a dictionary of settings, as `guitarnet.response` takes them.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from typing import Any

import guitarnet as gn

GUITAR = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), cable="5 m")
CHANGES = {
    "as it is": {},
    "500k volume": {"volume.resistance": "500k"},
    "500k volume and tone": {"volume.resistance": "500k", "tone.resistance": "500k"},
    "10 nF on the tone control": {"tone_capacitor": "10n"},
    "150 kΩ || 1 nF across the volume": {"treble_bleed": "150k || 1n"},
    "1 m of cable": {"cable.length": "1 m"},
    "10 m of cable": {"cable.length": "10 m"},
    "linear volume": {"volume.taper": "linear"},
}


def what_if(guitar: gn.Harness, changes: Mapping[str, Mapping[str, Any]]) -> gn.Table:
    """Tell what each change does: the peak, the level at 3 kHz, and what turning down to 5 does."""
    rows = []
    for name, change in changes.items():
        h = gn.response(guitar, **change, volume=[10, 5])
        full = h.sel(volume=10)
        peak = gn.peak(full)
        level = gn.level_db(gn.response(guitar, frequency="3 kHz", **change), re="reference").item()
        numbers = (
            round(peak.frequency.item()) if peak.frequency.notnull() else "none",
            round(peak.height.item(), 1) if peak.height.notnull() else "none",
            round(level, 1),
            round(gn.effective_taper(h).sel(volume=5).item(), 1),
            round(gn.treble_change(h).worst.sel(volume=5).item(), 1),
        )
        rows.append((name, *numbers))
    columns = (
        "change",
        "peak [Hz]",
        "height [dB re 100 Hz]",
        "3 kHz [dB re 100 Hz]",
        "level at 5 [dB re 10]",
        "worst change of shape at 5 [dB]",
    )
    return gn.Table(columns, rows, note="An invented guitar; lossless coil assumed.")


def main(arguments: list[str] | None = None) -> int:
    """Print the table and write it where asked; returns the exit code."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("file", nargs="?", metavar="FILE.csv", help="where to write the table")
    options = parser.parse_args(arguments)
    try:
        table = what_if(GUITAR, CHANGES)
        print(table)
        if options.file:
            table.to_csv(options.file)
    except gn.GuitarnetError as error:
        print(f"error: {error}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
