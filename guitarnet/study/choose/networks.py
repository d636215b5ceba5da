"""Forms of two-lug networks to search, and the values to try."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...errors import BadSetting, a, listed, mapped
from ...gate import computing
from ...parts.base import Part
from ...parts.two_lug import (
    Capacitor,
    Network,
    Resistor,
    in_parallel,
    in_series,
    parallel_bleed,
    series_bleed,
)
from ...preferred import preferred_values
from ...units import Quantity

__all__ = [
    "FORMS",
    "Form",
    "combinations",
    "count_parts",
    "read_candidates",
    "read_price",
    "thinned",
]

_LIMITS = {"F": Quantity("F", above=0, at_most=1), "ohm": Quantity("ohm", above=0, at_most=1e9)}
_DEFAULT = {"F": ("100p", "10n"), "ohm": ("10k", "1M")}
_PRICE = Quantity("number", at_least=0)
_PLURAL = {"F": "capacitors", "ohm": "resistors"}


@dataclass(frozen=True)
class Form:
    """One form of network.

    Parameters
    ----------
    name : str
        Name in tables.
    units : tuple of str
        Unit of each of its values, "F" or "ohm".
    siemens : callable
        Admittance [S] from s = j w [1/s] and the values.
    part : callable
        The part with these values.
    """

    name: str
    units: tuple[str, ...]
    siemens: Callable[..., Any]
    part: Callable[..., Part]

    def made(self, values: Iterable[float]) -> Part:
        """Make the part with these values, which a search has found."""
        with computing():
            return self.part(*(float(value) for value in values))

    def admittance(self, frequency: np.ndarray, values: np.ndarray) -> np.ndarray:
        """Admittance [S] of many candidates: one row for each, one column for each frequency."""
        s = 2j * np.pi * frequency
        return self.siemens(s, *(column[:, None] for column in np.asarray(values, float).T))


def _series_with_parallel(capacitance: float, across: float, before: float) -> Network:
    return in_series(Resistor(before), in_parallel(Resistor(across), Capacitor(capacitance)))


FORMS = {
    form.name: form
    for form in (
        Form("capacitor", ("F",), lambda s, c: s * c, Capacitor),
        Form("parallel", ("F", "ohm"), lambda s, c, r: s * c + 1 / r, parallel_bleed),
        Form("series", ("F", "ohm"), lambda s, c, r: s * c / (1 + s * c * r), series_bleed),
        Form(
            "series with parallel",
            ("F", "ohm", "ohm"),
            lambda s, c, across, before: 1 / (before + 1 / (s * c + 1 / across)),
            _series_with_parallel,
        ),
    )
}
"""Every form: C; C parallel R; C + R; R + (C parallel R)."""


def read_candidates(series: Any, given: Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Values to try, by unit.

    Parameters
    ----------
    series : str
        Series of preferred values, such as "E12", for units that are not given.
    given : mapping of str to list, or None
        Values by unit.

    Returns
    -------
    dict of str to numpy.ndarray
        Rising values in SI.

    Raises
    ------
    BadSetting
        If a list is empty.
    BadValue
        If the series is unknown or a value is out of range.
    """
    candidates = {}
    for unit, (low, high) in _DEFAULT.items():
        listed_values = given.get(unit)
        if listed_values is None:
            candidates[unit] = preferred_values(series, low, high)
            continue
        values = listed(listed_values, _PLURAL[unit], "give a list of values")
        read = [_LIMITS[unit].read(value, _PLURAL[unit]) for value in values]
        if not read:
            raise BadSetting(_PLURAL[unit], "is an empty list", "give at least one value")
        candidates[unit] = np.unique(np.array(read, dtype=float))
    return candidates


def combinations(lists: Sequence[np.ndarray]) -> np.ndarray:
    """Every combination of values, one row for each; the last value changes fastest."""
    grids = np.meshgrid(*lists, indexing="ij")
    return np.stack([grid.ravel() for grid in grids], axis=-1)


def thinned(lists: Sequence[np.ndarray], most: int) -> list[np.ndarray]:
    """Every n-th value of each list, with at most ``most`` combinations."""
    kept, step = list(lists), 1
    while math.prod(len(values) for values in kept) > most:
        step += 1
        kept = [values[::step] for values in lists]
    return kept


def read_price(price: Any) -> dict[str, float]:
    """Read prices of the two kinds of part."""
    fix = "give prices of 'capacitor' and 'resistor'"
    prices = {}
    for kind, money in mapped({} if price is None else price, "price", fix).items():
        if kind not in ("capacitor", "resistor"):
            raise BadSetting("price", f"{kind!r} is no part of a bleed", fix)
        read = _PRICE.read(money, f"price of a {kind}")
        assert read is not None
        prices[kind] = read
    return prices


def count_parts(part: Part | None) -> tuple[int, int]:
    """Count the capacitors and the resistors of a two-lug network."""
    if part is None:
        return 0, 0
    if isinstance(part, Network):
        counts = [count_parts(inner) for inner in part.elements]
        return sum(count[0] for count in counts), sum(count[1] for count in counts)
    if isinstance(part, (Capacitor, Resistor)):
        return int(isinstance(part, Capacitor)), int(isinstance(part, Resistor))
    raise BadSetting("network", f"{a(type(part))} is no two-lug part", "give a capacitor or such")
