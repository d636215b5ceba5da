"""Ready pickups: each with a source, those fitted derived again from the measurements."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from guitarnet import layouts as guitars, level_db, peak, response
from guitarnet.errors import BadSetting
from guitarnet.fitting import Load, Measurements, Unknown, fit_pickups, read_curve
from guitarnet.parts.archetypes import ready_pickup, ready_pickups
from guitarnet.study.fit import coil_model

FOLDER = Path(__file__).parent / "reference" / "measured_pickups"
FITTED = {
    # name: measured set, what is stated of it
    "bright single coil": ("single-coil-alnico-rods-bridge", {}),
    "steel-pole single coil": ("single-coil-ceramic-bar-steel-poles", {}),
    "wide single coil": (
        "single-coil-wide-10.6k",
        {"resistance": "10.6k", "inductance": "6.7 H"},
    ),
    "medium humbucker": ("two-coil-medium", {}),
    "neck humbucker": ("two-coil-12.69k-neck", {"resistance": "12.69k"}),
    "hot humbucker": ("two-coil-hot-series", {}),
}
LOADS = {
    "unloaded": Load(),
    "load-200k-470p": Load("200k", "470p"),
    "load-large-capacitor": Load(
        capacitance=Unknown("10n", "12%", name="large capacitor"),
        dissipation=Unknown(0.015, 0.8, name="large capacitor"),
    ),
}


def curve(name, load):
    return read_curve(FOLDER / f"{name}.{load}.csv", load=LOADS[load], slope=20, name=load)


@pytest.fixture(scope="module")
def fits():
    told = {
        name: Measurements(
            [curve(measured, load) for load in LOADS], beside_idle_coil=False, **stated
        )
        for name, (measured, stated) in FITTED.items()
    }
    return fit_pickups(told, losses="plain", slow_screening=False)


@pytest.mark.parametrize("name", FITTED)
def test_fitted_values_follow_from_the_measurement(fits, name):
    """Within rounding, to two or three digits."""
    ready, found = ready_pickup(name), fits[name].pickup
    assert ready.resistance == pytest.approx(found.resistance, rel=0.02)
    assert ready.inductance == pytest.approx(found.inductance, rel=0.02)
    assert ready.capacitance == pytest.approx(found.capacitance, rel=0.03)
    assert ready.screening_frequency == pytest.approx(found.screening_frequency, rel=0.03)
    assert ready.eddy_resistance == pytest.approx(found.eddy_resistance, rel=0.08)
    assert ready.eddy_share == pytest.approx(found.eddy_share, abs=0.015)


@pytest.mark.parametrize("name", FITTED)
def test_the_rounded_pickup_meets_the_loaded_measurement(name):
    """Shape at 200k and 470 pF, levels matched below 250 Hz, rms from 200 Hz to 8 kHz [dB].

    The alnico rods' curve slopes from 80 Hz on as no other does; no such model follows it.
    """
    ready = ready_pickup(name)
    measured = curve(FITTED[name][0], "load-200k-470p")
    f = measured.frequency
    fields = ("resistance", "inductance", "capacitance", "eddy_resistance", "eddy_share")
    numbers = {field: getattr(ready, field) for field in (*fields, "screening_frequency")}
    load = (
        1 / 200e3 + 1 / 2.2e6 + 2j * np.pi * f * 470e-12
    )  # the instrument has about 2.2 Mohm by this fit
    h = coil_model.string_response(numbers, f, load)
    miss = 20 * np.log10(np.abs(h)) - measured.level
    miss -= miss[(f > 60) & (f < 250)].mean()
    rms = np.sqrt(np.mean(miss[(f >= 200) & (f <= 8000)] ** 2))
    assert rms < (0.8 if name == "bright single coil" else 0.5)


def test_every_ready_pickup_says_where_it_comes_from():
    for name, pickup in ready_pickups.items():
        assert any(
            word in pickup.source
            for word in ("common practice, no source", "tests/reference", "Premier", "forum bench")
        ), name
    for name, (measured, _) in FITTED.items():
        assert measured in ready_pickups[name].source
    assert sum("fitted to" in pickup.source for pickup in ready_pickups.values()) == len(FITTED)


def test_every_ready_pickup_is_within_what_is_published():
    """L 1-10 H: H. Lemme, "Pickup-Geheimnisse: Beschaltung", gitarrenelektronik.de.

    His 80-200 pF are the winding alone; the measured ones include a lead, 100 pF/m.
    """
    for name, pickup in ready_pickups.items():
        assert 1 <= pickup.inductance <= 10, name
        assert 80e-12 <= pickup.capacitance <= 300e-12, name


def test_the_published_single_coil_resonates_where_its_sheet_says():
    """7.85 kHz: Premier Guitar, "Demystifying DCR"; C = 1/((2 pi f)^2 L) = 141.7 pF."""
    pickup = ready_pickup("lossless single coil")
    assert 1 / ((2 * math.pi * 7850) ** 2 * 2.9) == pytest.approx(pickup.capacitance, abs=0.05e-12)


@pytest.mark.parametrize("name", ready_pickups)
def test_every_ready_pickup_works_in_a_guitar(name):
    """In a guitar with a cable, the loaded peak lies between 1 and 5 kHz where there is one.

    2-5 kHz is common practice; the hot ones with long cables lie lower.
    """
    h = response(guitars.one_pickup(ready_pickup(name)))
    found = float(peak(h).frequency)
    assert np.isfinite(level_db(h)).all()
    assert math.isnan(found) or 1000 < found < 5000


@pytest.mark.parametrize(
    ("name", "message"),
    [
        (
            "hot humbuker",
            "ready pickup: there is no 'hot humbuker'; did you mean 'hot humbucker'?",
        ),
        (
            7,
            "ready pickup: there is no 7; use one of bass single coil, bass split coil, bright "
            "single coil, covered humbucker, hot humbucker, lossless hot humbucker, lossless "
            "single coil, medium humbucker, neck humbucker, steel-pole single coil, wide single "
            "coil.",
        ),
    ],
)
def test_an_unknown_name_is_refused(name, message):
    with pytest.raises(BadSetting) as refusal:
        ready_pickup(name)
    assert str(refusal.value) == message
