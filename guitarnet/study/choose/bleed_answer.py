"""What treble bleeds do at 10 and at half travel, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import numpy as np
import xarray as xr

from ...parts.output import Cable
from ...ranking import most
from ...units import format_value
from ..explain.explain import BASS
from ..explain.sentences import (
    LESS,
    Answer,
    Fact,
    Sentence,
    amount,
    counts,
    hertz,
    louder,
    stands,
)
from ..response.measures import effective_taper, level_db, reference_level, treble_change
from ..response.response import response
from ..response.sweep import BAND, TREBLE
from .bleed_tables import NO_BLEED, BleedComparison

__all__ = ["bleed_answer"]

_END = "1%"  # end resistance of a pot that is not quite at its end
_SHORT, _LONG = 1.5, 6.0  # m; a cable to compare with


def bleed_answer(found: BleedComparison) -> Answer:
    """Answer what each bleed does at 10 and at half travel, with the numbers of a comparison."""
    return Answer(tuple(_AboutBleeds(found).paragraphs()), found.assumed())


class _AboutBleeds:
    """The sentences about one comparison."""

    def __init__(self, found: BleedComparison) -> None:
        self.found = found
        self.knob, self.name = found.knob, found.knob_label
        self.middle = found.middle
        self.bleeds = [label for label in found.bleeds if label != NO_BLEED]

    @property
    def at(self) -> str:
        """The mark that is compared with 10."""
        return f"{self.name} {self.middle:g}"

    @cached_property
    def bass(self) -> xr.DataArray:
        """Level at 100 Hz relative to mark 10, by build [dB]."""
        return effective_taper(self.found.response, self.knob).sel({self.knob: self.middle})

    @cached_property
    def change(self) -> xr.Dataset:
        """How the shape differs from that at mark 10, by build."""
        return self.found.change.sel({self.knob: self.middle})

    def paragraphs(self) -> Iterator[tuple[Sentence, ...]]:
        """At 10; turned down without a bleed; with each bleed; with the other wiring."""
        found = self.found
        if self.bleeds:
            yield tuple(self.at_ten())
        if np.isneginf(self.bass.sel(build=NO_BLEED)):
            yield (Sentence(f"At {self.at} the guitar is silent."),)
            return
        yield tuple(self.turned_down())
        for label in self.bleeds:
            yield tuple(self.with_build(label, f"with {label}"))
        if found.rewired:
            label = found.rewired[0]
            yield tuple(self.with_build(label, f"with {label} and no bleed"))

    # -- at 10 --------------------------------------------------------------------------------

    def at_ten(self) -> Iterator[Sentence]:
        """What the bleeds change with the knob full up."""
        full = self.found.response.sel({self.knob: [10.0]})
        largest = {label: self._largest(full, label) for label in self.bleeds}
        still = [label for label in self.bleeds if not counts(largest[label][0])]
        at = f"{self.name} 10"
        facts = tuple(self._fact(*largest[label], at, label) for label in still)
        if still:
            text = f"At {at}, {_none(still, self.bleeds)}: {LESS} from 20 Hz to 20 kHz."
            yield Sentence(text, facts)
        for label in self.bleeds:
            if label not in still:
                change, f = largest[label]
                text = f"At {at}, {label} changes the level by up to {amount(change)}, at "
                yield Sentence(f"{text}{hertz(f)}.", (self._fact(change, f, at, label),))
        ends = self.found.guitar.parts[self.knob].end_resistance  # type: ignore[attr-defined]
        if not any(ends):
            yield self.not_quite_at_the_end()

    def not_quite_at_the_end(self) -> Sentence:
        """What they change at 10 if the pot keeps a part of its track there."""
        ends = f"{self.knob}.end_resistance"
        h = response(self.found.bleeds, self.found.set({self.knob: [10], ends: _END}))
        each = {label: self._largest(h, label) for label in self.bleeds}
        sizes = [abs(change) for change, _ in each.values()]
        label = self.bleeds[int(most(np.array(sizes)))]
        change, f = each[label]
        at = f"{self.name} 10, 1 % of the track left"
        fact = self._fact(change, f, at, label)
        if not counts(change):
            text = f"If the pot keeps 1 % of its track there, the change is still {LESS}."
        elif len(self.bleeds) == 1:
            text = "If the pot keeps 1 % of its track there, it changes the level by up to "
            text += f"{amount(change)}, at {hertz(f)}."
        else:
            text = f"If the pot keeps 1 % of its track there, {label} makes the largest change: "
            text += f"{amount(change)}, at {hertz(f)}."
        return Sentence(text, (fact,))

    def _largest(self, h: xr.DataArray, label: str) -> tuple[float, float]:
        """The largest difference from no bleed [dB], and where [Hz]."""
        level = level_db(h, re={"build": NO_BLEED}).sel(build=label).isel({self.knob: 0})
        index = int(most(np.abs(level.values)))
        return float(level.values[index]), float(level["frequency"].values[index])

    def _fact(self, change: float, f: float, at: str, label: str) -> Fact:
        return Fact("largest change of level", change, "dB", f"{at}, {label}", NO_BLEED, f)

    # -- turned down --------------------------------------------------------------------------

    def turned_down(self) -> Iterator[Sentence]:
        """What is left of the treble without a bleed, and what the cable has to do with it."""
        change, bass = self._treble(self.change, NO_BLEED), float(self.bass.sel(build=NO_BLEED))
        at, re = f"{self.at}, {NO_BLEED}", f"{self.name} 10"
        yield Sentence(
            f"At {self.at} without a bleed, the bass ({BASS}) {louder(bass)} than at 10."
            if counts(bass)
            else f"At {self.at} without a bleed, the bass ({BASS}) stays as it is at 10.",
            (Fact(f"level at {BASS}", bass, "dB", at, re, 100.0),),
        )
        yield Sentence(
            f"Against the bass, {hertz(TREBLE)} {_than(stands(change))}.",
            (Fact("treble against bass", change, "dB", at, re, TREBLE),),
        )
        yield from self._other_cable()
        yield from self._shape(NO_BLEED, at, re)

    def _other_cable(self) -> Iterator[Sentence]:
        """The same with a short cable, or with a long one if it is short."""
        found = self.found
        cable = found.guitar.only(Cable, needed=False)
        if not cable or any(path.partition(".")[0] == cable for path in found.settings):
            return
        own = found.guitar.parts[cable].length  # type: ignore[attr-defined]
        other = _SHORT if own > 2 * _SHORT else _LONG
        marks = {self.knob: [10, self.middle], f"{cable}.length": other}
        h = response(found.plain, found.set(marks), frequency=sorted([100, *BAND, TREBLE]))
        change = float(
            treble_change(h, self.knob, frequencies=[TREBLE]).change.sel(
                {self.knob: self.middle, "frequency": TREBLE}
            )
        )
        length = format_value(other, "m")
        would = (
            _than(stands(change)).replace("stands", "would stand").replace("stays", "would stay")
        )
        yield Sentence(
            f"With {length} of this cable instead of {format_value(own, 'm')}, it {would}.",
            (
                Fact(
                    *("treble against bass", change, "dB"),
                    *(f"{self.at}, {NO_BLEED}, cable {length}", f"{self.name} 10", TREBLE),
                ),
            ),
        )

    def with_build(self, label: str, words: str) -> Iterator[Sentence]:
        """What is left of the treble with another build, and how loud it is."""
        change = self._treble(self.change, label)
        at, re = f"{self.at}, {label}", f"{self.name} 10"
        yield Sentence(
            f"At {self.at} {words}, {hertz(TREBLE)} {_than(stands(change))} against the bass.",
            (Fact("treble against bass", change, "dB", at, re, TREBLE),),
        )
        yield from self._shape(label, at, re)
        levels = reference_level(self.found.response).sel({self.knob: self.middle})
        difference = float(levels.sel(build=label) - levels.sel(build=NO_BLEED))
        text = f"The bass {louder(difference)} than without a bleed."
        if not counts(difference):
            text = "The bass is as loud as without a bleed."
        fact = Fact(f"level at {BASS}", difference, "dB", at, f"{self.at}, {NO_BLEED}", 100.0)
        yield Sentence(text, (fact,))

    def _shape(self, label: str, at: str, re: str) -> Iterator[Sentence]:
        """How far the shape is from that at 10."""
        worst, f = (
            float(self.change[name].sel(build=label)) for name in ("worst", "worst_frequency")
        )
        if counts(worst):
            yield Sentence(
                f"From {hertz(BAND[0])} to {hertz(BAND[1])} the shape differs from that at 10 by "
                f"up to {amount(worst)}, at {hertz(f)}.",
                (Fact("largest change of shape", worst, "dB", at, re, f),),
            )

    def _treble(self, change: xr.Dataset, label: str) -> float:
        return float(change.change.sel(build=label, frequency=TREBLE))


def _than(stood: str) -> str:
    """End what was said about the treble with what it is compared with."""
    return f"{stood} than at 10" if stood.split()[0] == "stands" else f"{stood} at 10"


def _none(still: list[str], all_: list[str]) -> str:
    """Say that some bleeds change nothing."""
    if len(still) == 1:
        return f"{still[0]} changes nothing"
    if len(still) == len(all_):
        return "none of the bleeds changes anything"
    return f"{', '.join(still[:-1])} and {still[-1]} change nothing"
