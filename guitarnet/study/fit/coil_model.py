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

__all__ = [
    "apparent_inductance",
    "behind",
    "direct_resistance",
    "peak_of",
    "string_response",
    "terminal_impedance",
    "two_coils",
]

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
    voltage = _screened(v, frequency)
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


def _screened(v: Numbers, frequency: np.ndarray) -> Any:
    """What is left of 1 V induced [V]."""
    voltage: Any = 1.0
    if "screening_frequency" in v:
        voltage = voltage / (1 + 1j * frequency / v["screening_frequency"])
    if "slow_share" in v:
        x = 1j * frequency / v["slow_frequency"]
        voltage = voltage * (1 - v["slow_share"] * x / (1 + x))
    return voltage


def coils_of(v: Numbers) -> tuple[dict[str, Any], dict[str, Any]]:
    """Values of each of two coils, with what both have in common."""
    common = {name: value for name, value in v.items() if isinstance(name, str) and "." not in name}
    one, two = dict(common), dict(common)
    for coil, values in (("coil_1.", one), ("coil_2.", two)):
        for name, value in v.items():
            if isinstance(name, str) and name.startswith(coil):
                values[name.removeprefix(coil)] = value
    return one, two


def two_coils(
    v: Numbers, frequency: np.ndarray, connection: str, load: Any
) -> tuple[np.ndarray, np.ndarray]:
    """Voltage at the lugs [V] and impedance between them [ohm] of two coils, as connected.

    Values of a coil have its name before them, "coil_1." or "coil_2."; others are common to both.
    The coils lie in series, from one outer end to their joint and on to the other outer end. U are
    the voltages along them: (1 + Z Y) U = E, with Y what lies across each coil and across both.
    """
    w = 2j * np.pi * frequency
    one, two = coils_of(v)
    z1, z2 = _coil(one, w), _coil(two, w)
    m = w * v["coupling"] * np.sqrt(one["inductance"] * two["inductance"])
    ratio = v.get("signal_ratio", 1.0)
    volts = 2 / (1 + ratio)  # the coils share 2 V
    e1, e2 = volts * _screened(one, frequency), volts * ratio * _screened(two, frequency)
    load = load + w * v["lead_capacitance"]
    y1, y2 = w * one["capacitance"], w * two["capacitance"]
    both = w * v["between_capacitance"]
    if connection == "parallel":
        # Currents of both into one load: the sum of the inverse of Z.
        whole, inner = z1 * z2 - m * m, z1 + z2 - 2 * m
        y = y1 + y2 + both + load
        voltage = (e1 * (z2 - m) + e2 * (z1 - m)) / (inner + whole * y)
        return voltage, whole / (inner + whole * y)
    y1 = y1 + (load if connection == "coil 1" else 0)
    y2 = y2 + (load if connection == "coil 2" else 0)
    both = both + (load if connection == "series" else 0)
    a, b = 1 + z1 * (y1 + both) + m * both, z1 * both + m * (y2 + both)
    c, d = m * (y1 + both) + z2 * both, 1 + m * both + z2 * (y2 + both)
    whole = a * d - b * c
    u1, u2 = (d * e1 - b * e2) / whole, (a * e2 - c * e1) / whole
    # A current into the lugs drives Z P, P where it flows.
    i1, i2 = (d * z1 - b * m) / whole, (a * m - c * z1) / whole
    j1, j2 = (d * m - b * z2) / whole, (a * z2 - c * m) / whole
    if connection == "series":
        return u1 + u2, i1 + i2 + j1 + j2
    return (u1, i1) if connection == "coil 1" else (u2, j2)


def string_response(
    v: Numbers, frequency: np.ndarray, load: Any, connection: str = ""
) -> np.ndarray:
    """Voltage at the lugs [V/V] with a load of admittance ``load`` [S] across them."""
    if connection:
        return two_coils(v, frequency, connection, load)[0]
    voltage, z = behind(v, frequency)
    return voltage / (1 + z * (2j * np.pi * frequency * v["capacitance"] + load))


def terminal_impedance(
    v: Numbers, frequency: np.ndarray, load: Any = 0.0, connection: str = ""
) -> np.ndarray:
    """Impedance between the lugs [ohm] with a load of admittance ``load`` [S] across them."""
    if connection:
        return two_coils(v, frequency, connection, load)[1]
    _, z = behind(v, frequency)
    return z / (1 + z * (2j * np.pi * frequency * v["capacitance"] + load))


def direct_resistance(v: Numbers, connection: str = "") -> Any:
    """Resistance between the lugs at 0 Hz [ohm]."""
    if not connection:
        return v["resistance"]
    one, two = v["coil_1.resistance"], v["coil_2.resistance"]
    of = {"series": one + two, "parallel": one * two / (one + two), "coil 1": one, "coil 2": two}
    return of[connection]


def apparent_inductance(v: Numbers, frequency: float, connection: str = "") -> np.ndarray:
    """Inductance that an LCR meter shows in series mode [H]: Im(Z) / (2 pi f)."""
    z = terminal_impedance(v, np.array([frequency]), connection=connection)
    return z.imag[..., 0] / (2 * np.pi * frequency)


def peak_of(
    v: Numbers, load_at: Callable[[np.ndarray], Any], near: float, connection: str = ""
) -> tuple[np.ndarray, np.ndarray]:
    """Frequency [Hz] and height [dB re 100 Hz] of the highest level within two octaves.

    Uses a parabola through three points over log frequency, as `guitarnet.peak` does.
    ``load_at`` gives the admittance of the load [S] at frequencies.
    """
    grid = near * np.geomspace(0.25, 4, 481)

    def level_at(f: np.ndarray) -> np.ndarray:
        return np.atleast_2d(decibels(np.abs(string_response(v, f, load_at(f), connection))))

    level = level_at(grid)
    at = np.clip(level[:, 1:-1].argmax(axis=-1) + 1, 1, grid.size - 2)
    row = np.arange(len(level))
    left, top, right = level[row, at - 1], level[row, at], level[row, at + 1]
    bend = np.minimum(left - 2 * top + right, -1e-12)  # no peak at all: stay on the grid
    shift = np.clip((left - right) / (2 * bend), -1, 1)
    height = top - (left - right) * shift / 4 - level_at(np.array([100.0]))[:, 0]
    return grid[at] * np.exp(shift * np.log(grid[1] / grid[0])), height
