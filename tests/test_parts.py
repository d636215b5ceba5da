"""Parts: what they refuse, what they are called, what they write into a netlist."""

from __future__ import annotations

import inspect
import math

import numpy as np
import pytest

from guitarnet import (
    AmpInput,
    Cable,
    Capacitor,
    Empty,
    Humbucker,
    Jack,
    Network,
    Pickup,
    Pot,
    Resistor,
    amp_input,
    audio_taper,
    bleed,
    capacitor_bleed,
    in_parallel,
    in_series,
    linear_taper,
    no_load,
    parallel_bleed,
    series_bleed,
    tapped,
)
from guitarnet.errors import BadSetting, BadValue
from guitarnet.formulas import Netlist
from guitarnet.parts.base import Values
from guitarnet.parts.blend import BlendPot
from guitarnet.solve import ac
from guitarnet.values import amp_inputs, triode_input_capacitance

HERTZ = np.array([20.0, 100.0, 1e3, 5e3, 20e3])
S = 2j * np.pi * HERTZ


def stamp(net, part, name="part", given=None, **lugs):
    """Write one part into a netlist, with its lugs at the named nodes."""
    part.stamp(net.inner(name, **lugs), Values(part, name, given or {}))
    return net


def ohms(part, hertz=HERTZ, **given):
    """Impedance of a two-lug part between ``b`` and ``a``."""
    paths = {f"part.{name}": value for name, value in given.items()}
    return ac.node_impedance(stamp(Netlist(), part, given=paths, a="a", b="0"), "a", hertz).values


# -- refusals -------------------------------------------------------------------------------------

REFUSED = [
    (
        lambda: Pickup("-6k", "2.4 H", "120p"),
        "Pickup.resistance: '-6k' is negative; give a value above 0 \u03a9 up to 10 M\u03a9 (a "
        "coil without resistance does not exist).",
    ),
    (
        lambda: Pickup("6k", 0, "120p"),
        "Pickup.inductance: 0 H is zero; give a value above 0 H up to 1000 H (a coil has some "
        "henry).",
    ),
    (
        lambda: Pickup("6k", "120p", "2.4 H"),
        "Pickup.inductance: '120p' is a capacitance, not an inductance; write it like '2.4 H' or "
        "'100 mH'.",
    ),
    (
        lambda: Pickup("6k", "2.4 H", float("nan")),
        "Pickup.capacitance: nan F is not a number; give a finite value from 0 F to 1 \u00b5F (a "
        "coil has some ten to some hundred picofarad).",
    ),
    (
        lambda: Pickup(None, "2.4 H", "120p"),
        "Pickup.resistance: no value was given; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    (
        lambda: Pickup("6k", "2.4 H", "120p", eddy_resistance="100k"),
        "Pickup.eddy_resistance: stands without eddy_share; give both, or neither for a coil "
        "without eddy loss.",
    ),
    (
        lambda: Pot("25Ok", "linear"),
        "Pot.resistance: '25Ok' is not a value in ohm; did you mean '250k' (digit zero)?",
    ),
    (
        lambda: Pot("250m", "linear"),
        "Pot.resistance: '250m' is too small; give a value from 1 \u03a9 to 1 G\u03a9 ('M' is "
        "mega, 'm' is a thousandth).",
    ),
    (
        lambda: Pot("250k", "A"),
        "taper: the letter 'A' means different tapers in different standards; say it in words "
        "('linear', 'audio 15%'), or add convention='today' or 'old'.",
    ),
    (
        lambda: Pot("250k", "linear", tolerance=20),
        "Pot.tolerance: 20 is 2000 % as a share, and 20 % as percent; write '20%' or '2000%', "
        "whichever it is.",
    ),
    (
        lambda: Pot("250k", "linear", end_resistance="60%"),
        "Pot.end_resistance: '60%' is too large; give a value from 0 % to 50 %.",
    ),
    (
        lambda: Pot("250k", "linear", end_resistance="200k", unusual=True),
        "Pot.end_resistance: 400 k\u03a9 in all leaves no track of 250 k\u03a9; give less, such "
        "as 2 ohm or '1%'.",
    ),
    (
        lambda: Pot("250k", "linear", end_resistance=(1, 2, 3)),
        "Pot.end_resistance: (1, 2, 3) is not one or two values; give 2 ohm or '1%'.",
    ),
    (
        lambda: Capacitor(0),
        "Capacitor.capacitance: 0 F is zero; give a value above 0 F up to 1 F (a missing part is "
        "None, not 0).",
    ),
    (
        lambda: Capacitor(22),
        "Capacitor.capacitance: 22 F is too large; give a value above 0 F up to 1 F, such as '22n' "
        "or '22p' (a missing part is None, not 0).",
    ),
    (
        lambda: Capacitor("22n", dissipation_factor=-0.01),
        "Capacitor.dissipation_factor: -1 % is negative; give a value from 0 % to 1000 %.",
    ),
    (
        lambda: Resistor("-1k"),
        "Resistor.resistance: '-1k' is negative; give a value from 0 \u03a9.",
    ),
    (
        lambda: Cable("-3 m"),
        "Cable.length: '-3 m' is negative; give a value from 0 m to 1000 m.",
    ),
    (
        lambda: Cable("3 m", 100),
        "Cable.capacitance_per_metre: 100 F/m is too large; give a value from 0 F/m to 10 nF/m, "
        "such as '100 pF/m' (a guitar cable has 60p to 260p).",
    ),
    (
        lambda: Cable("3 m", "100"),
        "Cable.capacitance_per_metre: '100' has no unit; write '100 pF/m' if you mean that, or "
        "write it like '100 pF/m' or '30 pF/ft'.",
    ),
    (
        lambda: Cable("3 m", insulation_resistance=0),
        "Cable.insulation_resistance: 0 \u03a9 m is zero; give a value above 0 \u03a9 m.",
    ),
    (
        lambda: AmpInput(0),
        "AmpInput.resistance: 0 \u03a9 is zero; give a value above 0 \u03a9.",
    ),
    (
        lambda: in_series(Capacitor("1n")),
        "series network: has only one part; give two or more.",
    ),
    (lambda: in_parallel(), "parallel network: has no parts; give two or more."),
    (
        lambda: in_series(Capacitor("1n"), "150k"),
        "series network: '150k' is not a two-lug part; give Capacitor(...), Resistor(...) or a "
        "network of them.",
    ),
    (
        lambda: Network("star", (Capacitor("1n"), Resistor("1k"))),
        "network.kind: 'star' is unknown; use 'series' or 'parallel'.",
    ),
    (
        lambda: Pickup("6k", "2.4 H", "120p", broken="no"),
        "Pickup.broken: 'no' is neither True nor False; give True or False.",
    ),
    (
        lambda: tapped(Humbucker(PICKUP, PICKUP), 0.5),
        "tapped.pickup: a Humbucker is not a Coil; give a Coil.",
    ),
]
PICKUP = Pickup("6k", "2.4 H", "120p")


@pytest.mark.parametrize(
    ("make", "message"), REFUSED, ids=[m.partition(":")[0] for _, m in REFUSED]
)
def test_refused(make, message):
    with pytest.raises((BadValue, BadSetting)) as refusal:
        make()
    assert str(refusal.value) == message


def test_a_network_nested_too_deep_is_refused():
    part = Capacitor("1n")
    with pytest.raises(BadValue) as refusal:
        for i in range(12):
            part = (in_series if i % 2 else in_parallel)(part, Resistor("1k"))
    assert str(refusal.value) == "network: is nested over 10 deep; write it more simply."


# -- words ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (Pickup("6.2k", "2.4 H", "120p"), "6.2 k\u03a9, 2.4 H, 120 pF"),
        (
            Pickup(
                "6k", "2 H", "1n", eddy_resistance="1M", eddy_share=0.4, screening_frequency="8k"
            ),
            "6 k\u03a9, 2 H, 1 nF, eddy 1 M\u03a9 on 40% of L, screened above 8 kHz",
        ),
        (Pot("250k", audio_taper(0.15)), "250 k\u03a9, audio 15%"),
        (Pot("500k", "linear", end_resistance="1%"), "500 k\u03a9, linear, ends 1%"),
        (
            Pot("500k", "linear", end_resistance=(0, 2)),
            "500 k\u03a9, linear, ends 0 \u03a9 and 2 \u03a9",
        ),
        (Capacitor("223"), "22 nF"),
        (Capacitor("22n", dissipation_factor=0.01), "22 nF, tan \u03b4 0.01"),
        (Empty(), "none"),
        (Jack(), "jack"),
        (Cable("10 ft", "30 pF/ft"), "3.048 m at 98.43 pF/m"),
        (Cable(0), "no cable"),
        (AmpInput("1M"), "1 M\u03a9"),
        (AmpInput("1M", "100p", "68k"), "1 M\u03a9, 100 pF behind 68 k\u03a9"),
        (parallel_bleed("1n", "150k"), "1 nF \u2225 150 k\u03a9"),
        (series_bleed("1.2n", "130k"), "1.2 nF + 130 k\u03a9"),
        (capacitor_bleed("680p"), "680 pF"),
        (
            in_series(Resistor("100k"), in_parallel(Capacitor("1n"), Resistor("470k"))),
            "100 k\u03a9 + (1 nF \u2225 470 k\u03a9)",
        ),
    ],
)
def test_label(part, words):
    assert part.label() == words


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, ("lossless coil assumed (no eddy currents, no screening)",)),
        (
            {"screening_frequency": "8 kHz"},
            ("no eddy-current loss in the coil assumed",),
        ),
        ({"eddy_resistance": "1M", "eddy_share": 0.4}, ()),
    ],
)
def test_what_a_figure_must_say_about_a_pickup(more, said):
    part = Pickup("6k", "2.4 H", "120p", **more)
    assert part.assumptions(Values(part, "part", {})) == said
    plain = Pickup("6k", "2.4 H", "120p")
    swept = {f"part.{name}": value for name, value in more.items()}
    assert plain.assumptions(Values(plain, "part", swept)) == said


# -- pots -----------------------------------------------------------------------------------------


def halves(pot, **given):
    net = stamp(
        Netlist(),
        pot,
        given={f"part.{name}": value for name, value in given.items()},
        high="h",
        wiper="w",
        low="0",
    )
    return net.branches["part.upper"].value, net.branches["part.lower"].value


@pytest.mark.parametrize("mark", [0, 2.5, 5, 10])
def test_pot_halves(mark):
    """R(high, wiper) = e + (R - 2e)(1 - t) and R(wiper, low) = e + (R - 2e) t."""
    t = audio_taper(0.15)(mark / 10)
    for end, e in ((0, 0.0), (2, 2.0), ("1%", 2500.0)):
        upper, lower = halves(Pot("250k", "audio 15%", end_resistance=end), mark=mark)
        assert upper == pytest.approx(e + (250e3 - 2 * e) * (1 - t), rel=1e-14)
        assert lower == pytest.approx(e + (250e3 - 2 * e) * t, rel=1e-14)


def test_pot_ends_of_two_sizes():
    pot = Pot("100k", "linear", end_resistance=(10, 20))
    assert halves(pot, mark=10) == (10.0, 100e3 - 10)
    assert halves(pot, mark=0) == (100e3 - 20, 20.0)


def test_pot_ends_are_exact_wires():
    pot = Pot("250k", "audio 15%")
    assert halves(pot, mark=10) == (0.0, 250e3)
    assert halves(pot, mark=0) == (250e3, 0.0)


def test_track_passes_the_taper_by():
    assert halves(Pot("100k", "audio 10%"), track=0.25) == (75e3, 25e3)


def test_no_load_pot_opens_at_10():
    pot = Pot("250k", no_load(linear_taper()))
    assert halves(pot, mark=10) == (math.inf, math.inf)
    assert halves(pot, mark=9) == pytest.approx((25e3, 225e3), rel=1e-12)


def wiper_voltage(pot, load, track):
    net = Netlist()
    net.source("in", "in", "0")
    stamp(net, pot, given={"part.track": track}, high="in", wiper="w", low="0")
    net.resistor("load", "w", "0", load)
    return ac.node_voltage(net, "w", np.array([100.0])).values[0]


@pytest.mark.parametrize(("load", "expected"), [(250e3, 0.4), (125e3, 1 / 3), (math.inf, 0.5)])
def test_linear_pot_loaded_at_the_wiper(load, expected):
    """Half travel under a load of R and R/2.

    G. Johnson, TenTec list, November 2001 ("nearly logarithmic").
    """
    assert wiper_voltage(Pot("250k", "linear"), load, 0.5) == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(("x", "decibels"), [(0.5, -13.98), (0.75, -6.49)])
def test_two_cascaded_linear_pots(x, decibels):
    """x^2 / (1 + x (1 - x)), loading included; diybanter post 4043170 (its text: -15, -6.5)."""
    net = Netlist()
    net.source("in", "in", "0")
    first = {"first.track": x}
    stamp(net, Pot("250k", "linear"), "first", first, high="in", wiper="middle", low="0")
    second = {"second.track": x}
    stamp(net, Pot("250k", "linear"), "second", second, high="middle", wiper="out", low="0")
    h = ac.node_voltage(net, "out", np.array([100.0])).values[0]
    assert h == pytest.approx(x**2 / (1 + x * (1 - x)), rel=1e-14)
    assert 20 * math.log10(abs(h)) == pytest.approx(decibels, abs=0.005)


# -- two-lug parts --------------------------------------------------------------------------------


def test_capacitor_with_every_loss():
    """Z = Rs + 1 / (j w C (1 - j tan d) + 1 / Rp)."""
    part = Capacitor(
        "22n", dissipation_factor=0.02, series_resistance=50, parallel_resistance="10M"
    )
    admittance = S * 22e-9 * (1 - 0.02j) + 1 / 10e6
    assert ohms(part) == pytest.approx(50 + 1 / admittance, rel=1e-13)


def test_lossless_capacitor():
    assert ohms(Capacitor("22n")) == pytest.approx(1 / (S * 22e-9), rel=1e-14)


def test_dissipation_factor_is_the_tangent_of_the_loss_angle():
    z = ohms(Capacitor("22n", dissipation_factor=0.02))
    assert -z.real / z.imag == pytest.approx(np.full(HERTZ.size, 0.02), rel=1e-12)


def test_leaky_capacitor_at_0_hz():
    assert ohms(Capacitor("22n", parallel_resistance="10M"), np.zeros(1))[0] == 10e6
    assert ohms(Capacitor("22n"), np.zeros(1))[0] == math.inf


@pytest.mark.parametrize(
    ("written", "closed_form"),
    [
        ("1n", lambda: 1 / (S * 1e-9)),
        ("150k || 1n", lambda: 1 / (1 / 150e3 + S * 1e-9)),
        ("1n || 150k", lambda: 1 / (1 / 150e3 + S * 1e-9)),
        ("1.2n + 130k", lambda: 130e3 + 1 / (S * 1.2e-9)),
        ("100k + 1n || 470k", lambda: 100e3 + 1 / (1 / 470e3 + S * 1e-9)),
        ("100k + (1n \u2225 470k)", lambda: 100e3 + 1 / (1 / 470e3 + S * 1e-9)),
        ("(100k + 0.001uF) || 470k", lambda: 1 / (1 / 470e3 + 1 / (100e3 + 1 / (S * 1e-9)))),
        ("0.001 MFD", lambda: 1 / (S * 1e-9)),
    ],
)
def test_bleed_as_written_on_the_bench(written, closed_form):
    """``||`` is side by side, ``+`` end to end, and ``||`` binds more tightly."""
    assert ohms(bleed(written)) == pytest.approx(closed_form(), rel=1e-13)


@pytest.mark.parametrize("written", [None, "none", "None", "", " ", Empty()])
def test_no_bleed(written):
    assert bleed(written) is None


def test_a_part_is_its_own_bleed():
    part = capacitor_bleed("1n")
    assert bleed(part) is part
    assert bleed("1n") == part


UNREADABLE = "write it like '1n', '150k || 1n', '1.2n + 130k' or '100k + (1n || 470k)'."


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("100k + (1n", f"'100k + (1n' cannot be read; {UNREADABLE}"),
        ("1n ||", f"'1n ||' cannot be read; {UNREADABLE}"),
        ("+ 1n", f"'+ 1n' cannot be read; {UNREADABLE}"),
        ("1n)", f"'1n)' cannot be read; {UNREADABLE}"),
        ("150k | 1n", f"'150k | 1n' cannot be read; {UNREADABLE}"),
        ("(" * 11 + "1n" + ")" * 11, f"'{'(' * 11}1n{')' * 11}' cannot be read; {UNREADABLE}"),
        ("1n + " * 50 + "1n", f"'{'1n + ' * 8}' cannot be read; {UNREADABLE}"),
        (
            "223 || 150k",
            "'223' can be ohms or a capacitor's marking; write the unit of each part, as '150k' "
            "or '150p'.",
        ),
        (
            "150m || 1n",
            "'150m' would be a thousandth of an ohm; write '150M' for a resistor, '150n' for a "
            "capacitor.",
        ),
        (
            "1.5 m",
            "'1.5 m' would be a thousandth of an ohm; write '1.5M' for a resistor, '1.5n' for a "
            "capacitor.",
        ),
        *(
            (
                bare,
                f"'{bare}' has no unit; write a capacitor like '1n' or '0.001uF', a resistor like "
                "'150k'.",
            )
            for bare in (".001", "1.", "7", "47", "1000", "150000")
        ),
        ("x" * 201, f"'{'x' * 40}' cannot be read; {UNREADABLE}"),
        ("25Ok || 1n", "'25Ok' is not a value in ohm; did you mean '250k' (digit zero)?"),
        (
            "150k || 0.001",
            "'0.001' has no unit; write a capacitor like '1n' or '0.001uF', a resistor like "
            "'150k'.",
        ),
        (
            "__import__('os')",
            "'__import__' is not a value in F; write it like '22n', '0.022uF' or the marking "
            "'223'.",
        ),
    ],
)
def test_refused_bleed(written, message):
    with pytest.raises(BadValue) as refusal:
        bleed(written)
    assert str(refusal.value) == f"treble bleed: {message}"


def test_paths_into_a_network():
    """Parts inside are named by kind, numbered where there are several."""
    network = in_series(Resistor("100k"), in_parallel(Capacitor("1n"), Resistor("470k")))
    assert set(network.settable()) >= {"resistor.resistance", "network.capacitor.capacitance"}
    assert network.aliases() == {"capacitance": "network.capacitor.capacitance"}
    two = in_parallel(Capacitor("1n"), Capacitor("2n"))
    assert list(two.inner()) == ["capacitor_1", "capacitor_2"]
    assert two.aliases() == {}
    changed = network.replace("network.capacitor.capacitance", "2n")
    assert changed.label() == "100 k\u03a9 + (2 nF \u2225 470 k\u03a9)"
    assert network.label() == "100 k\u03a9 + (1 nF \u2225 470 k\u03a9)"


def test_networks_of_one_kind_become_one():
    assert in_series(in_series(Resistor("1k"), Resistor("2k")), Resistor("3k")) == in_series(
        Resistor("1k"), Resistor("2k"), Resistor("3k")
    )


# -- cable and input ------------------------------------------------------------------------------


def farad(cable):
    net = stamp(Netlist(), cable, guitar_tip="t", guitar_sleeve="0", amp_tip="out", amp_sleeve="0")
    return net.branches["part.capacitance"].value


def test_cable_in_metres_and_in_feet():
    """10 ft at 30 pF/ft hold 300 pF, and so do 3.048 m at 98.4 pF/m."""
    assert farad(Cable("10 ft", "30 pF/ft")) == pytest.approx(300e-12, rel=1e-15)
    assert farad(Cable(3.048, 30e-12 / 0.3048)) == pytest.approx(300e-12, rel=1e-15)
    assert farad(Cable("5 m")) == pytest.approx(500e-12, rel=1e-15)


def cable_ohms(cable, hertz):
    net = stamp(Netlist(), cable, guitar_tip="t", guitar_sleeve="0", amp_tip="out", amp_sleeve="0")
    net.resistor("guitar", "t", "0", 10e3)
    return ac.node_impedance(net, "out", hertz).values


def test_cable_with_resistance_and_leakage():
    """Seen from the amp: (10k + r l) parallel C l parallel leakage / l."""
    cable = Cable("4 m", "100 pF/m", "0.5 ohm/m", "2M ohm m")
    expected = 1 / (1 / (10e3 + 2) + S * 400e-12 + 4 / 2e6)
    assert cable_ohms(cable, HERTZ) == pytest.approx(expected, rel=1e-13)


def test_a_cable_of_no_length_is_no_cable():
    cable = Cable(0, "100 pF/m", "0.5 ohm/m", "2M ohm m")
    assert cable_ohms(cable, HERTZ) == pytest.approx(np.full(HERTZ.size, 10e3), rel=1e-15)


def test_amp_input_behind_a_grid_resistor():
    """R parallel (R_grid + C), as the cable sees it."""
    net = stamp(Netlist(), AmpInput("1M", "100p", "68k"), tip="t", sleeve="0")
    expected = 1 / (1 / 1e6 + 1 / (68e3 + 1 / (S * 100e-12)))
    assert ac.node_impedance(net, "t", HERTZ).values == pytest.approx(expected, rel=1e-13)


def test_every_ready_input_names_its_source():
    assert set(amp_inputs) == {
        "amp", "tube amp", "pedal", "low-impedance pedal", "buffer", "wireless transmitter"
    }  # fmt: skip
    assert all(amp_input(name).source for name in amp_inputs)
    assert amp_input("tube amp").grid_resistance == 68e3


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("tub amp", "amp input: there is no 'tub amp'; did you mean 'tube amp'?"),
        (
            "xyz",
            "amp input: there is no 'xyz'; use one of amp, buffer, low-impedance pedal, pedal, "
            "tube amp, wireless transmitter.",
        ),
    ],
)
def test_unknown_input(name, message):
    with pytest.raises(BadSetting) as refusal:
        amp_input(name)
    assert str(refusal.value) == message


def test_triode_input_capacitance():
    """Cgk + Cga (1 + A): The Valve Wizard, "Grid stopper"."""
    assert triode_input_capacitance("2.3p", "2.4p", 50) == pytest.approx(
        2.3e-12 + 2.4e-12 * 51, rel=1e-15
    )


# -- pickups --------------------------------------------------------------------------------------


def pickup_voltage(pickup, load=1e6):
    net = stamp(Netlist(), pickup, hot="hot", ground="0")
    net.resistor("load", "hot", "0", load)
    return ac.node_voltage(net, "hot", HERTZ).values


def test_plain_pickup():
    """Z_load / (R + j w L + Z_load), Z_load = load parallel C."""
    z = 1 / (1 / 1e6 + S * 120e-12)
    expected = z / (6.2e3 + S * 2.4 + z)
    assert pickup_voltage(Pickup("6.2k", "2.4 H", "120p")) == pytest.approx(expected, rel=1e-12)


def test_pickup_with_eddy_loss_and_screening():
    """R + j w L (1 - s) + (j w L s parallel R_eddy), and the source over 1 + j f / f_s."""
    pickup = Pickup(
        "6.2k", "2.4 H", "120p", eddy_resistance="150k", eddy_share="40%", screening_frequency="9k"
    )
    coil = 6.2e3 + S * 2.4 * 0.6 + 1 / (1 / (S * 2.4 * 0.4) + 1 / 150e3)
    z = 1 / (1 / 1e6 + S * 120e-12)
    expected = z / (coil + z) / (1 + 1j * HERTZ / 9e3)
    assert pickup_voltage(pickup) == pytest.approx(expected, rel=1e-12)


def test_screening_leaves_the_impedance_alone():
    plain = Pickup("6.2k", "2.4 H", "120p")
    screened = Pickup("6.2k", "2.4 H", "120p", screening_frequency="3 kHz")
    z = [
        ac.node_impedance(stamp(Netlist(), p, hot="hot", ground="0"), "hot", HERTZ).values
        for p in (plain, screened)
    ]
    assert z[1] == pytest.approx(z[0], rel=1e-13)


@pytest.mark.parametrize(
    ("written", "label"),
    [
        ("1n", "1 nF"),
        ("1000p", "1 nF"),
        ("0.001u", "1 nF"),
        ("0.001\u00b5F", "1 nF"),
        ("0.001\u03bc", "1 nF"),
        ("0.001mfd", "1 nF"),
        ("0.001MFD", "1 nF"),
        ("1e-9F", "1 nF"),
        *((f"102{letter}", "1 nF") for letter in "BCDFGHJ"),
        ("100k", "100 k\u03a9"),
        ("1M", "1 M\u03a9"),
        ("1e5 ohm", "100 k\u03a9"),
        ("150k+1n\u22252n", "150 k\u03a9 + (1 nF \u2225 2 nF)"),
        ("(150k + 1n) \u2225 2n", "(150 k\u03a9 + 1 nF) \u2225 2 nF"),
        ("((1n))", "1 nF"),
        ("(" * 10 + "1n" + ")" * 10, "1 nF"),
    ],
)
def test_what_is_a_capacitor_and_what_a_resistor_in_a_bleed(written, label):
    """A value under a thousandth, or a unit of farad, is a capacitor."""
    assert bleed(written).label() == label


def test_types_that_editors_show_are_those_that_are_given():
    """And what a field holds is a number."""
    shown = {name: one.annotation for name, one in inspect.signature(Capacitor).parameters.items()}
    assert shown == {
        "capacitance": "float | str | Measured",
        "tolerance": "float | str | None",
        "dissipation_factor": "float | str",
        "series_resistance": "float | str",
        "parallel_resistance": "float | str | None",
        "source": "str",
        "unusual": "bool",
    }


def test_words_of_small_parts():
    assert Capacitor("22n", dissipation_factor="2%").label() == "22 nF, tan \u03b4 0.02"
    assert BlendPot("250k", "audio 15%").label() == "250 k\u03a9 twice, blend, audio 15%"
    assert BlendPot("250k").called() == "blend pot"


def test_sources_of_ready_inputs():
    """Each value says where it is from; what is remembered says so."""
    judge = 'B. Judge, "Feel the gain 1": device inputs from 10 k\u03a9 to over 1 M\u03a9'
    assert {name: part.source for name, part in amp_inputs.items()} == {
        "amp": 'Gitarre & Bass, "Wie Eingangsimpedanzen ..."',
        "tube amp": "68 k\u03a9: Gitarre & Bass; C = Cgk + Cga (1 + A): The Valve Wizard, "
        '"Grid stopper"; 2.3 pF, 2.4 pF and a gain of 50 from memory',
        "pedal": f"common practice, no source; {judge}",
        "low-impedance pedal": judge,
        "buffer": f"first in the chain, at the cable's end; {judge}",
        "wireless transmitter": "common practice, no source",
    }
    assert {name: part.label() for name, part in amp_inputs.items()} == {
        "amp": "1 M\u03a9",
        "tube amp": "1 M\u03a9, 124.7 pF behind 68 k\u03a9",
        "pedal": "500 k\u03a9",
        "low-impedance pedal": "10 k\u03a9",
        "buffer": "1 M\u03a9",
        "wireless transmitter": "1 M\u03a9",
    }
