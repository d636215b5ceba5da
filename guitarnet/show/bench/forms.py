"""Forms of parts, as they look from the side one solders on.

Sizes are common practice, no source: a can 24 mm across, its lugs 7.5 mm apart; lugs of a lever
7.5 mm and of a leaf toggle 12.5 mm apart; a ring of twelve lugs on a rotary. Pickups are drawn
at half their length. Makes differ most in where a switch has its commons: the picture says so.
"""

from __future__ import annotations

import math

from ...circuit.bench_lists import words_of
from ...parts.base import Part
from ...parts.blend import BlendPot
from ...parts.humbucker import Humbucker
from ...parts.output import Jack
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.switch import Switch
from .ends import jack, pickup
from .form import (
    BOLD,
    DOWN,
    LEFT,
    RIGHT,
    SMALL,
    TEXT,
    UP,
    Box,
    Disc,
    Form,
    Lane,
    Line,
    Lug,
    Words,
    tab,
)
from .letters import broken, cut, lanes

__all__ = ["form_of", "is_common", "poles_of", "sits_on"]

PITCH = 3  # lanes between lugs of a pot and of a lever
TIP = 9  # lanes from the middle of a can to the tips of its lugs
CAN = 4.8  # lanes, radius
LEAF = 5  # lanes between lugs of a leaf toggle
# Twelve lugs on the ring of a rotary's wafer, from the top left corner on clockwise, on lanes;
# the commons of one to four poles within it, each with its way out between two lugs.
RING = ((-7, -2), (-5, -5), (-2, -7), (2, -7), (5, -5), (7, -2),
        (7, 2), (5, 5), (2, 7), (-2, 7), (-5, 5), (-7, 2))  # fmt: skip
COMMONS = {
    1: ((0, 3, DOWN),),
    2: ((0, -3, UP), (0, 3, DOWN)),
    3: ((0, -3, UP), (3, 0, RIGHT), (0, 3, DOWN)),
    4: ((0, -3, UP), (3, 0, RIGHT), (0, 3, DOWN), (-3, 0, LEFT)),
}


def form_of(
    name: str, part: Part, pull: str = "", pulled: Part | None = None, *, turned: bool = False
) -> Form:
    """Form of a part; ``pull`` is the switch on the can of a pot, if it is a push-pull.

    ``turned`` is a switch the other way round, or a pickup with its leads in the other order.
    """
    if isinstance(part, Pot):
        if isinstance(pulled, Switch):
            return _push_pull(name, part, pull, pulled)
        return _pot(name, part)
    if isinstance(part, BlendPot):
        return _blend(name, part)
    if isinstance(part, Jack):
        return jack(name)
    if isinstance(part, (Coil, Humbucker)):
        return pickup(name, part, turned)
    if isinstance(part, Switch):
        return _switch(name, part, turned)
    return _plain(name, part, [list(part.lugs)])


def sits_on(name: str, part: Part, parts: dict[str, Part]) -> str:
    """Name the pot on whose can a switch sits: a two-way ``volume_pull`` sits on ``volume``."""
    pot = name.removesuffix("_pull")
    two_way = isinstance(part, Switch) and part.kind.startswith("two-way") and len(part.lugs) <= 6
    return pot if pot != name and two_way and isinstance(parts.get(pot), Pot) else ""


def poles_of(part: Switch) -> dict[str, list[str]]:
    """Lugs of each pole, the common first, where the lugs are named so; else all in one."""
    poles: dict[str, list[str]] = {}
    for lug in part.lugs:
        if lug[0] not in part.lugs or not (lug[1:].isdigit() or not lug[1:]):
            return {"": list(part.lugs)}
        poles.setdefault(lug[0], []).append(lug)
    return {pole: sorted(lugs, key=len) for pole, lugs in poles.items()}


def is_common(part: Part, lug: str) -> bool:
    """Whether a lug of a switch is a common."""
    return isinstance(part, Switch) and lug in (*poles_of(part), "common")


# -- pots -----------------------------------------------------------------------------------------


def _flat_tab(x0: float, x1: float, y: float) -> Box:
    return Box(min(x0, x1), y - 0.42, max(x0, x1), y + 0.42, "metal", radius=0.3)


def _wafer(x: int, lugs: tuple[str, str, str], marks: tuple[str, str, str]) -> Form:
    """The wafer of a track and its three lugs under a can at ``x``; from behind, 10 is left."""
    at = [
        (x + PITCH * (k - 1), lug, mark)
        for k, (lug, mark) in enumerate(zip(lugs, marks, strict=False))
    ]
    return Form(
        {lug: Lug(i, TIP, (DOWN, LEFT, RIGHT), (i, 7.0)) for i, lug, _ in at},
        (
            Box(x - 4.6, 2.4, x + 4.6, 6.6, "wafer"),
            *(tab(i, 6.7, TIP) for i, _, _ in at),
            Disc(x, 0, CAN),
            Disc(x, 0, CAN - 0.5, "none", "pale"),
        ),
        tuple(Words(i, 5.75, mark) for i, _, mark in at),
        ((x - 5, -5, x + 5, 8),),
        (((x + 5, 2), (x + 4.0, 2)), ((x - 5, 2), (x - 4.0, 2))),
        (x, -3.6),
        None,
        (x - 5, -5, x + 5, TIP + 1),
    )


def _on_can(x: float, name: str, values: list[str]) -> list[Words]:
    """Name and values on a can."""
    words = words_of(name).split()
    lines = [" ".join(words)] if lanes(" ".join(words), BOLD, True) < 8.4 else words[:2]
    if len(words) > 2 and len(lines) == 2:
        lines = [" ".join(words[:-1]), words[-1]]
    lines = [cut(line, 8.6, BOLD, True) for line in lines]
    y = 0.1 - 0.66 * (len(lines) + len(values) - 1)
    made = [Words(x, y + 1.32 * k, line, BOLD, bold=True) for k, line in enumerate(lines)]
    y += 1.32 * len(lines)
    return made + [
        Words(x, y + 1.25 * k, v, TEXT if not k else SMALL) for k, v in enumerate(values)
    ]


def _values(part: Part) -> list[str]:
    """Resistance and taper, a line or two each."""
    ohms, _, taper = part.label().partition(", ")
    taper = taper.replace("%", " %")
    return [ohms, *(broken(taper, 7.6, 2, SMALL) if taper else [])]


def _pot(name: str, part: Pot) -> Form:
    wafer = _wafer(0, ("high", "wiper", "low"), ("10", "wiper", "0"))
    return _worded(wafer, _on_can(0, name, _values(part)))


def _worded(form: Form, words: list[Words]) -> Form:
    return Form(
        form.lugs, form.shapes, (*form.words, *words), form.solid, form.cans, form.bus,
        form.frame, form.box,
    )  # fmt: skip


def _blend(name: str, part: BlendPot) -> Form:
    """Two tracks on one shaft, drawn side by side and tied by a dashed line."""
    one = _wafer(-8, ("first_high", "first_wiper", "first_low"), ("to 5", "wiper", "10"))
    two = _wafer(8, ("second_high", "second_wiper", "second_low"), ("5 up", "wiper", "0"))
    ohms = part.label().partition(",")[0].removesuffix(" twice")
    words = [
        *_on_can(-8, name, ["first row", ohms]),
        *_on_can(8, name, ["second row", ohms]),
        Words(0, -1.4, "one shaft", SMALL),
    ]
    tie = (Line(((-3.1, -0.3), (3.1, -0.3)), 1.0, "tie"),)
    return Form(
        {**one.lugs, **two.lugs},
        (*one.shapes, *two.shapes, *tie),
        (*one.words, *two.words, *words),
        (*one.solid, *two.solid, (-3, -2, 3, 0)),
        (*one.cans, *two.cans),
        one.bus,
        two.bus,
        (-13, -5, 13, TIP + 1),
    )


def _push_pull(name: str, part: Pot, pull: str, switch: Switch) -> Form:
    """A pot with the terminals of its switch on the can; its words stand above the can."""
    wafer, block = _wafer(0, ("high", "wiper", "low"), ("10", "wiper", "0")), _block(switch)
    lugs = {**wafer.lugs, **{f"{pull}.{lug}": at for lug, at in block.lugs.items()}}
    ohms = ", ".join(_values(part)[:1])
    words = [
        Words(0.7, -9.2, cut(words_of(name), 12, BOLD, True), BOLD, "left", True),
        Words(0.7, -7.9, f"{ohms}, push-pull", SMALL, "left"),
        *(
            Words(0.7, -6.7 + 1.15 * k, line, SMALL, "left")
            for k, line in enumerate(_legend(switch)[:1])
        ),
    ]
    wide = max(5, round(0.5 + max(w.x + lanes(w.words, w.size, w.bold) for w in words)))
    return Form(
        lugs,
        (*wafer.shapes, *block.shapes),
        (*wafer.words, *words, *block.words),
        (*wafer.solid[:0], (-5, 4, 5, 8), (-4, -5, 4, 4), (0, -10, wide, -6)),
        (),
        (0, -4.6),
        None,
        (-7, -10, max(7, wide), TIP + 1),
    )


def _legend(part: Switch) -> list[str]:
    """What the first common touches in each place: 'a1: neck'."""
    lines = []
    common = next((q for q in part.lugs if is_common(part, q)), "")
    for place, groups in part.contacts:
        touching = [q for group in groups if common in group for q in group if q != common]
        lines.append(f"{'+'.join(touching) or 'nothing'}: {place}")
    if len(part.places) == 2 and common:
        return ["; ".join(lines)] if lanes("; ".join(lines), SMALL) < 14 else lines
    return lines


# -- switches -------------------------------------------------------------------------------------


def _switch(name: str, part: Switch, turned: bool) -> Form:
    poles = poles_of(part)
    sizes = {len(lugs) for lugs in poles.values()}
    if part.lugs == ("first", "second", "common"):
        return _toggle(name, part, turned)
    if "" not in poles and len(poles) <= 2 and sizes == {3}:
        return _beside(_block(part), name, part, 6, frame=False)
    if "lever" in part.kind and len(poles) == 2 and len(sizes) == 1:
        return _lever(name, part, list(poles.values()), turned)
    if "rotary" in part.kind and "" not in poles and max(sizes) <= 13 and len(sizes) == 1:
        return _rotary(name, part, list(poles.values()), turned)
    return _plain(name, part, list(poles.values()))


def _beside(form: Form, name: str, part: Switch, right: int, *, frame: bool) -> Form:
    """A switch with its name, its frame's ground and its places beside it."""
    legend = _legend(part)
    lines = [cut(line, 15, SMALL) for line in legend[:8]]
    if len(legend) > 8:
        lines[7] = f"and {len(legend) - 7} more places"
    label = cut(words_of(name), 15, BOLD, True)
    rows = 1 + len(lines)
    y = -0.62 * (rows - 1)
    x = right + 1.2
    words = [Words(x, y, label, BOLD, "left", True)]
    words += [Words(x, y + 1.25 * (k + 1), line, SMALL, "left") for k, line in enumerate(lines)]
    spot = None
    if frame:
        spot = (right + 1.8 + lanes(label, BOLD, True) + 0.8, y)
        words.append(Words(spot[0] + 1.0, y, "frame", SMALL, "left"))
    edge = round(0.6 + max(w.x + lanes(w.words, w.size, w.bold) for w in words))
    half = max(2, round(0.62 * rows + 0.9))
    solid = (right, -half, edge, half)
    left, top, _, bottom = form.box
    return Form(
        form.lugs, form.shapes, (*form.words, *words), (*form.solid, solid), form.cans, form.bus,
        spot, (left, min(top, -half), edge, max(bottom, half)),
    )  # fmt: skip


def _toggle(name: str, part: Switch, turned: bool) -> Form:
    """A leaf toggle: the common between the leaves of the two ways."""
    row = ("second", "common", "first") if turned else ("first", "common", "second")
    at = {lug: LEAF * (k - 1) for k, lug in enumerate(row)}
    form = Form(
        {lug: Lug(x, -4, (UP, LEFT, RIGHT), (x, -1.6)) for lug, x in at.items()},
        (*(tab(x, -0.6, -4) for x in at.values()), Box(-7.6, -1, 7.6, 2.4)),
        tuple(Words(x, 0.7, lug, SMALL) for lug, x in at.items()),
        ((-8, -3, 8, 3),),
        box=(-8, -5, 8, 3),
    )
    return _beside(form, name, part, 8, frame=True)


def _block(part: Switch) -> Form:
    """Terminals of a mini toggle or a push-pull: a column for each pole, the common between."""
    lugs: dict[str, Lug] = {}
    shapes: list[Line | Box | Disc] = [Box(-3.6, -4.4, 3.6, 4.4)]
    words = []
    for side, (common, first, last) in zip((-1, 1), poles_of(part).values(), strict=False):
        out = LEFT if side < 0 else RIGHT
        for y, lug in ((-3, first), (0, common), (3, last)):
            ways: tuple[Lane, ...] = (out,)
            if y:
                ways = (out, UP if y < 0 else DOWN)
            lugs[lug] = Lug(5 * side, y, ways, (2.9 * side, y))
            shapes.append(_flat_tab(2.9 * side, 5 * side, y))
            words.append(Words(1.7 * side, y, lug, SMALL))
    return Form(lugs, tuple(shapes), tuple(words), ((-4, -5, 4, 5),), box=(-7, -5, 7, 5))


def _lever(name: str, part: Switch, poles: list[list[str]], turned: bool) -> Form:
    """Two banks along the slot, their commons at opposite ends."""
    low = poles[0]
    high = [*poles[1][1:][::-1], poles[1][0]]
    if turned:
        low, high = high[::-1], low[::-1]
    first = -(PITCH * (len(low) - 1) // 2)
    lugs, words = {}, []
    shapes: list[Line | Box | Disc] = []
    for row, down in ((high, -1), (low, 1)):
        for k, lug in enumerate(row):
            x = first + PITCH * k
            way = DOWN if down > 0 else UP
            lugs[lug] = Lug(x, 6 * down, (way, LEFT, RIGHT), (x, 2.6 * down))
            shapes.append(tab(x, 2.2 * down, 6 * down))
            words.append(Words(x + 0.6, 4.55 * down, lug, SMALL, "left"))
    last = first + PITCH * (len(low) - 1)
    body = Box(first - 1.8, -3.6, last + 1.8, 3.6)
    form = Form(
        lugs, (body, *shapes), tuple(words), ((first - 2, -5, last + 2, 5),),
        box=(first - 2, -7, last + 2, 7),
    )  # fmt: skip
    return _beside(form, name, part, last + 2, frame=True)


def _rotary(name: str, part: Switch, poles: list[list[str]], turned: bool) -> Form:
    """One wafer, or several of them: twelve lugs on a ring, the commons within."""
    throws = len(poles[0]) - 1
    on_one = max(k for k in (1, 2, 3, 4) if 12 // k >= throws or k == 1)
    ring, commons = RING, COMMONS[on_one]
    if turned:
        ring, commons = RING[6:] + RING[:6], commons[on_one // 2 :] + commons[: on_one // 2]
    wafers = [poles[k : k + on_one] for k in range(0, len(poles), on_one)]
    lugs: dict[str, Lug] = {}
    shapes: list[Line | Box | Disc] = []
    words: list[Words] = []
    solid: list[tuple[int, int, int, int]] = []
    for number, wafer in enumerate(wafers):
        x = 21 * number
        shapes += [Disc(x, 0, 6.3, "body"), Disc(x, 0, 1.4, "wafer", "pale")]
        for pole, (common, *throws_of) in enumerate(wafer):
            for lug, (i, j) in zip(throws_of, ring[pole * (12 // on_one) :], strict=False):
                ways = tuple(
                    way
                    for way, goes in (
                        (LEFT, i < -2), (RIGHT, i > 2), (UP, j < -2), (DOWN, j > 2),
                    )
                    if goes
                )  # fmt: skip
                lugs[lug] = Lug(x + i, j, ways)
                shapes.append(Line(((x + 0.78 * i, 0.78 * j), (x + i, j)), 5.0, "tab"))
                words.append(Words(x + 0.62 * i, 0.62 * j, lug, SMALL))
            i, j, way = commons[pole]
            lugs[common] = Lug(x + i, j, (way,), stub=5)
            words.append(Words(x + 0.42 * i, 0.42 * j, common, SMALL, bold=True))
        # The wafer, but for the ways out of the commons.
        for j in range(-6, 7):
            half = math.isqrt(45 - j * j)
            hole = 0 if abs(j) > 2 else -1
            if j == 0 and on_one > 2:
                solid.append((x - 2, 0, x + 2, 0))
            else:
                solid += [(x - half, j, x - 1 - hole, j), (x + 1 + hole, j, x + half, j)]
    right = 21 * (len(wafers) - 1) + 8
    form = Form(lugs, tuple(shapes), tuple(words), tuple(solid), box=(-9, -9, right + 1, 9))
    return _beside(form, name, part, right + 4, frame=True)


def _plain(name: str, part: Part, poles: list[list[str]]) -> Form:
    """A part without a form of its own: a box with its lugs on two sides."""
    high, low = poles[0], [lug for pole in poles[1:] for lug in pole]
    if not low and len(high) > 3:
        half = (len(high) + 1) // 2
        high, low = high[:half], high[half:]
    pitch = max(PITCH, *(round(lanes(lug, SMALL) + 1.2) for lug in part.lugs))
    lugs: dict[str, Lug] = {}
    shapes: list[Line | Box | Disc] = []
    words: list[Words] = []
    half = pitch * (max(len(high), len(low)) - 1) // 2 + 3
    label = cut(words_of(name), 16, BOLD, True)
    half = max(half, round(lanes(label, BOLD, True) / 2 + 1))
    for row, down in ((high, -1), (low, 1)):
        for k, lug in enumerate(row):
            x = pitch * k - pitch * (len(row) - 1) // 2
            lugs[lug] = Lug(x, 6 * down, (DOWN if down > 0 else UP, LEFT, RIGHT))
            shapes.append(tab(x, 3.8 * down, 6 * down))
            words.append(Words(x, 2.6 * down, cut(lug, pitch - 0.3, SMALL), SMALL))
    words.append(Words(0, 0, label, BOLD, bold=True))
    return Form(
        lugs, (*shapes, Box(-half, -3.9, half, 3.9)), tuple(words), ((-half, -5, half, 5),),
        box=(-half - 1, -7, half + 1, 7),
    )  # fmt: skip
