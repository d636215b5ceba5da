"""What carries a live view: a page that stands alone, a frame in a notebook, and a still picture.

One HTML page with its script and style inside; it needs no kernel, no network and no library.
"""

from __future__ import annotations

import base64
import html
import io
import os
import textwrap
import warnings
from pathlib import Path
from string import Template
from typing import Any

import numpy as np

from ...files import write_text
from ...gate import public
from ...table import Table
from ..figures import style
from .files import asset, inert, policy

__all__ = ["Carrier", "still"]

# The colours of `style.BUILD_STYLES`, lightened for dark paper.
_ON_DARK = (
    "#6cb6e8",
    "#f28c48",
    "#35c49a",
    "#e08cc0",
    "#d9b84a",
    "#9fc9ee",
    "#c9ced6",
    "#d69a76",
)


@public
class Carrier:
    """Base of live views: how they are saved, and how a notebook shows them.

    Parameters
    ----------
    data : dict
        What the script needs.
    title : str
        Title of the page.
    notes : str
        What was assumed.
    """

    scripts: tuple[str, ...] = ()
    sheets: tuple[str, ...] = ()
    template = ""

    def __init__(self, data: dict[str, Any], title: str, notes: str) -> None:
        self._data = data
        self._title = title
        self._notes = notes

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write a page that stands alone: one HTML file that needs no network.

        Parameters
        ----------
        path : path
            The file, such as "bleeds.html".

        Returns
        -------
        pathlib.Path
            The file written.

        Raises
        ------
        BadFile
            If the file cannot be written.
        """
        numbers = self._numbers()._repr_html_()
        # Not in <noscript>: a mail program that blocks a page's scripts shows nothing of that.
        words = "<p>To move the controls, open this file in a web browser.</p>"
        without = f"{self._picture(bare=True)}\n{numbers}\n{words}"
        return write_text(path, self._page(f'<div class="without">\n{without}\n</div>'))

    def _repr_html_(self) -> str:
        # Where a notebook is not trusted the frame is taken out and the picture stays; where it
        # is, the frame hides the picture as it loads.
        hide = "this.previousElementSibling.style.display='none'"
        page = html.escape(self._page(""), quote=True)
        return (
            f'<div>{self._picture()}<iframe title="{html.escape(self._name())}" srcdoc="{page}" '
            f'onload="{hide}" style="width:100%;height:700px;border:0"></iframe></div>'
        )

    # -- what each view says ------------------------------------------------------------------

    def _name(self) -> str:
        """Title, or what the view is."""
        raise NotImplementedError

    def _stands(self) -> str:
        """Say the settings of the still picture."""
        raise NotImplementedError

    def _numbers(self) -> Table:
        """Give the numbers of the still picture, for a reader without scripts."""
        raise NotImplementedError

    def _still(self, title: str, notes: str) -> bytes:
        """PNG of the view as it opens."""
        raise NotImplementedError

    def _fields(self) -> dict[str, str]:
        """Give more fields of the template, as HTML."""
        return {}

    # -- the page -----------------------------------------------------------------------------

    def _script(self) -> str:
        return "".join(asset(name) for name in self.scripts)

    def _sheet(self) -> str:
        return "".join(asset(name) for name in self.sheets) + self._colours()

    def _colours(self) -> str:
        return _colours(len(self._data["labels"]))

    def _page(self, still: str) -> str:
        script = self._script()
        return Template(asset(self.template)).substitute(
            policy=policy(script),
            title=html.escape(self._name()),
            style=self._sheet(),
            still=still,
            notes=html.escape(self._notes),
            data=inert(self._data),
            script=script,
            **self._fields(),
        )

    def _picture(self, *, bare: bool = False) -> str:
        """Draw the still as an image; bare where title and notes stand around it already."""
        words = f"{self._name()}: {self._stands()}. {self._notes}"
        around = ("", "") if bare else (self._title, self._notes)
        image = base64.b64encode(self._still(*around)).decode()
        return (
            f'<img class="still" alt="{html.escape(words)}" style="max-width:100%" '
            f'src="data:image/png;base64,{image}">'
        )


def still(
    frequency: Any,
    limits: tuple[float, float],
    curves: np.ndarray,
    labels: list[str],
    *,
    axis: str,
    heading: str,
    title: str,
    notes: str,
) -> bytes:
    """Draw levels against frequency as a small PNG.

    Parameters
    ----------
    frequency : array_like
        Frequencies [Hz].
    limits : pair of float
        Lowest and highest to draw [Hz].
    curves : numpy.ndarray
        Levels [dB] in rows, NaN where silent.
    labels : list of str
        Label of each curve.
    axis, heading, title, notes : str
        Words at the axis, above the labels, above and below the picture.

    Returns
    -------
    bytes
        The picture.
    """
    from matplotlib.figure import Figure
    from PIL import Image  # matplotlib needs it as well

    stream = io.BytesIO()
    with style.style(), warnings.catch_warnings():
        # A label may hold letters that the still's font lacks; the live page has the reader's.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        figure = Figure(figsize=(7.6, 4.6), layout="constrained")
        ax = figure.add_subplot()
        style.frequency_axis(ax, limits)
        style.decibel_axis(ax, [curves], axis, deepest=60)
        # Labels are the user's words, never formulas to be set.
        ax.set_title(title, parse_math=False, wrap=True)
        for values, (colour, dash) in zip(curves, style.BUILD_STYLES, strict=False):
            ax.plot(frequency, values, color=colour, linestyle=dash)
        names = {
            "title": textwrap.fill(heading, 64),
            "title_fontproperties": {"weight": "bold"},
            "alignment": "left",
        }
        # Matplotlib leaves out labels that begin with "_", so the words are put in afterwards.
        legend = ax.legend(
            ax.lines[-len(curves) :],
            ["?"] * len(curves),
            loc="lower left",
            handlelength=3.2,
            **names,
        )
        legend.get_title().set_parse_math(False)
        for text, label, values in zip(legend.texts, labels, curves, strict=True):
            text.set_parse_math(False)
            text.set_text(label[:60] + (": silent" if np.isnan(values).all() else ""))
        style.caption(ax, [notes.removesuffix(".")])
        figure.savefig(stream, format="png", dpi=100)
    stream.seek(0)
    small = io.BytesIO()
    with Image.open(stream) as picture:
        picture.convert("RGB").quantize(96, dither=Image.Dither.NONE).save(
            small, format="png", optimize=True
        )
    return small.getvalue()


def _colours(count: int) -> str:
    """Rules for the builds' colours and dashes, on light paper, on dark, and in print."""
    rules = []
    for i, (colour, dash) in enumerate(style.BUILD_STYLES[:count]):
        # Dashes are written in line widths, as matplotlib takes them.
        pattern = "none" if isinstance(dash, str) else " ".join(f"{2 * x:g}" for x in dash[1])
        rules.append(f".c{i} {{ stroke: {colour}; stroke-dasharray: {pattern}; }}")
    dark = [f".c{i} {{ stroke: {colour}; }}" for i, colour in enumerate(_ON_DARK[:count])]
    return "\n".join(
        ["", *rules, "@media screen and (prefers-color-scheme: dark) {", *dark, "}", ""]
    )
