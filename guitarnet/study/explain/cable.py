"""What to compare to say what a metre of cable costs with one guitar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...circuit.harness import Harness
from ...circuit.roles import roles
from ...errors import BadSetting
from ...parts.output import Cable
from ...units import format_value, read_value

__all__ = ["cable_settings"]

_SHORT, _LONG = 1.0, 6.0  # m
_DOWN = 5.0  # mark


def cable_settings(
    guitar: Harness, lengths: Sequence[Any] = (), settings: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Set the guitar's own cable, one a metre longer, and others; at volume 10 and 5.

    Parameters
    ----------
    guitar : Harness
        The guitar, with one cable.
    lengths : sequence of float or str
        Other lengths [m]; 1 m and 6 m unless given.
    settings : mapping, optional
        All other settings, one value each. A guitar of several volumes has all at 10 unless one
        is set.

    Returns
    -------
    dict of str to object
        Settings as `guitarnet.response` takes them.

    Raises
    ------
    BadHarness
        If the guitar has no cable, or several.
    BadSetting
        If the length is among the settings.
    """
    others = dict(settings or {})
    path = f"{guitar.only(Cable)}.length"
    if taken := [name for name in others if name in (path, path.partition(".")[0])]:
        raise BadSetting(
            taken[0], "is what is compared", "give the lengths by themselves, as '3 m'", taken[0]
        )
    own = guitar.parts[path.partition(".")[0]].length  # type: ignore[attr-defined]
    given = {read_value(one, "m", where="cable"): one for one in lengths or (_SHORT, _LONG)}
    each = {own: own, own + 1: own + 1, **given}
    written = [
        one if isinstance(one, str) else format_value(one, "m", digits=12) for one in each.values()
    ]
    volumes = [name for name, role in roles(guitar).items() if role.kind == "volume"]
    turned = {volumes[0]: [10, _DOWN]} if len(volumes) == 1 and volumes[0] not in others else {}
    return {path: written, **turned, **others}
