"""What meters show at the jack and between lugs, against formulas done by hand and ngspice."""

from __future__ import annotations

import numpy as np
import pytest
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet import Pickup, layouts
from guitarnet.errors import BadHarness, BadSetting, BadValue
from guitarnet.parts.base import Drive
from guitarnet.solve.spice import run_ngspice, spice_text
from guitarnet.study.bench.meter import jack_capacitance, lug_capacitance
from guitarnet.study.bench.ohmmeter import Ohmmeter

GUITAR = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")


def parallel(*ohms):
    """Parallel resistances; zero wins."""
    return 0.0 if 0 in ohms else 1 / sum(1 / ohm for ohm in ohms)


@pytest.mark.parametrize("mark", [10, 7, 5, 1, 0])
def test_between_the_lugs_of_the_volume_pot(mark):
    """In circuit the pickup and the bleed's resistor count; with a lead lifted they do not."""
    t = gn.audio_taper(0.15)(mark / 10)
    upper, lower = 250e3 * (1 - t), 250e3 * t
    bled = parallel(upper, 150e3)

    def reads(one, other, **options):
        found = gn.bench.lug_resistance(
            GUITAR, f"volume.{one}", f"volume.{other}", volume=mark, **options
        )
        return float(found)

    assert reads("high", "low") == pytest.approx(parallel(6200, bled + lower))
    assert reads("high", "wiper") == pytest.approx(parallel(bled, 6200 + lower))
    assert reads("wiper", "low") == pytest.approx(parallel(lower, bled + 6200))
    assert reads("high", "low", lifted=["pickup.hot"]) == pytest.approx(bled + lower)
    assert reads("high", "low", lifted=["pickup.hot", "treble_bleed.a"]) == pytest.approx(250e3)


def test_a_tone_pot_does_not_count_but_for_itself():
    """Its capacitor blocks DC (common practice, no source); its own lugs read its track."""
    marks = [10, 5, 0]
    np.testing.assert_array_equal(
        gn.jack_resistance(GUITAR, tone=marks), gn.jack_resistance(GUITAR)
    )
    found = gn.bench.lug_resistance(GUITAR, "tone.wiper", "tone.low", tone=marks)
    np.testing.assert_allclose(found, [250e3, 37.5e3, 0], atol=1e-9)
    # The capacitor in circuit reads the way round it; with a lead lifted it is open.
    ends = "tone_capacitor.a", "tone_capacitor.b"
    around = 250e3 + parallel(6200, 250e3)  # at volume 10 the bleed is shorted by the wiper
    assert float(gn.bench.lug_resistance(GUITAR, *ends)) == pytest.approx(around)
    assert np.isinf(gn.bench.lug_resistance(GUITAR, *ends, lifted="tone_capacitor.a"))


def test_probes_on_one_joint_read_nothing():
    assert float(gn.bench.lug_resistance(GUITAR, "pickup.hot", "volume.high")) == 0
    assert float(gn.bench.lug_resistance(GUITAR, "jack.sleeve", "pickup.ground")) == 0


def test_a_lifted_lug_hangs_free():
    """It is declared open, and a partner left alone with it; the rest is as it was."""
    lifted = GUITAR.lift("tone_capacitor.a")
    assert set(lifted.open_lugs) == {"tone.high", "tone_capacitor.a", "tone.low"}
    hot = gn.bench.lug_resistance(GUITAR, "pickup.hot", "jack.sleeve", lifted="pickup.hot")
    assert float(hot) == 6200, "the pickup alone"
    f = [100.0, 4000.0]
    h = gn.response(lifted, frequency=f, tone=0)
    np.testing.assert_array_equal(h.values, gn.response(lifted, frequency=f, tone=10).values)


# -- temperature and the meter itself ------------------------------------------------------------


def test_warm_coils_read_more_and_pots_do_not():
    """IEC 60028: annealed copper at 20 °C has 0.00393/K."""
    warm = 6200 * (1 + 0.00393 * 15)
    found = gn.jack_resistance(GUITAR, coil_temperature=35)
    assert float(found) == pytest.approx(parallel(warm, 250e3))
    track = "volume.high", "volume.low"
    alone = gn.bench.lug_resistance(GUITAR, *track, lifted="pickup.hot", coil_temperature=35)
    assert float(alone) == pytest.approx(250e3)


def test_both_coils_of_a_humbucker_warm_up():
    coil = gn.Coil("4k", "2 H", "150p")
    pair = layouts.pickup_alone(gn.Humbucker(coil, coil))
    assert float(gn.jack_resistance(pair, coil_temperature=30)) == pytest.approx(8000 * 1.0393)


def test_temperatures_are_a_dimension_before_the_settings():
    degrees, marks, ohms = [0, 20, 40], [10, 5], [6000, 6400]
    settings = {"volume": marks, "pickup.resistance": ohms}
    found = gn.jack_resistance(GUITAR, coil_temperature=degrees, **settings)
    assert found.dims == ("coil_temperature", "volume", "pickup.resistance")
    assert found.coil_temperature.attrs == {"units": "degC", "long_name": "coil temperature"}
    for one in degrees:
        alone = gn.jack_resistance(GUITAR, coil_temperature=one, **settings)
        np.testing.assert_allclose(found.sel(coil_temperature=one), alone, rtol=1e-12)
    # Where no coil counts, as with the volume at 0, the temperatures are there all the same.
    silent = gn.jack_resistance(GUITAR, coil_temperature=degrees, volume=0)
    np.testing.assert_array_equal(silent, [0, 0, 0])


def test_the_meter_adds_its_leads_and_has_an_end():
    meter = Ohmmeter(leads=0.3, largest="20k")
    found = gn.jack_resistance(GUITAR, meter=meter, volume=[10, 5, 0])
    bare = gn.jack_resistance(GUITAR, volume=[10, 5, 0])
    assert bare.values[1] > 20e3
    np.testing.assert_allclose(found, [bare.values[0] + 0.3, np.inf, 0.3])
    assert found.attrs["units"] == "ohm"


# -- against ngspice -----------------------------------------------------------------------------

_PROBE = 1e5  # ohm, between a source of 1 V and the probed lug


def ngspice_impedance(guitar, one, other, hertz, **marks):
    """Impedance between two lugs, from the voltage that a source behind a resistor leaves."""
    amp = guitar.only(gn.AmpInput, needed=False)
    values = {f"{knob}.mark": mark for knob, mark in marks.items()}
    net = guitar.stamp(values, [amp] if amp else [], Drive(only=()))
    net.ground = guitar.node(other)
    net.source("probe", "behind", net.ground)
    net.resistor("probe_resistance", "behind", guitar.node(one), _PROBE)
    _, volts = run_ngspice(spice_text(net, guitar.node(one), hertz, 10 * hertz, 1))
    return _PROBE * volts[0] / (1 - volts[0])


@pytest.mark.long
def test_resistance_against_ngspice(ngspice):
    """At 10 uHz, where the largest capacitor still has more than 10 Gohm."""
    read = 0
    for drawn in random_guitars(7, 24, travel="middle"):
        guitar = drawn.guitar
        tip, sleeve = "cable.amp_tip", "cable.amp_sleeve"
        expected = ngspice_impedance(guitar, tip, sleeve, 1e-5, **drawn.marks)
        found = float(gn.jack_resistance(guitar, **drawn.marks))
        assert found == pytest.approx(expected.real, rel=1e-5)
        lugs = "volume.high", "volume.wiper"
        expected = ngspice_impedance(guitar, *lugs, 1e-5, **drawn.marks)
        found = float(gn.bench.lug_resistance(guitar, *lugs, **drawn.marks))
        assert found == pytest.approx(expected.real, rel=1e-5)
        read += 1
    assert read == 24


@pytest.mark.parametrize("marks", [{"tone": 10.0}, {"tone": 3.0, "volume": 5.0}, {"tone": 0.0}])
def test_capacitance_against_ngspice(ngspice, marks):
    hertz = 1000.0
    ends = "tone_capacitor.a", "tone_capacitor.b"
    siemens = 1 / ngspice_impedance(GUITAR, *ends, hertz, **marks)
    found = lug_capacitance(GUITAR, *ends, frequency=hertz, **marks)
    assert float(found.capacitance) == pytest.approx(siemens.imag / (2 * np.pi * hertz), rel=1e-7)
    assert float(found.dissipation) == pytest.approx(siemens.real / abs(siemens.imag), rel=1e-7)


# -- capacitance ---------------------------------------------------------------------------------


def test_a_tone_capacitor_in_circuit_and_with_a_lead_lifted():
    """In circuit: jwC beside 1/(tone pot + pickup and the rest), written out."""
    ends = "tone_capacitor.a", "tone_capacitor.b"
    w = 2 * np.pi * 1000.0
    rest = 1 / (1 / (6200 + 1j * w * 2.4) + 1 / 250e3 + 1j * w * (120e-12 + 300e-12))
    siemens = 1j * w * 22e-9 + 1 / (250e3 + rest)
    found = lug_capacitance(GUITAR, *ends)
    assert float(found.capacitance) == pytest.approx(siemens.imag / w, rel=1e-9)
    assert float(found.dissipation) == pytest.approx(siemens.real / siemens.imag, rel=1e-9)
    assert bool(found.makes_sense)
    assert float(found.capacitance) == pytest.approx(22e-9, rel=2e-3), "what the bench wants"
    assert found.attrs["statement"] == (
        "from tone_capacitor.a to tone_capacitor.b: makes sense, the dissipation factor is at "
        "most 0.1"
    )
    lifted = lug_capacitance(
        GUITAR, *ends, frequency=["120 Hz", "1 kHz"], lifted="tone_capacitor.a", tone=0
    )
    np.testing.assert_allclose(lifted.capacitance, 22e-9, rtol=1e-12)
    np.testing.assert_allclose(lifted.dissipation, 0, atol=1e-12)


def test_the_dissipation_factor_is_that_of_the_part():
    """tan(delta) of a lossy dielectric, by its definition: C (1 - j tan(delta))."""
    lossy = gn.Capacitor("22n", dissipation_factor=0.02)
    guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), tone_capacitor=lossy)
    ends = "tone_capacitor.a", "tone_capacitor.b"
    found = lug_capacitance(guitar, *ends, lifted="tone_capacitor.a")
    assert float(found.dissipation) == pytest.approx(0.02)
    assert float(found.capacitance) == pytest.approx(22e-9)


def test_coils_hide_capacitance_at_the_jack():
    """Across a coil the reading is negative; the cable alone reads as its length says."""
    found = jack_capacitance(GUITAR, frequency=["120 Hz", "1 kHz"], volume=[10, 0])
    assert not found.makes_sense.any()
    assert float(found.capacitance.sel(volume=10, frequency=120)) < 0
    assert np.isnan(found.capacitance.sel(volume=0)).all(), "tip and sleeve are one joint"
    assert found.attrs["statement"] == (
        "at the jack, amp unplugged: 4 of 4 readings make no sense: a coil or a low resistance is "
        "across the probes (dissipation factor over 0.1, or a negative capacitance); lift "
        "one lead"
    )
    open_jack = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), cable="30 ft")
    alone = jack_capacitance(open_jack.lift("volume.wiper"))
    assert float(alone.capacitance) == pytest.approx(30 * 0.3048 * 100e-12)
    assert bool(alone.makes_sense)


def test_an_open_pair_of_lugs_has_no_capacitance():
    none = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), cable=0)
    ends = "treble_bleed.a", "treble_bleed.b"
    empty = lug_capacitance(none, *ends, lifted=ends)
    assert float(empty.capacitance) == 0
    assert float(empty.dissipation) == 0
    assert bool(empty.makes_sense)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: jack_capacitance(GUITAR, frequency=0),
            "frequency: no current passes a capacitor at 0 Hz; give 120 or '1 kHz'.",
        ),
        (
            lambda: gn.jack_resistance(GUITAR, coil_temperature=[]),
            "coil_temperature: is an empty list; give at least one.",
        ),
        (
            lambda: gn.jack_resistance(GUITAR, coil_temperature=300),
            "coil_temperature: 300 is too large; give a value from -50 to 180 (in °C).",
        ),
        (
            lambda: gn.jack_resistance(GUITAR, coil_temperature=[20, 20]),
            "coil_temperature: 20 stands twice in the list; give it once.",
        ),
    ],
)
def test_what_no_meter_does(call, message):
    with pytest.raises((BadSetting, BadValue)) as refusal:
        call()
    assert str(refusal.value) == message


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: gn.bench.lug_resistance(GUITAR, "volume.hihg", "volume.low"),
            "volume.hihg: a Pot has no lug 'hihg'; did you mean 'high'?",
        ),
        (
            lambda: GUITAR.lift("tone.high"),
            "tone.high: is joined to nothing; lift a lug that is joined.",
        ),
    ],
)
def test_refused(call, message):
    with pytest.raises(BadHarness) as refusal:
        call()
    assert str(refusal.value) == message
