"""The gate at the door of what is public: kinds are refused in a sentence, all else passes."""

from __future__ import annotations

import doctest
import inspect
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd
import pytest

import guitarnet as gn
import junk
from guitarnet import errors
from guitarnet.gate import public
from guitarnet.study.formulas import symbols

if TYPE_CHECKING:
    from nowhere import Axes

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
GUITAR = gn.layouts.one_pickup(PICKUP)
H = gn.response(GUITAR, frequency=[100.0, 1000.0], volume=[10, 5])


@public(marks="give a list, as [10, 5]", free=None)
def example(
    number: float = 1.0,
    count: int = 1,
    flag: bool = False,
    text: str = "a",
    choice: Literal["one", "two"] = "one",
    marks: Sequence[float] = (10, 5),
    names: Iterable[str] | None = None,
    pair: tuple[float, float] = (1, 2),
    table: Mapping[str, int] | None = None,
    function: Callable[[float], float] | None = None,
    ax: Axes | None = None,
    kind: type[gn.Pot] | None = None,
    value: float | str = "1k",
    either: gn.Pot | int | None = None,
    anything: Any = None,
    free: int = 0,
) -> dict[str, Any]:
    """Hand everything back."""
    return dict(locals())


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"number": True}, "example.number: True is not a number; give a number, such as 1."),
        ({"number": "3"}, "example.number: '3' is not a number; give a number, such as 1."),
        ({"number": 1j}, "example.number: 1j is not a number; give a number, such as 1."),
        ({"number": 10**400}, "example.number: is not a number one can use; give a number, such "
                              "as 1."),
        ({"number": np.timedelta64(1, "s")}, "example.number: a timedelta64 is not a number; give "
                                             "a number, such as 1."),
        ({"count": 2.5}, "example.count: 2.5 is no whole number; give a whole number, such as 1."),
        ({"count": np.True_}, "example.count: True is no whole number; give a whole number, such "
                              "as 1."),
        ({"flag": 1}, "example.flag: 1 is neither True nor False; give True or False."),
        ({"text": None}, "example.text: a NoneType is no text; give text, such as 'a'."),
        ({"text": str}, "example.text: the class str is no text; give text, such as 'a'."),
        ({"choice": "tow"}, "example.choice: there is no 'tow'; did you mean 'two'?"),
        ({"choice": 1}, "example.choice: there is no 1; use one of one, two."),
        ({"marks": None}, "marks: a NoneType is no list; give a list, as [10, 5]."),
        ({"marks": "10"}, "marks: a str is no list; give a list, as [10, 5]."),
        ({"marks": {10, 5}}, "marks: a set is no list; give a list, as [10, 5]."),
        ({"marks": [10, [5, 3]]}, "marks[1]: a list is not a number; give a number."),
        ({"marks": np.zeros((2, 2))}, "marks[0]: an ndarray is not a number; give a number."),
        ({"names": "abc"}, "example.names: a str is no list; give a list of text."),
        ({"names": iter(["a", 5])}, "example.names[1]: 5 is no text; give text."),
        ({"pair": [1, 2, 3]}, "example.pair: is a list of 3, not of 2; give a list of 2, such as "
                              "(1, 2)."),
        ({"pair": [1, None]}, "example.pair[1]: a NoneType is not a number; give a number."),
        ({"table": [1]}, "example.table: a list is no mapping; give a mapping."),
        ({"table": {5: 1}}, "example.table: has a key that cannot be: 5 is no text; give a "
                            "mapping."),
        ({"table": {"a": "b"}}, "example.table['a']: 'b' is no whole number; give a whole number."),
        ({"function": 5}, "example.function: 5 is no function; give a function."),
        ({"ax": 5}, "ax: an int is not one of matplotlib's Axes; give Axes, or leave it out."),
        ({"kind": gn.Jack}, "example.kind: the class Jack is no kind of Pot; give a kind of Pot."),
        ({"either": "x"}, "example.either: 'x' is not a Pot or a whole number; give a Pot or a "
                          "whole number."),
    ],
)  # fmt: skip
def test_what_is_refused(given, message):
    with pytest.raises(gn.GuitarnetError) as refused:
        example(**given)
    assert str(refused.value) == message
    (value,) = given.values()
    assert refused.value.value is value


@pytest.mark.parametrize(
    ("name", "given"),
    [
        *(("number", n) for n in (2, np.float32(2), np.int8(2), pd.Series([2.0])[0], -0.0)),
        *(("count", n) for n in (2, np.int64(2), np.uint8(2))),
        *(("flag", n) for n in (True, np.True_)),
        *(("marks", n) for n in ([1], (1,), np.array([1.0]), range(3), pd.Series([1.0]), [])),
        *(("names", n) for n in (["a"], {"a"}, {"a": 1}.keys(), pd.Index(["a"]), None)),
        ("text", np.str_("a")),
        ("table", {"a": 1}),
        ("ax", type("Axes", (), {})()),
        ("kind", gn.Pot),
        ("value", object()),
        ("anything", object()),
        ("free", "what the function reads itself"),
    ],
)
def test_what_passes_is_handed_on_as_it_is(name, given):
    assert example(**{name: given})[name] is given


@pytest.mark.parametrize("given", [Fraction(1, 2), Decimal("0.5"), np.array(0.5)])
def test_another_kind_of_number_comes_in_as_a_float(given):
    came = example(given)["number"]
    assert (type(came), came) == (float, 0.5)


def test_what_can_be_read_only_once_comes_in_as_a_list():
    assert example(names=(n for n in "ab"))["names"] == ["a", "b"]
    marks = [10, Decimal(5)]
    assert example(marks=marks)["marks"] == [10, 5.0]
    assert marks == [10, Decimal(5)]


def test_methods_and_constructors():
    @public
    @dataclass
    class Thing:
        size: float

        @classmethod
        def made(cls, size: str) -> Thing:
            return cls(float(size))

        def more(self, *by: float) -> float:
            return self.size + sum(by)

    assert Thing(1).more(2, 3) == Thing.made("6").size == 6
    for wrong, message in (
        (lambda: Thing("1"), "Thing.size: '1' is not a number; give a number."),
        (lambda: Thing.made(1), "Thing.size: 1 is no text; give text."),
        (lambda: Thing(1).more(2, None), "Thing.by: a NoneType is not a number; give a number."),
    ):
        with pytest.raises(gn.GuitarnetError) as refused:
            wrong()
        assert str(refused.value) == message


def test_signature_doc_and_examples_survive():
    assert str(inspect.signature(gn.formulas.poles)) == (
        "(guitar: 'Harness | sympy.Expr', settings: 'Settings' = None, *, at: 'str' = 'amp', "
        "**keywords: 'Any') -> 'np.ndarray'"
    )
    assert str(inspect.signature(gn.Cable)).startswith(
        "(length: 'float | str', capacitance_per_metre"
    )
    assert gn.formulas.poles.__doc__.startswith("Poles of")
    assert gn.formulas.poles.__module__ == "guitarnet.study.formulas.symbols"
    found = {test.name: test for test in doctest.DocTestFinder().find(symbols, "symbols")}
    assert found["symbols.poles"].examples


def test_a_wrong_call_is_pythons_own_to_refuse():
    with pytest.raises(TypeError, match="unexpected keyword argument 'nonsense'"):
        gn.phase_deg(H, nonsense=1)
    with pytest.raises(TypeError, match="missing 1 required positional argument"):
        gn.formulas.poles()


def test_everything_public_has_the_gate():
    """Each function, constructor and method that takes anything."""
    bare = []
    for target in junk.targets():
        function = target.function
        takes = inspect.signature(function).parameters
        if isinstance(function, type):
            function = function.__init__
        gated = hasattr(function, "__wrapped__") or target.name.startswith("Netlist.")
        if takes and not gated:
            bare.append(target.name)
    assert set(bare) - set(errors.__all__) == set()


def test_junk(draws):
    """A sample of the long campaign: see `tools/junk.md`."""
    calls = draws(500, 1500)
    came = junk.campaign(20261130, calls, dear=False)
    assert came.leaks == {}
    assert came.refused > 2 / 3 * calls
    assert came.answered > 0.02 * calls
