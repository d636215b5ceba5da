"""What parts and responses show of themselves, in a terminal and in a notebook."""

from __future__ import annotations

import numpy as np
import pytest

import guitarnet as gn


@pytest.fixture(scope="module")
def pickup():
    return gn.Pickup("6.2k", "2.4 H", "120p")


@pytest.fixture(scope="module")
def h(pickup):
    guitar = gn.layouts.one_pickup(pickup)
    networks = [None, gn.bleed("1n")]
    return gn.response(guitar, volume=[10, 5, 0], treble_bleed=networks)


def test_a_part_prints_its_values_as_they_are_written(pickup):
    assert str(pickup) == (
        "pickup       value\nresistance   6.2 kΩ\ninductance   2.4 H\ncapacitance  120 pF"
    )
    html = pickup._repr_html_()
    assert "<table" in html
    assert "6.2 kΩ" in html


def test_what_stands_as_it_does_by_itself_is_left_out_of_the_call(pickup):
    assert repr(pickup) == "Pickup(resistance=6200.0, inductance=2.4, capacitance=1.2e-10)"
    assert repr(gn.Cable("5 m", "88p")) == "Cable(length=5.0, capacitance_per_metre=8.8e-11)"


@pytest.mark.parametrize(
    "part",
    [
        gn.Pickup(
            "6.2k",
            "2.4 H",
            "120p",
            eddy_resistance="200k",
            eddy_share=0.2,
            tolerance="3%",
            magnet=-1,
        ),
        gn.Capacitor("22n", tolerance="5%"),
        gn.Cable("5 m", "100p"),
        gn.AmpInput("1M", "100p", "68k"),
        gn.parallel_bleed("1n", "150k"),
        gn.switches.three_way_toggle(),
        gn.Pot("250k", gn.audio_taper(0.15), end_resistance=("2 ohm", "1%")),
        gn.Humbucker(gn.Coil("4k", "2 H", "80p"), gn.Coil("4.1k", "2.1 H", "80p")),
        gn.Jack(),
        None,
    ],
    ids=lambda part: type(part).__name__,
)
def test_the_call_makes_the_part_again(part, pickup):
    """The text of a call holds every digit."""
    part = part or gn.layouts.one_pickup(pickup).parts["treble_bleed"]  # an empty place
    names = {name: getattr(gn, name) for name in ("Resistor", "Capacitor", "Coil", "Humbucker")}
    names |= {type(part).__name__: type(part), "Taper": gn.Taper}
    assert eval(repr(part), names) == part


def test_a_pot_tells_its_ends_and_a_switch_its_contacts():
    pot = gn.Pot("250k", "audio 15%", tolerance="10%", end_resistance=("2 ohm", "1%"))
    rows = pot.table().rows
    assert rows[2:] == [
        ("tolerance", "±10 %"),
        ("end resistance at high", "2 Ω"),
        ("end resistance at low", "1%"),
    ]
    toggle = gn.switches.three_way_toggle().table()
    assert toggle.columns == ("three-way toggle", "value")
    assert toggle.rows[0] == ("neck", "first and common joined")


def test_a_part_inside_a_part_is_named():
    coils = gn.Humbucker(gn.Coil("4k", "2 H", "80p"), gn.Coil("4.1k", "2.1 H", "80p"))
    assert ("coil_2: resistance", "4.1 kΩ") in coils.table().rows


def test_a_response_in_numbers_is_what_the_measures_say(h):
    """Every cell against `level_db` and `peak`."""
    table = gn.sweeps.response_table(h, ["1 kHz", "3 kHz"])
    assert table.columns == (
        *("volume", "treble bleed", "100 Hz", "1 kHz", "3 kHz", "peak", "height", "Q"),
    )
    assert len(table) == 6
    level, top = gn.level_db(h, re="reference"), gn.peak(h)
    for row, (i, j) in zip(table, np.ndindex(3, 2), strict=True):
        assert row[0] == ["10", "5", "0"][i]
        assert row[1] == ["none", "1 nF"][j]
        if i == 2:
            assert row[2:] == ("silent", *"—————")
            continue
        for cell, f in zip(row[3:5], (1000, 3000), strict=True):
            assert float(cell) == pytest.approx(level[i, j].interp(frequency=f).item(), abs=0.06)
        found = top.isel(volume=i, treble_bleed=j)
        assert row[5] == f"{found.frequency.item() / 1000:.3g} kHz"
        assert float(row[6]) == pytest.approx(found.height.item(), abs=0.06)


def test_levels_between_grid_points_are_those_of_the_circuit(pickup):
    """The docstring's 0.01 dB, against a response computed at the very frequencies."""
    guitar = gn.layouts.one_pickup(pickup, treble_bleed="1n", tone_capacitor="22n")
    asked = [777.0, 1234.0, 3456.0, 6789.0, 11111.0]
    settings = {"volume": [10, 7, 3], "tone": [10, 5, 0]}
    coarse = gn.level_db(gn.response(guitar, **settings))
    exact = gn.level_db(gn.response(guitar, frequency=asked, **settings))
    read = np.apply_along_axis(
        lambda row: np.interp(np.log(asked), np.log(coarse.frequency), row), -1, coarse.values
    )
    assert abs(read - exact.values).max() < 0.01


def test_long_tables_say_what_they_leave_out(h):
    table = gn.sweeps.response_table(h, most=4)
    assert len(table) == 4
    assert table.note.endswith("2 more settings are not shown.")
    with pytest.raises(gn.errors.BadSetting) as refused:
        gn.sweeps.response_table(h, ["30 kHz"])
    assert str(refused.value) == (
        "frequencies: 30 kHz is not within 20 Hz to 20 kHz; leave it out."
    )
