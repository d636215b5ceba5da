"""Trials against the dense oracle of the tests."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import oracle
import xarray as xr

import guitarnet as gn
from guitarnet.circuit.netlist import Branch, Netlist
from guitarnet.circuit.settings import resolve
from guitarnet.solve import ac
from guitarnet.solve.resistance import Resistances
from guitarnet.study.bench.meter import net_at_meter
from guitarnet.study.response.response import node_at

from .draw import FAMILIES, Trial, draw_trial

__all__ = ["METER", "RELATIVE", "Tally", "against_oracle", "differences", "trials"]

RELATIVE = 1e-9
"""Largest difference allowed between two solvers, as a share of the value."""

METER = 1e-7
"""The same for resistances between two lugs: conductances are summed, of milliohms and megohms."""

_SILENT = 1e-17  # volts that are left of nothing where the oracle's own digits cancel
_ROUNDING = 1e-15  # share by which each value is shaken to see what rounding can do
_AMPLIFIED = 100.0  # a difference of so many times that spread is still rounding
_SHAKEN = 4


@dataclass
class Tally:
    """What came of many trials."""

    trials: int = 0
    values: int = 0
    silent: int = 0
    largest: float = 0.0
    of_meter: float = 0.0
    by_rounding: int = 0
    left_out: Counter[str] = field(default_factory=Counter)
    wrong: list[tuple[int, Trial, str]] = field(default_factory=list)


def trials(seed: int, count: int, **how: Any) -> Iterator[tuple[int, Trial]]:
    """Draw trials, each from a generator of its own, so that one may be drawn again by number."""
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        yield number, draw_trial(rng, FAMILIES[number % len(FAMILIES)], **how)


def against_oracle(
    seed: int, count: int, *, progress: Callable[[int], None] = lambda done: None
) -> Tally:
    """Compare voltages, sizes, impedances and resistances of random harnesses with the oracle."""
    tally = Tally()
    for number, trial in trials(seed, count):
        _one(tally, number, trial)
        tally.trials += 1
        progress(number + 1)
    return tally


def differences(trial: Trial) -> list[str]:
    """Say each difference of one trial from the oracle; none where they agree."""
    tally = Tally()
    _one(tally, 0, trial)
    return [words for _, _, words in tally.wrong]


def _one(tally: Tally, number: int, trial: Trial) -> None:
    frequency = np.array(trial.frequency)
    values = resolve(trial.guitar, trial.settings).values
    try:
        net = trial.guitar.stamp(values)
    except gn.errors.BadValue:  # the only value that is checked no earlier
        tally.left_out["coils coupled more than eddy loss leaves to couple (refused)"] += 1
        return
    node = node_at(trial.guitar, trial.at)
    measured, hot = net_at_meter(trial.guitar, values)
    compare = _Comparison(tally, number, trial)
    compare("voltage", net, node, frequency, ac.node_voltage, oracle.voltage)
    if net.dims():
        compare("size", net, node, frequency, ac.node_size, _size)
    compare("impedance", measured, hot, frequency, ac.node_impedance, oracle.impedance)
    _, single = next(oracle.single_settings(measured))
    probed = Netlist(hot, single.branches)
    compare("resistance", probed, node, np.zeros(1), _resistance, oracle.impedance)


def _size(net: Netlist, node: str, frequency: float) -> complex:
    return complex(abs(oracle.voltage(net, node, frequency)))


def _resistance(net: Netlist, node: str, frequency: np.ndarray) -> Any:
    ohms, _ = Resistances(net).between((0, net.ground, node))
    return xr.Variable(("frequency",), ohms.reshape(1))


@dataclass
class _Comparison:
    tally: Tally
    number: int
    trial: Trial

    def __call__(
        self,
        what: str,
        net: Netlist,
        node: str,
        frequency: np.ndarray,
        ours: Callable[..., Any],
        theirs: Callable[[Netlist, str, float], complex],
    ) -> None:
        """Compare one kind of answer at every setting and frequency."""
        try:
            found = ours(net, node, frequency)
        except gn.GuitarnetError as error:
            found = None
            said = str(error)
        for place, single in oracle.single_settings(net):
            for column, hertz in enumerate(frequency):
                try:
                    expected = theirs(single, node, float(hertz))
                except oracle.NoUniqueAnswer:
                    if found is not None:
                        self._say(f"{what} at {node}: an answer where there is none")
                    continue
                if found is None:
                    self._say(f"{what} at {node}: refused, {said}")
                    return
                value = complex(found.isel(place).values[column])
                self._judge(what, single, node, float(hertz), value, expected, theirs)

    def _judge(
        self,
        what: str,
        net: Netlist,
        node: str,
        hertz: float,
        found: complex,
        expected: complex,
        theirs: Callable[[Netlist, str, float], complex],
    ) -> None:
        self.tally.values += 1
        self.tally.silent += expected == 0
        if found == expected or (math.isinf(abs(found)) and math.isinf(abs(expected))):
            return
        error = abs(found - expected)
        if found == 0 and what in ("voltage", "size") and error <= _SILENT:
            self.tally.silent += 1  # by structure, which the oracle does not know
            return
        if what == "resistance" and error <= METER * abs(expected):
            self.tally.of_meter = max(self.tally.of_meter, error / abs(expected))
            return
        if error <= RELATIVE * abs(expected):
            self.tally.largest = max(self.tally.largest, error / abs(expected))
            return
        rng = np.random.default_rng(0)
        shaken = [theirs(_shaken(net, rng), node, hertz) for _ in range(_SHAKEN)]
        spread = max(abs(other - expected) for other in shaken)
        if error <= _AMPLIFIED * spread:
            self.tally.by_rounding += 1
            return
        self._say(
            f"{what} at {node}, {hertz:.17g} Hz: {found:.6g}, the oracle {expected:.6g} "
            f"(difference {error:.1e}, rounding {spread:.1e})"
        )

    def _say(self, words: str) -> None:
        self.tally.wrong.append((self.number, self.trial, words))


def _shaken(net: Netlist, rng: np.random.Generator) -> Netlist:
    """The same circuit with each value off by about its last digit."""
    made = Netlist(net.ground)
    for b in net:
        value = b.value
        if b.kind in "RLCM" and math.isfinite(value):
            value = float(value) * (1 + _ROUNDING * float(rng.uniform(-1, 1)))
        made.add(Branch(b.name, b.kind, b.nodes, value, b.loss, b.between))
    return made
