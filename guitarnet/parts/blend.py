"""Blend pots: two ganged tracks that fade between two pickups."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, ClassVar

import numpy as np

from ..gate import public
from ..units import format_value
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
    insistence,
    other,
    quantity,
    tolerance,
    valued,
)
from .pot import Pot
from .taper import Taper, taper as read_taper

__all__ = ["BlendPot"]


@public
@valued
class BlendPot(Part):
    """A blend pot (MN): two tracks on one shaft, both full at the centre.

    Below the centre the second track falls, above it the first: at 0 the first is full and the
    second is off, at 10 the reverse. Each track has the lugs ``high`` (touched when it is full),
    ``wiper`` and ``low``, named ``first_high`` to ``second_low``. The default mark is the centre,
    5.

    Parameters
    ----------
    resistance : float, str or Measured
        End lug to end lug of each track [ohm], such as "250k".
    taper : Taper or str
        Taper of the half in which a track falls: from the remaining share of that half to the
        fraction of the track below the wiper.
    tolerance : float or str, optional
        Plus or minus this share of the resistance; 20 % is usual.
    source : str
        Where the values come from.
    unusual : bool
        As in `Coil`.

    Raises
    ------
    BadValue
        If a value is out of range.

    Notes
    -----
    With rotation x from 0 to 1 and the taper t, the second track is at t(min(1, 2 x)), the first
    at t(min(1, 2 (1 - x))). R(high, wiper) = R (1 - t), R(wiper, low) = R t.

    References
    ----------
    Two tracks that do not change over half the travel: common practice, no source. The straight
    fall over the other half is an assumption; measure yours.

    Examples
    --------
    >>> BlendPot("250k").label()
    '250 kΩ twice, blend, linear'
    """

    resistance: Measurable = quantity(
        "ohm",
        at_least=1,
        at_most=1e9,
        hint="'M' is mega, 'm' is a thousandth",
        usual=("5k", "4.9M", "25k to 1M: " + PRACTICE),
    )
    taper: Written[Taper | str, Taper] = other(default="linear")
    tolerance: MaybeNumber = tolerance(default=None)
    source: str = ""
    unusual: bool = insistence(default=False)

    lugs: ClassVar = tuple(
        f"{track}_{lug}" for track in ("first", "second") for lug in ("high", "wiper", "low")
    )
    main: ClassVar = "mark"
    controls: ClassVar = {"mark": Control(Pot.controls["mark"].spec, 5.0)}
    usual_tolerance: ClassVar = {"resistance": 0.2}  # as of other panel pots

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "taper", read_taper(self.taper))

    def label(self) -> str:
        """Describe the part in a few words."""
        return f"{format_value(self.resistance, 'ohm')} twice, blend, {self.taper}"

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the two halves of each track into a netlist."""
        for track, part_of in (("first", _falling), ("second", _rising)):
            below = apply(partial(self._below, part_of), values.mark)
            upper, lower = values.resistance * (1 - below), values.resistance * below
            net.resistor(f"{track}_upper", f"{track}_high", f"{track}_wiper", upper)
            net.resistor(f"{track}_lower", f"{track}_wiper", f"{track}_low", lower)

    def _below(self, part_of: Callable[[Any], Any], mark: Any) -> Any:
        return self.taper(part_of(mark / 10))


def _rising(rotation: Any) -> Any:
    return np.minimum(1.0, 2 * rotation)


def _falling(rotation: Any) -> Any:
    return _rising(1 - rotation)
