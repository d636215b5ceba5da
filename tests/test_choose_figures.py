"""Figures of choices: what they return and say, and that nothing global changes."""

from __future__ import annotations

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import pytest

import guitarnet as gn
from guitarnet.show.figures.choices import plot_choices, plot_front, plot_match
from guitarnet.study.choose.bleed import choose_treble_bleed
from guitarnet.study.choose.choose import Range, choose
from guitarnet.study.choose.goals import Goal
from guitarnet.study.choose.match import match_response

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
GUITAR = gn.layouts.one_pickup(PICKUP, cable="5 m")
PEAK = Goal("peak frequency", near="4 kHz")


@pytest.fixture(autouse=True)
def _closed():
    """Leave no figure open, and no global setting changed."""
    before = dict(mpl.rcParams)
    yield
    plt.close("all")
    assert dict(mpl.rcParams) == before


@pytest.fixture(scope="module")
def bleeds():
    return choose_treble_bleed(GUITAR, series="E3", networks=["150k || 1n"])


def words(axes):
    """Every text of a figure, drawn so that layout warnings would show."""
    figure = np.ravel(axes)[0].figure
    figure.canvas.draw()
    texts = (t.get_text() for t in figure.findobj(mpl.text.Text) if t.get_visible())
    return " ".join(" | ".join(texts).replace("\u00a0", " ").split())


def test_the_front_shows_every_candidate(bleeds):
    """One dot a candidate, the front as a line, the best and what always competes by name."""
    ax = plot_front(bleeds)
    dots = {c.get_label(): len(c.get_offsets()) for c in ax.collections}
    assert dots == {one.form: len(one.values) for one in bleeds.searched}
    line = next(line for line in ax.lines if line.get_label() == "front")
    expected = [(choice.taper, choice.treble) for choice in bleeds.front]
    assert np.column_stack(line.get_data()).tolist() == [list(point) for point in expected]
    text = words(ax)
    for name in (bleeds.best.network, "none", "none, 50s wiring", "150 kΩ ∥ 1 nF"):
        assert name in text
    assert "from volume 10, 200 Hz to 5 kHz" in text
    assert "levels matched at 100 Hz" in text
    assert "lossless coil assumed" in text.lower()
    assert "better" not in text


def test_axes_given_are_used(bleeds):
    _, grid = plt.subplots(3, 1)
    found = choose(GUITAR, {"cable.length": ["1 m", "4 m"]}, PEAK)
    before = plt.get_fignums()
    assert plot_front(bleeds, grid[0], title="mine") is grid[0]
    assert grid[0].get_title(loc="left") == "mine" or grid[0].get_title() == "mine"
    assert plot_choices(found, grid[1]) is grid[1]
    matched = match_response(GUITAR, GUITAR.replace("cable.length", "9 m"), loads=["capacitor"])
    assert plot_match(matched, grid[1:]).tolist() == grid[1:].tolist()
    assert plt.get_fignums() == before


def test_a_measure_against_a_value():
    """The line holds the measure; the best is marked; what is wanted is shaded and said."""
    found = choose(GUITAR, {"cable.length": Range("1 m", "10 m")}, PEAK)
    ax = plot_choices(found)
    x, y = ax.lines[0].get_data()
    np.testing.assert_array_equal(x, found.measured[0]["cable.length"])
    np.testing.assert_array_equal(y, found.measured[0])
    text = words(ax)
    assert found.best.written["cable.length"] in text
    assert "Shaded: peak frequency near 4 kHz within 5 %" in text
    assert ax.get_xlabel() == "cable length [m]"


def test_a_measure_of_categories_and_conditions():
    """Labels on the axis and no line between them; a colour for each condition."""
    goal = Goal("treble change", at_most=4, at={"volume": [10, 7, 5]})
    found = choose(GUITAR, {"treble_bleed": [None, "1n", "150k || 1n"]}, goal)
    ax = plot_choices(found)
    assert [t.get_text() for t in ax.get_xticklabels()] == ["none", "1 nF", "150 kΩ ∥ 1 nF"]
    assert {line.get_linestyle() for line in ax.lines} == {"None"}
    assert "at volume 10/7/5: at most 4 dB" in words(ax)


def test_capacitors_on_a_logarithmic_axis():
    caps = {"tone_capacitor": gn.values.preferred_values("E6", "4.7n", "150n")}
    found = choose(GUITAR, caps, Goal("upper limit", near="800 Hz", at={"tone": 0}))
    ax = plot_choices(found)
    assert ax.get_xscale() == "log"
    assert "50 nF" in words(ax)


def test_a_logarithmic_axis_of_lengths_reads_as_lengths():
    found = choose(GUITAR, {"cable.length": Range("0.3 m", "15 m")}, PEAK)
    ax = plot_choices(found)
    words(ax)
    low, high = ax.get_xlim()
    labels = [t.get_text() for t in ax.get_xticklabels() if low <= t.get_position()[0] <= high]
    assert labels == ["0.5", "1", "2", "5", "10"]


def test_both_lengths_of_one_peak_are_marked():
    guitar = gn.layouts.one_pickup(PICKUP)
    goal = Goal("peak frequency", near="5 kHz")
    found = choose(guitar, {"cable.length": Range("0.2 m", "15 m")}, goal)
    text = words(plot_choices(found))
    assert len(found) == 2
    assert all(choice.written["cable.length"] in text for choice in found)


def test_figures_name_their_conditions(bleeds):
    lengths = {"cable.length": ["1 m", "6 m"]}
    found = choose_treble_bleed(GUITAR, series="E3", forms=["capacitor"], **lengths, tone=9)
    text = words(plot_front(found))
    assert "Over cable length 1 m, 6 m the worst counts" in text
    assert "At tone = 9" in text
    found = choose(GUITAR, {"volume.resistance": ["250k", "500k"]}, PEAK, anyway=True, tone=9)
    assert "At tone = 9" in words(plot_choices(found))


def test_no_value_is_not_drawn():
    """An upper limit beyond the grid has no place on the axis."""
    bare = gn.layouts.pickup_alone(gn.Pickup("1k", "10m", "20p", unusual=True))
    goal = Goal("upper limit", at_least="10 kHz")
    found = choose(bare, {"pickup.inductance": ["10m", "20m", "4 H"]}, goal, at="jack")
    assert found.best.reached == (np.inf,)
    words(plot_choices(found))


def test_a_match():
    """What was wanted, the best four and none; the difference below."""
    other = gn.layouts.one_pickup(gn.Pickup("8.2k", "4.6 H", "150p"))
    found = match_response(GUITAR, other)
    above, below = plot_match(found)
    labels = [line.get_label() for line in above.lines if not line.get_label().startswith("_")]
    assert labels[0] == "wanted"
    assert labels[1].startswith(found.best.load)
    assert any(label.startswith("none") for label in labels)
    np.testing.assert_allclose(below.lines[0].get_ydata(), found.residual[0])
    assert "level re 100 Hz [dB]" in words(above)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: plot_front(3),
            "plot_front: an int is given; give what choose_treble_bleed(...) returned.",
        ),
        (
            lambda: plot_match(3),
            "plot_match: an int is given; give what match_response(...) returned.",
        ),
        (
            lambda: plot_choices(3),
            "plot_choices: an int is given; give what choose(...) returned.",
        ),
        (
            lambda: plot_choices(choose(GUITAR, {"cable.length": ["1 m", "4 m"]}, PEAK), goal=1),
            "goal: there is no goal 1; give 0 to 0.",
        ),
        (
            lambda: plot_choices(
                choose(GUITAR, {"cable.length": [1, 4], "volume.resistance": [2e5, 3e5]}, PEAK)
            ),
            "plot_choices: the measure varies over cable.length, volume.resistance; choose among "
            "one kind of candidate, under one kind of condition.",
        ),
    ],
)
def test_bad_input(call, message):
    with pytest.raises(gn.GuitarnetError) as caught:
        call()
    assert str(caught.value) == message
