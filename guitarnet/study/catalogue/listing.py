"""The catalogue as a table, and its peaks in a guitar."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting
from ...gate import public
from ...parts.catalogue import catalogue_data
from ...ranking import most
from ...table import Table, Tabled
from ...units import fixed, plain_words
from ..fit import coil_model
from ..fit.draws import draw_pickup
from ..fit.loads import Load
from ..response.labels import decibels
from ..response.measures import bandwidth, peak
from ..response.response import pickups_of
from ..response.sweep import check_guitar
from .entries import CataloguePickup, of_kind

__all__ = ["CatalogueTable", "loaded_peaks", "model_peak", "table"]

_MEASURES = {"frequency": "Hz", "height": "dB re 100 Hz", "bandwidth": "Hz"}
_LOAD = Load("200k", "470p")  # of one of the measured curves
_GRID = np.geomspace(300, 15e3, 400)  # Hz


@public
@dataclass(frozen=True, repr=False)
class CatalogueTable(Tabled):
    """Measured pickups of the catalogue, a line each. Made by `guitarnet.catalogue.table`.

    Parameters
    ----------
    pickups : tuple of CataloguePickup
        The pickups.

    Examples
    --------
    >>> CatalogueTable(()).table().columns[:3]
    ('no.', 'pickup', 'DCR [kΩ]')
    """

    pickups: tuple[CataloguePickup, ...]

    def table(self) -> Table:
        """Set out the measured values with their errors, and the loaded peak."""
        rows = []
        for one in self.pickups:
            hertz, height = model_peak(one, _LOAD)
            rows.append(
                (one.number, one.name, _cell(one, "resistance", 1e-3), _cell(one, "inductance", 1),
                 _cell(one, "capacitance", 1e12, 0), _number(hertz / 1e3, 2), _number(height, 1),
                 fixed(max(one.curves.values()), 2))
            )  # fmt: skip
        data = catalogue_data()
        lines = [
            "All are measured: three curves of each driven pickup, fitted; ± one standard error. "
            "Ohms and henry with s were stated,",
            "else fitted. C includes the pickup's lead and the instrument's input. Peak: with "
            f"{_LOAD} across it, above 100 Hz.",
            "Missed: of the worst of its curves by the model. Slow droop of a few per cent near "
            "700 Hz is partly the exciter's.",
            *(f"{one.number}: {note}" for one in self.pickups for note in one.notes),
            f"Curves: {data['source']}, {data['licence']}.",
            f"{data['left_out']} more sets are left out: something moved, or may have, between "
            "their curves.",
        ]
        columns = ("no.", "pickup", "DCR [kΩ]", "L [H]", "C [pF]", "peak [kHz]", "height [dB]")
        return Table((*columns, "missed [dB]"), rows, "Measured pickups", "\n".join(lines))

    def _records(self) -> Iterator[dict[str, Any]]:
        for one in self.pickups:
            record: dict[str, Any] = {"number": one.number, "name": one.name, "kind": one.kind}
            for name, fitted in one.values.items():
                record |= {name: fitted.value, f"{name}_error": fitted.error}
            hertz, height = model_peak(one, _LOAD)
            yield record | {
                "loaded_peak_frequency": hertz,
                "loaded_peak_height": height,
                "stated": ", ".join(one.told),
                "missed": max(one.curves.values()),
                "measured_as": one.measured_as,
                "source": one.source,
                "licence": one.licence,
            }


def _cell(one: CataloguePickup, name: str, factor: float, digits: int = 2) -> str:
    value = one.values[name]
    stated = " s" if name in one.told else ""
    return f"{fixed(value.value * factor, digits)} ± {fixed(value.error * factor, digits)}{stated}"


def _number(value: float, digits: int) -> str:
    return "\u2014" if math.isnan(value) else fixed(value, digits)


def model_peak(one: CataloguePickup, load: Load) -> tuple[float, float]:
    """Peak [Hz] and height over 100 Hz [dB] of the measured model, NaN where it has none."""
    numbers = {name: fitted.value for name, fitted in one.values.items()}
    f = np.append(_GRID, 100.0)
    y = 2j * np.pi * f * float(load.capacitance) + 1 / float(load.resistance)
    level = decibels(np.abs(coil_model.string_response(numbers, f, y)))
    level, low = level[:-1], level[-1]
    inner = level[1:-1]
    tops = np.flatnonzero((inner >= level[:-2]) & (inner > level[2:])) + 1
    if not tops.size:
        return math.nan, math.nan
    top = int(tops[most(level[tops])])
    left, at, right = level[top - 1 : top + 2]
    shift = (left - right) / (2 * (left - 2 * at + right))
    step = math.log(_GRID[1] / _GRID[0])
    return float(_GRID[top] * math.exp(shift * step)), float(at - (left - right) * shift / 4 - low)


@public(kind=None)
def table(kind: str | None = None) -> CatalogueTable:
    """List the measured pickups: what was measured, and how well.

    Parameters
    ----------
    kind : str, optional
        One of `guitarnet.catalogue.kinds`; by default all.

    Returns
    -------
    CatalogueTable
        Prints as a table; ``to_dataframe()`` has every value with its error.

    Raises
    ------
    BadSetting
        If there is no such kind.

    Examples
    --------
    >>> for row in table("single coil").table():
    ...     print(row[0], row[1])
    1 single coil, steel poles on a ceramic bar, 6.3k
    2 single coil, 10.3k
    3 wide single coil, 10.6k
    """
    return CatalogueTable(tuple(of_kind(kind)))


@public(kind=None)
def loaded_peaks(
    guitar: Harness,
    settings: Settings = None,
    *,
    kind: str | None = None,
    place: str | None = None,
    count: int = 8,
    seed: int = 0,
    **keywords: Any,
) -> xr.Dataset:
    """Where each measured pickup peaks in your guitar: with your cable, pots and settings.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    kind : str, optional
        One of `guitarnet.catalogue.kinds`; by default all.
    place : str, optional
        Name of the pickup in whose place each is put; not needed where there is only one.
    count : int
        How many pickups are drawn by the errors of each, for the errors of its peak.
    seed : int
        Seed of these draws.
    settings, **keywords
        Where the controls stand, one value each, as in `guitarnet.response`.

    Returns
    -------
    xarray.Dataset
        ``frequency`` [Hz] and ``height`` [dB re 100 Hz] of the peak, NaN where there is none, and
        ``bandwidth`` [Hz], up to where the level has fallen by 3 dB, along ``number``; each with
        its standard error by those of the fitted values; ``name`` and ``kind``.

    Raises
    ------
    BadSetting
        If there is no such kind or place, several pickups and no place, or a setting sweeps.
    BadValue, BadHarness
        As in `guitarnet.response`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), cable="3 m")
    >>> found = loaded_peaks(guitar, kind="single coil", count=10)
    >>> found.bandwidth.dims, found.name.values.tolist()[1]
    (('number',), 'single coil, 10.3k')
    """
    check_guitar(guitar)
    settings = one_mapping(settings, keywords)
    place = _place(guitar, place)
    rows: dict[str, list[float]] = {
        f"{name}{error}": [] for name in _MEASURES for error in ("", "_error")
    }
    chosen = of_kind(kind)
    others = guitar.summary({f"{place}.resistance": None})
    for one in chosen:
        own = guitar.replace(place, one.pickup)
        drawn_settings = {**settings, **draw_pickup(one, place, count, seed=seed)}
        found = peak(own, settings).assign(bandwidth=bandwidth(own, settings))
        drawn = peak(own, drawn_settings).assign(bandwidth=bandwidth(own, drawn_settings))
        if found.frequency.ndim:
            swept = ", ".join(map(plain_words, map(str, found.frequency.dims)))
            raise BadSetting("settings", f"sweep {swept}", "give one value each")
        for name in _MEASURES:
            rows[name].append(float(found[name]))
            off = drawn[name].values - float(found[name])
            off = off[np.isfinite(off)]
            rows[f"{name}_error"].append(float(np.sqrt(np.mean(off**2))) if off.size else np.nan)
    return xr.Dataset(
        {
            name: ("number", values, {"units": _MEASURES[name.removesuffix("_error")]})
            for name, values in rows.items()
        },
        {
            "number": [one.number for one in chosen],
            "name": ("number", [one.name for one in chosen]),
            "kind": ("number", [one.kind for one in chosen]),
        },
        attrs={
            "name": guitar.name,
            "guitar": "; ".join(
                f"{plain_words(name)} {said}" for name, said in {**others, **settings}.items()
            ),
        },
    )


def _place(guitar: Harness, place: str | None) -> str:
    names = [one[0] for one in pickups_of(guitar)]
    if place is None and len(names) == 1:
        return names[0]
    if place is None:
        raise BadSetting("place", f"the guitar has {', '.join(names)}", "give one of them")
    if place not in names:
        fix = f"give one of {', '.join(names)}"
        raise BadSetting("place", f"there is no pickup {place!r}", fix, place)
    return place
