"""Edits of a harness that no one would solder on purpose: each returns another harness.

Whoever looks for a fault asks what a harness would do if a joint came off, two lugs touched or
two leads changed places. The edited harness answers every question that a sound one does.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Iterable, Mapping, Sequence

from ..errors import BadHarness
from ..gate import computing
from ..parts.output import AmpInput, Cable, Jack
from ..parts.two_lug import Empty, Resistor
from .harness import Harness

__all__ = ["bridged", "free_name", "leads", "renamed", "separated", "swapped", "through"]


def leads(harness: Harness, joint: Sequence[str]) -> list[tuple[str, ...]]:
    """List what is soldered at a joint, lead by lead.

    A lug of the jack counts together with the plug in it: a lead comes off the jack, the plug
    stays in. An empty place has no lead.

    Parameters
    ----------
    harness : Harness
        The harness.
    joint : sequence of str
        Lugs of one joint.

    Returns
    -------
    list of tuple of str
        Lugs that come off together.
    """

    def of(*kinds: type) -> list[str]:
        return [lug for lug in joint if isinstance(harness.parts[lug.partition(".")[0]], kinds)]

    plugs, empty, sockets = of(Cable, AmpInput), of(Empty), of(Jack)
    own = [(lug,) for lug in joint if lug not in (*plugs, *empty, *sockets)]
    return own + ([(*sockets, *plugs)] if sockets else [])


def renamed(harness: Harness, names: Mapping[str, str]) -> Harness:
    """Call parts otherwise.

    Parameters
    ----------
    harness : Harness
        The harness.
    names : mapping of str to str
        New names by old ones; a part that is not listed keeps its own.

    Returns
    -------
    Harness
        The same parts in the same order, joined alike.

    Raises
    ------
    BadHarness
        If a name cannot name a part, or two parts would have the same.
    """
    parts = {names.get(name, name): part for name, part in harness.parts.items()}
    if len(parts) < len(harness.parts):
        raise BadHarness(harness.name, "would have two parts of one name", "give each its own")

    def moved(lug: str) -> str:
        name, _, local = lug.partition(".")
        return f"{names.get(name, name)}.{local}"

    joined = tuple(tuple(map(moved, joint)) for joint in harness.joined)
    return Harness(parts, joined, tuple(map(moved, harness.open_lugs)), harness.name)


def separated(harness: Harness, *lugs: str) -> Harness:
    """Take lugs of one joint off it, still joined to each other.

    Parameters
    ----------
    harness : Harness
        The harness.
    *lugs : str
        Lugs of one joint.

    Returns
    -------
    Harness
        The harness with two joints for one; a lug that is left alone is declared open.

    Raises
    ------
    BadHarness
        If the lugs are not all at one joint.
    """
    rest = [lug for lug in _joint(harness, lugs) if lug not in lugs]
    return _joined_anew(harness, [*_others(harness, lugs), rest, list(lugs)])


def swapped(harness: Harness, these: Sequence[str], those: Sequence[str]) -> Harness:
    """Let leads change places: what was joined to these lugs goes to those, and the reverse.

    Parameters
    ----------
    harness : Harness
        The harness.
    these, those : sequence of str
        Lugs, each of one joint; open lugs may be swapped too.

    Returns
    -------
    Harness
        The harness with both joints made anew.

    Raises
    ------
    BadHarness
        If the lugs of one side are not all at one joint, or both sides are at the same.
    """
    one, other = _joint(harness, these), _joint(harness, those)
    if set(one) & set(other):
        raise BadHarness(
            f"{these[0]} and {those[0]}", "are at the same joint", "swap lugs of two joints"
        )
    made = [
        [lug for lug in one if lug not in these] + list(those),
        [lug for lug in other if lug not in those] + list(these),
    ]
    return _joined_anew(harness, [*_others(harness, (*one, *other)), *made])


def bridged(harness: Harness, one: str, other: str, ohms: float | str = 0.0) -> Harness:
    """Let two lugs touch, or join them by a resistance.

    Parameters
    ----------
    harness : Harness
        The harness.
    one, other : str
        Lugs.
    ohms : float or str
        Resistance between them [ohm].

    Returns
    -------
    Harness
        The harness with a resistor more, named ``fault`` (or ``fault_2``, where that is taken).
        That a short is a part of 0 ohm keeps apart what is joined and what only touches.

    Raises
    ------
    BadHarness
        If a lug does not exist.
    BadValue
        If the resistance is negative or not a value.
    """
    name = free_name(harness)
    touched = [harness.node(lug) for lug in (one, other)]
    opened = tuple(lug for lug in harness.open_lugs if lug not in touched)
    joined = (*harness.joined, (one, f"{name}.a"), (other, f"{name}.b"))
    with computing():
        parts = {**harness.parts, name: Resistor(ohms)}
    return dataclasses.replace(harness, parts=parts, joined=joined, open_lugs=opened)


def free_name(harness: Harness) -> str:
    """Name that the next resistor of `bridged` or `through` gets.

    Parameters
    ----------
    harness : Harness
        The harness.

    Returns
    -------
    str
        "fault", or "fault_2" and so on where that is taken.
    """
    more = (f"fault_{number}" for number in itertools.count(2))
    return next(free for free in itertools.chain(["fault"], more) if free not in harness.parts)


def through(harness: Harness, lugs: Sequence[str], ohms: float | str) -> Harness:
    """Put a resistance between some lugs of a joint and the rest of it: a bad joint.

    Parameters
    ----------
    harness : Harness
        The harness.
    lugs : sequence of str
        Lugs of one joint.
    ohms : float or str
        Resistance of the joint [ohm].

    Returns
    -------
    Harness
        The harness with a resistor more, as in `bridged`.

    Raises
    ------
    BadHarness
        If the lugs are not all at one joint, or are all of it.
    BadValue
        If the resistance is negative or not a value.
    """
    rest = [lug for lug in _joint(harness, lugs) if lug not in lugs]
    if not rest:
        raise BadHarness(lugs[0], "is joined to nothing else", "name some lugs of a joint")
    return bridged(separated(harness, *lugs), rest[0], lugs[0], ohms)


def _joint(harness: Harness, lugs: Sequence[str]) -> tuple[str, ...]:
    """The joint at which lugs are; an open lug is by itself."""
    node = harness.node(lugs[0])
    joint = next((joint for joint in harness.joined if joint[0] == node), (lugs[0],))
    for lug in lugs:
        if lug not in joint:
            raise BadHarness(lug, f"is not at the joint of {lugs[0]}", "name lugs of one joint")
    return joint


def _others(harness: Harness, lugs: Iterable[str]) -> list[list[str]]:
    """Joints that none of the lugs is at."""
    return [list(joint) for joint in harness.joined if not set(joint).intersection(lugs)]


def _joined_anew(harness: Harness, joints: Iterable[Sequence[str]]) -> Harness:
    """The harness with these joints, in which whoever is alone is declared open."""
    groups = [tuple(joint) for joint in joints if joint]
    joined = tuple(joint for joint in groups if len(joint) > 1)
    taken = {lug for joint in joined for lug in joint}
    alone = [joint[0] for joint in groups if len(joint) == 1]
    opened = (*(lug for lug in harness.open_lugs if lug not in taken), *alone)
    return dataclasses.replace(harness, joined=joined, open_lugs=opened)
