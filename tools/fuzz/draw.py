"""Harnesses drawn at random: any parts, any joints, shorts, opens, faults, zero values."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from random_guitars import near

import guitarnet as gn
from guitarnet.circuit import edits, layouts
from guitarnet.gate import insisting
from guitarnet.parts.base import Part
from guitarnet.parts.humbucker import CONNECTIONS, tapped
from guitarnet.parts.taper import Taper
from guitarnet.study.faults.kinds import MAKERS

__all__ = ["FAMILIES", "Trial", "draw_trial"]

FAMILIES = ("graph", "layout", "fault")
"""Really random graphs of any parts; ready layouts with any values, edited; with a single fault."""

_LAYOUTS: dict[str, Callable[..., gn.Harness]] = {
    name: made for name in layouts.__all__ if inspect.isfunction(made := getattr(layouts, name))
}
_USUAL = {"ohm": 100e3, "F": 1e-9, "H": 2.0, "m": 3.0, "F/m": 100e-12, "ohm/m": 0.1, "ohm m": 1e9}
_WORDS = ("one", "two", "three", "four", "five")


@dataclass(frozen=True)
class Trial:
    """One question: a harness, its settings, where to listen, at which frequencies [Hz]."""

    family: str
    guitar: gn.Harness
    settings: dict[str, Any] = field(default_factory=dict)
    at: str = "amp"
    frequency: tuple[float, ...] = (1000.0,)


@insisting(True)  # values three decades around usual ones
def draw_trial(rng: np.random.Generator, family: str, *, swept: bool = True) -> Trial:
    """Draw one trial.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where chance comes from.
    family : str
        One of `FAMILIES`.
    swept : bool
        Whether some settings may be lists.
    """
    if family == "graph":
        guitar = _graph(rng)
    else:
        guitar = _other_values(rng, _layout(rng))
        guitar = _with_fault(rng, guitar) if family == "fault" else guitar
    if family == "graph" or rng.random() < 0.5:
        for _ in range(rng.integers(0, 3)):
            guitar = _edited(rng, guitar)
    guitar = _switched(rng, guitar)
    settings = _settings(rng, guitar, swept)
    return Trial(family, guitar, settings, _place(rng, guitar), _frequencies(rng))


# -- parts ----------------------------------------------------------------------------------------


def _chance(rng: np.random.Generator, share: float) -> bool:
    return bool(rng.random() < share)


def _pick(rng: np.random.Generator, *options: Any) -> Any:
    return options[rng.integers(len(options))]


def _taper(rng: np.random.Generator) -> Taper:
    half = float(rng.uniform(0.03, 0.45))
    points = np.sort(rng.uniform(0, 1, (2, 3)))
    table = ((0, 0), *map(tuple, points.T.tolist()), (1, 1))
    made = _pick(
        rng,
        gn.linear_taper(),
        gn.audio_taper(half),
        gn.audio_taper(half, shape="exponential"),
        gn.reverse_audio_taper(1 - half),
        gn.taper("audio 10%"),
        Taper("measured", points=table),
        Taper("with dead ends", base=float(rng.uniform(0.01, 100)), dead_zone=(0.05, 0.1)),
    )
    return gn.no_load(made) if _chance(rng, 0.15) else made


def _coil(rng: np.random.Generator, kind: type[gn.Coil] = gn.Coil) -> gn.Coil:
    more: dict[str, Any] = {}
    if _chance(rng, 0.3):
        share = float(rng.choice([1.0, rng.uniform(0.05, 0.95)]))
        more |= {"eddy_resistance": near(rng, 200e3), "eddy_share": share}
    if _chance(rng, 0.25):
        more["screening_frequency"] = near(rng, 9e3)
    if _chance(rng, 0.4):
        more |= {"winding": _pick(rng, 1, -1), "magnet": _pick(rng, 1, -1)}
    if _chance(rng, 0.2):
        more["signal"] = float(rng.choice([0.0, rng.uniform(0.1, 3)]))
    capacitance = 0.0 if _chance(rng, 0.1) else near(rng, 120e-12)
    broken = _chance(rng, 0.05)
    return kind(near(rng, 6200), near(rng, 2.4), capacitance, broken=broken, **more)


def _source(rng: np.random.Generator) -> Part:
    if _chance(rng, 0.45):
        return _coil(rng, gn.Pickup)
    if _chance(rng, 0.1):
        plain = gn.Coil(near(rng, 6200), near(rng, 2.4), near(rng, 120e-12))
        return tapped(plain, float(rng.uniform(0.1, 0.9)), coupling=float(rng.uniform(0, 0.99)))
    return _humbucker(rng, _pick(rng, *CONNECTIONS, "leads"))


def _humbucker(rng: np.random.Generator, connection: str) -> gn.Humbucker:
    coils = _coil(rng), _coil(rng)
    coupling = _pick(rng, 0.0, 0.12, float(rng.uniform(-0.95, 0.95)))
    for coil in coils:  # eddy loss leaves less to couple
        coupling *= (1 - (coil.eddy_share or 0.0)) ** 0.5
    return gn.Humbucker(*coils, coupling=coupling, connection=connection)


def _pot(rng: np.random.Generator) -> gn.Pot:
    ends = _pick(rng, 0.0, 0.0, 2.0, "1%", (0.0, 50.0))
    return gn.Pot(near(rng, 250e3), _taper(rng), end_resistance=ends)


def _resistor(rng: np.random.Generator) -> gn.Resistor:
    return gn.Resistor(0.0 if _chance(rng, 0.12) else near(rng, 150e3))


def _capacitor(rng: np.random.Generator) -> gn.Capacitor:
    more: dict[str, float] = {}
    for name, usual in (
        ("series_resistance", 10.0),
        ("parallel_resistance", 10e6),
        ("dissipation_factor", 0.01),
    ):
        if _chance(rng, 0.15):
            more[name] = near(rng, usual)
    return gn.Capacitor(near(rng, _pick(rng, 1e-9, 22e-9)), **more)


def _network(rng: np.random.Generator, depth: int = 0) -> Part:
    legs = [
        _network(rng, depth + 1)
        if depth < 3 and _chance(rng, 0.25)
        else _pick(rng, _resistor, _capacitor)(rng)
        for _ in range(rng.integers(2, 4))
    ]
    return _pick(rng, gn.in_series, gn.in_parallel)(*legs)


def _choke(rng: np.random.Generator) -> gn.Choke:
    ohms = 0.0 if _chance(rng, 0.2) else near(rng, 100.0)
    farad = 0.0 if _chance(rng, 0.3) else near(rng, 100e-12)
    return gn.Choke(near(rng, 1.5), ohms, farad)


def _two_lug(rng: np.random.Generator) -> Part | None:
    return _pick(rng, _resistor, _capacitor, _capacitor, _network, _choke, lambda _: None)(rng)


def _own_switch(rng: np.random.Generator) -> gn.Switch:
    """A switch of no kind: any lugs, any contacts."""
    lugs = [f"lug{number}" for number in range(1, rng.integers(3, 8))]
    contacts = {}
    for place in _WORDS[: rng.integers(1, 5)]:
        groups: dict[int, list[str]] = {}
        for lug in lugs:
            groups.setdefault(int(rng.integers(0, len(lugs))), []).append(lug)
        contacts[place] = [group for group in groups.values() if len(group) > 1]
    return gn.Switch(contacts, lugs)


def _switch(rng: np.random.Generator) -> gn.Switch:
    return _pick(
        rng,
        gn.switches.three_way_toggle,
        gn.switches.four_way_lever,
        gn.switches.five_way_lever,
        lambda: gn.switches.rotary(int(rng.integers(1, 3)), _WORDS[: rng.integers(2, 6)]),
        lambda: gn.switches.double_throw(poles=int(rng.integers(1, 4))),
        gn.switches.on_on_on,
        lambda: _own_switch(rng),
        lambda: _own_switch(rng),
    )()


def _blend(rng: np.random.Generator) -> gn.BlendPot:
    return gn.BlendPot(near(rng, 250e3), _taper(rng))


def _cable(rng: np.random.Generator) -> gn.Cable:
    leak = near(rng, 1e9) if _chance(rng, 0.2) else None
    return gn.Cable(
        float(rng.choice([0.0, 1.0, 3.0, 10.0])),
        _pick(rng, 0.0, near(rng, 100e-12), near(rng, 100e-12)),
        resistance_per_metre=_pick(rng, 0.0, 0.5),
        insulation_resistance=leak,
    )


def _amp(rng: np.random.Generator) -> gn.AmpInput:
    farad = near(rng, 100e-12) if _chance(rng, 0.5) else 0.0
    ohms = near(rng, 68e3) if _chance(rng, 0.4) else 0.0
    return gn.AmpInput(near(rng, 1e6), capacitance=farad, grid_resistance=ohms)


# -- harnesses ------------------------------------------------------------------------------------


def _graph(rng: np.random.Generator) -> gn.Harness:
    """Any parts, their lugs put at random on some joints, some left open."""
    kinds = (
        ("pickup", _source, 1, 3),
        ("pot", _pot, 0, 3),
        ("place", _two_lug, 0, 4),
        ("blend", _blend, 0, 1),
        ("switch", _switch, 0, 2),
    )
    parts: dict[str, Part | None] = {
        f"{name}_{number}": make(rng)
        for name, make, least, most in kinds
        for number in range(1, rng.integers(least, most + 1) + 1)
    }
    bare = gn.Harness(parts)
    lugs = [f"{name}.{lug}" for name, part in bare.parts.items() for lug in part.lugs]
    count = int(rng.integers(1, max(2, len(lugs) // 3)))
    joints: list[list[str]] = [["jack.sleeve"], ["jack.tip"], *([] for _ in range(count))]
    weights = np.array([2.0, 2.0, *([1.0] * count)])
    opened: list[str] = []
    at: dict[str, int] = {}
    for lug in lugs:
        name, _, local = lug.partition(".")
        if local == "ground" and _chance(rng, 0.6):
            number = 0
        else:
            number = int(rng.choice(len(joints), p=weights / weights.sum()))
        at[lug] = number
        if local == "ground" and number == at[f"{name}.hot"]:  # a pickup shorted on purpose
            at[lug] = number = (number + 1) % len(joints)
        if _chance(rng, 0.04):
            opened.append(lug)
        else:
            joints[number].append(lug)
    opened += [joint[0] for joint in joints if len(joint) == 1]
    joined = [joint for joint in joints if len(joint) > 1]
    guitar = gn.Harness({**parts, "jack": gn.Jack()}, joined, opened, name="any graph")
    opened_jack = [lug for lug in ("jack.tip", "jack.sleeve") if lug in opened]
    if _chance(rng, 0.2):
        return guitar  # neither cable nor amp
    kept = [lug for lug in opened if lug not in opened_jack]
    whole = gn.Harness(guitar.parts, joined, kept, name="any graph")
    return whole.plugged(_cable(rng), _amp(rng))


def _layout(rng: np.random.Generator) -> gn.Harness:
    """A ready layout with options and pickups drawn at random."""
    name = _pick(rng, *_LAYOUTS)
    given: dict[str, Any] = {}
    for key, parameter in inspect.signature(_LAYOUTS[name]).parameters.items():
        if parameter.default is inspect.Parameter.empty:
            four = parameter.annotation == "Humbucker"
            given[key] = _humbucker(rng, "leads") if four else _source_of_two_lugs(rng)
        elif key == "treble_bleed":
            given[key] = _pick(rng, None, _capacitor(rng), _network(rng))
        elif key == "wiring":
            given[key] = _pick(rng, *layouts.WIRINGS)
        elif key == "blending":
            given[key] = _pick(rng, *layouts.BLENDINGS)
        elif key == "tones":
            given[key] = _pick(rng, "neck and middle", "neck and bridge")
        elif key == "control":
            given[key] = _pick(rng, *layouts.BASS_CUTS)
        elif key == "single_coil_resistor":
            given[key] = _pick(rng, None, "470k")
    return _LAYOUTS[name](**given)


def _source_of_two_lugs(rng: np.random.Generator) -> Part:
    while True:
        made = _source(rng)
        if made.lugs == ("hot", "ground"):
            return made


def _other_values(rng: np.random.Generator, guitar: gn.Harness) -> gn.Harness:
    """Let some values of some parts be others, within three decades."""
    for name, part in guitar.parts.items():
        for local, spec in part.settable().items():
            if local in part.controls or spec.unit not in _USUAL or not _chance(rng, 0.3):
                continue
            may_be_zero = spec.at_least == 0 and "coil" not in local
            value = 0.0 if may_be_zero and _chance(rng, 0.1) else near(rng, _USUAL[spec.unit])
            if local == "eddy_resistance" or local.endswith(".eddy_resistance"):
                continue  # stands with its share only
            guitar = guitar.replace(f"{name}.{local}", value)
    return guitar


def _with_fault(rng: np.random.Generator, guitar: gn.Harness) -> gn.Harness:
    """A single fault, as the search for faults makes it."""
    made = list(MAKERS[_pick(rng, *MAKERS)](guitar))
    if not made:
        return guitar
    return _checked(guitar, made[rng.integers(len(made))][1])


def _edited(rng: np.random.Generator, guitar: gn.Harness) -> gn.Harness:
    """One edit that no one would solder on purpose."""
    lugs = [f"{name}.{lug}" for name, part in guitar.parts.items() for lug in part.lugs]
    one, other = (str(lug) for lug in rng.choice(lugs, 2, replace=False))
    ohms = 0.0 if _chance(rng, 0.5) else near(rng, 10e3)
    edit = _pick(
        rng,
        lambda: edits.bridged(guitar, one, other, ohms),
        lambda: edits.separated(guitar, one),
        lambda: edits.swapped(guitar, [one], [other]),
        lambda: edits.through(guitar, [one], ohms),
        lambda: guitar.lift(one),
    )
    return _checked(guitar, edit)


def _checked(guitar: gn.Harness, edit: Callable[[], gn.Harness]) -> gn.Harness:
    """The edited harness, or the harness itself where the edit makes no circuit."""
    try:
        made = edit()
        made.check()
    except gn.errors.BadHarness:
        return guitar
    return made


# -- questions ------------------------------------------------------------------------------------


def _switched(rng: np.random.Generator, guitar: gn.Harness) -> gn.Harness:
    for name, part in guitar.parts.items():
        if isinstance(part, gn.Switch):
            guitar = guitar.replace(f"{name}.place", _pick(rng, *part.places))
    return guitar


def _mark(rng: np.random.Generator) -> float:
    return float(rng.choice([0.0, 10.0, rng.uniform(0, 10), rng.uniform(0.5, 9.5)]))


def _settings(rng: np.random.Generator, guitar: gn.Harness, swept: bool) -> dict[str, Any]:
    settings: dict[str, Any] = {}
    for name, part in guitar.parts.items():
        if "mark" not in part.controls:
            continue
        if "track" in part.controls and _chance(rng, 0.1):
            settings[f"{name}.track"] = float(rng.choice([0.0, 1.0, rng.uniform(0, 1)]))
        elif swept and _chance(rng, 0.15):
            settings[name] = [10.0, float(rng.uniform(0.5, 9.5)), 0.0]
        else:
            settings[name] = _mark(rng)
    if swept and guitar.only(gn.Cable, needed=False) and _chance(rng, 0.1):
        settings["cable.length"] = [0.0, 5.0]
    return settings


def _place(rng: np.random.Generator, guitar: gn.Harness) -> str:
    amp = guitar.only(gn.AmpInput, needed=False)
    if _chance(rng, 0.7):
        return "amp"
    if _chance(rng, 0.3) and amp:
        return "grid"
    lugs = [f"{name}.{lug}" for name, part in guitar.parts.items() for lug in part.lugs]
    return _pick(rng, "jack", *lugs)


def _frequencies(rng: np.random.Generator) -> tuple[float, ...]:
    found = [0.0] if _chance(rng, 0.3) else []
    found += sorted(float(f) for f in 10 ** rng.uniform(1, 4.5, rng.integers(1, 3)))
    return (*found, *([1e6] if _chance(rng, 0.05) else []))
