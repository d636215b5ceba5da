"""Impedance and transfer curves measured with a sound card."""

from .show.schematic.adapter import draw_adapter
from .study.measuring.calibration import Calibration, read_calibration
from .study.measuring.measured import read_impedance, read_transfer
from .study.measuring.saving import save_measurement
from .study.measuring.stimulus import write_stimulus

__all__ = [
    "Calibration",
    "draw_adapter",
    "read_calibration",
    "read_impedance",
    "read_transfer",
    "save_measurement",
    "write_stimulus",
]
