"""A record is killed, filled and shared: what was confirmed must be there, and the file whole.

Run it from the checkout::

    python tools/record_kills.py --kills 200 --seed 1

A process writes and says what it confirmed; it is killed with SIGKILL at a random moment, or may
write no further than a limit of its file's size allows, or another process writes with it. Then the
record is opened. Ends with 0 where all is there, else with 1. Figures in `record_kills.md`.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import signal
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

ROOT = Path(__file__).resolve().parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from guitarnet.errors import BadFile  # noqa: E402
from guitarnet.records import Record  # noqa: E402

_FULL = "what was confirmed before is kept"


def begun(path: Path, *names: str) -> None:
    """Begin a record with some pickups in it."""
    with Record(path, begin=True) as record:
        for name in names:
            record.add(name, "pickup", customer=f"customer of {name}")


@dataclass
class Writer:
    """A process of its own that writes pairs of entries and says which it confirmed."""

    process: int
    told: TextIO

    @classmethod
    def begin(cls, path: Path, name: str, most: int, limit: int = 0) -> Writer:
        """Begin one; with a limit, it may write no more bytes into a file."""
        there, here = os.pipe()
        process = os.fork()
        if process:
            os.close(here)
            return cls(process, os.fdopen(there))
        with os.fdopen(here, "w", buffering=1) as told:
            if limit:
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            try:
                with Record(path) as record:
                    for index in range(most):
                        given = {"readings": "7k", "remark": f"{name} {index} " + "x" * 500}
                        print(*record.write(name, date="2026-12-01", **given), file=told)
            except BadFile as error:
                print(f"refused: {error}", file=told)
        os._exit(0)

    def said(self) -> list[str]:
        """Wait for its end, and give its whole lines."""
        with self.told as told:
            lines = told.readlines()
        os.waitpid(self.process, 0)
        return [line.rstrip() for line in lines if line.endswith("\n")]


def lost(path: Path, said: list[str]) -> list[str]:
    """Say what was confirmed and is not there, or is there by half."""
    with Record(path) as record:  # that it opens is the first check
        there = {one.number: one for one in record.entries()}
    pairs = [line.split() for line in said if line[:1].isdigit()]
    wrong = [f"entry {number}" for pair in pairs for number in pair if int(number) not in there]
    readings = sum(one.kind == "reading" for one in there.values())
    if 2 * readings != len(there):
        wrong.append(f"{readings} readings among {len(there)} entries")
    return wrong


def killed(path: Path, seconds: float) -> tuple[int, list[str]]:
    """Kill a writer after some seconds; give how many pairs it confirmed, and what was lost."""
    writer = Writer.begin(path, "N-1", 1_000_000)
    time.sleep(seconds)
    os.kill(writer.process, signal.SIGKILL)
    said = writer.said()
    return len(said), lost(path, said)


def main() -> int:
    """Run all three, and say what was lost."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    draw = random.Random(options.seed)
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "killed.record")
        begun(path, "N-1")
        confirmed = 0
        for _ in range(options.kills):
            count, found = killed(path, draw.uniform(0, 0.1))
            confirmed += count
            wrong += found
        print(f"{options.kills} kills, {confirmed} pairs confirmed before them, lost: {wrong}")
        shared = Path(folder, "shared.record")
        begun(shared, "N-1", "N-2")
        both = [Writer.begin(shared, name, options.kills) for name in ("N-1", "N-2")]
        said = [line for one in both for line in one.said()]
        found = lost(shared, said) + [line for line in said if line.startswith("refused")]
        print(f"two at once, {len(said)} pairs, lost: {found}")
        wrong += found + ["too few"] * (len(said) < 2 * options.kills)
        for limit in (60_000, 100_000, 400_000):
            full = Path(folder, f"full{limit}.record")
            begun(full, "N-1")
            *pairs, last = Writer.begin(full, "N-1", 5000, limit).said()
            found = lost(full, pairs)
            print(f"{limit} bytes at most, {len(pairs)} pairs, then refused, lost: {found}")
            wrong += found + [last] * (_FULL not in last)
    print("whole" if not wrong else f"wrong: {wrong}")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
