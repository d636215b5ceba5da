"""The page of the knob view: levels packed beforehand, and its still picture."""

from __future__ import annotations

import base64
import html
from typing import Any

import numpy as np

from ...gate import public
from ...table import Table
from .carrier import Carrier, still

__all__ = ["KnobView", "pack", "unpack"]

STEP = 0.01
"""Rounding of the levels [dB]; steps of 0.1 dB can be seen."""
_SILENT = -32768


@public
class KnobView(Carrier):
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

    scripts = ("elements.js", "view.js", "knob_view.js")
    sheets = ("view.css", "knob_view.css")
    template = "knob_view.html"

    def __repr__(self) -> str:
        marks = self._data["marks"]
        return (
            f"KnobView({len(self._data['labels'])} x {self._data['knob']} "
            f"{marks[0]:g} to {marks[-1]:g}, opens at {marks[self._data['mark']]:g})"
        )

    def _name(self) -> str:
        return self._title or f"What the {self._data['knob']} knob does"

    def _stands(self) -> str:
        return f"{self._data['knob']} {self._data['marks'][self._data['mark']]:g}"

    def _fields(self) -> dict[str, str]:
        return {"knob": html.escape(self._data["knob"])}

    def _numbers(self) -> Table:
        columns = [
            self._data["choice"],
            *(f"{c['group']}: {c['name']}" for c in self._data["columns"]),
        ]
        rows = zip(self._data["labels"], self._data["cells"], strict=True)
        mark = self._data["mark"]
        return Table(columns, [(label, *cells[mark]) for label, cells in rows])

    def _still(self, title: str, notes: str) -> bytes:
        data = self._data
        mark, mode = data["mark"], data["modes"][data["mode"]]
        levels = unpack(data)
        own = levels[:, mark]
        if mode["name"] == "reference":
            own = own - np.array([row[mark] for row in data["reference"]], dtype=float)[:, None]
        elif mode["name"] == "mark":
            own = own - levels[:, data["marks"].index(10.0)]
        return still(
            data["frequency"],
            tuple(data["limits"]),
            own,
            data["labels"],
            axis=mode["axis"],
            heading=self._stands(),
            title=title,
            notes=notes,
        )


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
