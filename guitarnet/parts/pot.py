"""Potentiometers."""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np

from ..errors import BadValue
from ..gate import public
from ..units import Quantity, format_value, read_value
from .base import (
    PRACTICE,
    Control,
    MaybeNumber,
    Measurable,
    Part,
    Stamps,
    Values,
    Written,
    apply,
    asks,
    insistence,
    other,
    quantity,
    tolerance,
    valued,
)
from .taper import Taper, taper as read_taper

__all__ = ["END", "Pot"]

_MARK = Quantity("mark", at_least=0, at_most=10, hint="knob marks run from 0 to 10")
_TRACK = Quantity("fraction", at_least=0, at_most=1)
_SHARE = Quantity("fraction", at_least=0, at_most=0.5)
Ends = tuple["float | str", "float | str"]
END = Quantity(
    "ohm",
    at_least=0,
    usual=("0.05 ohm", "49 ohm", "up to 2 ohm: panel pot datasheets; the rest a guess"),
)


@public
@valued
class Pot(Part):
    """A potentiometer with lugs ``high`` (touched at 10), ``wiper`` and ``low`` (touched at 0).

    Parameters
    ----------
    resistance : float, str or Measured
        End lug to end lug [ohm], such as "250k".
    taper : Taper or str
        Function from rotation to track fraction: ``audio_taper(0.15)``, or in words, "audio 15%".
    tolerance : float or str, optional
        Plus or minus this share of the resistance; 20 % is usual.
    end_resistance : float, str or pair
        Resistance between the wiper and an end lug at that end [ohm], or a share of the
        resistance such as "1%"; a pair is (at high, at low).
    source : str
        Where the values come from.
    unusual : bool
        As in `Coil`.

    Raises
    ------
    BadValue
        If a value is out of range, or the end resistances leave no track.

    Notes
    -----
    With track fraction t, end resistances e_h and e_l and resistance R:
    R(high, wiper) = e_h + (R - e_h - e_l)(1 - t) and R(wiper, low) = e_l + (R - e_h - e_l) t.
    A setting gives the ``mark`` (0 to 10) or, without the taper, the ``track`` (0 to 1).

    References
    ----------
    Tolerance of 20 %, end resistance up to 2 ohm: panel potentiometer datasheets.

    Examples
    --------
    >>> Pot("250k", "audio 15%").label()
    '250 kΩ, audio 15%'
    """

    resistance: Measurable = quantity(
        "ohm",
        at_least=1,
        at_most=1e9,
        hint="'M' is mega, 'm' is a thousandth",
        usual=("5k", "4.9M", "25k to 1M: " + PRACTICE),
    )
    taper: Written[Taper | str, Taper]
    tolerance: MaybeNumber = tolerance(default=None)
    end_resistance: Written[float | str | tuple[float | str, float | str], Ends] = other(
        default=0.0
    )
    source: str = ""
    unusual: bool = insistence(default=False)

    lugs: ClassVar = ("high", "wiper", "low")
    main: ClassVar = "mark"
    controls: ClassVar = {"mark": Control(_MARK, 10.0), "track": Control(_TRACK, None)}
    usual_tolerance: ClassVar = {"resistance": 0.2}  # panel potentiometer datasheets

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "taper", read_taper(self.taper))
        ends = _ends(self.end_resistance, asking=asks(self))
        object.__setattr__(self, "end_resistance", ends)
        taken = sum(_ohms(end, self.resistance) for end in ends)
        if not taken < self.resistance:
            raise BadValue(
                "Pot.end_resistance",
                f"{format_value(taken, 'ohm')} in all leaves no track of "
                f"{format_value(self.resistance, 'ohm')}",
                "give less, such as 2 ohm or '1%'",
                self.end_resistance,
            )

    def _rows(self) -> list[tuple[str, str]]:
        rows = super()._rows()
        for lug, end in zip(("high", "low"), self.end_resistance, strict=True):
            if end:
                written = end if isinstance(end, str) else format_value(end, "ohm")
                rows.append((f"end resistance at {lug}", written))
        return rows

    def label(self) -> str:
        """Describe the part in a few words."""
        words = f"{format_value(self.resistance, 'ohm')}, {self.taper}"
        if any(_ohms(end, self.resistance) for end in self.end_resistance):
            ends = [
                e if isinstance(e, str) else format_value(e, "ohm") for e in self.end_resistance
            ]
            words += ", ends " + " and ".join(dict.fromkeys(ends))
        return words

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the two halves of the track into a netlist."""
        total = values.resistance
        at_high, at_low = (_ohms(end, total) for end in values.end_resistance)
        track = values.track
        by_mark = track is None
        if by_mark:
            track = apply(lambda mark: self.taper(mark / 10), values.mark)
        free = total - at_high - at_low
        upper = at_high + free * (1 - track)
        lower = at_low + free * track
        if by_mark and self.taper.opens_at_full:
            # Past the end of the track the wiper touches nothing.
            gap = apply(lambda mark: np.where(mark >= 10, np.inf, 0.0), values.mark)
            upper, lower = upper + gap, lower + gap
        net.resistor("upper", "high", "wiper", upper)
        net.resistor("lower", "wiper", "low", lower)


def _ends(given: Any, asking: bool) -> tuple[float | str, float | str]:
    pair = tuple(given) if isinstance(given, (tuple, list)) else (given, given)
    if len(pair) != 2:
        raise BadValue(
            "Pot.end_resistance", f"{given!r} is not one or two values", "give 2 ohm or '1%'", given
        )
    return _end(pair[0], asking), _end(pair[1], asking)


def _end(value: Any, asking: bool) -> float | str:
    where = "Pot.end_resistance"
    if isinstance(value, str) and value.strip().endswith("%"):
        share = read_value(value, "fraction", where=where)
        _SHARE.check(np.asarray(share), where, value)
        return f"{share * 100:.12g}%"
    ohms = read_value(value, "ohm", where=where)
    END.check(np.asarray(ohms), where, value)
    if asking:
        END.ask(ohms, where, value)
    return ohms


def _ohms(end: float | str, total: Any) -> Any:
    if isinstance(end, str):
        return float(end[:-1]) / 100 * total
    return end
