"""Which value matters: decibels for each percent that a part is off, and shares of it all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved, Settings, one_mapping, target
from ...errors import BadSetting, NotInstalled, a, asked, listed, mapped
from ...gate import public
from ...ranking import order, ranked
from ...solve.adjoint import branch_derivatives
from ...solve.structure import LIVE, single_state
from ...units import Quantity, float_array, format_value, read_seed
from ..response.arrays import check_size
from ..response.response import node_at, read_reference
from ..response.sweep import check_guitar, read_frequency, sweep
from .tolerance import nominal, read_tolerances, tolerances_of

__all__ = ["sample_shares", "sensitivity", "sensitivity_ranking", "sobol_shares"]

_BASE = Quantity("number", at_least=8, at_most=1e6)
_STEP = 1e-30  # of a value, along the imaginary axis: its square is lost to rounding
_DECIBEL = 20 / np.log(10)  # for a change of the natural logarithm by 1


@public(values=None)
def sensitivity(
    guitar: Harness,
    settings: Settings = None,
    *,
    frequency: Any = None,
    values: Iterable[str] | None = None,
    at: str = "amp",
    re: str | None = None,
    reference_frequency: float | str = 100.0,
    **keywords: Any,
) -> xr.DataArray:
    """Decibels by which a response changes for each percent that a part's value is off.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    frequency : array_like, optional
        Frequencies [Hz], rising, above 0; a logarithmic grid from 20 Hz to 20 kHz unless given.
    values : iterable of str, optional
        Paths such as "volume.resistance", or parts for their main value; all that have a
        tolerance unless given.
    at : str
        Where to listen; see `guitarnet.response`.
    re : None or "reference"
        Whether to tell the change of the level, or that of the level re the reference frequency.
    reference_frequency : float or str
        Frequency [Hz] that "reference" refers to.
    settings, **keywords
        As in `guitarnet.response`, unchunked.

    Returns
    -------
    xarray.DataArray
        [dB/%]: a dimension for each swept setting, then ``value`` (paths) and ``frequency``.
        NaN where the guitar is silent.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`; or if a path has no value, or stands at a limit, where it has
        no slope to both sides.

    Notes
    -----
    (20/ln 10) Re(dH/d ln p / H) / 100, the slope at the value p itself: a change by 20 % is not
    20 times that. The derivative by each branch of the circuit is from the adjoint system, that
    of each branch by the part's value from a step along the imaginary axis, Im f(p + ih) / h.
    Neither is a difference of two numbers, so no digits are lost.

    References
    ----------
    S. W. Director, R. A. Rohrer, The generalized adjoint network and network sensitivities,
    IEEE Transactions on Circuit Theory 16 (1969) 318-323, doi:10.1109/TCT.1969.1082965.
    W. Squire, G. Trapp, Using complex variables to estimate derivatives of real functions, SIAM
    Review 40 (1998) 110-112, doi:10.1137/S003614459631241X.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> found = sensitivity(guitar, frequency=["100 Hz", "8 kHz"], volume=10)
    >>> found.sel(value="pickup.inductance").round(3).values.tolist()
    [0.0, -0.12]
    """
    settings = one_mapping(settings, keywords)
    hertz = read_frequency(frequency)
    if hertz[0] == 0:
        raise BadSetting("frequency", "0 Hz has no slope", "give frequencies above 0", 0.0)
    if re not in (None, "reference"):
        raise BadSetting("re", f"{re!r} is no reference", "use None or 'reference'", re)
    reference = read_reference(reference_frequency)
    columns = np.append(hertz, reference)
    paths = _paths(guitar, values)

    def compute(harness: Harness, resolved: Resolved) -> xr.Variable:
        return _over_settings(harness, resolved, node_at(harness, at), columns, paths)

    points = columns.size * len(paths)
    both, coords, told = sweep(guitar, settings, compute, points=points)
    slopes, words = both[..., :-1], "level"
    if re == "reference":
        slopes = slopes - both[..., -1]
        words = f"level re {format_value(reference, 'Hz')}"
    coords["value"] = xr.Variable(("value",), np.array(paths))
    axis = {"units": "Hz", "long_name": "frequency"}
    coords["frequency"] = xr.Variable(("frequency",), hertz, axis)
    attrs = {"units": "dB/%", "long_name": f"change of the {words} for 1 % more", **told}
    return xr.DataArray(slopes, coords=coords, name="sensitivity", attrs=attrs)


@public(tolerances=None)
def sensitivity_ranking(
    guitar: Harness,
    settings: Settings = None,
    *,
    frequency: Any = None,
    tolerances: Mapping[str, Any] | None = None,
    at: str = "amp",
    re: str | None = None,
    reference_frequency: float | str = 100.0,
    **keywords: Any,
) -> xr.Dataset:
    """Rank the values of a guitar by what their tolerance does to the response.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    frequency : array_like, optional
        Frequencies [Hz], as in `sensitivity`.
    tolerances : mapping of str to float or str, optional
        Paths to plus or minus shares, in place of `guitarnet.tolerances.tolerances_of`.
    at, re, reference_frequency, settings, **keywords
        As in `sensitivity`.

    Returns
    -------
    xarray.Dataset
        Over ``value``, the one that matters most first: ``change`` [dB], the slope times the
        tolerance, at each frequency; ``worst`` [dB], its largest size there; ``share``, the part
        of the variance at each frequency, if each value is equally probable anywhere within its
        limits.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `sensitivity` and `spread`.

    Notes
    -----
    First order: a slope, taken as far as the tolerance reaches. Beside it stands what
    `quantiles` of `spread` say, without that assumption. The variances of independent values
    add, each (slope times tolerance)² / 3 where the value is equally probable within limits.

    References
    ----------
    Variances that add: JCGM 100:2008 (GUM), 5.1.2; rectangular distribution: 4.3.7.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> sensitivity_ranking(guitar, frequency=["3 kHz"], volume=5).value.values[:2].tolist()
    ['tone.resistance', 'pickup.capacitance']
    """
    settings = one_mapping(settings, keywords)
    shares = read_tolerances(guitar, tolerances)
    slopes = sensitivity(
        guitar,
        settings,
        frequency=frequency,
        values=list(shares),
        at=at,
        re=re,
        reference_frequency=reference_frequency,
    )
    off = xr.DataArray(list(shares.values()), {"value": list(shares)})
    change = 100 * slopes * off
    worst = abs(change).max("frequency")
    square = change**2
    total = square.sum("value")
    others = [dim for dim in worst.dims if dim != "value"]
    rank = order(-worst.max(others).fillna(0).values)
    words = str(slopes.attrs["long_name"]).replace("for 1 % more", "at the upper limit")
    told = {key: slopes.attrs[key] for key in ("assumptions", "guitar")}
    found = xr.Dataset(
        {
            "change": change.assign_attrs(units="dB", long_name=words),
            "worst": worst.assign_attrs(units="dB", long_name=f"largest {words}"),
            # NaN, 0 / 0, where nothing changes the level.
            "share": (square / total).assign_attrs(units="1", long_name="share of the variance"),
        },
        coords={"tolerance": ("value", off.values, {"units": "1"})},
        attrs={**told, "assumptions": _joined(told["assumptions"], "first order in each value")},
    )
    return found.isel(value=rank)


@public(drawn=None)
def sample_shares(drawn: Mapping[str, xr.DataArray], measured: xr.DataArray) -> xr.DataArray:
    """Share of a measure's variance that goes with each value, from samples at hand.

    Parameters
    ----------
    drawn : mapping of str to xarray.DataArray
        Values along ``sample``, by path, as from `spread`.
    measured : xarray.DataArray
        What was computed from them, along ``sample``: a level, a peak's frequency.

    Returns
    -------
    xarray.DataArray
        Squared correlation along ``value``, largest first. For values drawn by themselves it is
        the share that each explains by a straight line; what is missing to 1 in all is curvature
        and joint action.

    Raises
    ------
    BadSetting
        If ``drawn`` holds no such values, or ``measured`` does not run along ``sample``, alone,
        with as many samples.

    References
    ----------
    Squared correlation as the explained share of variance: textbook.

    Examples
    --------
    >>> from guitarnet import Pickup, jack_resistance, layouts
    >>> from guitarnet.study.spread.tolerance import spread
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> drawn = spread(guitar, 500, seed=1)
    >>> str(sample_shares(drawn, jack_resistance(guitar, **drawn)).value[0].item())
    'pickup.resistance'
    """
    dims = getattr(measured, "dims", ())
    if dims != ("sample",):
        raise BadSetting(
            "measured",
            f"runs along {', '.join(map(str, dims)) or 'nothing'}, not along sample alone",
            "choose one of each other dimension, as measured.sel(volume=5)",
        )
    y = float_array(measured.values, "measured", "give what was computed from it")
    check_size(y, "measured", "give what was computed from it")
    kept = np.isfinite(y)
    if not kept.any():
        raise BadSetting("measured", "holds no finite number", "give what was computed from it")
    found = {}
    for path, values in mapped(drawn, "drawn", "give what spread() returns").items():
        if not isinstance(path, str):
            raise BadSetting("drawn", f"{a(type(path))} is no path", "give what spread() returns")
        if not isinstance(values, (xr.DataArray, xr.Variable)) or "sample" not in values.dims:
            raise BadSetting(path, "does not run along sample", "give what spread() returns")
        x = float_array(values.values, path, "give what spread() returns")
        check_size(x, path, "give what spread() returns", finite=True)
        if x.shape != y.shape:
            raise BadSetting(
                path, f"has {x.size} samples, measured {y.size}", "give what was computed from it"
            )
        spread_x, spread_y = x[kept] - x[kept].mean(), y[kept] - y[kept].mean()
        variance = (spread_x**2).sum() * (spread_y**2).sum()
        found[path] = float((spread_x * spread_y).sum() ** 2 / variance) if variance else 0.0
    names = ranked(found, lambda path: -found[path])
    return xr.DataArray(
        [found[name] for name in names],
        {"value": names},
        name="share",
        attrs={"units": "1", "long_name": "squared correlation"},
    )


@public(tolerances=None, measure=None)
def sobol_shares(
    guitar: Harness,
    measure: Callable[..., xr.DataArray],
    *,
    base: int = 512,
    seed: int = 0,
    tolerances: Mapping[str, Any] | None = None,
) -> xr.Dataset:
    """Share of a measure's variance by each value alone, and with all others (Sobol indices).

    Parameters
    ----------
    guitar : Harness
        The guitar.
    measure : callable
        From settings, values along ``sample`` by path, to one number for each sample:
        ``lambda **s: peak(response(guitar, **s)).frequency``.
    base : int
        Base count of the draws, a power of two; ``base * (number of values + 2)`` are computed.
    seed : int
        Seed of the draws.
    tolerances : mapping of str to float or str, optional
        As in `spread`.

    Returns
    -------
    xarray.Dataset
        ``first`` and ``total`` along ``value``, the largest total first; ``first_error`` and
        ``total_error``, the half-width of their 95 % intervals.

    Raises
    ------
    NotInstalled
        If the library SALib is missing.
    BadSetting, BadValue
        As in `spread`; or if the measure is not one finite number for each sample.

    References
    ----------
    A. Saltelli et al., Variance based sensitivity analysis of model output, Computer Physics
    Communications 181 (2010) 259-270, doi:10.1016/j.cpc.2009.09.018.

    Examples
    --------
    >>> from guitarnet import Pickup, jack_resistance, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> found = sobol_shares(guitar, lambda **s: jack_resistance(guitar, **s), base=64)
    >>> str(found.value[0].item())
    'pickup.resistance'
    """
    check_guitar(guitar)
    start = read_seed(seed)
    try:
        from SALib.analyze import sobol as analyse
        from SALib.sample import sobol as draw
    except ImportError as error:
        raise NotInstalled(
            "SALib", "is not installed", "install it with: pip install 'guitarnet[sensitivity]'"
        ) from error
    count = _BASE.read(base, "sobol_shares.base")
    assert count is not None
    if count % 1 or int(count).bit_count() != 1:
        raise BadSetting("sobol_shares.base", f"{count:g} is no power of two", "give 512 or 1024")
    shares = {p: s for p, s in read_tolerances(guitar, tolerances).items() if s}
    if not shares:
        raise BadSetting("tolerances", "let no value vary", "give one or more above 0")
    if not callable(measure):
        raise BadSetting(
            "measure",
            f"{a(type(measure))} is no function",
            "give one, as lambda **s: gn.jack_resistance(guitar, **s)",
        )
    middle = {path: nominal(guitar, path) for path in shares}
    problem = {
        "num_vars": len(shares),
        "names": list(shares),
        "bounds": [[middle[p] * (1 - s), middle[p] * (1 + s)] for p, s in shares.items()],
    }
    table = draw.sample(problem, int(count), calc_second_order=False, seed=start)
    settings = {path: xr.DataArray(column, dims="sample") for path, column in zip(
        shares, np.ascontiguousarray(table.T), strict=True)}  # fmt: skip
    fix = "give a function of the settings, such as lambda **s: peak(response(guitar, **s)).height"
    found = asked(measure, "measure", fix, **settings)
    result = np.asarray(getattr(found, "values", np.nan))
    plain = result.shape == (len(table),) and result.dtype.kind in "fiu"
    if not plain or not np.isfinite(result).all():
        raise BadSetting(
            "measure",
            f"gives no finite number for each of {len(table)} samples",
            "reduce every dimension but sample, and choose a measure that is always there",
        )
    if np.ptp(result) == 0:
        raise BadSetting("measure", "is the same for all samples", "choose one that varies")
    # One more, since SALib takes a seed of 0 for none, and its errors then differ from run to run.
    found = analyse.analyze(problem, result, calc_second_order=False, seed=start + 1)
    rank = order(-np.asarray(found["ST"]))
    names = {"first": "S1", "first_error": "S1_conf", "total": "ST", "total_error": "ST_conf"}
    return xr.Dataset(
        {name: ("value", np.asarray(found[key])[rank]) for name, key in names.items()},
        {"value": np.array(list(shares))[rank]},
    )


def _joined(*words: str) -> str:
    return "; ".join(word for word in words if word)


def _paths(guitar: Harness, values: Iterable[str] | None) -> list[str]:
    """Paths of the values to vary, each checked."""
    check_guitar(guitar)
    if values is None:
        return list(tolerances_of(guitar))
    like = "give paths, as ['volume.resistance']"
    given = [values] if isinstance(values, str) else listed(values, "values", like)
    if not given:
        raise BadSetting("values", "is an empty list", "give at least one path")
    paths = []
    for name in given:
        path, _ = target(guitar, name)
        if path.rpartition(".")[2] in ("mark", "track"):
            raise BadSetting(
                name, "is set by hand, not off by percent", f"give {name.split('.')[0]}.resistance"
            )
        if path in paths:
            raise BadSetting(name, "stands twice in the list", "give it once")
        paths.append(path)
    return paths


def _over_settings(
    harness: Harness, resolved: Resolved, node: str, hertz: np.ndarray, paths: list[str]
) -> xr.Variable:
    """Slopes for every setting, one after the other."""
    sizes: dict[Any, int] = {}
    for value in resolved.values.values():
        if isinstance(value, xr.Variable):
            if value.chunks:
                raise BadSetting("sensitivity", "takes no chunked array", "give it computed")
            sizes |= value.sizes
    shape = tuple(sizes[dim] for dim in resolved.dims)
    result = np.empty((*shape, len(paths), hertz.size))
    for index in np.ndindex(shape):
        place = dict(zip(resolved.dims, index, strict=True))
        values = {
            path: float(value.isel({d: i for d, i in place.items() if d in value.dims}))
            if isinstance(value, xr.Variable)
            else value
            for path, value in resolved.values.items()
        }
        result[index] = _slopes(harness, values, node, hertz, paths)
    return xr.Variable((*resolved.dims, "value", "frequency"), result)


def _slopes(
    harness: Harness, values: dict[str, Any], node: str, hertz: np.ndarray, paths: list[str]
) -> np.ndarray:
    """Decibels per percent at one setting, over paths and frequency."""
    net = harness.stamp(values)
    volts, by_branch = branch_derivatives(net, node, hertz)
    result = np.full((len(paths), hertz.size), np.nan)
    if not volts.any():
        return result
    for row, path in zip(result, paths, strict=True):
        change = np.zeros(hertz.size, complex)
        for name, rate in _rates(harness, values, path).items():
            if name in by_branch:
                change += by_branch[name] * rate
            elif single_state(net.branches[name]) != LIVE:
                raise BadSetting(
                    path, "stands at a limit and has no slope there", "set it a little off"
                )
        row[:] = _DECIBEL * (change / volts).real / 100
    return result


def _rates(harness: Harness, values: dict[str, Any], path: str) -> dict[str, complex]:
    """How every branch's value changes with the logarithm of one part's value."""
    at = values.get(path, nominal(harness, path))
    if not at:
        raise BadSetting(path, "has no value to be off from", "leave it out")

    def parted(value: Any) -> tuple[float, float]:
        """Value, and its change; what is open stays so."""
        if value is None or callable(value) or np.isinf(value):
            return 0.0, 0.0
        return value.real, value.imag / _STEP

    found = {}
    for branch in harness.stamp({**values, path: at * (1 + 1j * _STEP)}):
        value, change = parted(branch.value)
        loss, more = parted(branch.loss)
        rate = change * (1 - 1j * loss) - 1j * value * more if branch.kind == "C" else change
        if rate:
            found[branch.name] = rate
    return found
