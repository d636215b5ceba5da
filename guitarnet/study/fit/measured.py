"""Single readings from the bench, and all measurements on one pickup."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import xarray as xr

from ...errors import BadSetting, few
from ...gate import public
from ...identity import ByValue
from ...parts.base import PRACTICE
from ...parts.pickup import Coil
from ...ranking import most
from ...units import Quantity, format_value
from . import coil_model
from .curves import UNNAMED, MeasuredCurve, curve_of
from .loads import Load, check_load

__all__ = [
    "OHM",
    "PEAK",
    "TEST",
    "InductanceReading",
    "Measurements",
    "PeakReading",
    "ReadingFit",
    "inductance_fit",
    "peak_fit",
]

_COIL: dict[str, Quantity] = {
    field.name: field.metadata["quantity"]
    for field in dataclasses.fields(Coil)
    if "quantity" in field.metadata
}
OHM = _COIL["resistance"]
_HENRY = Quantity(
    "H",
    at_least=0.01,
    at_most=1000,
    hint="1 to 10 H is usual for a pickup",
    usual=_COIL["inductance"].usual,
)
TEST = Quantity("Hz", above=0, usual=("40 Hz", "30 kHz", "of LCR meters: " + PRACTICE))
PEAK = Quantity("Hz", above=0, usual=("200 Hz", "100 kHz", "loaded to unloaded: " + PRACTICE))
_SHARE = Quantity("fraction", above=0, at_most=1, usual=("0.005%", "80%", PRACTICE), percent=True)
_DECIBEL = Quantity("number", at_least=-60, at_most=60)
_ACCURACY = Quantity("number", above=0, at_most=60, hint="in dB, as a bare number")
_EDGE = math.log(3.9)  # a peak this far from its reading is the edge of the window, not a peak


@public
@dataclass(frozen=True)
class ReadingFit:
    """A reading beside the value of the fitted model.

    Parameters
    ----------
    name : str
        Name of the reading.
    stated, fitted : float
        The reading, and the value of the model; nan if the model has no peak.
    unit : str
        Unit of both.
    miss : float
        Deviation of the model in units of the reading's accuracy; for an accuracy that is a
        share, the logarithm of the ratio counts.

    Examples
    --------
    >>> ReadingFit("DC resistance", 6000.0, 6090.0, "ohm", 1.0).miss
    1.0
    """

    name: str
    stated: float
    fitted: float
    unit: str
    miss: float

    @classmethod
    def share(cls, name: str, stated: float, fitted: float, unit: str, within: float) -> ReadingFit:
        """Compare a reading whose accuracy ``within`` is a share with the model."""
        ratio = fitted / stated
        miss = math.log(ratio) / within if ratio > 0 else math.inf
        return cls(name, stated, fitted, unit, miss)


@public
@dataclass(frozen=True)
class InductanceReading:
    """An inductance that an LCR meter shows in series mode.

    Parameters
    ----------
    inductance : float or str
        Reading [H].
    frequency : float or str
        Test frequency of the meter [Hz].
    within : float or str
        Accuracy as a share.
    unusual : bool
        Whether values that hardly any pickup has are meant, and are no slip.

    Raises
    ------
    BadValue
        If a value is out of range.

    Notes
    -----
    The reading is Im(Z) / (2 pi f) of coil and winding capacitance together, which rises towards
    resonance: it is above the inductance at 1 kHz, and nearly equal at 120 Hz.

    References
    ----------
    120 Hz reads well, 1 kHz too high near resonance: musiker-board.de, thread 570258.

    Examples
    --------
    >>> InductanceReading("2.9 H", "120 Hz").inductance
    2.9
    """

    inductance: Any
    frequency: Any = 120.0
    within: Any = 0.03
    unusual: bool = dataclasses.field(default=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        for field, spec in (("inductance", _HENRY), ("frequency", TEST), ("within", _SHARE)):
            value = spec.entered(getattr(self, field), f"InductanceReading.{field}")
            object.__setattr__(self, field, value)


@public
@dataclass(frozen=True)
class PeakReading:
    """A resonance read by hand: the highest level of the driven pickup.

    Parameters
    ----------
    frequency : float or str
        Frequency of the highest level [Hz].
    load : Load
        Load across the lugs, with the instrument's input; must be given.
    height : float, optional
        Level of the peak above the level at low frequency [dB].
    within : float or str
        Accuracy of the frequency as a share.
    height_within : float
        Accuracy of the height [dB].
    unusual : bool
        As in `InductanceReading`.

    Raises
    ------
    BadValue
        If a value is out of range.
    BadSetting
        If the load is missing.

    Examples
    --------
    >>> PeakReading("4.78 kHz", Load("10M")).frequency
    4780.0
    """

    frequency: Any
    load: Load | None = None
    height: Any = None
    within: Any = 0.02
    height_within: float = 0.5
    unusual: bool = dataclasses.field(default=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        check_load(self.load, "PeakReading")
        specs = {"frequency": PEAK, "within": _SHARE, "height_within": _ACCURACY}
        if self.height is not None:
            specs["height"] = _DECIBEL
        for field, spec in specs.items():
            value = spec.entered(getattr(self, field), f"PeakReading.{field}")
            object.__setattr__(self, field, value)


@public
@dataclass(frozen=True, eq=False)
class Measurements(ByValue):
    """All measurements on one pickup, in any mix.

    Parameters
    ----------
    curves : sequence of MeasuredCurve or xarray.Dataset
        Measured curves, also as ``gn.measuring`` reads them.
    resistance : float or str, optional
        DC resistance of the connected coil [ohm].
    inductance : InductanceReading, float, str or sequence of these
        Reading of an LCR meter; a bare value [H] is a reading at 120 Hz.
    peak : PeakReading or sequence of PeakReading
        Resonances read by hand.
    beside_idle_coil : bool, optional
        Whether this is one coil of a two-coil pickup with the other coil open. The idle coil is
        then part of the model: coupled, driven too, with its own capacitance. By default the
        curves decide (see `fit_pickups`).
    resistance_within : float or str
        Accuracy of the resistance as a share.
    connection : {"", "series", "parallel", "coil 1", "coil 2"}
        How the two coils of a humbucker were connected, where several measurements on one are
        fitted together; see `guitarnet.fitting.fit_pickups`. A single coil was measured with the
        other left open at one end.
    unusual : bool
        As in `InductanceReading`.

    Raises
    ------
    BadValue
        If a value is out of range.
    BadSetting
        If there is nothing to fit, or an entry is of another kind.

    Examples
    --------
    >>> Measurements(resistance="6.2k", inductance="2.4 H").resistance
    6200.0
    """

    curves: Any = ()
    resistance: Any = None
    inductance: Any = ()
    peak: Any = ()
    beside_idle_coil: bool | None = None
    resistance_within: Any = 0.015
    connection: Literal["", "series", "parallel", "coil 1", "coil 2"] = ""
    unusual: bool = dataclasses.field(default=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        for field, kind in _KINDS.items():
            given = getattr(self, field)
            entries = given if isinstance(given, (list, tuple)) else (given,)
            each = [entry for entry in few(entries) if entry is not None]
            object.__setattr__(self, field, tuple(_entry(entry, field, kind) for entry in each))
        if self.resistance is not None:
            ohm = OHM.entered(self.resistance, "Measurements.resistance")
            object.__setattr__(self, "resistance", ohm)
        within = _SHARE.entered(self.resistance_within, "Measurements.resistance_within")
        object.__setattr__(self, "resistance_within", within)
        known = ("", "series", "parallel", "coil 1", "coil 2")
        if not isinstance(self.connection, str) or self.connection not in known:
            raise BadSetting(
                "Measurements.connection",
                f"{self.connection!r} is unknown",
                "use 'series', 'parallel', 'coil 1' or 'coil 2'",
                self.connection,
            )
        if self.connection and self.beside_idle_coil is not None:
            raise BadSetting(
                "Measurements",
                "both a connection and beside_idle_coil are given",
                "leave beside_idle_coil out: the other coil is in the model",
            )
        if not (self.curves or self.inductance or self.peak):
            raise BadSetting(
                "Measurements",
                "there is no curve, and no reading except the resistance",
                "add a curve, an inductance or a resonance",
            )
        object.__setattr__(self, "curves", _named(self.curves))
        names = [curve.name for curve in self.curves]
        if len(set(names)) < len(names):
            raise BadSetting("curves", "two have the same name", "name each, as name='unloaded'")


def _named(curves: tuple[MeasuredCurve, ...]) -> tuple[MeasuredCurve, ...]:
    """Call curves that were given no name by their loads, where there are several."""
    if [curve.name for curve in curves].count(UNNAMED) < 2:
        return curves
    named = []
    for number, curve in enumerate(curves, 1):
        load = str(curve.load)
        one = load if [str(other.load) for other in curves].count(load) == 1 else f"curve {number}"
        if curve.name == UNNAMED:
            curve = dataclasses.replace(curve, name=one, unusual=True)  # asked about already
        named.append(curve)
    return tuple(named)


def _entry(entry: Any, field: str, kind: type) -> Any:
    if kind is InductanceReading and isinstance(entry, (int, float, str)):
        return InductanceReading(entry)
    if kind is MeasuredCurve and isinstance(entry, xr.Dataset):
        return curve_of(entry)
    if not isinstance(entry, kind):
        how = "read_curve(...)" if kind is MeasuredCurve else f"{kind.__name__}(...)"
        raise BadSetting(field, f"{entry!r} is no {kind.__name__}", f"give {how}", entry)
    return entry


_KINDS = {"curves": MeasuredCurve, "inductance": InductanceReading, "peak": PeakReading}


def inductance_fit(
    reading: InductanceReading, v: Mapping[Any, Any], connection: str = ""
) -> ReadingFit:
    """Compare an inductance with a model."""
    shown = float(np.ravel(coil_model.apparent_inductance(v, reading.frequency, connection))[0])
    name = f"inductance at {format_value(reading.frequency, 'Hz')}"
    return ReadingFit.share(name, reading.inductance, shown, "H", reading.within)


def peak_fit(
    peak: PeakReading,
    v: Mapping[Any, Any],
    load_at: Callable[[np.ndarray], Any],
    connection: str = "",
) -> list[ReadingFit]:
    """Compare a peak with a model; ``load_at`` gives the load [S] at frequencies [Hz]."""
    hertz, height = coil_model.peak_of(v, load_at, peak.frequency, connection)
    if abs(math.log(hertz[0] / peak.frequency)) > _EDGE:  # search the whole range
        grid = np.geomspace(20, 1e6, 1200)
        level = np.ravel(np.abs(coil_model.string_response(v, grid, load_at(grid), connection)))
        top = int(most(level))
        hertz, height = coil_model.peak_of(v, load_at, grid[top], connection)
        if top == 0:
            hertz = np.array([math.nan])
    name = f"peak ({peak.load})"
    fits = [ReadingFit.share(name, peak.frequency, float(hertz[0]), "Hz", peak.within)]
    if peak.height is not None:
        miss = (float(height[0]) - peak.height) / peak.height_within
        name = f"peak height ({peak.load})"
        fits.append(ReadingFit(name, peak.height, float(height[0]), "dB", miss))
    return fits
