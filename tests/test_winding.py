"""Copper, wire and windings against wire tables, handbooks, a data sheet and arithmetic."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, strategies as st

import guitarnet as gn
from guitarnet import Pickup
from guitarnet.errors import BadSetting, BadValue
from guitarnet.files import read_csv_columns
from guitarnet.parts.winding import (
    Winding,
    inductance_by_turns,
    resistance_at,
    winding,
    wire_diameter,
    wire_resistance,
)
from guitarnet.values import read_value

FOOT = 0.3048
OVAL = {"core_length": "57 mm", "core_width": "4.8 mm", "traverse": "11 mm"}
"""A single coil over six rods (sizes from memory)."""


# -- wire -----------------------------------------------------------------------------------------


def test_the_gauge_formula_at_its_fixed_points():
    """ASTM B258: AWG 36 is 0.005 inch and AWG 0000 (-3) is 0.46 inch, 39 equal steps between."""
    assert wire_diameter("AWG 36") == 0.127e-3
    assert wire_diameter("AWG 36") * 92 == pytest.approx(0.46 * 25.4e-3, rel=1e-15)
    step = wire_diameter("AWG 41") / wire_diameter("AWG 42")
    assert step**39 == pytest.approx(92, rel=1e-12)


@pytest.mark.parametrize(
    "written", ["AWG 42", "42 AWG", "awg42", "AWG #42", "#42 AWG", " AWG 42.0 "]
)
def test_a_gauge_as_people_write_it(written):
    assert wire_diameter(written) == wire_diameter("AWG 42")


def test_rounded_diameters_and_their_ohms_are_those_of_printed_tables():
    """To the fourth digit, the last one printed; the sources stand in the file.

    The sheet takes 10.371 ohm for a circular mil and foot, we 10.3712.

    Ohms below AWG 36 are not checked against a printed table: 1,659, 2,143 and 2,593 for AWG 42,
    43 and 44 are from memory, and follow from the rounded diameters.
    """
    file = Path(__file__).parent / "reference" / "magnet_wire.csv"
    table = read_csv_columns(file, ["gauge", "inch", "ohms_per_1000_ft"])
    for gauge, inch, ohms in zip(*table.values(), strict=True):
        wire = f"AWG {gauge:g}"
        assert wire_diameter(wire, rounded=True) == pytest.approx(inch * 0.0254, rel=1e-12)
        found = wire_resistance(wire, rounded=True) * 1000 * FOOT
        if not np.isnan(ohms):
            assert abs(found - ohms) < 0.7 * 10.0 ** (math.floor(math.log10(ohms)) - 3)
    rounded = [wire_resistance(f"AWG {g}", rounded=True) * 1000 * FOOT for g in (42, 43, 44)]
    assert rounded == pytest.approx([1659, 2143, 2593], abs=0.6)
    assert wire_resistance("0.063 mm", rounded=True) == wire_resistance("0.063 mm")
    sizes = {"core_length": "57 mm", "core_width": "4.8 mm", "traverse": "11 mm", "turns": 8000}
    made, plain = winding("AWG 44", rounded=True, **sizes), winding("AWG 44", **sizes)
    assert made.diameter == pytest.approx(0.0508e-3, rel=1e-12)
    assert made.resistance / plain.resistance == pytest.approx(2593 / 2652, rel=5e-3)
    told = {row[0]: row[3:6] for row in gn.windings.wire_table()}
    assert told["AWG 42"] == ("1668", "1659", "-0.5 %")
    assert told["AWG 44"] == ("2652", "2593", "-2.2 %")
    # 58 m/(ohm mm²) and 0.063 mm by hand: 5.531 ohm for a metre.
    assert told["0.063 mm"] == ("1686", "1672", "-0.8 %")
    with pytest.raises(BadValue) as refusal:
        wire_diameter("AWG 42.5", rounded=True)
    assert str(refusal.value) == (
        "wire: tables do not round AWG 42.5 to 0.1 mil; leave rounded out."
    )


def test_metric_sizes_are_those_of_a_printed_table():
    """Least, nominal and most ohms of a metre; the nominal ones are 58.5 m/(ohm mm²), 0.05 % off.

    The source stands in the file.
    """
    file = Path(__file__).parent / "reference" / "metric_wire.csv"
    table = read_csv_columns(file, ["mm", "least", "nominal", "most"])
    told = {row[0]: row for row in gn.windings.wire_table()}
    for mm, least, nominal, most in zip(*table.values(), strict=True):
        wire = f"{mm:g} mm"
        assert told[wire][7:] == (f"{nominal:.3f}", f"{least:.3f} to {most:.3f}")
        assert wire_resistance(wire) * 58 / 58.5 == pytest.approx(nominal, rel=5e-4)


def test_a_diameter_is_a_length():
    assert wire_diameter("0.063 mm") == wire_diameter(63e-6) == 63e-6


@pytest.mark.parametrize(
    ("wire", "ohm_per_1000_ft"),
    [
        ("AWG 40", 1049),  # wire tables
        ("AWG 36", 414.8),  # copper magnet wire data, nominal, at 20 °C
        ("0.0100 in", 103.7),  # the same, of AWG 30 by its printed diameter
        ("AWG 42", 1668),  # derived by the formula of ASTM B258
        ("AWG 43", 2103),
        ("AWG 44", 2652),
    ],
)
def test_wire_tables(agreement, wire, ohm_per_1000_ft):
    """Ohm for 1000 ft at 20 °C, at the conductivity of standard copper, within 0.1 %."""
    found = wire_resistance(wire) * 1000 * FOOT
    assert found == pytest.approx(ohm_per_1000_ft, rel=1e-3)
    agreement(
        "wire tables, ASTM B258",
        "resistance of 1000 ft of wire",
        [found],
        [ohm_per_1000_ft],
        limit="printed to four digits",
    )


def test_standard_copper():
    """58 m/(ohm mm²) at 20 °C: Industrial Power Engineering and Applications Handbook, p. 970.

    Fine wire (0.01 to 0.26 mm) x 0.98: a resistance meter's manual, appendix 4.
    """
    square_millimetre = math.sqrt(4 / math.pi) * 1e-3
    assert wire_resistance(square_millimetre) == pytest.approx(1 / 58, rel=1e-14)
    fine = wire_resistance("AWG 42", conductivity=0.98)
    assert fine / wire_resistance("AWG 42") == pytest.approx(1 / 0.98, rel=1e-14)
    assert wire_resistance("AWG 42", conductivity="98%") == fine


# -- temperature ----------------------------------------------------------------------------------


def test_temperature_as_a_handbook_says():
    """0.00393/K at 20 °C: Industrial Power Engineering and Applications Handbook, p. 970."""
    assert resistance_at(1000, 21) == pytest.approx(1003.93, rel=1e-14)
    assert resistance_at(1000, 19) == pytest.approx(996.07, rel=1e-14)
    # "0.393 %/K" over ten degrees: the warm reading that is taken for a fault.
    assert resistance_at("6.2k", 30) == pytest.approx(6200 * 1.0393, rel=1e-14)


def test_temperature_as_a_meter_corrects_it(agreement):
    """Worked examples of a resistance meter's manual, appendix 4, "Temperature Correction".

    100 ohm at 30 °C are 96.22 ohm at 20 °C; conductivity 0.93 makes 3930 into about 3650 ppm/K.
    """
    assert resistance_at(100, 20, measured_at=30) == pytest.approx(96.22, abs=0.005)
    assert resistance_at(1e6, 21, conductivity=0.93) - 1e6 == pytest.approx(3650, abs=6)
    found = [resistance_at(100, 20, measured_at=30)]
    agreement(
        "a resistance meter's manual",
        "copper warmed by ten degrees",
        found,
        [96.22],
        limit="printed to four digits",
    )


CELSIUS = st.floats(-20, 60).map(lambda celsius: round(celsius, 9))
"""Nothing is refused but a temperature of under 1e-30 degrees that is not zero."""


@given(st.floats(1, 1e5), CELSIUS, CELSIUS, st.floats(0.9, 1.03))
def test_temperature_there_and_back(ohm, here, there, conductivity):
    said = {"conductivity": conductivity}
    one, other = f"{here!r} C", f"{there!r} C"
    moved = resistance_at(ohm, other, measured_at=one, **said)
    assert resistance_at(moved, one, measured_at=other, **said) == pytest.approx(ohm, rel=1e-12)
    assert (moved > ohm) == (there > here) or moved == pytest.approx(ohm, rel=1e-12)


def test_wire_and_coil_warm_alike():
    warm = wire_resistance("AWG 43", temperature=35, conductivity=0.98)
    cold = wire_resistance("AWG 43", conductivity=0.98)
    assert warm == pytest.approx(resistance_at(cold, 35, conductivity=0.98), rel=1e-14)


# -- windings -------------------------------------------------------------------------------------


def test_a_winding_is_the_sum_of_its_turns():
    """Turn by turn on a round core, in layers of one turn each: mean length by summing."""
    d = 0.0703e-3
    made = winding(
        "0.0633 mm", turns=400, core_length="20 mm", core_width="20 mm", traverse=d * 1.0001
    )
    depth = (np.arange(400) + 0.5) * made.depth / 400
    assert made.wire_length == pytest.approx((2 * np.pi * (10e-3 + depth)).sum(), rel=1e-12)
    assert made.depth == pytest.approx(400 * d, rel=2e-4)  # square packing: a layer is d deep
    assert made.resistance == pytest.approx(
        made.wire_length * wire_resistance("0.0633 mm"), rel=1e-14
    )


def test_an_oval_turn():
    """Two straights and two half circles; with one turn there is nothing but the core."""
    made = winding("AWG 42", turns=1, **OVAL)
    assert made.mean_turn == pytest.approx(2 * 52.2e-3 + math.pi * 4.8e-3, rel=1e-4)


def test_copper_volume_is_kept():
    """Wire in equals winding out: insulated section x length = packing x volume of the coil."""
    made = winding("AWG 42", turns=8000, packing=0.6, build="0.009 mm", **OVAL)
    inner = 52.2e-3 * 4.8e-3 + math.pi * 2.4e-3**2
    radius = 2.4e-3 + made.depth
    volume = 11e-3 * (52.2e-3 * 2 * radius + math.pi * radius**2 - inner)
    section = math.pi / 4 * made.insulated_diameter**2
    assert section * made.wire_length == pytest.approx(0.6 * volume, rel=1e-12)
    assert made.insulated_diameter - made.diameter == pytest.approx(9e-6, rel=1e-12)


@given(st.floats(1, 20000), st.sampled_from(["AWG 40", "AWG 42", "AWG 43.5", "0.05 mm"]))
def test_turns_from_resistance(turns, wire):
    said = {"temperature": 26, "conductivity": 0.98, **OVAL}
    made = winding(wire, turns=turns, **said)
    back = winding(wire, resistance=made.resistance, **said)
    assert back.turns == pytest.approx(turns, rel=1e-10)
    assert back.wire_length == pytest.approx(made.wire_length, rel=1e-10)


@pytest.mark.parametrize(
    ("written", "gauge"),
    [
        *((text, 42) for text in ("AWG 42", "42 AWG", "#42 AWG", "AWG #42", "awg42", " AWG  42 ")),
        ("AWG42.5", 42.5),
        ("AWG 9", 9),
    ],
)
def test_a_gauge_in_any_writing(written, gauge):
    """ASTM B258: d = 0.127 mm x 92^((36 - n) / 39)."""
    assert wire_diameter(written) == pytest.approx(0.127e-3 * 92 ** ((36 - gauge) / 39), rel=1e-15)


def test_insulation_is_seven_micrometres_unless_it_is_said():
    """Near single build on AWG 42: common practice, no source."""
    plain = winding("AWG 42", turns=1, **OVAL)
    assert plain.insulated_diameter - plain.diameter == pytest.approx(7e-6, rel=1e-9)
    assert str(winding("AWG 42", flange_width="10 mm", turns=20000, **OVAL)).endswith(
        "Does not fit: take thinner wire, a thinner insulation or fewer turns."
    )


def test_temperature_and_conductivity_go_into_the_resistance_alone():
    cold = winding("AWG 42", turns=8000, **OVAL)
    warm = winding("AWG 42", turns=8000, temperature=35, conductivity=0.98, **OVAL)
    ohm_per_metre = wire_resistance("AWG 42", temperature=35, conductivity=0.98)
    assert warm.resistance == pytest.approx(warm.wire_length * ohm_per_metre, rel=1e-14)
    assert (warm.temperature, cold.temperature) == (35, 20)
    assert warm.wire_length == cold.wire_length


def test_turns_that_fit():
    """A full bobbin reaches the flange; half the turns, half full; more, and it says so."""
    full = winding("AWG 42", flange_width="15 mm", **OVAL)
    assert full.turns == full.turns_that_fit
    assert full.depth == pytest.approx(5.1e-3, rel=1e-4)
    assert full.fill == pytest.approx(1, rel=1e-4)
    half = winding("AWG 42", turns=full.turns / 2, flange_width="15 mm", **OVAL)
    assert half.fill == pytest.approx(full.fill / 2, rel=1e-12)
    over = winding("AWG 42", turns=1.5 * full.turns, flange_width="15 mm", **OVAL)
    assert over.fill == pytest.approx(1.5 * full.fill, rel=1e-12)
    assert "Does not fit" in str(over)
    assert "Does not fit" not in str(half)
    assert winding("AWG 42", turns=100, **OVAL).turns_that_fit is None


def test_a_printed_single_coil():
    """AWG 42, 7600 turns, 6.5k, 2.9 H at 120 Hz, 7.85 kHz: Premier Guitar, "Demystifying DCR".

    The bobbin is not printed. What follows: 1188 m of wire, 156 mm a turn, and 141.7 pF. A
    winding of that mean turn has that resistance.
    """
    length = 6500 / wire_resistance("AWG 42")
    assert length == pytest.approx(1188, abs=1)
    assert length / 7600 == pytest.approx(0.1563, abs=1e-4)
    core = {"core_width": "5 mm", "traverse": "12 mm"}
    shape = winding("AWG 42", turns=7600, core_length="57 mm", **core)
    longer = 57e-3 + (length / 7600 - shape.mean_turn) / 2
    made = winding("AWG 42", turns=7600, core_length=longer, **core)
    assert made.resistance == pytest.approx(6500, rel=1e-9)
    henry = read_value("2.9 H", "H")
    farad = 1 / ((2 * math.pi * 7850) ** 2 * henry)
    assert farad == pytest.approx(141.7e-12, abs=0.05e-12)
    assert Pickup(made.resistance, henry, farad).label() == "6.5 kΩ, 2.9 H, 141.7 pF"


def test_inductance_goes_with_turns_squared():
    """Textbook: N turns that share one flux."""
    assert inductance_by_turns("2.9 H", 7600, 7600) == 2.9
    assert inductance_by_turns("2.9 H", 7600, 3800) == pytest.approx(2.9 / 4, rel=1e-15)
    assert inductance_by_turns("2.9 H", 7600, 8400) == pytest.approx(3.5427, abs=1e-4)


def test_a_winding_reads_as_a_table():
    made = winding("AWG 42", turns=8000, flange_width="15 mm", **OVAL)
    assert str(made).splitlines() == [
        "Winding",
        "quantity             value",
        "turns                8000",
        "resistance at 20 °C  5.725 kΩ",
        "wire                 1046 m",
        "mean turn            131 mm",
        "depth of the coil    3.6 mm",
        "wire, bare           0.0633 mm",
        "wire, insulated      0.0703 mm",
        "turns that fit       11338",
        "bobbin full          70.6 %",
    ]
    assert "<table>" in made._repr_html_()
    assert isinstance(made, Winding)


# -- refusals -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "kind", "message"),
    [
        (
            lambda: wire_diameter("42"),
            BadValue,
            "wire: '42' does not say whether it is a gauge; write 'AWG 42'.",
        ),
        (
            lambda: wire_diameter(42),
            BadValue,
            "wire: 42 does not say whether it is a gauge; write 'AWG 42'.",
        ),
        (
            lambda: wire_diameter("63 mm"),
            BadValue,
            "wire: '63 mm' is too large; give a value from 1e-06 m to 0.002 m (or a gauge, 'AWG "
            "42').",
        ),
        (
            lambda: resistance_at("6.2k", 68 + 273),
            BadValue,
            "resistance_at.temperature: 341 is too large; give a value from -50 to 180 (in °C).",
        ),
        (
            lambda: resistance_at(0, 20),
            BadValue,
            "resistance_at.resistance: 0 Ω is zero; give a value above 0 Ω.",
        ),
        (
            lambda: wire_resistance("AWG 42", conductivity=58),
            BadValue,
            "wire_resistance.conductivity: 5800 % is too large; give a value from 90 % to 103 % "
            "(of standard copper).",
        ),
        (
            lambda: inductance_by_turns("2.9 H", 7600, 0),
            BadValue,
            "inductance_by_turns.turns: 0 is too small; give a value from 0.01 to 1e+06.",
        ),
        (
            lambda: winding("AWG 42", **OVAL),
            BadSetting,
            "winding: has no turns; give turns or resistance, or flange_width to fill it.",
        ),
        (
            lambda: winding("AWG 42", turns=8000, resistance="6k", **OVAL),
            BadSetting,
            "winding: has turns and resistance; give one; the other follows.",
        ),
        (
            lambda: winding("AWG 42", turns=8000, **{**OVAL, "core_width": "6 cm"}),
            BadValue,
            "winding.core_length: 57 mm is less than core_width, 60 mm; measure both again, in one "
            "unit.",
        ),
        *(
            (
                lambda traverse=traverse: winding(
                    "AWG 42", turns=8000, **{**OVAL, "traverse": traverse}
                ),
                BadValue,
                f"winding.traverse: {traverse} is not above the insulated wire, 0.0703 mm; measure "
                "both again, in one unit.",
            )
            for traverse in ("0.05 mm", "0.0703 mm")
        ),
        (
            lambda: winding("AWG 42", turns=8000, temperature=400, **OVAL),
            BadValue,
            "winding.temperature: 400 is too large; give a value from -50 to 180 (in °C).",
        ),
        *(
            (
                lambda bare=bare: wire_diameter(bare),
                BadValue,
                f"wire: {bare!r} does not say whether it is a gauge; write 'AWG {number}'.",
            )
            for bare, number in [
                ("9", 9),
                ("#38", 38),
                (" 42.5 ", 42.5),
                (99, 99),
                (1, 1),
                (44.0, 44),
            ]
        ),
        *(
            (
                lambda size=size: wire_diameter(size),
                BadValue,
                f"wire: {size} m is too {what}; give a value from 1e-06 m to 0.002 m (or a gauge, "
                "'AWG 42').",
            )
            for size, what in [(100, "large"), (0, "small")]
        ),
        (
            lambda: wire_diameter(True),
            BadValue,
            "wire: True is not a number; write it like '3 m' or '10 ft'.",
        ),
        (
            lambda: winding("AWG 42", turns=8000, flange_width="4.8 mm", **OVAL),
            BadValue,
            "winding.flange_width: 4.8 mm is not above core_width, 4.8 mm; measure both again, in "
            "one unit.",
        ),
        (
            lambda: winding("AWG 42", turns=8000, packing=0.95, **OVAL),
            BadValue,
            "winding.packing: 95 % is too large; give a value above 0 % up to 90.69 % (hexagonal "
            "at most).",
        ),
    ],
)
def test_refused(call, kind, message):
    with pytest.raises(kind) as refusal:
        call()
    assert str(refusal.value) == message
