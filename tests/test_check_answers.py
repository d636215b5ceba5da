"""What a learner is told: right, near, wrong, a slip; never the solution when not right."""

from __future__ import annotations

import math

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from exercises.checking import Exercise, check

HINT = "count the winding's capacitance too"


def said(answer, expected, **told):
    return check(answer, expected, **told)


# -- right ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "unit"),
    [
        (3812, "Hz"),
        (3812.0, "Hz"),
        (np.float32(3812), "Hz"),
        (np.array(3812.0), "Hz"),
        (xr.DataArray(3812.0, coords={"volume": 10}), "Hz"),
        ("3.8 kHz", "Hz"),
        ("3.8k", "Hz"),
        ("3812 Hz", "Hz"),
    ],
)
def test_a_number_however_it_is_written(answer, unit):
    checked = said(answer, 3812, unit=unit, hint=HINT)
    assert checked.right
    assert checked
    assert checked.verdict == "right"
    assert "3.812 kHz" in str(checked)
    assert HINT not in str(checked)


@pytest.mark.parametrize(
    ("answer", "expected", "unit"),
    [
        ("250k", 250, "kΩ"),
        (250, 250, "kΩ"),
        ("0.25M", 250, "kΩ"),
        ("223", 22, "nF"),  # a marking
        ("0.022 uF", 22, "nF"),
        ("10 ft", 3.048, "m"),
        ("2400 mH", 2.4, "H"),
        ("15 %", 15, "%"),
        (15, 15, "%"),
        ("15", 15, "%"),
        ("-3 dB", -3, "dB"),
        ("\u22123 dB", -3, "dB"),  # a minus sign as printed
        ("4", 4, "readings"),
        ("4 readings", 4, "readings"),
        ("OL", math.inf, "kΩ"),
        (math.inf, math.inf, "kΩ"),
    ],
)
def test_units(answer, expected, unit):
    assert said(answer, expected, unit=unit, within="0.1 %").right


@pytest.mark.parametrize(("answer", "how"), [(4100, "2.5 % higher"), (3900, "2.5 % lower")])
def test_how_close(answer, how):
    assert str(said(answer, 4000, unit="Hz")) == f"Right: 4 kHz computed, yours is {how}."


def test_how_close_in_decibels():
    assert str(said(-3.3, -3, unit="dB", within="0.5 dB")) == (
        "Right: -3 dB computed, yours is 0.3 dB lower."
    )


def test_exactly_that_number():
    assert said(6, 6, within=0).right
    assert said(7, 6, within=0).verdict == "wrong"


# -- near -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "side", "more"), [(4400, "high", "shorter"), (3600, "low", "longer")]
)
def test_near_says_which_way(answer, side, more):
    checked = said(answer, 4000, unit="Hz", hint=HINT, low="longer", high="shorter")
    assert checked.verdict == "near"
    assert not checked
    assert str(checked) == f"Near: a little too {side}. Hint: {more}"


def test_near_without_words_of_its_own_gives_the_hint():
    assert str(said(4400, 4000, hint=HINT)) == f"Near: a little too high. Hint: {HINT}"


@pytest.mark.parametrize(("off", "verdict"), [(0.99, "right"), (2.99, "near"), (3.01, "wrong")])
@pytest.mark.parametrize(("within", "tolerance"), [("5 %", 2.0), ("1 dB", 1.0), (1.0, 1.0)])
def test_the_limits(off, verdict, within, tolerance):
    for sign in (1, -1):
        got = said(-40 + sign * off * tolerance, -40, unit="dB", within=within)
        assert got.verdict == verdict


# -- wrong, and slips -----------------------------------------------------------------------------


@pytest.mark.parametrize(("answer", "side"), [(9000, "high"), (1000, "low")])
def test_wrong_gives_the_hint(answer, side):
    checked = said(answer, 4567, unit="Hz", hint=HINT)
    assert str(checked) == f"Not yet: too {side}. Hint: {HINT}"


SLIPS = [
    (-4567, 4567, "Hz", "sign"),
    (4.567, 4567, "Hz", "1000 too small"),
    ("4.567 MHz", 4567, "Hz", "1000 too large"),
    (4567e6, 4567, "Hz", "million too large"),
    (22, 22e-9, "F", "1000 million too large"),
    (0.25, 250e3, "ohm", "million too small"),
    ("250 ohm", 250, "kΩ", "1000 too small"),
    (2 * math.pi * 4567, 4567, "Hz", "2π too large"),
    (4567 / 2 / math.pi, 4567, "Hz", "2π too small"),
    (-6, -12, "dB", "2 too small"),
    (24, 12, "dB", "2 too large"),
    (0.37, 37, "%", "100 too small"),
]


@pytest.mark.parametrize(("answer", "expected", "unit", "words"), SLIPS)
def test_slips(answer, expected, unit, words):
    checked = said(answer, expected, unit=unit, hint=HINT)
    assert checked.verdict == "wrong"
    assert words in str(checked)
    assert str(checked).endswith(f"Hint: {HINT}")


@pytest.mark.parametrize(
    ("answer", "expected", "unit"),
    [
        (2 * math.pi, 1, "dB"),  # 2π is no slip in decibels
        (1000, 1, "dB"),  # decibels have no prefix
        (8, 4, "Hz"),  # a factor of 2 is none in hertz
        (2000, 37, "Hz"),
    ],
)
def test_no_slip_where_there_is_none(answer, expected, unit):
    assert str(said(answer, expected, unit=unit)) == "Not yet: too high."


def test_a_wide_tolerance_makes_no_slip_of_anything():
    assert "sign" not in str(said(-1.0, 0.3, unit="dB", within="0.4 dB"))


@pytest.mark.parametrize("answer", [4200, 4900, 9000, 1000, -4567, 4.567e-3, None, ...])
def test_never_the_solution(answer):
    exercise = Exercise("Where?", 4567, unit="Hz", hint=HINT)
    checked = check(answer, exercise)
    for shown in (str(checked), checked._repr_html_(), repr(exercise), repr(vars(checked))):
        assert "4567" not in shown.replace(str(answer), "")
        assert "4.567" not in shown


# -- not yet answered, yes and no, a choice -------------------------------------------------------


@pytest.mark.parametrize("answer", [None, ...])
def test_nothing_yet(answer):
    checked = check(answer, Exercise("Where is the peak?", 4567, unit="Hz"))
    assert checked.verdict == "unanswered"
    assert not checked
    assert str(checked) == "Your turn: write your number in Hz first: Where is the peak?"
    assert str(check(answer, 3)) == "Your turn: write your number first."
    assert str(check(answer, True)) == "Your turn: write yes or no first."
    assert str(check(answer, "a", choices=("a", "b"))) == ("Your turn: write one of a, b first.")


@pytest.mark.parametrize("answer", ["no", "No", " n ", False, np.False_, "false"])
def test_yes_and_no(answer):
    assert str(said(answer, False, hint=HINT)) == "Right: no."
    assert str(said(answer, True, hint=HINT)) == f"Not yet: look again. Hint: {HINT}"


def test_a_choice():
    choices = ("Inductance", "resistance")
    assert said("inductance", "Inductance", choices=choices).right
    assert said("resistance", "Inductance", choices=choices).verdict == "wrong"
    with pytest.raises(
        gn.errors.BadValue, match="^answer: 'wood' is none of the choices; write one of"
    ):
        said("wood", "Inductance", choices=choices)


# -- exercises ------------------------------------------------------------------------------------


def test_an_exercise_brings_all_the_rest():
    exercise = Exercise("?", lambda: 4000, within="10 %", unit="Hz", high="shorter")
    assert check("4.4 kHz", exercise).right
    assert str(check("4.8 kHz", exercise)) == "Near: a little too high. Hint: shorter"
    assert check("4.4 kHz", exercise, within="1 %").verdict == "wrong"


def test_it_is_computed_when_it_is_asked():
    asked = []
    exercise = Exercise("?", lambda: asked.append(1) or 3.0)
    assert asked == []
    assert check(3, exercise).right
    assert asked == [1]


# -- how it shows itself --------------------------------------------------------------------------


@pytest.mark.parametrize("answer", [4000, 4400, 9000, None])
def test_in_a_notebook_the_words_say_what_the_colour_says(answer):
    checked = said(answer, 4000, hint="<b>&")
    shown = checked._repr_html_()
    head, _, words = str(checked).partition(": ")
    assert f"<strong>{head}:</strong>" in shown
    assert "<b>" not in shown
    if "Hint" in words:
        assert "&lt;b&gt;&amp;" in shown


# -- what cannot be read --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "sentence"),
    [
        ("abc", "answer: 'abc' is not a value in Hz; write it like '5 kHz' or '440 Hz'."),
        ("3,2 kHz", "answer: '3,2 kHz' has a comma; write the decimal point: '3.2 kHz'."),
        ("3 ohm", "answer: '3 ohm' is not a value in Hz; write it like '5 kHz' or '440 Hz'."),
        ([3], "answer: a list is not one value; give a plain number."),
        (np.ones(2), "answer: an ndarray is not one value; give a plain number."),
        (True, "answer: True is not a number; give a plain number."),
        (math.nan, "answer: nan is no answer; give a number, or None for none yet."),
        (3j, "answer: a complex is not one value; give a plain number."),
    ],
)
def test_what_is_no_answer(answer, sentence):
    with pytest.raises(gn.errors.BadValue) as told:
        said(answer, 3, unit="Hz")
    assert str(told.value) == sentence


@pytest.mark.parametrize("within", ["x", "-5 %", "-1 dB", math.inf, None, "3 ohm"])
def test_what_is_no_tolerance(within):
    with pytest.raises(gn.errors.BadSetting, match="^within: "):
        said(3, 3, unit="dB", within=within)


@pytest.mark.parametrize("expected", [None, [3], "a word"])
def test_what_is_no_expected_answer(expected):
    with pytest.raises((gn.errors.BadValue, gn.errors.BadSetting), match="^expected: "):
        said(3, expected)
