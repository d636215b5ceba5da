"""Frequency response of a guitar, from the induced voltage to the amp input."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved
from ...errors import BadSetting, a
from ...gate import public
from ...parts.base import Drive
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Jack
from ...parts.pickup import Coil
from ...solve import ac
from ...units import Quantity
from .sweep import check_size, read_frequency, sweep

__all__ = ["check_drive", "compare", "node_at", "read_reference", "response", "responses"]

_REFERENCE = Quantity("Hz", above=0)


@public
def response(
    guitar: Harness,
    frequency: Any = None,
    *,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    source: str = "string",
    pickups: str = "sum",
    **settings: Any,
) -> xr.DataArray:
    """Frequency response of a guitar: volts at the amp input for 1 V induced in each coil.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    frequency : array_like, optional
        Frequencies [Hz], rising, from 0; a logarithmic grid from 20 Hz to 20 kHz unless given.
    at : str
        Where to listen, always against the jack's sleeve: "amp" (the amp input's tip), "grid"
        (behind its grid resistor), "jack" (the jack's tip), or any lug such as "volume.wiper".
    reference_frequency : float or str
        Frequency [Hz] of the level that relative levels refer to; evaluated exactly.
    source : {"string", "hum"}
        What drives the coils: the string, whose signal has the sign of winding and magnet, or a
        humming field from outside, which has the sign of the winding alone; 1 V in each coil.
    pickups : {"sum", "each", "each coil"}
        All sound together, as in the guitar; or each pickup (or coil) by itself, the others at
        rest, as a dimension ``pickup``.
    **settings
        A part's name sets its main value (a pot: mark 0 to 10; a capacitor: farad; a cable:
        metre; a resistor or amp input: ohm); a dotted path sets any other value, as in
        ``**{"cable.length": ["1 m", "3 m"], "volume.resistance": "500k"}``. A list becomes a
        dimension of that name; an `xarray.DataArray` keeps its own dimensions, so that those
        that share one are taken pointwise, and a chunked one stays lazy. Tapers, bleeds, parts
        and None are categories with a coordinate of labels. Knobs that are not set stand at 10.

    Returns
    -------
    xarray.DataArray
        Complex [V/V]; a dimension for each swept setting in the order given, ``frequency`` last.
        The coordinate ``at_reference`` holds the size of the response at the reference frequency.
        Exactly 0 where nothing reaches the output.

    Raises
    ------
    BadSetting, BadValue
        If a setting is unknown, empty or out of range.
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
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> response(guitar, volume=[10, 5], tone=[10, 2, 0]).sizes
    Frozen({'volume': 2, 'tone': 3, 'frequency': 601})
    """
    drive = source, pickups
    return responses(guitar, frequency, at, reference_frequency, settings, "build", drive)


@public(builds=None)
def compare(
    builds: Mapping[str, Harness],
    frequency: Any = None,
    *,
    at: str = "amp",
    reference_frequency: float | str = 100.0,
    source: str = "string",
    pickups: str = "sum",
    dim: str = "build",
    **settings: Any,
) -> xr.DataArray:
    """Frequency responses of several guitars side by side.

    Parameters
    ----------
    builds : mapping of str to Harness
        Guitars by label; they may differ in parts, wiring, everything.
    frequency, at, reference_frequency, source, pickups, **settings
        As in `response`, the same for every build.
    dim : str
        Name of the dimension of labels.

    Returns
    -------
    xarray.DataArray
        As from `response`, with ``dim`` as the first dimension.

    Raises
    ------
    BadSetting, BadValue, BadHarness, TooLarge
        As in `response`.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> pickup = Pickup("6.2k", "2.4 H", "120p")
    >>> wirings = {w: layouts.one_pickup(pickup, wiring=w) for w in ("modern", "50s")}
    >>> compare(wirings, dim="wiring", volume=[10, 5]).dims
    ('wiring', 'volume', 'frequency')
    """
    if not isinstance(builds, Mapping):
        raise BadSetting(
            dim,
            f"{a(type(builds))} is not a mapping of labels to guitars",
            "give {'no bleed': guitar_1, '1 nF': guitar_2}",
        )
    drive = source, pickups
    return responses(builds, frequency, at, reference_frequency, settings, dim, drive)


def responses(
    builds: Mapping[str, Harness] | Harness,
    frequency: Any,
    at: str,
    reference_frequency: float | str,
    settings: Mapping[str, Any],
    dim: str,
    drive: tuple[str, str],
    each: str = "pickup",
    sizes: bool = False,
) -> xr.DataArray:
    """Compute the response of one guitar or several; ``each`` names the dimension of pickups.

    With ``sizes`` the result is real, the size of the response: half the memory and half the
    time, for whoever asks for levels alone.
    """
    source, pickups = drive
    check_drive(source, pickups)
    if pickups != "sum" and each in settings:
        raise BadSetting(
            "pickups",
            f"{pickups!r} makes a dimension {each!r}, which is a setting too",
            "give guitars with different pickups to compare() as builds",
        )
    hertz = read_frequency(frequency)
    # The reference rides along as the last column, so that it is exact for any grid.
    reference = read_reference(reference_frequency)
    columns = np.append(hertz, reference)

    names: dict[tuple[str, ...], None] = {}

    def compute(guitar: Harness, resolved: Resolved) -> xr.Variable:
        node = node_at(guitar, at)
        driven = _driven(guitar, pickups)
        heard = []
        for only in driven:
            net = guitar.stamp(resolved.values, drive=Drive(source, only))
            voltage = ac.node_size if sizes else ac.node_voltage
            heard.append(voltage(net, node, columns, dims=resolved.dims))
        if pickups == "sum":
            return heard[0]
        names.setdefault(tuple(only[0] for only in driven if only))
        if len(names) > 1:
            raise BadSetting(
                "pickups", "differ from build to build", "compare builds with the same pickups"
            )
        return xr.Variable.concat(heard, dim=each).transpose(..., each, "frequency")

    both, coords, told = sweep(builds, settings, compute, points=columns.size, dim=dim)
    coords["frequency"] = xr.Variable(
        ("frequency",), hertz, {"units": "Hz", "long_name": "frequency"}
    )
    if pickups != "sum":
        coords[each] = xr.Variable((each,), np.array(next(iter(names))))
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
    return xr.DataArray(both[..., :-1], coords=coords, name="response", attrs=attrs)


def read_reference(reference_frequency: float | str) -> float:
    """Read the frequency [Hz] that relative levels refer to."""
    reference = _REFERENCE.read(reference_frequency, "reference_frequency")
    assert reference is not None
    check_size(np.array([reference]), "reference_frequency")
    return reference


def check_drive(source: str, pickups: str) -> None:
    """Refuse what drives no coils."""
    if not isinstance(source, str) or source not in ("string", "hum"):
        raise BadSetting("source", f"{source!r} is unknown", "use 'string' or 'hum'", source)
    if not isinstance(pickups, str) or pickups not in ("sum", "each", "each coil"):
        raise BadSetting(
            "pickups", f"{pickups!r} is unknown", "use 'sum', 'each' or 'each coil'", pickups
        )


def _driven(guitar: Harness, pickups: str) -> list[tuple[str, ...] | None]:
    """Name what is driven, run by run."""
    if pickups == "sum":
        return [None]
    found: list[tuple[str, ...] | None] = []
    for name, part in guitar.parts.items():
        if isinstance(part, Coil) or (isinstance(part, Humbucker) and pickups == "each"):
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
