"""The load across a pickup while you measure it: known values or unknowns."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...errors import BadSetting, BadValue
from ...gate import public
from ...parts.base import PRACTICE
from ...units import Quantity, format_value

__all__ = ["CAPACITANCE", "RESISTANCE", "Load", "Unknown", "admittance_of", "check_load"]

RESISTANCE = Quantity("ohm", above=0, usual=("10k", "10M", "a pot to a probe: " + PRACTICE))
CAPACITANCE = Quantity(
    "F", at_least=0, usual=("5p", "1u", "a lead to a large capacitor: " + PRACTICE)
)
_SHARE = Quantity("fraction", above=0, at_most=1)
_DISSIPATION = Quantity("number", at_least=0, at_most=1)
_STATE = (
    "give Load() for unloaded, Load('200k', '470p') for known values, "
    "or Load(capacitance=Unknown('10n')) to find one"
)


@public
@dataclass(frozen=True)
class Unknown:
    """A value that a fit must find, with a guess.

    Parameters
    ----------
    around : float or str
        The likeliest value, in the unit of its field.
    within : float or str
        Uncertainty of the guess, as a share (one standard deviation of the logarithm).
    name : str
        Name; unknowns with the same name have the same value in all curves and pickups.

    Raises
    ------
    BadValue
        If ``within`` is not a share.

    Examples
    --------
    >>> Load(capacitance=Unknown("10n", "12%", name="large capacitor")).capacitance.around
    1e-08
    """

    around: Any
    within: Any = 0.3
    name: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "within", _SHARE.read(self.within, "Unknown.within"))


def _read(value: Any, spec: Quantity, where: str) -> Any:
    if isinstance(value, Unknown):
        around = spec.entered(value.around, where)
        if not around:
            raise BadValue(where, "an unknown cannot be near zero", "give its likely value")
        return Unknown(around, value.within, value.name)
    return spec.entered(value, where)


@public
@dataclass(frozen=True)
class Load:
    """The load across the pickup's lugs while you measure it; by default none.

    Parameters
    ----------
    resistance : float, str or Unknown, optional
        Parallel resistance [ohm].
    capacitance : float, str or Unknown
        Parallel capacitance [F].
    dissipation : float or Unknown
        Dissipation factor of the capacitor, the same at every frequency.
    unusual : bool
        Whether values that hardly any load has are meant, and are no slip.

    Raises
    ------
    BadValue
        If a value is out of range.

    Examples
    --------
    >>> print(Load("200k", "470p"))
    200 kΩ, 470 pF
    """

    resistance: Any = None
    capacitance: Any = 0.0
    dissipation: Any = 0.0
    unusual: bool = dataclasses.field(default=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        if self.resistance is not None:
            ohm = _read(self.resistance, RESISTANCE, "Load.resistance")
            object.__setattr__(self, "resistance", ohm)
        object.__setattr__(
            self, "capacitance", _read(self.capacitance, CAPACITANCE, "Load.capacitance")
        )
        object.__setattr__(
            self, "dissipation", _read(self.dissipation, _DISSIPATION, "Load.dissipation")
        )

    def __str__(self) -> str:
        values = []
        if self.resistance is not None:
            values.append(_shown(self.resistance, "ohm"))
        if isinstance(self.capacitance, Unknown) or self.capacitance:
            values.append(_shown(self.capacitance, "F"))
        return ", ".join(values) or "unloaded"

    def unknowns(self) -> dict[str, Unknown]:
        """Return the unknown values by field."""
        fields = ("resistance", "capacitance", "dissipation")
        return {f: getattr(self, f) for f in fields if isinstance(getattr(self, f), Unknown)}


def _shown(value: Any, unit: str) -> str:
    if isinstance(value, Unknown):
        return value.name or f"unknown, near {format_value(value.around, unit)}"
    return format_value(value, unit)


def admittance_of(load: Load, frequency: np.ndarray, value_of: Callable[[str], Any]) -> Any:
    """Admittance [S] of a load at frequencies [Hz]; ``value_of`` gives the value of a field."""
    y = 2j * np.pi * frequency * value_of("capacitance") * (1 - 1j * value_of("dissipation"))
    return y if load.resistance is None else y + 1 / value_of("resistance")


def check_load(load: Any, where: str) -> None:
    """Refuse a missing load, and anything that is no load."""
    if load is None:
        raise BadSetting(where, "its load was not stated", _STATE)
    if not isinstance(load, Load):
        raise BadSetting(where, f"{load!r} is no load", _STATE, load)
