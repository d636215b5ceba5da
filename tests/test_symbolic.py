"""Transfer functions in symbols: against closed forms, and against numbers at 50 digits."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
import sympy
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet.circuit.netlist import Branch, Netlist
from guitarnet.errors import BadHarness, BadSetting, NoSolution, NotExpressible
from guitarnet.solve import ac
from guitarnet.solve.symbolic import S, exact, letters, roots, transfer
from guitarnet.study.formulas.symbols import (
    dc_gain,
    poles,
    symbol_of,
    symbols_of,
    transfer_function,
    zeros,
)

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
FREQUENCY = np.geomspace(20, 20e3, 7)
R, L, C, T = sympy.symbols("R L C T", positive=True)


def guitar(**parts) -> gn.Harness:
    return gn.layouts.one_pickup(PICKUP, **parts)


def in_digits(expression, frequency, digits=50) -> np.ndarray:
    """Evaluate H at frequencies with many digits."""
    function = sympy.lambdify(S, expression, "mpmath")
    with mpmath.workdps(digits):
        return np.array([complex(function(2j * mpmath.pi * mpmath.mpf(f))) for f in frequency])


# -- closed forms -----------------------------------------------------------------------------


def test_divider():
    """v = R2 / (R1 + R2)."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("upper", "in", "out", R * (1 - T))
    net.resistor("lower", "out", "0", R * T)
    assert sympy.simplify(transfer(net, "out").expression() - T) == 0


def test_low_pass():
    """H = 1 / (1 + s R C); its pole lies at -1 / (2 pi R C) Hz."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", R)
    net.capacitor("C", "out", "0", C)
    ratio = transfer(net, "out")
    assert ratio.expression() == 1 / (1 + S * R * C)
    numbers = [value.subs({R: 10_000, C: sympy.Rational("15.9e-9")}) for value in ratio.denominator]
    np.testing.assert_allclose(roots(numbers), [-1 / (2 * np.pi * 1e4 * 15.9e-9)], rtol=1e-15)


def test_resonance():
    """H = 1 / (1 + s R C + s^2 L C): magnitude of the poles 1 / (2 pi sqrt(L C)), Q = sqrt(L/C)/R.

    Series resonance, any textbook of circuit theory.
    """
    bare = gn.layouts.one_pickup(
        gn.Pickup("1k", "2.5 H", "100p"),
        volume="1G",
        tone=None,
        cable=0,
        amp="1G",
        unusual=True,
    )
    found = poles(bare)
    load = 0.5e9
    natural = np.sqrt((1 + 1e3 / load) / (2.5 * 100e-12)) / (2 * np.pi)
    damping = (1e3 / 2.5 + 1 / (load * 100e-12)) / (2 * np.pi)
    np.testing.assert_allclose(abs(found), [natural, natural], rtol=1e-12)
    np.testing.assert_allclose(-2 * found.real, [damping, damping], rtol=1e-12)
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "a", R)
    net.inductor("L", "a", "out", L)
    net.capacitor("C", "out", "0", C)
    assert transfer(net, "out").expression() == 1 / (1 + S * R * C + S**2 * L * C)


def test_numbers_meet_the_closed_form(agreement):
    """The numeric solver against the formula of the loaded pickup, 12 digits."""
    values = {R: 6200, L: sympy.Rational("2.4"), C: sympy.Rational("420e-12")}
    load = sympy.Rational(1, 5) * 1_000_000
    formula = 1 / (1 + (R + S * L) * (S * C + 1 / load))
    net = Netlist()
    net.source("in", "in", "0")
    for kind, a, b, value in (
        ("resistor", "in", "a", 6200),
        ("inductor", "a", "out", 2.4),
        ("capacitor", "out", "0", 420e-12),
    ):
        getattr(net, kind)(kind, a, b, value)
    net.resistor("load", "out", "0", 200e3)
    expected = in_digits(formula.subs(values), FREQUENCY)
    found = ac.node_voltage(net, "out", FREQUENCY).values
    np.testing.assert_allclose(found, expected, rtol=1e-12)
    agreement("closed form", "loaded R-L-C", found, expected)


# -- numbers against symbols ------------------------------------------------------------------


def test_random_guitars(agreement, draws):
    """Numeric against symbolic at 50 digits: 1e-11 of the largest |H|, knobs anywhere."""
    for drawn in random_guitars(30, draws(6, 48)):
        formula = transfer_function(drawn.guitar, at=drawn.at, **drawn.marks)
        expected = in_digits(formula, FREQUENCY) if formula != 0 else np.zeros(FREQUENCY.size)
        found = gn.response(drawn.guitar, frequency=FREQUENCY, at=drawn.at, **drawn.marks).values
        assert np.abs(found - expected).max() <= 1e-11 * np.abs(expected).max()
        agreement(
            "sympy, 50 digits", "one pickup: knobs anywhere, both ends among them", found, expected
        )


def test_letters_take_their_values_back():
    """With the values put in for the letters, all-letters and all-numbers are one function."""
    drawn = list(random_guitars(31, 24, travel="middle"))[2]
    part = drawn.guitar.parts
    symbols = symbols_of(drawn.guitar)
    formula = transfer_function(drawn.guitar, keep="all", at=drawn.at)
    values = {
        symbols[f"{knob}.track"]: exact(part[knob].taper(mark / 10))
        for knob, mark in drawn.marks.items()
    }
    for path, symbol in symbols.items():
        if symbol in formula.free_symbols and symbol not in values:
            values[symbol] = exact(_value(drawn.guitar, path))
    numeric = transfer_function(drawn.guitar, at=drawn.at, **drawn.marks)
    np.testing.assert_allclose(
        in_digits(formula.subs(values), FREQUENCY), in_digits(numeric, FREQUENCY), rtol=1e-14
    )
    assert len(values) > 9


def _value(harness, path):
    name, *rest = path.split(".")
    part = harness.parts[name]
    for inner in rest[:-1]:
        part = part.inner()[inner]
    return getattr(part, rest[-1])


def test_poles_and_zeros_rebuild_the_response():
    """H = H(0) product (1 - s/zero) / product (1 - s/pole)."""
    one = guitar(treble_bleed="150k || 1n", volume=gn.Pot("250k", "linear", end_resistance="1%"))
    settings = {"volume": 5, "tone": 7}
    s = 1j * FREQUENCY
    rebuilt = np.full(FREQUENCY.size, float(dc_gain(one, **settings)), dtype=complex)
    for zero in zeros(one, **settings):
        rebuilt *= 1 - s / zero
    for pole in poles(one, **settings):
        rebuilt /= 1 - s / pole
    np.testing.assert_allclose(
        rebuilt, gn.response(one, frequency=FREQUENCY, **settings), rtol=1e-12
    )
    assert (poles(one, **settings).real < 0).all()


def test_bleed_zero_lies_at_its_corner():
    """A capacitor over the upper track R gives one zero, at 1 / (2 pi R C), and no bleed none."""
    one = guitar(tone=None, treble_bleed="680p", volume=gn.Pot("250k", "linear"))
    np.testing.assert_allclose(
        zeros(one, volume=4), [-1 / (2 * np.pi * 150e3 * 680e-12)], rtol=1e-14
    )
    assert zeros(guitar(tone=None), volume=4).size == 0


def test_double_root_counts_twice():
    """Two equal sections behind a follower: one pole, twice, to the last digits."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R1", "in", "a", 1000.0)
    net.capacitor("C1", "a", "0", 1e-6)
    net.follower("buffer", "b", "0", "a", "0")
    net.resistor("R2", "b", "out", 1000.0)
    net.capacitor("C2", "out", "0", 1e-6)
    net.resistor("beside", "b", "0", 50.0)
    found = roots(transfer(net, "out").denominator)
    np.testing.assert_allclose(found, [-1 / (2 * np.pi * 1e-3)] * 2, rtol=1e-15)


def test_roots_at_zero():
    """s = 0 is a root like any other, as often as it counts."""
    np.testing.assert_array_equal(roots([1, 0, 0]), [0, 0])
    np.testing.assert_array_equal(roots([5]), [])
    np.testing.assert_allclose(roots([1, 2, 0]) * np.pi, [0, -1], rtol=1e-15)


# -- the low-frequency limit ------------------------------------------------------------------


def test_dc_gain_is_the_divider_of_resistances():
    """The loaded pickup at 0 Hz: Rv || Ra over Rp + Rv || Ra, exact and in letters."""
    one = guitar(volume="250k", amp="1M")
    assert dc_gain(one) == sympy.Rational(200_000, 206_200)
    r_p, r_v = symbol_of(one, "pickup.resistance"), symbol_of(one, "volume.resistance")
    load = r_v * 1_000_000 / (r_v + 1_000_000)
    found = dc_gain(one, keep=["pickup.resistance", "volume.resistance"], tone=0)
    assert sympy.simplify(found - load / (load + r_p)) == 0


def test_dc_gain_meets_the_response_at_0_hz(draws):
    """Where resistors reach the output, the limit is the value at 0 Hz."""
    for drawn in random_guitars(32, draws(6, 24), travel="middle"):
        found = gn.response(drawn.guitar, frequency=[0.0, 1.0], at=drawn.at, **drawn.marks).values[
            0
        ]
        expected = float(dc_gain(drawn.guitar, at=drawn.at, **drawn.marks))
        assert found == pytest.approx(expected, rel=1e-12)


def test_limit_behind_capacitors():
    """A divider of capacitors passes its share however low the frequency."""
    net = Netlist()
    net.source("in", "in", "0")
    net.capacitor("upper", "in", "out", 1e-9)
    net.capacitor("lower", "out", "0", 3e-9)
    assert transfer(net, "out").low_frequency_limit() == sympy.Rational(1, 4)
    net.resistor("leak", "out", "0", 1e9)
    assert transfer(net, "out").low_frequency_limit() == 0


# -- ends of travel, opens, silence -----------------------------------------------------------


def test_ends_of_travel():
    """At 10 the bleed is shorted out; at 0 nothing is heard; a no-load pot is gone at 10."""
    assert transfer_function(guitar(treble_bleed="1n")) == transfer_function(guitar())
    assert transfer_function(guitar(), volume=0) == 0
    assert dc_gain(guitar(), volume=0) == 0
    assert poles(guitar(), volume=0).size == zeros(guitar(), volume=0).size == 0
    off = guitar(tone=gn.Pot("250k", gn.no_load(gn.linear_taper())))
    assert transfer_function(off) == transfer_function(guitar(tone=None))
    on = guitar(tone=gn.Pot("250k", gn.linear_taper()))
    assert transfer_function(off, tone=9) == transfer_function(on, tone=9)
    assert transfer_function(off, **{"tone.track": 1}) == transfer_function(on)
    t = symbol_of(off, "tone")
    assert t in transfer_function(off, keep="tone").free_symbols
    np.testing.assert_array_equal(poles(off), poles(guitar(tone=None)))


def test_no_cable_leaks_nothing():
    """Leakage of a cable of no length is an open, also where its insulation is a letter."""
    cable = gn.Cable(0, insulation_resistance="1G")
    plain = transfer_function(guitar(cable=gn.Cable(0)))
    assert transfer_function(guitar(cable=cable)) == plain
    assert transfer_function(guitar(cable=cable), keep="cable.insulation_resistance") == plain


def test_decimals_are_taken_as_written():
    """22n is 22/10^9 and 1 % of 250k is 2500, not their binary neighbours."""
    assert exact(22e-9) == sympy.Rational(22, 10**9)
    assert exact(sympy.Float(0.1) * R) == R / 10
    assert exact(np.inf) == exact(sympy.zoo) == sympy.oo
    pot = gn.Pot("250k", gn.audio_taper(0.15), end_resistance="1%")
    one = guitar(volume=pot, tone=None, cable=0, amp="1M")
    lower = 2500 + 245_000 * sympy.Rational("0.15")
    upper = 250_000 - lower
    through = lower * 10**6 / (lower + 10**6)
    assert dc_gain(one, volume=5) == through / (through + upper + 6200)


# -- letters ----------------------------------------------------------------------------------


def test_names_of_letters():
    """Every value of the one-pickup guitar, by path."""
    one = guitar(treble_bleed="150k || 1n")
    named = {path: str(symbol) for path, symbol in symbols_of(one).items()}
    assert named == {
        "pickup.resistance": "R_pickup",
        "pickup.inductance": "L_pickup",
        "pickup.capacitance": "C_pickup",
        "pickup.eddy_resistance": "R_pickup_eddy",
        "pickup.eddy_share": "k_pickup_eddy",
        "pickup.screening_frequency": "f_pickup_screening",
        "pickup.eddy_order": "k_pickup_eddy_order",
        "pickup.slow_share": "k_pickup_slow",
        "pickup.slow_frequency": "f_pickup_slow",
        "volume.track": "t_volume",
        "volume.resistance": "R_volume",
        "tone.track": "t_tone",
        "tone.resistance": "R_tone",
        "tone_capacitor.capacitance": "C_tone_capacitor",
        "tone_capacitor.series_resistance": "R_tone_capacitor_series",
        "tone_capacitor.parallel_resistance": "R_tone_capacitor_parallel",
        "treble_bleed.resistor.resistance": "R_treble_bleed",
        "treble_bleed.capacitor.capacitance": "C_treble_bleed",
        "treble_bleed.capacitor.series_resistance": "R_treble_bleed_capacitor_series",
        "treble_bleed.capacitor.parallel_resistance": "R_treble_bleed_capacitor_parallel",
        "cable.length": "l_cable",
        "cable.capacitance_per_metre": "c_cable",
        "cable.resistance_per_metre": "r_cable",
        "cable.insulation_resistance": "rho_cable_insulation",
        "amp.resistance": "R_amp",
        "amp.capacitance": "C_amp",
        "amp.grid_resistance": "R_amp_grid",
    }
    assert all(symbol.is_positive for symbol in symbols_of(one).values())
    assert symbol_of(one, "treble_bleed.capacitance") == symbol_of(
        one, "treble_bleed.capacitor.capacitance"
    )
    assert symbol_of(one, "tone_capacitor").name == "C_tone_capacitor"


def test_two_names_are_never_one():
    """Paths that would read alike get numbers, and stay apart."""
    named = letters({"a_b.resistance": "ohm", "a.b.resistance": "ohm", "a.b_resistance": "ohm"})
    assert [str(symbol) for symbol in named.values()] == ["R_a_b", "R_a_b_2", "R_a_b_3"]
    assert len(set(named.values())) == 3


def test_names_that_look_like_code():
    """A part may be called like a function, a constant or s itself; nothing is evaluated."""
    parts, names = guitar(tone=None), {"pickup": "exit", "volume": "lambda", "amp": "s"}
    renamed = gn.Harness(
        {names.get(name, name): part for name, part in parts.parts.items()},
        tuple(
            tuple(
                ".".join([names.get(lug.split(".")[0], lug.split(".")[0]), lug.split(".")[1]])
                for lug in joint
            )
            for joint in parts.joined
        ),
    )
    found = transfer_function(
        renamed, keep=["exit.inductance", "lambda", "s"], **{"lambda.resistance": 1e6}
    )
    assert {str(symbol) for symbol in found.free_symbols} == {"s", "L_exit", "t_lambda", "R_s"}
    assert symbol_of(renamed, "s") != S


def test_keep_all_leaves_what_is_set():
    """A setting is a number, everything else that is not zero a letter."""
    one = guitar(treble_bleed="1n", amp="1M")
    found = {str(symbol) for symbol in transfer_function(one, keep="all", volume=5).free_symbols}
    assert found == {
        "s", "R_pickup", "L_pickup", "C_pickup", "R_volume", "t_tone", "R_tone",
        "C_tone_capacitor", "C_treble_bleed", "l_cable", "c_cable", "R_amp",
    }  # fmt: skip
    assert {str(x) for x in transfer_function(one, keep="volume").free_symbols} == {"s", "t_volume"}


def test_a_value_of_zero_may_be_kept():
    """Asked for by name, a zero becomes a letter; a formula of it is no limit."""
    found = transfer_function(guitar(tone=None), keep="amp.capacitance")
    assert symbol_of(guitar(), "amp.capacitance") in found.free_symbols
    limit = found.subs(symbol_of(guitar(), "amp.capacitance"), 0)
    assert sympy.simplify(limit - transfer_function(guitar(tone=None))) == 0


def test_screening_in_letters():
    """The screened coil is the same circuit times 1 / (1 + s / (2 pi f))."""
    screened = gn.Pickup("6.2k", "2.4 H", "120p", screening_frequency="8k")
    one = gn.layouts.one_pickup(screened, tone=None)
    f = symbol_of(one, "pickup.screening_frequency")
    found = transfer_function(one, keep="pickup.screening_frequency").subs(f, 8000)
    expected = transfer_function(guitar(tone=None)) / (1 + S / (2 * sympy.pi * 8000))
    np.testing.assert_allclose(
        in_digits(found, FREQUENCY), in_digits(expected, FREQUENCY), rtol=1e-14
    )


# -- refusals ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keep", "settings", "message"),
    [
        (
            (),
            {"volume": [1, 2]},
            "volume: is a list, and a formula is of one setting; give one value, or loop over "
            "them.",
        ),
        (
            ["volume"],
            {"volume": 5},
            "volume: is both kept as a letter and set to a value; do one of the two.",
        ),
        (
            ["pickup.eddy_resistance"],
            {},
            "pickup.eddy_resistance: has no value in this guitar; give the part one first, with "
            "replace('pickup.eddy_resistance', ...).",
        ),
        (
            ["volume.mark"],
            {},
            "volume.mark: acts through the taper, which is not in the formula; keep 'volume', the "
            "fraction of the track below the wiper.",
        ),
        (
            ["volume.taper"],
            {},
            "volume.taper: is no number; keep values of parts, such as 'volume.resistance'.",
        ),
        (
            ["tone_capacitor.dissipation_factor"],
            {},
            "tone_capacitor.dissipation_factor: is a loss at every frequency, which no "
            "formula in s can have; keep 'series_resistance' instead.",
        ),
        (None, {}, "keep: None is no list of paths; give paths such as ['volume'], or 'all'."),
    ],
)
def test_refusals(keep, settings, message):
    """One sentence each."""
    with pytest.raises(BadSetting) as caught:
        transfer_function(guitar(), keep=keep, **settings)
    assert str(caught.value) == message


def test_unknown_paths():
    """The nearest name is offered."""
    with pytest.raises(BadSetting, match="did you mean 'inductance'"):
        transfer_function(guitar(), keep="pickup.inductanse")
    with pytest.raises(BadSetting, match="did you mean 'volume'"):
        symbol_of(guitar(), "volumes")
    with pytest.raises(BadSetting):
        transfer_function(guitar(), keep="__import__('os').system('true')")


def test_what_symbols_cannot_state():
    """A constant loss is refused where it is in the way, and only there."""
    lossy = guitar(tone_capacitor=gn.Capacitor("22n", dissipation_factor=0.02))
    with pytest.raises(NotExpressible) as caught:
        poles(lossy)
    assert str(caught.value) == (
        "tone_capacitor.capacitance: loses the same share at every frequency (dissipation "
        "factor), which a formula in s cannot state; set dissipation_factor to 0, and give "
        "series_resistance or parallel_resistance."
    )
    assert transfer_function(lossy, volume=0) == 0
    net = Netlist()
    net.source("in", "in", "0")
    net.impedance("skin", "in", "out", lambda f: 1 + np.sqrt(f))
    net.resistor("R", "out", "0", 50)
    with pytest.raises(NotExpressible) as caught:
        transfer(net, "out")
    assert str(caught.value) == (
        "skin: is a function of frequency, which a formula in s cannot state; model it with "
        "resistors, inductors and capacitors."
    )


def test_circuits_without_an_answer():
    """Two sources on one pair of nodes; a node that does not exist."""
    net = Netlist()
    net.source("one", "a", "0")
    net.source("other", "a", "0")
    net.resistor("R", "a", "out", 1.0)
    for number in range(5):
        net.resistor(f"load {number}", "out", "0", 1.0)
    with pytest.raises(NoSolution) as caught:
        transfer(net, "out")
    assert str(caught.value) == (
        "circuit: has no unique answer around one, other, R, load 0, load 1, load 2; look for "
        "sources in parallel."
    )
    with pytest.raises(BadHarness) as missing:
        transfer(net, "nowhere")
    assert str(missing.value) == "node 'nowhere': is not in the netlist; name one of its nodes."


def test_a_circuit_without_an_answer_names_six_parts():
    net = Netlist()
    net.source("one", "a", "0")
    net.source("other", "a", "0")
    for number in range(6):
        net.resistor(f"R{number}", "a" if number == 0 else f"n{number}", f"n{number + 1}", 1.0)
    net.resistor("load", "n6", "0", 1.0)
    with pytest.raises(NoSolution, match="answer around one, other, R0, R1, R2, R3; look for"):
        transfer(net, "n6")


def test_every_kind_of_branch_in_letters_and_in_numbers():
    """Coupled coils, a follower and two sources, against the solver by nodes."""
    values = {"R": 3, "L": 2, "K": 5, "C": 7, "M": 1}
    for letters_in in (True, False):
        own = {n: sympy.Symbol(n, positive=True) if letters_in else v for n, v in values.items()}
        net = Netlist()
        net.source("in", "in", "0", 2.0)
        net.source("second", "0", "low", 0.5)
        net.resistor("r", "in", "a", own["R"])
        net.inductor("one", "a", "low", own["L"])
        net.inductor("two", "0", "b", own["K"])
        net.add(Branch("k", "M", (), own["M"], 0.0, ("one", "two")))
        net.follower("E", "c", "0", "b", "a")
        net.resistor("after", "c", "out", 4)
        net.capacitor("c", "0", "out", own["C"])
        net.resistor("load", "b", "0", 6)
        ratio = transfer(net, "out")
        put_in = {sympy.Symbol(n, positive=True): v for n, v in values.items()}
        expression = ratio.expression().subs(put_in)
        single = Netlist()
        for branch in net:
            value = values.get(str(branch.value), branch.value)
            single.add(Branch(branch.name, branch.kind, branch.nodes, value, 0.0, branch.between))
        for hertz in (0.02, 0.3):
            found = complex(expression.subs(S, 2j * np.pi * hertz))
            expected = ac.node_voltage(single, "out", np.array([hertz])).item()
            assert found == pytest.approx(expected, rel=1e-9)
        limit = complex(ratio.low_frequency_limit().subs(put_in))
        at_zero = ac.node_voltage(single, "out", np.array([0.0])).item()
        assert limit == pytest.approx(at_zero, abs=1e-9)


def test_a_shorted_coil_in_letters():
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", R)
    net.inductor("one", "out", "0", L)
    net.inductor("other", "x", "x", 2)
    net.add(Branch("k", "M", (*("out", "0"), *("x", "x")), 1, 0.0, ("one", "other")))
    left = S * (L - sympy.Rational(1, 2))
    assert sympy.simplify(transfer(net, "out").expression() - left / (R + left)) == 0


def test_slow_roots_stand_by_their_size():
    """Millihertz as well as kilohertz: the smallest first, the negative imaginary part first."""
    for scale in (1e-6, 1.0, 1e6):
        wanted = np.array([-1.0, -2.0, -2.5 - 1j, -2.5 + 1j, -7.0]) * scale
        # (s + 1)(s + 2)(s + 7)(s^2 + 5 s + 7.25), scaled
        rows = np.polynomial.polynomial.polyfromroots(wanted).real[::-1]
        coefficients = [sympy.Rational(repr(float(3 * x))) for x in rows]
        found = roots(coefficients) * 2 * np.pi
        np.testing.assert_allclose(found, wanted, rtol=1e-9)


# -- poles of a formula ---------------------------------------------------------------------------


def test_poles_and_zeros_of_a_formula_are_those_of_its_guitar():
    """With letters given numbers afterwards as well; in series with a float, and of a constant."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6k", "2.4 H", "120p"))
    formula = gn.formulas.transfer_function(guitar, keep="pickup.inductance")
    letter = gn.formulas.symbol_of(guitar, "pickup.inductance")
    for value in (2.4, sympy.Rational(12, 5)):
        one = formula.subs({letter: value})
        np.testing.assert_allclose(gn.formulas.poles(one), gn.formulas.poles(guitar), rtol=1e-12)
        np.testing.assert_allclose(gn.formulas.zeros(one), gn.formulas.zeros(guitar), rtol=1e-12)
    assert gn.formulas.poles(sympy.Integer(3)).size == gn.formulas.zeros(0.5).size == 0


@pytest.mark.parametrize(
    ("formula", "message"),
    [
        (
            sympy.Symbol("a") / (sympy.Symbol("s") + sympy.Symbol("b")),
            "formula: still holds the letters a, b; give each a number, as formula.subs({a: ...}).",
        ),
        (
            sympy.exp(sympy.Symbol("s")),
            "formula: is no ratio of polynomials in s; give what transfer_function() gave.",
        ),
        (
            "s + 1",
            "formula: a str is no guitar and no formula; give what transfer_function() gave.",
        ),
        (
            None,
            "formula: a NoneType is no guitar and no formula; give what transfer_function() gave.",
        ),
    ],
)
def test_what_is_no_formula_is_refused(formula, message):
    with pytest.raises(gn.errors.BadSetting) as refusal:
        gn.formulas.poles(formula)
    assert str(refusal.value) == message


def test_a_formula_has_no_settings():
    with pytest.raises(gn.errors.BadSetting) as refusal:
        gn.formulas.zeros(1 / (sympy.Symbol("s") + 1), volume=5)
    assert str(refusal.value) == (
        "volume: is no setting of a formula; give it to transfer_function()."
    )
