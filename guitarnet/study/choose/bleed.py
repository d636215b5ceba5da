"""Choose a treble bleed: every form of network, values one can buy, over the whole travel."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting, by_name, listed
from ...gate import public
from ...parts.base import Part
from ...parts.two_lug import Empty, bleed
from ...parts.usual import settle
from ...ranking import at_most, least, order, ranked
from ...units import fixed
from ..response.labels import settings_in_words, swept_in_words
from ..response.response import response
from ..response.sweep import Guitars, check_guitar
from .bleed_result import BleedChoice, BleedChoices, Searched, pareto, read_rows
from .networks import FORMS, Form, combinations, count_parts, read_candidates, read_price, thinned
from .port import bleed_place, check_heard, knob_across, port
from .score import BleedGoal, Scores, read_goal
from .wiring import other_wiring, why_no_other

__all__ = ["choose_treble_bleed"]

_COARSE, _FINE = 6, 60  # frequencies an octave, in the search and in the table
_MOST = 300_000  # combinations of one form that are all tried
_START = 20_000  # of which the best is where a continuous search begins
_NEIGHBOURS = 2  # preferred values on either side that rounding tries
# How far the coarse frequencies may be off, in the cost and near the limit [dB].
_OFF, _OFF_LIMIT = 0.1, 0.3
_AGAIN = 256  # candidates that are scored anew at once


@public(
    guitar=None,
    goal=None,
    forms=None,
    own=None,
    price=None,
    capacitors=None,
    resistors=None,
    rows=None,
)
def choose_treble_bleed(
    guitar: Guitars,
    settings: Settings = None,
    *,
    goal: BleedGoal | str = "treble and taper",
    place: str | None = None,
    knob: str | None = None,
    forms: Iterable[str] = tuple(FORMS),
    series: str = "E12",
    capacitors: Iterable[Any] | None = None,
    resistors: Iterable[Any] | None = None,
    own: Iterable[Any] = (),
    price: Mapping[str, float] | None = None,
    rows: int = 8,
    at: str = "amp",
    unusual: bool = False,
    **keywords: Any,
) -> BleedChoices:
    """Find the treble bleed that best keeps treble, or treble and taper, over the whole travel.

    Parameters
    ----------
    guitar : Harness or mapping of str to Harness
        The guitar, with an empty or filled place for the bleed; or several, for one bleed that
        has to serve them all.
    goal : BleedGoal or str
        "treble", "treble and taper", or a `guitarnet.choosing.BleedGoal` with band, marks and
        weights of its own.
    place : str, optional
        Name of the place; the only one across a volume pot unless given.
    knob : str, optional
        Name of the pot that is turned; the one across the place unless given.
    forms : iterable of str
        Which of "capacitor", "parallel", "series" and "series with parallel" to search.
    series : str
        Preferred values to try, "E6" to "E192": capacitors from 100 pF to 10 nF, resistors from
        10 kΩ to 1 MΩ.
    capacitors, resistors : iterable of float or str, optional
        Values to try instead [F], [ohm].
    own : iterable of Part or str
        Networks of one's own, such as "1.2n + 130k", that compete as they are.
    price : mapping, optional
        Price of one ``capacitor`` and one ``resistor``, in any money.
    rows : int
        How many of the best, and how many of the front, the table is to hold.
    at : str
        Where to listen, as in `guitarnet.response`.
    unusual : bool
        Whether ``own`` networks that hardly any guitar has are meant, and are no slip.
    settings, **keywords
        As in `guitarnet.response`. Every list is a range of conditions that the bleed has to
        serve: ``**{"cable.length": ["1 m", "3 m", "6 m"]}``.

    Returns
    -------
    BleedChoices
        A ranked table; "none", the bleed that is there and the tone control on the other side
        (50s wiring) always compete. Where the tone control is not the pot's own, as where it is
        shared or behind the switch, no other wiring can be laid out, and the table says so.

    Raises
    ------
    BadSetting
        If the goal, a form or a list of candidates is not right, or nothing keeps the shape
        within the goal's limit; the message then says the best that was reached.
    BadHarness
        If there is no place for a bleed, or several and none was named.
    BadValue, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    With D(f, m) = L(f, m) - L(f_ref, m) - [L(f, 10) - L(f_ref, 10)], treble is the weighted root
    mean square of D over the band and the marks, and taper that of the change of L(f_ref, m) -
    L(f_ref, 10) against the guitar without a bleed. The circuit outside the place is solved once;
    every candidate is then one ratio of two quadratic forms in its admittance (see
    ``study/choose/port.py``), so up to 300,000 combinations of a form are all tried. Beyond that
    the best of a thinned grid is improved by a simplex search over the logarithms of the values,
    then rounded to the values that were given, and neighbours tried until none is better. Whatever
    may be the best of its form is scored again on ten times as many frequencies. What the table
    shows is computed anew by `guitarnet.response`.

    References
    ----------
    J. A. Nelder, R. Mead, "A simplex method for function minimization", The Computer Journal 7
    (1965), p. 308.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), cable="5 m")
    >>> found = choose_treble_bleed(guitar, series="E6", forms=["capacitor", "parallel"])
    >>> found.best.network, round(found.best.treble, 1) < round(found["none"].treble, 1)
    ('150 pF', True)
    """
    settings = one_mapping(settings, keywords)
    wanted = [by_name(FORMS, name, "forms") for name in _several(forms, "forms", tuple(FORMS))]
    networks = [_read_own(network) for network in _several(own, "own", ("150k || 1n",))]
    rows = read_rows(rows)
    if not wanted and not networks:
        raise BadSetting("forms", "is an empty list", "name a form, or give networks of your own")
    values = read_candidates(series, {"F": capacitors, "ohm": resistors})
    task = _Task(guitar, read_goal(goal), (place, knob, at), settings, read_price(price))
    searched = [task.search(form, [values[unit] for unit in form.units]) for form in wanted]
    found = {choice.network: choice for choice in task.competitors(networks)}
    for one, index in _shown(searched, rows):
        part = FORMS[one.form].made(one.values[index])
        if part.label() not in found:
            found[part.label()] = task.choice(part.label(), one.form, part)
    rank = ranked(found.values(), lambda c: c.cost, lambda c: abs(c.worst), lambda c: c.parts)
    if not np.isfinite(rank[0].cost):
        raise task.unreached(searched, list(found.values()))
    title = guitar.name if isinstance(guitar, Harness) else ", ".join(guitar)
    return BleedChoices(
        tuple(rank),
        task.goal,
        task.knob,
        task.place,
        tuple(searched),
        title,
        task.told,
        tuple(task.remarks),
    )


def _several(given: Any, where: str, like: tuple[str, ...]) -> list[Any]:
    if isinstance(given, (str, Part)):
        return [given]
    return listed(given, where, f"give a list, such as {list(like)}")


def _read_own(network: Any) -> Part:
    part = bleed(network)
    if part is None:
        raise BadSetting("own", f"{network!r} is no network", "leave it out: none competes anyway")
    return settle(part, "treble_bleed", "treble bleed")


def _shown(searched: Sequence[Searched], rows: int) -> list[tuple[Searched, int]]:
    """Candidates for the table: the best of each form, the best of all, some of the front."""
    if not searched:
        return []
    found = [(one, int(least(one.cost))) for one in searched]
    index = [(one, i) for one in searched for i in range(len(one.cost))]
    cost = np.concatenate([one.cost for one in searched])
    points = np.concatenate([one.rows[:, :2] for one in searched])
    front = pareto(points)
    # Spread evenly along the front, its ends included.
    along = np.unique(np.linspace(0, len(front) - 1, min(rows, len(front))).round().astype(int))
    best = order(cost)[:rows]
    return [*found, *(index[i] for i in best), *(index[front[i]] for i in along)]


class _Task:
    """One search: the guitar's port, and the full solver for what is shown."""

    def __init__(
        self,
        guitar: Guitars,
        goal: BleedGoal,
        named: tuple[str | None, str | None, str],
        settings: Mapping[str, Any],
        price: Mapping[str, float],
    ) -> None:
        first = _first(guitar)
        self.guitars: Guitars = guitar
        self.goal, self.price = goal, price
        self.place = named[0] or bleed_place(first)
        first.split(self.place)
        self.knob = named[1] or knob_across(first, self.place) or ""
        if not self.knob:
            raise BadSetting(self.place, "lies across no pot", "say which is turned: knob='volume'")
        self.at = named[2]
        self._check(settings)
        check_heard(first, self.knob, settings, self.at)
        marks = sorted({*goal.marks, 10.0})
        self.settings = {self.knob: marks, **settings}
        coarse, weights = goal.frequencies(_COARSE)
        empty = self.with_part(None)
        seen = port(empty, self.place, coarse, self.settings, at=self.at)
        self.coarse = Scores(seen, weights, goal, self.knob)
        fine, weights = goal.frequencies(_FINE)
        seen = port(empty, self.place, fine, self.settings, at=self.at)
        self.fine = Scores(seen, weights, goal, self.knob)
        self.told = {name: str(seen.open.attrs[name]) for name in ("assumptions", "guitar")}
        self.remarks = self._conditions()

    def _check(self, settings: Mapping[str, Any]) -> None:
        if self.knob in settings:
            raise BadSetting(
                self.knob,
                "is the knob that is turned",
                "give marks in goal=gn.choosing.BleedGoal(marks=...)",
            )

    def _conditions(self) -> list[str]:
        """Say under which settings all numbers hold."""
        found = settings_in_words(self.fine.coords, self.settings)
        if self.fine.others:
            swept = "; ".join(swept_in_words(self.fine.coords, name) for name in self.fine.others)
            counts = "worst" if self.goal.over == "worst" else "root mean square"
            found.append(f"Over {swept} the {counts} counts")
        return found

    def with_part(self, part: Part | None) -> Guitars:
        """Put a part into the place, in every guitar."""
        if isinstance(self.guitars, Harness):
            return self.guitars.replace(self.place, part)
        return {label: g.replace(self.place, part) for label, g in self.guitars.items()}

    def choice(
        self, network: str, form: str, part: Part | None, guitars: Guitars | None = None
    ) -> BleedChoice:
        """Score a network, or a guitar wired otherwise, by its response in full."""
        made = self.with_part(part) if guitars is None else guitars
        f = self.fine.frequency
        h = response(made, self.settings, frequency=f[:-1], at=self.at, reference_frequency=f[-1])
        score = self.fine.score(h)
        cost = float(self.fine.cost(np.array([score.treble, score.taper, abs(score.worst)])))
        caps, ohms = count_parts(part)
        price = None
        if self.price:
            price = caps * self.price.get("capacitor", 0.0) + ohms * self.price.get("resistor", 0.0)
        return BleedChoice(network, form, part, score, cost, caps, ohms, price, made)

    def competitors(self, own: Sequence[Part]) -> list[BleedChoice]:
        """Score what is never left out: none, the other wiring, what is there, one's own."""
        found = [self.choice("none", "none", None)]
        one = isinstance(self.guitars, Harness)
        several = {"": self.guitars} if isinstance(self.guitars, Harness) else self.guitars
        moved = {
            label: other_wiring(g.replace(self.place, None), self.place)
            for label, g in several.items()
        }
        names = {other[0] if other else "" for other in moved.values()}
        if len(names) == 1 and "" not in names:
            made = {label: other[1] for label, other in moved.items() if other}
            guitars = made[""] if one else made
            found.append(self.choice(f"none, {names.pop()}", "wiring", None, guitars))
        elif len(names) > 1:
            self.remarks.append("No other wiring compared: the guitars are not wired alike")
        else:
            why = {why_no_other(g, self.place) for g in several.values()} - {""}
            self.remarks += [f"No other wiring compared: {one}" for one in sorted(why)]
        there = _first(self.guitars).parts[self.place]
        if not isinstance(there, Empty):
            found.append(self.choice(f"as it is: {there.label()}", "as it is", there, self.guitars))
        return found + [self.choice(part.label(), "own", part) for part in own]

    def unreached(self, searched: Sequence[Searched], found: Sequence[BleedChoice]) -> BadSetting:
        """Say the least worst deviation that was reached."""
        for one in searched:
            values = one.values[least(one.rows[:, 2])]
            part = FORMS[one.form].made(values)
            found = [*found, self.choice(part.label(), one.form, part)]
        best = ranked(found, lambda choice: abs(choice.worst))[0]
        return BadSetting(
            "goal.within",
            f"no candidate keeps the shape within {self.goal.within:g} dB; the best reached is "
            f"{fixed(best.worst, 1, sign=True)} dB, with {best.network}",
            "allow more, narrow the band or the conditions, or give more candidates",
            best,
        )

    # -- the search -----------------------------------------------------------------------------

    def rows(self, form: Form, values: np.ndarray) -> np.ndarray:
        """Numbers of many candidates of one form."""
        return self.coarse.many(form.admittance(self.coarse.frequency, values))

    def search(self, form: Form, lists: list[np.ndarray]) -> Searched:
        """Try every combination where they are few enough, else find the best and round it."""
        whole = math.prod(len(values) for values in lists) <= _MOST
        values = combinations(lists if whole else thinned(lists, _START))
        rows = self.rows(form, values)
        cost, plain = self._again(form, values, rows)
        between, between_cost = self._between(form, lists, values[least(plain)])
        if not whole:
            values, rows = self._rounded(form, lists, between, values, rows)
            cost, _ = self._again(form, values, rows)
        return Searched(form.name, form.units, values, rows, cost, whole, between, between_cost)

    def _again(
        self, form: Form, values: np.ndarray, rows: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Cost with and without the limit, on the table's frequencies where it may be least.

        By rising coarse cost, until what is left cannot come under the best any more.
        """
        within = np.inf if self.goal.within is None else self.goal.within + _OFF_LIMIT
        rows = rows.copy()
        coarse, best = self._plainly(rows), np.inf
        rising = order(coarse)
        rising = rising[at_most(rows[rising, 2], within)]
        for first in range(0, rising.size, _AGAIN):
            block = rising[first : first + _AGAIN]
            if coarse[block[0]] > best + _OFF:
                break
            admittance = form.admittance(self.fine.frequency, values[block])
            rows[block] = self.fine.many(admittance)
            best = min(best, float(self.fine.cost(rows[block]).min()))
        return self.fine.cost(rows), self._plainly(rows)

    def _plainly(self, rows: np.ndarray) -> np.ndarray:
        """Cost without the limit, which would leave a continuous search no slope to follow."""
        return np.sqrt(rows[:, 0] ** 2 + self.goal.taper * rows[:, 1] ** 2)

    def _between(
        self, form: Form, lists: Sequence[np.ndarray], start: np.ndarray
    ) -> tuple[np.ndarray, float]:
        """Improve values continuously, within the limits of the lists."""
        from scipy.optimize import minimize

        def cost(logs: np.ndarray) -> float:
            siemens = form.admittance(self.fine.frequency, np.exp(logs)[None])
            return float(self._plainly(self.fine.many(siemens))[0])

        bounds = [(np.log(values[0]), np.log(values[-1])) for values in lists]
        found = minimize(
            cost,
            np.log(start),
            method="Nelder-Mead",
            bounds=bounds,
            options={"xatol": 1e-4, "fatol": 1e-6, "maxfev": 400},
        )
        return np.exp(found.x), float(found.fun)

    def _rounded(
        self,
        form: Form,
        lists: Sequence[np.ndarray],
        between: np.ndarray,
        values: np.ndarray,
        rows: np.ndarray,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Round to the values given, and go on to neighbours until none is better."""
        places = np.array(
            [least(np.abs(np.log(own / value))) for own, value in zip(lists, between, strict=True)]
        )
        while True:
            ranges = [
                own[max(0, place - _NEIGHBOURS) : place + _NEIGHBOURS + 1]
                for own, place in zip(lists, places, strict=True)
            ]
            near = combinations(ranges)
            found = self.rows(form, near)
            values, rows = np.concatenate([values, near]), np.concatenate([rows, found])
            best = near[least(self.coarse.cost(found))]
            moved = np.array(
                [np.searchsorted(own, value) for own, value in zip(lists, best, strict=True)]
            )
            if (moved == places).all():
                kept = np.unique(values, axis=0, return_index=True)[1]
                return values[kept], rows[kept]
            places = moved


def _first(guitars: Guitars) -> Harness:
    """The one guitar, or the first of several, all of which must be guitars."""
    several: list[Any] = list(guitars.values()) if isinstance(guitars, Mapping) else [guitars]
    for one in several or [None]:
        check_guitar(one)
    found: Harness = several[0]
    return found
