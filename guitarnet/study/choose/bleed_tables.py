"""Treble bleeds side by side in one guitar, as tables: what each changes at 10 and below.

The numbers come from `guitarnet.level_db`, `guitarnet.treble_change`, `guitarnet.effective_taper`
and `guitarnet.peak`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import Settings, one_mapping
from ...errors import BadSetting
from ...parts.output import Cable
from ...parts.switch import Switch
from ...parts.two_lug import Empty, bleed
from ...parts.usual import settle
from ...ranking import CLOSE, at_least, at_most, most
from ...table import Table
from ...units import Quantity, fixed, plain_words
from ..explain.sentences import NOTHING, hertz
from ..response.measures import effective_taper, level_db, peak, treble_change
from ..response.response import response
from ..response.sweep import BAND
from .port import bleed_place, check_audible, knob_across
from .wiring import other_wiring, tones_across, why_no_other

__all__ = [
    "NO_BLEED",
    "SHOWN",
    "SUMMARY",
    "SWEPT",
    "USUAL",
    "BleedComparison",
    "compare_bleeds",
]

NO_BLEED = "no bleed"
USUAL = ("1n", "150k || 1n", "130k + 1.2n")
"""Usual networks: common practice, no source."""
SHOWN = (10.0, 9.0, 7.0, 5.0, 3.0)
"""Knob marks that are shown by default."""
SWEPT = np.arange(0, 10.5, 0.5)
"""Knob marks that are computed for a live page."""
SUMMARY = (
    *("case", "build", "volume", "level_100Hz_re_volume_10_dB"),
    *("change_1kHz_dB", "change_2kHz_dB", "change_3kHz_dB", "change_5kHz_dB"),
    *("worst_{:g}_{:g}Hz_dB".format(*BAND), "worst_Hz", "peak_Hz", "peak_re_100Hz_dB", "peak_q"),
)
"""Columns of the table for a spreadsheet; ``volume`` is the knob that you turn."""

_CABLES = (150, 300, 500, 1000)  # pF
_ENDS = (0, "2 ohm", "1%")  # end resistances
_NEAR_ZERO = 0.005  # dB; shown as 0
_BAND = "{}-{}".format(*map(hertz, BAND))
_MARK = Quantity("mark", at_least=0, at_most=10)


@dataclass(frozen=True, eq=False)
class BleedComparison:
    """One guitar without a bleed, with each of several bleeds, and with its tone control moved.

    Made by `compare_bleeds`.

    Parameters
    ----------
    name : str
        Name of the guitar.
    guitar : Harness
        The guitar as it is.
    place, knob : str
        The place of the bleeds, and the pot across it.
    bleeds : mapping of str to Harness
        Guitars that differ by the bleed only; "no bleed" is one of them.
    rewired : tuple of str and Harness, optional
        Name of the other wiring, and the guitar without a bleed and with its tone control on the
        other side.
    marks : tuple of float
        Marks to show, falling from 10.
    settings : mapping
        All other settings.
    """

    name: str
    guitar: Harness
    place: str
    knob: str
    bleeds: Mapping[str, Harness]
    rewired: tuple[str, Harness] | None
    marks: tuple[float, ...]
    settings: Mapping[str, Any] = field(default_factory=dict)

    @property
    def plain(self) -> Harness:
        """The guitar without a bleed."""
        return self.bleeds[NO_BLEED]

    @property
    def builds(self) -> dict[str, Harness]:
        """All guitars that are compared."""
        return dict(self.bleeds) | (dict([self.rewired]) if self.rewired else {})

    @property
    def middle(self) -> float:
        """The shown mark that is nearest to half travel."""
        return min(self.marks[1:], key=lambda mark: abs(mark - 5))

    @cached_property
    def response(self) -> xr.DataArray:
        """Responses of all builds, at every half mark of the knob and at the marks to show."""
        marks = np.union1d(SWEPT, self.marks)
        return response(self.builds, self.set({self.knob: marks}))

    @cached_property
    def change(self) -> xr.Dataset:
        """How the shape changes at each mark."""
        return treble_change(self.response, self.knob)

    @property
    def knob_label(self) -> str:
        """Label of the knob."""
        return plain_words(self.knob)

    def tables(self, *, cable: bool = True) -> list[Table]:
        """Return a table for each of the questions (a) to (e).

        Parameters
        ----------
        cable : bool
            Whether to include (b), what the cable does.

        Returns
        -------
        list of Table
            Without (a) if there is no bleed, without (b) if there is no cable, without (e) if no
            tone control can be moved.
        """
        tables = [self.effect_at_ten()] if len(self.bleeds) > 1 else []
        if cable and self.guitar.only(Cable, needed=False):
            tables.append(self.loss_by_cable())
        tables += [self.taper(), self.overshoot()]
        return tables + ([self.other_side()] if self.rewired and self._tone() else [])

    def in_short(self) -> Table:
        """Return the main numbers of each build: the change at 10, and at half travel."""
        middle = self.middle
        change, level = self.change, effective_taper(self.response, self.knob)
        full = self.response.sel({self.knob: [10]})
        at_ten = level_db(full, re={"build": NO_BLEED}).sel({self.knob: 10})
        rows = []
        for label in self.builds:
            selected = {"build": label, self.knob: middle}
            rows.append(
                (
                    label,
                    _signed(_largest(at_ten.sel(build=label))),
                    _signed(level.sel(selected)),
                    _signed(change.worst.sel(selected)),
                    _hertz(change.worst_frequency.sel(selected)),
                )
            )
        at = f"at {middle:g}"
        heads = ("build", "at 10: change", f"{at}: level", f"{at}: shape", "largest at [Hz]")
        title = (
            f"What each build changes at {self.knob_label} 10 against no bleed (largest, "
            f"20 Hz-20 kHz), and what\nturning down to {self.middle:g} does to its level "
            f"(at 100 Hz) and its shape (largest, {_BAND},\n{self._decibels()}) [dB]"
        )
        return Table(heads, rows, title=title)

    def effect_at_ten(self) -> Table:
        """(a) Largest difference of level from the guitar without a bleed."""
        ends = f"{self.knob}.end_resistance"
        at_ten = response(self.bleeds, self.set({self.knob: 10, ends: list(_ENDS)}))
        at_nine = response(self.bleeds, self.set({self.knob: 9}))
        columns = [at_ten.isel({ends: i}) for i in range(len(_ENDS))] + [at_nine]
        levels = [level_db(column, re={"build": NO_BLEED}) for column in columns]
        rows = [
            (label, *(_signed(_largest(one.sel(build=label))) for one in levels))
            for label in self.bleeds
            if label != NO_BLEED
        ]
        title = (
            "(a) Any effect at 10? Largest difference from no bleed, 20 Hz-20 kHz [dB]\n"
            "    (end resistance: between wiper and lug with the knob full up)"
        )
        heads = ("bleed", "at 10, no end res.", "at 10, 2 \u03a9", "at 10, 1 % of the pot", "at 9")
        return Table(heads, rows, title=title)

    def loss_by_cable(self) -> Table:
        """(b) Effect of turning down without a bleed, by cable."""
        cable = self.guitar.only(Cable)
        lengths = [picofarad / 100 for picofarad in _CABLES]
        swept = {
            self.knob: list(self.marks),
            f"{cable}.length": lengths,
            f"{cable}.capacitance_per_metre": "100 pF/m",
        }
        others = {path: v for path, v in self.set(swept).items() if not self._is_of(path, cable)}
        h = response(self.plain, {**others, **swept})
        named = ("2 kHz", "3 kHz", "5 kHz")
        change = treble_change(h, self.knob, frequencies=named)
        rows = []
        for picofarad, length in zip(_CABLES, lengths, strict=True):
            for mark in self.marks[1:][-3:]:
                at = change.sel({f"{cable}.length": length, self.knob: mark})
                numbers = [*at.change.values, at.worst]
                shown = (*(_signed(v) for v in numbers), _hertz(at.worst_frequency))
                rows.append((f"{picofarad} pF", f"{mark:g}", *shown))
        title = f"(b) How much treble goes without a bleed? {self._decibels()} [dB]"
        largest = f"largest {BAND[0]:g}-{BAND[1] / 1e3:g}k"
        heads = ("cable", self.knob_label, *named, largest, "at Hz")
        return Table(heads, rows, title=title)

    def taper(self) -> Table:
        """(c) Level by knob mark."""
        level = effective_taper(self.response, self.knob)
        marks = list(dict.fromkeys([*self.marks, 1.0]))
        rows = [
            (label, *(_signed(level.sel({"build": label, self.knob: mark})) for mark in marks))
            for label in self.builds
        ]
        title = f"(c) What becomes of the taper? Level at 100 Hz re {self.knob_label} 10 [dB]"
        return Table(
            ("build", *(f"{self.knob_label} {mark:g}" for mark in marks)), rows, title=title
        )

    def overshoot(self) -> Table:
        """(d) Where the shape rises above the shape at mark 10."""
        shape = level_db(self.response, re="reference")
        shape = shape - shape.sel({self.knob: 10})
        f = shape["frequency"].values
        inside = at_least(f, BAND[0]) & at_most(f, BAND[1])
        shape = shape.isel(frequency=np.flatnonzero(inside))
        rows = []
        for label in self.builds:
            cells = [label]
            for mark in self.marks[1:]:
                one = shape.sel({"build": label, self.knob: mark})
                risen = bool(one.notnull().all()) and bool(at_least(one.max(), NOTHING))
                if risen:
                    top = one.isel(frequency=int(most(one.values)))
                cells += [_signed(top), _hertz(top["frequency"])] if risen else ["none", ""]
            rows.append(tuple(cells))
        title = f"(d) Where does it overshoot? Highest rise, {_BAND}, {self._decibels()} [dB]"
        heads = [w for mark in self.marks[1:] for w in (f"{self.knob_label} {mark:g}", "at Hz")]
        return Table(("build", *heads), rows, title=title)

    def other_side(self) -> Table:
        """(e) Effect of the tone control on the other side of the volume, with tone at 10 and 2."""
        assert self.rewired is not None
        tone, label = self._tone(), self.rewired[0]
        other = label.removesuffix(" wiring")
        as_built = "modern" if other == "50s" else "50s"
        pair = {as_built: self.plain, other: self.rewired[1]}
        marks = self.set({self.knob: list(self.marks), tone: [10, 2]})
        h = response(pair, marks, dim="wiring")
        named = ("500 Hz", "1 kHz", "3 kHz", "5 kHz")
        change = treble_change(h, self.knob, frequencies=named)
        level = effective_taper(h, self.knob)
        rows = []
        for at in (10, 2):
            for mark in self.marks[1:][-3:]:
                for wiring in pair:
                    selected = {"wiring": wiring, self.knob: mark, tone: at}
                    shown = [*change.change.sel(selected).values, level.sel(selected)]
                    rows.append((at, f"{mark:g}", wiring, *(_signed(v) for v in shown)))
        title = (
            f"(e) What does {label} do instead? {self._decibels()} at the same tone mark [dB]\n"
            f"    (last column: level at 100 Hz re {self.knob_label} 10)"
        )
        heads = (plain_words(tone), self.knob_label, "wiring", *named, "level")
        return Table(heads, rows, title=title)

    def summary_rows(self) -> list[tuple[str, ...]]:
        """Every build at every mark, for a spreadsheet, under the columns of `SUMMARY`."""
        h, change = self.response, self.change
        top = peak(h)
        columns = [
            effective_taper(h, self.knob),
            *change.change.transpose("frequency", ...),
            *(change.worst, change.worst_frequency),
            *(top["frequency"], top["height"], top["q"]),
        ]
        values = np.stack([one.transpose("build", self.knob).values for one in columns], axis=-1)
        rows = []
        for label, of_build in zip(self.builds, values, strict=True):
            for mark, numbers in zip(h[self.knob].values[::-1], of_build[::-1], strict=True):
                written = ("" if np.isnan(v) else f"{v:.4g}" for v in numbers)
                rows.append((self.name, label, f"{mark:g}", *written))
        return rows

    def assumed(self) -> tuple[str, ...]:
        """Conditions of the numbers, in phrases."""
        phrases = [*self.plain.assumptions()]
        stand = {n: p.place for n, p in self.plain.parts.items() if isinstance(p, Switch)}
        phrases += [f"{path} {value}" for path, value in {**stand, **self.settings}.items()]
        why = "" if self.rewired else why_no_other(self.plain, self.place)
        phrases += [f"no other wiring compared ({why})"] if why else []
        return (
            *phrases,
            "tone at 10 unless stated",
            "no end resistance in the pots unless stated",
            "an audio taper as two straight segments that meet at half travel",
        )

    def set(self, swept: Mapping[str, Any]) -> dict[str, Any]:
        """The swept settings with all other settings."""
        return {**swept, **self.settings}

    def _decibels(self) -> str:
        return f"levels matched at 100 Hz, re {self.knob_label} 10"

    def _tone(self) -> str:
        """The tone control that is moved; "" if there are several or it is set."""
        tones = tones_across(self.guitar, self.place)
        free = not any(self._is_of(path, tone) for path in self.settings for tone in tones)
        return tones[0] if len(tones) == 1 and free else ""

    @staticmethod
    def _is_of(path: str, part: str | None) -> bool:
        return path.partition(".")[0] == part


def compare_bleeds(
    guitar: Harness,
    networks: Iterable[Any] = USUAL,
    settings: Settings = None,
    *,
    place: str | None = None,
    marks: Sequence[Any] = SHOWN,
    name: str = "",
    **keywords: Any,
) -> BleedComparison:
    """Compare a guitar without a treble bleed, with each of several bleeds, and rewired.

    Parameters
    ----------
    guitar : Harness
        The guitar, with an empty or filled place for the bleed. Its present bleed is compared
        too.
    networks : iterable of Part or str
        The bleeds, as `guitarnet.bleed` reads them.
    place : str, optional
        Name of the place; by default the only one across a volume pot.
    marks : sequence of float
        Knob marks to show, 0 to 10; 10 is always shown.
    name : str
        Another name for the guitar.
    settings, **keywords
        As in `guitarnet.response`, one value each.

    Returns
    -------
    BleedComparison
        Tables to print.

    Raises
    ------
    BadSetting
        If no mark is below 10, or a setting is not right.
    BadValue
        If a network cannot be read.
    BadHarness
        If there is no place for a bleed, or there are several and you name none.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> print(compare_bleeds(guitar, ["150k || 1n"], marks=[10, 5]).taper())
    (c) What becomes of the taper? Level at 100 Hz re volume 10 [dB]
    build          volume 10  volume 5  volume 1
    no bleed               0    -16.70    -30.47
    150 kΩ ∥ 1 nF          0    -10.86    -22.81
    50s wiring             0    -17.47    -30.52
    """
    settings = one_mapping(settings, keywords)
    where = place or bleed_place(guitar)
    guitar.split(where)
    two_lug = where in guitar.parts and guitar.parts[where].lugs == ("a", "b")
    knob = knob_across(guitar, where) if two_lug else None
    if knob is None:
        raise BadSetting(
            "place",
            f"{where} is no two-lug place across a volume pot",
            "name the place of a bleed, such as treble_bleed; it may be empty",
            where,
        )
    if knob in settings:
        raise BadSetting(knob, "is the knob that is turned", "give its marks, and leave it out")
    for path, value in settings.items():
        if isinstance(value, (list, tuple)):
            raise BadSetting(path, f"{value!r} is several values", "give one")
    read = {float(_MARK.read(mark, "marks") or 0) for mark in marks} | {10.0}
    if len(read) < 2:
        raise BadSetting("marks", "holds no mark below 10", "give at least one, such as 5")
    plain = guitar.replace(where, None)
    builds = {NO_BLEED: plain}
    check_audible(guitar, knob, settings)
    given = [part for part in (bleed(network) for network in networks) if part is not None]
    parts = [settle(part, "treble_bleed", "treble bleed") for part in given]
    current = guitar.parts[where]
    if not isinstance(current, Empty):
        # The present bleed comes first.
        parts.insert(0, current)
    builds |= {part.label(): guitar.replace(where, part) for part in parts}
    rewired = other_wiring(plain, where)
    shown = tuple(sorted(read, reverse=True))
    return BleedComparison(
        name or guitar.name, guitar, where, knob, builds, rewired, shown, settings
    )


def _largest(level: xr.DataArray) -> float:
    """The largest value, with its sign."""
    return float(level.values[most(np.abs(level.values))])


def _hertz(value: float | xr.DataArray) -> str:
    """A frequency for a table; marks the ends of the band."""
    number = float(value)
    if np.isnan(number):
        return ""
    at_edge = np.isclose(number, BAND, rtol=CLOSE, atol=0).any()
    return f"{fixed(number, 0)} (edge)" if at_edge else fixed(number, 0)


def _signed(value: float | xr.DataArray) -> str:
    """A decibel value for a table."""
    number = float(value)
    if np.isnan(number):
        return "\u2014"
    if np.isneginf(number):
        return "silent"
    return "0" if abs(number) < _NEAR_ZERO else fixed(number, 2, sign=True)
