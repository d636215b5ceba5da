"""The usual ranges of all values that a person enters, as one table."""

from __future__ import annotations

import dataclasses

from ...gate import public
from ...parts.blend import BlendPot
from ...parts.choke import Choke
from ...parts.output import AmpInput, Cable
from ...parts.pickup import Coil
from ...parts.pot import END, Pot
from ...parts.two_lug import Capacitor, Resistor
from ...parts.usual import IN_PLACE
from ...table import Table
from ...units import Quantity, format_value, plain_words
from ..fit.loads import CAPACITANCE, RESISTANCE
from ..fit.measured import PEAK, TEST, InductanceReading
from ..spread.noise import SIGNAL
from .ohmmeter import Ohmmeter

__all__ = ["ranges", "usual_values"]


def ranges() -> dict[str, Quantity]:
    """Give what each value may be that has a usual range, by its name in plain words."""
    found: dict[str, Quantity] = {}
    for kind in (Coil, Choke, Capacitor, Resistor, Pot, BlendPot, Cable, AmpInput, Ohmmeter):
        for field in dataclasses.fields(kind):
            spec = field.metadata.get("quantity")
            if spec is not None and spec.usual is not None:
                found[f"{kind.__name__}, {plain_words(field.name)}"] = spec
        if kind is Pot:
            found["Pot, end resistance"] = END
    for place, fields in IN_PLACE.items():
        found |= {f"{place}, {name}": spec for name, spec in fields.items()}
    found |= {"Load, resistance": RESISTANCE, "Load, capacitance": CAPACITANCE}
    found |= {"PeakReading, frequency": PEAK, f"{InductanceReading.__name__}, frequency": TEST}
    return found | {"noise_level, signal": SIGNAL}


@public
def usual_values() -> Table:
    """List the range outside which a value that a person enters is asked about.

    Returns
    -------
    Table
        Value, least, largest, and who says so. The readings of a meter are not in it: no values
        that a person chooses. Values of a `guitarnet.Coil` hold for a `guitarnet.Pickup` too.

    References
    ----------
    With each row.

    Examples
    --------
    >>> next(row for row in usual_values() if row[0] == "tone capacitor, capacitance")
    ('tone capacitor, capacitance', '1 nF', '470 nF', 'common practice, no source')
    """
    rows = []
    for name, spec in ranges().items():
        assert spec.usual is not None
        low, high = (format_value(end, spec.unit) for end in spec.ends)
        rows.append((name, low, high, spec.usual[2]))
    note = "Outside its range a value is asked about, unless unusual=True. Zero means none."
    return Table(("value", "from", "to", "who says so"), rows, note=note)
