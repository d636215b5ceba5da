"""A response in numbers: one line for each setting, as short as it reads well."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting
from ...gate import public
from ...ranking import at_least
from ...table import Table
from ...units import Quantity, fixed, format_value
from .arrays import above_zero
from .labels import labels_along
from .measures import level_db, peak, reference_level
from .sweep import read_frequency

__all__ = ["response_table"]

_MOST = Quantity("number", at_least=1, at_most=10_000, hint="lines")
_SEEN = 0.1  # dB; a lower bump is left out, as on the live pages
_NOTHING = "\u2014"


@public
def response_table(h: xr.DataArray, frequencies: Any = (1e3, 3e3, 5e3), *, most: int = 60) -> Table:
    """Set out a response in numbers, a line for each setting.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, with any dimensions beside
        ``frequency``.
    frequencies : sequence of float or str
        Where the level is told [Hz], such as ``["1 kHz", 3000]``; those outside the response's
        own range are refused.
    most : int
        Lines at the most; how many were left out is said.

    Returns
    -------
    Table
        The settings; the level at the reference frequency [dB re 1 V/V]; the levels at
        ``frequencies`` and the height of the peak [dB re the level at the reference frequency,
        each setting its own]; frequency [Hz] and Q of the peak, of one that rises 0.1 dB or more.

    Raises
    ------
    BadSetting, BadValue
        If ``h`` is no response, or a frequency is none or out of its range.

    Notes
    -----
    Levels between two computed frequencies are read off a straight line over the logarithm of
    frequency. With the default grid that is off by less than 0.01 dB away from a sharp notch.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n")
    >>> print(response_table(response(guitar, volume=[10, 5]), ["3 kHz"]))
    volume  100 Hz  3 kHz  peak      height    Q
        10    -0.4   +2.0  4.38 kHz    +3.2  0.8
         5   -17.1  +12.4  3.39 kHz   +12.6  1.0
    dB; 100 Hz re 1 V/V, all else re 100 Hz, each line its own.
    """
    level = above_zero(level_db(h), "response")
    h = above_zero(h, "response")
    hertz = _within(h, frequencies)
    lines = _MOST.read(most, "most")
    assert lines is not None
    dims = [str(dim) for dim in h.dims if dim != "frequency"]
    told = {dim: labels_along(h, dim) for dim in dims}
    reference, top = xr.DataArray(reference_level(h)), peak(h)
    log_grid = np.log(h["frequency"].values)
    rows = []
    for place in itertools.islice(np.ndindex(*(h.sizes[dim] for dim in dims)), int(lines)):
        at = dict(zip(dims, place, strict=True))
        words = [told[dim][index] for dim, index in at.items()]
        own = float(reference.isel(at, missing_dims="ignore"))
        if np.isneginf(own):
            rows.append([*words, "silent", *[_NOTHING] * (len(hertz) + 3)])
            continue
        levels = np.interp(np.log(hertz), log_grid, level.isel(at).values) - own
        rows.append([*words, _decibels(own), *map(_decibels, levels), *_peak(top.isel(at))])
    zero = format_value(float(h.coords["reference_frequency"]), "Hz")
    columns = [
        *(str(h[dim].attrs.get("long_name", dim)) for dim in dims),
        *(zero, *(format_value(f, "Hz") for f in hertz), "peak", "height", "Q"),
    ]
    note = f"dB; {zero} re 1 V/V, all else re {zero}, each line its own."
    left = math.prod(h.sizes[dim] for dim in dims) - len(rows)
    more = f" {left} more settings are not shown." if left else ""
    return Table(columns, rows, note=note + more)


def _within(h: xr.DataArray, frequencies: Any) -> np.ndarray:
    """Read frequencies [Hz] and refuse those that were not computed."""
    hertz = read_frequency(frequencies)
    low, high = (float(h["frequency"][i]) for i in (0, -1))
    for f in hertz:
        if not low <= f <= high:
            span = f"{format_value(low, 'Hz')} to {format_value(high, 'Hz')}"
            found = f"{format_value(f, 'Hz')} is not within {span}"
            raise BadSetting("frequencies", found, "leave it out", f)
    return hertz


def _peak(found: xr.Dataset) -> list[str]:
    height, q = float(found.height), float(found.q)
    if not at_least(height, _SEEN):  # NaN as well
        return [_NOTHING] * 3
    hertz = format_value(float(found.frequency), "Hz", digits=3)
    return [hertz, _decibels(height), _NOTHING if np.isnan(q) else f"{q:.1f}"]


def _decibels(value: float) -> str:
    return f"{fixed(value, 1, sign=True)}" if at_least(abs(value), 0.05) else "0.0"
