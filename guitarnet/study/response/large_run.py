"""Running a plan chunk by chunk on dask, locally or on a cluster."""

from __future__ import annotations

import inspect
import itertools
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import BadSetting, NotFinished
from .large_store import Record, Writer, design

if TYPE_CHECKING:
    from .large_plan import Question, SweepPlan, Where

__all__ = ["run"]

_WAVE = 1000  # chunks handed to a local scheduler at once
_WINDOW = 128  # chunks handed to a cluster at once
_PATIENCE = 60.0  # seconds without any worker until a cluster counts as gone

Progress = bool | Callable[[int, int], None]


def work(
    question: Question,
    guitar: Any,
    settings: Mapping[str, Any],
    keep: Callable[[Mapping[str, np.ndarray]], None],
    dims: Mapping[str, tuple[str, ...]],
    number: int,
) -> int:
    """Compute one chunk and keep its measures; returns its number."""
    found = question.answer(guitar, settings)
    keep({name: found[name].transpose(*own).values for name, own in dims.items()})
    return number


def run(plan: SweepPlan, writer: Writer, progress: Progress) -> None:
    """Run every chunk that the writer's store does not hold yet."""
    record = Record.open(writer.path, design(plan), plan.chunk_count)
    if record.new:
        record.begin(lambda path: writer.create(plan, path))
    tell = _teller(progress, record)
    tell()
    missing = ((n, where) for n, where in plan.pieces() if n not in record)
    client = _client()
    try:
        if client is None:
            _locally(plan, writer, record, tell, missing)
        else:
            _on_cluster(plan, writer, record, tell, missing, client)
    finally:
        record.save()


def _client() -> Any:
    """The active client of `dask.distributed`, if there is one."""
    if "distributed" not in sys.modules:
        return None
    from distributed import get_client

    try:
        return get_client()
    except ValueError:
        return None


def _locally(
    plan: SweepPlan,
    writer: Writer,
    record: Record,
    tell: Callable[[], None],
    missing: Iterator[tuple[int, Where]],
) -> None:
    import dask
    from dask.callbacks import Callback

    class Noted(Callback):
        def _posttask(self, key: Any, result: Any, *_: Any) -> None:
            if isinstance(result, int) and str(key).startswith("chunk-"):
                record.add(result)
                tell()

    while wave := list(itertools.islice(missing, _WAVE)):
        # A partial hides its arguments from dask, which would search them for lazy arrays.
        tasks = [
            dask.delayed(_task(plan, writer, number, where), traverse=False)(
                dask_key_name=f"chunk-{number}"
            )
            for number, where in wave
        ]
        with Noted():
            dask.compute(*tasks)


def _task(plan: SweepPlan, writer: Writer, number: int, where: Where) -> Callable[[], int]:
    keep = writer.at(plan, number, where)
    return partial(work, plan.question, *plan.piece(where), keep, plan.dims(), number)


def _on_cluster(
    plan: SweepPlan,
    writer: Writer,
    record: Record,
    tell: Callable[[], None],
    missing: Iterator[tuple[int, Where]],
    client: Any,
) -> None:
    """Keep a window of chunks on the cluster; what a dead worker held is given to another."""
    import asyncio
    import concurrent.futures

    from distributed import KilledWorker
    from distributed.comm import CommClosedError

    gone = (
        asyncio.CancelledError,
        concurrent.futures.CancelledError,
        CommClosedError,
        KilledWorker,
        ConnectionError,
    )
    waiting: set[Any] = set()
    seen = time.monotonic()  # when there was last a worker
    try:
        while True:
            if client.status == "closed":
                raise ConnectionError("it was closed")
            for number, where in itertools.islice(missing, _WINDOW - len(waiting)):
                task = _task(plan, writer, number, where)
                waiting.add(client.submit(task, key=f"chunk-{record.run}-{number}", pure=False))
            if not waiting:
                return
            finished = _finished(client, waiting)
            if finished or (client.status == "running" and client.scheduler_info()["workers"]):
                seen = time.monotonic()
            elif time.monotonic() - seen > _PATIENCE:
                raise ConnectionError("no worker is left")
            for future in finished:
                record.add(future.result())
                waiting.discard(future)
                tell()
    except gone as error:
        raise NotFinished(
            str(record.store),
            f"the cluster went away ({_said(error)}) with {record.count} of {record.total} chunks "
            "saved",
            "start a cluster and run the same again: it goes on with the rest",
        ) from error
    finally:
        for future in waiting:
            future.release()


def _finished(client: Any, waiting: set[Any]) -> set[Any]:
    """Wait a moment for chunks."""
    from distributed import wait

    try:
        return set(wait(waiting, timeout=1, return_when="FIRST_COMPLETED").done)
    except TimeoutError:
        return set()
    except ValueError:  # closed since
        raise ConnectionError("it was closed") from None


def _said(error: BaseException) -> str:
    return (str(error).splitlines() or [""])[0].rstrip(".") or type(error).__name__


def _teller(progress: Progress, record: Record) -> Callable[[], None]:
    """Give what tells how far a run has come."""
    if callable(progress):
        try:
            if isinstance(progress, type):
                raise TypeError
            inspect.signature(progress).bind(record.count, record.total)
        except (TypeError, ValueError):
            fix = "give True, or a function of how many chunks are done and how many there are"
            raise BadSetting("progress", f"{progress!r} takes no two counts", fix) from None
        return lambda: progress(record.count, record.total)
    if not progress:
        return lambda: None
    began, before = time.monotonic(), record.count

    def line() -> None:
        done, total = record.count, record.total
        words = f"{done:,} of {total:,} chunks"
        if done > before and done < total:
            left = (time.monotonic() - began) / (done - before) * (total - done)
            words += f", about {left:,.0f} s left"
        end = "\n" if done == total else ""
        print(f"\r\033[K{words}", end=end, file=sys.stderr, flush=True)

    return line
