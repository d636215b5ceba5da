"""What every ready layout does: read values, lay parts out, join them, plug the cable in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal, get_args

import xarray as xr

from ...errors import BadSetting, BadValue, Unusual, a, has_items, nearest
from ...parts.base import POSITIONS, Part
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.two_lug import Capacitor, Resistor, bleed
from ...parts.usual import IN_PLACE, settled
from ...units import format_value
from ..harness import Harness

__all__ = [
    "WIRINGS",
    "Bench",
    "Wiring",
    "four_leads",
    "marked_capacitors",
    "read_capacitor",
    "read_optional_resistor",
    "read_pot",
    "read_resistor",
    "second_tone",
    "sides",
    "whole_pickup",
]

Wiring = Literal["modern", "50s", "independent", "independent 50s"]
WIRINGS: tuple[Wiring, ...] = get_args(Wiring)
"""Where the tone network and the pickup meet the volume pot; see `one_pickup`."""

_MOST_CAPACITORS = 11  # and one place without, on a rotary of twelve


class Bench:
    """Parts and joints as they are laid out; `plugged` makes a harness of them.

    Parameters
    ----------
    **parts : Part or None
        The first parts by name; None is a two-lug place left empty.
    """

    def __init__(self, **parts: Part | None) -> None:
        self.parts: dict[str, Part | None] = parts
        self.joined: list[tuple[str, ...]] = []
        self.open_lugs: list[str] = []

    def join(self, *joints: tuple[str, ...]) -> None:
        """Join lugs, one tuple for each joint."""
        self.joined += joints

    def leave_open(self, *lugs: str) -> None:
        """Leave lugs open."""
        self.open_lugs += lugs

    def join_tone(self, at: str, pot: str = "tone", capacitor: str = "tone_capacitor") -> None:
        """Join a tone control as a rheostat: wiper on the signal, low lug on the capacitor."""
        self.join(
            (at, f"{pot}.wiper"),
            (f"{pot}.low", f"{capacitor}.a"),
            (f"{capacitor}.b", "jack.sleeve"),
        )
        self.leave_open(f"{pot}.high")

    def add_master(
        self,
        at: str,
        volume: Pot | float | str,
        treble_bleed: Part | str | None,
        tone: Pot | float | str | None = None,
        tone_capacitor: Any = None,
    ) -> None:
        """Add a volume behind a lug, with the tone control before it where there is one."""
        self.parts["volume"] = read_pot(volume)
        if tone is not None:
            self.parts |= {"tone": read_pot(tone), "tone_capacitor": read_capacitor(tone_capacitor)}
        self.parts["treble_bleed"] = bleed(treble_bleed)
        self.join(
            (at, "volume.high", "treble_bleed.a"),
            ("volume.wiper", "treble_bleed.b", "jack.tip"),
            ("volume.low", "jack.sleeve"),
        )
        if tone is not None:
            self.join_tone("volume.high")

    def add_volume_and_tone(
        self,
        side: str,
        hot: str,
        ground: str,
        out: str,
        *,
        volume: Pot | float | str,
        tone: Pot | float | str,
        tone_capacitor: Capacitor | float | str,
        treble_bleed: Part | str | None,
        wiring: Wiring = "modern",
    ) -> None:
        """Add a pickup's own volume and tone between its hot and ground and a lug ``out``."""
        entry, exit_, tone_at = sides(wiring)
        own = f"{side}_volume"
        self.parts |= {
            own: read_pot(volume),
            f"{side}_tone": read_pot(tone),
            f"{side}_capacitor": read_capacitor(tone_capacitor),
            f"{side}_bleed": bleed(treble_bleed),
        }
        self.join(
            (ground, f"{own}.low", "jack.sleeve"),
            (hot, f"{own}.{entry}", f"{side}_bleed.a"),
            (f"{own}.{exit_}", f"{side}_bleed.b", out),
        )
        self.join_tone(f"{own}.{tone_at}", f"{side}_tone", f"{side}_capacitor")

    def plugged(
        self, cable: Cable | float | str, amp: AmpInput | float | str, name: str
    ) -> Harness:
        """Say where the pickups sit, add jack, cable and amp, and check the whole."""
        parts: dict[str, Any] = {**self.parts, "jack": Jack()}
        for part_name, part in parts.items():
            if part is not None and (place := _place(part_name)):
                parts[part_name] = settled(part, part_name, place)
        for position in POSITIONS:
            if position in parts:
                parts[position] = parts[position].replace("position", position)
        harness = Harness(parts, tuple(self.joined), tuple(self.open_lugs), name=name)
        made = harness.plugged(cable, amp)
        made.check()
        return made


def _place(name: str) -> str:
    """What a part is for, by the names that ready layouts give."""
    if name.endswith("bleed"):
        return "treble bleed"
    return "tone capacitor" if "capacitor" in name else ""


def sides(wiring: Wiring) -> tuple[str, str, str]:
    """Lugs of a volume pot that are its input, its output, and where the tone is joined."""
    if not isinstance(wiring, str) or wiring not in WIRINGS:
        raise BadSetting("wiring", f"{wiring!r} is unknown", nearest(str(wiring), WIRINGS), wiring)
    entry, exit_ = ("wiper", "high") if wiring.startswith("independent") else ("high", "wiper")
    return entry, exit_, exit_ if wiring.endswith("50s") else entry


def second_tone(tones: str, middle: str, bridge: str) -> str:
    """Lug at which the second tone control is joined, of the two that it may be."""
    lugs = {"neck and middle": middle, "neck and bridge": bridge}
    if tones not in lugs:
        raise BadSetting(
            "tones", f"{tones!r} is unknown", "use 'neck and middle' or 'neck and bridge'", tones
        )
    return lugs[tones]


def whole_pickup(pickup: Any) -> Coil | Humbucker:
    """Check that it is a pickup with a hot and a ground."""
    if isinstance(pickup, Humbucker) and pickup.connection == "leads":
        raise BadValue(
            "pickup", "has four leads and no hot", "connect it, or build the harness from parts"
        )
    if not isinstance(pickup, (Coil, Humbucker)):
        # An array's own text may fail, and is long.
        shown = a(type(pickup)) if isinstance(pickup, xr.DataArray) else repr(pickup)
        raise BadValue("pickup", f"{shown} is not a pickup", "give gn.Pickup(...)", pickup)
    return pickup


def four_leads(name: str, pickup: Any) -> Humbucker:
    """Check that it is a humbucker whose four leads are free."""
    if not isinstance(pickup, Humbucker):
        raise BadValue(
            name,
            f"{pickup!r} has no two coils to be switched",
            "give gn.Humbucker(..., connection='leads')",
            pickup,
        )
    if pickup.connection != "leads":
        raise BadValue(
            name,
            f"is connected already ({pickup.connection})",
            "give gn.Humbucker(..., connection='leads'), whose coils the switch connects",
            pickup.connection,
        )
    return pickup


def read_pot(given: Pot | float | str, taper: str = "audio 15%") -> Pot:
    """Read a pot, or its resistance with the usual taper."""
    return given if isinstance(given, Pot) else Pot(given, taper)


def read_capacitor(given: Capacitor | float | str) -> Capacitor:
    """Read a capacitor of a tone control, or its capacitance."""
    if isinstance(given, Capacitor):
        return given
    try:
        return Capacitor(given)
    except Unusual:  # by itself; where it stands says better what was meant
        spec = IN_PLACE["tone capacitor"]["capacitance"]
        where = "tone_capacitor.capacitance"
        spec.ask(spec.read(given, where), where, given)
        raise


def read_resistor(given: Resistor | float | str) -> Resistor:
    """Read a resistor, or its resistance."""
    return given if isinstance(given, Resistor) else Resistor(given)


def read_optional_resistor(given: Resistor | float | str | None) -> Resistor | None:
    """Read a resistor, or None for an empty place."""
    return None if given is None else read_resistor(given)


def marked_capacitors(given: Iterable[Capacitor | float | str]) -> dict[str, Capacitor]:
    """Read the capacitors of a rotary switch, by the value that marks each place."""
    if isinstance(given, str) or not has_items(given):
        raise BadSetting(
            "capacitors", f"{given!r} is no list of capacitors", "give ['10n', '22n']", given
        )
    found: dict[str, Capacitor] = {}
    for value in given:
        part = read_capacitor(value)
        mark = format_value(part.capacitance, "F")
        if mark in found:
            raise BadSetting("capacitors", f"{mark} stands twice", "give each value once", value)
        found[mark] = part
    if not 1 <= len(found) <= _MOST_CAPACITORS:
        raise BadSetting(
            "capacitors",
            f"{len(found)} make no rotary switch",
            f"give 1 to {_MOST_CAPACITORS}",
        )
    return found
