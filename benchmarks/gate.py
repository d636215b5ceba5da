"""What the gate at the door of public functions costs a call, against the smallest question."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any

from common import MISSED, best_of, report  # first: sets the number of threads

import guitarnet as gn
from guitarnet.gate import public

CALLS = 50


@public
def asked(
    guitar: gn.Harness,
    frequency: Any = None,
    *,
    at: str = "amp",
    marks: Sequence[float] = (10, 9, 7, 5, 3),
    view: tuple[float, float] = (50.0, 15e3),
    **settings: Any,
) -> None:
    """Take what a figure takes, and do nothing."""


def seconds(function: Any, *args: Any, **options: Any) -> float:
    """Shortest time of one call, of many in a row."""

    def many() -> None:
        for _ in range(CALLS):
            function(*args, **options)

    return best_of(many, 300) / CALLS


def main() -> int:
    """Print each result beside its target."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"))
    options = {"at": "jack", "marks": [10, 5, 3], "view": (100, 5000.0), "volume": 5}
    free = asked.__wrapped__  # type: ignore[attr-defined]
    gate = seconds(asked, guitar, [1000.0], **options) - seconds(free, guitar, [1000.0], **options)
    smallest = best_of(lambda: gn.response(guitar, frequency=[1000.0]), 100)
    met = [
        report("the gate, six arguments, eight values", 1e6 * gate, "us", 20, at_least=False),
        report(
            "the same, against response() at one frequency",
            100 * gate / smallest,
            "%",
            2,
            at_least=False,
        ),
    ]
    return 0 if all(met) else MISSED


if __name__ == "__main__":
    sys.exit(main())
