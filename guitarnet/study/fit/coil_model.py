"""A measured pickup in closed form: fast enough to fit, and the same circuit as the parts.

Values are a mapping of names to numbers, or to columns of numbers (one row for each trial) that
broadcast against frequencies. A missing name means a missing effect: without ``eddy_resistance``
there is no eddy loss, without ``eddy_order`` it is a plain resistance, without ``idle_coupling``
there is no idle coil.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from ...parts.pickup import eddy_ladder
from ..response.labels import decibels

__all__ = ["apparent_inductance", "behind", "peak_of", "string_response", "terminal_impedance"]

Numbers = Mapping[str, Any]


def _coil(v: Numbers, w: np.ndarray) -> np.ndarray:
    """R + jwL(1 - s) + (jwLs parallel the eddy loss) [ohm]; ``w`` is j times 2 pi f."""
    z = w * v["inductance"]
    if "eddy_resistance" in v:
        core, loss = z * v["eddy_share"], v["eddy_resistance"]
        if "eddy_order" in v:
            low, steps, high = eddy_ladder(np.asarray(v["eddy_order"], dtype=float))
            x = w / (2 * np.pi)
            loss = loss * (low + w * high + sum(part * x / (corner + x) for corner, part in steps))
        z = z - core + core * loss / (core + loss)
    return v["resistance"] + z


def behind(v: Numbers, frequency: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Voltage [V] and impedance [ohm] behind the winding's capacitance, for 1 V before screening.

    An idle coil has the same values and is open, so its current flows through its own capacitance,
    and through that between the open ends of the two coils, which carry opposite signals.
    """
    w = 2j * np.pi * frequency
    voltage: Any = 1.0
    if "screening_frequency" in v:
        voltage = voltage / (1 + 1j * frequency / v["screening_frequency"])
    if "slow_share" in v:
        x = 1j * frequency / v["slow_frequency"]
        voltage = voltage * (1 - v["slow_share"] * x / (1 + x))
    z = _coil(v, w)
    if "idle_coupling" in v:
        # Two meshes: (1 + Z Y) U = E, U the voltages at the coils' ends, Y what lies across them.
        mutual = -w * v["idle_coupling"] * v["inductance"]
        between = w * v.get("between_capacitance", 0.0)
        beyond = w * v["idle_capacitance"] + between
        one, other = mutual * beyond - z * between, 1 - mutual * between + z * beyond
        whole = (1 + (z - mutual) * between) * other - one * (mutual - z) * between
        voltage = voltage * (other + one * v["idle_signal"]) / whole
        z = (other * z - one * mutual) / whole
    return np.asarray(voltage), z


def string_response(v: Numbers, frequency: np.ndarray, load: Any) -> np.ndarray:
    """Voltage at the lugs [V/V] with a load of admittance ``load`` [S] across them."""
    voltage, z = behind(v, frequency)
    return voltage / (1 + z * (2j * np.pi * frequency * v["capacitance"] + load))


def terminal_impedance(v: Numbers, frequency: np.ndarray, load: Any = 0.0) -> np.ndarray:
    """Impedance between the lugs [ohm] with a load of admittance ``load`` [S] across them."""
    _, z = behind(v, frequency)
    return z / (1 + z * (2j * np.pi * frequency * v["capacitance"] + load))


def apparent_inductance(v: Numbers, frequency: float) -> np.ndarray:
    """Inductance that an LCR meter shows in series mode [H]: Im(Z) / (2 pi f)."""
    z = terminal_impedance(v, np.array([frequency]))
    return z.imag[..., 0] / (2 * np.pi * frequency)


def peak_of(
    v: Numbers, load_at: Callable[[np.ndarray], Any], near: float
) -> tuple[np.ndarray, np.ndarray]:
    """Frequency [Hz] and height [dB re 100 Hz] of the highest level within two octaves.

    Uses a parabola through three points over log frequency, as `guitarnet.peak` does.
    ``load_at`` gives the admittance of the load [S] at frequencies.
    """
    grid = near * np.geomspace(0.25, 4, 481)

    def level_at(f: np.ndarray) -> np.ndarray:
        return np.atleast_2d(decibels(np.abs(string_response(v, f, load_at(f)))))

    level = level_at(grid)
    at = np.clip(level[:, 1:-1].argmax(axis=-1) + 1, 1, grid.size - 2)
    row = np.arange(len(level))
    left, top, right = level[row, at - 1], level[row, at], level[row, at + 1]
    bend = np.minimum(left - 2 * top + right, -1e-12)  # no peak at all: stay on the grid
    shift = np.clip((left - right) / (2 * bend), -1, 1)
    height = top - (left - right) * shift / 4 - level_at(np.array([100.0]))[:, 0]
    return grid[at] * np.exp(shift * np.log(grid[1] / grid[0])), height
