"""Figures: what they return, what they say, and that nothing global changes."""

from __future__ import annotations

import itertools

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.axes import Axes

import guitarnet as gn

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")


@pytest.fixture(scope="module")
def h():
    """Three builds at eleven marks, 0 included."""
    builds = {
        "no bleed": gn.layouts.one_pickup(PICKUP),
        "1 nF": gn.layouts.one_pickup(PICKUP, treble_bleed="1n"),
        "50s": gn.layouts.one_pickup(PICKUP, wiring="50s"),
    }
    return gn.response(builds, volume=range(11))


@pytest.fixture(autouse=True)
def _closed():
    """Leave no figure open, and no global setting changed."""
    before = dict(mpl.rcParams)
    yield
    plt.close("all")
    assert dict(mpl.rcParams) == before


def drawn(axes):
    """Draw the figure that holds some axes, so that layout warnings would show."""
    figure = np.ravel(axes)[0].figure
    figure.canvas.draw()
    return figure


def words(figure):
    """Every text of a figure."""
    texts = (t.get_text() for t in figure.findobj(mpl.text.Text) if t.get_visible())
    return " | ".join(texts).replace("\u00a0", " ")


def test_a_family_is_drawn_with_its_marks_on_the_lines(h):
    """The values of a line are the levels; marks label the lines; silence is said."""
    ax = gn.plot_response(h.sel(build="no bleed"))
    figure = drawn(ax)
    assert isinstance(ax, Axes)
    assert len([line for line in ax.lines if len(line.get_xdata()) > 100]) == 10
    expected = gn.level_db(h.sel(build="no bleed", volume=10)).values
    assert any(
        np.array_equal(line.get_ydata(), expected)
        for line in ax.lines
        if len(line.get_ydata()) > 99
    )
    text = words(figure)
    assert "volume 0: silent" in text
    assert "level re 1 V/V [dB]" in text
    assert "Lossless coil assumed" in text
    assert {t.get_text() for t in ax.texts} >= {str(mark) for mark in range(1, 11)}


def test_what_is_set_to_one_value_is_told_with_the_guitar():
    """A mark, a number, a switch's place; not a knob that is left alone, and not what is swept."""
    guitar = gn.layouts.one_pickup(PICKUP)
    plain = gn.response(guitar).attrs["guitar"]
    assert plain.endswith("cable 3 m at 100 pF/m; amp 1 MΩ")
    set_once = {"volume": 5, "cable.length": "6 m", "tone_capacitor": "10n"}
    ax = gn.plot_response(gn.response(guitar, **set_once))
    text = words(drawn(ax)).replace("\n", " ")
    for said in ("volume 5", "cable length 6 m", "tone capacitor 10 nF"):
        assert said in text
    swept = gn.response(guitar, volume=[10, 5], tone=3).attrs["guitar"]
    assert swept == f"{plain}; tone 3"
    three = gn.layouts.three_single_coils(PICKUP, PICKUP, PICKUP)
    told = gn.response(three, switch="middle", volume=7).attrs["guitar"]
    assert told.endswith("; volume 7")
    assert "switch five-way lever at middle" in told
    both = gn.response({"a": guitar, "b": gn.layouts.one_pickup(PICKUP, volume="500k")}, volume=5)
    assert both.attrs["guitar"].endswith("; volume 5")
    assert "250 kΩ, audio 15%; tone capacitor" in both.attrs["guitar"]


def test_axes_given_are_used_and_returned(h):
    """No figure of its own is made then."""
    _, ax = plt.subplots()
    before = plt.get_fignums()
    assert gn.plot_response(h.sel(build="1 nF", volume=5), ax, re="reference") is ax
    assert plt.get_fignums() == before


def test_labels_on_lines_do_not_collide(h):
    """Boxes of the marks' labels do not overlap."""
    ax = gn.plot_response(h.sel(build="no bleed", volume=[10, 9, 8, 7, 6, 5, 4, 3]))
    figure = drawn(ax)
    boxes = [
        t.get_window_extent(figure.canvas.get_renderer())
        for t in ax.texts
        if t.get_text().isdigit()
    ]
    assert len(boxes) == 8
    for one, other in itertools.combinations(boxes, 2):
        assert min(one.y1, other.y1) - max(one.y0, other.y0) < 2  # points


def test_panels_share_one_range_and_say_when_all_are_alike(h):
    """A panel a mark, one level axis, one legend; at 10 the curves coincide."""
    axes = gn.plots.plot_builds(h)
    text = words(drawn(axes))
    assert axes.shape == (5,)
    assert len({ax.get_ylim() for ax in axes}) == 1
    assert "3 curves within 0.05 dB" in text
    assert all(name in text for name in ("no bleed", "1 nF", "50s", "volume 10", "volume 3"))
    assert "Level re 100 Hz" in text


def test_differences_are_differences(h):
    """The lines of the panel of volume 5 are the matched differences from volume 10."""
    axes = gn.plots.plot_difference(h, [10, 5], re={"volume": 10})
    drawn(axes)
    line = next(line for line in axes[0].lines if len(line.get_xdata()) > 99)
    shape = gn.level_db(h, re="reference").sel(build="no bleed")
    f = line.get_xdata()
    expected = (shape.sel(volume=5) - shape.sel(volume=10)).sel(frequency=f)
    np.testing.assert_allclose(line.get_ydata(), expected, atol=1e-12)
    text = words(axes[0].figure)
    assert "levels matched at 100 Hz" in text
    assert axes.shape == (1,)
    assert "volume 10: all curves within 0.05 dB of 0" in text
    assert (f[0], f[-1]) == pytest.approx((200, 5000), rel=0.01), "the band that is judged"
    against = gn.plots.plot_difference(h, [5], re={"build": "no bleed"}, matched=False)
    assert "difference re no bleed [dB]" in words(drawn(against))


def test_the_taper_is_drawn_as_cut_and_as_level(h):
    """Two panels with tapers, one without."""
    axes = gn.plots.plot_taper(h, {"audio 15%": gn.audio_taper(0.15)})
    text = words(drawn(axes))
    assert axes.shape == (2,)
    assert "track below the wiper [%]" in text
    assert "level at 100 Hz re volume 10 [dB]" in text
    assert gn.plots.plot_taper(h).shape == (1,)


def test_the_map_covers_marks_and_frequencies(h):
    """Axes of mark and frequency, a bar of decibels, silence said."""
    ax = gn.plots.plot_map(h.sel(build="1 nF"))
    text = words(drawn(ax))
    assert ax.get_ylabel() == "volume mark"
    assert "level re 100 Hz [dB]" in text
    assert "olume 0: silent" in text
    drawn(gn.plots.plot_map(h.sel(build="1 nF", volume=[10, 5, 3]), re=None))


def test_a_measured_curve_lies_over_the_figure(h, tmp_path):
    """Sloped and shifted as asked, drawn as measured, the file unchanged."""
    file = tmp_path / "curve.csv"
    f = np.geomspace(60, 12e3, 50)
    level = 20 * np.log10(f) - 37
    rows = "\n".join(f"{x:.6f},{y:.6f}" for x, y in zip(f, level, strict=True))
    text = f"# exciter coil, no integrator (invented)\nfrequency_hz,magnitude_db\n{rows}\n"
    file.write_text(text)
    ax = gn.plot_response(h.sel(build="no bleed", volume=10), re="reference")
    gn.plots.plot_measured(file, ax, match=100, slope=20)
    drawn(ax)
    np.testing.assert_allclose(ax.lines[-1].get_ydata(), 0, atol=1e-3)
    assert file.read_text() == text


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("frequency_hz,level\n1,2\n", "has no column 'magnitude_db'"),
        ("frequency_hz;magnitude_db\n1;2\n", "is separated by semicolons"),
        ("frequency_hz,magnitude_db\n100,1\n90,2\n", "needs two or more frequencies above zero"),
        ("frequency_hz,magnitude_db\n100,1,5\n200,2,5\n", "has 3 cells under 2 names"),
        ("frequency_hz,magnitude_db\n100,loud\n", "'loud' is not a number"),
        ("", "has no header line"),
    ],
)
def test_a_curve_that_cannot_be_read_is_refused(h, tmp_path, content, message):
    """One sentence that names the file, and nothing drawn."""
    file = tmp_path / "curve.csv"
    file.write_text(content)
    ax = gn.plot_response(h.sel(build="no bleed", volume=10))
    before = len(ax.lines)
    with pytest.raises(gn.errors.BadFile, match="curve.csv") as refusal:
        gn.plots.plot_measured(file, ax)
    assert message in str(refusal.value)
    assert len(ax.lines) == before


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda h: gn.plot_response(h),
            "figure: h varies over build, volume; choose one of each but one, as "
            "h.sel({'volume': ...}).",
        ),
        (
            lambda h: gn.plots.plot_builds(h, [2.5]),
            "marks: none of [2.5] was swept; add one to volume.",
        ),
        (
            lambda h: gn.plots.plot_builds(h, knob="tone"),
            "figure: 'tone' was not swept; give tone=[10, 5].",
        ),
        (
            lambda h: gn.plots.plot_map(h.sel(volume=10)),
            "knob: none was swept; give response() the marks of one, as volume=[10, 5].",
        ),
        (
            lambda h: gn.plot_response("h"),
            "figure: needs a response over frequency; give what response() returns.",
        ),
    ],
)
def test_a_figure_that_cannot_be_drawn_is_refused(h, call, message):
    """One sentence, and no figure is left open."""
    with pytest.raises(gn.errors.BadSetting) as refusal:
        call(h)
    assert str(refusal.value) == message
    assert not plt.get_fignums()
