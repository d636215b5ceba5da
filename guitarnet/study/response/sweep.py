"""One way through every study: settings, harnesses, one labelled array.

Numeric settings become named dimensions of one netlist; categories and builds become harnesses
of their own, stacked along dimensions of labels.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import RESERVED, Resolved, resolve, target, variants
from ...errors import BadSetting, TooLarge, a
from ...gate import public
from ...parts.base import Part
from ...units import Quantity, dimensions, format_value, plain_words

__all__ = [
    "BAND",
    "TREBLE",
    "Guitars",
    "assumed_by",
    "check_guitar",
    "cuts",
    "frequency_grid",
    "in_common",
    "labelled",
    "machine_memory",
    "order_of_dims",
    "read_builds",
    "read_frequency",
    "sweep",
]

_HZ = Quantity("Hz", at_least=0)
_POSITIVE_HZ = Quantity("Hz", above=0)
_PER_DECADE = Quantity("number", at_least=1, at_most=1e5)
POINTS_PER_DECADE = 200
BAND = (200.0, 5000.0)
"""Where shapes are compared [Hz], unless another band is asked for."""
TREBLE = 3000.0
"""Where the treble is told against the bass [Hz], unless another frequency is asked for."""

Guitars = Harness | Mapping[str, Harness]
"""One guitar, or several by label."""

Compute = Callable[[Harness, Resolved], xr.Variable]


@public
def frequency_grid(
    low: float | str = 20.0, high: float | str = 20e3, *, per_decade: int = POINTS_PER_DECADE
) -> np.ndarray:
    """Logarithmic grid of frequencies.

    Parameters
    ----------
    low, high : float or str
        First and last frequency [Hz], both included and above zero.
    per_decade : int
        Points for a factor of ten.

    Returns
    -------
    numpy.ndarray
        Frequencies [Hz], ascending, one dimension.

    Raises
    ------
    BadValue
        If a frequency is zero or negative.
    BadSetting
        If the range is empty.

    Examples
    --------
    >>> frequency_grid(100, "1 kHz", per_decade=2).round(1).tolist()
    [100.0, 316.2, 1000.0]
    """
    first = _POSITIVE_HZ.read(low, "frequency_grid.low")
    last = _POSITIVE_HZ.read(high, "frequency_grid.high")
    assert first is not None
    assert last is not None
    if not first < last:
        raise BadSetting(
            "frequency_grid", f"{low!r} to {high!r} is an empty range", "give low below high"
        )
    density = _PER_DECADE.read(per_decade, "frequency_grid.per_decade")
    assert density is not None
    count = max(2, round(math.log10(last / first) * density) + 1)
    return _plain(np.geomspace(first, last, count))


def _plain(values: np.ndarray) -> np.ndarray:
    """Round to 13 digits: 200 Hz in a grid is 200 on every processor, not a hair beside."""
    return np.array([float(f"{value:.13g}") for value in values])


def read_frequency(frequency: Any) -> np.ndarray:
    """Read frequencies [Hz] as people give them: None for the default grid, a number or a list."""
    if frequency is None:
        return frequency_grid()
    given = frequency if dimensions(frequency, "frequency") else [frequency]
    if len(given) == 0:
        raise BadSetting("frequency", "is an empty list", "give at least one frequency")
    if (count := dimensions(given, "frequency")) > 1:
        raise BadSetting("frequency", f"has {count} dimensions", "give one list")
    if isinstance(given, (np.ndarray, xr.DataArray)) and np.asarray(given).dtype.kind in "fiu":
        values = np.asarray(given, dtype=float)
        _HZ.check(values, "frequency")
    else:
        values = np.array([_HZ.read(value, "frequency") for value in given], dtype=float)
    if (np.diff(values) <= 0).any():
        raise BadSetting("frequency", "does not rise from point to point", "sort it, each once")
    return values


def sweep(
    builds: Guitars,
    settings: Mapping[str, Any],
    compute: Compute,
    *,
    points: int,
    dim: str = "build",
    left_out: type[Part] | None = None,
) -> tuple[xr.Variable, dict[str, xr.Variable], dict[str, str]]:
    """Compute one labelled array over builds, categories and numeric sweeps.

    Parameters
    ----------
    builds : Harness, or mapping of str to Harness
        One guitar, or several by label; several become the dimension ``dim``.
    settings : mapping
        Settings as a person writes them.
    compute : callable
        From a harness and its resolved settings to an array whose dimensions are those of the
        settings, perhaps followed by others.
    points : int
        How many complex numbers ``compute`` returns for one setting; for the memory guard.
    dim : str
        Name of the dimension of builds.
    left_out : type of Part, optional
        Kind of part that ``compute`` removes, and that is not to be told.

    Returns
    -------
    values : xarray.Variable
        Dimensions: builds, then settings in the order given, then what ``compute`` adds.
    coords : dict of str to xarray.Variable
        Coordinates of builds and settings.
    told : dict of str to str
        What a figure must state: ``assumptions``, and the parts of the ``guitar`` that are the
        same in every harness.

    Raises
    ------
    BadSetting, BadValue, BadHarness
        If a setting or a harness is not right.
    TooLarge
        If the result would not fit in memory.
    """
    if isinstance(builds, (list, tuple)):
        raise BadSetting(
            dim,
            f"{a(type(builds))} is not a mapping of labels to guitars",
            "give {'no bleed': guitar_1, '1 nF': guitar_2}",
        )
    several = not isinstance(builds, Harness)
    guitars = read_builds(builds, dim, settings)
    labels: dict[str, list[str]] = {dim: list(guitars)} if several else {}
    arrays: list[tuple[tuple[int, ...], xr.Variable]] = []
    said: list[tuple[str, ...]] = []
    parts: list[list[str]] = []
    coords: dict[str, xr.Variable] = {}
    order: list[str] = []
    for place, (label, guitar) in enumerate(guitars.items()):
        found, harnesses, rest = variants(guitar, settings)
        if any(labels.setdefault(name, own) != own for name, own in found.items()):
            raise BadSetting(label, "labels its categories otherwise", "give all builds the same")
        for index, harness in harnesses:
            resolved = resolve(harness, rest)
            if not arrays:
                order = order_of_dims(settings, [*labels, *resolved.dims])
                _guard(resolved, labels, points)
                coords = resolved.coords
            said.append(harness.assumptions(resolved.values))
            parts.append(_told(harness, settings, resolved, left_out))
            here = (place, *index) if several else index
            arrays.append((here, _expanded(compute(harness, resolved), resolved)))
    stacked = _stack(arrays, labels)
    first = [dim] if several else []
    own_dims = [name for name in stacked.dims if name not in labels and name not in order]
    stacked = stacked.transpose(*first, *order, *own_dims)
    for name, values in labels.items():
        attrs = {"long_name": plain_words(name)}
        coords = {**coords, name: xr.Variable((name,), np.array(values), attrs)}
    told = {"assumptions": assumed_by(said), "guitar": in_common(parts)}
    return stacked, coords, told


def labelled(
    values: xr.Variable, coords: Mapping[str, xr.Variable], name: str, attrs: Mapping[str, str]
) -> xr.DataArray:
    """Label values. `xarray.DataArray` would copy every label, which takes as long as to solve."""
    values.attrs = dict(attrs)
    key = (name,)  # no dimension's name
    return xr.Coordinates({**coords, key: values})[key].drop_vars([key]).rename(name)


def _told(
    harness: Harness,
    settings: Mapping[str, Any],
    resolved: Resolved,
    left_out: type[Part] | None,
) -> list[str]:
    """Say the parts that nothing changes, then what is set to one value."""
    told = [*harness.summary(resolved.values).items(), *_set_once(harness, settings, resolved)]
    return [
        f"{name.replace('_', ' ').replace('.', ' ')} {said}"
        for name, said in told
        if left_out is None or not isinstance(harness.parts[harness.split(name)[0]], left_out)
    ]


def _set_once(
    harness: Harness, settings: Mapping[str, Any], resolved: Resolved
) -> Iterator[tuple[str, str]]:
    """Write the settings of one value: marks and numbers. A switch tells where it stands itself."""
    for name in settings:
        if name in resolved.coords and name not in resolved.dims:
            path, spec = target(harness, name)
            if np.ndim(resolved.values[path]) == 0:
                yield name, format_value(float(resolved.values[path]), spec.unit)


def assumed_by(said: Sequence[Sequence[str]]) -> str:
    """Say what was assumed, and where that holds for some of the harnesses only."""
    return "; ".join(
        words if all(words in other for other in said) else f"{words} in some of the curves"
        for words in dict.fromkeys(words for own in said for words in own)
    )


def in_common(parts: Sequence[Sequence[str]]) -> str:
    """Say what is the same in every harness, for figures."""
    return "; ".join(
        said for said in (parts[0] if parts else ()) if all(said in other for other in parts)
    )


def _expanded(array: xr.Variable, resolved: Resolved) -> xr.Variable:
    """Repeat an array along the dimensions that do not matter to it."""
    missing = {name: n for name, n in _sizes(resolved) if name not in array.dims}
    return array.set_dims({**missing, **array.sizes}) if missing else array


def order_of_dims(settings: Mapping[str, Any], dims: Sequence[str]) -> list[str]:
    """Dimensions in the order in which the settings bring them."""
    found: dict[str, None] = {}
    for name, given in settings.items():
        own = given.dims if isinstance(given, (xr.DataArray, xr.Variable)) else [name]
        found |= dict.fromkeys(str(dim) for dim in own if dim in dims)
    return list(found)


def read_builds(builds: Any, dim: str, settings: Mapping[str, Any]) -> dict[str, Harness]:
    """Read guitars by label; one guitar alone has an empty label."""
    if isinstance(builds, Mapping):
        _check_dim(builds, dim, settings)
    guitars = dict(builds) if isinstance(builds, Mapping) else {"": builds}
    _check_builds(guitars, dim)
    return guitars


def _check_dim(guitars: Mapping[str, Any], dim: str, settings: Mapping[str, Any]) -> None:
    if not guitars:
        raise BadSetting(dim, "holds no build", "give at least one, as {'no bleed': guitar}")
    if dim != "build" and dim in RESERVED:
        raise BadSetting("dim", f"{dim!r} is a reserved word", "name the dimension otherwise")
    swept = [
        str(own)
        for given in settings.values()
        if isinstance(given, (xr.DataArray, xr.Variable))
        for own in given.dims
    ]
    if dim in (*settings, *swept):
        raise BadSetting(dim, "is a setting and the dimension of builds", "name one otherwise")


def check_guitar(guitar: Any) -> None:
    """Refuse what is no harness."""
    _check_builds({"": guitar}, "guitar")


def _check_builds(guitars: Mapping[str, Any], dim: str) -> None:
    for label, guitar in guitars.items():
        if not isinstance(label, (str, int, float)):
            raise BadSetting(dim, f"{a(type(label))} names a guitar", "name it in words", label)
        if not isinstance(guitar, Harness):
            raise BadSetting(
                f"{dim} {label!r}" if label else "guitar",
                f"{a(type(guitar))} is not a harness",
                "give a Harness, such as gn.layouts.one_pickup(...)",
            )


def _stack(
    arrays: Sequence[tuple[tuple[int, ...], xr.Variable]], labels: Mapping[str, list[str]]
) -> xr.Variable:
    """Stack arrays along dimensions of labels, the last one first."""
    level = [variable for _, variable in arrays]
    for name in reversed(list(labels)):
        size = len(labels[name])
        level = [
            xr.Variable.concat(level[first : first + size], dim=name)
            for first in range(0, len(level), size)
        ]
    return level[0]


def _guard(resolved: Resolved, labels: Mapping[str, list[str]], points: int) -> None:
    """Refuse a sweep that does not fit in memory, unless it is chunked."""
    sizes = dict(_sizes(resolved))
    if any(_is_lazy(value) for value in resolved.values.values()):
        return
    count = math.prod(sizes.values()) * math.prod(len(values) for values in labels.values())
    needed = 16 * count * points
    there = machine_memory()
    if 2 * needed <= there:
        return
    problem = (
        f"{count} settings x {points} points need {_gigabytes(needed)} and as much again to "
        f"work, this machine has {_gigabytes(there)}"
    )
    most = int(math.prod(sizes.values()) * there / (20 * needed))
    widest = sorted(sizes, key=lambda name: -sizes[name])
    cut = {n: size for n, size in cuts(sizes, most, widest).items() if size < sizes[n]}
    if not cut:
        fix = "reduce it to measures with plan_sweep(), which holds a part of it at a time"
    else:
        ways = [f"xr.DataArray(values, dims={n!r}).chunk({{{n!r}: {k}}})" for n, k in cut.items()]
        many = " and ".join(repr(name) for name in cut)
        fix = (
            f"give {many} as {'a chunked array' if len(cut) == 1 else 'chunked arrays'}, "
            f"{' and '.join(ways)}, and reduce the result to measures before .compute()"
        )
    raise TooLarge("sweep", problem, fix, needed)


def cuts(sizes: Mapping[str, int], most: int, order: Iterable[str]) -> dict[str, int]:
    """Lengths along each dimension of blocks that hold ``most`` places or little less.

    The dimensions in ``order`` are cut one after the other, no more than need be; those that are
    not named stay whole.
    """
    found = dict(sizes)
    for name in order:
        others = math.prod(found.values()) // found[name]
        found[name] = min(found[name], max(1, most // others))
    return found


def _sizes(resolved: Resolved) -> Iterator[tuple[str, int]]:
    for value in resolved.values.values():
        if isinstance(value, xr.Variable):
            for name, size in value.sizes.items():
                yield str(name), size


def _is_lazy(value: Any) -> bool:
    return isinstance(value, xr.Variable) and not isinstance(value.data, np.ndarray)


def machine_memory() -> float:
    """Bytes of memory of this machine; a cautious guess where the system does not tell."""
    try:
        return float(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES"))
    except (AttributeError, ValueError, OSError):
        return 8e9


def _gigabytes(size: float) -> str:
    return f"{size / 1e9:,.1f} GB"
