"""What differs from what an ability gave: numbers by tolerance, texts whole."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator
from typing import Any, NamedTuple

__all__ = ["Difference", "differences"]


class Difference(NamedTuple):
    """One difference: where in the golden, what stood there, what is now."""

    what: str
    was: str
    now: str


def differences(was: Any, now: Any, within: float, floor: float) -> list[Difference]:
    """Compare a golden with what is now given.

    Numbers a and b agree where ``|a - b| <= within max(|a|, |b|) + floor scale``, the scale being
    the largest of the list or array that they stand in.
    """
    return list(_compare("", was, now, within, floor, 0.0))


def _compare(
    where: str, was: Any, now: Any, within: float, floor: float, scale: float
) -> Iterator[Difference]:
    if _is_number(was) and _is_number(now):
        if not _near(float(was), float(now), within, floor * scale):
            yield Difference(where, _short(was), _short(now))
    elif isinstance(was, dict) and isinstance(now, dict):
        if _same_shape(was, now) and "re" in was:  # the size of a complex number carries its parts
            largest = max(map(_size, [*was["re"], *was["im"]]), default=0.0)
            for key in ("re", "im"):
                yield from _lists(f"{where} {key}", was[key], now[key], within, floor, largest)
            return
        for key in {**was, **now}:
            path = f"{where} / {key}" if where else str(key)
            if key not in now:
                yield Difference(path, _short(was[key]), "(gone)")
            elif key not in was:
                yield Difference(path, "(not there)", _short(now[key]))
            else:
                yield from _compare(path, was[key], now[key], within, floor, scale)
    elif isinstance(was, list) and isinstance(now, list):
        largest = max([scale, *(_size(item) for item in was if _is_number(item))])
        yield from _lists(where, was, now, within, floor, largest)
    elif isinstance(was, str) and isinstance(now, str):
        if was != now:
            yield from _texts(where, was, now)
    elif type(was) is not type(now) or was != now:
        yield Difference(where, _short(was), _short(now))


def _lists(
    where: str, was: list[Any], now: list[Any], within: float, floor: float, scale: float
) -> Iterator[Difference]:
    if len(was) != len(now):
        yield Difference(f"{where} (count)", str(len(was)), str(len(now)))
        if any(isinstance(item, str) for item in [*was, *now]):
            yield from _texts(where, "\n".join(map(str, was)), "\n".join(map(str, now)))
        return
    for number, (one, other) in enumerate(zip(was, now, strict=True)):
        yield from _compare(f"{where} [{number}]", one, other, within, floor, scale)


def _texts(where: str, was: str, now: str) -> Iterator[Difference]:
    before, after = was.split("\n"), now.split("\n")
    if len(before) == len(after) == 1:
        yield Difference(where, was, now)
        return
    matcher = difflib.SequenceMatcher(None, before, after, autojunk=False)
    for kind, a, b, c, d in matcher.get_opcodes():
        if kind != "equal":
            yield Difference(f"{where} line {a + 1}", "\n".join(before[a:b]), "\n".join(after[c:d]))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _same_shape(was: dict[str, Any], now: dict[str, Any]) -> bool:
    return "shape" in was and was.keys() == now.keys() and was["shape"] == now["shape"]


def _size(value: Any) -> float:
    return abs(value) if _is_number(value) and math.isfinite(value) else 0.0


def _near(one: float, other: float, within: float, floor: float) -> bool:
    if not (math.isfinite(one) and math.isfinite(other)):
        return one == other or (math.isnan(one) and math.isnan(other))
    # Half a digit of what is kept comes on top.
    return abs(one - other) <= (within + 1e-10) * max(abs(one), abs(other)) + floor


def _short(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)
