"""Basses: two volumes, and the three wirings of a blend pot.

What each place selects is common practice, no source; what the wirings of the blend do is
derived from their joints, in closed form at 0 Hz.
"""

from __future__ import annotations

import numpy as np
import pytest
from layout_checks import BRIDGE, NECK, same_as_ngspice, swapped, truth

import guitarnet as gn
from guitarnet import layouts
from guitarnet.parts.blend import BlendPot

F = np.geomspace(50, 15e3, 40)
R_NECK, R_BRIDGE, TRACK, VOLUME, AMP = 6.0, 6.8, 250.0, 250.0, 1000.0  # kilohm
BOTH = "+neck +bridge", "in parallel"
KNOBS = {"blend", "volume", "tone"}


def two_volumes(**given):
    return layouts.bass_two_volumes(NECK, BRIDGE, **given)


def blended(blending, **given):
    return layouts.bass_blend(NECK, BRIDGE, blending=blending, **given)


def parallel(*ohms):
    return 1 / sum(1 / r for r in ohms)


# -- two volumes ----------------------------------------------------------------------------------


def test_two_volumes_truth_table():
    """Both at once; a volume at 0 leaves the other pickup and its controls alone."""
    own = {"neck_volume", "bridge_volume", "tone"}
    assert truth(two_volumes()) == {(): (*BOTH, own)}
    assert truth(two_volumes(), neck_volume=0) == {(): ("+bridge", "alone", own)}
    assert truth(two_volumes(), bridge_volume=0) == {(): ("+neck", "alone", own)}


def test_a_volume_at_0_loads_the_other_with_one_track_more():
    """Closed form at 0 Hz: both tracks and the amp on the bridge."""
    load = parallel(VOLUME, VOLUME, AMP)
    h = gn.response(two_volumes(), frequency=[0.0], neck_volume=0)
    assert h.values[0].real == pytest.approx(load / (load + R_BRIDGE), rel=1e-12)


def test_the_tone_works_on_both():
    """As two humbuckers' independent volumes do, were it not for the one tone behind both."""
    pair = layouts.two_humbuckers(
        NECK, BRIDGE, wiring="independent 50s", volume="250k", tone="500k", tone_capacitor="23.5n"
    )
    # Two equal tone networks in parallel are one of half the resistance, twice the capacitance.
    np.testing.assert_allclose(
        gn.response(two_volumes(), frequency=F, neck_volume=6, tone=4).values,
        gn.response(
            pair, frequency=F, switch="neck+bridge", neck_volume=6, neck_tone=4, bridge_tone=4
        ).values,
        rtol=1e-10,
    )


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("neck_volume.wiper", "neck_volume.high"),
        ("bridge_volume.high", "bridge_volume.low"),
        ("neck.hot", "neck.ground"),
        ("tone.wiper", "tone.high"),
    ],
)
def test_wrong_volumes_are_seen(one, other):
    def all_of(guitar):
        return truth(guitar), truth(guitar, neck_volume=0), truth(guitar, bridge_volume=0)

    assert all_of(swapped(two_volumes(), one, other)) != all_of(two_volumes())


# -- the blend pot --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mark", "first", "second"),
    [(0, 1, 0), (2.5, 1, 0.5), (5, 1, 1), (7.5, 0.5, 1), (10, 0, 1)],
)
def test_both_tracks_are_full_at_the_centre(mark, first, second):
    """MN (common practice, no source): one track falls to either side, the other stays full."""
    net = gn.Harness(
        {"blend": BlendPot("100k"), "jack": gn.Jack()},
        [("blend.first_high", "jack.tip"), ("blend.first_low", "jack.sleeve")],
        [f"blend.{lug}" for lug in ("first_wiper", "second_high", "second_wiper", "second_low")],
    ).netlist(blend=mark)
    for track, share in (("first", first), ("second", second)):
        assert net.branches[f"blend.{track}_lower"].value == pytest.approx(100e3 * share)
        assert net.branches[f"blend.{track}_upper"].value == pytest.approx(100e3 * (1 - share))


def test_a_blend_is_swept_and_stands_at_the_centre():
    """A knob like any other, but for where it stands when it is not set."""
    guitar = blended("independent")
    h = gn.response(guitar, frequency=F, blend=[0, 5, 10])
    np.testing.assert_allclose(h.sel(blend=5), gn.response(guitar, frequency=F), rtol=1e-13)


def test_the_taper_of_a_blend_bends_the_falling_half():
    """Half of the falling half of an audio taper of 15 % leaves 15 % of the track."""
    guitar = blended("rheostat", blend=BlendPot("250k", "audio 15%"))
    assert guitar.netlist(blend=2.5).branches["blend.second_lower"].value == pytest.approx(37.5e3)
    assert guitar.netlist(blend=7.5).branches["blend.first_lower"].value == pytest.approx(37.5e3)
    assert guitar.netlist(blend=7.5).branches["blend.second_lower"].value == 250e3


# -- three wirings --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("blending", "at_0", "at_10"),
    [
        ("normal", ("", "silent", {"blend"}), ("", "silent", {"blend"})),
        ("independent", ("+neck", "alone", KNOBS), ("+bridge", "alone", KNOBS)),
        ("rheostat", (*BOTH, KNOBS), (*BOTH, KNOBS)),
    ],
)
def test_blend_truth_table(blending, at_0, at_10):
    """Both at the centre and between; what the ends do is the wirings' difference."""
    both = *BOTH, KNOBS
    assert truth(blended(blending), blend=[0, 2, 5, 8, 10]) == dict(
        zip((0, 2, 5, 8, 10), (at_0, both, both, both, at_10), strict=True)
    )


@pytest.mark.parametrize(
    ("blending", "tracks"),
    [("normal", [TRACK, TRACK]), ("independent", [TRACK, TRACK]), ("rheostat", [])],
)
def test_the_load_of_a_blend_at_the_centre(blending, tracks):
    """Half a track across the output, or nothing at all."""
    ohms = float(gn.jack_resistance(blended(blending))) / 1e3
    assert ohms == pytest.approx(parallel(R_NECK, R_BRIDGE, VOLUME, *tracks), rel=1e-12)


def test_the_ends_of_an_independent_blend():
    """The pickup that is left out is shorted; half a track still lies across the output."""
    guitar = blended("independent")
    for mark, r in ((0, R_NECK), (10, R_BRIDGE)):
        load = parallel(TRACK, TRACK, VOLUME, AMP)
        h = gn.response(guitar, frequency=[0.0], blend=mark).values[0].real
        assert h == pytest.approx(load / (load + r), rel=1e-12)


def test_the_ends_of_a_rheostat_blend():
    """The pickup that is left out sounds through a whole track, about 32 dB down."""
    h = gn.response(blended("rheostat"), frequency=[0.0], blend=0, pickups="each").values[:, 0].real
    through, load = R_BRIDGE + TRACK, parallel(VOLUME, AMP)
    conductance = 1 / R_NECK + 1 / through + 1 / load
    assert h == pytest.approx([1 / R_NECK / conductance, 1 / through / conductance], rel=1e-12)
    assert 20 * np.log10(h[1] / h[0]) == pytest.approx(-32.6, abs=0.05)


def test_a_normal_blend_is_silent_at_its_ends():
    """Exactly 0, not small."""
    assert not gn.response(blended("normal"), frequency=F, blend=[0, 10]).values.any()


@pytest.mark.parametrize("blending", layouts.BLENDINGS)
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("blend.first_high", "blend.first_wiper"),
        ("neck.hot", "bridge.hot"),
        ("bridge.hot", "bridge.ground"),
    ],
)
def test_a_wrong_blend_is_seen(blending, one, other):
    guitar = blended(blending)
    wrong = swapped(guitar, one, other)
    marks = [0.0, 2.0, 5.0, 10.0]
    right = gn.response(guitar, frequency=[0.0], blend=marks, pickups="each").values
    changed = np.abs(
        gn.response(wrong, frequency=[0.0], blend=marks, pickups="each").values - right
    ).max()
    # A rheostat works either way round.
    turned_rheostat = blending == "rheostat" and one == "blend.first_high"
    assert bool(changed > 1e-3) is not turned_rheostat


def test_a_formula_of_a_blended_bass():
    """The taper of a blend is numbers only; the rest of the formula stays exact."""
    guitar = layouts.bass_blend(NECK, BRIDGE, blending="rheostat")
    formula = gn.formulas.transfer_function(guitar, blend=2.5, tone=5)
    s = 2j * np.pi * 1000.0
    (symbol,) = formula.free_symbols
    number = complex(formula.subs(symbol, s).evalf())
    assert number == pytest.approx(
        complex(gn.response(guitar, frequency=[1000.0], blend=2.5, tone=5).values[0]), rel=1e-9
    )


@pytest.mark.parametrize(
    ("guitar", "settings"),
    [
        (two_volumes(treble_bleed="150k || 1n"), {"neck_volume": 7, "bridge_volume": 4, "tone": 3}),
        *(
            (blended(how, treble_bleed="1n"), {"blend": mark, "volume": 7, "tone": 4})
            for how in layouts.BLENDINGS
            for mark in (2, 5, 8.5)
        ),
        (blended("independent"), {"blend": 0}),
        (blended("rheostat"), {"blend": 10}),
    ],
    ids=lambda given: str(getattr(given, "name", given)),
)
def test_against_ngspice(ngspice, guitar, settings):
    same_as_ngspice(guitar, **settings)
