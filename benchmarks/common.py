"""What the benchmarks share: timing in one process, one thread, and a line of result."""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded

import time
from collections.abc import Callable


def best_of(task: Callable[[], object], repeats: int = 7) -> float:
    """Shortest of several runs [s]; the first, which fills caches, is not counted."""
    task()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        task()
        times.append(time.perf_counter() - began)
    return min(times)


def report(name: str, value: float, unit: str, limit: float, *, at_least: bool) -> bool:
    """Print one result beside its target; returns whether it is met."""
    met = value >= limit if at_least else value <= limit
    sign = ">=" if at_least else "<="
    print(f"{'met   ' if met else 'MISSED'}  {name}: {value:.3g} {unit} (target {sign} {limit:g})")
    return met
