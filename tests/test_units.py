"""Values as people write them, marking codes, preferred values."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from eseries import ESeries, series
from hypothesis import given, settings, strategies as st

from guitarnet import Capacitor
from guitarnet.errors import BadValue
from guitarnet.units import Quantity, fixed
from guitarnet.values import (
    format_value,
    marking,
    nearest_preferred,
    preferred_values,
    read_marking,
    read_value,
)

FOOT = 0.3048  # international foot, exact since 1959


@pytest.mark.parametrize(
    ("written", "unit", "expected"),
    [
        ("250k", "ohm", 250e3),
        ("250 K", "ohm", 250e3),
        ("250 k\u03a9", "ohm", 250e3),  # Greek capital omega
        ("250k\u2126", "ohm", 250e3),  # ohm sign
        ("250 kohm", "ohm", 250e3),
        ("250 k ohms", "ohm", 250e3),
        ("6200 ohm", "ohm", 6200.0),
        ("1M", "ohm", 1e6),
        ("1 Meg", "ohm", 1e6),
        ("500m", "ohm", 0.5),
        ("1e3 k", "ohm", 1e6),
        ("\u22125k", "ohm", -5e3),  # typographic minus; the field refuses it, not the reader
        ("0", "ohm", 0.0),
        ("22n", "F", 22e-9),
        ("22 nF", "F", 22e-9),
        ("22nf", "F", 22e-9),
        ("0.022uF", "F", 22e-9),
        ("0.022 \u00b5F", "F", 22e-9),  # micro sign
        ("0.022 \u03bcF", "F", 22e-9),  # Greek small mu
        (".022uF", "F", 22e-9),
        ("0.022mfd", "F", 22e-9),  # microfarad, as old schematics have it
        ("0.022 MFD", "F", 22e-9),
        ("500 pf", "F", 500e-12),
        ("2.4 H", "H", 2.4),
        ("100 mH", "H", 0.1),
        ("5m", "H", 0.005),
        ("5 kHz", "Hz", 5e3),
        ("20 khz", "Hz", 20e3),
        ("3 m", "m", 3.0),
        ("5m", "m", 5.0),  # metre here, milli in other fields
        ("30 cm", "m", 0.3),
        ("10 ft", "m", 10 * FOOT),
        ("10'", "m", 10 * FOOT),
        ('6"', "m", FOOT / 2),
        ("100 pF/m", "F/m", 100e-12),
        ("100p", "F/m", 100e-12),
        ("30 pF / ft", "F/m", 30e-12 / FOOT),
        ("0.1 ohm/m", "ohm/m", 0.1),
        ("1G ohm m", "ohm m", 1e9),
        ("20%", "fraction", 0.2),
        ("0.2", "fraction", 0.2),
        ("7.5", "mark", 7.5),
        ("100 mV", "V", 0.1),
        ("33k", "", 33e3),
    ],
)
def test_written_value(written, unit, expected):
    """Text is read to the very float that the same number in SI has."""
    assert read_value(written, unit) == expected


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        # Resistors of the standard's table.
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470.0),
        ("4K7", 4700.0),
        ("47K", 47e3),
        ("47K3", 47.3e3),
        ("4M7", 4.7e6),
        # The same with the small k and with the unit, as people write them.
        ("4k7", 4700.0),
        ("4k7\u03a9", 4700.0),
        ("2k2 ohm", 2200.0),
    ],
)
def test_resistor_letter_codes(agreement, written, expected):
    """IEC 60062: the letter stands where the decimal point would."""
    assert read_value(written, "ohm") == expected
    agreement("IEC 60062", "marking codes", [read_value(written, "ohm")], [expected])


@pytest.mark.parametrize(
    ("written", "expected"),
    [("p47", 0.47e-12), ("4p7", 4.7e-12), ("2n2", 2.2e-9), ("n47", 0.47e-9), ("4\u00b57", 4.7e-6)],
)
def test_capacitor_letter_codes(agreement, written, expected):
    """IEC 60062, for capacitors."""
    assert read_value(written, "F") == expected
    agreement("IEC 60062", "marking codes", [read_value(written, "F")], [expected])


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("223", 22e-9),
        ("104", 100e-9),
        ("472", 4.7e-9),
        ("100", 10e-12),
        ("681", 680e-12),
        ("475", 4.7e-6),
        ("479", 4.7e-12),
        ("478", 0.47e-12),
    ],
)
def test_capacitor_markings(agreement, code, expected):
    """IEC 60062: two digits and the number of zeros in picofarad; 9 is x0.1 and 8 is x0.01."""
    assert read_marking(code) == expected
    agreement("IEC 60062", "marking codes", [read_marking(code)], [expected])
    assert Capacitor(code, unusual=True).capacitance == expected


def test_marking_codes_are_read_where_a_capacitor_is_bought_only():
    assert read_value("223", "F", marking=True) == 22e-9
    for unit, words in (
        ("ohm", "'223k' if you mean that, or write it like '250k', '4k7' or '6200 ohm'."),
        ("F", "'223pF' if you mean that, or write it like '470p' or '0.022uF'."),
    ):
        with pytest.raises(BadValue) as refusal:
            read_value("223", unit, where="here")
        assert str(refusal.value) == f"here: '223' has no unit; write {words}"


@given(st.integers(10, 99), st.integers(0, 6))
@settings(derandomize=True, deadline=None)
def test_marking_round_trip(digits, power):
    code = f"{digits}{power}"
    assert marking(read_marking(code)) == code


@pytest.mark.parametrize("value", ["4.7p", "22.5n", "100u", 0.0])
def test_values_without_a_marking(value):
    with pytest.raises(BadValue) as refusal:
        marking(value)
    shown = format_value(read_value(value, "F"), "F")
    assert str(refusal.value) == (
        f"marking: {shown} has no three-digit marking; give two significant digits between "
        "10 pF and 99 uF."
    )


@pytest.mark.parametrize("code", ["22", "2233", "227", "023", "abc", "", "1n"])
def test_not_a_marking(code):
    with pytest.raises(BadValue) as refusal:
        read_marking(code)
    assert str(refusal.value) == (
        f"marking: {code!r} is not a capacitor marking; a marking is two digits and a power of "
        "ten in picofarad, such as '223' for 22 nF."
    )


def test_cable_per_foot():
    """30 pF/ft is 98.4 pF/m (Sound on Sound, November 2009, gives both as "100 pF/m")."""
    assert read_value("30 pF/ft", "F/m") == pytest.approx(98.4e-12, abs=0.05e-12)


REFUSED = [
    ("25Ok", "ohm", "'25Ok' is not a value in ohm; did you mean '250k' (digit zero)?"),
    (
        "0.022",
        "F",
        "'0.022' has no unit; write '0.022uF' if you mean that, or write it like '22n', "
        "'0.022uF' or the marking '223'.",
    ),
    (
        "22",
        "F",
        "'22' has no unit; write '22nF' if you mean that, or write it like '22n', '0.022uF' "
        "or the marking '223'.",
    ),
    (
        "680.",
        "F",
        "'680.' has no unit; write '680.pF' if you mean that, or write it like '22n', "
        "'0.022uF' or the marking '223'.",
    ),
    (
        "250",
        "ohm",
        "'250' has no unit; write '250k' if you mean that, or write it like '250k', '4k7' or "
        "'6200 ohm'.",
    ),
    (
        "6200",
        "ohm",
        "'6200' has no unit; write '6200 ohm' if you mean that, or write it like '250k', "
        "'4k7' or '6200 ohm'.",
    ),
    (
        "3",
        "m",
        "'3' has no unit; write '3 m' if you mean that, or write it like '3 m' or '10 ft'.",
    ),
    ("0,022uF", "F", "'0,022uF' has a comma; write the decimal point: '0.022uF'."),
    ("2,4 H", "H", "'2,4 H' has a comma; write the decimal point: '2.4 H'."),
    ("1,000k", "ohm", "'1,000k' has a comma; write '1.000k' or '1000k', whichever it is."),
    (
        "1.000,5",
        "ohm",
        "'1.000,5' has a comma; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    (
        "223Z",
        "F",
        "'223Z' is a marking with a tolerance letter; write '223' and give the tolerance by "
        "itself.",
    ),
    (
        "022",
        "F",
        "'022' is not a capacitor marking; a marking is two digits and a power of ten in "
        "picofarad, such as '223' for 22 nF.",
    ),
    ("22NF", "F", "'22NF' is not a value in F; did you mean '22nf'?"),
    (
        "22 MF",
        "F",
        "'22 MF' is not a value in F; write it like '22n', '0.022uF' or the marking '223'.",
    ),
    ("", "ohm", "'' is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'."),
    ("nan", "ohm", "'nan' is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'."),
    ("inf", "ohm", "'inf' is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'."),
    ("2k2k", "ohm", "'2k2k' is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'."),
    ("k47", "ohm", "'k47' is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'."),
    # Arabic-Indic digits are digits to Python's \d unless it is told otherwise.
    (
        "\u0661\u0662k",
        "ohm",
        "'\u0661\u0662k' is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    (
        "120p",
        "H",
        "'120p' is a capacitance, not an inductance; write it like '2.4 H' or '100 mH'.",
    ),
    ("10 ft", "F/m", "'10 ft' is not a value in F/m; write it like '100 pF/m' or '30 pF/ft'."),
    (
        "1e9999k",
        "ohm",
        "'1e9999k' is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    ("full", "mark", "'full' is not a knob mark; give a number from 0 to 10."),
    ("half", "fraction", "'half' is not a share; write it like '20%' or 0.2."),
    ("x", "number", "'x' is not a number; give a plain number."),
    (
        "__import__('os')",
        "ohm",
        "\"__import__('os')\" is not a value in ohm; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    (
        "1" * 41,
        "ohm",
        f"'{'1' * 40}'... is too long for a value; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    (True, "ohm", "True is not a number; write it like '250k', '4k7' or '6200 ohm'."),
    (None, "ohm", "a NoneType is not one value; write it like '250k', '4k7' or '6200 ohm'."),
    ([250e3], "ohm", "a list is not one value; write it like '250k', '4k7' or '6200 ohm'."),
    (1j, "ohm", "a complex is not one value; write it like '250k', '4k7' or '6200 ohm'."),
    (
        np.ones(2),
        "ohm",
        "an ndarray is not one value; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    (
        10**400,
        "ohm",
        "is not a number one can use; write it like '250k', '4k7' or '6200 ohm'.",
    ),
    (
        Decimal("sNaN"),
        "ohm",
        "is not a number one can use; write it like '250k', '4k7' or '6200 ohm'.",
    ),
]


@pytest.mark.parametrize(("written", "unit", "message"), REFUSED, ids=lambda v: str(v)[:12])
def test_refused_text(written, unit, message):
    with pytest.raises(BadValue) as refusal:
        read_value(written, unit, where="here", marking=unit == "F")
    assert str(refusal.value) == f"here: {message}"


def test_what_was_found_stays_on_the_error():
    """A program can act on a refusal without reading its text."""
    with pytest.raises(BadValue) as refusal:
        read_value("25Ok", "ohm", where="Pot.resistance")
    error = refusal.value
    assert isinstance(error, ValueError)
    assert (error.where, error.value) == ("Pot.resistance", "25Ok")
    assert (error.problem, error.fix) == (
        "'25Ok' is not a value in ohm",
        "did you mean '250k' (digit zero)?",
    )


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (5, 5.0),
        (2.5, 2.5),
        (np.float32(0.5), 0.5),
        (np.int64(7), 7.0),
        (np.array(3.0), 3.0),
        (Decimal("22e-9"), 22e-9),
        (Fraction(1, 4), 0.25),
    ],
)
def test_numbers_are_si(number, expected):
    assert read_value(number, "F") == expected


LIMITS = [
    ({"at_least": 0}, -1.0, "-1 H is negative; give a value from 0 H."),
    ({"above": 0}, -1.0, "-1 H is negative; give a value above 0 H."),
    ({"above": 0}, 0.0, "0 H is zero; give a value above 0 H."),
    ({"above": 1}, 0.5, "500 mH is too small; give a value above 1 H."),
    ({"at_least": 1, "at_most": 3}, 0.0, "0 H is too small; give a value from 1 H to 3 H."),
    ({"above": 0, "at_most": 3}, 4.0, "4 H is too large; give a value above 0 H up to 3 H."),
    ({"at_most": 3}, 4.0, "4 H is too large; give a value up to 3 H."),
    ({"at_least": 0}, math.nan, "nan H is not a number; give a finite value from 0 H."),
    ({}, math.inf, "inf H is infinite; give a finite value."),
    (
        {"above": 0, "hint": "coils have some"},
        "0 H",
        "'0 H' is zero; give a value above 0 H (coils have some).",
    ),
    ({}, None, "no value was given; write it like '2.4 H' or '100 mH'."),
]


@pytest.mark.parametrize(("limits", "value", "message"), LIMITS)
def test_limits(limits, value, message):
    with pytest.raises(BadValue) as refusal:
        Quantity("H", **limits).read(value, "coil")
    assert str(refusal.value) == f"coil: {message}"


def test_limits_of_an_array_name_the_first_bad_value():
    with pytest.raises(BadValue) as refusal:
        Quantity("H", above=0).check(np.array([1.0, -2.0, -3.0]), "coil")
    assert refusal.value.value == -2.0
    assert Quantity("H", optional=True).read(None, "coil") is None


# -- preferred values -----------------------------------------------------------------------------

SERIES = ["E3", "E6", "E12", "E24", "E48", "E96", "E192"]


@pytest.mark.parametrize("name", SERIES)
def test_preferred_values_are_the_standards(agreement, name):
    """IEC 60063, as listed in the eseries package, in every decade from 1e-12 to 1e6."""
    listed = [Decimal(str(value)) for value in series(ESeries[name])]
    assert len(listed) == int(name[1:])
    decade = [value.scaleb(-value.adjusted()) for value in listed]
    expected = [float(value.scaleb(power)) for power in range(-12, 6) for value in decade]
    assert preferred_values(name, 1e-12, 1e6).tolist() == [*expected, 1e6]
    found = preferred_values(name, 1e-12, 1e6)[:-1]
    agreement("IEC 60063, list in eseries", "preferred values E3 to E192", found, expected)


def test_preferred_limits_are_included():
    assert preferred_values("e6", "100p", "1n").tolist() == [
        100e-12, 150e-12, 220e-12, 330e-12, 470e-12, 680e-12, 1e-9
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ("E7", 1, 2),
            "series: 'E7' is not a series of preferred values; use E3, E6, E12, E24, E48, E96 "
            "or E192.",
        ),
        (("E12", 0, 1), "preferred values: 0 to 1 is no range; give 0 < low <= high."),
        (("E12", 2, 1), "preferred values: 2 to 1 is no range; give 0 < low <= high."),
        (("E12", 1, math.inf), "preferred values: 1 to inf is no range; give 0 < low <= high."),
    ],
)
def test_no_preferred_values(arguments, message):
    with pytest.raises(BadValue) as refusal:
        preferred_values(*arguments)
    assert str(refusal.value) == message


@pytest.mark.parametrize(
    ("value", "name", "expected"),
    [("140k", "E12", 150e3), ("9.9k", "E3", 10e3), (1.0, "E96", 1.0), ("145p", "E24", 150e-12)],
)
def test_nearest_preferred(value, name, expected):
    assert nearest_preferred(value, name) == expected


@given(st.floats(1e-13, 1e9))
@settings(max_examples=60, derandomize=True, deadline=None)
def test_nearest_preferred_is_nearest_by_ratio(value):
    found = nearest_preferred(value, "E24")
    others = preferred_values("E24", value / 10, value * 10)
    best = np.abs(np.log(others / value)).min()
    assert abs(math.log(found / value)) == pytest.approx(best, abs=1e-12)


def test_nearest_preferred_of_nothing():
    with pytest.raises(BadValue) as refusal:
        nearest_preferred(0)
    assert str(refusal.value) == "value: 0 is not positive; give a value above zero."


# -- writing --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (250e3, "ohm", "250 k\u03a9"),
        (22e-9, "F", "22 nF"),
        (4.7e-6, "F", "4.7 \u00b5F"),
        (2.4, "H", "2.4 H"),
        (0.1, "H", "100 mH"),
        (3.048, "m", "3.048 m"),
        (98.4e-12, "F/m", "98.4 pF/m"),
        (999.96, "ohm", "1 k\u03a9"),  # rounding carries into the next prefix
        (1e12, "ohm", "1000 G\u03a9"),
        (1e-15, "F", "0.001 pF"),
        (0.0, "F", "0 F"),
        (-22e-9, "F", "-22 nF"),
        (math.inf, "ohm", "OL (open)"),  # as a meter shows it
        (0.155, "fraction", "15.5 %"),
        (5.0, "mark", "5"),
    ],
)
def test_written_for_people(value, unit, expected):
    assert format_value(value, unit) == expected


@given(
    st.sampled_from(["ohm", "F", "H", "Hz", "V"]),
    st.integers(1, 9999),
    st.integers(-12, 5),
)
@settings(max_examples=300, derandomize=True, deadline=None)
def test_what_is_written_reads_back(unit, digits, power):
    """Up to four significant digits survive writing and reading to the last bit."""
    value = float(Decimal(digits).scaleb(power))
    written = format_value(value, unit)
    assert read_value(written, unit) == value


@pytest.mark.parametrize("off", [-1e-9, 0.0, 1e-9])
def test_a_half_goes_up_whatever_the_last_digits(off):
    """(250 + 6.2) / 4 = 64.05 kohm, the largest reading over a pot, and chances of 1/8."""
    assert format_value(64.05e3 * (1 + off), "ohm", digits=3) == "64.1 kΩ"
    assert format_value(0.125 * (1 + off), "fraction", digits=2) == "13 %"
    assert fixed(0.125 * (1 + off), 2) == "0.13"
    assert fixed(-2.5 * (1 + off), 0) == "-3"
    assert fixed(off, 1, sign=True) == "+0.0"
    assert fixed(-0.25 * (1 + off), 1, sign=True) == "-0.3"


def test_what_lies_under_a_half_stays_under():
    assert format_value(64.0499e3, "ohm", digits=3) == "64 kΩ"
    assert fixed(0.12499, 2) == "0.12"
    assert fixed(-0.04, 1) == "0.0"
    assert (fixed(math.inf, 1), fixed(-math.inf, 1), fixed(math.nan, 1)) == ("inf", "-inf", "nan")
