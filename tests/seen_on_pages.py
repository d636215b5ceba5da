"""What a page with a script holds and shows, read back from its text and in a browser."""

from __future__ import annotations

import html
import json
import re
from typing import Any

import numpy as np


def data_of(page: str) -> dict[str, Any]:
    """What the page's script is given."""
    found = re.search(r'<script id="data" type="application/json">(.*?)</script>', page, re.DOTALL)
    assert found
    return json.loads(found[1])


def notes_of(page: str) -> str:
    """The sentences below a page."""
    found = re.search(r'<p class="notes">(.*?)</p>', page, re.DOTALL)
    assert found
    return html.unescape(found[1])


def plots(page) -> list[list[tuple[np.ndarray, np.ndarray]]]:
    """Frequency [Hz] and level [dB] of the curves of each plot, read back from what is drawn."""
    seen = page.evaluate(
        """() => [...document.querySelectorAll(".plot:not([hidden]) .figure")].map((figure) => ({
          limits: JSON.parse(document.getElementById("data").textContent).limits,
          levels: [...figure.querySelectorAll("[data-level]")].map((t) => Number(t.dataset.level)),
          frame: ["x", "y", "width", "height"]
            .map((name) => Number(figure.querySelector(":scope > rect").getAttribute(name))),
          paths: [...figure.querySelectorAll(".curve")].map((p) => p.getAttribute("d") ?? ""),
        }))"""
    )
    found = []
    for one in seen:
        low, high = np.log(one["limits"])
        x, y, width, height = one["frame"]
        bottom, top = min(one["levels"]), max(one["levels"])
        curves = []
        for path in one["paths"]:
            points = re.findall(r"[ML](\S+) ([^ML]+)", path)
            across, down = np.array(points, dtype=float).reshape(-1, 2).T
            frequency = np.exp(low + (across - x) / width * (high - low))
            curves.append((frequency, top - (down - y) / height * (top - bottom)))
        found.append(curves)
    return found


def table(page) -> list[list[str]]:
    """Cells of the numbers, row by row."""
    return page.evaluate(
        """() => [...document.querySelectorAll(".numbers tbody tr:not([hidden])")].map(
          (row) => [...row.querySelectorAll("td")].map((cell) => cell.textContent))"""
    )
