"""The same guitar with its tone control on the other side of the volume pot."""

from __future__ import annotations

import dataclasses

import numpy as np

from ...circuit.harness import Harness
from ...circuit.roles import roles
from ...errors import BadSetting
from ...gate import public
from ...parts.output import Jack
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...solve import ac
from .port import bleed_place, knob_across

__all__ = ["other_wiring", "tones_across", "why_no_other", "wirings"]


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
    independent, output = _output(guitar, place, knob)
    label = _label(independent, at_output=1 - side == output)
    joined = []
    for joint in guitar.joined:
        kept = tuple(lug for lug in joint if lug not in moved)
        joined.append((*kept, *moved) if joint == joints[1 - side] else kept)
    return label, dataclasses.replace(guitar, joined=tuple(joined))


@public
def wirings(guitar: Harness, place: str | None = None) -> dict[str, Harness]:
    """Wire a guitar's volume in each of the usual ways; as it is comes first.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    place : str, optional
        Two-lug place across the volume pot, such as "treble_bleed", which may be empty; needed
        where there are several.

    Returns
    -------
    dict of str to Harness
        Guitars by label, as `guitarnet.explain` and `guitarnet.response` take them: "modern
        wiring", "50s wiring", "independent wiring" and "independent 50s wiring". Those with the
        tone control on the other side are missing if no tone control belongs to that volume alone.

    Raises
    ------
    BadHarness
        If there is no such place, or several.
    BadSetting
        If the place is not across a volume pot.

    Notes
    -----
    Modern: pickup on ``high``, output on the wiper, tone on the pickup side. 50s: the tone on
    the output side. Independent: pickup on the wiper, output on ``high``.

    References
    ----------
    Modern and 50s: Premier Guitar, on tone pot wiring. Independent: common practice, no source.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> list(wirings(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))))
    ['modern wiring', '50s wiring', 'independent wiring', 'independent 50s wiring']
    """
    where = place or bleed_place(guitar)
    guitar.split(where)
    knob = knob_across(guitar, where) if guitar.parts[where].lugs == ("a", "b") else None
    if knob is None:
        raise BadSetting(
            "place",
            f"{where} is no two-lug place across a volume pot",
            "name the place of a bleed, such as treble_bleed; it may be empty",
            where,
        )
    independent, output = _output(guitar, where, knob)
    joints = [_joint(guitar, f"{where}.{end}") for end in ("a", "b")]
    sides = set(_tones(guitar, joints, knob).values())
    found = {_label(independent, at_output=sides == {output}): guitar}
    ends = {f"{knob}.wiper": f"{knob}.high", f"{knob}.high": f"{knob}.wiper"}
    turned = dataclasses.replace(
        guitar, joined=tuple(tuple(ends.get(lug, lug) for lug in joint) for joint in guitar.joined)
    )
    if other := other_wiring(guitar, where):
        found[other[0]] = other[1]
    found[_label(not independent, at_output=sides == {output})] = turned
    if other := other_wiring(turned, where):
        found[other[0]] = other[1]
    return found


def _output(guitar: Harness, place: str, knob: str) -> tuple[bool, int]:
    """Tell whether the pickup is at the wiper, and at which end of the place the output is."""
    ends = [guitar.node(f"{place}.{end}") for end in ("a", "b")]
    outputs = [_is_output(guitar, f"{place}.{end}") for end in ("a", "b")]
    # The output is at the wiper unless the pickup is, also if the switch bypasses the volume.
    wiper = ends.index(guitar.node(f"{knob}.wiper"))
    independent = outputs[1 - wiper] and not outputs[wiper]
    return independent, 1 - wiper if independent else wiper


def _label(independent: bool, *, at_output: bool) -> str:
    """Name a wiring by where the pickup and the tone control are."""
    if at_output:
        return "independent 50s wiring" if independent else "50s wiring"
    return "independent wiring" if independent else "modern wiring"


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
