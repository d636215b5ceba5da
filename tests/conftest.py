"""Shared helpers of the tests."""

from __future__ import annotations

import contextlib
import functools
import gc
import importlib.util
import io
import os
import runpy
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest import mock

import pytest
from agreement import Table, largest_difference

STRICT = os.environ.get("CI", "").lower() in ("1", "true")
"""On continuous integration a missing checker is a failure; elsewhere its tests skip by name."""


def missing(what: str) -> None:
    """Skip a test for want of an optional program, or fail where nothing may be missing."""
    if STRICT:
        pytest.fail(f"{what} is needed on continuous integration")
    pytest.skip(f"{what} is not installed")


@pytest.fixture
def unusual():
    """For tests of what hardly any guitar has: limits of the solver, not slips of a person."""
    from guitarnet.gate import insisting

    with insisting(True):
        yield


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
    """How many guitars are drawn, and a table of how far the checks against others agree."""
    parser.addoption(
        "--long", action="store_true", help="draw as many guitars as tools/long.md says"
    )
    parser.addoption(
        "--agreement", metavar="FILE", type=Path, help="write the agreement table; goes with --long"
    )


def is_long(config: pytest.Config) -> bool:
    """Whether the long campaign runs; the published table is of it."""
    return bool(config.getoption("--long") or config.getoption("--agreement"))


def pytest_configure(config: pytest.Config) -> None:
    """Collect for the table where one is asked for; the laws are tried on the same circuits."""
    config.addinivalue_line("markers", "long: runs in the long campaign only")
    path = config.getoption("--agreement")
    if path:
        config.pluginmanager.register(Table(path.resolve()), "agreement-table")
    if importlib.util.find_spec("hypothesis"):
        from hypothesis import settings

        tries = 200 if is_long(config) else 10
        settings.register_profile("house", max_examples=tries, derandomize=True, deadline=None)
        settings.load_profile("house")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long campaign to the long campaign; begin with what needs the browser.

    All of that then lies in the share of one process, so that no other starts a second browser.
    """
    if not is_long(config):
        left = [item for item in items if item.get_closest_marker("long")]
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if not item.get_closest_marker("long")]
    shown = {item.path for item in items if "browser" in getattr(item, "fixturenames", ())}
    items.sort(key=lambda item: item.path not in shown)


@pytest.hookimpl(wrapper=True)
def pytest_collection():
    """What is imported stays: the collector of garbage need not look through it, now or later."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        # Libraries that tests load later do count: look through them a few times, not hundreds.
        gc.set_threshold(10_000, 20, 20)
        gc.enable()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Each process takes whole files in a row, so what they share is made once, then steals."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log) if config.getvalue("dist") == "load" else None


@pytest.fixture(autouse=True)
def _no_figure_stays_open():
    """Matplotlib warns where twenty are open, whichever tests opened them."""
    yield
    if pyplot := sys.modules.get("matplotlib.pyplot"):
        pyplot.close("all")


@pytest.fixture(scope="session")
def draws(request: pytest.FixtureRequest) -> Callable[[int, int], int]:
    """How many a test draws: few in the suite, many in the long campaign; the same seeds."""
    return lambda few, many: many if is_long(request.config) else few


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


@functools.cache
def printer_is_there() -> bool:
    """Whether a PDF can be printed here."""
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError):
        return False
    return True


def run_example(project: Path, name: str, *options: object) -> SimpleNamespace:
    """Run an example as from a shell, but in this process: a start of Python costs seconds."""
    script = str(project / "examples" / name)
    said, refused = io.StringIO(), io.StringIO()
    with (
        mock.patch.object(sys, "argv", [script, *map(str, options)]),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(refused),
        pytest.raises(SystemExit) as stop,
    ):
        runpy.run_path(script, run_name="__main__")
    return SimpleNamespace(
        returncode=stop.value.code, stdout=said.getvalue(), stderr=refused.getvalue()
    )


@pytest.fixture
def example(project: Path) -> Callable[..., SimpleNamespace]:
    """Run an example of the checkout."""
    return functools.partial(run_example, project)


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
RULES = {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
OF_COLOURS = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}


@pytest.fixture(scope="session")
def browser(chromium: str):
    """The one browser of a session, whose event loop then runs in this thread to the end.

    What starts a loop of its own, such as a notebook's client, must do so in another thread.
    """
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def tabs(browser):
    """Pages that are used again by one test after another: a new one costs four visits."""
    with browser.new_context(offline=True) as context:
        made: list[Any] = []

        def tab(number: int):
            if number == len(made):
                made.append(context.new_page())
            return made[number]

        yield tab


@pytest.fixture
def visit(browser, tabs, tmp_path):
    """Open a page without a network; whatever it complains of or asks for fails the test.

    A view given as it is goes without its still, which costs matplotlib a fifth of a second.
    Options of a browser's context get the page a context of its own.
    """
    contexts, used, complaints = [], [], []

    def said(message) -> None:
        complaints.append(getattr(message, "text", str(message)))

    def opened(path: Path, viewport: dict[str, int], color_scheme: str, **options: Any):
        if options:
            contexts.append(browser.new_context(offline=True, **options))
            page = contexts[-1].new_page()
        else:
            page = tabs(len(used))
        page.set_default_timeout(8000)
        page.set_viewport_size(viewport)
        page.emulate_media(media="null", color_scheme=color_scheme)
        own = ("data:", "about:", path.as_uri())

        def asked(request) -> None:
            if not request.url.startswith(own):
                complaints.append(request.url)

        heard = {"console": said, "pageerror": said, "request": asked}
        for event, listen in heard.items():
            page.on(event, listen)
        if not options:
            used.append((page, heard))
        return page

    def visit(
        path=None,
        *,
        content: str = "",
        hash: str = "",
        viewport: tuple[int, int] = (1280, 720),
        color_scheme: str = "light",
        **options: Any,
    ):
        if not isinstance(path, Path):
            view, path = path, tmp_path / f"live {len(list(tmp_path.iterdir()))}.html"
            path.write_text(content or view.html(), "utf-8-sig")  # tells a browser how to read
        wide, tall = viewport
        page = opened(path, {"width": wide, "height": tall}, color_scheme, **options)
        page.bring_to_front()  # a tab behind another draws once a second, and clicks wait for it
        page.goto(path.as_uri() + hash)
        return page

    yield visit
    for context in contexts:
        context.close()
    for page, heard in used:
        page.goto("about:blank")  # nothing plays or counts on
        for event, listen in heard.items():
            page.remove_listener(event, listen)
    assert complaints == []


@pytest.fixture(scope="session")
def check_by_axe():
    """Check a page by axe-core, in light and in dark: no violation of WCAG 2.2, A and AA.

    After the first scheme only colours are other ones, so only their rules are tried again.
    """
    if importlib.util.find_spec("axe_playwright_python") is None:
        missing("axe-playwright-python")
    from axe_playwright_python.sync_playwright import Axe

    axe = Axe()

    def check(page, *schemes: str) -> None:
        rules, due = RULES, {"color-contrast", "label"}
        for scheme in schemes or ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            found = axe.run(page, options={"runOnly": rules})
            assert found.violations_count == 0, (scheme, found.generate_report())
            assert due <= {rule["id"] for rule in found.response["passes"]}
            rules, due = OF_COLOURS, {"color-contrast"}

    return check
