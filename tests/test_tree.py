"""Spans, units, trees and the equations that they give, on circuits small enough to draw."""

from __future__ import annotations

import math

import numpy as np
import oracle
import pytest

from guitarnet.circuit.netlist import Branch, Netlist
from guitarnet.errors import NoSolution
from guitarnet.solve.structure import settle
from guitarnet.solve.tree import (
    DRIVE,
    OUT,
    effective,
    equations,
    middle,
    most_apart,
    span,
    spanning_tree,
    units_of,
)

ENDS = (100.0, 1e4)


def branch(kind, value, loss=0.0):
    return Branch("x", kind, ("a", "0"), value, loss)


@pytest.mark.parametrize(
    ("kind", "value", "low", "high"),
    [
        ("R", 47e3, (47e3, 47e3), (47e3, 47e3)),
        ("R", np.array([0.0, 20.0, 5.0, np.inf]), (5.0, 20.0), (5.0, 20.0)),
        ("R", np.array([0.0, np.inf]), (1.0, 1.0), (1.0, 1.0)),
        ("Z", np.array([3 + 4j, 1j]), (1.0, 5.0), (1.0, 5.0)),
        ("L", 2.0, (400 * math.pi,) * 2, (4e4 * math.pi,) * 2),
        ("L", np.array([1.0, 3.0]), (200 * math.pi, 600 * math.pi), (2e4 * math.pi, 6e4 * math.pi)),
        ("C", 1e-9, (5e6 / math.pi,) * 2, (5e4 / math.pi,) * 2),
        (
            "C",
            np.array([1e-9, 0.0, 4e-9]),
            (1.25e6 / math.pi, 5e6 / math.pi),
            (1.25e4 / math.pi, 5e4 / math.pi),
        ),
        ("R", 1e-300, (1e-280,) * 2, (1e-280,) * 2),
        ("R", 1e300, (1e280,) * 2, (1e280,) * 2),
    ],
)
def test_span_of_impedances(kind, value, low, high):
    """R, 2 pi f L and 1 / (2 pi f C) at both ends; zeros and opens are apart."""
    found = span(branch(kind, value), value, ENDS)
    assert found[0] == pytest.approx(low, rel=1e-14)
    assert found[1] == pytest.approx(high, rel=1e-14)


@pytest.mark.parametrize(("kind", "value"), [("L", 1e276), ("C", 1e279)])
def test_an_impedance_that_no_number_holds(kind, value):
    with pytest.raises(NoSolution) as refused:
        span(branch(kind, value), value, ENDS)
    assert str(refused.value) == (
        "x: has no impedance that a number can hold at "
        + ("10000 Hz" if kind == "L" else "100 Hz")
        + "; leave out frequencies so far from the audible, or check its value."
    )


def test_middle_and_units_of_a_span():
    """Middle of four logarithms; the power of 2 next to the root of the impedance."""
    assert middle(((1.0, 10.0), (100.0, 1000.0))) == pytest.approx(1.5 * math.log(10))
    spans = {
        name: ((ohms, ohms), (ohms, ohms)) for name, ohms in (("a", 1e6), ("b", 1.0), ("c", 1 / 16))
    }
    assert units_of(spans) == {"a": 1024.0, "b": 1.0, "c": 0.25}


def ladder():
    """A source, two loops and a node each way round."""
    net = Netlist()
    net.source("in", "in", "0", 2.0)
    net.resistor("one", "in", "a", 10.0)
    net.resistor("two", "0", "a", 100.0)
    net.resistor("three", "out", "a", 20.0)
    net.resistor("four", "out", "0", 1000.0)
    return net


def spans_of(net):
    return {b.name: span(b, b.value, ENDS) for b in net if b.kind in "RLC"}


def test_a_spanning_tree_of_the_smallest_impedances():
    net = ladder()
    reduced, _ = settle(net, "out")
    spans = spans_of(net)
    tree = spanning_tree(
        reduced.branches, reduced.ground, {name: middle(own) for name, own in spans.items()}
    )
    assert tree.branches == {"in", "one", "three"}
    assert tree.paths == {
        "0": {},
        "in": {"in": 1.0},
        "a": {"in": 1.0, "one": -1.0},
        "out": {"in": 1.0, "one": -1.0, "three": 1.0},
    }
    assert tree.loops == {
        "two": {"in": -1.0, "one": 1.0},
        "four": {"in": 1.0, "one": -1.0, "three": 1.0},
    }
    # one lies on a loop with two and with four, three with four alone.
    assert most_apart(tree, spans) == pytest.approx(0.1)
    # Other weights, another tree, whose links' loops hold more than the links.
    other = spanning_tree(reduced.branches, reduced.ground, {"one": 3.0, "three": 2.0})
    assert other.branches == {"in", "two", "four"}
    assert most_apart(other, spans) == pytest.approx(50.0)
    half = spanning_tree(reduced.branches, reduced.ground, {"one": 0.5, "three": 0.5})
    assert half.branches == {"in", "two", "four"}


def test_ideal_sources_and_followers_come_first():
    net = Netlist()
    net.resistor("R", "a", "0", 1e-3)
    net.follower("E", "b", "0", "a", "0")
    net.source("V", "a", "0")
    net.resistor("S", "b", "0", 1e-3)
    placed = [(b, b.nodes) for b in net]
    tree = spanning_tree(placed, "0", {})
    assert tree.branches == {"V", "E"}
    assert tree.loops == {"R": {"V": 1.0}, "S": {"E": 1.0}}
    net.source("W", "a", "b")
    assert spanning_tree([(b, b.nodes) for b in net], "0", {}) is None


def every_kind():
    net = Netlist()
    net.source("in", "in", "0", 2.0)
    net.source("second", "0", "low", 0.5)
    net.resistor("R", "in", "a", 3e3)
    net.inductor("L1", "a", "x", 0.3)
    net.resistor("R2", "x", "low", 500.0)
    net.capacitor("C1", "a", "b", 1e-7)
    net.inductor("L2", "0", "b", 0.2)
    net.mutual("k", "L1", "L2", 0.1)
    net.follower("E", "c", "0", "b", "a")
    net.resistor("R3", "c", "out", 2e3)
    net.capacitor("C2", "0", "out", 2e-8)
    net.resistor("R4", "out", "a", 1e4)
    return net


def solved(net, weights, free, hertz=(300.0, 5e3)):
    """Solve the equations densely; what is left open is put in by hand."""
    reduced, _ = settle(net, "out")
    values = {b.name: effective(b) for b in net if b.kind in "RLCM"}
    units = units_of(spans_of(net))
    tree = spanning_tree(reduced.branches, reduced.ground, weights)
    s = 2j * np.pi * np.array(hertz)
    volts = {name: net.branches[name].value for name in net.sources()}
    matrix = equations(reduced, tree, units, values, s, volts, frozenset(free))
    for name in free:
        matrix.add(name, name, 1.0 / free[name])
    rows = [row for row in matrix.rows if row != OUT]
    columns = [column for column in matrix.columns if column != DRIVE]
    found = []
    for at in range(len(hertz)):

        def read(row, column, at=at):
            return np.ravel(matrix.get(row, column) + 0 * s)[at]

        whole = np.array([[read(row, column) for column in columns] for row in rows])
        drive = np.array([read(row, DRIVE) for row in rows])
        out = np.array([read(OUT, column) for column in columns])
        found.append(out @ np.linalg.solve(whole, drive) - read(OUT, DRIVE))
    return np.array(found), [oracle.voltage(net, "out", f) for f in hertz]


@pytest.mark.parametrize("seed", range(10))
def test_equations_of_any_tree_give_the_voltage(seed):
    """Whichever branches are in the tree, the volts are those of the oracle."""
    net = every_kind()
    rng = np.random.default_rng(seed)
    weights = {b.name: float(rng.random()) for b in net}
    found, expected = solved(net, weights, {})
    np.testing.assert_allclose(found, expected, rtol=1e-11)


@pytest.mark.parametrize("factor", [1.0, 0.5])
def test_a_factor_left_open_is_put_in_later(factor):
    """A resistor in the tree of half the ohms, and a capacitor off it of half the farads."""
    net = every_kind()
    weights = {"R3": -1.0, "C2": 9.0}
    found, _ = solved(net, weights, {"R3": factor, "C2": factor})
    moved = Netlist()
    for own in net:
        value = own.value * factor if own.name in ("R3", "C2") else own.value
        moved.add(Branch(own.name, own.kind, own.nodes, value, own.loss, own.between))
    expected = [oracle.voltage(moved, "out", f) for f in (300.0, 5e3)]
    np.testing.assert_allclose(found, expected, rtol=1e-11)


def test_the_value_of_a_lossy_capacitor():
    assert effective(branch("C", 2e-9, 0.05)) == pytest.approx(2e-9 * (1 - 0.05j), rel=1e-15)
    assert effective(branch("C", 2e-9)) == 2e-9
    assert isinstance(effective(branch("C", 2e-9)), float)
    assert effective(branch("R", 5.0)) == 5.0
