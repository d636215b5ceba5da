"""A coil as wound: wire, turns, ohms."""

from .parts.winding import (
    Winding,
    inductance_by_turns,
    resistance_at,
    winding,
    wire_diameter,
    wire_resistance,
    wire_table,
)
from .study.spread.hum import turns_table

__all__ = [
    "Winding",
    "inductance_by_turns",
    "resistance_at",
    "turns_table",
    "winding",
    "wire_diameter",
    "wire_resistance",
    "wire_table",
]
