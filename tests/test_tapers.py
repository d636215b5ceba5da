"""Tapers: exact definitions, words and letters, measured points."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy.optimize import minimize

from guitarnet import (
    Taper,
    audio_taper,
    linear_taper,
    measured_taper,
    no_load,
    reverse_audio_taper,
    taper,
)
from guitarnet.errors import BadFile, BadSetting, BadValue
from guitarnet.files import read_csv_columns

MEASURED = Path(__file__).parent / "reference" / "audio_taper_measured.csv"

# -- definitions ----------------------------------------------------------------------------------


def test_linear():
    assert [linear_taper()(x) for x in (0, 0.25, 0.5, 1)] == [0.0, 0.25, 0.5, 1.0]


@pytest.mark.parametrize("half", [0.1, 0.15, 0.2, 0.3, "13%"])
def test_audio_passes_through_half_exactly(half):
    """Mid-points of 10, 20 and 30 %, and 13 % measured on cheap parts: common practice."""
    law = audio_taper(half)
    share = 0.13 if half == "13%" else half
    assert [law(0), law(0.5), law(1)] == [0.0, share, 1.0]
    assert law(0.25) == pytest.approx(share / 2, rel=1e-15)
    assert law(0.75) == pytest.approx((share + 1) / 2, rel=1e-15)


@pytest.mark.parametrize("knee", [0.5, 0.6, 0.75, 0.95])
def test_a_later_knee_keeps_the_half_way_value(knee):
    law = audio_taper(0.15, knee)
    assert law(0.5) == pytest.approx(0.15, rel=1e-15)
    assert law(knee) == pytest.approx(0.3 * knee, rel=1e-15)
    assert law((knee + 1) / 2) == pytest.approx((0.3 * knee + 1) / 2, rel=1e-15)


def test_exponential_passes_through_half():
    law = audio_taper(0.15, shape="exponential")
    assert [law(0), law(1)] == [0.0, 1.0]
    assert law(0.5) == pytest.approx(0.15, rel=1e-14)


def test_exponential_as_published(agreement):
    """(1.4^p - 1)/(1.4^10 - 1) for marks p, 15.68 % at 5.

    J. Kolstad, sci.electronics.design, 20 April 2005.
    """
    law = Taper("published", base=1.4**10)
    marks = np.arange(11)
    assert law(marks / 10) == pytest.approx((1.4**marks - 1) / (1.4**10 - 1), rel=1e-13)
    assert f"{law(0.5):.2%}" == "15.68%"
    agreement(
        "J. Kolstad, 2005",
        "exponential taper at each mark but 0",
        law(marks[1:] / 10),
        (1.4**marks - 1)[1:] / (1.4**10 - 1),
    )
    assert audio_taper(law(0.5), shape="exponential").base == pytest.approx(1.4**10, rel=1e-12)


def test_an_exponential_of_base_one_is_linear():
    assert Taper("limit", base=1.0)(0.3) == 0.3
    assert audio_taper(0.5, shape="exponential")(0.3) == pytest.approx(0.3, rel=1e-15)


@pytest.mark.parametrize("shape", ["segments", "exponential"])
def test_reverse_audio_is_audio_from_the_other_end(shape):
    x = np.linspace(0, 1, 41)
    forward = audio_taper(0.15, shape=shape)
    assert reverse_audio_taper(0.15, shape=shape)(x) == pytest.approx(1 - forward(1 - x), abs=1e-14)


@pytest.mark.parametrize(
    ("zone", "expected"),
    [
        (0.1, [0, 0, 0.5, 1, 1]),
        ((0.1, 0), [0, 0, 4 / 9, 8 / 9, 1]),
        ("10%", [0, 0, 0.5, 1, 1]),
        (("0%", 0.1), [0, 1 / 9, 5 / 9, 1, 1]),
    ],
)
def test_dead_zone(zone, expected):
    """Within a dead zone the knob turns and the wiper's share of the track does not change."""
    law = linear_taper(dead_zone=zone)
    assert law(np.array([0, 0.1, 0.5, 0.9, 1])) == pytest.approx(expected, abs=1e-15)


def test_no_load_opens_at_full_and_only_there():
    law = no_load(audio_taper(0.15))
    assert law.opens_at_full
    assert str(law) == "audio 15%, no-load"
    assert law(0.5) == 0.15
    assert no_load(law) == law
    assert not audio_taper(0.15).opens_at_full


def test_shape_in_shape_out():
    law = audio_taper(0.15)
    assert isinstance(law(0.5), float)
    assert law(np.zeros((2, 3))).shape == (2, 3)


LAWS = st.one_of(
    st.builds(audio_taper, st.floats(0.01, 0.99)),
    st.builds(audio_taper, st.floats(0.01, 0.5), st.floats(0.5, 0.95)),
    st.builds(lambda half: audio_taper(half, shape="exponential"), st.floats(0.01, 0.99)),
    st.builds(reverse_audio_taper, st.floats(0.01, 0.99)),
    st.builds(lambda zone: linear_taper(dead_zone=zone), st.floats(1e-30, 0.49)),
)


@given(LAWS)
@settings(max_examples=60, derandomize=True, deadline=None)
def test_every_law_rises_from_0_to_1(law):
    y = law(np.linspace(0, 1, 101))
    assert (y[0], y[-1]) == (0.0, 1.0)
    assert (np.diff(y) >= 0).all()


# -- words and letters ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "law",
    [
        linear_taper(),
        audio_taper(0.15),
        audio_taper("12.5%"),
        audio_taper(0.15, shape="exponential"),
        reverse_audio_taper(0.1),
        reverse_audio_taper(0.1, shape="exponential"),
        no_load(linear_taper()),
        no_load(reverse_audio_taper(0.1, shape="exponential")),
    ],
    ids=str,
)
def test_a_taper_reads_back_from_its_own_words(law):
    assert taper(str(law)) == law
    assert taper(law) is law


def test_words_need_not_be_tidy():
    assert taper(" Audio  15 %, no-load") == no_load(audio_taper(0.15))


@pytest.mark.parametrize(
    ("letter", "convention", "words"),
    [
        ("A", "today", "audio 15%"),
        ("b", "today", "linear"),
        ("C", "today", "reverse audio 15%"),
        ("A", "old", "linear"),
        ("C", "old", "audio 15%"),
    ],
)
def test_letters_with_their_convention(letter, convention, words):
    """Both conventions are common practice, no source."""
    assert str(taper(letter, convention=convention)) == words


def test_letter_takes_its_mid_point():
    assert taper("A", convention="today", half="10%") == audio_taper(0.1)


@pytest.mark.parametrize(
    ("words", "options", "message"),
    [
        (
            "A",
            {},
            "taper: the letter 'A' means different tapers in different standards; say it in "
            "words ('linear', 'audio 15%'), or add convention='today' or 'old'.",
        ),
        (
            "B",
            {"convention": "old"},
            "taper: the letter 'B' has no meaning in the convention 'old'; use one of A, C.",
        ),
        (
            "log",
            {},
            "taper: 'log' does not say how much of the track is left at half travel; write "
            "'audio 15%' if you do not know; 10, 15 and 30 % are seen.",
        ),
        *(
            (
                words,
                {},
                f"taper: '{words}' does not say how much of the track is left at half travel; "
                "write 'audio 15%' if you do not know; 10, 15 and 30 % are seen.",
            )
            for words in ("audio", "Log taper", "logarithmic", "AUDIO taper")
        ),
        *(
            (
                words,
                {},
                f"taper: '{words[:40]}' is not a taper in words; write 'linear', 'audio 15%' or "
                "'reverse audio 10%', with ', no-load' where it is.",
            )
            for words in ("inear", "audio 15", "audio 1.%", "reverse linear", "x" * 50, "AB")
        ),
        (
            "audio 0%",
            {},
            "audio_taper.half: '0%' at half travel is no taper; give a share between 0 and 1, "
            "as 0.15.",
        ),
    ],
)
def test_refused_words(words, options, message):
    with pytest.raises(BadValue) as refusal:
        taper(words, **options)
    assert str(refusal.value) == message


# -- refusals -------------------------------------------------------------------------------------

REFUSED = [
    (
        lambda: audio_taper(15),
        "audio_taper.half: 15 at half travel is no taper; give a share between 0 and 1, as 0.15.",
    ),
    (
        lambda: audio_taper(0.15, 0.3),
        "audio_taper.knee: 0.3 does not fit 0.15 at half travel; give a rotation from 0.5 to "
        "below 1 that the first segment reaches below 1.",
    ),
    (
        lambda: audio_taper(0.6, 0.9),
        "audio_taper.knee: 0.9 does not fit 0.6 at half travel; give a rotation from 0.5 to "
        "below 1 that the first segment reaches below 1.",
    ),
    (
        lambda: audio_taper(0.15, 0.7, shape="exponential"),
        "audio_taper.knee: an exponential has none; leave knee out.",
    ),
    (
        lambda: audio_taper(0.15, shape="curved"),
        "audio_taper.shape: 'curved' is unknown; use 'segments' or 'exponential'.",
    ),
    (
        lambda: linear_taper(dead_zone=0.5),
        "taper.dead_zone: (0.5, 0.5) leaves no travel; give two shares from 0 whose sum is "
        "under 1.",
    ),
    (
        lambda: linear_taper(dead_zone=(0.1, 0.1, 0.1)),
        "taper.dead_zone: (0.1, 0.1, 0.1) is not one or two shares; give 0.05 or (0.05, 0.1).",
    ),
    (
        lambda: Taper("none"),
        "taper: needs either points or a base; give one of the two.",
    ),
    (
        lambda: Taper("falling", base=-1.0),
        "taper.base: -1.0 is not positive; give a base above zero.",
    ),
    (
        lambda: Taper("back", points=((0, 0), (0.5, 0.6), (0.6, 0.5), (1, 1))),
        "taper.points: turn back at (0.6, 0.5); let rotation rise and track fraction never fall "
        "from point to point.",
    ),
    (
        lambda: Taper("short", points=((0, 0), (1, 0.9))),
        "taper.points: run from (0, 0) to (1, 0.9); let them run from (0, 0) to (1, 1).",
    ),
    (
        lambda: Taper("hole", points=((0, 0), (0.5, float("nan")), (1, 1))),
        "taper.points: hold a value that is not finite; leave that point out.",
    ),
    (
        lambda: Taper("ragged", points=((0, 0), (1,))),
        "taper.points: are not pairs; give (rotation, track fraction) pairs.",
    ),
    (
        lambda: measured_taper([0, 1, 2], [0, 5]),
        "taper 'measured': has 3 rotations and 2 resistances; give two equally long lists of at "
        "least two points.",
    ),
    (
        lambda: measured_taper([0], [0]),
        "taper 'measured': has 1 rotation and 1 resistance; give two equally long lists of at "
        "least two points.",
    ),
    (
        lambda: measured_taper([0, 1]),
        "taper 'measured': has no resistances; give measured_taper(rotation, resistance).",
    ),
    (
        lambda: measured_taper([0, 1, 2], [5, 8, 5]),
        "taper 'measured': begins and ends at one resistance; give the travel from end to end.",
    ),
    (
        lambda: measured_taper([0, 1], [0, 0]),
        "taper 'measured': has a point that is negative or not finite; leave that point out.",
    ),
    (
        lambda: measured_taper([0, 1], [-1, 1]),
        "taper 'measured': has a point that is negative or not finite; leave that point out.",
    ),
    (
        lambda: measured_taper([0, 1, 1], [0, 1, 2]),
        "taper 'measured': repeats a rotation; give each rotation once.",
    ),
    (
        lambda: measured_taper([0, 1, 2], [0, float("nan"), 2]),
        "taper 'measured': has a point that is negative or not finite; leave that point out.",
    ),
    (
        lambda: measured_taper([0, 1, 2], [5, 5, 5]),
        "taper 'measured': begins and ends at one resistance; give the travel from end to end.",
    ),
    (
        lambda: measured_taper([0, 1, 2, 3], [0, 2, 1, 3], name="volume"),
        "taper 'volume': turns back by 33.3% of the track; measure again, or state "
        "noise='34%' if that is the meter's.",
    ),
    (
        lambda: measured_taper([0, 1, 2], ["1k", "2k", "3k"]),
        "taper 'measured': runs from 33.3% to 100.0% of the track, not from 0 to 100 %; give the "
        "ends of the travel as travel=(low, high), or ask for stretch=True.",
    ),
    (
        lambda: measured_taper([0, 1, 2], [0, 1, 3], travel=(1, 1)),
        "taper 'measured': travel (1, 1) has not two ends; give travel=(low, high).",
    ),
    (
        lambda: measured_taper([0, 1, 2], [0, 1, 3], travel=(0.2, 0.8)),
        "taper 'measured': still changes outside the travel 0.2 to 0.8; widen the travel to the "
        "points where the track begins and ends.",
    ),
    (
        lambda: measured_taper([0, 1], [0, 1], travel=(0.2, 0.8)),
        "taper 'measured': has no point in the travel; check travel=(low, high).",
    ),
    (
        lambda: linear_taper()("half"),
        "rotation: does not hold real numbers only; give fractions of the travel, 0 to 1.",
    ),
    (
        lambda: measured_taper(3, [1, 2]),
        "measured.rotation: an int is no list; give a list, as [0, 0.5, 1].",
    ),
    (
        lambda: measured_taper([0, 1], 3),
        "measured.resistance: an int is no list; give a list, as ['0', '20k'].",
    ),
    (
        lambda: measured_taper([0, 1], [0, 1], travel=3),
        "measured.travel: an int is no list; give travel=(low, high).",
    ),
    (
        lambda: measured_taper(["low", 1], [0, 1]),
        "measured.rotation: 'low' is not a number; give a plain number.",
    ),
]


@pytest.mark.parametrize(
    ("make", "message"), REFUSED, ids=[m.partition(":")[0] for _, m in REFUSED]
)
def test_refused(make, message):
    with pytest.raises((BadValue, BadSetting)) as refusal:
        make()
    assert str(refusal.value) == message


# -- measured points ------------------------------------------------------------------------------


def test_measured_either_way_round():
    """Rotation may fall, and the resistance may be measured to either outer lug."""
    law = measured_taper([0, 150, 300], ["0 ohm", "37k", "250k"])
    assert law(0.5) == 0.148
    assert measured_taper([300, 150, 0], ["250k", "37k", "0 ohm"]) == law
    to_the_other_lug = measured_taper([0, 150, 300], ["250k", "213k", "0 ohm"])
    assert to_the_other_lug(0.5) == pytest.approx(0.148, rel=1e-15)


def test_small_reversals_are_flattened_and_larger_ones_refused():
    rotation, ohms = [0, 1, 2, 3, 4], [0, 50, 49.5, 70, 100]
    law = measured_taper(rotation, ohms)
    assert [y for _, y in law.points] == [0.0, 0.5, 0.5, 0.7, 1.0]
    with pytest.raises(BadValue, match=r"turns back by 2.0% of the track"):
        measured_taper(rotation, [0, 50, 48, 70, 100])
    assert measured_taper(rotation, [0, 50, 48, 70, 100], noise="2%")(0.5) == 0.5


def test_ends_within_the_noise_become_0_and_1():
    law = measured_taper([0, 1, 2], [0.5, 40, 100])
    assert [law(0), law(0.5), law(1)] == [0.0, 0.4, 1.0]


def test_stretching_only_when_asked():
    assert measured_taper([0, 1, 2], [10, 40, 110], stretch=True)(0.5) == pytest.approx(0.3)


def test_a_point_at_an_end_of_the_travel_is_that_end():
    """It is joined by no line, and what it says of the track counts."""
    law = measured_taper([10, 20, 30], [0, 40, 100], travel=(10, 30))
    assert law.points == ((0, 0), (0.5, 0.4), (1, 1))
    assert measured_taper([0, 1, 2, 3], [0, 0, 5, 5], travel=(1, 2)).points == ((0, 0), (1, 1))
    with pytest.raises(BadValue, match=r"runs from 0\.0% to 90\.0% of the track"):
        measured_taper([0, 1, 2, 3], [0, 30, 90, 100], travel=(0, 2))
    with pytest.raises(BadValue, match=r"runs from 30\.0% to 100\.0% of the track"):
        measured_taper([0, 1, 2, 3], [0.5, 30, 90, 100], travel=(1, 3))


def test_an_end_of_the_travel_without_a_point_is_joined_by_a_straight_line():
    law = measured_taper([0, 1, 2, 3], [1, 20, 90, 100], travel=(2.5, 0.5))
    assert law.points == ((0, 0), (0.25, 0.2), (0.75, 0.9), (1, 1))
    for outside in ([1.1, 20, 90, 100], [0, 20, 90, 98.9, 100]):
        with pytest.raises(BadValue, match=r"still changes outside the travel 0\.5 to 2\.5"):
            measured_taper(range(len(outside)), outside, travel=(0.5, 2.5))


@pytest.mark.parametrize(
    ("ohms", "refusal"),
    [
        ([1, 50, 100], ""),
        ([1.05, 50, 100], "runs from 1.1% to 100.0% of the track"),
        ([100, 50, 1], ""),
        ([100, 50, 1.05], "runs from 0.0% to 99.0% of the track"),
        ([0, 50, 49, 100], ""),
        ([0, 50, 48.95, 100], "turns back by 1.0% of the track"),
    ],
)
def test_one_percent_of_the_track_is_noise_unless_it_is_said(ohms, refusal):
    """Exactly that much is taken, at either end or on the way; the least more is refused."""
    rotation = range(len(ohms))
    if not refusal:
        law = measured_taper(rotation, ohms)
        assert (law(0), law(1)) == (0, 1)
        return
    with pytest.raises(BadValue) as error:
        measured_taper(rotation, ohms)
    assert error.value.problem.startswith(refusal)
    assert measured_taper(rotation, ohms, noise="1.1%")(1) == 1


def test_which_way_round_is_told_by_the_ends_alone():
    assert measured_taper([0, 1, 2], [0, 0, 10]).points == ((0, 0), (0.5, 0), (1, 1))
    assert measured_taper([0, 1, 2, 3], [0.5, 0, 50, 100])(1 / 3) == pytest.approx(0.005)
    assert measured_taper([0, 1, 2, 3], [99.5, 100, 50, 0])(2 / 3) == pytest.approx(0.5)


def test_measured_from_a_file(tmp_path):
    file = tmp_path / "pot.csv"
    file.write_text("# my own pot\nrotation,resistance\n0,0\n150,37000\n300,250000\n")
    assert measured_taper(file) == measured_taper([0, 150, 300], [0, 37e3, 250e3])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "has no header line; begin it with rotation,resistance."),
        (
            "angle,resistance\n0,0\n",
            "has no column 'rotation' in its header 'angle,resistance'; name a column 'rotation'.",
        ),
        (
            "rotation;resistance\n0;0\n",
            "is separated by semicolons; save it with commas between columns and decimal points "
            "in numbers.",
        ),
    ],
)
def test_refused_files(tmp_path, text, message):
    file = tmp_path / "pot.csv"
    file.write_text(text)
    with pytest.raises(BadFile) as refusal:
        measured_taper(file)
    assert str(refusal.value) == f"{file}: {message}"


@pytest.mark.parametrize(
    ("line", "where", "message"),
    [
        ("0,1k", ", resistance", "'1k' is not a number; write it like 1234.5."),
        (
            "0,5,1",
            "",
            "has 3 cells under 2 names; write decimal points, not decimal commas, and one value "
            "a column.",
        ),
    ],
)
def test_refused_lines(tmp_path, line, where, message):
    file = tmp_path / "pot.csv"
    file.write_text(f"rotation,resistance\n{line}\n")
    with pytest.raises(BadFile) as refusal:
        measured_taper(file)
    assert str(refusal.value) == f"{file}, line 2{where}: {message}"


def test_missing_file(tmp_path):
    with pytest.raises(BadFile) as refusal:
        measured_taper(tmp_path / "none.csv")
    assert str(refusal.value) == (
        f"{tmp_path / 'none.csv'}: there is no such file; check the name and folder."
    )


# -- a published measurement ----------------------------------------------------------------------
# MIT OpenCourseWare, Guitar Building, "Potentiometer Resistance Chart".


@pytest.fixture
def chart():
    columns = read_csv_columns(MEASURED, ["rotation", "resistance"])
    return columns["rotation"], columns["resistance"]


def test_the_published_chart_is_whole(chart):
    """225 to 45 degrees in steps of 5, 97.6 to 5.2 kilohm; the file says where it comes from."""
    degrees, kilohm = chart
    assert degrees.tolist() == list(range(225, 40, -5))
    assert (kilohm.max(), kilohm.min(), kilohm.size) == (97.6, 5.2, 37)
    assert MEASURED.read_text().startswith("# SOURCE: MIT OpenCourseWare, Guitar Building")


@pytest.mark.parametrize(("travel", "half"), [((0, 225), "14.0%"), ((0, 205), "12.6%")])
def test_the_published_chart_goes_in_as_it_stands(chart, travel, half):
    law = measured_taper(MEASURED, travel=travel)
    assert f"{law(0.5):.1%}" == half
    assert measured_taper(*chart, travel=travel[::-1]) == law
    assert (law(0), law(1)) == (0.0, 1.0)


def test_the_published_chart_without_its_travel_is_refused(chart):
    with pytest.raises(BadValue, match=r"runs from 5.3% to 100.0% of the track"):
        measured_taper(*chart)


def miss(chart, law, travel):
    """Largest distance of a law from the chart, as a share of the track."""
    degrees, kilohm = chart
    return np.abs(law(np.minimum(degrees / travel, 1)) - kilohm / kilohm.max()).max()


def test_two_segments_fit_the_chart_only_with_a_free_knee(chart):
    """Within 4 % of the track, the knee at about (0.70, 0.19) of 200 degrees; printed there.

    The best knee is (0.70, 0.20). With the knee at half travel the law misses by 19 %.
    """

    def law(knee):
        x, y = knee
        return audio_taper(y / (2 * x), x)

    best = minimize(lambda knee: miss(chart, law(knee), 200), [0.7, 0.19], method="Nelder-Mead")
    assert best.fun < 0.04
    assert best.x == pytest.approx([0.70, 0.20], abs=0.005)
    assert miss(chart, law([0.70, 0.19]), 200) < 0.055
    half = measured_taper(*chart, travel=(0, 225))(0.5)
    assert miss(chart, audio_taper(half), 225) == pytest.approx(0.19, abs=0.005)
