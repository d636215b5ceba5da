"""The run of the net: each ability in a folder of its own, and one table of what differs."""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import tempfile
import textwrap
import time
import traceback
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .compare import Difference, differences
from .record import ABILITIES, Ability, Missing, load, plain, save

__all__ = ["check", "given_by", "main"]

_ROWS = 12
"""Differences of one ability that are printed, unless all are asked for."""
_WIDTHS = (34, 34, 34)


def main(arguments: list[str] | None = None) -> int:
    """Run the net; 1 where anything differs, 2 where something asked for is not there."""
    options = _parser().parse_args(arguments)
    os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy is imported
    from . import abilities  # noqa: F401  enters all
    from .drawings import compared, keep

    if options.names:
        from .names import options_without_ability, without_ability

        left = [*without_ability(), *options_without_ability()]
        print("\n".join(left) if left else "every public name and option is in some ability")
        return int(bool(left))
    asked = [*options.abilities, *(options.update or [])]
    unknown = [name for name in asked if not _named([name])]
    if unknown:
        print(f"there is no ability {', '.join(map(repr, unknown))}; --list names them")
        return 2
    if options.update == []:
        print("name what to rewrite, as --update 'noise table', or --update all")
        return 2
    chosen = [one for one in _named(asked or ["all"]) if one.quick or not options.quick]
    if options.list:
        print("\n".join(f"{'quick  ' if one.quick else '       '}{one.name}" for one in chosen))
        return 0

    rows: list[tuple[Ability, list[Difference]]] = []
    pictures: dict[str, bytes] = {}
    missing: list[str] = []
    begun = _spent()
    for one in chosen:
        started = _spent()
        try:
            now = given_by(one, pictures if not options.quick else None)
        except Missing as lacking:
            missing.append(f"{one.name}: {lacking}")
            continue
        except Exception as error:
            rows.append((one, [Difference("(runs)", "", _failure(error))]))
            continue
        if options.times:
            print(f"{_spent() - started:7.2f} s  {one.name}", flush=True)
        if options.update is not None:
            save(one, now)
            continue
        found = check(one, now)
        if found:
            rows.append((one, found))
    if options.update is not None:
        keep(pictures)
        print(f"{len(chosen) - len(missing) - len(rows)} goldens written; look at the difference")
    _print(rows, None if options.all else _ROWS)
    if options.pictures:
        keep(pictures, Path(options.pictures))
    look = compared(pictures) if options.update is None else []
    if look:
        print("\nworth a look, beside tools/net/goldens/pictures (no failure):")
        print(textwrap.indent("\n".join(look), "  "))
    if missing:
        print("\nnot run here:\n" + textwrap.indent("\n".join(missing), "  "))
    print(
        f"\n{len(chosen)} abilities, {len(rows)} differ, {len(missing)} not run, "
        f"{_spent() - begun:.0f} s of CPU"
    )
    return int(bool(rows))


def given_by(one: Ability, pictures: dict[str, bytes] | None = None) -> Any:
    """Run an ability in an empty folder, without a screen, warnings as errors."""
    import matplotlib.pyplot as plt

    from .drawings import collecting

    plt.switch_backend("Agg")
    with _empty_folder(), collecting(one.name, pictures), warnings.catch_warnings():
        warnings.simplefilter("error")
        given = plain(one.run())
    plt.close("all")  # the next begins with none open
    return given


def _failure(error: Exception) -> str:
    """What went wrong, and the last line of the abilities that was reached."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if Path(frame.filename).name == "abilities.py"]
    where = f", line {own[-1].lineno} of abilities.py" if own else ""
    return f"{type(error).__name__}{where}: {error}"


def check(one: Ability, now: Any) -> list[Difference]:
    """Hold what an ability gives against its golden."""
    was = load(one)
    if was is None:
        return [Difference("(golden)", "none is kept", "write it by --update")]
    return differences(was, now, one.within, one.floor)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tools.net", description=__doc__)
    parser.add_argument("abilities", nargs="*", help="run these only; a part of a name will do")
    parser.add_argument("--quick", action="store_true", help="the part that is in the tests")
    parser.add_argument("--update", nargs="*", metavar="ABILITY", help="rewrite goldens, or all")
    parser.add_argument("--list", action="store_true", help="list the abilities")
    parser.add_argument(
        "--names", action="store_true", help="public names and options that no ability uses"
    )
    parser.add_argument("--all", action="store_true", help="print every difference")
    parser.add_argument("--times", action="store_true", help="print the CPU time of each")
    parser.add_argument("--pictures", metavar="FOLDER", help="write thumbnails of now there")
    return parser


def _named(asked: list[str]) -> list[Ability]:
    """Abilities by their names, or by a part of them."""
    if "all" in asked:
        return list(ABILITIES.values())
    exact = [name for name in asked if name in ABILITIES]
    return [
        one
        for name, one in ABILITIES.items()
        if name in exact or any(a in name for a in asked if a not in exact)
    ]


@contextlib.contextmanager
def _empty_folder() -> Iterator[None]:
    before, kept = Path.cwd(), dict(os.environ)
    os.environ.update(NO_COLOR="1", COLUMNS="88", MPLBACKEND="Agg", PYTHONUTF8="1")
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        try:
            yield
        finally:
            os.chdir(before)
            os.environ.clear()
            os.environ.update(kept)


def _spent() -> float:
    """CPU time of this process and of those it waited for."""
    own = os.times()
    return own.user + own.system + own.children_user + own.children_system if own else time.time()


def _print(rows: list[tuple[Ability, list[Difference]]], most: int | None) -> None:
    if not rows:
        return
    stream = io.StringIO()
    rule = "-+-".join("-" * width for width in _WIDTHS)
    for one, found in rows:
        mark = " (ties may be ranked by last digits)" if one.ranked else ""
        print(f"\n{one.name}{mark}: {len(found)} differ", file=stream)
        print(_row("what", "was", "is") + "\n" + rule, file=stream)
        for difference in found[:most]:
            print(_row(*difference), file=stream)
        if most is not None and len(found) > most:
            print(f"... and {len(found) - most} more (--all)", file=stream)
    print(stream.getvalue().rstrip())


def _row(*cells: str) -> str:
    columns = [
        [line for part in cell.split("\n") for line in (textwrap.wrap(part, width) or [""])]
        for cell, width in zip(cells, _WIDTHS, strict=True)
    ]
    tall = max(map(len, columns))
    lines = zip(*(column + [""] * (tall - len(column)) for column in columns), strict=True)
    return "\n".join(
        " | ".join(f"{cell:{width}}" for cell, width in zip(line, _WIDTHS, strict=True)).rstrip()
        for line in lines
    )
