"""The live page: curves that follow their controls, in a browser without Python.

Of guitars the page holds the solver's polynomials (`guitarnet.show.page.model`), and every control
moves; of an array that was computed it holds the levels, and one dimension turns.
"""

from __future__ import annotations

import base64
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
    """Curves that follow their controls in a browser, as `guitarnet.live_page` makes them.

    A notebook shows it by itself: live where the notebook is trusted, else as a still picture.

    Parameters
    ----------
    shown : tuple
        What the script needs, a title, what was assumed, and a function that gives curves and
        numbers of the still picture once that is asked for.
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

    # -- the page -----------------------------------------------------------------------------

    def _script(self) -> str:
        own = ["model", "guitars"] if self._of_guitars else ["table"]
        names = [f"live_{name}.js" for name in (*own, "state", "controls", "page")]
        heard = _hearing()["js"] if self._of_guitars else ""
        return "".join([heard, *map(asset, ["view.js", *names]), _START])

    def _sheet(self) -> str:
        heard = _hearing()["css"] if self._of_guitars else ""
        return heard + asset("live_page.css") + colours(len(self._data["labels"]))

    def _body(self) -> str:
        kinds = {"guitars": self._of_guitars, "response": len(self._data["modes"]) > 1}
        kind = " ".join(name for name, there in kinds.items() if there)
        return Template(asset("live_page.html")).substitute(kind=kind)

    # -- its still ----------------------------------------------------------------------------

    def _still(self) -> str:
        return self._picture(self._title, self._notes)

    def _without(self) -> str:
        # Title and notes of the page stand around it.
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
        words = html.escape(f"{self._title}: {drawn['stands']}. {self._notes}")
        return (
            f'<img class="still" alt="{words}" style="max-width:100%" '
            f'src="data:image/png;base64,{base64.b64encode(png).decode()}">'
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
    """Make a page whose controls are live: of guitars, or of an array that was computed.

    Of guitars the page computes each itself, for any marks of its knobs, places of its switches,
    length of cable, treble bleed and tone capacitor. Of an array it shows the curves at one place
    of the knob, and turns to the other places. It shows the curves with their peaks, a choice of
    curves, the difference of any two, a kept curve to compare with, and level, change of treble
    and peak as numbers. The address keeps the settings, so that a link opens the page as it
    stood. It needs no network, no Python and no library.

    Parameters
    ----------
    of : Harness, mapping of str to Harness, or xarray.DataArray
        The guitar, or up to 8 by label: controls of one name move together, and values that
        differ from guitar to guitar stay as they are built until they are moved. Or what
        `guitarnet.response` or `guitarnet.level_db` gives: one dimension
        that turns, and at most one other, of up to 8 curves.
    path : path, optional
        File to write as well, such as "guitar.html".
    knob : str, optional
        Dimension of an array that turns: the knob that was swept, unless given.
    re : None, "reference" or mapping
        What 0 dB is when the page opens: None (1 V/V), "reference" (the level at 100 Hz, each
        curve its own) or ``{"volume": 10}`` (each curve with its volumes full up; of an array,
        where 10 was swept). Levels keep the 0 dB that they have.
    view : pair of float
        Lowest and highest frequency to draw [Hz], of guitars within 20 Hz to 20 kHz.
    title : str
        Title of the page, plain text; the guitars' names, or what turns, unless given.
    settings, **keywords
        What the page opens with, one value each, as in `guitarnet.response`: ``volume=5``,
        ``switch="neck"``, or one mapping of them. Knobs of a guitar that are not set stand at
        10, volumes at 5 where several guitars are compared, and a swept knob at its mark nearest
        to 5, since at 10 most treble bleeds do nothing.

    Returns
    -------
    LivePage
        Shown by a notebook as it stands; ``.save("guitar.html")`` writes the page.

    Raises
    ------
    BadSetting, BadValue
        If a setting, ``re``, ``view`` or ``knob`` is not right, there are too many curves, or
        too much was swept.
    BadHarness
        If a guitar is not whole.
    NotExpressible
        If a part is no rational function of frequency.
    BadFile
        If the file cannot be written.

    Notes
    -----
    Of guitars the page holds the solver's polynomials in the values that move, exactly; what it
    computes differs from `guitarnet.response` by rounding alone.

    Of an array it holds levels in steps of 0.01 dB at 140 of the computed frequencies, closest
    together where the curves bend most, and interpolates neither frequencies nor places. Its
    numbers come from `guitarnet.effective_taper`, `guitarnet.treble_change` and `guitarnet.peak`
    on the whole grid.

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
        raise BadSetting("knob", "is for an array; of a guitar all controls move", "leave it out")
    page = LivePage(shown, plain(title))
    if path is not None:
        page.save(path)
    return page
