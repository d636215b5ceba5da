"""The shell of every page without a script: reports, sheets, certificates, labels, job cards."""

from __future__ import annotations

from ..markup import Html, filled
from .html_view import asset

__all__ = ["plain_page"]


def plain_page(title: str, style: str, body: Html) -> Html:
    """Put a body on a page that needs no network, for a screen and for paper.

    Parameters
    ----------
    title : str
        Title of the page, escaped.
    style : str
        Our own style sheet.
    body : Html
        What is to be seen.

    Returns
    -------
    Html
        The page.
    """
    return filled(asset("plain_page.html"), title=title, style=Html(style), body=body)
