"""One recording: the ratio of its two channels at each tone, and what is wrong with it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadFile
from ..response.labels import decibels
from ..string.audio import check_sound, read_sound
from .stimulus import FRAME, TONES

__all__ = ["LIMITS", "Recording", "check_not_swapped", "read_recording"]

LIMITS = {
    "hum": -14.0,  # dBFS; stronger hum is refused
    "reference steady": 0.01,  # share by which a tone of the reference may move
    "tip steady": 0.004,  # share of the reference by which a tone of the tip may move
}
"""Limits of what is checked in each recording."""

_LEAST_RATE = 44_000
_LEAST = 10.0  # dB that tones must stand above what lies beside them
_HOP = 4  # frames start a quarter of their length apart
_SETTLE = 0.15  # s that are left out at both ends of the tones
_TOP = 0.1  # of full scale; below it nothing clips
_FLAT = 3  # pairs of neighbours at the largest value
_BEYOND = 1.5  # what divides cannot make louder, gains of two inputs apart
_ALIKE = 3e-3
_CLOCK = 400e-6  # most that two clocks differ
_RATES = (32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
_MAINS = (50.0, 60.0)
_QUIET = 3e-3  # of full scale, rms; a reference below it does not say when the tones were on
_NO_OUTPUT = -50.0  # dBFS of all tones together


@dataclass(frozen=True)
class Recording:
    """What a recording says at each tone: tip over reference, with its variance."""

    name: str
    rate: float
    ratio: np.ndarray
    variance: np.ndarray
    """Of the real and of the imaginary part of the ratio."""
    freedom: float
    """Degrees of freedom of the variance."""
    reference_level: float
    """Of the tones [dBFS]."""
    hum: float
    mains: float
    clock: float
    """Of the output against the inputs [parts in a million]."""
    moved: dict[str, float]
    """How far tones of reference and tip move, as shares."""


def read_recording(given: Any, name: str) -> Recording:
    """Read a recording from a file, or from a sound; ``name`` says what was plugged in."""
    if isinstance(given, xr.DataArray):
        check_sound(given)
        clip, where = given, f"{name} recording"
    else:
        clip, where = read_sound(given), os.fsdecode(given)
    if clip.dims != ("channel", "time") or clip.sizes["channel"] != 2:
        count = clip.sizes.get("channel", 1)
        raise BadFile(
            where, f"has {count} channel{'s' * (count != 1)}",
            "record two together: the reference first, the tip second",
        )  # fmt: skip
    rate = float(clip["rate"])
    if rate < _LEAST_RATE:
        raise BadFile(where, f"has {rate:g} samples a second", "record 44100 of them or more")
    return _analysed(clip.values.astype(float), rate, where)


def _analysed(samples: np.ndarray, rate: float, where: str) -> Recording:
    frames, hop = _frames(samples, rate, where)
    window = _window(frames.shape[-1])
    spectra = np.fft.rfft(frames, axis=-1)
    power = np.mean(np.abs(spectra) ** 2, axis=1)
    mains, hum = _hum_of(power[1], rate, window)
    if hum > LIMITS["hum"]:
        raise BadFile(
            where,
            f"hum of {mains:g} Hz at {hum:.0f} dB re full scale is too strong, "
            f"over {LIMITS['hum']:.0f}",
            "move away from transformers, turn the guitar, mend the ground, and record again",
        )
    _check_clipping(samples, where)  # after the hum, which may be why
    clock = _clock_of(power, rate, where)
    clock = _refined(spectra[0][:, _bins(power, rate, clock)], clock, hop / rate)
    reference, tip = (s[:, _bins(power, rate, clock)] for s in spectra)
    total = np.sum(np.abs(reference) ** 2, axis=0)
    ratio = np.sum(tip * np.conj(reference), axis=0) / total
    _check_channels(ratio, where)
    size = np.sqrt(total / len(reference))
    level = float(10 * np.log10(2 * np.sum(size**2) / np.sum(window) ** 2))
    if level < _NO_OUTPUT:
        raise BadFile(
            where, f"has its tones at {level:.0f} dB re full scale only: {_SILENT}", _TURN_UP
        )
    moved = {"reference steady": _unsteady(reference, clock, hop / rate)}
    if moved["reference steady"] > LIMITS["reference steady"]:
        raise BadFile(
            where,
            "the tones of the reference jump: samples were lost or put in",
            "close other programs, take a larger buffer, and record again",
        )
    left = tip - ratio * reference
    moved["tip steady"] = float(np.median(np.sqrt(np.mean(np.abs(left) ** 2, axis=0)) / size))
    if moved["tip steady"] > LIMITS["tip steady"]:
        raise BadFile(
            where,
            f"the tones at the tip move by {moved['tip steady']:.1%} of the reference: "
            "a contact crackles",
            "clean and press the plug, jack, switch and clips, and record again",
        )
    share, freedom = _of_mean(window, hop, len(reference))
    variance = share * np.mean(np.abs(left) ** 2, axis=0) / size**2 / 2
    return Recording(where, rate, ratio, variance, freedom, level, hum, mains, 1e6 * clock, moved)


# -- frames ---------------------------------------------------------------------------------------


def _window(count: int) -> np.ndarray:
    """Blackman-Harris window of four terms: sidelobes 92 dB down, four bins to each side.

    F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
    transform", Proc. IEEE 66(1), 1978, 51-83.
    """
    turn = 2 * np.pi * np.arange(count) / count
    terms = (0.35875, -0.48829, 0.14128, -0.01168)
    return np.asarray(sum(a * np.cos(n * turn) for n, a in enumerate(terms)))


def _frames(samples: np.ndarray, rate: float, where: str) -> tuple[np.ndarray, int]:
    """Cut out the tones, by channel and frame, under the window."""
    count, block = round(FRAME * rate), round(0.02 * rate)
    hop = count // _HOP
    blocks = samples[:, : samples.shape[1] // block * block].reshape(2, -1, block)
    loud = np.sqrt(np.mean(blocks**2, axis=-1))
    if loud.shape[-1] < 2:
        loud = np.ones((2, 2))
    loud = loud[int(np.quantile(loud[0], 0.9) < _QUIET)]  # a silent reference says nothing
    on = np.flatnonzero(loud > 0.3 * np.quantile(loud, 0.9))
    first = on[0] * block + round(_SETTLE * rate) if on.size else 0
    last = min((on[-1] + 1) * block, samples.shape[1]) - round(_SETTLE * rate) if on.size else 0
    if last - first < count + 2 * hop:
        raise BadFile(
            where,
            f"has {max(last - first, 0) / rate:.1f} s of sound where "
            f"{FRAME * (1 + 2 / _HOP):.1f} s are needed",
            "record from before the tones begin until after they end",
        )
    views = np.lib.stride_tricks.sliding_window_view(samples[:, first:last], count, axis=-1)
    return views[:, ::hop] * _window(count), hop


def _of_mean(window: np.ndarray, hop: int, count: int) -> tuple[float, float]:
    """Variance of a mean of overlapped frames over their mean square, and its freedom.

    Frames of white noise are correlated as their windows overlap. What is left after the mean is
    taken away, P e, has the covariance P C P, whose trace and squares give both.
    """
    lags = [float(window[: window.size - k * hop] @ window[k * hop :]) if k < _HOP else 0.0
            for k in range(count)]  # fmt: skip
    index = np.arange(count)
    correlation = np.array(lags)[np.abs(index[:, None] - index)] / lags[0]
    centre = np.eye(count) - 1 / count
    left = centre @ correlation @ centre
    return (
        float(correlation.sum() / count / np.trace(left)),
        float(2 * np.trace(left) ** 2 / np.sum(left**2)),
    )


# -- where the tones are --------------------------------------------------------------------------


def _bins(power: np.ndarray, rate: float, clock: float) -> np.ndarray:
    """Bins nearest to the tones, as a clock moves them."""
    places = np.round(TONES * (1 + clock) * round(FRAME * rate) / rate)
    return np.minimum(places, power.shape[-1] - 1).astype(int)


def _clock_of(power: np.ndarray, rate: float, where: str) -> float:
    """Find how far the clocks differ, roughly; refuse a recording without its tones."""
    clock, height = _best_clock(power[0], rate, 1.0)
    if height >= _LEAST:
        return clock
    for other in _RATES:
        if other != rate and _best_clock(power[0], rate, rate / other)[1] >= _LEAST:
            raise BadFile(
                where,
                f"says {rate:g} samples a second, but its tones stand where {other} would put them",
                f"save it again as {other} samples a second, without resampling",
            )
    if _best_clock(power[1], rate, 1.0)[1] >= _LEAST:
        raise BadFile(
            where,
            "has its tones in the second channel only: the channels are swapped, or the "
            "reference is not connected",
            "record the reference as the first channel and the tip as the second",
        )
    raise BadFile(where, f"has none of the tones: {_SILENT}", _TURN_UP)


_SILENT = "there was no output"
_TURN_UP = "play the stimulus from a line output, and turn it up"


def _best_clock(power: np.ndarray, rate: float, scale: float) -> tuple[float, float]:
    """Clock, and height of the tones [dB] above what lies beside them, where they fit best."""
    upper = TONES[len(TONES) // 2 :]
    upper = upper[upper * scale * (1 + _CLOCK) * FRAME + 8 < power.size]
    if not upper.size:
        return 0.0, -np.inf
    steps = np.linspace(-_CLOCK, _CLOCK, 41)
    places = np.round(upper * scale * (1 + steps[:, None]) * round(FRAME * rate) / rate).astype(int)
    beside = np.minimum(power[places - 7], power[places + 7])
    heights = np.median(10 * np.log10((power[places] + 1e-30) / (beside + 1e-30)), axis=-1)
    top = int(np.argmax(np.sum(np.log(power[places] + 1e-30), axis=-1)))
    return float(steps[top]), float(heights[top])


def _refined(reference: np.ndarray, clock: float, hop: float) -> float:
    """Follow the phase from frame to frame, from a middle tone upwards."""
    steps = np.sum(reference[1:] * np.conj(reference[:-1]), axis=0)
    steps = steps * np.exp(-2j * np.pi * TONES * hop)
    for n in range(len(TONES) // 2, len(TONES)):
        turn = 2 * np.pi * TONES[n] * hop
        clock += float(np.angle(steps[n] * np.exp(-1j * turn * clock))) / turn
    return clock


def _unsteady(reference: np.ndarray, clock: float, hop: float) -> float:
    """Share by which tones leave their steady turning: the median of the upper half."""
    frames = np.arange(len(reference))[:, None]
    still = reference * np.exp(-2j * np.pi * TONES * (1 + clock) * frames * hop)
    mean = still.mean(axis=0)
    moved = np.sqrt(np.mean(np.abs(still - mean) ** 2, axis=0)) / np.abs(mean)
    return float(np.median(moved[len(TONES) // 2 :]))


# -- what can be wrong ----------------------------------------------------------------------------


def _check_clipping(samples: np.ndarray, where: str) -> None:
    """Count neighbours that both stand at the largest value: a peak of sound has one."""
    for channel, name in zip(samples, ("reference", "tip"), strict=True):
        top = np.abs(channel).max()
        at_top = np.abs(channel) >= top * (1 - 1e-6)
        if top > _TOP and np.sum(at_top[1:] & at_top[:-1]) >= _FLAT:
            raise BadFile(
                where,
                f"clips in the channel of the {name}: {int(at_top.sum())} samples stand at its "
                "largest value",
                "turn down the input, and record all calibrations again",
            )


def _check_channels(ratio: np.ndarray, where: str) -> None:
    """Refuse equal channels, and a tip that is louder than its reference."""
    size = np.abs(ratio)
    if np.median(size) > 0.5 and np.abs(ratio / np.median(size) - 1).max() < _ALIKE:
        raise BadFile(
            where,
            "has the same sound in both channels",
            "record two inputs as two channels, not one of them twice",
        )
    check_not_swapped(float(np.median(size)), _BEYOND, where)


def check_not_swapped(size: float, most: float, where: str) -> None:
    """Refuse a tip that is larger than its reference can make it."""
    if size > most:
        raise BadFile(
            where,
            f"the tip is {decibels(size):.0f} dB above the reference: the channels are swapped",
            "record the reference as the first channel and the tip as the second",
        )


def _hum_of(power: np.ndarray, rate: float, window: np.ndarray) -> tuple[float, float]:
    """Mains frequency [Hz], and the level of its first harmonics [dBFS]."""
    count = window.size
    levels = []
    for mains in _MAINS:
        near = np.concatenate(
            [np.arange(c - 4, c + 5) for n in range(1, 9)
             if (c := round(n * mains * count / rate)) + 5 < power.size]
        )  # fmt: skip
        tones = np.round(TONES * count / rate)
        clear = ~np.any(np.abs(near[:, None] - tones) <= 3, axis=-1)
        levels.append(2 * np.sum(power[near[clear]]) / (count * np.sum(window**2)))
    top = int(levels[1] > levels[0])
    return _MAINS[top], float(10 * np.log10(levels[top] + 1e-30))
