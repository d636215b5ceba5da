"""A fit of two noisy curves of 300 points, against evaluations of its model on the same grid."""

from __future__ import annotations

import sys

from common import MISSED, best_of, report  # first: sets the number of threads

import numpy as np

import guitarnet as gn
from guitarnet.study import coil_model

GRID = np.geomspace(60, 15e3, 300)
INVENTED = {
    "resistance": 7100.0,
    "inductance": 3.6,
    "capacitance": 145e-12,
    "eddy_resistance": 27e3,
    "eddy_share": 0.3,
    "screening_frequency": 3100.0,
}
EVALUATIONS = 1000


def curve(load: gn.Load, farad: float, seed: int) -> gn.MeasuredCurve:
    """One string curve of an invented pickup, with noise."""
    y = 2j * np.pi * GRID * farad + 1e-6
    level = 20 * np.log10(np.abs(coil_model.string_response(INVENTED, GRID, y)))
    level += 20 * np.log10(GRID) + np.random.default_rng(seed).normal(-57, 0.05, GRID.size)
    return gn.MeasuredCurve(GRID, level, load=load, slope=20, name=f"curve {seed}")


def main() -> int:
    """Print the result beside its target; returns the exit code."""
    curves = [curve(gn.Load(), 0.0, 1), curve(gn.Load(capacitance="10n"), 10e-9, 2)]
    seconds = best_of(lambda: gn.fit_pickup(curves, resistance=7100), 3)
    y = 2j * np.pi * GRID * 10e-9

    def evaluations() -> None:
        for _ in range(EVALUATIONS):
            coil_model.string_response(INVENTED, GRID, y)

    each = best_of(evaluations, 3) / EVALUATIONS
    print(
        f"one evaluation of the model {1e6 * each:.0f} us; a fit is {seconds / each:,.0f} of them"
    )
    found = gn.fit_pickup(curves, resistance=7100).values["inductance"].value
    if not abs(found / INVENTED["inductance"] - 1) < 0.03:
        print(f"the fit gives {found:.3f} H for {INVENTED['inductance']} H")
        return 2
    met = report("fit of two curves of 300 points", seconds, "s", 2, at_least=False)
    return 0 if met else MISSED


if __name__ == "__main__":
    sys.exit(main())
