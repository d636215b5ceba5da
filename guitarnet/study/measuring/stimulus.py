"""The tones that are played while you measure."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np

from ...gate import public
from ...units import Quantity
from ..string.audio import sound, write_sound

__all__ = ["FRAME", "TONES", "stimulus_samples", "write_stimulus"]

FRAME = 1.5  # s, one period of the tones
_COUNT, _LOW, _HIGH = 50, 19.4, 20e3  # Hz
_APART = 4.0  # Hz from the mains and its harmonics, and bins from the next tone
_OFF, _HUMS = 0.003, 2.5e3  # share by which the mains is off; Hz, up to where it has harmonics
_LOUDER = 1e3  # Hz, below which tones are twice as strong: there a pickup's impedance is small
_TURN = 0.297  # of the phases; the best of 500 steps of 0.001, 10.6 dB of crest
_FADE = 0.05  # s
_RATE = Quantity("number", at_least=44_100, at_most=192_000, hint="samples a second")
_PEAK = Quantity("number", at_least=-40, at_most=-1, hint="dB re full scale")
_PERIODS = Quantity("number", at_least=3, at_most=40)


def _tones() -> np.ndarray:
    """Choose frequencies [Hz]: evenly in their logarithm, on odd bins, clear of hum."""
    bins: list[int] = []
    for near in np.geomspace(_LOW, _HIGH, _COUNT):
        start = 2 * int(near * FRAME / 2) + 1
        bins.append(
            next(
                one
                for step in sorted(range(-120, 121, 2), key=abs)
                if (one := start + step) >= (bins[-1] + _APART if bins else 0)
                and all(
                    abs(one / FRAME - mains * max(round(one / FRAME / mains), 1))
                    >= _APART + _OFF * near * (near < _HUMS)
                    for mains in (50, 60)
                )
            )
        )
    return np.array(bins) / FRAME


TONES = _tones()
"""Frequencies of the tones [Hz]."""


def stimulus_samples(rate: float, peak: float, periods: float) -> np.ndarray:
    """Make the tones with faded ends: some periods of them, and a third of one to settle."""
    count = round(FRAME * rate)
    spectrum = np.zeros(count // 2 + 1, complex)
    turns = _TURN * np.arange(_COUNT) ** 2
    sizes = np.where(TONES < _LOUDER, 2.0, 1.0)
    spectrum[np.round(TONES * FRAME).astype(int)] = sizes * np.exp(2j * np.pi * turns)
    period = np.fft.irfft(spectrum, count)
    samples = np.resize(period * 10 ** (peak / 20) / np.abs(period).max(),
                        round((periods + 1 / 3) * count))  # fmt: skip
    fade = round(_FADE * rate)
    rise = np.sin(np.linspace(0, np.pi / 2, fade)) ** 2
    samples[:fade] *= rise
    samples[-fade:] *= rise[::-1]
    return samples


@public(path=None)
def write_stimulus(
    path: str | os.PathLike[str], *, rate: float = 48_000, peak: float = -6.0, periods: float = 3
) -> Path:
    """Write the tones to play while you record, as a WAV file of two equal channels.

    Play it from a line output only: never from an output for loudspeakers, and never through an
    amplifier.

    Parameters
    ----------
    path : path
        The file.
    rate : float
        Samples a second [Hz]; that of your recorder.
    peak : float
        Level of the largest sample [dB re full scale].
    periods : float
        How many times the tones are repeated, 1.5 s each; more of them average more noise.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    BadValue
        If the rate, level or number of periods is out of range.
    BadFile
        If the file cannot be written.

    Notes
    -----
    Fifty tones from 19 Hz to 20 kHz, evenly spaced in their logarithm, each a whole odd number of
    turns in 1.5 s, so that second harmonics and sums of two tones fall between them, and 4 Hz or
    more from the harmonics of 50 and 60 Hz, and 0.3 % more up to 2.5 kHz, as the mains is never
    exact. Their phases are a quadratic law, chosen for a small crest.

    References
    ----------
    R. Pintelon, J. Schoukens, System Identification: A Frequency Domain Approach, 2nd ed. 2012,
    chapters 2 and 5 (multisines, odd ones, measuring a frequency response). M. R. Schroeder,
    "Synthesis of low-peak-factor signals and binary sequences with low autocorrelation", IEEE
    Trans. Inf. Theory 16(1), 1970, 85-89 (quadratic phases).

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet import audio
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     audio.read_sound(write_stimulus(pathlib.Path(folder, "tones.wav"))).sizes["time"]
    240000
    """
    hertz = _RATE.read(rate, "write_stimulus.rate")
    level = _PEAK.read(peak, "write_stimulus.peak")
    repeats = _PERIODS.read(periods, "write_stimulus.periods")
    assert hertz is not None
    assert level is not None
    assert repeats is not None
    samples = stimulus_samples(round(hertz), level, repeats)
    return write_sound(path, sound(np.stack([samples, samples]), round(hertz)))
