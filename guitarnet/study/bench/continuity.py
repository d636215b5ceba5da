"""Which coils reach the output, with which sense, and how they are joined: from structure alone.

Joints, contacts and everything at 0 ohm make a graph whose edges are coils and other parts. Edges
in series and in parallel are combined until one is left between output and ground; the values of
other parts do not matter.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ...circuit.harness import Harness
from ...circuit.netlist import Netlist
from ...solve.structure import LIVE, settle, single_state
from ...units import plain_words

__all__ = ["Group", "Lone", "audible_coils", "coils_of", "connection_label", "senses"]


@dataclass(frozen=True)
class Lone:
    """One coil, with the sign of the string's signal."""

    path: str
    sense: int


@dataclass(frozen=True)
class Group:
    """Coils, or groups of them, in series or in parallel."""

    kind: Literal["series", "parallel"]
    members: tuple[Lone | Group, ...]


Tree = Lone | Group
_Edge = tuple[str, str, Tree | None]  # None: no coil in it


def audible_coils(guitar: Harness, values: Mapping[str, Any]) -> tuple[Tree | None, bool]:
    """Find how the coils that reach the output are joined.

    Parameters
    ----------
    guitar : Harness
        The guitar, with its switches as set.
    values : mapping of str to float
        Values by full path, as for `Harness.stamp`; single ones.

    Returns
    -------
    tree : Lone, Group or None
        The coils; None if no coil is audible.
    plain : bool
        False if the circuit is a mesh that series and parallel do not describe; then the tree is
        None.

    Raises
    ------
    BadHarness
        If the harness is not whole.
    """
    net = guitar.stamp(values)
    reduced, merged = settle(net, guitar.node(guitar.output_lug()))
    out, ground = reduced.output, reduced.ground
    if out == ground:
        return None, True
    edges = [(merged[a], merged[b], tree) for a, b, tree in _edges(net)]
    edges_left = _reduced(_connected(edges, out, ground), out, ground)
    if len(edges_left) != 1:
        return None, not edges_left
    start, _, tree = edges_left[0]
    order = {path: number for number, path in enumerate(coils_of(net))}
    return _in_order(_turned(tree) if start == ground else tree, order), True


def coils_of(net: Netlist) -> list[str]:
    """Paths of all coils of a netlist; each has one source."""
    return [name.removesuffix(".induced") for name in net.sources()]


def senses(tree: Tree | None) -> dict[str, int]:
    """Sense of each coil in a tree, by its path."""
    if tree is None:
        return {}
    if isinstance(tree, Lone):
        return {tree.path: tree.sense}
    return {path: sense for part in tree.members for path, sense in senses(part).items()}


def connection_label(tree: Tree | None) -> str:
    """Label of how the coils of a tree are joined."""
    if tree is None:
        return "silent"
    if isinstance(tree, Lone):
        return "alone"
    if all(isinstance(part, Lone) for part in tree.members):
        return f"in {tree.kind}"
    return _formula(tree)


def _formula(tree: Tree) -> str:
    if isinstance(tree, Lone):
        return plain_words(tree.path)
    sign = " + " if tree.kind == "series" else " \u2225 "
    return sign.join(
        f"({_formula(part)})" if isinstance(part, Group) else _formula(part)
        for part in tree.members
    )


def _edges(net: Netlist) -> list[_Edge]:
    """Every coil as one edge from hot to ground, and every other live branch."""
    coils = coils_of(net)
    edges: list[_Edge] = []
    for path in coils:
        # The capacitance of a coil is across its two ends.
        hot, back = net.branches[f"{path}.capacitance"].nodes
        volts = net.branches[f"{path}.induced"].value
        edges.append((hot, back, Lone(path, 1 if volts > 0 else -1) if volts else None))
    inside = tuple(f"{path}." for path in coils)
    edges += [
        (branch.nodes[0], branch.nodes[1], None)
        for branch in net
        if branch.kind in "RLCZ"
        and not branch.name.startswith(inside)
        and single_state(branch) == LIVE
    ]
    return edges


def _connected(edges: Iterable[_Edge], out: str, ground: str) -> list[_Edge]:
    """Edges that you reach from the output without passing through ground."""
    open_edges = [edge for edge in edges if edge[0] != edge[1]]
    reached = {out}
    while True:
        new = {n for a, b, _ in open_edges for n in (a, b) if reached & {a, b}} - reached - {ground}
        if not new:
            return [edge for edge in open_edges if reached & {edge[0], edge[1]}]
        reached |= new


def _reduced(edges: list[_Edge], out: str, ground: str) -> list[_Edge]:
    """Combine edges until nothing changes; one is left unless they make a mesh."""
    while True:
        before = len(edges)
        edges = _parallel([edge for edge in edges if edge[0] != edge[1]])
        degree = Counter(node for a, b, _ in edges for node in (a, b))
        inner = {node: n for node, n in degree.items() if node not in (out, ground)}
        ends = {node for node, n in inner.items() if n == 1}
        edges = [edge for edge in edges if not ends & {edge[0], edge[1]}]
        between = next((node for node, n in inner.items() if n == 2), None)
        if between is not None and not ends:
            edges = _series(edges, between)
        if len(edges) == before:
            return edges


def _parallel(edges: Iterable[_Edge]) -> list[_Edge]:
    by_ends: dict[frozenset[str], _Edge] = {}
    for a, b, tree in edges:
        key = frozenset((a, b))
        if key in by_ends:
            first_a, first_b, first = by_ends[key]
            tree = tree if a == first_a else _turned(tree)
            by_ends[key] = first_a, first_b, _joined("parallel", first, tree)
        else:
            by_ends[key] = a, b, tree
    return list(by_ends.values())


def _series(edges: list[_Edge], between: str) -> list[_Edge]:
    """Join the two edges that meet at a node, in the place of the first."""
    one, other = (index for index, edge in enumerate(edges) if between in edge[:2])
    a, b, upper = edges[one]
    if a == between:
        a, b, upper = b, a, _turned(upper)
    c, d, lower = edges[other]
    if d == between:
        c, d, lower = d, c, _turned(lower)
    edges = [edge for index, edge in enumerate(edges) if index != other]
    edges[one] = a, d, _joined("series", upper, lower)
    return edges


def _joined(kind: Literal["series", "parallel"], one: Tree | None, other: Tree | None) -> Any:
    """Join two trees; a tree without a coil is dropped."""
    if one is None or other is None:
        return one if other is None else other
    members: list[Tree] = []
    for tree in (one, other):
        same = isinstance(tree, Group) and tree.kind == kind
        members += tree.members if same else [tree]  # type: ignore[union-attr]
    return Group(kind, tuple(members))


def _in_order(tree: Tree | None, order: Mapping[str, int]) -> Tree | None:
    """Sort parallel members in the order of the parts; series keeps its order from the output."""
    if not isinstance(tree, Group):
        return tree
    members = [_in_order(part, order) for part in tree.members]
    if tree.kind == "parallel":
        members.sort(key=lambda part: min(order[path] for path in senses(part)))
    return Group(tree.kind, tuple(members))  # type: ignore[arg-type]


def _turned(tree: Tree | None) -> Any:
    """Reverse a tree."""
    if tree is None:
        return None
    if isinstance(tree, Lone):
        return Lone(tree.path, -tree.sense)
    return Group(tree.kind, tuple(_turned(part) for part in tree.members[::-1]))
