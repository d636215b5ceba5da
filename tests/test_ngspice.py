"""Against ngspice, an independent circuit simulator: generated guitars, all wirings and bleeds."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from random_guitars import BLEEDS, random_guitars

import guitarnet as gn
from guitarnet.circuit.layouts import WIRINGS
from guitarnet.circuit.netlist import Netlist
from guitarnet.errors import BadSetting, NoSolution, NotExpressible, NotInstalled
from guitarnet.solve import ac
from guitarnet.solve.spice import run_ngspice, spice_text
from guitarnet.study.formulas.handover import to_spice

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")


def both(drawn):
    """Response at ngspice's own frequencies, from ngspice and from here."""
    frequency, expected = run_ngspice(
        to_spice(drawn.guitar, per_decade=10, at=drawn.at, **drawn.marks)
    )
    found = gn.response(drawn.guitar, frequency=frequency, at=drawn.at, **drawn.marks)
    return found.values, expected


def test_between_the_ends(ngspice, agreement, draws):
    """Largest relative error of any guitar, at every frequency by itself.

    The rest is ngspice's: it stamps conductances, and keeps nine digits where half an ohm of
    cable stands beside megohms. The oracle, with no such stamp, is met to 1e-11.
    """
    every = len(WIRINGS) * len(BLEEDS)
    worst, guitars = 0.0, list(random_guitars(100, draws(every, 9 * every), travel="middle"))
    for drawn in guitars:
        found, expected = both(drawn)
        assert np.abs(expected).min() > 0
        worst = max(worst, (np.abs(found - expected) / np.abs(expected)).max())
        agreement(
            "ngspice",
            "one pickup: all wirings and bleeds, knobs between their ends",
            found,
            expected,
            limit="its conductances: half an ohm beside megohms",
        )
    assert worst < 1e-9


def test_at_the_ends(ngspice, draws):
    """Knobs at 0 and 10: absolute, for 1 V induced."""
    silent, count = 0, draws(24, 72)
    for drawn in random_guitars(101, count, travel="ends"):
        found, expected = both(drawn)
        assert np.abs(found - expected).max() < 1e-9
        silent += not expected.any()
        assert found.any() == expected.any()
    assert 0 < silent < count


def test_sources_of_several_coils_add(ngspice, agreement):
    """Two sources and a follower in one netlist."""
    net = Netlist()
    for name in ("one", "two"):
        net.source(name, f"{name}_in", "0")
        net.resistor(f"{name}_R", f"{name}_in", "x", "5k" if name == "one" else "12k")
    net.capacitor("C", "x", "0", "10n")
    net.follower("buffer", "y", "0", "x", "0")
    net.resistor("out_R", "y", "out", "1k")
    net.capacitor("out_C", "out", "0", "47n")
    frequency, expected = run_ngspice(spice_text(net, "out", 10, 1e5, 20))
    found = ac.node_voltage(net, "out", frequency).values
    assert (np.abs(found - expected) / np.abs(expected)).max() < 1e-12
    agreement("ngspice", "two sources and a follower", found, expected)


def test_text():
    """The text of a small guitar, whole."""
    guitar = gn.layouts.one_pickup(PICKUP, tone=None, cable=0, name="evil\n.control\nshell rm")
    assert to_spice(guitar, frequency=("100 Hz", "5 kHz"), per_decade=7) == (
        "Passive circuit, volts at node 1 for 1 V at each source\n"
        "* node 0: pickup.ground volume.low jack.sleeve cable.guitar_sleeve cable.amp_sleeve "
        "amp.sleeve\n"
        "* node 1: pickup.hot volume.high treble_bleed.a volume.wiper treble_bleed.b jack.tip\n"
        "*   cable.guitar_tip cable.amp_tip amp.tip amp:grid\n"
        "* node 2: pickup:start\n"
        "* node 3: pickup:wire\n"
        "* 0 ohm, so its nodes are one: volume.upper cable.resistance cable.sleeve "
        "amp.grid_resistance\n"
        "* open, or in no path to the output: cable.capacitance amp.capacitance\n"
        "* V1: pickup.induced\n"
        "V1 2 0 DC 0 AC 1\n"
        "* R1: pickup.resistance\n"
        "R1 2 3 6200.0\n"
        "* L1: pickup.inductance\n"
        "L1 3 1 2.4\n"
        "* C1: pickup.capacitance\n"
        "C1 1 0 1.2e-10\n"
        "* R2: volume.lower\n"
        "R2 1 0 250000.0\n"
        "* R3: amp.resistance\n"
        "R3 1 0 1000000.0\n"
        ".options noopac\n"
        ".ac dec 7 100.0 5000.0\n"
        ".print ac vr(1) vi(1)\n"
        ".end\n"
    )


def test_silence_is_said(ngspice):
    """At volume 0 the text still runs, and says why it gives 0."""
    text = to_spice(gn.layouts.one_pickup(PICKUP), volume=0)
    assert "* nothing reaches node 1: it is silent\n" in text
    assert not run_ngspice(text)[1].any()


def test_hostile_names_never_leave_a_comment(ngspice):
    """Names of a netlist may be any text; none becomes SPICE."""
    evil = "x\n.control\nshell touch broken\n.endc\n* \u2028R9 1 0 1"
    net = Netlist()
    net.source(evil, evil + "1", "0")
    net.resistor("R\r\n.include /dev/zero", evil + "1", evil, 1e3)
    net.resistor("Z" * 5000, evil, "0", 1e3)
    text = spice_text(net, evil, 100, 1000, 2)
    cards = [line for line in text.splitlines()[1:] if not line.startswith("*")]
    assert cards == [
        "V1 2 0 DC 0 AC 1",
        "R1 2 1 1000.0",
        "R2 1 0 1000.0",
        ".options noopac",
        ".ac dec 2 100.0 1000.0",
        ".print ac vr(1) vi(1)",
        ".end",
    ]
    assert text.isascii()
    assert max(map(len, text.splitlines())) < 130
    np.testing.assert_allclose(run_ngspice(text)[1], 0.5, rtol=1e-12)


def test_what_spice_cannot_state():
    """The part is named, and what to do."""
    lossy = gn.Capacitor("22n", dissipation_factor=0.02)
    guitar = gn.layouts.one_pickup(PICKUP, tone_capacitor=lossy)
    with pytest.raises(NotExpressible) as caught:
        to_spice(guitar)
    assert str(caught.value) == (
        "tone_capacitor.capacitance: loses the same share at every frequency (dissipation "
        "factor), which SPICE cannot state; set dissipation_factor to 0, and give "
        "series_resistance or parallel_resistance."
    )
    net = Netlist()
    net.source("in", "in", "0")
    net.impedance("skin", "in", "out", lambda f: 1 + np.sqrt(f))
    net.resistor("R", "out", "0", 50)
    with pytest.raises(NotExpressible) as caught:
        spice_text(net, "out", 20, 20e3, 10)
    assert str(caught.value) == (
        "skin: is a function of frequency, which SPICE cannot state; model it with resistors, "
        "inductors and capacitors."
    )


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (
            {"volume": [1, 2]},
            "volume: is a list, and SPICE text is of one setting; give one value, or loop over "
            "them.",
        ),
        (
            {"treble_bleed": [None, gn.capacitor_bleed("1n")]},
            "treble_bleed: is a list, and SPICE text is of one setting; give one value, or loop "
            "over them.",
        ),
        (
            {"frequency": [100, 200, 300]},
            "frequency: [100, 200, 300] is no range; give the lowest and the highest, such as "
            "(20, '20 kHz').",
        ),
        ({"frequency": (200, 100)}, "frequency: 200 to 100 falls; give the lowest first."),
        ({"per_decade": 0}, "per_decade: 0 is no number of points; give 1 or more."),
    ],
)
def test_refusals(given, message):
    """One sentence each."""
    with pytest.raises(BadSetting) as caught:
        to_spice(gn.layouts.one_pickup(PICKUP), **given)
    assert str(caught.value) == message


def test_one_category_and_one_labelled_value():
    """A taper, a bleed or a scalar array is one setting."""
    guitar = gn.layouts.one_pickup(PICKUP)
    bleed = gn.capacitor_bleed("1n")
    text = to_spice(guitar, treble_bleed=bleed, volume=xr.DataArray(5.0))
    assert text == to_spice(guitar.replace("treble_bleed", bleed), volume=5)
    assert "treble_bleed.capacitance\n" in text


def test_runs_that_fail(ngspice, monkeypatch):
    """A text without an analysis, a run that takes too long, and no ngspice at all."""
    with pytest.raises(NoSolution) as caught:
        run_ngspice("nothing\nR1 1 0 1\n.end\n")
    assert caught.value.where == "ngspice"
    text = to_spice(gn.layouts.one_pickup(PICKUP), per_decade=1_000_000)
    with pytest.raises(NoSolution) as caught:
        run_ngspice(text, timeout=0.2)
    assert str(caught.value) == "ngspice: took over 0.2 s; give it more time or fewer points."
    monkeypatch.setenv("PATH", "")
    with pytest.raises(NotInstalled) as missing:
        run_ngspice(text)
    assert str(missing.value) == (
        "ngspice: is not on the path; install it (Debian: apt install ngspice)."
    )
