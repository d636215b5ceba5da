"""Hearing in a real browser: its filters, switches and levels against Python's."""

from __future__ import annotations

import base64
import io
import json
import re

import numpy as np
import pytest
import xarray as xr
from seen_on_pages import data_of, notes_of

import guitarnet as gn
from guitarnet.show.page.hearing import PLUCKED, hearing_parts, script_of
from guitarnet.show.page.html_view import asset, inert, policy
from guitarnet.show.page.listen import listen

LATE = 256  # samples by which the page's filters are late
TENTH = 10 ** (0.1 / 20) - 1  # 0.1 dB
SETTINGS = [
    (volume, tone, bleed)
    for volume, tone in ((10, 10), (7, 10), (5, 10), (2, 10), (5, 3))
    for bleed in (None, "150k || 1n")
]
NAMES = [f"{bleed or 'no bleed'} at {volume}, tone {tone}" for volume, tone, bleed in SETTINGS]

SOURCE = """
const data = JSON.parse(document.getElementById("data").textContent);
let asked = 0;
let changed = null;
/** A ratio of polynomials in s, its powers rising; s in units of 2 pi 1 kHz. */
function response(index, frequencies) {
  asked += 1;
  const worth = (p, w) => [0, 1].map((odd) =>
    p.reduce((sum, c, k) => sum + (k % 2 === odd ? (k % 4 < 2 ? c : -c) * w ** k : 0), 0));
  const [re, im] = [frequencies.map(() => 0), frequencies.map(() => 0)];
  const [above, below] = data.ratios[index];
  frequencies.forEach((hertz, k) => {
    const [[a, b], [c, d]] = [worth(above, hertz / 1000), worth(below, hertz / 1000)];
    re[k] = (a * c + b * d) / (c * c + d * d);
    im[k] = (b * c - a * d) / (c * c + d * d);
  });
  return { re, im };
}
const hearing = makeHearing(document.getElementById("hear"), {
  names: () => data.names, response, onChange: (callback) => (changed = callback),
});
"""

OPENED = """
// Counts how often the way to the loudspeaker is opened.
window.opened = 0;
window.AudioContext = class extends AudioContext {
  constructor(...how) {
    super(...how);
    window.opened += 1;
  }
};
"""

PLAY = """
/** Float samples as base64. */
function packed(samples) {
  const bytes = new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength);
  let text = "";
  for (let i = 0; i < bytes.length; i += 8192) {
    text += String.fromCharCode(...bytes.subarray(i, i + 8192));
  }
  return btoa(text);
}
/** A sound of plain numbers. */
function soundOf(samples, rate) {
  const buffer = new AudioBuffer({ length: samples.length, sampleRate: rate });
  buffer.copyToChannel(Float32Array.from(samples), 0);
  return buffer;
}
/** Render a chain whose changes are [seconds, what it hears]. */
async function rendered(length, rate, make, changes) {
  const context = new OfflineAudioContext(1, length, rate);
  const chain = make(context);
  for (const [seconds, ...heard] of changes) {
    if (!seconds) chain.hear(...heard);
    else context.suspend(seconds).then(() => {
      chain.hear(...heard);
      context.resume();
    });
  }
  return (await context.startRendering()).getChannelData(0);
}
"""


def guitar(bleed: str | None) -> gn.Harness:
    pickup = gn.Pickup("6.2k", "2.4 H", "120p")
    return gn.layouts.one_pickup(pickup, cable="5 m", treble_bleed=bleed)


def coefficients(volume: float, tone: float, bleed: str | None) -> list[list[float]]:
    import sympy

    s = sympy.Symbol("s")
    ratio = sympy.fraction(gn.formulas.transfer_function(guitar(bleed), volume=volume, tone=tone))
    unit = 2 * np.pi * 1000
    return [
        [float(c) * unit**k for k, c in enumerate(reversed(sympy.Poly(part, s).all_coeffs()))]
        for part in ratio
    ]


def page_of(names: list[str], ratios: list) -> str:
    parts = hearing_parts()
    script = asset("elements.js") + parts["js"] + OPENED + PLAY + SOURCE
    data = inert({"names": names, "ratios": ratios})
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy(script)}">'
        '<link rel="icon" href="data:,"><title>Hearing</title>'
        f"<style>{asset('view.css')}{parts['css']}</style></head><body><main><h1>Hearing</h1>"
        '<section id="hear"></section></main>'
        f'<script id="data" type="application/json">{data}</script><script>{script}</script>'
        "</body></html>"
    )


@pytest.fixture(scope="module")
def ratios() -> list:
    return [coefficients(*setting) for setting in SETTINGS]


@pytest.fixture
def page(visit, ratios):
    return visit(content=page_of(NAMES, ratios), viewport=(900, 500))


def floats(text: str) -> np.ndarray:
    return np.frombuffer(base64.b64decode(text), "<f4").astype(float)


def largest_bend(samples: np.ndarray) -> float:
    """Largest second difference, which a click stands out in."""
    return float(np.abs(np.diff(samples, 2)).max())


def said(page, words: str) -> str:
    """Wait for a word in the status; the line about the levels."""
    page.get_by_role("status").filter(has_text=words).wait_for()
    return page.locator(".gains").text_content().replace("\u2212", "-")


# -- the filter -----------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_the_filter_is_the_response(page, rate: int) -> None:
    """An impulse through the page's own chain, magnitude and phase, against the solver."""
    length = 16_384
    heard = page.evaluate(
        """async ([rate, length]) => {
          const click = soundOf([1], rate);
          return Promise.all(data.names.map(async (_, index) => packed(await rendered(
            length, rate, (context) => hearing.chain(context, click, false, context.destination),
            [[0, hearing.kernel(index, rate), 1]]))));
        }""",
        [rate, length],
    )
    bins = np.unique(np.geomspace(20, 10e3, 300) * length // rate).astype(int)[1:]
    frequency = bins * rate / length
    late = np.exp(-2j * np.pi * frequency * LATE / rate)
    assert len(heard) == 10
    for (volume, tone, bleed), text in zip(SETTINGS, heard, strict=True):
        h = gn.response(guitar(bleed), frequency=frequency, volume=volume, tone=tone).values
        click = floats(text)
        error = np.abs(np.fft.rfft(click)[bins] / (h * late) - 1)
        assert error.max() < TENTH / 10, (volume, tone, bleed)
        assert abs(click[: LATE // 2]).max() < 1e-5 * abs(click).max(), (
            "nothing rings long before 0"
        )


def test_a_slow_decay_gets_a_longer_filter(visit) -> None:
    """R and C in series, 3 Hz: rings for 0.4 s and more. H = s/(s + w), textbook."""
    page = visit(content=page_of(["3 Hz"], [[[0, 1], [0.003, 1]]]))
    kernel = floats(page.evaluate("() => packed(hearing.kernel(0, 48000))"))
    assert kernel.size > 8192
    frequency = np.fft.rfftfreq(4 * kernel.size, 1 / 48_000)[1:]
    seen = slice(np.searchsorted(frequency, 1), np.searchsorted(frequency, 10e3))
    h = 1 / (1 - 3j / frequency[seen])
    found = np.fft.rfft(kernel, 4 * kernel.size)[1:][seen]
    np.testing.assert_allclose(np.abs(found), np.abs(h), rtol=TENTH)


def test_silence_is_silent(visit) -> None:
    page = visit(content=page_of(["silent", "alike"], [[[0], [1]], [[1], [1]]]))
    kernel = floats(page.evaluate("() => packed(hearing.kernel(0, 48000))"))
    assert not kernel.any()
    page.get_by_role("button", name="Play").click()
    assert said(page, "Playing A: silent (silent).") == (
        "Levels are matched, so that you hear the tone and not what is louder. Gain A silent, "
        "B 0.0 dB, straight 0.0 dB: equal rms over the whole sound. At 0 dB the sound's own peak "
        "is at -1 dB of full scale."
    )
    page.get_by_label("match levels").uncheck()
    page.locator(".gains").filter(has_text="The true difference in level").wait_for()
    assert said(page, "Playing A").startswith(
        "The true difference in level: one gain for all, 0.0 dB. At 0 dB"
    )


# -- switching ------------------------------------------------------------------------------------


@pytest.mark.parametrize("hertz", [82.4, 3000.0])
def test_a_switch_does_not_click(page, hertz: float) -> None:
    """A to B, back, and a knob turned: never more bent than the louder of the two is."""
    changes = [(0, 0, 1.0), (0.3, 5, 0.5), (0.6, 0, 1.0), (0.75, 2, 1.0)]
    rate = 48_000
    render = """async ([hertz, rate, changes]) => {
      const phase = (2 * Math.PI * hertz) / rate;
      const sine = soundOf(Array.from({ length: rate }, (_, i) => Math.sin(phase * i)), rate);
      return packed(await rendered(rate, rate,
        (context) => hearing.chain(context, sine, false, context.destination),
        changes.map(([at, index, gain]) => [at, hearing.kernel(index, rate), gain])));
    }"""
    whole = floats(page.evaluate(render, [hertz, rate, changes]))
    apart = [floats(page.evaluate(render, [hertz, rate, [(0, *c[1:])]])) for c in changes]
    settled = slice(rate // 4, None)
    programme = max(largest_bend(one[settled]) for one in apart)
    assert largest_bend(whole[settled]) < 1.2 * programme
    np.testing.assert_allclose(whole[rate - 2000 :], apart[-1][rate - 2000 :], atol=2e-4)
    # The check can fail: the same switch at a crest, without its fade.
    cut = rate // 2 + int(np.argmax(np.abs(apart[0][rate // 2 : rate // 2 + 1000])))
    abrupt = np.concatenate([apart[0][settled.start : cut], apart[1][cut:]])
    if hertz < 1000:
        assert largest_bend(abrupt) > 3 * programme


def test_a_fade_between_equals_is_not_heard(page) -> None:
    heard = page.evaluate(
        """async () => {
          const sine = soundOf(Array.from({ length: 24000 }, (_, i) => Math.sin(i / 20)), 48000);
          const play = (changes) => rendered(24000, 48000,
            (context) => hearing.chain(context, sine, false, context.destination), changes);
          const filter = hearing.kernel(0, 48000);
          const [one, other] = [await play([[0, filter, 1]]),
                                await play([[0, filter, 1], [0.2, filter, 1]])];
          return Math.max(...one.map((x, i) => Math.abs(x - other[i])));
        }"""
    )
    assert heard < 2e-4


def test_a_sound_goes_round(page) -> None:
    """A period of 3 ms for ever, as an impulse and its echoes through the filter of nothing."""
    heard = page.evaluate(
        """async () => {
          const click = soundOf([1, ...new Array(143).fill(0)], 48000);
          return packed(await rendered(1440, 48000,
            (context) => hearing.chain(context, click, true, context.destination),
            [[0, hearing.kernel(null, 48000), 1]]));
        }"""
    )
    expected = np.zeros(1440)
    expected[LATE::144] = 1
    inside = slice(LATE - 40, 1440 - 144)
    found = np.convolve(floats(heard), np.ones(41), "same")[inside]
    np.testing.assert_allclose(found, np.convolve(expected, np.ones(41), "same")[inside], atol=0.1)


# -- sounds and levels ----------------------------------------------------------------------------


@pytest.mark.long
def test_the_page_plucks_as_python_does(page) -> None:
    """The same formula; the page's recurrence rounds otherwise. At the page's rate, and half."""
    clips = json.loads(hearing_parts()["js"].split("const PLUCKED = ")[1].split(";\n")[0])
    assert [clip["name"] for clip in clips] == list(PLUCKED)
    for clip, rate in zip(clips, (48_000, *[24_000] * 4), strict=True):
        made = page.evaluate(
            "([clip, rate]) => packed(Float32Array.from(hearing.pluck(clip, rate)))", [clip, rate]
        )
        expected = gn.strings.pluck(**PLUCKED[clip["name"]], rate=rate).values
        np.testing.assert_allclose(floats(made), expected, rtol=0, atol=1e-6 * abs(expected).max())


@pytest.fixture(scope="module")
def played() -> xr.DataArray:
    clip = gn.strings.pluck(**PLUCKED["high E string"] | {"duration": 0.8})
    builds = {bleed or "none": guitar(bleed) for bleed in (None, "150k || 1n")}
    heard = gn.audio.play_through(clip, builds, volume=5)
    straight = clip.pad(time=(0, heard.sizes["time"] - clip.sizes["time"]), constant_values=0)
    straight = straight.assign_coords(time=heard.time)
    return xr.concat([*heard, straight], "sound", coords="minimal", compat="override", join="exact")


MEASURED = """async ([clip, matched, held]) => {
  const string = soundOf(hearing.pluck(clip, 48000), 48000);
  const filters = [4, 5, null].map((index) => hearing.kernel(index, 48000));
  const levels = await Promise.all(filters.map((filter) => hearing.measure(string, filter)));
  const gains = hearing.gainsOf(levels, matched, held);
  const sounds = await Promise.all(filters.map((filter, i) => rendered(
    string.length + filter.length, 48000,
    (context) => hearing.chain(context, string, false, context.destination),
    [[0, filter, gains[i]]])));
  return [levels, gains, sounds.map(packed)];
}"""


def clip_in_numbers() -> dict:
    return {**PLUCKED["high E string"], "duration": 0.8, "string": [440 * 2 ** (-5 / 12)]}


def test_matched_levels_are_equal_as_python_matches_them(page, played) -> None:
    levels, gains, sounds = page.evaluate(MEASURED, [clip_in_numbers(), True, 1])
    rms = [np.sqrt((floats(one) ** 2).mean()) for one in sounds]
    np.testing.assert_allclose(rms, rms[0], rtol=1e-3)
    peaks = [abs(floats(one)).max() for one in sounds]
    assert max(peaks) == pytest.approx(10 ** (-1 / 20), rel=1e-3)
    matched = gn.audio.match_level(played).gain.values
    ours = 20 * np.log10(np.array(gains) / gains[0])
    np.testing.assert_allclose(ours, matched - matched[0], atol=0.05)
    assert abs(matched).max() > 5, "there is something to match"
    own = [20 * np.log10(level["rms"] / levels[2]["rms"]) for level in levels]
    straight = 20 * np.log10(np.sqrt((played**2).mean("time") / (played[2] ** 2).mean()))
    np.testing.assert_allclose(own, straight, atol=0.05)


def test_unmatched_levels_have_one_gain_that_never_rises(page) -> None:
    gains, sounds = page.evaluate(MEASURED, [clip_in_numbers(), False, 1e9])[1:]
    assert gains[0] == gains[1] == gains[2]
    assert max(abs(floats(one)).max() for one in sounds) == pytest.approx(10 ** (-1 / 20), rel=1e-3)
    held = page.evaluate(MEASURED, [clip_in_numbers(), False, gains[0] / 2])[1]
    assert held == pytest.approx([gains[0] / 2] * 3)


# -- the controls ---------------------------------------------------------------------------------


def test_it_sounds_on_a_listeners_act_alone(page) -> None:
    page.get_by_role("radio", name=f"B: {NAMES[1]}").check()
    assert page.get_by_label("match levels").is_checked()
    # The loudest of what is compared peaks at -1 dB (as measured below) less the playback level.
    assert page.get_by_label("playback level").input_value() == "-11"
    page.evaluate("() => changed()")
    page.wait_for_timeout(100)
    assert page.evaluate("() => [opened, asked]") == [0, 0]
    page.get_by_role("button", name="Play").click()
    gains = said(page, f"Playing B: {NAMES[1]}.")
    assert "Gain A " in gains
    assert "equal rms over the whole sound" in gains
    page.get_by_label("B is").select_option(NAMES[7])
    said(page, f"Playing B: {NAMES[7]}.")
    page.get_by_role("button", name="Stop").click()
    said(page, "Stopped.")
    assert page.evaluate("() => opened") == 1


def test_it_is_played_by_the_keyboard(page) -> None:
    page.keyboard.press("Tab")
    focused = page.get_by_role("button", name="Play")
    assert focused.evaluate("one => getComputedStyle(one).outlineStyle") == "solid"
    page.keyboard.press("Space")
    said(page, f"Playing A: {NAMES[0]}.")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    said(page, f"Playing B: {NAMES[1]}.")
    page.keyboard.press("x")
    said(page, f"Playing A: {NAMES[0]}.")
    page.keyboard.press("X")
    said(page, f"Playing B: {NAMES[1]}.")
    page.keyboard.press("ArrowDown")
    said(page, "Playing straight from the string.")
    page.get_by_label("playback level").focus()
    page.keyboard.press("Home")
    assert page.get_by_label("playback level").get_attribute("aria-valuetext") == "off"
    page.keyboard.press("ArrowRight")
    assert page.get_by_label("playback level").get_attribute("aria-valuetext") == "\u221239 dB"


@pytest.mark.long
def test_a_knob_that_turns_is_followed_at_leisure(page) -> None:
    """Sixty changes in a second; the last one is heard, and not each has a filter computed."""
    page.get_by_role("button", name="Play").click()
    said(page, f"Playing A: {NAMES[0]}.")
    page.locator(".gains").filter(has_text="equal rms").wait_for()
    page.wait_for_timeout(150)
    asked = page.evaluate(
        """async () => {
          const before = asked;
          for (let turn = 0; turn < 60; turn++) {
            data.ratios[0] = [[1 / (turn < 59 ? turn + 1 : 100)], [1]];
            changed();
            await new Promise((done) => setTimeout(done, 10));
          }
          return asked - before;
        }"""
    )
    assert 2 <= asked <= 40
    for _ in range(40):
        gains = re.search(r"A (\S+) dB, B .* straight (\S+) dB:", said(page, "Playing A"))
        raised = float(gains[1]) - float(gains[2])
        if raised > 38:
            break
        page.wait_for_timeout(50)
    assert raised == pytest.approx(40, abs=0.11)


def sine_file(count: int) -> bytes:
    """Two channels, which cancel where they are mixed."""
    from scipy.io import wavfile

    stream = io.BytesIO()
    sine = np.round(16_000 * np.sin(np.arange(count) / 2)).astype("<i2")
    wavfile.write(stream, 8000, np.column_stack([sine, -sine]))
    return stream.getvalue()


def choose_file(page, name: str, content: bytes) -> None:
    file = {"name": name, "mimeType": "application/octet-stream", "buffer": content}
    page.locator("input[type=file]").set_input_files(file)


@pytest.mark.long
def test_a_file_of_ones_own_is_heard_to_its_end(page) -> None:
    choose_file(page, "long.wav", sine_file(8000 * 31))
    said(page, "\u201clong.wav\u201d is chosen: its first 30 s.")
    page.get_by_label("loop").uncheck()
    choose_file(page, "<i>mine</i>.wav", sine_file(4000))
    said(page, "\u201c<i>mine</i>.wav\u201d is chosen.")
    assert page.get_by_label("sound", exact=True).locator("option:checked").text_content() == (
        "<i>mine</i>.wav"
    )
    page.get_by_role("radio", name="straight from the file").check()
    page.get_by_role("button", name="Play").click()
    said(page, "Playing straight from the file.")  # and not "(silent)"
    said(page, "The sound has ended.")
    assert page.get_by_role("button", name="Play").is_visible()


def test_a_file_that_is_no_sound(page) -> None:
    for number, content in enumerate([b"", b"no sound at all" * 99, b"RIFF\x04\0\0\0WAVE"]):
        choose_file(page, f"notes {number}.txt", content)
        said(
            page,
            f"\u201cnotes {number}.txt\u201d cannot be read as sound; "
            "choose a WAV, FLAC, MP3 or Ogg file.",
        )
    page.get_by_role("button", name="Play").click()
    said(page, f"Playing A: {NAMES[0]}.")


def test_a_curve_that_is_not_finite_is_said(visit) -> None:
    page = visit(content=page_of(["broken"], [[[1], [0]]]))
    page.get_by_role("button", name="Play").click()
    said(page, "This curve is not finite and cannot be played; change a setting.")
    assert page.get_by_role("button", name="Play").is_visible()
    assert page.get_by_role("radio").count() == 2, "one curve is A alone"


@pytest.mark.long
def test_accessible_as_wcag_2_2_aa(page, check_by_axe) -> None:
    """W3C WCAG 2.2, levels A and AA, as far as axe-core 4 tells; reflow at 320 px and targets."""
    page.get_by_role("button", name="Play").click()
    said(page, f"Playing A: {NAMES[0]}.")
    check_by_axe(page)
    page.set_viewport_size({"width": 320, "height": 800})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 320
    for target in page.locator(".hearing button, .hearing label, .hearing select").all():
        box = target.bounding_box()
        assert min(box["width"], box["height"]) >= 24


def test_what_is_embedded_is_small() -> None:
    parts = hearing_parts()
    assert sum(len(text.encode()) for text in parts.values()) < 28_000
    assert "</" not in parts["js"]


# -- sounds side by side --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def clips() -> xr.DataArray:
    note = gn.strings.pluck("A2", pickup="60 mm", duration=0.5, rate=22_050)
    builds = {"no <b>leed": guitar(None), "1 nF": guitar("1n")}
    return gn.audio.play_through(note, builds, volume=5)


def listening(clips, **how) -> str:
    """Write a page that keeps a hold of the player."""
    view = listen(clips, **how)
    script = asset("elements.js") + script_of("makeListening", "listen.js") + PLAY
    script += "const data = JSON.parse(document.getElementById('data').textContent);"
    script += "const made = makeListening(document.getElementById('sounds'), data);"
    return (
        f'<!DOCTYPE html><section id="sounds"></section><script id="data" type="text/json">'
        f"{inert(data_of(view.html()))}</script><script>{script}</script>"
    )


HEARD = """async (changes) => {
  const sounds = made.unpack(data.clips.map(({ samples }) => samples));
  return packed(await rendered(sounds.length, data.rate,
    (context) => made.chain(context, sounds, false, context.destination), changes));
}"""


def test_listen_plays_the_samples_it_was_given(clips, visit) -> None:
    """To a step of 16 bits, at the levels of normalise and match_level."""
    page = visit(content=listening(clips))
    gains = page.evaluate("() => data.clips.map(({ gain, matched }) => [gain, matched])")
    for match in (False, True):
        expected = gn.audio.normalise(gn.audio.match_level(clips) if match else clips)
        for index, one in enumerate(expected.values):
            heard = floats(page.evaluate(HEARD, [[0, index, gains[index][match]]]))
            np.testing.assert_allclose(heard, one, rtol=0, atol=2**-15)


def test_listen_switches_without_a_click(visit) -> None:
    time = np.arange(24_000) / 48_000
    one, other = 0.9 * np.sin(2 * np.pi * 440 * time), 0.5 * np.cos(2 * np.pi * 440 * time)
    page = visit(content=listening({"one": gn.audio.sound(one), "other": gn.audio.sound(other)}))
    whole = floats(
        page.evaluate(HEARD, [[0, 0, 0.9], [0.15, 1, 0.5], [0.25, 1, 0.9], [0.4, 0, 0.9]])
    )
    settled = whole[1000:]
    assert largest_bend(settled) < 1.1 * largest_bend(one[1000:])
    assert abs(whole[15_000:18_000]).max() == pytest.approx(0.9, rel=1e-3), "the gain at 0.3 s"


def test_listen_in_a_trusted_notebook(clips, visit, check_by_axe) -> None:
    page = visit(
        content=f"<!DOCTYPE html><title>x</title>{listen(clips, match=True)._repr_html_()}"
    )
    inner = page.frame_locator("iframe")
    assert inner.get_by_label("match levels").is_checked()
    inner.get_by_role("button", name="Play").click()
    inner.get_by_role("status").filter(has_text="Playing no <b>leed.").wait_for()
    inner.get_by_role("radio", name="1 nF").check()
    inner.get_by_role("status").filter(has_text="Playing 1 nF.").wait_for()
    words = inner.locator(".gains").text_content()
    assert re.fullmatch(
        r"Turned to equal rms over the whole sound \(no <b>leed: \S+ dB, 1 nF: \S+ dB\)\. "
        r"Equal power is not equal loudness\.",
        words,
    )
    assert not page.locator("table").is_visible()
    frame = page.locator("iframe")
    tall = frame.evaluate("frame => frame.contentDocument.documentElement.offsetHeight")
    assert frame.bounding_box()["height"] == pytest.approx(tall, abs=1)


def test_listen_in_an_untrusted_notebook_tells_the_levels(clips, visit) -> None:
    html = re.sub("<iframe.*</iframe>", "", listen(clips)._repr_html_(), flags=re.DOTALL)
    page = visit(content=f"<!DOCTYPE html>{html}")
    cells = page.locator("tbody tr").first.locator("td").all_text_contents()
    levels = 20 * np.log10((gn.audio.normalise(clips)[0] ** 2).mean() ** 0.5)
    assert cells[0] == "no <b>leed"
    assert float(cells[1].replace("\u2212", "-")) == pytest.approx(float(levels), abs=0.051)


@pytest.mark.long
def test_listen_stands_alone_and_is_accessible(clips, visit, check_by_axe, tmp_path) -> None:
    """W3C WCAG 2.2, levels A and AA, as far as axe-core 4 tells."""
    saved = listen(clips, title="Bleeds </title>").save(tmp_path / "saved.html")
    page = visit(saved)
    page.get_by_role("button", name="Play").click()
    said(page, "Playing no <b>leed.")
    assert page.title() == "Bleeds </title>"
    check_by_axe(page)
    alone = visit(content=listen(clips[0]).html())
    assert alone.get_by_role("radio").count() == 1
    assert not alone.get_by_label("match levels").is_visible(), "there is nothing to match"


def test_listen_names_what_was_swept_and_says_what_was_assumed() -> None:
    note = gn.strings.pluck("A2", duration=0.1, rate=16_000)
    view = listen(gn.audio.play_through(note, guitar(None), volume=[10, 0], tone=[10, 5]))
    assert [clip["name"] for clip in data_of(view.html())["clips"]] == [
        f"volume {volume}, tone {tone}" for volume in (10, 0) for tone in (10, 5)
    ]
    assert "silent" in repr(view).splitlines()[-2]
    notes = notes_of(view.html())
    assert "Lossless coil assumed" in notes
    assert notes.endswith("No amplifier, no loudspeaker.")
    stereo = listen(gn.audio.sound(np.ones((2, 80_000))))
    assert data_of(stereo.html())["clips"][0]["name"] == "sound 1"
    assert notes_of(stereo.html()) == (
        "Channels are mixed to one. The samples take 213 kB here; a shorter sound or a lower "
        "rate takes less."
    )


SHORT = gn.audio.sound([0.5])


@pytest.mark.parametrize(
    ("clips", "message"),
    [
        ({}, "listen: is given 0 sounds; give 1 to 8."),
        ({str(i): SHORT for i in range(9)}, "listen: is given 9 sounds; give 1 to 8."),
        (
            {"a": SHORT, "b": gn.audio.sound([0.5], 44_100)},
            "listen: the sounds have 44100 and 48000 samples a second; resample to one rate.",
        ),
        (
            gn.audio.sound([0.5], 2000),
            "listen: 2000 samples a second are played by no browser; resample to a whole number "
            "from 8000 to 96000, as 48000.",
        ),
        (
            {"a": gn.audio.sound([[0.5], [0.5]]).rename(channel="volume")},
            "listen: a sound has the dimension volume; choose one along volume.",
        ),
        (
            [1.0],
            "sound: a list is no sound; give what read_sound() or pluck() returns.",
        ),
        (
            {"a": 3},
            "sound: an int is no sound; give what read_sound() or pluck() returns.",
        ),
    ],
)  # fmt: skip
def test_listen_refuses(clips, message: str) -> None:
    with pytest.raises(gn.GuitarnetError) as refusal:
        listen(clips)
    assert str(refusal.value) == message
