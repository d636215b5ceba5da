"""How far this agrees with what others compute, publish and measure: the table, kept and checked.

pytest -n auto --agreement docs/agreement.json   # run those checks, write what they found
pytest -n auto --agreement fresh.json
python docs/agreement_table.py fresh.json              # compare; exit 1 where the kept table lies
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

KEPT = Path(__file__).resolve().with_name("agreement.json")
PRINTED = "Standards, handbooks and worked examples"
KINDS = {
    "Other programs, and other ways of computing": (
        "ngspice",
        "lcapy",
        "sympy, 50 digits",
        "sympy, derivatives",
        "scipy, state space",
        "a dense tableau",
        "node equations by hand",
        "closed form",
        "d'Alembert, simulated in time",
    ),
    PRINTED: (),
    "Measured on the bench": ("a bench measurement, second hand", "eleven measured pickups"),
}
"""Tables, and the sources that each begins with, in their order."""

APART = 0.5
"""How many digits two runs may be apart: rounding differs between machines."""


def kept() -> list[dict[str, Any]]:
    """Rows of the table as it stands in the project."""
    return read(KEPT)


def read(path: Path) -> list[dict[str, Any]]:
    """Rows of a table that the tests wrote."""
    return json.loads(path.read_text(encoding="utf-8"))["rows"]


def differences(old: list[dict[str, Any]], new: list[dict[str, Any]]) -> list[str]:
    """What two tables say differently, a sentence each."""
    before, after = ({(row["source"], row["what"]): row for row in rows} for rows in (old, new))
    said = [f"{' / '.join(key)}: is not in the kept table" for key in after.keys() - before.keys()]
    said += [f"{' / '.join(key)}: was not found again" for key in before.keys() - after.keys()]
    for key in sorted(before.keys() & after.keys()):
        one, other = before[key], after[key]
        if one["cases"] != other["cases"]:
            said.append(f"{' / '.join(key)}: {one['cases']} cases kept, {other['cases']} found")
        if abs(one["digits"] - other["digits"]) > APART:
            said.append(f"{' / '.join(key)}: {one['digits']} digits kept, {other['digits']} found")
        if one["limit"] != other["limit"]:
            said.append(f"{' / '.join(key)}: limited by {one['limit']!r}, now {other['limit']!r}")
    return sorted(said)


def as_markdown(rows: list[dict[str, Any]]) -> str:
    """The rows for people: a table for what computes, what is printed and what was measured."""
    text = []
    for title, belongs in KINDS.items():
        own = [row for row in rows if kind_of(row["source"]) == title]
        if not own:
            continue
        text += [f"**{title}**", "", "| compared with | what | values | digits | limited by |"]
        text.append("|---|---|--:|--:|---|")
        order = {source: place for place, source in enumerate(belongs)}
        for row in sorted(own, key=lambda row: order.get(row["source"], len(order))):
            digits = "≥ 15" if row["digits"] >= 15 else f"{row['digits']:.1f}"
            cells = (row["source"], row["what"], f"{row['cases']:,}", digits, row["limit"])
            text.append("| " + " | ".join(str(cell).replace("|", "\\|") for cell in cells) + " |")
        text.append("")
    return "\n".join(text)


def kind_of(source: str) -> str:
    """The table that a source belongs to; what is in none of the lists was printed somewhere."""
    return next((title for title, own in KINDS.items() if source in own), PRINTED)


def main(arguments: list[str]) -> int:
    """Compare a fresh table with the kept one; returns the exit code."""
    if len(arguments) != 1:
        print(__doc__, file=sys.stderr)
        return 2
    said = differences(kept(), read(Path(arguments[0])))
    print("\n".join(said) or f"the {len(kept())} rows of the agreement table are true")
    return 1 if said else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
