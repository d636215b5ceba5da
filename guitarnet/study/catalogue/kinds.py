"""What is usual of a kind of pickup, by those that were measured."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, a
from ...gate import public
from ...parts.humbucker import Humbucker
from ...parts.pickup import Coil
from ...table import Table
from ...units import Quantity, format_value, plain_words, read_count, read_seed, sentence
from ..fit.draws import COUNT, drawn_numbers, settings_of
from ..fit.loads import Unknown
from ..fit.problem import PRIORS, inward
from ..fit.result import PickupFit
from .entries import CataloguePickup, kinds, of_kind

__all__ = ["compare_with_kind", "draw_kind", "kind_table", "priors", "priors_of"]

_FEWEST = 3  # pickups of a kind, of which a width can be told
_MANY = 5  # pickups of a kind, of which a middle 80 % can be told
_LEAST, _MOST = 0.02, 1.0  # of a prior's width
_SHOWN = ("resistance", "inductance", "capacitance")


def _logs(chosen: Iterable[CataloguePickup], name: str) -> np.ndarray:
    """Logarithms of a value of all pickups that have it, of a share those of its odds."""
    return np.array([inward(name, one.values[name].value) for one in chosen if name in one.values])


@public
def priors(kind: str) -> dict[str, Unknown]:
    """What is likely of a pickup of one kind before it is measured: priors for a fit.

    Parameters
    ----------
    kind : str
        One of `guitarnet.catalogue.kinds`.

    Returns
    -------
    dict of str to Unknown
        For ``priors`` of `guitarnet.fit_pickup`: the middle of the measured pickups of the kind,
        and within which share another one lies (one standard deviation of the logarithm, of a share
        that of its odds). Empty for a kind of fewer than three.

    Raises
    ------
    BadSetting
        If there is no such kind.

    Notes
    -----
    Mean m and standard deviation s of the logarithms of n pickups; the next one lies within
    s sqrt(1 + 1/n) sqrt((n - 1)/(n - 3)) of m, which is the standard deviation of Student's
    distribution of n - 1 degrees of freedom; of three pickups, where that has none, s sqrt(1 + 1/n)
    times three. Widths lie between 2 and 100 %.

    They do not always help. Each pickup fitted to its ohms and one loaded peak, with the priors of
    the others of its kind (``tools/catalogue.py --priors``): the inductance of twelve humbuckers is
    off by 9 % in the median with them and without, at 90 % by 23 % in place of 48 %; that of nine
    coils of humbuckers by 12 % in place of 6 %, at 90 % by 24 % in place of 10 %.

    References
    ----------
    Prediction of a further value: G. J. Hahn, W. Q. Meeker, "Statistical Intervals", 1991, 4.7;
    cited from memory.

    Examples
    --------
    >>> likely = priors("humbucker")["inductance"]
    >>> 6 < likely.around < 8, 0.2 < likely.within < 0.5
    (True, True)
    """
    return priors_of(of_kind(kind))


def priors_of(chosen: Sequence[CataloguePickup]) -> dict[str, Unknown]:
    """Priors by some of the measured pickups."""
    found = {}
    for name, prior in PRIORS.items():
        logs = _logs(chosen, name)
        n = logs.size
        if n < _FEWEST:
            continue
        heavy = math.sqrt((n - 1) / (n - 3)) if n > _FEWEST else 3.0
        within = float(np.std(logs, ddof=1)) * math.sqrt(1 + 1 / n) * heavy
        around = math.exp(float(np.mean(logs)))
        around = around / (1 + around) if prior.odds else around
        found[name] = Unknown(
            float(f"{around:.3e}"), round(float(np.clip(within, _LEAST, _MOST)), 3)
        )
    return found


@public
def draw_kind(
    kind: str, place: str = "pickup", count: int = 500, *, seed: int = 0
) -> dict[str, xr.DataArray]:
    """Draw pickups of a kind, for a guitar of whose pickup only the kind is known.

    Parameters
    ----------
    kind : str
        One of `guitarnet.catalogue.kinds`.
    place : str
        Name of the pickup in the guitar.
    count : int
        How many to draw.
    seed : int
        Seed of the draws.

    Returns
    -------
    dict of str to xarray.DataArray
        Values in SI along ``sample``, by path: settings for any study, as from
        `guitarnet.fitting.draw_pickup`.

    Raises
    ------
    BadSetting
        If there is no such kind, or the seed is no whole number from 0.
    BadValue
        If ``count`` is not a number from 1.

    Notes
    -----
    Each is one of the measured pickups of the kind, all equally probable, with values drawn by the
    errors of its fit: so what goes together in real pickups stays together, and nothing is drawn
    that is not near one which was measured. Of a kind of few pickups that is few.

    References
    ----------
    The smoothed bootstrap: B. Efron, R. J. Tibshirani, "An Introduction to the Bootstrap", 1993,
    16.4; cited from memory.

    Examples
    --------
    >>> from guitarnet import layouts, peak, ready_pickup
    >>> guitar = layouts.one_pickup(ready_pickup(5))
    >>> sorted(draw_kind("humbucker", count=50))[:2]
    ['pickup.capacitance', 'pickup.eddy_order']
    """
    chosen = of_kind(kind)
    number = read_count(count, COUNT, "count")
    random = np.random.default_rng(read_seed(seed))
    picks = random.integers(len(chosen), size=number)
    whole: dict[str, np.ndarray] = {}
    for index, one in enumerate(chosen):
        own = np.flatnonzero(picks == index)
        if not own.size:
            continue
        drawn = drawn_numbers(one, own.size, seed)
        for name, values in drawn.items():
            whole.setdefault(name, np.full(number, np.nan))[own] = values
    return settings_of(whole, place)


@public(pickup=None)
def compare_with_kind(pickup: Any, kind: str) -> tuple[str, ...]:
    """Say where a pickup is unlike the measured ones of its kind.

    Parameters
    ----------
    pickup : Pickup, PickupFit or mapping of str to float or str
        The pickup; or some of its values by name, ``{"inductance": "6.5 H"}``.
    kind : str
        One of `guitarnet.catalogue.kinds`.

    Returns
    -------
    tuple of str
        A sentence for each value outside the middle 80 % of the kind, or outside all of them where
        fewer than five were measured; none where nothing is unusual.

    Raises
    ------
    BadSetting
        If there is no such kind, or it is no pickup.
    BadValue
        If a value is not one.

    Notes
    -----
    It is asked for, and never said by itself: being outside says nothing against a pickup. A fitted
    value counts as outside only by more than two of its standard errors.

    Examples
    --------
    >>> compare_with_kind({"inductance": "16 H"}, "humbucker")[0].partition(":")[0]
    '16 H is high for a humbucker'
    """
    sentences = []
    for name, (value, error) in _values(pickup).items():
        logs = _logs(of_kind(kind), name)
        if not logs.size:
            continue
        each = np.sort(logs)
        few = each.size < _MANY
        ends = each[[0, -1]] if few else np.quantile(each, [0.1, 0.9])
        mine, within = inward(name, value), 2 * error
        if ends[0] - within <= mine <= ends[1] + within:
            continue
        sentences.append(_sentence(name, value, kind, each, ends, few, high=mine > ends[1]))
    return tuple(sentences)


def _sentence(
    name: str, value: float, kind: str, each: np.ndarray, ends: np.ndarray, few: bool, *, high: bool
) -> str:
    unit = PRIORS[name].unit

    def shown(log: float) -> str:
        number = math.exp(log)
        number = number / (1 + number) if PRIORS[name].odds else number
        return format_value(float(f"{number:.2g}"), unit)

    what = {"resistance": "a DC resistance of "}.get(name, f"{plain_words(name)} of ")
    what = "" if name == "inductance" else what
    said = f"{what}{format_value(float(f'{value:.3g}'), unit)} is {'high' if high else 'low'}"
    article = "" if kind.startswith("one ") else "a "
    said = f"{sentence(said)} for {article}{kind}: "
    if each.size == 1:
        return f"{said}the only one that was measured has {shown(each[0])}."
    if few:
        listed = [shown(log) for log in each]
        return (
            f"{said}only {each.size} were measured, with {', '.join(listed[:-1])} and {listed[-1]}."
        )
    low, top = (shown(end) for end in ends)
    return f"{said}of {each.size} that were measured the middle 80 % lie between {low} and {top}."


def _values(pickup: Any) -> dict[str, tuple[float, float]]:
    """Values of a pickup with the standard errors of their logarithms."""
    if isinstance(pickup, Mapping):
        read = {}
        for name, value in pickup.items():
            if name not in PRIORS:
                raise BadSetting("pickup", f"has no value {name!r}", f"give {', '.join(_SHOWN)}")
            spec = Quantity(
                PRIORS[name].unit, above=0, at_most=0.999 if PRIORS[name].odds else None
            )
            number = spec.read(value, name)
            assert number is not None
            read[name] = (number, 0.0)
        return read
    if isinstance(pickup, PickupFit):
        return {
            name: (
                fitted.value,
                math.sqrt(float(pickup.covariance.sel(value=name, value_2=name))),
            )
            for name, fitted in pickup.values.items()
            if fitted.determined
        }
    if isinstance(pickup, Humbucker):
        fix = "give one of its coils, or what both in series read, as {'resistance': '8.2k'}"
        raise BadSetting("pickup", "has two coils", fix, pickup)
    if isinstance(pickup, Coil):
        given = {name: getattr(pickup, name, None) for name in PRIORS}
        return {name: (float(value), 0.0) for name, value in given.items() if value}
    fix = "give a Pickup, what fit_pickup() returned, or {'inductance': '4 H'}"
    raise BadSetting("pickup", f"{a(type(pickup))} is given", fix, pickup)


@public
def kind_table() -> Table:
    """List the kinds of measured pickups, and within what each lies.

    Returns
    -------
    Table
        For each kind how many were measured, and the range of their ohms, henry and picofarad: the
        middle 80 % where five or more were measured, else all.

    Examples
    --------
    >>> [row[:2] for row in kind_table()][:2]
    [('single coil', 3), ('humbucker', 12)]
    """
    rows = []
    for kind in kinds:
        cells = []
        for name, factor, digits in (
            ("resistance", 1e-3, 1),
            ("inductance", 1.0, 1),
            ("capacitance", 1e12, 0),
        ):
            values = factor * np.exp(_logs(of_kind(kind), name))
            few = values.size < _MANY
            low, high = (values.min(), values.max()) if few else np.quantile(values, [0.1, 0.9])
            middle = f"{np.median(values):.{digits}f}"
            cells.append(
                middle if values.size == 1 else f"{middle} ({low:.{digits}f} to {high:.{digits}f})"
            )
        rows.append((kind, len(of_kind(kind)), *cells))
    note = (
        "Median, and the middle 80 % where five or more were measured, else least and largest.\n"
        "Two of the humbuckers are one, without and with its cover."
    )
    columns = ("kind", "measured", "DCR [kΩ]", "L [H]", "C [pF]")
    return Table(columns, rows, "Kinds of measured pickups", note)
