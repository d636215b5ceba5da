"""A guitar for other programs: SPICE text, and lcapy."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting
from ...gate import public
from ...solve import spice
from ...units import Quantity
from ..response.response import node_at
from .symbols import one_setting

__all__ = ["to_lcapy", "to_spice"]

_HZ = Quantity("Hz", above=0)
_MOST_POINTS = 1_000_000


@public
def to_spice(
    guitar: Harness,
    settings: Settings = None,
    *,
    frequency: Sequence[float | str] = (20.0, 20e3),
    per_decade: int = 200,
    at: str = "amp",
    **keywords: Any,
) -> str:
    """Write a guitar at one setting as SPICE text.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    frequency : pair of float or str
        Lowest and highest frequency [Hz] of the AC analysis.
    per_decade : int
        Points for a factor of ten, spaced logarithmically.
    at : str
        Where to listen, as in `guitarnet.response`.
    settings, **keywords
        As in `guitarnet.response`, but one value each.

    Returns
    -------
    str
        Text for ``ngspice -b``: node 1 is the output, node 0 the jack's sleeve, each coil induces
        1 V. Comments name the lugs of each node and the value of each element. Zero ohm is a
        joint and an open part is left out, so the ends of a pot are exact.

    Raises
    ------
    BadSetting
        If a setting is a list, or the range is not right.
    BadValue, BadHarness
        As in `guitarnet.response`.
    NotExpressible
        If SPICE cannot express a part in the signal path, such as a constant dissipation factor.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> text = to_spice(layouts.one_pickup(Pickup("6k", "2.4 H", "120p")), volume=7)
    >>> text.splitlines()[-4:]
    ['.options noopac', '.ac dec 200 20.0 20000.0', '.print ac vr(1) vi(1)', '.end']
    """
    settings = one_mapping(settings, keywords)
    low, high = _range(frequency)
    if isinstance(per_decade, bool) or not isinstance(per_decade, int) or per_decade < 1:
        raise BadSetting(
            "per_decade", f"{per_decade!r} is no number of points", "give 1 or more", per_decade
        )
    if per_decade > _MOST_POINTS:
        raise BadSetting(
            "per_decade", "are too many points", f"give {_MOST_POINTS} at the most", per_decade
        )
    guitar, values = one_setting(guitar, settings, "SPICE text")
    lugs = {joint[0]: joint for joint in guitar.joined}
    net = guitar.stamp(values)
    return spice.spice_text(net, node_at(guitar, at), low, high, per_decade, lugs=lugs)


@public
def to_lcapy(
    guitar: Harness, settings: Settings = None, *, at: str = "amp", **keywords: Any
) -> Any:
    """Build a guitar at one setting as a circuit of the lcapy library.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    at : str
        Where to listen, as in `guitarnet.response`.
    settings, **keywords
        As in `guitarnet.response`, but one value each.

    Returns
    -------
    lcapy.Circuit
        Node 1 is the output, node 0 the jack's sleeve. Each coil induces 1 in the s domain, so
        ``circuit[1].V(lcapy.s)`` is the transfer function. Values are exact fractions, and all
        names are generated.

    Raises
    ------
    NotInstalled
        If lcapy is not installed.
    BadSetting
        If a setting is a list.
    BadValue, BadHarness
        As in `guitarnet.response`.
    NotExpressible
        If lcapy cannot express a part in the signal path, such as a constant dissipation factor.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6k", "2 H", "120p"), tone=None)
    >>> circuit = to_lcapy(guitar, volume=7)  # doctest: +SKIP
    >>> circuit[1].V(lcapy.s)  # doctest: +SKIP
    """
    settings = one_mapping(settings, keywords)
    guitar, values = one_setting(guitar, settings, "a circuit of lcapy")
    return spice.lcapy_circuit(guitar.stamp(values), node_at(guitar, at))


def _range(frequency: Any) -> tuple[float, float]:
    if isinstance(frequency, str) or not isinstance(frequency, Sequence) or len(frequency) != 2:
        raise BadSetting(
            "frequency",
            f"{frequency!r} is no range",
            "give the lowest and the highest, such as (20, '20 kHz')",
            frequency,
        )
    low, high = (_HZ.read(value, "frequency") for value in frequency)
    assert low is not None
    assert high is not None
    if low > high:
        raise BadSetting(
            "frequency",
            f"{frequency[0]} to {frequency[1]} falls",
            "give the lowest first",
            frequency,
        )
    return low, high
