"""Circuits written as polynomials in their two-terminal pieces, worked out term by term."""

from __future__ import annotations

import itertools
import math

import numpy as np

from guitarnet.circuit.netlist import Netlist
from guitarnet.solve.one_ports import SPEED, UNIT, Circuit

__all__ = ["by_lot", "evaluated"]


def evaluated(circuit: Circuit, later: dict[str, complex], frequency: float) -> complex:
    """Output of a circuit with impedances [ohm] put in, term by term as the page does it."""
    s = 2j * math.pi * frequency / SPEED
    ports: list[tuple[complex, complex, complex]] = []
    for port in circuit.ports:
        if isinstance(port, str):
            ports.append((later[port] / UNIT, 1.0, 0.0))
        else:
            ports.append(tuple(sum(c * s**k for k, c in enumerate(port[n])) for n in "pqe"))
    for kind, *numbers in circuit.steps:
        (p, q, e), (p2, q2, e2) = (
            (*ports[abs(n) - 1][:2], math.copysign(1, n) * ports[abs(n) - 1][2]) for n in numbers
        )
        joined = {
            "s": (p * q2 + p2 * q, q * q2, e * q2 + e2 * q),
            "p": (p * p2, p * q2 + p2 * q, e * p2 + e2 * p),
        }
        ports.append(joined[kind])
    rest = [ports[number] for number in circuit.rest]

    def product(mask: int, without: int = -1) -> complex:
        factors = (q if mask >> i & 1 else p for i, (p, q, _) in enumerate(rest) if i != without)
        return math.prod(factors)

    above = sum(sign * rest[k][2] * product(mask, k) for k, sign, mask in circuit.above)
    return above / sum(product(mask) for mask in circuit.below)


def by_lot(rng: np.random.Generator, nodes: int) -> tuple[Netlist, dict[str, float]]:
    """Resistors that come later, and sources with coils between any two nodes, either way round."""
    net, later = Netlist(), {}
    pairs = list(itertools.combinations([str(n) for n in range(nodes)], 2))
    for i, (a, b) in enumerate(pairs):
        if rng.random() < 0.7 or b == str(int(a) + 1):
            later[f"R{i}"] = float(rng.uniform(1e3, 1e5))
            net.resistor(f"R{i}", a, b, later[f"R{i}"])
    for i in range(3):
        a, b = pairs[rng.integers(len(pairs))][:: rng.choice([1, -1])]
        net.source(f"V{i}", a, f"x{i}", float(rng.uniform(0.5, 2)))
        net.inductor(f"L{i}", f"x{i}", f"y{i}", float(rng.uniform(0.5, 3)))
        net.resistor(f"r{i}", f"y{i}", b, 6e3)
    return net, later
