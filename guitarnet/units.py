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
from functools import cached_property
from typing import Any

import numpy as np

from .errors import BadFile, BadSetting, BadValue, Unusual, a, nearest
from .gate import entered, insisted, is_whole, public

__all__ = [
    "UNITS",
    "Quantity",
    "as_preferred",
    "as_typed",
    "bare_number",
    "fixed",
    "format_value",
    "plain_words",
    "prefer_units",
    "prefers_feet",
    "read_celsius",
    "read_count",
    "read_seed",
    "read_value",
    "sentence",
    "si_text",
    "unbroken",
    "write_celsius",
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
    "F": "'470p' or '0.022uF'",
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
MARKING = re.compile(r"(?:\d[A-Z]\s*)?(\d{3})\s*([BCDFGHJKMN])?(?:[\s/]*\d+\s*V(?:DC)?)?", re.ASCII)
"""What stands on a capacitor: three digits, a letter of tolerance and a voltage (IEC 60062), or
the voltage before them as a digit and a letter, "2A473J" (from memory)."""

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
    usual : tuple of (str, str, str), optional
        Least and largest value that occurs in passive guitars, and who says so. The two ends are
        under a thousand apart wherever that is honest, so that a wrong prefix always leaves them.
        Zero is no slip where it is allowed and is below them: it means "none".
    marked : bool
        Whether it is a capacitor one buys, so that text may be the marking on it.
    percent : bool
        Whether it is a share by which something may be off: a person writes it with its sign.
    copper : bool
        Whether it is the resistance of a copper wire, which changes with temperature.
    """

    unit: str
    at_least: float | None = None
    above: float | None = None
    at_most: float | None = None
    optional: bool = False
    hint: str = ""
    usual: tuple[str, str, str] | None = None
    marked: bool = False
    percent: bool = False
    copper: bool = False

    def read(self, value: Any, where: str) -> float | None:
        """Read one value in SI, or None where that is allowed."""
        if value is None:
            if self.optional:
                return None
            raise BadValue(where, "no value was given", _write_like(self.unit, self.marked))
        number = _read(value, self.unit, where, self.marked, self.ends)
        beyond = self.percent and self.at_most is not None and self.at_most < number <= 100
        if beyond and not (isinstance(value, str) and "%" in value):
            raise BadValue(where, *two_readings(number, value), value)
        self.check(np.asarray(number), where, value)
        return number

    def entered(self, value: Any, where: str) -> float | None:
        """Read one value that a person may have entered, and ask about one that is unusual.

        Asked only in the outermost public call, and unless ``unusual=True`` was given to it.
        """
        number = self.read(value, where)
        if entered() and not insisted():
            self.ask(number, where, value)
        return number

    def ask(self, number: float | None, where: str, written: Any = None) -> None:
        """Raise `Unusual` for a value that hardly any guitar has, or that can be read two ways."""
        if number is None or (number == 0 and self.at_least is not None):
            return
        if self.percent and (
            number > BARE_SHARE if not isinstance(written, str) else "%" not in written
        ):
            problem, ways = two_readings(number, written)
            fix = f"{ways}, or insist on a share with unusual=True"
            raise Unusual(where, problem, fix, _given(written, number))
        low, high = self.ends
        if not low * (1 - 1e-9) <= number <= high * (1 + 1e-9):
            raise Unusual(where, *self._unusual(number, written), _given(written, number))

    @cached_property
    def ends(self) -> tuple[float, float]:
        """The least and the largest usual value in SI."""
        if self.usual is None:
            return -math.inf, math.inf
        low, high = (read_value(end, self.unit) for end in self.usual[:2])
        return low, high

    def _unusual(self, number: float, written: Any) -> tuple[str, str]:
        """Say that a value is unusual, what is usual and who says so; and what was likely meant."""
        assert self.usual is not None
        low, high = (format_value(end, self.unit) for end in self.ends)
        shown = format_value(number, self.unit)
        if isinstance(written, str) and _plainly(written) not in {
            _plainly(as_typed(number, self.unit)),
            _plainly(shown),
        }:
            shown = f"{written!r} ({shown})"
        problem = f"{shown} is unusual, {low} to {high} is what occurs ({self.usual[2]})"
        likely = [repr(as_typed(value, self.unit)) for value in self._likely(number)]
        way = f"write {' or '.join(likely)} if you mean that" if likely else "give a usual one"
        notes = [self.hint] if self.hint and not likely else []
        if isinstance(written, str) and self.unit in _THOUSANDTHS and _MILLI.search(written):
            notes.append(f"m is a thousandth{_THOUSANDTHS[self.unit]}")
        note = f" ({'; '.join(notes)})" if notes else ""
        return problem, f"{way}{note}, or insist with unusual=True"

    def _likely(self, number: float) -> list[float]:
        """Give the usual values of the same digits with another prefix, or for each foot."""
        low, high = self.ends
        digits = Decimal(repr(number))
        others = [float(digits.scaleb(power)) for power in (3, -3, 6, -6, 9, -9, 12, -12)]
        if self.unit == "F/m":
            others.insert(0, float(digits / _FOOT))
        return [value for value in others if low <= value <= high]

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
            if self.at_most < found < math.inf and self.usual and not self.percent:
                likely = [repr(as_typed(value, self.unit)) for value in self._likely(found)]
                words[-1] += f", such as {' or '.join(likely)}" if likely else ""
            if self.percent and not self.hint and 1 <= found <= 100:
                words[-1] += f", such as '{found:g}%'"
        return " ".join(words) + (f" ({self.hint})" if self.hint else "")


_MILLI = re.compile(r"\d\s*m")
_THOUSANDTHS = {
    "F": "; old drawings write mF for microfarad",
    "ohm": ", M is a million",
    "H": "",
}
BARE_SHARE = 0.2  # above it a bare share by which something may be off is asked about


def _plainly(written: str) -> str:
    return re.sub(r"(?<=\d) (?=[a-zA-Z%]+$)|(?<=[kMGpnu])(ohm|F)$", "", written.strip())


def _given(written: Any, number: float) -> Any:
    return number if written is None else written


def read_share(value: Any, spec: Quantity, where: str) -> float:
    """Read a share by which something may be off: with its sign, or a small number."""
    bare = Quantity("fraction").read(value, where)
    assert bare is not None
    signed = "%" in value if isinstance(value, str) else bare <= BARE_SHARE
    if not signed and 0 < bare <= 100:
        raise BadValue(where, *two_readings(bare, value), value)
    number = spec.read(value, where)
    assert number is not None
    return number


def two_readings(number: float, written: Any) -> tuple[str, str]:
    """Say that a share can be read in two ways, and how each is written."""
    bare = written if isinstance(written, str) else f"{number:g}"
    problem = f"{bare} is {number * 100:g} % as a share, and {number:g} % as percent"
    return problem, f"write '{number:g}%' or '{number * 100:g}%', whichever it is"


_SUFFIXES = {
    "ohm": (" ohm", "k", "M"),
    "F": ("pF", "nF", "uF"),
    "H": (" H", " mH"),
    "Hz": (" Hz", " kHz"),
    "m": (" m",),
    "F/m": (" pF/m",),
}


def _with_unit(text: str, number: Decimal, unit: str, ends: tuple[float, float]) -> list[str]:
    """Give a number with each unit that makes a usual value of it, or with the one in print."""
    low, high = ends
    if not (number.is_finite() and high < math.inf):
        return []
    usual = [
        suffix
        for suffix in _SUFFIXES.get(unit, ())
        if low <= read_value(f"{text}{suffix}", unit) <= high
    ]
    first = [suffix for size, suffix in _LIKELY.get(unit, ()) if abs(number) >= size][-1:]
    given = [f"{text}{suffix}" for suffix in (first if first and first[0] in usual else usual)]
    if unit == "ohm" and abs(number) < 1:  # nobody writes 0.25M
        return [as_typed(read_value(one, unit), unit) for one in given]
    return given


def bare_number(value: float, spec: Quantity, where: str) -> None:
    """Refuse a number without a unit where a person writes one, as in a file; zero needs none."""
    if spec.unit in ("fraction", "mark", "number") or isinstance(value, bool) or value == 0:
        return
    text = f"{value:g}"
    usual = _with_unit(text, Decimal(repr(value)), spec.unit, spec.ends)
    fix = f"write {' or '.join(map(repr, usual))} if you mean that, or " if usual else ""
    like = _write_like(spec.unit, spec.marked)
    raise BadFile(where, f"{text} has no unit", fix + like, value)


def as_typed(value: float, unit: str) -> str:
    """Write a value as a person would type it: "8.2k", "22n", "2.4 H", "3 m"."""
    text = si_text(value, unit, digits=6).replace("\u03a9", "ohm").replace("\u00b5", "u")
    short = {"ohm": r" ([kMG])ohm$", "F": r" ([pnu])F$", "fraction": r" (%)$"}.get(unit)
    return re.sub(short, r"\1", text) if short else text


_DEGREES = re.compile(
    r"([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d{1,3})?)\s*(?:\u00b0\s*|deg\s*)?(C|F|K|celsius|fahrenheit)?",
    re.ASCII | re.IGNORECASE,
)
_ROOM = (0.0, 45.0)  # degrees Celsius that a guitar is measured at


def read_celsius(value: Any, where: str, spec: Quantity) -> float:
    """Read a temperature [°C]: "21 C", "70 F", or a bare number where that can only be Celsius."""
    scale = ""
    if isinstance(value, str):
        match = _DEGREES.fullmatch(value.strip().replace("\u2212", "-"))
        if match is None:
            raise BadValue(where, f"{value!r} is no temperature", "write '21 C' or '70 F'", value)
        number, scale = float(match[1]), (match[2] or "")[:1].upper()
    else:
        number = read_value(value, "number", where=where)
    degrees = {"F": (number - 32) / 1.8, "K": number - 273.15}.get(scale, number)
    spec.check(np.asarray(degrees), where)
    if not scale and entered() and not _ROOM[0] <= number <= _ROOM[1]:
        raise BadValue(
            where,
            f"{number:g} is no room temperature in °C, and does not say its unit",
            f"write '{number:g} F' ({(number - 32) / 1.8:.1f} °C) or '{number:g} C'",
            value,
        )
    return degrees


@public
def read_value(value: Any, unit: str, *, where: str = "value", marking: bool = False) -> float:
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
    marking : bool
        Whether three digits alone are the marking of a capacitor, "223" for 22 nF; else their
        unit is asked for.

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
    >>> read_value("0.022uF", "F") == read_value("223", "F", marking=True) == 22e-9
    True
    """
    if unit not in _SPELLINGS:
        raise BadSetting("unit", f"there is no {unit!r}", nearest(unit, _SPELLINGS), unit)
    return _read(value, unit, where, marking, _ANY)


_ANY = (-math.inf, math.inf)


def _read(value: Any, unit: str, where: str, marking: bool, ends: tuple[float, float]) -> float:
    """Read a value into SI; ``ends`` are the usual ones, for the advice only."""
    if isinstance(value, (bool, np.bool_)):
        raise BadValue(where, f"{value!r} is not a number", _write_like(unit, marking), value)
    if type(value) is np.ndarray and value.ndim == 0:
        value = value.item()
    if isinstance(value, (numbers.Real, Decimal)):
        try:
            return float(value)
        except (OverflowError, TypeError, ValueError):  # a huge int, a signalling NaN, a time
            raise BadValue(
                where, "is not a number one can use", _write_like(unit, marking), value
            ) from None
    if not isinstance(value, str):
        raise BadValue(
            where, f"{a(type(value))} is not one value", _write_like(unit, marking), value
        )
    return float(_read_text(value, unit, where, marking, ends))


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


def read_count(given: Any, spec: Quantity, where: str) -> int:
    """Read how many to draw: a whole number within limits."""
    number = spec.read(given, where)
    assert number is not None
    if number % 1:
        raise BadSetting(where, f"{number:g} is no whole number", "give one, as 500", given)
    return int(number)


def _read_text(
    written: str,
    unit: str,
    where: str,
    marking: bool = False,
    ends: tuple[float, float] = _ANY,
) -> Decimal:
    text = written.strip().replace("\u2212", "-")
    if len(text) > 40:
        raise BadValue(
            where, f"{text[:40]!r}... is too long for a value", _write_like(unit, marking)
        )
    spellings = _SPELLINGS[unit]
    if marking and unit == "F" and (code := MARKING.fullmatch(text)):
        return read_marking_exact(code[1], where)
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
            raise BadValue(
                where,
                f"{written!r} has no unit",
                _likely(text, number, unit, marking, ends),
                written,
            )
        if not suffix and number == 0:
            return number
        squeezed = re.sub(r"\s*/\s*", "/", re.sub(r"\s+", " ", suffix))
        if squeezed in spellings:
            return number * spellings[squeezed]
    raise BadValue(
        where, f"{written!r} {_what_is_wrong(text, unit)}", _advice(text, unit, marking), written
    )


def _write_like(unit: str, marking: bool = False) -> str:
    if marking:
        return "write it like '22n', '0.022uF' or the marking '223'"
    verb = "give" if unit in ("mark", "number") else "write it like"
    return f"{verb} {_EXAMPLES[unit]}"


def _likely(text: str, number: Decimal, unit: str, marking: bool, ends: tuple[float, float]) -> str:
    """Advise on a number without a unit."""
    units = [name for size, name in _LIKELY.get(unit, ()) if abs(number) >= size]
    if not units:
        return _write_like(unit, marking)
    ways = _with_unit(text, number, unit, ends) or [text + units[-1]]
    shown = " or ".join(map(repr, ways))
    return f"write {shown} if you mean that, or {_write_like(unit, marking)}"


_CALLED = {"ohm": "a resistance", "F": "a capacitance", "H": "an inductance", "m": "a length"}
_KINDS = {
    "F": re.compile(r"\d\s*([pnu\u00b5\u03bc]F?|F|mfd|MFD)$"),
    "ohm": re.compile(r"\d\s*[kKM]?(ohms?|\u03a9|\u2126)$|\d\s*[kKM]$"),
    "H": re.compile(r"\d\s*m?H$"),
    "m": re.compile(r"\d\s*(mm|cm|ft|feet|metres?|meters?)$"),
}
_TAPERED = re.compile(r"[ABC]\s*(\d+\s*[kK])|(\d+\s*[kK])\s*[ABC]", re.ASCII)


def _what_is_wrong(text: str, unit: str) -> str:
    if "," in text:
        return "has a comma"
    if unit == "F" and re.fullmatch(r"\d{3}\s*[A-Z]", text, re.ASCII):
        return "is a marking with a tolerance letter"
    if unit == "ohm" and _TAPERED.fullmatch(text):
        return "is a marking with a taper letter"
    kind = next((name for name, form in _KINDS.items() if form.search(text)), unit)
    if kind != unit and {kind, unit} < _CALLED.keys():
        return f"is {_CALLED[kind]}, not {_CALLED[unit]}"
    names = {"": "value", "number": "number", "mark": "knob mark", "fraction": "share"}
    return f"is not a {names[unit]}" if unit in names else f"is not a value in {unit}"


def _advice(text: str, unit: str, marking: bool) -> str:
    if "," in text and _reads(text.replace(",", "."), unit):
        point, whole = text.replace(",", "."), text.replace(",", "")
        if re.match(r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)", text, re.ASCII):
            return f"write {point!r} or {whole!r}, whichever it is"
        return f"write the decimal point: {point!r}"
    if unit == "F" and re.fullmatch(r"\d{3}\s*[A-Z]", text, re.ASCII):
        value = repr(text[:3]) if marking else "the value with its unit"
        return f"write {value} and give the tolerance by itself"
    if unit == "ohm" and (tapered := _TAPERED.fullmatch(text)):
        value = (tapered[1] or tapered[2]).lower()
        return f"write {value!r}, and the taper in words: makers differ in what a letter means"
    if unit == "fraction" and (number := re.search(r"\d+\.?\d*", text, re.ASCII)):
        return f"write '{number[0]}%' if you mean that"
    mended = re.sub("[oO]", "0", text)
    if mended != text and _reads(mended, unit, marking):
        return f"did you mean {mended!r} (digit zero)?"
    small = text.lower()  # never with an M, which is not a small m
    if small != text and "m" not in small and _reads(small, unit):
        return f"did you mean {small!r}?"
    return _write_like(unit, marking)


def _reads(text: str, unit: str, marking: bool = False) -> bool:
    try:
        _read_text(text, unit, "", marking)
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


_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[pn\u00b5mkMG]?(?:[\u03a9FHVm%]|dB\b|ft\b|\u00b0))")


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


class _Before:
    """What was preferred, to go back to at the end of a ``with`` block."""

    def __init__(self, units: str) -> None:
        self._units = units

    def __enter__(self) -> None:
        """Nothing more to do: the preference holds already."""

    def __exit__(self, *ended: object) -> None:
        _preference["units"] = self._units


# What a person prefers, not what a computation needs: nothing but text depends on it.
_preference = {"units": "metric"}
UNITS = ("metric", "feet")
_FEET = {"m": ("ft", 0.3048), "F/m": ("", 1 / 0.3048), "ohm/m": ("", 1 / 0.3048)}
_FEET_DIGITS = 3  # 5 m is 16.4 ft


@public
def prefer_units(units: str) -> Any:
    """Say in which units lengths and temperatures are written, everywhere.

    Values stay in SI, and what you type is read in any unit, whatever is preferred.

    Parameters
    ----------
    units : {"metric", "feet"}
        Metric: metres and °C; a length that you typed is written as you typed it. Feet: feet
        (inches under one foot), capacitance for each foot, and °F.

    Returns
    -------
    context manager
        It goes back to what was preferred before at the end of a ``with`` block; elsewhere the
        preference stays.

    Raises
    ------
    BadSetting
        If there are no such units.

    Examples
    --------
    >>> with prefer_units("feet"):
    ...     format_value(5, "m"), format_value(100e-12, "F/m")
    ('16.4 ft', '30.5 pF/ft')
    >>> format_value(5, "m")
    '5 m'
    """
    if units not in UNITS:
        raise BadSetting("units", f"there are no {units!r}", "give 'metric' or 'feet'", units)
    before = _Before(_preference["units"])
    _preference["units"] = units
    return before


def prefers_feet() -> bool:
    """Whether lengths are written in feet and temperatures in °F."""
    return _preference["units"] == "feet"


def write_celsius(degrees: float, digits: int = 4) -> str:
    """Write a temperature [°C] as preferred: "20 °C" or "68 °F"."""
    if prefers_feet():
        return f"{degrees * 1.8 + 32:.{digits}g} \u00b0F"
    return f"{degrees:.{digits}g} \u00b0C"


def as_preferred(written: str, value: Any, unit: str) -> str:
    """Keep what a person wrote, unless it is a length and they prefer feet."""
    if unit not in _FEET or not prefers_feet() or isinstance(value, str):
        return written
    return written if re.search(r"ft|f[eo][eo]t|in", written) else format_value(float(value), unit)


def unbroken(text: str) -> str:
    """Put hard spaces between numbers and units, so that no line breaks there."""
    return _BEFORE_UNIT.sub("\u00a0", text)


@public
def format_value(value: float, unit: str, *, digits: int = 4) -> str:
    """Write an SI value with the prefix that people use; lengths as preferred (`prefer_units`).

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
    if unit in _FEET and prefers_feet():
        symbol, metres = _FEET[unit]
        if unit == "m" and 0 < abs(value) < metres * (1 - 1e-9):
            symbol, metres = "in", metres / 12
        if unit == "m":
            return f"{value / metres:.{min(digits, _FEET_DIGITS)}g} {symbol}"
        return si_text(value / metres, unit, digits=min(digits, _FEET_DIGITS)).replace("/m", "/ft")
    return si_text(value, unit, digits=digits)


def si_text(value: float, unit: str, *, digits: int = 4) -> str:
    """Write a value as `format_value` does, whatever units are preferred."""
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
