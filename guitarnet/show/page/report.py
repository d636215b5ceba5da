"""A page to hand over: sentences, pictures and tables, without a script."""

from __future__ import annotations

import base64
import html
from collections.abc import Mapping, Sequence
from string import Template

from ...errors import NotInstalled, plain
from ...study.explain.sentences import Answer
from ...table import Table
from ...units import sentence, unbroken
from .html_view import asset
from .paper import printer

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
    figures = (
        f'<figure><img alt="{_text(alt)}" src="data:image/png;base64,'
        f'{base64.b64encode(content).decode()}"></figure>'
        for alt, content in pictures.items()
    )
    return Template(asset("report.html")).substitute(
        title=_text(title),
        style=asset("report.css"),
        answer="\n".join(f"<p>{_text(text)}</p>" for text in said),
        pictures="\n".join(figures),
        tables="\n".join(f'<div class="wide">{table._repr_html_()}</div>' for table in tables),
        assumed=_text(sentence(assumed)),
        words=_text(_WORDS),
    )


def report_pdf(page: str) -> bytes | None:
    """Print a report, on A4; None where the library that prints is not installed."""
    try:
        lay_out = printer("report", "print the HTML")
    except NotInstalled:
        return None
    pdf: bytes = lay_out(page).write_pdf()
    return pdf


def _text(text: str) -> str:
    return html.escape(unbroken(plain(text)))
