"""A guitar drawn in one of its views: as a schematic, or as it looks on the bench."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

from ..circuit.harness import Harness
from ..gate import public
from .bench.draw import draw_bench
from .schematic.draw import draw_schematic

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw"]


@public
def draw(
    guitar: Harness,
    ax: Axes | None = None,
    *,
    view: Literal["schematic", "connections", "bench", "bench from the front"] = "schematic",
    title: str | None = None,
    lug_numbers: bool = False,
    places: Mapping[str, str] | None = None,
) -> Axes:
    """Draw a guitar: its schematic, or what you see when you solder it.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure unless given.
    view : {"schematic", "connections", "bench", "bench from the front"}
        The schematic; the diagram of connections, although a schematic is at hand; or the bench
        picture, from behind as you solder, or as if you looked through the top.
    title : str, optional
        Line above the drawing; the guitar's name unless given.
    lug_numbers : bool
        Whether a bench picture numbers the lugs of pots too: 1, 2 and 3 from left to right, as
        they are counted with the shaft towards you and the lugs down.
    places : mapping of str to str, optional
        How the switches stand on a bench picture, as ``{"switch": "neck"}``, the others as they
        stand unless set. Then grey is what lies on no way from the tip of the jack to its
        sleeve, by continuity, and the lugs that touch are named.

    Returns
    -------
    matplotlib.axes.Axes
        The axes, with one unit of the drawing as long across as up.

    Raises
    ------
    BadHarness
        If there is no part to draw, or a bench picture finds no jack.
    BadSetting
        If there is no such switch, or it has no such place.
    NotInstalled
        If matplotlib is missing, or schemdraw, with which schematics are drawn.

    Notes
    -----
    The lines of every drawing are followed from lug to lug and compared with the joints before it
    is shown.

    Ready layouts have schematics placed by hand. Any other harness, also one that was edited or
    has a fault, gets a diagram of connections that says so: each joint a numbered line as in
    ``guitar.joints()``.

    A bench picture shows parts as they look from the side one solders on, and each wire apart,
    with the number of its joint in the list. A wire that would cross more than three others is
    not drawn: its ends are filled circles with their number. Grounded lugs go to their own can,
    to the bare bus wire, or bear the sign of ground. A switch called ``volume_pull`` is drawn on
    the can of ``volume``. How parts look is common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")
    >>> "250 kΩ" in {text.get_text() for text in draw(guitar).texts}
    True
    >>> ax = draw(guitar, view="bench")
    >>> "Seen from behind, the side you solder on" in {text.get_text() for text in ax.texts}
    True
    """
    if view.startswith("bench"):
        return draw_bench(guitar, ax, view, title, lug_numbers, places)
    return draw_schematic(guitar, ax, view == "connections", title)
