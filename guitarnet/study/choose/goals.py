"""Goals for measures: what a choice must reach, and by how much each candidate misses it."""

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

_SHARE = 0.05  # of a frequency, the default of within
_DECIBEL = 1.0
_HZ = Quantity("Hz", above=0)
_NUMBER = Quantity("number")


@dataclass(frozen=True)
class _Measure:
    """A measure: its unit, its options, and how to compute it."""

    unit: str
    options: tuple[str, ...]
    of: Callable[..., xr.DataArray]


def _level(h: xr.DataArray, frequency: Any = None, re: Any = "reference") -> xr.DataArray:
    return level_db(h, re=re).isel(frequency=0, drop=True)


def _upper_limit(h: xr.DataArray, drop: float = HALF_POWER) -> xr.DataArray:
    """Upper limit, infinite if the grid ends before the level has fallen so far."""
    limit = bandwidth(h, drop=drop)
    last = level_db(h, re="reference").isel(frequency=-1, drop=True)
    return limit.where(~at_least(last, -drop), np.inf)


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
    """A value or limits that a measure of the response must reach.

    Parameters
    ----------
    measure : str or callable
        "peak frequency" [Hz], "peak height" [dB relative to the reference frequency], "peak q";
        "level" [dB] at ``frequency``, by default relative to the reference frequency (``re``);
        "upper limit" [Hz], above which the level stays ``drop`` or more below the reference,
        infinite if that is above 20 kHz; "treble change" [dB], the worst in a ``band`` as you
        turn a ``knob``, and "taper" [dB], both for the marks given in ``at``, compared with mark
        10, which must be one of them; or your own function from a response to an array.
    near : float or str, optional
        Value to reach, plus or minus ``within``.
    at_least, at_most : float or str, optional
        Limits to keep, instead of ``near``. ``at_most`` alone limits the size of a treble change,
        whatever its sign.
    within : float or str, optional
        Allowed deviation, in the measure's unit or as a share such as "3%"; by default 5 % for a
        frequency and 1 dB for a level. With limits it is only the unit of the miss.
    at : mapping, optional
        Settings for this goal, such as ``{"tone": 0}``.
    options : mapping, optional
        Options of the measure, such as ``{"frequency": "5 kHz"}``.
    reference_frequency : float or str
        As in `guitarnet.response`.
    unusual : bool
        Whether a frequency at which hardly any pickup has its peak is meant, and is no slip.

    Raises
    ------
    BadSetting, BadValue
        If the measure or an option is unknown, or there is no value or limit.

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
                f"is to be at least {self._value_text(self.at_least)} and at most "
                f"{self._value_text(self.at_most)}",
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
        """Unit of the measure; "number" for your own function."""
        return "number" if callable(self.measure) else MEASURES[self.measure].unit

    def _read_within(self) -> float:
        """Allowed deviation, in the unit of the measure."""
        about = next(v for v in (self.near, self.at_least, self.at_most) if v is not None)
        if self.within is None:
            return _SHARE * about if self.unit == "Hz" else _DECIBEL
        where = f"goal {self.name!r}, within"
        if isinstance(self.within, str) and self.within.strip().endswith("%"):
            share = Quantity("fraction", above=0).read(self.within, where)
            within = abs(about) * share
        else:
            spec = _HZ if self.unit == "Hz" else Quantity("number", above=0)
            within = spec.read(_plain(self.within), where)
        if not within:
            raise BadSetting(where, "leaves no room", "give a number above 0", self.within)
        return float(within)

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
        measured = asked(measure, f"goal {self.name!r}", fix, h, **options)
        if not isinstance(measured, xr.DataArray) or "frequency" in measured.dims:
            raise BadSetting(
                f"goal {self.name!r}",
                f"{a(type(measured))} came of the response, not one number a setting",
                "reduce over 'frequency' and return an xarray.DataArray",
            )
        if measured.dtype.kind not in "fiu":
            raise BadSetting(
                f"goal {self.name!r}",
                f"numbers of kind {measured.dtype} came of the response, where real ones are "
                f"wanted",
                "return abs(...) of it, or a level in decibels",
            )
        # The written values of the sweep, with units, stay with the measure.
        names = {name for dim in measured.dims for name in (dim, f"{dim}_written")}
        captions = {name: h.attrs[name] for name in ("assumptions", "guitar")}
        measured = measured.assign_coords({n: h.coords[n] for n in names if n in h.coords})
        return self._judged(measured, knob).assign_attrs(captions)

    def knobs(self, guitar: Harness, settings: Mapping[str, Any]) -> list[str] | None:
        """Knobs of a measure over a knob: that of the options, or all swept knobs."""
        if self.measure not in _OVER_A_KNOB:
            return None
        if "knob" in self.options:
            return [self.options["knob"]]
        return [
            name
            for name, given in {**settings, **self.at}.items()
            if is_knob(guitar, name) and np.ndim(given)
        ]

    def _judged(self, measured: xr.DataArray, knob: str | None) -> xr.DataArray:
        """Leave out the mark that the others are compared with; it is 0 dB by definition."""
        if knob is None:
            return measured
        mark = self.options.get("re", 10)
        kept = measured.isel({knob: np.flatnonzero(measured[knob].values != mark)})
        if not kept.size:
            raise BadSetting(
                f"goal {self.name!r}",
                f"holds no mark of {knob} beside {mark}",
                f"add some, such as at={{{knob!r}: [10, 7, 5]}}",
            )
        return kept

    def excess(self, values: xr.DataArray) -> xr.DataArray:
        """Deviation of values from the goal in units of ``within``, negative inside limits.

        A near goal is reached up to 1, limits up to 0; infinite if there is no value.
        """
        if values.dtype.kind not in "fiu" or not isinstance(values.name, str | None):
            raise BadSetting("values", "hold no numbers", "give what a measure returns", values)
        if self.near is not None:
            distance = abs(values - self.near)
        else:
            # A missing limit is left out: infinity minus infinity is not a number.
            low, high = self.limits
            under = low - values if np.isfinite(low) else -np.inf
            over = values - high if np.isfinite(high) else -np.inf
            distance = np.maximum(under, over)
        return (distance / self.within).where(~np.isnan(values), np.inf)

    @property
    def limits(self) -> tuple[float, float]:
        """Lowest and highest value that reaches the goal; infinite without a limit."""
        if self.near is not None:
            return self.near - self.within, self.near + self.within
        low = -np.inf if self.at_least is None else self.at_least
        if self.measure == "treble change" and self.at_least is None:
            low = -self.at_most  # limits the size
        return low, np.inf if self.at_most is None else self.at_most

    @property
    def allowed(self) -> float:
        """Largest excess that still reaches the goal."""
        return 1.0 if self.near is not None else 0.0

    def _value_text(self, value: Any) -> str:
        if self.unit == "Hz":
            return format_value(float(value), "Hz")
        return f"{value:g} dB" if self.unit == "dB" else f"{value:g}"

    def shown(self, value: float) -> str:
        """A value of the measure as text."""
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
        terms = [self.name]
        terms += [f"{name} {_optioned(name, value)}" for name, value in self.options.items()]
        terms += [f"at {name} {_listed(value)}" for name, value in self.at.items()]
        if self.near is not None:
            share = self.within / abs(self.near) if self.unit == "Hz" else 0.0
            near = f"{100 * share:.3g} %" if share else self._value_text(self.within)
            wanted = [f"near {self._value_text(self.near)} within {near}"]
        else:
            limits = (("at least", self.at_least), ("at most", self.at_most))
            wanted = [
                f"{word} {self._value_text(value)}" for word, value in limits if value is not None
            ]
        return f"{', '.join(terms)}{': ' if terms[1:] else ' '}{', '.join(wanted)}"


def _optioned(name: str, value: Any) -> str:
    """An option as text, frequencies with their unit."""
    if name in ("frequency", "band"):
        return " to ".join(format_value(float(hertz), "Hz") for hertz in np.ravel(value))
    return str(value)


def _listed(value: Any) -> str:
    """One mark or several as text."""
    return "/".join(map(str, value)) if isinstance(value, (list, tuple, range)) else str(value)


def _plain(value: Any) -> Any:
    """Remove "dB" from text such as "3 dB"."""
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
