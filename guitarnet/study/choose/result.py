"""Result of a choice of values: combinations, what each reaches, and their table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import xarray as xr

from ...gate import public
from ...identity import ByValue
from ...table import Table, Tabled
from ...units import fixed
from ..response.labels import settings_in_words, swept_in_words
from .bleed_result import read_rows
from .goals import Goal

__all__ = ["Choice", "Choices"]


@dataclass(frozen=True, eq=False)
class Choice(ByValue):
    """One combination of values, and what it reaches. Made by `choose`.

    Parameters
    ----------
    values : mapping of str to float or str
        The values by setting: in SI, or labels of categories.
    written : mapping of str to str
        The same as text with units.
    reached : tuple of float
        Value of each goal's measure; under several conditions, the worst.
    miss : float
        Root of the sum of squared misses, each in its goal's ``within``.
    met : bool
        Whether every goal is reached.
    how : str
        "given", "between" (continuous) or "rounded".
    """

    values: Mapping[str, Any]
    written: Mapping[str, str]
    reached: tuple[float, ...]
    miss: float
    met: bool
    how: str = "given"


@public
@dataclass(frozen=True, eq=False, repr=False)
class Choices(Tabled, ByValue):
    """Ranked choices. Made by `choose`; shows itself as a table.

    Parameters
    ----------
    choices : tuple of Choice
        The best first.
    goals : tuple of Goal
        The goals.
    measured : tuple of xarray.DataArray
        Each goal's measure for every candidate and condition.
    title : str
        Name of the guitar.
    settings : mapping
        The conditions, as given.

    Examples
    --------
    See `choose`.
    """

    choices: tuple[Choice, ...]
    goals: tuple[Goal, ...]
    measured: tuple[xr.DataArray, ...]
    title: str
    settings: Mapping[str, Any] = field(default_factory=dict)

    @property
    def best(self) -> Choice:
        """The first of the ranking."""
        return self.choices[0]

    @property
    def met(self) -> tuple[Choice, ...]:
        """Choices that reach every goal."""
        return tuple(choice for choice in self.choices if choice.met)

    def __iter__(self) -> Iterator[Choice]:
        return iter(self.choices)

    def __len__(self) -> int:
        return len(self.choices)

    def table(self, rows: int | None = 20) -> Table:
        """Return choices as a table.

        Parameters
        ----------
        rows : int, optional
            How many of the best; None for all.

        Returns
        -------
        Table
            Values, what they reach, and by how much they miss.

        Raises
        ------
        BadSetting
            If ``rows`` is no whole number.
        """
        rows = len(self) if rows is None else read_rows(rows)
        names = list(self.best.written)
        ranged = any(choice.how != "given" for choice in self.choices)
        columns = ["", *names, *(goal.name for goal in self.goals), "miss", "reached"]
        lines = []
        for rank, choice in enumerate(self.choices[:rows], 1):
            line: list[Any] = [rank, *(choice.written[name] for name in names)]
            line += [g.shown(v) for g, v in zip(self.goals, choice.reached, strict=True)]
            line += [fixed(choice.miss, 2), "yes" if choice.met else ""]
            lines.append([*line, choice.how] if ranged else line)
        return Table([*columns, "value"] if ranged else columns, lines, self.title, self._note())

    def _note(self) -> str:
        goals = "; ".join(str(goal) for goal in self.goals)
        where = "".join(f" {remark}." for remark in self.remarks)
        return (
            f"Goal: {goals}. Miss: in units of the allowed deviation, root of the sum of squares."
            f"{where} These are numbers, not taste."
        )

    @property
    def remarks(self) -> tuple[str, ...]:
        """Conditions under which the goals must be reached."""
        coords = self.measured[0].coords
        remarks = settings_in_words(coords, self.settings)
        swept = {
            str(dim): swept_in_words(values.coords, str(dim))
            for values in self.measured
            for dim in values.dims
            if dim not in self.best.values
        }
        if swept:
            remarks.append(f"The numbers are the worst over {'; '.join(swept.values())}")
        return tuple(remarks)

    def _records(self) -> Iterator[dict[str, Any]]:
        for choice in self.choices:
            reached = zip(self.goals, choice.reached, strict=True)
            yield {
                **choice.values,
                **{goal.name: value for goal, value in reached},
                "miss": choice.miss,
                "met": choice.met,
                "how": choice.how,
            }
