"""The same answer on every processor: texts do not change where the solver's last digits do."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
import noise


@pytest.mark.parametrize("name", noise.QUICK)
def test_noise_changes_no_text(name):
    """Five seeds of what `tools/noise.py` tries at length."""
    with noise.noise(None):
        plain = noise.QUICK[name]()
    assert len(plain.splitlines()) > 3
    for seed in range(1, 6):
        with noise.noise(seed) as calls:
            noisy = noise.QUICK[name]()
        assert sum(calls.values()) > 0
        assert noise.difference(plain, noisy) == ""


def test_the_noise_is_there_and_goes_again():
    one = gn.bench.ResistanceReading("6.05k", between=("pickup.hot", "pickup.ground"))

    def answers():
        guitar = noise.one_pickup()  # of its own, for a guitar keeps what each fault would show
        return [
            gn.response(guitar, frequency=[100.0, 1000.0], volume=[10, 0]).values,
            gn.jack_resistance(guitar, volume=[10, 5]).values,
            gn.tolerances.sensitivity(guitar, frequency=[1000.0]).values,
            np.array(gn.diagnose(guitar, one, kinds="coil", steps=False).explanations[0].readings),
        ]

    plain = answers()
    with noise.noise(1) as calls:
        shaken = answers()
    again = answers()
    assert {"node_voltage", "node_impedance", "Resistances.between"} <= set(calls)
    for before, noisy, after in zip(plain, shaken, again, strict=True):
        assert np.array_equal(before, after)
        assert not np.array_equal(before, noisy)
        np.testing.assert_allclose(noisy, before, rtol=3e-8)
        assert np.array_equal(before == 0, noisy == 0)


def test_zeros_and_infinities_stay_exact():
    draws = np.random.default_rng(1)
    value = xr.Variable("x", [0.0, np.inf, -np.inf, 1.0])
    found = noise.shaken({"a": (value, np.array([0j, complex(np.inf, 0), 1j]), 3, "text")}, draws)
    ohms, volts, count, text = found["a"]
    assert ohms.values[:3].tolist() == [0.0, np.inf, -np.inf]
    assert 0 < abs(ohms.values[3] - 1) <= noise.SIZE
    assert volts[0] == 0
    assert volts[1] == complex(np.inf, 0)
    assert 0 < abs(volts[2] - 1j) <= noise.SIZE
    assert (count, text) == (3, "text")
