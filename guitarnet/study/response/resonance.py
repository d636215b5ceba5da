"""Maxima and limits of a curve: found on a grid, and refined by a solver.

All work is done on 1/|H|², over the square u of frequency. Around a resonance that is a parabola
whatever the Q, and for a coil with its capacitance and loads it is one everywhere; so a few points
carry a peak of which the decibels are a needle.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Resolved
from ...parts.base import Drive
from ...solve.ac import node_size

__all__ = ["Limits", "Peaks", "Solver", "find_limits", "find_peaks", "solved"]

_BLOCK = 262144  # points of a grid at once
_TOGETHER = 64  # settings that share their frequencies while they are refined
_NOISE = 1e-8  # of the size; rounding on a flat curve is no peak
_ROUNDS = 12
_STEP = 1e-3  # of frequency, between the points of a refinement


@dataclass
class Peaks:
    """The highest maximum of each curve, one entry a curve; NaN where there is none.

    ``u`` is the square of its frequency [Hz²] and ``p`` its 1/|H|²; ``low`` and ``high`` are u
    where the power is half. The errors are shares of frequency, of p and of the width.
    """

    u: np.ndarray
    p: np.ndarray
    low: np.ndarray
    high: np.ndarray
    u_error: np.ndarray
    p_error: np.ndarray
    width_error: np.ndarray

    @property
    def q(self) -> np.ndarray:
        """Frequency over the width at half power."""
        return np.sqrt(self.u) / (np.sqrt(self.high) - np.sqrt(self.low))


@dataclass
class Limits:
    """Where each curve last falls under a target: u [Hz²] and the share by which f may be off."""

    u: np.ndarray
    error: np.ndarray


# -- on a grid --------------------------------------------------------------------------------


def find_peaks(f: np.ndarray, size: np.ndarray) -> Peaks:
    """Find the highest maximum inside the grid of each row of sizes."""
    found = Peaks(*np.full((7, len(size)), np.nan))
    step = max(1, _BLOCK // f.size)
    for first in range(0, len(size), step):
        block = slice(first, first + step)
        _fill_peaks(found, block, f, size[block])
    return found


def find_limits(f: np.ndarray, size: np.ndarray, target: np.ndarray) -> Limits:
    """Find where each row of sizes falls under its target for the last time."""
    found = Limits(*np.full((2, len(size)), np.nan))
    step = max(1, _BLOCK // f.size)
    u = np.square(f, dtype=float)  # whole and narrow numbers have little room
    for first in range(0, len(size), step):
        s, least = size[first : first + step], target[first : first + step]
        over = s >= least[:, None]
        start = f.size - 1 - np.argmax(over[:, ::-1], axis=1)
        rows = np.flatnonzero(over.any(axis=1) & (start < f.size - 1) & (least > 0))
        if rows.size:
            root, error = _crossing(u, s[rows], start[rows], 1, 1 / least[rows] ** 2)
            found.u[first + rows], found.error[first + rows] = root, error / (2 * root)
    return found


def _inverse(size: np.ndarray) -> np.ndarray:
    with np.errstate(divide="ignore", over="ignore"):
        return 1 / size**2


def _fill_peaks(found: Peaks, block: slice, f: np.ndarray, size: np.ndarray) -> None:
    row, col = _tops(size)
    if not row.size:
        return
    u = np.square(f, dtype=float)  # whole and narrow numbers have little room
    width = min(5, f.size)
    first = np.clip(col - 2, 0, f.size - width)
    window = first + np.arange(width)[:, None]
    p = _inverse(size[row, window])
    at, least, at_error, least_error = _vertex(u[window], p, col - first)
    # Of tops as high as one another, but for rounding, the lowest in frequency.
    best = np.full(len(size), np.inf)
    np.minimum.at(best, row, least)
    chosen = np.flatnonzero(least <= best[row] * (1 + 1e-6))
    rows, which = np.unique(row[chosen], return_index=True)
    which = chosen[which]
    at, least, col = at[which], least[which], col[which]
    found.u[block.start + rows], found.p[block.start + rows] = at, least
    found.u_error[block.start + rows] = at_error[which]
    found.p_error[block.start + rows] = least_error[which]
    s = size[rows]
    half = 2 * least
    under = s < (1 / np.sqrt(half))[:, None]
    index = np.arange(f.size)
    # Where the nearest point is past half power already, both limits lie beside it.
    lone = _inverse(s[np.arange(rows.size), col]) >= half
    error = np.zeros(rows.size)
    for way, limit in ((-1, found.low), (1, found.high)):
        beyond = way * (index - col[:, None]) > 0
        inner, there = _outward(under & beyond, way)
        # The top may lie beyond the nearest point; then that bounds the limit from within.
        past = way * (at - u[col]) > 0
        inner = np.where(lone, np.where(past, col, col - way), inner)
        root, off = _crossing(
            u, s, np.where(there, inner, col - way), way, half, (at, least_error[which])
        )
        limit[block.start + rows] = np.where(there, root, np.nan)
        error += off
    width = found.high[block.start + rows] - found.low[block.start + rows]
    with np.errstate(invalid="ignore"):
        found.width_error[block.start + rows] = np.where(width > 0, error / width, np.inf)


@np.errstate(invalid="ignore")  # a size may be infinite
def _tops(size: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns of every maximum inside the grid; of a flat top the first column."""
    if size.shape[1] < 3:
        return np.empty(0, int), np.empty(0, int)
    rise = np.diff(size, axis=1)
    before, after = rise[:, :-1], rise[:, 1:]
    row, col = np.nonzero((before > 0) & (after <= 0))
    sharp = before[row, col] - after[row, col] > _NOISE * size[row, col + 1]
    # What is flat must fall in the end, or it is a step on the way up.
    for k in np.flatnonzero(sharp & (after[row, col] == 0)):
        further = rise[row[k], col[k] + 1 :]
        moved = further[further != 0]
        sharp[k] = moved.size > 0 and moved[0] < 0
    return row[sharp], col[sharp] + 1


def _vertex(
    u: np.ndarray, p: np.ndarray, centre: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Least p near the point ``centre`` of each window: u and p, and the shares they may be off.

    A window is a column. By the polynomial through all points of the window; those through all
    but one tell how good that is.
    """
    every = np.arange(u.shape[1])
    near = [(u[centre + k, every], p[centre + k, every]) for k in (-1, 0, 1)]
    (u0, p0), (u1, p1), (u2, p2) = near
    unit = u2 - u0
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        slope = (p1 - p0) / (u1 - u0)
        bend = ((p2 - p1) / (u2 - u1) - slope) / unit
        rough = np.clip((u0 + u1) / 2 - slope / (2 * bend), u0, u2)
        rough_p = p1 + (rough - u1) * (slope + bend * (rough - u0))
        x, y = (u - u1) / unit, p / p1
        terms = _newton(x, y)
        t = (rough - u1) / unit
        low, high = (u0 - u1) / unit, (u2 - u1) / unit
        for _ in range(4):
            _, slope, bend = _evaluated(x, terms, t, 2)
            t = np.clip(t - slope / np.where(bend > 0, 2 * bend, np.nan), low, high)
        value, _ = _evaluated(x, terms, t)
        at, least = u1 + t * unit, value * p1
        whole = np.isfinite(at) & (at > 0) & np.isfinite(least) & (least > 0)
        if len(u) < 5:  # three or four points cannot tell how good they are
            off = off_p = np.full_like(at, np.nan)
        else:
            ends = [_evaluated(q, _newton(q, r), t, 2) for q, r in _shorter(x, y)]
            off = np.max([np.abs(slope / (2 * bend)) for _, slope, bend in ends], axis=0)
            off = off * unit / at / 2  # of frequency
            off_p = np.max([np.abs(one / value - 1) for one, _, _ in ends], axis=0)
    return (
        np.where(whole, at, rough),
        np.where(whole, least, np.where(rough_p > 0, rough_p, p1)),
        np.where(whole, off, np.nan),
        np.where(whole, off_p, np.nan),
    )


def _shorter(x: np.ndarray, y: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Leave out the first point of each window, or the last."""
    return [(x[part], y[part]) for part in (slice(1, None), slice(None, -1))]


def _newton(x: np.ndarray, y: np.ndarray) -> list[np.ndarray]:
    """Divided differences of each window."""
    terms, left = [y[0]], y
    for order in range(1, len(x)):
        left = (left[1:] - left[:-1]) / (x[order:] - x[:-order])
        terms.append(left[0])
    return terms


def _evaluated(
    x: np.ndarray, terms: list[np.ndarray], t: np.ndarray, order: int = 1
) -> list[np.ndarray]:
    """Value, slope and so on, each over its factorial, of a polynomial by divided differences."""
    found = [terms[-1], *[np.zeros_like(t)] * order]
    for k in range(len(terms) - 2, -1, -1):
        step = t - x[k]
        for power in range(order, 0, -1):
            found[power] = found[power] * step + found[power - 1]
        found[0] = found[0] * step + terms[k]
    return found


def _outward(under: np.ndarray, way: int) -> tuple[np.ndarray, np.ndarray]:
    """Last column before the first one that is under, going out; and whether there is one."""
    last = under.shape[1] - 1
    outer = last - np.argmax(under[:, ::-1], axis=1) if way < 0 else np.argmax(under, axis=1)
    return outer - way, np.asarray(under.any(axis=1))


def _crossing(
    u: np.ndarray,
    size: np.ndarray,
    inner: np.ndarray,
    way: int,
    target: np.ndarray,
    top: tuple[np.ndarray, np.ndarray] | None = None,
) -> tuple[np.ndarray, np.ndarray]:
    """Where p of rows of sizes passes a target, between the point ``inner`` and the next one out.

    By the polynomial through the five points about them; those through four tell by how much u
    may be off. ``top`` is the maximum whose half power is the target, and the share by which its
    p may be off.
    """
    every, width = np.arange(len(size)), min(5, u.size)
    begin, end = u[inner], u[inner + way]
    if top is not None:
        begin = np.where(way * (top[0] - begin) > 0, top[0], begin)
    first = np.clip(np.minimum(inner, inner + way) - 1 - (way < 0), 0, u.size - width)
    window = first + np.arange(width)[:, None]
    unit = np.abs(u[inner + way] - u[inner])
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        # In sizes a straight line passes points of silence too.
        s_in, s_out, s = size[every, inner], size[every, inner + way], 1 / np.sqrt(target)
        line = begin + (end - begin) * np.clip((s_in - s) / (s_in - s_out), 0, 1)
        if top is not None:
            # Around a maximum p is a parabola, whose width any point tells.
            reach = (end - top[0]) / np.sqrt(2 * (s / s_out) ** 2 - 1)
            near = np.clip(top[0] + reach, np.minimum(begin, end), np.maximum(begin, end))
            line = np.where(reach * way > 0, near, line)
        line = np.where(np.isfinite(line), line, (begin + end) / 2)
        x = (u[window] - line) / unit
        y = (s / size[every, window]) ** 2 - 1
        terms = _newton(x, y)
        low, high = ((np.minimum(begin, end) - line) / unit, (np.maximum(begin, end) - line) / unit)
        t = np.zeros_like(line)
        for _ in range(6):
            value, slope = _evaluated(x, terms, t)
            t = np.clip(t - value / np.where(slope * way > 0, slope, np.nan), low, high)
        ends = [_evaluated(q, _newton(q, r), t) for q, r in _shorter(x, y)] if width == 5 else []
        off = np.max([np.abs(one / slope) for one, slope in ends], axis=0) if ends else np.nan
        if top is not None:
            off = off + np.abs(top[1] / _evaluated(x, terms, t)[1])
    good = np.isfinite(t)
    root = np.where(good, line + t * unit, line)
    return root, np.where(good, off * unit, np.abs(end - begin))


def _root(u: np.ndarray, p: np.ndarray, target: np.ndarray, way: int) -> np.ndarray:
    """Where the parabola through three points passes a target, rising in the direction ``way``."""
    unit = u[2] - u[0]
    slope = (p[1] - p[0]) / (u[1] - u[0])
    bend = ((p[2] - p[1]) / (u[2] - u[1]) - slope) / unit
    # c + b x + a x², from the middle point.
    a, b, c = bend, slope + bend * (u[1] - u[0]), p[1] - target
    root = np.sqrt(np.maximum(b * b - 4 * a * c, 0))
    along = b * way > 0
    return u[1] + np.where(along, -2 * c / (b + way * root), (way * root - b) / (2 * a))


# -- by a solver ------------------------------------------------------------------------------


@dataclass
class Solver:
    """Sizes of the response of one guitar, at any setting and frequency.

    Parameters
    ----------
    guitar : Harness
        The guitar.
    node : str
        Where to listen.
    drive : Drive
        What drives the coils.
    fixed : mapping of str to float
        Values that are the same at every setting.
    swept : mapping of str to numpy.ndarray
        Values of each setting.
    count : int
        How many settings there are.
    """

    guitar: Harness
    node: str
    drive: Drive
    fixed: Mapping[str, Any]
    swept: Mapping[str, np.ndarray]
    count: int

    def sizes(self, rows: np.ndarray, hertz: np.ndarray) -> np.ndarray:
        """Sizes of some settings at frequencies that they share."""
        own = {path: xr.Variable("setting", values[rows]) for path, values in self.swept.items()}
        net = self.guitar.stamp({**self.fixed, **own}, drive=self.drive)
        found = node_size(net, self.node, hertz, dims=("setting",)).values
        return np.broadcast_to(found, (len(rows), hertz.size))

    def at(self, rows: np.ndarray, hertz: np.ndarray) -> np.ndarray:
        """1/|H|² of settings, each at frequencies of its own."""
        p = np.empty(hertz.shape)
        order = np.argsort(hertz[:, 0], kind="stable")
        for first in range(0, len(rows), _TOGETHER):
            some = order[first : first + _TOGETHER]
            grid, place = np.unique(hertz[some], return_inverse=True)
            size = self.sizes(rows[some], grid)
            p[some] = _inverse(np.take_along_axis(size, place.reshape(hertz[some].shape), axis=1))
        return p

    def refine_peaks(self, rows: np.ndarray, found: Peaks) -> None:
        """Refine maxima, and where the power is half, from where a grid has them."""
        there = np.flatnonzero(np.isfinite(found.u))
        step = np.full(there.size, _STEP)
        left = np.arange(there.size)
        for _ in range(_ROUNDS):
            if not left.size:
                break
            own = there[left]
            f = np.sqrt(found.u[own])[:, None] * (1 + step[left, None] * np.arange(-2, 3))
            p = self.at(rows[own], f)
            centre = np.clip(np.argmin(p, axis=1), 1, 3)
            at, least, _, _ = _vertex(f.T**2, p.T, centre)
            moved = np.abs(np.sqrt(at / found.u[own]) - 1)
            found.u[own], found.p[own] = at, least
            # The points must stand within the resonance, or its floor is lost beside them.
            every = np.arange(own.size)
            climb = p[every, centre - 1] + p[every, centre + 1] - 2 * p[every, centre]
            sharp = np.sqrt(np.maximum(climb / least, 0)) > 1
            step[left] = np.where(sharp, step[left] / 4, step[left])
            left = left[sharp | (moved > step[left])]
        for name, way in (("low", -1), ("high", 1)):
            edge = getattr(found, name)
            some = np.flatnonzero(np.isfinite(found.u) & np.isfinite(edge))
            share = np.abs(edge[some] / found.u[some] - 1)
            wide = np.clip(share / 20, 1e-7, _STEP)
            edge[some] = self._refined(rows[some], edge[some], 2 * found.p[some], way, wide)

    def refine_limits(self, rows: np.ndarray, found: Limits, target: np.ndarray) -> None:
        """Refine where curves fall under their targets."""
        some = np.flatnonzero(np.isfinite(found.u))
        wide = np.full(some.size, _STEP)
        goal = 1 / target[some] ** 2
        found.u[some] = self._refined(rows[some], found.u[some], goal, 1, wide)

    def _refined(
        self, rows: np.ndarray, u: np.ndarray, target: np.ndarray, way: int, step: np.ndarray
    ) -> np.ndarray:
        """Refine where p passes a target."""
        u = u.copy()
        left = np.arange(u.size)
        for _ in range(_ROUNDS):
            if not left.size:
                break
            f = np.sqrt(u[left])[:, None] * (1 + step[left, None] * np.arange(-1, 2))
            p = self.at(rows[left], f)
            with np.errstate(invalid="ignore", divide="ignore"):
                root = _root(f.T**2, p.T, target[left], way)
            root = np.clip(root, u[left] * (1 - 20 * step[left]), u[left] * (1 + 20 * step[left]))
            moved = np.abs(root / u[left] - 1)
            u[left] = root
            left = left[moved > step[left] / 20]
        return u


def solved(
    guitar: Harness,
    resolved: Resolved,
    node: str,
    drive: Drive,
    find: Callable[[Solver, np.ndarray], np.ndarray],
    width: int,
) -> xr.Variable:
    """Apply ``find`` to every setting; it gives ``width`` numbers for each of some settings."""
    swept = {p: v for p, v in resolved.values.items() if isinstance(v, xr.Variable)}
    fixed = {p: v for p, v in resolved.values.items() if p not in swept}

    def task(*arrays: np.ndarray) -> np.ndarray:
        shape = np.broadcast_shapes(*(np.shape(array) for array in arrays))
        count = int(np.prod(shape))
        flat = {
            path: np.broadcast_to(array, shape).reshape(count)
            for path, array in zip(swept, arrays, strict=True)
        }
        solver = Solver(guitar, node, drive, fixed, flat, count)
        step = 1024
        found = [
            find(solver, np.arange(first, min(first + step, count)))
            for first in range(0, count, step)
        ]
        return np.concatenate(found).reshape((*shape, width))

    if not swept:
        return xr.Variable("value", task())
    result: xr.Variable = xr.apply_ufunc(
        task,
        *swept.values(),
        output_core_dims=[["value"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"value": width}},
    )
    return result
