"""The still picture of a live page, and the colours that the page shares with it."""

from __future__ import annotations

import io
import textwrap
import warnings
from typing import Any

import numpy as np

from ..figures import style
from ..figures.picture import picture

__all__ = ["MOST_CURVES", "colours", "still"]

MOST_CURVES = len(style.BUILD_STYLES)

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
    """Draw levels [dB], NaN where silent, over frequency [Hz]: a small PNG."""
    from matplotlib.figure import Figure
    from PIL import Image  # matplotlib needs it as well

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
        drawn = picture(figure)
    small = io.BytesIO()
    with Image.open(io.BytesIO(drawn)) as image:
        image.convert("RGB").quantize(96, dither=Image.Dither.NONE).save(
            small, format="png", optimize=True
        )
    return small.getvalue()


def colours(count: int) -> str:
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
