"""Trials against ngspice, an independent circuit simulator."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

import guitarnet as gn
from guitarnet.circuit.netlist import Netlist
from guitarnet.solve import ac
from guitarnet.solve.spice import run_ngspice, spice_text
from guitarnet.study.response.response import node_at

from .agree import Tally, trials

__all__ = ["ABSOLUTE", "RELATIVE", "against_ngspice"]

RELATIVE = 1e-7
"""Largest difference allowed, as a share of the value.

ngspice stamps conductances: beside megohms a hundredth of an ohm costs it eight of its sixteen
digits. The oracle, with no such stamp, decides what is right.
"""
ABSOLUTE = 1e-12
"""[V] for 1 V induced in each coil: where signals cancel, no share of the rest is kept."""

_LEAST_OHM = 1e-3


def against_ngspice(
    seed: int, count: int, *, progress: Callable[[int], None] = lambda done: None
) -> Tally:
    """Compare voltages of random harnesses with ngspice until so many have been compared."""
    tally = Tally()
    for number, trial in trials(seed, 20 * count, swept=False):
        if tally.trials == count:
            break
        try:
            net = _lossless(trial.guitar.netlist(**trial.settings))
        except gn.errors.BadValue:
            tally.left_out["coils coupled more than eddy loss leaves to couple (refused)"] += 1
            continue
        node = node_at(trial.guitar, trial.at)
        text = spice_text(net, node, 20, 20e3, 3)
        if "it is silent" in text:
            tally.left_out["silent: nothing to compare, the text says so"] += 1
            continue
        if _least_ohm(text) < _LEAST_OHM:
            tally.left_out[f"a resistance under {_LEAST_OHM:g} ohm, which ngspice blurs"] += 1
            continue
        frequency, expected = run_ngspice(text)
        found = ac.node_voltage(net, node, frequency).values
        error = np.abs(found - expected)
        allowed = np.maximum(RELATIVE * np.abs(expected), ABSOLUTE)
        tally.trials += 1
        tally.values += error.size
        counts = np.abs(expected) * RELATIVE > ABSOLUTE
        shares = error[counts] / np.abs(expected[counts])
        tally.largest = max(tally.largest, *shares) if shares.size else tally.largest
        if (error > allowed).any():
            at = int(np.argmax(error / allowed))
            tally.wrong.append(
                (
                    number,
                    trial,
                    f"voltage at {node}, {frequency[at]:.17g} Hz: {found[at]:.9g}, "
                    f"ngspice {expected[at]:.9g}",
                )
            )
        progress(tally.trials)
    return tally


def _lossless(net: Netlist) -> Netlist:
    """The circuit without dissipation factors, which SPICE cannot state."""
    net.branches = {name: replace(branch, loss=0.0) for name, branch in net.branches.items()}
    return net


def _least_ohm(text: str) -> float:
    cards = (line.split() for line in text.splitlines() if line.startswith("R"))
    return min((float(card[3]) for card in cards), default=1.0)
