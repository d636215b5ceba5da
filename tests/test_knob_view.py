"""The knob view in a real browser: what is drawn, typed, read aloud, and kept harmless."""

from __future__ import annotations

import itertools
import re
import statistics
import subprocess
import sys

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from guitarnet.show.page.knob_view import knob_view

MARKS = np.arange(0, 10.5, 0.5)
HOSTILE = [
    '</script><img src=x onerror="window.broken=1">',
    "\"><svg onload='window.broken=1'>",
    "$\\frac{$ & <b>_",
    "_hidden \u2028 \x00 line",
    "<!--<script>",
]


def guitar(**parts: object) -> gn.Harness:
    return gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), cable="5 m", **parts)


@pytest.fixture(scope="module")
def h() -> xr.DataArray:
    builds = {
        "no bleed": guitar(),
        "1 nF": guitar(treble_bleed="1n"),
        "1 nF || 150k": guitar(treble_bleed="150k || 1n"),
        "1.2 nF + 130k": guitar(treble_bleed="1.2n + 130k"),
        "50s wiring": guitar(wiring="50s"),
    }
    return gn.response(builds, volume=MARKS)


@pytest.fixture(scope="module")
def saved(h: xr.DataArray, tmp_path_factory: pytest.TempPathFactory):
    return knob_view(h, title="Treble bleeds").save(tmp_path_factory.mktemp("view") / "view.html")


def turn(page, mark: float) -> None:
    page.get_by_role("slider").fill(str(int(np.flatnonzero(mark == MARKS)[0])))


def drawn(page) -> list[tuple[np.ndarray, np.ndarray]]:
    """Read frequency [Hz] and level [dB] of every curve back from what is on the page."""
    seen = page.evaluate(
        """() => ({
          limits: JSON.parse(document.getElementById("data").textContent).limits,
          levels: [...document.querySelectorAll("#figure [data-level]")]
            .map((text) => Number(text.dataset.level)),
          frame: ["x", "y", "width", "height"]
            .map((name) => Number(document.querySelector("#figure > rect").getAttribute(name))),
          paths: [...document.querySelectorAll("#figure .curve")].map((p) => p.getAttribute("d")),
        })"""
    )
    x, y, width, height = seen["frame"]
    low, high = np.log(seen["limits"])
    bottom, top = min(seen["levels"]), max(seen["levels"])
    curves = []
    for path in seen["paths"]:
        points = np.array(re.findall(r"[ML](\S+) ([^ML]+)", path), dtype=float).reshape(-1, 2)
        frequency = np.exp(low + (points[:, 0] - x) / width * (high - low))
        curves.append((frequency, top - (points[:, 1] - y) / height * (top - bottom)))
    return curves


def table(page) -> list[list[str]]:
    return page.evaluate(
        """() => [...document.querySelectorAll("#numbers tbody tr")].map(
          (row) => [...row.querySelectorAll("td")].map((cell) => cell.textContent))"""
    )


@pytest.mark.parametrize("words", ["1 V/V", "100 Hz", "volume 10"])
def test_the_curves_on_the_page_are_the_computed_ones(h, saved, visit, words: str) -> None:
    """Between the drawn points too: a straight line on the page misses no computed level."""
    reference = {"1 V/V": None, "100 Hz": "reference", "volume 10": {"volume": 10}}[words]
    levels = gn.level_db(h, re=reference)
    page = visit(saved, viewport=(1000, 900))
    option = page.locator("#reference option").filter(has_text=words)
    page.get_by_label("0 dB is").select_option(option.get_attribute("value"))
    assert words in page.locator("#figure .axis").text_content()
    for mark in (0.5, 3, 5, 9.5, 10):
        turn(page, mark)
        for build, (frequency, level) in enumerate(drawn(page)):
            expected = levels.isel(build=build).sel(volume=mark)
            inside = expected.frequency[(expected.frequency > 51) & (expected.frequency < 14.9e3)]
            on_page = np.interp(np.log(inside), np.log(frequency), level)
            worst = np.abs(on_page - expected.sel(frequency=inside)).max()
            assert worst < 0.02, (mark, build)


def test_the_table_tells_the_measures_at_the_knob(h, saved, visit) -> None:
    level = gn.effective_taper(h)
    change = gn.treble_change(h, frequencies=[1000, 3000, 5000]).change
    peak = gn.peak(h)
    page = visit(saved)
    for mark in (1, 5, 8.5):
        turn(page, mark)
        for build, cells in zip(h.build.values, table(page), strict=True):
            at = {"build": build, "volume": mark}
            expected = [level.sel(at), *change.sel(at), peak.frequency.sel(at) / 1000]
            expected.append(peak.height.sel(at))
            shown = [float(c.replace("\u2212", "-").replace("\u2014", "nan")) for c in cells]
            np.testing.assert_allclose(shown, expected, atol=0.0501)


def test_it_opens_at_five_on_the_shape(saved, visit) -> None:
    page = visit(saved)
    assert page.get_by_role("slider", name="volume").get_attribute("aria-valuetext") == "volume 5"
    assert page.get_by_label("0 dB is").locator("option:checked").text_content() == (
        "100 Hz: shape only"
    )
    assert page.locator(".notes").text_content() == (
        "Response at the amp. Lossless coil assumed (no eddy currents, no screening). "
        "Pickup 6.2 kΩ, 2.4 H, 120 pF; volume 250 kΩ, audio 15%; tone 250 kΩ, audio 15%; "
        "tone capacitor 22 nF; cable 5 m at 100 pF/m; amp 1 MΩ."
    )
    assert page.title() == "Treble bleeds"


def test_arrow_keys_turn_the_knob(saved, visit) -> None:
    page = visit(saved)
    before = drawn(page)[1][1]
    page.keyboard.press("Tab")
    knob = page.get_by_role("slider")
    assert knob.evaluate("knob => knob === document.activeElement")
    assert knob.evaluate("knob => getComputedStyle(knob).outlineStyle") == "solid"
    page.keyboard.press("ArrowLeft")
    assert knob.get_attribute("aria-valuetext") == "volume 4.5"
    assert np.abs(drawn(page)[1][1] - before).max() > 0.1
    page.keyboard.press("ArrowRight")
    assert knob.get_attribute("aria-valuetext") == "volume 5"
    assert (drawn(page)[1][1] == before).all()
    page.keyboard.press("End")
    assert page.locator("#here").text_content() == "volume 10"


def test_volume_zero_is_silent(saved, visit) -> None:
    page = visit(saved)
    turn(page, 0)
    assert page.locator("#remarks").text_content() == "silent"
    assert all(frequency.size == 0 for frequency, _ in drawn(page))
    assert [row[0] for row in table(page)] == ["silent"] * 5
    assert "NaN" not in page.locator("main").text_content()


def test_one_silent_build_is_named(h, visit) -> None:
    dead = h.where(h.build != "1 nF", 0)
    dead = dead.assign_coords(at_reference=h.at_reference.where(h.build != "1 nF", 0))
    page = visit(knob_view(dead))
    assert page.locator("#remarks").text_content() == "1 nF: silent"
    assert [row[0] == "silent" for row in table(page)] == [False, True, False, False, False]


def test_curves_that_hide_each_other_are_counted(saved, visit) -> None:
    page = visit(saved)
    turn(page, 10)
    assert page.locator("#remarks").text_content() == "5 curves within 0.05 dB"
    assert [row[:4] for row in table(page)] == [["0.0"] * 4] * 5
    turn(page, 9.5)
    assert page.locator("#remarks").text_content() == ""


def test_checkboxes_choose_the_builds(saved, visit) -> None:
    page = visit(saved)
    page.get_by_role("checkbox", name="1 nF", exact=True).uncheck()
    assert [frequency.size > 0 for frequency, _ in drawn(page)] == [True, False, True, True, True]
    for box in page.get_by_role("checkbox").all():
        box.uncheck()
    assert page.locator("#remarks").text_content() == "no build chosen"
    page.get_by_role("checkbox", name="50s wiring").focus()
    page.keyboard.press("Space")
    assert [frequency.size > 0 for frequency, _ in drawn(page)] == [False] * 4 + [True]


def test_a_turn_of_the_knob_redraws_within_20_ms(saved, visit) -> None:
    times = visit(saved).evaluate(
        """() => {
          const knob = document.getElementById("knob");
          const times = [];
          for (let turn = 0; turn < 200; turn++) {
            knob.value = turn % 21;
            const start = performance.now();
            knob.dispatchEvent(new Event("input"));
            document.getElementById("figure").getBBox();
            document.getElementById("numbers").getBoundingClientRect();
            times.push(performance.now() - start);
          }
          return times;
        }"""
    )
    assert statistics.median(times) < 20


def test_the_page_is_small(saved) -> None:
    assert saved.stat().st_size < 100_000


def test_names_and_roles_for_a_screen_reader(saved, visit) -> None:
    page = visit(saved)
    turn(page, 3)
    figure = page.get_by_role("img", name="volume 3: level re 100 Hz, each curve its own [dB]")
    assert figure.count() == 1
    snapshot = page.locator("main").aria_snapshot()
    for line in (
        '- heading "Treble bleeds" [level=1]',
        '- slider "volume"',
        '- combobox "0 dB is"',
        '- table "Level, change and peak of each build at the volume mark"',
        '- columnheader "change re volume 10, matched at 100 Hz [dB]"',
        '- rowheader "no bleed"',
        '- checkbox "1 nF || 150k" [checked]',
    ):
        assert line in snapshot, snapshot
    said = page.get_by_role("status")
    said.filter(has_text="volume 3").wait_for(state="attached")
    words = said.text_content()
    assert words.startswith("volume 3. no bleed: level \u221221.0 dB, change at 1 kHz")
    assert "NaN" not in words


def luminance(rgb: str) -> float:
    """Relative luminance as W3C, Web Content Accessibility Guidelines 2.2, defines it."""
    shares = [int(c) / 255 for c in re.findall(r"\d+", rgb)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(one: str, other: str) -> float:
    dark, light = sorted([luminance(one), luminance(other)])
    return (light + 0.05) / (dark + 0.05)


def eight_builds() -> xr.DataArray:
    """Make as many curves as a view may hold."""
    return gn.response(
        guitar(), volume=[0, 5, 10], **{"cable.length": [f"{n} m" for n in range(1, 9)]}
    )


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_and_curves_stand_out_from_the_paper(visit, scheme: str) -> None:
    """W3C WCAG 2.2, success criteria 1.4.3 (text 4.5 to 1) and 1.4.11 (graphics 3 to 1)."""
    page = visit(knob_view(eight_builds()), color_scheme=scheme)
    paper = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    assert (luminance(paper) > 0.5) == (scheme == "light")
    colours = """([where, property]) => [...document.querySelectorAll(where)].map(
      (found) => getComputedStyle(found)[property])"""
    text = page.evaluate(colours, ["h1, label, td, th, .notes, #scale span, select", "color"])
    text += page.evaluate(colours, ["#figure text", "fill"])
    assert min(contrast(colour, paper) for colour in text) >= 4.5
    curves = page.evaluate(colours, [".curve", "stroke"])
    edges = page.evaluate(colours, ["#figure rect, #figure .zero", "stroke"])
    assert min(contrast(colour, paper) for colour in curves + edges) >= 3
    dashes = page.evaluate(colours, ["#figure .curve", "strokeDasharray"])
    assert len(set(zip(curves[:8], dashes, strict=True))) == len(set(dashes)) == 8


def test_a_narrow_screen_shows_all_and_can_be_touched(saved, visit) -> None:
    """W3C WCAG 2.2, success criteria 1.4.10 (reflow at 320 px) and 2.5.8 (targets of 24 px)."""
    page = visit(saved, viewport=(320, 640))
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 320
    for target in page.locator("#knob, #reference, tbody label").all():
        box = target.bounding_box()
        assert min(box["width"], box["height"]) >= 24
    cells = [cell.bounding_box() for cell in page.locator("tbody tr").first.locator("td").all()]
    for left, right in itertools.pairwise(cells):
        assert left["x"] + left["width"] <= right["x"] + 1


def test_print_is_dark_on_white_without_controls(saved, visit) -> None:
    page = visit(saved, color_scheme="dark")
    page.get_by_role("checkbox", name="1 nF", exact=True).uncheck()
    page.emulate_media(media="print")
    assert page.evaluate("() => getComputedStyle(document.body).backgroundColor") == (
        "rgb(255, 255, 255)"
    )
    assert not page.locator("#knob").is_visible()
    visible = [row.is_visible() for row in page.locator("tbody tr").all()]
    assert visible == [True, False, True, True, True]
    stroke = page.locator("#figure .c0").evaluate("curve => getComputedStyle(curve).stroke")
    assert contrast(stroke, "rgb(255, 255, 255)") >= 3


@pytest.fixture(scope="module")
def hostile():
    h = gn.response({label: guitar() for label in HOSTILE}, volume=[0, 5, 10])
    h.attrs["assumptions"] = HOSTILE[0]
    h["volume"].attrs["long_name"] = HOSTILE[1]
    h["build"].attrs["long_name"] = HOSTILE[0]
    return knob_view(h, title=HOSTILE[0])


def test_hostile_labels_are_only_text(hostile, visit) -> None:
    page = visit(hostile)
    assert page.title() == page.locator("h1").text_content() == HOSTILE[0]
    shown = page.locator("tbody th").all_text_contents()
    assert shown[:3] == HOSTILE[:3]
    assert "_hidden" in shown[3]
    turn_to_zero = page.get_by_role("slider")
    turn_to_zero.press("Home")
    assert page.evaluate("() => [window.broken, document.images.length]") == [None, 0]


def test_hostile_labels_in_a_notebook_and_without_scripts(hostile, tmp_path, visit) -> None:
    page = visit(content=f"<!DOCTYPE html>{hostile._repr_html_()}")
    inner = page.frame_locator("iframe")
    assert inner.locator("h1").text_content() == HOSTILE[0]
    assert page.evaluate("() => [window.broken, document.images.length]") == [None, 1]
    still = visit(hostile.save(tmp_path / "still.html"), java_script_enabled=False)
    assert still.locator(".without td").first.text_content() == HOSTILE[0]
    assert still.locator("img").count() == 1


@pytest.mark.parametrize(("unlocked", "found"), [(False, None), (True, 1)])
def test_only_the_own_script_may_run(saved, tmp_path, browser, unlocked, found) -> None:
    """The page's policy is a second lock, beside escaping; without it the script would run."""
    path = tmp_path / "view.html"
    inserted = "<script>window.broken = 1</script><h1>"
    path.write_text(saved.read_text("utf-8").replace("<h1>", inserted), "utf-8")
    context = browser.new_context(offline=True, bypass_csp=unlocked)
    page = context.new_page()
    page.goto(path.as_uri())
    seen = page.evaluate("() => window.broken"), page.locator("#figure").is_visible()
    context.close()
    assert seen == (found, True)


def test_a_trusted_notebook_shows_the_live_view(h, visit) -> None:
    html = knob_view(h, title="Treble bleeds")._repr_html_()
    page = visit(content=f"<!DOCTYPE html>{html}", viewport=(900, 900))
    inner = page.frame_locator("iframe")
    inner.get_by_role("slider").press("ArrowRight")
    assert inner.locator("#here").text_content() == "volume 5.5"
    assert not page.locator("img").is_visible()
    frame = page.locator("iframe")
    tall = frame.evaluate("frame => frame.contentDocument.documentElement.offsetHeight")
    assert frame.bounding_box()["height"] == pytest.approx(tall, abs=1)


def test_an_untrusted_notebook_shows_the_still(h, visit) -> None:
    html = knob_view(h, title="Treble bleeds")._repr_html_()
    page = visit(content=re.sub("<iframe.*</iframe>", "", html, flags=re.DOTALL))
    picture = page.get_by_role("img", name="Treble bleeds: volume 5.")
    assert picture.is_visible()
    assert picture.evaluate("image => [image.complete, image.naturalWidth]") == [True, 760]


def test_without_scripts_the_page_shows_the_still_and_its_numbers(saved, visit) -> None:
    page = visit(saved, java_script_enabled=False)
    assert page.get_by_role("img", name="Treble bleeds: volume 5.").is_visible()
    assert not page.locator("#live").is_visible()
    assert "\u221216.7" in page.locator(".without table").text_content()


def test_one_guitar_needs_no_choice(visit) -> None:
    """Marks as they come, unevenly and from the top: the page puts them in order."""
    h = gn.response(guitar(), volume=[10, 7, 0, 5, 3])
    page = visit(knob_view(h, re={"volume": 10}))
    assert page.get_by_role("checkbox").count() == 0
    assert page.locator("#scale span").all_text_contents() == ["0", "3", "5", "7", "10"]
    page.get_by_role("slider").press("End")
    _, level = drawn(page)[0]
    np.testing.assert_allclose(level, 0, atol=0.005)


def test_any_other_dimension_may_be_the_choice(visit) -> None:
    settings = {"tone": [10, 5, 0], "cable.length": ["1 m", "10 ft"]}
    page = visit(knob_view(gn.response(guitar(), **settings)))
    assert page.locator("tbody th").all_text_contents() == ["1 m", "10 ft"]
    assert page.get_by_role("slider", name="tone").get_attribute("aria-valuetext") == "tone 5"
    both = gn.response(guitar(), volume=[10, 5], tone=[10, 2])
    page = visit(knob_view(both, knob="volume"))
    assert page.locator("tbody th").all_text_contents() == ["tone 10", "tone 2"]
    page = visit(knob_view(both.sel(tone=2)))
    assert page.locator(".notes").text_content().endswith("Tone 2.")


def test_a_chunked_response_gives_the_same_page(h) -> None:
    chunked = h.chunk({"volume": 7})
    chunked = chunked.assign_coords(at_reference=h.at_reference.chunk({"volume": 7}))
    assert knob_view(chunked)._page("") == knob_view(h)._page("")


def test_a_narrow_grid_is_drawn_as_far_as_it_goes(visit) -> None:
    h = gn.response(guitar(), frequency=np.geomspace(80, 2000, 40), volume=[0, 5, 10])
    page = visit(knob_view(h))
    frequency, _ = drawn(page)[0]
    np.testing.assert_allclose(frequency, h.frequency, rtol=1e-4)
    names = page.locator("thead tr").last.locator("th").all_text_contents()
    assert names == ["build", "100\u00a0Hz", "1 kHz", "kHz", "dB re 100\u00a0Hz"]


def test_the_look_of_other_figures_stays_as_it_was(h) -> None:
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    html = knob_view(h)._repr_html_()
    assert html.startswith('<div><img class="still" alt="What the volume knob does: volume 5.')
    assert dict(mpl.rcParams) == before


def test_import_leaves_matplotlib_alone() -> None:
    code = "import sys, guitarnet.show.page.knob_view; print('matplotlib' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout == "False\n"


def test_it_says_what_it_is(h) -> None:
    assert repr(knob_view(h, mark=3)) == "KnobView(5 x volume 0 to 10, opens at 3)"


def short(**settings: object) -> xr.DataArray:
    return gn.response(guitar(), frequency=[50, 100, 1000, 5000], **settings)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: knob_view([1, 2]),
            "response: a list is not a response over frequency; give what response() returns.",
        ),
        (
            lambda: knob_view(short()),
            "knob_view: the response was swept over no knob; "
            "give response() marks, as in volume=range(11).",
        ),
        (
            lambda: knob_view(short(**{"cable.length": ["1 m", "3 m"]})),
            "knob_view: the response was swept over no knob; "
            "give response() marks, as in volume=range(11).",
        ),
        (
            lambda: knob_view(short(volume=[10, 5], tone=[10, 5])),
            "knob_view: 2 knobs were swept: volume, tone; say which one turns, "
            "as in knob='volume'.",
        ),
        (
            lambda: knob_view(short(volume=[10, 5]), knob="volum"),
            "knob: 'volum' is no knob that was swept; did you mean 'volume'?",
        ),
        (
            lambda: knob_view(
                short(volume=[10, 5], tone=[10, 5], **{"cable.length": ["1 m", "3 m"]}),
                knob="volume",
            ),
            "knob_view: the response has 2 dimensions beside volume and frequency: tone, "
            "cable.length; choose a place of all but one, as in h.sel({'cable.length': ...}).",
        ),
        (
            lambda: knob_view(
                short(volume=[10, 5], **{"cable.length": [f"{n} m" for n in range(1, 10)]})
            ),
            "knob_view: 9 curves of 'cable.length' cannot be told apart; "
            "choose up to 8, as in h.isel({'cable.length': [0, 1, 2]}).",
        ),
        (
            lambda: knob_view(short(volume=np.linspace(0, 10, 301))),
            "knob_view: 301 marks of 'volume' make a page too large; "
            "give up to 201, such as numpy.linspace(0, 10, 21).",
        ),
        (
            lambda: knob_view(short(volume=[5, 3])),
            "re volume: 10 is not among 3, 5; add 10 to volume.",
        ),
        (
            lambda: knob_view(short(volume=[10, 5]), mark=4),
            "mark: 4 is not among 5, 10; add 4 to volume.",
        ),
        (
            lambda: knob_view(short(volume=[10, 5]), re="loudest"),
            "re: 'loudest' is no reference of the knob view; "
            "use None, 'reference' or {'volume': 10}.",
        ),
        (
            lambda: knob_view(short(volume=[10, 5]), view=(6000, 9000)),
            "view: 6 kHz to 9 kHz holds 0 frequencies of the response; "
            "give a view within 50 Hz to 5 kHz.",
        ),
    ],
    ids=[
        "no response",
        "no knob",
        "no knob but a cable",
        "two knobs",
        "knob misspelt",
        "two choices",
        "nine builds",
        "301 marks",
        "no volume 10",
        "mark not swept",
        "re unknown",
        "view outside",
    ],
)
def test_what_cannot_be_shown_is_said_in_one_sentence(make, sentence: str) -> None:
    with pytest.raises(gn.errors.BadSetting) as caught:
        make()
    assert str(caught.value) == sentence
