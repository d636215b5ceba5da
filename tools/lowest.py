"""Write the lowest versions that pyproject.toml allows, as constraints for pip.

    python tools/lowest.py > lowest.txt
    pip install -c lowest.txt ".[cards,figures]"

The core and every extra that brings a reader a library go in; ``python tools/lowest.py figures``
takes the core and the named extras only. Each bound must stand as ``name>=version``, the version a
release that can be had: a bound that no one can install is no promise. What the libraries bring
themselves is left to pip.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

PROJECT = Path(__file__).resolve().parent.parent
FOR_WORK = ("all", "docs", "notebooks", "test")
"""Extras for those who work on the project or in a notebook server; the others are for readers."""


def lowest(project: Mapping[str, Any], extras: Sequence[str] = ()) -> dict[str, Version]:
    """Find the lowest version of each library that the core and some extras ask for.

    Where a library is asked for more than once the highest bound holds, as for pip.
    """
    optional = project["optional-dependencies"]
    chosen = list(extras) or [name for name in optional if name not in FOR_WORK]
    found: dict[str, Version] = {}
    for written in _asked(project, chosen):
        (bound, *more) = written.specifier or [None]
        if more or bound is None or bound.operator != ">=":
            raise SystemExit(f"{written}: has no bound of its own; write it as {written.name}>=1.2")
        name, version = canonicalize_name(written.name), Version(bound.version)
        found[name] = max(version, found.get(name, version))
    return found


def _asked(project: Mapping[str, Any], extras: Iterable[str]) -> list[Requirement]:
    """Requirements of the core and of extras, with those of the extras that they name."""
    optional, ours = project["optional-dependencies"], canonicalize_name(project["name"])
    asked, waiting, seen = [*map(Requirement, project["dependencies"])], [*extras], set()
    while waiting:
        extra = waiting.pop()
        if extra in seen:
            continue
        seen.add(extra)
        if extra not in optional:
            raise SystemExit(f"there is no extra {extra!r}; use some of {', '.join(optional)}")
        for one in map(Requirement, optional[extra]):
            if canonicalize_name(one.name) == ours:
                waiting += one.extras
            else:
                asked.append(one)
    return asked


def main(extras: Sequence[str]) -> None:
    """Print the constraints, one a line."""
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for name, version in sorted(lowest(project, extras).items()):
        print(f"{name}=={version}")


if __name__ == "__main__":
    main(sys.argv[1:])
