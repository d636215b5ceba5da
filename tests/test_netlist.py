"""The netlist by itself: what each branch may hold, how names are made, what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
import xarray as xr

from guitarnet.circuit.netlist import Branch
from guitarnet.errors import BadHarness, BadValue
from guitarnet.formulas import Netlist


@pytest.fixture
def net():
    return Netlist()


@pytest.mark.parametrize("method", ["resistor", "inductor", "capacitor"])
def test_values_of_passive_branches(net, method):
    """Numbers, text, numpy's numbers; zero, never less; infinite for a resistor alone."""
    add, unit = getattr(net, method), {"r": "ohm", "i": "H", "c": "F"}[method[0]]
    add("float", "a", "b", 2.5)
    add("text", "a", "b", f"2.5 {unit}")
    add("integer", "a", "b", 2)
    add("numpy", "a", "b", np.float64(2.5))
    add("nothing", "a", "b", 0)
    add("swept", "a", "b", xr.Variable("x", [0.0, 2.5]))
    held = {branch.name: branch.value for branch in net}
    assert held["float"] == held["text"] == held["numpy"] == 2.5
    assert held["integer"] == 2
    assert held["nothing"] == 0
    infinite = [math.inf, np.float64(np.inf), xr.Variable("x", [1.0, np.inf])]
    for number, value in enumerate(
        [-1e-15, -1, f"-1 {unit}", math.nan, xr.Variable("x", [1.0, -1e-15])]
    ):
        with pytest.raises(BadValue, match=f"^bad {number}: "):
            add(f"bad {number}", "a", "b", value)
    with pytest.raises(BadValue, match=r"^bad: "):
        add("bad", "a", "b", xr.Variable("x", [1.0, np.nan]))
    for number, value in enumerate([*infinite, -math.inf, xr.Variable("x", [-np.inf])]):
        if method == "resistor" and number < 3:
            add(f"open {number}", "a", "b", value)
        else:
            with pytest.raises(BadValue, match=f"^open {number}: "):
                add(f"open {number}", "a", "b", value)


def test_kinds_and_nodes(net):
    net.resistor("R", "a", "b", 1)
    net.inductor("L", "b", "c", 1)
    net.inductor("L2", "c", "d", 4)
    net.capacitor("C", "c", "0", 1, loss=0.5)
    net.source("V", "a", "0")
    net.source("V2", "e", "0", 3.0)
    net.follower("E", "out", "back", "plus", "minus")
    net.impedance("Z", "out", "back", np.abs)
    net.mutual("M", "L", "L2", 1.5)
    assert [(b.name, b.kind, b.nodes, b.loss) for b in net] == [
        ("R", "R", ("a", "b"), 0),
        ("L", "L", ("b", "c"), 0),
        ("L2", "L", ("c", "d"), 0),
        ("C", "C", ("c", "0"), 0.5),
        ("V", "V", ("a", "0"), 0),
        ("V2", "V", ("e", "0"), 0),
        ("E", "E", ("out", "back", "plus", "minus"), 0),
        ("Z", "Z", ("out", "back"), 0),
        ("M", "M", ("b", "c", "c", "d"), 0),
    ]
    assert len(net) == 9
    assert net.branches["V"].value == 1.0
    assert net.branches["V2"].value == 3.0
    assert net.branches["M"].between == ("L", "L2")
    assert net.branches["M"].value == 1.5
    assert net.branches["R"].between == ()
    assert net.sources() == ["V", "V2"]
    assert net.nodes() == ["a", "b", "c", "d", "0", "e", "out", "back", "plus", "minus"]
    assert net.ground == "0"


def test_nodes_are_names(net):
    """A number as a node is its name in text."""
    net.add(Branch("R", "R", (1, 0), 5.0))
    assert net.branches["R"].nodes == ("1", "0")
    net.check_node("1")


def test_nodes_that_are_there(net):
    net.resistor("R", "a", "b", 1)
    net.bare.add("lonely")
    for node in ("a", "b", "lonely", "0"):
        net.check_node(node)
    with pytest.raises(
        BadHarness, match=r"^node 'c': is not in the netlist; name one of its nodes"
    ):
        net.check_node("c")


def test_couplings_up_to_the_geometric_mean(net):
    """k of 1 is the limit, for either sign; above it the coils would give energy away."""
    net.inductor("one", "a", "0", 2.0)
    net.inductor("other", "b", "0", 8.0)
    for name, henries in (("M", 4.0), ("M", -4.0), ("M", "1 H"), ("M", 0)):
        net.mutual(name, "one", "other", henries)
        assert net.branches.pop(name).value == (1.0 if henries == "1 H" else henries)
    for henries in (4.0001, -4.0001, xr.Variable("k", [1.0, 4.0001])):
        with pytest.raises(BadValue, match=r"^M: couples more than the two inductances can"):
            net.mutual("M", "one", "other", henries)
    net.mutual("M", "one", "other", 4 * (1 + 1e-13))  # rounding is no gain of energy
    for again in (("one", "other"), ("other", "one")):
        with pytest.raises((BadValue, BadHarness), match="coupled already"):
            net.mutual("N", *again, 1.0)


def test_a_coupling_of_rounding_is_none(net):
    net.inductor("one", "a", "0", 1.0)
    net.inductor("other", "b", "0", 1.0)
    net.mutual("M", "one", "other", 1 + 4e-13)
    del net.branches["M"]
    with pytest.raises(BadValue):
        net.mutual("M", "one", "other", 1 + 6e-13)


def test_swept_couplings_are_checked_value_by_value(net):
    net.inductor("one", "a", "0", xr.Variable("x", [1.0, 4.0]))
    net.inductor("other", "b", "0", 1.0)
    net.mutual("M", "one", "other", xr.Variable("x", [1.0, 2.0]))
    del net.branches["M"]
    with pytest.raises(BadValue):
        net.mutual("M", "one", "other", xr.Variable("x", [2.0, 1.0]))


def test_dimensions_of_values_and_losses(net):
    net.resistor("R", "a", "0", xr.Variable(("x", "y"), np.ones((2, 3))))
    net.capacitor("C", "a", "0", 1e-9, loss=xr.Variable("z", [0.0, 0.1, 0.2, 0.3]))
    assert net.dims() == {"x": 2, "y": 3, "z": 4}
    net.resistor("R2", "a", "0", xr.Variable("y", [1.0, 2.0]))
    with pytest.raises(BadHarness) as refusal:
        net.dims()
    assert str(refusal.value) == (
        "dimension 'y': has both 3 and 2 values; give every sweep along it the same number of "
        "values."
    )


def test_a_part_writes_in_its_own_names(net):
    """Lugs are the nodes they are joined to, anything else is inside; names carry the part's."""
    inner = net.inner("pickup", hot="h", ground="0")
    inner.inductor("L", "hot", "inside", 2.0)
    inner.inductor("L2", "inside", "ground", 2.0)
    inner.resistor("R", "hot", "ground", 1.0)
    inner.capacitor("C", "hot", "ground", 1.0, loss=0.25)
    inner.capacitor("C2", "hot", "ground", 1.0)
    inner.source("V", "hot", "ground")
    inner.source("V2", "inside", "ground", 0.5)
    inner.mutual("M", "L", "L2", 1.0)
    inner.follower("E", "hot", "ground", "inside", "other")
    coil = inner.inner("coil", start="inside", finish="hot")
    coil.resistor("R", "start", "middle", 3.0)
    coil.resistor("R2", "middle", "finish", 4.0)
    assert {b.name: b.nodes for b in net} == {
        "pickup.L": ("h", "pickup:inside"),
        "pickup.L2": ("pickup:inside", "0"),
        "pickup.R": ("h", "0"),
        "pickup.C": ("h", "0"),
        "pickup.C2": ("h", "0"),
        "pickup.V": ("h", "0"),
        "pickup.V2": ("pickup:inside", "0"),
        "pickup.M": ("h", "pickup:inside", "pickup:inside", "0"),
        "pickup.E": ("h", "0", "pickup:inside", "pickup:other"),
        "pickup.coil.R": ("pickup:inside", "pickup.coil:middle"),
        "pickup.coil.R2": ("pickup.coil:middle", "h"),
    }
    assert net.branches["pickup.C"].loss == 0.25
    assert net.branches["pickup.C2"].loss == 0
    assert net.branches["pickup.V"].value == 1
    assert net.branches["pickup.V2"].value == 0.5
    assert net.branches["pickup.M"].between == ("pickup.L", "pickup.L2")


def test_lazy_couplings_are_not_computed(net):
    """A chunked value is looked at when its turn comes, not when it is written down."""
    dask = pytest.importorskip("dask.array")

    def never(block):
        raise AssertionError("computed")

    lazy = xr.Variable("x", dask.map_blocks(never, dask.ones(2, chunks=1), dtype=float))
    net.inductor("one", "a", "0", 1.0)
    net.inductor("other", "b", "0", 1.0)
    net.inductor("swept", "c", "0", lazy)
    net.mutual("M", "one", "other", lazy)
    net.mutual("N", "one", "swept", 0.5)
    net.mutual("O", "other", "swept", lazy)
    assert net.branches["M"].value is lazy


@pytest.mark.parametrize(
    ("pairs", "message"),
    [
        ([("L", "X", 0.5)], "M0: there is no inductor 'X'; add both coils first."),
        ([("R", "L", 0.5)], "M0: there is no inductor 'R'; add both coils first."),
        ([("L", "L", 0.5)], "M0: couples a coil with itself; name two coils."),
        (
            [("L", "L2", 0.5), ("L2", "L", 0.5)],
            "M1: couples two coils that are coupled already; couple them once.",
        ),
    ],
)
def test_couplings_that_are_refused(net, pairs, message):
    net.inductor("L", "a", "0", 1)
    net.inductor("L2", "b", "0", 1)
    net.resistor("R", "a", "b", 1)
    with pytest.raises(BadHarness) as refusal:
        for number, (one, other, henry) in enumerate(pairs):
            net.mutual(f"M{number}", one, other, henry)
    assert str(refusal.value) == message


def test_a_coupling_a_step_off_the_real_axis_is_held_to_its_real_part(net):
    net.inductor("L", "a", "0", 1)
    net.inductor("L2", "b", "0", 1)
    with pytest.raises(BadValue, match="couples more than the two inductances can"):
        net.mutual("M", "L", "L2", 1.5 + 1e-20j)
    net.mutual("M", "L", "L2", 0.5 + 1e-20j)
    assert net.branches["M"].value == 0.5 + 1e-20j
