"""Choices by goals made of measures: closed forms, another minimiser, monotone laws."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from guitarnet.study.choose.choose import Range, choose
from guitarnet.study.choose.goals import MEASURES, Goal, read_goals

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
GUITAR = gn.layouts.one_pickup(PICKUP)


def resonant(ohms=6000.0, henry=3.0, farad=100e-12, metres="3 m"):
    """A coil and a cable, with nothing else."""
    alone = gn.layouts.pickup_alone(gn.Pickup(ohms, henry, farad))
    guitar = alone.add("cable", gn.Cable(metres, "100p"))
    return guitar.join("cable.guitar_tip", "jack.tip").join(
        "cable.guitar_sleeve", "jack.sleeve"
    ).leave_open("cable.amp_tip", "cable.amp_sleeve")  # fmt: skip


def test_the_cable_that_moves_the_resonance():
    """Series R-L-C: the highest voltage on C lies at w^2 = 1/(L C) - R^2/(2 L^2) (textbook)."""
    wanted, ohms, henry, farad = 4000.0, 6000.0, 3.0, 100e-12
    w2 = (2 * np.pi * wanted) ** 2
    expected = (1 / (henry * w2 + ohms**2 / (2 * henry)) - farad) / 100e-12
    goal = Goal("peak frequency", near=wanted, within="1%")
    found = choose(resonant(), {"cable.length": Range("1 m", "20 m")}, goal, at="jack")
    assert found.best.values["cable.length"] == pytest.approx(expected, rel=1e-3)
    assert found.best.how == "between"
    # Without resistance the frequency is 1/(2 pi sqrt(L C)); 6 kilohm moves it by 0.3 %.
    whole = farad + found.best.values["cable.length"] * 100e-12
    assert 1 / (2 * np.pi * np.sqrt(henry * whole)) == pytest.approx(wanted, rel=0.004)


def test_the_capacitor_of_a_corner():
    """Tone at 0: one resistance, one capacitor, a corner at 1/(2 pi R C)."""
    flat = gn.Pickup("10k", 1e-6, 1e-15, unusual=True)
    guitar = gn.layouts.one_pickup(flat, tone="250k", cable=0, amp="1M")
    ohms = 1 / (1 / 10e3 + 1 / 250e3 + 1 / 1e6)
    goal = Goal(
        "upper limit", near="700 Hz", within="10%", at={"tone": 0}, reference_frequency=0.01
    )
    expected = 1 / (2 * np.pi * ohms * 700)
    free = choose(guitar, {"tone_capacitor": Range("1n", "1u", "E12")}, goal)
    assert free.best.values["tone_capacitor"] == pytest.approx(expected, rel=2e-4)
    listed = choose(guitar, {"tone_capacitor": gn.values.preferred_values("E12", "1n", "1u")}, goal)
    corners = 1 / (2 * np.pi * ohms * np.array([c.values["tone_capacitor"] for c in listed]))
    for choice, corner in zip(listed, corners, strict=True):
        if 25 < corner < 15e3:
            assert choice.reached[0] == pytest.approx(corner, rel=2e-4)
    missed = abs(corners[np.isfinite([c.miss for c in listed])] - 700)
    assert (np.diff(missed) > 0).all()
    rounded = next(choice for choice in free if choice.how == "rounded")
    assert rounded.values == listed.best.values
    assert rounded.reached == pytest.approx(listed.best.reached)


def test_a_range_against_another_minimiser():
    """scipy.optimize.brentq on the measure itself."""
    from scipy.optimize import brentq

    def beyond(metres):
        return float(gn.peak(gn.response(GUITAR.replace("cable.length", metres))).frequency) - 4e3

    expected = brentq(beyond, 1.0, 10.0, xtol=1e-9)
    found = choose(GUITAR, {"cable.length": Range(1, 10)}, Goal("peak frequency", near="4 kHz"))
    assert found.best.values["cable.length"] == pytest.approx(expected, rel=1e-4)


@pytest.mark.long
def test_two_ranges():
    """Two values for two aims; scipy.optimize.brute on the same grid is no better."""
    from scipy.optimize import brute

    goals = [
        Goal("peak frequency", near="3.5 kHz", within="1%"),
        Goal("peak height", near=5, within="0.5 dB"),
    ]

    def cost(logs):
        metres, ohms = np.exp(logs)
        h = gn.response(GUITAR, **{"cable.length": metres, "volume.resistance": ohms})
        top = gn.peak(h)
        f, height = float(top.frequency), float(top.height)
        return np.hypot((f - 3500) / 35, (height - 5) / 0.5) if np.isfinite(f) else 1e6

    limits = (np.log([2, 10]), np.log([200e3, 1e6]))
    _, least, _, _ = brute(cost, limits, Ns=12, full_output=True, finish=None)
    ranges = {"cable.length": Range(2, 10), "volume.resistance": Range("200k", "1M", "E12")}
    found = choose(GUITAR, ranges, goals)
    assert found.best.miss < min(least, 0.01)
    assert cost(np.log([found.best.values[n] for n in ranges])) == pytest.approx(
        found.best.miss, abs=1e-9
    )
    assert list(found.best.reached) == pytest.approx([3500, 5], rel=1e-3)


def test_every_combination_is_ranked():
    """Lists multiply out; each row's number is what response() and peak() give."""
    lists = {"volume.resistance": ["250k", "500k"], "cable.length": ["2 m", "4 m", "8 m"]}
    goal = Goal("peak frequency", near="4 kHz", within="500 Hz")
    found = choose(GUITAR, lists, goal)
    assert len(found) == 6
    for choice in found:
        h = gn.response(GUITAR, **choice.values)
        assert choice.reached[0] == pytest.approx(float(gn.peak(h).frequency), rel=1e-12)
        assert choice.met == (abs(choice.reached[0] - 4000) <= 500)
    misses = [choice.miss for choice in found]
    assert misses == sorted(misses)
    assert found.met == tuple(found)[: len(found.met)]


def test_of_several_conditions_the_worst_counts():
    """A pot that keeps the height with every cable."""
    cables = {"cable.length": ["1 m", "3 m", "6 m"]}
    goal = Goal("peak height", at_least=2, at_most=9)
    pots = {"volume.resistance": ["200k", "250k", "330k", "500k", "1M"]}
    found = choose(GUITAR, pots, goal, **cables, anyway=True)
    for choice in found:
        heights = gn.peak(gn.response(GUITAR, **choice.values, **cables)).height.values
        beyond = np.maximum(2 - heights, heights - 9)
        assert choice.reached[0] == pytest.approx(heights[beyond.argmax()])
        assert choice.miss == pytest.approx(max(beyond.max(), 0))


def test_more_candidates_are_never_worse():
    goal = Goal("upper limit", near="1 kHz", within="1%", at={"tone": 0})
    misses = [
        choose(
            GUITAR,
            {"tone_capacitor": gn.values.preferred_values(s, "4.7n", "100n")},
            goal,
            anyway=True,
        ).best.miss
        for s in ("E3", "E6", "E12", "E24")  # each holds the values of the one before
    ]
    assert misses == sorted(misses, reverse=True)


@pytest.mark.parametrize(
    ("goal", "expected"),
    [
        (Goal("peak q", at_least=0), lambda h: gn.peak(h).q),
        (Goal("peak height", near=3), lambda h: gn.peak(h).height),
        (
            Goal("level", at_most=5, options={"frequency": "5 kHz"}),
            lambda h: gn.level_db(h, re="reference").sel(frequency=5000),
        ),
        (
            Goal("level", at_most=5, options={"frequency": 5000, "re": None}),
            lambda h: gn.level_db(h).sel(frequency=5000),
        ),
        (
            Goal("upper limit", at_most="9k", options={"drop": 6}),
            lambda h: gn.bandwidth(h, drop=6),
        ),
    ],
    ids=lambda value: str(value) if isinstance(value, Goal) else "",
)  # fmt: skip
def test_measures_by_name(goal, expected):
    """Each is the measure of that name."""
    lists = {"volume.resistance": [250e3, 500e3]}
    found = goal.values(GUITAR, lists, "amp")
    f = np.union1d(gn.sweeps.frequency_grid(), [5000.0])
    h = gn.response(GUITAR, frequency=f, **lists)
    np.testing.assert_allclose(found, expected(h), rtol=1e-6)


def test_measures_over_a_knob():
    """Treble change and taper take the marks from ``at``; the size of the change counts."""
    marks = {"volume": [10, 7, 5]}
    goal = Goal("treble change", at_most="4 dB", at=marks, options={"band": (200, 4000)})
    bleeds = {"treble_bleed": [None, "1n", "150k || 1n"]}
    found = choose(GUITAR, bleeds, goal)
    worst = gn.treble_change(gn.response(GUITAR, **marks, **bleeds), band=(200, 4000)).worst
    worst = worst.isel(volume=abs(worst).argmax("volume"))
    for choice in found:
        expected = float(worst.sel(treble_bleed=choice.values["treble_bleed"]))
        assert choice.reached[0] == pytest.approx(expected)
        assert choice.met == (abs(expected) <= 4)
    taper = Goal("taper", near=-12, within=6, at={"volume": [10, 5]})
    both = choose(GUITAR, {"volume.taper": ["linear", "audio 15%"]}, taper, anyway=True)
    assert {choice.written["volume.taper"] for choice in both} == {"linear", "audio 15%"}


def test_goals_over_a_knob_can_be_met():
    """The mark that others are compared with is 0 dB by definition, and is not judged."""
    marks = {"volume": [10, 7, 5]}
    h = gn.response(GUITAR, **marks)
    levels = gn.effective_taper(h).sel(volume=[7, 5]).values
    taper = Goal("taper", near=float(levels.mean()), within=float(np.ptp(levels)), at=marks)
    found = choose(GUITAR, {"volume.resistance": ["250k"]}, taper)
    assert found.best.met
    assert found.best.miss == pytest.approx(0.5)
    assert abs(levels - found.best.reached[0]).min() < 1e-9
    change = gn.treble_change(h).worst.sel(volume=[7, 5]).values
    goal = Goal("treble change", near=float(change.mean()), within=float(np.ptp(change)), at=marks)
    assert choose(GUITAR, {"volume.resistance": ["250k"]}, goal).best.miss == pytest.approx(0.5)
    assert "over volume 7, 5." in str(found)
    # So with another mark and another knob.
    goal = Goal("taper", at_least=0.01, at={"tone": [8, 5]}, options={"knob": "tone", "re": 8})
    found = choose(GUITAR, {"volume.resistance": ["250k"]}, goal)
    assert found.measured[0]["tone"].values.tolist() == [5]


def test_an_upper_limit_beyond_the_grid():
    """A coil of 10 mH cuts far above 20 kHz: that is no miss where more is welcome."""
    bare = gn.layouts.pickup_alone(gn.Pickup("1k", "10m", "20p", unusual=True))
    coils = {"pickup.inductance": ["10m", "20m"]}
    found = choose(bare, coils, Goal("upper limit", at_least="10 kHz"), at="jack")
    assert [choice.reached[0] for choice in found] == [np.inf, np.inf]
    assert len(found.met) == 2
    assert "over 20 kHz" in str(found)
    for goal in (Goal("upper limit", at_most="10 kHz"), Goal("upper limit", near="10 kHz")):
        assert choose(bare, coils, goal, at="jack", anyway=True).best.miss == np.inf
    # At volume 0 there is no level to fall from.
    quiet = choose(GUITAR, {"volume": [10, 0]}, Goal("upper limit", at_least="1 kHz"))
    assert [choice.met for choice in quiet] == [True, False]


def of_length(function):
    """A measure that depends on the cable's length alone, by a formula."""
    return lambda h: function(h["cable.length"].astype(float))


def test_what_is_met_comes_first():
    """0.9 and 0.9 are within both goals, 0 and 1.1 are not, though their miss is less."""
    goals = [
        Goal(of_length(lambda metres: 1.8 - 0.9 * metres), near=0, within=1),
        Goal(of_length(lambda metres: 0.7 + 0.2 * metres), near=0, within=1),
    ]
    found = choose(GUITAR, {"cable.length": [2, 1]}, goals)
    assert [choice.values["cable.length"] for choice in found] == [1, 2]
    assert [choice.met for choice in found] == [True, False]
    assert [choice.miss for choice in found] == pytest.approx([np.hypot(0.9, 0.9), 1.1])


def test_every_crossing_is_told():
    """A square of the logarithm takes one value twice; each is found, to its digits."""
    goal = Goal(of_length(lambda metres: np.log(metres / 2) ** 2), near=0.5, within=0.1)
    found = choose(GUITAR, {"cable.length": Range(0.5, 9)}, goal)
    lengths = sorted(choice.values["cable.length"] for choice in found)
    expected = 2 * np.exp([-np.sqrt(0.5), np.sqrt(0.5)])
    assert lengths == pytest.approx(expected, rel=1e-4)
    # And so of a peak: a loaded coil has the same one with much cable and with little.
    found = choose(
        GUITAR, {"cable.length": Range("0.2 m", "15 m")}, Goal("peak frequency", near=5e3)
    )
    for choice in found:
        h = gn.response(GUITAR, **choice.values)
        assert float(gn.peak(h).frequency) == pytest.approx(5e3, rel=1e-4)
    assert len(found) == 2


def test_a_search_keeps_what_was_exact():
    """A value of the grid that hits the goal is not lost to a search that only comes near it."""
    exact = float(np.geomspace(1, 16, 13)[5])
    goal = Goal(of_length(lambda metres: metres), near=exact, within=1e-3)
    found = choose(GUITAR, {"cable.length": Range(1, 16)}, goal)
    assert found.best.values["cable.length"] == exact
    assert found.best.miss == 0


def test_conditions_are_named():
    goal = Goal("peak frequency", at_most="20 kHz")
    conditions = {"cable.length": ["1 m", "3 m"], "tone": 9, "volume.taper": "linear"}
    found = choose(GUITAR, {"volume.resistance": ["250k"]}, goal, **conditions)
    assert found.remarks == (
        "At tone = 9, volume.taper = linear",
        "The numbers are the worst over cable length 1 m, 3 m",
    )
    assert all(remark in str(found) for remark in found.remarks)


def test_a_measure_of_ones_own():
    """A function from a response to one number a setting."""

    def octave_above_the_peak(h):
        return gn.peak(h).frequency * 2

    goal = Goal(octave_above_the_peak, near=8000, within=100)
    found = choose(GUITAR, {"cable.length": Range(1, 10)}, goal)
    assert found.goals[0].name == "octave above the peak"
    plain = choose(GUITAR, {"cable.length": Range(1, 10)}, Goal("peak frequency", near=4000))
    assert found.best.values["cable.length"] == pytest.approx(
        plain.best.values["cable.length"], rel=1e-4
    )


def test_no_peak_is_a_miss():
    """Where a measure has no value it reaches nothing."""
    goal = Goal("peak frequency", near="4 kHz", within="3 kHz")
    found = choose(GUITAR, {"tone": [10, 3]}, goal)
    dull = next(choice for choice in found if choice.values["tone"] == 3)
    assert np.isnan(dull.reached[0])
    assert dull.miss == np.inf
    assert not dull.met
    assert "none" in str(found)


def test_the_table():
    goals = [Goal("peak frequency", near="4 kHz"), Goal("peak height", at_least="1 dB")]
    found = choose(GUITAR, {"cable.length": ["2 m", "4 m"]}, goals)
    assert str(found) == (
        "Choices for one pickup\n"
        "   cable.length  peak frequency  peak height  miss  reached\n"
        "1  4 m           4.05 kHz        3.8 dB       0.24  yes\n"
        "2  2 m           4.78 kHz        2.4 dB       3.89\n"
        "Goal: peak frequency near 4 kHz within 5 %; peak height at least 1 dB. Miss: in units "
        "of the allowed deviation, root of the sum of squares. These are numbers, not taste."
    )
    assert found._repr_html_() == found.table()._repr_html_()
    assert len(found.table(1)) == 1


@pytest.mark.parametrize(
    ("goal", "words"),
    [
        (Goal("peak q", at_least=2), "peak q at least 2"),
        (Goal("peak height", near=3, within="0.5 dB"), "peak height near 3 dB within 0.5 dB"),
        (
            Goal("level", at_least=-3, at_most=3, options={"frequency": "5k"}, at={"tone": 5}),
            "level, frequency 5 kHz, at tone 5: at least -3 dB, at most 3 dB",
        ),
    ],
)
def test_goals_in_words(goal, words):
    assert str(goal) == words


CABLES = {"cable.length": ["1 m", "2 m"]}
NEAR = Goal("peak frequency", near="2 kHz")


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: Goal("peek frequency", near=1),
            "goal: there is no 'peek frequency'; did you mean 'peak frequency'?",
        ),
        (
            lambda: Goal("loudness", near=1),
            "goal: there is no 'loudness'; use one of level, peak frequency, peak height, peak q, "
            "taper, treble change, upper limit.",
        ),
        (
            lambda: Goal("peak q"),
            "goal 'peak q': names nothing to reach, or too much; give near=..., or else "
            "at_least=..., at_most=... or both.",
        ),
        (
            lambda: Goal("peak q", near=1, at_most=3),
            "goal 'peak q': names nothing to reach, or too much; give near=..., or else "
            "at_least=..., at_most=... or both.",
        ),
        (
            lambda: Goal("peak q", at_least=3, at_most=1),
            "goal 'peak q': is to be at least 3 and at most 1; give at_least below at_most.",
        ),
        (
            lambda: Goal("peak q", near=1, options={"drop": 3}),
            "goal 'peak q': takes no 'drop'; leave it out.",
        ),
        (
            lambda: Goal("level", near=1),
            "goal 'level': has no frequency; give options={'frequency': '5 kHz'}.",
        ),
        (
            lambda: Goal("peak height", near=0, within="10%"),
            "goal 'peak height', within: leaves no room; give a number above 0.",
        ),
        (
            lambda: choose(GUITAR, {}, NEAR),
            "candidates: name nothing to choose; give {'tone_capacitor': [...]}.",
        ),
        (
            lambda: choose(GUITAR, {"tone_capacitor": []}, NEAR),
            "tone_capacitor: is an empty list; give at least one candidate.",
        ),
        (
            lambda: choose(GUITAR, {"tone_capacitor": "22n"}, NEAR),
            "tone_capacitor: a str is no list; give a list or gn.choosing.Range(...).",
        ),
        (
            lambda: choose(GUITAR, {"cable.length": Range("6 m", "1 m")}, NEAR),
            "cable.length: '6 m' to '1 m' is no range; give 0 < low < high.",
        ),
        (
            lambda: choose(GUITAR, CABLES, NEAR, **CABLES),
            "cable.length: is a candidate and a setting; keep one of the two.",
        ),
        (
            lambda: choose(GUITAR, {"volume": range(11), "tone": np.linspace(0, 10, 9998)}, NEAR),
            "candidates: make 109978 combinations, over 20000; give fewer values of each.",
        ),
        (
            lambda: choose(GUITAR, CABLES, []),
            "goal: is an empty list; give at least one gn.choosing.Goal(...).",
        ),
        (
            lambda: choose(GUITAR, CABLES, "peak frequency"),
            "goal: 'peak frequency' is no goal; give gn.choosing.Goal('peak frequency', near=...).",
        ),
        (
            lambda: choose(GUITAR, CABLES, Goal(gn.level_db, near=3)),
            "goal 'level db': a DataArray came of the response, not one number a setting; reduce "
            "over 'frequency' and return an xarray.DataArray.",
        ),
        (
            lambda: choose(PICKUP, CABLES, NEAR),
            "guitar: a Pickup is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: choose(GUITAR, CABLES, NEAR),
            "goal: no candidate reaches peak frequency near 2 kHz within 5 %; the best reached is "
            "peak frequency 4.78 kHz, with cable.length 2 m; give other candidates or allow more, "
            "or take the ranking with anyway=True.",
        ),
        (
            lambda: choose(GUITAR, {"tone_capacitor": Range("11n", "11.5n", "E12")},
                           Goal("upper limit", near="1.4k", at={"tone": 0})),
            "tone_capacitor: no E12 value lies in its range; widen it.",
        ),
        (
            lambda: Goal("peak q", near=1, at=[1]),
            "goal 'peak q', at: a list is no mapping; give a dictionary, such as {'tone': "
            "0}.",
        ),
        (
            lambda: Goal("peak q", near=1, options=[1]),
            "goal 'peak q', options: a list is no mapping; give a dictionary, such as "
            "{'frequency': '5 kHz'}.",
        ),
        (
            lambda: Goal("treble change", at_most=3, options={"band": (5,)}),
            "goal 'treble change', band: is a list of 1, not of two; give (low, high) in "
            "hertz.",
        ),
        (
            lambda: choose(GUITAR, [1], NEAR),
            "candidates: a list is no mapping; give {'tone_capacitor': [...]}.",
        ),
        (
            lambda: choose(GUITAR, {"cable.length": np.array(3.0)}, NEAR),
            "cable.length: an ndarray is no list; give a list or gn.choosing.Range(...).",
        ),
        (
            lambda: choose(GUITAR, {"volume.taper": Range("a", "b")}, NEAR),
            "volume.taper: is a choice and no number; name a number, as volume.resistance.",
        ),
        (
            lambda: choose(GUITAR, CABLES, Goal(lambda h: h.isel(frequency=0), near=1)),
            "goal '<lambda>': numbers of kind complex128 came of the response, where real "
            "ones are wanted; return abs(...) of it, or a level in decibels.",
        ),
        (
            lambda: choose(GUITAR, CABLES, Goal(lambda h: xr.DataArray(1.0), near=1)),
            "goal '<lambda>': lost the dimension 'cable.length' of the response; reduce "
            "over 'frequency' only.",
        ),
        (
            lambda: choose(GUITAR, CABLES, Goal("taper", at_most=3, at={"volume": [10]})),
            "goal 'taper': holds no mark of volume beside 10; add some, such as "
            "at={'volume': [10, 7, 5]}.",
        ),
        (
            lambda: choose(GUITAR, {"volume": [10, 5]}, Goal("taper", at_most=3)),
            "volume: is a candidate and the knob that a goal turns; give its marks in the "
            "goal, as at={'volume': [10, 7, 5]}.",
        ),
        (
            lambda: choose(GUITAR, CABLES, Goal("peak frequency", near="5 kHz")).table(-1),
            "rows: -1 is no whole number from 0; give one, as 8.",
        ),
    ],
)  # fmt: skip
def test_bad_input(call, message):
    with pytest.raises(gn.GuitarnetError) as caught:
        call()
    assert str(caught.value) == message


def test_nothing_is_lost_where_nothing_reaches():
    """The error holds the ranking that ``anyway`` returns."""
    with pytest.raises(gn.errors.BadSetting) as caught:
        choose(GUITAR, CABLES, NEAR)
    kept, anyway = caught.value.value, choose(GUITAR, CABLES, NEAR, anyway=True)
    assert str(kept) == str(anyway)
    assert anyway.met == ()


def test_known_measures_are_documented():
    for name in MEASURES:
        assert f'"{name}"' in Goal.__doc__
    assert read_goals(NEAR) == (NEAR,)
