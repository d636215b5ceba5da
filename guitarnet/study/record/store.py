"""The file of a record: SQLite, so that what was confirmed is there, whatever happens after.

Entries are only added. A correction is an entry that names the one it corrects; the database
itself refuses to change one. Only what belongs to a customer can be erased, on request.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from ...errors import BadFile
from ...files import opened

__all__ = ["Store"]

_APPLICATION = 0x67757472  # "gutr", in the head of every file
_VERSION = 1
_PATIENCE = 10.0  # seconds to wait for another process
_HEAD = b"SQLite format 3\0"
_SCHEMA = """
CREATE TABLE thing (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE,
  kind TEXT NOT NULL CHECK (kind IN ('pickup', 'guitar')),
  sort TEXT NOT NULL,
  customer TEXT NOT NULL
);
CREATE TABLE entry (
  number INTEGER PRIMARY KEY AUTOINCREMENT,
  thing INTEGER NOT NULL REFERENCES thing (id) ON DELETE CASCADE,
  kind TEXT NOT NULL CHECK (
    kind IN ('reading', 'harness', 'finding', 'work', 'remark', 'withdrawn')
  ),
  date TEXT NOT NULL,
  state TEXT NOT NULL,
  place TEXT NOT NULL,
  ohms REAL,
  celsius REAL,
  accuracy REAL,
  text TEXT NOT NULL,
  corrects INTEGER UNIQUE REFERENCES entry (number) ON DELETE CASCADE
);
CREATE INDEX entry_of ON entry (thing);
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is corrected by another and never changed'); END;
"""


class Store:
    """One file of a record, opened."""

    def __init__(self, path: Path, *, begin: bool) -> None:
        self.path = path
        there = os.path.lexists(path)
        if not there and not begin:
            raise BadFile(str(path), "there is no such record", "check the name and folder")
        if there:
            with opened(path) as stream:
                head = stream.read(len(_HEAD))
            if head not in (b"", _HEAD):
                raise BadFile(str(path), "is no record", "name another file")
        with self._said():
            if not there:
                _begin(path)
            self._base = sqlite3.connect(
                path, timeout=_PATIENCE, isolation_level=None, check_same_thread=False
            )
            try:
                self._prepare(begin)
            except BaseException:
                self._base.close()
                raise

    def _prepare(self, begin: bool) -> None:
        for pragma in ("foreign_keys = ON", "secure_delete = ON", "synchronous = FULL"):
            self._base.execute(f"PRAGMA {pragma}")
        if not self._number("PRAGMA user_version"):
            with self.transaction():
                # Another process may have been here first.
                if not self._number("PRAGMA user_version"):
                    if self._number("SELECT count(*) FROM sqlite_master") or not begin:
                        raise BadFile(str(self.path), "is no record", "name another file")
                    for statement in _statements(_SCHEMA):
                        self._base.execute(statement)
                    self._base.execute(f"PRAGMA application_id = {_APPLICATION}")
                    self._base.execute(f"PRAGMA user_version = {_VERSION}")
        if self._number("PRAGMA application_id") != _APPLICATION:
            raise BadFile(str(self.path), "is a database, but no record", "name another file")
        if (version := self._number("PRAGMA user_version")) > _VERSION:
            raise BadFile(
                str(self.path),
                f"was written by a newer version (schema {version}, this one reads {_VERSION})",
                "bring guitarnet up to date",
            )
        self._base.execute("PRAGMA journal_mode = WAL")

    def _number(self, question: str) -> int:
        return int(self._base.execute(question).fetchone()[0])

    def close(self) -> None:
        """Close the file."""
        with self._said():
            self._base.close()

    @contextlib.contextmanager
    def transaction(self) -> Iterator[None]:
        """Write all or nothing; at the end it is on the disk."""
        with self._said():
            self._base.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._base.execute("COMMIT")
            except BaseException:
                if self._base.in_transaction:
                    self._base.execute("ROLLBACK")
                raise

    def rows(self, question: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """Ask for rows."""
        with self._said():
            return self._base.execute(question, values).fetchall()

    def add(self, table: str, **columns: Any) -> int:
        """Add a row and give its number; inside `transaction`. Names are ours, values bound."""
        names, marks = ", ".join(columns), ", ".join("?" * len(columns))
        done = self._base.execute(
            f"INSERT INTO {table} ({names}) VALUES ({marks})",
            tuple(columns.values()),
        )
        return int(done.lastrowid or 0)

    def erase(self, things: Sequence[int]) -> None:
        """Erase things with all their entries, and what they left in the file."""
        with self.transaction():
            for thing in things:
                self._base.execute("DELETE FROM thing WHERE id = ?", (thing,))
        with self._said():
            self._base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            self._base.execute("VACUUM")
            self._base.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    @contextlib.contextmanager
    def _said(self) -> Iterator[None]:
        """Say in one sentence what the database or the disk has against it."""
        try:
            yield
        except (sqlite3.Error, OSError) as error:
            raise self._refusal(error) from None

    def _refusal(self, error: sqlite3.Error | OSError) -> BadFile:
        known = str(getattr(error, "strerror", None) or error)
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # without its refinement
        problem, fix = f"cannot be used ({known})", "check the file, its folder and rights"
        if code == sqlite3.SQLITE_FULL or "No space" in known:
            problem = "cannot be written to, since the disk is full"
            fix = "make room; what was confirmed before is kept"
        elif code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            problem, fix = "is being written to by another process", "try again in a moment"
        elif code == sqlite3.SQLITE_IOERR:
            problem = f"cannot be read or written ({known})"
            fix = "look at the disk and the room on it; what was confirmed before is kept"
        elif code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
            problem, fix = "may not be written to", "mend its rights and those of its folder"
        elif code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            problem, fix = "is damaged", "take the last copy of it that is whole"
        elif isinstance(error, sqlite3.ProgrammingError):
            problem, fix = "is closed", "open it again"
        return BadFile(str(self.path), problem, fix)


def _begin(path: Path) -> None:
    """Make an empty file, readable by its owner alone: it may name customers."""
    try:
        os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
    except ValueError:  # no name may hold a zero byte, or half a character
        raise BadFile(str(path), "cannot be the name of a file", "take another") from None


def _statements(text: str) -> Iterator[str]:
    """Split a schema into its statements."""
    held = ""
    for line in text.splitlines(keepends=True):
        held += line
        if sqlite3.complete_statement(held):
            yield held
            held = ""
