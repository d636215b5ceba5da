"""What hardly any guitar has, asked of a harness: by what each part is for."""

from __future__ import annotations

from typing import Any

from ..parts.two_lug import bleed, is_network
from ..parts.usual import IN_PLACE, settle
from .harness import Harness
from .roles import roles

__all__ = ["ask_setting", "places_of"]

_PLACES = {
    "treble bleed": "treble bleed",
    **dict.fromkeys(("tone capacitor", "switched capacitor", "bass capacitor"), "tone capacitor"),
}


def places_of(guitar: Harness) -> dict[str, str]:
    """Name the place of each part that has one, by its role."""
    found = roles(guitar).items()
    return {name: _PLACES[role.kind] for name, role in found if role.kind in _PLACES}


def ask_setting(guitar: Harness, name: str, written: Any) -> None:
    """Ask about the value of a setting that a person entered; a mark or a place is none.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    name : str
        Path, as in `guitarnet.response`.
    written : object
        The value, as it was written.

    Raises
    ------
    Unusual
        If hardly any guitar has it.
    BadValue
        If it is no value.
    """
    owner, local = guitar.split(name)
    part = guitar.parts[owner]
    place = places_of(guitar).get(owner, "")
    if is_network(part, written) and not local:
        network = bleed(written)
        if network is not None and place:
            settle(network, name, place)
        return
    local = part.aliases().get(local, local) or part.main or ""
    spec = part.settable().get(local)
    if spec is None or local in part.controls:
        return
    spec.entered(written, name)
    in_place = IN_PLACE.get(place, {}).get(local.rpartition(".")[2])
    if in_place is not None:
        in_place.entered(written, name)
