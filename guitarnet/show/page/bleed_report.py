"""Pictures and the live page of treble bleeds side by side in one guitar."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from ...errors import BadSetting
from ...study.choose.bleed_result import BleedChoices
from ...study.choose.bleed_tables import NO_BLEED, SHOWN, BleedComparison
from ...study.response.response import response
from ...units import read_value
from ..figures.choices import plot_front
from ..figures.picture import picture
from ..figures.responses import plot_builds, plot_difference, plot_map, plot_response, plot_taper
from .live_page import LivePage, live_page
from .still import MOST_CURVES

__all__ = ["bleed_page", "bleed_pictures", "check_builds", "choice_pictures"]

_EVERY = (10, 9, 8, 7, 6, 5, 4, 3, 2, 1)


def check_builds(found: BleedComparison) -> None:
    """Refuse more builds than a picture can tell apart."""
    if len(found.builds) > MOST_CURVES:
        raise BadSetting(
            "bleeds",
            f"{len(found.builds)} builds cannot be told apart in one picture",
            f"compare up to {MOST_CURVES}, no bleed and the other wiring among them",
            len(found.builds),
        )


def bleed_pictures(found: BleedComparison) -> Iterator[tuple[str, bytes]]:
    """Draw a comparison of bleeds, picture by picture: names such as "1-builds.png", contents."""
    check_builds(found)
    h, knob, marks = found.response, found.knob, found.marks
    name, said = found.name[:1].upper() + found.name[1:], found.knob_label
    second = list(found.builds)[min(1, len(found.builds) - 1)]
    law = found.guitar.parts[knob].taper  # type: ignore[attr-defined]
    every = h.sel({"build": NO_BLEED, knob: list(_EVERY)})
    # Drawn one after the other, when each is asked for.
    drawings: dict[str, Callable[[], Any]] = {
        "1-builds": lambda: plot_builds(
            h, marks, knob=knob, title=f"{name}: shape at each {said} mark"
        ),
        f"2-difference-from-{said.replace(' ', '-')}-10": lambda: plot_difference(
            *(h, marks),
            knob=knob,
            re={knob: 10},
            title=f"{name}: how the shape differs from {said} 10",
        ),
        "3-difference-from-no-bleed": lambda: plot_difference(
            *(h, marks),
            knob=knob,
            re={"build": NO_BLEED},
            matched=False,
            title=f"{name}: level and all, against no bleed",
        ),
        "4-taper": lambda: plot_taper(
            h, {"the track as cut": law}, knob=knob, title=f"{name}: level"
        ),
        "5-every-mark": lambda: plot_response(
            every, title=f"{name}, no bleed: level at each {said} mark"
        ),
        "6-map": lambda: plot_map(
            h.sel(build=second), knob=knob, title=f"{name}, {second}: shape at every {said} mark"
        ),
    }
    for kind, drawn in drawings.items():
        yield f"{kind}.png", picture(drawn())


def bleed_page(found: BleedComparison) -> LivePage:
    """Make the live page of a comparison of bleeds."""
    check_builds(found)
    name = found.name[:1].upper() + found.name[1:]
    return live_page(found.response, knob=found.knob, title=name)


def choice_pictures(
    found: BleedChoices, cables: Sequence[str] = (), **settings: Any
) -> dict[str, bytes]:
    """Draw what a search for a bleed found: every network tried, and the shape at each mark.

    Of several lengths of cable [m] it takes the longest; settings say how all else stands.
    """
    marks: dict[str, Any] = {found.knob: list(SHOWN), **settings}
    if cables:
        # Of several cables the longest, where turning down does most.
        marks["cable.length"] = max(cables, key=lambda m: read_value(m, "m"))
    h = response(found.builds(), marks)
    title = "What turning down does to the shape"
    shape = plot_difference(h, knob=found.knob, re={found.knob: 10}, title=title)
    return {
        "front.png": picture(plot_front(found), dpi=110),
        "shape.png": picture(shape, dpi=110),
    }
