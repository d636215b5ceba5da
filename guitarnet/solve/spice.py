"""A netlist written out for other programs: SPICE text, and a circuit of lcapy.

Zeros and opens are structure here too, so a pot at its end is exact. Nodes and elements get
numbers of their own; what people wrote appears in comments alone.
"""

from __future__ import annotations

import math
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from ..circuit.netlist import Branch, Netlist
from ..errors import NoSolution, NotInstalled
from .structure import refuse_inexpressible, settle

__all__ = ["OUTPUT", "lcapy_circuit", "run_ngspice", "spice_text"]

OUTPUT = 1
"""Number of the output's node; ground is 0."""

_WIDTH = 96  # of a comment line


@dataclass(frozen=True)
class _Element:
    name: str
    nodes: tuple[int, ...]
    branch: Branch


@dataclass(frozen=True)
class _Numbered:
    """A reduced circuit under generated names, and what became of the rest."""

    elements: list[_Element]
    nodes: dict[int, list[str]]
    shorts: list[str]
    left_out: list[str]
    names: dict[str, str]


def spice_text(
    net: Netlist,
    output: str,
    low: float,
    high: float,
    per_decade: int,
    *,
    lugs: Mapping[str, Sequence[str]] | None = None,
) -> str:
    """Write a netlist as SPICE text with an AC analysis of the output.

    Parameters
    ----------
    net : Netlist
        The circuit, single numbers as values.
    output : str
        Node.
    low, high : float
        First and last frequency [Hz].
    per_decade : int
        Points for a factor of ten, spaced logarithmically; both ends alone where no step of
        that size fits in between.
    lugs : mapping of str to sequence of str, optional
        What each node joins, for the comments.

    Returns
    -------
    str
        Text for ``ngspice -b``. The output is node 1, ground is node 0, sources are 1 V.

    Raises
    ------
    NotExpressible
        If SPICE cannot state a branch in the way.
    NoSolution
        If an ideal source is shorted.

    Examples
    --------
    >>> net = Netlist()
    >>> net.source("in", "in", "0")
    >>> net.resistor("R", "in", "out", "10k")
    >>> net.capacitor("C", "out", "0", "795p")
    >>> print(spice_text(net, "out", 20, 20e3, 10))
    Passive circuit, volts at node 1 for 1 V at each source
    * node 0: 0
    * node 1: out
    * node 2: in
    * V1: in
    V1 2 0 DC 0 AC 1
    * R1: R
    R1 2 1 10000.0
    * C1: C
    C1 1 0 7.95e-10
    .options noopac
    .ac dec 10 20.0 20000.0
    .print ac vr(1) vi(1)
    .end
    <BLANKLINE>
    """
    numbered = _number(net, output, lugs or {}, "SPICE")
    lines = ["Passive circuit, volts at node 1 for 1 V at each source"]
    for number in sorted(numbered.nodes):
        lines += _comment(f"node {number}:", numbered.nodes[number])
    if numbered.shorts:
        lines += _comment("0 ohm, so its nodes are one:", numbered.shorts)
    if numbered.left_out:
        lines += _comment("open, or in no path to the output:", numbered.left_out)
    for element in numbered.elements:
        lines += _comment(f"{element.name}:", [element.branch.name])
        lines.append(_card(element, numbered, "DC 0 AC {}", lambda value: repr(float(value))))
    if not numbered.elements:
        lines.append("* nothing reaches node 1: it is silent")
        lines += _silent("DC 0 AC 1")
    lines += [
        # Linear, so no operating point is needed; it fails at nodes between two capacitors.
        ".options noopac",
        _analysis(float(low), float(high), int(per_decade)),
        ".print ac vr(1) vi(1)",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def lcapy_circuit(net: Netlist, output: str) -> Any:
    """Build a circuit of the lcapy library.

    Parameters
    ----------
    net : Netlist
        The circuit, single numbers as values.
    output : str
        Node.

    Returns
    -------
    lcapy.Circuit
        The output is node 1, ground is node 0, sources are 1 in the s domain: ``circuit[1].V(s)``
        is the transfer function.

    Raises
    ------
    NotInstalled
        If lcapy is not installed.
    NotExpressible
        If lcapy cannot state a branch in the way.
    NoSolution
        If an ideal source is shorted.
    """
    numbered = _number(net, output, {}, "lcapy")
    try:
        import lcapy
    except ImportError as error:
        raise NotInstalled(
            "lcapy", "is not installed", "install it with: pip install 'guitarnet[lcapy]'"
        ) from error
    cards = [_card(element, numbered, "s {}", _as_fraction) for element in numbered.elements]
    # lcapy reads values as formulas: every name and number above is generated.
    return lcapy.Circuit("\n".join(cards or _silent("s 1")) + "\n")


def run_ngspice(
    text: str, *, node: int = OUTPUT, timeout: float = 60.0
) -> tuple[np.ndarray, np.ndarray]:
    """Run SPICE text with an AC analysis through ngspice, in full double precision.

    Parameters
    ----------
    text : str
        The text, as `spice_text` writes it. ngspice obeys commands in it: run only text that
        you trust.
    node : int
        Number of the node to read.
    timeout : float
        Seconds after which the run is given up.

    Returns
    -------
    frequency : numpy.ndarray
        Frequencies [Hz].
    volts : numpy.ndarray
        Complex volts of the node.

    Raises
    ------
    NotInstalled
        If ngspice is not on the path.
    NoSolution
        If ngspice fails or takes too long.
    """
    program = shutil.which("ngspice")
    if program is None:
        raise NotInstalled(
            "ngspice", "is not on the path", "install it (Debian: apt install ngspice)"
        )
    with tempfile.TemporaryDirectory() as folder:
        deck, raw = Path(folder, "circuit.cir"), Path(folder, "circuit.raw")
        deck.write_text(text, encoding="utf-8")
        # -n: a start-up file of the user's must not change the answer.
        command = [program, "-n", "-b", "-r", raw.name, deck.name]
        try:
            done = subprocess.run(
                command,
                cwd=folder,
                stdin=subprocess.DEVNULL,
                capture_output=True,
                text=True,
                errors="replace",
                timeout=timeout,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise NoSolution(
                "ngspice", f"took over {timeout:g} s", "give it more time or fewer points"
            ) from None
        if done.returncode or not raw.exists():
            raise _failed(done.stdout + done.stderr)
        return _read_raw(raw.read_bytes(), f"v({int(node)})")


def _number(net: Netlist, output: str, lugs: Mapping[str, Sequence[str]], form: str) -> _Numbered:
    reduced, merged = settle(net, output)
    for branch, _ in reduced.branches:
        refuse_inexpressible(branch, form)
    branches = [] if reduced.silent else reduced.branches
    numbers = {reduced.output: OUTPUT, reduced.ground: 0}
    for _, nodes in branches:
        for node in nodes:
            numbers.setdefault(node, len(numbers))
    counts: dict[str, int] = {}
    names: dict[str, str] = {}
    elements = []
    for branch, nodes in branches:
        letter = "K" if branch.kind == "M" else branch.kind
        counts[letter] = counts.get(letter, 0) + 1
        names[branch.name] = name = f"{letter}{counts[letter]}"
        elements.append(_Element(name, tuple(numbers[node] for node in nodes), branch))
    elements.sort(key=lambda element: element.branch.kind == "M")  # after the coils they name
    joined: dict[int, list[str]] = {number: [] for number in {OUTPUT, *numbers.values()}}
    for node, known_as in merged.items():
        if known_as in numbers:
            joined[numbers[known_as]] += lugs.get(node, [node])
    there = {branch.name for branch, _ in branches}
    shorts = [b.name for b in net if b.kind in "RL" and b.value == 0]
    left_out = [b.name for b in net if b.name not in there and b.name not in shorts]
    return _Numbered(elements, joined, shorts, left_out, names)


def _card(element: _Element, circuit: _Numbered, source: str, write: Callable[[float], str]) -> str:
    branch = element.branch
    if branch.kind == "M":
        henries = {e.branch.name: e.branch.value for e in circuit.elements}
        one, other = branch.between
        coupling = branch.value / (henries[one] * henries[other]) ** 0.5
        return f"{element.name} {circuit.names[one]} {circuit.names[other]} {write(coupling)}"
    if branch.kind == "V":
        whole = float(branch.value).is_integer()
        value = source.format(int(branch.value) if whole else write(branch.value))
    else:
        value = "1" if branch.kind == "E" else write(branch.value)
    return " ".join([element.name, *map(str, element.nodes), value])


def _analysis(low: float, high: float, per_decade: int) -> str:
    if high == low:
        return f".ac lin 1 {low!r} {high!r}"
    # ngspice never ends where no whole step fits in between.
    steps = max(per_decade, math.ceil((1 + 1e-6) / math.log10(high / low)))
    return f".ac dec {steps} {low!r} {high!r}"


def _silent(source: str) -> list[str]:
    """Cards of a circuit whose node 1 stays at 0."""
    return [f"V1 2 0 {source}", "R1 2 0 1", "R2 1 0 1"]


def _as_fraction(value: float) -> str:
    return f"{{{Fraction(Decimal(repr(float(value))))}}}"


def _comment(head: str, names: Iterable[str]) -> list[str]:
    """Write comment lines; whatever is not a plain character becomes a question mark."""
    lines = [f"* {head}"]
    for name in names:
        word = " " + re.sub(r"[^A-Za-z0-9_.:]", "?", name)[:_WIDTH]
        if len(lines[-1]) + len(word) > _WIDTH:
            lines.append("*  ")
        lines[-1] += word
    return lines


def _failed(text: str) -> NoSolution:
    lines = [line.strip() for line in text.splitlines() if "error" in line.lower()]
    reason = lines[0][:200] if lines else "no result was written"
    return NoSolution("ngspice", f"failed ({reason})", "run the text by hand to see all it says")


def _read_raw(content: bytes, wanted: str) -> tuple[np.ndarray, np.ndarray]:
    """Read one vector of the first plot in a binary raw file."""
    header, found, body = content.partition(b"Binary:\n")
    lines = header.decode("ascii", errors="replace").splitlines()
    fields = dict(line.split(":", 1) for line in lines if ":" in line)
    columns = int(fields.get("No. Variables", "0"))
    rows = int(fields.get("No. Points", "0"))
    names = [line.split()[1] for line in lines if line.startswith("\t")]
    if not found or "complex" not in fields.get("Flags", "") or wanted not in names:
        raise NoSolution(
            "ngspice", f"wrote no AC analysis with {wanted}", "give text that `spice_text` wrote"
        )
    table = np.frombuffer(body, dtype=complex, count=rows * columns).reshape(rows, columns)
    return table[:, 0].real.copy(), table[:, names.index(wanted)].copy()
