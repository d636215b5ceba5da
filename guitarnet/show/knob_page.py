"""The page of the knob view, its still picture, and what carries them.

One HTML page with its script and style inside; it needs no kernel, no network and no library.
"""

from __future__ import annotations

import base64
import hashlib
import html
import io
import json
import os
import warnings
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import Any

import numpy as np

from ..files import write_text
from ..table import Table
from . import style

__all__ = ["KnobView", "pack", "unpack"]

STEP = 0.01
"""Rounding of the levels [dB]; steps of 0.1 dB can be seen."""
_SILENT = -32768
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


class KnobView:
    """A live picture of a response against one knob, as `knob_view` makes it.

    A notebook shows it by itself: live where the notebook is trusted, else as a still picture.

    Parameters
    ----------
    data : dict
        What the page needs, see ``knob_view.js``.
    title : str
        Title of the page.
    notes : str
        What was assumed.
    """

    def __init__(self, data: dict[str, Any], title: str, notes: str) -> None:
        self._data = data
        self._title = title
        self._notes = notes

    def __repr__(self) -> str:
        marks = self._data["marks"]
        return (
            f"KnobView({len(self._data['labels'])} x {self._data['knob']} "
            f"{marks[0]:g} to {marks[-1]:g}, opens at {marks[self._data['mark']]:g})"
        )

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
        without_scripts = f"<noscript>\n{self._picture(bare=True)}\n{self._numbers()}\n</noscript>"
        return write_text(path, self._page(without_scripts))

    def _repr_html_(self) -> str:
        # Where a notebook is not trusted the frame is taken out and the picture stays; where it
        # is, the frame hides the picture as it loads.
        hide = "this.previousElementSibling.style.display='none'"
        page = html.escape(self._page(""), quote=True)
        return (
            f'<div>{self._picture()}<iframe title="{html.escape(self._name())}" srcdoc="{page}" '
            f'onload="{hide}" style="width:100%;height:700px;border:0"></iframe></div>'
        )

    def _name(self) -> str:
        return self._title or f"What the {self._data['knob']} knob does"

    def _page(self, still: str) -> str:
        script = _asset("knob_view.js")
        sheet = _asset("knob_view.css") + _colours(len(self._data["labels"]))
        # Nothing but this script may run, and nothing may be fetched.
        policy = (
            "default-src 'none'; img-src data:; base-uri 'none'; form-action 'none'; "
            f"style-src 'unsafe-inline'; script-src '{_digest(script)}'"
        )
        return Template(_asset("knob_view.html")).substitute(
            policy=policy,
            title=html.escape(self._name()),
            style=sheet,
            still=still,
            knob=html.escape(self._data["knob"]),
            notes=html.escape(self._notes),
            data=_inert(self._data),
            script=script,
        )

    def _picture(self, *, bare: bool = False) -> str:
        """Draw the still as an image; bare where title and notes stand around it already."""
        mark = self._data["marks"][self._data["mark"]]
        words = f"{self._name()}: {self._data['knob']} {mark:g}. {self._notes}"
        around = ("", "") if bare else (self._title, self._notes)
        image = base64.b64encode(_still(self._data, *around)).decode()
        return (
            f'<img class="still" alt="{html.escape(words)}" style="max-width:100%" '
            f'src="data:image/png;base64,{image}">'
        )

    def _numbers(self) -> str:
        """Write the table of the opening mark, for a reader without scripts."""
        columns = [
            self._data["choice"],
            *(f"{c['group']}: {c['name']}" for c in self._data["columns"]),
        ]
        rows = zip(self._data["labels"], self._data["cells"], strict=True)
        mark = self._data["mark"]
        return Table(columns, [(label, *cells[mark]) for label, cells in rows])._repr_html_()


def _still(data: dict[str, Any], title: str, notes: str) -> bytes:
    """PNG of the view as it opens."""
    from matplotlib.figure import Figure
    from PIL import Image  # matplotlib needs it as well

    mark, mode = data["mark"], data["modes"][data["mode"]]
    levels = unpack(data)
    own = levels[:, mark]
    if mode["name"] == "reference":
        own = own - np.array([row[mark] for row in data["reference"]], dtype=float)[:, None]
    elif mode["name"] == "mark":
        own = own - levels[:, data["marks"].index(10.0)]
    stream = io.BytesIO()
    with style.style(), warnings.catch_warnings():
        # A label may hold letters that the still's font lacks; the live page has the reader's.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        figure = Figure(figsize=(7.6, 4.6), layout="constrained")
        ax = figure.add_subplot()
        style.frequency_axis(ax, tuple(data["limits"]))
        style.decibel_axis(ax, [own], mode["axis"], deepest=60)
        # Labels are the user's words, never formulas to be set.
        ax.set_title(title, parse_math=False, wrap=True)
        for values, (colour, dash) in zip(own, style.BUILD_STYLES, strict=False):
            ax.plot(data["frequency"], values, color=colour, linestyle=dash)
        names = {
            "title": f"{data['knob']} {data['marks'][mark]:g}",
            "title_fontproperties": {"weight": "bold"},
            "alignment": "left",
        }
        # Matplotlib leaves out labels that begin with "_", so the words are put in afterwards.
        legend = ax.legend(
            ax.lines[-len(own) :], ["?"] * len(own), loc="lower left", handlelength=3.2, **names
        )
        for text, label, values in zip(legend.texts, data["labels"], own, strict=True):
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


def pack(levels: np.ndarray) -> str:
    """Pack levels [dB] as 16-bit steps, least byte first, in base64; silence has its own."""
    silent = np.isneginf(levels)
    # Below -327 dB only rounding errors live: held at the end of the 16 bits, far off the page.
    steps = np.clip(np.rint(np.where(silent, 0.0, levels) / STEP), _SILENT + 1, -_SILENT - 1)
    return base64.b64encode(np.where(silent, _SILENT, steps).astype("<i2").tobytes()).decode()


def unpack(data: dict[str, Any]) -> np.ndarray:
    """Levels [dB re 1 V/V] over builds, marks and frequencies; NaN where silent."""
    steps = np.frombuffer(base64.b64decode(data["levels"]), dtype="<i2")
    levels = np.where(steps == _SILENT, np.nan, steps * data["step"])
    return levels.reshape(len(data["labels"]), len(data["marks"]), len(data["frequency"]))


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


def _asset(name: str) -> str:
    return (files(__package__) / name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _inert(data: dict[str, Any]) -> str:
    """JSON that no HTML parser takes for anything else."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text
