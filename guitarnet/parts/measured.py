"""What was measured of a part before it was fitted: how well, and at what temperature."""

from __future__ import annotations

import dataclasses
import re
from dataclasses import KW_ONLY, dataclass
from decimal import Decimal
from typing import Any

from ..errors import BadValue
from ..gate import public
from ..units import BARE_SHARE, Quantity, format_value, read_celsius, read_share, write_celsius
from .copper import PER_KELVIN

__all__ = ["Measured", "MeasuredValue", "how", "measured_value"]

_ACCURACY = Quantity(
    "fraction", above=0, at_most=BARE_SHARE, hint="what is worse than 20 % is no measurement"
)
_CELSIUS = Quantity("number", at_least=-50, at_most=180, hint="in °C")
_OFF = Quantity("number", at_least=0, at_most=20, hint="1 K is usual")
_KELVINS = re.compile(r"(\d+\.?\d*|\.\d+)\s*(?:\u00b0\s*)?([CKF])", re.ASCII | re.IGNORECASE)


@public
@dataclass(frozen=True, repr=False)
class Measured:
    """A value as it was measured, in place of one that is only nominal.

    It may stand for any value of a part that has a tolerance: the resistance of a coil, a pot's
    track or a resistor, the capacitance of a capacitor. Its tolerance then follows from the meter
    and the thermometer, in place of what is usual of its kind.

    Parameters
    ----------
    value : float or str
        What the meter showed, such as "6.14k". Its leads' resistance is taken off already.
    accuracy : float or str
        Limits of error of the meter as a share of the reading, "0.5%".
    at : float or str, optional
        Temperature of the coil [°C], "17 C" or "63 F". A coil is copper and needs it: its
        resistance is brought to 20 °C. Other parts do not change with it.
    thermometer : float or str
        Limits of error of that temperature [K].

    Raises
    ------
    BadValue
        If the accuracy or a temperature is not right. The part says what is wrong with the value.

    Notes
    -----
    R20 = R / (1 + 0.00393 (t - 20)). The tolerance is the largest error that both limits can
    make together: (1 + a) (1 + 0.00393 (t - 20)) / (1 + 0.00393 (t - d - 20)) - 1, with the
    accuracy a and the thermometer's limits d; near 20 °C that is a + 0.00393 d.

    References
    ----------
    Copper, 0.00393/K at 20 °C: IEC 60028, International standard of resistance for copper. A
    thermometer within 1 K: common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup
    >>> neck = Pickup(Measured("6.14k", accuracy="0.5%", at="17 °C"), "2.4 H", "120p")
    >>> round(neck.resistance), round(neck.tolerances()["resistance"], 3)
    (6213, 0.009)
    """

    value: float | str
    _: KW_ONLY
    accuracy: float | str
    at: float | str | None = None
    thermometer: float | str = 1.0

    def __post_init__(self) -> None:
        read = {
            "accuracy": read_share(self.accuracy, _ACCURACY, "Measured.accuracy"),
            "at": None if self.at is None else read_celsius(self.at, "Measured.at", _CELSIUS),
            "thermometer": _kelvin(self.thermometer),
        }
        for name, number in read.items():
            object.__setattr__(self, name, number)

    def __repr__(self) -> str:
        words = "".join(f", {name}={text!r}" for name, text in how(self).items())
        return f"Measured({self.value!r}{words})"


class MeasuredValue(float):
    """A number that knows how it was measured. What is computed from it is a plain number."""

    __slots__ = ("measured", "share")

    measured: Measured
    """How it was measured."""
    share: float
    """Plus or minus this share is what meter and thermometer may be off."""

    def __new__(cls, value: float, measured: Measured, share: float) -> MeasuredValue:
        """Make the number."""
        made = super().__new__(cls, value)
        made.measured, made.share = measured, share
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (float(self), self.measured, self.share)

    @property
    def shown(self) -> float:
        """What the meter showed, in SI."""
        return float(self.measured.value)

    def words(self, unit: str) -> str:
        """Say that it was measured; of copper also what, and what that is at 20 °C."""
        at, shown = self.measured.at, format_value(self.shown, unit, digits=6)
        if at is None:
            return "measured"
        digits = max(3, sum(c.isdigit() for c in shown))
        at_20 = format_value(self, unit, digits=digits)
        return (
            f"measured {shown} at {write_celsius(float(at), 3)}, is {at_20} at {write_celsius(20)}"
        )


def measured_value(given: Measured, spec: Quantity, where: str) -> MeasuredValue:
    """Give the value that a part takes: at 20 °C where it is that of copper."""
    plain = dataclasses.replace(spec, marked=False, optional=False)
    number = plain.read(given.value, where)
    assert number is not None
    if spec.copper and given.at is None:
        raise BadValue(
            where,
            "is copper, which reads 0.4 % more for each degree, and its temperature is not given",
            "add what the thermometer shows, as at = '21 C'",
            given.value,
        )
    if given.at is not None and not spec.copper:
        raise BadValue(where, "is not copper, so its temperature does not matter", "leave 'at' out")
    warm, warmest = (_warmth(given, off) for off in (0.0, float(given.thermometer)))
    share = (1 + float(given.accuracy)) * warm / warmest - 1
    return MeasuredValue(number / warm, dataclasses.replace(given, value=number), share)


def _warmth(given: Measured, off: float) -> float:
    """Resistance over that at 20 °C, should the thermometer show too much by so many kelvin."""
    return 1.0 if given.at is None else 1 + PER_KELVIN * (float(given.at) - off - 20)


def how(measured: Measured) -> dict[str, str]:
    """Write how it was measured as a person would, so that it reads back to the last bit."""
    written = {"accuracy": f"{(Decimal(repr(measured.accuracy)) * 100).normalize():f}%"}
    if measured.at is not None:
        written["at"] = f"{_plain(float(measured.at))} C"
    if measured.thermometer != 1.0:
        written["thermometer"] = f"{_plain(float(measured.thermometer))} K"
    return written


def _kelvin(given: Any) -> float:
    where, factor = "Measured.thermometer", 1.0
    if isinstance(given, str):
        match = _KELVINS.fullmatch(given.strip().lstrip("\u00b1").strip())
        if match is None:
            fix = "write '1 K' or '2 F'"
            raise BadValue(where, f"{given!r} is no error of a thermometer", fix, given)
        given, factor = float(match[1]), 1 / 1.8 if match[2] in "Ff" else 1.0
    number = _OFF.read(given, where)
    assert number is not None
    return number * factor


def _plain(number: float) -> str:
    short = f"{number:g}"
    return short if float(short) == number else repr(number)
