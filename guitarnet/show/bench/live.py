"""What is in the circuit while the switches stand somewhere: by continuity, from their contacts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ...circuit.bench_lists import words_of
from ...circuit.harness import Harness
from ...errors import BadSetting, nearest
from ...groups import Groups
from ...parts.blend import BlendPot
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Empty
from ...units import sentence

__all__ = ["Live", "live_at"]

Edge = tuple[str, str, str]


@dataclass(frozen=True)
class Live:
    """Parts and lugs in the circuit, and a sentence on how the switches stand."""

    parts: frozenset[str]
    lugs: frozenset[str]
    sentence: str


def live_at(guitar: Harness, places: Mapping[str, str]) -> Live:
    """Find what lies on a way from the tip of the jack to its sleeve.

    Raises
    ------
    BadSetting
        If there is no such switch or place.
    """
    switches = {n: part for n, part in guitar.parts.items() if isinstance(part, Switch)}
    for name, place in places.items():
        if name not in switches:
            raise BadSetting(str(name), "the guitar has no such switch", nearest(name, switches))
        if place not in switches[name].places:
            fix = nearest(str(place), switches[name].places)
            raise BadSetting(name, f"{place!r} is no place of this switch", fix)
    nodes: Groups[str] = Groups()
    sentences = []
    for name, switch in switches.items():
        place = places.get(name, switch.place)
        groups = dict(switch.contacts)[place]
        for group in groups:
            for other in group[1:]:
                nodes.merge(guitar.node(f"{name}.{group[0]}"), guitar.node(f"{name}.{other}"))
        touching = "; ".join(" and ".join(group) for group in groups) or "no lugs"
        sentences.append(sentence(f"{words_of(name)} at {place}: {touching} touch."))

    def node(lug: str) -> str:
        return nodes.find(guitar.node(lug))

    jack = guitar.only(Jack)
    tip, sleeve = node(f"{jack}.tip"), node(f"{jack}.sleeve")
    edges = [(node(a), node(b), name) for a, b, name in _elements(guitar)]
    on = _on_a_way([(a, b, name) for a, b, name in edges if a != b], tip, sleeve)
    touched = {end for a, b, _ in on for end in (a, b)} | {tip, sleeve}
    parts = {name for _, _, name in on} | set(switches) | {str(jack)}
    lugs = {
        f"{name}.{lug}"
        for name, part in guitar.parts.items()
        for lug in part.lugs
        if node(f"{name}.{lug}") in touched
    }
    return Live(frozenset(parts), frozenset(lugs), " ".join(sentences))


def _elements(guitar: Harness) -> Iterator[Edge]:
    """What conducts between two lugs, with the part that it belongs to."""
    for name, part in guitar.parts.items():
        if isinstance(part, (Switch, Jack, Cable, AmpInput, Empty)):
            continue
        if isinstance(part, (Pot, BlendPot)):
            for track in ("",) if isinstance(part, Pot) else ("first_", "second_"):
                for end in ("high", "low"):
                    yield f"{name}.{track}{end}", f"{name}.{track}wiper", name
        elif isinstance(part, Humbucker) and len(part.lugs) == 4:
            for coil in ("coil_1", "coil_2"):
                yield f"{name}.{coil}_start", f"{name}.{coil}_finish", name
        else:
            yield f"{name}.{part.lugs[0]}", f"{name}.{part.lugs[1]}", name


def _on_a_way(edges: list[Edge], tip: str, sleeve: str) -> list[Edge]:
    """Edges on some way from tip to sleeve that meets no node twice.

    These are the block that an edge from tip to sleeve would lie in (Tarjan, "Depth-first search
    and linear graph algorithms", SIAM Journal on Computing 1, 1972).
    """
    if tip == sleeve:
        return []
    graph: dict[str, list[int]] = {}
    every = [(tip, sleeve, ""), *edges]
    for k, (a, b, _) in enumerate(every):
        graph.setdefault(a, []).append(k)
        graph.setdefault(b, []).append(k)
    depth: dict[str, int] = {tip: 0}
    low: dict[str, int] = {tip: 0}
    stack: list[int] = []
    found: list[Edge] = []

    def visit(node: str, came_by: int) -> None:
        for k in graph[node]:
            a, b, _ = every[k]
            other = b if a == node else a
            if k == came_by:
                continue
            if other not in depth:
                stack.append(k)
                depth[other] = low[other] = depth[node] + 1
                visit(other, k)
                low[node] = min(low[node], low[other])
                if low[other] >= depth[node]:
                    start = stack.index(k)
                    block = stack[start:]
                    del stack[start:]
                    if 0 in block:
                        found.extend(every[j] for j in block if j)
            elif depth[other] < depth[node]:
                stack.append(k)
                low[node] = min(low[node], depth[other])

    visit(tip, -1)
    return found
