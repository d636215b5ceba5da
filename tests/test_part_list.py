"""The parts list: what to ask for in a shop, and what stands on the part."""

from __future__ import annotations

import pytest

from guitarnet import Coil, Humbucker, Pickup, Pot, Resistor, layouts
from guitarnet.circuit.bench_lists import letter_code
from guitarnet.parts.blend import BlendPot

PICKUP = Pickup("6.2k", "2.4 H", "120p")


def rows(**values):
    guitar = layouts.one_pickup(PICKUP, **values)
    return {row[0]: row[1:] for row in guitar.part_table()}


def test_the_list_of_one_pickup():
    """Each component of the bleed in a row of its own; usual tolerances called so."""
    table = layouts.one_pickup(PICKUP, treble_bleed="150k || 1n").part_table()
    assert table.columns == ("part", "kind", "value", "nearest to buy", "marking", "tolerance")
    assert list(table) == [
        ("pickup", "pickup", "6.2 k\u03a9, 2.4 H, 120 pF", "", "", "DCR \u00b15 % usual"),
        ("volume", "pot", "250 k\u03a9, audio 15%", "", "250K", "\u00b120 % usual"),
        ("tone", "pot", "250 k\u03a9, audio 15%", "", "250K", "\u00b120 % usual"),
        ("tone_capacitor", "capacitor", "22 nF", "", "223", "\u00b110 % usual"),
        ("treble_bleed.resistor", "resistor", "150 k\u03a9", "", "150K", "\u00b15 % usual"),
        ("treble_bleed.capacitor", "capacitor", "1 nF", "", "102", "\u00b110 % usual"),
        ("jack", "jack", "", "", "", ""),
        ("cable", "cable", "3 m at 100 pF/m", "", "", "\u00b110 % usual"),
        ("amp", "amp input", "1 M\u03a9", "", "", "\u00b110 % usual"),
    ]


@pytest.mark.parametrize(
    ("part", "value", "nearest", "marking"),
    [
        # IEC 60063: E12 for capacitors, E24 for resistors. IEC 60062: markings.
        ("tone_capacitor", "21n", "22 nF", "223"),
        ("tone_capacitor", "50n", "47 nF", "473"),
        ("tone_capacitor", "100n", "", "104"),
        ("tone_capacitor", "22.5n", "22 nF", "223"),
        ("tone_capacitor", "4.7p", "", ""),  # too small for three digits
        ("treble_bleed", "140k", "150 k\u03a9", "150K"),
        ("treble_bleed", "133k", "130 k\u03a9", "130K"),
        ("treble_bleed", "4.7k", "", "4K7"),
        # What pots are sold as: common practice, no source.
        ("volume", "235k", "250 k\u03a9", "250K"),
        ("volume", "480k", "500 k\u03a9", "500K"),
        ("volume", "1M", "", "1M"),
    ],
)
def test_what_to_buy(part, value, nearest, marking):
    made = rows(**{part: value}, unusual=value == "4.7p")
    assert made[part][2:4] == (nearest, marking)


@pytest.mark.parametrize(
    ("ohms", "code"),
    [
        # IEC 60062, the examples that its users print.
        (0.47, "R47"),
        (4.7, "4R7"),
        (470, "470R"),
        (4.7e3, "4K7"),
        (47e3, "47K"),
        (47.3e3, "47K3"),
        (4.7e6, "4M7"),
        # The same rule beyond what is printed; below a thousandth the digits go on.
        (1, "1R"),
        (999, "999R"),
        (1e3, "1K"),
        (1e6, "1M"),
        (4.7e9, "4G7"),
        (4.7e12, "4700G"),
        (0.047, "R047"),
        (47.36e3, "47K4"),
    ],
)
def test_letter_codes(ohms, code):
    assert letter_code(ohms) == code


def test_a_stated_tolerance_is_not_called_usual():
    volume = Pot("250k", "audio 15%", tolerance="8%")
    assert rows(volume=volume)["volume"][-1] == "\u00b18 %"
    guitar = layouts.pickup_alone(Pickup("6k", "2 H", "100p", tolerance="2%"))
    assert next(iter(guitar.part_table()))[-1] == "DCR \u00b12 %"


def test_a_humbucker_by_its_coils():
    coil = Coil("4k", "2 H", "150p", tolerance="3%")
    row = next(iter(layouts.pickup_alone(Humbucker(coil, coil)).part_table()))
    assert (row[1], row[-1]) == ("humbucker", "DCR \u00b13 %")


def test_a_network_in_a_network():
    table = rows(treble_bleed="100k + (1n || 470k)")
    assert [name for name in table if name.startswith("treble_bleed")] == [
        "treble_bleed.resistor",
        "treble_bleed.network.capacitor",
        "treble_bleed.network.resistor",
    ]


def test_a_switch_a_blend_pot_and_what_has_no_marking():
    lever = layouts.three_single_coils(PICKUP, PICKUP, PICKUP).part_table()
    assert next(row[1:3] for row in lever if row[0] == "switch") == ("five-way lever", "5 places")
    blend = layouts.bass_blend(PICKUP, PICKUP).replace("blend", BlendPot("240k")).part_table()
    assert next(row[3:5] for row in blend if row[0] == "blend") == ("250 k\u03a9", "250K")
    link = rows(treble_bleed=Resistor(0))["treble_bleed"]
    assert link == ("resistor", "0 \u03a9", "", "", "\u00b15 % usual")
    assert rows()["treble_bleed"][:2] == ("empty place", "none")


@pytest.mark.parametrize(
    ("ohms", "sold"),
    [
        ("11k", "10 kΩ"),
        ("24k", "25 kΩ"),
        ("48k", "50 kΩ"),
        ("110k", "100 kΩ"),
        ("240k", "250 kΩ"),
        ("290k", "300 kΩ"),
        ("340k", "330 kΩ"),
        ("480k", "500 kΩ"),
        ("1.1M", "1 MΩ"),
        ("1.9M", "2 MΩ"),
        ("1k", "10 kΩ"),
        ("9M", "2 MΩ"),
    ],
)
def test_pots_are_sold_as(ohms, sold):
    """Common practice, no source; nearest by ratio."""
    assert rows(volume=Pot(ohms, "linear", unusual=ohms in ("1k", "9M")))["volume"][2] == sold
    assert rows(volume=Pot(sold, "linear"))["volume"][2] == ""
