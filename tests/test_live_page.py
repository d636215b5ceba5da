"""The live page in a real browser: its own arithmetic against Python's, and how it is used."""

from __future__ import annotations

import itertools
import math
import re
from typing import Any

import numpy as np
import pytest
from pieces import by_lot, evaluated
from seen_on_pages import data_of, notes_of, plots, table

import guitarnet as gn
from guitarnet.command.start import LAYOUTS, beginning
from guitarnet.show.page.from_guitars import from_guitars
from guitarnet.show.page.live_page import LivePage, live_page
from guitarnet.show.page.model import live_model
from guitarnet.solve.ac import node_voltage
from guitarnet.solve.one_ports import SPEED, UNIT, one_ports

FREQUENCY = np.geomspace(50, 15e3, 40)
LOSSLESS = gn.Pickup("6.2k", "2.4 H", "120p")
LOSSY = gn.Pickup(
    "7k", "3 H", "110p", eddy_resistance="400k", eddy_share=0.3, screening_frequency="9 kHz"
)
BASS = gn.Pickup("7.5k", "3.8 H", "150p")
COIL = gn.Coil("4.2k", "2 H", "150p", eddy_resistance="500k", eddy_share=0.2)
SPLIT = gn.Humbucker(COIL, COIL, connection="leads")
HOSTILE = [
    '</script><img src=x onerror="window.broken=1">',
    "\"><svg onload='window.broken=1'>",
    "$\\frac{$ & <b>_",
    "<!--<script>",
]


def one(**parts: Any) -> gn.Harness:
    return gn.layouts.one_pickup(LOSSLESS, cable="5 m", **parts)


def odd() -> gn.Harness:
    """Everything that is not as usual: losses, ends, tapers, a cable that leaks, a grid."""
    return gn.layouts.one_pickup(
        LOSSY,
        volume=gn.Pot(
            "500k", gn.audio_taper(0.1, shape="exponential"), end_resistance=("2 ohm", "1%")
        ),
        tone=gn.Pot("250k", "reverse audio 15%, no-load"),
        tone_capacitor=gn.Capacitor("22n", dissipation_factor=0.02, series_resistance="30 ohm"),
        treble_bleed=gn.bleed("100k + (1n || 470k)"),
        cable=gn.Cable("4 m", "130p", resistance_per_metre=0.3, insulation_resistance="50M"),
        amp=gn.amp_input("tube amp"),
    )


def measured_pots() -> gn.Harness:
    law = gn.measured_taper([0, 40, 150, 260, 300], [0, 0.01, 0.2, 0.9, 1], name="as measured")
    volume = gn.Pot("240k", gn.no_load(law), end_resistance="5 ohm")
    return gn.layouts.three_single_coils(
        LOSSLESS,
        LOSSY,
        LOSSLESS,
        volume=volume,
        tone=gn.Pot("260k", gn.linear_taper(dead_zone=0.05)),
    )


PAGES = {
    "three single coils": lambda: {"three": measured_pots()},
    "two humbuckers": lambda: {
        "modern": gn.layouts.two_humbuckers(LOSSLESS, LOSSY, treble_bleed="1n"),
        "50s": gn.layouts.two_humbuckers(LOSSLESS, LOSSY, wiring="50s"),
        "independent": gn.layouts.two_humbuckers(LOSSLESS, LOSSY, wiring="independent"),
    },
    "odd": lambda: {"odd": odd(), "50s": one(wiring="50s", treble_bleed="150k")},
    "bass": lambda: {"blend": gn.layouts.bass_blend(BASS, LOSSY, blending="independent")},
    "push-pulls": lambda: {
        "pulls": gn.layouts.two_humbuckers_push_pull(SPLIT, SPLIT, bridge_volume_pull="parallel")
    },
}


def drawn_by_lot(page: LivePage, builds: dict[str, gn.Harness], rng: np.random.Generator):
    """Random settings, and the guitars that stand so; ends of the knobs are drawn often."""
    data = data_of(page.html())
    settings: dict[str, Any] = {"marks": {}, "places": {}, "bleeds": {}, "capacitors": {}}
    for knob in data["knobs"]:
        mark = rng.choice([0, 10, 5, rng.uniform(0, 10)], p=[0.1, 0.2, 0.05, 0.65])
        settings["marks"][knob["name"]] = float(mark)
    for switch in data["switches"]:
        settings["places"][switch["name"]] = str(rng.choice(switch["places"]))
    settings["cable"] = float(rng.choice([0, rng.uniform(0, 15)], p=[0.1, 0.9]))
    standing = dict(builds)

    def put(name: str, part: Any) -> None:
        for label, guitar in standing.items():
            if name.partition(".")[0] in guitar.parts:
                standing[label] = guitar.replace(name, part)

    farads, ohms, tones = (
        [v for v, _ in data["lists"][key]] for key in ("bleed", "resistor", "tone")
    )
    for bleed in data["bleeds"]:
        name, c, r = bleed["name"], float(rng.choice(farads)), float(rng.choice(ohms))
        form = str(rng.choice(["own", "none", "c", "parallel", "series"]))
        settings["bleeds"][name] = {"form": form, "c": c, "r": r}
        made = {
            "none": None,
            "c": gn.capacitor_bleed(c),
            "parallel": gn.parallel_bleed(c, r),
            "series": gn.series_bleed(c, r),
        }
        if form != "own":
            put(name, made[form])
    for capacitor in data["capacitors"]:
        farad = float(rng.choice(tones)) if rng.random() < 0.7 else None
        settings["capacitors"][capacitor["name"]] = farad
        if farad is not None:
            put(f"{capacitor['name']}.capacitance", farad)
    return settings, standing


def python_says(guitar: gn.Harness, settings: dict[str, Any], frequency=FREQUENCY) -> np.ndarray:
    own = {**settings["marks"], **settings["places"]}
    own = {name: value for name, value in own.items() if name in guitar.parts}
    own["cable.length"] = settings["cable"]
    return gn.response(guitar, frequency=frequency, **own).values


def page_says(page, settings: list[dict[str, Any]], builds: int, frequency) -> np.ndarray:
    """Ask the page for all settings at once: settings, builds, frequencies."""
    found = page.evaluate(
        """([settings, builds, frequency]) => {
          const { live } = document.getElementById("live");
          const hertz = Float64Array.from(frequency);
          return settings.map((one) => {
            live.set(one);
            return Array.from({ length: builds }, (_, build) => {
              const { re, im } = live.response(build, hertz);
              return [Array.from(re), Array.from(im)];
            });
          });
        }""",
        [settings, builds, list(frequency)],
    )
    numbers = np.array(found)
    return numbers[:, :, 0] + 1j * numbers[:, :, 1]


@pytest.mark.parametrize("name", PAGES)
def test_the_page_computes_as_python_does(name: str, visit, draws) -> None:
    """Within 0.02 dB is promised; rounding is far below. Silence is exactly silent."""
    rng = np.random.default_rng(list(PAGES).index(name))
    builds = PAGES[name]()
    page = live_page(builds)
    drawn = [drawn_by_lot(page, builds, rng) for _ in range(draws(6, 40))]
    expected = np.array(
        [[python_says(guitar, s) for guitar in standing.values()] for s, standing in drawn]
    )
    found = page_says(visit(page), [s for s, _ in drawn], len(builds), FREQUENCY)
    assert (np.abs(expected) > 1e-3).mean() > 0.4, "most settings are heard"
    np.testing.assert_array_equal(found == 0, expected == 0)
    loud = np.abs(expected) > 1e-6  # -120 dB
    ratio = found[loud] / expected[loud]
    np.testing.assert_allclose(20 * np.log10(np.abs(ratio)), 0, atol=1e-6)
    np.testing.assert_allclose(np.angle(ratio), 0, atol=1e-6)


def test_any_frequency_can_be_asked_for(visit) -> None:
    """What a player of sounds needs: from 0 Hz to half its sampling rate, with phase."""
    builds = {"odd": odd()}
    page = visit(live_page(builds, volume=6, tone=4))
    frequency = np.linspace(0, 24e3, 257)
    settings = {"marks": {"volume": 6.0, "tone": 4.0}, "cable": 4.0}
    expected = python_says(builds["odd"], {**settings, "places": {}}, frequency)
    found = page_says(page, [settings], 1, frequency)[0, 0]
    np.testing.assert_allclose(found, expected, rtol=1e-6)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_fits_a_small_page(layout: str) -> None:
    guitar = beginning(layout)
    if "amp" not in guitar.parts:
        guitar = guitar.plugged()
    assert len(live_page(guitar).html().encode()) < 250_000  # the still adds up to 50 kB


@pytest.mark.long
def test_eight_guitars_of_many_controls_make_a_small_page(tmp_path) -> None:
    guitar = PAGES["push-pulls"]()["pulls"]
    builds = {f"{n} m": guitar.replace("cable.length", n) for n in range(1, 9)}
    live_page(builds, tmp_path / "page.html")
    assert (tmp_path / "page.html").stat().st_size < 300_000


# -- the polynomials themselves ---------------------------------------------------------------


def test_any_network_is_solved_as_by_nodes(saved, visit) -> None:
    """Floating sources, either way round, in networks that are no series and parallel."""
    rng = np.random.default_rng(3)
    drawn = []
    for nodes in [3, 4, 5] * 8:
        net, later = by_lot(rng, nodes)
        circuit = one_ports(net, str(nodes - 1), later)
        expected = node_voltage(net, str(nodes - 1), FREQUENCY).values
        found = [evaluated(circuit, later, frequency) for frequency in FREQUENCY]
        np.testing.assert_allclose(found, expected, rtol=1e-8, atol=1e-10)
        pieces = {n: {"kind": "part", "of": n, "tree": ["r", R]} for n, R in later.items()}
        build = {"knobs": {}, "switches": [], "stands": {}, "pieces": pieces, "circuits": [0]}
        model = {"unit": UNIT, "speed": SPEED, "circuits": [vars(circuit)], "builds": [build]}
        drawn.append((model, expected))
    signs = {sign for model, _ in drawn for *_, sign, _ in model["circuits"][0]["above"]}
    assert signs == {1, -1}
    answers = visit(saved).evaluate(
        """([models, frequency]) => models.map((model) => {
          const settings = { marks: {}, places: {}, networks: {}, capacitors: {} };
          const hertz = Float64Array.from(frequency);
          const { re, im } = makeModel(model).response(0, settings, hertz);
          return [Array.from(re), Array.from(im)];
        })""",
        [[model for model, _ in drawn], list(FREQUENCY)],
    )
    for (re_, im), (_, expected) in zip(answers, drawn, strict=True):
        np.testing.assert_allclose(np.array(re_) + 1j * np.array(im), expected, rtol=1e-8)


def test_what_a_page_cannot_compute_is_refused() -> None:
    many = one().add("a", gn.switches.rotary(1, [f"place {i}" for i in range(24)]))
    many = many.add("b", many.parts["a"]).leave_open(
        *(f"{name}.{lug}" for name in "ab" for lug in many.parts["a"].lugs)
    )
    with pytest.raises(gn.errors.NotExpressible) as caught:
        live_model({"x": many})
    assert str(caught.value) == (
        "one pickup: has 576 combinations of switch places, over 400; leave out a switch, or "
        "give live_page() a response at some of its places."
    )


# -- what is shown ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def builds() -> dict[str, gn.Harness]:
    return {
        "no bleed": one(),
        "150k || 1n": one(treble_bleed="150k || 1n"),
        "50s wiring": one(wiring="50s"),
    }


@pytest.fixture(scope="module")
def saved(builds, tmp_path_factory: pytest.TempPathFactory):
    path = tmp_path_factory.mktemp("live") / "bleeds.html"
    live_page(builds, path, title="Treble bleeds", tone=8)
    return path


def turn(page, name: str, mark: float) -> None:
    page.get_by_role("slider", name=name, exact=True).fill(str(mark))


@pytest.mark.parametrize("words", ["1 V/V", "100 Hz", "volume 10"])
def test_the_curves_are_the_computed_levels(builds, saved, visit, words: str) -> None:
    reference = {"1 V/V": None, "100 Hz": "reference", "volume 10": {"volume": 10}}[words]
    page = visit(saved)
    option = page.get_by_label("0 dB is").locator("option").filter(has_text=words)
    page.get_by_label("0 dB is").select_option(option.get_attribute("value"))
    assert words in page.locator(".figure .axis").first.text_content()
    turn(page, "volume", 3.5)
    turn(page, "cable", 2.5)
    h = gn.response(builds, volume=[10, 3.5], tone=8, **{"cable.length": 2.5})
    levels = gn.level_db(h, re=reference).sel(volume=3.5)
    for (frequency, level), expected in zip(plots(page)[0][:3], levels, strict=True):
        inside = (frequency > 51) & (frequency < 14.9e3)
        assert inside.sum() > 450
        there = np.interp(np.log(frequency[inside]), np.log(expected.frequency), expected.values)
        np.testing.assert_allclose(level[inside], there, atol=0.02)


def test_the_table_tells_the_measures(builds, saved, visit) -> None:
    h = gn.response(builds, volume=[10, 5, 1], tone=8)
    level = gn.effective_taper(h)
    change = gn.treble_change(h, frequencies=[1000, 3000, 5000]).change
    peak = gn.peak(h)
    page = visit(saved)
    for mark in (5, 1):
        turn(page, "volume", mark)
        for build, cells in zip(builds, table(page), strict=True):
            at = {"build": build, "volume": mark}
            expected = [level.sel(at), *change.sel(at), peak.frequency.sel(at) / 1000]
            expected.append(peak.height.sel(at))
            shown = [float(c.replace("\u2212", "-").replace("\u2014", "nan")) for c in cells]
            np.testing.assert_allclose(shown, expected, atol=0.0501)


def test_volume_10_is_every_volume_up(visit) -> None:
    guitar = gn.layouts.two_humbuckers(LOSSLESS, LOSSY)
    page = visit(live_page(guitar, neck_volume=7, bridge_volume=4, switch="neck+bridge"))
    [cells] = table(page)
    at = {"switch": "neck+bridge"}
    down = gn.response(guitar, frequency=[100.0], neck_volume=7, bridge_volume=4, **at).item()
    level = 20 * math.log10(abs(down / gn.response(guitar, frequency=[100.0], **at).item()))
    assert float(cells[0].replace("\u2212", "-")) == pytest.approx(level, abs=0.0501)


def test_a_guitar_stays_where_its_switch_lacks_a_place(visit) -> None:
    """The place that it was given stands, whichever that is among its own."""
    two = gn.layouts.two_single_coils(LOSSLESS, LOSSY).replace("switch", "bridge")
    three = gn.layouts.three_single_coils(LOSSLESS, LOSSY, LOSSY).replace("switch", "neck")
    page = visit(live_page({"three": three, "two": two}, volume=10))
    rows = table(page)
    page.get_by_role("radio", name="middle", exact=True).check()
    moved = table(page)
    assert moved[0] != rows[0]
    peak = gn.peak(gn.response(two, switch="bridge")).frequency.item()
    assert float(moved[1][4]) == pytest.approx(peak / 1000, abs=0.0051)


def test_the_still_draws_the_curves_that_the_page_opens_with(builds) -> None:
    for re_ in (None, "reference", {"volume": 10}):
        drawn = from_guitars(builds, re_, (50, 15e3), {"tone": 8}).still()
        h = gn.response(builds, frequency=drawn["frequency"], volume=[10, 5], tone=8)
        expected = gn.level_db(h, re=re_).sel(volume=5)
        np.testing.assert_allclose(drawn["levels"], expected, atol=1e-6)


def test_a_peak_is_marked_where_it_is(builds, saved, visit) -> None:
    page = visit(saved)
    turn(page, "volume", 10)
    page.get_by_role("checkbox", name="150k || 1n").uncheck()
    page.get_by_role("checkbox", name="50s wiring").uncheck()
    peak = gn.peak(gn.response(builds["no bleed"], tone=8)).frequency.item()
    assert page.locator(".peaks text").text_content() == f"{peak / 1000:.2f} kHz"
    assert page.locator(".peaks circle").count() == 1


def test_a_peak_outside_of_what_is_drawn_has_no_mark(builds, visit) -> None:
    [peak] = gn.peak(gn.response({"one": builds["no bleed"]}, volume=10)).frequency.values / 1000
    above, below = (live_page(one(), volume=10, view=view) for view in ((5e3, 15e3), (50, 2e3)))
    for view in (above, below):
        page = visit(view)
        assert page.locator(".peaks circle").count() == 0
        assert table(page)[0][-2] == f"{peak:.2f}"


def test_a_difference_is_drawn_and_a_curve_is_held(builds, saved, visit) -> None:
    page = visit(saved)
    assert len(plots(page)) == 1
    assert not page.get_by_label("minus", exact=True).is_visible()
    page.get_by_label("difference", exact=True).select_option("no bleed")
    assert page.get_by_label("minus", exact=True).input_value() == "1", "never a curve minus itself"
    page.get_by_label("difference", exact=True).select_option("none")
    page.get_by_role("button", name="hold for comparison: no bleed").click()
    turn(page, "volume", 2)
    page.get_by_label("difference", exact=True).select_option("150k || 1n")
    page.get_by_label("minus", exact=True).select_option("held curve")
    h = gn.response(builds, volume=[5, 2], tone=8)
    levels = gn.level_db(h, re="reference")
    now, before = levels.sel(build="150k || 1n", volume=2), levels.sel(build="no bleed", volume=5)
    [*_, (at, held)], [(frequency, difference)] = plots(page)
    np.testing.assert_allclose(held, np.interp(at, h.frequency, before), atol=0.03)
    expected = np.interp(frequency, h.frequency, now - before)
    np.testing.assert_allclose(difference, expected, atol=0.03)
    heads = page.locator("tbody th").all_text_contents()
    assert heads[-1] == "held: no bleed (volume 5)remove"
    assert "150k || 1n minus held: no bleed [dB]" in page.locator(".lower").text_content()
    page.get_by_role("button", name="remove the held curve").click()
    assert len(plots(page)) == 1
    assert len(table(page)) == 3


def test_volume_zero_is_silent(saved, visit) -> None:
    page = visit(saved)
    turn(page, "volume", 0)
    assert page.locator(".figure .here").text_content() == "silent"
    assert [row[0] for row in table(page)] == ["silent"] * 3
    page.get_by_label("difference", exact=True).select_option("150k || 1n")
    assert "silent" in page.locator(".lower").text_content()
    assert "NaN" not in page.locator("main").inner_html()


def test_curves_that_hide_each_other_are_counted(saved, visit) -> None:
    page = visit(saved)
    assert "3 curves within 0.05 dB" not in page.locator(".figure").first.text_content()
    turn(page, "volume", 10)
    assert "3 curves within 0.05 dB" in page.locator(".figure").first.text_content()
    for box in page.locator("tbody").get_by_role("checkbox").all():
        box.uncheck()
    assert page.locator(".figure .here").text_content() == "no guitar chosen"


def test_keys_turn_knobs_and_the_page_says_where_all_stands(saved, visit) -> None:
    page = visit(saved)
    knob = page.get_by_role("slider", name="volume")
    knob.press("ArrowLeft")
    assert knob.get_attribute("aria-valuetext") == "volume 4.9"
    assert page.locator(".stands").text_content() == (
        "volume 4.9; tone 8; cable 5 m (16 ft); treble bleed as built: each its own; tone "
        "capacitor as built: 22 nF."
    )
    status = page.locator("[role=status]").last
    status.filter(has_text="no bleed: level \u2212").wait_for(state="attached")
    assert "change at 1 kHz" in status.text_content()
    assert (
        page.locator("p.notes")
        .last.text_content()
        .startswith(
            "Response at the amp. Lossless coil assumed (no eddy currents, no screening). As "
            "built: pickup 6.2 kΩ, 2.4 H, 120 pF;"
        )
    )


def test_what_some_guitars_lack_is_said_and_what_differs_stays() -> None:
    page = live_page(
        {
            "with": one(),
            "without": gn.layouts.one_pickup(LOSSY, tone=None, cable="2 m"),
            "switched": gn.layouts.two_single_coils(LOSSLESS, LOSSLESS),
        }
    )
    notes = notes_of(page.html())
    assert "With has no switch." in notes
    assert "Without has no tone, no switch." in notes
    assert "screening) in some of the curves" in notes
    assert data_of(page.html())["cable"] == {
        "length": None,
        "differ": True,
        "own": 5.0,
        "most": 15.0,
    }


@pytest.mark.long
def test_a_name_of_two_kinds_is_two_controls(visit) -> None:
    """A tone pot here, a rotary tone there: each moves its own, and a link keeps both."""
    builds = {"pot": one(), "rotary": gn.layouts.rotary_tone(LOSSLESS, cable="5 m")}
    view = live_page(builds, volume=10)
    page = visit(view)
    assert "Pot has no tone. Rotary has no tone." in page.locator("p.notes").last.text_content()
    turn(page, "tone", 3)
    page.get_by_role("radio", name="10 nF", exact=True).check()
    page.wait_for_function("() => location.hash.includes('switches.tone')")
    moved = table(page)
    assert moved != table(visit(view))
    assert table(visit(view, hash=page.url[page.url.index("#") :])) == moved


def test_lengths_that_differ_stay_until_the_cable_is_moved(visit) -> None:
    builds = {"1 m": one().replace("cable.length", 1), "9 m": one().replace("cable.length", 9)}
    page = visit(live_page(builds, volume=10))
    each = page.get_by_role("checkbox", name="each its own")
    peaks = [float(row[4]) for row in table(page)]
    assert peaks[0] > peaks[1] + 1
    assert each.is_checked()
    turn(page, "cable", 4)
    assert not each.is_checked()
    first, second = table(page)
    assert first == second
    each.check()
    assert [float(row[4]) for row in table(page)] == peaks


def test_it_opens_as_it_was_told() -> None:
    guitar = gn.layouts.two_humbuckers(LOSSLESS, LOSSLESS)
    page = live_page(
        guitar,
        re=None,
        neck_volume=3,
        switch="bridge",
        neck_bleed="1n",
        **{"cable.length": "20 ft"},
    )
    data = data_of(page.html())
    assert [knob["mark"] for knob in data["knobs"]] == [3.0, 10.0, 10.0, 10.0]
    assert data["switches"][0]["place"] == "bridge"
    assert data["bleeds"][0]["own"] == "as built: 1 nF"
    assert data["cable"]["length"] == pytest.approx(6.096)
    assert data["modes"][data["mode"]]["name"] == "absolute"
    assert "<title>two humbuckers</title>" in page.html()
    up = data_of(live_page(guitar, re={"neck_volume": 10}).html())
    assert up["modes"][up["mode"]]["axis"] == "level in dB; 0 dB: volumes 10"
    assert repr(page).startswith("LivePage(1 guitar: neck_volume, neck_tone, bridge_volume,")
    at = {"neck_volume": 3, "cable.length": "20 ft"}
    assert live_page(guitar, settings=at).html() == live_page(guitar, **at).html()
    with pytest.raises(
        gn.errors.BadSetting, match="are given as a mapping, and 'switch' as a keyword"
    ):
        live_page(guitar, settings=at, switch="bridge")


def test_b_is_the_guitar_as_opened_until_a_curve_is_held(visit) -> None:
    page = visit(live_page(one()))
    assert page.get_by_role("radio", name="B: one pickup, as opened").count() == 1
    page.get_by_role("button", name="hold this curve for comparison").click()
    assert page.get_by_role("radio", name="B: held: one pickup").count() == 1


def test_a_listener_hears_where_the_controls_stand(builds, visit) -> None:
    view = live_page(builds, volume=3)
    page = visit(view)
    assert page.evaluate("() => document.getElementById('live').live.settings()") == view.opening()
    page.evaluate("() => document.getElementById('live').live.onChange((s) => (window.heard = s))")
    turn(page, "tone", 4)
    assert page.evaluate("() => window.heard.marks") == {"volume": 3, "tone": 4}


@pytest.mark.long
def test_what_is_heard_is_the_response(visit) -> None:
    """An impulse through the page's own player: two guitars and a held curve, to 0.01 dB."""
    guitars = {"odd": odd(), "50s": one(wiring="50s")}
    page = visit(live_page(guitars, volume=6, tone=4))
    turn(page, "volume", 8)
    page.get_by_role("button", name="hold for comparison: odd").click()
    turn(page, "volume", 3)
    rate, length, late = 48_000, 16_384, 256
    heard = page.evaluate(
        """([rate, length]) => Promise.all([0, 1, 2].map(async (index) => {
          const { sound } = document.getElementById("live").live;
          const context = new OfflineAudioContext(1, length, rate);
          const click = new AudioBuffer({ length: 1, sampleRate: rate });
          click.getChannelData(0)[0] = 1;
          sound.chain(context, click, false, context.destination)
            .hear(sound.kernel(index, rate), 1);
          return Array.from((await context.startRendering()).getChannelData(0));
        }))""",
        [rate, length],
    )
    bins = np.unique(np.geomspace(30, 10e3, 200) * length // rate).astype(int)
    frequency = bins * rate / length
    delay = np.exp(-2j * np.pi * frequency * late / rate)
    played = (guitars["odd"], 3), (guitars["50s"], 3), (guitars["odd"], 8)
    for click, (guitar, volume) in zip(heard, played, strict=True):
        expected = gn.response(guitar, frequency=frequency, volume=volume, tone=4).values
        error = 20 * np.log10(np.abs(np.fft.rfft(click)[bins] / (expected * delay)))
        np.testing.assert_allclose(error, 0, atol=0.01)


def test_a_guitar_without_a_volume_has_no_columns_for_it(visit) -> None:
    bare = gn.layouts.pickup_alone(LOSSLESS).plugged("3 m")
    page = visit(live_page(bare))
    assert len(table(page)[0]) == 2
    assert page.get_by_label("0 dB is").locator("option").count() == 2


# -- the address ------------------------------------------------------------------------------


def test_a_link_opens_the_page_as_it_stood(saved, visit) -> None:
    page = visit(saved)
    turn(page, "volume", 2.5)
    turn(page, "cable", 7.5)
    page.get_by_label("treble bleed", exact=True).select_option("series")
    page.get_by_label("treble bleed, capacitor").select_option("1.2 nF")
    page.get_by_label("treble bleed, resistor").select_option("130 kΩ")
    page.get_by_label("tone capacitor", exact=True).select_option("47 nF")
    page.get_by_label("0 dB is").select_option("0")
    page.get_by_role("button", name="hold for comparison: 50s wiring").click()
    turn(page, "volume", 4)
    page.get_by_role("checkbox", name="no bleed").uncheck()
    page.get_by_label("difference", exact=True).select_option("held curve")
    page.get_by_role("radio", name="B: 150k || 1n").check()
    page.get_by_label("B is", exact=True).select_option("held: 50s wiring")
    page.get_by_label("match levels").uncheck()
    page.wait_for_function("() => location.hash.includes('plain')")
    link = page.url.partition("#")[2]
    assert "volume=4" in link
    other = visit(saved, hash=f"#{link}")
    assert plots(other)[0][1][0].size > 0
    for (frequency, level), (also, same) in zip(
        itertools.chain(*plots(page)), itertools.chain(*plots(other)), strict=True
    ):
        np.testing.assert_array_equal(frequency, also)
        np.testing.assert_allclose(level, same, atol=1e-9)
    assert table(other) == table(page)
    assert other.get_by_role("radio", name="B: held: 50s wiring").is_checked()
    assert (
        other.get_by_label("A is", exact=True).locator("option:checked").text_content()
        == "no bleed"
    )
    assert not other.get_by_label("match levels").is_checked()
    other.bring_to_front()  # a tab behind draws once a second
    other.evaluate("() => { location.hash = '#volume=9'; }")
    other.wait_for_function("() => document.querySelector('.stands').textContent.includes('me 9;')")
    assert len(table(other)) == 3
    assert other.get_by_role("radio", name="A: no bleed").is_checked()
    assert other.get_by_label("match levels").is_checked()


def test_reset_brings_the_controls_back_and_leaves_the_held_curve(saved, visit) -> None:
    page = visit(saved)
    opened = page.locator(".stands").text_content()
    turn(page, "volume", 2)
    page.get_by_label("treble bleed", exact=True).select_option("none")
    page.get_by_role("button", name="hold for comparison: no bleed").click()
    page.get_by_role("button", name="reset controls").click()
    assert page.locator(".stands").text_content() == opened
    assert page.get_by_role("slider", name="volume", exact=True).input_value() == "5"
    assert "(volume 2; treble bleed none)" in page.locator("tbody th").last.text_content()


ADDRESSES = [
    "volume=11&tone=-1&cable=1e9",
    "volume=NaN&tone=&cable=own%00",
    "volume=5;tone=5&__proto__=1&constructor=x&_0dB=constructor",
    "treble_bleed=parallel,1e-9,0&tone_capacitor=__proto__",
    "treble_bleed=series&_held=99;volume=1&_minus=0,99&_hidden=-1,x",
    "_held=0.5%3B_held%3D0&_minus=1.5,0",
    "_hear=straight,matched,0,9&_0dB=full,",
    "_hear=__proto__,plain,0,1",
    "_hear=B,plain,0",
    "%E0%A4%A&%&=&&&" + "a" * 20000,
    "volume=<img src=x onerror=window.broken=1>",
]


def test_a_hostile_address_does_nothing(saved, visit) -> None:
    """One opens the page, the others come to the open page, of which all is read anew."""
    page = visit(saved, hash=f"#{ADDRESSES[0]}")
    for number, hostile in enumerate(ADDRESSES):
        if number:
            page.evaluate(
                """(hash) => new Promise((read) => {
                  window.addEventListener("hashchange", read, { once: true });
                  window.location.hash = hash;
                })""",
                hostile,
            )
        stands = page.locator(".stands").text_content()
        assert stands.startswith("volume 5; tone 8; cable 5 m (16 ft); treble bleed as built")
        assert page.locator(".figure .curve").first.get_attribute("d").startswith("M")
        assert len(table(page)) == 3
        assert page.get_by_role("radio", name="A: no bleed").is_checked()
        assert page.evaluate("() => window.broken") is None


# -- files and notebooks ------------------------------------------------------------------------


@pytest.mark.long
def test_accessible_as_wcag_2_2_aa(saved, visit, check_by_axe) -> None:
    """W3C WCAG 2.2, levels A and AA, as far as axe-core tells; reflow at 320 px, targets."""
    link = "#treble_bleed=series,1.2e-9,130000&_held=1%3Bvolume%3D3&_minus=1,3"
    page = visit(saved, hash=link)
    assert len(plots(page)) == 2
    check_by_axe(page, "dark")
    page.set_viewport_size({"width": 320, "height": 700})
    check_by_axe(page, "light")
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 320
    assert page.locator(".figure").first.bounding_box()["height"] >= 0.4 * 700
    small = [
        (target.text_content(), box)
        for target in page.locator(
            ".live select, .live button, .live label:has(input), .turn input"
        ).all()
        if (box := target.bounding_box()) and min(box["width"], box["height"]) < 24
    ]
    assert small == []


def test_print_has_no_controls_and_says_how_all_stands(saved, visit) -> None:
    page = visit(saved, color_scheme="dark")
    page.get_by_role("checkbox", name="no bleed").uncheck()
    page.emulate_media(media="print")
    background = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    assert background == "rgb(255, 255, 255)"
    for gone in (".controls", ".bar", "tbody button", ".hearing"):
        assert not page.locator(gone).first.is_visible()
    assert page.locator(".stands").is_visible()
    visible = [row.is_visible() for row in page.locator("tbody tr").all()]
    assert visible == [False, True, True, False]


def test_without_scripts_the_page_shows_a_still_and_its_numbers(builds, saved, visit) -> None:
    assert visit(saved).locator(".without").count() == 0
    page = visit(saved, java_script_enabled=False, viewport=(900, 700))
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 900
    assert page.get_by_role("img", name="Treble bleeds: volume 5; tone 8.").is_visible()
    assert page.get_by_text("To move the controls, open this file in a web browser.").is_visible()
    assert not page.get_by_text("How to read this page").is_visible()
    cells = page.locator(".without td").all_text_contents()
    h = gn.response(builds, volume=[10, 5], tone=8)
    level = gn.effective_taper(h).sel(volume=5)
    change = gn.treble_change(h, frequencies=[3000]).change.sel(volume=5)
    assert cells[0] == "no bleed"
    assert float(cells[1].replace("\u2212", "-")) == pytest.approx(level[0].item(), abs=0.051)
    assert float(cells[3].replace("\u2212", "-")) == pytest.approx(change[0].item(), abs=0.051)


def test_a_notebook_shows_it_live_or_as_a_still(builds, visit) -> None:
    html = live_page(builds, title="Bleeds")._repr_html_()
    page = visit(content=f"<!DOCTYPE html>{html}", viewport=(900, 900))
    inner = page.frame_locator("iframe")
    inner.get_by_role("slider", name="volume").press("ArrowRight")
    assert inner.locator(".stands").text_content().startswith("volume 5.1; tone 10;")
    assert not page.locator("img").is_visible()
    frame = page.locator("iframe")
    tall = frame.evaluate("frame => frame.contentDocument.documentElement.offsetHeight")
    assert frame.bounding_box()["height"] == pytest.approx(tall, abs=1)
    still = visit(content=re.sub("<iframe.*</iframe>", "", html, flags=re.DOTALL))
    assert still.get_by_role("img", name="Bleeds: volume 5; tone 10.").is_visible()


def test_hostile_names_are_only_text(tmp_path, visit) -> None:
    builds = {label: one() for label in HOSTILE}
    page = visit(live_page(builds, title=HOSTILE[0]).save(tmp_path / "hostile.html"))
    assert page.title() == page.locator("h1").text_content() == HOSTILE[0]
    shown = page.locator("tbody th .name").all_text_contents()
    assert shown[: len(HOSTILE)] == HOSTILE
    page.get_by_role("button", name="hold for comparison").first.click()
    page.get_by_label("difference", exact=True).select_option("1")
    assert page.evaluate("() => [window.broken, document.images.length]") == [None, 0]


def test_a_hostile_place_is_only_text(visit) -> None:
    switch = gn.Switch({HOSTILE[0]: [["a", "b"]], HOSTILE[1]: []}, ["a", "b"])
    guitar = one().add("cut", switch)
    guitar = guitar.join("cut.a", "jack.tip").join("cut.b", "jack.sleeve")
    page = visit(live_page(guitar, cut=HOSTILE[1]))
    assert page.locator("fieldset label").first.text_content() == HOSTILE[0]
    page.get_by_role("radio").first.check()
    assert page.locator(".figure .here").text_content() == "silent"
    assert page.evaluate("() => window.broken") is None


@pytest.mark.parametrize(("unlocked", "found"), [(False, None), (True, 1)])
def test_only_the_own_script_may_run(saved, tmp_path, browser, unlocked, found) -> None:
    """The page's policy is a second lock, beside escaping; without it the script would run."""
    path = tmp_path / "page.html"
    inserted = "<script>window.broken = 1</script><h1>"
    path.write_text(saved.read_text("utf-8").replace("<h1>", inserted), "utf-8")
    context = browser.new_context(offline=True, bypass_csp=unlocked)
    page = context.new_page()
    page.goto(path.as_uri())
    seen = page.evaluate("() => window.broken"), page.locator(".figure").first.is_visible()
    context.close()
    assert seen == (found, True)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: live_page({}),
            "guitars: has no guitar; give at least one, as {'mine': guitar}.",
        ),
        (
            lambda: live_page(3),
            "guitar: an int is not a harness; give a Harness, such as gn.layouts.one_pickup(...).",
        ),
        (
            lambda: live_page({str(i): one() for i in range(9)}),
            "guitars: 9 curves cannot be told apart; give up to 8.",
        ),
        (
            lambda: live_page(one(), volum=5),
            "volum: the harness has no part 'volum'; did you mean 'volume'?",
        ),
        (
            lambda: live_page(one(), volume=[5, 3]),
            "volume: is given several values, and a page opens with one; give one; you can "
            "move it on the page, or give several guitars as builds.",
        ),
        (
            lambda: live_page(one(), **{"volume.track": 0.5}),
            "volume.track: is the track, not the mark; set the mark, as volume=5.",
        ),
        (
            lambda: live_page(one(), knob="volume"),
            "knob: is for an array; all controls of a guitar move; leave it out.",
        ),
        (
            lambda: live_page(one(), re="loudest"),
            "re: 'loudest' is no reference of the page; use None, 'reference' or {'volume': 10}.",
        ),
        (
            lambda: live_page(one(), view=(500, 50)),
            "view: (500, 50) is no range; give two frequencies within 20 to 20000 Hz.",
        ),
    ],
)
def test_what_cannot_be_shown_is_said_in_one_sentence(make, sentence: str) -> None:
    with pytest.raises(gn.errors.BadSetting) as caught:
        make()
    assert str(caught.value) == sentence


# -- what a customer reads in ten seconds -----------------------------------------------------


def answer(page) -> list[str]:
    """The sentences above the figure, as Python writes them."""
    lines = page.evaluate(
        "() => [...document.querySelectorAll('.answer p')].map((p) => p.innerText)"
    )
    plain = [line.replace("\u00a0", " ").replace("\u2212", "-") for line in lines]
    return [line.replace("treble (3 kHz)", "3 kHz") for line in plain]


def explained(*given: Any, **settings: Any) -> list[str]:
    return [one.text for one in gn.explain(*given, **settings).sentences]


def test_the_sentences_are_those_of_explain(builds, saved, visit) -> None:
    """Word for word as Python computes them, with its own solver and its own search of peaks."""
    guitar = one(treble_bleed="1n")
    page = visit(live_page(guitar, volume=10, tone=10))
    assert answer(page) == [
        "The resonance peak is at 3.77 kHz, 4.3 dB above the bass (100 Hz). "
        "Turn a knob, and this line says what it does."
    ]
    assert explained(one(), volume=[5, 10])[-1].startswith(
        "There is a resonance peak now, at 3.77 kHz (4.3 dB above the bass)"
    )
    for mark in (9, 5, 1, 0):
        turn(page, "volume", mark)
        assert " ".join(answer(page)) == " ".join(explained(guitar, volume=[10, mark]))
    turn(page, "tone", 4)
    turn(page, "volume", 3)
    told = " ".join(explained(guitar, volume=[10, 3], tone=4))
    assert " ".join(answer(page)) == told
    turn(page, "volume", 10)
    assert " ".join(answer(page)) == " ".join(explained(guitar, tone=[10, 4]))
    page.get_by_role("button", name="hold this curve for comparison").click()
    turn(page, "tone", 9)
    expected = " ".join(explained(guitar, tone=[4, 9]))
    begins = "With these settings instead of the held curve"
    assert " ".join(answer(page)) == expected.replace("From tone 4 to 9", begins)
    page = visit(saved, viewport=(390, 844))
    heading, *lines = answer(page)
    assert heading == "From volume 10 to 5:"
    for (label, built), line in zip(builds.items(), lines, strict=True):
        told = explained(built, volume=[10, 5], tone=8)
        first = told[0].removeprefix("From volume 10 to 5, ")
        assert line == f"{label}: {first[0].upper()}{first[1:]} {told[1]}"
    assert page.locator(".figure").first.bounding_box()["height"] >= 0.4 * 844
    assert page.locator(".names text").all_text_contents() == list(builds)
    assert page.locator(".figure .range").all_text_contents()[1::2] == ["bass", "middle", "treble"]
    turn(page, "volume", 10)
    nothing = "Nothing changes: less than 0.05 dB from 20 Hz to 20 kHz."
    assert answer(page) == [
        "Compared with no bleed:", f"150k || 1n: {nothing}", f"50s wiring: {nothing}"
    ]  # fmt: skip


def test_a_control_that_can_do_nothing_is_grey_and_says_why(visit) -> None:
    """Against the solver: what moves no response is grey, and what moves one is not."""
    for name in ("three single coils", "push-pulls"):
        [guitar] = PAGES[name]().values()
        view = live_page(guitar)
        page, data = visit(view), data_of(view.html())
        switches = {switch["name"]: switch["places"] for switch in data["switches"]}
        half = {knob["name"]: 6.0 for knob in data["knobs"]}
        combinations = list(itertools.product(*switches.values()))
        greyed = 0
        for chosen in combinations[:: len(combinations) // 2]:
            places = dict(zip(switches, chosen, strict=True))
            page.evaluate("places => document.getElementById('live').live.set({ places })", places)
            found = page.evaluate(
                """() => [".turn", "fieldset"].flatMap((kind) => [...document.querySelectorAll(
                  `.controls ${kind}:has(input)`)].map((one) => [
                    one.querySelector("input").disabled, one.querySelector(".why")?.innerText]))"""
            )
            del found[len(half)]  # the cable
            tried = {knob: [3.0, 8.0] for knob in half} | switches
            for (control, values), (grey, why) in zip(tried.items(), found, strict=True):
                at = half | places | {control: values}
                h = gn.response(guitar, at, frequency=[100, 1e3, 5e3]).transpose(control, ...)
                assert grey == np.allclose(h[1:], h[:1], rtol=1e-9, atol=0), (places, control)
                assert why.startswith("not in use with ") if grey else why == ""
                greyed += grey
        assert greyed >= 2, "there is something to say"
