"""A dict that stays as it is."""

from __future__ import annotations

from typing import Any, NoReturn, TypeVar

__all__ = ["Frozen"]

K = TypeVar("K")
V = TypeVar("V")


class Frozen(dict[K, V]):
    """A dict that nothing can be put into. It pickles, copies and compares as a dict does."""

    def _refuse(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("this mapping stays as it is; make a changed one with {**mapping, ...}")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (dict(self),)
