"""Identity: equal values give equal text, in any process; whatever changes a result changes it."""

from __future__ import annotations

import copy
import dataclasses
import functools
import os
import pickle
import subprocess
import sys
import textwrap

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from guitarnet.frozen import Frozen
from guitarnet.identity import digest, identity


def made(code, name="measure"):
    """Take a function from source, as a module of one's own would hold it."""
    module = {"__name__": "my_measures", "gn": gn, "np": np, "functools": functools}
    exec(compile(textwrap.dedent(code), "my_measures.py", "exec"), module)
    return module[name]


BASE = """
    LIMIT = 3.0
    TABLE = {"low": [200, 5000]}

    def helper(h):
        return abs(h) * LIMIT

    def measure(h, power=2, *, step=1):
        '''What it is.'''
        inner = lambda x: x * 4 + TABLE["low"][0]
        return inner(helper(h)) ** power / step
"""


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("LIMIT = 3.0", "LIMIT = 3.0000001"),
        ("5000", "5001"),
        ("abs(h)", "-abs(h)"),
        ("power=2", "power=3"),
        ("step=1", "step=2"),
        ("x * 4", "x * 5"),
        ("x * 4", "x - 4"),
        ("** power", "// power"),
    ],
)
def test_an_edited_function_is_another(old, new):
    """Constants, defaults, code inside code, what it calls and what it takes from its module."""
    assert old in BASE
    assert digest(made(BASE)) != digest(made(BASE.replace(old, new)))


def test_where_code_stands_and_what_is_said_of_it_is_no_difference():
    moved = "\n\n" + BASE.replace("What it is.", "Said in other words.")
    assert digest(made(BASE)) == digest(made(moved))


CLOSURE = """
    def maker(share):
        def measure(h):
            return h * share
        return measure
"""
SCALE = """
    class Base:
        def twice(self, h):
            return 2 * h

    class Scale(Base):
        def __init__(self, by):
            self.by = by

        def __call__(self, h):
            return self.twice(h) * self.by

        def method(self, h):
            return self(h) + 1
"""


def test_closures_partials_methods_and_objects_that_are_called():
    maker, scale = made(CLOSURE, "maker"), made(SCALE, "Scale")
    edited = made(SCALE.replace("2 * h", "3 * h"), "Scale")
    kinds = {
        "closure": maker(0.5),
        "another closure": maker(0.6),
        "partial": functools.partial(made(BASE), power=2),
        "another partial": functools.partial(made(BASE), power=3),
        "object": scale(2),
        "another object": scale(3),
        "object of an edited base": edited(2),
        "method": scale(2).method,
        "method of another object": scale(3).method,
        "ufunc": np.abs,
        "another ufunc": np.sign,
        "of the library": gn.peak,
        "another of the library": gn.bandwidth,
        "cached": functools.cache(made(BASE)),
        "cached of another": functools.cache(made(BASE.replace("x * 4", "x * 5"))),
    }
    digests = {name: digest(value) for name, value in kinds.items()}
    assert len(set(digests.values())) == len(kinds)
    assert digest(made(CLOSURE, "maker")(0.5)) == digests["closure"]
    assert digest(made(SCALE, "Scale")(2)) == digests["object"]
    assert digest(made(SCALE, "Scale")(2).method) == digests["method"]


def test_functions_that_call_one_another_come_to_an_end():
    code = """
        def measure(h):
            return other(h - 1)

        def other(h):
            return measure(h) if h else {}
    """
    assert digest(made(code.format(1))) == digest(made(code.format(1)))
    assert digest(made(code.format(1))) != digest(made(code.format(2)))


def test_shared_objects_are_told_as_equal_ones_are():
    """A list that holds one part twice is the list of two equal parts."""
    one, other = gn.Capacitor("1n"), gn.Capacitor("1n")
    assert identity([one, one]) == identity([one, other])


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (2.4, 2.4000000000000004),
        (1, 1.0),
        (1, True),
        ("1", 1),
        ([1, 2], [2, 1]),
        (np.arange(3), np.arange(3.0)),
        (np.arange(4), np.arange(4).reshape(2, 2)),
        (xr.DataArray([1.0, 2.0], dims="a"), xr.DataArray([1.0, 2.0], dims="b")),
        (xr.DataArray([1.0], {"a": [1]}, ["a"]), xr.DataArray([1.0], {"a": [2]}, ["a"])),
        (xr.Dataset({"a": 1.0}), xr.Dataset({"a": 2.0})),
        ({"a": 1}, {"a": 2}),
        (gn.Taper("one", base=2.0), gn.Taper("one", base=2.5)),
    ],
)
def test_values_that_differ(one, other):
    assert identity(one) != identity(other)
    assert identity(one) == identity(copy.deepcopy(one))


def test_the_order_of_a_mapping_or_set_and_the_sign_of_zero_are_no_difference():
    assert identity({"a": 1, "b": 2}) == identity({"b": 2, "a": 1})
    assert identity({"a", "b", "c"}) == identity({"c", "b", "a"})
    assert identity(0.0) == identity(-0.0) == identity(np.float64(0))


SCRIPT = """
import guitarnet as gn
from guitarnet.identity import digest

NAMES = frozenset({"volume", "tone", "pickup", "cable"})

def helper(h):
    return h if "volume" in {"volume", "tone", "jack"} else NAMES

def measure(h):
    return gn.peak(helper(h))

guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n || 150k")
values = guitar.described(), measure, gn.peak, NAMES, [gn.bleed("1n"), None]
digests = " ".join(map(digest, values))
"""


def test_another_process_writes_the_same(tmp_path):
    """Another seed of hashes, another file, other line numbers."""
    here = {"__name__": "my_measures"}
    exec(SCRIPT, here)
    assert len(set(here["digests"].split())) >= 5
    file = tmp_path / "script.py"
    file.write_text(f"# moved down\n{SCRIPT}\nprint(digests)\n")
    ran = subprocess.run(
        [sys.executable, str(file)],
        env=os.environ | {"PYTHONHASHSEED": "5"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stdout.strip() == here["digests"]


# -- harnesses ------------------------------------------------------------------------------------


def guitar(**changed):
    given = {"wiring": "modern", "treble_bleed": "1n || 150k"} | changed
    return gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), **given)


GUITAR = guitar()
OTHERS = {
    "inductance": GUITAR.replace("pickup.inductance", 2.4000000000000004),
    "taper of one name": GUITAR.replace(
        "volume.taper", dataclasses.replace(gn.audio_taper(0.16), name="audio 15%")
    ),
    "leak": GUITAR.replace("cable.insulation_resistance", "100M"),
    "wire": GUITAR.replace("cable.resistance_per_metre", 0.1),
    "loss": GUITAR.replace("tone_capacitor.dissipation_factor", 0.01),
    "inner value": GUITAR.replace("treble_bleed", "1n || 150.001k"),
    "wiring": guitar(wiring="50s"),
    "open lug": GUITAR.lift("tone.low"),
    "source": GUITAR.replace("pickup", dataclasses.replace(GUITAR.parts["pickup"], source="own")),
    "name": dataclasses.replace(GUITAR, name="other"),
}


@pytest.mark.parametrize("what", OTHERS)
def test_another_harness_is_unequal_and_stays_so_in_a_file(what, tmp_path):
    other = OTHERS[what]
    assert other != GUITAR
    assert other.described() != GUITAR.described()
    if what != "open lug":  # such a guitar is not whole, and files hold whole ones
        back = gn.load_harness(gn.save_harness(other, tmp_path / "guitar.toml"))
        assert back == other
        assert back.described() == other.described()
        assert hash(back) == hash(other)


def test_equal_harnesses_built_apart_are_equal_whatever_the_order_of_joints():
    again = guitar()
    turned = gn.Harness(
        dict(reversed(again.parts.items())),
        [joint[::-1] for joint in reversed(again.joined)],
        again.open_lugs,
        again.name,
    )
    for equal in (again, turned, copy.deepcopy(GUITAR), pickle.loads(pickle.dumps(GUITAR))):
        assert equal == GUITAR
        assert hash(equal) == hash(GUITAR)
        assert equal.described() == GUITAR.described()
    assert GUITAR != "guitar"


def test_values_survive_a_file_to_the_last_bit(tmp_path):
    """Values of every digit a float has, drawn at random."""
    random = np.random.default_rng(7)
    for _ in range(20):
        ohm, henry, farad, half = random.uniform(0.1, 1, 4)
        drawn = gn.layouts.one_pickup(
            gn.Pickup(ohm * 1e4, henry * 5, farad * 1e-9),
            volume=gn.Pot(ohm * 1e6, gn.audio_taper(half)),
            treble_bleed=gn.Capacitor(farad * 1e-9, tolerance=half / 3, unusual=True),
        )
        file = gn.save_harness(drawn, tmp_path / "guitar.toml")
        assert gn.load_harness(file).described() == drawn.described()


# -- a dict that stays as it is -------------------------------------------------------------------


def test_a_frozen_dict_stays_as_it_is():
    frozen = Frozen(a=1)
    for change in (
        lambda: frozen.update(b=2),
        lambda: frozen.pop("a"),
        lambda: frozen.clear(),
        lambda: frozen.setdefault("b", 2),
        lambda: frozen.__setitem__("b", 2),
        lambda: frozen.__delitem__("a"),
        lambda: frozen.__ior__({"b": 2}),
    ):
        with pytest.raises(TypeError) as refusal:
            change()
        assert str(refusal.value) == (
            "this mapping stays as it is; make a changed one with {**mapping, ...}"
        )
    assert frozen == {"a": 1}
    assert pickle.loads(pickle.dumps(frozen)) == copy.deepcopy(frozen) == frozen
    assert type(copy.deepcopy(frozen)) is Frozen
