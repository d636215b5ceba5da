"""A figure as the bytes of a picture file."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["picture"]


def picture(drawn: Figure | Axes | np.ndarray, ending: str = "png", **how: Any) -> bytes:
    """Write a figure as a picture, and close it.

    The bytes exist before any file does, so that several pictures can be written together or,
    where one fails, not at all.

    Parameters
    ----------
    drawn : matplotlib figure, axes, or array of axes
        What to write: the figure, or axes in it.
    ending : str
        The form, such as "png" or "svg".
    **how
        As in ``Figure.savefig``, such as ``dpi``.

    Returns
    -------
    bytes
        The file's content; the same figure gives the same.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts, plot_response, response
    >>> ax = plot_response(response(layouts.pickup_alone(Pickup("6.2k", "2.4 H", "120p"))))
    >>> picture(ax)[1:4]
    b'PNG'
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure
    from matplotlib.pyplot import close

    figure = drawn if isinstance(drawn, Figure) else np.ravel(np.asarray(drawn))[0].figure
    stream = io.BytesIO()
    if ending == "svg":
        how = {"metadata": {"Date": None}, **how}
    with rc_context({"svg.hashsalt": "guitarnet"}):  # ids that do not change from run to run
        figure.savefig(stream, format=ending, **how)
    close(figure)
    return stream.getvalue()
