"""Frequency response of a guitar, from the induced voltage to the amp input."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved, Settings, one_mapping
from ...errors import BadSetting
from ...gate import public
from ...parts.base import Drive
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Jack
from ...parts.pickup import Coil
from ...parts.turns import hum_assumptions
from ...solve import ac
from ...units import Quantity
from .sweep import Guitars, assumed_by, labelled, read_frequency, sweep

__all__ = ["check_drive", "node_at", "pickups_of", "read_reference", "response"]

_REFERENCE = Quantity("Hz", above=0)
_PICKUP = "pickup"  # the dimension of what sounds by itself


@public(guitar=None)
def response(
    guitar: Guitars,
    settings: Settings = None,
    *,
    frequency: Any = None,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    source: str = "string",
    pickups: str = "sum",
    sizes: bool = False,
    dim: str = "build",
    **keywords: Any,
) -> xr.DataArray:
    """Frequency response of a guitar: volts at the amp input for 1 V induced in each coil.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar; or builds by label, which may differ in parts, wiring, everything.
    settings : mapping, optional
        A part's name sets its main value (a pot: mark 0 to 10; a capacitor: farad; a cable:
        metre; a resistor or amp input: ohm); a dotted path sets any other value, as in
        ``{"volume": [10, 5], "cable.length": ["1 m", "3 m"], "volume.resistance": "500k"}``. A
        list becomes a dimension of that name; an `xarray.DataArray` keeps its own dimensions,
        so that those that share one are taken pointwise, and a chunked one stays lazy. Tapers,
        bleeds, parts and None are categories with a coordinate of labels. Knobs that are not
        set stand at 10.
    frequency : array_like, optional
        Frequencies [Hz], rising, from 0; a logarithmic grid from 20 Hz to 20 kHz unless given.
    at : str
        Where to listen, always against the jack's sleeve: "amp" (the amp input's tip), "grid"
        (behind its grid resistor), "jack" (the jack's tip), or any lug such as "volume.wiper".
    reference_frequency : float or str
        Frequency [Hz] of the level that relative levels refer to; evaluated exactly.
    source : {"string", "hum"}
        What drives the coils: the string, whose signal has the sign of winding and magnet, 1 V
        in each pickup; or a humming field from outside, which has the sign of the winding alone
        and volts in proportion to the turns, 1 V in the coil that has the most.
    pickups : {"sum", "each", "each coil"}
        All sound together, as in the guitar; or each pickup (or coil) by itself, the others at
        rest, as a dimension ``pickup``.
    sizes : bool
        Whether the sizes alone are wanted: real, with half the memory. Every measure but the
        phase takes them.
    dim : str
        Name of the dimension of builds.
    **keywords
        The settings as keywords, ``volume=[10, 5]``, in place of the mapping.

    Returns
    -------
    xarray.DataArray
        Complex [V/V]; ``dim`` first where there are builds, a dimension for each swept setting
        in the order given, ``frequency`` last. The coordinate ``at_reference`` holds the size of
        the response at the reference frequency. Exactly 0 where nothing reaches the output.

    Raises
    ------
    BadSetting, BadValue
        If a setting is unknown, empty or out of range, or settings are given both ways.
    BadHarness
        If the harness is not whole.
    TooLarge
        If the sweep does not fit in memory; the message says how to chunk it.

    Notes
    -----
    Phasors with e^{+j w t}; the output is the sum over coils with their signs.

    Levels and measures go to netCDF as they are. Complex numbers do not go there by every
    library: write ``xarray.Dataset({"real": h.real, "imag": h.imag})``, and read it back as
    ``found["real"] + 1j * found["imag"]``, of which every measure can be taken again.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> guitar = layouts.one_pickup(pickup)
    >>> response(guitar, volume=[10, 5], tone=[10, 2, 0]).sizes
    Frozen({'volume': 2, 'tone': 3, 'frequency': 601})
    >>> response(guitar, {"volume": [10, 5], "cable.length": ["1 m", "3 m"]}).dims
    ('volume', 'cable.length', 'frequency')
    >>> wirings = {w: layouts.one_pickup(pickup, wiring=w) for w in ("modern", "50s")}
    >>> response(wirings, volume=[10, 5], dim="wiring").dims
    ('wiring', 'volume', 'frequency')
    """
    settings = one_mapping(settings, keywords)
    check_drive(source, pickups)
    if pickups != "sum" and _PICKUP in settings:
        raise BadSetting(
            "pickups",
            f"{pickups!r} makes a dimension {_PICKUP!r}, which is a setting too",
            "give guitars with different pickups as builds",
        )
    hertz = read_frequency(frequency)
    # The reference rides along as the last column, so that it is exact for any grid.
    reference = read_reference(reference_frequency)
    columns = np.append(hertz, reference)
    voltage = ac.node_size if sizes else ac.node_voltage

    names: dict[tuple[str, ...], None] = {}
    assumed: list[tuple[str, ...]] = []

    def compute(guitar: Harness, resolved: Resolved) -> xr.Variable:
        if source == "hum":
            assumed.append(hum_assumptions(guitar.parts))
        node = node_at(guitar, at)
        driven = [None] if pickups == "sum" else pickups_of(guitar, coils=pickups == "each coil")
        heard = []
        for only in driven:
            net = guitar.stamp(resolved.values, drive=Drive(source, only))
            heard.append(voltage(net, node, columns, dims=resolved.dims))
        if pickups == "sum":
            return heard[0]
        names.setdefault(tuple(only[0] for only in driven if only))
        if len(names) > 1:
            raise BadSetting(
                "pickups", "differ from build to build", "compare builds with the same pickups"
            )
        return xr.Variable.concat(heard, dim=_PICKUP).transpose(..., _PICKUP, "frequency")

    both, coords, told = sweep(guitar, settings, compute, points=columns.size, dim=dim)
    said = (told["assumptions"], assumed_by(assumed))
    told["assumptions"] = "; ".join(words for words in said if words)
    coords["frequency"] = xr.Variable(
        ("frequency",), hertz, {"units": "Hz", "long_name": "frequency"}
    )
    if pickups != "sum":
        coords[_PICKUP] = xr.Variable((_PICKUP,), np.array(next(iter(names))))
    coords["reference_frequency"] = xr.Variable((), reference, {"units": "Hz"})
    # Its size, so that levels, and real and imaginary parts, are real in all their coordinates.
    coords["at_reference"] = abs(both[..., -1])
    coords["at_reference"].attrs = {
        "units": "V/V",
        "long_name": "size of the response at the reference frequency",
    }
    name = f"response at the {at}" if at in ("amp", "grid", "jack") else f"at {at}"
    attrs = {
        "units": "V/V",
        "long_name": f"size of the {name}" if sizes else name,
        **told,
    }
    return labelled(both[..., :-1], coords, "response", attrs)


def read_reference(reference_frequency: float | str) -> float:
    """Read the frequency [Hz] that relative levels refer to."""
    reference = _REFERENCE.read(reference_frequency, "reference_frequency")
    assert reference is not None
    return reference


def check_drive(source: str, pickups: str) -> None:
    """Refuse what drives no coils."""
    if not isinstance(source, str) or source not in ("string", "hum"):
        raise BadSetting("source", f"{source!r} is unknown", "use 'string' or 'hum'", source)
    if not isinstance(pickups, str) or pickups not in ("sum", "each", "each coil"):
        raise BadSetting(
            "pickups", f"{pickups!r} is unknown", "use 'sum', 'each' or 'each coil'", pickups
        )


def pickups_of(guitar: Harness, *, coils: bool = False) -> list[tuple[str, ...]]:
    """Name what is driven by itself: every pickup, or every coil of every pickup."""
    found: list[tuple[str, ...]] = []
    for name, part in guitar.parts.items():
        if isinstance(part, Coil) or (isinstance(part, Humbucker) and not coils):
            found.append((name,))
        elif isinstance(part, Humbucker):
            found += [(f"{name}.{coil}",) for coil in part.inner()]
    if not found:
        raise BadSetting("pickups", "there is no pickup in the harness", "add one")
    return found


def node_at(guitar: Harness, at: str) -> str:
    """Name the node at "amp", "jack", "grid" or a lug."""
    if not isinstance(at, str):
        raise BadSetting("at", f"{at!r} is no place", "use 'amp', 'grid', 'jack' or a lug", at)
    if at == "amp":
        return guitar.node(guitar.output_lug())
    if at == "jack":
        return guitar.node(f"{guitar.only(Jack)}.tip")
    if at == "grid":
        return f"{guitar.only(AmpInput)}:grid"
    if "." not in at:
        raise BadSetting("at", f"{at!r} is no place", "use 'amp', 'grid', 'jack' or a lug", at)
    return guitar.node(at)
