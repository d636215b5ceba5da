"""Measures of a response: levels, peak, bandwidth, treble change, effective taper.

Each takes what `guitarnet.response` returns (chunked or not) and gives labelled arrays back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ..errors import BadSetting, a, nearest
from ..ranking import most
from ..units import format_value
from .sweep import read_frequency

__all__ = [
    "bandwidth",
    "effective_taper",
    "level_db",
    "peak",
    "phase_deg",
    "treble_change",
]

_HALF_POWER = 10 * np.log10(2)  # "3 dB"
_BLOCK = 65536  # points
_NOISE = 1e-7  # dB; rounding on a flat curve is no peak


def _db(values: np.ndarray) -> np.ndarray:
    with np.errstate(divide="ignore"):
        return 20 * np.log10(values)


def _levels(h: xr.DataArray) -> xr.DataArray:
    """Level [dB re 1 V/V]; -inf for silence."""
    _check(h)
    # Sizes first: dask would warn of complex blocks that come out real.
    return xr.apply_ufunc(_db, abs(h), dask="parallelized", output_dtypes=[float], keep_attrs=False)


def reference_level(h: xr.DataArray) -> xr.DataArray:
    """Level at the reference frequency [dB re 1 V/V]."""
    if "at_reference" not in h.coords:
        raise BadSetting(
            "response", "has no coordinate 'at_reference'", "take it as response() returns it"
        )
    return xr.apply_ufunc(
        _db,
        abs(h.coords["at_reference"].drop_vars("at_reference")),
        dask="parallelized",
        output_dtypes=[float],
        keep_attrs=False,
    )


def _check(h: Any) -> None:
    if not isinstance(h, xr.DataArray) or "frequency" not in h.dims:
        raise BadSetting(
            "response",
            f"{a(type(h))} is not a response over frequency",
            "give what response() or compare() returns",
        )
    if h.attrs.get("units") == "dB":
        raise BadSetting(
            "response",
            "is a level in decibels already",
            "give what response() or compare() returns",
        )


def level_db(h: xr.DataArray, re: str | Mapping[str, Any] | None = None) -> xr.DataArray:
    """Level of a response in decibels.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response` or `guitarnet.compare`.
    re : None, "reference" or mapping
        What 0 dB is: None is 1 V/V; "reference" is the level at the reference frequency, each
        curve its own; a mapping such as ``{"volume": 10}`` or ``{"build": "no bleed"}`` is the
        curve at that place, frequency by frequency.

    Returns
    -------
    xarray.DataArray
        Level [dB], same dimensions; -inf where the response is exactly 0. ``long_name`` says
        what the decibels refer to.

    Raises
    ------
    BadSetting
        If the place that ``re`` names was not swept.

    Notes
    -----
    20 log10 of the ratio of sizes.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=[10, 5])
    >>> level_db(h, re={"volume": 10}).attrs["long_name"]
    'level re volume 10'
    """
    levels = _levels(h)
    if re is None:
        words = "re 1 V/V"
    elif not isinstance(re, Mapping):
        if re != "reference":
            raise BadSetting(
                "re", f"{re!r} is no reference", "use None, 'reference' or {'volume': 10}", re
            )
        levels = _minus(levels, reference_level(h))
        words = f"re {format_value(float(h.coords['reference_frequency']), 'Hz')}"
    else:
        levels = _minus(levels, at_place(levels, re))
        words = f"re {in_words(re)}"
    return levels.rename("level").assign_attrs(units="dB", long_name=f"level {words}")


def in_words(place: Mapping[str, Any]) -> str:
    """Say a place as people do: "volume 10", but "no bleed" for a label."""
    return ", ".join(
        value if isinstance(value, str) else f"{str(name).replace('_', ' ')} {_plain(value)}"
        for name, value in place.items()
    )


def _plain(value: Any) -> str:
    return f"{value:g}" if isinstance(value, (int, float)) else str(value)


def _minus(levels: xr.DataArray, reference: xr.DataArray) -> xr.DataArray:
    """Subtract decibels; silence stays -inf, and a silent reference gives no number."""
    silent = np.isneginf(levels)
    loud = reference.where(~np.isneginf(reference))
    return (levels.where(~silent) - loud).where(~silent, -np.inf)


def at_place(array: xr.DataArray, place: Mapping[str, Any]) -> xr.DataArray:
    """Take the values at one place of some dimensions."""
    for name, value in place.items():
        if name not in array.dims:
            raise BadSetting(
                f"re {name}",
                f"{name!r} was not swept",
                nearest(
                    name,
                    [str(dim) for dim in array.dims if dim != "frequency"],
                    otherwise=f"give response() the setting {name}=[{_plain(value)}, ...]",
                ),
            )
        array = array.isel({name: _index(array, name, value)}, drop=True)
    return array


def _index(array: xr.DataArray, name: str, value: Any) -> int:
    there = array.coords[name].values if name in array.coords else np.arange(array.sizes[name])
    if there.dtype.kind in "fiu" and isinstance(value, (int, float)):
        found = np.flatnonzero(np.isclose(there, value, rtol=1e-9, atol=0 if value else 1e-300))
    else:
        found = np.flatnonzero(there == value)
    if not found.size:
        shown = ", ".join(_plain(v) for v in there[:12].tolist())
        raise BadSetting(
            f"re {name}",
            f"{_plain(value)} is not among {shown}",
            f"add {_plain(value)} to {name}",
            value,
        )
    return int(found[0])


def phase_deg(h: xr.DataArray, *, unwrap: bool = False) -> xr.DataArray:
    """Phase of a response.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`.
    unwrap : bool
        Whether to remove jumps of 360 degrees along frequency.

    Returns
    -------
    xarray.DataArray
        Phase [degree], same dimensions; NaN where the response is exactly 0.

    Raises
    ------
    BadSetting
        If it is not a response over frequency, or holds sizes without phases.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), [100, 1000])
    >>> bool((phase_deg(h) < 0).all())
    True
    """
    _check(h)
    if h.dtype.kind != "c":
        raise BadSetting(
            "response", "is real and has no phase", "give what response() returns, not its size"
        )

    def angle(values: np.ndarray) -> np.ndarray:
        degrees = np.degrees(np.unwrap(np.angle(values)) if unwrap else np.angle(values))
        return np.where(values == 0, np.nan, degrees)

    result = xr.apply_ufunc(
        angle,
        h,
        input_core_dims=[["frequency"]],
        output_core_dims=[["frequency"]],
        dask="parallelized",
        dask_gufunc_kwargs={"meta": np.empty((0,) * h.ndim)},
        keep_attrs=False,
    )
    return result.rename("phase").assign_attrs(units="degree", long_name="phase")


def peak(h: xr.DataArray) -> xr.Dataset:
    """Resonance peak of a response.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`.

    Returns
    -------
    xarray.Dataset
        ``frequency`` [Hz] and ``height`` [dB re the reference frequency] of the highest maximum
        inside the grid, by a parabola through three points over log frequency, and ``q``, the
        frequency over the width 3 dB below. All NaN where there is no maximum inside the grid;
        q is NaN under 3 dB of height.

    Raises
    ------
    BadSetting
        If it is not a response over frequency.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")))
    >>> bool(4000 < peak(h).frequency < 6000)
    True
    """
    levels = _levels(h)
    log_f = np.log(h["frequency"].values)
    found = xr.apply_ufunc(
        lambda level, reference: _peaks(level, reference, log_f),
        levels.drop_vars("at_reference", errors="ignore"),
        reference_level(h),
        input_core_dims=[["frequency"], []],
        output_core_dims=[["value"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"value": 3}},
        keep_attrs=False,
    )
    reference = format_value(float(h.coords["reference_frequency"]), "Hz")
    return xr.Dataset(
        {
            "frequency": found.isel(value=0).assign_attrs(units="Hz", long_name="peak frequency"),
            "height": found.isel(value=1).assign_attrs(
                units="dB", long_name=f"peak height re {reference}"
            ),
            "q": found.isel(value=2).assign_attrs(units="1", long_name="peak Q"),
        }
    )


def _peaks(level: np.ndarray, reference: np.ndarray, log_f: np.ndarray) -> np.ndarray:
    """Frequency, height and Q along the last axis."""
    shape = level.shape[:-1]
    result = np.full((int(np.prod(shape)), 3), np.nan)
    if log_f.size >= 3:
        rows = level.reshape(-1, log_f.size)
        references = np.broadcast_to(reference, shape).reshape(-1)
        # In blocks, so that what is in between stays in the processor's cache.
        step = max(1, _BLOCK // log_f.size)
        for first in range(0, len(rows), step):
            block = slice(first, first + step)
            result[block] = _peak_rows(rows[block], references[block], log_f)
    return result.reshape((*shape, 3))


def _peak_rows(level: np.ndarray, reference: np.ndarray, log_f: np.ndarray) -> np.ndarray:
    with np.errstate(invalid="ignore"):
        rise = np.diff(level, axis=-1)
        before, after = rise[..., :-1], rise[..., 1:]
        top = (before > 0) & (after <= 0) & (before - after > _NOISE)
    at = most(np.where(top, level[..., 1:-1], -np.inf)) + 1
    there: np.ndarray = np.any(top, axis=-1)

    def take(offset: int) -> tuple[np.ndarray, np.ndarray]:
        index = at + offset
        return log_f[index], np.take_along_axis(level, index[..., None], axis=-1)[..., 0]

    (x0, y0), (x1, y1), (x2, y2) = take(-1), take(0), take(1)
    with np.errstate(invalid="ignore", divide="ignore"):
        # Parabola through three points, in divided differences.
        slope = (y1 - y0) / (x1 - x0)
        bend = ((y2 - y1) / (x2 - x1) - slope) / (x2 - x0)
        x = (x0 + x1) / 2 - slope / (2 * bend)
        y = y1 + (x - x1) * (slope + bend * (x - x0))
        height = y - reference
        low = _crossing(level, log_f, at, y - _HALF_POWER, -1)
        high = _crossing(level, log_f, at, y - _HALF_POWER, +1)
        q = np.exp(x) / (np.exp(high) - np.exp(low))
    q = np.where(height >= _HALF_POWER, q, np.nan)
    return np.where(there[..., None], np.stack([np.exp(x), height, q], axis=-1), np.nan)


def _crossing(
    level: np.ndarray, log_f: np.ndarray, start: np.ndarray, target: np.ndarray, step: int
) -> np.ndarray:
    """Log frequency at which a level first falls under a target, going out from a start."""
    last = log_f.size - 1
    index = np.arange(log_f.size, dtype=np.int32)
    begin = start.astype(np.int32)[..., None]
    under = np.less(level, target[..., None])
    under &= index < begin if step < 0 else index > begin
    # argmax finds the first, so going down is going up in the reversed order.
    outer = last - np.argmax(under[..., ::-1], -1) if step < 0 else np.argmax(under, -1)
    found = np.take_along_axis(under, outer[..., None], axis=-1)[..., 0]
    inner = np.clip(outer - step, 0, log_f.size - 1)
    y_out = np.take_along_axis(level, outer[..., None], axis=-1)[..., 0]
    y_in = np.take_along_axis(level, inner[..., None], axis=-1)[..., 0]
    share = (target - y_in) / (y_out - y_in)
    return np.where(found, log_f[inner] + share * (log_f[outer] - log_f[inner]), np.nan)


def bandwidth(h: xr.DataArray, drop: float = _HALF_POWER) -> xr.DataArray:
    """Upper limit of a response: where it last falls under the reference level by ``drop``.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`.
    drop : float
        How far under the level at the reference frequency [dB]; half power unless given.

    Returns
    -------
    xarray.DataArray
        Frequency [Hz]; NaN where the level never falls so far inside the grid.

    Raises
    ------
    BadSetting
        If it is not a response over frequency.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")))
    >>> bool(bandwidth(h) > 5000)
    True
    """
    if isinstance(drop, str) or not drop > 0:
        raise BadSetting("drop", f"{drop!r} is no drop in dB", "give a number above 0, as 3.01")
    _check(h)
    log_f = np.log(h["frequency"].values)

    def last(level: np.ndarray, reference: np.ndarray) -> np.ndarray:
        target = reference - drop
        with np.errstate(invalid="ignore", divide="ignore"):
            over = level >= target[..., None]
            start = np.where(over, np.arange(log_f.size), -1).max(axis=-1)
            result = np.exp(_crossing(level, log_f, np.maximum(start, 0), target, +1))
        return np.where((start >= 0) & np.isfinite(reference), result, np.nan)

    result = xr.apply_ufunc(
        last,
        _levels(h).drop_vars("at_reference", errors="ignore"),
        reference_level(h),
        input_core_dims=[["frequency"], []],
        dask="parallelized",
        output_dtypes=[float],
        keep_attrs=False,
    )
    return result.rename("bandwidth").assign_attrs(
        units="Hz", long_name=f"upper limit at -{drop:.2f} dB"
    )


def treble_change(
    h: xr.DataArray,
    knob: str = "volume",
    *,
    re: Any = 10,
    frequencies: Sequence[float | str] = ("1 kHz", "2 kHz", "3 kHz", "5 kHz"),
    band: tuple[float | str, float | str] = (200.0, 5000.0),
) -> xr.Dataset:
    """How the shape of a response changes as a knob is turned, whatever its level.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob and holding the mark ``re``.
    knob : str
        Dimension of the knob.
    re : float
        Mark with which every other is compared.
    frequencies : sequence of float or str
        Frequencies [Hz] at which to tell the change.
    band : pair of float or str
        Lowest and highest frequency [Hz] between which to look for the worst deviation.

    Returns
    -------
    xarray.Dataset
        ``change`` [dB] at the named frequencies (dimension ``frequency``), ``worst`` [dB], the
        deviation of largest size in the band with its sign, and ``worst_frequency`` [Hz], NaN
        where nothing changes.
        Negative: less treble than at ``re``. NaN where the guitar is silent.

    Raises
    ------
    BadSetting
        If ``re`` was not swept, or frequencies lie outside the response's grid.

    Notes
    -----
    L(f, mark) - L(f_ref, mark) - [L(f, re) - L(f_ref, re)], with f_ref the response's reference
    frequency; between grid points by a cubic spline over log frequency.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=[10, 5])
    >>> bool(treble_change(h).worst.sel(volume=5) < -1)
    True
    """
    shape = level_db(h, re="reference")
    shape = shape.where(~np.isneginf(shape))
    change = shape - at_place(shape, {knob: re})
    listed = [frequencies] if isinstance(frequencies, (str, float, int)) else list(frequencies)
    named = np.unique([read_frequency(hertz)[0] for hertz in listed])
    low, high = read_frequency(list(band))
    grid = h["frequency"].values
    if min(named[0], low) < grid[0] or max(named[-1], high) > grid[-1]:
        raise BadSetting(
            "treble_change",
            f"reaches outside the response's {grid[0]:g} to {grid[-1]:g} Hz",
            "widen the frequencies of response(), or narrow these",
        )
    inside = grid[(grid > low) & (grid < high)]
    wanted = np.concatenate([named, [low], inside, [high]])
    found = xr.apply_ufunc(
        lambda values: _changes(values, grid, wanted, named.size),
        change,
        input_core_dims=[["frequency"]],
        output_core_dims=[["named"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"named": named.size + 2}},
        keep_attrs=False,
    )
    words = f"re {knob} {_plain(re)}, levels matched at the reference frequency"
    return xr.Dataset(
        {
            "change": found.isel(named=slice(0, named.size))
            .rename(named="frequency")
            .assign_coords(frequency=("frequency", named, {"units": "Hz"}))
            .assign_attrs(units="dB", long_name=f"treble {words}"),
            "worst": found.isel(named=-2).assign_attrs(
                units="dB", long_name=f"worst deviation {low:g}-{high:g} Hz {words}"
            ),
            "worst_frequency": found.isel(named=-1).assign_attrs(units="Hz"),
        }
    )


def _changes(values: np.ndarray, grid: np.ndarray, wanted: np.ndarray, named: int) -> np.ndarray:
    """Change at the named frequencies, then the largest in the band and its frequency."""
    from scipy.interpolate import make_interp_spline  # costs half an import of numpy

    rows = values.reshape(-1, grid.size)
    result = np.full((len(rows), named + 2), np.nan)
    whole = np.isfinite(rows).all(axis=-1)
    if whole.any():
        finite = rows if whole.all() else rows[whole]
        low, high = wanted[named], wanted[-1]
        # A spline is linear in its values: for many rows the weights are found once.
        many = len(finite) > grid.size
        known = np.eye(grid.size) if many else finite.T
        spline = make_interp_spline(np.log(grid), known, k=min(3, grid.size - 1))
        between = spline(np.log([*wanted[:named], low, high]))
        change = finite @ between.T if many else between.T
        inside = finite[:, (grid > low) & (grid < high)]
        band = np.concatenate([change[:, -2:-1], inside, change[:, -1:]], axis=1)
        at = most(np.abs(band))
        worst = np.take_along_axis(band, at[:, None], axis=-1)[:, 0]
        moved = np.abs(worst) > _NOISE
        result[whole] = np.column_stack(
            [change[:, :named], worst, np.where(moved, wanted[named:][at], np.nan)]
        )
    return result.reshape((*values.shape[:-1], named + 2))


def effective_taper(h: xr.DataArray, knob: str = "volume", *, re: Any = 10) -> xr.DataArray:
    """Level at the output against a knob's mark: the taper as it acts in the guitar.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob and holding the mark ``re``.
    knob : str
        Dimension of the knob.
    re : float
        Mark whose level is 0 dB.

    Returns
    -------
    xarray.DataArray
        Level [dB re the level at ``re``] at the response's reference frequency; -inf for
        silence.

    Raises
    ------
    BadSetting
        If ``re`` was not swept.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=[10, 5, 0])
    >>> effective_taper(h).round(1).values.tolist()
    [0.0, -16.7, -inf]
    """
    _check(h)
    levels = reference_level(h)
    reference = format_value(float(h.coords["reference_frequency"]), "Hz")
    result = _minus(levels, at_place(levels, {knob: re}))
    return result.rename("level").assign_attrs(
        units="dB", long_name=f"level at {reference} re {knob} {_plain(re)}"
    )
