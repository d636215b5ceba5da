"""What is left of a circuit when exact zeros and opens are taken as structure, not as numbers.

A branch of 0 ohm is no branch but one node; an open is no branch at all; a part with no path to
the output does not matter. Two 0-ohm branches in parallel, a node between two capacitors at
0 Hz, everything open: each is an everyday case that a matrix of numbers cannot state.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from ..circuit.netlist import Branch, Netlist
from ..errors import NoSolution, NotExpressible
from ..groups import Groups

__all__ = [
    "LIVE",
    "OPEN",
    "SHORT",
    "Placed",
    "Reduced",
    "coupled",
    "ohms_at_0_hz",
    "place",
    "reduce",
    "refuse_inexpressible",
    "settle",
    "single_state",
]

SHORT, LIVE, OPEN = 0, 1, 2
"""States of a branch for one group of settings."""

Placed = list[tuple[Branch, tuple[str, ...]]]
"""Branches with the nodes that they have after merging."""


@dataclass(frozen=True)
class Reduced:
    """A circuit without zeros, opens and what does not matter.

    Parameters
    ----------
    branches : list of (Branch, tuple of str)
        Live branches and the merged nodes of each; ground is the node `ground`.
    ground, output : str
        Merged nodes.
    silent : bool
        Whether nothing reaches the output, so that its voltage is exactly 0.
    floating : bool
        Whether the output has no path to ground at all.
    """

    branches: Placed
    ground: str
    output: str
    silent: bool
    floating: bool


def place(branches: Iterable[Branch]) -> Placed:
    """Pair each branch with its own nodes, as `reduce` takes them."""
    return [(branch, branch.nodes) for branch in branches]


def reduce(
    branches: Placed,
    states: Mapping[str, int],
    ground: str,
    output: str,
    driven: bool,
) -> Reduced:
    """Merge shorts, drop opens and whatever has no path to the output.

    Parameters
    ----------
    branches : list of (Branch, tuple of str)
        The circuit, as `place` or an earlier reduction gives it.
    states : mapping of str to int
        SHORT, LIVE or OPEN for each passive branch; one that is not named is live.
    ground, output : str
        Nodes before merging.
    driven : bool
        Whether voltage sources drive the circuit; else they are shorts.

    Returns
    -------
    Reduced
        The circuit that is left.

    Raises
    ------
    NoSolution
        If an ideal source or follower is shorted.
    """
    merged, live = _merged(branches, states, driven)
    earth, out = merged.find(ground), merged.find(output)
    placed = [(branch, tuple(merged.find(node) for node in nodes)) for branch, nodes in live]
    for branch, nodes in placed:
        if branch.kind in ("V", "E") and nodes[0] == nodes[1]:
            raise NoSolution(
                branch.name, "is an ideal source with both ends on one node", "remove the short"
            )
    # A coil that a wire shorts still carries what another coil induces in it.
    placed = [(b, nodes) for b, nodes in placed if b.kind in "LM" or nodes[0] != nodes[1]]
    placed = _coupled(placed)
    if out == earth:
        return Reduced([], earth, out, silent=True, floating=False)
    placed = _reaching(placed, earth, out)
    placed, floating = _tied(placed, earth, out)
    silent = driven and not any(b.kind == "V" and b.value != 0 for b, _ in placed)
    return Reduced(placed, earth, out, silent or floating, floating)


def settle(net: Netlist, output: str) -> tuple[Reduced, dict[str, str]]:
    """Reduce a driven netlist of single values, numbers or symbols, above 0 Hz.

    Parameters
    ----------
    net : Netlist
        The circuit; no value may be an array. A symbol is live, whatever it may stand for.
    output : str
        Node.

    Returns
    -------
    reduced : Reduced
        The circuit that is left.
    merged : dict of str to str
        For each node of the netlist the merged node that it belongs to.

    Raises
    ------
    BadHarness
        If the output is not in the netlist.
    NoSolution
        If an ideal source or follower is shorted.
    """
    net.check_node(output)
    branches = place(net)
    states = {branch.name: single_state(branch) for branch in net}
    merged, _ = _merged(branches, states, driven=True)
    reduced = reduce(branches, states, net.ground, output, driven=True)
    return reduced, {node: merged.find(node) for node in (*net.nodes(), net.ground)}


def single_state(branch: Branch, dc: bool = False) -> int:
    """State of a branch of a single value, number or symbol; at 0 Hz where ``dc`` is set."""
    if branch.kind == "M":
        return OPEN if dc or branch.value == 0 else LIVE
    if branch.kind == "Z":
        if not dc:
            return LIVE
        ohms = ohms_at_0_hz(branch)
        return SHORT if ohms == 0 else LIVE if np.isfinite(ohms) else OPEN
    if (branch.kind == "R" and branch.value == 0) or (
        branch.kind == "L" and (dc or branch.value == 0)
    ):
        return SHORT
    if (branch.kind == "R" and branch.value == math.inf) or (
        branch.kind == "C" and (dc or branch.value == 0)
    ):
        return OPEN
    return LIVE


def coupled(branches: Iterable[Branch]) -> set[str]:
    """Name the mutual inductances and the coils that they couple."""
    return {name for b in branches if b.between for name in (b.name, *b.between)}


def ohms_at_0_hz(branch: Branch) -> complex:
    """Ask an impedance that is a function of frequency for its value at 0 Hz."""
    return complex(np.ravel(branch.value(np.array([0.0])))[0])


def refuse_inexpressible(branch: Branch, form: str) -> None:
    """Refuse a branch that SPICE or a formula in s cannot state, naming the part."""
    if branch.kind == "Z":
        raise NotExpressible(
            branch.name,
            f"is a function of frequency, which {form} cannot state",
            "model it with resistors, inductors and capacitors",
        )
    if branch.kind == "C" and branch.loss != 0:
        raise NotExpressible(
            branch.name,
            f"loses the same share at every frequency (dissipation factor), which {form} cannot "
            "state",
            "set dissipation_factor to 0, and give series_resistance or parallel_resistance",
        )


def _merged(
    branches: Placed, states: Mapping[str, int], driven: bool
) -> tuple[Groups[str], Placed]:
    """Merge the ends of shorts; give the groups of nodes and the branches that are live."""
    merged: Groups[str] = Groups()
    live: Placed = []
    for branch, nodes in branches:
        state = states.get(branch.name, LIVE)
        if state == SHORT or (branch.kind == "V" and not driven):
            merged.merge(*nodes)
        elif state == LIVE:
            live.append((branch, nodes))
    return merged, live


def _conducting(branch: Branch, nodes: tuple[str, ...]) -> tuple[str, ...]:
    """Give the nodes between which current flows; a follower's input draws none."""
    return () if branch.kind == "M" else nodes[:2]


def _coupled(placed: Placed) -> Placed:
    """Drop mutual inductances of which an inductor is gone."""
    there = {branch.name for branch, _ in placed}
    return [(b, nodes) for b, nodes in placed if b.kind != "M" or there.issuperset(b.between)]


def _tied(placed: Placed, ground: str, output: str) -> tuple[Placed, bool]:
    """Tie islands that hang on a coupling or a follower's input to ground by one node.

    No current flows through a single tie, so nothing changes but that potentials are defined.
    The second value tells whether the output itself is on an island.
    """
    groups: Groups[str] = Groups()
    for branch, nodes in placed:
        ends = _conducting(branch, nodes)
        for node in ends[1:]:
            groups.merge(ends[0], node)
    home, earth = groups.find(output), groups.find(ground)
    ties: dict[str, str] = {}
    for _, nodes in placed:
        for node in nodes:
            island = groups.find(node)
            if island not in (home, earth):
                ties.setdefault(island, node)
    tied = set(ties.values())
    made = [(b, tuple(ground if n in tied else n for n in nodes)) for b, nodes in placed]
    return made, home != earth


def _reaching(placed: Placed, ground: str, output: str) -> Placed:
    """Keep what the voltage from output to ground depends on.

    A part that hangs on the rest by one node alone, ground or any other, exchanges no current with
    it: only what lies on a cycle together with a probe from output to ground counts. A follower
    brings the block of its input in, an inductor that of the one it is coupled with.
    """
    edges = {str(i): nodes[:2] for i, (b, nodes) in enumerate(placed) if b.kind != "M"}
    probes = {f"input {i}": nodes[2:] for i, (b, nodes) in enumerate(placed) if b.kind == "E"}
    block = _blocks({**edges, **probes, "output": (output, ground)}).find
    members = Counter(block(edge) for edge in edges)
    known = {b.name: block(str(i)) for i, (b, _) in enumerate(placed)}
    loops = {known[b.name] for b, nodes in placed if b.kind == "L" and nodes[0] == nodes[1]}
    leads = [(block(name.replace("input ", "")), block(name)) for name in probes]
    for branch, _ in placed:
        if branch.kind == "M":
            one, other = (known[name] for name in branch.between)
            # A coil that is alone in its block, and no loop, has no current to couple.
            ways = (one, other), (other, one)
            leads += [(a, b) for a, b in ways if members[b] > 1 or b in loops]
    reached = {block("output")}
    while more := {b for a, b in leads if a in reached and b not in reached}:
        reached |= more
    kept = [(b, n) for b, n in placed if b.kind == "M" or known[b.name] in reached]
    return _coupled(kept)


def _blocks(edges: Mapping[str, tuple[str, ...]]) -> Groups[str]:
    """Group edges that lie on cycles together: two blocks of a graph share one node at the most.

    Blocks are the components of the graph's cycle matroid: each edge off a spanning tree goes
    with those of the tree that it closes a cycle with.
    """
    at: dict[str, list[tuple[str, str]]] = {}
    for name, (a, b) in edges.items():
        at.setdefault(a, []).append((name, b))
        at.setdefault(b, []).append((name, a))
    depth: dict[str, int] = {}
    above: dict[str, tuple[str, str]] = {}
    for root in at:
        if root in depth:
            continue
        depth[root], reached = 0, [root]
        for node in reached:
            for name, other in at[node]:
                if other not in depth:
                    depth[other], above[other] = depth[node] + 1, (node, name)
                    reached.append(other)
    blocks: Groups[str] = Groups()
    tree = {name for _, name in above.values()}
    for name, (a, b) in edges.items():
        while name not in tree and a != b:
            if depth[a] < depth[b]:
                a, b = b, a
            a, step = above[a]
            blocks.merge(name, step)
    return blocks
