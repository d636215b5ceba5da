"""Fitting pickups: recovery, real pickups, published numbers, and what is refused."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from pieces import evaluated

import guitarnet as gn
from guitarnet import (
    AmpInput,
    Capacitor,
    Harness,
    Humbucker,
    Jack,
    Pickup,
    impedance,
    level_db,
    peak,
    response,
)
from guitarnet.errors import BadFile, BadSetting, BadValue, NoSolution, Unusual
from guitarnet.show.figures.fits import plot_fit
from guitarnet.solve.one_ports import one_ports
from guitarnet.solve.spice import run_ngspice
from guitarnet.study.fit import coil_model, problem as fit_problem
from guitarnet.study.fit.curves import MeasuredCurve, read_curve
from guitarnet.study.fit.fit import fit_pickup, fit_pickups
from guitarnet.study.fit.loads import Load, Unknown
from guitarnet.study.fit.measured import InductanceReading, Measurements, PeakReading
from pickups import pickup_sets

FOLDER = Path(__file__).parent / "reference" / "measured_pickups"
GRID = np.geomspace(40, 20e3, 300)
LOSSY = {
    "resistance": 7100.0,
    "inductance": 3.6,
    "capacitance": 145e-12,
    "eddy_resistance": 27e3,
    "eddy_share": 0.3,
    "screening_frequency": 3100.0,
    "eddy_order": 0.9,
}


def straight(pickup, load=1e15, capacitance=0.0):
    """A pickup straight into an amp input, a capacitor across it."""
    parts = {"pickup": pickup, "jack": Jack(), "amp": AmpInput(load, unusual=True)}
    joints = [["pickup.hot", "jack.tip", "amp.tip"], ["pickup.ground", "jack.sleeve", "amp.sleeve"]]
    if capacitance:
        parts["across"] = Capacitor(capacitance, unusual=True)
        joints = [[*joints[0], "across.a"], [*joints[1], "across.b"]]
    return Harness(parts, joints)


def admittance(f, ohm, farad=0.0):
    return 1 / ohm + 2j * np.pi * f * farad


# -- the model ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "leave_out", [(), ("eddy_order",), ("eddy_resistance", "eddy_share"), tuple(LOSSY)[3:]]
)
@pytest.mark.parametrize(("ohm", "farad"), [(1e6, 1e-15), (200e3, 470e-12), (1e6, 10e-9)])
def test_the_closed_form_is_the_circuit(leave_out, ohm, farad):
    """What is fitted is what `response` computes for the part, to 1e-9."""
    numbers = {name: value for name, value in LOSSY.items() if name not in leave_out}
    guitar = straight(Pickup(**numbers), ohm, farad)
    ours = coil_model.string_response(numbers, GRID, admittance(GRID, ohm, farad))
    theirs = response(guitar, frequency=GRID).values
    assert np.abs(ours - theirs).max() < 1e-9 * np.abs(theirs).max()
    ours = coil_model.terminal_impedance(numbers, GRID, admittance(GRID, ohm, farad))
    theirs = impedance(guitar, frequency=GRID, at="amp").values
    assert np.abs(ours / theirs - 1).max() < 1e-9


@pytest.mark.parametrize("between", [0.0, 30e-12])
def test_an_idle_coil_is_two_coupled_loops(between):
    """Kirchhoff's two loops solved as a matrix, frequency by frequency, say the same.

    The coils carry opposite signals at their open ends, with a capacitance from end to end.
    """
    v = LOSSY | {"idle_coupling": 0.3, "idle_capacitance": 200e-12, "idle_signal": 1.4}
    v["between_capacitance"] = between
    alone = {name: LOSSY[name] for name in LOSSY if name != "screening_frequency"}
    w = 2j * np.pi * GRID
    _, z = coil_model.behind(alone, GRID)
    mutual = -w * 0.3 * 3.6
    across = w * 145e-12 + admittance(GRID, 1e6)
    y = np.array([[across, 0 * w], [0 * w, w * 200e-12]])
    y = (y + w * between * np.array([[1, -1], [-1, 1]])[..., None]).transpose(2, 0, 1)
    impedances = np.array([[z, mutual], [mutual, z]]).transpose(2, 0, 1)
    induced = np.array([1.0, -1.4]) / (1 + 1j * GRID[:, None] / 3100)
    volts = np.linalg.solve(np.eye(2) + impedances @ y, induced[..., None])[:, 0, 0]
    ours = coil_model.string_response(v, GRID, admittance(GRID, 1e6))
    assert np.abs(ours / volts - 1).max() < 1e-9


def test_peak_of_a_row_of_trials():
    """The parabola finds what `peak` finds, for every row."""
    rows = {name: np.array([[value], [1.1 * value]]) for name, value in LOSSY.items()}
    rows["eddy_share"] = np.array([[0.3], [0.2]])
    frequency, height = coil_model.peak_of(rows, lambda f: admittance(f, 1e6, 5e-9), 1200.0)
    for i in range(2):
        numbers = {name: float(row[i, 0]) for name, row in rows.items()}
        found = peak(response(straight(Pickup(**numbers), 1e6, 5e-9)))
        assert frequency[i] == pytest.approx(float(found.frequency), rel=5e-4)
        assert height[i] == pytest.approx(float(found.height), abs=1e-3)


def test_a_loss_of_fractional_order_as_a_ladder():
    """R_eddy (jf/1 kHz)^(1 - a) evaluated as it stands, against the ladder in the circuit.

    Stated in the docstring of the part: 0.02 dB and 0.2 degrees, 20 Hz to 20 kHz, a of 0.7 up.
    """
    f, orders = np.geomspace(20, 20e3, 60), [0.7, 0.8, 0.9, 1.0]
    w = 2j * np.pi * f
    for ohm, henry, farad, loss, share in (
        (7e3, 3.3, 150e-12, 16e3, 0.46),
        (7.6e3, 7.7, 50e-12, 2.7e3, 0.31),
        (14e3, 7.1, 220e-12, 120e3, 0.45),
    ):
        pickup = Pickup(ohm, henry, farad, loss, share, eddy_order=1)
        h = response(straight(pickup, 1e6), {"pickup.eddy_order": orders}, frequency=f).values
        z = impedance(straight(pickup, 1e6), {"pickup.eddy_order": orders}, frequency=f).values
        for row, order in enumerate(orders):
            core, branch = w * henry * share, loss * (1j * f / 1e3) ** (1 - order)
            series = ohm + w * henry * (1 - share) + core * branch / (core + branch)
            bare = w * farad
            loaded = 1 / (1 + series * (bare + 1e-6))
            for found, exact in ((h, loaded), (z, series / (1 + series * bare))):
                ratio = found[row] / exact
                assert np.abs(20 * np.log10(np.abs(ratio))).max() < 0.02
                assert np.abs(np.angle(ratio, deg=True)).max() < 0.2
                if order == 1:
                    assert ratio == pytest.approx(1, abs=1e-9)
        plain = response(straight(pickup.replace("eddy_order", None), 1e6), frequency=f).values
        assert h[3] == pytest.approx(plain, rel=1e-9)


# -- recovery -------------------------------------------------------------------------------------


def invented(numbers, loads, seed, noise=0.05, slope=20.0):
    """String curves of a known pickup on one rig of unknown level, with noise."""
    random = np.random.default_rng(seed)
    curves, rig = [], random.normal(-57, 3)
    for name, load in loads.items():
        ohm, farad = load.resistance or 1e15, load.capacitance
        farad = farad if isinstance(farad, float) else farad.around
        y = admittance(GRID, ohm, farad) + 1 / 1e6
        level = 20 * np.log10(np.abs(coil_model.string_response(numbers, GRID, y)))
        level = level + slope * np.log10(GRID) + rig
        level = level + random.normal(0, noise, GRID.size)
        curves.append(MeasuredCurve(GRID, level, load=load, slope=slope, name=name))
    return curves


@pytest.mark.parametrize("seed", range(4))
def test_known_values_come_back(seed):
    """Two noisy curves and a resistance give every value, within its standard error."""
    loads = {"unloaded": Load(), "10 nF": Load(capacitance="10n")}
    fit = fit_pickup(
        invented(LOSSY, loads, seed),
        resistance=7100,
        instrument=Load("1M"),
        slow_screening=False,
        beside_idle_coil=False,
    )
    for name, within in {
        "inductance": 0.02,
        "capacitance": 0.04,
        "screening_frequency": 0.04,
    }.items():
        found = fit.values[name]
        assert found.value == pytest.approx(LOSSY[name], rel=within)
    for name, found in fit.values.items():
        assert abs(found.value - LOSSY[name]) < 2 * found.error, name
    assert all(0.01 < curve.rms < 0.05 for curve in fit.curves)  # noise, averaged in bins
    assert fit.pickup.inductance == fit.values["inductance"].value


def test_a_known_instrument_is_part_of_the_prediction():
    curves = invented(LOSSY, {"unloaded": Load(), "10 nF": Load(capacitance="10n")}, 1)
    options = {"resistance": 7100, "slow_screening": False, "beside_idle_coil": False}
    fit = fit_pickup(curves, instrument=Load("1M"), name="load", **options)
    numbers = {name: found.value for name, found in fit.values.items()}
    expected = coil_model.string_response(numbers, GRID, admittance(GRID, 1e6, 1e-9))
    assert fit.predict(Load(capacitance="1n"), GRID).values == pytest.approx(expected, rel=1e-12)
    expected = coil_model.string_response(numbers, GRID, admittance(GRID, 1e15, 1e-9))
    bare = fit.predict(Load(capacitance="1n"), GRID, instrument=False).values
    assert bare == pytest.approx(expected, rel=1e-9)


def test_an_unknown_capacitor_is_found():
    """What one pickup's meter readings say of the capacitor helps the other pickup."""
    big = Load(capacitance=Unknown("9n", "12%", name="large capacitor"))
    made = {"unloaded": Load(), "large": Load(capacitance="10n")}
    other = LOSSY | {"inductance": 2.5, "resistance": 5900.0}
    curves = {
        name: [
            replace(c, load=load)
            for c, load in zip(invented(v, made, seed), (Load(), big), strict=True)
        ]
        for seed, (name, v) in enumerate({"one": LOSSY, "two": other}.items())
    }
    fits = fit_pickups(
        {
            "one": Measurements(curves["one"], "7.1k", InductanceReading("3.6 H", within="1%")),
            "two": Measurements(curves["two"]),
        },
        slow_screening=False,
    )
    for fit in fits.values():
        assert fit.loads["large capacitor capacitance"].value == pytest.approx(10e-9, rel=0.03)
    assert fits["two"].values["inductance"].value == pytest.approx(2.5, rel=0.03)


def test_an_unknown_of_no_name_is_its_curves_own():
    unknown = Load(capacitance=Unknown("9n"))
    made = {"unloaded": Load(), "large": Load(capacitance="10n")}
    curves = [
        replace(c, load=load)
        for c, load in zip(invented(LOSSY, made, 0), (Load(), unknown), strict=True)
    ]
    fit = fit_pickup(curves, resistance="7.1k", inductance="3.6 H", beside_idle_coil=False)
    assert set(fit.loads) == {"pickup large capacitance", "instrument resistance"}
    assert fit.loads["pickup large capacitance"].value == pytest.approx(10e-9, rel=0.05)
    assert all(math.isfinite(found.error) and found.error > 0 for found in fit.loads.values())


def test_an_impedance_curve_gives_the_coil():
    """Size and phase of an impedance, its scale known, need no other reading."""
    random = np.random.default_rng(5)
    z = coil_model.terminal_impedance(LOSSY, GRID)
    size = np.abs(z) * 10 ** (random.normal(0, 0.03, GRID.size) / 20)
    phase = np.degrees(np.angle(z)) + random.normal(0, 0.3, GRID.size)
    curve = MeasuredCurve(GRID, size, phase, kind="impedance", load=Load())
    fit = fit_pickup(curve)
    assert "screening_frequency" not in fit.values  # an impedance cannot show it
    for name, found in fit.values.items():  # loss, share and order: what is known goes to three
        within = 0.06 if name.startswith("eddy") else 0.03
        assert found.value == pytest.approx(LOSSY[name], rel=within)
    assert fit.pickup.screening_frequency is None
    assert fit_pickup(replace(curve, phase_deg=None)).values["inductance"].value == pytest.approx(
        3.6, rel=0.02
    )


def test_an_outlier_does_not_bend_the_rest():
    loads = {"unloaded": Load(), "10 nF": Load(capacitance="10n")}
    curves = invented(LOSSY, loads, 1)
    spoiled = np.where(np.abs(GRID / 1500 - 1) < 0.05, curves[0].magnitude - 6, curves[0].magnitude)
    options = {"resistance": 7100, "slow_screening": False, "beside_idle_coil": False}
    fit = fit_pickup([replace(curves[0], magnitude=spoiled), curves[1]], **options)
    assert fit.values["inductance"].value == pytest.approx(3.6, rel=0.03)
    assert fit.values["screening_frequency"].value == pytest.approx(3100, rel=0.08)


# -- eleven real pickups --------------------------------------------------------------------------
# Open dataset, CC0 1.0, named in the head of each file. Two curves are fitted, the third is only
# predicted. One capacitor served the rig; the two resistances and the inductance are stated there.

BIG = Load(
    capacitance=Unknown("10n", "12%", name="large capacitor"),
    dissipation=Unknown(0.015, 0.8, name="large capacitor"),
)
LOADS = {
    "unloaded": Load(),
    "load-large-capacitor": BIG,
    "load-200k-470p": Load("200k", "470p"),
}
SEEN = ("unloaded", "load-large-capacitor")
SETS = sorted(file.name.removesuffix(".unloaded.csv") for file in FOLDER.glob("*.unloaded.csv"))
STATED = {
    "two-coil-12.69k-neck": {"resistance": "12.69k"},
    "single-coil-wide-10.6k": {"resistance": "10.6k", "inductance": "6.7 H"},
}
ONE_OF_TWO = {"two-coil-blades-one-coil", "two-coil-hot-coil-1", "two-coil-hot-coil-2"}


def measured(name, load):
    return read_curve(FOLDER / f"{name}.{load}.csv", load=LOADS[load], slope=20, name=load)


def told(name, seen=SEEN, **changes):
    curves = [measured(name, load) for load in seen]
    facts = {"beside_idle_coil": name in ONE_OF_TWO, **STATED.get(name, {}), **changes}
    return Measurements(curves, **facts)


def misses(fit, name, load="load-200k-470p"):
    """Shape of a prediction against a measurement: rms [dB], levels matched below 250 Hz."""
    curve = measured(name, load)
    f = curve.frequency
    difference = level_db(fit.predict(LOADS[load], f)).values - curve.level
    difference -= difference[(f > 60) & (f < 250)].mean()
    return float(np.sqrt(np.mean(difference[(f >= 200) & (f <= 8000)] ** 2)))


@pytest.fixture(scope="module")
def fits():
    """All eleven, fitted to two curves each."""
    return fit_pickups({name: told(name) for name in SETS})


def test_every_set_names_its_source():
    assert len(SETS) == 11
    for file in FOLDER.glob("*.csv"):
        assert re.match(r"# SOURCE: open dataset, CC0", file.read_text(encoding="utf-8"))


def test_the_split_of_the_47_sets_keeps_families_together():
    """Fixed before the fit was changed: what was measured on one pickup is on one side, and the
    eleven sets on which the first model was chosen are on the development side."""
    sets = pickup_sets()
    assert len(sets) == 47
    halves = {one.family: one.half for one in sets.values()}
    assert all(one.half == halves[one.family] for one in sets.values())
    assert Counter(one.half for one in sets.values()) == {"development": 23, "set aside": 24}
    assert Counter(one.level for one in sets.values()) == {
        "clear": 29,
        "doubtful": 3,
        "disturbed": 15,
    }
    assert all(sets[name].half == "development" for name in SETS)
    for name, load in product(SETS[::5], LOADS):
        frequency, level = sets[name].curves[load]
        curve = measured(name, load)
        inside = (curve.frequency >= 40) & (curve.frequency <= 15e3)
        assert frequency == pytest.approx(curve.frequency[inside], rel=1e-5)
        assert level == pytest.approx(curve.magnitude[inside], abs=0.0051)


def test_the_third_load_is_predicted(agreement, fits):
    """0.4 dB median and 0.8 dB worst, from the two other curves; reached: 0.24 and 0.54."""
    reached = {name: misses(fits[name], name) for name in SETS}
    assert np.median(list(reached.values())) < 0.3
    assert max(reached.values()) < 0.6
    rms = [10 ** (each / 20) for each in reached.values()]
    agreement(
        "eleven measured pickups",
        "third curve, predicted: rms of each from 200 Hz to 8 kHz",
        rms,
        [1.0] * 11,
        limit="the model of a pickup",
    )


@pytest.mark.long
def test_the_third_load_is_met_by_a_fit_that_sees_it(fits):
    """What the model cannot do lies below what it does not know."""
    floor = fit_pickups({name: told(name, tuple(LOADS)) for name in SETS})
    reached = {name: misses(fits[name], name) for name in SETS}
    lowest = {name: misses(floor[name], name) for name in SETS}
    for name in SETS:
        print(f"{name:36s} {reached[name]:.2f} dB predicted, {lowest[name]:.2f} dB seeing all")
    print(f"median {np.median(list(reached.values())):.2f}, {np.median(list(lowest.values())):.2f}")
    assert np.median(list(lowest.values())) < np.median(list(reached.values()))
    assert max(lowest.values()) < 0.35


@pytest.mark.long
@pytest.mark.parametrize(
    ("changes", "median", "worst"),
    [
        ({"beside_idle_coil": None}, 0.3, 0.6),
        ({"inductance": ()}, 0.42, 0.7),
        ({"inductance": (), "resistance": None}, 0.5, 0.7),
        ({"beside_idle_coil": False}, 0.3, 1.2),
    ],
    ids=["idle coils found", "no inductance", "no readings", "idle coils denied"],
)
def test_what_each_fact_is_worth(changes, median, worst):
    """Prediction with less told: the idle coils are found; denied, one coil of two fits badly."""
    fits = fit_pickups({name: told(name, **changes) for name in SETS})
    reached = [misses(fits[name], name) for name in SETS]
    assert np.median(reached) < median
    assert max(reached) < worst
    if changes == {"beside_idle_coil": False}:
        assert max(reached) > 0.9
    if changes == {"beside_idle_coil": None}:
        found = {name for name in SETS if "idle_coupling" in fits[name].values}
        assert found == ONE_OF_TWO


@pytest.mark.long
def test_each_set_by_itself():
    """Without the others the capacitor is known by its guess only; reached: 0.23 and 0.70."""
    reached = [misses(fit_pickups({name: told(name)})[name], name) for name in SETS]
    assert np.median(reached) < 0.4
    assert max(reached) < 0.8


def test_what_the_rig_turns_out_to_be(fits):
    """About 10 nF (9 to 13 by other models) and an input of about 1 Mohm, one for all sets."""
    loads = [fit.loads for fit in fits.values()]
    assert all(one == loads[0] for one in loads)
    assert 9e-9 < loads[0]["large capacitor capacitance"].value < 12e-9
    assert 0.7e6 < loads[0]["instrument resistance"].value < 1.4e6


def test_parallel_resonates_twice_as_high_as_series(fits):
    """f0 of the same two coils in parallel over series: 2.00 within 3 %.

    Lemme's rule holds where the capacitance outside prevails, so with the large capacitor; 2.00
    and 2.05 are derived from the same dataset. Fitted here: 2.04.
    """
    both = [fits[f"two-coil-hot-{how}"] for how in ("parallel", "series")]
    outside = both[0].loads["large capacitor capacitance"].value
    lc = [fit.pickup.inductance * (fit.pickup.capacitance + outside) for fit in both]
    assert math.sqrt(lc[1] / lc[0]) == pytest.approx(2.0, rel=0.03)


def test_most_pickups_are_of_third_order(fits):
    """A pickup with a large capacitor falls towards 18 dB an octave, not 12.

    Published (musiker-board.de, thread 562061): second order fits alnico-rod single coils only.
    Measured here from 3 to 6 kHz, far over the resonance near 1 kHz: ten of eleven fall by more
    than 13.5 dB, and the eleventh is lifted by its idle coil's resonance. The alnico rods of this
    set are no exception: theirs fall by 16 dB too.
    """
    slopes = {}
    for name in SETS:
        curve = measured(name, "load-large-capacitor")
        part = (curve.frequency >= 3e3) & (curve.frequency <= 6e3)
        slopes[name] = np.polyfit(np.log2(curve.frequency[part]), curve.level[part], 1)[0]
    lifted = slopes.pop("two-coil-blades-one-coil")
    assert -12 < lifted < -9
    assert all(-19 < slope < -13.5 for slope in slopes.values())
    assert slopes["single-coil-alnico-rods-bridge"] < -15
    second = Pickup("7k", "3.6 H", "145p")  # the same measure of a coil of second order
    octave = level_db(response(straight(second, 1e6, 10e-9), frequency=[3e3, 6e3])).values
    assert octave[1] - octave[0] == pytest.approx(-12.3, abs=0.3)
    for name, fit in fits.items():
        far = level_db(fit.predict(BIG, [100e3, 200e3])).values
        assert far[1] - far[0] == pytest.approx(-18, abs=0.4), name


@pytest.mark.parametrize(
    "name", [*SETS[:3], *(pytest.param(name, marks=pytest.mark.long) for name in SETS[3:])]
)
def test_second_order_misses_every_set(name):
    """Without losses and screening no set is met: more than 0.9 dB rms, if it fits at all."""
    try:
        fit = fit_pickups({name: told(name, beside_idle_coil=False)}, losses=False)[name]
    except NoSolution:
        return
    assert max(curve.rms for curve in fit.curves) > 0.9


# -- published numbers ----------------------------------------------------------------------------


def test_a_two_coil_pickup_at_two_loads():
    """16.56k, 8.059 H, 128 pF: 4.78 kHz unloaded, 1.96 kHz at 200k and 470 pF.

    A forum's bench measurement, read in a write-up. Lossless within 7 %; the fit with eddy loss
    and screening, told R, L and both resonances, is nearer at both. The losses that it takes for
    typical lower the peaks, so it needs more capacitance than the 128 pF of the lossless sum.
    """
    loads = {4780.0: Load("10M"), 1960.0: Load("200k", "470p")}
    lossless = Pickup("16.56k", "8.059 H", "128p")
    readings = [PeakReading(f, load, within="1%") for f, load in loads.items()]
    fit = fit_pickup(resistance="16.56k", inductance="8.059 H", peak=readings, losses=True)
    for f, load in loads.items():
        plain = peak(response(straight(lossless, load.resistance, load.capacitance)))
        assert float(plain.frequency) == pytest.approx(f, rel=0.07)
        near = peak(fit.predict(load, instrument=False))
        assert abs(float(near.frequency) - f) < abs(float(plain.frequency) - f)
        assert float(near.frequency) == pytest.approx(f, rel=0.02)
    assert 110e-12 < fit.values["capacitance"].value < 200e-12


def test_an_lcr_meter_reads_too_high_near_resonance():
    """The apparent inductance rises towards resonance: musiker-board.de, thread 570258.

    The reading is Im(Z) / w; at low frequency that is L - R^2 C exactly.
    """
    pickup = Pickup("16.56k", "8.059 H", "128p")
    numbers = {"resistance": 16.56e3, "inductance": 8.059, "capacitance": 128e-12}
    f = np.array([10.0, 120.0, 1e3, 2e3, 3e3, 4e3])
    shown = np.array([float(coil_model.apparent_inductance(numbers, one)[()]) for one in f])
    z = impedance(straight(pickup), frequency=f).values
    assert shown == pytest.approx(z.imag / (2 * np.pi * f), rel=1e-6)
    assert (np.diff(shown) > 0).all()
    assert shown[0] == pytest.approx(8.059 - 16.56e3**2 * 128e-12, rel=1e-4)
    assert shown[2] / 8.059 > 1.03
    assert shown[1] / 8.059 == pytest.approx(1, abs=0.01)


@pytest.mark.parametrize("frequency", ["120 Hz", "1 kHz", "2 kHz"])
def test_a_reading_near_resonance_is_understood(frequency):
    """Whatever the meter's frequency, the same inductance is found behind its reading."""
    numbers = {"resistance": 16.56e3, "inductance": 8.059, "capacitance": 128e-12}
    f = InductanceReading(1, frequency).frequency
    shown = float(coil_model.apparent_inductance(numbers, f)[()])
    f0 = coil_model.peak_of(numbers, lambda f: 1 / 10e6 + 0 * f, 4800.0)[0][0]
    fit = fit_pickup(
        resistance="16.56k",
        inductance=InductanceReading(shown, frequency, "0.1%"),
        peak=PeakReading(f0, Load("10M"), within="0.1%"),
    )
    assert fit.values["inductance"].value == pytest.approx(8.059, rel=2e-3)
    assert fit.values["capacitance"].value == pytest.approx(128e-12, rel=5e-3)


def test_readings_give_the_capacitance_of_a_sheet():
    """6.5k, 2.9 H at 120 Hz and 7.85 kHz give 141.7 pF (Premier Guitar, "Demystifying DCR")."""
    fit = fit_pickup(
        resistance="6.5k",
        inductance=InductanceReading("2.9 H", "120 Hz", "0.1%"),
        peak=PeakReading("7.85 kHz", Load("1G", unusual=True), within="0.1%"),
    )
    assert fit.values["capacitance"].value == pytest.approx(141.7e-12, rel=0.005)
    assert fit.warnings == ("Lossless coil assumed (no eddy currents, no screening).",)


def test_a_height_calls_for_losses():
    """A peak lower than a lossless coil's is put down to losses, and the table says how little
    one number tells of them."""
    reading = PeakReading("5 kHz", Load("1M"), height=8.0)
    fit = fit_pickup(resistance="6.5k", inductance="2.9 H", peak=reading)
    found = peak(fit.predict(Load("1M"), instrument=False))
    assert float(found.frequency) == pytest.approx(5000, rel=0.02)
    assert float(found.height) == pytest.approx(8, abs=0.5)
    assert not fit.values["eddy_share"].determined
    assert "Hardly determined by this data, so near a typical value:" in fit.warnings[-1]


# -- level and scale ------------------------------------------------------------------------------

THREE = {"unloaded": Load(), "10 nF": Load(capacitance="10n"), "guitar": Load("200k", "470p")}
MOVED = (
    "loads allowed for: the pickup, the exciter or the gain moved between the sweeps; measure "
    "again."
)
PLAIN = {"resistance": 7100, "slow_screening": False, "beside_idle_coil": False}


@pytest.mark.parametrize(
    ("shift", "words"), [(1.2, "1.2 dB high"), (-1.5, "1.5 dB low"), (0.6, "")]
)
def test_a_curve_that_lies_off_is_reported_and_left_out_on_request(shift, words):
    """The shift is found again, though the curves' loads change their levels by up to 0.3 dB."""
    curves = invented(LOSSY, THREE, 2)
    curves[2] = replace(curves[2], magnitude=curves[2].magnitude + shift)
    fit = fit_pickup(curves, **PLAIN)
    assert [one.above for one in fit.curves] == pytest.approx([0, 0, shift], abs=0.05)
    told = [sentence for sentence in fit.warnings if "loads allowed for" in sentence]
    assert told == ([f"The guitar curve lies {words}, {MOVED}"] if words else [])
    if shift == 1.2:
        two = fit_pickup(curves[:2], **PLAIN)
        less = fit_pickup(curves, moved="leave out", **PLAIN)
        assert [one.counts for one in less.curves] == [True, True, False]
        assert less.pickup.source.startswith("fitted to 2 measured curves")
        assert "left out of the fit" in str(less)
        for name, found in two.values.items():
            assert less.values[name].value == pytest.approx(found.value, rel=1e-4)
        lighter = fit_pickup(curves, moved="weigh down", **PLAIN)
        ends = sorted(one.values["inductance"].error for one in (fit, less))
        assert ends[0] < lighter.values["inductance"].error < ends[1]
        assert all(one.counts for one in lighter.curves)


def test_of_two_curves_nobody_knows_which_one_moved():
    curves = invented(LOSSY, THREE, 2)[:2]
    curves[0] = replace(curves[0], magnitude=curves[0].magnitude + 2)
    fit = fit_pickup(curves, moved="leave out", **PLAIN)
    assert f"The unloaded curve lies 2.0 dB above the 10 nF curve, {MOVED}" in fit.warnings
    assert all(one.counts for one in fit.curves)


def test_without_anything_absolute_the_scale_is_not_known():
    """Impedances times 1.1, capacitances over 1.1: the same two curves. So the errors are those of
    the capacitor's guess, and a sentence says so; a metered capacitor, or a resistance, ends it."""
    curves = invented(LOSSY, THREE, 3)[:2]
    options = {"slow_screening": False, "beside_idle_coil": False}
    guess = replace(curves[1], load=Load(capacitance=Unknown("10.5n", "12%")))
    ratios = fit_pickup([curves[0], guess], **options)
    assert 0.08 < ratios.scale_within < 0.13
    assert ratios.warnings[0] == (
        "Nothing that was told sets the scale of impedance: inductance, capacitance, resistance "
        f"and loss are known as ratios only, together within {100 * ratios.scale_within:.0f} %. "
        "Give the DC resistance, an inductance, or a test capacitor metered to 1 %."
    )
    for name in ("inductance", "capacitance", "eddy_resistance"):
        assert ratios.values[name].error > 0.08 * ratios.values[name].value
    metered = replace(curves[1], load=Load(capacitance=Unknown("10n", "1%")))
    for fit in (
        fit_pickup([curves[0], metered], **options),
        fit_pickup([curves[0], guess], resistance="7.1k", **options),
    ):
        assert fit.scale_within < 0.02
        assert not any("scale of impedance" in sentence for sentence in fit.warnings)
        assert fit.values["inductance"].value == pytest.approx(3.6, rel=0.05)


# -- what a fit shows -----------------------------------------------------------------------------


def test_a_table_in_words(fits):
    text = str(fits["single-coil-alnico-rods-bridge"])
    assert text.startswith("single-coil-alnico-rods-bridge, fitted from 80 to 10000 Hz\n")
    assert re.search(r"^inductance +2\.7\d* H +\d+ mH$", text, re.MULTILINE)
    assert re.search(r"^residual, unloaded +0\.\d\d dB +rms$", text, re.MULTILINE)
    assert re.search(
        r"^Hardly determined by this data, so near a typical value: .*eddy order.*\.$",
        text,
        re.MULTILINE,
    )
    assert fits["two-coil-medium"]._repr_html_().startswith("<table><caption>two-coil-medium")


def test_what_cannot_be_told_apart_is_said():
    """With the capacitor unknown and nothing else stated, L and C only scale together."""
    fit = fit_pickups({"one": told("two-coil-medium")})["one"]
    assert any(
        re.fullmatch(
            r"Inductance and large capacitor capacitance cannot be told apart from this data "
            r"\(correlation -(1\.00|0\.9\d)\)\.",
            words,
        )
        for words in fit.warnings
    )
    assert not fit.loads["large capacitor capacitance"].determined


def test_a_poor_fit_says_so():
    """One coil of two, its neighbour denied."""
    fit = fit_pickups({"one": told("two-coil-hot-coil-1", beside_idle_coil=False)})["one"]
    assert re.fullmatch(
        r"The model misses unloaded by \d\.\d dB rms and load-large-capacitor by \d\.\d dB rms: "
        r"a wrong load or slope, or a second coil\?",
        fit.warnings[-1],
    )
    found = fit_pickups({"one": told("two-coil-hot-coil-1", beside_idle_coil=None)})["one"]
    assert found.warnings[-1] == (
        "The curves show a second resonance; an idle coil beside this one explains it."
    )


@pytest.mark.parametrize(
    "name",
    ["two-coil-medium", "two-coil-hot-coil-1", "two-coil-hot-parallel", "single-coil-wide-10.6k"],
)
def test_a_guitar_with_the_pickup_is_what_was_predicted(fits, name):
    """All of the model is in the part: of real pickups, as circuits, behind a cable and at 1 Mohm.

    The rig stays outside: the instrument counts in the prediction only if it is asked for.
    """
    fit = fits[name]
    assert type(fit.pickup) is (Humbucker if name in ONE_OF_TWO else Pickup)
    h = response(straight(fit.pickup, 1e6, 500e-12), frequency=GRID)
    predicted = fit.predict(Load("1M", "500p"), GRID, instrument=False)
    assert h.values == pytest.approx(predicted.values, rel=1e-9)
    assert np.abs(level_db(h) - level_db(fit.predict(Load("1M", "500p"), GRID))).max() > 0.01
    worst = max(one.rms for one in fit.curves)
    assert fit.pickup.source == f"fitted to 2 measured curves, within {worst:.2f} dB rms"
    owners = {row[0]: row[3] for row in fit.table().rows}
    assert owners["instrument resistance"].startswith("the rig's")
    assert owners["slow share"].startswith("perhaps the exciter's in part")
    assert owners["capacitance"].startswith("with the instrument's")


def test_the_whole_pickup_against_ngspice(ngspice, fits):
    """A coil beside an idle one, with its order of loss and slow screening: what SPICE text says,
    what `response` says, and what the live page works out from its polynomials.
    """
    guitar = straight(fits["two-coil-hot-coil-1"].pickup, 1e6, 500e-12)
    f, volts = run_ngspice(gn.formulas.to_spice(guitar, per_decade=10))
    assert response(guitar, frequency=f).values == pytest.approx(volts, rel=1e-9)
    circuit = one_ports(guitar.stamp(), guitar.node("amp.tip"), ["amp.resistance"])
    page = [evaluated(circuit, {"amp.resistance": 1e6}, hertz) for hertz in f]
    assert page == pytest.approx(volts, rel=1e-9)


def test_prediction_is_a_response(fits):
    h = fits["two-coil-medium"].predict(Load("200k", "470p"))
    assert h.dims == ("frequency",)
    assert h.attrs["long_name"] == "response of the driven pickup, 200 kΩ, 470 pF"
    assert abs(h.sel(frequency=20)) == pytest.approx(h.at_reference.item(), rel=0.02)
    quiet = fits["two-coil-medium"].predict(Load("200k", "470p"), instrument=False)
    assert float(quiet.at_reference) > float(h.at_reference)
    with pytest.raises(BadSetting) as caught:
        fits["two-coil-medium"].predict(Load(capacitance=Unknown("1n")))
    assert str(caught.value) == "load capacitance: is unknown and was not fitted; give its value."


def test_the_figure(fits):
    import matplotlib.pyplot as plt

    fit = fits["two-coil-hot-coil-1"]
    axes = plot_fit(fit)
    above, below = axes[:, 0]
    assert len(above.lines) >= 4  # measured and model, twice
    assert above.get_title(loc="left") == "Measured and model: two-coil-hot-coil-1"
    assert above.get_ylabel() == "level re 1 V/V [dB]"
    assert below.get_ylabel() == "measured\nminus model [dB]"
    labels = [text.get_text() for text in above.get_legend().get_texts()]
    assert labels == [f"{curve.curve.name}, rms {curve.rms:.2f} dB" for curve in fit.curves]
    shown = below.lines[0].get_ydata()
    assert shown == pytest.approx(fit.curves[0].measured - fit.curves[0].model)
    assert above.figure._supxlabel.get_text() == (
        "Pale: measured, level moved onto the model; thin: model; grey: not fitted."
    )
    plt.close(above.figure)


def test_a_figure_of_both_kinds():
    import matplotlib.pyplot as plt

    z = np.abs(coil_model.terminal_impedance(LOSSY, GRID))
    curves = [
        MeasuredCurve(GRID, z, kind="impedance", load=Load(), name="impedance"),
        *invented(LOSSY, {"unloaded": Load()}, 0),
    ]
    fit = fit_pickup(curves, beside_idle_coil=False)
    axes = plot_fit(fit, title="Both")
    assert axes.shape == (2, 2)
    assert axes[0, 0].get_title(loc="left") == "Both"
    assert axes[0, 1].get_ylabel() == "impedance re 1 ohm [dB]"
    plt.close(axes[0, 0].figure)
    with pytest.raises(BadSetting) as caught:
        plot_fit(fit_pickup(resistance="6k", inductance="2.4 H"))
    assert str(caught.value) == "plot_fit: pickup was not fitted to a curve; print(fit) instead."


# -- what is refused ------------------------------------------------------------------------------

NAMES = "name the columns frequency_hz and magnitude_db, or frequency_hz and impedance_ohm"
HEAD = "frequency_hz,magnitude_db\n"
RISING = [100 * 1.3**n for n in range(16)]
STATE = (
    "give Load() for unloaded, Load('200k', '470p') for known values, "
    "or Load(capacitance=Unknown('10n')) to find one"
)


def lines(frequencies, value=lambda f: "0"):
    return "".join(f"{f:.6g},{value(f)}\n" for f in frequencies)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "frequency,level\n" + lines(RISING),
            f"FILE: has no column 'frequency_hz' in its header 'frequency,level'; {NAMES}.",
        ),
        ("frequency_hz,level\n" + lines(RISING), f"FILE: has no column of a known unit; {NAMES}."),
        (
            "frequency_hz,magnitude_db,impedance_ohm\n100,0,5000\n",
            f"FILE: has both a level and an impedance; {NAMES}.",
        ),
        (
            HEAD + "100,5,-3,2\n",
            "FILE, line 2: has 4 cells under 2 names; write decimal points, not decimal commas, "
            "and one value a column.",
        ),
        (
            HEAD.replace(",", ";") + "100,5;-3,2\n",
            "FILE: is separated by semicolons; save it with commas between columns and decimal "
            "points in numbers.",
        ),
        (HEAD + lines(RISING[:5]), "FILE: has 5 points; give 10 or more."),
        (
            HEAD + lines([*RISING, 300]),
            "FILE: falls from 5118.59 to 300 Hz; sort the lines by rising frequency.",
        ),
        (
            HEAD + lines([*RISING[:8], RISING[7], *RISING[8:]]),
            "FILE: has 627.485 Hz twice; give each frequency once.",
        ),
        (HEAD + lines([0, *RISING]), "FILE: has the frequency 0 Hz; give frequencies above zero."),
        (
            HEAD + lines([f / 1000 for f in RISING]),
            "FILE: ends at 5.11859 Hz, which reads like kHz; give hertz.",
        ),
        (
            HEAD + lines(RISING, lambda f: "nan" if f == 100 else "0"),
            "FILE: magnitude has gaps; leave them out.",
        ),
        (
            HEAD + lines(RISING, lambda f: f"{20 * math.log10(f):.3f}"),
            "FILE: rises by 20 dB a decade below 250 Hz; give slope=20 for an exciter coil without "
            "integrator.",
        ),
        (
            "frequency_hz,impedance_ohm\n" + lines(RISING, lambda f: "6.5"),
            "FILE: reaches 6.5 ohm only, which reads like kilohm; give ohm, or if it is "
            "in ohm, unusual=True.",
        ),
        (
            "frequency_hz,impedance_ohm,phase_deg\n"
            + lines(RISING, lambda f: f"{6000 + f:.6g},{math.atan(f / 1e3):.4f}"),
            "FILE: its phase spans 1.3 only, which reads like radians; give degrees, or if "
            "it is in degrees, unusual=True.",
        ),
        (
            "frequency_hz,impedance_ohm\n" + lines(RISING, lambda f: "-6500"),
            "FILE: has an impedance that is not above zero; give its size in ohm.",
        ),
        (
            "frequency_hz,magnitude_db,Magnitude_dB\n" + lines(RISING, lambda f: "0,1"),
            "FILE: names the column 'magnitude_db' twice; name the one to read, drop the other.",
        ),
        (
            "frequency_hz\tmagnitude_db\n" + lines(RISING).replace(",", "\t"),
            "FILE: is separated by tabs; save it with commas between columns.",
        ),
    ],
)
def test_a_bad_file_is_refused_in_one_sentence(tmp_path, text, expected):
    """And it is never changed."""
    file = tmp_path / "curve.csv"
    file.write_text(text, encoding="utf-8")
    before = file.stat().st_mtime_ns
    with pytest.raises((BadFile, Unusual)) as caught:
        read_curve(file, load=Load())
    assert str(caught.value) == expected.replace("FILE", str(file))
    assert file.read_text(encoding="utf-8") == text
    assert file.stat().st_mtime_ns == before


def test_a_small_impedance_can_be_said_right(tmp_path):
    """A coil of 30 ohm that turns by 1 degree: who is sure of the units has it read as it is."""
    file = tmp_path / "small.csv"
    text = lines(RISING, lambda f: f"{30 + f / 1e3:.6g},{f / 5e3:.6g}")
    file.write_text("frequency_hz,impedance_ohm,phase_deg\n" + text, encoding="utf-8")
    with pytest.raises(Unusual, match=r"reads like kilohm; give ohm, or if it is in ohm, unusual"):
        read_curve(file, load=Load())
    curve = read_curve(file, load=Load(), unusual=True)
    assert curve.magnitude.max() == pytest.approx(30 + RISING[-1] / 1e3, rel=1e-5)
    assert np.ptp(curve.phase_deg) < np.pi


BENCH = {"resistance": "6k", "inductance": "2.4 H"}
HENRIES = "give a value from 10 mH to 1000 H (1 to 10 H is usual for a pickup)"
FLAT = {"frequency": RISING, "magnitude": [0.0] * 16, "load": Load()}


def garbage():
    random = np.random.default_rng(0)
    f = np.geomspace(50, 15e3, 200)
    level = np.where(f < 300, 0, random.normal(0, 12, f.size))
    return MeasuredCurve(f, level, load=Load(), name="garbage")


@pytest.mark.parametrize(
    ("call", "error", "expected"),
    [
        (
            lambda: read_curve("curve.csv"),
            BadSetting,
            f"curve.csv: its load was not stated; {STATE}.",
        ),
        (
            lambda: MeasuredCurve(RISING, [0.0] * 16),
            BadSetting,
            f"curve: its load was not stated; {STATE}.",
        ),
        (
            lambda: PeakReading("5 kHz"),
            BadSetting,
            f"PeakReading: its load was not stated; {STATE}.",
        ),
        (lambda: PeakReading("5 kHz", "1M"), BadSetting, f"PeakReading: '1M' is no load; {STATE}."),
        (
            lambda: MeasuredCurve(**FLAT | {"magnitude": [0.0] * 15}),
            BadSetting,
            "curve: magnitude has another length; give one value a frequency.",
        ),
        (
            lambda: MeasuredCurve(**FLAT | {"magnitude": ["x"] * 16}),
            BadSetting,
            "curve, magnitude: does not hold numbers only; give one number a point.",
        ),
        (
            lambda: MeasuredCurve(**FLAT, kind="voltage"),
            BadSetting,
            "curve: 'voltage' is no kind; use 'string' or 'impedance'.",
        ),
        (
            lambda: MeasuredCurve(**FLAT, slope=20),
            BadSetting,
            "curve: falls by 20 dB a decade below 250 Hz; give slope=0.",
        ),
        (
            lambda: Load(capacitance=Unknown(0)),
            BadValue,
            "Load.capacitance: an unknown cannot be near zero; give its likely value.",
        ),
        (
            lambda: Load("0,2M"),
            BadValue,
            "Load.resistance: '0,2M' has a comma; write the decimal point: '0.2M'.",
        ),
        (
            lambda: fit_pickup(resistance="6k"),
            BadSetting,
            "Measurements: there is no curve, and no reading except the resistance; add a curve, "
            "an "
            "inductance or a resonance.",
        ),
        (
            lambda: fit_pickup("curve.csv"),
            BadSetting,
            "curves: 'curve.csv' is no MeasuredCurve; give read_curve(...).",
        ),
        (
            lambda: fit_pickup([MeasuredCurve(**FLAT, name="a"), MeasuredCurve(**FLAT, name="a")]),
            BadSetting,
            "curves: two have the same name; name each, as name='unloaded'.",
        ),
        (
            lambda: fit_pickup(MeasuredCurve(**FLAT), band=("3 kHz", "5 kHz")),
            BadSetting,
            "curve: has 2 points from 3000 to 5000 Hz; measure 8 or more there, or widen the band.",
        ),
        (
            lambda: fit_pickup(
                [
                    MeasuredCurve(
                        **FLAT | {"load": Load(capacitance=Unknown(c, name="big"))}, name=c
                    )
                    for c in ("10n", "12n")
                ]
            ),
            BadSetting,
            "big capacitance: is given around two different values; give one, or two names.",
        ),
        (
            lambda: fit_pickups({}),
            BadSetting,
            "fit_pickups: no pickup is given; give one or more by name.",
        ),
        (
            lambda: fit_pickups({"neck": 6200}),
            BadSetting,
            "neck: an int is given; give Measurements(...).",
        ),
        (
            lambda: fit_pickups([Measurements(**BENCH)]),
            BadSetting,
            "fit_pickups: a list is given; give {'name': Measurements(...)}.",
        ),
        (
            lambda: fit_pickup(**BENCH, name=None),
            BadSetting,
            "fit_pickups: the name None is no text; give a str.",
        ),
        (
            lambda: fit_pickup(inductance="2.4 mH"),
            BadValue,
            f"InductanceReading.inductance: '2.4 mH' is too small; {HENRIES}.",
        ),
        (
            lambda: fit_pickup(inductance="6 mH"),
            BadValue,
            f"InductanceReading.inductance: '6 mH' is too small; {HENRIES}.",
        ),
        (
            lambda: fit_pickup(inductance=1e6),
            BadValue,
            "InductanceReading.inductance: 1e+06 H is too large; give a value from 10 mH to 1000 "
            "H, such as '1 H' (1 to 10 H is usual for a pickup).",
        ),
        (
            lambda: fit_pickup(**BENCH, instrument=None),
            BadSetting,
            f"instrument: its load was not stated; {STATE}.",
        ),
        (
            lambda: fit_pickup(**BENCH, instrument="1M"),
            BadSetting,
            f"instrument: '1M' is no load; {STATE}.",
        ),
        (
            lambda: fit_pickup(**BENCH, band=5),
            BadSetting,
            "band: 5 is no pair; give its two ends in Hz, as (80, '10k').",
        ),
        (
            lambda: fit_pickup(**BENCH, band=(80, 1000, 5000)),
            BadSetting,
            "band: (80, 1000, 5000) is no pair; give its two ends in Hz, as (80, '10k').",
        ),
        (
            lambda: fit_pickup(**BENCH, band=(5000, 80)),
            BadSetting,
            "band: (5000, 80) does not rise; give its two ends in Hz, as (80, '10k').",
        ),
        (
            lambda: fit_pickup(**BENCH, band=("0", "5k")),
            BadValue,
            "band: '0' is zero; give a value above 0 Hz.",
        ),
        (
            lambda: MeasuredCurve(**FLAT | {"frequency": None}),
            BadSetting,
            "curve: frequency was not given; give one number a point.",
        ),
        (
            lambda: MeasuredCurve(**FLAT | {"magnitude": None}),
            BadSetting,
            "curve: magnitude was not given; give one number a point.",
        ),
        (
            lambda: MeasuredCurve(**FLAT | {"magnitude": np.full(16, 1j)}),
            BadSetting,
            "curve, magnitude: is complex; give its size, and its angle [degree] as phase_deg.",
        ),
        (
            lambda: PeakReading(None, Load()),
            BadValue,
            "PeakReading.frequency: no value was given; write it like '5 kHz' or '440 Hz'.",
        ),
        (
            lambda: PeakReading("5k", Load(), height=6, height_within="1 dB"),
            BadValue,
            "PeakReading.height_within: '1 dB' is not a number; give a plain number.",
        ),
        (
            lambda: PeakReading("5k", Load(), height=6, height_within=0),
            BadValue,
            "PeakReading.height_within: 0 is zero; give a value above 0 up to 60 (in dB, as a "
            "bare number).",
        ),
        (
            lambda: PeakReading("5k", Load(), height=6, height_within=-1),
            BadValue,
            "PeakReading.height_within: -1 is negative; give a value above 0 up to 60 (in dB, as "
            "a bare number).",
        ),
        (
            lambda: PeakReading("5k", Load(), within=None),
            BadValue,
            "PeakReading.within: no value was given; write it like '20%' or 0.2.",
        ),
        (
            lambda: plot_fit(None),
            BadSetting,
            "plot_fit: a NoneType is given; give what fit_pickup(...) returned.",
        ),
        (
            lambda: read_curve(None),
            BadSetting,
            "read_curve: None is no path; give the name of a file.",
        ),
    ],
)
def test_what_is_refused(call, error, expected):
    with pytest.raises(error) as caught:
        call()
    assert str(caught.value) == expected


def test_a_curve_of_something_else_is_refused():
    with pytest.raises(NoSolution) as caught:
        fit_pickup(garbage())
    assert re.fullmatch(
        r"garbage: the model of pickup misses it by \d+\.\d dB rms; "
        r"check its load and slope, and that all curves are of one pickup\.",
        str(caught.value),
    )


CHECK = "check it against the other measurements and the stated loads"


@pytest.mark.parametrize(
    ("stated", "told"),
    [(5, "5 Hz"), (500, "500 Hz"), (1e3, "1 kHz"), (1e5, "100 kHz")],
)
def test_a_resonance_that_contradicts_the_coil_is_refused(stated, told):
    """However far off it is: also where the highest level near it is no peak."""
    with pytest.raises(NoSolution) as caught:
        fit_pickup(**BENCH, peak=PeakReading(stated, Load("1M"), unusual=True))
    assert re.fullmatch(
        rf"pickup, peak \(1 MΩ\): {told} was read, but the model that fits best shows 8\.95 "
        rf"kHz, \d+ times the stated accuracy away; {CHECK}\.",
        str(caught.value),
    )


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (
            {"inductance": ["2.4 H", "5 H"]},
            r"inductance at 120 Hz: 5 H was read, but the model that fits best shows 2\.\d+ H, 18",
        ),
        (
            {"peak": [PeakReading("5k", Load("1M")), PeakReading("9k", Load("1M"))]},
            r"peak \(1 MΩ\): 5 kHz was read, but the model that fits best shows 6\.7\d* kHz, 15",
        ),
        (
            {"peak": PeakReading("5k", Load("1M"), height=40)},
            r"peak height \(1 MΩ\): 40 dB was read, but the model that fits best shows 16\.\d dB, "
            "47",
        ),
    ],
    ids=["inductances", "peaks", "height"],
)
def test_readings_that_contradict_each_other_are_refused(readings, words):
    with pytest.raises(NoSolution) as caught:
        fit_pickup(**BENCH | readings)
    expected = rf"pickup, {words} times the stated accuracy away; {CHECK}\."
    assert re.fullmatch(expected, str(caught.value))


def test_a_resonance_where_the_load_leaves_none_is_refused():
    """10 kohm across 2.4 H: no peak at all."""
    with pytest.raises(NoSolution) as caught:
        fit_pickup(**BENCH, peak=PeakReading("5k", Load("10k")))
    assert str(caught.value) == (
        f"pickup, peak (10 kΩ): 5 kHz was read, but the model that fits best has no peak; {CHECK}."
    )


def test_a_resistance_that_contradicts_an_impedance_is_refused():
    """7.1 kohm by its impedance, 9 kohm by the meter."""
    z = np.abs(coil_model.terminal_impedance(LOSSY, GRID))
    curve = MeasuredCurve(GRID, z, kind="impedance", load=Load())
    with pytest.raises(NoSolution, match=r"^pickup, DC resistance: 9 kΩ was read, but"):
        fit_pickup(curve, resistance="9k")


def test_readings_that_hardly_agree_are_said_and_shown():
    """2.4 and 2.7 H, each within 3 %: twice that off, so a warning, and a row for every reading."""
    fit = fit_pickup(resistance="6k", inductance=["2.4 H", "2.7 H"])
    assert re.fullmatch(
        r"Inductance at 120 Hz: 2\.7 H was read, but the model that fits best shows 2\.53\d H, "
        r"2\.1 times the stated accuracy away\.",
        fit.warnings[0],
    )
    for one in fit.readings[:2]:
        assert one.miss == pytest.approx(math.log(one.fitted / one.stated) / 0.03)
    text = str(fit)
    row = r"^reading, inductance at 120 Hz +2\.53\d H +stated 2\.4 H, off 1\.8 times its accuracy$"
    assert re.search(row, text, re.MULTILINE)
    row = r"^reading, DC resistance +6 kΩ +stated 6 kΩ, off 0\.0 times its accuracy$"
    assert re.search(row, text, re.MULTILINE)


def test_a_wrongly_stated_load_is_suspected():
    """A curve measured at 10 nF and told 1 nF: L far outside 1 to 10 H (H. Lemme,
    "Pickup-Geheimnisse: Beschaltung"); told right, not a word of it."""
    curve = invented(LOSSY, {"large": Load(capacitance="10n")}, 0)[0]
    wrong = fit_pickup(replace(curve, load=Load(capacitance="1n")), resistance=7100)
    assert wrong.warnings[0] == (
        f"Inductance {wrong.values['inductance'].value:.4g} H is outside the usual range "
        "(1 H to 10 H): check the stated load."
    )
    assert not any("usual" in words for words in fit_pickup(curve, resistance=7100).warnings)


def test_a_capacitance_out_of_range_is_suspected():
    """A cable of 1 nF across that nobody stated: the winding seems to have it."""
    told = fit_pickup(**BENCH, peak=PeakReading("3k", Load("1M")))
    assert told.warnings[0] == (
        f"Capacitance {told.values['capacitance'].value * 1e9:.4g} nF is outside the usual range "
        "(80 pF to 200 pF): check the stated load (coils in parallel and a long lead do have more)."
    )


def test_a_fit_that_does_not_settle_is_refused(monkeypatch):
    monkeypatch.setattr(fit_problem, "_STEPS", 2)
    with pytest.raises(NoSolution) as caught:
        fit_pickup(measured("two-coil-medium", "unloaded"))
    assert str(caught.value) == (
        "fit_pickup: the fit did not converge within 2 steps; check loads and slopes, or give a "
        "measured resistance or inductance."
    )


# -- Touchstone -----------------------------------------------------------------------------------


def test_a_touchstone_one_port_is_an_impedance_curve(tmp_path):
    """Reflection against 50 ohm, written by hand as the format says, gives the impedance back.

    Source: Touchstone File Format Specification, version 2.0, IBIS Open Forum, 2009:
    s = (z - z0)/(z + z0), here as real and imaginary part.
    """
    pytest.importorskip("skrf")
    f = np.geomspace(100, 12e3, 60)
    z = 6e3 + 2j * np.pi * f * 2.5
    s = (z - 50) / (z + 50)
    rows = [f"{x:.10g} {v.real:.15g} {v.imag:.15g}" for x, v in zip(f, s, strict=True)]
    file = tmp_path / "coil.s1p"
    file.write_text("! invented coil\n# Hz S RI R 50\n" + "\n".join(rows) + "\n")
    curve = read_curve(file, load=Load())
    assert curve.kind == "impedance"
    np.testing.assert_allclose(curve.magnitude, np.abs(z), rtol=1e-6)
    np.testing.assert_allclose(curve.phase_deg, np.degrees(np.angle(z)), atol=1e-6)


def test_a_touchstone_file_states_its_units(tmp_path):
    """A resistor of 100 ohm turns by no degree: neither kilohm nor radians are suspected."""
    pytest.importorskip("skrf")
    file = tmp_path / "resistor.s1p"
    rows = "".join(f"{f:.10g} {1 / 3:.15g} 0\n" for f in RISING)
    file.write_text("# Hz S RI R 50\n" + rows)
    curve = read_curve(file, load=Load())
    np.testing.assert_allclose(curve.magnitude, 100, rtol=1e-6)
    np.testing.assert_allclose(curve.phase_deg, 0, atol=1e-6)


def test_what_is_no_touchstone_file_is_refused(tmp_path):
    """One sentence, whatever the parser met; a missing file in our words."""
    pytest.importorskip("skrf")
    file = tmp_path / "coil.s1p"
    file.write_text("frequency_hz,impedance_ohm\n1,2\n")
    with pytest.raises(BadFile) as refusal:
        read_curve(file, load=Load())
    assert str(refusal.value) == (
        f"{file}: is not a Touchstone one-port; export it again, or as CSV."
    )
    with pytest.raises(BadFile, match="there is no such file"):
        read_curve(tmp_path / "nothing.s1p", load=Load())


# -- two coils of one pickup ----------------------------------------------------------------------

TWO = Humbucker(
    gn.Coil("6.2k", "3.1 H", "110p", "30k", "40%", "3 kHz", signal=1.06),
    gn.Coil("5.4k", "2.6 H", "150p", "20k", "35%", "3.3 kHz", signal=0.94),
    coupling=0.15,
    between_capacitance="30p",
    lead_capacitance="20p",
)
RIG = Load("1M", "30p")


def of_two(how, *loads, told=None):
    """Curves of the invented humbucker, computed as a circuit, on a rig of unknown level."""
    f = np.geomspace(40, 20e3, 60)
    curves = []
    for load in loads:
        ohm = 1 / (1e-6 + (0 if load.resistance is None else 1 / load.resistance))
        guitar = straight(TWO.replace("connection", how), ohm, load.capacitance + 30e-12)
        level = level_db(response(guitar, frequency=f)).values - 50
        curves.append(MeasuredCurve(f, level, load=load, name=str(load)))
    return Measurements(curves, resistance=told, connection=how)


def test_two_coils_say_what_they_are_in_series():
    """Curves of each coil, computed by the solver of circuits, give the pickup of both back."""
    loads = Load(), Load(capacitance="4.7n")
    fit = fit_pickups(
        {
            "bridge": [
                of_two("coil 1", *loads, told="6.2k"),
                of_two("coil 2", *loads),
            ]
        },
        losses="plain",
        slow_screening=False,
        instrument=RIG,
    )["bridge"]
    stated = {
        "coil_1.inductance": 3.1,
        "coil_2.inductance": 2.6,
        "coil_2.resistance": 5400,
        "coupling": 0.15,
        "between_capacitance": 30e-12,
        "signal_ratio": 0.94 / 1.06,
    }
    for name, value in stated.items():
        assert fit.values[name].value == pytest.approx(value, rel=0.02), name
    assert max(one.rms for one in fit.curves) < 0.02
    assert [one.curve.name for one in fit.curves][::2] == ["coil 1, unloaded", "coil 2, unloaded"]
    f, load = np.geomspace(50, 10e3, 40), Load("200k", "470p")
    for how in ("series", "parallel", "coil 1", "coil 2"):
        part = fit.pickup.replace("connection", how)
        guitar = straight(part, 200e3, 470e-12)
        predicted = fit.predict(load, f, instrument=False, connection=how)
        h = response(guitar, frequency=f).values
        assert predicted.values == pytest.approx(h, rel=1e-9)
        true = response(straight(TWO.replace("connection", how), 200e3, 470e-12), frequency=f)
        assert np.abs(level_db(predicted) - level_db(true)).max() < 0.05
    assert fit.predict(load, f).values == pytest.approx(
        fit.predict(load, f, connection="series").values, rel=1e-15
    )


@pytest.mark.parametrize(
    ("told", "message"),
    [
        (
            [("coil 1", {}), ("", {})],
            "bridge: of several measurements one says no connection; give each its connection, as "
            "connection='coil 1'.",
        ),
        (
            [("coil 1", {}), ("coil 1", {})],
            "bridge: 'coil 1' stands twice; give its curves together.",
        ),
        (
            [("series", {})],
            "bridge: two coils are not known from 'series' alone; measure another one too, or "
            "leave the connection out and fit it as one coil.",
        ),
        (
            [("both", {})],
            "Measurements.connection: 'both' is unknown; use 'series', 'parallel', 'coil 1' or "
            "'coil 2'.",
        ),
        (
            [("series", {"beside_idle_coil": True})],
            "Measurements: both a connection and beside_idle_coil are given; leave "
            "beside_idle_coil out: the other coil is in the model.",
        ),
    ],
)
def test_connections_that_say_too_little(told, message):
    with pytest.raises(BadSetting) as refusal:
        fit_pickups(
            {"bridge": [Measurements(inductance=4, connection=how, **more) for how, more in told]}
        )
    assert str(refusal.value) == message


def test_one_coil_has_no_connection_to_predict():
    fit = fit_pickup(resistance="6k", inductance="2.4 H", peak=PeakReading("9 kHz", Load()))
    with pytest.raises(BadSetting) as refusal:
        fit.predict(Load(), connection="series")
    assert str(refusal.value) == "connection: pickup was fitted as one coil; leave it out."
