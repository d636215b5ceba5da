"""Published numbers: each with its source, in tests/reference or beside the check."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from guitarnet import (
    AmpInput,
    Harness,
    Jack,
    Pickup,
    Pot,
    Taper,
    audio_taper,
    bandwidth,
    impedance,
    jack_resistance,
    layouts,
    level_db,
    linear_taper,
    peak,
    response,
)
from guitarnet.files import read_csv_columns
from guitarnet.sweeps import frequency_grid
from guitarnet.values import read_value, triode_input_capacitance

pytestmark = pytest.mark.usefixtures("unusual")  # ideal sources and loads

REFERENCE = Path(__file__).parent / "reference"


def rows(name, *columns):
    table = read_csv_columns(REFERENCE / f"{name}.csv", columns)
    return list(zip(*(table[column] for column in columns), strict=True))


def straight(pickup, load=1e15):
    """A pickup straight into an amp input."""
    return Harness(
        {"pickup": pickup, "jack": Jack(), "amp": AmpInput(load)},
        [("pickup.hot", "jack.tip", "amp.tip"), ("pickup.ground", "jack.sleeve", "amp.sleeve")],
    )


# -- the references themselves --------------------------------------------------------------------


@pytest.mark.parametrize("file", sorted(REFERENCE.glob("*.csv")), ids=lambda file: file.stem)
def test_each_reference_says_where_it_comes_from(file):
    lines = file.read_text(encoding="utf-8").splitlines()
    assert re.match(r"# SOURCE: .{10,}", lines[0])
    header = next(line for line in lines if not line.startswith("#"))
    columns = read_csv_columns(file, header.split(","))
    if "source" in columns:  # every row's number stands in the head
        told = {int(n) for n in re.findall(r"^# SOURCE: (\d+) ", "\n".join(lines), re.MULTILINE)}
        assert set(columns["source"].astype(int)) == told


@pytest.mark.parametrize(
    ("resistance", "inductance", "capacitance", "resonance", "within"),
    rows("resonance", "resistance", "inductance", "capacitance", "resonance", "within"),
)
def test_printed_resonances_are_consistent(resistance, inductance, capacitance, resonance, within):
    """The printed digits agree with f0 = 1/(2 pi sqrt(L C)) as far as the file says."""
    exact = 1 / (2 * math.pi * math.sqrt(inductance * capacitance))
    assert exact == pytest.approx(resonance, rel=within)


# -- resonance ------------------------------------------------------------------------------------
# f0 = 1/(2 pi sqrt(L C)), C = winding + cable.
# H. Lemme, "Pickup-Geheimnisse: Beschaltung", gitarrenelektronik.de.


@pytest.mark.parametrize(
    ("resistance", "inductance", "capacitance"),
    rows("resonance", "resistance", "inductance", "capacitance"),
)
def test_resonance_identity(agreement, resistance, inductance, capacitance):
    """At f0 an unloaded coil's output is exactly -j w0 L / R: a quarter turn, and Q times 1 V."""
    f0 = 1 / (2 * math.pi * math.sqrt(inductance * capacitance))
    h = complex(response(straight(Pickup(resistance, inductance, capacitance)), frequency=[f0])[0])
    q = 2 * math.pi * f0 * inductance / resistance
    assert h == pytest.approx(-1j * q, rel=1e-6)
    agreement(
        "H. Lemme, f0 = 1/(2π√(LC))",
        "output at resonance",
        [h],
        [-1j * q],
        limit="a load of 10^15 Ω, not none",
    )


def test_worked_example_with_winding_and_cable(agreement):
    """8 H, 150 pF of winding and 8 m of cable at 100 pF/m: 1825.63 Hz, printed "about 1827 Hz"."""
    guitar = layouts.one_pickup(
        Pickup("1k", "8 H", "150p"), volume="1G", tone=None, cable="8 m", amp=1e15
    )
    f0 = 1 / (2 * math.pi * math.sqrt(8 * 950e-12))
    assert f"{f0:.2f}" == "1825.63"
    found = peak(response(guitar, frequency=frequency_grid(1e3, 3e3, per_decade=5000)))  # Q is 87
    assert float(found.frequency) == pytest.approx(f0, rel=1e-4)
    assert float(found.frequency) == pytest.approx(1827, rel=1e-3)
    agreement(
        "H. Lemme, worked example",
        "8 H with 950 pF",
        [float(found.frequency)],
        [1827],
        limit="printed as about 1827 Hz",
    )


def test_self_resonance_of_an_inductor(agreement):
    """100 mH, 210 ohm, 100 kHz: 25.33 pF and Q 299.20 (C. E. LaForest)."""
    farad = 1 / ((2 * math.pi * 100e3) ** 2 * 0.1)
    assert farad * 1e12 == pytest.approx(25.33, abs=0.005)
    choke = straight(Pickup(210, "100 mH", farad))
    q = float(abs(response(choke, frequency=[100e3])[0]))
    assert q == pytest.approx(299.20, abs=0.01)
    agreement(
        "C. E. LaForest",
        "Q of an inductor of 100 mH",
        [q],
        [299.20],
        limit="printed to five digits",
    )
    z = np.abs(impedance(choke, frequency=np.linspace(99e3, 101e3, 201)))
    assert float(z.idxmax("frequency")) == pytest.approx(100e3, rel=1e-4)


def test_capacitance_of_a_single_coil_from_its_sheet():
    """2.9 H and 7.85 kHz give 141.7 pF; with it the peak stands where the sheet says."""
    farad = 1 / ((2 * math.pi * 7850) ** 2 * 2.9)
    assert farad * 1e12 == pytest.approx(141.7, abs=0.05)
    found = peak(response(straight(Pickup("6.5k", "2.9 H", "141.7p"))))
    assert float(found.frequency) == pytest.approx(7850, rel=2e-3)


def test_lossless_peak_frequency():
    """With its resistance the peak stands at f0 sqrt(1 - R^2 C / (2 L)), just under f0."""
    r, ell, c = 20e3, 4.0, 600e-12
    f0 = 1 / (2 * math.pi * math.sqrt(ell * c))
    found = peak(
        response(straight(Pickup(r, ell, c)), frequency=frequency_grid(1e3, 10e3, per_decade=1000))
    )
    assert float(found.frequency) == pytest.approx(
        f0 * math.sqrt(1 - r**2 * c / (2 * ell)), rel=1e-5
    )


# -- corners and capacitances ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ohm", "farad", "corner"), rows("rc_corners", "resistance", "capacitance", "corner")
)
def test_rc_corner(agreement, ohm, farad, corner):
    """1/(2 pi R C): the level is half power at the corner, 1 % for the rounded values."""
    guitar = straight(Pickup(ohm, 1e-12, farad))
    h = response(guitar, frequency=frequency_grid(10, 100e3), reference_frequency=10)
    assert float(bandwidth(h)) == pytest.approx(corner, rel=0.01)
    agreement(
        "a cable maker's page",
        "corner of R and C",
        [float(bandwidth(h))],
        [corner],
        limit="values rounded in print",
    )
    exact = 1 / (2 * math.pi * ohm * farad)
    at_corner = response(guitar, frequency=[exact])
    assert float(level_db(at_corner)[0]) == pytest.approx(-10 * math.log10(2), abs=1e-6)


def test_triode_input_capacitance():
    """Cgk + Cga (1 + A): The Valve Wizard, "Grid stopper". Its parts: from memory."""
    assert triode_input_capacitance(2.3e-12, 2.4e-12, 50) == pytest.approx(124.7e-12, rel=1e-12)


def test_cable_capacitance_per_foot():
    """100 pF/m, "30 pF/ft": Sound on Sound, November 2009."""
    assert read_value("30 pF/ft", "F/m") == pytest.approx(100e-12, rel=0.02)


# -- pots -----------------------------------------------------------------------------------------


def pots(taper, count, load):
    """One or two equal pots behind a pickup that is as good as an ideal source."""
    parts = {"pickup": Pickup(1e-6, 1e-12, 0), "jack": Jack()}
    ground, tip = ["pickup.ground", "jack.sleeve"], "pickup.hot"
    joints = []
    for name in ("first", "second")[:count]:
        parts[name] = Pot("250k", taper)
        joints.append((tip, f"{name}.high"))
        ground.append(f"{name}.low")
        tip = f"{name}.wiper"
    joints += [(tip, "jack.tip"), tuple(ground)]
    if math.isfinite(load):
        parts["amp"] = AmpInput(load * 250e3)
        joints += [("jack.tip", "amp.tip"), ("jack.sleeve", "amp.sleeve")]
    return Harness(parts, joints)


@pytest.mark.parametrize(
    ("source", "rotation", "load", "fraction"),
    rows("pots", "source", "rotation", "load", "fraction"),
)
def test_published_pots(agreement, source, rotation, load, fraction):
    laws = {1: (linear_taper(), 1), 2: (linear_taper(), 2), 3: (Taper("1.4^p", base=1.4**10), 1)}
    taper, count = laws[int(source)]
    settings = dict.fromkeys(("first", "second")[:count], 10 * rotation)
    h = complex(response(pots(taper, count, load), frequency=[100.0], **settings)[0])
    digits = 3 if source == 1 else 4
    assert abs(h) == pytest.approx(fraction, abs=0.5 * 10**-digits)
    agreement(
        "three published worked examples",
        "pots loaded, cascaded, tapered",
        [abs(h)],
        [fraction],
        limit="printed to three or four digits",
    )


def test_residual_attenuation_of_a_real_pot():
    """Full up at most 0.05 dB, full down at least 90 dB: a modular pot's datasheet.

    An end resistance of 2 ohm (panel pot datasheets) keeps both.
    """
    guitar = layouts.one_pickup(
        Pickup(1e-6, 1e-12, 0),
        volume=Pot("250k", audio_taper(0.15), end_resistance="2 ohm"),
        tone=None,
        cable=0,
    )
    levels = level_db(response(guitar, frequency=[1e3], volume=[10, 0])).isel(frequency=0)
    assert -0.05 < float(levels.sel(volume=10)) < 0
    assert float(levels.sel(volume=0)) < -90


# -- modern and 50s wiring ------------------------------------------------------------------------
# Where the tone network sits: Premier Guitar, on tone pot wiring. That 50s wiring keeps more
# treble with the volume down is common practice, no source.

COIL = Pickup("6.2k", "2.4 H", "120p")
MARKS = [10, 9, 7, 5, 3, 1]


def by_hand(wiring, mark, tone, hertz):
    """Node voltages of the one-pickup guitar, written out: A at the pickup, B at the jack."""
    taper = audio_taper(0.15)
    s = 2j * np.pi * hertz
    coil, winding = 1 / (6.2e3 + s * 2.4), s * 120e-12
    upper = 1 / (250e3 * (1 - taper(mark / 10)))
    lower = 1 / (250e3 * taper(mark / 10))
    network = 1 / (250e3 * taper(tone / 10) + 1 / (s * 22e-9))
    out = s * 300e-12 + 1 / 1e6
    at_a, at_b = (network, 0) if wiring == "modern" else (0, network)
    matrix = [[coil + winding + upper + at_a, -upper], [-upper, upper + lower + out + at_b]]
    return np.linalg.solve(np.array(matrix), [coil, 0])[1]


@pytest.fixture(scope="module")
def treble_of_50s():
    """Level of 50s over modern wiring, each re its own level at 100 Hz [dB]."""
    builds = {w: layouts.one_pickup(COIL, wiring=w) for w in ("modern", "50s")}
    h = response(builds, volume=MARKS, tone=[10, 7, 5, 2, 0])
    levels = level_db(h, re="reference")
    return h, levels.sel(build="50s") - levels.sel(build="modern")


@pytest.mark.parametrize("tone", [10, 2])
@pytest.mark.parametrize("wiring", ["modern", "50s"])
def test_wirings_by_hand(agreement, treble_of_50s, wiring, tone):
    h, _ = treble_of_50s
    for mark in (7, 3):
        found = h.sel(build=wiring, volume=mark, tone=tone)[::100]
        expected = [by_hand(wiring, mark, tone, f) for f in found.frequency.values]
        assert found.values == pytest.approx(np.array(expected), rel=1e-12)
        agreement("node equations by hand", "modern and 50s wiring", found.values, expected)


def test_50s_keeps_more_treble_at_tone_10(treble_of_50s):
    """At every mark under 10, everywhere from 3 to 8 kHz, re 100 Hz."""
    _, change = treble_of_50s
    band = change.sel(tone=10, volume=MARKS[1:], frequency=slice(3e3, 8e3))
    assert float(band.min()) > 0.05
    assert float(band.sel(volume=5).max()) == pytest.approx(4.7, abs=0.1)


def test_50s_equals_modern_at_volume_10(treble_of_50s):
    """With no end resistance both wirings are one circuit, whatever the tone."""
    h, change = treble_of_50s
    both = h.sel(volume=10)
    np.testing.assert_allclose(both.sel(build="50s"), both.sel(build="modern"), rtol=1e-12)
    assert float(np.abs(change.sel(volume=10)).max()) < 1e-11


def test_with_an_end_resistance_they_differ_at_10():
    pot = Pot("250k", audio_taper(0.15), end_resistance="1%")
    builds = {w: layouts.one_pickup(COIL, wiring=w, volume=pot) for w in ("modern", "50s")}
    h = response(builds, tone=2)
    assert float(np.abs(h.sel(build="50s") / h.sel(build="modern") - 1).max()) > 0.01


CROSSINGS = {  # tone: where 50s begins to keep more treble than modern [Hz], at volume 9, 7, 5, 3
    10: (2490, 1470, 1070, 840),
    7: (2640, 2120, 1640, 1320),
    5: (2960, 2830, 2240, 1800),
    2: (3030, 2960, 2240, 1780),
    0: (2990, 2990, 2050, 1550),
}


@pytest.mark.parametrize("tone", CROSSINGS)
def test_where_the_sign_changes(treble_of_50s, tone):
    """Above 100 Hz 50s first loses a little and then keeps more; the sign changes once.

    The frequencies are this guitar's own, found here on the grid (1.2 % wide): 6.2k, 2.4 H,
    120 pF, 250k audio 15 %, 22 nF, 3 m of cable. The signs stand on `by_hand`.
    """
    _, change = treble_of_50s
    for mark, crossing in zip((9, 7, 5, 3), CROSSINGS[tone], strict=True):
        curve = change.sel(tone=tone, volume=mark, frequency=slice(101, 20e3))
        sign = np.sign(curve.values)
        turns = np.flatnonzero(np.diff(sign))
        assert sign[0] == -1
        assert sign[-1] == 1
        assert turns.size == 1
        found = float(curve.frequency[turns[0]])
        assert found == pytest.approx(crossing, rel=0.02)
        for f, expected in ((found / 1.1, -1), (found * 1.1, 1)):
            ratio = by_hand("50s", mark, tone, f) / by_hand("modern", mark, tone, f)
            low = by_hand("50s", mark, tone, 100) / by_hand("modern", mark, tone, 100)
            assert np.sign(abs(ratio) - abs(low)) == expected


# -- at the meter ---------------------------------------------------------------------------------


@pytest.mark.parametrize("pot", ["250k", "500k"])
@pytest.mark.parametrize("wiring", ["modern", "50s"])
def test_largest_reading_at_the_jack(agreement, pot, wiring):
    """About a quarter of the pot (common practice, no source): exactly (R_pot + DCR) / 4.

    The lower part t R lies parallel to the upper part and the coil, (1 - t) R + DCR; the two are
    equal at t = (R + DCR) / 2R. The tone capacitor blocks the meter's current.
    """
    guitar = layouts.one_pickup(COIL, volume=pot, tone=pot, wiring=wiring, treble_bleed="1n")
    ohms = read_value(pot, "ohm")
    best = (ohms + 6.2e3) / (2 * ohms)
    track = [best - 0.01, best, best + 0.01]
    readings = jack_resistance(guitar, **{"volume.track": track}).values
    assert readings[1] == pytest.approx((ohms + 6.2e3) / 4, rel=1e-14)
    agreement("closed form", "largest reading at the jack", [readings[1]], [(ohms + 6.2e3) / 4])
    assert readings.argmax() == 1
    everywhere = jack_resistance(guitar, **{"volume.track": np.linspace(0, 1, 2001)})
    assert float(everywhere.max()) <= (ohms + 6.2e3) / 4 * (1 + 1e-14)


def test_reading_at_10_and_at_0():
    """At 10 the coil parallel to the pot; at 0 the jack is shorted by the wiper."""
    ohms = jack_resistance(layouts.one_pickup(COIL), volume=[10, 0]).values
    assert ohms.tolist() == [pytest.approx(1 / (1 / 6.2e3 + 1 / 250e3), rel=1e-14), 0.0]


def test_a_parallel_bleed_resistor_shows_on_the_meter():
    """A resistor across the pot's upper part shows; a capacitor alone or in series does not."""
    reading = {
        bleed: float(jack_resistance(layouts.one_pickup(COIL, treble_bleed=bleed), volume=5))
        for bleed in (None, "1n", "1.2n + 130k", "150k || 1n")
    }
    lower, upper = 37.5e3, 212.5e3
    bare = 1 / (1 / lower + 1 / (upper + 6.2e3))
    bridged = 1 / (1 / lower + 1 / (1 / (1 / upper + 1 / 150e3) + 6.2e3))
    assert [reading[b] for b in (None, "1n", "1.2n + 130k")] == pytest.approx([bare] * 3, rel=1e-14)
    assert reading["150k || 1n"] == pytest.approx(bridged, rel=1e-14)
