"""A harness file to begin with: any ready layout, with the values that were given."""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable, Iterable
from typing import Any

from ..circuit import layouts
from ..circuit.harness import Harness
from ..circuit.usual import places_of
from ..errors import BadSetting, nearest
from ..parts.base import Part
from ..parts.catalogue import ready_pickup, ready_pickups
from ..parts.humbucker import Humbucker
from ..parts.pickup import Coil, Pickup
from ..parts.usual import settle
from ..table import Table
from ..units import Quantity, read_share
from .words import pair

__all__ = ["LAYOUTS", "beginning", "layout_table", "new_file", "value_table"]

LAYOUTS: dict[str, Callable[..., Harness]] = {
    name: getattr(layouts, name)
    for name in layouts.__all__
    if inspect.isfunction(getattr(layouts, name))
}
"""Ready layouts by name."""

# Usual values to begin with, lossless: common practice, no source.
_SINGLE = Pickup(6.2e3, 2.4, 120e-12)
_DOUBLE = Pickup(8.4e3, 4.6, 110e-12)  # two coils that nothing separates
_BASS = Pickup(7.5e3, 3.8, 150e-12)
_COIL = Coil(4.2e3, 2.0, 150e-12)
_LIKE = "volume=500k"
_TOLERANCE = Quantity("fraction", at_least=0, at_most=1)


def layout_table() -> Table:
    """List the ready layouts."""
    rows = [(name, _first(layout)) for name, layout in LAYOUTS.items()]
    note = (
        "guitarnet new LAYOUT lists the values that a layout takes; guitarnet new LAYOUT FILE "
        "writes a file to edit."
    )
    return Table(("layout", "what it is"), rows, "Ready layouts", note)


def value_table(layout: str) -> Table:
    """List the values that a layout takes, with those that stand there unless others are given.

    Parameters
    ----------
    layout : str
        Name of the layout.

    Returns
    -------
    Table
        Name, and value.

    Raises
    ------
    BadSetting
        If there is no such layout.
    """
    made = _layout(layout)
    rows = []
    for name, parameter in inspect.signature(made).parameters.items():
        if name == "unusual":  # which the command writes as --unusual
            continue
        default = parameter.default
        if default is inspect.Parameter.empty:
            default = _pickup_for(layout, parameter).label()
        elif isinstance(default, tuple):
            default = ",".join(default)
        rows.append((name, "none" if default is None else default))
    note = (
        f"Give others behind the file, as {_LIKE}; any value of a part by its path, as "
        "volume.taper=linear. A pickup may be a measured one by its number, as 3: guitarnet "
        "pickups lists them."
    )
    coiled = [
        n for n, p in inspect.signature(made).parameters.items() if p.annotation == "Humbucker"
    ]
    if coiled:
        note += (
            f" {' and '.join(coiled)}: give each coil, as {coiled[0]}.coil_1.resistance=4.1k, half "
            "of what both in series read; or the number of one measured coil, which both are then."
        )
    return Table(("value", "unless given"), rows, f"{layout}: {_first(made)}", note)


def beginning(layout: str, given: Iterable[str] = ()) -> Harness:
    """Make a ready layout with values as a person writes them.

    Parameters
    ----------
    layout : str
        Name of the layout.
    given : iterable of str
        Values, as "volume=500k", "pickup=3" (of the catalogue) or "pickup.resistance=7k"; several
        capacitors as "capacitors=10n,22n".

    Returns
    -------
    Harness
        The guitar.

    Raises
    ------
    BadSetting
        If there is no such layout or value.
    BadValue
        If a part cannot have the value.
    """
    made = _layout(layout)
    parameters = inspect.signature(made).parameters
    pairs = [pair(one, _LIKE, "name") for one in given]
    for name, words in pairs:
        others = [value for one, value in pairs if one == name and value is not words]
        if others:
            both = f"{words!r} and {others[0]!r}"
            raise BadSetting(name, f"is given twice, as {both}", "give it once", words)
    own = dict(one for one in pairs if "." not in one[0])
    paths = dict(one for one in pairs if "." in one[0])
    for name in own:
        if name not in parameters:
            raise BadSetting(name, f"{layout} takes no such value", nearest(name, parameters), name)
    values: dict[str, Any] = {name: _read(name, words) for name, words in own.items()}
    for name, parameter in parameters.items():
        if parameter.default is inspect.Parameter.empty:
            values[name] = _pickup_for(layout, parameter, own.get(name))
    guitar = made(**values)
    for path, words in paths.items():
        if path.endswith(".tolerance"):
            read_share(words, _TOLERANCE, path)
        sign = path.endswith((".winding", ".magnet")) and words in ("1", "+1", "-1")
        guitar = _unsourced(guitar.replace(path, int(words) if sign else words), path)
    places = places_of(guitar)
    for name, part in guitar.parts.items():
        asked = settle(part, name)
        asked = settle(asked, name, places[name]) if name in places else asked
        guitar = guitar if asked is part else guitar.replace(name, asked)
    return guitar


def new_file(layout: str, given: Iterable[str]) -> tuple[Harness, str]:
    """Make a guitar, and the comments that a file of it begins with.

    Parameters
    ----------
    layout, given
        As in `beginning`.

    Returns
    -------
    Harness
        The guitar.
    str
        The comments.

    Raises
    ------
    BadSetting, BadValue
        As in `beginning`.
    """
    guitar = beginning(layout, given)
    lines = [
        f"Begun by: guitarnet new {layout}. Values that were not given are usual ones, a start",
        "only: put in what you measured and bought. Values are written as on the bench: 250k, 22n,",
        "2.4 H, 5 m, audio 15%; a pot's lug high is touched at 10, low at 0.",
        "Lugs in one list under joined are soldered or plugged together. An Empty place takes a",
        'part: kind = "Capacitor" and capacitance = "680 pF", or kind = "Resistor" and resistance.',
        "What you measured before fitting says so, and a part may have its tolerance:",
        '  resistance = { measured = "6.14k", accuracy = "0.5%", at = "17 C" }',
        '  tolerance = "10%"',
    ]
    return guitar, "\n".join(lines)


def _layout(name: str) -> Callable[..., Harness]:
    if name.endswith(".toml"):
        raise BadSetting(
            "layout", f"{name!r} is a file", f"put a layout before it, as one_pickup {name}", name
        )
    if name not in LAYOUTS:
        raise BadSetting("layout", f"there is no {name!r}", nearest(name, LAYOUTS), name)
    return LAYOUTS[name]


def _first(layout: Callable[..., Harness]) -> str:
    return inspect.cleandoc(layout.__doc__ or "").splitlines()[0].replace("`", "")


def _read(name: str, words: str) -> Any:
    if name == "name":
        return words
    if name == "capacitors":
        return [one.strip() for one in words.split(",")]
    return None if words.lower() == "none" else words


def _pickup_for(layout: str, parameter: inspect.Parameter, words: str | None = None) -> Part:
    """Give the pickup that was named, or one to begin with."""
    if parameter.annotation == "Humbucker":
        return _two_coils(parameter.name, words)
    if words is not None:
        return _measured(parameter.name, words)
    if layout in ("bass_blend", "bass_two_volumes"):
        return _BASS
    return _DOUBLE if "humbucker" in layout else _SINGLE


def _measured(name: str, words: str) -> Pickup | Humbucker:
    """Give a pickup of the catalogue by its name or its number."""
    number = int(words) if words.isdecimal() and len(words) < 4 else 0
    if words[:1].isdigit() and not 1 <= number <= len(ready_pickups):
        raise BadSetting(
            name,
            f"{words!r} is no pickup",
            f"give its DCR as {name}.resistance={words}, or a number of the catalogue, 1 to "
            f"{len(ready_pickups)}",
            words,
        )
    return ready_pickup(number or words)


def _two_coils(name: str, words: str | None) -> Humbucker:
    """Make a pickup of four leads, of one measured coil twice where one was named."""
    from ..study.catalogue.entries import entry

    if words is None:
        return Humbucker(_COIL, _COIL, connection="leads")
    fix = f"give each, as {name}.coil_1.resistance=4k and {name}.coil_2.resistance=4k"
    if words[:1].isdigit() and not words.isdecimal():
        raise BadSetting(name, f"{words!r} cannot be both its coils", fix, words)
    part = _measured(name, words)
    if not entry(int(words) if words.isdecimal() else words).kind.startswith("one coil"):
        fix += "; or the number of one measured coil"
        raise BadSetting(name, f"{words!r} cannot be both its coils", fix, words)
    if isinstance(part, Humbucker):
        return dataclasses.replace(part, connection="leads")
    fields = {field.name: getattr(part, field.name) for field in dataclasses.fields(Coil)}
    coil = Coil(**fields)
    return Humbucker(coil, coil, connection="leads", source=part.source)


def _unsourced(guitar: Harness, path: str) -> Harness:
    """Take away where a pickup's values come from, where one of them was given anew."""
    name = path.partition(".")[0]
    part = guitar.parts[name]
    if isinstance(part, Pickup | Humbucker) and part.source:
        return guitar.replace(name, dataclasses.replace(part, source=""))
    return guitar
