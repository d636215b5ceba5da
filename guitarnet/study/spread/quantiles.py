"""Quantiles over many guitars, as numbers and as a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, listed, mapped
from ...gate import public
from ...table import Table
from ...units import Quantity, float_array, format_value
from ..response.arrays import read_array

__all__ = ["between", "quantile_table", "quantiles", "read_levels"]

_LEVELS = Quantity("fraction", at_least=0, at_most=1)


@public
def quantiles(values: xr.DataArray, levels: Any = (0.05, 0.5, 0.95)) -> xr.DataArray:
    """Values under which given shares of the samples lie.

    Parameters
    ----------
    values : xarray.DataArray
        Anything along ``sample``: a level [dB], a peak's frequency.
    levels : sequence of float or str
        Shares, rising: 0.5 or "50%" is the median.

    Returns
    -------
    xarray.DataArray
        ``quantile`` in place of ``sample``, first. Silence (-inf) counts as the lowest; NaN
        where any sample is NaN.

    Raises
    ------
    BadSetting
        If there is no dimension ``sample``, or the levels do not rise.
    BadValue
        If a level is not from 0 to 1.

    Notes
    -----
    Between the two samples next to a share, by a straight line (definition 7 of the reference).

    References
    ----------
    R. J. Hyndman, Y. Fan, Sample quantiles in statistical packages, The American Statistician 50
    (1996) 361-365, doi:10.2307/2684934.

    Examples
    --------
    >>> import xarray as xr
    >>> quantiles(xr.DataArray([4.0, 1.0, 2.0, 3.0, 5.0], dims="sample"), [0, 0.25, 1]).values
    array([1., 2., 5.])
    """
    shares = read_levels(levels)
    fix = "give what was computed from spread()"
    if not isinstance(values, xr.DataArray) or "sample" not in values.dims:
        raise BadSetting("quantiles", "there is no dimension 'sample'", fix)
    if not values.sizes["sample"]:
        raise BadSetting("quantiles", "there are no samples", fix)
    read_array(values, "quantiles", fix)
    if np.iscomplexobj(values):
        raise BadSetting(
            "quantiles", "complex numbers have no order", "give level_db(h), or a measure"
        )
    found = xr.apply_ufunc(
        lambda data: between(data, shares),
        values,
        input_core_dims=[["sample"]],
        output_core_dims=[["quantile"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"quantile": shares.size}, "allow_rechunk": True},
        keep_attrs=True,
    )
    axis = xr.Variable("quantile", shares, {"units": "1", "long_name": "share of samples below"})
    return found.transpose("quantile", ...).assign_coords(quantile=axis)


def read_levels(levels: Any) -> np.ndarray:
    """Read shares that rise."""
    like = "give shares, as (0.05, 0.5, 0.95)"
    single = isinstance(levels, (str, float, int))
    given = [levels] if single else listed(levels, "levels", like)
    shares = np.array([_LEVELS.read(level, "levels") for level in given], dtype=float)
    if not shares.size or (np.diff(shares) <= 0).any():
        raise BadSetting(
            "levels", "do not rise from one to the next", "give them as (0.05, 0.5, 0.95)"
        )
    return shares


def between(values: np.ndarray, shares: np.ndarray, read: Any = None) -> np.ndarray:
    """Quantiles along the last axis; ``read`` turns the samples next to them into their unit."""
    count = values.shape[-1]
    place = shares * (count - 1)
    low = np.floor(place).astype(int)
    high = np.minimum(low + 1, count - 1)
    order = np.partition(values, np.unique([low, high]), axis=-1)
    under, over = order[..., low], order[..., high]
    if read is not None:
        under, over = read(under), read(over)
    part = place - low
    # Next to silence there is no straight line: all of it is silent.
    still = (part == 0) | (over == under) | np.isneginf(under)
    with np.errstate(invalid="ignore"):  # silence minus silence
        step = np.where(still, 0.0, part * (over - under))
    # A NaN is sorted to the end, and would hide there.
    gone = np.isnan(values).any(axis=-1, keepdims=True)
    return np.where(gone, np.nan, under + step)


@public(measures=None, nominal=None)
def quantile_table(
    measures: Mapping[str, xr.DataArray],
    nominal: Mapping[str, xr.DataArray] | None = None,
    levels: Any = (0.05, 0.5, 0.95),
) -> Table:
    """Table of quantiles, a row for each measure.

    Parameters
    ----------
    measures : mapping of str to xarray.DataArray
        One number for each sample, by what the row is called: {"peak": peak(h).frequency}.
    nominal : mapping of str to xarray.DataArray, optional
        What the guitar gives with every part as it is marked, by the same names.
    levels : sequence of float or str
        Shares, as in `quantiles`.

    Returns
    -------
    Table
        Numbers with the unit of each measure.

    Raises
    ------
    BadSetting
        If there is no mapping, a measure has other dimensions than ``sample``, or no nominal
        value beside it.

    Examples
    --------
    >>> from guitarnet import Pickup, jack_resistance, layouts
    >>> from guitarnet.study.spread.tolerance import spread
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> print(quantile_table({"jack": jack_resistance(guitar, **spread(guitar, 999, seed=1))}))
          5 %      50 %     95 %
    jack  5.78 kΩ  6.04 kΩ  6.31 kΩ
    """
    shares = read_levels(levels)
    rows = []
    if nominal is not None:
        mapped(nominal, "nominal", "give what it is without spread, by the same names")
    for name, values in mapped(measures, "measures", "give {'peak': peak(h).frequency}").items():
        dims = getattr(values, "dims", ())
        if dims != ("sample",):
            raise BadSetting(
                name,
                f"runs along {', '.join(map(str, dims)) or 'nothing'}, not along sample",
                "choose one of each other dimension, as .sel(volume=5)",
            )
        unit = str(values.attrs.get("units", ""))
        row = [_shown(value, unit) for value in quantiles(values, shares).values]
        if nominal is not None:
            if name not in nominal:
                raise BadSetting(name, "has no nominal value", "give it, or leave nominal out")
            own = float_array(nominal[name], f"nominal {name}", "give one number")
            if own.size != 1:
                raise BadSetting(f"nominal {name}", "is not one number", "give one")
            row.insert(0, _shown(float(own.item()), unit))
        rows.append((name, *row))
    heads = [f"{100 * share:g} %" for share in shares]
    first = ["", "as marked"] if nominal is not None else [""]
    return Table([*first, *heads], rows)


def _shown(value: float, unit: str) -> str:
    if np.isnan(value):
        return "none"
    if np.isinf(value):
        return "silent" if unit == "dB" else "OL"
    if unit in ("dB", "1", ""):
        return f"{value:.2f} {unit}".strip(" 1") if unit != "1" else f"{value:.2f}"
    return format_value(float(f"{value:.3g}"), unit)
