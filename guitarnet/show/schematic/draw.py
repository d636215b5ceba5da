"""The schematic of a guitar, drawn only where its wires are those of the harness."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...circuit.edits import renamed
from ...circuit.harness import CAUTIONS, Harness
from ...errors import BadHarness
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Empty
from ...study.response.sweep import check_guitar
from ..figures import style
from .blocks import DoesNotFit
from .generic import connections
from .recipes import PLAIN
from .sheet import INCH, PALE, SMALL, Sheet, apart, drawn_groups, harness_groups, wrap
from .slots import slots
from .switched import SWITCHED

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_schematic", "framed", "inked", "sheet_of"]

_MARGIN = 0.4  # units
_LEAST = 15.0  # width of a sheet [units]


def draw_schematic(guitar: Harness, ax: Axes | None, generic: bool, title: str | None) -> Axes:
    """Draw the schematic of a guitar, or its diagram of connections, on axes."""
    with style.style(), apart():
        return inked(framed(sheet_of(guitar, generic=generic), title), ax)


def inked(sheet: Sheet, ax: Axes | None) -> Axes:
    """Draw a sheet on axes, or in a new figure of its size."""
    with style.style(), apart():
        left, bottom, right, top = sheet.extent()
        left, bottom, right, top = left - _MARGIN, bottom - _MARGIN, right + _MARGIN, top + _MARGIN
        wide, high = right - left, top - bottom
        if ax is None:
            size = (wide * INCH, high * INCH)
            _, grid = style.new_axes(size=size, layout="none")
            ax = grid[0, 0]
            ax.set_position((0, 0, 1, 1))
        ax.set_axis_off()
        ax.set_aspect("equal", adjustable="box")
        ax.set_xlim(left, right)
        ax.set_ylim(bottom, top)
        box = ax.get_window_extent()
        dots = min(box.width / wide, box.height / high)
        sheet.ink(ax, dots / ax.figure.dpi / INCH)
        ax.set_xlim(left, right)
        ax.set_ylim(bottom, top)
    return ax


def sheet_of(guitar: Harness, *, generic: bool = False) -> Sheet:
    """Place a guitar's parts and wires: by hand where a recipe fits, else as connections.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    generic : bool
        Whether to place the connection diagram although a recipe fits.

    Returns
    -------
    Sheet
        The sheet; ``form`` is "schematic" or "connections".

    Raises
    ------
    BadHarness
        If there is no part to draw.
    NotInstalled
        If schemdraw is missing.
    """
    check_guitar(guitar)
    expected = harness_groups(guitar)
    if not expected:
        raise BadHarness(guitar.name, "has no part to draw", "add one, as add('jack', gn.Jack())")
    with apart():
        sheet = None if generic else _by_hand(guitar, expected)
        if sheet is None:
            sheet = connections(guitar, asked=generic)
            if drawn_groups(sheet) != expected:
                raise AssertionError("the connection diagram joins what the harness does not")
    return sheet


def _by_hand(guitar: Harness, expected: set[frozenset[str]]) -> Sheet | None:
    """Try the recipes for these parts, and return the drawing with the same joints."""
    for names in slots(guitar):
        made = renamed(guitar, names)
        parts = {name for name, part in made.parts.items() if not isinstance(part, Empty)}
        for recipe in (*PLAIN, *SWITCHED):
            if not recipe.needed <= parts <= recipe.allowed:
                continue
            for way in recipe.ways:
                sheet = Sheet(made, "schematic", {slot: name for name, slot in names.items()})
                try:
                    recipe.draw(sheet, way)
                except DoesNotFit:
                    continue
                sheet.dot_joints()  # before the check: what is compared is what is drawn
                sheet.call_as(guitar)
                if drawn_groups(sheet) == expected:
                    sheet.notes = [_reading(sheet)]
                    return sheet
    return None


def _reading(sheet: Sheet) -> str:
    """Sentences on how to read a schematic with these parts."""
    kinds = [type(part) for part in sheet.guitar.parts.values()]
    sentences = []
    if Pot in kinds:
        sentences.append(
            "The wiper of a pot touches the lug marked 10 at 10, the lug marked 0 at 0."
        )
    if Switch in kinds:
        sentences.append("Switches are drawn where they stand.")
    sentences.append("A lug without a line is left open. All ground symbols are one joint.")
    sentences.append("Every line was followed and joins what the joint list says: solder by that.")
    return " ".join(sentences)


def framed(sheet: Sheet, title: str | None) -> Sheet:
    """Write the title above and the notes and cautions below."""
    left, bottom, right, top = sheet.extent()
    right = max(right, left + _LEAST)
    width = right - left
    words = sheet.guitar.name if title is None else title
    lines = wrap(words, width, 2, 11, "bold")
    for number, line in enumerate(reversed(lines)):
        sheet.write(left, top + 0.7 + 0.55 * number, line, size=11, weight="bold")
    y = bottom - 0.75
    for note in [*sheet.notes, CAUTIONS]:
        for line in wrap(note, width, 6, SMALL + 0.5):
            sheet.write(left, y, line, size=SMALL + 0.5, colour=PALE)
            y -= 0.33
    return sheet
