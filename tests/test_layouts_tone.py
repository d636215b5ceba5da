"""One pickup with rotary tone capacitors, a notch, a bass cut or a no-load tone.

What each place selects is common practice, no source; what it does to the response is compared
with closed forms.
"""

from __future__ import annotations

import numpy as np
import pytest
from layout_checks import NECK, capacitors, same_as_ngspice, swapped, truth

import guitarnet as gn
from guitarnet import layouts
from guitarnet.parts.choke import Choke

F = np.geomspace(20, 20e3, 60)
ALONE = "+pickup", "alone"
MARKS = ["2.2 nF", "10 nF", "39 nF", "47 nF", "100 nF"]

ROTARY = {"none": ()} | {mark: (f"capacitor_{n}",) for n, mark in enumerate(MARKS, 1)}


# -- rotary tone ----------------------------------------------------------------------------------


def test_rotary_tone_truth_table():
    """The pickup sounds in each place, and there is no tone pot."""
    guitar = layouts.rotary_tone(NECK)
    assert truth(guitar) == dict.fromkeys(["none", *MARKS], (*ALONE, {"volume"}))
    assert capacitors(guitar) == ROTARY


@pytest.mark.parametrize("place", ["none", *MARKS])
def test_each_place_is_a_capacitor_to_ground(place):
    """As one pickup whose tone pot stands at 0, or has no tone control at all."""
    found = gn.response(layouts.rotary_tone(NECK), frequency=F, tone=place, volume=6)
    if place == "none":
        expected = gn.response(layouts.one_pickup(NECK, tone=None), frequency=F, volume=6)
    else:
        plain = layouts.one_pickup(NECK, tone_capacitor=place)
        expected = gn.response(plain, frequency=F, volume=6, tone=0)
    np.testing.assert_allclose(found.values, expected.values, rtol=1e-10)


def test_a_wrong_rotary_tone_is_seen():
    """Two of its lugs swapped are two capacitors swapped."""
    guitar = layouts.rotary_tone(NECK)
    wrong = swapped(guitar, "tone.a2", "tone.a6")
    here = {"tone": ["2.2 nF", "100 nF"]}
    np.testing.assert_allclose(
        gn.response(wrong, frequency=F, **here).values[::-1],
        gn.response(guitar, frequency=F, **here).values,
    )
    for one, other in (("tone.a2", "tone.a6"), ("tone.a1", "tone.a"), ("tone.a1", "tone.a3")):
        assert capacitors(swapped(guitar, one, other)) != ROTARY


# -- notch ----------------------------------------------------------------------------------------


def test_rotary_notch_truth_table():
    guitar = layouts.rotary_notch(NECK)
    places = ["off", "1 nF", "3.3 nF", "10 nF", "33 nF", "220 nF"]
    assert truth(guitar) == dict.fromkeys(places, (*ALONE, {"volume", "tone"}))
    assert capacitors(guitar) == {"off": ("tone_capacitor",)} | {
        place: (f"capacitor_{n}", "tone_capacitor") for n, place in enumerate(places[1:], 1)
    }


def test_off_is_a_guitar_without_a_notch():
    """Its resistor is bridged and its choke hangs by one end."""
    np.testing.assert_allclose(
        gn.response(layouts.rotary_notch(NECK), frequency=F, notch="off", tone=5).values,
        gn.response(
            layouts.one_pickup(NECK, volume="500k", tone="500k"), frequency=F, volume=10, tone=5
        ).values,
        rtol=1e-10,
    )


@pytest.mark.parametrize(("place", "farad"), [("1 nF", 1e-9), ("10 nF", 10e-9), ("33 nF", 33e-9)])
def test_the_notch_is_where_choke_and_capacitor_resonate(place, farad):
    """Closed form: f = 1/(2 pi sqrt(L C)), and nothing passes a choke without resistance there."""
    guitar = layouts.rotary_notch(NECK)
    f = 1 / (2 * np.pi * np.sqrt(1.5 * farad))
    h = abs(gn.response(guitar, frequency=[f / 4, f, 4 * f], notch=place)).values
    assert h[1] < 1e-9
    assert min(h[0], h[2]) > 0.01


def test_a_choke_with_resistance_leaves_something():
    """Closed form at 0 Hz and at resonance: the choke's own resistance closes the notch."""
    real = Choke("1.5 H", "100 ohm", "0p")
    guitar = layouts.rotary_notch(
        gn.Pickup("6k", "1 mH", 0, unusual=True), choke=real, tone=None, volume="1M", cable=0
    )
    f = 1 / (2 * np.pi * np.sqrt(1.5 * 10e-9))
    load = 1 / (1 / 100 + 1 / 1e6 + 1 / 1e6)
    before = 106e3 + 2j * np.pi * f * 1e-3
    h = gn.response(guitar, frequency=[f], notch="10 nF").values[0]
    assert h == pytest.approx(load / (load + before), rel=1e-9)


def test_a_choke_alone():
    """Closed form: (R + j w L) beside C."""
    guitar = gn.Harness(
        {"choke": Choke("1.5 H", "120 ohm", "80p"), "jack": gn.Jack()},
        [("choke.a", "jack.tip"), ("choke.b", "jack.sleeve")],
    )
    w = 2 * np.pi * F
    expected = 1 / (1 / (120 + 1j * w * 1.5) + 1j * w * 80e-12)
    np.testing.assert_allclose(gn.impedance(guitar, frequency=F).values, expected, rtol=1e-10)
    assert float(gn.jack_resistance(guitar)) == 120


def test_figures_say_that_the_choke_is_without_core_loss():
    h = gn.response(layouts.rotary_notch(NECK), frequency=[100.0], notch="10 nF")
    assert "no core loss in the choke assumed" in h.attrs["assumptions"]


@pytest.mark.parametrize(
    ("one", "other"),
    [("notch.a", "notch.b"), ("notch.a1", "notch.b1"), ("notch.b2", "notch.b4")],
)
def test_a_wrong_notch_is_seen(one, other):
    """The response at every place tells."""
    guitar = layouts.rotary_notch(NECK)
    places = list(guitar.parts["notch"].places)
    wrong = swapped(guitar, one, other)
    right = gn.response(guitar, frequency=F, notch=places).values
    assert np.abs(gn.response(wrong, frequency=F, notch=places).values - right).max() > 0.05


# -- bass cut -------------------------------------------------------------------------------------


def test_bass_cut_truth_table():
    """The pickup is heard in both places, through the capacitor in the second."""
    knobs = {"volume", "tone"}
    assert truth(layouts.bass_cut(NECK)) == {(): (*ALONE, knobs | {"bass"})}
    switched = truth(layouts.bass_cut(NECK, control="switch"))
    assert switched == dict.fromkeys(["full", "bass cut"], (*ALONE, knobs))
    assert capacitors(layouts.bass_cut(NECK, control="switch")) == {
        "full": ("tone_capacitor",),
        "bass cut": ("bass_capacitor", "tone_capacitor"),
    }


@pytest.mark.parametrize("farad", [3.3e-9, 1.5e-9])
def test_the_capacitor_in_series(farad):
    """Closed form: coil and capacitor in series into volume and amp."""
    coil = gn.Pickup("6k", "2.3 H", 0)
    guitar = layouts.bass_cut(
        coil, control="switch", bass_capacitor=farad, tone=None, cable=0, volume="500k"
    )
    s = 2j * np.pi * F
    load = 1 / (1 / 500e3 + 1 / 1e6)
    expected = load / (load + 6e3 + 2.3 * s + 1 / (s * farad))
    found = gn.response(guitar, frequency=F, bass="bass cut").values
    np.testing.assert_allclose(found, expected, rtol=1e-10)
    full = gn.response(guitar, frequency=F, bass="full").values
    np.testing.assert_allclose(full, load / (load + 6e3 + 2.3 * s), rtol=1e-10)


def test_the_tone_stands_behind_the_bass_cut():
    """Closed form: the tone capacitor at 0 and the bass-cut capacitor divide the signal."""
    coil = gn.Pickup("6k", "2.3 H", 0)
    guitar = layouts.bass_cut(coil, control="switch", cable=0, volume="500k")
    s = 2j * np.pi * F
    load = 1 / (1 / 500e3 + 1 / 1e6 + s * 22e-9)
    expected = load / (load + 6e3 + 2.3 * s + 1 / (s * 3.3e-9))
    found = gn.response(guitar, frequency=F, bass="bass cut", tone=0).values
    np.testing.assert_allclose(found, expected, rtol=1e-10)


def test_the_bass_pot_bridges_the_capacitor_at_10():
    """At 10 the guitar is without a bass cut, at 0 a megohm lies across the capacitor."""
    plain = layouts.one_pickup(NECK, volume="500k", tone="500k")
    guitar = layouts.bass_cut(NECK)
    np.testing.assert_allclose(
        gn.response(guitar, frequency=F, tone=4).values,
        gn.response(plain, frequency=F, tone=4).values,
        rtol=1e-10,
    )
    low = abs(gn.response(guitar, frequency=[60.0], bass=[10, 5, 0])).values[:, 0]
    assert low[0] > low[1] > low[2]
    ohms = float(gn.jack_resistance(guitar, bass=0)) / 1e3
    assert ohms == pytest.approx(1 / (1 / 1006 + 1 / 500), rel=1e-12)


@pytest.mark.parametrize(
    ("one", "other"), [("bass.high", "bass.low"), ("bass_capacitor.b", "tone.low")]
)
def test_a_wrong_bass_cut_is_seen(one, other):
    guitar = layouts.bass_cut(NECK)
    wrong = swapped(guitar, one, other)
    marks = {"bass": [10, 5, 0]}
    right = gn.response(guitar, frequency=F, **marks).values
    assert np.abs(gn.response(wrong, frequency=F, **marks).values - right).max() > 0.05


# -- no-load tone ---------------------------------------------------------------------------------


def test_a_no_load_tone_is_gone_at_10():
    """As a guitar without a tone control at 10, as an ordinary one below."""
    law = gn.no_load("audio 15%")
    guitar = layouts.one_pickup(NECK, tone=gn.Pot("250k", law))
    ordinary = layouts.one_pickup(NECK)
    without = layouts.one_pickup(NECK, tone=None)
    np.testing.assert_allclose(
        gn.response(guitar, frequency=F, tone=10).values,
        gn.response(without, frequency=F).values,
        rtol=1e-11,
    )
    np.testing.assert_array_equal(
        gn.response(guitar, frequency=F, tone=9).values,
        gn.response(ordinary, frequency=F, tone=9).values,
    )
    assert gn.peak(gn.response(guitar)).height > gn.peak(gn.response(ordinary)).height
    assert truth(guitar) == {(): (*ALONE, {"volume", "tone"})}


# -- ngspice --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("guitar", "settings"),
    [
        (layouts.rotary_tone(NECK, treble_bleed="150k || 1n"), {"volume": 6}),
        (
            layouts.rotary_notch(NECK, choke=Choke("1.5 H", "90 ohm", "150p"), treble_bleed="1n"),
            {"volume": 7, "tone": 4},
        ),
        (layouts.bass_cut(NECK, treble_bleed="680p"), {"volume": 7, "tone": 4, "bass": 3}),
        (layouts.bass_cut(NECK, control="switch", bass_capacitor="1.5n"), {"volume": 8}),
        (layouts.one_pickup(NECK, tone=gn.Pot("250k", "linear, no-load")), {}),
    ],
    ids=lambda given: getattr(given, "name", ""),
)
def test_against_ngspice(ngspice, guitar, settings):
    same_as_ngspice(guitar, **settings)
