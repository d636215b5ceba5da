"""An ohmmeter between any two lugs, against sums and parallels done by hand."""

from __future__ import annotations

import numpy as np
import pytest

import guitarnet as gn
from guitarnet import BadHarness, Pickup, layouts

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
        found = gn.lug_resistance(
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
    found = gn.lug_resistance(GUITAR, "tone.wiper", "tone.low", tone=marks)
    np.testing.assert_allclose(found, [250e3, 37.5e3, 0], atol=1e-9)
    # The capacitor in circuit reads the way round it; with a lead lifted it is open.
    ends = "tone_capacitor.a", "tone_capacitor.b"
    around = 250e3 + parallel(6200, 250e3)  # at volume 10 the bleed is shorted by the wiper
    assert float(gn.lug_resistance(GUITAR, *ends)) == pytest.approx(around)
    assert np.isinf(gn.lug_resistance(GUITAR, *ends, lifted="tone_capacitor.a"))


def test_probes_on_one_joint_read_nothing():
    assert float(gn.lug_resistance(GUITAR, "pickup.hot", "volume.high")) == 0
    assert float(gn.lug_resistance(GUITAR, "jack.sleeve", "pickup.ground")) == 0


def test_a_lifted_lug_hangs_free():
    """It is declared open, and a partner left alone with it; the rest is as it was."""
    lifted = GUITAR.lift("tone_capacitor.a")
    assert set(lifted.open_lugs) == {"tone.high", "tone_capacitor.a", "tone.low"}
    hot = gn.lug_resistance(GUITAR, "pickup.hot", "jack.sleeve", lifted="pickup.hot")
    assert float(hot) == 6200, "the pickup alone"
    f = [100.0, 4000.0]
    h = gn.response(lifted, f, tone=0)
    np.testing.assert_array_equal(h.values, gn.response(lifted, f, tone=10).values)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: gn.lug_resistance(GUITAR, "volume.hihg", "volume.low"),
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
