"""Matching: a load that is known is found again; the solver in full agrees."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from guitarnet.study.choose.match import LOADS, match_response

BRIGHT = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"))
DARK = gn.layouts.one_pickup(gn.Pickup("8.2k", "4.6 H", "150p"), volume="500k", tone="500k")


def loaded(guitar, part):
    """Solder a part across the jack."""
    with_part = guitar.add("load", part)
    return with_part.join("load.a", "jack.tip").join("load.b", "jack.sleeve")


@pytest.mark.parametrize(
    ("form", "values"),
    [
        ("capacitor", (330e-12,)),
        ("resistor", (270e3,)),
        ("parallel", (680e-12, 390e3)),
        ("series", (2.2e-9, 33e3)),
        ("series", (10e-9, 33e3)),  # the nearest start alone ends elsewhere
    ],
)
def test_a_known_load_is_found_again(form, values):
    """Preferred values come out to the digit, the continuous ones near it."""
    part = LOADS[form].part(*values)
    found = match_response(BRIGHT, loaded(BRIGHT, part), loads=[form])
    assert found.best.part == part
    assert found.best.rms < 1e-9
    assert found.best.between_rms < 1e-6
    none = found.matches[-1]
    assert none.load == "none"
    assert none.rms > 0.05


def test_the_residual_by_the_solver_in_full():
    """Rms, worst and frequency of every load, written out; Simpson's rule for the mean."""
    from scipy.integrate import simpson

    found = match_response(BRIGHT, DARK)
    assert len(found.matches) == 5
    f = np.geomspace(100, 6000, 401)
    wanted = gn.level_db(gn.response(DARK, frequency=f), re="reference").values
    for match in found.matches:
        guitar = BRIGHT if match.part is None else loaded(BRIGHT, match.part)
        miss = gn.level_db(gn.response(guitar, frequency=f), re="reference").values - wanted
        rms = np.sqrt(simpson(miss**2, x=np.log(f)) / np.log(60))
        assert match.rms == pytest.approx(rms, rel=5e-3)
        assert match.worst == pytest.approx(miss[abs(miss).argmax()], abs=0.01)


def test_a_load_against_brute_force():
    """scipy.optimize.brute over the capacitor finds nothing better."""
    from scipy.optimize import brute

    f = np.geomspace(100, 6000, 150)
    wanted = gn.level_db(gn.response(DARK, frequency=f), re="reference").values

    def rms(logs):
        guitar = loaded(BRIGHT, gn.Capacitor(float(np.exp(logs[0]))))
        miss = gn.level_db(gn.response(guitar, frequency=f), re="reference").values - wanted
        return np.sqrt(np.mean(miss**2))

    limits = (slice(np.log(50e-12), np.log(5e-9), 0.05),)
    place, least, _, _ = brute(rms, limits, full_output=True, finish=None)
    found = match_response(BRIGHT, DARK, loads=["capacitor"]).best
    assert found.between_rms <= least * 1.02
    farad = gn.values.read_value(found.between, "F")
    assert abs(np.log(farad) - float(np.atleast_1d(place)[0])) < 0.05


def test_a_load_cannot_make_a_dark_guitar_bright():
    """A capacitor only lowers the peak: none ranks before it."""
    found = match_response(DARK, BRIGHT, loads=["capacitor"])
    assert found.best.load == "none"
    assert found.matches[1].between == "10 pF at most"


def test_the_end_of_the_search_is_said():
    """No resistor at all is wanted: the largest that is tried, and that it is the largest."""
    found = match_response(BRIGHT, BRIGHT, loads=["resistor"])
    assert found.matches[1].between == "10 MΩ at least"


def test_labels_may_be_numbers():
    found = match_response({1: BRIGHT, 2: DARK}, DARK, loads=["capacitor"])
    assert (found.best.build, found.best.load) == ("2", "none")


def test_level_and_shape():
    """A resistor that takes level away matches in shape only."""
    quiet = BRIGHT.replace("amp.resistance", "47k")
    shape = match_response(BRIGHT, quiet, loads=["resistor"])
    level = match_response(BRIGHT, quiet, loads=["resistor"], level=True)
    assert level.best.part.resistance == pytest.approx(1 / (1 / 47e3 - 1 / 1e6), rel=0.06)
    assert level.best.rms < 0.2
    assert level.levels.attrs["long_name"] == "level re 1 V/V"
    assert shape.levels.attrs["long_name"] == "level re 100 Hz"


def test_several_guitars_compete():
    """The same humbucker in series, in parallel and with one coil."""
    coil = gn.Coil("4.2k", "2.1 H", "180p")
    ways = ("series", "parallel", "coil 1")
    guitars = {way: gn.layouts.one_pickup(gn.Humbucker(coil, coil, connection=way)) for way in ways}
    found = match_response(guitars, guitars["parallel"], loads=["capacitor"])
    assert (found.best.build, found.best.load) == ("parallel", "none")
    assert found.best.rms < 1e-12
    assert {match.build for match in found.matches} == set(ways)
    assert "guitar" in found.table().columns


def test_a_response_is_matched_as_well():
    """Given as an array on another grid, through a spline."""
    h = gn.response(DARK, frequency=gn.sweeps.frequency_grid(50, 10e3, per_decade=50))
    array, guitar = match_response(BRIGHT, h), match_response(BRIGHT, DARK)
    assert array.best.part == guitar.best.part
    assert array.best.rms == pytest.approx(guitar.best.rms, abs=2e-3)


def test_the_residual_array():
    found = match_response(BRIGHT, DARK, loads=["resistor"])
    assert found.residual.dims == ("curve", "frequency")
    assert found.residual["curve"].values.tolist() == [match.load for match in found.matches]
    worst = [float(row[abs(row).argmax()]) for row in found.residual.values]
    assert worst == pytest.approx([match.worst for match in found.matches])
    assert found._repr_html_() == found.table()._repr_html_()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: match_response(BRIGHT, DARK, volume=[10, 5]),
            "match_response: settings hold a list; give one value each.",
        ),
        (
            lambda: match_response(BRIGHT, DARK, volume=0),
            "match_response: a guitar is silent; turn its volume up.",
        ),
        (
            lambda: match_response(BRIGHT, 3),
            "wanted: an int is no guitar and no response of one curve; give a Harness, or what "
            "response() returns, one curve chosen.",
        ),
        (
            lambda: match_response(BRIGHT, gn.response(DARK, frequency=[200, 2000, 7000])),
            "wanted: spans 200 to 7000 Hz only; narrow the band, or widen it.",
        ),
        (
            lambda: match_response(BRIGHT, gn.response(DARK, reference_frequency=200)),
            "wanted: has another reference frequency; give both the same.",
        ),
        (
            lambda: match_response(BRIGHT, DARK, loads=["coil"]),
            "loads: there is no 'coil'; use one of capacitor, parallel, resistor, series.",
        ),
        (
            lambda: match_response(BRIGHT, DARK, lugs=("jack.tp", "jack.sleeve")),
            "jack.tp: a Jack has no lug 'tp'; did you mean 'tip'?",
        ),
        (
            lambda: match_response(BRIGHT, DARK, band=(900, 100)),
            "band: (900, 100) is no band; give (low, high) in hertz.",
        ),
        (
            lambda: match_response(xr.DataArray([1.0]), DARK),
            "guitar: a DataArray is no harness; give a guitar, or several by label.",
        ),
        (
            lambda: match_response(BRIGHT, DARK, loads=3),
            "loads: an int is no list; give a list, such as ['capacitor', 'resistor', "
            "'parallel', 'series'].",
        ),
        (
            lambda: match_response(BRIGHT, DARK, lugs=("jack.tip",)),
            "lugs: is a list of 1, not of two; give two lugs, such as ('jack.tip', 'jack.sleeve').",
        ),
        (
            lambda: match_response(BRIGHT, DARK, lugs="treble_bleed"),
            "lugs: a str is no list; give two lugs, such as ('jack.tip', 'jack.sleeve').",
        ),
        (
            lambda: match_response(BRIGHT, DARK, band=(3,)),
            "band: is a list of 1, not of two; give (low, high) in hertz.",
        ),
        (
            lambda: match_response(BRIGHT, DARK, band=None),
            "band: a NoneType is no list; give (low, high) in hertz.",
        ),
        (
            lambda: match_response(BRIGHT, gn.response(DARK) * np.nan),
            "wanted: has values that are not numbers; give a response without gaps.",
        ),
    ],
)
def test_bad_input(call, message):
    with pytest.raises(gn.GuitarnetError) as caught:
        call()
    assert str(caught.value) == message
