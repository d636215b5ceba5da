"""Readings of an ohmmeter, and where they were taken."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping, resolve, target, variants
from ...errors import BadSetting, BadValue, has_items, listed, nearest
from ...frozen import Frozen
from ...gate import public
from ...parts.switch import Switch
from ...ranking import most
from ...units import Quantity, format_value
from .meter import jack_resistance, lug_resistance
from .ohmmeter import Ohmmeter

__all__ = ["ResistanceReading", "read_knob", "readings_of"]

_READ = Quantity("ohm", at_least=0, hint="or 'OL' for open")
_OPEN = ("ol", "0l", "o.l", "0.l", "o.l.", "open", "inf", "infinity", "infinite", "\u221e")
_TRACK = 513  # points of a track; the maximum is then interpolated


@public(between=None)
@dataclass(frozen=True, init=False)
class ResistanceReading:
    """One reading of an ohmmeter, and where it was taken.

    Parameters
    ----------
    ohms : float or str, optional
        What the meter showed [ohm], with all its digits: "6.05k"; "OL" or "open" if it showed no
        value. A bare number is in ohm. None means not read yet; see `with_ohms`.
    settings : mapping, optional
        Knob marks and switch places during the reading, as in `guitarnet.response`, one value
        each.
    between : pair of str, optional
        Lugs that the probes touched; by default tip and sleeve of the cable in the jack, with the
        amp unplugged.
    lifted : sequence of str
        Lugs whose lead you lifted first.
    largest_over : str, optional
        The knob that you turned until the reading was largest.
    **keywords
        The settings as keywords, in place of the mapping.

    Raises
    ------
    BadValue
        If the reading is negative, or in another unit than ohm.
    BadSetting
        If a setting is a list, or ``between`` is not two lugs.

    Examples
    --------
    >>> ResistanceReading("6.05k", switch="neck", volume=10).label()
    '6.05 kΩ at the jack, switch neck, volume at 10'
    >>> ResistanceReading("OL", between=("tone.low", "tone.high")).ohms
    inf
    """

    # None goes through dataclasses.replace, which does not know of settings: see with_ohms.
    ohms: float = field(init=False)
    between: tuple[str, str] | None = field(init=False)
    lifted: tuple[str, ...] = field(init=False)
    largest_over: str | None = field(init=False)
    settings: Mapping[str, Any] = field(init=False, hash=False)

    def __init__(
        self,
        ohms: Any = None,
        settings: Settings = None,
        *,
        between: Sequence[str] | None = None,
        lifted: Sequence[str] | str = (),
        largest_over: str | None = None,
        **keywords: Any,
    ) -> None:
        settings = one_mapping(settings, keywords)
        for name, given in settings.items():
            if isinstance(given, (list, np.ndarray, xr.DataArray, xr.Variable)):
                raise BadSetting(
                    name, f"{given!r} is several values", "give one reading for each", given
                )
        if between is not None:
            between = _two_lugs(between)
        fields = {
            "ohms": math.nan if ohms is None else _read_ohms(ohms),
            "between": between,
            "lifted": (lifted,) if isinstance(lifted, str) else tuple(lifted),
            "largest_over": largest_over,
            "settings": Frozen(settings),
        }
        for name, value in fields.items():
            object.__setattr__(self, name, value)

    def __reduce__(self) -> tuple[Any, ...]:
        return _again, (self.ohms, self.between, self.lifted, self.largest_over, self._dict())

    def _dict(self) -> dict[str, Any]:
        return dict(self.settings)

    def with_ohms(self, ohms: Any) -> ResistanceReading:
        """Return the same reading with another value.

        Parameters
        ----------
        ohms : float or str
            What the meter showed [ohm].

        Returns
        -------
        ResistanceReading
            The reading.

        Raises
        ------
        BadValue
            If the value is negative, or in another unit than ohm.
        """
        return ResistanceReading(
            ohms,
            self.settings,
            between=self.between,
            lifted=self.lifted,
            largest_over=self.largest_over,
        )

    @property
    def is_open(self) -> bool:
        """Whether the meter showed no value."""
        return math.isinf(self.ohms)

    def where(self) -> str:
        """Describe where and how the reading is taken."""
        probes = f"from {self.between[0]} to {self.between[1]}" if self.between else "at the jack"
        conditions = [
            f"{name.replace('_', ' ')} {'' if isinstance(value, str) else 'at '}{value}"
            for name, value in self.settings.items()
        ]
        if self.largest_over:
            conditions.append(f"the largest over {self.largest_over.replace('_', ' ')}")
        if self.lifted:
            conditions.append(f"{' and '.join(self.lifted)} lifted")
        return ", ".join([probes, *conditions])

    def label(self) -> str:
        """Describe the reading: value and where."""
        if math.isnan(self.ohms):
            return f"not read yet: {self.where()}"
        shown = "OL" if self.is_open else format_value(self.ohms, "ohm")
        return f"{shown} {self.where()}"

    def expected(
        self,
        guitar: Harness,
        values: Settings = None,
        *,
        coil_temperature: float | str = 20.0,
        meter: Ohmmeter | None = None,
        **keywords: Any,
    ) -> xr.DataArray:
        """Compute this reading for a guitar.

        Parameters
        ----------
        guitar : Harness
            The guitar.
        values : mapping, optional
            Values of parts, such as from `guitarnet.tolerances.spread`; a list or an array
            becomes a dimension.
        coil_temperature : float or str
            Temperature of the coils [°C].
        meter : Ohmmeter, optional
            As in `guitarnet.jack_resistance`.
        **keywords
            The values as keywords, in place of the mapping.

        Returns
        -------
        xarray.DataArray
            Resistance [ohm] with a dimension for each swept value; infinite means "OL".

        Raises
        ------
        BadSetting, BadValue, BadHarness
            If a setting, value or lug does not exist, or is set here and in the reading.
        """
        values = one_mapping(values, keywords)
        twice = next((name for name in values if name in self.settings), None)
        if twice is not None:
            raise BadSetting(twice, "is set in the reading already", "leave it out of one")
        settings: dict[str, Any] = {**self.settings, **values}
        knob = self.largest_over
        if knob is not None:
            track = np.linspace(0, 1, _TRACK)
            settings[read_knob(guitar, knob, "largest_over") + ".track"] = xr.DataArray(
                track, dims="track"
            )
        how: dict[str, Any] = {"coil_temperature": coil_temperature, "meter": meter}
        if self.between:
            ohms = lug_resistance(guitar, *self.between, settings, lifted=self.lifted, **how)
        else:
            ohms = jack_resistance(self._lifted_from(guitar), settings, **how)
        return ohms if knob is None else _largest(ohms)

    def check(self, guitar: Harness) -> None:
        """Check that the reading can be taken on a guitar.

        Parameters
        ----------
        guitar : Harness
            The guitar.

        Raises
        ------
        BadSetting, BadValue, BadHarness
            If a switch place, knob, value or lug does not exist.
        """
        for name, given in self.settings.items():
            part = guitar.parts[guitar.split(name)[0]]
            if isinstance(part, Switch):
                _check_place(name.partition(".")[0], part, given)
        _, harnesses, rest = variants(guitar, self.settings)
        for _, harness in harnesses:
            resolve(harness, rest)
        if self.largest_over is not None:
            knob = read_knob(guitar, self.largest_over, "largest_over")
            if any(target(guitar, name)[0].startswith(f"{knob}.") for name in rest):
                raise BadSetting(knob, "is both turned and set", "leave out its mark")
        lifted = self._lifted_from(guitar)
        for lug in self.between or ():
            lifted.node(lug)

    def _lifted_from(self, guitar: Harness) -> Harness:
        return guitar.lift(*self.lifted) if self.lifted else guitar


@public
def readings_of(guitar: Harness, given: Any) -> tuple[ResistanceReading, ...]:
    """Read resistance readings as a person writes them down.

    Parameters
    ----------
    guitar : Harness
        The guitar they were taken on.
    given : mapping, ResistanceReading or sequence of ResistanceReading
        Readings, or values read at the jack by switch place, with all controls up:
        ``{"neck": "6.05k", "bridge": "OL"}``. With several switches the place must belong to one
        of them.

    Returns
    -------
    tuple of ResistanceReading
        The readings; each can be taken on the guitar.

    Raises
    ------
    BadSetting
        If there is no reading, a place does not exist or belongs to several switches, or some
        numbers have a unit and others have none.
    BadValue, BadHarness
        As in `ResistanceReading`, or if a lug does not exist.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> coil = Pickup("6.2k", "2.4 H", "120p")
    >>> guitar = layouts.three_single_coils(coil, coil, coil)
    >>> [reading.label() for reading in readings_of(guitar, {"neck": "6.05k", "bridge": "OL"})]
    ['6.05 kΩ at the jack, switch neck', 'OL at the jack, switch bridge']
    """
    if isinstance(given, Mapping):
        given = dict(listed(given.items(), "readings", "give {'neck': '6.05k'}"))
        _check_units(given)
        readings = [
            ResistanceReading(_read_at_place(place, ohms), {_switch_with(guitar, place): place})
            for place, ohms in given.items()
        ]
    elif isinstance(given, ResistanceReading):
        readings = [given]
    elif has_items(given) and not isinstance(given, str):
        readings = listed(given, "readings", "give {'neck': '6.05k'}")
    else:
        readings = [given]
    if not readings:
        raise BadSetting("readings", "there is none", "give at least one, as {'neck': '6.05k'}")
    for reading in readings:
        if not isinstance(reading, ResistanceReading):
            raise BadSetting(
                "readings",
                f"{reading!r} is no ResistanceReading",
                "give {'neck': '6.05k'} or [gn.bench.ResistanceReading('6.05k', switch='neck')]",
                reading,
            )
        if math.isnan(reading.ohms):
            raise BadSetting(
                "readings",
                f"nothing was read {reading.where()}",
                "give its value, as reading.with_ohms('6.05k')",
            )
        reading.check(guitar)
    return tuple(readings)


def read_knob(guitar: Harness, name: str, where: str) -> str:
    """Check the name of a knob.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    name : str
        Name of a part with a knob.
    where : str
        The argument, for the error text.

    Returns
    -------
    str
        The name.

    Raises
    ------
    BadSetting
        If there is no such knob.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> read_knob(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), "tone", "knob")
    'tone'
    """
    knobs = [knob for knob, part in guitar.parts.items() if "mark" in part.controls]
    if name not in knobs:
        raise BadSetting(where, f"{name!r} is no knob", nearest(str(name), knobs), name)
    return name


def _again(
    ohms: float, between: Any, lifted: Any, largest_over: Any, settings: dict[str, Any]
) -> ResistanceReading:
    """Make a reading from its pieces, for pickle."""
    return ResistanceReading(
        ohms, settings, between=between, lifted=lifted, largest_over=largest_over
    )


def _read_ohms(given: Any, where: str = "ResistanceReading") -> float:
    text = given.strip().lower() if isinstance(given, str) else ""
    if text in _OPEN:
        return math.inf
    if isinstance(given, float) and math.isinf(given):  # a numpy float is one too
        if given < 0:
            raise BadValue(where, "-inf is negative", "give a value from 0 Ω, or 'OL' for open")
        return math.inf
    number = _READ.read(given, where)
    assert number is not None
    return number


def _read_at_place(place: str, ohms: Any) -> float:
    """Read the value at one place, so that an error names the place."""
    return _read_ohms(ohms, f"reading at {place}")


def _check_units(given: Mapping[Any, Any]) -> None:
    """Refuse bare numbers beside values with a unit: 7.1 beside "6.05k" is probably a mistake."""
    bare = [
        value
        for value in given.values()
        if isinstance(value, (int, float)) and not math.isinf(value)
    ]
    written = [
        value
        for value in given.values()
        if isinstance(value, str) and value.strip().lower() not in _OPEN
    ]
    if bare and written:
        raise BadSetting(
            "readings",
            f"{bare[0]!r} has no unit and {written[0]!r} has one",
            f"write all with their unit, as '{bare[0]} ohm'"
            + (f" or '{bare[0]}k'" if bare[0] < 1000 else ""),
            bare[0],
        )


def _two_lugs(given: Any) -> tuple[str, str]:
    fix = "give ('volume.high', 'volume.low')"
    lugs = () if isinstance(given, str) else tuple(listed(given, "between", fix))
    if len(lugs) != 2 or not all(isinstance(lug, str) for lug in lugs):
        raise BadSetting("between", f"{given!r} is not two lugs", fix, given)
    return lugs[0], lugs[1]


def _switch_with(guitar: Harness, place: Any) -> str:
    """Name of the switch that has a place."""
    switches = {n: part for n, part in guitar.parts.items() if isinstance(part, Switch)}
    if not switches:
        raise BadSetting(
            "readings",
            f"{guitar.name} has no switch, so there is no place {place!r}",
            "give a reading by itself, as gn.bench.ResistanceReading('6.05k')",
            place,
        )
    having = [name for name, part in switches.items() if place in part.places]
    if len(having) > 1:
        raise BadSetting(
            "readings",
            f"{place!r} is a place of {' and of '.join(having)}",
            f"give gn.bench.ResistanceReading(..., {having[0]}={place!r})",
            place,
        )
    if not having:
        every = {place for part in switches.values() for place in part.places}
        raise BadSetting(
            "readings",
            f"there is no switch place {place!r}",
            nearest(str(place), every),
            place,
        )
    return having[0]


def _check_place(name: str, switch: Switch, place: Any) -> None:
    if place not in switch.places:
        raise BadSetting(
            name, f"{place!r} is no place of it", nearest(str(place), switch.places), place
        )


def _largest(ohms: xr.DataArray) -> xr.DataArray:
    """Largest value along a track: the vertex of the parabola through the highest three points.

    The resistance is a quotient of polynomials in the track fraction, smooth between its ends.
    """
    values = np.moveaxis(ohms.values, ohms.dims.index("track"), -1)
    top = most(values)
    inside = np.clip(top, 1, values.shape[-1] - 2)[..., None]
    before, middle, after = (
        np.take_along_axis(values, inside + step, -1)[..., 0] for step in (-1, 0, 1)
    )
    highest = values.max(-1)
    usable = np.isfinite(before + middle + after) & (top == inside[..., 0])
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = 2 * middle - before - after
        vertex = middle + np.where(bend > 0, (after - before) ** 2 / (8 * bend), 0.0)
    largest = np.where(usable & (bend > 0), vertex, highest)
    return ohms.isel(track=0, drop=True).copy(data=largest)
