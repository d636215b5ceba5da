"""Two humbuckers at coil level, in parallel, through volume and tone: guitarnet against ngspice.

Four coils, coupled in pairs, each with eddy loss; the settings of the knobs are swept as in
``sweep_against_ngspice.py``.
"""

from __future__ import annotations

import sys

from common import against_ngspice, drawn_marks

import guitarnet as gn


def main() -> int:
    """Run both and print the ratio."""
    coil = gn.Coil("4.2k", "2.1 H", "180p", eddy_resistance="300k", eddy_share=0.3)
    pair = {"neck": gn.Humbucker(coil, coil), "bridge": gn.Humbucker(coil, coil, 0.1)}
    guitar = gn.layouts.one_pickup(pair["neck"], volume="500k", tone="500k", cable="5 m")
    guitar = guitar.add("bridge", pair["bridge"])
    guitar = guitar.join("bridge.hot", "pickup.hot").join("bridge.ground", "pickup.ground")
    altered = ("volume.upper", "volume.lower", "tone.lower")
    return against_ngspice(guitar, altered, *drawn_marks(301), 30)


if __name__ == "__main__":
    sys.exit(main())
