"""The live page of an array that was computed: its curves and numbers, what turns, and refusals."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
import xarray as xr
from seen_on_pages import data_of, notes_of, plots, table

import guitarnet as gn

MARKS = np.arange(0, 10.5, 0.5)
HOSTILE = [
    '</script><img src=x onerror="window.broken=1">',
    "\"><svg onload='window.broken=1'>",
    "$\\frac{$ & <b>_",
    "_hidden \u2028 \x00 line",
]


def guitar(**parts: Any) -> gn.Harness:
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
    path = tmp_path_factory.mktemp("array") / "view.html"
    gn.live_page(h, path, title="Treble bleeds")
    return path


def turn(page, place: int) -> None:
    page.get_by_role("slider").fill(str(place))


def numbers(cells: list[str]) -> list[float]:
    return [float(cell.replace("\u2212", "-").replace("\u2014", "nan")) for cell in cells]


def test_the_curves_on_the_page_are_the_computed_ones(h, saved, visit) -> None:
    """Between the drawn points too: a straight line on the page misses no computed level."""
    page = visit(saved, viewport=(1000, 900))
    references = {"1 V/V": None, "100 Hz": "reference", "volume 10": {"volume": 10}}
    for number, (words, reference) in enumerate(references.items()):
        levels = gn.level_db(h, re=reference)
        page.get_by_label("0 dB is").select_option(str(number))
        assert words in page.locator(".figure .axis").first.text_content()
        frames = set()
        for mark in (0.5, 3, 9.5, 10):
            turn(page, int(2 * mark))
            for build, (frequency, level) in enumerate(plots(page)[0][:5]):
                expected = levels.isel(build=build).sel(volume=mark)
                at = expected.frequency[(expected.frequency > 51) & (expected.frequency < 14.9e3)]
                on_page = np.interp(np.log(at), np.log(frequency), level)
                worst = np.abs(on_page - expected.sel(frequency=at)).max()
                assert worst < 0.02, (words, mark, build)
            frames.add(page.locator(".figure [data-level]").first.text_content())
        assert len(frames) == 1, "the axis stands still while the knob turns"


def test_the_numbers_are_the_measures(h, saved, visit) -> None:
    level = gn.effective_taper(h)
    change = gn.treble_change(h, frequencies=[1000, 3000, 5000]).change
    peak = gn.peak(h)
    page = visit(saved)
    for mark in (1, 5, 8.5):
        turn(page, int(2 * mark))
        for build, cells in zip(h.build.values, table(page), strict=True):
            at = {"build": build, "volume": mark}
            expected = [level.sel(at), *change.sel(at), peak.frequency.sel(at) / 1000]
            expected.append(peak.height.sel(at))
            np.testing.assert_allclose(numbers(cells), expected, atol=0.0501)
    turn(page, 10)
    rings = page.locator(".peaks text").all_text_contents()
    heard = peak.frequency.sel(volume=5).where(peak.height.sel(volume=5) > 0.1)
    for words in rings:
        near = np.abs(heard / 1000 - float(words.removesuffix(" kHz"))).min()
        assert near < 0.0051, words
    assert len(rings) >= 3
    turn(page, 0)
    assert page.locator(".figure .here").text_content() == "silent"
    assert [row[0] for row in table(page)] == ["silent"] * 5
    assert "NaN" not in page.locator("main").text_content()


@pytest.mark.long
def test_it_opens_at_five_and_turns_by_keys(saved, visit, check_by_axe) -> None:
    """And what a screen reader is told; W3C WCAG 2.2, A and AA, by axe-core, reflow at 320 px."""
    page = visit(saved)
    assert page.title() == page.locator("h1").text_content() == "Treble bleeds"
    assert page.locator(".notes").text_content() == (
        "Response at the amp. Lossless coil assumed (no eddy currents, no screening). "
        "Pickup 6.2 kΩ, 2.4 H, 120 pF; volume 250 kΩ, audio 15%; tone 250 kΩ, audio 15%; "
        "tone capacitor 22 nF; cable 5 m at 100 pF/m; amp 1 MΩ."
    )
    knob = page.get_by_role("slider", name="volume")
    assert knob.get_attribute("aria-valuetext") == "volume 5"
    knob.press("ArrowLeft")
    assert knob.get_attribute("aria-valuetext") == "volume 4.5"
    page.get_by_role("status").filter(has_text="no bleed: level \u2212").wait_for(state="attached")
    knob.press("End")
    assert page.locator(".stands").text_content() == "volume 10."
    assert "5 curves within 0.05 dB" in page.locator(".figure").first.text_content()
    page.get_by_role("checkbox", name="1 nF", exact=True).uncheck()
    assert [at.size > 0 for at, _ in plots(page)[0]] == [True, False, True, True, True, False]
    snapshot = page.locator("main").aria_snapshot()
    for line in (
        '- slider "volume"',
        '- combobox "0 dB is"',
        '- table "Numbers of each build at this setting"',
        '- columnheader "change from volume 10, matched at 100 Hz [dB]"',
        'rowheader "no bleed hold for comparison: no bleed"',
        '- checkbox "1 nF || 150k" [checked]',
    ):
        assert line in snapshot, snapshot
    check_by_axe(page)
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 320


@pytest.mark.long
def test_a_link_opens_it_as_it_stood_with_a_held_curve(saved, visit) -> None:
    page = visit(saved)
    page.get_by_role("button", name="hold for comparison: 1 nF", exact=True).click()
    turn(page, 3)
    page.get_by_label("difference", exact=True).select_option("1 nF")
    page.wait_for_function("() => location.hash.includes('volume=1.5')")
    other = visit(saved, hash=page.url[page.url.index("#") :])
    assert table(other) == table(page)
    assert "1 nF minus held: 1 nF [dB]" in other.locator(".lower").text_content()
    assert other.locator("tbody th").last.text_content() == "held: 1 nF (volume 5)remove"
    for hash in ("#volume=11", "#volume=__proto__&_held=0;volume=x"):
        other.goto("about:blank")
        other.goto(saved.as_uri() + hash)
        assert other.locator(".stands").text_content() == "volume 5."


def luminance(rgb: str) -> float:
    """Relative luminance as W3C, Web Content Accessibility Guidelines 2.2, defines it."""
    shares = [int(c) / 255 for c in re.findall(r"\d+", rgb)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def test_eight_curves_stand_out_from_the_paper_and_from_each_other(visit) -> None:
    """W3C WCAG 2.2, success criterion 1.4.11: graphics 3 to 1."""
    lengths = {"cable.length": [f"{n} m" for n in range(1, 9)]}
    page = visit(gn.live_page(gn.response(guitar(), volume=[0, 5, 10], **lengths)))
    for media in ({"color_scheme": "light"}, {"color_scheme": "dark"}, {"media": "print"}):
        page.emulate_media(**media)
        paper, strokes = page.evaluate(
            """() => {
              const drawn = ".figure .curve:not(.held), .figure > rect, .figure .zero";
              const paper = getComputedStyle(document.body).backgroundColor;
              return [paper, [...document.querySelectorAll(drawn)].map((found) => {
                const { stroke, strokeDasharray } = getComputedStyle(found);
                return [stroke, strokeDasharray];
              })];
            }"""
        )
        for stroke, _ in strokes:
            dark, light = sorted([luminance(paper), luminance(stroke)])
            assert (light + 0.05) / (dark + 0.05) >= 3, (media, stroke)
        dashes = [dash for _, dash in strokes]
        assert len(set(dashes)) == 8, "as many as there are curves, the lines of the frame solid"


@pytest.mark.long
def test_hostile_labels_are_only_text(tmp_path, visit) -> None:
    h = gn.response({label: guitar() for label in HOSTILE}, volume=[0, 5, 10])
    h.attrs["assumptions"] = HOSTILE[0]
    h["volume"].attrs["long_name"] = HOSTILE[1]
    h["build"].attrs["long_name"] = HOSTILE[0]
    view = gn.live_page(h, title=HOSTILE[0])
    page = visit(content=f"<!DOCTYPE html>{view._repr_html_()}")
    inner = page.frame_locator("iframe")
    assert inner.locator("h1").text_content() == HOSTILE[0]
    assert inner.locator("tbody th .name").all_text_contents()[:3] == HOSTILE[:3]
    inner.get_by_role("slider").press("Home")
    assert inner.locator(".figure .here").text_content() == "silent"
    assert page.evaluate("() => [window.broken, document.images.length]") == [None, 1]
    still = visit(view.save(tmp_path / "still.html"), java_script_enabled=False)
    assert still.locator(".without td").first.text_content() == HOSTILE[0]
    assert still.locator("img").count() == 1


# -- without a browser ------------------------------------------------------------------------


def told(h: xr.DataArray, **how: Any) -> dict[str, Any]:
    return data_of(gn.live_page(h, **how).html())


def test_a_page_and_a_frame_are_small(h, saved) -> None:
    assert saved.stat().st_size < 145_000
    assert len(gn.live_page(h)._repr_html_()) < 160_000
    lengths = {"cable.length": [f"{n} m" for n in range(1, 9)]}
    most = gn.live_page(gn.response(guitar(), volume=np.linspace(0, 10, 43), **lengths))
    assert len(most._repr_html_()) < 300_000


def test_the_still_has_the_numbers_of_where_it_opens(h, saved) -> None:
    text = saved.read_text("utf-8")
    assert 'alt="Treble bleeds: volume 5. Response at the amp.' in text
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", text[: text.index('<div class="help')])
    assert cells[0] == "no bleed"
    level = gn.effective_taper(h).sel(volume=5)
    assert numbers(cells[1:2])[0] == pytest.approx(level[0].item(), abs=0.051)
    html = gn.live_page(h, volume=3)._repr_html_()
    assert html.startswith('<div><img class="still" alt="What the volume knob does: volume 3.')


def test_marks_come_in_any_order_and_ten_may_be_missing() -> None:
    uneven = told(gn.response(guitar(), volume=[10, 7, 0, 5, 3]), re={"volume": 10})
    assert uneven["switches"][0]["places"] == ["0", "3", "5", "7", "10"]
    assert uneven["labels"] == ["this guitar"]
    assert uneven["modes"][uneven["mode"]]["axis"] == "level in dB; 0 dB: volume 10"
    low = told(gn.response(guitar(), volume=[3, 6]))
    assert [mode["name"] for mode in low["modes"]] == ["absolute", "reference"]
    assert [column["group"] for column in low["columns"]] == ["peak", "peak"]


def test_any_dimension_may_turn_and_any_other_be_the_curves() -> None:
    h = gn.response(guitar(), tone=[10, 5, 0], **{"cable.length": ["1 m", "10 ft"]})
    page = told(h)
    assert page["labels"] == ["1 m", "10 ft"]
    assert page["switches"][0]["said"] == "tone"
    assert page["columns"][0]["group"] == "change from tone\u00a010\u00a0[dB]"
    page = told(h, knob="cable.length", **{"cable.length": "10 ft"})
    assert page["labels"] == ["tone 10", "tone 5", "tone 0"]
    assert page["switches"][0]["place"] == "10 ft"
    both = gn.response(guitar(), volume=[10, 5], tone=[10, 2])
    assert told(both, knob="volume")["labels"] == ["tone 10", "tone 2"]
    assert notes_of(gn.live_page(both.sel(tone=2)).html()).endswith("Tone 2.")


def test_levels_are_shown_as_they_are(h, visit) -> None:
    levels = gn.level_db(h, re={"build": "no bleed"})
    page = visit(gn.live_page(levels, volume=3))
    assert page.locator(".figure .axis").first.text_content() == "level compared with no bleed [dB]"
    assert not page.get_by_label("0 dB is").is_visible()
    at = levels.sel(build="1 nF", volume=3)
    frequency, shown = plots(page)[0][1]
    on_grid = np.interp(np.log(frequency), np.log(at.frequency), at)
    np.testing.assert_allclose(shown, on_grid, atol=0.02)
    log = np.log(at.frequency)
    expected = [np.interp(np.log(f), log, at) for f in (100, 1000, 3000, 5000)]
    np.testing.assert_allclose(numbers(table(page)[1]), expected, atol=0.0501)
    assert "Lossless coil assumed" in page.locator(".notes").text_content()


def test_a_chunked_response_gives_the_same_page(h) -> None:
    chunked = h.chunk({"volume": 7})
    chunked = chunked.assign_coords(at_reference=h.at_reference.chunk({"volume": 7}))
    assert gn.live_page(chunked).html() == gn.live_page(h).html()


def test_a_narrow_grid_is_drawn_as_far_as_it_goes() -> None:
    page = told(gn.response(guitar(), frequency=np.geomspace(80, 2000, 40), volume=[0, 5, 10]))
    np.testing.assert_allclose(page["table"]["frequency"], np.geomspace(80, 2000, 40), rtol=1e-5)
    names = [column["name"] for column in page["columns"]]
    assert names == ["100\u00a0Hz", "1 kHz", "kHz", "dB above 100\u00a0Hz"]


def test_the_look_of_other_figures_stays_as_it_was(h) -> None:
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    gn.live_page(h)._repr_html_()
    assert dict(mpl.rcParams) == before


def test_it_says_what_it_is(h) -> None:
    assert repr(gn.live_page(h)) == "LivePage(5 curves: volume)"


def short(**settings: Any) -> xr.DataArray:
    return gn.response(guitar(), frequency=[50, 100, 1000, 5000], **settings)


METRES = {"cable.length": ["1 m", "3 m"]}
NINE = {"cable.length": [f"{n} m" for n in range(1, 10)]}


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (
            lambda: gn.live_page(short()),
            "live_page: the response was swept over no knob; "
            "give response() marks, as in volume=range(11).",
        ),
        (
            lambda: gn.live_page(short(**METRES)),
            "live_page: the response was swept over no knob; give response() marks, as in "
            "volume=range(11), or say what turns, as in knob='cable.length'.",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5], tone=[10, 5])),
            "live_page: 2 knobs were swept: volume, tone; say which one turns, "
            "as in knob='volume'.",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5]), knob="volum"),
            "knob: 'volum' was not swept; did you mean 'volume'?",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5], tone=[10, 5], **METRES), knob="volume"),
            "live_page: the response has 2 dimensions beside volume and frequency: tone, "
            "cable.length; choose a place of all but one, as in h.sel({'cable.length': ...}).",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5], **NINE)),
            "live_page: 9 curves of 'cable.length' cannot be told apart; "
            "choose up to 8, as in h.isel({'cable.length': [0, 1, 2]}).",
        ),
        (
            lambda: gn.live_page(short(volume=np.linspace(0, 10, 201), **METRES)),
            "live_page: 201 places of 'volume' make a page too large; "
            "give up to 175, such as numpy.linspace(0, 10, 21).",
        ),
        (
            lambda: gn.live_page(short(volume=[5, 3]), re={"volume": 10}),
            "re volume: 10 is not among 3, 5; add 10 to volume.",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5]), volume=4),
            "volume: 4 is not among 5, 10; sweep it as well.",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5]), tone=4),
            "tone: does not turn on this page; only volume does.",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5]), re="loudest"),
            "re: 'loudest' is no reference of the page; use None, 'reference' or {'volume': 10}.",
        ),
        (
            lambda: gn.live_page(gn.level_db(short(volume=[10, 5])), re={"volume": 10}),
            "re: level re 1 V/V already has a reference; leave re out.",
        ),
        (
            lambda: gn.live_page(short(volume=[10, 5]), view=(6000, 9000)),
            "view: 6 kHz to 9 kHz holds 0 frequencies of the response; "
            "give a view within 50 Hz to 5 kHz.",
        ),
    ],
)
def test_what_cannot_be_shown_is_said_in_one_sentence(make, sentence: str) -> None:
    with pytest.raises(gn.errors.BadSetting) as caught:
        make()
    assert str(caught.value) == sentence
