"""Tolerances: usual ones, seeded draws, limits and corners."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet import Pickup, Pot, layouts
from guitarnet.errors import GuitarnetError
from guitarnet.study.spread.tolerance import corners, limits, spread, spread_tapers, tolerances_of

COIL = Pickup("6.2k", "2.4 H", "120p")
GUITAR = layouts.one_pickup(COIL, treble_bleed="150k || 1n")
FIVE = layouts.three_single_coils(COIL, COIL, COIL)
PICKUP, VOLUME, BLEED = (
    "pickup.resistance",
    "volume.resistance",
    "treble_bleed.resistor.resistance",
)


# -- what is usual -------------------------------------------------------------------------------


def test_usual_tolerances():
    """Pots 20 % (panel potentiometer datasheets); the rest is common practice, no source."""
    assert tolerances_of(GUITAR) == {
        "pickup.resistance": 0.05,
        "pickup.inductance": 0.1,
        "pickup.capacitance": 0.1,
        "volume.resistance": 0.2,
        "tone.resistance": 0.2,
        "tone_capacitor.capacitance": 0.1,
        "treble_bleed.capacitor.capacitance": 0.1,
        "treble_bleed.resistor.resistance": 0.05,
        "cable.capacitance_per_metre": 0.1,
        "amp.resistance": 0.1,
    }


def test_a_stated_tolerance_replaces_the_usual_one():
    """It speaks for a part's main value: a coil's resistance, not its inductance."""
    sorted_parts = layouts.one_pickup(
        Pickup("6.2k", "2.4 H", "120p", tolerance="2%"),
        volume=Pot("250k", "linear", tolerance=0),
        tone_capacitor=gn.Capacitor("22n", tolerance="5%"),
        cable=gn.Cable("3 m", capacitance_per_metre=0),
    )
    found = tolerances_of(sorted_parts)
    assert found["pickup.resistance"] == 0.02
    assert found["pickup.inductance"] == 0.1
    assert found["volume.resistance"] == 0
    assert found["tone_capacitor.capacitance"] == 0.05
    assert "cable.capacitance_per_metre" not in found, "nothing to be off from"


def test_values_of_no_usual_tolerance_are_drawn_where_one_is_stated():
    """No maker states one of eddy losses: what the docstring says."""
    lossy = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p", "300k", 0.3, "6 kHz"))
    assert not [path for path in tolerances_of(lossy) if "eddy" in path or "screening" in path]
    drawn = spread(lossy, 50, tolerances={"pickup.eddy_resistance": "20%"})
    assert 240e3 <= drawn["pickup.eddy_resistance"].min() < drawn["pickup.eddy_resistance"].max()
    assert "eddy resistance" in " ".join(tolerances_of.__doc__.split())


def test_coils_inside_a_humbucker():
    coil = gn.Coil("4k", "2 H", "150p")
    stated = gn.Coil("4k", "2 H", "150p", tolerance="3%")
    found = tolerances_of(layouts.pickup_alone(gn.Humbucker(coil, stated)))
    assert found["pickup.coil_1.resistance"] == 0.05
    assert found["pickup.coil_2.resistance"] == 0.03
    assert found["pickup.coil_2.capacitance"] == 0.1
    assert len(found) == 6


# -- draws ---------------------------------------------------------------------------------------


def test_draws_fill_their_limits_evenly():
    """JCGM 100:2008, 4.3.7: mean in the middle, standard deviation half-width / sqrt(3)."""
    drawn = spread(GUITAR, 20_000, seed=5)[VOLUME]
    half = 0.2 * 250e3
    assert drawn.dims == ("sample",)
    assert abs(drawn - 250e3).max() <= half
    assert float(drawn.mean()) == pytest.approx(250e3, abs=4 * half / np.sqrt(3 * 20_000))
    assert float(drawn.std()) == pytest.approx(half / np.sqrt(3), rel=0.02)
    counts, _ = np.histogram(drawn, bins=10, range=(200e3, 300e3))
    chi_square = ((counts - 2000) ** 2 / 2000).sum()
    assert chi_square < 27.9  # 99.9 % of chi-square with 9 degrees of freedom: tables


def test_draws_are_seeded_and_independent():
    one, same, other = spread(GUITAR, 50, seed=1), spread(GUITAR, 50, seed=1), spread(GUITAR, 50)
    for path, values in one.items():
        np.testing.assert_array_equal(values, same[path])
        assert (values != other[path]).all()
    many = spread(GUITAR, 4000, seed=1)
    assert abs(np.corrcoef(many[PICKUP], many[VOLUME])[0, 1]) < 4 / np.sqrt(4000)


def test_a_value_is_drawn_alike_whatever_else_is_there():
    """So that a guitar and the same one with a fault have the same parts."""
    changed = GUITAR.replace("treble_bleed", None)
    np.testing.assert_array_equal(spread(GUITAR, 9)[VOLUME], spread(changed, 9)[VOLUME])
    np.testing.assert_array_equal(spread(GUITAR, 9)[VOLUME], spread(GUITAR, 30)[VOLUME][:9])


def test_one_batch():
    """Off by the same part of their tolerance, each from its own value."""
    pots = ["tone_1.resistance", "tone_2.resistance"]
    shares = {pots[0]: 0.2, pots[1]: 0.1, VOLUME: 0.2}
    drawn = spread(FIVE, 40, tolerances=shares, alike=[pots])
    off = [drawn[path] / 250e3 - 1 for path in pots]
    np.testing.assert_allclose(off[0], 2 * off[1], atol=1e-12)
    assert not np.allclose(drawn[VOLUME], drawn[pots[0]])


def test_draws_are_settings():
    """Pointwise along ``sample``, beside other sweeps: the pickup across the pot."""
    drawn = spread(FIVE, 30, seed=2)
    found = gn.jack_resistance(FIVE, switch=["neck", "bridge"], volume=10, **drawn)
    assert found.dims == ("switch", "sample")
    pot = drawn[VOLUME].values
    for place in ("neck", "bridge"):
        coil = drawn[f"{place}.resistance"].values
        np.testing.assert_allclose(found.sel(switch=place), coil * pot / (coil + pot))
    assert gn.response(FIVE, frequency=[100.0, 3000.0], **drawn).dims == ("sample", "frequency")


# -- limits and corners --------------------------------------------------------------------------


def test_corners_are_all_of_them():
    found = corners(GUITAR, tolerances={PICKUP: "5%", VOLUME: "20%", BLEED: "5%"})
    rows = {tuple(np.round(column, 6)) for column in np.transpose([found[path] for path in found])}
    assert rows == {
        (coil, pot, bleed)
        for coil in (5890.0, 6510.0)
        for pot in (200e3, 300e3)
        for bleed in (142.5e3, 157.5e3)
    }


def test_limits_bound_every_resistance(draws):
    """Rayleigh's monotonicity law, against all corners and draws of random guitars."""
    checked, count = 0, draws(16, 60)
    for drawn in random_guitars(11, count):
        guitar = drawn.guitar
        shares = {p: s for p, s in tolerances_of(guitar).items() if p.endswith(".resistance")}
        shares.pop("amp.resistance")
        for read in (
            partial(gn.jack_resistance, guitar),
            partial(gn.bench.lug_resistance, guitar, "volume.high", "volume.wiper"),
        ):
            read = partial(read, **drawn.marks)
            low, high = read(**limits(guitar, tolerances=shares)).values
            every = read(**corners(guitar, tolerances=shares)).values
            within = read(**spread(guitar, 40, tolerances=shares)).values
            if np.isinf(every).all():
                assert np.isinf([low, high, *within]).all()
                continue
            assert low == pytest.approx(every.min(), rel=1e-9)
            assert high == pytest.approx(every.max(), rel=1e-9)
            assert (within >= low * (1 - 1e-9)).all()
            assert (within <= high * (1 + 1e-9)).all()
            checked += 1
    assert checked > 1.5 * count


def test_limits_do_not_bound_a_response():
    """What the docstring warns of: near the peak, draws lie outside what both ends give."""
    f = [5500.0]
    ends = abs(gn.response(GUITAR, frequency=f, **limits(GUITAR)))
    draws = abs(gn.response(GUITAR, frequency=f, **spread(GUITAR, 300)))
    assert draws.max() > 1.2 * ends.max()
    assert draws.min() < 0.9 * ends.min()


# -- refusals ------------------------------------------------------------------------------------

MANY = {f"{part}.{field}": 0.1 for part in ("neck", "middle", "bridge") for field in
        ("resistance", "inductance", "capacitance")}  # fmt: skip
MANY |= dict.fromkeys((VOLUME, "tone_1.resistance", "tone_2.resistance", "amp.resistance"), 0.1)
MANY |= dict.fromkeys(
    ("tone_capacitor", "cable.capacitance_per_metre", "cable.length", "amp.capacitance"), 0.1
)
NO_HARNESS = "is not a harness; give a Harness, such as gn.layouts.one_pickup(...)."
HEAVY = FIVE.replace("amp.capacitance", "100p")


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: tolerances_of(
                layouts.one_pickup(COIL, volume=Pot("250k", "linear", "100%", unusual=True))
            ),
            "volume.resistance, tolerance: 100 % is too large; give a value from 0 % to 99 % "
            "(nothing is left at 100 % less).",
        ),
        (
            lambda: Pot("250k", "linear", tolerance="120%"),
            "Pot.tolerance: '120%' is too large; give a value from 0 % to 100 % ('20%' or 0.2).",
        ),
        (
            lambda: spread(GUITAR, 5, tolerances={VOLUME: "120%"}),
            "volume.resistance, tolerance: '120%' is too large; give a value from 0 % to 99 % "
            "(nothing is left at 100 % less).",
        ),
        (
            lambda: spread(GUITAR, 5, tolerances={"volume": "20%"}),
            "volume: is set by hand and has no tolerance; give volume.resistance.",
        ),
        (
            lambda: spread(GUITAR, 5, tolerances={"volume.resistence": "20%"}),
            "volume.resistence: a Pot has no 'resistence'; did you mean 'resistance'?",
        ),
        (
            lambda: spread(GUITAR, 5, tolerances={"amp.capacitance": "20%"}),
            "amp.capacitance: has no value to be off from; leave it out.",
        ),
        (
            lambda: spread(GUITAR, 5, tolerances={VOLUME: 0.2}, alike=[(VOLUME, PICKUP)]),
            "pickup.resistance: stands in alike and has no tolerance; leave it out.",
        ),
        (
            lambda: spread(GUITAR, 2.5),
            "spread.count: 2.5 is no whole number; give one, as 500.",
        ),
        (lambda: spread(GUITAR, 0), "spread.count: 0 is too small; give a value from 1 to 1e+08."),
        (
            lambda: corners(HEAVY, tolerances=MANY),
            "tolerances: 17 values have 2^17 corners; give the ones that matter, at most 16, or "
            "use spread.",
        ),
        (lambda: tolerances_of(None), f"guitar: a NoneType {NO_HARNESS}"),
        (lambda: spread(None, 3), f"guitar: a NoneType {NO_HARNESS}"),
        (lambda: spread(3, 3, tolerances={}), f"guitar: an int {NO_HARNESS}"),
        (lambda: spread_tapers("x", {"volume": 5}, 3), f"guitar: a str {NO_HARNESS}"),
        (
            lambda: limits(GUITAR, tolerances=["cable"]),
            "tolerances: a list is no mapping; give paths and shares, as "
            "{'volume.resistance': '20%'}.",
        ),
        (
            lambda: spread(GUITAR, 3, tolerances={"volume.taper": "5%"}),
            "volume.taper: is a choice and no number; name a number, as volume.resistance.",
        ),
        (
            lambda: spread(FIVE, 3, tolerances={"switch": "5%"}),
            "switch: is a choice and no number; leave it out.",
        ),
        (
            lambda: spread(GUITAR, 3, alike=3),
            "alike: an int is no list; give groups of names, as [('tone_1', 'tone_2')].",
        ),
        (
            lambda: spread(GUITAR, 3, alike=[VOLUME]),
            "alike: a str is no list; give groups of names, as [('tone_1', 'tone_2')].",
        ),
        (
            lambda: spread_tapers(GUITAR, ["volume"], 3),
            "marks: a list is no mapping; give {'volume': [10, 5]}.",
        ),
        (
            lambda: spread_tapers(GUITAR, {"volume.resistance": [1]}, 3),
            "volume.resistance: is a value and no pot; give 'volume'.",
        ),
    ],
)
def test_refused(call, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        call()
    assert str(refusal.value) == message


@pytest.mark.parametrize("seed", [-1, 1.5, "a", None, True])
@pytest.mark.parametrize(
    "draw",
    [
        lambda seed: spread(GUITAR, 3, seed=seed),
        lambda seed: spread_tapers(GUITAR, {"volume": 5}, 3, seed=seed),
        lambda seed: gn.strings.pluck(duration=0.1, seed=seed),
        lambda seed: gn.tolerances.sobol_shares(GUITAR, lambda **s: s[VOLUME], seed=seed),
    ],
)
def test_one_sentence_for_every_seed(draw, seed):
    with pytest.raises(GuitarnetError) as refusal:
        draw(seed)
    assert str(refusal.value) == f"seed: {seed!r} is no whole number from 0; give one, as 1."


def test_any_whole_number_is_a_seed():
    one, other = (spread(GUITAR, 5, seed=seed)[VOLUME] for seed in (7, np.int64(7)))
    np.testing.assert_array_equal(one, other)
    assert (spread(GUITAR, 5, seed=2**70)[VOLUME] != one).any()
