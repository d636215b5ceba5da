"""The tables of ready parts, entered a second time as one writes them: a slip in either shows.

Where the values come from is said in each part's ``source``; here they only stand twice.
"""

from __future__ import annotations

import pytest

from guitarnet.units import read_value
from guitarnet.values import amp_inputs

# Resistance, capacitance behind a grid resistor.
INPUTS = {
    "amp": "1M 0pF 0ohm",
    "tube amp": "1M 124.7p 68k",  # 2.3 pF + 2.4 pF (1 + 50)
    "pedal": "500k 0pF 0ohm",
    "low-impedance pedal": "10k 0pF 0ohm",
    "buffer": "1M 0pF 0ohm",
    "wireless transmitter": "1M 0pF 0ohm",
}


def test_the_names():
    assert list(amp_inputs) == list(INPUTS)


@pytest.mark.parametrize("name", INPUTS)
def test_ready_inputs(name):
    part = amp_inputs[name]
    for field, unit, value in zip(
        ("resistance", "capacitance", "grid_resistance"),
        ("ohm", "F", "ohm"),
        INPUTS[name].split(),
        strict=True,
    ):
        assert getattr(part, field) == pytest.approx(read_value(value, unit), rel=1e-12)
    assert part.source
