"""What pages with a script of their own share: their files, and their two locks."""

from __future__ import annotations

import base64
import hashlib
import json
from importlib.resources import files
from typing import Any

import xarray as xr

from ...errors import plain
from ..figures.style import shown

__all__ = ["asset", "inert", "labels_of", "notes_of", "policy"]


def asset(name: str, room: str = __package__) -> str:
    """Text of a file beside the modules of a room (this one, unless said)."""
    return (files(room) / name).read_text(encoding="utf-8")


def policy(*scripts: str) -> str:
    """Policy of a page on which nothing but these scripts may run, and nothing may be fetched."""
    sources = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
        for text in scripts
    )
    return (
        "default-src 'none'; img-src data:; base-uri 'none'; form-action 'none'; "
        f"style-src 'unsafe-inline'; script-src {sources}"
    )


def inert(data: Any) -> str:
    """JSON that no HTML parser takes for anything else."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def labels_of(values: xr.DataArray, dim: str) -> list[str]:
    """Call each place along a dimension by what the user wrote, or the value with its unit."""
    coord = values[dim]
    written = f"{dim}_written"
    if written in values.coords:
        return [plain(value) for value in values[written].values]
    unit = str(coord.attrs.get("units", ""))
    before = f"{coord.attrs.get('long_name', dim)} " if unit == "mark" else ""
    return [plain(before + shown(value, unit)) for value in coord.values.tolist()]


def notes_of(h: xr.DataArray) -> str:
    """Say in sentences what was assumed and which settings stand still."""
    said = [
        plain(h.attrs[name]) for name in ("long_name", "assumptions", "guitar") if h.attrs.get(name)
    ]
    for name, coord in h.coords.items():
        if coord.ndim == 0 and name not in ("reference_frequency", "rate"):
            unit = str(coord.attrs.get("units", ""))
            words = f"{coord.attrs.get('long_name', name)} {shown(coord.item(), unit)}"
            if words not in str(h.attrs.get("guitar", "")).split("; "):  # set once, told there
                said.append(plain(words))
    sentences = [f"{text[:1].upper()}{text[1:]}." for text in said if text]
    return " ".join(sentences)
