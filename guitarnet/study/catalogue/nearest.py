"""Which measured pickup is nearest to one of which something is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from ...errors import BadSetting
from ...gate import enters, public
from ...ranking import ranked
from ...table import Table, Tabled
from ...units import fixed, format_value
from ..fit import coil_model
from ..fit.curves import MeasuredCurve
from ..fit.draws import drawn_numbers
from ..fit.fit import BAND
from ..fit.loads import Load, Unknown, admittance_of
from ..fit.measured import OHM, Measurements, PeakReading
from ..fit.problem import binned
from ..response.labels import decibels
from .entries import CataloguePickup, of_kind

__all__ = ["Nearest", "NearestPickups", "nearest_pickups"]

_DRAWS = 24
_OHMS_WITHIN = 0.015
_CURVE_WITHIN = 0.2  # dB
_INSTRUMENT = Load("1M")
_DECIBEL = math.log(10) / 20  # of a level, in its natural logarithm


@public
@dataclass(frozen=True)
class Nearest:
    """A measured pickup, and how far it is from yours.

    Parameters
    ----------
    pickup : CataloguePickup
        The pickup.
    distance : float
        Root mean square of the differences, as shares: of each reading the logarithm of the ratio,
        of a curve the rms of its difference in level, where 1 dB is 11.5 %.
    error : float
        Standard error of the distance, by the errors of both.
    differences : mapping of str to tuple
        By reading: the difference, and its standard error.

    Examples
    --------
    >>> found = nearest_pickups(resistance="10.6k", inductance="6.9 H")
    >>> found.pickups[0].pickup.name
    'wide single coil, 10.6k'
    """

    pickup: CataloguePickup
    distance: float
    error: float
    differences: Mapping[str, tuple[float, float]]

    @property
    def agrees(self) -> bool:
        """Whether every difference is within two of its standard errors."""
        return all(abs(off) <= 2 * error for off, error in self.differences.values())


@public
@dataclass(frozen=True, repr=False)
class NearestPickups(Tabled):
    """Measured pickups by how near they are. Made by `guitarnet.catalogue.nearest_pickups`.

    Parameters
    ----------
    pickups : tuple of Nearest
        The pickups, the nearest first.
    told : str
        What was told of yours.

    Examples
    --------
    >>> found = nearest_pickups(inductance="7 H", count=2)
    >>> len(found.pickups)
    2
    """

    pickups: tuple[Nearest, ...]
    told: str

    def table(self) -> Table:
        """Set out the distances, and the difference in each reading."""
        names = list(self.pickups[0].differences) if self.pickups else []
        rows = []
        for one in self.pickups:
            cells = [_percent(off, error) for off, error in one.differences.values()]
            agrees = "yes" if one.agrees else "no"
            rows.append(
                (one.pickup.number, one.pickup.name, _percent(one.distance, one.error), *cells,
                 agrees)
            )  # fmt: skip
        lines = [
            "Distance: root mean square of the differences, its minus yours; of a curve 1 dB is "
            "11.5 %.",
            "± one standard error by what you told of your accuracy and by its own. Agrees: within "
            "two of them everywhere.",
        ]
        close = [
            one
            for one in self.pickups[1:]
            if one.distance - self.pickups[0].distance
            <= math.hypot(one.error, self.pickups[0].error)
        ]
        if close:
            numbers = ", ".join(str(one.pickup.number) for one in (self.pickups[0], *close))
            lines.append(f"By these readings {numbers} are equally near, within the errors.")
        columns = ("no.", "pickup", "distance [%]", *(f"{name} [%]" for name in names), "agrees")
        return Table(columns, rows, f"Nearest to {self.told}", "\n".join(lines))

    def _records(self) -> Iterator[dict[str, Any]]:
        for one in self.pickups:
            record: dict[str, Any] = {
                "number": one.pickup.number,
                "name": one.pickup.name,
                "distance": one.distance,
                "error": one.error,
                "agrees": one.agrees,
            }
            for name, (off, error) in one.differences.items():
                record |= {name: off, f"{name}_error": error}
            yield record


def _percent(off: float, error: float) -> str:
    return f"{fixed(100 * off, 1)} ± {fixed(100 * error, 1)}"


def _is_given(told: Any) -> bool:
    return told is not None and not (isinstance(told, (tuple, list)) and not told)


@public(kind=None)
@enters
def nearest_pickups(
    *,
    resistance: float | str | None = None,
    inductance: Any = (),
    peak: Any = (),
    curves: Any = (),
    kind: str | None = None,
    count: int = 5,
    unusual: bool = False,
) -> NearestPickups:
    """Find the measured pickups that are nearest to what is known of yours.

    Parameters
    ----------
    resistance : float or str, optional
        DC resistance [ohm], within 1.5 %.
    inductance, peak, curves
        As in `guitarnet.fitting.Measurements`: readings of an LCR meter, resonances with their
        loads, measured curves with theirs.
    kind : str, optional
        One of `guitarnet.catalogue.kinds`; by default all are looked through.
    count : int
        How many to list.
    unusual : bool
        Whether values that hardly any pickup has are meant, and are no slip.

    Returns
    -------
    NearestPickups
        The nearest first; of those that are equally near, by number.

    Raises
    ------
    BadSetting
        If nothing is told, there is no such kind, or a load has an unknown.
    BadValue
        If a value is not one.
    Unusual
        If a value is what hardly any pickup has.

    Notes
    -----
    Each measured pickup shows what the same meter and load would show of it. Of n readings with
    yours x_i and its y_i, the distance is the root of the mean of ln(y_i/x_i)^2; a curve counts as
    one reading, the rms difference of level from 80 Hz to 10 kHz after its mean, 1 dB as ln(10)/20,
    within 0.2 dB, behind an instrument of 1 MΩ where it is driven.
    All readings weigh the same, and errors do not move the order: a pickup that is badly known is
    no nearer for that. They are stated beside, and what they leave open is said.

    Examples
    --------
    >>> nearest_pickups(resistance="12.7k", inductance="7.2 H", count=1).pickups[0].agrees
    True
    """
    ohms = OHM.entered(resistance, "resistance") if resistance is not None else None
    read: list[_Reading] = []
    told: list[str] = []
    if ohms is not None:
        read.append(_Reading("DCR", math.log(ohms), _OHMS_WITHIN, _ohms))
        told.append(format_value(ohms, "ohm"))
    if any(map(_is_given, (inductance, peak, curves))):
        measured = Measurements(curves, None, inductance, peak)
        for reading in _readings(measured):
            read.append(reading)
            told.append(reading.told)
    if not read:
        fix = "give its resistance, inductance, a peak or a curve"
        raise BadSetting("nearest_pickups", "nothing is told of the pickup", fix)
    if count < 1:
        raise BadSetting("count", f"{count} lists none", "give 1 or more", count)
    each = [_compare(one, read) for one in of_kind(kind)]
    best = ranked(each, lambda one: one.distance, lambda one: one.pickup.number)
    return NearestPickups(tuple(best[:count]), ", ".join(told))


class _Reading(NamedTuple):
    """A reading: its name, its logarithm, its accuracy as a share, and what a model shows of it.

    What a curve shows is a row of differences, and its own logarithm is zero.
    """

    name: str
    log: float
    within: float
    shown: Callable[[Mapping[str, Any]], np.ndarray]
    told: str = ""


def _ohms(v: Mapping[str, Any]) -> np.ndarray:
    return np.log(v["resistance"])


def _readings(measured: Measurements) -> Iterator[_Reading]:
    for one in measured.inductance:

        def henry(v: Mapping[str, Any], at: float = one.frequency) -> np.ndarray:
            return np.log(coil_model.apparent_inductance(v, at))[:, None]

        words = format_value(one.inductance, "H")
        yield _Reading(f"L at {format_value(one.frequency, 'Hz')}", math.log(one.inductance),
                       one.within, henry, words)  # fmt: skip
    for peak in measured.peak:
        words = f"a peak at {format_value(peak.frequency, 'Hz')} ({peak.load})"
        top = partial(_peak_frequency, peak=peak)
        yield _Reading("peak", math.log(peak.frequency), peak.within, top, words)
        if peak.height is not None:
            size, within = peak.height * _DECIBEL, peak.height_within * _DECIBEL
            height = partial(_peak_height, peak=peak)
            yield _Reading("peak height", size, within, height, f"{peak.height:g} dB high")
    for curve in measured.curves:
        name = f"curve, {curve.name}"
        yield _Reading(name, 0.0, _CURVE_WITHIN * _DECIBEL, partial(_curve, curve=curve), name)


def _peak_frequency(v: Mapping[str, Any], peak: PeakReading) -> np.ndarray:
    return np.log(coil_model.peak_of(v, partial(_across, load=peak.load), peak.frequency)[0])[
        :, None
    ]


def _peak_height(v: Mapping[str, Any], peak: PeakReading) -> np.ndarray:
    height = coil_model.peak_of(v, partial(_across, load=peak.load), peak.frequency)[1]
    return height[:, None] * _DECIBEL


def _curve(v: Mapping[str, Any], curve: MeasuredCurve) -> np.ndarray:
    f, level = binned(curve, BAND)
    y = _across(f, curve.load)
    if curve.kind == "impedance":
        model = coil_model.terminal_impedance(v, f, y)
    else:
        model = coil_model.string_response(v, f, y + _across(f, _INSTRUMENT))
    off = decibels(np.abs(model)) - level.real
    if not curve.known_scale:
        off = off - off.mean(axis=-1, keepdims=True)
    return off * _DECIBEL


def _across(frequency: np.ndarray, load: Load | None) -> Any:
    assert load is not None

    def known(field: str) -> float:
        value = getattr(load, field)
        if isinstance(value, Unknown):
            raise BadSetting(f"load {field}", "is unknown", "give its value", value)
        return float(value)

    return admittance_of(load, frequency, known)


def _compare(one: CataloguePickup, read: Sequence[_Reading]) -> Nearest:
    """Compare one measured pickup with what was read."""
    drawn = drawn_numbers(one, _DRAWS, 0)
    v = {name: np.append(one.values[name].value, values)[:, None] for name, values in drawn.items()}
    differences: dict[str, tuple[float, float]] = {}
    for reading in read:
        off = reading.shown(v) - reading.log
        own = float(np.sqrt(np.mean((off[1:] - off[0]) ** 2)))
        size = float(off[0, 0]) if off.shape[1] == 1 else float(np.sqrt(np.mean(off[0] ** 2)))
        same = sum(name.partition(" (")[0] == reading.name for name in differences)
        name = f"{reading.name} ({same + 1})" if same else reading.name
        differences[name] = size, math.hypot(own, reading.within)
    off, errors = np.array(list(differences.values())).T
    distance = float(np.sqrt(np.mean(off**2)))
    slopes = off / distance if distance > 0 else np.ones_like(off)
    error = float(np.sqrt(np.sum((slopes * errors) ** 2))) / off.size
    return Nearest(one, distance, error, differences)
