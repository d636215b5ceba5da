"""The ohmmeter: its accuracy, leads and range."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadValue
from ...gate import public
from ...parts.base import PRACTICE, Number, insistence, quantity, read_quantities, valued
from ...ranking import at_most
from ...units import float_array, format_value

__all__ = ["Ohmmeter", "displayed"]


@public
@valued
class Ohmmeter:
    """An ohmmeter: its accuracy, leads and range.

    Parameters
    ----------
    accuracy : float or str
        Limits of error as a share of the reading.
    floor : float or str
        Further limits of error [ohm]: last digits and the contact of the probes.
    leads : float or str
        Resistance of the meter's leads [ohm], which adds to the reading; 0 if you zeroed the
        meter with its probes held together.
    largest : float or str
        Largest reading [ohm]; above it the display shows "OL". For a meter without automatic
        ranges give the end of the chosen range, such as "20k".
    unusual : bool
        Whether values that hardly any meter has are meant, and are not a slip.

    Raises
    ------
    BadValue
        If a value is out of range.

    Notes
    -----
    The error is within plus or minus (accuracy x reading + floor). All values in between are
    taken as equally probable, so the standard uncertainty is that limit over the square root of
    three.

    References
    ----------
    Rectangular distribution within limits: JCGM 100:2008 (GUM), 4.3.7. The defaults (0.8 %,
    1 ohm, 0.2 ohm, 20 Mohm) are typical of a handheld meter: common practice, no source.

    Examples
    --------
    >>> meter = Ohmmeter()
    >>> meter.shows([6050.0, 30e6]).tolist(), round(meter.uncertainty(6050.0), 1)
    ([6050.2, inf], 28.5)
    """

    accuracy: Number = quantity(
        "fraction",
        default=0.008,
        at_least=0,
        at_most=0.5,
        usual=("0.001%", "10%", PRACTICE),
        percent=True,
    )
    floor: Number = quantity(
        "ohm", default=1.0, above=0, hint="the contact of a probe alone is a tenth of an ohm"
    )
    leads: Number = quantity(
        "ohm", default=0.2, at_least=0, at_most=100, usual=("0.01 ohm", "9 ohm", PRACTICE)
    )
    largest: Number = quantity("ohm", default=20e6, above=0, usual=("199 ohm", "1G", PRACTICE))
    unusual: bool = insistence(default=False)

    def __post_init__(self) -> None:
        read_quantities(self)

    def shows(self, ohms: Any) -> Any:
        """Return what the meter shows [ohm] for a resistance [ohm]; infinite means "OL"."""
        if isinstance(ohms, xr.DataArray):
            if ohms.dtype.kind not in "fiu" or bool(ohms.isnull().any()):
                raise BadValue("ohms", "does not hold real numbers only", "give ohms", ohms)
            shown = ohms + self.leads
            return shown.where(at_most(shown, self.largest), np.inf).assign_attrs(ohms.attrs)
        shown = _numbers(ohms) + self.leads
        return _numbers(np.where(at_most(shown, self.largest), shown, np.inf))

    def limit(self, ohms: Any) -> Any:
        """Return the limits of error [ohm] of readings; infinite for "OL"."""
        return self.accuracy * _numbers(ohms) + self.floor

    def uncertainty(self, ohms: Any) -> Any:
        """Return the standard uncertainty [ohm] of readings; infinite for "OL"."""
        return self.limit(ohms) / math.sqrt(3)

    def label(self) -> str:
        """Describe the meter in a few words."""
        return (
            f"\u00b1({format_value(self.accuracy, 'fraction')} + "
            f"{format_value(self.floor, 'ohm')}), leads {format_value(self.leads, 'ohm')}, "
            f"OL above {format_value(self.largest, 'ohm')}"
        )


def _numbers(ohms: Any) -> Any:
    """One number as a float, several as an array, a labelled array as it is."""
    if isinstance(ohms, xr.DataArray) and ohms.dtype.kind in "iuf":
        return ohms
    read = float_array(ohms, "ohms", "give ohms, as 6200.0")
    return read if read.ndim else float(read)


def displayed(ohms: float, *, digits: int = 4) -> str:
    """Write a reading [ohm] as on the display of a meter: "OL" where it is infinite."""
    return "OL" if math.isinf(ohms) else format_value(ohms, "ohm", digits=digits)
