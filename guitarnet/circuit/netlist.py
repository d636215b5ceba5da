"""Nodes and branches: what every solver, symbolic or numeric, reads.

A netlist knows nothing of guitars. Values are plain numbers, symbols, or labelled arrays
(:class:`xarray.Variable`): a sweep is one netlist whose values carry named dimensions.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
import xarray as xr

from ..errors import BadHarness, BadValue
from ..gate import public
from ..identity import ByValue
from ..units import Quantity

__all__ = ["Branch", "Netlist"]

Kind = Literal["R", "L", "C", "V", "E", "Z", "M"]

_LIMITS = {
    "R": Quantity("ohm", at_least=0),
    "L": Quantity("H", at_least=0),
    "C": Quantity("F", at_least=0),
}


@public(nodes=None)
@dataclass(frozen=True)
class Branch:
    """One branch of a netlist.

    Parameters
    ----------
    name : str
        Unique name, such as "volume.upper".
    kind : {"R", "L", "C", "V", "E", "Z", "M"}
        Resistor, inductor, capacitor, voltage source, unit-gain follower (its output copies the
        voltage between two other nodes), impedance given as a function of frequency, or mutual
        inductance between two inductors.
    nodes : tuple of str
        The two ends; a follower's output pair and then its input pair; the ends of both
        inductors of a mutual inductance.
    value : float, array or callable
        [ohm], [H], [F], [V]; for "Z" a function from frequency [Hz] to impedance [ohm].
    loss : float or array
        Dissipation factor of a capacitor.
    between : tuple of str
        Names of the two inductors of a mutual inductance.
    """

    name: str
    kind: Kind
    nodes: tuple[str, ...]
    value: Any = None
    loss: Any = 0.0
    between: tuple[str, ...] = ()


@public(function=None)
@dataclass(eq=False)
class Netlist(ByValue):
    """A passive circuit with sources, built branch by branch.

    Parameters
    ----------
    ground : str
        The node that potentials are counted from.
    branches : dict of str to Branch
        Filled by the methods below.
    bare : set of str
        Nodes that exist even where no branch ends: lugs that touch nothing.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("R", "in", "out", "10k")
    >>> net.capacitor("C", "out", "0", "795p")
    >>> len(net.branches)
    3
    """

    ground: str = "0"
    branches: dict[str, Branch] = field(default_factory=dict)
    bare: set[str] = field(default_factory=set, repr=False)  # in no order

    def add(self, branch: Branch) -> None:
        """Add a branch; its name must be new.

        Raises
        ------
        BadHarness
            If the name is taken.
        """
        if not all(isinstance(node, str) for node in branch.nodes):
            branch = replace(branch, nodes=tuple(str(node) for node in branch.nodes))
        self._add(branch)

    def _add(self, branch: Branch) -> None:
        if branch.name in self.branches:
            raise BadHarness(branch.name, "stands twice in the netlist", "give each part one name")
        self.branches[branch.name] = branch

    def _passive(self, kind: Kind, name: str, a: str, b: str, value: Any, loss: Any = 0.0) -> None:
        spec = _LIMITS[kind]
        if type(value) is float and 0 <= value < np.inf:
            pass  # most values come from parts and are right
        elif isinstance(value, (str, int, float, np.generic)):
            if not (kind == "R" and value == np.inf):
                value = spec.read(value, name)
        elif isinstance(value, xr.Variable) and isinstance(value.data, np.ndarray):
            opens = (value.data == np.inf) & (kind == "R")
            spec.check(np.where(opens, 0.0, value.data), name)
        self._add(Branch(name, kind, (a, b), value, loss))

    def resistor(self, name: str, a: str, b: str, value: Any) -> None:
        """Add a resistor [ohm]; 0 is a wire and infinity an open."""
        self._passive("R", name, a, b, value)

    def inductor(self, name: str, a: str, b: str, value: Any) -> None:
        """Add an inductor [H]."""
        self._passive("L", name, a, b, value)

    def capacitor(self, name: str, a: str, b: str, value: Any, *, loss: Any = 0.0) -> None:
        """Add a capacitor [F] with a dissipation factor that is the same at every frequency."""
        self._passive("C", name, a, b, value, loss)

    def source(self, name: str, plus: str, minus: str, volts: float = 1.0) -> None:
        """Add a voltage source [V]; 1 V unless given."""
        self.add(Branch(name, "V", (plus, minus), float(volts)))

    def mutual(self, name: str, one: str, other: str, value: Any) -> None:
        """Add a mutual inductance [H] between two inductors of the netlist, by their names.

        Positive where currents from each inductor's first node to its second aid each other.

        Raises
        ------
        BadHarness
            If there is no such inductor.
        BadValue
            If it is larger than the root of the product of both inductances.
        """
        for coil in (one, other):
            if coil not in self.branches or self.branches[coil].kind != "L":
                raise BadHarness(name, f"there is no inductor {coil!r}", "add both coils first")
        if one == other:
            raise BadHarness(name, "couples a coil with itself", "name two coils")
        if any(set(b.between) == {one, other} for b in self):
            raise BadHarness(name, "couples two coils that are coupled already", "couple them once")
        if value is None or isinstance(value, (str, int, float, np.generic)):
            value = Quantity("H").read(value, name)
        pair = self.branches[one], self.branches[other]
        square = pair[0].value * pair[1].value
        if not any(isinstance(v, xr.Variable) and v.chunks for v in (value, square)):
            sizes = value**2, square * (1 + 1e-12)
            if any(isinstance(size, complex) for size in sizes):  # of a step off the real axis
                sizes = sizes[0].real, sizes[1].real
            too_large = sizes[0] > sizes[1]
            if np.any(getattr(too_large, "values", too_large) == True):  # noqa: E712 (symbols)
                raise BadValue(
                    name,
                    "couples more than the two inductances can",
                    "lower the coupling, or the share of each inductance that eddy loss takes",
                )
        nodes = (*pair[0].nodes, *pair[1].nodes)
        self.add(Branch(name, "M", nodes, value, between=(one, other)))

    def follower(self, name: str, out: str, back: str, plus: str, minus: str) -> None:
        """Add a unit-gain follower: v(out) - v(back) = v(plus) - v(minus), no input current."""
        self.add(Branch(name, "E", (out, back, plus, minus)))

    def impedance(
        self, name: str, a: str, b: str, function: Callable[[np.ndarray], np.ndarray]
    ) -> None:
        """Add an impedance [ohm] as a function of frequency [Hz], which may be 0."""
        if not callable(function):
            raise BadValue(name, "is not a function of frequency", "give a callable", function)
        self.add(Branch(name, "Z", (a, b), function))

    def inner(self, prefix: str, **lugs: str) -> _Inner:
        """Give a view that names branches and nodes for one part."""
        return _Inner(self, prefix, lugs)

    def nodes(self) -> list[str]:
        """Every node, in the order of its first branch."""
        return list(dict.fromkeys(node for branch in self for node in branch.nodes))

    def check_node(self, node: str) -> None:
        """Check that there is such a node.

        Raises
        ------
        BadHarness
            If no branch ends there and it is neither bare nor ground.
        """
        if node not in self.nodes() and node not in self.bare and node != self.ground:
            raise BadHarness(f"node {node!r}", "is not in the netlist", "name one of its nodes")

    def sources(self) -> list[str]:
        """Names of the voltage sources."""
        return [branch.name for branch in self if branch.kind == "V"]

    def dims(self) -> dict[str, int]:
        """Sizes of the named dimensions over which values vary."""
        sizes: dict[str, int] = {}
        for branch in self:
            for value in (branch.value, branch.loss):
                if isinstance(value, xr.Variable):
                    for dim, size in value.sizes.items():
                        if sizes.setdefault(str(dim), size) != size:
                            raise BadHarness(
                                f"dimension {dim!r}",
                                f"has both {sizes[str(dim)]} and {size} values",
                                "give every sweep along it the same number of values",
                            )
        return sizes

    def __iter__(self) -> Iterator[Branch]:
        return iter(self.branches.values())

    def __len__(self) -> int:
        return len(self.branches)


class _Inner:
    """A netlist as one part sees it: its own lug names, its own prefix.

    The names it makes are texts, so they need not come through the public methods' gate.
    """

    def __init__(self, net: Netlist, prefix: str, lugs: dict[str, str]) -> None:
        self._net, self._prefix, self._lugs = net, prefix, lugs

    def _node(self, lug: str) -> str:
        return self._lugs.get(lug) or f"{self._prefix}:{lug}"

    def resistor(self, name: str, a: str, b: str, value: Any) -> None:
        self._net._passive("R", f"{self._prefix}.{name}", self._node(a), self._node(b), value)

    def inductor(self, name: str, a: str, b: str, value: Any) -> None:
        self._net._passive("L", f"{self._prefix}.{name}", self._node(a), self._node(b), value)

    def capacitor(self, name: str, a: str, b: str, value: Any, *, loss: Any = 0.0) -> None:
        nodes = self._node(a), self._node(b)
        self._net._passive("C", f"{self._prefix}.{name}", *nodes, value, loss)

    def source(self, name: str, plus: str, minus: str, volts: float = 1.0) -> None:
        self._net.source(f"{self._prefix}.{name}", self._node(plus), self._node(minus), volts)

    def mutual(self, name: str, one: str, other: str, value: Any) -> None:
        mine = f"{self._prefix}."
        self._net.mutual(mine + name, mine + one, mine + other, value)

    def follower(self, name: str, out: str, back: str, plus: str, minus: str) -> None:
        nodes = (self._node(node) for node in (out, back, plus, minus))
        self._net.follower(f"{self._prefix}.{name}", *nodes)

    def inner(self, name: str, **lugs: str) -> _Inner:
        nodes = {lug: self._node(node) for lug, node in lugs.items()}
        return _Inner(self._net, f"{self._prefix}.{name}", nodes)
