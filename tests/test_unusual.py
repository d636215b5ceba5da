"""Slips in a value: what hardly any guitar has is asked about where a person enters it.

Every sentence stands here whole. What is usual is common practice, no source, unless the table of
`usual_values` names one; ``reference/usual/values.csv`` holds hundreds of ordinary values that must
pass.
"""

from __future__ import annotations

import csv
import itertools
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, strategies as st

import guitarnet as gn
from guitarnet.bench import Ohmmeter, ResistanceReading
from guitarnet.choosing import Goal
from guitarnet.command.line import main
from guitarnet.command.start import LAYOUTS, beginning
from guitarnet.errors import BadFile, BadSetting, BadValue, Unusual
from guitarnet.fitting import InductanceReading, Load, MeasuredCurve, PeakReading
from guitarnet.parts.taper import Taper
from guitarnet.strings import PickupPosition
from guitarnet.study.bench.usual import ranges, usual_values
from guitarnet.study.choose.bleed_tables import compare_bleeds
from guitarnet.study.spread.noise import noise_level
from guitarnet.tolerances import spread
from guitarnet.units import Quantity
from guitarnet.windings import resistance_at

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
GUITAR = gn.layouts.one_pickup(PICKUP)
READING = [ResistanceReading("6.05k")]
NO_SOURCE = "common practice, no source"
INSIST = "or insist with unusual=True."


def one_pickup(**values):
    return gn.layouts.one_pickup(PICKUP, **values)


# -- what was taken as it stood, and is asked about now --------------------------------------------

POT = f"is unusual, 5 kΩ to 4.9 MΩ is what occurs (25k to 1M: {NO_SOURCE}); write '250k' if you "
TONE = "is unusual, 1 nF to 470 nF is what occurs (common practice, no source); write '22n' if you"
CAPACITOR = f"{TONE} mean that"
COIL = f"is unusual, 150 Ω to 100 kΩ is what occurs ({NO_SOURCE}); write"
PEAK = f"is unusual, 200 Hz to 100 kHz is what occurs (loaded to unloaded: {NO_SOURCE}); write"

ASKED = [
    (
        lambda: Load(200e3, 470),
        "Load.capacitance: 470 F is unusual, 5 pF to 1 µF is what occurs (a lead to a large "
        f"capacitor: {NO_SOURCE}); write '470n' or '470p' if you mean that, {INSIST}",
    ),
    (
        lambda: Ohmmeter(accuracy=0.5),
        "Ohmmeter.accuracy: 0.5 is 50 % as a share, and 0.5 % as percent; write '0.5%' or '50%', "
        "whichever it is, or insist on a share with unusual=True.",
    ),
    (
        lambda: gn.Resistor("150k", tolerance="1"),
        "Resistor.tolerance: 1 is 100 % as a share, and 1 % as percent; write '1%' or '100%', "
        "whichever it is, or insist on a share with unusual=True.",
    ),
    (
        lambda: gn.Capacitor("22n", dissipation_factor=2),
        "Capacitor.dissipation_factor: 2 is 200 % as a share, and 2 % as percent; write '2%' or "
        "'200%', whichever it is, or insist on a share with unusual=True.",
    ),
    (
        lambda: gn.Pickup(8.2, 2.4, 120e-12),
        f"Pickup.resistance: 8.2 Ω {COIL} '8.2k' if you mean that, {INSIST}",
    ),
    (
        lambda: gn.fit_pickup(resistance=7.4, inductance="3 H"),
        f"resistance: 7.4 Ω {COIL} '7.4k' if you mean that, {INSIST}",
    ),
    (lambda: one_pickup(volume=250), f"volume: 250 Ω {POT}mean that, {INSIST}"),
    (
        lambda: gn.Pot("250 Mohm", "linear"),
        f"Pot.resistance: 250 MΩ {POT}mean that, {INSIST}",
    ),
    (
        lambda: one_pickup(tone_capacitor=0.022),
        f"tone_capacitor: 22 mF {CAPACITOR}, {INSIST}",
    ),
    (
        lambda: one_pickup(tone_capacitor="22mF"),
        f"tone_capacitor: 22 mF {CAPACITOR} (m is a thousandth; old drawings write mF for "
        f"microfarad), {INSIST}",
    ),
    (
        lambda: one_pickup(tone_capacitor=".022mF"),
        f"tone_capacitor: '.022mF' (22 µF) {CAPACITOR} (m is a thousandth; old drawings write mF "
        f"for microfarad), {INSIST}",
    ),
    (
        lambda: one_pickup(tone_capacitor="22 pF"),
        f"tone_capacitor.capacitance: 22 pF {TONE} mean that, {INSIST}",
    ),
    (
        lambda: one_pickup(treble_bleed="22n || 150k"),
        "treble_bleed.capacitor.capacitance: 22 nF is unusual, 22 pF to 10 nF is what occurs "
        f"({NO_SOURCE}); write '22p' if you mean that, {INSIST}",
    ),
    (
        lambda: gn.Pickup("6.2k", "2 mH", "120p"),
        "Pickup.inductance: 2 mH is unusual, 50 mH to 40 H is what occurs (1 to 10 H of one or "
        f"two coils: H. Lemme; the rest {NO_SOURCE}); write '2 H' if you mean that (m is a "
        f"thousandth), {INSIST}",
    ),
    (
        lambda: one_pickup(amp="1m"),
        "amp: '1m' (1 mΩ) is unusual, 10 kΩ to 10 MΩ is what occurs (B. Judge, \"Feel the gain "
        f"1\"); write '1M' if you mean that (m is a thousandth, M is a million), {INSIST}",
    ),
    (
        lambda: gn.Cable("5 m", "30 pF/m"),
        "Cable.capacitance_per_metre: 30 pF/m is unusual, 40 pF/m to 900 pF/m is what occurs "
        f"(straight 60 to 260, coiled 400 and more: {NO_SOURCE}); write '98.4252 pF/m' if you "
        f"mean that, {INSIST}",
    ),
    (lambda: PeakReading(3.2, Load()), f"PeakReading.frequency: 3.2 Hz {PEAK} '3.2 kHz' if you "
     f"mean that, {INSIST}"),
    (
        lambda: Goal("peak frequency", near=3.2),
        f"goal 'peak frequency', near: 3.2 Hz {PEAK} '3.2 kHz' if you mean that, {INSIST}",
    ),
    (
        lambda: InductanceReading("2.4 H", 0.12),
        "InductanceReading.frequency: 120 mHz is unusual, 40 Hz to 30 kHz is what occurs (of LCR "
        f"meters: {NO_SOURCE}); write '120 Hz' if you mean that, {INSIST}",
    ),
    (
        lambda: noise_level(GUITAR, signal=100),
        f"signal: 100 V is unusual, 1 mV to 990 mV is what occurs (100 mV: {NO_SOURCE}); write "
        f"'100 mV' if you mean that, {INSIST}",
    ),
    (
        lambda: compare_bleeds(GUITAR, ["1u"]),
        "treble_bleed.capacitance: 1 µF is unusual, 22 pF to 10 nF is what occurs "
        f"({NO_SOURCE}); write '1n' if you mean that, {INSIST}",
    ),
    (
        lambda: gn.Pot("250k", "linear", end_resistance=0.01),
        "Pot.end_resistance: 10 mΩ is unusual, 50 mΩ to 49 Ω is what occurs (up to 2 ohm: panel "
        f"pot datasheets; the rest a guess); write '10 ohm' if you mean that, {INSIST}",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("call", "sentence"), ASKED, ids=[words[:30] for _, words in ASKED])
def test_a_slip_is_asked_about_in_one_sentence(call, sentence):
    with pytest.raises(Unusual) as asked:
        call()
    assert str(asked.value) == sentence


ROOM = "is no room temperature in °C, and does not say its unit; write '70 F' (21.1 °C) or '70 C'."
REFUSED = [
    (
        lambda: gn.Pickup("6.2k", "2.4 H", "120"),
        "Pickup.capacitance: '120' has no unit; write '120pF' if you mean that, or write it like "
        "'470p' or '0.022uF'.",
    ),
    (
        lambda: Load("200k", "470"),
        "Load.capacitance: '470' has no unit; write '470pF' if you mean that, or write it like "
        "'470p' or '0.022uF'.",
    ),
    (
        lambda: gn.AmpInput("1M", "120"),
        "AmpInput.capacitance: '120' has no unit; write '120pF' if you mean that, or write it "
        "like '470p' or '0.022uF'.",
    ),
    (
        lambda: one_pickup(volume="250"),
        "volume: '250' has no unit; write '250k' if you mean that, or write it like '250k', '4k7' "
        "or '6200 ohm'.",
    ),
    (lambda: gn.verify(GUITAR, READING, coil_temperature=70), f"coil_temperature: 70 {ROOM}"),
    (lambda: resistance_at("6.5k", 70), f"resistance_at.temperature: 70 {ROOM}"),
    (
        lambda: one_pickup(cable=500e-12),
        "cable: 500 pF is a capacitance; give the length that has as much at 100 pF/m, '5 m', or "
        "its length and its capacitance_per_metre.",
    ),
    (
        lambda: one_pickup(cable="500 pF"),
        "cable: 500 pF is a capacitance; give the length that has as much at 100 pF/m, '5 m', or "
        "its length and its capacitance_per_metre.",
    ),
    (
        lambda: Taper("mine", points=((0, 0), (1, 1)), opens_at_full="no"),
        "taper.opens_at_full: 'no' is neither true nor false; give one of the two.",
    ),
    (
        lambda: PickupPosition("40 mm", coils_in_phase="no"),
        "PickupPosition.coils_in_phase: 'no' is neither True nor False; give True or False.",
    ),
    (
        lambda: gn.Pot("250k", "log"),
        "taper: 'log' does not say how much of the track is left at half travel; write 'audio "
        "15%' if you do not know; 10, 15 and 30 % are seen.",
    ),
    (
        lambda: gn.Pot("A250K", "linear"),
        "Pot.resistance: 'A250K' is a marking with a taper letter; write '250k', and the taper in "
        "words: makers differ in what a letter means.",
    ),
    (lambda: Goal("peak freq", near="3k"), "goal: there is no 'peak freq'; did you mean 'peak "
     "frequency'?"),
    (
        lambda: gn.Capacitor("473K", tolerance="5%"),
        "Capacitor.tolerance: 5 % is given, but the marking says 10 %; give one of the two.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("call", "sentence"), REFUSED, ids=[words[:30] for _, words in REFUSED])
def test_what_says_no_unit_or_two_things_is_refused(call, sentence):
    with pytest.raises((BadValue, BadSetting)) as refusal:
        call()
    assert not isinstance(refusal.value, Unusual)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Inductor", "guitarnet has no 'Inductor'; it is called gn.Choke here"),
        ("respons", "guitarnet has no 'respons'; did you mean 'response'?"),
    ],
)
def test_a_name_that_is_not_here_leads_to_the_one_that_is(name, words):
    with pytest.raises(AttributeError) as refusal:
        getattr(gn, name)
    assert str(refusal.value) == words


# -- what is read ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("marking", "farad", "share"),
    [
        ("223", 22e-9, None),
        ("223J", 22e-9, 0.05),
        ("473K 100V", 47e-9, 0.1),
        ("104M", 100e-9, 0.2),
        ("102 G", 1e-9, 0.02),
        ("473 100V", 47e-9, None),
    ],
)
def test_all_that_stands_on_a_capacitor_is_read(marking, farad, share):
    """IEC 60062; the letters of tolerance from memory."""
    part = gn.Capacitor(marking)
    assert (part.capacitance, part.tolerance) == (farad, share)
    assert one_pickup(tone_capacitor=marking).parts["tone_capacitor"] == part


def test_a_letter_in_a_bleed_is_a_tolerance_but_for_kilo_and_mega():
    assert gn.bleed("102J || 150k") == gn.in_parallel(
        gn.Capacitor("1n", tolerance="5%"), gn.Resistor("150k")
    )
    assert gn.bleed("150K") == gn.Resistor("150k")


@pytest.mark.parametrize(
    ("written", "celsius"), [("70 F", 21.1), ("70 °F", 21.1), ("21 C", 21), (21, 21), ("21", 21)]
)
def test_a_temperature_is_read_with_its_unit(written, celsius):
    """Copper: 0.393 %/K, Industrial Power Engineering and Applications Handbook, p. 970."""
    ohms = float(gn.jack_resistance(GUITAR, coil_temperature=written))
    assert ohms == pytest.approx(float(gn.jack_resistance(GUITAR, coil_temperature=celsius)), 1e-4)
    found = gn.verify(GUITAR, READING, coil_temperature=written)
    assert f"coils at {celsius:.3g}" in str(found)
    assert gn.diagnose(GUITAR, READING, coil_temperature=written, steps=False).table().rows


def test_curves_without_names_are_called_by_their_loads():
    f = np.geomspace(50, 15e3, 80)

    def curve(load):
        y = 1 / 1e6 + 1 / (load.resistance or 1e12) + 2j * np.pi * f * (load.capacitance + 120e-12)
        level = -20 * np.log10(np.abs(1 + (6200 + 2j * np.pi * f * 2.4) * y))
        return MeasuredCurve(f, level, load=load)

    fit = gn.fit_pickup([curve(Load()), curve(Load("200k", "470p"))], losses=False)
    assert [one.curve.name for one in fit.curves] == ["unloaded", "200 kΩ, 470 pF"]


# -- who insists -----------------------------------------------------------------------------------


def test_one_word_insists_and_stays_with_the_part(tmp_path):
    """In a call, in the part's call as it is written, and in its file."""
    part = gn.Pickup(8.2, 2.4, 120e-12, unusual=True)
    assert repr(part) == (
        "Pickup(resistance=8.2, inductance=2.4, capacitance=1.2e-10, unusual=True)"
    )
    assert eval(repr(part), {"Pickup": gn.Pickup}) == part
    guitar = gn.layouts.one_pickup(
        part, volume="250R", tone_capacitor="22p", treble_bleed="22n", cable="200 m", unusual=True
    )
    data = gn.harness_to_dict(guitar)["parts"]
    meant = {name for name, one in data.items() if one.get("unusual")}
    assert meant == {"pickup", "volume", "tone_capacitor", "treble_bleed", "cable"}
    file = gn.save_harness(guitar, tmp_path / "odd.toml")
    assert gn.load_harness(file) == guitar
    assert gn.save_harness(gn.load_harness(file), tmp_path / "again.toml").read_text() == (
        file.read_text()
    )
    text = re.sub(r"^unusual = true\n", "", file.read_text(), flags=re.MULTILINE)
    file.write_text(text)
    with pytest.raises(Unusual) as asked:
        gn.load_harness(file)
    assert str(asked.value) == (
        f"{file}, parts.pickup, Pickup.resistance: 8.2 Ω {COIL} '8.2k' if you mean that, or insist "
        "with unusual = true beside it."
    )
    assert gn.load_harness(file, unusual=True) == guitar
    assert gn.harness_to_dict(gn.load_harness(file, unusual=True))["parts"] == data


def test_it_says_nothing_of_the_circuit():
    """Equal parts are equal, whoever insisted."""
    plain, meant = PICKUP, gn.Pickup("6.2k", "2.4 H", "120p", unusual=True)
    assert plain == meant
    assert hash(plain) == hash(meant)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Load(200e3, 470, unusual=True).capacitance,
        lambda: Ohmmeter(accuracy=0.5, unusual=True).accuracy,
        lambda: PeakReading(3.2, Load(), unusual=True).frequency,
        lambda: InductanceReading(2.4, 0.12, unusual=True).frequency,
        lambda: Goal("peak frequency", near=3.2, unusual=True).near,
        lambda: noise_level(GUITAR, signal=100, unusual=True).level.item(),
        lambda: gn.bleed("22n", unusual=True).capacitance,
        lambda: gn.parallel_bleed("22n", "1k", unusual=True).elements[1].resistance,
        lambda: gn.capacitor_bleed("22n", unusual=True).capacitance,
        lambda: gn.series_bleed("22n", "1k", unusual=True).elements[0].capacitance,
        lambda: len(compare_bleeds(GUITAR, [gn.bleed("1u", unusual=True)]).bleeds),
        lambda: len(gn.Harness({"pickup": PICKUP, "jack": gn.Jack()}).plugged(
            "200 m", "1k", unusual=True).parts),
        lambda: gn.harness_from_dict({**gn.harness_to_dict(GUITAR)}, unusual=True).name,
        lambda: [
            part(resistance="1R", **more, unusual=True).resistance
            for part, more in (
                (gn.Resistor, {}), (gn.Pot, {"taper": "linear"}), (gn.BlendPot, {}),
                (gn.AmpInput, {}), (gn.Choke, {"inductance": "1 H"}),
                (gn.Coil, {"inductance": "2 H", "capacitance": 0}),
            )
        ],
    ],
)  # fmt: skip
def test_whatever_reads_such_values_takes_the_word(call):
    assert call()


def test_the_word_is_yes_or_no():
    with pytest.raises(BadSetting, match="'no' is neither True nor False"):
        gn.Resistor("1R", unusual="no")


# -- where it is not asked -------------------------------------------------------------------------


def test_no_sweep_draw_fault_or_change_is_asked_about():
    """The question is for what a person enters, not for what is computed with it."""
    odd = GUITAR.replace("volume.resistance", 250).replace("tone_capacitor", "22p")
    assert odd.parts["volume"].resistance == 250
    assert gn.response(odd, frequency=[1e3], **{"pickup.resistance": [6.2, 8.2]}).size == 2
    assert gn.jack_resistance(GUITAR, **spread(GUITAR, 5, seed=1)).size == 5
    assert any("shorted" in fault.label for fault in gn.bench.faults(GUITAR))
    assert PICKUP.replace("resistance", 0.4).resistance == 0.4


def test_what_was_changed_so_is_saved_as_meant_and_loads_again():
    odd = GUITAR.replace("volume.resistance", 250).replace("tone_capacitor", "22p")
    data = gn.harness_to_dict(odd)
    assert {name for name, one in data["parts"].items() if one.get("unusual")} == {
        "volume", "tone_capacitor"
    }  # fmt: skip
    assert gn.harness_from_dict(data) == odd


def test_a_reading_of_a_meter_is_what_it_is():
    """0.4 ohm is a true reading, of a short."""
    for shown in ("0.4 ohm", "0 ohm", "19 ohm", "3.1M", "OL"):
        assert len(gn.verify(GUITAR, [ResistanceReading(shown)]).checked) == 1


# -- it does not nag -------------------------------------------------------------------------------

REFERENCE = Path(__file__).parent / "reference" / "usual" / "values.csv"
MADE = {
    "Pickup": gn.Pickup,
    "Pot": gn.Pot,
    "Pot tolerance": lambda ohms, share: gn.Pot(ohms, "linear", tolerance=share),
    "Tone": lambda farad: one_pickup(tone_capacitor=farad),
    "Bleed": lambda network: one_pickup(treble_bleed=network),
    "Cable": gn.Cable,
    "Input": gn.AmpInput,
    "Choke": gn.Choke,
    "Resistor": gn.Resistor,
    "Load": Load,
}


def test_ordinary_values_pass_without_a_word():
    lines = [line for line in REFERENCE.read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    assert len(rows) > 300
    stopped = []
    for row in rows:
        given_ = [row[name] for name in ("first", "second", "third") if row[name]]
        try:
            MADE[row["kind"]](*given_)
        except BadValue as error:
            stopped.append(str(error))
    assert stopped == []


KINDS = ("AmpInput", "Coil", "Humbucker", "Pickup")


def test_ready_parts_and_layouts_pass_without_a_word():
    for part in (*gn.ready_pickups.values(), *gn.values.amp_inputs.values()):
        made = [part.coil_1, part.coil_2] if isinstance(part, gn.Humbucker) else [part]
        assert not any(one.unusual for one in made)
        assert eval(repr(part), {name: getattr(gn, name) for name in KINDS}) == part
    for name in LAYOUTS:
        data = gn.harness_to_dict(beginning(name))["parts"].values()
        assert not any(part.get("unusual") for part in data)


def test_no_lesson_example_or_page_has_to_insist(project):
    """They run in other tests; here it is seen that none of them says the word."""
    pages = [project / "README.md", *(project / "docs").rglob("*.md")]
    code = [*(project / "examples").rglob("*.py"), *(project / "notebooks").rglob("*.py")]
    saying = [
        str(file.relative_to(project))
        for file in (*pages, *code)
        if "_build" not in file.parts and "unusual=True" in file.read_text(encoding="utf-8")
    ]
    examples = ["examples/fit_pickup", "examples/volume_10_and_5"]
    assert sorted(saying) == ["docs/howto/enter_values.md", *(f"{one}.py" for one in examples)]


# -- every slip that leaves the range is asked about -----------------------------------------------

RANGES = ranges()
WIDE = {
    "AmpInput, resistance",
    "Capacitor, capacitance",
    "Load, capacitance",
    "Load, resistance",
    "Ohmmeter, largest",
    "Resistor, resistance",
}
"""Ranges of a thousand and more, which a slip of a thousand may stay inside; the documentation
lists them. Where a capacitor or a resistor stands narrows its range."""
PERCENT = {name for name, spec in RANGES.items() if spec.percent}


def test_all_other_ranges_are_narrower_than_a_slip():
    wide = {name for name, spec in RANGES.items() if spec.ends[1] / spec.ends[0] >= 1000}
    assert wide - PERCENT == WIDE
    assert len(RANGES) > 30
    for name, spec in RANGES.items():
        assert spec.usual[2], name
        assert spec.at_most is None or spec.ends[1] <= spec.at_most
        assert spec.ends[0] >= max(spec.at_least or 0, spec.above or 0)


@pytest.mark.parametrize("name", sorted(RANGES.keys() - PERCENT))
@given(where=st.floats(0, 1), power=st.sampled_from([-9, -6, -3, 3, 6, 9]))
def test_a_wrong_prefix_is_asked_about(name, where, power):
    """Anywhere in the range, a slip of a thousand, a million or more either way."""
    spec = RANGES[name]
    low, high = spec.ends
    value = low * (high / low) ** where
    assert spec.entered(value, "here") == value
    slipped = value * 10.0**power
    if name in WIDE and low <= slipped <= high:
        return
    with pytest.raises(BadValue):
        spec.entered(slipped, "here")


@given(
    ohms=st.floats(1e3, 3e4),
    henries=st.floats(0.5, 12),
    farads=st.floats(5e-11, 5e-10),
    order=st.sampled_from(list(itertools.permutations(range(3)))[1:]),
)
def test_swapped_values_of_a_pickup_are_refused(ohms, henries, farads, order):
    values = ohms, henries, farads
    assert gn.Pickup(*values).resistance == ohms
    with pytest.raises(BadValue):
        gn.Pickup(*(values[place] for place in order))


@pytest.mark.parametrize("name", sorted(RANGES.keys() - {"Coil, turns"}))
@given(number=st.integers(10, 999))
def test_a_number_without_a_unit_is_refused_as_text(name, number):
    """But for turns, and for the marking of a capacitor, which has three digits."""
    spec = RANGES[name]
    if spec.marked and number >= 100:
        return
    with pytest.raises(BadValue):
        spec.entered(str(number), "here")


@pytest.mark.parametrize("name", sorted(PERCENT))
@given(share=st.floats(0.21, 99))
def test_a_share_without_its_sign_is_asked_about(name, share):
    with pytest.raises(BadValue):
        RANGES[name].entered(share, "here")
    with pytest.raises(BadValue):
        RANGES[name].entered(f"{share:.4f}", "here")


def test_a_range_holds_its_ends_and_zero_where_zero_means_none():
    spec = Quantity("F", at_least=0, usual=("20p", "1n", NO_SOURCE))
    assert [spec.entered(value, "here") for value in (0, 20e-12, 1e-9)] == [0, 20e-12, 1e-9]
    for value in (19e-12, 1.1e-9):
        with pytest.raises(Unusual):
            spec.entered(value, "here")
    assert spec.read(1.0, "here") == 1.0


# -- files and the command -------------------------------------------------------------------------


@pytest.fixture
def told(tmp_path, monkeypatch, capsys):
    """Run the command in an empty folder; give its exit code and what it refused."""
    monkeypatch.chdir(tmp_path)

    def run(*words):
        code = main(words)
        return code, capsys.readouterr().err

    assert run("new", "one_pickup", "mine.toml")[0] == 0
    return run


SLIPS = [
    (
        "new one_pickup b.toml volume=500k volume=250k",
        "volume: is given twice, as '500k' and '250k'; give it once.",
    ),
    (
        "new one_pickup b.toml pickup.resistance=8.2R",
        f"pickup.resistance: 8.2 Ω {COIL} '8.2k' if you mean that, or insist with --unusual.",
    ),
    (
        "new one_pickup b.toml tone_capacitor=22p",
        f"tone_capacitor.capacitance: 22 pF {TONE} mean that, or insist with --unusual.",
    ),
    (
        "check mine.toml at=6.05k --accuracy 0.5",
        "--accuracy: 0.5 is 50 % as a share, and 0.5 % as percent; write '0.5%' or '50%', "
        "whichever it is, or insist on a share with --unusual.",
    ),
    ("check mine.toml at=6.05k --temperature 70", f"--temperature: 70 {ROOM}"),
    (
        "bleeds mine.toml 1u --marks 10 5",
        "treble_bleed.capacitance: 1 µF is unusual, 22 pF to 10 nF is what occurs "
        f"({NO_SOURCE}); write '1n' if you mean that, or insist with --unusual.",
    ),
    (
        "bleeds mine.toml 1n --set tone_capacitor=22p",
        f"tone_capacitor: 22 pF {TONE} mean that, or insist with --unusual.",
    ),
    (
        "choose mine.toml --cable 3000m",
        "cable.length: '3000m' is too large; give a value from 0 m to 1000 m, such as '3 m'.",
    ),
]


@pytest.mark.parametrize(("line", "sentence"), SLIPS, ids=[line for line, _ in SLIPS])
def test_a_slip_on_the_command_line(told, line, sentence):
    assert told(*line.split()) == (2, f"error: {sentence}\n")
    assert not Path("b.toml").exists()


def test_the_command_insists_and_its_file_says_so(told):
    odd = "pickup.resistance=8.2R", "tone_capacitor=22p"
    assert told("new", "one_pickup", "b.toml", *odd, "--unusual") == (0, "")
    parts = gn.harness_to_dict(gn.load_harness("b.toml"))["parts"]
    assert {name for name, one in parts.items() if one.get("unusual")} == {
        "pickup", "tone_capacitor"
    }  # fmt: skip
    assert told("check", "b.toml")[0] == 0
    assert told("check", "mine.toml", "at=6.05k", "--temperature", "70 F")[0] == 0


IN_A_FILE = [
    (
        'resistance = "6.2 kohm"',
        "resistance = 6.2",
        "parts.pickup.resistance: 6.2 has no unit; write '6.2k' if you mean that, or write it "
        "like '250k', '4k7' or '6200 ohm'.",
    ),
    (
        'capacitance = "22 nF"',
        "capacitance = 0.022",
        "parts.tone_capacitor.capacitance: 0.022 has no unit; write '0.022uF' if you mean that, "
        "or write it like '22n', '0.022uF' or the marking '223'.",
    ),
    (
        'length = "3 m"',
        "length = 3",
        "parts.cable.length: 3 has no unit; write '3 m' if you mean that, or write it like '3 m' "
        "or '10 ft'.",
    ),
    (
        'capacitance = "22 nF"',
        'capacitance = "22 pF"',
        f"parts.tone_capacitor.capacitance: 22 pF {TONE} mean that, or insist with unusual = true "
        "beside it, or --unusual.",
    ),
    (
        'resistance = "6.2 kohm"',
        'resistance = "6.2 ohm"',
        f"parts.pickup, Pickup.resistance: 6.2 Ω {COIL} '6.2k' if you mean that, or insist with "
        "unusual = true beside it, or --unusual.",
    ),
]


@pytest.mark.parametrize(("there", "slip", "sentence"), IN_A_FILE)
def test_a_slip_in_a_harness_file(told, there, slip, sentence):
    file = Path("mine.toml")
    text = file.read_text(encoding="utf-8")
    assert there in text
    file.write_text(text.replace(there, slip, 1), encoding="utf-8")
    assert told("check", "mine.toml") == (2, f"error: mine.toml, {sentence}\n")


def test_a_bare_number_in_a_file_is_refused_and_what_is_saved_has_units():
    data = gn.harness_to_dict(
        gn.layouts.one_pickup(
            gn.Pickup(1e5 / 3, 7 / 3, 1.1e-10 / 3, 1e5 / 7, 0.3, 1e4 / 3),
            volume=gn.Pot("250k", "linear", tolerance="25%", end_resistance=(0, 7 / 3)),
            cable=gn.Cable(10 / 3, 1e-10 / 1.3, resistance_per_metre=1 / 3,
                           insulation_resistance=1e9 / 3),
        )
    )  # fmt: skip
    units = ("resistance", "inductance", "capacitance", "frequency", "length", "metre")
    bare = [
        (name, key)
        for name, part in data["parts"].items()
        for key, value in part.items()
        if key.endswith(units) and isinstance(value, (int, float)) and value
    ]
    assert bare == []
    assert data["parts"]["volume"]["tolerance"] == "25%"
    assert data["parts"]["volume"]["end_resistance"] == [0.0, "2.3333333333333335 ohm"]
    again = gn.harness_from_dict(data)
    assert gn.harness_to_dict(again) == data
    data["parts"]["volume"]["end_resistance"] = [0, 2]
    with pytest.raises(BadFile, match=r"parts\.volume\.end_resistance: 2 has no unit"):
        gn.harness_from_dict(data)


# -- curves ----------------------------------------------------------------------------------------


def curves():
    """Level of a pickup in a guitar over frequency, in dB and as it may be mistaken."""
    f = np.geomspace(20, 20e3, 240)
    guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "3.1 H", "120p"), cable="5 m")
    level = gn.level_db(gn.response(guitar, frequency=f)).values
    return f, level


MISTAKEN = [
    (
        lambda f, level: (f, 10 ** (level / 20)),
        r"curve: is above zero everywhere, 0\.0\d+ to \d\.\d+, which reads like volts; give 20 "
        r"log10 of them, or if it is in dB, unusual=True\.",
    ),
    (
        lambda f, level: (f, level / 2),
        r"curve: falls by 2\d dB a decade past its peak, where a pickup falls by 40 and more, "
        r"which reads like 10 log10; give 20 log10 of the voltage, or if it is so, unusual=True\.",
    ),
    (
        lambda f, level: (2 * np.pi * f, level),
        r"curve: runs from 125\.664 to 125664 Hz, which reads like rad/s; divide by 2 pi, which "
        r"makes it 20 to 2e\+04 Hz, or if it is in Hz, unusual=True\.",
    ),
]


@pytest.mark.parametrize(("changed", "sentence"), MISTAKEN)
def test_a_curve_in_another_unit_is_asked_about(changed, sentence):
    f, level = curves()
    assert MeasuredCurve(f, level, load=Load()).frequency.size == f.size
    with pytest.raises(Unusual) as asked:
        MeasuredCurve(*changed(f, level), load=Load())
    assert re.fullmatch(sentence, str(asked.value))
    assert MeasuredCurve(*changed(f, level), load=Load(), unusual=True).frequency.size == f.size


SETS = Path(__file__).parent / "reference" / "measured_pickups"


def test_no_measured_curve_is_asked_about():
    """The open measurements, as measured and with the exciter's slope taken away."""
    files = sorted(SETS.glob("*.csv"))
    assert len(files) > 30
    for file in files:
        curve = gn.fitting.read_curve(file, load=Load(), slope=20)
        for moved in (0, 60, -60):
            MeasuredCurve(curve.frequency, curve.level + moved, load=Load())


def test_a_measured_curve_in_10_log10_is_asked_about():
    """The same ones: behind an exciter coil each by its rise, which is half of the coil's own;
    behind an integrator that of each pickup with a large capacitor, by its fall past the peak."""
    for file in sorted(SETS.glob("*.csv")):
        curve = gn.fitting.read_curve(file, load=Load(), slope=20)
        for slope, turn in ((0, "rises"), (20, "falls")):
            with pytest.raises(Unusual, match=rf"{turn} by (9|1\d) dB a decade below 250 Hz, half"):
                MeasuredCurve(curve.frequency, curve.magnitude / 2, load=Load(), slope=slope)
        if "large-capacitor" in file.name:
            with pytest.raises(Unusual, match=r"falls by 2\d dB a decade past its peak"):
                MeasuredCurve(curve.frequency, curve.level / 2, load=Load())


def measured(kind):
    """Two curves of a real pickup, integrated, in dB or as they may be mistaken, past the look."""
    for load, tag in ((Load(), "unloaded"), (Load("200k", "470p"), "load-200k-470p")):
        curve = gn.fitting.read_curve(
            SETS / f"two-coil-medium.{tag}.csv", load=load, slope=20, name=tag
        )
        level = curve.level - curve.level[0]
        f = curve.frequency * (2 * np.pi if kind == "rad/s" else 1)
        level = 10 ** (level / 20) if kind == "volts" else level
        yield MeasuredCurve(f, level, load=load, name=tag, unusual=True)


@pytest.mark.parametrize("kind", ["volts", "rad/s"])
def test_what_comes_out_of_a_fit_is_asked_about_too(kind):
    with pytest.raises(Unusual) as asked:
        gn.fit_pickup(list(measured(kind)), resistance="7.5k", beside_idle_coil=False)
    assert re.fullmatch(
        r"pickup: comes out with eddy loss on 5\d % of L and screening from [89]\.\d kHz, which no "
        r"measured pickup gave \(8 to 45 %, 2 to 4 kHz\); check that its curves are in dB \(20 "
        r"log10 of the voltage\) over Hz, or insist with unusual=True\.",
        str(asked.value),
    )


def test_a_fit_of_a_real_pickup_is_not_asked_about():
    fit = gn.fit_pickup(list(measured("dB")), resistance="7.5k", beside_idle_coil=False)
    assert 0.08 < fit.values["eddy_share"].value < 0.5
    assert not any("are the curves in dB" in words for words in fit.warnings)


# -- the table -------------------------------------------------------------------------------------

TABLE = f"""
Coil, resistance: 150 Ω to 100 kΩ: {NO_SOURCE}
Coil, inductance: 50 mH to 40 H: 1 to 10 H of one or two coils: H. Lemme; the rest {NO_SOURCE}
Coil, capacitance: 10 pF to 5 nF: 80 to 200 pF: H. Lemme; with a long lead more, {NO_SOURCE}
Coil, eddy resistance: 2 kΩ to 1.9 MΩ: 19 to 76 k fitted to the open measurements; the rest a guess
Coil, screening frequency: 200 Hz to 100 kHz: 2 to 3 kHz fitted to the open measurements; \
the rest a guess
Coil, tolerance: 0.005 % to 80 %: {NO_SOURCE}
Coil, turns: 200 to 40000: {NO_SOURCE}
Coil, slow frequency: 50 Hz to 20 kHz: 0.6 to 0.9 kHz fitted to the open measurements; \
the rest a guess
Choke, inductance: 20 mH to 19 H: {NO_SOURCE}
Choke, resistance: 5 Ω to 4.9 kΩ: {NO_SOURCE}
Choke, capacitance: 10 pF to 5 nF: as of a coil
Choke, tolerance: 0.005 % to 80 %: {NO_SOURCE}
Capacitor, capacitance: 10 pF to 1 µF: treble bleeds to tone capacitors: {NO_SOURCE}
Capacitor, tolerance: 0.005 % to 80 %: {NO_SOURCE}
Capacitor, dissipation factor: 0.001 % to 20 %: {NO_SOURCE}
Resistor, resistance: 470 Ω to 10 MΩ: {NO_SOURCE}
Resistor, tolerance: 0.005 % to 80 %: {NO_SOURCE}
Pot, resistance: 5 kΩ to 4.9 MΩ: 25k to 1M: {NO_SOURCE}
Pot, tolerance: 0.005 % to 80 %: {NO_SOURCE}
Pot, end resistance: 50 mΩ to 49 Ω: up to 2 ohm: panel pot datasheets; the rest a guess
BlendPot, resistance: 5 kΩ to 4.9 MΩ: 25k to 1M: {NO_SOURCE}
BlendPot, tolerance: 0.005 % to 80 %: {NO_SOURCE}
Cable, length: 0.1 m to 99 m: {NO_SOURCE}
Cable, capacitance per metre: 40 pF/m to 900 pF/m: straight 60 to 260, coiled 400 and more: \
{NO_SOURCE}
Cable, resistance per metre: 5 mΩ/m to 4.9 Ω/m: {NO_SOURCE}
Cable, tolerance: 0.005 % to 80 %: {NO_SOURCE}
AmpInput, resistance: 10 kΩ to 10 MΩ: B. Judge, "Feel the gain 1"
AmpInput, capacitance: 2 pF to 1.9 nF: {NO_SOURCE}
AmpInput, grid resistance: 1 kΩ to 990 kΩ: {NO_SOURCE}
AmpInput, tolerance: 0.005 % to 80 %: {NO_SOURCE}
Ohmmeter, accuracy: 0.001 % to 10 %: {NO_SOURCE}
Ohmmeter, leads: 10 mΩ to 9 Ω: {NO_SOURCE}
Ohmmeter, largest: 199 Ω to 1 GΩ: {NO_SOURCE}
treble bleed, capacitance: 22 pF to 10 nF: {NO_SOURCE}
treble bleed, resistance: 4.7 kΩ to 4.6 MΩ: {NO_SOURCE}
tone capacitor, capacitance: 1 nF to 470 nF: {NO_SOURCE}
Load, resistance: 10 kΩ to 10 MΩ: a pot to a probe: {NO_SOURCE}
Load, capacitance: 5 pF to 1 µF: a lead to a large capacitor: {NO_SOURCE}
PeakReading, frequency: 200 Hz to 100 kHz: loaded to unloaded: {NO_SOURCE}
InductanceReading, frequency: 40 Hz to 30 kHz: of LCR meters: {NO_SOURCE}
noise_level, signal: 1 mV to 990 mV: 100 mV: {NO_SOURCE}
"""


def test_every_range_is_written_down():
    """A change of what is asked about is a change here."""
    rows = [f"{name}: {low} to {high}: {who}" for name, low, high, who in usual_values().rows]
    assert rows == TABLE.strip().splitlines()


@pytest.mark.parametrize("name", sorted(RANGES))
def test_a_value_at_an_end_is_usual_and_one_past_it_is_not(name):
    spec = RANGES[name]
    low, high = (f"{end * 100!r}%" if spec.percent else end for end in spec.ends)
    assert spec.entered(low, "here") == pytest.approx(spec.ends[0])
    assert spec.entered(high, "here") == pytest.approx(spec.ends[1])
    for past in (spec.ends[0] / 1.01, spec.ends[1] * 1.01):
        with pytest.raises(BadValue):
            spec.entered(f"{past * 100!r}%" if spec.percent else past, "here")


def test_every_range_is_what_was_decided():
    """What is asked about, and what no part can have; a change of one is a decision."""
    decided = (Path(__file__).parent / "reference" / "usual" / "ranges.csv").read_text("utf-8")
    given = [line for line in decided.splitlines() if not line.startswith("#")]
    rows = {f"{row['of']}, {row['value']}": row for row in csv.DictReader(given)}
    found = ranges()
    assert found.keys() == rows.keys()
    for name, spec in found.items():
        row = rows[name]
        assert (spec.unit, *spec.usual[:2]) == (row["unit"], row["low"], row["high"]), name
        limits = [None if not row[key] else float(row[key]) for key in _LIMITS]
        assert [getattr(spec, key) for key in _LIMITS] == limits, name


_LIMITS = ("above", "at_least", "at_most")


def test_letters_of_tolerance():
    """IEC 60062, of capacitors of 10 pF and more; from memory."""
    letters = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1, "G": 2, "H": 3, "J": 5, "K": 10, "M": 20}
    for letter, percent in {**letters, "N": 30}.items():
        assert gn.Capacitor(f"104{letter}").tolerance == pytest.approx(percent / 100)
