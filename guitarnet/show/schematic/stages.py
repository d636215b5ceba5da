"""Recipes of schematics, and common stages: pickup, tone, volume, output."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from .blocks import bank, network_length, network_rise, open_end, output, pickup, pot, two_lug
from .sheet import Point, Sheet

__all__ = [
    "Recipe",
    "Recipes",
    "controls",
    "ground_level",
    "master",
    "rise",
    "row",
    "toggle_out",
    "tone_height",
    "tone_stage",
    "volume_stage",
]

Draw = Callable[[Sheet, str], None]


@dataclass(frozen=True)
class Recipe:
    """How to place the parts of certain guitars, in one or several ways."""

    needed: frozenset[str]
    allowed: frozenset[str]
    ways: tuple[str, ...]
    draw: Draw


class Recipes(list[Recipe]):
    """Recipes; trying them shows which one fits a harness."""

    def enter(
        self, needed: str, optional: str = "", ways: tuple[str, ...] = ("",)
    ) -> Callable[[Draw], Draw]:
        """Register a function, with the slots that it needs and those that it can place."""

        def add(draw: Draw) -> Draw:
            must = frozenset(needed.split())
            self.append(Recipe(must, must | frozenset(optional.split()), ways, draw))
            return draw

        return add


# -- stages that many guitars share ---------------------------------------------------------------


def tone_stage(
    sheet: Sheet, x: float, y: float, level: float,
    names: tuple[str, str] = ("tone", "capacitor"), *, drop: float = 0.0,
) -> float:  # fmt: skip
    """Hang a tone control from a point of the signal, the wiper there; give its right edge.

    ``drop`` lowers it, past lines that run below the signal.
    """
    tone, capacitor = names
    edge = pot(sheet, tone, x + 0.75, y - 0.6 - drop, wiper="left", label="beside")
    open_end(sheet, f"{tone}.high")
    sheet.wire((x, y), f"{tone}.wiper")
    top = sheet.at(f"{tone}.low")
    edge = max(edge, two_lug(sheet, capacitor, top, (top[0], top[1] - 1.3)))
    sheet.ground(f"{capacitor}.b", level)
    return edge


def volume_stage(
    sheet: Sheet, x: float, y: float, level: float, *, reversed_: bool = False,
    names: tuple[str, str] = ("volume", "bleed"),
) -> Point:  # fmt: skip
    """Draw a volume pot with its bleed; return the point where the signal leaves, clear of both.

    The signal enters at the point: at ``high``, and leaves at the wiper, or the other way round.
    """
    volume, bleed = names
    length = network_length(sheet, bleed)
    if reversed_:
        edge, out = x + max(length, 1.1), y + 1
        clear = pot(sheet, volume, edge, out, wiper="left", label="beside")
        sheet.wire((x, y), f"{volume}.wiper")
        if length:
            sheet.wire((x, y), (x, out))
            two_lug(sheet, bleed, (x, out), (edge, out))
        start: Point = (edge, out)
    else:
        # A short lead before the bleed keeps it clear of the mark at the lug.
        edge, out = x + (length + 0.35 if length else 0.75), y - 1
        clear = pot(sheet, volume, x, y, wiper="right", label="below")
        start = sheet.at(f"{volume}.wiper")
        if length:
            sheet.wire((x, y), (x + 0.35, y))
            two_lug(sheet, bleed, (x + 0.35, y), (edge, y))
            sheet.wire((edge, y), (edge, out))
    sheet.ground(f"{volume}.low", level)
    leaves = (max(edge, clear) + 0.4, out)
    sheet.wire(start, leaves)
    return leaves


def ground_level(sheet: Sheet, y: float, wiring: str, tone: bool) -> float:
    """Level of the ground symbols of one row."""
    return min(y - 2.7, tone_height(y, wiring) - 3.9 if tone else y)


def rise(sheet: Sheet, wiring: str, bleed: str) -> float:
    """Height of a volume and its bleed above the level of the signal."""
    return network_rise(sheet, bleed) + (1.3 if wiring.startswith("independent") else 0.3)


def tone_height(y: float, wiring: str) -> float:
    """Level of the signal at the tone control."""
    if not wiring.endswith("50s"):
        return y
    return y + 1 if wiring.startswith("independent") else y - 1


def row(
    sheet: Sheet, y: float, wiring: str, level: float, source: str, volume: str, bleed: str,
    tone: tuple[str, str] | None,
) -> Point:  # fmt: skip
    """Draw a pickup with its volume and tone; return the point where the signal leaves."""
    pickup(sheet, source, 0, y)
    sheet.ground(f"{source}.ground", level)
    return controls(sheet, f"{source}.hot", 1.5, y, wiring, level, volume, bleed, tone)


def controls(
    sheet: Sheet, start: Point | str, x: float, y: float, wiring: str, level: float, volume: str,
    bleed: str, tone: tuple[str, str] | None,
) -> Point:  # fmt: skip
    """Draw a volume and a tone in either order; return the point where the signal leaves."""
    late = wiring.endswith("50s")
    if tone and not late:
        x = tone_stage(sheet, x, y, level, tone) + 0.5
    sheet.wire(start, (x, y))
    x, out = volume_stage(
        sheet, x, y, level, reversed_=wiring.startswith("independent"), names=(volume, bleed)
    )
    if tone and late:
        edge = tone_stage(sheet, x, out, level, tone)
        sheet.wire((x, out), (edge, out))
        x = edge
    return x, out


def master(sheet: Sheet, start: Point | str, x: float, level: float) -> None:
    """Draw a tone and a volume control for all pickups, and the output."""
    y = (sheet.at(start) if isinstance(start, str) else start)[1]
    if sheet.has("tone"):
        x = tone_stage(sheet, x, y, level) + 0.5
    sheet.wire(start, (x, y))
    x, out = volume_stage(sheet, x, y, level)
    output(sheet, x + 0.7, out, level)
    sheet.wire((x, out), "jack.tip")


def toggle_out(sheet: Sheet, upper: Point, lower: Point) -> None:
    """Draw two signals to a three-way toggle, and the selected one to the jack."""
    x = max(upper[0], lower[0]) + 0.6
    middle = (upper[1] + lower[1]) / 2
    bank(
        sheet, "switch", [("first", middle + 0.6), ("second", middle - 0.6)], ("common", middle),
        x + 1.0, title=middle + 1.2,
    )  # fmt: skip
    for end, lug in ((upper, "switch.first"), (lower, "switch.second")):
        sheet.wire(end, (x, end[1]), (x, sheet.at(lug)[1]), lug)
    output(sheet, x + 4.4, middle, middle - 2.2)
    sheet.wire("switch.common", "jack.tip")
