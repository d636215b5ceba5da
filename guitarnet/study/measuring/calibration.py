"""The calibration: open plug, shorted plug, known resistor."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadFile
from ...gate import public
from ...identity import ByValue
from ...table import Table
from ...units import Quantity, format_value, read_share
from ..fit.loads import Load
from .recording import Recording, read_recording
from .stimulus import TONES

__all__ = ["Calibration", "read_calibration"]

_KNOWN = Quantity("ohm", at_least=500, at_most=1e6, hint="2.2k to 100k measures best")
_SERIES = Quantity("ohm", at_least=1e3, at_most=1e6, hint="47k to 100k measures best")
_SHARE = Quantity("fraction", above=0, at_most=0.2)
_MIDDLE = (TONES > 100) & (TONES < 2e3)
_SHORTED, _LEAST_OPEN = 0.01, 0.1  # tip over reference
_OFF = 1.3  # times, by which the adapter may differ from what is said of it
_WORST_INPUT = 8e3  # ohm


@public
@dataclass(frozen=True, eq=False)
class Calibration(ByValue):
    """What the adapter and the inputs do, from three recordings; made by `read_calibration`.

    Parameters
    ----------
    known, known_accuracy, series, series_accuracy
        As in `read_calibration` [ohm, share].
    adapter_impedance : array_like
        Impedance behind the plug at each tone [ohm, complex].
    input_resistance, input_resistance_error : float
        Resistance of the tip's input, and its standard error [ohm].
    input_capacitance, input_capacitance_error : float
        Capacitance of the tip's input with its wires, and its standard error [F].
    recordings : mapping
        What each recording says, by "open", "short" and "known".
    """

    known: float
    known_accuracy: float
    series: float
    series_accuracy: float
    adapter_impedance: Any
    input_resistance: float
    input_resistance_error: float
    input_capacitance: float
    input_capacitance_error: float
    recordings: Any = field(repr=False)

    @property
    def load(self) -> Load:
        """Load that the tip's input is for a pickup on it, as in a transfer curve."""
        return Load(self.input_resistance, self.input_capacitance, unusual=True)

    def table(self) -> Table:
        """Set out what was found."""
        shown = [
            ("resistance of the input", self.input_resistance, self.input_resistance_error, "ohm"),
            (
                "capacitance of the input",
                self.input_capacitance,
                self.input_capacitance_error,
                "F",
            ),
        ]
        rows = [
            (name, format_value(value, unit, digits=3), format_value(error, unit, digits=2))
            for name, value, error, unit in shown
        ]
        hum = max(one.hum for one in self.recordings.values())
        return Table(
            ("", "value", "standard error"),
            rows,
            f"Calibration with {format_value(self.known, 'ohm')}, known within "
            f"{100 * self.known_accuracy:.2g} %",
            f"Strongest hum {hum:.0f} dB re full scale.",
        )

    def __str__(self) -> str:
        return str(self.table())


@public(open=None, short=None, known=None)
def read_calibration(
    open: str | os.PathLike[str] | xr.DataArray,
    short: str | os.PathLike[str] | xr.DataArray,
    known: str | os.PathLike[str] | xr.DataArray,
    resistance: float | str,
    *,
    accuracy: float | str = "1%",
    series: float | str = "47k",
    series_accuracy: float | str = "1%",
) -> Calibration:
    """Read the three recordings that calibrate the adapter at its plug.

    Use a line output only, never one for loudspeakers; switch phantom power off.

    Parameters
    ----------
    open, short, known : path, or sound
        Recordings of two channels, reference first, tip second, while the tones of
        `write_stimulus` were played: nothing on the plug, its tip and sleeve shorted, a known
        resistor across it.
    resistance : float or str
        The known resistor, as measured [ohm]: 2.2k to 100k.
    accuracy : float or str
        Limits of error of that resistance, as a share.
    series, series_accuracy : float or str
        The resistor of the adapter [ohm], and its limits of error as a share. Only the input's
        own resistance and capacitance hang on it; a measured impedance does not.

    Returns
    -------
    Calibration
        What `read_impedance` needs.

    Raises
    ------
    BadFile
        If something is wrong with a recording, or recordings were exchanged.
    BadValue
        If a resistance is out of range.

    Notes
    -----
    The tip over the reference is M = Mo Z / (Z + Zt) + Ms to first order, where Zt is what the
    plug sees of the adapter: its resistor in parallel with the input. In general M is a fraction
    of two linear functions of Z, which three known impedances fix:
    Z = Zk (M - Ms)(Mo - Mk) / ((Mk - Ms)(Mo - M)).

    References
    ----------
    Impedance Measurement Handbook, document 5950-3000, appendix C (open, short and load
    compensation). JCGM 100:2008 (GUM), 4.3.7: limits over the square root of three.

    Examples
    --------
    See `read_impedance`.
    """
    ohm = _KNOWN.read(resistance, "read_calibration.resistance")
    in_series = _SERIES.read(series, "read_calibration.series")
    assert ohm is not None
    assert in_series is not None
    within = read_share(accuracy, _SHARE, "read_calibration.accuracy")
    series_within = read_share(series_accuracy, _SHARE, "read_calibration.series_accuracy")
    given = {"open": open, "short": short, "known": known}
    found = {name: read_recording(one, name) for name, one in given.items()}
    _check_order(found)
    m = {name: one.ratio for name, one in found.items()}
    behind = ohm * (m["open"] - m["known"]) / (m["known"] - m["short"])
    _check_adapter(found["known"], behind, ohm, in_series)
    return Calibration(
        ohm, within, in_series, series_within, behind,
        *_input(behind, in_series, within, series_within), found,
    )  # fmt: skip


def _levels_of(recordings: Any) -> dict[str, float]:
    """Median size of the ratio from 100 Hz to 2 kHz, by name."""
    return {name: float(np.median(np.abs(one.ratio[_MIDDLE]))) for name, one in recordings.items()}


def _check_order(found: dict[str, Recording]) -> None:
    """Open reads most, the known resistor less, short next to nothing."""
    levels = _levels_of(found)
    falling = sorted(levels, key=lambda name: -levels[name])
    plugged = {"open": "an open plug", "short": "a short", "known": "the known resistor"}
    for should, name in zip(("open", "known", "short"), falling, strict=True):
        if name != should:
            raise BadFile(
                found[should].name,
                f"was given as {plugged[should]} and reads less than {plugged[name]}: "
                "calibrations are exchanged",
                "give each recording as what was plugged in",
            )
    if levels["short"] > _SHORTED * levels["open"]:
        raise BadFile(
            found["short"].name,
            f"reads {levels['short'] / levels['open']:.1%} of the open plug: it is no short",
            "short tip and sleeve of the plug with a clip, and record again",
        )
    if levels["open"] < _LEAST_OPEN:
        raise BadFile(
            found["open"].name,
            f"reads {levels['open']:.1%} of the reference: the plug was not open, or the gains of "
            "the inputs differ",
            "set both gains alike, leave the plug open, and record all again",
        )


def _check_adapter(known: Recording, behind: np.ndarray, ohm: float, series: float) -> None:
    """Compare what the plug sees with the resistor that should be there."""
    seen = float(np.median(np.abs(behind[_MIDDLE])))
    least = series * _WORST_INPUT / (series + _WORST_INPUT)
    if not least / _OFF < seen < series * _OFF:
        raise BadFile(
            known.name,
            f"with {format_value(ohm, 'ohm')} the adapter would have "
            f"{format_value(seen, 'ohm', digits=3)}, where its resistor is "
            f"{format_value(series, 'ohm')}: calibrations are exchanged, or a resistor is another",
            "give the resistance that was plugged in, and series= as built",
        )


def _input(
    behind: np.ndarray, series: float, within: float, series_within: float
) -> tuple[float, float, float, float]:
    """Resistance and capacitance of the input, each with its standard error."""
    admittance = 1 / behind
    low = (TONES > 100) & (TONES < 1e3)
    rest = float(np.median(admittance.real[low])) - 1 / series
    error = np.hypot(within, series_within) / np.sqrt(3) / series
    high = TONES > 2e3
    capacitance = float(np.median(admittance.imag[high] / (2 * np.pi * TONES[high])))
    # An input that draws no more than the error of two resistors: at least that much.
    conductance = max(rest, error)
    return (
        1 / conductance,
        float(error / conductance**2),
        max(capacitance, 0.0),
        abs(capacitance) * float(within / np.sqrt(3)),
    )
