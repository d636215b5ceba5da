"""Goals made of measures: what a choice is to reach, and by how much each candidate misses it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import is_knob
from ...errors import BadSetting, a, asked, by_name, mapped, nearest
from ...gate import public
from ...ranking import at_least
from ...units import Quantity, fixed, format_value, plain_words
from ..fit.measured import PEAK
from ..response.labels import HALF_POWER, one_knob
from ..response.measures import bandwidth, effective_taper, level_db, peak, treble_change
from ..response.response import response
from ..response.sweep import frequency_grid
from .score import read_band

__all__ = ["MEASURES", "Goal", "read_goals"]

_SHARE = 0.05  # of a frequency that a near goal allows unless told otherwise
_DECIBEL = 1.0
_HZ = Quantity("Hz", above=0)
_NUMBER = Quantity("number")


@dataclass(frozen=True)
class _Measure:
    """A measure by name: what it takes beside the response, its unit, and how it is computed."""

    unit: str
    options: tuple[str, ...]
    of: Callable[..., xr.DataArray]


def _level(h: xr.DataArray, frequency: Any = None, re: Any = "reference") -> xr.DataArray:
    return level_db(h, re=re).isel(frequency=0, drop=True)


def _upper_limit(h: xr.DataArray, drop: float = HALF_POWER) -> xr.DataArray:
    """Upper limit, infinite where the grid ends before the level has fallen so far."""
    found = bandwidth(h, drop=drop)
    last = level_db(h, re="reference").isel(frequency=-1, drop=True)
    return found.where(~at_least(last, -drop), np.inf)


MEASURES: Mapping[str, _Measure] = {
    "peak frequency": _Measure("Hz", (), lambda h: peak(h)["frequency"]),
    "peak height": _Measure("dB", (), lambda h: peak(h)["height"]),
    "peak q": _Measure("number", (), lambda h: peak(h)["q"]),
    "level": _Measure("dB", ("frequency", "re"), _level),
    "upper limit": _Measure("Hz", ("drop",), _upper_limit),
    "treble change": _Measure(
        "dB", ("knob", "re", "band"), lambda h, **given: treble_change(h, **given)["worst"]
    ),
    "taper": _Measure("dB", ("knob", "re"), effective_taper),
}
"""Measures that goals know by name; see `Goal`."""

_OVER_A_KNOB = ("treble change", "taper")


@public
@dataclass(frozen=True)
class Goal:
    """What a measure is to reach.

    Parameters
    ----------
    measure : str or callable
        "peak frequency" [Hz], "peak height" [dB re the reference frequency], "peak q";
        "level" [dB] at ``frequency``, re the reference frequency unless ``re`` says otherwise;
        "upper limit" [Hz], at which the level is ``drop`` under the reference for good, infinite
        where that is beyond 20 kHz;
        "treble change" [dB], the worst in a ``band`` as a ``knob`` is turned, and "taper" [dB],
        both for marks given in ``at``, 10 among them, with which the others are compared and
        which is not judged itself; or a function of one's own from a response to an array.
    near : float or str, optional
        Value that it is to have, give or take ``within``.
    at_least, at_most : float or str, optional
        Values between which it is to lie, instead. ``at_most`` alone limits the size of a treble
        change, whatever its sign.
    within : float or str, optional
        How far off it may be: in the measure's unit, or a share such as "3%". 5 % for a
        frequency and 1 dB for a level unless given. Beside a limit, the unit that misses are
        counted in.
    at : mapping, optional
        Settings under which it is measured, such as ``{"tone": 0}``.
    options : mapping, optional
        What else the measure takes, such as ``{"frequency": "5 kHz"}``.
    reference_frequency : float or str
        As in `guitarnet.response`.
    unusual : bool
        Whether a frequency at which hardly any pickup has its peak is meant, and is no slip.

    Raises
    ------
    BadSetting, BadValue
        If the measure or an option is unknown, or nothing is to be reached.

    Examples
    --------
    >>> print(Goal("peak frequency", near="3 kHz", within="2%"))
    peak frequency near 3 kHz within 2 %
    """

    measure: str | Callable[[xr.DataArray], xr.DataArray]
    near: Any = None
    at_least: Any = None
    at_most: Any = None
    within: Any = None
    at: Mapping[str, Any] = field(default_factory=dict)
    options: Mapping[str, Any] = field(default_factory=dict)
    reference_frequency: Any = 100.0
    unusual: bool = field(default=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        set_ = object.__setattr__
        if not callable(self.measure):
            known = by_name(MEASURES, self.measure, "goal")
            fix = "give a dictionary, such as {'frequency': '5 kHz'}"
            for name in mapped(self.options, f"goal {self.name!r}, options", fix):
                if name not in known.options:
                    raise BadSetting(
                        f"goal {self.name!r}",
                        f"takes no {name!r}",
                        nearest(str(name), known.options, otherwise="leave it out"),
                    )
            if "band" in self.options:
                band = read_band(self.options["band"], f"goal {self.name!r}, band")
                set_(self, "options", {**self.options, "band": band})
        mapped(self.at, f"goal {self.name!r}, at", "give a dictionary, such as {'tone': 0}")
        if self.measure == "level":
            if "frequency" not in self.options:
                fix = "give options={'frequency': '5 kHz'}"
                raise BadSetting("goal 'level'", "has no frequency", fix)
            hertz = _HZ.read(self.options["frequency"], "goal 'level', frequency")
            set_(self, "options", {**self.options, "frequency": hertz})
        spec = _HZ if self.unit == "Hz" else _NUMBER
        spec = PEAK if self.measure == "peak frequency" else spec
        for limit in ("near", "at_least", "at_most"):
            if getattr(self, limit) is not None:
                value = spec.entered(_plain(getattr(self, limit)), f"goal {self.name!r}, {limit}")
                set_(self, limit, value)
        limits = (self.at_least is not None) + (self.at_most is not None)
        if (self.near is None) == (limits == 0):
            fix = "give near=..., or else at_least=..., at_most=... or both"
            raise BadSetting(f"goal {self.name!r}", "names nothing to reach, or too much", fix)
        if limits == 2 and not self.at_least <= self.at_most:
            raise BadSetting(
                f"goal {self.name!r}",
                f"is to be at least {self._said(self.at_least)} and at most "
                f"{self._said(self.at_most)}",
                "give at_least below at_most",
            )
        set_(self, "within", self._read_within())

    @property
    def name(self) -> str:
        """The measure's name."""
        if callable(self.measure):
            return plain_words(getattr(self.measure, "__name__", "measure"))
        return self.measure

    @property
    def unit(self) -> str:
        """Unit of the measure; a function of one's own has none known."""
        return "number" if callable(self.measure) else MEASURES[self.measure].unit

    def _read_within(self) -> float:
        """How far off it may be, in the unit of the measure."""
        about = next(v for v in (self.near, self.at_least, self.at_most) if v is not None)
        if self.within is None:
            return _SHARE * about if self.unit == "Hz" else _DECIBEL
        where = f"goal {self.name!r}, within"
        if isinstance(self.within, str) and self.within.strip().endswith("%"):
            share = Quantity("fraction", above=0).read(self.within, where)
            found = abs(about) * share
        else:
            spec = _HZ if self.unit == "Hz" else Quantity("number", above=0)
            found = spec.read(_plain(self.within), where)
        if not found:
            raise BadSetting(where, "leaves no room", "give a number above 0", self.within)
        return float(found)

    def values(
        self, guitar: Harness, settings: Mapping[str, Any], at: str, knob: str | None = None
    ) -> xr.DataArray:
        """Measure a sweep, with a dimension for each swept setting."""
        if knob is None and (knobs := self.knobs(guitar, settings)) is not None:
            knob = one_knob(knobs)
        both = {**settings, **self.at}
        f = [self.options["frequency"]] if self.measure == "level" else None
        h = response(guitar, both, frequency=f, at=at, reference_frequency=self.reference_frequency)
        measure = self.measure if callable(self.measure) else MEASURES[self.measure].of
        fix = "give a function of a response, such as gn.bandwidth"
        options = {**self.options, "knob": knob} if knob else self.options
        found = asked(measure, f"goal {self.name!r}", fix, h, **options)
        if not isinstance(found, xr.DataArray) or "frequency" in found.dims:
            raise BadSetting(
                f"goal {self.name!r}",
                f"{a(type(found))} came of the response, not one number a setting",
                "reduce over 'frequency' and return an xarray.DataArray",
            )
        if found.dtype.kind not in "fiu":
            raise BadSetting(
                f"goal {self.name!r}",
                f"numbers of kind {found.dtype} came of the response, where real ones are wanted",
                "return abs(...) of it, or a level in decibels",
            )
        # What is written at the sweep, with units, stays with what is measured.
        names = {name for dim in found.dims for name in (dim, f"{dim}_written")}
        told = {name: h.attrs[name] for name in ("assumptions", "guitar")}
        found = found.assign_coords({n: h.coords[n] for n in names if n in h.coords})
        return self._judged(found, knob).assign_attrs(told)

    def knobs(self, guitar: Harness, settings: Mapping[str, Any]) -> list[str] | None:
        """Name the knobs over whose marks it may be told: that of the options, or all swept."""
        if self.measure not in _OVER_A_KNOB:
            return None
        if "knob" in self.options:
            return [self.options["knob"]]
        return [
            name
            for name, given in {**settings, **self.at}.items()
            if is_knob(guitar, name) and np.ndim(given)
        ]

    def _judged(self, found: xr.DataArray, knob: str | None) -> xr.DataArray:
        """Leave out the mark that all others are compared with: it is 0 dB by definition."""
        if knob is None:
            return found
        mark = self.options.get("re", 10)
        kept = found.isel({knob: np.flatnonzero(found[knob].values != mark)})
        if not kept.size:
            raise BadSetting(
                f"goal {self.name!r}",
                f"holds no mark of {knob} beside {mark}",
                f"add some, such as at={{{knob!r}: [10, 7, 5]}}",
            )
        return kept

    def excess(self, values: xr.DataArray) -> xr.DataArray:
        """By how many times ``within`` values lie beyond what is wanted, negative inside limits.

        At most 1 for a near goal, and 0 for limits, is reached; infinite where there is no value.
        """
        if values.dtype.kind not in "fiu" or not isinstance(values.name, str | None):
            raise BadSetting("values", "hold no numbers", "give what a measure returns", values)
        if self.near is not None:
            found = abs(values - self.near)
        else:
            # A limit that is not there is left out: infinity less infinity is no number.
            low, high = self.limits
            under = low - values if np.isfinite(low) else -np.inf
            over = values - high if np.isfinite(high) else -np.inf
            found = np.maximum(under, over)
        return (found / self.within).where(~np.isnan(values), np.inf)

    @property
    def limits(self) -> tuple[float, float]:
        """Lowest and highest value that reaches it; infinite where there is no limit."""
        if self.near is not None:
            return self.near - self.within, self.near + self.within
        low = -np.inf if self.at_least is None else self.at_least
        if self.measure == "treble change" and self.at_least is None:
            low = -self.at_most  # of its size
        return low, np.inf if self.at_most is None else self.at_most

    @property
    def allowed(self) -> float:
        """Largest excess that still reaches it."""
        return 1.0 if self.near is not None else 0.0

    def _said(self, value: Any) -> str:
        if self.unit == "Hz":
            return format_value(float(value), "Hz")
        return f"{value:g} dB" if self.unit == "dB" else f"{value:g}"

    def shown(self, value: float) -> str:
        """Write a value of the measure."""
        value = float(value)
        if math.isnan(value):
            return "none"
        if self.measure == "upper limit" and np.isposinf(value):
            return f"over {format_value(float(frequency_grid()[-1]), 'Hz')}"
        if not np.isfinite(value):
            return "silent" if self.unit == "dB" else f"{value:g}"
        if self.unit == "Hz":
            return format_value(value, "Hz", digits=3)
        return f"{fixed(value, 1)} dB" if self.unit == "dB" else f"{value:.3g}"

    def __str__(self) -> str:
        words = [self.name]
        words += [f"{name} {_optioned(name, value)}" for name, value in self.options.items()]
        words += [f"at {name} {_listed(value)}" for name, value in self.at.items()]
        if self.near is not None:
            share = self.within / abs(self.near) if self.unit == "Hz" else 0.0
            near = f"{100 * share:.3g} %" if share else self._said(self.within)
            wanted = [f"near {self._said(self.near)} within {near}"]
        else:
            limits = (("at least", self.at_least), ("at most", self.at_most))
            wanted = [f"{word} {self._said(value)}" for word, value in limits if value is not None]
        return f"{', '.join(words)}{': ' if words[1:] else ' '}{', '.join(wanted)}"


def _optioned(name: str, value: Any) -> str:
    """Write an option, frequencies with their unit."""
    if name in ("frequency", "band"):
        return " to ".join(format_value(float(hertz), "Hz") for hertz in np.ravel(value))
    return str(value)


def _listed(value: Any) -> str:
    """Write one mark or several."""
    return "/".join(map(str, value)) if isinstance(value, (list, tuple, range)) else str(value)


def _plain(value: Any) -> Any:
    """Let people write "3 dB" where decibels are meant."""
    text = value.strip() if isinstance(value, str) else value
    return text[:-2].strip() if isinstance(text, str) and text.endswith("dB") else text


def read_goals(goal: Any) -> tuple[Goal, ...]:
    """Read one goal or several."""
    goals = (
        (goal,) if isinstance(goal, Goal) or not isinstance(goal, (list, tuple)) else tuple(goal)
    )
    if not goals:
        raise BadSetting("goal", "is an empty list", "give at least one gn.choosing.Goal(...)")
    for one in goals:
        if not isinstance(one, Goal):
            raise BadSetting(
                "goal", f"{one!r} is no goal", "give gn.choosing.Goal('peak frequency', near=...)"
            )
    return goals
