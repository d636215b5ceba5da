"""What temperature does to copper, of which all coils are wound."""

from __future__ import annotations

__all__ = ["PER_KELVIN"]

PER_KELVIN = 0.00393
"""Rise of the resistance for each kelvin, as a share of that at 20 °C, from IEC 60028."""
