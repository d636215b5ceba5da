"""The command: so many trials of each kind, and what came of them."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence

from .agree import METER, RELATIVE, Tally, against_oracle, differences
from .bad_input import refusals
from .draw import Trial
from .many_decades import PROMISED, against_fifty_digits
from .minimise import minimise, written
from .spice_agree import RELATIVE as SPICE_RELATIVE, against_ngspice

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the trials.

    Returns
    -------
    int
        0 where all went well, 1 where anything went wrong.
    """
    parser = argparse.ArgumentParser(prog="python tools/fuzz", description=__doc__)
    parser.add_argument("--harnesses", type=int, default=300, help="against the oracle (300)")
    parser.add_argument("--decades", type=int, default=20, help="values far apart (20)")
    parser.add_argument("--ngspice", type=int, default=30, help="against ngspice (30)")
    parser.add_argument("--bad", type=int, default=100, help="bad inputs (100)")
    parser.add_argument("--seed", type=int, default=1, help="of all of them (1)")
    asked = parser.parse_args(arguments)
    print(f"seed {asked.seed}")
    well = True
    if asked.harnesses:
        tally, seconds = _timed("harnesses", asked.harnesses, against_oracle, asked.seed)
        well &= _say_tally("the oracle", tally, seconds, RELATIVE)
        for number, trial, words in _first_of_each(tally):
            small = minimise(trial, lambda smaller: bool(differences(smaller)))
            print(f"\ntrial {number} of seed {asked.seed}: {words}\n{written(small)}")
    if asked.decades:
        far, seconds = _timed("values far apart", asked.decades, against_fifty_digits, asked.seed)
        print(
            f"{far.harnesses} harnesses with values far apart against 50 digits: {far.settings} "
            f"settings, {far.silent} silent; largest difference {far.largest:.1e} of the largest "
            f"value, {PROMISED:g} allowed; {len(far.refused)} refused in one sentence; "
            f"{len(far.wrong)} wrong; {seconds:.0f} s of processor time"
        )
        print(*(f"trial {number}: {words}" for number, words in far.refused + far.wrong), sep="\n")
        well &= not far.wrong
    if asked.ngspice:
        tally, seconds = _timed("ngspice", asked.ngspice, against_ngspice, asked.seed)
        well &= _say_tally("ngspice", tally, seconds, SPICE_RELATIVE)
        for number, trial, words in _first_of_each(tally):
            print(f"\ntrial {number} of seed {asked.seed}: {words}\n{written(trial)}")
    if asked.bad:
        found, seconds = _timed("bad inputs", asked.bad, refusals, asked.seed)
        kinds = ", ".join(f"{kind} {count}" for kind, count in found.refused.items())
        print(
            f"bad inputs: {sum(found.refused.values())} refused in one sentence ({kinds}); "
            f"{sum(found.taken.values())} mutated ones were good and taken; "
            f"{len(found.wrong)} wrong; {seconds:.0f} s of processor time"
        )
        print(*found.wrong, sep="\n")
        well &= not found.wrong
    return 0 if well else 1


def _timed(
    name: str, count: int, task: Callable[..., object], seed: int
) -> tuple[Tally, float] | tuple[object, float]:
    began = _seconds()

    def progress(done: int) -> None:
        if sys.stderr.isatty() and done % 10 == 0:
            print(f"\r\033[K{name}: {done} of {count}", end="", file=sys.stderr, flush=True)

    found = task(seed, count, progress=progress)
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr, flush=True)
    return found, _seconds() - began


def _seconds() -> float:
    """Processor time so far, that of other programs that were run among it."""
    return sum(os.times()[:4])


def _say_tally(against: str, tally: Tally, seconds: float, allowed: float) -> bool:
    print(
        f"{tally.trials} harnesses against {against}: {tally.values} values, {tally.silent} of "
        f"them exactly 0; largest difference {tally.largest:.1e} of the value (allowed "
        f"{allowed:g}); {tally.by_rounding} where rounding alone leaves more; "
        f"{len(tally.wrong)} wrong; {seconds:.0f} s of processor time"
    )
    if tally.of_meter:
        print(f"  resistances apart: largest difference {tally.of_meter:.1e} (allowed {METER:g})")
    for reason, count in tally.left_out.most_common():
        print(f"  left out {count}: {reason}")
    return not tally.wrong


def _first_of_each(tally: Tally, most: int = 5) -> list[tuple[int, Trial, str]]:
    first: dict[int, tuple[int, Trial, str]] = {}
    for one in tally.wrong:
        first.setdefault(one[0], one)
    return list(first.values())[:most]
