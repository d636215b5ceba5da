"""Shared helpers of the tests."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from agreement import Table, largest_difference

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


def pytest_addoption(parser: pytest.Parser) -> None:
    """An option that writes how far the checks against something outside agree."""
    parser.addoption("--agreement", metavar="FILE", type=Path, help="write the agreement table")


def pytest_configure(config: pytest.Config) -> None:
    """Collect for the table where one is asked for."""
    path = config.getoption("--agreement")
    if path:
        config.pluginmanager.register(Table(path.resolve()), "agreement-table")


@pytest.fixture
def agreement(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Note that ours was compared with theirs, for the table in the documentation."""

    def note(source: str, what: str, ours: Any, theirs: Any, *, limit: str = "") -> None:
        difference, cases = largest_difference(ours, theirs)
        told = {"source": source, "what": what, "limit": limit}
        noted = {**told, "difference": difference, "cases": cases}
        request.node.user_properties.append(("agreement", noted))

    return note


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


# -- pages in a browser -------------------------------------------------------------------------

QUIET = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(scope="module")
def browser(chromium: str):
    """A browser for the tests of one module."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture
def visit(browser, tmp_path):
    """Open a page without a network; whatever it complains of or asks for fails the test.

    A view given as it is goes without its still, which costs matplotlib a fifth of a second.
    """
    contexts, complaints = [], []

    def visit(path=None, *, content: str = "", hash: str = "", **options):
        context = browser.new_context(offline=True, **options)
        contexts.append(context)
        page = context.new_page()
        if path is not None and not isinstance(path, Path):
            view, path = path, tmp_path / "live.html"
            path.write_text(view._page(""), "utf-8")
        page.set_default_timeout(4000)
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        own = ("data:", "about:", *([path.as_uri()] if path else []))
        page.on("request", lambda r: None if r.url.startswith(own) else complaints.append(r.url))
        if path is None:
            page.set_content(content)
        else:
            page.goto(path.as_uri() + hash)
        return page

    yield visit
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture(scope="session")
def check_by_axe():
    """Check a page by axe-core, in light and in dark: no violation of WCAG 2.2, A and AA."""
    if importlib.util.find_spec("axe_playwright_python") is None:
        missing("axe-playwright-python")
    from axe_playwright_python.sync_playwright import Axe

    axe = Axe()

    def check(page, *schemes: str) -> None:
        for scheme in schemes or ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            found = axe.run(page, options={"runOnly": RULES})
            assert found.violations_count == 0, (scheme, found.generate_report())
            checked = {rule["id"] for rule in found.response["passes"]}
            assert {"color-contrast", "label"} <= checked

    return check
