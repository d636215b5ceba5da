"""The job card: a bench picture and one page to build, measure and keep, HTML or PDF."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from ...circuit.harness import Harness
from ...errors import BadSetting
from ...files import write_bytes, write_text
from ...gate import public
from ...study.bench.meter import coil_celsius
from ...study.bench.ohmmeter import Ohmmeter
from ...study.response.sweep import check_guitar
from ..markup import Html, filled, repeated
from ..page.html_view import asset
from ..page.paper import printer
from ..page.plain_page import plain_page
from .content import content

__all__ = ["job_card"]

PAPERS = ("A4", "Letter")
_LETTERS = (9.4, 8.6, 7.8, 7.2, 6.6)  # sizes of the letters [pt], of which the first that fits
_FLOWING = 7.8  # the size over several pages
_ON_SCREEN = 7.2  # the size where a browser prints, whose letters we do not know
_CIRCUIT = 50.0  # height kept free for the schematic, at least [mm]
_TALLEST = 110.0  # and at most [mm]
_PX_PER_MM = 96 / 25.4
_FOOT = 13.0  # margin of the page and last line of the card [mm]
_FIXED = 45.0  # height of what does not grow with the letters: response and rules, about [mm]

# Lines of the page that come once for each row, and those that a card may lack.
_BLANK = "<div><dt>$label</dt><dd>$value</dd></div>"
_BENCH = '<img class="bench" src="$picture" alt="Bench picture of $name">'
_DRAWING = '<img class="circuit" src="$picture" alt="$form of $name">'
_SOLDERED = (
    '<tr><td><span class="box"></span></td><td class="number">$number</td>'
    '<td class="whole">$step</td><td>$lugs</td><td>$leads</td><td>$wire</td></tr>'
)
_OTHER = (
    '<tr><td><span class="box"></span></td><td></td><td class="whole">$step</td>'
    '<td colspan="3">$words</td></tr>'
)
_PART = "<tr><td>$part</td><td>$value</td><td>$marking</td><td>$tolerance</td></tr>"
_READING = (
    '<tr><td>$place</td><td class="whole"><b>$nominal</b></td><td class="whole">$low</td>'
    '<td class="whole">$high</td><td class="write"></td></tr>'
)
_UNSEEN = '<li><span class="box"></span><b>$what.</b> $test</li>'
_NOTES = '<section>\n<h2>Notes</h2>\n<p class="notes">$notes</p>\n</section>'


@public
def job_card(
    guitar: Harness,
    path: str | os.PathLike[str],
    *,
    paper: str = "A4",
    date: str = "",
    by: str = "",
    number: str = "",
    notes: str = "",
    coil_temperature: float | str = 20.0,
    meter: Ohmmeter | None = None,
) -> Path:
    """Write a job card: the bench picture, then a page of what to solder, buy and measure.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    path : path
        The file; its ending says the form: ".html" or ".pdf".
    paper : {"A4", "Letter"}
        Paper of a PDF. A browser prints the HTML on the paper that is in the printer.
    date, by, number : str
        What to print in the head of the card: the date, who did the job, the number of the
        guitar. Lines to fill in by hand unless given.
    notes : str
        The maker's own notes, printed as they are.
    coil_temperature : float or str
        Temperature of the coils at which readings are expected [°C].
    meter : Ohmmeter, optional
        The meter, whose leads and limits of error count in the readings; a perfect one unless
        given.

    Returns
    -------
    pathlib.Path
        The file, written whole or not at all. It needs no network and holds no date that was
        not given: the same guitar gives the same HTML.

    Raises
    ------
    BadSetting
        If the file's ending or the paper is another, or as in `expected_readings`.
    BadHarness
        If the guitar is not whole.
    BadFile
        If the file cannot be written.
    NotInstalled
        If WeasyPrint, of the extra ``cards``, is missing for a PDF.

    Notes
    -----
    A guitar of five switch places, three pickups and three knobs fits on one page; one of many
    more joints takes a second.

    References
    ----------
    The tests in place of an ohmmeter and the cautions are common practice, no source.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), name="workbench guitar")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     job_card(guitar, pathlib.Path(folder, "card.html")).name
    'card.html'
    """
    ending = Path(path).suffix.lower()
    if ending not in (".html", ".pdf"):
        raise BadSetting(
            str(path),
            f"a job card cannot end in {ending!r}" if ending else "has no ending",
            "end it in .html or .pdf",
            ending,
        )
    if paper not in PAPERS:
        raise BadSetting("paper", f"{paper!r} is unknown", "use 'A4' or 'Letter'", paper)
    check_guitar(guitar)
    guitar.check()
    # What is missing is said before anything is computed.
    lay_out = (
        printer("job_card", "end the path in .html and print that") if ending == ".pdf" else None
    )
    said = content(guitar, coil_celsius(coil_temperature), meter)
    head = (("Date", date), ("Done by", by), ("Guitar no.", number))
    bench = repeated(_BENCH, [(said["bench"], guitar.name)])
    card = _card(said, head, notes)
    if lay_out is None:
        body = Html(f"{bench}\n{card}")
        return write_text(path, _page(guitar.name, body, "", _ON_SCREEN, _CIRCUIT))
    # The bench picture has a page of its own, before the card that is fitted to one.
    first = lay_out(_page(guitar.name, bench, paper, _ON_SCREEN, _CIRCUIT))

    def made(letters: float, circuit: float) -> Any:
        return lay_out(_page(guitar.name, card, paper, letters, round(circuit, 1)))

    legible = min(max(said["schematic"]["height"], _CIRCUIT), _TALLEST)
    fitted = _fitted(made, legible)
    return write_bytes(path, fitted.copy([*first.pages[:1], *fitted.pages]).write_pdf())


def _fitted(made: Callable[[float, float], Any], legible: float) -> Any:
    """Lay the card out on one page: the largest letters, and all the height left for the drawing.

    The drawing is as high as its own letters need, if the page has it, and else at least somewhat.
    What does not fit on one page even with the smallest letters takes several.
    """
    for circuit in dict.fromkeys((legible, (legible + _CIRCUIT) / 2, _CIRCUIT)):
        found = None
        # Sizes from low on may fit, the one at high does; a layout takes most of a second.
        low, high, tried = 0, len(_LETTERS), len(_LETTERS) // 2
        while low < high:
            document = made(_LETTERS[tried], circuit)
            if len(document.pages) > 1:
                if _hopeless(document, _LETTERS[-1] / _LETTERS[tried]):
                    return made(_FLOWING, legible)
                low = tried = tried + 1
                continue
            page = document.pages[0]
            left = _left(page)
            found, high = (document, left), tried
            text = page.height / _PX_PER_MM - _FOOT - left - circuit - _FIXED
            more = [_LETTERS[size] / _LETTERS[tried] for size in range(high)]
            # Lines grow at least as their letters do, and by a second factor as they break.
            low = max(low, sum(text * (grown - 1) > left for grown in more))
            likely = (n for n in range(low, high) if text * (more[n] ** 2 - 1) <= left)
            tried = next(likely, high - 1)
        if found is not None:
            document, left = found
            higher = round(circuit + left, 1)
            return made(_LETTERS[high], higher) if higher > round(circuit, 1) else document
    return made(_FLOWING, legible)


def _hopeless(document: Any, smaller: float) -> bool:
    """Whether a card of several pages is too long for one, with letters so much smaller too.

    Text shrinks by the square at most: its lines, and how many there are. A third of a page may be
    blank where something did not fit under it.
    """
    *before, last = document.pages
    full = last.height
    used = sum(page.height for page in before) + last.anchors["end"][1]
    return bool((used - full / 3) * smaller**2 > full)


def _left(page: Any) -> float:
    """Height that the card leaves free on a page [mm]."""
    return max(0.0, (page.height - page.anchors["end"][1]) / _PX_PER_MM - _FOOT)


def _page(name: str, body: Html, paper: str, letters: float, circuit: float) -> str:
    """Put what is to be seen on a page."""
    sizes = f"html {{ font-size: {letters}pt; }}\nimg.circuit {{ max-height: {circuit}mm; }}"
    page = f"@page {{ size: {paper}; }}" if paper else ""
    style = "\n".join([asset("job_card.css", __package__), sizes, page])
    return plain_page(f"Job card: {name}", style, body)


def _card(said: dict[str, Any], head: Sequence[tuple[str, str]], notes: str) -> Html:
    """Fill in the card."""
    schematic, joints, parts = said["schematic"], said["joints"], said["parts"]
    readings, response = said["readings"], said["response"]
    drawing = [(schematic["picture"], schematic["form"], said["name"])]
    return filled(
        asset("job_card.html", __package__),
        name=said["name"],
        head=repeated(_BLANK, head),
        drawing=repeated(_DRAWING, drawing if schematic["picture"] else []),
        schematic=schematic["words"],
        soldered=repeated(_SOLDERED, joints["soldered"]),
        others=repeated(_OTHER, joints["others"]),
        joints_note=joints["note"],
        column="buy" if parts["to_buy"] else "marking",
        marking="buy, marking" if parts["to_buy"] else "marking",
        parts=repeated(_PART, parts["rows"]),
        parts_note=parts["note"],
        **response,
        readings=repeated(_READING, readings["rows"]),
        readings_note=readings["note"],
        degree=readings["degree"],
        unseen=repeated(_UNSEEN, said["unseen"]),
        notes=repeated(_NOTES, [(notes,)] if notes else []),
        cautions=said["cautions"],
    )
