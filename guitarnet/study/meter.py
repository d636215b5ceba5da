"""What a meter shows at the jack: impedance and DC resistance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from ..circuit.harness import Harness
from ..circuit.settings import Resolved
from ..errors import BadSetting
from ..parts.output import AmpInput, Cable, Jack
from ..solve import ac
from .sweep import read_frequency, sweep

__all__ = ["impedance", "jack_resistance", "lug_resistance"]


def impedance(
    guitar: Harness, frequency: Any = None, *, at: str = "jack", **settings: Any
) -> xr.DataArray:
    """Impedance of a guitar, looking into tip and sleeve.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    frequency : array_like, optional
        Frequencies [Hz], rising, from 0; a logarithmic grid from 20 Hz to 20 kHz unless given.
    at : {"jack", "amp"}
        "jack": with the amp removed, through the cable where there is one. "amp": with the amp.
    **settings
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Complex [ohm], a dimension for each swept setting, ``frequency`` last; infinite where no
        current can flow.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> impedance(guitar, volume=[10, 5]).dims
    ('volume', 'frequency')
    """
    if at not in ("jack", "amp"):
        raise BadSetting("at", f"{at!r} is no place to measure", "use 'jack' or 'amp'", at)
    hertz = read_frequency(frequency)
    values, coords, told = _looking_in(guitar, hertz, at, settings)
    attrs = {
        "units": "ohm",
        "long_name": f"impedance at the {at}",
        **told,
    }
    axis = {"units": "Hz", "long_name": "frequency"}
    coords["frequency"] = xr.Variable(("frequency",), hertz, axis)
    return xr.DataArray(values, coords=coords, name="impedance", attrs=attrs)


def jack_resistance(guitar: Harness, **settings: Any) -> xr.DataArray:
    """Resistance that an ohmmeter shows between tip and sleeve, the amp unplugged.

    Unplug the guitar from the amplifier before measuring; an ohmmeter never belongs on anything
    that is connected to the mains.

    Parameters
    ----------
    guitar : Harness
        The guitar; its cable counts with its resistance, its amp is removed.
    **settings
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Resistance [ohm], a dimension for each swept setting; infinite is what a meter shows as
        "OL".

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    The impedance at 0 Hz: capacitors are open and inductors shorts.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> float(jack_resistance(guitar, volume=10).round())
    6050.0
    """
    return _resistance(guitar, settings, "resistance at the jack, amp unplugged")


def lug_resistance(
    guitar: Harness, one: str, other: str, *, lifted: Sequence[str] = (), **settings: Any
) -> xr.DataArray:
    """Resistance that an ohmmeter shows between any two lugs, in circuit.

    Unplug the guitar from everything before opening or measuring it; an ohmmeter never belongs
    on anything that is connected to the mains. The iron is hot where a lead is lifted.

    Parameters
    ----------
    guitar : Harness
        The guitar; its cable is in place, its amp is removed.
    one, other : str
        Lugs that the probes touch, such as "volume.high" and "volume.low".
    lifted : sequence of str
        Lugs whose lead is lifted first, to measure a part alone.
    **settings
        As in `guitarnet.response`.

    Returns
    -------
    xarray.DataArray
        Resistance [ohm], a dimension for each swept setting; infinite is what a meter shows as
        "OL".

    Raises
    ------
    BadHarness
        If a lug does not exist.
    BadSetting, BadValue, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    The impedance at 0 Hz: capacitors are open and inductors shorts.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> float(lug_resistance(guitar, "volume.high", "volume.low").round())
    6050.0
    >>> float(lug_resistance(guitar, "volume.high", "volume.low", lifted=["pickup.hot"]).round())
    250000.0
    """
    measured = guitar.lift(*([lifted] if isinstance(lifted, str) else lifted))
    ends = measured.node(one), measured.node(other)
    return _resistance(measured, settings, f"resistance from {one} to {other}", ends)


def _resistance(
    guitar: Harness,
    settings: Mapping[str, Any],
    words: str,
    ends: tuple[str, str] | None = None,
) -> xr.DataArray:
    """Resistance at 0 Hz, at the jack or between two nodes."""
    values, coords, _ = _looking_in(guitar, np.zeros(1), "jack", settings, ends)
    ohms = xr.DataArray(values[..., 0], coords=coords, name="resistance").real
    return ohms.assign_attrs(units="ohm", long_name=words)


def _looking_in(
    guitar: Harness,
    hertz: np.ndarray,
    at: str,
    settings: Mapping[str, Any],
    ends: tuple[str, str] | None = None,
) -> tuple[xr.Variable, dict[str, xr.Variable], dict[str, str]]:
    """Impedance, its coordinates, and what is to be told of the guitar."""
    left_out = AmpInput if at == "jack" else None

    def compute(harness: Harness, resolved: Resolved) -> xr.Variable:
        amp = harness.only(AmpInput, needed=False)
        cable = harness.only(Cable, needed=False)
        plug = f"{cable}.amp_tip" if cable else f"{harness.only(Jack)}.tip"
        without = [amp] if amp and at == "jack" else []
        lug = plug if at == "jack" else harness.output_lug()
        net = harness.stamp(resolved.values, without)
        node = harness.node(lug)
        if ends is not None:
            node, net.ground = ends
        return ac.node_impedance(net, node, hertz, dims=resolved.dims)

    return sweep(guitar, settings, compute, points=hertz.size, left_out=left_out)
