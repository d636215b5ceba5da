"""Sound of a guitar: its impulse response, sounds through it, WAV files."""

from __future__ import annotations

import io
import os
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadFile, BadSetting, a
from ...files import write_bytes
from ...gate import public
from ...units import Quantity
from ..response.arrays import read_array
from ..response.labels import decibels
from ..response.response import response
from .sound_files import read_samples

__all__ = [
    "impulse_response",
    "match_level",
    "normalise",
    "play_through",
    "read_sound",
    "sound",
    "write_sound",
]

_RATE = Quantity("number", at_least=1000, at_most=768_000, hint="samples a second")
_SECONDS = Quantity("number", above=0, at_most=30, hint="in seconds")
_DECIBELS = Quantity("number", at_least=-200, at_most=0, hint="dB re full scale")
_FIRST, _LONGEST = 0.1, 16.0  # s
_GONE = 1e-6  # of the largest value: 120 dB
_LARGEST = 2**31  # bytes of a sound in memory


@public
def sound(samples: Any, rate: float = 48_000) -> xr.DataArray:
    """Make a sound from plain numbers.

    Parameters
    ----------
    samples : array_like
        Samples, or channels of samples; 1 is full scale.
    rate : float
        Samples a second [Hz].

    Returns
    -------
    xarray.DataArray
        Sound along ``time`` [s], with the scalar coordinate ``rate``; ``channel`` comes first if
        there are several.

    Raises
    ------
    BadSetting, BadValue
        If there are no samples, a sample is not finite, the channels differ in length, or the
        rate is out of range.

    Examples
    --------
    >>> sound([0.0, 0.5, 0.0], 44_100).dims
    ('time',)
    """
    hertz = _RATE.read(rate, "sound.rate")
    try:
        with warnings.catch_warnings(action="error", category=UserWarning):  # of masked numbers
            values = np.asarray(samples)
        if values.dtype.kind not in "biuf":
            raise ValueError
    except (TypeError, ValueError, UserWarning):
        raise BadSetting(
            "sound", "is not plain numbers", "give samples, or channels of the same length"
        ) from None
    values = values.astype(float)
    if not 1 <= values.ndim <= 2 or not values.size:
        raise BadSetting("sound", f"has the shape {values.shape}", "give samples, or channels")
    if not np.isfinite(values).all():
        raise BadSetting("sound", "holds a sample that is not finite", "leave it out")
    dims = ("channel", "time")[2 - values.ndim :]
    return xr.DataArray(values, _axis(values.shape[-1], hertz), dims, "sound")


def _axis(count: int, rate: Any, start: int = 0) -> dict[str, Any]:
    time = (np.arange(count) + start) / float(rate)
    return {
        "time": xr.Variable("time", time, {"units": "s", "long_name": "time"}),
        "rate": xr.Variable((), float(rate), {"units": "Hz", "long_name": "samples a second"}),
    }


@public
def impulse_response(
    guitar: Harness | Mapping[str, Harness],
    settings: Settings = None,
    *,
    rate: float = 48_000,
    duration: float | None = None,
    at: str = "amp",
    **keywords: Any,
) -> xr.DataArray:
    """Sampled impulse response of a guitar.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar, or several by label.
    rate : float
        Samples a second [Hz].
    duration : float, optional
        Length [s]; by default until it has fallen by 120 dB, at most 16 s.
    at, settings, **keywords
        As in `guitarnet.response`, not chunked.

    Returns
    -------
    xarray.DataArray
        Impulse response [V/V for each sample], with a dimension for each swept setting and
        ``time`` [s] last. A quarter of it is before 0.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`, or if it rings for more than 16 s.

    Notes
    -----
    The inverse discrete Fourier transform of the exact response. There is no bilinear transform,
    so the frequency axis is not warped. A guitar passes a little at half the sampling rate and
    above. The cut at that frequency makes the impulse response ring to both sides of 0, so a part
    of it is before 0.

    References
    ----------
    A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing, 3rd ed. 2010, chapter 4
    (bandlimited filtering of sampled signals).

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> kernel = impulse_response(guitar, volume=[10, 5])
    >>> kernel.dims, [round(float(total), 2) for total in kernel.sum("time")]
    (('volume', 'time'), [0.97, 0.14])
    """
    settings = one_mapping(settings, keywords)
    if "frequency" in settings:
        raise BadSetting(
            "frequency", "is no setting of a sound", "leave it out; a sound has all frequencies"
        )
    hertz = _RATE.read(rate, "impulse_response.rate")
    assert hertz is not None
    if duration is not None:
        seconds = _SECONDS.read(duration, "impulse_response.duration")
        assert seconds is not None
        return _sampled(guitar, hertz, max(4, 2 * round(seconds * hertz / 2)), at, settings)
    count = 1 << int(np.ceil(np.log2(_FIRST * hertz)))
    while count <= _LONGEST * hertz:
        sampled = _sampled(guitar, hertz, count, at, settings)
        if _has_faded(sampled.values):
            return sampled
        count *= 2
    raise BadSetting(
        "impulse_response",
        f"the guitar still rings after {_LONGEST:g} s",
        "give a duration, or look for a part that makes it ring",
    )


def _sampled(
    guitar: Harness | Mapping[str, Harness],
    rate: float,
    count: int,
    at: str,
    settings: Mapping[str, Any],
) -> xr.DataArray:
    labelled = (
        given for given in settings.values() if isinstance(given, xr.DataArray | xr.Variable)
    )
    if any("time" in given.dims for given in labelled):
        raise BadSetting("impulse_response", "'time' is its own dimension", "rename the setting's")
    grid = np.arange(count // 2 + 1) * (rate / count)
    h = response(guitar, settings, frequency=grid, at=at)
    if h.chunks:
        raise BadSetting("impulse_response", "takes no chunked setting", "give it computed")
    before = count // 4
    values = np.roll(np.fft.irfft(h.values, count), before, axis=-1)
    dropped = ("frequency", "reference_frequency", "at_reference")
    coords = {k: c for k, c in h.coords.items() if k not in dropped} | _axis(count, rate, -before)
    attrs = {**h.attrs, "units": "V/V", "long_name": f"impulse response at the {at}"}
    return xr.DataArray(values, coords, (*h.dims[:-1], "time"), "impulse response", attrs)


def _has_faded(values: np.ndarray) -> bool:
    """Whether both ends have faded; they are neighbours on the circle."""
    share = values.shape[-1] // 32
    # The ringing at half the sampling rate changes its sign at each sample; it does not count.
    smooth = (values + np.roll(values, 1, axis=-1)) / 2
    ends = np.concatenate([smooth[..., 1:share], smooth[..., -share:]], axis=-1)
    most = np.abs(values).max(axis=-1)
    return bool((np.abs(ends).max(axis=-1) <= _GONE * most).all())


@public
def play_through(
    clip: xr.DataArray,
    guitar: Harness | Mapping[str, Harness],
    settings: Settings = None,
    *,
    at: str = "amp",
    **keywords: Any,
) -> xr.DataArray:
    """Play a sound through a guitar, as the voltage induced in its coils.

    Parameters
    ----------
    clip : xarray.DataArray
        From `read_sound`, `guitarnet.strings.pluck` or `sound`.
    guitar : Harness, or mapping of str to Harness
        The guitar, or several by label to compare.
    at, settings, **keywords
        As in `guitarnet.response`: ``volume=[10, 5]``.

    Returns
    -------
    xarray.DataArray
        Sounds with a dimension for each swept setting, ``channel`` if the clip has it, and
        ``time``. Levels are not matched. They are longer than the clip, because the guitar rings.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `impulse_response`, or if the clip is no sound.

    Notes
    -----
    Convolution with `impulse_response`, by overlap-add in the frequency domain. The error,
    relative to the largest sample, is a few millionths at 32 kHz and above, and two
    ten-thousandths at 8 kHz. A recording of an electric guitar already has a guitar's electronics
    in it; this adds a second one.

    References
    ----------
    As in `impulse_response`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> click = sound([1.0] + [0.0] * 999)
    >>> play_through(click, guitar, volume=[10, 5]).dims
    ('volume', 'time')
    """
    settings = one_mapping(settings, keywords)
    from scipy.signal import oaconvolve

    check_sound(clip)
    if "rate" in settings:
        raise BadSetting("rate", "is given by the clip", "leave it out")
    kernel = impulse_response(guitar, settings, rate=float(clip["rate"]), at=at)
    taken = set(kernel.dims) & set(clip.dims) - {"time"}
    if taken:
        raise BadSetting(
            min(map(str, taken)), "is a dimension of the clip and of the guitar", "rename it"
        )
    before = round(-float(kernel["time"][0]) * float(clip["rate"]))
    places = [dim for dim in kernel.dims if dim != "time"]
    others = [dim for dim in clip.dims if dim != "time"]
    count = clip.sizes["time"] + kernel.sizes["time"] - 1 - before
    size = 8 * count * int(np.prod([kernel.sizes[d] for d in places]))
    if size * int(np.prod([clip.sizes[d] for d in others])) > _LARGEST:
        raise BadSetting(
            "play_through", "makes sounds too large for memory", "ask for fewer marks at once"
        )
    filters = kernel.values.reshape((*kernel.shape[:-1], *(1 for _ in others), -1))
    samples = clip.transpose(*others, "time").values
    samples = samples.reshape((*(1 for _ in places), *samples.shape))
    played = oaconvolve(filters, samples, axes=-1)[..., before:]
    coords: dict[Any, Any] = {k: c for k, c in clip.coords.items() if "time" not in c.dims}
    coords |= {k: c for k, c in kernel.coords.items() if "time" not in c.dims}
    coords |= _axis(count, float(clip["rate"]))
    attrs = {**kernel.attrs, "units": "V", "long_name": f"sound at the {at}"}
    return xr.DataArray(played, coords, (*places, *others, "time"), "sound", attrs)


@public
def match_level(clips: xr.DataArray) -> xr.DataArray:
    """Turn sounds down to the level of the quietest, so that you compare their tone only.

    Parameters
    ----------
    clips : xarray.DataArray
        From `play_through`, with a dimension for each swept setting.

    Returns
    -------
    xarray.DataArray
        The sounds with equal root-mean-square over ``time`` and ``channel``; the coordinate
        ``gain`` [dB] is the change of each. Silent sounds stay silent.

    Raises
    ------
    BadSetting
        If it is no sound.

    Notes
    -----
    Equal power is not equal loudness: the ear is not equally sensitive at all frequencies.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> clips = play_through(sound([1.0, 0.0, 0.0]), guitar, volume=[10, 5])
    >>> match_level(clips).gain.sel(volume=5).item()
    0.0
    """
    check_sound(clips)
    over = [dim for dim in clips.dims if dim in ("time", "channel")]
    power = (clips**2).mean(over) ** 0.5
    loud = power.where(power > 0)
    factor = (loud.min() / loud).fillna(1.0)
    gain = factor.copy(data=decibels(factor.values))
    gain = gain.assign_attrs(units="dB", long_name="level matched by")
    matched = (clips * factor).transpose(*clips.dims).assign_coords(gain=gain)
    levels = "equal RMS over the whole sound, as the quietest"
    return matched.rename("sound").assign_attrs({**clips.attrs, "levels": levels})


@public
def normalise(clips: xr.DataArray, peak: float = -1.0) -> xr.DataArray:
    """Turn sounds up or down together, so that the loudest sample reaches a level.

    Parameters
    ----------
    clips : xarray.DataArray
        From `play_through`. Give all sounds that you compare together; they get the same gain.
    peak : float
        Level of the largest sample [dB re full scale].

    Returns
    -------
    xarray.DataArray
        The sounds times one number; silence stays silent.

    Raises
    ------
    BadSetting, BadValue
        If it is no sound, or the level is above 0 dB.

    Examples
    --------
    >>> float(abs(normalise(sound([0.0, 3.0, -4.0]), 0)).max())
    1.0
    """
    check_sound(clips)
    decibels = _DECIBELS.read(peak, "normalise.peak")
    assert decibels is not None
    most = float(abs(clips).max())
    if not most:
        return clips
    return (clips * (10 ** (decibels / 20) / most)).assign_attrs(clips.attrs)


@public(path=None)
def read_sound(path: str | os.PathLike[str]) -> xr.DataArray:
    """Read a sound file.

    Parameters
    ----------
    path : path
        A WAV file; with the soundfile library also FLAC, AIFF, Ogg and others.

    Returns
    -------
    xarray.DataArray
        As from `sound`, at the rate of the file; full scale is 1.

    Raises
    ------
    BadFile
        If there is no such file, or it is no sound, empty, too large, cut off, or has a sample
        that is not finite.
    NotInstalled
        If it is no WAV file and soundfile is missing.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = write_sound(pathlib.Path(folder, "note.wav"), sound([0.0, 0.25, -0.5]))
    ...     read_sound(file).values.tolist()
    [0.0, 0.25, -0.5]
    """
    file = _path(path)
    samples, rate = read_samples(file, _LARGEST // 2)
    if not samples.size:
        raise BadFile(str(path), "holds no samples", "record something first")
    if not np.isfinite(samples).all():
        raise BadFile(str(path), "holds a sample that is not finite", "save it again")
    return sound(samples[0] if len(samples) == 1 else samples, rate)


@public(path=None)
def write_sound(path: str | os.PathLike[str], clip: xr.DataArray, *, bits: int = 16) -> Path:
    """Write a sound as a WAV file: completely or not at all, and never clipped.

    Parameters
    ----------
    path : path
        The file.
    clip : xarray.DataArray
        One sound, along ``time`` and, if it has several, ``channel``.
    bits : {16, 32}
        16-bit integers, which every program plays, or 32-bit floating point.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    BadSetting
        If it is no sound or several sounds, a sample exceeds full scale, the bits are unknown, or
        it does not fit in a WAV file.
    BadFile
        If the file cannot be written.

    Examples
    --------
    See `read_sound`.
    """
    from scipy.io import wavfile

    file = _path(path)
    check_sound(clip)
    _RATE.check(np.asarray(clip["rate"].item(), dtype=float), "write_sound.rate")
    if bits not in (16, 32):
        raise BadSetting("bits", f"{bits!r} is unknown", "use 16 or 32", bits)
    others = [str(dim) for dim in clip.dims if dim not in ("time", "channel")]
    if others:
        raise BadSetting(
            "write_sound",
            f"is given sounds along {', '.join(others)}",
            f"write one at a time, as clips.sel({{{others[0]!r}: ...}})",
        )
    samples = clip.transpose("time", ...).values
    most, full = float(np.abs(samples).max()), 1 - 2.0**-15 if bits == 16 else 1.0
    if most > full:
        raise BadSetting(
            "write_sound",
            f"would clip by {max(decibels(most / full), 0.01):.2f} dB",
            "turn it down with normalise(clips), together with all sounds you compare",
            most,
        )
    rate = float(clip["rate"])
    if rate % 1:
        raise BadSetting("write_sound", f"{rate:g} samples a second are not whole", "resample it")
    block = clip.sizes.get("channel", 1) * bits // 8
    # Header fields: two bytes for a block, four for a rate and for a length.
    if block >= 2**16 or max(rate, samples.shape[0] + 100) * block >= 2**32:
        raise BadSetting(
            "write_sound",
            f"{clip.sizes.get('channel', 1)} channels of {samples.shape[0]} samples do not fit in "
            "a WAV file",
            "write a part of it at a time",
        )
    plain = np.round(samples * 2.0**15).astype("<i2") if bits == 16 else samples.astype("<f4")
    stream = io.BytesIO()
    wavfile.write(stream, int(rate), plain)
    return write_bytes(file, stream.getvalue())


def _path(given: Any) -> Path:
    try:
        return Path(given)
    except TypeError:
        raise BadFile("path", f"{a(type(given))} names no file", "give one, as 'a.wav'") from None


def check_sound(clip: Any) -> None:
    fix = "give what read_sound() or pluck() returns"
    like = isinstance(clip, xr.DataArray) and "time" in clip.dims and clip.dtype.kind in "biuf"
    if (
        not like
        or "rate" not in clip.coords
        or clip["rate"].dtype.kind not in "iuf"
        or clip["rate"].ndim
    ):
        raise BadSetting("sound", f"{a(type(clip))} is no sound", fix)
    if not clip.sizes["time"]:
        raise BadSetting("sound", "is empty", "give at least one sample")
    if not np.isfinite(clip.values).all():
        raise BadSetting(
            "sound", "holds a sample that is not finite", "find out where it comes from"
        )
    read_array(clip, "sound", fix, rings_out=True)
