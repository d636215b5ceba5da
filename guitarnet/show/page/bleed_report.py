"""Pictures and the live page of treble bleeds side by side in one guitar."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from ...errors import BadSetting
from ...study.choose.bleed_result import BleedChoices
from ...study.choose.bleed_tables import NO_BLEED, SHOWN, BleedComparison
from ...study.explain.sentences import Answer
from ...study.response.response import response
from ...table import Table
from ...units import read_value, sentence, unbroken
from ..figures.choices import plot_front
from ..figures.picture import picture
from ..figures.responses import plot_builds, plot_difference, plot_map, plot_response, plot_taper
from ..figures.turned_down import plot_turned_down
from .live_page import LivePage, live_page
from .report import report
from .still import MOST_CURVES

__all__ = ["bleed_page", "bleed_pictures", "bleed_report", "check_builds", "choice_pictures"]

_EVERY = (10, 9, 8, 7, 6, 5, 4, 3, 2, 1)
_DPI = 160  # prints sharp at 170 mm


def check_builds(found: BleedComparison) -> None:
    """Refuse more builds than a picture can show."""
    if len(found.builds) > MOST_CURVES:
        raise BadSetting(
            "bleeds",
            f"{len(found.builds)} builds cannot be told apart in one picture",
            f"compare up to {MOST_CURVES}, no bleed and the other wiring among them",
            len(found.builds),
        )


def bleed_pictures(found: BleedComparison, *, every: bool = False) -> Iterator[tuple[str, bytes]]:
    """Draw a comparison of bleeds; yields names such as "answer.png" and contents.

    The first says most, the second shows the other marks; with ``every`` five more follow.
    """
    check_builds(found)
    h, knob, marks = found.response, found.knob, found.marks
    name, knob_label = sentence(found.name), found.knob_label
    second = list(found.builds)[min(1, len(found.builds) - 1)]
    law = found.guitar.parts[knob].taper  # type: ignore[attr-defined]
    all_marks = h.sel({"build": NO_BLEED, knob: list(_EVERY)})
    turned = f"difference-from-{knob_label.replace(' ', '-')}-10"
    # Each is drawn only when it is asked for.
    drawings: dict[str, Callable[[], Any]] = {
        "answer": lambda: _answer_picture(found),
        turned: lambda: plot_difference(
            *(h, marks),
            knob=knob,
            re={knob: 10},
            title=f"{name}: how the shape differs from {knob_label} 10",
        ),
        "builds": lambda: plot_builds(
            h, marks, knob=knob, title=f"{name}: shape at each {knob_label} mark"
        ),
        "difference-from-no-bleed": lambda: plot_difference(
            *(h, marks),
            knob=knob,
            re={"build": NO_BLEED},
            matched=False,
            title=f"{name}: difference from no bleed, with level",
        ),
        "taper": lambda: plot_taper(h, {"the track": law}, knob=knob, title=f"{name}: level"),
        "every-mark": lambda: plot_response(
            all_marks, title=f"{name}, no bleed: level at each {knob_label} mark"
        ),
        "map": lambda: plot_map(
            h.sel(build=second),
            knob=knob,
            title=f"{name}, {second}: shape at every {knob_label} mark",
        ),
    }
    for kind, drawn in drawings.items():
        if every or kind in ("answer", turned):
            yield f"{kind}.png", picture(drawn(), dpi=_DPI)


def bleed_report(found: BleedComparison, answer: Answer, picture: bytes) -> str:
    """Write what to hand over: the answer, its picture and the main numbers, as HTML."""
    short = found.in_short()
    table = Table(short.columns, short.rows, unbroken(short.title.replace("\n", " ")))
    seen = f"Shape of each build at {found.knob_label} {found.middle:g}, over that at 10"
    question = f"what a treble bleed does at {found.knob_label} 10 and {found.middle:g}"
    title = f"{sentence(found.name)}: {question}"
    return report(title, answer, {seen: picture}, [table])


def _answer_picture(found: BleedComparison) -> Any:
    """Draw the shape of every build at half travel over that at 10."""
    mark = found.middle
    title = f"{sentence(found.name)}: shape at {found.knob_label} {mark:g}"
    return plot_turned_down(found.response, mark, knob=found.knob, title=title)


def bleed_page(found: BleedComparison) -> LivePage:
    """Make the live page of a comparison of bleeds."""
    check_builds(found)
    return live_page(found.response, knob=found.knob, title=sentence(found.name))


def choice_pictures(
    found: BleedChoices, cables: Sequence[str] = (), **settings: Any
) -> dict[str, bytes]:
    """Draw the result of a search for a bleed: every candidate, and the shape at each mark.

    Of several lengths of cable [m] it takes the longest.
    """
    marks: dict[str, Any] = {found.knob: list(SHOWN), **settings}
    if cables:
        # Turning down does most with the longest cable.
        marks["cable.length"] = max(cables, key=lambda m: read_value(m, "m"))
    h = response(found.builds(), marks)
    title = "What turning down does to the shape"
    shape = plot_difference(h, knob=found.knob, re={found.knob: 10}, title=title)
    return {
        "front.png": picture(plot_front(found), dpi=110),
        "shape.png": picture(shape, dpi=110),
    }
