"""Reading and writing files so that nothing is half read and nothing written is lost."""

from __future__ import annotations

import contextlib
import csv
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from .errors import BadFile, nearest

__all__ = ["read_csv_columns", "read_text", "together", "write_bytes", "write_text"]

_LARGEST = 20_000_000  # bytes; a measured curve has some ten thousand
_MOST_LINES, _MOST_COLUMNS, _LONGEST = 1_000_000, 200, 10_000  # of a CSV file


def read_text(path: str | os.PathLike[str]) -> str:
    """Read a UTF-8 text file, with one clear sentence where that fails."""
    file = Path(path)
    try:
        size = file.stat().st_size
        text = file.read_text(encoding="utf-8-sig") if size <= _LARGEST else ""
    except FileNotFoundError:
        raise BadFile(str(path), "there is no such file", "check the name and folder") from None
    except UnicodeDecodeError:
        raise BadFile(str(path), "is not UTF-8 text", "save it as plain UTF-8 text") from None
    except (OSError, ValueError) as error:  # no name may hold a zero byte
        raise BadFile(
            str(path), f"cannot be read ({_why(error)})", "check the name and rights"
        ) from error
    if size > _LARGEST:
        raise BadFile(str(path), f"has {size} bytes", f"give a file under {_LARGEST} bytes")
    return text


def write_text(path: str | os.PathLike[str], text: str) -> Path:
    """Write text as UTF-8, first beside ``path`` and then renamed: whole or not at all."""
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        half = ascii(text[error.start])
        raise BadFile(str(path), f"would hold half a character, {half}", "leave it out") from None
    return write_bytes(path, data)


def write_bytes(path: str | os.PathLike[str], data: bytes) -> Path:
    """Write bytes, first beside ``path`` and then renamed: whole or not at all."""
    target = Path(path)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            umask = os.umask(0)
            os.umask(umask)
            os.chmod(name, 0o666 & ~umask)  # mkstemp's own mode would lock others out
            os.replace(name, target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except (OSError, ValueError) as error:
        raise BadFile(
            str(path), f"cannot be written ({_why(error)})", "check the folder and its rights"
        ) from error
    return target


@contextlib.contextmanager
def together(folder: str | os.PathLike[str]) -> Iterator[Path]:
    """Let files that belong together appear in ``folder`` together, or none of them.

    Yields a folder beside to write them into; what lies there at the end is moved.
    """
    target = Path(folder)
    beside = None
    try:
        home = next(path for path in (target, *target.absolute().parents) if path.exists())
        beside = Path(tempfile.mkdtemp(dir=home, prefix=".guitarnet."))
        yield beside
        written = sorted(beside.iterdir())
        for file in written:
            if (target / file.name).is_dir():
                raise BadFile(str(target / file.name), "is a folder", "remove it, or name another")
        target.mkdir(parents=True, exist_ok=True)
        for file in written:
            os.replace(file, target / file.name)
    except OSError as error:
        raise BadFile(
            str(folder), f"cannot be written to ({_why(error)})", "check the folder and its rights"
        ) from error
    finally:
        if beside is not None:
            shutil.rmtree(beside, ignore_errors=True)


def _why(error: OSError | ValueError) -> str:
    return getattr(error, "strerror", None) or str(error)


def read_csv_columns(
    path: str | os.PathLike[str], columns: Sequence[str], *, optional: Sequence[str] = ()
) -> dict[str, np.ndarray]:
    """Read named columns of numbers from a CSV file with one header line.

    Lines that begin with ``#`` are comments. The file is never changed. It may have up to 20 MB,
    a million lines, 200 columns and 10 000 characters a line.

    Parameters
    ----------
    path : path
        The file.
    columns : sequence of str
        Names that must stand in the header.
    optional : sequence of str
        Names that may stand there.

    Returns
    -------
    dict of str to numpy.ndarray
        One float array a column, in the order of the file.

    Raises
    ------
    BadFile
        If the file is missing, too large or not text, a column is missing or named twice, columns
        are not separated by commas, or a cell is not a number.
    """
    lines = _lines(path)
    if not lines:
        raise BadFile(str(path), "has no header line", f"begin it with {','.join(columns)}")
    if ";" in lines[0][1]:
        raise BadFile(
            str(path),
            "is separated by semicolons",
            "save it with commas between columns and decimal points in numbers",
        )
    if "\t" in lines[0][1] and "," not in lines[0][1]:
        raise BadFile(str(path), "is separated by tabs", "save it with commas between columns")
    header = [name.strip().lower() for name in _cells(lines[0][1])]
    if len(header) > _MOST_COLUMNS:
        raise BadFile(
            str(path), f"has {len(header)} columns", f"keep {','.join((*columns, *optional))}"
        )
    for name in columns:
        if name not in header:
            raise BadFile(
                str(path),
                f"has no column {name!r} in its header {','.join(header)!r}",
                f"name the columns {','.join((*columns, *optional))}"
                if len(header) < len(columns)
                else nearest(name, header, otherwise=f"name a column {name!r}"),
            )
    wanted = [name for name in (*columns, *optional) if name in header]
    for name in wanted:
        if header.count(name) > 1:
            raise BadFile(
                str(path),
                f"names the column {name!r} twice",
                "name the one to read, drop the other",
            )
    places = {name: header.index(name) for name in wanted}
    values: dict[str, list[float]] = {name: [] for name in wanted}
    for number, line in lines[1:]:
        cells = _cells(line)
        if len(cells) != len(header):
            comma = "write decimal points, not decimal commas, and one value a column"
            raise BadFile(
                f"{path}, line {number}", f"has {len(cells)} cells under {len(header)} names", comma
            )
        for name, place in places.items():
            try:
                values[name].append(float(cells[place]))
            except ValueError:
                raise BadFile(
                    f"{path}, line {number}, {name}",
                    f"{cells[place].strip()!r} is not a number",
                    "write it like 1234.5",
                ) from None
    return {name: np.array(column) for name, column in values.items()}


def _lines(path: str | os.PathLike[str]) -> list[tuple[int, str]]:
    """Numbered lines of a CSV file that are neither empty nor comments."""
    every = read_text(path).splitlines()
    if len(every) > _MOST_LINES:
        raise BadFile(str(path), f"has {len(every)} lines", f"keep {_MOST_LINES} at the most")
    for number, line in enumerate(every, 1):
        if len(line) > _LONGEST:
            raise BadFile(
                f"{path}, line {number}",
                f"has {len(line)} characters",
                f"a line of numbers has under {_LONGEST}",
            )
    return [
        (number, line)
        for number, line in enumerate(every, 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]


def _cells(line: str) -> list[str]:
    return next(csv.reader([line]))
