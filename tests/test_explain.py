"""Sentences about comparisons: their sign, their reference and their digits."""

from __future__ import annotations

import re

import numpy as np
import pytest

import guitarnet as gn
from guitarnet.study.choose.bleed_answer import bleed_answer
from guitarnet.study.choose.bleed_tables import compare_bleeds
from guitarnet.study.choose.wiring_answer import wiring_answer
from guitarnet.study.explain.cable import cable_settings

COIL = gn.Pickup("6.2k", "2.4 H", "120p")
GRID = np.union1d(np.geomspace(20, 20e3, 801), [200.0, 5000.0])
IN_BAND = (GRID >= 200) & (GRID <= 5000)


def guitar_of(rng):
    """A guitar with ordinary values, one of four wirings, its volume perhaps not at its end."""
    pot = rng.choice(["250k", "500k"])
    ends = rng.choice(["0", "0.5%", "2%"])
    return gn.layouts.one_pickup(
        gn.Pickup(rng.uniform(4e3, 12e3), rng.uniform(1.8, 6.0), rng.uniform(80e-12, 200e-12)),
        volume=gn.Pot(pot, gn.audio_taper(rng.uniform(0.08, 0.5)), end_resistance=str(ends)),
        tone=rng.choice([None, "250k"]),
        wiring=str(rng.choice(["modern", "50s", "independent", "independent 50s"])),
        treble_bleed=rng.choice([None, "680p", "150k || 1n"]),
        cable=gn.Cable(rng.uniform(0.5, 9), "100 pF/m"),
    )


def levels(guitar, frequency, **settings):
    """Levels re 1 V/V by plain arithmetic, at frequencies in any order."""
    rising, places = np.unique(frequency, return_inverse=True)
    volts = gn.response(guitar, frequency=rising, **settings).values
    return 20 * np.log10(np.abs(volts))[..., places]


def number(text, pattern, up, down, none):
    """The signed number that a sentence states; 0 where it says that nothing changed."""
    if none in text:
        return 0.0
    found = re.search(rf"{pattern} ([\d.]+) dB ({up}|{down})", text)
    return float(found[1]) * (1 if found[2] == up else -1)


def agrees(stated, true):
    """Rounded to what is stated; what changes by less than 0.05 dB is none."""
    if abs(true) < 0.05 - 1e-9:
        return stated == 0
    digits = 0.05 if abs(true) >= 0.095 else 0.005
    return np.sign(stated) == np.sign(true) and abs(stated - true) <= digits + 1e-6


def check(texts, one, other):
    """Compare the sentences of one comparison with levels of the two curves."""
    (bass, treble, *shape), (bass_0, treble_0, *shape_0) = other, one
    change = np.array(shape) - shape_0 - (bass - bass_0)
    if "nothing changes" in texts[0]:
        assert np.abs(np.array(shape) - shape_0).max() < 0.0501
        return
    stated = number(texts[0], "bass \\(100 Hz\\) is", "louder", "quieter", "stays as it is")
    assert agrees(stated, bass - bass_0), texts[0]
    stated = number(texts[1], "3 kHz stands", "higher", "lower", "stays where it was")
    moved = treble - treble_0 - (bass - bass_0)
    assert agrees(stated, moved), texts[1]
    largest = change[IN_BAND][np.abs(change[IN_BAND]).argmax()]
    told = [text for text in texts if text.startswith("The largest change of shape")]
    if told:
        found = re.search(r"is ([+-])([\d.]+) dB, at ([\d.]+) (k?)Hz", told[0])
        assert abs(float(found[1] + found[2]) - largest) <= 0.06, told[0]
        at = float(found[3]) * (1000 if found[4] else 1)
        assert abs(abs(np.interp(at, GRID, change)) - abs(largest)) < 0.06, told[0]
    else:
        assert abs(largest) < abs(moved) + 0.51, "the treble tells the largest change"


def peaks_agree(texts, one, other):
    """The peaks that are told are the highest maxima of the curves, or are not there."""
    told = next((text for text in texts if "resonance peak" in text), None)
    peaks = []
    for curve in (np.array(one[2:]), np.array(other[2:])):
        inner = np.flatnonzero((curve[1:-1] > curve[:-2]) & (curve[1:-1] > curve[2:])) + 1
        peaks.append(GRID[inner[curve[inner].argmax()]] if inner.size else None)
    before, after = peaks
    if told is None:
        assert (before is None) == (after is None)
        assert before is None or abs(after / before - 1) < 0.02
        return
    stated = [float(n) * (1e3 if k else 1) for n, k in re.findall(r"([\d.]+) (k?)Hz", told)]
    expected = [at for at in ([before] if "is gone" in told else [before, after]) if at]
    if "stays at" in told or "now, at" in told:
        expected = [after]
    assert stated == pytest.approx(expected, rel=0.01), told


def test_sentences_are_true_of_any_guitar(draws):
    """Builds against each other and a knob turned down, recomputed from the volts."""
    for seed in range(draws(4, 60)):
        rng = np.random.default_rng(seed)
        guitars = {"one": guitar_of(rng), "two": guitar_of(rng)}
        mark = float(rng.integers(2, 10))
        said = gn.explain(guitars, volume=[10, mark]).paragraphs
        at = {
            (name, knob): levels(guitar, [100, 3000, *GRID], volume=knob)
            for name, guitar in guitars.items()
            for knob in (10, mark)
        }
        pairs = [
            (("one", 10), ("two", 10)),
            (("one", mark), ("two", mark)),
            (("one", 10), ("one", mark)),
            (("two", 10), ("two", mark)),
        ]
        for paragraph, (before, after) in zip(said, pairs, strict=True):
            texts = [str(one) for one in paragraph]
            check(texts, at[before], at[after])
            peaks_agree(texts, at[before], at[after])
            assert all(len(text.split()) <= 30 for text in texts)


def test_the_answer_about_bleeds_is_true_of_any_guitar(draws):
    """At 10 against no bleed, and at 5 against 10, from the volts."""
    for seed in range(draws(3, 40)):
        rng = np.random.default_rng(1000 + seed)
        found = compare_bleeds(guitar_of(rng), ["1n", "120k + 820p"])
        texts = [str(one) for one in bleed_answer(found).sentences]
        assert all(len(text.split()) <= 30 for text in texts)
        at = {
            (name, knob): levels(guitar, [100, 3000, *GRID], volume=knob)
            for name, guitar in found.builds.items()
            for knob in (10, 5)
        }
        change = {n: at[n, 5][1] - at[n, 5][0] - at[n, 10][1] + at[n, 10][0] for n in found.builds}
        plain = texts.index(next(text for text in texts if "without a bleed, the bass" in text))
        stated = number(texts[plain], "is", "louder", "quieter", "stays as it is")
        assert agrees(stated, at["no bleed", 5][0] - at["no bleed", 10][0])
        stated = number(texts[plain + 1], "stands", "higher", "lower", "stays where it was")
        assert agrees(stated, change["no bleed"])
        for name in found.builds:
            if name == "no bleed":
                continue
            here = next(i for i, t in enumerate(texts) if t.startswith(f"At volume 5 with {name}"))
            stated = number(texts[here], "stands", "higher", "lower", "stays where it was")
            assert agrees(stated, change[name]), texts[here]
            louder = next(text for text in texts[here:] if text.startswith("The bass"))
            stated = number(louder, "bass is", "louder", "quieter", "as loud as")
            assert agrees(stated, at[name, 5][0] - at["no bleed", 5][0]), louder
        for name in set(found.bleeds) - {"no bleed"}:
            largest = np.abs(at[name, 10] - at["no bleed", 10])[2:].max()
            told = [
                text for text in texts if text.startswith(f"At volume 10, {name} changes the level")
            ]
            assert bool(told) == (largest >= 0.05)
            if told:
                assert agrees(float(re.search(r"up to ([\d.]+) dB", told[0])[1]), largest)


def test_an_explanation_word_for_word():
    """What a bleed does at 10 and at 5 in one guitar, as a paragraph."""
    guitar = gn.layouts.one_pickup(COIL, cable="5 m")
    found = compare_bleeds(guitar, ["1n"], marks=[10, 5])
    assert bleed_answer(found).texts() == [
        "At volume 10, 1 nF changes nothing: less than 0.05 dB from 20 Hz to 20 kHz. If the pot "
        "keeps 1 % of its track there, it changes the level by up to 0.05 dB, at 20 kHz.",
        "At volume 5 without a bleed, the bass (100 Hz) is 16.7 dB quieter than at 10. Against the "
        "bass, 3 kHz stands 3.5 dB lower than at 10. With 1.5 m of this cable instead of 5 m, it "
        "would stand 0.8 dB lower than at 10. From 200 Hz to 5 kHz the shape differs from that at "
        "10 by up to 4.4 dB, at 3.81 kHz.",
        "At volume 5 with 1 nF, 3 kHz stands 8.9 dB higher than at 10 against the bass. From 200 "
        "Hz to 5 kHz the shape differs from that at 10 by up to 9.0 dB, at 5 kHz. The bass is "
        "0.08 dB louder than without a bleed.",
        "At volume 5 with 50s wiring and no bleed, 3 kHz stands 3.0 dB lower than at 10 against "
        "the bass. From 200 Hz to 5 kHz the shape differs from that at 10 by up to 3.6 dB, at 3.68 "
        "kHz. The bass is 0.8 dB quieter than without a bleed.",
        "Lossless coil assumed (no eddy currents, no screening); tone at 10 unless stated; no end "
        "resistance in the pots unless stated; an audio taper as two straight segments that meet "
        "at half travel.",
    ]


def test_a_metre_of_cable_comes_first():
    """Own length against one metre more, at 10; written lengths are said as written."""
    guitar = gn.layouts.one_pickup(COIL, cable="5 m")
    said = gn.explain(guitar, cable_settings(guitar, ["10 ft"])).texts()
    assert said[0].startswith("At volume 10, with cable length 6 m instead of 5 m, the bass (100 ")
    assert said[1].startswith("At volume 10, with cable length 10 ft instead of 5 m, ")
    assert any(text.startswith("With cable length 10 ft, from volume 10 to 5, ") for text in said)


def test_what_is_silent_is_called_silent():
    guitar = gn.layouts.one_pickup(COIL)
    said = gn.explain(guitar, volume=[10, 0]).texts()
    assert said[0] == "From volume 10 to 0, the guitar is silent."
    said = gn.explain(guitar, volume=[0, 10]).texts()
    assert said[0] == "From volume 0 to 10, the guitar sounds; before it was silent."


def test_the_numbers_are_a_table():
    """Every number with its unit, its setting and its reference."""
    guitar = gn.layouts.one_pickup(COIL)
    table = gn.explain(guitar, volume=[10, 5]).to_dataframe()
    row = table[table["quantity"] == "treble against bass"].iloc[0]
    assert (row["unit"], row["at"], row["re"], row["frequency"]) == (
        *("dB", "volume 5", "volume 10"),
        3000.0,
    )
    at_ten, at_five = levels(guitar, [100, 3000], volume=[10, 5])
    assert row["value"] == pytest.approx(np.diff(at_five)[0] - np.diff(at_ten)[0], abs=1e-9)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        (
            {},
            "explain: there is nothing to compare; give builds by label, or several values of one "
            "setting, as volume=[10, 5].",
        ),
        (
            {"volume": [10, 5], "tone": [10, 5], "cable": ["3 m", "6 m"]},
            "explain: volume, tone, cable all differ; let at most two differ, and set the rest.",
        ),
        (
            {"volume": list(range(11)), "tone": list(range(11))},
            "explain: 121 curves are more than sentences can tell; give up to 40.",
        ),
    ],
)
def test_what_cannot_be_told_in_sentences_is_refused(settings, message):
    with pytest.raises(gn.errors.BadSetting) as refused:
        gn.explain(gn.layouts.one_pickup(COIL), settings)
    assert str(refused.value) == message


def test_a_report_holds_the_answer_and_no_markup_of_a_name(tmp_path):
    """A page by itself: what a person wrote is text, and the picture is inside."""
    from guitarnet.show.page.bleed_report import bleed_report

    guitar = gn.layouts.one_pickup(COIL, name="<b>mine</b>")
    found = compare_bleeds(guitar, ["1n"], marks=[10, 5])
    page = bleed_report(found, bleed_answer(found), b"\x89PNG")
    assert "&lt;b&gt;mine&lt;/b&gt;: what a treble bleed does at volume 10 and 5" in page
    assert "<b>" not in page
    assert "<script" not in page
    assert 'src="data:image/png;base64,iVBORw=="' in page
    for text in bleed_answer(found).texts():
        assert text in page.replace("\xa0", " ")


WIRINGS = ("modern", "50s", "independent", "independent 50s")


def test_wirings_are_those_of_the_layouts():
    """From any of the four all four, the first as it is; without a tone control two."""
    ways = {
        way: gn.layouts.one_pickup(COIL, wiring=way, treble_bleed="150k || 1n") for way in WIRINGS
    }
    told = {"volume": [10.0, 6.0, 0.0], "tone": 4.0}
    volts = {way: gn.response(one, told, frequency=[100, 3e3]) for way, one in ways.items()}
    for way, guitar in ways.items():
        found = gn.choosing.wirings(guitar)
        assert next(iter(found)) == f"{way} wiring"
        assert found[f"{way} wiring"] == guitar
        assert set(found) == {f"{one} wiring" for one in WIRINGS}
        for one in WIRINGS:
            h = gn.response(found[f"{one} wiring"], told, frequency=[100, 3e3])
            np.testing.assert_allclose(h, volts[one], rtol=1e-9, atol=1e-12)
    bare = gn.layouts.one_pickup(COIL, tone=None, wiring="independent")
    assert list(gn.choosing.wirings(bare)) == ["independent wiring", "modern wiring"]


def test_the_answer_about_wiring_is_true_of_any_guitar(draws):
    """Each wiring against the first at 10 and at 5, and turned down, from the layouts' volts."""
    for seed in range(draws(2, 40)):
        rng = np.random.default_rng(2000 + seed)
        coil = gn.Pickup(rng.uniform(4e3, 12e3), rng.uniform(1.8, 6.0), rng.uniform(8e-11, 2e-10))
        own = str(rng.choice(WIRINGS))
        made = {
            way: gn.layouts.one_pickup(
                coil,
                volume=gn.Pot("500k", gn.audio_taper(0.1 + 0.1 * seed % 0.4)),
                wiring=way,
                treble_bleed="680p" if seed % 2 else None,
            )
            for way in WIRINGS
        }
        said = wiring_answer(made[own]).paragraphs
        at = {
            (way, mark): levels(guitar, [100, 3000, *GRID], volume=mark)
            for way, guitar in made.items()
            for mark in (10, 5)
        }
        for paragraph in said:
            texts = [str(one) for one in paragraph]
            assert all(len(text.split()) <= 30 for text in texts)
            if texts[0].startswith("With "):
                assert texts[0].startswith(f"With {own} wiring, from volume 10 to 5, ")
                check(texts, at[own, 10], at[own, 5])
                continue
            found = re.match(
                r"At volume (\d+), with (.+) wiring instead of (.+) wiring, ", texts[0]
            )
            mark, way, first = found.groups()
            assert first == own
            check(texts, at[own, int(mark)], at[way, int(mark)])
        assert len(said) == 7


def test_wirings_needs_a_place_across_a_volume():
    guitar = gn.layouts.one_pickup(COIL)
    with pytest.raises(gn.errors.BadSetting) as refusal:
        gn.choosing.wirings(guitar, "tone_capacitor")
    assert str(refusal.value) == (
        "place: tone_capacitor is no two-lug place across a volume pot; name the place of a bleed, "
        "such as treble_bleed; it may be empty."
    )
