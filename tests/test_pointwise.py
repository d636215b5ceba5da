"""Many circuits at a few settings each, against the dense oracle and the general solver."""

from __future__ import annotations

import numpy as np
import oracle
import pytest
import xarray as xr

from guitarnet import NoSolution
from guitarnet.circuit.netlist import Netlist
from guitarnet.solve import ac, pointwise, sizes
from guitarnet.solve.pointwise import sample_voltages

HERTZ = np.array([50.0, 6000.0])
ROUNDING = 1e-12


def sample(*values):
    return xr.Variable("sample", np.array(values, dtype=float))


def mark(*values):
    return xr.Variable("mark", np.array(values, dtype=float))


def guitar(marks=(0.0, 0.3, 1.0), *, tones=None, coupled=None, loss=0.0):
    """A coil, a pot, a tone control and a cable; all but the pot's halves differ by sample."""
    net = Netlist()
    net.source("string", "start", "0")
    net.resistor("coil R", "start", "wire", sample(6e3, 7e3, 6.5e3, 8e3))
    net.inductor("coil L", "wire", "hot", sample(2.5, 3.0, 2.2, 4.0))
    net.capacitor("coil C", "hot", "0", sample(1e-10, 1.2e-10, 2e-10, 1.5e-10))
    ohms = sample(250e3, 240e3, 300e3, 220e3)
    net.resistor("upper", "hot", "out", ohms * (1 - mark(*marks)))
    net.resistor("lower", "out", "0", ohms * mark(*marks))
    if tones is not None:
        net.resistor("tone", "hot", "cap", 500e3 * xr.Variable("tone", np.array(tones)))
        net.capacitor("tone C", "cap", "0", sample(22e-9, 20e-9, 24e-9, 22e-9), loss=loss)
    if coupled is not None:
        net.inductor("other L", "0", "far", coupled)
        net.resistor("other R", "far", "0", 5e3)
        net.mutual("k", "coil L", "other L", 0.5)
    net.capacitor("cable", "out", "0", sample(5e-10, 4e-10, 6e-10, 5e-10))
    return net


def check(net, output="out", *, dims=(), along="sample", hertz=HERTZ):
    """Compare volts and their squares with the oracle, setting by setting."""
    got = sample_voltages(net, output, hertz, dims=dims, along=along)
    squares = sample_voltages(net, output, hertz, dims=dims, along=along, power=True)
    assert squares.dims == got.dims
    assert squares.dtype == float
    np.testing.assert_allclose(squares.values, np.abs(got.values) ** 2, rtol=1e-13, atol=0)
    assert got.sizes == {**net.dims(), "frequency": hertz.size}
    for place, single in oracle.single_settings(net):
        expected = np.array([oracle.voltage(single, output, f) for f in hertz])
        found = got.isel(place).values
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=ROUNDING)
        assert (found[expected == 0] == 0).all()
    return got


@pytest.fixture
def roads(monkeypatch):
    """Which road was taken: polynomials, one by one, the general one."""
    taken = []
    for name in ("polynomial", "one_by_one"):
        own = getattr(pointwise._Block, name)

        def said(self, *given, own=own, name=name):
            found = own(self, *given)
            taken.append(name if found is not None else f"{name} gave up")
            return found

        monkeypatch.setattr(pointwise._Block, name, said)
    general = pointwise._general
    monkeypatch.setattr(
        pointwise, "_general", lambda *given: taken.append("general") or general(*given)
    )
    return taken


def test_a_knob_over_many_guitars(roads):
    """Ends of the pot are patterns of their own; the output at ground is silent."""
    got = check(guitar())
    assert got.dims == ("sample", "mark", "frequency")
    assert (got.values[:, 0] == 0).all()
    assert set(roads) == {"polynomial"}


def test_two_knobs_in_the_order_asked_for(roads):
    got = check(guitar(tones=[0.0, 0.2, 1.0]), dims=["tone", "mark"])
    assert got.dims == ("sample", "tone", "mark", "frequency")
    assert check(guitar(tones=[0.1, 1.0])).dims == ("sample", "mark", "tone", "frequency")
    assert check(guitar(tones=[0.1, 1.0]), dims=["tone"]).dims[1] == "tone"
    assert check(guitar(), dims=["nothing", "mark"]).dims == ("sample", "mark", "frequency")
    assert set(roads) == {"polynomial"}


def test_a_knob_that_stands_still(roads):
    """Nothing moves: one column for all."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", sample(1e3, 2e3))
    net.capacitor("C", "out", "0", sample(1e-8, 3e-8))
    assert check(net).dims == ("sample", "frequency")
    # A dimension that does not reach the output.
    net.resistor("dangling", "out", "end", mark(1.0, 2.0, 3.0))
    got = check(net)
    assert got.shape == (2, 3, 2)
    assert set(roads) == {"polynomial"}


@pytest.mark.parametrize("kind", ["L", "C", "lossy C"])
def test_coils_and_capacitors_that_move(kind, roads):
    net = Netlist()
    net.source("in", "in", "0", 2.0)
    net.resistor("R", "in", "out", sample(1e3, 2e3, 5e3))
    net.resistor("load", "out", "0", sample(1e5, 2e5, 1e5))
    if kind == "L":
        net.inductor("moves", "out", "0", mark(1e-3, 0.5, 2.0) * sample(1.0, 1.1, 0.9))
    else:
        loss = mark(0.0, 0.02, 0.05) if kind == "lossy C" else 0.0
        net.capacitor("moves", "out", "0", mark(1e-10, 3e-9, 2e-8), loss=loss)
    got = sample_voltages(net, "out", HERTZ)
    for place, single in oracle.single_settings(net):
        one = [2 * oracle.voltage(_one_volt(single), "out", f) for f in HERTZ]
        np.testing.assert_allclose(got.isel(place).values, one, rtol=1e-10)
    assert set(roads) == {"polynomial"}


def _one_volt(net):
    made = Netlist()
    for branch in net:
        if branch.kind == "V":
            made.source(branch.name, *branch.nodes)
        else:
            made.add(branch)
    return made


def test_coupled_coils(roads):
    """A coupling between what stays still is stamped; one that moves goes circuit by circuit."""
    check(guitar(coupled=1.0))
    assert set(roads) == {"polynomial"}
    roads.clear()
    check(guitar(coupled=mark(0.5, 1.0, 2.0)))
    assert set(roads) == {"one_by_one"}
    roads.clear()
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", sample(1e3, 2e3))
    net.inductor("one", "a", "0", 1.0)
    net.inductor("other", "out", "0", 2.0)
    net.resistor("load", "out", "0", 1e4)
    net.mutual("k", "one", "other", mark(0.1, 0.7))
    check(net)
    assert set(roads) == {"one_by_one"}


def test_roads_that_lead_to_the_general_solver(roads):
    moving = guitar(tones=[0.1, 1.0], loss=xr.Variable("loss", np.array([0.0, 0.01])))
    check(moving)  # four branches move
    assert set(roads) == {"polynomial"}
    roads.clear()
    moving.resistor("fifth", "cap", "0", 1e6 * xr.Variable("tone", np.array([1.0, 2.0])))
    assert check(moving, dims=["tone", "mark"]).dims[:3] == ("sample", "tone", "mark")
    assert roads == ["general"] * 2
    roads.clear()
    zeros = guitar()
    zeros.resistor("joint", "out", "0", sample(1e6, 0.0, 1e6, 1e6))
    check(zeros)  # a short in one guitar only
    assert roads == ["general"] * 2
    roads.clear()
    assert check(guitar(), along="nothing").dims == ("sample", "mark", "frequency")
    assert roads == ["general"] * 2
    roads.clear()
    lazy = guitar()
    lazy.resistor("lazy", "out", "0", xr.Variable("mark", [1e6, 2e6, 3e6]).chunk(mark=1))
    got = sample_voltages(lazy, "out", HERTZ)
    np.testing.assert_allclose(got.values, ac.node_voltage(lazy, "out", HERTZ).values, rtol=1e-12)
    assert roads == ["general"]


@pytest.mark.parametrize("points", [1, 5, 6, 100])
def test_blocks_of_guitars(points, monkeypatch, roads):
    """However many guitars are eliminated at once, the volts are the same to the last digits."""
    whole = sample_voltages(guitar(), "out", HERTZ).values
    calls = len(roads)
    monkeypatch.setattr(pointwise, "_POINTS", points)
    got = check(guitar()).values
    np.testing.assert_allclose(got, whole, rtol=1e-13)
    blocks = -(-4 // max(1, points // 2))
    assert len(roads) == calls + 2 * blocks * calls


def test_rows_that_no_pivot_serves(monkeypatch, roads):
    """Where too many rows are left, each circuit is eliminated by itself: the same answer."""
    expected = sample_voltages(guitar(), "out", HERTZ).values
    monkeypatch.setattr(pointwise, "_LEFT", -1)
    assert set(roads) == {"polynomial"}
    roads.clear()
    np.testing.assert_allclose(check(guitar()).values, expected, rtol=1e-11, atol=ROUNDING)
    assert set(roads) == {"polynomial gave up", "one_by_one"}


def test_silent_and_unsolvable_circuits():
    net = guitar()
    net.resistor("apart", "nowhere", "0", sample(1.0, 2.0, 3.0, 4.0))
    assert (sample_voltages(net, "nowhere", HERTZ).values == 0).all()
    assert (sample_voltages(net, "0", HERTZ, power=True).values == 0).all()
    net = Netlist()
    net.source("one", "a", "0")
    net.source("other", "a", "0", 2.0)
    net.resistor("R", "a", "0", sample(1.0, 2.0))
    with pytest.raises(NoSolution, match="no unique answer around"):
        sample_voltages(net, "a", HERTZ)


def test_values_are_counted_in_a_unit_near_them():
    """The unit is the middle of the resistances, by their logarithms: entries are near 1."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", sample(10.0, 1e3))
    net.resistor("load", "out", "0", 1e5)
    tables = {"R": np.array([[10.0], [1e3]])}
    reduced = pointwise.reduce(pointwise.place(net), {}, "0", "out", driven=True)
    block = pointwise._Block(reduced, HERTZ, tables, {"in": 1.0})
    assert block.unit == pytest.approx(1e4)
    bare = pointwise.Reduced([], "0", "out", silent=True, floating=False)
    assert pointwise._Block(bare, HERTZ, {}, {}).unit == 1.0


def test_scaled_values_go_up_to_one():
    """What moves is counted in its largest size; a capacitor in its smallest."""
    net = Netlist()
    net.source("in", "in", "0")
    ohms, henries, farads = np.array([[2.0, 8.0]]), np.array([[0.5, 2.0]]), np.array([[1e-9, 4e-9]])
    net.resistor("R", "in", "a", 1.0)
    net.inductor("L", "a", "out", 1.0)
    net.capacitor("C", "out", "0", 1e-9)
    reduced = pointwise.reduce(pointwise.place(net), {}, "0", "out", driven=True)
    block = pointwise._Block(reduced, HERTZ, {"R": ohms, "L": henries, "C": farads}, {"in": 1.0})
    branches = {branch.name: branch for branch, _ in reduced.branches}
    for name, values in (("R", ohms), ("L", henries), ("C", farads)):
        x, gain = block._scaled(branches[name])
        assert x.max() == 1.0
        impedance = {
            "R": values,
            "L": block.s[0] * values,
            "C": 1 / (block.s[0] * values),
        }[name]
        # v = z i, with v = x u and i = gain u / unit.
        np.testing.assert_allclose(x / (np.ravel(gain)[0] / block.unit), impedance, rtol=1e-15)


def test_one_circuit_alone(roads):
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", sample(1e3))
    net.resistor("load", "out", "0", mark(0.0, 1e3, 3e3))
    got = check(net)
    assert got.shape == (1, 3, 2)
    assert set(roads) == {"polynomial"}


@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_first_circuit_of_a_block(count):
    """Of values over circuits and frequency the first row, as numbers where it is one number."""
    matrix = pointwise.Matrix()
    over_both = np.arange(2.0 * count).reshape(2, count) + 5
    over_frequency = np.arange(1.0 * count)
    matrix.add("r", "both", over_both)
    matrix.add("r", "circuits", np.array([[7.0], [8.0]]))
    matrix.add("r", "frequency", over_frequency)
    matrix.add("s", "number", 3.0)
    first = pointwise._first_circuit(matrix)
    assert np.array_equal(first.get("r", "both"), over_both[0] if count > 1 else 5.0)
    assert first.get("r", "circuits") == 7.0
    assert first.get("r", "frequency") is over_frequency
    assert first.get("s", "number") == 3.0
    assert first.columns == {
        "both": {"r"},
        "circuits": {"r"},
        "frequency": {"r"},
        "number": {"s"},
    }


def cancelling(along):
    """Two coils against each other through equal resistors."""
    net = Netlist()
    net.source("one", "a", "0", 1.0)
    net.source("other", "b", "0", -1.0)
    net.resistor("R", "a", "out", 1e3)
    net.resistor("R2", "b", "out", 1e3)
    load = sample(1e3, 2e3, 3e3, 4e3)
    net.resistor("load", "out", "0", load if along == "sample" else load * mark(1, 2))
    return net


@pytest.mark.parametrize("along", ["sample", "mark"])
def test_sources_that_cancel_are_silent_whatever_the_load(along, roads):
    """Exactly nothing, at every setting, by every road."""
    net = cancelling(along)
    assert (sample_voltages(net, "out", HERTZ).values == 0).all()
    assert set(roads) == {"polynomial"}
    assert (ac.node_voltage(net, "out", HERTZ).values == 0).all()
    assert (sizes.node_size(net, "out", HERTZ).values == 0).all()


@pytest.mark.parametrize("along", ["sample", "mark"])
def test_the_square_of_silence_is_real(along):
    squares = sample_voltages(cancelling(along), "out", HERTZ, power=True)
    assert squares.dtype == float
    assert (squares.values == 0).all()
