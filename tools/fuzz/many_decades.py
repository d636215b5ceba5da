"""Random harnesses whose values lie many decades apart, against 50 digits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import oracle

import guitarnet as gn
from guitarnet.circuit.netlist import Branch, Netlist
from guitarnet.circuit.settings import resolve
from guitarnet.errors import NoSolution
from guitarnet.solve import ac
from guitarnet.study.response.response import node_at

from .agree import trials

__all__ = ["PROMISED", "DecadesTally", "against_fifty_digits", "far_apart"]

PROMISED = 1e-9
"""Largest difference allowed, as a share of the largest value in the band."""

_NOTHING = 1e-40  # volts that are left of nothing in 50 digits
_FREQUENCIES = 4


@dataclass
class DecadesTally:
    """What came of harnesses with values many decades apart."""

    harnesses: int = 0
    settings: int = 0
    silent: int = 0
    refused: list[tuple[int, str]] = field(default_factory=list)
    largest: float = 0.0
    wrong: list[tuple[int, str]] = field(default_factory=list)


def against_fifty_digits(
    seed: int,
    count: int,
    *,
    decades: float = 4.0,
    low: float = 20.0,
    high: float = 20e3,
    progress: Callable[[int], None] = lambda done: None,
) -> DecadesTally:
    """Compare responses, swept settings among them, with the oracle in 50 digits.

    Parameters
    ----------
    seed, count : int
        Which harnesses, and how many.
    decades : float
        Every resistance, inductance and capacitance is multiplied by up to 10 to this power, or
        divided by it, each by itself.
    low, high : float
        The band [Hz].
    progress : callable
        Is told how many are done.
    """
    tally = DecadesTally()
    for number, trial in trials(seed, count):
        rng = np.random.default_rng([seed, number, 1])
        progress(number)
        try:
            net = trial.guitar.stamp(resolve(trial.guitar, trial.settings).values)
        except gn.errors.BadValue:
            continue
        node = node_at(trial.guitar, trial.at)
        frequency = np.sort(np.geomspace(low, high, 64)[rng.choice(64, _FREQUENCIES, False)])
        _compare(tally, number, far_apart(net, rng, decades), node, frequency, rng)
        tally.harnesses += 1
    return tally


def far_apart(net: Netlist, rng: np.random.Generator, decades: float) -> Netlist:
    """The same circuit with every value multiplied by a power of ten of its own."""
    made = Netlist(net.ground, bare=set(net.bare))
    factors: dict[str, Any] = {}
    for b in net:
        factor = 10 ** float(rng.uniform(-decades, decades))
        if b.kind == "M":  # no more than both inductances can couple
            factor = (1 - 1e-9) * (factors[b.between[0]] * factors[b.between[1]]) ** 0.5
        factors[b.name] = factor
        value = b.value * factor if b.kind in "RLCM" else b.value
        made.add(Branch(b.name, b.kind, b.nodes, value, b.loss, b.between))
    return made


def _compare(
    tally: DecadesTally,
    number: int,
    net: Netlist,
    node: str,
    frequency: np.ndarray,
    rng: np.random.Generator,
) -> None:
    try:
        found = ac.node_voltage(net, node, frequency)
    except NoSolution as error:
        tally.refused.append((number, str(error)))
        return
    settings = list(oracle.single_settings(net))
    for place, single in {0: settings[0], 1: settings[int(rng.integers(len(settings)))]}.values():
        single.bare.add(node)
        with oracle.fifty_digits():
            exact = np.array([oracle.voltage(single, node, float(hertz)) for hertz in frequency])
        values, largest = found.isel(place).values, float(np.abs(exact).max())
        tally.settings += 1
        if largest < _NOTHING:
            tally.silent += 1
            error = float(np.abs(values).max()) / _NOTHING
        else:
            error = float(np.abs(values - exact).max()) / largest
            tally.largest = max(tally.largest, error)
        if not error <= PROMISED:
            tally.wrong.append((number, f"off by {error:.1e} of {largest:.1e} V at {place}"))
