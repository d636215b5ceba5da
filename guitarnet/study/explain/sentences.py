"""Sentences that state numbers: each names its quantity, its setting and its reference."""

from __future__ import annotations

import html
import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import plain
from ...gate import public
from ...ranking import at_least
from ...units import fixed, format_value, sentence

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "LESS",
    "NOTHING",
    "Answer",
    "Fact",
    "Sentence",
    "amount",
    "counts",
    "hertz",
    "louder",
    "signed",
    "stands",
]

NOTHING = 0.05
"""A smaller change is called none [dB]."""
LESS = f"less than {NOTHING:g} dB"
_FINE = 0.095  # dB; below it a tenth of a decibel says too little
_WIDTH = 88


@dataclass(frozen=True)
class Fact:
    """One number of a sentence.

    Parameters
    ----------
    quantity : str
        What it is, such as "level at 100 Hz".
    value : float
        Its value, as computed.
    unit : str
        "dB" or "Hz".
    at : str
        The build and the setting.
    re : str
        What it is compared with; "" for a value by itself.
    frequency : float
        Where [Hz]; NaN where that says nothing.
    """

    quantity: str
    value: float
    unit: str
    at: str
    re: str = ""
    frequency: float = float("nan")


@dataclass(frozen=True)
class Sentence:
    """A sentence, and the numbers in it.

    Parameters
    ----------
    text : str
        The sentence.
    facts : tuple of Fact
        Its numbers, in their order.
    """

    text: str
    facts: tuple[Fact, ...] = ()

    def __str__(self) -> str:
        return self.text


@public
@dataclass(frozen=True, repr=False)
class Answer:
    """What a comparison shows, in sentences.

    Made by `explain`. It prints as paragraphs.

    Parameters
    ----------
    paragraphs : tuple of tuple of Sentence
        What is said.
    assumed : tuple of str
        What the numbers assume.
    """

    paragraphs: tuple[tuple[Sentence, ...], ...]
    assumed: tuple[str, ...] = ()

    @property
    def sentences(self) -> tuple[Sentence, ...]:
        """All sentences in their order."""
        return tuple(one for paragraph in self.paragraphs for one in paragraph)

    def texts(self) -> list[str]:
        """Write each paragraph, and what was assumed, as one text."""
        said = [" ".join(map(str, paragraph)) for paragraph in self.paragraphs if paragraph]
        return [*said, *([f"{sentence('; '.join(self.assumed))}."] if self.assumed else [])]

    def __str__(self) -> str:
        return "\n\n".join(
            textwrap.fill(plain(text), _WIDTH, break_on_hyphens=False) for text in self.texts()
        )

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return "".join(f"<p>{html.escape(plain(text))}</p>" for text in self.texts())

    def to_dataframe(self) -> pd.DataFrame:
        """Return the numbers as a pandas DataFrame, a row for each, with their sentence."""
        import pandas as pd

        return pd.DataFrame(list(self._records()))

    def _records(self) -> Iterable[Mapping[str, Any]]:
        for number, one in enumerate(self.sentences):
            for fact in one.facts:
                yield {**vars(fact), "sentence": number, "text": one.text}


def counts(decibels: float) -> bool:
    """Tell whether a change is large enough to be called one; NaN is not."""
    return bool(np.isinf(decibels) or at_least(abs(decibels), NOTHING))


def amount(decibels: float) -> str:
    """Write the size of a change: "3.5 dB", and "0.06 dB" where it is small."""
    size = abs(decibels)
    return f"{fixed(size, 1 if at_least(size, _FINE) else 2)} dB"


def hertz(frequency: float) -> str:
    """Write a frequency with three digits."""
    return format_value(frequency, "Hz", digits=3)


def louder(decibels: float) -> str:
    """Say how a level has changed: "is 3.5 dB louder"."""
    if not counts(decibels):
        return "stays as it is"
    return f"is {amount(decibels)} {'louder' if decibels > 0 else 'quieter'}"


def stands(decibels: float) -> str:
    """Say how treble has moved against the bass: "stands 3.5 dB higher"."""
    if not counts(decibels):
        return "stays where it was"
    return f"stands {amount(decibels)} {'higher' if decibels > 0 else 'lower'}"


def signed(decibels: float) -> str:
    """Write a change with its sign: "+3.5 dB"."""
    return f"{'+' if decibels > 0 else '-'}{amount(decibels)}"
