"""Running a plan chunk by chunk into a store, which itself tells what of it is done."""

from __future__ import annotations

import concurrent.futures
import contextlib
import functools
import itertools
import json
import os
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import xarray as xr

from ...errors import BadFile, NotFinished, asked
from ...files import read_text, scratch, write_bytes, write_text
from .question import Question, Trial, Where

__all__ = ["ParquetFolder", "ZarrStore", "run"]


class Planned(Protocol):
    """What running needs of a plan."""

    @property
    def question(self) -> Question: ...
    @property
    def chunks(self) -> Mapping[str, int]: ...
    @property
    def chunk_count(self) -> int: ...
    @property
    def trial(self) -> Trial: ...
    @property
    def template(self) -> xr.Dataset: ...
    def places(self) -> Iterator[tuple[int, Where]]: ...


_WINDOW = 1000  # chunks handed to a cluster at once
_ALONE = ("sync", "synchronous", "single-threaded")  # dask's words for no threads

Progress = bool | Callable[[int, int], None]
Keep = Callable[[Mapping[str, xr.Variable]], None]


def run(store: ZarrStore | ParquetFolder, progress: Progress) -> None:
    """Compute and keep every chunk that the store does not hold yet."""
    plan = store.plan
    _begin(store, plan.question.identity() | {"chunks": str(list(plan.chunks.items()))})
    tell = _teller(progress, plan.chunk_count)
    missing = [place for place in plan.places() if not store.holds(*place)]
    done = plan.chunk_count - len(missing)
    tell(done)
    tasks = (
        partial(_work, plan.question.part(where), plan.trial.sizes, store.keeper(number, where))
        for number, where in missing
    )
    with _executor() as (executor, window, gone):
        waiting: set[concurrent.futures.Future[None]] = set()
        try:
            while done < plan.chunk_count:
                more = itertools.islice(tasks, window - len(waiting))
                waiting |= {executor.submit(task) for task in more}
                finished, waiting = concurrent.futures.wait(
                    waiting, return_when=concurrent.futures.FIRST_COMPLETED
                )
                for future in finished:
                    future.result()
                    done += 1
                    tell(done)
        except gone as error:
            done = plan.chunk_count - sum(not store.holds(*place) for place in missing)
            said = (str(error).splitlines() or [""])[0].rstrip(".") or type(error).__name__
            raise NotFinished(
                str(store.path),
                f"the cluster went away ({said}) with {done} of {plan.chunk_count} chunks saved",
                "start a cluster and run the same again: it goes on with the rest",
            ) from error
        except BaseException:
            for future in waiting:
                future.cancel()
            raise


def _work(question: Question, sizes: bool, keep: Keep) -> None:
    """Compute one chunk and keep its measures; done again it gives the same."""
    keep({name: array.variable for name, array in question.answer(sizes=sizes).items()})


@contextlib.contextmanager
def _executor() -> Iterator[
    tuple[concurrent.futures.Executor, int, tuple[type[BaseException], ...]]
]:
    """What runs chunks, how many it is given at once, and what it raises when it goes away."""
    client = None
    if "distributed" in sys.modules:
        from distributed import get_client

        with contextlib.suppress(ValueError):
            client = get_client()
    if client is not None:
        from distributed.comm import CommClosedError
        from distributed.scheduler import KilledWorker, NoValidWorkerError, NoWorkerError

        lost = (CommClosedError, KilledWorker, NoValidWorkerError, NoWorkerError)
        # Not pure: what was done for a store that is gone, or failed, is done anew.
        yield client.get_executor(pure=False), _WINDOW, (concurrent.futures.CancelledError, *lost)
        return
    import dask
    from dask.system import CPU_COUNT

    alone = dask.config.get("scheduler", None) in _ALONE
    threads = 1 if alone else dask.config.get("num_workers", None) or CPU_COUNT
    with concurrent.futures.ThreadPoolExecutor(threads) as pool:
        yield pool, 2 * threads, ()


# -- which sweep a store holds --------------------------------------------------------------------


def _begin(store: ZarrStore | ParquetFolder, now: Mapping[str, Any]) -> None:
    """Make a store whole or not at all; refuse one that holds something else."""
    if os.path.lexists(store.path):
        try:
            then = json.loads(json.loads(read_text(store.path / store.identity))["sweep"])
            other = _differs(then, now)
        except (BadFile, ValueError, TypeError, KeyError, AttributeError):
            raise BadFile(
                str(store.path), "exists and holds no sweep", "give another name, or remove it"
            ) from None
        if other:
            raise BadFile(
                str(store.path),
                f"was begun with another {' and another '.join(other[:3])}",
                "give another name, or remove it to begin anew",
                other,
            )
        return
    template = store.plan.template  # says first what cannot be cut
    try:
        with scratch(store.path.parent) as beside:
            store.create(template, beside / "new", json.dumps(now))
            store.path.parent.mkdir(parents=True, exist_ok=True)
            os.replace(beside / "new", store.path)
    except (OSError, ValueError) as error:  # no name may hold a zero byte
        problem = f"cannot be written ({getattr(error, 'strerror', None) or error})"
        raise BadFile(str(store.path), problem, "check the folder and its rights") from error


def _differs(then: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """Say which pieces of two sweeps differ, and where in a guitar."""
    said = []
    for name in dict.fromkeys((*now, *then)):
        one, other = then.get(name), now.get(name)
        if one != other:
            inside = isinstance(one, Mapping) and isinstance(other, Mapping)
            said.append(f"{name} ({_first_difference(one, other)})" if inside else name)
    return said


def _first_difference(then: Any, now: Any) -> str:
    path = next(path for path in (*now, *then) if then.get(path) != now.get(path))
    if path not in then:
        return f"{path} is new"
    if path not in now:
        return f"{path} is gone"
    return f"{path} was {then[path]}, is {now[path]}"


# -- stores ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ZarrStore:
    """A Zarr store whose chunks are those of the plan; each is there whole or not at all."""

    plan: Planned
    path: Path
    identity: str = ".zattrs"  # the file that tells, as "sweep", which sweep it holds

    def create(self, template: xr.Dataset, folder: Path, sweep: str) -> None:
        """Write the coordinates, and what the arrays are."""
        template = template.assign_attrs(sweep=sweep)
        labels = template.coords.to_dataset().compute().coords
        # Version 2 of the format: version 3 has no settled way to write text labels.
        template.assign_coords(labels).to_zarr(folder, compute=False, zarr_format=2)

    @functools.cached_property
    def _last(self) -> tuple[Path, Any, list[str]]:
        """Folder, array and dimensions of the measure that is written last."""
        import zarr

        name, found = list(self.plan.trial.found.items())[-1]
        folder = self.path / name
        return folder, zarr.open_array(folder, mode="r"), list(map(str, found.dims))

    def holds(self, number: int, where: Where) -> bool:
        """Tell whether a chunk is there."""
        folder, array, dims = self._last
        cut = self.plan.chunks
        index = tuple(where[dim].start // cut[dim] if dim in where else 0 for dim in dims)
        return (folder / array.metadata.encode_chunk_key(index)).exists()

    def keeper(self, number: int, where: Where) -> Keep:
        """Give what writes a chunk, wherever that runs."""
        return partial(_write_region, self.path, where)

    def dataset(self) -> xr.Dataset:
        """Open it lazily."""
        found = xr.open_zarr(self.path)
        del found.attrs["sweep"]
        return found


def _write_region(path: Path, where: Where, arrays: Mapping[str, xr.Variable]) -> None:
    import zarr

    group = zarr.open_group(path, mode="r+")
    for name, array in arrays.items():
        # What is nowhere a number is written too: a chunk that is not there is not done.
        target: Any = group[name].with_config({"write_empty_chunks": True})  # type: ignore[union-attr]
        target[tuple(where.get(str(dim), slice(None)) for dim in array.dims)] = array.values


@dataclass(frozen=True)
class ParquetFolder:
    """One long table, a file for each chunk."""

    plan: Planned
    path: Path
    identity: str = "_sweep.json"  # readers of tables pass over what begins so

    def create(self, template: xr.Dataset, folder: Path, sweep: str) -> None:
        """Make the folder."""
        write_text(folder / self.identity, json.dumps({"sweep": sweep}))

    def _file(self, number: int) -> Path:
        digits = len(str(self.plan.chunk_count - 1))
        return self.path / f"part-{number:0{digits}d}.parquet"

    def holds(self, number: int, where: Where) -> bool:
        """Tell whether a chunk is there."""
        return self._file(number).exists()

    @functools.cached_property
    def _labels(self) -> xr.Dataset:
        """Coordinates of the whole; what has none is numbered."""
        template = self.plan.template
        used = {str(dim) for own in template.data_vars.values() for dim in own.dims}
        numbered = {dim: np.arange(template.sizes[dim]) for dim in used - set(template.coords)}
        kept = {
            name: coord.variable
            for name, coord in template.coords.items()
            if coord.dims and set(map(str, coord.dims)) <= used
        }
        return xr.Dataset(coords=numbered | kept)

    def keeper(self, number: int, where: Where) -> Keep:
        """Give what writes a chunk, wherever that runs."""
        labels = self._labels.isel(where, missing_dims="ignore").compute()
        return partial(_write_table, self._file(number), labels, list(where))


def _write_table(
    file: Path, labels: xr.Dataset, swept: list[str], arrays: Mapping[str, xr.Variable]
) -> None:
    import pyarrow
    from pyarrow import parquet

    columns: dict[str, xr.Variable] = {}
    for name, array in arrays.items():
        # What a measure adds of its own becomes columns, one for each place.
        added = [str(dim) for dim in array.dims if dim not in swept]
        for index in np.ndindex(*(array.sizes[dim] for dim in added)):
            at = dict(zip(added, index, strict=True))
            said = [f"{labels[dim].values[place]:g}" for dim, place in at.items()]
            columns["_".join([name, *said])] = array.isel(at)
    rows = [dim for dim in swept if dim in labels.dims]
    along = labels.drop_dims(set(labels.dims) - set(rows)).coords
    if rows:
        frame = xr.Dataset(columns, along).to_dataframe(dim_order=rows).reset_index()
        table = pyarrow.Table.from_pandas(frame, preserve_index=False)
    else:
        table = pyarrow.table({name: one.values[None] for name, one in columns.items()})
    stream = pyarrow.BufferOutputStream()
    parquet.write_table(table, stream)
    write_bytes(file, stream.getvalue().to_pybytes())


# -- progress -------------------------------------------------------------------------------------


def _teller(progress: Progress, total: int) -> Callable[[int], None]:
    """Give what tells how many chunks are done."""
    if callable(progress):
        fix = "give True, or a function of how many chunks are done and how many there are"
        return lambda done: asked(progress, "progress", fix, done, total)
    began: list[tuple[float, int]] = []

    def line(done: int) -> None:
        words = f"{done:,} of {total:,} chunks"
        if not began:
            began.append((time.monotonic(), done))
        elif done < total:
            left = (time.monotonic() - began[0][0]) / (done - began[0][1]) * (total - done)
            words += f", about {left:,.0f} s left"
        end = "\n" if done == total else ""
        print(f"\r\033[K{words}", end=end, file=sys.stderr, flush=True)

    return line if progress else lambda done: None
