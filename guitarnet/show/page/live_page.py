"""The live page: curves that follow their controls in a browser, without Python.

For guitars the page has the solver's polynomials (`guitarnet.show.page.model`), and every control
moves. For a computed array it has the levels, and one dimension turns.
"""

from __future__ import annotations

import html
import os
from collections.abc import Mapping
from functools import cache, cached_property
from string import Template
from typing import Any

import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting, plain
from ...gate import public
from ...table import Table
from ..figures import style
from ..figures.picture import embedded
from .from_array import from_array
from .from_guitars import from_guitars
from .hearing import hearing_parts
from .html_view import HtmlView, asset
from .still import colours, still
from .words import Shown

__all__ = ["LivePage", "live_page"]

_START = """
(() => {
  const root = document.getElementById("live");
  const changed = (detail) => root.dispatchEvent(new CustomEvent("settings", { detail }));
  root.live = livePage(root, pageData(), { changed, address: window === window.top });
})();
"""
_CONTROLS = ("knobs", "switches", "bleeds", "capacitors")

_hearing = cache(hearing_parts)


@public
class LivePage(HtmlView):
    """Curves that follow their controls in a browser. Made by `guitarnet.live_page`.

    A trusted notebook shows it live, another notebook as a still picture.

    Parameters
    ----------
    shown : tuple
        Data for the script, a title, notes, and a function that computes the still picture.
    title : str
        Another title.
    """

    def __init__(self, shown: Shown, title: str = "") -> None:
        super().__init__(shown.data, title or shown.title, shown.notes)
        self._make_still = shown.still
        self._of_guitars = "model" in shown.data

    @cached_property
    def _drawn(self) -> dict[str, Any]:
        return self._make_still()

    def __repr__(self) -> str:
        controls = [control["name"] for key in _CONTROLS for control in self._data[key]]
        count = len(self._data["labels"])
        what = ("guitar" if self._of_guitars else "curve") + "s" * (count > 1)
        return f"LivePage({count} {what}: {', '.join(controls)})"

    def opening(self) -> dict[str, Any]:
        """Return the opening settings of the controls, in the form of the script.

        Returns
        -------
        dict
            ``marks`` and ``places`` by name, ``cable`` [m] (None if the guitars differ), ``bleeds``
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

    # -- the page -----------------------------------------------------------------------------

    def _script(self) -> str:
        kinds = ["model", "guitars"] if self._of_guitars else ["table"]
        shared = ("state", "controls", "sentence", "names", "page")
        names = [f"live_{name}.js" for name in (*kinds, *shared)]
        hearing = _hearing()["js"] if self._of_guitars else ""
        return "".join([hearing, *map(asset, ["view.js", *names]), _START])

    def _sheet(self) -> str:
        hearing = _hearing()["css"] if self._of_guitars else ""
        return hearing + asset("live_page.css") + colours(len(self._data["labels"]))

    def _body(self) -> str:
        kinds = {"guitars": self._of_guitars, "response": len(self._data["modes"]) > 1}
        kind = " ".join(name for name, applies in kinds.items() if applies)
        return Template(asset("live_page.html")).substitute(kind=kind)

    # -- its still ----------------------------------------------------------------------------

    def _still(self) -> str:
        return self._picture(self._title, self._notes)

    def _without(self) -> str:
        # The page has title and notes around it.
        heads = [f"{column['group']}: {column['name']}" for column in self._data["columns"]]
        rows = zip(self._data["labels"], self._drawn["cells"], strict=True)
        numbers = Table([self._data["choice"], *heads], [(label, *cells) for label, cells in rows])
        return f"{self._picture('', '')}\n{numbers._repr_html_()}"

    def _picture(self, title: str, notes: str) -> str:
        drawn, data = self._drawn, self._data
        png = still(
            drawn["frequency"],
            tuple(data["limits"]),
            drawn["levels"],
            data["labels"],
            axis=data["modes"][data["mode"]]["axis"],
            heading=drawn["stands"],
            title=title,
            notes=notes,
        )
        description = html.escape(f"{self._title}: {drawn['stands']}. {self._notes}")
        return (
            f'<img class="still" alt="{description}" style="max-width:100%" src="{embedded(png)}">'
        )


@public(of=None)
def live_page(
    of: Harness | Mapping[str, Harness] | xr.DataArray,
    path: str | os.PathLike[str] | None = None,
    settings: Settings = None,
    *,
    knob: str | None = None,
    re: str | Mapping[str, Any] | None = "reference",
    view: tuple[float, float] = style.VIEW,
    title: str = "",
    **keywords: Any,
) -> LivePage:
    """Make a page with live controls, for guitars or for a computed array.

    For guitars the page computes the curves itself, for all marks of the knobs, places of the
    switches, lengths of cable, treble bleeds and tone capacitors. For an array it shows the
    computed curves at each value of one dimension. It says in sentences what the knobs have done,
    with the words of `guitarnet.explain`, and shows the curves with their peaks, a choice of
    curves, the difference of any two, a held curve to compare with, and level, change of treble
    and peak as numbers. The address keeps the settings, so a link opens the page with them. The
    page needs no network, no Python and no library.

    Parameters
    ----------
    of : Harness, mapping of str to Harness, or xarray.DataArray
        The guitar, or up to 8 by label: controls with the same name move together, and values
        that differ between guitars keep their own value until you move them. Or an array from
        `guitarnet.response` or `guitarnet.level_db`, with one dimension that turns and at most
        one other, of up to 8 curves.
    path : path, optional
        File to write, such as "guitar.html".
    knob : str, optional
        Dimension of an array that turns; by default the knob that was swept.
    re : None, "reference" or mapping
        Reference of 0 dB when the page opens: None (1 V/V), "reference" (the level of each curve
        at 100 Hz) or ``{"volume": 10}`` (each curve with its volumes full up; an array must have
        10). Levels keep their own reference.
    view : pair of float
        Lowest and highest frequency to draw [Hz], for guitars within 20 Hz to 20 kHz.
    title : str
        Title of the page, as plain text; by default from the guitars or the array.
    settings, **keywords
        Opening settings, one value each, as in `guitarnet.response`: ``volume=5``,
        ``switch="neck"``, or one mapping of them. By default knobs are at 10, the volumes of
        several guitars at 5, and a swept knob at its mark nearest to 5, because most treble bleeds
        do nothing at 10.

    Returns
    -------
    LivePage
        Shows itself in a notebook; ``.save("guitar.html")`` writes the page.

    Raises
    ------
    BadSetting, BadValue
        If a setting, ``re``, ``view`` or ``knob`` is not right, or the array is too large.
    BadHarness
        If a guitar is not whole.
    NotExpressible
        If a part is not a rational function of frequency.
    BadFile
        If the file cannot be written.

    Notes
    -----
    For guitars the page has the solver's exact polynomials in the values that move; its results
    differ from `guitarnet.response` only by rounding.

    For an array it has levels in steps of 0.01 dB at 140 of the computed frequencies, which are
    closest where the curves bend most. It does not interpolate. Its numbers come from
    `guitarnet.effective_taper`, `guitarnet.treble_change` and `guitarnet.peak` on the whole grid.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, response
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> live_page(layouts.one_pickup(pickup), volume=5)
    LivePage(1 guitar: volume, tone, treble_bleed, tone_capacitor)

    >>> builds = {"no bleed": None, "1 nF": "1n"}
    >>> guitars = {k: layouts.one_pickup(pickup, treble_bleed=v) for k, v in builds.items()}
    >>> live_page(response(guitars, volume=range(11)), title="A treble bleed")
    LivePage(2 curves: volume)
    """
    settings = one_mapping(settings, keywords)
    if isinstance(of, xr.DataArray):
        shown = from_array(of, knob, re, view, settings)
    elif knob is None:
        shown = from_guitars(of, re, view, settings)
    else:
        raise BadSetting("knob", "is for an array; all controls of a guitar move", "leave it out")
    page = LivePage(shown, plain(title))
    if path is not None:
        page.save(path)
    return page
