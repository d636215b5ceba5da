"""From bench measurements to a pickup."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal

import numpy as np

from ...errors import BadSetting, a, has_items
from ...gate import enters, public
from ...ranking import ranked
from ...units import Quantity
from .loads import Load, Unknown, check_load
from .measured import Measurements
from .problem import Losses, PickupResiduals, Problem, names_of
from .result import PickupFit, moved as lying_off, result_of

__all__ = ["fit_pickup", "fit_pickups"]

BAND = (80.0, 10e3)
_HERTZ = Quantity("Hz", above=0)
Moved = Literal["report", "leave out", "weigh down"]
INSTRUMENT = Load(resistance=Unknown("1M", 0.3, name="instrument"))


@public(band=None, instrument=None, name=None)
@enters
def fit_pickup(
    curves: Any = (),
    *,
    resistance: float | str | None = None,
    inductance: Any = (),
    peak: Any = (),
    beside_idle_coil: bool | None = None,
    losses: Losses = None,
    slow_screening: bool = True,
    moved: Moved = "report",
    instrument: Load = INSTRUMENT,
    band: tuple[float | str, float | str] = BAND,
    name: str = "pickup",
    unusual: bool = False,
) -> PickupFit:
    r"""Find a pickup's values from any mix of measurements.

    Unplug the guitar from the amplifier before measuring in it.

    Parameters
    ----------
    curves : MeasuredCurve or sequence of MeasuredCurve
        Measured curves, each with its load; see `guitarnet.fitting.read_curve`.
    resistance : float or str, optional
        DC resistance [ohm].
    inductance, peak, beside_idle_coil
        As in `guitarnet.fitting.Measurements`.
    losses : bool or "plain", optional
        Whether the model has eddy loss and screening. By default it has if a curve or the height
        of a peak is given. "plain" is an eddy loss without an order, a resistance, as closed
        formulas have it.
    slow_screening : bool
        Whether the model of driven curves also has a slight droop at low frequencies; see Notes.
    moved : {"report", "leave out", "weigh down"}
        What to do with a curve whose level lies off that of the other curves of the rig, loads
        allowed for, because pickup, exciter or gain moved between the sweeps. It is always
        reported. Two curves are always kept: of two nobody knows which one moved.
    instrument : Load
        Load of the instrument in every string curve.
    band : pair of float or str
        Frequencies to fit [Hz].
    name : str
        Name of the pickup.
    unusual : bool
        Whether values that hardly any pickup has are meant, and are no slip.

    Returns
    -------
    PickupFit
        Values with standard errors, warnings, residuals and predictions.

    Raises
    ------
    BadSetting, BadValue
        If there is nothing to fit, or a measurement is not usable.
    Unusual
        If a reading, or what comes out, is what hardly any pickup has.
    NoSolution
        If the fit does not converge, or the model misses a curve by more than 3 dB or a reading
        by more than five times its accuracy: the measurements contradict each other.

    Notes
    -----
    The model is an induced voltage, screened to first order, in series with
    Z = R + jwL(1 - s) + (jwLs parallel R_eddy (jf/1 kHz)^(1 - a)), with C and the load across; the
    eddy loss of order a is the ladder of `guitarnet.Pickup`. An idle coil has the same Z, is
    coupled by k, closed by its own capacitance C2, driven g times as strongly, and joined by C12 to
    the lug: the open ends of two such coils carry opposite signals. Slow screening multiplies by
    1 - b (jf/f_b)/(1 + jf/f_b). It is near 10 % around 700 Hz, and screening begins near 3 kHz, for
    nearly all kinds of pickups alike, so part of both may come from the exciter and not from the
    pickup.

    Curves of one rig share their level at low frequency, and after their loads are allowed for they
    agree within 0.5 dB where nothing moved. A range of over 0.75 dB is reported. Curves give ratios
    of impedances only: where neither a resistance, an inductance nor a load sets their scale,
    `guitarnet.fitting.PickupFit.scale_within` and a sentence say so.

    The model was chosen with 23 sets of real pickups, and tried once on 24 others that were set
    aside by family before (``tests/reference/pickup_sets``). Each set is fitted by itself to its
    unloaded and large-capacitor curve from 80 Hz to 10 kHz, the third curve is predicted: rms from
    200 Hz to 8 kHz [dB], levels matched from 60 to 250 Hz. Median, 90 % and worst of the sets whose
    three curves agree in level; where they do not, prediction misses by 0.5 to 2.9 dB:

    ====================================================  ====================  ================
    model                                                 capacitor within 1 %  within 12 %
    ====================================================  ====================  ================
    former: plain eddy resistance, 17 sets of the first   0.21  0.60  1.40      0.28  0.72  1.02
    + order of the eddy loss                              0.19  0.60  1.45
    + capacitance to the idle coil                        0.18  0.60  1.00
    + priors that do not pull on the scale: kept          0.18  0.61  1.00      0.18  0.64  0.77
    former, 15 sets set aside                             0.21  0.62  0.79      0.51  0.81  0.91
    kept, 15 sets set aside                               0.16  0.54  0.77      0.31  0.59  0.74
    ====================================================  ====================  ================

    Standard errors follow what the model misses. Intervals of these figures, and how often the
    errors cover the truth of simulated sets: ``tools/pickups.md``.

    Values are fitted as logarithms with normal priors (`guitarnet.fitting.Unknown.within`), by
    `scipy.optimize.least_squares` from several starts, with a soft-L1 loss beyond 0.4 dB.

    References
    ----------
    Ranges of inductance and capacitance: H. Lemme, "Pickup-Geheimnisse: Beschaltung",
    gitarrenelektronik.de. Curves: open dataset, CC0, named in the head of each file.

    Examples
    --------
    >>> from guitarnet.study.fit.measured import PeakReading
    >>> fit = fit_pickup(
    ...     resistance="16.56k",
    ...     inductance="8.06 H",
    ...     peak=PeakReading("1.96 kHz", Load("200k", "600p")),
    ... )
    >>> sorted(fit.values)
    ['capacitance', 'inductance', 'resistance']
    """
    if not isinstance(name, str):
        raise BadSetting("fit_pickups", f"the name {name!r} is no text", "give a str", name)
    measured = Measurements(curves, resistance, inductance, peak, beside_idle_coil)
    return fit_pickups(
        {name: measured},
        losses=losses,
        slow_screening=slow_screening,
        moved=moved,
        instrument=instrument,
        band=band,
    )[name]


@public(pickups=None, band=None, instrument=None)
def fit_pickups(
    pickups: Mapping[str, Measurements],
    *,
    losses: Losses = None,
    slow_screening: bool = True,
    moved: Moved = "report",
    instrument: Load = INSTRUMENT,
    band: tuple[float | str, float | str] = BAND,
    unusual: bool = False,
) -> dict[str, PickupFit]:
    """Find the values of several pickups that were measured on the same rig.

    Parameters
    ----------
    pickups : mapping of str to Measurements
        Measurements by pickup. Unknown loads with the same name have the same value for all, so
        each pickup helps to find them.
    losses, slow_screening, moved, instrument, band, unusual
        As in `guitarnet.fit_pickup`.

    Returns
    -------
    dict of str to PickupFit
        A fit for each pickup.

    Raises
    ------
    BadSetting, BadValue, NoSolution
        As in `guitarnet.fit_pickup`.

    Notes
    -----
    If `guitarnet.fitting.Measurements.beside_idle_coil` is not given, each pickup with a string
    curve is fitted with and without an idle coil, and Schwarz's criterion decides. Two coils in
    series have such a second resonance too, and may be taken for a coil with an idle one.

    Examples
    --------
    >>> measured = Measurements(resistance="6k", inductance="2.4 H")
    >>> list(fit_pickups({"neck": measured, "bridge": measured}))
    ['neck', 'bridge']
    """
    low, high = _read_band(band)
    check_load(instrument, "instrument")
    if not isinstance(pickups, Mapping):
        raise BadSetting(
            "fit_pickups",
            f"{a(type(pickups))} is given",
            "give {'name': Measurements(...)}",
            pickups,
        )
    if not pickups:
        raise BadSetting("fit_pickups", "no pickup is given", "give one or more by name")

    def task(label: str, idle: bool, off: Mapping[str, float] | None = None) -> PickupResiduals:
        names = names_of(pickups[label], losses, slow_screening, idle)
        return PickupResiduals(label, pickups[label], names, instrument, (low, high), off)

    tasks = []
    for label, measured in pickups.items():
        if not isinstance(label, str):
            raise BadSetting("fit_pickups", f"the name {label!r} is no text", "give a str", label)
        if not label:
            raise BadSetting("fit_pickups", "a pickup has no name", "give one, as 'neck'", label)
        if not isinstance(measured, Measurements):
            raise BadSetting(label, f"{a(type(measured))} is given", "give Measurements(...)")
        idle = measured.beside_idle_coil
        if idle is None:
            idle = any(curve.kind == "string" for curve in measured.curves) and losses is not False
            idle = idle and _likelier(task(label, True), task(label, False))
        tasks.append(task(label, idle))
    solution = Problem(tasks).solve()
    fits = {one.label: result_of(one, solution, (low, high)) for one in tasks}
    solution.check()  # a curve that is missed says more, and has been refused by now
    off = {label: _off(fit, moved) for label, fit in fits.items()}
    if not any(off.values()):
        return fits
    tasks = [task(one.label, "idle_coupling" in one.names, off[one.label]) for one in tasks]
    solution = Problem(tasks).solve()
    fits = {one.label: result_of(one, solution, (low, high)) for one in tasks}
    solution.check()
    return fits


def _off(fit: PickupFit, how: Moved) -> dict[str, float]:
    """How far off each curve lies that is to count less [dB]; infinite where it is left out."""
    spare = sum(not math.isnan(one.above) for one in fit.curves) - 2  # two are always kept
    off = ranked(lying_off(fit.curves), lambda one: -abs(one.above)) if spare > 0 else []
    if how == "weigh down":
        return {one.curve.name: abs(one.above) for one in off}
    return {one.curve.name: math.inf for one in off[:spare]} if how == "leave out" else {}


def _read_band(band: Any) -> tuple[float, float]:
    """Read the two ends of a band [Hz]."""
    fix = "give its two ends in Hz, as (80, '10k')"
    several = isinstance(band, (tuple, list, np.ndarray)) and has_items(band)
    if not several or len(band) != 2:
        raise BadSetting("band", f"{band!r} is no pair", fix, band)
    ends = np.array([_HERTZ.read(end, "band") for end in band], dtype=float)
    if ends[0] >= ends[1]:
        raise BadSetting("band", f"{band!r} does not rise", fix, band)
    return float(ends[0]), float(ends[1])


def _likelier(one: PickupResiduals, other: PickupResiduals) -> bool:
    """Whether one model of a pickup is likelier than the other by Schwarz's criterion."""
    costs = []
    for task in (one, other):
        solution = Problem([task]).solve()
        # A model that does not settle is not likelier.
        costs.append(solution.bayes(task.readings) if solution.settled else math.inf)
    return costs[0] < costs[1]
