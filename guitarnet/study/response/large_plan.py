"""A large sweep that is cut into chunks: what it says, and how it is run."""

from __future__ import annotations

import importlib
import itertools
import math
import os
import time
import tracemalloc
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...errors import BadSetting, NotInstalled, a, asked
from ...gate import public
from ...identity import ByValue
from .response import response

__all__ = ["Measure", "Question", "SweepPlan", "Where", "piece_of"]

Measure = Callable[[xr.DataArray], "xr.DataArray | xr.Dataset"]
Where = dict[str, slice]


@dataclass(frozen=True)
class Question:
    """What is asked of every chunk alike."""

    measures: Mapping[str, Measure]
    frequency: np.ndarray
    at: str
    reference_frequency: float | str
    source: str
    dim: str
    sizes: bool = False  # whether the sizes of the responses suffice

    def answer(self, guitar: Any, settings: Mapping[str, Any]) -> dict[str, xr.DataArray]:
        """Compute the responses of one chunk and reduce them to measures."""
        h = response(
            guitar,
            _loaded(settings),
            frequency=self.frequency,
            at=self.at,
            reference_frequency=self.reference_frequency,
            source=self.source,
            sizes=self.sizes,
            dim=self.dim,
        )
        found: dict[str, xr.DataArray] = {}
        fix = "give a function of a response, such as gn.peak"
        for name, measure in self.measures.items():
            result = asked(measure, f"measure {name!r}", fix, h)
            if isinstance(result, xr.Dataset):
                found |= {f"{name}_{own}": result[own] for own in map(str, result.data_vars)}
            elif isinstance(result, xr.DataArray):
                found[name] = result
            else:
                raise BadSetting(
                    f"measure {name!r}",
                    f"gives {a(type(result))}, no labelled array",
                    fix,
                )
        return found


def _loaded(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Take chunked values into memory; a chunk's own are few."""
    return {
        name: given.compute(scheduler="synchronous")
        if isinstance(given, (xr.DataArray, xr.Variable)) and given.chunks is not None
        else given
        for name, given in settings.items()
    }


@public
@dataclass(frozen=True, eq=False)
class SweepPlan(ByValue):
    """A large sweep, cut into chunks and ready to be run. Made by `plan_sweep`.

    Parameters
    ----------
    question : object
        What is asked of every chunk: measures, frequencies, where to listen.
    guitar : Harness, or mapping of str to Harness
        The guitar or the builds.
    settings : mapping
        Settings as they were given.
    sizes : mapping of str to int
        Size of each dimension.
    chunks : mapping of str to int
        Places of a chunk along each dimension.
    template : xarray.Dataset
        Every coordinate, and the shape of each measure.
    """

    question: Question
    guitar: Harness | Mapping[str, Harness]
    settings: Mapping[str, Any]
    sizes: Mapping[str, int]
    chunks: Mapping[str, int]
    template: xr.Dataset = field(compare=False)  # follows from the rest, and is large

    @property
    def responses(self) -> int:
        """Number of responses."""
        return math.prod(self.sizes.values())

    @property
    def chunk_count(self) -> int:
        """Number of chunks."""
        return math.prod(len(row) for row in self._edges())

    @property
    def nbytes(self) -> int:
        """Bytes of the measures, uncompressed."""
        return sum(a.size * a.dtype.itemsize for a in self.template.data_vars.values())

    def __str__(self) -> str:
        sizes = " x ".join(f"{name} {size:,}" for name, size in self.sizes.items())
        cut = [f"{n} {k:,}" for n, k in self.chunks.items() if k < self.sizes[n]]
        chunks = f"{self.chunk_count:,} chunks of {', '.join(cut)}" if cut else "1 chunk"
        return (
            f"{self.responses:,} responses at {self.question.frequency.size} frequencies "
            f"({sizes or 'one setting'}) in {chunks}; "
            f"{', '.join(map(str, self.template.data_vars))}: {self.nbytes / 1e6:,.3g} MB"
        )

    # -- running ------------------------------------------------------------------------------

    def dataset(self) -> xr.Dataset:
        """Give the measures as lazy arrays, one dask chunk for each chunk of the plan.

        Returns
        -------
        xarray.Dataset
            Nothing is computed until asked for; reduce it further, write it, or compute it with
            any of dask's schedulers and progress bars.

        Raises
        ------
        NotInstalled
            If dask is missing.
        """
        _needed("dask.array")
        import dask
        import dask.array as da

        dims = self.dims()

        def task(where: Where) -> Any:
            # A partial hides its arguments from dask, which would search them for lazy arrays.
            answer = partial(_arrays, self.question, *self.piece(where), dims)
            return dask.delayed(answer, traverse=False)()

        # A chunk is known by where it begins.
        tasks = {tuple(s.start for s in where.values()): task(where) for _, where in self.pieces()}
        edges = dict(zip(self.sizes, self._edges(), strict=True))

        def blocks(name: str, left: tuple[str, ...], at: dict[str, slice]) -> Any:
            """Nest the chunks of a measure, a list for each of its dimensions."""
            if left and left[0] in edges:
                return [blocks(name, left[1:], {**at, left[0]: s}) for s in edges[left[0]]]
            if left:
                return [blocks(name, left[1:], at)]
            array = self.template[name]
            # A dimension that the measure does not have was not cut.
            start = tuple(at[d].start if d in at else 0 for d in self.sizes)
            shape = [
                at[d].stop - at[d].start if d in at else array.sizes[d]
                for d in map(str, array.dims)
            ]
            return da.from_delayed(tasks[start][name], shape, array.dtype)

        found = {
            name: (own, da.block(blocks(name, own, {})), self.template[name].attrs)
            for name, own in dims.items()
        }
        return xr.Dataset(found, coords=self.template.coords, attrs=self.template.attrs)

    def to_zarr(
        self, path: str | os.PathLike[str], *, progress: bool | Callable[[int, int], None] = False
    ) -> xr.Dataset:
        """Run the plan and write the measures to a Zarr store, chunk by chunk.

        A run that was interrupted goes on with the chunks not yet written. It runs on the
        `dask.distributed` client that is active, else on dask's local scheduler; workers on
        other machines must see ``path``.

        Parameters
        ----------
        path : path
            Folder of the store; a record of what is done stands beside it.
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
        NotFinished
            If the cluster goes away; says how much is saved.
        NotInstalled
            If dask or zarr is missing.
        """
        _needed("dask", "zarr")
        from .large_run import run
        from .large_store import ZarrWriter

        run(self, ZarrWriter(str(path)), progress)
        return xr.open_zarr(path)

    def to_parquet(
        self, path: str | os.PathLike[str], *, progress: bool | Callable[[int, int], None] = False
    ) -> Path:
        """Run the plan and write the measures as one long table, a Parquet file a chunk.

        Interruption, clusters and errors are as with `to_zarr`.

        Parameters
        ----------
        path : path
            Folder of the files; a record of what is done stands beside it.
        progress : bool or callable
            Show a line of progress, or call this with the chunks done and their number.

        Returns
        -------
        pathlib.Path
            The folder: a column for each dimension, each other label and each measure; what a
            measure adds of its own (frequencies) are columns too.

        Raises
        ------
        BadFile
            If the folder was begun with another design, or is no such folder.
        NotFinished
            If the cluster goes away; says how much is saved.
        NotInstalled
            If dask or pyarrow is missing.
        """
        _needed("dask", "pyarrow")
        from .large_run import run
        from .large_store import ParquetWriter

        run(self, ParquetWriter(str(path)), progress)
        return Path(path)

    def estimate(self, chunks: int = 3) -> dict[str, float]:
        """Time some chunks and tell what the whole would take.

        Parameters
        ----------
        chunks : int
            How many to time, spread over the plan.

        Returns
        -------
        dict of str to float
            ``seconds`` on one core of this machine, ``points_per_second`` (frequencies of
            responses, measures included), ``chunk_bytes`` at work for one chunk at most, and
            ``bytes`` of all measures, uncompressed.

        Raises
        ------
        BadSetting
            If no chunk is to be timed.
        """
        if not chunks >= 1:
            raise BadSetting("chunks", f"{chunks!r} gives nothing to time", "give 1 or more")
        count = self.chunk_count
        numbers = sorted({round(k * (count - 1) / max(1, chunks - 1)) for k in range(chunks)})
        pieces = [self.where(number) for number in numbers]
        tracemalloc.start()
        self.question.answer(*self.piece(pieces[0]))
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        done, began = 0, time.process_time()
        for where in pieces:
            self.question.answer(*self.piece(where))
            done += math.prod(s.stop - s.start for s in where.values())
        seconds = max(time.process_time() - began, 1e-9)
        return {
            "seconds": seconds * self.responses / done,
            "points_per_second": done * self.question.frequency.size / seconds,
            "chunk_bytes": float(most),
            "bytes": float(self.nbytes),
        }

    # -- chunks -------------------------------------------------------------------------------

    def dims(self) -> dict[str, tuple[str, ...]]:
        """Dimensions of every measure, in order.

        Returns
        -------
        dict of str to tuple of str
            By the measure's name.
        """
        return {str(n): tuple(map(str, v.dims)) for n, v in self.template.data_vars.items()}

    def _edges(self) -> list[list[slice]]:
        """Every dimension's slices."""
        return [
            [slice(i, min(i + self.chunks[name], n)) for i in range(0, n, self.chunks[name])]
            for name, n in self.sizes.items()
        ]

    def pieces(self) -> Iterator[tuple[int, Where]]:
        """Number the chunks.

        Returns
        -------
        iterator of (int, dict of str to slice)
            Number and place of each chunk.
        """
        for number, row in enumerate(itertools.product(*self._edges())):
            yield number, dict(zip(self.sizes, row, strict=True))

    def where(self, number: int) -> Where:
        """Find the place of a chunk.

        Parameters
        ----------
        number : int
            Its number, from 0.

        Returns
        -------
        dict of str to slice
            Its places along each dimension.
        """
        rows = self._edges()
        if not 0 <= number < max(1, math.prod(map(len, rows))):
            raise BadSetting("number", f"there is no piece {number}", "count from 0")
        index = np.unravel_index(number, [len(row) for row in rows]) if rows else ()
        return {n: row[int(i)] for n, row, i in zip(self.sizes, rows, index, strict=True)}

    def piece(self, where: Where) -> tuple[Any, dict[str, Any]]:
        """Take the builds and settings of a chunk.

        Parameters
        ----------
        where : dict of str to slice
            Place of the chunk.

        Returns
        -------
        guitar, settings
            As `plan_sweep` takes them.
        """
        return piece_of(self.guitar, self.settings, self.question.dim, where)


def piece_of(
    guitar: Any, settings: Mapping[str, Any], dim: str, where: Where
) -> tuple[Any, dict[str, Any]]:
    """Take the builds and settings of one place of a sweep."""
    if not isinstance(guitar, Harness):
        guitar = dict(itertools.islice(guitar.items(), where[dim].start, where[dim].stop))
    own: dict[str, Any] = {}
    for name, given in settings.items():
        if isinstance(given, (xr.DataArray, xr.Variable)):
            own[name] = given.isel({d: where[str(d)] for d in given.dims})
        else:
            own[name] = given[where[name]] if name in where else given
    return guitar, own


def _arrays(
    question: Question, guitar: Any, settings: Mapping[str, Any], dims: Mapping[str, Any]
) -> dict[str, np.ndarray]:
    found = question.answer(guitar, settings)
    return {name: found[name].transpose(*own).values for name, own in dims.items()}


def _needed(*modules: str) -> None:
    for module in modules:
        try:
            importlib.import_module(module)
        except ImportError:
            name = module.partition(".")[0]
            raise NotInstalled(
                name, "is not installed", "install it with: pip install 'guitarnet[sweeps]'"
            ) from None
