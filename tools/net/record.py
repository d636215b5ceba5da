"""What an ability is, and how what it gives is kept: plain data in files that read as text."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

__all__ = ["ABILITIES", "GOLDENS", "Ability", "Missing", "ability", "load", "plain", "save", "slug"]

GOLDENS = Path(__file__).resolve().parent / "goldens"
DIGITS = 10
"""Digits that are kept of a number: the tightest tolerance is 1e-7."""
_WIDTH = 100


class Missing(Exception):
    """What an ability needs, a browser for one, is not on this machine."""


@dataclass(frozen=True)
class Ability:
    """One thing that the product can do, and how near its numbers must stay to the golden ones.

    ``within`` is relative to each number; ``floor`` is relative to the largest of its array, for
    numbers that are nearly nothing beside the others. ``ranked`` marks texts whose order within a
    tie may follow from the last digits of a float.
    """

    name: str
    run: Callable[[], Any]
    quick: bool
    within: float
    floor: float
    ranked: bool
    seed: int | None

    @property
    def path(self) -> Path:
        """File of its golden."""
        return GOLDENS / f"{slug(self.name)}.json"


ABILITIES: dict[str, Ability] = {}


def ability(
    name: str,
    *,
    quick: bool = False,
    within: float = 1e-7,
    floor: float = 1e-9,
    ranked: bool = False,
    seed: int | None = None,
) -> Callable[[Callable[[], Any]], Callable[[], Any]]:
    """Enter a function as an ability, under a name that outlives the names it calls."""

    def entered(run: Callable[[], Any]) -> Callable[[], Any]:
        if name in ABILITIES:
            raise ValueError(f"{name!r} is entered twice")
        ABILITIES[name] = Ability(name, run, quick, within, floor, ranked, seed)
        return run

    return entered


def slug(name: str) -> str:
    """Name of a file for an ability."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def plain(value: Any) -> Any:
    """Bring a value to text, numbers, lists and mappings; arrays keep their shape.

    An array becomes ``{"shape": [...], "numbers": [...]}``, a complex one ``{"shape", "re",
    "im"}``.
    """
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, (int, float)):
        return value
    if isinstance(value, complex):
        return plain(np.array(value))
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (set, frozenset)):
        return sorted(plain(item) for item in value)
    if hasattr(value, "values") and hasattr(value, "dims"):
        value = np.asarray(value.values)
    if isinstance(value, np.ndarray):
        if value.dtype.kind in "OUSb":
            return plain(value.tolist())
        if value.dtype.kind == "c":
            flat = value.ravel()
            return {"shape": list(value.shape), "re": flat.real.tolist(), "im": flat.imag.tolist()}
        return {"shape": list(value.shape), "numbers": value.ravel().tolist()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no plain form; let the ability give one")


def save(one: Ability, value: Any) -> None:
    """Keep what an ability gives as its golden."""
    head = {"ability": one.name, "within": one.within, "floor": one.floor}
    if one.seed is not None:
        head["seed"] = one.seed
    if one.ranked:
        head["ranked"] = True
    GOLDENS.mkdir(exist_ok=True)
    one.path.write_text(_written({**head, "golden": value}) + "\n", encoding="utf-8")


def load(one: Ability) -> Any:
    """Read a golden; None where there is none yet."""
    if not one.path.exists():
        return None
    return _joined(json.loads(one.path.read_text(encoding="utf-8"))["golden"])


def _joined(value: Any) -> Any:
    """Texts of several lines, put together again."""
    if isinstance(value, dict):
        if list(value) == ["text"]:
            return "\n".join(value["text"])
        return {key: _joined(item) for key, item in value.items()}
    return [_joined(item) for item in value] if isinstance(value, list) else value


def _written(value: Any, indent: str = "") -> str:
    """JSON with a line for each line of a text, and numbers side by side."""
    inside = indent + " "
    if isinstance(value, str):
        if "\n" not in value:
            return json.dumps(value, ensure_ascii=False)
        return _written({"text": value.split("\n")}, indent)
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, Mapping):
        if not value:
            return "{}"
        rows = [
            f"{inside}{json.dumps(key, ensure_ascii=False)}: {_written(item, inside)}"
            for key, item in value.items()
        ]
        short = "{" + ", ".join(row.strip() for row in rows) + "}"
        if len(indent) + len(short) <= _WIDTH and "\n" not in short:
            return short
        return "{\n" + ",\n".join(rows) + "\n" + indent + "}"
    if isinstance(value, list):
        items = [_written(item, inside) for item in value]
        if all(item is None or isinstance(item, (bool, int, float)) for item in value):
            return "[" + _filled(items, inside) + "]"
        short = "[" + ", ".join(items) + "]"
        if len(indent) + len(short) <= _WIDTH and "\n" not in short:
            return short
        return "[\n" + ",\n".join(inside + item for item in items) + "\n" + indent + "]"
    return json.dumps(value)


def _filled(items: list[str], indent: str) -> str:
    lines, line = [], ""
    for item in items:
        if line and len(indent) + len(line) + len(item) + 2 > _WIDTH:
            lines.append(line)
            line = ""
        line += ("," if line else "") + item
    return f",\n{indent}".join([*lines, line])


def _number(value: float) -> str:
    if not math.isfinite(value):
        return json.dumps(value)
    return json.dumps(float(f"{value:.{DIGITS}g}"))
