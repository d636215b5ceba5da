"""Pickups of coils: series, parallel, split, tapped; coupling; hum; against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from oracle import impedance as slow_impedance, single_settings, voltage as slow_voltage

import guitarnet as gn
from guitarnet import Coil, Humbucker, Pickup
from guitarnet.solve.spice import run_ngspice

F = np.geomspace(50, 15e3, 40)
S = 2j * np.pi * F
COIL = Coil("4k", "3 H", "200p")


def alone(pickup):
    """A pickup on a jack, unloaded."""
    return gn.layouts.pickup_alone(pickup)


# -- published and closed forms -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("connection", "same"),
    [("series", Pickup("8k", "6 H", "100p")), ("parallel", Pickup("2k", "1.5 H", "400p"))],
)
def test_two_equal_coils_without_coupling(connection, same):
    """3 H, 4k, 200 pF twice: 6 H, 8k, 100 pF in series; 1.5 H, 2k, 400 pF in parallel, exactly.

    Source: Slightly Technical Academy, "Pickup coils in parallel, why not" (series); the parallel
    row is derived.
    """
    pair = alone(Humbucker(COIL, COIL, coupling=0, connection=connection))
    np.testing.assert_allclose(
        gn.impedance(pair, frequency=F).values,
        gn.impedance(alone(same), frequency=F).values,
        rtol=1e-12,
    )
    volts = {"series": 2, "parallel": 1}[connection]
    np.testing.assert_allclose(
        gn.response(pair, frequency=F).values,
        volts * gn.response(alone(same), frequency=F).values,
        rtol=1e-12,
    )


def test_measured_coils_add_in_series():
    """1.7 H and 3.5 H read 5.2 H in series, within 1 %; the larger is 3 dB louder by its turns.

    Source: a bench test in tdpri forum thread 794235: 5.2 H, and 3.4 dB louder; the rule that
    signal goes with turns, and so with the root of L, gives 3.14 dB, within 0.5 dB of it.
    """
    small, large = Coil("3k", "1.7 H", 0), Coil("6k", "3.5 H", 0)
    pair = alone(Humbucker(small, large, coupling=0))
    each = gn.level_db(gn.response(pair, frequency=[100.0], pickups="each coil")).isel(frequency=0)
    louder = float(each[1] - each[0])
    assert louder == pytest.approx(10 * np.log10(3.5 / 1.7), abs=1e-9)
    assert louder == pytest.approx(3.4, abs=0.5)
    apparent = gn.impedance(pair, frequency=[120.0]).values.imag / (2 * np.pi * 120)
    assert apparent[0] == pytest.approx(5.2, rel=0.01)


@pytest.mark.usefixtures("unusual")
@pytest.mark.parametrize("k", [0.0, 0.07, 0.12, 0.23])
def test_coupling_adds_to_the_series_inductance(k):
    """L1 + L2 + 2M in series; (L1 L2 - M^2)/(L1 + L2 - 2M) in parallel. Textbook."""
    one, two = Coil("1 ohm", "2 H", 0), Coil("1 ohm", "3 H", 0)
    m = k * np.sqrt(6)
    expected = {"series": 5 + 2 * m, "parallel": (6 - m**2) / (5 - 2 * m)}
    for connection, henries in expected.items():
        pair = Humbucker(one, two, coupling=k, connection=connection)
        z = gn.impedance(alone(pair), frequency=[1e4]).values[0]
        assert z.imag / (2 * np.pi * 1e4) == pytest.approx(henries, rel=1e-6)


@pytest.mark.usefixtures("unusual")
@pytest.mark.parametrize("k", [0.0, 0.12])
def test_parallel_resonates_twice_as_high_as_series(k):
    """With the same external capacitor, whatever the coupling of equal coils.

    Source: H. Lemme, "Pickup-Geheimnisse: Beschaltung", gitarrenelektronik.de (L/4, f0 x 2);
    measured ratios 2.00 and 2.05: derived from the open measurements in tests/reference.
    """
    coil = Coil("100 ohm", "3 H", 0)
    frequencies = {}
    for connection in ("series", "parallel"):
        pickup = Humbucker(coil, coil, coupling=k, connection=connection)
        guitar = gn.layouts.one_pickup(
            pickup, volume="500M", tone=None, cable=gn.Cable("10 m", "1000 pF/m"), amp="900M"
        )
        h = gn.response(guitar, frequency=gn.sweeps.frequency_grid(200, 5000, per_decade=2000))
        frequencies[connection] = float(gn.peak(h).frequency)
    assert frequencies["parallel"] / frequencies["series"] == pytest.approx(2, rel=1e-3)


@pytest.mark.usefixtures("unusual")
def test_a_two_coil_pickup_with_and_without_losses(agreement):
    """16.56k, 8.059 H, 128 pF: 4.78 kHz unloaded, 1.96 kHz at 200k and 470 pF, within 7 %.

    Source: a forum bench measurement, quoted in a write-up (second hand). As two equal coils in
    series, with half of each value, it is the same as one coil, and lossless it lies above both.
    """
    half = Coil("8.28k", 8.059 / 2 / (1 + 0.12), "256p")
    pair = Humbucker(half, half)
    grid = gn.sweeps.frequency_grid(500, 12e3, per_decade=1000)
    for load, measured in ((None, 4780), ("200k", 1960)):
        guitar = alone(pair)
        if load:
            guitar = gn.layouts.one_pickup(
                pair, volume="100M", tone=None, cable=gn.Cable("4.7 m"), amp=load
            )
        found = float(gn.peak(gn.response(guitar, frequency=grid)).frequency)
        assert measured < found < 1.07 * measured
        agreement(
            "a bench measurement, second hand",
            "peak of a two-coil pickup, unloaded and loaded",
            [found],
            [measured],
            limit="no eddy loss in the model",
        )


@pytest.mark.usefixtures("unusual")
@pytest.mark.parametrize(("connection", "henries"), [("coil 1", 2.0), ("coil 2", 3.0)])
def test_a_split_leaves_one_coil(connection, henries):
    """At low frequency the open coil does nothing; a shunted one lowers L by 1 - k^2. Textbook."""
    one, two = Coil("4k", "2 H", 0), Coil("5k", "3 H", 0)
    made = Humbucker(one, two, coupling=0.2, connection=connection)
    z = gn.impedance(alone(made), frequency=[100.0]).values[0]
    assert z.imag / (200 * np.pi) == pytest.approx(henries, rel=1e-9)
    lossless = Humbucker(
        Coil("1m", "2 H", 0), Coil("1m", "3 H", 0), 0.2, f"{connection}, other shunted"
    )
    z = gn.impedance(alone(lossless), frequency=[1000.0]).values[0]
    assert z.imag / (2000 * np.pi) == pytest.approx(henries * (1 - 0.04), rel=1e-9)
    assert gn.jack_resistance(alone(made)) == pytest.approx(4e3 if "1" in connection else 5e3)


def test_a_tap_takes_part_of_the_turns():
    """The sections in series are the whole coil; the tap has x R, and about x^2 L of it."""
    whole = Pickup("10k", "4 H", "100p")
    tap = gn.tapped(whole, 0.6)
    series = tap.replace("connection", "series")
    low = np.array([50.0, 200.0])
    np.testing.assert_allclose(
        gn.impedance(alone(series), frequency=low).values,
        gn.impedance(alone(whole), frequency=low).values,
        rtol=1e-4,
    )
    assert float(gn.jack_resistance(alone(tap))) == pytest.approx(6e3)
    bare = alone(gn.tapped(Pickup("10k", "4 H", 0), 0.6))  # no capacitance to hide part of L
    z = gn.impedance(bare, frequency=[100.0]).values[0]
    assert z.imag / (200 * np.pi) == pytest.approx(0.36 * 4 / (1 - 0.48 * 0.05), rel=1e-9)


# -- signs ----------------------------------------------------------------------------------------


def test_a_tap_gives_its_share_of_the_signal():
    """Signal goes with turns: x of a tap, and the sections together as much as the whole."""
    for share in (0.1, 0.6):
        tap = gn.tapped(Pickup("10k", "4 H", "100p"), share)
        assert abs(gn.response(alone(tap), frequency=[1.0]).values[0]) == pytest.approx(
            share, rel=1e-6
        )
        both = alone(tap.replace("connection", "series"))
        assert abs(gn.response(both, frequency=[1.0]).values[0]) == pytest.approx(1, rel=1e-6)


def test_string_and_hum_have_signs_of_their_own():
    """RWRP adds the string and cancels hum; reversing the winding alone does the opposite."""
    humbucker = alone(Humbucker(COIL, COIL))
    assert abs(gn.response(humbucker, frequency=[1.0]).values[0]) == pytest.approx(2, rel=1e-6)
    assert abs(gn.response(humbucker, frequency=[1.0], source="hum").values[0]) < 1e-12
    reversed_ = alone(Humbucker(COIL, Coil("4k", "3 H", "200p", winding=-1)))
    assert abs(gn.response(reversed_, frequency=[1.0]).values[0]) < 1e-12
    assert gn.response(alone(Coil("4k", "3 H", 0, magnet=-1)), frequency=[1.0]).values[0].real < 0


def test_hum_of_unequal_coils():
    """Two coils of which one is loaded by nothing else: 20 log10 of |1 - a| against a closed form.

    In parallel the coils divide: w1 Z2 - w2 Z1 over Z1 + Z2, with volts w by turns.
    """
    one, two = Coil("4k", "2 H", 0), Coil("6k", "3 H", 0)
    guitar = alone(Humbucker(one, two, coupling=0, connection="parallel"))
    found = gn.audio.hum(guitar, frequency=[50.0])
    z1, z2 = 4e3 + 100j * np.pi * 2, 6e3 + 100j * np.pi * 3
    w1, w2 = np.sqrt(2), np.sqrt(3)
    left = abs(w1 * z2 - w2 * z1) / max(abs(w1 * z2), abs(w2 * z1))
    assert float(found.residual[0]) == pytest.approx(20 * np.log10(left), abs=1e-9)
    assert not bool(found.cancelling)
    equal = gn.audio.hum(alone(Humbucker(one, one, connection="parallel")), frequency=[50.0])
    assert float(equal.residual[0]) == -np.inf
    assert bool(equal.cancelling)
    assert float(gn.audio.hum(alone(one)).residual[0]) == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(("turns", "left"), [(2, -6.0206), (1.1, -20.8279)])
def test_hum_of_coils_of_unequal_turns_in_series(turns, left):
    """1 turn against n: |1 - n|/n is left, and only under a tenth counts as cancelling."""
    one, two = Coil("4k", 2.0, 0), Coil("8k", 2.0 * turns**2, 0)
    found = gn.audio.hum(alone(Humbucker(one, two, coupling=0)), frequency=[50.0])
    assert float(found.residual[0]) == pytest.approx(left, abs=1e-3)
    assert bool(found.cancelling) == (left < -20)


NEITHER = {"winding": -1, "magnet": -1}


def pair(neck, bridge):
    """Two pickups, of which the second is reversed, in parallel and in series; no loads."""
    return gn.layouts.two_single_coils_four_way(
        Pickup(*neck[:3], **neck[3]),
        Pickup(*bridge[:3], **bridge[3], **NEITHER),
        volume="4.9M",
        tone="4.9M",
        tone_capacitor="1n",
        amp="10M",
    )


@pytest.mark.parametrize(
    ("neck", "bridge", "turns", "better"),
    [  # one wire, then equal turns and unlike wire; given, by ohms, by inductance
        (("6k", "2.3 H", 0, {"turns": 6000}), ("6.8k", "2.8 H", 0, {"turns": 6800}), (60, 68), 0),
        (
            ("6k", "2.3 H", 0, {"wire": "AWG 42"}),
            ("6.8k", "2.8 H", 0, {"wire": "42 AWG"}),
            (60, 68),
            0,
        ),
        (("6k", "2.25 H", 0, {}), ("6.8k", "2.89 H", 0, {}), (15, 17), 0),
        (
            ("6k", "2.3 H", 0, {"turns": 7600}),
            ("8k", "2.4 H", 0, {"turns": 7600}),
            (1, 1),
            1,
        ),
        (
            ("6k", "2.3 H", 0, {"wire": "0.063 mm"}),
            ("8k", "2.4 H", 0, {"wire": 0.063e-3 * (6 / 8) ** 0.5}),
            (1, 1),
            1,
        ),
        (("6k", "2.3 H", 0, {}), ("8k", "2.3 H", 0, {}), (1, 1), 1),
        (
            ("6k", "2.3 H", 0, {"wire": "AWG 42", "turns": 8000}),
            ("6.9k", "2.8 H", 0, {"wire": "AWG 42"}),
            (8000, 9200),
            0,
        ),
        (("6k", "2 H", 0, {"turns": 7000}), ("7.5k", "2.88 H", 0, {}), (7000, 8400), 0),
    ],
)
@pytest.mark.usefixtures("unusual")
def test_what_is_left_of_hum_is_a_difference(neck, bridge, turns, better):
    """Closed form: of the turns in series, of turns over impedance in parallel.

    So coils of one wire cancel better in parallel, coils of equal turns and unlike wire in series.
    """
    n, z = np.array(turns), np.array([_impedance(50, *coil[:2]) for coil in (neck, bridge)])
    places = ["neck+bridge", "neck+bridge in series"]
    found = gn.audio.hum(pair(neck, bridge), frequency=[50.0], switch=places).residual
    parallel, series = (float(value) for value in found.isel(frequency=0))
    for level, volts in ((parallel, n / abs(z) * np.exp(-1j * np.angle(z))), (series, n)):
        left = abs(volts[0] - volts[1]) / abs(volts).max()
        assert 10 ** (level / 20) == pytest.approx(left, abs=1e-9)
    assert (parallel, series)[better] < (parallel, series)[1 - better]


def _impedance(frequency, ohms, henries):
    return gn.values.read_value(ohms, "ohm") + 2j * np.pi * frequency * float(henries.split()[0])


@pytest.mark.parametrize(("place", "volume"), [("neck+bridge", 10), ("neck+bridge in series", 6)])
def test_hum_of_two_pickups_against_ngspice(ngspice, agreement, place, volume):
    """Sources in series with the coils, volts by ohms of one wire, and all the loads there are.

    6 and 6.8 kΩ: about 41 dB are taken off in parallel, and 19 dB in series.
    """
    one, other = (("6k", "2.3 H", "110p"), ("6.8k", "2.8 H", "130p"))
    guitar = gn.layouts.two_single_coils_four_way(
        Pickup(*one, wire="AWG 42"), Pickup(*other, wire="AWG 42", **NEITHER), cable="5 m"
    )
    middle = "0" if place == "neck+bridge" else "2"
    top = "1" if place == "neck+bridge" else "2"
    track = 0.15 * volume / 5 if volume < 5 else 0.15 + 0.85 * (volume - 5) / 5
    deck = f"""hum
Vn 11 {middle} AC {{n}}
Rn 11 12 6k
Ln 12 1 2.3
Cn 1 {middle} 110p
Vb 21 0 AC {{b}}
Rb 21 22 6.8k
Lb 22 {top} 2.8
Cb {top} 0 130p
Rupper 1 3 {max(250e3 * (1 - track), 1e-6)}
Rlower 3 0 {250e3 * track}
Rtone 1 4 250k
Ctone 4 0 22n
Ccable 3 0 500p
Ramp 3 0 1meg
.ac lin 1 50 50
.end
"""
    sizes = {
        alone: abs(run_ngspice(deck.format(n=n, b=b), node=3)[1])
        for alone, n, b in (("both", 60, -68), ("neck", 60, 0), ("bridge", 0, 68))
    }
    left = sizes["both"] / np.maximum(sizes["neck"], sizes["bridge"])
    settings = {"switch": place, "volume": volume}
    found = 10 ** (gn.audio.hum(guitar, settings, frequency=[50.0]).residual.values / 20)
    np.testing.assert_allclose(found, left, rtol=1e-8)
    agreement("ngspice", "hum of two pickups, volts by turns", found, left)
    wanted = {"neck+bridge": -41, "neck+bridge in series": -19}[place]
    assert 20 * np.log10(left[0]) == pytest.approx(wanted, abs=1)


def test_turns_are_told_where_they_are_used():
    """Each table says where they come from; a part that is not known stays relative."""
    neck, bridge = Pickup("6k", "2.3 H", "110p", wire="AWG 42"), Pickup("6.8k", "2.8 H", "130p")
    guitar = gn.layouts.two_single_coils(neck, bridge.replace("turns", 8000))
    said = "equal field in all coils assumed; turns neck by ohms of AWG 42, bridge given"
    assert gn.audio.hum(guitar).attrs["assumptions"] == said
    assert gn.audio.hum_table(guitar).note == f"dB re the loudest coil alone; {said}."
    assert said in gn.response(guitar, frequency=[50.0], source="hum").attrs["assumptions"]
    assert "turns" not in gn.response(guitar, frequency=[50.0]).attrs["assumptions"]
    relative = gn.windings.turns_table(gn.layouts.two_single_coils(bridge, bridge))
    assert relative.rows[0][1:3] == ("1.00", "by root of inductance, relative")
    # 7600 turns of AWG 42 read 6.5 kΩ: Premier Guitar, "Demystifying DCR".
    known = alone(Pickup("6.5k", "2.9 H", "140p", wire="AWG 42"))
    assert gn.windings.turns_table(known).rows[0][1] == "7600"
    swept = gn.audio.hum(
        gn.layouts.one_pickup(Humbucker(COIL, COIL)), {"pickup.coil_1.turns": [4000, 5000]}
    )
    assert "in some of the curves" not in swept.attrs["assumptions"]
    h = gn.response(guitar, frequency=[50.0], source="hum", pickups="each", switch="neck")
    assert abs(h.sel(pickup="bridge").values[0]) < 1e-12


def test_turns_that_cannot_be():
    for given, words in (
        ({"turns": 0}, "Coil.turns: 0 is zero; give a value above 0 up to 100000."),
        (
            {"turns": 8},
            "Coil.turns: 8 is unusual, 200 to 40000 is what occurs (common practice, "
            "no source); write '8000' if you mean that, or insist with unusual=True.",
        ),
        ({"wire": 42}, "Coil.wire: 42 does not say whether it is a gauge; write 'AWG 42'."),
    ):
        with pytest.raises(gn.errors.BadValue) as refusal:
            Coil("4k", "2 H", "150p", **given)
        assert str(refusal.value) == words


def test_hum_over_pickups_as_categories():
    """The part is called pickup, and so is the setting: the everyday call."""
    guitar = gn.layouts.one_pickup(Humbucker(COIL, COIL))
    other = Humbucker(COIL, Coil("5k", "4 H", "150p"))
    found = gn.audio.hum(guitar, frequency=[50.0], pickup=[guitar.parts["pickup"], other])
    assert found.residual.dims == ("pickup", "frequency")
    with pytest.raises(gn.errors.BadSetting) as refusal:
        gn.response(
            guitar, frequency=[50.0], pickups="each", pickup=[guitar.parts["pickup"], other]
        )
    assert "'each' makes a dimension 'pickup', which is a setting too" in str(refusal.value)
    with pytest.raises(gn.errors.BadSetting) as refusal:
        gn.response({"a": guitar, "b": alone(COIL)}, frequency=[50.0], pickups="each coil")
    assert str(refusal.value) == (
        "pickups: differ from build to build; compare builds with the same pickups."
    )


def test_winding_and_magnet_are_set_by_path():
    """A reversed magnet under one coil is a sweep like any other; what is stated stays."""
    guitar = alone(Humbucker(COIL, COIL))
    h = gn.response(guitar, frequency=[1.0], **{"pickup.coil_2.magnet": [-1, 1]})
    assert h["pickup.coil_2.magnet"].values.tolist() == ["-1", "1"]
    np.testing.assert_allclose(np.abs(h.values[:, 0]), [2, 0], atol=1e-6)
    stated = Humbucker(COIL, Coil("4k", "3 H", "200p", winding=1, magnet=1))
    assert (stated.coil_2.winding, stated.coil_2.magnet) == (1, 1)


def test_losses_are_switched_off_by_path():
    """None for the eddy resistance is a lossless coil, by replace and as a setting."""
    lossy = alone(Pickup("6k", "2.4 H", "120p", "300k", 0.3))
    plain = gn.response(alone(Pickup("6k", "2.4 H", "120p")), frequency=F).values
    off = lossy.replace("pickup.eddy_resistance", None)
    np.testing.assert_allclose(gn.response(off, frequency=F).values, plain, rtol=1e-12)


def test_islands_that_only_a_coupling_holds():
    """Leads of one coil open at both ends; a driven winding that touches ground nowhere.

    Closed form of the transformer: an open secondary shows M/L1 of the primary's voltage.
    """
    leads = Humbucker(COIL, COIL, connection="leads")
    made = gn.Harness(
        {"pickup": leads, "jack": gn.Jack()},
        [("pickup.coil_1_start", "jack.tip"), ("pickup.coil_1_finish", "jack.sleeve")],
        ["pickup.coil_2_finish", "pickup.coil_2_start"],
    )
    tied = alone(leads.replace("connection", "coil 1"))
    np.testing.assert_allclose(
        gn.response(made, frequency=F).values, gn.response(tied, frequency=F).values, rtol=1e-9
    )
    net = gn.formulas.Netlist()
    net.source("in", "p", "q")
    net.inductor("one", "p", "q", 2.0)
    net.inductor("other", "out", "0", 8.0)
    net.resistor("load", "out", "0", 1e12)
    net.mutual("coupling", "one", "other", 3.0)
    found = gn.formulas.node_voltage(net, "out", np.array([1000.0])).values
    np.testing.assert_allclose(found, 1.5, rtol=1e-6)


@pytest.mark.parametrize(
    ("pair", "value", "words"),
    [
        (("one", "one"), 0.1, "couples a coil with itself"),
        (("one", "R"), 0.1, "there is no inductor 'R'"),
        (("one", "other"), float("nan"), "nan H is not a number"),
        (("one", "other"), None, "no value was given"),
        (("one", "other"), 5.0, "couples more than the two inductances can"),
    ],
)
def test_couplings_that_cannot_be(pair, value, words):
    net = gn.formulas.Netlist()
    net.inductor("one", "a", "0", 2.0)
    net.inductor("other", "b", "0", 8.0)
    net.resistor("R", "a", "b", 1.0)
    with pytest.raises(gn.GuitarnetError, match=words):
        net.mutual("coupling", *pair, value)
    net.mutual("coupling", "one", "other", "1 H")
    with pytest.raises(gn.errors.BadHarness, match="coupled already"):
        net.mutual("again", "other", "one", 1.0)


def test_each_pickup_and_each_coil_by_itself():
    """The dimension is named, and its sum is what the guitar plays."""
    guitar = gn.layouts.one_pickup(Humbucker(COIL, Coil("5k", "4 H", "150p")))
    together = gn.response(guitar, frequency=F, volume=[10, 5])
    coils = gn.response(guitar, frequency=F, volume=[10, 5], pickups="each coil")
    assert coils.dims == ("volume", "pickup", "frequency")
    assert coils.pickup.values.tolist() == ["pickup.coil_1", "pickup.coil_2"]
    np.testing.assert_allclose(coils.sum("pickup").values, together.values, rtol=1e-9)
    assert gn.response(guitar, frequency=F, pickups="each").pickup.values.tolist() == ["pickup"]


# -- other solvers --------------------------------------------------------------------------------


def pickups():
    """Invented two-coil pickups of every connection, seeded."""
    generator = np.random.default_rng(20261125)

    def coil(lossy):
        values = [10 ** generator.uniform(*d) for d in ((3, 4.2), (-0.3, 0.8), (-10.3, -9.5))]
        if lossy:
            values += [10 ** generator.uniform(4.5, 6), generator.uniform(0.1, 0.4)]
            values += [10 ** generator.uniform(3.3, 4.3)]
        return Coil(*values)

    for number, connection in enumerate(c for c in gn.values.CONNECTIONS if c != "leads"):
        for lossy in (False, True):
            k = generator.uniform(0.02, 0.3) * (1 if number % 2 else -1)
            one, two = coil(lossy), coil(lossy)
            if k < 0:
                two = gn.Coil(**{**vars(two), "winding": 1, "magnet": -1})
            yield pytest.param(Humbucker(one, two, k, connection), id=f"{connection}-{lossy}")


@pytest.mark.parametrize("pickup", list(pickups()))
def test_coupled_coils_against_the_tableau(agreement, draws, pickup):
    """Response, hum and impedance of every connection against the slow solver, 1e-10."""
    guitar = gn.layouts.one_pickup(pickup, treble_bleed="150k || 1n")
    marks, few = [10, 6, 0.5], F[:: draws(3, 1)]
    h = gn.response(guitar, frequency=few, volume=marks)
    for at, net in single_settings(guitar.netlist(volume=marks)):
        slow = [slow_voltage(net, guitar.node("amp.tip"), f) for f in few]
        fast = h.isel(at).values
        assert np.max(np.abs(fast - slow)) < 1e-10 * np.max(np.abs(fast))
        agreement("a dense tableau", "two coupled coils: response", fast, slow)
    z = gn.impedance(alone(pickup), frequency=F).values
    net = alone(pickup).stamp()
    slow = [slow_impedance(net, alone(pickup).node("jack.tip"), f) for f in F]
    np.testing.assert_allclose(z, slow, rtol=1e-9)
    agreement("a dense tableau", "two coupled coils: impedance", z, slow)


@pytest.mark.parametrize("pickup", list(pickups()))
def test_coupled_coils_against_ngspice(ngspice, agreement, pickup):
    """The text that to_spice writes, couplings of either sign, 1e-9 of the largest value."""
    guitar = gn.layouts.one_pickup(pickup)
    f, volts = run_ngspice(
        gn.formulas.to_spice(guitar, frequency=(50, 15e3), per_decade=8, volume=7)
    )
    h = gn.response(guitar, frequency=f, volume=7).values
    assert np.max(np.abs(volts - h)) < 1e-9 * np.max(np.abs(h))
    agreement("ngspice", "two coupled coils, series and parallel", h, volts)


def test_coupled_coils_in_symbols():
    """All letters: the low-frequency limit is the divider, and numbers put in agree."""
    pickup = Humbucker(Coil("4k", "2 H", 0), Coil("5k", "3 H", 0))
    guitar = alone(pickup)
    formula = gn.formulas.transfer_function(
        guitar, keep=["pickup.coupling", "pickup.coil_1.inductance"]
    )
    assert float(gn.formulas.dc_gain(guitar)) == pytest.approx(2, rel=1e-12)
    h = gn.response(gn.layouts.one_pickup(pickup), frequency=F).values
    numeric = gn.formulas.transfer_function(gn.layouts.one_pickup(pickup))
    (s,) = numeric.free_symbols
    found = np.array([complex(numeric.subs(s, complex(x))) for x in S])
    assert np.max(np.abs(found - h)) < 1e-9 * np.max(np.abs(h))
    assert len(formula.free_symbols) <= 3


def test_a_swept_coupling_is_one_setting_after_another():
    """Sweeps of k and of an inductance equal single computations."""
    guitar = gn.layouts.one_pickup(Humbucker(COIL, Coil("5k", "4 H", "150p")))
    ks, henries = [0.0, 0.12, 0.23], [2.0, 3.0]
    paths = {"pickup.coupling": ks, "pickup.coil_1.inductance": henries}
    h = gn.response(guitar, frequency=F, volume=[10, 5], **paths)
    for k in ks:
        for henry in henries:
            single = guitar.replace("pickup.coupling", k).replace("pickup.coil_1.inductance", henry)
            at = {"pickup.coupling": k, "pickup.coil_1.inductance": henry}
            np.testing.assert_allclose(
                h.sel(at).values, gn.response(single, frequency=F, volume=[10, 5]).values, rtol=1e-9
            )


FINISHES = [
    ("pickup.coil_1_start", "jack.tip"),
    ("pickup.coil_1_finish", "pickup.coil_2_finish"),
    ("pickup.coil_2_start", "jack.sleeve"),
]
START_TO_FINISH = [
    ("pickup.coil_1_finish", "jack.tip"),
    ("pickup.coil_1_start", "pickup.coil_2_finish"),
    ("pickup.coil_2_start", "jack.sleeve"),
]


@pytest.mark.parametrize(
    ("bobbins", "joined", "other"),
    [
        ("alike", FINISHES, START_TO_FINISH),
        ("opposite", START_TO_FINISH, FINISHES),
    ],
)
def test_four_leads_are_joined_as_in_the_harness(bobbins, joined, other):
    """Leads joined for series make the series pickup; joined for other bobbins, hum doubles.

    By hand: the volts of a coil, from start to finish, have the sign of winding times magnet; of
    bobbins wound alike over opposed magnets, finishes joined, string adds and hum cancels. That
    they are usual is common practice, no source.
    """
    leads = Humbucker(COIL, COIL, connection="leads", bobbins=bobbins)
    parts = {"pickup": leads, "jack": gn.Jack()}
    made, wrong = gn.Harness(parts, joined), gn.Harness(parts, other)
    np.testing.assert_allclose(
        gn.response(made, frequency=F).values,
        gn.response(alone(Humbucker(COIL, COIL)), frequency=F).values,
        rtol=1e-12,
    )
    assert abs(gn.response(wrong, frequency=[100.0]).values[0]) < 1e-9
    assert float(gn.audio.hum(wrong, frequency=[50]).residual[0]) == pytest.approx(6.02, abs=0.01)
    assert "Beware" not in gn.truth_table(made).note
    said = gn.truth_table(wrong).note.splitlines()[0]
    swap = {"alike": "opposite", "opposite": "alike"}[bobbins]
    assert said == (
        "Beware: the coils of the pickup cancel the string's signal and double their hum; swap the "
        f"two leads of one coil, or say bobbins = '{swap}' if the bobbins are wound so."
    )
    assert "Beware" not in gn.truth_table(wrong.replace("pickup.bobbins", swap)).note


def test_coils_that_only_double_their_hum():
    """Reverse wound over the same magnet the string cancels; wound alike over one hum doubles."""
    magnets = Humbucker(COIL, Coil("4k", "3 H", "200p", winding=-1))
    said = "Beware: the coils of the pickup {}; swap the two leads of one coil."
    note = gn.truth_table(alone(magnets)).note
    assert note.startswith(said.format("cancel the string's signal"))
    both = Humbucker(COIL, Coil("4k", "3 H", "200p", winding=1))
    assert gn.truth_table(alone(both)).note.startswith(said.format("double their hum"))


def test_leads_are_called_what_a_person_calls_them(tmp_path):
    """In joint list, drawing, error and file; a name for what is no lead is refused."""
    names = {"coil_1_start": "black", "coil_1_finish": "white", "coil_2_start": "bare wire"}
    leads = Humbucker(COIL, COIL, connection="leads", lead_names=names)
    guitar = gn.Harness({"pickup": leads, "jack": gn.Jack()}, FINISHES, name="named")
    shown = " ".join(cell for row in guitar.joints() for cell in row)
    assert "pickup coil 1 finish (white), pickup coil 2 finish" in shown
    assert gn.load_harness(gn.save_harness(guitar, tmp_path / "named.toml")) == guitar
    assert 'coil_1_start = "black"' in (tmp_path / "named.toml").read_text()
    with pytest.raises(gn.errors.BadHarness) as refusal:
        gn.Harness({"pickup": leads, "jack": gn.Jack()}, FINISHES[1:]).check()
    assert str(refusal.value).startswith("pickup.coil_1_start (black): is not joined to anything")
    switched = gn.layouts.two_humbuckers_push_pull(leads, leads)
    drawn = [text.get_text() for text in gn.draw(switched).texts]
    assert drawn.count("black") == drawn.count("bare wire") == 2
    for given, words in (
        ({"coil_1_begin": "black"}, "Humbucker.lead_names: there is no lead 'coil_1_begin'; "),
        (
            {"coil_1_start": " "},
            "Humbucker.lead_names: ' ' names no lead; give a word, as 'black'.",
        ),
        (
            {"coil_1_start": "red", "coil_2_start": "red"},
            "Humbucker.lead_names: 'red' stands twice; name coil_1_start otherwise.",
        ),
        (["black"], "Humbucker.lead_names: ['black'] is no mapping; write {'coil_1_start': "),
    ):
        with pytest.raises(gn.errors.BadValue) as refusal:
            Humbucker(COIL, COIL, connection="leads", lead_names=given)
        assert str(refusal.value).startswith(words)
    with pytest.raises(gn.errors.BadValue, match="use 'alike' for bobbins wound in the same"):
        Humbucker(COIL, COIL, bobbins="reversed")


def test_two_coil_pickups_save_and_load(tmp_path):
    """Coils, coupling and connection come back exactly."""
    guitar = gn.layouts.one_pickup(
        Humbucker(COIL, Coil("5k", "4 H", "150p", 1e5, 0.2, 5e3), 0.1, "parallel")
    )
    assert gn.load_harness(gn.save_harness(guitar, tmp_path / "g.toml")) == guitar


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: Humbucker(COIL, COIL, connection="serial"),
            "Humbucker.connection: 'serial' is unknown; did you mean 'series'?",
        ),
        (
            lambda: Humbucker(COIL, 5),
            "Humbucker.coil_2: 5 is not a coil; give gn.Coil(...).",
        ),
        (
            lambda: Coil("4k", "3 H", 0, winding=2),
            "Coil.winding: 2 is no direction; give 1, or -1 for reversed.",
        ),
        (
            lambda: gn.layouts.one_pickup(Humbucker(COIL, COIL, connection="leads")),
            "pickup: has four leads and no hot; connect it, or build the harness from parts.",
        ),
        (
            lambda: gn.tapped(Pickup("10k", "4 H", "100p"), 1.2),
            "tapped.share: 1.2 leaves no two sections; give 0.6 or '60%'.",
        ),
        (
            lambda: gn.tapped(Pickup("10k", "4 H", "100p", "100k", 0.3), 0.6),
            "tapped: the coil has eddy loss or screening; give a lossless coil.",
        ),
        (
            lambda: gn.tapped(Pickup("10k", "4 H", "100p", screening_frequency="3k"), 0.6),
            "tapped: the coil has eddy loss or screening; give a lossless coil.",
        ),
        (
            lambda: Humbucker("neck", COIL),
            "Humbucker.coil_1: 'neck' is not a coil; give gn.Coil(...).",
        ),
        (
            lambda: Humbucker(COIL, "bridge"),
            "Humbucker.coil_2: 'bridge' is not a coil; give gn.Coil(...).",
        ),
        (
            lambda: Humbucker(COIL, COIL, connection="serie"),
            "Humbucker.connection: 'serie' is unknown; did you mean 'series'?",
        ),
        (
            lambda: Humbucker(COIL, COIL, connection=3),
            "Humbucker.connection: 3 is unknown; use one of coil 1, coil 1, other shunted, coil 2, "
            "coil 2, other shunted, leads, parallel, series.",
        ),
        (
            lambda: gn.response(alone(Humbucker(COIL, COIL)), **{"pickup.inductance": 2}),
            "pickup.inductance: each coil has its own; give pickup.coil_1.inductance and "
            "pickup.coil_2.inductance.",
        ),
        (
            lambda: gn.response(alone(Humbucker(COIL, COIL)), **{"pickup.resistance": 6000}),
            "pickup.resistance: each coil has its own; give pickup.coil_1.resistance and "
            "pickup.coil_2.resistance, to each half of what both in series read.",
        ),
        (
            lambda: alone(
                Humbucker(
                    Coil("4k", "3 H", 0, "100k", 0.95), Coil("4k", "3 H", 0, "100k", 0.95), 0.5
                )
            ).stamp(),
            "pickup.mutual: couples more than the two inductances can; lower the coupling, or the "
            "share of each inductance that eddy loss takes.",
        ),
    ],
)
def test_refused(make, message):
    with pytest.raises(gn.GuitarnetError) as refusal:
        make()
    assert str(refusal.value) == message
