"""List what guitarnet brings with it: every library, its licence, and which extra asks for it.

    python tools/dependencies.py                     # print the tables
    python tools/dependencies.py --write FILE        # write them as Markdown
    python tools/dependencies.py --advisories        # ask pip-audit for known weaknesses as well

Run it where guitarnet is installed with all extras. A licence that is not on the list below, or a
library without one, ends with exit code 1: such a library is for a person to look at.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from collections.abc import Iterable
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

OURS = "guitarnet"
CORE = "core"
FOR_READERS = (
    CORE,
    "figures",
    "symbols",
    "drawing",
    "cards",
    "knobs",
    "lcapy",
    "notebooks",
    "sensitivity",
    "sound",
    "sweeps",
    "touchstone",
)
"""What a reader installs; the extras for tests and documentation bring nothing to them."""

HEAD = """# What guitarnet brings with it

Every library that the core and each extra install, with its licence, as
`python tools/dependencies.py --write docs/dependencies.md` found them where all extras were
installed. A library is listed once, under the first extra that brings it. All may be used with
guitarnet's own MIT licence; those marked share-alike ask that changes to themselves be shared. On
other machines a few more or fewer may come.
"""

KNOWN = {
    # What a licence says, in the words of its package, against its usual name.
    r"MIT-CMU|HPND": "MIT-CMU",
    r"MIT-0": "MIT-0",
    r"Apache": "Apache-2.0",
    r"BSD": "BSD",
    r"MIT\b": "MIT",
    r"ISC": "ISC",
    r"MPL|Mozilla": "MPL",
    r"PSF|Python Software Foundation": "PSF",
    r"LGPL|Lesser General": "LGPL",
    r"Unlicense": "Unlicense",
}
SHARE_ALIKE = {"MPL", "LGPL"}
"""Changes to these libraries themselves must be shared; using them asks nothing of a user."""


def licence(found: Distribution) -> str:
    """Name of a library's licence, or "" where none is known."""
    said = [
        found.metadata.get("License-Expression") or "",
        *(c for c in found.metadata.get_all("Classifier") or () if c.startswith("License ::")),
        (found.metadata.get("License") or "")[:200],
    ]
    for words in said:
        for pattern, name in KNOWN.items():
            if re.search(pattern, words):
                return name
    return ""


def asked_for(name: str, extras: Iterable[str]) -> list[Requirement]:
    """What a library requires with some extras, on this machine."""
    asked = []
    for text in distribution(name).requires or ():
        requirement = Requirement(text)
        marker = requirement.marker
        if marker is None or any(marker.evaluate({"extra": extra}) for extra in ("", *extras)):
            asked.append(requirement)
    return asked


def brought_by(extra: str) -> dict[str, tuple[Distribution, str]]:
    """Every library that one extra brings, and what asked for it first."""
    found: dict[str, tuple[Distribution, str]] = {}
    seen: set[tuple[str, str]] = set()
    open_ends = [(OURS, "" if extra == CORE else extra)]
    while open_ends:
        name, with_extra = open_ends.pop(0)
        if (name, with_extra) in seen:
            continue
        seen.add((name, with_extra))
        for requirement in asked_for(name, [with_extra]):
            try:
                there = distribution(requirement.name)
            except PackageNotFoundError:
                raise SystemExit(
                    f"{requirement.name} is not installed; install guitarnet with all extras"
                ) from None
            usual = re.sub(r"[-_.]+", "-", there.metadata["Name"]).lower()
            if usual != OURS:
                found.setdefault(usual, (there, name))
            open_ends += [(requirement.name, part) for part in ("", *requirement.extras)]
    return found


def table(extras: Iterable[str]) -> tuple[str, list[str]]:
    """Markdown of all, and what a person must look at."""
    lines, unknown, told = [], [], set()
    for extra in extras:
        new = {name: d for name, d in sorted(brought_by(extra).items()) if name not in told}
        told |= set(new)
        lines += [f"## {extra}", ""]
        if not new:
            lines += ["Nothing beyond what stands above.", ""]
            continue
        lines += ["| library | licence | asked for by |", "|---|---|---|"]
        for name, (found, by) in new.items():
            kind = licence(found)
            if not kind:
                unknown.append(name)
            mark = " (share-alike for changes to itself)" if kind in SHARE_ALIKE else ""
            lines.append(f"| {name} | {kind or 'unknown'}{mark} | {by} |")
        lines.append("")
    return "\n".join(lines), unknown


def main(given: Iterable[str] | None = None) -> int:
    """Run the chore; returns the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument(
        "extras", nargs="*", help="which extras; all that readers install unless given"
    )
    parser.add_argument("--write", type=Path, help="write Markdown to this file")
    parser.add_argument("--advisories", action="store_true", help="ask pip-audit (needs a network)")
    options = parser.parse_args(given)
    text, unknown = table(options.extras or FOR_READERS)
    if options.write:
        options.write.write_text(f"{HEAD}\n{text}", encoding="utf-8")
    else:
        print(text)
    for name in unknown:
        print(f"{name}: no licence that is known here; look at it", file=sys.stderr)
    code = 1 if unknown else 0
    if options.advisories:
        code |= subprocess.run(
            [sys.executable, "-m", "pip_audit", "--progress-spinner=off"]
        ).returncode
    return code


if __name__ == "__main__":
    sys.exit(main())
