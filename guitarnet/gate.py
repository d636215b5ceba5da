"""One gate at the door: what an argument may be is read from its annotation.

``@public`` stands at every public function and class. At the first call it turns the annotations
into checks; from then on it looks at each argument as it comes in, and what is of the wrong kind
is refused in one sentence. What a value may be is left to the one who reads it: ``Any`` and
``float | str`` (a value as people write it, see `read_value`) pass, and so do the fields of a
dataclass that reads them in ``__post_init__``, except texts and what is True or False.

Written here, and no library for checking types, since those say it in their own words, check
lists by samples, and take True for a number.
"""

from __future__ import annotations

import builtins
import contextlib
import dataclasses
import functools
import gc
import inspect
import itertools
import json
import math
import numbers
import os
import re
import reprlib
import sys
import threading
import traceback
import types
import typing
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from decimal import Decimal
from typing import Any, Literal, TypeVar, overload

import numpy as np

from .errors import BadSetting, BadValue, GuitarnetError, TooLarge, a, nearest

__all__ = ["computing", "entered", "enters", "insisted", "insisting", "is_whole", "public"]

T = TypeVar("T")

_HARNESS = "is not a harness"
_LAYOUT = "a Harness, such as gn.layouts.one_pickup(...)"
_RESPONSE = "is not a response over frequency"
_CLIP = ("sound", "is no sound", "what read_sound() or pluck() returns")
_SAID: dict[str, tuple[str, str, str]] = {
    "guitar": ("guitar", _HARNESS, _LAYOUT),
    "guitars": ("guitar", _HARNESS, _LAYOUT),
    "harness": ("harness", _HARNESS, _LAYOUT),
    "h": ("response", _RESPONSE, "what response() returns"),
    "of": (
        "guitar or response",
        "is neither a guitar nor a response",
        "a Harness, or what response() returns",
    ),
    "z": ("impedance", "is not an impedance over frequency", "what impedance() returns"),
    "clip": _CLIP,
    "clips": _CLIP,
    "spectrum": (
        "spectrum",
        "is not a spectrum over harmonics",
        "what string_spectrum() returns",
    ),
    "settings": (
        "settings",
        "is no mapping",
        "{'volume': [10, 5]}; all else goes by name, as frequency=[100, 1000]",
    ),
    "drawn": ("drawn", "is no mapping", "what spread() returns"),
    "meter": ("meter", "is no meter", "gn.bench.Ohmmeter(...)"),
    "fit": ("fit", "is no fit of a pickup", "what fit_pickup() returns"),
    "fault": ("fault", "is no fault", "one of what faults() returns"),
    "load": ("load", "is no load", "gn.fitting.Load(...)"),
    "instrument": ("instrument", "is no load", "gn.fitting.Load(...)"),
    "ax": ("ax", "is not one of matplotlib's Axes", "Axes, or leave it out"),
    "path": ("path", "is no path", "a file's name"),
}
"""What is said of a function's parameter that means the same wherever it stands: where, what a
thing of the wrong kind is not, and what to give."""

_NAME = re.compile(r"(?<![\w.])[A-Za-z_]\w*")
_LARGEST = 2**63  # of a whole number
_MOST = 1_000_000  # of what comes one by one
_HUGE = 2**28  # numbers in one array
_FEW = 1000  # things looked at in one
_DEEP = 8  # things in things


class _Standing(threading.local):
    """Where a thread stands: in how many public calls, and whether unusual values are meant."""

    calls = 0
    unusual = False


_standing = _Standing()


def enters(function: T) -> T:
    """Mark a public function that hands on what a person enters, as if they had called the rest."""
    function.enters = True  # type: ignore[attr-defined]
    return function


def entered() -> bool:
    """Whether what is read now was given by a person, to the outermost public call."""
    return _standing.calls <= 1


def insisted() -> bool:
    """Whether the person has said ``unusual=True`` to the outermost call."""
    return _standing.unusual


@contextlib.contextmanager
def computing() -> Iterator[None]:
    """Make parts of computed values, which nobody entered."""
    _standing.calls += 2
    try:
        yield
    finally:
        _standing.calls -= 2


@contextlib.contextmanager
def insisting(unusual: bool) -> Iterator[None]:
    """Take unusual values as they are, where that is asked for."""
    before = _standing.unusual
    _standing.unusual = unusual or before
    try:
        yield
    finally:
        _standing.unusual = before


class _Refused(Exception):
    """A value that is of no kind that was asked for: where in the argument, and why."""

    def __init__(self, problem: str, *, give: str = "", at: str = "") -> None:
        super().__init__(problem)
        self.problem, self.give, self.at = problem, give, at


@dataclasses.dataclass(frozen=True)
class _Kind:
    """What may be given: a reader that hands the value on or refuses it, and its name."""

    read: Callable[[Any], Any]
    noun: str
    number: bool = False
    sure: type | None = None
    """A type of which every value passes as it is; most arguments are of it."""


@overload
def public(thing: T, /) -> T: ...
@overload
def public(**give: str | None) -> Callable[[T], T]: ...
def public(thing: Any = None, /, **give: str | None) -> Any:
    """Check what comes in through a public function, or through a class and all its methods.

    Parameters
    ----------
    thing : function or class
        What is public.
    **give : str or None
        By parameter: what the sentence tells one to do; None leaves the parameter to the
        function, which says more than a type can.
    """
    if thing is None:
        return lambda decorated: public(decorated, **give)
    if not isinstance(thing, type):
        return _gated(thing, give)
    for name, member in list(vars(thing).items()):
        if name.startswith("_") and name not in ("__init__", "__call__"):
            continue
        if isinstance(member, (classmethod, staticmethod)):
            setattr(thing, name, type(member)(_gated(member.__func__, give, thing)))
        elif inspect.isfunction(member) and _takes_more_than_self(member):
            setattr(thing, name, _gated(member, give, thing))
    return thing


def _takes_more_than_self(method: Any) -> bool:
    code = method.__code__
    named = code.co_argcount + code.co_kwonlyargcount
    return named > 1 or bool(code.co_flags & (inspect.CO_VARARGS | inspect.CO_VARKEYWORDS))


def _gated(function: Any, give: Mapping[str, str | None], owner: type | None = None) -> Any:
    """Put the gate before one function; its checks are made when it is first called."""
    checks = None
    hands_on = getattr(function, "enters", False) or _is_layout(function)

    @functools.wraps(function)
    def door(*args: Any, **kwargs: Any) -> Any:
        nonlocal checks
        if checks is None:
            checks = _checks(function, give, owner)
        positional, by_name, more = checks
        given = args, kwargs
        before = _standing.unusual
        if not hands_on:
            _standing.calls += 1
        try:
            for place, sure, check in positional:
                if place >= len(args):
                    break
                value = args[place]
                if type(value) is not sure and (read := check(value)) is not value:
                    args = (*args[:place], read, *args[place + 1 :])
            if more is not None and len(args) > (start := more[0]):
                args = (*args[:start], *map(more[1], args[start:]))
            for name, value in kwargs.items():
                if name in by_name:
                    sure, check = by_name[name]
                    if type(value) is not sure and (read := check(value)) is not value:
                        kwargs[name] = read
                elif _without_end(value):
                    raise _too_long(name)
            if "unusual" in kwargs and "unusual" in by_name:
                _standing.unusual = before or kwargs["unusual"]
            return function(*args, **kwargs)
        except BadValue as error:
            if hands_on:
                _name(error, function, *given)
            raise
        except GuitarnetError:
            raise
        except MemoryError as error:
            problem = "asks for more memory than there is"
            raise TooLarge(function.__name__, problem, "ask for less at once") from error
        except Exception as error:
            _blame(error, function, where, *given)
            raise
        finally:
            _standing.unusual = before
            if not hands_on:
                _standing.calls -= 1

    where = (owner or function).__name__
    return door


def _is_layout(function: Any) -> bool:
    return str(function.__module__).startswith("guitarnet.circuit.layouts")


def _arguments(function: Any, args: tuple[Any, ...], kwargs: Mapping[str, Any]) -> dict[str, Any]:
    """Give what a function was called with, by parameter."""
    return {**dict(zip(inspect.signature(function).parameters, args, strict=False)), **kwargs}


def _name(error: BadValue, function: Any, args: tuple[Any, ...], kwargs: Mapping[str, Any]) -> None:
    """Call a value that is refused by the argument that it was given as."""
    value = error.value
    if "." not in error.where or type(value) not in (str, int, float):  # it says its own name
        return
    for name, given in _arguments(function, args, kwargs).items():
        if any(one is value for one in (given if type(given) in (list, tuple) else [given])):
            error.where = name
            error.args = (name, *error.args[1:])
            return


def _blame(
    error: Exception, function: Any, where: str, args: tuple[Any, ...], kwargs: Mapping[str, Any]
) -> None:
    """Say so where not this library but what was given has failed; a mistake of ours passes by."""
    given = _arguments(function, args, kwargs)
    holds: Callable[[Any], bool]
    if isinstance(error, RecursionError) and any(map(_too_deep, given.values())):
        problem, fix, holds = "is nested too deeply", "give it flat", _too_deep
    elif failed := _failed(error, function):
        kind, holds = failed
        problem, fix = f"{a(kind)} raised {type(error).__name__} in its own code", "give what works"
    else:
        return
    # A thing that is being made, the first of all, already holds what it was given.
    name, value = next((item for item in reversed(given.items()) if holds(item[1])), ("", None))
    raise BadSetting(f"{where}.{name}" if name else where, problem, fix, value) from error


def _failed(error: Exception, function: Any) -> tuple[Any, Callable[[Any], bool]] | None:
    """Find the thing of the caller's own that failed: its class, and whether a value holds it.

    It is what runs in the first frame of the caller's own code behind the last one of this
    library. A function that was given is none: what it raises is the caller's own affair.
    """
    foreign = None
    for frame, _ in traceback.walk_tb(error.__traceback__):
        module = str(frame.f_globals.get("__name__", "builtins"))
        if frame.f_code is function.__code__ or module.partition(".")[0] == _OURS:
            foreign = None
        elif foreign is None and not _of_a_library(module):
            foreign = frame
    if foreign is None:
        return None
    code, first = foreign.f_code, foreign.f_code.co_varnames[:1]
    thing = foreign.f_locals.get(first[0]) if first else None
    kind: Any = type(thing)
    if not _of_a_library(str(kind.__module__)):
        return kind, functools.partial(_holds, thing)
    if code.co_flags & inspect.CO_GENERATOR:
        return "generator", functools.partial(_holds, code)
    return None


_OURS = __name__.partition(".")[0]


@functools.cache
def _of_a_library(module: str) -> bool:
    """Whether a module is none of the caller's own: built in, installed, or of this library."""
    root = module.partition(".")[0]
    file = str(getattr(sys.modules.get(root), "__file__", None) or "")
    known = root == _OURS or (root in sys.stdlib_module_names and root != "__main__")
    return known or "-packages" in file


def _holds(what: Any, value: Any) -> bool:
    """Whether a thing, or the generator that runs a code, is a value or lies in it."""
    level = [value]
    for _ in range(_DEEP):
        inner: list[Any] = []
        for one in level[:_FEW]:
            if one is what or (type(one) is types.GeneratorType and one.gi_code is what):
                return True
            if type(one) is np.ndarray and one.dtype == object:
                inner += one.ravel()[:_FEW].tolist()
            elif not issubclass(type(one), (type, types.ModuleType, types.FunctionType)):
                inner += gc.get_referents(one)
        level = inner
    return False


def _too_deep(value: Any) -> bool:
    """Whether a value holds itself, or lists in lists deeper than Python can follow."""
    try:
        json.dumps(value, default=repr, skipkeys=True)
    except (RecursionError, ValueError):  # the second of what holds itself
        return True
    except Exception:  # of its own code
        pass
    return False


def _without_end(value: Any, deep: int = 3) -> bool:
    """Whether there is more of it than one can go through: a range, a view, and what holds one.

    Python's and numpy's own loops over such a thing cannot be stopped.
    """
    kind = type(value)
    if kind in _PLAIN:
        return False
    if kind is np.ndarray:
        return bool(value.size > _HUGE)
    if kind is list or kind is tuple or kind is dict:
        inside = value.values() if kind is dict else value
        return deep > 0 and len(value) < _FEW and any(_without_end(one, deep - 1) for one in inside)
    return (kind is range or isinstance(value, Mapping)) and _length(value) > _MOST


def _too_long(name: str) -> TooLarge:
    return TooLarge(name, "holds more than one can go through", "give less")


def _checks(
    function: Any, give: Mapping[str, str | None], owner: type | None
) -> tuple[tuple[Any, ...], dict[str, Any], Any]:
    """Make the checks of a function: by place, by name, and of all from a place on."""
    own_reading = {"seed"}  # `read_seed` says what one is
    if function.__name__ == "__init__" and hasattr(owner, "__post_init__"):
        fields = dataclasses.fields(owner)  # type: ignore[arg-type]
        own_reading |= {field.name for field in fields if field.type not in ("str", "bool")}
    if _is_layout(function):
        # Which say what coils they need, what wirings there are, and how a bleed is written.
        own_reading |= {"pickup", "neck", "middle", "bridge"}
        own_reading |= {"wiring", "treble_bleed", "capacitors"}
    meanings = _meanings(function)
    positional: list[Any] = []
    by_name: dict[str, Any] = {}
    more = None
    for place, (name, parameter) in enumerate(inspect.signature(function).parameters.items()):
        if parameter.kind is parameter.VAR_KEYWORD:
            continue
        kind = None
        if name not in own_reading and give.get(name, "") is not None:
            kind = _kind_of(meanings.get(name, Any))
        kind = kind or _ANYTHING
        check = _check(kind, function, parameter, give.get(name), owner)
        if parameter.kind is parameter.VAR_POSITIONAL:
            more = place, check
            continue
        by_name[name] = kind.sure, check
        if parameter.kind is not parameter.KEYWORD_ONLY:
            positional.append((place, kind.sure, check))
    return tuple(positional), by_name, more


def _check(
    kind: _Kind, function: Any, parameter: inspect.Parameter, fix: str | None, owner: type | None
) -> Callable[[Any], Any]:
    """Make the check of one parameter, which hands on what it is given or says what is wrong."""
    read, name, default = kind.read, parameter.name, parameter.default
    where = f"{function.__name__}.{name}" if owner is None else f"{owner.__name__}.{name}"
    said = None if fix is not None or owner is not None else _SAID.get(name)
    if fix is not None:
        where = name  # as the function itself says it of what a type cannot tell

    def check(value: Any) -> Any:
        if value is default:
            return value
        if _without_end(value):
            raise _too_long(where)
        try:
            return read(value)
        except _Refused as refused:
            error: type[GuitarnetError] = BadValue if kind.number else BadSetting
            if said is not None and not refused.at:
                place, is_not, give = said
                raise error(
                    place, f"{_kind_found(value)} {is_not}", f"give {give}", value
                ) from None
            advice = refused.give or fix or _advice(kind, default)
            raise error(where + refused.at, refused.problem, advice, value) from None

    return check


def _advice(kind: _Kind, default: Any) -> str:
    if isinstance(default, (int, float)) and not isinstance(default, bool):
        return f"give {kind.noun}, such as {default:g}"
    if isinstance(default, (str, tuple)) and default:
        return f"give {kind.noun}, such as {reprlib.repr(default)}"
    return f"give {kind.noun}"


def _meanings(function: Any) -> dict[str, Any]:
    """Find what the annotations of a function mean where it stands.

    A class that is imported for type checkers only is known by its name: so no library is loaded
    for the sake of a check.
    """
    written = [text for text in function.__annotations__.values() if isinstance(text, str)]
    known = {**vars(builtins), **function.__globals__}
    unknown = {name for text in written for name in _NAME.findall(text) if name not in known}
    by_name = {name: _ByName(name, (), {}) for name in unknown}
    return typing.get_type_hints(function, function.__globals__, by_name)


class _ByName(type):
    """A class of which only the name is known; ``module.Class`` is known by its last word."""

    def __getattr__(cls, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return _ByName(name, (), {})

    def __instancecheck__(cls, value: Any) -> bool:
        return any(base.__name__ == cls.__name__ for base in type(value).__mro__)

    def __subclasscheck__(cls, other: type) -> bool:
        return any(base.__name__ == cls.__name__ for base in other.__mro__)


# -- kinds ----------------------------------------------------------------------------------------


def _kind_of(meaning: Any) -> _Kind | None:
    """Find the kind of what an annotation means; None is anything."""
    if isinstance(meaning, TypeVar):
        meaning = meaning.__bound__ or Any
    if meaning in (Any, object):
        return None
    if meaning is None or meaning is type(None):
        return _Kind(_read_none, "None")
    if meaning in _PLAIN:
        return _PLAIN[meaning]
    origin, inner = typing.get_origin(meaning) or meaning, typing.get_args(meaning)
    if origin in (typing.Union, types.UnionType):
        return _union(inner)
    if origin is Literal:
        return _literal(inner)
    if origin is type:
        return _subclass(inner[0] if inner else object)
    if origin is tuple and inner and inner[-1] is not Ellipsis:
        return _fixed(inner)
    if origin in (list, tuple, Sequence, Iterable, Set, set, frozenset):
        return _several(inner[0] if inner else Any, ordered=origin in (list, tuple, Sequence))
    if origin in (Mapping, dict):
        return _mapping(*(inner or (Any, Any)))
    if origin is Callable:
        return _Kind(_read_callable, "a function")
    if isinstance(origin, type) and issubclass(origin, os.PathLike):
        return _Kind(_read_path, "a path")
    if getattr(origin, "_is_protocol", False):
        return _protocol(origin)
    if not isinstance(origin, type):
        return None
    return _instance(origin)


def _found(value: Any) -> str:
    """Say what was given: short values as they are written, all else by its type."""
    if isinstance(value, type):
        return f"the class {value.__name__}"
    plain = isinstance(value, (str, bool, int, float, complex, np.number, np.bool_))
    if plain and not isinstance(value, np.timedelta64):
        return reprlib.repr(value.item() if isinstance(value, np.generic) else value)
    return a(type(value))


def _read_none(value: Any) -> Any:
    if value is None:
        return value
    raise _Refused(f"{_found(value)} is not None")


def _read_text(value: Any) -> Any:
    if isinstance(value, str):
        return value
    raise _Refused(f"{_found(value)} is no text")


def _read_bool(value: Any) -> Any:
    if isinstance(value, (bool, np.bool_)):
        return value
    raise _Refused(f"{_found(value)} is neither True nor False")


def _read_number(value: Any) -> Any:
    """Hand on a real number as one of Python's: numpy's whole numbers have an end and go round."""
    given = type(value)
    if given is float or (given is int and -_LARGEST < value < _LARGEST):  # nearly always
        return value
    if not isinstance(value, (bool, np.bool_)):
        if issubclass(given, (float, np.floating)):
            return float(value)
        if issubclass(given, np.integer) and given is not np.timedelta64:
            return int(value)
        alone = given is np.ndarray and value.ndim == 0 and value.dtype.kind in "iuf"
        if alone or (isinstance(value, (numbers.Real, Decimal)) and given is not np.timedelta64):
            try:
                number = float(value)
            except (OverflowError, ValueError):
                raise _Refused("is not a number one can use") from None
            return value if type(value) is int else number
    raise _Refused(f"{_found(value)} is not a number")


def is_whole(value: Any) -> bool:
    """Whether a value is a whole number; numpy counts a span of time among them."""
    no_number = isinstance(value, (bool, np.bool_, np.timedelta64))
    return isinstance(value, numbers.Integral) and not no_number


def _read_whole(value: Any) -> Any:
    if type(value) is int and -_LARGEST < value < _LARGEST:  # nearly always
        return value
    if not is_whole(value):
        raise _Refused(f"{_found(value)} is no whole number")
    if not -_LARGEST <= (whole := int(value)) < _LARGEST:
        raise _Refused("is not a number one can use")
    return whole


def _read_complex(value: Any) -> Any:
    if isinstance(value, (complex, np.complexfloating)):
        return value
    return _read_number(value)


def _read_path(value: Any) -> Any:
    try:
        if isinstance(os.fspath(value), str):
            return value
    except TypeError:
        pass
    raise _Refused(f"{_kind_found(value)} is not a path")


def _read_callable(value: Any) -> Any:
    if callable(value):
        return value
    raise _Refused(f"{_found(value)} is no function")


_ANYTHING = _Kind(lambda value: value, "anything")
_PLAIN = {
    str: _Kind(_read_text, "text", sure=str),
    bool: _Kind(_read_bool, "True or False", sure=bool),
    int: _Kind(_read_whole, "a whole number", number=True),
    float: _Kind(_read_number, "a number", number=True, sure=float),
    complex: _Kind(_read_complex, "a number", number=True),
}


def _instance(kind: Any, called: str = "") -> _Kind:
    noun = called or a(kind.__name__)

    def read(value: Any) -> Any:
        if isinstance(value, kind):
            return value
        raise _Refused(f"{_kind_found(value)} is not {noun}")

    return _Kind(read, noun, sure=None if kind is np.ndarray else kind)


def _protocol(kind: Any) -> _Kind:
    members = [name for name in vars(kind) if not name.startswith("_")]

    @functools.cache
    def serves(given: type) -> bool:
        return all(hasattr(given, name) for name in members)

    def read(value: Any) -> Any:
        kind_of_value: Any = type(value)
        if serves(kind_of_value):
            return value
        raise _Refused(f"{_found(value)} does not serve as {kind.__name__}")

    return _Kind(read, f"what serves as {kind.__name__}")


def _subclass(kind: Any) -> _Kind:
    def read(value: Any) -> Any:
        if isinstance(value, type) and issubclass(value, kind):
            return value
        raise _Refused(f"{_found(value)} is no kind of {kind.__name__}")

    return _Kind(read, f"a kind of {kind.__name__}")


def _literal(options: tuple[Any, ...]) -> _Kind:
    texts = [option for option in options if isinstance(option, str)]

    def read(value: Any) -> Any:
        for option in options:
            if type(value) is type(option) and value == option:
                return value
            if isinstance(value, str) and isinstance(option, str) and str(value) == option:
                return option
        written = value if isinstance(value, str) else _found(value)
        raise _Refused(f"there is no {_found(value)}", give=nearest(written, texts))

    return _Kind(read, "one of " + ", ".join(map(repr, options)))


def _union(members: tuple[Any, ...]) -> _Kind | None:
    if float in members and str in members:
        return None  # a value as people write it: `read_value` says what is wrong
    kinds = [_kind_of(member) for member in members if member not in (None, type(None))]
    optional = len(kinds) < len(members)
    if any(kind is None for kind in kinds):
        return None
    known = [kind for kind in kinds if kind is not None]
    if len(known) == 1:
        (only,) = known
        return _Kind(lambda value: None if value is None else only.read(value), only.noun,
                     only.number, only.sure)  # fmt: skip

    def read(value: Any) -> Any:
        if value is None and optional:
            return value
        refused = []
        for kind in known:
            try:
                return kind.read(value)
            except _Refused as why:
                refused.append(why)
        deeper = [why for why in refused if why.at or why.give]  # of the right kind, except a part
        raise deeper[0] if deeper else _Refused(f"{_found(value)} is not {noun}")

    noun = " or ".join(dict.fromkeys(kind.noun for kind in known))
    return _Kind(read, noun)


def _items(value: Any, *, ordered: bool) -> Any:
    """Hand on what holds several; what can be read only once becomes a list."""
    if isinstance(value, (list, tuple)):
        return value
    loose = isinstance(value, (str, bytes, bytearray, memoryview, Mapping, type))
    if loose or (ordered and isinstance(value, Set)):
        raise _Refused(f"{_kind_found(value)} is no list")
    if isinstance(value, np.ndarray) and value.ndim:
        return value
    try:
        once = iter(value)
    except TypeError:  # also an array of no dimension
        raise _Refused(f"{_kind_found(value)} is no list") from None
    if once is not value and _length(value) <= _MOST:
        return value
    read = list(itertools.islice(once, _MOST + 1))
    if len(read) > _MOST:
        raise _Refused(f"holds over {_MOST} things", give="give a shorter list")
    return read


def _length(value: Any) -> float:
    """How many things there are, infinite where it is not known before they are read."""
    try:
        return len(value) if hasattr(value, "__len__") else math.inf
    except OverflowError:
        return math.inf


def _several(item: Any, *, ordered: bool) -> _Kind:
    kind = _kind_of(item)
    dtypes = {"a number": "iuf", "a whole number": "iu"}.get(kind.noun, "") if kind else ""

    def read(value: Any) -> Any:
        items = _items(value, ordered=ordered)
        if kind is None:
            return items
        if isinstance(items, np.ndarray) and items.ndim == 1 and items.dtype.kind in dtypes:
            return items
        return _each(kind, items, items)

    noun = f"a list of {_PLURAL.get(kind.noun, kind.noun)}" if kind else "a list"
    return _Kind(read, noun, kind is not None and kind.number)


_PLURAL = {"a number": "numbers", "a whole number": "whole numbers"}


def _each(kind: _Kind, items: Any, given: Any) -> Any:
    """Hand on what is given if every item is of a kind, or a list of the items as they are read."""
    changed = []
    for place, item in enumerate(items):
        try:
            read = kind.read(item)
        except _Refused as why:
            raise _within(why, f"[{place}]", kind) from None
        if read is not item:
            changed.append((place, read))
    if not changed or isinstance(given, np.ndarray):
        return given
    new = list(items)
    for place, read in changed:
        new[place] = read
    return new


def _within(why: _Refused, at: str, kind: _Kind | None) -> _Refused:
    noun = kind.noun if kind else ""
    return _Refused(why.problem, give=why.give or f"give {noun}", at=at + why.at)


def _fixed(inner: tuple[Any, ...]) -> _Kind:
    """A list of so many, each of its kind."""
    kinds = [_kind_of(member) for member in inner]

    def read(value: Any) -> Any:
        given = _items(value, ordered=True)
        items = given if isinstance(given, (list, tuple, np.ndarray)) else list(given)
        if len(items) != len(kinds):
            raise _Refused(f"is a list of {len(items)}, not of {len(kinds)}")
        read_items = []
        for place, (item, kind) in enumerate(zip(items, kinds, strict=True)):
            try:
                read_items.append(item if kind is None else kind.read(item))
            except _Refused as why:
                raise _within(why, f"[{place}]", kind) from None
        same = all(one is other for one, other in zip(read_items, items, strict=True))
        return items if same or isinstance(items, np.ndarray) else tuple(read_items)

    number = all(kind is not None and kind.number for kind in kinds)
    return _Kind(read, f"a list of {len(kinds)}", number)


def _mapping(key: Any, item: Any) -> _Kind:
    keys, kind = _kind_of(key), _kind_of(item)

    def read(value: Any) -> Any:
        if not isinstance(value, Mapping):
            raise _Refused(f"{_kind_found(value)} is no mapping")
        if _length(value) > _MOST:
            raise _Refused(f"holds over {_MOST} things", give="give a shorter mapping")
        changed = {}
        for name, held in value.items() if keys or kind else ():
            try:
                if keys is not None:
                    keys.read(name)
            except _Refused as why:
                raise _Refused(f"has a key that cannot be: {why.problem}") from None
            try:
                if kind is not None and (new := kind.read(held)) is not held:
                    changed[name] = new
            except _Refused as why:
                raise _within(why, f"[{_found(name)}]", kind) from None
        return {**value, **changed} if changed else value

    return _Kind(read, "a mapping")


def _kind_found(value: Any) -> str:
    return f"the class {value.__name__}" if isinstance(value, type) else a(type(value))
