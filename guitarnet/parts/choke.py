"""Chokes: inductors among the controls."""

from __future__ import annotations

from typing import ClassVar

from ..gate import public
from .base import (
    PRACTICE,
    MaybeNumber,
    Measurable,
    Number,
    Part,
    Stamps,
    Values,
    insistence,
    label_of,
    quantity,
    tolerance,
    valued,
)

__all__ = ["Choke"]


@public
@valued
class Choke(Part):
    """A choke, with lugs ``a`` and ``b``: an inductor that senses no string.

    Parameters
    ----------
    inductance : float, str or Measured
        Inductance at low frequency [H].
    resistance : float, str or Measured
        DC resistance (DCR) of the winding [ohm].
    capacitance : float or str
        Self-capacitance of the winding [F].
    tolerance : float or str, optional
        Plus or minus this share of the inductance.
    source : str
        Where the values come from.
    unusual : bool
        As in `Coil`.

    Raises
    ------
    BadValue
        If a value is out of range.

    Notes
    -----
    Z = (R + j w L) parallel C. The loss of the core is left out; figures state this.

    Examples
    --------
    >>> Choke("1.5 H", "100 ohm", "100p").label()
    '1.5 H, 100 Ω, 100 pF'
    """

    inductance: Measurable = quantity(
        "H",
        above=0,
        at_most=1000,
        hint="a choke has some henry",
        usual=("20 mH", "19 H", PRACTICE),
    )
    resistance: Measurable = quantity(
        "ohm",
        copper=True,
        default=0.0,
        at_least=0,
        at_most=1e7,
        usual=("5 ohm", "4.9k", PRACTICE),
    )
    capacitance: Number = quantity(
        "F", default=0.0, at_least=0, at_most=1e-6, usual=("10p", "5n", "as of a coil")
    )
    tolerance: MaybeNumber = tolerance(default=None)
    source: str = ""
    unusual: bool = insistence(default=False)

    lugs: ClassVar = ("a", "b")
    main: ClassVar = "inductance"
    usual_tolerance: ClassVar = {"inductance": 0.2, "resistance": 0.1}  # from memory

    def label(self) -> str:
        """Describe the part in a few words."""
        given = [name for name in ("resistance", "capacitance") if getattr(self, name)]
        return label_of(self, "inductance", *given)

    def assumptions(self, values: Values) -> tuple[str, ...]:
        """Assumptions about this part that a figure must state."""
        return ("no core loss in the choke assumed",)

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the part's branches into a netlist."""
        net.resistor("resistance", "a", "wire", values.resistance)
        net.inductor("inductance", "wire", "b", values.inductance)
        net.capacitor("capacitance", "a", "b", values.capacitance)
