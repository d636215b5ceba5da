"""Bad input of every kind: each is refused in one sentence, and nothing is left half-written."""

from __future__ import annotations

import contextlib
import io
import math
import tempfile
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import count as counted
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

import guitarnet as gn
from guitarnet.circuit.saved import harness_to_dict
from guitarnet.command.line import main
from guitarnet.units import read_value

__all__ = ["KINDS", "Refusals", "refusals"]

KINDS = ("harness file", "data file", "value", "setting", "command")

_LONGEST = 1000  # characters of a sentence, a path within it
_PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")

WORDS = (
    *("", " ", "k", "250", "250 k k", "250kk", "k250", "250 kOhmm", "2.5.0k", "1,5k", "1.000,5k"),
    *("-5k", "+-5k", "--5", "1e999", "1e-9999 k", "nan", "NaN", "inf", "-inf", "infinity", "0x10"),
    *("1_000", "1__0k", "250k\x00", "\x00", "250\u200bk", "\u0662\u0665\u0660k", "\uff12\uff15k"),
    *(
        "\u00b2k",
        "250k; drop",
        "__import__('os')",
        "1k if 1 else 2k",
        "${HOME}",
        "%s%n",
        "250k" * 99,
    ),
    *("9" * 5000, "\ud83c\udfb8", "\u202e250k", "250\nk", "\ttrue", "None", "1e5e5", "4k7k", "k47"),
    *("10^3", "1/3", "\u221e", "\u2212\u22125k", "22n22p", "999", "000", "1e400", "0.0.0"),
)
"""Text that is no value, or hardly one."""

THINGS: tuple[Any, ...] = (
    *(None, True, False, math.nan, math.inf, -math.inf, -1.0, -0.0, 0, 1e308, -1e308, 1e-320),
    *(10**400, -(10**400), 1 + 2j, b"250k", "x", [], {}, (), [1, 2], {"a": 1}, set(), object()),
    *(np.array([]), np.array([np.nan]), np.zeros((2, 2)), np.array("x"), np.datetime64("NaT")),
    *(Fraction(1, 3), lambda: 1, type, ..., range(0), "a" * 10000, [[]], [None]),
    *(xr.DataArray([1.0, 2.0], dims="frequency"), xr.DataArray([["a"]], dims=("x", "y"))),
)
"""Things of every type."""


@dataclass
class Refusals:
    """What came of bad input."""

    refused: Counter[str] = field(default_factory=Counter)
    taken: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _Case:
    words: str
    act: Callable[[Path], Any]
    files: tuple[tuple[str, bytes], ...] = ()


def refusals(
    seed: int, count: int, *, progress: Callable[[int], None] = lambda done: None
) -> Refusals:
    """Give bad input until so much of it has been refused, the same share of each kind.

    Parameters
    ----------
    seed : int
        Seed of the mutations.
    count : int
        Refusals to see. Mutated input that is still good is counted apart.
    """
    found = Refusals()
    made = {kind: _cases(kind, np.random.default_rng([seed, i])) for i, kind in enumerate(KINDS)}
    with tempfile.TemporaryDirectory() as folder, _quiet():
        for number in counted():
            kind = KINDS[number % len(KINDS)]
            share = count // len(KINDS) + (KINDS.index(kind) < count % len(KINDS))
            if sum(found.refused.values()) + len(found.wrong) >= count:
                return found
            if found.refused[kind] >= share:
                continue
            _try(found, kind, next(made[kind]), Path(folder, str(number)))
            progress(sum(found.refused.values()))
    raise AssertionError("counting has no end")


def _try(found: Refusals, kind: str, case: _Case, folder: Path) -> None:
    folder.mkdir()
    for name, content in case.files:
        (folder / name).write_bytes(content)
    before = _contents(folder)
    try:
        with contextlib.chdir(folder):
            case.act(folder)
    except gn.GuitarnetError as error:
        trouble = _in_one_sentence(str(error))
        if _contents(folder) != before:
            trouble = "something was written"
        if trouble:
            found.wrong.append(f"{kind}, {case.words}: {trouble}: {str(error)[:200]!r}")
        found.refused[kind] += 1
    except Exception as error:  # the very thing that is looked for
        found.wrong.append(f"{kind}, {case.words}: {type(error).__name__}: {str(error)[:200]}")
    else:
        found.taken[kind] += 1


def _in_one_sentence(said: str) -> str:
    """Say what is wrong with a sentence; nothing where it is one."""
    if not said.isprintable():
        return "not one plain line"
    if len(said) > _LONGEST:
        return f"{len(said)} characters long"
    return "" if said.endswith((".", "?")) else "no sentence"


def _contents(folder: Path) -> dict[str, bytes | None]:
    return {
        str(file.relative_to(folder)): file.read_bytes() if file.is_file() else None
        for file in sorted(folder.rglob("*"))
    }


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        yield


def _pick(rng: np.random.Generator, options: Any) -> Any:
    return options[int(rng.integers(len(options)))]


def _cases(kind: str, rng: np.random.Generator) -> Iterator[_Case]:
    made = {
        "harness file": _harness_files,
        "data file": _data_files,
        "value": _values,
        "setting": _settings,
        "command": _commands,
    }
    return made[kind](rng)


# -- harness files --------------------------------------------------------------------------------


def good_harness() -> gn.Harness:
    """A guitar with one of nearly everything."""
    return gn.layouts.hss(
        _PICKUP,
        gn.Pickup("6k", "2.3 H", "110p", eddy_resistance="200k", eddy_share=0.4),
        gn.Humbucker(
            gn.Coil("4k", "2 H", "150p"), gn.Coil("4k", "2 H", "150p"), connection="leads"
        ),
        treble_bleed="150k || 1n",
        single_coil_resistor="470k",
    )


_TOML = (
    b"",
    b"\xff\xfe\x00s",
    b"schema = 1",
    b"schema = 2\n[parts]",
    b"schema = 1\n[parts]\n",
    b"schema = true\n[parts.a]\nkind = 'Jack'",
    b"schema = 1\nparts = 3",
    b"schema = 1\n[parts.jack]\nkind = ['Jack']",
    b"schema = 1\n[parts.frequency]\nkind = 'Jack'",
    b"schema = 1\n[parts.'../../x']\nkind = 'Jack'",
    b"schema = 1\n[parts.jack]\nkind = '__import__'",
    b"schema = 1\n[parts.jack]\nkind = 'Part'",
    b"schema = 1\n[parts.jack]\nkind = 'Jack'\nlugs = 3",
    b"schema = 1\njoined = 'jack.tip'\n[parts.jack]\nkind = 'Jack'",
    b"schema = 1\njoined = [['jack.tip', 'jack.sleeve']]\n[parts.jack]\nkind = 'Jack'",
    b"schema = 1\njoined = [[[['jack.tip']]]]\n[parts.jack]\nkind = 'Jack'",
    b"schema = 1\na = " + b"[" * 5000 + b"]" * 5000,
    b"schema = 1\na = " + b"{b=" * 3000,
    b"schema = 1\n[" + b"a." * 4000 + b"a]\nb = 1",
    b"schema = 1\nname = '" + b"x" * 2_000_000 + b"'",
    b"schema = 1\n" + b"".join(b"[parts.p%d]\nkind='Jack'\n" % n for n in range(2000)),
    b"schema = 1\n[parts.a]\nkind='Resistor'\nresistance=1979-05-27",
    b"schema = 1\n[parts.a]\nkind='Resistor'\nresistance=nan",
    b"schema = 1\n[parts.a]\nkind='Resistor'\nresistance=inf",
    b"schema = 1\n[parts.a]\nkind='Resistor'\nresistance=" + b"9" * 5000,
    b"schema = 1\n[parts.a]\nkind='Switch'\nall_lugs=3\ncontacts=4",
    b"schema = 1\n[parts.a]\nkind='Switch'\nall_lugs=['a']\ncontacts=[['x']]",
    b"schema = 1\n[parts.a]\nkind='Switch'\nall_lugs=['a']\ncontacts=[['x', 3]]",
    b"schema = 1\n[parts.a]\nkind='Switch'\nall_lugs=['a', 'b']\ncontacts={x={y='z'}}",
    b"schema = 1\n[parts.a]\nkind='Network'\nform='series'\nelements=3",
    b"schema = 1\n[parts.a]\nkind='Pot'\nresistance='250k'\ntaper={name='x', points=[[0]]}",
    b"schema = 1\n[parts.a]\nkind='Pot'\nresistance='250k'\ntaper={name='x', base='y'}",
    b"schema = 1\n[parts.a]\nkind='Pot'\nresistance='250k'\ntaper={name=3, base=2.0}",
    b"schema = 1\n[parts.a]\nkind='Pot'\nresistance='250k'\ntaper='linear'\nend_resistance=[1,2,3]",
    b"schema = 1\n[parts.a]\nkind='Humbucker'\ncoil_1='x'\ncoil_2=3",
    b"schema = 1\n[parts.a]\nkind='Coil'\nresistance='6k'\ninductance='2 H'\ncapacitance='1p'"
    b"\nbroken='yes'",
)


def _harness_files(rng: np.random.Generator) -> Iterator[_Case]:
    data = harness_to_dict(good_harness())
    yield from (_saved(f"file {text[:40]!r}", text) for text in _TOML)
    import tomli_w

    whole = tomli_w.dumps(data).encode()
    while True:
        if rng.random() < 0.5:
            text, words = _mutated(rng, whole)
        else:
            changed, words = _other_data(rng, data)
            try:
                text = tomli_w.dumps(changed).encode("utf-8", "surrogatepass")
            except (TypeError, ValueError):
                continue  # no TOML states it
        yield _saved(words, text)


def _saved(words: str, text: bytes) -> _Case:
    return _Case(
        words, lambda folder: _read_and_heard(folder / "mine.toml"), (("mine.toml", text),)
    )


def _read_and_heard(file: Path) -> None:
    guitar = gn.load_harness(file)
    gn.response(guitar, frequency=[0, 1000.0])
    str(guitar.part_table()), guitar.joints()._repr_html_()


def _mutated(rng: np.random.Generator, text: bytes) -> tuple[bytes, str]:
    """Some bytes or lines lost, doubled, exchanged or made others."""
    lines = text.split(b"\n")
    at = int(rng.integers(len(text)))
    line = int(rng.integers(len(lines)))
    what = int(rng.integers(7))
    if what == 0:
        made, words = text[:at] + text[at + int(rng.integers(1, 20)) :], "bytes lost"
    elif what == 1:
        more = bytes(rng.integers(0, 256, 3, dtype=np.uint8))
        made, words = text[:at] + more + text[at:], "bytes added"
    elif what == 2:
        made, words = text[:at], "cut off"
    elif what == 3:
        made, words = b"\n".join([*lines[:line], *lines[line + 1 :]]), "a line lost"
    elif what == 4:
        made, words = b"\n".join([*lines[:line], lines[line], *lines[line:]]), "a line twice"
    elif what == 5:
        other = int(rng.integers(len(lines)))
        lines[line], lines[other] = lines[other], lines[line]
        made, words = b"\n".join(lines), "two lines exchanged"
    else:
        word = _pick(rng, WORDS).encode("utf-8", "replace")
        made, words = text[:at] + word + text[at + len(word) % 9 :], f"{word[:20]!r} put in"
    return made, f"{words} at {at}, line {line}"


def _other_data(rng: np.random.Generator, data: dict[str, Any]) -> tuple[dict[str, Any], str]:
    """One entry of the data, at any depth, made another, lost or added."""
    plain = [thing for thing in THINGS if isinstance(thing, (bool, int, float, str, list, dict))]
    paths = list(_paths(data))
    path = _pick(rng, paths)
    value = _pick(rng, [*plain, *WORDS])
    what = int(rng.integers(3))

    def changed(node: Any, rest: tuple[Any, ...]) -> Any:
        if not rest:
            return value
        key, *more = rest
        items = dict(node) if isinstance(node, dict) else dict(enumerate(node))
        if what == 1 and not more:
            del items[key]
        elif what == 2 and not more and isinstance(node, dict):
            items[f"{key}_too"] = value
        else:
            items[key] = changed(items[key], tuple(more))
        return items if isinstance(node, dict) else list(items.values())

    how = ("made", "lost, not made", "joined by")[what]
    return changed(data, path), f"{'.'.join(map(str, path))} {how} {str(value)[:30]!r}"


def _paths(node: Any, above: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    items: Any = node.items() if isinstance(node, dict) else enumerate(node)
    for key, value in items:
        yield (*above, key)
        if isinstance(value, (dict, list)):
            yield from _paths(value, (*above, key))


# -- data files -----------------------------------------------------------------------------------

_CURVE = "frequency_hz,magnitude_db\n" + "".join(
    f"{100 * 1.2**n:.3f},{-0.01 * n:.3f}\n" for n in range(28)
)
_CURVES = (
    "",
    "\n\n#only this\n",
    "frequency_hz;magnitude_db\n100;1\n",
    "frequency_hz\tmagnitude_db\n100\t1\n",
    "frequency_hz\n100\n",
    "magnitude_db,frequency_hz\n1,100\n",
    "frequency_hz,magnitude_db,magnitude_db\n1,2,3\n",
    "frequency_hz,magnitude_db,impedance_ohm\n1,2,3\n",
    _CURVE.replace(",-0.050", ",nan"),
    _CURVE.replace(",-0.050", ",inf"),
    _CURVE.replace(",-0.050", ","),
    _CURVE.replace(",-0.050", ",-0,05"),
    _CURVE.replace(",-0.050", ",\u0661\u0662"),
    _CURVE.replace(",-0.050", ",1_0"),
    _CURVE.replace(",-0.050", ',"x'),
    _CURVE.replace("100.000", "-100"),
    _CURVE.replace("100.000", "9" * 400),
    _CURVE.replace("\n", "\r") + "\x00",
    _CURVE.replace("frequency_hz", "\"=cmd|' /C calc'!A0\""),
    _CURVE + "1e400,3\n",
    _CURVE + "x" * 200_000 + "\n",
    _CURVE + "," * 100_000 + "\n",
    ",".join(f"column{n}" for n in range(5000)) + "\n",
    '"' + "a" * 200_000 + '",magnitude_db\n1,2\n',
    "frequency_hz,magnitude_db\n" + "100,0\n" * 20,
    "frequency_hz,magnitude_db\n" + "0.1,0\n0.2,0\n0.3,0\n" * 5,
)


def _data_files(rng: np.random.Generator) -> Iterator[_Case]:
    load = gn.fitting.Load("10M", "20p")

    def curve(folder: Path) -> Any:
        return gn.fitting.read_curve(folder / "curve.csv", load=load)

    def taper(folder: Path) -> Any:
        return gn.measured_taper(folder / "curve.csv")

    def clip(folder: Path) -> Any:
        return gn.audio.read_sound(folder / "note.wav")

    for text in _CURVES:
        for read in (curve, taper):
            file = ("curve.csv", text.encode("utf-8", "surrogatepass"))
            yield _Case(f"{read.__name__} {text[:40]!r}", read, (file,))
    note = _note()
    for size in (0, 3, 11, 12, 30, 43, 44, 60):
        yield _Case(f"sound cut at {size}", clip, (("note.wav", note[:size]),))
    yield _Case("no curve", curve)
    yield _Case("no sound", clip)
    while True:
        if rng.random() < 0.3:
            made, words = _mutated(rng, note)
            yield _Case(f"sound, {words}", clip, (("note.wav", made),))
        else:
            made, words = _mutated(rng, _CURVE.encode())
            read = _pick(rng, (curve, taper))
            yield _Case(f"{read.__name__}, {words}", read, (("curve.csv", made),))


def _note() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "note.wav")
        gn.audio.write_sound(file, gn.audio.sound(np.sin(np.arange(200.0)) / 2))
        return file.read_bytes()


# -- values ---------------------------------------------------------------------------------------

_UNITS = (
    "ohm",
    "F",
    "H",
    "Hz",
    "m",
    "F/m",
    "ohm/m",
    "ohm m",
    "V",
    "fraction",
    "mark",
    "number",
    "",
)


def _values(rng: np.random.Generator) -> Iterator[_Case]:
    makers = _makers()
    for number in counted():
        value = _pick(rng, [*WORDS, *THINGS])
        shown = repr(value)[:40]
        if number % 3 == 0:
            unit = _pick(rng, _UNITS)
            yield _Case(
                f"{shown} in {unit or 'any unit'}", lambda _, v=value, u=unit: read_value(v, u)
            )
        else:
            name, make = _pick(rng, makers)
            yield _Case(f"{name}({shown})", lambda _, v=value, m=make: m(v))


def _makers() -> list[tuple[str, Callable[[Any], Any]]]:
    """Everything that takes one value, each with the rest right."""
    coil = gn.Coil("4k", "2 H", "150p")
    pots = {"resistance": "250k", "taper": "linear"}
    coils = {"resistance": "6k", "inductance": "2 H", "capacitance": "120p"}
    two = {"coil_1": coil, "coil_2": coil}
    wound = {"contacts": {"on": [["a", "b"]], "off": []}, "all_lugs": ["a", "b"]}
    made: list[tuple[str, Callable[[Any], Any]]] = []
    for kind, good, fields in (
        (gn.Pot, pots, ("resistance", "taper", "tolerance", "end_resistance")),
        (gn.BlendPot, pots, ("resistance", "taper", "tolerance")),
        (gn.Pickup, coils, (*coils, "eddy_resistance", "eddy_share", "screening_frequency")),
        (gn.Coil, coils, ("winding", "magnet", "signal", "broken", "tolerance")),
        (gn.Humbucker, two, ("coil_1", "coil_2", "coupling", "connection")),
        (gn.Capacitor, {"capacitance": "1n"}, ("capacitance", "dissipation_factor", "tolerance")),
        (gn.Resistor, {}, ("resistance",)),
        (gn.Choke, {"inductance": "1 H"}, ("inductance", "resistance", "capacitance")),
        (gn.Cable, {"length": "3 m"}, ("length", "capacitance_per_metre", "insulation_resistance")),
        (gn.AmpInput, {}, ("resistance", "capacitance", "grid_resistance")),
        (gn.Switch, wound, ("contacts", "all_lugs", "place")),
    ):
        for field_name in fields:

            def make(value: Any, kind: Any = kind, good: Any = good, name: str = field_name) -> Any:
                return kind(**{**good, name: value})

            made.append((f"{kind.__name__}.{field_name}", make))
    made += [
        ("bleed", gn.bleed),
        ("taper", gn.taper),
        ("audio_taper", gn.audio_taper),
        ("no_load", gn.no_load),
        ("measured_taper", gn.measured_taper),
        ("rotary poles", lambda v: gn.switches.rotary(v, ["a", "b"])),
        ("rotary places", lambda v: gn.switches.rotary(1, v)),
        ("three_way_toggle", gn.switches.three_way_toggle),
        ("amp_input", gn.amp_input),
        ("in_series", lambda v: gn.in_series(v, gn.Resistor("1k"))),
        ("Load", gn.fitting.Load),
        ("harness parts", gn.Harness),
        ("harness joined", lambda v: gn.Harness({"jack": gn.Jack()}, v)),
        ("harness open_lugs", lambda v: gn.Harness({"jack": gn.Jack()}, (), v).check()),
        ("harness_from_dict", gn.harness_from_dict),
        ("sound", gn.audio.sound),
    ]
    return made


# -- settings -------------------------------------------------------------------------------------


def _settings(rng: np.random.Generator) -> Iterator[_Case]:
    guitar = good_harness()
    names = (
        *("volume", "tone_1", "switch", "treble_bleed", "cable", "cable.length", "amp", "neck"),
        *("volume.mark", "volume.track", "volume.taper", "volume.resistance", "volume.tolerance"),
        *("bridge.coil_1.inductance", "bridge.coupling", "neck.resistance", "jack", "jack.tip"),
        *(
            "nothing",
            "volume.",
            ".volume",
            "volume..mark",
            "",
            "frequency",
            "at",
            "build",
            "setting",
        ),
        *("__class__", "volume.__class__", "switch.place", "switch.contacts", "treble_bleed.x"),
    )
    questions: tuple[Callable[..., Any], ...] = (
        lambda **given: gn.response(guitar, **{"frequency": [100.0, 1000.0], **given}),
        lambda **given: gn.impedance(guitar, **{"frequency": [100.0, 1000.0], **given}),
        lambda **given: gn.jack_resistance(guitar, **given),
        lambda **given: gn.formulas.to_spice(guitar, per_decade=1, **given),
        lambda **given: guitar.netlist(**given),
    )
    options = (
        ("frequency", lambda v: gn.response(guitar, frequency=v)),
        ("at", lambda v: gn.response(guitar, frequency=[100.0], at=v)),
        (
            "reference_frequency",
            lambda v: gn.response(guitar, frequency=[100.0], reference_frequency=v),
        ),
        ("source", lambda v: gn.response(guitar, frequency=[100.0], source=v)),
        ("pickups", lambda v: gn.response(guitar, frequency=[100.0], pickups=v)),
        ("builds", lambda v: gn.response(v, frequency=[100.0])),
        ("guitar", lambda v: gn.response(v, frequency=[100.0])),
        ("coil_temperature", lambda v: gn.jack_resistance(guitar, coil_temperature=v)),
        ("range", lambda v: gn.formulas.to_spice(guitar, frequency=v)),
        ("per_decade", lambda v: gn.formulas.to_spice(guitar, per_decade=v)),
        ("lug", lambda v: gn.bench.lug_resistance(guitar, v, "jack.tip")),
        ("lifted", lambda v: gn.bench.lug_resistance(guitar, "jack.sleeve", "jack.tip", lifted=v)),
        ("kinds", lambda v: gn.bench.faults(guitar, kinds=v)),
        ("draw", lambda v: gn.plot_response(v)),
        ("replace", lambda v: guitar.replace("volume", v)),
        ("path", lambda v: guitar.replace(v, 1)),
        ("join", lambda v: guitar.join(v, "jack.tip")),
        ("plugged", lambda v: guitar.plugged(v)),
    )
    for number in counted():
        value = _pick(rng, [*WORDS, *THINGS])
        if number % 3:
            name, question = _pick(rng, names), _pick(rng, questions)
            if rng.random() < 0.3:
                value = [_pick(rng, [*WORDS, *THINGS]), value]
            yield _Case(
                f"{name}={str(value)[:40]!r}",
                lambda _, n=name, v=value, q=question: q(**{n: v}),
            )
        else:
            what, ask = _pick(rng, options)
            yield _Case(f"{what} {str(value)[:40]!r}", lambda _, v=value, a=ask: a(v))


# -- the command ----------------------------------------------------------------------------------


def _commands(rng: np.random.Generator) -> Iterator[_Case]:
    import tomli_w

    one = gn.layouts.one_pickup(_PICKUP, name="mine")
    whole = tomli_w.dumps(harness_to_dict(one)).encode()
    files = (
        ("mine.toml", whole),
        ("other.toml", whole),
        ("bad.toml", whole[:-30]),
        ("empty.toml", b""),
        ("taken", b"a file where a folder should be"),
        ("not-text.toml", b"\xff\xfe\x00"),
    )
    words = [*WORDS[:40], "mine.toml", "bad.toml", "empty.toml", "not-text.toml", "none.toml"]
    verbs = ("new", "draw", "card", "check", "fault", "bleeds", "choose", "page", "completion")
    by_hand = [
        ["nothing"],
        ["--nothing"],
        ["new", "nothing"],
        ["new", "one_pickup", "mine.toml"],
        ["new", "one_pickup", "a.toml", "volume=x"],
        ["new", "one_pickup", "a.toml", "pickup.resistance=1e999"],
        ["new", "one_pickup", "no/such\x00folder/a.toml"],
        ["check", "mine.toml", "neck=5k"],
        ["check", "mine.toml", "at=5k", "--out", "taken"],
        ["check", "mine.toml", "at=5k", "--leads", "x"],
        ["check", "mine.toml", "at=5k", "--temperature", "1e999"],
        ["check", "mine.toml", "at=5k", "--temperature", "nan"],
        ["fault", "mine.toml"],
        ["fault", "mine.toml", "at=-5k"],
        ["fault", "mine.toml", "at=5k", "--heard", "=="],
        ["bleeds", "mine.toml", "1n || ||"],
        ["bleeds", "mine.toml", "(" * 150],
        ["bleeds", "mine.toml", "1n", "--marks", "11"],
        ["bleeds", "mine.toml", "1n", "--set", "frequency=5"],
        ["choose", "mine.toml", "--goal", "x"],
        ["choose", "mine.toml", "--series", "E13"],
        ["choose", "mine.toml", "--cable", "-3 m"],
        ["page", "mine.toml", "mine.toml"],
        ["page", "mine.toml", "--knob", "x"],
        ["card", "mine.toml", "--paper", "A0"],
        ["completion", "x"],
        ["draw", "."],
        ["draw", "taken/x.toml"],
        ["draw", "x" * 5000 + ".toml"],
        ["draw", "mine.toml", "--out", "taken/inside"],
        ["draw", "mine.toml", "--out", "y" * 5000],
        ["draw", "mine.toml\x00"],
        ["draw", "\udcff.toml"],
    ]
    for line in by_hand:
        yield _Case(f"guitarnet {' '.join(line)[:60]!r}", _run(line), files)
    while True:
        verb = _pick(rng, verbs)
        line = [verb]
        quick = verb in ("new", "check")  # the others would compute where all is good
        file = _pick(rng, ["mine.toml", *words[-4:]]) if quick else _pick(rng, words[-4:])
        if verb not in ("new", "completion"):
            line.append(file)
        for _ in range(int(rng.integers(1, 4))):
            name = _pick(
                rng, ("at", "volume", "tone", "x", "--set", "--out", "--heard", "--", "-x")
            )
            value = _pick(rng, words)
            line += [name, value] if name.startswith("-") else [f"{name}={value}"]
        yield _Case(f"guitarnet {' '.join(line)[:60]!r}", _run(line), files)


def _run(line: list[str]) -> Callable[[Path], None]:
    def run(folder: Path) -> None:
        said, told = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
            code = main(line)
        if code == 2:
            words = told.getvalue()
            if not (words.startswith("error: ") and words.count("\n") == 1) or said.getvalue():
                raise AssertionError(f"said {words[:200]!r} and {said.getvalue()[:100]!r}")
            raise gn.GuitarnetError(words[7:-2].split(": ")[0], "refused", "see")
        if code not in (0, 1):
            raise AssertionError(f"ended with {code}")

    return run
