"""A harness: parts joined at their lugs. Every answer is read from it.

A harness is a value. ``replace``, ``join`` and their kin return a new one.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from ..errors import BadHarness, BadSetting, BadValue, a, few, has_items, nearest
from ..frozen import Frozen
from ..gate import enters, public
from ..groups import Groups
from ..identity import digest
from ..parts.base import Drive, Part, Values, part_inside
from ..parts.humbucker import Humbucker
from ..parts.output import AmpInput, Cable, Jack
from ..parts.turns import coils_in, field_of, turns_of
from ..parts.two_lug import Empty, bleed, is_network
from ..table import Table
from .bench_lists import CAUTIONS, joint_table, part_table
from .netlist import Branch, Netlist
from .settings import RESERVED, Settings, one_mapping, resolve

__all__ = ["CAUTIONS", "Harness", "kept", "merged"]

_JOINTS = "give lists of lugs, as [('pickup.hot', 'volume.high')]"
T = TypeVar("T")
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,39}", re.ASCII)


@public(part=None)
@dataclass(frozen=True, eq=False)
class Harness:
    """Parts and the joints between their lugs.

    Parameters
    ----------
    parts : mapping of str to Part
        Parts by name; None is a two-lug place left empty.
    joined : iterable of iterable of str
        Each joint names the lugs ("volume.wiper") that are soldered or plugged together.
        Joints that share a lug are one joint.
    open_lugs : iterable of str
        Lugs left unjoined on purpose.
    name : str
        What to call the guitar in tables and figures.

    Raises
    ------
    BadHarness
        If a name, part or lug is not right. Whether every lug is joined is checked by `check`,
        before anything is computed.

    Examples
    --------
    >>> from guitarnet import AmpInput, Cable, Jack, Pickup
    >>> bare = Harness(
    ...     parts={"pickup": Pickup("6k", "2.4 H", "120p"), "jack": Jack()},
    ...     joined=[("pickup.hot", "jack.tip"), ("pickup.ground", "jack.sleeve")],
    ... )
    >>> bare.add("cable", Cable("3 m")).check()  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    guitarnet.errors.BadHarness: cable.guitar_tip: is not joined to anything; join it, ...
    """

    parts: Mapping[str, Part]
    joined: tuple[tuple[str, ...], ...] = ()
    open_lugs: tuple[str, ...] = ()
    name: str = "guitar"

    def __post_init__(self) -> None:
        if not isinstance(self.parts, Mapping):
            raise BadHarness(
                self.name,
                f"{a(type(self.parts))} is not a mapping of names to parts",
                "give {'pickup': gn.Pickup(...), ...}",
            )
        parts = {name: _part(name, part) for name, part in self.parts.items()}
        object.__setattr__(self, "parts", Frozen(parts))
        opened = [self.open_lugs] if isinstance(self.open_lugs, str) else self.open_lugs
        try:
            lugs = dict.fromkeys(str(lug) for lug in few(opened))
        except TypeError:
            raise BadHarness(
                "open_lugs", f"{opened!r} is no list of lugs", "give ['tone.high']"
            ) from None
        object.__setattr__(self, "open_lugs", tuple(lugs))
        joints = _joints(self.joined)
        for lug in [*self.open_lugs, *(lug for joint in joints for lug in joint)]:
            self._check_lug(lug)
        object.__setattr__(self, "joined", tuple(merged(joints)))

    @cached_property
    def _nodes(self) -> dict[str, str]:
        """Node of each lug that is joined."""
        return {lug: joint[0] for joint in self.joined for lug in joint}

    def __reduce__(self) -> tuple[Any, ...]:
        return Harness, (dict(self.parts), self.joined, self.open_lugs, self.name)

    def __eq__(self, other: object) -> bool:
        """Tell whether two harnesses have the same parts, values, joints and name."""
        if not isinstance(other, Harness):
            return NotImplemented
        return self is other or self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())

    def _key(self) -> tuple[Any, ...]:
        # Neither the order of joints nor that of the lugs in them makes another guitar.
        joints = frozenset(map(frozenset, self.joined))
        return frozenset(self.parts.items()), joints, frozenset(self.open_lugs), self.name

    # -- building ---------------------------------------------------------------------------

    def add(self, name: str, part: Part | None) -> Harness:
        """Return a harness with one more part.

        Raises
        ------
        BadHarness
            If the name is taken or cannot name a part.
        """
        if name in self.parts:
            raise BadHarness(name, "is in the harness already", "give the new part another name")
        return self._with(name, _part(name, part))

    def join(self, *lugs: str) -> Harness:
        """Return a harness with these lugs joined.

        Raises
        ------
        BadHarness
            If a lug does not exist or is declared open.
        """
        return dataclasses.replace(self, joined=(*self.joined, lugs))

    def leave_open(self, *lugs: str) -> Harness:
        """Return a harness with these lugs declared open.

        Raises
        ------
        BadHarness
            If a lug does not exist.
        """
        return dataclasses.replace(self, open_lugs=(*self.open_lugs, *lugs))

    @enters
    def plugged(
        self,
        cable: Cable | float | str = "3 m",
        amp: AmpInput | float | str = "1M",
        *,
        unusual: bool = False,
    ) -> Harness:
        """Return a harness with a cable in its jack and an amp at the cable's end.

        Parameters
        ----------
        cable : Cable, float or str
            Cable, or its length [m] at 100 pF/m.
        amp : AmpInput, float or str
            Amp input, or its resistance [ohm].
        unusual : bool
            As in `guitarnet.layouts.one_pickup`.

        Returns
        -------
        Harness
            The harness with the parts ``cable`` and ``amp``.

        Raises
        ------
        BadHarness
            If there is not one jack, or something is plugged in already.
        BadValue
            If a value is not one that the part can have.
        """
        jack = self.only(Jack)
        cabled = cable if isinstance(cable, Cable) else Cable(cable)
        amped = amp if isinstance(amp, AmpInput) else AmpInput(amp)
        made = self.add("cable", cabled).add("amp", amped)
        plugs = (
            (f"{jack}.tip", "cable.guitar_tip"),
            (f"{jack}.sleeve", "cable.guitar_sleeve"),
            ("cable.amp_tip", "amp.tip"),
            ("cable.amp_sleeve", "amp.sleeve"),
        )
        return dataclasses.replace(made, joined=(*made.joined, *plugs))

    def lift(self, *lugs: str) -> Harness:
        """Return a harness with these lugs lifted off their joints, and so open.

        Raises
        ------
        BadHarness
            If a lug does not exist or is open already.
        """
        if not lugs:
            return self
        for lug in lugs:
            self._check_lug(lug)
            if lug not in self._nodes:
                raise BadHarness(lug, "is joined to nothing", "lift a lug that is joined")
        left = [[lug for lug in joint if lug not in lugs] for joint in self.joined]
        # A lug whose only partner is lifted hangs free too.
        alone = [joint[0] for joint in left if len(joint) == 1]
        return dataclasses.replace(
            self,
            joined=tuple(tuple(joint) for joint in left if len(joint) > 1),
            open_lugs=(*self.open_lugs, *lugs, *alone),
        )

    def replace(self, path: str, value: Any) -> Harness:
        """Return a harness with one part or one value replaced.

        Parameters
        ----------
        path : str
            A part ("treble_bleed") or a dotted path to one of its values ("volume.taper",
            "pickup.inductance").
        value : object
            The new part (None empties a two-lug place) or value, as people write it; a network in
            a two-lug place as text, such as "150k || 1n".

        Returns
        -------
        Harness
            The new harness; this one stays as it is.

        Raises
        ------
        BadSetting
            If there is no such part or value.
        BadValue
            If the part cannot have the value.
        """
        name, local = self.split(path)
        old = self.parts[name]
        if local:
            inside, _, field = local.rpartition(".")
            tolerance = field == "tolerance" and hasattr(part_inside(old, inside) or old, field)
            if not tolerance and not (isinstance(value, Part) and part_inside(old, local)):
                local = old.path(local, path)
            if local in old.controls:
                raise BadSetting(
                    path, "is set by hand, not a part's value", "give it to response as a setting"
                )
            return self._with(name, _said_of(path, old, local, value))
        if is_network(old, value):
            value = bleed(value)
        if value is not None and not isinstance(value, Part):
            if old.main is None or old.main in old.controls:
                two_lug = old.lugs == ("a", "b")
                such = "gn.bleed('1n')" if two_lug else f"gn.{type(old).__name__}(...)"
                raise BadSetting(path, f"{value!r} is not a part", f"give a part such as {such}")
            return self._with(name, _said_of(path, old, old.main, value))
        new = _part(name, value)
        if new.lugs != old.lugs:
            found = f"{a(type(new))} has the lugs {', '.join(new.lugs)}"
            if value is None:
                found = "None leaves a two-lug place empty"
            raise BadHarness(
                path,
                f"{found}, but {a(type(old))} has {', '.join(old.lugs)}",
                "replace a part by one with the same lugs, or build the harness anew",
            )
        return self._with(name, new)

    def _with(self, name: str, part: Part) -> Harness:
        parts = {**self.parts, name: part}
        if name not in self.parts or part.lugs != self.parts[name].lugs:
            return dataclasses.replace(self, parts=parts)
        # The joints of a harness with the same lugs have been merged and checked already.
        made = object.__new__(Harness)
        kept = {name: getattr(self, name) for name in ("joined", "open_lugs", "name")}
        made.__dict__.update(kept, parts=Frozen(parts))
        return made

    # -- reading ----------------------------------------------------------------------------

    def split(self, path: str) -> tuple[str, str]:
        """Split a path into the part's name and what follows."""
        name, _, local = str(path).partition(".")
        if name not in self.parts:
            # An argument's name cannot have a dot, so that one may have written a line for it.
            dotted = (
                f"did you mean '{one}.{rest}'?"
                for one, part in self.parts.items()
                for rest in part.settable()
                if name == f"{one}_{rest}"
            )
            fix = next(dotted, None) or nearest(name, self.parts)
            raise BadSetting(str(path), f"the harness has no part {name!r}", fix)
        return name, local

    def node(self, lug: str) -> str:
        """Name the node that a lug belongs to: the first lug of its joint."""
        self._check_lug(lug)
        return self._nodes.get(lug, lug)

    def only(self, kind: type[Part], needed: bool = True) -> str | None:
        """Name the one part of a kind."""
        names = [name for name, part in self.parts.items() if isinstance(part, kind)]
        if len(names) > 1 or (needed and not names):
            what = kind.__name__
            raise BadHarness(
                self.name,
                f"has {len(names) or 'no'} {what} parts" if names else f"has no {what}",
                f"keep one of {', '.join(names)}" if names else f"add one: {what}()",
            )
        return names[0] if names else None

    @property
    def ground(self) -> str:
        """The node of the jack's sleeve."""
        return self.node(f"{self.only(Jack)}.sleeve")

    def output_lug(self) -> str:
        """Name the lug at which the guitar is heard: the amp's tip, or else the jack's."""
        amp = self.only(AmpInput, needed=False)
        return f"{amp}.tip" if amp else f"{self.only(Jack)}.tip"

    def assumptions(self, values: Mapping[str, Any] | None = None) -> tuple[str, ...]:
        """Say what a figure must state about the parts, with values as in `stamp`."""
        given = values or {}
        sentences = (
            words
            for name, part in self.parts.items()
            for words in part.assumptions(Values(part, name, given))
        )
        return tuple(dict.fromkeys(sentences))

    def described(self) -> dict[str, str]:
        """Tell all that makes the guitar what it is: every value, every joint.

        Returns
        -------
        dict of str to str
            By path ("volume.taper.points") each value to the last bit, in SI; the joints and
            the open lugs. Equal harnesses give equal texts, in any process, and others do not.

        Examples
        --------
        >>> from guitarnet import Pickup, layouts
        >>> described = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p")).described()
        >>> described["pickup.inductance"], described["joint amp.tip - cable.amp_tip"]
        ('2.4 H', 'joined')
        """
        described = {"name": repr(self.name)}
        for name, part in sorted(self.parts.items()):
            described |= _values(name, part)
        described |= {f"joint {lugs}": "joined" for lugs in sorted(map(_in_order, self.joined))}
        return described | {f"open lug {lug}": "open" for lug in sorted(self.open_lugs)}

    def summary(self, values: Mapping[str, Any] | None = None) -> dict[str, str]:
        """Say each part in a few words, except parts of which ``values`` change something."""
        changed = {
            path.partition(".")[0]
            for path in values or {}
            if self.split(path)
            and path.partition(".")[2] not in self.parts[path.partition(".")[0]].controls
        }
        return {name: words for name, words in self._captions.items() if name not in changed}

    @cached_property
    def _captions(self) -> dict[str, str]:
        return {
            name: part.caption()
            for name, part in self.parts.items()
            if not isinstance(part, (Jack, Empty))
        }

    def check(self) -> None:
        """Check that the harness is whole.

        Raises
        ------
        BadHarness
            If a lug is neither joined nor declared open (or both), there is not one jack, or a
            hot lug is joined to ground.
        """
        for name, part in self.parts.items():
            for lug in part.lugs:
                self._check_joined(f"{name}.{lug}")
        jack = self.only(Jack)
        self._check_plugged(jack, self.only(Cable, needed=False), self.only(AmpInput, needed=False))
        hots = [(f"{jack}.tip", f"{jack}.sleeve")]
        hots += [
            (f"{name}.hot", f"{name}.ground")
            for name, part in self.parts.items()
            if part.lugs == ("hot", "ground")
        ]
        for hot, back in hots:
            if self.node(hot) == self.node(back):
                joint = next(joint for joint in self.joined if hot in joint)
                raise BadHarness(
                    hot,
                    f"is joined to ground ({' - '.join(joint)})",
                    "hot and ground must not share a joint",
                )

    def _check_plugged(self, jack: str | None, cable: str | None, amp: str | None) -> None:
        """Check that the cable is plugged into the jack, and the amp's input onto its end."""
        plugs = []
        if cable:
            plugs += [(f"{cable}.guitar_{end}", f"{jack}.{end}") for end in ("tip", "sleeve")]
        if amp:
            far = f"{cable}.amp_" if cable else f"{jack}."
            plugs += [(f"{amp}.{end}", f"{far}{end}") for end in ("tip", "sleeve")]
        for plug, socket in plugs:
            if self.node(plug) != self.node(socket):
                raise BadHarness(plug, f"is not at {socket}", f"join {plug} to {socket}")

    def _said(self, lug: str) -> str:
        """Name a lug, with what the person calls the lead."""
        name, _, local = lug.partition(".")
        part = self.parts.get(name)
        called = part.lead_name(local) if isinstance(part, Humbucker) else ""
        return f"{lug} ({called})" if called else lug

    def _check_joined(self, lug: str) -> None:
        joined = lug in self._nodes
        if lug in self.open_lugs:
            if joined:
                raise BadHarness(
                    self._said(lug), "is declared open and joined too", "do one of the two"
                )
        elif not joined:
            raise BadHarness(
                self._said(lug),
                "is not joined to anything",
                "join it, or list it in open_lugs",
            )

    def _check_lug(self, lug: Any) -> None:
        name, _, local = str(lug).partition(".")
        if name not in self.parts:
            raise BadHarness(str(lug), f"there is no part {name!r}", nearest(name, self.parts))
        if local not in self.parts[name].lugs:
            raise BadHarness(
                str(lug),
                f"{a(type(self.parts[name]))} has no lug {local!r}",
                nearest(local, self.parts[name].lugs),
            )

    # -- views ------------------------------------------------------------------------------

    def stamp(
        self,
        values: Mapping[str, Any] | None = None,
        without: Iterable[str] = (),
        drive: Drive | None = None,
    ) -> Netlist:
        """Write every part into a netlist.

        Parameters
        ----------
        values : mapping of str to value, optional
            Values by full path that replace the parts' own: numbers in SI, labelled arrays or
            symbols. `netlist` reads them from what people write.
        without : iterable of str
            Parts to leave out.
        drive : Drive, optional
            What drives the coils: the string in all of them unless given.

        Returns
        -------
        Netlist
            Nodes are named by the first lug of their joint.

        Raises
        ------
        BadHarness
            If the harness is not whole.
        """
        nodes = self._whole
        if drive is not None and drive.source == "hum":
            drive = dataclasses.replace(drive, field=field_of(turns_of(coils_in(self.parts))))
        net = Netlist(self.ground, bare={node for own in nodes.values() for node in own.values()})
        left_out = set(without)
        changed = {path.partition(".")[0] for path in values or {}}
        for name, part in self.parts.items():
            if name in left_out:
                continue
            if name in changed:
                part.stamp(net.inner(name, **nodes[name]), Values(part, name, values or {}, drive))
                continue
            # What no value changes is the same each time.
            key = (name, drive and (drive.source, drive.only))
            if key not in self._stamped:
                alone = Netlist(self.ground)
                part.stamp(alone.inner(name, **nodes[name]), Values(part, name, {}, drive))
                self._stamped[key] = alone.branches
            net.branches.update(self._stamped[key])
        return net

    @cached_property
    def _whole(self) -> dict[str, dict[str, str]]:
        """Node of each lug of each part, once the harness has been checked."""
        self.check()
        nodes = self._nodes
        return {
            name: {lug: nodes.get(f"{name}.{lug}", f"{name}.{lug}") for lug in part.lugs}
            for name, part in self.parts.items()
        }

    @cached_property
    def _stamped(self) -> dict[tuple[str, Any], dict[str, Branch]]:
        """Branches of each part with its own values, as far as they were asked for."""
        return {}

    @cached_property
    def _answers(self) -> dict[Hashable, Any]:
        """Answers that `kept` keeps, by question."""
        return {}

    def netlist(self, settings: Settings = None, **keywords: Any) -> Netlist:
        """Write every part into a netlist for given settings.

        Parameters
        ----------
        settings, **keywords
            Knob marks, switch places and part values; a list becomes a named dimension.
            See `guitarnet.response` for the grammar.

        Returns
        -------
        Netlist
            One netlist, whose values carry the named dimensions.

        Raises
        ------
        BadHarness
            If the harness is not whole.
        BadSetting
            If a setting is unknown or out of range.
        """
        settings = one_mapping(settings, keywords)
        return self.stamp(resolve(self, settings).values)

    def part_table(self) -> Table:
        """List the parts to shop from, with each component of a network in a row of its own.

        Returns
        -------
        Table
            Part, kind, value; the nearest value that is sold where the value itself is not
            (capacitors E12, resistors E24, pots the usual ones); the marking to look for
            (IEC 60062); the tolerance, "usual" where the part states none.

        References
        ----------
        Preferred values: IEC 60063. Markings: IEC 60062. Values of pots and usual tolerances:
        common practice, no source.

        Examples
        --------
        >>> from guitarnet import layouts, Pickup
        >>> guitar = layouts.one_pickup(Pickup("6k", "2.4 H", "120p"), treble_bleed="140k || 1n")
        >>> next(row[:5] for row in guitar.part_table() if row[0] == "treble_bleed.resistor")
        ('treble_bleed.resistor', 'resistor', '140 kΩ', '150 kΩ', '150K')
        """
        return part_table(self)

    def joints(self) -> Table:
        """Say what to solder to what in working order, with the usual cautions under the table.

        Returns
        -------
        Table
            The ground bus first; then each joint when the last of its parts comes to it: pots,
            small parts (capacitors, resistors, bleeds), switch, pickups, jack; then what is
            plugged and what stays open. Lugs that bring no wire, leads and legs that come to
            them, and the wire that is left to cut: n lugs need n - 1 pieces.

        Raises
        ------
        BadHarness
            If the harness is not whole.

        Notes
        -----
        Pot cans, the switch frame and the string ground are no lugs of the model; the note under
        the table names them.

        References
        ----------
        The order of work is common practice, no source.

        Examples
        --------
        >>> from guitarnet import layouts, Pickup
        >>> table = layouts.one_pickup(Pickup("6k", "2.4 H", "120p")).joints()
        >>> next(row[3:] for row in table if row[2] == "jack")
        ('volume wiper, jack tip', '', '1 hook-up wire')
        """
        self.check()
        return joint_table(self)

    def __str__(self) -> str:
        return str(self.part_table())

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return self.part_table()._repr_html_()


def _part(name: Any, part: Any) -> Part:
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        raise BadHarness(
            f"part {str(name)[:40]!r}",
            "cannot be a part's name",
            "use a letter and then letters, digits or underscores, 40 at the most",
        )
    if name in RESERVED:
        raise BadHarness(name, "is a reserved word", f"name the part otherwise, as {name}_1")
    if part is None:
        return Empty()
    if not isinstance(part, Part):
        raise BadHarness(name, f"{part!r} is not a part", "give a part such as gn.Capacitor('22n')")
    return part


def _values(path: str, value: Any) -> dict[str, str]:
    """Every value of a part, and of the parts and tapers inside it, by path."""
    kind = type(value)
    own = kind.__module__.partition(".")[0] == __name__.partition(".")[0]
    values = {path: kind.__name__ if own else digest(kind)}
    for field in dataclasses.fields(value):
        if not field.compare:  # whether it is meant says nothing of the circuit
            continue
        inner, spec = getattr(value, field.name), field.metadata.get("quantity")
        here = f"{path}.{field.name}"
        if dataclasses.is_dataclass(inner):
            values |= _values(here, inner)
        elif isinstance(inner, tuple) and any(map(dataclasses.is_dataclass, inner)):
            for number, one in enumerate(inner, 1):
                values |= _values(f"{here}.{number}", one)
        else:
            unit = f" {spec.unit}" if spec is not None and inner is not None else ""
            values[here] = digest(inner) + unit
    return values


def _in_order(joint: tuple[str, ...]) -> str:
    return " - ".join(sorted(joint))


def _said_of(path: str, part: Part, local: str, value: Any) -> Part:
    """Replace a value, and let a refusal name the path as the user wrote it."""
    try:
        return part.replace(local, value)
    except BadValue as error:
        raise BadValue(path, error.problem, error.fix, error.value) from None


def kept(harness: Harness, question: Hashable, answer: Callable[[], T]) -> T:
    """Answer a question about a harness once: it never changes, so the answer stays true."""
    answers = harness._answers
    if question not in answers:
        answers[question] = answer()
    found: T = answers[question]
    return found


def _joints(joined: Any) -> list[list[str]]:
    """Read joints as lists of lugs."""
    if isinstance(joined, str) or not has_items(joined):
        raise BadHarness("joined", f"{joined!r} is no list of joints", _JOINTS)
    joints = []
    for joint in few(joined):
        if isinstance(joint, str) or not has_items(joint):
            raise BadHarness("joined", f"{joint!r} is no joint", _JOINTS)
        joints.append([str(lug) for lug in few(joint)])
    return joints


def merged(joints: Iterable[Iterable[str]]) -> list[tuple[str, ...]]:
    """Merge joints that share a lug; the order in which they were given does not matter."""
    groups: Groups[str] = Groups()
    read = []
    for joint in joints:
        lugs = [str(lug) for lug in ([joint] if isinstance(joint, str) else joint)]
        if len(set(lugs)) < 2:
            raise BadHarness(
                f"joint {' - '.join(lugs)}".strip(),
                "joins nothing",
                "name two lugs or more in each joint",
            )
        for lug in lugs:
            groups.merge(lugs[0], lug)
        read.append(lugs)
    whole: dict[str, dict[str, None]] = {}  # each takes the place of its first joint
    for lugs in read:
        whole.setdefault(groups.find(lugs[0]), {}).update(dict.fromkeys(lugs))
    return [tuple(lugs) for lugs in whole.values()]
