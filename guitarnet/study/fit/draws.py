"""Pickups drawn at random by what a fit leaves open."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

import numpy as np
import xarray as xr

from ...errors import BadSetting, a
from ...gate import computing, public
from ...parts.base import Part, part_inside
from ...parts.humbucker import Humbucker
from ...parts.pickup import Pickup
from ...units import Quantity, read_count, read_seed
from .part import part_of
from .problem import Key, inward, outward
from .result import FittedValue

__all__ = ["COUNT", "Fitted", "draw_pickup", "drawn_numbers", "settings_of"]

COUNT = Quantity("number", at_least=1, at_most=1e6)


class Fitted(Protocol):
    """What has fitted values with their covariance."""

    @property
    def pickup(self) -> Pickup | Humbucker:
        """The part."""

    @property
    def values(self) -> Mapping[str, FittedValue]:
        """Every value by name."""

    @property
    def covariance(self) -> xr.DataArray:
        """Covariance of the logarithms."""

    @property
    def missed(self) -> xr.DataArray:
        """What the part misses of the measured curves [dB]."""


@public(fit=None, count=None)
def draw_pickup(
    fit: Fitted, place: str = "pickup", count: int = 500, *, seed: int = 0
) -> dict[str, xr.DataArray]:
    """Draw pickups by what the measurement leaves open: values off together, as they were fitted.

    Parameters
    ----------
    fit : PickupFit or CataloguePickup
        The fitted pickup.
    place : str
        Name of the pickup in the guitar.
    count : int
        How many to draw.
    seed : int
        Seed of the draws.

    Returns
    -------
    dict of str to xarray.DataArray
        Values in SI along ``sample``, by path: settings for any study of a guitar that has
        ``fit.pickup`` in that place, as from `guitarnet.tolerances.spread`.

    Raises
    ------
    BadSetting
        If it is no fitted pickup, or the seed is no whole number from 0.
    BadValue
        If ``count`` is not a number from 1.

    Notes
    -----
    Logarithms of the values (of a share, those of its odds) are normal, with the covariance of the
    fit. A resistance that comes out high goes with a capacitance that comes out low, so the
    response is known better than the values.

    References
    ----------
    Propagation by random draws: JCGM 101:2008 (GUM, supplement 1).

    Examples
    --------
    >>> from guitarnet import fit_pickup, layouts, response
    >>> fit = fit_pickup(resistance="6.2k", inductance="2.4 H")
    >>> guitar = layouts.one_pickup(fit.pickup)
    >>> response(guitar, draw_pickup(fit, count=100)).dims
    ('sample', 'frequency')
    """
    if not hasattr(fit, "covariance") or not hasattr(fit, "values"):
        fix = "give what fit_pickup() returned, or a pickup of gn.catalogue"
        raise BadSetting("draw_pickup", f"{a(type(fit))} is given", fix, fit)
    return settings_of(drawn_numbers(fit, count, seed), place)


def drawn_numbers(fit: Fitted, count: Any, seed: Any) -> dict[str, np.ndarray]:
    """Values of the model, by name, of so many pickups."""
    number = read_count(count, COUNT, "count")
    names = list(fit.values)
    middle = np.array([inward(name, fit.values[name].value) for name in names])
    covariance = fit.covariance.sel(value=names, value_2=names).values
    random = np.random.default_rng(read_seed(seed))
    # By its triangular root, which is unique, so that processors draw alike.
    root = np.linalg.cholesky(covariance + 1e-12 * np.diag(np.diag(covariance)))
    drawn = middle + random.standard_normal((number, len(names))) @ root.T
    return {
        name: np.asarray(outward(Key("drawn", name), column))
        for name, column in zip(names, drawn.T, strict=True)
    }


def settings_of(numbers: Mapping[str, np.ndarray], place: str) -> dict[str, xr.DataArray]:
    """Settings along ``sample`` of the parts that have these values."""
    with computing():
        parts: list[Part] = [
            part_of(dict(zip(numbers, row, strict=True)), "")
            for row in np.transpose([*numbers.values()]).tolist()
        ]
    settings = {}
    for path in parts[0].settable():
        inside, _, field = path.rpartition(".")
        each = [getattr(part_inside(part, inside) or part, field, None) for part in parts]
        if None not in each and len(set(each)) > min(1, len(each) - 1):
            settings[f"{place}.{path}"] = xr.DataArray(np.array(each, dtype=float), dims="sample")
    return settings
