"""Zeros, opens and what does not matter, as structure: shown on circuits small enough to draw."""

from __future__ import annotations

import math

import numpy as np
import oracle
import pytest
import xarray as xr

from guitarnet.circuit.netlist import Branch, Netlist
from guitarnet.errors import BadHarness, NoSolution, NotExpressible
from guitarnet.solve import ac
from guitarnet.solve.ac import node_size
from guitarnet.solve.adjoint import branch_derivatives
from guitarnet.solve.resistance import Resistances
from guitarnet.solve.structure import (
    LIVE,
    OPEN,
    SHORT,
    Groups,
    place,
    reduce,
    refuse_inexpressible,
    settle,
    single_state,
)

HERTZ = np.array([100.0, 2e3])


def of(*branches):
    """A netlist of (kind, name, nodes, value)."""
    net = Netlist()
    for kind, name, nodes, value in branches:
        net.add(Branch(name, kind, tuple(nodes.split()), value))
    return net


def names(net, output, driven=True, states=None):
    """Names of the branches that are left, and what is left."""
    own = {branch.name: single_state(branch) for branch in net} if states is None else states
    reduced = reduce(place(net), own, net.ground, output, driven)
    return [branch.name for branch, _ in reduced.branches], reduced


# -- states ---------------------------------------------------------------------------------------

INF = math.inf


@pytest.mark.parametrize(
    ("kind", "value", "above", "at_zero"),
    [
        ("R", 0.0, SHORT, SHORT),
        ("R", 1.0, LIVE, LIVE),
        ("R", INF, OPEN, OPEN),
        ("L", 0.0, SHORT, SHORT),
        ("L", 1.0, LIVE, SHORT),
        ("C", 0.0, OPEN, OPEN),
        ("C", 1.0, LIVE, OPEN),
        ("M", 0.0, OPEN, OPEN),
        ("M", 1.0, LIVE, OPEN),
        ("V", 0.0, LIVE, LIVE),
        ("E", None, LIVE, LIVE),
        ("Z", lambda hertz: hertz, LIVE, SHORT),
        ("Z", lambda hertz: 1j * hertz, LIVE, SHORT),
        ("Z", lambda hertz: 0 * hertz + 5, LIVE, LIVE),
        ("Z", lambda hertz: 0 * hertz + INF, LIVE, OPEN),
    ],
)
def test_state_of_a_branch(kind, value, above, at_zero):
    branch = Branch("b", kind, ("a", "0"), value)
    assert single_state(branch) == above
    assert single_state(branch, dc=True) == at_zero


def test_groups_of_names():
    groups = Groups()
    groups.merge("a", "b")
    groups.merge("c", "d")
    assert groups.find("a") == groups.find("b") != groups.find("c")
    assert groups.find("lonely") == "lonely"
    groups.merge("b", "d")
    groups.merge("a", "c")  # in one group already
    assert len({groups.find(name) for name in "abcd"}) == 1


# -- what is left ---------------------------------------------------------------------------------


def test_shorts_and_opens_leave_no_branch():
    net = of(
        ("V", "in", "in 0", 1.0),
        ("R", "wire", "in a", 0.0),
        ("L", "no coil", "a b", 0.0),
        ("R", "upper", "b out", 3.0),
        ("R", "open", "in out", INF),
        ("C", "no capacitor", "out 0", 0.0),
        ("R", "across itself", "a in", 7.0),
        ("R", "lower", "out 0", 1.0),
    )
    left, reduced = names(net, "out")
    assert left == ["in", "upper", "lower"]
    assert not reduced.silent
    assert not reduced.floating
    nodes = {branch.name: own for branch, own in reduced.branches}
    assert nodes["in"][0] == nodes["upper"][0]
    again, merged = settle(net, "out")
    assert [branch.name for branch, _ in again.branches] == left
    assert merged["in"] == merged["a"] == merged["b"] == nodes["upper"][0]
    assert merged["out"] == again.output
    assert merged["0"] == again.ground
    assert set(merged) == {"in", "a", "b", "out", "0"}


def test_a_source_at_rest_is_a_short():
    net = of(("V", "in", "in 0", 1.0), ("R", "upper", "in out", 3.0), ("R", "lower", "out 0", 1.0))
    left, reduced = names(net, "out", driven=False)
    assert left == ["upper", "lower"]
    assert not reduced.silent
    _, reduced = names(net, "in", driven=False)
    assert reduced.output == reduced.ground
    assert reduced.silent
    assert not reduced.floating


def test_what_hangs_on_one_node_does_not_matter():
    """Dead ends, loops on one node, all behind a source or on ground."""
    net = of(
        ("V", "in", "in 0", 1.0),
        ("R", "upper", "in out", 3.0),
        ("R", "lower", "out 0", 1.0),
        ("R", "dead end", "out x", 1.0),
        ("C", "dead end too", "x y", 1.0),
        ("R", "loop 1", "out p", 1.0),
        ("R", "loop 2", "p q", 1.0),
        ("R", "loop 3", "q out", 1.0),
        ("R", "beside the ground 1", "0 g", 1.0),
        ("R", "beside the ground 2", "g 0", 1.0),
        ("R", "island 1", "i j", 1.0),
        ("R", "island 2", "j i", 1.0),
    )
    assert names(net, "out")[0] == ["in", "upper", "lower"]


def test_what_stands_across_an_ideal_source_does_not_matter_to_impedance():
    net = of(
        ("V", "in", "in 0", 1.0),
        ("R", "load of the source", "in 0", 5.0),
        ("R", "upper", "in out", 3.0),
    )
    assert names(net, "out", driven=False)[0] == ["upper"]


def test_nothing_reaches_the_output():
    net = of(("V", "in", "in 0", 1.0), ("R", "load", "out 0", 1.0), ("R", "far", "in far", 1.0))
    left, reduced = names(net, "out")
    assert reduced.silent
    assert not reduced.floating
    assert "in" not in left
    _, reduced = names(of(("R", "apart", "out x", 1.0), ("V", "in", "in 0", 1.0)), "out")
    assert reduced.silent
    assert reduced.floating
    _, reduced = names(of(("R", "apart", "out x", 1.0)), "out", driven=False)
    assert reduced.floating
    zero = of(("V", "in", "in 0", 0.0), ("R", "upper", "in out", 3.0), ("R", "lower", "out 0", 1.0))
    assert names(zero, "out")[1].silent


def follower(extra=()):
    return of(
        ("V", "in", "in 0", 1.0),
        ("R", "first", "in mid", 1e3),
        ("C", "screen", "mid 0", 1e-6),
        ("E", "buffer", "out 0 mid 0", None),
        ("R", "load", "out far", 1e3),
        ("R", "rest", "far 0", 1e3),
        *extra,
    )


def test_a_follower_brings_in_the_block_of_its_input():
    """A low-pass and a divider with a follower between: the product of the two."""
    left, reduced = names(follower(), "far")
    assert left == ["in", "first", "screen", "buffer", "load", "rest"]
    assert not reduced.silent
    got = ac.node_voltage(follower(), "far", HERTZ).values
    np.testing.assert_allclose(got, 0.5 / (1 + 2j * np.pi * HERTZ * 1e-3), rtol=1e-13)
    # Seen from its input, what comes after a follower does not matter.
    assert names(follower(), "mid")[0] == ["in", "first", "screen"]


def coupled(value=0.5, *more):
    net = of(
        ("V", "in", "in 0", 1.0),
        ("R", "R", "in a", 1e3),
        ("L", "one", "a 0", 1.0),
        ("L", "other", "out end", 1.0),
        ("R", "load", "out end", 2e3),
        *more,
    )
    net.mutual("k", "one", "other", value)
    return net


def test_a_coupling_brings_in_the_coil_on_the_other_side():
    """An island that hangs on a coupling is tied to ground by one node; nothing flows there."""
    net = coupled(0.5, ("R", "tie", "end 0", 1.0))
    left, reduced = names(net, "out")
    assert {"in", "R", "one", "other", "load", "k"} <= set(left)
    assert not reduced.silent
    s = 2j * np.pi * HERTZ
    # Loop equations: (R + s) i - s M j = 1, (load + s) j = s M i; the output is load times j.
    i = 1 / (1e3 + s - (s * 0.5) ** 2 / (2e3 + s))
    expected = -2e3 * s * 0.5 * i / (2e3 + s)
    got = ac.node_voltage(net, "out", HERTZ).values
    np.testing.assert_allclose(np.abs(got), np.abs(expected), rtol=1e-12)
    for f, volts in zip(HERTZ, got, strict=True):
        assert volts == pytest.approx(oracle.voltage(net, "out", f), rel=1e-12)
    # Looking into the primary the island matters too.
    left, reduced = names(coupled(), "a")
    assert set(left) == {"in", "R", "one", "other", "load", "k"}
    assert not reduced.floating
    for f, ohms in zip(HERTZ, ac.node_impedance(coupled(), "a", HERTZ).values, strict=True):
        assert ohms == pytest.approx(oracle.impedance(coupled(), "a", f), rel=1e-12)


def test_a_coupling_without_effect_is_left_out():
    assert names(coupled(0.0), "a")[0] == ["in", "R", "one"]
    # A coil without a load has no current to couple.
    net = of(
        ("V", "in", "in 0", 1.0),
        ("R", "R", "in a", 1e3),
        ("L", "one", "a 0", 1.0),
        ("L", "other", "out end", 1.0),
    )
    net.mutual("k", "one", "other", 0.5)
    assert names(net, "a")[0] == ["in", "R", "one"]
    # Nor does it bring in what it is coupled with in turn.
    net.resistor("R3", "c", "0", 2e3)
    net.inductor("third", "c", "0", 1.0)
    net.mutual("k2", "other", "third", 0.5)
    assert names(net, "a")[0] == ["in", "R", "one"]
    # Its coil shorted out or open, a coupling is gone.
    gone = {"other": SHORT}
    assert "k" not in names(coupled(), "a", states=gone)[0]


def shorted_secondary(wire, coil=1.0):
    """A coil to ground that shares a magnet with a lossless coil, which a wire shorts."""
    net = of(
        ("V", "in", "in 0", 1.0),
        ("R", "R", "in a", 1e3),
        ("R", "later", "a out", 2e3),
        ("L", "one", "out 0", 1.0),
        ("L", "other", "x y", coil),
        ("R", "wire", "x y", wire),
    )
    net.mutual("k", "one", "other", 0.9)
    return net


@pytest.mark.parametrize("swept", [False, True])
def test_a_shorted_coil_takes_from_the_one_it_is_coupled_with(swept):
    """Of a transformer with a shorted secondary L1 - M^2 / L2 is left (textbooks)."""
    coils = [1.0, 2.0] if swept else [1.0]
    coil = xr.Variable("coil", coils) if swept else 1.0
    net = shorted_secondary(0.0, coil)
    assert set(names(net, "out", states={"wire": SHORT})[0]) == {
        *("in", "R", "later", "one", "other", "k")
    }
    volts, ohms = (ask(net, "out", HERTZ) for ask in (ac.node_voltage, ac.node_impedance))
    s = 2j * np.pi * HERTZ
    for number, henry in enumerate(coils):
        left = s * (1 - 0.81 / henry)
        place = {"coil": number} if swept else {}
        np.testing.assert_allclose(volts.isel(place).values, left / (3e3 + left), rtol=1e-12)
        np.testing.assert_allclose(ohms.isel(place).values, 3e3 * left / (3e3 + left), rtol=1e-12)
    if not swept:
        derivatives = branch_derivatives(net, "out", HERTZ)[1]
        # d(L1 - M^2 / L2) = -2 M / L2 dM = M^2 / L2^2 dL2
        slope = s * 3e3 / (3e3 + s * 0.19) ** 2
        np.testing.assert_allclose(derivatives["one"], slope, rtol=1e-11)
        np.testing.assert_allclose(derivatives["k"], -1.8 * slope, rtol=1e-11)
        np.testing.assert_allclose(derivatives["other"], 0.81 * slope, rtol=1e-11)
    assert (ac.node_voltage(net, "out", np.array([0.0])).values == 0).all()


def test_the_output_on_an_island_floats():
    """A coil that only a coupling reaches has volts across it, but none to ground."""
    _, reduced = names(coupled(), "out")
    assert reduced.floating
    assert reduced.silent
    assert (ac.node_voltage(coupled(), "out", HERTZ).values == 0).all()
    assert np.isinf(ac.node_impedance(coupled(), "out", HERTZ).values).all()


def test_a_shorted_source_is_refused():
    net = of(("V", "in", "in 0", 1.0), ("R", "short", "in 0", 0.0), ("R", "load", "in 0", 1.0))
    with pytest.raises(NoSolution, match=r"^in: is an ideal source with both ends on one node"):
        names(net, "in")
    net = follower([("R", "short", "out 0", 0.0)])
    with pytest.raises(NoSolution, match=r"^buffer: is an ideal source"):
        settle(net, "far")
    with pytest.raises(BadHarness, match="nowhere"):
        settle(net, "nowhere")
    for ask in (ac.node_voltage, ac.node_impedance, node_size):
        with pytest.raises(BadHarness, match="nowhere"):
            ask(bridge(), "nowhere", HERTZ)


def test_what_a_formula_cannot_state():
    def refused(kind, value, loss=0.0):
        refuse_inexpressible(Branch("part.x", kind, ("a", "0"), value, loss), "SPICE")

    for kind in "RLC":
        refused(kind, 1.0)
    with pytest.raises(NotExpressible, match=r"^part.x: is a function of frequency, which SPICE"):
        refused("Z", np.abs)
    with pytest.raises(NotExpressible, match=r"^part.x: loses the same share .* which SPICE"):
        refused("C", 1.0, 0.01)


# -- 0 Hz ------------------------------------------------------------------------------------------


def bridge():
    """Five resistors that are neither in series nor in parallel."""
    return of(
        ("R", "r1", "a b", 1e3),
        ("R", "r2", "a c", 2e3),
        ("R", "r3", "b c", 3e3),
        ("R", "r4", "b 0", 4e3),
        ("R", "r5", "c 0", 5e3),
    )


def test_resistances_of_a_bridge_are_those_of_the_oracle():
    found = Resistances(bridge())
    for one in "abc0":
        for other in "abc0":
            (got,), (slopes,) = found.between((0, one, other))
            net = bridge()
            net.ground = other
            expected = oracle.impedance(net, one, 0.0).real if one != other else 0.0
            assert got == pytest.approx(expected, rel=1e-12)
            # A resistance is homogeneous of degree one in its branches: Euler's theorem.
            assert slopes.sum() == pytest.approx(expected, rel=1e-12)
            for name, slope in zip(found.names, slopes, strict=True):
                values = []
                for factor in (1 + 1e-6, 1 - 1e-6):
                    turned = bridge()
                    turned.ground = other
                    branch = turned.branches[name]
                    turned.branches[name] = Branch(name, "R", branch.nodes, branch.value * factor)
                    values.append(oracle.impedance(turned, one, 0.0).real)
                assert slope == pytest.approx((values[0] - values[1]) / 2e-6, rel=1e-5, abs=1e-4)


def test_resistances_along_dimensions():
    net = Netlist()
    one = xr.Variable(("x",), [1e3, 2e3])
    other = xr.Variable(("y", "x"), [[1e3, 1e3], [2e3, 2e3], [3e3, 3e3]])
    net.resistor("one", "a", "b", one)
    net.resistor("other", "b", "0", other)
    net.inductor("coil", "0", "end", one)
    net.capacitor("open", "a", "0", one * 1e-9)
    for dims in ({"x": 2, "y": 3}, {"y": 3, "x": 2}, {"x": 2, "z": 1, "y": 3}):
        found = Resistances(net, dims=dims)
        (ohms,), (slopes,) = found.between((0, "a", "end"))
        assert ohms.shape == tuple(dims.values())
        expected = np.array([[2e3, 3e3, 4e3], [3e3, 4e3, 5e3]])
        turned = expected.T if next(iter(dims)) == "y" else expected
        np.testing.assert_allclose(ohms.squeeze(), turned, rtol=1e-12)
        assert found.names == ("one", "other")
        assert slopes.shape == (*ohms.shape, 2)


def test_resistances_of_several_circuits_are_those_of_each():
    """Joined otherwise, with a branch less, with nothing in it."""
    shorted, less = bridge(), bridge()
    shorted.resistor("wire", "b", "c", 0.0)
    del less.branches["r3"]
    nets = bridge(), shorted, Netlist(), less
    together = Resistances(*nets)
    probes = [(number, one, other) for number in range(4) for one, other in ("a0", "bc", "ab")]
    ohms, slopes = together.between(*probes)
    for (number, *pair), got, by in zip(probes, ohms, slopes, strict=True):
        alone = Resistances(nets[number])
        (expected,), (own,) = alone.between((0, *pair))
        assert got == pytest.approx(expected, rel=1e-12)
        named = dict(zip(together.names, by, strict=True))
        for name, slope in zip(alone.names, own, strict=True):
            assert named.pop(name) == pytest.approx(slope, rel=1e-12, abs=1e-12)
        assert not any(named.values())


def test_resistances_without_a_path_and_of_one_node():
    net = of(
        ("V", "in", "s 0", 1.0),
        ("R", "R", "s a", 1e3),
        ("R", "apart", "p q", 5.0),
        ("R", "wire", "q w", 0.0),
        ("R", "open", "a p", INF),
        ("Z", "black box", "a b", lambda hertz: 7.0 + 2 * hertz),
        ("Z", "short box", "b c", lambda hertz: 0 * hertz),
        ("L", "coil", "c d", 2.0),
        ("E", "buffer", "e 0 a 0", None),
    )
    found = Resistances(net)
    ohms, _ = found.between((0, "a", "0"), (0, "p", "w"), (0, "d", "a"))
    assert ohms == pytest.approx([1e3, 5.0, 7.0])
    for one, other in (("a", "p"), ("q", "0"), ("a", "nowhere"), ("nowhere", "a")):
        ohms, slopes = found.between((0, one, other))
        assert ohms.tolist() == [np.inf]
        assert not slopes.any()
    for one, other in (("a", "a"), ("s", "0"), ("e", "s"), ("q", "w"), ("nowhere", "nowhere")):
        ohms, slopes = found.between((0, one, other))
        assert ohms.tolist() == [0.0]
        assert not slopes.any()
    assert Resistances(Netlist()).between((0, "a", "b"))[0].tolist() == [np.inf]


@pytest.mark.parametrize("bad", [0.0, INF])
def test_a_sweep_at_0_hz_holds_neither_zero_nor_infinity(bad):
    net = of(("R", "R", "a 0", xr.Variable("x", [1.0, bad])))
    with pytest.raises(NoSolution, match=r"^R: is zero or infinite in a sweep"):
        Resistances(net)


def test_a_branch_across_a_wire_carries_nothing():
    """It is not among the names; of no circuit there are no names."""
    net = of(
        ("R", "wire", "a b", 0.0),
        ("R", "beside", "a b", 5.0),
        ("V", "source", "b c", 1.0),
        ("R", "across", "c a", 7.0),
        ("C", "open", "c 0", 1e-9),
        ("R", "R", "c 0", 3.0),
        ("R", "gone", "c 0", INF),
    )
    found = Resistances(net)
    assert found.names == ("R",)
    ohms, slopes = found.between((0, "a", "0"), (0, "a", "c"), (0, "0", "0"))
    assert ohms.tolist() == pytest.approx([3.0, 0.0, 0.0])
    assert slopes == pytest.approx(np.array([[3.0], [0.0], [0.0]]))
    assert Resistances().names == ()


def test_slopes_sum_up_to_the_resistance():
    """R is homogeneous of degree 1 in its resistances (Euler), on islands and in several nets."""
    rng = np.random.default_rng(3)
    nets, probes = [], []
    for number in range(4):
        net = Netlist()
        for island in "pq":
            nodes = [f"{island}{i}" for i in range(3 + number)]
            for i, a in enumerate(nodes):
                for b in nodes[i + 1 :]:
                    if b == nodes[i + 1] or rng.random() < 0.4:
                        ohms = 10.0 ** rng.uniform(-2, 6)
                        net.resistor(f"{a}-{b}", a, b, ohms)
        nets.append(net)
        probes += [(number, "p0", "p2"), (number, "q2", "q0"), (number, "p1", "q1")]
    found = Resistances(*nets)
    ohms, slopes = found.between(*probes)
    for (number, a, b), got, own in zip(probes, ohms, slopes, strict=True):
        if a[0] != b[0]:
            assert got == np.inf
            assert (own == 0).all()
            continue
        single = Netlist(ground=b)
        for branch in nets[number]:
            if branch.name[0] == a[0]:
                single.add(branch)
        expected = oracle.impedance(single, a, 1.0).real
        assert got == pytest.approx(expected, rel=1e-9)
        assert own.sum() == pytest.approx(expected, rel=1e-9)


# -- derivatives -----------------------------------------------------------------------------------


def test_derivatives_by_every_kind_of_branch():
    """Against differences of the oracle's volts, a branch moved by a millionth each way."""
    net = of(
        ("V", "in", "in 0", 1.0),
        ("R", "R", "in a", 1e3),
        ("L", "one", "a x", 0.3),
        ("R", "R2", "x 0", 500.0),
        ("C", "across", "a b", 1e-8),
        ("L", "other", "b 0", 0.2),
        ("E", "buffer", "c 0 b 0", None),
        ("R", "after", "c out", 2e3),
        ("C", "load", "out 0", 2e-8),
        ("R", "dead end", "out nothing", 1.0),
        ("R", "wire", "x y", 0.0),
    )
    net.mutual("k", "one", "other", 0.1)
    volts, by = branch_derivatives(net, "out", HERTZ)
    assert by.keys() == {"R", "one", "R2", "across", "other", "after", "load", "k"}
    for at, f in enumerate(HERTZ):
        assert volts[at] == pytest.approx(oracle.voltage(net, "out", f), rel=1e-12)
        for name, slopes in by.items():
            branch = net.branches[name]
            step = branch.value * 1e-5
            turned = []
            for value in (branch.value + step, branch.value - step):
                moved = Netlist()
                for own in net:
                    held = value if own.name == name else own.value
                    moved.add(Branch(own.name, own.kind, own.nodes, held, 0.0, own.between))
                turned.append(oracle.voltage(moved, "out", f))
            assert slopes[at] == pytest.approx((turned[0] - turned[1]) / (2 * step), rel=1e-6)


def test_derivatives_beside_a_function_of_frequency():
    """v = r / (r + Z): dv/dr = Z / (r + Z)^2, and Z itself is not listed."""

    def ohms(hertz):
        return 500 + 3 * np.sqrt(hertz) + 2j * np.pi * hertz * 0.2

    net = of(("V", "in", "in 0", 1.0), ("Z", "coil", "in out", ohms), ("R", "load", "out 0", 1e3))
    volts, by = branch_derivatives(net, "out", HERTZ)
    assert by.keys() == {"load"}
    np.testing.assert_allclose(volts, 1e3 / (1e3 + ohms(HERTZ)), rtol=1e-13)
    np.testing.assert_allclose(by["load"], ohms(HERTZ) / (1e3 + ohms(HERTZ)) ** 2, rtol=1e-13)


def test_derivatives_of_a_circuit_without_an_answer():
    sentence = (
        "circuit: has no unique answer at one of the frequencies; look for sources in parallel or "
        "a lossless resonance exactly at a frequency."
    )
    parallel = of(("V", "one", "a 0", 1.0), ("V", "two", "a 0", 2.0), ("R", "R", "a 0", 1.0))
    resonant = of(("V", "in", "in 0", 1.0), ("L", "L", "in out", 1.0), ("C", "C", "out 0", 1.0))
    for net, output, hertz in ((parallel, "a", 1.0), (resonant, "out", 1 / (2 * np.pi))):
        with pytest.raises(NoSolution) as refused:
            branch_derivatives(net, output, np.array([hertz]))
        assert str(refused.value) == sentence


def test_derivatives_of_a_lossy_capacitor_and_of_each_side_of_a_tree():
    """By closed form, per farad of C (1 - j tan delta), links and tree branches alike."""
    for r, c in ((1e3, 1e-7), (1e6, 1e-10), (1e3, 1e-5)):
        net = of(("V", "in", "in 0", 2.0), ("R", "R", "in out", r))
        net.capacitor("C", "out", "0", c, loss=0.02)
        volts, by = branch_derivatives(net, "out", HERTZ)
        s, lossy = 2j * np.pi * HERTZ, c * (1 - 0.02j)
        below = 1 + s * r * lossy
        np.testing.assert_allclose(volts, 2 / below, rtol=1e-13)
        np.testing.assert_allclose(by["R"], -2 * s * lossy / below**2, rtol=1e-12)
        np.testing.assert_allclose(by["C"], -2 * s * r / below**2, rtol=1e-12)


def test_of_a_silent_output_nothing_has_a_derivative():
    volts, by = branch_derivatives(of(("R", "R", "a 0", 1.0)), "a", HERTZ)
    assert volts.tolist() == [0, 0]
    assert volts.dtype == complex
    assert by == {}


# -- a function of frequency ----------------------------------------------------------------------


@pytest.mark.parametrize("swept", [False, True])
def test_an_impedance_that_is_a_function_of_frequency(swept):
    """A coil with skin effect, say: R + k sqrt(f) + j w L beside a load."""

    def ohms(hertz):
        return 500 + 3 * np.sqrt(hertz) + 2j * np.pi * hertz * 0.2

    load = xr.Variable("load", [1e3, 5e3]) if swept else 1e3
    net = of(("V", "in", "in 0", 1.0), ("Z", "coil", "in out", ohms), ("R", "load", "out 0", load))
    got = ac.node_voltage(net, "out", np.array([0.0, *HERTZ]))
    for number, r in enumerate([1e3, 5e3] if swept else [1e3]):
        at_zero = r / (r + 500)
        expected = [at_zero, *(r / (r + ohms(HERTZ)))]
        found = got.isel(load=number) if swept else got
        np.testing.assert_allclose(found.values, expected, rtol=1e-13)
    # A function may answer in plain numbers too.
    plain = of(("V", "in", "in 0", 1.0), ("Z", "Z", "in out", lambda f: 3), ("R", "R", "out 0", 1))
    assert ac.node_voltage(plain, "out", HERTZ).values == pytest.approx([0.25, 0.25])
