"""The circuit as it is seen from outside: what a meter looks into."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import xarray as xr

from ...circuit.harness import Harness
from ...circuit.netlist import Netlist
from ...parts.base import Part, Values
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pickup import Coil

__all__ = ["net_at_meter", "warmed_coils"]


def warmed_coils(
    parts: Mapping[str, Part], values: Mapping[str, Any], warmed: Any
) -> dict[str, Any]:
    """Resistance of every coil of some parts, by path, at another temperature than 20 °C.

    Parameters
    ----------
    parts : mapping of str to Part
        Parts by name.
    values : mapping of str to value
        Values by full path, in SI.
    warmed : float or labelled array
        Resistance of the coils over that at 20 °C, from `coil_warmth`.

    Returns
    -------
    dict of str to value
        Resistance [ohm] by path; nothing where no coil is warmer or colder.
    """
    if not isinstance(warmed, xr.Variable) and warmed == 1:
        return {}
    return {
        path: ohms * warmed
        for name, part in parts.items()
        for path, ohms in _coils(name, part, Values(part, name, values))
    }


def _coils(name: str, part: Part, values: Values) -> Iterator[tuple[str, Any]]:
    """Path and value of the resistance of every coil of a part."""
    if isinstance(part, Coil):
        yield f"{name}.resistance", values.resistance
    for step, inside in part.inner().items():
        yield from _coils(f"{name}.{step}", inside, values.inner(step, inside))


def net_at_meter(
    harness: Harness, values: Mapping[str, Any], at: str = "jack", warmed: Any = 1.0
) -> tuple[Netlist, str]:
    """Stamp a harness for a meter, and name the node of its hot probe.

    Parameters
    ----------
    harness : Harness
        The guitar.
    values : mapping of str to value
        Values by full path, in SI.
    at : {"jack", "amp"}
        With the amp removed, looking into the plug; or with the amp.
    warmed : float or labelled array
        Resistance of the coils over that at 20 °C, from `coil_warmth`.

    Returns
    -------
    net : Netlist
        The circuit.
    node : str
        The hot probe's node; the other probe is at ground.
    """
    amp = harness.only(AmpInput, needed=False)
    cable = harness.only(Cable, needed=False)
    plug = f"{cable}.amp_tip" if cable else f"{harness.only(Jack)}.tip"
    values = {**values, **warmed_coils(harness.parts, values, warmed)}
    net = harness.stamp(values, [amp] if amp and at == "jack" else [])
    return net, harness.node(plug if at == "jack" else harness.output_lug())
