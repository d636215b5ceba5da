"""A sweep of any size: what is asked, how it is cut into chunks, and what tells it from another.

Each chunk is a question of its own: its responses are computed, reduced to measures and let go.
"""

from __future__ import annotations

import functools
import itertools
import math
import os
import time
import tracemalloc
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping, resolve, variants
from ...errors import BadSetting, GuitarnetError, TooLarge, a, nearest, needs
from ...gate import is_whole, public
from ...identity import ByValue
from ...units import plain_words
from .question import A_MEASURE, Measure, Measured, Question, Trial, Where
from .run import ParquetFolder, ZarrStore, run
from .sweep import cuts, machine_memory, order_of_dims, read_frequency

__all__ = ["SweepPlan", "plan_sweep"]

_POINTS = 1 << 21  # numbers in one chunk: large beside the cost of a task
_TIMED = 1 << 19, 1 << 16  # numbers of which an estimate is made
_BYTES = 100  # at work for each number, at most


@public
@dataclass(frozen=True, eq=False)
class SweepPlan(ByValue):
    """A large sweep, cut into chunks and ready to be run. Made by `plan_sweep`.

    Parameters
    ----------
    question : object
        What is asked: guitars, settings, measures, frequencies, where to listen.
    sizes : mapping of str to int
        Size of each dimension.
    chunks : mapping of str to int
        Places of a chunk along each dimension.
    labelled : tuple of str
        Which dimensions are of builds and categories.
    coords : mapping of str to xarray.Variable
        Coordinates of the whole sweep.
    """

    question: Question
    sizes: Mapping[str, int]
    chunks: Mapping[str, int]
    labelled: tuple[str, ...]
    coords: Mapping[str, xr.Variable] = field(compare=False)  # follow from the rest, and are large

    @property
    def responses(self) -> int:
        """Number of responses."""
        return math.prod(self.sizes.values())

    @property
    def chunk_count(self) -> int:
        """Number of chunks."""
        return math.prod(-(-size // self.chunks[name]) for name, size in self.sizes.items())

    @property
    def nbytes(self) -> int:
        """Bytes of the measures, uncompressed."""
        found = self.trial.found.values()
        return sum(math.prod(self._shape(one, self.sizes)) * one.dtype.itemsize for one in found)

    def __str__(self) -> str:
        sizes = " x ".join(f"{name} {size:,}" for name, size in self.sizes.items())
        cut = [f"{name} {self.chunks[name]:,}" for name in self._cut]
        chunks = f"{self.chunk_count:,} chunks of {', '.join(cut)}" if cut else "1 chunk"
        return (
            f"{self.responses:,} responses at {self.question.frequency.size} frequencies "
            f"({sizes or 'one setting'}) in {chunks}; "
            f"{', '.join(self.trial.found)}: {self.nbytes / 1e6:,.3g} MB"
        )

    def places(self) -> Iterator[tuple[int, Where]]:
        """Number the chunks.

        Returns
        -------
        iterator of (int, mapping of str to slice)
            Number of each chunk, and its places along every dimension.
        """
        rows = [
            [slice(i, min(i + self.chunks[name], size)) for i in range(0, size, self.chunks[name])]
            for name, size in self.sizes.items()
        ]
        for number, row in enumerate(itertools.product(*rows)):
            yield number, dict(zip(self.sizes, row, strict=True))

    # -- running ------------------------------------------------------------------------------

    def response(self) -> xr.DataArray:
        """Give the responses themselves as a lazy array, one dask chunk for each of the plan.

        Returns
        -------
        xarray.DataArray
            As from `guitarnet.response`; nothing is computed until asked for.
        """
        both: dict[str, Measure] = {"response": lambda h: h, "level": lambda h: h.at_reference}
        lazy = replace(self, question=replace(self.question, measures=both)).dataset()
        h = lazy.response.assign_coords(at_reference=lazy.level).assign_attrs(lazy.attrs)
        if self.labelled:
            del h.attrs["guitar"]  # what all have in common; only some were tried
        return h

    def dataset(self) -> xr.Dataset:
        """Give the measures as lazy arrays, one dask chunk for each chunk of the plan.

        Returns
        -------
        xarray.Dataset
            Nothing is computed until asked for; reduce it further, write it, or compute it with
            any of dask's schedulers and progress bars.

        Raises
        ------
        BadSetting
            If a measure compares places along a dimension that is cut.
        NotInstalled
            If dask is missing.
        """
        template = self.template
        import dask.array as da

        places = xr.Dataset(
            {
                f"place of {name}": (name, da.arange(size, chunks=self.chunks[name]))
                for name, size in self.sizes.items()
            }
        )
        bare = template.drop_vars(template.coords)
        lazy = xr.map_blocks(_answer_at, places, [self.question, self.trial.sizes], template=bare)
        return lazy.assign_coords(template.coords)

    def to_zarr(
        self, path: str | os.PathLike[str], *, progress: bool | Callable[[int, int], None] = False
    ) -> xr.Dataset:
        """Run the plan and write the measures to a Zarr store, chunk by chunk.

        A run that was interrupted goes on with the chunks that the store does not hold. It runs
        on the `dask.distributed` client that is active, else on threads of this machine, as many
        as dask is configured to use; workers on other machines must see ``path``.

        Parameters
        ----------
        path : path
            Folder of the store.
        progress : bool or callable
            Show a line of progress, or call this with the chunks done and their number.

        Returns
        -------
        xarray.Dataset
            The store, opened lazily.

        Raises
        ------
        BadFile
            If the store was begun with another design, or is no such store.
        BadSetting
            If a measure compares places along a dimension that is cut.
        NotFinished
            If the cluster goes away; says how much is saved.
        NotInstalled
            If dask or zarr is missing.
        """
        needs("zarr", "sweeps")
        store = ZarrStore(self, Path(path))
        run(store, progress)
        return store.dataset()

    def to_parquet(
        self, path: str | os.PathLike[str], *, progress: bool | Callable[[int, int], None] = False
    ) -> Path:
        """Run the plan and write the measures as one long table, a Parquet file a chunk.

        Interruption, clusters and errors are as with `to_zarr`.

        Parameters
        ----------
        path : path
            Folder of the files.
        progress : bool or callable
            Show a line of progress, or call this with the chunks done and their number.

        Returns
        -------
        pathlib.Path
            The folder: a column for each dimension, each other label and each measure; what a
            measure adds of its own (frequencies) are columns too.
        """
        needs("pyarrow", "sweeps")
        run(ParquetFolder(self, Path(path)), progress)
        return Path(path)

    def estimate(self) -> dict[str, float]:
        """Time two small parts of the sweep and tell what the whole would take.

        Returns
        -------
        dict of str to float
            ``seconds`` on one core of this machine, ``points_per_second`` (frequencies of
            responses, measures included), ``chunk_bytes`` at work for one chunk at most, and
            ``bytes`` of all measures, uncompressed.
        """
        points, sizes = self.question.frequency.size, self.trial.sizes
        chunk, seconds = math.prod(self.chunks.values()), {}
        for most in _TIMED:
            some = cuts(self.chunks, max(1, most // points), self._cut)
            part = self.question.part({name: slice(0, length) for name, length in some.items()})
            began = time.process_time()
            part.answer(sizes=sizes)
            count = math.prod(some.values())
            seconds[count] = max(time.process_time() - began, 1e-9)
        tracemalloc.start()
        part.answer(sizes=sizes)
        memory = tracemalloc.get_traced_memory()[1] * chunk / count
        tracemalloc.stop()
        # A call takes some time however little it computes: a straight line through both.
        (few, short), (many, long) = min(seconds.items()), max(seconds.items())
        slope = max(0.0, long - short) / max(1, many - few)
        whole = (long + slope * (chunk - many)) * self.responses / chunk
        return {
            "seconds": whole,
            "points_per_second": self.responses * points / whole,
            "chunk_bytes": float(memory),
            "bytes": float(self.nbytes),
        }

    # -- what the measures are ----------------------------------------------------------------

    @functools.cached_property
    def trial(self) -> Trial:
        """Try the measures at both ends of every dimension that is cut."""
        h = self.question.part(self._ends(self._cut)).response()
        found = self.question.reduced(h)
        return Trial(found, self._same_by_size(h, found))

    def _check_cuts(self) -> None:
        """Refuse a measure that compares places along a dimension that is cut."""
        why = self._changed(self.trial.found, self._cut)
        if not why:
            return
        for name in self._cut:
            alone = self._changed(self.question.part(self._ends([name])).answer(), [name])
            if alone:
                break
        raise BadSetting(
            f"chunks {name!r}",
            f"a measure compares places along it ({alone or why})",
            f"keep it whole with chunks={{{name!r}: -1}}",
            self.chunks[name],
        )

    @property
    def _cut(self) -> list[str]:
        """Dimensions along which there are several chunks."""
        return [name for name, size in self.sizes.items() if self.chunks[name] < size]

    def _ends(self, names: list[str]) -> dict[str, slice]:
        """Both ends of some of the dimensions that are cut, and the first place of the others."""
        both = {name: slice(0, None, self.sizes[name] - 1) for name in names}
        return {name: both.get(name, slice(0, 1)) for name in self._cut}

    def _changed(self, together: Measured, names: list[str]) -> str:
        """Say how measures of both ends of some dimensions change where an end stands alone."""
        for place, end in ((0, slice(0, 1)), (-1, slice(-1, None))) if names else ():
            try:
                where = self._ends([]) | dict.fromkeys(names, end)
                alone = self.question.part(where).answer()
            except GuitarnetError as error:
                return str(error)
            for key, array in together.items():
                here = array.isel({name: [place] for name in names}, missing_dims="ignore")
                if not set(names) <= set(array.dims) or not _alike(here, alone[key]):
                    return f"measure {key!r} changes when it is cut"
        return ""

    def _same_by_size(self, h: xr.DataArray, found: Measured) -> bool:
        """Tell whether every measure comes out the same without phases."""
        try:
            sized = self.question.reduced(h.copy(data=np.abs(h.values)))
        except GuitarnetError:  # a measure that needs phases says so
            return False
        told = all(  # nothing but NaN would tell nothing
            any(bool(array.notnull().any()) for key, array in found.items() if key.startswith(name))
            for name in self.question.measures
        )
        return told and all(_alike(array, sized[key]) for key, array in found.items())

    @staticmethod
    def _shape(array: xr.DataArray, lengths: Mapping[str, int]) -> tuple[int, ...]:
        return tuple(lengths.get(str(dim), size) for dim, size in array.sizes.items())

    @functools.cached_property
    def template(self) -> xr.Dataset:
        """Every coordinate, and every measure as zeros in the chunks of the plan."""
        needs("dask", "sweeps")
        import dask.array as da

        self._check_cuts()
        arrays, coords = {}, dict(self.coords)
        for name, array in self.trial.found.items():
            shape, cut = self._shape(array, self.sizes), self._shape(array, self.chunks)
            arrays[name] = (array.dims, da.zeros(shape, dtype=array.dtype, chunks=cut), array.attrs)
            for key, coord in array.coords.items():
                if key == "at_reference" or set(map(str, coord.dims)) & set(self.sizes):
                    continue
                if not coords.setdefault(str(key), coord.variable).equals(coord.variable):
                    raise BadSetting(
                        f"measure {name!r}",
                        f"has another {key!r} than a measure before it",
                        f"rename its dimension, as measure(h).rename({key}='{key}_2')",
                    )
        numbers = set(self.sizes) - set(self.labelled)
        first = self.question.part(dict.fromkeys(numbers, slice(0, 1)))
        return xr.Dataset(arrays, coords, {"assumptions": first.assumptions()})


def _answer_at(places: xr.Dataset, question: Question, sizes: bool) -> xr.Dataset:
    """Compute the measures of the places of one block."""
    where = {str(p.dims[0]): slice(int(p[0]), int(p[-1]) + 1) for p in places.data_vars.values()}
    answer = question.part(where).answer(sizes=sizes)
    return xr.Dataset({name: array.variable for name, array in answer.items()})


def _alike(one: xr.DataArray, other: xr.DataArray) -> bool:
    """Tell whether two results agree but for rounding."""
    if one.dims != other.dims or one.shape != other.shape:
        return False
    if one.dtype.kind in "fc":
        return bool(np.allclose(one, other, rtol=1e-6, atol=1e-6, equal_nan=True))
    return bool((one.values == other.values).all())


# -- planning -------------------------------------------------------------------------------------


@public(measures=None)
def plan_sweep(
    guitar: Harness | Mapping[str, Harness],
    measures: Mapping[str, Measure],
    settings: Settings = None,
    *,
    frequency: Any = None,
    chunks: Mapping[str, Any] | None = None,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    source: str = "string",
    dim: str = "build",
    **keywords: Any,
) -> SweepPlan:
    """Plan a sweep of any size that is reduced to measures without ever holding the responses.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar; or builds by label, which become the dimension ``dim``.
    measures : mapping of str to callable
        Functions of a response, such as ``{"peak": gn.peak}``; each gives a labelled array, or
        several, which are then named "peak_frequency" and so on.
    settings : mapping, optional
        As in `guitarnet.response`; lists of parts, tapers and None are categories.
    frequency, at, reference_frequency, source
        As in `guitarnet.response`.
    chunks : mapping of str to int, optional
        Places of a chunk along some dimensions; -1 keeps one whole. What is not named is cut so
        that a chunk holds about two million points. Knobs are kept whole unless named, because
        measures compare their marks. A chunked array keeps its chunks.
    dim : str
        Name of the dimension of builds.
    **keywords
        The settings as keywords, in place of the mapping.

    Returns
    -------
    SweepPlan
        Print it; ``estimate()`` it; run it by ``to_zarr(path)``, ``to_parquet(path)`` or, lazily,
        ``dataset()``.

    Raises
    ------
    BadSetting, BadValue, BadHarness
        If a setting or harness is not right.
    TooLarge
        If one chunk does not fit in memory.

    Notes
    -----
    Nothing is computed to plan. Before a plan runs, each measure is tried at both ends of the
    dimensions that are cut, and refused where it does not come out the same for an end by itself.
    Where no measure needs phases, only the sizes of the responses are computed.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, peak
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> plan = plan_sweep(guitar, {"peak": peak}, {"volume": [10, 5], "cable.length": range(1, 9)})
    >>> plan.responses, plan.dataset().peak_frequency.dims
    (16, ('volume', 'cable.length'))
    """
    _check_measures(measures)
    question = Question(
        guitar,
        dict(measures),
        one_mapping(settings, keywords),
        read_frequency(frequency),
        at,
        reference_frequency,
        source,
        dim,
    )
    sizes, labelled, coords = _grid(question)
    cut = _chunks(question, sizes, labelled, coords, chunks)
    return SweepPlan(question, sizes, cut, labelled, coords)


def _check_measures(measures: Any) -> None:
    if not isinstance(measures, Mapping) or not measures:
        raise BadSetting("measures", "name no measure", "give {'peak': gn.peak}")
    for name, measure in measures.items():
        if not isinstance(name, str) or not name:
            fix = "give {'peak': gn.peak}"
            raise BadSetting("measures", f"{a(type(name))} names a measure", fix, name)
        if not callable(measure):
            raise BadSetting(f"measure {name!r}", f"{a(type(measure))} is no function", A_MEASURE)


def _grid(
    question: Question,
) -> tuple[dict[str, int], tuple[str, ...], dict[str, xr.Variable]]:
    """Sizes of the dimensions in order, which are of builds and categories, and coordinates."""
    guitars, settings = question.guitars, question.settings
    labels, harnesses, rest = variants(next(iter(guitars.values())), settings)
    resolved = resolve(next(iter(harnesses))[1], rest)
    numbers = {d: n for v in resolved.values.values() for d, n in getattr(v, "sizes", {}).items()}
    lengths = {**numbers, **{name: len(own) for name, own in labels.items()}}
    sizes = {name: lengths[name] for name in order_of_dims(settings, list(lengths))}
    if isinstance(question.guitar, Mapping):
        sizes = {question.dim: len(guitars), **sizes}
        labels = {**labels, question.dim: list(guitars)}
    coords = dict(resolved.coords)
    for name, values in labels.items():
        attrs = {"long_name": plain_words(name)}
        coords[name] = xr.Variable((name,), np.array(values), attrs)
    return sizes, tuple(labels), coords


def _chunks(
    question: Question,
    sizes: Mapping[str, int],
    labelled: tuple[str, ...],
    coords: Mapping[str, xr.Variable],
    wanted: Mapping[str, Any] | None,
) -> dict[str, int]:
    """Places of a chunk along each dimension."""
    given = {
        str(d): max(lengths)
        for value in question.settings.values()
        for d, lengths in (getattr(value, "chunksizes", None) or {}).items()
    }
    for name, length in (wanted or {}).items():
        where = f"chunks {name!r}"
        if name not in sizes:
            raise BadSetting(where, "is no dimension of the sweep", nearest(name, sizes), name)
        if not is_whole(length) or length < -1 or length == 0:
            raise BadSetting(where, f"{length!r} is no length", "give 1 or more, or -1", length)
        given[name] = sizes[name] if length == -1 else int(length)
    points = question.frequency.size + 1
    knobs = [n for n in sizes if n in coords and coords[n].attrs.get("units") == "mark"]
    # A category is a circuit of its own in any case, so cutting there costs least.
    order = sorted(sizes, key=lambda name: name not in labelled)
    start = {name: min(given.get(name, size), size) for name, size in sizes.items()}
    free = [name for name in order if name not in given and name not in knobs]
    found = cuts(start, max(1, _POINTS // points), free)
    needed = math.prod(found.values()) * points * _BYTES
    there = machine_memory()
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
