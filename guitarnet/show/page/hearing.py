"""Parts of a page that play a plucked string through each curve."""

from __future__ import annotations

from typing import Any

from ...study.string.string import string_spectrum
from .html_view import asset, inert

__all__ = ["PLUCKED", "hearing_parts", "script_of"]

_STRING = {
    "pickup": 0.06,
    "distance": 0.13,
    "scale": 0.648,
    "fade": 6.0,
    "treble_fade": 0.8,
    "stiffness": 3e-5,
    "level": 0.1,
    "apart": 0.0,
    "duration": 3.0,
}
_E_MAJOR = ["E2", "B2", "E3", "G#3", "B3", "E4"]
_A_MINOR = ["A2", "E3", "A3", "C4", "E4"]
_PHRASE = ["G2", "D3", "B3", "G3", "D4", "B3", "G3", "D3"]
PLUCKED: dict[str, dict[str, Any]] = {
    "low E string": {**_STRING, "string": ["E2"]},
    "high E string": {**_STRING, "string": ["E4"]},
    "chord of E major": {**_STRING, "string": _E_MAJOR, "apart": 0.035},
    "chord of A minor": {**_STRING, "string": _A_MINOR, "apart": 0.035},
    "phrase, strings in open G": {**_STRING, "string": _PHRASE, "apart": 0.3, "duration": 4.0},
}
"""Sounds that the page makes itself, as arguments of `guitarnet.strings.pluck`."""


def hearing_parts() -> dict[str, str]:
    """Return the "js" that defines ``makeHearing(mount, source)``, and its "css".

    It needs ``elements.js`` and the colours of ``view.css``.
    """
    notes = sorted({note for how in PLUCKED.values() for note in how["string"]})
    spectrum = string_spectrum(_STRING["pickup"], string=notes, harmonics=1)
    hertz = dict(zip(notes, spectrum["frequency"].values.ravel().tolist(), strict=True))
    made = inert(
        [
            {**how, "name": name, "string": [hertz[note] for note in how["string"]]}
            for name, how in PLUCKED.items()
        ]
    )
    caption = inert(
        f"The string is computed, plucked {_STRING['distance'] * 1e3:g} mm and sensed "
        f"{_STRING['pickup'] * 1e3:g} mm from the bridge; nothing is recorded."
    )
    head = f"const PLUCKED = {made};\nconst WORDS = {caption};\n"
    return {"js": script_of("makeHearing", "hearing.js", head), "css": asset("hearing.css")}


def script_of(function: str, name: str, head: str = "") -> str:
    """Give a script that defines one function, with what players of sound share within it.

    It needs ``elements.js`` before it.
    """
    body = head + asset("sound_panel.js") + asset(name)
    return f"const {function} = (() => {{\n{body}return {function};\n}})();\n"
