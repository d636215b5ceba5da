"""Result of a fit: values, warnings, predictions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

import numpy as np
import xarray as xr

from ...errors import BadSetting, NoSolution, Unusual
from ...gate import insisted, public
from ...identity import ByValue
from ...parts.humbucker import Humbucker
from ...parts.pickup import Pickup
from ...ranking import ranked
from ...table import Table, Tabled
from ...units import format_value, plain_words, sentence
from ..response.labels import decibels
from ..response.sweep import read_frequency
from . import coil_model
from .curves import MeasuredCurve
from .loads import Load, Unknown, admittance_of, check_load
from .measured import ReadingFit
from .part import part_of
from .problem import (
    COIL_OF,
    USUAL,
    Key,
    PickupResiduals,
    Solution,
    binned,
    outward,
    prior_of,
    spread_of,
)

__all__ = ["CurveFit", "FittedValue", "PickupFit", "moved", "result_of"]

_SAME = 0.95  # correlation above which two values cannot be separated
_UNDETERMINED = 0.75  # a spread this close to the prior: the data say little
_POOR = 0.5  # dB rms; a warning from here
_LOST = 3.0  # dB rms; a larger miss is an error
_DOUBTED, _REFUSED = 2.0, 5.0  # miss of a reading, in units of its stated accuracy
_LEVELS, _FLAGGED = 0.75, 0.5  # dB; range of levels that is reported, and by a curve from there on
_LOWEST, _LOW = 80.0, 250.0  # Hz; between them a pickup is flat
_SCALE = 0.05  # share; above it only ratios are known
_BEYOND = 1.5  # factor outside the published ranges; a warning from here
_LOAD_UNITS = {"resistance": "ohm", "capacitance": "F", "dissipation": "number"}
# The sets in tests/reference gave 8 to 45 % and 2 to 4 kHz; volts or rad/s in place of dB over Hz
# give 8 to 21 kHz, and over half of L or hardly any L; 10 log10 in place of 20 mostly a high share.
_SHARE_ASKED, _SHARE_DOUBTED, _SCREENING_ASKED, _HENRY_ASKED = 0.47, 0.55, 7.5e3, 0.5


_EXCITER = ("screening_frequency", "slow_share", "slow_frequency")


@public
@dataclass(frozen=True)
class FittedValue:
    """One fitted value.

    Parameters
    ----------
    value : float
        The value, in SI.
    error : float
        Standard error, with the prior.
    unit : str
        Unit.
    determined : bool
        Whether the data determine it; if not, it stays near a typical value.

    Examples
    --------
    >>> print(FittedValue(2.4, 0.05, "H", True))
    2.4 H ± 50 mH
    """

    value: float
    error: float
    unit: str
    determined: bool

    def __str__(self) -> str:
        return f"{_shown(self.value, self.unit)} ± {_shown(self.error, self.unit, 2)}"


@public
@dataclass(frozen=True, eq=False)
class CurveFit(ByValue):
    """A measured curve beside its model.

    Parameters
    ----------
    curve : MeasuredCurve
        The measured curve.
    measured, model, residual : numpy.ndarray
        Level at the curve's frequencies [dB re 1 V/V, or re 1 ohm for an impedance]: measured, in
        the model's scale if its own is unknown; the model; measured minus model.
    rms : float
        Size of the residual in the band of the fit [dB], evenly weighted over log frequency.
    above : float
        How far its level up to 250 Hz lies above the median of all curves of the rig, their loads
        allowed for [dB]; nan if there is no other curve, or its level is known.
    counts : bool
        Whether it was fitted, or left out because it lies off.

    Examples
    --------
    >>> from guitarnet.study.fit.fit import fit_pickup
    >>> f = np.geomspace(50, 15e3, 80)
    >>> level = -10 * np.log10((1 - (f / 5e3) ** 2) ** 2 + (f / 15e3) ** 2)
    >>> fit = fit_pickup(MeasuredCurve(f, level, load=Load()))
    >>> isinstance(fit.curves[0], CurveFit), bool(fit.curves[0].rms < 0.5)
    (True, True)
    """

    curve: MeasuredCurve
    measured: np.ndarray
    model: np.ndarray
    residual: np.ndarray
    rms: float
    above: float = math.nan
    counts: bool = True


@public
@dataclass(frozen=True, eq=False, repr=False)
class PickupFit(Tabled, ByValue):
    """A pickup fitted to measurements. Made by `guitarnet.fit_pickup` and `fit_pickups`.

    Parameters
    ----------
    name : str
        Name of the pickup.
    pickup : Pickup or Humbucker
        The pickup as a part of a guitar, with all that `predict` has: a coil beside an idle one is
        a `guitarnet.Humbucker` split to its first coil, whose second stands for the idle one. What
        is the rig's is in ``loads``, and not in the part: the instrument and the test capacitor.
    values : mapping of str to FittedValue
        Every value of the model, by name.
    loads : mapping of str to FittedValue
        Loads that were unknown, with the instrument's.
    curves : tuple of CurveFit
        The fitted curves.
    warnings : tuple of str
        Warnings: what the data do not determine, and what looks wrong.
    band : pair of float
        Lowest and highest fitted frequency [Hz].
    instrument : Load
        Load of the instrument in the string curves.
    readings : tuple of ReadingFit
        Single readings, each beside the value of the model.
    cost : float
        Half the sum of squares at the solution, for all pickups of the fit.
    scale_within : float
        How well the scale of impedance is known, a share: the standard error that inductance,
        resistances and one over capacitance have in common.
    covariance : xarray.DataArray
        Covariance of the logarithms of all values and loads, with the priors; of a share s that of
        log(s / (1 - s)). `guitarnet.fitting.draw_pickup` draws pickups by it.

    Examples
    --------
    >>> from guitarnet.study.fit.fit import fit_pickup
    >>> from guitarnet.study.fit.measured import PeakReading
    >>> peak = PeakReading("9 kHz", Load())
    >>> fit: PickupFit = fit_pickup(resistance="6.2k", inductance="2.4 H", peak=peak)
    >>> print(fit.pickup.label())
    6.2 kΩ, 2.406 H, 129.8 pF
    """

    name: str
    pickup: Pickup | Humbucker
    values: Mapping[str, FittedValue]
    loads: Mapping[str, FittedValue]
    curves: tuple[CurveFit, ...]
    warnings: tuple[str, ...]
    band: tuple[float, float]
    instrument: Load
    readings: tuple[ReadingFit, ...]
    cost: float
    scale_within: float
    covariance: xr.DataArray

    def predict(
        self,
        load: Load,
        frequency: Any = None,
        *,
        instrument: bool = True,
        reference_frequency: float | str = 100.0,
        connection: Literal["", "series", "parallel", "coil 1", "coil 2"] = "",
    ) -> xr.DataArray:
        """Predict the driven pickup's response under another load.

        Parameters
        ----------
        load : Load
            The load; an unknown with a fitted name has its fitted value.
        frequency : array_like, optional
            Frequencies [Hz]; by default a logarithmic grid from 20 Hz to 20 kHz.
        instrument : bool
            Whether the instrument loads the pickup too.
        reference_frequency : float or str
            As in `guitarnet.response`.
        connection : {"", "series", "parallel", "coil 1", "coil 2"}
            How the coils of a humbucker are connected, if it was fitted as two coils; in series
            unless given.

        Returns
        -------
        xarray.DataArray
            Complex [V/V], as from `guitarnet.response`.

        Raises
        ------
        BadSetting
            If the load is unknown and was not fitted, or the pickup has no two coils to connect.
        """
        two = "coupling" in self.values
        if connection and not two:
            raise BadSetting("connection", f"{self.name} was fitted as one coil", "leave it out")
        check_load(load, "predict")
        hertz = read_frequency(frequency)
        reference = read_frequency(reference_frequency)
        if reference.size != 1:
            raise BadSetting("reference_frequency", "is not one frequency", "give one, as 100")
        columns = np.append(hertz, reference)
        across = [load, self.instrument] if instrument else [load]
        y = sum(admittance_of(one, columns, partial(self._known, one)) for one in across)
        numbers = {name: fitted.value for name, fitted in self.values.items()}
        how = (connection or "series") if two else ""
        h = coil_model.string_response(numbers, columns, y, how)
        axis = {"units": "Hz", "long_name": "frequency"}
        coords = {
            "frequency": xr.Variable(("frequency",), hertz, axis),
            "reference_frequency": xr.Variable((), reference[0], {"units": "Hz"}),
            "at_reference": xr.Variable((), abs(h[-1])),
        }
        attrs = {
            "units": "V/V",
            "long_name": f"response of the driven pickup, {load}",
            "assumptions": ""
            if any(name.endswith("eddy_resistance") for name in self.values)
            else "lossless coil assumed",
        }
        return xr.DataArray(h[:-1], coords, ["frequency"], name="response", attrs=attrs)

    def _known(self, load: Load, field: str) -> float:
        value = getattr(load, field)
        if not isinstance(value, Unknown):
            return float(value)
        name = f"{value.name} {field}".strip()
        if name not in self.loads:
            raise BadSetting(f"load {field}", "is unknown and was not fitted", "give its value")
        return self.loads[name].value

    @property
    def missed(self) -> xr.DataArray:
        """What ``pickup`` misses of the fitted curves, over frequency [dB rms in third octaves].

        Levels are matched from 80 to 250 Hz, as a response re 100 Hz has it.
        """
        lowest, highest = (
            round(3 * math.log2(edge / 1000) + inwards)
            for edge, inwards in zip(self.band, (0.5, -0.5), strict=True)
        )
        centres = 1000 * 2.0 ** (np.arange(lowest, highest + 1) / 3)
        rows = []
        for curve in self.curves:
            if curve.counts:
                f, off = curve.curve.frequency, curve.residual
                low = (f >= _LOWEST) & (f <= _LOW)
                off = off - (off[low].mean() if low.any() else 0.0)
                inside = np.abs(np.log2(f[:, None] / centres)) <= 1 / 6
                total = (off[:, None] * inside).sum(axis=0)
                rows.append(total / np.maximum(inside.sum(axis=0), 1))
        rms = np.sqrt(np.mean(np.square(rows), axis=0)) if rows else np.full(centres.size, np.nan)
        axis = xr.Variable("frequency", centres, {"units": "Hz"})
        return xr.DataArray(rms, {"frequency": axis}, name="missed", attrs={"units": "dB"})

    def table(self) -> Table:
        """Return values, standard errors, residuals and warnings as a table."""
        rows = []
        for name, fitted in {**self.values, **self.loads}.items():
            note = self._owner(name)
            if not fitted.determined:
                note = "; ".join(filter(None, [note, "hardly determined by this data"]))
            value, error = _shown(fitted.value, fitted.unit), _shown(fitted.error, fitted.unit, 2)
            rows.append((plain_words(name), value, error, note))
        for one in self.readings:
            note = (
                f"stated {_shown(one.stated, one.unit)}, off {abs(one.miss):.1f} times its accuracy"
            )
            rows.append((f"reading, {one.name}", _shown(one.fitted, one.unit), "", note))
        for curve in self.curves:
            note = "rms" if curve.counts else "rms, left out of the fit"
            rows.append((f"residual, {curve.curve.name}", f"{curve.rms:.2f} dB", "", note))
        title = f"{self.name}, fitted from {self.band[0]:g} to {self.band[1]:g} Hz"
        return Table(("quantity", "value", "±", "note"), rows, title, "\n".join(self.warnings))

    def _owner(self, name: str) -> str:
        """Whose a value is, where it is not the pickup's alone."""
        if name in self.loads:
            return "the rig's"
        driven = self.instrument != Load()
        if name == "capacitance" and driven and self.instrument.capacitance == 0.0:
            return "with the instrument's"
        return "perhaps the exciter's in part" if name in _EXCITER else ""

    def _records(self) -> Iterator[dict[str, Any]]:
        for name, fitted in {**self.values, **self.loads}.items():
            yield {
                "quantity": name,
                "value": fitted.value,
                "error": fitted.error,
                "unit": fitted.unit,
                "determined": fitted.determined,
            }


def result_of(task: PickupResiduals, solution: Solution, band: tuple[float, float]) -> PickupFit:
    """Read one pickup's result from a solution."""
    index = {key: i for i, key in enumerate(solution.keys)}
    error = np.sqrt(np.diag(solution.covariance))
    values: dict[str, FittedValue] = {}
    loads: dict[str, FittedValue] = {}
    stated = {
        Key(task.label, f"{COIL_OF.get(told.connection, '')}.resistance".removeprefix("."))
        for told in task.measured
        if told.resistance is not None
    }
    for key in task.priors:
        i = index[key]
        x = float(solution.x[i])
        determined = bool(key in stated or error[i] < _UNDETERMINED * solution.prior_within[i])
        unit = prior_of(key.name).unit if key.owner else _LOAD_UNITS[key.field]
        fitted = FittedValue(
            float(outward(key, x)), spread_of(key, x, float(error[i])), unit, determined
        )
        if key.owner:
            values[key.name] = fitted
        else:
            loads[f"{key.name} {key.field}"] = fitted
    logs = solution.x[[index[key] for key in task.priors]]
    # In the order of names: the pickup's own values, then the loads.
    own = sorted(task.priors, key=lambda key: not key.owner)
    curves = tuple(
        fit
        for told in task.measured
        for fit in _with_levels(
            _curve_fit(task, curve, how, logs, band)
            for how, curve in task.curves
            if how == told.connection
        )
    )
    readings = tuple(_checked(task, task.reading_fits(logs)))
    driven = any(curve.kind == "string" for _, curve in task.curves)
    coils = _coils(values)
    if driven:
        for which, coil in coils.items():
            _ask_losses(f"{task.label}, {which}" if which else task.label, coil)
    scale = solution.scale_within(list(task.priors))
    numbers = {name: fitted.value for name, fitted in values.items()}
    return PickupFit(
        name=task.label,
        pickup=part_of(numbers, _source(curves)),
        values=values,
        loads=loads,
        curves=curves,
        warnings=(
            *_level_sentences(curves),
            *_scale_sentence(driven, scale),
            *(words for which, coil in coils.items() for words in _cautions(which, coil, curves)),
            *_doubts(readings),
            *_warnings(task, solution, index, values, curves),
        ),
        band=band,
        instrument=task.instrument if driven else Load(),
        readings=readings,
        cost=solution.cost,
        scale_within=scale,
        covariance=_covariance([*values, *loads], solution, [index[key] for key in own]),
    )


def _covariance(names: list[str], solution: Solution, rows: list[int]) -> xr.DataArray:
    """Covariance of the logarithms of one pickup's values."""
    return xr.DataArray(
        solution.covariance[np.ix_(rows, rows)],
        {"value": names, "value_2": names},
        ["value", "value_2"],
        name="covariance",
        attrs={"long_name": "covariance of the logarithms, of a share that of its odds"},
    )


def _with_levels(curves: Iterable[CurveFit]) -> tuple[CurveFit, ...]:
    """Compare the levels of curves whose rig is one."""
    fits = list(curves)
    levels: dict[int, float] = {}
    for i, one in enumerate(fits):
        f = one.curve.frequency
        low = (f >= _LOWEST) & (f <= _LOW)
        if one.curve.kind == "string" and not one.curve.known_scale and low.any():
            levels[i] = float(np.mean((one.curve.level - one.model)[low]))
    if len(levels) > 1:
        middle = float(np.median(list(levels.values())))
        for i, level in levels.items():
            fits[i] = replace(fits[i], above=level - middle)
    return tuple(fits)


def moved(curves: Sequence[CurveFit]) -> list[CurveFit]:
    """Curves that lie off the level of the others; both of two, because either may."""
    levels = [one for one in curves if not math.isnan(one.above)]
    if not levels or max(o.above for o in levels) - min(o.above for o in levels) <= _LEVELS:
        return []
    if len(levels) == 2:
        return levels
    farthest = ranked(levels, lambda one: -abs(one.above))[0]
    return [one for one in levels if abs(one.above) > _FLAGGED or one is farthest]


def _level_sentences(curves: Sequence[CurveFit]) -> list[str]:
    """Sentences about curves that lie off what their loads explain."""
    off = moved(curves)
    again = "the pickup, the exciter or the gain moved between the sweeps; measure again"
    if len(off) == 2 and sum(not math.isnan(one.above) for one in curves) == 2:
        high, low = sorted(off, key=lambda one: -one.above)
        return [
            f"The {high.curve.name} curve lies {high.above - low.above:.1f} dB above the "
            f"{low.curve.name} curve, loads allowed for: {again}."
        ]
    return [
        f"The {one.curve.name} curve lies {abs(one.above):.1f} dB "
        f"{'high' if one.above > 0 else 'low'}, loads allowed for: {again}."
        for one in off
    ]


def _scale_sentence(driven: bool, within: float) -> list[str]:
    """Say where nothing absolute was told."""
    if not driven or within <= _SCALE:
        return []
    return [
        "Nothing that was told sets the scale of impedance: inductance, capacitance, resistance "
        f"and loss are known as ratios only, together within {100 * within:.0f} %. Give the DC "
        "resistance, an inductance, or a test capacitor metered to 1 %."
    ]


def _ask_losses(label: str, values: Mapping[str, FittedValue]) -> None:
    """Ask about losses that no pickup has shown, but curves in another unit do."""
    if insisted() or "screening_frequency" not in values:
        return
    share, screening = values["eddy_share"].value, values["screening_frequency"].value
    odd = share > _SHARE_ASKED or values["inductance"].value < _HENRY_ASKED
    if odd and screening > _SCREENING_ASKED:
        raise Unusual(
            label,
            f"comes out with eddy loss on {100 * share:.0f} % of L and screening from "
            f"{_shown(screening, 'Hz', 2)}, which no measured pickup gave (8 to 45 %, 2 to 4 kHz)",
            "check that its curves are in dB (20 log10 of the voltage) over Hz, or insist with "
            "unusual=True",
        )


def _curve_fit(
    task: PickupResiduals,
    curve: MeasuredCurve,
    how: str,
    x: np.ndarray,
    band: tuple[float, float],
) -> CurveFit:
    model_of, v = task.model_of(curve, how), task.values(x)
    f, level = binned(curve, band)

    def size(miss: np.ndarray) -> float:
        return float(np.sqrt(np.mean((miss - (0.0 if curve.known_scale else miss.mean())) ** 2)))

    whole = decibels(np.abs(np.ravel(model_of(v, f))))
    miss = level.real - whole
    shift = 0.0 if curve.known_scale else float(np.mean(miss))
    rms = size(miss)
    counts = curve.name not in task.left_out
    if counts and rms > _LOST:
        raise NoSolution(
            curve.name,
            f"the model of {task.label} misses it by {rms:.1f} dB rms",
            "check its load and slope, and that all curves are of one pickup",
        )
    model = decibels(np.abs(np.ravel(model_of(v, curve.frequency))))
    measured = curve.level - shift
    return CurveFit(curve, measured, model, measured - model, rms, counts=counts)


def _checked(task: PickupResiduals, readings: list[ReadingFit]) -> list[ReadingFit]:
    """Refuse readings that contradict the others."""
    for one in ranked(readings, lambda one: -abs(one.miss)):
        if not abs(one.miss) <= _REFUSED:
            raise NoSolution(
                f"{task.label}, {one.name}",
                _contradiction(one),
                "check it against the other measurements and the stated loads",
            )
    return readings


def _contradiction(one: ReadingFit) -> str:
    read = f"{_shown(one.stated, one.unit)} was read, but the model that fits best"
    if not np.isfinite(one.fitted):
        return f"{read} has no peak"
    read = f"{read} shows {_shown(one.fitted, one.unit)}"
    if not np.isfinite(one.miss):  # of the other sign
        return read
    return f"{read}, {_shown(abs(one.miss), 'number', 2)} times the stated accuracy away"


def _source(curves: tuple[CurveFit, ...]) -> str:
    if not curves:
        return "fitted to readings"
    worst = max(curve.rms for curve in curves if curve.counts)
    fitted = sum(curve.counts for curve in curves)
    count = f"{fitted} measured curve{'s' if fitted > 1 else ''}"
    return f"fitted to {count}, within {worst:.2f} dB rms"


def _coils(values: Mapping[str, FittedValue]) -> dict[str, Mapping[str, FittedValue]]:
    """Values of each coil by its name; of a pickup that is one coil, without a name."""
    if "coupling" not in values:
        return {"": values}
    return dict(zip(("coil 1", "coil 2"), coil_model.coils_of(values), strict=True))


def _doubts(readings: tuple[ReadingFit, ...]) -> list[str]:
    """Sentences about readings that do not go well with the rest."""
    return [
        f"{sentence(one.name)}: {_contradiction(one)}."
        for one in readings
        if abs(one.miss) > _DOUBTED
    ]


def _cautions(
    which: str, values: Mapping[str, FittedValue], curves: tuple[CurveFit, ...]
) -> list[str]:
    """Sentences about what looks wrong in the data."""
    of = f" of {which}" if which else ""
    sentences = []
    for name, (least, most) in USUAL.items():
        fitted = values[name]
        if not least / _BEYOND <= fitted.value <= most * _BEYOND:
            least_label, most_label = (_shown(x, fitted.unit) for x in (least, most))
            sentences.append(
                f"{sentence(name)}{of} {_shown(fitted.value, fitted.unit)} is outside the usual "
                f"range ({least_label} to {most_label}): check the stated load"
                f"{_also(name, fitted.value)}."
            )
    share = values.get("eddy_share")
    if share is not None and share.determined and share.value > _SHARE_DOUBTED and curves:
        sentences.append(
            f"Eddy loss{of} on {100 * share.value:.0f} % of L is more than measured pickups gave "
            "(8 to 45 %): are the curves in dB, 20 log10 of the voltage, over Hz?"
        )
    return sentences


def _also(name: str, value: float) -> str:
    if name == "capacitance" and value > USUAL[name][1]:
        return " (coils in parallel and a long lead do have more)"
    return ""


def _warnings(
    task: PickupResiduals,
    solution: Solution,
    index: Mapping[Any, int],
    values: Mapping[str, FittedValue],
    curves: tuple[CurveFit, ...],
) -> list[str]:
    """Sentences about what the data do not determine."""
    error = np.sqrt(np.diag(solution.covariance))
    correlation = solution.covariance / np.outer(error, error)
    keys = list(task.priors)
    sentences = []
    for i, one in enumerate(keys):
        for two in keys[i + 1 :]:
            r = correlation[index[one], index[two]]
            if abs(r) > _SAME:
                pair = f"{_key_label(one)} and {_key_label(two)}"
                sentences.append(
                    f"{sentence(pair)} cannot be told apart from this data (correlation {r:.2f})."
                )
    undetermined = [plain_words(name) for name, fitted in values.items() if not fitted.determined]
    if undetermined:
        sentences.append(
            f"Hardly determined by this data, so near a typical value: {', '.join(undetermined)}."
        )
    if "idle_coupling" in values and task.measured[0].beside_idle_coil is None:
        sentences.append(
            "The curves show a second resonance; an idle coil beside this one explains it."
        )
    poor = [
        f"{one.curve.name} by {one.rms:.1f} dB rms"
        for one in curves
        if one.counts and one.rms > _POOR
    ]
    if poor:
        sentences.append(
            f"The model misses {' and '.join(poor)}: a wrong load or slope, or a second coil?"
        )
    if not any(name.endswith("eddy_resistance") for name in values):
        sentences.append("Lossless coil assumed (no eddy currents, no screening).")
    return sentences


def _key_label(key: Key) -> str:
    return plain_words(f"{key.name} {key.field}".strip())


def _shown(value: float, unit: str, digits: int = 4) -> str:
    value = float(f"{value:.{digits - 1}e}")
    if unit == "dB":
        return f"{value:.3g} dB"
    if unit == "fraction":
        return f"{100 * value:.4g} %"
    return f"{value:.4g}" if unit == "number" else format_value(value, unit)
