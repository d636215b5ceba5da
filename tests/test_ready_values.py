"""The tables of ready parts, entered a second time as one writes them: a slip in either shows.

Where the values come from is said in each part's ``source``; here they only stand twice.
"""

from __future__ import annotations

import pytest

from guitarnet import ready_pickups
from guitarnet.units import read_value
from guitarnet.values import amp_inputs

# Resistance, inductance, capacitance; eddy resistance and share; screening.
PICKUPS = {
    "bright single coil": "6.3k 2.75H 220p 19k 19% 2.9kHz",
    "steel-pole single coil": "6.4k 3.7H 150p 36k 36% 2.7kHz",
    "wide single coil": "10.6k 6.6H 143p 39k 41% 2.1kHz",
    "lossless single coil": "6.5k 2.9H 141.7p",
    "medium humbucker": "7.5k 3.8H 183p 31k 37% 2.6kHz",
    "neck humbucker": "12.7k 7H 230p 76k 44% 2.6kHz",
    "hot humbucker": "11.9k 6.8H 165p 32k 36% 2.3kHz",
    "covered humbucker": "8k 4.5H 180p 30k 45% 2kHz",
    "lossless hot humbucker": "16.56k 8.059H 128p",
    "bass single coil": "7.5k 3.8H 150p",
    "bass split coil": "11k 6H 150p",
}
FIELDS = {
    "resistance": "ohm",
    "inductance": "H",
    "capacitance": "F",
    "eddy_resistance": "ohm",
    "eddy_share": "fraction",
    "screening_frequency": "Hz",
    "eddy_order": "fraction",
    "slow_share": "fraction",
    "slow_frequency": "Hz",
}
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
    assert list(ready_pickups) == list(PICKUPS)
    assert list(amp_inputs) == list(INPUTS)


@pytest.mark.parametrize("name", PICKUPS)
def test_ready_pickups(name):
    part, written = ready_pickups[name], PICKUPS[name].split()
    for number, (field, unit) in enumerate(FIELDS.items()):
        if number < len(written):
            assert getattr(part, field) == pytest.approx(read_value(written[number], unit))
        else:
            assert getattr(part, field) is None
    assert part.source
    told_of_losses = len(written) > 3
    assert ("no losses" in part.source) is not told_of_losses


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
