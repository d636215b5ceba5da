"""Where the measures of a plan are kept, and the record of the chunks that are done."""

from __future__ import annotations

import io
import json
import os
import time
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...errors import BadFile
from ...files import read_text, scratch, write_bytes, write_text
from ...identity import digest

if TYPE_CHECKING:
    from .large_plan import SweepPlan, Where

__all__ = ["ParquetWriter", "Record", "Writer", "ZarrWriter", "design"]

_EVERY = 1.0  # seconds between two savings of the record
_TOLD = 20  # guitars that a record tells value by value


Keep = Callable[[Mapping[str, np.ndarray]], None]


class Writer(Protocol):
    """What keeps the measures of chunks."""

    @property
    def path(self) -> str:
        """The store."""

    def create(self, plan: SweepPlan, path: Path) -> None:
        """Make an empty store at a path."""

    def at(self, plan: SweepPlan, number: int, where: Where) -> Keep:
        """Give what writes one chunk, wherever that runs; done again it gives the same."""


# -- the record -------------------------------------------------------------------------------


Pieces = Mapping[str, str | Mapping[str, str]]


def design(plan: SweepPlan) -> dict[str, str | dict[str, str]]:
    """Tell what each piece of a plan is, by its name in words; a guitar value by value."""
    question = plan.question
    guitars: Mapping[str, Harness] = (
        {"guitar": plan.guitar}
        if isinstance(plan.guitar, Harness)
        else {f"guitar {label!r}": guitar for label, guitar in plan.guitar.items()}
    )
    pieces: dict[str, Any] = {
        "frequency": question.frequency,
        "at": question.at,
        "reference_frequency": question.reference_frequency,
        "source": question.source,
        "chunks": list(plan.chunks.items()),
        "order of guitars": list(guitars),
    }
    pieces |= {f"setting {name!r}": given for name, given in plan.settings.items()}
    pieces |= {f"measure {name!r}": measure for name, measure in question.measures.items()}
    told: dict[str, str | dict[str, str]] = {name: digest(piece) for name, piece in pieces.items()}
    for name, guitar in guitars.items():
        whole = guitar.described()
        told[name] = whole if len(guitars) <= _TOLD else digest(whole)
    return told


def _differs(then: Pieces, now: Pieces) -> list[str]:
    """Say which pieces of two designs differ, and where in a guitar."""
    said = []
    for name in dict.fromkeys((*now, *then)):
        one, other = then.get(name), now.get(name)
        if one != other:
            inside = isinstance(one, Mapping) and isinstance(other, Mapping)
            said.append(f"{name} ({_where(one, other)})" if inside else name)  # type: ignore[arg-type]
    return said


def _where(then: Mapping[str, str], now: Mapping[str, str]) -> str:
    """Say the first difference between two guitars."""
    path = next(path for path in (*now, *then) if then.get(path) != now.get(path))
    if path not in then:
        return f"{path} is new"
    if path not in now:
        return f"{path} is gone"
    return f"{path} was {then[path]}, is {now[path]}"


@dataclass
class Record:
    """Which chunks of a store are done, kept in a file beside it.

    A chunk is marked after it is written, so that a run that dies computes at most a few again.
    """

    store: Path
    pieces: Pieces
    total: int
    new: bool = True
    done: set[int] = field(default_factory=set)
    run: str = field(default_factory=lambda: uuid.uuid4().hex[:8])
    saved: float = 0.0

    @staticmethod
    def open(path: str | os.PathLike[str], pieces: Pieces, total: int) -> Record:
        """Begin a record, or read that of an earlier run.

        Raises
        ------
        BadFile
            If the store is another sweep's, or has no record.
        """
        record = Record(Path(path), pieces, total)
        try:
            begun = bool(record.file.lstat())
        except (FileNotFoundError, NotADirectoryError):
            begun = False
        except (OSError, ValueError):  # too long, or with a zero byte
            raise BadFile(str(path), "is no name of a file", "give a shorter one") from None
        if not begun:
            if record.store.exists():
                raise BadFile(
                    str(path),
                    "exists and has no record of a sweep",
                    "give another name, or remove it",
                )
            return record
        if not record.store.exists():
            return record  # removed by hand to begin anew
        try:
            kept = json.loads(read_text(record.file))
            earlier, bits = dict(kept["design"]), bytes.fromhex(kept["done"])
        except (ValueError, KeyError, TypeError):
            raise BadFile(
                str(record.file), "is no record of a sweep", f"remove it and {record.store.name}"
            ) from None
        other = _differs(earlier, pieces)
        if other:
            raise BadFile(
                str(path),
                f"was begun with another {' and another '.join(other[:3])}",
                "give another name, or remove it to begin anew",
                other,
            )
        flags = np.unpackbits(np.frombuffer(bits, dtype=np.uint8), count=total)
        record.done = set(np.flatnonzero(flags).tolist())
        record.new = False
        return record

    def begin(self, create: Callable[[Path], None]) -> None:
        """Make the store: whole, with its record, or not at all."""
        try:
            with scratch(self.store.parent) as beside:
                made = beside / self.store.name
                create(made)
                self.save()
                os.replace(made, self.store)
        except OSError as error:
            raise BadFile(
                str(self.store),
                f"cannot be written ({error.strerror})",
                "check the folder and its rights",
            ) from error

    @property
    def file(self) -> Path:
        """Where the record is kept."""
        return self.store.with_name(f"{self.store.name}.record.json")

    @property
    def count(self) -> int:
        """How many chunks are done."""
        return len(self.done)

    def __contains__(self, number: int) -> bool:
        return number in self.done

    def add(self, number: int) -> None:
        """Mark a chunk as done."""
        self.done.add(number)
        if time.monotonic() - self.saved > _EVERY:
            self.save()

    def save(self) -> None:
        """Write the record, whole or not at all."""
        flags = np.zeros(self.total, dtype=bool)
        flags[list(self.done)] = True
        kept = {
            "what": "chunks of a sweep that are done, one bit each",
            "design": dict(self.pieces),
            "chunks": self.total,
            "done": np.packbits(flags).tobytes().hex(),
        }
        write_text(self.file, json.dumps(kept, indent=1) + "\n")
        self.saved = time.monotonic()


# -- stores -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class ZarrWriter:
    """Writes regions of a Zarr store that are whole chunks of it."""

    path: str

    def create(self, plan: SweepPlan, path: Path) -> None:
        """Write coordinates and empty arrays."""
        import zarr

        template = plan.template
        coords = xr.Dataset(coords=template.coords, attrs=template.attrs)
        # Version 2 of the format: version 3 has no settled way to write text labels.
        coords.to_zarr(path, mode="w", zarr_format=2, consolidated=False)
        group = zarr.open_group(path, mode="r+")
        for name, array in template.data_vars.items():
            floats = array.dtype.kind in "fc"
            made = group.create_array(
                str(name),
                shape=array.shape,
                chunks=tuple(plan.chunks.get(str(dim), size) for dim, size in array.sizes.items()),
                dtype=array.dtype,
                fill_value=np.nan if floats else None,
            )
            aside = [str(name) for name in array.coords if name not in array.dims]
            made.attrs.update(
                {
                    **{key: _plain(value) for key, value in array.attrs.items()},
                    **({"coordinates": " ".join(aside)} if aside else {}),
                    "_ARRAY_DIMENSIONS": [str(dim) for dim in array.dims],
                }
            )
        zarr.consolidate_metadata(path)

    def at(self, plan: SweepPlan, number: int, where: Where) -> Keep:
        """Give what writes one chunk."""
        return ZarrRegion(self.path, where)


@dataclass(frozen=True)
class ZarrRegion:
    """One chunk's region of a store."""

    path: str
    where: Where

    def __call__(self, arrays: Mapping[str, np.ndarray]) -> None:
        import zarr

        group = zarr.open_group(self.path, mode="r+", use_consolidated=False)
        for name, values in arrays.items():
            target: Any = group[name]
            dims = target.attrs["_ARRAY_DIMENSIONS"]
            target[tuple(self.where.get(dim, slice(None)) for dim in dims)] = values


def _plain(value: Any) -> Any:
    return value.tolist() if isinstance(value, (np.ndarray, np.generic)) else value


@dataclass(frozen=True)
class ParquetWriter:
    """Writes one file of a long table for each chunk."""

    path: str

    def create(self, plan: SweepPlan, path: Path) -> None:
        """Make the folder."""
        path.mkdir()

    def at(self, plan: SweepPlan, number: int, where: Where) -> Keep:
        """Give what writes one chunk."""
        digits = len(str(plan.chunk_count - 1))
        file = Path(self.path, f"part-{number:0{digits}d}.parquet")
        own = plan.template.drop_vars(plan.template.data_vars)
        labels = own.isel({d: s for d, s in where.items() if d in own.dims}).compute()
        return ParquetPart(file, labels, where, plan.dims())


@dataclass(frozen=True)
class ParquetPart:
    """One chunk's file."""

    file: Path
    labels: xr.Dataset
    where: Where
    dims: Mapping[str, tuple[str, ...]]

    def __call__(self, arrays: Mapping[str, np.ndarray]) -> None:
        import pyarrow
        from pyarrow import parquet

        used = {dim for own in self.dims.values() for dim in own}
        rows = {d: s.stop - s.start for d, s in self.where.items() if d in used}
        columns: dict[str, Any] = {}
        for dim, size in rows.items():
            here = np.arange(self.where[dim].start, self.where[dim].stop)
            named = {str(k): c for k, c in self.labels.coords.items() if c.dims == (dim,)}
            if dim not in named:
                named[dim] = xr.DataArray(here)
            for name, values in named.items():
                place = self._column(np.arange(size, dtype=np.int32), (dim,), rows)
                columns[name] = pyarrow.DictionaryArray.from_arrays(place, np.asarray(values))
        for name, values in arrays.items():
            columns |= self._of_measure(name, values, rows)
        if not rows:
            columns = {name: np.atleast_1d(values) for name, values in columns.items()}
        stream = io.BytesIO()
        parquet.write_table(pyarrow.table(columns), stream)
        write_bytes(self.file, stream.getvalue())

    def _of_measure(
        self, name: str, values: np.ndarray, rows: Mapping[str, int]
    ) -> dict[str, np.ndarray]:
        """Columns of a measure: one, or one for each place of what it adds of its own."""
        dims = self.dims[name]
        added = [dim for dim in dims if dim not in rows]
        own = [dim for dim in dims if dim in rows]
        found = {}
        for index in np.ndindex(*(values.shape[dims.index(dim)] for dim in added)):
            at = dict(zip(added, index, strict=True))
            said = [
                f"{self.labels[d].values[i]:g}" if d in self.labels.coords else str(i)
                for d, i in at.items()
            ]
            part = values[tuple(at.get(dim, slice(None)) for dim in dims)]
            found["_".join([name, *said])] = self._column(part, own, rows)
        return found

    @staticmethod
    def _column(values: np.ndarray, dims: Sequence[str], rows: Mapping[str, int]) -> np.ndarray:
        shaped = values.reshape([size if dim in dims else 1 for dim, size in rows.items()])
        return np.broadcast_to(shaped, tuple(rows.values())).ravel()
