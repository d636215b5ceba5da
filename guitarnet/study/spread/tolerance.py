"""Tolerances: what each value may be, drawn at random or taken at its limits."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import target
from ...errors import BadSetting, listed, mapped
from ...gate import public
from ...parts.base import part_inside
from ...parts.pot import Pot
from ...units import Quantity, dimensions, plain_words, read_count, read_seed, read_share
from ..response.sweep import check_guitar

__all__ = [
    "corners",
    "limits",
    "nominal",
    "read_tolerances",
    "spread",
    "spread_tapers",
    "tolerances_of",
]

_SHARE = Quantity("fraction", at_least=0, at_most=0.99, hint="nothing is left at 100 % less")
_COUNT = Quantity("number", at_least=1, at_most=1e8)
_MARK = Quantity("mark", at_least=0, at_most=10)
_ALIKE = "give groups of names, as [('tone_1', 'tone_2')]"
_MOST = 16  # values of which all corners are given: 65536


@public
def tolerances_of(guitar: Harness) -> dict[str, float]:
    """List by how much each value of a guitar may be off.

    Parameters
    ----------
    guitar : Harness
        The guitar.

    Returns
    -------
    dict of str to float
        Plus or minus share of the value, by path. A part's own ``tolerance`` where it is stated,
        else what is usual of its kind. Values of zero are left out.

    Raises
    ------
    BadSetting
        If it is no guitar.
    BadValue
        If a tolerance is 100 %, which leaves nothing.

    Notes
    -----
    Values that no maker states a tolerance of have no usual one, and are not in the list: a
    coil's eddy share, eddy resistance and screening frequency, the coupling of two coils, a
    capacitor's dissipation factor. Where one matters, state it by path to `spread` or
    `sensitivity_ranking`: ``tolerances={"pickup.eddy_resistance": "20%"}``.

    References
    ----------
    Stands with each kind of part, as ``usual_tolerance``.

    Examples
    --------
    >>> from guitarnet import Pickup, Pot, layouts
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> guitar = layouts.one_pickup(pickup, volume=Pot("250k", "linear", tolerance="8%"))
    >>> tolerances_of(guitar)["volume.resistance"], tolerances_of(guitar)["tone.resistance"]
    (0.08, 0.2)
    """
    check_guitar(guitar)
    found = {}
    for name, part in guitar.parts.items():
        for local, share in part.tolerances().items():
            path = f"{name}.{local}"
            if nominal(guitar, path):
                _SHARE.check(np.asarray(share), f"{path}, tolerance")
                found[path] = share
    return found


@public(tolerances=None, alike=None, count=None)
def spread(
    guitar: Harness,
    count: int,
    *,
    seed: int = 0,
    tolerances: Mapping[str, Any] | None = None,
    alike: Iterable[Iterable[str]] = (),
) -> dict[str, xr.DataArray]:
    """Draw the values of a guitar's parts at random within their tolerances.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    count : int
        How many guitars to draw.
    seed : int
        Seed of the draws. Each value has a stream of its own, by seed and path, so that it is
        drawn alike whatever else is in the harness, and a longer run begins as a shorter one.
    tolerances : mapping of str to float or str, optional
        Paths to plus or minus shares, in place of `guitarnet.tolerances.tolerances_of`;
        what is not in it does not vary.
    alike : iterable of iterable of str
        Groups of paths that are off by the same part of their tolerance, such as pots of one
        batch: ``[("tone_1.resistance", "tone_2.resistance")]``.

    Returns
    -------
    dict of str to xarray.DataArray
        Values in SI along the dimension ``sample``, by path: settings for any study, as
        ``jack_resistance(guitar, **spread(guitar, 500, seed=1))``.

    Raises
    ------
    BadSetting
        If it is no guitar, a path leads nowhere, or to what has no tolerance, such as a knob's
        mark, or the seed is no whole number from 0.
    BadValue
        If a tolerance is negative or 100 % and more, or ``count`` is not a number from 1.

    Notes
    -----
    A value is equally probable anywhere within its limits. That is what one may assume where
    nothing but the limits is known, and it is cautious: a maker who picks the middle out for a
    closer grade leaves the edges.

    References
    ----------
    Rectangular distribution within limits: JCGM 100:2008 (GUM), 4.3.7.

    Examples
    --------
    >>> from guitarnet import Pickup, jack_resistance, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> jack_resistance(guitar, **spread(guitar, 500, seed=1)).dims
    ('sample',)
    """
    number = read_count(count, _COUNT, "spread.count")
    start = read_seed(seed)
    shares = read_tolerances(guitar, tolerances)
    leaders = _leaders(alike, shares, "no tolerance")
    drawn = {}
    for path, share in shares.items():
        off = _drawn(leaders.get(path, path), number, start)
        drawn[path] = nominal(guitar, path) * (1 + share * off)
    return drawn


def _leaders(alike: Any, known: Mapping[str, Any], lacking: str) -> dict[str, str]:
    """Name the first of its group for each member of the groups that are off alike."""
    leaders = {}
    for given in listed(alike, "alike", _ALIKE):
        group = [str(name) for name in listed(given, "alike", _ALIKE)]
        for name in group:
            if name not in known:
                raise BadSetting(name, f"stands in alike and has {lacking}", "leave it out", name)
            leaders[name] = group[0]
    return leaders


def _drawn(name: str, count: int, seed: int) -> xr.DataArray:
    """Evenly spread numbers from -1 to 1 along ``sample``, from the name's own stream."""
    own = tuple(name.encode())
    stream = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=own))
    return xr.DataArray(stream.uniform(-1, 1, count), dims="sample")


@public(marks=None, alike=None, count=None)
def spread_tapers(
    guitar: Harness,
    marks: Mapping[str, Any],
    count: int,
    *,
    seed: int = 0,
    conformity: float | str = "20%",
    alike: Iterable[Iterable[str]] = (),
) -> dict[str, xr.DataArray]:
    """Draw pots at random whose tapers run beside their nominal curve.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    marks : mapping of str to float or list of float
        Marks at which each pot stands: ``{"volume": [10, 5]}``. Pots that are not named keep
        their curve.
    count : int
        How many guitars to draw.
    seed : int
        Seed of the draws, as in `spread`.
    conformity : float or str
        Plus or minus share of the curve by which the track below the wiper may be off.
    alike : iterable of iterable of str
        Groups of pots that are off alike: ``[("tone_1", "tone_2")]``.

    Returns
    -------
    dict of str to xarray.DataArray
        Track fractions by path ("volume.track"), along ``sample`` and, for a list of marks, along
        the pot's name: settings for any study, in place of the marks.

    Raises
    ------
    BadSetting
        If it is no guitar, a name is no pot's, the pot leaves its track at 10, or the seed is no
        whole number from 0.
    BadValue
        If a mark, the conformity or the count is out of range.

    Notes
    -----
    With the nominal track fraction t and u equally probable from -1 to 1, one number for the
    whole curve of a pot: t + conformity u min(t, 1 - t). So the curve stays within plus or minus
    its share of t, still rises, and begins and ends where it should. That it is off to one side
    all along is an assumption.

    References
    ----------
    Plus or minus 20 % of the curve at a given angle: MIL-PRF-94G, 3.5.3.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> found = spread_tapers(guitar, {"volume": [10, 5, 0]}, 500)["volume.track"]
    >>> found.dims, found.max("sample").round(2).values.tolist()
    (('sample', 'volume'), [1.0, 0.18, 0.0])
    """
    number = read_count(count, _COUNT, "spread_tapers.count")
    share = read_share(conformity, _SHARE, "spread_tapers.conformity")
    start = read_seed(seed)
    check_guitar(guitar)
    mapped(marks, "marks", "give {'volume': [10, 5]}")
    leaders = _leaders(alike, marks, "no marks")
    drawn = {}
    for name, given in marks.items():
        part_name, local = guitar.split(name)
        if local:
            raise BadSetting(name, "is a value and no pot", f"give {part_name!r}", name)
        pot = guitar.parts[part_name]
        if not isinstance(pot, Pot):
            raise BadSetting(name, "is no pot", "name a pot, as 'volume'", name)
        if pot.taper.opens_at_full:
            raise BadSetting(
                name,
                "leaves its track at 10, which no track fraction says",
                "set it by its mark, or give it a taper without no-load",
            )
        several = dimensions(given, f"marks, {name}") > 0
        stood = np.array([_MARK.read(mark, name) for mark in np.atleast_1d(given)], dtype=float)
        if not stood.size:
            raise BadSetting(name, "is an empty list", "give at least one mark")
        axis = xr.Variable(name, stood, {"units": "mark", "long_name": plain_words(name)})
        track = xr.DataArray(pot.taper(stood / 10), {name: axis}, name)
        off = _drawn(f"{leaders.get(name, name)}.taper", number, start)
        tracks = track + share * off * np.minimum(track, 1 - track)
        tracks = tracks.clip(0, 1).transpose("sample", name)
        drawn[f"{name}.track"] = tracks if several else tracks.isel({name: 0}, drop=True)
    return drawn


@public(tolerances=None)
def limits(
    guitar: Harness, *, tolerances: Mapping[str, Any] | None = None
) -> dict[str, xr.DataArray]:
    """Take all values of a guitar's parts at their lower limits, and all at their upper ones.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    tolerances : mapping of str to float or str, optional
        As in `spread`.

    Returns
    -------
    dict of str to xarray.DataArray
        Values in SI along the dimension ``limit``, "low" and "high", by path.

    Raises
    ------
    BadSetting, BadValue
        As in `spread`.

    Notes
    -----
    The resistance between two points never falls when a resistance in the network rises
    (Rayleigh's monotonicity law). So for an ohmmeter these two are the ends of the whole range,
    exactly. For a response they are not: there take `corners` or `spread`.

    References
    ----------
    P. G. Doyle, J. L. Snell, Random Walks and Electric Networks, 1984, section 1.4.

    Examples
    --------
    >>> from guitarnet import Pickup, jack_resistance, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> jack_resistance(guitar, **limits(guitar)).values.round().tolist()
    [5722.0, 6372.0]
    """
    ends = xr.DataArray([-1.0, 1.0], {"limit": ["low", "high"]})
    return {
        path: nominal(guitar, path) * (1 + share * ends)
        for path, share in read_tolerances(guitar, tolerances).items()
    }


@public(tolerances=None)
def corners(
    guitar: Harness, *, tolerances: Mapping[str, Any] | None = None
) -> dict[str, xr.DataArray]:
    """Take the values of a guitar's parts at all combinations of their limits.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    tolerances : mapping of str to float or str, optional
        As in `spread`; give the values that matter, at most 16.

    Returns
    -------
    dict of str to xarray.DataArray
        Values in SI along the dimension ``sample``, by path, two to the power of their number.

    Raises
    ------
    BadSetting
        As in `spread`, or if there are more than 16 values.
    BadValue
        As in `spread`.

    Notes
    -----
    The range of a quantity lies at corners where it rises or falls with each value all the way.
    A response need not; then the corners are no bound.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> two = {"pickup.resistance": "5%", "volume.resistance": "20%"}
    >>> corners(guitar, tolerances=two)["volume.resistance"].values.tolist()
    [200000.0, 300000.0, 200000.0, 300000.0]
    """
    shares = read_tolerances(guitar, tolerances)
    if len(shares) > _MOST:
        raise BadSetting(
            "tolerances",
            f"{len(shares)} values have 2^{len(shares)} corners",
            f"give the ones that matter, at most {_MOST}, or use spread",
        )
    signs = xr.DataArray(
        list(itertools.product((-1.0, 1.0), repeat=len(shares))), dims=("sample", "value")
    )
    return {
        path: nominal(guitar, path) * (1 + share * signs.isel(value=column))
        for column, (path, share) in enumerate(shares.items())
    }


def nominal(guitar: Harness, path: str) -> float:
    """A part's own value at a path; zero where it has none."""
    name, *inner, field = path.split(".")
    part = guitar.parts[name]
    for step in inner:
        part = part.inner()[step]
    return float(getattr(part, field, None) or 0)


def read_tolerances(guitar: Harness, given: Mapping[str, Any] | None) -> dict[str, float]:
    """Read tolerances by path as a person writes them; the guitar's own unless given."""
    if given is None:
        return tolerances_of(guitar)
    own = tolerances_of(guitar)
    shares = {}
    like = "give paths and shares, as {'volume.resistance': '20%'}"
    for name, written in mapped(given, "tolerances", like).items():
        if str(name).rpartition(".")[2] == "tolerance" and (values := _beside(guitar, name)):
            raise BadSetting(name, "is no value", f"give {' or '.join(values)}", name)
        path, _ = target(guitar, name)
        where = f"{name}, tolerance"
        if path.rpartition(".")[2] in ("mark", "track"):
            raise BadSetting(
                name, "is set by hand and has no tolerance", f"give {name}.resistance", name
            )
        if not nominal(guitar, path):
            raise BadSetting(name, "has no value to be off from", "leave it out", name)
        known = type(written) is float and written == own.get(path)
        shares[path] = written if known else read_share(written, _SHARE, where)
    return shares


def _beside(guitar: Harness, name: str) -> list[str]:
    """Name the values that have a tolerance, where a part's own tolerance is named."""
    part_name, local = guitar.split(name)
    inside = local.rpartition(".")[0]
    part = guitar.parts[part_name]
    piece = part_inside(part, inside) if inside else part
    return (
        [f"{name.removesuffix('tolerance')}{path}" for path in piece.tolerances()] if piece else []
    )
