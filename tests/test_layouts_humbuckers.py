"""Humbuckers switched coil by coil: truth tables, second roads, ngspice, wiring errors.

What each place selects is common practice, no source, unless a test says otherwise.
"""

from __future__ import annotations

import numpy as np
import pytest
from layout_checks import COILS, LEADS, MIDDLE, NECK, OTHER_LEADS, same_as_ngspice, swapped, truth

import guitarnet as gn
from guitarnet import layouts
from guitarnet.parts.switch import on_on_on

F = np.geomspace(50, 15e3, 40)
MASTER = {"volume", "tone"}
SERIES = "+neck.coil_1 +neck.coil_2"
BRIDGE_SERIES = "+bridge.coil_1 +bridge.coil_2"

ROTARY = {
    "neck": (SERIES, "in series", MASTER),
    "inner coils parallel": ("+neck.coil_2 +bridge.coil_1", "in parallel", MASTER),
    "inner coils series": ("+neck.coil_2 +bridge.coil_1", "in series", MASTER),
    "outer coils parallel": ("+neck.coil_1 +bridge.coil_2", "in parallel", MASTER),
    "bridge": (BRIDGE_SERIES, "in series", MASTER),
}
HSS = {
    "neck": ("+neck", "alone", {"volume", "tone_1"}),
    "neck+middle": ("+neck +middle", "in parallel", {"volume", "tone_1", "tone_2"}),
    "middle": ("+middle", "alone", {"volume", "tone_2"}),
    "middle+bridge": ("+middle +bridge.coil_1", "in parallel", {"volume", "tone_2"}),
    "bridge": (BRIDGE_SERIES, "in series", {"volume"}),
}
NECK_OWN, BRIDGE_OWN = {"neck_volume", "neck_tone"}, {"bridge_volume", "bridge_tone"}


def rotary(**given):
    return layouts.two_humbuckers_rotary(LEADS, OTHER_LEADS, **given)


def hss(**given):
    return layouts.hss(NECK, MIDDLE, LEADS, **given)


def pulls(*does, **given):
    names = ("neck_volume_pull", "bridge_volume_pull", "neck_tone_pull", "bridge_tone_pull")
    chosen = dict(zip(names, does, strict=True))
    return layouts.two_humbuckers_push_pull(LEADS, OTHER_LEADS, **chosen, **given)


def same(one, other):
    np.testing.assert_allclose(one.values, other.values, rtol=1e-10)


# -- rotary ---------------------------------------------------------------------------------------


def test_rotary_truth_table():
    assert truth(rotary()) == ROTARY


def test_every_place_of_the_rotary_cancels_hum():
    """Inner coils are a normal and a reversed one, as are the outer coils."""
    pickup = gn.Humbucker(COILS[0], COILS[0], connection="leads")
    guitar = layouts.two_humbuckers_rotary(pickup, pickup)
    places = list(guitar.parts["switch"].places)
    assert bool(gn.audio.hum(guitar, frequency=[50.0], switch=places).cancelling.all())


def test_whole_humbuckers_of_the_rotary_are_humbuckers_in_series():
    """The coils that hang by one end change nothing: as one pickup with the same controls."""
    controls = {"volume": "500k", "tone": "500k"}
    for place, leads in (("neck", LEADS), ("bridge", OTHER_LEADS)):
        pickup = leads.replace("connection", "series")
        alone = layouts.one_pickup(pickup, **controls)
        same(
            gn.response(rotary(), frequency=F, switch=place, volume=8, tone=4),
            gn.response(alone, frequency=F, volume=8, tone=4),
        )


def test_meter_readings_of_the_rotary():
    """Closed form at 0 Hz: series adds, parallel adds conductances, the pot is across."""
    coils = {
        "neck": 4.1 + 4.3,
        "inner coils parallel": 1 / (1 / 4.3 + 1 / 4.4),
        "inner coils series": 4.3 + 4.4,
        "outer coils parallel": 1 / (1 / 4.1 + 1 / 4.6),
        "bridge": 4.4 + 4.6,
    }
    ohms = gn.jack_resistance(rotary(), switch=list(coils))
    expected = [1e3 / (1 / kilohm + 1 / 500) for kilohm in coils.values()]
    np.testing.assert_allclose(ohms.values, expected, rtol=1e-12)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("switch.a1", "switch.a2"),
        ("switch.a3", "switch.a4"),
        ("switch.b1", "switch.b3"),
        ("switch.b2", "switch.b5"),
        ("switch.b4", "switch.b5"),
        ("switch.c2", "switch.c3"),
        ("switch.c5", "switch.c4"),
        ("switch.d4", "switch.d5"),
        ("switch.c", "switch.d"),
        ("neck.coil_1_start", "neck.coil_1_finish"),
        ("neck.coil_2_finish", "neck.coil_2_start"),
        ("bridge.coil_1_start", "bridge.coil_2_finish"),
    ],
)
def test_a_wrong_rotary_is_seen(one, other):
    """Two lugs swapped give another truth table, so the one above does test the wiring."""
    assert truth(swapped(rotary(), one, other)) != ROTARY


# -- HSS ------------------------------------------------------------------------------------------


def test_hss_truth_table():
    """The bridge is split beside the middle pickup alone."""
    assert truth(hss()) == HSS


def test_hss_with_the_second_tone_on_the_bridge():
    """Each tone control works where its pickup sounds."""
    tones = {
        place: row[2] - {"volume"} for place, row in truth(hss(tones="neck and bridge")).items()
    }
    assert tones == {
        "neck": {"tone_1"},
        "neck+middle": {"tone_1"},
        "middle": set(),
        "middle+bridge": {"tone_2"},
        "bridge": {"tone_2"},
    }


def test_hss_against_pickups_connected_by_hand():
    """Middle+bridge is the middle beside one coil whose other is shunted, with 500k controls."""
    split = LEADS.replace("connection", "coil 1, other shunted")
    pair = layouts.two_single_coils(MIDDLE, split, volume="500k", tone="500k", tone_capacitor="22n")
    same(
        gn.response(hss(), frequency=F, switch="middle+bridge", volume=7, tone_2=3),
        gn.response(pair, frequency=F, switch="neck+bridge", volume=7, tone=3),
    )


def test_half_stops_of_the_hss_cancel_hum():
    """A coil of the humbucker beside a reversed middle of the same wire: some 35 dB are off.

    In parallel the difference of turns over impedance is left, with one wire that of
    1/(1 + jwL/R). The coil that is shunted carries a current of its own, whose field returns
    through the other: 1 + jwM/Z of its volts, and w^2 M^2/Z more impedance. Turns by the root of
    inductance leave more: a humbucker's coil has as much inductance from fewer turns.
    """
    neck, middle = (
        gn.Pickup("6k", "2.3 H", "110p", wire="AWG 42"),
        gn.Pickup("6.2k", "2.4 H", "120p", wire="AWG 42", winding=-1, magnet=-1),
    )
    coil = gn.Coil("4k", "2 H", "100p", wire="AWG 42")
    leads = gn.Humbucker(coil, coil, connection="leads")
    table = gn.audio.hum_table(layouts.hss(neck, middle, leads))
    assert [row[2] for row in table.rows] == ["no", "yes", "no", "yes", "yes"]
    levels = dict(row[:2] for row in table.rows)
    omega = 100 * np.pi
    mutual, z = 0.12 * 2 * omega, 4000 + 2j * omega
    currents = (
        6200 / (6200 + 2.4j * omega),
        4000 * (1 + 1j * mutual / z) / (z + mutual**2 / z),
    )
    left = abs(currents[0] - currents[1]) / max(map(abs, currents))
    assert float(levels["middle+bridge"]) == pytest.approx(20 * np.log10(left), abs=0.6)
    assert float(levels["middle+bridge"]) == pytest.approx(-35, abs=1)
    assert "turns by ohms of AWG 42" in table.note
    leads = leads.replace("coil_1.wire", None).replace("coil_2.wire", None)
    unknown = layouts.hss(neck.replace("wire", None), middle.replace("wire", None), leads)
    row = gn.audio.hum_table(unknown).rows[3]
    assert row == ("middle+bridge", "-10.7", "no")


def test_the_resistor_loads_single_coils_only():
    """Closed form at 0 Hz: 470 kΩ across each single coil that is heard."""
    guitar = hss(single_coil_resistor="470k")
    ohms = {
        place: float(gn.jack_resistance(guitar, switch=place)) / 1e3
        for place in ("neck", "neck+middle", "bridge")
    }
    assert ohms == pytest.approx(
        {
            "neck": 1 / (1 / 6.0 + 1 / 470 + 1 / 500),
            "neck+middle": 1 / (1 / 6.0 + 1 / 6.2 + 2 / 470 + 1 / 500),
            "bridge": 1 / (1 / 8.4 + 1 / 500),
        },
        rel=1e-12,
    )
    assert truth(guitar) == HSS


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("switch.b2", "switch.b1"),
        ("switch.b2", "switch.b3"),
        ("switch.a1", "switch.a2"),
        ("switch.a2", "switch.a3"),
        ("bridge.coil_1_start", "bridge.coil_1_finish"),
        ("bridge.coil_1_start", "bridge.coil_2_start"),
        ("tone_1.wiper", "tone_2.wiper"),
        ("middle.hot", "middle.ground"),
    ],
)
def test_a_wrong_hss_is_seen(one, other):
    assert truth(swapped(hss(), one, other)) != HSS


# -- push-pulls -----------------------------------------------------------------------------------


def expected(side, does, place, own):
    """Coils, how and controls of one pickup by itself, as its push-pull stands."""
    one, two = f"{side}.coil_1", f"{side}.coil_2"
    return {
        (None, ""): (f"+{one} +{two}", "in series", own),
        ("split", "both coils"): (f"+{one} +{two}", "in series", own),
        ("split", "coil 1"): (f"+{one}", "alone", own),
        ("parallel", "series"): (f"+{one} +{two}", "in series", own),
        ("parallel", "parallel"): (f"+{one} +{two}", "in parallel", own),
        ("phase", "in phase"): (f"+{one} +{two}", "in series", own),
        ("phase", "reversed"): (f"-{one} -{two}", "in series", own),
    }[does, place]


@pytest.mark.parametrize(
    ("does", "wiring"),
    [
        pytest.param(does, wiring, marks=() if shift == number % 3 else pytest.mark.long)
        for shift, does in enumerate(layouts.PULLS)
        for number, wiring in enumerate(layouts.WIRINGS)
    ],
)
def test_what_a_push_pull_does_to_its_own_pickup(does, wiring):
    """Alone on the toggle, and on either pot, each pickup is as its switch says."""
    for on_volume in (True, False):
        chosen = (does, does, None, None) if on_volume else (None, None, does, does)
        table = truth(pulls(*chosen, wiring=wiring))
        assert len(table) == 12
        for (neck, bridge, toggle), row in table.items():
            if toggle == "neck":
                assert row == expected("neck", does, neck, NECK_OWN)
            elif toggle == "bridge":
                assert row == expected("bridge", does, bridge, BRIDGE_OWN)
            else:
                own = [
                    expected("neck", does, neck, NECK_OWN),
                    expected("bridge", does, bridge, BRIDGE_OWN),
                ]
                assert row[0] == " ".join(part[0] for part in own)
                assert row[2] == NECK_OWN | BRIDGE_OWN


def test_both_pickups_and_two_push_pulls_each():
    """The whole table of split and phase on the neck, coils in parallel on the bridge."""
    table = truth(pulls("split", "parallel", "phase", None), switch="neck+bridge")
    own = NECK_OWN | BRIDGE_OWN
    pair = "(bridge coil 1 + bridge coil 2)"
    assert table == {
        ("both coils", "in phase", "series", "neck+bridge"): (
            f"{SERIES} {BRIDGE_SERIES}",
            f"(neck coil 1 + neck coil 2) ∥ {pair}",
            own,
        ),
        ("both coils", "in phase", "parallel", "neck+bridge"): (
            f"{SERIES} {BRIDGE_SERIES}",
            "(neck coil 1 + neck coil 2) ∥ bridge coil 1 ∥ bridge coil 2",
            own,
        ),
        ("both coils", "reversed", "series", "neck+bridge"): (
            f"-neck.coil_1 -neck.coil_2 {BRIDGE_SERIES}",
            f"(neck coil 2 + neck coil 1) ∥ {pair}",
            own,
        ),
        ("both coils", "reversed", "parallel", "neck+bridge"): (
            f"-neck.coil_1 -neck.coil_2 {BRIDGE_SERIES}",
            "(neck coil 2 + neck coil 1) ∥ bridge coil 1 ∥ bridge coil 2",
            own,
        ),
        ("coil 1", "in phase", "series", "neck+bridge"): (
            f"+neck.coil_1 {BRIDGE_SERIES}",
            f"neck coil 1 ∥ {pair}",
            own,
        ),
        ("coil 1", "in phase", "parallel", "neck+bridge"): (
            f"+neck.coil_1 {BRIDGE_SERIES}",
            "in parallel",
            own,
        ),
        ("coil 1", "reversed", "series", "neck+bridge"): (
            f"-neck.coil_1 {BRIDGE_SERIES}",
            f"neck coil 1 ∥ {pair}",
            own,
        ),
        ("coil 1", "reversed", "parallel", "neck+bridge"): (
            f"-neck.coil_1 {BRIDGE_SERIES}",
            "in parallel",
            own,
        ),
    }


@pytest.mark.parametrize(
    ("does", "place", "connection"),
    [
        ("split", "both coils", "series"),
        ("split", "coil 1", "coil 1, other shunted"),
        ("parallel", "series", "series"),
        ("parallel", "parallel", "parallel"),
        ("phase", "in phase", "series"),
    ],
)
def test_push_pulls_against_pickups_connected_by_hand(does, place, connection):
    """Each place responds as the plain guitar whose pickups are connected so."""
    plain = layouts.two_humbuckers(
        *(pickup.replace("connection", connection) for pickup in (LEADS, OTHER_LEADS))
    )
    guitar = pulls(does, does, None, None)
    knobs = {"neck_volume": 6, "bridge_tone": 3}
    for toggle in ("neck", "neck+bridge", "bridge"):
        same(
            gn.response(
                guitar,
                frequency=F,
                switch=toggle,
                neck_volume_pull=place,
                bridge_volume_pull=place,
                **knobs,
            ),
            gn.response(plain, frequency=F, switch=toggle, **knobs),
        )


def test_reversed_against_in_phase():
    """One pickup reversed: the same alone but for its sign; together the two partly cancel."""
    guitar = pulls(None, None, "phase", None)
    ways = ["in phase", "reversed"]
    alone = gn.response(guitar, frequency=F, switch="neck", neck_tone_pull=ways).values
    np.testing.assert_allclose(alone[0], -alone[1], rtol=1e-10)
    both = gn.response(guitar, frequency=[100.0], switch="neck+bridge", neck_tone_pull=ways)
    together, against = abs(both).values[:, 0]
    assert against < 0.2 * together


def test_two_split_humbuckers_no_longer_cancel_hum():
    """The first coils of both are wound alike."""
    guitar = pulls("split", "split", None, None)
    both = {"switch": "neck+bridge"}
    split = {"neck_volume_pull": "coil 1", "bridge_volume_pull": "coil 1"}
    assert bool(gn.audio.hum(guitar, frequency=[50.0], **both).cancelling)
    assert not bool(gn.audio.hum(guitar, frequency=[50.0], **both, **split).cancelling)


@pytest.fixture(scope="module")
def pulled():
    """A guitar of push-pulls and two parts of its truth table: each switch moves in one."""
    guitar = pulls("split", "parallel", "phase", None)
    return guitar, moved(guitar)


def moved(guitar):
    """Rows with both pickups on, and rows where each is alone, its coils in series."""
    both = truth(guitar, switch="neck+bridge", neck_volume_pull="both coils")
    alone = truth(
        guitar, switch=["neck", "bridge"], neck_tone_pull="in phase", bridge_volume_pull="series"
    )
    return both, alone


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("neck_volume_pull.a2", "neck_volume_pull.a1"),
        ("bridge_volume_pull.a2", "bridge_volume_pull.b2"),
        ("bridge_volume_pull.a1", "bridge_volume_pull.a2"),
        ("neck_tone_pull.a1", "neck_tone_pull.a2"),
        ("neck_tone_pull.a", "neck_tone_pull.b"),
        ("switch.first", "switch.second"),
        ("neck.coil_1_start", "neck.coil_1_finish"),
        ("bridge.coil_2_start", "bridge.coil_2_finish"),
        ("neck_tone.wiper", "bridge_tone.wiper"),
    ],
)
def test_wrong_push_pulls_are_seen(pulled, one, other):
    guitar, right = pulled
    assert moved(swapped(guitar, one, other)) != right


# -- on-on-on -------------------------------------------------------------------------------------


def test_a_humbucker_on_one_mini_toggle():
    """Series, one coil, parallel by a three-way toggle whose poles move one after the other."""
    guitar = gn.Harness(
        {
            "pickup": LEADS,
            "coils": on_on_on(["series", "coil 1", "parallel"]),
            "jack": gn.Jack(),
        },
        [
            ("pickup.coil_1_start", "coils.a2", "jack.tip"),
            ("pickup.coil_2_start", "coils.b2", "jack.sleeve"),
            ("pickup.coil_2_finish", "coils.a"),
            ("pickup.coil_1_finish", "coils.b"),
            ("coils.a1", "coils.b1"),
        ],
    )
    assert truth(guitar) == {
        "series": ("+pickup.coil_1 +pickup.coil_2", "in series", set()),
        "coil 1": ("+pickup.coil_1", "alone", set()),
        "parallel": ("+pickup.coil_1 +pickup.coil_2", "in parallel", set()),
    }


# -- ngspice --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("guitar", "settings"),
    [
        (rotary(treble_bleed="150k || 1n"), {"volume": 6, "tone": 3}),
        (
            hss(treble_bleed="1n", single_coil_resistor="470k"),
            {"volume": 7, "tone_1": 4, "tone_2": 6},
        ),
        (hss(tones="neck and bridge"), {"volume": 7, "tone_1": 4, "tone_2": 6}),
        (
            pulls("split", "parallel", "phase", None, treble_bleed="680p"),
            {"neck_volume": 6, "bridge_volume": 8, "neck_tone": 5},
        ),
        (
            pulls("phase", "split", None, "phase", wiring="independent 50s"),
            {"neck_volume": 6, "bridge_volume": 8, "neck_tone": 5},
        ),
    ],
    ids=lambda given: getattr(given, "name", ""),
)
def test_against_ngspice(ngspice, guitar, settings):
    same_as_ngspice(guitar, **settings)
