"""The house itself: which way imports point, what is public, what docstrings and errors say."""

from __future__ import annotations

import ast
import doctest
import functools
import importlib
import inspect
import linecache
import pkgutil
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import guitarnet
from guitarnet import errors
from net.names import face

ROOT = Path(guitarnet.__file__).parent
FILES = sorted(ROOT.rglob("*.py"))
STAGES = ("parts", "circuit", "solve", "study", "show", "command")
ROOMS = [n for n in guitarnet.__all__ if inspect.ismodule(getattr(guitarnet, n))]
NOT_FOR_READERS = ("all", "docs", "test")
LEAVES = (
    *("errors", "gate", "units", "preferred", "ranking", "files", "frozen", "groups", "identity"),
    "table",
)
MODULES = [module.name for module in pkgutil.walk_packages(guitarnet.__path__, "guitarnet.")]
HEAVY = ("matplotlib", "scipy", "sympy", "mpmath", "lcapy", "dask", "IPython", "ipywidgets")

INNER = {
    # Public to other modules of the package, not to the reader of a guitar.
    "guitarnet.circuit.bench_lists": None,
    "guitarnet.circuit.edits": None,
    "guitarnet.circuit.harness": {"CAUTIONS", "kept", "merged"},
    "guitarnet.circuit.layouts": None,  # gn.layouts.one_pickup and its kin
    "guitarnet.circuit.layouts.basses": None,
    "guitarnet.circuit.layouts.bench": None,
    "guitarnet.circuit.layouts.humbuckers": None,
    "guitarnet.circuit.layouts.push_pulls": None,
    "guitarnet.circuit.layouts.single_coils": None,
    "guitarnet.circuit.layouts.single_pickup": None,
    "guitarnet.circuit.layouts.tone_networks": None,
    "guitarnet.circuit.saved": {"harness_from_text", "harness_text"},
    "guitarnet.circuit.roles": None,
    "guitarnet.circuit.settings": None,
    "guitarnet.circuit.usual": None,
    "guitarnet.circuit.wired": None,
    "guitarnet.command.line": None,
    "guitarnet.command.options": None,
    "guitarnet.command.records": None,
    "guitarnet.command.start": None,
    "guitarnet.command.verbs": None,
    "guitarnet.command.words": None,
    "guitarnet.files": None,
    "guitarnet.layouts": None,
    "guitarnet.frozen": None,
    "guitarnet.groups": None,
    "guitarnet.identity": None,
    "guitarnet.gate": None,
    "guitarnet.parts.base": None,
    "guitarnet.parts.copper": None,
    "guitarnet.parts.measured": {"MeasuredValue", "how", "measured_value"},
    "guitarnet.parts.pot": {"END"},
    "guitarnet.parts.turns": None,
    "guitarnet.parts.usual": None,
    "guitarnet.parts.winding": {"read_wire", "wire_label"},
    "guitarnet.study.fit.curves": {"UNNAMED", "curve_of", "measured_values"},
    "guitarnet.study.bench.usual": {"ranges"},
    "guitarnet.study.spread.noise": {"SIGNAL"},
    "guitarnet.parts.two_lug": {"is_network"},
    "guitarnet.show.page.bleed_report": None,
    "guitarnet.show.markup": None,
    "guitarnet.show.figures.families": None,
    "guitarnet.show.page.hearing": None,
    "guitarnet.show.card.content": None,
    "guitarnet.show.page.from_array": None,
    "guitarnet.show.page.from_guitars": None,
    "guitarnet.show.page.html_view": None,
    "guitarnet.show.page.plain_page": None,
    "guitarnet.show.page.still": None,
    "guitarnet.show.page.words": None,
    "guitarnet.show.figures.picture": None,
    "guitarnet.show.schematic.draw": None,
    "guitarnet.show.bench.cells": None,
    "guitarnet.show.bench.draw": None,
    "guitarnet.show.bench.ends": None,
    "guitarnet.show.bench.follow": None,
    "guitarnet.show.bench.form": None,
    "guitarnet.show.bench.forms": None,
    "guitarnet.show.bench.ink": None,
    "guitarnet.show.bench.letters": None,
    "guitarnet.show.bench.live": None,
    "guitarnet.show.bench.place": None,
    "guitarnet.show.bench.route": None,
    "guitarnet.show.bench.small": None,
    "guitarnet.show.bench.wiring": None,
    "guitarnet.show.schematic.blocks": None,
    "guitarnet.show.schematic.generic": None,
    "guitarnet.show.schematic.recipes": None,
    "guitarnet.show.schematic.sheet": None,
    "guitarnet.show.schematic.slots": None,
    "guitarnet.show.schematic.stages": None,
    "guitarnet.show.schematic.switched": None,
    "guitarnet.show.figures.style": None,
    "guitarnet.solve.ac": {"node_size"},
    "guitarnet.solve.adjoint": None,
    "guitarnet.solve.one_ports": None,
    "guitarnet.solve.elimination": None,
    "guitarnet.solve.polynomial": None,
    "guitarnet.solve.resistance": None,
    "guitarnet.solve.spice": None,
    "guitarnet.solve.structure": None,
    "guitarnet.solve.tree": None,
    "guitarnet.solve.symbolic": None,
    "guitarnet.study.choose.bleed_answer": None,
    "guitarnet.study.choose.wiring_answer": None,
    "guitarnet.study.choose.bleed_tables": None,
    "guitarnet.study.explain.cable": None,
    "guitarnet.study.explain.explain": {"BASS"},
    "guitarnet.study.explain.sentences": None,
    "guitarnet.show.page.paper": None,
    "guitarnet.show.page.report": None,
    "guitarnet.study.record.record": {"STATES", "at_20"},
    "guitarnet.study.record.store": None,
    "guitarnet.study.fit.coil_model": None,
    "guitarnet.study.fit.draws": {"COUNT", "Fitted", "drawn_numbers", "settings_of"},
    "guitarnet.study.fit.part": None,
    "guitarnet.study.catalogue.entries": {"of_kind"},
    "guitarnet.study.catalogue.kinds": {"priors_of"},
    "guitarnet.study.catalogue.listing": {"model_peak"},
    "guitarnet.parts.catalogue": {"catalogue_data", "catalogue_number"},
    "guitarnet.show.page.model": None,
    "guitarnet.show.page.controls": None,
    "guitarnet.study.bench.continuity": None,
    "guitarnet.study.choose.bleed_result": None,
    "guitarnet.study.choose.score": {
        "Score",
        "Scores",
        "read_band",
        "read_goal",
        "location_label",
    },
    "guitarnet.study.choose.goals": {"MEASURES", "read_goals"},
    "guitarnet.study.choose.match": {"LOADS", "Match", "Matches"},
    "guitarnet.study.choose.networks": None,
    "guitarnet.study.choose.port": None,
    "guitarnet.study.choose.result": None,
    "guitarnet.study.choose.wiring": {"other_wiring", "tones_across", "why_no_other"},
    "guitarnet.study.faults.diagnose": {"same_readings"},
    "guitarnet.study.bench.expected": {"resistance_tolerances", "widened"},
    "guitarnet.study.faults.kinds": {"MAKERS", "OFTEN"},
    "guitarnet.study.faults.faults": {"main_places", "stations"},
    "guitarnet.study.faults.likelihood": None,
    "guitarnet.study.bench.meter": {"coil_celsius", "coil_warmth"},
    "guitarnet.study.bench.ohmmeter": {"displayed"},
    "guitarnet.study.faults.next_step": {
        "Search",
        "Suspects",
        "given_so_far",
        "in_ten",
        "next_steps",
        "told",
    },
    "guitarnet.study.faults.observed": None,
    "guitarnet.study.bench.readings": {"read_knob"},
    "guitarnet.study.bench.truth_table": {"crossed_coils"},
    "guitarnet.study.string.sound_files": None,
    "guitarnet.study.faults.symptoms": {
        "KNOB_SYMPTOMS",
        "Comparisons",
        "KnownCircuits",
        "LevelComparison",
        "Site",
        "Station",
        "coil_paths",
        "everywhere",
        "read_place",
        "site_label",
        "read_symptoms",
    },
    "guitarnet.table": {"Tabled"},
    "guitarnet.study.spread.tolerance": {"nominal", "read_tolerances"},
    "guitarnet.parts.pickup": {"CATALOGUE", "eddy_ladder", "measured_as"},
    "guitarnet.study.fit.problem": None,
    "guitarnet.study.fit.result": {"moved", "result_of"},
    "guitarnet.study.response.arrays": None,
    "guitarnet.study.measuring.recording": None,
    "guitarnet.study.measuring.report": None,
    "guitarnet.study.measuring.stimulus": {"FRAME", "TONES", "stimulus_samples"},
    "guitarnet.study.fit.loads": {"CAPACITANCE", "RESISTANCE", "admittance_of", "check_load"},
    "guitarnet.study.spread.quantiles": {"between", "read_levels"},
    "guitarnet.study.response.labels": None,
    "guitarnet.study.response.looking_in": None,
    "guitarnet.study.response.question": None,
    "guitarnet.study.response.run": None,
    "guitarnet.study.response.resonance": None,
    "guitarnet.study.fit.measured": {"OHM", "PEAK", "TEST", "inductance_fit", "peak_fit"},
    "guitarnet.study.response.response": {"check_drive", "node_at", "pickups_of", "read_reference"},
    "guitarnet.study.response.sweep": {
        "BAND",
        "TREBLE",
        "Guitars",
        "assumed_by",
        "check_guitar",
        "cuts",
        "in_common",
        "labelled",
        "machine_memory",
        "order_of_dims",
        "read_builds",
        "read_frequency",
        "sweep",
    },
    "guitarnet.study.formulas.symbols": {"one_setting"},
    "guitarnet.ranking": None,
    "guitarnet.units": {
        "Quantity",
        "UNITS",
        "as_preferred",
        "as_typed",
        "bare_number",
        "fixed",
        "plain_words",
        "prefers_feet",
        "read_celsius",
        "read_count",
        "read_seed",
        "sentence",
        "si_text",
        "unbroken",
        "write_celsius",
    },
}
"""Names of ``__all__`` that are not flat, by module; None is all of them."""


@functools.cache
def tree_of(file):
    return ast.parse(file.read_text(encoding="utf-8"), str(file))


@functools.cache
def nodes_of(file):
    """Calls and handlers, which rules look at."""
    seen = (ast.Call, ast.ExceptHandler)
    return [node for node in ast.walk(tree_of(file)) if isinstance(node, seen)]


@functools.cache
def name_of(file):
    """Dotted name of a module's file."""
    parts = ["guitarnet", *file.relative_to(ROOT).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


# -- layers ---------------------------------------------------------------------------------------


def only_for_types(node):
    return isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING")


def imports_of(node, types=False):
    """Every import in a tree but those for type checkers, unless asked for."""
    left = [node]
    while left:
        node = left.pop()
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            yield node
        elif isinstance(node, ast.mod | ast.stmt | ast.excepthandler | ast.match_case):
            skipped = only_for_types(node) and not types
            left += () if skipped else ast.iter_child_nodes(node)


@functools.cache
def reached(file, types=False):
    """Dotted names of the package's modules that a file imports."""
    return tuple(_reached(file, types))


def _reached(file, types):
    package = name_of(file).split(".")
    if file.name != "__init__.py":
        package = package[:-1]
    for node in imports_of(tree_of(file), types):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        else:
            base = package[: len(package) - node.level + 1] if node.level else []
            path = ".".join([*base, *(node.module or "").split(".")]).strip(".")
            # ``from . import name`` and ``from .stage import module`` may name modules.
            yield from (f"{path}.{alias.name}" for alias in node.names)


def place(dotted):
    """The stage, leaf or "" (the package itself) that a dotted name lies in."""
    parts = dotted.split(".")
    return parts[1] if len(parts) > 1 and parts[1] in (*STAGES, *LEAVES) else ""


def allowed(here, there):
    if here == "" or here == there:
        return True
    if there in LEAVES:
        return here in STAGES or here in LEAVES
    return here in STAGES and there in STAGES and STAGES.index(there) < STAGES.index(here)


def test_imports_point_to_the_left():
    """parts, circuit, solve, study, show, command; leaves for everyone; nothing else."""
    arrows = {(name_of(file), name) for file in FILES for name in reached(file)}
    ours = {(here, there) for here, there in arrows if there.split(".")[0] == "guitarnet"}
    assert len(ours) > len(FILES)
    wrong = sorted(a for a in ours if not allowed(place(a[0]), place(a[1])))
    assert not wrong, "\n".join(map(str, wrong))


def test_the_rule_itself():
    """A test that cannot fail is none."""
    assert allowed("circuit", "parts")
    assert allowed("show", "units")
    assert not allowed("parts", "circuit")
    assert not allowed("solve", "study")
    assert not allowed("units", "parts")
    assert not allowed("parts", "")
    assert "guitarnet.parts.base.Part" in set(reached(ROOT / "circuit" / "harness.py"))
    assert "guitarnet.circuit.harness.Harness" not in set(reached(ROOT / "circuit" / "settings.py"))


def circles(arrows):
    """Names that lie on a circle of arrows, each with what it reaches and is reached by."""
    on = {}
    for here, there in arrows:
        on.setdefault(here, set()).add(there)
    while True:  # what leads nowhere lies on no circle
        ends = [here for here in on if not on[here] & set(on)]
        if not ends:
            return sorted(on)
        for here in ends:
            del on[here]


def arrows_between(modules):
    """Imports between modules of the package, those for type checkers counted."""
    for file in FILES:
        for name in reached(file, types=True):
            there = name if name in modules else name.rpartition(".")[0]
            if there in modules and there != name_of(file):
                yield name_of(file), there


def room(module):
    """The room of a module: the folder in which it lies inside its stage."""
    return ".".join(module.split(".")[1:3]) if module.count(".") > 2 else ""


def test_no_import_comes_back():
    """Neither from module to module, nor from room to room; for types neither."""
    arrows = set(arrows_between({name_of(file) for file in FILES}))
    assert len(arrows) > 400
    assert circles(arrows) == []
    rooms = {(room(here), room(there)) for here, there in arrows}
    assert len(rooms) > 15
    assert circles({(here, there) for here, there in rooms if "" != here != there != ""}) == []
    assert circles({("a", "b"), ("b", "c"), ("c", "b"), ("d", "a")}) == ["a", "b", "c", "d"]


def test_no_underscored_name_is_imported():
    """What another module needs has a name without one."""
    taken = [
        f"{name_of(file)}: {name}"
        for file in FILES
        for name in reached(file, types=True)
        if re.fullmatch(r"_[^_]\w*", name.rpartition(".")[2]) and name.startswith("guitarnet")
    ]
    assert taken == []


def test_every_folder_is_a_stage():
    folders = {file.relative_to(ROOT).parts[0] for file in FILES if file.parent != ROOT}
    assert folders == set(STAGES)


# -- the public namespace -------------------------------------------------------------------------


def test_everything_public_is_flat_or_in_one_room():
    """``guitarnet`` and its rooms hold what modules call public, but for what is inner."""
    expected = set()
    for name in MODULES:
        public = set(getattr(importlib.import_module(name), "__all__", ()))
        inner = INNER.get(name, set())
        assert inner is None or inner <= public, f"{name}: {inner} is not in __all__"
        expected |= set() if inner is None else public - inner
    names = [path.rpartition(".")[2] for path in face() if not path.startswith("layouts.")]
    assert sorted(names) == sorted(expected)
    assert len(set(guitarnet.__all__) - set(ROOMS)) <= 70


def test_what_is_said_to_be_public_is_there_once():
    wrong = []
    for name in ("guitarnet", *MODULES):
        module = importlib.import_module(name)
        names = getattr(module, "__all__", [])
        wrong += [f"{name}.{public} twice" for public in {n for n in names if names.count(n) > 1}]
        wrong += [f"{name}.{public} missing" for public in names if not hasattr(module, public)]
    assert not wrong, "\n".join(map(str, wrong))


def test_every_module_says_what_is_public():
    packages = {n for n in MODULES if hasattr(importlib.import_module(n), "__path__")}
    silent = [n for n in MODULES if not hasattr(importlib.import_module(n), "__all__")]
    assert set(silent) <= packages


def test_importing_and_asking_for_help_load_nothing_heavy():
    """In a fresh interpreter, a guitar made, so that both answer at once.

    (Once it computes, xarray itself loads dask.)
    """
    code = (
        "import sys, guitarnet as gn\n"
        "def loaded():\n"
        "    names = sorted({name.partition('.')[0] for name in sys.modules})\n"
        "    print(*names, file=sys.stderr)\n"
        "gn.layouts.one_pickup(gn.Pickup('6.2k', '2.4 H', '120p'), treble_bleed='1n').joints()\n"
        "loaded()\n"
        "from guitarnet.command.line import main\n"
        "assert main(['check', '--help']) == 0\n"
        "loaded()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    made, helped = (set(line.split()) for line in done.stderr.splitlines())
    assert {"guitarnet", "numpy", "xarray"} <= made
    assert made & set(HEAVY) == set()
    assert helped & {*HEAVY, "shtab"} == set()


# -- docstrings -----------------------------------------------------------------------------------

PUBLIC = {
    path.rpartition(".")[2]: thing
    for path, thing in sorted(face().items())
    if callable(thing) and not path.startswith("layouts.") and thing.__module__ != errors.__name__
}
MADE_BY = {
    "CataloguePickup": "entry",
    "CatalogueTable": "table",
    "Nearest": "nearest_pickups",
    "NearestPickups": "nearest_pickups",
    "Branch": "Netlist",
    "Calibration": "read_calibration",
    "Diagnosis": "diagnose",
    "ExpectedReadings": "expected_readings",
    "Explanation": "diagnose",
    "Fault": "faults",
    "Faults": "faults",
    "Knobs": "knobs",
    "Listening": "listen",
    "LivePage": "live_page",
    "NextStep": "diagnose",
    "RecoveredValues": "values_from_readings",
    "SweepPlan": "plan_sweep",
    "Verification": "verify",
    "CheckedReading": "verify",
}
"""Classes that no one makes by hand, and what makes them: the example stands there."""

SECTION = re.compile(r"^(\w[\w ]+)\n-+\n", re.MULTILINE)


def sections(doc):
    """Text of each numpydoc section, by its title; the text before the first is ``""``."""
    pieces = SECTION.split(inspect.cleandoc(doc))
    return {"": pieces[0], **dict(zip(pieces[1::2], pieces[2::2], strict=True))}


def documented(section):
    """Names under Parameters, stars left off."""
    names = re.findall(r"^(\S[^:\n]*?)(?: :.*)?$", section, re.MULTILINE)
    return {name.strip().lstrip("*") for line in names for name in line.split(",")}


def signature(thing):
    return inspect.signature(thing).parameters


def of_a_docstring(name, thing):
    """What a public name's docstring lacks: its first sentence, parameters by name, an example."""
    doc = sections(thing.__doc__)
    if not doc[""].splitlines()[0].endswith("."):
        yield "the first line is no sentence"
    if signature(thing) and documented(doc.get("Parameters", "")) != set(signature(thing)):
        yield "Parameters are not those of the signature"
    if inspect.isfunction(thing):
        if not doc.get("Returns", "").strip():
            yield "no Returns"
        body = ast.parse(inspect.cleandoc("\n" + inspect.getsource(thing)))
        raises = any(isinstance(node, ast.Raise) and node.exc for node in ast.walk(body))
        if raises and not re.search(r"^(Bad|No|Too)\w+", doc.get("Raises", ""), re.MULTILINE):
            yield "no Raises"
    if name not in MADE_BY:
        example = doc.get("Examples", "")
        pointed = re.fullmatch(r"See `(?:[\w.]+\.)?(\w+)`\.", example.strip())
        if pointed:  # what undoes another is shown there
            example = sections(PUBLIC[pointed[1]].__doc__)["Examples"]
        if not re.search(rf"^(>>>|\.\.\.) .*\b{name}\b", example, re.MULTILINE):
            yield "no example that uses it"


def of_its_methods(thing):
    """What the docstrings of a class's public methods lack."""
    for label, method in vars(thing).items():
        if label.startswith("_") or not inspect.isroutine(method):
            continue
        doc = sections(method.__doc__ or "")
        if not method.__doc__:
            yield f"{label} has no docstring"
        elif "Parameters" in doc and documented(doc["Parameters"]) != set(signature(method)) - {
            "self"
        }:
            yield f"Parameters of {label} are not those of the signature"


def test_docstrings():
    """Summary, the parameters by name, what is returned and raised, a runnable example."""
    wrong = []
    for name, thing in PUBLIC.items():
        if not thing.__doc__:
            wrong.append(f"{name}: no docstring")
            continue
        wrong += [f"{name}: {said}" for said in of_a_docstring(name, thing)]
        if inspect.isclass(thing):
            wrong += [f"{name}: {said}" for said in of_its_methods(thing)]
    assert not wrong, "\n".join(map(str, wrong))


def test_the_rules_of_docstrings_themselves():
    """Each finds what it is for."""

    def told(a, *more):
        """No sentence

        Parameters
        ----------
        b : int
        """
        raise ValueError(a)

    class Made:
        def silent(self):
            pass

        def wrong(self, a):
            """Say.

            Parameters
            ----------
            b : int
            """

    assert list(of_a_docstring("told", told)) == [
        "the first line is no sentence",
        "Parameters are not those of the signature",
        "no Returns",
        "no Raises",
        "no example that uses it",
    ]
    assert list(of_its_methods(Made)) == [
        "silent has no docstring",
        "Parameters of wrong are not those of the signature",
    ]


@pytest.mark.parametrize(
    "stage",
    [
        pytest.param(stage, marks=[pytest.mark.long] * (stage in ("study", "show")))
        for stage in ("", *STAGES)
    ],
)
def test_examples_run(stage, monkeypatch):
    """Every example of every docstring, with what it prints; "" is what lies in no stage."""
    monkeypatch.setenv("MPLBACKEND", "Agg")
    finder = doctest.DocTestFinder(exclude_empty=True)
    runner = doctest.DocTestRunner(optionflags=doctest.REPORT_NDIFF)
    for name in ("guitarnet", *MODULES):
        part = name.split(".")[1:2]
        if (part if part[:1] and part[0] in STAGES else [""]) == [stage]:
            tests = finder.find(importlib.import_module(name), name)
            linecache.clearcache()  # each run would look at every file that was read so far
            for test in tests:
                runner.run(test)
            if (plots := sys.modules.get("matplotlib.pyplot")) is not None:
                plots.close("all")
    assert runner.failures == 0


# -- errors ---------------------------------------------------------------------------------------


def test_the_error_tree_is_drawn_as_it_is():
    """The drawing in the module's docstring: every class, under its base, with its second base."""
    drawn = re.findall(r"[├└]── (\w+) .*\(also (\w+)\)", errors.__doc__)
    assert re.search(r"── BadValue .*\n    │   └── Unusual  ", errors.__doc__)
    assert errors.Unusual.__bases__ == (errors.BadValue,)
    real = []
    for name in errors.__all__:
        kind = getattr(errors, name)
        if issubclass(kind, Warning):
            assert re.search(rf"^    {name} .*\(a UserWarning\)$", errors.__doc__, re.MULTILINE)
        elif kind not in (errors.GuitarnetError, errors.Unusual):
            first, second = kind.__bases__
            assert first is errors.GuitarnetError
            real.append((name, second.__name__))
    assert sorted(drawn) == sorted(real)
    assert re.search(r"^    GuitarnetError$", errors.__doc__, re.MULTILINE)


def test_an_error_is_one_sentence_and_keeps_its_pieces():
    error = errors.BadValue("Pot.resistance", "is odd", "make it even", 3)
    assert str(error) == "Pot.resistance: is odd; make it even."
    assert (error.where, error.problem, error.fix, error.value) == (
        "Pot.resistance", "is odd", "make it even", 3
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("tone", "did you mean 'tone_1'?"),
        ("zzz", "use one of bridge, tone_1"),
    ],
)
def test_the_nearest_name(name, expected):
    assert errors.nearest(name, ["tone_1", "bridge"]) == expected
    assert errors.nearest(name, []) == "there is none"


def test_the_article():
    said = [errors.a(noun) for noun in ("Pot", "AmpInput", int, "ndarray")]
    assert said == ["a Pot", "an AmpInput", "an int", "an ndarray"]


def raised(file):
    """Every call that makes one of the package's errors."""
    for node in nodes_of(file):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in errors.__all__:
            yield node


def literal(node, last):
    """The first or the last piece of an argument's text, as far as it is written out."""
    if isinstance(node, ast.JoinedStr) and node.values:
        node = node.values[-1 if last else 0]
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    return ""


NAMES_FIRST = ("SPICE", "None", "Capacitor(", "JSON", "HTML", "TOML", "PNG", "CSV")


def test_errors_say_where_what_and_what_to_do():
    """Three pieces of one sentence, which `GuitarnetError` joins and ends with a full stop."""
    wrong, seen = [], 0
    for file in FILES:
        for call in raised(file):
            seen += 1
            where = f"{name_of(file)}:{call.lineno}"
            if len(call.args) < 3 and not any(isinstance(a, ast.Starred) for a in call.args):
                wrong.append(f"{where} has fewer than three pieces")
            for piece in call.args[1:3]:
                first = literal(piece, last=False)
                if literal(piece, last=True).rstrip().endswith((".", ";")):
                    wrong.append(f"{where} ends a piece itself")
                if first[:1].isupper() and not first.startswith(NAMES_FIRST):
                    wrong.append(f"{where} begins a piece with a capital")
    assert seen > 300
    assert not wrong, "\n".join(map(str, wrong))


def test_nothing_is_evaluated_and_nothing_swallowed():
    """User text never reaches eval, exec or sympify; no bare except."""
    wrong = []
    for file in FILES:
        for node in nodes_of(file):
            if isinstance(node, ast.Call):
                called = getattr(node.func, "id", getattr(node.func, "attr", ""))
                if called in ("eval", "exec", "sympify", "parse_expr", "literal_eval"):
                    wrong.append(f"{name_of(file)}:{node.lineno} calls {called}")
            if isinstance(node, ast.ExceptHandler) and node.type is None:
                wrong.append(f"{name_of(file)}:{node.lineno} catches everything")
    assert not wrong, "\n".join(map(str, wrong))


# -- extras ---------------------------------------------------------------------------------------


EXTRAS = {
    "gn.plot_response": ("matplotlib", "figures"),
    "gn.live_page": ("matplotlib", "figures"),
    "gn.formulas.transfer_function(guitar)": ("sympy", "symbols"),
}
"""What is asked for, the library that it needs, and the extra that brings it."""


def test_without_an_extra_one_sentence_names_it():
    """In an interpreter where the libraries cannot be found."""
    code = (
        "import sys; sys.modules['matplotlib'] = sys.modules['sympy'] = None\n"
        "import guitarnet as gn\n"
        "guitar = gn.layouts.one_pickup(gn.Pickup('6.2k', '2.4 H', '120p'))\n"
    ) + "".join(
        f"try:\n    {ask}\nexcept gn.errors.NotInstalled as refusal:\n    print(refusal)\n"
        for ask in EXTRAS
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.splitlines() == [
        f"{library}: is not installed; install it with: pip install 'guitarnet[{extra}]'."
        for library, extra in EXTRAS.values()
    ]


def test_every_extra_is_listed_with_its_licences(project):
    """The list of dependencies knows every library that the project file asks for."""
    asked = tomllib.loads((project / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    listed = (project / "docs" / "dependencies.md").read_text(encoding="utf-8")
    extras = {k: v for k, v in asked["optional-dependencies"].items() if k not in NOT_FOR_READERS}
    for extra, requirements in {"core": asked["dependencies"], **extras}.items():
        assert f"\n## {extra}\n" in listed
        names = {re.match(r"[\w-]+", requirement)[0].lower() for requirement in requirements}
        assert {name for name in names if f"\n| {name} |" not in listed} <= {"guitarnet"}


def test_a_notebook_shows_the_sentence_first_and_the_reader_s_own_lines():
    code = "import guitarnet as gn\ndef mine(x):\n    return gn.Cable(x, '100p')\nmine('3 k')\n"
    name = "cell-of-a-test"
    linecache.cache[name] = (len(code), None, code.splitlines(keepends=True), name)
    with pytest.raises(guitarnet.errors.BadValue) as refused:
        exec(compile(code, name, "exec"), {})
    assert refused.value._render_traceback_() == [
        f"BadValue: {refused.value}",
        "    line 4:  mine('3 k')",
        "    line 3 of mine:  return gn.Cable(x, '100p')",
    ]
