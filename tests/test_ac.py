"""Many circuits at many settings against the dense oracle, setting by setting."""

from __future__ import annotations

import dataclasses

import numpy as np
import oracle
import pytest
import xarray as xr

from fuzz.many_decades import against_fifty_digits
from guitarnet.circuit.netlist import Netlist
from guitarnet.errors import BadHarness, BadSetting, NoSolution
from guitarnet.solve import ac

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


def check(net, output="out", *, dims=(), hertz=HERTZ):
    """Compare volts and their sizes with the oracle, setting by setting."""
    got = ac.node_voltage(net, output, hertz, dims=dims)
    sizes = ac.node_size(net, output, hertz, dims=dims)
    assert sizes.dims == got.dims
    assert sizes.dtype == float
    np.testing.assert_allclose(sizes.values, np.abs(got.values), rtol=1e-13, atol=0)
    assert got.sizes == {**net.dims(), "frequency": hertz.size}
    for place, single in oracle.single_settings(net):
        expected = np.array([oracle.voltage(single, output, f) for f in hertz])
        found = got.isel(place).values
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=ROUNDING)
        assert (found[expected == 0] == 0).all()
    return got


def test_a_knob_over_many_guitars():
    """Ends of the pot are patterns of their own; the output at ground is silent."""
    got = check(guitar())
    assert got.dims == ("sample", "mark", "frequency")
    assert (got.values[:, 0] == 0).all()


def test_two_knobs_in_the_order_asked_for():
    got = check(guitar(tones=[0.0, 0.2, 1.0]), dims=["tone", "mark"])
    assert got.dims == ("tone", "mark", "sample", "frequency")
    assert check(guitar(tones=[0.1, 1.0])).dims == ("sample", "mark", "tone", "frequency")
    assert check(guitar(tones=[0.1, 1.0]), dims=["tone"]).dims[0] == "tone"
    assert check(guitar(), dims=["nothing", "mark"]).dims == ("mark", "sample", "frequency")


def test_a_knob_that_stands_still():
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


@pytest.mark.parametrize("kind", ["L", "C", "lossy C"])
def test_coils_and_capacitors_that_move(kind):
    net = Netlist()
    net.source("in", "in", "0", 2.0)
    net.resistor("R", "in", "out", sample(1e3, 2e3, 5e3))
    net.resistor("load", "out", "0", sample(1e5, 2e5, 1e5))
    if kind == "L":
        net.inductor("moves", "out", "0", mark(1e-3, 0.5, 2.0) * sample(1.0, 1.1, 0.9))
    else:
        loss = mark(0.0, 0.02, 0.05) if kind == "lossy C" else 0.0
        net.capacitor("moves", "out", "0", mark(1e-10, 3e-9, 2e-8), loss=loss)
    got = ac.node_voltage(net, "out", HERTZ)
    for place, single in oracle.single_settings(net):
        one = [2 * oracle.voltage(_one_volt(single), "out", f) for f in HERTZ]
        np.testing.assert_allclose(got.isel(place).values, one, rtol=1e-10)


def _one_volt(net):
    made = Netlist()
    for branch in net:
        if branch.kind == "V":
            made.source(branch.name, *branch.nodes)
        else:
            made.add(branch)
    return made


def test_coupled_coils():
    """A coupling between what stays still is stamped; one that moves goes circuit by circuit."""
    check(guitar(coupled=1.0))
    check(guitar(coupled=mark(0.5, 1.0, 2.0)))
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", sample(1e3, 2e3))
    net.inductor("one", "a", "0", 1.0)
    net.inductor("other", "out", "0", 2.0)
    net.resistor("load", "out", "0", 1e4)
    net.mutual("k", "one", "other", mark(0.1, 0.7))
    check(net)


def test_many_values_that_move():
    moving = guitar(tones=[0.1, 1.0], loss=xr.Variable("loss", np.array([0.0, 0.01])))
    check(moving)  # four branches move
    moving.resistor("fifth", "cap", "0", 1e6 * xr.Variable("tone", np.array([1.0, 2.0])))
    assert check(moving, dims=["tone", "mark"]).dims[:3] == ("tone", "mark", "sample")


def test_zeros_that_differ_from_circuit_to_circuit():
    """A short in one guitar only; shorts and opens that follow neither rows nor columns."""
    zeros = guitar()
    zeros.resistor("joint", "out", "0", sample(1e6, 0.0, 1e6, 1e6))
    check(zeros)
    crooked = guitar()
    table = np.array([[0.0, 1e4, 1e5], [1e5, 0.0, np.inf], [1e5, 1e4, 1.0], [np.inf, 0.0, 2e4]])
    crooked.resistor("crooked", "out", "0", xr.Variable(("sample", "mark"), table))
    check(crooked)
    coupled = guitar(coupled=mark(0.5, 1.0, 2.0))
    coupled.resistor("crooked", "out", "0", xr.Variable(("sample", "mark"), table))
    check(coupled)
    switched = guitar()
    switched.resistor("switch", "out", "tap", xr.Variable("cable", [0.0, np.inf]))
    switched.resistor("tap R", "tap", "0", mark(1e4, 0.0, 2e4))
    check(switched)


def test_a_capacitor_and_a_coil_that_vanish():
    """No capacitance is an open, no inductance a wire, in some settings only; 0 Hz beside them."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", sample(1e3, 2e3))
    net.inductor("L", "a", "out", mark(0.0, 0.1, 1.0))
    net.capacitor("C", "out", "0", xr.Variable("cable", [0.0, 1e-9, 1e-7]))
    net.capacitor("across", "a", "out", xr.Variable("cable", [1e-9, 0.0, 1e-10]))
    net.resistor("load", "out", "0", 1e4)
    check(net, hertz=np.array([0.0, 50.0, 6000.0]))


def test_chunked_values_stay_lazy():
    lazy, eager = guitar(), guitar()
    loads = xr.Variable("mark", [1e6, 2e6, 3e6])
    lazy.resistor("load", "out", "0", loads.chunk(mark=1))
    eager.resistor("load", "out", "0", loads)
    for ask in (ac.node_voltage, ac.node_size):
        found = ask(lazy, "out", HERTZ)
        assert found.chunks is not None
        np.testing.assert_allclose(found.values, ask(eager, "out", HERTZ).values, rtol=1e-12)


def test_more_circuits_than_are_eliminated_at_once():
    """However many there are, each has the answer that it has alone."""
    rng = np.random.default_rng(5)
    net = guitar()
    for name, branch in net.branches.items():
        if "sample" in getattr(branch.value, "dims", ()):
            more = rng.uniform(0.8, 1.2, 120)
            value = branch.value.isel(sample=0) * xr.Variable("sample", more)
            net.branches[name] = dataclasses.replace(branch, value=value)
    hertz = np.geomspace(20, 2e4, 301)
    whole = ac.node_voltage(net, "out", hertz)
    for number in (0, 54, 119):
        alone = Netlist()
        for branch in net:
            value = branch.value
            if "sample" in getattr(value, "dims", ()):
                value = value.isel(sample=number)
            alone.add(dataclasses.replace(branch, value=value))
        found = ac.node_voltage(alone, "out", hertz).values
        np.testing.assert_allclose(whole.isel(sample=number).values, found, rtol=1e-12)


def test_a_ladder_of_many_resonances():
    """Coils and capacitors that resonate here and there: no pivot is large at every frequency."""
    net = Netlist()
    net.source("in", "n0", "0")
    for n in range(9):
        net.resistor(f"R{n}", f"n{n}", f"m{n}", sample(10.0, 12.0))
        net.inductor(f"L{n}", f"m{n}", f"n{n + 1}", 1e-3 * 2.0 ** (n % 5))
        net.capacitor(f"C{n}", f"n{n + 1}", "0", 1e-6 / 3.0 ** (n % 4))
    net.resistor("load", "n9", "0", mark(1e3, 1e5))
    hertz = np.geomspace(500, 3e4, 7)
    got = ac.node_voltage(net, "n9", hertz)
    for place, single in oracle.single_settings(net):
        expected = np.array([oracle.voltage(single, "n9", f) for f in hertz])
        error = np.abs(got.isel(place).values - expected)
        assert error.max() <= 1e-11 * np.abs(expected).max()


def test_silent_and_unsolvable_circuits():
    net = guitar()
    net.resistor("apart", "nowhere", "0", sample(1.0, 2.0, 3.0, 4.0))
    assert (ac.node_voltage(net, "nowhere", HERTZ).values == 0).all()
    assert (ac.node_size(net, "0", HERTZ).values == 0).all()
    net = Netlist()
    net.source("one", "a", "0")
    net.source("other", "a", "0", 2.0)
    net.resistor("R", "a", "0", sample(1.0, 2.0))
    for number in range(6):
        net.resistor(f"R{number}", "a", "0", 1.0)
    with pytest.raises(NoSolution, match="no unique answer around one, other, R, R0, R1, R2;"):
        ac.node_voltage(net, "a", HERTZ)


def test_one_circuit_alone():
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", sample(1e3))
    net.resistor("load", "out", "0", mark(0.0, 1e3, 3e3))
    got = check(net)
    assert got.shape == (1, 3, 2)


def coils_against_each_other(ohms=6e3, second=-1.0, blocked=False):
    """Two coils of opposite sign with one load, knobs and cables swept; the last bits differ."""
    net = Netlist()
    for name, volts in (("one", 1.0), ("other", second)):
        net.source(name, f"{name} in", "0", volts)
        net.resistor(f"{name} R", f"{name} in", f"{name} wire", 6e3 if name == "one" else ohms)
        net.inductor(f"{name} L", f"{name} wire", f"{name} hot", 2.7)
        net.capacitor(f"{name} C", f"{name} hot", "0", 1.3e-10)
        net.resistor(f"{name} S", f"{name} hot", "bus", 1.1e4)
    if blocked:
        net.capacitor("block", "bus", "hot", 1e-8)
    else:
        net.resistor("joint", "bus", "hot", 10.0)
    net.resistor("upper", "hot", "out", 250e3 * (1 - mark(1.0, 0.7, 0.2)))
    net.resistor("lower", "out", "0", 250e3 * mark(1.0, 0.7, 0.2))
    net.capacitor("cable", "out", "0", sample(3e-10, 5e-10))
    return net


@pytest.mark.parametrize("dims", [("sample", "mark"), ("mark", "sample")])
def test_sources_that_cancel_are_silent_whatever_the_load(dims):
    """Exactly nothing, at every setting and frequency; by symmetry no current flows."""
    for net in (coils_against_each_other(), coils_against_each_other(blocked=True)):
        assert (ac.node_voltage(net, "out", HERTZ, dims=dims).values == 0).all()
        sizes = ac.node_size(net, "out", HERTZ, dims=dims)
        assert sizes.dtype == float
        assert (sizes.values == 0).all()


def test_sources_that_nearly_cancel_are_not_silent():
    """Against the oracle: a resistor a billionth larger is enough, or a source twice as large."""
    hertz = np.array([0.0, 1.0])
    for off in (coils_against_each_other(6e3 * (1 + 1e-9)), coils_against_each_other(second=-2.0)):
        check(off)
        assert (np.abs(ac.node_voltage(off, "out", hertz).values) > 1e-12).all()
    # What a capacitor blocks at 0 Hz is heard above it.
    found = check(coils_against_each_other(second=-2.0, blocked=True), hertz=hertz).values
    assert (found[..., 0] == 0).all()
    assert (found[..., 1] != 0).all()
    # A part in 1e12 of all volts is the limit.
    for ohms, heard in ((1.05e13, False), (0.95e13, True)):
        net = Netlist()
        net.source("one", "a", "0", 1.0)
        net.source("other", "b", "0", -0.5)
        net.resistor("R", "a", "out", ohms)
        net.resistor("R2", "b", "out", 1e16)
        net.resistor("load", "out", "0", 15.0)
        assert (ac.node_voltage(net, "out", HERTZ[:1]).values != 0).all() == heard
    # However little one source sends, it is no rounding; nor does one of 0 V beside it count.
    net = Netlist()
    net.source("in", "in", "0")
    net.source("at rest", "rest", "0", 0.0)
    net.resistor("R", "in", "out", 1e14)
    net.resistor("load", "out", "rest", 10.0)
    assert ac.node_voltage(net, "out", HERTZ).values == pytest.approx([1e-13, 1e-13], rel=1e-9)


# -- designs in rows, a knob in columns -----------------------------------------------------------


def along(dim, *values):
    return xr.Variable(dim, np.array(values, dtype=float))


def designs(marks=(0.0, 0.4, 1.0)):
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


@pytest.mark.parametrize("dims", [(), ("mark",), ("cable", "mark"), ("mark", "cable", "design")])
def test_designs_knob_and_cable(dims):
    assert check(designs(), dims=dims).dims[: len(dims)] == dims
    more = designs()
    more.resistor("load", "out", "0", along("mark", 1e6, 5e5, 2e5))
    more.capacitor("bleed", "hot", "out", along("design", 1e-9, 2e-9, 5e-10))
    check(more, dims=dims)
    lossy = designs()
    lossy.capacitor("lossy", "out", "0", 1e-9, loss=along("design", 0.0, 0.1, 0.2))
    check(lossy, dims=dims, hertz=np.array([0.0, 1e3]))


def test_one_design_alone():
    """A single row, or a single column, or neither rows nor columns."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", along("x", 1e3, 2e3, 5e3, 9e3))
    net.capacitor("C", "out", "0", 1e-8)
    check(net)
    net.resistor("load", "out", "0", along("y", 1e4, 2e4))
    check(net)
    net.resistor("second load", "out", "0", along("z", 1e4))
    check(net)
    plain = Netlist()
    plain.source("in", "in", "0")
    plain.resistor("R", "in", "out", 1e3)
    plain.resistor("load", "out", "0", 3e3)
    assert ac.node_size(plain, "out", HERTZ).values.tolist() == pytest.approx([0.75, 0.75])


def test_more_values_than_a_polynomial_takes():
    """Eleven values that differ from design to design."""
    rng = np.random.default_rng(3)
    net = Netlist()
    net.source("in", "n0", "0")
    for n in range(5):
        net.resistor(f"R{n}", f"n{n}", f"n{n + 1}", along("design", *rng.uniform(1e3, 9e3, 12)))
        net.capacitor(f"C{n}", f"n{n + 1}", "0", along("design", *rng.uniform(1e-9, 9e-9, 12)))
    net.resistor("load", "n5", "0", along("mark", 1e4, 1e5, np.inf))
    check(net, output="n5")


def test_sizes_with_other_volts():
    net = Netlist()
    net.source("one", "a", "0", 3.0)
    net.source("other", "b", "0", -1.0)
    net.resistor("R", "a", "out", along("x", 1e3, 2e3))
    net.resistor("R2", "b", "out", along("y", 1e3, 4e3, 5e3))
    found = ac.node_size(net, "out", HERTZ)
    volts = ac.node_voltage(net, "out", HERTZ)
    np.testing.assert_allclose(found.values, np.abs(volts.values), rtol=1e-13)
    assert found.isel(x=0, y=0).values == pytest.approx([1.0, 1.0])
    # By superposition; what is not named is at rest.
    one, other = (
        ac.node_voltage(net, "out", HERTZ, amplitudes={name: volt}).values
        for name, volt in (("one", 3.0), ("other", -1.0))
    )
    assert one[0, 0] == pytest.approx([1.5, 1.5])
    np.testing.assert_allclose(one + other, volts.values, rtol=1e-12)


@pytest.mark.parametrize("rows", [1, 2, 3])
def test_tracks_that_differ_from_design_to_design(rows):
    """What moves along the marks moves from row to row too."""
    ohms = along("design", *[250e3, 500e3, 330e3][:rows])
    net = Netlist()
    net.source("in", "in", "0")
    net.capacitor("C", "in", "hot", 1e-8)
    net.resistor("upper", "hot", "out", ohms * (1 - along("mark", 0.1, 0.5, 1.0)))
    net.resistor("lower", "out", "0", ohms * along("mark", 0.1, 0.5, 1.0))
    net.capacitor("cable", "out", "0", 5e-10)
    check(net)


def test_branches_may_have_any_name():
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("drive", "in", "out", along("x", 1e3, 2e3))
    net.resistor("output", "out", "0", 1e3)
    check(net)


# -- many decades ---------------------------------------------------------------------------------


def test_a_small_value_beside_large_ones_keeps_its_digits():
    """A femtofarad leads on what a microfarad passes: nothing may drown in a sum of both."""
    net = Netlist()
    net.source("in", "in", "0")
    net.capacitor("into", "in", "a", 1e-15)
    net.capacitor("large", "a", "b", 1e-3)
    net.capacitor("out of", "b", "0", along("x", 3e-15, 1e-15))
    net.resistor("leak", "b", "0", 1e15)
    # The large one is a wire beside the others.
    hertz = np.array([1e3, 1e6])
    got = ac.node_voltage(net, "b", hertz)
    for number, farads in enumerate((3e-15, 1e-15)):
        s = 2j * np.pi * hertz
        into = 1 / (1 / 1e-15 + 1 / 1e-3)
        expected = s * into / (s * into + s * farads + 1e-15)
        np.testing.assert_allclose(got.isel(x=number).values, expected, rtol=1e-14)


@pytest.mark.parametrize(("hertz", "size"), [(1e12, 1e-9), (1e100, 1e-97), (1e200, 1e-197)])
def test_far_above_the_audible_a_corner_still_falls(hertz, size):
    """R and C: 1 / (2 pi f R C), from far beyond the corner on."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 1e3)
    net.capacitor("C", "out", "0", along("C", 1 / (2 * np.pi * 1e6), 1.0))
    found = ac.node_size(net, "out", np.array([20.0, hertz]))
    assert found.values[0, 1] == pytest.approx(size, rel=1e-9)
    assert abs(ac.node_voltage(net, "out", np.array([20.0, hertz])).values[0, 1]) == pytest.approx(
        size, rel=1e-9
    )


def test_sizes_whose_squares_no_number_holds():
    """Somewhere here one setting's square is in the range of double precision, the other's not."""
    for power in (*range(-165, -153), *range(150, 158)):
        net = Netlist()
        net.source("in", "in", "0", 10.0**power)
        net.resistor("R", "in", "out", 1e3)
        net.resistor("load", "out", "0", along("load", 3e3, 1e3, 20.0))
        expected = 10.0**power * np.array([0.75, 0.5, 1 / 51])
        found = ac.node_size(net, "out", HERTZ[:1]).values[:, 0]
        np.testing.assert_allclose(found, expected, rtol=1e-12)


@pytest.mark.parametrize("dims", [("row", "column"), ("column", "row")])
def test_values_of_many_decades_at_one_frequency(dims):
    """Rows or columns are split, for there is no band to split: every setting has its digits."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", along("column", 1e-6, 1.0, 1e12))
    net.resistor("S", "a", "0", along("row", 1e-9, 1e3, 1e9))
    net.resistor("T", "a", "out", along("column", 1e9, 1e-6, 1.0))
    net.capacitor("C", "out", "0", along("row", 1e-15, 1e-3, 1e-9))
    got = ac.node_voltage(net, "out", np.array([1e3]), dims=dims)
    with oracle.fifty_digits():
        for place, single in oracle.single_settings(net):
            expected = oracle.voltage(single, "out", 1e3)
            assert got.isel(place).item() == pytest.approx(expected, rel=1e-11)


def test_a_frequency_beyond_all_numbers_is_refused():
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 1e3)
    net.inductor("coil", "out", "0", 2.0)
    with pytest.raises(NoSolution) as refused:
        ac.node_voltage(net, "out", np.array([20.0, 1e300]))
    assert str(refused.value) == (
        "coil: has no impedance that a number can hold at 1e+300 Hz; leave out frequencies so far "
        "from the audible, or check its value."
    )


def test_the_least_capacitance_is_nothing():
    """A cable of 1e-20 m, say."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 1e3)
    net.resistor("load", "out", "0", 3e3)
    net.capacitor("cable", "out", "0", along("cable", 1e-9, 1e-30))
    found = ac.node_voltage(net, "out", np.array([30.0, 1e4])).isel(cable=1).values
    np.testing.assert_allclose(found, 0.75, rtol=1e-14)


def test_what_rounding_alone_decides_is_refused():
    """At a resonance of Q 1e9 the ninth digit of a value decides the first of the answer."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("loss", "in", "a", 1e-6)
    net.inductor("coil", "a", "out", 1.0)
    net.capacitor("C", "out", "0", 1e-6)
    resonance = 1e3 / (2 * np.pi)
    with pytest.raises(NoSolution) as refused:
        ac.node_voltage(net, "out", np.array([resonance]))
    assert str(refused.value) == (
        "circuit: rounding leaves fewer than nine digits from 159.155 to 159.155 Hz, where "
        "voltages nearly cancel or impedances reach from loss to coil over many decades; leave out "
        "what is negligible, as 0 ohm or open, or these frequencies."
    )
    for other in (70.0, 300.0):
        for band in ([other, resonance], [resonance, other]):
            with pytest.raises(NoSolution, match="nine digits"):
                ac.node_voltage(net, "out", np.array(band))
    # In a band with nothing of that kind the same circuit has its nine digits.
    found = ac.node_voltage(net, "out", np.array([100.0])).item()
    assert found == pytest.approx(oracle.voltage(net, "out", 100.0), rel=1e-12)


def forty_designs(henry):
    """A resonance without much loss, and nine resistors; all but the capacitors differ."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("loss", "in", "a", 1e-6)
    net.inductor("coil", "a", "out", xr.Variable("design", henry))
    net.capacitor("C", "out", "0", 1e-6)
    nodes = ["out", *(f"n{number}" for number in range(9))]
    values = np.random.default_rng(5).uniform(1e3, 2e3, (9, 40))
    for a, b, ohms in zip(nodes, nodes[1:], values, strict=False):
        net.resistor(b, a, b, xr.Variable("design", ohms))
    net.capacitor("end", "n8", "0", 1e-14)
    return net


@pytest.mark.parametrize("design", [0, 11, 24, 39])
def test_rounding_is_seen_in_every_row_of_settings(design):
    """One of forty designs, not one of extreme values, is at a resonance of Q 1e9."""
    hertz = np.array([70.0, 90.0, 1e3 / (2 * np.pi)])
    henry = np.linspace(0.5, 1.6, 40)
    net = forty_designs(henry)
    found = ac.node_voltage(net, "out", hertz).values
    for (_, single), volts in zip(oracle.single_settings(net), found, strict=True):
        expected = [oracle.voltage(single, "out", f) for f in hertz]
        np.testing.assert_allclose(volts, expected, rtol=1e-11)
    henry[design] = 1.0
    with pytest.raises(NoSolution, match="nine digits from 70 to 159.155 Hz"):
        ac.node_voltage(forty_designs(henry), "out", hertz)


@pytest.mark.parametrize(
    ("part", "place"),
    [("loss", 7), ("coil", 11), ("middle", 0), ("middle", 20), ("middle", 39)],
)
def test_rounding_is_seen_at_a_setting_among_many(part, place):
    """Along a knob: the least of its values, the largest, and whatever stands first and last."""
    hertz = np.array([70.0, 90.0, 1e3 / (2 * np.pi)])
    loss = np.linspace(3.0, 4.0, 40) if part == "loss" else np.full(40, 1e-6)
    henry = np.resize({"loss": [1.0], "coil": [0.5, 0.4], "middle": [1.2, 0.8]}[part], 40)
    loss[place], henry[place] = 1e-6, 1.0
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("loss", "in", "a", xr.Variable("knob", loss))
    net.inductor("coil", "a", "out", xr.Variable("knob", henry))
    net.capacitor("C", "out", "0", along("design", 1e-6, 2e-7))
    for dims in (("design", "knob"), ("knob", "design")):
        with pytest.raises(NoSolution, match="nine digits from 70 to 159.155 Hz"):
            ac.node_voltage(net, "out", hertz, dims=dims)


def test_two_knobs_that_turn_hum_down_together():
    """Two coils against each other: silent wherever both knobs stand alike, and never refused."""
    net = Netlist()
    for number, (name, sign) in enumerate((("neck", 1.0), ("bridge", -1.0))):
        net.source(f"{name} V", f"{name} in", "0", sign)
        net.resistor(f"{name} R", f"{name} in", f"{name} hot", 6e3)
        net.inductor(f"{name} L", f"{name} hot", f"{name} end", 2.5)
        mark = along(f"mark {number}", 0.1, 0.37, 0.9)
        net.resistor(f"{name} upper", f"{name} end", "out", 250e3 * (1 - mark))
        net.resistor(f"{name} lower", "out", "0", 250e3 * mark)
    net.capacitor("cable", "out", "0", 5e-10)
    found = np.abs(ac.node_voltage(net, "out", HERTZ).values)
    alike = np.eye(3, dtype=bool)
    assert (found[alike] == 0).all()
    assert found[~alike].min() > 1e-3


def test_harnesses_with_values_many_decades_apart():
    """A sample of the campaign in tools/fuzz, against 50 digits."""
    tally = against_fifty_digits(seed=9, count=5, decades=4)  # of which most sound
    assert tally.wrong == []
    assert tally.refused == []
    assert tally.silent < 0.8 * tally.settings
    assert 0 < tally.largest < 1e-12


# -- what is refused, and the shape of answers ----------------------------------------------------


@pytest.mark.parametrize(
    "bad", [[], [1.0, -1.0], [-1.0, 1.0], [1.0, np.nan], [np.inf, 1.0], [[1.0]], 5.0, [1j], ["x"]]
)
@pytest.mark.parametrize("ask", [ac.node_voltage, ac.node_size, ac.node_impedance])
def test_what_is_no_list_of_frequencies(ask, bad):
    with pytest.raises(BadSetting) as refused:
        ask(guitar(), "out", np.array(bad))
    assert str(refused.value) == (
        "frequency: is no list of frequencies; give an array of numbers in hertz, from 0, in one "
        "dimension."
    )


def test_kinds_of_answers():
    """Whole numbers are frequencies too; any order; one frequency; no dimension."""
    net = Netlist()
    net.source("in", "in", "0", 2.0)
    net.resistor("R", "in", "out", 1e3)
    net.capacitor("C", "out", "0", 1e-6)
    hertz = np.array([5000, 0, 100, 0, 30])
    volts, sizes = ac.node_voltage(net, "out", hertz), ac.node_size(net, "out", hertz)
    ohms = ac.node_impedance(net, "out", hertz)
    below = 1 + 2j * np.pi * hertz * 1e-3
    np.testing.assert_allclose(volts.values, 2 / below, rtol=1e-14)
    np.testing.assert_allclose(sizes.values, np.abs(2 / below), rtol=1e-14)
    np.testing.assert_allclose(ohms.values, 1e3 / below, rtol=1e-14)
    assert [found.dtype for found in (volts, sizes, ohms)] == [complex, float, complex]
    assert volts.dims == sizes.dims == ohms.dims == ("frequency",)
    for ask in (ac.node_voltage, ac.node_size, ac.node_impedance):
        with pytest.raises(BadHarness, match="node 'nowhere': is not in the netlist"):
            ask(net, "nowhere", hertz)


@pytest.mark.parametrize("ask", [ac.node_voltage, ac.node_size])
def test_a_lossless_resonance_exactly_at_a_frequency(ask):
    """With R C = 1 / w the sum 1 + s L s C is 0 to the last digit."""
    hertz = 1 / (2 * np.pi)
    net = Netlist()
    net.source("in", "in", "0")
    net.inductor("L", "in", "out", 1.0)
    net.capacitor("C", "out", "0", 1.0)
    with pytest.raises(NoSolution) as refused:
        ask(net, "out", np.array([hertz]))
    assert str(refused.value) == (
        "circuit: has no unique answer around in, L, C; look for sources in parallel or a lossless "
        "resonance exactly at a frequency."
    )


@pytest.mark.parametrize("ask", [ac.node_voltage, ac.node_size])
def test_two_lossless_traps_at_their_resonance(ask):
    """Both are shorts exactly there: any current may go round between them."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 1.0)
    for name in "ab":
        net.inductor(f"L{name}", "out", name, 1.0)
        net.capacitor(f"C{name}", name, "0", 1.0)
    with pytest.raises(NoSolution, match="has no unique answer around in, R, La, Ca, Lb, Cb"):
        ask(net, "out", np.array([1 / (2 * np.pi)]))


def test_shorts_and_opens_of_a_part_that_differ_both_ways():
    """Zeros that change with the row and the column, and with either alone."""
    for table in (
        [[0.0, 1e3, 2e3], [1e3, 0.0, np.inf]],
        [[0.0, 1e3, np.inf]] * 2,
        [[0.0] * 3, [1e3, 2e3, 3e3]],
        [[np.inf, 0.0, 3e3], [np.inf, 0.0, 5e3]],
        [[0.0, 0.0, 3e3], [1e3, 1e3, 5e3], [np.inf, 2e3, 0.0]],
    ):
        net = Netlist()
        net.source("in", "in", "0")
        net.resistor("R", "in", "a", along("row", *range(1, len(table) + 1)) * 1e3)
        net.resistor("both", "a", "out", xr.Variable(("row", "column"), table))
        net.resistor("far", "a", "out", along("column", 7e3, 8e3, 9e3))
        net.capacitor("C", "out", "0", 1e-8)
        net.resistor("load", "out", "0", 5e4)
        check(net, hertz=np.array([0.0, *HERTZ]))


def test_shorts_and_opens_of_one_part_in_rows_of_many_columns():
    """A part that is a short, live and open along one dimension, and scaled along another."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", sample(1e3, 2e3))
    net.resistor("both", "a", "out", sample(1.0, 1.5) * mark(0.0, 1e3, 5e3, np.inf, 7e3))
    net.capacitor("C", "out", "0", sample(1e-8, 2e-8) * mark(1.0, 0.0, 2.0, 1.0, 3.0))
    net.resistor("load", "out", "0", 5e4)
    net.resistor("leak", "in", "out", 1e6)
    check(net, hertz=np.array([0.0, *HERTZ]))


def test_coupled_coils_along_two_dimensions():
    """Either coil and what is behind it, along rows and columns."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", along("mark", 1e3, 2e3, 4e3))
    net.inductor("one", "a", "0", along("coil", 0.5, 0.7, 0.9))
    net.inductor("other", "b", "0", along("turn", 0.4, 0.6))
    net.mutual("k", "one", "other", 0.3)
    net.resistor("R2", "b", "out", along("mark", 0.0, 3e3, 1e3))
    net.capacitor("C", "out", "0", 1e-8)
    net.resistor("load", "out", "0", along("load", 1e4, 2e4))
    check(net)


def test_a_coil_that_vanishes_with_its_coupling():
    """Two coils that share a magnet in two designs, and one alone in the third."""
    for dims in ((), ("load", "coil")):
        net = Netlist()
        net.source("in", "in", "0")
        net.resistor("R", "in", "a", 1e3)
        net.inductor("one", "a", "0", 0.8)
        net.inductor("other", "b", "0", along("coil", 0.4, 0.6, 0.0))
        net.mutual("k", "one", "other", along("coil", 0.3, 0.2, 0.0))
        net.resistor("R2", "b", "out", along("load", 2e3, 3e3))
        net.resistor("R3", "a", "out", 5e3)
        net.capacitor("C", "out", "0", 1e-8)
        check(net, dims=dims)


def test_two_designs_at_more_points_than_are_evaluated_at_once():
    """A low-pass with its closed form, at 900 frequencies and 24 marks."""
    hertz = np.geomspace(20, 20e3, 900)
    ohms, farad = np.linspace(1e3, 1e5, 24), np.array([1e-9, 3e-9])
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", xr.Variable("mark", ohms))
    net.capacitor("C", "out", "0", xr.Variable("design", farad))
    for dims in (("design", "mark"), ("mark", "design")):
        got = ac.node_voltage(net, "out", hertz, dims=dims).transpose("mark", "design", "frequency")
        expected = 1 / (1 + 2j * np.pi * hertz * ohms[:, None, None] * farad[:, None])
        np.testing.assert_allclose(got.values, expected, rtol=1e-13)


def test_more_frequencies_than_are_evaluated_at_once():
    """A low-pass with its closed form, at 70,000 frequencies."""
    hertz, ohms = np.linspace(20, 20e3, 70_000), np.array([1e3, 5e4])
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", xr.Variable("mark", ohms))
    net.capacitor("C", "out", "0", 1e-9)
    expected = 1 / (1 + 2j * np.pi * hertz * ohms[:, None] * 1e-9)
    np.testing.assert_allclose(ac.node_voltage(net, "out", hertz).values, expected, rtol=1e-12)


def test_impedances_along_dimensions():
    """Against the oracle's, shorts and opens among them; infinite where no current can flow."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", sample(1e3, 2e3, 0.0))
    net.resistor("series", "a", "out", mark(0.0, 5e3, np.inf))
    net.capacitor("C", "a", "0", 1e-8)
    got = ac.node_impedance(net, "out", HERTZ)
    for place, single in oracle.single_settings(net):
        found = got.isel(place).values
        if place["mark"] == 2:
            assert (found == np.inf).all()
            continue
        expected = [oracle.impedance(single, "out", f) for f in HERTZ]
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-12)


def test_a_band_and_values_of_many_decades():
    """From 1 mHz to 10 MHz, from 1 milliohm to 1 gigohm."""
    hertz = np.geomspace(1e-3, 1e7, 11)
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", along("ohms", 1e-3, 1.0, 1e6))
    net.inductor("L", "a", "b", along("henry", 1e-6, 3.0))
    net.resistor("damp", "b", "0", 1e9)
    net.capacitor("C", "b", "0", along("farad", 1e-12, 1e-6))
    net.resistor("S", "b", "out", along("ohms", 1e5, 1e-2, 10.0))
    net.capacitor("end", "out", "0", 1e-10)
    for dims in ((), ("farad", "henry", "ohms")):
        got = ac.node_voltage(net, "out", hertz, dims=dims)
        sizes = ac.node_size(net, "out", hertz, dims=dims)
        for place, single in oracle.single_settings(net):
            expected = np.array([oracle.voltage(single, "out", f) for f in hertz])
            np.testing.assert_allclose(got.isel(place).values, expected, rtol=1e-8)
            np.testing.assert_allclose(sizes.isel(place).values, np.abs(expected), rtol=1e-8)


@pytest.mark.parametrize(("ohms", "farad"), [(1e-6, 1e-6), (1e-7, 4e-6)])
def test_a_refusal_names_band_and_parts(ohms, farad):
    """The part of the least impedance and that of the most, over the part of the band."""
    resonance = 1 / (2 * np.pi * np.sqrt(farad))
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("loss", "in", "a", ohms)
    net.inductor("coil", "a", "out", 1.0)
    net.capacitor("C", "out", "0", farad)
    net.resistor("between", "in", "out", 1e7)
    with pytest.raises(NoSolution) as refused:
        ac.node_voltage(net, "out", np.array([resonance, resonance / 2, resonance * 2]))
    said = str(refused.value)
    assert f"from {resonance / 2:g} to {resonance * 2:g} Hz" in said
    assert "reach from loss to between over" in said


def test_a_refusal_names_the_least_and_the_most_of_the_whole_band():
    """A coil is the least at the lower end only, a capacitor the most there only."""
    resonance = 1e3 / (2 * np.pi)  # where either has 1 kilohm
    net = Netlist()
    net.source("in", "in", "0")
    net.inductor("coil", "in", "mid", 1.0)
    net.capacitor("C", "mid", "0", 1e-6)
    net.follower("buffer", "far", "0", "mid", "0")
    net.resistor("upper", "far", "out", 1700.0)
    net.resistor("lower", "out", "0", 600.0)
    hertz = resonance * np.array([0.5, 1 + 1e-9, 1.5])
    with pytest.raises(NoSolution, match="reach from coil to C over many decades"):
        ac.node_voltage(net, "out", hertz)


@pytest.mark.parametrize("swept", [False, True])
def test_a_node_between_capacitors_floats_at_0_hz(swept):
    """No current flows at 0 Hz: 0 V there, infinite ohms; a divider by charge above it."""
    net = Netlist()
    net.source("in", "in", "0")
    net.capacitor("upper", "in", "out", mark(1e-9, 3e-9) if swept else 1e-9)
    net.capacitor("lower", "out", "0", mark(1e-9, 1e-9) if swept else 1e-9)
    volts = ac.node_voltage(net, "out", np.array([0.0, 100.0])).values
    assert (volts[..., 0] == 0).all()
    assert volts[..., 1].ravel() == pytest.approx([0.5, 0.75][: 1 + swept], rel=1e-14)
    assert np.isinf(ac.node_impedance(net, "out", np.array([0.0])).values).all()


def test_more_settings_than_are_looked_at():
    """Rows and columns are many, with zeros and opens among them, and other sources."""
    net = Netlist()
    marks = xr.Variable("mark", np.linspace(0, 1, 14))
    rows = xr.Variable("design", np.linspace(0.5, 3.0, 13))
    net.source("string", "start", "0")
    net.resistor("coil R", "start", "wire", 6e3)
    net.inductor("coil L", "wire", "hot", 2.5)
    net.resistor("upper", "hot", "out", 250e3 * (1 - marks))
    net.resistor("lower", "out", "0", 250e3 * marks)
    net.capacitor("cable", "out", "0", 1e-9 * rows)
    net.source("hum", "hum", "0", 0.3)
    net.resistor("hum R", "hum", "hot", 1e6 * rows)
    check(net)
