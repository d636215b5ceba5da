"""A labelled array as it is given to a measure or a figure: read in one place.

What `guitarnet.response` returns passes; what was made or changed by hand may lack a coordinate,
run backwards, or hold texts for numbers, and is refused in a sentence before anything is done.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, a

__all__ = ["above_zero", "check_size", "read_array", "read_axis", "read_response"]

_RESPONSE = "give what response() returns"
_NUMBERS = "iufc"
_SMALLEST, _LARGEST = 1e-100, 1e100  # of a finite number: its powers still fit in a float
_WORDS = ("units", "long_name", "guitar", "assumptions")


def read_response(h: Any, where: str = "response", fix: str = _RESPONSE) -> xr.DataArray:
    """Read a response over frequency."""
    if not isinstance(h, xr.DataArray) or "frequency" not in h.dims:
        raise BadSetting(where, f"{a(type(h))} is not a {where} over frequency", fix)
    return read_array(h, where, fix)


def read_array(
    h: xr.DataArray, where: str, fix: str, *, real: bool = False, rings_out: bool = False
) -> xr.DataArray:
    """Read numbers with labels: every label is a number or a text, and frequencies rise.

    What rings out may end as small as it likes, if only its largest number can be used.
    """
    if h.dtype.kind not in _NUMBERS:
        raise BadSetting(where, f"holds {h.dtype}, not numbers", fix)
    if real and h.dtype.kind == "c":
        raise BadSetting(where, "holds complex numbers", fix)
    if "frequency" in h.dims:
        read_axis(h, "frequency", where, fix)
    if not h.size:
        raise BadSetting(where, "holds nothing", fix)
    if h.chunks is None:  # what is computed later is not looked at
        check_size(h.values, where, fix, rings_out=rings_out)
    if h.name is not None and not isinstance(h.name, str):
        raise BadSetting(where, f"is named by {a(type(h.name))}, no text", fix)
    _words(h.attrs, where, fix)
    for dim in h.dims:
        if not isinstance(dim, str):
            raise BadSetting(where, f"has a dimension that is named by {a(type(dim))}", fix)
    for name, coordinate in h.coords.items():
        if name in h.dims and coordinate.dims != (name,):
            raise BadSetting(where, f"holds no values of {name}", fix)
        _coordinate(str(name), coordinate.variable, where, fix)
    return h


def read_axis(h: xr.DataArray | xr.Dataset, name: str, where: str, fix: str) -> np.ndarray:
    """Read a coordinate along its own dimension: finite numbers from 0 that rise, one or more."""
    if name not in h.coords or h.coords[name].dims != (name,):
        raise BadSetting(where, f"holds no values of {name}", fix)
    values = h.coords[name].values
    if not values.size or values.dtype.kind not in "fiu":
        raise BadSetting(where, f"holds no values of {name} that are numbers", fix)
    if not (np.isfinite(values).all() and values[0] >= 0 and (np.diff(values) > 0).all()):
        raise BadSetting(
            where,
            f"has values of {name} that are not finite, from 0 and rising",
            f"sort it, each once, as h.sortby({name!r})",
        )
    check_size(values, where, fix)
    return np.asarray(values)


def check_size(
    values: np.ndarray, where: str, fix: str, *, finite: bool = False, rings_out: bool = False
) -> None:
    """Refuse numbers, other than infinite ones, of which one cannot compute with the powers."""
    with np.errstate(over="ignore"):  # wider floats become infinite
        size = np.abs(values).astype(float, copy=False)
    if size.size and size.min() >= _SMALLEST and size.max() <= _LARGEST:
        return  # nearly always
    if finite and not np.isfinite(values).all():
        raise BadSetting(where, "holds a number that is not finite", fix)
    # A whole number that has no room for its size comes out below 0.
    small = size < (0 if rings_out and size.max() >= _SMALLEST else _SMALLEST)
    bad = (size > _LARGEST) & (size < np.inf) | small & (size != 0)
    if bad.any():
        found = size[bad][0]
        how = "large" if found > 1 else "small"
        raise BadSetting(where, f"holds a number as {how} as {found:g}", fix)


def above_zero(h: xr.DataArray, where: str = "figure") -> xr.DataArray:
    """Leave 0 Hz out, which has no place on a logarithmic axis."""
    hertz = h["frequency"].values
    if hertz[-1] == 0:
        raise BadSetting(where, "holds no frequency above 0 Hz", "compute some")
    return h if hertz[0] > 0 else h.isel(frequency=slice(1, None))


def _coordinate(name: str, held: xr.Variable, where: str, fix: str) -> None:
    """Refuse labels that are neither numbers nor texts, or no finite numbers."""
    _words(held.attrs, f"{where}, {name}", fix)
    if name == "at_reference":
        if held.dtype.kind not in _NUMBERS:
            raise BadSetting(where, f"holds {held.dtype} as {name}, not numbers", fix)
        if "frequency" in held.dims:
            raise BadSetting(where, f"holds {name} at every frequency", fix)
        check_size(held.values, where, fix)
        if np.isinf(held.values).any():
            raise BadSetting(where, f"holds an infinite {name}", fix)
        return
    if name == "reference_frequency" and (held.ndim or held.dtype.kind not in "iuf"):
        raise BadSetting(where, "does not hold one reference frequency", fix)
    if held.dtype.kind in "OUT":
        if all(isinstance(one, str) for one in held.values.flat):
            return
    elif held.dtype.kind in "biuf" and np.isfinite(held.values).all():
        check_size(held.values, where, fix)
        return
    raise BadSetting(where, f"has labels of {name} that are no finite numbers and no texts", fix)


def _words(attrs: Mapping[Any, Any], where: str, fix: str) -> None:
    for name in _WORDS:
        if not isinstance(attrs.get(name, ""), str):
            raise BadSetting(where, f"says its {name} by {a(type(attrs[name]))}, no text", fix)
