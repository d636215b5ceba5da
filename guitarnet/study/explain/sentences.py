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
    "BEYOND",
    "FINE",
    "LESS",
    "MOVED",
    "NOTHING",
    "PHRASES",
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
FINE = 0.095
"""Below it a tenth of a decibel says too little [dB]."""
BEYOND = 0.5
"""A largest change is told when it is so much more than that of the treble [dB]."""
MOVED = 0.01
"""A peak that moves by a smaller share stays where it is."""
_WIDTH = 88

PHRASES = {
    "turned": "from {name} {first} to {then}",
    "instead": "with {then} instead of {first}",
    "nothing": "{opening}, nothing changes: less than {least} dB from {low} to {high}.",
    "bass": "{opening}, the bass ({bass}) {louder}.",
    "same": "stays as it is",
    "louder": "is {amount} louder",
    "quieter": "is {amount} quieter",
    "treble": "Against the bass, {treble} {stands}.",
    "stays": "stays where it was",
    "higher": "stands {amount} higher",
    "lower": "stands {amount} lower",
    "shape": "The largest change of shape from {low} to {high} is {change}, at {where}.",
    "gone": "The resonance peak at {first} ({above} the bass) is gone.",
    "new": "There is a resonance peak now, at {then} ({above then} the bass).",
    "moves": "The resonance peak moves from {first} ({above} the bass) to {then} "
    "({above then} it).",
    "grows": "The resonance peak stays at {then} and is {above then} the bass, where it was "
    "{above} it.",
    "above": "{amount} above",
    "below": "{amount} below",
    "level": "level with",
    "still silent": "{opening}, the guitar is silent, as it was.",
    "silent": "{opening}, the guitar is silent.",
    "sounds": "{opening}, the guitar sounds; before it was silent.",
}
"""The words of a comparison, for Python and for the script of a page."""


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
    return f"{fixed(size, 1 if at_least(size, FINE) else 2)} dB"


def hertz(frequency: float) -> str:
    """Write a frequency with three digits."""
    return format_value(frequency, "Hz", digits=3)


def louder(decibels: float) -> str:
    """Say how a level has changed: "is 3.5 dB louder"."""
    kind = ("louder" if decibels > 0 else "quieter") if counts(decibels) else "same"
    return PHRASES[kind].format(amount=amount(decibels))


def stands(decibels: float) -> str:
    """Say how treble has moved against the bass: "stands 3.5 dB higher"."""
    kind = ("higher" if decibels > 0 else "lower") if counts(decibels) else "stays"
    return PHRASES[kind].format(amount=amount(decibels))


def signed(decibels: float) -> str:
    """Write a change with its sign: "+3.5 dB"."""
    return f"{'+' if decibels > 0 else '-'}{amount(decibels)}"
