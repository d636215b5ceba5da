"""The batched solver against a plain dense one, setting by setting, frequency by frequency."""

from __future__ import annotations

import numpy as np
import oracle
import pytest
import xarray as xr
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet.circuit.netlist import Netlist
from guitarnet.solve import ac
from guitarnet.study.response.response import node_at

FREQUENCY = np.geomspace(20, 20e3, 5)


def check(
    net: Netlist,
    output: str,
    frequency,
    *,
    relative: float,
    of_maximum: float,
    agreement=None,
    what="",
) -> int:
    """Compare every setting of a netlist; give the number of settings."""
    got = ac.node_voltage(net, output, frequency)
    count = 0
    for place, single in oracle.single_settings(net):
        expected = np.array([oracle.voltage(single, output, f) for f in frequency])
        found = got.isel(place).values
        error = np.abs(found - expected)
        assert (found[expected == 0] == 0).all()
        # Where nearly all of 1 V cancels, the last digits of that volt are left.
        assert error.max() <= of_maximum * np.abs(expected).max() + 1e-15
        assert (error <= relative * np.abs(expected)).all()
        if agreement:
            agreement("a dense tableau", what, found, expected)
        count += 1
    return count


def test_oracle_itself():
    """The oracle knows a divider, a corner and an open without the package's solver."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 1e3)
    net.capacitor("C", "out", "0", 1e-6)
    net.resistor("lonely", "a", "b", 5.0)
    corner = 1 / (2 * np.pi * 1e3 * 1e-6)
    assert oracle.voltage(net, "out", corner) == pytest.approx(0.5 - 0.5j, rel=1e-15)
    assert oracle.voltage(net, "out", 0.0) == 1
    assert oracle.voltage(net, "a", corner) == 0
    assert oracle.impedance(net, "a", corner) == np.inf
    assert oracle.impedance(net, "out", 0.0) == 1e3


def test_single_settings_of_random_guitars(draws):
    """One setting each, knobs anywhere, both ends among them."""
    for drawn in random_guitars(20, draws(24, 150)):
        net = drawn.guitar.netlist(**drawn.marks)
        output = node_at(drawn.guitar, drawn.at)
        check(net, output, FREQUENCY, relative=1e-9, of_maximum=1e-11)


def test_swept_random_guitars(agreement, draws):
    """Knobs and cable swept together, pot ends and no cable among the values."""
    settings = 0
    for drawn in random_guitars(1, guitars := draws(6, 60)):
        sweeps = {knob: [10, 7.3, 0] for knob in drawn.marks} | {"cable.length": [0, 5]}
        net = drawn.guitar.netlist(**sweeps)
        output = node_at(drawn.guitar, drawn.at)
        told = {"agreement": agreement, "what": "one pickup: knobs and cable swept"}
        settings += check(net, output, FREQUENCY, relative=1e-9, of_maximum=1e-10, **told)
    assert settings > 15 * guitars


def test_pot_ends_in_every_combination(draws):
    """Exact zeros: knobs at the ends only."""
    for drawn in random_guitars(2, draws(12, 48), travel="ends"):
        net = drawn.guitar.netlist(**{knob: [0, 10] for knob in drawn.marks})
        check(net, node_at(drawn.guitar, drawn.at), FREQUENCY, relative=1e-9, of_maximum=1e-10)


def test_direct_current(draws):
    """0 Hz beside other frequencies, where capacitors are open and inductors shorts."""
    for drawn in random_guitars(3, draws(6, 48)):
        net = drawn.guitar.netlist(**{knob: [0, 4, 10] for knob in drawn.marks})
        output = node_at(drawn.guitar, drawn.at)
        check(net, output, np.array([0.0, 1000.0]), relative=1e-9, of_maximum=1e-10)


def test_more_swept_values_than_one_polynomial_takes(draws):
    """Twelve values swept along one dimension go through blocks of settings."""
    rng = np.random.default_rng(4)
    for drawn in random_guitars(4, draws(2, 24)):
        paths = [
            "pickup.resistance",
            "pickup.inductance",
            "pickup.capacitance",
            "volume.resistance",
            "cable.capacitance_per_metre",
            "amp.resistance",
            "amp.grid_resistance",
            "amp.capacitance",
            "volume.track",
        ]
        values = {}
        for path in paths:
            name, field = path.split(".")
            usual = getattr(drawn.guitar.parts[name], field, None) or 1e-10
            scale = rng.uniform(0, 1, 40) if field == "track" else 10 ** rng.uniform(-1, 0.3, 40)
            values[path] = xr.Variable("sample", scale if field == "track" else usual * scale)
        net = drawn.guitar.netlist(**values)
        assert sum(isinstance(branch.value, xr.Variable) for branch in net) >= 9
        got = check(net, node_at(drawn.guitar, "grid"), FREQUENCY, relative=1e-9, of_maximum=1e-10)
        assert got == 40


def test_lossy_capacitors_swept():
    """A dissipation factor that is the same at every frequency, swept and fixed."""
    bleed = gn.Capacitor("1n", dissipation_factor=0.03)
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed=bleed)
    net = guitar.netlist(
        volume=[0, 3, 10], **{"tone_capacitor.dissipation_factor": [0, 0.002, 0.05]}, tone=2
    )
    assert check(net, node_at(guitar, "amp"), FREQUENCY, relative=1e-9, of_maximum=1e-11) == 9


def test_extreme_values():
    """A milliohm beside gigohms, a femtofarad beside a microfarad."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("wire", "in", "a", 1e-3)
    net.inductor("coil", "a", "b", 1e3)
    net.capacitor("stray", "b", "0", 1e-15)
    net.resistor("leak", "b", "0", 1e12)
    net.resistor("joint", "b", "c", xr.Variable("joint", np.array([0.0, 1e-6, 1.0, 1e12])))
    net.capacitor("big", "c", "0", xr.Variable("big", np.array([0.0, 1e-15, 1e-3])))
    net.resistor("load", "c", "0", 1e9)
    assert check(net, "c", FREQUENCY, relative=1e-9, of_maximum=1e-9) == 12


def test_parallel_wires_and_everything_open():
    """Two wires of 0 ohm side by side are one joint; with every path open nothing is heard."""
    ohms = xr.Variable("ohms", np.array([0.0, 5.0, np.inf]))
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("one", "in", "out", ohms)
    net.resistor("other", "in", "out", ohms)
    net.resistor("load", "out", "0", xr.Variable("load", np.array([10.0, np.inf])))
    got = ac.node_voltage(net, "out", np.array([0.0, 100.0])).transpose("ohms", "load", "frequency")
    expected = np.array([[1.0, 1.0], [0.8, 1.0], [0.0, 0.0]])
    np.testing.assert_allclose(got.values, expected[:, :, None] + 0j * np.ones(2), rtol=1e-15)
    for place, single in oracle.single_settings(net):
        assert oracle.voltage(single, "out", 100.0) == pytest.approx(
            got.isel(place).values[1], rel=1e-15
        )


def test_impedance_at_the_jack(draws):
    """Looking in with every source at rest, knobs at the ends too."""
    for drawn in random_guitars(5, draws(4, 48)):
        sweeps = {knob: [0, 4, 10] for knob in drawn.marks}
        got = gn.impedance(drawn.guitar, frequency=FREQUENCY, at="amp", **sweeps)
        net = drawn.guitar.netlist(**sweeps)
        output = node_at(drawn.guitar, "amp")
        for place, single in oracle.single_settings(net):
            found = got.isel(place).values
            for f, ohms in zip(FREQUENCY, found, strict=True):
                expected = oracle.impedance(single, output, f)
                assert abs(ohms - expected) <= 1e-9 * abs(expected)


def test_no_load_pot_by_its_track():
    """A track fraction says where on the track the wiper stands: it cannot be past its end."""
    tone = gn.Pot("250k", gn.no_load(gn.audio_taper(0.15)))
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), tone=tone)
    on_track = gn.response(guitar, frequency=2500.0, **{"tone.track": 1})
    plain = guitar.replace("tone", gn.Pot("250k", gn.audio_taper(0.15)))
    assert on_track.item() == gn.response(plain, frequency=2500.0, tone=10).item()
    open_tone = gn.response(guitar, frequency=2500.0, tone=10).item()
    none = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), tone=None)
    assert open_tone == pytest.approx(gn.response(none, frequency=2500.0).item(), rel=1e-13)
    assert abs(open_tone) > abs(on_track.item())
