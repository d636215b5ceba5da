"""A guitar seen from a place: any network by one weighted mean, against the solver in full."""

from __future__ import annotations

import numpy as np
import pytest
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet.study.choose.networks import FORMS, combinations, count_parts
from guitarnet.study.choose.port import admittance, bleed_place, knob_across, port
from guitarnet.study.choose.wiring import other_wiring, tones_across, why_no_other

F = gn.sweeps.frequency_grid(20, 20e3, per_decade=12)
PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
COIL = gn.Coil("4.2k", "2.1 H", "180p", eddy_resistance="300k", eddy_share=0.3)
HUMBUCKER = gn.Humbucker(COIL, COIL)


def random_bleed(generator):
    """Any of the forms, with values over four decades."""
    form = list(FORMS.values())[generator.integers(len(FORMS))]
    decades = {"F": (-12, -7), "ohm": (2, 7)}
    return form.made(10 ** generator.uniform(*decades[unit]) for unit in form.units)


def test_every_bleed_by_one_mean(draws):
    """Generated guitars, all wirings, ends of the travel included, each with a random bleed."""
    generator = np.random.default_rng(7)
    worst = 0.0
    for travel in ("middle", "ends"):
        for drawn in random_guitars(5, draws(12, 30), travel=travel):
            part = random_bleed(generator)
            guitar = drawn.guitar.replace("treble_bleed", None)
            seen = port(guitar, "treble_bleed", F, drawn.marks, at=drawn.at)
            found = seen.response(admittance(part, F))
            full = drawn.guitar.replace("treble_bleed", part)
            expected = gn.response(full, frequency=F, at=drawn.at, **drawn.marks)
            size = max(float(abs(expected).max()), 1e-12)
            worst = max(worst, float(abs(found - expected).max()) / size)
    assert worst < 1e-9


@pytest.mark.parametrize(
    ("guitar", "place", "settings"),
    [
        (gn.layouts.one_pickup(PICKUP), "tone_capacitor", {"tone": [10, 5, 0]}),
        (gn.layouts.bass_cut(PICKUP), "bass_capacitor", {"volume": [10, 5], "bass": [10, 4, 0]}),
        (gn.layouts.two_humbuckers(HUMBUCKER, HUMBUCKER), "neck_bleed", {"neck_volume": [10, 4]}),
        (gn.layouts.three_single_coils(PICKUP, PICKUP, PICKUP), "treble_bleed", {"volume": [9, 3]}),
    ],
    ids=["tone capacitor", "bass cut", "two volumes", "three pickups"],
)
def test_any_place_of_any_layout(guitar, place, settings):
    """Swept knobs and a cable; filled places are taken out first."""
    settings = {**settings, "cable.length": ["1 m", "6 m"]}
    part = gn.bleed("22k + (1.5n || 330k)")
    found = port(guitar, place, F, settings).response(admittance(part, F))
    expected = gn.response(guitar.replace(place, part), frequency=F, **settings)
    assert found.dims == expected.dims
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-12)


def test_a_wire_and_nothing():
    """The two ends of the mean, and a place that is shorted by the pot."""
    guitar = gn.layouts.one_pickup(PICKUP)
    seen = port(guitar, "treble_bleed", F, {"volume": [10, 5, 0]})
    nothing, wire = admittance(None, F), admittance(gn.Resistor(0), F)
    assert not nothing.any()
    assert np.isinf(wire).all()
    np.testing.assert_allclose(
        seen.response(nothing), gn.response(guitar, frequency=F, volume=[10, 5, 0]), rtol=1e-12
    )
    wired = guitar.replace("treble_bleed", gn.Resistor(0))
    expected = gn.response(wired, frequency=F, volume=[10, 5, 0])
    np.testing.assert_allclose(seen.response(wire), expected, rtol=1e-12, atol=1e-15)


def test_a_place_that_alone_ties_a_part():
    """No current flows through a single tie; the response is that with a wire."""
    bare = gn.layouts.pickup_alone(PICKUP)
    loose = bare.lift("pickup.ground").add("tie", None)
    joined = (*loose.joined, ("tie.a", "jack.sleeve"))
    opened = tuple(lug for lug in loose.open_lugs if lug not in ("pickup.ground", "jack.sleeve"))
    loose = gn.Harness(loose.parts, (*joined, ("tie.b", "pickup.ground")), opened)
    part = gn.Resistor("1k")
    found = port(loose, "tie", F, {}).response(admittance(part, F))
    np.testing.assert_allclose(
        found, gn.response(loose.replace("tie", part), frequency=F), rtol=1e-12
    )


@pytest.mark.parametrize("form", FORMS.values(), ids=lambda form: form.name)
def test_admittances_are_those_of_the_parts(form):
    """Each formula against the solver on the part that it stands for."""
    generator = np.random.default_rng(1)
    exponents = {"F": (-11, -8), "ohm": (3, 7)}
    values = np.array(
        [[10 ** generator.uniform(*exponents[u]) for u in form.units] for _ in range(9)]
    )
    for own, y in zip(values, form.admittance(F, values), strict=True):
        np.testing.assert_allclose(y, admittance(form.made(own), F), rtol=1e-12)


def test_squares_are_those_of_the_response():
    """The quadratic forms that the search uses, at random admittances."""
    guitar = gn.layouts.one_pickup(PICKUP, wiring="50s")
    seen = port(guitar, "treble_bleed", F, {"volume": [9, 5, 2]})
    above, below = seen.squares(("volume", "frequency"))
    y = FORMS["parallel"].admittance(F, [[1e-9, 150e3]])[0]
    features = np.stack([np.ones(F.size), y.real, y.imag, abs(y) ** 2], axis=-1)
    found = (above * features).sum(-1) / (below * features).sum(-1)
    np.testing.assert_allclose(found, abs(seen.response(y)) ** 2, rtol=1e-11)


@pytest.mark.parametrize("wiring", gn.layouts.WIRINGS)
def test_the_other_wiring_is_the_one_laid_out(wiring):
    """Moving the tone control makes of each wiring the layout of the other."""
    swap = {
        "modern": "50s",
        "50s": "modern",
        "independent": "independent 50s",
        "independent 50s": "independent",
    }
    guitar = gn.layouts.one_pickup(PICKUP, wiring=wiring)
    label, moved = other_wiring(guitar, "treble_bleed")
    assert label == f"{swap[wiring]} wiring"
    expected = gn.layouts.one_pickup(PICKUP, wiring=swap[wiring])
    marks = {"volume": [10, 6, 2], "tone": [10, 3]}
    np.testing.assert_allclose(
        gn.response(moved, frequency=F, **marks),
        gn.response(expected, frequency=F, **marks),
        rtol=1e-12,
    )


def test_the_other_wiring_of_two_humbuckers():
    """Behind a switch; only the tone of that volume moves."""
    guitar = gn.layouts.two_humbuckers(HUMBUCKER, HUMBUCKER)
    label, moved = other_wiring(guitar, "bridge_bleed")
    assert moved.node("bridge_tone.wiper") == moved.node("bridge_volume.wiper")
    assert moved.node("neck_tone.wiper") == moved.node("neck_volume.high")
    assert label in ("50s wiring", "modern wiring")


def test_no_other_wiring_with_tone_controls_on_both_sides():
    """Which of them would be moved cannot be told."""
    guitar = gn.layouts.one_pickup(PICKUP)
    both = guitar.add("tone_2", guitar.parts["tone"]).add("capacitor_2", gn.Capacitor("22n"))
    both = both.join("tone_2.wiper", "jack.tip").join("tone_2.low", "capacitor_2.a")
    both = both.join("capacitor_2.b", "jack.sleeve").leave_open("tone_2.high")
    assert tones_across(both, "treble_bleed") == ["tone", "tone_2"]
    assert other_wiring(both, "treble_bleed") is None
    why = "there is a tone control on either side of the pot"
    assert why_no_other(both, "treble_bleed") == why


def test_no_other_wiring_with_a_shared_tone_control():
    """Two volumes whose outputs meet at one tone control."""
    bass = gn.layouts.bass_two_volumes(PICKUP, PICKUP)
    for place in ("neck_bleed", "bridge_bleed"):
        assert tones_across(bass, place) == ["tone"]
        assert other_wiring(bass, place) is None
        assert why_no_other(bass, place) == "the tone control does not belong to this pot alone"


def test_no_other_wiring_without_a_tone_control():
    assert other_wiring(gn.layouts.one_pickup(PICKUP, tone=None), "treble_bleed") is None


def test_where_a_bleed_goes():
    guitar = gn.layouts.one_pickup(PICKUP, wiring="independent")
    assert bleed_place(guitar) == "treble_bleed"
    assert knob_across(guitar, "treble_bleed") == "volume"
    assert knob_across(guitar, "tone_capacitor") is None


def test_counting():
    assert count_parts(gn.bleed("22k + (1.5n || 330k)")) == (1, 2)
    assert count_parts(None) == (0, 0)
    assert combinations([np.array([1.0, 2.0]), np.array([3.0])]).tolist() == [[1, 3], [2, 3]]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: bleed_place(gn.layouts.two_humbuckers(HUMBUCKER, HUMBUCKER)),
            "two humbuckers: has 2 places for a treble bleed; give place='neck_bleed', or another "
            "of neck_bleed, bridge_bleed.",
        ),
        (
            lambda: bleed_place(gn.layouts.pickup_alone(PICKUP)),
            "pickup alone: has no place across a volume pot; add an empty one, as "
            "guitar.add('treble_bleed', None), and join its lugs a and b.",
        ),
        (
            lambda: port(gn.layouts.one_pickup(PICKUP), "volume", F, {}),
            "volume: a Pot is no place for a two-lug network; name a capacitor, a resistor, a "
            "network or an empty place.",
        ),
        (
            lambda: port(
                gn.layouts.one_pickup(PICKUP), "tone_capacitor", F, {"tone_capacitor": [1e-9]}
            ),
            "tone_capacitor: is the place of the candidates; leave the setting out.",
        ),
        (
            lambda: admittance(gn.Jack(), F),
            "network: Jack() is no two-lug part; give text as '150k || 1n', or such a part.",
        ),
    ],
)
def test_bad_input(call, message):
    with pytest.raises(gn.GuitarnetError) as caught:
        call()
    assert str(caught.value) == message
