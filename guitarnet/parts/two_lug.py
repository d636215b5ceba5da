"""Capacitors, resistors and what is composed of them: the treble bleeds.

Every part here has two lugs, ``a`` and ``b``, and works either way round.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, ClassVar, Literal, TypeVar

from ..errors import BadSetting, BadValue, listed
from ..gate import enters, public
from ..units import MARKING
from .base import (
    PRACTICE,
    MaybeNumber,
    Measurable,
    Number,
    Part,
    Stamps,
    Values,
    insistence,
    label_of,
    quantity,
    tolerance,
    valued,
)
from .usual import marked, settled

__all__ = [
    "Capacitor",
    "Empty",
    "Network",
    "Resistor",
    "bleed",
    "capacitor_bleed",
    "in_parallel",
    "in_series",
    "is_network",
    "parallel_bleed",
    "series_bleed",
]


@public
@valued
class Resistor(Part):
    """A fixed resistor.

    Parameters
    ----------
    resistance : float, str or Measured
        Resistance [ohm], such as "150k".
    tolerance : float or str, optional
        Plus or minus this share of the value.
    source : str
        Where the value comes from.
    unusual : bool
        Whether a value that hardly any guitar has is meant, and is no slip.

    Raises
    ------
    BadValue
        If the resistance is negative or not a value.

    Examples
    --------
    >>> Resistor("150k").label()
    '150 kΩ'
    """

    resistance: Measurable = quantity("ohm", at_least=0, usual=("470 ohm", "10M", PRACTICE))
    tolerance: MaybeNumber = tolerance(default=None)
    source: str = ""
    unusual: bool = insistence(default=False)

    lugs: ClassVar = ("a", "b")
    main: ClassVar = "resistance"
    usual_tolerance: ClassVar = {"resistance": 0.05}  # common practice, no source

    def label(self) -> str:
        """Describe the part in a few words."""
        return label_of(self, "resistance")

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the part's branches into a netlist."""
        net.resistor("resistance", "a", "b", values.resistance)


@public
@valued
class Capacitor(Part):
    """A capacitor, ideal unless a loss is stated.

    Parameters
    ----------
    capacitance : float, str or Measured
        Capacitance [F], such as "22n", "0.022uF" or the marking "223". What else stands on it
        may stay: "223J" sets the tolerance to 5 %, "473K 100V" to 10 %.
    tolerance : float or str, optional
        Plus or minus this share of the value.
    dissipation_factor : float or str
        tan(delta), the same at every frequency: C becomes C (1 - j tan(delta)). SPICE and formulas
        cannot express it; give ``series_resistance`` there.
    series_resistance : float or str
        Resistance of leads and plates [ohm].
    parallel_resistance : float or str, optional
        Leakage across the plates [ohm]; by default none.
    source : str
        Where the value comes from.
    unusual : bool
        Whether a value that hardly any guitar has is meant, and is no slip.

    Raises
    ------
    BadValue
        If a value is negative or not a value; zero farad is refused (leave the part out).

    References
    ----------
    Markings and letters of tolerance: IEC 60062; the letters from memory.

    Notes
    -----
    A constant tan(delta) is the usual first description of a film or ceramic dielectric over
    the audio band: Y = j w C (1 - j tan(delta)) = j w C + w C tan(delta).

    Examples
    --------
    >>> Capacitor("223").label()
    '22 nF'
    """

    capacitance: Measurable = quantity(
        "F",
        above=0,
        at_most=1,
        hint="a missing part is None, not 0",
        usual=("10p", "1u", "treble bleeds to tone capacitors: " + PRACTICE),
        marked=True,
    )
    tolerance: MaybeNumber = tolerance(default=None)
    dissipation_factor: Number = quantity(
        "fraction",
        default=0.0,
        at_least=0,
        at_most=10,
        usual=("0.001%", "20%", PRACTICE),
        percent=True,
    )
    series_resistance: Number = quantity("ohm", default=0.0, at_least=0)
    parallel_resistance: MaybeNumber = quantity("ohm", default=None, above=0, optional=True)
    source: str = ""
    unusual: bool = insistence(default=False)

    lugs: ClassVar = ("a", "b")
    main: ClassVar = "capacitance"
    usual_tolerance: ClassVar = {"capacitance": 0.1}  # common practice, no source

    def __post_init__(self) -> None:
        code, share = _read_letter(self.capacitance)
        object.__setattr__(self, "capacitance", code)
        super().__post_init__()
        if share is not None:
            if self.tolerance not in (None, share):
                raise BadValue(
                    "Capacitor.tolerance",
                    f"{100 * self.tolerance:g} % is given, but the marking says {100 * share:g} %",
                    "give one of the two",
                    self.tolerance,
                )
            object.__setattr__(self, "tolerance", share)

    def label(self) -> str:
        """Describe the part in a few words."""
        lossy = f", tan \u03b4 {self.dissipation_factor:g}" if self.dissipation_factor else ""
        return label_of(self, "capacitance") + lossy

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the part's branches into a netlist."""
        net.resistor("series_resistance", "a", "plate", values.series_resistance)
        net.capacitor(
            "capacitance", "plate", "b", values.capacitance, loss=values.dissipation_factor
        )
        if values.parallel_resistance is not None:
            net.resistor("parallel_resistance", "plate", "b", values.parallel_resistance)


# IEC 60062, letters of tolerances on both sides, of 10 pF and more; from memory.
_LETTERS = {"B": 0.001, "C": 0.0025, "D": 0.005, "F": 0.01, "G": 0.02, "H": 0.03, "J": 0.05}
_LETTERS |= {"K": 0.1, "M": 0.2, "N": 0.3}


def _read_letter(given: Any) -> tuple[Any, float | None]:
    """Take the tolerance letter and the voltage off a marking, "473K 100V": "473" and 10 %."""
    match = MARKING.fullmatch(given.strip()) if isinstance(given, str) else None
    return (match[1], _LETTERS.get(match[2] or "")) if match else (given, None)


@public
@valued
class Empty(Part):
    """An empty place for a two-lug part: None in a harness.

    Examples
    --------
    >>> Empty().label()
    'none'
    """

    lugs: ClassVar = ("a", "b")

    def called(self) -> str:
        """Kind of the part, as text."""
        return "empty place"

    def label(self) -> str:
        """Describe the part in a few words."""
        return "none"

    def path(self, local: str, where: str) -> str:
        """Refuse: an empty place has no values."""
        name = where.partition(".")[0]
        raise BadSetting(
            where, "the place is empty", f"put a part there first, as replace({name!r}, ...)", local
        )

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write nothing: there is no part."""


_DEEPEST = 10
T = TypeVar("T", bound=Part)


@public
@valued
class Network(Part):
    """Two-lug parts in series or in parallel. Made by `in_series` and `in_parallel`.

    The parts inside are called ``capacitor`` and ``resistor`` (numbered from 1 if there are
    several), so ``treble_bleed.capacitor.capacitance`` is a path. If there is only one capacitor
    (or resistor), ``treble_bleed.capacitance`` is a path too.

    Parameters
    ----------
    kind : {"series", "parallel"}
        How the parts are joined.
    elements : tuple of Part
        Two or more two-lug parts, in order from lug ``a``.
    source : str
        Where the values come from.

    Raises
    ------
    BadValue
        If the kind is unknown, or an element is not a two-lug part.

    Examples
    --------
    >>> Network("parallel", (Capacitor("1n"), Resistor("150k"))).label()
    '1 nF ∥ 150 kΩ'
    """

    kind: Literal["series", "parallel"]
    elements: tuple[Part, ...]
    source: str = ""

    lugs: ClassVar = ("a", "b")

    def __post_init__(self) -> None:
        if not isinstance(self.kind, str) or self.kind not in ("series", "parallel"):
            raise BadValue(
                "network.kind", f"{self.kind!r} is unknown", "use 'series' or 'parallel'", self.kind
            )
        fix = "give Capacitor(...), Resistor(...) or a network of them"
        elements = tuple(listed(self.elements, f"{self.kind} network", fix))
        object.__setattr__(self, "elements", elements)
        for part in self.elements:
            if not isinstance(part, (Resistor, Capacitor, Network)):
                raise BadValue(
                    f"{self.kind} network",
                    f"{part!r} is not a two-lug part",
                    fix,
                    valued,
                )
        if len(self.elements) < 2:
            raise BadValue(
                f"{self.kind} network",
                f"has {'only one part' if self.elements else 'no parts'}",
                "give two or more",
            )
        if _depth(self) > _DEEPEST:
            raise BadValue("network", f"is nested over {_DEEPEST} deep", "write it more simply")
        super().__post_init__()

    def inner(self) -> Mapping[str, Part]:
        """Parts inside this one, by name."""
        kinds = [type(part).__name__.lower() for part in self.elements]
        named: dict[str, Part] = {}
        for index, (kind, part) in enumerate(zip(kinds, self.elements, strict=True)):
            number = kinds[: index + 1].count(kind)
            named[kind if kinds.count(kind) == 1 else f"{kind}_{number}"] = part
        return named

    def aliases(self) -> Mapping[str, str]:
        """Short names for the only capacitor or the only resistor."""
        paths = list(self.settable())
        short = {}
        for field in ("capacitance", "resistance"):
            of_field = [path for path in paths if path.rpartition(".")[2] == field]
            if len(of_field) == 1:
                short[field] = of_field[0]
        return short

    def categories(self) -> tuple[str, ...]:
        """Nothing inside is a category."""
        return ()

    def replace(self, local: str, value: Any) -> Network:
        """Return a copy with the value at a path replaced."""
        name, _, rest = local.partition(".")
        parts = {
            key: part if key != name else part.replace(rest, value) if rest else value
            for key, part in self.inner().items()
        }
        return replace(self, elements=tuple(parts.values()))

    def label(self) -> str:
        """Describe the part in a few words."""
        sign = " + " if self.kind == "series" else " \u2225 "
        return sign.join(
            f"({part.label()})" if isinstance(part, Network) else part.label()
            for part in self.elements
        )

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the branches of every part inside into a netlist."""
        last = len(self.elements) - 1
        for index, (name, part) in enumerate(self.inner().items()):
            a, b = "a", "b"
            if self.kind == "series":
                a = "a" if index == 0 else f"between_{index}"
                b = "b" if index == last else f"between_{index + 1}"
            part.stamp(net.inner(name, a=a, b=b), values.inner(name, part))


def _depth(part: Part) -> int:
    return 1 + max((_depth(p) for p in part.inner().values()), default=0)


def _join(kind: Literal["series", "parallel"], parts: tuple[Part, ...]) -> Network:
    """Join parts, taking the elements of a network of the same kind for themselves."""
    flat: list[Part] = []
    for part in parts:
        same = isinstance(part, Network) and part.kind == kind
        flat.extend(part.elements if same else [part])  # type: ignore[attr-defined]
    return Network(kind, tuple(flat))


@public(parts=None)
def in_series(*parts: Part) -> Network:
    """Join two-lug parts in series.

    Parameters
    ----------
    *parts : Part
        Capacitors, resistors and networks of them, in order.

    Returns
    -------
    Network
        A two-lug part.

    Raises
    ------
    BadValue
        If there are fewer than two, or one is not a two-lug part.

    Examples
    --------
    >>> in_series(Capacitor("1.2n"), Resistor("130k")).label()
    '1.2 nF + 130 kΩ'
    """
    return _join("series", parts)


@public(parts=None)
def in_parallel(*parts: Part) -> Network:
    """Join two-lug parts in parallel.

    Parameters
    ----------
    *parts : Part
        Capacitors, resistors and networks of them.

    Returns
    -------
    Network
        A two-lug part.

    Raises
    ------
    BadValue
        If there are fewer than two, or one is not a two-lug part.

    Examples
    --------
    >>> in_parallel(Capacitor("1n"), Resistor("150k")).label()
    '1 nF ∥ 150 kΩ'
    """
    return _join("parallel", parts)


@public
@enters
def capacitor_bleed(capacitance: float | str, *, unusual: bool = False) -> Capacitor:
    """Treble bleed of a capacitor alone.

    Parameters
    ----------
    capacitance : float or str
        Capacitance [F]; usually 120 pF to 2 nF.
    unusual : bool
        As in `Capacitor`.

    Returns
    -------
    Capacitor
        A two-lug part.

    Raises
    ------
    BadValue
        If the capacitance is not a positive value.

    Examples
    --------
    >>> capacitor_bleed("680p").label()
    '680 pF'
    """
    return _settled(Capacitor(capacitance))


@public
@enters
def parallel_bleed(
    capacitance: float | str, resistance: float | str, *, unusual: bool = False
) -> Network:
    """Treble bleed of a capacitor with a resistor in parallel.

    Parameters
    ----------
    capacitance : float or str
        Capacitance [F].
    resistance : float or str
        Resistance [ohm].
    unusual : bool
        As in `Capacitor`.

    Returns
    -------
    Network
        A two-lug part.

    Raises
    ------
    BadValue
        If a value is not positive or not a value.

    References
    ----------
    1 nF with 150 kΩ: Gitarre & Bass magazine, "Parts Lounge" series.

    Examples
    --------
    >>> parallel_bleed("1n", "150k").label()
    '1 nF ∥ 150 kΩ'
    """
    return _settled(in_parallel(Capacitor(capacitance), Resistor(resistance)))


@public
@enters
def series_bleed(
    capacitance: float | str, resistance: float | str, *, unusual: bool = False
) -> Network:
    """Treble bleed of a capacitor with a resistor in series.

    Parameters
    ----------
    capacitance : float or str
        Capacitance [F].
    resistance : float or str
        Resistance [ohm].
    unusual : bool
        As in `Capacitor`.

    Returns
    -------
    Network
        A two-lug part.

    Raises
    ------
    BadValue
        If a value is not positive or not a value.

    References
    ----------
    1.2 nF with 130 kΩ and 1 nF with 100 kΩ are common practice, no source.

    Examples
    --------
    >>> series_bleed("1.2n", "130k").label()
    '1.2 nF + 130 kΩ'
    """
    return _settled(in_series(Capacitor(capacitance), Resistor(resistance)))


_JOINING = re.compile(r"\|\||\u2225|[^\seE]\s*\+")  # the plus of an exponent joins nothing


def is_network(part: Part, written: object) -> bool:
    """Whether text given for a part means a network in its place, and no value of it.

    Parameters
    ----------
    part : Part
        What is in the place.
    written : object
        What is given.

    Returns
    -------
    bool
        Any text where nothing or a network is; where one capacitor or resistor is, text that
        joins several, or "none".

    Examples
    --------
    >>> [is_network(Capacitor("1n"), text) for text in ("680p", "150k || 1n", "none")]
    [False, True, True]
    """
    if not isinstance(written, str):
        return False
    if isinstance(part, (Empty, Network)):
        return True
    joining = written.strip().lower() == "none" or _JOINING.search(written) is not None
    return isinstance(part, (Capacitor, Resistor)) and joining


_TOKEN = re.compile(r"\s*(\|\||\u2225|\+|\(|\)|[^\s|\u2225+()][^|\u2225+()]*)", re.ASCII)


@public
@enters
def bleed(written: str | Part | None, *, unusual: bool = False) -> Part | None:
    """Read a treble bleed as written on the bench.

    Parameters
    ----------
    written : str, Part or None
        "1n", "150k || 1n", "1.2n + 130k" or "100k + (1n || 470k)": ``||`` is parallel,
        ``+`` is series. "none" and None mean no bleed. A part passes unchanged.
    unusual : bool
        As in `Capacitor`, of every part in it.

    Returns
    -------
    Part or None
        A two-lug part.

    Raises
    ------
    BadValue
        If the text cannot be read; it is parsed, never evaluated.

    Examples
    --------
    >>> bleed("150k || 1n").label()
    '150 kΩ ∥ 1 nF'
    """
    if written is None or isinstance(written, Part):
        return None if isinstance(written, Empty) else written
    text = str(written).strip()
    if text.lower() in ("none", ""):
        return None
    tokens = _TOKEN.findall(text)
    if len(text) > 200 or "".join(tokens).replace(" ", "") != re.sub(r"\s", "", text):
        raise _unreadable(text)
    part, rest = _sum(tokens, text, 0)
    if rest:
        raise _unreadable(text)
    return marked(part, "treble bleed") if unusual else part


def _settled(part: T) -> T:
    return settled(part, "treble_bleed", "treble bleed")


def _unreadable(text: str) -> BadValue:
    return BadValue(
        "treble bleed",
        f"{text[:40]!r} cannot be read",
        "write it like '1n', '150k || 1n', '1.2n + 130k' or '100k + (1n || 470k)'",
        text,
    )


def _sum(tokens: list[str], text: str, depth: int) -> tuple[Part, list[str]]:
    """Read terms joined by ``+``; ``||`` binds more tightly, as a product would."""
    parts, rest = [], ["+", *tokens]
    while rest and rest[0] == "+":
        part, rest = _side_by_side(rest[1:], text, depth)
        parts.append(part)
    return (parts[0] if len(parts) == 1 else in_series(*parts)), rest


def _side_by_side(tokens: list[str], text: str, depth: int) -> tuple[Part, list[str]]:
    parts, rest = [], ["||", *tokens]
    while rest and rest[0] in ("||", "\u2225"):
        part, rest = _one(rest[1:], text, depth)
        parts.append(part)
    return (parts[0] if len(parts) == 1 else in_parallel(*parts)), rest


def _one(tokens: list[str], text: str, depth: int) -> tuple[Part, list[str]]:
    if not tokens or tokens[0] in ("||", "\u2225", "+", ")") or depth > _DEEPEST:
        raise _unreadable(text)
    if tokens[0] == "(":
        part, rest = _sum(tokens[1:], text, depth + 1)
        if not rest or rest[0] != ")":
            raise _unreadable(text)
        return part, rest[1:]
    value = tokens[0].strip()
    if re.fullmatch(r"[\d.]*\.\d*|\d\d?|\d{4,}", value, re.ASCII):
        raise BadValue(
            "treble bleed",
            f"{value!r} has no unit",
            "write a capacitor like '1n' or '0.001uF', a resistor like '150k'",
            value,
        )
    if re.fullmatch(r"[\d.]+", value):
        raise BadValue(
            "treble bleed",
            f"{value!r} can be ohms or a capacitor's marking",
            "write the unit of each part, as '150k' or '150p'",
            text,
        )
    if re.fullmatch(r"[\d.]+\s*m", value, re.ASCII):
        digits = value[:-1].strip()
        raise BadValue(
            "treble bleed",
            f"{value!r} would be a thousandth of an ohm",
            f"write '{digits}M' for a resistor, '{digits}n' for a capacitor",
            value,
        )
    if two := re.fullmatch(r"([\d.]+\s*[kKMRpnu]\w*)\s*/\s*([\d.]+\s*[kKMRpnu]\w*)", value):
        problem = f"{value!r} does not say how the two are joined"
        fix = f"write '{two[1]} || {two[2]}' side by side, '{two[1]} + {two[2]}' end to end"
        raise BadValue("treble bleed", problem, fix, value)
    # A value under a thousandth can only be a capacitor; kilo, mega and ohm a resistor.
    farad = re.search(r"[pnuN\u00b5\u03bc]|[Ff]$|mfd$|MFD$|^\d{3}[BCDFGHJ]", value)
    try:
        part = Capacitor(value) if farad else Resistor(value)
    except BadValue as error:
        raise type(error)("treble bleed", error.problem, error.fix, error.value) from None
    return part, tokens[1:]
