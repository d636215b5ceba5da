"""The figure of an impedance: what is drawn is what a handbook's formula gives."""

from __future__ import annotations

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import pytest

import guitarnet as gn
from guitarnet.show.figures.impedance import plot_impedance

R, L, C = 6200.0, 2.4, 120e-12
PICKUP = gn.Pickup(R, L, C)
ALONE = gn.layouts.pickup_alone(PICKUP)
GUITAR = gn.layouts.one_pickup(PICKUP)


@pytest.fixture(autouse=True)
def _closed():
    """Leave no figure open, and no global setting changed."""
    before = dict(mpl.rcParams)
    yield
    plt.close("all")
    assert dict(mpl.rcParams) == before


def words(axes):
    """Every text of a drawn figure."""
    figure = axes[0].figure
    figure.canvas.draw()
    texts = (t.get_text() for t in figure.findobj(mpl.text.Text) if t.get_visible())
    return " | ".join(texts).replace("\u00a0", " ").replace("\n", " ")


def curves(ax):
    """The lines that are curves."""
    return [line for line in ax.lines if len(line.get_xdata()) > 2]


def test_a_pickup_alone_is_r_and_l_in_series_with_c_across():
    """Z = (R + jwL) / (1 - w^2 LC + jwRC), as in any textbook of circuits; size and phase."""
    size, phase = plot_impedance(gn.impedance(ALONE))
    (line,), (degrees,) = curves(size), curves(phase)
    f = line.get_xdata()
    w = 2 * np.pi * f
    z = (R + 1j * w * L) / (1 - w**2 * L * C + 1j * w * R * C)
    np.testing.assert_allclose(line.get_ydata(), np.abs(z), rtol=1e-10)
    np.testing.assert_allclose(degrees.get_ydata(), np.angle(z, deg=True), atol=1e-8)
    np.testing.assert_array_equal(degrees.get_xdata(), f)


def test_it_is_largest_at_the_resonance_and_the_phase_falls_through_zero_there():
    """With a Q of 23 the maximum lies at 1 / (2 pi sqrt(LC)) within 0.3 %, at L / (R C)."""
    size, phase = plot_impedance(
        gn.impedance(ALONE, frequency=gn.sweeps.frequency_grid(per_decade=2000))
    )
    (line,), (degrees,) = curves(size), curves(phase)
    top = int(line.get_ydata().argmax())
    f0 = 1 / (2 * np.pi * np.sqrt(L * C))
    assert line.get_xdata()[top] == pytest.approx(f0, rel=3e-3)
    assert line.get_ydata()[top] == pytest.approx(L / (R * C), rel=3e-3)
    crossing = np.interp(0, degrees.get_ydata()[::-1], degrees.get_xdata()[::-1])
    assert crossing == pytest.approx(f0, rel=3e-3)
    bottom, peak = size.get_ylim()
    assert bottom < R < L / (R * C) < peak
    assert size.get_yscale() == "log"


def test_both_panels_share_one_frequency_axis_and_say_what_was_assumed():
    axes = plot_impedance(gn.impedance(ALONE), view=(100, 10e3))
    assert axes[0].get_xlim() == axes[1].get_xlim() == (100, 10e3)
    axes[1].set_xlim(200, 5e3)
    assert axes[0].get_xlim() == (200, 5e3)
    text = words(axes)
    assert "impedance [Ω]" in text
    assert "phase [°]" in text
    assert "Impedance at the jack" in text
    assert "Lossless coil assumed" in text
    assert "Pickup 6.2 kΩ, 2.4 H, 120 pF." in text
    assert "1M" in text
    assert text.count("frequency [Hz]") == 1


def test_marks_stand_on_the_lines_and_a_short_is_said():
    """At volume 0 tip and sleeve are one node; a logarithm of that there is not."""
    axes = plot_impedance(gn.impedance(GUITAR, volume=[10, 5, 0]))
    text = words(axes)
    assert len(curves(axes[0])) == len(curves(axes[1])) == 2
    assert "volume 0: 0 Ω" in text
    assert {t.get_text() for t in axes[0].texts} >= {"10", "5"}
    ohms = {line.get_ydata()[0] for line in curves(axes[0])}
    track = 250e3 * np.array([0.15, 0.85])
    half = track[0] * (track[1] + R) / (track.sum() + R)
    low = gn.impedance(GUITAR, frequency=[20.0], volume=5)
    assert min(abs(ohm - half) for ohm in ohms) < 0.01 * half
    assert min(abs(ohm - abs(complex(low[0]))) for ohm in ohms) < 1e-6 * half


def test_labels_lie_within_the_axes_whatever_the_scale():
    axes = plot_impedance(gn.impedance(GUITAR, volume=[10, 9, 7, 5, 3, 1]))
    figure = axes[0].figure
    figure.canvas.draw()
    frame = axes[0].get_window_extent()
    boxes = [
        t.get_window_extent(figure.canvas.get_renderer())
        for t in axes[0].texts
        if t.get_text().isdigit()
    ]
    assert len(boxes) == 6
    middles = sorted((box.y0 + box.y1) / 2 for box in boxes)
    assert frame.y0 - 1 <= middles[0]
    assert middles[-1] <= frame.y1 + 1
    assert np.diff(middles).min() > 10


def test_an_open_circuit_is_said():
    """A tip that nothing is joined to has no impedance to draw."""
    z = gn.impedance(ALONE)
    axes = plot_impedance(z.copy(data=np.full(z.shape, np.inf + 0j)))
    assert "open" in words(axes)
    assert not curves(axes[0])


def test_builds_have_a_legend_and_only_what_they_share_is_listed():
    axes = plot_impedance(gn.impedance(GUITAR, treble_bleed=[None, "1n"], volume=5))
    text = words(axes)
    assert [t.get_text() for t in axes[0].get_legend().get_texts()] == ["none", "1 nF"]
    assert "cable 3 m at 100 pF/m" in text
    assert "amp" not in text  # it is unplugged
    at_amp = words(plot_impedance(gn.impedance(GUITAR, at="amp")))
    assert "amp 1 MΩ" in at_amp


def test_axes_given_are_used():
    """No figure of its own is made, and the caption stands under the lower of the two."""
    _, given = plt.subplots(2, 1)
    before = plt.get_fignums()
    axes = plot_impedance(gn.impedance(ALONE), given, title="mine")
    assert axes.tolist() == list(given)
    assert plt.get_fignums() == before
    assert "mine" in words(axes)
    assert any("Lossless" in t.get_text() for t in axes[1].texts)


def test_a_page_of_several_keeps_each_caption_with_its_figure():
    """Parts of one page, each with its caption at its own foot."""
    page = plt.figure(figsize=(10, 9), layout="constrained")
    left, right = page.subfigures(1, 2)
    plot_impedance(gn.impedance(ALONE), left.subplots(2, 1, sharex=True))
    gn.plot_response(gn.response(GUITAR), right.subplots())
    page.canvas.draw()
    assert "Lossless" in left.get_supxlabel()
    assert "audio 15%" in right.get_supxlabel()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: plot_impedance(gn.response(GUITAR)),
            "plot_impedance: needs an impedance in ohm; give what impedance() returns.",
        ),
        (
            lambda: plot_impedance(gn.impedance(ALONE).values),
            "figure: needs a response over frequency; give what response() returns.",
        ),
        (
            lambda: plot_impedance(gn.impedance(GUITAR, volume=[10, 5], tone=[10, 2])),
            "figure: h varies over volume, tone; choose one of each but one, as "
            "h.sel({'tone': ...}).",
        ),
        (
            lambda: plot_impedance(gn.impedance(ALONE), [1, 2, 3]),
            "plot_impedance: 3 axes are given; give 2 rows and 1 column of them.",
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused(call, message):
    with pytest.raises(gn.errors.BadSetting) as refusal:
        call()
    assert str(refusal.value) == message
    assert not plt.get_fignums()
