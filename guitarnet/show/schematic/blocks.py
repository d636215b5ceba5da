"""Symbols of a schematic: pickup, pot, two-lug part, switch, output chain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...parts.base import Part
from ...parts.blend import BlendPot
from ...parts.choke import Choke
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput, Cable, Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Capacitor, Network, Resistor
from ...units import format_value
from .sheet import FAINT, PALE, SMALL, Point, Sheet, text_width, wrap

__all__ = [
    "DoesNotFit",
    "bank",
    "blend_pot",
    "ends_of",
    "four_leads",
    "needs",
    "network_length",
    "network_rise",
    "open_end",
    "output",
    "pickup",
    "pot",
    "switch_lines",
    "two_lug",
    "value_lines",
]

_WIDE = 3.0  # of a label [units]


class DoesNotFit(Exception):
    """A recipe cannot place a part or a lug."""


def needs(sheet: Sheet, name: str, kind: type | tuple[type, ...]) -> Any:
    """Part of a required kind."""
    part = sheet.guitar.parts.get(name)
    if not isinstance(part, kind):
        raise DoesNotFit(name)
    return part


def value_lines(part: Part, width: float = _WIDE, most: int = 4) -> list[str]:
    """Values of a part in a few short lines."""
    if isinstance(part, Coil):
        values = [f"{_ohm(part)}, {format_value(part.inductance, 'H')}"]
        values.append(format_value(part.capacitance, "F"))
        turned = [name for name in ("winding", "magnet") if getattr(part, name) == -1]
        values.append(f"{' and '.join(turned)} reversed" if turned else "")
    elif isinstance(part, Humbucker):
        two = (part.coil_1, part.coil_2)
        coils = [f"{_ohm(coil)}, {format_value(coil.inductance, 'H')}" for coil in two]
        same = f"2 \u00d7 {coils[0]}"
        values = ["four leads" if part.connection == "leads" else part.connection]
        values += [same] if coils[0] == coils[1] else coils
    elif isinstance(part, Switch):
        values = [part.kind, f"at \u201c{part.place}\u201d"]
    elif isinstance(part, Jack):
        values = []
    elif isinstance(part, Cable) and part.length:
        values = [format_value(part.length, "m"), format_value(part.capacitance_per_metre, "F/m")]
    else:
        values = [part.label().replace("%", " %")]
        values = values[0].split(", ") if isinstance(part, (Pot, BlendPot, Choke)) else values
    lines = [line for value in values for line in wrap(value, width, 2)]
    return lines[:most]


def _ohm(coil: Coil) -> str:
    return format_value(coil.resistance, "ohm")


# -- pickups --------------------------------------------------------------------------------------


def pickup(sheet: Sheet, name: str, x: float, y: float) -> None:
    """Draw a pickup downwards: ``hot`` at the point, ``ground`` 2.4 units below it."""
    part = needs(sheet, name, (Coil, Humbucker))
    if part.lugs != ("hot", "ground"):
        raise DoesNotFit(name)
    low = y - 2.4
    if isinstance(part, Coil):
        coil = sheet.two_ends("Inductor2", (x, y), (x, low), loops=5)
        sheet.put(coil, start=f"{name}.hot", end=f"{name}.ground")
    else:
        _coils(sheet, part, x, y)
        lines = sheet.shape(anchors={"hot": (x, y), "ground": (x, low)}, paths=[[(x, y), (x, y)]])
        sheet.put(lines, hot=f"{name}.hot", ground=f"{name}.ground")
    beside = isinstance(part, Humbucker) and part.connection != "series"
    lines = [sheet.words(name), *value_lines(part)]
    sheet.label(x - (2.0 if beside else 0.55), y - 1.2, lines, across="right")


def _coils(sheet: Sheet, part: Humbucker, x: float, y: float) -> None:
    """Draw the two coils of a humbucker as they are connected."""
    low, way = y - 2.4, part.connection
    left = x - 1.15  # where the other coil stands, clear of what comes after

    def coil(number: int, at: float, top: float, bottom: float) -> None:
        sheet.put(sheet.two_ends("Inductor2", (at, top), (at, bottom), loops=4))
        sheet.write(at + 0.46, (top + bottom) / 2, str(number), size=SMALL, colour=PALE)

    def frame(start: float, edge: float) -> None:
        corners = [(start, y - 0.08), (edge, y - 0.08), (edge, low + 0.08), (start, low + 0.08)]
        sheet.put(sheet.shape([[*corners, corners[0]]], color=FAINT, ls="--", lw=0.6))

    if way == "series":
        coil(1, x, y, y - 1.2)
        coil(2, x, y - 1.2, low)
        frame(x - 0.45, x + 0.72)
        return
    first, other = (1, 2) if way in ("parallel", "coil 1", "coil 1, other shunted") else (2, 1)
    coil(first, x, y, low)
    top, bottom = y - 0.35, low + 0.35
    coil(other, left, top, bottom)
    paths = [[(left, bottom), (x, bottom)]]
    circles: list[tuple[Point, float]] = []
    if way == "parallel":
        paths.append([(left, top), (x, top)])
    elif way.endswith("shunted"):
        aside = left - 0.5
        paths.append([(left, top), (aside, top), (aside, bottom), (left, bottom)])
    else:
        circles.append(((left, top), 0.07))
    sheet.put(sheet.shape(paths, circles=circles))
    frame(left - 0.68, x + 0.72)


def ends_of(sheet: Sheet, name: str) -> tuple[str, str, str, str]:
    """Name a humbucker's four leads as they lie in series, from hot to ground."""
    part = needs(sheet, name, Humbucker)
    if part.connection != "leads":
        raise DoesNotFit(name)
    return part.ends(name)


def four_leads(sheet: Sheet, name: str, x: float, y: float) -> None:
    """Draw a humbucker of four leads downwards, 4 units; each lead ends 0.8 to the right."""
    part = needs(sheet, name, Humbucker)
    leads = [lead.partition(".")[2] for lead in ends_of(sheet, name)]
    heights = dict(zip(leads, (y, y - 1.2, y - 2.8, y - 4.0), strict=True))
    for number, top in ((1, y), (2, y - 2.8)):
        sheet.put(sheet.two_ends("Inductor2", (x, top), (x, top - 1.2), loops=4))
        sheet.write(x + 0.46, top - 0.6, str(number), size=SMALL, colour=PALE)
    tips = {lead: (x + 0.8, at) for lead, at in heights.items()}
    paths = [[(x, at), (x + 0.8, at)] for at in heights.values()]
    sheet.put(sheet.shape(paths, anchors=tips), **{lead: f"{name}.{lead}" for lead in part.lugs})
    for lead, at in heights.items():
        end = lead.rpartition("_")[2]
        aside = 0.19 if leads.index(lead) % 2 == 0 else -0.19
        words = part.lead_name(lead) or end
        sheet.write(x + 0.36, at + aside, words, size=SMALL, colour=PALE)
    right, top, low = x + 1.08, y + 0.42, y - 4.42
    frame = [(x - 0.45, top), (right, top), (right, low), (x - 0.45, low), (x - 0.45, top)]
    sheet.put(sheet.shape([frame], color=FAINT, ls="--", lw=0.6))
    sheet.label(x - 0.6, y - 2, [sheet.words(name), *value_lines(part)], across="right")


# -- pots -----------------------------------------------------------------------------------------


def pot(
    sheet: Sheet, name: str, x: float, y: float, *, wiper: str = "right", label: str = "below"
) -> float:
    """Draw a pot downwards: ``high`` at the point, ``low`` 2 units below, the wiper aside.

    The label stands below the wiper, or on the other side ("beside"). Returns the right edge.
    """
    part = needs(sheet, name, Pot)
    side, across = _track(sheet, name, x, y, wiper)
    for mark, down in (("10", 0.3), ("0", 1.7)):
        sheet.write(x + 0.12 * side, y - down, mark, size=SMALL, colour=PALE, across=across)
    lines = [sheet.words(name), *value_lines(part)]
    if label == "below":
        return sheet.label(x + 0.5 * side, y - 1.3, lines, across=across, up="top")
    return sheet.label(x - 0.4 * side, y - 1, lines, across="left" if side < 0 else "right")


def _track(
    sheet: Sheet, name: str, x: float, y: float, wiper: str, prefix: str = ""
) -> tuple[int, str]:
    """Draw one track with its wiper; return the side of the wiper and its text alignment."""
    track = sheet.two_ends("PotentiometerIEC", (x, y), (x, y - 2), tap_length=0.75)
    if wiper == "left":
        track.flip()
    lugs = {"start": "high", "end": "low", "tap": "wiper"}
    sheet.put(track, **{end: f"{name}.{prefix}{lug}" for end, lug in lugs.items()})
    return (1, "left") if wiper == "right" else (-1, "right")


def blend_pot(sheet: Sheet, name: str, x: float, tops: tuple[float, float], wiper: str) -> float:
    """Draw both tracks of a blend pot, one below the other; return the right edge."""
    part = needs(sheet, name, BlendPot)
    for prefix, top in zip(("first_", "second_"), tops, strict=True):
        side, across = _track(sheet, name, x, top, wiper, prefix)
        sheet.write(x + 0.12 * side, top - 0.3, "full", size=SMALL, colour=PALE, across=across)
    gang = [(x + 0.64 * side, top - 1) for top in tops]
    sheet.put(sheet.shape([gang], ls="--", lw=0.7, color=PALE))
    lines = [sheet.words(name), *value_lines(part)]
    return sheet.label(x + 0.75, (tops[0] + tops[1]) / 2 - 1, lines)


def open_end(sheet: Sheet, lug: str) -> None:
    """Mark an unconnected lug with a small ring."""
    x, y = sheet.at(lug)
    sheet.put(sheet.shape(circles=[((x, y), 0.07)]))


# -- two-lug parts --------------------------------------------------------------------------------

_LEAF, _PITCH, _RAIL = 1.7, 1.05, 0.3
_KIND: Mapping[type, str] = {
    Capacitor: "Capacitor",
    Resistor: "ResistorIEC",
    Choke: "Inductor2",
}
_TWO_LUG = (*_KIND, Network)


def _size(part: Part) -> tuple[float, float]:
    """Length and height of a two-lug network [units]."""
    if not isinstance(part, Network):
        return _LEAF, _PITCH
    lengths, heights = zip(*(_size(inner) for inner in part.elements), strict=True)
    if part.kind == "series":
        return sum(lengths), max(heights)
    return max(lengths) + 2 * _RAIL, sum(heights)


def network_length(sheet: Sheet, name: str) -> float:
    """Length of a two-lug part across the sheet [units]; 0 without a part."""
    if not sheet.has(name):
        return 0.0
    part = needs(sheet, name, _TWO_LUG)
    return _size(part)[0] if _is_small(part) else 2.8


def network_rise(sheet: Sheet, name: str) -> float:
    """Height of a two-lug part and its text above its line [units]; 0 without a part."""
    if not sheet.has(name):
        return 0.0
    part = needs(sheet, name, _TWO_LUG)
    return (_size(part)[1] if _is_small(part) else 2.4) + 0.4


def _is_small(part: Part) -> bool:
    length, height = _size(part)
    return length <= 6.5 and height <= 3.3


def two_lug(sheet: Sheet, name: str, start: Point, end: Point, *, words: bool = True) -> float:
    """Draw a two-lug part from lug ``a`` to lug ``b``, across or down; give its right edge.

    A network is drawn with its branches upwards where it runs across.
    """
    part = needs(sheet, name, _TWO_LUG)
    lugs = {"start": f"{name}.a", "end": f"{name}.b"}
    across = start[1] == end[1]
    lines = [sheet.words(name), *value_lines(part)] if words else []
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    if across and isinstance(part, Network) and _is_small(part):
        sheet.put(sheet.shape([[start, start]], anchors={"start": start, "end": end}), **lugs)
        _spread(sheet, part, start, end)
        sheet.label(middle[0], start[1] + _size(part)[1] - 0.1, lines[:1], across="center")
        return end[0]
    # A network that is too large for its place is a box with its values in words.
    sheet.put(sheet.two_ends(_KIND.get(type(part), "ResistorIEC"), start, end), **lugs)
    if across:
        edge = sheet.label(middle[0], middle[1] + 0.36, lines, across="center", up="bottom")
        return max(end[0], edge)
    return sheet.label(middle[0] + (0.6 if isinstance(part, Choke) else 0.45), middle[1], lines)


def _spread(sheet: Sheet, part: Part, start: Point, end: Point) -> None:
    """Draw a network between two points on one level, its branches upwards."""
    (left, y), (right, _) = start, end
    if not isinstance(part, Network):
        sheet.put(sheet.two_ends(_KIND[type(part)], start, end))
        sheet.write((left + right) / 2, y + 0.5, part.label(), across="center", colour=PALE)
        return
    if part.kind == "series":
        spare = (right - left - _size(part)[0]) / len(part.elements)
        for inner in part.elements:
            step = _size(inner)[0] + spare
            _spread(sheet, inner, (left, y), (left + step, y))
            left += step
        return
    spare = (right - left - _size(part)[0]) / 2 + _RAIL
    one, two, level = left + spare, right - spare, y
    for inner in part.elements:
        top = level
        _spread(sheet, inner, (one, level), (two, level))
        level += _size(inner)[1]
    rails = [[(one, y), (one, top)], [(two, y), (two, top)], [start, (one, y)], [(two, y), end]]
    sheet.put(sheet.shape(rails))
    for x in (one, two):
        sheet.put(sheet.elements.Dot(radius=0.07).at((x, y)).theta(0))


# -- switches -------------------------------------------------------------------------------------


def bank(
    sheet: Sheet, name: str, throws: Sequence[tuple[str, float]], common: tuple[str, float],
    x: float, *, way: int = 1, title: float | None = None,
) -> None:  # fmt: skip
    """Draw one bank of a switch: throws at ``x``, each on its level, the common 1.5 beyond them.

    ``way`` is 1 for the common at the right of the throws, -1 at the left. A blade joins each
    pair that touches in the place where the switch stands. ``title`` is where its words begin.
    """
    length = 1.5
    part = needs(sheet, name, Switch)
    places: dict[str, Point] = {lug: (x, y) for lug, y in throws}
    places[common[0]] = (x + way * length, common[1])
    _contacts(sheet, name, part, places, common[0])
    for lug, (left, y) in places.items():
        outwards = way if lug == common[0] else -way
        beside = "left" if outwards > 0 else "right"
        sheet.write(left + 0.16 * outwards, y + 0.24, lug, size=SMALL, colour=PALE, across=beside)
    if title is not None:
        sheet.label(x + way * length / 2, title, switch_lines(sheet, name), across="center",
                    up="bottom")  # fmt: skip


def switch_lines(sheet: Sheet, name: str, width: float = 3.6) -> list[str]:
    """Name, kind and place of a switch."""
    return [sheet.words(name), *value_lines(needs(sheet, name, Switch), width)]


def _contacts(
    sheet: Sheet, name: str, part: Switch, places: Mapping[str, Point], common: str
) -> None:
    """Draw the lugs of a switch as rings, and blades between touching lugs."""
    if not set(places) <= set(part.lugs):
        raise DoesNotFit(name)
    paths = []
    for group in dict(part.contacts)[part.place]:
        touching = [lug for lug in group if lug in places]
        hub = common if common in touching else next(iter(touching), "")
        paths += [[places[hub], places[lug]] for lug in touching if lug != hub]
    if paths:
        sheet.put(sheet.shape(paths, lw=2.4, zorder=4))
    rings = sheet.shape(anchors=dict(places), circles=[(at, 0.11) for at in places.values()])
    sheet.put(rings, **{lug: f"{name}.{lug}" for lug in places})


# -- jack, cable, amp -----------------------------------------------------------------------------

_APART = 1.2  # tip to sleeve


def output(sheet: Sheet, x: float, y: float, level: float) -> None:
    """Draw jack, cable and amp to the right of a point; the jack's tip is at the point."""
    needs(sheet, "jack", Jack)
    _ends_block(sheet, "jack", {"tip": (x, y), "sleeve": (x, y - _APART)}, (x - 0.5, x + 0.5))
    for lug, up in (("tip", y - 0.3), ("sleeve", y - _APART + 0.3)):
        sheet.write(x, up, lug, size=SMALL, colour=PALE, across="center")
    sheet.label(x, y + 0.65, [sheet.words("jack")], across="center")
    sheet.ground("jack.sleeve", min(level, y - _APART - 0.75))
    far = ("jack.tip", "jack.sleeve")
    left = x + 0.5 + 0.5
    for name, kind, prefix in (("cable", Cable, "guitar_"), ("amp", AmpInput, "")):
        if not sheet.has(name):
            continue
        part = needs(sheet, name, kind)
        lines = [sheet.words(name), *value_lines(part, 2.1, 3)]
        right = left + max(text_width(line, weight="bold") for line in lines) + 0.5
        ends = {f"{prefix}tip": (left, y), f"{prefix}sleeve": (left, y - _APART)}
        if name == "cable":
            ends |= {"amp_tip": (right, y), "amp_sleeve": (right, y - _APART)}
        _ends_block(sheet, name, ends, (left, right), rings=False)
        sheet.label((left + right) / 2, y - _APART / 2, lines, across="center")
        for end, plug in zip(far, (f"{name}.{prefix}tip", f"{name}.{prefix}sleeve"), strict=True):
            sheet.wire(end, plug)
        far = (f"{name}.amp_tip", f"{name}.amp_sleeve")
        left = right + 0.6


def _ends_block(
    sheet: Sheet, name: str, places: Mapping[str, Point], sides: tuple[float, float], *,
    rings: bool = True,
) -> None:  # fmt: skip
    """Draw a frame with lugs in it (as rings) or on its edge."""
    tops = [y for _, y in places.values()]
    low, high = min(tops) - 0.35, max(tops) + 0.35
    left, right = sides
    frame = [(left, low), (left, high), (right, high), (right, low), (left, low)]
    sheet.put(sheet.shape([frame], color=FAINT if rings else PALE, lw=0.8))
    circles = [(at, 0.11) for at in places.values()] if rings else []
    nothing = [[at, at] for at in places.values()]
    ends = sheet.shape(nothing, anchors=dict(places), circles=circles)
    sheet.put(ends, **{lug: f"{name}.{lug}" for lug in places})
    if rings:
        sheet.sockets += list(places.values())
