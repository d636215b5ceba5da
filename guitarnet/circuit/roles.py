"""What each part is for, read from joints and contacts and never from what a part is called.

A part has a role if it acts so in any position of the switches. *Ground* is the jack's sleeve;
the *signal* is at the lugs of pickups, at the jack's tip, and at every pot of which all three
lugs are in use. A side of a part *leads to* whatever is reached from it through two-lug parts.

========================= =======================================================================
role                      rule, and what it is the role ``of``
========================= =======================================================================
pickup                    a coil or humbucker
volume                    a pot with one end that leads to ground and to no capacitor on the way,
                          the other end and the wiper in the signal; of the pickups on that side
                          of it which is not the jack's
tone                      a pot of which two lugs are in use, one side leading to ground, the
                          other to the signal, with a capacitor on the way; of the pickups of the
                          volume at which it is joined, else of those that it meets in every
                          position in which it is in circuit, or of all it meets
tone capacitor            the capacitor, or the network that holds one, on that way; of the tones
treble bleed              a capacitor, resistor, network or empty place across a volume's in- and
                          output; of that volume
blend                     a blend pot; of the pickups
blender                   a pot of which two lugs are in use, at a pickup each; of these
bass cut, bass capacitor  a pot of which two lugs are in use, or a switch, across a capacitor in
                          the signal; of each other
series resistor           a resistor in the signal; of the pickups on the side away from the jack
load resistor             a resistor from a pickup to ground; of that pickup
selector                  a switch that changes which lugs of pickups lead to the tip, are at
                          ground or are joined to each other; of these pickups
capacitor selector        any other switch with a capacitor alone at one of its lugs; of these
switched capacitor        such a capacitor, if it has no other role; of the switch
========================= =======================================================================

Where a pickup sits no joint can tell: its ``position`` says so.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ..errors import BadHarness, BadSetting
from ..groups import Groups
from ..parts.base import Part
from ..parts.blend import BlendPot
from ..parts.humbucker import Humbucker
from ..parts.output import Jack
from ..parts.pickup import Coil
from ..parts.pot import Pot
from ..parts.switch import Switch
from ..parts.two_lug import Capacitor, Empty, Network, Resistor
from .harness import Harness

__all__ = ["Role", "pickups_in_order", "roles", "the_volume"]

_MOST = 64
"""Positions of all switches together that are looked at; of more, each switch by itself."""
_KINDS = (
    *("pickup", "volume", "tone", "treble bleed", "tone capacitor", "blend", "blender"),
    *("bass cut", "bass capacitor", "selector", "capacitor selector", "switched capacitor"),
    *("series resistor", "load resistor"),
)
"""Kinds of roles; of several that a part may have, the first counts."""
_PLACES = (Empty, Capacitor, Resistor, Network)
_FROM_NECK = {"neck": 0, "middle": 1, "": 1, "bridge": 2}
_SEVERAL = 3  # pickups, of which every order is tried


@dataclass(frozen=True)
class Role:
    """What a part is for: the kind of role, and the parts that it has the role for."""

    kind: str
    of: tuple[str, ...] = ()


def roles(guitar: Harness) -> dict[str, Role]:
    """Tell what each part of a harness is for; a part without a role is left out.

    Parameters
    ----------
    guitar : Harness
        Any harness, whole or not. Without one jack there is no signal, and pickups alone have
        a role.

    Returns
    -------
    dict of str to Role
        In the order of the parts.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> found = roles(layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n"))
    >>> {name: role.kind for name, role in found.items()}  # doctest: +NORMALIZE_WHITESPACE
    {'pickup': 'pickup', 'volume': 'volume', 'tone': 'tone', 'tone_capacitor': 'tone capacitor',
     'treble_bleed': 'treble bleed'}
    """
    found: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    for name in _names(guitar, Coil, Humbucker):
        found[name]["pickup"] = set()
    try:
        jack = guitar.only(Jack)
    except BadHarness:
        jack = None
    if jack:
        states = {places: _State(guitar, jack, places) for places in _positions(guitar)}
        every = list(states.values())
        volumes = _volumes(every)
        for name, kind, of in (
            *((name, "volume", of) for name, of in volumes.items()),
            *_tones(guitar, every, volumes),
            *_small_parts(guitar, every),
            *_switches(guitar, states),
        ):
            found[name][kind] |= of
    order = list(guitar.parts)
    made = {}
    for name in order:
        if kinds := found.get(name):
            kind = min(kinds, key=_KINDS.index)
            made[name] = Role(kind, tuple(sorted(kinds[kind], key=order.index)))
    return made


def the_volume(guitar: Harness) -> str:
    """Name the one volume.

    Raises
    ------
    BadSetting
        If there is none, or there are several.
    """
    found = [name for name, role in roles(guitar).items() if role.kind == "volume"]
    if len(found) == 1:
        return found[0]
    if not found:
        raise BadSetting("knob", f"{guitar.name} has no volume", "name the knob that is turned")
    raise BadSetting(
        "knob",
        f"{guitar.name} has {len(found)} volumes",
        f"name one: {' or '.join(repr(name) for name in found)}",
    )


def pickups_in_order(guitar: Harness) -> list[list[str]]:
    """Name the pickups from neck to bridge, in every order that their positions leave open.

    Parameters
    ----------
    guitar : Harness
        The guitar.

    Returns
    -------
    list of list of str
        The order in which the harness holds them first, as far as no position says otherwise.
    """

    def place(name: str) -> int:
        return _FROM_NECK[guitar.parts[name].position]  # type: ignore[attr-defined]

    names = sorted(_names(guitar, Coil, Humbucker), key=place)
    if len(names) > _SEVERAL:
        return [names]
    orders = map(list, itertools.permutations(names))
    return [order for order in orders if sorted(order, key=place) == order]


# -- one position of the switches -----------------------------------------------------------------


class _State:
    """The joints of a harness with the contacts of one position of every switch closed."""

    def __init__(self, guitar: Harness, jack: str, places: Iterable[str]) -> None:
        self.parts = guitar.parts
        closed: Groups[str] = Groups()
        for name, place in zip(_names(guitar, Switch), places, strict=True):
            for group in dict(self.parts[name].contacts)[place]:  # type: ignore[attr-defined]
                one, *others = (guitar.node(f"{name}.{lug}") for lug in group)
                for other in others:
                    closed.merge(one, other)
        lugs = [f"{name}.{lug}" for name, part in self.parts.items() for lug in part.lugs]
        node = {lug: closed.find(guitar.node(lug)) for lug in lugs}
        self.node = node
        self.ground, self.tip = node[f"{jack}.sleeve"], node[f"{jack}.tip"]
        self.at: dict[str, list[str]] = defaultdict(list)
        for lug, own in node.items():
            if not isinstance(self.parts[_part(lug)], Empty):
                self.at[own].append(lug)
        self.dividers = {name for name in _names(guitar, Pot) if len(self.used(name)) == 3}
        self.signal = {self.tip: {jack}}
        for name in (*_names(guitar, Coil, Humbucker, BlendPot), *self.dividers):
            for own in self.nodes(name):
                self.signal.setdefault(own, set()).add(name)

    def nodes(self, name: str) -> list[str]:
        """Nodes of a part's lugs."""
        return [self.node[f"{name}.{lug}"] for lug in self.parts[name].lugs]

    def used(self, name: str) -> dict[str, str]:
        """Lugs of a pot at which something else is joined, by their node; the wiper first."""
        lugs = ("wiper", "high", "low")
        by_node = {self.node[f"{name}.{lug}"]: lug for lug in reversed(lugs)}
        return {
            own: by_node[own]
            for own in dict.fromkeys(self.node[f"{name}.{lug}"] for lug in lugs)
            if any(_part(lug) != name for lug in self.at[own])
        }

    def rheostat(self, name: str) -> list[str]:
        """The two nodes between which a pot is a variable resistor; none if it is not."""
        used = self.used(name)
        return list(used) if len(used) == 2 and "wiper" in used.values() else []

    def leads(self, start: str, own: str) -> tuple[set[str], set[str]]:
        """Where a side of a part leads to, and the two-lug parts on the way."""
        ends, crossed, seen, todo = set(), set(), {start}, [start]
        while todo:
            here = todo.pop()
            if here == self.ground or self.signal.get(here, set()) - {own}:
                ends.add(here)
                continue
            for name in {_part(lug) for lug in self.at[here]} - {own}:
                if self.parts[name].lugs == ("a", "b"):
                    crossed.add(name)
                    todo += set(self.nodes(name)) - seen
                    seen |= set(self.nodes(name))
        return ends, crossed

    def reached(self, start: str, without: Iterable[str] = (), *, coils: bool = True) -> set[str]:
        """Nodes that the signal reaches from one: past pots and coils, not past tip or ground."""
        seen, todo = {start}, [start]
        while todo:
            here = todo.pop()
            if here == self.ground or (here == self.tip and here != start):
                continue
            for name in {_part(lug) for lug in self.at[here]} - set(without):
                part = self.parts[name]
                through = part.lugs == ("a", "b") or name in self.dividers
                through |= isinstance(part, BlendPot)
                if through or (coils and isinstance(part, (Coil, Humbucker))):
                    todo += set(self.nodes(name)) - seen
                    seen |= set(self.nodes(name))
        return seen

    def pickups(self, nodes: set[str]) -> set[str]:
        """Pickups with a lug at one of the nodes, ground aside."""
        here = {name for node in nodes - {self.ground} for name in self.signal.get(node, ())}
        return {name for name in here if isinstance(self.parts[name], (Coil, Humbucker))}

    def across(self, one: str, other: str) -> set[str]:
        """Places between two nodes that a network may be put in."""
        return {
            name
            for name, part in self.parts.items()
            if isinstance(part, _PLACES) and set(self.nodes(name)) == {one, other}
        }

    def in_signal(self, name: str) -> bool:
        """Whether both sides of a two-lug part lead to the signal."""
        one, other = self.nodes(name)
        return one != other and all(
            self.leads(own, name)[0] - {self.ground} for own in (one, other)
        )

    def connected(self) -> dict[str, list[tuple[bool, bool, int]]]:
        """How each pickup's lugs are connected: grounded, to the tip, to which lug of its own."""
        reached = self.reached(self.tip, coils=False)
        return {
            name: [(own == self.ground, own in reached, nodes.index(own)) for own in nodes]
            for name, part in self.parts.items()
            if isinstance(part, (Coil, Humbucker))
            for nodes in [self.nodes(name)]
        }

    def upstream(self, name: str, one: str, other: str) -> set[str]:
        """Pickups on that side of a part in the signal which is not the jack's."""
        apart = {name} | self.across(one, other)
        sides = [self.reached(node, apart) for node in (one, other)]
        away = [side for side in sides if self.tip not in side]
        found = [self.pickups(side) for side in (away if len(away) == 1 else sides)]
        found = [pickups for pickups in found if pickups]
        return found[0] if len(found) == 1 else set()


def _positions(guitar: Harness) -> Iterator[tuple[str, ...]]:
    """Every position of all switches; of too many, each switch's with the others in their first."""
    places = [guitar.parts[name].places for name in _names(guitar, Switch)]  # type: ignore[attr-defined]
    if math.prod(map(len, places)) <= _MOST:
        yield from itertools.product(*places)
        return
    first = tuple(own[0] for own in places)
    yield first
    for number, own in enumerate(places):
        yield from ((*first[:number], place, *first[number + 1 :]) for place in own[1:])


# -- the rules ------------------------------------------------------------------------------------

_Found = Iterator[tuple[str, str, set[str]]]


def _volumes(states: Iterable[_State]) -> dict[str, set[str]]:
    """Volumes, and the pickups of each."""
    found: dict[str, set[str]] = defaultdict(set)
    for state in states:
        for name, live, wiper in _divided(state):
            found[name] |= state.upstream(name, live, wiper)
    return found


def _divided(state: _State) -> Iterator[tuple[str, str, str]]:
    """Pots that divide the signal, and the nodes of their live end and wiper."""
    for name in state.dividers:
        for live, low in (("high", "low"), ("low", "high")):
            ends, crossed = state.leads(state.node[f"{name}.{low}"], name)
            nodes = state.node[f"{name}.{live}"], state.node[f"{name}.wiper"]
            to_ground = ends == {state.ground} and not _capacitors(state.parts, crossed)
            if to_ground and all(state.leads(own, name)[0] - {state.ground} for own in nodes):
                yield name, *nodes
                break


def _tones(guitar: Harness, states: list[_State], volumes: dict[str, set[str]]) -> _Found:
    """Tones and their capacitors."""
    met: dict[str, list[set[str]]] = defaultdict(list)
    for state, name in itertools.product(states, _names(guitar, Pot)):
        nodes = state.rheostat(name)
        sides = [state.leads(own, name) for own in nodes]
        grounded = [ends == {state.ground} for ends, _ in sides]
        if sum(grounded) != 1 or not all(ends for ends, _ in sides):
            continue
        cold, hot = sorted((0, 1), key=grounded.__getitem__, reverse=True)
        on_the_way = (_capacitors(state.parts, sides[side][1]) for side in (cold, hot))
        if capacitors := next(filter(None, on_the_way), None):
            met[name].append(_met(guitar, state, name, nodes[hot], volumes))
            yield from ((capacitor, "tone capacitor", {name}) for capacitor in capacitors)
    for name, each in met.items():
        yield name, "tone", set.intersection(*each) or set().union(*each)


def _met(
    guitar: Harness, state: _State, tone: str, hot: str, volumes: dict[str, set[str]]
) -> set[str]:
    """Pickups that a tone meets: those of the volumes it is joined at, else all in reach."""
    joints = {guitar.node(lug) for lug in state.at[hot] if _part(lug) == tone}
    joined = [
        of
        for volume, of in volumes.items()
        if any(guitar.node(f"{volume}.{lug}") in joints for lug in ("high", "wiper"))
    ]
    return set().union(*joined) or state.pickups(state.reached(hot, [tone]))


def _small_parts(guitar: Harness, states: list[_State]) -> _Found:
    """What lies across a volume, between pickups, in the signal or across a pickup."""
    for state in states:
        for volume, live, wiper in _divided(state):
            yield from ((name, "treble bleed", {volume}) for name in state.across(live, wiper))
        for name in _names(guitar, BlendPot):
            yield name, "blend", state.pickups(state.reached(state.nodes(name)[0]))
        for name in _names(guitar, Pot):
            nodes = state.rheostat(name)
            if nodes and state.ground not in nodes:
                yield from _bass_cut(state, name, state.across(*nodes))
                each = [_soldered(guitar, f"{name}.{lug}") for lug in state.used(name).values()]
                if all(each) and each[0] != each[1]:
                    yield name, "blender", set().union(*each)
        for name in _names(guitar, Resistor):
            ends = state.nodes(name)
            if state.in_signal(name):
                yield name, "series resistor", state.upstream(name, *ends)
            elif state.ground in ends:
                of = set().union(*(_soldered(guitar, f"{name}.{lug}") for lug in ("a", "b")))
                if of:
                    yield name, "load resistor", of


def _soldered(guitar: Harness, lug: str) -> set[str]:
    """Pickups that are soldered to a lug, whatever a switch does, ground aside."""
    node = guitar.node(lug)
    pickups = _names(guitar, Coil, Humbucker)
    return {
        name
        for name in pickups
        if node != guitar.ground
        and any(guitar.node(f"{name}.{own}") == node for own in guitar.parts[name].lugs)
    }


def _bass_cut(state: _State, control: str, across: Iterable[str]) -> _Found:
    """A control and the capacitors in the signal that it lies across."""
    for capacitor in _capacitors(state.parts, across):
        if state.in_signal(capacitor):
            yield control, "bass cut", {capacitor}
            yield capacitor, "bass capacitor", {control}


def _switches(guitar: Harness, states: dict[tuple[str, ...], _State]) -> _Found:
    """What switches select: pickups or their coils, or capacitors."""
    names = _names(guitar, Switch)
    connected = {places: state.connected() for places, state in states.items()}
    first = next(iter(states))
    for number, name in enumerate(names):
        for places, now in connected.items():
            then = connected.get((*places[:number], first[number], *places[number + 1 :]), now)
            of = {pickup for pickup, how in now.items() if how != then[pickup]}
            if of:
                yield name, "selector", of
        lugs = [f"{name}.{lug}" for lug in guitar.parts[name].lugs]
        joints = {guitar.node(lug) for lug in lugs}
        for other in _capacitors(guitar.parts, guitar.parts):
            ends = [guitar.node(f"{other}.{lug}") for lug in guitar.parts[other].lugs]
            if set(ends) <= joints:
                for state in states.values():
                    yield from _bass_cut(state, name, {other})
            alone = [joint for joint in guitar.joined if joint[0] in ends]
            if any({*joint} <= {*lugs, f"{other}.a", f"{other}.b"} for joint in alone):
                yield name, "capacitor selector", {other}
                yield other, "switched capacitor", {name}


def _names(guitar: Harness, *kinds: type[Part]) -> list[str]:
    """Names of the parts of some kinds."""
    return [name for name, part in guitar.parts.items() if isinstance(part, kinds)]


def _part(lug: str) -> str:
    return lug.partition(".")[0]


def _capacitors(parts: Mapping[str, Part], names: Iterable[str]) -> set[str]:
    """Those of some two-lug parts that are a capacitor or hold one."""

    def holds(part: Part) -> bool:
        return isinstance(part, Capacitor) or any(map(holds, part.inner().values()))

    return {name for name in names if parts[name].lugs == ("a", "b") and holds(parts[name])}
