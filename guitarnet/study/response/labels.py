"""Words and decibels: how coordinates, places and sizes are told, everywhere alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting
from ...units import as_preferred, format_value, plain_words

__all__ = [
    "HALF_POWER",
    "decibels",
    "labels_along",
    "one_knob",
    "place_in_words",
    "settings_in_words",
    "swept_in_words",
    "the_knob",
    "value_in_words",
]

HALF_POWER = 10 * np.log10(2)
"""Half the power, "3 dB" [dB]."""
_PLAIN = ("mark", "1", "")  # units that are not written
_MANY = 6  # values that are listed before only the first and the last are


def decibels(size: Any) -> Any:
    """Write sizes as levels [dB]; -inf for 0."""
    with np.errstate(divide="ignore"):
        return 20 * np.log10(size, dtype=float)  # narrow and wide numbers too


def the_knob(h: xr.DataArray, knob: str | None = None) -> str:
    """Name the knob that was swept: the one dimension that is counted in marks, unless given."""
    if knob is not None:
        return knob
    return one_knob(
        [str(dim) for dim in h.dims if dim in h.coords and h[dim].attrs.get("units") == "mark"]
    )


def one_knob(found: Sequence[str]) -> str:
    """Take the one knob that was swept, or say why it cannot be told."""
    if len(found) == 1:
        return found[0]
    if not found:
        raise BadSetting(
            "knob", "none was swept", "give response() the marks of one, as volume=[10, 5]"
        )
    fix = f"name one of them, as knob={found[0]!r}"
    raise BadSetting("knob", f"{' and '.join(found)} were swept", fix)


def value_in_words(value: Any, unit: str = "", *, digits: int = 4) -> str:
    """Write a coordinate's value with its unit: a mark as a bare number, a label as it is."""
    if isinstance(value, (bool, np.bool_)) or not isinstance(value, (int, float, np.number)):
        return str(value)
    if unit not in _PLAIN:
        return format_value(float(value), unit, digits=digits)
    # A whole number beyond 64 bits may be no float.
    return str(value) if isinstance(value, int) and abs(value) >= 1 << 63 else f"{value:g}"


def labels_along(h: xr.DataArray, dim: str) -> list[str]:
    """Tell each place along a dimension as it was written, else as its value."""
    unit = str(h[dim].attrs.get("units", ""))
    if (written := f"{dim}_written") in h.coords:
        texts = h.coords[written].values
        return [as_preferred(str(t), v, unit) for t, v in zip(texts, h[dim].values, strict=True)]
    return [value_in_words(value, unit) for value in h[dim].values.tolist()]


def place_in_words(place: Mapping[str, Any]) -> str:
    """Say a place as people do: "volume 10", but "no bleed" for a label."""
    return ", ".join(
        value
        if isinstance(value, str)
        else f"{str(name).replace('_', ' ')} {value_in_words(value)}"
        for name, value in place.items()
    )


def swept_in_words(coords: Mapping[Any, xr.DataArray], name: str) -> str:
    """Say a condition with its values: "cable length 1 m, 3 m, 6 m"."""
    words = plain_words(name)
    if name not in coords:
        return words
    unit = coords[name].attrs.get("units", "")
    values = [value_in_words(value, unit) for value in coords[name].values.ravel().tolist()]
    if len(values) > _MANY:
        return f"{words} {values[0]} to {values[-1]}, {len(values)} of them"
    return f"{words} {', '.join(values)}"


def settings_in_words(coords: Mapping[Any, xr.DataArray], settings: Mapping[str, Any]) -> list[str]:
    """Say the settings that were given as one value each."""
    found = []
    for name, given in settings.items():
        if name in coords and not coords[name].dims:
            unit = coords[name].attrs.get("units", "")
            found.append(f"{name} = {value_in_words(coords[name].item(), unit)}")
        elif name not in coords and isinstance(given, str):  # a category
            found.append(f"{name} = {given}")
    return [f"At {', '.join(found)}"] if found else []
