"""A figure of all pickups of one sort over time."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import BadSetting
from ...gate import public
from ...study.record.pickups import History
from ...units import Quantity, format_value
from . import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot_history"]

_LIMIT = Quantity("ohm", above=0, hint="or leave the limits out")


@public
def plot_history(
    of: History,
    ax: Axes | None = None,
    *,
    limits: tuple[float | str, float | str] | None = None,
    title: str | None = None,
) -> Axes:
    """Draw what pickups of one sort read, by the day of their first reading.

    Parameters
    ----------
    of : History
        From `guitarnet.records.history`.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; a new figure by default.
    limits : pair of float or str, optional
        Your own limits at 20 °C [ohm], as ("7.0k", "7.3k"), drawn dashed.
    title : str, optional
        Title of the figure.

    Returns
    -------
    matplotlib.axes.Axes
        The axes.

    Raises
    ------
    BadSetting, BadValue
        If the limits are no two resistances, the lower one first.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from guitarnet.records import Record, history
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Record(pathlib.Path(folder, "bench.record"), begin=True) as record:
    ...         record.add("N-12", "pickup", sort="single coil")
    ...         _ = record.write("N-12", readings="7.15k", at="20 C")
    ...         plot_history(history(record, "single coil"), limits=("7k", "7.3k")).get_ylabel()
    'resistance at 20 °C [kΩ]'
    """
    drawn = _limits(limits)
    with style.style():
        ax = style.one_axes(ax)
        days = [datetime.date.fromisoformat(one.date) for one in of.entries]
        kilohms = of.ohms / 1e3
        outside = [any(_outside(ohms, drawn)) for ohms in of.ohms]
        colour, red = style.BUILD_STYLES[0][0], style.BUILD_STYLES[1][0]
        dates: Any = np.array(days, dtype="datetime64[D]")
        inside = ~np.array(outside)
        ax.plot(dates[inside], kilohms[inside], "o", color=colour)
        ax.plot(dates[~inside], kilohms[~inside], "X", color=red, markersize=8)
        median = float(np.median(of.ohms))
        lines: list[tuple[str, float, Any]] = [
            (f"median {format_value(median, 'ohm', digits=3)}", median, "-")
        ]
        for side, ohms in zip(("from", "to"), drawn, strict=False):
            lines.append((f"{side} {format_value(ohms, 'ohm', digits=3)}", ohms, (0, (4, 3))))
        for words, ohms, dash in lines:
            ax.axhline(ohms / 1e3, color=style.GREY, linestyle=dash, linewidth=0.9, zorder=0)
            ax.annotate(
                words,
                (1, ohms / 1e3),
                xycoords=("axes fraction", "data"),
                xytext=(4, 0),
                textcoords="offset points",
                va="center",
                annotation_clip=False,
            )
        ax.margins(0.08, 0.15)
        ax.set_ylabel("resistance at 20 °C [kΩ]")
        _days(ax)
        ax.set_title(title or f"{of.sort}: {len(of.entries)} pickups")
        style.caption(ax, [_said(sum(outside), drawn)])
    return ax


def _limits(given: Any) -> tuple[float, ...]:
    if given is None:
        return ()
    read = tuple(_LIMIT.read(one, "limits") or 0.0 for one in given)
    if len(read) != 2 or not read[0] < read[1]:
        raise BadSetting("limits", f"{given!r} is no range", "give ('7.0k', '7.3k')", given)
    return read


def _outside(ohms: float, limits: tuple[float, ...]) -> tuple[bool, ...]:
    return (ohms < limits[0], ohms > limits[1]) if limits else ()


def _said(outside: int, limits: tuple[float, ...]) -> str:
    first = "first reading of each pickup, brought to 20 °C by 0.393 % a kelvin"
    return f"{first}; {outside} outside the limits, crossed" if limits else first


def _days(ax: Axes) -> None:
    """Write days as people do, without the axis' own offset."""
    from matplotlib.dates import AutoDateLocator, DateFormatter

    locator = AutoDateLocator(minticks=2, maxticks=6)
    ax.xaxis.set_major_locator(locator)
    ax.xaxis.set_major_formatter(DateFormatter("%Y-%m-%d"))
    ax.set_xlabel("day of the first reading")
