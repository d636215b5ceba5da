"""Bands of a response by what they come from: the measurement, the model, the other parts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting, a, mapped
from ...gate import public
from ...units import plain_words, read_seed
from ..fit.draws import Fitted, draw_pickup
from ..response.measures import level_db
from ..response.response import response
from ..response.sweep import check_guitar
from ..spread.quantiles import quantiles, read_levels
from ..spread.tolerance import spread

__all__ = ["CAUSES", "bands_by_cause"]

CAUSES = ("measurement", "model", "other parts", "all")
"""What a band of `bands_by_cause` comes from."""


@public(fits=None, count=None)
def bands_by_cause(
    guitar: Harness,
    fits: Mapping[str, Fitted],
    settings: Settings = None,
    *,
    count: int = 400,
    seed: int = 0,
    levels: Any = (0.05, 0.5, 0.95),
    frequency: Any = None,
    **keywords: Any,
) -> xr.DataArray:
    """Say how well a response with measured pickups is known, and what that comes from.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    fits : mapping of str to PickupFit or CataloguePickup
        The fitted pickup for each place: its part is put there.
    count : int
        How many guitars to draw.
    seed : int
        Seed of the draws.
    levels : sequence of float or str
        Shares of the guitars that lie below, as in `guitarnet.tolerances.quantiles`.
    settings, frequency, **keywords
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Level [dB re the reference frequency] along ``cause``, ``quantile``, the settings and
        ``frequency``. Causes: "measurement", the values of the pickup that its fit leaves open;
        "model", what the part misses of the measured curves, left out where no curve was fitted;
        "other parts", their tolerances; and "all" together.

    Raises
    ------
    BadSetting
        If a place is no part of the guitar, a fit is none, or a setting is not right.
    BadValue, BadHarness
        As in `guitarnet.response`.

    Notes
    -----
    Measurement: draws by the covariance of the fit, `guitarnet.fitting.draw_pickup`. Model: normal,
    with a standard deviation of what the part misses of its curves at the same frequency, in third
    octaves; of a load that was not measured it may miss more. The rest: even draws within the
    tolerances, `guitarnet.tolerances.spread`. A fitted pickup is one pickup, so its own tolerance
    does not count.

    References
    ----------
    Propagation of distributions by random draws: JCGM 101:2008 (GUM, supplement 1).

    Examples
    --------
    >>> from guitarnet import layouts
    >>> from guitarnet.study.catalogue.entries import entry
    >>> wide = entry(3)
    >>> band = bands_by_cause(layouts.one_pickup(wide.pickup), {"pickup": wide}, count=50)
    >>> band.dims, band.cause.values.tolist()
    (('cause', 'quantile', 'frequency'), ['measurement', 'model', 'other parts', 'all'])
    """
    check_guitar(guitar)
    mapped(fits, "fits", "give {'pickup': fit}")
    settings = one_mapping(settings, keywords)
    start, shares = read_seed(seed), read_levels(levels)
    drawn: dict[str, xr.DataArray] = {}
    misses = []
    for number, (place, fit) in enumerate(fits.items()):
        if not hasattr(fit, "covariance") or not hasattr(fit, "missed"):
            fix = "give what fit_pickup() returned, or a pickup of gn.catalogue"
            raise BadSetting(f"fits, {place}", f"{a(type(fit))} is given", fix, fit)
        guitar = guitar.replace(place, fit.pickup)
        drawn |= draw_pickup(fit, place, count, seed=start + number)
        misses.append(fit.missed)
    if not misses:
        raise BadSetting("fits", "holds no pickup", "give {'pickup': fit}", fits)
    rest = {
        path: values
        for path, values in spread(guitar, count, seed=start).items()
        if path.partition(".")[0] not in fits
    }

    def found(more: Mapping[str, xr.DataArray]) -> xr.DataArray:
        h = response(guitar, {**settings, **more}, frequency=frequency)
        return level_db(h, re="reference")

    nominal = found({})
    swept = [d for d in nominal.dims if d != "frequency"]
    missed = _missed(misses, nominal["frequency"])
    bands = {
        "measurement": quantiles(found(drawn), levels),
        "other parts": quantiles(found(rest), levels),
    }
    together = found({**drawn, **rest})
    if missed is not None:
        from scipy.special import ndtri  # slow to import

        z = xr.DataArray(ndtri(shares), {"quantile": bands["measurement"]["quantile"]})
        bands["model"] = nominal + z * missed
        random = np.random.default_rng(np.random.SeedSequence(start, spawn_key=(1,)))
        each = xr.DataArray(random.standard_normal(together.sizes["sample"]), dims="sample")
        together = together + each * missed
    bands["all"] = quantiles(together, levels)
    causes = [cause for cause in CAUSES if cause in bands]
    dims = ("quantile", *swept, "frequency")
    band = xr.concat(
        [bands[cause].transpose(*dims).drop_attrs() for cause in causes],
        xr.Variable("cause", causes),
        coords="minimal",
        compat="override",
    )
    names = ", ".join(plain_words(place) for place in fits)
    told = [f"{together.sizes['sample']} guitars; measured: {names}"]
    if missed is None:
        told.append("error of the model not known, no curve was fitted")
    told.append(str(nominal.attrs.get("assumptions", "")))
    return band.rename("level").assign_attrs(
        units="dB",
        long_name=nominal.attrs["long_name"],
        assumptions="; ".join(words for words in told if words),
        guitar=nominal.attrs.get("guitar", ""),
    )


def _missed(misses: list[xr.DataArray], frequency: xr.DataArray) -> xr.DataArray | None:
    """What the models miss at frequencies [dB], the largest of all pickups."""
    known = [one for one in misses if np.isfinite(one.values).all()]
    if not known:
        return None
    rows = [
        np.interp(np.log(frequency.values), np.log(one["frequency"].values), one.values)
        for one in known
    ]
    return xr.DataArray(np.max(rows, axis=0), {"frequency": frequency})
