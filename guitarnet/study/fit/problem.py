"""The least-squares problem behind a fit: unknowns, priors, residuals.

Every unknown is a positive number, fitted as its logarithm with a normal prior. Residuals are in
units of their accuracy. A curve counts as 20 independent readings of 0.2 dB, however many points
it has, because its residual is the error of the model, which neighbouring points share. Beyond
0.4 dB its cost grows in proportion and not with its square (soft L1), so that a resonance outside
the model does not spoil the fit.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

import numpy as np

from ...errors import BadSetting, NoSolution
from ...ranking import CLOSE, ranked
from . import coil_model
from .curves import MeasuredCurve
from .loads import Load, admittance_of
from .measured import Measurements, ReadingFit, inductance_fit, peak_fit

__all__ = [
    "COILS",
    "COIL_OF",
    "PRIORS",
    "USUAL",
    "Key",
    "Losses",
    "PickupResiduals",
    "Prior",
    "Problem",
    "Solution",
    "binned",
    "inward",
    "names_of",
    "outward",
    "spread_of",
]


Losses = bool | Literal["plain"] | None


class Key(NamedTuple):
    """Key of an unknown: a pickup and a name, or no pickup with a load's name and field."""

    owner: str | None
    name: str
    field: str = ""


_PER_DECADE = 30  # points of a curve are averaged in bins this fine
_READINGS = 20  # independent readings that a curve counts as
_ACCURACY = 0.2  # dB
_LEAST = 0.25  # share of a squared accuracy; no curve is taken for better than 0.1 dB
_IN_COMMON = 1.25  # the curves of a rig share part of their error; by tools/pickups.py --simulated
_KNEE = 0.4  # dB; beyond it a residual is an outlier
_STEPS = 400
_STARTS_L = (0.5, 1.0, 1.75)
_STARTS_SCREEN = (0.6, 2.0)


@dataclass(frozen=True)
class Prior:
    """Prior of a value."""

    unit: str
    around: float
    within: float
    odds: bool = False
    """Whether the value is a share s, fitted as s / (1 - s)."""


# Inductance 1-10 H and winding 80-200 pF: H. Lemme, "Pickup-Geheimnisse: Beschaltung",
# gitarrenelektronik.de. Resistance: common practice, no source. The rest: what the development half
# of tests/reference/pickup_sets gave, one for all pickups. What scales with the impedance is wide,
# so that it does not pull on a test capacitor that is known to some per cent.
PRIORS = {
    "resistance": Prior("ohm", 8e3, 1.0),
    "inductance": Prior("H", 4.5, 1.0),
    "capacitance": Prior("F", 130e-12, 0.8),
    "eddy_resistance": Prior("ohm", 26e3, 1.3),
    "eddy_share": Prior("fraction", 0.38, 0.5, odds=True),
    "eddy_order": Prior("number", 0.87, 0.6, odds=True),
    "screening_frequency": Prior("Hz", 3.2e3, 0.3),
    "slow_share": Prior("fraction", 0.08, 0.6),
    "slow_frequency": Prior("Hz", 680.0, 0.3),
    "idle_coupling": Prior("number", 0.15, 0.35),
    "idle_capacitance": Prior("F", 150e-12, 0.35),
    "idle_signal": Prior("number", 1.1, 0.2),
    "between_capacitance": Prior("F", 25e-12, 0.7),
    "coupling": Prior("number", 0.13, 0.35),
    "signal_ratio": Prior("number", 1.0, 0.15),
    "lead_capacitance": Prior("F", 15e-12, 1.0),
}
COILS = ("coil_1", "coil_2")
COIL_OF = {"coil 1": "coil_1", "coil 2": "coil_2"}  # by connection
_COIL = ("resistance", "inductance", "capacitance")
_LOSSES = ("eddy_resistance", "eddy_share", "eddy_order")
_SLOW = ("slow_share", "slow_frequency")
_IDLE = ("idle_coupling", "idle_capacitance", "idle_signal", "between_capacitance")
_PAIR = ("coupling", "between_capacitance", "lead_capacitance")
_SCALED = {
    "resistance": 1,
    "inductance": 1,
    "eddy_resistance": 1,
    "capacitance": -1,
    "idle_capacitance": -1,
    "between_capacitance": -1,
    "lead_capacitance": -1,
}  # power of the scale of impedance; in loads too
USUAL = {"inductance": (1.0, 10.0), "capacitance": (80e-12, 200e-12)}  # Lemme's ranges, as above


def names_of(measured: Measurements, losses: Losses, slow: bool, idle: bool) -> tuple[str, ...]:
    """Names of the values in the model of these measurements."""
    if losses is None:
        losses = bool(measured.curves) or any(peak.height is not None for peak in measured.peak)
    names: tuple[str, ...] = _COIL
    driven = any(curve.kind == "string" for curve in measured.curves) or bool(measured.peak)
    if losses:
        names += tuple(name for name in _LOSSES if losses != "plain" or name != "eddy_order")
        names += ("screening_frequency",) if driven else ()
        if slow and any(curve.kind == "string" for curve in measured.curves):
            names += _SLOW
    return names + (_IDLE if idle else ())


def names_of_two(measured: Sequence[Measurements], losses: Losses, slow: bool) -> tuple[str, ...]:
    """Names of the values in the model of a humbucker; both coils share the slow screening."""
    of_one = dict.fromkeys(name for one in measured for name in names_of(one, losses, slow, False))
    common = [name for name in of_one if name in _SLOW]
    coils = [f"{coil}.{name}" for coil in COILS for name in of_one if name not in _SLOW]
    driven = any(one.peak or any(c.kind == "string" for c in one.curves) for one in measured)
    return (*coils, *common, *_PAIR, *(("signal_ratio",) if driven else ()))


def prior_of(name: str) -> Prior:
    """Prior of a value, of whichever coil."""
    return PRIORS[name.rpartition(".")[2]]


class PickupResiduals:
    """Residuals of one pickup as a function of its unknowns.

    What was measured on a humbucker comes as several measurements, each with its connection.
    """

    def __init__(
        self,
        label: str,
        measured: Sequence[Measurements],
        names: Sequence[str],
        instrument: Load,
        band: tuple[float, float],
        off: Mapping[str, float] | None = None,
        own: Mapping[str, Prior] | None = None,
    ) -> None:
        """``off`` states by how much [dB] a curve lies off; an infinite one is left out.

        ``own`` are priors that stand in place of those of all pickups.
        """
        self.label, self.measured, self.instrument = label, tuple(measured), instrument
        self.off = dict(off or {})
        self.priors: dict[Key, tuple[float, float]] = {}
        for name in names:
            prior = (own or {}).get(name, prior_of(name))
            self.priors[Key(label, name)] = (inward(name, prior.around), prior.within)
        self.names = list(names)
        self.blocks: list[Callable[[Mapping[Any, Any]], np.ndarray]] = []
        self.robust: list[np.ndarray] = []
        self.curves: list[tuple[str, MeasuredCurve]] = []
        for told in self.measured:
            self._add(told, band)

    def _add(self, told: Measurements, band: tuple[float, float]) -> None:
        how = told.connection
        if told.resistance is not None:
            known = (np.log(told.resistance), told.resistance_within)
            if how in COIL_OF:
                self.priors[Key(self.label, f"{COIL_OF[how]}.resistance")] = known
            elif how:
                self._add_resistance(told.resistance, told.resistance_within, how)
            else:
                self.priors[Key(self.label, "resistance")] = known
        for curve in told.curves:
            if how:
                curve = dataclasses.replace(curve, name=f"{how}, {curve.name}", unusual=True)
            self.curves.append((how, curve))
            self._add_curve(curve, band, how)
        for reading in told.inductance:
            self._add_inductance(reading, how)
        for number, peak in enumerate(told.peak, 1):
            self._add_peak(peak, f"{how} peak {number}".strip(), how)

    def _keys(self, load: Load, label: str) -> dict[str, Key]:
        """Key of each unknown of a load; stores its prior."""
        keys: dict[str, Key] = {}
        for field, unknown in load.unknowns().items():
            name = unknown.name or f"{self.label} {label}".strip()
            key = Key(None, name, field)
            prior = (float(np.log(unknown.around)), float(unknown.within))
            if self.priors.setdefault(key, prior) != prior:
                raise BadSetting(
                    f"{name} {field}",
                    "is given around two different values",
                    "give one, or two names",
                )
            keys[field] = key
        return keys

    def admittance(self, load: Load, label: str) -> Callable[[Mapping[Any, Any], np.ndarray], Any]:
        """Admittance of a load [S] as a function of the values and frequencies."""
        keys = self._keys(load, label)

        def at(v: Mapping[Any, Any], frequency: np.ndarray) -> Any:
            return admittance_of(
                load,
                frequency,
                lambda field: v[keys[field]] if field in keys else getattr(load, field),
            )

        return at

    def model_of(
        self, curve: MeasuredCurve, how: str
    ) -> Callable[[Mapping[Any, Any], np.ndarray], Any]:
        """Complex model of a curve as a function of the values and frequencies."""
        assert curve.load is not None
        load = self.admittance(curve.load, curve.name)
        if curve.kind == "impedance":
            return lambda v, f: coil_model.terminal_impedance(v, f, load(v, f), how)
        rig = self.admittance(self.instrument, "instrument")
        return lambda v, f: coil_model.string_response(v, f, load(v, f) + rig(v, f), how)

    def _add_curve(self, curve: MeasuredCurve, band: tuple[float, float], how: str) -> None:
        f, measured = binned(curve, band)
        model = self.model_of(curve, how)
        if curve.name in self.left_out:
            return
        weight = np.sqrt(_READINGS / f.size) / np.hypot(_ACCURACY, self.off.get(curve.name, 0.0))

        def block(v: Mapping[Any, Any]) -> np.ndarray:
            miss = _decibels(model(v, f)) - measured
            real = miss.real
            if not curve.known_scale:
                real = real - real.mean(axis=-1, keepdims=True)
            if curve.kind == "string" or curve.phase_deg is None:
                return weight * real
            turn = _decibels(1j**2)  # half a turn of phase, in the same measure
            imag = (miss.imag + turn.imag) % (2 * turn.imag) - turn.imag
            return weight * np.concatenate([real, imag], axis=-1)

        self.blocks.append(block)
        size = f.size * (2 if curve.kind == "impedance" and curve.phase_deg is not None else 1)
        self.robust.append(np.full(size, weight * _KNEE))

    def _add_resistance(self, ohm: float, within: float, how: str) -> None:
        def block(v: Mapping[Any, Any]) -> np.ndarray:
            return np.log(coil_model.direct_resistance(v, how) / ohm) / within

        self.blocks.append(block)
        self.robust.append(np.full(1, np.inf))

    def _add_inductance(self, reading: Any, how: str) -> None:
        def block(v: Mapping[Any, Any]) -> np.ndarray:
            shown = np.atleast_1d(coil_model.apparent_inductance(v, reading.frequency, how))
            return (shown[:, None] / reading.inductance - 1) / reading.within

        self.blocks.append(block)
        self.robust.append(np.full(1, np.inf))

    def _add_peak(self, peak: Any, label: str, how: str) -> None:
        load = self.admittance(peak.load, label)

        def block(v: Mapping[Any, Any]) -> np.ndarray:
            hertz, height = coil_model.peak_of(v, lambda f: load(v, f), peak.frequency, how)
            rows = [np.log(hertz / peak.frequency) / peak.within]
            if peak.height is not None:
                rows.append((height - peak.height) / peak.height_within)
            return np.stack(rows, axis=-1)

        self.blocks.append(block)
        self.robust.append(np.full(1 if peak.height is None else 2, np.inf))

    def reading_fits(self, x: np.ndarray) -> list[ReadingFit]:
        """Every reading beside the value of the model."""
        v = self.values(x)
        return [fit for told in self.measured for fit in self._fits_of(told, v)]

    def _fits_of(self, told: Measurements, v: Mapping[Any, Any]) -> list[ReadingFit]:
        how = told.connection
        fits = [inductance_fit(reading, v, how) for reading in told.inductance]
        if told.resistance is not None:
            ohm = float(np.ravel(coil_model.direct_resistance(v, how))[0])
            within = told.resistance_within
            fits.append(ReadingFit.share("DC resistance", told.resistance, ohm, "ohm", within))
        for number, peak in enumerate(told.peak, 1):
            load = self.admittance(peak.load, f"{how} peak {number}".strip())
            fits += peak_fit(peak, v, partial(load, v), how)
        return (
            [dataclasses.replace(fit, name=f"{how}, {fit.name}") for fit in fits] if how else fits
        )

    @property
    def left_out(self) -> set[str]:
        """Names of the curves that do not count."""
        return {name for name, off in self.off.items() if np.isinf(off)}

    @property
    def readings(self) -> int:
        """Number of independent readings in the data."""
        curves = len(self.curves) - len(self.left_out)
        return _READINGS * curves + len(self.blocks) - curves

    def values(self, x: np.ndarray) -> dict[Any, Any]:
        """Values by name (by key for loads) from logarithms, one row for each trial."""
        values: dict[Any, Any] = {}
        for key, column in zip(self.priors, np.atleast_2d(x).T[..., None], strict=True):
            values[key if key.owner is None else key.name] = outward(key, column)
        return values

    def residuals(self, x: np.ndarray) -> np.ndarray:
        """Residuals in units of their accuracy, one row for each trial."""
        v = self.values(x)
        return np.concatenate([np.atleast_2d(block(v)) for block in self.blocks], axis=-1)

    def linearised(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Residuals and their derivatives, with less weight on outliers."""
        step = 1e-6
        rows = self.residuals(np.vstack([x, x + step * np.eye(x.size)]))
        plain, slopes = rows[0], (rows[1:] - rows[0]).T / step
        # Soft L1 written as a residual: r sqrt(2 / (1 + root)), root = sqrt(1 + (r / knee)^2).
        root = np.sqrt(1 + (plain / np.concatenate(self.robust)) ** 2)
        light = np.sqrt(2 / (1 + root))
        return plain * light, slopes * (1 / (root * light))[:, None]


def inward(name: str, value: float) -> float:
    """Logarithm of a value, of a share that of its odds."""
    return float(np.log(value / (1 - value) if prior_of(name).odds else value))


def outward(key: Key, x: Any) -> Any:
    """Value of an unknown from its logarithm."""
    value = np.exp(np.clip(x, -80, 80))
    if _is_share(key):
        return value / (1 + value)
    return value


def spread_of(key: Key, x: float, sd: float) -> float:
    """Standard error of a value from the standard error of its logarithm."""
    value = float(outward(key, x))
    return value * sd * (1 - value if _is_share(key) else 1.0)


def _is_share(key: Key) -> bool:
    return key.owner is not None and prior_of(key.name).odds


def _decibels(ratio: Any) -> Any:
    """Complex decibels: level as real part, phase on the same scale as imaginary part."""
    return 20 / np.log(10) * np.log(ratio + 0j)


def binned(curve: MeasuredCurve, band: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Average a curve's complex decibels in bins, so that the density of points does not count."""
    f = curve.frequency
    inside = (f >= band[0]) & (f <= band[1])
    if inside.sum() < 8:
        raise BadSetting(
            curve.name,
            f"has {inside.sum()} points from {band[0]:g} to {band[1]:g} Hz",
            "measure 8 or more there, or widen the band",
        )
    phase = 0.0
    if curve.kind == "impedance" and curve.phase_deg is not None:
        phase = np.unwrap(np.radians(curve.phase_deg[inside]))
    measured = curve.level[inside] + 20j / np.log(10) * phase
    bin_number = np.floor(_PER_DECADE * np.log10(f[inside] / band[0]) + CLOSE).astype(int)
    _, group, count = np.unique(bin_number, return_inverse=True, return_counts=True)
    mean = [np.bincount(group, part) / count for part in (measured.real, measured.imag)]
    return np.exp(np.bincount(group, np.log(f[inside])) / count), mean[0] + 1j * mean[1]


@dataclass(frozen=True, eq=False)
class Solution:
    """Fitted logarithms, their covariance with the priors, and the cost."""

    keys: tuple[Key, ...]
    x: np.ndarray
    covariance: np.ndarray
    prior_within: np.ndarray
    cost: float
    settled: bool

    def logarithms(self) -> dict[Key, float]:
        """What was found, by key."""
        return dict(zip(self.keys, self.x.tolist(), strict=True))

    def check(self) -> None:
        """Refuse what has not settled."""
        if not self.settled:
            raise NoSolution(
                "fit_pickup",
                f"the fit did not converge within {_STEPS} steps",
                "check loads and slopes, or give a measured resistance or inductance",
            )

    def scale_within(self, keys: Sequence[Key]) -> float:
        """How well these data and priors set the scale of all impedances, a share.

        It is one standard deviation of their common factor, their ratios given.
        """
        along = np.zeros(len(self.keys))
        for key in keys:
            along[self.keys.index(key)] = _SCALED.get(key.field or key.name.rpartition(".")[2], 0)
        return float((along @ np.linalg.inv(self.covariance) @ along) ** -0.5)

    def bayes(self, readings: int) -> float:
        """Cost with a penalty for every unknown (half of Schwarz's criterion)."""
        return self.cost + 0.5 * len(self.keys) * float(np.log(readings))


_NOWHERE: Mapping[str, Mapping[Key, float]] = MappingProxyType({})


class Problem:
    """Several pickups measured on one rig, with own and shared unknowns."""

    def __init__(self, tasks: Sequence[PickupResiduals]) -> None:
        self.tasks = list(tasks)
        priors: dict[Key, tuple[float, float]] = {}
        for task in tasks:
            for key, prior in task.priors.items():
                if priors.setdefault(key, prior) != prior:
                    raise BadSetting(
                        f"{key.name} {key.field}".strip(),
                        "is given around two different values",
                        "give one, or two names",
                    )
        self.keys = tuple(priors)
        self.around, self.within = np.array(list(priors.values())).T
        index = {key: i for i, key in enumerate(self.keys)}
        self.columns = [np.array([index[key] for key in task.priors]) for task in tasks]

    def linearised(self, x: np.ndarray, only: int | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Residuals and Jacobian of data and priors."""
        rows, slopes = [], []
        for i, (task, columns) in enumerate(zip(self.tasks, self.columns, strict=True)):
            if only is None or i == only:
                plain, slope = task.linearised(x[columns])
                whole = np.zeros((plain.size, x.size))
                whole[:, columns] = slope
                rows.append(plain)
                slopes.append(whole)
        rows.append((x - self.around) / self.within)
        slopes.append(np.diag(1 / self.within))
        return np.concatenate(rows), np.vstack(slopes)

    def _minimum(self, start: np.ndarray, free: np.ndarray, only: int | None, steps: int) -> Any:
        from scipy.optimize import least_squares  # slow to import

        cache: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}

        def at(part: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            key = part.tobytes()
            if key not in cache:
                cache.clear()
                x = start.copy()
                x[free] = part
                rows, slopes = self.linearised(x, only)
                cache[key] = rows, slopes[:, free]
            return cache[key]

        reach = 8 * self.within[free]
        return least_squares(
            lambda part: at(part)[0],
            start[free],
            lambda part: at(part)[1],
            bounds=(self.around[free] - reach, self.around[free] + reach),
            x_scale=np.minimum(self.within[free], 0.5),
            ftol=1e-8 if only is None else 1e-5,
            xtol=1e-8 if only is None else 1e-5,
            max_nfev=steps,
        )

    def _starts(self, task: PickupResiduals) -> list[dict[Key, float]]:
        """Starting points, as shifts of logarithms."""
        label = task.label
        readings = [one.inductance for told in task.measured for one in told.inductance]
        coils = [name for name in task.names if name.endswith("inductance")]
        if readings and len(coils) == 1:
            middle = task.priors[Key(label, coils[0])][0]
            sizes = [float(np.log(readings[0]) - middle)]
        else:
            sizes = [float(np.log(factor)) for factor in _STARTS_L]
        screens = [name for name in task.names if name.endswith("screening_frequency")]
        factors = [float(np.log(f)) for f in _STARTS_SCREEN] if screens else [0.0]
        return [
            {Key(label, name): size for name in coils}
            | {Key(label, name): factor for name in screens}
            for size in sizes
            for factor in factors
        ]

    def solve(self, near: Mapping[str, Mapping[Key, float]] = _NOWHERE) -> Solution:
        """Fit each pickup alone from several starts, then all together.

        ``near`` holds what was found for a pickup before, as logarithms: then its only start.
        """
        x = self.around.copy()
        for i, task in enumerate(self.tasks):
            if task.label in near:
                for key, value in near[task.label].items():
                    if key in self.keys:
                        x[self.keys.index(key)] = value
                continue
            of_task = np.array([key.owner == task.label for key in self.keys])
            results = []
            for shifts in self._starts(task):
                start = self.around.copy()
                for key, shift in shifts.items():
                    start[self.keys.index(key)] += shift
                near = 4 * self.within  # a narrow prior leaves no room for far starts
                start = np.clip(start, self.around - near, self.around + near)
                results.append(self._minimum(start, of_task, i, 60))
            x[of_task] = ranked(results, lambda result: result.cost)[0].x
        result = self._minimum(x, np.ones(x.size, dtype=bool), None, _STEPS)
        rows, slopes = self.linearised(result.x)
        count = rows.size - self.around.size
        prior = np.diag(self.within**-2)
        information = slopes[:count].T @ slopes[:count]
        # Unknowns that the data determine, and not the priors, take readings away.
        taken = float(np.trace(np.linalg.solve(information + prior, information)))
        readings = sum(task.readings for task in self.tasks)
        # What a reading is worth is what the model misses, but never better than the least.
        missed = float(rows[:count] @ rows[:count])
        if any(task.curves for task in self.tasks):
            worth = max(_IN_COMMON * missed / max(readings - taken, 0.5 * readings), _LEAST)
        else:
            worth = max(missed / readings, 1.0)
        covariance = np.linalg.inv(information / worth + prior)
        settled = result.status > 0 and bool(np.isfinite(result.cost))
        return Solution(self.keys, result.x, covariance, self.within, float(result.cost), settled)
