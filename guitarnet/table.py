"""A small table that reads well in a terminal and in a notebook."""

from __future__ import annotations

import csv
import html
import io
import os
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from .files import write_text

__all__ = ["Table", "Tabled"]


class Table:
    """Rows under named columns.

    Parameters
    ----------
    columns : sequence of str
        Names of the columns.
    rows : iterable of sequence
        Cells, as many a row as there are columns; numbers are aligned right.
    title : str
        Line above the table.
    note : str
        Line under the table.

    Examples
    --------
    >>> print(Table(("part", "value"), [("tone_capacitor", "22 nF")]))
    part            value
    tone_capacitor  22 nF
    """

    def __init__(
        self, columns: Sequence[str], rows: Iterable[Sequence[Any]], title: str = "", note: str = ""
    ) -> None:
        self.columns = tuple(columns)
        self.rows = [tuple(row) for row in rows]
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"a row has {len(row)} cells under {len(self.columns)} columns")
        self.title = title
        self.note = note

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[tuple[Any, ...]]:
        return iter(self.rows)

    def _right(self, index: int) -> bool:
        return bool(self.rows) and all(
            isinstance(row[index], (int, float)) or _is_number(str(row[index])) for row in self.rows
        )

    def __str__(self) -> str:
        cells = [self.columns, *((str(cell) for cell in row) for row in self.rows)]
        lines = [tuple(row) for row in cells]
        widths = [max(_width(row[i]) for row in lines) for i in range(len(self.columns))]
        text = []
        for row in lines:
            padded = []
            for i, cell in enumerate(row):
                space = " " * (widths[i] - _width(cell))
                padded.append(space + cell if self._right(i) else cell + space)
            text.append("  ".join(padded).rstrip())
        return "\n".join([*filter(None, [self.title]), *text, *filter(None, [self.note])])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        def cells(tag: str, row: Iterable[Any]) -> str:
            align = ["right" if self._right(i) else "left" for i in range(len(self.columns))]
            return "".join(
                f'<{tag} style="text-align:{side}">{html.escape(str(cell))}</{tag}>'
                for side, cell in zip(align, row, strict=True)
            )

        caption = f"<caption>{html.escape(self.title)}</caption>" if self.title else ""
        body = "".join(f"<tr>{cells('td', row)}</tr>" for row in self.rows)
        head = f"<thead><tr>{cells('th', self.columns)}</tr></thead>"
        lines = html.escape(self.note).replace("\n", "<br>")
        note = f"<p>{lines}</p>" if self.note else ""
        return f"<table>{caption}{head}<tbody>{body}</tbody></table>{note}"

    def to_csv(self, path: str | os.PathLike[str]) -> None:
        """Write the table as CSV, whole or not at all."""
        stream = io.StringIO()
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(self.columns)
        writer.writerows(tuple(_harmless(cell) for cell in row) for row in self.rows)
        write_text(path, stream.getvalue())


class Tabled:
    """What shows itself as its table, in a terminal and in a notebook."""

    def table(self) -> Table:
        """Set out what it holds."""
        raise NotImplementedError

    def __str__(self) -> str:
        return str(self.table())

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _harmless(cell: Any) -> Any:
    """Keep a spreadsheet from taking text for a formula."""
    if isinstance(cell, str) and cell[:1] in "=+-@\t\r" and not _is_number(cell):
        return "'" + cell
    return cell


def _is_number(text: str) -> bool:
    try:
        float(text.replace("\u2212", "-"))
    except ValueError:
        return text in ("", "\u2014", "-")
    return True


def _width(text: str) -> int:
    return sum(0 if unicodedata.combining(c) else 1 for c in text)
