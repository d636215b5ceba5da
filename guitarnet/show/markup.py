"""Pages of HTML, filled in: all text is escaped, except what is HTML of ours."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from string import Template

from ..errors import plain

__all__ = ["Html", "filled", "repeated"]


class Html(str):
    """Text that is HTML already."""


def filled(template: str, **values: object) -> Html:
    """Fill in a template, in which ``$name`` stands for a value."""
    return Html(Template(template).substitute({name: _html(v) for name, v in values.items()}))


def repeated(line: str, rows: Iterable[Sequence[object]]) -> Html:
    """Fill in a line once for each row, whose cells come in the order of the line's names."""
    names = Template(line).get_identifiers()
    return Html("\n".join(filled(line, **dict(zip(names, row, strict=True))) for row in rows))


def _html(value: object) -> str:
    """Text in HTML; no character but a new line steers how the page is read."""
    if isinstance(value, Html):
        return value
    return html.escape("\n".join(map(plain, str(value).split("\n"))))
