"""Sizes over grids of settings against the dense oracle, in any order, by blocks and patterns."""

from __future__ import annotations

import numpy as np
import oracle
import pytest
import xarray as xr

from guitarnet.circuit.netlist import Netlist
from guitarnet.solve import ac, sizes

HERTZ = np.array([80.0, 2500.0])


def along(dim, *values):
    return xr.Variable(dim, np.array(values, dtype=float))


def guitar(marks=(0.0, 0.4, 1.0)):
    """Three designs of one pickup, a knob, two cables."""
    net = Netlist()
    net.source("string", "start", "0")
    net.resistor("coil R", "start", "wire", along("design", 6e3, 7e3, 8e3))
    net.inductor("coil L", "wire", "hot", along("design", 2.5, 3.0, 4.0))
    net.capacitor("coil C", "hot", "0", 1.2e-10)
    net.resistor("upper", "hot", "out", 250e3 * (1 - along("mark", *marks)))
    net.resistor("lower", "out", "0", 250e3 * along("mark", *marks))
    net.capacitor("cable", "out", "0", along("cable", 3e-10, 9e-10))
    return net


def check(net, hertz=HERTZ, output="out", dims=()):
    got = sizes.node_size(net, output, hertz, dims=dims)
    assert got.dtype == float
    for place, single in oracle.single_settings(net):
        expected = np.abs([oracle.voltage(single, output, f) for f in hertz])
        found = got.isel(place).values
        np.testing.assert_allclose(found, expected, rtol=1e-9)
        assert (found[expected == 0] == 0).all()
    return got


@pytest.fixture
def grids(monkeypatch):
    """How often the grid's road was taken."""
    taken = []
    fill = sizes._Grid.fill
    monkeypatch.setattr(
        sizes._Grid, "fill", lambda self, *given: taken.append(given[-1]) or fill(self, *given)
    )
    return taken


@pytest.mark.parametrize("points", [1, 3, 20, 32768])
@pytest.mark.parametrize("dims", [(), ("mark",), ("cable", "mark"), ("mark", "cable", "design")])
def test_designs_knob_and_cable(points, dims, monkeypatch, grids):
    """However many points are taken at once and in whatever order."""
    monkeypatch.setattr(sizes, "_POINTS", points)
    got = check(guitar(), dims=dims)
    assert got.dims[: len(dims)] == dims
    assert grids


@pytest.mark.parametrize("points", [1, 5, 32768])
def test_one_design_alone(points, monkeypatch, grids):
    """A single row, or a single column, or neither rows nor columns."""
    monkeypatch.setattr(sizes, "_POINTS", points)
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", along("x", 1e3, 2e3, 5e3, 9e3))
    net.capacitor("C", "out", "0", 1e-8)
    check(net)
    net.resistor("load", "out", "0", along("y", 1e4, 2e4))
    check(net)
    net.resistor("second load", "out", "0", along("z", 1e4))
    check(net)
    assert grids
    plain = Netlist()
    plain.source("in", "in", "0")
    plain.resistor("R", "in", "out", 1e3)
    plain.resistor("load", "out", "0", 3e3)
    assert sizes.node_size(plain, "out", HERTZ).values.tolist() == pytest.approx([0.75, 0.75])


@pytest.mark.parametrize("points", [1, 32768])
def test_what_stands_still_in_every_row(points, monkeypatch, grids):
    """Monomials that no row changes, beside rows by the hundred: each block takes them anew."""
    monkeypatch.setattr(sizes, "_POINTS", points)
    net = guitar()
    net.resistor("load", "out", "0", along("mark", 1e6, 5e5, 2e5))
    net.capacitor("bleed", "hot", "out", along("design", 1e-9, 2e-9, 5e-10))
    check(net)
    assert grids


def test_patterns_of_rows_and_columns(grids):
    """Shorts and opens that change from row to row, and from column to column."""
    net = guitar()
    net.resistor("switch", "out", "tap", along("cable", 0.0, np.inf))
    net.resistor("tap R", "tap", "0", along("mark", 1e4, 0.0, 2e4))
    check(net)
    assert len(grids) > 2


def test_roads_that_lead_to_the_general_solver(grids):
    """0 Hz, lossy capacitors, and shorts that follow neither rows nor columns."""
    check(guitar(), np.array([0.0, 1e3]))
    lossy = guitar()
    lossy.capacitor("lossy", "out", "0", 1e-9, loss=along("design", 0.0, 0.1, 0.2))
    check(lossy)
    crooked = guitar()
    table = xr.Variable(("design", "mark"), np.array([[0.0, 1e4, 1e5]] * 2 + [[1e5, 0.0, 1e4]]))
    crooked.resistor("crooked", "out", "0", table)
    check(crooked)
    assert not grids


def test_more_values_than_a_polynomial_takes(grids):
    """Nine values that differ from design to design are eliminated one by one, in the grid too."""
    rng = np.random.default_rng(3)
    net = Netlist()
    net.source("in", "n0", "0")
    for n in range(5):
        net.resistor(f"R{n}", f"n{n}", f"n{n + 1}", along("design", *rng.uniform(1e3, 9e3, 12)))
        net.capacitor(f"C{n}", f"n{n + 1}", "0", along("design", *rng.uniform(1e-9, 9e-9, 12)))
    net.resistor("load", "n5", "0", along("mark", 1e4, 1e5, np.inf))
    check(net, output="n5")
    assert grids


def test_the_axis_with_the_shortest_sums_is_the_inner_one():
    """Fewest values may move along it; of two alike the longer one."""
    ones = np.ones
    inner = sizes._inner_axis
    assert inner([ones((3, 1)), ones((3, 1)), ones((1, 4))], (3, 4)) == 1
    assert inner([ones((3, 1)), ones((1, 4)), ones((1, 4))], (3, 4)) == 0
    assert inner([ones((3, 1)), ones((1, 4))], (3, 4)) == 1
    assert inner([ones((4, 1)), ones((1, 3))], (4, 3)) == 0
    assert inner([ones((1, 1))], (1, 1)) is None
    assert inner([ones((1, 5))], (1, 5)) == 1


def test_sizes_of_unequal_tables():
    assert sizes._table(np.arange(4.0).reshape(1, 4), [1]).shape == (1, 4)
    assert sizes._table(np.arange(3.0).reshape(3, 1), [3]).shape == (3, 1)
    assert sizes._table(np.arange(6.0).reshape(2, 1, 3), [2, 2]).tolist() == [
        [0, 1, 2],
        [0, 1, 2],
        [3, 4, 5],
        [3, 4, 5],
    ]


def test_against_the_voltages_with_other_amplitudes():
    net = Netlist()
    net.source("one", "a", "0", 3.0)
    net.source("other", "b", "0", -1.0)
    net.resistor("R", "a", "out", along("x", 1e3, 2e3))
    net.resistor("R2", "b", "out", along("y", 1e3, 4e3, 5e3))
    found = sizes.node_size(net, "out", HERTZ)
    volts = ac.node_voltage(net, "out", HERTZ)
    np.testing.assert_allclose(found.values, np.abs(volts.values), rtol=1e-13)
    assert found.isel(x=0, y=0).values == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize("points", [1, 4, 32768])
@pytest.mark.parametrize("rows", [1, 2, 3])
def test_tracks_that_differ_from_design_to_design(rows, points, monkeypatch, grids):
    """What moves along the marks moves from row to row too, block by block."""
    monkeypatch.setattr(sizes, "_POINTS", points)
    ohms = along("design", *[250e3, 500e3, 330e3][:rows])
    net = Netlist()
    net.source("in", "in", "0")
    net.capacitor("C", "in", "hot", 1e-8)
    net.resistor("upper", "hot", "out", ohms * (1 - along("mark", 0.1, 0.5, 1.0)))
    net.resistor("lower", "out", "0", ohms * along("mark", 0.1, 0.5, 1.0))
    net.capacitor("cable", "out", "0", 5e-10)
    check(net)
    assert grids
