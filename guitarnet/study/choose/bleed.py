"""Choose a treble bleed: every form of network, preferred values, the whole travel."""

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
from .port import bleed_place, check_audible, knob_across, port
from .score import BleedGoal, Scores, read_goal
from .wiring import other_wiring, why_no_other

__all__ = ["choose_treble_bleed"]

_COARSE, _FINE = 6, 60  # frequencies an octave, in the search and in the table
_MOST = 300_000  # combinations of one form; up to this many are all tried
_START = 20_000  # combinations whose best starts a continuous search
_NEIGHBOURS = 2  # preferred values on either side that rounding tries
# Largest error of the coarse frequencies, in the cost and near the limit [dB].
_OFF, _OFF_LIMIT = 0.1, 0.3
_AGAIN = 256  # candidates that are scored again at once


@public(
    guitar=None,
    goal=None,
    forms=None,
    networks=None,
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
    networks: Iterable[Any] = (),
    price: Mapping[str, float] | None = None,
    rows: int = 8,
    at: str = "amp",
    unusual: bool = False,
    **keywords: Any,
) -> BleedChoices:
    """Find the treble bleed that keeps treble, or treble and taper, best over the whole travel.

    Parameters
    ----------
    guitar : Harness or mapping of str to Harness
        The guitar, with an empty or filled place for the bleed; or several guitars that are to
        share one bleed.
    goal : BleedGoal or str
        "treble", "treble and taper", or a `guitarnet.choosing.BleedGoal` with your own band, marks
        and weights.
    place : str, optional
        Name of the place; by default the only one across a volume pot.
    knob : str, optional
        Name of the pot that you turn; by default the one across the place.
    forms : iterable of str
        Which of "capacitor", "parallel", "series" and "series with parallel" to search.
    series : str
        Preferred values to try, "E6" to "E192": capacitors from 100 pF to 10 nF, resistors from
        10 kΩ to 1 MΩ.
    capacitors, resistors : iterable of float or str, optional
        Values to try instead [F], [ohm].
    networks : iterable of Part or str
        Your own networks, such as "1.2n + 130k", which compete unchanged.
    price : mapping, optional
        Price of one ``capacitor`` and one ``resistor``, in any currency.
    rows : int
        How many of the best, and how many of the front, to list.
    at : str
        Where to listen, as in `guitarnet.response`.
    unusual : bool
        Whether ``own`` networks that hardly any guitar has are meant, and are no slip.
    settings, **keywords
        As in `guitarnet.response`. A list gives several conditions for the same bleed:
        ``**{"cable.length": ["1 m", "3 m", "6 m"]}``.

    Returns
    -------
    BleedChoices
        A ranked table. It always includes "none", the present bleed, and the other wiring of the
        tone control (such as 50s). If the tone control does not belong to this pot alone, there
        is no other wiring, and the table says so.

    Raises
    ------
    BadSetting
        If the goal, a form or a list of candidates is not right, or no candidate keeps the shape
        within the goal's limit; the message then names the best one.
    BadHarness
        If there is no place for a bleed, or there are several and you name none.
    BadValue, TooLarge
        As in `guitarnet.response`.

    Notes
    -----
    With D(f, m) = L(f, m) - L(f_ref, m) - [L(f, 10) - L(f_ref, 10)], treble is the weighted root
    mean square of D over the band and the marks, and taper that of the change of L(f_ref, m) -
    L(f_ref, 10) relative to the guitar without a bleed. The circuit outside the place is solved
    once; every candidate is then one ratio of two quadratic forms in its admittance (see
    ``study/choose/port.py``), so up to 300,000 combinations of a form are all tried. With more, a
    simplex search over the logarithms of the values improves the best of a thinned grid; the
    result is rounded to the given values, and neighbours are tried until none is better. The best
    candidates of each form are scored again at ten times as many frequencies. The numbers in the
    table come from `guitarnet.response`.

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
    chosen_forms = [
        by_name(FORMS, name, "forms") for name in _several(forms, "forms", tuple(FORMS))
    ]
    given = [_read_network(network) for network in _several(networks, "networks", ("150k || 1n",))]
    rows = read_rows(rows)
    if not chosen_forms and not given:
        raise BadSetting("forms", "is an empty list", "name a form, or give your own networks")
    values = read_candidates(series, {"F": capacitors, "ohm": resistors})
    search = _BleedSearch(guitar, read_goal(goal), (place, knob, at), settings, read_price(price))
    searched = [search.search(form, [values[unit] for unit in form.units]) for form in chosen_forms]
    choices = {choice.network: choice for choice in search.competitors(given)}
    for one, index in _shown(searched, rows):
        part = FORMS[one.form].made(one.values[index])
        if part.label() not in choices:
            choices[part.label()] = search.choice(part.label(), one.form, part)
    rank = ranked(choices.values(), lambda c: c.cost, lambda c: abs(c.worst), lambda c: c.parts)
    if not np.isfinite(rank[0].cost):
        raise search.unreached(searched, list(choices.values()))
    title = guitar.name if isinstance(guitar, Harness) else ", ".join(guitar)
    return BleedChoices(
        tuple(rank),
        search.goal,
        search.knob,
        search.place,
        tuple(searched),
        title,
        search.captions,
        tuple(search.remarks),
    )


def _several(given: Any, where: str, like: tuple[str, ...]) -> list[Any]:
    if isinstance(given, (str, Part)):
        return [given]
    return listed(given, where, f"give a list, such as {list(like)}")


def _read_network(network: Any) -> Part:
    part = bleed(network)
    if part is None:
        raise BadSetting(
            "networks", f"{network!r} is no network", "leave it out: none competes anyway"
        )
    return settle(part, "treble_bleed", "treble bleed")


def _shown(searched: Sequence[Searched], rows: int) -> list[tuple[Searched, int]]:
    """Candidates for the table: the best of each form, the best of all, and some of the front."""
    if not searched:
        return []
    shown = [(one, int(least(one.cost))) for one in searched]
    index = [(one, i) for one in searched for i in range(len(one.cost))]
    cost = np.concatenate([one.cost for one in searched])
    points = np.concatenate([one.rows[:, :2] for one in searched])
    front = pareto(points)
    # Evenly along the front, with its ends.
    along = np.unique(np.linspace(0, len(front) - 1, min(rows, len(front))).round().astype(int))
    best = order(cost)[:rows]
    return [*shown, *(index[i] for i in best), *(index[front[i]] for i in along)]


class _BleedSearch:
    """One search: the port of the guitar for all candidates, the full solver for the table."""

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
            raise BadSetting(
                self.place, "is not across a pot", "name the pot you turn: knob='volume'"
            )
        self.at = named[2]
        self._check(settings)
        check_audible(first, self.knob, settings, self.at)
        marks = sorted({*goal.marks, 10.0})
        self.settings = {self.knob: marks, **settings}
        coarse, weights = goal.frequencies(_COARSE)
        empty = self.with_part(None)
        seen = port(empty, self.place, coarse, self.settings, at=self.at)
        self.coarse = Scores(seen, weights, goal, self.knob)
        fine, weights = goal.frequencies(_FINE)
        seen = port(empty, self.place, fine, self.settings, at=self.at)
        self.fine = Scores(seen, weights, goal, self.knob)
        self.captions = {name: str(seen.open.attrs[name]) for name in ("assumptions", "guitar")}
        self.remarks = self._conditions()

    def _check(self, settings: Mapping[str, Any]) -> None:
        if self.knob in settings:
            raise BadSetting(
                self.knob,
                "is the knob that is turned",
                "give marks in goal=gn.choosing.BleedGoal(marks=...)",
            )

    def _conditions(self) -> list[str]:
        """Settings under which all numbers hold."""
        conditions = settings_in_words(self.fine.coords, self.settings)
        if self.fine.others:
            swept = "; ".join(swept_in_words(self.fine.coords, name) for name in self.fine.others)
            counts = "worst" if self.goal.over == "worst" else "root mean square"
            conditions.append(f"Over {swept} the {counts} counts")
        return conditions

    def with_part(self, part: Part | None) -> Guitars:
        """Every guitar with a part in the place."""
        if isinstance(self.guitars, Harness):
            return self.guitars.replace(self.place, part)
        return {label: g.replace(self.place, part) for label, g in self.guitars.items()}

    def choice(
        self, network: str, form: str, part: Part | None, guitars: Guitars | None = None
    ) -> BleedChoice:
        """Score a network, or another wiring, from its response."""
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

    def competitors(self, networks: Sequence[Part]) -> list[BleedChoice]:
        """Score what always competes: none, the other wiring, the present bleed, your networks."""
        choices = [self.choice("none", "none", None)]
        single = isinstance(self.guitars, Harness)
        several = {"": self.guitars} if isinstance(self.guitars, Harness) else self.guitars
        moved = {
            label: other_wiring(g.replace(self.place, None), self.place)
            for label, g in several.items()
        }
        names = {other[0] if other else "" for other in moved.values()}
        if len(names) == 1 and "" not in names:
            made = {label: other[1] for label, other in moved.items() if other}
            guitars = made[""] if single else made
            choices.append(self.choice(f"none, {names.pop()}", "wiring", None, guitars))
        elif len(names) > 1:
            self.remarks.append("No other wiring compared: the guitars are not wired alike")
        else:
            why = {why_no_other(g, self.place) for g in several.values()} - {""}
            self.remarks += [f"No other wiring compared: {reason}" for reason in sorted(why)]
        current = _first(self.guitars).parts[self.place]
        if not isinstance(current, Empty):
            choices.append(
                self.choice(f"as it is: {current.label()}", "as it is", current, self.guitars)
            )
        return choices + [self.choice(part.label(), "own", part) for part in networks]

    def unreached(self, searched: Sequence[Searched], choices: Sequence[BleedChoice]) -> BadSetting:
        """Error that names the candidate with the least worst deviation."""
        for one in searched:
            values = one.values[least(one.rows[:, 2])]
            part = FORMS[one.form].made(values)
            choices = [*choices, self.choice(part.label(), one.form, part)]
        best = ranked(choices, lambda choice: abs(choice.worst))[0]
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
        """Try every combination if there are few enough, else optimise and round."""
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
        """Cost with and without the limit, at the table's frequencies for the best candidates.

        Goes by rising coarse cost, until no other candidate can be better than the best.
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
        """Cost without the limit, which has no slope for a continuous search."""
        return np.sqrt(rows[:, 0] ** 2 + self.goal.taper * rows[:, 1] ** 2)

    def _between(
        self, form: Form, lists: Sequence[np.ndarray], start: np.ndarray
    ) -> tuple[np.ndarray, float]:
        """Optimise the values continuously, within the limits of the lists."""
        from scipy.optimize import minimize

        def cost(logs: np.ndarray) -> float:
            siemens = form.admittance(self.fine.frequency, np.exp(logs)[None])
            return float(self._plainly(self.fine.many(siemens))[0])

        bounds = [(np.log(values[0]), np.log(values[-1])) for values in lists]
        optimum = minimize(
            cost,
            np.log(start),
            method="Nelder-Mead",
            bounds=bounds,
            options={"xatol": 1e-4, "fatol": 1e-6, "maxfev": 400},
        )
        return np.exp(optimum.x), float(optimum.fun)

    def _rounded(
        self,
        form: Form,
        lists: Sequence[np.ndarray],
        between: np.ndarray,
        values: np.ndarray,
        rows: np.ndarray,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Round to the given values, and move to neighbours until none is better."""
        indices = np.array(
            [
                least(np.abs(np.log(given / value)))
                for given, value in zip(lists, between, strict=True)
            ]
        )
        while True:
            ranges = [
                given[max(0, index - _NEIGHBOURS) : index + _NEIGHBOURS + 1]
                for given, index in zip(lists, indices, strict=True)
            ]
            near = combinations(ranges)
            rows_near = self.rows(form, near)
            values, rows = np.concatenate([values, near]), np.concatenate([rows, rows_near])
            best = near[least(self.coarse.cost(rows_near))]
            moved = np.array(
                [np.searchsorted(given, value) for given, value in zip(lists, best, strict=True)]
            )
            if (moved == indices).all():
                kept = np.unique(values, axis=0, return_index=True)[1]
                return values[kept], rows[kept]
            indices = moved


def _first(guitars: Guitars) -> Harness:
    """The guitar, or the first of several; all must be guitars."""
    several: list[Any] = list(guitars.values()) if isinstance(guitars, Mapping) else [guitars]
    for one in several or [None]:
        check_guitar(one)
    guitar: Harness = several[0]
    return guitar
