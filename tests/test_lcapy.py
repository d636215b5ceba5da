"""Against lcapy, an independent symbolic circuit solver: small circuits, knobs mid-travel."""

from __future__ import annotations

import sys

import mpmath
import pytest
import sympy
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet.errors import BadSetting, NotExpressible, NotInstalled
from guitarnet.solve.symbolic import S
from guitarnet.study.formulas.handover import to_lcapy
from guitarnet.study.formulas.symbols import transfer_function

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")


def values(expression, variable) -> list[mpmath.mpc]:
    """Evaluate H(s) at three frequencies with 30 digits."""
    function = sympy.lambdify(variable, expression, "mpmath")
    with mpmath.workdps(30):
        return [function(2j * mpmath.pi * f) for f in (30, 2000, 15000)]


QUICK = (2, 4, 7, 9, 12, 15)  # lcapy takes up to 3 s for each of the others


@pytest.mark.parametrize(
    "number", [n if n in QUICK else pytest.param(n, marks=pytest.mark.long) for n in range(20)]
)
def test_transfer_function(lcapy, agreement, number):
    """The string response of 20 guitars, exact in both: 13 digits."""
    drawn = list(random_guitars(7, 20, travel="middle"))[number]
    circuit = to_lcapy(drawn.guitar, at=drawn.at, **drawn.marks)
    theirs = circuit[1].V(lcapy.s).sympy
    ours = transfer_function(drawn.guitar, at=drawn.at, **drawn.marks)
    (their_s,) = theirs.free_symbols
    agreement("lcapy", "transfer function of one pickup", values(ours, S), values(theirs, their_s))
    for expected, found in zip(values(theirs, their_s), values(ours, S), strict=True):
        assert abs(found - expected) <= 1e-13 * abs(expected)


def test_knob_at_its_end(lcapy):
    """Zero ohm is a joint before lcapy sees the circuit, so a pot at its end has an answer."""
    guitar = gn.layouts.one_pickup(PICKUP, tone=None)
    circuit = to_lcapy(guitar, volume=10)
    assert [str(line) for line in str(circuit).splitlines()] == [
        "V1 2 0 s 1",
        "R1 2 3 6200",
        "L1 3 1 12/5",
        "C1 1 0 3/25000000000",
        "R2 1 0 250000",
        "C2 1 0 3/10000000000",
        "R3 1 0 1000000",
    ]
    assert to_lcapy(guitar, volume=0)[1].V(lcapy.s).sympy == 0


def test_refusals(lcapy, monkeypatch):
    """One sentence each."""
    lossy = gn.Capacitor("22n", dissipation_factor=0.02)
    guitar = gn.layouts.one_pickup(PICKUP, tone_capacitor=lossy)
    with pytest.raises(NotExpressible) as caught:
        to_lcapy(guitar)
    assert str(caught.value) == (
        "tone_capacitor.capacitance: loses the same share at every frequency (dissipation "
        "factor), which lcapy cannot state; set dissipation_factor to 0, and give "
        "series_resistance or parallel_resistance."
    )
    with pytest.raises(BadSetting) as swept:
        to_lcapy(guitar, volume=[1, 2])
    assert str(swept.value) == (
        "volume: is a list, and a circuit of lcapy is of one setting; give one value, or loop "
        "over them."
    )


def test_without_lcapy(monkeypatch):
    """The message says how to get it."""
    monkeypatch.setitem(sys.modules, "lcapy", None)
    with pytest.raises(NotInstalled) as caught:
        to_lcapy(gn.layouts.one_pickup(PICKUP))
    assert str(caught.value) == (
        "lcapy: is not installed; install it with: pip install 'guitarnet[lcapy]'."
    )
