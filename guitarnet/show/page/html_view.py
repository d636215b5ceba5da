"""A page with its own script, saved as a file or shown in a frame of a notebook.

The page has everything inside; it needs no kernel, no network and no library.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import os
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import Any, ClassVar

from ...files import write_text
from ...gate import public

__all__ = ["HtmlView", "asset", "inert", "policy"]


def asset(name: str, room: str = __package__) -> str:
    """Text of a file beside the modules of a room (this one by default)."""
    return (files(room) / name).read_text(encoding="utf-8")


def inert(data: Any) -> str:
    """JSON without letters that an HTML parser reads."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def policy(script: str) -> str:
    """Policy of a page: only this script may run, and nothing may be fetched."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return (
        "default-src 'none'; img-src data:; base-uri 'none'; form-action 'none'; "
        f"style-src 'unsafe-inline'; script-src 'sha256-{digest}'"
    )


@public
class HtmlView:
    """Base class of pages with their own script.

    Parameters
    ----------
    data : dict
        Data for the script.
    title : str
        Title of the page.
    notes : str
        Assumptions.
    """

    _tall: ClassVar = 700
    """Height of the frame [px] until its page reports its own."""
    _use: ClassVar = "move the controls"
    """What a reader needs a browser for."""

    def __init__(self, data: dict[str, Any], title: str, notes: str) -> None:
        self._data = data
        self._title = title
        self._notes = notes

    def html(self) -> str:
        """Return the page as text, without the still picture for readers without scripts.

        Returns
        -------
        str
            HTML.
        """
        return self._page("")

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write the page as one HTML file that needs no network.

        Parameters
        ----------
        path : path
            The file, such as "bleeds.html".

        Returns
        -------
        pathlib.Path
            The file.

        Raises
        ------
        BadFile
            If the file cannot be written.
        """
        # Not in <noscript>: a mail program that blocks scripts does not show that.
        advice = f"<p>To {self._use}, open this file in a web browser.</p>"
        without = f'<div class="without">\n{self._without()}\n{advice}\n</div>\n'
        return write_text(path, self._page(without))

    def _repr_html_(self) -> str:
        # A notebook that is not trusted removes the frame, and the still picture stays. In a
        # trusted one the frame hides the still picture when it loads.
        hide = "this.previousElementSibling.style.display='none'"
        page = html.escape(self.html(), quote=True)
        return (
            f'<div>{self._still()}<iframe title="{html.escape(self._title)}" srcdoc="{page}" '
            f'onload="{hide}" style="width:100%;height:{self._tall}px;border:0"></iframe></div>'
        )

    def _page(self, without: str) -> str:
        script = f"{asset('elements.js')}{self._script()}growFrame();\ndropStill();\n"
        return Template(asset("html_view.html")).substitute(
            policy=policy(script),
            title=html.escape(self._title),
            style=asset("view.css") + self._sheet(),
            body=without + self._body(),
            notes=html.escape(self._notes),
            data=inert(self._data),
            script=script,
        )

    # -- what each view gives -----------------------------------------------------------------

    def _script(self) -> str:
        """Script that fills the body; it may use ``elements.js``."""
        raise NotImplementedError

    def _sheet(self) -> str:
        """Style rules besides ``view.css``."""
        raise NotImplementedError

    def _body(self) -> str:
        """HTML that the script fills."""
        raise NotImplementedError

    def _still(self) -> str:
        """HTML for a notebook that is not trusted: one element."""
        raise NotImplementedError

    def _without(self) -> str:
        """HTML for readers without scripts."""
        raise NotImplementedError
