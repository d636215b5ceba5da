"""Shared helpers of the tests."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

STRICT = os.environ.get("CI", "").lower() in ("1", "true")
"""On continuous integration a missing checker is a failure; elsewhere its tests skip by name."""


def missing(what: str) -> None:
    """Skip a test for want of an optional program, or fail where nothing may be missing."""
    if STRICT:
        pytest.fail(f"{what} is needed on continuous integration")
    pytest.skip(f"{what} is not installed")


def _not_skipped(report):
    """Turn a skip into a failure where nothing may be missing."""
    if STRICT and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped on continuous integration: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport():
    return _not_skipped((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report():
    return _not_skipped((yield))


@pytest.fixture(scope="session")
def ngspice() -> str:
    """Path of ngspice."""
    path = shutil.which("ngspice")
    if path is None:
        missing("ngspice")
    assert path is not None
    return path


@pytest.fixture(scope="session")
def lcapy():
    """The lcapy library."""
    if importlib.util.find_spec("lcapy") is None:
        missing("lcapy")
    import lcapy

    return lcapy


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of a Chromium that playwright may drive."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None or importlib.util.find_spec("playwright") is None:
        missing("chromium with playwright")
    assert path is not None
    return path


def run_example(
    project: Path, name: str, folder: Path, *options: object
) -> subprocess.CompletedProcess[str]:
    """Run an example in a process of its own, warnings as errors."""
    script = project / "examples" / name
    return subprocess.run(
        [sys.executable, "-W", "error", str(script), *map(str, options), "--out", str(folder)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
    )


@pytest.fixture(scope="session")
def project() -> Path:
    """Folder of the checkout."""
    return Path(__file__).resolve().parent.parent
