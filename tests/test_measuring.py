"""Measuring with a sound card, from recordings of the simulated chain in tools/sound_card.py.

What is true there is a closed formula, and the chain is written apart from what reads it. The
campaign with its figures is `tools/measuring.py`.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import soundfile

import guitarnet as gn
import sound_card
from guitarnet.command.line import main
from guitarnet.study.measuring.stimulus import TONES, stimulus_samples

SEED, RATE = 3, 44_100
NAMES = ("open", "short", "known", "thing", "again")


def played():
    return np.round(stimulus_samples(RATE, -6.0, 3) * 2.0**15) / 2.0**15


@pytest.fixture(scope="module")
def session():
    """One session with a bare pickup; one clock, 16 bits, hum of -40 dBFS."""
    rng = np.random.default_rng(SEED)
    chain = sound_card.draw_chain(rng, rate=RATE, bits=16, mains=50.0, clock=0.0)
    return sound_card.session(played(), chain, sound_card.any_pickup(rng), SEED)


@pytest.fixture(scope="module")
def sounds(session):
    return {name: gn.audio.sound(session.recordings[name], RATE) for name in NAMES}


@pytest.fixture(scope="module")
def calibration(session, sounds):
    chain = session.chain
    plugs = (sounds[name] for name in ("open", "short", "known"))
    return gn.measuring.read_calibration(
        *plugs, chain.known, accuracy="0.1%", series=chain.resistor
    )


@pytest.fixture(scope="module")
def measured(sounds, calibration):
    return gn.measuring.read_impedance(sounds["thing"], calibration, sounds["again"], name="pickup")


def test_the_impedance_is_that_of_the_closed_formula(session, measured):
    """0.05 dB and 0.3 degrees from 20 Hz to 20 kHz, and within the errors that are stated."""
    true = session.thing.impedance(TONES)
    ratio = measured["impedance"].values / true
    assert np.abs(20 * np.log10(np.abs(ratio))).max() < 0.05
    assert np.abs(np.degrees(np.angle(ratio))).max() < 0.3
    spread = measured["standard_error"].values / np.abs(true)
    assert np.mean(np.abs(np.abs(ratio) - 1) <= 2 * spread) > 0.9
    assert np.all(spread < 0.02)
    parts = measured["error_by_cause"]
    assert list(parts["cause"].values) == ["frames", "drift", "resistor"]
    assert np.allclose((parts**2).sum("cause"), measured["standard_error"] ** 2)
    assert np.allclose(parts.sel(cause="resistor"), 1e-3 / np.sqrt(3) * np.abs(measured.impedance))


def test_hum_and_drift_are_told(measured):
    assert float(measured["mains"]) == 50
    assert abs(float(measured["hum"]) + 40) < 1.5
    assert float(measured["drift_seen"]) < 0.01
    checked = measured["check"].values
    assert {"drift of the open plug [dB]", "hum [dBFS]"} <= set(checked)


def test_the_calibration_gives_the_input(session, calibration):
    chain = session.chain
    truth = chain.input_resistance[1], chain.input_capacitance[1] + chain.stray
    assert abs(calibration.input_capacitance / truth[1] - 1) < 0.02
    off = calibration.input_resistance - truth[0]
    assert abs(off) < 2 * calibration.input_resistance_error
    assert calibration.load.capacitance == calibration.input_capacitance
    assert "resistance of the input" in str(calibration)


def test_a_fit_takes_it_as_it_is(session, measured):
    fit = gn.fit_pickup(measured)
    assert abs(fit.values["inductance"].value / session.thing.inductance - 1) < 0.01
    assert abs(fit.values["capacitance"].value / session.thing.capacitance - 1) < 0.03
    assert fit.curves[0].curve.name == "pickup"


@pytest.mark.parametrize("ending", ["csv", "s1p"])
def test_files_read_back(measured, tmp_path, ending):
    """Touchstone by scikit-rf, which is none of ours."""
    path = gn.measuring.save_measurement(measured, tmp_path / f"pickup.{ending}")
    curve = gn.fitting.read_curve(path, load=gn.fitting.Load())
    assert np.allclose(curve.frequency, TONES, rtol=1e-8)
    assert np.allclose(curve.magnitude, np.abs(measured["impedance"]), rtol=1e-7)
    phase = np.degrees(np.angle(measured["impedance"]))
    assert np.allclose(curve.phase_deg, phase, rtol=0, atol=1e-6)


def test_an_unknown_ending_is_refused(measured, tmp_path):
    with pytest.raises(gn.errors.BadFile, match=r"end it in \.csv or \.s1p"):
        gn.measuring.save_measurement(measured, tmp_path / "pickup.txt")


def hum_of(amplitude):
    return amplitude * np.sin(2 * np.pi * 50 * np.arange(400_000) / RATE)


def with_tip(samples, tip):
    return np.stack([samples[0], np.clip(tip, -1, 1)])


def crackling(samples, opened):
    count = min(samples.shape[1], opened.shape[1])
    bad = np.arange(count) // 441 % 40 == 0  # 10 ms of each 0.4 s
    return with_tip(samples[:, :count], np.where(bad, opened[1, :count], samples[1, :count]))


SPOILT = {
    "too strong": lambda s, o: with_tip(s, s[1] + hum_of(0.5)[: s.shape[1]]),
    "clips in the channel of the reference": lambda s, o: np.clip(4 * s, -1, 1 - 2**-15),
    "there was no output": lambda s, o: s * 1e-4,
    "nothing is plugged in": lambda s, o: o,
    "the channels are swapped": lambda s, o: s[::-1],
    "the same sound in both channels": lambda s, o: s[[1, 1]],
    "a contact crackles": crackling,
    "samples were lost": lambda s, o: np.delete(s, slice(150_000, 150_064), axis=1),
    "has 1 channel;": lambda s, o: s[:1],
    "s of sound where": lambda s, o: s[:, :60_000],
    "but its tones stand where 44100": None,
}


@pytest.mark.parametrize("words", SPOILT)
def test_each_mistake_has_its_sentence(session, sounds, calibration, words):
    samples, opened = session.recordings["thing"], session.recordings["open"]
    spoil = SPOILT[words]
    clip = gn.audio.sound(spoil(samples, opened) if spoil else samples, RATE if spoil else 48_000)
    with pytest.raises(gn.errors.BadFile) as refused:
        gn.measuring.read_impedance(clip, calibration)
    assert words in str(refused.value)


def test_a_shorted_jack(sounds, calibration):
    with pytest.raises(gn.errors.BadFile) as refused:
        gn.measuring.read_impedance(sounds["short"], calibration)
    assert str(refused.value).endswith(
        "Ω at every frequency: the jack is shorted, or the volume stands at 0; turn the volume "
        "up, look for a short, and record again."
    )


def test_a_stale_calibration(session, sounds, calibration):
    """A gain that was turned by half a decibel, and no more than the drift of a session."""
    turned = gn.audio.sound(session.recordings["open"] * [[1.0], [10**0.025]], RATE)
    with pytest.raises(gn.errors.BadFile, match=r"moved by 0\.50 dB: a gain was turned, so the"):
        gn.measuring.read_impedance(sounds["thing"], calibration, turned)


@pytest.mark.parametrize(
    ("order", "words"),
    [
        (("short", "open", "known"), "given as an open plug and reads less than a short"),
        (("open", "known", "short"), "given as the known resistor and reads less than a short"),
        (("known", "short", "open"), "given as an open plug and reads less than the known"),
    ],
)
def test_exchanged_calibrations(session, sounds, order, words):
    with pytest.raises(gn.errors.BadFile) as refused:
        gn.measuring.read_calibration(*(sounds[name] for name in order), session.chain.known)
    assert words in str(refused.value)
    assert "calibrations are exchanged; give each recording as what was plugged" in str(
        refused.value
    )


def test_a_known_resistor_of_another_value(session, sounds):
    plugs = (sounds[name] for name in ("open", "short", "known"))
    with pytest.raises(gn.errors.BadFile, match=r"or a resistor is another; give the resistance"):
        gn.measuring.read_calibration(*plugs, 3 * session.chain.known, series="47k")


def test_the_level_under_an_exciter_is_kept(session, calibration):
    """Voltage of a pickup over an exciter coil: shape as computed, level whatever the output."""
    chain, thing = dataclasses.replace(session.chain, clock=60.0), session.thing

    def coupled(f):
        s = 2j * np.pi * f
        return 2e-5 * s / (1 + s * 0.5 * thing.capacitance * 1e4)

    curves = []
    for loudness in (1.0, 0.5):
        rng = np.random.default_rng(1)
        samples = sound_card.record(loudness * played(), chain, thing, rng, coupled=coupled)
        clip = gn.audio.sound(samples, RATE)
        curves.append(gn.measuring.read_transfer(clip, calibration, name="driven"))
    one, other = (curve["transfer"].values for curve in curves)
    assert [round(float(curve["clock"]), 1) for curve in curves] == [60.0, 60.0]
    heard = TONES > 200
    assert np.abs(20 * np.log10(np.abs(one / other)))[heard].max() < 0.05
    input_two = 1 / chain.input_resistance[1] + 2j * np.pi * TONES * chain.input_capacitance[1]
    true = coupled(TONES) / (1 + thing.impedance(TONES) * input_two)
    assert np.abs(20 * np.log10(np.abs(one / true)))[heard].max() < 0.1
    measurements = gn.fitting.Measurements(curves[0])
    (curve,) = measurements.curves
    assert (curve.kind, curve.slope, curve.name) == ("string", 20, "driven")
    assert curve.load == calibration.load


def test_tones_lie_clear_of_mains_and_of_each_other(tmp_path):
    path = gn.measuring.write_stimulus(tmp_path / "tones.wav", rate=RATE, peak=-12)
    samples, rate = soundfile.read(path)
    assert (rate, samples.shape[1]) == (RATE, 2)
    assert np.array_equal(samples[:, 0], samples[:, 1])
    assert abs(20 * np.log10(np.abs(samples).max()) + 12) < 0.01
    period = samples[30_000 : 30_000 + RATE * 3 // 2, 0]
    assert 20 * np.log10(np.abs(period).max() / period.std()) < 11
    lines = np.abs(np.fft.rfft(period))
    (bins,) = np.nonzero(lines > lines.max() / 10)
    assert np.allclose(bins / 1.5, TONES)
    assert len(bins) == 50
    assert np.all(bins % 2 == 1)
    assert bins[0] / 1.5 < 20 < 20e3 < bins[-1] / 1.5
    for mains in (50, 60):
        nearest = mains * np.maximum(np.round(TONES / mains), 1)
        assert np.abs(TONES - nearest).min() >= 4 - 1e-9


def test_the_adapter_is_drawn_with_its_cautions():
    words = " ".join(text.get_text() for text in gn.measuring.draw_adapter("68k").texts)
    assert "68 kΩ" in words
    for caution in ("never an output for loudspeakers", "Phantom power off", "unplugged"):
        assert caution in words


def test_the_verb_measures(session, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["measure", "--out", "play", "--rate", "44100"]) == 0
    assert {path.name for path in (tmp_path / "play").iterdir()} == {
        "tones.wav", "adapter.svg", "adapter.png",
    }  # fmt: skip
    for name in NAMES:
        soundfile.write(f"{name}.wav", session.recordings[name].T, RATE, "PCM_16")
    words = ["measure", "thing.wav", "--open", "open.wav", "--short", "short.wav"]
    assert main(words) == 2
    assert "--known: is needed to calibrate" in capsys.readouterr().err
    known = [f"--resistance={session.chain.known:.0f} ohm", "--known", "known.wav"]
    series = f"--series={session.chain.resistor:.0f} ohm"
    assert main([*words, *known, series, "--again", "again.wav"]) == 0
    said = capsys.readouterr().out
    assert "Impedance of thing" in said
    assert "The open plug has drifted by 0.0" in said
    left = {path.name for path in (tmp_path / "measured").iterdir()}
    assert left == {"thing.csv", "thing.s1p", "thing.png", "measured.txt"}


def test_a_clock_that_is_off_samples_the_same_sound_elsewhere():
    """The chain itself: Bluestein's transform against the sum it stands for."""
    rng = np.random.default_rng(0)
    spectrum, off, count = np.fft.rfft(rng.standard_normal(64)), 1e-3, 64
    weights = np.full(33, 2.0)
    weights[[0, -1]] = 1.0
    k, n = np.arange(33), np.arange(count)[:, None]
    sums = (spectrum * weights * np.exp(2j * np.pi * k * n * (1 + off) / count)).sum(axis=1).real
    (sampled,) = sound_card.sampled([spectrum], count, off)
    assert np.allclose(sampled, sums / count, atol=1e-12)
