"""Thermal noise and its weighting: closed forms, a standard's table, ngspice."""

from __future__ import annotations

import subprocess

import numpy as np
import pytest
from random_guitars import random_guitars

import guitarnet as gn
from guitarnet.errors import GuitarnetError
from guitarnet.study.formulas.handover import to_spice
from guitarnet.study.spread import noise
from guitarnet.study.spread.noise import (
    a_weighting_db,
    hum_table,
    noise_level,
    noise_spectrum,
    noise_table,
)

pytestmark = pytest.mark.usefixtures("unusual")  # ideal sources and loads

K = 1.380649e-23  # J/K, exact: CODATA 2018
PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
GUITAR = gn.layouts.one_pickup(PICKUP)
FIVE = gn.layouts.three_single_coils(PICKUP, PICKUP, PICKUP)


def resistor(ohms):
    """As near to a bare resistor across a jack as a pickup comes."""
    return gn.layouts.pickup_alone(gn.Pickup(ohms, 1e-9, 0))


# -- the weighting -------------------------------------------------------------------------------

# IEC 61672-1:2013, table 3, A-weighting at the nominal third-octave frequencies, in dB.
TABLE_3 = [
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4,
    -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1,
    -2.5, -4.3, -6.6, -9.3,
]  # fmt: skip


def test_a_weighting_against_the_standard(agreement):
    """Rounded to a tenth in print; at the exact frequencies 10^(n/10), 10 Hz to 20 kHz."""
    exact = 10 ** (np.arange(10, 44) / 10)
    np.testing.assert_allclose(a_weighting_db(exact), TABLE_3, atol=0.0501)
    assert len(TABLE_3) == len(exact)
    ours, theirs = (10 ** (np.asarray(db) / 20) for db in (a_weighting_db(exact), TABLE_3))
    agreement(
        "IEC 61672-1, table 3",
        "A-weighting, 10 Hz to 20 kHz",
        ours,
        theirs,
        limit="printed to 0.1 dB",
    )


def test_a_weighting_at_the_ends():
    assert np.isneginf(a_weighting_db([0.0, 100.0])[0])
    assert a_weighting_db(1000.0) == pytest.approx([0.0], abs=1e-12)


# -- closed forms --------------------------------------------------------------------------------


def test_published_values(agreement):
    """1k at 300 K: 4.07 nV/√Hz; 100k, 295 K, 100 kHz wide: 12.8 µV. Handbook arithmetic of 4kTR."""
    density = noise_spectrum(resistor("1k"), frequency=[1.0], at="jack", temperature=26.85)
    assert density.item() * 1e9 == pytest.approx(4.07, rel=3e-3)
    wide = noise_level(
        resistor("100k"), weighting=None, band=(1, 100_001), at="jack", temperature=21.85
    )
    assert float(wide.voltage) * 1e6 == pytest.approx(12.8, rel=3e-3)
    ours = [density.item() * 1e9, float(wide.voltage) * 1e6]
    agreement(
        "handbook values of 4kTR",
        "thermal noise of resistors",
        ours,
        [4.07, 12.8],
        limit="printed to three digits",
    )


@pytest.mark.parametrize("ohms", [1e3, 6.2e3, 250e3])
def test_all_frequencies_together_are_kt_over_c(ohms):
    """The noise of any R across C is √(kT/C) in all: equipartition, textbook."""
    farad = 500e-12
    rc = gn.layouts.pickup_alone(gn.Pickup(ohms, 1e-12, farad))
    corner = 1 / (2 * np.pi * ohms * farad)
    band = corner / 1e6, corner * 1e6
    found = noise_level(rc, weighting=None, band=band, at="jack", temperature=20)
    expected = np.sqrt(K * 293.15 / farad)
    assert float(found.voltage) == pytest.approx(expected, rel=1e-6)


def test_a_band_of_an_rc_in_closed_form():
    """kT/C (2/pi) (atan(f2/fc) - atan(f1/fc))."""
    ohms, farad, low, high = 100e3, 220e-12, 200.0, 5000.0
    rc = gn.layouts.pickup_alone(gn.Pickup(ohms, 1e-12, farad))
    corner = 1 / (2 * np.pi * ohms * farad)
    share = 2 / np.pi * (np.arctan(high / corner) - np.arctan(low / corner))
    found = noise_level(rc, weighting=None, band=(low, high), at="jack", temperature=20)
    assert float(found.voltage) == pytest.approx(np.sqrt(K * 293.15 / farad * share), rel=1e-9)


def test_equipartition_of_a_whole_guitar():
    """At the amp input of any guitar the cable's capacitor alone has kT/C at high frequency.

    The capacitance seen at infinite frequency is that of cable and of what else lies across it
    without resistance: at volume 10 the winding too.
    """
    found = noise_level(GUITAR, weighting=None, band=(0.01, 1e10), volume=10)
    assert float(found.voltage) == pytest.approx(np.sqrt(K * 293.15 / 420e-12), rel=1e-4)


def test_weighted_noise_is_less_and_turned_off_there_is_none():
    plain = noise_level(GUITAR, weighting=None, volume=[10, 5, 0])
    weighted = noise_level(GUITAR, volume=[10, 5, 0])
    assert (weighted.voltage[:2] < plain.voltage[:2]).all()
    assert float(weighted.voltage.sel(volume=0)) == 0
    assert np.isneginf(weighted.level.sel(volume=0))
    difference = weighted.level - 20 * np.log10(weighted.voltage[:2] / 0.1)
    np.testing.assert_allclose(difference, 0, atol=1e-12)


def test_behind_a_grid_resistor():
    """At volume 0 the grid resistor alone is heard: 68k."""
    guitar = GUITAR.replace("amp", gn.AmpInput("1M", grid_resistance="68k"))
    found = noise_spectrum(guitar, frequency=[1000.0], at="grid", volume=0)
    assert float(found.item()) == pytest.approx(np.sqrt(4 * K * 293.15 * 68e3), rel=1e-12)
    assert float(noise_spectrum(guitar, frequency=[1000.0], volume=0).item()) == 0


def test_warmth_and_settings():
    """Noise goes with the root of the temperature; any list is a dimension."""
    cold, warm = (noise_spectrum(GUITAR, frequency=[1e3], temperature=t, volume=5) for t in (0, 40))
    assert (warm / cold).item() == pytest.approx(np.sqrt(313.15 / 273.15), rel=1e-12)
    found = noise_spectrum(GUITAR, frequency=[1e3, 2e3], volume=[10, 5], **{"cable.length": [1, 5]})
    assert found.dims == ("volume", "cable.length", "frequency")
    assert "all parts at 20 °C" in found.attrs["assumptions"]


def test_what_rounding_leaves_below_zero_is_nothing(monkeypatch):
    """Re Z of a passive circuit is never negative; its size would be noise that is not there."""
    honest = noise.ac.node_impedance
    monkeypatch.setattr(noise.ac, "node_impedance", lambda *a, **k: 0 * honest(*a, **k) - 1e-9)
    assert (noise_spectrum(GUITAR, frequency=[100.0, 1000.0]) == 0).all()


def test_what_is_told_at_the_jack_and_at_the_amp():
    """The amp is no part of what is heard with the amp removed."""
    at_amp, at_jack = (
        noise_spectrum(GUITAR, frequency=[1e3], at=at, volume=5) for at in ("amp", "jack")
    )
    assert "amp 1 MΩ" in at_amp.attrs["guitar"]
    assert "amp" not in at_jack.attrs["guitar"]
    assert at_jack.attrs["guitar"].endswith("; volume 5")
    loaded = noise_spectrum(GUITAR, frequency=[1e3], at="jack", **{"amp.resistance": "500k"})
    assert "amp" not in loaded.attrs["guitar"]


def test_chunked_settings_stay_lazy():
    dask = pytest.importorskip("dask")
    assert dask
    import xarray as xr

    marks = xr.DataArray([10.0, 5.0, 2.0], dims="volume").chunk({"volume": 1})
    lazy = noise_level(GUITAR, volume=marks)
    assert lazy.voltage.chunks is not None
    np.testing.assert_allclose(
        lazy.voltage.compute(), noise_level(GUITAR, volume=[10, 5, 2]).voltage, rtol=1e-12
    )


# -- another program -----------------------------------------------------------------------------


def ngspice_noise(program, text, folder):
    """Noise at node 1 from ngspice, by its own sum over every resistor: f [Hz], V/√Hz."""
    cards = [
        line for line in text.splitlines() if not line.startswith((".ac", ".print", ".end", ".opt"))
    ]
    cards += [
        ".options temp=27",
        ".control",
        "set numdgt=15",
        "noise v(1) V1 dec 10 20 20000",
        "setplot noise1",
        "wrdata noise onoise_spectrum",
        "quit 0",
        ".endc",
        ".end",
    ]
    deck = folder / "noise.cir"
    deck.write_text("\n".join(cards) + "\n", encoding="utf-8")
    subprocess.run(
        [program, "-n", "-b", deck.name], cwd=folder, check=True, capture_output=True, timeout=60
    )
    return np.loadtxt(folder / "noise").T


def test_against_ngspice(ngspice, agreement, tmp_path):
    """Generated guitars, eddy losses too: 4kT Re(Z) is the sum over all resistors.

    Not with screening: its section stands for metal in a field, and the resistor that ngspice
    would hear there is no part of the guitar.
    """
    compared = 0
    for drawn in random_guitars(21, 40, travel="middle"):
        pickups = [n for n in drawn.guitar.parts if n.startswith("pickup")]
        screened = any(getattr(drawn.guitar.parts[n], "screening_frequency", None) for n in pickups)
        if screened or drawn.at != "amp":
            continue
        text = to_spice(drawn.guitar, per_decade=10, at="amp", **drawn.marks)
        f, expected = ngspice_noise(ngspice, text, tmp_path)
        found = noise_spectrum(drawn.guitar, frequency=f, temperature=27, **drawn.marks)
        # Its Boltzmann constant is an older one.
        np.testing.assert_allclose(found, expected, rtol=2e-6)
        agreement(
            "ngspice",
            "thermal noise at the amp",
            found,
            expected,
            limit="its older Boltzmann constant",
        )
        compared += 1
    assert compared >= 8


# -- tables --------------------------------------------------------------------------------------


def test_table_of_noise():
    table = noise_table(GUITAR, marks=[10, 0], signal="200 mV")
    volts = float(noise_level(GUITAR, volume=10).voltage)
    assert table.columns == ("volume", "µV", "dB re 200 mV")
    assert table.rows == [
        ("10", f"{1e6 * volts:.2f}", f"{20 * np.log10(volts / 0.2):.1f}"),
        ("0", "0.00", "silent"),
    ]


def test_temperature_as_a_person_writes_it():
    assert noise_table(GUITAR, temperature="25").note.endswith("all parts at 25 °C.")
    assert noise_table(GUITAR, temperature="25").rows == noise_table(GUITAR, temperature=25).rows


def test_the_level_of_hum_is_that_at_50_hz():
    """Not the largest: two unlike coils cancel less and less as the frequency rises."""
    light = gn.Pickup("6k", "2 H", "120p", turns=7000)
    heavy = gn.Pickup("6k", "10 H", "100n", winding=-1, turns=7000)
    guitar = gn.layouts.three_single_coils(light, light, heavy)
    found = gn.audio.hum(
        guitar, frequency=[50.0, 60.0, 100.0, 120.0], switch="middle+bridge"
    ).residual
    row = next(row for row in hum_table(guitar) if row[0] == "middle+bridge")
    assert row[1] == f"{float(found.sel(frequency=50)):.1f}"
    assert float(found.max()) > float(found.sel(frequency=50)) + 1


def test_table_of_hum():
    """Reverse-wound in the middle: no hum in the two places between."""
    coil, reverse = (gn.Pickup("6k", "2.2 H", "120p", winding=w, magnet=w) for w in (1, -1))
    guitar = gn.layouts.three_single_coils(coil, reverse, coil)
    assert [row[2] for row in hum_table(guitar)] == ["no", "yes", "no", "yes", "no"]
    assert [row[1] for row in hum_table(guitar)][:2] == ["0.0", "none"]
    alike = gn.layouts.three_single_coils(coil, coil, coil)
    assert [row[2] for row in hum_table(alike)] == ["no"] * 5
    both = float(hum_table(alike).rows[1][1])
    assert both == pytest.approx(6.02, abs=0.05)  # two equal coils, one field


# -- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: noise_spectrum(GUITAR, at="volume.wiper"),
            "at: 'volume.wiper' is no place; use 'amp', 'grid' or 'jack'.",
        ),
        (
            lambda: noise_spectrum(GUITAR, temperature=-300),
            "temperature: -300 is too small; give a value from -273.15 to 1000 (in °C).",
        ),
        (
            lambda: noise_level(GUITAR, weighting="C"),
            "weighting: 'C' is unknown; use 'A' or None.",
        ),
        (
            lambda: noise_level(GUITAR, band=(1000, 100)),
            "band: 1000 to 100 is an empty range; give low below high.",
        ),
        (
            lambda: noise_spectrum(GUITAR.lift("volume.wiper").replace("cable.length", 0),
                                   at="jack"),
            "noise: nothing lies across the jack; listen at 'amp', or join a pickup.",
        ),
        (
            lambda: noise_table(GUITAR, tone=[10, 5]),
            "tone: is a list; give one value; the rows are of volume.",
        ),
        (
            lambda: hum_table(GUITAR),
            "switch: there is none; use guitarnet.audio.hum.",
        ),
        (
            lambda: hum_table(GUITAR, switch="volume"),
            "switch: 'volume' is no switch; name a switch of the guitar.",
        ),
        (
            lambda: hum_table(None),
            "guitar: a NoneType is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: hum_table(FIVE, switch="neck"),
            "switch: 'neck' is no switch; name a switch of the guitar.",
        ),
        (
            lambda: hum_table(FIVE, **{"switch.place": "neck"}),
            "switch.place: is the switch of the rows; leave it out.",
        ),
        (
            lambda: hum_table(FIVE, frequency=[60]),
            "frequency: is 50 Hz here; leave it out, or use guitarnet.audio.hum.",
        ),
        (
            lambda: noise_table(GUITAR, volume=3),
            "volume: is the knob of the rows; give its marks as marks=[10, 5].",
        ),
        (
            lambda: noise_table(GUITAR, marks=5),
            "marks: an int is no list; give a list, as [10, 5].",
        ),
        (
            lambda: noise_table(GUITAR, marks=None),
            "marks: a NoneType is no list; give a list, as [10, 5].",
        ),
        (
            lambda: noise_level(GUITAR, band=(3,)),
            "band: is a list of 1, not of two; give the lowest and the highest frequency.",
        ),
        (
            lambda: noise_level(GUITAR, band=None),
            "band: a NoneType is no list; give the lowest and the highest frequency.",
        ),
    ],
)  # fmt: skip
def test_refused(call, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        call()
    assert str(refusal.value) == message
