"""What a value is, written so that equal values give equal text and others do not.

Values are written to the last bit and functions by what they do: bytecode, constants, defaults,
closures, and what they call. Nothing depends on where an object lies in memory, on the seed of
hashes, or on the file and line in which code stands, so another process writes the same.
"""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import inspect
import sys
import types
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from . import gate

__all__ = ["ByValue", "digest", "identity"]

_SHORT = 60  # characters of a text that stands for itself
_LONG = 1000  # characters of a piece that is kept as it is
_DEEPEST = 60  # objects in objects
_FLAGS = 0x3FF  # of code: what kind of function it is, and not how its annotations were read
_UNSAID = frozenset(
    {
        "__dict__",
        "__weakref__",
        "__doc__",
        "__module__",
        "__qualname__",
        "__firstlineno__",
        "__static_attributes__",
        "__annotations__",
        "__annotate__",
        "__annotate_func__",
        "__annotations_cache__",
        "__abstractmethods__",
        "_abc_impl",
    }
)
"""What a class holds beside its code."""


def digest(value: Any) -> str:
    """Give the identity of a value in a few characters: itself where it is short."""
    return _brief(identity(value), _SHORT)


class ByValue:
    """What equals another of its kind that holds the same, arrays and all."""

    def __eq__(self, other: object) -> bool:
        """Compare to the last bit; what is no number equals itself."""
        if type(other) is not type(self):
            return NotImplemented
        return self is other or identity(self) == identity(other)

    def __hash__(self) -> int:
        return hash(identity(self))


def identity(value: Any) -> str:
    """Write a value, with all that is in it, so that equal values give equal text."""
    return _Writer().write(value)


class _Writer:
    """Writes one value. What leads back to itself is told by how far up it stands."""

    def __init__(self) -> None:
        # The objects are kept, so that none is freed and its address used again.
        self.written: dict[int, tuple[str, Any]] = {}
        self.open: dict[int, int] = {}

    def write(self, value: Any) -> str:
        if isinstance(value, bool) or value is None or value is Ellipsis:
            return repr(value)
        if isinstance(value, (np.generic, float, int, complex)):
            return _number(value)
        if isinstance(value, (str, bytes, range, slice)):
            return repr(value)
        if id(value) in self.open:
            return f"<{self.open[id(value)]}>"
        if id(value) not in self.written:
            if len(self.open) >= _DEEPEST:
                return type(value).__name__
            self.open[id(value)] = len(self.open)
            text = self._object(value)
            del self.open[id(value)]
            self.written[id(value)] = _brief(text, _LONG), value
        return self.written[id(value)][0]

    def _object(self, value: Any) -> str:
        if isinstance(value, (tuple, list)):
            return f"({self._all(value)})"
        if isinstance(value, (set, frozenset)):
            return f"{{{', '.join(sorted(map(self.write, value)))}}}"
        if isinstance(value, (xr.DataArray, xr.Dataset)):
            labels = {str(name): own for name, own in value.coords.items()}
            return self._labelled(value, {n: c.variable for n, c in labels.items()})
        if isinstance(value, xr.Variable):
            return f"{value.dims!r} {self.write(value.data)}"
        if isinstance(value, Mapping):
            pairs = sorted(f"{self.write(k)}: {self.write(v)}" for k, v in value.items())
            return f"{{{', '.join(pairs)}}}"
        if isinstance(value, np.ndarray):
            return self._array(value)
        if isinstance(value, types.ModuleType):
            return f"module {value.__name__} {_version(value.__name__)}"
        if isinstance(value, types.CodeType):
            return self._code(value)
        return self._code_like(value)

    def _code_like(self, value: Any) -> str:
        if isinstance(value, types.FunctionType):
            return self._function(value)
        if isinstance(value, types.MethodType):
            return f"method({self.write(value.__func__)}, {self.write(value.__self__)})"
        if isinstance(value, functools.partial):
            return f"partial({self._all([value.func, value.args, value.keywords])})"
        if isinstance(value, (staticmethod, classmethod)):
            return f"{type(value).__name__}({self.write(value.__func__)})"
        if isinstance(value, property):
            return f"property({self._all([value.fget, value.fset, value.fdel])})"
        if isinstance(value, type):
            return self._class(value)
        if hasattr(value, "__dask_graph__"):
            from dask.base import tokenize

            return f"chunked {tokenize(value)}"
        named = getattr(value, "__qualname__", None) or getattr(value, "__name__", None)
        if callable(value) and isinstance(named, str):
            inner = getattr(value, "__wrapped__", None)  # kept by functools.cache and its kin
            if inner is not None:
                return f"wrapped({self.write(inner)})"
            return self._library(str(getattr(value, "__module__", "")), named)
        return self._instance(value)

    def _all(self, values: Iterable[Any]) -> str:
        return ", ".join(map(self.write, values))

    def _array(self, value: np.ndarray) -> str:
        if value.dtype.hasobject:
            return f"array({value.shape}, {self._all(value.ravel().tolist())})"
        if value.size == 1:
            return f"array({value.shape}, {value.dtype.str}, {self.write(value.item())})"
        held = hashlib.sha256(np.ascontiguousarray(value).tobytes()).hexdigest()
        return f"array({value.shape}, {value.dtype.str}, {held})"

    def _labelled(self, value: xr.DataArray | xr.Dataset, coords: Mapping[str, Any]) -> str:
        held: Any = value.variable if isinstance(value, xr.DataArray) else dict(value.data_vars)
        return f"labelled({self.write(held)}, {self.write(coords)})"

    # -- code -----------------------------------------------------------------------------------

    def _library(self, module: str, name: str) -> str:
        """Tell by its name what belongs to an installed library."""
        return f"{module}.{name} {_version(module)}".strip()

    def _function(self, function: types.FunctionType) -> str:
        # The gate before a public function remembers its checks, which are no part of it.
        if function.__globals__ is vars(gate):
            function = inspect.unwrap(function)
        module = function.__module__ or ""
        version = _version(module)
        if version and not _ours(module):
            return self._library(module, function.__qualname__)
        pieces = self._all(
            [
                _without_docstring(function),
                function.__defaults__,
                function.__kwdefaults__,
                [_held(cell) for cell in function.__closure__ or ()],
            ]
        )
        taken = self._globals(function)
        return f"function({version}, {pieces}, {', '.join(taken)})"

    def _code(self, code: types.CodeType) -> str:
        names = code.co_names, code.co_varnames, code.co_freevars, code.co_cellvars
        counts = (
            code.co_argcount,
            code.co_posonlyargcount,
            code.co_kwonlyargcount,
            code.co_flags & _FLAGS,
        )
        held = self.write(list(code.co_consts))
        return f"code({code.co_code.hex()}, {held}, {names!r}, {counts!r})"

    def _globals(self, function: types.FunctionType) -> list[str]:
        """Write what a function takes from its module, and from modules of one's own."""
        names = sorted(_names(function.__code__))
        held = {name: function.__globals__[name] for name in names if name in function.__globals__}
        if _ours(function.__module__ or ""):
            # The version tells the rest, and what a solver remembers is no part of a measure.
            held = {n: v for n, v in held.items() if _beside(v, function)}
        for name, value in list(held.items()):
            if isinstance(value, types.ModuleType) and not _version(value.__name__):
                held |= {f"{name}.{n}": getattr(value, n) for n in names if hasattr(value, n)}
        return [f"{name}={self.write(value)}" for name, value in held.items()]

    def _class(self, kind: type) -> str:
        version = _version(kind.__module__)
        if kind.__module__ == "builtins" or version:
            return self._library(kind.__module__, kind.__qualname__)
        held = {name: value for name, value in vars(kind).items() if name not in _UNSAID}
        return f"class({self._all(kind.__bases__)}, {self.write(held)})"

    def _instance(self, value: Any) -> str:
        kind = type(value)
        if dataclasses.is_dataclass(value):
            fields = [f for f in dataclasses.fields(value) if f.compare]
            held: Any = {f.name: getattr(value, f.name) for f in fields}
        else:
            slots = [n for c in kind.__mro__ for n in _slots(c) if hasattr(value, n)]
            held = {**{n: getattr(value, n) for n in slots}, **getattr(value, "__dict__", {})}
            if not held:
                try:
                    held = value.__reduce_ex__(2)[1:]
                except Exception:  # what cannot be taken apart is told by its kind
                    held = None
        return f"{self.write(kind)}({self.write(held)})"


def _brief(text: str, most: int) -> str:
    return text if len(text) <= most else hashlib.sha256(text.encode()).hexdigest()[:32]


def _number(value: Any) -> str:
    plain = value.item() if isinstance(value, np.generic) else value
    if isinstance(plain, float):
        plain += 0.0  # zero has no sign
    return repr(plain)


@functools.cache
def _version(module: str) -> str:
    """Version of the library that a module belongs to; empty where it is the user's own."""
    root = module.partition(".")[0]
    if root in sys.stdlib_module_names:
        return "" if root == "__main__" else "standard"
    file = getattr(sys.modules.get(root), "__file__", None) or ""
    installed = {"site-packages", "dist-packages"} & set(Path(file).parts)
    if not installed and not _ours(module):
        return ""
    return str(getattr(sys.modules.get(root), "__version__", "installed"))


def _ours(module: str) -> bool:
    return module.partition(".")[0] == __name__.partition(".")[0]


def _beside(value: Any, function: types.FunctionType) -> bool:
    """Tell whether a value is a function of the same module."""
    return isinstance(value, types.FunctionType) and value.__module__ == function.__module__


def _held(cell: types.CellType) -> Any:
    try:
        return cell.cell_contents
    except ValueError:  # not yet filled
        return None


def _without_docstring(function: Callable[..., Any]) -> types.CodeType:
    code: types.CodeType = function.__code__
    constants = code.co_consts
    if function.__doc__ is not None and constants and constants[0] == function.__doc__:
        return code.replace(co_consts=(None, *constants[1:]))
    return code


def _names(code: types.CodeType) -> set[str]:
    """Names that code asks its module for, the code inside it included."""
    found = set(code.co_names)
    for constant in code.co_consts:
        if isinstance(constant, types.CodeType):
            found |= _names(constant)
    return found


def _slots(kind: type) -> tuple[str, ...]:
    slots = vars(kind).get("__slots__", ())
    return (slots,) if isinstance(slots, str) else tuple(slots)
