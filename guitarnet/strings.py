"""The plucked string and where a pickup listens to it."""

from .study.string.pluck import pluck
from .study.string.string import (
    PickupPosition,
    cancellation_frequency,
    harmonic_level_db,
    string_spectrum,
)

__all__ = [
    "PickupPosition",
    "cancellation_frequency",
    "harmonic_level_db",
    "pluck",
    "string_spectrum",
]
