"""Harnesses as plain data and as TOML files.

A file holds names, numbers and text only; nothing in it is ever evaluated. ::

    schema = 1
    name = "one pickup"
    joined = [["pickup.hot", "volume.high"], ...]
    open_lugs = ["tone.high"]

    [parts.volume]
    kind = "Pot"
    resistance = "250 kohm"
    taper = "audio 15%"

    [parts.pickup]
    kind = "Pickup"
    resistance = { measured = "6.14k", accuracy = "0.5%", at = "17 C" }
    ...
"""

from __future__ import annotations

import dataclasses
import os
import re
import tomllib
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..errors import BadFile, BadHarness, BadValue, GuitarnetError, Unusual, a, nearest
from ..files import read_text, write_text
from ..gate import enters, public
from ..parts.base import Part, as_entered
from ..parts.humbucker import Humbucker
from ..parts.measured import Measured, MeasuredValue, how
from ..parts.pickup import Coil
from ..parts.pot import END
from ..parts.taper import Taper, taper as read_taper
from ..parts.usual import marked, settled
from ..units import Quantity, bare_number, read_value, si_text
from .harness import Harness
from .usual import places_of

__all__ = [
    "harness_from_dict",
    "harness_from_text",
    "harness_text",
    "harness_to_dict",
    "load_harness",
    "save_harness",
]

SCHEMA = 1
_LARGEST = 1_000_000  # characters
_DEEPEST = 12
_MOST_PARTS, _MOST_ENTRIES, _LONGEST = 500, 1000, 2000
_MOST_NAMES = 30  # in a key, as a.b.c
# Where no key can be, and quoted names of one; what does not end goes on to the end.
_QUOTED = re.compile(
    r'"""(?:[^\\]|\\.)*?(?:"""|\Z)'
    r"|'''.*?(?:'''|\Z)"
    r'|"(?:[^"\\\n]|\\.)*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*",
    re.DOTALL,
)
_TOP = ("schema", "name", "parts", "joined", "open_lugs")


@public
def harness_to_dict(harness: Harness) -> dict[str, Any]:
    """Write a harness as plain data.

    Parameters
    ----------
    harness : Harness
        The harness.

    Returns
    -------
    dict
        Text, numbers, lists and dicts only; `harness_from_dict` reads it back to an equal
        harness. A part with values that hardly any guitar has says that they are meant.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> data = harness_to_dict(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")))
    >>> data["parts"]["volume"]
    {'kind': 'Pot', 'resistance': '250 kohm', 'taper': 'audio 15%'}
    """
    places = places_of(harness)
    parts = {name: marked(part) for name, part in harness.parts.items()}
    parts |= {name: marked(parts[name], place) for name, place in places.items()}
    return {
        "schema": SCHEMA,
        "name": harness.name,
        "joined": [list(joint) for joint in harness.joined],
        "open_lugs": list(harness.open_lugs),
        "parts": {name: _part_to_dict(part) for name, part in parts.items()},
    }


@public(data=None)
@enters
def harness_from_dict(
    data: Mapping[str, Any], *, where: str = "harness", unusual: bool = False
) -> Harness:
    """Read a harness from plain data.

    Parameters
    ----------
    data : mapping
        As `harness_to_dict` writes it, or as a person does: values may be text such as "250k".
    where : str
        What to call the data in error texts.
    unusual : bool
        Whether values that hardly any guitar has are meant, and are no slip; ``unusual = true``
        in a part's table says so of that part.

    Returns
    -------
    Harness
        The harness, checked.

    Raises
    ------
    BadFile
        If the data are of another schema, a name, value or joint is not right, or a number
        stands where a unit is due.
    Unusual
        If a value is one that hardly any guitar has.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> harness_from_dict(harness_to_dict(guitar)) == guitar
    True
    """
    if not isinstance(data, Mapping):
        raise BadFile(where, "is not a table", "give schema, parts and joined")
    _check_size(data, where)
    for key in data:
        if key not in _TOP:
            raise BadFile(where, f"the key {str(key)[:40]!r} is unknown", nearest(str(key), _TOP))
    if not data:
        raise BadFile(where, "is empty", "begin one with guitarnet new, or with save_harness")
    if "schema" not in data:
        raise BadFile(where, "does not say its schema", f"begin it with: schema = {SCHEMA}")
    if not isinstance(data["schema"], (int, str)) or data["schema"] != SCHEMA:
        raise BadFile(
            where, f"the schema is {data.get('schema')!r}", f"this version reads schema = {SCHEMA}"
        )
    parts = data.get("parts")
    if not isinstance(parts, Mapping) or not parts:
        raise BadFile(where, "has no parts", "add tables such as [parts.volume]")
    if len(parts) > _MOST_PARTS:
        raise BadFile(where, f"has {len(parts)} parts", f"a guitar has at most {_MOST_PARTS}")
    made = {name: _part_from_dict(part, f"{where}, parts.{name}") for name, part in parts.items()}
    try:
        harness = Harness(
            made,
            _lists(data.get("joined", []), f"{where}, joined"),
            tuple(_strings(data.get("open_lugs", []), f"{where}, open_lugs")),
            name=str(data.get("name", "guitar")),
        )
        harness.check()
        for name, place in places_of(harness).items():
            part = harness.parts[name]
            if (asked := settled(part, f"parts.{name}", place)) is not part:
                harness = harness.replace(name, asked)
        return harness
    except (BadHarness, Unusual) as error:
        raise _in_file(where, error) from None


@public
def save_harness(harness: Harness, path: str | os.PathLike[str], *, comment: str = "") -> Path:
    """Save a harness as a TOML file, whole or not at all.

    Parameters
    ----------
    harness : Harness
        The harness.
    path : path
        The file.
    comment : str
        Lines to begin the file with, for a person; `load_harness` does not read them.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    BadFile
        If the file cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     load_harness(save_harness(guitar, f"{folder}/guitar.toml")) == guitar
    True
    """
    return write_text(path, harness_text(harness, comment=comment))


def harness_text(harness: Harness, *, comment: str = "") -> str:
    """Write a harness as TOML, with lines of comment before it.

    Parameters
    ----------
    harness, comment
        As in `save_harness`.

    Returns
    -------
    str
        The text of a file.
    """
    import tomli_w  # only where something is saved

    lines = ["".join(c if c.isprintable() else " " for c in line) for line in comment.splitlines()]
    said = "".join(f"# {line}".rstrip() + "\n" for line in lines)
    held: dict[str, str] = {}
    text = tomli_w.dumps(_in_one_line(harness_to_dict(harness), uuid.uuid4().hex, held))
    for mark, line in held.items():
        text = text.replace(f'"{mark}"', line)
    return said + text


def _in_one_line(data: Any, token: str, held: dict[str, str]) -> Any:
    """Put a mark for each measured value, which TOML's writer would make a section of its own."""
    if isinstance(data, list):
        return [_in_one_line(one, token, held) for one in data]
    if not isinstance(data, dict):
        return data
    if "measured" not in data:
        return {name: _in_one_line(one, token, held) for name, one in data.items()}
    mark = f"{token} {len(held)} "
    held[mark] = "{ " + ", ".join(f'{name} = "{words}"' for name, words in data.items()) + " }"
    return mark


@public
@enters
def load_harness(path: str | os.PathLike[str], *, unusual: bool = False) -> Harness:
    """Load a harness from a TOML file: data only, nothing in it is ever run.

    A file may have up to 1 000 000 characters, 500 parts, 1000 joints or entries of any list,
    2000 characters of any text, and parts 12 deep in parts. A part's name has 40 characters at the
    most.

    Parameters
    ----------
    path : path
        The file.
    unusual : bool
        As in `harness_from_dict`.

    Returns
    -------
    Harness
        The harness, checked.

    Raises
    ------
    BadFile
        If the file cannot be read, is not TOML, does not hold a harness, or is beyond a limit.
    Unusual
        If a value is one that hardly any guitar has.

    References
    ----------
    TOML 1.0, https://toml.io.

    Examples
    --------
    See `save_harness`.
    """
    return harness_from_text(read_text(path), where=str(path))


def harness_from_text(text: str, *, where: str) -> Harness:
    """Read a harness from the text of a file, as `load_harness` does."""
    if len(text) > _LARGEST:
        raise BadFile(where, f"has {len(text)} characters", f"a harness has at most {_LARGEST}")
    names = _longest_key(text)
    if names > _MOST_NAMES:  # the parser's time grows with the square of it
        raise BadFile(
            where,
            f"joins {names} names by dots in one key",
            f"a harness has at most {_MOST_NAMES}, as parts.volume.resistance",
        )
    try:
        data = tomllib.loads(text)
    except ValueError as error:  # TOML's own error, or a number of thousands of digits
        raise BadFile(where, f"is not TOML ({error})", _mended(text, str(error))) from None
    except RecursionError:
        raise BadFile(where, "is nested too deep", "write it more simply") from None
    return harness_from_dict(data, where=where)


_BARE = re.compile(r"=\s*((?:\d+\.?\d*|\.\d+)\s*[^\W\d_%]*[%\w\u00b0][^,}\]\"']*)")


def _mended(text: str, error: str) -> str:
    """Say how to mend what is no TOML: most often a value with its unit stands without quotes."""
    if "overwrite" in error:
        return "it stands there twice; keep one"
    line = re.search(r"at line (\d+)", error)
    lines = text.splitlines()
    if line and int(line[1]) <= len(lines):
        bare = (found[1].strip() for found in _BARE.finditer(lines[int(line[1]) - 1]))
        for value in bare:
            if not value.replace(".", "", 1).isdigit():
                return f'put quotes round it: "{value}"'
    return "mend that place"


def _longest_key(text: str) -> int:
    """Count the names that dots join in the longest key, or in what might be one."""
    plain = _QUOTED.sub(lambda found: "" if found[0].startswith("#") else "x", text)
    return 1 + max(run.count(".") for run in re.split(r"[^\w.\- \t]+", plain))


def _part_to_dict(part: Part) -> dict[str, Any]:
    written: dict[str, Any] = {"kind": type(part).__name__}
    for field in dataclasses.fields(part):  # type: ignore[arg-type]
        value = getattr(part, field.name)
        if value is None or _same(value, field.default):
            continue
        spec = field.metadata.get("quantity")
        key = "form" if field.name == "kind" else field.name
        if spec is not None and isinstance(value, MeasuredValue):
            shown = _value_to_plain(value.shown, spec.unit)
            written[key] = {"measured": shown, **how(value.measured)}
        elif spec is not None:
            written[key] = _value_to_plain(as_entered(value, spec), spec.unit)
        elif isinstance(value, Taper):
            written[key] = _taper_to_plain(value)
        elif isinstance(value, Part):
            written[key] = _part_to_dict(value)
        elif key == "lead_names":
            written[key] = dict(value)
        elif field.name == "elements":
            written[key] = [_part_to_dict(element) for element in value]
        elif key == "end_resistance":
            written[key] = [
                _value_to_plain(end, "ohm") if isinstance(end, float) and end else end
                for end in value
            ]
        else:
            written[key] = list(value) if isinstance(value, tuple) else value
    return written


def _same(value: Any, default: Any) -> bool:
    if isinstance(value, tuple) and not isinstance(default, tuple):
        return all(item == default for item in value)  # (0.0, 0.0) is what 0.0 becomes
    return bool(value == default)


def _value_to_plain(value: float | str, unit: str) -> str | float:
    """Write a value as a person would, so that it reads back to the last bit."""
    if isinstance(value, str):  # a share, with its sign
        return value
    text = si_text(value, unit, digits=6).replace("\u03a9", "ohm").replace("\u00b5", "u")
    if unit not in ("fraction", "mark"):
        try:
            if read_value(text, unit) == value:
                return text
        except BadValue:
            pass
        return f"{value!r} {unit}" if value else value
    return value


def _taper_to_plain(law: Taper) -> str | dict[str, Any]:
    try:
        if read_taper(law.name) == law:
            return law.name
    except BadValue:
        pass
    plain = {
        field.name: getattr(law, field.name)
        for field in dataclasses.fields(law)
        if getattr(law, field.name) not in (None, field.default)
    }
    if law.points is not None:
        plain["points"] = [list(point) for point in law.points]
    if "dead_zone" in plain:
        plain["dead_zone"] = list(law.dead_zone)
    return plain


_OF_COILS = {field.name for field in dataclasses.fields(Coil)}


def _part_from_dict(data: Any, where: str, depth: int = 0) -> Part:
    if depth > _DEEPEST:
        raise BadFile(where, "is nested too deep", "write it more simply")
    if not isinstance(data, Mapping):
        raise BadFile(where, "is not a table", "give kind and values")
    given = dict(data)
    name = given.pop("kind", None)
    if name is None:
        raise BadFile(where, "does not say its kind", f"add kind = one of {', '.join(Part.kinds)}")
    kind = Part.kinds.get(name) if isinstance(name, str) else None
    if kind is None:
        raise BadFile(where, f"the kind {name!r} is unknown", nearest(str(name), Part.kinds))
    fields = {
        "form" if field.name == "kind" else field.name: field
        for field in dataclasses.fields(kind)  # type: ignore[arg-type]
    }
    values: dict[str, Any] = {}
    for key, value in given.items():
        if key not in fields and kind is Humbucker and key in _OF_COILS:
            each = "write it into its coil_1 and its coil_2"
            raise BadFile(where, f"a Humbucker has no {key!r}, each coil has its own", each)
        if key == "measured":
            fix = f"write it like resistance = {_measured_like(Quantity('ohm', copper=True))}"
            raise BadFile(where, "does not say what was measured", fix)
        if key not in fields:
            raise BadFile(where, f"{a(kind)} has no {str(key)[:40]!r}", nearest(str(key), fields))
        inside = f"{where}.{key}"
        if key == "elements":
            items = value if isinstance(value, list) else [value]
            value = tuple(_part_from_dict(item, inside, depth + 1) for item in items)
        elif key == "taper":
            value = _taper_from_plain(value, inside)
        elif isinstance(value, Mapping) and (spec := fields[key].metadata.get("quantity")):
            value = _measured_from_dict(value, spec, inside)
        elif isinstance(value, Mapping) and key != "lead_names":
            value = _part_from_dict(value, inside, depth + 1)
        spec = fields[key].metadata.get("quantity")
        if key == "end_resistance":
            spec = END
        for one in value if key == "end_resistance" and isinstance(value, list) else (value,):
            if spec is not None and isinstance(one, (int, float)):
                bare_number(one, spec, inside)
            both = isinstance(one, str) and re.search("[%\u00b1]", one)
            if both and spec is not None and key in kind.usual_tolerance:
                fix = f"write it like {_measured_like(spec)}"
                raise BadFile(inside, f"{one[:40]!r} is a value and its accuracy", fix)
        values[fields[key].name] = value
    missing = [
        key
        for key, field in fields.items()
        if field.default is dataclasses.MISSING and field.name not in values
    ]
    if missing:
        raise BadFile(where, f"has no {missing[0]!r}", f"add it to this {kind.__name__}")
    try:
        return kind(**values)
    except GuitarnetError as error:
        raise _in_file(where, error) from None


def _measured_from_dict(data: Mapping[str, Any], spec: Quantity, where: str) -> Measured:
    """Read { measured = "6.14k", accuracy = "0.5%", at = "17 C" }."""
    fields = dataclasses.fields(Measured)
    names = {("measured" if field.name == "value" else field.name): field for field in fields}
    for key in data:
        if key not in names:
            fix = f"use {', '.join(names)}"
            raise BadFile(where, f"{str(key)[:40]!r} is unknown", fix)
    for name in ("measured", "accuracy"):
        if name not in data:
            raise BadFile(where, f"has no {name!r}", f"write it like {_measured_like(spec)}")
    if isinstance(data["measured"], (int, float)):
        bare_number(data["measured"], spec, where)
    try:
        return Measured(**{names[key].name: value for key, value in data.items()})
    except BadValue as error:
        raise _in_file(where, error) from None


def _measured_like(spec: Quantity) -> str:
    """Show how a measured value is written."""
    value = {"F": "22.4n", "H": "2.41 H", "F/m": "102 pF/m"}.get(spec.unit, "6.14k")
    at = ', at = "17 C"' if spec.copper else ""
    return f'{{ measured = "{value}", accuracy = "0.5%"{at} }}'


def _taper_from_plain(value: Any, where: str) -> Taper:
    try:
        if not isinstance(value, Mapping):
            return read_taper(value)
        known = [field.name for field in dataclasses.fields(Taper)]
        for key in value:
            if key not in known:
                raise BadFile(where, f"{str(key)[:40]!r} is unknown", nearest(str(key), known))
        if "name" not in value:
            raise BadFile(where, "has no 'name'", "name the taper in words")
        return Taper(**value)
    except BadValue as error:
        raise _in_file(where, error) from None
    except (TypeError, ValueError) as error:
        if isinstance(error, GuitarnetError):
            raise
        raise BadFile(where, "cannot be read as a taper", "give points as pairs") from None


def _check_size(node: Any, where: str, depth: int = 0) -> None:
    """Refuse what no guitar is as large or as deep as, before anything is made of it."""
    if isinstance(node, str) and len(node) > _LONGEST:
        raise BadFile(where, f"has a text of {len(node)} characters", f"write at most {_LONGEST}")
    if not isinstance(node, (Mapping, list, tuple)):
        return
    if depth > 2 * _DEEPEST + 4:  # a part in a part is a table in a list
        raise BadFile(where, "is nested too deep", "write it more simply")
    if len(node) > _MOST_ENTRIES:
        raise BadFile(where, f"has a list of {len(node)}", f"write at most {_MOST_ENTRIES}")
    for entry in (*node, *node.values()) if isinstance(node, Mapping) else node:
        _check_size(entry, where, depth + 1)


def _in_file(where: str, error: GuitarnetError) -> GuitarnetError:
    if isinstance(error, Unusual):
        fix = error.fix.replace("unusual=True", "unusual = true beside it")
        return Unusual(f"{where}, {error.where}", error.problem, fix, error.value)
    fix = error.fix.replace("give True or False", "give true or false, without quotes")
    return BadFile(f"{where}, {error.where}", error.problem, fix, error.value)


def _strings(value: Any, where: str) -> list[str]:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise BadFile(where, "is not a list of lugs", "write it like ['volume.wiper']")
    return value


def _lists(value: Any, where: str) -> tuple[tuple[str, ...], ...]:
    if not isinstance(value, list):
        raise BadFile(where, "is not a list of joints", "write it like [['a.b', 'c.d']]")
    return tuple(tuple(_strings(item, where)) for item in value)
