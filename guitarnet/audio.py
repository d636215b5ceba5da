"""Noise, hum and sound."""

from .study.spread.hum import hum
from .study.spread.noise import a_weighting_db, hum_table, noise_level, noise_spectrum, noise_table
from .study.string.audio import (
    impulse_response,
    match_level,
    normalise,
    play_through,
    read_sound,
    sound,
    write_sound,
)

__all__ = [
    "a_weighting_db",
    "hum",
    "hum_table",
    "impulse_response",
    "match_level",
    "noise_level",
    "noise_spectrum",
    "noise_table",
    "normalise",
    "play_through",
    "read_sound",
    "sound",
    "write_sound",
]
