"""The drawing of the adapter between a sound card and what is measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...circuit.harness import Harness
from ...gate import public
from ...parts.output import Jack
from ...parts.two_lug import Resistor
from .blocks import two_lug
from .draw import framed, inked
from .sheet import PALE, SMALL, Sheet, apart, drawn_groups, harness_groups

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_adapter"]

_NOTES = (
    "Line level only: never an output for loudspeakers, never an amplifier. Phantom power off. The "
    "guitar is unplugged from everything else.",
    "For an exciter coil: the coil goes where the plug is drawn, and the tip's input leads to the "
    "pickup alone. Sleeves are one joint; shield the leads to the inputs.",
)
_ROW, _DEEP = 2.6, 1.1  # units, between two rows, and from tip to sleeve


@public
def draw_adapter(resistor: float | str = "47k") -> Axes:
    """Draw the adapter between a sound card and what is measured, with its cautions.

    Parameters
    ----------
    resistor : float or str
        The resistor between output and plug [ohm]; 47k to 100k.

    Returns
    -------
    matplotlib.axes.Axes
        The axes.

    Raises
    ------
    BadValue
        If the resistor is out of range.
    NotInstalled
        If schemdraw is missing.

    Notes
    -----
    Its lines are followed and compared with the joints of the adapter, as in `guitarnet.draw`.

    Examples
    --------
    >>> "47 kΩ" in {text.get_text() for text in draw_adapter().texts}
    True
    """
    made = _adapter(resistor)
    with apart():
        sheet = Sheet(made, "schematic")
        heads = {
            "output": (0.0, 0.0, "line output"),
            "reference_input": (2.6, _ROW, "input 1: reference"),
            "tip_input": (7.0, _ROW, "input 2: tip"),
            "plug": (9.6, 0.0, "plug: what is measured"),
        }
        for name, (x, y, words) in heads.items():
            _end(sheet, name, x, y, words)
        two_lug(sheet, "resistor", (3.6, 0.0), (6.0, 0.0))
        sheet.wire("output.tip", "resistor.a")
        sheet.wire("resistor.b", "plug.tip")
        for name in ("reference_input", "tip_input"):
            x, y = sheet.at(f"{name}.tip")
            sheet.wire((x, y), (x, 0.0))
        sheet.dot_joints()
        sheet.notes = list(_NOTES)
        if drawn_groups(sheet) != harness_groups(made):
            raise AssertionError("the drawing joins what the adapter does not")
    return inked(framed(sheet, None), None)


def _adapter(resistor: float | str) -> Harness:
    """Make the adapter: an output, a resistor, two inputs and a plug for what is measured."""
    ends = ("output", "reference_input", "tip_input", "plug")
    return Harness(
        {"resistor": Resistor(resistor), **{name: Jack() for name in ends}},
        (
            ("output.tip", "reference_input.tip", "resistor.a"),
            ("resistor.b", "tip_input.tip", "plug.tip"),
            tuple(f"{name}.sleeve" for name in ends),
        ),
        name="Adapter for measuring with a sound card",
    )


def _end(sheet: Sheet, name: str, x: float, y: float, words: str) -> None:
    """Draw a plug or socket: tip at the point, sleeve aside of it with its ground."""
    above = y > 0
    aside = 0.8 if above else 0.0
    sleeve = (x + aside, y if above else y - _DEEP)
    anchors = {"tip": (x, y), "sleeve": sleeve}
    ends = sheet.shape([[at, at] for at in anchors.values()], anchors=anchors,
                       circles=[(at, 0.11) for at in anchors.values()])  # fmt: skip
    sheet.put(ends, **{lug: f"{name}.{lug}" for lug in anchors})
    sheet.ground(f"{name}.sleeve", sleeve[1] - 0.7)
    sheet.write(x, y + 0.55, words, across="center", weight="bold")
    sheet.write(x - 0.2, y + 0.22 if above else y - 0.25, "tip", size=SMALL, colour=PALE,
                across="right")  # fmt: skip
    sheet.write(sleeve[0] + 0.2, sleeve[1], "sleeve", size=SMALL, colour=PALE)
