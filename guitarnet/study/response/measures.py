"""Measures of a response: levels, peak, bandwidth, treble change, effective taper.

Each takes what `guitarnet.response` returns (chunked or not) and gives labelled arrays back.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved, Settings, one_mapping
from ...errors import BadSetting, CoarseGrid, a, nearest
from ...gate import public
from ...parts.base import Drive
from ...ranking import most
from ...units import format_value, read_value
from .arrays import above_zero, read_response
from .labels import HALF_POWER, decibels, place_in_words, the_knob, value_in_words
from .resonance import Peaks, Solver, find_limits, find_peaks, solved
from .response import check_drive, node_at, read_reference
from .sweep import BAND, frequency_grid, read_frequency, sweep

__all__ = [
    "bandwidth",
    "effective_taper",
    "level_db",
    "peak",
    "phase_deg",
    "treble_change",
]

_TENTH_OF_A_DB = 10**0.01 - 1  # of the power
_NOISE = 1e-7  # dB; rounding on a flat curve is no peak


def _levels(h: xr.DataArray) -> xr.DataArray:
    """Level [dB re 1 V/V]; -inf for silence."""
    _check(h)
    # Sizes first: dask would warn of complex blocks that come out real.
    return xr.apply_ufunc(
        decibels, abs(h), dask="parallelized", output_dtypes=[float], keep_attrs=False
    )


def _sizes(h: xr.DataArray) -> xr.DataArray:
    """Size of a response, without what its reference is."""
    return abs(h.drop_vars("at_reference", errors="ignore"))


def _reference_size(h: xr.DataArray) -> xr.DataArray:
    """Size of a response at its reference frequency."""
    for name in ("at_reference", "reference_frequency"):
        if name not in h.coords:
            fix = "take it as response() returns it"
            raise BadSetting("response", f"has no coordinate {name!r}", fix)
    return abs(h.coords["at_reference"].drop_vars("at_reference"))


def reference_level(h: xr.DataArray) -> xr.DataArray:
    """Level at the reference frequency [dB re 1 V/V]."""
    return xr.apply_ufunc(
        decibels, _reference_size(h), dask="parallelized", output_dtypes=[float], keep_attrs=False
    )


def _check(h: Any) -> None:
    read_response(h)
    if h.attrs.get("units") == "dB":
        raise BadSetting(
            "response",
            "is a level in decibels already",
            "give what response() returns",
        )


@public(re=None)
def level_db(h: xr.DataArray, re: str | Mapping[str, Any] | None = None) -> xr.DataArray:
    """Level of a response in decibels.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`.
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
        if not isinstance(re, str) or re != "reference":
            raise BadSetting(
                "re", f"{re!r} is no reference", "use None, 'reference' or {'volume': 10}", re
            )
        levels = _minus(levels, reference_level(h))
        words = f"re {format_value(float(h.coords['reference_frequency']), 'Hz')}"
    else:
        levels = _minus(levels, at_place(levels, re))
        words = f"re {place_in_words(re)}"
    levels = levels.assign_coords({name: h.coords[name] for name in levels.coords})  # with units
    kept = {name: h.attrs[name] for name in ("assumptions", "guitar") if name in h.attrs}
    return levels.rename("level").assign_attrs(kept, units="dB", long_name=f"level {words}")


def _minus(levels: xr.DataArray, reference: xr.DataArray) -> xr.DataArray:
    """Subtract decibels; silence stays -inf, and a silent reference gives no number."""

    @np.errstate(invalid="ignore")  # an infinite level minus another
    def difference(level: np.ndarray, own: np.ndarray) -> np.ndarray:
        silent = np.isneginf(level)
        loud = np.where(np.isneginf(own), np.nan, own)
        return np.where(silent, -np.inf, np.where(silent, 0.0, level) - loud)

    return xr.apply_ufunc(
        difference, levels, reference, dask="parallelized", output_dtypes=[float], keep_attrs=False
    )


def at_place(array: xr.DataArray, place: Mapping[str, Any]) -> xr.DataArray:
    """Take the values at one place of some dimensions."""
    for name, value in place.items():
        if not isinstance(name, str):
            raise BadSetting("re", f"{name!r} is no setting", "give {'volume': 10}", name)
        if name not in array.dims:
            raise BadSetting(
                f"re {name}",
                f"{name!r} was not swept",
                nearest(
                    name,
                    [str(dim) for dim in array.dims if dim != "frequency"],
                    otherwise=f"give response() the setting {_setting(name, value)}",
                ),
            )
        array = array.isel({name: _index(array, name, value)}, drop=True)
    return array


def _setting(name: str, value: Any) -> str:
    """Write a list for a setting as Python takes it: a name with a dot is no argument's name."""
    given = f"[{value_in_words(value)}, ...]"
    return f"{name}={given}" if name.isidentifier() else f"**{{{name!r}: {given}}}"


def _index(array: xr.DataArray, name: str, value: Any) -> int:
    if getattr(value, "ndim", 1) == 0:  # a place as the array itself gives it
        value = value.item()
    there = array.coords[name].values if name in array.coords else np.arange(array.sizes[name])
    if there.dtype.kind in "fiu" and isinstance(value, (int, float)):
        value = read_value(value, "number", where=f"re {name}")
        found = np.flatnonzero(np.isclose(there, value, rtol=1e-9, atol=0 if value else 1e-300))
    elif isinstance(value, (str, bool, int, float)):
        found = np.flatnonzero(there == value)
    else:
        raise BadSetting(f"re {name}", f"{a(type(value))} is no place", "give one value", value)
    if not found.size:
        shown = ", ".join(value_in_words(v) for v in there[:12].tolist())
        raise BadSetting(
            f"re {name}",
            f"{value_in_words(value)} is not among {shown}",
            f"add {value_in_words(value)} to {name}",
            value,
        )
    return int(found[0])


@public
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
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), frequency=[100, 1000])
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


@public
def peak(
    of: xr.DataArray | Harness | Mapping[str, Harness],
    settings: Settings = None,
    *,
    frequency: Any = None,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    source: str = "string",
    dim: str = "build",
    **keywords: Any,
) -> xr.Dataset:
    """Resonance peak of a guitar (exact) or of a response (between the points of its grid).

    Parameters
    ----------
    of : Harness, mapping of str to Harness, or xarray.DataArray
        A guitar, or builds by label: the solver refines every peak. Or a response from
        `guitarnet.response`: the peak is interpolated between its points.
    frequency : array_like, optional
        For a guitar: range of frequencies [Hz] to search; by default 20 Hz to 20 kHz.
    at, reference_frequency, source, dim, settings, **keywords
        For a guitar: as in `guitarnet.response`.

    Returns
    -------
    xarray.Dataset
        ``frequency`` [Hz] and ``height`` [dB re the reference frequency] of the highest maximum,
        and ``q``, the frequency over the width 3 dB below. All are NaN if there is no maximum
        inside the range or grid; q is NaN below 3 dB of height, and if the range ends before the
        level has fallen by 3 dB.

    Raises
    ------
    BadSetting
        If it is neither a guitar nor a response over frequency, or a setting is not right.
    BadValue, BadHarness
        As in `guitarnet.response`.

    Warns
    -----
    CoarseGrid
        If the grid of a response cannot carry 1 % in frequency, 0.1 dB in height and 2 % in q.

    Notes
    -----
    The inverse square of the size over the square of frequency is a parabola around a resonance
    of any q. On a grid five points carry a polynomial there; what three of them give tells how
    good it is. Of a guitar the maxima are sought at 200 points a decade, and the highest is
    then computed anew at points that close in on it, to about 1e-8.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> float(peak(guitar, volume=10).frequency.round(2))
    4380.09
    >>> float(peak(response(guitar)).frequency.round(1))
    4380.1
    """
    settings = one_mapping(settings, keywords)
    if isinstance(of, (Harness, Mapping)):
        ask = _Ask(of, frequency, at, reference_frequency, source, dim, settings)
        found, coords = ask.solved(_exact_peaks, 3)
        return _peak_dataset(xr.DataArray(found, coords))
    _no_settings("peak", of, frequency, settings)
    sizes, hertz = _sizes(of), of["frequency"].values
    found = xr.apply_ufunc(
        lambda size, reference: _peaks_on_grid(size, reference, hertz),
        sizes,
        _reference_size(of),
        input_core_dims=[["frequency"], []],
        output_core_dims=[["value"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"value": 3}},
        keep_attrs=False,
    )
    return _peak_dataset(found)


def _peak_dataset(found: xr.DataArray) -> xr.Dataset:
    """Name what was found: frequency, height and q along "value"."""
    reference = format_value(float(found.coords["reference_frequency"]), "Hz")
    return xr.Dataset(
        {
            "frequency": found.isel(value=0).assign_attrs(units="Hz", long_name="peak frequency"),
            "height": found.isel(value=1).assign_attrs(
                units="dB", long_name=f"peak height re {reference}"
            ),
            "q": found.isel(value=2).assign_attrs(units="1", long_name="peak Q"),
        }
    )


def _numbers(found: Peaks, reference: np.ndarray) -> np.ndarray:
    """Frequency, height and q of peaks, for the sizes at the reference frequency."""
    with np.errstate(divide="ignore", invalid="ignore"):
        height = decibels(1 / np.sqrt(found.p) / reference)
        q = np.where(height >= HALF_POWER, found.q, np.nan)
    return np.stack([np.sqrt(found.u), height, q], axis=-1)


def _peaks_on_grid(size: np.ndarray, reference: np.ndarray, hertz: np.ndarray) -> np.ndarray:
    """Frequency, height and Q along the last axis; warns where the grid is too coarse."""
    shape = size.shape[:-1]
    found = find_peaks(hertz, size.reshape(-1, hertz.size))
    numbers = _numbers(found, np.broadcast_to(reference, shape).reshape(-1))
    there = np.isfinite(found.u)
    with np.errstate(invalid="ignore"):
        good = (found.u_error <= 0.01) & (found.p_error <= _TENTH_OF_A_DB)
        good &= np.isnan(numbers[:, 2]) | (found.width_error + found.u_error <= 0.02)
    coarse = np.flatnonzero(there & ~good)
    if coarse.size:
        _warn_coarse(
            "peak",
            numbers[coarse, 0],
            int(there.sum()),
            "1 % in frequency, 0.1 dB in height and 2 % in Q",
        )
    return numbers.reshape((*shape, 3))


def _exact_peaks(solver: Solver, rows: np.ndarray, hertz: np.ndarray, _: Any) -> np.ndarray:
    """Frequency, height and Q of some settings of a guitar; the reference is the last column."""
    size = solver.sizes(rows, hertz)
    found = find_peaks(hertz[:-1], size[:, :-1])
    solver.refine_peaks(rows, found)
    return _numbers(found, size[:, -1])


def _exact_limits(solver: Solver, rows: np.ndarray, hertz: np.ndarray, drop: float) -> np.ndarray:
    """Upper limits of some settings of a guitar."""
    size = solver.sizes(rows, hertz)
    target = size[:, -1] * 10 ** (-drop / 20)
    found = find_limits(hertz[:-1], size[:, :-1], target)
    solver.refine_limits(rows, found, target)
    return np.sqrt(found.u)[:, None]


def _warn_coarse(measure: str, at: np.ndarray, count: int, what: str) -> None:
    """Warn in one sentence that a grid is too coarse near some frequencies [Hz]."""
    where = format_value(float(np.median(at)), "Hz", digits=3)
    how_many = f" of {at.size} of {count} curves" if count > 1 else ""
    warnings.warn(
        f"{measure}: near {where} the points{how_many} are too far apart for {what}; give "
        f"{measure}() the guitar and its settings, or give response() a finer frequency_grid().",
        CoarseGrid,
        stacklevel=3,
    )


def _no_settings(measure: str, of: Any, frequency: Any, settings: Mapping[str, Any]) -> None:
    """Refuse settings beside a response, which has its own."""
    _check(of)
    if of.chunks is None and np.isinf(of.values).any():
        raise BadSetting("response", "holds an infinite number", "give what response() returns")
    given = [*(["frequency"] if frequency is not None else []), *settings]
    if given:
        raise BadSetting(
            measure,
            f"a response has its {given[0]} already",
            f"give it to response(), or give {measure}() the guitar",
        )


@dataclass(frozen=True)
class _Ask:
    """What is asked of a guitar: the arguments of `response`, to be answered exactly."""

    guitar: Harness | Mapping[str, Harness]
    frequency: Any
    at: str
    reference_frequency: float | str
    source: str
    dim: str
    settings: Mapping[str, Any]

    def solved(
        self, find: Callable[..., np.ndarray], width: int, given: Any = None
    ) -> tuple[xr.Variable, dict[str, xr.Variable]]:
        """Answer for every setting, with coordinates."""
        check_drive(self.source, "sum")
        hertz = np.append(_between(self.frequency), read_reference(self.reference_frequency))

        def compute(guitar: Harness, resolved: Resolved) -> xr.Variable:
            return solved(
                guitar,
                resolved,
                node_at(guitar, self.at),
                Drive(self.source),
                lambda solver, rows: find(solver, rows, hertz, given),
                width,
            )

        found, coords, _ = sweep(self.guitar, self.settings, compute, points=width, dim=self.dim)
        coords["reference_frequency"] = xr.Variable((), hertz[-1], {"units": "Hz"})
        return found, coords


def _between(frequency: Any) -> np.ndarray:
    """Grid on which to look first, between the ends of what was given."""
    given = read_frequency(frequency)
    if given.size < 2 or given[0] <= 0:
        raise BadSetting(
            "frequency", "is no range", "give the first and the last frequency, as (50, 15e3)"
        )
    return frequency_grid(given[0], given[-1])


@public
def bandwidth(
    of: xr.DataArray | Harness | Mapping[str, Harness],
    settings: Settings = None,
    *,
    drop: float = HALF_POWER,
    frequency: Any = None,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    source: str = "string",
    dim: str = "build",
    **keywords: Any,
) -> xr.DataArray:
    """Upper limit: where the level last falls under the reference level by ``drop``.

    Parameters
    ----------
    of : Harness, mapping of str to Harness, or xarray.DataArray
        A guitar, or builds by label: refined by the solver. Or what `guitarnet.response` gives:
        interpolated between its points.
    drop : float
        How far under the level at the reference frequency [dB]; half power unless given.
    frequency : array_like, optional
        For a guitar: range of frequencies [Hz] to search; by default 20 Hz to 20 kHz.
    at, reference_frequency, source, dim, settings, **keywords
        For a guitar: as in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Frequency [Hz]; NaN where the level never falls so far inside the range or grid.

    Raises
    ------
    BadSetting
        If it is neither a guitar nor a response over frequency, or a setting is not right.
    BadValue, BadHarness
        As in `guitarnet.response`.

    Warns
    -----
    CoarseGrid
        If the grid of a response cannot carry 1 % in frequency.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> bool(bandwidth(guitar, drop=3.01) > 5000)
    True
    """
    settings = one_mapping(settings, keywords)
    if isinstance(drop, str) or not drop > 0:
        raise BadSetting("drop", f"{drop!r} is no drop in dB", "give a number above 0, as 3.01")
    if isinstance(of, (Harness, Mapping)):
        ask = _Ask(of, frequency, at, reference_frequency, source, dim, settings)
        found, coords = ask.solved(_exact_limits, 1, float(drop))
        result = xr.DataArray(found, coords).isel(value=0)
    else:
        _no_settings("bandwidth", of, frequency, settings)
        hertz = of["frequency"].values
        result = xr.apply_ufunc(
            lambda size, reference: _limits_on_grid(size, reference, hertz, drop),
            _sizes(of),
            _reference_size(of),
            input_core_dims=[["frequency"], []],
            dask="parallelized",
            output_dtypes=[float],
            keep_attrs=False,
        )
    return result.rename("bandwidth").assign_attrs(
        units="Hz", long_name=f"upper limit at -{drop:.2f} dB"
    )


def _limits_on_grid(
    size: np.ndarray, reference: np.ndarray, hertz: np.ndarray, drop: float
) -> np.ndarray:
    """Upper limit of each curve; warns where the grid is too coarse."""
    shape = size.shape[:-1]
    target = np.broadcast_to(reference, shape).reshape(-1) * 10 ** (-drop / 20)
    found = find_limits(hertz, size.reshape(-1, hertz.size), target)
    there = np.isfinite(found.u)
    coarse = np.flatnonzero(there & ~(found.error <= 0.01))
    if coarse.size:
        at = np.sqrt(found.u[coarse])
        _warn_coarse("bandwidth", at, int(there.sum()), "1 % in frequency")
    return np.sqrt(found.u).reshape(shape)


@public
def treble_change(
    h: xr.DataArray,
    knob: str | None = None,
    *,
    re: Any = 10,
    frequencies: Sequence[float | str] = ("1 kHz", "2 kHz", "3 kHz", "5 kHz"),
    band: tuple[float | str, float | str] = BAND,
) -> xr.Dataset:
    """How the shape of a response changes as a knob is turned, whatever its level.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob and holding the mark ``re``.
    knob : str, optional
        Dimension of the knob; the one knob that was swept unless given.
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
    frequency; between grid points by the polynomial through the six nearest, over log frequency.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> h = response(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=[10, 5])
    >>> bool(treble_change(h).worst.sel(volume=5) < -1)
    True
    """
    shape = above_zero(level_db(h, re="reference"), "treble_change")
    shape = shape.where(np.isfinite(shape))
    knob = the_knob(h, knob)
    change = shape - at_place(shape, {knob: re})
    listed = [frequencies] if isinstance(frequencies, (str, float, int)) else list(frequencies)
    if not listed:
        raise BadSetting("frequencies", "is an empty list", "give at least one frequency")
    named = np.unique([read_frequency(hertz)[0] for hertz in listed])
    low, high = read_frequency(list(band))
    grid = shape["frequency"].values
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
    words = f"re {knob} {value_in_words(re)}, levels matched at the reference frequency"
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
    rows = values.reshape(-1, grid.size)
    result = np.full((len(rows), named + 2), np.nan)
    whole = np.isfinite(rows).all(axis=-1)
    finite = rows if whole.all() else rows[whole]
    low, high = wanted[named], wanted[-1]
    change = _interpolated(finite, grid, [*wanted[:named], low, high])
    inside = finite[:, (grid > low) & (grid < high)]
    band = np.concatenate([change[:, -2:-1], inside, change[:, -1:]], axis=1)
    at = most(np.abs(band))
    worst = np.take_along_axis(band, at[:, None], axis=-1)[:, 0]
    moved = np.abs(worst) > _NOISE
    result[whole] = np.column_stack(
        [change[:, :named], worst, np.where(moved, wanted[named:][at], np.nan)]
    )
    return result.reshape((*values.shape[:-1], named + 2))


def _interpolated(rows: np.ndarray, grid: np.ndarray, wanted: Sequence[float]) -> np.ndarray:
    """Values between grid points: the polynomial through the six nearest, over log frequency."""
    x, at = np.log(grid), np.log(wanted)
    count = min(6, grid.size)
    first = np.clip(np.searchsorted(x, at) - count // 2, 0, grid.size - count)
    near = first[:, None] + np.arange(count)
    one, other = x[near][:, :, None], x[near][:, None, :]
    same = np.eye(count, dtype=bool)
    factors = (at[:, None, None] - other) / np.where(same, 1.0, one - other)  # of Lagrange
    weights = np.where(same, 1.0, factors).prod(axis=-1)
    return np.asarray((rows[:, near] * weights).sum(axis=-1))


@public
def effective_taper(h: xr.DataArray, knob: str | None = None, *, re: Any = 10) -> xr.DataArray:
    """Level at the output against a knob's mark: the taper as it acts in the guitar.

    Parameters
    ----------
    h : xarray.DataArray
        From `guitarnet.response`, swept over the knob and holding the mark ``re``.
    knob : str, optional
        Dimension of the knob; the one knob that was swept unless given.
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
    knob = the_knob(h, knob)
    result = _minus(levels, at_place(levels, {knob: re}))
    return result.rename("level").assign_attrs(
        units="dB", long_name=f"level at {reference} re {knob} {value_in_words(re)}"
    )
