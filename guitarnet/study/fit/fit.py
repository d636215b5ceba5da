"""From bench measurements to a pickup."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np

from ...errors import BadSetting, a, has_items, nearest
from ...gate import enters, public
from ...ranking import ranked
from ...units import Quantity
from .loads import Load, Unknown, check_load
from .measured import Measurements
from .problem import (
    COIL_OF,
    COILS,
    PRIORS,
    Key,
    Losses,
    PickupResiduals,
    Prior,
    Problem,
    names_of,
    names_of_two,
    prior_of,
)
from .result import PickupFit, moved as lying_off, result_of

__all__ = ["fit_pickup", "fit_pickups"]

BAND = (80.0, 10e3)
_HERTZ = Quantity("Hz", above=0)
_OF_BOTH = {"idle_coupling": "coupling", "between_capacitance": "between_capacitance"}
Moved = Literal["report", "leave out", "weigh down"]
INSTRUMENT = Load(resistance=Unknown("1M", 0.3, name="instrument"))
# Curves of two coils and of both tell the capacitance of the instrument from that of the coils.
_OF_TWO = replace(INSTRUMENT, capacitance=Unknown("35p", 0.4, name="instrument"))


@public(band=None, instrument=None, name=None, priors=None)
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
    priors: Mapping[str, Any] | None = None,
    instrument: Load = INSTRUMENT,
    band: tuple[float | str, float | str] = BAND,
    name: str = "pickup",
    unusual: bool = False,
) -> PickupFit:
    r"""Find a pickup's values from any mix of measurements.

    Unplug the guitar from the amplifier before measuring in it.

    Parameters
    ----------
    curves : MeasuredCurve or xarray.Dataset, or sequence of these
        Measured curves, each with its load; see `guitarnet.fitting.read_curve`. Those of
        ``gn.measuring`` are taken as they are. The load of their
        transfer curves is the input already: give ``instrument=gn.fitting.Load()`` with them.
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
    priors : mapping of str to Unknown, optional
        What is known of values before anything is measured, by name, as
        `guitarnet.catalogue.priors` gives it for a kind of pickup. It counts most where little was
        measured. By default what holds for all pickups.
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
    pickup. One exciter loses the same under every pickup, so no more than the pickup that shows
    least: 2.8 % of slow screening, and a screening from 4.1 kHz on. Without a second exciter no
    more is known, and the part has all of it.

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
        priors=priors,
        instrument=instrument,
        band=band,
    )[name]


@public(pickups=None, band=None, instrument=None, priors=None)
def fit_pickups(
    pickups: Mapping[str, Measurements | Sequence[Measurements]],
    *,
    losses: Losses = None,
    slow_screening: bool = True,
    moved: Moved = "report",
    priors: Mapping[str, Any] | None = None,
    instrument: Load = INSTRUMENT,
    band: tuple[float | str, float | str] = BAND,
    unusual: bool = False,
) -> dict[str, PickupFit]:
    """Find the values of several pickups that were measured on the same rig.

    Parameters
    ----------
    pickups : mapping of str to Measurements or sequence of Measurements
        Measurements by pickup. Unknown loads with the same name have the same value for all, so
        each pickup helps to find them. Several measurements on the two coils of one humbucker are
        a list, each with its ``connection``: coils, series, parallel, in any mix of two or more.
    losses, slow_screening, moved, priors, instrument, band, unusual
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

    A humbucker is two coils of the model above, coupled by k, C12 between their outer ends, and a
    lead from hot to ground; slow screening is common to both. The instrument counts once in every
    connection: unless told it is 1 Mohm within 30 % and 35 pF within 40 %. What two coils say of
    both in series, loaded with 200 kohm and 470 pF: 0.05, 0.08, 0.09, 0.11 and 0.28 dB rms where
    the measurements were undisturbed, 0.17 to 0.64 dB in five families where one was. Unloaded it
    is 0.3 to 0.6 dB, and in parallel, known of one pickup, 0.2 to 0.9 dB. See ``tools/pickups.md``.

    Examples
    --------
    >>> measured = Measurements(resistance="6k", inductance="2.4 H")
    >>> list(fit_pickups({"neck": measured, "bridge": measured}))
    ['neck', 'bridge']
    """
    low, high = _read_band(band)
    check_load(instrument, "instrument")
    own = _read_priors(priors)
    if not isinstance(pickups, Mapping):
        raise BadSetting(
            "fit_pickups",
            f"{a(type(pickups))} is given",
            "give {'name': Measurements(...)}",
            pickups,
        )
    if not pickups:
        raise BadSetting("fit_pickups", "no pickup is given", "give one or more by name")

    def task(
        label: str,
        idle: bool,
        off: Mapping[str, float] | None = None,
        told: tuple[Measurements, ...] = (),
    ) -> PickupResiduals:
        told, rig = told or measured[label], instrument
        if told[0].connection:
            names = names_of_two(told, losses, slow_screening)
            rig = _OF_TWO if instrument == INSTRUMENT else instrument
        else:
            names = names_of(told[0], losses, slow_screening, idle)
        return PickupResiduals(label, told, names, rig, (low, high), off, own)

    measured = {label: _read_told(label, told) for label, told in pickups.items()}
    tasks: list[PickupResiduals] = []
    near: dict[str, dict[Key, float]] = {}
    for label, (first, *_) in measured.items():
        idle = first.beside_idle_coil
        if idle is None:
            idle = any(curve.kind == "string" for curve in first.curves) and losses is not False
            idle = idle and not first.connection
            if first.connection:
                near |= _coils_alone(label, measured[label], task)
            if idle:
                idle, near[label] = _likelier(task(label, True), task(label, False))
        tasks.append(task(label, idle))
    solution = Problem(tasks).solve(near)
    fits = {one.label: result_of(one, solution, (low, high)) for one in tasks}
    solution.check()  # a curve that is missed says more, and has been refused by now
    off = {label: _off(fit, moved) for label, fit in fits.items()}
    if not any(off.values()):
        return fits
    tasks = [task(one.label, "idle_coupling" in one.names, off[one.label]) for one in tasks]
    solution = Problem(tasks).solve(dict.fromkeys(measured, solution.logarithms()))
    fits = {one.label: result_of(one, solution, (low, high)) for one in tasks}
    solution.check()
    return fits


def _read_told(label: Any, given: Any) -> tuple[Measurements, ...]:
    """Read what was measured on one pickup; on a humbucker, in more than one connection."""
    if not isinstance(label, str):
        raise BadSetting("fit_pickups", f"the name {label!r} is no text", "give a str", label)
    if not label:
        raise BadSetting("fit_pickups", "a pickup has no name", "give one, as 'neck'", label)
    several = isinstance(given, (list, tuple)) and has_items(given)
    told = tuple(given) if several else (given,)
    for one in told:
        if not isinstance(one, Measurements):
            raise BadSetting(label, f"{a(type(one))} is given", "give Measurements(...)")
    connections = [one.connection for one in told]
    if not any(connections) and len(told) == 1:
        return told
    for how in connections:
        if not how:
            fix = "give each its connection, as connection='coil 1'"
            raise BadSetting(label, "of several measurements one says no connection", fix)
        if connections.count(how) > 1:
            raise BadSetting(label, f"{how!r} stands twice", "give its curves together")
    if len(told) == 1:
        fix = "measure another one too, or leave the connection out and fit it as one coil"
        raise BadSetting(label, f"two coils are not known from {connections[0]!r} alone", fix)
    return told


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


def _read_priors(given: Any) -> dict[str, Prior]:
    """Read what is known beforehand of values."""
    if given is None:
        return {}
    if not isinstance(given, Mapping):
        fix = "give {'inductance': Unknown('4 H', 0.3)}, or gn.catalogue.priors(kind)"
        raise BadSetting("priors", f"{a(type(given))} is given", fix, given)
    read = {}
    for name, unknown in given.items():
        if str(name).rpartition(".")[2] not in PRIORS:
            raise BadSetting("priors", f"there is no value {name!r}", nearest(str(name), PRIORS))
        if not isinstance(unknown, Unknown):
            fix = "give Unknown(its likely value, within), as Unknown('4 H', 0.3)"
            raise BadSetting(f"priors, {name}", f"{unknown!r} is no Unknown", fix, unknown)
        usual = prior_of(name)
        quantity = Quantity(usual.unit, above=0, at_most=0.999 if usual.odds else None)
        around = quantity.read(unknown.around, f"priors, {name}")
        assert around is not None
        read[name] = Prior(usual.unit, around, float(unknown.within), usual.odds)
    return read


def _coils_alone(
    label: str, measured: Sequence[Measurements], task: Callable[..., PickupResiduals]
) -> dict[str, dict[Key, float]]:
    """Where to start for two coils: each as fitted beside an idle one; empty where none was."""
    found: dict[str, dict[Key, float]] = {}
    for one in measured:
        if one.connection in COIL_OF:
            told = replace(one, connection="", beside_idle_coil=True, unusual=True)
            solution = Problem([task(label, True, told=(told,))]).solve()
            found[COIL_OF[one.connection]] = solution.logarithms()
    near: dict[Key, float] = {}
    for coil in COILS if found else ():
        for key, value in found.get(coil, next(iter(found.values()))).items():
            near[Key(label, f"{coil}.{key.name}") if key.owner else key] = value
            if key.owner and key.name in _OF_BOTH:
                near[Key(label, _OF_BOTH[key.name])] = value
    return {label: near} if near else {}


def _likelier(one: PickupResiduals, other: PickupResiduals) -> tuple[bool, dict[Key, float]]:
    """Whether one model of a pickup is likelier than the other by Schwarz's criterion; its fit."""
    found = [Problem([task]).solve() for task in (one, other)]
    costs = [
        # A model that does not settle is not likelier.
        solution.bayes(task.readings) if solution.settled else math.inf
        for task, solution in zip((one, other), found, strict=True)
    ]
    is_first = costs[0] < costs[1]
    return is_first, found[0 if is_first else 1].logarithms()
