"""Switches: lugs and a table of which of them touch in each place."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any, ClassVar

from ..errors import BadValue, listed, nearest, pair
from ..gate import public
from .base import Part, Stamps, Values, Written, valued

__all__ = [
    "Switch",
    "double_throw",
    "five_way_lever",
    "four_way_lever",
    "on_on_on",
    "rotary",
    "three_way_toggle",
]

_NAMED = "name its places in a list, as ['up', 'down']"

Contacts = tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]


@public(place=None)
@valued
class Switch(Part):
    """A switch of any kind: in each place, some of its lugs touch.

    Made by `guitarnet.switches.three_way_toggle`, `guitarnet.switches.four_way_lever`,
    `guitarnet.switches.five_way_lever`, `guitarnet.switches.rotary`,
    `guitarnet.switches.double_throw` and `guitarnet.switches.on_on_on`, or by hand.

    Parameters
    ----------
    contacts : mapping of str to sequence of sequence of str
        For each place, by what it selects ("bridge+middle"), the groups of lugs that touch.
        Every lug of the switch must stand in ``all_lugs``, touching or not.
    all_lugs : sequence of str
        The lugs.
    place : str, optional
        Where it stands unless a setting says otherwise; the first place unless given.
    kind : str
        What it is, in words.
    source : str
        Where the contacts come from.

    Raises
    ------
    BadValue
        If there is no place, a lug is unknown, or stands in two groups of one place.

    Examples
    --------
    >>> Switch({"on": [["a", "b"]], "off": []}, ["a", "b"]).label()
    'switch: on, off'
    """

    contacts: Written[Mapping[str, Iterable[Iterable[str]]] | Contacts, Contacts]
    all_lugs: Written[Iterable[str], tuple[str, ...]]
    place: str = ""
    kind: str = "switch"
    source: str = ""

    main: ClassVar = "place"

    def __post_init__(self) -> None:
        super().__post_init__()
        lugs = listed(self.all_lugs, "Switch.all_lugs", "name the lugs, as ['a', 'b']")
        object.__setattr__(self, "all_lugs", tuple(str(lug) for lug in lugs))
        table = _contacts(self.contacts)
        object.__setattr__(self, "contacts", table)
        self._check(table)
        if isinstance(self.place, str) and not self.place:
            object.__setattr__(self, "place", table[0][0])
        if not isinstance(self.place, str) or self.place not in self.places:
            raise BadValue(
                "Switch.place",
                f"{self.place!r} is no place of this switch",
                nearest(str(self.place), self.places),
                self.place,
            )

    def _check(self, table: Contacts) -> None:
        if not table or len(set(self.places)) < len(table):
            problem = "there is no place" if not table else "a place stands twice"
            raise BadValue("Switch.contacts", problem, "give each place once")
        if len(set(self.all_lugs)) < len(self.all_lugs) or not self.all_lugs:
            raise BadValue("Switch.all_lugs", "a lug stands twice or none at all", "name each once")
        for place, groups in table:
            touching = [lug for group in groups for lug in group]
            for lug in touching:
                if lug not in self.all_lugs:
                    raise BadValue(
                        f"Switch.contacts, {place}",
                        f"there is no lug {lug!r}",
                        nearest(lug, self.all_lugs),
                        lug,
                    )
                if touching.count(lug) > 1:
                    raise BadValue(
                        f"Switch.contacts, {place}",
                        f"{lug!r} stands in two groups",
                        "join the groups, or name the lug once",
                        lug,
                    )

    @property
    def lugs(self) -> tuple[str, ...]:  # type: ignore[override]
        """Every lug."""
        return tuple(self.all_lugs)

    @property
    def places(self) -> tuple[str, ...]:
        """Every place, by what it selects."""
        return tuple(place for place, _ in self.contacts)

    def categories(self) -> tuple[str, ...]:
        """Only the place is set."""
        return ("place",)

    def called(self) -> str:
        """Kind of the part, as text."""
        return self.kind

    def _rows(self) -> list[tuple[str, str]]:
        return [
            (place, "; ".join(f"{' and '.join(group)} joined" for group in groups) or "all open")
            for place, groups in self.contacts
        ]

    def label(self) -> str:
        """Describe the part in a few words."""
        return f"{self.kind}: {', '.join(self.places)}"

    def caption(self) -> str:
        """Say what the part is and how it stands, for captions."""
        return f"{self.kind} at {self.place}"

    def stamp(self, net: Stamps, values: Values) -> None:
        """Write the contacts of the place into a netlist, as wires of no resistance."""
        for group in dict(self.contacts)[values.place]:
            for first, second in pairwise(group):
                net.resistor(f"{first}-{second}", first, second, 0.0)


def _contacts(given: Any) -> Contacts:
    fix = "give {'on': [['a', 'b']], 'off': []}"
    pairs = given.items() if isinstance(given, Mapping) else given
    table = []
    for entry in listed(pairs, "Switch.contacts", fix):
        place, groups = pair(entry, "Switch.contacts", fix)
        touching = (
            tuple(str(lug) for lug in listed(group, f"Switch.contacts, {place}", fix))
            for group in listed(groups, f"Switch.contacts, {place}", fix)
        )
        table.append((str(place), tuple(touching)))
    return tuple(table)


@public(places=None)
def three_way_toggle(places: Sequence[str] = ("neck", "neck+bridge", "bridge")) -> Switch:
    """Three-way toggle: one lug, both, or the other on the common.

    Parameters
    ----------
    places : sequence of three str
        Places by what they select.

    Returns
    -------
    Switch
        Lugs ``first``, ``second`` and ``common``; in the middle all three touch.

    Raises
    ------
    BadValue
        If there are not three places.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> three_way_toggle().places
    ('neck', 'neck+bridge', 'bridge')
    """
    one, both, other = _places(places, 3)
    return Switch(
        {
            one: [["first", "common"]],
            both: [["first", "second", "common"]],
            other: [["second", "common"]],
        },
        ["first", "second", "common"],
        kind="three-way toggle",
    )


@public(places=None)
def five_way_lever(
    places: Sequence[str] = ("neck", "neck+middle", "middle", "middle+bridge", "bridge"),
) -> Switch:
    """Five-way lever: two banks of three lugs and a common each; half-stops bridge neighbours.

    Parameters
    ----------
    places : sequence of five str
        Places by what they select, in the order in which the lever moves.

    Returns
    -------
    Switch
        Lugs ``a1``, ``a2``, ``a3`` and ``a`` (the common) of one bank, ``b1`` to ``b`` of the
        other, which does the same.

    Raises
    ------
    BadValue
        If there are not five places.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> five_way_lever().contacts[1]
    ('neck+middle', (('a1', 'a2', 'a'), ('b1', 'b2', 'b')))
    """
    touched = (("1",), ("1", "2"), ("2",), ("2", "3"), ("3",))
    return Switch(
        {
            place: [[*(bank + lug for lug in lugs), bank] for bank in "ab"]
            for place, lugs in zip(_places(places, 5), touched, strict=True)
        },
        [bank + lug for bank in "ab" for lug in ("1", "2", "3", "")],
        kind="five-way lever",
    )


@public(places=None)
def four_way_lever(
    places: Sequence[str] = ("bridge", "neck+bridge", "neck", "neck+bridge in series"),
) -> Switch:
    """Four-way lever: two banks of four lugs and a common each; no place bridges neighbours.

    Parameters
    ----------
    places : sequence of four str
        Places by what they select, in the order in which the lever moves.

    Returns
    -------
    Switch
        Lugs as of `guitarnet.switches.rotary`: ``a1`` to ``a4`` and ``a`` (the common) of one bank,
        ``b1`` to ``b`` of the other, which does the same.

    Raises
    ------
    BadValue
        If there are not four places.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> four_way_lever().contacts[1]
    ('neck+bridge', (('a', 'a2'), ('b', 'b2')))
    """
    made = rotary(2, _places(places, 4))
    return Switch(made.contacts, made.all_lugs, kind="four-way lever")


@public(places=None, poles=None)
def rotary(poles: int, places: Sequence[str]) -> Switch:
    """Rotary switch: each pole's common touches one lug for each place.

    Parameters
    ----------
    poles : int
        Number of poles, 1 to 8.
    places : sequence of str
        Places by what they select, 2 to 24.

    Returns
    -------
    Switch
        Lugs ``a`` (common), ``a1``, ``a2`` ... of the first pole, ``b`` ... of the second.

    Raises
    ------
    BadValue
        If the numbers are out of range.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> rotary(1, ["22 nF", "47 nF"]).lugs
    ('a', 'a1', 'a2')
    """
    names = [str(place) for place in listed(places, "rotary", _NAMED)]
    if not (isinstance(poles, int) and 1 <= poles <= 8 and 2 <= len(names) <= 24):
        raise BadValue(
            "rotary",
            f"{poles!r} poles and {len(names)} places make no rotary switch",
            "give 1 to 8 poles and 2 to 24 places",
        )
    banks = "abcdefgh"[:poles]
    return Switch(
        {
            place: [[bank, f"{bank}{number}"] for bank in banks]
            for number, place in enumerate(names, 1)
        },
        [
            lug
            for bank in banks
            for lug in (bank, *(f"{bank}{n}" for n in range(1, len(names) + 1)))
        ],
        kind=f"rotary, {poles} poles" if poles > 1 else "rotary",
    )


@public(places=None)
def double_throw(places: Sequence[str] = ("down", "up"), *, poles: int = 2) -> Switch:
    """Two-way switch: a mini toggle, or the switch of a push-pull pot.

    Parameters
    ----------
    places : sequence of two str
        Places by what they select.
    poles : int
        Number of poles; two in a push-pull.

    Returns
    -------
    Switch
        Lugs as of `guitarnet.switches.rotary`: each common ``a`` touches ``a1`` in the first place,
        ``a2`` in the second.

    Raises
    ------
    BadValue
        If there are not two places.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> double_throw(["series", "split"]).contacts[0]
    ('series', (('a', 'a1'), ('b', 'b1')))
    """
    made = rotary(poles, _places(places, 2))
    poles_said = f"{poles} poles" if poles > 1 else "1 pole"
    return Switch(made.contacts, made.all_lugs, kind=f"two-way, {poles_said}")


@public(places=None)
def on_on_on(places: Sequence[str] = ("up", "middle", "down")) -> Switch:
    """Three-way mini toggle of two poles, of which in the middle only the second has moved.

    Parameters
    ----------
    places : sequence of three str
        Places by what they select.

    Returns
    -------
    Switch
        Lugs as of `guitarnet.switches.double_throw`: commons ``a`` and ``b``. In the first place
        they touch ``a1`` and ``b1``, in the middle ``a1`` and ``b2``, in the last ``a2`` and
        ``b2``.

    Raises
    ------
    BadValue
        If there are not three places.

    Notes
    -----
    A toggle of the same kind may move its first pole first: then exchange the two poles. A
    meter tells which you hold.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> on_on_on(["series", "split", "parallel"]).contacts[1]
    ('split', (('a', 'a1'), ('b', 'b2')))
    """
    first, middle, last = _places(places, 3)
    return Switch(
        {
            first: [["a", "a1"], ["b", "b1"]],
            middle: [["a", "a1"], ["b", "b2"]],
            last: [["a", "a2"], ["b", "b2"]],
        },
        ["a", "a1", "a2", "b", "b1", "b2"],
        kind="on-on-on toggle, 2 poles",
    )


def _places(places: Iterable[str], count: int) -> list[str]:
    names = [str(place) for place in listed(places, "switch", _NAMED)]
    if len(names) != count:
        raise BadValue(
            "switch", f"{len(names)} places were named, it has {count}", "name each place once"
        )
    return names
