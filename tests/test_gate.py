"""The gate at the door of what is public: kinds are refused in a sentence, all else passes."""

from __future__ import annotations

import doctest
import inspect
import itertools
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal
from unittest.mock import MagicMock

import numpy as np
import pandas as pd
import pytest
import xarray as xr

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
        *(("number", n) for n in (2, 2.5, -0.0)),
        ("count", 2),
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


@pytest.mark.parametrize(
    ("name", "given"),
    [
        *(("number", n) for n in (np.float32(2), np.int8(-2), pd.Series([2.0])[0], np.uint64(7))),
        *(("count", n) for n in (np.int64(2), np.uint8(2))),
    ],
)
def test_a_number_of_numpy_becomes_one_of_python(name, given):
    """A numpy number of a narrow kind goes round at its end: minus uint64(1) is no -1."""
    read = example(**{name: given})[name]
    assert read == given
    assert type(read) in (int, float)


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


class Stubborn:
    """A thing of the caller's own whose code fails."""

    def __array__(self, *_: Any, **__: Any) -> Any:
        raise RuntimeError("the caller's own code")

    __repr__ = __len__ = __float__ = __iter__ = __array__


class StubbornText(str):
    """Text whose own code fails."""

    __str__ = __repr__ = __format__ = __eq__ = strip = Stubborn.__array__  # type: ignore[assignment]
    __hash__ = str.__hash__


def _nested() -> list[Any]:
    inner: list[Any] = []
    for _ in range(5000):
        inner = [inner]
    return inner


@pytest.mark.parametrize(
    "call",
    [
        lambda thing: gn.layouts.one_pickup(thing),
        lambda thing: gn.response(GUITAR, frequency=[100.0], volume=thing),
        lambda thing: gn.response(GUITAR, frequency=[100.0], volume=[10, thing]),
        lambda thing: gn.response(GUITAR, frequency=thing),
        lambda thing: gn.Pickup("6.2k", thing, "120p"),
        lambda thing: gn.values.read_value(thing, "ohm"),
        lambda thing: gn.peak(thing),
    ],
)
@pytest.mark.parametrize("make", [Stubborn, _nested, lambda: StubbornText("10")])
def test_what_fails_in_its_own_code_is_refused(call, make):
    with pytest.raises(gn.GuitarnetError) as refused:
        call(make())
    assert str(refused.value).isprintable()


def test_the_sentence_names_what_failed_and_keeps_the_cause():
    with pytest.raises(gn.errors.BadSetting) as refused:
        gn.layouts.one_pickup(Stubborn())
    assert str(refused.value) == (
        "one_pickup.pickup: a Stubborn raised RuntimeError in its own code; give what works."
    )
    assert isinstance(refused.value.__cause__, RuntimeError)


@pytest.mark.parametrize("what", [Stubborn, _nested])
def test_what_fails_deep_inside_another_is_found(what):
    inside = xr.DataArray([5.0], dims="x", attrs={"units": what()})
    with pytest.raises(gn.errors.BadSetting) as refused:
        gn.Humbucker(PICKUP, PICKUP, connection={"a": [inside]})
    assert (refused.value.where, refused.value.problem) in (
        ("Humbucker.connection", "a Stubborn raised RuntimeError in its own code"),
        ("Humbucker.connection", "is nested too deeply"),
    )


def test_a_path_that_names_none_is_refused():
    class Nowhere(os.PathLike[str]):
        def __fspath__(self) -> str:
            return 5  # type: ignore[return-value]

    for given, name in ((Nowhere(), "Nowhere"), (b"a.toml", "bytes")):
        with pytest.raises(gn.errors.BadSetting, match=f"a {name} is no path"):
            gn.save_harness(GUITAR, given)


def test_what_a_given_function_raises_is_the_callers_own():
    def measure(given: Any) -> Any:
        raise KeyError(given)

    @public
    def calling(function: Callable[[Any], Any]) -> Any:
        return function(5)

    with pytest.raises(KeyError):
        calling(measure)


def test_a_mistake_of_the_library_is_no_sentence():
    @public
    def broken(given: Any) -> Any:
        return given.no_such_thing

    with pytest.raises(AttributeError):
        broken(5)


class Endless:
    """A list that never ends."""

    def __getitem__(self, place: int) -> str:
        return "volume.high"


@pytest.mark.parametrize(
    "endless",
    [
        lambda: range(10**30),
        itertools.count,
        lambda: itertools.repeat(5),
        Endless,
        lambda: np.broadcast_to(1.0, (10**9,)),
        lambda: [range(10**12)],
        lambda: [[range(10**12)]],
    ],
)
@pytest.mark.parametrize(
    "call",
    [
        lambda many: gn.response(GUITAR, frequency=[100.0], volume=many),
        lambda many: gn.response(GUITAR, frequency=many),
        lambda many: gn.Harness(GUITAR.parts, GUITAR.joined, many),
        lambda many: gn.Harness(GUITAR.parts, many),
        lambda many: gn.verify(GUITAR, many),
        lambda many: gn.tolerances.sensitivity(GUITAR, frequency=[100.0], values=many),
        lambda many: gn.formulas.node_voltage(GUITAR.netlist(), GUITAR.node("jack.tip"), many),
    ],
)
def test_what_never_ends_is_refused(call, endless):
    with pytest.raises(gn.GuitarnetError):
        call(endless())


HAND_MADE = {
    "no frequencies": lambda h: h.drop_vars("frequency"),
    "none at all": lambda h: h.isel(frequency=slice(0, 0)),
    "falling": lambda h: h.isel(frequency=slice(None, None, -1)),
    "twice": lambda h: h.isel(frequency=[0, 0, 1]),
    "below 0": lambda h: h.assign_coords(frequency=-h.frequency),
    "no number": lambda h: h.assign_coords(frequency=[np.nan, 1.0]),
    "endless": lambda h: h.assign_coords(frequency=[1.0, np.inf]),
    "texts": lambda h: h.assign_coords(frequency=["a", "b"]),
    "times": lambda h: h.assign_coords(frequency=pd.date_range("2020", periods=2)),
    "of objects": lambda h: h.astype(object),
    "true or false": lambda h: h != 0,
    "beyond all size": lambda h: h * 1e300,
    "next to nothing": lambda h: h * 1e-300,
    "marks beyond all size": lambda h: h.assign_coords(volume=[1e300, 1.0]),
    "written as no text": lambda h: h.assign_coords(
        volume_written=("volume", np.array([object(), "5"], dtype=object))
    ),
    "of texts": lambda h: h.astype(str),
    "of times": lambda h: xr.ones_like(h, dtype=int).astype("M8[ns]"),
    "a number names a dimension": lambda h: xr.DataArray(
        h.values, dims=(5, "frequency"), coords={"frequency": h.frequency}
    ),
    "marks that are none": lambda h: h.assign_coords(volume=[10.0, np.nan]),
    "marks that are times": lambda h: h.assign_coords(volume=pd.date_range("2020", periods=2)),
    "two levels of labels": lambda h: h.stack(both=["volume", "frequency"]),
    "a unit that is no text": lambda h: h.assign_attrs(units=5),
    "a name that is no text": lambda h: h.assign_attrs(long_name=["x"]),
    "a guitar that is no text": lambda h: h.assign_attrs(guitar=5),
    "a reference of objects": lambda h: h.assign_coords(
        at_reference=("volume", np.array([1, None], dtype=object))
    ),
    "a reference at every frequency": lambda h: h.assign_coords(at_reference=abs(h)),
    "a table": lambda h: h.to_dataset(name="x"),
    "bare values": lambda h: h.values,
    "a series": lambda h: h.to_series(),
}
ASKED = {
    "level_db": gn.level_db,
    "phase_deg": gn.phase_deg,
    "peak": gn.peak,
    "bandwidth": gn.bandwidth,
    "treble_change": lambda h: gn.treble_change(h, frequencies=[500.0], band=(200, 900)),
    "effective_taper": gn.effective_taper,
    "response_table": lambda h: gn.sweeps.response_table(h, [500.0]),
    "plot_response": gn.plot_response,
    "plot_builds": lambda h: gn.plots.plot_builds(h, [10, 5]),
    "plot_difference": lambda h: gn.plots.plot_difference(h, [10, 5], re={"volume": 10}),
    "plot_taper": gn.plots.plot_taper,
    "plot_map": gn.plots.plot_map,
    "plot_impedance": gn.plots.plot_impedance,
    "plot_sensitivity": gn.plots.plot_sensitivity,
    "plot_bands": gn.plots.plot_bands,
    "live_page": gn.live_page,
    "match_response": lambda h: gn.choosing.match_response(GUITAR, h, loads=["capacitor"]),
    "string_spectrum": lambda h: gn.strings.string_spectrum("160 mm", harmonics=3, h=h),
}


@pytest.mark.parametrize("asked", ASKED)
def test_an_array_made_by_hand_is_read_in_one_place(asked):
    said = {}
    for name, spoil in HAND_MADE.items():
        with pytest.raises(gn.GuitarnetError) as refused:
            ASKED[asked](spoil(H))
        said[name] = str(refused.value)
    assert all(sentence.isprintable() for sentence in said.values())
    if asked in ("level_db", "plot_response", "plot_builds", "peak", "live_page"):
        for name in ("falling", "twice", "below 0", "no number", "endless"):
            assert said[name] == (
                "response: has values of frequency that are not finite, from 0 and rising; sort "
                "it, each once, as h.sortby('frequency')."
            )


def test_0_hz_has_no_place_on_a_logarithmic_axis():
    h = gn.response(GUITAR, frequency=[0.0, 100.0, 1000.0], volume=[10, 5])
    (ax, *_) = gn.plot_response(h.isel(volume=0)).figure.axes
    assert ax.lines[0].get_xdata().tolist() == [100.0, 1000.0]
    assert gn.level_db(h).sizes["frequency"] == 3
    with pytest.raises(gn.errors.BadSetting) as refused:
        gn.plot_response(h.isel(frequency=[0]))
    assert str(refused.value) == "figure: holds no frequency above 0 Hz; compute some."


@pytest.mark.parametrize(("hertz", "why"), [(1e302, "too large"), (1e-300, "too small")])
def test_the_largest_and_smallest_frequency_are_stated_once(hertz, why):
    for call in (
        lambda: gn.response(GUITAR, frequency=[hertz]),
        lambda: gn.response(GUITAR, frequency=[100.0], reference_frequency=hertz),
        lambda: gn.sweeps.frequency_grid(hertz, 2 * hertz),
        lambda: gn.choosing.Goal("peak frequency", near=hertz),
        lambda: gn.plot_response(H, view=(hertz, 2 * hertz)),
    ):
        with pytest.raises(gn.errors.BadValue, match=why):
            call()


def test_whole_numbers_of_hertz_have_room_for_their_squares():
    h = gn.response(GUITAR, frequency=np.arange(1000, 60001, 500.0), volume=10)
    found = float(gn.peak(h).frequency)
    for narrow in (np.int32, np.uint16):
        narrowed = h.assign_coords(frequency=h["frequency"].astype(narrow))
        assert float(gn.peak(narrowed).frequency) == pytest.approx(found, rel=1e-3)


def test_samples_are_numbers_that_can_be_squared():
    drawn = gn.tolerances.spread(GUITAR, 3, tolerances={"volume.resistance": "10%"})
    level = abs(gn.response(GUITAR, frequency=[100.0], **drawn)).isel(frequency=0)
    (path,) = drawn
    for given, measured in (
        (drawn, level.astype(object).copy(data=np.array(["a", 1, 2], dtype=object))),
        (drawn, level * 1e200),
        ({path: drawn[path].to_dataset(name="x")}, level),
        ({path: drawn[path] * 1e200}, level),
        ({np.datetime64("NaT"): drawn[path]}, level),
    ):
        with pytest.raises(gn.GuitarnetError):
            gn.tolerances.sample_shares(given, measured)


def test_drawn_values_are_finite():
    (path, values), *_ = gn.tolerances.spread(GUITAR, 3).items()
    with pytest.raises(gn.errors.BadSetting, match="holds a number that is not finite"):
        gn.tolerances.sample_shares({path: values * np.inf}, values)


@pytest.mark.parametrize("size", [1e-320, 1e300])
def test_a_sound_has_a_largest_sample_one_can_compute_with(size):
    clip = gn.audio.sound(size * np.sin(np.arange(64.0)))
    for call in (gn.pages.listen, gn.audio.normalise, gn.audio.match_level):
        with pytest.raises(gn.errors.BadSetting, match="sound: holds a number as "):
            call(clip)


def test_a_sound_may_ring_out_to_nothing():
    clip = gn.audio.sound([1.0, 1e-320])
    assert gn.audio.normalise(clip, 0).values.tolist() == [1.0, 1e-320]


def test_a_sound_has_labels_that_are_numbers_or_texts():
    clip = gn.audio.sound(np.ones(8)).assign_coords(day=np.datetime64("2020-01-01", "ns"))
    with pytest.raises(gn.errors.BadSetting, match="has labels of day"):
        gn.audio.match_level(clip)
    timeless = gn.audio.sound(np.ones(8)).drop_vars("time").assign_coords(time=3)
    with pytest.raises(gn.errors.BadSetting, match="holds no values of time"):
        gn.pages.listen(timeless)


def test_an_infinite_response_has_no_peak_and_no_level_beside_another():
    endless = H.copy(data=np.full(H.shape, np.inf, dtype=complex))
    for call in (gn.peak, gn.bandwidth):
        with pytest.raises(gn.errors.BadSetting, match="holds an infinite number"):
            call(endless)
    assert np.isnan(gn.level_db(endless, re={"volume": 10})).all()


def test_numbers_of_another_kind_than_a_figure_draws_are_refused():
    ranked = gn.tolerances.sensitivity_ranking(GUITAR, frequency=[100.0, 1000.0])
    slopes = gn.tolerances.sensitivity(GUITAR, frequency=[100.0, 1000.0], values=["cable.length"])
    levels = gn.level_db(H)
    named = H.assign_coords(volume=["a", "b"])
    spectrum = gn.strings.string_spectrum("160 mm", harmonics=3)
    named_harmonics = spectrum.assign_coords(frequency=("harmonic", ["a", "b", "c"]))
    band = gn.tolerances.tolerance_band(
        GUITAR, gn.tolerances.spread(GUITAR, 3), frequency=[100.0, 1000.0]
    )
    for call, why in (
        (lambda: gn.plots.plot_sensitivity(slopes + 1j), "holds complex numbers"),
        (lambda: gn.plots.plot_ranking(ranked.drop_vars("tolerance")), "needs a ranking"),
        (
            lambda: gn.plots.plot_ranking(ranked.assign_coords(tolerance=("value", ["x"] * 8))),
            "holds no tolerances",
        ),
        (lambda: gn.live_page(levels + 0j), "holds complex levels"),
        (lambda: gn.plots.plot_map(named, knob="volume"), "no marks that are numbers"),
        (
            lambda: gn.effective_taper(H.assign_coords(reference_frequency="x")),
            "does not hold one reference frequency",
        ),
        (
            lambda: gn.effective_taper(H.assign_coords(at_reference=np.inf)),
            "holds an infinite at_reference",
        ),
        (
            lambda: gn.strings.string_spectrum(
                "160 mm", harmonics=3, h=gn.response(GUITAR, frequency=[50.0, 1000.0]) * np.nan
            ),
            "holds a number that is not finite",
        ),
        (lambda: gn.strings.pluck([["E2", "A2"]], duration=0.1), "several of one thing"),
        (
            lambda: gn.plots.plot_impedance(gn.impedance(GUITAR), [xr.Dataset()]),
            "something else than Axes",
        ),
        (lambda: gn.strings.harmonic_level_db(named_harmonics), "has no frequencies for its"),
        (lambda: gn.plots.plot_bands(band.assign_coords(quantile=["a", "b", "c"])), "of quantile"),
        (lambda: gn.level_db(H.copy(data=np.full(H.shape, -128, np.int8))), "as small as -128"),
        (lambda: gn.response(GUITAR, volume=xr.DataArray([5j], dims="x")), "what is not a number"),
    ):
        with pytest.raises(gn.errors.BadSetting, match=why):
            call()


def test_a_view_may_lie_beside_every_curve():
    assert gn.plot_response(H, view=(20_000, 30_000)).get_xlim() == (20_000, 30_000)
    curve = gn.fitting.MeasuredCurve(
        np.geomspace(100, 9000, 30), np.zeros(30), load=gn.fitting.Load("200k")
    )
    fit = gn.fit_pickup([curve], resistance="6.2k")
    assert gn.plots.plot_fit(fit, view=(1, 2))[1, 0].get_ylim() == (-1, 1)


@pytest.mark.parametrize("kind", [np.float16, np.longdouble])
def test_levels_of_narrow_and_wide_numbers_are_floats(kind):
    h = abs(H).astype(kind)
    assert gn.level_db(h).dtype == float
    assert gn.sweeps.response_table(h, [500.0]).rows
    gn.plot_response(h)


def test_a_map_of_one_audible_mark_is_drawn():
    assert gn.plots.plot_map(H.where(H.volume > 6, 0)).get_ylim() == (5, 10)


def test_a_level_of_any_size_has_an_axis():
    band = gn.tolerances.tolerance_band(
        GUITAR, gn.tolerances.spread(GUITAR, 3), frequency=[100.0, 1000.0]
    )
    low, high = gn.plots.plot_bands(band * 1e90).get_ylim()
    assert low < high


def test_whole_numbers_of_few_bits_are_a_sound(tmp_path):
    clip = gn.audio.sound(np.zeros(8)).astype(np.int8)
    assert not gn.audio.read_sound(gn.audio.write_sound(tmp_path / "a.wav", clip)).any()


@pytest.mark.parametrize("times", [1e-60, 1e60])
def test_an_impedance_of_any_size_has_an_axis(times):
    z = gn.impedance(GUITAR, frequency=[100.0, 1000.0])
    low, high = gn.plots.plot_impedance(z * times)[0].get_ylim()
    assert 0 < low < high


@pytest.mark.parametrize("tiny", [5e-324, 1e-300])
def test_the_smallest_value_is_stated_once(tiny):
    for call in (
        lambda: gn.Cable(tiny),
        lambda: gn.response(GUITAR, frequency=[100.0], volume=tiny),
        lambda: gn.tolerances.sensitivity(GUITAR, frequency=[100.0], volume=tiny),
        lambda: gn.windings.winding(
            "0.063 mm",
            turns=8000,
            core_length="60 mm",
            core_width="5 mm",
            traverse="11 mm",
            packing=tiny,
        ),
    ):
        with pytest.raises(gn.errors.BadValue, match="too small; give a value from 1e-30 to 1e30"):
            call()


def test_a_temperature_next_to_0_is_one():
    found = gn.windings.resistance_at("6k", 5e-324)
    assert found == gn.windings.resistance_at("6k", 0.0)


def test_a_pair_is_what_holds_two_when_gone_through():
    with pytest.raises(gn.errors.BadSetting, match="is a list of 1, not of 2"):
        gn.treble_change(H, band=pd.DataFrame({"hertz": [200, 900]}))


def test_a_diagnosis_may_leave_every_tolerance_out():
    found = gn.diagnose(
        GUITAR,
        [gn.bench.ResistanceReading("6.05k")],
        steps=False,
        tolerances={},
        kinds=["open joint"],
    )
    assert "no fault" in str(found)


def test_a_map_of_one_level_everywhere_is_drawn():
    assert gn.plots.plot_map(H, re={}).get_ylabel() == "volume mark"


def test_a_path_that_can_be_read_as_a_number_closes_no_stream():
    kept = os.dup(1)
    try:
        with pytest.raises(gn.errors.BadFile):
            gn.fitting.read_curve(MagicMock(), load=gn.fitting.Load("1M"))
        os.fstat(1)
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def test_junk(draws):
    """A sample of the long campaign: see `tools/junk.md`."""
    calls = draws(60, 1500)
    came = junk.campaign(20261130, calls, dear=False)
    assert came.leaks == {}
    assert came.refused > 2 / 3 * calls
    assert came.answered > 0.02 * calls
