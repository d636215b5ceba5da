"""Exercises of the lesson "What a treble bleed does at 10 and at 5"."""

from __future__ import annotations

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "bleed_keeps_the_tone",
    "colours_at_10",
    "current_seeks_ground",
    "even_capacitor",
    "humbucker_with_1_nf",
    "level_with_100k",
    "worst_mark_of_a_linear_pot",
]

_SINGLE = gn.Pickup(6.2e3, 2.4, 120e-12)
_HUMBUCKER = gn.Pickup(8.4e3, 4.6, 110e-12)
_AUDIO = gn.Pot(250e3, gn.audio_taper(0.15))


def _guitar(bleed: str | None = None, volume: gn.Pot = _AUDIO, cable: str = "5 m") -> gn.Harness:
    return gn.layouts.one_pickup(
        _SINGLE, volume=volume, tone="250k", tone_capacitor="22n", treble_bleed=bleed, cable=cable
    )


def _change(guitar: gn.Harness, mark: float, hertz: float) -> float:
    """Treble at a mark re volume 10, levels matched at 100 Hz [dB]."""
    h = gn.response(guitar, volume=[10, mark])
    return float(gn.treble_change(h, frequencies=[hertz]).change.sel(volume=mark)[0])


def _largest_at_10() -> float:
    with_bleed, without = (gn.level_db(gn.response(_guitar(b), volume=10)) for b in ("1n", None))
    return float(abs(with_bleed - without).max())


def _worst_at_5(guitar: gn.Harness) -> float:
    return float(gn.treble_change(gn.response(guitar, volume=[10, 5])).worst.sel(volume=5))


def _louder_at_5(bleed: str) -> float:
    with_bleed, without = (
        float(gn.effective_taper(gn.response(_guitar(b), volume=[10, 5])).sel(volume=5))
        for b in (bleed, None)
    )
    return with_bleed - without


def _worst_mark() -> float:
    marks = np.arange(0, 11)
    h = gn.response(_guitar(volume=gn.Pot(250e3, gn.linear_taper())), volume=marks)
    change = gn.treble_change(h, frequencies=[4000]).change.sel(frequency=4000)
    return float(change.idxmin("volume"))


def _humbucker_rise() -> float:
    guitar = gn.layouts.one_pickup(
        _HUMBUCKER, volume="500k", tone="500k", treble_bleed="1n", cable="5 m"
    )
    return _change(guitar, 5, 2000)


def _even() -> float:
    """Capacitor with which 3 kHz is at 5 as at 10, read off a fine table [pF]."""
    picofarads = np.arange(100, 501, 10)
    changes = [_change(_guitar(f"{c}p"), 5, 3000) for c in picofarads]
    return float(np.interp(0, changes, picofarads))


colours_at_10 = Exercise(
    "Volume at 10, a pot without end resistance: does 1 nF change the level by more than 0.1 dB "
    "at any frequency?",
    lambda: _largest_at_10() > 0.1,
    hint="Ask what lies between the two lugs of the capacitor when the wiper is at the end.",
)
current_seeks_ground = Exercise(
    "Volume at 5, no bleed, and the cable taken away (the track still goes to ground): is the "
    "treble still lost, by more than 1 dB between 200 Hz and 5 kHz?",
    lambda: abs(_worst_at_5(_guitar(cable="0 m"))) > 1,
    hint="What is left to shunt the treble, and what to shunt the bass?",
)
bleed_keeps_the_tone = Exercise(
    "With 1 nF alone, does the shape at 5 stay within 3 dB of that at 10, from 200 Hz to 5 kHz?",
    lambda: abs(_worst_at_5(_guitar("1n"))) < 3,
    hint="Look at the row of 1 nF in the table of the worst deviations.",
)
level_with_100k = Exercise(
    "With 1 nF and 100 kΩ in parallel: how much louder is the guitar at 5 than without a bleed, "
    "each re its own volume 10, at 100 Hz?",
    lambda: _louder_at_5("1n || 100k"),
    within="0.3 dB",
    unit="dB",
    hint="Compare gn.effective_taper of both guitars, at volume 5.",
    low="The resistor lies beside the upper part of the track.",
)
worst_mark_of_a_linear_pot = Exercise(
    "The volume pot is linear, no bleed. At which whole mark is most lost at 4 kHz?",
    _worst_mark,
    within=0,
    hint="Where are both ways round the wiper, side by side, largest?",
    low="Further down the way to ground is short.",
    high="Up there an audio pot has half of its track below the wiper; a linear one has more.",
)
humbucker_with_1_nf = Exercise(
    "A pickup of 8.4 kΩ, 4.6 H and 110 pF, 500 kΩ pots, 5 m of cable, 1 nF alone: how far is the "
    "shape at 5 above that of 10, at 2 kHz?",
    _humbucker_rise,
    within="0.5 dB",
    unit="dB",
    hint="Sweep volume over 10 and 5, then gn.treble_change(..., frequencies=['2 kHz']).",
)
even_capacitor = Exercise(
    "Which capacitor alone leaves 3 kHz at volume 5 as it is at 10, levels matched at 100 Hz?",
    _even,
    within="5 %",
    unit="pF",
    hint="Compute the change at 3 kHz for some values, and look where it passes zero.",
    low="With less capacitance the treble is still lost.",
    high="With more capacitance the treble rises.",
)
