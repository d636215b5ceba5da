"""Pickups."""

from __future__ import annotations

import math
import numbers
from collections.abc import Callable
from typing import Any, ClassVar, Literal

import numpy as np
import xarray as xr

from ..errors import BadValue
from ..gate import public
from ..units import Quantity
from .base import (
    PRACTICE,
    MaybeNumber,
    Measurable,
    Part,
    Position,
    Stamps,
    Values,
    apply,
    check_position,
    insistence,
    label_of,
    quantity,
    tolerance,
    valued,
)
from .winding import read_wire

__all__ = ["CATALOGUE", "Coil", "Pickup", "eddy_ladder", "measured_as"]

# Any value does: a unit-gain follower separates the section from everything else.
_SCREEN_RESISTANCE = 1000.0
# Ladder of a loss of fractional order: lowest corner [Hz], ratio of corners, their number. Chosen
# so that for orders of 0.7 and more all is within 0.02 dB and 0.2 degrees, 20 Hz to 20 kHz.
_CORNER, _RATIO, _CORNERS = 40.0, 10**0.6, 7
CATALOGUE = "catalogue "
"""How the source of a measured pickup begins, before its number."""
_SIGNAL = Quantity("V", at_least=0, at_most=1e6)


@public
@valued
class Coil(Part):
    """A coil of a pickup, with lugs ``hot`` (its finish) and ``ground`` (its start).

    An induced voltage of 1 V, positive at ``hot``, is in series with the coil's resistance and
    inductance; the coil's capacitance is across its lugs.

    Parameters
    ----------
    resistance : float, str or Measured
        DC resistance (DCR) of the coil at 20 °C [ohm].
    inductance : float, str or Measured
        Inductance at low frequency [H].
    capacitance : float, str or Measured
        Capacitance of the winding and its lead [F].
    eddy_resistance : float or str, optional
        Resistance across part of the inductance [ohm]: loss by eddy currents in core, base
        plate and cover. None is a coil without that loss; figures state this.
    eddy_share : float or str, optional
        Share of the inductance that has ``eddy_resistance`` across it (0 to 1); no effect if that
        is None.
    screening_frequency : float or str, optional
        First-order screening of the induced voltage by the metal between string and coil [Hz].
    tolerance : float or str, optional
        Plus or minus this share of the resistance.
    winding, magnet : {1, -1}, optional
        Direction of the winding, and of the magnet under it; by default 1. The sign of the
        string's signal changes with each of them, that of hum only with the winding, so two coils
        that differ in both (RWRP) add their signals and cancel their hum.
    signal : float, optional
        Volts that the string induces; by default 1 V, which is what a response is stated for. In
        a `Humbucker` the coils share 2 V in proportion to the root of their inductance.
    turns : float, optional
        Turns of the coil. The volts of hum go with them. Where they are not given, they follow
        from the resistance if the wire is known, else from the root of the inductance; see
        `guitarnet.windings.turns_table`.
    wire : float or str, optional
        Wire of the coil: a gauge, "AWG 42", or its bare diameter [m], "0.063 mm".
    broken : bool
        Whether the wire is broken at its start: no current flows, but the capacitance remains.
    source : str
        Where the values come from.
    position : {"", "neck", "middle", "bridge"}
        Position in a guitar, if known; layouts fill it in.
    eddy_order : float or str, optional
        Order a of the eddy loss, 0.5 to 1: ``eddy_resistance`` is then its size at 1 kHz, and rises
        with f^(1 - a). Eddy currents in thick metal fill less of it at high frequency; curves of
        real pickups give 0.8 to 0.9. None is a plain resistance, as an order of 1.
    slow_share, slow_frequency : float or str, optional
        Slow screening: this share of the induced voltage is lost well above this frequency [Hz].
        Curves of real pickups give 3 to 20 % near 700 Hz; up to 3 % may be the exciter's.
    unusual : bool
        Whether values that hardly any guitar has are meant, and are not a slip.

    Raises
    ------
    BadValue
        If a value is out of range, or the eddy resistance or slow share is given without its other
        half.
    Unusual
        If a value is entered that hardly any guitar has.

    Notes
    -----
    Z_coil = R + j w L (1 - s) + (j w L s parallel R_eddy), C across; the induced voltage is
    multiplied by 1 / (1 + j f / f_s), and by 1 - b (j f / f_b) / (1 + j f / f_b) for a slow share b
    from f_b on, which leaves the impedance alone.

    With an order a the loss is R_eddy (j f / 1 kHz)^(1 - a), written as a ladder: seven
    resistors, each with an inductor across it, in series with a resistor and an inductor. From
    20 Hz to 20 kHz the response and impedance of a pickup with it are within 0.02 dB and 0.2
    degrees of the formula, for orders of 0.7 and more.

    References
    ----------
    Lossless part: H. Lemme, "Pickup-Geheimnisse: Beschaltung", gitarrenelektronik.de.
    Eddy and screening parts: fits to the open pickup measurements in ``tests/reference``.

    Examples
    --------
    >>> Coil("6.2k", "2.4 H", "120p").label()
    '6.2 kΩ, 2.4 H, 120 pF'
    """

    resistance: Measurable = quantity(
        "ohm",
        copper=True,
        above=0,
        at_most=1e7,
        hint="a coil without resistance does not exist",
        usual=("150 ohm", "100k", PRACTICE),
    )
    inductance: Measurable = quantity(
        "H",
        above=0,
        at_most=1000,
        hint="a coil has some henry",
        usual=("50 mH", "40 H", "1 to 10 H of one or two coils: H. Lemme; the rest " + PRACTICE),
    )
    capacitance: Measurable = quantity(
        "F",
        at_least=0,
        at_most=1e-6,
        hint="a coil has some ten to some hundred picofarad",
        usual=("10p", "5n", "80 to 200 pF: H. Lemme; with a long lead more, " + PRACTICE),
    )
    eddy_resistance: MaybeNumber = quantity(
        "ohm",
        default=None,
        above=0,
        optional=True,
        usual=("2k", "1.9M", "19 to 76 k fitted to the open measurements; the rest a guess"),
    )
    eddy_share: MaybeNumber = quantity("fraction", default=None, above=0, at_most=1, optional=True)
    screening_frequency: MaybeNumber = quantity(
        "Hz",
        default=None,
        above=0,
        optional=True,
        usual=("200 Hz", "100 kHz", "2 to 3 kHz fitted to the open measurements; the rest a guess"),
    )
    tolerance: MaybeNumber = tolerance(default=None)
    turns: MaybeNumber = quantity(
        "number",
        default=None,
        above=0,
        at_most=1e5,
        optional=True,
        usual=("200", "40000", PRACTICE),
        swept=False,
    )
    wire: float | str | None = None
    winding: Literal[1, -1] | None = None
    magnet: Literal[1, -1] | None = None
    signal: float | None = None
    broken: bool = False
    source: str = ""
    position: Position = ""
    eddy_order: MaybeNumber = quantity(
        "fraction", default=None, at_least=0.5, at_most=1, optional=True
    )
    slow_share: MaybeNumber = quantity("fraction", default=None, above=0, at_most=1, optional=True)
    slow_frequency: MaybeNumber = quantity(
        "Hz",
        default=None,
        above=0,
        optional=True,
        usual=(
            "50 Hz",
            "20 kHz",
            "0.6 to 0.9 kHz fitted to the open measurements; the rest a guess",
        ),
    )
    unusual: bool = insistence(default=False)

    lugs: ClassVar = ("hot", "ground")
    # Common practice, no source.
    usual_tolerance: ClassVar = {"resistance": 0.05, "inductance": 0.1, "capacitance": 0.1}

    def __post_init__(self) -> None:
        super().__post_init__()
        for name in ("winding", "magnet"):
            given = getattr(self, name)
            number = isinstance(given, numbers.Real) and not isinstance(given, bool)
            if given is not None and not (number and given in (1, -1)):
                raise BadValue(
                    f"{type(self).__name__}.{name}",
                    f"{getattr(self, name)!r} is no direction",
                    "give 1, or -1 for reversed",
                )
        check_position(self)
        if self.signal is not None:
            volts = _SIGNAL.read(self.signal, f"{type(self).__name__}.signal")
            object.__setattr__(self, "signal", volts)
        if self.wire is not None:
            read_wire(self.wire, f"{type(self).__name__}.wire")
        _check_eddy(type(self).__name__, self.eddy_resistance, self.eddy_share)
        _check_slow(type(self).__name__, self.slow_share, self.slow_frequency)

    def label(self) -> str:
        """Describe the part in a few words."""
        words = label_of(self, "resistance", "inductance", "capacitance")
        turned = [name for name in ("winding", "magnet") if getattr(self, name) == -1]
        if self.broken:
            words += ", broken"
        if turned:
            words += f", {' and '.join(turned)} reversed"
        if self.eddy_resistance is not None and self.eddy_share is not None:
            words += f", eddy {label_of(self, 'eddy_resistance')} on {self.eddy_share:.0%} of L"
            if self.eddy_order is not None:
                words += f" of order {self.eddy_order:.2g}"
        if self.screening_frequency is not None:
            words += f", screened above {label_of(self, 'screening_frequency')}"
        if self.slow_share is not None and self.slow_frequency is not None:
            words += f", {self.slow_share:.0%} of the signal lost above "
            words += label_of(self, "slow_frequency")
        return words

    def assumptions(self, values: Values) -> tuple[str, ...]:
        """Assumptions about this part that a figure must state."""
        if self.source.startswith(CATALOGUE) and values.eddy_resistance is not None:
            return measured_as(self.source)
        if values.eddy_resistance is None and values.screening_frequency is None:
            return ("lossless coil assumed (no eddy currents, no screening)",)
        if values.eddy_resistance is None:
            return ("no eddy-current loss in the coil assumed",)
        return ()

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the induced voltage and the coil into a netlist."""
        size = 1.0 if values.signal is None else values.signal
        turned = self.winding or 1
        volts = values.volts(size * turned * (self.magnet or 1), turned)
        _stamp_signal(net, values, volts)
        _check_eddy(values.path, values.eddy_resistance, values.eddy_share)
        ohms = math.inf if self.broken else values.resistance
        net.resistor("resistance", "start", "wire", ohms)
        if values.eddy_resistance is None:
            net.inductor("inductance", "wire", "hot", values.inductance)
        else:
            share = values.eddy_share
            net.inductor("inductance", "wire", "core", values.inductance * (1 - share))
            net.inductor("shunted_inductance", "core", "hot", values.inductance * share)
            _stamp_loss(net, values)
        net.capacitor("capacitance", "hot", "ground", values.capacitance)


@public
@valued
class Pickup(Coil):
    """A magnetic pickup as one coil, with lugs ``hot`` and ``ground``.

    Parameters, errors, formula and sources are those of `Coil`.

    Parameters
    ----------
    resistance : float or str
        DC resistance (DCR) of the coil at 20 °C [ohm].
    inductance : float or str
        Inductance at low frequency [H].
    capacitance : float or str
        Capacitance of the winding and its lead [F].
    eddy_resistance, eddy_share, screening_frequency, tolerance
        As in `Coil`.
    winding, magnet, signal, turns, wire, broken, source, position, eddy_order
        As in `Coil`.
    slow_share, slow_frequency, unusual
        As in `Coil`.

    Raises
    ------
    BadValue
        If a value is out of range, or the eddy resistance or slow share is given without its other
        half.
    Unusual
        If a value is entered that hardly any guitar has.

    References
    ----------
    As in `Coil`.

    Examples
    --------
    >>> Pickup("6.2k", "2.4 H", "120p").label()
    '6.2 kΩ, 2.4 H, 120 pF'
    """


def measured_as(source: str) -> tuple[str, ...]:
    """Say in captions that a pickup is one of the catalogue, by its source."""
    if not source.startswith(CATALOGUE):
        return ()
    return (f"measured pickup with its losses ({source.partition(':')[0]})",)


def eddy_ladder(order: Any) -> tuple[Any, list[tuple[float, Any]], Any]:
    """Write (jf/1 kHz)^(1 - order) as a ladder, per ohm at 1 kHz.

    Returns a series resistance [ohm], steps of a corner [Hz] with its resistance, which counts from
    there on, and a series inductance [H]. The ladder is the integral of
    sin(pi e)/pi x^(e - 1) jf/(x + jf) over x, e = 1 - order, in equal steps of log x; what lies
    beyond its ends is summed as a geometric series.
    """
    e = 1 - order
    width = math.log(_RATIO) / math.pi
    steps: list[tuple[float, Any]] = []
    for step in range(_CORNERS):
        corner = _CORNER * _RATIO**step
        resistance = _function(
            lambda e, sine, at=corner: sine(math.pi * e) * width * (at / 1e3) ** e, e
        )
        steps.append((corner, resistance))
    low = _function(
        lambda e, sine: sine(math.pi * e) * width * (_CORNER / 1e3) ** e / (_RATIO**e - 1), e, 1.0
    )
    last = _CORNER * _RATIO**_CORNERS
    high = _function(
        lambda e, sine: (
            sine(math.pi * e) * width * (last / 1e3) ** e / (1 - _RATIO ** (e - 1)) / last
        ),
        e,
    )
    return low, steps, high / (2 * math.pi)


def _function(formula: Callable[..., Any], e: Any, at_zero: float = 0.0) -> Any:
    """Value of a formula of e, for a number, an array or a symbol."""

    def of_numbers(x: np.ndarray) -> np.ndarray:
        return np.where(x == 0, at_zero, formula(np.where(x == 0, 0.5, x), np.sin))

    if isinstance(e, np.ndarray):
        return of_numbers(e)
    if isinstance(e, (xr.Variable, float, int)):
        return apply(of_numbers, e)
    import sympy  # loaded already where a value is a symbol

    return apply(of_numbers, float(e)) if e.is_number else formula(e, sympy.sin)


def _stamp_loss(net: Stamps, values: Values) -> None:
    """Write the eddy loss across the shunted inductance."""
    ohms = values.eddy_resistance
    if values.eddy_order is None:
        net.resistor("eddy_resistance", "core", "hot", ohms)
        return
    low, steps, high = eddy_ladder(values.eddy_order)
    net.resistor("eddy_resistance", "core", "eddy_1", ohms * low)
    for number, (corner, part) in enumerate(steps, 1):
        ends = f"eddy_{number}", f"eddy_{number + 1}"
        net.resistor(f"eddy_resistance_{number}", *ends, ohms * part)
        net.inductor(f"eddy_inductance_{number}", *ends, ohms * part / (2 * math.pi * corner))
    net.inductor("eddy_inductance", f"eddy_{len(steps) + 1}", "hot", ohms * high)


def _stamp_signal(net: Stamps, values: Values, volts: float) -> None:
    """Write the induced voltage, as it is screened, between the coil's start and ground."""
    _check_slow(values.path, values.slow_share, values.slow_frequency)
    slow = values.slow_share is not None
    screened = values.screening_frequency is not None
    net.source("induced", "string" if slow or screened else "start", "ground", volts)
    at = "string"
    if slow:
        share, corner = values.slow_share, 2 * math.pi * _SCREEN_RESISTANCE * values.slow_frequency
        net.resistor("slow_resistance", at, "slowed", _SCREEN_RESISTANCE * share)
        net.resistor("slow_rest", "slowed", "slow_end", _SCREEN_RESISTANCE * (1 - share))
        net.capacitor("slow_capacitance", "slow_end", "ground", 1 / corner)
        at = "slow_signal" if screened else "start"
        net.follower("slow", at, "ground", "slowed", "ground")
    if screened:
        corner = 2 * math.pi * _SCREEN_RESISTANCE * values.screening_frequency
        net.resistor("screen_resistance", at, "screened", _SCREEN_RESISTANCE)
        net.capacitor("screen_capacitance", "screened", "ground", 1 / corner)
        net.follower("screen", "start", "ground", "screened", "ground")


def _check_slow(where: str, share: Any, frequency: Any) -> None:
    if share is not None and frequency is None:
        raise BadValue(
            f"{where}.slow_share",
            "stands without slow_frequency",
            "give both, or neither for a coil without slow screening",
        )


def _check_eddy(where: str, resistance: Any, share: Any) -> None:
    # A share without a resistance shunts nothing: so None for the resistance takes the loss away.
    if resistance is not None and share is None:
        raise BadValue(
            f"{where}.eddy_resistance",
            "stands without eddy_share",
            "give both, or neither for a coil without eddy loss",
        )
