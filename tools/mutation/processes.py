"""Processes: one for each thing that may go wrong."""

from __future__ import annotations

import os
import resource
import signal
import sys
import traceback
from collections.abc import Callable

BROKEN, NOT_LIVING = 113, 114  # exit codes of a process that could not try its mutant
NOT_PUT_IN = BROKEN, NOT_LIVING
MEMORY = 6 * 2**30

KILLED, TIMED_OUT, SURVIVED, UNREACHED = "killed", "timed out", "survived", "not reached"


def forked(work: Callable[[], int]) -> tuple[int, str]:
    """Do work in a forked process; give its exit code (-27: its time was over) and what it told."""
    read, write = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        code = BROKEN
        try:
            os.close(read)
            nothing = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nothing, stream)
            forked.tell = write  # type: ignore[attr-defined]
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
            code = work()
        except BaseException:
            os.write(write, traceback.format_exc().encode())
        os._exit(code)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        told = pipe.read().decode(errors="replace")
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), told


def outcome(code: int) -> str:
    """Tell an outcome from an exit code; a process that crashed has killed its mutant."""
    if code == -signal.SIGPROF:
        return TIMED_OUT
    return SURVIVED if code == 0 else KILLED


def pytest_arguments(*more: str) -> list[str]:
    """Arguments of every run of pytest."""
    options = "-q -p no:cacheprovider -p no:xdist --capture=no --tb=no"
    imported_before = ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
    return [*options.split(), *imported_before, *more]
