"""A guitar with bleed and tone over many knob settings: guitarnet against ngspice.

Both run here, one after the other, one thread each, 512 frequencies a setting. ngspice does the
same sweep in one batch process, by ``alter`` and ``ac`` for each setting, its start counted.
guitarnet is asked again for a guitar that it has seen, with other marks: what it keeps is the
order of its elimination, no result.

Before, the list of marks was read one by one and each pattern of shorts was eliminated anew: 46 to
65 times for the list, 19 to 35 times for the marks.
"""

from __future__ import annotations

import itertools
import sys

from common import against_ngspice, drawn_marks

import numpy as np

import guitarnet as gn

KNOBS = ("volume.upper", "volume.lower", "tone.lower")


def main() -> int:
    """Run all three sweeps and print the ratios."""
    guitar = gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n", cable="5 m"
    )
    print("1,211 drawn pairs of marks, as arrays")
    codes = [against_ngspice(guitar, KNOBS, *drawn_marks(1211), 120)]
    print("volume as a plain list of 1,211 numbers")
    marks = np.roll(np.linspace(0.2, 9.8, 1211), 605).tolist()  # the last one in the middle
    settings = [{"volume": mark} for mark in marks]
    codes.append(against_ngspice(guitar, KNOBS[:2], {"volume": marks}, settings, 120))
    print("11 x 11 marks, both ends among them")
    gn.response(guitar, volume=[3, 4], tone=[5, 6])
    ends = list(range(11))
    settings = [{"volume": v, "tone": t} for v, t in itertools.product(ends, ends)]
    middle = settings.index({"volume": 5, "tone": 5})
    settings = [*settings[middle + 1 :], *settings[: middle + 1]]  # knobs off their ends come last
    codes.append(against_ngspice(guitar, KNOBS, {"volume": ends, "tone": ends}, settings, 60))
    return max(codes)


if __name__ == "__main__":
    sys.exit(main())
