"""Copper, wire and windings: resistance and size of a coil from its turns and bobbin."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from ..errors import BadSetting, BadValue
from ..gate import public
from ..table import Table
from ..units import Quantity, format_value, read_celsius, write_celsius
from .copper import PER_KELVIN

__all__ = [
    "Winding",
    "inductance_by_turns",
    "read_wire",
    "resistance_at",
    "winding",
    "wire_diameter",
    "wire_label",
    "wire_resistance",
    "wire_table",
]

_MIL = 25.4e-6  # m
_1000_FT = 304.8  # m
_ROUNDED = range(6, 45)  # gauges that tables of magnet wire round to 0.1 mil
# Metric sizes: least, nominal and most ohms of a metre at 20 °C, as a table prints them.
_METRIC = {
    "0.08 mm": (3.133, 3.401, 3.703),
    "0.075 mm": (3.547, 3.870, 4.235),
    "0.071 mm": (3.941, 4.318, 4.747),
    "0.067 mm": (4.404, 4.848, 5.359),
    "0.063 mm": (5.045, 5.484, 5.922),
    "0.06 mm": (5.562, 6.046, 6.529),
    "0.056 mm": (6.316, 6.940, 7.565),
    "0.053 mm": (7.0509, 7.7482, 8.4456),
    "0.05 mm": (7.922, 8.706, 9.489),
}
_COPPER = 58e6  # S/m at 20 °C
_SQUARE = math.pi / 4  # share of a square that a round wire fills

_OHM = Quantity("ohm", above=0)
_HENRY = Quantity("H", above=0)
_TURNS = Quantity("number", at_least=0.01, at_most=1e6)
_CELSIUS = Quantity("number", at_least=-50, at_most=180, hint="in °C")
_CONDUCTIVITY = Quantity("fraction", at_least=0.9, at_most=1.03, hint="of standard copper")
_WIRE = Quantity("m", at_least=1e-6, at_most=0.002, hint="or a gauge, 'AWG 42'")
_BUILD = Quantity("m", at_least=0, at_most=0.001)
_SIZE = Quantity("m", above=0, at_most=1)
_PACKING = Quantity("fraction", above=0, at_most=math.pi / math.sqrt(12), hint="hexagonal at most")
_AWG = re.compile(r"AWG\s*#?\s*(\d{1,2}(?:\.\d)?)|#?\s*(\d{1,2}(?:\.\d)?)\s*AWG", re.IGNORECASE)


def _read(spec: Quantity, value: Any, where: str) -> float:
    number = spec.read(value, where)
    assert number is not None
    return number


def _relative(temperature: Any, conductivity: float, where: str) -> float:
    """Resistance at a temperature over the resistance at 20 °C."""
    degrees = read_celsius(temperature, where, _CELSIUS)
    return 1 + PER_KELVIN * conductivity * (degrees - 20)


@public
def resistance_at(
    resistance: float | str,
    temperature: float | str,
    *,
    measured_at: float | str = 20.0,
    conductivity: float | str = 1.0,
) -> float:
    """Resistance of a copper coil at another temperature.

    Parameters
    ----------
    resistance : float or str
        Resistance as measured [ohm].
    temperature : float or str
        Temperature of the result [°C].
    measured_at : float or str
        Temperature of the measurement [°C]. To convert a reading at 30 °C to 20 °C, write
        ``resistance_at("6.5k", 20, measured_at=30)``.
    conductivity : float or str
        Conductivity of the wire as a share of standard annealed copper; 0.98 is usual for wire
        of 0.01 to 0.26 mm. The temperature coefficient is proportional to it.

    Returns
    -------
    float
        Resistance [ohm].

    Raises
    ------
    BadValue
        If a value is not a value, or a temperature is outside -50 to 180 °C.

    Notes
    -----
    R(t) = R20 (1 + 0.00393 C (t - 20)), C the conductivity; both ways.

    References
    ----------
    0.00393/K at 20 °C: Industrial Power Engineering and Applications Handbook, p. 970.
    Coefficient times conductivity, 0.98 for fine wire: a resistance meter's manual, appendix 4,
    "Temperature Correction".

    Examples
    --------
    >>> round(resistance_at("6.5k", 30))
    6755
    >>> round(resistance_at(resistance_at("6.5k", 30), 20, measured_at=30))
    6500
    """
    ohm = _read(_OHM, resistance, "resistance_at.resistance")
    share = _read(_CONDUCTIVITY, conductivity, "resistance_at.conductivity")
    ratio = _relative(temperature, share, "resistance_at.temperature")
    return ohm * ratio / _relative(measured_at, share, "resistance_at.measured_at")


@public
def wire_diameter(wire: float | str, *, rounded: bool = False) -> float:
    """Diameter of bare wire from its gauge.

    Parameters
    ----------
    wire : float or str
        A gauge, "AWG 42" or "42 AWG", or a diameter [m], "0.063 mm".
    rounded : bool
        Whether the nominal diameter is rounded to 0.1 mil, as tables of magnet wire print it, for
        whole gauges from AWG 6 to 44. A diameter that you measured is taken as it is.

    Returns
    -------
    float
        Diameter of the copper [m].

    Raises
    ------
    BadValue
        If it is neither a gauge nor a diameter, or tables do not round that gauge to 0.1 mil.

    Notes
    -----
    d = 0.127 mm x 92^((36 - n) / 39). Tables of magnet wire round it, which changes the ohms by
    up to 3 % in the gauges of pickups; `wire_table` lists both.

    References
    ----------
    ASTM B258, Standard Specification for Nominal Diameters of Solid Round Wires. Rounded:
    ANSI/NEMA MW 1000, Magnet Wire, as tables after it print AWG 6 to 40; a "Stranded Wire Data
    Chart" has 2.5 mil for AWG 42 and 2.0 mil for AWG 44.

    Examples
    --------
    >>> [round(wire_diameter("AWG 42", rounded=by) * 1e3, 4) for by in (False, True)]
    [0.0633, 0.0635]
    """
    diameter = read_wire(wire, "wire")
    gauge = _gauge(wire)
    if not rounded or gauge is None:
        return diameter
    if gauge not in _ROUNDED:
        raise BadValue(
            "wire", f"tables do not round AWG {gauge:g} to 0.1 mil", "leave rounded out", wire
        )
    return round(diameter / _MIL, 1) * _MIL


def _gauge(wire: float | str) -> float | None:
    """Give the gauge where a wire is written by its gauge."""
    found = _AWG.fullmatch(wire.strip()) if isinstance(wire, str) else None
    return float(found[1] or found[2]) if found else None


def read_wire(wire: float | str, where: str) -> float:
    """Read the diameter of bare wire [m]: a gauge or a diameter."""
    gauge = _gauge(wire)
    if gauge is not None:
        return float(0.127e-3 * 92 ** ((36 - gauge) / 39))
    bare = (
        wire.strip().lstrip("#")
        if isinstance(wire, str)
        else f"{wire:g}"
        if _is(wire) and 0 < wire < 100
        else ""
    )
    if re.fullmatch(r"[1-9]\d?(\.\d)?", bare):
        raise BadValue(
            where, f"{wire!r} does not say whether it is a gauge", f"write 'AWG {bare}'", wire
        )
    return _read(_WIRE, wire, where)


def wire_label(wire: float | str) -> str:
    """Write a wire as people call it: its gauge, or its diameter."""
    gauge = _gauge(wire)
    return _mm(read_wire(wire, "wire")) if gauge is None else f"AWG {gauge:g}"


def _is(value: Any) -> bool:
    return issubclass(type(value), (int, float)) and type(value) is not bool


@public
def wire_resistance(
    wire: float | str,
    *,
    temperature: float | str = 20.0,
    conductivity: float | str = 1.0,
    rounded: bool = False,
) -> float:
    """Resistance of copper wire per metre.

    Parameters
    ----------
    wire : float or str
        Gauge or bare diameter; see `wire_diameter`.
    temperature : float or str
        Temperature [°C].
    conductivity : float or str
        Conductivity as a share of standard annealed copper. Wire tables are at 1; wire of 0.01
        to 0.26 mm comes nearer 0.98, and winding tension stretches it further.
    rounded : bool
        Whether the diameter of a gauge is rounded to 0.1 mil, as in `wire_diameter`: then the
        ohms are those of tables of magnet wire.

    Returns
    -------
    float
        Resistance [ohm/m].

    Raises
    ------
    BadValue
        If a value is out of range.

    Notes
    -----
    1 / (58 m/(ohm mm²) x C x area), at 20 °C, which is 10.371 ohm for a circular mil and foot.

    References
    ----------
    58 m/(ohm mm²): Industrial Power Engineering and Applications Handbook, p. 970. 0.98: a
    resistance meter's manual, appendix 4. Rounded: a "Copper Magnet Wire Data" sheet agrees from
    AWG 6 to 36; below that, rounded nominal diameter and formula, not checked against a printed
    table.

    Examples
    --------
    >>> round(wire_resistance("AWG 42"), 3)
    5.472
    """
    share = _read(_CONDUCTIVITY, conductivity, "wire_resistance.conductivity")
    area = _SQUARE * wire_diameter(wire, rounded=rounded) ** 2
    warm = _relative(temperature, share, "wire_resistance.temperature")
    return warm / (_COPPER * share * area)


@public
def wire_table() -> Table:
    """List the wires of pickups: ohms by diameter and copper, and as printed tables have them.

    Returns
    -------
    Table
        AWG 38 to 44: diameter and ohms per 1,000 ft, exact and as printed, and the difference of
        the ohms. The metric sizes beside them, with the least and most ohms that their standard
        allows.

    Notes
    -----
    For a gauge, tables round the diameter to 0.1 mil. For a metric size they reckon with
    58.5 m/(ohm mm²), which comes to 0.9 % less. Which is nearer to your spool only its diameter
    tells, or the ohms of a length of it: give a measured diameter, ``wire="0.0631 mm"``, and
    nothing is rounded.

    References
    ----------
    As in `wire_diameter` and `wire_resistance`. Metric sizes: a winding wire maker's table
    "Gleichstrom-Widerstand bei 20 °C für 1 Meter" (ohms of one metre), of enamelled wire in grades
    1 and 2.

    Examples
    --------
    >>> next(row for row in wire_table() if row[0] == "AWG 43")
    ('AWG 43', '0.05641 mm', '2.2 mil', '2103', '2143', '+1.9 %', '6.900', '7.030', '')
    >>> next(row for row in wire_table() if row[0] == "0.063 mm")[5:]
    ('-0.8 %', '5.531', '5.484', '5.045 to 5.922')
    """
    rows = []
    for wire in (*(f"AWG {gauge}" for gauge in range(38, 45)), *_METRIC):
        exact, mils, allowed = wire_resistance(wire), "", ""
        if wire in _METRIC:
            least, printed, most = _METRIC[wire]
            allowed = f"{least:.3f} to {most:.3f}"
        else:
            printed = wire_resistance(wire, rounded=True)
            mils = f"{wire_diameter(wire, rounded=True) / _MIL:.1f} mil"
        row = wire, f"{wire_diameter(wire) * 1e3:.4g} mm", mils
        feet = f"{exact * _1000_FT:.0f}", f"{printed * _1000_FT:.0f}"
        more = f"{100 * (printed / exact - 1):+.1f} %"
        rows.append((*row, *feet, more, f"{exact:.3f}", f"{printed:.3f}", allowed))
    columns = (
        "wire",
        "exact",
        "rounded",
        "ohms per 1000 ft",
        "printed, ohms per 1000 ft",
        "difference",
        "ohms per m",
        "printed, ohms per m",
        "allowed, ohms per m",
    )
    note = (
        f"Copper at {write_celsius(20)}, 58 m/(ohm mm²). Printed: as tables have it. Those of "
        "gauges round the diameter to 0.1 mil (below AWG 36 not checked against a printed table of "
        "ohms); those of metric sizes reckon with 58.5 m/(ohm mm²)."
    )
    return Table(columns, rows, "Wire of pickups", note)


@public
@dataclass(frozen=True)
class Winding:
    """A coil on a bobbin. Made by `winding`; prints as a table.

    Parameters
    ----------
    turns : float
        Turns.
    resistance : float
        DC resistance [ohm].
    wire_length : float
        Length of the wire [m].
    mean_turn : float
        Mean length of a turn [m].
    depth : float
        Thickness of the winding on its core [m].
    diameter : float
        Diameter of the bare wire [m].
    insulated_diameter : float
        Diameter over the insulation [m].
    turns_that_fit : int, optional
        Turns that fill the bobbin to the edge of its flanges; None if that was not given.
    fill : float, optional
        Share of the bobbin that is full; above 1 the winding does not fit.
    temperature : float or str
        Temperature of the resistance [°C].

    Examples
    --------
    >>> from guitarnet.parts.winding import winding
    >>> sizes = {"core_length": "57 mm", "core_width": "4.8 mm", "traverse": "11 mm"}
    >>> made: Winding = winding("AWG 42", turns=8000, **sizes)
    >>> round(made.wire_length)
    1046
    """

    turns: float
    resistance: float
    wire_length: float
    mean_turn: float
    depth: float
    diameter: float
    insulated_diameter: float
    turns_that_fit: int | None = None
    fill: float | None = None
    temperature: float = 20.0

    def table(self) -> Table:
        """Return the winding as a table."""
        rows = [
            ("turns", f"{self.turns:.0f}"),
            (
                f"resistance at {write_celsius(self.temperature)}",
                format_value(self.resistance, "ohm"),
            ),
            ("wire", format_value(self.wire_length, "m")),
            ("mean turn", _mm(self.mean_turn)),
            ("depth of the coil", _mm(self.depth)),
            ("wire, bare", _mm(self.diameter)),
            ("wire, insulated", _mm(self.insulated_diameter)),
        ]
        note = ""
        if self.turns_that_fit is not None and self.fill is not None:
            rows.append(("turns that fit", f"{self.turns_that_fit}"))
            rows.append(("bobbin full", format_value(self.fill, "fraction", digits=3)))
            if self.fill > 1:
                note = "Does not fit: take thinner wire, a thinner insulation or fewer turns."
        return Table(("quantity", "value"), rows, "Winding", note)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def _mm(length: float) -> str:
    return f"{length * 1e3:.3g} mm"


@public
def winding(
    wire: float | str,
    *,
    turns: float | None = None,
    resistance: float | str | None = None,
    core_length: float | str,
    core_width: float | str,
    traverse: float | str,
    flange_width: float | str | None = None,
    build: float | str = "0.007 mm",
    packing: float | str = _SQUARE,
    temperature: float | str = 20.0,
    conductivity: float | str = 1.0,
    rounded: bool = False,
) -> Winding:
    """Resistance, wire and size of a coil from its turns, or turns from its resistance.

    The result has no inductance, which depends on the magnets, poles and plate of the core. Scale
    a known inductance with `inductance_by_turns`.

    Parameters
    ----------
    wire : float or str
        Gauge or bare diameter; see `wire_diameter`.
    turns : float, optional
        Turns.
    resistance : float or str, optional
        DC resistance to wind to, at ``temperature`` [ohm], instead of turns. With neither, the
        bobbin is filled to its flanges.
    core_length : float or str
        Length of the core under the first turn [m]: outside to outside of the outer rods, with
        the wall or tape around them.
    core_width : float or str
        Width of the core, which is the diameter of its round ends [m].
    traverse : float or str
        Height of the winding between the flanges [m].
    flange_width : float or str, optional
        Width of the flange across the core [m]; needed for the number of turns that fit.
    build : float or str
        Increase of the diameter by the insulation [m]. 0.007 mm is near single build on AWG 42
        (common practice, no source); measure the wire, or take the maker's sheet.
    packing : float or str
        Share of the winding's section that insulated wire fills. The default is 78.5 %, with each
        turn in its own square. Scatter winding by hand gives less; 90.7 % is the maximum.
    temperature : float or str
        Temperature of the resistance [°C].
    conductivity, rounded
        As in `wire_resistance`.

    Returns
    -------
    Winding
        Turns, resistance, wire length, mean turn, depth, and the turns that fit.

    Raises
    ------
    BadValue
        If a size is out of range or does not fit the others.
    BadSetting
        If both turns and resistance are given, or neither and no flange.

    Notes
    -----
    A turn at depth x on an oval core of length a and width b is 2 (a - b) + pi b + 2 pi x long:
    two straights and two half circles. N turns of insulated diameter d over a traverse h, of
    which they fill the share p, have the depth t = N pi d² / (4 h p), so that the mean turn is
    m = 2 (a - b) + pi b + pi t and the wire N m. From a resistance, the quadratic in N is solved.
    An even winding is assumed; a coil with a bulge has longer turns in its middle.

    References
    ----------
    Geometry as above; wire and copper as in `wire_diameter` and `wire_resistance`.

    Examples
    --------
    >>> sizes = {"core_length": "57 mm", "core_width": "4.8 mm", "traverse": "11 mm"}
    >>> made = winding("AWG 42", turns=8000, flange_width="15 mm", **sizes)
    >>> round(made.resistance), made.turns_that_fit
    (5725, 11338)
    >>> round(winding("AWG 42", resistance=made.resistance, **sizes).turns)
    8000
    """
    if turns is not None and resistance is not None:
        raise BadSetting("winding", "has turns and resistance", "give one; the other follows")
    if turns is None and resistance is None and flange_width is None:
        raise BadSetting(
            "winding", "has no turns", "give turns or resistance, or flange_width to fill it"
        )
    diameter = wire_diameter(wire, rounded=rounded)
    insulated = diameter + _read(_BUILD, build, "winding.build")
    length = _read(_SIZE, core_length, "winding.core_length")
    width = _read(_SIZE, core_width, "winding.core_width")
    height = _read(_SIZE, traverse, "winding.traverse")
    share = _read(_PACKING, packing, "winding.packing")
    _in_order("winding.core_length", length, "core_width", width, allow_equal=True)
    _in_order("winding.traverse", height, "the insulated wire", insulated)
    per_turn = _SQUARE * insulated**2 / (height * share)  # depth [m] that a turn adds
    first = 2 * (length - width) + math.pi * width
    degrees = read_celsius(temperature, "winding.temperature", _CELSIUS)
    ohm_per_metre = wire_resistance(
        wire, temperature=degrees, conductivity=conductivity, rounded=rounded
    )

    room: float | None = None
    if flange_width is not None:
        flange = _read(_SIZE, flange_width, "winding.flange_width")
        _in_order("winding.flange_width", flange, "core_width", width)
        room = (flange - width) / 2 / per_turn
    if turns is not None:
        count = _read(_TURNS, turns, "winding.turns")
    elif resistance is not None:
        wanted = _read(_OHM, resistance, "winding.resistance") / ohm_per_metre
        # pi per_turn N² + first N - wanted = 0, in the form that loses no digits.
        root = math.sqrt(first**2 + 4 * math.pi * per_turn * wanted)
        count = 2 * wanted / (first + root)
    else:
        assert room is not None
        count = float(math.floor(room))
    depth = count * per_turn
    mean = first + math.pi * depth
    return Winding(
        turns=count,
        resistance=count * mean * ohm_per_metre,
        wire_length=count * mean,
        mean_turn=mean,
        depth=depth,
        diameter=diameter,
        insulated_diameter=insulated,
        turns_that_fit=None if room is None else math.floor(room),
        fill=None if room is None else count / room,
        temperature=degrees,
    )


def _in_order(
    where: str, larger: float, name: str, smaller: float, *, allow_equal: bool = False
) -> None:
    if larger < smaller or (larger == smaller and not allow_equal):
        short = "less than" if allow_equal else "not above"
        raise BadValue(
            where,
            f"{_mm(larger)} is {short} {name}, {_mm(smaller)}",
            "measure both again, in one unit",
            larger,
        )


@public
def inductance_by_turns(known_inductance: float | str, known_turns: float, turns: float) -> float:
    """Inductance of a coil with other turns on the same core and bobbin.

    Parameters
    ----------
    known_inductance : float or str
        Measured inductance of a coil [H].
    known_turns : float
        Turns of that coil.
    turns : float
        Turns of the other coil.

    Returns
    -------
    float
        Inductance [H].

    Raises
    ------
    BadValue
        If a value is not above zero.

    Notes
    -----
    L = L0 (N / N0)². This holds for the same core, the same bobbin and nearly the same shape of
    coil; a much deeper coil couples less per turn.

    References
    ----------
    Textbook: flux linkage of N turns that share one flux.

    Examples
    --------
    >>> round(inductance_by_turns("2.9 H", 7600, 8000), 3)
    3.213
    """
    henry = _read(_HENRY, known_inductance, "inductance_by_turns.known_inductance")
    before = _read(_TURNS, known_turns, "inductance_by_turns.known_turns")
    return henry * (_read(_TURNS, turns, "inductance_by_turns.turns") / before) ** 2
