"""Slots of the hand-placed schematics: where each part of a guitar is drawn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ...circuit.harness import Harness
from ...circuit.roles import Role, pickups_in_order, roles
from ...parts.base import Part
from ...parts.choke import Choke
from ...parts.output import AmpInput, Cable, Jack
from ...parts.two_lug import Empty

__all__ = ["slots"]

_PICKUPS = {1: ("pickup",), 2: ("neck", "bridge"), 3: ("neck", "middle", "bridge")}
_KINDS: dict[type[Part], str] = {Jack: "jack", Cable: "cable", AmpInput: "amp", Choke: "choke"}
_ALONE = {
    "blend": "blend",
    "blender": "blender",
    "bass cut": "bass",
    "bass capacitor": "bass_capacitor",
    "capacitor selector": "selector",
}
_OWNED = {"volume": "volume", "series resistor": "resistor", "load resistor": "resistor"}


def slots(guitar: Harness) -> Iterator[dict[str, str]]:
    """Give each part the slot that its role asks for, in every order that the pickups may have.

    Slots are such as "volume" where it is that of all pickups, "neck_volume" where it is that of
    one; a tone of one pickup without a volume of its own is "tone_1" and so on. Nothing is given
    where a part has no slot, or two have the same.

    Parameters
    ----------
    guitar : Harness
        Any harness.

    Yields
    ------
    dict of str to str
        Slots by the names of parts.
    """
    known = roles(guitar)
    parts = {name: part for name, part in guitar.parts.items() if not isinstance(part, Empty)}
    plain = {name: _KINDS[type(part)] for name, part in parts.items() if type(part) in _KINDS}
    for order in pickups_in_order(guitar):
        filled = plain | _filled(guitar, known, order)
        slot_of = {name: slot for name, slot in filled.items() if name in parts}
        told_apart = len(set(slot_of.values())) == len(parts)
        if told_apart and not any("?" in slot for slot in slot_of.values()):
            yield slot_of


def _filled(guitar: Harness, known: Mapping[str, Role], order: Sequence[str]) -> dict[str, str]:
    """Slots of the parts with a role; the order matters, because some slots depend on others."""
    slot_of = dict(zip(order, _PICKUPS.get(len(order), ()), strict=False))
    slot_of |= {name: _ALONE[role.kind] for name, role in known.items() if role.kind in _ALONE}

    def of_kind(kind: str) -> list[str]:
        return [name for name, role in known.items() if role.kind == kind]

    def owner(name: str) -> str:
        """Slot of the one pickup that a part serves; "" where it serves all, "?" if several."""
        of = known[name].of
        return "" if len(of) == len(order) else slot_of.get(of[0], "?") if len(of) == 1 else "?"

    for kind, slot in _OWNED.items():
        for name in of_kind(kind):
            slot_of[name] = f"{owner(name)}_{slot}".lstrip("_")
    tones = sorted(of_kind("tone"), key=lambda name: [*map(order.index, known[name].of)])
    for number, name in enumerate(tones, 1):
        whose = owner(name)
        numbered = whose and f"{whose}_volume" not in slot_of.values()
        slot_of[name] = f"tone_{number}" if numbered else f"{whose}_tone".lstrip("_")
    for kind, old, new in (
        ("treble bleed", "volume", "bleed"),
        ("tone capacitor", "tone", "capacitor"),
    ):
        for name in of_kind(kind):
            of = known[name].of
            slot_of[name] = slot_of[of[0]].replace(old, new) if len(of) == 1 else new
    for name in of_kind("selector"):
        pull = f"{owner(name)}_pull_"
        number = 1 + sum(slot.startswith(pull) for slot in slot_of.values())
        slot_of[name] = f"{pull}{number}" if owner(name) else "switch"
    for selector in of_kind("capacitor selector"):
        nodes = [guitar.node(f"{selector}.{lug}") for lug in guitar.parts[selector].lugs]
        throws = {
            name: next(n for n, node in enumerate(nodes) if node in _ends(guitar, name))
            for name in known[selector].of
        }
        for number, name in enumerate(sorted(throws, key=throws.__getitem__), 1):
            slot_of[name] = f"switched_{number}"
    return slot_of


def _ends(guitar: Harness, name: str) -> list[str]:
    return [guitar.node(f"{name}.{lug}") for lug in ("a", "b")]
