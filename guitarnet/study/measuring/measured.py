"""Impedance and transfer of what was plugged in, from a recording and its calibration."""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import xarray as xr
from scipy.stats import t as student

from ...errors import BadFile
from ...gate import public
from ...units import Quantity, format_value
from ..response.labels import decibels
from .calibration import Calibration
from .recording import LIMITS, Recording, check_not_swapped, read_recording
from .stimulus import TONES

__all__ = ["read_impedance", "read_transfer"]

_DRIFT = Quantity("number", at_least=0, at_most=1, hint="in dB")
_LEAD = Quantity("F", at_least=0, at_most=10e-12)
_STALE = 0.012  # share by which the open plug may have moved, 0.1 dB
_NOTHING = 0.004  # of the open plug: about 12 Mohm
_PASSIVE = 1.1  # over the open plug; more is no divider
_SHORTED = 100.0  # ohm
_MIDDLE = (TONES > 100) & (TONES < 2e3)
_HIGH = TONES > 5e3
_BELOW_ZERO = 4.0  # standard errors
_WORST = 0.06  # share; half a decibel
"""A standard error beyond which a curve is of no use."""


@public(recording=None, again=None)
def read_impedance(
    recording: str | os.PathLike[str] | xr.DataArray,
    calibration: Calibration,
    again: str | os.PathLike[str] | xr.DataArray | None = None,
    *,
    drift: float | str = 0.005,
    lead: float | str = "0.3p",
    name: str = "",
) -> xr.Dataset:
    """Read the impedance of a pickup, or of a guitar at its jack, from a recording.

    Unplug the guitar from everything else, an amplifier above all. Use a line output only, never
    one for loudspeakers; switch phantom power off.

    Parameters
    ----------
    recording : path, or sound
        Recording of two channels, as for the calibration, with the pickup or guitar plugged in.
    calibration : Calibration
        From `read_calibration`; nothing was moved or turned since.
    again : path, or sound, optional
        The open plug recorded once more afterwards. It says how far the rig has drifted; without
        it nobody knows that the calibration still holds.
    drift : float
        Drift of a gain from one recording to the next, one standard deviation [dB].
    lead : float or str
        Capacitance at the plug that is not the thing's own, one standard deviation [F].
    name : str
        Name of what was measured; that of the file unless given.

    Returns
    -------
    xarray.Dataset
        Along ``frequency`` [Hz]: ``impedance`` [ohm], complex; ``standard_error`` [ohm] of its
        size and ``phase_error`` [degree]; the first also by ``cause``: noise and hum from frame to
        frame, drift, the known resistor. Scalars: ``hum`` [dBFS], ``mains`` [Hz], ``clock``, and
        ``drift_seen`` [dB]. Along ``check``: what was checked, ``found`` beside its ``limit``.
        `guitarnet.fit_pickup` takes it as a curve.

    Raises
    ------
    BadFile
        If the hum is too strong, an input clips, there is no output, nothing is plugged in or the
        jack is shorted, channels are swapped or alike, a contact crackles, samples are lost, the
        sample rate is another, or the calibration no longer holds.
    BadValue
        If the drift or capacitance is out of range.

    Notes
    -----
    The tones are cut into frames of 1.5 s under a Blackman-Harris window, a quarter apart. Each
    tone's ratio is that of least squares over the frames; what is left gives its variance, with
    Student's t for few frames, so that two standard errors cover 95 %. Drift is a gain
    that wanders from one recording to the next, in the order open, short, known, thing, and is
    common to all tones: it is multiplied by 1 + Z/R, which is what limits large impedances.

    References
    ----------
    As in `read_calibration`. R. Pintelon, J. Schoukens, System Identification: A Frequency Domain
    Approach, 2nd ed. 2012, chapter 2 (variance of a measured response).

    Examples
    --------
    Recordings as an adapter of 47 kohm and 100 pF would give them:

    >>> import pathlib, tempfile
    >>> from guitarnet import audio
    >>> from guitarnet.measuring import read_calibration, save_measurement, write_stimulus
    >>> home = pathlib.Path(tempfile.mkdtemp())
    >>> played = audio.read_sound(write_stimulus(home / "tones.wav")).values[0]
    >>> turn = 2j * np.pi * np.fft.rfftfreq(played.size, 1 / 48_000)
    >>> def recorded(ohm):
    ...     tip = np.fft.rfft(played) / (1 + 47e3 / ohm + turn * 47e3 * 100e-12)
    ...     return audio.sound([played, np.fft.irfft(tip, played.size)], 48_000)
    >>> empty, short, known = (recorded(ohm) for ohm in (1e12, 0.1, 10e3))
    >>> calibration = read_calibration(empty, short, known, "10k", accuracy="0.5%")
    >>> z = read_impedance(recorded(22e3), calibration, empty)
    >>> near = z.sel(frequency=1000, method="nearest")
    >>> round(float(abs(near.impedance))), round(float(near.standard_error))
    (22000, 66)
    >>> save_measurement(z, home / "z.csv").name
    'z.csv'
    >>> driven = read_transfer(recorded(1e6), calibration)
    >>> driven.attrs["kind"]
    'string'
    """
    step = _DRIFT.read(drift, "read_impedance.drift")
    stray = _LEAD.read(lead, "read_impedance.lead")
    assert step is not None
    assert stray is not None
    thing = read_recording(recording, "measured")
    cal = calibration.recordings
    m = thing.ratio
    mo, ms, mk = (cal[which].ratio for which in ("open", "short", "known"))
    _check_rates(thing, cal["open"])
    moved = None if again is None else read_recording(again, "open again")
    seen = _check_stale(moved, cal["open"])
    check_not_swapped(float(np.median(np.abs(m / mo)[_MIDDLE])), _PASSIVE, thing.name)
    near = float(np.median(np.abs(1 - m[_MIDDLE] / mo[_MIDDLE])))
    if near < _NOTHING:
        raise BadFile(
            thing.name, "reads as an open plug: nothing is plugged in, or the lead is broken",
            "push the plug home, and record again",
        )  # fmt: skip
    z = calibration.known * (m - ms) * (mo - mk) / ((mk - ms) * (mo - m))
    largest = float(np.abs(z).max())
    if largest < _SHORTED:
        raise BadFile(
            thing.name,
            f"stays below {format_value(max(largest, 0.1), 'ohm', digits=2)} at every frequency: "
            "the jack is shorted, or the volume stands at 0",
            "turn the volume up, look for a short, and record again",
        )
    # How the logarithm of z follows each ratio: real part its size, imaginary part its phase.
    slopes = {
        "measured": (mo - ms) / ((m - ms) * (mo - m)),
        "open": 1 / (mo - mk) - 1 / (mo - m),
        "short": 1 / (mk - ms) - 1 / (m - ms),
        "known": -1 / (mo - mk) - 1 / (mk - ms),
    }
    noisy = np.zeros(m.size)
    for which, slope in slopes.items():
        source = thing if which == "measured" else cal[which]
        few = student.ppf(0.975, source.freedom) / student.ppf(0.975, np.inf)
        noisy = noisy + np.abs(slope * few) ** 2 * source.variance
    # A gain that wanders from one recording to the next: open, short, known, the thing, and open
    # again, four steps from the first.
    gain = _share(max(step, seen / 2))
    turned = 2j * np.pi * TONES * stray
    drifted = [
        np.sqrt(2) * gain * (m * slopes["measured"] + mk * slopes["known"]),
        gain * m * slopes["measured"],
        turned * z,
        turned * calibration.known,
    ]
    causes = {
        "frames": (noisy, noisy),
        "drift": tuple(sum(part(one) ** 2 for one in drifted) for part in (np.real, np.imag)),
        "resistor": (np.full(m.size, calibration.known_accuracy**2 / 3), np.zeros(m.size)),
    }
    size = {cause: np.sqrt(both[0]) * np.abs(z) for cause, both in causes.items()}
    total = np.sqrt(sum(one**2 for one in size.values()))
    phase = np.degrees(np.sqrt(sum(both[1] for both in causes.values())))
    _check_useful(thing, z, total / np.abs(z), np.sqrt(noisy))
    f = xr.Variable("frequency", TONES, {"units": "Hz", "long_name": "frequency"})
    data = {
        "impedance": ("frequency", z, {"units": "ohm", "long_name": "impedance"}),
        "standard_error": (
            "frequency", total, {"units": "ohm", "long_name": "standard error of its size"},
        ),
        "phase_error": (
            "frequency", phase, {"units": "degree", "long_name": "standard error of its phase"},
        ),
        "error_by_cause": (
            ("cause", "frequency"), np.stack(list(size.values())),
            {"units": "ohm", "long_name": "standard error of its size by cause"},
        ),
        **_scalars(thing, seen if again is not None else np.nan),
    }  # fmt: skip
    checks = _checks(thing, near=near, least=largest, seen=None if again is None else seen)
    attrs = {"name": name or _stem(recording), "kind": "impedance"}
    return xr.Dataset({**data, **checks}, {"frequency": f, "cause": list(size)}, attrs)


@public(recording=None)
def read_transfer(
    recording: str | os.PathLike[str] | xr.DataArray,
    calibration: Calibration,
    *,
    name: str = "",
) -> xr.Dataset:
    """Read the voltage of a pickup over an exciter coil, from a recording.

    The exciter coil stands on the pickup, fed through a resistor of 1k or more from the line
    output; the reference is taken before that resistor, the tip from the pickup alone.

    Use a line output only, never one for loudspeakers; switch phantom power off; unplug the guitar
    from everything else.

    Parameters
    ----------
    recording : path, or sound
        Recording of two channels, reference first, tip second.
    calibration : Calibration
        From `read_calibration` with the same inputs: their resistance and capacitance are the load
        of the pickup.
    name : str
        Name of what was measured; that of the file unless given.

    Returns
    -------
    xarray.Dataset
        Along ``frequency`` [Hz]: ``transfer``, tip over reference, complex; ``standard_error`` as
        a share of its size. The level is kept from one recording to the next, whatever the output
        was turned to. Scalars and checks as in `read_impedance`. `guitarnet.fit_pickup` takes it
        as a curve: 20 dB a decade of the exciter are taken off, and the input is its load, so that
        there ``instrument=gn.fitting.Load()`` says that there is no other.

    Raises
    ------
    BadFile
        As in `read_impedance`.

    References
    ----------
    As in `read_impedance`.

    Examples
    --------
    See `read_impedance`.
    """
    thing = read_recording(recording, "measured")
    gain = calibration.recordings["open"].ratio
    # Both inputs saw one voltage through the resistor when the plug was open: gains out, that
    # divider back in.
    behind = calibration.adapter_impedance / calibration.series
    transfer = thing.ratio / (gain / behind)
    share = np.sqrt(thing.variance) / np.abs(thing.ratio)
    share = share * student.ppf(0.975, thing.freedom) / student.ppf(0.975, np.inf)
    if np.median(share) > _WORST:
        raise BadFile(
            thing.name,
            f"has an error of {np.median(share):.1%} at most tones: the pickup hears too little of "
            "the exciter",
            "turn up the output, move the coil nearer, and record again",
        )
    f = xr.Variable("frequency", TONES, {"units": "Hz", "long_name": "frequency"})
    data = {
        "transfer": ("frequency", transfer, {"units": "V/V", "long_name": "tip over reference"}),
        "standard_error": ("frequency", share, {"long_name": "standard error as a share"}),
        "input_resistance": ((), calibration.input_resistance, {"units": "ohm"}),
        "input_capacitance": ((), calibration.input_capacitance, {"units": "F"}),
        **_scalars(thing, np.nan),
        **_checks(thing),
    }
    return xr.Dataset(data, {"frequency": f}, {"name": name or _stem(recording), "kind": "string"})


def _stem(recording: Any) -> str:
    """Name of a recording's file, without its ending."""
    if isinstance(recording, xr.DataArray):
        return "measured"
    return os.path.splitext(os.path.basename(os.fsdecode(recording)))[0]


def _share(level: float) -> float:
    """Share that a small level [dB] is."""
    return float(level * np.log(10) / 20)


def _scalars(thing: Recording, seen: float) -> dict[str, Any]:
    return {
        "hum": ((), thing.hum, {"units": "dBFS", "long_name": "level of the hum"}),
        "mains": ((), thing.mains, {"units": "Hz", "long_name": "frequency of the mains"}),
        "clock": (
            (), thing.clock, {"units": "1e-6", "long_name": "clock of output against inputs"},
        ),
        "drift_seen": ((), seen, {"units": "dB", "long_name": "drift of the open plug"}),
    }  # fmt: skip


def _checks(
    thing: Recording,
    near: float | None = None,
    least: float | None = None,
    seen: float | None = None,
) -> dict[str, Any]:
    """What was checked, each beside its limit."""
    rows = {
        "hum [dBFS]": (thing.hum, LIMITS["hum"]),
        **{name: (moved, LIMITS[name]) for name, moved in thing.moved.items()},
    }  # fmt: skip
    if near is not None:
        rows["unlike an open plug"] = (near, _NOTHING)
    if least is not None:
        rows["largest impedance [ohm]"] = (least, _SHORTED)
    if seen is not None:
        rows["drift of the open plug [dB]"] = (seen, float(decibels(1 + _STALE)))
    found, limit = zip(*rows.values(), strict=True)
    return {
        "found": ("check", np.array(found)),
        "limit": ("check", np.array(limit)),
        "check": ("check", list(rows)),
    }


def _check_rates(thing: Recording, open_plug: Recording) -> None:
    if thing.rate != open_plug.rate:
        raise BadFile(
            thing.name,
            f"has {thing.rate:g} samples a second, its calibration {open_plug.rate:g}",
            "record all at one rate",
        )


def _check_stale(moved: Recording | None, open_plug: Recording) -> float:
    """How far the open plug has moved since the calibration [dB]; refuse one that moved far."""
    if moved is None:
        return 0.0
    change = moved.ratio / open_plug.ratio - 1
    gain, lead = np.median(change[_MIDDLE].real), np.median(np.abs(change[_HIGH]))
    if max(abs(gain), lead) > _STALE:
        what = (
            f"by {abs(float(decibels(1 + gain))):.2f} dB: a gain was turned"
            if abs(gain) > _STALE
            else "at high frequencies only: the lead was changed or moved"
        )
        raise BadFile(
            moved.name,
            f"the open plug has moved {what}, so the calibration is stale",
            "leave gains and lead alone, calibrate and measure again",
        )
    return abs(float(decibels(1 + gain)))


def _check_useful(thing: Recording, z: np.ndarray, share: np.ndarray, noisy: np.ndarray) -> None:
    """Refuse an impedance that nothing passive has, and one that is mostly noise."""
    below = -z.real / np.abs(z) > np.maximum(_BELOW_ZERO * share, 0.02)
    if below.sum() >= 2:
        raise BadFile(
            thing.name,
            f"would have a resistance below zero near {TONES[below][0]:.0f} Hz: the calibration "
            "does not fit",
            "calibrate again with the same lead, gains and resistor, then measure",
        )
    if np.sum(noisy > _WORST) >= 3:
        raise BadFile(
            thing.name,
            f"has an error of {np.quantile(noisy, 0.95):.0%} from noise and hum",
            "turn up the output, record more periods, move away from what hums",
        )
