"""Sounds to compare in a notebook or a page, with levels matched on request."""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from ...errors import BadSetting, plain
from ...gate import public
from ...study.string.audio import check_sound, match_level, sound
from ...table import Table
from .hearing import script_of
from .html_view import HtmlView, asset
from .words import decibel_text, labels_of, notes_of

__all__ = ["Listening", "listen"]

_MOST = 8
_LARGE = 200_000  # bytes of samples in the page
_RATES = (8000, 96_000)  # every browser plays these
_LOUDEST = 10 ** (-1 / 20)  # of full scale
_NOT_NOTED = ("rate", "gain")
_SCALE = "0 dB is full scale at a playback level of 0 dB."
_START = 'makeListening(document.getElementById("sounds"), pageData());\n'


@public
class Listening(HtmlView):
    """A player of sounds to compare. Made by `listen`.

    A trusted notebook shows the player, another notebook a table of levels.

    Parameters
    ----------
    data : dict
        Data for ``listen.js``.
    table : Table
        Level and peak of each sound.
    title : str
        Title of the page.
    notes : str
        Assumptions.
    """

    _tall = 230
    _use = "listen"

    def __init__(self, data: dict[str, Any], table: Table, title: str, notes: str) -> None:
        super().__init__(data, title or "Sounds to compare", notes)
        self._table = table

    def __repr__(self) -> str:
        return str(self._table)

    def _script(self) -> str:
        return script_of("makeListening", "listen.js") + _START

    def _sheet(self) -> str:
        return asset("hearing.css")

    def _body(self) -> str:
        return '<section id="sounds" class="alone" aria-label="sounds"></section>'

    def _still(self) -> str:
        return f"<div>{self._without()}</div>"

    def _without(self) -> str:
        return self._table._repr_html_()


@public(clips=None)
def listen(
    clips: xr.DataArray | Mapping[str, xr.DataArray], *, match: bool = False, title: str = ""
) -> Listening:
    """Make a player that switches between sounds while they play.

    Parameters
    ----------
    clips : xarray.DataArray, or mapping of str to xarray.DataArray
        From `guitarnet.audio.play_through`, `guitarnet.strings.pluck` or
        `guitarnet.audio.read_sound`: one array with a dimension to compare, or sounds by name; at
        most eight.
    match : bool
        Whether the player opens with matched levels; you can change it in the player.
    title : str
        Title above the player.

    Returns
    -------
    Listening
        Shows itself in a notebook; ``save(path)`` writes a page.

    Raises
    ------
    BadSetting
        If something is no sound, there are none or more than eight, or their rates differ.

    Notes
    -----
    The player keeps its position when you choose another sound, and fades over 40 ms. Channels
    are mixed to one. Samples are stored in 16 bits, each sound at its own full scale. The largest
    sample of all is at -1 dB of full scale. Matched sounds first get equal root-mean-square over
    their whole length, as from `guitarnet.audio.match_level`. Shorter sounds end with silence,
    which counts in their level.

    Examples
    --------
    >>> from guitarnet import Pickup, layouts
    >>> from guitarnet.audio import play_through
    >>> from guitarnet.strings import pluck
    >>> guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
    >>> note = pluck("A2", duration=0.2, rate=22_050)
    >>> listen(play_through(note, guitar, volume=[10, 5]))
    sound      rms [dB]  largest sample [dB]  matched by [dB]
    volume 10     −10.6                 −1.0              0.0
    volume 5      −27.3                −18.9            +16.7
    0 dB is full scale at a playback level of 0 dB.
    """
    names, sounds = zip(*_named(clips), strict=True)
    together = _together(list(sounds))
    largest = np.abs(together.values).max(axis=-1)
    shares = 10 ** (match_level(together)["gain"].values / 20)
    plain_gain = _LOUDEST / (largest.max() or 1.0)
    matched_gain = shares * _LOUDEST / ((largest * shares).max() or 1.0)
    change = [
        _level_text(m / plain_gain * bool(size))
        for m, size in zip(matched_gain, largest, strict=True)
    ]
    packed = [_packed(values) for values in together.values]
    pairs = ", ".join(
        f"{name}: {words}{' dB' if size else ''}"
        for name, words, size in zip(names, change, largest, strict=True)
    )
    data = {
        "rate": int(together["rate"]),
        "match": bool(match),
        "clips": [
            {"name": n, "samples": text, "gain": size * plain_gain, "matched": size * m}
            for n, text, size, m in zip(
                names, packed, largest.tolist(), matched_gain.tolist(), strict=True
            )
        ],
        "words": {
            "plain": "Levels are not matched: all sounds have the same gain.",
            "matched": f"Turned to equal rms over the whole sound ({pairs}). Equal power is not "
            "equal loudness.",
        },
    }
    rms = np.sqrt((together.values**2).mean(axis=-1))
    levels = [[_level_text(plain_gain * x) for x in one] for one in (rms, largest)]
    rows = zip(names, *levels, change, strict=True)
    table = Table(
        ("sound", "rms [dB]", "largest sample [dB]", "matched by [dB]"), rows, title, _SCALE
    )
    return Listening(data, table, plain(title), _notes(clips, sum(map(len, packed))))


def _named(clips: Any) -> list[tuple[str, xr.DataArray]]:
    """Sounds with their names."""
    if isinstance(clips, Mapping):
        named = [(plain(name).strip(), clip) for name, clip in clips.items()]
    else:
        check_sound(clips)
        dims = [str(dim) for dim in clips.dims if dim not in ("time", "channel")]
        labels = [labels_of(clips, dim) for dim in dims]
        named = [
            (
                ", ".join(label[i] for label, i in zip(labels, place, strict=True)),
                clips.isel(dict(zip(dims, place, strict=True))),
            )
            for place in np.ndindex(*(clips.sizes[dim] for dim in dims))
        ]
    if not 1 <= len(named) <= _MOST:
        raise BadSetting("listen", f"is given {len(named)} sounds", f"give 1 to {_MOST}")
    return [(name or f"sound {i}", clip) for i, (name, clip) in enumerate(named, 1)]


def _together(clips: list[xr.DataArray]) -> xr.DataArray:
    """Sounds with one channel and one length, with silence after the shorter ones."""
    for clip in clips:
        check_sound(clip)
        over = [str(dim) for dim in clip.dims if dim not in ("time", "channel")]
        if over:
            raise BadSetting(
                "listen", f"a sound has the dimension {over[0]}", f"choose one along {over[0]}"
            )
    rates = sorted({float(clip["rate"]) for clip in clips})
    if len(rates) > 1:
        several = " and ".join(f"{rate:g}" for rate in rates)
        raise BadSetting(
            "listen", f"the sounds have {several} samples a second", "resample to one rate"
        )
    if not _RATES[0] <= rates[0] <= _RATES[1] or rates[0] % 1:
        raise BadSetting(
            "listen",
            f"{rates[0]:g} samples a second are played by no browser",
            f"resample to a whole number from {_RATES[0]} to {_RATES[1]}, as 48000",
            rates[0],
        )
    samples = np.zeros((len(clips), max(clip.sizes["time"] for clip in clips)))
    for row, clip in zip(samples, clips, strict=True):
        row[: clip.sizes["time"]] = clip.mean("channel") if "channel" in clip.dims else clip
    return sound(samples, rates[0]).rename(channel="clip")


def _packed(values: np.ndarray) -> str:
    """Samples in 16 bits at their own full scale, least byte first, in base64."""
    steps = np.rint(values * (32767 / (np.abs(values).max() or 1.0)))
    return base64.b64encode(steps.astype("<i2").tobytes()).decode()


def _level_text(factor: float) -> str:
    return decibel_text(20 * math.log10(factor)) if factor else "silent"


def _notes(clips: Any, characters: int) -> str:
    """Sentences about assumptions and about the samples."""
    given = list(clips.values()) if isinstance(clips, Mapping) else [clips]
    sentences = [notes_of(clip.drop_vars(_NOT_NOTED, errors="ignore")) for clip in given]
    sentences = list(dict.fromkeys(sentences))
    if any("guitar" in clip.attrs for clip in given):
        sentences.append("No amplifier, no loudspeaker.")
    if any("channel" in clip.dims for clip in given):
        sentences.append("Channels are mixed to one.")
    if characters > _LARGE:
        sentences.append(
            f"The samples take {characters / 1e3:.0f} kB here; a shorter sound or a lower rate "
            "takes less."
        )
    return " ".join(filter(None, sentences))
