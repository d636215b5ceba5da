"""Sound through a guitar against closed forms and scipy; files; the plucked string."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from guitarnet.errors import BadFile, GuitarnetError, NotInstalled
from guitarnet.study.string import audio as sounds
from guitarnet.study.string.audio import (
    impulse_response,
    match_level,
    normalise,
    play_through,
    read_sound,
    sound,
    write_sound,
)
from guitarnet.study.string.pluck import pluck

RATE = 48_000
PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
GUITAR = gn.layouts.one_pickup(PICKUP)
OHMS, FARAD, LOAD = 100e3, 10e-9, 1e6
# A coil of next to no inductance: a resistor and a capacitor behind a loaded jack.
RC = gn.layouts.one_pickup(
    gn.Pickup(OHMS, 1e-9, 0, unusual=True),
    volume="1M",
    tone=None,
    amp=1e9,
    cable=gn.Cable(1, FARAD, unusual=True),
    unusual=True,
)


def bell(sigma, centre=0.02, seconds=0.05, rate=RATE):
    """A bell-shaped pulse, with nothing worth naming above half the rate."""
    time = np.arange(round(seconds * rate)) / rate
    return time, sound(np.exp(-0.5 * ((time - centre) / sigma) ** 2), rate)


# -- through a guitar ----------------------------------------------------------------------------


@pytest.mark.parametrize("sigma", [2e-4, 1e-3])
def test_a_bell_through_rc_in_closed_form(sigma):
    """y' = (k x - y)/tau with x a bell: k tau-weighted error function. Textbook convolution."""
    from scipy.special import erfcx

    time, clip = bell(sigma)
    load = 1 / (1 / 1e6 + 1 / 1e9)
    k, tau = load / (OHMS + load), FARAD * OHMS * load / (OHMS + load)
    t = time - 0.02
    # exp(s²/2tau² - t/tau) erfc(z) without overflow: erfcx(z) exp(-t²/2s²), z = (s/tau - t/s)/√2.
    z = (sigma / tau - t / sigma) / np.sqrt(2)
    scaled = np.where(z > -5, erfcx(np.maximum(z, -5)) * np.exp(-0.5 * (t / sigma) ** 2), 0)
    far = 2 * np.exp(np.minimum(0.5 * (sigma / tau) ** 2 - t / tau, 50))
    expected = k * sigma / tau * np.sqrt(np.pi / 2) * np.where(z > -5, scaled, far)
    found = play_through(clip, RC)
    np.testing.assert_allclose(found.values[: time.size], expected, atol=2e-6 * expected.max())


@pytest.mark.parametrize("volume", [pytest.param(10, marks=pytest.mark.long), 5])
def test_a_bell_through_a_guitar_against_scipy(agreement, volume):
    """Poles and zeros from the symbolic road, an ordinary differential equation by scipy."""
    from scipy.signal import lsim, zpk2ss

    time, clip = bell(1e-4, seconds=0.03)
    zeros, poles = (
        2 * np.pi * found(GUITAR, volume=volume) for found in (gn.formulas.zeros, gn.formulas.poles)
    )
    low = float(gn.formulas.dc_gain(GUITAR, volume=volume))
    gain = (low * np.prod(-poles) / np.prod(-zeros)).real
    fine = np.linspace(0, time[-1], 64 * (time.size - 1) + 1)
    pulse = np.exp(-0.5 * ((fine - 0.02) / 1e-4) ** 2)
    expected = lsim(zpk2ss(zeros, poles, gain), pulse, fine)[1][::64]
    found = play_through(clip, GUITAR, volume=volume).values[: time.size]
    np.testing.assert_allclose(found, expected, atol=2e-6 * np.abs(expected).max())
    loud = np.abs(expected) > 0.1 * np.abs(expected).max()
    agreement(
        "scipy, state space",
        "a pulse through a guitar, where it is loud",
        found[loud],
        expected[loud],
        limit="its time steps",
    )


def test_a_steady_tone_comes_out_as_the_response_says():
    """Any frequency, one between the grid's too: size and phase."""
    hertz, seconds = 1234.5, 1.0
    time = np.arange(int(seconds * RATE)) / RATE
    clip = sound(np.sin(2 * np.pi * hertz * time), RATE)
    found = play_through(clip, GUITAR, volume=[10, 5])
    h = gn.response(GUITAR, frequency=[hertz], volume=[10, 5])
    late = slice(RATE // 4, RATE // 4 * 3)
    for mark in (10, 5):
        value = complex(h.sel(volume=mark).item())
        expected = np.imag(value * np.exp(2j * np.pi * hertz * time[late]))
        np.testing.assert_allclose(found.sel(volume=mark).values[late], expected, atol=2e-6)


def test_the_impulse_response_is_the_response():
    """Its transform, at frequencies of its grid; its sum is the response at 0 Hz."""
    kernel = impulse_response(GUITAR, volume=[10, 5, 0])
    count = kernel.sizes["time"]
    h = gn.response(GUITAR, frequency=np.fft.rfftfreq(count, 1 / RATE)[:-1], volume=[10, 5, 0])
    shift = np.exp(-2j * np.pi * h.frequency.values * float(kernel.time[0]))
    np.testing.assert_allclose(np.fft.rfft(kernel.values)[..., :-1], h / shift, atol=1e-12)
    np.testing.assert_allclose(kernel.sum("time"), h.isel(frequency=0).real, atol=1e-12)
    assert (kernel.sel(volume=0) == 0).all()
    before = kernel.where(kernel.time < -1e-3, 0)
    assert abs(before).max() < 0.01 * abs(kernel).max()
    stated = impulse_response(GUITAR, rate=44_100, duration=0.02)
    assert stated.sizes["time"] == 882
    assert float(stated["rate"]) == 44_100


@pytest.mark.parametrize("rate", [44_150, 44_250])
def test_a_duration_of_an_odd_count_of_samples(rate):
    """883 and 885 of them: the next even count, and the response still."""
    kernel = impulse_response(GUITAR, rate=rate, duration=0.02, volume=5)
    count = kernel.sizes["time"]
    assert count % 2 == 0
    assert abs(count - 0.02 * rate) == 1
    h = gn.response(GUITAR, frequency=np.fft.rfftfreq(count, 1 / rate)[:-1], volume=5)
    shift = np.exp(-2j * np.pi * h.frequency.values * float(kernel.time[0]))
    np.testing.assert_allclose(np.fft.rfft(kernel.values)[:-1], h / shift, atol=1e-12)


def test_a_slow_circuit_is_given_the_time_it_takes():
    slow = gn.layouts.one_pickup(
        gn.Pickup(OHMS, 1e-9, 0, unusual=True),
        volume="100M",
        tone=None,
        amp=1e9,
        cable=gn.Cable(1, 1e-8, unusual=True),
        unusual=True,
    )
    longer = impulse_response(slow.replace("pickup.resistance", "5M"))
    assert longer.sizes["time"] > impulse_response(slow).sizes["time"]
    at_end = abs(longer.isel(time=slice(-20, None))).max() / abs(longer).max()
    assert at_end < 1e-5


def test_channels_builds_and_marks():
    """Dimensions by name; linear; longer than the clip by what rings on."""
    rng = np.random.default_rng(4)
    clip = sound(rng.normal(size=(2, 400)), 44_100)
    both = {"no bleed": GUITAR, "1 nF": gn.layouts.one_pickup(PICKUP, treble_bleed="1n")}
    found = play_through(clip, both, volume=[10, 5])
    assert found.dims == ("build", "volume", "channel", "time")
    assert float(found["rate"]) == 44_100
    assert float(found.time[0]) == 0
    assert found.sizes["time"] > 400
    one = play_through(clip.isel(channel=1), GUITAR, volume=5)
    np.testing.assert_allclose(
        found.sel(build="no bleed", volume=5).isel(channel=1), one, atol=1e-12
    )
    silent = play_through(clip, GUITAR, volume=0)
    assert (silent == 0).all()
    np.testing.assert_allclose(
        found.sel(volume=10, build="1 nF"), found.sel(volume=10, build="no bleed"), atol=1e-12
    )


# -- levels --------------------------------------------------------------------------------------


def test_matched_levels_have_equal_power_and_none_is_turned_up():
    clip = sound(np.random.default_rng(5).normal(size=4000))
    found = play_through(clip, GUITAR, volume=[10, 5, 2, 0])
    matched = match_level(found)
    power = (matched**2).mean("time") ** 0.5
    own = (found**2).mean("time") ** 0.5
    np.testing.assert_allclose(power[:3], own.sel(volume=2), rtol=1e-12)
    assert (matched.gain <= 0).all()
    assert float(matched.gain.sel(volume=2)) == 0
    assert (matched.sel(volume=0) == 0).all()
    assert "equal RMS" in matched.attrs["levels"]


def test_channels_are_matched_together():
    """One gain for both, or a matched sound would lie elsewhere between them."""
    rng = np.random.default_rng(8)
    clip = sound(rng.normal(size=(2, 3000)) * [[1.0], [0.1]])
    found = play_through(clip, GUITAR, volume=[10, 5])
    matched = match_level(found)
    assert matched.gain.dims == ("volume",)
    power = (matched**2).mean(["time", "channel"]) ** 0.5
    assert float(power.sel(volume=10)) == pytest.approx(float(power.sel(volume=5)))
    for clips in (found, matched):
        two = (clips.sel(volume=10) ** 2).mean("time").values
        assert two[0] / two[1] == pytest.approx(100, rel=0.2)


def test_one_gain_for_all():
    """What is compared keeps its differences."""
    clip = sound([1.0, -4.0, 2.0])
    found = play_through(clip, GUITAR, volume=[10, 5])
    turned = normalise(found, -3)
    assert float(abs(turned).max()) == pytest.approx(10 ** (-3 / 20))
    ratio = (turned / found).where(abs(found) > 1e-9)
    assert float(ratio.max() / ratio.min()) == pytest.approx(1)
    assert (normalise(0 * clip) == 0).all()


# -- files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("bits", [16, 32])
def test_written_and_read(tmp_path, bits):
    """Sixteen bits: to half a step. Both are as scipy and soundfile read them."""
    samples = np.random.default_rng(6).uniform(-0.999, 0.999, (2, 500))
    file = write_sound(tmp_path / "a.wav", sound(samples, 44_100), bits=bits)
    again = read_sound(file)
    assert float(again["rate"]) == 44_100
    assert again.dims == ("channel", "time")
    np.testing.assert_allclose(again, samples, atol=2**-16 if bits == 16 else 1e-7)
    assert [path.name for path in tmp_path.iterdir()] == ["a.wav"]


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
@pytest.mark.parametrize("road", ["_by_soundfile", "_by_scipy"])
def test_kinds_of_wav(tmp_path, monkeypatch, subtype, road):
    """Any kind and rate, by either library, with full scale at 1."""
    soundfile = pytest.importorskip("soundfile")
    if road == "_by_scipy":
        monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    samples = np.random.default_rng(7).uniform(-0.9, 0.9, (300, 2))
    file = tmp_path / "b.wav"
    soundfile.write(file, samples, 96_000, subtype=subtype)
    found = read_sound(file)
    assert float(found["rate"]) == 96_000
    step = {"PCM_U8": 2**-7, "PCM_16": 2**-15, "PCM_24": 2**-23}.get(subtype, 2**-24)
    np.testing.assert_allclose(found.values.T, samples, atol=step)


@pytest.mark.parametrize("road", ["soundfile", "scipy"])
def test_eight_bits_have_their_middle_at_128(tmp_path, monkeypatch, road):
    """WAV of 8 bits is unsigned: 128 is silence (IBM and Microsoft, Multimedia Programming
    Interface and Data Specifications 1.0, 1991; from memory)."""
    from scipy.io import wavfile

    by(road, monkeypatch)
    file = tmp_path / "eight.wav"
    wavfile.write(file, 8000, np.array([0, 127, 128, 129, 255], np.uint8))
    expected = [-1, -1 / 128, 0, 1 / 128, 127 / 128]
    np.testing.assert_array_equal(read_sound(file), expected)


def by(road, monkeypatch):
    """Read by one library: without soundfile, or not at all where it is missing."""
    if road == "soundfile":
        pytest.importorskip("soundfile")
    else:
        monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)


def test_other_files_need_soundfile(tmp_path, monkeypatch):
    soundfile = pytest.importorskip("soundfile")
    file = tmp_path / "c.flac"
    soundfile.write(file, np.linspace(-0.5, 0.5, 100), 22_050)
    assert read_sound(file).sizes == {"time": 100}
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(NotInstalled) as caught:
        read_sound(file)
    assert str(caught.value) == (
        "soundfile: is not installed, and c.flac is no WAV file; save it as WAV, or install it "
        "with: pip install 'guitarnet[sound]'."
    )


@pytest.mark.parametrize("road", ["soundfile", "scipy"])
def test_files_that_are_no_sound(tmp_path, monkeypatch, road):
    """One sentence each, whatever library reads."""
    by(road, monkeypatch)
    names = ("text", "none", "odd", "short", "junk", "cut")
    text, none, odd, short, junk, cut = (tmp_path / f"{name}.wav" for name in names)
    text.write_text("this is no sound")
    from scipy.io import wavfile

    wavfile.write(none, 8000, np.zeros(0, np.int16))
    wavfile.write(odd, 8000, np.array([0.0, np.nan], np.float32))
    wavfile.write(cut, 8000, np.ones(100, np.int16))
    short.write_bytes(cut.read_bytes()[:20])
    junk.write_bytes(b"RIFF" + (100).to_bytes(4, "little") + b"WAVE" + b"junk" * 25)
    cut.write_bytes(cut.read_bytes()[:-100])
    for file, said in (
        (tmp_path / "gone.wav", "there is no such file; check the name and folder."),
        (text, "cannot be read as sound; save it as WAV."),
        (none, "holds no samples; record something first."),
        (odd, "holds a sample that is not finite; save it again."),
        (short, "cannot be read as sound; save it as WAV."),
        (junk, "cannot be read as sound; save it as WAV."),
        (
            cut,
            "ends early: 100 of 200 bytes of sound are there; copy it again, or mend it in a "
            "sound editor.",
        ),
    ):
        with pytest.raises(BadFile) as caught:
            read_sound(file)
        assert str(caught.value) == f"{file}: {said}"


@pytest.mark.parametrize("road", ["soundfile", "scipy"])
def test_a_file_with_notes_in_it_is_whole(tmp_path, monkeypatch, road):
    """Chunks that hold no sound, before and behind the samples, one of an odd length."""
    from scipy.io import wavfile

    by(road, monkeypatch)
    file = tmp_path / "noted.wav"
    wavfile.write(file, 8000, np.array([0, 2**14], np.int16))
    data = file.read_bytes()
    notes = b"note" + (3).to_bytes(4, "little") + b"abc\0"
    body = data[8:36] + notes + data[36:] + notes
    file.write_bytes(b"RIFF" + len(body).to_bytes(4, "little") + body)
    np.testing.assert_array_equal(read_sound(file), [0, 0.5])
    file.write_bytes(file.read_bytes()[: -len(notes) - 2])
    with pytest.raises(BadFile, match="ends early: 2 of 4 bytes of sound are there"):
        read_sound(file)


def test_full_scale_of_sixteen_bits_is_a_step_under_1(tmp_path):
    """32767 is the most: 1.0 would wrap to -1. In floating point 1.0 is kept."""
    file = tmp_path / "full.wav"
    with pytest.raises(GuitarnetError) as caught:
        write_sound(file, sound([0.0, 1.0]))
    assert str(caught.value) == (
        "write_sound: would clip by 0.01 dB; turn it down with normalise(clips), together "
        "with all sounds you compare."
    )
    assert not file.exists()
    largest = 1 - 2.0**-15
    write_sound(file, sound([largest, -largest]))
    np.testing.assert_array_equal(read_sound(file), [largest, -largest])
    write_sound(file, sound([1.0, -1.0]), bits=32)
    np.testing.assert_array_equal(read_sound(file), [1, -1])


def test_nothing_is_clipped_silently(tmp_path):
    """Refused with the decibels; nothing is written."""
    file = tmp_path / "loud.wav"
    with pytest.raises(GuitarnetError) as caught:
        write_sound(file, sound([0.0, -2.0]))
    assert str(caught.value) == (
        "write_sound: would clip by 6.02 dB; turn it down with normalise(clips), together "
        "with all sounds you compare."
    )
    assert not file.exists()
    write_sound(file, normalise(sound([0.0, -2.0]), -0.01))
    assert file.exists()


# -- the plucked string --------------------------------------------------------------------------


def spectrum_of(clip):
    """Levels at the multiples of 1 Hz of a second of sound."""
    second = clip.values[:RATE] * np.hanning(RATE)
    return np.abs(np.fft.rfft(second))


def test_a_pluck_has_the_harmonics_of_its_place():
    """At a quarter of the string no 4th, 8th, ...: sin(n pi x/L), textbook."""
    clip = pluck(100.0, pickup="162 mm", fade=30, treble_fade=30, duration=1.5)
    level = spectrum_of(clip)
    there = level[[100, 200, 300, 500, 600, 700]]
    gone = level[[400, 800, 1200]]
    assert gone.max() < 1e-4 * there.min()
    expected = gn.strings.string_spectrum("162 mm", string=100.0, harmonics=7)
    expected = np.abs(expected.values[[0, 1, 2, 4, 5, 6]])
    np.testing.assert_allclose(there / there[0], expected / expected[0], rtol=2e-3)


def test_it_dies_away_as_stated():
    """60 dB in ``fade`` near 0 Hz, and in ``treble_fade`` at 5 kHz."""
    for hertz, seconds in ((20.0, 4.0), (5000.0, 0.5)):
        options = {"scale": 1.0, "distance": 0.5, "pickup": 0.5, "fade": 4.0, "treble_fade": 0.5}
        clip = pluck(hertz, rate=20_000, duration=seconds + 0.3, **options)
        period = round(20_000 / hertz)
        size = [
            np.abs(np.fft.rfft(clip.values[start : start + 20 * period])[20])
            for start in (0, round(seconds * 0.5 * hertz) * period)
        ]
        fallen = 20 * np.log10(size[1] / size[0])
        assert fallen == pytest.approx(-30, abs=0.05)


def test_seeded_and_the_same_again():
    options = {"string": ["E2", "A2", "D3"], "duration": 0.6, "apart": 0.1, "rate": 16_000}
    np.testing.assert_array_equal(pluck(**options), pluck(**options))
    uneven = pluck(**options, unevenness="20%", seed=1)
    np.testing.assert_array_equal(uneven, pluck(**options, unevenness="20%", seed=1))
    assert not np.allclose(uneven, pluck(**options, unevenness="20%", seed=2))
    assert not np.allclose(uneven, pluck(**options))
    assert abs(pluck(**options)).max() < 1


def test_unevenness_goes_both_ways_and_moves_the_place():
    """Plucked in the middle, where the fundamental hardly feels the place and the second
    harmonic is nothing: the one tells the force, the other to which side the place moved."""
    options = {"pickup": 0.25, "scale": 1.0, "distance": 0.5, "rate": 8000, "duration": 1.5}
    options |= {"fade": 30, "treble_fade": 30}

    def harmonics(**more):
        second = pluck(100.0, **options, **more).values[:8000] * np.hanning(8000)
        return -np.fft.rfft(second).imag[[100, 200]]

    plain = harmonics()
    found = np.array([harmonics(unevenness=0.1, seed=seed) for seed in range(24)])
    force, side = found[:, 0] / plain[0], found[:, 1] / plain[0]
    assert abs(side).max() > 0.05
    for deviation, most in ((force - 1, 0.1), (side, abs(side).max())):
        assert deviation.max() > 0.5 * most
        assert deviation.min() < -0.5 * most
    assert abs(force - 1).max() < 0.12
    assert abs(np.corrcoef(force, side)[0, 1]) < 0.7, "force and place vary each by itself"


def test_stiff_strings_are_sharp():
    """f_n = n f0 √(1 + B n²): Fletcher 1964."""
    clip = pluck(100.0, stiffness=0.001, fade=30, treble_fade=30, duration=1.5)
    level = spectrum_of(clip)
    sharp = 10 * 100 * np.sqrt(1 + 0.001 * 100)
    assert abs(int(np.argmax(level[1020:1080])) + 1020 - sharp) <= 1


def test_the_end_is_quiet():
    clip = pluck("E2", duration=0.3)
    assert abs(float(clip[-1])) < 1e-12
    assert float(clip[0]) == 0


# -- refusals ------------------------------------------------------------------------------------

NO_NUMBERS = "sound: is not plain numbers; give samples, or channels of the same length."
NAN = sound([0.0, 0.5]).where(lambda clip: clip > 0)
NAN_SAID = "sound: holds a sample that is not finite; find out where it comes from."


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: sound([]), "sound: has the shape (0,); give samples, or channels."),
        (
            lambda: sound([0.0, np.inf]),
            "sound: holds a sample that is not finite; leave it out.",
        ),
        (
            lambda: play_through(np.zeros(4), GUITAR),
            "sound: an ndarray is no sound; give what read_sound() or pluck() returns.",
        ),
        (
            lambda: play_through(sound(np.zeros((2, 4))), {"a": GUITAR}, volume=xr.DataArray(
                [1.0, 2.0], dims="channel")),
            "channel: is a dimension of the clip and of the guitar; rename it.",
        ),
        (
            lambda: write_sound("never.wav", play_through(sound([0.1]), GUITAR, volume=[10, 5])),
            "write_sound: is given sounds along volume; write one at a time, as "
            "clips.sel({'volume': ...}).",
        ),
        (lambda: write_sound("never.wav", sound([0.1]), bits=8), "bits: 8 is unknown; use 16 or "
         "32."),
        (
            lambda: normalise(sound([0.1]), 3),
            "normalise.peak: 3 is too large; give a value from -200 to 0 (dB re full scale).",
        ),
        (
            lambda: impulse_response(GUITAR, rate=10),
            "impulse_response.rate: 10 is too small; give a value from 1000 to 768000 (samples a "
            "second).",
        ),
        (
            lambda: impulse_response(GUITAR, volume=xr.DataArray([5.0], dims="x").chunk()),
            "impulse_response: takes no chunked setting; give it computed.",
        ),
        (
            lambda: pluck(["E2", "A2"], duration=0.4),
            "pluck: 2 strings, 0.5 s apart, do not fit in 0.4 s; give one or more, and a longer "
            "duration.",
        ),
        (
            lambda: pluck(fade=0.5, treble_fade=2),
            "pluck.treble_fade: 2 s is longer than the fade of 0.5 s; swap them.",
        ),
        *((lambda samples=samples: sound(samples), NO_NUMBERS)
          for samples in ("abc", ["a", "b"], [[1, 2], [1]], [1j], None)),
        *((lambda ask=ask: ask(NAN), NAN_SAID)
          for ask in (match_level, normalise, lambda clip: play_through(clip, GUITAR),
                      lambda clip: write_sound("never.wav", clip))),
        (
            lambda: normalise(sound([0.1]).astype(complex)),
            "sound: a DataArray is no sound; give what read_sound() or pluck() returns.",
        ),
        (lambda: read_sound(None), "path: a NoneType names no file; give one, as 'a.wav'."),
        (
            lambda: write_sound(3, sound([0.1])),
            "path: an int names no file; give one, as 'a.wav'.",
        ),
        (
            lambda: write_sound("never.wav", sound(np.zeros((70_000, 2)))),
            "write_sound: 70000 channels of 2 samples do not fit in a WAV file; write a part of "
            "it at a time.",
        ),
        (
            lambda: play_through(sound([0.1]), GUITAR, frequency=[100]),
            "frequency: is no setting of a sound; leave it out; a sound has all frequencies.",
        ),
        (
            lambda: play_through(sound([0.1]), GUITAR, rate=8000),
            "rate: is given by the clip; leave it out.",
        ),
        (lambda: pluck(None), "string: a NoneType is no list; give notes, as ['E2', 'A2']."),
    ],
)  # fmt: skip
def test_refused(call, message):
    """One sentence each."""
    with pytest.raises(GuitarnetError) as refusal:
        call()
    assert str(refusal.value) == message


def test_what_rings_for_ever(monkeypatch):
    monkeypatch.setattr(sounds, "_LONGEST", 0.05)
    with pytest.raises(GuitarnetError) as caught:
        impulse_response(GUITAR)
    assert str(caught.value) == (
        "impulse_response: the guitar still rings after 0.05 s; give a duration, or look for a "
        "part that makes it ring."
    )
