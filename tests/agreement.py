"""How far the checks against something outside agree: noted by a fixture, written to one table.

A test notes the very arrays that it compares::

    agreement("ngspice", "response of one pickup", found, expected)

``pytest --agreement FILE`` runs only the tests that note something and writes, for each pair of
source and subject, the number of values compared and the digits in which they agree: -log10 of
the largest difference relative to the other's value. ``docs/agreement_table.py`` compares such a
table with the kept one.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

MOST = 15.0
"""Digits of a double; no more are told."""


def largest_difference(ours: Any, theirs: Any) -> tuple[float, int]:
    """Largest difference relative to theirs, value by value, and how many values there are.

    Where theirs is 0 or infinite ours must be the same, or the difference is infinite.
    """
    # Numbers of many digits keep them: subtracted as they are, told as a float.
    ours, theirs = (np.ravel(np.asarray(values, dtype=object)) for values in (ours, theirs))
    assert ours.size == theirs.size > 0, "two sets of values of one size are compared"
    worst = 0.0
    for one, other in zip(ours, theirs, strict=True):
        if one == other:
            continue
        apart = abs(one - other) / abs(other) if other != 0 else math.inf
        worst = max(worst, float(apart)) if not math.isnan(float(apart)) else math.inf
    return worst, ours.size


def digits(difference: float) -> float:
    """Digits in which two values agree: -log10 of their relative difference, to a tenth."""
    if difference < 10**-MOST:
        return MOST
    return round(-math.log10(difference), 1) if math.isfinite(difference) else -math.inf


def rows(notes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One row for each source and subject, in their order."""
    table: dict[tuple[str, str], dict[str, Any]] = {}
    for note in notes:
        key = note["source"], note["what"]
        row = table.setdefault(key, {**note, "difference": 0.0, "cases": 0})
        row["difference"] = max(row["difference"], note["difference"])
        row["cases"] += note["cases"]
    return [
        {
            "source": row["source"],
            "what": row["what"],
            "cases": row["cases"],
            "digits": digits(row["difference"]),
            "limit": row["limit"],
        }
        for _, row in sorted(table.items())
    ]


class Table:
    """Collects the notes of all workers, and writes them when every check has passed."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.notes: list[dict[str, Any]] = []

    def pytest_collection_modifyitems(self, config: pytest.Config, items: list[pytest.Item]):
        """Keep the tests that note something."""
        noting = [item for item in items if "agreement" in getattr(item, "fixturenames", ())]
        config.hook.pytest_deselected(items=[item for item in items if item not in noting])
        items[:] = noting

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Take the notes of one test, from whichever worker ran it."""
        if report.when == "call":
            self.notes += [note for name, note in report.user_properties if name == "agreement"]

    @pytest.hookimpl(trylast=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        """Write the table; what failed or was skipped would make it a lie."""
        if hasattr(session.config, "workerinput"):
            return
        reporter = session.config.pluginmanager.get_plugin("terminalreporter")
        spoilt = sum(len(reporter.stats.get(kind, ())) for kind in ("failed", "error", "skipped"))
        if spoilt or not self.notes:
            reporter.write_line(f"{self.path} is not written: {spoilt} checks failed or skipped")
            session.exitstatus = session.exitstatus or pytest.ExitCode.TESTS_FAILED
            return
        table = rows(self.notes)
        lines = ",\n".join(f"  {json.dumps(row, ensure_ascii=False)}" for row in table)
        self.path.write_text(f'{{"rows": [\n{lines}\n]}}\n', encoding="utf-8")
        reporter.write_line(f"{len(table)} rows of agreement in {self.path}")
