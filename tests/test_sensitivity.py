"""Sensitivities: closed forms, laws, symbols, differences; shares of the variance."""

from __future__ import annotations

import sys

import mpmath
import numpy as np
import pytest
import sympy
import xarray as xr
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet.circuit.netlist import Netlist
from guitarnet.errors import GuitarnetError, NoSolution, NotInstalled
from guitarnet.solve.adjoint import branch_derivatives
from guitarnet.study.spread.sensitivity import (
    sample_shares,
    sensitivity,
    sensitivity_ranking,
    sobol_shares,
)
from guitarnet.study.spread.tolerance import nominal, spread, tolerances_of

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p", "300k", 0.3, "6 kHz")
GUITAR = gn.layouts.one_pickup(PICKUP, treble_bleed="150k || 1n")
F = np.geomspace(50, 15e3, 25)
DECIBEL = 20 / np.log(10) / 100  # for one percent


# -- branches ------------------------------------------------------------------------------------


def test_rc_in_closed_form():
    """H = 1/(1 + sRC): dH/dR = -sC H², dH/dC = -sR H². Textbook."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 10e3)
    net.capacitor("C", "out", "0", 795e-12)
    volts, by = branch_derivatives(net, "out", F)
    s = 2j * np.pi * F
    h = 1 / (1 + s * 10e3 * 795e-12)
    np.testing.assert_allclose(volts, h, rtol=1e-13)
    np.testing.assert_allclose(by["R"], -s * 795e-12 * h**2, rtol=1e-12)
    np.testing.assert_allclose(by["C"], -s * 10e3 * h**2, rtol=1e-12)


def test_coupled_coils_in_closed_form():
    """A loaded transformer: V = s M R / det of two loops. Textbook."""
    one, two, m, r1, r2 = 2.0, 3.0, 0.5, 4e3, 250e3
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("r1", "in", "a", r1)
    net.inductor("one", "a", "0", one)
    net.inductor("two", "out", "0", two)
    net.mutual("m", "one", "two", m)
    net.resistor("r2", "out", "0", r2)
    volts, by = branch_derivatives(net, "out", F)
    s = 2j * np.pi * F
    det = (r1 + s * one) * (r2 + s * two) - (s * m) ** 2
    np.testing.assert_allclose(volts, s * m * r2 / det, rtol=1e-12)
    d_m = s * r2 / det + s * m * r2 * 2 * s**2 * m / det**2
    np.testing.assert_allclose(by["m"], d_m, rtol=1e-11)
    np.testing.assert_allclose(by["one"], -s * m * r2 * s * (r2 + s * two) / det**2, rtol=1e-11)


def test_a_circuit_without_an_answer():
    """A lossless resonance exactly at a frequency."""
    net = Netlist()
    net.source("in", "in", "0")
    net.source("twin", "in", "0")
    net.resistor("R", "in", "out", 1.0)
    net.resistor("S", "out", "0", 1.0)
    with pytest.raises(NoSolution) as caught:
        branch_derivatives(net, "out", F)
    assert str(caught.value) == (
        "circuit: has no unique answer at one of the frequencies; look for sources in parallel "
        "or a lossless resonance exactly at a frequency."
    )


# -- guitars -------------------------------------------------------------------------------------


@pytest.mark.long
def test_against_symbols(agreement):
    """Another road: the transfer function in letters, differentiated by sympy, at 30 digits."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n")
    paths = list(tolerances_of(guitar))
    knobs = {"volume": 5, "tone": 7}
    formula = gn.formulas.transfer_function(guitar, keep=paths, **knobs)
    s = sympy.Symbol("s")
    letters = {path: gn.formulas.symbol_of(guitar, path) for path in paths}
    assert formula.free_symbols == {s, *letters.values()}
    at = {letters[p]: sympy.Rational(repr(nominal(guitar, p))) for p in paths}
    hertz = [200.0, 4000.0]
    found = sensitivity(guitar, frequency=hertz, values=paths, **knobs)
    slopes = [sympy.diff(formula, letters[path]) for path in paths]
    told = sympy.lambdify([s, *letters.values()], [formula, *slopes], "mpmath", cse=True)
    for f in hertz:
        with mpmath.workdps(40):
            values = [mpmath.mpf(at[letters[p]].p) / at[letters[p]].q for p in paths]
            h, *there = told(2j * mpmath.pi * f, *values)
            shares = [slope * x / h for slope, x in zip(there, values, strict=True)]
        for path, share in zip(paths, shares, strict=True):
            expected = DECIBEL * float(share.real)
            got = float(found.sel(value=path, frequency=f))
            assert got == pytest.approx(expected, rel=1e-9, abs=1e-14), path
            if abs(expected) > 1e-6:  # dB for one per cent; under it rounding is all there is
                agreement(
                    "sympy, derivatives", "slope of the level by each value", [got], [expected]
                )


def test_against_central_differences(draws):
    """Random guitars, all wirings, every value of the pickup too."""
    checked, worst, count = 0, 0.0, draws(2, 24)
    for drawn in random_guitars(7, count, travel="middle"):
        guitar, step = drawn.guitar, 1e-5
        found = sensitivity(guitar, frequency=F, at=drawn.at, **drawn.marks)
        for path in found.value.values:
            x = nominal(guitar, path)
            low, high = (
                gn.level_db(
                    gn.response(guitar, frequency=F, at=drawn.at, **drawn.marks, **{path: x * k})
                )
                for k in (1 - step, 1 + step)
            )
            difference = (high - low) / (2 * step) / 100
            worst = max(worst, float(abs(difference - found.sel(value=path)).max()))
            checked += 1
    assert checked > 6 * count
    assert worst < 1e-7  # of the differences, not of the slopes


@pytest.mark.parametrize(
    ("guitar", "path"),
    [
        (GUITAR, "pickup.screening_frequency"),
        (GUITAR, "pickup.eddy_share"),
        (GUITAR, "pickup.eddy_resistance"),
        (
            gn.layouts.one_pickup(
                PICKUP, tone_capacitor=gn.Capacitor("22n", dissipation_factor=0.02)
            ),
            "tone_capacitor.dissipation_factor",
        ),
        (
            gn.layouts.one_pickup(
                gn.Humbucker(gn.Coil("4k", "2 H", "150p"), gn.Coil("4.4k", "2.2 H", "150p"))
            ),
            "pickup.coupling",
        ),
    ],
)
def test_values_that_enter_crookedly(guitar, path):
    """Not proportional to one branch: a corner, a share, a loss, a coupling."""
    x, step = nominal(guitar, path), 1e-5
    found = sensitivity(guitar, frequency=F, values=[path], volume=6, tone=4)[0]
    low, high = (
        gn.level_db(gn.response(guitar, frequency=F, volume=6, tone=4, **{path: x * k}))
        for k in (1 - step, 1 + step)
    )
    assert abs(found).max() > 1e-4
    np.testing.assert_allclose(found, (high - low) / (2 * step) / 100, atol=1e-8)


def test_the_slope_is_taken_at_the_value_that_is_set():
    """A cable of 6 m where the guitar's own has 3 m: the percent is of what is set."""
    plain = GUITAR.replace("cable.length", "6 m")
    where = {"volume": 10, "tone": 7}
    for path, value in (("cable.length", "6 m"), ("pickup.eddy_share", 0.6)):
        changed = plain if path == "cable.length" else GUITAR.replace(path, value)
        expected = sensitivity(changed, frequency=F, values=[path], **where)
        found = sensitivity(GUITAR, frequency=F, values=[path], **where, **{path: value})
        own = sensitivity(GUITAR, frequency=F, values=[path], **where)
        np.testing.assert_allclose(found, expected, atol=1e-13)
        assert abs(found - own).max() > 1e-3


def test_the_law_of_scaled_impedances():
    """Euler: H stays when every R and L grows by 1 % and every C shrinks by it."""
    ohms_henries = [p for p in tolerances_of(GUITAR) if p.endswith(("resistance", "inductance"))]
    farads = [p for p in tolerances_of(GUITAR) if "capacitance" in p.rpartition(".")[2]]
    paths = [*ohms_henries, "pickup.eddy_resistance", *farads]
    assert set(tolerances_of(GUITAR)) <= set(paths)
    found = sensitivity(GUITAR, frequency=F, values=paths, volume=[10, 5, 2], tone=[10, 3])
    growing = found.sel(value=[*ohms_henries, "pickup.eddy_resistance"]).sum("value")
    shrinking = found.sel(value=farads).sum("value")
    assert abs(growing).max() > 0.01
    np.testing.assert_allclose(growing, shrinking, atol=1e-13)


def test_dimensions_reference_and_silence():
    found = sensitivity(GUITAR, frequency=F, volume=[10, 0], **{"cable.length": ["1 m", "5 m"]})
    assert found.dims == ("volume", "cable.length", "value", "frequency")
    assert np.isnan(found.sel(volume=0)).all()
    assert np.isfinite(found.sel(volume=10)).all()
    assert found.attrs["units"] == "dB/%"
    plain = sensitivity(GUITAR, frequency=["100 Hz", "3 kHz"], volume=5)
    against = sensitivity(GUITAR, frequency=["100 Hz", "3 kHz"], volume=5, re="reference")
    np.testing.assert_allclose(against, plain - plain.sel(frequency=100), atol=1e-15)
    assert "re 100 Hz" in against.attrs["long_name"]


def test_a_part_that_does_not_matter():
    """At volume 10 both ends of the bleed are one node; a bleed's slope is exactly 0."""
    found = sensitivity(
        GUITAR, frequency=F, values=["treble_bleed.capacitor.capacitance"], volume=10
    )
    assert (found == 0).all()


# -- ranking -------------------------------------------------------------------------------------


def test_ranking_against_samples():
    """Small tolerances: the variances of 4000 drawn guitars, value by value and in all."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"))
    small = dict.fromkeys(tolerances_of(guitar), 0.01)
    ranked = sensitivity_ranking(guitar, frequency=["3 kHz"], tolerances=small, volume=5)
    drawn = spread(guitar, 4000, seed=3, tolerances=small)
    level = gn.level_db(gn.response(guitar, frequency=["3 kHz"], volume=5, **drawn)).isel(
        frequency=0
    )
    predicted = float((ranked.change**2).sum() / 3)
    assert float(level.var()) == pytest.approx(predicted, rel=0.05)
    shares = sample_shares(drawn, level)
    for path in ranked.value.values[:3]:
        expected = float(ranked.share.sel(value=path).item())
        assert float(shares.sel(value=path)) == pytest.approx(expected, abs=0.04)
    assert float(ranked.share.sum()) == pytest.approx(1)
    assert (np.diff(ranked.worst) <= 0).all()
    assert float(ranked.worst[0]) > 0


def test_ranking_by_the_worst_of_all_settings():
    """What matters at one mark alone stands above what matters less at every mark."""
    ranked = sensitivity_ranking(GUITAR, frequency=["3 kHz"], volume=[10, 5, 2])
    most = ranked.worst.max("volume")
    assert (np.diff(most) <= 0).all()
    least = ranked.worst.min("volume")
    assert (np.diff(least) > 0).any(), "the two orders must differ, or this shows nothing"


def test_of_a_silent_guitar_nothing_has_a_share():
    """No number and no warning where the total is nothing."""
    ranked = sensitivity_ranking(GUITAR, frequency=["3 kHz"], volume=[5, 0])
    assert np.isnan(ranked.share.sel(volume=0)).all()
    np.testing.assert_allclose(ranked.share.sel(volume=5).sum("value"), 1)
    none = sensitivity_ranking(
        GUITAR, frequency=["3 kHz"], tolerances={"volume.resistance": 0}, volume=5
    )
    assert np.isnan(none.share).all(), "nothing may be off, so nothing varies"


def test_a_figure_says_at_which_mark():
    assert sensitivity(GUITAR, frequency=F, volume=5).attrs["guitar"].endswith("; volume 5")


_SMALL = gn.Coil("4k", "2 H", "9p", unusual=True)
SERIES = gn.layouts.pickup_alone(gn.Humbucker(_SMALL, gn.Coil("8k", "2 H", 0)))
TWO = {"pickup.coil_1.resistance": 0.2, "pickup.coil_2.resistance": 0.1}


def test_shares_of_a_sum_in_closed_form():
    """Two coils in series at the ohmmeter: variances (0.2 x 4k)² and (0.1 x 8k)² are equal."""
    drawn = spread(SERIES, 4000, tolerances=TWO, seed=2)
    found = sample_shares(drawn, gn.jack_resistance(SERIES, **drawn))
    np.testing.assert_allclose(found, [0.5, 0.5], atol=0.04)
    unequal = TWO | {"pickup.coil_2.resistance": 0.05}  # (0.2 x 4)² : (0.05 x 8)² = 4 : 1
    pytest.importorskip("SALib")
    found = sobol_shares(
        SERIES, lambda **s: gn.jack_resistance(SERIES, **s), tolerances=unequal, base=256
    )
    assert found.value.values.tolist() == list(unequal)
    np.testing.assert_allclose(found.total, [0.8, 0.2], atol=0.01)
    np.testing.assert_allclose(found.first, [0.8, 0.2], atol=0.03)
    assert (found.total_error > 0).all()


def test_without_sympy(monkeypatch):
    """Slopes need no symbols, those of coupled coils neither."""
    monkeypatch.setitem(sys.modules, "sympy", None)
    coil = gn.Coil("4k", "2 H", "150p")
    guitar = gn.layouts.one_pickup(gn.Humbucker(coil, coil))
    assert sensitivity(guitar, frequency=[3e3]).notnull().all()


def test_without_salib(monkeypatch):
    monkeypatch.setitem(sys.modules, "SALib", None)
    monkeypatch.setitem(sys.modules, "SALib.analyze", None)
    with pytest.raises(NotInstalled) as caught:
        sobol_shares(GUITAR, lambda **s: gn.jack_resistance(GUITAR, **s))
    assert str(caught.value) == (
        "SALib: is not installed; install it with: pip install 'guitarnet[sensitivity]'."
    )


# -- refusals ------------------------------------------------------------------------------------

LIMIT = GUITAR.replace("pickup.eddy_share", 1.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: sensitivity(GUITAR, frequency=[0, 100]),
            "frequency: 0 Hz has no slope; give frequencies above 0.",
        ),
        (
            lambda: sensitivity(GUITAR, frequency=F, re="loudest"),
            "re: 'loudest' is no reference; use None or 'reference'.",
        ),
        (
            lambda: sensitivity(GUITAR, frequency=F, values=[]),
            "values: is an empty list; give at least one path.",
        ),
        (
            lambda: sensitivity(GUITAR, frequency=F, values=["volume"]),
            "volume: is set by hand, not off by percent; give volume.resistance.",
        ),
        (
            lambda: sensitivity(GUITAR, frequency=F, values=["tone_capacitor"] * 2),
            "tone_capacitor: stands twice in the list; give it once.",
        ),
        (
            lambda: sensitivity(GUITAR, frequency=F, values=["amp.capacitance"]),
            "amp.capacitance: has no value to be off from; leave it out.",
        ),
        (
            lambda: sensitivity(LIMIT, frequency=F, values=["pickup.eddy_share"]),
            "pickup.eddy_share: stands at a limit and has no slope there; set it a little off.",
        ),
        (
            lambda: sensitivity(GUITAR, frequency=F, volume=xr.DataArray([5.0], dims="x").chunk()),
            "sensitivity: takes no chunked array; give it computed.",
        ),
        (
            lambda: sensitivity_ranking(
                GUITAR, frequency=F, tolerances={"volume.resistance": "120%"}
            ),
            "volume.resistance, tolerance: '120%' is too large; give a value from 0 % to 99 % "
            "(nothing is left at 100 % less).",
        ),
        (
            lambda: sample_shares(
                spread(GUITAR, 4), gn.response(GUITAR, frequency=F, **spread(GUITAR, 4))
            ),
            "measured: runs along sample, frequency, not along sample alone; choose one of each "
            "other dimension, as measured.sel(volume=5).",
        ),
        (
            lambda: sample_shares(
                spread(GUITAR, 4), gn.jack_resistance(GUITAR, **spread(GUITAR, 5))
            ),
            "pickup.resistance: has 4 samples, measured 5; give what was computed from it.",
        ),
        (
            lambda: sensitivity(None),
            "guitar: a NoneType is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: sensitivity(GUITAR, values=3),
            "values: an int is no list; give paths, as ['volume.resistance'].",
        ),
        (
            lambda: sensitivity(GUITAR, values=["volume.taper"]),
            "volume.taper: is a choice and no number; name a number, as volume.resistance.",
        ),
        (
            lambda: sensitivity_ranking(GUITAR, tolerances=["cable"]),
            "tolerances: a list is no mapping; give paths and shares, as "
            "{'volume.resistance': '20%'}.",
        ),
        (
            lambda: sample_shares(None, spread(GUITAR, 4)["volume.resistance"]),
            "drawn: a NoneType is no mapping; give what spread() returns.",
        ),
        (
            lambda: sample_shares({"a": 3}, spread(GUITAR, 4)["volume.resistance"]),
            "a: does not run along sample; give what spread() returns.",
        ),
    ],
)
def test_refused(call, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        call()
    assert str(refusal.value) == message


@pytest.mark.parametrize(
    ("options", "measure", "message"),
    [
        ({"base": 100}, None, "sobol_shares.base: 100 is no power of two; give 512 or 1024."),
        (
            {"tolerances": {"volume.resistance": 0}},
            None,
            "tolerances: let no value vary; give one or more above 0.",
        ),
        (
            {"base": 8},
            lambda **s: gn.response(GUITAR, frequency=F, **s),
            "measure: gives no finite number for each of 96 samples; reduce every dimension but "
            "sample, and choose a measure that is always there.",
        ),
        (
            {"base": 8},
            lambda **s: 0 * s["volume.resistance"],
            "measure: is the same for all samples; choose one that varies.",
        ),
        (
            {"base": 8},
            3,
            "measure: an int is no function; give one, as lambda **s: "
            "gn.jack_resistance(guitar, **s).",
        ),
    ],
)
def test_sobol_refused(options, measure, message):
    """One sentence each."""
    pytest.importorskip("SALib")
    with pytest.raises(GuitarnetError) as refusal:
        sobol_shares(GUITAR, measure, **options)
    assert str(refusal.value) == message
