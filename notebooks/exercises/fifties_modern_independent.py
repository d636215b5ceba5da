"""Exercises of the lesson on modern, 50s and independent wiring."""

from __future__ import annotations

import numpy as np

import guitarnet as gn

from .checking import Exercise

__all__ = [
    "bleed_for_independent",
    "dark_capacitor",
    "fifties_is_a_bleed",
    "fifties_with_250k",
    "independent_kills_the_top",
    "largest_reading",
    "peak_of_the_bridge",
]

_PICKUP = gn.Pickup(7.6e3, 3.9, 110e-12, 400e3, 0.3, 7e3)


def _guitar(
    wiring: str = "modern", pots: str = "500k", capacitor: str = "22n", bleed: str | None = None
) -> gn.Harness:
    return gn.layouts.one_pickup(
        _PICKUP,
        volume=pots,
        tone=pots,
        tone_capacitor=capacitor,
        treble_bleed=bleed,
        wiring=wiring,
        cable="5 m",
    )


def _change(guitar: gn.Harness, mark: float) -> float:
    """Level at 3 kHz re volume 10, levels matched at 100 Hz [dB]."""
    h = gn.response(guitar, volume=[10, mark])
    return float(gn.treble_change(h, frequencies=[3000]).change.sel(volume=mark)[0])


def _kept_by_fifties(pots: str) -> float:
    return _change(_guitar("50s", pots), 5) - _change(_guitar("modern", pots), 5)


def _largest_at_10() -> float:
    one, other = (
        gn.level_db(gn.response(_guitar(w), volume=10)) for w in ("modern", "independent")
    )
    return float(abs(one - other).max())


def _toned(capacitor: str) -> float:
    """Level at 1 kHz with the tone at 0, re 100 Hz [dB]."""
    h = gn.response(_guitar(capacitor=capacitor), frequency=[1000], tone=0)
    return float(gn.level_db(h, re="reference")[0])


def _largest_reading() -> float:
    readings = gn.jack_resistance(_guitar(), volume=np.linspace(0, 10, 101))
    return float(readings.max()) / 1000


def _bridge_alone() -> float:
    guitar = gn.layouts.two_humbuckers(
        _PICKUP, _PICKUP, volume="500k", tone="500k", wiring="independent", cable="5 m"
    )
    h = gn.response(guitar, switch="neck+bridge", neck_volume=0)
    return float(gn.peak(h).frequency)


def _as_dark_as_modern() -> float:
    """Capacitor that makes independent at 7 as modern, read off a fine table [pF]."""
    picofarads = np.arange(200, 701, 20)
    changes = [_change(_guitar("independent", bleed=f"{c}p"), 7) for c in picofarads]
    return float(np.interp(_change(_guitar(), 7), changes, picofarads))


fifties_is_a_bleed = Exercise(
    "Tone at 10: does 50s wiring keep more than 3 dB of what modern loses at 3 kHz, at volume 5?",
    lambda: _kept_by_fifties("500k") > 3,
    hint="Look at the table of the change at 3 kHz, in the column of volume 5.",
)
independent_kills_the_top = Exercise(
    "At volume 10, has independent less treble than modern, by more than 0.1 dB at any frequency?",
    lambda: _largest_at_10() > 0.1,
    hint="At 10 the wiper lies on the lug, so the two may change places.",
)
dark_capacitor = Exercise(
    "Tone at 0, volume at 10: is the guitar with 10 nF darker, that is, lower at 1 kHz re 100 Hz, "
    "than the one with 40 nF?",
    lambda: _toned("10n") < _toned("40n"),
    hint="The larger capacitor has the lower reactance.",
)
largest_reading = Exercise(
    "Modern wiring, a pickup of 7.6 kΩ and a 500 kΩ volume pot: what is the largest reading that "
    "the meter shows at the jack while you turn the volume?",
    _largest_reading,
    within="2 %",
    unit="kΩ",
    hint="The two ways from the wiper to ground lie side by side; when is that largest?",
    low="Neither way has to be shorter than the other.",
    high="It is never the whole track, since the pickup leads round to its other end.",
)
fifties_with_250k = Exercise(
    "With 250 kΩ pots: how much more does 50s keep than modern at 3 kHz, volume 5, tone 10?",
    lambda: _kept_by_fifties("250k"),
    within="0.2 dB",
    unit="dB",
    hint="Take gn.treble_change of both wirings with pots of 250 kΩ; then the difference.",
)
peak_of_the_bridge = Exercise(
    "Two such pickups, independent wiring, both on, the neck's volume at 0: where is the peak?",
    _bridge_alone,
    within="3 %",
    unit="Hz",
    hint="Build gn.layouts.two_humbuckers; ask with switch='neck+bridge' and neck_volume=0.",
    high="With both up the coils lie in parallel and share one cable; now one is left.",
)
bleed_for_independent = Exercise(
    "Independent wiring, volume at 7: which capacitor alone as treble bleed leaves 3 kHz as far "
    "down as modern wiring without one has it?",
    _as_dark_as_modern,
    within="5 %",
    unit="pF",
    hint="Compute the change at 3 kHz with some capacitors, and compare with modern.",
    low="A larger capacitor passes more treble round the track.",
    high="A smaller capacitor passes less treble round the track.",
)
