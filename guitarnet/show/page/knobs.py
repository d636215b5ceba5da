"""The live page as a control in a notebook: where its knobs stand is a value in Python."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting, nearest, needs
from ...gate import computing, public
from ...parts.output import Cable
from ...parts.switch import Switch
from ...parts.two_lug import Capacitor, parallel_bleed, series_bleed
from ...units import Quantity
from ..figures.picture import picture
from .html_view import asset
from .live_page import LivePage, live_page

needs("anywidget", "knobs")

import anywidget  # noqa: E402
import ipywidgets  # noqa: E402
import traitlets  # noqa: E402

__all__ = ["Knobs", "knobs"]

_MARK = Quantity("mark", at_least=0, at_most=10)
_METRES = Quantity("m", at_least=0, hint="'5 m' or '15 ft'")
_NETWORKS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "none": lambda at: None,
    "c": lambda at: Capacitor(at["c"]),
    "parallel": lambda at: parallel_bleed(at["c"], at["r"]),
    "series": lambda at: series_bleed(at["c"], at["r"]),
}


@public
class Knobs(anywidget.AnyWidget):
    """A live page in a notebook whose controls Python may read, set and follow.

    Made by `knobs`.

    Parameters
    ----------
    page : LivePage
        What is shown.
    cable : str
        Name of the cable; "" where the guitars have none.
    places : mapping of str to sequence of str
        Places of each switch.

    Attributes
    ----------
    value : dict
        Where the controls stand, as `guitarnet.response` takes settings: marks, places, and the
        cable's length [m]; a treble bleed and a capacitor only once they are no longer as built.
        Watch it by ``observe(function, "value")``, or use `follow`.
    """

    _esm = asset("knobs.js")
    _page = traitlets.Unicode().tag(sync=True)
    _name = traitlets.Unicode().tag(sync=True)
    _settings = traitlets.Dict().tag(sync=True)
    value = traitlets.Dict(read_only=True)

    def __init__(self, page: LivePage, cable: str, places: Mapping[str, Sequence[str]]) -> None:
        self._cable = cable
        self._places = places
        super().__init__(_page=page.html(), _name=repr(page), _settings=page.opening())
        self._moved()

    @traitlets.observe("_settings")
    def _moved(self, change: Any = None) -> None:
        if hasattr(self, "_cable"):
            self.set_trait("value", _as_settings(self._settings, self._cable))

    def turn(self, settings: Settings = None, **keywords: Any) -> None:
        """Set knobs, switches or the cable from Python; the picture follows.

        Parameters
        ----------
        settings, **keywords
            Marks by knob, places by switch, and ``cable`` [m].

        Raises
        ------
        BadSetting, BadValue
            If there is no such control, or it cannot stand so; nothing is moved then.

        Examples
        --------
        See `knobs`.
        """
        now = {
            name: dict(at) if isinstance(at, Mapping) else at for name, at in self._settings.items()
        }
        known = [*now["marks"], *now["places"], *(["cable"] if self._cable else [])]
        for name, value in one_mapping(settings, keywords).items():
            if name not in known:
                raise BadSetting(
                    "knobs", f"there is no control {name!r}", nearest(name, known), name
                )
            where = f"knobs.{name}"
            if name in now["marks"]:
                now["marks"][name] = _MARK.read(value, where)
            elif name in now["places"]:
                if value not in self._places[name]:
                    advice = nearest(str(value), self._places[name])
                    raise BadSetting(where, f"there is no {value!r}", advice, value)
                now["places"][name] = value
            else:
                now["cable"] = _METRES.read(value, where)
        self._settings = now

    def follow(self, show: Callable[..., Any]) -> ipywidgets.Output:
        """Show the result of a function of the settings, again each time a control moves.

        Parameters
        ----------
        show : callable
            Takes the settings by name, as in ``lambda **at: gn.plot_response(gn.response(guitar,
            **at))``; its figure or other result is shown.

        Returns
        -------
        ipywidgets.Output
            The output; make it the last line of a cell.
        """
        output = ipywidgets.Output()

        def again(change: Any = None) -> None:
            with output:
                _show(show(**self.value))

        self.observe(again, "value")
        again()
        return output


def _show(made: Any) -> None:
    """Show a figure or another result instead of the last one."""
    from IPython.display import Image, clear_output, display

    axes = made.flat[0] if hasattr(made, "flat") and hasattr(made, "dtype") else made
    figure = getattr(axes, "figure", None)
    clear_output(wait=True)  # the old picture stays until the new one is ready
    # An image, because some backends cannot show a figure.
    display(made if figure is None else Image(picture(figure, dpi=100)))


def _as_settings(moved: Mapping[str, Any], cable: str) -> dict[str, Any]:
    """Controls of the page as settings of `guitarnet.response`."""
    settings: dict[str, Any] = {**moved["marks"], **moved["places"]}
    if cable and moved["cable"] is not None:
        settings[f"{cable}.length"] = moved["cable"]
    settings |= {name: value for name, value in moved["capacitors"].items() if value is not None}
    for name, at in moved["bleeds"].items():
        if at["form"] in _NETWORKS:
            with computing():
                settings[name] = _NETWORKS[at["form"]](at)
    return settings


@public
def knobs(
    guitars: Harness | Mapping[str, Harness], settings: Settings = None, **options: Any
) -> Knobs:
    """Show a live page in a notebook cell, with controls that Python can read.

    Parameters
    ----------
    guitars : Harness or mapping of str to Harness
        The guitar, or several by label, as in `guitarnet.live_page`.
    settings, **options
        As in `guitarnet.live_page`: opening settings, ``title``, ``re``, ``view``.

    Returns
    -------
    Knobs
        The control; ``.value`` has the settings, and ``.follow(function)`` shows a function of
        them in another cell.

    Raises
    ------
    NotInstalled
        Without anywidget: ``pip install 'guitarnet[knobs]'``.
    BadSetting, BadValue, BadHarness
        As in `guitarnet.live_page`.

    Notes
    -----
    The browser draws the picture, without Python. If nothing follows the knobs, use
    `guitarnet.live_page`, which also works in an exported notebook.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> control = knobs(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")), volume=5)
    >>> control.turn(tone=7)
    >>> control.value
    {'volume': 5.0, 'tone': 7.0, 'cable.length': 3.0}
    """
    several = guitars if isinstance(guitars, Mapping) else {"": guitars}
    page = live_page(guitars, settings=settings, **options)
    names = {guitar.only(Cable, needed=False) or "" for guitar in several.values()}
    places: dict[str, list[str]] = {}
    for guitar in several.values():
        for name, part in guitar.parts.items():
            if isinstance(part, Switch):
                places.setdefault(name, []).extend(part.places)
    return Knobs(page, sorted(names)[-1], places)
