"""The measured pickups, each with all that is known of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, nearest
from ...frozen import Frozen
from ...gate import public
from ...identity import ByValue
from ...parts.catalogue import catalogue_data, catalogue_number, ready_pickups
from ...parts.humbucker import Humbucker
from ...parts.pickup import Pickup
from ...table import Table, Tabled
from ...units import format_value, plain_words, read_value
from ..fit.result import FittedValue

__all__ = ["CataloguePickup", "entry", "kinds", "of_kind", "pickups"]


@public
@dataclass(frozen=True, eq=False, repr=False)
class CataloguePickup(Tabled, ByValue):
    """A measured pickup of the catalogue.

    Parameters
    ----------
    number : int
        Its number, which stays.
    name : str
        Its generic name; where no ohms were stated, those in it are fitted.
    kind : str
        One of `guitarnet.catalogue.kinds`.
    pickup : Pickup or Humbucker
        The part for a guitar.
    values : mapping of str to FittedValue
        Every value of the fitted model.
    loads : mapping of str to FittedValue
        What was fitted of the rig: its instrument and its large capacitor.
    covariance : xarray.DataArray
        As of `guitarnet.fitting.PickupFit`.
    told : mapping of str to float
        Values in SI that were stated with the measurement and so went into the fit.
    curves : mapping of str to float
        By how much the part misses each measured curve [dB rms].
    missed : xarray.DataArray
        What the part misses of all curves, over frequency [dB rms in third octaves].
    notes : tuple of str
        What is doubtful about the measurement.
    measured_as : str
        Name of the set of curves in the project's ``tests/reference/pickup_sets``.
    source, licence : str
        Where the curves come from, and their licence.

    Examples
    --------
    >>> wide = pickups[3]
    >>> wide.name, wide.kind, wide.told["resistance"]
    ('wide single coil, 10.6k', 'single coil', 10600.0)
    """

    number: int
    name: str
    kind: str
    pickup: Pickup | Humbucker
    values: Mapping[str, FittedValue]
    loads: Mapping[str, FittedValue]
    covariance: xr.DataArray
    told: Mapping[str, float]
    curves: Mapping[str, float]
    missed: xr.DataArray
    notes: tuple[str, ...]
    measured_as: str
    source: str
    licence: str

    def table(self) -> Table:
        """Set out every value with its error, and how it is known."""
        rows = []
        for record in self._records():
            value, error, unit = record["value"], record["error"], record["unit"]
            rows.append(
                (plain_words(record["quantity"]), _shown(value, unit), _shown(error, unit, 2),
                 record["known"])
            )  # fmt: skip
        for name, missed in self.curves.items():
            rows.append((f"missed, {name}", f"{missed:.2f} dB", "", "rms"))
        lines = [
            f"Measured: three curves of a driven pickup, {self.source}, {self.licence}.",
            "Capacitance includes the pickup's lead and the input of the instrument.",
            *self.notes,
        ]
        return Table(
            ("quantity", "value", "±", "how it is known"),
            rows,
            f"{self.number}  {self.name} ({self.kind})",
            "\n".join(lines),
        )

    def _records(self) -> Iterator[dict[str, Any]]:
        for name, fitted in {**self.values, **self.loads}.items():
            how = "fitted" if fitted.determined else "hardly determined, near a typical value"
            if name in self.told:
                stated = _shown(self.told[name], fitted.unit)
                how = f"stated as {stated}, and fitted"
            if name in self.loads:
                how += ", of the rig"
            yield {
                "quantity": name,
                "value": fitted.value,
                "error": fitted.error,
                "unit": fitted.unit,
                "known": how,
            }


def _shown(value: float, unit: str, digits: int = 4) -> str:
    value = float(f"{value:.{digits - 1}e}")
    return f"{value:g}" if unit == "number" else format_value(value, unit)


def _entry(number: int, row: Mapping[str, Any]) -> CataloguePickup:
    data = catalogue_data()
    values = {key: FittedValue(*value) for key, value in row["values"].items()}
    names = list(values)
    root = np.zeros((len(names), len(names)))
    root[np.tril_indices(len(names))] = row["root"]
    units = {"resistance": "ohm", "inductance": "H"}
    octaves = xr.Variable("frequency", row["third_octaves"], {"units": "Hz"})
    return CataloguePickup(
        number=number,
        name=row["name"],
        kind=row["kind"],
        pickup=ready_pickups[row["name"]],
        values=Frozen({key: v for key, v in values.items() if key not in row["loads"]}),
        loads=Frozen({key: values[key] for key in row["loads"]}),
        covariance=xr.DataArray(
            root @ root.T, {"value": names, "value_2": names}, ["value", "value_2"]
        ),
        told=Frozen({key: read_value(text, units[key]) for key, text in row["told"].items()}),
        curves=Frozen(row["curves"]),
        missed=xr.DataArray(row["missed"], {"frequency": octaves}, name="missed"),
        notes=tuple(row["notes"]),
        measured_as=row["set"],
        source=data["source"],
        licence=data["licence"],
    )


pickups: Frozen[int, CataloguePickup] = Frozen(
    {number: _entry(number, row) for number, row in enumerate(catalogue_data()["pickups"], 1)}
)
"""Every pickup of the catalogue by its number."""

kinds: tuple[str, ...] = tuple(dict.fromkeys(one.kind for one in pickups.values()))
"""Kinds of pickups in the catalogue."""


@public(name=None)
def entry(name: str | int) -> CataloguePickup:
    """Give all that is known of one measured pickup.

    Parameters
    ----------
    name : str or int
        Its name or its number.

    Returns
    -------
    CataloguePickup
        The pickup with values, errors, source and licence.

    Raises
    ------
    BadSetting
        If there is none of that name or number.

    Examples
    --------
    >>> entry("neck humbucker, 12.7k").told["resistance"]
    12690.0
    """
    return pickups[catalogue_number(name)]


def of_kind(kind: str | None) -> list[CataloguePickup]:
    """Pickups of one kind, or all."""
    if kind is None:
        return list(pickups.values())
    if not isinstance(kind, str) or kind not in kinds:
        raise BadSetting("kind", f"there is no {kind!r}", nearest(str(kind), kinds), kind)
    return [one for one in pickups.values() if one.kind == kind]
