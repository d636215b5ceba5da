"""Measures against closed forms: level, phase, peak, bandwidth, treble change, taper."""

from __future__ import annotations

import warnings

import numpy as np
import oracle
import pytest
import xarray as xr

import guitarnet as gn
from guitarnet import (
    AmpInput,
    Cable,
    Harness,
    Jack,
    Pickup,
    Pot,
    audio_taper,
    bandwidth,
    effective_taper,
    layouts,
    level_db,
    peak,
    phase_deg,
    response,
    treble_change,
)
from guitarnet.errors import BadSetting, CoarseGrid
from guitarnet.sweeps import frequency_grid

pytestmark = pytest.mark.usefixtures("unusual")  # ideal sources and loads

GUITAR = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n")
HALF_POWER = 10 * np.log10(2)


def straight(pickup, load="1M"):
    """A pickup straight into an amp input."""
    return Harness(
        {"pickup": pickup, "jack": Jack(), "amp": AmpInput(load)},
        [("pickup.hot", "jack.tip", "amp.tip"), ("pickup.ground", "jack.sleeve", "amp.sleeve")],
    )


def volume_only(taper=None, cable="5 m", load="1M"):
    """As good as an ideal source into a volume pot: every closed form is a divider."""
    return layouts.one_pickup(
        Pickup(1e-6, 1e-9, 0),
        volume=Pot("250k", taper or audio_taper(0.15)),
        tone=None,
        cable=Cable(cable),
        amp=AmpInput(load),
    )


def rc_lowpass(ohm, farad):
    """An RC low-pass: the pickup's resistance and capacitance, with an inductance of no account."""
    return straight(Pickup(ohm, 1e-12, farad), load=1e15)


# -- level ----------------------------------------------------------------------------------------


def test_level_in_three_references():
    grid = [50.0, 100.0, 1e3, 5e3]
    h = response(GUITAR, frequency=grid, volume=[10, 5])
    absolute = level_db(h)
    np.testing.assert_allclose(absolute, 20 * np.log10(np.abs(h.values)), rtol=1e-15)
    kept = {name: h.attrs[name] for name in ("assumptions", "guitar")}
    assert absolute.attrs == {**kept, "units": "dB", "long_name": "level re 1 V/V"}
    assert absolute.volume.attrs == {"units": "mark", "long_name": "volume"}
    shape = level_db(h, re="reference")
    np.testing.assert_allclose(shape.sel(frequency=100.0), 0, atol=1e-12)
    np.testing.assert_allclose(shape, absolute - absolute.sel(frequency=100), atol=1e-12)
    assert shape.attrs["long_name"] == "level re 100 Hz"
    drop = level_db(h, re={"volume": 10})
    assert drop.sel(volume=10).values.tolist() == [0.0] * 4
    np.testing.assert_allclose(drop.sel(volume=5), absolute.sel(volume=5) - absolute.sel(volume=10))
    assert drop.attrs["long_name"] == "level re volume 10"


def test_the_reference_frequency_is_evaluated_exactly():
    """It need not be a point of the grid."""
    h = response(GUITAR, frequency=[50.0, 5e3], reference_frequency="440 Hz")
    alone = response(GUITAR, frequency=[440.0])
    np.testing.assert_allclose(h.at_reference, abs(alone.isel(frequency=0)), rtol=1e-13)
    expected = level_db(h) - float(level_db(alone)[0])
    np.testing.assert_allclose(level_db(h, re="reference"), expected, atol=1e-12)
    assert level_db(h, re="reference").attrs["long_name"] == "level re 440 Hz"


def test_level_re_one_build():
    builds = {"no bleed": GUITAR.replace("treble_bleed", None), "1 nF": GUITAR}
    h = response(builds, frequency=[100.0, 5e3], volume=[10, 5])
    levels = level_db(h, re={"build": "no bleed"})
    assert levels.sel(build="no bleed").values.tolist() == [[0.0, 0.0], [0.0, 0.0]]
    assert levels.attrs["long_name"] == "level re no bleed"
    assert float(levels.sel(build="1 nF", volume=5, frequency=5e3)) > 3
    place = level_db(h, re={"build": "no bleed", "volume": 10})
    assert place.attrs["long_name"] == "level re no bleed, volume 10"
    assert place.sel(build="no bleed", volume=10).values.tolist() == [0.0, 0.0]


SWEPT = response(GUITAR, frequency=[100.0, 1e3], volume=[9, 5])


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (
            lambda: level_db(SWEPT, re={"volume": 10}),
            "re volume: 10 is not among 9, 5; add 10 to volume.",
        ),
        (lambda: treble_change(SWEPT), "re volume: 10 is not among 9, 5; add 10 to volume."),
        (lambda: effective_taper(SWEPT), "re volume: 10 is not among 9, 5; add 10 to volume."),
        (
            lambda: level_db(SWEPT, re={"tone": 10}),
            "re tone: 'tone' was not swept; give response() the setting tone=[10, ...].",
        ),
        (
            lambda: level_db(SWEPT, re={"volum": 9}),
            "re volum: 'volum' was not swept; did you mean 'volume'?",
        ),
        (
            lambda: level_db(SWEPT, re="loudest"),
            "re: 'loudest' is no reference; use None, 'reference' or {'volume': 10}.",
        ),
        (
            lambda: level_db(SWEPT, re=10),
            "re: 10 is no reference; use None, 'reference' or {'volume': 10}.",
        ),
        (
            lambda: level_db(SWEPT.values),
            "response: an ndarray is not a response over frequency; give what response() returns.",
        ),
        (
            lambda: peak(SWEPT.drop_vars("at_reference")),
            "response: has no coordinate 'at_reference'; take it as response() returns it.",
        ),
        (
            lambda: peak(SWEPT, volume=5),
            "peak: a response has its volume already; give it to response(), or give peak() the "
            "guitar.",
        ),
        (
            lambda: bandwidth(SWEPT, drop=3, frequency=[50, 5000]),
            "bandwidth: a response has its frequency already; give it to response(), or give "
            "bandwidth() the guitar.",
        ),
        (
            lambda: peak(GUITAR, frequency=1000),
            "frequency: is no range; give the first and the last frequency, as (50, 15e3).",
        ),
        (
            lambda: peak(GUITAR, source="noise"),
            "source: 'noise' is unknown; use 'string' or 'hum'.",
        ),
        (
            lambda: treble_change(SWEPT, re=9),
            "treble_change: reaches outside the response's 100 to 1000 Hz; widen the frequencies "
            "of response(), or narrow these.",
        ),
    ],
)
def test_refused(ask, message):
    with pytest.raises(BadSetting) as refusal:
        ask()
    assert str(refusal.value) == message


# -- silence --------------------------------------------------------------------------------------


def test_silence_is_exact_and_quiet():
    """At volume 0 the output is exactly 0: -inf dB without a warning, phase and peak NaN."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        h = response(GUITAR, volume=[10, 0])
        silent = h.sel(volume=0)
        assert (silent.values == 0).all()
        assert np.isneginf(level_db(h).sel(volume=0)).all()
        assert np.isneginf(level_db(h, re="reference").sel(volume=0)).all()
        assert np.isneginf(level_db(h, re={"volume": 10}).sel(volume=0)).all()
        assert phase_deg(h).sel(volume=0).isnull().all()
        assert phase_deg(h, unwrap=True).sel(volume=0).isnull().all()
        found = peak(h).sel(volume=0)
        assert all(np.isnan(found[name]) for name in ("frequency", "height", "q"))
        assert np.isnan(bandwidth(h).sel(volume=0))
        change = treble_change(h).sel(volume=0)
        assert change.change.isnull().all()
        assert np.isnan(change.worst)
        assert np.isnan(change.worst_frequency)
        assert effective_taper(h).values.tolist() == [0.0, -np.inf]


def test_nothing_is_relative_to_silence():
    """A level re a silent curve is no number; silence itself stays silence."""
    h = response(GUITAR, frequency=[100.0, 1e3], volume=[10, 0])
    levels = level_db(h, re={"volume": 0})
    assert levels.sel(volume=10).isnull().all()
    assert np.isneginf(levels.sel(volume=0)).all()


# -- phase ----------------------------------------------------------------------------------------


def test_phase_of_an_rc_lowpass():
    """-arctan(f / fc), with e^{+jwt}: a lag is negative."""
    grid = np.array([100.0, 1e3, 10e3])
    h = response(rc_lowpass("10k", "1.6n"), frequency=grid)
    corner = 1 / (2 * np.pi * 10e3 * 1.6e-9)
    np.testing.assert_allclose(phase_deg(h), -np.degrees(np.arctan(grid / corner)), rtol=1e-9)


def test_unwrapped_phase_of_three_poles_passes_180_degrees():
    eddy = Pickup("6k", "2.4 H", "500p", screening_frequency="2 kHz")
    h = response(straight(eddy))
    assert phase_deg(h).min() > -180.0
    unwrapped = phase_deg(h, unwrap=True)
    assert float(unwrapped[-1]) < -240
    assert np.abs(np.diff(unwrapped)).max() < 30


# -- peak -----------------------------------------------------------------------------------------


def resonance(r, ell, c, load, reference=100.0):
    """Peak of 1 / (a0 + a1 s + a2 s^2): frequency, height [dB] and Q, in closed form.

    1/|H|^2 = (a0 - a2 u)^2 + a1^2 u, u = w^2, is least where its derivative by u vanishes.
    """
    a0, a1, a2 = 1 + r / load, ell / load + r * c, ell * c

    def loss(u):
        return (a0 - a2 * u) ** 2 + a1**2 * u

    top = (a0 - a1**2 / (2 * a2)) / a2
    least = loss(top)
    height = 10 * np.log10(loss((2 * np.pi * reference) ** 2) / least)
    edges = np.roots([a2**2, a1**2 - 2 * a0 * a2, a0**2 - 2 * least])
    low, high = np.sqrt(np.sort(edges + 0j)).real / (2 * np.pi)
    return np.sqrt(top) / (2 * np.pi), height, np.sqrt(top) / (2 * np.pi) / (high - low)


CASES = [
    (6.2e3, 2.4, 620e-12, 1e6),
    (6.2e3, 2.4, 120e-12, 250e3),
    (8e3, 8.0, 950e-12, 1e6),
    (210.0, 0.1, 25.33e-9, 1e5),
    (13e3, 5.0, 470e-12, 200e3),
]


@pytest.mark.parametrize(("r", "ell", "c", "load"), CASES)
def test_peak_of_a_guitar_against_its_closed_form(r, ell, c, load):
    """Exact, whatever the Q: to 1e-9 in frequency, height and Q."""
    found = peak(straight(Pickup(r, ell, c), load))
    frequency, height, q = resonance(r, ell, c, load)
    assert float(found.frequency) == pytest.approx(frequency, rel=1e-9)
    assert float(found.height) == pytest.approx(height, abs=1e-9)
    assert float(found.q) == pytest.approx(q, rel=1e-9)
    assert found.frequency.attrs["units"] == "Hz"
    assert found.height.attrs == {"units": "dB", "long_name": "peak height re 100 Hz"}


@pytest.mark.parametrize("per_decade", [200, 25, 10, 6])
def test_a_coarse_grid_carries_the_peak_of_a_resonant_circuit(per_decade):
    """1/|H|² is a parabola in f² there, which five points carry however far apart they are."""
    for r, ell, c, load in CASES:
        h = response(
            straight(Pickup(r, ell, c), load), frequency=frequency_grid(per_decade=per_decade)
        )
        found = peak(h)
        frequency, height, q = resonance(r, ell, c, load)
        assert float(found.frequency) == pytest.approx(frequency, rel=1e-9)
        assert float(found.height) == pytest.approx(height, abs=1e-9)
        assert float(found.q) == pytest.approx(q, rel=1e-9)


EDDY = Pickup("9.8k", "4.3 H", "110p", eddy_resistance="290k", eddy_share=0.6)
GUITARS = {
    "lossless": layouts.one_pickup(Pickup("3k", "2.4 H", "120p"), volume="1M", tone=None),
    "with losses": layouts.one_pickup(EDDY, volume="500k", tone="500k"),
    "with a bleed": GUITAR,
    "50s": layouts.one_pickup(EDDY, wiring="50s", treble_bleed="1n || 150k"),
}
SETTINGS = {"volume": [10, 6, 3], "tone": [10, 4, 0], "cable.length": [1.0, 7.0]}


def test_peaks_of_guitars_against_an_optimiser():
    """scipy.optimize closes in on the maximum of |H|, and on the half power either side."""
    from scipy.optimize import brentq, minimize_scalar

    seen = 0
    for name, guitar in GUITARS.items():
        settings = SETTINGS if name != "lossless" else {"volume": [10, 6], "cable.length": [1.0]}
        found = peak(guitar, **settings)
        assert found.height.dims == tuple(settings)
        for index in np.ndindex(found.height.shape):
            place = {n: values[i] for (n, values), i in zip(settings.items(), index, strict=True)}
            f, height, q = (float(found[n].values[index]) for n in ("frequency", "height", "q"))
            if np.isnan(f) or height < 0.5:
                continue
            net, node, near = guitar.netlist(**place), guitar.node("amp.tip"), np.log(f)

            def under(log_f, top=0.0, net=net, node=node):
                """How far the level is under ``top`` [dB]."""
                volts = oracle.voltage(net, node, float(np.exp(log_f)))
                return float(top - 20 * np.log10(abs(volts)))

            best = minimize_scalar(
                under, bounds=(near - 0.05, near + 0.05), options={"xatol": 1e-9}
            )
            assert f == pytest.approx(np.exp(best.x), rel=1e-6)
            assert height == pytest.approx(under(np.log(100.0)) - best.fun, abs=1e-9)
            if not np.isnan(q) and seen < 8:
                half = -best.fun - HALF_POWER
                low, high = (
                    np.exp(brentq(under, near, np.log(end), args=(half,), xtol=1e-12))
                    for end in (100.0, 20e3)
                )
                assert q == pytest.approx(f / (high - low), rel=1e-7)
            seen += 1
    assert seen >= 12


def test_where_a_grid_cannot_carry_the_peak_it_says_so():
    """The number stays; a sentence says that it may be off. Finer, or from the guitar: silence."""
    with pytest.warns(CoarseGrid) as warned:
        rough = peak(response(GUITARS["with losses"], frequency=frequency_grid(per_decade=2)))
    assert [str(w.message) for w in warned] == [
        "peak: near 3.37 kHz the points are too far apart for 1 % in frequency, 0.1 dB in height "
        "and 2 % in Q; give peak() the guitar and its settings, or give response() a finer "
        "frequency_grid()."
    ]
    exact = peak(GUITARS["with losses"])
    fine = peak(response(GUITARS["with losses"], frequency=frequency_grid(per_decade=40)))
    assert abs(rough.q / exact.q - 1) > 0.01
    assert float(fine.frequency) == pytest.approx(float(exact.frequency), rel=1e-4)
    assert float(fine.height) == pytest.approx(float(exact.height), abs=1e-3)
    assert float(fine.q) == pytest.approx(float(exact.q), rel=1e-3)


def test_no_number_is_far_off_in_silence():
    """On grids of any density, either 1 %, 0.1 dB and 2 % of Q hold or a sentence is said."""
    told = {}
    for name, guitar in GUITARS.items():
        exact = peak(guitar, volume=[10, 6, 3])
        for per_decade in (3, 7, 15, 60):
            for mark in (10, 6, 3):
                with warnings.catch_warnings(record=True) as said:
                    warnings.simplefilter("always")
                    h = response(
                        guitar, frequency=frequency_grid(per_decade=per_decade), volume=mark
                    )
                    rough = peak(h)
                told.setdefault(per_decade, []).append(bool(said))
                one = exact.sel(volume=mark)
                if said or np.isnan(rough.frequency):
                    continue
                where = name, per_decade, mark
                assert float(rough.frequency) == pytest.approx(float(one.frequency), rel=0.01), (
                    where
                )
                assert float(rough.height) == pytest.approx(float(one.height), abs=0.1), where
                if not np.isnan(one.q):
                    assert float(rough.q) == pytest.approx(float(one.q), rel=0.02), where
    assert any(told[3])
    assert not any(told[60])


@pytest.mark.parametrize("q", [20, 60, 1000])
def test_needles(q):
    """A loss so small that no grid has a point at the top: f = 1/(2π√(LC)), Q = √(L/C)/R."""
    ell, c = 2.4, 620e-12
    r = np.sqrt(ell / c) / q
    guitar = straight(Pickup(r, ell, c), 1e15)
    frequency, height, own_q = resonance(r, ell, c, 1e15)
    for found in (peak(guitar), peak(response(guitar, frequency=frequency_grid(per_decade=25)))):
        assert float(found.frequency) == pytest.approx(frequency, rel=1e-9)
        assert float(found.height) == pytest.approx(height, abs=1e-6)
        assert float(found.q) == pytest.approx(own_q, rel=1e-6)


def test_peaks_of_builds_categories_and_many_settings_at_once():
    """The same numbers as one by one, with the labels of a response."""
    builds = {"no bleed": GUITAR.replace("treble_bleed", None), "1 nF": GUITAR}
    lengths = np.linspace(0.5, 9, 70)
    tapers = {"volume.taper": ["linear", "audio 10%"]}
    found = peak(builds, volume=[10, 5], **tapers, **{"cable.length": lengths})
    assert found.q.dims == ("build", "volume", "volume.taper", "cable.length")
    h = response(builds, frequency=[100.0], volume=[10, 5], **tapers, **{"cable.length": lengths})
    for name in found.q.dims:
        np.testing.assert_array_equal(found[name], h[name])
    for label, mark, taper, place in (("1 nF", 5, 1, 3), ("no bleed", 10, 0, 69)):
        alone = peak(
            builds[label],
            volume=mark,
            **{"volume.taper": ["linear", "audio 10%"][taper], "cable.length": lengths[place]},
        )
        one = found.sel(build=label, volume=mark).isel(
            {"volume.taper": taper, "cable.length": place}
        )
        for name in ("frequency", "height", "q"):
            assert float(one[name]) == pytest.approx(float(alone[name]), rel=1e-8, nan_ok=True)


def test_chunked_settings_stay_lazy():
    pytest.importorskip("dask.array")
    lengths = xr.DataArray(np.linspace(1, 9, 6), dims="design")
    lazy = peak(GUITAR, volume=[10, 5], **{"cable.length": lengths.chunk(design=2)})
    assert lazy.frequency.chunks
    eager = peak(GUITAR, volume=[10, 5], **{"cable.length": lengths})
    xr.testing.assert_allclose(lazy.compute(scheduler="synchronous"), eager, rtol=1e-9)


def test_under_3_db_there_is_no_q():
    r, ell, c, load = 6.2e3, 2.4, 620e-12, 70e3
    frequency, height, _ = resonance(r, ell, c, load)
    assert 0.5 < height < HALF_POWER
    guitar = straight(Pickup(r, ell, c), load)
    for found in (peak(guitar), peak(response(guitar))):
        assert float(found.frequency) == pytest.approx(frequency, rel=1e-9)
        assert float(found.height) == pytest.approx(height, abs=1e-9)
        assert np.isnan(found.q)


def all_nan(found):
    return all(bool(found[name].isnull().all()) for name in ("frequency", "height", "q"))


def test_no_maximum_inside_the_grid_gives_nan():
    """Never the grid's edge: overdamped, still rising, already falling, flat, or two points."""
    assert all_nan(peak(response(straight(Pickup("6.2k", "2.4 H", "620p"), "20k"))))
    resonant = straight(Pickup("6.2k", "2.4 H", "620p"))
    assert all_nan(peak(response(resonant, frequency=np.linspace(100, 3000, 100))))
    assert all_nan(peak(response(resonant, frequency=np.linspace(5000, 9000, 100))))
    assert all_nan(peak(response(volume_only(cable=0))))
    assert all_nan(peak(response(resonant, frequency=[1000.0, 9000.0])))
    # Of a guitar likewise, between the ends of the range.
    assert all_nan(peak(straight(Pickup("6.2k", "2.4 H", "620p"), "20k")))
    assert all_nan(peak(resonant, frequency=(100, 3000)))
    assert all_nan(peak(resonant, frequency=(5000, 9000)))
    assert not all_nan(peak(resonant, frequency=(3000, "5 kHz")))
    assert all_nan(peak(GUITAR, volume=0))


def by_hand(f, level):
    """A response of given levels [dB]."""
    return xr.DataArray(
        10 ** (level / 20) + 0j,
        dims="frequency",
        coords={"frequency": f, "reference_frequency": 100.0, "at_reference": 1.0},
    )


def test_a_flat_top_is_a_maximum_and_a_step_on_the_way_up_is_none():
    f = frequency_grid(per_decade=200)
    flat = np.minimum(6 * np.exp(-((np.log(f / 2e3) / 0.5) ** 2)), 5)
    found = peak(by_hand(f, flat))
    assert 1000 < float(found.frequency) < 2000
    assert float(found.height) == pytest.approx(5, abs=0.01)
    step = np.minimum(np.log(f), np.log(1000)) + np.maximum(np.log(f / 2000), 0)
    assert all_nan(peak(by_hand(f, step)))


def test_a_limit_outside_the_range_gives_no_q():
    r, ell, c, load = CASES[0]
    frequency, height, _ = resonance(r, ell, c, load)
    guitar = straight(Pickup(r, ell, c), load)
    span = (2000, frequency * 1.02)
    for found in (
        peak(guitar, frequency=span),
        peak(response(guitar, frequency=frequency_grid(*span))),
    ):
        assert float(found.frequency) == pytest.approx(frequency, rel=1e-9)
        assert float(found.height) == pytest.approx(height, abs=1e-9)
        assert np.isnan(found.q)


def test_the_highest_of_two_maxima():
    """A screen below and a resonance above; here made by hand."""
    f = frequency_grid(per_decade=400)
    bump = 6 * np.exp(-((np.log(f / 500) / 0.3) ** 2)) + 9 * np.exp(-((np.log(f / 4e3) / 0.2) ** 2))
    found = peak(by_hand(f, bump))
    assert float(found.frequency) == pytest.approx(4000, rel=1e-4)
    assert float(found.height) == pytest.approx(9, abs=1e-3)


# -- bandwidth ------------------------------------------------------------------------------------


@pytest.mark.parametrize("drop", [HALF_POWER, 6.0, 12.0])
def test_bandwidth_of_an_rc_lowpass(drop):
    """1 + (f/fc)^2 = 10^(drop/10) (1 + (f_ref/fc)^2), by a straight line between grid points."""
    corner = 1 / (2 * np.pi * 10e3 * 10e-9)
    h = response(rc_lowpass("10k", "10n"))
    expected = corner * np.sqrt(10 ** (drop / 10) * (1 + (100 / corner) ** 2) - 1)
    assert float(bandwidth(h, drop=drop)) == pytest.approx(expected, rel=1e-9)
    coarse = response(rc_lowpass("10k", "10n"), frequency=frequency_grid(per_decade=10))
    assert float(bandwidth(coarse, drop=drop)) == pytest.approx(expected, rel=1e-9)
    found = bandwidth(rc_lowpass("10k", "10n"), drop=drop)
    assert float(found) == pytest.approx(expected, rel=1e-10)
    assert found.attrs == {"units": "Hz", "long_name": f"upper limit at -{drop:.2f} dB"}


def test_bandwidth_of_guitars_is_where_the_level_has_fallen():
    found = bandwidth(GUITAR, drop=6, **{"cable.length": [3, 9], "tone": [10, 4]})
    assert found.dims == ("cable.length", "tone")
    for index in np.ndindex(found.shape):
        at = {name: float(found[name][i]) for name, i in zip(found.dims, index, strict=True)}
        h = response(GUITAR, frequency=[float(found.values[index])], **at)
        assert float(level_db(h, re="reference")[0]) == pytest.approx(-6, abs=1e-9)


def test_where_a_grid_cannot_carry_a_limit_it_says_so():
    h = response(GUITARS["with losses"], frequency=frequency_grid(per_decade=1), tone=[10, 9])
    with pytest.warns(CoarseGrid) as warned:
        bandwidth(h, drop=12)
    assert [str(w.message) for w in warned] == [
        "bandwidth: near 19.8 kHz the points of 2 of 2 curves are too far apart for 1 % in "
        "frequency; give bandwidth() the guitar and its settings, or give response() a finer "
        "frequency_grid()."
    ]


def test_bandwidth_looks_past_a_dip_to_the_last_fall():
    """With a resonance the limit lies above the peak."""
    h = response(straight(Pickup("6.2k", "2.4 H", "620p")))
    assert float(bandwidth(h)) > float(peak(h).frequency)


def test_no_limit_inside_the_grid_gives_nan():
    assert np.isnan(bandwidth(response(volume_only(cable=0))))


# -- treble change and taper ----------------------------------------------------------------------


def corner_at(mark, taper, metres=5.0, load=1e6):
    """Corner of a volume pot's output resistance (with the load) against the cable."""
    t = taper(mark / 10)
    upper, lower = 250e3 * (1 - t), 250e3 * t
    ohms = 1 / (1 / upper + 1 / lower + 1 / load)
    return 1 / (2 * np.pi * ohms * 100e-12 * metres)


def test_treble_change_against_its_closed_form():
    """-10 log10 of (1 + (f/fc)^2) / (1 + (f_ref/fc)^2), for a pot that drives a cable."""
    taper = audio_taper(0.15)
    h = response(volume_only(taper), volume=[10, 7, 3])
    found = treble_change(h, frequencies=["1 kHz", "3 kHz"], band=(200, 5000))
    for mark in (7, 3):
        corner = corner_at(mark, taper)

        def loss(f, corner=corner):
            return -10 * np.log10((1 + (f / corner) ** 2) / (1 + (100 / corner) ** 2))

        at = found.sel(volume=mark)
        np.testing.assert_allclose(at.change, loss(np.array([1e3, 3e3])), atol=1e-5)
        assert float(at.worst) == pytest.approx(loss(5000), abs=1e-5)
        assert float(at.worst_frequency) == 5000
    assert float(np.abs(found.change.sel(volume=10)).max()) < 1e-12
    words = "treble re volume 10, levels matched at the reference frequency"
    assert found.change.attrs == {"units": "dB", "long_name": words}
    assert found.change.dims == ("volume", "frequency")


def test_treble_change_in_the_order_asked():
    h = response(GUITAR, volume=[10, 5])
    rising = treble_change(h, frequencies=["1 kHz", "3 kHz"]).change
    assert rising.frequency.values.tolist() == [1000.0, 3000.0]
    exact = level_db(response(GUITAR, frequency=[1000.0, 3000.0], volume=[10, 5]), re="reference")
    np.testing.assert_allclose(rising, exact - exact.sel(volume=10), atol=1e-4)


@pytest.mark.parametrize("load", [250e3, 1e6])
def test_effective_taper_against_a_loaded_divider(load):
    """The level at the jack is the track fraction, loaded by the amp."""
    taper = audio_taper(0.15)
    marks = [10, 7, 5, 3, 1]
    h = response(volume_only(taper, cable=0, load=load), volume=marks)
    lower = 250e3 * taper(np.array(marks) / 10)
    under_load = 1 / (1 / lower + 1 / load)
    expected = 20 * np.log10(under_load / (250e3 - lower + under_load))
    found = effective_taper(h)
    np.testing.assert_allclose(found, expected, atol=1e-8)
    assert found.dims == ("volume",)
    assert found.attrs == {"units": "dB", "long_name": "level at 100 Hz re volume 10"}


def test_effective_taper_re_another_mark():
    h = response(GUITAR, volume=[10, 5, 3])
    moved = effective_taper(h, re=5) - effective_taper(h)
    np.testing.assert_allclose(moved, float(moved[0]), atol=1e-12)
    assert float(effective_taper(h, re=5).sel(volume=5)) == 0.0


# -- chunks ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "measure",
    [
        level_db,
        lambda h: level_db(h, re="reference"),
        phase_deg,
        bandwidth,
        lambda h: treble_change(h).to_dataarray(),
        lambda h: peak(h).to_dataarray(),
    ],
)
def test_measures_of_chunked_responses(measure):
    pytest.importorskip("dask.array")
    marks = xr.DataArray([10.0, 7.0, 3.0], dims="volume", coords={"volume": [10.0, 7.0, 3.0]})
    eager = measure(response(GUITAR, volume=marks))
    lazy = measure(response(GUITAR, volume=marks.chunk({"volume": 2})))
    assert lazy.chunks is not None
    assert lazy.dims == eager.dims
    np.testing.assert_allclose(lazy.compute(), eager, rtol=1e-6, atol=1e-8)


# -- which knob -----------------------------------------------------------------------------------


def _renamed(guitar, old, new):
    """The same guitar with a part called otherwise."""

    def name(lug):
        return f"{new}.{lug.partition('.')[2]}" if lug.startswith(f"{old}.") else lug

    return gn.Harness(
        {new if own == old else own: part for own, part in guitar.parts.items()},
        [[name(lug) for lug in joint] for joint in guitar.joined],
        [name(lug) for lug in guitar.open_lugs],
        name=guitar.name,
    )


def test_the_knob_is_the_one_that_was_swept_whatever_its_name():
    marks = [10, 7, 4]
    plain = response(GUITAR, volume=marks, tone=8)
    other = response(_renamed(GUITAR, "volume", "loud"), loud=marks, tone=8)
    for measure in (effective_taper, treble_change):
        found, expected = measure(other), measure(plain)
        xr.testing.assert_allclose(found.rename(loud="volume"), expected, rtol=1e-12)
    table = gn.audio.noise_table(_renamed(GUITAR, "volume", "loud"), marks=marks)
    assert table.rows == gn.audio.noise_table(GUITAR, marks=marks).rows
    goal = gn.choosing.Goal("taper", at_most=3, at={"loud": marks})
    renamed = goal.values(_renamed(GUITAR, "volume", "loud"), {}, "amp")
    same = gn.choosing.Goal("taper", at_most=3, at={"volume": marks}).values(GUITAR, {}, "amp")
    np.testing.assert_allclose(renamed, same, rtol=1e-12)


TWO = layouts.two_humbuckers(*[Pickup("6.2k", "2.4 H", "120p")] * 2)


@pytest.mark.parametrize(
    ("ask_for", "message"),
    [
        (
            lambda: effective_taper(response(GUITAR, volume=[10, 5], tone=[10, 2])),
            "knob: volume and tone were swept; name one of them, as knob='volume'.",
        ),
        (
            lambda: treble_change(response(GUITAR)),
            "knob: none was swept; give response() the marks of one, as volume=[10, 5].",
        ),
        (
            lambda: gn.audio.noise_table(TWO),
            "knob: two humbuckers has 2 volumes; name one: 'neck_volume' or 'bridge_volume'.",
        ),
        (
            lambda: gn.audio.noise_table(layouts.pickup_alone(gn.Pickup("6k", "2 H", "100p"))),
            "knob: pickup alone has no volume; name the knob that is turned.",
        ),
    ],
)
def test_a_knob_that_is_not_one_is_asked_for(ask_for, message):
    with pytest.raises(BadSetting) as refusal:
        ask_for()
    assert str(refusal.value) == message
