"""Families of curves for several figures: lines, labels, panels, silence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, plain
from ...ranking import CLOSE, at_most
from ...study.explain.sentences import NOTHING
from ...study.response.arrays import above_zero, read_response
from ...units import as_preferred, plain_words, sentence
from . import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

__all__ = [
    "DEEPEST",
    "assumed",
    "at_most_one_family",
    "audible",
    "curves_of",
    "draw_family",
    "guitar_of",
    "label_family",
    "one_family",
    "panels",
    "title_of",
    "write",
    "write_silent",
    "y_label",
]

DEEPEST = 60.0
"""Decibels below the loudest point; deeper curves leave the picture."""
_SHORT = 22  # letters; a longer name would leave no room for the curves


def panels(
    h: xr.DataArray,
    levels: xr.DataArray,
    marks: Sequence[float],
    knob: str,
    title: str,
    view: tuple[float, float],
    *,
    skip: bool = False,
) -> np.ndarray:
    """Draw a panel for each mark, with one level axis; names stand at the curves.

    With ``skip`` a panel whose curves all lie at 0 dB is left out, and the caption says so.
    """
    h, levels = above_zero(h), above_zero(levels)
    if knob not in h.dims or h[knob].dtype.kind not in "iuf":
        raise BadSetting("figure", f"{knob!r} was not swept", f"give {knob}=[10, 5]")
    swept = h[knob].values
    # Index of each mark, in any order of the sweep.
    present = {
        mark: int(np.isclose(swept, mark).argmax())
        for mark in marks
        if np.isclose(swept, mark).any()
    }
    if not present:
        raise BadSetting("marks", f"none of {list(marks)} was swept", f"add one to {knob}")
    levels, family = one_family(levels, knob)
    f = h["frequency"].values
    inside = np.flatnonzero((f >= view[0] * (1 - CLOSE)) & (f <= view[1] * (1 + CLOSE)))
    levels, notes = levels.isel(frequency=inside), [str(levels.attrs["long_name"])]
    if skip:
        flat = [mark for mark in present if _flat(levels.isel({knob: present[mark]}).values)]
        notes += [
            f"{plain_words(knob)} {mark:g}: all curves within {NOTHING:g} dB of 0" for mark in flat
        ]
        # One panel stays, whatever it shows.
        present = {m: i for m, i in present.items() if m not in flat} or dict(
            [[*present.items()][-1]]
        )
    seen = levels.isel({knob: [*present.values()]})
    with style.style():
        figure, axes = style.new_panels(len(present))
        drawn = []
        for index, (ax, mark) in enumerate(zip(axes, present, strict=True)):
            levels_at_mark = seen.isel({knob: index})
            lines, labels, silent = draw_curves(ax, levels_at_mark, family)
            style.frequency_axis(ax, view)
            if index < len(axes) - 2:
                ax.set_xlabel("")
            ax.set_title(f"{plain_words(knob)} {mark:g}", fontweight="normal", fontsize=10, pad=4)
            write_silent(ax, silent)
            write_if_same(ax, lines)
            drawn.append((lines, labels))
        style.decibel_axis(axes[0], [seen.values], y_label(levels), deepest=DEEPEST)
        for ax in axes[1:]:
            style.stress_zero(ax)
        for index, (ax, (lines, labels)) in enumerate(zip(axes, drawn, strict=True)):
            if index % 2 == 0:
                ax.set_ylabel(y_label(levels))
            last = index % 2 or index == len(axes) - 1
            if last and len(lines) > 1:  # the panel on its left has the same colours
                style.label_lines(ax, lines, labels, at="right")
                for text in ax.texts if index % 2 == 0 and index else ():
                    text.set_in_layout(False)  # beside a lonely panel there is room
        figure.suptitle(title, x=0.01, ha="left", fontweight="bold", fontsize=12)
        style.figure_caption(figure, [*notes, *assumed(h)], guitar_of(h))
    return axes


def _flat(values: np.ndarray) -> bool:
    """Whether nothing is to be seen: all levels at 0 dB."""
    return bool((np.abs(values) < NOTHING).all())


def draw_family(ax: Axes, levels: xr.DataArray, view: tuple[float, float]) -> None:
    """Draw one family on its own axes."""
    family = [str(dim) for dim in levels.dims if dim != "frequency"]
    f = levels["frequency"].values
    inside = levels.isel(frequency=np.flatnonzero((f >= view[0]) & (f <= view[1])))
    lines, labels, silent = draw_curves(ax, levels, family)
    style.frequency_axis(ax, view)
    style.decibel_axis(ax, [inside.values], y_label(levels), deepest=DEEPEST)
    if not family:
        return
    label_family(ax, levels, lines, labels, view, loc="lower left")
    name = levels[family[0]].attrs.get("long_name", family[0])
    write_silent(ax, [f"{name} {label}" for label in silent])


def label_family(
    ax: Axes,
    levels: xr.DataArray,
    lines: Sequence[Line2D],
    labels: Sequence[str],
    view: tuple[float, float],
    *,
    loc: Any,
) -> None:
    """Label the lines of a family: numbers on the lines, names at their ends.

    Long names, and those of axes beside others, stand in a legend at ``loc``.
    """
    family = [str(dim) for dim in levels.dims if dim != "frequency"]
    if not family or not lines:
        return
    if levels[family[0]].dtype.kind not in "fiu":
        alone = ax.figure.axes == [ax] and ax.figure.get_layout_engine() is not None
        if alone and len(lines) > 1 and max(map(len, labels)) <= _SHORT:
            style.label_lines(ax, lines, labels, at="right")
        else:
            ax.legend(list(lines), list(labels), loc=loc, handlelength=3)
        return
    # On the side where the curves are further apart.
    f = levels["frequency"].values
    first = np.minimum(np.searchsorted(f, view[0] * (1 - CLOSE)), f.size - 1)
    last = np.searchsorted(f, view[1] * (1 + CLOSE), "right") - 1
    scale = np.log10 if ax.get_yscale() == "log" else np.asarray
    with np.errstate(all="ignore"):  # a curve may lie at infinity
        left, right = (
            np.ptp(scale([np.asarray(line.get_ydata())[i] for line in lines]))
            for i in (first, last)
        )
    style.label_lines(ax, lines, labels, at="right" if at_most(left, 0.5 * right) else "left")


def draw_curves(
    ax: Axes, levels: xr.DataArray, family: Sequence[str]
) -> tuple[list[Line2D], list[str], list[str]]:
    """Draw a family; return lines, their labels, and the labels of silent curves."""
    lines, labels, silent = [], [], []
    f = levels["frequency"].values
    for label, curve, look in curves_of(levels, family):
        if np.isneginf(curve.values).all():
            silent.append(label)
            continue
        lines.append(ax.plot(f, audible(curve), **look)[0])
        labels.append(label)
    return lines, labels, silent


def audible(curve: xr.DataArray) -> np.ndarray:
    """Give levels as they are drawn: no line where a curve is silent."""
    return np.where(np.isneginf(curve.values), np.nan, curve.values)


def y_label(levels: xr.DataArray) -> str:
    """Label of the level axis."""
    return f"{levels.attrs.get('long_name', 'level').split(',')[0]} [dB]"


def write_silent(ax: Axes, labels: Sequence[str]) -> None:
    """Write the labels of silent curves."""
    if labels:
        write(ax, f"{', '.join(labels)}: silent")


def write(ax: Axes, text: str) -> None:
    """Write a remark in the lower right corner."""
    ax.text(0.98, 0.03, text, transform=ax.transAxes, ha="right", fontsize=9, color=style.GREY)


def write_if_same(ax: Axes, lines: Sequence[Line2D]) -> None:
    """Write a remark if the last line hides all others."""
    if len(lines) > 1:
        apart = np.ptp([np.asarray(line.get_ydata(), float) for line in lines], axis=0).max()
        if apart < NOTHING:
            text = f"{len(lines)} curves within {NOTHING:g} dB"
            ax.text(0.04, 0.03, text, transform=ax.transAxes, fontsize=8, color=style.GREY)


def curves_of(
    levels: xr.DataArray, family: Sequence[str]
) -> list[tuple[str, xr.DataArray, dict[str, Any]]]:
    """Label, values and line style of every curve of a family."""
    if not family:
        colour, _ = style.BUILD_STYLES[0]
        return [("", levels, {"color": colour})]
    dim = family[0]
    values = levels[dim].values if dim in levels.coords else np.arange(levels.sizes[dim])
    unit = levels[dim].attrs.get("units", "") if dim in levels.coords else ""
    written = f"{dim}_written"
    names = levels[written].values if written in levels.coords else values
    labels = [
        style.shown(as_preferred(name, value, unit) if isinstance(name, str) else name.item(), unit)
        for name, value in zip(names, values, strict=True)
    ]
    if values.dtype.kind in "fiu":
        looks = [{"color": colour} for colour in style.knob_colours(values.astype(float))]
    else:
        if len(values) > len(style.BUILD_STYLES):
            raise BadSetting(
                dim,
                f"{len(values)} curves cannot be told apart",
                f"choose up to {len(style.BUILD_STYLES)} with h.sel({{{dim!r}: [...]}})",
            )
        looks = [{"color": c, "linestyle": d} for c, d in style.BUILD_STYLES[: len(values)]]
    return [
        (label, levels.isel({dim: i}), look)
        for i, (label, look) in enumerate(zip(labels, looks, strict=True))
    ]


def at_most_one_family(h: xr.DataArray) -> xr.DataArray:
    """Drop dimensions of one value; refuse more than one other."""
    if not isinstance(h, xr.DataArray) or "frequency" not in h.dims:
        raise BadSetting(
            "figure", "needs a response over frequency", "give what response() returns"
        )
    return one_family(above_zero(read_response(h)))[0]


def one_family(h: xr.DataArray, *axes: str, given: str = "h") -> tuple[xr.DataArray, list[str]]:
    """Drop dimensions of one value, and name the one that is left, if any, besides the axes."""
    others = [str(dim) for dim in h.dims if dim not in ("frequency", *axes)]
    family = [dim for dim in others if h.sizes[dim] != 1]
    if len(family) > 1:
        raise BadSetting(
            "figure",
            f"{given} varies over {', '.join(family)}",
            f"choose one of each but one, as {given}.sel({{{family[-1]!r}: ...}})",
        )
    return h.squeeze([dim for dim in others if dim not in family]), family


def title_of(levels: xr.DataArray) -> str:
    """Title of a family."""
    family = [str(dim) for dim in levels.dims if dim != "frequency"]
    title = sentence(levels.attrs.get("long_name", "curves"))
    return (
        f"{title}, for each {levels[family[0]].attrs.get('long_name', family[0])}"
        if family
        else title
    )


def guitar_of(h: xr.DataArray) -> str:
    """Parts that all curves share, as text."""
    return plain(h.attrs.get("guitar", ""))


def assumed(h: xr.DataArray) -> list[str]:
    """Assumptions of a response, as a list."""
    return [one for one in str(h.attrs.get("assumptions", "")).split("; ") if one]
