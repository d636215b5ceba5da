"""Tapers: the share of a pot's track below the wiper, as a function of rotation.

A taper is a callable from rotation fraction (0 to 1 of the electrical travel) to track fraction
(0 to 1, measured from the lug that the wiper touches at 0).
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np

from ..errors import BadValue, listed
from ..files import read_csv_columns
from ..gate import public
from ..units import dimensions, float_array, read_value

__all__ = [
    "Taper",
    "audio_taper",
    "linear_taper",
    "measured_taper",
    "no_load",
    "reverse_audio_taper",
    "taper",
]


_ROUNDING = 1e-9  # of the track


@public(name=None, opens_at_full=None)
@dataclass(frozen=True)
class Taper:
    """A taper of a pot. Usually made by `linear_taper`, `audio_taper` and similar functions.

    Parameters
    ----------
    name : str
        Name of the taper.
    points : tuple of (float, float), optional
        Rotation and track fraction, joined by straight lines, from (0, 0) to (1, 1).
    base : float, optional
        Base b of (b^x - 1)/(b - 1), instead of points.
    dead_zone : (float, float)
        Shares of the rotation at the low and the high end over which the wiper does not move
        along the track.
    opens_at_full : bool
        Whether the wiper leaves the track at full rotation (a no-load pot).

    Raises
    ------
    BadValue
        If the points do not rise from (0, 0) to (1, 1), or a number is out of range.

    Examples
    --------
    >>> Taper("bent", points=((0, 0), (0.5, 0.2), (1, 1)))(0.25)
    0.1
    """

    name: str
    points: tuple[tuple[float, float], ...] | None = None
    base: float | None = None
    dead_zone: tuple[float, float] = (0.0, 0.0)
    opens_at_full: bool = False

    def __post_init__(self) -> None:
        if (self.points is None) == (self.base is None):
            raise BadValue("taper", "needs either points or a base", "give one of the two")
        if self.points is not None:
            table = _check_points(self.points)
            object.__setattr__(self, "points", tuple((float(x), float(y)) for x, y in table))
        else:
            base = read_value(self.base, "number", where="taper.base")
            if not 0 < base < np.inf:
                raise BadValue(
                    "taper.base", f"{self.base!r} is not positive", "give a base above zero"
                )
            object.__setattr__(self, "base", base)
        if not isinstance(self.name, str):
            raise BadValue("taper.name", f"{self.name!r} is no text", "name the taper in words")
        if not isinstance(self.opens_at_full, (bool, np.bool_)):
            raise BadValue(
                "taper.opens_at_full",
                f"{self.opens_at_full!r} is neither true nor false",
                "give one of the two",
            )
        low, high = _pair(self.dead_zone)
        object.__setattr__(self, "dead_zone", (low, high))
        if not (low >= 0 and high >= 0 and low + high < 1):
            raise BadValue(
                "taper.dead_zone",
                f"({low:g}, {high:g}) leaves no travel",
                "give two shares from 0 whose sum is under 1",
            )

    def __call__(self, rotation: Any) -> Any:
        """Track fraction at a rotation fraction [0..1], with the same shape."""
        low, high = self.dead_zone
        turned = float_array(rotation, "rotation", "give fractions of the travel, 0 to 1")
        x = np.clip((turned - low) / (1 - low - high), 0.0, 1.0)
        if self.points is not None:
            xs, ys = np.array(self.points).T
            y = np.interp(x, xs, ys)
        else:
            b = cast(float, self.base)
            y = x if abs(b - 1) < 1e-9 else np.expm1(x * np.log(b)) / (b - 1)
            y = np.where(x == 1, 1.0, y)  # exactly, whatever the rounding
        return y if turned.ndim else float(y)

    def __str__(self) -> str:
        return self.name


def _pair(zone: Any) -> tuple[float, float]:
    pair = (
        (zone, zone)
        if isinstance(zone, str) or dimensions(zone, "taper.dead_zone") == 0
        else tuple(zone)
        if isinstance(zone, (list, tuple, np.ndarray))
        else ()
    )
    if len(pair) != 2:
        raise BadValue(
            "taper.dead_zone",
            f"{zone!r} is not one or two shares",
            "give 0.05 or (0.05, 0.1)",
            zone,
        )
    low, high = pair
    return (
        read_value(low, "fraction", where="taper.dead_zone"),
        read_value(high, "fraction", where="taper.dead_zone"),
    )


def _check_points(points: Any) -> np.ndarray:
    try:
        table = np.asarray(points, dtype=float)
    except (TypeError, ValueError):
        table = np.empty(0)
    if table.ndim != 2 or table.shape[1] != 2 or len(table) < 2:
        raise BadValue("taper.points", "are not pairs", "give (rotation, track fraction) pairs")
    if not np.isfinite(table).all():
        raise BadValue("taper.points", "hold a value that is not finite", "leave that point out")
    if tuple(table[0]) != (0, 0) or tuple(table[-1]) != (1, 1):
        first, last = (f"({x:g}, {y:g})" for x, y in (table[0], table[-1]))
        raise BadValue(
            "taper.points", f"run from {first} to {last}", "let them run from (0, 0) to (1, 1)"
        )
    steps = np.diff(table, axis=0)
    bad = (steps[:, 0] <= 0) | (steps[:, 1] < 0)
    if bad.any():
        x, y = table[int(np.argmax(bad)) + 1]
        raise BadValue(
            "taper.points",
            f"turn back at ({x:g}, {y:g})",
            "let rotation rise and track fraction never fall from point to point",
        )
    return table


def _zone(dead_zone: Any) -> dict[str, Any]:
    return {"dead_zone": _pair(dead_zone)}


@public
def linear_taper(*, dead_zone: Any = 0.0) -> Taper:
    """Linear taper: half the track at half travel.

    Parameters
    ----------
    dead_zone : float or pair of float
        Share of the rotation at each end, or (low, high), over which nothing changes.

    Returns
    -------
    Taper
        Callable from rotation fraction to track fraction.

    Raises
    ------
    BadValue
        If the dead zone leaves no travel.

    Examples
    --------
    >>> linear_taper()(0.5)
    0.5
    """
    return Taper("linear", points=((0, 0), (1, 1)), **_zone(dead_zone))


def _half(half: Any, where: str) -> float:
    value = read_value(half, "fraction", where=where)
    if not 0 < value < 1:
        raise BadValue(
            where, f"{half!r} at half travel is no taper", "give a share between 0 and 1, as 0.15"
        )
    return value


@public
def audio_taper(
    half: float | str,
    knee: float | None = None,
    *,
    shape: str = "segments",
    dead_zone: Any = 0.0,
) -> Taper:
    """Audio taper with a given track fraction at half travel.

    Parameters
    ----------
    half : float or str
        Track fraction at half travel, 0.15 or "15%". The curve always passes through it.
    knee : float, optional
        Rotation fraction, from 0.5, at which two straight segments meet; by default 0.5.
    shape : {"segments", "exponential"}
        Two straight segments as resistive tracks are printed, or (b^x - 1)/(b - 1).
    dead_zone : float or pair of float
        Share of the rotation at each end, or (low, high), over which nothing changes.

    Returns
    -------
    Taper
        Callable from rotation fraction to track fraction.

    Raises
    ------
    BadValue
        If half, knee, shape or dead zone is out of range.

    Notes
    -----
    Exponential: t(x) = (b^x - 1)/(b - 1), and t(1/2) = half gives b = (1/half - 1)^2.

    References
    ----------
    The mid-points 10, 15, 20 and 30 % are common practice, no source.

    Examples
    --------
    >>> audio_taper(0.15)(0.5)
    0.15
    """
    middle = _half(half, "audio_taper.half")
    words = f"audio {middle * 100:g}%"
    if shape == "exponential":
        if knee is not None:
            raise BadValue("audio_taper.knee", "an exponential has none", "leave knee out", knee)
        return Taper(f"{words} exponential", base=(1 / middle - 1) ** 2, **_zone(dead_zone))
    if shape != "segments":
        raise BadValue(
            "audio_taper.shape", f"{shape!r} is unknown", "use 'segments' or 'exponential'", shape
        )
    if knee is None or knee == 0.5:
        return Taper(words, points=((0, 0), (0.5, middle), (1, 1)), **_zone(dead_zone))
    bend = read_value(knee, "fraction", where="audio_taper.knee")
    if not (0.5 <= bend < 1 and 2 * middle * bend < 1):
        raise BadValue(
            "audio_taper.knee",
            f"{knee!r} does not fit {middle:g} at half travel",
            "give a rotation from 0.5 to below 1 that the first segment reaches below 1",
            knee,
        )
    points = ((0, 0), (bend, 2 * middle * bend), (1, 1))
    return Taper(f"{words}, knee {bend:g}", points=points, **_zone(dead_zone))


@public
def reverse_audio_taper(
    half: float | str, *, shape: str = "segments", dead_zone: Any = 0.0
) -> Taper:
    """Reverse audio taper: an audio taper from the other end.

    Parameters
    ----------
    half : float or str
        Track fraction on the far side at half travel: 0.15 gives 0.85 at half.
    shape : {"segments", "exponential"}
        As in `audio_taper`.
    dead_zone : float or pair of float
        Share of the rotation at each end, or (low, high), over which nothing changes.

    Returns
    -------
    Taper
        Callable from rotation fraction to track fraction, 1 - audio(1 - x).

    Raises
    ------
    BadValue
        If half, shape or dead zone is out of range.

    Examples
    --------
    >>> reverse_audio_taper(0.15)(0.5)
    0.85
    """
    audio = audio_taper(_half(half, "reverse_audio_taper.half"), shape=shape, dead_zone=dead_zone)
    if audio.base is not None:
        # 1 - t(1 - x) of an exponential of base b is the exponential of base 1/b.
        return replace(audio, name=f"reverse {audio.name}", base=1 / audio.base)
    ((_, _), (x, y), (_, _)) = cast(tuple[tuple[float, float], ...], audio.points)
    points = ((0.0, 0.0), (1 - x, 1 - y), (1.0, 1.0))
    return replace(audio, name=f"reverse {audio.name}", points=points)


@public
def no_load(law: Taper | str) -> Taper:
    """Make a taper whose wiper leaves the track at full rotation (a no-load pot).

    Parameters
    ----------
    law : Taper or str
        The taper below full rotation, or its name.

    Returns
    -------
    Taper
        The same taper, open at mark 10.

    Examples
    --------
    >>> no_load(linear_taper()).opens_at_full
    True
    """
    law = taper(law)
    if law.opens_at_full:
        return law
    return replace(law, name=f"{law.name}, no-load", opens_at_full=True)


@public(rotation=None, resistance=None, travel=None)
def measured_taper(
    rotation: Sequence[float] | np.ndarray | str | os.PathLike[str],
    resistance: Sequence[Any] | np.ndarray | None = None,
    *,
    travel: tuple[float, float] | None = None,
    stretch: bool = False,
    noise: float | str = 0.01,
    name: str = "measured",
) -> Taper:
    """Taper through measured points.

    Parameters
    ----------
    rotation : sequence of float, or path of a CSV file
        Rotation in any unit (degrees, fraction, marks), rising or falling. A CSV file has the
        columns ``rotation`` and ``resistance``.
    resistance : sequence
        Resistance (or track fraction) from the wiper to one outer lug, in any unit. If it falls
        while the rotation rises, it is taken as measured to the other outer lug.
    travel : pair of float, optional
        Rotation, in the same unit, at the two ends of the electrical travel; by default the first
        and the last point. An end without a point is joined by a straight line.
    stretch : bool
        Whether to stretch the track fractions so that the first and last point become 0 and 1.
    noise : float or str
        Share of the track by which the points may turn back (or miss 0 and 1); such small
        reversals are flattened, larger ones refused.
    name : str
        Name of the taper.

    Returns
    -------
    Taper
        Callable from rotation fraction to track fraction.

    Raises
    ------
    BadValue
        If the points turn back by more than ``noise``, repeat a rotation, or do not end at 0
        and 1 and no stretching was asked for.
    BadFile
        If the CSV file cannot be read.

    Examples
    --------
    >>> measured_taper([0, 150, 300], ["0 ohm", "37k", "250k"])(0.5)
    0.148
    """
    if resistance is None and not isinstance(rotation, (str, os.PathLike)):
        raise BadValue(
            f"taper {name!r}", "has no resistances", "give measured_taper(rotation, resistance)"
        )
    if resistance is None:
        columns = read_csv_columns(
            cast("str | os.PathLike[str]", rotation), ["rotation", "resistance"]
        )
        x, r = columns["rotation"], columns["resistance"]
    else:
        places = listed(rotation, f"{name}.rotation", "give a list, as [0, 0.5, 1]")
        resistance = listed(resistance, f"{name}.resistance", "give a list, as ['0', '20k']")
        x = np.array([read_value(v, "number", where=f"{name}.rotation") for v in places])
        r = np.array([read_value(v, "ohm", where=f"{name}.resistance") for v in resistance])
    allowed = read_value(noise, "fraction", where=f"{name}.noise")
    x, y = _rising(x, r, name)
    if travel is not None:
        x, y = _within_travel(x, y, travel, allowed, name)
    x = (x - x[0]) / (x[-1] - x[0])
    if stretch:
        y = (y - y[0]) / (y[-1] - y[0])
    worst = float(np.max(np.maximum.accumulate(y) - y))
    if worst > allowed + _ROUNDING:
        raise BadValue(
            f"taper {name!r}",
            f"turns back by {worst:.1%} of the track",
            f"measure again, or state noise='{math.ceil(worst * 100 - _ROUNDING)}%' if that is "
            "the meter's",
        )
    y = np.clip(np.maximum.accumulate(y), 0, 1)
    if y[0] > allowed + _ROUNDING or y[-1] < 1 - allowed - _ROUNDING:
        raise BadValue(
            f"taper {name!r}",
            f"runs from {y[0]:.1%} to {y[-1]:.1%} of the track, not from 0 to 100 %",
            "give the ends of the travel as travel=(low, high), or ask for stretch=True",
        )
    y[0], y[-1] = 0.0, 1.0
    return Taper(name, points=tuple(zip(x.tolist(), y.tolist(), strict=True)))


def _rising(x: np.ndarray, r: np.ndarray, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Order points by rotation and turn them so that the track fraction rises."""
    if len(x) != len(r) or len(x) < 2:
        counts = " and ".join(
            f"{len(values)} {noun}{'s' * (len(values) != 1)}"
            for values, noun in ((x, "rotation"), (r, "resistance"))
        )
        raise BadValue(
            f"taper {name!r}",
            f"has {counts}",
            "give two equally long lists of at least two points",
        )
    if not (np.isfinite(x).all() and np.isfinite(r).all()) or (r < 0).any() or r.max() <= 0:
        raise BadValue(
            f"taper {name!r}", "has a point that is negative or not finite", "leave that point out"
        )
    order = np.argsort(x, kind="stable")
    x, r = x[order], r[order]
    if (np.diff(x) == 0).any():
        raise BadValue(f"taper {name!r}", "repeats a rotation", "give each rotation once")
    if r[0] == r[-1]:
        raise BadValue(
            f"taper {name!r}",
            "begins and ends at one resistance",
            "give the travel from end to end",
        )
    y = r / r.max()
    return (x, 1 - y) if y[0] > y[-1] else (x, y)


def _within_travel(
    x: np.ndarray, y: np.ndarray, travel: tuple[float, float], noise: float, name: str
) -> tuple[np.ndarray, np.ndarray]:
    """Cut points to the stated travel, or join its ends by straight lines."""
    ends = sorted(
        read_value(v, "number", where=f"{name}.travel")
        for v in listed(travel, f"{name}.travel", "give travel=(low, high)")
    )
    if len(ends) != 2 or not ends[0] < ends[1]:
        raise BadValue(
            f"taper {name!r}", f"travel {travel!r} has not two ends", "give travel=(low, high)"
        )
    low, high = ends
    for outside, end in ((y[x < low], 0.0), (y[x > high], 1.0)):
        if outside.size and np.abs(outside - end).max() > noise:
            raise BadValue(
                f"taper {name!r}",
                f"still changes outside the travel {low:g} to {high:g}",
                "widen the travel to the points where the track begins and ends",
            )
    inside = (x >= low) & (x <= high)
    x, y = x[inside], y[inside]
    if not x.size:
        raise BadValue(f"taper {name!r}", "has no point in the travel", "check travel=(low, high)")
    if x[0] > low:
        x, y = np.r_[low, x], np.r_[0.0, y]
    if x[-1] < high:
        x, y = np.r_[x, high], np.r_[y, 1.0]
    return x, y


_LETTERS = {
    "today": {"A": "audio", "B": "linear", "C": "reverse audio"},
    "old": {"A": "linear", "C": "audio"},
}


@public(words=None)
def taper(words: str | Taper, *, convention: str | None = None, half: float | str = 0.15) -> Taper:
    """Read a taper from words.

    Parameters
    ----------
    words : str or Taper
        "linear", "audio 15%", "reverse audio 10%", "audio 15% exponential", each also with
        ", no-load"; or a letter together with its convention; a `Taper` passes unchanged.
    convention : {"today", "old"}, optional
        Meaning of a letter. Today: A audio, B linear, C reverse audio. Old: A linear, C audio.
    half : float or str
        Track fraction at half travel for an audio letter.

    Returns
    -------
    Taper
        Callable from rotation fraction to track fraction.

    Raises
    ------
    BadValue
        If the words name no taper, or a letter comes without its convention.

    References
    ----------
    Letters differ between standards and eras; both conventions are common practice, no source.

    Examples
    --------
    >>> taper("audio 10%")(0.5)
    0.1
    """
    if isinstance(words, Taper):
        return words
    text = str(words).strip()
    if re.fullmatch(r"[A-Za-z]", text):
        return _by_letter(text.upper(), convention, half)
    match = re.fullmatch(
        r"(?:(linear)|(reverse )?audio (\d+(?:\.\d+)?) ?%( exponential)?)(, no-load)?",
        re.sub(r"\s+", " ", text),
        re.ASCII | re.IGNORECASE,
    )
    if re.fullmatch(r"(log(arithmic)?|audio)( taper)?", text, re.IGNORECASE):
        raise BadValue(
            "taper",
            f"{text!r} does not say how much of the track is left at half travel",
            "write 'audio 15%' if you do not know; 10, 15 and 30 % are seen",
            words,
        )
    if not match:
        raise BadValue(
            "taper",
            f"{text[:40]!r} is not a taper in words",
            "write 'linear', 'audio 15%' or 'reverse audio 10%', with ', no-load' where it is",
            words,
        )
    linear, reverse, percent, exponential, opens = match.groups()
    shape = "exponential" if exponential else "segments"
    if linear:
        law = linear_taper()
    else:
        make = reverse_audio_taper if reverse else audio_taper
        law = make(f"{percent}%", shape=shape)
    return no_load(law) if opens else law


def _by_letter(letter: str, convention: str | None, half: float | str) -> Taper:
    if convention not in _LETTERS:
        raise BadValue(
            "taper",
            f"the letter {letter!r} means different tapers in different standards",
            "say it in words ('linear', 'audio 15%'), or add convention='today' or 'old'",
            letter,
        )
    meaning = _LETTERS[convention].get(letter)
    if meaning is None:
        raise BadValue(
            "taper",
            f"the letter {letter!r} has no meaning in the convention {convention!r}",
            "use one of " + ", ".join(_LETTERS[convention]),
            letter,
        )
    if meaning == "linear":
        return linear_taper()
    return (audio_taper if meaning == "audio" else reverse_audio_taper)(half)
