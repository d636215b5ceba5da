"""What the product can do, one small function for each ability: the only file that knows names.

A renaming touches this file and leaves the goldens alone. Names of abilities are stable: they say
what a person gets, not what is called. Whatever is random has its seed here.
"""

from __future__ import annotations

import contextlib
import dataclasses
import io
import json
import re
import shutil
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import xarray as xr

import guitarnet as gn
from exercises.checking import Checked, Exercise, check

from .course import cells_of, run_cells
from .drawings import drawn
from .names import face
from .record import Missing, ability

PROJECT = Path(__file__).resolve().parents[2]
DATA = PROJECT / "examples" / "data"
# Text files that an example or a verb leaves are kept whole; pictures and pages by name only.
_AS_TEXT = {".txt", ".csv", ".toml"}

F = [50.0, 100.0, 300.0, 1000.0, 2500.0, 4000.0, 6000.0, 10000.0]
"""Frequencies of most responses [Hz]."""

T = TypeVar("T")


def a(kind: type[T], value: Any) -> T:
    """Hold a result to the public type that it is promised to have."""
    if not isinstance(value, kind):
        raise TypeError(f"{type(value).__name__} is no {kind.__name__}")
    return value


def table_of(found: xr.Dataset) -> dict[str, Any]:
    """Every quantity of a result, by name."""
    return {str(name): found[name] for name in found.data_vars}


def labels_of(found: xr.DataArray) -> dict[str, Any]:
    """Dimensions, coordinates, units and descriptions of an array, without its numbers."""
    return {
        "name": found.name,
        "dimensions": list(found.dims),
        "coordinates": {
            str(name): {
                "along": list(coord.dims),
                "values": coord.values,
                "described": {str(k): str(v) for k, v in coord.attrs.items()},
            }
            for name, coord in found.coords.items()
            if name != "frequency" or coord.size < 20
        },
        "described": {str(k): str(v) for k, v in found.attrs.items()},
    }


def refused(call: Callable[[], Any]) -> str:
    """Say what a refusal says; that nothing is refused is said too."""
    try:
        call()
    except gn.GuitarnetError as error:
        return f"{_KINDS[type(error)]}: {error}"
    return "(not refused)"


_KINDS = {
    gn.errors.BadFile: "file",
    gn.errors.BadHarness: "harness",
    gn.errors.BadSetting: "setting",
    gn.errors.BadValue: "value",
    gn.errors.NoSolution: "no solution",
    gn.errors.NotExpressible: "not expressible",
    gn.errors.NotFinished: "not finished",
    gn.errors.NotInstalled: "not installed",
    gn.errors.TooLarge: "too large",
    gn.errors.Unusual: "unusual",
}


# -- guitars that the abilities share -------------------------------------------------------------

NECK = gn.Pickup("6.0k", "2.3 H", "110p")
MIDDLE = gn.Pickup("6.2k", "2.4 H", "120p", winding=-1, magnet=-1)
BRIDGE = gn.Pickup("6.8k", "2.8 H", "130p")
LOSSY = gn.Pickup("8k", "3.5 H", "140p", eddy_resistance="180k", eddy_share="40%")
LEADS = gn.Humbucker(
    gn.Coil("4.1k", "2.2 H", "100p"), gn.Coil("4.3k", "2.3 H", "110p"), connection="leads"
)
OTHER_LEADS = gn.Humbucker(
    gn.Coil("4.4k", "2.5 H", "105p"), gn.Coil("4.6k", "2.6 H", "115p"), connection="leads"
)
BASS = gn.Pickup("7.5k", "3.8 H", "150p")


@cache
def main_guitar() -> gn.Harness:
    """The guitar of the first question: a single coil, a bleed, five metres of cable."""
    return gn.layouts.one_pickup(
        gn.Pickup("6.2k", "2.4 H", "120p"),
        volume=gn.Pot("250k", gn.audio_taper(0.15)),
        treble_bleed=gn.parallel_bleed("1n", "150k"),
        cable=gn.Cable("5 m", "100 pF/m"),
    )


def of_named_leads() -> gn.Harness:
    """A guitar of two humbuckers whose bobbins are wound otherwise, and whose leads are named."""
    coil = gn.Coil("4k", "2 H", "100p")
    names = {"coil_1_start": "black", "coil_1_finish": "white"}
    neck = gn.Humbucker(coil, coil, connection="leads", bobbins="opposite", lead_names=names)
    return gn.layouts.two_humbuckers_push_pull(neck, neck.replace("bobbins", "alike"))


def of_one_wire(guitar: gn.Harness) -> gn.Harness:
    """The same guitar, of whose pickups the wire is known."""
    for name in ("neck", "middle", "bridge"):
        guitar = guitar.replace(f"{name}.wire", "AWG 42")
    return guitar


@cache
def three() -> gn.Harness:
    """Three single coils with a five-way lever, of which the middle one is reversed."""
    return gn.layouts.three_single_coils(NECK, MIDDLE, BRIDGE, treble_bleed="150k || 1n")


@cache
def guitars() -> dict[str, gn.Harness]:
    """Every ready layout, in every wiring and choice that it has."""
    layouts = gn.layouts
    singles = (NECK, BRIDGE)
    all_three = (NECK, MIDDLE, BRIDGE)
    found: dict[str, gn.Harness] = {"pickup alone": layouts.pickup_alone(BRIDGE)}
    for wiring in layouts.WIRINGS:
        found[f"one pickup, {wiring}"] = layouts.one_pickup(
            LOSSY, wiring=wiring, treble_bleed="680p"
        )
    found["one pickup, no tone"] = layouts.one_pickup(BRIDGE, tone=None)
    found["two single coils"] = layouts.two_single_coils(*singles)
    found["two single coils, four-way"] = layouts.two_single_coils_four_way(*singles)
    found["two stacked pairs"] = layouts.two_stacked_pairs(*singles)
    for tones in ("neck and middle", "neck and bridge"):
        found[f"three single coils, tones {tones}"] = layouts.three_single_coils(
            *all_three, tones=tones
        )
        found[f"one humbucker and two single coils, tones {tones}"] = layouts.hss(
            NECK, MIDDLE, LEADS, tones=tones, single_coil_resistor="470k"
        )
    found["three single coils, blender"] = layouts.three_single_coils_blender(*all_three)
    for wiring in layouts.WIRINGS:
        found[f"two humbuckers, {wiring}"] = layouts.two_humbuckers(
            BRIDGE, LOSSY, wiring=wiring, treble_bleed="1n"
        )
    found["two humbuckers, rotary"] = layouts.two_humbuckers_rotary(LEADS, OTHER_LEADS)
    found["two humbuckers, push-pulls"] = layouts.two_humbuckers_push_pull(LEADS, OTHER_LEADS)
    for pull in layouts.PULLS:
        found[f"two humbuckers, neck tone pulls {pull}"] = layouts.two_humbuckers_push_pull(
            LEADS,
            OTHER_LEADS,
            neck_volume_pull=None,
            bridge_volume_pull=None,
            neck_tone_pull=pull,
            wiring="50s",
        )
    found["bass, two volumes"] = layouts.bass_two_volumes(BASS, BRIDGE)
    for blending in layouts.BLENDINGS:
        found[f"bass, blend {blending}"] = layouts.bass_blend(BASS, BRIDGE, blending=blending)
    found["rotary tone"] = layouts.rotary_tone(BRIDGE)
    found["rotary notch"] = layouts.rotary_notch(BRIDGE)
    for control in layouts.BASS_CUTS:
        found[f"bass cut by {control}"] = layouts.bass_cut(BRIDGE, control=control)
    return found


def positions_of(guitar: gn.Harness) -> dict[str, tuple[str, ...]]:
    """Switches of a guitar with their positions."""
    return {n: part.places for n, part in guitar.parts.items() if isinstance(part, gn.Switch)}


def knobs_of(guitar: gn.Harness) -> list[str]:
    """Knobs of a guitar."""
    return [n for n, part in guitar.parts.items() if isinstance(part, (gn.Pot, gn.BlendPot))]


def at_all_positions(guitar: gn.Harness) -> dict[str, list[str]]:
    """A setting that sweeps every switch over all its positions."""
    return {name: list(places) for name, places in positions_of(guitar).items()}


# -- all layouts ----------------------------------------------------------------------------------


@ability("response of every layout at every position and knob")
def _() -> Any:
    found = {}
    for label, guitar in guitars().items():
        own = {
            "knobs up, all positions": gn.response(guitar, frequency=F, **at_all_positions(guitar))
        }
        for knob in knobs_of(guitar):
            own[f"{knob} at 7, 5, 2, 0"] = gn.response(guitar, frequency=F, **{knob: [7, 5, 2, 0]})
        found[label] = own
    return found


@ability("ohms at the jack of every layout at every position and knob")
def _() -> Any:
    found = {}
    for label, guitar in guitars().items():
        if "jack" not in guitar.parts:
            continue
        own = {"knobs up, all positions": gn.jack_resistance(guitar, **at_all_positions(guitar))}
        for knob in knobs_of(guitar):
            own[f"{knob} at 7, 5, 2, 0"] = gn.jack_resistance(guitar, **{knob: [7, 5, 2, 0]})
        found[label] = own
    return found


@ability("impedance of every layout, at the jack and with the amp")
def _() -> Any:
    return {
        label: {
            at: gn.impedance(
                guitar, frequency=[100.0, 1000.0, 5000.0], at=at, **at_all_positions(guitar)
            )
            for at in ("jack", "amp")
        }
        for label, guitar in guitars().items()
    }


@ability("truth table of every layout")
def _() -> Any:
    return {label: str(gn.truth_table(guitar)) for label, guitar in guitars().items()}


@ability("what every position selects, for a program")
def _() -> Any:
    found = {}
    for label, guitar in guitars().items():
        found[label] = [
            {
                "setting": one.setting,
                "coils": one.coils,
                "how": one.how,
                "weights": one.weights,
                "controls": one.controls,
                "capacitors": one.capacitors,
            }
            for one in (a(gn.bench.Selection, row) for row in gn.bench.selections(guitar))
        ]
    return found


@ability("joints, parts and captions of every layout", quick=True)
def _() -> Any:
    found: dict[str, Any] = {"parts": str(main_guitar().part_table())}
    for label, guitar in guitars().items():
        found[label] = {
            "in words": str(guitar),
            "joints": str(a(gn.Table, guitar.joints())),
            "assumed": guitar.assumptions(),
            "in short": guitar.summary(),
        }
    return found


@ability("harness file of every layout, written and read again")
def _() -> Any:
    found = {}
    for label, guitar in guitars().items():
        path = gn.save_harness(guitar, "guitar.toml", comment="a line of comment")
        again = gn.load_harness(path)
        if again != guitar or gn.harness_from_dict(gn.harness_to_dict(guitar)) != guitar:
            raise AssertionError(f"{label}: the file gives another guitar")
        found[label] = Path(path).read_text(encoding="utf-8")
    return found


@ability("SPICE text of every layout", quick=True)
def _() -> Any:
    return {
        label: gn.formulas.to_spice(guitar, frequency=(50, 15e3), per_decade=6)
        for label, guitar in guitars().items()
    }


@ability("expected readings of every layout", within=1e-6, seed=0)
def _() -> Any:
    found = {}
    for label, guitar in guitars().items():
        if not positions_of(guitar) or len(positions_of(guitar)) == 1:
            expected = a(gn.bench.ExpectedReadings, gn.expected_readings(guitar, count=200, seed=0))
            found[label] = {
                "table": str(expected.table()),
                "controls that the meter cannot see": expected.silent_controls,
            }
    return found


@ability("noise table of every layout")
def _() -> Any:
    found = {}
    for label, guitar in guitars().items():
        knob = next((k for k in knobs_of(guitar) if "volume" in k), None)
        if knob:
            found[label] = str(gn.audio.noise_table(guitar, marks=[10, 5, 0], knob=knob))
    return found


@ability("hum table of every layout")
def _() -> Any:
    return {
        label: str(gn.audio.hum_table(guitar, switch=next(iter(positions_of(guitar)))))
        for label, guitar in guitars().items()
        if positions_of(guitar)
    }


@ability("number and kinds of faults of every layout")
def _() -> Any:
    found = {}
    for label in (
        "one pickup, modern",
        "three single coils, tones neck and middle",
        "two humbuckers, modern",
        "two humbuckers, rotary",
        "bass, blend independent",
        "rotary notch",
    ):
        every = a(gn.bench.Faults, gn.bench.faults(guitars()[label]))
        found[label] = [f"{a(gn.bench.Fault, one).kind}: {one.label}" for one in every]
    return found


PICTURED = (
    "one pickup, modern",
    "three single coils, tones neck and middle",
    "two humbuckers, rotary",
    "bass, blend independent",
    "rotary notch",
)
"""Layouts whose schematic is kept as a picture too."""


@ability("drawn schematic of every layout: what it joins and says")
def _() -> Any:
    from guitarnet.show.schematic.draw import sheet_of
    from guitarnet.show.schematic.sheet import drawn_groups

    found = {}
    for label, guitar in guitars().items():
        sheet = sheet_of(guitar)
        shown = drawn(gn.draw(guitar), name=label if label in PICTURED else "")
        lines = [axes.pop("lines", []) for axes in shown["axes"]]
        found[label] = {
            "form": sheet.form,
            "followed": sorted(
                " ".join(sorted(group)) for group in drawn_groups(sheet) if len(group) > 1
            ),
            "lines": sum(map(len, lines)),
            **shown,
        }
    return found


@ability("diagram of connections of a guitar that has no schematic")
def _() -> Any:
    found = {}
    for label, axes in {
        "asked for": gn.draw(main_guitar(), view="connections", title="Connections"),
        "own harness": gn.draw(own_harness()),
    }.items():
        shown = drawn(axes, name=label)
        lines = [one.pop("lines", []) for one in shown["axes"]]
        found[label] = {"lines": sum(map(len, lines)), **shown}
    return found


# -- a harness of one's own -----------------------------------------------------------------------


def own_harness() -> gn.Harness:
    """A harness joined by hand, as in the lesson: a blower switch past the controls."""
    return gn.Harness(
        parts={
            "pickup": BRIDGE,
            "blower": gn.switches.double_throw(("normal", "straight out"), poles=1),
            "volume": gn.Pot("500k", "audio 10%"),
            "drain": gn.Resistor("2.2M"),
            "jack": gn.Jack(),
        },
        joined=[
            ("pickup.hot", "blower.a"),
            ("blower.a1", "volume.high"),
            ("volume.wiper", "blower.a2", "drain.a", "jack.tip"),
            ("pickup.ground", "volume.low", "drain.b", "jack.sleeve"),
        ],
        name="own",
    ).plugged("3 m", "1M")


@ability("harness joined, edited and looked at lug by lug", quick=True)
def _() -> Any:
    guitar = main_guitar()
    bare = gn.Harness(
        {"pickup": BRIDGE, "jack": gn.Jack()},
        [("pickup.hot", "jack.tip"), ("pickup.ground", "jack.sleeve")],
    )
    grown = bare.add("shunt", gn.Capacitor("470p")).join("shunt.a", "jack.tip")
    grown = grown.join("shunt.b", "jack.sleeve").plugged("3 m", "1M")
    lifted = guitar.lift("volume.wiper")
    changed = guitar.replace("volume.resistance", "500k").replace("cable.length", "3 m")
    tried = {
        "own": own_harness(),
        "grown": grown,
        "tone lug left open": guitar.add("spare", None).leave_open("spare.a", "spare.b"),
        "volume wiper lifted": lifted,
        "other volume and cable": changed,
        "no bleed": guitar.replace("treble_bleed", None),
    }
    for one in tried.values():
        one.check()
    return {
        "joints": {name: str(one.joints()) for name, one in tried.items()},
        "responses": {
            name: gn.response(one, frequency=F, volume=[10, 5])
            for name, one in tried.items()
            if "volume" in one.parts
        },
        "grown": gn.response(grown, frequency=F),
        "joined lugs": guitar.joined,
        "node of the tip": guitar.node("jack.tip"),
        "ground": guitar.ground,
        "output": guitar.output_lug(),
        "the only volume": guitar.only(gn.Jack),
        "path": guitar.split("cable.length"),
        "name": guitar.name,
    }


@ability("netlist of a guitar, branch by branch", quick=True)
def _() -> Any:
    net = a(gn.formulas.Netlist, three().replace("switch.place", "neck+middle").netlist(volume=5))
    return {
        "nodes": net.nodes(),
        "sources": net.sources(),
        "branches": [
            [one.name, one.kind, one.nodes, one.value, one.loss, one.between]
            for one in (a(gn.formulas.Branch, branch) for branch in net.branches.values())
        ],
    }


@ability("netlist of one's own, solved", quick=True)
def _() -> Any:
    net = gn.formulas.Netlist(ground="0")
    net.source("V", "in", "0")
    net.resistor("R", "in", "mid", 10e3)
    net.inductor("L", "mid", "out", 2.0)
    net.inductor("L2", "other", "0", 1.5)
    net.resistor("R2", "other", "0", 50e3)
    net.mutual("M", "L", "L2", 0.3)
    net.follower("buffer", "copy", "0", "out", "0")
    net.resistor("behind", "copy", "0", 1e5)
    net.capacitor("C", "out", "0", 1e-9, loss=0.02)
    net.resistor("load", "out", "0", xr.Variable("load", [1e5, 1e6]))
    f = np.array([100.0, 1000.0, 3000.0])
    swept = net.dims()
    net.check_node("out")
    return {
        "swept": swept,
        "voltage": gn.formulas.node_voltage(net, "out", f, dims=list(swept)),
        "impedance": gn.formulas.node_impedance(net, "out", f, dims=list(swept)),
    }


# -- parts and values -----------------------------------------------------------------------------

WRITTEN = {
    "ohm": ["250k", "6.2 kΩ", "6k2", "1M", "2M2", "470", "0", "6.2 kohm", 250000, "OL"],
    "F": ["22n", "0.022uF", "0.022 µF", "120p", "223J", "1n5", "22nF", "680 pF", "100 pF", 2.2e-8],
    "H": ["2.4 H", "2400 mH", "2.4", 2.4],
    "Hz": ["1k", "3.5 kHz", "100 Hz", 440],
    "m": ["5 m", "20 ft", "648 mm", "25.5 in", "3"],
    "F/m": ["100 pF/m", "30 pF/ft", "100p"],
    "V": ["100 mV", "0.1"],
    "number": ["15%", "0.15", "2", 3],
}


@ability("values as people write them", quick=True)
def _() -> Any:
    found = {}
    for unit, written in WRITTEN.items():
        for one in written:
            try:
                found[f"{one!r} as {unit}"] = gn.values.read_value(one, unit, marking=unit == "F")
            except gn.GuitarnetError as error:
                found[f"{one!r} as {unit}"] = str(error)
    return found


@ability("values written for people", quick=True)
def _() -> Any:
    values = [0.0, 2.2e-8, 1.2e-10, 6200.0, 6249.9, 250e3, 1e6, 2.4, 0.0123, 999.96, float("inf")]
    return {
        unit: [gn.values.format_value(value, unit) for value in values]
        for unit in ("ohm", "F", "H", "Hz")
    } | {"two digits": [gn.values.format_value(value, "ohm", digits=2) for value in values]}


@ability("markings and preferred values", quick=True)
def _() -> Any:
    codes = ["223", "102", "100", "471", "105"]
    return {
        "marking": {one: gn.values.marking(one) for one in ("22n", "1n", "470p", "100n", "2.2n")},
        "read": {code: gn.values.read_marking(code) for code in codes},
        "usual": gn.values.usual_values().rows,
        "nearest": {s: gn.values.nearest_preferred("5.3k", s) for s in ("E6", "E12", "E24", "E96")},
        "from 1k to 10k": {
            s: gn.values.preferred_values(s, "1k", "10k") for s in ("E3", "E6", "E12", "E24", "E48")
        },
    }


TAPERS: dict[str, Callable[[], Any]] = {
    "linear": lambda: gn.linear_taper(),
    "linear, dead ends": lambda: gn.linear_taper(dead_zone=0.05),
    "linear, dead below": lambda: gn.linear_taper(dead_zone=(0.1, 0.02)),
    "audio 15%": lambda: gn.audio_taper("15%"),
    "audio 10%, knee at 0.6": lambda: gn.audio_taper(0.1, 0.6),
    "audio 15%, exponential": lambda: gn.audio_taper(0.15, shape="exponential"),
    "audio 20%, dead ends": lambda: gn.audio_taper(0.2, dead_zone=0.03),
    "reverse audio 15%": lambda: gn.reverse_audio_taper(0.15),
    "reverse audio 10%, exponential": lambda: gn.reverse_audio_taper("10%", shape="exponential"),
    "no-load linear": lambda: gn.no_load("linear"),
    "no-load audio": lambda: gn.no_load(gn.audio_taper(0.15)),
    "measured": lambda: gn.measured_taper([0, 150, 300], [0, 37, 250]),
    "measured, travel": lambda: gn.measured_taper(
        [5, 60, 150, 240, 280],
        ["2 ohm", "9k", "40k", "170k", "248k"],
        travel=(0, 300),
        stretch=True,
    ),
    "of words: linear": lambda: gn.taper("linear"),
    "of words: audio 15%": lambda: gn.taper("audio 15%"),
    "of words: reverse audio 10%": lambda: gn.taper("reverse audio 10%"),
    "of words: no-load": lambda: gn.taper("audio 15%, no-load"),
    "letter A, today": lambda: gn.taper("A", convention="today"),
    "letter A, old": lambda: gn.taper("A", convention="old"),
    "letter B, today": lambda: gn.taper("B", convention="today"),
    "letter C, today, 10%": lambda: gn.taper("C", convention="today", half="10%"),
}


@ability("every taper over its travel", quick=True)
def _() -> Any:
    travel = [0.0, 0.02, 0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 0.98, 1.0]
    found = {}
    for name, make in TAPERS.items():
        law = a(gn.Taper, make())
        found[name] = {
            "called": law.name,
            "track": [float(law(x)) for x in travel],
            "opens at full": law.opens_at_full,
        }
    return found


@ability("every taper in a guitar: level and ohms at each mark", quick=True)
def _() -> Any:
    marks = [10, 8, 5, 3, 1, 0]
    found = {}
    for name, make in TAPERS.items():
        law = make()
        if law.opens_at_full:
            guitar = main_guitar().replace("tone", gn.Pot("250k", law))
            found[name] = gn.response(guitar, frequency=[1000.0, 5000.0], tone=marks)
        else:
            guitar = main_guitar().replace("volume", gn.Pot("250k", law, end_resistance="1%"))
            h = gn.response(guitar, frequency=[100.0, 3500.0], volume=marks)
            ohms = gn.jack_resistance(guitar, volume=marks)
            found[name] = {"response": h, "ohms": ohms, "in words": guitar.parts["volume"].label()}
    return found


PARTS: dict[str, Callable[[], Any]] = {
    "pickup": lambda: gn.Pickup("6.2k", "2.4 H", "120p"),
    "pickup, told all": lambda: gn.Pickup(
        "8k",
        "3.5 H",
        "140p",
        eddy_resistance="180k",
        eddy_share="40%",
        screening_frequency="3 kHz",
        tolerance="4%",
        winding=-1,
        magnet=-1,
        signal=0.8,
        source="invented",
    ),
    "pickup, broken": lambda: gn.Pickup("6.2k", "2.4 H", "120p", broken=True),
    "pickup, measured": lambda: gn.Pickup(
        gn.Measured("6.14k", accuracy="0.5%", at="17 C", thermometer="0.5 K"), "2.4 H", "120p"
    ),
    "coil": lambda: gn.Coil("4.1k", "2.2 H", "100p"),
    "humbucker": lambda: gn.Humbucker(gn.Coil("4k", "2 H", "90p"), gn.Coil("4.2k", "2.1 H", "95p")),
    "humbucker, leads": lambda: LEADS,
    "tapped coil": lambda: gn.tapped(gn.Coil("8k", "4 H", "120p"), "60%"),
    "pot": lambda: gn.Pot("250k", "audio 15%"),
    "pot, ends": lambda: gn.Pot("500k", "linear", tolerance="10%", end_resistance=("2 ohm", "1%")),
    "blend pot": lambda: gn.BlendPot("250k"),
    "blend pot, audio": lambda: gn.BlendPot("500k", "audio 15%"),
    "capacitor": lambda: gn.Capacitor("22n"),
    "capacitor with losses": lambda: gn.Capacitor(
        "22n",
        tolerance="5%",
        dissipation_factor=0.02,
        series_resistance="30 ohm",
        parallel_resistance="50M",
    ),
    "resistor": lambda: gn.Resistor("150k", tolerance="1%", source="invented"),
    "choke": lambda: gn.Choke("1.5 H", "90 ohm", "50p"),
    "empty place": lambda: gn.Empty(),
    "in series": lambda: gn.in_series(gn.Capacitor("1n"), gn.Resistor("130k")),
    "in parallel": lambda: gn.in_parallel(gn.Capacitor("1n"), gn.Resistor("150k")),
    "bleed, capacitor": lambda: gn.capacitor_bleed("1n"),
    "bleed, parallel": lambda: gn.parallel_bleed("1n", "150k"),
    "bleed, series": lambda: gn.series_bleed("1.2n", "130k"),
    "bleed of words": lambda: gn.bleed("100k + (1n || 470k)"),
    "jack": lambda: gn.Jack(),
    "cable": lambda: gn.Cable("5 m"),
    "cable, told all": lambda: gn.Cable(
        "20 ft",
        "40 pF/ft",
        resistance_per_metre=0.3,
        insulation_resistance="50M",
        source="invented",
    ),
    "cable with a tolerance": lambda: gn.Cable("5 m", tolerance="5%"),
    "amp": lambda: gn.AmpInput("1M"),
    "amp with a tolerance": lambda: gn.AmpInput("1M", tolerance="1%"),
    "amp behind a grid resistor": lambda: gn.AmpInput("1M", "100p", "68k"),
    "five-way lever": lambda: gn.switches.five_way_lever(),
    "four-way lever": lambda: gn.switches.four_way_lever(),
    "three-way toggle": lambda: gn.switches.three_way_toggle(),
    "double throw": lambda: gn.switches.double_throw(),
    "on-on-on": lambda: gn.switches.on_on_on(),
    "rotary": lambda: gn.switches.rotary(2, ["a", "b", "c", "d"]),
}
_PART_CLASSES = (
    gn.AmpInput,
    gn.BlendPot,
    gn.Cable,
    gn.Capacitor,
    gn.Choke,
    gn.Coil,
    gn.Empty,
    gn.Humbucker,
    gn.Jack,
    gn.Network,
    gn.Pickup,
    gn.Pot,
    gn.Resistor,
    gn.Switch,
)


@ability("every kind of part: words, lugs, values, tolerances", quick=True)
def _() -> Any:
    found = {}
    for name, make in PARTS.items():
        part = make()
        if not isinstance(part, _PART_CLASSES):
            raise TypeError(name)
        found[name] = {
            "called": part.called(),
            "in words": part.label(),
            "stands": part.caption(),
            "table": str(part.table()),
            "lugs": list(part.lugs),
            "main value": part.main or "",
            "knobs": list(part.controls),
            "settable": {
                key: [one.unit, one.above if hasattr(one, "above") else None]
                for key, one in part.settable().items()
            },
            "kinds that can be swept": list(part.categories()),
            "short names": dict(part.aliases()),
            "parts inside": list(part.inner()),
            "tolerances": part.tolerances(),
            "source": getattr(part, "source", ""),
        }
        if isinstance(part, gn.Switch):
            found[name]["contacts"] = part.contacts
            found[name]["all its lugs"] = part.all_lugs
    return found


@ability("every kind of two-lug part across the jack: response", quick=True)
def _() -> Any:
    found = {}
    for name, make in PARTS.items():
        part = make()
        if tuple(part.lugs) == ("a", "b"):
            guitar = main_guitar().add("extra", part)
            guitar = guitar.join("extra.a", "jack.tip").join("extra.b", "jack.sleeve")
            found[name] = {
                "response": gn.response(guitar, frequency=F, volume=[10, 5]),
                "assumed": guitar.assumptions(),
            }
    return found


@ability("every kind of pickup and connection: response, ohms, SPICE text", quick=True)
def _() -> Any:
    coils = gn.Coil("4k", "2 H", "90p"), gn.Coil("4.4k", "2.3 H", "95p", winding=-1, magnet=-1)
    made = {
        f"humbucker, {connection}": gn.Humbucker(*coils, connection=connection)
        for connection in gn.values.CONNECTIONS
        if connection != "leads"
    }
    made |= {name: PARTS[name]() for name in ("pickup", "pickup, told all", "coil", "tapped coil")}
    made |= {name: gn.ready_pickup(name) for name in list(gn.ready_pickups)[::8]}
    found = {}
    for name, pickup in made.items():
        guitar = gn.layouts.one_pickup(pickup)
        found[name] = {
            "in words": pickup.label(),
            "assumed": guitar.assumptions(),
            "response": gn.response(guitar, frequency=F),
            "hum": gn.response(guitar, frequency=F, source="hum"),
            "ohms": gn.jack_resistance(guitar),
            "SPICE": gn.formulas.to_spice(guitar, frequency=(50, 15e3), per_decade=6),
        }
    return found


@ability("every ready amp, pedal and buffer: words and response", quick=True)
def _() -> Any:
    found = {}
    for name in gn.values.amp_inputs:
        amp = a(gn.AmpInput, gn.amp_input(name))
        guitar = main_guitar().replace("amp", amp)
        found[name] = {
            "in words": amp.label(),
            "source": amp.source,
            "response": gn.response(guitar, frequency=F, volume=[10, 5]),
            "behind the grid resistor": gn.response(guitar, frequency=F, at="grid"),
        }
    return found


@ability("losses of every part: response", quick=True)
def _() -> Any:
    odd = gn.layouts.one_pickup(
        PARTS["pickup, told all"](),
        volume=PARTS["pot, ends"](),
        tone=gn.Pot("250k", "reverse audio 15%, no-load"),
        tone_capacitor=PARTS["capacitor with losses"](),
        treble_bleed=PARTS["bleed of words"](),
        cable=PARTS["cable, told all"](),
        amp=gn.amp_input("tube amp"),
    )
    return {
        "response": gn.response(odd, frequency=F, volume=[10, 5, 1, 0], tone=[10, 4]),
        "ohms": gn.jack_resistance(odd, volume=[10, 5, 0], coil_temperature=[20, 35]),
        "impedance": gn.impedance(odd, frequency=F, volume=[10, 5]),
        "assumed": odd.assumptions(),
        "SPICE": gn.formulas.to_spice(odd, volume=5, at="grid"),
    }


@ability("treble bleeds as written on the bench", quick=True)
def _() -> Any:
    written = [
        "1n",
        "680 pF",
        "150k || 1n",
        "1n || 150k",
        "130k + 1.2n",
        "100k + (1n || 470k)",
        "150k",
        "(680p + 150k) || 4M7",
        None,
        "none",
    ]
    found = {}
    for one in written:
        try:
            part = gn.bleed(one)
            found[str(one)] = part.label() if part is not None else "no part"
        except gn.GuitarnetError as error:
            found[str(one)] = str(error)
    return found


@ability("windings, wire and warm copper", quick=True)
def _() -> Any:
    bobbin: Any = {"core_length": "60 mm", "core_width": "5 mm", "traverse": "11 mm"}
    wires = ["AWG 42", "AWG 43", "0.063 mm", "AWG 44"]
    by_turns = a(gn.windings.Winding, gn.windings.winding("AWG 42", turns=8000, **bobbin))
    by_ohms = gn.windings.winding(
        "AWG 43",
        resistance="7k",
        flange_width="14 mm",
        build="0.01 mm",
        packing="70%",
        temperature=25,
        conductivity=0.98,
        **bobbin,
    )
    return {
        "diameter": {one: gn.windings.wire_diameter(one) for one in wires},
        "ohms a metre": {one: gn.windings.wire_resistance(one, temperature=30) for one in wires},
        "rounded": [
            gn.windings.wire_diameter("AWG 42", rounded=True),
            gn.windings.wire_resistance("AWG 43", rounded=True),
            gn.windings.winding("AWG 44", turns=8000, rounded=True, **bobbin).resistance,
        ],
        "wires": str(gn.windings.wire_table()),
        "by turns": str(by_turns.table()),
        "by ohms": str(by_ohms),
        "numbers": [by_turns.turns, by_turns.resistance, by_ohms.turns, by_ohms.wire_length],
        "other turns": gn.windings.inductance_by_turns("2.4 H", 8000, 9000),
        "warm": gn.windings.resistance_at("6.2k", 35.0, measured_at=18.0),
        "triode": gn.values.triode_input_capacitance("1.6p", "1.7p", 60),
    }


# -- responses and what is read from them ---------------------------------------------------------


@ability("response of the main guitar at volume 10 and 5", quick=True)
def _() -> Any:
    return gn.response(main_guitar(), frequency=F, volume=[10, 5])


@ability("labels of a sweep over knobs, cables, tapers, bleeds and positions", quick=True)
def _() -> Any:
    h = gn.response(
        main_guitar(),
        frequency=[1000.0],
        volume=[10, 5],
        **{"cable.length": ["1 m", "20 ft"], "volume.taper": ["linear", "audio 15%"]},
    )
    bled = gn.response(main_guitar(), frequency=[1000.0], treble_bleed=[None, "1n", "150k || 1n"])
    placed = gn.response(three(), frequency=[1000.0], switch=["neck", "neck+middle"])
    zipped = gn.response(
        main_guitar(),
        frequency=[1000.0],
        volume=xr.DataArray([10.0, 5.0], dims="case"),
        tone=xr.DataArray([10.0, 2.0], dims="case"),
    )
    ways = {"swept": h, "bleeds": bled, "positions": placed, "pointwise": zipped}
    return {
        **{name: labels_of(one) for name, one in ways.items()},
        "numbers": ways,
        "measured": {
            str(name): labels_of(one) for name, one in gn.peak(gn.response(main_guitar())).items()
        },
        "level": labels_of(gn.level_db(h, re="reference")),
    }


@ability("a sweep of many values at once", quick=True)
def _() -> Any:
    return gn.response(
        three(),
        frequency=[300.0, 3000.0],
        switch=["neck", "middle+bridge"],
        volume=[10, 6, 2],
        tone_1=[10, 0],
        **{
            "cable.length": ["1 m", "6 m"],
            "tone_capacitor": ["22n", "47n"],
            "neck.inductance": ["2 H", "2.6 H"],
        },
    )


@ability("guitars side by side, pickups one by one, hum as source", quick=True)
def _() -> Any:
    builds = {
        "plain": main_guitar().replace("treble_bleed", None),
        "bled": main_guitar(),
        "50s": gn.layouts.one_pickup(BRIDGE, wiring="50s"),
    }
    h = gn.response(builds, frequency=F, volume=[10, 5])
    return {
        "labels": labels_of(h),
        "numbers": h,
        "dimension of another name": gn.response(builds, frequency=F, dim="guitar").dims,
        "each pickup": gn.response(three(), frequency=F, switch="neck+middle", pickups="each"),
        "hum": gn.response(three(), frequency=F, switch=["neck", "neck+middle"], source="hum"),
        "reference elsewhere": gn.level_db(
            gn.response(main_guitar(), frequency=F, reference_frequency="200 Hz"), re="reference"
        ),
    }


@ability("settings as one mapping, at every question", within=1e-6)
def _() -> Any:
    """One mapping in place of keywords, a path of the parts list in it; sizes without phases."""
    guitar = main_guitar().replace("treble_bleed", "150k || 1n")
    marks = {"volume": [10, 5], "treble_bleed.capacitor": ["1n", "680p"]}
    one = {"volume": 5, "treble_bleed.resistor": "120k"}
    cheap = {"forms": ["capacitor"], "series": "E6"}
    bare = main_guitar().replace("treble_bleed", None)
    goal = gn.choosing.Goal("peak frequency", near="4 kHz", within="50%")
    told = gn.tolerances.spread(guitar, 20)
    click = gn.audio.sound([1.0, 0.0], rate=8000)
    return {
        "response": gn.response(guitar, marks, frequency=F),
        "sizes": gn.response(guitar, marks, frequency=F, sizes=True),
        "whole parts": gn.response(
            guitar, {"treble_bleed.capacitor": [gn.Capacitor("1n")]}, frequency=F
        ),
        "peak": table_of(gn.peak(guitar, marks)),
        "upper limit": gn.bandwidth(guitar, marks),
        "impedance": gn.impedance(guitar, marks, frequency=F),
        "jack": gn.jack_resistance(guitar, marks),
        "lugs": gn.bench.lug_resistance(guitar, "jack.tip", "volume.high", marks),
        "capacitance": table_of(gn.bench.jack_capacitance(guitar, marks)),
        "of lugs": table_of(gn.bench.lug_capacitance(guitar, "jack.tip", "volume.high", marks)),
        "reading": gn.bench.ResistanceReading("6k", {"volume": 5}).label(),
        "selections": len(gn.bench.selections(three(), {"switch": ["neck", "middle"]})),
        "table": str(gn.truth_table(three(), {"switch": "neck", "volume": [10, 5]})),
        "hum": table_of(gn.audio.hum(guitar, {"volume": [10, 5]})),
        "hum by place": str(gn.audio.hum_table(three(), {"volume": 5})),
        "turns": str(gn.windings.turns_table(three())),
        "turns given": str(
            gn.windings.turns_table(
                gn.layouts.two_single_coils(
                    gn.Pickup("6k", "2.3 H", "110p", turns=7600, wire="AWG 42"),
                    gn.Humbucker(
                        gn.Coil("4k", "2 H", "100p", turns=5000, wire="0.063 mm"),
                        gn.Coil("4.2k", "2.1 H", "100p"),
                    ),
                )
            )
        ),
        "turns by wire": str(gn.windings.turns_table(three().replace("neck.wire", "AWG 42"))),
        "leads by name": str(of_named_leads().joints()),
        "ends of leads": [
            part.ends("it") for part in of_named_leads().parts.values() if part.lugs == LEADS.lugs
        ],
        "name of a lead": LEADS.replace("lead_names", {"coil_1_start": "red"}).lead_name(
            "coil_1_start"
        ),
        "leads crossed": gn.truth_table(
            of_named_leads().replace("neck.bobbins", "alike"),
            neck_volume_pull="both coils",
            bridge_volume_pull="both coils",
        ).note,
        "hum by wire": str(gn.audio.hum_table(of_one_wire(three()))),
        "noise": str(
            gn.audio.noise_table(
                guitar, {"tone": 5}, marks=[10, 5], weighting=None, band=(100, "5 kHz"), at="jack"
            )
        ),
        "noise level": table_of(gn.audio.noise_level(guitar, marks)),
        "noise density": gn.audio.noise_spectrum(guitar, marks, frequency=F),
        "impulse": gn.audio.impulse_response(guitar, one, rate=8000, duration=0.02).shape,
        "sound": gn.audio.play_through(click, guitar, one).dims,
        "bleed": gn.choose_treble_bleed(bare, {"cable.length": "6 m"}, **cheap).best.network,
        "choice": gn.choosing.choose(
            guitar, {"tone_capacitor": ["22n", "10n"]}, goal, one
        ).best.written,
        "match": gn.choosing.match_response(
            guitar, guitar, {"volume": 7}, loads=["capacitor"]
        ).best.load,
        "formula": str(gn.formulas.transfer_function(guitar, one)),
        "gain": str(gn.formulas.dc_gain(guitar, one)),
        "poles": np.sort_complex(gn.formulas.poles(guitar, one)),
        "zeros": np.sort_complex(gn.formulas.zeros(guitar, one)),
        "spice": gn.formulas.to_spice(guitar, one).splitlines()[-1],
        "sensitivity": gn.tolerances.sensitivity(guitar, one, frequency=F),
        "ranked": str(
            gn.tolerances.sensitivity_ranking(guitar, one, frequency=F).value.values[:2].tolist()
        ),
        "band": gn.tolerances.tolerance_band(guitar, told, one, frequency=F),
    }


@ability("peak and upper limit, exact from a guitar", within=1e-9, quick=True)
def _() -> Any:
    """By the solver, at every place; builds, another source and place; what a coarse grid says."""
    guitar = main_guitar()
    asked = {
        "at": "jack",
        "reference_frequency": 200.0,
        "source": "hum",
        "frequency": gn.sweeps.frequency_grid(50, 15e3),
        "volume": [10, 5],
    }
    builds = {"a": guitar, "b": guitar.replace("cable.length", 6.0)}
    coarse = gn.response(guitar, frequency=gn.sweeps.frequency_grid(per_decade=3), volume=[10, 5])
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always", gn.errors.CoarseGrid)
        gn.peak(coarse)
    return {
        "peak": table_of(gn.peak(guitar, **asked)),
        "peak of builds": table_of(gn.peak(builds, dim="cable", volume=5)),
        "upper limit": gn.bandwidth(guitar, drop=6.0, **asked),
        "upper limit of builds": gn.bandwidth(builds, dim="cable", volume=5),
        "said of a coarse grid": [str(one.message) for one in said],
    }


@ability("a harness told by path; where a pickup sits", quick=True)
def _() -> Any:
    """Every value and joint; the position of a coil, a pickup and a humbucker."""
    coil = gn.Coil("4k", "2 H", "150p", position="neck")
    parts = (coil, gn.Pickup("6k", "2 H", "100p", position="middle"))
    pair = gn.Humbucker(
        gn.Coil("4k", "2 H", "150p"), gn.Coil("4k", "2 H", "150p"), position="bridge"
    )
    return {
        "described": {path: str(value) for path, value in main_guitar().described().items()},
        "positions": [part.position for part in (*parts, pair)],
    }


@ability("level, phase, peak, bandwidth, treble change, taper as it acts", within=1e-6, quick=True)
def _() -> Any:
    grid = gn.sweeps.frequency_grid(50, 15e3, per_decade=60)
    h = gn.response(main_guitar(), frequency=grid, volume=[10, 7, 5, 2, 0])
    c = gn.response({"a": main_guitar(), "b": own_harness()}, frequency=grid, volume=[10, 5])
    return {
        "level": {
            "volts": gn.level_db(h).sel(frequency=[100, 3500], method="nearest"),
            "reference": gn.level_db(h, re="reference").isel(frequency=[10, 60, 100]),
            "volume 10": gn.level_db(h, re={"volume": 10}).isel(frequency=[10, 60, 100]),
            "build": gn.level_db(c, re={"build": "a"}).isel(frequency=[10, 60, 100]),
        },
        "phase": gn.phase_deg(h).isel(volume=[0, 2], frequency=[10, 60, 100, 140]),
        "phase unwrapped": gn.phase_deg(h, unwrap=True).isel(volume=[0, 2], frequency=[60, 140]),
        "peak": table_of(gn.peak(h)),
        "upper limit": gn.bandwidth(h),
        "upper limit, 6 dB": gn.bandwidth(h, drop=6.0),
        "treble change": table_of(gn.treble_change(h)),
        "treble change, asked": table_of(
            gn.treble_change(h, re=7, frequencies=["2 kHz"], band=("300 Hz", "4 kHz"))
        ),
        "taper": gn.effective_taper(h),
        "taper against 7": gn.effective_taper(h, re=7),
        "table": str(gn.sweeps.response_table(h)),
        "table, asked": str(gn.sweeps.response_table(h, ["500 Hz", "8 kHz"], most=3)),
        "grid": gn.sweeps.frequency_grid("100 Hz", "1 kHz", per_decade=5),
    }


@ability("ohms between lugs, capacitance at the jack and between lugs", quick=True)
def _() -> Any:
    guitar = main_guitar()
    ends = "tone_capacitor.a", "tone_capacitor.b"
    meter = gn.bench.Ohmmeter(accuracy="0.5%", leads="0.3 ohm", largest="2M")
    farad = gn.bench.lug_capacitance(guitar, *ends, tone=[10, 0])
    lifted = gn.bench.lug_capacitance(guitar, *ends, lifted=["tone_capacitor.a"])
    jack = gn.bench.jack_capacitance(guitar, frequency=["120 Hz", "1 kHz"])
    return {
        "volume, in circuit": gn.bench.lug_resistance(guitar, "volume.high", "volume.low"),
        "volume, pickup lifted": gn.bench.lug_resistance(
            guitar, "volume.high", "volume.low", lifted=["pickup.hot"], volume=[10, 5]
        ),
        "by a meter, warm": gn.jack_resistance(
            guitar, meter=meter, coil_temperature=30, volume=[10, 5, 1]
        ),
        "capacitor in circuit": table_of(farad),
        "said": [farad.statement, lifted.statement, jack.statement],
        "capacitor lifted": table_of(lifted),
        "jack": table_of(jack),
        "the meter": {
            "in words": meter.label(),
            "shows": meter.shows([0.0, 6050.0, 3e6]),
            "limit of error": meter.limit([6050.0]),
            "uncertainty": meter.uncertainty([6050.0]),
        },
    }


@ability("hum, noise and A-weighting", quick=True)
def _() -> Any:
    f = [50.0, 100.0, 1000.0, 5000.0]
    guitar = three()
    return {
        "hum": table_of(gn.audio.hum(guitar, switch=["neck", "neck+middle"])),
        "hum table": str(gn.audio.hum_table(guitar)),
        "noise density": gn.audio.noise_spectrum(
            main_guitar(), frequency=f, volume=[10, 5], temperature=30
        ),
        "noise": table_of(gn.audio.noise_level(main_guitar(), volume=[10, 5, 0])),
        "noise, flat": table_of(
            gn.audio.noise_level(
                main_guitar(), weighting=None, band=("100 Hz", "10 kHz"), signal="50 mV"
            )
        ),
        "noise table": str(gn.audio.noise_table(main_guitar())),
        "A-weighting": gn.audio.a_weighting_db([31.5, 100, 1000, 4000, 10000]),
    }


# -- formulas -------------------------------------------------------------------------------------


@ability("transfer function, gain at 0 Hz, poles and zeros", within=1e-6)
def _() -> Any:
    plain = gn.layouts.one_pickup(gn.Pickup("6k", "2 H", "120p"), tone=None, cable=0)
    kept = gn.formulas.transfer_function(plain, keep=["pickup.inductance", "pickup.capacitance"])
    whole = gn.formulas.transfer_function(main_guitar(), volume=5)
    return {
        "two letters": str(kept),
        "at a mark": str(whole),
        "gain at 0 Hz": str(gn.formulas.dc_gain(main_guitar(), volume=5)),
        "gain with a letter": str(gn.formulas.dc_gain(plain, keep="volume")),
        "poles": np.sort_complex(gn.formulas.poles(main_guitar(), volume=5)),
        "zeros": np.sort_complex(gn.formulas.zeros(main_guitar(), volume=5)),
        "letters": {
            path: str(letter) for path, letter in gn.formulas.symbols_of(main_guitar()).items()
        },
        "one letter": str(gn.formulas.symbol_of(main_guitar(), "pickup.inductance")),
    }


@ability("hand-over to lcapy")
def _() -> Any:
    try:
        import lcapy  # noqa: F401
    except ImportError:
        raise Missing("lcapy") from None
    guitar = gn.layouts.one_pickup(gn.Pickup("6k", "2 H", "120p"), tone=None)
    return str(gn.formulas.to_lcapy(guitar, {"volume": 7}, at="amp"))


# -- the bench: checks and faults -----------------------------------------------------------------


@ability("what the meter must show: three single coils", quick=True, seed=0, within=1e-6)
def _() -> Any:
    expected = gn.expected_readings(three(), marks={"volume": [10, 5]}, count=200, seed=0)
    return {
        "table": str(expected),
        "conditions": expected.conditions,
        "controls that the meter cannot see": expected.silent_controls,
        "numbers": {
            str(name): values
            for name, values in expected.data.data_vars.items()
            if values.dtype.kind == "f"
        },
    }


READ = {"neck": "6.05k", "middle": "249k", "bridge": "6.6k"}


@ability("readings as noted down, and verified", quick=True, within=1e-6)
def _() -> Any:
    guitar = three()
    noted = gn.bench.readings_of(guitar, READ)
    own = [
        gn.bench.ResistanceReading("5.9k", switch="neck", volume=10),
        gn.bench.ResistanceReading("OL", between=("tone_1.low", "tone_1.high")),
        gn.bench.ResistanceReading(
            "250k", between=("volume.high", "volume.low"), lifted="volume.high"
        ),
        gn.bench.ResistanceReading("70k", switch="neck", largest_over="volume"),
    ]
    for one in own:
        one.check(guitar)
    good = a(gn.bench.Verification, gn.verify(guitar, {"neck": "5.95k", "bridge": "6.7k"}))
    bad = gn.verify(
        guitar,
        READ,
        meter=gn.bench.Ohmmeter("1%"),
        coil_temperature=28,
        tolerances={"volume": "10%"},
    )
    first = a(gn.bench.CheckedReading, bad.checked[0])
    return {
        "labels": [a(gn.bench.ResistanceReading, one).label() for one in [*noted, *own]],
        "where": [one.where() for one in own],
        "open": [one.is_open for one in own],
        "expected": [float(one.expected(guitar)) for one in [*noted, *own]],
        "with other ohms": noted[0].with_ohms("7k").label(),
        "good": [str(good), good.verdict(), good.fits],
        "bad": [str(bad.table()), bad.verdict(), bad.fits],
        "one": [first.fits, first.verdict(), first.nominal, first.low, first.high],
    }


@ability("diagnosis of a broken middle coil", ranked=True, within=1e-5, floor=1e-7)
def _() -> Any:
    found = a(gn.bench.Diagnosis, gn.diagnose(three(), READ))
    first = a(gn.bench.Explanation, found.explanations[0])
    return {
        "table": str(found),
        "verdict": found.verdict(),
        "fits": [found.healthy_fits, found.symptoms_fit, len(found.fitting)],
        "first": {
            "faults": [one.label for one in first.faults],
            "probability": first.probability,
            "healthy": first.healthy,
            "fits": first.fits,
            "readings": first.readings,
            "shares": first.shares,
            "occurrence": first.occurrence(),
            "labels": first.labels(),
        },
        "sound and note": [found.sound, found.note],
        "next": [
            [step.text, step.kind, step.right, step.outcomes]
            for step in (a(gn.bench.NextStep, n) for n in found.next)
        ],
    }


@ability("diagnosis of other guitars, readings and symptoms", ranked=True)
def _() -> Any:
    two = guitars()["two humbuckers, modern"]
    healthy = {"neck": "6.6k", "neck+bridge": "3.6k", "bridge": "7.7k"}
    return {
        "two humbuckers, neck dead": str(
            gn.diagnose(two, {"neck": "500k", "neck+bridge": "7.8k", "bridge": "7.8k"})
        ),
        "nothing wrong": str(gn.diagnose(two, healthy)),
        "heard": str(
            gn.diagnose(
                three(),
                {"neck": "6.05k", "middle": "6.2k", "bridge": "6.7k"},
                symptoms={"does nothing": "tone_1"},
            )
        ),
        "tests at the bench": str(
            gn.diagnose(
                three(),
                {"neck": "6.05k", "middle": "6.2k", "bridge": "6.7k"},
                tests={
                    "screwdriver": {"neck": "positive", "middle": "negative", "bridge": "positive"},
                    "compass": {"neck": "north", "middle": "north", "bridge": "north"},
                    "tap": {"neck": ["neck"]},
                },
                steps=False,
            )
        ),
        "one pickup, open": str(
            gn.diagnose(main_guitar(), [gn.bench.ResistanceReading("OL", volume=10)])
        ),
        "some kinds, no steps, other meter": str(
            gn.diagnose(
                three(),
                READ,
                kinds=["coil", "switch"],
                steps=False,
                meter=gn.bench.Ohmmeter(largest="1M"),
                coil_temperature=30,
            )
        ),
    }


@ability("every fault of one pickup: harness, ohms, change of level, what is heard")
def _() -> Any:
    every = gn.bench.faults(gn.layouts.one_pickup(BRIDGE, treble_bleed="1n"))
    found = {
        "table": str(every.table()),
        "kinds": list(gn.bench.FAULT_KINDS),
        "words": list(gn.bench.SYMPTOMS),
    }
    for one in every:
        found[one.label] = {
            "kind": one.kind,
            "also": one.also,
            "unknown": list(one.unknown) if one.unknown else None,
            "ohms": one.readings(),
            "change": one.change_db(frequency=[100.0, 1000.0, 5000.0]),
            "heard": gn.bench.symptoms_of(one),
        }
    first = every.of_kind("pot")
    found["of a kind"] = [one.label for one in first]
    found["counted"] = [len(every), every.index(every[1]), every.count(every[1])]
    return found


@ability("values found from readings")
def _() -> Any:
    guitar = gn.layouts.one_pickup(BRIDGE)
    readings = [
        gn.bench.ResistanceReading("6.63k", volume=10),
        gn.bench.ResistanceReading("66.4k", largest_over="volume"),
    ]
    found = a(gn.bench.RecoveredValues, gn.bench.values_from_readings(guitar, readings))
    return {
        "table": str(found.table()),
        "values": dict(found.values),
        "uncertain by": dict(found.uncertainties),
        "misses": found.misses,
        "correlation": found.correlation,
        "pot": gn.bench.pot_from_largest("66.4k", "6.8k"),
    }


# -- tolerances -----------------------------------------------------------------------------------


@ability("tolerances, limits, corners and draws", seed=1)
def _() -> Any:
    guitar = main_guitar()
    drawn_ = gn.tolerances.spread(
        guitar, 5, seed=1, alike=[["volume.resistance", "tone.resistance"]]
    )
    tapers = gn.tolerances.spread_tapers(
        guitar, {"volume": [10, 7, 5]}, 4, seed=1, conformity="15%"
    )
    two = {"pickup.resistance": "5%", "volume.resistance": "20%"}
    return {
        "tolerances": gn.tolerances.tolerances_of(guitar),
        "limits": gn.tolerances.limits(guitar),
        "corners": gn.tolerances.corners(guitar, tolerances=two),
        "draws": drawn_,
        "draws of tapers": tapers,
        "ohms of the draws": gn.jack_resistance(guitar, volume=[10, 5], **drawn_),
        "ohms at the limits": gn.jack_resistance(guitar, **gn.tolerances.limits(guitar)),
    }


@ability("tolerance band, quantiles, sensitivities", seed=1, within=1e-6, floor=1e-7)
def _() -> Any:
    guitar = main_guitar()
    drawn_ = gn.tolerances.spread(guitar, 300, seed=1)
    f = [100.0, 1000.0, 4000.0, 8000.0]
    h = gn.response(guitar, frequency=gn.sweeps.frequency_grid(50, 15e3, per_decade=30), **drawn_)
    peaks = gn.peak(h)
    ranked = gn.tolerances.sensitivity_ranking(guitar, frequency=["1 kHz", "4 kHz"], volume=5)
    slopes = gn.tolerances.sensitivity(guitar, frequency=f, volume=[10, 5])
    shares = gn.tolerances.sample_shares(drawn_, peaks.frequency)
    sobol = gn.tolerances.sobol_shares(
        guitar, lambda **s: gn.jack_resistance(guitar, **s), base=64, seed=0
    )
    return {
        "band": gn.tolerances.tolerance_band(guitar, drawn_, frequency=f, volume=[10, 5]),
        "band, labels": labels_of(
            gn.tolerances.tolerance_band(guitar, drawn_, frequency=f, re="reference")
        ),
        "quantiles": gn.tolerances.quantiles(peaks.frequency, [0.1, 0.5, 0.9]),
        "table": str(
            gn.tolerances.quantile_table(
                {"peak": peaks.frequency, "height": peaks.height},
                {
                    "peak": gn.peak(gn.response(guitar)).frequency,
                    "height": gn.peak(gn.response(guitar)).height,
                },
            )
        ),
        "sensitivity": dict(
            zip(
                slopes["value"].values.tolist(),
                np.asarray(slopes.transpose("value", ...)),
                strict=True,
            )
        ),
        "ranking": {"order": ranked["value"].values, **table_of(ranked)},
        "shares of samples": dict(
            zip(shares["value"].values.tolist(), shares.values.tolist(), strict=True)
        ),
        "shares": {"order": sobol["value"].values, **table_of(sobol)},
    }


# -- choosing -------------------------------------------------------------------------------------


@ability("choose a bleed for three cables", ranked=True, within=1e-5)
def _() -> Any:
    guitar = main_guitar().replace("treble_bleed", None)
    found = gn.choose_treble_bleed(guitar, **{"cable.length": ["1 m", "3 m", "6 m"]})
    other = gn.choose_treble_bleed(
        guitar,
        goal=gn.choosing.BleedGoal(band=("200 Hz", "4 kHz"), taper=0.0, within=4.0, over="worst"),
        forms=["capacitor", "parallel"],
        series="E6",
        networks=["150k || 1n"],
        price={"capacitor": 0.4, "resistor": 0.1},
        rows=5,
    )
    return {
        "table": str(found),
        "rounding": str(found.rounding()),
        "best": [found.best.network, found.best.treble, found.best.taper, found.best.worst],
        "front": [one.network for one in found.front],
        "in a table": str(found.table()),
        "another goal": str(other),
        "goal in words": [
            gn.choosing.BleedGoal().description("volume"),
            gn.choosing.BleedGoal(taper=0).description("volume"),
        ],
        "guitars of two": {
            name: [a(gn.Harness, guitar).parts["treble_bleed"].label()]
            for name, guitar in other.builds("none", other.best.network).items()
        },
    }


@ability("choose any values by goals", ranked=True, within=1e-5)
def _() -> Any:
    guitar = main_guitar()
    goal = gn.choosing.Goal("peak frequency", near="3 kHz", within="2%")
    several = [
        gn.choosing.Goal("peak frequency", near="4 kHz"),
        gn.choosing.Goal("level", at_least=-3, options={"frequency": "5 kHz", "re": "reference"}),
        gn.choosing.Goal("treble change", near=0, within=3),
        gn.choosing.Goal("upper limit", at_most="8 kHz"),
    ]
    by_range = gn.choosing.choose(guitar, {"cable.length": gn.choosing.Range("1 m", "10 m")}, goal)
    by_list = gn.choosing.choose(
        guitar,
        {
            "tone_capacitor": ["10n", "22n"],
            "treble_bleed": [None, "1n", "150k || 1n"],
            "cable.length": gn.choosing.Range("1 m", "6 m", series="E3"),
        },
        several,
        anyway=True,
        volume=[10, 5],
    )
    return {
        "range": str(by_range),
        "best": dict(by_range.best.written),
        "lists": str(by_list),
        "remarks": by_list.remarks,
        "met": len(by_list.met),
        "goals in words": [str(one) for one in several],
        "goal": [
            goal.name,
            goal.unit,
            goal.limits,
            goal.allowed,
            goal.shown(3100.0),
            goal.knobs(main_guitar(), {}),
        ],
        "ways off": goal.excess(xr.DataArray([2000.0, 3000.0, 3500.0])),
    }


@ability("load that makes one guitar answer like another", ranked=True, within=1e-5)
def _() -> Any:
    bright = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"))
    dark = gn.layouts.one_pickup(gn.Pickup("8k", "4 H", "150p"), volume="500k")
    found = gn.choosing.match_response(bright, dark)
    other = gn.choosing.match_response(
        {"bright": bright, "wired 50s": bright.replace("cable.length", "6 m")},
        dark,
        loads=["capacitor"],
        series="E6",
        band=("200 Hz", "5 kHz"),
        level=True,
    )
    return {
        "table": str(found),
        "best": [found.best.load, found.best.rms, found.best.worst],
        "residual": found.residual.isel(frequency=[0, 30, -1]),
        "asked": str(other.table()),
    }


# -- fits -----------------------------------------------------------------------------------------


@cache
def curves() -> dict[str, Any]:
    """The open measurement that ships: three curves of one pickup."""
    stem = "single-coil-wide-10.6k"
    loads = {
        "unloaded": gn.fitting.Load(),
        "load-200k-470p": gn.fitting.Load("200k", "470p"),
        "load-large-capacitor": gn.fitting.Load(
            capacitance=gn.fitting.Unknown("10n", "12%", name="large capacitor")
        ),
    }
    return {
        name: a(
            gn.fitting.MeasuredCurve,
            gn.fitting.read_curve(DATA / f"{stem}.{name}.csv", load=load, slope=20),
        )
        for name, load in loads.items()
    }


@cache
def two_curve_fit() -> Any:
    """The fit of the page and the lesson."""
    chosen = [curves()["unloaded"], curves()["load-200k-470p"]]
    return gn.fit_pickup(chosen, resistance="10.6k", inductance="6.7 H")


def fitted(fit: Any) -> dict[str, Any]:
    """A fit as words and numbers."""
    fit = a(gn.fitting.PickupFit, fit)
    return {
        "table": str(fit.table()),
        "pickup": fit.pickup.label(),
        "values": {
            n: [a(gn.fitting.FittedValue, v).value, v.determined] for n, v in fit.values.items()
        },
        "in words": {name: str(value) for name, value in fit.values.items()},
        "loads": {name: value.value for name, value in fit.loads.items()},
        "warnings": fit.warnings,
        "residuals": [a(gn.fitting.CurveFit, one).rms for one in fit.curves],
        "readings": [
            [one.name, one.unit, one.stated, one.fitted]
            for one in (a(gn.fitting.ReadingFit, reading) for reading in fit.readings)
        ],
    }


@ability("fit of two curves, and the third predicted", within=1e-3, floor=1e-4)
def _() -> Any:
    fit = two_curve_fit()
    return {
        **fitted(fit),
        "predicted": abs(fit.predict(gn.fitting.Load(capacitance="10n"), F)),
        "predicted without the instrument": abs(
            fit.predict(gn.fitting.Load("100k"), F, instrument=False, reference_frequency="200 Hz")
        ),
    }


@ability("fit of readings by hand, of one rig, and measured curves", within=1e-3, floor=1e-4)
def _() -> Any:
    by_hand = gn.fit_pickup(
        resistance="6.2k",
        inductance=gn.fitting.InductanceReading("2.4 H", frequency="120 Hz"),
        peak=[
            gn.fitting.PeakReading("9 kHz", gn.fitting.Load()),
            gn.fitting.PeakReading("4.6 kHz", gn.fitting.Load("1M", "470p")),
        ],
    )
    rig = gn.fitting.fit_pickups(
        {
            "neck": gn.fitting.Measurements(
                resistance="6k",
                inductance="2.4 H",
                peak=gn.fitting.PeakReading("8 kHz", gn.fitting.Load(), height=12),
            ),
            "bridge": gn.fitting.Measurements(curves=[curves()["unloaded"]], resistance="10.6k"),
        }
    )
    f = np.geomspace(50, 15e3, 60)
    curve = gn.fitting.MeasuredCurve(
        f, 20 * np.log10(f), load=gn.fitting.Load(), slope=20, name="ramp"
    )
    return {
        "by hand": fitted(by_hand),
        "one rig": {name: fitted(fit) for name, fit in rig.items()},
        "curve": [curve.name, str(curve.load), curve.kind, curve.level[[0, 30, 59]]],
        "loads in words": [str(gn.fitting.Load()), str(gn.fitting.Load("200k", "470p", 0.01))],
        "file": {
            name: [len(one.frequency), one.level[[0, 100, -1]]] for name, one in curves().items()
        },
    }


@ability("an inductance meter, an idle coil, no losses: fit options", within=1e-3, floor=1e-4)
def _() -> Any:
    fit = gn.fit_pickup(
        [curves()["unloaded"]],
        resistance="10.6k",
        beside_idle_coil=True,
        losses=True,
        slow_screening=False,
        instrument=gn.fitting.Load("1M", "10p"),
        band=("100 Hz", "8 kHz"),
        name="asked",
    )
    plain = gn.fit_pickup([curves()["load-200k-470p"]], resistance="10.6k", losses=False)
    three = list(curves().values())
    three[1] = dataclasses.replace(three[1], magnitude=three[1].magnitude + 1.5, unusual=True)
    options = {"losses": "plain", "slow_screening": False}
    left_out = gn.fit_pickup(three, resistance="10.6k", moved="leave out", **options)
    rig = {"lighter": gn.fitting.Measurements(three, "10.6k", beside_idle_coil=False)}
    lighter = gn.fitting.fit_pickups(rig, moved="weigh down", **options)["lighter"]
    return {
        "asked": fitted(fit),
        "lossless": fitted(plain),
        "left out": fitted(left_out),
        "lighter": fitted(lighter),
        "levels": [[one.above, one.counts] for one in (*left_out.curves, *lighter.curves)],
        "scale": [one.scale_within for one in (fit, left_out)],
    }


@ability("an eddy loss of an order, as a ladder")
def _() -> Any:
    losses = {"eddy_resistance": "30k", "eddy_share": 0.4, "eddy_order": 0.87}
    pickup = gn.Pickup("6.5k", "3.4 H", "140p", screening_frequency="3k", **losses)
    two = gn.Humbucker(gn.Coil("4k", "2 H", "150p", **losses), gn.Coil("4k", "2 H", "150p"))
    return {
        "labels": [pickup.label(), two.label()],
        "responses": [
            gn.response(gn.layouts.pickup_alone(one), frequency=[100, 1e3, 5e3]).values
            for one in (pickup, two)
        ],
    }


# -- the catalogue --------------------------------------------------------------------------------


@ability("catalogue: every pickup, kinds, priors, the nearest", within=1e-4, floor=1e-6)
def _() -> Any:
    load = gn.fitting.Load("200k", "470p")
    peak = gn.fitting.PeakReading("2.8 kHz", load)
    kind = "humbucker"
    likely = gn.catalogue.priors(kind=kind)
    by_ohms = gn.catalogue.nearest_pickups(resistance="8.2k", inductance="4.4 H", count=4)
    one: gn.catalogue.CataloguePickup = gn.catalogue.entry(name=9)
    listed: gn.catalogue.CatalogueTable = gn.catalogue.table(kind=kind)
    sorts = gn.catalogue.NearestPickups, gn.catalogue.Nearest
    given = {"resistance": "12k", "peak": peak}
    drawn_kind = gn.catalogue.draw_kind(kind=kind, place="neck", count=20, seed=1)
    drawn_one = gn.fitting.draw_pickup(fit=one, place="neck", count=20, seed=1)
    fits = [
        gn.fit_pickup(priors=likely, **given),
        gn.fitting.fit_pickups({"a": gn.fitting.Measurements(**given)}, priors=likely)["a"],
    ]
    return {
        "kinds": list(gn.catalogue.kinds),
        "pickups": {number: str(each) for number, each in gn.catalogue.pickups.items()},
        "whole": str(gn.catalogue.table()),
        "of a kind": [str(listed), str(gn.catalogue.kind_table())],
        "priors": {name: [u.around, u.within] for name, u in likely.items()},
        "unlike": gn.catalogue.compare_with_kind(pickup={"inductance": "16 H"}, kind=kind),
        "nearest": [
            str(by_ohms),
            str(gn.catalogue.nearest_pickups(peak=peak, kind="single coil")),
            str(gn.catalogue.nearest_pickups(curves=curves()["load-200k-470p"], count=2)),
        ],
        "agrees": [each.agrees for each in by_ohms.pickups],
        "of their kinds": [type(by_ohms) is sorts[0], type(by_ohms.pickups[0]) is sorts[1]],
        "drawn": {
            path: [values.mean(), values.std()]
            for path, values in [*drawn_kind.items(), *drawn_one.items()]
        },
        "fits with priors": [fitted(fit) for fit in fits],
        "missed": [one.missed, fits[0].missed],
    }


@ability("catalogue: peaks in a guitar, bands by cause", within=1e-4, floor=1e-4)
def _() -> Any:
    import matplotlib.pyplot as plt

    guitar = gn.layouts.one_pickup(gn.ready_pickup(9), volume="500k", tone="500k")
    peaks = gn.catalogue.loaded_peaks(
        guitar=guitar,
        settings={"tone": 8},
        kind="single coil",
        place="pickup",
        count=4,
        seed=1,
    )
    band = gn.tolerances.bands_by_cause(
        guitar=guitar,
        fits={"pickup": gn.catalogue.entry(9)},
        settings={"volume": 8},
        count=40,
        seed=1,
        levels=(0.1, 0.5, 0.9),
        frequency=gn.sweeps.frequency_grid(50, 15e3, per_decade=12),
    )
    _, ax = plt.subplots()
    _, two = plt.subplots(2, 1)
    return {
        "peaks": {str(name): values for name, values in peaks.items()},
        "guitar": peaks.attrs["guitar"],
        "causes": list(gn.tolerances.CAUSES),
        "band": band,
        "figures": [
            drawn(gn.plots.plot_catalogue(peaks=peaks, ax=ax, title="Peaks"), name="a"),
            drawn(
                gn.plots.plot_bands_by_cause(band=band, ax=two, title="Bands", view=(50.0, 1e4)),
                name="b",
            ),
        ],
    }


# -- the string and sound -------------------------------------------------------------------------


@ability("harmonics of a plucked string", quick=True)
def _() -> Any:
    place = gn.strings.PickupPosition("40 mm", aperture="5 mm", coil_spacing="18 mm", level=0.8)
    plain = gn.strings.string_spectrum("162 mm", pluck="100 mm", harmonics=8)
    both = gn.strings.string_spectrum(
        {"neck": gn.strings.PickupPosition("162 mm"), "bridge": place},
        string=["E2", "A2"],
        fret=[0, 12],
        position=None,
        harmonics=6,
        together=False,
    )
    through = gn.strings.string_spectrum(
        "162 mm",
        harmonics=6,
        h=gn.response(main_guitar(), frequency=gn.sweeps.frequency_grid(20, 2e4), volume=5),
    )
    return {
        "point": plain,
        "labels": labels_of(both),
        "two pickups": both,
        "through the guitar": through,
        "level": gn.strings.harmonic_level_db(plain, re="loudest"),
        "reach": place.reach,
        "cancelled at": [
            gn.strings.cancellation_frequency("18 mm"),
            gn.strings.cancellation_frequency("18 mm", string="A2", scale="25.5 in"),
        ],
    }


@ability("plucked sound through a guitar, levels matched, files", seed=3, within=1e-6)
def _() -> Any:
    note = gn.strings.pluck(
        ["E2", "A2"], duration=0.6, rate=22_050, unevenness="10%", seed=3, apart=0.2
    )
    builds = {"plain": main_guitar().replace("treble_bleed", None), "bled": main_guitar()}
    heard = gn.audio.play_through(note, builds, volume=5)
    matched = gn.audio.match_level(heard)
    loud = gn.audio.normalise(matched)
    path = gn.audio.write_sound("bled.wav", loud.sel(build="bled"), bits=32)
    again = gn.audio.read_sound(path)
    kernel = gn.audio.impulse_response(main_guitar(), rate=48_000, volume=[10, 5])
    click = gn.audio.play_through(gn.audio.sound([1.0] + [0.0] * 99), main_guitar(), volume=[10, 5])
    at = slice(0, None, 1500)
    player = a(gn.pages.Listening, gn.pages.listen(heard, match=True, title="Two builds"))
    page = player.save("hear.html").read_text(encoding="utf-8-sig")
    return {
        "note": note.isel(time=at),
        "heard": heard.isel(time=at),
        "gain": matched.gain,
        "loudest": float(abs(loud).max()),
        "file": [float(again.isel(time=one)) for one in (100, 5000, 9000)],
        "impulse": kernel.isel(time=slice(0, 40, 4)),
        "length of the impulse": kernel.sizes["time"],
        "sum of the impulse": kernel.sum("time"),
        "click": click.isel(time=slice(0, 60, 6)),
        "player": repr(player),
        "player's words": words_of(page),
        "labels": labels_of(heard.isel(time=slice(0, 1))),
    }


# -- sweeps that do not fit in memory -------------------------------------------------------------


@ability("a sweep reduced to measures, kept in stores")
def _() -> Any:
    def worst(h: xr.DataArray) -> xr.DataArray:
        return abs(gn.treble_change(h).worst).max("volume")

    builds = {"a": main_guitar(), "b": gn.layouts.one_pickup(BRIDGE, treble_bleed="1n || 150k")}
    plan = a(
        gn.sweeps.SweepPlan,
        gn.sweeps.plan_sweep(
            builds,
            {"worst": worst, "peak": lambda h: gn.peak(h).frequency},
            {
                "volume": [10, 7, 5],
                "cable.length": ["1 m", "3 m", "6 m"],
                "treble_bleed.capacitance": gn.values.preferred_values("E3", "470p", "2n"),
            },
            frequency=gn.sweeps.frequency_grid(50, 15e3, per_decade=25),
            chunks={"cable.length": 2},
        ),
    )
    kept = plan.to_zarr("sweep.zarr", progress=False).load()
    table = plan.to_parquet("sweep.parquet", progress=False)
    return {
        "in words": str(plan),
        "counts": [plan.responses, plan.chunk_count, plan.nbytes],
        "dimensions": {name: list(one.dims) for name, one in plan.template.items()},
        "worst": plan.dataset().worst.load(),
        "stored": table_of(kept),
        "estimate tells": sorted(plan.estimate()),
        "places": [str(where) for _, where in plan.places()],
        "response": plan.response()[..., ::20].load(),
        "sizes suffice": plan.trial.sizes,
        "as a table": sorted(Path(table).rglob("*.parquet")) != [] or Path(table).exists(),
    }


# -- figures --------------------------------------------------------------------------------------


@cache
def swept() -> xr.DataArray:
    """Responses of two builds over the whole travel, for figures."""
    builds = {
        "no bleed": main_guitar().replace("treble_bleed", None),
        "1 nF": main_guitar().replace("treble_bleed", "1n"),
    }
    return gn.response(
        builds, frequency=gn.sweeps.frequency_grid(50, 15e3, per_decade=60), volume=range(11)
    )


@ability("figure of the main guitar at volume 10 and 5", quick=True, within=1e-6)
def _() -> Any:
    h = gn.response(
        main_guitar(), frequency=gn.sweeps.frequency_grid(per_decade=100), volume=[10, 5]
    )
    return drawn(gn.plot_response(h, re="reference", title="Volume 10 and 5"), name="a")


@ability("figures of responses: curves, builds, differences, tapers, maps", within=1e-5)
def _() -> Any:
    h = swept()
    bled = h.sel(build="1 nF")
    ax = gn.plot_response(bled.sel(volume=[10, 5]), re="reference")
    curve = DATA / "single-coil-wide-10.6k.unloaded.csv"
    silent = gn.plot_response(bled.sel(volume=[10, 0]))
    return {
        "curves": drawn(gn.plot_response(bled.sel(volume=[10, 9, 7, 5, 3])), ticks=True, name="a"),
        "re volume 10": drawn(
            gn.plot_response(h.sel(volume=5), re=None, title="Asked", view=(100, 8e3)), name="b"
        ),
        "silent": drawn(silent, name="c"),
        "measured over it": drawn(
            gn.plots.plot_measured(curve, ax, match=100, slope=20, label="mine"), name="d"
        ),
        "builds": drawn(gn.plots.plot_builds(h, [10, 7, 5]), ticks=True, name="e"),
        "builds re volume 10": drawn(gn.plots.plot_builds(h, [10, 5], re={"volume": 10}), name="f"),
        "differences": drawn(gn.plots.plot_difference(h, [10, 5], re={"volume": 10}), name="g"),
        "from no bleed": drawn(
            gn.plots.plot_difference(h, [5], re={"build": "no bleed"}, matched=False), name="h"
        ),
        "turned down": drawn(gn.plots.plot_turned_down(h, 5), name="t"),
        "taper": drawn(gn.plots.plot_taper(h, {"audio 15%": gn.audio_taper(0.15)}), name="i"),
        "map": drawn(gn.plots.plot_map(bled, title="A map"), name="j"),
        "impedance": drawn(
            gn.plots.plot_impedance(gn.impedance(main_guitar(), volume=[10, 5])),
            ticks=True,
            name="k",
        ),
    }


@ability("figures of tolerances, choices, fits and strings", within=1e-3, floor=1e-4, seed=1)
def _() -> Any:
    guitar = main_guitar().replace("treble_bleed", None)
    grid = gn.sweeps.frequency_grid(50, 15e3, per_decade=30)
    h = gn.response(
        guitar, frequency=grid, volume=[10, 5], **gn.tolerances.spread(guitar, 100, seed=1)
    )
    goal = gn.choosing.Goal("peak frequency", near="5 kHz")
    bright = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"))
    dark = gn.layouts.one_pickup(gn.Pickup("8k", "4 H", "150p"))
    choices = gn.choosing.choose(guitar, {"cable.length": ["1 m", "2 m", "4 m"]}, goal)
    return {
        "bands": drawn(
            gn.plots.plot_bands(h, gn.response(guitar, frequency=grid, volume=[10, 5])), name="a"
        ),
        "sensitivity": drawn(
            gn.plots.plot_sensitivity(gn.tolerances.sensitivity(guitar, volume=5)), name="b"
        ),
        "ranking": drawn(
            gn.plots.plot_ranking(
                gn.tolerances.sensitivity_ranking(guitar, frequency=["1 kHz", "4 kHz"], volume=5)
            ),
            name="c",
        ),
        "front": drawn(gn.plots.plot_front(gn.choose_treble_bleed(guitar, series="E3")), name="d"),
        "choices": drawn(gn.plots.plot_choices(choices), name="e"),
        "match": drawn(
            gn.plots.plot_match(gn.choosing.match_response(bright, dark, loads=["capacitor"])),
            name="f",
        ),
        "fit": drawn(gn.plots.plot_fit(two_curve_fit()), name="g"),
        "string": drawn(
            gn.plots.plot_string_spectrum(
                gn.strings.string_spectrum("162 mm", pluck="101 mm"),
                re="loudest",
                title="A quarter along",
            ),
            name="h",
        ),
    }


# -- cards and pages ------------------------------------------------------------------------------


def words_of(page: str) -> str:
    """What a reader sees of a page: its text, a line for each block."""
    import html

    page = re.sub(r"<(script|style|template)\b.*?</\1>", "", page, flags=re.DOTALL)
    page = re.sub(r"</?(?:b|i|em|strong|span|a|sub|sup|tspan|code)\b[^>]*>", "", page)
    lines = (" ".join(html.unescape(line).split()) for line in re.split(r"<[^>]*>", page))
    return "\n".join(line for line in lines if line)


def data_of(page: str) -> Any:
    """What the script of a live page works with."""
    found = re.search(r'id="data"[^>]*>(.*?)</script>', page, re.DOTALL)
    if not found:
        raise AssertionError("the page holds no data")
    return json.loads(found[1])


@ability("job card text")
def _() -> Any:
    head = {"date": "1 May", "by": "R. L.", "number": "12", "notes": "<b>as built</b>"}
    gn.job_card(
        three(),
        "card.html",
        paper="Letter",
        coil_temperature=25,
        meter=gn.bench.Ohmmeter("1%"),
        **head,
    )
    return words_of(Path("card.html").read_text(encoding="utf-8-sig"))


@ability("job card text with lines left to fill in")
def _() -> Any:
    gn.job_card(main_guitar(), "plain.html")
    return words_of(Path("plain.html").read_text(encoding="utf-8-sig"))


@ability("job card as PDF: pages, size, words")
def _() -> Any:
    try:
        import weasyprint  # noqa: F401
        from pypdf import PdfReader
    except (ImportError, OSError) as lacking:
        raise Missing(str(lacking)) from None
    gn.job_card(three(), "card.pdf", paper="A4", date="1 May")
    pages = PdfReader("card.pdf").pages
    words = " ".join(page.extract_text() for page in pages).split()
    return {
        "pages": len(pages),
        "millimetres": [round(float(one) / 72 * 25.4) for one in pages[0].mediabox[2:]],
        "words": len(words),
    }


@cache
def live_builds() -> dict[str, gn.Harness]:
    """Guitars of a live page with every kind of control."""
    return {
        "as it is": gn.layouts.two_humbuckers(BRIDGE, LOSSY, treble_bleed="1n"),
        "50s": gn.layouts.two_humbuckers(BRIDGE, LOSSY, wiring="50s"),
    }


@ability("live page: controls, opening, words")
def _() -> Any:
    page = a(
        gn.pages.LivePage,
        gn.live_page(live_builds(), "live.html", title="Two", neck_volume=5, switch="neck+bridge"),
    )
    data = data_of(page.html())
    data.pop("model")
    data.pop("lists")
    return {
        "in words": repr(page),
        "opens": page.opening(),
        "words": words_of(page.html()),
        "without scripts": words_of(Path("live.html").read_text(encoding="utf-8-sig")),
        "controls and captions": json.dumps(data, indent=1, ensure_ascii=False),
        "saved": page.save("again.html").name,
    }


LIVE_SETTINGS = [
    {"marks": {}, "places": {}},
    {"marks": {"neck_volume": 5, "neck_tone": 3, "bridge_volume": 7}, "places": {}},
    {"marks": {"neck_volume": 5, "bridge_volume": 8}, "places": {"switch": "neck+bridge"}},
    {"marks": {"bridge_volume": 2}, "places": {"switch": "bridge"}, "cable": 7.5},
    {"marks": {"neck_volume": 0}, "places": {}},
    {"marks": {"neck_volume": 6}, "places": {}, "networks": {"neck_bleed": ["c", 6.8e-10]}},
    {
        "marks": {"neck_volume": 4},
        "places": {},
        "networks": {"neck_bleed": ["parallel", ["c", 1e-9], ["r", 1.5e5]]},
        "capacitors": {"neck_capacitor": 4.7e-8},
    },
]
_IN_NODE = """
const model = makeModel(DATA.model);
const hertz = Float64Array.from(FREQUENCY);
console.log(JSON.stringify(SETTINGS.map((one) => BUILDS.map((build) => {
  const { re, im } = model.response(build, one, hertz);
  return [Array.from(re), Array.from(im)];
}))));
"""


@ability("live page: the numbers that its script computes", quick=True, within=1e-6, floor=1e-8)
def _() -> Any:
    node = shutil.which("node")
    if node is None:
        raise Missing("node, which runs the page's script without a browser")
    html = gn.live_page(live_builds(), switch="neck").html()
    data = data_of(html)
    script = next(
        one
        for one in re.findall(r"<script[^>]*>(.*?)</script>", html, re.DOTALL)
        if "function makeModel" in one
    )
    start = script.index("function makeModel")
    opened = {
        "marks": {knob["name"]: knob["mark"] for knob in data["knobs"]},
        "places": {switch["name"]: switch["place"] for switch in data["switches"]},
        "cable": data["cable"]["length"],
        "networks": {},
        "capacitors": {one["name"]: None for one in data["capacitors"]},
    }
    settings = [
        {
            key: {**value, **one.get(key, {})} if isinstance(value, dict) else one.get(key, value)
            for key, value in opened.items()
        }
        for one in LIVE_SETTINGS
    ]
    given = {"DATA": data, "FREQUENCY": F, "SETTINGS": settings, "BUILDS": [0, 1]}
    lines = [f"const {name} = {json.dumps(value)};" for name, value in given.items()]
    whole = "\n".join([*lines, _function(script[start:]), _IN_NODE])
    done = subprocess.run(
        [node, "-"], input=whole, capture_output=True, text=True, timeout=60, check=True
    )
    parts = np.array(json.loads(done.stdout))
    return {
        json.dumps({key: value for key, value in one.items() if value}): (
            parts[number, :, 0] + 1j * parts[number, :, 1]
        )
        for number, one in enumerate(LIVE_SETTINGS)
    }


def _function(script: str) -> str:
    """The first function of a script, to the brace that closes it at the start of a line."""
    return script[: script.index("\n}") + 2]


@ability("live page in a browser: numbers and words at settings")
def _() -> Any:
    path = Path("live.html")
    gn.live_page(live_builds(), path, switch="neck")
    found: dict[str, Any] = {}
    with in_browser(path) as page:

        def seen() -> dict[str, Any]:
            return {
                "numbers": page.evaluate(
                    """() => [...document.querySelectorAll("table tr")].filter(
                      (row) => row.offsetParent).map((row) => [...row.cells].map(
                      (cell) => cell.textContent.trim()).join(" | "))"""
                ),
                "address": page.evaluate("() => decodeURIComponent(location.hash)"),
            }

        found["opened"] = seen()
        found["controls"] = {
            role: [
                one.get_attribute("aria-label") or one.evaluate("e => e.labels?.[0]?.textContent")
                for one in page.get_by_role(role).all()
            ]
            for role in ("slider", "combobox")
        }
        page.get_by_role("slider", name="neck volume", exact=True).fill("5")
        found["neck volume at 5"] = seen()
        page.get_by_role("slider", name="neck tone", exact=True).fill("2")
        found["neck tone at 2"] = seen()
    return found


@contextlib.contextmanager
def in_browser(path: Path) -> Iterator[Any]:
    """A page opened without a network."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise Missing("playwright") from None
    if program is None:
        raise Missing("chromium")
    quiet = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=quiet)
        context = browser.new_context(offline=True)
        page = context.new_page()
        page.goto(path.resolve().as_uri())
        try:
            yield page
        finally:
            browser.close()


@ability("live page of an array: numbers and words", within=1e-6)
def _() -> Any:
    view = a(
        gn.pages.LivePage,
        gn.live_page(swept(), knob="volume", re="reference", volume=5, title="One knob"),
    )
    view.save("knob.html")
    page = Path("knob.html").read_text(encoding="utf-8-sig")
    data = data_of(page)
    levels = gn.live_page(gn.level_db(swept(), re={"build": "no bleed"}), settings={})
    return {
        "in words": repr(view),
        "words": words_of(page),
        "keys": sorted(data),
        "numbers": data["table"]["numbers"],
        "of levels": data_of(levels.html())["table"]["numbers"],
    }


@ability("live controls that Python follows")
def _() -> Any:
    try:
        import anywidget  # noqa: F401
    except ImportError:
        raise Missing("anywidget") from None
    control = a(gn.pages.Knobs, gn.pages.knobs(main_guitar(), volume=5))
    opened = dict(control.value)
    control.turn(tone=7, volume=3, cable="2 m")
    seen: list[Any] = []
    with contextlib.redirect_stdout(io.StringIO()):  # a cell is cleared where there is none
        control.follow(lambda **at: seen.append(gn.response(main_guitar(), frequency=F, **at)))
    return {
        "opens": {key: str(value) for key, value in opened.items()},
        "turned": {key: str(value) for key, value in control.value.items()},
        "followed": [np.asarray(one) for one in seen],
    }


# -- every option ---------------------------------------------------------------------------------

OTHERWISE: dict[str, Any] = {
    "volume": "300k",
    "tone": gn.Pot("330k", "linear"),
    "tone_capacitor": "33n",
    "treble_bleed": "680p || 220k",
    "cable": gn.Cable("4 m", "130p"),
    "amp": gn.AmpInput("500k", "50p"),
    "name": "asked for",
    "blend": "300k",
    "bass": "800k",
    "bass_capacitor": "2.2n",
    "capacitors": ("4.7n", "15n"),
    "choke": gn.Choke("1.2 H", "80 ohm"),
    "resistor": "82k",
    "blender": "300k",
    "isolating_resistor": "180k",
    "single_coil_resistor": "390k",
    "neck_volume_pull": "phase",
    "bridge_volume_pull": "parallel",
    "neck_tone_pull": "split",
    "bridge_tone_pull": None,
}
"""Other values for whatever a layout takes."""


@ability("every value that a layout takes, given otherwise", quick=True)
def _() -> Any:
    import inspect

    layouts = gn.layouts
    pickups: dict[Any, tuple[Any, ...]] = {
        layouts.pickup_alone: (BRIDGE,),
        layouts.one_pickup: (BRIDGE,),
        layouts.rotary_tone: (BRIDGE,),
        layouts.rotary_notch: (BRIDGE,),
        layouts.bass_cut: (BRIDGE,),
        layouts.two_single_coils: (NECK, BRIDGE),
        layouts.two_single_coils_four_way: (NECK, BRIDGE),
        layouts.two_stacked_pairs: (NECK, BRIDGE),
        layouts.bass_two_volumes: (BASS, BRIDGE),
        layouts.bass_blend: (BASS, BRIDGE),
        layouts.three_single_coils: (NECK, MIDDLE, BRIDGE),
        layouts.three_single_coils_blender: (NECK, MIDDLE, BRIDGE),
        layouts.hss: (NECK, MIDDLE, LEADS),
        layouts.two_humbuckers: (BRIDGE, LOSSY),
        layouts.two_humbuckers_rotary: (LEADS, OTHER_LEADS),
        layouts.two_humbuckers_push_pull: (LEADS, OTHER_LEADS),
    }
    found = {}
    for number, (layout, coils) in enumerate(pickups.items()):
        taken = inspect.signature(layout).parameters
        guitar = layout(*coils, **{k: v for k, v in OTHERWISE.items() if k in taken})
        knobs = dict.fromkeys(knobs_of(guitar), 6)
        found[f"{number} {', '.join(sorted(set(taken) & set(OTHERWISE)))}"] = {
            "parts": str(guitar.part_table()),
            "joints": len(guitar.joined),
            "response": gn.response(guitar, frequency=F, **at_all_positions(guitar), **knobs),
        }
    return found


@ability("options of parts, tapers and switches", quick=True)
def _() -> Any:
    coil = gn.Coil(
        "4k",
        "2 H",
        "90p",
        eddy_resistance="150k",
        eddy_share="30%",
        screening_frequency="4 kHz",
        tolerance="3%",
        signal=0.9,
        source="invented",
    )
    parts = {
        "coil": coil,
        "broken coil": gn.Coil("4k", "2 H", "90p", broken=True),
        "humbucker": gn.Humbucker(coil, coil, coupling=0.2, source="invented"),
        "tapped": gn.tapped(gn.Coil("8k", "4 H", "120p"), 0.4, coupling="90%"),
    }
    places = {
        "five": gn.switches.five_way_lever(places=("1", "2", "3", "4", "5")),
        "four": gn.switches.four_way_lever(places=("1", "2", "3", "4")),
        "three": gn.switches.three_way_toggle(places=("1", "2", "3")),
        "on-on-on": gn.switches.on_on_on(places=("1", "2", "3")),
    }
    blend = gn.BlendPot("250k", tolerance="15%", source="invented")
    two = {
        "capacitor": gn.Capacitor("1n", source="invented"),
        "choke": gn.Choke("1 H", tolerance="10%", source="invented"),
        "pot": gn.Pot("250k", "linear", source="invented"),
        "amp": gn.AmpInput("1M", source="invented"),
        "blend pot": blend,
        "box of parts": gn.Harness(
            {"pickup": NECK, "tone": gn.Pot("250k", "linear")},
            [("pickup.hot", "tone.wiper"), ("pickup.ground", "tone.low")],
            open_lugs=["tone.high"],
        ),
    }
    laws = {
        "reverse audio, dead ends": gn.reverse_audio_taper(0.15, dead_zone=0.04),
        "measured with noise": gn.measured_taper(
            [0, 100, 150, 200, 300], [0, 60, 59.9, 120, 250], noise="2%", name="noisy"
        ),
    }
    return {
        "responses": {
            n: gn.response(gn.layouts.one_pickup(p), frequency=F) for n, p in parts.items()
        },
        "in words": {n: str(p) for n, p in {**parts, **two}.items()},
        "positions": {name: one.places for name, one in places.items()},
        "tapers": {
            name: [law.name, [law(x) for x in (0.1, 0.5, 0.9)]] for name, law in laws.items()
        },
        "copper": [
            gn.windings.resistance_at("6.2k", 40, conductivity="97%"),
            gn.windings.wire_resistance("AWG 42", conductivity="97%"),
        ],
        "place": [
            gn.strings.string_spectrum(
                gn.strings.PickupPosition(
                    "40 mm", coil_spacing="18 mm", coils_in_phase=False, sign=-1
                ),
                harmonics=5,
                scale="25.5 in",
                pluck="5 in",
            )
        ],
        "values": [
            gn.values.read_value("3k", "ohm", where="asked"),
            gn.bench.Ohmmeter(floor="2 ohm").limit(1.0),
        ],
        "from data": gn.harness_from_dict(gn.harness_to_dict(three()), where="asked") == three(),
    }


@ability("options of responses, measures and meters", quick=True, within=1e-6)
def _() -> Any:
    guitar, tube = main_guitar(), main_guitar().replace("amp", gn.amp_input("tube amp"))
    both = {"a": three(), "b": three().replace("treble_bleed", None)}
    h = gn.response(guitar, frequency=gn.sweeps.frequency_grid(per_decade=40), tone=[10, 5, 0])
    plain = gn.layouts.one_pickup(BRIDGE)
    net = three().netlist()
    reading = [
        gn.bench.ResistanceReading("6.9k", volume=10),
        gn.bench.ResistanceReading("67k", largest_over="volume"),
    ]
    recovered = gn.bench.values_from_readings(
        plain,
        reading,
        ["pickup.resistance", "volume.resistance"],
        meter=gn.bench.Ohmmeter("2%"),
        coil_temperature=30,
        tolerances={"tone.resistance": "10%"},
    )
    return {
        "compare": gn.response(
            both, frequency=F, at="grid", reference_frequency="200 Hz", source="hum", pickups="each"
        ),
        "taper of another knob": gn.effective_taper(h, "tone"),
        "change by another knob": table_of(gn.treble_change(h, knob="tone")),
        "expected": str(
            gn.expected_readings(
                three(),
                coil_temperature=30,
                meter=gn.bench.Ohmmeter("2%"),
                within="90%",
                count=100,
                seed=2,
                tolerances={"volume": "5%"},
            )
        ),
        "hum": table_of(gn.audio.hum(three(), frequency=[50.0, 150.0], at="grid", switch="neck")),
        "lugs": {
            "ohms": gn.bench.lug_resistance(
                guitar,
                "volume.high",
                "volume.low",
                coil_temperature=30,
                meter=gn.bench.Ohmmeter("2%"),
            ),
            "farad": table_of(
                gn.bench.lug_capacitance(
                    guitar, "tone_capacitor.a", "tone_capacitor.b", frequency="120 Hz", tone=0
                )
            ),
        },
        "noise": table_of(gn.audio.noise_level(tube, at="grid", temperature=35)),
        "noise density": gn.audio.noise_spectrum(tube, frequency=F, at="grid"),
        "noise table": str(
            gn.audio.noise_table(guitar, marks=[10, 5], signal="50 mV", temperature=30)
        ),
        "one coil at half": gn.formulas.node_voltage(
            net, three().node("amp.tip"), np.array(F), amplitudes={net.sources()[0]: 0.5}
        ),
        "impulse": gn.audio.impulse_response(tube, rate=22_050, duration=0.01, at="grid").isel(
            time=slice(0, 30, 3)
        ),
        "limits": gn.tolerances.limits(guitar, tolerances={"volume.resistance": "5%"}),
        "recovered": [dict(recovered.values), dict(recovered.uncertainties)],
        "quantiles": str(
            gn.tolerances.quantile_table(
                {"a": xr.DataArray(np.arange(9.0), dims="sample")}, levels=[0.25, 0.75]
            )
        ),
    }


@ability("options of formulas, slopes and draws", within=1e-6, floor=1e-7, seed=2)
def _() -> Any:
    tube = gn.layouts.one_pickup(BRIDGE, amp=gn.amp_input("tube amp"), tone=None)
    guitar = main_guitar()
    paths = ["pickup.inductance", "cable.length"]
    two = {"pickup.resistance": "5%", "volume.resistance": "20%"}
    draws = gn.tolerances.spread(guitar, 50, seed=2)
    ranked = gn.tolerances.sensitivity_ranking(
        tube,
        frequency=["1 kHz", "5 kHz"],
        at="grid",
        re="reference",
        reference_frequency="200 Hz",
        tolerances={"pickup.inductance": "8%", "volume.resistance": "15%"},
    )
    sobol = gn.tolerances.sobol_shares(
        guitar, lambda **s: gn.jack_resistance(guitar, **s), base=32, seed=2, tolerances=two
    )
    tracks = gn.tolerances.spread_tapers(
        three(), {"tone_1": [5], "tone_2": [5]}, 4, seed=2, alike=[["tone_1", "tone_2"]]
    )
    return {
        "formula behind the grid": str(
            gn.formulas.transfer_function(tube, keep="volume", at="grid")
        ),
        "gain": str(gn.formulas.dc_gain(tube, at="grid", volume=7)),
        "poles": np.sort_complex(gn.formulas.poles(tube, at="grid", volume=7)),
        "zeros": np.sort_complex(gn.formulas.zeros(tube, at="grid", volume=7)),
        "slopes": gn.tolerances.sensitivity(
            tube, frequency=F, values=paths, at="grid", re="reference", reference_frequency="200 Hz"
        ),
        "ranking": {"order": ranked["value"].values, **table_of(ranked)},
        "shares": {"order": sobol["value"].values, **table_of(sobol)},
        "tapers alike": tracks,
        "band": gn.tolerances.tolerance_band(
            guitar,
            draws,
            frequency=F,
            levels=[0.2, 0.8],
            at="grid",
            re="reference",
            reference_frequency="200 Hz",
        ),
    }


@ability("options of choosing, diagnosis and sweeps", ranked=True, within=1e-5)
def _() -> Any:
    two = gn.layouts.two_humbuckers(BRIDGE, LOSSY)
    goal = gn.choosing.BleedGoal(
        marks=(10, 7, 4),
        mark_weights={7: 2.0, 4: 1.0},
        frequency_weight=lambda f: f / f.max(),
        reference_frequency="200 Hz",
        over="mean",
    )
    found = gn.choose_treble_bleed(
        two,
        goal=goal,
        place="neck_bleed",
        knob="neck_volume",
        capacitors=["470p", "1n"],
        resistors=["100k", "220k"],
        at="grid",
        switch="neck",
    )
    level = gn.choosing.Goal(
        "level",
        near=3,
        at={"volume": 7},
        reference_frequency="200 Hz",
        options={"frequency": "3 kHz", "re": "reference"},
    )
    chosen = gn.choosing.choose(main_guitar(), {"tone_capacitor": ["10n", "47n"]}, level, at="grid")
    matched = gn.choosing.match_response(
        main_guitar(),
        three(),
        loads=["capacitor"],
        lugs=("volume.high", "volume.low"),
        reference_frequency="200 Hz",
    )
    plan = gn.sweeps.plan_sweep(
        {"a": main_guitar(), "b": gn.layouts.one_pickup(BRIDGE)},
        {"level": lambda h: gn.level_db(h, re="reference").max("frequency")},
        frequency=F,
        at="grid",
        reference_frequency="200 Hz",
        source="hum",
        dim="guitar",
        volume=[10, 5],
    )
    return {
        "bleed": str(found),
        "goal in words": goal.description("volume"),
        "grid of the goal": [len(one) for one in goal.frequencies(3)],
        "chosen": str(chosen),
        "matched": str(matched),
        "diagnosis": str(
            gn.diagnose(
                main_guitar(),
                [gn.bench.ResistanceReading("12k", volume=10)],
                tolerances={"volume.resistance": "5%"},
            )
        ),
        "sweep": plan.dataset().level.load(),
    }


@ability("options of fits and curves", within=1e-3, floor=1e-4)
def _() -> Any:
    f = np.geomspace(50, 15e3, 80)
    level = -10 * np.log10((1 - (f / 5e3) ** 2) ** 2 + (f / 15e3) ** 2)
    curve = gn.fitting.MeasuredCurve(
        f,
        level,
        np.linspace(0, -150, 80),
        kind="string",
        load=gn.fitting.Load("1M"),
        known_scale=False,
        unusual=True,
    )
    told = gn.fitting.Measurements(
        curves=[curve],
        resistance="6k",
        resistance_within="3%",
        beside_idle_coil=False,
        inductance=gn.fitting.InductanceReading("2.4 H", within="5%"),
        peak=gn.fitting.PeakReading(
            "5 kHz", gn.fitting.Load("1M"), height=8, within="5%", height_within=2.0
        ),
    )
    rig = gn.fitting.fit_pickups(
        {"one": told},
        losses=False,
        slow_screening=False,
        instrument=gn.fitting.Load("1M", "20p"),
        band=("100 Hz", "9 kHz"),
    )
    read = gn.fitting.read_curve(
        DATA / "single-coil-wide-10.6k.unloaded.csv",
        name="asked",
        load=gn.fitting.Load(),
        slope=20,
        known_scale=False,
        unusual=True,
    )
    return {"rig": fitted(rig["one"]), "read": [read.name, read.known_scale, read.level[[0, -1]]]}


@ability("options of plucked sound", seed=4, within=1e-6)
def _() -> Any:
    note = gn.strings.pluck(
        "A2",
        pickup=gn.strings.PickupPosition("40 mm"),
        fret=3,
        scale="25.5 in",
        distance="100 mm",
        duration=0.3,
        rate=22_050,
        fade=4.0,
        treble_fade=0.5,
        stiffness=1e-4,
        level="50 mV",
        seed=4,
    )
    tube = main_guitar().replace("amp", gn.amp_input("tube amp"))
    at = slice(0, None, 800)
    return {
        "note": note.isel(time=at),
        "behind the grid": gn.audio.play_through(note, tube, at="grid", volume=5).isel(time=at),
        "half as loud": gn.audio.normalise(note, peak=-6.0).isel(time=at),
        "bare": labels_of(gn.audio.sound([0.0, 0.1], rate=8000)),
    }


@ability("options of figures", within=1e-3, floor=1e-4, seed=1)
def _() -> Any:
    import matplotlib.pyplot as plt

    view = (100.0, 8e3)
    guitar = main_guitar()
    grid = gn.sweeps.frequency_grid(50, 15e3, per_decade=30)
    toned = gn.response(
        {"a": guitar, "b": three().replace("switch.place", "neck")},
        frequency=grid,
        **{"volume": [10, 5]},
    )
    tones = gn.response(guitar, frequency=grid, tone=range(11))
    h = gn.response(guitar, frequency=grid, volume=5, **gn.tolerances.spread(guitar, 60, seed=1))
    z = gn.impedance(guitar, frequency=grid)
    dark = gn.layouts.one_pickup(gn.Pickup("8k", "4 H", "150p"))
    choices = gn.choosing.choose(
        guitar,
        {"cable.length": ["1 m", "3 m"]},
        [gn.choosing.Goal("peak frequency", near="4k"), gn.choosing.Goal("peak height", at_most=6)],
        anyway=True,
    )
    ranked = gn.tolerances.sensitivity_ranking(guitar, frequency=["1 kHz", "4 kHz"])
    spectrum = gn.strings.string_spectrum("162 mm")
    slopes = gn.tolerances.sensitivity(guitar, frequency=grid)
    on = {
        name: plt.subplots()[1]
        for name in (
            "response",
            "bands",
            "choices",
            "front",
            "map",
            "ranking",
            "sensitivity",
            "string",
            "turned down",
            "draw",
        )
    }
    two = {name: plt.subplots(2)[1] for name in ("fit", "match", "impedance")}
    return {
        "response": drawn(
            gn.plot_response(h.isel(sample=0), ax=on["response"], view=view, title="Asked for")
        ),
        "bands": drawn(
            gn.plots.plot_bands(
                h, ax=on["bands"], levels=(0.2, 0.8), re="reference", title="Asked for", view=view
            )
        ),
        "builds": drawn(
            gn.plots.plot_builds(
                tones.expand_dims(build=["one"]), [10, 5], knob="tone", title="Asked for", view=view
            )
        ),
        "difference": drawn(
            gn.plots.plot_difference(
                tones.expand_dims(build=["one"]),
                [5],
                knob="tone",
                re={"tone": 10},
                title="Asked for",
                view=view,
            )
        ),
        "map": drawn(gn.plots.plot_map(tones, ax=on["map"], knob="tone", re=None, view=view)),
        "turned down": drawn(
            gn.plots.plot_turned_down(
                tones, 5, ax=on["turned down"], knob="tone", title="Asked for", view=view
            )
        ),
        "taper": drawn(gn.plots.plot_taper(tones, knob="tone", title="Asked for")),
        "choices": drawn(
            gn.plots.plot_choices(choices, ax=on["choices"], goal=1, title="Asked for")
        ),
        "front": drawn(
            gn.plots.plot_front(
                gn.choose_treble_bleed(guitar, series="E3"), ax=on["front"], title="Asked for"
            )
        ),
        "fit": drawn(
            gn.plots.plot_fit(two_curve_fit(), ax=two["fit"], title="Asked for", view=view)
        ),
        "match": drawn(
            gn.plots.plot_match(
                gn.choosing.match_response(guitar, dark, loads=["capacitor"]),
                ax=two["match"],
                title="Asked for",
                view=view,
            )
        ),
        "impedance": drawn(
            gn.plots.plot_impedance(z, ax=two["impedance"], title="Asked for", view=view)
        ),
        "ranking": drawn(
            gn.plots.plot_ranking(ranked, ax=on["ranking"], most=3, title="Asked for")
        ),
        "sensitivity": drawn(
            gn.plots.plot_sensitivity(
                slopes, ax=on["sensitivity"], most=2, title="Asked for", view=view
            )
        ),
        "string": drawn(gn.plots.plot_string_spectrum(spectrum, ax=on["string"], view=view)),
        "schematic": len(drawn(gn.draw(guitar, ax=on["draw"], title="Asked for"))["axes"]),
        "builds of both": drawn(gn.plots.plot_builds(toned, [10, 5])),
        "live page of an array": repr(gn.live_page(tones, knob="tone", view=view)),
        "live page": words_of(gn.live_page(guitar, re=None, view=view, volume=4).html()),
    }


# -- refusals -------------------------------------------------------------------------------------

REFUSALS: dict[str, Callable[[], Any]] = {
    "bare small number": lambda: gn.Capacitor("0.022"),
    "comma": lambda: gn.Capacitor("0,022uF"),
    "negative ohms": lambda: gn.Pickup("-6k", "2.4 H", "120p"),
    "no ohms": lambda: gn.Pickup("", "2.4 H", "120p"),
    "henry for ohm": lambda: gn.Resistor("2.4 H"),
    "nan": lambda: gn.Resistor(float("nan")),
    "a list for a value": lambda: gn.Resistor([1, 2]),
    "a bool for a value": lambda: gn.Resistor(True),
    "percent beyond": lambda: gn.Resistor("1k", tolerance="120%"),
    "mark of 11": lambda: gn.response(main_guitar(), frequency=F, volume=11),
    "mark of text": lambda: gn.response(main_guitar(), frequency=F, volume="loud"),
    "no such knob": lambda: gn.response(main_guitar(), frequency=F, volum=5),
    "no such value": lambda: gn.response(
        main_guitar(), frequency=F, **{"pickup.inductanse": "2 H"}
    ),
    "no such position": lambda: gn.response(three(), frequency=F, switch="nekc"),
    "position by number": lambda: gn.response(three(), frequency=F, switch=1),
    "no frequency": lambda: gn.response(main_guitar(), frequency=[]),
    "negative frequency": lambda: gn.response(main_guitar(), frequency=[-1.0]),
    "no such place": lambda: gn.response(main_guitar(), frequency=F, at="pedal"),
    "no such source": lambda: gn.response(main_guitar(), frequency=F, source="hiss"),
    "twice the same value": lambda: gn.response(main_guitar(), frequency=F, volume=[5, 5]),
    "not a guitar": lambda: gn.response("guitar", frequency=F),
    "volume 10 was not swept": lambda: gn.level_db(
        gn.response(main_guitar(), frequency=F, volume=[5]), re={"volume": 10}
    ),
    "re nothing known": lambda: gn.level_db(gn.response(main_guitar(), frequency=F), re="loudest"),
    "no knob to compare": lambda: gn.treble_change(gn.response(main_guitar(), frequency=F)),
    "unknown taper": lambda: gn.taper("logarithmic-ish"),
    "letter alone": lambda: gn.taper("A"),
    "unknown convention": lambda: gn.taper("A", convention="tomorrow"),
    "half beyond": lambda: gn.audio_taper(1.5),
    "taper of two points": lambda: gn.measured_taper([0, 0], [0, 1]),
    "bleed that cannot be read": lambda: gn.bleed("1n |||| 150k"),
    "no such wiring": lambda: gn.layouts.one_pickup(BRIDGE, wiring="70s"),
    "no such ready pickup": lambda: gn.ready_pickup("wide singl coil, 10.6k"),
    "no such amp": lambda: gn.amp_input("tube amb"),
    "no such connection": lambda: gn.Humbucker(
        gn.Coil("4k", "2 H", "90p"), gn.Coil("4k", "2 H", "90p"), connection="sideways"
    ),
    "no such series": lambda: gn.values.preferred_values("E7", "1k", "2k"),
    "marking of four digits": lambda: gn.values.read_marking("22345"),
    "lug that is not there": lambda: main_guitar().join("volume.top", "jack.tip"),
    "part that is not there": lambda: main_guitar().replace("treble", "1n"),
    "name taken": lambda: main_guitar().add("volume", gn.Pot("250k", "linear")),
    "lug left unjoined": lambda: main_guitar().add("extra", gn.Resistor("1k")).check(),
    "nothing plugged in": lambda: gn.response(
        gn.Harness(
            {"pickup": BRIDGE, "jack": gn.Jack()},
            [("pickup.hot", "jack.tip"), ("pickup.ground", "jack.sleeve")],
        ),
        frequency=F,
    ),
    "only one of two": lambda: three().only(gn.Pickup),
    "ideal source shorted": lambda: _shorted(),
    "no file": lambda: gn.load_harness("absent.toml"),
    "no TOML": lambda: gn.load_harness(_file("broken.toml", "a = [")),
    "unknown kind in a file": lambda: gn.load_harness(
        _file("kind.toml", 'name = "x"\n[parts.p]\nkind = "Pikup"\n')
    ),
    "file into a folder": lambda: gn.save_harness(main_guitar(), "nowhere/at/all.toml"),
    "no such lug to measure": lambda: gn.bench.lug_resistance(
        main_guitar(), "volume.high", "volume.top"
    ),
    "reading of text": lambda: gn.verify(three(), {"neck": "six"}),
    "reading at no position": lambda: gn.verify(three(), {"nek": "6k"}),
    "no reading": lambda: gn.diagnose(three(), {}),
    "no such symptom": lambda: gn.diagnose(three(), READ, symptoms={"hoarse": "neck"}),
    "no such fault": lambda: gn.bench.faults(main_guitar())["pickup coil brokn"],
    "no such fault kind": lambda: gn.bench.faults(main_guitar(), kinds="pots"),
    "meter of no accuracy": lambda: gn.bench.Ohmmeter(accuracy="-1%"),
    "pickup of 8 ohm": lambda: gn.Pickup(8.2, 2.4, 120e-12),
    "share that may be percent": lambda: gn.bench.Ohmmeter(accuracy=0.5),
    "pot of 250 ohm": lambda: gn.layouts.one_pickup(BRIDGE, volume=250),
    "no letter": lambda: gn.formulas.symbol_of(main_guitar(), "pickup.colour"),
    "symbols of a sweep": lambda: gn.formulas.transfer_function(main_guitar(), volume=[10, 5]),
    "SPICE of a sweep": lambda: gn.formulas.to_spice(main_guitar(), volume=[10, 5]),
    "no goal": lambda: gn.choosing.Goal("peak frequency"),
    "no such measure": lambda: gn.choosing.Goal("peak freqency", near="3k"),
    "range turned round": lambda: gn.choosing.Range("10 m", "1 m"),
    "nothing to choose": lambda: gn.choosing.choose(
        main_guitar(), {}, gn.choosing.Goal("peak height", near=3)
    ),
    "no place for a bleed": lambda: gn.choose_treble_bleed(gn.layouts.pickup_alone(BRIDGE)),
    "two places for a bleed": lambda: gn.choose_treble_bleed(live_builds()["as it is"]),
    "no such load": lambda: gn.choosing.match_response(main_guitar(), three(), loads=["coil"]),
    "curve of two points": lambda: gn.fitting.MeasuredCurve([100, 200], [1, 2]),
    "nothing measured": lambda: gn.fit_pickup(),
    "no such curve": lambda: gn.fitting.read_curve("absent.csv"),
    "curve without columns": lambda: gn.fitting.read_curve(_file("bad.csv", "a,b\n1,2\n")),
    "pickup outside the string": lambda: gn.strings.string_spectrum("900 mm"),
    "no such note": lambda: gn.strings.string_spectrum("162 mm", string="H9"),
    "no sound": lambda: gn.audio.sound([]),
    "sound that is none": lambda: gn.audio.read_sound(_file("bad.wav", "no sound")),
    "too many draws": lambda: gn.tolerances.spread(main_guitar(), -1),
    "no such tolerance": lambda: gn.tolerances.spread(main_guitar(), 5, tolerances={"volum": "5%"}),
    "several values for a page": lambda: gn.live_page(main_guitar(), volume=[10, 5]),
    "no such paper": lambda: gn.job_card(main_guitar(), "card.html", paper="A3"),
    "no such ending": lambda: gn.job_card(main_guitar(), "card.doc"),
    "plot of a word": lambda: gn.plot_response("h"),
    "mark that was not swept": lambda: gn.plots.plot_builds(swept(), [2.5]),
    "map of one mark": lambda: gn.plots.plot_map(swept().sel(build="1 nF", volume=10)),
    "sweep too large": lambda: gn.response(
        main_guitar(),
        frequency=gn.sweeps.frequency_grid(),
        **{"pickup.inductance": np.linspace(2, 3, 3000), "volume": np.linspace(0, 10, 3000)},
    ),
    "no measure to keep": lambda: gn.sweeps.plan_sweep(main_guitar(), {}),
    "no turns": lambda: gn.windings.winding(
        "AWG 42", core_length="60 mm", core_width="5 mm", traverse="11 mm"
    ),
    "no such wire": lambda: gn.windings.wire_diameter("AWG 99"),
    "share of a coil beyond": lambda: gn.tapped(gn.Coil("8k", "4 H", "120p"), "140%"),
    "switch of one place": lambda: gn.switches.rotary(1, ["a"]),
    "answer of no unit": lambda: check("5 V", 5.0, unit="Hz"),
}


def _file(name: str, content: str) -> str:
    Path(name).write_text(content, encoding="utf-8")
    return name


def _shorted() -> Any:
    net = gn.formulas.Netlist()
    net.source("V", "in", "0")
    net.resistor("R", "in", "0", 0.0)
    return gn.formulas.node_voltage(net, "in", np.array([100.0]))


@ability("sentences of refusals", quick=True)
def _() -> Any:
    return {name: refused(call) for name, call in REFUSALS.items()}


@ability("an error tells its fields, and pickles", quick=True)
def _() -> Any:
    import pickle

    try:
        gn.Capacitor("0.022")
    except gn.GuitarnetError as error:
        again = pickle.loads(pickle.dumps(error))
        return {
            "where": again.where,
            "problem": again.problem,
            "fix": again.fix,
            "value": again.value,
            "says": str(again),
            "is a ValueError": isinstance(error, ValueError),
        }
    raise AssertionError("not refused")


@ability("table as text, CSV and rows", quick=True)
def _() -> Any:
    table = gn.Table(("what", "ohm"), [("a", 1.5), ("b", "OL")], "A title", "A note.")
    return {
        "text": str(table),
        "csv": _csv_of(table),
        "html": words_of(table._repr_html_()) if hasattr(table, "_repr_html_") else "",
        "parts": [table.columns, [list(row) for row in table.rows], table.title, table.note],
        "frame": table.to_dataframe().to_dict("list"),
        "frame of a result": gn.verify(three(), READ).to_dataframe().round(6).to_dict("list"),
    }


def _csv_of(table: gn.Table) -> str:
    table.to_csv("table.csv")
    return Path("table.csv").read_text(encoding="utf-8-sig")


# -- the command ----------------------------------------------------------------------------------


def command(*words: str, inside: str = "") -> dict[str, Any]:
    """Run the command in the folder; gives exit code, what is printed, and the files left.

    Texts that are left are given whole, others by name.
    """
    from guitarnet.command.line import main

    out, err = io.StringIO(), io.StringIO()
    before = set(Path.cwd().rglob("*"))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(words))
    found: dict[str, Any] = {"exit": code, "out": out.getvalue(), "err": err.getvalue()}
    left = sorted(path for path in set(Path.cwd().rglob("*")) - before if path.is_file())
    here = Path.cwd()
    if left:
        found["left"] = {
            path.relative_to(here).as_posix(): path.read_text(encoding="utf-8-sig")
            if path.suffix in _AS_TEXT
            else ("empty" if not path.stat().st_size else path.suffix)
            for path in left
        }
    return found


VERBS = (
    *("new", "pickups", "draw", "card", "check", "fault", "bleeds", "cable", "wiring"),
    *("choose", "page", "measure", "record", "certificate", "returned", "sheet", "history"),
    "completion",
)


@ability("command: help of every verb", quick=True)
def _() -> Any:
    return {
        "alone": command(),
        "help": command("--help"),
        "version": command("--version"),
        **{verb: command(verb, "--help") for verb in VERBS},
    }


@ability("command: new, for every layout")
def _() -> Any:
    listed = command("new")
    names = re.findall(r"^(\w+) {2,}", listed["out"], re.MULTILINE)[1:]
    found = {"listed": listed}
    for name in names:
        found[f"values of {name}"] = command("new", name)
        made = command("new", name, f"{name}.toml")
        found[f"file of {name}"] = [made["exit"], made["left"]]
    found["with values"] = command(
        "new",
        "two_humbuckers",
        "mine.toml",
        "neck=4",
        "bridge.resistance=8.2k",
        "volume=500k",
        "treble_bleed=150k || 1n",
        "cable=5 m",
        "name=S. guitar",
    )
    return found


def _mine(*values: str) -> None:
    command("new", "three_single_coils", "mine.toml", "cable=5 m", *values)


@ability("command: check")
def _() -> Any:
    _mine()
    good = "neck=6.05k", "middle=6.1k", "bridge=6.0k"
    bad = "neck=6.05k", "middle=249k", "bridge=6.0k"
    return {
        "check": command("check", "mine.toml"),
        "check, good": command("check", "mine.toml", *good),
        "check, bad": command(
            "check",
            "mine.toml",
            *bad,
            "--leads",
            "0.5 ohm",
            "--accuracy",
            "1%",
            "--largest",
            "2M",
            "--temperature",
            "28",
            "--out",
            "other",
        ),
    }


@ability("command: fault, read, heard and with other meters", ranked=True)
def _() -> Any:
    _mine()
    return {
        "read": command("fault", "mine.toml", "neck=6.05k", "middle=249k", "bridge=6.0k"),
        "heard": command(
            "fault",
            "mine.toml",
            "neck=6.05k",
            "middle=6.05k",
            "bridge=6.0k",
            "--heard",
            "tone_1=does nothing",
        ),
        "tested": command(
            "fault",
            "mine.toml",
            "neck=6.05k",
            "middle=6.05k",
            "bridge=6.0k",
            "--test",
            "tap:neck=middle",
            "--test",
            "tap:middle=neck",
        ),
        "open on a fixed range": command("fault", "mine.toml", "middle=OL", "--largest", "20k"),
        "knob and lugs": command(
            "fault",
            "mine.toml",
            "neck,volume:5=32k",
            "volume.wiper:jack.tip=0 ohm",
            "--temperature",
            "30",
        ),
    }


@ability("command: draw and card")
def _() -> Any:
    _mine("name=S. guitar")
    return {
        "draw": command("draw", "mine.toml"),
        "card": command(
            "card",
            "mine.toml",
            "--html-only",
            "--paper",
            "Letter",
            "--by",
            "R. L.",
            "--number",
            "12",
            "--date",
            "1 May",
            "--notes",
            "as built",
            "--out",
            "c",
        ),
    }


@ability("comparisons in sentences")
def _() -> Any:
    pickup = gn.Pickup("6.2k", "2.4 H", "120p")
    wirings = {w: gn.layouts.one_pickup(pickup, wiring=w) for w in ("modern", "50s")}
    told = gn.explain(wirings, volume=[10, 5], dim="wiring")
    return {
        "wirings": str(told),
        "numbers": told.to_dataframe()[["quantity", "value", "unit", "at", "re"]].to_dict("list"),
        "cables": str(gn.explain(main_guitar(), {"cable.length": ["3 m", "6 m"]}, treble="2 kHz")),
        "another band": str(gn.explain(main_guitar(), volume=[10, 5], band=("300 Hz", "4 kHz"))),
        "silence": str(gn.explain(main_guitar(), volume=[10, 0])),
    }


@ability("command: bleeds", within=1e-6)
def _() -> Any:
    _mine()
    command("new", "two_humbuckers", "two.toml")
    return {
        "asked": command(
            "bleeds",
            "mine.toml",
            "150k || 1n",
            "680p",
            "130k + 1.2n",
            "--marks",
            "10",
            "7",
            "5",
            "--set",
            "tone_1=8",
            "--tables",
        ),
        "in sentences": command("bleeds", "mine.toml", "1n"),
        "one of two places": command(
            "bleeds", "two.toml", "1n", "--place", "neck_bleed", "--set", "switch=neck"
        ),
    }


@ability("command: cable", within=1e-6)
def _() -> Any:
    _mine()
    return {"lengths": command("cable", "mine.toml", "10 ft", "--set", "tone_1=8")}


@ability("command: choose", ranked=True)
def _() -> Any:
    _mine()
    return {
        "cables": command(
            "choose",
            "mine.toml",
            "--cable",
            "3 m",
            "--cable",
            "6 m",
            "--goal",
            "treble",
            "--within",
            "4",
            "--series",
            "E6",
        ),
        "own": command("choose", "mine.toml", "220k || 680p", "--series", "E3", "--out", "own"),
    }


@ability("command: page and completion")
def _() -> Any:
    _mine()
    command("new", "one_pickup", "one.toml")
    found = {
        "page": command("page", "mine.toml", "--set", "volume=5", "--set", "switch=neck"),
        "of two": command("page", "mine.toml", "one.toml", "--title", "Both", "--out", "both"),
        "of values": command(
            "page",
            "one.toml",
            "--set",
            "treble_bleed=1n",
            "--set",
            "treble_bleed=150k || 1n",
            "--out",
            "values",
        ),
    }
    pages = {
        name: Path(folder, "live.html").read_text(encoding="utf-8-sig")
        for name, folder in {"page": "mine", "of two": "both", "of values": "values"}.items()
    }
    found["words"] = {name: words_of(page) for name, page in pages.items()}
    for shell in ("bash", "zsh", "fish", "tcsh", "powershell"):
        made = command("completion", shell)
        known = [verb for verb in VERBS if re.search(rf"\b{verb}\b", made["out"])]
        found[f"completion, {shell}"] = {"exit": made["exit"], "completes": known}
    return found


@ability("command: refusals, which leave nothing")
def _() -> Any:
    _mine()
    tried = {
        "no verb": ["chek"],
        "no option": ["check", "mine.toml", "--leeds", "1"],
        "no file": ["check", "absent.toml"],
        "no layout": ["new", "one_pikup"],
        "file is there": ["new", "one_pickup", "mine.toml"],
        "no such value": ["new", "one_pickup", "x.toml", "volum=1M"],
        "bad value": ["new", "one_pickup", "x.toml", "volume=many"],
        "needs a file": ["draw"],
        "needs readings": ["fault", "mine.toml"],
        "bad reading": ["check", "mine.toml", "neck"],
        "bad ohms": ["check", "mine.toml", "neck=six"],
        "no such position": ["fault", "mine.toml", "nek=6k"],
        "no such symptom": ["fault", "mine.toml", "neck=6k", "--heard", "neck=hoarse"],
        "bad temperature": ["check", "mine.toml", "--temperature", "warm"],
        "bad accuracy": ["check", "mine.toml", "--accuracy", "-1%"],
        "no such paper": ["card", "mine.toml", "--paper", "A3"],
        "bad network": ["bleeds", "mine.toml", "1n |||| 2k"],
        "no such goal": ["choose", "mine.toml", "--goal", "loud"],
        "no such series": ["choose", "mine.toml", "--series", "E7"],
        "no such place": ["bleeds", "mine.toml", "1n", "--place", "neck_bleed"],
        "bad mark": ["bleeds", "mine.toml", "1n", "--marks", "10", "11"],
        "bad setting": ["page", "mine.toml", "--set", "volume"],
        "twice": ["page", "mine.toml", "mine.toml"],
        "no shell": ["completion", "cmd"],
    }
    return {name: command(*words) for name, words in tried.items()}


# -- examples, lessons, pages of the site ---------------------------------------------------------


def example(name: str, *options: str) -> dict[str, Any]:
    """Run an example as a person does; gives what it prints and the texts that it leaves."""
    done = subprocess.run(
        [sys.executable, str(PROJECT / "examples" / name), *options],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=1800,
        env={**_environment(), "COLUMNS": "88"},
    )
    here = Path.cwd()
    left = {
        path.relative_to(here).as_posix(): path.read_text(encoding="utf-8-sig")
        if path.suffix in _AS_TEXT and path.stat().st_size < 20_000
        else path.suffix
        for path in sorted(here.rglob("*"))
        if path.is_file() and ".zarr" not in path.as_posix() and "parquet" not in path.as_posix()
    }
    out = re.sub(r"\(\d+ s\)", "(so many s)", done.stdout)  # of the clock
    return {"exit": done.returncode, "out": out, "err": done.stderr, "left": left}


def _environment() -> dict[str, str]:
    import os

    return {**os.environ, "PYTHONPATH": str(PROJECT), "OMP_NUM_THREADS": "1"}


@ability("example: the main job")
def _() -> Any:
    return example(
        "volume_10_and_5.py",
        "--resistance",
        "7k",
        "--bleed",
        "150k || 1n",
        "--bleed",
        "680p",
        "--cable",
        "3 m",
        "--tables",
    )


@ability("example: help of each")
def _() -> Any:
    names = sorted(path.name for path in (PROJECT / "examples").glob("*.py"))
    return {name: example(name, "--help")["out"] for name in names}


@ability("example: check a guitar", ranked=True)
def _() -> Any:
    return example("check_guitar.py")


@ability("example: choose a bleed", ranked=True)
def _() -> Any:
    return example("choose_bleed.py", "--cable", "3 m", "--cable", "6 m")


@ability("example: lengths of cable")
def _() -> Any:
    return example("cable_length.py")


@ability("example: fit a pickup")
def _() -> Any:
    return example("fit_pickup.py")


@ability("example: two guitars built alike")
def _() -> Any:
    return example("tolerance.py")


@ability("example: what if")
def _() -> Any:
    return example("what_if.py")


def lessons() -> list[Path]:
    """Sources of the lessons."""
    return sorted((PROJECT / "notebooks").glob("[0-9]*.py"))


def exercises_of(lesson: Path) -> dict[str, Any]:
    """Exercises of a lesson, by name."""
    from importlib import import_module

    module = import_module(f"exercises.{lesson.stem[3:]}")
    return {name: getattr(module, name) for name in module.__all__}


@ability("lessons' exercises: questions, answers, hints, verdicts", within=1e-5)
def _() -> Any:
    found: dict[str, Any] = {}
    for lesson in lessons():
        own = found[lesson.stem] = {}
        for name, exercise in exercises_of(lesson).items():
            exercise = a(Exercise, exercise)
            value = exercise.value()
            exercise = dataclasses.replace(exercise, expected=value)  # computed once
            number = isinstance(value, float)
            others = [0.5 * value, 1.5 * value, -value] if number else exercise.choices
            answers = [None, value, *(others or [not value])]
            own[name] = {
                "question": exercise.question,
                "answer": value,
                "unit": exercise.unit,
                "within": str(exercise.within),
                "reach": exercise.tolerance(value) if number else 0.0,
                "hints": [exercise.hint, exercise.low, exercise.high],
                "choices": exercise.choices,
                "verdicts": [
                    [a(Checked, one).verdict, one.right, one.words]
                    for one in (check(answer, exercise) for answer in answers)
                ],
            }
    return found


@ability("answers checked: right, near, slips of a factor, units", quick=True)
def _() -> Any:
    tried: dict[str, tuple[Any, Any, dict[str, Any]]] = {
        "right": ("5.03 kHz", 5033.0, {"unit": "Hz"}),
        "near": ("5.4 kHz", 5033.0, {"unit": "Hz", "hint": "A hint."}),
        "low": ("3 kHz", 5033.0, {"unit": "Hz", "low": "Too low.", "high": "Too high."}),
        "a thousand": ("5 Hz", 5033.0, {"unit": "Hz"}),
        "two pi": ("31.6 kHz", 5033.0, {"unit": "Hz"}),
        "bare": (5033, 5033.0, {"unit": "Hz"}),
        "decibels": (-3.2, -3.0, {"unit": "dB", "within": "0.5 dB"}),
        "percent": (0.15, 15.0, {"unit": "%"}),
        "yes": ("yes", True, {}),
        "no": (False, True, {"hint": "Think of the wiper."}),
        "a choice": ("neck", "neck", {"choices": ("neck", "bridge")}),
        "another": ("bridge", "neck", {"choices": ("neck", "bridge")}),
        "unanswered": (None, 3.0, {}),
        "exactly": (3, 3.0, {"within": 0, "unit": "readings"}),
        "open": ("OL", float("inf"), {"unit": "ohm"}),
        "no number": ("many", 3.0, {"unit": "ohm"}),
    }
    found = {}
    for name, (answer, expected, options) in tried.items():
        try:
            one = check(answer, expected, **options)
            found[name] = [one.verdict, one.right, one.words, str(one)]
        except gn.GuitarnetError as error:
            found[name] = [str(error)]
    return found


def _lesson(path: Path) -> Any:
    import os

    before = Path.cwd()
    os.chdir(path.parent)  # a lesson reads its data from beside it
    try:
        text, figures = run_cells(cells_of(path), path.name, stops=True)
    finally:
        os.chdir(before)
    # Folders of the moment and of the machine are no part of what a lesson teaches.
    text = re.sub(r"/\S*/(?=[\w.-]+\.(?:toml|csv|html|wav))", "", text)
    return {"prints": text, "figures": figures}


@ability("lessons: what they print and draw", ranked=True)
def _() -> Any:
    return {path.stem: _lesson(path) for path in lessons()}


@ability("worked answers: what they print and draw", ranked=True)
def _() -> Any:
    paths = sorted((PROJECT / "notebooks" / "answers").glob("[0-9]*.py"))
    return {path.stem: _lesson(path) for path in paths}


@ability("lessons: headings", quick=True)
def _() -> Any:
    return {
        path.stem: re.findall(r"^# (#+ .*)$", path.read_text(encoding="utf-8"), re.MULTILINE)
        for path in lessons()
    }


@ability("site: pages, their headings, and words of the glossary", quick=True)
def _() -> Any:
    docs = PROJECT / "docs"
    pages = sorted([*docs.glob("*.md"), *docs.glob("howto/*.md"), *docs.glob("api/*.md")])
    found: dict[str, Any] = {
        path.relative_to(docs).as_posix(): re.findall(
            r"^(#+ .*)$",
            re.sub(r"```.*?```", "", path.read_text(encoding="utf-8"), flags=re.S),
            re.MULTILINE,
        )
        for path in pages
    }
    found["README"] = re.findall(
        r"^(#+ .*)$",
        re.sub(r"```.*?```", "", (PROJECT / "README.md").read_text(encoding="utf-8"), flags=re.S),
        re.MULTILINE,
    )
    glossary = (docs / "glossary.md").read_text(encoding="utf-8")
    found["words of the glossary"] = re.findall(r"^([^\s:`#{(].*)\n(?=:   |: |   )", glossary, re.M)
    return found


@ability("site: what the code of every page prints and draws", ranked=True)
def _() -> Any:
    sys.path.insert(0, str(PROJECT / "docs"))
    try:
        import pages
    finally:
        sys.path.pop(0)
    import os

    found: dict[str, Any] = {}
    start = Path.cwd()
    for name in pages.pages():
        folder = start / name.replace("/", "-")
        folder.mkdir()
        os.chdir(folder)
        names: dict[str, Any] = {}
        prints, figures = [], 0
        for block in pages.blocks(pages.DOCS / f"{name}.md"):
            if block.kind == "python":
                if block.code.startswith("import guitarnet"):
                    names.clear()
                text, drawings = run_cells([block.code], name, names)
                prints.append(text)
                figures += drawings
            elif not block.sets_up:
                prints.append(_shell(block.code))
        found[name] = {"figures": figures, "prints": [text for text in prints if text]}
    os.chdir(start)
    return found


def _shell(code: str) -> str:
    program = Path(sys.executable).parent
    path = f"{program}:{_environment()['PATH']}"
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", code],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**_environment(), "PATH": path},
    )
    return done.stdout + done.stderr


@ability("examples in docstrings: what they give")
def _() -> Any:
    import doctest

    import matplotlib.pyplot as plt

    found = {}
    finder = doctest.DocTestFinder(recurse=False)
    for path, owner in face().items():
        if not callable(owner):
            continue
        name = path if path.startswith("layouts.") else path.rpartition(".")[2]
        for test in finder.find(owner, name, globs={"gn": gn}):
            module = sys.modules[owner.__module__]
            test.globs.update(vars(module))
            out = io.StringIO()
            result = doctest.DocTestRunner(verbose=False).run(test, out=out.write)
            plt.close("all")
            if result.failed:  # no golden is made of what fails
                raise AssertionError(out.getvalue())
            if test.examples:
                found[name] = {"gives": [one.want for one in test.examples]}
    return found


@ability("the record: pickups and guitars, what is written, corrected, answered and erased")
def _() -> Any:
    import matplotlib.pyplot as plt

    with gn.records.Record("bench.record", begin=True) as record:
        record.add("N-12", "pickup", sort="rods", customer="invented")
        record.add("T-7", "guitar")
        day = {"date": "2026-11-02"}
        how = {"at": "19 C", "accuracy": "0.5%", "state": "shipped"}
        record.write("N-12", readings="7.15k", **how, **day)
        guitar = main_guitar()
        words = {"finding": "jack loose", "work": "tightened", "remark": "rain"}
        read = [gn.bench.ResistanceReading("6.05k")]
        record.write("T-7", guitar=guitar, readings=read, state="found", **words, **day)
        fixed = record.correct(1, ohms="7.2k", at="20 C")
        other = record.correct(6, text="wind")
        record.correct(other, why="no matter")
        certificate = a(gn.records.Certificate, gn.records.certificate(record, "N-12"))
        back = gn.records.returned(record, "N-12", "7k", at="14 C", accuracy="1%", **day)
        a(gn.records.Returned, back)
        every = a(gn.records.History, gn.records.history(record, "rods"))
        ax = gn.plots.plot_history(every, ax=plt.subplots()[1], limits=("7k", "7.3k"), title="rods")
        sheet = gn.records.guitar_sheet(record, "T-7", "sheet.html")
        labels = gn.records.certificate_page([certificate], "labels.html", labels=True)
        return {
            "corrected by": [fixed, other],
            "names": [record.names(), record.names("pickup", sort="rods")],
            "what": [record.kind("T-7"), record.sort("N-12")],
            "list": str(record.table()),
            "table": str(record.table("T-7", corrected=True)),
            "entries": [
                a(gn.records.Entry, one).what() for one in record.entries("N-12", corrected=True)
            ],
            "harness": record.harness("T-7", state="found") == guitar,
            "text": record.export("a.txt").read_text() == record.to_text(),
            "frame": list(record.to_dataframe().columns),
            "certificate": str(certificate),
            "conditions": certificate.conditions(),
            "returned": [str(back), back.sentence(), back.off, back.sound],
            "history": [str(every), every.ohms],
            "picture": drawn(ax),
            "sheet": words_of(sheet.read_text(encoding="utf-8")),
            "labels": words_of(labels.read_text(encoding="utf-8")),
            "erased": record.erase("invented"),
        }


@ability("slow screening, capacitance between coils and of the lead; wirings, feet, drawn options")
def _() -> Any:
    slow = {"slow_share": "8%", "slow_frequency": "700 Hz"}
    coil = gn.Coil("4k", "2 H", "120p", **slow)
    pickup = gn.Pickup("6.2k", "2.4 H", "120p", **slow)
    pair = gn.Humbucker(coil, coil, between_capacitance="30p", lead_capacitance="200p")
    one = gn.layouts.one_pickup(pickup, cable="3 m")
    both = gn.choosing.wirings(guitar=main_guitar(), place="treble_bleed")
    figures = {
        "numbered": drawn(gn.draw(one, view="bench", lug_numbers=True)),
        "neck only": drawn(gn.draw(three(), view="bench", places={"switch": "neck"})),
    }
    level = gn.layouts.one_pickup(pair, cable="3 m")
    measured = [
        gn.fitting.Measurements((), inductance="2 H", resistance=ohms, connection=coil)
        for coil, ohms in (("coil 1", "4k"), ("coil 2", "4.1k"))
    ]
    gn.values.prefer_units(units="feet")
    try:
        feet = str(one.part_table())
    finally:
        gn.values.prefer_units(units="metric")
    return {
        "pickup": gn.response(one, frequency=F),
        "humbucker": gn.response(level, frequency=F),
        "wirings": {name: list(own.joined) for name, own in both.items()},
        "explained": str(gn.explain(both, volume=5)),
        "connections": [one.connection for one in measured],
        "feet": feet,
        "metres": str(one.part_table()),
        "drawn": figures,
    }


@ability("version and ready lists", quick=True)
def _() -> Any:
    return {
        "version": gn.__version__,
        "connections of a humbucker": list(gn.values.CONNECTIONS),
        "kinds of fault": list(gn.bench.FAULT_KINDS),
        "symptoms": list(gn.bench.SYMPTOMS),
        "pickups": {name: [part.label(), part.source] for name, part in gn.ready_pickups.items()},
        "amps": {name: part.label() for name, part in gn.values.amp_inputs.items()},
        "wirings": list(gn.layouts.WIRINGS),
        "pulls": {name: list(places) for name, places in gn.layouts.PULLS.items()},
    }


@ability("measuring with a sound card", within=1e-6)
def measuring_with_a_sound_card() -> dict[str, Any]:
    """Recordings of resistors behind an adapter without noise; files, tables and the drawing."""
    rate = 44_100
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        tones = gn.measuring.write_stimulus(home / "a.wav", rate=rate, peak=-9, periods=3)
        played = gn.audio.read_sound(tones).values[0]
        turn = 2j * np.pi * np.fft.rfftfreq(played.size, 1 / rate)

        def recorded(ohm: float) -> xr.DataArray:
            tip = np.fft.rfft(played) / (1 + 47e3 / ohm + turn * 47e3 * 100e-12)
            return gn.audio.sound([played, np.fft.irfft(tip, played.size)], rate)

        empty, short, known = (recorded(ohm) for ohm in (1e12, 0.1, 10e3))
        calibration = gn.measuring.read_calibration(
            empty, short, known, "10k", accuracy="0.5%", series="47k", series_accuracy="0.5%"
        )
        z = gn.measuring.read_impedance(
            recorded(22e3), calibration, empty, drift=0.01, lead="0.5p", name="resistor"
        )
        driven = gn.measuring.read_transfer(recorded(1e6), calibration, name="driven")
        texts = {}
        for name, one in {"z.csv": z, "z.s1p": z, "driven.csv": driven}.items():
            file = gn.measuring.save_measurement(one, home / name)
            texts[name] = file.read_text(encoding="utf-8").splitlines()[:2]
    return {
        "samples": played.size,
        "input": str(a(gn.measuring.Calibration, calibration).table()),
        "load": str(calibration.load),
        "impedance": z["impedance"],
        "standard error": z["standard_error"],
        "checks": [str(name) for name in z["check"].values],
        "level": abs(driven["transfer"]),
        "texts": texts,
        "adapter": drawn(gn.measuring.draw_adapter("47k"), name="a"),
    }
