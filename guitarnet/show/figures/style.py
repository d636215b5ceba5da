"""The common style of all figures: style sheet, axes, colours, labels, captions."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import BadSetting, plain
from ...ranking import CLOSE, ranked
from ...study.response.labels import value_in_words
from ...units import Quantity, sentence, unbroken

if TYPE_CHECKING:
    from matplotlib import RcParams
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

__all__ = [
    "BUILD_STYLES",
    "GREY",
    "VIEW",
    "WIDTH",
    "caption",
    "decibel_axis",
    "figure_caption",
    "frequency_axis",
    "given_axes",
    "knob_colours",
    "label_lines",
    "map_steps",
    "new_axes",
    "new_panels",
    "one_axes",
    "shown",
    "spread",
    "stress_zero",
    "style",
]

VIEW = (50.0, 15e3)
"""Frequencies shown by default [Hz]."""
WIDTH = 6.69
"""Width of a figure [inch]: 170 mm, so that letters are read at their own size on a page."""
_VIEWED = Quantity("Hz", above=0, at_most=1e9)

# A colour-blind-safe set (Okabe and Ito, "Color Universal Design", 2008), each with its own dash,
# so that the lines differ in grey too.
BUILD_STYLES: tuple[tuple[str, Any], ...] = (
    ("#0072B2", "-"),
    ("#D55E00", (0, (5, 1.6))),
    ("#00795A", (0, (1.2, 1.4))),
    ("#A3478B", (0, (6, 1.5, 1.2, 1.5))),
    ("#8A6400", (0, (9, 2))),
    ("#2F86BF", (0, (3, 1.2, 1.2, 1.2, 1.2, 1.2))),
    ("#444444", (0, (2.4, 2.4))),
    ("#7A3E1D", (0, (1.2, 2.8))),
)
GREY = "#6b6b6b"
_LABEL = 48  # letters


@contextmanager
def style() -> Iterator[None]:
    """Apply the style sheet within a block, without a change of global state."""
    import matplotlib as mpl

    params = _sheet()
    # Not rc_context: a notebook's backend loads with the first figure, within the block, and its
    # settings (that figures show) must stay.
    before = {name: mpl.rcParams[name] for name in params}
    mpl.rcParams.update(params)
    try:
        yield
    finally:
        mpl.rcParams.update(before)


@cache
def _sheet() -> RcParams:
    """Read the style sheet, once."""
    from matplotlib import rc_params_from_file

    with as_file(files(__package__) / "guitarnet.mplstyle") as sheet:
        return rc_params_from_file(str(sheet), use_default_template=False)


def new_axes(
    rows: int = 1, columns: int = 1, *, size: tuple[float, float] | None = None, **kwargs: Any
) -> tuple[Figure, np.ndarray]:
    """Make a figure and a grid of axes."""
    import matplotlib.pyplot as plt

    figure, grid = plt.subplots(rows, columns, squeeze=False, figsize=size, **kwargs)
    _leave_out_spines(grid.flat)
    return figure, grid


def _leave_out_spines(axes: Iterable[Axes]) -> None:
    """Take spines out of the layout: they lie on the axes' edge, and cost all ticks to measure."""
    for ax in axes:
        for spine in ax.spines.values():
            spine.set_in_layout(False)


def one_axes(ax: Axes | None, size: tuple[float, float] | None = None) -> Axes:
    """Return given axes, or the axes of a new figure."""
    if ax is not None:
        return ax
    new: Axes = new_axes(size=size)[1][0, 0]
    return new


_AXES = "give Axes of matplotlib"


def given_axes(axes: Any, shape: tuple[int, int], where: str) -> np.ndarray:
    """Return given axes as a grid of rows and columns."""
    if not isinstance(axes, (np.ndarray, list, tuple)):
        axes = [axes]
    try:
        grid = np.asarray(axes, dtype=object)
    except (TypeError, ValueError):  # of things that are no Axes, and no array either
        raise BadSetting(where, "something else than Axes is given", _AXES) from None
    if grid.size != shape[0] * shape[1]:
        raise BadSetting(
            where,
            f"{grid.size} axes are given",
            f"give {shape[0]} rows and {shape[1]} column{'s' if shape[1] > 1 else ''} of them",
        )
    if not all(hasattr(ax, "set_xscale") for ax in grid.flat):
        raise BadSetting(where, "something else than Axes is given", _AXES)
    return grid.reshape(shape)


def new_panels(count: int) -> tuple[Figure, np.ndarray]:
    """Make panels with common axes, two in a row."""
    import matplotlib.pyplot as plt

    columns = min(count, 2)
    rows = -(-count // columns)
    figure = plt.figure(figsize=(WIDTH, 4.2 if rows == 1 else 2.3 * rows + 1.1))
    grid = figure.add_gridspec(rows, columns)
    axes: list[Axes] = []
    for index in range(count):
        ax = figure.add_subplot(grid[divmod(index, columns)], sharey=axes[0] if axes else None)
        if index % columns:
            ax.tick_params(left=False, labelleft=False)
            ax.yaxis.set_in_layout(False)
        axes.append(ax)
    _leave_out_spines(axes)
    return figure, np.array(axes)


def figure_caption(figure: Any, notes: Sequence[str], guitar: str = "") -> None:
    """Write assumptions and the guitar at the foot of a figure of several panels."""
    text = _caption(notes, guitar, figure.bbox.width / figure.dpi - 0.2)
    figure.supxlabel(text, x=0.01, ha="left", fontsize=8, color=GREY)


def _caption(notes: Sequence[str], guitar: str, inches: float) -> str:
    """Write sentences, each wrapped to a width."""
    sentences = ["; ".join(note for note in notes if note), guitar]
    letters = int(inches * 16)  # of 8 points
    return "\n".join(
        textwrap.fill(unbroken(f"{sentence(text)}."), letters) for text in sentences if text
    )


def map_steps(low: float, high: float) -> np.ndarray:
    """Contour levels in round decibels, with 0 dB in the middle of a step."""
    step = next(s for s in (0.2, 0.5, 1.0, 2.0, 4.0) if (high - low) / s <= 26 or s == 4.0)
    first, last = np.floor(low / step + CLOSE), np.ceil(high / step - CLOSE)
    return (np.arange(first, max(last, first + 1) + 1) - 0.5) * step


def map_ticks(steps: np.ndarray) -> np.ndarray:
    """Ticks at the middle of some steps, with 0 dB."""
    step = steps[1] - steps[0]
    middles = np.round((steps[:-1] + step / 2) / step)
    every = max(1, len(middles) // 10)
    return middles[middles % every == 0] * step


def stress_zero(ax: Axes) -> None:
    """Draw the 0 dB line a little stronger than the grid."""
    bottom, top = ax.get_ylim()
    if bottom <= 0 <= top:
        ax.axhline(0, color="#9a9a9a", linewidth=1.1, zorder=1)


def frequency_axis(ax: Axes, view: tuple[float, float] = VIEW, *, grid: bool = True) -> None:
    """Draw a logarithmic axis: 100, 1k, 10k strong, 2 and 5 small and grey."""
    from matplotlib.collections import LineCollection
    from matplotlib.ticker import FuncFormatter

    decades = [10.0**power for power in range(1, 6)]
    between = [digit * decade for decade in decades for digit in (2, 5)]
    low, high = (float(_VIEWED.read(limit, "view") or 0) for limit in view)
    if not low < high:
        raise BadSetting("view", f"{low:g} to {high:g} Hz is an empty range", "give low below high")
    ax.set_xscale("log")
    ax.set_xlim(low, high)
    # Ticks are most of what a figure costs: there is one only where a number stands.
    narrow = ax.get_window_extent().width * 72 / ax.figure.dpi < 70 * np.log10(high / low)
    ax.xaxis.set_major_locator(_in_sight(decades))
    ax.xaxis.set_minor_locator(_in_sight([] if narrow else between))
    for ticks in (ax.xaxis.set_major_formatter, ax.xaxis.set_minor_formatter):
        ticks(FuncFormatter(lambda f, _: _hertz(f)))
    ax.tick_params(axis="x", which="minor", labelsize=8, labelcolor=GREY, length=2.5)
    ax.set_xlabel("frequency [Hz]")
    ax.grid(False, axis="x", which="both")
    if grid:
        digits = [(digit, decade) for decade in decades for digit in range(1, 10)]
        lines = LineCollection(
            [[(digit * decade, 0), (digit * decade, 1)] for digit, decade in digits],
            transform=ax.get_xaxis_transform(),
            colors=["#c4c4c4" if digit == 1 else "#f0f0f0" for digit, _ in digits],
            linewidths=0.7,
            zorder=0.4,
        )
        lines.set_in_layout(False)
        ax.add_collection(lines, autolim=False)


def _in_sight(places: Sequence[float]) -> Any:
    """Locator of those ticks that are in view."""
    from matplotlib.ticker import FixedLocator

    class InSight(FixedLocator):
        def __call__(self) -> Any:
            low, high = sorted(self.axis.get_view_interval())  # type: ignore[union-attr]
            return [p for p in places if low * (1 - CLOSE) <= p <= high * (1 + CLOSE)]

    return InSight(places)


def _hertz(f: float) -> str:
    return f"{f / 1000:g}k" if f >= 1000 else f"{f:g}"


_LOUDEST = 1e6  # dB that an axis shows


def decibel_axis(ax: Axes, levels: Sequence[np.ndarray], label: str, *, deepest: float) -> None:
    """Draw a decibel axis around the finite levels, with a stronger 0 dB line."""
    from matplotlib.ticker import MultipleLocator

    finite = np.concatenate([np.ravel(level)[np.isfinite(np.ravel(level))] for level in levels])
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (-10.0, 10.0)
    high = np.clip(high, -_LOUDEST, _LOUDEST)
    low = np.clip(low, high - deepest, high)
    step = 10 if high - low > 24 else 5 if high - low > 11 else 2 if high - low > 4 else 1
    bottom = step * np.floor(low / step - 0.05)
    top = step * np.ceil(high / step + 0.05)
    if top - bottom < 2 * step:
        bottom, top = bottom - step, top + step
    ax.set_ylim(bottom, top)
    ax.yaxis.set_major_locator(MultipleLocator(step))
    stress_zero(ax)
    ax.set_ylabel(label)


def knob_colours(values: np.ndarray) -> list[Any]:
    """Colours from light to dark with the value, from a sequential colour-blind-safe map."""
    from matplotlib import colormaps

    share = (values - values.min()) / ((values.max() - values.min()) or 1.0)
    # The palest 40 % of the map would be invisible on white.
    return [colormaps["viridis"](0.62 * (1 - x)) for x in share]


def label_lines(ax: Axes, lines: Sequence[Line2D], labels: Sequence[str], *, at: str) -> None:
    """Write each line's label on it, in one column, apart from each other."""
    from matplotlib import patheffects

    share = 0.045 if at == "left" else 1.012
    points = ax.get_window_extent().height * 72 / ax.figure.dpi
    to_axes = ax.transScale + ax.transLimits  # shares of the axes, for any scale
    spots: list[tuple[float, Line2D, str]] = []
    for line, label in zip(lines, labels, strict=True):
        xy = np.column_stack([np.asarray(d, float) for d in line.get_data()])
        xs, ys = to_axes.transform(xy[np.isfinite(xy[:, 1])]).T
        if xs.size:
            spots.append((float(np.interp(min(share, 1.0), xs, ys)), line, label))
    spots = ranked(spots, lambda spot: spot[0])
    heights = spread([min(max(spot[0], 0.0), 1.0) for spot in spots], 10.5 / points, 0.0, 1.0)
    for height, (_, line, label) in zip(heights, spots, strict=True):
        ax.annotate(
            label,
            (share, height),
            xycoords="axes fraction",
            color=line.get_color(),
            fontsize=9,
            fontweight="bold",
            va="center",
            ha="left" if at == "right" else "center",
            path_effects=[patheffects.withStroke(linewidth=2.6, foreground="white")],
            zorder=6,
            annotation_clip=False,
        )


def spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move sorted positions apart, at least ``gap`` from each other, within limits."""
    moved = list(places)
    for _ in range(60):
        for i in range(len(moved) - 1):
            short = gap - (moved[i + 1] - moved[i])
            if short > 0:
                moved[i] -= short / 2
                moved[i + 1] += short / 2
        moved = [min(max(position, low), high) for position in moved]
    return moved


def caption(ax: Axes, notes: Sequence[str], guitar: str = "", *, first: Axes | None = None) -> None:
    """Write assumptions and the guitar under the axes; ``first`` is the first of several axes."""
    if ax.figure.axes[0] is (first or ax) and ax.figure.get_layout_engine() is not None:
        figure_caption(ax.figure, notes, guitar)  # the figure has no other axes
        return
    width = ax.get_window_extent().width / ax.figure.dpi
    ax.annotate(
        _caption(notes, guitar, width),
        (0, 0),
        xytext=(0, -38),
        xycoords="axes fraction",
        textcoords="offset points",
        fontsize=8,
        color=GREY,
        va="top",
        ha="left",
        annotation_clip=False,
    )


def shown(value: Any, unit: str) -> str:
    """Label of a coordinate's value."""
    if isinstance(value, str):
        label = plain(value)
        # A long label would leave no room for the curves.
        return label if len(label) <= _LABEL else f"{label[: _LABEL - 1]}\u2026"
    return value_in_words(value, unit)
