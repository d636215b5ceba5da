"""Lessons and pages run as a reader runs them: what each cell prints and shows."""

from __future__ import annotations

import ast
import contextlib
import io
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

__all__ = ["cells_of", "run_cells"]

_SETS_UP = ("%matplotlib", "%pip", "!")


def cells_of(source: Path) -> list[str]:
    """Cells of code in a py:percent file."""
    cells = re.split(r"^# %%", source.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]
    return [
        "\n".join(line for line in cell.split("\n")[1:] if not line.startswith(_SETS_UP))
        for cell in cells
        if not cell.startswith(" [markdown]")
    ]


def run_cells(
    cells: Iterable[str], name: str, names: dict[str, Any] | None = None, *, stops: bool = False
) -> tuple[str, int]:
    """Run cells in one namespace; gives what they print and show, and the number of figures.

    The last line of a cell is shown as a notebook shows it, where that is text. With ``stops`` an
    error of a cell is part of what it prints, and ends the run.
    """
    import matplotlib.pyplot as plt
    from sympy.printing.pretty.pretty_symbology import pretty_use_unicode

    pretty_use_unicode(True)  # else the first stream that sympy sees decides
    names = {} if names is None else names
    names.setdefault("__name__", "lesson")
    stream = io.StringIO()
    figures = 0
    plt.close("all")
    with contextlib.redirect_stdout(stream):
        for number, cell in enumerate(cells):
            try:
                _run(cell, f"{name}, cell {number}", names)
            except Exception as error:
                if not stops:
                    raise
                print(f"stops in cell {number}: {type(error).__name__}: {error}")
                break
            figures += len(plt.get_fignums())
            plt.close("all")
    return stream.getvalue(), figures


def _run(cell: str, where: str, names: dict[str, Any]) -> None:
    tree = ast.parse(cell, where)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, where, "exec"), names)
    if last is not None:
        _show(eval(compile(ast.Expression(last.value), where, "eval"), names))


def _show(value: Any) -> None:
    module = type(value).__module__
    if value is None or module.startswith(("matplotlib", "numpy")):
        return
    words = repr(value)
    if not re.search(r" at 0x[0-9a-f]+>", words):
        print(words)
