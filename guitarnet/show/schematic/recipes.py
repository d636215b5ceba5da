"""Schematics placed by hand: pickups with pots and a plain switch. They read from left to right."""

from __future__ import annotations

from ...circuit.layouts import WIRINGS
from .blocks import bank, blend_pot, open_end, output, pickup, pot, two_lug
from .sheet import Sheet
from .stages import Recipes, ground_level, master, rise, row, toggle_out, tone_stage, volume_stage

__all__ = ["PLAIN"]

PLAIN = Recipes()
"""One pickup; two with a toggle, a blend or isolating resistors; three with a lever."""


@PLAIN.enter("pickup jack")
def _pickup_alone(sheet: Sheet, way: str) -> None:
    pickup(sheet, "pickup", 0, 0)
    output(sheet, 2.6, 0, -2.7)
    sheet.ground("pickup.ground", -2.7)
    sheet.wire("pickup.hot", "jack.tip")


@PLAIN.enter("pickup volume jack", "tone capacitor bleed cable amp", WIRINGS)
def _one_pickup(sheet: Sheet, wiring: str) -> None:
    tone = ("tone", "capacitor") if sheet.has("tone") else None
    level = ground_level(sheet, 0, wiring, bool(tone))
    x, y = row(sheet, 0, wiring, level, "pickup", "volume", "bleed", tone)
    output(sheet, x + 0.7, y, level)
    sheet.wire((x, y), "jack.tip")


@PLAIN.enter(
    "neck bridge switch volume jack",
    "tone capacitor bleed cable amp",
)
def _two_single_coils(sheet: Sheet, way: str) -> None:
    level, second = -5.2, -3.8
    for name, y in (("neck", 0.0), ("bridge", second)):
        pickup(sheet, name, 0, y)
    sheet.ground("neck.ground", -2.7)
    sheet.ground("bridge.ground", second - 2.7)
    bank(sheet, "switch", [("first", -0.6), ("second", -1.8)], ("common", -1.2), 2.6, title=0.1)
    for name, lug in (("neck", "first"), ("bridge", "second")):
        x = 1.2
        y = sheet.at(f"switch.{lug}")[1]
        sheet.wire(f"{name}.hot", (x, sheet.at(f"{name}.hot")[1]), (x, y), f"switch.{lug}")
    master(sheet, "switch.common", 5.2, level)


@PLAIN.enter(
    "neck bridge neck_volume bridge_volume switch jack",
    "neck_tone bridge_tone neck_capacitor bridge_capacitor neck_bleed bridge_bleed cable amp",
    WIRINGS,
)
def _two_humbuckers(sheet: Sheet, wiring: str) -> None:
    ends = {}
    for side, y in (("neck", 0.0), ("bridge", -5.6 - rise(sheet, wiring, "bridge_bleed"))):
        tone = (f"{side}_tone", f"{side}_capacitor") if sheet.has(f"{side}_tone") else None
        level = ground_level(sheet, y, wiring, bool(tone))
        names = (side, f"{side}_volume", f"{side}_bleed")
        ends[side] = row(sheet, y, wiring, level, *names, tone)
    toggle_out(sheet, ends["neck"], ends["bridge"])


@PLAIN.enter(
    "neck bridge neck_volume bridge_volume neck_resistor bridge_resistor jack",
    "neck_tone bridge_tone neck_capacitor bridge_capacitor neck_bleed bridge_bleed cable amp",
)
def _two_stacked_pairs(sheet: Sheet, way: str) -> None:
    ends = []
    for side, y in (("neck", 0.0), ("bridge", -4.8 - rise(sheet, "modern", "bridge_bleed"))):
        tone = (f"{side}_tone", f"{side}_capacitor") if sheet.has(f"{side}_tone") else None
        level = ground_level(sheet, y, "modern", bool(tone))
        names = (side, f"{side}_volume", f"{side}_bleed")
        ends.append((side, *row(sheet, y, "modern", level, *names, tone)))
    left = max(x for _, x, _ in ends) + 0.3
    right = left + 3.2
    for side, x, y in ends:
        sheet.wire((x, y), (left, y))
        two_lug(sheet, f"{side}_resistor", (left, y), (right, y))
    heights = [y for _, _, y in ends]
    middle = sum(heights) / 2
    sheet.wire((right, heights[0]), (right, heights[1]))
    output(sheet, right + 1.5, middle, middle - 2.2)
    sheet.wire((right, middle), "jack.tip")


@PLAIN.enter(
    "neck bridge neck_volume bridge_volume tone capacitor jack",
    "neck_bleed bridge_bleed cable amp",
)
def _bass_two_volumes(sheet: Sheet, way: str) -> None:
    heights, ends = (0.0, -3.5 - rise(sheet, "independent", "bridge_bleed")), []
    for side, y in zip(("neck", "bridge"), heights, strict=True):
        names = (side, f"{side}_volume", f"{side}_bleed")
        ends.append(row(sheet, y, "independent", y - 2.7, *names, None))
    x, y = max(x for x, _ in ends) + 0.3, -0.4
    for end in ends:
        sheet.wire(end, (x, end[1]))
    sheet.wire((x, ends[0][1]), (x, ends[1][1]))
    edge = tone_stage(sheet, x + 0.7, y, y - 3.9)
    output(sheet, edge + 1.1, y, y - 3.9)
    sheet.wire((x, y), "jack.tip")


@PLAIN.enter(
    "neck bridge blend volume tone capacitor jack",
    "bleed cable amp",
    ("normal", "independent", "rheostat"),
)
def _bass_blend(sheet: Sheet, way: str) -> None:
    turned = way == "independent"
    heights = {"neck": 0.0, "bridge": -4.8}
    for name, y in heights.items():
        pickup(sheet, name, 0, y)
        sheet.ground(f"{name}.ground", y - 2.7)
    rise = 1.0 if turned else 0.0
    tops = (heights["neck"] + rise, heights["bridge"] + rise)
    bus = blend_pot(sheet, "blend", 2.4, tops, "left" if turned else "right") + 0.4
    entry, leave = ("wiper", "high") if turned else ("high", "wiper")
    for name, track, top in zip(heights, ("first", "second"), tops, strict=True):
        sheet.wire(f"{name}.hot", f"blend.{track}_{entry}")
        end = sheet.at(f"blend.{track}_{leave}")
        sheet.wire(end, (bus, end[1]))
        if way == "rheostat":
            open_end(sheet, f"blend.{track}_low")
        else:
            sheet.ground(f"blend.{track}_low", top - 2.4)
    one, two = (sheet.at(f"blend.{track}_{leave}")[1] for track in ("first", "second"))
    sheet.wire((bus, one), (bus, two))
    master(sheet, (bus, one), bus + 0.7, one - 3.9)


@PLAIN.enter(
    "neck middle bridge switch volume tone_1 tone_2 capacitor jack",
    "bleed cable amp",
    ("b2", "b3"),
)
def _three_single_coils(sheet: Sheet, second: str) -> None:
    heights = {"neck": 0.0, "middle": -3.6, "bridge": -7.2}
    for name, y in heights.items():
        pickup(sheet, name, 0, y)
        sheet.ground(f"{name}.ground", y - 2.7)
    throws = {"a1": -0.6, "a2": -1.6, "a3": -2.6}
    bank(sheet, "switch", list(throws.items()), ("a", -1.6), 3.0, title=0.0)
    for name, lug, x in (("neck", "a1", 1.3), ("middle", "a2", 1.3), ("bridge", "a3", 1.9)):
        sheet.wire(f"{name}.hot", (x, heights[name]), (x, throws[lug]), f"switch.{lug}")
    bus, tones = -1.6, -6.6
    turned = {"b1": tones + 1, "b2": tones, "b3": tones - 1}
    bank(sheet, "switch", list(turned.items()), ("b", tones), 6.7, way=-1)
    sheet.wire("switch.a", (7.4, bus))
    sheet.wire((5.2, bus), "switch.b")
    _two_tones(sheet, 9.3, turned, second)
    x, out = volume_stage(sheet, 7.4, bus, bus - 2.5)
    output(sheet, x + 0.7, out, out - 2.0)
    sheet.wire((x, out), "jack.tip")


def _two_tones(sheet: Sheet, x: float, turned: dict[str, float], second: str) -> None:
    """Draw both tone pots of a five-way lever, one above the other, and their one capacitor."""
    below = turned["b3"] - 1.0
    for name, lug, level in (("tone_1", "b1", turned["b1"]), ("tone_2", second, below)):
        edge = pot(sheet, name, x, level + 1, wiper="left", label="beside")
        open_end(sheet, f"{name}.high")
        turn = x - 1.4
        sheet.wire(f"switch.{lug}", (turn, turned[lug]), (turn, level), f"{name}.wiper")
    low = sheet.at("tone_2.low")
    edge += 0.4
    first = sheet.at("tone_1.low")
    sheet.wire(first, (first[0], first[1] - 0.2), (edge, first[1] - 0.2), (edge, low[1]), low)
    two_lug(sheet, "capacitor", low, (low[0], low[1] - 1.3))
    sheet.ground("capacitor.b")
