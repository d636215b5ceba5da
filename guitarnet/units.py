"""Values as people write them, read into SI, and written back.

"250k", "4k7", "0.022uF", "22 nF", "223" (a capacitor marking), "2.4 H", "10 ft".
Numbers that are already numbers are SI and pass unchanged.
Text is read through :class:`decimal.Decimal`, so that "22n" equals ``22e-9`` to the last bit.
"""

from __future__ import annotations

import math
import numbers
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from .errors import BadSetting, BadValue, a, nearest
from .gate import is_whole, public

__all__ = [
    "Quantity",
    "fixed",
    "format_value",
    "plain_words",
    "read_seed",
    "read_value",
    "sentence",
]

_PREFIX = {
    "p": -12,
    "n": -9,
    "u": -6,
    "\u00b5": -6,  # micro sign
    "\u03bc": -6,  # Greek small mu
    "m": -3,
    "k": 3,
    "K": 3,
    "M": 6,
    "meg": 6,
    "Meg": 6,
    "MEG": 6,
    "G": 9,
}
_FOOT = Decimal("0.3048")  # international foot, exact since 1959


def _with_prefixes(prefixes: str, *names: str, bare: bool = True) -> dict[str, Decimal]:
    """Every spelling of a unit: prefix alone, prefix and name ("kohm", "k ohm"), name alone."""
    spellings: dict[str, Decimal] = {}
    for prefix in prefixes.split():
        factor = Decimal(1).scaleb(_PREFIX[prefix])
        for name in (*names, "") if bare else names:
            spellings[prefix + name] = spellings[f"{prefix} {name}".strip()] = factor
    for name in names:
        spellings[name] = Decimal(1)
    return spellings


_MICRO = "u \u00b5 \u03bc"
_OHM_NAMES = ("ohm", "ohms", "Ohm", "Ohms", "OHM", "\u03a9", "\u2126")
_LENGTHS = {
    "m": Decimal(1),
    "metre": Decimal(1),
    "metres": Decimal(1),
    "meter": Decimal(1),
    "meters": Decimal(1),
    "cm": Decimal("0.01"),
    "mm": Decimal("0.001"),
    "ft": _FOOT,
    "feet": _FOOT,
    "foot": _FOOT,
    "'": _FOOT,
    "in": _FOOT / 12,
    "inch": _FOOT / 12,
    "inches": _FOOT / 12,
    '"': _FOOT / 12,
}
_FARADS = _with_prefixes(f"p n {_MICRO} m", "F", "f", "farad") | {
    "mfd": Decimal("1e-6"),  # old schematics: microfarad, never millifarad
    "MFD": Decimal("1e-6"),
}
_OHMS = _with_prefixes("m k K M meg Meg MEG G", *_OHM_NAMES) | {"R": Decimal(1), "r": Decimal(1)}


def _per_length(units: dict[str, Decimal]) -> dict[str, Decimal]:
    per = dict(units)
    for name, factor in units.items():
        per[name + "/m"] = factor
        per[name + "/ft"] = factor / _FOOT
    return per


# unit symbol -> {spelling: factor to SI}
_SPELLINGS: dict[str, dict[str, Decimal]] = {
    "ohm": _OHMS,
    "F": _FARADS,
    "H": _with_prefixes(f"n {_MICRO} m", "H", "h", "henry"),
    "Hz": _with_prefixes("m k K M", "Hz", "hz", "HZ"),
    "m": _LENGTHS,
    "F/m": _per_length(_FARADS),
    "ohm/m": _per_length(_OHMS),
    "ohm m": _with_prefixes("k K M meg G", "ohm m", "ohm", "\u03a9", "\u03a9 m"),
    "V": _with_prefixes(f"n {_MICRO} m", "V"),
    "fraction": {"%": Decimal("0.01"), "": Decimal(1)},
    "mark": {"": Decimal(1)},
    "number": {"": Decimal(1)},
    "": _with_prefixes(f"p n {_MICRO} m k K M meg G", bare=True) | {"": Decimal(1)},
}
_EXAMPLES = {
    "ohm": "'250k', '4k7' or '6200 ohm'",
    "F": "'22n', '0.022uF' or the marking '223'",
    "H": "'2.4 H' or '100 mH'",
    "Hz": "'5 kHz' or '440 Hz'",
    "m": "'3 m' or '10 ft'",
    "F/m": "'100 pF/m' or '30 pF/ft'",
    "ohm/m": "'0.1 ohm/m'",
    "ohm m": "'1G ohm m'",
    "V": "'1 V' or '100 mV'",
    "fraction": "'20%' or 0.2",
    "mark": "a number from 0 to 10",
    "number": "a plain number",
    "": "'22n' or '250k'",
}
# What a bare number in print most often means, for the advice only: never assumed.
# From each size on, the unit that is then likely.
_LIKELY = {
    "ohm": ((0, "k"), (1000, " ohm")),
    "F": ((0, "uF"), (1, "nF"), (100, "pF")),
    "H": ((0, " H"), (20, " mH")),
    "Hz": ((0, " kHz"), (20, " Hz")),
    "m": ((0, " m"),),
    "F/m": ((0, " pF/m"),),
}

# Size of a value other than 0: beyond it powers of the value do not fit in a float.
_USABLE = {"Hz": (1e-15, 1e15, "give a value from 1e-15 to 1e15 Hz")}
_ANY_USABLE = (1e-30, 1e30, "give a value from 1e-30 to 1e30")

_NUMBER = re.compile(
    r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*(.*)", re.ASCII | re.DOTALL
)
# IEC 60062: the letter stands where the decimal point would.
_LETTER_POINT = re.compile(
    r"(\d*)([RrpnukKM\u00b5\u03bc])(\d+)\s*(ohms?|[F\u03a9\u2126])?", re.ASCII
)


@dataclass(frozen=True)
class Quantity:
    """What a field may hold: its unit and its limits.

    Parameters
    ----------
    unit : str
        SI unit, such as "ohm", "F", "H", "m", "Hz", "F/m", "fraction" or "mark".
    at_least, above, at_most : float, optional
        Limits in SI.
    optional : bool
        Whether None is allowed.
    hint : str
        What to add to the advice when a limit is broken.
    """

    unit: str
    at_least: float | None = None
    above: float | None = None
    at_most: float | None = None
    optional: bool = False
    hint: str = ""

    def read(self, value: Any, where: str) -> float | None:
        """Read one value in SI, or None where that is allowed."""
        if value is None:
            if self.optional:
                return None
            raise BadValue(where, "no value was given", _write_like(self.unit))
        number = read_value(value, self.unit, where=where)
        self.check(np.asarray(number), where, value)
        return number

    def check(self, values: np.ndarray, where: str, written: Any = None) -> None:
        """Raise `BadValue` for the first of ``values`` that is out of limits."""
        flat = np.ravel(values)
        bad = ~np.isfinite(flat)
        if self.at_least is not None:
            bad |= flat < self.at_least
        if self.above is not None:
            bad |= flat <= self.above
        if self.at_most is not None:
            bad |= flat > self.at_most
        least, most, usable = _USABLE.get(self.unit, _ANY_USABLE)
        if self.above is None and (self.at_least is None or self.at_least < 0):
            least = 0.0  # 0 is a value like others, as of degrees or decibels
        size = np.abs(flat)
        unusable = (size > most) | ((size < least) & (size > 0))
        if not (bad | unusable).any():
            return
        within = not bad.any()  # the field's own limits
        found = flat[int(np.argmax(unusable if within else bad))].item()
        why, fix = ("too small" if abs(found) < least else "too large"), usable
        if not within:
            why, fix = self._why_not(found), self._advice(found)
        shown = repr(written) if isinstance(written, str) else format_value(found, self.unit)
        raise BadValue(where, f"{shown} is {why}", fix, found)

    def _why_not(self, found: float) -> str:
        if math.isnan(found):
            return "not a number"
        if math.isinf(found):
            return "infinite"
        if self.at_least is not None and found < self.at_least:
            return "negative" if self.at_least == 0 else "too small"
        if self.above is not None and found <= self.above:
            return ("zero" if found == 0 else "negative") if self.above == 0 else "too small"
        return "too large"

    def _advice(self, found: float) -> str:
        words = ["give a value" if math.isfinite(found) else "give a finite value"]
        if self.above is not None:
            words.append(f"above {format_value(self.above, self.unit)}")
        if self.at_least is not None:
            words.append(f"from {format_value(self.at_least, self.unit)}")
        if self.at_most is not None:
            join = "up to" if self.at_least is None else "to"
            words.append(f"{join} {format_value(self.at_most, self.unit)}")
        return " ".join(words) + (f" ({self.hint})" if self.hint else "")


@public
def read_value(value: Any, unit: str, *, where: str = "value") -> float:
    """Read a value as people write it into an SI number.

    Parameters
    ----------
    value : str or number
        Text such as "250k", "4k7", "0.022uF", "10 ft"; a number is taken as SI.
    unit : str
        SI unit of the field: "ohm", "F", "H", "Hz", "m", "F/m", "ohm/m", "ohm m", "V",
        "fraction", "mark", "number" for one without a unit, or "" for a prefix alone.
    where : str
        The part and field, for the error text.

    Returns
    -------
    float
        The value in SI.

    Raises
    ------
    BadValue
        If the text is not a number with a unit, or has a decimal comma, or no unit at all.

    References
    ----------
    Letter codes ("4k7") and capacitor markings ("223"): IEC 60062.

    Examples
    --------
    >>> read_value("4k7", "ohm")
    4700.0
    >>> read_value("0.022uF", "F") == read_value("223", "F") == 22e-9
    True
    """
    if unit not in _SPELLINGS:
        raise BadSetting("unit", f"there is no {unit!r}", nearest(unit, _SPELLINGS), unit)
    if isinstance(value, (bool, np.bool_)):
        raise BadValue(where, f"{value!r} is not a number", _write_like(unit), value)
    if type(value) is np.ndarray and value.ndim == 0:
        value = value.item()
    if isinstance(value, (numbers.Real, Decimal)):
        try:
            return float(value)
        except (OverflowError, TypeError, ValueError):  # a huge int, a signalling NaN, a time
            raise BadValue(where, "is not a number one can use", _write_like(unit), value) from None
    if not isinstance(value, str):
        raise BadValue(where, f"{a(type(value))} is not one value", _write_like(unit), value)
    return float(_read_text(value, unit, where))


def dimensions(given: Any, where: str) -> int:
    """Count the dimensions of a number or of lists of them; what is ragged has no number."""
    try:
        if isinstance(given, (type, np.ma.MaskedArray)):
            raise TypeError
        if isinstance(given, (list, tuple)) and any(
            one is np.ma.masked or isinstance(one, Mapping) for one in given
        ):
            raise TypeError
        count = 0 if isinstance(given, Mapping) else np.ndim(given)
        if type(count) is not int:  # of a thing that only seems to be an array
            raise TypeError
        return count
    except (OverflowError, TypeError, ValueError):
        raise BadSetting(where, "is no list of numbers, each by itself", "give one list") from None


def float_array(given: Any, where: str, fix: str) -> np.ndarray:
    """Read real numbers of any shape as an array of floats."""
    try:
        if isinstance(given, (type, np.ma.MaskedArray)):
            raise TypeError
        array = np.asarray(given)
        if array.dtype.kind in "biufO":
            with np.errstate(over="ignore"):  # wider floats become infinite
                return np.array(array, dtype=float)
    except (OverflowError, TypeError, ValueError):
        pass
    raise BadValue(where, "does not hold real numbers only", fix, given)


def read_seed(given: Any) -> int:
    """Read the seed of what is drawn at random: a whole number from 0."""
    if is_whole(given) and int(given) >= 0:
        return int(given)
    raise BadSetting("seed", f"{given!r} is no whole number from 0", "give one, as 1", given)


def _read_text(written: str, unit: str, where: str) -> Decimal:
    text = written.strip().replace("\u2212", "-")
    if len(text) > 40:
        raise BadValue(where, f"{text[:40]!r}... is too long for a value", _write_like(unit))
    spellings = _SPELLINGS[unit]
    if unit == "F" and re.fullmatch(r"\d{3}", text, re.ASCII):
        return read_marking_exact(text, where)
    letter = _LETTER_POINT.fullmatch(text)
    if letter and unit in ("ohm", "F", ""):
        whole, point, part, name = letter.groups()
        suffix = point + (name or "")
        if (whole or point in "Rrp\u00b5\u03bcnu") and suffix in spellings:
            return Decimal(f"{whole or 0}.{part}") * spellings[suffix]
    match = _NUMBER.fullmatch(text)
    if match:
        number, suffix = Decimal(match[1]), match[2].strip()
        if not suffix and "" not in spellings and number != 0:
            raise BadValue(where, f"{written!r} has no unit", _likely(text, number, unit), written)
        if not suffix and number == 0:
            return number
        squeezed = re.sub(r"\s*/\s*", "/", re.sub(r"\s+", " ", suffix))
        if squeezed in spellings:
            return number * spellings[squeezed]
    raise BadValue(where, f"{written!r} {_what_is_wrong(text, unit)}", _advice(text, unit), written)


def _write_like(unit: str) -> str:
    verb = "give" if unit in ("mark", "number") else "write it like"
    return f"{verb} {_EXAMPLES[unit]}"


def _likely(text: str, number: Decimal, unit: str) -> str:
    """Advise on a number without a unit."""
    units = [name for size, name in _LIKELY.get(unit, ()) if abs(number) >= size]
    if not units:
        return _write_like(unit)
    return f"write {text + units[-1]!r} if you mean that, or {_write_like(unit)}"


def _what_is_wrong(text: str, unit: str) -> str:
    if "," in text:
        return "has a comma"
    if unit == "F" and re.fullmatch(r"\d{3}\s*[A-Z]", text, re.ASCII):
        return "is a marking with a tolerance letter"
    names = {"": "value", "number": "number", "mark": "knob mark", "fraction": "share"}
    return f"is not a {names[unit]}" if unit in names else f"is not a value in {unit}"


def _advice(text: str, unit: str) -> str:
    if "," in text and _reads(text.replace(",", "."), unit):
        point, whole = text.replace(",", "."), text.replace(",", "")
        if re.match(r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)", text, re.ASCII):
            return f"write {point!r} or {whole!r}, whichever it is"
        return f"write the decimal point: {point!r}"
    if unit == "F" and re.fullmatch(r"\d{3}\s*[A-Z]", text, re.ASCII):
        return f"write {text[:3]!r} and give the tolerance by itself"
    mended = re.sub("[oO]", "0", text)
    if mended != text and _reads(mended, unit):
        return f"did you mean {mended!r} (digit zero)?"
    small = text.lower()  # never with an M, which is not a small m
    if small != text and "m" not in small and _reads(small, unit):
        return f"did you mean {small!r}?"
    return _write_like(unit)


def _reads(text: str, unit: str) -> bool:
    try:
        _read_text(text, unit, "")
    except BadValue:
        return False
    return True


def read_marking_exact(code: str, where: str) -> Decimal:
    """Read a three-digit capacitor marking as an exact decimal in farad."""
    digits = str(code).strip()
    if not re.fullmatch(r"[1-9]\d\d", digits, re.ASCII) or digits[2] == "7":
        raise BadValue(
            where,
            f"{code!r} is not a capacitor marking",
            "a marking is two digits and a power of ten in picofarad, such as '223' for 22 nF",
            code,
        )
    # IEC 60062: the third digit is the number of zeros; 8 and 9 stand for x0.01 and x0.1.
    power = {"8": -2, "9": -1}.get(digits[2], int(digits[2]))
    return Decimal(digits[:2]).scaleb(power - 12)


_SYMBOL = {
    "ohm": "\u03a9",
    "fraction": "%",
    "mark": "",
    "number": "",
    "ohm/m": "\u03a9/m",
    "ohm m": "\u03a9 m",
}
_WRITTEN_PREFIX = {-12: "p", -9: "n", -6: "\u00b5", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
# Smallest and largest power that people write a prefix for; `read_value` knows them all.
_REACH = {"ohm": (-3, 9), "F": (-12, 0), "H": (-9, 0), "Hz": (-3, 6), "V": (-9, 0)}


def fixed(value: float, digits: int, *, sign: bool = False) -> str:
    """Write a number with so many decimals; what lies at a half, or a hair under it, goes up.

    Equal chances and equal parts give exact halves, of which a processor's last digits would
    otherwise decide how they are written. There is no minus zero.

    Parameters
    ----------
    value : float
        The number.
    digits : int
        Decimals.
    sign : bool
        Whether to write a plus, too.

    Returns
    -------
    str
        Such as "0.13".

    Examples
    --------
    >>> fixed(0.125, 2), fixed(0.12499999999, 2), fixed(-1e-9, 1, sign=True)
    ('0.13', '0.13', '+0.0')
    """
    rounded = round(_past_half(value, -digits), digits) + 0.0
    return f"{rounded:+.{digits}f}" if sign else f"{rounded:.{digits}f}"


def _past_half(value: float, power: int) -> float:
    """Move a number away from zero by a ten-thousandth of its last digit, a power of ten."""
    return value + math.copysign(1e-4 * 10.0**power, value)


def plain_words(name: str) -> str:
    """Write a name or a path in words: "tone_capacitor.capacitance" without its signs."""
    return name.replace("_", " ").replace(".", " ")


def sentence(text: str) -> str:
    """Begin a text with a capital."""
    return text[:1].upper() + text[1:]


@public
def format_value(value: float, unit: str, *, digits: int = 4) -> str:
    """Write an SI value with the prefix that people use.

    Parameters
    ----------
    value : float
        Value in SI.
    unit : str
        SI unit; see `read_value`.
    digits : int
        Significant digits at the most, 1 to 17; a half goes up.

    Returns
    -------
    str
        Such as "250 kΩ" or "22 nF".

    Raises
    ------
    BadValue
        If there is no such number of digits.

    Examples
    --------
    >>> format_value(22e-9, "F"), format_value(250e3, "ohm"), format_value(0.2, "fraction")
    ('22 nF', '250 kΩ', '20 %')
    """
    if not 1 <= digits <= 17:
        raise BadValue("digits", f"{digits} is no number of digits", "give 1 to 17", digits)
    symbol = _SYMBOL.get(unit, unit)
    if math.isinf(value) and unit == "ohm":
        return "OL (open)"
    if unit == "number":
        return f"{value:g}"
    if value and math.isfinite(value):
        value = _past_half(value, math.floor(math.log10(abs(value))) - digits + 1)
    if unit == "fraction":
        return f"{value * 100:.{digits}g} %"
    if value == 0 or not math.isfinite(value) or unit in ("m", "mark"):
        return f"{value:.{digits}g} {symbol}".strip()
    rounded = float(f"{value:.{digits}g}")
    power = 3 * math.floor(math.log10(abs(rounded)) / 3 + 1e-12)
    least, most = _REACH.get(unit, (-12, 9))
    power = min(max(power, least), most)
    return f"{rounded / 10.0**power:.{digits}g} {_WRITTEN_PREFIX[power]}{symbol}".strip()
