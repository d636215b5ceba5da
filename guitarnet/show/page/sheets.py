"""Pages out of a record: a guitar's sheet, certificates of pickups, labels."""

from __future__ import annotations

import base64
import html
import os
from collections.abc import Sequence
from pathlib import Path
from string import Template

from ...circuit.harness import CAUTIONS
from ...errors import BadSetting, listed, plain
from ...files import write_text
from ...gate import public
from ...study.bench.ohmmeter import displayed
from ...study.explain.sentences import Answer, Sentence
from ...study.record.pickups import Certificate
from ...study.record.record import STATES, Entry, Record
from ...table import Table
from ...units import format_value, write_celsius
from ..draw import draw
from ..figures.picture import picture
from .html_view import asset
from .report import report

__all__ = ["certificate_page", "guitar_sheet"]

_STATES = {
    state: f", {'as ' * (state in ('found', 'left'))}{state}" if state else "" for state in STATES
}


@public
def guitar_sheet(record: Record, guitar: str, path: str | os.PathLike[str]) -> Path:
    """Write the sheet of one guitar: as found, what was wrong, what was done, as left.

    Parameters
    ----------
    record : Record
        The record.
    guitar : str
        The guitar.
    path : path
        The file, HTML; a browser prints it on one page of A4 or Letter, or a second where much
        was written.

    Returns
    -------
    pathlib.Path
        The file, written whole or not at all.

    Raises
    ------
    BadSetting
        If there is no such guitar, or nothing was written of it.
    BadFile
        If the file cannot be written.
    NotInstalled
        If the schematic cannot be drawn for want of a library.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet.records import Record
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Record(pathlib.Path(folder, "bench.record"), begin=True) as record:
    ...         record.add("T-7", "guitar")
    ...         _ = record.write("T-7", finding="jack loose", work="jack tightened")
    ...         guitar_sheet(record, "T-7", pathlib.Path(folder, "T-7.html")).name
    'T-7.html'
    """
    if record.kind(guitar) != "guitar":
        raise BadSetting("guitar", f"{guitar!r} is a pickup", "name a guitar", guitar)
    entries = record.entries(guitar)
    if not entries:
        raise BadSetting("guitar", f"nothing was written of {guitar!r}", "write first", guitar)
    visits: dict[tuple[str, str], list[Entry]] = {}
    for one in entries:
        visits.setdefault((one.date, one.state), []).append(one)
    body = [_visit(date, state, own) for (date, state), own in visits.items()]
    kept = [one for one in entries if one.kind == "harness"]
    if kept:
        words = f"Wiring{_STATES[kept[-1].state]}, {kept[-1].date}"
        png = base64.b64encode(picture(draw(record.harness(guitar)), dpi=160)).decode()
        image = f'<img alt="{_text(words)}" src="data:image/png;base64,{png}">'
        body.append(f"<section><h2>{_text(words)}</h2>{image}</section>")
    page = Template(asset("sheet.html")).substitute(
        title=f"Guitar {_text(guitar)}",
        style=asset("report.css"),
        body="\n".join(body),
        cautions=_text(CAUTIONS),
    )
    return write_text(path, page)


def _visit(date: str, state: str, entries: Sequence[Entry]) -> str:
    """Set out what was written on one day: readings, and then words."""
    rows = [
        (one.place, displayed(one.ohms), write_celsius(one.celsius))
        for one in entries
        if one.kind == "reading"
    ]
    read = Table(("where", "read", "coils at"), rows)._repr_html_() if rows else ""
    told = "".join(
        f"<p><b>{label}:</b> {'<br>'.join(_text(line) for line in one.text.split(chr(10)))}</p>"
        for kind, label in (("finding", "Finding"), ("work", "Work"), ("remark", "Remark"))
        for one in entries
        if one.kind == kind
    )
    return f"<section><h2>{_text(date)}{_STATES[state]}</h2>{read}{told}</section>"


@public
def certificate_page(
    certificates: Sequence[Certificate], path: str | os.PathLike[str], *, labels: bool = False
) -> Path:
    """Write what meters should show of pickups, to go out with them.

    Parameters
    ----------
    certificates : sequence of Certificate
        From `guitarnet.records.certificate`.
    path : path
        The file, HTML.
    labels : bool
        Whether to print labels, three in a row, in place of a section each.

    Returns
    -------
    pathlib.Path
        The file, written whole or not at all.

    Raises
    ------
    BadSetting
        If there is none.
    BadFile
        If the file cannot be written.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet.records import Record, certificate
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Record(pathlib.Path(folder, "bench.record"), begin=True) as record:
    ...         record.add("N-12", "pickup")
    ...         _ = record.write("N-12", readings="7.15k", at="20 C", state="shipped")
    ...         made = [certificate(record, "N-12")]
    ...     certificate_page(made, pathlib.Path(folder, "N-12.html")).name
    'N-12.html'
    """
    made = listed(certificates, "certificates", "give what certificate() returns")
    if not made:
        raise BadSetting("certificates", "there is none", "give at least one", certificates)
    for one in made:
        if not isinstance(one, Certificate):
            raise BadSetting(
                "certificates", f"{one!r} is none", "give what certificate() returns", one
            )
    if labels:
        body = "\n".join(_label(one) for one in made)
        page = Template(asset("labels.html")).substitute(labels=body)
        return write_text(path, page)
    tables = [one.table() for one in made]
    said = Sentence("What a meter should show from lead to lead, unplugged from everything else.")
    return write_text(path, report("Certificate", Answer(((said,),)), {}, tables))


def _label(one: Certificate) -> str:
    rows = "".join(
        f"<tr><td>{write_celsius(celsius)}</td>"
        + "".join(f"<td>{format_value(ohms, 'ohm', digits=3)}</td>" for ohms in more)
        + "</tr>"
        for celsius, *more in one.rows
    )
    return (
        f"<section><h2>{_text(one.pickup)}</h2><p>{_text(one.sort)}</p>"
        f"<table><tr><th>at</th><th>shows</th><th>from</th><th>to</th></tr>{rows}</table>"
        f"<p>read {_text(one.shipped.date)}</p></section>"
    )


def _text(text: str) -> str:
    return html.escape(plain(text))
