"""Laws that every passive circuit keeps, on random circuits and random guitars."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st
from random_guitars import BLEEDS as FORMS, random_guitar

from guitarnet import (
    AmpInput,
    Cable,
    Harness,
    Jack,
    Pickup,
    Pot,
    Resistor,
    audio_taper,
    bleed,
    impedance,
    jack_resistance,
    layouts,
    linear_taper,
    response,
)
from guitarnet.circuit.layouts import WIRINGS
from guitarnet.formulas import Netlist
from guitarnet.gate import insisting
from guitarnet.solve import ac

HERTZ = np.array([30.0, 440.0, 2.5e3, 7e3, 19e3])


def decades(low, high):
    """Values spread evenly over decades."""
    return st.floats(np.log10(low), np.log10(high)).map(lambda power: 10**power)


VALUES = {"R": decades(1e3, 1e6), "L": decades(0.1, 10), "C": decades(1e-10, 1e-7)}


@st.composite
def circuits(draw):
    """Branches (kind, a, b, value) over two to five nodes and ground, every node reached."""
    names = ["0", *"abcde"[: draw(st.integers(2, 5))]]
    tree = [(names[draw(st.integers(0, i - 1))], names[i]) for i in range(1, len(names))]
    pairs = st.lists(st.sampled_from(names), min_size=2, max_size=2, unique=True)
    extra = draw(st.lists(pairs, max_size=6))
    branches = []
    for a, b in [*tree, *extra]:
        kind = draw(st.sampled_from("RLC"))
        branches.append((kind, a, b, draw(VALUES[kind])))
    return branches


def netlist(branches, scale=1.0):
    net = Netlist()
    for i, (kind, a, b, value) in enumerate(branches):
        add = {"R": net.resistor, "L": net.inductor, "C": net.capacitor}[kind]
        add(f"{kind}{i}", a, b, value / scale if kind == "C" else value * scale)
    return net


def ohms(kind, value, hertz):
    s = 2j * np.pi * hertz
    return {"R": value + 0 * s, "L": s * value, "C": 1 / (s * value)}[kind]


@given(circuits())
def test_re_z_is_never_negative(branches):
    """A passive circuit gives no power away."""
    z = ac.node_impedance(netlist(branches), "b", HERTZ).values
    assert (z.real >= -1e-9 * np.abs(z)).all()


@given(circuits(), decades(1e-2, 1e2))
def test_impedance_scaling(branches, scale):
    """R and L times k and C over k: impedances grow by k, voltage ratios stay."""
    z = [ac.node_impedance(netlist(branches, k), "b", HERTZ).values for k in (1, scale)]
    assert z[1] == pytest.approx(scale * z[0], rel=1e-9, abs=1e-9 * scale * np.abs(z[0]).max())
    ratios = []
    for k in (1, scale):
        net = netlist(branches, k)
        net.source("in", "in", "0")
        net.resistor("drive", "in", "a", 1e4 * k)
        ratios.append(ac.node_voltage(net, "b", HERTZ).values)
    assert ratios[1] == pytest.approx(ratios[0], rel=1e-10, abs=1e-14)


@given(circuits(), decades(1e3, 1e6), decades(1e3, 1e6))
def test_reciprocity(branches, r_a, r_b):
    """1 V in the branch at a drives the current at b that 1 V in the branch at b drives at a."""
    currents = []
    for here, there, r_here, r_there in (("a", "b", r_a, r_b), ("b", "a", r_b, r_a)):
        net = netlist(branches)
        net.source("in", "in", "0")
        net.resistor("r_here", "in", here, r_here)
        net.resistor("r_there", there, "0", r_there)
        currents.append(ac.node_voltage(net, there, HERTZ).values / r_there)
    assert currents[0] == pytest.approx(currents[1], rel=1e-10, abs=1e-18)


@given(circuits())
def test_currents_sum_to_nothing_at_every_node(branches):
    """Kirchhoff's current law, from the voltages that are asked one node at a time."""
    net = netlist(branches)
    net.source("in", "in", "0")
    net.resistor("drive", "in", "a", 1e4)
    volts = {node: ac.node_voltage(net, node, HERTZ).values for node in net.nodes() if node != "0"}
    volts["0"] = np.zeros(HERTZ.size, dtype=complex)
    assert volts["in"] == pytest.approx(np.ones(HERTZ.size), rel=1e-15)
    for node in set(volts) - {"0", "in"}:
        total, size = np.zeros(HERTZ.size, dtype=complex), np.zeros(HERTZ.size)
        for kind, a, b, value in [*branches, ("R", "in", "a", 1e4)]:
            if node in (a, b):
                current = (volts[a] - volts[b]) / ohms(kind, value, HERTZ)
                total += current if node == a else -current
                size += (np.abs(volts[a]) + np.abs(volts[b])) / np.abs(ohms(kind, value, HERTZ))
        assert (np.abs(total) <= 1e-9 * size).all()


@given(circuits(), st.randoms(use_true_random=False))
def test_the_order_of_branches_does_not_matter(branches, rng):
    z = ac.node_impedance(netlist(branches), "b", HERTZ).values
    mixed = [(k, b, a, v) if rng.random() < 0.5 else (k, a, b, v) for k, a, b, v in branches]
    rng.shuffle(mixed)
    assert ac.node_impedance(netlist(mixed), "b", HERTZ).values == pytest.approx(z, rel=1e-9)


# -- guitars --------------------------------------------------------------------------------------

COILS = st.builds(Pickup, decades(2e3, 2e4), decades(1, 10), decades(30e-12, 300e-12))
POTS = st.builds(
    Pot,
    st.sampled_from(["250k", "500k", "1M"]),
    st.one_of(st.builds(audio_taper, st.floats(0.05, 0.5)), st.just(linear_taper())),
)
BLEEDS = st.sampled_from([None, "1n", "150k || 1n", "1.2n + 130k", "100k + (1n || 470k)"])
MARKS = st.one_of(st.sampled_from([0.0, 5.0, 10.0]), st.floats(1e-30, 10))


@st.composite
@insisting(True)  # any value that a part can have
def ideal_guitars(draw):
    """Guitars whose pots end in exact wires."""
    return layouts.one_pickup(
        draw(COILS),
        volume=draw(POTS),
        tone=draw(POTS),
        tone_capacitor=draw(st.sampled_from(["10n", "22n", "47n", "100n"])),
        treble_bleed=draw(BLEEDS),
        wiring=draw(st.sampled_from(WIRINGS)),
        cable=Cable(draw(st.floats(1e-30, 10))),
        amp=AmpInput(draw(decades(1e5, 1e7))),
    )


def drawn_guitar(seed):
    wiring = WIRINGS[seed % len(WIRINGS)]
    form = FORMS[seed // len(WIRINGS) % len(FORMS)]
    return random_guitar(np.random.default_rng(seed), wiring, form)


DRAWN = st.integers(0, 10_000).map(drawn_guitar)
"""Guitars of every wiring and form of bleed, with losses, end resistances, no-load pots."""


@given(DRAWN)
def test_no_more_power_than_a_coil_can_give(drawn):
    """|H|^2 / R_amp <= 1 V^2 / (4 R_coil): the amp gets at most the power that is available."""
    h = response(drawn.guitar, frequency=HERTZ, **drawn.marks)
    parts = drawn.guitar.parts
    coil, amp = parts["pickup"].resistance, parts["amp"].resistance
    assert (np.abs(h) <= 0.5 * np.sqrt(amp / coil) * (1 + 1e-12)).all()


@given(DRAWN)
def test_a_guitar_looks_passive_from_the_jack(drawn):
    z = impedance(drawn.guitar, frequency=HERTZ, **drawn.marks).values
    assert (z.real >= -1e-9 * np.abs(z)).all()
    assert float(jack_resistance(drawn.guitar, **drawn.marks)) >= 0


@given(DRAWN)
def test_no_more_than_the_source_at_0_hz(drawn):
    """At 0 Hz there are only resistors: |H| <= 1 for a source of 1 V."""
    h = response(drawn.guitar, frequency=[0.0], volume=[10, 5, 0])
    assert (np.abs(h) <= 1).all()
    assert (h.imag == 0).all()


def with_resistors(guitar, name, upper, lower):
    """The same guitar with a pot's two halves as fixed resistors (0 is a wire)."""
    parts = {key: part for key, part in guitar.parts.items() if key != name}
    parts |= {f"{name}_upper": Resistor(upper), f"{name}_lower": Resistor(lower)}
    lugs = {
        f"{name}.high": [f"{name}_upper.a"],
        f"{name}.wiper": [f"{name}_upper.b", f"{name}_lower.a"],
        f"{name}.low": [f"{name}_lower.b"],
    }
    joined = [[new for lug in joint for new in lugs.get(lug, [lug])] for joint in guitar.joined]
    opened = [new for lug in guitar.open_lugs for new in lugs.get(lug, [lug])]
    return Harness(parts, joined, opened)


@given(ideal_guitars(), st.sampled_from([0, 3, 10]), st.sampled_from(["volume", "tone"]), MARKS)
def test_a_pot_is_two_resistors_and_its_ends_are_wires(guitar, mark, name, other_mark):
    pot = guitar.parts[name]
    track = pot.taper(mark / 10)
    fixed = with_resistors(guitar, name, pot.resistance * (1 - track), pot.resistance * track)
    other = {"volume": "tone", "tone": "volume"}[name]
    found = response(guitar, frequency=HERTZ, **{name: mark, other: other_mark}).values
    expected = response(fixed, frequency=HERTZ, **{other: other_mark}).values
    assert found == pytest.approx(expected, rel=1e-11, abs=1e-15)


@given(ideal_guitars(), MARKS)
def test_marks_next_to_the_ends_approach_them(guitar, tone):
    """The ends are structure, not numbers; nothing jumps on the way there."""
    h = response(guitar, frequency=HERTZ, volume=[0, 1e-7, 10 - 1e-9, 10], tone=tone).values
    size = np.abs(h).max()
    assert np.abs(h[1] - h[0]).max() < 1e-4 * size
    assert np.abs(h[2] - h[3]).max() < 1e-4 * size


@given(ideal_guitars(), MARKS)
def test_a_volume_at_0_is_silent(guitar, tone):
    """The output lies on ground, or the pickup does (independent): exactly 0."""
    assert (response(guitar, frequency=HERTZ, volume=0, tone=tone).values == 0).all()


@given(ideal_guitars(), st.randoms(use_true_random=False))
def test_the_order_of_joints_does_not_matter(guitar, rng):
    joints = [tuple(rng.sample(joint, len(joint))) for joint in guitar.joined]
    rng.shuffle(joints)
    mixed = Harness(guitar.parts, joints, guitar.open_lugs)
    marks = {"volume": [10, 4.5, 0], "tone": [10, 3, 0]}
    expected = response(guitar, frequency=HERTZ, **marks).values
    assert response(mixed, frequency=HERTZ, **marks).values == pytest.approx(
        expected, rel=1e-11, abs=0
    )


def test_a_jack_that_touches_nothing():
    """Every joint opened: no voltage, no current, no error; a meter reads "OL"."""
    parts = {"pickup": Pickup("6.2k", "2.4 H", "120p"), "jack": Jack()}
    lugs = ["pickup.hot", "pickup.ground", "jack.tip", "jack.sleeve"]
    harness = Harness(parts, open_lugs=lugs)
    assert np.isposinf(float(jack_resistance(harness)))
    assert np.isposinf(impedance(harness, frequency=HERTZ).values.real).all()
    assert (response(harness, frequency=HERTZ).values == 0).all()


@given(BLEEDS, st.sampled_from(WIRINGS))
def test_a_bleed_does_nothing_at_10_with_an_ideal_pot(written, wiring):
    """It lies across 0 ohm; with an end resistance it does not."""
    coil = Pickup("6.2k", "2.4 H", "120p")
    with_it, without = (
        layouts.one_pickup(coil, treble_bleed=b, wiring=wiring) for b in (bleed(written), None)
    )
    expected = response(without, frequency=HERTZ).values
    assert response(with_it, frequency=HERTZ).values == pytest.approx(expected, rel=1e-12)
