"""Bands of level over thousands of guitars, without ever holding them all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved, Settings, one_mapping, resolve
from ...errors import BadSetting, mapped
from ...gate import public
from ...solve import ac
from ...units import format_value
from ..response.labels import decibels
from ..response.response import node_at, read_reference
from ..response.sweep import read_frequency, sweep
from .quantiles import between, read_levels

__all__ = ["tolerance_band"]

_AT_ONCE = 2_000_000  # numbers sorted at once


@public
def tolerance_band(
    guitar: Harness,
    drawn: Mapping[str, xr.DataArray],
    settings: Settings = None,
    *,
    frequency: Any = None,
    levels: Any = (0.05, 0.5, 0.95),
    re: str | None = None,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    **keywords: Any,
) -> xr.DataArray:
    """Band in which the levels of many guitars lie, some frequencies at a time.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    drawn : mapping of str to xarray.DataArray
        Values along ``sample``, from `spread`, `spread_tapers` or both.
    frequency : array_like, optional
        Frequencies [Hz], rising, above 0; a logarithmic grid from 20 Hz to 20 kHz unless given.
    levels : sequence of float or str
        Shares of the guitars that lie below, as in `quantiles`.
    re : None or "reference"
        What 0 dB is: 1 V/V, or each guitar's own level at the reference frequency.
    at, reference_frequency, settings, **keywords
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Level [dB]: a dimension for each swept setting, ``quantile``, ``frequency``; -inf where
        that share is silent.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`; or if nothing was drawn.

    Notes
    -----
    The same as ``quantiles(level_db(response(guitar, **drawn)))``, but memory does not grow with
    the number of frequencies: quantiles need all samples of one frequency, and no two frequencies
    at once.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.study.spread.tolerance import spread
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> drawn = spread(guitar, 1000)
    >>> tolerance_band(guitar, drawn, frequency=["1 kHz", "5 kHz"], volume=[10, 5]).dims
    ('volume', 'quantile', 'frequency')
    """
    settings = one_mapping(settings, keywords)
    hertz = read_frequency(frequency)
    if hertz[0] == 0:
        raise BadSetting("frequency", "0 Hz has no band here", "give frequencies above 0", 0.0)
    if re not in (None, "reference"):
        raise BadSetting("re", f"{re!r} is no reference", "use None or 'reference'", re)
    mapped(drawn, "drawn", "give what spread() returns")
    if not any("sample" in getattr(value, "dims", ()) for value in drawn.values()):
        raise BadSetting("drawn", "holds nothing along 'sample'", "give what spread() returns")
    twice = set(drawn) & set(settings)
    if twice:
        raise BadSetting(min(twice), "is drawn and set", "keep one of the two")
    reference = read_reference(reference_frequency)
    shares = read_levels(levels)
    more: dict[str, xr.Variable] = {}

    def compute(harness: Harness, resolved: Resolved) -> xr.Variable:
        own = resolve(harness, drawn)
        more.update({d: own.coords[d] for d in own.dims if d != "sample" and d in own.coords})
        net = harness.stamp({**resolved.values, **own.values})
        node = node_at(harness, at)
        dims = [d for d in (*resolved.dims, *own.dims) if d != "sample" and d in net.dims()]

        def sizes(columns: np.ndarray) -> xr.Variable:
            found = ac.node_size(net, node, columns, dims=("sample", *dims))
            there = {d: n for d, n in net.dims().items() if d not in found.dims}
            return found.set_dims({**there, **found.sizes}).transpose(*dims, "frequency", "sample")

        against = sizes(np.array([reference])).values if re == "reference" else None
        size = int(np.prod(list(net.dims().values())))
        step = max(1, _AT_ONCE // size)
        pieces = []
        for first in range(0, hertz.size, step):
            volts = sizes(hertz[first : first + step]).values
            if against is not None:
                with np.errstate(invalid="ignore", divide="ignore"):
                    volts = np.where(against > 0, volts / against, 0.0)
            pieces.append(between(np.ascontiguousarray(volts), shares, decibels))
        return xr.Variable((*dims, "frequency", "quantile"), np.concatenate(pieces, -2)).transpose(
            ..., "quantile", "frequency"
        )

    found, coords, told = sweep(guitar, settings, compute, points=hertz.size * shares.size)
    coords |= more
    axis = {"units": "Hz", "long_name": "frequency"}
    coords["frequency"] = xr.Variable(("frequency",), hertz, axis)
    coords["quantile"] = xr.Variable("quantile", shares, {"units": "1"})
    words = f"re {format_value(reference, 'Hz')}" if re == "reference" else "re 1 V/V"
    count = next(v.sizes["sample"] for v in drawn.values() if "sample" in v.dims)
    told["assumptions"] = "; ".join(w for w in (said(count), told["assumptions"]) if w)
    attrs = {"units": "dB", "long_name": f"level {words}", **told}
    return xr.DataArray(found, coords=coords, name="level", attrs=attrs)


def said(count: int) -> str:
    """Say what a band is of."""
    return f"{count} guitars with parts drawn within their tolerances"
