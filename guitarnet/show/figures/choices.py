"""Figures of choices: the front between two aims, measures of candidates, a match."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import BadSetting, a
from ...gate import public
from ...study.choose.bleed_result import BleedChoices
from ...study.choose.goals import Goal
from ...study.choose.match import Matches
from ...study.choose.result import Choices
from ...units import format_value, plain_words
from . import style
from .families import DEEPEST, assumed, curves_of, guitar_of, sentence

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_choices", "plot_front", "plot_match"]

_CURVES = 4  # of a match, besides what is wanted


@public(found=None)
def plot_front(found: BleedChoices, ax: Axes | None = None, *, title: str | None = None) -> Axes:
    """Draw every candidate of a search between its two aims: treble kept and taper kept.

    Parameters
    ----------
    found : BleedChoices
        From `guitarnet.choose_treble_bleed`.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure unless given.
    title : str, optional
        What one sees.

    Returns
    -------
    matplotlib.axes.Axes
        The axes: a dot for each network tried, a line along the front, the best and what always
        competes named.

    Raises
    ------
    BadSetting
        If it is not what `guitarnet.choose_treble_bleed` returned.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.study.choose.bleed import choose_treble_bleed
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> plot_front(choose_treble_bleed(guitar, series="E3")).get_xlabel()
    'taper: rms change of level [dB]'
    """
    if not isinstance(found, BleedChoices):
        fix = "give what choose_treble_bleed(...) returned"
        raise BadSetting("plot_front", f"{a(type(found))} is given", fix, found)
    always = ("none", "wiring", "as it is", "own")
    named = [choice for choice in found if choice is found.best or choice.form in always]
    reach = [(choice.taper, choice.treble) for choice in (*named, *found.front)]
    right, top = (1.12 * max(values) for values in zip(*reach, strict=True))
    with style.style():
        if ax is None:
            _, grid = style.new_axes()
            ax = grid[0, 0]
        ax.set_xlim(-0.02 * max(right, 0.5), max(right, 0.5))
        ax.set_ylim(0, 1.25 * top)
        # The form of fewest candidates last, or others would hide it.
        looks = list(zip(found.searched, style.BUILD_STYLES, strict=False))
        for one, (colour, _) in sorted(looks, key=lambda look: -len(look[0].values)):
            dots: dict[str, Any] = {"s": 5, "alpha": 0.35, "linewidths": 0, "rasterized": True}
            ax.scatter(one.rows[:, 1], one.rows[:, 0], color=colour, label=one.form, **dots)
        front = np.array([(c.taper, c.treble) for c in found.front])
        ax.plot(*front.T, color="black", linewidth=1.1, marker="o", markersize=3.5, label="front")
        for choice in named:
            _name(ax, choice.network, choice.taper, choice.treble, best=choice is found.best)
        ax.grid(True, color="#dddddd")
        ax.set_xlabel("taper: rms change of level [dB]")
        ax.set_ylabel("treble: rms deviation of shape [dB]")
        ax.set_title(title or f"Treble and taper kept: {found.title}")
        legend = ax.legend(loc="upper right", markerscale=2.2, frameon=True, framealpha=0.9)
        for handle in legend.legend_handles:
            if handle is not None:
                handle.set_alpha(1)
        words = [
            found.goal.description(found.knob).rstrip("."),
            *found.remarks,
            found.captions.get("assumptions", ""),
        ]
        style.caption(ax, words, found.captions.get("guitar", ""))
    return ax


def _name(ax: Axes, words: str, x: float, y: float, *, best: bool) -> None:
    """Mark and name a point, on the side where there is room."""
    from matplotlib import patheffects

    left = x < 0.6 * ax.get_xlim()[1]
    ax.plot(x, y, marker="D" if best else "s", color="black", markersize=6, zorder=5)
    ax.annotate(
        words,
        (x, y),
        xytext=(8 if left else -8, 5),
        textcoords="offset points",
        ha="left" if left else "right",
        fontsize=9,
        fontweight="bold" if best else "normal",
        path_effects=[patheffects.withStroke(linewidth=2.6, foreground="white")],
        zorder=6,
    )


@public(found=None)
def plot_choices(
    found: Choices, ax: Axes | None = None, *, goal: int = 0, title: str | None = None
) -> Axes:
    """Draw a goal's measure against one kind of candidate, with what is wanted shaded.

    Parameters
    ----------
    found : Choices
        From `guitarnet.choosing.choose`, with one kind of candidate of several values.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure unless given.
    goal : int
        Which goal, from 0.
    title : str, optional
        What one sees.

    Returns
    -------
    matplotlib.axes.Axes
        The axes: a line for each condition, the best marked, and other values of a range that
        reach every goal.

    Raises
    ------
    BadSetting
        If it is not what `guitarnet.choosing.choose` returned, or several kinds of candidate vary.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.study.choose.choose import choose
    >>> from guitarnet.study.choose.goals import Goal
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> goal = Goal("peak frequency", near="5 kHz")
    >>> plot_choices(choose(guitar, {"cable.length": ["1 m", "2 m"]}, goal)).get_xlabel()
    'cable length [m]'
    """
    if not isinstance(found, Choices):
        fix = "give what choose(...) returned"
        raise BadSetting("plot_choices", f"{a(type(found))} is given", fix, found)
    if goal not in range(len(found.goals)):
        raise BadSetting("goal", f"there is no goal {goal}", f"give 0 to {len(found.goals) - 1}")
    wanted, values = found.goals[goal], found.measured[goal]
    values = values.squeeze([dim for dim in values.dims if values.sizes[dim] == 1])
    names = [name for name in found.best.values if name in values.dims]
    family = [str(dim) for dim in values.dims if dim not in names]
    if len(names) != 1 or len(family) > 1:
        varying = ", ".join(map(str, values.dims)) or "nothing"
        raise BadSetting(
            "plot_choices",
            f"the measure varies over {varying}",
            "choose among one kind of candidate, under one kind of condition",
        )
    name = names[0]
    labels = [str(label) for label in values[name].values]
    numeric = values[name].dtype.kind in "fiu"
    x = values[name].values if numeric else np.arange(len(labels))
    # The best, and whatever else between the values of the grid reaches the goal as well.
    marked = [found.best, *(c for c in found.met if c.how == "between" and c is not found.best)]
    with style.style():
        if ax is None:
            _, grid = style.new_axes()
            ax = grid[0, 0]
        for label, curve, look in curves_of(values, family):
            # Between labels there is nothing, so no line.
            given = look if numeric else {**look, "linestyle": "none"}
            size = 3.5 if numeric else 7
            ax.plot(x, curve.values, marker="o", markersize=size, label=label, **given)
        _scale(ax, np.append(values.values, [choice.reached[goal] for choice in marked]), wanted)
        if numeric:
            _value_axis(ax, x, name, values[name].attrs.get("units", ""))
        else:
            ax.set_xticks(x, labels)
            ax.set_xlim(-0.5, len(labels) - 0.5)
            ax.set_xlabel(plain_words(name))
        for choice in marked:
            own = choice.values[name]
            at = (own if numeric else labels.index(own)), choice.reached[goal]
            if not np.isfinite(at[1]):
                continue
            ax.plot(*at, "D", color="black", markersize=7, zorder=5)
            ax.annotate(
                choice.written[name],
                at,
                xytext=(9, 7),
                textcoords="offset points",
                fontsize=9,
                fontweight="bold",
            )
        ax.set_ylabel(wanted.name if wanted.unit == "number" else f"{wanted.name} [{wanted.unit}]")
        ax.set_title(title or f"{sentence(wanted.name)} by {plain_words(name)}")
        if family:
            ax.legend(title=plain_words(family[0]), loc="best", handlelength=3, alignment="left")
        style.caption(
            ax, [f"shaded: {wanted}", *found.remarks, *assumed(values)], guitar_of(values)
        )
    return ax


def _scale(ax: Axes, values: np.ndarray, wanted: Goal) -> None:
    """Show every value and what is wanted, shaded."""
    low, high = wanted.limits
    seen = [*values[np.isfinite(values)], *(v for v in (low, high) if np.isfinite(v))]
    room = 0.08 * (np.ptp(seen) or 1.0)
    bottom, top = min(seen) - room, max(seen) + room
    ax.set_ylim(bottom, top)
    ax.axhspan(max(low, bottom), min(high, top), color="#009E73", alpha=0.14, linewidth=0)
    ax.grid(True, color="#dddddd")


def _value_axis(ax: Axes, x: np.ndarray, name: str, unit: str) -> None:
    """Draw an axis of values in a unit that suits them: logarithmic where they span much."""
    from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullLocator

    if x.min() > 0 and x.max() / x.min() > 20:
        room = (x.max() / x.min()) ** 0.05
        ax.set_xlim(x.min() / room, x.max() * room)  # told, since all values may lie off the axes
        ax.set_xscale("log")
        ax.xaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
        ax.xaxis.set_minor_locator(NullLocator())
    else:
        ax.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5, 10]))
    plain = unit in ("m", "mark", "1", "")
    ax.xaxis.set_major_formatter(
        FuncFormatter(lambda v, _: f"{v:g}" if plain else format_value(v, unit, digits=3))
    )
    ax.set_xlabel(f"{plain_words(name)} [m]" if unit == "m" else plain_words(name))


@public(found=None)
def plot_match(
    found: Matches,
    ax: np.ndarray | None = None,
    *,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw what was wanted, the best loads and none, and what is left between them below.

    Parameters
    ----------
    found : Matches
        From `guitarnet.choosing.match_response`.
    ax : array of matplotlib.axes.Axes, optional
        Where to draw: two rows; a new figure unless given.
    title : str, optional
        What one sees.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        Two: levels, and each match minus what is wanted.

    Raises
    ------
    BadSetting
        If it is not what `guitarnet.choosing.match_response` returned, or ``ax`` is another grid.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.study.choose.match import match_response
    >>> one = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> other = layouts.one_pickup(Pickup("8k", "4 H", "150p"))
    >>> plot_match(match_response(one, other, loads=["capacitor"])).shape
    (2,)
    """
    if not isinstance(found, Matches):
        fix = "give what match_response(...) returned"
        raise BadSetting("plot_match", f"{a(type(found))} is given", fix, found)
    shown = list(found.matches[:_CURVES])
    # As it is without a load: of several guitars, the one that is best without.
    plain = next(match for match in found.matches if match.part is None)
    shown += [] if plain in shown else [plain]
    places = [1 + found.matches.index(match) for match in shown]
    f = found.levels["frequency"].values
    with style.style():
        if ax is None:
            ratios = {"height_ratios": (3, 1)}
            _, ax = style.new_axes(2, 1, size=(7.6, 5.6), sharex="col", gridspec_kw=ratios)
        above, below = style.given_axes(ax, (2, 1), "plot_match")[:, 0]
        wanted = found.levels.values[0]
        above.plot(f, wanted, color="black", linewidth=4, alpha=0.3, label="wanted")
        for place, match, (colour, dash) in zip(places, shown, style.BUILD_STYLES, strict=False):
            curve = found.levels.values[place]
            label = f"{found.levels['curve'].values[place]}, rms {match.rms:.2f} dB"
            above.plot(f, curve, color=colour, linestyle=dash, label=label)
            below.plot(f, curve - wanted, color=colour, linestyle=dash, linewidth=1.1)
        levels = found.levels.values[[0, *places]]
        for axes in (above, below):
            style.frequency_axis(axes, (max(view[0], f[0]), min(view[1], f[-1])))
        name = f"{found.levels.attrs['long_name']} [dB]"
        style.decibel_axis(above, [levels], name, deepest=DEEPEST)
        style.decibel_axis(below, [levels[1:] - wanted], "minus\nwanted [dB]", deepest=DEEPEST)
        above.set_xlabel("")
        above.legend(loc="lower left", handlelength=3)
        above.set_title(title or f"Loads that match {found.name}")
        style.caption(below, assumed(found.levels), guitar_of(found.levels), first=above)
    return np.array([above, below])
