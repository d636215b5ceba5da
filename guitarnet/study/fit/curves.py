"""Measured curves, and how to read them."""

from __future__ import annotations

import io
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadFile, BadSetting, NotInstalled, Unusual, a
from ...files import read_csv_columns, read_text
from ...gate import public
from ...identity import ByValue
from ...ranking import most
from ...units import Quantity
from ..response.labels import decibels
from .loads import Load, check_load

__all__ = ["UNNAMED", "MeasuredCurve", "curve_of", "measured_values", "read_curve"]

UNNAMED = "curve"
_FEWEST = 10
_EXCITER = 20.0  # dB per decade
_VOLTS = 4.0  # largest over smallest; beyond it what is all above zero reads like volts
_LOWEST_PEAK = 300.0  # Hz
_PEAKED = 0.8  # dB over what lies before it; a flatter peak may be noise
_PAST = 1.5, 4.0  # times its peak, where a curve's fall is judged
# dB a decade. The steepest fall that is asked about was chosen on every other one of 47 measured
# pickups, whose curves fall by 46 and more there.
_FLAT, _SHALLOW = -10.0, -36.0
_HALF = 5.0  # dB a decade; what rises by more below 250 Hz is no pickup behind an integrator
_ROUND = 2e-4
_BEYOND_SOUND = 40e3  # Hz
_SLOPE = Quantity("number", at_least=-60, at_most=60)


@public
@dataclass(frozen=True, eq=False)
class MeasuredCurve(ByValue):
    """A measured curve of one pickup under one load.

    Parameters
    ----------
    frequency : array_like
        Frequencies [Hz], rising.
    magnitude : array_like
        Level [dB] of a string curve, or size [ohm] of an impedance curve.
    phase_deg : array_like, optional
        Phase [degree]. It is fitted for an impedance, but not for a string curve, because it
        includes the delay of the rig.
    kind : {"string", "impedance"}
        Voltage of a pickup driven by a coil or a string, or impedance at its lugs.
    load : Load
        Load across the lugs, without the instrument.
    slope : float
        Slope of the rig, which is removed [dB per decade]: 20 for an exciter coil with constant
        current and no integrator.
    known_scale : bool, optional
        Whether 0 dB means 1 V for 1 V induced. By default only the shape of a string curve counts,
        and the size of an impedance is known.
    name : str
        Name in tables and figures.
    unusual : bool
        Whether what looks like another unit is meant as it stands. Else an impedance that stays
        below 500 ohm is asked about as kilohm, and a phase that spans less than pi as radians; a
        level that looks like volts or like 10 log10 of them, and frequencies like rad/s.

    Raises
    ------
    BadSetting
        If the load is not stated, there are too few points, or frequencies do not rise.
    Unusual
        If a unit looks like another one.

    Examples
    --------
    >>> f = np.geomspace(50, 15e3, 60)
    >>> curve = MeasuredCurve(f, 20 * np.log10(f), load=Load(), slope=20)
    >>> bool(abs(curve.level).max() < 1e-9)
    True
    """

    frequency: Any
    magnitude: Any
    phase_deg: Any = None
    kind: str = "string"
    load: Load | None = None
    slope: float = 0.0
    known_scale: bool | None = None
    name: str = UNNAMED
    unusual: bool = False

    def __post_init__(self) -> None:
        where = self.name
        if self.kind not in ("string", "impedance"):
            raise BadSetting(where, f"{self.kind!r} is no kind", "use 'string' or 'impedance'")
        check_load(self.load, where)
        for field in ("frequency", "magnitude", "phase_deg"):
            given = getattr(self, field)
            if given is None and field != "phase_deg":
                raise BadSetting(where, f"{field} was not given", "give one number a point")
            if given is not None:
                array = _numbers(given, f"{where}, {field}")
                array.setflags(write=False)
                object.__setattr__(self, field, array)
                if array.shape != self.frequency.shape or array.ndim != 1:
                    raise BadSetting(
                        where, f"{field} has another length", "give one value a frequency"
                    )
                if not np.isfinite(array).all():
                    raise BadSetting(where, f"{field} has gaps", "leave them out")
        object.__setattr__(self, "slope", _SLOPE.read(self.slope, f"{where}, slope"))
        if self.known_scale is None:
            object.__setattr__(self, "known_scale", self.kind == "impedance")
        _check_curve(self)

    @property
    def level(self) -> np.ndarray:
        """Level [dB] without the rig's slope, or the impedance [dB re 1 ohm]."""
        if self.kind == "impedance":
            return decibels(self.magnitude)
        return self.magnitude - self.slope * np.log10(self.frequency)


def _numbers(given: Any, where: str) -> np.ndarray:
    fix = "give one number a point"
    try:
        array = np.asarray(given)
        if array.dtype.kind != "c":
            with np.errstate(over="ignore"):  # wider floats become infinite
                return np.array(array, dtype=float)
    except (OverflowError, TypeError, ValueError):
        raise BadSetting(where, "does not hold numbers only", fix) from None
    raise BadSetting(where, "is complex", "give its size, and its angle [degree] as phase_deg")


def _check_curve(curve: MeasuredCurve) -> None:
    f, where = curve.frequency, curve.name
    if f.size < _FEWEST:
        raise BadSetting(where, f"has {f.size} points", f"give {_FEWEST} or more")
    if (f <= 0).any():
        raise BadSetting(where, f"has the frequency {f.min():g} Hz", "give frequencies above zero")
    fall = np.flatnonzero(np.diff(f) <= 0)
    if fall.size:
        one, two = f[fall[0]], f[fall[0] + 1]
        if one == two:
            raise BadSetting(where, f"has {one:g} Hz twice", "give each frequency once")
        raise BadSetting(
            where, f"falls from {one:g} to {two:g} Hz", "sort the lines by rising frequency"
        )
    if f[-1] < 200:
        raise BadSetting(where, f"ends at {f[-1]:g} Hz, which reads like kHz", "give hertz")
    if curve.kind == "impedance":
        if (curve.magnitude <= 0).any():
            raise BadSetting(
                where, "has an impedance that is not above zero", "give its size in ohm"
            )
        if not curve.unusual:
            _check_units(curve)
        return
    if not curve.unusual:
        _check_level(curve)
    low = f <= max(250.0, f[_FEWEST // 2])
    trend = np.polyfit(np.log10(f[low]), curve.level[low], 1)[0] if low.sum() > 4 else 0.0
    if _HALF < abs(trend) <= _EXCITER - _HALF and not curve.unusual:
        turn = "rises" if trend > 0 else "falls"
        raise Unusual(
            where,
            f"{turn} by {abs(trend):.0f} dB a decade below 250 Hz, half of what an exciter coil "
            "makes, which reads like 10 log10",
            "give 20 log10 of the voltage, or if it is so, unusual=True",
        )
    if abs(trend) > _EXCITER / 2:
        turn = "rises" if trend > 0 else "falls"
        fix = f"give slope={curve.slope + _EXCITER * np.sign(trend):g}" + (
            " for an exciter coil without integrator" if curve.slope == 0 and trend > 0 else ""
        )
        raise BadSetting(where, f"{turn} by {abs(trend):.0f} dB a decade below 250 Hz", fix)
    if not curve.unusual:
        _check_fall(curve)


def _check_level(curve: MeasuredCurve) -> None:
    """Ask about a string curve that looks like volts, like 10 log10 of them, or over rad/s."""
    f, level, where = curve.frequency, curve.magnitude, curve.name
    first = _is_round(f[0] / (2 * np.pi)) and not _is_round(f[0])
    if first and (f[-1] > _BEYOND_SOUND or _is_round(f[-1] / (2 * np.pi))):
        ends = " to ".join(f"{end / (2 * np.pi):.3g}" for end in f[[0, -1]])
        raise Unusual(
            where,
            f"runs from {f[0]:g} to {f[-1]:g} Hz, which reads like rad/s",
            f"divide by 2 pi, which makes it {ends} Hz, or if it is in Hz, unusual=True",
        )
    if level.min() > 0 and level.max() > _VOLTS * level.min():
        raise Unusual(
            where,
            f"is above zero everywhere, {level.min():.3g} to {level.max():.3g}, which reads like "
            "volts",
            "give 20 log10 of them, or if it is in dB, unusual=True",
        )


def _check_fall(curve: MeasuredCurve) -> None:
    """Ask about a string curve that falls by half of what a pickup does past its peak."""
    f, flat = curve.frequency, curve.level
    top = int(most(np.where(f < _LOWEST_PEAK, -np.inf, flat)))
    before, past = f < f[top] / 4, (f >= _PAST[0] * f[top]) & (f <= _PAST[1] * f[top])
    if f[-1] < _PAST[1] * f[top] or past.sum() < _FEWEST // 2 or not before.any():
        return
    if flat[top] - np.median(flat[before]) < _PEAKED:
        return
    fall = np.polyfit(np.log10(f[past]), flat[past], 1)[0]
    if _FLAT > fall > _SHALLOW:
        raise Unusual(
            curve.name,
            f"falls by {-fall:.0f} dB a decade past its peak, where a pickup falls by 40 and "
            "more, which reads like 10 log10",
            "give 20 log10 of the voltage, or if it is so, unusual=True",
        )


def _is_round(value: float) -> bool:
    """Whether it is whole to two digits, as people choose the ends of a sweep."""
    return abs(float(f"{value:.1e}") / value - 1) < _ROUND


def _check_units(curve: MeasuredCurve) -> None:
    """Refuse an impedance that reads like kilohm or radians."""
    if curve.magnitude.max() < 500:
        raise Unusual(
            curve.name,
            f"reaches {curve.magnitude.max():g} ohm only, which reads like kilohm",
            "give ohm, or if it is in ohm, unusual=True",
        )
    if curve.phase_deg is not None and np.ptp(curve.phase_deg) <= np.pi:
        raise Unusual(
            curve.name,
            f"its phase spans {np.ptp(curve.phase_deg):.2g} only, which reads like radians",
            "give degrees, or if it is in degrees, unusual=True",
        )


@public(path=None, load=None)
def read_curve(
    path: str | os.PathLike[str],
    *,
    load: Load | None = None,
    slope: float | str = 0.0,
    known_scale: bool | None = None,
    name: str | None = None,
    unusual: bool = False,
) -> MeasuredCurve:
    r"""Read a measured curve from a CSV or a Touchstone file.

    Parameters
    ----------
    path : path
        File with one header line. A string curve has the columns ``frequency_hz`` and
        ``magnitude_db``, an impedance curve ``frequency_hz`` and ``impedance_ohm``; either may
        have ``phase_deg``. Lines that begin with ``#`` are comments. A Touchstone one-port
        (``.s1p``), read by scikit-rf, is an impedance curve with known units.
    load : Load
        Load across the lugs; must be given.
    slope, known_scale
        As in `MeasuredCurve`.
    name : str, optional
        Name of the curve; that of the file unless given.
    unusual : bool
        As in `MeasuredCurve`.

    Returns
    -------
    MeasuredCurve
        The curve.

    Raises
    ------
    BadFile
        If columns are missing, named twice or hold no numbers, frequencies are unsorted or
        repeated, or points are too few.
    Unusual
        If a unit looks like another one.
    BadSetting
        If the load is missing.
    NotInstalled
        If a Touchstone file is given and scikit-rf is not installed.

    References
    ----------
    Touchstone File Format Specification, version 2.0, IBIS Open Forum, 2009.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "curve.csv")
    ...     lines = [f"{100 * n},{-0.1 * n}" for n in range(1, 20)]
    ...     _ = file.write_text("\n".join(["frequency_hz,magnitude_db", *lines]))
    ...     read_curve(file, load=Load()).frequency.size
    19
    """
    if not isinstance(path, (str, os.PathLike)):
        raise BadSetting("read_curve", f"{path!r} is no path", "give the name of a file", path)
    try:
        path = os.fspath(path)
    except TypeError:
        fix = "give the name of a file"
        raise BadSetting("read_curve", f"{a(type(path))} is no path", fix) from None
    check_load(load, str(path))
    if Path(path).suffix.lower() in _TOUCHSTONE:
        return _read_touchstone(path, load, name)
    try:
        columns = read_csv_columns(path, ["frequency_hz"], optional=_COLUMNS)
    except BadFile as error:
        if "has no column" in error.problem:
            raise BadFile(str(path), error.problem, _NAMES) from None
        raise
    levels = [column for column in ("magnitude_db", "impedance_ohm") if column in columns]
    if len(levels) != 1:
        problem = "has both a level and an impedance" if levels else "has no column of a known unit"
        raise BadFile(str(path), problem, _NAMES)
    try:
        return MeasuredCurve(
            columns["frequency_hz"],
            columns[levels[0]],
            columns.get("phase_deg"),
            kind="string" if levels[0] == "magnitude_db" else "impedance",
            load=load,
            slope=slope,  # type: ignore[arg-type]  # text is read there
            known_scale=known_scale,
            name=name or Path(path).stem,
            unusual=unusual,
        )
    except Unusual as error:
        raise Unusual(str(path), error.problem, error.fix, error.value) from None
    except BadSetting as error:
        raise BadFile(str(path), error.problem, error.fix) from None


_COLUMNS = ("magnitude_db", "impedance_ohm", "phase_deg")
_NAMES = "name the columns frequency_hz and magnitude_db, or frequency_hz and impedance_ohm"
_TOUCHSTONE = (".s1p", ".z1p", ".y1p")


def _read_touchstone(
    path: str | os.PathLike[str], load: Load | None, name: str | None
) -> MeasuredCurve:
    """Read a one-port as an impedance curve."""
    try:
        import skrf
    except ImportError:
        raise NotInstalled(
            "scikit-rf", "is not installed", "install it with: pip install 'guitarnet[touchstone]'"
        ) from None
    # Given as text, because scikit-rf would unpickle a file and so run code in it.
    stream = io.StringIO(read_text(path))
    stream.name = str(path)  # scikit-rf reads its ending
    try:
        port = skrf.Network(stream)
        ohms, f = port.z[:, 0, 0], port.f
    except Exception as error:  # scikit-rf raises many kinds of errors
        raise BadFile(
            str(path), "is not a Touchstone one-port", "export it again, or as CSV"
        ) from error
    if port.nports != 1:
        raise BadFile(str(path), f"has {port.nports} ports", "give a one-port (.s1p)")
    try:
        return MeasuredCurve(
            f,
            np.abs(ohms),
            np.degrees(np.angle(ohms)),
            kind="impedance",
            load=load,
            name=name or Path(path).stem,
            unusual=True,  # the format states ohm, and the degrees are ours
        )
    except BadSetting as error:
        raise BadFile(str(path), error.problem, error.fix) from None


def curve_of(measured: xr.Dataset) -> MeasuredCurve:
    """Take what `guitarnet.measuring` read from a recording as a curve."""
    kind, f, values = measured_values(measured, "curves")
    phase, name = np.degrees(np.angle(values)), str(measured.attrs.get("name") or UNNAMED)
    if kind == "impedance":
        return MeasuredCurve(
            f, np.abs(values), phase, kind="impedance", load=Load(), name=name, unusual=True
        )
    load = Load(
        measured["input_resistance"].item(), measured["input_capacitance"].item(), unusual=True
    )
    return MeasuredCurve(f, decibels(np.abs(values)), phase, load=load, slope=_EXCITER, name=name)


_MEASURED = {
    "impedance": ("impedance", "standard_error", "phase_error"),
    "string": ("transfer", "standard_error"),
}
_SINGLE = ("input_resistance", "input_capacitance")


def measured_values(measured: Any, where: str) -> tuple[str, np.ndarray, np.ndarray]:
    """Kind, frequencies and complex values of what `guitarnet.measuring` has read."""
    kind = str(measured.attrs.get("kind")) if isinstance(measured, xr.Dataset) else ""
    names = (*_MEASURED.get(kind, ("",)), "frequency")
    whole = all(
        name in measured
        and measured[name].dims == ("frequency",)
        and measured[name].dtype.kind in "fc"
        and np.isfinite(measured[name].values).all()
        for name in names
    )
    single = kind != "string" or all(
        name in measured and measured[name].ndim == 0 and measured[name].dtype.kind == "f"
        for name in _SINGLE
    )
    if not (whole and single):
        raise BadSetting(where, "holds no measured curve", "give what read_impedance() returns")
    return kind, measured["frequency"].values, measured[names[0]].values
