"""Junk for every argument of everything public: a sentence or an answer, never a traceback.

    python tools/junk.py --calls 30000 --seed 1

A valid call of each public function, constructor, layout and method is repeated with one argument
(at times two) made junk. A leak is any exception that is none of the project's, a warning, a call
of over 5 s, one that takes gigabytes, and junk that was changed by the one who was given it.
Seeds and figures of the campaigns are in `tools/junk.md`.
"""

from __future__ import annotations

import argparse
import array
import collections
import contextlib
import copy
import datetime
import enum
import inspect
import io
import itertools
import math
import os
import resource
import signal
import sys
import tempfile
import traceback
import types
import unittest.mock
import uuid
import warnings
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

os.environ.setdefault("MPLBACKEND", "Agg")

import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.parts.base import Values
from guitarnet.show.page.from_array import from_array
from net.names import face

__all__ = ["Campaign", "Target", "campaign", "targets"]

_SECONDS = 5.0  # of processor time for one call
_WAITS = 60.0  # seconds by the clock that a call may take on a machine that is busy
_MEMORY = 3 * 2**30  # bytes above what stands in memory at the start
_COMPARED = 1_000_000  # items; a larger array is not copied to see whether it was changed


# -- junk -----------------------------------------------------------------------------------------


def _itself() -> list[Any]:
    loop: list[Any] = [1.0]
    loop.append(loop)
    return loop


def _dict_itself() -> dict[str, Any]:
    loop: dict[str, Any] = {}
    loop["volume"] = loop
    return loop


def _objects(*items: Any) -> np.ndarray:
    made = np.empty(len(items), dtype=object)
    for place, item in enumerate(items):
        made[place] = item
    return made


_VIEW = np.broadcast_to(1.0, (10**9,))
"""A thousand million numbers that take eight bytes, until they are copied."""


class _Odd:
    """A thing of the user's own."""


class _Word(str):
    """Text of another class."""


class _Count(int):
    """A whole number of another class."""


class _Real(float):
    """A number of another class."""


class _Choice(enum.IntEnum):
    one = 1


class _Named(enum.StrEnum):
    volume = "volume"


class _Endless:
    """A list that never ends."""

    def __getitem__(self, place: int) -> int:
        return place


class _EndlessMapping(Mapping[str, int]):
    """A mapping that never ends."""

    __eq__ = object.__eq__
    __hash__ = object.__hash__

    def __getitem__(self, name: str) -> int:
        return 1

    def __len__(self) -> int:
        return sys.maxsize

    def __iter__(self) -> Iterator[str]:
        return (f"k{n}" for n in itertools.count())


class _Failed(Exception):
    """What the user's own code raises."""


def _failing(own: Any = None, *_: Any, **__: Any) -> Any:
    raise _Failed("the user's own code")


_HOSTILE = (
    *("__array__", "__repr__", "__str__", "__eq__", "__bool__", "__len__", "__iter__", "__hash__"),
    *("__float__", "__index__", "__int__", "__complex__", "__fspath__", "__getattr__", "__call__"),
    *("__lt__", "__abs__", "__add__", "__mul__", "__getitem__", "__contains__", "__format__"),
    *("__array_interface__", "__array_ufunc__", "keys", "dtype", "dims", "shape"),
)


def _hostile(method: str) -> Any:
    """Make a thing of which one method raises; properties are those that are read, not called."""
    read = method in ("__array_interface__", "dtype", "dims", "shape")
    held: Any = property(_failing) if read else _failing
    return type("Hostile", (), {method: held})()


class _Liar:
    """Says that it has everything, and is of another class."""

    __class__ = float  # type: ignore[assignment]

    def __float__(self) -> float:
        return math.nan

    def __len__(self) -> int:
        return 3

    def __array__(self, dtype: Any = None, copy: Any = None) -> np.ndarray:
        return np.zeros((2, 0))


class _BadText(str):
    """Text whose own code raises."""

    __eq__ = __str__ = __repr__ = __format__ = lower = strip = split = _failing  # type: ignore[assignment]
    __hash__ = str.__hash__


class _BadList(list):
    """A list whose own code raises."""

    __iter__ = __len__ = __getitem__ = __repr__ = _failing  # type: ignore[assignment]


class _BadDict(dict):
    """A mapping whose own code raises."""

    __iter__ = __len__ = __getitem__ = items = keys = values = get = __repr__ = _failing  # type: ignore[assignment]


class _BadPath(os.PathLike[str]):
    """A path that is none."""

    def __fspath__(self) -> str:
        return 5  # type: ignore[return-value]


def _deep(kind: type, depth: int) -> Any:
    inner: Any = kind()
    for _ in range(depth):
        inner = [inner] if kind is list else {"volume": inner}
    return inner


def _pipe() -> str:
    """A pipe that nobody writes to."""
    if not os.path.exists("pipe"):
        os.mkfifo("pipe")
    return "pipe"


def _loop_of_links() -> str:
    if not os.path.islink("loop"):
        os.symlink("loop", "loop")
    return "loop"


_EXPRESSIONS = (
    *("s", "x", "1", "0", "1/s", "1/(s**2 + s + 1)", "s**0.5", "s**x", "exp(s)", "zoo", "nan"),
    *("oo", "I", "s > 1", "true", "Eq(s, 1)", "(s**40 + 1)/(s**39 + 2)", "1.5e400*s", "pi*s"),
    *("sqrt(2)*s + 1", "s**100", "1/0", "Derivative(f(s), s)", "Integral(s, s)", "[s]", "f(s)"),
)


def _expression(words: str) -> Any:
    return _sympy().sympify(words)


def _anew(value: Any) -> Any:
    """Copy what could be changed."""
    changeable = isinstance(value, (list, dict, set, bytearray, np.ndarray))
    return copy.deepcopy(value) if changeable else value


_PLAIN_JUNK: tuple[Any, ...] = (
    *(None, True, False, 0, 1, -1, 3, 11, 10**400, -(10**400), 2**63, 2**70, 7.5, -0.0, -2.5),
    *(math.nan, math.inf, -math.inf, 1e308, -1e308, 1e-320, 1 + 2j, Decimal("1.5")),
    *(Decimal("nan"), Decimal("sNaN"), Decimal("1e9999"), Fraction(1, 3), Fraction(10**400)),
    *(
        "",
        " ",
        "x",
        "volume",
        "10",
        "nan",
        "a\x00b",
        "\ud800",
        "\u202e",
        "a" * 5000,
        "{0}",
        "%s",
    ),
    *("../..", "/", "jack.tip", "1e999", "\n", "-5", "3 m", "1k", "\u0661"),
    *(b"", b"250k", bytearray(b"x")),
    *([], (), {}, set(), frozenset(), [None], [[]], [1, 2], [1, [2, 3]], [[1, 2], [3]]),
    *(
        (1, 2, 3),
        (0, 0),
        (5, 1),
        [True],
        ["x"],
        ["a", 1],
        [math.nan],
        [math.inf, 1],
        ["\ud800"],
    ),
    *([b"x"], [10**400], [1j], [1, 1], [3, 2], [object], (None, None), ((1, 2), (3, 4))),
    *({"a": 1}, {1: 2}, {None: None}, {math.nan: 1}, {"volume": None}, {"volume": [1, [2]]}),
    *(
        {("a",): 1},
        {"": 1},
        {"x\x00": [1]},
        {"frequency": [1]},
        {"build": [1]},
        {b"a": 1},
        {1, 2},
    ),
    *({"volume": "x"}, {"guitar": 5}, {"volume": math.nan}, {"volume": {}}, {True: 1}),
    *(range(0), range(3), slice(None), ..., NotImplemented, object, int, str, type, math, len),
    *(gn.Harness, gn.Pot, gn.Table, xr.DataArray, np.ndarray, Exception("x"), _Odd),
    *(datetime.datetime(2020, 1, 1), datetime.timedelta(1), datetime.date(2020, 1, 1)),
    *(np.datetime64("NaT"), np.timedelta64(1, "s"), np.float32(3), np.float64("nan")),
    *(
        np.int8(3),
        np.int64(-1),
        np.bool_(True),
        np.complex128(1),
        np.str_("x"),
        np.bytes_(b"x"),
    ),
    *(
        np.array(5),
        np.array(5.0),
        np.array("x"),
        np.array(None),
        np.array([]),
        np.array([1.0, 2]),
    ),
    *(
        np.array([np.nan]),
        np.zeros((2, 2)),
        np.zeros((0, 3)),
        np.zeros((2, 2, 2)),
        np.array([1j]),
    ),
    *(np.array(["a"]), np.array([True]), np.array([5, 1]), np.array([b"x"])),
    *(np.array(["2020-01-01"], dtype="datetime64[D]"), np.array([(1, 2)], dtype="i4,i4")),
    *(
        np.ma.masked,
        np.ma.array([1.0, 2.0], mask=[0, 1]),
        _objects(1, None),
        _objects([1], "x"),
    ),
)
JUNK: tuple[Callable[[], Any], ...] = (
    *(partial(_anew, value) for value in _PLAIN_JUNK),
    _itself,
    _dict_itself,
    _Odd,
    object,
    lambda: lambda: 1,
    lambda: lambda x: x,
    lambda: lambda *a, **k: None,
    lambda: (n for n in ()),
    lambda: (n for n in [5, 1]),
    lambda: (n for n in "ab"),
    lambda: iter([None]),
    lambda: map(str, [1]),
    lambda: zip([1], [2], strict=True),
    lambda: {"a": 1}.keys(),
    lambda: {"a": 1}.values(),
    lambda: memoryview(b"x"),
    lambda: io.BytesIO(b"x"),
    lambda: io.StringIO("x"),
    lambda: Path("x"),
    lambda: Path("no/such/folder/x"),
    lambda: Path("a\x00b"),
    lambda: xr.DataArray(1.0),
    lambda: xr.DataArray([1.0, 2.0], dims="frequency"),
    lambda: xr.DataArray([1.0, 2.0], dims="volume"),
    lambda: xr.DataArray([1.0, 2.0], dims="x"),
    lambda: xr.DataArray([1.0, np.nan], dims="x", coords={"x": ["a", "b"]}),
    lambda: xr.DataArray([["a"]], dims=("x", "y")),
    lambda: xr.DataArray([], dims="frequency"),
    lambda: xr.DataArray([1j, 2], dims="frequency", coords={"frequency": [1.0, 2.0]}),
    lambda: xr.DataArray([1j, 2], dims="frequency", coords={"frequency": ["a", "b"]}),
    lambda: xr.DataArray([1j, 2], dims="frequency", coords={"frequency": [2.0, 1.0]}),
    lambda: xr.DataArray([1j, np.nan], dims="frequency", coords={"frequency": [0.0, 1.0]}),
    lambda: xr.DataArray(np.zeros((2, 0)), dims=("volume", "frequency")),
    lambda: xr.DataArray(np.zeros((2, 2, 2)), dims=("volume", "frequency", "z")),
    lambda: xr.DataArray(_objects(1, "x"), dims="frequency"),
    lambda: xr.DataArray([True, False], dims="time"),
    lambda: xr.DataArray([0.1, 0.2], dims="time", coords={"time": [0.0, 1.0]}),
    lambda: xr.Dataset(),
    lambda: xr.Dataset({"a": ("x", [1.0])}),
    lambda: xr.Variable(("volume",), [5.0, 1.0]),
    lambda: _pandas().Series([1.0, 2.0]),
    lambda: _pandas().Series({"a": 1}),
    lambda: _pandas().DataFrame({"a": [1]}),
    lambda: _pandas().NA,
    lambda: _pandas().NaT,
    lambda: _pandas().Timestamp("2020-01-01"),
    lambda: _pandas().Categorical(["a"]),
    lambda: _pandas().Index([5, 1]),
    # what is valid elsewhere
    lambda: _GUITAR,
    lambda: {"a": _GUITAR},
    lambda: {"": _GUITAR, 1: _GUITAR},
    lambda: [_GUITAR],
    lambda: _H,
    lambda: _H.isel(volume=0),
    lambda: _H.drop_vars(["frequency", "volume"]),
    lambda: _H.real,
    lambda: _H.astype(object),
    lambda: _H.isel(frequency=slice(0, 0)),
    lambda: _H.expand_dims(extra=2),
    lambda: _H * np.nan,
    lambda: {"a": _H},
    lambda: gn.level_db(_H),
    lambda: gn.impedance(_GUITAR, frequency=[100.0, 1000.0]),
    lambda: _PICKUP,
    lambda: gn.Humbucker(_COIL, _COIL),
    lambda: gn.Pot("250k", "linear"),
    lambda: gn.Jack(),
    lambda: gn.Empty(),
    lambda: gn.bench.Ohmmeter(),
    lambda: gn.fitting.Load(),
    lambda: gn.fitting.Unknown("1M"),
    lambda: gn.Table(("a",), [(1,)]),
    lambda: gn.sweeps.frequency_grid(100, 1000, per_decade=3),
    lambda: gn.audio.sound(np.zeros(8)),
    lambda: gn.Harness({}),
    lambda: gn.Harness({"jack": gn.Jack()}),
    lambda: gn.bench.ResistanceReading("5k"),
    lambda: gn.linear_taper(),
    lambda: gn.formulas.Netlist(),
    # numbers and texts of another class
    lambda: _Word("volume"),
    lambda: _Count(5),
    lambda: _Real(2.5),
    lambda: _Choice.one,
    lambda: _Named.volume,
    lambda: np.float16(3),
    lambda: np.longdouble("1e4000"),
    lambda: np.longdouble(2),
    lambda: np.uint64(2**64 - 1),
    lambda: np.complex64(1j),
    lambda: np.void(b"ab"),
    lambda: np.timedelta64("NaT"),
    lambda: np.array([1, 2], dtype=np.float16),
    lambda: np.array([1, 2], dtype=np.longdouble),
    lambda: np.array([2**64 - 1], dtype=np.uint64),
    lambda: np.array([1.0, 2.0], dtype=">f8"),
    lambda: np.array([1, 2], dtype="m8[s]"),
    lambda: _VIEW,
    lambda: np.array([1.0, 2.0]).view(np.recarray),
    lambda: np.array(["a"], dtype=np.dtypes.StringDType()),
    lambda: array.array("d", [5.0, 1.0]),
    lambda: collections.deque([5, 1]),
    lambda: collections.UserList([5, 1]),
    lambda: collections.UserString("volume"),
    lambda: collections.UserDict({"volume": 5}),
    lambda: collections.OrderedDict(volume=5),
    lambda: collections.defaultdict(list),
    lambda: collections.ChainMap({"volume": 5}, {"tone": 1}),
    lambda: collections.Counter("ab"),
    lambda: types.MappingProxyType({"volume": 5}),
    lambda: types.SimpleNamespace(volume=5),
    lambda: Fraction(1, 10**400),
    lambda: Decimal("1e-9999"),
    lambda: "9" * 5000,
    lambda: "1" * 300 + "k",
    lambda: "1e308k",
    lambda: "1e-320",
    lambda: "0x10",
    lambda: "1_000",
    lambda: "+-5",
    lambda: "((((" * 200,
    lambda: "1k || " * 2000 + "1k",
    lambda: "volume" + "." * 300,
    lambda: "a.b.c.d",
    lambda: "__class__",
    lambda: "__class__.__init__",
    # without end, or too many
    itertools.count,
    lambda: itertools.cycle("ab"),
    lambda: itertools.repeat(None),
    lambda: range(10**12),
    lambda: range(10**30),
    lambda: [0.5] * 100_000,
    lambda: {f"k{n}": n for n in range(10_000)},
    lambda: _deep(list, 5000),
    lambda: _deep(dict, 5000),
    lambda: _Endless(),
    lambda: _EndlessMapping(),
    # whose own code fails
    *(partial(_hostile, method) for method in _HOSTILE),
    lambda: unittest.mock.MagicMock(),
    lambda: unittest.mock.Mock(),
    lambda: _Liar(),
    lambda: _BadText("volume"),
    lambda: _BadList([5, 1]),
    lambda: _BadDict(volume=5),
    lambda: _BadPath(),
    lambda: _failing,
    lambda: print,
    lambda: (_failing() for _ in [1]),
    # paths
    lambda: ".",
    lambda: "folder/",
    lambda: "x" * 300 + ".toml",
    lambda: "/".join(["d"] * 3000),
    lambda: "~",
    lambda: "con.",
    lambda: "a\nb.toml",
    lambda: "x.html",
    lambda: "x.png",
    lambda: "x.wav",
    lambda: "mine.toml/x",
    lambda: Path(),
    lambda: Path("\ud800"),
    lambda: os.fsencode("x"),
    _pipe,
    _loop_of_links,
    # tables and labelled things
    lambda: _pandas().MultiIndex.from_tuples([(1, "a")]),
    lambda: _pandas().date_range("2020", periods=2),
    lambda: _pandas().Interval(0, 1),
    lambda: _pandas().Period("2020"),
    lambda: _pandas().Timedelta("1s"),
    lambda: _pandas().Series([1, None], dtype="Int64"),
    lambda: _pandas().Series(["a", "b"], dtype="string"),
    lambda: _pandas().Series([1.0, 2.0], index=[1, 1]),
    lambda: _pandas().Series([], dtype=float),
    lambda: _pandas().DataFrame(),
    lambda: _pandas().array([1, None]),
    lambda: _pandas().DataFrame({"volume": [10, 5]}),
    lambda: xr.Dataset({"volume": ("volume", [10, 5])}),
    lambda: xr.DataArray(_pandas().Series([1.0, 2.0])),
    lambda: xr.DataArray([1.0, 2.0], dims="frequency").chunk(),
    lambda: xr.DataArray(np.array(["2020"], dtype="M8[ns]"), dims="frequency"),
    lambda: xr.DataArray([1.0], dims=[("a", 1)]),
    lambda: xr.DataArray([1.0], dims=[5]),
    lambda: xr.Variable((), 5.0),
    lambda: xr.DataArray([5.0, 1.0], dims="sample", coords={"sample": [0, 1]}),
    lambda: xr.DataArray([5.0, 5.0], dims="volume", coords={"volume": [5.0, 5.0]}),
    # formulas
    *(partial(_expression, words) for words in _EXPRESSIONS),
    lambda: _sympy().Symbol("volume.resistance", positive=True),
    lambda: _sympy().Symbol("\ud800"),
    lambda: _sympy().Matrix([[1, 2]]),
    lambda: {_sympy().Symbol("x"): 1},
)
"""Things of every kind, each made anew."""


def _pandas() -> Any:
    import pandas

    return pandas


def _sympy() -> Any:
    import sympy

    return sympy


# -- valid things, damaged ------------------------------------------------------------------------


def _wrapped(junk: Any, rng: np.random.Generator) -> Any:
    """Put junk into something that is good otherwise."""
    wraps: tuple[Callable[[], Any], ...] = (
        lambda: [junk],
        lambda: (junk, junk),
        lambda: [10, junk],
        lambda: ["volume.high", junk],
        lambda: {"volume": junk},
        lambda: {"a": junk, "b": _GUITAR},
        lambda: {"volume": [10, junk]},
        lambda: _objects(junk, 1.0),
        lambda: (each for each in [1.0, junk]),
        lambda: types.MappingProxyType({"guitar": junk}),
        lambda: {junk: 1},
        lambda: [[junk]],
        lambda: xr.DataArray(_objects(junk, 1.0), dims="volume"),
        lambda: xr.DataArray([5.0], dims="volume", attrs={"units": junk}),
    )
    try:
        return wraps[int(rng.integers(len(wraps)))]()
    except Exception:  # what cannot be a key, say
        return [junk]


def _damaged(value: Any, junk: Any, rng: np.random.Generator) -> Any:
    """Do one thing to what is valid."""
    try:
        if isinstance(value, xr.DataArray):
            return _damaged_array(value, junk, rng)
        if isinstance(value, xr.Dataset):
            name = str(rng.choice(list(value.data_vars)))
            if rng.random() < 0.2:
                return value.drop_vars(name)
            return value.assign({name: _damaged_array(value[name], junk, rng)})
        if isinstance(value, np.ndarray):
            return _damaged_values(value, junk, rng)
        if isinstance(value, Mapping) and value:
            names = list(value)
            name = names[int(rng.integers(len(names)))]
            kept = dict(value)
            if rng.random() < 0.3:
                kept[junk] = kept.pop(name)
            elif rng.random() < 0.2:
                del kept[name]
            else:
                inner = kept[name]
                kept[name] = junk if rng.random() < 0.5 else _damaged(inner, junk, rng)
            return kept
        if isinstance(value, (list, tuple)) and value:
            at = int(rng.integers(len(value)))
            kept_list = list(value)
            inner = kept_list[at]
            kept_list[at] = junk if rng.random() < 0.6 else _damaged(inner, junk, rng)
            return kept_list if rng.random() < 0.3 else type(value)(kept_list)
        if isinstance(value, str):
            words = (value + "\x00", value * 500, f" {value} ", value[:-1], value.upper(),
                     value.encode(), "-" + value, value + "\ud800", value + "\n",
                     _Word(value), _BadText(value))  # fmt: skip
            return words[int(rng.integers(len(words)))]
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            half = np.float16(value if abs(value) < 6e4 else 1)
            numbers = (-value, value * 1e300, value * 1e-300, 0 * value, math.nan, str(value),
                       half, np.longdouble(value), value + 1j, 10**400, [value],
                       np.array([value]), Fraction(value), Decimal(value), _Real(value),
                       )  # fmt: skip
            return numbers[int(rng.integers(len(numbers)))]
    except Exception:  # what cannot be damaged so
        return junk
    return junk


@np.errstate(all="ignore")
def _damaged_values(values: np.ndarray, junk: Any, rng: np.random.Generator) -> Any:
    """Do one thing to an array without labels."""
    ways: tuple[Callable[[], Any], ...] = (
        lambda: values.astype(object),
        lambda: values.astype(str),
        lambda: values.astype("S"),
        lambda: values != 0,
        lambda: np.clip(values.real, -6e4, 6e4).astype(np.float16),
        lambda: values.real.astype(np.longdouble),
        lambda: values.real.astype(np.int8),
        lambda: values + 1j,
        lambda: values * np.nan,
        lambda: values * np.inf,
        lambda: values * 0,
        lambda: -values,
        lambda: values * 1e300,
        lambda: values * 1e-320,
        lambda: values[::-1],
        lambda: values[:0],
        lambda: values[:1],
        lambda: values[..., None],
        lambda: np.where(np.arange(values.size).reshape(values.shape) == 0, np.nan, values),
        lambda: np.where(np.arange(values.size).reshape(values.shape) == 1, np.inf, values),
        lambda: np.repeat(values, 2, axis=0),
        lambda: np.ma.array(values, mask=True),
        lambda: _put(values.astype(object), junk),
        lambda: values.real.astype(np.int64).astype("M8[s]"),
    )
    return ways[int(rng.integers(len(ways)))]()


def _put(values: np.ndarray, junk: Any) -> np.ndarray:
    if values.size:
        values.flat[0] = junk
    return values


_SAID = ("units", "long_name", "guitar", "assumptions")


def _damaged_array(h: xr.DataArray, junk: Any, rng: np.random.Generator) -> Any:
    """Do one thing to a labelled array: its values, a dimension, a coordinate, what it says."""
    dims = [*h.dims] or [None]
    dim: Any = dims[int(rng.integers(len(dims)))]
    names = [*h.coords] or [None]
    coord: Any = names[int(rng.integers(len(names)))]

    def anew(values: Any) -> Any:
        held = h.coords[coord]
        return h.assign_coords({coord: (held.dims, values, held.attrs)})

    ways: tuple[Callable[[], Any], ...] = (
        *[lambda: h.copy(data=_damaged_values(h.values, junk, rng))] * 3,
        *[lambda: anew(_damaged_values(h.coords[coord].values, junk, rng))] * 6,
        *[lambda: h.drop_vars(coord)] * 2,
        lambda: h.isel({dim: 0}),
        lambda: h.isel({dim: 0}, drop=True),
        lambda: h.isel({dim: [0]}),
        lambda: h.isel({dim: []}),
        lambda: h.isel({dim: slice(None, None, -1)}),
        lambda: h.isel({dim: [0, 0, 1]}),
        lambda: h.rename({dim: "other"}),
        lambda: h.rename({dim: 5}),
        lambda: h.rename({dim: ("a", 1)}),
        lambda: h.transpose(*h.dims[::-1]),
        lambda: h.expand_dims(other=[1, 2, 3]),
        lambda: h.expand_dims(other=["a"]),
        lambda: h.assign_attrs({str(rng.choice(_SAID)): junk}),
        lambda: h.assign_coords({coord: h.coords[coord].assign_attrs(units=junk, long_name=junk)}),
        lambda: h.assign_coords({coord: junk}),
        lambda: h.assign_coords({f"{dim}_written": junk}),
        lambda: h.assign_coords({f"{dim}_written": (dim, np.full(h.sizes[dim], junk))}),
        lambda: h.rename("x" * 300),
        lambda: h.rename(junk),
        lambda: h.chunk(),
        lambda: h.stack(both=list(h.dims)),
        lambda: h.to_dataset(name="x"),
        lambda: h.variable,
        lambda: h.to_series(),
        lambda: h.values,
        lambda: h.real,
        lambda: abs(h),
        lambda: h.assign_coords({coord: h.coords[coord].expand_dims(more=2)}),
        lambda: h.assign_coords({dim: np.full(h.sizes[dim], 7.0)}),
        lambda: h.assign_coords({dim: np.arange(h.sizes[dim])}),
        lambda: h.assign_coords({dim: _pandas().date_range("2020", periods=h.sizes[dim])}),
    )  # fmt: skip
    return ways[int(rng.integers(len(ways)))]()


# -- valid calls ----------------------------------------------------------------------------------

_PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
_COIL = gn.Coil("4k", "2 H", "150p")
_GUITAR = gn.layouts.one_pickup(_PICKUP, treble_bleed="1n")
_HZ = [100.0, 1000.0, 4000.0]
_H = gn.response(_GUITAR, frequency=np.geomspace(100.0, 9000.0, 41), volume=[10, 5])


@dataclass(frozen=True)
class Target:
    """Something public, and a valid call of it."""

    name: str
    function: Callable[..., Any]
    valid: Callable[[], dict[str, Any]]

    def parameters(self) -> list[inspect.Parameter]:
        """What may be given, itself left out."""
        return list(inspect.signature(self.function).parameters.values())


def _given(**valid: Any) -> Callable[[], dict[str, Any]]:
    """Make a valid call's arguments anew for each call; what is callable here makes its value."""
    return lambda: {
        name: value() if isinstance(value, _Make) else _anew(value) for name, value in valid.items()
    }


class _Make:
    def __init__(self, make: Callable[[], Any]) -> None:
        self._make = make

    def __call__(self) -> Any:
        return self._make()


class _Once:
    """What is dear to make: made when it is first asked for, and kept."""

    def __init__(self) -> None:
        self._made: dict[str, Any] = {}

    def __call__(self, name: str) -> Any:
        if name not in self._made:
            self._made[name] = _MADE[name]()
        return self._made[name]


_once = _Once()


def _lazy(name: str) -> _Make:
    return _Make(lambda: _once(name))


def _two_builds() -> dict[str, gn.Harness]:
    return {"bleed": _GUITAR, "none": gn.layouts.one_pickup(_PICKUP)}


def _fit() -> gn.fitting.PickupFit:
    return gn.fit_pickup(
        (),
        resistance="6.2k",
        inductance="2.4 H",
        peak=gn.fitting.PeakReading("5.5 kHz", gn.fitting.Load("1M", "50p")),
    )


def _curve() -> gn.fitting.MeasuredCurve:
    grid = np.geomspace(100, 9000, 30)
    level = gn.level_db(gn.response(_GUITAR, frequency=grid)).values
    return gn.fitting.MeasuredCurve(grid, level, load=gn.fitting.Load("200k", "300p"))


def _folder() -> Path:
    return Path.cwd()


def _file(name: str, text: str) -> _Make:
    def make() -> str:
        Path(name).write_text(text, encoding="utf-8")
        return name

    return _Make(make)


_CURVE = "frequency_hz,magnitude_db\n" + "".join(
    f"{100 * 1.2**n:.3f},{-0.01 * n:.3f}\n" for n in range(28)
)
_HARNESS = "mine.toml"


def _harness_file() -> str:
    gn.save_harness(_GUITAR, _HARNESS)
    return _HARNESS


def _sound_file() -> str:
    gn.audio.write_sound("mine.wav", gn.audio.sound(np.sin(np.arange(64.0)) / 2))
    return "mine.wav"


def _recorded(ohm: float) -> Any:
    """Recording of a resistor behind 47 kohm, with 100 pF across it."""
    played = gn.audio.read_sound(gn.measuring.write_stimulus("tones.wav")).values[0]
    turn = 2j * np.pi * np.fft.rfftfreq(played.size, 1 / 48_000)
    tip = np.fft.rfft(played) / (1 + 47e3 / ohm + turn * 47e3 * 100e-12)
    return gn.audio.sound([played, np.fft.irfft(tip, played.size)], 48_000)


_MADE: dict[str, Callable[[], Any]] = {
    "empty plug": lambda: _recorded(1e12),
    "short plug": lambda: _recorded(0.1),
    "known plug": lambda: _recorded(10e3),
    "calibration": lambda: gn.measuring.read_calibration(
        *(_once(f"{which} plug") for which in ("empty", "short", "known")), "10k"
    ),
    "recording": lambda: _recorded(22e3),
    "measured": lambda: gn.measuring.read_impedance(_once("recording"), _once("calibration")),
    "spread": lambda: gn.tolerances.spread(_GUITAR, 3, tolerances={"volume.resistance": "10%"}),
    "drawn h": lambda: gn.response(_GUITAR, frequency=_HZ, **_once("spread")),
    "slopes": lambda: gn.tolerances.sensitivity(_GUITAR, frequency=_HZ, values=["cable.length"]),
    "ranked": lambda: gn.tolerances.sensitivity_ranking(_GUITAR, frequency=_HZ),
    "choices": lambda: gn.choosing.choose(
        _GUITAR,
        {"tone_capacitor": ["10n", "22n"]},
        gn.choosing.Goal("peak frequency", near="4.4 kHz"),
    ),
    "bleeds": lambda: gn.choose_treble_bleed(
        _GUITAR, forms=["capacitor"], series="E3", capacitors=["470p", "1n"]
    ),
    "matches": lambda: gn.choosing.match_response(
        _GUITAR, gn.layouts.one_pickup(_PICKUP, cable="5 m"), loads=["capacitor"], series="E3"
    ),
    "fit": _fit,
    "curve": _curve,
    "band by cause": lambda: gn.tolerances.bands_by_cause(
        _GUITAR, {"pickup": gn.catalogue.entry(3)}, count=5, frequency=[100.0, 1e3, 5e3]
    ),
    "catalogue peaks": lambda: gn.catalogue.loaded_peaks(_GUITAR, kind="bass pickup", count=2),
    "curve fit": lambda: gn.fit_pickup([_curve()], resistance="6.2k"),
    "faults": lambda: gn.bench.faults(_GUITAR, kinds=["open joint"]),
    "diagnosis": lambda: gn.diagnose(
        _GUITAR, [gn.bench.ResistanceReading("5k")], steps=False, kinds=["open joint"]
    ),
    "expected": lambda: gn.expected_readings(_GUITAR, count=100),
    "verification": lambda: gn.verify(_GUITAR, [gn.bench.ResistanceReading("6k")]),
    "plan": lambda: gn.sweeps.plan_sweep(
        _GUITAR, {"level": _first_level}, frequency=_HZ, volume=[10, 5]
    ),
    "clip": lambda: gn.audio.sound(np.sin(np.arange(64.0)) / 2),
    "spectrum": lambda: gn.strings.string_spectrum("160 mm", harmonics=5),
    "live page": lambda: gn.live_page(_GUITAR),
    "live array": lambda: gn.live_page(_H),
    "listening": lambda: gn.pages.listen(_once("clip")),
    "table": lambda: _GUITAR.part_table(),
    "two": lambda: gn.layouts.two_single_coils(_PICKUP, _PICKUP),
    "net": lambda: _GUITAR.netlist(),
    "z": lambda: gn.impedance(_GUITAR, frequency=_HZ),
    "recovered": lambda: gn.bench.values_from_readings(
        _GUITAR, [gn.bench.ResistanceReading("6k"), gn.bench.ResistanceReading("5.5k", volume=5)]
    ),
    "selections": lambda: gn.bench.selections(_GUITAR),
    "record": lambda: _begun(),
    "certificate": lambda: gn.records.certificate(_begun(), "N-12"),
    "winding": lambda: gn.windings.winding(
        "0.063 mm", turns=8000, core_length="60 mm", core_width="5 mm", traverse="11 mm"
    ),
}


_RECORDS = tempfile.TemporaryDirectory(prefix="guitarnet-junk-")


def _begun() -> gn.records.Record:
    """A record of a pickup and a guitar, in a file of its own."""
    record = gn.records.Record(Path(_RECORDS.name, f"{uuid.uuid4().hex}.record"), begin=True)
    record.add("N-12", "pickup", sort="rods", customer="one")
    record.write("N-12", readings="7k")
    record.add("T-7", "guitar")
    record.write("T-7", guitar=_GUITAR, remark="x")
    return record


def _entry() -> gn.records.Entry:
    return _begun().entries()[0]


def _first_level(h: xr.DataArray) -> xr.DataArray:
    return abs(h).isel(frequency=0)


def _level_of(**drawn: Any) -> xr.DataArray:
    return _first_level(gn.response(_GUITAR, frequency=_HZ, **drawn))


DEAR = {
    "LivePage.save",
    "choose_treble_bleed",
    "diagnose",
    "draw",
    "expected_readings",
    "hum_table",
    "job_card",
    "match_response",
    "plot_bands",
    "plot_builds",
    "explain",
    "plot_difference",
    "plot_fit",
    "plot_impedance",
    "plot_map",
    "plot_match",
    "plot_turned_down",
    "values_from_readings",
}
"""What takes over some 30 ms a call."""


_COMMON: dict[str, Any] = {
    "guitar": _GUITAR,
    "harness": _GUITAR,
    "guitars": _GUITAR,
    "h": _H,
    "of": _H,
    "frequency": _HZ,
    "resistance": "10k",
    "capacitance": "1n",
    "inductance": "2 H",
    "clip": _lazy("clip"),
    "clips": _lazy("clip"),
    "drawn": _lazy("spread"),
    "one": "volume.high",
    "other": "volume.low",
    "lug": "volume.high",
    "pickup": _PICKUP,
    "neck": _PICKUP,
    "middle": _PICKUP,
    "bridge": _PICKUP,
    "name": "x",
    "local": "resistance",
    "value": 1e-9,
    "expected": 1.0,
    "ohms": 1000.0,
    "prefix": "x",
    "where": "here",
    "words": "x",
    "path": "made.out",
    "settings": {},
}
_LEADS = gn.Humbucker(_COIL, _COIL, connection="leads")

_OWN: dict[str, Callable[[], dict[str, Any]]] = {
    "layouts.hss": _given(neck=_PICKUP, middle=_PICKUP, bridge=_LEADS),
    "layouts.two_humbuckers_push_pull": _given(neck=_LEADS, bridge=_LEADS),
    "layouts.two_humbuckers_rotary": _given(neck=_LEADS, bridge=_LEADS),
    "AmpInput": _given(),
    "BleedGoal": _given(),
    "BlendPot": _given(resistance="250k", taper="linear"),
    "Branch": _given(name="R", kind="R", nodes=("a", "b"), value=1.0),
    "Cable": _given(length="3 m"),
    "Capacitor": _given(capacitance="1n"),
    "CheckedReading": _given(
        reading=gn.bench.ResistanceReading("6k"), nominal=1.0, low=0.5, high=2.0
    ),
    "Choke": _given(inductance="1 H"),
    "Coil": _given(resistance="6k", inductance="2 H", capacitance="100p"),
    "Pickup": _given(resistance="6k", inductance="2 H", capacitance="100p"),
    "CurveFit": _given(
        curve=_lazy("curve"),
        measured=np.ones(30),
        model=np.ones(30),
        residual=np.ones(30),
        rms=1.0,
    ),
    "CataloguePickup": _Make(lambda: dict(_fields(gn.catalogue.entry(3)))),
    "CatalogueTable": _given(pickups=()),
    "Nearest": _given(
        pickup=_Make(lambda: gn.catalogue.entry(3)), distance=0.1, error=0.1, differences={}
    ),
    "NearestPickups": _given(pickups=(), told="x"),
    "Diagnosis": _given(guitar=_GUITAR, readings=(), explanations=(), next=()),
    "ExpectedReadings": _given(
        guitar="x", data=_Make(lambda: _once("expected").data), silent_switches=(), conditions=""
    ),
    "Explanation": _given(faults=(), probability=0.5, fits=True, readings=()),
    "Fault": _given(kind="open joint", label="x", guitar=_GUITAR, healthy_guitar=_GUITAR),
    "Faults": _given(faults=(), healthy_guitar=_GUITAR),
    "FittedValue": _given(value=1.0, error=0.1, unit="H", determined=False),
    "Goal": _given(measure="peak frequency", near="4.4 kHz"),
    "Harness": _given(parts={"jack": gn.Jack(), "R": gn.Resistor("1k")}),
    "Humbucker": _given(coil_1=_COIL, coil_2=_COIL),
    "InductanceReading": _given(inductance="2 H"),
    "Knobs": _given(page=_lazy("live page"), cable="cable", places={}),
    "Listening": _given(data={}, table=_lazy("table"), title="x", notes=""),
    "LivePage": _given(shown=_Make(lambda: from_array(_H, None, None, (50.0, 15e3), {}))),
    "Load": _given(),
    "MeasuredCurve": _given(
        frequency=np.geomspace(100, 9000, 30), magnitude=np.zeros(30), load=gn.fitting.Load("1M")
    ),
    "Measurements": _given(inductance="2 H"),
    "Netlist": _given(),
    "Measured": _given(value="6.14k", accuracy="0.5%", at="17 C"),
    "Network": _given(kind="series", elements=(gn.Resistor("1k"), gn.Capacitor("1n"))),
    "NextStep": _given(text="x", right=0.5),
    "Ohmmeter": _given(),
    "PeakReading": _given(frequency="5 kHz", load=gn.fitting.Load("1M")),
    "PickupFit": _Make(lambda: dict(_fields(_once("fit")))),
    "PickupPosition": _given(position="160 mm"),
    "Pot": _given(resistance="250k", taper="linear"),
    "Range": _given(low="1n", high="10n", series="E3"),
    "ReadingFit": _given(name="x", stated=1.0, fitted=1.0, unit="H", miss=0.0),
    "RecoveredValues": _Make(lambda: dict(_fields(_once("recovered")))),
    "ResistanceReading": _given(ohms="5k"),
    "Resistor": _given(resistance="1k"),
    "Selection": _Make(lambda: dict(_fields(_once("selections")[0]))),
    "SweepPlan": _Make(lambda: dict(_fields(_once("plan")))),
    "Switch": _given(contacts={"up": [["a", "b"]], "down": []}, all_lugs=["a", "b"]),
    "Table": _given(columns=("a", "b"), rows=[(1, 2)]),
    "Taper": _given(name="x", base=2.0),
    "Unknown": _given(around="1M"),
    "Verification": _Make(lambda: dict(_fields(_once("verification")))),
    "Winding": _Make(lambda: dict(_fields(_once("winding")))),
    "amp_input": _given(name=next(iter(gn.values.amp_inputs))),
    "audio_taper": _given(half="15%"),
    "bleed": _given(written="1n"),
    "cancellation_frequency": _given(coil_spacing="20 mm"),
    "choose": _given(
        guitar=_GUITAR,
        candidates={"tone_capacitor": ["10n", "22n"]},
        goal=gn.choosing.Goal("peak frequency", near="4.4 kHz"),
    ),
    "choose_treble_bleed": _given(
        guitar=_GUITAR, forms=["capacitor"], series="E3", capacitors=["470p", "1n"]
    ),
    "compare": _given(builds=_Make(_two_builds), frequency=_HZ),
    "diagnose": _given(
        guitar=_GUITAR,
        readings=[gn.bench.ResistanceReading("5k")],
        steps=False,
        kinds=["open joint"],
        tests={"tap": {"at": "pickup"}},
    ),
    "double_throw": _given(),
    "expected_readings": _given(guitar=_GUITAR, count=100),
    "faults": _given(guitar=_GUITAR, kinds=["open joint"]),
    "fit_pickup": _given(
        resistance="6.2k",
        inductance="2.4 H",
        peak=gn.fitting.PeakReading("5.5 kHz", gn.fitting.Load("1M", "50p")),
    ),
    "fit_pickups": _given(
        pickups={
            "a": gn.fitting.Measurements(
                inductance="2.4 H",
                peak=gn.fitting.PeakReading("5.5 kHz", gn.fitting.Load("1M", "50p")),
            )
        }
    ),
    "format_value": _given(value=22e-9, unit="F"),
    "harmonic_level_db": _given(spectrum=_lazy("spectrum")),
    "harness_from_dict": _given(data=_Make(lambda: gn.harness_to_dict(_GUITAR))),
    "in_parallel": _given(parts=[gn.Resistor("1k"), gn.Capacitor("1n")]),
    "in_series": _given(parts=[gn.Resistor("1k"), gn.Capacitor("1n")]),
    "hum_table": _given(guitar=_Make(lambda: _once("two"))),
    "impulse_response": _given(guitar=_GUITAR, rate=8000, duration=0.01),
    "inductance_by_turns": _given(known_inductance="2 H", known_turns=8000, turns=7000),
    "job_card": _given(guitar=_GUITAR, path="card.html"),
    "live_page": _given(of=_GUITAR),
    "load_harness": _given(path=_Make(_harness_file)),
    "marking": _given(capacitance="22n"),
    "match_response": _given(
        guitar=_GUITAR,
        wanted=_Make(lambda: gn.layouts.one_pickup(_PICKUP, cable="5 m")),
        loads=["capacitor"],
        series="E3",
    ),
    "measured_taper": _given(rotation=[0, 0.5, 1], resistance=["0", "20k", "250k"]),
    "prefer_units": _given(units="metric"),
    "nearest_preferred": _given(value="4.8k"),
    "no_load": _given(law="linear"),
    "node_impedance": _given(
        net=_lazy("net"), output=_Make(lambda: _GUITAR.node("jack.tip")), frequency=np.array(_HZ)
    ),
    "node_voltage": _given(
        net=_lazy("net"), output=_Make(lambda: _GUITAR.node("jack.tip")), frequency=np.array(_HZ)
    ),
    "plan_sweep": _given(
        guitar=_GUITAR, measures={"level": _first_level}, frequency=_HZ, volume=[10, 5]
    ),
    "plot_choices": _given(choices=_lazy("choices")),
    "plot_builds": _given(
        h=_Make(lambda: gn.response(_two_builds(), frequency=_HZ, volume=[10, 5])), marks=[10, 5]
    ),
    "plot_difference": _given(
        h=_Make(lambda: gn.response(_two_builds(), frequency=_HZ, volume=[10, 5])),
        marks=[10, 5],
        re={"build": "none"},
    ),
    "plot_turned_down": _given(
        h=_Make(lambda: gn.response(_two_builds(), frequency=_HZ, volume=[10, 5])), mark=5
    ),
    "explain": _given(guitar=_GUITAR, volume=[10, 5]),
    "plot_bands": _given(h=_lazy("drawn h")),
    "plot_fit": _given(fit=_Make(lambda: _once("curve fit"))),
    "plot_front": _given(choices=_lazy("bleeds")),
    "plot_match": _given(matches=_lazy("matches")),
    "plot_impedance": _given(z=_lazy("z")),
    "plot_measured": _given(path=_file("curve.csv", _CURVE), ax=_Make(lambda: _axes())),
    "plot_ranking": _given(ranked=_lazy("ranked")),
    "plot_sensitivity": _given(slopes=_lazy("slopes")),
    "plot_string_spectrum": _given(spectrum=_lazy("spectrum")),
    "pluck": _given(duration=0.02, rate=8000),
    "pot_from_largest": _given(largest="65k", dcr="6k"),
    "preferred_values": _given(series="E6", low="1k", high="10k"),
    "quantile_table": _given(
        measures=_Make(lambda: {"a": abs(_once("drawn h")).isel(frequency=0)})
    ),
    "quantiles": _given(values=_Make(lambda: abs(_once("drawn h")))),
    "Calibration": _given(
        known=1e4,
        known_accuracy=0.01,
        series=47e3,
        series_accuracy=0.01,
        adapter_impedance=np.ones(50),
        input_resistance=1e6,
        input_resistance_error=1e5,
        input_capacitance=1e-10,
        input_capacitance_error=1e-12,
        recordings={},
    ),
    "read_calibration": _given(
        open=_lazy("empty plug"),
        short=_lazy("short plug"),
        known=_lazy("known plug"),
        resistance="10k",
    ),
    "read_impedance": _given(recording=_lazy("recording"), calibration=_lazy("calibration")),
    "read_transfer": _given(recording=_lazy("recording"), calibration=_lazy("calibration")),
    "save_measurement": _given(measured=_lazy("measured"), path="made.csv"),
    "write_stimulus": _given(path="made.wav"),
    "read_curve": _given(path=_file("curve.csv", _CURVE), load=gn.fitting.Load("1M")),
    "read_marking": _given(code="223"),
    "read_sound": _given(path=_Make(_sound_file)),
    "read_value": _given(value="4k7", unit="ohm"),
    "readings_of": _given(guitar=_GUITAR, given=[gn.bench.ResistanceReading("5k")]),
    "ready_pickup": _given(name=next(iter(gn.ready_pickups))),
    "bands_by_cause": _given(
        guitar=_GUITAR,
        fits=_Make(lambda: {"pickup": gn.catalogue.entry(3)}),
        frequency=_HZ,
        count=5,
    ),
    "compare_with_kind": _given(pickup={"inductance": "16 H"}, kind="humbucker"),
    "draw_kind": _given(kind="humbucker", count=5),
    "draw_pickup": _given(fit=_Make(lambda: gn.catalogue.entry(3)), count=5),
    "entry": _given(name=3),
    "kind_table": _given(),
    "loaded_peaks": _given(guitar=_GUITAR, kind="bass pickup", count=2),
    "nearest_pickups": _given(resistance="8.2k", inductance="4.4 H", kind="single coil"),
    "plot_bands_by_cause": _given(band=_Make(lambda: _once("band by cause"))),
    "plot_catalogue": _given(peaks=_Make(lambda: _once("catalogue peaks"))),
    "priors": _given(kind="humbucker"),
    "table": _given(kind="single coil"),
    "wire_table": _given(),
    "turns_table": _given(guitar=_Make(lambda: _once("two"))),
    "resistance_at": _given(resistance="6k", temperature=30.0),
    "response_table": _given(h=_H),
    "reverse_audio_taper": _given(half="85%"),
    "rotary": _given(poles=1, places=["a", "b"]),
    "sample_shares": _given(
        drawn=_lazy("spread"), measured=_Make(lambda: abs(_once("drawn h")).isel(frequency=0))
    ),
    "save_harness": _given(harness=_GUITAR, path="made.toml"),
    "series_bleed": _given(capacitance="1n", resistance="150k"),
    "sensitivity": _given(guitar=_GUITAR, frequency=_HZ, values=["cable.length"]),
    "sobol_shares": _given(
        guitar=_GUITAR, measure=_level_of, base=8, tolerances={"volume.resistance": "10%"}
    ),
    "Certificate": _given(
        pickup="N-12", sort="rods", shipped=_Make(_entry), rows=((20.0, 7e3, 6.9e3, 7.1e3),)
    ),
    "Entry": _given(
        number=1,
        thing="N-12",
        kind="reading",
        date="2026-12-01",
        state="shipped",
        place="from lead to lead",
        ohms=7e3,
        celsius=20.0,
        accuracy=0.008,
        text="",
        corrects=None,
        corrected_by=None,
    ),
    "History": _given(sort="rods", entries=_Make(lambda: (_entry(),))),
    "Record": _given(
        path=_Make(lambda: str(Path(_RECORDS.name, f"{uuid.uuid4().hex}.record"))), begin=True
    ),
    "Returned": _given(
        pickup="N-12", ohms=7e3, celsius=20.0, at_20=7e3, shipped_at_20=7e3, limit=0.02
    ),
    "certificate": _given(record=_Make(_begun), pickup="N-12"),
    "certificate_page": _given(
        certificates=_Make(lambda: [_once("certificate")]), path="made.html"
    ),
    "guitar_sheet": _given(record=_Make(_begun), guitar="T-7", path="made.html"),
    "history": _given(record=_Make(_begun), sort="rods"),
    "plot_history": _given(of=_Make(lambda: gn.records.history(_begun(), "rods"))),
    "returned": _given(record=_Make(_begun), pickup="N-12", ohms="7k"),
    "sound": _given(samples=np.zeros(16)),
    "spread": _given(guitar=_GUITAR, count=3),
    "spread_tapers": _given(guitar=_GUITAR, marks={"volume": [10, 5]}, count=3),
    "string_spectrum": _given(pickup="160 mm", harmonics=5),
    "symbol_of": _given(guitar=_GUITAR, path="volume.resistance"),
    "symptoms_of": _given(fault=_Make(lambda: _once("faults")[0])),
    "taper": _given(words="audio 15%"),
    "tapped": _given(pickup=_COIL, share="40%"),
    "triode_input_capacitance": _given(cathode="1.6p", anode="1.7p", gain=60),
    "values_from_readings": _given(
        guitar=_GUITAR,
        readings=[gn.bench.ResistanceReading("6k"), gn.bench.ResistanceReading("5.5k", volume=5)],
    ),
    "verify": _given(guitar=_GUITAR, readings=[gn.bench.ResistanceReading("6k")]),
    "winding": _given(
        wire="0.063 mm", turns=8000, core_length="60 mm", core_width="5 mm", traverse="11 mm"
    ),
    "wire_diameter": _given(wire="42 AWG"),
    "wire_resistance": _given(wire="42 AWG"),
    "wirings": _given(guitar=_GUITAR),
    "write_sound": _given(path="made.wav", clip=_lazy("clip")),
    "tolerance_band": _given(guitar=_GUITAR, drawn=_lazy("spread"), frequency=_HZ),
}


def _fields(made: Any) -> Iterator[tuple[str, Any]]:
    for name in inspect.signature(type(made)).parameters:
        yield name, getattr(made, name)


def _axes() -> Any:
    from matplotlib.figure import Figure

    return Figure().subplots()


_INSTANCES: dict[str, Callable[[], Any]] = {
    "AmpInput": lambda: gn.AmpInput("1M"),
    "BleedChoices": lambda: _once("bleeds"),
    "BleedGoal": lambda: gn.choosing.BleedGoal(),
    "BlendPot": lambda: gn.BlendPot("250k", "linear"),
    "Cable": lambda: gn.Cable("3 m"),
    "Capacitor": lambda: gn.Capacitor("1n"),
    "Choices": lambda: _once("choices"),
    "Choke": lambda: gn.Choke("1 H"),
    "Coil": lambda: _COIL,
    "Diagnosis": lambda: _once("diagnosis"),
    "Empty": lambda: gn.Empty(),
    "ExpectedReadings": lambda: _once("expected"),
    "CataloguePickup": lambda: gn.catalogue.entry(3),
    "CatalogueTable": lambda: gn.catalogue.table("single coil"),
    "NearestPickups": lambda: gn.catalogue.nearest_pickups(resistance="8k", kind="single coil"),
    "Fault": lambda: _once("faults")[0],
    "Faults": lambda: _once("faults"),
    "Goal": lambda: gn.choosing.Goal("peak frequency", near="4.4 kHz"),
    "Harness": lambda: _GUITAR,
    "Humbucker": lambda: gn.Humbucker(_COIL, _COIL),
    "InductanceReading": lambda: gn.fitting.InductanceReading("2 H"),
    "Jack": lambda: gn.Jack(),
    "Listening": lambda: _once("listening"),
    "LivePage": lambda: _once("live page"),
    "Load": lambda: gn.fitting.Load("1M"),
    "Matches": lambda: _once("matches"),
    "MeasuredCurve": lambda: _once("curve"),
    "Netlist": lambda: gn.formulas.Netlist(),
    "Network": lambda: gn.parallel_bleed("1n", "150k"),
    "Ohmmeter": lambda: gn.bench.Ohmmeter(),
    "PeakReading": lambda: gn.fitting.PeakReading("5.5 kHz", gn.fitting.Load("1M", "50p")),
    "Pickup": lambda: _PICKUP,
    "PickupFit": lambda: _once("fit"),
    "Pot": lambda: gn.Pot("250k", "linear"),
    "Range": lambda: gn.choosing.Range("1n", "10n", "E3"),
    "Record": lambda: _begun(),
    "RecoveredValues": lambda: _once("recovered"),
    "ResistanceReading": lambda: gn.bench.ResistanceReading("5k"),
    "Resistor": lambda: gn.Resistor("1k"),
    "SweepPlan": lambda: _once("plan"),
    "Switch": lambda: gn.switches.double_throw(),
    "Table": lambda: _once("table"),
    "Taper": lambda: gn.audio_taper("15%"),
    "Verification": lambda: _once("verification"),
    "Winding": lambda: _once("winding"),
}
"""What has methods, each made or kept."""

_PARTS = ("resistance", "capacitance", "length", "inductance")


def _method(instance: Any, name: str) -> Callable[[], dict[str, Any]]:
    """Valid arguments of a method: what its parameters' names mean."""
    kind = type(instance).__name__
    own: dict[str, dict[str, Any]] = {
        "Harness.add": {"name": "more", "part": gn.Resistor("1k")},
        "Harness.join": {"lugs": ["pickup.hot", "tone.high"]},
        "Harness.leave_open": {"lugs": ["volume.high"]},
        "Harness.lift": {"lugs": ["tone_capacitor.a"]},
        "Harness.replace": {"path": "tone_capacitor", "value": "10n"},
        "Harness.split": {"path": "cable.length"},
        "Harness.only": {"kind": gn.Jack},
        "Faults.of_kind": {"kind": "open joint"},
        "PickupFit.predict": {"load": gn.fitting.Load("1M"), "frequency": _HZ},
        "Goal.values": {"guitar": _GUITAR, "settings": {}, "at": "amp"},
        "Goal.excess": {"values": xr.DataArray([4000.0], dims="x")},
        "BleedGoal.frequencies": {"per_octave": 3},
        "BleedGoal.description": {"knob": "volume"},
        "InductanceReading.beside": {"v": _coil_values()},
        "Load.admittance": {"frequency": np.array(_HZ), "value_of": lambda name: 1e-10},
        "PeakReading.beside": {"v": _coil_values(), "load_at": lambda f: 1e-6 + 0 * f},
        "ResistanceReading.expected": {"guitar": _GUITAR},
        "SweepPlan.to_zarr": {"path": "made.zarr"},
        "SweepPlan.to_parquet": {"path": "made.parquet"},
        "Taper.__call__": {"rotation": 0.5},
        "Record.add": {"name": "N-13", "kind": "pickup"},
        "Record.correct": {"number": 1, "ohms": "7.1k"},
        "Record.erase": {"customer": "one"},
        "Record.export": {"path": "made.txt"},
        "Record.harness": {"name": "T-7"},
        **{f"Record.{name}": {"name": "N-12"} for name in ("kind", "sort")},
        "Record.write": {"name": "N-12", "remark": "x"},
        "Netlist.inner": {"prefix": "x"},
    }
    given = own.get(f"{kind}.{name}")
    if given is not None:
        return _given(**given)
    method = getattr(instance, name)
    common = dict(_COMMON)
    if isinstance(instance, gn.formulas.Netlist):
        common |= {"a": "a", "b": "b", "plus": "a", "minus": "b", "out": "c", "back": "d"}
        common |= {
            "branch": gn.formulas.Branch("R", "R", ("a", "b"), 1.0),
            "prefix": "x",
            "node": "0",
        }
        common |= {"function": lambda f: 1e3 + 0 * f, "part": "x", "volts": 1.0, "lugs": {}}
    elif name in ("stamp", "assumptions", "path", "replace") and hasattr(instance, "settable"):
        known = [path for path in instance.settable() if hasattr(instance, path)]
        local = next(iter((*known, *instance.categories(), *instance.settable())), "x")
        common |= {"local": local, "net": _Make(gn.formulas.Netlist)}
        common |= {"values": _Make(lambda: Values(instance, "x", {}))}
        common |= {"value": getattr(instance, local, 1e-9)}
    needed = [
        p.name
        for p in inspect.signature(method).parameters.values()
        if p.default is p.empty and p.kind not in (p.VAR_POSITIONAL, p.VAR_KEYWORD)
    ]
    return _given(**{n: common[n] for n in needed if n in common})


def _coil_values() -> dict[str, Any]:
    return {"resistance": 6200.0, "inductance": 2.4, "capacitance": 120e-12}


_NO_VALID_CALL = {
    *(f"{part}.{method}" for part in ("Jack", "Empty") for method in ("path", "replace")),
    *("Harness.plugged", "Netlist.mutual", "Choices.candidate_dims", "Part.stamp"),
}


_CHANGED = ("Netlist", "Record")  # by their methods, so made anew for each call


def _of_a_new_one(make: Callable[[], Any], name: str) -> Callable[..., Any]:
    """Give a method of a thing made anew for each call."""

    def call(*args: Any, **kwargs: Any) -> Any:
        return getattr(make(), name)(*args, **kwargs)

    call.__wrapped__ = getattr(getattr(make(), name), "__wrapped__", None)  # type: ignore[attr-defined]
    call.__signature__ = inspect.signature(getattr(make(), name))  # type: ignore[attr-defined]
    return call


def targets() -> list[Target]:
    """Everything public, each with a valid call."""
    found = []
    for path, thing in face().items():
        name = path if path.startswith("layouts.") else path.rpartition(".")[2]
        if callable(thing) and not (isinstance(thing, type) and issubclass(thing, Exception)):
            found.append(_target(name, thing))
    for kind, make in _INSTANCES.items():
        instance = make()
        for name in dir(type(instance)):
            if name.startswith("_") and name != "__call__":
                continue
            member = inspect.getattr_static(type(instance), name)
            ours = getattr(member, "__module__", "").startswith("guitarnet")
            if isinstance(member, property) or not ours:
                continue
            method = _of_a_new_one(make, name) if kind in _CHANGED else getattr(instance, name)
            if inspect.signature(method).parameters and f"{kind}.{name}" not in _NO_VALID_CALL:
                found.append(Target(f"{kind}.{name}", method, _method(instance, name)))
    jack = gn.Harness({"jack": gn.Jack()})
    found.append(Target("Harness.plugged", jack.plugged, _given(cable="3 m")))
    return found


def _target(name: str, thing: Any) -> Target:
    if name in _OWN:
        return Target(name, thing, _OWN[name])
    needed = {
        p.name: _COMMON[p.name]
        for p in inspect.signature(thing).parameters.values()
        if p.default is p.empty
        and p.kind not in (p.VAR_POSITIONAL, p.VAR_KEYWORD)
        and p.name in _COMMON
    }
    return Target(name, thing, _given(**needed))


# -- calls ----------------------------------------------------------------------------------------

_SETTINGS = ("volume", "tone", "cable.length", "treble_bleed", "build", "nonsense", "pickup")


@dataclass
class Campaign:
    """What came of the calls."""

    calls: int = 0
    refused: int = 0
    answered: int = 0
    leaks: dict[str, str] = field(default_factory=dict)
    slowest: Counter[str] = field(default_factory=Counter)


class _TooSlow(BaseException):
    """A call that takes over five seconds of processor time."""


def _call(target: Target, arguments: Mapping[str, Any]) -> Any:
    """Call with what stands under each parameter's name; what is left over are settings."""
    positional: list[Any] = []
    named: dict[str, Any] = {}
    rest = dict(arguments)
    several = any(p.kind is p.VAR_POSITIONAL for p in target.parameters())
    for p in target.parameters():
        if p.kind is p.VAR_POSITIONAL:
            positional += rest.pop(p.name, ())
        elif p.name in rest and p.kind is not p.VAR_KEYWORD:
            by_place = p.kind is p.POSITIONAL_ONLY or (
                several and p.kind is p.POSITIONAL_OR_KEYWORD
            )
            (positional.append if by_place else lambda v, n=p.name: named.update({n: v}))(
                rest.pop(p.name)
            )
    return target.function(*positional, **named, **rest)


def _spoiled(
    target: Target, valid: dict[str, Any], rng: np.random.Generator
) -> tuple[dict[str, Any], str]:
    """Make one argument junk, at times two."""
    arguments = dict(valid)
    words = []
    for _ in range(1 + (rng.random() < 0.15)):
        parameter = target.parameters()[int(rng.integers(len(target.parameters())))]
        number = int(rng.integers(len(JUNK)))
        junk = JUNK[number]()
        way, share = "", rng.random()
        valid_value = arguments.get(parameter.name, parameter.default)
        if share < 0.15:
            way, junk = "wrapped ", _wrapped(junk, rng)
        elif share < 0.5 and valid_value is not parameter.empty:
            with warnings.catch_warnings(action="ignore"):
                way, junk = "valid, damaged with ", _damaged(valid_value, junk, rng)
        if parameter.kind is parameter.VAR_POSITIONAL:
            arguments[parameter.name] = [*arguments.get(parameter.name, ()), junk]
            name = f"*{parameter.name}"
        elif parameter.kind is parameter.VAR_KEYWORD:
            name = _SETTINGS[int(rng.integers(len(_SETTINGS)))]
            arguments[name] = junk
        else:
            name = parameter.name
            arguments[name] = junk
        words.append(f"{name} = {way}junk {number}, {_shown(junk)}")
    return arguments, "; ".join(words)


def _shown(junk: Any) -> str:
    try:
        return ascii(junk)[:60].replace("\n", " ")
    except Exception:  # junk may refuse to be written
        return type(junk).__name__


@contextlib.contextmanager
def _bounded() -> Iterator[None]:
    """Bound the processor time, say nothing, and take every warning for an error."""

    def too_slow(*_: Any) -> None:
        raise _TooSlow

    old = signal.signal(signal.SIGPROF, too_slow), signal.signal(signal.SIGALRM, too_slow)
    signal.setitimer(signal.ITIMER_PROF, _SECONDS)
    signal.setitimer(signal.ITIMER_REAL, _WAITS)  # what waits takes no processor time
    try:
        with (
            warnings.catch_warnings(),
            contextlib.redirect_stdout(io.StringIO()),
            contextlib.redirect_stderr(io.StringIO()),
        ):
            warnings.simplefilter("error")
            warnings.simplefilter("ignore", gn.errors.CoarseGrid)  # a sentence, said as a warning
            yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGPROF, old[0])
        signal.signal(signal.SIGALRM, old[1])


def _copied(arguments: Mapping[str, Any]) -> dict[str, Any]:
    """Keep what could be changed by the one who is given it."""
    kept = {}
    for name, value in arguments.items():
        large = isinstance(value, np.ndarray) and value.size > _COMPARED
        kinds = (list, dict, set, bytearray, np.ndarray, xr.DataArray, xr.Dataset)
        if not large and isinstance(value, kinds) and not _holds_an_iterator(value):
            try:
                with _bounded():
                    kept[name] = copy.deepcopy(value, {id(_VIEW): _VIEW})
                    # What is never the same twice is not compared.
                    if not _same(kept[name], copy.deepcopy(value, {id(_VIEW): _VIEW})):
                        del kept[name]
            except (Exception, _TooSlow):  # what cannot be copied is not compared
                kept.pop(name, None)
    return kept


def _holds_an_iterator(value: Any, deep: int = 4) -> bool:
    """Whether there is an iterator in it, which nobody can read without using it up."""
    kind = type(value)
    if issubclass(kind, Iterator):
        return True
    if kind is np.ndarray and value.dtype == object:
        inside = value.ravel()
    elif kind in (list, tuple, set, dict):  # others may have code of their own
        inside = value.values() if kind is dict else value
    else:
        return False
    return deep > 0 and any(_holds_an_iterator(one, deep - 1) for one in inside)


def _same(one: Any, other: Any) -> bool:
    try:
        if isinstance(one, (xr.DataArray, xr.Dataset)):
            return bool(one.identical(other))
        written = ascii(one), ascii(other)
        return " at 0x" in written[0] or written[0] == written[1]
    except Exception:  # what cannot be written is not compared
        return True


_STREAMS = {stream: os.dup(stream) for stream in (1, 2)}


def _is_open(stream: int) -> bool:
    try:
        os.fstat(stream)
    except OSError:
        return False
    return True


def _outcome(target: Target, arguments: Mapping[str, Any]) -> str:
    """Say what a call came to: "answered", "refused", or the leak."""
    before = _copied(arguments)
    try:
        with _bounded():
            _call(target, arguments)
        came = "answered"
    except gn.GuitarnetError as error:
        came = "refused" if str(error).isprintable() else "a sentence that cannot be printed"
    except _TooSlow:
        came = f"over {_SECONDS:g} s"
    except BaseException as error:  # the very thing that is looked for
        if isinstance(error, KeyboardInterrupt):
            raise
        frame = traceback.extract_tb(error.__traceback__)[-1]
        own = [
            f for f in traceback.extract_tb(error.__traceback__) if "guitarnet" in f.filename
            and not f.filename.endswith("gate.py")
        ]  # fmt: skip
        at = own[-1] if own else frame
        message = ascii(str(error))[:100]
        came = f"{type(error).__name__} at {Path(at.filename).name}:{at.lineno}: {message}"
    if "matplotlib.pyplot" in sys.modules:
        sys.modules["matplotlib.pyplot"].close("all")
    for stream, kept in _STREAMS.items():
        if not _is_open(stream):  # a number was taken for an open file
            os.dup2(kept, stream)
            return f"stream {stream} was closed"
    for name, value in before.items():
        try:
            with _bounded():
                same = _same(value, arguments[name])
        except _TooSlow:  # what cannot be compared
            continue
        if not same and not isinstance(arguments[name], Iterator):
            return f"{name} was changed"
    return came


def campaign(
    seed: int,
    calls: int,
    *,
    only: str = "",
    dear: bool = True,
    say: bool = False,
    progress: Callable[[int], None] = lambda done: None,
) -> Campaign:
    """Call with junk so many times.

    Parameters
    ----------
    seed : int
        What is drawn.
    calls : int
        How many calls.
    only : str
        Names that begin so; all unless given.
    dear : bool
        Whether to call what is dear too.
    say : bool
        Whether to write each call to standard error before it is made.
    """
    rng = np.random.default_rng(seed)
    came = Campaign()
    here = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        try:
            chosen, weights = [], []
            for target in targets():
                if target.name.startswith(only) and (dear or target.name not in DEAR):
                    chosen.append(target)
                    # What is dear is called less often, by a list: a seed is the same calls.
                    weights.append(len(target.parameters()) / (8 if target.name in DEAR else 1))
            share = np.array(weights) / sum(weights)
            drawn = rng.choice(len(chosen), calls, p=share)
            for number in np.unique(drawn):
                _try(chosen[int(number)])
            for done, number in enumerate(drawn):
                target = chosen[int(number)]
                arguments, words = _spoiled(target, target.valid(), rng)
                if say:  # what hangs for good is the last line
                    print(done, target.name, words, file=sys.stderr, flush=True)
                used = _cpu()
                outcome = _outcome(target, arguments)
                came.slowest[target.name] += round(1000 * (_cpu() - used))
                came.calls += 1
                if outcome in ("answered", "refused"):
                    setattr(came, outcome, getattr(came, outcome) + 1)
                else:
                    came.leaks.setdefault(f"{target.name}({words})", outcome)
                progress(done + 1)
        finally:
            os.chdir(here)
    return came


def _cpu() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def _try(target: Target) -> None:
    """Make a valid call; one that fails is a mistake of this file."""
    try:
        with _bounded():
            _call(target, target.valid())
    except Exception as error:
        raise AssertionError(f"{target.name}: the valid call fails: {error!r}") from error
    if "matplotlib.pyplot" in sys.modules:
        sys.modules["matplotlib.pyplot"].close("all")


def main() -> int:
    """Run a campaign and print what leaked."""
    words = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    words.add_argument("--calls", type=int, default=30_000)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--only", default="", help="names that begin so")
    words.add_argument("--say", action="store_true", help="write each call before it is made")
    given = words.parse_args()
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY + 4 * 2**30, hard))
    came = campaign(given.seed, given.calls, only=given.only, say=given.say)
    for call, outcome in sorted(came.leaks.items(), key=lambda item: item[1]):
        print(f"{outcome}\n    {call}")
    print(
        f"{came.calls} calls, seed {given.seed}: {came.refused} refused in a sentence, "
        f"{came.answered} answered, {len(came.leaks)} leaks, {_cpu():.0f} s of processor time"
    )
    slow = ", ".join(f"{name} {ms / 1000:.0f} s" for name, ms in came.slowest.most_common(8))
    print(f"dearest: {slow}")
    return 1 if came.leaks else 0


if __name__ == "__main__":
    sys.exit(main())
