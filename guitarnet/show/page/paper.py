"""Pages on paper: what lays an HTML page out for a PDF."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ...errors import NotInstalled

__all__ = ["printer"]


def printer(asking: str, otherwise: str) -> Callable[[str], Any]:
    """Give what lays a page out on paper.

    Parameters
    ----------
    asking : str
        Who asks, for the refusal.
    otherwise : str
        What else a person may do where the library is missing.

    Returns
    -------
    callable
        Takes HTML that holds all it needs; its result has ``pages`` and ``write_pdf()``.

    Raises
    ------
    NotInstalled
        If WeasyPrint is missing, or the system's Pango.
    """
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except (ImportError, OSError):  # OSError: its system libraries
        raise NotInstalled(
            asking,
            "a PDF needs WeasyPrint and, of the system, Pango, and one of them is not installed",
            f"pip install 'guitarnet[cards]', or {otherwise}",
        ) from None
    # The page holds all it needs: nothing may be fetched.
    fetcher = URLFetcher(allowed_protocols=["data"])
    pictures: dict[Any, Any] = {}  # read once for all layouts
    return lambda page: HTML(string=page, url_fetcher=fetcher).render(cache=pictures)
