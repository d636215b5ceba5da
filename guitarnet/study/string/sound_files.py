"""Samples from sound files, by soundfile if it is installed, else by scipy."""

from __future__ import annotations

import importlib.util
import os
import struct
import warnings
from pathlib import Path
from typing import BinaryIO

import numpy as np

from ...errors import BadFile, NotInstalled
from ...files import opened

__all__ = ["read_samples"]

_UNKNOWN = 0xFFFFFFFF  # length written by a program that cannot fill it in later


def read_samples(file: Path, most: int) -> tuple[np.ndarray, float]:
    """Read channels of samples (full scale 1) and their rate, at most ``most`` bytes."""
    read = _by_soundfile if importlib.util.find_spec("soundfile") else _by_scipy
    with opened(file) as stream:
        if os.fstat(stream.fileno()).st_size > most:
            raise BadFile(str(file), "is too large for memory", "cut out the part to listen to")
        _check_whole(file, stream)
        stream.seek(0)
        return read(file, stream)


def _by_soundfile(file: Path, stream: BinaryIO) -> tuple[np.ndarray, float]:
    import soundfile

    try:
        samples, rate = soundfile.read(stream, dtype="float64", always_2d=True)
    except (soundfile.LibsndfileError, TypeError) as error:
        raise _no_sound(file) from error
    return samples.T, float(rate)


def _by_scipy(file: Path, stream: BinaryIO) -> tuple[np.ndarray, float]:
    from scipy.io import wavfile

    if file.suffix.lower() not in (".wav", ".wave"):
        raise NotInstalled(
            "soundfile",
            f"is not installed, and {file.name} is no WAV file",
            "save it as WAV, or install it with: pip install 'guitarnet[sound]'",
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", wavfile.WavFileWarning)
            # Chunks without sound, such as a studio's notes.
            warnings.filterwarnings("ignore", "Chunk", wavfile.WavFileWarning)
            rate, samples = wavfile.read(stream)
    except Exception as error:  # a broken file raises many kinds of errors
        raise _no_sound(file) from error
    kind = samples.dtype
    values = np.atleast_2d(samples.astype(float).T)
    if kind == np.uint8:
        values = (values - 128) / 128
    elif kind.kind == "i":  # 24 bits come in the upper part of 32
        values = values / 2.0 ** (8 * kind.itemsize - 1)
    return values, float(rate)


def _check_whole(file: Path, stream: BinaryIO) -> None:
    """Refuse a WAV file that is cut off; both libraries would read the rest without an error."""
    size = os.fstat(stream.fileno()).st_size
    order = {b"RIFF": "<I", b"RIFX": ">I"}.get(stream.read(4))
    if order is None or stream.seek(12) > size:
        return
    while len(head := stream.read(8)) == 8:
        (length,) = struct.unpack(order, head[4:])
        present = size - stream.tell()
        if head[:4] == b"data" and present < length != _UNKNOWN:
            raise BadFile(
                str(file),
                f"ends early: {present} of {length} bytes of sound are there",
                "copy it again, or mend it in a sound editor",
            )
        stream.seek(length + length % 2, 1)


def _no_sound(file: Path) -> BadFile:
    return BadFile(str(file), "cannot be read as sound", "save it as WAV")
