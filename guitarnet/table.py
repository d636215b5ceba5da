"""A small table that reads well in a terminal and in a notebook."""

from __future__ import annotations

import csv
import html
import io
import os
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from .errors import BadSetting, plain
from .files import write_text
from .gate import public

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Table", "Tabled"]


@public
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
                raise BadSetting(
                    "table",
                    f"a row has {len(row)} cells under {len(self.columns)} columns",
                    "give one cell for each column",
                )
        self.title = title
        self.note = note

    def __eq__(self, other: object) -> bool:
        """Tell whether two tables say the same."""
        if not isinstance(other, Table):
            return NotImplemented
        return all(
            getattr(self, name) == getattr(other, name)
            for name in ("columns", "rows", "title", "note")
        )

    def __hash__(self) -> int:
        return hash((self.columns, len(self.rows), self.title, self.note))

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[tuple[Any, ...]]:
        return iter(self.rows)

    def _right(self, index: int) -> bool:
        return bool(self.rows) and all(
            isinstance(row[index], (int, float)) or _is_number(str(row[index])) for row in self.rows
        )

    def __str__(self) -> str:
        lines = [tuple(plain(cell) for cell in row) for row in (self.columns, *self.rows)]
        widths = [max(_width(row[i]) for row in lines) for i in range(len(self.columns))]
        text = []
        for row in lines:
            padded = []
            for i, cell in enumerate(row):
                space = " " * (widths[i] - _width(cell))
                padded.append(space + cell if self._right(i) else cell + space)
            text.append("  ".join(padded).rstrip())
        title, note = (
            [plain(line) for line in words.split("\n") if words]
            for words in (self.title, self.note)
        )
        return "\n".join([*title, *text, *note])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        def cells(tag: str, row: Iterable[Any]) -> str:
            align = ["right" if self._right(i) else "left" for i in range(len(self.columns))]
            return "".join(
                f'<{tag} style="text-align:{side}">{html.escape(plain(cell))}</{tag}>'
                for side, cell in zip(align, row, strict=True)
            )

        title = "<br>".join(html.escape(plain(line)) for line in self.title.split("\n"))
        caption = f"<caption>{title}</caption>" if self.title else ""
        body = "".join(f"<tr>{cells('td', row)}</tr>" for row in self.rows)
        head = f"<thead><tr>{cells('th', self.columns)}</tr></thead>"
        lines = "<br>".join(html.escape(plain(line)) for line in self.note.split("\n"))
        note = f"<p>{lines}</p>" if self.note else ""
        return f"<table>{caption}{head}<tbody>{body}</tbody></table>{note}"

    def to_dataframe(self) -> pd.DataFrame:
        """Return the cells, as they are written, as a pandas DataFrame."""
        import pandas as pd

        return pd.DataFrame(self.rows, columns=list(self.columns))

    def to_csv(self, path: str | os.PathLike[str]) -> None:
        """Write the table as CSV, whole or not at all."""
        stream = io.StringIO()
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow([_harmless(name) for name in self.columns])
        writer.writerows(tuple(_harmless(cell) for cell in row) for row in self.rows)
        write_text(path, stream.getvalue())


@public
class Tabled:
    """What shows itself as its table, in a terminal and in a notebook."""

    def table(self) -> Table:
        """Set out what it holds."""
        raise NotImplementedError

    def to_dataframe(self) -> pd.DataFrame:
        """Return what it holds as a pandas DataFrame: numbers in SI, a row for each line."""
        import pandas as pd

        return pd.DataFrame(list(self._records()))

    def _records(self) -> Iterable[Mapping[str, Any]]:
        """Give the rows of `to_dataframe`, by column."""
        raise NotImplementedError

    def __str__(self) -> str:
        return str(self.table())

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


# What a spreadsheet takes a formula to begin with; the wide forms in some languages.
_FORMULA = tuple("=+-@\uff1d\uff0b\uff0d\uff20")


def _harmless(cell: Any) -> Any:
    """Keep a spreadsheet from taking text for a formula, or for two lines."""
    if not isinstance(cell, str):
        return cell
    words = plain(cell)
    return f"'{words}" if words.lstrip()[:1] in _FORMULA and not _is_number(words) else words


def _is_number(text: str) -> bool:
    try:
        float(text.replace("\u2212", "-"))
    except ValueError:
        return text in ("", "\u2014", "-")
    return True


def _width(text: str) -> int:
    return sum(0 if unicodedata.combining(c) else 1 for c in text)
