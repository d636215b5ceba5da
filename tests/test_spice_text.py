"""SPICE text line by line, and what is read from a raw file, without running any program."""

from __future__ import annotations

import itertools
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from guitarnet.circuit.netlist import Netlist
from guitarnet.errors import NoSolution, NotExpressible, NotInstalled
from guitarnet.solve import spice
from guitarnet.solve.spice import run_ngspice, spice_text


def lines(net, output="out", **options):
    text = spice_text(net, output, 20, 20e3, 10, **options)
    assert text.endswith(".end\n")
    return text.splitlines()


@pytest.fixture
def net():
    """A screened coil coupled with another, two sources, a wire, an open and a dead end."""
    net = Netlist()
    net.source("string", "s", "0", 1.0)
    net.source("quiet", "q", "0", 0.25)
    net.resistor("screen R", "s", "mid", 1e3)
    net.capacitor("screen C", "mid", "0", 1e-9)
    net.follower("buffer", "start", "q", "mid", "0")
    net.inductor("one", "start", "a", 2.0)
    net.inductor("other", "a", "out", 8.0)
    net.mutual("k", "one", "other", -1.0)
    net.resistor("wire", "out", "lug", 0.0)
    net.inductor("no coil", "lug", "tip", 0.0)
    net.resistor("open", "out", "0", np.inf)
    net.capacitor("dangling", "out", "end", 1e-9)
    net.resistor("load", "tip", "0", 1e6)
    return net


def test_every_kind_of_element(net):
    """Couplings come after their coils; values in full; sources of whole and of broken volts."""
    said = [line for line in lines(net) if line[0] not in "*."]
    assert said[0].startswith("Passive circuit")
    assert said[1:] == [
        "V1 2 0 DC 0 AC 1",
        "V2 3 0 DC 0 AC 0.25",
        "R1 2 4 1000.0",
        "C1 4 0 1e-09",
        "E1 5 3 4 0 1",
        "L1 5 6 2.0",
        "L2 6 1 8.0",
        "R2 1 0 1000000.0",
        "K1 L1 L2 -0.25",
    ]


def test_comments_say_what_became_of_the_rest(net):
    said = [line for line in lines(net) if line.startswith("*")]
    assert said[:7] == [
        "* node 0: 0",
        "* node 1: out lug tip",
        "* node 2: s",
        "* node 3: q",
        "* node 4: mid",
        "* node 5: start",
        "* node 6: a",
    ]
    assert said[7] == "* 0 ohm, so its nodes are one: wire no?coil"
    assert said[8] == "* open, or in no path to the output: open dangling"
    assert said[9] == "* V1: string"
    assert said[-1] == "* K1: k"
    plain = Netlist()
    plain.source("in", "out", "0")
    plain.resistor("R", "out", "0", 1.0)
    assert not any("ohm, so" in line or "open, or" in line for line in lines(plain, "out")[:3])


def test_lugs_stand_for_nodes(net):
    said = lines(net, lugs={"out": ["pickup.hot", "pot.high"], "tip": ["jack.tip"]})
    assert "* node 1: pickup.hot pot.high lug jack.tip" in said
    assert "* node 6: a" in said


def test_analysis_card(net):
    assert lines(net)[-4:] == [
        ".options noopac",
        ".ac dec 10 20.0 20000.0",
        ".print ac vr(1) vi(1)",
        ".end",
    ]


@pytest.mark.parametrize(
    ("low", "high", "per_decade", "card"),
    [
        (100, 1000, 7, ".ac dec 7 100.0 1000.0"),
        (100, 1000, 1, ".ac dec 2 100.0 1000.0"),
        (100, 110, 10, ".ac dec 25 100.0 110.0"),
        (100, 110, 30, ".ac dec 30 100.0 110.0"),
        (50, 50, 10, ".ac lin 1 50.0 50.0"),
    ],
)
def test_a_step_fits_between_the_ends(net, low, high, per_decade, card):
    """1 / log10(1.1) = 24.16 steps a decade are one step from 100 to 110 Hz."""
    assert spice_text(net, "out", low, high, per_decade).splitlines()[-3] == card


def test_a_silent_circuit_is_still_a_circuit():
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "far", 1.0)
    net.resistor("load", "out", "0", 1.0)
    said = lines(net)
    assert "* nothing reaches node 1: it is silent" in said
    assert "* open, or in no path to the output: in R load" in said
    assert [line for line in said[1:] if line[0] not in "*."] == [
        "V1 2 0 DC 0 AC 1",
        "R1 2 0 1",
        "R2 1 0 1",
    ]
    assert "* node 0: 0" in said
    assert "* node 1: out" in said


def test_hostile_names_stay_in_comments():
    net = Netlist()
    net.source("in\n.include secrets", "out", "0")
    net.resistor("x" * 300, "out", "0", 1.0)
    said = lines(net)
    assert "* V1: in?.include?secrets" in said
    assert max(map(len, said)) == 100
    (wrapped,) = (line for line in said if "xx" in line)
    assert wrapped == "*   " + "x" * 96


def zero_ohms(*names):
    """The comment that tells of resistors of 0 ohm, line by line."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("load", "in", "out", 1.0)
    net.resistor("R", "out", "0", 1.0)
    for number, name in enumerate(names):
        net.resistor(name, "out", f"n{number}", 0.0)
    said = lines(net)
    first = next(at for at, line in enumerate(said) if line.startswith("* 0 ohm"))
    rest = itertools.takewhile(lambda line: line.startswith("*  "), said[first + 1 :])
    return [said[first], *rest]


def test_comments_are_wrapped():
    names = [f"lug{number:03}" for number in range(40)]
    said = zero_ohms(*names)
    head = "* 0 ohm, so its nodes are one:"
    assert said[0].startswith(f"{head} lug000 lug001")
    assert all(line.startswith("*   lug") for line in said[1:])
    assert " ".join(said).removeprefix(head).replace("*", "").split() == names
    assert max(map(len, said)) <= 96
    assert all(len(line) + 7 > 96 for line in said[:-1])  # no word more would have fitted
    assert zero_ohms("a" * 65) == [f"{head} " + "a" * 65]  # 96 characters fit
    assert zero_ohms("a" * 66) == [head, "*   " + "a" * 66]


def test_what_spice_cannot_state():
    net = Netlist()
    net.source("in", "in", "0")
    net.capacitor("C", "in", "out", 1e-9, loss=0.01)
    net.resistor("R", "out", "0", 1.0)
    with pytest.raises(NotExpressible, match=r"^C: loses the same share .*which SPICE cannot"):
        lines(net)


# -- reading ---------------------------------------------------------------------------------------


def raw(flags="complex", names=("frequency", "v(1)", "v(2)"), rows=2):
    """A raw file as documented in the ngspice manual: a header in text, then doubles."""
    table = np.arange(rows * len(names)) * (1 + 2j)
    head = [
        "Title: t",
        "Date: Mon Jan  1 00:00:00  2001",
        f"Flags: {flags}",
        f"No. Variables: {len(names)}",
        f"No. Points: {rows}",
        "Variables:",
        *(f"\t{number}\t{name}\tvoltage" for number, name in enumerate(names)),
        "Binary:",
    ]
    return ("\n".join(head) + "\n").encode() + table.tobytes() + b"Title: another plot"


@pytest.fixture
def program(monkeypatch):
    """Stand in for ngspice: `answer` writes the raw file, or fails."""
    calls = {}

    def run(command, *, cwd, **options):
        calls.update(command=command, options=options)
        calls["text"] = Path(cwd, command[-1]).read_text(encoding="utf-8")
        if calls.get("raised"):
            raise calls["raised"]
        if "content" in calls:
            Path(cwd, command[-2]).write_bytes(calls["content"])
        return subprocess.CompletedProcess(
            command, calls.get("code", 0), calls.get("out", ""), calls.get("err", "")
        )

    monkeypatch.setattr(spice.shutil, "which", lambda name: f"/bin/{name}")
    monkeypatch.setattr(spice.subprocess, "run", run)
    return calls


def test_a_run(program):
    program["content"] = raw()
    frequency, volts = run_ngspice("* µ\n.end\n")
    assert frequency.tolist() == [0, 3]
    assert volts.tolist() == [1 + 2j, 4 + 8j]
    assert program["text"] == "* µ\n.end\n"
    assert program["command"][:4] == ["/bin/ngspice", "-n", "-b", "-r"]
    assert program["options"]["timeout"] == 60
    assert program["options"]["stdin"] == subprocess.DEVNULL
    assert program["options"]["errors"] == "replace"
    frequency[0] = 1  # their own memory
    assert run_ngspice(".end", node=2, timeout=5)[1].tolist() == [2 + 4j, 5 + 10j]
    assert program["options"]["timeout"] == 5


@pytest.mark.parametrize(
    "content",
    [raw(flags="real"), raw(names=("frequency", "v(1)")), raw().replace(b"Binary", b"B"), b""],
)
def test_raw_files_without_the_vector(program, content):
    program["content"] = content
    with pytest.raises(NoSolution, match=r"^ngspice: wrote no AC analysis with v\(2\); give text"):
        run_ngspice(".end", node=2)


def test_runs_that_fail(program, monkeypatch):
    program.update(out="Circuit: x\n  Error: no such node  \nError: more", code=1, content=raw())
    with pytest.raises(NoSolution, match=r"^ngspice: failed \(Error: no such node\); run the text"):
        run_ngspice(".end")
    program.update(out="", err=f"fatal ERROR {'x' * 300}")
    with pytest.raises(NoSolution, match=rf"failed \(fatal ERROR {'x' * 188}\)"):
        run_ngspice(".end")
    del program["content"]
    program.update(err="nothing of note", code=0)
    with pytest.raises(NoSolution, match=r"^ngspice: failed \(no result was written\)"):
        run_ngspice(".end")
    program["raised"] = subprocess.TimeoutExpired("ngspice", 5)
    with pytest.raises(NoSolution, match=r"^ngspice: took over 5 s; give it more time"):
        run_ngspice(".end", timeout=5)
    monkeypatch.setattr(spice.shutil, "which", lambda name: None)
    with pytest.raises(NotInstalled, match=r"^ngspice: is not on the path; install it"):
        run_ngspice(".end")


# -- a circuit for lcapy --------------------------------------------------------------------------


@pytest.fixture
def circuit(monkeypatch):
    """What lcapy would be given, line by line."""
    monkeypatch.setitem(sys.modules, "lcapy", SimpleNamespace(Circuit=lambda text: text))
    return lambda net, output="out": spice.lcapy_circuit(net, output).splitlines()


def test_cards_for_lcapy(net, circuit):
    """As for SPICE, but for sources in s and values as fractions that are exact."""
    assert circuit(net) == [
        "V1 2 0 s 1",
        "V2 3 0 s {1/4}",
        "R1 2 4 {1000}",
        "C1 4 0 {1/1000000000}",
        "E1 5 3 4 0 1",
        "L1 5 6 {2}",
        "L2 6 1 {8}",
        "R2 1 0 {1000000}",
        "K1 L1 L2 {-1/4}",
    ]


def test_fractions_for_formulas(circuit):
    """A decimal as written, exactly: 0.1 is a tenth and not the double next to it."""
    net = Netlist()
    net.source("in", "in", "0")
    net.resistor("R", "in", "out", 0.1)
    net.capacitor("C", "out", "0", 2.5e-9)
    net.resistor("load", "out", "0", 3)
    assert circuit(net)[1:] == ["R1 2 1 {1/10}", "C1 1 0 {1/400000000}", "R2 1 0 {3}"]


def test_a_silent_circuit_for_lcapy(circuit):
    net = Netlist()
    net.resistor("load", "out", "0", 1.0)
    assert circuit(net) == ["V1 2 0 s 1", "R1 2 0 1", "R2 1 0 1"]


def test_without_lcapy(net, monkeypatch):
    monkeypatch.setitem(sys.modules, "lcapy", None)
    with pytest.raises(NotInstalled, match=r"^lcapy: is not installed; install it with: pip"):
        spice.lcapy_circuit(net, "out")
    net.capacitor("lossy", "out", "0", 1e-9, loss=0.1)
    with pytest.raises(NotExpressible, match=r"^lossy: .*which lcapy cannot"):
        spice.lcapy_circuit(net, "out")
