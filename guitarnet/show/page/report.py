"""A page to hand over: sentences, pictures and tables, without a script."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence

from ...errors import NotInstalled, plain
from ...study.explain.sentences import Answer
from ...table import Table
from ...units import sentence, unbroken
from ..figures.picture import embedded
from ..markup import Html, filled, repeated
from .html_view import asset
from .paper import printer
from .plain_page import plain_page

__all__ = ["report", "report_pdf"]

_WORDS = (
    "dB compares two voltages: -6 dB is half, -20 dB a tenth, 0 dB the same. "
    "Shape is the level against that of the bass, at 100 Hz. These numbers "
    "describe the circuit; they do not say what sounds better."
)


def report(
    title: str,
    answer: Answer,
    pictures: Mapping[str, bytes],
    tables: Sequence[Table] = (),
) -> str:
    """Write a page that needs no network, for a screen and for paper.

    Parameters
    ----------
    title : str
        Its head.
    answer : Answer
        What is said first; what was assumed stands at the foot.
    pictures : mapping of str to bytes
        PNG pictures by what is seen in them.
    tables : sequence of Table
        What follows.

    Returns
    -------
    str
        HTML; all that a person wrote is escaped.
    """
    texts = answer.texts()
    said, assumed = (texts[:-1], texts[-1]) if answer.assumed else (texts, "")
    figures = [(_text(alt), embedded(content)) for alt, content in pictures.items()]
    body = [
        filled("<h1>$title</h1>", title=_text(title)),
        repeated("<p>$text</p>", [(_text(text),) for text in said]),
        repeated('<figure><img alt="$alt" src="$source"></figure>', figures),
        repeated('<div class="wide">$table</div>', [(Html(t._repr_html_()),) for t in tables]),
        filled('<p class="assumed">$foot</p>', foot=_text(f"{sentence(assumed)} {_WORDS}")),
    ]
    return plain_page(title, asset("report.css"), Html("\n".join(body)))


def report_pdf(page: str) -> bytes | None:
    """Print a report, on A4; None where the library that prints is not installed."""
    try:
        lay_out = printer("report", "print the HTML")
    except NotInstalled:
        return None
    pdf: bytes = lay_out(page).write_pdf()
    return pdf


def _text(text: str) -> Html:
    """Escaped, with hard spaces between numbers and units."""
    return Html(html.escape(unbroken(plain(text))))
