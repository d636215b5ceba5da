"""How well a treble bleed keeps shape and level over the travel: the goal and the scores."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, a, asked, listed, mapped, nearest, pair
from ...gate import public
from ...ranking import at_most, most
from ...units import Quantity, format_value
from ..response.labels import place_in_words, value_in_words
from ..response.sweep import BAND
from .port import Port

__all__ = [
    "BleedGoal",
    "Score",
    "Scores",
    "location_label",
    "read_band",
    "read_goal",
]

_HZ = Quantity("Hz", above=0)
_WEIGHT = Quantity("number", at_least=0)
_MARK = Quantity("mark", at_least=0, at_most=10)
_DECIBEL = Quantity("number", above=0)
_BLOCK = 4000  # candidates times settings evaluated at once, so that a block stays in the cache


@public
@dataclass(frozen=True)
class BleedGoal:
    """What a treble bleed must keep as you turn the volume down.

    Parameters
    ----------
    band : pair of float or str
        Lowest and highest frequency [Hz] in which the shape counts.
    marks : sequence of float
        Knob marks that count. Each is compared with mark 10, which is always computed.
    mark_weights : mapping of float to float, optional
        Weight of each mark; equal by default.
    frequency_weight : callable, optional
        Function from frequencies [Hz] to weights; every octave is equal by default.
    taper : float
        Weight of the level error relative to the shape error; 0 leaves it out of the ranking.
    over : {"worst", "mean"}
        What counts for several cables, pots or pickups: the worst, or the root mean square.
    within : float, optional
        Largest allowed deviation of the shape [dB].
    reference_frequency : float or str
        Frequency [Hz] at which levels are matched and the taper is measured.

    Raises
    ------
    BadSetting, BadValue
        If a value is out of range, or nothing has weight.

    Examples
    --------
    >>> BleedGoal(band=("200 Hz", "3 kHz"), taper=0).band
    (200.0, 3000.0)
    """

    band: tuple[Any, Any] = BAND
    marks: tuple[float, ...] = tuple(range(11))
    mark_weights: Mapping[float, float] | None = None
    frequency_weight: Callable[[np.ndarray], Any] | None = None
    taper: float = 1.0
    over: str = "worst"
    within: float | None = None
    reference_frequency: Any = 100.0

    def __post_init__(self) -> None:
        band = read_band(self.band, "goal.band")
        given = listed(self.marks, "goal.marks", "give marks from 0 to 10, such as [8, 5, 2]")
        marks = sorted({float(_MARK.read(m, "goal.marks")) for m in given})  # type: ignore[arg-type]
        if not any(mark < 10 for mark in marks):
            raise BadSetting("goal.marks", "holds no mark below 10", "give at least one")
        if self.over not in ("worst", "mean"):
            raise BadSetting("goal.over", f"{self.over!r} is unknown", "use 'worst' or 'mean'")
        fix = "give weights by mark, such as {5: 2}"
        weights = mapped(
            {} if self.mark_weights is None else self.mark_weights, "goal.mark_weights", fix
        )
        weights = {_MARK.read(mark, "goal.mark_weights"): w for mark, w in weights.items()}
        for mark in weights:
            if mark not in marks:
                raise BadSetting("goal.mark_weights", f"{mark:g} is no mark of it", "add the mark")
        by_mark = {m: self._read_weight(weights.get(m, 1.0)) for m in marks}
        if self.frequency_weight is not None and not callable(self.frequency_weight):
            raise BadSetting(
                "goal.frequency_weight",
                f"{a(type(self.frequency_weight))} is no function",
                "give one from frequencies to weights, such as lambda f: f > 1000",
            )
        if not any(weight for mark, weight in by_mark.items() if mark < 10):
            raise BadSetting("goal.mark_weights", "leave nothing below 10", "give one above 0")
        set_ = object.__setattr__
        set_(self, "band", band)
        set_(self, "marks", tuple(marks))
        set_(self, "mark_weights", {m: w for m, w in by_mark.items() if m < 10})
        set_(self, "taper", _WEIGHT.read(self.taper, "goal.taper"))
        if self.within is not None:
            set_(self, "within", _DECIBEL.read(self.within, "goal.within"))
        hertz = _HZ.read(self.reference_frequency, "goal.reference_frequency")
        set_(self, "reference_frequency", hertz)

    @staticmethod
    def _read_weight(weight: Any) -> float:
        number = _WEIGHT.read(weight, "goal.mark_weights")
        assert number is not None
        return number

    def frequencies(self, per_octave: int) -> tuple[np.ndarray, np.ndarray]:
        """Frequencies of the band with the reference last, and weights of the band."""
        low, high = self.band
        count = max(8, round(per_octave * float(np.log2(high / low))) + 1)
        f = np.geomspace(low, high, count)
        weights = np.ones(count)
        weights[[0, -1]] = 0.5  # so that every octave counts the same
        if self.frequency_weight is not None:
            weights = weights * self._given_weights(f)
        if not (np.isfinite(weights).all() and (weights >= 0).all() and weights.any()):
            raise BadSetting(
                "goal.frequency_weight", "gives no weights", "return numbers from 0, not all 0"
            )
        return np.append(f, self.reference_frequency), weights / weights.sum()

    def _given_weights(self, f: np.ndarray) -> np.ndarray:
        """Weights from the given function."""
        assert self.frequency_weight is not None
        fix = "give one from frequencies to weights, such as lambda f: f > 1000"
        weights = asked(self.frequency_weight, "goal.frequency_weight", fix, f)
        try:
            return np.broadcast_to(np.asarray(weights, dtype=float), f.shape)
        except (TypeError, ValueError):
            raise BadSetting(
                "goal.frequency_weight",
                f"{a(type(weights))} of shape {np.shape(weights)} came of {f.size} frequencies",
                "return one number for each frequency",
            ) from None

    def description(self, knob: str) -> str:
        """Sentences about what is computed, with the references of the decibels."""
        low, high = (format_value(limit, "Hz") for limit in self.band)
        matched = format_value(self.reference_frequency, "Hz")
        equal = len(set(self.mark_weights.values()) - {0.0}) == 1  # type: ignore[union-attr]
        listed = [f"{mark:g}" for mark, weight in self.mark_weights.items() if weight]  # type: ignore[union-attr]
        marks = ", ".join(listed)
        if len(listed) > 4:
            marks = f"{listed[0]} to {listed[-1]}, {len(listed)} of them"
        octaves = "every octave equal" if self.frequency_weight is None else "weighted as given"
        rank = "treble alone" if self.taper == 0 else "root of treble² + taper²"
        if self.taper not in (0, 1):
            rank = f"root of treble² + {self.taper:g} taper²"
        return (
            f"Treble: rms deviation of the shape from {knob} 10, {low} to {high}, {octaves}, "
            f"levels "
            f"matched at {matched}. Taper: rms change of the level at {matched} re {knob} 10, "
            f"compared with the guitar without a bleed. Marks: {marks}, "
            f"{'all equal' if equal else 'weighted as given'}; silent ones left out. "
            f"Ranked by the {rank}."
        )


def read_band(band: Any, where: str) -> tuple[float, float]:
    """Read the lowest and the highest frequency of a band [Hz]."""
    fix = "give (low, high) in hertz"
    low, high = (_HZ.read(limit, where) for limit in pair(band, where, fix))
    if low is None or high is None or not low < high:
        raise BadSetting(where, f"{band!r} is no band", fix)
    return low, high


def read_goal(goal: Any) -> BleedGoal:
    """Read a goal, or the name of one."""
    if isinstance(goal, BleedGoal):
        return goal
    known = {"treble and taper": BleedGoal(), "treble": BleedGoal(taper=0)}
    if isinstance(goal, str) and goal in known:
        return known[goal]
    if isinstance(goal, str):
        raise BadSetting("goal", f"there is no goal {goal!r}", nearest(goal, known), goal)
    raise BadSetting(
        "goal", f"{goal!r} is no goal", "give 'treble' or gn.choosing.BleedGoal(...)", goal
    )


@dataclass(frozen=True)
class Score:
    """The numbers of one candidate.

    Parameters
    ----------
    treble, taper : float
        Root mean square deviation of shape and of level [dB].
    worst : float
        Largest deviation of the shape, with its sign [dB].
    worst_at : mapping
        Where: the knob's mark, the ``frequency`` [Hz], and the condition if there are several.
    overshoot : float
        Largest rise of the shape above that of mark 10 [dB], at least 0.
    level : float
        Largest change of level, with its sign [dB].
    """

    treble: float
    taper: float
    worst: float
    worst_at: Mapping[str, Any]
    overshoot: float
    level: float


class Scores:
    """Scores of candidates relative to the guitar without a bleed, from its port.

    Parameters
    ----------
    port : Port
        The port at the goal's frequencies, with the reference last.
    weights : numpy.ndarray
        Weights of the frequencies.
    goal : BleedGoal
        The goal.
    knob : str
        The volume's dimension.

    Raises
    ------
    BadSetting
        If the guitar is silent.
    """

    def __init__(self, port: Port, weights: np.ndarray, goal: BleedGoal, knob: str) -> None:
        self.goal, self.knob, self.weights = goal, knob, weights
        self.others = tuple(str(d) for d in port.open.dims if d not in (knob, "frequency"))
        self.dims = ("frequency", *self.others, knob)
        self.coords = port.open.coords
        self.frequency = port.open["frequency"].values
        self.marks = port.open[knob].values
        self.reference = int(np.flatnonzero(self.marks == 10)[0])
        above, below = port.squares(self.dims)
        self.shape = above.shape[1:-1]  # conditions, then marks
        audible = (np.abs(port.open.transpose(*self.dims).values) > 0).all(axis=0)
        self.audible = audible.reshape(-1, self.marks.size)
        if not self.audible[:, self.reference].all():
            raise BadSetting(knob, "is silent at 10 without a bleed", "check the other settings")
        given = np.array([goal.mark_weights.get(m, 0.0) for m in self.marks])  # type: ignore[union-attr]
        mark_weights = self.audible * given
        totals = mark_weights.sum(axis=-1, keepdims=True)
        if not totals.all():
            raise BadSetting(knob, "is silent at every mark below 10", "add marks above 0")
        self.mark_weights = mark_weights / totals
        self.counted = mark_weights > 0
        # A silent mark has no level; it gets a dummy level and no weight.
        flat = (self.frequency.size, self.audible.size, 4)
        above, below = above.reshape(flat), below.reshape(flat)
        silent = ~self.audible.ravel()
        above[:, silent] = below[:, silent] = (1.0, 0.0, 0.0, 0.0)
        self.above, self.below = (
            np.ascontiguousarray(c.transpose(0, 2, 1)) for c in (above, below)
        )
        self.plain = self._taper(self.levels(np.zeros((1, self.frequency.size))))[0]

    def levels(self, siemens: np.ndarray) -> np.ndarray:
        """Level [dB re 1 V/V] by frequency, candidate, condition and mark."""
        y = siemens.T
        features = np.stack([np.ones(y.shape), y.real, y.imag, y.real**2 + y.imag**2], axis=-1)
        power = (features @ self.above) / (features @ self.below)
        with np.errstate(divide="ignore"):
            levels = 10 * np.log10(power)
        return levels.reshape(y.shape[0], -1, *self.audible.shape)

    def _taper(self, levels: np.ndarray) -> np.ndarray:
        """Level at the reference frequency relative to mark 10."""
        return levels[-1] - levels[-1][..., self.reference, None]

    def deviations(self, levels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Deviation of the shape and change of the level; 0 for what does not count."""
        shape = levels[:-1] - levels[-1]
        shape -= shape[..., self.reference, None]
        return shape * self.counted, (self._taper(levels) - self.plain) * self.counted

    def many(self, siemens: np.ndarray) -> np.ndarray:
        """Treble, taper and size of the worst deviation [dB] of many candidates, a row each."""
        block = max(1, _BLOCK // self.audible.size)
        rows = [
            self._rows(siemens[first : first + block]) for first in range(0, len(siemens), block)
        ]
        return np.concatenate(rows)

    def _rows(self, siemens: np.ndarray) -> np.ndarray:
        shape, level = self.deviations(self.levels(siemens))
        worst = np.maximum(shape.max(axis=(0, 2, 3)), -shape.min(axis=(0, 2, 3)))
        squared = np.tensordot(self.weights, np.square(shape), axes=1)
        return np.column_stack([self._over(squared), self._over(level**2), worst])

    def _over(self, squared: np.ndarray) -> np.ndarray:
        """Root mean square over marks, then over the conditions."""
        each = (squared * self.mark_weights).sum(axis=-1)
        return np.sqrt(each.max(axis=-1) if self.goal.over == "worst" else each.mean(axis=-1))

    def cost(self, rows: np.ndarray) -> np.ndarray:
        """Ranking number of candidates; infinite if the shape exceeds the limit."""
        cost = np.sqrt(rows[..., 0] ** 2 + self.goal.taper * rows[..., 1] ** 2)
        if self.goal.within is None:
            return cost
        return np.where(at_most(rows[..., 2], self.goal.within), cost, np.inf)

    def score(self, h: xr.DataArray) -> Score:
        """Score a response at the goal's frequencies, with its reference."""
        reference = h.coords["at_reference"].transpose(*self.dims[1:]).values
        both = np.concatenate([h.transpose(*self.dims).values, reference[None]])
        levels = np.zeros((self.frequency.size, 1, *self.audible.shape))
        np.log10(np.abs(both).reshape(levels[:, 0].shape), out=levels[:, 0], where=self.audible)
        shape, level = self.deviations(20 * levels)
        squared = np.tensordot(self.weights, shape**2, axes=1)
        one = shape[:, 0]
        at = np.unravel_index(most(np.abs(one).ravel()), one.shape)
        shifted = level[0].ravel()
        return Score(
            float(self._over(squared)[0]),
            float(self._over(level**2)[0]),
            float(one[at]),
            self._where(*(int(index) for index in at)),
            float(max(one.max(), 0.0)),
            float(shifted[most(np.abs(shifted))]),
        )

    def _where(self, frequency: int, condition: int, mark: int) -> dict[str, Any]:
        indices = dict(zip(self.others, np.unravel_index(condition, self.shape[:-1]), strict=True))
        location: dict[str, Any] = {
            self.knob: float(self.marks[mark]),
            "frequency": float(self.frequency[frequency]),
        }
        for name, index in indices.items():
            location[name] = int(index)
            if name in self.coords:
                value = self.coords[name].values.ravel()[index]
                location[name] = value_in_words(value, self.coords[name].attrs.get("units", ""))
        return location


def location_label(location: Mapping[str, Any]) -> str:
    """Label of where a worst deviation is."""
    rest = {name: value for name, value in location.items() if name != "frequency"}
    knob = next(iter(rest))
    others = [f"{name} {value}" for name, value in rest.items() if name != knob]
    hertz = format_value(location["frequency"], "Hz", digits=2)
    return ", ".join([place_in_words({knob: rest[knob]}), hertz, *others])
