"""What the values of parts may be: units, ends of the range, defaults, and what may be missing.

The ranges are ours, set wide enough for any real part; the tests hold what the docstrings and the
error texts promise, to the last number before the limit and the first one past it.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from guitarnet import (
    AmpInput,
    BlendPot,
    Cable,
    Capacitor,
    Choke,
    Coil,
    Empty,
    Humbucker,
    Jack,
    Network,
    Pickup,
    Pot,
    Resistor,
    Switch,
    audio_taper,
    bleed,
    layouts,
    linear_taper,
    measured_taper,
    reverse_audio_taper,
    tapped,
)
from guitarnet.circuit.layouts.bench import marked_capacitors
from guitarnet.errors import BadSetting, BadValue
from guitarnet.parts.base import Part
from guitarnet.parts.taper import Taper
from guitarnet.switches import double_throw
from guitarnet.values import triode_input_capacitance
from guitarnet.windings import (
    inductance_by_turns,
    resistance_at,
    winding,
    wire_diameter,
    wire_resistance,
)

COIL = Coil("6k", "2 H", "100p")
WHOLE = {
    Resistor: Resistor("1k"),
    Capacitor: Capacitor("1n"),
    Choke: Choke("1 H"),
    Coil: COIL,
    Pickup: Pickup("6k", "2 H", "100p"),
    Humbucker: Humbucker(COIL, COIL),
    Cable: Cable("3 m"),
    AmpInput: AmpInput("1M"),
    Pot: Pot("250k", "linear"),
    BlendPot: BlendPot("250k"),
}
"""A part of each kind, to change one value of."""

# Kind and field; unit; lowest, and whether that itself is allowed; highest; default.
NEEDED = object()
WINDING = (
    ("resistance", "ohm", 0, False, 1e7, NEEDED),
    ("inductance", "H", 0, False, 1000, NEEDED),
    ("capacitance", "F", 0, True, 1e-6, NEEDED),
    ("eddy_resistance", "ohm", 0, False, None, None),
    ("eddy_share", "fraction", 0, False, 1, None),
    ("screening_frequency", "Hz", 0, False, None, None),
    ("tolerance", "fraction", 0, True, 1, None),
    ("eddy_order", "fraction", 0.5, True, 1, None),
    ("slow_share", "fraction", 0, False, 1, None),
    ("slow_frequency", "Hz", 0, False, None, None),
    ("turns", "number", 0, False, 1e5, None),
)
LIMITS = [
    (Resistor, "resistance", "ohm", 0, True, None, NEEDED),
    (Resistor, "tolerance", "fraction", 0, True, 1, None),
    (Capacitor, "capacitance", "F", 0, False, 1, NEEDED),
    (Capacitor, "tolerance", "fraction", 0, True, 1, None),
    (Capacitor, "dissipation_factor", "fraction", 0, True, 10, 0),
    (Capacitor, "series_resistance", "ohm", 0, True, None, 0),
    (Capacitor, "parallel_resistance", "ohm", 0, False, None, None),
    (Choke, "inductance", "H", 0, False, 1000, NEEDED),
    (Choke, "resistance", "ohm", 0, True, 1e7, 0),
    (Choke, "capacitance", "F", 0, True, 1e-6, 0),
    (Choke, "tolerance", "fraction", 0, True, 1, None),
    *((kind, *row) for kind in (Coil, Pickup) for row in WINDING),
    (Humbucker, "coupling", "fraction", -0.999, True, 0.999, 0.12),
    (Humbucker, "between_capacitance", "F", 0, False, 1e-6, None),
    (Humbucker, "lead_capacitance", "F", 0, False, 1e-6, None),
    (Cable, "length", "m", 0, True, 1000, NEEDED),
    (Cable, "capacitance_per_metre", "F/m", 0, True, 1e-8, 100e-12),
    (Cable, "resistance_per_metre", "ohm/m", 0, True, None, 0),
    (Cable, "insulation_resistance", "ohm m", 0, False, None, None),
    (AmpInput, "resistance", "ohm", 0, False, None, 1e6),
    (AmpInput, "capacitance", "F", 0, True, None, 0),
    (AmpInput, "grid_resistance", "ohm", 0, True, None, 0),
    (Pot, "resistance", "ohm", 1, True, 1e9, NEEDED),
    (Pot, "tolerance", "fraction", 0, True, 1, None),
    (AmpInput, "tolerance", "fraction", 0, True, 1, None),
    (Cable, "tolerance", "fraction", 0, True, 1, None),
    (BlendPot, "resistance", "ohm", 1, True, 1e9, NEEDED),
    (BlendPot, "tolerance", "fraction", 0, True, 1, None),
]
IDS = [f"{kind.__name__}.{name}" for kind, name, *_ in LIMITS]


def changed(kind, name, value):
    """A part of a kind with one value changed; losses come in pairs."""
    pairs = {"eddy_resistance": {"eddy_share": 0.3}, "slow_share": {"slow_frequency": 700}}
    more = pairs.get(name, {})
    return getattr(dataclasses.replace(WHOLE[kind], **{name: value, **more}), name)


def test_every_value_of_every_kind_is_listed():
    """A new value needs its limits here."""
    listed = {(kind, name) for kind, name, *_ in LIMITS}
    there = {
        (kind, field.name)
        for kind in WHOLE
        for field in dataclasses.fields(kind)
        if "quantity" in field.metadata
    }
    assert listed == there
    bare = {Network, Switch, Jack, Empty}  # they hold no single values
    assert {kind for kind in Part.kinds.values() if kind.__module__.startswith("guitarnet.")} == (
        bare | set(WHOLE)
    )


@pytest.mark.usefixtures("unusual")
@pytest.mark.parametrize(
    ("kind", "name", "unit", "low", "closed", "high", "default"), LIMITS, ids=IDS
)
def test_the_range_of_a_value(kind, name, unit, low, closed, high, default):
    where = rf"^{kind.__name__}\.{name}: "
    above = np.nextafter(low, math.inf) if low else 1e-15
    below = np.nextafter(low, -math.inf) if low else -1e-15
    assert changed(kind, name, above) == above
    for refused in (below, math.inf, math.nan, *(() if closed else (low,))):
        with pytest.raises(BadValue, match=where):
            changed(kind, name, refused)
    if closed:
        assert changed(kind, name, low) == low
    if high is None:
        assert changed(kind, name, 1e15) == 1e15
    else:
        assert changed(kind, name, high) == high
        with pytest.raises(BadValue, match=where + ".* (too large|as percent)"):
            changed(kind, name, np.nextafter(high, math.inf))


@pytest.mark.parametrize(
    ("kind", "name", "unit", "low", "closed", "high", "default"), LIMITS, ids=IDS
)
def test_unit_default_and_missing_value(kind, name, unit, low, closed, high, default):
    (field,) = (field for field in dataclasses.fields(kind) if field.name == name)
    assert field.metadata["quantity"].unit == unit
    if default is NEEDED:
        assert field.default is dataclasses.MISSING
    else:
        assert field.default == default
    if default is None:
        assert changed(kind, name, None) is None
    else:
        with pytest.raises(BadValue, match=rf"^{kind.__name__}\.{name}: no value was given"):
            changed(kind, name, None)


@pytest.mark.parametrize("part", [*WHOLE.values(), Jack(), Empty(), double_throw()])
def test_a_part_is_a_value(part):
    """It cannot be changed, is equal to its like and may be a key."""
    name = dataclasses.fields(part)[0].name if dataclasses.fields(part) else "anything"
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(part, name, 1)
    assert part == dataclasses.replace(part)
    assert hash(part) == hash(dataclasses.replace(part))


def test_knob_marks_and_tracks():
    """What a hand sets: marks from 0 to 10, a track fraction from 0 to 1, where it stands."""
    pot, blend = WHOLE[Pot], WHOLE[BlendPot]
    for part, names in ((pot, {"mark": 10.0, "track": None}), (blend, {"mark": 5.0})):
        assert {name: control.default for name, control in part.controls.items()} == names
        assert part.main == "mark"
    for name, high in (("mark", 10), ("track", 1)):
        spec = pot.settable()[name]
        assert (spec.read(0, name), spec.read(high, name)) == (0, high)
        for past in (-1e-15, np.nextafter(high, 11), None):
            with pytest.raises(BadValue, match=f"^{name}: "):
                spec.read(past, name)
    assert blend.settable()["mark"] == pot.settable()["mark"]
    assert pot.settable()["mark"].unit == "mark"
    assert pot.settable()["track"].unit == "fraction"


def test_usual_tolerances_of_every_kind():
    """Plus or minus; a stated one replaces the first. Common practice, no source."""
    usual = {
        Resistor: {"resistance": 0.05},
        Capacitor: {"capacitance": 0.1},
        Choke: {"inductance": 0.2, "resistance": 0.1},
        Coil: {"resistance": 0.05, "inductance": 0.1, "capacitance": 0.1},
        Pickup: {"resistance": 0.05, "inductance": 0.1, "capacitance": 0.1},
        Cable: {"capacitance_per_metre": 0.1},
        AmpInput: {"resistance": 0.1},
        Pot: {"resistance": 0.2},
        BlendPot: {"resistance": 0.2},
    }
    for kind, shares in usual.items():
        part = WHOLE[kind]
        assert part.tolerances() == shares
        if hasattr(part, "tolerance"):
            first, *rest = shares
            stated = dataclasses.replace(part, tolerance="1%").tolerances()
            assert stated == {first: 0.01, **{name: shares[name] for name in rest}}
            assert list(stated) == list(shares)
    assert WHOLE[Humbucker].tolerances() == {
        f"coil_{n}.{name}": share for n in (1, 2) for name, share in usual[Coil].items()
    }
    assert Jack().tolerances() == {}


@pytest.mark.parametrize(
    ("end", "kept"),
    [("0%", "0%"), ("50 %", "50%"), ("1%", "1%"), (0, 0), ("2 ohm", 2)],
)
def test_end_resistances_at_their_limits(end, kept):
    """Ohms from 0, shares from 0 to a half: two of a half leave no track."""
    assert Pot("250k", "linear", end_resistance=(end, 0)).end_resistance == (kept, 0)


@pytest.mark.parametrize("end", ["50.001%", "-0.001%", -1e-9, "-1 ohm", math.inf, [1, 2, 3]])
def test_end_resistances_past_their_limits(end):
    with pytest.raises(BadValue, match=r"^Pot\.end_resistance: "):
        Pot("250k", "linear", end_resistance=end)


@pytest.mark.usefixtures("unusual")
def test_end_resistances_must_leave_some_track():
    assert Pot(1000, "linear", end_resistance=(500, 499)).end_resistance == (500, 499)
    for ends in ((500, 500), "50%", (1000, 0), (600, "40%")):
        with pytest.raises(BadValue, match="leaves no track of 1 k"):
            Pot(1000, "linear", end_resistance=ends)


@pytest.mark.parametrize("half", [0, 1, -0.1, 1.1, "0%", "100%"])
def test_half_of_a_taper_lies_between_the_ends(half):
    with pytest.raises(BadValue, match=r"^audio_taper\.half: .* at half travel is no taper"):
        audio_taper(half)


# -- the place that an error names -----------------------------------------------------------------

POINTS = ([0, 150, 300], [0, 37, 250])
BAD_PLACES = [
    ("tapped.share", lambda bad: tapped(COIL, bad)),
    ("tapped.coupling", lambda bad: tapped(COIL, 0.5, coupling=bad)),
    ("triode.cathode", lambda bad: triode_input_capacitance(bad, "2p", 50)),
    ("triode.anode", lambda bad: triode_input_capacitance("2p", bad, 50)),
    ("triode.gain", lambda bad: triode_input_capacitance("2p", "2p", bad)),
    ("Pot.end_resistance", lambda bad: Pot("250k", "linear", end_resistance=bad)),
    ("Pot.end_resistance", lambda bad: Pot("250k", "linear", end_resistance=bad + "%")),
    ("Coil.signal", lambda bad: dataclasses.replace(COIL, signal=bad)),
    ("taper.base", lambda bad: Taper("x", base=bad)),
    ("taper.dead_zone", lambda bad: linear_taper(dead_zone=bad)),
    ("taper.dead_zone", lambda bad: linear_taper(dead_zone=(bad, 0))),
    ("taper.dead_zone", lambda bad: linear_taper(dead_zone=(0, bad))),
    ("audio_taper.half", audio_taper),
    ("audio_taper.knee", lambda bad: audio_taper(0.2, bad)),
    ("reverse_audio_taper.half", reverse_audio_taper),
    ("mine.rotation", lambda bad: measured_taper([0, bad, 300], POINTS[1], name="mine")),
    ("mine.resistance", lambda bad: measured_taper(POINTS[0], [0, bad, 250], name="mine")),
    ("mine.noise", lambda bad: measured_taper(*POINTS, noise=bad, name="mine")),
    ("mine.travel", lambda bad: measured_taper(*POINTS, travel=(0, bad), name="mine")),
    ("resistance_at.resistance", lambda bad: resistance_at(bad, 20)),
    ("resistance_at.temperature", lambda bad: resistance_at("6k", bad)),
    ("resistance_at.measured_at", lambda bad: resistance_at("6k", 20, measured_at=bad)),
    ("resistance_at.conductivity", lambda bad: resistance_at("6k", 20, conductivity=bad)),
    ("wire", wire_diameter),
    ("wire_resistance.temperature", lambda bad: wire_resistance("AWG 42", temperature=bad)),
    ("wire_resistance.conductivity", lambda bad: wire_resistance("AWG 42", conductivity=bad)),
    ("inductance_by_turns.known_inductance", lambda bad: inductance_by_turns(bad, 10, 10)),
    ("inductance_by_turns.known_turns", lambda bad: inductance_by_turns("1 H", bad, 10)),
    ("inductance_by_turns.turns", lambda bad: inductance_by_turns("1 H", 10, bad)),
    *(
        (f"winding.{name}", lambda bad, name=name: wound(**{name: bad}))
        for name in [
            "turns",
            "build",
            "core_length",
            "core_width",
            "traverse",
            "packing",
            "flange_width",
        ]
    ),
    ("winding.resistance", lambda bad: wound(turns=None, resistance=bad)),
]


def wound(**changes):
    sizes = {"core_length": "57 mm", "core_width": "4.8 mm", "traverse": "11 mm", "turns": 8000}
    return winding("AWG 42", **{**sizes, **changes})


@pytest.mark.parametrize(("place", "make"), BAD_PLACES)
def test_an_error_names_the_value_that_was_bad(place, make):
    with pytest.raises(BadValue) as refusal:
        make("nonsense")
    assert refusal.value.where == place
    assert "nonsense" in refusal.value.problem


@pytest.mark.parametrize(
    ("name", "low", "closed", "high"),
    [
        ("turns", 0, False, 1e6),
        ("build", 0, True, 0.001),
        ("core_width", 0, False, 0.057),
        ("traverse", 0, False, 1),
        ("packing", 0, False, math.pi / math.sqrt(12)),
    ],
)
def test_the_range_of_a_winding(name, low, closed, high):
    """Hexagonal packing is the densest there is: pi over the root of 12."""
    wound(**{name: high})
    for refused in (np.nextafter(high, math.inf), -1e-12, *(() if closed else (low,))):
        with pytest.raises(BadValue, match=rf"^winding\.({name}|core_length): "):
            wound(**{name: refused})
    if closed:
        wound(**{name: low})


@pytest.mark.parametrize(
    ("make", "low", "high", "closed"),
    [
        (lambda x: resistance_at("6k", f"{x!r} C"), -50.0, 180.0, True),
        (lambda x: resistance_at("6k", 20, conductivity=x), 0.9, 1.03, True),
        (wire_diameter, 1e-6, 0.002, True),
        (lambda x: inductance_by_turns("1 H", x, 10), 0.01, 1e6, True),
        (lambda x: wound(core_length=x), 4.8e-3, 1, True),
        (lambda x: wound(flange_width=x), 4.8e-3, 1, False),
    ],
)
def test_ranges_of_wire_and_copper(make, low, high, closed):
    make(high)
    for past in (np.nextafter(high, 1e9), np.nextafter(low, -1e9), *(() if closed else (low,))):
        with pytest.raises(BadValue):
            make(past)
    make(low if closed else np.nextafter(low + 1e-9, 1))


def test_a_winding_says_what_fits_only_where_that_is_known():
    made = wound(flange_width="15 mm")
    rows = dict(made.table().rows)
    assert rows["turns that fit"] == "11338"
    assert rows["bobbin full"].startswith("70.6")
    assert made.table().note == ""
    for missing in ("turns_that_fit", "fill"):
        less = dict(dataclasses.replace(made, **{missing: None}).table().rows)
        assert less == {k: v for k, v in rows.items() if k not in ("turns that fit", "bobbin full")}
    full = wound(flange_width="15 mm", turns=11339)
    assert full.table().note.startswith("Does not fit")
    assert dataclasses.replace(made, fill=1.0).table().note == ""


def test_signal_is_volts_from_zero():
    assert dataclasses.replace(COIL, signal="0 V").signal == 0
    assert dataclasses.replace(COIL, signal=1e6).signal == 1e6
    for bad in (-1e-15, np.nextafter(1e6, 1e7)):
        with pytest.raises(BadValue, match=r"^Coil\.signal: "):
            dataclasses.replace(COIL, signal=bad)


def test_an_empty_place_has_no_values():
    guitar = layouts.one_pickup(Pickup("6k", "2 H", "100p"))
    with pytest.raises(BadSetting) as refusal:
        guitar.replace("treble_bleed.capacitance", "1n")
    assert str(refusal.value) == (
        "treble_bleed.capacitance: the place is empty; put a part there first, as "
        "replace('treble_bleed', ...)."
    )
    assert refusal.value.value == "capacitance"


@pytest.mark.parametrize("travel", [(-30, 330), (330, -30)])
def test_travel_wider_than_the_points_is_joined_by_straight_lines(travel):
    """An end without a point of its own lies at 0 and at 1, also where the points are stretched."""
    for stretch in (False, True):
        law = measured_taper(
            [0, 150, 300], [0.1, 0.4, 0.9], travel=travel, stretch=stretch, noise="20%"
        )
        places = np.array([-30, -15, 0, 150, 300, 315, 330])
        found = law((places + 30) / 360)
        # Resistances are taken relative to the largest, which is the one at 300.
        tenth, four = 0.1 / 0.9, 0.4 / 0.9
        expected = [0, tenth / 2, tenth, four, 1, 1, 1]
        np.testing.assert_allclose(found, expected, rtol=1e-12, atol=1e-15)


def test_a_bleed_in_up_to_200_characters():
    written = "1000p" + " + 1n" * 39
    assert len(written) == 200
    assert len(bleed(written).elements) == 40
    with pytest.raises(BadValue, match="cannot be read"):
        bleed("10000p" + " + 1n" * 39)


def test_parentheses_up_to_ten_deep():
    assert bleed("(" * 10 + "1n" + ")" * 10) == Capacitor("1n")
    with pytest.raises(BadValue, match="cannot be read"):
        bleed("(" * 11 + "1n" + ")" * 11)


def test_a_knee_at_half_travel_is_no_knee():
    assert audio_taper(0.15, 0.5) == audio_taper(0.15)
    assert audio_taper(0.15, 0.5).name == "audio 15%"
    assert audio_taper(0.15, 0.75).name == "audio 15%, knee 0.75"
    for knee in (0.499, 1, 1.5):
        with pytest.raises(BadValue, match="does not fit 0.15 at half travel"):
            audio_taper(0.15, knee)
    assert audio_taper(0.6, 0.8).points[1] == (0.8, 0.96)
    with pytest.raises(BadValue, match=r"^audio_taper\.knee: "):
        audio_taper(0.625, 0.8)


def test_capacitors_on_a_rotary():
    """One to eleven, and a place without on a rotary of twelve."""
    values = [f"{n}n" for n in range(1, 13)]
    assert list(marked_capacitors(["22n"])) == ["22 nF"]
    assert list(marked_capacitors(values[:11])) == [f"{n} nF" for n in range(1, 12)]
    for bad, said in (([], "0 make no rotary"), (values, "12 make no rotary"), ("22n", "'22n' is")):
        with pytest.raises(BadSetting, match=f"^capacitors: {said}"):
            marked_capacitors(bad)
    with pytest.raises(BadSetting, match="^capacitors: 1 nF stands twice; give each value once"):
        marked_capacitors(["1n", "1000p"])


@pytest.mark.parametrize("place", [0, 1, 2])
@pytest.mark.parametrize("bad", [-1.0, math.inf, math.nan])
def test_one_bad_point_spoils_a_measured_taper(place, bad):
    ohms, turned = [0.0, 50.0, 100.0], [0.0, 150.0, 300.0]
    ohms[place] = bad
    with pytest.raises(BadValue):
        measured_taper([0, 150, 300], ohms)
    if not math.isfinite(bad):
        turned[place] = bad
        with pytest.raises(BadValue):
            measured_taper(turned, [0, 50, 100])
    for points in ([0, 0, 0], [1, 2, 1]):
        with pytest.raises(BadValue):
            measured_taper([0, 150, 300], points)


def test_a_measured_taper_refuses_what_is_negative_by_name():
    with pytest.raises(BadValue, match=r"^taper 'measured': has a point that is negative or not"):
        measured_taper([0, 150, 300], [0, -1e-9, 100])


def test_a_winding_is_at_20_degrees_unless_said():
    made = wound()
    fields = {f.name: getattr(made, f.name) for f in dataclasses.fields(made)}
    assert made.temperature == 20
    del fields["temperature"]
    assert type(made)(**fields) == made
    assert wound(temperature=30).temperature == 30
    assert wound(temperature=30).resistance > made.resistance
