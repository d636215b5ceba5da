"""A figure as the bytes of a picture file."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["embedded", "picture"]


def picture(
    drawn: Figure | Axes | np.ndarray,
    ending: Literal["png", "svg"] = "png",
    dpi: float | None = None,
) -> bytes:
    """Write a figure as a picture, and close it.

    The bytes exist before any file does, so that several pictures can be written together or,
    where one fails, not at all.

    Parameters
    ----------
    drawn : matplotlib figure, axes, or array of axes
        What to write: the figure, or axes in it.
    ending : {"png", "svg"}
        The form.
    dpi : float, optional
        Dots per inch; those of the figure unless given.

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
    from matplotlib.figure import Figure
    from matplotlib.pyplot import close

    figure = drawn if isinstance(drawn, Figure) else np.ravel(np.asarray(drawn))[0].figure
    if dpi is not None:
        figure.set_dpi(dpi)
    _lay_out(figure)
    stream = io.BytesIO()
    _write(figure, stream, ending)
    close(figure)
    return stream.getvalue()


def _lay_out(figure: Figure) -> None:
    """Lay out before drawing; ``savefig`` draws all a first time for the layout alone."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    FigureCanvasAgg(figure)  # becomes the figure's canvas
    engine = figure.get_layout_engine()
    if engine is not None:
        engine.execute(figure)
        figure.set_layout_engine("none")


def _write(figure: Figure, stream: io.BytesIO, ending: str) -> None:
    """Draw once."""
    if ending == "png":
        figure.canvas.print_png(stream)  # type: ignore[attr-defined]
        return

    from matplotlib import rc_context
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    with rc_context({"svg.hashsalt": "guitarnet"}):  # ids that do not change from run to run
        FigureCanvasSVG(figure).print_svg(stream, metadata={"Date": None, "Creator": None})


def embedded(content: bytes, ending: Literal["png", "svg"] = "png") -> str:
    """Address by which a page holds a picture in itself.

    Parameters
    ----------
    content : bytes
        The picture.
    ending : {"png", "svg"}
        Its form.

    Returns
    -------
    str
        A ``data:`` address.

    Examples
    --------
    >>> embedded(b"x")
    'data:image/png;base64,eA=='
    """
    kind = {"png": "png", "svg": "svg+xml"}[ending]
    return f"data:image/{kind};base64,{base64.b64encode(content).decode()}"
