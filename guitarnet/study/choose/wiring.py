"""The same guitar with its tone control on the other side of the volume pot."""

from __future__ import annotations

import dataclasses

import numpy as np

from ...circuit.harness import Harness
from ...circuit.roles import roles
from ...parts.output import Jack
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...solve import ac
from .port import knob_across

__all__ = ["other_wiring", "tones_across", "why_no_other"]


def other_wiring(guitar: Harness, place: str) -> tuple[str, Harness] | None:
    """Move the tone control from one end of a bleed's place to the other.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    place : str
        Two-lug place across its volume pot.

    Returns
    -------
    label : str
        "50s wiring" if the tone control moves to the output side, "modern wiring" if it leaves
        it; "independent 50s wiring" and "independent wiring" if the pickup is at the volume's
        wiper.
    harness : Harness
        The guitar with this wiring.

    None is returned if no tone control belongs to that volume pot alone: there is none, there is
    one on either side, or another pot shares it or a switch connects it (see `why_no_other`).
    """
    knob = knob_across(guitar, place)
    if knob is None:
        return None
    joints = [_joint(guitar, f"{place}.{end}") for end in ("a", "b")]
    moved = _tones(guitar, joints, knob)
    sides = set(moved.values())
    if len(sides) != 1:
        return None
    side = sides.pop()
    shared = [
        lug
        for lug in joints[side]
        if isinstance(guitar.parts[_part(lug)], Pot) and _part(lug) != knob and lug not in moved
    ]
    if shared:
        return None
    ends = [guitar.node(f"{place}.{end}") for end in ("a", "b")]
    outputs = [_is_output(guitar, f"{place}.{end}") for end in ("a", "b")]
    # The output is at the wiper unless the pickup is, also if the switch bypasses the volume.
    wiper = ends.index(guitar.node(f"{knob}.wiper"))
    independent = outputs[1 - wiper] and not outputs[wiper]
    output = 1 - wiper if independent else wiper
    if 1 - side == output:
        label = "independent 50s wiring" if independent else "50s wiring"
    else:
        label = "independent wiring" if independent else "modern wiring"
    joined = []
    for joint in guitar.joined:
        kept = tuple(lug for lug in joint if lug not in moved)
        joined.append((*kept, *moved) if joint == joints[1 - side] else kept)
    return label, dataclasses.replace(guitar, joined=tuple(joined))


def why_no_other(guitar: Harness, place: str) -> str:
    """Reason why `other_wiring` finds none; "" if the guitar has no tone control.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    place : str
        Two-lug place across its volume pot.

    Returns
    -------
    str
        The reason, in a few words.
    """
    knob = knob_across(guitar, place) or ""
    joints = [_joint(guitar, f"{place}.{end}") for end in ("a", "b")]
    if len(set(_tones(guitar, joints, knob).values())) > 1:
        return "there is a tone control on either side of the pot"
    if _all_tones(guitar):
        return "the tone control does not belong to this pot alone"
    return ""


def tones_across(guitar: Harness, place: str) -> list[str]:
    """Names of the tone controls at both ends of a bleed's place.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    place : str
        Two-lug place across a volume pot.

    Returns
    -------
    list of str
        Names of the pots.
    """
    knob = knob_across(guitar, place) or ""
    joints = [_joint(guitar, f"{place}.{end}") for end in ("a", "b")]
    return list(dict.fromkeys(_part(lug) for lug in _tones(guitar, joints, knob)))


def _tones(guitar: Harness, joints: list[tuple[str, ...]], knob: str) -> dict[str, int]:
    """Lugs of tone controls at the two joints of a place, with their side."""
    tones = _all_tones(guitar)
    return {lug: side for side in (0, 1) for lug in joints[side] if _part(lug) in tones - {knob}}


def _all_tones(guitar: Harness) -> set[str]:
    return {name for name, role in roles(guitar).items() if role.kind == "tone"}


def _part(lug: str) -> str:
    return lug.partition(".")[0]


def _joint(guitar: Harness, lug: str) -> tuple[str, ...]:
    node = guitar.node(lug)
    return next(joint for joint in guitar.joined if joint[0] == node)


def _is_output(guitar: Harness, lug: str) -> bool:
    """Whether a lug is joined to the jack's tip, directly or through the switch as set."""
    other = [name for name, part in guitar.parts.items() if not isinstance(part, (Switch, Jack))]
    net = guitar.stamp(without=other)
    net.ground = guitar.node(f"{guitar.only(Jack)}.tip")
    ohms = ac.node_impedance(net, guitar.node(lug), np.zeros(1))
    return bool(abs(ohms.values[0]) == 0)
