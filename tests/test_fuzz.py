"""A sample of the seeded trials of tools/fuzz, and what the whole of them once found."""

from __future__ import annotations

import dataclasses

import numpy as np
import oracle
import pytest

import guitarnet as gn
from fuzz.agree import against_oracle, differences, trials
from fuzz.bad_input import KINDS, refusals
from fuzz.draw import FAMILIES, Trial
from fuzz.minimise import minimise, written
from fuzz.run import main
from fuzz.spice_agree import against_ngspice
from guitarnet.circuit.edits import separated
from guitarnet.circuit.netlist import Netlist
from guitarnet.parts.base import Part
from guitarnet.solve import ac
from guitarnet.solve.resistance import Resistances
from guitarnet.solve.spice import run_ngspice, spice_text
from guitarnet.solve.structure import place, reduce

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")


# -- samples --------------------------------------------------------------------------------------


def test_random_harnesses_against_the_oracle(draws):
    """Voltages, sizes, impedances and resistances; marks 0 and 10, 0 Hz, shorts and opens."""
    count = draws(12, 60)
    tally = against_oracle(seed=20, count=count)
    assert [words for _, _, words in tally.wrong] == []
    assert tally.trials == count
    assert tally.values > 6 * count
    assert tally.silent < 0.6 * tally.values
    assert tally.by_rounding < 0.02 * tally.values
    assert 0 < tally.largest < 1e-9


def test_random_harnesses_against_ngspice(ngspice):
    """Another program, which knows nothing of shorts as structure."""
    tally = against_ngspice(seed=20, count=15)
    assert [words for _, _, words in tally.wrong] == []
    assert tally.trials == 15
    assert tally.values == 15 * 10
    assert 0 < tally.largest < 1e-7


def test_bad_input_is_refused_in_one_sentence():
    """Harness files, data files, values, settings, the command: no traceback, nothing written."""
    found = refusals(seed=20, count=75)
    assert found.wrong == []
    assert found.refused == dict.fromkeys(KINDS, 15)


def test_the_sample_is_what_it_says():
    """Every kind of part, every family, both ends of the knobs, 0 Hz, empty places, open lugs."""
    drawn = [trial for _, trial in trials(20, 150)]
    parts = {type(part).__name__ for trial in drawn for part in trial.guitar.parts.values()}
    inside = {
        type(piece).__name__
        for trial in drawn
        for part in trial.guitar.parts.values()
        for piece in part.inner().values()
    }
    ours = {name for name, kind in Part.kinds.items() if kind.__module__.startswith("guitarnet.")}
    assert ours - parts - inside == set()
    assert {trial.family for trial in drawn} == set(FAMILIES)
    marks = [
        mark
        for trial in drawn
        for given in trial.settings.values()
        for mark in np.atleast_1d(given)
    ]
    assert {0.0, 10.0} <= set(marks)
    assert any(0 < mark < 10 for mark in marks)
    assert any(0.0 in trial.frequency for trial in drawn)
    assert any(trial.guitar.open_lugs for trial in drawn)


def test_the_same_seed_draws_the_same():
    one, other = (list(trials(3, 9)) for _ in range(2))
    assert one == other
    assert one != list(trials(4, 9))


def test_a_wrong_solver_is_found_and_the_trial_made_small(monkeypatch):
    """A trial that cannot fail is none: here every tone capacitor is taken 1 % too large."""
    guitar = gn.layouts.one_pickup(PICKUP, treble_bleed="1n")
    trial = Trial("layout", guitar, {"volume": [5.0, 7.0], "tone": 3.0}, "amp", (100.0, 3000.0))
    assert differences(trial) == []
    voltage = ac.node_voltage

    def too_large(net, node, frequency, **how):
        made = Netlist(net.ground, dict(net.branches), net.bare)
        for name, branch in net.branches.items():
            if name.startswith("tone_capacitor."):
                made.branches[name] = dataclasses.replace(branch, value=1.01 * branch.value)
        return voltage(made, node, frequency, **how)

    monkeypatch.setattr(ac, "node_voltage", too_large)
    found = differences(trial)
    assert found
    assert found[0].startswith("voltage at cable.amp_tip, 100 Hz: ")
    small = minimise(trial, lambda smaller: bool(differences(smaller)))
    assert differences(small)
    assert set(small.guitar.parts) >= {"pickup", "tone_capacitor", "jack"}
    assert "volume" not in small.guitar.parts
    assert len(small.frequency) == 1
    assert "tone_capacitor" in written(small)


def test_the_command(capsys):
    """One line for each kind of trial, and the exit code."""
    counts = ["--harnesses", "6", "--decades", "2", "--ngspice", "0", "--bad", "5"]
    assert main([*counts, "--seed", "9"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "seed 9"
    assert said[1].startswith("6 harnesses against the oracle: ")
    assert "; 0 wrong; " in said[1]
    assert any(line.startswith("2 harnesses with values far apart against 50") for line in said)
    assert any(line.startswith("bad inputs: 5 refused in one sentence (") for line in said)


# -- what the trials once found -------------------------------------------------------------------


def test_what_hangs_by_one_node_is_silent_exactly():
    """With the jack's sleeve off its joint no current comes back: not 1e-14 V, but none."""
    guitar = gn.layouts.two_single_coils(PICKUP, PICKUP)
    fault = gn.bench.faults(guitar)["open joint at jack sleeve"]
    for place_ in ("neck", "neck+bridge", "bridge"):
        found = gn.response(
            fault.guitar, frequency=[0, 100.0, 3000.0], switch=place_, volume=[10, 5]
        )
        assert (found.values == 0).all()
    assert (fault.change_db(frequency=[100.0, 3000.0]).values == -np.inf).all()


def test_a_pickup_off_ground_is_silent_exactly():
    """Its loop of coil and capacitance hangs on the rest by the hot lead alone."""
    guitar = gn.layouts.one_pickup(PICKUP)
    loose = separated(guitar, "pickup.ground")
    assert (gn.response(loose, frequency=[100.0, 5000.0], volume=7).values == 0).all()


def test_what_a_coupling_or_a_follower_brings_stays():
    """A loop that touches the rest in no node, or in one, is heard where it is coupled."""
    net = Netlist()
    net.source("in", "a", "b")
    net.inductor("near", "a", "b2", 1.0)
    net.resistor("loop", "b2", "b", 100.0)
    net.inductor("far", "out", "0", 1.0)
    net.resistor("load", "out", "0", 1e3)
    net.mutual("both", "near", "far", 0.5)
    frequency = np.array([50.0, 500.0])
    expected = [oracle.voltage(net, "out", f) for f in frequency]
    assert min(map(abs, expected)) > 0.1
    np.testing.assert_allclose(ac.node_voltage(net, "out", frequency).values, expected, rtol=1e-12)
    net = Netlist()
    net.source("in", "a", "0")
    net.resistor("one", "a", "b", 1e3)
    net.capacitor("two", "b", "0", 1e-6)
    net.follower("copy", "c", "0", "b", "0")
    net.resistor("three", "c", "out", 1e3)
    net.resistor("four", "out", "0", 1e3)
    net.resistor("aside", "b", "x", 5.0)
    net.resistor("more", "x", "b", 5.0)
    expected = [oracle.voltage(net, "out", f) for f in frequency]
    np.testing.assert_allclose(ac.node_voltage(net, "out", frequency).values, expected, rtol=1e-12)
    left = {branch.name for branch, _ in reduce(place(net), {}, "0", "out", True).branches}
    assert left == {"in", "one", "two", "copy", "three", "four"}


def test_a_meter_between_milliohms_where_an_island_has_megohms():
    """The node that is held is the best tied one: two milliohms keep their digits."""
    net = Netlist()
    net.resistor("far", "a", "x", 1e9)
    net.resistor("near", "x", "y", 2.17e-3)
    ohms, _ = Resistances(net).between((0, "x", "y"))
    assert float(ohms[0]) == pytest.approx(2.17e-3, rel=1e-9)
    ohms, _ = Resistances(net).between((0, "a", "y"))
    assert float(ohms[0]) == pytest.approx(1e9, rel=1e-9)


def test_a_meter_on_nothing_at_all():
    """No live branch: no path, and no trouble."""
    assert Resistances(Netlist()).between((0, "a", "b"))[0].tolist() == [np.inf]


@pytest.mark.parametrize(("low", "high", "points"), [(700, 701, 2), (1000, 1000, 1)])
def test_a_narrow_range_ends(ngspice, low, high, points):
    """Where no step of a decade's points fits in, ngspice would step to infinity."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 1e3)
    net.resistor("S", "out", "0", 1e3)
    frequency, volts = run_ngspice(spice_text(net, "out", low, high, 1), timeout=20)
    assert frequency.size == points
    np.testing.assert_allclose(volts, 0.5)


def test_the_oracle_knows_coupled_islands():
    """What touches ground by a coupling alone: two coils, turns 2 to 1, nothing lost."""
    net = Netlist()
    net.source("in", "a", "0")
    net.inductor("one", "a", "0", 4.0)
    net.inductor("other", "x", "y", 1.0)
    net.resistor("load", "x", "y", 1e3)
    net.inductor("third", "out", "0", 1.0)
    net.mutual("first", "one", "other", 2.0)
    net.mutual("second", "other", "third", 0.5)
    expected = ac.node_voltage(net, "out", np.array([100.0])).values[0]
    assert oracle.voltage(net, "out", 100.0) == pytest.approx(expected, rel=1e-9)
    assert abs(expected) > 1e-3


def test_the_oracle_knows_what_has_no_answer():
    """A source with both ends on one node, in the way of the output."""
    net = Netlist()
    net.source("in", "a", "b")
    net.resistor("short", "a", "b", 0.0)
    net.resistor("one", "b", "out", 1e3)
    net.resistor("two", "out", "0", 1e3)
    net.resistor("three", "b", "0", 1e3)
    with pytest.raises(oracle.NoUniqueAnswer):
        oracle.voltage(net, "out", 100.0)
    with pytest.raises(gn.errors.NoSolution):
        ac.node_voltage(net, "out", np.array([100.0]))
