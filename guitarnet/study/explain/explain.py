"""What a comparison of guitars or settings shows, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting
from ...gate import public
from ...ranking import at_least, at_most, most
from ...units import plain_words, sentence
from ..response.labels import labels_along
from ..response.measures import level_db, peak, reference_level
from ..response.response import response
from ..response.sweep import BAND, TREBLE, Guitars, frequency_grid, read_frequency
from .sentences import (
    BEYOND,
    MOVED,
    NOTHING,
    PHRASES,
    Answer,
    Fact,
    Sentence,
    amount,
    counts,
    hertz,
    louder,
    signed,
    stands,
)

__all__ = ["BASS", "explain"]

BASS = "100 Hz"

_MOST = 40  # pairs


@public(guitar=None)
def explain(
    guitar: Guitars,
    settings: Settings = None,
    *,
    treble: float | str = TREBLE,
    band: tuple[float | str, float | str] = BAND,
    dim: str = "build",
    **keywords: Any,
) -> Answer:
    """Say in sentences how builds differ, or what a setting does.

    The first build, and the first value of a setting, is what the others are compared with.

    Parameters
    ----------
    guitar : Harness, or mapping of str to Harness
        The guitar; or builds by label.
    settings : mapping, optional
        As in `guitarnet.response`. At most two of builds and settings may hold several values.
    treble : float or str
        Frequency [Hz] at which the treble is told against the bass, at 100 Hz.
    band : pair of float or str
        Lowest and highest frequency [Hz] between which the largest change of shape is sought.
    dim : str
        Name of the dimension of builds.
    **keywords
        The settings as keywords.

    Returns
    -------
    Answer
        Sentences, each with its numbers: the level at 100 Hz, the treble against it, the largest
        change of shape and the resonance peak. What changes by less than 0.05 dB is called
        unchanged.

    Raises
    ------
    BadSetting
        If there is nothing to compare, or more than two things differ.
    BadValue, BadHarness
        As in `guitarnet.response`.

    Notes
    -----
    Levels are those of `guitarnet.level_db`, peaks those of `guitarnet.peak`. A change of shape
    is the change of level less the change of level at 100 Hz.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> print(explain(guitar, {"cable.length": ["3 m", "6 m"]}))
    With cable length 6 m instead of 3 m, the bass (100 Hz) stays as it is. Against the
    bass, 3 kHz stands 2.0 dB higher. The largest change of shape from 200 Hz to 5 kHz is
    -2.7 dB, at 5 kHz. The resonance peak moves from 4.38 kHz (3.2 dB above the bass) to
    3.55 kHz (4.7 dB above it).
    <BLANKLINE>
    Lossless coil assumed (no eddy currents, no screening).
    """
    settings = one_mapping(settings, keywords)
    wanted = [read_frequency(one)[0] for one in (treble, *band)]
    grid = np.union1d(frequency_grid(), wanted)
    h = response(guitar, settings, frequency=grid, dim=dim)
    swept = [str(d) for d in h.dims if d != "frequency" and h.sizes[d] > 1]
    if not swept:
        raise BadSetting(
            "explain",
            "there is nothing to compare",
            "give builds by label, or several values of one setting, as volume=[10, 5]",
        )
    if len(swept) > 2:
        raise BadSetting(
            "explain", f"{', '.join(swept)} all differ", "let at most two differ, and set the rest"
        )
    pairs = sum(h.sizes[d] - 1 for d in swept) if len(swept) == 1 else h.size // grid.size
    if pairs > _MOST:
        raise BadSetting(
            "explain", f"{pairs} curves are more than sentences can tell", f"give up to {_MOST}"
        )
    tops = peak(guitar, settings, frequency=[grid[0], grid[-1]], dim=dim)
    whole = _Compared(h, tops, *wanted)
    paragraphs: list[tuple[Sentence, ...]] = []
    for along in swept:
        other = next((d for d in swept if d != along), None)
        for index in range(h.sizes[other]) if other else [0]:
            fixed = {other: index} if other else {}
            for second in range(1, h.sizes[along]):
                paragraphs.append(tuple(whole.sentences(along, second, fixed)))
    assumed = [one for one in str(h.attrs.get("assumptions", "")).split("; ") if one]
    return Answer(tuple(paragraphs), tuple(assumed))


@dataclass(frozen=True, eq=False)
class _Compared:
    """A response, its peaks, and where to look."""

    h: xr.DataArray
    tops: xr.Dataset
    treble: float
    low: float
    high: float
    unnamed: str = "build"
    """The dimension whose labels need no name."""

    @cached_property
    def level(self) -> xr.DataArray:
        """Levels [dB re 1 V/V]."""
        return level_db(self.h)

    @cached_property
    def bass(self) -> xr.DataArray:
        """Levels at the reference frequency [dB re 1 V/V]."""
        return reference_level(self.h)

    def sentences(self, along: str, second: int, fixed: Mapping[str, int]) -> Iterator[Sentence]:
        """Compare one place along a dimension with the first."""
        first, then = ({**fixed, along: index} for index in (0, second))
        opening = sentence(self._opening(along, second, fixed))
        at, re = self._where(then), self._where(first)
        before, after = (self.level.isel(one).values.ravel() for one in (first, then))
        if np.isneginf(after).all() or np.isneginf(before).all():
            yield self._silent(opening, *(bool(np.isneginf(one).all()) for one in (before, after)))
            return
        change = after - before
        f = self.h["frequency"].values
        largest = int(most(np.abs(change)))
        if not counts(change[largest]):
            text = PHRASES["nothing"].format(
                opening=opening, least=NOTHING, low=hertz(f[0]), high=hertz(f[-1])
            )
            fact = Fact("largest change of level", change[largest], "dB", at, re, f[largest])
            yield Sentence(text, (fact,))
            return
        bass = float(self.bass.isel(then)) - float(self.bass.isel(first))
        text = PHRASES["bass"].format(opening=opening, bass=BASS, louder=louder(bass))
        yield Sentence(text, (Fact(f"level at {BASS}", bass, "dB", at, re, 100.0),))
        shape = change - bass
        (there,) = np.flatnonzero(f == self.treble)
        treble = float(shape[there])
        yield Sentence(
            PHRASES["treble"].format(treble=hertz(self.treble), stands=stands(treble)),
            (Fact("treble against bass", treble, "dB", at, re, self.treble),),
        )
        yield from self._shape(f, shape, treble, at, re)
        yield from self._peak(first, then, at, re)

    def _shape(
        self, f: np.ndarray, shape: np.ndarray, treble: float, at: str, re: str
    ) -> Iterator[Sentence]:
        """Tell the largest change of shape, where the treble does not tell it."""
        inside = np.flatnonzero(at_least(f, self.low) & at_most(f, self.high))
        largest = inside[int(most(np.abs(shape[inside])))]
        worst = float(shape[largest])
        if counts(worst) and at_least(abs(worst), abs(treble) + BEYOND):
            yield Sentence(
                PHRASES["shape"].format(
                    low=hertz(self.low),
                    high=hertz(self.high),
                    change=signed(worst),
                    where=hertz(f[largest]),
                ),
                (Fact("largest change of shape", worst, "dB", at, re, float(f[largest])),),
            )

    def _peak(
        self, first: Mapping[str, int], then: Mapping[str, int], at: str, re: str
    ) -> Iterator[Sentence]:
        """Tell where the resonance peak goes."""
        (f, height), (f_then, height_then) = (
            (float(self.tops["frequency"].isel(one)), float(self.tops["height"].isel(one)))
            for one in (first, then)
        )
        facts: tuple[Fact, ...] = (
            Fact("peak frequency", f_then, "Hz", at, re),
            Fact("peak height", height_then, "dB", at, f"the level at {BASS}", f_then),
        )
        if np.isnan(f) and np.isnan(f_then):
            return
        said = {"first": hertz(f), "above": _above(height)} if not np.isnan(f) else {}
        if not np.isnan(f_then):
            said |= {"then": hertz(f_then), "above then": _above(height_then)}
        if np.isnan(f_then):
            facts, kind = (Fact("peak frequency", f, "Hz", re),), "gone"
        elif np.isnan(f):
            kind = "new"
        elif at_least(abs(f_then / f - 1), MOVED):
            kind = "moves"
        elif at_least(abs(height_then - height), BEYOND):
            kind = "grows"
        else:
            return
        yield Sentence(PHRASES[kind].format_map(said), facts)

    def _silent(self, opening: str, before: bool, after: bool) -> Sentence:
        kind = ("still silent" if before else "silent") if after else "sounds"
        return Sentence(PHRASES[kind].format(opening=opening))

    def _opening(self, along: str, second: int, fixed: Mapping[str, int]) -> str:
        """Say what is compared with what."""
        where = self._where(fixed)
        first, then = (self._label(along, index) for index in (0, second))
        if self._is_knob(along):
            with_other = f"with {where}, " if where else ""
            turned = PHRASES["turned"].format(name=plain_words(along), first=first, then=then)
            return with_other + turned
        name = "" if along == self.unnamed else f"{plain_words(along)} "
        at_other = f"at {where}, " if where else ""
        return at_other + PHRASES["instead"].format(then=f"{name}{then}", first=first)

    def _where(self, place: Mapping[str, int]) -> str:
        """Say a place: "volume 5, 1 nF"."""
        return ", ".join(
            self._label(name, index)
            if name == self.unnamed
            else f"{plain_words(name)} {self._label(name, index)}"
            for name, index in place.items()
        )

    def _label(self, name: str, index: int) -> str:
        return labels_along(self.h, name)[index]

    def _is_knob(self, name: str) -> bool:
        return self.h[name].attrs.get("units") == "mark"


def _above(height: float) -> str:
    """Say how a level lies to another: "4.6 dB above"."""
    kind = ("above" if height > 0 else "below") if counts(height) else "level"
    return PHRASES[kind].format(amount=amount(height))
