"""Where a pickup sits on the string: closed forms, a string simulated, published numbers."""

from __future__ import annotations

import math

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import pytest
import xarray as xr
from hypothesis import given, strategies as st
from matplotlib.axes import Axes

from guitarnet import Pickup, layouts as guitars, response
from guitarnet.errors import BadSetting, BadValue
from guitarnet.show.figures.string import plot_string_spectrum
from guitarnet.study.string.string import (
    PickupPosition,
    cancellation_frequency,
    harmonic_level_db,
    string_spectrum,
)

SCALE = 0.648
N = np.arange(1, 61)


@pytest.fixture(scope="module")
def guitar():
    return guitars.one_pickup(Pickup("6.2k", "2.4 H", "120p"))


@pytest.fixture(autouse=True)
def _closed():
    """Leave no figure open, and no global setting changed."""
    before = dict(mpl.rcParams)
    yield
    plt.close("all")
    assert dict(mpl.rcParams) == before


# -- the comb -------------------------------------------------------------------------------------


@pytest.mark.parametrize("position", ["162 mm", 0.162, "16.2 cm"])
def test_a_quarter_of_the_string_hears_no_fourth_harmonic(position):
    """sin(n pi x/L) at x = L/4: harmonics 4, 8, ... vanish exactly (textbook)."""
    spectrum = string_spectrum(position, pluck="101 mm")
    gone = spectrum.harmonic.values[spectrum.values == 0]
    assert gone.tolist() == list(range(4, 61, 4))


@given(st.integers(2, 40), st.integers(1, 39))
def test_exact_zeros_at_every_node(parts, which):
    """On a node of harmonic n, whatever the rounding of x/L, n is exactly silent."""
    which = min(which, parts - 1)
    place = SCALE * which / parts
    spectrum = string_spectrum(place, pluck="1.7 mm")
    node = parts // math.gcd(parts, which)
    assert (spectrum.values == 0).tolist() == (N % node == 0).tolist()


def test_closed_form():
    """1/n sin(n pi p/L) sin(n pi x/L) sin(u)/u, from the formula of the docstring."""
    place = PickupPosition("55 mm", aperture="12 mm")
    spectrum = string_spectrum(place, pluck="87 mm", scale="25.5 in", fret=3)
    length = 25.5 * 0.0254 * 2 ** (-3 / 12)
    u = N * math.pi * 0.012 / (2 * length)
    expected = np.sin(N * math.pi * 0.087 / length) * np.sin(N * math.pi * 0.055 / length) / N
    np.testing.assert_allclose(spectrum, expected * np.sin(u) / u, rtol=1e-9, atol=1e-15)


def test_a_plucked_string_simulated(agreement):
    """d'Alembert: two travelling halves of the triangle, sampled in time, their Fourier series.

    The pickup takes the velocity. Amplitudes are per force: the corner is p (L - p)/L high.
    """
    pluck, place, length, steps = 0.11, 0.047, 0.648, 2**16

    def shape(s):
        """The triangle, continued oddly beyond both ends."""
        away = np.abs((s + length) % (2 * length) - length)
        sign = np.where((s % (2 * length)) < length, 1, -1)
        corner = pluck * (length - pluck) / length
        return sign * corner * np.minimum(away / pluck, (length - away) / (length - pluck))

    travelled = np.arange(steps) / steps * 2 * length  # one period
    moved = (shape(place - travelled) + shape(place + travelled)) / 2
    displacement = np.fft.rfft(moved).real / steps * 2
    velocity = N * displacement[N]  # its derivative, up to a factor for all
    spectrum = string_spectrum(place, pluck=pluck, scale=length).values
    np.testing.assert_allclose(velocity / velocity[0], spectrum / spectrum[0], rtol=0, atol=2e-4)
    first = slice(None, 8)
    agreement(
        "d'Alembert, simulated in time",
        "harmonics 1 to 8 of a plucked string",
        (spectrum / spectrum[0])[first],
        (velocity / velocity[0])[first],
        limit="its time steps",
    )


def test_the_reference():
    """1 is the fundamental of the same string, plucked and sensed in its middle."""
    spectrum = string_spectrum(SCALE / 2, pluck=SCALE / 2)
    expected = np.where(N % 2, 1 / N, 0)  # (+-1)(+-1)/n, odd ones only
    np.testing.assert_allclose(spectrum, expected, rtol=1e-14)
    assert harmonic_level_db(spectrum).values[0] == 0


def test_pluck_and_pickup_change_places():
    """Reciprocity: what is plucked at p and sensed at x is the same the other way round."""
    one = string_spectrum("50 mm", pluck="150 mm")
    np.testing.assert_allclose(one, string_spectrum("150 mm", pluck="50 mm"), rtol=1e-12, atol=0)


# -- frets and strings ----------------------------------------------------------------------------


def test_frets_shorten_the_string():
    """L 2^(-fret/12), the distance from the bridge unchanged: at the twelfth fret x/L doubles."""
    both = string_spectrum("40 mm", fret=[0, 12])
    assert both.frequency.dims == ("fret", "harmonic")
    np.testing.assert_allclose(
        both.frequency.sel(fret=12), 2 * both.frequency.sel(fret=0), rtol=1e-15
    )
    same = string_spectrum("40 mm", scale="324 mm")
    np.testing.assert_array_equal(both.sel(fret=12).values, same.values)


@pytest.mark.parametrize(
    ("string", "hertz"),
    [("E2", 82.407), ("A2", 110), ("D3", 146.832), ("G3", 195.998), ("B3", 246.942),
     ("E4", 329.628), ("E1", 41.203), ("Eb2", 77.782), ("F#3", 184.997), ("110 Hz", 110), (98, 98)],
)  # fmt: skip
def test_strings_by_note(string, hertz):
    """Equal temperament at A4 = 440 Hz (textbook table)."""
    spectrum = string_spectrum("40 mm", string=string)
    assert float(spectrum.frequency[0]) == pytest.approx(hertz, abs=6e-4)
    np.testing.assert_allclose(spectrum.frequency, N * float(spectrum.frequency[0]), rtol=1e-14)


def test_sweeps_are_named_dimensions():
    spectrum = string_spectrum(
        PickupPosition("40 mm"),
        string=["E2", 110],
        fret=range(3),
        pluck=["5 cm", 0.2],
        position=[0.03, 0.05],
        harmonics=7,
    )
    sizes = {"string": 2, "fret": 3, "pluck": 2, "position": 2, "harmonic": 7}
    assert dict(spectrum.sizes) == sizes
    assert spectrum.string.values.tolist() == ["E2", "110 Hz"]
    assert spectrum.pluck_written.values.tolist() == ["5 cm", "0.2"]
    assert spectrum.pluck.attrs["units"] == spectrum.position.attrs["units"] == "m"
    assert spectrum.frequency.attrs["units"] == "Hz"
    one = string_spectrum(0.05, string=110, fret=2, pluck=0.05, harmonics=7)
    picked = spectrum.sel(string="110 Hz", fret=2, pluck=0.05, position=0.05)
    np.testing.assert_array_equal(picked.values, one.values)


# -- aperture, two coils, two pickups -------------------------------------------------------------


def test_an_aperture_is_the_mean_of_points():
    """Against the mean of 4001 points across it."""
    wide = string_spectrum(PickupPosition("60 mm", aperture="20 mm")).values
    across = np.linspace(0.05, 0.07, 4001)
    points = string_spectrum("60 mm", position=across).values
    mean = (points[1:] + points[:-1]).mean(axis=0) / 2
    np.testing.assert_allclose(mean, wide, rtol=0, atol=1e-6)


@pytest.mark.parametrize(("in_phase", "sign"), [(True, 1), (False, -1)])
def test_two_coils_are_two_pickups(in_phase, sign):
    """One place with a spacing is two places, added or subtracted."""
    place = PickupPosition("45 mm", "4 mm", "18 mm", in_phase)
    near, far = PickupPosition("36 mm", "4 mm"), PickupPosition("54 mm", "4 mm", sign=sign)
    np.testing.assert_allclose(
        string_spectrum(place), string_spectrum({"near": near, "far": far}), rtol=0, atol=1e-14
    )


@pytest.mark.parametrize(("string", "printed", "exact"), [("E2", 3000, 2967), ("A2", 4000, 3960)])
def test_where_two_coils_cancel(agreement, string, printed, exact):
    """About 3000 and 4000 Hz: H. Lemme, quoted; c/(2 d) with d = 18 mm and 648 mm scale."""
    found = cancellation_frequency("18 mm", string=string, scale="648 mm")
    assert found == pytest.approx(exact, abs=0.5)
    assert found == pytest.approx(printed, rel=0.05)
    agreement(
        "H. Lemme, quoted",
        "where two coils cancel on E and A",
        [found],
        [printed],
        limit="printed as about 3000 and 4000 Hz",
    )
    # 648 / 18 = 36: that harmonic, and its odd multiples, vanish exactly.
    place = PickupPosition("41 mm", coil_spacing="18 mm")
    spectrum = string_spectrum(place, string=string, pluck="101 mm", harmonics=120)
    gone = spectrum.harmonic.values[spectrum.values == 0]
    assert gone.tolist() == [36, 108]
    assert float(spectrum.frequency.sel(harmonic=36)) == pytest.approx(found, rel=1e-12)
    # The same frequency at the twelfth fret: another harmonic.
    fretted = string_spectrum(place, string=string, pluck="101 mm", fret=12, harmonics=60)
    assert fretted.harmonic.values[fretted.values == 0].tolist() == [18, 54]
    assert float(fretted.frequency.sel(harmonic=18)) == pytest.approx(found, rel=1e-12)


def test_several_pickups_are_phasors_with_sign():
    near, far = PickupPosition("40 mm"), PickupPosition("160 mm", sign=-1, level=0.7)
    places = {"bridge": near, "neck": far}
    apart = string_spectrum(places, together=False)
    assert apart.dims == ("pickup", "harmonic")
    assert apart.pickup.values.tolist() == ["bridge", "neck"]
    alone = string_spectrum("40 mm").values - 0.7 * string_spectrum("160 mm").values
    np.testing.assert_allclose(string_spectrum(places), alone, rtol=1e-13, atol=1e-16)
    np.testing.assert_allclose(apart.sum("pickup"), alone, rtol=1e-13, atol=1e-16)


def test_two_pickups_at_one_place_out_of_phase_are_silent():
    places = {"a": "40 mm", "b": PickupPosition("40 mm", sign=-1)}
    spectrum = string_spectrum(places)
    assert (spectrum.values == 0).all()
    assert np.isneginf(harmonic_level_db(spectrum, "loudest")).all()


# -- through the guitar ---------------------------------------------------------------------------


def test_the_guitar_multiplies_each_harmonic(guitar):
    """The response between its points: within 0.01 dB of the one computed at the harmonics."""
    h = response(guitar, volume=[10, 5])
    spectrum = string_spectrum("41 mm", h=h, pluck="101 mm")
    assert spectrum.dims == ("volume", "harmonic")
    bare = string_spectrum("41 mm", pluck="101 mm")
    exact = response(guitar, frequency=bare.frequency.values, volume=[10, 5])
    miss = 20 * np.log10(np.abs(spectrum.values / (bare.values * exact.values)))
    assert np.abs(miss).max() < 0.001
    at_points = string_spectrum("41 mm", h=exact, pluck="101 mm")
    np.testing.assert_allclose(at_points.values, bare.values * exact.values, rtol=1e-12)
    assert "lossless coil assumed" in spectrum.attrs["assumptions"]
    assert "2.4 H" in spectrum.attrs["guitar"]


def test_each_string_and_pickup_through_its_own(guitar):
    h = response(guitar, volume=[10, 5]).rename(volume="pickup").drop_vars("pickup")
    h = h.assign_coords(pickup=["neck", "bridge"])
    places = {"neck": "160 mm", "bridge": "40 mm"}
    spectrum = string_spectrum(places, h=h, string=["E2", "A2"], fret=[0, 5], harmonics=30)
    assert spectrum.dims == ("string", "fret", "harmonic")
    alone = [
        string_spectrum(place, h=h.sel(pickup=name, drop=True), string="A2", fret=5, harmonics=30)
        for name, place in places.items()
    ]
    np.testing.assert_allclose(
        spectrum.sel(string="A2", fret=5), sum(alone).values, rtol=1e-12, atol=1e-16
    )


def test_a_chunked_response_stays_lazy(guitar):
    pytest.importorskip("dask")
    marks = xr.DataArray(np.linspace(1, 10, 8), dims="volume").chunk(volume=4)
    lazy = string_spectrum("41 mm", h=response(guitar, volume=marks))
    level = harmonic_level_db(lazy)
    assert lazy.chunks is not None
    assert level.chunks is not None
    eager = string_spectrum("41 mm", h=response(guitar, volume=marks.compute()))
    np.testing.assert_allclose(lazy.compute(), eager, rtol=1e-10, atol=1e-16)


# -- levels and figure ----------------------------------------------------------------------------


def test_levels():
    spectrum = string_spectrum("162 mm", pluck="101 mm", fret=[0, 5])
    level = harmonic_level_db(spectrum)
    there = spectrum.values != 0
    expected = 20 * np.log10(np.abs(spectrum.values[there]))
    np.testing.assert_allclose(level.values[there], expected, rtol=1e-12)
    assert np.isneginf(level.values[~there]).all()
    assert level.attrs["long_name"] == "level re a string's middle"
    assert "0 dB: fundamental of the same string" in level.attrs["assumptions"]
    loudest = harmonic_level_db(spectrum, "loudest")
    assert (loudest.max("harmonic") == 0).all()
    assert loudest.attrs["long_name"] == "level re its loudest harmonic"
    assert "0 dB" not in loudest.attrs["assumptions"]


def words(ax):
    ax.figure.canvas.draw()
    texts = (t.get_text() for t in ax.figure.findobj(mpl.text.Text) if t.get_visible())
    return " | ".join(texts).replace("\u00a0", " ").replace("\n", " ")


def test_stems_are_the_levels():
    spectrum = string_spectrum("162 mm", pluck="101 mm", harmonics=12)
    ax = plot_string_spectrum(spectrum)
    assert isinstance(ax, Axes)
    dots, crosses = ax.lines[-2:]
    there = spectrum.values != 0
    np.testing.assert_array_equal(dots.get_xdata(), spectrum.frequency.values[there])
    np.testing.assert_array_equal(dots.get_ydata(), harmonic_level_db(spectrum).values[there])
    np.testing.assert_allclose(crosses.get_xdata(), spectrum.frequency.values[[3, 7, 11]])
    said = words(ax)
    assert said.startswith("4 | 8 | 12 | ")
    assert "level re a string's middle [dB]" in said
    assert "0 dB: fundamental of the same string, plucked as hard in its middle" in said
    assert "velocity sensed; plucked 101 mm from the bridge; pickup 162 mm from the bridge" in said


def test_a_family_is_joined_dots(guitar):
    _, ax = plt.subplots()
    h = response(guitar, volume=[10, 5])
    places = {"neck": "160 mm", "bridge": PickupPosition("40 mm", coil_spacing="18 mm", sign=-1)}
    assert plot_string_spectrum(string_spectrum(places, h=h), ax, re="loudest") is ax
    said = words(ax)
    assert "Harmonics of the string through the guitar, for each volume" in said
    assert "bridge 40 mm from the bridge, two coils 18 mm apart" in said
    assert "out of phase" in said
    assert {t.get_text() for t in ax.get_legend().get_texts()} == {"10", "5"}
    with_gaps = plot_string_spectrum(string_spectrum("162 mm", fret=[0, 5], pluck="101 mm"))
    curve = next(line for line in with_gaps.lines if len(line.get_xdata()) == 60)
    assert np.isnan(np.asarray(curve.get_ydata())[[3, 7]]).all()


# -- refusals -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "kind", "message"),
    [
        (
            lambda: PickupPosition("-4 cm"),
            BadValue,
            "PickupPosition.position: '-4 cm' is negative; give a value above 0 m up to 3 m.",
        ),
        (
            lambda: PickupPosition("4 cm", sign=0),
            BadValue,
            "PickupPosition.sign: 0 is no sign; give 1 or -1.",
        ),
        (
            lambda: string_spectrum(PickupPosition("8 mm", coil_spacing="18 mm")),
            BadValue,
            "pickup: 8 mm from the bridge with 9 mm to either side reaches beyond it; move it away "
            "from the bridge or make it narrower.",
        ),
        (
            lambda: string_spectrum({"neck": "165 mm"}, fret=[0, 24]),
            BadValue,
            "neck: 165 mm from the bridge is not on a string that sounds for 162 mm; choose a "
            "lower fret or a position nearer to the bridge.",
        ),
        (
            lambda: string_spectrum("40 mm", pluck="70 cm"),
            BadValue,
            "pluck: 700 mm from the bridge is not on a string that sounds for 648 mm; choose a "
            "lower fret or a position nearer to the bridge.",
        ),
        (
            lambda: string_spectrum("40 mm", string="H2"),
            BadValue,
            "string: 'H2' is no note; write it like 'E2' or 'F#1', or give Hz.",
        ),
        (
            lambda: string_spectrum("40 mm", harmonics=2.5),
            BadValue,
            "harmonics: 2.5 is not whole; give a whole number.",
        ),
        (
            lambda: string_spectrum("40 mm", fret=[]),
            BadSetting,
            "fret: is an empty list; give at least one value.",
        ),
        (
            lambda: string_spectrum("40 mm", fret=[5, 5]),
            BadSetting,
            "fret: 5.0 is given twice; give each once.",
        ),
        (
            lambda: string_spectrum({}),
            BadSetting,
            "pickup: names no pickup; give one or more.",
        ),
        (
            lambda: string_spectrum({"a": 0.1, "b": 0.2}, position=[0.1, 0.2]),
            BadSetting,
            "position: is given for several pickups; give each its own position.",
        ),
        (
            lambda: harmonic_level_db("spectrum"),
            BadSetting,
            "spectrum: a str is not a spectrum over harmonics; give what string_spectrum() "
            "returns.",
        ),
        (
            lambda: harmonic_level_db(string_spectrum("40 mm"), "first"),
            BadSetting,
            "re: 'first' is no reference; use None or 'loudest'.",
        ),
        (
            lambda: cancellation_frequency(0),
            BadValue,
            "coil_spacing: 0 m is zero; give a value above 0 m up to 3 m.",
        ),
        (
            lambda: plot_string_spectrum(
                string_spectrum("40 mm", fret=[0, 1], string=["E2", "A2"])
            ),
            BadSetting,
            "figure: spectrum varies over string, fret; choose one of each but one, as "
            "spectrum.sel({'fret': ...}).",
        ),
    ],
)
def test_refused(call, kind, message):
    with pytest.raises(kind) as refusal:
        call()
    assert str(refusal.value) == message


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (
            {"harmonics": 300},
            "h: runs from 20 Hz to 20 kHz, the harmonics from 82.41 Hz to 24.72 kHz; give "
            "response() a wider grid, or ask for fewer harmonics.",
        ),
        (
            {"h": 3},
            "h: is not a response over two or more frequencies; give what response() returns.",
        ),
    ],
)
def test_a_response_that_does_not_go(guitar, more, message):
    with pytest.raises(BadSetting) as refusal:
        string_spectrum("40 mm", **{"h": response(guitar), **more})
    assert str(refusal.value) == message


def test_a_response_of_other_pickups(guitar):
    h = response(guitar).expand_dims(pickup=["neck"])
    with pytest.raises(BadSetting) as refusal:
        string_spectrum({"bridge": "40 mm"}, h=h)
    assert str(refusal.value) == (
        "h: has pickups neck, the string has bridge; give both the same names in the same order."
    )
