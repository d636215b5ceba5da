"""The grammar of settings: sweeps, categories, refusals, chunks, memory."""

from __future__ import annotations

import inspect
import tracemalloc

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from guitarnet import (
    Capacitor,
    GuitarnetError,
    Pickup,
    audio_taper,
    capacitor_bleed,
    effective_taper,
    impedance,
    jack_resistance,
    layouts,
    level_db,
    linear_taper,
    parallel_bleed,
    peak,
    response,
)
from guitarnet.circuit.settings import target
from guitarnet.errors import BadHarness, BadSetting, BadValue, TooLarge
from guitarnet.parts.base import part_inside
from guitarnet.study.response import sweep
from guitarnet.sweeps import frequency_grid
from net.names import face

HERTZ = [100.0, 1e3, 5e3]
PICKUP = Pickup("6.2k", "2.4 H", "120p")
GUITAR = layouts.one_pickup(PICKUP, treble_bleed="150k || 1n")


def ask(**settings):
    return response(GUITAR, frequency=HERTZ, **settings)


# -- sweeps ---------------------------------------------------------------------------------------


def test_lists_multiply_out_in_the_order_given():
    h = ask(volume=[10, 5, 0], tone=[10, 2])
    assert h.dims == ("volume", "tone", "frequency")
    assert h.shape == (3, 2, 3)
    turned = ask(tone=[10, 2], volume=[10, 5, 0])
    assert turned.dims == ("tone", "volume", "frequency")
    assert turned.transpose(*h.dims).values == pytest.approx(h.values, rel=1e-11, abs=0)


def test_each_point_of_a_sweep_is_that_setting():
    h = ask(volume=[10, 5], **{"cable.length": ["1 m", "6 m"]})
    for mark in (10, 5):
        for metre in (1, 6):
            alone = ask(volume=mark, **{"cable.length": metre})
            found = h.sel({"volume": mark, "cable.length": metre})
            assert found.values == pytest.approx(alone.values, rel=1e-11, abs=0)


def test_coordinates_are_si_with_units_and_what_was_written():
    h = ask(**{"cable.length": ["1 m", "10 ft"]})
    coordinate = h.coords["cable.length"]
    assert coordinate.values.tolist() == [1.0, 3.048]
    assert coordinate.attrs == {"units": "m", "long_name": "cable length"}
    assert h.coords["cable.length_written"].values.tolist() == ["1 m", "10 ft"]
    assert h.frequency.attrs == {"units": "Hz", "long_name": "frequency"}
    assert h.attrs["units"] == "V/V"


def test_text_and_number_are_one_value():
    h = ask(tone_capacitor=["22n", "0.047uF"])
    assert h.sel(tone_capacitor=22e-9).equals(h.isel(tone_capacitor=0))
    assert h.sel(tone_capacitor=47e-9).equals(h.isel(tone_capacitor=1))


def test_a_single_value_is_a_scalar_coordinate():
    h = ask(volume=5, tone="7")
    assert h.dims == ("frequency",)
    assert float(h.coords["volume"]) == 5.0
    assert float(h.coords["tone"]) == 7.0


def test_knobs_that_are_not_set_stand_at_10():
    assert ask().values == pytest.approx(ask(volume=10, tone=10).values, rel=1e-15, abs=0)


@pytest.mark.parametrize("marks", [(10, 5), range(5, 11, 5), np.array([10, 5]), [10.0, "5"]])
def test_any_sequence_is_a_sweep(marks):
    assert ask(volume=marks).sizes == {"volume": 2, "frequency": 3}


def test_bare_names_set_the_main_value():
    by_name = ask(volume=5, tone_capacitor="47n", cable="1 m", amp="500k")
    by_path = ask(
        **{
            "volume.mark": 5,
            "tone_capacitor.capacitance": 47e-9,
            "cable.length": 1,
            "amp.resistance": 500e3,
        }
    )
    assert by_name.values.tolist() == by_path.values.tolist()


def test_an_alias_reaches_the_only_capacitor():
    short = ask(volume=5, **{"treble_bleed.capacitance": ["1n", "470p"]})
    long = ask(volume=5, **{"treble_bleed.capacitor.capacitance": ["1n", "470p"]})
    assert short.values.tolist() == long.values.tolist()
    assert short.dims == ("treble_bleed.capacitance", "frequency")


def test_a_track_fraction_passes_the_taper_by():
    taper = audio_taper(0.15)
    by_track = ask(**{"volume.track": [taper(0.5), 1.0]})
    assert by_track.values == pytest.approx(ask(volume=[5, 10]).values, rel=1e-12)


def test_arrays_that_share_a_dimension_are_taken_pointwise():
    volume = xr.DataArray([10.0, 5.0, 0.0], dims="scene", coords={"scene": ["a", "b", "c"]})
    tone = xr.DataArray([2.0, 10.0, 10.0], dims="scene")
    h = ask(volume=volume, tone=tone, **{"cable.length": [1, 6]})
    assert h.dims == ("scene", "cable.length", "frequency")
    assert h.coords["scene"].values.tolist() == ["a", "b", "c"]
    assert h.coords["volume"].dims == ("scene",)
    for i, (v, t) in enumerate([(10, 2), (5, 10), (0, 10)]):
        alone = ask(volume=v, tone=t, **{"cable.length": [1, 6]})
        assert h.isel(scene=i).values == pytest.approx(alone.values, rel=1e-11, abs=0)


def test_samples_may_be_named_so():
    draw = xr.DataArray([225e3, 250e3, 275e3], dims="sample")
    assert ask(**{"volume.resistance": draw}).dims == ("sample", "frequency")


def test_more_swept_values_than_one_polynomial_takes():
    """Nine parts with a value of each sample's own, against one sample at a time."""
    rng = np.random.default_rng(7)
    spread = {
        name: middle * rng.uniform(0.8, 1.2, 4)
        for name, middle in {
            "volume.resistance": 250e3,
            "tone.resistance": 250e3,
            "tone_capacitor": 22e-9,
            "treble_bleed.capacitance": 1e-9,
            "treble_bleed.resistance": 150e3,
            "cable.length": 3.0,
            "amp.resistance": 1e6,
            "pickup.resistance": 6.2e3,
            "pickup.inductance": 2.4,
        }.items()
    }
    h = ask(volume=5, tone=5, **{n: xr.DataArray(v, dims="sample") for n, v in spread.items()})
    for i in range(4):
        alone = ask(volume=5, tone=5, **{name: values[i] for name, values in spread.items()})
        assert h.isel(sample=i).values == pytest.approx(alone.values, rel=1e-10, abs=0)


def test_a_sweep_that_does_not_matter_repeats_the_answer():
    """The amp is unplugged for the meter, whatever it would be."""
    ohms = jack_resistance(GUITAR, amp=["1M", "500k"], volume=[10, 5])
    assert ohms.dims == ("amp", "volume")
    assert ohms.isel(amp=0).values.tolist() == ohms.isel(amp=1).values.tolist()
    lonely = (
        layouts.one_pickup(PICKUP).add("spare", Capacitor("1n")).leave_open("spare.a", "spare.b")
    )
    assert response(lonely, frequency=HERTZ, spare=["1n", "2n"]).sizes == {
        "spare": 2,
        "frequency": 3,
    }


# -- categories -----------------------------------------------------------------------------------


def test_bleeds_are_a_category_with_labels():
    bleeds = [None, capacitor_bleed("1n"), parallel_bleed("1n", "150k")]
    h = ask(volume=[10, 5], treble_bleed=bleeds)
    assert h.dims == ("volume", "treble_bleed", "frequency")
    labels = ["none", "1 nF", "1 nF \u2225 150 k\u03a9"]
    assert h.coords["treble_bleed"].values.tolist() == labels
    for label, bleed in zip(labels, bleeds, strict=True):
        alone = response(GUITAR.replace("treble_bleed", bleed), frequency=HERTZ, volume=[10, 5])
        found = h.sel(treble_bleed=label)
        assert found.values == pytest.approx(alone.values, rel=1e-11, abs=0)


def test_tapers_and_pickups_are_categories():
    h = ask(
        pickup=[PICKUP, Pickup("8k", "4 H", "150p")],
        **{"volume.taper": ["linear", audio_taper(0.1)]},
        volume=[5, 2],
    )
    assert h.dims == ("pickup", "volume.taper", "volume", "frequency")
    assert h.coords["volume.taper"].values.tolist() == ["linear", "audio 10%"]
    assert h.coords["pickup"].values.tolist()[1] == "8 k\u03a9, 4 H, 150 pF"
    alone = response(
        GUITAR.replace("volume.taper", linear_taper()).replace("pickup.inductance", "2.4 H"),
        frequency=HERTZ,
        volume=[5, 2],
    )
    assert h.isel({"pickup": 0, "volume.taper": 0}).values == pytest.approx(alone.values, rel=1e-11)


def test_end_resistances_are_a_category():
    h = ask(**{"volume.end_resistance": [0, 2, "1%"]})
    labels = ["0 \u03a9", "2 \u03a9", "1%"]
    assert h.coords["volume.end_resistance"].values.tolist() == labels


def test_a_single_category_makes_no_dimension():
    assert ask(treble_bleed=None).dims == ("frequency",)
    pair = ask(**{"volume.end_resistance": (2, "1%")})  # one pair, at high and at low
    assert pair.dims == ("frequency",)


def test_a_place_may_be_filled_or_empty():
    h = ask(tone_capacitor=["22n", None], tone=0)
    assert h.coords["tone_capacitor"].values.tolist() == ["22 nF", "none"]


def test_assumptions_follow_the_settings():
    """What a response says of its coils is true of the coils it was computed with."""
    lossless = "lossless coil assumed (no eddy currents, no screening)"
    eddy = {"pickup.eddy_resistance": "1M", "pickup.eddy_share": 0.4}
    assert ask().attrs["assumptions"] == lossless
    assert ask(**eddy).attrs["assumptions"] == ""
    assert impedance(GUITAR, frequency=HERTZ, **eddy).attrs["assumptions"] == ""
    lossy = GUITAR.replace("pickup", Pickup("6k", "2 H", "1n", "1M", 0.4))
    assert ask(pickup=[lossy.parts["pickup"]]).attrs["assumptions"] == ""
    both = ask(pickup=[lossy.parts["pickup"], PICKUP])
    some = f"{lossless} in some of the curves"
    assert both.attrs["assumptions"] == some
    assert response({"lossy": lossy, "plain": GUITAR}, frequency=HERTZ).attrs["assumptions"] == some


# -- builds ---------------------------------------------------------------------------------------


def test_builds_side_by_side():
    builds = {"modern": GUITAR, "50s": layouts.one_pickup(PICKUP, wiring="50s")}
    h = response(builds, frequency=HERTZ, volume=[10, 5])
    assert h.dims == ("build", "volume", "frequency")
    assert h.coords["build"].values.tolist() == ["modern", "50s"]
    for label, guitar in builds.items():
        alone = response(guitar, frequency=HERTZ, volume=[10, 5])
        assert h.sel(build=label).values == pytest.approx(alone.values, rel=1e-15, abs=0)
    assert response(builds, frequency=HERTZ, dim="wiring").dims == ("wiring", "frequency")


def test_builds_and_categories_together():
    builds = {"a": GUITAR, "b": GUITAR.replace("cable", 6)}
    h = response(builds, frequency=HERTZ, volume=[10, 5], treble_bleed=[None, Capacitor("1n")])
    assert h.dims == ("build", "volume", "treble_bleed", "frequency")
    alone = response(builds["b"], frequency=HERTZ, volume=5, treble_bleed=Capacitor("1n"))
    found = h.sel(build="b", volume=5, treble_bleed="1 nF")
    assert found.values == pytest.approx(alone.values, rel=1e-11, abs=0)


def test_a_build_of_one_is_still_a_build():
    assert response({"only": GUITAR}, frequency=HERTZ).sizes == {"build": 1, "frequency": 3}


# -- refusals -------------------------------------------------------------------------------------


def array(values, dim="scene", **coords):
    return xr.DataArray(values, dims=dim, coords=coords)


KNOB = "give a value from 0 to 10 (knob marks run from 0 to 10)."
REFUSED = [
    (BadValue, {"volume": 11}, f"volume: 11 is too large; {KNOB}"),
    (BadValue, {"volume": [5, 11]}, f"volume: 11 is too large; {KNOB}"),
    (BadValue, {"volume": ["5", 11]}, f"volume: 11 is too large; {KNOB}"),
    (BadValue, {"volume": array([5, 11])}, f"volume: 11 is too large; {KNOB}"),
    (BadValue, {"volume": -1}, f"volume: -1 is negative; {KNOB}"),
    (
        BadValue,
        {"volume": float("nan")},
        f"volume: nan is not a number; {KNOB.replace('a value', 'a finite value')}",
    ),
    (
        BadValue,
        {"volume": "full"},
        "volume: 'full' is not a knob mark; give a number from 0 to 10.",
    ),
    (BadValue, {"volume": True}, "volume: True is not a number; give a number from 0 to 10."),
    (
        BadValue,
        {"volume": [True, False]},
        "volume: True is not a number; give a number from 0 to 10.",
    ),
    (
        BadValue,
        {"volume": {"a": 1}},
        "volume: a dict is not one value; give a number from 0 to 10.",
    ),
    (
        BadValue,
        {"tone_capacitor": "0.022"},
        "tone_capacitor: '0.022' has no unit; write '0.022uF' if you mean that, or write it like "
        "'22n', '0.022uF' or the marking '223'.",
    ),
    (
        BadValue,
        {"treble_bleed.capacitance": [0]},
        "treble_bleed.capacitance: 0 F is zero; give a value above 0 F up to 1 F (a missing part "
        "is None, not 0).",
    ),
    (BadSetting, {"volume": []}, "volume: is an empty list; give at least one value."),
    (BadSetting, {"volume": np.array([])}, "volume: is an empty list; give at least one value."),
    (BadSetting, {"volume": array([])}, "volume: is an empty array; give at least one value."),
    (BadSetting, {"treble_bleed": []}, "treble_bleed: is an empty list; give at least one value."),
    (
        BadSetting,
        {"volume.taper": []},
        "volume.taper: is an empty list; give at least one value.",
    ),
    (BadSetting, {"volume": [5, 5.0]}, "volume: 5 stands twice in the list; give it once."),
    (
        BadSetting,
        {"tone_capacitor": ["22n", "223"]},
        "tone_capacitor: 22 nF stands twice in the list; give it once.",
    ),
    (
        BadSetting,
        {"treble_bleed": [None, Capacitor("1n"), Capacitor(1e-9)]},
        "treble_bleed: '1 nF' stands twice in the list; give each choice once.",
    ),
    (
        BadSetting,
        {"volume.taper": ["linear", linear_taper()]},
        "volume.taper: 'linear' stands twice in the list; give each choice once.",
    ),
    (
        BadSetting,
        {"volume": [5, None]},
        "volume: 5 is not a part; give a part such as gn.Pot(...).",
    ),
    (
        BadHarness,
        {"volume": None},
        "volume: None leaves a two-lug place empty, but a Pot has high, wiper, low; replace a "
        "part by one with the same lugs, or build the harness anew.",
    ),
    (
        BadSetting,
        {"volum": 5},
        "volum: the harness has no part 'volum'; did you mean 'volume'?",
    ),
    (
        BadSetting,
        {"xyz": 5},
        "xyz: the harness has no part 'xyz'; use one of amp, cable, jack, pickup, tone, "
        "tone_capacitor, treble_bleed, volume.",
    ),
    (
        BadSetting,
        {"volume.resistence": 5},
        "volume.resistence: a Pot has no 'resistence'; did you mean 'resistance'?",
    ),
    (
        BadSetting,
        {"jack": 1},
        "jack: a Jack has no main value; set a value of another part.",
    ),
    (
        BadSetting,
        {"pickup": 5},
        "pickup: a Pickup has no main value; use one of pickup.resistance, pickup.inductance, "
        "pickup.capacitance, pickup.eddy_resistance, pickup.eddy_share, "
        "pickup.screening_frequency, pickup.eddy_order, pickup.slow_share, pickup.slow_frequency.",
    ),
    (
        BadSetting,
        {"treble_bleed": 5},
        "treble_bleed: 5 is not a part; give a part such as gn.bleed('1n').",
    ),
    (BadSetting, {"build": 5}, "build: is a reserved word; rename the part or setting."),
    (BadSetting, {"sample": [1, 2]}, "sample: is a reserved word; rename the part or setting."),
    (
        BadSetting,
        {"volume": 5, "volume.mark": 5},
        "volume.mark: is set twice; keep one of the settings of volume.mark.",
    ),
    (
        BadSetting,
        {"volume": 5, "volume.track": [0.5, 1]},
        "volume: is set by mark and by track fraction; keep one of the two.",
    ),
    (
        BadSetting,
        {"volume": [[1, 2], [3, 4]]},
        "volume: has several dimensions without names; give an xarray.DataArray whose dimensions "
        "are named.",
    ),
    (
        BadSetting,
        {"volume": np.zeros((2, 2))},
        "volume: has several dimensions without names; give an xarray.DataArray whose dimensions "
        "are named.",
    ),
    (
        BadSetting,
        {"volume": array(["a", "b"])},
        "volume: holds what is not a number; give numbers in SI.",
    ),
    (
        BadSetting,
        {"volume": array([1, 2], dim="frequency")},
        "volume: 'frequency' cannot name a sweep's dimension; rename it.",
    ),
    (
        BadSetting,
        {"volume": array([1, 2]), "tone": array([1, 2, 3])},
        "tone: has 3 values along 'scene', a setting before it has 2; give every sweep along "
        "'scene' the same number of values.",
    ),
    (
        BadSetting,
        {"volume": array([1, 2], scene=["a", "b"]), "tone": array([1, 2], scene=["a", "c"])},
        "tone: has another coordinate 'scene' than a setting before it; give both the same labels.",
    ),
    (
        BadValue,
        {"pickup.eddy_resistance": ["100k", "1M"]},
        "pickup.eddy_resistance: stands without eddy_share; give both, or neither for a coil "
        "without eddy loss.",
    ),
    (
        BadSetting,
        {"volume.tolerance": 0.1},
        "volume.tolerance: a tolerance is no setting; give it to the part, as tolerance = '5%', or "
        "sweep the value itself.",
    ),
    (BadSetting, {"at": "ear"}, "at: 'ear' is no place; use 'amp', 'grid', 'jack' or a lug."),
    (
        BadHarness,
        {"at": "volume.middle"},
        "volume.middle: a Pot has no lug 'middle'; use one of high, low, wiper.",
    ),
    (
        BadValue,
        {"reference_frequency": 0},
        "reference_frequency: 0 Hz is zero; give a value above 0 Hz.",
    ),
]


@pytest.mark.parametrize(
    ("error", "settings", "message"),
    REFUSED,
    ids=[f"{i}-{next(iter(r[1]))}" for i, r in enumerate(REFUSED)],
)
@pytest.mark.parametrize("guitar", [GUITAR, {"only": GUITAR}], ids=["one", "builds"])
def test_refused(guitar, error, settings, message):
    if guitar is not GUITAR and "build" in settings:
        message = "build: is a setting and the dimension of builds; name one otherwise."
    with pytest.raises(GuitarnetError) as refusal:
        response(guitar, frequency=HERTZ, **settings)
    assert type(refusal.value) is error
    assert str(refusal.value) == message


@pytest.mark.parametrize("question", [impedance, jack_resistance], ids=lambda q: q.__name__)
def test_the_meter_reads_the_same_grammar(question):
    assert question(GUITAR, volume=[10, 5]).dims[0] == "volume"
    with pytest.raises(BadValue) as refusal:
        question(GUITAR, volume=11)
    assert str(refusal.value) == f"volume: 11 is too large; {KNOB}"


@pytest.mark.parametrize(
    ("ask_for", "message"),
    [
        (
            lambda: response(PICKUP),
            "guitar: a Pickup is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: response([GUITAR]),
            "build: a list is not a mapping of labels to guitars; give {'no bleed': guitar_1, "
            "'1 nF': guitar_2}.",
        ),
        (
            lambda: response({}),
            "build: holds no build; give at least one, as {'no bleed': guitar}.",
        ),
        (
            lambda: response({"a": PICKUP}),
            "build 'a': a Pickup is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: response({"a": GUITAR}, dim="frequency"),
            "dim: 'frequency' is a reserved word; name the dimension otherwise.",
        ),
        (
            lambda: response({"a": GUITAR}, dim="volume", volume=[5]),
            "volume: is a setting and the dimension of builds; name one otherwise.",
        ),
        (
            lambda: response({"a": GUITAR}, dim="scene", volume=array([5.0, 6.0])),
            "scene: is a setting and the dimension of builds; name one otherwise.",
        ),
        (
            lambda: impedance(GUITAR, at="tip"),
            "at: 'tip' is no place to measure; use 'jack' or 'amp'.",
        ),
    ],
)
def test_refused_builds(ask_for, message):
    with pytest.raises(BadSetting) as refusal:
        ask_for()
    assert str(refusal.value) == message


# -- frequencies ----------------------------------------------------------------------------------


def test_default_grid():
    """20 Hz to 20 kHz, logarithmic, both ends included."""
    grid = response(GUITAR).frequency.values
    assert (grid[0], grid[-1]) == (20.0, 20e3)
    assert np.diff(np.log(grid)) == pytest.approx(np.full(600, np.log(1000) / 600), rel=1e-9)


def test_frequencies_as_people_give_them():
    assert response(GUITAR, frequency="1 kHz").frequency.values.tolist() == [1000.0]
    assert response(GUITAR, frequency=[0, "100 Hz", 5e3]).frequency.values.tolist() == [
        0.0,
        100.0,
        5000.0,
    ]
    assert frequency_grid(100, "1 kHz", per_decade=2) == pytest.approx([100, 100 * 10**0.5, 1000])


@pytest.mark.parametrize(
    ("frequency", "message"),
    [
        ([], "frequency: is an empty list; give at least one frequency."),
        ([1e3, 100], "frequency: does not rise from point to point; sort it, each once."),
        ([1e3, 1e3], "frequency: does not rise from point to point; sort it, each once."),
        (np.ones((2, 2)), "frequency: has 2 dimensions; give one list."),
        ([-1, 5], "frequency: -1 Hz is negative; give a value from 0 Hz."),
        ([1, np.inf], "frequency: inf Hz is infinite; give a finite value from 0 Hz."),
        (
            "5",
            "frequency: '5' has no unit; write '5 kHz' if you mean that, or write it like '5 kHz' "
            "or '440 Hz'.",
        ),
    ],
)
def test_refused_frequencies(frequency, message):
    with pytest.raises((BadSetting, BadValue)) as refusal:
        response(GUITAR, frequency=frequency)
    assert str(refusal.value) == message


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((0, 100), "frequency_grid.low: 0 Hz is zero; give a value above 0 Hz."),
        ((-5, 100), "frequency_grid.low: -5 Hz is negative; give a value above 0 Hz."),
        ((100, 10), "frequency_grid: 100 to 10 is an empty range; give low below high."),
    ],
)
def test_refused_grid(arguments, message):
    with pytest.raises((BadSetting, BadValue)) as refusal:
        frequency_grid(*arguments)
    assert str(refusal.value) == message


def test_refused_density():
    with pytest.raises(BadValue) as refusal:
        frequency_grid(10, 100, per_decade=0)
    assert str(refusal.value) == (
        "frequency_grid.per_decade: 0 is too small; give a value from 1 to 100000."
    )


# -- memory and chunks ----------------------------------------------------------------------------


def test_an_enormous_sweep_is_refused_before_anything_is_allocated(monkeypatch):
    monkeypatch.setattr(sweep, "machine_memory", lambda: 8e9)
    marks = np.linspace(0, 10, 20_000)
    tracemalloc.start()
    try:
        with pytest.raises(TooLarge) as refusal:
            response(GUITAR, frequency=HERTZ, volume=marks, tone=marks)
        _, peak_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert str(refusal.value) == (
        "sweep: 400000000 settings x 4 points need 25.6 GB and as much again to work, this "
        "machine has 8.0 GB; give 'volume' as a chunked array, xr.DataArray(values, "
        "dims='volume').chunk({'volume': 312}), and reduce the result to measures before "
        ".compute()."
    )
    assert refusal.value.value == 16 * 4 * marks.size**2
    assert isinstance(refusal.value, MemoryError)
    assert peak_bytes < 30e6


def test_categories_and_builds_count_in_the_guard(monkeypatch):
    marks = np.linspace(0, 10, 1000)
    needed = 16 * 4 * marks.size
    builds = {"a": GUITAR, "b": GUITAR}
    choices = [None, Capacitor("1n"), Capacitor("2n")]
    monkeypatch.setattr(sweep, "machine_memory", lambda: 2 * 6 * needed)
    response(builds, frequency=HERTZ, volume=marks, treble_bleed=choices)
    monkeypatch.setattr(sweep, "machine_memory", lambda: 2 * 6 * needed - 1)
    with pytest.raises(TooLarge, match=r"^sweep: 6000 settings x 4 points need 0\.0 GB"):
        response(builds, frequency=HERTZ, volume=marks, treble_bleed=choices)


@pytest.fixture
def chunked():
    pytest.importorskip("dask.array")
    marks = np.linspace(0, 10, 11)
    return marks, xr.DataArray(marks, dims="volume", coords={"volume": marks}).chunk({"volume": 4})


def test_a_chunked_sweep_stays_lazy_and_equals_the_eager_one(chunked):
    marks, lazy = chunked
    h = ask(volume=lazy, tone=[10, 3], treble_bleed=[None, Capacitor("1n")])
    assert h.chunks is not None
    assert h.chunksizes["volume"] == (4, 4, 3)
    eager = ask(volume=marks, tone=[10, 3], treble_bleed=[None, Capacitor("1n")])
    assert h.dims == eager.dims
    assert h.compute().values == pytest.approx(eager.values, rel=1e-11, abs=0)


def test_measures_of_a_chunked_sweep_stay_lazy(chunked):
    marks, lazy = chunked
    grid = frequency_grid(100, 15e3, per_decade=60)
    h, eager = (response(GUITAR, frequency=grid, volume=v) for v in (lazy, marks))
    level = level_db(h, re={"volume": 10})
    assert level.chunks is not None
    np.testing.assert_allclose(level.compute(), level_db(eager, re={"volume": 10}), atol=1e-9)
    found, expected = peak(h), peak(eager)
    assert found.frequency.chunks is not None
    for name in ("frequency", "height", "q"):
        np.testing.assert_allclose(found[name].compute(), expected[name], rtol=1e-6, atol=1e-6)
    tapered = effective_taper(h)
    assert tapered.chunks is not None
    np.testing.assert_allclose(tapered.compute(), effective_taper(eager), atol=1e-9)


def test_a_chunked_sweep_passes_the_guard(monkeypatch, chunked):
    """Chunking is how a sweep larger than memory is asked for."""
    monkeypatch.setattr(sweep, "machine_memory", lambda: 1000.0)
    assert ask(volume=chunked[1], tone=[10, 3]).sizes["volume"] == 11


# -- what a first user met ------------------------------------------------------------------------


def test_a_bleed_may_be_written_as_text():
    """Whatever is in the place, text may be a network; it is the part that `bleed` reads."""
    for there in (GUITAR.parts["treble_bleed"], None, Capacitor("680p")):
        guitar = GUITAR.replace("treble_bleed", there)
        h = response(guitar, frequency=HERTZ, volume=5, treble_bleed=[None, "1n", "150k || 1n"])
        assert h.coords["treble_bleed"].values.tolist() == ["none", "1 nF", "150 kΩ ∥ 1 nF"]
        alone = response(guitar.replace("treble_bleed", Capacitor("1n")), frequency=HERTZ, volume=5)
        np.testing.assert_array_equal(h.sel(treble_bleed="1 nF"), alone)


def test_labels_that_lie_are_refused():
    """A sweep's own coordinate must be its values."""
    lying = xr.DataArray([1.0, 2.0], dims="volume", coords={"volume": [7.0, 8.0]})
    with pytest.raises(BadSetting) as refusal:
        response(GUITAR, frequency=HERTZ, volume=lying)
    assert str(refusal.value) == (
        "volume: has labels of that name that differ from its values; leave them out."
    )


def test_a_dimension_named_as_a_single_setting_is_refused():
    """One name cannot be both one value and a dimension."""
    with pytest.raises(BadSetting) as refusal:
        response(GUITAR, frequency=HERTZ, tone=xr.DataArray([1.0, 2.0], dims="volume"), volume=5)
    assert str(refusal.value) == (
        "volume: is one value here and the dimension of another setting there; rename the "
        "dimension of the other setting."
    )


@pytest.mark.parametrize(
    ("name", "fix"),
    [
        (
            "treble_bleed",
            "give parts, such as gn.bleed('1n'), or use one of treble_bleed.resistor.resistance, ",
        ),
        ("pickup", "use one of pickup.resistance, pickup.inductance, pickup.capacitance, "),
        ("jack", "set a value of another part"),
    ],
)
def test_a_part_without_a_main_value_says_what_to_set(name, fix):
    guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), treble_bleed="150k || 1n")
    with pytest.raises(BadSetting, match="has no main value") as refusal:
        target(guitar, name)
    assert refusal.value.fix.startswith(fix)


# -- keywords or one mapping ----------------------------------------------------------------------

ASKED = {
    "audio.hum": lambda *s, **k: gn.audio.hum(GUITAR, *s, frequency=HERTZ, **k),
    "audio.noise_level": lambda *s, **k: gn.audio.noise_level(GUITAR, *s, **k),
    "audio.noise_spectrum": lambda *s, **k: gn.audio.noise_spectrum(GUITAR, *s, **k),
    "audio.impulse_response": lambda *s, **k: gn.audio.impulse_response(
        GUITAR, *s, rate=8000, duration=0.1, **k
    ),
    "audio.play_through": lambda *s, **k: gn.audio.play_through(
        gn.audio.sound([1.0, 0.0], rate=8000), GUITAR, *s, **k
    ),
    "bandwidth": lambda *s, **k: gn.bandwidth(GUITAR, *s, **k),
    "bench.ResistanceReading": lambda *s, **k: gn.bench.ResistanceReading("6k", *s, **k),
    "bench.jack_capacitance": lambda *s, **k: gn.bench.jack_capacitance(GUITAR, *s, **k),
    "bench.lug_capacitance": lambda *s, **k: gn.bench.lug_capacitance(
        GUITAR, "jack.tip", "volume.high", *s, **k
    ),
    "bench.lug_resistance": lambda *s, **k: gn.bench.lug_resistance(
        GUITAR, "jack.tip", "volume.high", *s, **k
    ),
    "bench.selections": lambda *s, **k: gn.bench.selections(GUITAR, *s, **k),
    "formulas.dc_gain": lambda *s, **k: gn.formulas.dc_gain(GUITAR, *s, **k),
    "formulas.poles": lambda *s, **k: gn.formulas.poles(GUITAR, *s, **k).tolist(),
    "formulas.to_spice": lambda *s, **k: gn.formulas.to_spice(GUITAR, *s, **k),
    "explain": lambda *s, **k: gn.explain({"a": GUITAR, "b": GUITAR}, *s, **k),
    "formulas.transfer_function": lambda *s, **k: gn.formulas.transfer_function(GUITAR, *s, **k),
    "formulas.zeros": lambda *s, **k: gn.formulas.zeros(GUITAR, *s, **k).tolist(),
    "impedance": lambda *s, **k: gn.impedance(GUITAR, *s, **k),
    "jack_resistance": lambda *s, **k: gn.jack_resistance(GUITAR, *s, **k),
    "live_page": lambda *s, **k: gn.live_page(GUITAR, None, *s, **k).html(),
    "peak": lambda *s, **k: gn.peak(GUITAR, *s, **k),
    "response": lambda *s, **k: gn.response(GUITAR, *s, **k),
    "tolerances.sensitivity": lambda *s, **k: gn.tolerances.sensitivity(
        GUITAR, *s, frequency=HERTZ, **k
    ),
    "tolerances.sensitivity_ranking": lambda *s, **k: gn.tolerances.sensitivity_ranking(
        GUITAR, *s, frequency=HERTZ, **k
    ),
    "tolerances.tolerance_band": lambda *s, **k: gn.tolerances.tolerance_band(
        GUITAR, gn.tolerances.spread(GUITAR, 10), *s, frequency=HERTZ, **k
    ),
    "truth_table": lambda *s, **k: gn.truth_table(GUITAR, *s, **k),
}
"""A question of each kind, with its settings left open."""
OTHERS = {
    "audio.hum_table",
    "audio.noise_table",
    "catalogue.loaded_peaks",
    "choose_treble_bleed",
    "choosing.choose",
    "choosing.match_response",
    "formulas.to_lcapy",
    "pages.knobs",
    "sweeps.plan_sweep",
    "tolerances.bands_by_cause",
}
"""Those that need another guitar or library, or seconds."""


def test_settings_are_keywords_or_one_mapping_everywhere():
    """Whoever takes settings as keywords takes them as a mapping too, after what must be named."""
    found = {}
    for name, one in face().items():
        if not inspect.isfunction(one) and one is not gn.bench.ResistanceReading:
            continue
        kinds = {own.name: own.kind for own in inspect.signature(one).parameters.values()}
        if inspect.Parameter.VAR_KEYWORD in kinds.values():
            by_place = inspect.Parameter.POSITIONAL_OR_KEYWORD
            found[name] = [own for own in kinds if kinds[own] is by_place][-1:] == ["settings"]
    assert all(found.values()), found
    assert set(found) == OTHERS | set(ASKED)


@pytest.mark.parametrize("question", ASKED)
def test_settings_as_keywords_and_as_one_mapping_are_the_same(question):
    ask_for = ASKED[question]
    marks = {"volume": 7, "tone": 4}
    by_keyword, by_mapping = ask_for(**marks), ask_for(marks)
    if isinstance(by_keyword, (xr.DataArray, xr.Dataset)):
        xr.testing.assert_identical(by_keyword, by_mapping)
    else:
        assert by_keyword == by_mapping
    with pytest.raises(BadSetting) as refusal:
        ask_for({"volume": 7}, tone=4)
    assert str(refusal.value) == (
        "settings: are given as a mapping, and 'tone' as a keyword beside it; "
        "put 'tone' into the mapping."
    )


def test_a_mapping_names_what_no_keyword_can():
    """A part may be called as an argument is."""
    guitar = GUITAR.add("dim", Capacitor("1n")).join("dim.a", "jack.tip", "volume.wiper")
    guitar = guitar.join("dim.b", "jack.sleeve")
    h = response(guitar, {"dim": ["1n", "2n"]}, frequency=HERTZ)
    assert h.dims == ("dim", "frequency")
    assert response(GUITAR, {}, frequency=HERTZ, volume=[10, 5]).dims == ("volume", "frequency")


def test_frequencies_go_by_name():
    with pytest.raises(BadSetting) as refusal:
        response(GUITAR, [100, 1000])
    assert str(refusal.value) == (
        "settings: a list is no mapping; give {'volume': [10, 5]}; all else goes by name, as "
        "frequency=[100, 1000]."
    )


@pytest.mark.parametrize(
    "ask_for",
    [
        lambda guitar: gn.impedance(guitar, volume=[10, 5]),
        lambda guitar: gn.jack_resistance(guitar, volume=[10, 5]),
        lambda guitar: gn.bench.jack_capacitance(guitar, volume=[10, 5]),
        lambda guitar: gn.audio.noise_spectrum(guitar, volume=[10, 5]),
        lambda guitar: gn.audio.noise_level(guitar, volume=[10, 5]),
        lambda guitar: gn.audio.hum(guitar, volume=[10, 5]),
        lambda guitar: gn.bandwidth(guitar, volume=[10, 5]),
        lambda guitar: gn.peak(guitar, volume=[10, 5]),
    ],
)
def test_builds_are_asked_side_by_side(ask_for):
    """A dimension "build" comes first, and each build answers as it does alone."""
    builds = {"modern": GUITAR, "50s": layouts.one_pickup(PICKUP, wiring="50s")}
    together = ask_for(builds)
    for one in together.data_vars.values() if isinstance(together, xr.Dataset) else [together]:
        assert one.dims[:2] == ("build", "volume")
    for label, guitar in builds.items():
        found = together.sel(build=label, drop=True)
        xr.testing.assert_allclose(found, ask_for(guitar), rtol=1e-12, atol=0)


# -- paths that are printed -----------------------------------------------------------------------


def _coil():
    return gn.Coil("4k", "2 H", "100p")


PRINTING = {
    "a bleed of two": lambda: GUITAR.replace("treble_bleed", "150k || 1n"),
    "a network in a network": lambda: GUITAR.replace("treble_bleed", "150k || (1n + 100k)"),
    "two capacitors": lambda: GUITAR.replace("treble_bleed", "(1n + 100k) || 220p"),
    "humbucker": lambda: layouts.one_pickup(gn.Humbucker(_coil(), _coil()), treble_bleed="1n"),
    "five-way": lambda: layouts.three_single_coils(PICKUP, PICKUP, PICKUP, treble_bleed="1n + 1M"),
    "bass": lambda: layouts.bass_blend(PICKUP, PICKUP),
}


@pytest.mark.parametrize("name", PRINTING)
def test_a_path_that_a_table_prints_is_a_setting(name):
    """Set to what it is, it changes nothing; a part may be put where a part is printed."""
    guitar = PRINTING[name]()
    plain = response(guitar, frequency=HERTZ)
    several = []
    for row in guitar.part_table().rows:
        part_name, _, local = row[0].partition(".")
        part = guitar.parts[part_name]
        part = part_inside(part, local) or part
        own = response(guitar, {row[0]: part}, frequency=HERTZ)
        assert (own.values == plain.values).all(), row[0]
        if part.main is None:
            several.append(type(part).__name__)
        elif part.main not in (*part.controls, "place"):
            own = response(guitar, {row[0]: getattr(part, part.main)}, frequency=HERTZ)
            assert (own.values == plain.values).all(), row[0]
    # These have no one value, or none at all: the path takes a part alone.
    assert set(several) <= {"Pickup", "Coil", "Humbucker", "Jack", "Empty"}
    paths = gn.tolerances.tolerances_of(guitar)
    ranked = gn.tolerances.sensitivity_ranking(guitar, frequency=[1000.0])
    assert set(ranked["value"].values) <= set(paths)
    for path in paths:
        value = target(guitar, path)[1]
        assert value.unit, path
        h = response(guitar, {path: [getattr_at(guitar, path)]}, frequency=HERTZ)
        assert (h.isel({path: 0}).values == plain.values).all(), path
    for selection in gn.bench.selections(guitar):
        for path in selection.coils:
            assert response(guitar, {path: part_at(guitar, path)}, frequency=HERTZ).shape == (3,)


def part_at(guitar, path):
    """The part at a path, inside another or not."""
    name, _, local = path.partition(".")
    return part_inside(guitar.parts[name], local) or guitar.parts[name]


def getattr_at(guitar, path):
    """The value at a path."""
    part, _, field = path.rpartition(".")
    return getattr(part_at(guitar, part), field)


def test_a_part_inside_another_is_swept_as_a_whole():
    guitar = GUITAR.replace("treble_bleed", "150k || 1n")
    path = "treble_bleed.capacitor"
    h = response(guitar, {path: ["1n", "2n"]}, frequency=HERTZ, at="amp")
    assert h.coords[path].values.tolist() == pytest.approx([1e-9, 2e-9])
    same = response(guitar, {f"{path}.capacitance": ["1n", "2n"]}, frequency=HERTZ)
    assert (h.values == same.values).all()
    parts = response(guitar, {path: [Capacitor("1n"), Capacitor("2n")]}, frequency=HERTZ)
    assert parts.coords[path].values.tolist() == ["1 nF", "2 nF"]
    np.testing.assert_allclose(parts.values, h.values, rtol=1e-12)
    twice = {path: "2n", f"{path}.capacitance": "2n"}
    with pytest.raises(BadSetting) as refusal:
        response(guitar, twice)
    assert str(refusal.value) == (
        f"{path}.capacitance: is set twice; keep one of the settings of {path}.capacitance."
    )


def test_a_choice_is_no_number():
    """What to set instead is a value, and no knob."""
    with pytest.raises(BadSetting) as error:
        target(GUITAR, "volume.taper")
    assert str(error.value) == (
        "volume.taper: is a choice and no number; name a number, as volume.resistance."
    )


def test_an_array_of_no_dimension_is_one_value():
    one = response(GUITAR, frequency=HERTZ, volume=np.array(5.0))
    assert one.dims == ("frequency",)
    assert one.values == pytest.approx(response(GUITAR, frequency=HERTZ, volume=5).values)
