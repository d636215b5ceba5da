"""Sweeps of any size: sizes without phases, plans, stores, interruption, clusters, memory."""

from __future__ import annotations

import contextlib
import dataclasses
import functools
import importlib.util
import json
import os
import signal
import subprocess
import sys
import tracemalloc
from pathlib import Path

import numpy as np
import oracle
import pytest
import xarray as xr
from conftest import missing

from guitarnet import (
    Capacitor,
    Pickup,
    Resistor,
    audio_taper,
    effective_taper,
    in_parallel,
    layouts,
    level_db,
    peak,
    phase_deg,
    ready_pickups,
    response,
    treble_change,
)
from guitarnet.audio import noise_spectrum
from guitarnet.errors import BadFile, BadSetting, GuitarnetError, NotFinished, TooLarge
from guitarnet.formulas import Netlist
from guitarnet.solve import ac
from guitarnet.solve.ac import node_size
from guitarnet.study.bench.meter import impedance, jack_capacitance, jack_resistance
from guitarnet.study.response import plan as planning, sweep
from guitarnet.sweeps import plan_sweep

GUITAR = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"))
OTHER = GUITAR.replace("pickup", Pickup("8.4k", "4.6 H", "110p"))
HERTZ = np.geomspace(50, 15e3, 48)
BLEEDS = [None, "1n", "150k || 1n"]
LENGTHS = np.linspace(1, 9, 9)


@pytest.fixture
def needs(request):
    """What the tests of stores and clusters need."""
    for module in ("dask", "distributed", "zarr", "pyarrow"):
        if importlib.util.find_spec(module) is None:
            missing(module)


# -- sizes without phases -------------------------------------------------------------------------


def divider(upper, lower, capacitance):
    """A two-resistor divider, a capacitor across the upper, one across the output."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("source", "in", "a", 6e3)
    net.resistor("upper", "a", "out", upper)
    net.resistor("lower", "out", "0", lower)
    net.capacitor("bleed", "a", "out", capacitance)
    net.capacitor("cable", "out", "0", 500e-12)
    return net


@pytest.mark.parametrize("order", [("mark", "design"), ("design", "mark")])
def test_sizes_against_a_plain_solver(order):
    """Ends of the track and absent capacitors included; the slow solver shares no code."""
    track = xr.Variable("mark", [0.0, 0.15, 0.6, 1.0])
    total = xr.Variable("design", [250e3, 500e3, 100e3])
    net = divider(total * (1 - track), total * track, xr.Variable("design", [1e-9, 0.0, 3e-9]))
    f = np.array([100.0, 3e3, 12e3])
    found = node_size(net, "out", f, dims=order)
    assert found.dims == (*order, "frequency")
    assert found.dtype == float
    for at, single in oracle.single_settings(net):
        exact = [abs(oracle.voltage(single, "out", hertz)) for hertz in f]
        np.testing.assert_allclose(found.isel(at), exact, rtol=1e-11, atol=0)


@pytest.mark.parametrize(
    "case",
    ["marks alone", "one value", "0 Hz", "lossy", "mixed pattern", "many values", "coupled"],
)
def test_sizes_are_those_of_the_voltages(case):
    f, designs = np.geomspace(20, 2e4, 7), 5
    random = np.random.default_rng(3)
    track = xr.Variable("mark", np.linspace(0, 1, 6))
    along = xr.Variable("design", random.uniform(0.5, 2, designs))
    net = divider(250e3 * (1 - track), 250e3 * track, 1e-9 * along)
    if case == "marks alone":
        net = divider(250e3 * (1 - track), 250e3 * track, 1e-9)
    elif case == "one value":
        net = divider(1e3, 2e3, 1e-9)
    elif case == "0 Hz":
        f = np.array([0.0, 1e3])
    elif case == "lossy":
        net.capacitor("lossy", "out", "0", 1e-9 * along, loss=0.02)
    elif case == "mixed pattern":
        shorts = xr.Variable(("design", "mark"), random.integers(0, 2, (designs, 6)) * 1e4)
        net.resistor("sometimes", "out", "0", shorts)
    elif case == "many values":
        for number in range(8):
            net.resistor(f"load {number}", "out", "0", 1e6 * (along + 0.1 * number))
    elif case == "coupled":
        net.inductor("one", "a", "c", along)
        net.inductor("two", "c", "0", 2 * along)
        net.mutual("both", "one", "two", 0.9 * along)
    exact = np.abs(ac.node_voltage(net, "out", f, dims=("design", "mark")))
    found = node_size(net, "out", f, dims=("design", "mark"))
    assert found.dims == exact.dims
    np.testing.assert_allclose(found, exact, rtol=1e-11, atol=0)


def test_sizes_of_chunked_values_stay_lazy():
    pytest.importorskip("dask.array")
    track = xr.Variable("mark", np.linspace(0, 1, 6)).chunk({"mark": 2})
    farads = xr.Variable("design", np.linspace(1e-9, 3e-9, 4)).chunk({"design": 3})
    lazy = divider(2e5 * (1 - track), 2e5 * track, farads)
    eager = divider(*(2e5 * t for t in (1 - track.compute(), track.compute())), farads.compute())
    found = node_size(lazy, "out", HERTZ)
    assert found.chunks is not None
    assert found.dtype == float
    np.testing.assert_allclose(found.compute(), node_size(eager, "out", HERTZ), rtol=1e-12)


def test_a_size_has_no_phase():
    with pytest.raises(BadSetting) as refusal:
        phase_deg(abs(response(GUITAR, frequency=HERTZ)))
    assert str(refusal.value) == (
        "response: is real and has no phase; give what response() returns, not its size."
    )


# -- measures by blocks and in bulk ---------------------------------------------------------------


def test_peaks_block_by_block_are_those_of_each_curve():
    """Many curves, of which blocks are taken, give what one curve after the other gives."""
    h = response(
        GUITAR,
        frequency=HERTZ,
        volume=[10, 7, 0],
        treble_bleed=BLEEDS,
        tone=np.linspace(0, 10, 200),
    )
    found = peak(h)
    several = 0
    for index in np.ndindex(found.frequency.shape):
        if index[-1] % 29:
            continue
        one = peak(h[index])
        for name in ("frequency", "height", "q"):
            np.testing.assert_array_equal(found[name].values[index], one[name])
        several += not np.isnan(one.q)
    assert several >= 4


def test_treble_changes_of_many_curves_are_those_of_each():
    """However many curves there are, each is what it is alone."""
    h = response(
        GUITAR, frequency=np.geomspace(100, 6e3, 20), volume=[10, 7, 5, 2], tone=np.arange(11.0)
    )
    whole = treble_change(h, knob="volume")
    for mark in h.tone.values[::5]:
        one = treble_change(h.sel(tone=mark), "volume")
        for name in ("change", "worst"):
            np.testing.assert_allclose(whole[name].sel(tone=mark), one[name], atol=1e-9)
        np.testing.assert_array_equal(whole.worst_frequency.sel(tone=mark), one.worst_frequency)


# -- everything that sweeps stays lazy ------------------------------------------------------------


@pytest.mark.parametrize(
    "ask",
    [
        lambda marks: response(GUITAR, frequency=HERTZ, volume=marks),
        lambda marks: response(GUITAR, frequency=HERTZ, volume=marks, pickups="each"),
        lambda marks: response({"one": GUITAR, "other": OTHER}, frequency=HERTZ, volume=marks),
        lambda marks: impedance(GUITAR, frequency=HERTZ, volume=marks),
        lambda marks: jack_resistance(GUITAR, volume=marks),
        lambda marks: jack_capacitance(GUITAR, volume=marks),
        lambda marks: noise_spectrum(GUITAR, frequency=HERTZ, volume=marks),
    ],
)
def test_chunked_input_stays_lazy(ask):
    pytest.importorskip("dask.array")
    marks = xr.DataArray(np.linspace(0, 10, 6), dims="volume")
    lazy, eager = ask(marks.chunk(volume=2)), ask(marks)
    assert lazy.chunks
    computed = lazy.compute(scheduler="synchronous")
    for name in ("real", "imag") if isinstance(lazy, xr.DataArray) else lazy.data_vars:
        one, other = (
            getattr(x, name) if name in ("real", "imag") else x[name] for x in (computed, eager)
        )
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-12)


# -- the memory guard -----------------------------------------------------------------------------


def test_the_guard_cuts_several_dimensions(monkeypatch):
    """One chunk of what it proposes fits a twentieth of the memory."""
    monkeypatch.setattr(sweep, "machine_memory", lambda: 1e6)
    marks = {"volume": np.linspace(0, 10, 400), "tone": np.linspace(0, 10, 300)}
    lengths = np.linspace(1, 10, 200)
    with pytest.raises(TooLarge) as refusal:
        response(GUITAR, frequency=[100, 1000, 5000], **marks, **{"cable.length": lengths})
    assert str(refusal.value) == (
        "sweep: 24000000 settings x 4 points need 1.5 GB and as much again to work, this machine "
        "has 0.0 GB; give 'volume' and 'tone' as chunked arrays, xr.DataArray(values, "
        "dims='volume').chunk({'volume': 1}) and xr.DataArray(values, dims='tone')"
        ".chunk({'tone': 3}), and reduce the result to measures before .compute()."
    )
    assert 1 * 3 * 200 * 4 * 16 <= 1e6 / 20


def test_the_guard_points_to_plans_where_nothing_is_to_chunk(monkeypatch):
    monkeypatch.setattr(sweep, "machine_memory", lambda: 1e3)
    with pytest.raises(TooLarge) as refusal:
        response({"one": GUITAR, "other": OTHER}, frequency=HERTZ, treble_bleed=BLEEDS)
    assert refusal.value.fix == (
        "reduce it to measures with plan_sweep(), which holds a part of it at a time"
    )


@pytest.mark.parametrize(
    ("most", "expected"),
    [
        (1000, {"a": 10, "b": 10, "c": 10}),
        (250, {"a": 2, "b": 10, "c": 10}),
        (35, {"a": 1, "b": 3, "c": 10}),
        (1, {"a": 1, "b": 1, "c": 10}),
    ],
)
def test_cuts(most, expected):
    """No more cut than need be, in the order given; the rest whole."""
    assert sweep.cuts({"a": 10, "b": 10, "c": 10}, most, ["a", "b"]) == expected


# -- plans ----------------------------------------------------------------------------------------

MEASURES = {"peak": peak, "treble": treble_change, "taper": effective_taper}


def make(chunks=None, measures=MEASURES, **changed):
    settings = {"volume": [10, 5, 2], "treble_bleed": BLEEDS, "cable.length": LENGTHS} | changed
    builds = {"one": GUITAR, "other": OTHER}
    cut = chunks or {"cable.length": 4}
    return plan_sweep(builds, measures, frequency=HERTZ, chunks=cut, **settings)


@pytest.fixture(scope="module")
def everything():
    """All responses at once."""
    settings = {"volume": [10, 5, 2], "treble_bleed": BLEEDS, "cable.length": LENGTHS}
    each = [response(guitar, frequency=HERTZ, **settings) for guitar in (GUITAR, OTHER)]
    return xr.concat(each, xr.Variable("build", ["one", "other"]))


@pytest.fixture(scope="module")
def whole(everything):
    """The same measures, from all responses at once."""
    top, treble = peak(everything), treble_change(everything)
    named = {f"peak_{name}": top[name] for name in top}
    return (
        named
        | {f"treble_{name}": treble[name] for name in treble}
        | {"taper": effective_taper(everything)}
    )


def same(found, whole):
    assert set(found.data_vars) == set(whole)
    for name, expected in whole.items():
        np.testing.assert_allclose(
            found[name].values,
            expected.transpose(*found[name].dims).values,
            rtol=1e-8,
            atol=1e-8,
            err_msg=name,
        )
        assert found[name].attrs["units"] == expected.attrs["units"]


def test_a_plan_gives_the_same_measures_lazily(whole):
    pytest.importorskip("dask.array")
    plan = make({"cable.length": 4, "treble_bleed": 2})
    assert (plan.responses, plan.chunk_count) == (162, 6)
    found = plan.dataset()
    assert found.peak_q.dims == ("build", "volume", "treble_bleed", "cable.length")
    assert found.chunksizes["cable.length"] == (4, 4, 1)
    assert found.treble_change.dims[-1] == "frequency"
    computed = found.compute(scheduler="synchronous")
    same(computed, whole)
    assert computed.treble_bleed.values.tolist() == ["none", "1 nF", "150 kΩ ∥ 1 nF"]
    assert computed.attrs["assumptions"].startswith("lossless coil assumed")


def test_a_plan_gives_the_responses_lazily(everything):
    pytest.importorskip("dask.array")
    lazy = make({"cable.length": 4, "build": 1, "treble_bleed": 2}).response()
    assert lazy.chunksizes["cable.length"] == (4, 4, 1)
    h = lazy.compute(scheduler="synchronous")
    xr.testing.assert_allclose(h, everything.transpose(*h.dims), rtol=1e-9)
    assert h.attrs["assumptions"] == everything.attrs["assumptions"]
    np.testing.assert_allclose(level_db(h, re="reference"), level_db(everything, re="reference"))


def test_what_a_plan_says():
    assert str(make(measures={"peak": peak})) == (
        "162 responses at 48 frequencies (build 2 x volume 3 x treble_bleed 3 x cable.length 9) "
        "in 3 chunks of cable.length 4; peak_frequency, peak_height, peak_q: 0.00389 MB"
    )


def test_measures_may_reduce_a_knob():
    pytest.importorskip("dask.array")

    def strays(h):
        return abs(treble_change(h).worst).max("volume")

    found = make(measures={"strays": strays}).dataset().compute(scheduler="synchronous")
    assert found.strays.dims == ("build", "treble_bleed", "cable.length")
    settings = {"volume": [10, 5, 2], "treble_bleed": "1n", "cable.length": 9.0}
    h = response(OTHER, frequency=HERTZ, **settings)
    here = found.strays.sel({"build": "other", "treble_bleed": "1 nF", "cable.length": 9.0})
    assert float(here) == pytest.approx(float(strays(h)), rel=1e-9)


def test_designs_drawn_pointwise_and_chunked_are_taken_as_they_are():
    pytest.importorskip("dask.array")
    random = np.random.default_rng(5)
    drawn = {
        "cable.length": xr.DataArray(random.uniform(1, 9, 10), dims="design").chunk(design=4),
        "pickup.inductance": xr.DataArray(random.uniform(2, 5, 10), dims="design"),
    }
    plan = plan_sweep(GUITAR, {"peak": peak}, frequency=HERTZ, **drawn, volume=[10, 6])
    assert plan.chunks == {"design": 4, "volume": 2}
    found = plan.dataset().compute(scheduler="synchronous")
    eager = {name: values.compute() for name, values in drawn.items()}
    expected = peak(response(GUITAR, frequency=HERTZ, **eager, volume=[10, 6]))
    np.testing.assert_allclose(found.peak_height, expected.height, rtol=1e-9)
    np.testing.assert_allclose(found["pickup.inductance"], drawn["pickup.inductance"])


def test_phases_are_computed_only_where_asked_for():
    pytest.importorskip("dask.array")
    given = []

    def height(h):
        given.append(h.dtype.kind)
        return peak(h).height

    def phase_at_the_end(h):
        return phase_deg(h).isel(frequency=-1, drop=True)

    lazy = make(measures={"height": height}).dataset()
    given.clear()
    lazy.compute(scheduler="synchronous")
    assert given == ["f", "f", "f"]
    lazy = make(measures={"height": height, "phase": phase_at_the_end}).dataset()
    given.clear()
    found = lazy.compute(scheduler="synchronous")
    assert given == ["c", "c", "c"]
    one = {"volume": 5, "treble_bleed": None, "cable.length": 1.0}
    expected = phase_deg(response(OTHER, frequency=HERTZ, **one))
    place = {"build": "other", **one, "treble_bleed": "none"}
    assert float(found.phase.sel(place)) == pytest.approx(float(expected[-1]), rel=1e-9)


@pytest.mark.parametrize(
    ("lengths", "expected"),
    [
        # 63 frequencies and the reference: 2^21 / 64 = 32,768 settings in a chunk.
        (1000, {"build": 1, "volume": 11, "treble_bleed": 2, "cable.length": 1000}),
        (2000, {"build": 1, "volume": 11, "treble_bleed": 1, "cable.length": 2000}),
        (10_000, {"build": 1, "volume": 11, "treble_bleed": 1, "cable.length": 32_768 // 11}),
    ],
)
def test_chunks_are_cut_at_categories_first_and_never_at_knobs(lengths, expected):
    swept = {"treble_bleed": BLEEDS, "cable.length": np.linspace(1, 9, lengths)}
    f = np.geomspace(50, 15e3, 63)
    builds = {"one": GUITAR, "other": OTHER}
    plan = plan_sweep(builds, {"peak": peak}, frequency=f, volume=range(11), **swept)
    assert plan.chunks == expected
    turned = plan_sweep(GUITAR, {"peak": peak}, frequency=f, volume=np.linspace(0, 10, 40_000))
    assert turned.chunks == {"volume": 40_000}


def test_to_plan_computes_nothing():
    asked = []
    plan = make(measures={"peak": lambda h: asked.append(h) or peak(h)})
    assert (plan.responses, plan.chunk_count, plan.chunks["cable.length"]) == (162, 3, 4)
    assert asked == []


def test_an_estimate():
    told = make(measures={"peak": peak}).estimate()
    assert told["bytes"] == 162 * 3 * 8
    assert told["chunk_bytes"] > 72 * 49 * 8
    assert told["seconds"] > 0
    assert told["points_per_second"] == pytest.approx(162 * 48 / told["seconds"])


def level_re_first(h):
    return level_db(h).max("frequency") - level_db(h).max("frequency").isel({"cable.length": 0})


@pytest.mark.parametrize(
    ("ask", "expected"),
    [
        (
            lambda: make(measures={}),
            "measures: name no measure; give {'peak': gn.peak}.",
        ),
        (
            lambda: make(measures={"peak": 3}),
            "measure 'peak': an int is no function; give a function of a response, such as "
            "gn.peak.",
        ),
        (
            lambda: str(make(measures={"mean": lambda h: float(abs(h).mean())})),
            "measure 'mean': gives a float, no labelled array; give a function of a response, "
            "such as gn.peak.",
        ),
        (
            lambda: make({"cable.lenght": 2}),
            "chunks 'cable.lenght': is no dimension of the sweep; did you mean 'cable.length'?",
        ),
        (
            lambda: make({"cable.length": 0}),
            "chunks 'cable.length': 0 is no length; give 1 or more, or -1.",
        ),
        (
            lambda: make({"cable.length": 2.5}),
            "chunks 'cable.length': 2.5 is no length; give 1 or more, or -1.",
        ),
    ],
)
def test_refusals(ask, expected):
    with pytest.raises(GuitarnetError) as refusal:
        ask()
    assert str(refusal.value) == expected


@pytest.mark.parametrize(
    ("chunks", "measures", "expected"),
    [
        (
            {"cable.length": 4},
            {"change": level_re_first},
            "chunks 'cable.length': a measure compares places along it (measure 'change' changes "
            "when it is cut); keep it whole with chunks={'cable.length': -1}.",
        ),
        (
            {"build": 1, "cable.length": 4},
            {"least": lambda h: peak(h).height.min("cable.length")},
            "chunks 'cable.length': a measure compares places along it (measure 'least' changes "
            "when it is cut); keep it whole with chunks={'cable.length': -1}.",
        ),
        (
            {"volume": 1},
            {"treble": treble_change},
            "chunks 'volume': a measure compares places along it (re volume: 10 is not among 2; "
            "add 10 to volume.); keep it whole with chunks={'volume': -1}.",
        ),
        (
            {"cable.length": 4},
            {"level": level_db, "treble": treble_change},
            "measure 'treble_change': has another 'frequency' than a measure before it; rename "
            "its dimension, as measure(h).rename(frequency='frequency_2').",
        ),
    ],
)
@pytest.mark.usefixtures("needs")
def test_measures_that_cannot_be_cut_are_refused_before_a_run(tmp_path, chunks, measures, expected):
    with pytest.raises(BadSetting) as refusal:
        make(chunks, measures).to_zarr(tmp_path / "out.zarr")
    assert str(refusal.value) == expected
    assert list(tmp_path.iterdir()) == []


def test_a_chunk_that_does_not_fit_is_refused(monkeypatch):
    monkeypatch.setattr(planning, "machine_memory", lambda: 1e6)
    with pytest.raises(TooLarge) as refusal:
        make({"cable.length": -1})
    assert str(refusal.value) == (
        "plan_sweep: one chunk needs 0.0 GB at work, this machine has 0.0 GB; cut it further, as "
        "chunks={'cable.length': 2}."
    )


# -- stores ---------------------------------------------------------------------------------------


def stopping(after):
    """Press a key after some chunks."""

    def progress(done, _):
        if done >= after:
            raise KeyboardInterrupt

    return progress


def chunks_in(array):
    """The files of an array's chunks, and which writing each is of."""
    return {file.name: file.stat().st_ino for file in array.iterdir() if file.name[0] != "."}


@pytest.fixture
def one_thread():
    """What dask is told to run on when one core is wanted."""
    dask = pytest.importorskip("dask")
    with dask.config.set(scheduler="synchronous"):
        yield


@pytest.mark.long
@pytest.mark.usefixtures("needs", "one_thread")
def test_an_interrupted_run_goes_on_with_what_is_missing(tmp_path, whole):
    plan, store = make({"cable.length": 2}), tmp_path / "sub" / "out.zarr"
    assert plan.chunk_count == 5
    with pytest.raises(KeyboardInterrupt):
        plan.to_zarr(store, progress=stopping(3))
    first = chunks_in(store / "taper")
    assert 3 <= len(first) < 5  # a chunk that was begun is kept
    half = xr.open_zarr(store).taper.notnull().all(("build", "volume", "treble_bleed")).values
    assert [bool(half[2 * n]) for n in range(5)] == [f"0.0.0.{n}" in first for n in range(5)]
    counts = []
    # A plan made anew is the same sweep.
    again = make({"cable.length": 2})
    same(again.to_zarr(store, progress=lambda done, _: counts.append(done)).load(), whole)
    assert counts == list(range(len(first), 6))
    assert chunks_in(store / "taper").items() >= first.items()
    found = plan.to_zarr(store, progress=lambda done, _: counts.append(done)).load()
    assert counts[-2:] == [5, 5]
    xr.testing.assert_identical(plan.to_zarr(tmp_path / "straight.zarr").load(), found)
    assert [file.name for file in store.parent.iterdir()] == ["out.zarr"]


@pytest.mark.usefixtures("needs", "one_thread")
def test_a_chunk_that_is_taken_away_or_holds_no_number_is_told_apart(tmp_path):
    """What is nowhere a number is done too; what is gone is computed again."""
    silent = {"nothing": lambda h: peak(h).height.where(h.volume < 0)}
    plan, counts = make({"cable.length": 3}, silent), []
    plan.to_zarr(tmp_path / "out.zarr")
    next((tmp_path / "out.zarr" / "nothing").glob("*.1")).unlink()
    found = plan.to_zarr(tmp_path / "out.zarr", progress=lambda done, _: counts.append(done))
    assert counts == [2, 3]
    assert found.nothing.isnull().all()


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """A store of peaks."""
    store = tmp_path_factory.mktemp("begun") / "out.zarr"
    make(measures={"peak": peak}).to_zarr(store)
    return store


@pytest.mark.parametrize(
    ("changed", "what"),
    [
        ({"volume": [10, 5, 3]}, "setting 'volume'"),
        ({"chunks": {"cable.length": 3}}, "chunks"),
        ({"treble_bleed": [None, "1n", "2n"]}, "setting 'treble_bleed'"),
        ({"tone": 5}, "setting 'tone'"),
        ({"measures": {"peak": lambda h: peak(h).height}}, "measure 'peak'"),
        ({"measures": {"peak": functools.partial(peak)}}, "measure 'peak'"),
    ],
)
def test_another_design_is_refused(needs, begun, changed, what):
    other = make(**({"measures": {"peak": peak}} | changed))
    with pytest.raises(BadFile) as refusal:
        other.to_zarr(begun)
    assert str(refusal.value) == (
        f"{begun}: was begun with another {what}; give another name, or remove it to begin anew."
    )


def plain(wiring="modern", **replaced):
    """A guitar built anew each time."""
    guitar = layouts.one_pickup(Pickup("6.2k", "2.4 H", "120p"), wiring=wiring)
    for path, value in replaced.items():
        guitar = guitar.replace(path.replace("__", "."), value)
    return guitar


def small(guitar, measure=None, **settings):
    measures = {"top": measure or (lambda h: abs(h).max("frequency"))}
    settings = {"volume": [10, 5]} | settings
    return plan_sweep(guitar, measures, frequency=[100.0, 1e3, 4e3], **settings)


BENT = dataclasses.replace(audio_taper(0.2), name="audio 15%")


@pytest.fixture(scope="module")
def plain_store(tmp_path_factory):
    """A store of one guitar, and what it holds."""
    store = tmp_path_factory.mktemp("plain") / "out.zarr"
    return store, small(plain()).to_zarr(store).load()


@pytest.mark.parametrize(
    ("guitar", "where"),
    [
        (
            plain("50s"),
            "guitar (joint cable.guitar_tip - jack.tip - tone.wiper - treble_bleed.b - "
            "volume.wiper is new)",
        ),
        (plain(pickup__inductance=2.40004), "guitar (pickup.inductance was 2.4 H, is 2.40004 H)"),
        (
            plain(volume__taper=BENT),
            "guitar (volume.taper.points was ((0.0, 0.0), (0.5, 0.15), (1.0, 1.0)), is "
            "((0.0, 0.0), (0.5, 0.2), (1.0, 1.0)))",
        ),
        (
            plain(cable__insulation_resistance="50M"),
            "guitar (cable.insulation_resistance was None, is 50000000.0 ohm m)",
        ),
        (
            plain(cable__resistance_per_metre=0.1),
            "guitar (cable.resistance_per_metre was 0.0 ohm/m, is 0.1 ohm/m)",
        ),
        (
            plain(volume__end_resistance=3),
            "guitar (volume.end_resistance was (0.0, 0.0), is (3.0, 3.0))",
        ),
        (plain(treble_bleed="1n"), "guitar (treble_bleed was Empty, is Capacitor)"),
        (plain().lift("tone.low"), "guitar (open lug tone.low is new)"),
    ],
)
def test_a_store_of_another_guitar_is_refused(needs, plain_store, guitar, where):
    """It would give that guitar's numbers."""
    store, first = plain_store
    with pytest.raises(BadFile) as refusal:
        small(guitar).to_zarr(store)
    assert str(refusal.value) == (
        f"{store}: was begun with another {where}; give another name, or remove it to begin anew."
    )
    xr.testing.assert_identical(small(plain()).to_zarr(store).load(), first)


@pytest.mark.usefixtures("needs")
def test_a_store_of_another_order_or_of_many_other_guitars_is_refused(tmp_path):
    store = tmp_path / "out.zarr"
    many = {f"{length} m": plain(cable__length=float(length)) for length in range(1, 22)}
    small(many, volume=[10]).to_zarr(store)
    for builds, what in (
        (many | {"9 m": plain(cable__length=9.0000001)}, "guitar '9 m'"),
        (dict(reversed(many.items())), "order of guitars"),
    ):
        with pytest.raises(BadFile) as refusal:
            small(builds, volume=[10]).to_zarr(store)
        assert refusal.value.problem == f"was begun with another {what}"


EDITED = """
LIMIT = {}

def top(h):
    return size(h).max("frequency") * LIMIT

def size(h):
    return {}(h)
"""


def edited(limit=1.0, size="abs"):
    module = {"__name__": "my_measures"}
    exec(EDITED.format(limit, size), module)
    return module["top"]


@pytest.mark.usefixtures("needs")
def test_an_edited_measure_of_the_same_name_is_refused(tmp_path):
    store = tmp_path / "out.zarr"
    small(plain(), edited()).to_zarr(store)
    small(plain(), edited()).to_zarr(store)
    for other in (edited(2.0), edited(size="1 * abs")):
        with pytest.raises(BadFile) as refusal:
            small(plain(), other).to_zarr(store)
        assert refusal.value.problem == "was begun with another measure 'top'"


ANEW = """
from guitarnet import Pickup, bleed, in_parallel, layouts, peak
from guitarnet.sweeps import frequency_grid, plan_sweep

def height(h):
    return peak(h).height if "volume" in {"volume", "tone"} else None

def run(path, bleed, progress):
    guitar = layouts.one_pickup(Pickup(6200.0, "2.4 H", 120e-12), treble_bleed=bleed)
    f = frequency_grid(per_decade=20)
    settings = {"volume": [10, 5], "cable.length": [1.0, 3.0]}
    chunks = {"cable.length": 1}
    plan = plan_sweep(guitar, {"height": height}, frequency=f, chunks=chunks, **settings)
    return plan.to_zarr(path, progress=progress).height.values.tolist()
"""


@pytest.mark.long
@pytest.mark.usefixtures("needs", "one_thread")
def test_another_process_goes_on_with_the_same_design(tmp_path):
    """Built anew in other words, in another file, with another seed of hashes."""
    here, store = {"__name__": "my_sweep"}, tmp_path / "out.zarr"
    exec(ANEW, here)
    with pytest.raises(KeyboardInterrupt):
        here["run"](store, "1n || 150k", stopping(1))
    (store / "height" / "0.1").unlink(missing_ok=True)  # begun before the key was pressed
    file = tmp_path / "script.py"
    apart = "run(%r, in_parallel(bleed('1n'), bleed('150k')), lambda done, _: print(done))"
    file.write_text(f"# moved down\n{ANEW}\nprint({apart % str(store)})\n")
    ran = subprocess.run(
        [sys.executable, str(file)],
        env=os.environ | {"PYTHONHASHSEED": "5"},
        capture_output=True,
        text=True,
        check=True,
    )
    counts = []
    found = here["run"](store, "1n || 150k", lambda done, _: counts.append(done))
    assert ran.stdout.split("\n", 2)[:2] == ["1", "2"]
    assert ran.stdout.splitlines()[-1] == str(found)
    assert counts == [2]


@pytest.mark.usefixtures("needs")
def test_what_is_no_store_of_ours_is_left_alone(tmp_path):
    plan, store = small(plain()), tmp_path / "thesis.zarr"
    store.mkdir()
    Path(store, "chapter").write_text("mine")
    with pytest.raises(BadFile) as refusal:
        plan.to_zarr(store)
    expected = f"{store}: exists and holds no sweep; give another name, or remove it."
    assert str(refusal.value) == expected
    assert Path(store, "chapter").read_text() == "mine"
    for text in ("{", "[]", json.dumps({"sweep": "zz"}), json.dumps({"sweep": "[]"})):
        Path(store, ".zattrs").write_text(text)
        with pytest.raises(BadFile) as refusal:
            plan.to_zarr(store)
        assert str(refusal.value) == expected
        Path(store, "_sweep.json").write_text(text)
        with pytest.raises(BadFile) as refusal:
            plan.to_parquet(store)
        assert str(refusal.value) == expected
    file = tmp_path / "file"
    file.write_text("")
    with pytest.raises(BadFile, match=r"cannot be written .*; check the folder and its rights\.$"):
        plan.to_zarr(file / "out.zarr")


@pytest.mark.usefixtures("needs")
def test_a_store_removed_by_hand_begins_anew(tmp_path):
    import shutil

    plan = small(plain())
    first = plan.to_zarr(tmp_path / "out.zarr").load()
    shutil.rmtree(tmp_path / "out.zarr")
    xr.testing.assert_identical(plan.to_zarr(tmp_path / "out.zarr").load(), first)


@pytest.mark.long
@pytest.mark.usefixtures("needs", "one_thread")
def test_a_long_table_in_parquet(tmp_path, whole):
    from pyarrow import dataset

    plan = make({"cable.length": 4, "treble_bleed": 2})
    with pytest.raises(KeyboardInterrupt):
        plan.to_parquet(tmp_path / "table", progress=stopping(2))
    folder, counts = tmp_path / "table", []
    first = sum(file.suffix == ".parquet" for file in folder.iterdir())
    assert first >= 2
    plan.to_parquet(folder, progress=lambda done, _: counts.append(done))
    assert counts == list(range(first, 7))
    parts = [f"part-{number}.parquet" for number in range(6)]
    assert sorted(file.name for file in folder.iterdir()) == ["_sweep.json", *parts]
    with pytest.raises(BadFile, match=r"was begun with another chunks; give another name"):
        make().to_parquet(folder)
    table = dataset.dataset(str(folder)).to_table().to_pylist()
    assert len(table) == 162
    seen = set()
    for row in table:
        dims = ("build", "volume", "treble_bleed", "cable.length")
        at = {name: row[name] for name in dims}
        seen.add(tuple(at.values()))
        assert row["taper"] == pytest.approx(float(whole["taper"].sel(at)), abs=1e-8)
        change = whole["treble_change"].sel({**at, "frequency": 3000})
        assert row["treble_change_3000"] == pytest.approx(float(change), abs=1e-8)
    assert len(seen) == 162


@pytest.mark.usefixtures("needs")
def test_a_design_without_labels_is_numbered_in_the_table(tmp_path):
    from pyarrow import parquet

    lengths = xr.DataArray(LENGTHS, dims="design")
    plan = plan_sweep(
        GUITAR, {"peak": peak}, frequency=HERTZ, chunks={"design": 4}, **{"cable.length": lengths}
    )
    folder = plan.to_parquet(tmp_path / "table")
    last = parquet.read_table(folder / "part-2.parquet").to_pylist()
    assert [(row["design"], row["cable.length"]) for row in last] == [(8, 9.0)]
    top = peak(response(GUITAR, frequency=HERTZ, **{"cable.length": 9.0}))
    assert last[0]["peak_height"] == pytest.approx(float(top.height), rel=1e-9)


@pytest.mark.usefixtures("needs")
def test_one_setting_is_a_row_of_the_table_too(tmp_path):
    from pyarrow import parquet

    plan = plan_sweep(GUITAR, {"peak": peak}, frequency=HERTZ)
    assert plan.to_zarr(tmp_path / "one.zarr").peak_q.dims == ()
    (row,) = parquet.read_table(plan.to_parquet(tmp_path / "table") / "part-0.parquet").to_pylist()
    assert row["peak_height"] == pytest.approx(float(plan.dataset().peak_height), rel=1e-12)


@pytest.mark.usefixtures("needs", "one_thread")
def test_a_line_of_progress(tmp_path, capsys):
    make(measures={"peak": peak}).to_zarr(tmp_path / "out.zarr", progress=True)
    said = capsys.readouterr().err.split("\r\033[K")
    assert said[1] == "0 of 3 chunks"
    assert said[-1] == "3 of 3 chunks\n"
    assert "of 3 chunks, about" in said[2]


@pytest.mark.usefixtures("needs")
def test_progress_that_takes_no_counts_is_refused(tmp_path):
    with pytest.raises(BadSetting) as refusal:
        small(plain()).to_zarr(tmp_path / "out.zarr", progress=lambda: None)
    assert str(refusal.value).startswith("progress: raised TypeError (")
    assert refusal.value.fix == (
        "give True, or a function of how many chunks are done and how many there are"
    )


@pytest.mark.long
@pytest.mark.usefixtures("needs", "one_thread")
def test_the_responses_are_never_held(tmp_path):
    """12 times as many responses, and no more memory than for one chunk and the measures."""
    lengths, bleed = np.linspace(1, 9, 3072), in_parallel(Capacitor("1n"), Resistor("150k"))
    f = np.geomspace(50, 15e3, 99)
    plan = plan_sweep(
        GUITAR.replace("treble_bleed", bleed),
        {"loudest": lambda h: level_db(h).max("frequency")},
        frequency=f,
        chunks={"cable.length": 256},
        volume=range(11),
        **{"cable.length": lengths},
    )
    assert plan.chunk_count == 12
    one = plan.estimate()["chunk_bytes"]
    tracemalloc.start()
    plan.to_zarr(tmp_path / "out.zarr")
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < one + plan.nbytes + 8e6 < 16 * plan.responses * f.size


# -- clusters -------------------------------------------------------------------------------------


@contextlib.contextmanager
def cluster(patience=None, **options):
    """A local cluster and its client; how long it waits when no worker is left."""
    import dask
    from distributed import Client, LocalCluster

    options = {"threads_per_worker": 1, "dashboard_address": ":0", "silence_logs": 50} | options
    with dask.config.set({"distributed.scheduler.no-workers-timeout": patience}):
        made = LocalCluster(**options)
    # Not by "with": closed inside it, a client would leave dask set to a cluster.
    with made:
        client = Client(made)
        try:
            yield client
        finally:
            client.close()


def nine_chunks():
    settings = {"volume": [10, 5], "cable.length": LENGTHS}
    chunks = {"cable.length": 1}
    return plan_sweep(GUITAR, {"peak": peak}, frequency=HERTZ, chunks=chunks, **settings)


@pytest.mark.long
@pytest.mark.usefixtures("needs")
def test_a_worker_killed_midway_changes_nothing(tmp_path):
    plan, store, killed = nine_chunks(), tmp_path / "cluster.zarr", []
    with cluster(n_workers=1) as client:

        def kill(done, _):
            if 1 <= done < 9 and not killed:
                killed.extend(client.run(os.getpid).values())
                os.kill(killed[0], signal.SIGKILL)  # another is started in its place

        found = plan.to_zarr(store, progress=kill).load()
    assert len(set(killed) - {os.getpid()}) == 1
    assert len(chunks_in(store / "peak_q")) == plan.chunk_count == 9
    alone = plan.dataset().compute(scheduler="synchronous")
    # Rounding depends on the order of pivots, which a process keeps from what it solved before.
    xr.testing.assert_allclose(found, alone, rtol=1e-9)
    for name in alone.coords:
        np.testing.assert_array_equal(found[name], alone[name])


@pytest.mark.long
@pytest.mark.usefixtures("needs")
def test_a_cluster_that_goes_away(tmp_path):
    """No worker left, then a closed client; what was saved is not computed again."""
    plan, store, counts = nine_chunks(), tmp_path / "out.zarr", []
    fix = "start a cluster and run the same again: it goes on with the rest"
    with cluster(patience="0.5s", n_workers=1, processes=False) as client:

        def leave(done, _):
            counts.append(done)
            if done == 2:
                client.cluster.scale(0)

        with pytest.raises(NotFinished) as refusal:
            plan.to_zarr(store, progress=leave)
        saved = len(chunks_in(store / "peak_q"))
        assert 2 <= counts[-1] <= saved < 9
        assert refusal.value.where == str(store)
        assert refusal.value.problem.startswith("the cluster went away (")
        assert refusal.value.problem.endswith(f") with {saved} of 9 chunks saved")
        assert refusal.value.fix == fix
        client.cluster.scale(1)
        client.wait_for_workers(1)
        counts.clear()

        def close(done, _):
            counts.append(done)
            if done == saved + 2:
                client.close()

        with pytest.raises(NotFinished) as refusal:
            plan.to_zarr(store, progress=close)
        assert counts[0] == saved
        assert refusal.value.problem.startswith("the cluster went away (")
        assert refusal.value.fix == fix
    counts.clear()
    found = plan.to_zarr(store, progress=lambda done, _: counts.append(done))
    assert saved + 2 <= counts[0] < 9
    assert counts == list(range(counts[0], 10))
    xr.testing.assert_allclose(found.load(), plan.dataset().compute(scheduler="synchronous"))


# -- the example ----------------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.usefixtures("needs")
def test_the_example(tmp_path, capsys, project, monkeypatch):
    """A catalogue of one pickup, twice: the second time everything is there already."""
    spec = importlib.util.spec_from_file_location("big_sweep", project / "examples/big_sweep.py")
    example = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(example)
    first = next(iter(ready_pickups))
    responses = {
        series: {form: plan.responses for form, plan in example.plans(series, pickups).items()}
        for series, pickups in (("E24", list(ready_pickups)), ("E3", [first]))
    }
    counts = {series: sum(each.values()) for series, each in responses.items()}
    assert counts == {"E24": 351_700_371, "E3": 44_451}
    # One taper and one cable of three, three marks of eleven, the least and the largest form of
    # five: the same kind of thing is kept.
    forms = ("none", "series with parallel")
    kept = {series: sum(each[f] for f in forms) // 33 for series, each in responses.items()}
    monkeypatch.setattr(example, "FORMS", {form: example.FORMS[form] for form in forms})
    monkeypatch.setattr(example, "TAPERS", ["audio 10%"])
    monkeypatch.setattr(example, "CABLES", ["3 m"])
    monkeypatch.setattr(example, "MARKS", np.array([2.0, 5.0, 10.0]))
    options = ["--pickups", "1", "--series", "E3", "--out", str(tmp_path / "out")]
    assert example.main(options) == 0
    said = capsys.readouterr().out
    assert f"every pickup with E24: {kept['E24']:,} responses in" in said
    assert f"{kept['E3']:,} responses in" in said
    assert first in said
    table = said[said.index("How far the shape") :]
    example.run(example.plans("E3", [first]), tmp_path / "out" / "E3")
    assert capsys.readouterr().out.endswith(table)
    assert example.main([*options, "--series", "E7"]) == 2
    assert capsys.readouterr().err.startswith("error: series: 'E7' is not a series")
