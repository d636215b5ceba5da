"""What a job card says of a guitar: its lists, its readings and its pictures, for the template."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from ...circuit.bench_lists import CAUTIONS, measured_values, words_of
from ...circuit.harness import Harness
from ...circuit.roles import roles
from ...errors import NotInstalled
from ...parts.base import Part, label_of
from ...parts.humbucker import Humbucker
from ...parts.output import AmpInput
from ...parts.pickup import Coil
from ...parts.pot import Pot
from ...parts.switch import Switch
from ...parts.two_lug import Capacitor, Empty, Network
from ...study.bench.expected import expected_readings
from ...study.bench.ohmmeter import Ohmmeter
from ...study.response.measures import level_db
from ...study.response.response import response
from ...units import format_value, prefers_feet, sentence, write_celsius
from ..figures import style
from ..figures.families import assumed, at_most_one_family, draw_family
from ..figures.picture import embedded, picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["content"]

_FIGURE = (5.4, 2.3)  # inches; drawn larger than it is printed, so that its letters come out small
_LEGIBLE = 5.0  # points; the least that the letters of the schematic should have on paper
_MARGIN = 0.1  # round the schematic, for the width of its lines [units of its sheet]
_DRAWS = 100  # of the sampled range, which the card does not show
_RANGES = ((2e3, "2k"), (20e3, "20k"), (200e3, "200k"), (2e6, "2M"), (20e6, "20M"))  # of meters
_EARTH = "Through the string ground the player is part of the circuit."


def content(
    guitar: Harness, coil_temperature: float = 20.0, meter: Ohmmeter | None = None
) -> dict[str, Any]:
    """Gather all that the card says of a guitar, as plain text and pictures."""
    readings = _readings(guitar, coil_temperature, meter)
    return {
        "name": guitar.name,
        "bench": _bench(guitar),
        "schematic": _schematic(guitar),
        "joints": _joints(guitar),
        "parts": _parts(guitar),
        "readings": readings,
        "response": _response(guitar, readings["knobs"]),
        "unseen": list(_unseen(guitar)),
        "cautions": f"{CAUTIONS} {_EARTH}",
    }


# -- lists ----------------------------------------------------------------------------------------


def _joints(guitar: Harness) -> dict[str, Any]:
    """Take the joint list apart: what is soldered, and in one row each what is not."""
    table = guitar.joints()
    late = ("plug", "leave open")
    together = {step: ", ".join(row[3] for row in table if row[2] == step) for step in late}
    return {
        "soldered": [[_whole(cell) for cell in row[1:]] for row in table if row[2] not in late],
        "others": [(step, _whole(words)) for step, words in together.items() if words],
        # The cautions stand at the foot of the card.
        "note": " ".join(table.note.replace(CAUTIONS, "").split()),
    }


def _whole(words: str) -> str:
    """Let lines break between lugs only."""
    return ", ".join(lug.replace(" ", "\u00a0") for lug in words.split(", "))


def _parts(guitar: Harness) -> dict[str, Any]:
    """List what is bought, like parts in one row."""
    table = [
        row
        for row in guitar.part_table()
        if not isinstance(guitar.parts[row[0].partition(".")[0]], (Empty, AmpInput))
    ]
    usual = all(row[5].endswith("usual") for row in table if row[5])
    alike: dict[tuple[str, ...], list[str]] = {}
    for path, kind, value, nearest, marking, tolerance in table:
        part = guitar.parts[path.partition(".")[0]]
        if isinstance(part, Switch):
            value = f"{kind}, {value}"
        elif isinstance(part, (Coil, Humbucker)):
            value = _pickup_words(part)
        look = ", ".join(filter(None, [nearest, marking]))
        share = tolerance.removesuffix(" usual") if usual else tolerance
        alike.setdefault((value, look, share), []).append(words_of(path))
    sources = dict.fromkeys(
        f"{words_of(name)}: {source}"
        for name, part in guitar.parts.items()
        if (source := getattr(part, "source", ""))
    )
    notes = [
        "Tolerances are the usual ones of each kind." if usual else "",
        *(words for name, part in guitar.parts.items() for words in measured_values(name, part)),
        *(f"{words}." for words in sources),
    ]
    return {
        "rows": [(", ".join(names), *rest) for rest, names in alike.items()],
        "to_buy": any(row[3] for row in table),
        "note": " ".join(filter(None, notes)),
    }


def _pickup_words(part: Part) -> str:
    """Say what is on a pickup's data sheet; the coils of a humbucker are reversed anyway."""
    quantities = ("resistance", "inductance", "capacitance")
    if isinstance(part, Humbucker):
        one, two = (label_of(coil, *quantities) for coil in (part.coil_1, part.coil_2))
        coils = f"2 \u00d7 ({one})" if one == two else f"({one}) and ({two})"
        return f"{'four ' if part.connection == 'leads' else ''}{part.connection}: {coils}"
    turned = [name for name in ("winding", "magnet") if getattr(part, name) == -1]
    return ", ".join(
        [label_of(part, *quantities), *([f"{' and '.join(turned)} reversed"] if turned else [])]
    )


_A_DEGREE = {"\u00b0C": "0.393", "\u00b0F": "0.218"}  # copper, IEC 60028, from 20 \u00b0C on [%]


def _readings(guitar: Harness, degrees: float, meter: Ohmmeter | None) -> dict[str, Any]:
    """List what the meter must show in each place that a reading depends on."""
    # Where no switch parts the pickups, turning one volume down does.
    pots = [name for name, part in guitar.parts.items() if isinstance(part, Pot)]
    switched = any(isinstance(part, Switch) for part in guitar.parts.values())
    marks = None if switched or len(pots) < 2 else dict.fromkeys(pots, 0)
    found = expected_readings(
        guitar, marks=marks, coil_temperature=degrees, meter=meter, count=_DRAWS
    )
    data = found.data.isel(dict.fromkeys(found.silent_switches, 0))
    stand = str(data.knobs.values[0])
    data = data.isel(knobs=0) if marks is None else data.isel(knobs=_telling(found))
    knobs = f"knobs {stand}" if _knobs(guitar) else stand
    knobs += "" if marks is None else " but for what is named"
    ohms = data[["nominal", "low", "high"]].to_array("case").astype(float)
    most = float(ohms.where(np.isfinite(ohms), 0).max())
    scale = next((words for top, words in _RANGES if most < top), "highest")
    degree = "\u00b0F" if prefers_feet() else "\u00b0C"
    silent = [words_of(name) for name in (*found.silent_controls, *found.silent_switches)]
    notes = [
        f"Cable plugged into the guitar and nothing else, ohmmeter on its tip and sleeve ({scale} "
        f"range), {knobs}, no fingers on the probes. From, to: all parts at their limits.",
        f"Coils at {write_celsius(degrees)}; copper reads {_A_DEGREE[degree]} % more a {degree}.",
        f"Meter: {meter.label()}." if meter else "",
        f"No reading depends on {', '.join(silent)}." if silent else "",
    ]
    rows = [(place or stand, *map(_ohms, three)) for place, three in _by_place(ohms)]
    return {"knobs": knobs, "rows": rows, "note": " ".join(filter(None, notes)), "degree": degree}


def _telling(found: Any) -> Any:
    """Which rows of knobs to show: all up, and each volume of several at 0."""
    moved, nominal = found.data.moved.values, found.data.nominal.values
    several = sum(bool(name) and name not in found.silent_controls for name in moved) > 1
    return [
        row
        for row, name in enumerate(moved)
        if not name or (several and name not in found.silent_controls and nominal[row] > 1)
    ]


def _by_place(ohms: xr.DataArray) -> Iterator[tuple[str, list[float]]]:
    """Give nominal, low and high by place; where a switch changes nothing it is not named."""
    dims = sorted((str(d) for d in ohms.dims if d != "case"), key=lambda d: -ohms.sizes[d])
    ohms = ohms.transpose(*dims, "case")
    # Open stays open: compared as numbers that are equal, never subtracted.
    matters = {
        dim: np.asarray(~np.isclose(ohms.max(dim), ohms.min(dim), rtol=1e-9).all(axis=-1))
        for dim in dims
    }
    seen: set[str] = set()
    for place in np.ndindex(*(ohms.sizes[dim] for dim in dims)):
        here = dict(zip(dims, place, strict=True))
        words = []
        for dim in dims:
            if matters[dim][tuple(here[other] for other in dims if other != dim)]:
                name = str(ohms[dim].values[here[dim]])
                words.append(name if dim == dims[0] else f"{words_of(dim)} {name}")
        if (said := ", ".join(words)) not in seen:
            seen.add(said)
            yield said, ohms.isel(here).values.tolist()


def _ohms(value: float) -> str:
    return "OL" if math.isinf(value) else format_value(value, "ohm", digits=3)


# -- what an ohmmeter cannot see ------------------------------------------------------------------


def _unseen(guitar: Harness) -> Iterator[tuple[str, str]]:
    """Name what no ohmmeter at the jack can see on this guitar, and the test to do instead."""
    pieces = [piece for part in guitar.parts.values() for piece in _pieces(part)]
    pickups = sum(isinstance(part, (Coil, Humbucker)) for part in guitar.parts.values())
    if sum(isinstance(piece, Coil) for piece in pieces) > 1:
        yield (
            "Phase of the pickups and coils",
            "Meter on 0 to 2 V DC, touch the poles of each with a screwdriver: where two are to be "
            "in phase, both kick the same way (on touch, not on lift-off).",
        )
        yield "Magnet polarity", "Compass over the poles, before the pickups go in."
    if any(isinstance(p, Humbucker) and p.connection == "leads" for p in guitar.parts.values()):
        yield (
            "Which leads of a humbucker are joined (bobbins wound alike or opposite)",
            "Ohmmeter: two leads with ohms between them are one coil. Compass: the magnets under "
            "the coils must be opposed. Meter on 0 to 2 V DC, red probe on the finish of each coil "
            "in turn, touch its poles with a screwdriver: kicks of opposite ways mean bobbins "
            "wound alike, whose finishes are joined; kicks of one way mean opposite bobbins, "
            "joined start to finish.",
        )
    if pickups > 1:
        yield (
            "Which of two pickups that read alike",
            "Tap test: amp quiet, tap each pole in each place; only the selected ones knock.",
        )
    if any(isinstance(piece, Capacitor) for piece in pieces):
        yield (
            "A capacitor's value, or an open one",
            "Capacitance range of the meter, one leg lifted.",
        )
    known = roles(guitar)
    if {"volume", "tone"} <= {role.kind for role in known.values()}:
        yield (
            "Modern or 50s wiring",
            "Ohmmeter inside, the volume at 5: 0 \u03a9 from the tone's hot lug to the volume's "
            "input (modern) or output (50s).",
        )
    bleeds = [
        words_of(name)
        for name, role in known.items()
        if role.kind == "treble bleed" and _blocks(guitar.parts[name])
    ]
    if bleeds:
        yield (
            f"{sentence(' and '.join(bleeds))} (passes no direct current)",
            "Capacitance range, one leg lifted; or by ear, volume at 5: the treble stays.",
        )
    yield (
        "Hot and sleeve swapped",
        "Ohmmeter from the plug's sleeve to the strings: 0 \u03a9. Else buzz rises on touching the "
        "strings.",
    )


def _knobs(guitar: Harness) -> int:
    return sum("mark" in part.controls for part in guitar.parts.values())


def _pieces(part: Part) -> Iterator[Part]:
    """Give a part and all parts inside it."""
    yield part
    for inner in part.inner().values():
        yield from _pieces(inner)


def _blocks(part: Part) -> bool:
    """Whether a two-lug part lets no direct current pass."""
    if isinstance(part, Network):
        each = [_blocks(piece) for piece in part.elements]
        return any(each) if part.kind == "series" else all(each)
    return isinstance(part, Capacitor)


# -- pictures -------------------------------------------------------------------------------------


def _schematic(guitar: Harness) -> dict[str, Any]:
    """Draw the schematic without a frame, or say why there is none."""
    from matplotlib.figure import Figure

    from ..schematic.draw import sheet_of
    from ..schematic.sheet import FONT, INCH, apart

    try:
        with style.style(), apart():
            sheet = sheet_of(guitar)
            left, bottom, right, top = sheet.extent()
            left, bottom = left - _MARGIN, bottom - _MARGIN
            right, top = right + _MARGIN, top + _MARGIN
            size = (right - left) * INCH, (top - bottom) * INCH
            figure = Figure(figsize=size)
            figure.set_layout_engine("none")
            ax = figure.add_axes((0, 0, 1, 1))
            ax.set_axis_off()
            # Viewers of PDF may cut a pixel off the first letter of what is centred by the printer.
            sheet.ink(ax, 1.0, from_left=True)
            ax.set_xlim(left, right)
            ax.set_ylim(bottom, top)
            picture = _svg(figure)
    except NotInstalled as error:
        words = f"There is no schematic on this card: {error}"
        return {"picture": "", "form": "", "words": words, "height": 0.0}
    words = " ".join(sheet.notes).replace("the joint list", "the table below")
    height = size[1] * 25.4 * _LEGIBLE / FONT
    return {"picture": picture, "form": sentence(sheet.form), "words": words, "height": height}


def _bench(guitar: Harness) -> str:
    """Draw the bench picture, with its own title and cautions, and close its figure."""
    from matplotlib.figure import Figure

    from ..bench.draw import draw_bench, picture_of, size_of

    figure = Figure(figsize=size_of(picture_of(guitar)))
    figure.set_layout_engine("none")
    ax = figure.add_axes((0, 0, 1, 1))
    draw_bench(guitar, ax, "bench", None)
    with style.style():
        return _svg(figure)


def _response(guitar: Harness, knobs: str) -> dict[str, str]:
    """Draw the level at the output for each place of the switch that has most of them."""
    from matplotlib.figure import Figure

    switches = {n: part for n, part in guitar.parts.items() if isinstance(part, Switch)}
    swept = max(switches, key=lambda name: len(switches[name].places), default=None)
    places = list(switches[swept].places) if swept else []
    drawn = places[: len(style.BUILD_STYLES)]
    settings: dict[str, Any] = {swept: drawn} if swept else {}
    h = response(guitar, settings)
    levels = level_db(at_most_one_family(h))
    with style.style():
        figure = Figure(figsize=_FIGURE)
        ax = figure.add_subplot()
        draw_family(ax, levels, style.VIEW)
        if legend := ax.get_legend():  # beside the curves, which fill a picture this flat
            legend.set_loc("center left")
            legend.set_bbox_to_anchor((1, 0.5))
        picture = _svg(figure)
    said = [
        f"{sentence(levels.attrs['long_name'])} at the {words_of(guitar.output_lug())}, 1 V "
        "induced in each coil",
        knobs,
        *(f"{words_of(name)} {part.place}" for name, part in switches.items() if name != swept),
        *([f"{len(drawn)} of {len(places)} places"] if len(drawn) < len(places) else []),
        *assumed(h),
    ]
    title = f"Response in each place of the {words_of(swept)}" if swept else "Response"
    return {"picture": picture, "title": title, "caption": f"{'; '.join(said)}."}


def _svg(figure: Figure) -> str:
    """Write a figure as an image that stands by itself; text stays text, in the reader's font."""
    from matplotlib import rc_context

    with rc_context({"svg.fonttype": "none"}):
        content = picture(figure, "svg")
    return embedded(content, "svg")
