"""Whatever a public function gives back can be kept: it pickles, copies and compares."""

from __future__ import annotations

import copy
import dataclasses
import pickle

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from exercises.checking import Exercise, check


def guitar():
    """A guitar, built anew each time."""
    return gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n || 150k")


def readings():
    return [
        gn.bench.ResistanceReading("6.05k", volume=10),
        gn.bench.ResistanceReading("68k", largest_over="volume"),
    ]


def fitted():
    f = np.geomspace(50, 15e3, 40)
    curve = abs(gn.response(gn.layouts.pickup_alone(gn.Pickup("6k", "2.4 H", "120p")), frequency=f))
    measured = gn.fitting.MeasuredCurve(f, 20 * np.log10(curve.values), load=gn.fitting.Load())
    return gn.fit_pickup(measured, resistance="6k", losses=False)


def swept():
    return gn.sweeps.plan_sweep(
        guitar(), {"level": gn.level_db}, frequency=(100.0, 1e3), volume=[10, 5]
    )


RESULTS = {
    "Harness": guitar,
    "Netlist": lambda: guitar().netlist(volume=[10, 5]),
    "Branch": lambda: next(iter(guitar().netlist(volume=[10, 5]))),
    "Taper": lambda: gn.audio_taper(0.15),
    "Pot": lambda: gn.Pot("250k", "audio 15%"),
    "Network": lambda: gn.bleed("1n || 150k"),
    "Switch": gn.switches.three_way_toggle,
    "Humbucker": lambda: gn.Humbucker(gn.Coil("4k", "2 H", "80p"), gn.Coil("4k", "2 H", "80p")),
    "Table": lambda: guitar().joints(),
    "Winding": lambda: gn.windings.winding(
        "AWG 42", turns=8000, core_length="57 mm", core_width="4.8 mm", traverse="11 mm"
    ),
    "amp_inputs": lambda: gn.values.amp_inputs,
    "ready_pickups": lambda: gn.ready_pickups,
    "Selection": lambda: gn.bench.selections(guitar()),
    "Ohmmeter": lambda: gn.bench.Ohmmeter("1%"),
    "ResistanceReading": readings,
    "ExpectedReadings": lambda: gn.expected_readings(guitar(), marks=[10, 0], count=100),
    "Verification": lambda: gn.verify(guitar(), readings()),
    "Diagnosis": lambda: gn.diagnose(guitar(), [gn.bench.ResistanceReading("OL", volume=10)]),
    "Faults": lambda: gn.bench.faults(guitar(), kinds="coil"),
    "RecoveredValues": lambda: gn.bench.values_from_readings(guitar(), readings()),
    "Goal": lambda: gn.choosing.Goal("peak frequency", near="4 kHz", within="2%"),
    "BleedGoal": gn.choosing.BleedGoal,
    "Range": lambda: gn.choosing.Range("100p", "10n", "E6"),
    "Choices": lambda: gn.choosing.choose(
        guitar(),
        {"cable.length": ["1 m", "3 m"]},
        gn.choosing.Goal("peak frequency", near="4 kHz", within="20%"),
    ),
    "BleedChoices": lambda: gn.choose_treble_bleed(guitar(), forms=["capacitor"]),
    "Matches": lambda: gn.choosing.match_response(
        guitar(), guitar(), loads=["capacitor"], series="E3"
    ),
    "MeasuredCurve": lambda: gn.fitting.MeasuredCurve(
        np.geomspace(100, 5e3, 12), np.zeros(12), load=gn.fitting.Load()
    ),
    "Measurements": lambda: gn.fitting.Measurements(resistance="6k", inductance="2.4 H"),
    "Load": lambda: gn.fitting.Load("1M", "470p"),
    "PickupFit": fitted,
    "PickupPosition": lambda: gn.strings.PickupPosition(0.2),
    "Exercise": lambda: Exercise("How many?", 2),
    "Checked": lambda: check(2, 2),
    "SweepPlan": swept,
    "response": lambda: gn.response(guitar(), volume=[10, 5]),
    "peak": lambda: gn.peak(guitar(), volume=[10, 5]),
    "error": lambda: gn.errors.BadValue("Pot.resistance", "is negative", "give more", -1),
}


@pytest.fixture(scope="module")
def made():
    """Each result, once."""
    held = {}

    def one(name):
        if name not in held:
            held[name] = RESULTS[name]()
        return held[name]

    return one


def same(one, other):
    """Compare as a reader would, with one "=="."""
    if isinstance(one, (xr.DataArray, xr.Dataset)):
        return one.identical(other)
    if isinstance(one, Exception):
        return type(one) is type(other) and one.args == other.args
    return one == other


@pytest.mark.parametrize("name", RESULTS)
def test_a_result_pickles_copies_and_compares(name, made):
    result = made(name)
    for again in (pickle.loads(pickle.dumps(result)), copy.deepcopy(result), copy.copy(result)):
        assert type(again) is type(result)
        assert same(result, again) is True
        assert str(again) == str(result)


def test_a_guitar_goes_into_plain_data():
    plain = dataclasses.asdict(guitar())
    assert plain["parts"]["volume"]["taper"]["points"] == ((0.0, 0.0), (0.5, 0.15), (1.0, 1.0))
    assert plain["parts"]["treble_bleed"]["elements"][0]["capacitance"] == 1e-9
    assert list(plain) == ["parts", "joined", "open_lugs", "name"]


FRAMES = {
    "Choices": ("cable.length", lambda r: [choice.values["cable.length"] for choice in r]),
    "BleedChoices": ("treble", lambda r: [choice.treble for choice in r]),
    "Matches": ("rms", lambda r: [match.rms for match in r.matches]),
    "PickupFit": ("error", lambda r: [v.error for v in {**r.values, **r.loads}.values()]),
    "RecoveredValues": ("uncertainty", lambda r: list(r.uncertainties.values())),
    "Verification": ("read", lambda r: [one.reading.ohms for one in r.checked]),
    "ExpectedReadings": ("nominal", lambda r: r.data.nominal.values.ravel().tolist()),
    "Diagnosis": ("fits", lambda r: [one.fits for one in r.explanations for _ in one.faults]),
    "Faults": ("reading", lambda r: [float(fault.readings()) for fault in r]),
    "Table": ("lugs", lambda r: [row[3] for row in r.rows]),
}


@pytest.mark.parametrize("name", FRAMES)
def test_a_result_goes_into_a_frame_of_numbers(name, made):
    column, values = FRAMES[name]
    result = made(name)
    assert result.to_dataframe()[column].tolist() == values(result)


@pytest.mark.parametrize(
    "measure",
    [
        abs,
        gn.level_db,
        gn.phase_deg,
        gn.peak,
        gn.bandwidth,
        gn.treble_change,
        gn.effective_taper,
        lambda h: gn.peak(guitar(), volume=[10, 5]),
    ],
)
def test_what_is_real_goes_to_netcdf_as_it_is(measure, made, tmp_path):
    found = measure(made("response"))
    found.to_netcdf(tmp_path / "found.nc")
    opened = xr.load_dataset(tmp_path / "found.nc")
    back = opened if isinstance(found, xr.Dataset) else opened[str(found.name)]
    xr.testing.assert_equal(back, found)


def test_a_response_goes_to_netcdf_by_its_real_and_imaginary_part(made, tmp_path):
    h = made("response")
    xr.Dataset({"real": h.real, "imag": h.imag}).to_netcdf(tmp_path / "h.nc")
    found = xr.load_dataset(tmp_path / "h.nc")
    back = found["real"] + 1j * found["imag"]
    np.testing.assert_array_equal(back, h)
    xr.testing.assert_identical(gn.peak(back), gn.peak(h))
    xr.testing.assert_identical(gn.level_db(back, re="reference"), gn.level_db(h, re="reference"))
