"""Sounds side by side in a notebook or a page: switched at the same place, levels matched."""

from __future__ import annotations

import base64
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
from .words import labels_of, notes_of

__all__ = ["Listening", "listen"]

_MOST = 8
_LARGE = 200_000  # bytes of samples as they stand in the page
_RATES = (8000, 96_000)  # that every browser plays
_LOUDEST = 10 ** (-1 / 20)  # of full scale
_OWN = ("rate", "gain")
_SCALE = "0 dB is full scale, as heard at a playback level of 0 dB."
_START = 'makeListening(document.getElementById("sounds"), pageData());\n'


@public
class Listening(HtmlView):
    """Sounds to switch between, as `listen` makes them.

    A notebook shows it by itself: a player where the notebook is trusted, else the levels in a
    table.

    Parameters
    ----------
    data : dict
        What the page needs, see ``listen.js``.
    table : Table
        Level and peak of each sound.
    title : str
        Title of the page.
    notes : str
        What was assumed.
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
    """Put sounds side by side, to be switched while they play.

    Parameters
    ----------
    clips : xarray.DataArray, or mapping of str to xarray.DataArray
        From `guitarnet.audio.play_through`, `guitarnet.strings.pluck` or
        `guitarnet.audio.read_sound`: one array with a dimension for what is compared, or sounds by
        name. Eight at the most.
    match : bool
        Whether it opens with levels matched; a tick in the player changes it.
    title : str
        Title above the player.

    Returns
    -------
    Listening
        Shows itself in a notebook; ``save(path)`` writes a page that stands alone.

    Raises
    ------
    BadSetting
        If something is no sound, there are none or more than eight, or their rates differ.

    Notes
    -----
    The player keeps its place when another sound is chosen, and fades over 40 ms. Channels are
    mixed to one. Samples are stored in 16 bits, each sound at its own full scale. Unmatched, one
    gain puts the largest sample of all at -1 dB of full scale; matched, the sounds get equal
    root-mean-square over their whole length as `guitarnet.audio.match_level` does, and then again
    one gain. Shorter sounds are followed by silence, which counts in their level.

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
    0 dB is full scale, as heard at a playback level of 0 dB.
    """
    names, sounds = zip(*_named(clips), strict=True)
    together = _together(list(sounds))
    own = np.abs(together.values).max(axis=-1)
    shares = 10 ** (match_level(together)["gain"].values / 20)
    plain_gain = _LOUDEST / (own.max() or 1.0)
    matched_gain = shares * _LOUDEST / ((own * shares).max() or 1.0)
    change = [
        _decibels(m / plain_gain * bool(size)) for m, size in zip(matched_gain, own, strict=True)
    ]
    packed = [_packed(values) for values in together.values]
    pairs = ", ".join(
        f"{name}: {words}{' dB' if size else ''}"
        for name, words, size in zip(names, change, own, strict=True)
    )
    data = {
        "rate": int(together["rate"]),
        "match": bool(match),
        "clips": [
            {"name": n, "samples": text, "gain": size * plain_gain, "matched": size * m}
            for n, text, size, m in zip(
                names, packed, own.tolist(), matched_gain.tolist(), strict=True
            )
        ],
        "words": {
            "plain": "Levels as they come: one gain for all, so that nothing clips.",
            "matched": f"Turned to equal rms over the whole sound ({pairs}). Equal power is not "
            "equal loudness.",
        },
    }
    rms = np.sqrt((together.values**2).mean(axis=-1))
    levels = [[_decibels(plain_gain * x) for x in one] for one in (rms, own)]
    rows = zip(names, *levels, change, strict=True)
    table = Table(
        ("sound", "rms [dB]", "largest sample [dB]", "matched by [dB]"), rows, title, _SCALE
    )
    return Listening(data, table, plain(title), _notes(clips, sum(map(len, packed))))


def _named(clips: Any) -> list[tuple[str, xr.DataArray]]:
    """Sounds and what to call them."""
    if isinstance(clips, Mapping):
        named = [(plain(name).strip(), clip) for name, clip in clips.items()]
    else:
        check_sound(clips)
        dims = [str(dim) for dim in clips.dims if dim not in ("time", "channel")]
        labels = [labels_of(clips, dim) for dim in dims]
        named = [
            (
                ", ".join(words[i] for words, i in zip(labels, place, strict=True)),
                clips.isel(dict(zip(dims, place, strict=True))),
            )
            for place in np.ndindex(*(clips.sizes[dim] for dim in dims))
        ]
    if not 1 <= len(named) <= _MOST:
        raise BadSetting("listen", f"is given {len(named)} sounds", f"give 1 to {_MOST}")
    return [(name or f"sound {i}", clip) for i, (name, clip) in enumerate(named, 1)]


def _together(clips: list[xr.DataArray]) -> xr.DataArray:
    """Bring sounds to one channel and one length, with silence behind the shorter ones."""
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


def _decibels(factor: float) -> str:
    if not factor:
        return "silent"
    text = f"{20 * np.log10(factor):+.1f}"
    return "0.0" if float(text) == 0 else text.replace("-", "\u2212")


def _notes(clips: Any, characters: int) -> str:
    """Say what was assumed, and what was done to the samples."""
    given = list(clips.values()) if isinstance(clips, Mapping) else [clips]
    said = [notes_of(clip.drop_vars(_OWN, errors="ignore")) for clip in given]
    said = list(dict.fromkeys(said))
    if any("guitar" in clip.attrs for clip in given):
        said.append("No amplifier, no loudspeaker.")
    if any("channel" in clip.dims for clip in given):
        said.append("Channels are mixed to one.")
    if characters > _LARGE:
        said.append(
            f"The samples take {characters / 1e3:.0f} kB here; a shorter sound or a lower rate "
            "takes less."
        )
    return " ".join(filter(None, said))
