"""Lists for the bench, read from a harness: what to solder to what, and what to buy."""

from __future__ import annotations

import dataclasses
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from ..errors import BadValue
from ..parts.base import Part
from ..parts.blend import BlendPot
from ..parts.humbucker import Humbucker
from ..parts.measured import MeasuredValue
from ..parts.output import AmpInput, Cable, Jack
from ..parts.pickup import Coil
from ..parts.pot import Pot
from ..parts.switch import Switch
from ..parts.two_lug import Capacitor, Empty, Network, Resistor
from ..preferred import marking, nearest_preferred
from ..ranking import ranked
from ..table import Table
from ..units import format_value
from .wired import Wired

__all__ = [
    "BOX",
    "CAUTIONS",
    "Joint",
    "joint_table",
    "letter_code",
    "measured_values",
    "part_table",
    "sorted_out",
    "words_of",
]

CAUTIONS = (
    "Unplug the guitar from everything before you open or measure it, and never open an amplifier "
    "(lethal voltage, even when off); its mains earth must be intact. The iron is hot; ventilate "
    "its fumes; solder may hold lead, so wash your hands; wear goggles when you clip leads. Local "
    "electrical codes and a licensed technician come before this."
)
"""What to say wherever someone is told to open, solder or measure a guitar."""

BOX = "[ ]"
"""A box to tick with a pencil."""

# What comes to a joint last decides when it is soldered. Common practice, no source.
_STEPS = ("ground", "pots", "small parts", "switch", "pickups", "jack")
_COMES_AT: dict[type[Part], str] = {
    Pot: "pots",
    BlendPot: "pots",
    Switch: "switch",
    Coil: "pickups",
    Humbucker: "pickups",
    Jack: "jack",
}
_JOINT_COLUMNS = ("done", "joint", "step", "lugs", "leads that come here", "wire")
# Where a knob's wiper touches its lugs.
_TOUCHED: dict[type[Part], dict[str, str]] = {
    Pot: {"high": "at 10", "low": "at 0"},
    BlendPot: {
        "first_high": "to 5",
        "first_low": "at 10",
        "second_high": "from 5",
        "second_low": "at 0",
    },
}
_LEGS = (
    "A jumper joins lugs of one part: bare wire between neighbours, insulated wire past another "
    "lug. The legs a and b of a small part may change places."
)
# What panel pots are sold as: common practice, no source. They follow no E series.
_POT_OHMS = (10e3, 25e3, 50e3, 100e3, 250e3, 300e3, 330e3, 500e3, 1e6, 2e6)


# -- joints ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Joint:
    """One joint as it is soldered: lugs that bring no wire, and leads that come to them."""

    step: str
    fixed: tuple[str, ...]
    leads: tuple[str, ...]

    def wires(self) -> Counter[str]:
        """Count the pieces to cut: n lugs need n - 1, of which those within a part are jumpers."""
        parts = {lug.partition(".")[0] for lug in self.fixed}
        kind = "ground wire" if self.step == "ground" else "hook-up wire"
        between = max(len(parts) - 1, 0)
        return +Counter({kind: between, "jumper": len(self.fixed) - len(parts)})


def joint_table(harness: Wired) -> Table:
    """List the joints of a whole harness in working order."""
    joints, plugged, opened = sorted_out(harness)
    rows = [_joint_row(harness, number, joint) for number, joint in enumerate(joints, 1)]
    # A network is made up when the pots are in, before its legs are needed.
    early = sum(joint.step in ("ground", "pots") for joint in joints)
    rows[early:early] = [
        (BOX, "", "make up", f"{words_of(name)}: {part.label()}", "", "none: its own legs")
        for name, part in harness.parts.items()
        if isinstance(part, Network)
    ]
    rows += [(BOX, "", "plug", " into ".join(ends), "", "") for ends in plugged]
    rows += [(BOX, "", "leave open", _lug_words(harness, lug), "", "") for lug in opened]
    note = "\n".join([_wire_note(harness, joints), _LEGS, CAUTIONS])
    return Table(_JOINT_COLUMNS, rows, f"Joints of {harness.name}", note)


def words_of(name: str) -> str:
    """Write a part's name, or a path to a part inside it, in words."""
    return re.sub(r"[_.]", " ", name)


def sorted_out(harness: Wired) -> tuple[list[Joint], list[tuple[str, ...]], list[str]]:
    """Tell what is soldered, in working order, from what is plugged and what stays open."""
    joints: list[Joint] = []
    plugged: list[tuple[str, ...]] = []
    opened = [lug for lug in harness.open_lugs if not isinstance(_part(harness, lug), Empty)]
    ground = harness.ground
    for joint in harness.joined:
        present = [lug for lug in joint if not isinstance(_part(harness, lug), Empty)]
        outside = [lug for lug in present if isinstance(_part(harness, lug), (Cable, AmpInput))]
        bench = sorted(
            (lug for lug in present if lug not in outside),
            key=lambda lug: _STEPS.index(_step(_part(harness, lug))),
        )
        if len(bench) > 1:
            leads = tuple(lug for lug in bench if _brings_lead(_part(harness, lug)))
            fixed = tuple(lug for lug in bench if lug not in leads)
            # The ground bus is laid first, whatever comes to it later.
            step = "ground" if ground in joint else _step(_part(harness, bench[-1]))
            joints.append(Joint(step, fixed, leads))
        elif not outside:
            opened += bench  # its only partners are empty places
        if outside:
            plugged.append(_plug(harness, present))
    joints.sort(key=lambda joint: _STEPS.index(joint.step))
    return joints, list(dict.fromkeys(plugged)), opened


def _part(harness: Wired, lug: str) -> Part:
    return harness.parts[lug.partition(".")[0]]


def _step(part: Part) -> str:
    """Say at which step a part comes to its joints."""
    for kind, step in _COMES_AT.items():
        if isinstance(part, kind):
            return step
    return "small parts"


def _brings_lead(part: Part) -> bool:
    """Say whether a part comes with wire of its own: a pickup's leads, a capacitor's legs."""
    return isinstance(part, (Coil, Humbucker)) or part.lugs == ("a", "b")


def _joint_row(harness: Wired, number: int, joint: Joint) -> tuple[str, ...]:
    fixed, leads = (
        ", ".join(_lug_words(harness, lug) for lug in lugs) for lugs in (joint.fixed, joint.leads)
    )
    wire = _counted(joint.wires()) or "none"
    if not fixed:
        wire = "none: twist the leads, sleeve the joint"
    return BOX, str(number), joint.step, fixed, leads, wire


def _counted(wires: Counter[str]) -> str:
    return ", ".join(f"{n} {kind}{'s' if n > 1 else ''}" for kind, n in wires.items())


def _lug_words(harness: Wired, lug: str) -> str:
    """Write a lug in words; of a pot's end lugs also where the wiper touches them."""
    name, _, local = lug.partition(".")
    part = harness.parts[name]
    touched = _TOUCHED.get(type(part), {}).get(local)
    leg = "leg " if part.lugs == ("a", "b") else ""
    words = f"{words_of(name)} {leg}{words_of(local)}"
    if isinstance(part, Humbucker) and part.lead_name(local):
        words += f" ({part.lead_name(local)})"
    return f"{words} (touched {touched})" if touched else words


def _plug(harness: Wired, lugs: Sequence[str]) -> tuple[str, ...]:
    """Name what is plugged into what, the plug first. Of soldered parts only a jack takes one."""
    names = dict.fromkeys(lug.partition(".")[0] for lug in lugs)
    order = [
        [name for name in names if isinstance(harness.parts[name], kind)]
        for kind in (Cable, AmpInput, Jack)
    ]
    return tuple(words_of(name) for own in order for name in own)


def _wire_note(harness: Wired, joints: Sequence[Joint]) -> str:
    """Add up the wire, and name what is grounded too and is no lug of any part."""
    total = _counted(sum((joint.wires() for joint in joints), Counter())) or "none"
    cans = sum(isinstance(part, (Pot, BlendPot)) for part in harness.parts.values())
    frames = sum(isinstance(part, Switch) for part in harness.parts.values())
    metal = {0: [], 1: ["the pot can"]}.get(cans, [f"each of {cans} pot cans"])
    # The switch of a push-pull sits on the can of its pot.
    metal += {0: [], 1: ["the switch frame"]}.get(frames, ["each switch frame that is no pot can"])
    places = ", ".join([*metal, "the bridge or tailpiece (string ground)"])
    return (
        f"Wire to cut: {total}; and, as is common practice, a ground wire each from the ground "
        f"bus to what is no lug of the model: {places}."
    )


# -- parts ----------------------------------------------------------------------------------------


def part_table(harness: Wired) -> Table:
    """List the parts as one shops for them, each component of a network by itself."""
    rows = [
        (path, part.called(), _value(part), *_to_look_for(part), _tolerance(part))
        for name, whole in harness.parts.items()
        for path, part in _components(name, whole)
    ]
    columns = ("part", "kind", "value", "nearest to buy", "marking", "tolerance")
    measured = (
        words for name, part in harness.parts.items() for words in measured_values(name, part)
    )
    return Table(columns, rows, harness.name, " ".join(measured))


def _components(name: str, part: Part) -> Iterator[tuple[str, Part]]:
    if not isinstance(part, Network):
        yield name, part
        return
    for inner, piece in part.inner().items():
        yield from _components(f"{name}.{inner}", piece)


def _value(part: Part) -> str:
    if isinstance(part, Switch):
        return f"{len(part.places)} places"
    return "" if isinstance(part, Jack) else part.label()


def _tolerance(part: Part) -> str:
    """Say the part's own tolerance, or what is usual of its kind; of a pickup that of its DCR."""
    piece = next(iter(part.inner().values()), part)
    name, share = next(iter(piece.tolerances().items()), ("", None))
    if share is None:
        return ""
    of = "DCR " if isinstance(piece, Coil) else ""
    if isinstance(getattr(piece, name), MeasuredValue):
        return f"{of}\u00b1{format_value(share, 'fraction', digits=2)} measured"
    own = getattr(piece, "tolerance", None)
    return f"{of}\u00b1{share * 100:g} %{' usual' if own is None else ''}"


def measured_values(name: str, part: Part) -> Iterator[str]:
    """Say of each coil in a part what was measured, and what that is at 20 °C."""
    for field in dataclasses.fields(part):  # type: ignore[arg-type]
        value = getattr(part, field.name)
        if isinstance(value, MeasuredValue) and value.measured.at is not None:
            yield f"{words_of(name)}: {value.words(field.metadata['quantity'].unit)}."
    for inner, piece in part.inner().items():
        yield from measured_values(f"{name}.{inner}", piece)


def _to_look_for(part: Part) -> tuple[str, str]:
    """Say the value to buy, where the part's own is not sold, and the marking on it."""
    if isinstance(part, Capacitor):
        value, unit, sold = part.capacitance, "F", nearest_preferred(part.capacitance, "E12")
    elif isinstance(part, Resistor) and part.resistance > 0:
        value, unit, sold = part.resistance, "ohm", nearest_preferred(part.resistance, "E24")
    elif isinstance(part, (Pot, BlendPot)):
        value, unit = part.resistance, "ohm"
        sold = ranked(_POT_OHMS, lambda ohms: max(ohms / value, value / ohms))[0]
    else:
        return "", ""
    is_sold = abs(sold / value - 1) < 1e-9
    return "" if is_sold else format_value(sold, unit), _marking(sold, unit)


def _marking(value: float, unit: str) -> str:
    if unit == "ohm":
        return letter_code(value)
    try:
        return marking(value)
    except BadValue:  # too small or too large for three digits
        return ""


def letter_code(ohms: float) -> str:
    """Write a resistance as marked: the letter stands for the decimal point (IEC 60062)."""
    value = Decimal(f"{ohms:.3g}")
    power = min(max(value.adjusted() // 3, 0), 3)
    whole, _, part = f"{value.scaleb(-3 * power).normalize():f}".partition(".")
    return f"{'' if whole == '0' else whole}{'RKMG'[power]}{part}"
