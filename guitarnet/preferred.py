"""Values that one can buy: preferred series (IEC 60063) and capacitor markings (IEC 60062)."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import numpy as np

from .errors import BadValue
from .gate import public
from .ranking import least
from .units import format_value, read_marking_exact, read_value

__all__ = ["marking", "nearest_preferred", "preferred_values", "read_marking"]


@public
def read_marking(code: str) -> float:
    """Read a three-digit capacitor marking.

    Parameters
    ----------
    code : str
        Two digits and the number of zeros that follow, in picofarad.

    Returns
    -------
    float
        Capacitance [F].

    Raises
    ------
    BadValue
        If it is not such a marking.

    References
    ----------
    IEC 60062, marking codes for resistors and capacitors.

    Examples
    --------
    >>> read_marking("223")
    2.2e-08
    """
    return float(read_marking_exact(code, "marking"))


@public
def marking(capacitance: float | str) -> str:
    """Say which marking to look for on a capacitor.

    Parameters
    ----------
    capacitance : float or str
        Capacitance [F]; two significant digits, 10 pF to 99 uF.

    Returns
    -------
    str
        Three digits, such as "223" for 22 nF.

    Raises
    ------
    BadValue
        If the value has more than two significant digits or is out of range.

    References
    ----------
    IEC 60062, marking codes for resistors and capacitors.

    Examples
    --------
    >>> marking("22n"), marking("0.1uF")
    ('223', '104')
    """
    value = read_value(capacitance, "F", where="marking", marking=True)
    if 0 < value < 1:
        picofarad = Decimal(repr(value)).scaleb(12).normalize()
        power = picofarad.adjusted() - 1
        digits = picofarad.scaleb(-power)
        if digits == digits.to_integral_value() and 0 <= power <= 6:
            return f"{int(digits)}{power}"
    raise BadValue(
        "marking",
        f"{format_value(value, 'F')} has no three-digit marking",
        "give two significant digits between 10 pF and 99 uF",
        value,
    )


# IEC 60063: E24 and its subsets are a table; E48 to E192 follow the formula, with one exception.
_E24 = (
    *(10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30),
    *(33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91),
)


def _decade(series: str) -> list[float]:
    name = str(series).strip().upper()
    count = int(name[1:]) if re.fullmatch(r"E\d{1,3}", name, re.ASCII) else 0
    if count in (3, 6, 12, 24):
        return [digits / 10 for digits in _E24[:: 24 // count]]
    if count in (48, 96, 192):
        exact = (round(10 ** (i / 192), 2) for i in range(0, 192, 192 // count))
        # 9.19 by formula; the standard lists 9.20 (in E192).
        return [9.20 if value == 9.19 else value for value in exact]
    raise BadValue(
        "series",
        f"{series!r} is not a series of preferred values",
        "use E3, E6, E12, E24, E48, E96 or E192",
        series,
    )


@public
def preferred_values(series: str, low: float | str, high: float | str) -> np.ndarray:
    """Preferred values from ``low`` to ``high``, both included.

    Parameters
    ----------
    series : str
        "E3", "E6", "E12", "E24", "E48", "E96" or "E192".
    low, high : float or str
        Limits in SI or as text, such as "100p" and "10n".

    Returns
    -------
    numpy.ndarray
        Ascending values in SI, one dimension.

    Raises
    ------
    BadValue
        If the series is unknown or the limits are not positive and in order.

    References
    ----------
    IEC 60063, preferred number series for resistors and capacitors.

    Examples
    --------
    >>> preferred_values("E6", "100", "1k").tolist()
    [100.0, 150.0, 220.0, 330.0, 470.0, 680.0, 1000.0]
    """
    decade = _decade(series)
    first = read_value(low, "", where="low")
    last = read_value(high, "", where="high")
    if not 0 < first <= last < math.inf:
        raise BadValue(
            "preferred values", f"{low!r} to {high!r} is no range", "give 0 < low <= high"
        )
    powers = range(math.floor(math.log10(first)) - 1, math.ceil(math.log10(last)) + 2)
    values = (float(Decimal(repr(digits)).scaleb(power)) for power in powers for digits in decade)
    # A limit written as text may differ from the series' value in the last bit.
    return np.array([v for v in values if first * (1 - 1e-12) <= v <= last * (1 + 1e-12)])


@public
def nearest_preferred(value: float | str, series: str = "E12") -> float:
    """Find the preferred value nearest to ``value`` by ratio.

    Parameters
    ----------
    value : float or str
        A positive value in SI or as text.
    series : str
        Series of preferred values.

    Returns
    -------
    float
        The preferred value in SI.

    Raises
    ------
    BadValue
        If the value is not positive or the series is unknown.

    References
    ----------
    IEC 60063, preferred number series for resistors and capacitors.

    Examples
    --------
    >>> nearest_preferred("140k")
    150000.0
    """
    wanted = read_value(value, "", where="value")
    if not 0 < wanted < math.inf:
        raise BadValue("value", f"{value!r} is not positive", "give a value above zero", value)
    near = preferred_values(series, wanted / 10, wanted * 10)
    return float(near[least(np.abs(np.log(near / wanted)))])
