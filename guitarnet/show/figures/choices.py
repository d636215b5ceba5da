"""Figures of choices: the front of treble and taper, measures of candidates, a match."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import BadSetting, a
from ...gate import public
from ...ranking import least
from ...study.choose.bleed_result import BleedChoices
from ...study.choose.goals import Goal
from ...study.choose.match import Matches
from ...study.choose.result import Choices
from ...units import format_value, plain_words, prefers_feet, sentence
from . import style
from .families import DEEPEST, assumed, curves_of, guitar_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_choices", "plot_front", "plot_match"]

_CURVES = 4  # of a match, besides the wanted curve


@public(choices=None)
def plot_front(choices: BleedChoices, ax: Axes | None = None, *, title: str | None = None) -> Axes:
    """Draw the treble and the taper of every candidate of a search.

    Parameters
    ----------
    choices : BleedChoices
        From `guitarnet.choose_treble_bleed`.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    title : str, optional
        Title of the figure.

    Returns
    -------
    matplotlib.axes.Axes
        The axes: a dot for each candidate, a larger one for the best of each form, a line along
        the front, and labels for the best and
        for those that always compete.

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
    if not isinstance(choices, BleedChoices):
        fix = "give what choose_treble_bleed(...) returned"
        raise BadSetting("plot_front", f"{a(type(choices))} is given", fix, choices)
    always = ("none", "wiring", "as it is", "own")
    named = [choice for choice in choices if choice is choices.best or choice.form in always]
    # The best of each form, so that none lies outside the picture.
    forms = [one for one in choices.searched if len(one.rows)]
    nearest = [tuple(one.rows[_nearest(one.rows), [1, 0]]) for one in forms]
    reach = [*((choice.taper, choice.treble) for choice in (*named, *choices.front)), *nearest]
    right, top = (1.12 * max(values) for values in zip(*reach, strict=True))
    with style.style():
        ax = style.one_axes(ax, (style.WIDTH, 4.8))
        ax.set_xlim(-0.02 * max(right, 0.5), max(right, 0.5))
        ax.set_ylim(0, 1.25 * top)
        # The form with the fewest candidates is drawn last, so that others do not hide it.
        looks = list(zip(forms, nearest, style.BUILD_STYLES, strict=False))
        looks.sort(key=lambda look: -len(look[0].values))
        for one, _, (colour, _) in looks:
            dots: dict[str, Any] = {"s": 5, "alpha": 0.35, "linewidths": 0, "rasterized": True}
            ax.scatter(one.rows[:, 1], one.rows[:, 0], color=colour, label=one.form, **dots)
        for size, (_, best, (colour, _)) in enumerate(reversed(looks)):
            # Of two at one place both are seen.
            dot: dict[str, Any] = {
                "markersize": 5.5 + 2 * size,
                "markeredgecolor": "white",
                "zorder": 4.9 - 0.1 * size,
            }
            ax.plot(*best, "o", color=colour, **dot)
        front = np.array([(c.taper, c.treble) for c in choices.front])
        ax.plot(*front.T, color="black", linewidth=1.1, marker="o", markersize=3.5, label="front")
        for choice in named:
            _name(ax, choice.network, choice.taper, choice.treble, best=choice is choices.best)
        ax.grid(True, color="#dddddd")
        ax.set_xlabel("taper: rms change of level [dB]")
        ax.set_ylabel("treble: rms deviation of shape [dB]")
        ax.set_title(title or f"Treble and taper kept: {choices.title}", pad=28)
        legend = ax.legend(
            loc="lower left", bbox_to_anchor=(0, 1), borderaxespad=0.2, ncols=5, markerscale=2.2,
            columnspacing=1.2, handletextpad=0.4, handlelength=1.4,
        )  # fmt: skip
        for handle in legend.legend_handles:
            if handle is not None:
                handle.set_alpha(1)
        notes = [
            choices.goal.description(choices.knob).rstrip("."),
            "large dots: the best of each form",
            *choices.remarks,
            choices.captions.get("assumptions", ""),
        ]
        style.caption(ax, notes, choices.captions.get("guitar", ""))
    return ax


def _nearest(rows: np.ndarray) -> int:
    """Which candidate keeps both best: the row of treble and taper nearest to none lost."""
    return int(least(np.hypot(rows[:, 0], rows[:, 1])))


def _name(ax: Axes, label: str, x: float, y: float, *, best: bool) -> None:
    """Mark and label a point, on the side with room."""
    from matplotlib import patheffects

    left = x < 0.6 * ax.get_xlim()[1]
    ax.plot(x, y, marker="D" if best else "s", color="black", markersize=6, zorder=5)
    ax.annotate(
        label,
        (x, y),
        xytext=(8 if left else -8, -14 if best else 5),  # under the front there are no dots
        textcoords="offset points",
        ha="left" if left else "right",
        fontsize=9,
        fontweight="bold" if best else "normal",
        path_effects=[patheffects.withStroke(linewidth=2.6, foreground="white")],
        zorder=6,
    )


@public(choices=None)
def plot_choices(
    choices: Choices, ax: Axes | None = None, *, goal: int = 0, title: str | None = None
) -> Axes:
    """Draw a goal's measure against one kind of candidate, with the goal shaded.

    Parameters
    ----------
    choices : Choices
        From `guitarnet.choosing.choose`, with one kind of candidate.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    goal : int
        Which goal, from 0.
    title : str, optional
        Title of the figure.

    Returns
    -------
    matplotlib.axes.Axes
        The axes: a line for each condition, with marks at the best value and at other values of a
        range that reach every goal.

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
    if not isinstance(choices, Choices):
        fix = "give what choose(...) returned"
        raise BadSetting("plot_choices", f"{a(type(choices))} is given", fix, choices)
    if goal not in range(len(choices.goals)):
        raise BadSetting("goal", f"there is no goal {goal}", f"give 0 to {len(choices.goals) - 1}")
    wanted, values = choices.goals[goal], choices.measured[goal]
    values = values.squeeze([dim for dim in values.dims if values.sizes[dim] == 1])
    names = [name for name in choices.best.values if name in values.dims]
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
    unit = values[name].attrs.get("units", "")
    # An axis of lengths has round numbers in the unit that is preferred.
    metres = 0.3048 if unit == "m" and prefers_feet() else 1.0
    x = values[name].values / metres if numeric else np.arange(len(labels))
    # The best, and other values of a range that reach the goals.
    marked = [
        choices.best,
        *(c for c in choices.met if c.how == "between" and c is not choices.best),
    ]
    with style.style():
        ax = style.one_axes(ax)
        for label, curve, look in curves_of(values, family):
            # No line between labels.
            given = look if numeric else {**look, "linestyle": "none"}
            size = 3.5 if numeric else 7
            ax.plot(x, curve.values, marker="o", markersize=size, label=label, **given)
        _scale(ax, np.append(values.values, [choice.reached[goal] for choice in marked]), wanted)
        if numeric:
            _value_axis(ax, x, name, unit)
        else:
            ax.set_xticks(x, labels)
            ax.set_xlim(-0.5, len(labels) - 0.5)
            ax.set_xlabel(plain_words(name))
        for choice in marked:
            value = choice.values[name]
            at = (value / metres if numeric else labels.index(value)), choice.reached[goal]
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
            ax, [f"shaded: {wanted}", *choices.remarks, *assumed(values)], guitar_of(values)
        )
    return ax


def _scale(ax: Axes, values: np.ndarray, wanted: Goal) -> None:
    """Show every value, with the goal shaded."""
    low, high = wanted.limits
    seen = [*values[np.isfinite(values)], *(v for v in (low, high) if np.isfinite(v))]
    room = 0.08 * (np.ptp(seen) or 1.0)
    bottom, top = min(seen) - room, max(seen) + room
    ax.set_ylim(bottom, top)
    ax.axhspan(max(low, bottom), min(high, top), color="#009E73", alpha=0.14, linewidth=0)
    ax.grid(True, color="#dddddd")


def _value_axis(ax: Axes, x: np.ndarray, name: str, unit: str) -> None:
    """Draw an axis of values, logarithmic if they span a wide range."""
    from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullLocator

    if x.min() > 0 and x.max() / x.min() > 20:
        room = (x.max() / x.min()) ** 0.05
        ax.set_xlim(x.min() / room, x.max() * room)  # all values may be outside the axes
        ax.set_xscale("log")
        ax.xaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
        ax.xaxis.set_minor_locator(NullLocator())
    else:
        ax.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 5, 10]))
    plain = unit in ("m", "mark", "1", "")
    ax.xaxis.set_major_formatter(
        FuncFormatter(lambda v, _: f"{v:g}" if plain else format_value(v, unit, digits=3))
    )
    ax.set_xlabel(
        f"{plain_words(name)} [{'ft' if prefers_feet() else 'm'}]"
        if unit == "m"
        else plain_words(name)
    )


@public(matches=None)
def plot_match(
    matches: Matches,
    ax: np.ndarray | None = None,
    *,
    title: str | None = None,
    view: tuple[float, float] = style.VIEW,
) -> np.ndarray:
    """Draw the wanted curve, the best loads and no load, and the differences below.

    Parameters
    ----------
    matches : Matches
        From `guitarnet.choosing.match_response`.
    ax : array of matplotlib.axes.Axes, optional
        Axes to draw on: two rows; a new figure by default.
    title : str, optional
        Title of the figure.
    view : pair of float
        Frequencies shown [Hz].

    Returns
    -------
    numpy.ndarray of matplotlib.axes.Axes
        Two: levels, and each match minus the wanted curve.

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
    if not isinstance(matches, Matches):
        fix = "give what match_response(...) returned"
        raise BadSetting("plot_match", f"{a(type(matches))} is given", fix, matches)
    shown = list(matches.matches[:_CURVES])
    # Without a load; of several guitars, the best one.
    plain = next(match for match in matches.matches if match.part is None)
    shown += [] if plain in shown else [plain]
    indices = [1 + matches.matches.index(match) for match in shown]
    f = matches.levels["frequency"].values
    with style.style():
        if ax is None:
            ratios = {"height_ratios": (3, 1)}
            _, ax = style.new_axes(2, 1, size=(style.WIDTH, 5.4), sharex="col", gridspec_kw=ratios)
        above, below = style.given_axes(ax, (2, 1), "plot_match")[:, 0]
        wanted = matches.levels.values[0]
        above.plot(f, wanted, color="black", linewidth=4, alpha=0.3, label="wanted")
        for index, match, (colour, dash) in zip(indices, shown, style.BUILD_STYLES, strict=False):
            curve = matches.levels.values[index]
            label = f"{matches.levels['curve'].values[index]}, rms {match.rms:.2f} dB"
            above.plot(f, curve, color=colour, linestyle=dash, label=label)
            below.plot(f, curve - wanted, color=colour, linestyle=dash, linewidth=1.1)
        levels = matches.levels.values[[0, *indices]]
        for axes in (above, below):
            style.frequency_axis(axes, (max(view[0], f[0]), min(view[1], f[-1])))
        name = f"{matches.levels.attrs['long_name']} [dB]"
        style.decibel_axis(above, [levels], name, deepest=DEEPEST)
        style.decibel_axis(below, [levels[1:] - wanted], "minus\nwanted [dB]", deepest=DEEPEST)
        above.set_xlabel("")
        above.legend(loc="lower left", handlelength=3)
        above.set_title(title or f"Loads that match {matches.name}")
        style.caption(below, assumed(matches.levels), guitar_of(matches.levels), first=above)
    return np.array([above, below])
