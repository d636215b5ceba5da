"""Measured values: copper brought to 20 °C, tolerances from meter and thermometer, files, cards."""

from __future__ import annotations

import copy
import pickle
import re

import numpy as np
import pytest
from scipy import stats

import guitarnet as gn
from guitarnet.identity import identity

COIL = gn.Coil("4k", "2 H", "150p")


def measured(ohms="6.14k", **changed):
    """A coil's resistance as it was measured."""
    return gn.Measured(ohms, **{"accuracy": "0.5%", "at": "17 °C", **changed})


def pickup(ohms="6.14k", **changed):
    """A pickup whose resistance was measured."""
    return gn.Pickup(measured(ohms, **changed), "2.4 H", "120p")


@pytest.mark.parametrize("degrees", [5, 17, 20, 28, 40])
def test_copper_is_brought_to_20_degrees(degrees):
    """IEC 60034-1, 8.6.2.3.3: R2 / R1 = (235 + t2) / (235 + t1) for copper, so 0.00392/K."""
    coil = pickup(at=degrees)
    assert coil.resistance == pytest.approx(6140 * 255 / (235 + degrees), rel=2e-4)
    assert coil.resistance == pytest.approx(
        gn.windings.resistance_at(6140, 20, measured_at=degrees)
    )


def test_the_tolerance_is_the_largest_error_that_meter_and_thermometer_can_make():
    """A Monte Carlo of both errors within their limits (JCGM 101) never leaves it, and nears it."""
    coil = pickup(accuracy="0.5%", at="28 C", thermometer="2 K")
    share = coil.tolerances()["resistance"]
    draw = stats.qmc.Sobol(2, seed=1).random_base2(13) * 2 - 1
    draw = np.vstack([draw, [[1, -1], [-1, 1]]])
    # IEC 60028: 0.00393/K at 20 °C.
    true = 6140 * (1 + 0.005 * draw[:, 0]) / (1 + 0.00393 * (28 + 2 * draw[:, 1] - 20))
    off = np.abs(true / coil.resistance - 1)
    assert off.max() <= share * (1 + 1e-12)
    assert off.max() == pytest.approx(share, rel=1e-9)
    assert share == pytest.approx(0.005 + 2 * 0.00393 / (1 + 0.00393 * 8), rel=0.02)  # by hand
    assert gn.Pot(gn.Measured("243k", accuracy="1%"), "linear").tolerances() == pytest.approx(
        {"resistance": 0.01}
    )


def test_a_measured_value_is_a_plain_number_to_the_circuit():
    """The identity and the SPICE text are those of the number; a changed value is not
    measured any more, and what else changes leaves it measured."""
    coil = pickup()
    plain = gn.Pickup(float(coil.resistance), "2.4 H", "120p")
    one, other = (gn.layouts.one_pickup(part) for part in (coil, plain))
    assert one == other
    assert identity(one) == identity(other)
    assert gn.formulas.to_spice(one) == gn.formulas.to_spice(other)
    assert coil.tolerances() != plain.tolerances()
    assert coil.replace("resistance", "6.2k").tolerances()["resistance"] == 0.05
    for same in (
        coil.replace("inductance", "3 H"),
        pickle.loads(pickle.dumps(coil)),
        copy.deepcopy(coil),
        gn.Humbucker(coil, coil).coil_2,
    ):
        assert same.tolerances()["resistance"] == coil.tolerances()["resistance"]


def test_what_was_measured_stands_in_tables_lists_and_calls():
    """In the part's own table, in the list of parts and in the call that makes it."""
    coil = pickup()
    assert next(iter(coil.table())) == (
        "resistance",
        "6.213 kΩ ±0.9 % (measured 6.14 kΩ at 17 °C, is 6.21 kΩ at 20 °C)",
    )
    assert repr(coil) == (
        "Pickup(resistance=Measured(6140.0, accuracy='0.5%', at='17 C'), inductance=2.4, "
        "capacitance=1.2e-10)"
    )
    volume = gn.Pot(gn.Measured("243k", accuracy="1%"), "linear")
    parts = gn.layouts.one_pickup(coil, volume=volume).part_table()
    assert [row[5] for row in parts][:2] == ["DCR ±0.9 % measured", "±1 % measured"]
    assert parts.note == "pickup: measured 6.14 kΩ at 17 °C, is 6.21 kΩ at 20 °C."


def test_nothing_that_was_measured_is_lost_in_a_file(tmp_path):
    """Odd numbers, coils in humbuckers and parts of networks come back to the last bit, and a
    person reads them in one line."""
    third = 1 / 3
    odd = measured(6000 + third, accuracy=0.01 * third, at=21 + third, thermometer=third)
    coil = gn.Coil(odd, gn.Measured("2.41 H", accuracy="1%"), "120p")
    guitar = gn.layouts.two_humbuckers(
        gn.Humbucker(coil, coil),
        gn.Humbucker(coil, pickup(at="63 F")),
        volume=gn.Pot(gn.Measured("487k", accuracy="1%"), "audio 15%"),
        treble_bleed=gn.in_parallel(
            gn.Capacitor(gn.Measured("1.02n", accuracy="2.5%")),
            gn.Resistor(gn.Measured("149k", accuracy="1%")),
        ),
    )
    path = gn.save_harness(guitar, tmp_path / "guitar.toml")
    loaded = gn.load_harness(path)
    assert loaded == guitar
    assert {n: repr(p) for n, p in loaded.parts.items()} == {
        n: repr(p) for n, p in guitar.parts.items()
    }
    assert gn.tolerances.tolerances_of(loaded) == gn.tolerances.tolerances_of(guitar)
    text = path.read_text(encoding="utf-8")
    assert '\nresistance = { measured = "487 kohm", accuracy = "1%" }\n' in text
    assert 'capacitance = { measured = "1.02 nF", accuracy = "2.5%" }' in text


# What stands in a file for a pickup's resistance, and the sentence.
MISTAKES = {
    '{ measured = 6.1, accuracy = "0.5%", at = "17 C" }': (
        "parts.pickup.resistance: 6.1 has no unit; write '6.1k' if you mean that, or write it "
        "like '250k', '4k7' or '6200 ohm'."
    ),
    '{ value = "6.1k", accuracy = "0.5%", at = "17 C" }': (
        "parts.pickup.resistance: 'value' is unknown; use measured, accuracy, at, thermometer."
    ),
    '{ measured = "6.1k", at = "17 C" }': (
        "parts.pickup.resistance: has no 'accuracy'; write it like "
        '{ measured = "6.14k", accuracy = "0.5%", at = "17 C" }.'
    ),
    "{}": (
        "parts.pickup.resistance: has no 'measured'; write it like "
        '{ measured = "6.14k", accuracy = "0.5%", at = "17 C" }.'
    ),
    '{ measured = "6.1k", accuracy = "0.5%" }': (
        "parts.pickup, Pickup.resistance: is copper, which reads 0.4 % more for each degree, and "
        "its temperature is not given; add what the thermometer shows, as at = '21 C'."
    ),
    '{ measured = "6.1k", accuracy = "0.5", at = 17 }': (
        "parts.pickup.resistance, Measured.accuracy: 0.5 is 50 % as a share, and 0.5 % as "
        "percent; write '0.5%' or '50%', whichever it is."
    ),
    '{ measured = "6.1k", accuracy = 0.5, at = 17 }': (
        "parts.pickup.resistance, Measured.accuracy: 0.5 is 50 % as a share, and 0.5 % as "
        "percent; write '0.5%' or '50%', whichever it is."
    ),
    '{ measured = "6.1k", accuracy = "30%", at = 17 }': (
        "parts.pickup.resistance, Measured.accuracy: '30%' is too large; give a value above 0 % "
        "up to 20 % (what is worse than 20 % is no measurement)."
    ),
    '{ measured = "6.1k", accuracy = "0.5%", at = 63 }': (
        "parts.pickup.resistance, Measured.at: 63 is no room temperature in °C, and does not say "
        "its unit; write '63 F' (17.2 °C) or '63 C'."
    ),
    '{ measured = "6.1k", accuracy = "0.5%", at = 17, thermometer = "good" }': (
        "parts.pickup.resistance, Measured.thermometer: 'good' is no error of a thermometer; "
        "write '1 K' or '2 F'."
    ),
    '{ measured = "6.1M", accuracy = "0.5%", at = 17 }': (
        "parts.pickup, Pickup.resistance: 6.1 MΩ is unusual, 150 Ω to 100 kΩ is what occurs "
        "(common practice, no source); write '6.1k' if you mean that, or insist with "
        "unusual = true beside it."
    ),
    '"6.1k"\ntolerance = "0.5"': (
        "parts.pickup, Pickup.tolerance: 0.5 is 50 % as a share, and 0.5 % as percent; write "
        "'0.5%' or '50%', whichever it is, or insist on a share with unusual = true beside it."
    ),
    '{ measured = "6.1k", accuracy = "0.5%", at = 17 }\ntolerance = "1%"': (
        "parts.pickup, Pickup.tolerance: is given, but the resistance is measured, within 0.9 %; "
        "leave the tolerance out."
    ),
    "6.1k": (
        "is not TOML (Expected newline or end of document after a statement (at line 17, "
        'column 15)); put quotes round it: "6.1k".'
    ),
    '"6.1k ± 0.5%"': (
        "parts.pickup.resistance: '6.1k ± 0.5%' is a value and its accuracy; write it like "
        '{ measured = "6.14k", accuracy = "0.5%", at = "17 C" }.'
    ),
    '"6.1k"\nmeasured = "6.1k"': (
        "parts.pickup: does not say what was measured; write it like resistance = "
        '{ measured = "6.14k", accuracy = "0.5%", at = "17 C" }.'
    ),
    '"6.1k"\ntolerance = 5': (
        "parts.pickup, Pickup.tolerance: 5 is 500 % as a share, and 5 % as percent; write '5%' or "
        "'500%', whichever it is."
    ),
    '"6.1k"\nunusual = "yes"': (
        "parts.pickup, Pickup.unusual: 'yes' is neither True nor False; give true or false, "
        "without quotes."
    ),
    '"6.1k"\nscreening_frequency = { measured = "3 kHz", accuracy = "1%" }': (
        "parts.pickup, Pickup.screening_frequency: has no tolerance that a measurement could "
        "replace; give the value alone."
    ),
}


@pytest.mark.parametrize("written", MISTAKES)
def test_a_mistake_in_a_file_is_one_sentence(written, tmp_path):
    """That names the part, what is wrong and the way."""
    text = gn.save_harness(gn.layouts.one_pickup(pickup("6.1k")), tmp_path / "g.toml").read_text()
    good = '{ measured = "6.1 kohm", accuracy = "0.5%", at = "17 C" }'
    (path := tmp_path / "bad.toml").write_text(text.replace(good, written), encoding="utf-8")
    assert text.count(good) == 1
    with pytest.raises(gn.GuitarnetError) as refused:
        gn.load_harness(path)
    sentence = re.sub(r"at line \d+, column \d+", "at line 17, column 15", str(refused.value))
    sign = ":" if "is not TOML" in sentence else ","
    assert sentence == f"{path}{sign} {MISTAKES[written]}"


def test_a_temperature_where_there_is_no_copper_is_refused():
    """A pot's track, and a capacitor of which a marking is no measurement."""
    with pytest.raises(gn.errors.BadValue) as refused:
        gn.Pot(measured("243k"), "linear")
    assert str(refused.value) == (
        "Pot.resistance: is not copper, so its temperature does not matter; leave 'at' out."
    )
    with pytest.raises(gn.errors.BadValue) as refused:
        gn.Capacitor(gn.Measured("223", accuracy="1%"))
    assert str(refused.value) == (
        "Capacitor.capacitance: '223' has no unit; write '223pF' if you mean that, or write it "
        "like '470p' or '0.022uF'."
    )


def of_three(ohms):
    """A guitar of three pickups; a text is a value, else measured."""
    three = (gn.Pickup(one, "2.4 H", "120p") for one in ohms)
    return gn.layouts.three_single_coils(*three)


def read_on(guitar):
    """What a usual meter shows in each place."""
    places = list(guitar.parts["switch"].places)
    shown = gn.jack_resistance(guitar, switch=places, meter=gn.bench.Ohmmeter())
    return {place: float(shown.sel(switch=place)) for place in places}


def test_swapped_hots_are_seen_where_the_coils_were_measured():
    """Pickups of 6.1, 6.3 and 6.6 k: with the usual 5 % the readings of swapped hots are those of
    a sound guitar; measured within 0.7 %, nothing but a swap of neck and middle explains them."""
    ohms = ("6.1k", "6.3k", "6.6k")
    usual = of_three(ohms)
    known = of_three([measured(one, at="20 C", thermometer="0.5 K") for one in ohms])
    read = read_on(of_three(("6.3k", "6.1k", "6.6k")))  # a swap of hots reads as one of pickups
    assert gn.verify(usual, read).fits
    how = {"kinds": ["swapped leads", "pot"], "steps": False}
    assert gn.diagnose(usual, read, **how).explanations[0].healthy
    assert [one.fits for one in gn.verify(known, read).checked] == [False, True, False, True, True]
    found = gn.diagnose(known, read, **how)
    assert not found.healthy_fits
    assert len(found.fitting) == 1
    assert "neck and middle swapped" in str(found.table())
    assert gn.verify(known, read_on(known)).fits
    assert gn.diagnose(known, read_on(known), **how).explanations[0].healthy


def test_coils_of_one_spool_are_off_together():
    """Three coils all 4 % short of their 6.2 k are no fault: nine to one (by independent errors,
    three to one)."""
    nominal, short = of_three(("6.2k",) * 3), of_three((5952,) * 3)
    read = {place: ohms for place, ohms in read_on(short).items() if "+" not in place}
    found = gn.diagnose(nominal, read, steps=False)
    assert found.explanations[0].healthy
    assert found.explanations[0].probability > 0.85


PLAIN = of_three(("6.2k",) * 3)


def test_a_tolerance_may_be_given_wherever_one_looks_for_it():
    """To a part when it is made, by its path, in a file and by the path of the value."""
    assert gn.Cable("3 m", tolerance="5%").tolerances() == {"capacitance_per_metre": 0.05}
    assert gn.AmpInput(tolerance="1%").tolerances() == {"resistance": 0.01}
    guitar = PLAIN.replace("neck.tolerance", "1%").replace("treble_bleed", "150k || 1n")
    guitar = guitar.replace("treble_bleed.capacitor.tolerance", "2%")
    shares = gn.tolerances.tolerances_of(gn.harness_from_dict(gn.harness_to_dict(guitar)))
    assert shares["neck.resistance"] == 0.01
    assert shares["treble_bleed.capacitor.capacitance"] == 0.02
    drawn = gn.tolerances.limits(guitar, tolerances={"neck.resistance": "2%"})
    assert drawn["neck.resistance"].values.tolist() == pytest.approx([6076, 6324])
    half = PLAIN.replace("volume.tolerance", 0.5)
    own = gn.tolerances.tolerances_of(half)  # what was read back is no slip
    assert gn.tolerances.limits(half, tolerances=own)["volume.resistance"].values[0] == 125e3


@pytest.mark.parametrize(
    ("mistake", "sentence"),
    [
        (
            lambda: gn.tolerances.limits(PLAIN, tolerances={"volume.resistance": "0.5"}),
            "volume.resistance, tolerance: 0.5 is 50 % as a share, and 0.5 % as percent; write "
            "'0.5%' or '50%', whichever it is.",
        ),
        (
            lambda: gn.expected_readings(PLAIN, tolerances={"volume.resistance": 5}),
            "volume.resistance, tolerance: 5 is 500 % as a share, and 5 % as percent; write '5%' "
            "or '500%', whichever it is.",
        ),
        (
            lambda: gn.tolerances.limits(PLAIN, tolerances={"volume.tolerance": "5%"}),
            "volume.tolerance: is no value; give volume.resistance.",
        ),
        (
            lambda: gn.layouts.one_pickup(gn.Humbucker(COIL, COIL)).replace(
                "pickup.tolerance", "5%"
            ),
            "pickup.tolerance: each part inside has its own; give pickup.coil_1.tolerance or "
            "pickup.coil_2.tolerance.",
        ),
        (
            lambda: gn.Pickup("6.2k", "2.4 H", "120p", tolerance="±5%"),
            "Pickup.tolerance: '±5%' is not a share; write '5%' if you mean that.",
        ),
        (
            lambda: gn.Pot("0.25", "linear"),
            "Pot.resistance: '0.25' has no unit; write '250k' if you mean that, or write it like "
            "'250k', '4k7' or '6200 ohm'.",
        ),
    ],
)
def test_a_mistake_in_a_tolerance_is_one_sentence(mistake, sentence):
    """With both readings where there are two, and the path to use where another was named."""
    with pytest.raises(gn.GuitarnetError) as refused:
        mistake()
    assert str(refused.value) == sentence


def test_a_humbucker_in_a_file_says_where_its_tolerances_are():
    """Each coil has its own."""
    data = gn.harness_to_dict(gn.layouts.one_pickup(gn.Humbucker(COIL, COIL)))
    data["parts"]["pickup"]["tolerance"] = "5%"
    with pytest.raises(gn.errors.BadFile) as refused:
        gn.harness_from_dict(data)
    assert str(refused.value) == (
        "harness, parts.pickup: a Humbucker has no 'tolerance', each coil has its own; write it "
        "into its coil_1 and its coil_2."
    )


def test_a_marking_with_its_letter_is_a_setting():
    """As it is a part: "473K 100V" is 47 nF, and "2A473J" too."""
    assert gn.Capacitor("2A473J") == gn.Capacitor("47n", tolerance="5%")
    with pytest.raises(
        gn.errors.BadValue, match=r"write '150k \|\| 1n' side by side, '150k \+ 1n'"
    ):
        gn.bleed("150k/1n")
    found = gn.response(PLAIN, tone_capacitor=["473K", "223J 100V"], frequency=[1000])
    np.testing.assert_allclose(found.tone_capacitor.values, [47e-9, 22e-9], rtol=1e-12)
