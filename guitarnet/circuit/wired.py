"""What settings and lists need of a harness: parts, joints, and a part replaced."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol, Self

from ..parts.base import Part

__all__ = ["Wired"]


class Wired(Protocol):
    """A harness, as those see it on which a harness itself stands."""

    @property
    def name(self) -> str: ...
    @property
    def parts(self) -> Mapping[str, Part]: ...
    @property
    def joined(self) -> tuple[tuple[str, ...], ...]: ...
    @property
    def open_lugs(self) -> tuple[str, ...]: ...
    @property
    def ground(self) -> str: ...
    def split(self, path: str) -> tuple[str, str]: ...
    def replace(self, path: str, value: Any) -> Self: ...
