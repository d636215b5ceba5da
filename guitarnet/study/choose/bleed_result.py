"""What a search for a treble bleed found: choices, their table, the front between two aims."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...circuit.harness import Harness
from ...errors import BadSetting, nearest
from ...gate import is_whole, public
from ...identity import ByValue
from ...parts.base import Part
from ...ranking import least, order
from ...table import Table, Tabled
from ...units import fixed, format_value
from .score import BleedGoal, Score, where_said

__all__ = ["BleedChoice", "BleedChoices", "Searched", "pareto", "read_rows"]


@dataclass(frozen=True, eq=False)
class BleedChoice(ByValue):
    """One candidate and its numbers. Made by `choose_treble_bleed`.

    Parameters
    ----------
    network : str
        What is soldered, in a few words; "none" is nothing.
    form : str
        Form of the network, "own" for one's own, "wiring" for none with the tone control moved.
    part : Part or None
        What goes to the place.
    score : Score
        Its numbers.
    cost : float
        What it is ranked by [dB]; infinite where the goal's limit is exceeded.
    capacitors, resistors : int
        How many of each it takes.
    price : float, optional
        What they cost.
    guitar : Harness or mapping of str to Harness
        The guitar with it.
    """

    network: str
    form: str
    part: Part | None
    score: Score
    cost: float
    capacitors: int
    resistors: int
    price: float | None
    guitar: Harness | Mapping[str, Harness]

    @property
    def treble(self) -> float:
        """Root mean square deviation of the shape [dB]."""
        return self.score.treble

    @property
    def taper(self) -> float:
        """Root mean square change of the level against the knob [dB]."""
        return self.score.taper

    @property
    def worst(self) -> float:
        """Deviation of the shape that is largest in size, with its sign [dB]."""
        return self.score.worst

    @property
    def parts(self) -> int:
        """How many parts it takes."""
        return self.capacitors + self.resistors


@dataclass(frozen=True, eq=False)
class Searched(ByValue):
    """Every candidate of one form that was tried.

    Parameters
    ----------
    form : str
        Its name.
    units : tuple of str
        Unit of each value.
    values : numpy.ndarray
        Values in SI, a row for each candidate.
    rows : numpy.ndarray
        Treble, taper and size of the worst deviation [dB], a row for each candidate; on the
        coarser frequencies of the search.
    cost : numpy.ndarray
        What they are ranked by [dB]; on the finer frequencies of the table for all that come
        near the best.
    whole : bool
        Whether every combination of the values given was tried.
    between : numpy.ndarray
        Best values if any could be bought, by a continuous search, whatever the goal's limit.
    between_cost : float
        Their cost [dB], on the frequencies of the table.
    """

    form: str
    units: tuple[str, ...]
    values: np.ndarray
    rows: np.ndarray
    cost: np.ndarray
    whole: bool
    between: np.ndarray
    between_cost: float


@public
@dataclass(frozen=True, eq=False, repr=False)
class BleedChoices(Tabled, ByValue):
    """Ranked treble bleeds. Made by `choose_treble_bleed`; shows itself as a table.

    Parameters
    ----------
    choices : tuple of BleedChoice
        The best first.
    goal : BleedGoal
        What they were ranked by.
    knob, place : str
        The pot that is turned, and where the network goes.
    searched : tuple of Searched
        Everything that was tried, form by form.
    title : str
        What the guitar is called.
    told : mapping of str to str
        What a figure must state: ``assumptions``, and the parts of the ``guitar``.
    remarks : tuple of str
        Under which conditions all that holds, and what could not be compared.

    Examples
    --------
    See `choose_treble_bleed`.
    """

    choices: tuple[BleedChoice, ...]
    goal: BleedGoal
    knob: str
    place: str
    searched: tuple[Searched, ...]
    title: str
    told: Mapping[str, str]
    remarks: tuple[str, ...] = ()

    @property
    def best(self) -> BleedChoice:
        """The first of the ranking."""
        return self.choices[0]

    @property
    def front(self) -> tuple[BleedChoice, ...]:
        """Choices of the table that no other beats in treble and taper, by rising taper error."""
        points = np.array([(choice.treble, choice.taper) for choice in self.choices])
        return tuple(self.choices[i] for i in pareto(points))

    def __iter__(self) -> Iterator[BleedChoice]:
        return iter(self.choices)

    def __len__(self) -> int:
        return len(self.choices)

    def __getitem__(self, network: str | int) -> BleedChoice:
        """Take a choice by its rank, from 0, or by its network.

        Raises
        ------
        BadSetting
            If no such network is in the table.
        """
        if isinstance(network, int):
            return self.choices[network]
        for choice in self.choices:
            if choice.network == network:
                return choice
        names = [choice.network for choice in self.choices]
        raise BadSetting("network", f"{network!r} is not in the table", nearest(network, names))

    def builds(self, *networks: str) -> dict[str, Harness]:
        """Guitars by network, for `guitarnet.response`; best, none and others unless named.

        Raises
        ------
        BadSetting
            If several guitars were served, or a network is not in the table.
        """
        names = networks or tuple(
            dict.fromkeys([self.best.network, "none", *self._of("wiring"), *self._of("as it is")])
        )
        found = {}
        for name in names:
            guitar = self[name].guitar
            if not isinstance(guitar, Harness):
                raise BadSetting("builds", "several guitars were served", "take choice.guitar")
            found[name] = guitar
        return found

    def _of(self, form: str) -> list[str]:
        return [choice.network for choice in self.choices if choice.form == form]

    def table(self) -> Table:
        """Return all choices as a table, with what its decibels refer to under it."""
        front = set(map(id, self.front))
        priced = any(choice.price is not None for choice in self.choices)
        columns = ["", "network", "treble [dB]", "taper [dB]", "worst [dB]", "worst at"]
        columns += ["overshoot [dB]", "parts", *(["price"] if priced else []), "front"]
        lines = []
        for rank, choice in enumerate(self.choices, 1):
            score = choice.score
            line: list[Any] = [rank, choice.network, fixed(score.treble, 2), fixed(score.taper, 2)]
            line += [fixed(score.worst, 1, sign=True), where_said(score.worst_at)]
            line += [fixed(score.overshoot, 1), choice.parts]
            if priced:
                line.append("" if choice.price is None else fixed(choice.price, 2))
            lines.append([*line, "yes" if id(choice) in front else ""])
        return Table(columns, lines, f"Treble bleeds for {self.title}", self._note())

    def _note(self) -> str:
        tried = sum(len(one.values) for one in self.searched)
        words = [
            self.goal.words(self.knob),
            f"{tried} networks tried."
            + ("" if all(s.whole for s in self.searched) else " Not every combination was."),
            "Front: nothing in the table keeps both better.",
            *(f"{remark}." for remark in self.remarks),
            "Numbers, not taste.",
        ]
        if self.goal.within is not None:
            words.insert(1, f"Those within {self.goal.within:g} dB everywhere come first.")
        return " ".join(words)

    def rounding(self) -> Table:
        """Tell, form by form, the best values if any could be bought, and what rounding costs."""
        lines = []
        for one in self.searched:
            best = int(least(one.cost))
            free, bought = (
                ", ".join(
                    format_value(float(value), unit, digits=3)
                    for value, unit in zip(values, one.units, strict=True)
                )
                for values in (one.between, one.values[best])
            )
            costs = fixed(one.between_cost, 3), fixed(one.cost[best], 3)
            lines.append((one.form, free, costs[0], bought, costs[1]))
        columns = ("form", "any values", "cost [dB]", "values given", "cost [dB] ")
        note = "Any values: between the smallest and the largest given. Costs as in the ranking."
        return Table(columns, lines, "What rounding to the values given costs", note)

    def _records(self) -> Iterator[dict[str, Any]]:
        front = set(map(id, self.front))
        for choice in self.choices:
            yield {
                "network": choice.network,
                "form": choice.form,
                "treble": choice.treble,
                "taper": choice.taper,
                "worst": choice.score.worst,
                "overshoot": choice.score.overshoot,
                "parts": choice.parts,
                "price": choice.price,
                "front": id(choice) in front,
            }


def read_rows(rows: Any) -> int:
    """Read how many rows a table is to have."""
    if is_whole(rows) and int(rows) >= 0:
        return int(rows)
    raise BadSetting("rows", f"{rows!r} is no whole number from 0", "give one, as 8", rows)


def pareto(points: np.ndarray) -> list[int]:
    """Indices of the points that no other is as good as in both columns, by the second column.

    Hundredths of a decibel, as tables show them: finer differences are no gain.
    """
    # Rounded as the tables round, a hair under a half goes up.
    hundredths = np.floor(100 * points + (0.5 + 1e-4))
    found: list[int] = []
    lowest = np.inf
    for index in order(hundredths[:, 1], hundredths[:, 0]):
        if hundredths[index, 0] < lowest:
            lowest = hundredths[index, 0]
            found.append(int(index))
    return found
