"""What can go wrong, and how it is said.

::

    GuitarnetError
    ├── BadValue        a value that a part cannot have           (also ValueError)
    │   └── Unusual     a value that hardly any guitar has, so that it may be a slip
    ├── BadSetting      a knob, switch or sweep that cannot be    (also ValueError)
    ├── BadHarness      parts and joints that do not make a circuit (also ValueError)
    ├── BadFile         a file that cannot be read as it stands   (also ValueError)
    ├── NoSolution      a circuit with no defined answer          (also ArithmeticError)
    ├── TooLarge        a sweep that does not fit in memory       (also MemoryError)
    ├── NotFinished     a long run that was cut short             (also RuntimeError)
    ├── NotExpressible  a part that SPICE or symbols cannot state (also ValueError)
    └── NotInstalled    an optional library or program is missing (also ImportError)

    CoarseGrid          a grid too coarse for what is read off it  (a UserWarning)

Every error is one sentence: where, what was found, what to do.
The three pieces stay on the exception as ``where``, ``problem`` and ``fix``,
and ``value`` keeps what was found, so that a program can act on them.
"""

from __future__ import annotations

import difflib
import itertools
import traceback
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from importlib.util import find_spec
from pathlib import Path
from typing import Any, TypeVar

__all__ = [
    "BadFile",
    "BadHarness",
    "BadSetting",
    "BadValue",
    "CoarseGrid",
    "GuitarnetError",
    "NoSolution",
    "NotExpressible",
    "NotFinished",
    "NotInstalled",
    "TooLarge",
    "Unusual",
]


T = TypeVar("T")

_LONGEST_NAME = 200  # characters
_MOST = 400  # characters of each piece of a sentence
_LONGEST = 1_000_000  # of a list
_FEW = 10_000  # of lugs and joints


class GuitarnetError(Exception):
    """Base of every error that guitarnet raises on purpose.

    Parameters
    ----------
    where : str
        The part, setting or file, as the user wrote it.
    problem : str
        What was found and why it cannot be.
    fix : str
        What to do.
    value : object, optional
        What was found, kept for programs.
    """

    def __init__(self, where: str, problem: str, fix: str, value: Any = None) -> None:
        where, problem, fix = str(where), str(problem), str(fix)  # here, not where it is read
        super().__init__(where, problem, fix, value)
        self.where = where
        self.problem = problem
        self.fix = fix
        self.value = value

    def __str__(self) -> str:
        where, problem, fix = (_brief(text) for text in (self.where, self.problem, self.fix))
        stop = "" if fix.endswith("?") else "."
        return f"{where}: {problem}; {fix}{stop}"

    def _render_traceback_(self) -> list[str]:
        """Lines that a notebook shows: the sentence first, then where the reader's code stood.

        IPython asks for it by this name. The frames inside guitarnet are left out; `traceback`
        and a debugger still have them.
        """
        inside = str(Path(__file__).parent)
        frames = traceback.extract_tb(self.__traceback__)
        # The cell is the first frame with a name in angle brackets; what ran it comes before.
        cell = next((i for i, f in enumerate(frames) if f.name.startswith("<")), 0)
        own = [f for f in frames[cell:] if not f.filename.startswith(inside) and f.line]
        lines = [f"{type(self).__name__}: {self}"]
        for frame in own:
            at = f"line {frame.lineno}" + (f" of {frame.name}" if frame.name[:1] != "<" else "")
            lines.append(f"    {at}:  {frame.line}")
        return lines


class BadValue(GuitarnetError, ValueError):
    """A value that a part cannot have."""


class Unusual(BadValue):
    """A value that hardly any guitar has, so that it may be a slip; ``unusual=True`` insists."""


class BadSetting(GuitarnetError, ValueError):
    """A knob, switch, sweep or option that cannot be."""


class BadHarness(GuitarnetError, ValueError):
    """Parts and joints that do not make a circuit."""


class BadFile(GuitarnetError, ValueError):
    """A file that cannot be read as it stands."""


class NoSolution(GuitarnetError, ArithmeticError):
    """A circuit with no defined answer, such as a shorted ideal source."""


class TooLarge(GuitarnetError, MemoryError):
    """A sweep that does not fit in memory."""


class NotFinished(GuitarnetError, RuntimeError):
    """A long run that was cut short; the sentence says what was saved."""


class NotExpressible(GuitarnetError, ValueError):
    """A part that the asked form (SPICE text, symbols) cannot state."""


class NotInstalled(GuitarnetError, ImportError):
    """An optional library or program that is not on this machine."""


class CoarseGrid(UserWarning):
    """A grid of frequencies too coarse for the number that is read off it."""


def needs(library: str, extra: str) -> None:
    """Refuse in one sentence to go on without an optional library."""
    if find_spec(library) is None:
        fix = f"install it with: pip install 'guitarnet[{extra}]'"
        raise NotInstalled(library, "is not installed", fix)


def plain(text: object) -> str:
    """Write text on one line, without what steers a terminal or turns the reading direction.

    Spaces of every kind stay spaces; what else cannot be printed is written out by its number.
    """
    written = str(text)
    if written.isprintable():
        return written
    return "".join(
        c
        if c.isprintable()
        else " "
        if unicodedata.category(c) == "Zs"
        else c.encode("unicode_escape", "surrogatepass").decode("ascii")
        for c in written
    )


def _brief(text: object) -> str:
    """One plain line of bounded length, both ends kept: what is wrong may be a whole book."""
    words = plain(text)
    return words if len(words) <= _MOST else f"{words[: _MOST - 103]}...{words[-100:]}"


def a(noun: object) -> str:
    """Put the article before a noun, such as the name of a class."""
    word = noun.__name__ if isinstance(noun, type) else str(noun)
    return f"an {word}" if word[:1] in tuple("AEIOUaeiou") or word == "ndarray" else f"a {word}"


def by_name(table: Mapping[str, T], name: Any, what: str) -> T:
    """Take an entry of a table by its name, or say which name is nearest."""
    if isinstance(name, str) and name in table:
        return table[name]
    raise BadSetting(what, f"there is no {name!r}", nearest(str(name), table), name)


def has_items(given: Any) -> bool:
    """Say whether there is something to go through; an array of no dimension only seems so."""
    return isinstance(given, Iterable) and getattr(given, "ndim", 1) != 0


def few(given: Iterable[T]) -> Iterator[T]:
    """Go through lugs or joints; what never ends is refused."""
    for number, item in enumerate(given):
        if number == _FEW:
            raise BadSetting("list", f"holds over {_FEW} things", "give a shorter one")
        yield item


def listed(given: Any, where: str, fix: str) -> list[Any]:
    """Read a list of any kind; a word, a mapping or a single number is none."""
    try:
        if isinstance(given, (str, bytes, Mapping)):
            raise TypeError
        known = list(itertools.islice(given, _LONGEST + 1))
    except TypeError:
        raise BadSetting(where, f"{a(type(given))} is no list", fix, given) from None
    if len(known) > _LONGEST:
        raise BadSetting(where, f"holds over {_LONGEST} things", fix, given)
    return known


def pair(given: Any, where: str, fix: str) -> tuple[Any, Any]:
    """Read a list of two."""
    two = listed(given, where, fix)
    if len(two) != 2:
        raise BadSetting(where, f"is a list of {len(two)}, not of two", fix, given)
    return two[0], two[1]


def asked(function: Callable[..., T], where: str, fix: str, /, *args: Any, **options: Any) -> T:
    """Call a function that was given; what it raises is told in a sentence, its cause behind it."""
    try:
        return function(*args, **options)
    except GuitarnetError:
        raise
    except Exception as error:
        problem = f"raised {type(error).__name__} ({error})"
        raise BadSetting(where, problem, fix, function) from error


def mapped(given: Any, where: str, fix: str) -> Mapping[Any, Any]:
    """Pass a mapping on, and refuse what is none."""
    if not isinstance(given, Mapping):
        raise BadSetting(where, f"{a(type(given))} is no mapping", fix, given)
    if len(given) > _LONGEST:
        raise BadSetting(where, f"holds over {_LONGEST} things", fix, given)
    return given


def _begins(typed: str, name: str) -> bool:
    """Whether each word that was typed begins the same word of a name, as in "peak freq"."""
    short, whole = typed.lower().split(), name.lower().split()
    pairs = zip(short, whole, strict=False)
    return 0 < len(short) <= len(whole) and all(w.startswith(s) for s, w in pairs)


def nearest(name: str, known: Iterable[str], *, otherwise: str | None = None) -> str:
    """Say which known name is nearest to ``name``, else list the known ones."""
    names = sorted(known)
    name = name[:_LONGEST_NAME]  # a name of a million letters is near to none
    begun = [one for one in names if _begins(name, one)]
    if len(begun) == 1:
        return f"did you mean {begun[0]!r}?"
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f"did you mean {close[0]!r}?"
    if otherwise is not None:
        return otherwise
    if not names:
        return "there is none"
    return "use one of " + ", ".join(names)
