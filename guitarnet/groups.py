"""Merge things into groups: lugs into nodes, shorts into one, lines of a drawing."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Generic, TypeVar

__all__ = ["Groups"]

T = TypeVar("T", bound=Hashable)


class Groups(Generic[T]):
    """Groups of things; each is known by one of its members."""

    def __init__(self) -> None:
        self._parent: dict[T, T] = {}

    def find(self, thing: T) -> T:
        """Name the group that a thing is in."""
        parent = self._parent
        while thing in parent:
            thing = parent[thing]
        return thing

    def merge(self, one: T, other: T) -> None:
        """Make one group of the groups of two things."""
        one, other = self.find(one), self.find(other)
        if one != other:
            self._parent[other] = one
