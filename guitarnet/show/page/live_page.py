"""The live page: guitars that a browser computes by itself as their controls are moved.

The page holds the guitars as polynomials (`guitarnet.show.page.model`), so that every knob, the
switches, the cable, treble bleeds and tone capacitors move without Python.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from functools import cache, cached_property, partial
from typing import Any

import numpy as np

from ...circuit.harness import Harness
from ...errors import BadSetting
from ...gate import public
from ...study.response.measures import level_db, peak, reference_level
from ...study.response.response import response
from ...study.response.sweep import check_guitar, frequency_grid
from ...table import Table
from ..figures import style
from .carrier import Carrier, still
from .controls import (
    REFERENCE,
    full_words,
    knobs_of,
    modes,
    notes,
    placed,
    said,
    standing,
    with_role,
)
from .files import asset, plain
from .hearing import hearing_parts
from .knob_view import LEAST_PEAK, MOST_BUILDS, NAMED, decibels, number_columns, texts
from .model import live_model, opened

__all__ = ["LivePage", "live_page"]

_START = """
(() => {
  const root = document.getElementById("live");
  const data = JSON.parse(document.getElementById("data").textContent);
  const changed = (detail) => root.dispatchEvent(new CustomEvent("settings", { detail }));
  root.live = livePage(root, data, { changed, address: window === window.top });
  growFrame();
  dropStill();
})();
"""

_hearing = cache(hearing_parts)


@public
class LivePage(Carrier):
    """Guitars that a browser computes by itself, as `live_page` makes them.

    A notebook shows it by itself: live where the notebook is trusted, else as a still picture.

    Parameters
    ----------
    data : dict
        What the script needs: the guitars, and their controls.
    title : str
        Title of the page.
    notes : str
        What was assumed.
    draw : callable
        Gives levels and numbers of the still picture, once that is asked for.
    """

    template = "live_page.html"

    def __init__(
        self, data: dict[str, Any], title: str, notes: str, draw: Callable[[], dict[str, Any]]
    ) -> None:
        super().__init__(data, title, notes)
        self._draw = draw

    @cached_property
    def _drawn(self) -> dict[str, Any]:
        return self._draw()

    def __repr__(self) -> str:
        controls = [control["name"] for key in _CONTROLS for control in self._data[key]]
        guitars = len(self._data["labels"])
        return f"LivePage({guitars} guitar{'s' * (guitars > 1)}: {', '.join(controls)})"

    def html(self) -> str:
        """Give the page as text, without the picture for readers who run no scripts.

        Returns
        -------
        str
            HTML.
        """
        return self._page("")

    def opening(self) -> dict[str, Any]:
        """Give where the controls stand as the page opens, as the script holds it.

        Returns
        -------
        dict
            ``marks`` and ``places`` by name, ``cable`` [m] (None for each its own), ``bleeds``
            and ``capacitors`` by name.
        """
        data = self._data
        return {
            "marks": {knob["name"]: knob["mark"] for knob in data["knobs"]},
            "places": {switch["name"]: switch["place"] for switch in data["switches"]},
            "cable": data["cable"]["length"] if data["cable"] else None,
            "bleeds": {bleed["name"]: {"form": "own"} for bleed in data["bleeds"]},
            "capacitors": {capacitor["name"]: None for capacitor in data["capacitors"]},
        }

    def _name(self) -> str:
        return self._title

    def _stands(self) -> str:
        return str(self._drawn["stands"])

    def _script(self) -> str:
        own = [f"live_{name}.js" for name in ("model", "levels", "state", "controls", "page")]
        shared = asset("elements.js") + asset("view.js") + _hearing()["js"]
        return "".join([shared, *map(asset, own), _START])

    def _sheet(self) -> str:
        self_made = asset("view.css") + _hearing()["css"] + asset("live_page.css")
        return self_made + self._colours()

    def _numbers(self) -> Table:
        heads = [f"{column['group']}: {column['name']}" for column in self._data["columns"]]
        rows = zip(self._data["labels"], self._drawn["cells"], strict=True)
        return Table([self._data["choice"], *heads], [(label, *cells) for label, cells in rows])

    def _still(self, title: str, notes: str) -> bytes:
        return still(
            self._drawn["frequency"],
            tuple(self._data["limits"]),
            self._drawn["levels"],
            self._data["labels"],
            axis=self._data["modes"][self._data["mode"]]["axis"],
            heading=self._drawn["stands"],
            title=title,
            notes=notes,
        )


_CONTROLS = ("knobs", "switches", "bleeds", "capacitors")


@public
def live_page(
    guitars: Harness | Mapping[str, Harness],
    path: str | os.PathLike[str] | None = None,
    *,
    re: str | Mapping[str, Any] | None = "reference",
    view: tuple[float, float] = style.VIEW,
    title: str = "",
    **settings: Any,
) -> LivePage:
    """Make a page in which every control of a guitar is live, or of several beside each other.

    The page computes each guitar itself, for any marks of its knobs, places of its switches,
    length of cable, treble bleed and tone capacitor. It shows the curves with their peaks, the
    difference of any two, a kept curve to compare with, and level, change of treble and peak as
    numbers. The address keeps the settings, so that a link opens the page as it stood. It needs
    no network, no Python and no library.

    Parameters
    ----------
    guitars : Harness or mapping of str to Harness
        The guitar, or up to 8 by label. Controls of one name move together; values that differ
        from guitar to guitar stay as they are built until they are moved.
    path : path, optional
        File to write as well, such as "guitar.html".
    re : None, "reference" or mapping
        What 0 dB is when the page opens: None (1 V/V), "reference" (the level at 100 Hz, each
        curve its own) or ``{"volume": 10}`` (each curve with its volumes full up).
    view : pair of float
        Lowest and highest frequency to draw [Hz], within 20 Hz to 20 kHz.
    title : str
        Title of the page, plain text; the guitars' names unless given.
    **settings
        What the page opens with, one value each, as in `guitarnet.response`: ``volume=5``,
        ``switch="neck"``. Knobs that are not set stand at 10, volumes at 5 where several guitars
        are compared, since at 10 most treble bleeds do nothing.

    Returns
    -------
    LivePage
        Shown by a notebook as it stands; ``.save("guitar.html")`` writes the page.

    Raises
    ------
    BadSetting, BadValue
        If a setting, ``re`` or ``view`` is not right, or there are too many guitars.
    BadHarness
        If a guitar is not whole.
    NotExpressible
        If a part is no rational function of frequency.
    BadFile
        If the file cannot be written.

    Notes
    -----
    The page holds the solver's polynomials in the values that move, exactly; what it computes
    differs from `guitarnet.response` by rounding alone.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> live_page(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=5)
    LivePage(1 guitar: volume, tone, treble_bleed, tone_capacitor)
    """
    builds = dict(guitars) if isinstance(guitars, Mapping) else {"": guitars}
    _check(builds, view)
    builds, marks = opened(builds, settings)
    if not isinstance(guitars, Mapping):
        builds = {plain(guitar.name): guitar for guitar in builds.values()}
    volumes = with_role(builds, "volume")
    at = {name: part.controls["mark"].default or 0.0 for name, part in knobs_of(builds)}
    if len(builds) > 1:
        at |= dict.fromkeys(volumes, 5.0)
    at |= marks
    full = full_words(volumes)
    data = {
        "labels": [plain(label) for label in builds],
        "choice": "guitar",
        "caption": "Level, change and peak of each guitar as the controls stand",
        "model": live_model(builds),
        "knobs": [{"name": n, "said": said(n), "mark": at[n]} for n, _ in knobs_of(builds)],
        **placed(builds),
        "volumes": volumes,
        "reference": REFERENCE,
        "named": list(NAMED) if full else [],
        "leastPeak": LEAST_PEAK,
        "columns": number_columns(full.replace(" ", "\u00a0"), REFERENCE, list(NAMED)),
        "limits": [float(f"{f:.6g}") for f in view],
        **modes(full, volumes, re),
    }
    page = LivePage(
        data,
        plain(title) or "; ".join(data["labels"]),
        notes(builds),
        partial(_drawn, builds, at, volumes, data["modes"][data["mode"]]["name"]),
    )
    if path is not None:
        page.save(path)
    return page


def _check(builds: Mapping[str, Any], view: tuple[float, float]) -> None:
    if not builds:
        raise BadSetting("guitars", "holds no guitar", "give at least one, as {'mine': guitar}")
    for guitar in builds.values():
        check_guitar(guitar)
    if len(builds) > MOST_BUILDS:
        raise BadSetting(
            "guitars",
            f"{len(builds)} curves cannot be told apart",
            f"give up to {MOST_BUILDS}",
            len(builds),
        )
    if not 20 <= view[0] < view[1] <= 20e3:
        raise BadSetting(
            "view", f"{view!r} is no range", "give two frequencies within 20 to 20000 Hz", view
        )


# -- the still picture ---------------------------------------------------------------------------


def _drawn(
    builds: Mapping[str, Harness], marks: Mapping[str, float], volumes: list[str], mode: str
) -> dict[str, Any]:
    """Curves and numbers as the page opens, for its still picture."""
    grid = np.unique(np.concatenate([frequency_grid(), NAMED]))
    levels, cells = [], []
    for guitar in builds.values():
        turned = [name for name, _ in knobs_of({"": guitar})]
        own: dict[str, Any] = {name: marks[name] for name in turned}
        up = own | {name: 10.0 for name in volumes if name in own}
        here, full = (
            response(guitar, frequency=grid, reference_frequency=REFERENCE, **at)
            for at in (own, up)
        )
        level = level_db(here).values
        shape, shape_full = (level_db(h, re="reference") for h in (here, full))
        with np.errstate(invalid="ignore"):  # where it is silent
            change = (shape - shape_full).sel(frequency=list(NAMED)).values
            loss = float(reference_level(here) - reference_level(full))
        silent = np.isneginf(level).all()
        top = peak(here)
        top = top.where(top.height >= LEAST_PEAK)
        numbers = [
            *(decibels(np.array([loss, *change])) if volumes else []),
            *texts(top.frequency.values.reshape(1), lambda f: f"{f / 1000:.2f}"),
            *decibels(top.height.values.reshape(1)),
        ]
        cells.append(["silent", *numbers[1:]] if silent else numbers)
        with np.errstate(invalid="ignore"):
            minus = level_db(full).values if mode == "full" else 0.0
            drawn = shape.values if mode == "reference" else level - minus
        levels.append(np.where(np.isneginf(level), np.nan, drawn))
    return {
        "frequency": grid,
        "levels": np.array(levels),
        "cells": cells,
        "stands": standing(builds, marks),
    }
