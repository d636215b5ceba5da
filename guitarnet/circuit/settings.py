"""The grammar of settings: what a person writes, turned into labelled values.

A bare part name sets the part's main value (a pot's mark, a capacitor's farad); anything else is
a dotted path. A list becomes a dimension named as the setting. A labelled array keeps its own
dimensions, so that arrays that share one are taken pointwise. What is not a number (a taper, a
bleed, None) is a category: each makes a harness of its own.
"""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
import xarray as xr

from ..errors import BadSetting, a, listed
from ..parts.base import Part, part_inside
from ..parts.taper import Taper
from ..parts.two_lug import Empty, Network, is_network
from ..units import Quantity, format_value, plain_words
from .wired import Wired

__all__ = [
    "RESERVED",
    "Resolved",
    "Settings",
    "is_knob",
    "one_mapping",
    "resolve",
    "target",
    "variants",
]

Held = TypeVar("Held", bound=Wired)

RESERVED = (
    "frequency",
    "at",
    "build",
    "sample",
    "source",
    "setting",
    "reference_frequency",
    "pickups",
)
"""Names that mean something to `response` and so cannot name a part."""

Settings = Mapping[str, Any] | None
"""Settings as one mapping, where they are not given as keywords."""


def one_mapping(settings: Settings, keywords: Mapping[str, Any]) -> dict[str, Any]:
    """Take the settings from the mapping or from the keywords, whichever were used."""
    if settings and keywords:
        first = next(iter(keywords))
        raise BadSetting(
            "settings",
            f"are given as a mapping, and {first!r} as a keyword beside it",
            f"put {first!r} into the mapping",
        )
    return dict(keywords or settings or {})


@dataclass(frozen=True)
class Resolved:
    """Settings ready for stamping.

    Parameters
    ----------
    values : dict
        Full path to float or labelled array, in SI.
    coords : dict
        Coordinates of the dimensions, by name.
    dims : tuple of str
        Dimensions in the order in which the settings were given.
    """

    values: dict[str, Any] = field(default_factory=dict)
    coords: dict[str, xr.Variable] = field(default_factory=dict)
    dims: tuple[str, ...] = ()


def resolve(harness: Wired, settings: Mapping[str, Any]) -> Resolved:
    """Turn numeric settings into labelled values and coordinates.

    Parameters
    ----------
    harness : Harness
        The harness that the paths lead into.
    settings : mapping
        Settings as a person writes them; categories must have been taken out by `variants`.

    Returns
    -------
    Resolved
        Values by full path, coordinates, dimensions in order.

    Raises
    ------
    BadSetting
        If a path leads nowhere, a list is empty, or one thing is set twice.
    BadValue
        If a value is out of range.
    """
    found = Resolved()
    dims: dict[str, None] = {}
    for name, given in settings.items():
        if _is_sweep(given) and len(given) == 0:
            raise BadSetting(name, "is an empty list", "give at least one value")
        path, spec = target(harness, name)
        if path in found.values:
            raise BadSetting(name, "is set twice", f"keep one of the settings of {path}")
        if isinstance(given, (xr.DataArray, xr.Variable)):
            found.values[path] = _labelled(name, given, spec, found.coords)
            dims.update(dict.fromkeys(str(dim) for dim in given.dims))
            _check_sizes(name, found.values)
        elif _is_sweep(given):
            numbers, written = _numbers(name, given, spec)
            found.values[path] = xr.Variable((name,), numbers)
            _label(found.coords, name, numbers, written, spec)
            dims[name] = None
            _check_sizes(name, found.values)
        else:
            number = _read(name, given, spec)
            found.values[path] = number
            found.coords[name] = xr.Variable((), number, _attrs(name, spec))
    _tracks_and_marks(harness, found.values)
    for name in dims:
        if name in settings and name in found.coords and found.coords[name].dims != (name,):
            raise BadSetting(
                name,
                "is one value here and the dimension of another setting there",
                "rename the dimension of the other setting",
            )
    return Resolved(found.values, found.coords, tuple(dims))


def variants(
    harness: Held, settings: Mapping[str, Any]
) -> tuple[dict[str, list[str]], Iterator[tuple[tuple[int, ...], Held]], dict[str, Any]]:
    """Take categories out of settings.

    Returns
    -------
    labels : dict of str to list of str
        Labels of each category dimension; a single category has none.
    harnesses : iterator of (index, Harness)
        One harness for each combination, with its place along the category dimensions.
    rest : dict
        The numeric settings.

    Raises
    ------
    BadSetting
        If a list of categories is empty, mixes kinds or holds one label twice.
    """
    labels: dict[str, list[str]] = {}
    choices: dict[str, list[Any]] = {}
    rest: dict[str, Any] = {}
    fixed = harness
    for name, given in settings.items():
        if not _is_category(harness, name, given):
            rest[name] = given
        elif _is_sweep(given) and not isinstance(given, tuple):
            options = listed(given, name, "give a list")
            choices[name] = options
            labels[name] = _category_labels(harness, name, options)
        else:
            fixed = fixed.replace(name, given)

    def each() -> Iterator[tuple[tuple[int, ...], Held]]:
        places = itertools.product(*(range(len(options)) for options in choices.values()))
        for place in places:
            made = fixed
            for (name, options), index in zip(choices.items(), place, strict=True):
                made = made.replace(name, options[index])
            yield place, made

    return labels, each(), rest


def _is_sweep(given: Any) -> bool:
    if isinstance(given, (str, bytes, Part, Taper, Mapping)):
        return False
    return isinstance(given, Sequence) or (isinstance(given, np.ndarray) and given.ndim > 0)


def _is_category(harness: Wired, name: str, given: Any) -> bool:
    if name in RESERVED:
        return False
    part_name, local = harness.split(name)
    part = harness.parts[part_name]
    local = local or _main_category(part)
    if local and part.aliases().get(local, local) in part.categories():
        return True
    options = given if _is_sweep(given) else [given]
    if not local and isinstance(part, (Empty, Network)):
        return True  # a place for any network, which may be written as text
    if _are_plain(options):
        return False
    return not isinstance(given, (np.ndarray, xr.DataArray, xr.Variable)) and any(
        option is None
        or isinstance(option, (Part, Taper))
        or (not local and is_network(part, option))
        for option in options
    )


def _main_category(part: Part) -> str:
    """Name what a bare name sets, where that is no number: a switch's place."""
    return part.main if part.main in part.categories() else ""


def _category_labels(harness: Wired, name: str, options: list[Any]) -> list[str]:
    if not options:
        raise BadSetting(name, "is an empty list", "give at least one value")
    part_name, local = harness.split(name)
    if not any(isinstance(option, Part) for option in options):
        local = local or _main_category(harness.parts[part_name])
    labels = []
    for option in options:
        part = harness.replace(name, option).parts[part_name]
        if local and not isinstance(option, Part):
            value: Any = part
            for piece in part.path(local, name).split("."):
                value = getattr(value, piece)
            labels.append(_category_label(value))
        else:
            labels.append((part_inside(part, local) or part).label())
    for label in labels:
        if labels.count(label) > 1:
            raise BadSetting(name, f"{label!r} stands twice in the list", "give each choice once")
    return labels


def _category_label(value: Any) -> str:
    if isinstance(value, tuple):  # end resistances, at high and at low
        shown = [v if isinstance(v, str) else format_value(v, "ohm") for v in value]
        return " and ".join(dict.fromkeys(shown))
    return str(value)


def is_knob(harness: Wired, name: str) -> bool:
    """Whether a setting is the mark of a knob."""
    part_name, local = harness.split(name)
    return "mark" in harness.parts[part_name].controls and local in ("", "mark")


def target(harness: Wired, name: str) -> tuple[str, Quantity]:
    """Find the full path and the quantity that a setting's name means.

    Raises
    ------
    BadSetting
        If there is no such part or value, or the name is reserved.
    """
    if not isinstance(name, str):
        raise BadSetting("setting", f"{a(type(name))} is no name", "name a part, as 'volume'", name)
    if name in RESERVED:
        raise BadSetting(name, "is a reserved word", "rename the part or setting")
    part_name, local = harness.split(name)
    part = harness.parts[part_name]
    if not local:
        if part.main is None:
            raise BadSetting(
                name,
                f"{a(type(part))} has no main value",
                _instead(part_name, part),
            )
        local = part.main
    local = part.path(local, name)
    if local not in part.settable():  # a category, such as a taper
        numbers = [f"{part_name}.{path}" for path in part.settable() if path not in part.controls]
        fix = f"name a number, as {numbers[0]}" if numbers else "leave it out"
        raise BadSetting(name, "is a choice and no number", fix, name)
    return f"{part_name}.{local}", part.settable()[local]


def _instead(name: str, part: Part) -> str:
    """Say what to set where a part has no main value."""
    ways = [f"{name}.{path}" for path in part.settable()]
    advice = "use one of " + ", ".join(ways) if ways else "set a value of another part"
    if part.lugs == ("a", "b"):
        return "give parts, such as gn.bleed('1n'), or " + advice
    return advice


def _read(name: str, given: Any, spec: Quantity) -> float:
    if given is None:
        raise BadSetting(name, "None is not a value here", f"give a value in {spec.unit}")
    number = spec.read(given, name)
    assert number is not None
    return number


def _are_plain(values: Any) -> bool:
    """Tell whether all are plain numbers, which need no reading one by one."""
    return isinstance(values, (list, tuple, range)) and set(map(type, values)) <= {
        int,
        float,
        np.float64,
        np.int64,
    }


def _numbers(name: str, given: Any, spec: Quantity) -> tuple[np.ndarray, list[str] | None]:
    if _are_plain(given):
        with contextlib.suppress(OverflowError):  # read one by one, it is named
            given = np.array(given, dtype=float)
    elif any(_is_sweep(value) for value in given):
        raise BadSetting(
            name,
            "has several dimensions without names",
            "give an xarray.DataArray whose dimensions are named",
        )
    if isinstance(given, np.ndarray) and given.dtype.kind in "fiu":
        written = None
        numbers = given.astype(float)
        spec.check(numbers, name)
    else:
        written = [str(v) for v in given] if any(isinstance(v, str) for v in given) else None
        numbers = np.array([_read(name, value, spec) for value in given])
    if len(set(numbers.tolist())) != len(numbers):
        twice = next(v for i, v in enumerate(numbers) if v in numbers[:i])
        raise BadSetting(
            name, f"{format_value(twice, spec.unit)} stands twice in the list", "give it once"
        )
    return numbers, written


def _labelled(
    name: str, given: xr.DataArray | xr.Variable, spec: Quantity, coords: dict[str, xr.Variable]
) -> xr.Variable:
    if given.size == 0:
        raise BadSetting(name, "is an empty array", "give at least one value")
    for dim in given.dims:
        if not isinstance(dim, str) or (dim in RESERVED and dim != "sample"):
            raise BadSetting(name, f"{dim!r} cannot name a sweep's dimension", "rename it")
    values = given.variable if isinstance(given, xr.DataArray) else given
    if isinstance(values.data, np.ndarray):
        try:
            if values.dtype.kind == "c":
                raise TypeError
            with np.errstate(over="ignore"):  # wider floats become infinite
                values = values.astype(float)
        except (OverflowError, TypeError, ValueError):
            raise BadSetting(name, "holds what is not a number", "give numbers in SI") from None
        spec.check(values.data, name)
    else:
        values = xr.apply_ufunc(
            lambda block: _checked(block, spec, name),
            values,
            dask="parallelized",
            output_dtypes=[float],
        )
    values = xr.Variable(values.dims, values.data)
    own = None
    if isinstance(given, xr.DataArray):
        own = given.coords.variables.get(name)
        if own is not None and isinstance(values.data, np.ndarray) and not own.equals(values):
            raise BadSetting(
                name, "has labels of that name that differ from its values", "leave them out"
            )
        for key, coord in given.coords.items():
            if not coords.setdefault(str(key), coord.variable).equals(coord.variable):
                raise BadSetting(
                    name,
                    f"has another coordinate {str(key)!r} than a setting before it",
                    "give both the same labels",
                )
    if name not in coords:
        coords[name] = xr.Variable(values.dims, values.data, _attrs(name, spec))
    elif own is not None:  # says what it counts, whoever made it
        coords[name] = xr.Variable(own.dims, own.data, {**_attrs(name, spec), **own.attrs})
    return values


def _check_sizes(name: str, values: Mapping[str, Any]) -> None:
    """Refuse a setting whose dimension has another size in a setting before it."""
    sizes: dict[str, int] = {}
    for value in values.values():
        for dim, size in getattr(value, "sizes", {}).items():
            if sizes.setdefault(dim, size) != size:
                raise BadSetting(
                    name,
                    f"has {size} values along {dim!r}, a setting before it has {sizes[dim]}",
                    f"give every sweep along {dim!r} the same number of values",
                )


def _checked(block: np.ndarray, spec: Quantity, name: str) -> np.ndarray:
    """Check a chunk when its turn comes; a lazy array cannot be checked earlier."""
    spec.check(block, name)
    return np.asarray(block, dtype=float)


def _label(
    coords: dict[str, xr.Variable],
    name: str,
    numbers: np.ndarray,
    written: list[str] | None,
    spec: Quantity,
) -> None:
    coords[name] = xr.Variable((name,), numbers, _attrs(name, spec))
    if written is not None:
        coords[f"{name}_written"] = xr.Variable((name,), np.array(written))


def _attrs(name: str, spec: Quantity) -> dict[str, str]:
    unit = {"mark": "mark", "fraction": "1"}.get(spec.unit, spec.unit)
    return {"units": unit, "long_name": plain_words(name)}


def _tracks_and_marks(harness: Wired, values: Mapping[str, Any]) -> None:
    """Refuse a pot set both by mark and by track fraction."""
    for path in values:
        name, _, local = path.partition(".")
        if local == "track" and f"{name}.mark" in values:
            raise BadSetting(name, "is set by mark and by track fraction", "keep one of the two")
