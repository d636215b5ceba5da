"""Sweeps of any size, reduced to measures chunk by chunk: the responses are never held.

A plan cuts the grid of builds, categories and values into chunks. Each chunk is one ordinary dask
task: its responses are computed, reduced to measures and let go. So any of dask's schedulers runs
a plan, from the threads of a laptop to a cluster.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import resolve, variants
from ...errors import BadSetting, GuitarnetError, TooLarge, a, nearest
from ...gate import is_whole, public
from .large_plan import Measure, Question, SweepPlan, piece_of
from .sweep import _check_builds, _check_dim, _memory, _order, assumed_by, cuts, read_frequency

__all__ = ["plan_sweep"]

_POINTS = 1 << 21  # numbers in one chunk: large beside the cost of a task
_BYTES = 100  # at work for each of them, at most


@public(measures=None)
def plan_sweep(
    guitar: Harness | Mapping[str, Harness],
    measures: Mapping[str, Measure],
    frequency: Any = None,
    *,
    chunks: Mapping[str, Any] | None = None,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    source: str = "string",
    dim: str = "build",
    **settings: Any,
) -> SweepPlan:
    """Plan a sweep of any size that is reduced to measures without ever holding the responses.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar; or builds by label, which become the dimension ``dim``.
    measures : mapping of str to callable
        Functions of a response, such as ``{"peak": gn.peak}``; each gives a labelled array, or
        several, which are then named "peak_frequency" and so on.
    frequency, at, reference_frequency, source, **settings
        As in `response`; lists of parts, tapers and None are categories.
    chunks : mapping of str to int, optional
        Places of a chunk along some dimensions; -1 keeps one whole. What is not named is cut so
        that a chunk holds about two million points. Knobs are kept whole unless named, because
        measures compare their marks. A chunked array keeps its chunks.
    dim : str
        Name of the dimension of builds.

    Returns
    -------
    SweepPlan
        Print it; ``estimate()`` it; run it by ``to_zarr(path)``, ``to_parquet(path)`` or, lazily,
        ``dataset()``.

    Raises
    ------
    BadSetting, BadValue, BadHarness
        If a setting or harness is not right, or a measure compares places along a dimension that
        is cut.
    TooLarge
        If one chunk does not fit in memory.

    Notes
    -----
    Each measure is tried at a few corners of the sweep. A dimension is cut only where every
    measure comes out the same for two of its places together and each by itself. Where no
    measure needs phases, only the sizes of the responses are computed.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, peak
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> plan = plan_sweep(
    ...     guitar, {"peak": peak}, volume=[10, 5], **{"cable.length": range(1, 9)}
    ... )
    >>> plan.responses, plan.dataset().peak_frequency.dims
    (16, ('volume', 'cable.length'))
    """
    _check_measures(measures)
    several = not isinstance(guitar, Harness)
    guitars = dict(guitar) if isinstance(guitar, Mapping) else {"": guitar}
    if several:
        _check_dim(guitars, dim, settings)
    _check_builds(guitars, dim)
    settings = {n: list(v) if isinstance(v, range) else v for n, v in settings.items()}
    sizes, coords, numeric = _grid(guitars, settings, dim if several else None)
    question = Question(
        dict(measures), read_frequency(frequency), at, reference_frequency, source, dim
    )
    chosen = _chunks(sizes, coords, numeric, question.frequency.size + 1, settings, chunks)
    own = guitars if several else guitar
    question, found = _tried(question, own, settings, sizes, chosen)
    template = _template(found, sizes, coords)
    template.attrs["assumptions"] = _assumed(guitars, settings)
    return SweepPlan(question, own, settings, sizes, chosen, template)


def _check_measures(measures: Any) -> None:
    if not isinstance(measures, Mapping) or not measures:
        raise BadSetting("measures", "name no measure", "give {'peak': gn.peak}")
    for name, measure in measures.items():
        if not isinstance(name, str) or not name:
            fix = "give {'peak': gn.peak}"
            raise BadSetting("measures", f"{a(type(name))} names a measure", fix, name)
        if not callable(measure):
            raise BadSetting(
                f"measure {name!r}",
                f"{a(type(measure))} is no function",
                "give a function of a response, such as gn.peak",
            )


def _grid(
    guitars: Mapping[str, Harness], settings: Mapping[str, Any], dim: str | None
) -> tuple[dict[str, int], dict[str, xr.Variable], list[str]]:
    """Sizes of the dimensions in order, coordinates, and which dimensions are of numbers."""
    labels: dict[str, list[str]] = {}
    for label, guitar in guitars.items():
        found, harnesses, rest = variants(guitar, settings)
        if not labels:
            labels = dict(found)
            resolved = resolve(next(iter(harnesses))[1], rest)
        elif found != labels:
            raise BadSetting(label, "labels its categories otherwise", "give all builds the same")
    numbers = {d: n for v in resolved.values.values() for d, n in getattr(v, "sizes", {}).items()}
    lengths = {**numbers, **{name: len(own) for name, own in labels.items()}}
    order = _order(settings, list(lengths))
    sizes = {dim: len(guitars)} if dim else {}
    sizes |= {name: lengths[name] for name in order}
    coords = dict(resolved.coords)
    for name, values in [*labels.items(), *([(dim, list(guitars))] if dim else [])]:
        attrs = {"long_name": name.replace("_", " ").replace(".", " ")}
        coords[name] = xr.Variable((name,), np.array(values), attrs)
    return sizes, coords, [name for name in order if name in numbers]


def _chunks(
    sizes: Mapping[str, int],
    coords: Mapping[str, xr.Variable],
    numeric: list[str],
    points: int,
    settings: Mapping[str, Any],
    wanted: Mapping[str, int] | None,
) -> dict[str, int]:
    """Places of a chunk along each dimension."""
    given = {
        str(d): max(lengths)
        for value in settings.values()
        for d, lengths in (getattr(value, "chunksizes", None) or {}).items()
    }
    for name, length in (wanted or {}).items():
        if name not in sizes:
            raise BadSetting(
                f"chunks {name!r}", "is no dimension of the sweep", nearest(name, sizes), name
            )
        if not is_whole(length) or length < -1 or length == 0:
            raise BadSetting(
                f"chunks {name!r}", f"{length!r} is no length", "give 1 or more, or -1", length
            )
        given[name] = sizes[name] if length == -1 else int(length)
    knobs = [n for n in numeric if n in coords and coords[n].attrs.get("units") == "mark"]
    # A category is a circuit of its own in any case, so cutting there costs least.
    order = [n for n in sizes if n not in numeric] + [n for n in numeric if n not in knobs]
    start = {name: min(given.get(name, size), size) for name, size in sizes.items()}
    found = cuts(start, max(1, _POINTS // points), [n for n in order if n not in given])
    needed = math.prod(found.values()) * points * _BYTES
    there = _memory()
    if 2 * needed > there:
        longest = max(found, key=lambda name: found[name])
        fits = max(1, int(found[longest] * there / (4 * needed)))
        raise TooLarge(
            "plan_sweep",
            f"one chunk needs {needed / 1e9:,.1f} GB at work, this machine has "
            f"{there / 1e9:,.1f} GB",
            f"cut it further, as chunks={{{longest!r}: {fits}}}",
            needed,
        )
    return found


def _tried(
    question: Question,
    guitar: Any,
    settings: Mapping[str, Any],
    sizes: Mapping[str, int],
    chunks: Mapping[str, int],
) -> tuple[Question, dict[str, xr.DataArray]]:
    """Try every measure at a few corners: what it gives, and whether it may be cut there."""
    cut = [name for name, size in sizes.items() if chunks[name] < size]
    first = {n: slice(0, 1) if n in cut else slice(0, size) for n, size in sizes.items()}

    def ask(of: Question, **places: slice) -> dict[str, xr.DataArray]:
        return of.answer(*piece_of(guitar, settings, question.dim, {**first, **places}))

    found = ask(question)
    only = dataclasses.replace(question, sizes=True)
    if _same_by_size(only, ask, found):
        question = only
    for name in cut:
        ends = slice(0, 1), slice(sizes[name] - 1, sizes[name])
        pair = _pair(guitar, settings, name, sizes[name], question.dim)
        whole = question.answer(*piece_of(*pair, question.dim, {**first, name: slice(0, 2)}))
        for place, end in enumerate(ends):
            try:
                alone = ask(question, **{name: end})
            except GuitarnetError as error:
                raise _compares(name, chunks, str(error)) from None
            for key, array in whole.items():
                if name not in array.dims or not _alike(array.isel({name: [place]}), alone[key]):
                    raise _compares(name, chunks, f"measure {key!r} changes when it is cut")
    return question, found


def _pair(
    guitar: Any, settings: Mapping[str, Any], name: str, size: int, dim: str
) -> tuple[Any, dict[str, Any]]:
    """Keep the first and the last place along one dimension only."""
    ends = [0, size - 1]
    if name == dim and not isinstance(guitar, Harness):
        return {label: guitar[label] for label in np.array(list(guitar))[ends]}, dict(settings)
    own = dict(settings)
    for key, given in settings.items():
        if isinstance(given, (xr.DataArray, xr.Variable)):
            own[key] = given.isel({name: ends}) if name in given.dims else given
        elif key == name:
            own[key] = [given[0], given[-1]]
    return guitar, own


def _compares(name: str, chunks: Mapping[str, int], why: str) -> BadSetting:
    return BadSetting(
        f"chunks {name!r}",
        f"a measure compares places along it ({why})",
        f"keep it whole with chunks={{{name!r}: -1}}",
        chunks[name],
    )


def _same_by_size(
    only: Question, ask: Callable[..., dict[str, xr.DataArray]], found: Mapping[str, xr.DataArray]
) -> bool:
    try:
        sized = ask(only)
    except GuitarnetError:  # a measure that needs phases says so
        return False
    told = all(  # nothing but NaN would tell nothing
        any(bool(array.notnull().any()) for key, array in found.items() if key.startswith(name))
        for name in only.measures
    )
    return told and all(_alike(array, sized[name]) for name, array in found.items())


def _alike(one: xr.DataArray, other: xr.DataArray) -> bool:
    """Tell whether two results agree but for rounding."""
    if one.dims != other.dims or one.shape != other.shape:
        return False
    if one.dtype.kind in "fc":
        return bool(np.allclose(one, other, rtol=1e-6, atol=1e-6, equal_nan=True))
    return bool((one.values == other.values).all())


def _template(
    found: Mapping[str, xr.DataArray], sizes: Mapping[str, int], coords: Mapping[str, xr.Variable]
) -> xr.Dataset:
    """Every measure over the whole sweep, as shapes that take no memory."""
    arrays: dict[str, xr.Variable] = {}
    own: dict[str, xr.Variable] = dict(coords)
    for name, array in found.items():
        # The sweep's own dimensions first, in its order.
        dims = [d for d in sizes if d in array.dims]
        dims += [str(d) for d in array.dims if d not in sizes]
        shape = [sizes.get(d, array.sizes[d]) for d in dims]
        empty = np.broadcast_to(np.zeros((), array.dtype), shape)
        arrays[name] = xr.Variable(dims, empty, array.attrs)
        for key, coord in array.coords.items():
            if key == "at_reference" or set(map(str, coord.dims)) & set(sizes) or key in coords:
                continue
            if not own.setdefault(str(key), coord.variable).equals(coord.variable):
                raise BadSetting(
                    f"measure {name!r}",
                    f"has another {key!r} than a measure before it",
                    f"rename its dimension, as measure(h).rename({key}='{key}_2')",
                )
    return xr.Dataset(arrays, own)


def _assumed(guitars: Mapping[str, Harness], settings: Mapping[str, Any]) -> str:
    """Say what is assumed, trying each choice of every category by itself."""
    said = []
    for guitar in guitars.values():
        labels, harnesses, rest = variants(guitar, settings)
        first = next(iter(harnesses))[1]
        tried = [first]
        for name in labels:
            tried += [first.replace(name, option) for option in list(settings[name])[1:]]
        said += [harness.assumptions(resolve(harness, rest).values) for harness in tried]
    return assumed_by(said)
