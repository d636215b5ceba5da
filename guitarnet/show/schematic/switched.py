"""Hand-placed schematics of guitars whose coils or capacitors are switched."""

from __future__ import annotations

from ...circuit.layouts import WIRINGS
from ...parts.two_lug import Capacitor
from .blocks import (
    DoesNotFit,
    bank,
    ends_of,
    four_leads,
    needs,
    open_end,
    output,
    pickup,
    pot,
    switch_lines,
    two_lug,
)
from .sheet import PALE, Point, Sheet
from .stages import (
    Recipes,
    controls,
    ground_level,
    master,
    rise,
    toggle_out,
    tone_stage,
    volume_stage,
)

__all__ = ["SWITCHED"]

SWITCHED = Recipes()
"""Levers and push-pulls that switch coils, rotary switches, a blender, a bass cut."""


@SWITCHED.enter("neck bridge switch volume tone capacitor jack", "bleed cable amp")
def _two_single_coils_four_way(sheet: Sheet, way: str) -> None:
    hot, low = 0.0, -6.2
    pickup(sheet, "neck", 0, hot)
    pickup(sheet, "bridge", 0, low)
    upper = {f"b{n}": -1.35 - 0.7 * (n - 1) for n in range(1, 5)}
    lower = {f"a{n}": low + 1.05 - 0.7 * (n - 1) for n in range(1, 5)}
    bank(sheet, "switch", list(upper.items()), ("b", -2.4), 4.1, way=-1)
    bank(sheet, "switch", list(lower.items()), ("a", low), 4.1, way=-1)
    sheet.label(3.35, lower["a4"] - 0.3, switch_lines(sheet, "switch"), across="center", up="top")
    sheet.wire("neck.ground", "switch.b")
    for lug in ("b2", "b3"):
        sheet.wire(f"switch.{lug}", (5.0, upper[lug]))
    sheet.wire((5.0, upper["b2"]), (5.0, upper["b3"]))
    sheet.ground((5.0, upper["b3"]), -3.5)
    sheet.wire("bridge.hot", "switch.a")
    sheet.wire("switch.b4", (4.1, -4.3), (1.6, -4.3), (1.6, low))
    sheet.ground("bridge.ground", low - 2.7)
    for lug in ("a1", "a2"):
        sheet.wire(f"switch.{lug}", (6.0, lower[lug]))
    sheet.wire((6.0, lower["a2"]), (6.0, hot))
    master(sheet, "neck.hot", 6.7, -5.2)


@SWITCHED.enter("neck middle bridge switch blender volume tone capacitor jack", "bleed cable amp")
def _three_single_coils_blender(sheet: Sheet, way: str) -> None:
    heights = {"neck": 0.0, "middle": -3.6, "bridge": -7.2}
    for name, y in heights.items():
        pickup(sheet, name, 0, y)
        sheet.ground(f"{name}.ground", y - 2.7)
    edge = pot(sheet, "blender", 3.0, -3.6, wiper="left", label="beside") + 0.4
    open_end(sheet, "blender.high")
    throws = {"a1": -1.2, "a2": -2.2, "a3": -3.2}
    x = edge + 0.9
    bank(sheet, "switch", list(throws.items()), ("a", -2.2), x, title=-0.6)
    sheet.wire("neck.hot", (edge, 0), (edge, throws["a1"]), "switch.a1")
    sheet.wire("middle.hot", (1.3, heights["middle"]), (1.3, throws["a2"]), "switch.a2")
    sheet.wire("bridge.hot", (edge, heights["bridge"]), (edge, throws["a3"]), "switch.a3")
    wiper = sheet.at("blender.wiper")
    sheet.wire(wiper, (wiper[0], 0))
    sheet.wire("blender.low", (3.0, heights["bridge"]))
    unused = {"b1": -5.2, "b2": -6.2, "b3": -7.2}
    bank(sheet, "switch", list(unused.items()), ("b", -6.2), x)
    master(sheet, "switch.a", x + 2.6, -7.4)


# -- humbuckers, coil by coil ---------------------------------------------------------------------


@SWITCHED.enter("neck bridge switch volume tone capacitor jack", "bleed cable amp")
def _two_humbuckers_rotary(sheet: Sheet, way: str) -> None:
    four_leads(sheet, "neck", 0, 0)
    four_leads(sheet, "bridge", 0, -12.0)
    neck, bridge = ends_of(sheet, "neck"), ends_of(sheet, "bridge")

    def throws(pole: str, middle: float) -> list[tuple[str, float]]:
        return [(f"{pole}{n}", middle + 0.7 * (3 - n)) for n in range(1, 6)]

    bank(sheet, "switch", throws("a", -2.8), ("a", -2.8), 4.6, way=-1)
    bank(sheet, "switch", throws("b", -6.8), ("b", -6.8), 3.1)
    bank(sheet, "switch", throws("c", -12.0), ("c", -12.0), 4.6, way=-1)
    bank(sheet, "switch", throws("d", -16.9), ("d", -16.9), 7.0, way=-1)
    label = sheet.label(5.5, -6.2, switch_lines(sheet, "switch", 2.6))
    bus = label + 0.4
    at = {lug: sheet.at(f"switch.{lug}") for lug in ("a1", "b1", "b2", "b4", "c3", "c5")}
    # The neck: its outer coil to the output, the inner one over bank a, both over bank b.
    sheet.wire(neck[1], (at["a1"][0], -1.2), "switch.a1")
    sheet.wire((2.1, -1.2), (2.1, at["b4"][1]), "switch.b4")
    sheet.wire(neck[2], "switch.a")
    around = [(1.4, -4.0), (1.4, -9.7), (5.2, -9.7), (5.2, -12.0)]
    sheet.wire(neck[3], *around, "switch.c3")
    for lug in ("b1", "b2"):
        sheet.wire((1.4, at[lug][1]), f"switch.{lug}")
    sheet.wire("switch.b", (5.0, -6.8))
    sheet.ground((5.0, -6.8), -8.0)
    # The bridge: its inner coil over bank c, the outer one to the output and over bank d.
    sheet.wire(bridge[0], "switch.c")
    sheet.wire(bridge[1], (1.4, -13.2))
    sheet.ground((1.4, -13.2), -13.6)
    sheet.wire(bridge[3], (1.4, -16.0), (1.4, -16.9), "switch.d")
    sheet.wire("switch.c5", (at["c5"][0], -16.9))
    d4 = sheet.at("switch.d4")
    sheet.wire("switch.d4", (8.0, d4[1]))
    sheet.ground((8.0, d4[1]), -18.3)
    sheet.wire(bridge[2], (bus, -14.8), (bus, 0))
    for lug in ("a2", "a3", "c2"):
        sheet.wire(f"switch.{lug}", (bus, sheet.at(f"switch.{lug}")[1]))
    master(sheet, neck[0], bus + 0.7, -5.2)


@SWITCHED.enter(
    "neck bridge neck_volume bridge_volume neck_tone bridge_tone neck_capacitor bridge_capacitor "
    "switch jack",
    "neck_bleed bridge_bleed cable amp neck_pull_1 bridge_pull_1 neck_pull_2 bridge_pull_2",
    WIRINGS,
)
def _two_humbuckers_push_pull(sheet: Sheet, wiring: str) -> None:
    ends = {}
    for side, y in (("neck", 0.0), ("bridge", -8.0 - rise(sheet, wiring, "bridge_bleed"))):
        x = _pulled(sheet, side, y)
        hot: Point = (x, y)
        level = ground_level(sheet, y, wiring, True)
        names = (f"{side}_volume", f"{side}_bleed", (f"{side}_tone", f"{side}_capacitor"))
        ends[side] = controls(sheet, hot, x + 0.5, y, wiring, level, *names)
    toggle_out(sheet, ends["neck"], ends["bridge"])


def _pulled(sheet: Sheet, side: str, y: float) -> float:
    """Draw a humbucker and its push-pulls; return the point where its signal leaves."""
    four_leads(sheet, side, 0, y)
    hot, upper, lower, below = ends_of(sheet, side)
    ground = y - 6.5
    x = 1.3
    sheet.wire(below, (x, y - 4.0), (x, ground))
    edge, phase = x, ""
    for pull in (f"{side}_pull_1", f"{side}_pull_2"):
        if not sheet.has(pull):
            continue
        joined = {lug: sheet.guitar.node(f"{pull}.{lug}") for lug in ("a", "b", "a1", "b2")}
        if joined["a1"] == joined["b2"]:
            phase = pull
        elif joined["b"] == sheet.guitar.node(lower):
            edge = _parallel(sheet, side, pull, y, ground)
        else:
            edge = _split(sheet, side, pull, y, ground)
    if edge == x:
        sheet.wire(upper, (x, y - 1.2), (x, y - 2.8), lower)
    if not phase:
        sheet.ground((x, ground))
        sheet.wire(hot, (edge, y))
        sheet.wire((x, ground), (edge, ground))
        return edge
    return _phase(sheet, side, phase, y, ground, edge)


def _split(sheet: Sheet, side: str, pull: str, y: float, ground: float) -> float:
    """Draw a switch that connects the link of the coils to ground; return its right edge."""
    _, upper, lower, _ = ends_of(sheet, side)
    x = sheet.at(upper)[0] + 0.5
    sheet.wire(upper, (x, y - 1.2), (x, y - 2.8), lower)
    bank(sheet, pull, [("a1", y - 1.6), ("a2", y - 2.4)], ("a", y - 2), x + 2.2, way=-1)
    bank(sheet, pull, [("b1", y - 3.5), ("b2", y - 4.3)], ("b", y - 3.9), x + 2.2, way=-1)
    sheet.wire((x, y - 2), f"{pull}.a")
    edge = sheet.label(x + 0.4, y - 4.75, switch_lines(sheet, pull, 3.0), up="top")
    edge = max(edge, x + 2.4) + 0.3
    sheet.wire(f"{pull}.a2", (edge, y - 2.4), (edge, ground))
    return edge


def _parallel(sheet: Sheet, side: str, pull: str, y: float, ground: float) -> float:
    """Draw a switch that joins the coils in series or in parallel; return its right edge."""
    _, upper, lower, _ = ends_of(sheet, side)
    x = sheet.at(upper)[0] + 2.7
    bank(sheet, pull, [("a2", y - 0.8), ("a1", y - 1.6)], ("a", y - 1.2), x, way=-1)
    bank(sheet, pull, [("b1", y - 2.4), ("b2", y - 3.2)], ("b", y - 2.8), x, way=-1)
    sheet.wire(upper, f"{pull}.a")
    sheet.wire(lower, f"{pull}.b")
    sheet.wire(f"{pull}.a1", (x + 0.6, y - 1.6), (x + 0.6, y - 2.4), f"{pull}.b1")
    sheet.wire(f"{pull}.b2", (x + 1.0, y - 3.2), (x + 1.0, y))
    edge = sheet.label(x - 1.8, y - 4.75, switch_lines(sheet, pull, 3.0), up="top")
    edge = max(edge, x + 1.1) + 0.3
    sheet.wire(f"{pull}.a2", (edge, y - 0.8), (edge, ground))
    return edge


def _phase(sheet: Sheet, side: str, pull: str, y: float, ground: float, edge: float) -> float:
    """Draw a switch that reverses a pickup; return the point of its hot end."""
    x = edge + 2.3
    bank(sheet, pull, [("a1", y), ("a2", y - 0.8)], ("a", y - 0.4), x, way=-1)
    bank(sheet, pull, [("b2", ground + 0.4), ("b1", ground - 0.4)], ("b", ground), x, way=-1)
    sheet.wire(ends_of(sheet, side)[0], (edge + 0.4, y), (edge + 0.4, y - 0.4), f"{pull}.a")
    sheet.wire((1.3, ground), f"{pull}.b")
    words = sheet.label(x - 1.6, (y + ground) / 2, switch_lines(sheet, pull, 3.0))
    one = max(words, x + 0.3) + 0.3
    two = one + 0.5
    sheet.wire(f"{pull}.a1", (two, y))
    sheet.wire((one, y), (one, ground + 0.4), f"{pull}.b2")
    sheet.wire(f"{pull}.a2", (two, y - 0.8), (two, ground - 0.4), f"{pull}.b1")
    sheet.ground((two, ground - 0.4), ground - 0.7)
    return two


@SWITCHED.enter(
    "neck middle bridge switch volume tone_1 tone_2 capacitor_1 capacitor_2 jack",
    "neck_resistor middle_resistor bleed cable amp",
    ("middle", "bridge"),
)
def _hss(sheet: Sheet, second: str) -> None:
    heights = {"neck": 0.0, "middle": -5.4, "bridge": -10.6 if second == "middle" else -9.6}
    edge = 4.0
    for name in ("neck", "middle"):
        y = heights[name]
        pickup(sheet, name, 0, y)
        sheet.ground(f"{name}.ground", y - 2.7)
        x = 1.5
        if sheet.has(f"{name}_resistor"):
            x = two_lug(sheet, f"{name}_resistor", (x, y - 0.3), (x, y - 2.3)) + 0.5
            sheet.wire((1.5, y), f"{name}_resistor.a")
            sheet.ground(f"{name}_resistor.b", y - 2.7)
        if name in ("neck", second):
            number = 1 if name == "neck" else 2
            x = tone_stage(sheet, x, y, y - 3.9, (f"tone_{number}", f"capacitor_{number}"))
        edge = max(edge, x)
    y = heights["bridge"]
    four_leads(sheet, "bridge", 0, y)
    bridge = ends_of(sheet, "bridge")
    sheet.wire(bridge[3], (1.3, y - 4.0))
    sheet.ground((1.3, y - 4.0), y - 4.5)
    sheet.wire(bridge[1], (1.3, y - 1.2), (1.3, y - 2.8), bridge[2])
    if second == "bridge":
        names = ("tone_2", "capacitor_2")
        edge = max(edge, tone_stage(sheet, 2.6, y, y - 5.9, names, drop=2.0))
    edge += 0.5
    middle = heights["middle"]
    throws = {"a1": middle + 1, "a2": middle, "a3": middle - 1}
    bank(sheet, "switch", list(throws.items()), ("a", middle), edge + 0.8, title=middle + 1.6)
    for name, lug in (("neck", "a1"), ("middle", "a2")):
        sheet.wire(f"{name}.hot", (edge, heights[name]), (edge, throws[lug]), f"switch.{lug}")
    sheet.wire(bridge[0], (edge, y), (edge, throws["a3"]), "switch.a3")
    link = y - 2.0
    shunt = {"b1": link + 1, "b2": link, "b3": link - 1}
    bank(sheet, "switch", list(shunt.items()), ("b", link), edge + 0.8)
    sheet.wire((1.3, link), "switch.b2")
    sheet.wire("switch.b", (edge + 2.8, link))
    sheet.ground((edge + 2.8, link), link - 0.6)
    x, out = volume_stage(sheet, edge + 3.4, middle, middle - 2.5)
    sheet.wire("switch.a", "volume.high")
    output(sheet, x + 0.7, out, out - 2.0)
    sheet.wire((x, out), "jack.tip")


# -- switched capacitors --------------------------------------------------------------------------

_SPARE = " ".join(f"switched_{n}" for n in range(2, 12))


def _count(sheet: Sheet) -> int:
    """Number of capacitors, numbered from 1."""
    held = [name for name in sheet.guitar.parts if name.startswith("switched_")]
    if not all(sheet.has(f"switched_{n}") for n in range(1, len(held) + 1)):
        raise DoesNotFit("switched_1")
    return len(held)


def _in_line(sheet: Sheet, name: str) -> str:
    """Name and value of a small part in one line."""
    return f"{sheet.words(name)}  {needs(sheet, name, Capacitor).label()}"


@SWITCHED.enter("pickup selector switched_1 volume jack", f"{_SPARE} bleed cable amp")
def _rotary_tone(sheet: Sheet, way: str) -> None:
    count = _count(sheet)
    pickup(sheet, "pickup", 0, 0)
    sheet.ground("pickup.ground", -2.7)
    throws = {f"a{n}": -0.9 - 0.8 * (n - 1) for n in range(1, count + 2)}
    middle = (throws["a1"] + throws[f"a{count + 1}"]) / 2
    bank(sheet, "selector", list(throws.items()), ("a", middle), 3.6, way=-1)
    sheet.wire((1.5, 0), (1.5, middle), "selector.a")
    edge = rail = 5.9
    for n in range(1, count + 1):
        name, y = f"switched_{n}", throws[f"a{n + 1}"]
        two_lug(sheet, name, (4.3, y), (rail, y), words=False)
        sheet.wire(f"selector.a{n + 1}", f"{name}.a")
        edge = max(edge, sheet.write(rail + 0.3, y, _in_line(sheet, name), colour=PALE))
    low = throws[f"a{count + 1}"]
    sheet.wire((rail, throws["a2"]), (rail, low))
    sheet.ground((rail, low), low - 0.5)
    sheet.label(2.85, low - 0.5, switch_lines(sheet, "selector"), across="center", up="top")
    sheet.wire("pickup.hot", (edge + 0.5, 0))
    x, out = volume_stage(sheet, edge + 0.5, 0, -2.7)
    output(sheet, x + 0.7, out, -2.7)
    sheet.wire((x, out), "jack.tip")


@SWITCHED.enter(
    "pickup selector resistor choke switched_1 volume jack",
    f"{_SPARE} tone capacitor bleed cable amp",
)
def _rotary_notch(sheet: Sheet, way: str) -> None:
    count = _count(sheet)
    pickup(sheet, "pickup", 0, 0)
    sheet.ground("pickup.ground", -2.7)
    two_lug(sheet, "resistor", (1.8, 0), (4.4, 0))
    sheet.wire("pickup.hot", "resistor.a")
    bridge = {f"a{n}": -1.0 - 0.6 * (n - 1) for n in range(1, count + 2)}
    middle = (bridge["a1"] + bridge[f"a{count + 1}"]) / 2
    bank(sheet, "selector", list(bridge.items()), ("a", middle), 2.4)
    sheet.wire("resistor.a", (1.8, bridge["a1"]), "selector.a1")
    sheet.wire("selector.a", (4.4, middle), "resistor.b")
    low = bridge[f"a{count + 1}"]
    sheet.label(3.1, low - 0.5, switch_lines(sheet, "selector"), across="center", up="top")
    rail, top = 5.3, -5.7 if sheet.has("tone") else -4.6
    choose = {f"b{n}": top - 1.0 * (n - 1) for n in range(1, count + 2)}
    common = (choose["b1"] + choose[f"b{count + 1}"]) / 2
    bank(sheet, "selector", list(choose.items()), ("b", common), 9.7)
    for n in range(1, count + 1):
        name, y = f"switched_{n}", choose[f"b{n + 1}"]
        two_lug(sheet, name, (rail, y), (rail + 3.9, y), words=False)
        sheet.wire(f"{name}.b", f"selector.b{n + 1}")
        sheet.write(rail + 1.95, y + 0.5, _in_line(sheet, name), across="center", colour=PALE)
    sheet.wire((rail, 0), (rail, choose[f"b{count + 1}"]))
    sheet.wire("selector.b", (11.9, common))
    two_lug(sheet, "choke", (11.9, common), (11.9, common - 1.5))
    sheet.ground("choke.b", common - 1.8)
    sheet.wire("resistor.b", (rail, 0))
    master(sheet, (rail, 0), rail + 0.7, -5.0 if sheet.has("tone") else -2.7)


@SWITCHED.enter(
    "pickup bass bass_capacitor volume jack", "tone capacitor bleed cable amp",
    ("pot", "switch"),
)  # fmt: skip
def _bass_cut(sheet: Sheet, control: str) -> None:
    pickup(sheet, "pickup", 0, 0)
    x, end = 1.8, 4.4
    two_lug(sheet, "bass_capacitor", (x, 0), (end, 0))
    sheet.wire("pickup.hot", "bass_capacitor.a")
    if control == "pot":
        clear = pot(sheet, "bass", x, 0)
        open_end(sheet, "bass.low")
        sheet.wire("bass.wiper", (end, -1), "bass_capacitor.b")
    else:
        bank(sheet, "bass", [("a1", -1.0), ("a2", -1.8)], ("a", -1.4), 3.7, way=-1)
        sheet.wire("bass_capacitor.a", (x, -1.4), "bass.a")
        sheet.wire("bass.a1", (end, -1.0), "bass_capacitor.b")
        clear = sheet.label(x, -2.2, switch_lines(sheet, "bass"), up="top")
    level = -5.0 if sheet.has("tone") else -2.7
    sheet.ground("pickup.ground", level)
    master(sheet, "bass_capacitor.b", max(end, clear) + 0.5, level)
