"""Reading and writing files so that nothing is half read and nothing written is lost.

What is written is made in a folder of its own beside its place and then renamed. That folder is
locked as long as its process lives; where one was killed, the next that writes there removes it.
"""

from __future__ import annotations

import contextlib
import csv
import errno
import functools
import io
import os
import re
import secrets
import shutil
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np

from .errors import BadFile, nearest

try:
    import fcntl
except ImportError:  # not a Unix: nothing is locked there, and so nothing is removed
    fcntl = None  # type: ignore[assignment]

__all__ = [
    "opened",
    "read_csv_columns",
    "read_text",
    "scratch",
    "together",
    "write_bytes",
    "write_text",
]

_LARGEST = 20_000_000  # bytes; a measured curve has some ten thousand
_MOST_LINES, _MOST_COLUMNS, _LONGEST = 1_000_000, 200, 10_000  # of a CSV file
_SCRATCH = re.compile(r"\.guitarnet\.[0-9a-f]{16}")
_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_NAME_A_FILE = "name a file"


# -- reading --------------------------------------------------------------------------------------


@contextlib.contextmanager
def opened(path: str | os.PathLike[str]) -> Iterator[BinaryIO]:
    """Open a file to read its bytes, with one clear sentence where that fails.

    What has no end or may never begin, such as a pipe or a device, is refused without a wait.
    """
    try:
        # By its name: what can also be read as a number is no open file.
        stream = open(os.fspath(path), "rb", opener=_at_once)  # noqa: SIM115 - closed below
    except IsADirectoryError:
        raise BadFile(str(path), "is a folder", _NAME_A_FILE) from None
    except FileNotFoundError:
        raise BadFile(str(path), "there is no such file", "check the name and folder") from None
    except (OSError, ValueError) as error:  # no name may hold a zero byte
        raise _unread(path, error) from error
    with stream:
        _check_plain(path, os.fstat(stream.fileno()), _NAME_A_FILE)
        try:
            yield stream
        except OSError as error:  # a disk that fails
            raise _unread(path, error) from error


def _unread(path: str | os.PathLike[str], error: OSError | ValueError) -> BadFile:
    return BadFile(str(path), f"cannot be read ({_why(error)})", "check the name and rights")


def _at_once(path: str, flags: int) -> int:
    """Open without waiting for who writes into a pipe, and without taking a terminal over."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0))


def _check_plain(path: str | os.PathLike[str], found: os.stat_result, fix: str) -> None:
    for is_one, kind in _KINDS:
        if is_one(found.st_mode):
            raise BadFile(str(path), f"is {kind}", fix)


def read_text(path: str | os.PathLike[str]) -> str:
    """Read a UTF-8 text file, with one clear sentence where that fails."""
    with opened(path) as stream:
        size = os.fstat(stream.fileno()).st_size
        # What the system says of its size need not hold: it may grow meanwhile.
        data = stream.read(_LARGEST + 1) if size <= _LARGEST else b""
    if max(size, len(data)) > _LARGEST:
        found = f"{size}" if size > _LARGEST else f"over {_LARGEST}"
        raise BadFile(str(path), f"has {found} bytes", f"give a file of at most {_LARGEST} bytes")
    try:
        return io.TextIOWrapper(io.BytesIO(data), encoding="utf-8-sig").read()
    except UnicodeDecodeError:
        raise BadFile(str(path), "is not UTF-8 text", "save it as plain UTF-8 text") from None


# -- writing --------------------------------------------------------------------------------------


def write_text(path: str | os.PathLike[str], text: str, *, new: bool = False) -> Path:
    """Write text as UTF-8, as `write_bytes` does."""
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        half = ascii(text[error.start])
        raise BadFile(str(path), f"would hold half a character, {half}", "leave it out") from None
    return write_bytes(path, data, new=new)


def write_bytes(path: str | os.PathLike[str], data: bytes, *, new: bool = False) -> Path:
    """Write bytes: whole or not at all.

    A file that was there keeps its rights, and one at the end of a link is written in its place.
    With ``new`` none may be there: of several processes that write at once one does.
    """
    target = Path(path)
    try:
        place = target if new else _behind(target)
        with scratch(place.parent) as beside:
            made = beside / "new"
            made.write_bytes(data)
            place.parent.mkdir(parents=True, exist_ok=True)
            put = _put_new if new else _put
            put(made, place)
    except BadFile:
        raise
    except (OSError, ValueError) as error:  # no name may hold a zero byte
        raise BadFile(
            str(path), f"cannot be written ({_why(error)})", "check the folder and its rights"
        ) from error
    return target


def _behind(target: Path) -> Path:
    """Where writing to a path must lead: the end of a link, of one that is broken too."""
    if not target.is_symlink():
        return target
    place = Path(os.path.realpath(target))
    if place.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
    return place


def _put(made: Path, place: Path) -> None:
    """Rename a file to its place; what is there must be a file, and its rights are kept."""
    with contextlib.suppress(FileNotFoundError):
        found = os.stat(place)
        _check_plain(place, found, _NAME_A_FILE)
        os.chmod(made, stat.S_IMODE(found.st_mode))
    os.replace(made, place)


def _put_new(made: Path, place: Path) -> None:
    """Give a file its place where nothing is, not even a broken link."""
    try:
        try:
            os.link(made, place)
        except FileExistsError:
            raise
        except OSError:  # a file system without links
            with open(place, "xb", buffering=0) as stream:
                try:
                    shutil.copyfileobj(io.BytesIO(made.read_bytes()), stream)
                except BaseException:
                    place.unlink(missing_ok=True)
                    raise
    except FileExistsError:
        raise BadFile(
            str(place), "is there already", "name a new file; nothing is written over"
        ) from None


@contextlib.contextmanager
def together(folder: str | os.PathLike[str]) -> Iterator[Path]:
    """Let files that belong together appear in ``folder`` together, or none of them.

    Yields a folder beside to write them into; what lies there at the end is moved.
    """
    target = Path(folder)
    try:
        with scratch(target) as beside:
            yield beside
            places = {file: _behind(target / file.name) for file in sorted(beside.iterdir())}
            for place in places.values():
                if place.exists():
                    _check_plain(place, os.stat(place), "remove it, or name another")
            target.mkdir(parents=True, exist_ok=True)
            for file, place in places.items():
                if place.parent == target:
                    _put(file, place)
                else:  # perhaps on another disk
                    write_bytes(place, file.read_bytes())
    except OSError as error:
        raise BadFile(
            str(folder), f"cannot be written to ({_why(error)})", "check the folder and its rights"
        ) from error


@contextlib.contextmanager
def scratch(folder: str | os.PathLike[str]) -> Iterator[Path]:
    """Give a folder to make in what then is renamed into ``folder``, which need not exist yet.

    It is removed at the end; where its process is killed, by the next process that writes there.
    """
    target = Path(folder)
    home = next(path for path in (target, *target.absolute().parents) if path.exists())
    for near in (home, home.absolute().parent):
        _remove_abandoned(os.path.abspath(near))
    beside, lock = _locked_folder(home)
    try:
        yield beside
    finally:
        shutil.rmtree(beside, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def _locked_folder(home: Path) -> tuple[Path, int | None]:
    while True:
        beside = home / f".guitarnet.{secrets.token_hex(8)}"
        beside.mkdir()
        if fcntl is None:
            return beside, None
        try:
            lock = os.open(beside, os.O_RDONLY)
        except FileNotFoundError:
            continue  # taken for abandoned before it was locked
        with contextlib.suppress(OSError):  # a file system without locks: no one can remove it
            fcntl.flock(lock, fcntl.LOCK_EX)
        if _is_at(lock, beside):
            return beside, lock
        os.close(lock)


def _is_at(opened: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(opened), os.lstat(path))
    except FileNotFoundError:
        return False


@functools.lru_cache(maxsize=1000)  # once for each folder: a store may have a million files
def _remove_abandoned(home: str) -> None:
    """Remove what killed processes left in a folder: a lock that can be had has no owner."""
    if fcntl is None:
        return
    try:
        names = [name for name in os.listdir(home) if _SCRATCH.fullmatch(name)]
    except OSError:
        return
    for name in names:
        path = Path(home, name)
        try:
            lock = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
        except OSError:
            continue  # gone by now, no folder, or someone else's
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if _is_at(lock, path):
                shutil.rmtree(path, ignore_errors=True)
        except OSError:
            pass  # its process lives
        finally:
            os.close(lock)


def _why(error: OSError | ValueError) -> str:
    return getattr(error, "strerror", None) or str(error)


# -- columns of numbers ----------------------------------------------------------------------------


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
                f"a line of numbers has at most {_LONGEST}",
            )
    return [
        (number, line)
        for number, line in enumerate(every, 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]


def _cells(line: str) -> list[str]:
    return next(csv.reader([line]))
