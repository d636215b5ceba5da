"""A guitar with bleed and tone over 1,211 knob settings: guitarnet against ngspice.

Both run here, one after the other, one thread each, 512 frequencies a setting. ngspice does the
same sweep in one batch process, by ``alter`` and ``ac`` for each setting; its start and the
reading of its netlist are counted out by a run with a single setting.
"""

from __future__ import annotations

import sys

from common import against_ngspice

import guitarnet as gn


def main() -> int:
    """Run both and print the ratio."""
    guitar = gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n", cable="5 m"
    )
    altered = ("volume.upper", "volume.lower", "tone.lower")
    return against_ngspice(guitar, altered, 1211, 80)


if __name__ == "__main__":
    sys.exit(main())
