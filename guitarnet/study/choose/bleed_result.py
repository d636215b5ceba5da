"""Result of a search for a treble bleed: choices, their table, their front."""

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
from .score import BleedGoal, Score, location_label

__all__ = ["BleedChoice", "BleedChoices", "Searched", "pareto", "read_rows"]


@dataclass(frozen=True, eq=False)
class BleedChoice(ByValue):
    """One candidate and its numbers. Made by `choose_treble_bleed`.

    Parameters
    ----------
    network : str
        The network in a few words; "none" for no network.
    form : str
        Form of the network; "own" for your own, "wiring" for none with the tone control moved.
    part : Part or None
        The part in the place.
    score : Score
        Deviations of shape and level.
    cost : float
        Ranking number [dB]; infinite if the goal's limit is exceeded.
    capacitors, resistors : int
        How many of each.
    price : float, optional
        Price of these parts.
    guitar : Harness or mapping of str to Harness
        The guitar with this network.
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
        """Largest deviation of the shape, with its sign [dB]."""
        return self.score.worst

    @property
    def parts(self) -> int:
        """How many parts."""
        return self.capacitors + self.resistors


@dataclass(frozen=True, eq=False)
class Searched(ByValue):
    """Every candidate of one form that was tried.

    Parameters
    ----------
    form : str
        Name of the form.
    units : tuple of str
        Unit of each value.
    values : numpy.ndarray
        Values in SI, a row for each candidate.
    rows : numpy.ndarray
        Treble, taper and size of the worst deviation [dB], a row for each candidate, at the
        coarse frequencies of the search.
    cost : numpy.ndarray
        Ranking number [dB] of each; at the fine frequencies of the table for candidates near the
        best.
    whole : bool
        Whether every combination of the given values was tried.
    between : numpy.ndarray
        Best values without rounding, from a continuous search without the goal's limit.
    between_cost : float
        Their cost [dB], at the frequencies of the table.
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
        The goal of the ranking.
    knob, place : str
        The pot that you turn, and the place of the network.
    searched : tuple of Searched
        Every candidate, by form.
    title : str
        Name of the guitar.
    captions : mapping of str to str
        Notes under a figure: ``assumptions``, and the parts of the ``guitar``.
    remarks : tuple of str
        Conditions of the numbers, and what could not be compared.

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
    captions: Mapping[str, str]
    remarks: tuple[str, ...] = ()

    @property
    def best(self) -> BleedChoice:
        """The first of the ranking."""
        return self.choices[0]

    @property
    def front(self) -> tuple[BleedChoice, ...]:
        """Choices that no other beats in both treble and taper, by rising taper error."""
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
        """Guitars by network, for `guitarnet.response`; by default the best, none and some others.

        Raises
        ------
        BadSetting
            If the choice was for several guitars, or a network is not in the table.
        """
        names = networks or tuple(
            dict.fromkeys([self.best.network, "none", *self._of("wiring"), *self._of("as it is")])
        )
        builds = {}
        for name in names:
            guitar = self[name].guitar
            if not isinstance(guitar, Harness):
                raise BadSetting("builds", "are of several guitars", "take choice.guitar")
            builds[name] = guitar
        return builds

    def _of(self, form: str) -> list[str]:
        return [choice.network for choice in self.choices if choice.form == form]

    def table(self) -> Table:
        """Return all choices as a table, with the references of its decibels in the note."""
        front = set(map(id, self.front))
        priced = any(choice.price is not None for choice in self.choices)
        columns = ["", "network", "treble [dB]", "taper [dB]", "worst [dB]", "worst at"]
        columns += ["overshoot [dB]", "parts", *(["price"] if priced else []), "front"]
        lines = []
        for rank, choice in enumerate(self.choices, 1):
            score = choice.score
            line: list[Any] = [rank, choice.network, fixed(score.treble, 2), fixed(score.taper, 2)]
            line += [fixed(score.worst, 1, sign=True), location_label(score.worst_at)]
            line += [fixed(score.overshoot, 1), choice.parts]
            if priced:
                line.append("" if choice.price is None else fixed(choice.price, 2))
            lines.append([*line, "yes" if id(choice) in front else ""])
        return Table(columns, lines, f"Treble bleeds for {self.title}", self._note())

    def _note(self) -> str:
        tried = sum(len(one.values) for one in self.searched)
        sentences = [
            self.goal.description(self.knob),
            f"{tried} networks tried."
            + ("" if all(s.whole for s in self.searched) else " Not every combination was."),
            "Front: no other row is better on both counts.",
            *(f"{remark}." for remark in self.remarks),
            "These are numbers, not taste.",
        ]
        if self.goal.within is not None:
            sentences.insert(1, f"Those within {self.goal.within:g} dB everywhere come first.")
        return " ".join(sentences)

    def rounding(self) -> Table:
        """Return the best values of each form before and after rounding, with their cost."""
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
        note = "Any values: between the smallest and the largest given. Cost: as in the ranking."
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
    """Read the number of rows of a table."""
    if is_whole(rows) and int(rows) >= 0:
        return int(rows)
    raise BadSetting("rows", f"{rows!r} is no whole number from 0", "give one, as 8", rows)


def pareto(points: np.ndarray) -> list[int]:
    """Indices of the points that no other point beats in both columns, by the second column.

    Points are compared in hundredths of a decibel, as tables show them.
    """
    # Rounded as the tables round: slightly under a half goes up.
    hundredths = np.floor(100 * points + (0.5 + 1e-4))
    front: list[int] = []
    lowest = np.inf
    for index in order(hundredths[:, 1], hundredths[:, 0]):
        if hundredths[index, 0] < lowest:
            lowest = hundredths[index, 0]
            front.append(int(index))
    return front
