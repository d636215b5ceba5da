"""Ready pickups: parts fitted to measured curves, by generic names.

They are read from one file of values, which ``tools/catalogue.py`` makes from the curves.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

from ..errors import BadSetting, nearest
from ..frozen import Frozen
from ..gate import computing, public
from .humbucker import Humbucker
from .pickup import CATALOGUE, Coil, Pickup

__all__ = ["catalogue_data", "catalogue_number", "ready_pickup", "ready_pickups"]

_KINDS: dict[str, type[Coil | Humbucker]] = {
    "Coil": Coil,
    "Pickup": Pickup,
    "Humbucker": Humbucker,
}


@cache
def catalogue_data() -> dict[str, Any]:
    """Read the file of the catalogue."""
    text = (files(__package__) / "catalogue.json").read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text)
    return data


def _made(data: dict[str, Any], source: str) -> Any:
    """Make a part of its data, as they stand in a harness file."""
    given = {
        name: _made(value, "") if isinstance(value, dict) else value
        for name, value in data.items()
        if name != "kind"
    }
    return _KINDS[data["kind"]](**given, source=source)


def _source(number: int, row: dict[str, Any]) -> str:
    return (
        f"{CATALOGUE}{number}: {row['name']}; fitted to {len(row['curves'])} measured curves, "
        f"open dataset, {catalogue_data()['licence']}"
    )


with computing():
    _parts = {
        row["name"]: _made(row["part"], _source(number, row))
        for number, row in enumerate(catalogue_data()["pickups"], 1)
    }

ready_pickups: Frozen[str, Pickup | Humbucker] = Frozen(_parts)
"""Measured pickups by their generic names, each with the source of its values."""


def catalogue_number(name: Any) -> int:
    """Number of a pickup in the catalogue, by its number or its name."""
    if isinstance(name, int) and not isinstance(name, bool):
        if 1 <= name <= len(ready_pickups):
            return name
        raise BadSetting(
            "catalogue", f"there is no pickup {name}", f"give 1 to {len(ready_pickups)}", name
        )
    if isinstance(name, str) and name in ready_pickups:
        return list(ready_pickups).index(name) + 1
    fix = nearest(str(name), ready_pickups, otherwise="print(gn.catalogue.table()) lists them")
    raise BadSetting("catalogue", f"there is no pickup {name!r}", fix, name)


@public(name=None)
def ready_pickup(name: str | int) -> Pickup | Humbucker:
    """Give a measured pickup of the catalogue, by its generic name or its number.

    A start where your own pickup was not measured yet. `guitarnet.catalogue.table` lists all, and
    `guitarnet.catalogue.nearest_pickups` finds what is nearest to readings of yours.

    Parameters
    ----------
    name : str or int
        Name, such as "wide single coil, 10.6k" or "neck humbucker, 12.7k", or number.

    Returns
    -------
    Pickup or Humbucker
        The pickup, with the source of its values.

    Raises
    ------
    BadSetting
        If there is none of that name or number.

    Notes
    -----
    A part holds values; the name stands in its ``source`` only, so what was saved with it stays
    as it is. Two coils in series are one part here. The capacitance includes the pickup's lead and
    the input of the instrument.

    References
    ----------
    Open dataset, CC0 1.0, named in `guitarnet.catalogue.CataloguePickup`.

    Examples
    --------
    >>> ready_pickup("wide single coil, 10.6k") == ready_pickup(3)
    True
    """
    return list(ready_pickups.values())[catalogue_number(name) - 1]
