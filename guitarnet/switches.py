"""Switches as they are bought."""

from .parts.switch import (
    double_throw,
    five_way_lever,
    four_way_lever,
    on_on_on,
    rotary,
    three_way_toggle,
)

__all__ = [
    "double_throw",
    "five_way_lever",
    "four_way_lever",
    "on_on_on",
    "rotary",
    "three_way_toggle",
]
