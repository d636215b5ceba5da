"""Pages out of a record: a guitar's sheet, certificates of pickups, labels."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from ...circuit.harness import CAUTIONS
from ...errors import BadSetting, listed
from ...files import write_text
from ...gate import public
from ...study.bench.ohmmeter import displayed
from ...study.record.pickups import Certificate
from ...study.record.record import STATES, Entry, Record
from ...table import Table
from ...units import format_value, write_celsius
from ..draw import draw
from ..figures.picture import embedded, picture
from ..markup import Html, filled, repeated
from .html_view import asset
from .plain_page import plain_page

__all__ = ["certificate_page", "guitar_sheet"]

_STATES = {
    state: f", {'as ' * (state in ('found', 'left'))}{state}" if state else "" for state in STATES
}

_WIRING = '<section><h2>$words</h2><img alt="$words" src="$source"></section>'
_CERTIFICATE = (
    "<h1>Certificate</h1>\n"
    "<p>What a meter should show from lead to lead, unplugged from everything else.</p>"
)
_LABEL = (
    "<section><h2>$pickup</h2><p>$sort</p>"
    "<table><tr><th>at</th><th>shows</th><th>from</th><th>to</th></tr>$rows</table>"
    "<p>read $date</p></section>"
)


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
    body = [
        filled("<h1>Guitar $name</h1>", name=guitar),
        *(_visit(date, state, own) for (date, state), own in visits.items()),
    ]
    kept = [one for one in entries if one.kind == "harness"]
    if kept:
        words = f"Wiring{_STATES[kept[-1].state]}, {kept[-1].date}"
        drawn = embedded(picture(draw(record.harness(guitar)), dpi=160))
        body.append(filled(_WIRING, words=words, source=drawn))
    body.append(filled('<p class="assumed">$cautions</p>', cautions=CAUTIONS))
    page = plain_page(f"Guitar {guitar}", asset("report.css"), Html("\n".join(body)))
    return write_text(path, page)


def _visit(date: str, state: str, entries: Sequence[Entry]) -> Html:
    """Set out what was written on one day: readings, and then words."""
    rows = [
        (one.place, displayed(one.ohms), write_celsius(one.celsius))
        for one in entries
        if one.kind == "reading"
    ]
    told = [
        (label, one.text)
        for kind, label in (("finding", "Finding"), ("work", "Work"), ("remark", "Remark"))
        for one in entries
        if one.kind == kind
    ]
    return filled(
        "<section><h2>$date$state</h2>$read$told</section>",
        date=date,
        state=_STATES[state],
        read=Html(Table(("where", "read", "coils at"), rows)._repr_html_() if rows else ""),
        told=repeated('<p class="lines"><b>$label:</b> $text</p>', told),
    )


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
        body = Html("\n".join(map(_label, made)))
        return write_text(path, plain_page("Labels of pickups", asset("labels.css"), body))
    body = Html("\n".join([_CERTIFICATE, *(one.table()._repr_html_() for one in made)]))
    return write_text(path, plain_page("Certificate", asset("report.css"), body))


def _label(one: Certificate) -> Html:
    rows = [
        (write_celsius(celsius), *(format_value(ohms, "ohm", digits=3) for ohms in more))
        for celsius, *more in one.rows
    ]
    return filled(
        _LABEL,
        pickup=one.pickup,
        sort=one.sort,
        rows=repeated("<tr><td>$at</td><td>$shows</td><td>$low</td><td>$high</td></tr>", rows),
        date=one.shipped.date,
    )
