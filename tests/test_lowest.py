"""The chore that writes the lowest declared versions as constraints."""

from __future__ import annotations

import importlib
import re
import tomllib

import pytest

PROJECT = {
    "name": "ours",
    "dependencies": ["numpy>=2.2", "Some_Thing>=1"],
    "optional-dependencies": {
        "figures": ["matplotlib>=3.10"],
        "cards": ["ours[figures]", "jinja2>=3.1", "numpy>=2.3"],
        "wide": ["dask[array,distributed]>=2025.1"],
        "test": ["pytest"],
        "pinned": ["lib==1.0"],
        "between": ["lib>=1.0,<2"],
        "loop": ["ours[loop,figures]"],
    },
}


@pytest.fixture
def tool(project, monkeypatch):
    monkeypatch.syspath_prepend(str(project / "tools"))
    return importlib.import_module("lowest")


def test_the_highest_bound_of_core_and_extras_holds(tool):
    def written(*extras):
        return {name: str(version) for name, version in tool.lowest(PROJECT, extras).items()}

    assert written("figures") == {"numpy": "2.2", "some-thing": "1", "matplotlib": "3.10"}
    assert written("cards") == {**written("figures"), "jinja2": "3.1", "numpy": "2.3"}
    assert written("wide")["dask"] == "2025.1"
    assert written("loop") == written("figures")


@pytest.mark.parametrize(
    ("extra", "message"),
    [
        ("test", "pytest: has no bound of its own; write it as pytest>=1.2"),
        ("pinned", "lib==1.0: has no bound of its own; write it as lib>=1.2"),
        ("between", "lib<2,>=1.0: has no bound of its own; write it as lib>=1.2"),
        (
            "figure",
            "there is no extra 'figure'; use some of figures, cards, wide, test, pinned, between, "
            "loop",
        ),
    ],
)
def test_a_bound_that_says_nothing_is_refused(tool, extra, message):
    with pytest.raises(SystemExit) as caught:
        tool.lowest(PROJECT, [extra])
    assert str(caught.value) == message


def test_every_extra_for_readers_is_tried_on_continuous_integration(tool, project):
    """One that is added to pyproject.toml must be added to the step too."""
    declared = tomllib.loads((project / "pyproject.toml").read_text())["project"]
    tried = re.search(r"^ *local extras=(.*)$", (project / ".ci" / "run").read_text(), re.MULTILINE)
    assert tried is not None
    readers = set(declared["optional-dependencies"]) - set(tool.FOR_WORK)
    assert set(tried[1].split(",")) == readers
    assert {"numpy", "xarray", "weasyprint", "zarr"} <= set(tool.lowest(declared))


def test_the_tests_that_are_named_are_there(project):
    """A test that is renamed would end continuous integration at its end, not here."""
    script = (project / ".ci" / "run").read_text(encoding="utf-8")
    named = re.findall(r"(tests/\w+\.py)::(\w+)", script)
    assert len(named) > 5
    gone = [
        f"{file}::{test}"
        for file, test in named
        if f"def {test}(" not in (project / file).read_text(encoding="utf-8")
    ]
    assert gone == []
