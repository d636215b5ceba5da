"""Circuits as polynomials in their two-terminal pieces, against the solver by nodes."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from pieces import by_lot, evaluated

from guitarnet.circuit.netlist import Netlist
from guitarnet.errors import NotExpressible
from guitarnet.solve.ac import node_voltage
from guitarnet.solve.one_ports import SPEED, UNIT, Circuit, one_ports

FREQUENCY = np.array([20.0, 400.0, 3e3, 15e3])
RADIANS = 2 * math.pi * 3e3
"""In which s is counted: 3 kHz."""


def agree(net: Netlist, later: dict[str, float], output: str = "out") -> Circuit:
    """Write a circuit in pieces, and compare it with the solver by nodes."""
    circuit = one_ports(net, output, later)
    assert circuit is not None
    expected = node_voltage(net, output, FREQUENCY).values
    found = [evaluated(circuit, later, frequency) for frequency in FREQUENCY]
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-12)
    return circuit


def fixed(circuit: Circuit) -> list[dict[str, list[float]]]:
    return [port for port in circuit.ports if not isinstance(port, str)]


# -- fixed pieces ---------------------------------------------------------------------------------


def test_units() -> None:
    assert pytest.approx(1e5) == UNIT
    assert pytest.approx(RADIANS) == SPEED


def divider(*kinds: str) -> Netlist:
    """A source, a resistor that is known later, and a load of branches in series."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "hot", 1e3)
    net.resistor("later", "hot", "out", 1e4)
    node = "out"
    for place, kind in enumerate(kinds):
        end = "0" if place == len(kinds) - 1 else f"n{place}"
        build = {"R": net.resistor, "L": net.inductor, "C": net.capacitor}[kind]
        build(f"{kind}{place}", node, end, {"R": 47e3, "L": 2.0, "C": 2e-9}[kind])
        node = end
    net.resistor("top", "out", "0", 1e6)
    return net


@pytest.mark.parametrize("kinds", ["R", "L", "C", "RL", "RC", "LC", "RLC", "CC", "RLCL"])
def test_a_series_of_branches_is_a_ratio_by_hand(kinds: str) -> None:
    """Impedances of textbooks, R + s L + 1 / (s C), in units of 100 kilohm and of 3 kHz."""
    net = divider(*kinds)
    circuit = agree(net, {"later": 1e4, "top": 1e6})
    (source, load) = sorted(fixed(circuit), key=lambda port: not port["e"])
    (sign,) = source["e"]
    assert abs(sign) == 1.0
    assert source["q"] == [sign]
    assert source["p"] == pytest.approx([0.01 * sign])
    assert load["e"] == []
    ohms = {"R": [0.47], "L": [0.0, 2.0 * RADIANS / 1e5], "C": [1.0]}
    p, q = np.polynomial.Polynomial([0.0]), np.polynomial.Polynomial([1.0])
    for kind in kinds:
        own = np.polynomial.Polynomial([0.0, 2e-9 * RADIANS * 1e5] if kind == "C" else [1.0])
        p, q = p * own + np.polynomial.Polynomial(ohms[kind]) * q, q * own
    s = 0.3 + 0.7j
    ratio = np.polyval(load["p"][::-1], s) / np.polyval(load["q"][::-1], s)
    assert ratio == pytest.approx(p(s) / q(s), rel=1e-12)
    assert max(abs(x) for row in load.values() for x in row) == pytest.approx(1.0)
    # No coefficient is said that is nothing but rounding.
    assert all(abs(row[-1]) > 1e-9 for row in load.values() if row)


def test_a_coil_with_losses_is_one_piece() -> None:
    """Its volts, its two losses and its capacitance between one pair of nodes."""
    net = Netlist()
    net.source("string", "start", "0", 2.0)
    net.resistor("R", "start", "a", 6e3)
    net.inductor("L", "a", "hot", 2.5)
    net.resistor("eddy", "a", "hot", 4e5)
    net.capacitor("own", "hot", "0", 1.2e-10)
    net.resistor("volume", "hot", "out", 1e5)
    net.resistor("rest", "out", "0", 1.5e5)
    net.capacitor("cable", "out", "0", 5e-10)
    circuit = agree(net, {"volume": 1e5, "rest": 1.5e5})
    coil, cable = fixed(circuit)
    assert cable["p"][0] / cable["q"][1] == pytest.approx(1 / (5e-10 * RADIANS * 1e5))
    assert len(coil["p"]) == 2
    assert len(coil["q"]) == 3
    assert len(coil["e"]) == 2
    assert circuit.ports.count("volume") == circuit.ports.count("rest") == 1


def coupled(*, second: str, across: str = "out") -> Netlist:
    """Two coils that share a magnet, the second between two nodes of its own."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "hot", 100.0)
    net.resistor("feed", "hot", "left", 1e3)
    net.resistor("one", "left", "0", 2e4)
    net.inductor("L1", "left", "0", 0.5)
    net.inductor("L2", second, across, 0.3)
    net.mutual("k", "L1", "L2", 0.2)
    net.resistor("load", "out", "0", 3e4)
    net.resistor("tie", "right", "0", 2e3)
    net.resistor("side", "right", "left", 5e3)
    return net


LATER = {"feed": 1e3, "one": 2e4, "load": 3e4, "tie": 2e3, "side": 5e3}


@pytest.mark.parametrize(("second", "across"), [("0", "out"), ("out", "right"), ("right", "out")])
def test_coupled_coils_become_pieces_between_their_ends(second: str, across: str) -> None:
    circuit = agree(coupled(second=second, across=across), LATER)
    coils = [port for port in fixed(circuit) if not port["e"]]
    assert len(coils) == (3 if second == "0" else 6)


def test_no_piece_where_nothing_flows() -> None:
    """Two resistors that meet at an ideal source: each has the source, and nothing the other."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("one", "in", "a", 1e5)
    net.resistor("other", "in", "out", 1e5)
    net.resistor("x", "a", "out", 5e3)
    net.resistor("y", "a", "0", 4e3)
    net.resistor("z", "out", "0", 3e3)
    pieces = fixed(agree(net, {"x": 5e3, "y": 4e3, "z": 3e3}))
    assert [bool(piece["e"]) for piece in pieces] == [True, True]


def test_coupled_coils_with_losses_inside_a_piece() -> None:
    """Coils in series and with one drive each, all within one piece of two ends."""
    net = Netlist()
    net.source("V1", "a", "0", 1.0)
    net.resistor("R1", "a", "b", 3e3)
    net.inductor("L1", "b", "c", 1.5)
    net.source("V2", "d", "c", 0.75)
    net.resistor("R2", "d", "e", 3.5e3)
    net.inductor("L2", "e", "hot", 1.8)
    net.mutual("k", "L1", "L2", 0.4)
    net.capacitor("C", "hot", "0", 1e-10)
    net.capacitor("inner", "c", "0", 5e-11)
    net.resistor("later", "hot", "out", 2e5)
    net.resistor("load", "out", "0", 3e5)
    circuit = agree(net, {"later": 2e5, "load": 3e5})
    (piece,) = fixed(circuit)
    assert [len(piece[name]) for name in "pqe"] == [4, 5, 3]


def test_a_coil_that_a_wire_shorts() -> None:
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "hot", 1e3)
    net.resistor("later", "hot", "out", 2e3)
    net.inductor("one", "out", "0", 1.0)
    net.inductor("other", "x", "x", 1.5)
    net.mutual("k", "one", "other", 0.9)
    agree(net, {"later": 2e3})


def test_a_follower_inside_a_piece() -> None:
    """A source, a follower of it, and what it drives: the second half of a coil's screening."""
    net, turned = Netlist(), Netlist()
    for made, ends in ((net, ("far", "0")), (turned, ("0", "far"))):
        made.source("in", "in", "0", 1.5)
        made.resistor("r", "in", "mid", 2e3)
        made.capacitor("c", "mid", "0", 3e-9)
        made.follower("buffer", *ends, "mid", "0")
        made.resistor("after", "far", "hot", 4e3)
        made.resistor("later", "hot", "out", 1e4)
        made.resistor("load", "out", "0", 2e4)
    (piece,) = fixed(agree(net, {"later": 1e4, "load": 2e4}))
    assert piece["q"]
    agree(turned, {"later": 1e4, "load": 2e4})
    np.testing.assert_allclose(
        node_voltage(turned, "out", FREQUENCY).values, -node_voltage(net, "out", FREQUENCY).values
    )


def test_a_follower_of_two_nodes_inside_a_piece() -> None:
    """It reads between two nodes of which neither is an end: the drop across a resistor."""
    net = Netlist()
    net.source("in", "in", "0", 1.5)
    net.resistor("r", "in", "plus", 2e3)
    net.resistor("between", "plus", "minus", 3e3)
    net.resistor("low", "minus", "0", 1e3)
    net.follower("buffer", "far", "0", "plus", "minus")
    net.resistor("after", "far", "out", 4e3)
    net.resistor("load", "out", "0", 1e3)
    circuit = agree(net, {"load": 1e3})
    # 1.5 V * 3 / 6 at the follower, divided by 5.
    assert evaluated(circuit, {"load": 1e3}, 100.0) == pytest.approx(0.15, rel=1e-12)


def test_a_piece_without_ground() -> None:
    """A source with a coil between two nodes, neither of them ground, either way round."""
    for plus, minus in itertools.permutations(("x", "y")):
        net = Netlist()
        net.source("V", plus, "p", 0.8)
        net.resistor("r", "p", "q", 5e3)
        net.inductor("L", "q", minus, 1.2)
        net.capacitor("C", "x", "y", 2e-10)
        net.resistor("a", "x", "0", 2e5)
        net.resistor("b", "y", "out", 1e5)
        net.resistor("c", "out", "0", 3e5)
        net.resistor("d", "x", "out", 4e5)
        (piece,) = fixed(agree(net, {"a": 2e5, "b": 1e5, "c": 3e5, "d": 4e5}))
        assert len(piece["q"]) == 3


def test_a_fixed_star_becomes_a_triangle() -> None:
    """Three resistors that meet at one node inside: (R1 R2 + R2 R3 + R3 R1) / R3 and the like."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "hot", 100.0)
    net.resistor("feed", "hot", "a", 1e3)
    net.resistor("a star", "a", "m", 1e4)
    net.resistor("b star", "b", "m", 2e4)
    net.resistor("c star", "out", "m", 3e4)
    net.resistor("x", "a", "b", 5e3)
    net.resistor("y", "b", "0", 5e3)
    net.resistor("z", "out", "0", 5e3)
    circuit = agree(net, {"feed": 1e3, "x": 5e3, "y": 5e3, "z": 5e3})
    sides = [port["p"][0] / port["q"][0] for port in fixed(circuit) if not port["e"]]
    # a b + b c + c a = 1.1e9 ohm^2, over the resistance opposite.
    np.testing.assert_allclose(sorted(np.abs(sides)), [1.1e9 / 3e9, 1.1e9 / 2e9, 1.1e9 / 1e9])


# -- series, parallel and trees -------------------------------------------------------------------


def bridge() -> Netlist:
    """A bridge of five arms, which is neither series nor parallel, with a source to each side."""
    net = Netlist()
    net.source("in", "in", "0", 2.0)
    net.resistor("inner", "in", "top", 1e3)
    net.source("second", "0", "other", 0.5)
    net.inductor("coil", "other", "left", 0.5)
    net.resistor("one", "top", "left", 7e3)
    net.resistor("two", "top", "right", 2e3)
    net.resistor("across", "left", "right", 3e3)
    net.capacitor("C", "left", "0", 1e-6)
    net.resistor("load", "right", "0", 5e3)
    return net


def test_a_bridge_is_written_over_its_trees() -> None:
    net = bridge()
    later = {"one": 7e3, "two": 2e3, "across": 3e3, "load": 5e3}
    circuit = one_ports(net, "right", later)
    assert circuit is not None
    assert len(circuit.below) == 16  # spanning trees of four nodes, each joined to each: Cayley
    for frequency in (50.0, 400.0, 7e3):
        expected = node_voltage(net, "right", np.array([frequency])).values[0]
        assert evaluated(circuit, later, frequency) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("seed", range(9))
def test_networks_by_lot(seed: int) -> None:
    """Floating sources, either way round, in networks that are no series and parallel."""
    nodes = 3 + seed % 3
    net, later = by_lot(np.random.default_rng(seed), nodes)
    agree(net, later, str(nodes - 1))


def test_a_ladder_is_joined_step_by_step() -> None:
    """Series and parallel leave one piece, whichever way round the branches were written."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("r1", "a", "in", 1e3)
    net.resistor("r2", "a", "0", 2e3)
    net.resistor("r3", "a", "b", 3e3)
    net.resistor("r4", "0", "b", 4e3)
    net.resistor("r5", "out", "b", 5e3)
    net.resistor("r6", "out", "0", 6e3)
    later = {name: net.branches[name].value for name in ("r2", "r3", "r4", "r5", "r6")}
    circuit = agree(net, later)
    assert [kind for kind, *_ in circuit.steps].count("s") == 2
    assert [kind for kind, *_ in circuit.steps].count("p") == 3
    assert circuit.rest == [len(circuit.ports) + len(circuit.steps) - 1]
    assert circuit.below == [1]
    assert circuit.above in ([(0, 1, 0)], [(0, -1, 0)])


def test_a_ring_back_to_one_node_drops_out() -> None:
    """A loop of two pieces that hang on one node changes nothing."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "out", 1e3)
    net.resistor("load", "out", "0", 2e3)
    net.resistor("ring", "out", "x", 1e3)
    net.resistor("back", "x", "out", 1e3)
    agree(net, {"load": 2e3, "ring": 1e3, "back": 1e3})


def test_shorts_and_opens_are_structure() -> None:
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "a", 1e3)
    net.resistor("wire", "a", "b", 0.0)
    net.resistor("later", "b", "out", 2e3)
    net.resistor("load", "out", "0", 4e3)
    net.resistor("gone", "out", "0", math.inf)
    circuit = agree(net, {"later": 2e3, "load": 4e3})
    assert sorted(port for port in circuit.ports if isinstance(port, str)) == ["later", "load"]


def test_nothing_reaches_the_output() -> None:
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "0", 1e3)
    net.resistor("load", "out", "0", 2e3)
    assert one_ports(net, "out", ["load"]) is None
    net.resistor("wire", "in", "out", math.inf)
    assert one_ports(net, "out", ["load"]) is None


# -- refusals -------------------------------------------------------------------------------------


def refused(net: Netlist, later: list[str]) -> str:
    with pytest.raises(NotExpressible) as caught:
        one_ports(net, "out", later)
    return str(caught.value)


def test_a_capacitor_that_loses_a_share_is_refused() -> None:
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "top", 1e3)
    net.resistor("R", "top", "out", 1e3)
    net.capacitor("leaky", "out", "0", 1e-6, loss=0.01)
    assert refused(net, ["R"]) == (
        "leaky: is no rational function of frequency, which a live page needs; model it with "
        "resistors, inductors and capacitors."
    )


def test_a_function_of_frequency_is_refused() -> None:
    net = Netlist()
    net.source("in", "in", "0")
    net.impedance("skin", "in", "top", lambda hertz: 1e3 + np.sqrt(hertz))
    net.resistor("R", "top", "out", 1e3)
    net.resistor("load", "out", "0", 1e3)
    assert refused(net, ["R"]) == (
        "skin: is no rational function of frequency, which a live page needs; model it with "
        "resistors, inductors and capacitors."
    )


def test_an_ideal_source_is_refused() -> None:
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 1e3)
    net.resistor("load", "out", "0", 1e3)
    assert refused(net, ["R", "load"]) == (
        "in: is an ideal source with nothing in series; add a resistor in series."
    )
    for name in "abc":  # three names are enough
        net.resistor(name, "in", "0", 1e3)
    assert refused(net, ["R", "load"]) == (
        "in, a, b: is an ideal source with nothing in series; add a resistor in series."
    )


def test_what_conducts_one_way_is_refused() -> None:
    """A follower of a node outside carries a signal from one end to the other and not back."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "a", 1e3)
    net.resistor("R", "a", "b", 1e3)
    net.resistor("input", "b", "0", 1e3)
    net.follower("buffer", "far", "0", "b", "0")
    net.resistor("after", "far", "x", 4e3)
    net.resistor("later", "x", "y", 4e3)
    net.resistor("last", "y", "out", 4e3)
    net.resistor("load", "out", "0", 1e3)
    assert refused(net, ["R", "input", "load"]) == (
        "buffer, after, later: cannot be written as pieces with two ends; use response() instead."
    )


def test_a_mesh_of_too_many_pieces_is_refused() -> None:
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("inner", "in", "n0", 1e3)
    nodes = ["0", "out", *(f"n{number}" for number in range(6))]
    later = []
    for a, b in itertools.combinations(nodes, 2):
        later.append(f"{a}-{b}")
        net.resistor(later[-1], a, b, 1e3)
    assert refused(net, later) == (
        "circuit: has 28 pieces in one mesh of nodes; use response() instead."
    )
