"""What to compare to say what a metre of cable costs with one guitar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...circuit.harness import Harness
from ...circuit.roles import roles
from ...errors import BadSetting
from ...parts.output import Cable
from ...units import prefers_feet, read_value, si_text

__all__ = ["cable_settings"]

_USUAL = {"metric": (1.0, 1.0, 6.0), "feet": (0.9144, 1.8288, 6.096)}  # a step, short, long [m]
_DOWN = 5.0  # mark


def cable_settings(
    guitar: Harness, lengths: Sequence[Any] = (), settings: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Set the guitar's own cable, one a metre longer (or 3 ft), and others; at volume 10 and 5.

    Parameters
    ----------
    guitar : Harness
        The guitar, with one cable.
    lengths : sequence of float or str
        Other lengths [m]; 1 m and 6 m, or 6 ft and 20 ft, unless given.
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
    step, *usual = _USUAL["feet" if prefers_feet() else "metric"]
    given = {read_value(one, "m", where="cable"): one for one in lengths or usual}
    each = {own: own, own + step: own + step, **given}
    written = [
        one if isinstance(one, str) else si_text(one, "m", digits=12) for one in each.values()
    ]
    volumes = [name for name, role in roles(guitar).items() if role.kind == "volume"]
    turned = {volumes[0]: [10, _DOWN]} if len(volumes) == 1 and volumes[0] not in others else {}
    return {path: written, **turned, **others}
