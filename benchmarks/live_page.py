"""A turn of a knob on a live page in Chromium: one guitar, eight, and an array."""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
from pathlib import Path

from common import MISSED, report  # first: sets the number of threads
from playwright.sync_api import Page, sync_playwright

import guitarnet as gn

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
TURNS = """() => {
  const knob = document.querySelector("input[type=range]");
  const times = [];
  for (let turn = 0; turn < 30; turn++) {
    knob.value = turn % 10;
    const start = performance.now();
    knob.dispatchEvent(new Event("input"));
    document.querySelector(".figure").getBBox();
    document.querySelector(".numbers").getBoundingClientRect();
    times.push(performance.now() - start);
  }
  return times;
}"""


def redraw(page: Page, live: gn.pages.LivePage, folder: Path) -> float:
    """Median time from a knob's event to the new layout [ms]."""
    page.goto(live.save(folder / "page.html").as_uri())
    return statistics.median(page.evaluate(TURNS))


def main() -> int:
    """Print each result beside its target; returns the exit code."""
    coil = gn.Pickup("6.2k", "2.4 H", "120p")
    one = {"one": gn.layouts.one_pickup(coil, treble_bleed="1n")}
    eight = {f"{n} m": gn.layouts.two_humbuckers(coil, coil, cable=f"{n} m") for n in range(1, 9)}
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        path = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = play.chromium.launch(executable_path=path, args=FLAGS)
        page = browser.new_page()
        array = gn.response(
            {label: eight[label] for label in list(eight)[:5]}, neck_volume=range(11)
        )
        shown = [gn.live_page(what) for what in (one, eight, array)]
        single, several, swept = (redraw(page, live, Path(folder)) for live in shown)
        browser.close()
    print(f"eight guitars take {several / single:.1f} times as long as one")
    met = [
        report("redraw, one guitar", single, "ms", 20, at_least=False),
        report("redraw, eight guitars of two humbuckers", several, "ms", 40, at_least=False),
        report("redraw, an array of five curves", swept, "ms", 20, at_least=False),
    ]
    return 0 if all(met) else MISSED


if __name__ == "__main__":
    sys.exit(main())
