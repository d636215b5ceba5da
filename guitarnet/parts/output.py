"""The parts after the controls: jack, cable and amp input."""

from __future__ import annotations

import contextlib
from typing import Any, ClassVar

from ..errors import BadValue, by_name
from ..frozen import Frozen
from ..gate import public
from ..units import format_value, read_value
from .base import (
    PRACTICE,
    MaybeNumber,
    Measurable,
    Number,
    Part,
    Stamps,
    Values,
    asks,
    insistence,
    inverse,
    label_of,
    quantity,
    tolerance,
    valued,
)

_PER_METRE = 100e-12  # F/m
_FARADS = 1e-15, 1e-6  # a length [m] between these is a capacitance

__all__ = ["AmpInput", "Cable", "Jack", "amp_input", "amp_inputs", "triode_input_capacitance"]


@public
@valued
class Jack(Part):
    """The output jack, with lugs ``tip`` (hot) and ``sleeve`` (ground).

    Examples
    --------
    >>> Jack().lugs
    ('tip', 'sleeve')
    """

    lugs: ClassVar = ("tip", "sleeve")

    def label(self) -> str:
        """Describe the part in a few words."""
        return "jack"

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write nothing: a jack has no branches."""


@public
@valued
class Cable(Part):
    """A guitar cable as one lumped capacitance, with a plug at each end.

    Parameters
    ----------
    length : float or str
        Length [m]; "3 m", "10 ft". Zero is no cable.
    capacitance_per_metre : float, str or Measured
        Tip to sleeve [F/m]; "100 pF/m" or "30 pF/ft".
    resistance_per_metre : float or str
        Series resistance of both conductors together [ohm/m].
    insulation_resistance : float or str, optional
        Leakage resistance from tip to sleeve of one metre [ohm m]; by default none.
    tolerance : float or str, optional
        Plus or minus this share of the capacitance; 10 % unless given.
    source : str
        Where the values come from.
    unusual : bool
        As in `Coil`.

    Raises
    ------
    BadValue
        If a value is negative or not a value.

    Notes
    -----
    A lumped model is right far beyond the audio band: 10 m are a hundredth of a wavelength at
    200 kHz.

    References
    ----------
    100 pF/m (30 pF/ft) default: Sound on Sound, November 2009. Highest plausible value,
    259 pF/m: datasheet of a shielded three-core cable.

    Examples
    --------
    >>> Cable("5 m").label()
    '5 m at 100 pF/m'
    """

    length: Number = quantity("m", at_least=0, at_most=1000, usual=("0.1 m", "99 m", PRACTICE))
    capacitance_per_metre: Measurable = quantity(
        "F/m",
        default=100e-12,
        at_least=0,
        at_most=1e-8,
        hint="a guitar cable has 60p to 260p",
        usual=("40 pF/m", "900 pF/m", "straight 60 to 260, coiled 400 and more: " + PRACTICE),
    )
    resistance_per_metre: Number = quantity(
        "ohm/m", default=0.0, at_least=0, usual=("0.005 ohm/m", "4.9 ohm/m", PRACTICE)
    )
    insulation_resistance: MaybeNumber = quantity("ohm m", default=None, above=0, optional=True)
    tolerance: MaybeNumber = tolerance(default=None)
    source: str = ""
    unusual: bool = insistence(default=False)

    lugs: ClassVar = ("guitar_tip", "guitar_sleeve", "amp_tip", "amp_sleeve")
    main: ClassVar = "length"
    usual_tolerance: ClassVar = {"capacitance_per_metre": 0.1}  # common practice, no source

    def __post_init__(self) -> None:
        _check_length(self.length, asks(self))
        super().__post_init__()

    def label(self) -> str:
        """Describe the part in a few words."""
        if self.length == 0:
            return "no cable"
        return f"{label_of(self, 'length')} at {label_of(self, 'capacitance_per_metre')}"

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the cable's branches into a netlist."""
        net.resistor(
            "resistance", "guitar_tip", "amp_tip", values.resistance_per_metre * values.length
        )
        net.resistor("sleeve", "guitar_sleeve", "amp_sleeve", 0.0)
        net.capacitor(
            "capacitance", "amp_tip", "amp_sleeve", values.capacitance_per_metre * values.length
        )
        if values.insulation_resistance is not None:
            leakage = values.insulation_resistance * inverse(values.length)
            net.resistor("leakage", "amp_tip", "amp_sleeve", leakage)


def _check_length(given: Any, asking: bool) -> None:
    """Tell how a cable is given of which only the capacitance is known."""
    least, most = _FARADS
    number = asking and issubclass(type(given), (int, float)) and least < given < most
    farad = float(given) if number else 0.0
    if isinstance(given, str) and "F" in given:
        with contextlib.suppress(BadValue):
            farad = read_value(given, "F")
    if farad > 0:
        metres = farad / _PER_METRE
        raise BadValue(
            "Cable.length",
            f"{format_value(farad, 'F')} is a capacitance",
            f"give the length that has as much at 100 pF/m, '{metres:.4g} m', or its length and "
            "its capacitance_per_metre",
            given,
        )


@public
@valued
class AmpInput(Part):
    """The input at the end of the cable, with lugs ``tip`` and ``sleeve``.

    Parameters
    ----------
    resistance : float or str
        Input resistance, tip to sleeve [ohm].
    capacitance : float or str
        Input capacitance [F], behind the grid resistor if there is one.
    grid_resistance : float or str
        Resistor between the tip and the first stage [ohm]; by default zero.
    tolerance : float or str, optional
        Plus or minus this share of the input resistance; 10 % unless given.
    source : str
        Where the values come from.
    unusual : bool
        As in `Coil`.

    Raises
    ------
    BadValue
        If a value is negative, or the resistance is zero.

    References
    ----------
    1 MΩ and a 68 kΩ grid resistor in series: Gitarre & Bass magazine, "Wie
    Eingangsimpedanzen den Sound beeinflussen".

    Examples
    --------
    >>> AmpInput("1M").label()
    '1 MΩ'
    """

    resistance: Measurable = quantity(
        "ohm", default=1e6, above=0, usual=("10k", "10M", 'B. Judge, "Feel the gain 1"')
    )
    capacitance: Number = quantity("F", default=0.0, at_least=0, usual=("2p", "1.9n", PRACTICE))
    grid_resistance: Number = quantity(
        "ohm", default=0.0, at_least=0, usual=("1k", "990k", PRACTICE)
    )
    tolerance: MaybeNumber = tolerance(default=None)
    source: str = ""
    unusual: bool = insistence(default=False)

    lugs: ClassVar = ("tip", "sleeve")
    main: ClassVar = "resistance"
    usual_tolerance: ClassVar = {"resistance": 0.1}  # common practice, no source

    def label(self) -> str:
        """Describe the part in a few words."""
        words = label_of(self, "resistance")
        if self.capacitance:
            words += f", {label_of(self, 'capacitance')}"
        if self.grid_resistance:
            words += f" behind {label_of(self, 'grid_resistance')}"
        return words

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the input's branches into a netlist."""
        net.resistor("resistance", "tip", "sleeve", values.resistance)
        net.resistor("grid_resistance", "tip", "grid", values.grid_resistance)
        net.capacitor("capacitance", "grid", "sleeve", values.capacitance)


@public
def triode_input_capacitance(cathode: float | str, anode: float | str, gain: float | str) -> float:
    """Input capacitance of a triode stage.

    Parameters
    ----------
    cathode : float or str
        Grid to cathode [F].
    anode : float or str
        Grid to anode [F].
    gain : float
        Size of the stage's voltage gain, a positive number.

    Returns
    -------
    float
        C = Cgk + Cga (1 + A) [F].

    Raises
    ------
    BadValue
        If a value is not a value.

    References
    ----------
    The Valve Wizard, "Grid stopper".

    Examples
    --------
    >>> round(triode_input_capacitance("2.3p", "2.4p", 50) * 1e12, 1)
    124.7
    """
    grid_cathode = read_value(cathode, "F", where="triode.cathode")
    grid_anode = read_value(anode, "F", where="triode.anode")
    return grid_cathode + grid_anode * (1 + read_value(gain, "", where="triode.gain"))


_JUDGE = 'B. Judge, "Feel the gain 1": device inputs from 10 kΩ to over 1 MΩ'
amp_inputs = Frozen(
    {
        "amp": AmpInput(1e6, source='Gitarre & Bass, "Wie Eingangsimpedanzen ..."'),
        "tube amp": AmpInput(
            1e6,
            capacitance=triode_input_capacitance("2.3p", "2.4p", 50),
            grid_resistance=68e3,
            source='68 kΩ: Gitarre & Bass; C = Cgk + Cga (1 + A): The Valve Wizard, "Grid '
            'stopper"; 2.3 pF, 2.4 pF and a gain of 50 from memory',
        ),
        "pedal": AmpInput(500e3, source=f"common practice, no source; {_JUDGE}"),
        "low-impedance pedal": AmpInput(10e3, source=_JUDGE),
        "buffer": AmpInput(1e6, source=f"first in the chain, at the cable's end; {_JUDGE}"),
        "wireless transmitter": AmpInput(1e6, source="common practice, no source"),
    }
)
"""Ready inputs by name, each with the source of its values."""


@public(name=None)
def amp_input(name: str) -> AmpInput:
    """Return a ready amp, pedal, buffer or transmitter input by name.

    A buffer hides every cable after it, so give only the cable before it. A wireless transmitter
    is on the guitar, so use it with ``Cable(0)``.

    Parameters
    ----------
    name : str
        One of ``amp_inputs``: "amp", "tube amp", "pedal", "low-impedance pedal", "buffer",
        "wireless transmitter".

    Returns
    -------
    AmpInput
        The input, with the source of its values.

    Raises
    ------
    BadSetting
        If there is none of that name.

    References
    ----------
    Named on each input as ``source``.

    Examples
    --------
    >>> amp_input("pedal").label()
    '500 kΩ'
    """
    return by_name(amp_inputs, name, "amp input")
