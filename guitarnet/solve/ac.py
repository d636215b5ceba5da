"""Voltages and impedances of a netlist at many frequencies and settings at once.

Exact zeros and opens are structure (`structure.reduce`). `tree.equations` writes down the rest, in
which each swept value enters the determinant linearly, and `polynomial.System` answers for all
settings at once. Where impedances lie too many decades apart for one tree, frequencies and
settings are split, each part with a tree of its own. 0 Hz is structure too: capacitors open,
inductors short.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, combinations

import numpy as np
import xarray as xr

from ..circuit.netlist import Branch, Netlist
from ..errors import BadSetting, NoSolution
from ..gate import public
from .polynomial import MOST, System, no_unique_answer, products_for_a_point
from .structure import LIVE, OPEN, SHORT, Reduced, coupled, place, reduce, single_state
from .tree import Span, Tree, effective, middle, most_apart, span, spanning_tree, units_of

__all__ = ["node_impedance", "node_size", "node_voltage"]

_APART = 1e4
"""How far a tree branch's impedance may exceed that of a link on its loop: one digit in four."""
_CLOSE = 10.0  # the same where a first answer is not sure
_ROUNDING = 1e-10  # what an answer may change by when worked out again, of the largest value
_NOTHING = 1e-14  # and what counts as nothing, of the volts that drive the circuit
_SILENT = 1e-12  # so little of the volts is left by rounding where sources cancel
_SMALL = 1e-140  # sizes whose squares are still exact
_AT_0_HZ = {"L": SHORT, "C": OPEN}


@public
def node_voltage(
    net: Netlist,
    output: str,
    frequency: np.ndarray,
    *,
    amplitudes: Mapping[str, complex] | None = None,
    dims: Sequence[str] = (),
) -> xr.Variable:
    """Voltage from a node to ground, driven by the netlist's sources.

    Parameters
    ----------
    net : Netlist
        The circuit; values may carry named dimensions and may be chunked.
    output : str
        Node.
    frequency : numpy.ndarray
        Frequencies [Hz], one dimension, from 0.
    amplitudes : mapping of str to complex, optional
        Volts of each source by name; its own unless given.
    dims : sequence of str
        Order of the dimensions in the result.

    Returns
    -------
    xarray.Variable
        Complex volts, with the named dimensions and ``frequency`` last. A node that nothing
        reaches, or where all that reaches it cancels, is at exactly 0.

    Raises
    ------
    NoSolution
        If an ideal source is shorted or the circuit has no unique answer.
    BadSetting
        If the frequencies are none.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("upper", "in", "out", 3e3)
    >>> net.resistor("lower", "out", "0", 1e3)
    >>> node_voltage(net, "out", np.array([0.0, 1000.0])).values.real.tolist()
    [0.25, 0.25]
    """
    own = {name: net.branches[name].value for name in net.sources()}
    volts = own if amplitudes is None else dict(amplitudes)
    return _over_settings(net, output, frequency, volts, dims, complex)


def node_size(
    net: Netlist, output: str, frequency: np.ndarray, *, dims: Sequence[str] = ()
) -> xr.Variable:
    """Size of the voltage from a node to ground, driven by the netlist's sources.

    Half the memory of `node_voltage`: no complex number is kept longer than a block of settings.

    Parameters
    ----------
    net, output, frequency, dims
        As `node_voltage` takes them.

    Returns
    -------
    xarray.Variable
        Volts, real; the absolute value of what `node_voltage` gives.

    Raises
    ------
    NoSolution, BadSetting
        As `node_voltage`.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("R", "in", "out", xr.Variable("design", [1e3, 2e3]))
    >>> net.capacitor("C", "out", "0", 1e-6)
    >>> node_size(net, "out", np.array([159.15494])).values[:, 0].round(4).tolist()
    [0.7071, 0.4472]
    """
    volts = {name: net.branches[name].value for name in net.sources()}
    return _over_settings(net, output, frequency, volts, dims, float)


@public
def node_impedance(
    net: Netlist, output: str, frequency: np.ndarray, *, dims: Sequence[str] = ()
) -> xr.Variable:
    """Impedance from a node to ground, with every source at rest.

    Parameters
    ----------
    net, output, frequency, dims
        As `node_voltage` takes them.

    Returns
    -------
    xarray.Variable
        Complex ohms, with the named dimensions and ``frequency`` last; infinite where no
        current can flow.

    Raises
    ------
    NoSolution, BadSetting
        As `node_voltage`.

    Examples
    --------
    >>> net = Netlist()
    >>> net.resistor("one", "a", "0", 3e3)
    >>> net.resistor("other", "a", "0", 6e3)
    >>> node_impedance(net, "a", np.array([0.0])).values.real.round(6).tolist()
    [2000.0]
    """
    return _over_settings(net, output, frequency, None, dims, complex)


def _over_settings(
    net: Netlist,
    output: str,
    frequency: np.ndarray,
    volts: Mapping[str, complex] | None,
    dims: Sequence[str],
    kind: type,
) -> xr.Variable:
    net.check_node(output)
    swept = [branch for branch in net if _is_swept(branch)]
    values = [effective(branch) for branch in swept]
    there = net.dims()
    order = [dim for dim in dims if dim in there]
    order += [dim for dim in there if dim not in order]
    frequency = _read_frequency(frequency)
    if volts is not None:
        volts = {name: volts.get(name, 0.0) for name in net.sources()}
    task = _Task(net, output, frequency, volts, tuple(branch.name for branch in swept), kind)
    if any(not isinstance(value.data, np.ndarray) for value in values):
        lazy = xr.apply_ufunc(
            task,
            *values,
            output_core_dims=[["frequency"]],
            dask="parallelized",
            output_dtypes=[kind],
            dask_gufunc_kwargs={"output_sizes": {"frequency": frequency.size}},
        )
        return lazy.transpose(*order, "frequency")
    arrays = [_aligned(value, order) for value in values]
    return xr.Variable((*order, "frequency"), task(*arrays))


def _read_frequency(given: np.ndarray) -> np.ndarray:
    """Read frequencies [Hz], one dimension, in any order."""
    hertz = np.asarray(given)
    whole = hertz.ndim == 1 and hertz.dtype.kind in "fiu" and hertz.size > 0
    if not whole or not bool(((hertz >= 0) & (hertz < np.inf)).all()):
        fix = "give an array of numbers in hertz, from 0, in one dimension"
        raise BadSetting("frequency", "is no list of frequencies", fix, given)
    return hertz.astype(float)


def _is_swept(branch: Branch) -> bool:
    return isinstance(branch.value, xr.Variable) or isinstance(branch.loss, xr.Variable)


def _aligned(value: xr.Variable, order: Sequence[str]) -> np.ndarray:
    """Values with one axis for each dimension, of size 1 where they do not depend on it."""
    own = value.transpose(*[dim for dim in order if dim in value.dims])
    return own.values.reshape([own.sizes.get(dim, 1) for dim in order])


@dataclass(frozen=True)
class _Places:
    """Some of the settings and frequencies: rows, columns and places along the frequency."""

    rows: np.ndarray
    columns: np.ndarray
    at: np.ndarray

    def of(self, table: np.ndarray) -> np.ndarray:
        """Cut a table of values, which may have one row or column for all."""
        if len(table) > 1 and self.rows.size < len(table):
            table = table[self.rows]
        whole = table.shape[1] == 1 or self.columns.size == table.shape[1]
        return table if whole else table[:, self.columns]

    def split(self, labels: np.ndarray) -> list[_Places]:
        """Split by a label for each value of a table, along its rows or its columns."""
        along_rows = bool((labels != labels[:1]).any())
        label = labels[:, 0] if along_rows else labels[0]
        found = []
        for value in np.unique(label):
            own = np.flatnonzero(label == value)
            found.append(
                replace(self, rows=self.rows[own])
                if along_rows
                else replace(self, columns=self.columns[own])
            )
        return found


@dataclass(frozen=True)
class _Task:
    """One netlist's work on arrays of its swept values. Calling it does the work."""

    net: Netlist
    output: str
    frequency: np.ndarray
    volts: Mapping[str, complex] | None
    names: tuple[str, ...]
    kind: type

    def __call__(self, *arrays: np.ndarray) -> np.ndarray:
        shape = np.broadcast_shapes(*(np.shape(array) for array in arrays))
        padded = [np.reshape(a, (1,) * (len(shape) - np.ndim(a)) + np.shape(a)) for a in arrays]
        inner = self._inner_axes(padded, shape)
        tables = self._tables(padded, shape, inner)
        if any(self._is_crooked(name, table) for name, table in tables.items()):
            inner = ()  # every setting is a row of its own
            tables = self._tables(padded, shape, inner)
        outer = [axis for axis in range(len(shape)) if axis not in inner]
        rows, columns = (math.prod(shape[a] for a in axes) for axes in (outer, inner))
        result: np.ndarray = np.empty((rows, columns, self.frequency.size), dtype=self.kind)
        doubts: list[_Doubt] = []
        for dc in np.unique(self.frequency == 0):
            at = np.flatnonzero((self.frequency == 0) == dc)
            filling = _Filling(self, result, tables, bool(dc))
            filling.fill(_Places(np.arange(rows), np.arange(columns), at))
            doubts += filling.doubts
        _judge(result, self.frequency, doubts)
        self._silence(result)
        order = [*outer, *inner]
        apart = result.reshape([*(shape[axis] for axis in order), self.frequency.size])
        return apart.transpose([*np.argsort(order).astype(int), len(shape)])

    def _silence(self, result: np.ndarray) -> None:
        """Make exactly nothing of what sources that cancel leave over the whole band."""
        volts = [abs(volt) for volt in (self.volts or {}).values() if volt != 0]
        if len(volts) < 2:
            return  # what a source alone sends is no rounding, however little
        most = _SILENT * sum(volts)
        quiet = np.nonzero(np.abs(result[..., 0]) <= most)  # few: the rest need no second look
        still = (np.abs(result[quiet]) <= most).all(axis=-1)
        result[tuple(places[still] for places in quiet)] = 0.0

    def _inner_axes(self, arrays: Sequence[np.ndarray], shape: Sequence[int]) -> tuple[int, ...]:
        """Axes along which rows run, so that a point takes the fewest products."""
        axes = [axis for axis, size in enumerate(shape) if size > 1]
        spans = [{axis for axis in axes if array.shape[axis] > 1} for array in arrays]
        swept = sum(bool(span) for span in spans)
        coils = coupled(self.net)
        tied = [s for name, s in zip(self.names, spans, strict=True) if name in coils and s]
        best, least = tuple(axes), np.inf
        for chosen in chain.from_iterable(combinations(axes, n) for n in range(len(axes) + 1)):
            moving = sum(not span.isdisjoint(chosen) for span in spans)
            if moving > MOST or any(not span.isdisjoint(chosen) for span in tied):
                continue
            columns = math.prod(shape[axis] for axis in chosen)
            cost = products_for_a_point(moving, swept, columns, bool(tied))
            if cost < least:
                best, least = chosen, cost
        return best

    def _tables(
        self, arrays: Sequence[np.ndarray], shape: Sequence[int], inner: Sequence[int]
    ) -> dict[str, np.ndarray]:
        """Values in rows and columns; one row or column for all where nothing changes with it."""
        outer = [axis for axis in range(len(shape)) if axis not in inner]
        tables = {}
        for name, array in zip(self.names, arrays, strict=True):
            array = array.transpose([*outer, *inner])
            sizes = []
            for axes, first in ((outer, 0), (inner, len(outer))):
                own = array.shape[first : first + len(axes)]
                sizes.append(
                    [shape[a] for a in axes] if any(n > 1 for n in own) else [1] * len(own)
                )
            table = np.broadcast_to(array, (*sizes[0], *sizes[1]))
            tables[name] = table.reshape(math.prod(sizes[0]), math.prod(sizes[1]))
        return tables

    def _is_crooked(self, name: str, table: np.ndarray) -> bool:
        """Tell whether zeros and opens change both with the row and with the column."""
        if 1 in table.shape:
            return False
        states = _states(self.net.branches[name], table)
        return bool((states != states[:1]).any() and (states != states[:, :1]).any())


def _states(branch: Branch, values: np.ndarray) -> np.ndarray:
    """Which values of a swept branch are shorts, live or opens, above 0 Hz."""
    zero = values == 0
    if branch.kind == "R":
        return np.where(zero, SHORT, np.where(np.isinf(values), OPEN, LIVE))
    return np.where(zero, SHORT if branch.kind == "L" else OPEN, LIVE)


class _Filling:
    """Fills one result at 0 Hz or above it, part by part: each part has a tree of its own."""

    def __init__(
        self, task: _Task, result: np.ndarray, tables: Mapping[str, np.ndarray], dc: bool
    ) -> None:
        self.task, self.result, self.tables, self.dc = task, result, tables, dc
        self.driven = task.volts is not None
        net = task.net
        fixed = {b.name: single_state(b, dc) for b in net if b.name not in tables}
        if dc:
            fixed |= {b.name: _AT_0_HZ[b.kind] for b in net if b.kind in _AT_0_HZ}
        self.start = reduce(place(net), fixed, net.ground, task.output, self.driven)
        self.coupled = coupled(net)
        self.impedances = {
            b.name: np.broadcast_to(
                np.asarray(b.value(task.frequency), dtype=complex), task.frequency.shape
            )
            for b, _ in self.start.branches
            if b.kind == "Z"
        }
        self.doubts: list[_Doubt] = []
        self.nothing = _NOTHING * sum(map(abs, (task.volts or {}).values()))

    def fill(
        self, places: _Places, decided: Mapping[str, int] | None = None, apart: float = _APART
    ) -> None:
        """Fill the result at some places, by one tree or by parts."""
        decided = dict(decided or {})
        reduced = start = self.start
        if decided:
            reduced = reduce(start.branches, decided, start.ground, start.output, self.driven)
        if reduced.floating or reduced.silent or reduced.output == reduced.ground:
            everywhere = np.ix_(places.rows, places.columns, places.at)
            self.result[everywhere] = np.inf if reduced.floating and not self.driven else 0.0
            return
        tables = {
            b.name: places.of(self.tables[b.name])
            for b, _ in reduced.branches
            if b.name in self.tables
        }
        states = {n: _states(self.task.net.branches[n], t) for n, t in tables.items()}
        varying = {}
        for name, state in states.items():
            if name in decided:
                continue
            if state.min() != state.max():
                varying[name] = state
            elif state.flat[0] != LIVE:
                decided[name] = int(state.flat[0])
                self.fill(places, decided, apart)
                return
        spans = self._spans(reduced, tables, places.at)
        tree = spanning_tree(reduced.branches, reduced.ground, _weights(spans, varying))
        if tree is None:
            raise no_unique_answer(reduced)
        for name, state in varying.items():
            # A tree branch may be 0 ohm in some settings, and a link open: no other way round.
            if (
                name in self.coupled
                or (name in tree.branches and state.max() == OPEN)
                or (name not in tree.branches and state.min() == SHORT)
            ):
                self._split(places, name, state, decided, apart)
                return
        if most_apart(tree, spans) > apart:
            if varying:
                name = next(iter(varying))
                self._split(places, name, varying[name], decided, apart)
                return
            parts = self._in_two(places, tables)
            for part in parts:
                self.fill(part, decided, apart)
            if parts:
                return
        doubt = self._solve(places, reduced, tree, spans, tables)
        if doubt and apart > _CLOSE:
            self.fill(places, decided, _CLOSE)
        elif doubt:
            self.doubts.append(doubt)

    def _split(
        self,
        places: _Places,
        name: str,
        state: np.ndarray,
        decided: Mapping[str, int],
        apart: float,
    ) -> None:
        """Fill settings apart in which a branch is a short, live, or open."""
        for part in places.split(state):
            own = int(_states(self.task.net.branches[name], part.of(self.tables[name])).flat[0])
            self.fill(part, {**decided, name: own}, apart)

    # -- how far impedances lie apart -----------------------------------------------------------

    def _spans(
        self, reduced: Reduced, tables: Mapping[str, np.ndarray], at: np.ndarray
    ) -> dict[str, Span]:
        """How far the impedance of each passive branch reaches."""
        hertz = self.task.frequency[at]
        ends = float(hertz.min()), float(hertz.max())
        found = {}
        for branch, _ in reduced.branches:
            if branch.kind == "Z":
                found[branch.name] = span(branch, self.impedances[branch.name][at], ends)
            elif branch.kind in "RLC":
                values = tables.get(branch.name, effective(branch))
                found[branch.name] = span(branch, values, ends)
        return found

    def _in_two(
        self,
        places: _Places,
        tables: Mapping[str, np.ndarray],
    ) -> list[_Places]:
        """Split where frequencies or values reach furthest; nothing where all is one point."""
        hertz = np.log(self.task.frequency[places.at]) if not self.dc else np.zeros(places.at.size)
        widest, parts = np.ptp(hertz), []
        if widest > 0:
            upper = hertz > (hertz.min() + hertz.max()) / 2
            parts = [replace(places, at=places.at[part]) for part in (~upper, upper)]
        for table in tables.values():
            logs = np.log(np.abs(table))
            for across in (logs.mean(axis=1, keepdims=True), logs.mean(axis=0, keepdims=True)):
                if np.ptp(across) > widest:
                    widest = np.ptp(across)
                    upper = across > (across.min() + across.max()) / 2
                    parts = places.split(upper)
        return parts

    # -- one part by one tree -------------------------------------------------------------------

    def _solve(
        self,
        places: _Places,
        reduced: Reduced,
        tree: Tree,
        spans: Mapping[str, Span],
        tables: Mapping[str, np.ndarray],
    ) -> _Doubt | None:
        """Fill some places; give what rounding may have spoilt there."""
        values = {
            b.name: self.impedances[b.name][places.at] if b.kind == "Z" else effective(b)
            for b, _ in reduced.branches
            if b.name not in tables
        }
        units = units_of(spans)
        frequency = self.task.frequency[places.at]
        shape = places.rows.size, places.columns.size
        system = System(reduced, tree, units, frequency, values, tables, self.task.volts, shape)
        runs = tuple(_run(own) for own in (places.rows, places.columns, places.at))
        direct = all(isinstance(run, slice) for run in runs)
        try:
            with np.errstate(all="raise", under="ignore"):
                for rows, columns, above, below in system.blocks():
                    if direct:
                        _divide(above, below, self.result[runs][rows, columns])
                        continue
                    block = np.ix_(places.rows[rows], places.columns[columns], places.at)
                    found = self.result[block]
                    _divide(above, below, found)
                    self.result[block] = found
        except FloatingPointError:
            raise no_unique_answer(reduced) from None
        if (system.errors <= _ROUNDING * system.sizes + self.nothing).all():
            return None
        looked_at = replace(places, columns=places.columns[system.extremes])
        return _Doubt(looked_at, system.errors - self.nothing, spans)


@dataclass(frozen=True)
class _Doubt:
    """Places where the answer changes by rounding, and by how much."""

    places: _Places
    errors: np.ndarray
    spans: Mapping[str, Span]


def _weights(spans: Mapping[str, Span], varying: Mapping[str, np.ndarray]) -> dict[str, float]:
    """Order of branches for the tree: what is a short somewhere first, what is an open last."""
    # Rounded, so that no processor's last digits choose the tree.
    weights = {name: round(middle(span), 6) for name, span in spans.items()}
    for name, state in varying.items():
        weights[name] = -math.inf if state.min() == SHORT else math.inf
    return weights


def _run(places: np.ndarray) -> np.ndarray | slice:
    """Rising places without a gap as a slice, which numpy writes to without a copy."""
    first, last = int(places[0]), int(places[-1])
    return slice(first, last + 1) if last - first + 1 == places.size else places


def _divide(above: np.ndarray, below: np.ndarray, target: np.ndarray) -> None:
    """Write quotients, or their sizes where the target is real."""
    if np.iscomplexobj(target):
        np.divide(above, below, out=target)
        return
    with np.errstate(all="ignore"):
        found = _squares(above) / _squares(below)
        np.sqrt(found, out=found)
    # Squares leave the range of double precision first.
    if not _SMALL < found.min() <= found.max() < np.inf:
        found = np.abs(above) / np.abs(below)
    target[:] = found


def _squares(values: np.ndarray) -> np.ndarray:
    parts = np.square(values.view(float))
    return parts[..., ::2] + parts[..., 1::2]


def _judge(result: np.ndarray, frequency: np.ndarray, doubts: Sequence[_Doubt]) -> None:
    """Refuse an answer that rounding has spoilt, measured by its largest value in the band."""
    for doubt in doubts:
        places = doubt.places
        found = np.abs(result[np.ix_(places.rows, places.columns)])
        largest = np.where(np.isfinite(found), found, 0).max(axis=-1)
        if (doubt.errors <= _ROUNDING * largest).all():
            continue
        hertz = frequency[places.at]
        least = min(doubt.spans, key=lambda name: min(low for low, _ in doubt.spans[name]))
        most = max(doubt.spans, key=lambda name: max(high for _, high in doubt.spans[name]))
        raise NoSolution(
            "circuit",
            f"rounding leaves fewer than nine digits from {hertz.min():g} to {hertz.max():g} Hz, "
            f"where voltages nearly cancel or impedances reach from {least} to {most} over many "
            "decades",
            "leave out what is negligible, as 0 ohm or open, or these frequencies",
        )
