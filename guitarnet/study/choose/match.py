"""Match one guitar to another: which load at its jack makes A respond like B."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting, a, by_name, listed, pair
from ...gate import public
from ...identity import ByValue
from ...parts.base import Part
from ...parts.two_lug import Capacitor, Resistor, parallel_bleed, series_bleed
from ...preferred import preferred_values
from ...ranking import CLOSE, least, most, ranked
from ...table import Table, Tabled
from ...units import Quantity, fixed, format_value
from ..response.arrays import above_zero, read_response
from ..response.labels import decibels
from ..response.response import response
from .networks import Form, combinations
from .port import Port, port
from .score import read_band

__all__ = ["LOADS", "Match", "Matches", "match_response"]

LOADS = {
    form.name: form
    for form in (
        Form("capacitor", ("F",), lambda s, c: s * c, Capacitor),
        Form("resistor", ("ohm",), lambda s, r: 0 * s + 1 / r, Resistor),
        Form("parallel", ("F", "ohm"), lambda s, c, r: s * c + 1 / r, parallel_bleed),
        Form("series", ("F", "ohm"), lambda s, c, r: s * c / (1 + s * c * r), series_bleed),
    )
}
"""Loads to try: C; R; C parallel R; C + R."""

_LIMITS = {"F": (10e-12, 1e-6), "ohm": (1e3, 10e6)}
_STARTS = 5  # values of each part from which the search begins
_PER_DECADE = 60
_SQUARED = 1e-12  # dB squared; costs closer than this are equal
_HZ = Quantity("Hz", above=0)


@public
@dataclass(frozen=True)
class Match:
    """One load, and how closely it matches. Made by `match_response`.

    Parameters
    ----------
    build : str
        Label of the guitar if there are several, else "".
    load : str
        The load in a few words; "none" for no load.
    part : Part or None
        The load, with preferred values.
    rms : float
        Root mean square of A minus B over the band [dB].
    worst : float
        Largest difference, with its sign [dB].
    worst_frequency : float
        Frequency of the largest difference [Hz].
    between : str
        The values before rounding.
    between_rms : float
        Root mean square with these values [dB].
    """

    build: str
    load: str
    part: Part | None
    rms: float
    worst: float
    worst_frequency: float
    between: str
    between_rms: float


@public
@dataclass(frozen=True, eq=False, repr=False)
class Matches(Tabled, ByValue):
    """Ranked loads. Made by `match_response`; shows itself as a table.

    Parameters
    ----------
    matches : tuple of Match
        The best first.
    levels : xarray.DataArray
        Levels [dB] over ``curve`` ("wanted", then each match by its load) and ``frequency``.
    band : tuple of float
        Lowest and highest frequency of the match [Hz].
    name : str
        Name of the guitar.

    Examples
    --------
    See `match_response`.
    """

    matches: tuple[Match, ...]
    levels: xr.DataArray
    band: tuple[float, float]
    name: str

    @property
    def best(self) -> Match:
        """The first of the ranking."""
        return self.matches[0]

    @property
    def residual(self) -> xr.DataArray:
        """Each match minus the wanted curve [dB], over ``curve`` and ``frequency``."""
        wanted = self.levels.isel(curve=0, drop=True)
        difference = self.levels.isel(curve=slice(1, None)) - wanted
        return difference.assign_attrs(units="dB", long_name="difference from the wanted curve")

    def table(self) -> Table:
        """Return the matches as a table."""
        several = any(match.build for match in self.matches)
        lines = []
        for rank, one in enumerate(self.matches, 1):
            line: list[Any] = [rank, *([one.build] if several else []), one.load]
            line += [
                fixed(one.rms, 2),
                fixed(one.worst, 1, sign=True),
                format_value(one.worst_frequency, "Hz", digits=2),
            ]
            lines.append([*line, one.between, fixed(one.between_rms, 2) if one.between else ""])
        columns = ["", *(["guitar"] if several else []), "load", "rms [dB]", "worst [dB]", "at"]
        columns += ["any values", "rms [dB] "]
        low, high = (format_value(limit, "Hz") for limit in self.band)
        note = (
            f"Rms: difference of the {self.levels.attrs['long_name']}, {low} to {high}, every "
            "octave equal. If none ranks first, no load of these forms comes closer."
        )
        return Table(columns, lines, f"Loads that match {self.name}", note)

    def _records(self) -> Iterator[dict[str, Any]]:
        for one in self.matches:
            named = {"guitar": one.build} if one.build else {}
            yield {
                **named,
                "load": one.load,
                "rms": one.rms,
                "worst": one.worst,
                "worst_frequency": one.worst_frequency,
                "between": one.between,
                "between_rms": one.between_rms,
            }


@public(guitar=None, wanted=None, loads=None, lugs=None, band=None)
def match_response(
    guitar: Harness | Mapping[str, Harness],
    wanted: Harness | xr.DataArray,
    settings: Settings = None,
    *,
    loads: Iterable[str] = tuple(LOADS),
    series: str = "E12",
    lugs: tuple[str, str] = ("jack.tip", "jack.sleeve"),
    band: tuple[Any, Any] = ("100 Hz", "6 kHz"),
    level: bool = False,
    reference_frequency: float | str = 100.0,
    **keywords: Any,
) -> Matches:
    """Find the load that makes one guitar respond like another.

    Parameters
    ----------
    guitar : Harness or mapping of str to Harness
        The guitar to load, or several by label that compete, such as the same humbucker in
        series, in parallel and split.
    wanted : Harness or xarray.DataArray
        The guitar to respond like, or one response curve from `guitarnet.response` that spans the
        band.
    loads : iterable of str
        Which of "capacitor", "resistor", "parallel" and "series" to try; no load always competes.
    series : str
        Series of preferred values to round the load to.
    lugs : pair of str
        Lugs to solder the load to; by default at the jack, inside the guitar.
    band : pair of float or str
        Lowest and highest frequency to match [Hz].
    level : bool
        Whether the level must match too. Otherwise levels are matched at the reference frequency,
        and only the shape counts.
    reference_frequency : float or str
        As in `guitarnet.response`.
    settings, **keywords
        Settings of both guitars, one value each, such as ``volume=7``.

    Returns
    -------
    Matches
        Loads, ranked by the remaining difference, before and after rounding.

    Raises
    ------
    BadSetting
        If a load or lug is unknown, a setting is a list, or the wanted response does not fit.
    BadValue, BadHarness
        As in `guitarnet.response`.

    Notes
    -----
    The loaded response is H / (1 + Y Z), with Z the impedance between the lugs, solved once (see
    ``study/choose/port.py``). The squared difference of levels is minimised over the
    logarithms of the values by a trust-region method from several starts, with capacitors from 10
    pF to 1 uF and resistors from 1 kΩ to 10 MΩ; then all preferred values next to the result are
    measured.

    References
    ----------
    M. A. Branch, T. F. Coleman, Y. Li, "A subspace, interior, and conjugate gradient method for
    large-scale bound-constrained minimization problems", SIAM Journal on Scientific Computing 21
    (1999).

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> bright = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> dark = bright.add("extra", Capacitor("470p"))
    >>> dark = dark.join("extra.a", "jack.tip").join("extra.b", "jack.sleeve")
    >>> found = match_response(bright, dark, loads=["capacitor"])
    >>> found.best.load, round(found.best.rms, 3)
    ('470 pF', 0.0)
    """
    settings = one_mapping(settings, keywords)
    several = {"": guitar} if isinstance(guitar, Harness) else guitar
    if not isinstance(several, Mapping) or not several:
        raise BadSetting(
            "guitar", f"{a(type(guitar))} is no harness", "give a guitar, or several by label"
        )
    several = {str(label): one for label, one in several.items()}
    fix = f"give a list, such as {list(LOADS)}"
    names = [loads] if isinstance(loads, str) else listed(loads, "loads", fix)
    forms = [by_name(LOADS, name, "loads") for name in names]
    lugs = pair(lugs, "lugs", "give two lugs, such as ('jack.tip', 'jack.sleeve')")
    low, high = read_band(band, "band")
    count = max(16, round(math.log10(high / low) * _PER_DECADE) + 1)
    hertz = _HZ.read(reference_frequency, "reference_frequency")
    assert hertz is not None
    f = np.append(np.geomspace(low, high, count), hertz)
    aim = _wanted(wanted, f, settings)
    task = [
        _Fit(label, port(one, lugs, f, settings), aim, level, series)
        for label, one in several.items()
    ]
    fits = [pair for fit in task for pair in (fit.unloaded(), *(fit.match(form) for form in forms))]
    fits = ranked(fits, lambda pair: pair[0].rms)
    names = ["wanted", *(" ".join(filter(None, (m.build, m.load))) for m, _ in fits)]
    long_name = "level re 1 V/V" if level else f"level re {format_value(hertz, 'Hz')}"
    levels = xr.DataArray(
        np.array([task[0].relative(aim)[:-1], *(curve[:-1] for _, curve in fits)]),
        dims=("curve", "frequency"),
        coords={"curve": names, "frequency": ("frequency", f[:-1], {"units": "Hz"})},
        attrs={"units": "dB", "long_name": long_name, **task[0].port.open.attrs},
    )
    name = guitar.name if isinstance(guitar, Harness) else ", ".join(several)
    return Matches(tuple(match for match, _ in fits), levels, (low, high), name)


def _wanted(wanted: Any, f: np.ndarray, settings: Mapping[str, Any]) -> np.ndarray:
    """Level of the wanted curve [dB re 1 V/V], with the reference frequency last."""
    if isinstance(wanted, Harness):
        h = response(wanted, settings, frequency=f[:-1], reference_frequency=f[-1])
        if h.dims != ("frequency",):
            raise BadSetting("match_response", "settings hold a list", "give one value each")
        return _decibels(np.append(h.values, h.coords["at_reference"].values))
    if not isinstance(wanted, xr.DataArray) or wanted.dims != ("frequency",):
        raise BadSetting(
            "wanted",
            f"{a(type(wanted))} is no guitar and no response of one curve",
            "give a Harness, or what response() returns, one curve chosen",
        )
    read_response(wanted, "wanted")
    if not {"at_reference", "reference_frequency"} <= {*wanted.coords} or (
        wanted.coords["reference_frequency"] != f[-1]
    ):
        raise BadSetting("wanted", "has another reference frequency", "give both the same")
    if not (np.isfinite(wanted.values).all() and np.isfinite(wanted.coords["at_reference"])):
        raise BadSetting(
            "wanted", "has values that are not numbers", "give a response without gaps"
        )
    wanted = above_zero(wanted, "wanted")
    given = wanted["frequency"].values
    if given[0] > f[0] or given[-1] < f[-2]:
        raise BadSetting(
            "wanted", f"spans {given[0]:g} to {given[-1]:g} Hz only", "narrow the band, or widen it"
        )
    from scipy.interpolate import make_interp_spline

    spline = make_interp_spline(np.log(given), _decibels(wanted.values), k=min(3, given.size - 1))
    return np.append(spline(np.log(f[:-1])), _decibels(wanted.coords["at_reference"].values))


def _decibels(h: np.ndarray) -> np.ndarray:
    if not np.abs(h).all():
        raise BadSetting("match_response", "a guitar is silent", "turn its volume up")
    return decibels(np.abs(h))


def _value_label(value: float, unit: str) -> str:
    """A value as text, with "at least" or "at most" at a limit of the search."""
    low, high = _LIMITS[unit]
    bound = " at least" if value >= 0.999 * high else " at most" if value <= 1.001 * low else ""
    return f"{format_value(float(value), unit, digits=3)}{bound}"


class _Fit:
    """Loads on one guitar."""

    def __init__(self, label: str, seen: Port, aim: np.ndarray, level: bool, series: str) -> None:
        if seen.open.dims != ("frequency",):
            raise BadSetting("match_response", "settings hold a list", "give one value each")
        self.label, self.port, self.level, self.series = label, seen, level, series
        self.frequency = seen.open["frequency"].values
        self.plain = _decibels(seen.open.values)
        self.above, self.below = seen.squares(("frequency",))
        self.aim = self.relative(aim)
        self.weights = np.ones(aim.size - 1)
        self.weights[[0, -1]] = 0.5
        self.weights /= self.weights.sum()

    def relative(self, levels: np.ndarray) -> np.ndarray:
        """Levels to match: as they are, or relative to the reference frequency."""
        return levels if self.level else levels - levels[..., -1:]

    def curve(self, form: Form, values: np.ndarray) -> np.ndarray:
        """Levels with a load of these values."""
        y = form.admittance(self.frequency, np.atleast_2d(values))[0]
        features = np.stack([np.ones(y.size), y.real, y.imag, np.abs(y) ** 2], axis=-1)
        power = (features * self.above).sum(axis=-1) / (features * self.below).sum(axis=-1)
        return self.relative(10 * np.log10(power))

    def unloaded(self) -> tuple[Match, np.ndarray]:
        """Score the guitar without a load."""
        return self._made("none", None, self.relative(self.plain), "", math.nan)

    def match(self, form: Form) -> tuple[Match, np.ndarray]:
        """Find the values of one form, then the best preferred values."""
        from scipy.optimize import least_squares

        limits = np.log([_LIMITS[unit] for unit in form.units])
        root = np.sqrt(self.weights)

        def residual(logs: np.ndarray) -> np.ndarray:
            return root * (self.curve(form, np.exp(logs)) - self.aim)[:-1]

        def squares(logs: np.ndarray) -> float:
            return float(np.sum(residual(logs) ** 2))

        grids = [np.linspace(low, high, _STARTS + 2)[1:-1] for low, high in limits]
        starts = ranked(combinations(grids), squares)
        fits = [
            least_squares(residual, start, bounds=limits.T, x_scale=1.0, xtol=1e-12, ftol=1e-12)
            for start in starts[:3]
        ]
        best = fits[least([fit.cost for fit in fits], _SQUARED)]
        free = np.exp(best.x)
        near = []
        for value, unit in zip(free, form.units, strict=True):
            sold = preferred_values(self.series, *_LIMITS[unit])
            index = int(np.searchsorted(sold, value * (1 - CLOSE)))
            near.append(sold[max(0, index - 1) : index + 1])
        bought = ranked(combinations(near), lambda v: squares(np.log(v)), floor=_SQUARED)[0]
        part = form.made(bought)
        label = ", ".join(map(_value_label, free, form.units))
        return self._made(
            part.label(), part, self.curve(form, bought), label, math.sqrt(2 * best.cost)
        )

    def _made(
        self, load: str, part: Part | None, curve: np.ndarray, between_label: str, between: float
    ) -> tuple[Match, np.ndarray]:
        miss = (curve - self.aim)[:-1]
        at = int(most(np.abs(miss)))
        rms = math.sqrt(float(self.weights @ miss**2))
        return Match(
            self.label,
            load,
            part,
            rms,
            float(miss[at]),
            float(self.frequency[at]),
            between_label,
            between,
        ), curve
