"""A plucked string as sound, computed from the formula of a string."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, listed
from ...gate import public
from ...units import Quantity, read_seed
from .audio import sound
from .string import string_spectrum

__all__ = ["pluck"]

_RATE = Quantity("number", at_least=8000, at_most=384_000, hint="samples a second")
_SECONDS = Quantity("number", at_least=1e-3, at_most=60, hint="in seconds")
_APART = Quantity("number", at_least=0, at_most=60, hint="in seconds")
_SHARE = Quantity("fraction", at_least=0, at_most=0.5)
_STIFF = Quantity("number", at_least=0, at_most=0.01)
_VOLTS = Quantity("V", at_least=1e-9, at_most=1e6)
_DISTANCE = Quantity("m", above=0, at_most=3)
_TREBLE = 5000.0  # Hz
_SIXTY = np.log(1000.0)  # 60 dB
_GONE = np.log(1e6)  # 120 dB
_HIGHEST = 0.45  # of the sampling rate
_END = 0.02  # s over which the end is faded


@public
def pluck(
    string: Any = "E2",
    *,
    pickup: Any = "162 mm",
    fret: int = 0,
    scale: float | str = "648 mm",
    distance: float | str = "130 mm",
    duration: float = 3.0,
    rate: float = 48_000,
    fade: float = 6.0,
    treble_fade: float = 0.8,
    stiffness: float = 0.0,
    apart: float = 0.5,
    unevenness: float | str = 0.0,
    seed: int = 0,
    level: float | str = "100 mV",
) -> xr.DataArray:
    """Sound of plucked strings as the voltage in a pickup's coils, before any electronics.

    Parameters
    ----------
    string : str, float or sequence
        The open string, a note or its frequency [Hz]; several are plucked in turn.
    pickup, fret, scale
        As in `guitarnet.strings.string_spectrum`; one value each.
    distance : float or str
        Distance of the pluck from the bridge [m].
    duration : float
        Length of the whole sound [s].
    rate : float
        Samples a second [Hz].
    fade, treble_fade : float
        Time in which a low harmonic, and a harmonic at 5 kHz, fall by 60 dB [s].
    stiffness : float
        Inharmonicity B of the string: harmonics at n f0 √(1 + B n²).
    apart : float
        Time from one pluck to the next [s].
    unevenness : float or str
        Random variation of position and force of each pluck, as a share.
    seed : int
        Seed of the variation.
    level : float or str
        Induced voltage [V, peak] of the fundamental of a string that is plucked and sensed in its
        middle.

    Returns
    -------
    xarray.DataArray
        Sound [V], as from `guitarnet.audio.sound`; the same for the same arguments.

    Raises
    ------
    BadValue
        If a value is out of range.
    BadSetting
        If there is no string, the last pluck would be after the end, or the seed is not a whole
        number from 0.

    Notes
    -----
    The sum over n of a_n sin(2 pi f_n t) e^{-s_n t}, with a_n from
    `guitarnet.strings.string_spectrum`: the velocity over the pickup of a string that is released
    at t = 0. s_n = c + d f_n², with c and d from both fades. Harmonics go up to 0.45 of the
    sampling rate; the last 20 ms are faded out. There is one direction of vibration, no body, no
    pull of the magnets and no finger.

    References
    ----------
    Decay c + d f²: A. Chaigne, A. Askenfelt, Numerical simulations of piano strings I, JASA 95
    (1994) 1112-1118, doi:10.1121/1.408459. Stiffness: H. Fletcher, Normal vibration frequencies
    of a stiff piano string, JASA 36 (1964) 203-209, doi:10.1121/1.1918933. The fades are common
    practice, no source.

    Examples
    --------
    >>> note = pluck("A2", duration=0.5)
    >>> note.sizes["time"], float(note[0])
    (24000, 0.0)
    """
    hertz = _read(_RATE, rate, "rate")
    seconds = _read(_SECONDS, duration, "duration")
    slow, fast = _read(_SECONDS, fade, "fade"), _read(_SECONDS, treble_fade, "treble_fade")
    gap, stiff = _read(_APART, apart, "apart"), _read(_STIFF, stiffness, "stiffness")
    share, volts = _read(_SHARE, unevenness, "unevenness"), _read(_VOLTS, level, "level")
    at = _read(_DISTANCE, distance, "distance")
    if fast > slow:
        raise BadSetting(
            "pluck.treble_fade", f"{fast:g} s is longer than the fade of {slow:g} s", "swap them"
        )
    single = isinstance(string, (str, float, int))
    strings = [string] if single else listed(string, "string", "give notes, as ['E2', 'A2']")
    if not strings or gap * (len(strings) - 1) >= seconds:
        raise BadSetting(
            "pluck",
            f"{len(strings)} strings, {gap:g} s apart, do not fit in {seconds:g} s",
            "give one or more, and a longer duration",
        )
    constant = _SIXTY / slow
    bend = (_SIXTY / fast - constant) / _TREBLE**2
    count = max(1, round(seconds * hertz))
    total = np.zeros(count)
    generator = np.random.default_rng(read_seed(seed))
    for number, one in enumerate(strings):
        moved, harder = 1 + share * generator.uniform(-1, 1, 2)
        options = {"string": one, "scale": scale, "fret": fret, "pluck": at * moved}
        lowest = string_spectrum(pickup, harmonics=1, **options)
        if lowest.dims != ("harmonic",):
            raise BadSetting("pluck", "has several of one thing", "give a flat list of strings")
        first = float(lowest["frequency"].item())
        harmonics = max(1, int(_HIGHEST * hertz / first))
        spectrum = string_spectrum(pickup, harmonics=harmonics, **options)
        start = round(number * gap * hertz)
        n = spectrum["harmonic"].values
        f = n * first * np.sqrt(1 + stiff * n**2)
        kept = (f < _HIGHEST * hertz) & (spectrum.values != 0)
        _add(total[start:], f[kept], harder * spectrum.values[kept], constant, bend, hertz)
    last = min(count, round(_END * hertz))
    total[-last:] *= np.cos(np.linspace(0, np.pi / 2, last)) ** 2
    attrs = {"units": "V", "long_name": "induced voltage", "assumptions": "synthetic string"}
    return sound(volts * total, hertz).assign_attrs(attrs)


def _read(spec: Quantity, given: Any, name: str) -> float:
    value = spec.read(given, f"pluck.{name}")
    assert value is not None
    return value


def _add(
    total: np.ndarray, f: np.ndarray, size: np.ndarray, constant: float, bend: float, rate: float
) -> None:
    """Add decaying harmonics, each until it is 120 dB down."""
    for hertz, height in zip(f, size, strict=True):
        decay = constant + bend * hertz**2
        time = np.arange(min(total.size, int(_GONE / decay * rate) + 1)) / rate
        total[: time.size] += height * np.exp(-decay * time) * np.sin(2 * np.pi * hertz * time)
