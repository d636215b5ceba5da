"""Bands over samples: quantiles, tapers, the road for many guitars, figures."""

from __future__ import annotations

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import oracle
import pytest
import xarray as xr
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet.circuit.settings import resolve
from guitarnet.errors import GuitarnetError
from guitarnet.show.figures.bands import plot_bands, plot_ranking, plot_sensitivity
from guitarnet.solve import ac
from guitarnet.study.spread.bands import tolerance_band
from guitarnet.study.spread.quantiles import quantile_table, quantiles
from guitarnet.study.spread.sensitivity import sensitivity, sensitivity_ranking
from guitarnet.study.spread.tolerance import spread, spread_tapers
from guitarnet.study.string.audio import read_sound

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
GUITAR = gn.layouts.one_pickup(PICKUP, treble_bleed="150k || 1n")
F = np.geomspace(50, 15e3, 40)
LEVELS = (0.05, 0.5, 0.95)


@pytest.fixture(autouse=True)
def _closed():
    """Leave no figure open, and no global setting changed."""
    before = dict(mpl.rcParams)
    yield
    plt.close("all")
    assert dict(mpl.rcParams) == before


# -- quantiles -----------------------------------------------------------------------------------


def test_quantiles_against_numpy():
    """Hyndman and Fan's definition 7, which numpy calls linear."""
    values = np.random.default_rng(1).normal(size=(7, 501))
    found = quantiles(xr.DataArray(values, dims=("mark", "sample")), ["1%", 0.33, 0.5, 1.0])
    assert found.dims == ("quantile", "mark")
    expected = np.quantile(values, [0.01, 0.33, 0.5, 1.0], axis=-1)
    np.testing.assert_allclose(found, expected, rtol=1e-13)


def test_quantiles_of_silence_and_of_what_is_not_there():
    """-inf is the lowest; a NaN anywhere gives NaN, never a number that hides it."""
    rows = [[-np.inf, -np.inf, 0.0, 1.0, 2.0], [np.nan, 1.0, 2.0, 3.0, 4.0], [7.0] * 5]
    # 0.3 lies between the last silent sample and the first that sounds.
    found = quantiles(xr.DataArray(rows, dims=("row", "sample")), [0.1, 0.3, 0.5, 1])
    np.testing.assert_array_equal(found.T, [[-np.inf, -np.inf, 0, 2], [np.nan] * 4, [7] * 4])


def test_quantiles_of_draws_in_closed_form():
    """Of a value equally probable within its limits: the limits' own shares."""
    drawn = spread(GUITAR, 40_000, seed=8)["volume.resistance"]
    found = quantiles(drawn, LEVELS)
    expected = 250e3 * (1 + 0.2 * (2 * np.array(LEVELS) - 1))
    np.testing.assert_allclose(found, expected, atol=5 * 0.4 * 250e3 * 0.5 / np.sqrt(40_000))


def test_quantiles_of_chunked_samples_stay_lazy():
    pytest.importorskip("dask")
    values = xr.DataArray(np.arange(100.0), dims="sample")
    lazy = quantiles(values.chunk({"sample": 30}))
    assert lazy.chunks is not None
    np.testing.assert_allclose(lazy.compute(), quantiles(values))


def test_table_of_quantiles():
    drawn = spread(GUITAR, 200, seed=1)
    h = gn.response(GUITAR, frequency=np.geomspace(1e3, 10e3, 60), volume=10, **drawn)
    marked = gn.peak(gn.response(GUITAR, frequency=np.geomspace(1e3, 10e3, 60), volume=10))
    found = gn.peak(h)
    table = quantile_table(
        {"peak": found.frequency, "height": found.height},
        {"peak": marked.frequency, "height": marked.height},
    )
    assert table.columns == ("", "as marked", "5 %", "50 %", "95 %")
    expected = np.quantile(found.height, LEVELS)
    assert table.rows[1] == (
        "height", f"{float(marked.height):.2f} dB", *(f"{v:.2f} dB" for v in expected)
    )  # fmt: skip
    assert table.rows[0][0] == "peak"
    assert table.rows[0][1].endswith("kHz")


# -- tapers --------------------------------------------------------------------------------------


def test_tapers_stay_within_their_conformity():
    """Plus or minus 20 % of the curve: MIL-PRF-94G, 3.5.3. Fixed ends, always rising."""
    marks = np.linspace(0, 10, 41)
    found = spread_tapers(GUITAR, {"volume": marks}, 500, seed=2)["volume.track"]
    curve = GUITAR.parts["volume"].taper(marks / 10)
    assert found.dims == ("sample", "volume")
    assert (abs(found - curve) <= 0.2 * curve + 1e-15).all()
    assert (found.isel(volume=0) == 0).all()
    assert (found.isel(volume=-1) == 1).all()
    assert (found.diff("volume") > 0).all()
    at_5 = found.sel(volume=5).values / 0.15
    assert at_5.min() < 0.81
    assert at_5.max() > 1.19
    assert at_5.mean() == pytest.approx(1, abs=5 * 0.2 / np.sqrt(3 * 500))


def test_tapers_are_settings_and_alike_where_said():
    marks = {"volume": [10, 5], "tone": 7}
    drawn = spread_tapers(GUITAR, marks, 30, alike=[("volume", "tone")])
    curve = {name: GUITAR.parts[name].taper for name in ("volume", "tone")}
    off = [
        drawn["volume.track"].sel(volume=5) / curve["volume"](0.5) - 1,
        drawn["tone.track"] / curve["tone"](0.7) - 1,
    ]
    np.testing.assert_allclose(off[0], off[1], atol=1e-12)
    h = gn.response(GUITAR, frequency=F, **drawn, **spread(GUITAR, 30))
    assert set(h.dims) == {"sample", "volume", "frequency"}
    at_10 = gn.response(GUITAR, frequency=F, volume=10, **{"tone.track": drawn["tone.track"]},
                        **spread(GUITAR, 30))  # fmt: skip
    np.testing.assert_allclose(h.sel(volume=10).transpose(*at_10.dims), at_10, rtol=1e-12)


# -- many guitars --------------------------------------------------------------------------------


def test_many_guitars_against_a_plain_solver(draws):
    """Random guitars with all values drawn, at many marks, ends included; couplings that move."""
    checked = 0
    sweeps = [
        (d.guitar, {"volume": [10, 6.5, 0], "tone": [10, 0]})
        for d in random_guitars(31, draws(4, 10))
    ]
    coil = gn.Coil("4k", "2 H", "150p")
    coupled = gn.layouts.one_pickup(gn.Humbucker(coil, coil))
    sweeps += [
        (coupled, {"pickup.coupling": [0.0, 0.1, 0.3]}),
        (coupled, {"volume": [3, 7], "tone": [4, 6], "cable.length": [1, 3]}),
    ]
    for guitar, settings in sweeps:
        known = {path: v for path, v in settings.items() if path.split(".")[0] in guitar.parts}
        found = resolve(guitar, {**known, **spread(guitar, 12, seed=checked)})
        net, node = guitar.stamp(found.values), guitar.node("amp.tip")
        volts, sizes = (ask(net, node, F[::8]) for ask in (ac.node_voltage, ac.node_size))
        largest = float(abs(volts).max())
        for place, single in oracle.single_settings(net):
            if place["sample"] in (0, 11):
                expected = np.array([oracle.voltage(single, node, f) for f in F[::8]])
                for values, exact in ((volts, expected), (sizes, np.abs(expected))):
                    error = np.abs(values.isel(place).values - exact).max()
                    assert error <= 1e-11 * largest
                checked += 1
    assert checked > draws(40, 100)


@pytest.mark.parametrize("re", [None, "reference"])
def test_the_band_is_that_of_all_responses(re, monkeypatch):
    """In pieces of a few frequencies, against everything held at once."""
    monkeypatch.setattr("guitarnet.study.spread.bands._AT_ONCE", 2000)
    drawn = spread(GUITAR, 101, seed=5)
    marks = [10, 7, 5, 0]
    found = tolerance_band(GUITAR, drawn, frequency=F, re=re, volume=marks)
    h = gn.response(GUITAR, frequency=F, volume=marks[:-1], **drawn)
    expected = quantiles(gn.level_db(h, re=re)).transpose("volume", "quantile", "frequency")
    np.testing.assert_allclose(found[:-1], expected, atol=1e-10)
    assert np.isneginf(found.sel(volume=0)).all()
    assert found.dims == ("volume", "quantile", "frequency")
    assert found.attrs["long_name"] == ("level re 100 Hz" if re else "level re 1 V/V")
    assert "101 guitars" in found.attrs["assumptions"]


@pytest.mark.parametrize("re", [None, "reference"])
def test_few_guitars_and_between_them(re):
    """Between two guitars by a straight line in decibels, not in power."""
    drawn, levels = spread(GUITAR, 12, seed=3), (0.05, 0.31, 0.77)
    found = tolerance_band(GUITAR, drawn, frequency=F, re=re, levels=levels, volume=[10, 5])
    h = gn.level_db(gn.response(GUITAR, frequency=F, volume=[10, 5], **drawn), re=re)
    expected = np.quantile(h.transpose("volume", "frequency", "sample"), levels, axis=-1)
    np.testing.assert_allclose(found.transpose("quantile", ...), expected, atol=1e-10)


def test_a_band_next_to_silence():
    """Two guitars of five are off: a share that lies between silence and sound is silent."""
    drawn = {"volume.track": xr.DataArray([0.0, 0.0, 0.5, 0.6, 0.7], dims="sample")}
    found = tolerance_band(GUITAR, drawn, frequency=[1000.0], levels=(0.1, 0.3, 0.5, 0.9))
    sounding = gn.level_db(gn.response(GUITAR, frequency=[1000.0], **drawn))[2:]
    assert np.isneginf(found[:2]).all()
    assert found.sel(quantile=0.5).item() == pytest.approx(float(sounding.min()))
    assert np.isfinite(found[2:]).all()


def test_the_band_with_tapers_and_categories():
    plain = gn.layouts.one_pickup(PICKUP)
    drawn = spread(plain, 60) | spread_tapers(plain, {"volume": [10, 5]}, 60)
    found = tolerance_band(plain, drawn, frequency=F, treble_bleed=[None, gn.bleed("1n")])
    assert set(found.dims) == {"treble_bleed", "volume", "quantile", "frequency"}
    np.testing.assert_array_equal(found.volume, [10, 5])
    narrow = tolerance_band(plain, spread(plain, 60), frequency=F, volume=[10, 5])
    width = {
        name: band.sel(volume=5, frequency=F[0], quantile=[0.05, 0.95]).diff("quantile").item()
        for name, band in (("tapers", found.isel(treble_bleed=0)), ("values", narrow))
    }
    assert width["tapers"] > 3 * width["values"]


# -- figures -------------------------------------------------------------------------------------


def words(ax):
    ax.figure.canvas.draw()
    texts = (t.get_text() for t in ax.figure.findobj(mpl.text.Text) if t.get_visible())
    return " | ".join(texts).replace("\u00a0", " ")


def test_bands_are_drawn_with_median_nominal_and_labels():
    drawn = spread(GUITAR, 80, seed=1)
    h = gn.response(GUITAR, frequency=F, volume=[10, 5, 0], **drawn)
    marked = gn.response(GUITAR, frequency=F, volume=[10, 5, 0])
    ax = plot_bands(h, marked)
    band = quantiles(gn.level_db(h)).sel(volume=5)
    assert any(np.array_equal(line.get_ydata(), band.sel(quantile=0.5)) for line in ax.lines)
    nominal = gn.level_db(marked).sel(volume=5)
    assert any(np.array_equal(line.get_ydata(), nominal) for line in ax.lines)
    edges = ax.collections[1].get_paths()[0].vertices[:, 1]
    assert edges.min() == pytest.approx(float(band.min()))
    assert edges.max() == pytest.approx(float(band.max()))
    text = words(ax)
    labels = [t.get_text() for t in ax.texts]
    assert {"volume 10", "5"} <= set(labels), "what the numbers are is said once"
    assert sum("volume" in label for label in labels) == 2, "the silent one is named too"
    for said in ("median", "5 to 95 %", "every part as marked", "80 guitars", "volume 0: silent",
                 "level re 1 V/V [dB]", "Between 5 % and 95 % of the guitars"):  # fmt: skip
        assert said in text


def test_a_ready_band_is_drawn_as_it_was_made():
    drawn = spread(GUITAR, 50)
    band = tolerance_band(GUITAR, drawn, frequency=F, re="reference", volume=5)
    _, given = plt.subplots()
    assert plot_bands(band, ax=given, re="reference", title="A band") is given
    assert given.get_title(loc="left") == "A band" or given.get_title() == "A band"
    assert "volume 5" in words(given), "what is set is told with the guitar"
    with pytest.raises(GuitarnetError) as caught:
        plot_bands(band)
    assert str(caught.value) == (
        "re: None is not what the band was made with; state re='reference'."
    )


def test_slopes_and_ranking_are_drawn():
    ax = plot_sensitivity(sensitivity(GUITAR, frequency=F, volume=5), most=4)
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert len(labels) == 4
    assert "treble bleed capacitor" in labels
    ranked = sensitivity_ranking(GUITAR, frequency=F, volume=5)
    ax = plot_ranking(ranked, most=5)
    widths = sorted((bar.get_width() for bar in ax.patches), reverse=True)
    np.testing.assert_allclose(widths, ranked.worst.values[:5])
    text = words(ax)
    assert "volume resistance ±20 %" in text
    assert "First order" in text or "first order" in text


# -- refusals ------------------------------------------------------------------------------------

NO_LOAD = gn.layouts.one_pickup(PICKUP, tone=gn.Pot("250k", gn.no_load("audio 15%")))
SAMPLES = xr.DataArray(np.zeros(3), dims="sample")


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: quantiles(xr.DataArray(np.zeros(3), dims="x")),
            "quantiles: there is no dimension 'sample'; give what was computed from spread().",
        ),
        (
            lambda: quantiles(SAMPLES + 1j),
            "quantiles: complex numbers have no order; give level_db(h), or a measure.",
        ),
        (
            lambda: quantiles(SAMPLES, [0.5, 0.1]),
            "levels: do not rise from one to the next; give them as (0.05, 0.5, 0.95).",
        ),
        (
            lambda: quantiles(SAMPLES, ["120%"]),
            "levels: '120%' is too large; give a value from 0 % to 100 %.",
        ),
        (
            lambda: quantile_table({"level": xr.DataArray(np.zeros((2, 3)), dims=("v", "sample"))}),
            "level: runs along v, sample, not along sample; choose one of each other dimension, "
            "as .sel(volume=5).",
        ),
        (
            lambda: quantile_table({"level": SAMPLES}, {}),
            "level: has no nominal value; give it, or leave nominal out.",
        ),
        (
            lambda: spread_tapers(GUITAR, {"cable": 5}, 5),
            "cable: is no pot; name a pot, as 'volume'.",
        ),
        (
            lambda: spread_tapers(NO_LOAD, {"tone": 5}, 5),
            "tone: leaves its track at 10, which no track fraction says; set it by its mark, or "
            "give it a taper without no-load.",
        ),
        (
            lambda: spread_tapers(GUITAR, {"volume": 5}, 5, conformity="120%"),
            "spread_tapers.conformity: '120%' is too large; give a value from 0 % to 99 % "
            "(nothing is left at 100 % less).",
        ),
        (
            lambda: spread_tapers(GUITAR, {"volume": []}, 5),
            "volume: is an empty list; give at least one mark.",
        ),
        (
            lambda: spread_tapers(GUITAR, {"volume": 5}, 5, alike=[("volume", "tone")]),
            "tone: stands in alike and has no marks; leave it out.",
        ),
        (
            lambda: tolerance_band(GUITAR, {}, frequency=F),
            "drawn: holds nothing along 'sample'; give what spread() returns.",
        ),
        (
            lambda: tolerance_band(GUITAR, spread(GUITAR, 3), frequency=[0, 10]),
            "frequency: 0 Hz has no band here; give frequencies above 0.",
        ),
        (
            lambda: tolerance_band(
                GUITAR, spread(GUITAR, 3), frequency=F, **{"volume.resistance": "500k"}
            ),
            "volume.resistance: is drawn and set; keep one of the two.",
        ),
        (
            lambda: tolerance_band(GUITAR, None, frequency=F),
            "drawn: a NoneType is no mapping; give what spread() returns.",
        ),
        (
            lambda: tolerance_band(GUITAR, spread(GUITAR, 3), frequency=F, levels=None),
            "levels: a NoneType is no list; give shares, as (0.05, 0.5, 0.95).",
        ),
        (
            lambda: quantile_table([1]),
            "measures: a list is no mapping; give {'peak': peak(h).frequency}.",
        ),
        (
            lambda: quantile_table({"a": 3}),
            "a: runs along nothing, not along sample; choose one of each other dimension, as "
            ".sel(volume=5).",
        ),
        (
            lambda: quantile_table({"level": SAMPLES}, 3),
            "nominal: an int is no mapping; give what it is without spread, by the same names.",
        ),
        (
            lambda: plot_bands(gn.response(GUITAR, frequency=F)),
            "figure: needs many guitars: there is no dimension 'sample'; give response(guitar, "
            "**spread(guitar, 500)).",
        ),
        (
            lambda: plot_bands(
                gn.response(GUITAR, frequency=F, volume=[10, 5], tone=[10, 5], **spread(GUITAR, 3))
            ),
            "figure: h varies over volume, tone; choose one of each but one, as "
            "h.sel({'tone': ...}).",
        ),
        (
            lambda: plot_bands(
                gn.response(GUITAR, frequency=F, volume=[10, 5], **spread(GUITAR, 3)),
                gn.response(GUITAR, frequency=F),
            ),
            "nominal: runs along frequency, the band along volume, frequency; give the response at "
            "the same settings.",
        ),
        (
            lambda: plot_sensitivity(sensitivity(GUITAR, frequency=F, volume=0)),
            "figure: the guitar is silent; turn the volume up.",
        ),
        (
            lambda: plot_sensitivity(sensitivity(GUITAR, frequency=F, volume=[10, 5])),
            "figure: it varies over volume; choose with .sel({'volume': ...}).",
        ),
        (
            lambda: plot_ranking(sensitivity(GUITAR, frequency=F)),
            "figure: needs a ranking; give what sensitivity_ranking() returns.",
        ),
    ],
)
def test_refused(call, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        call()
    assert str(refusal.value) == message


# -- the example ---------------------------------------------------------------------------------


@pytest.mark.long
def test_the_example_leaves_tables_pictures_and_sounds(example, tmp_path):
    done = example("tolerance.py", "--guitars", 300, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert "pickup.inductance" in done.stdout
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        "as-marked.wav", "band.png", "high-peak.wav", "low-peak.wav", "peaks.csv", "ranking.csv",
        "ranking.png",
    }  # fmt: skip
    clips = [read_sound(tmp_path / "out" / f"{n}-peak.wav") for n in ("low", "high")]
    assert max(float(abs(clip).max()) for clip in clips) <= 1
    power = [float((clip**2).mean()) for clip in clips]
    assert power[0] == pytest.approx(power[1], rel=1e-3)


def test_the_example_refuses_in_one_sentence(example, tmp_path):
    options = ("--tolerance", "volume.resistance=150%", "--out", tmp_path / "out")
    done = example("tolerance.py", *options)
    assert done.returncode == 1
    assert done.stderr == (
        "volume.resistance, tolerance: '150%' is too large; give a value from 0 % to 99 % "
        "(nothing is left at 100 % less).\n"
    )
    assert not (tmp_path / "out").exists()
