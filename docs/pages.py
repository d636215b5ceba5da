"""Run the code of the documentation's pages, hold what it prints against the page, keep figures.

    python docs/pages.py                      # every page, into docs/_made
    python docs/pages.py start howto/hear_it  # these
    python docs/pages.py --update start       # write what is printed into the page, and look at it
    python docs/pages.py --from-scratch start # as on a new machine, install lines included

A page is plain Markdown with fenced blocks:

- ``python`` blocks run in order in one namespace, which a block that begins with
  ``import guitarnet`` starts anew;
- ``sh`` blocks are run in the same folder: a line of ``guitarnet`` in this process by what stands
  behind that command, which saves a start of Python, all else by bash; one that makes an
  environment or calls pip is run from scratch only;
- a ``text`` block that follows one of these is what it prints; a line of ``...`` stands for any
  number of lines, and ``...`` within a line for any part of it.

Each matplotlib figure that is open after a block is saved as ``figure-1.png``, ``figure-2.png``
and so on in the page's folder, where the commands of the page leave their files too.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

DOCS = Path(__file__).resolve().parent
MADE = DOCS / "_made"
_FENCE = re.compile(r"^```(python|sh|text)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_SETS_UP = re.compile(r"\b(venv|pip install|git clone)\b")
_PLAIN = re.compile(r"guitarnet [^|&;<>$`*?()#~\\]*")
_SHOWN = {"NO_COLOR": "1", "COLUMNS": "88"}  # words are wrapped and coloured for no terminal
_RUN = ("python", "sh")


class PageError(Exception):
    """Code of a page does not run, or prints something else than the page says."""


@dataclass
class Block:
    """A fenced block of code, where it stands, and what the page says that it prints."""

    kind: str
    code: str
    line: int
    printed: str | None = None

    @property
    def sets_up(self) -> bool:
        """Whether it installs something."""
        return self.kind == "sh" and bool(_SETS_UP.search(self.code))


def pages() -> list[str]:
    """Names of the pages that hold code to run, without ``.md``."""
    found = sorted(DOCS.glob("*.md")) + sorted(DOCS.glob("howto/*.md"))
    return [
        path.relative_to(DOCS).with_suffix("").as_posix()
        for path in found
        if any(block.kind in _RUN for block in blocks(path))
    ]


def blocks(path: Path) -> list[Block]:
    """Blocks of a page, in order; a ``text`` block is joined to the code before it."""
    text = path.read_text(encoding="utf-8")
    found: list[Block] = []
    for match in _FENCE.finditer(text):
        kind, code = match.groups()
        line = text.count("\n", 0, match.start()) + 1
        if kind != "text":
            found.append(Block(kind, code, line))
        elif found and found[-1].printed is None:
            found[-1].printed = code
        else:
            raise PageError(f"{path.name}:{line}: a text block follows no code")
    return found


def run(name: str, folder: Path, *, update: bool = False) -> int:
    """Run a page in a folder, which is emptied first; gives the number of figures.

    With ``update`` the page is changed where it prints something else, but for a block that leaves
    lines out, which a person has to look at.
    """
    path = DOCS / f"{name}.md"
    text = path.read_text(encoding="utf-8")
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    names: dict[str, object] = {}
    figures = 0
    with _working_in(folder):
        for block in blocks(path):
            where = f"docs/{name}.md:{block.line}"
            if block.kind == "sh":
                printed = "" if block.sets_up else _shell(block.code, where)
            else:
                if block.code.startswith("import guitarnet"):
                    names = {}
                printed, figures = _python(block.code, names, where, figures)
            if block.printed is None or matches(block.printed, printed):
                continue
            if update and "..." not in block.printed:
                old = f"{block.code}```\n\n```text\n{block.printed}"
                text = text.replace(old, old.removesuffix(block.printed) + printed.rstrip() + "\n")
            else:
                raise PageError(f"{where}: the page says\n{block.printed}\nit prints\n{printed}")
    if update:
        path.write_text(text, encoding="utf-8")
    return figures


@contextlib.contextmanager
def _working_in(folder: Path) -> Iterator[None]:
    before, path = Path.cwd(), os.environ.get("PATH", "")
    os.chdir(folder)
    os.environ["PATH"] = os.pathsep.join([str(Path(sys.executable).parent), path])
    try:
        yield
    finally:
        os.chdir(before)
        os.environ["PATH"] = path


def _shell(code: str, where: str) -> str:
    lines = code.splitlines()
    bare = [re.sub(r"'[^']*'", "", line) for line in lines]  # what is quoted is no sign of bash
    if all(map(_PLAIN.fullmatch, bare)):
        return "".join(_command(shlex.split(line)[1:], where) for line in lines)
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", code],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        env={**os.environ, **_SHOWN, "PYTHONUTF8": "1"},
    )
    _check_code(done.returncode, done.stderr, where)
    return done.stdout


def _command(words: list[str], where: str) -> str:
    from guitarnet.command.line import main

    printed, refused = io.StringIO(), io.StringIO()
    with (
        mock.patch.dict(os.environ, _SHOWN),
        contextlib.redirect_stdout(printed),
        contextlib.redirect_stderr(refused),
    ):
        code = main(words)
    _check_code(code, refused.getvalue(), where)
    return printed.getvalue()


def _check_code(code: int, refused: str, where: str) -> None:
    # 1 is an answer: a reading that the guitar cannot show without a fault.
    if code not in (0, 1) or (code == 1 and refused.strip()):
        raise PageError(f"{where}: exit code {code}\n{refused}")


def _python(code: str, names: dict[str, object], where: str, figures: int) -> tuple[str, int]:
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    plt.close("all")  # what others left open in this process is no figure of the page
    stream = io.StringIO()
    try:
        with contextlib.redirect_stdout(stream):
            exec(compile(code, where, "exec"), names)
    except Exception as error:
        raise PageError(f"{where}: {''.join(traceback.format_exception(error))}") from error
    for number in plt.get_fignums():
        figures += 1
        plt.figure(number).savefig(f"figure-{figures}.png", dpi=150)
    plt.close("all")
    return stream.getvalue(), figures


def matches(said: str, printed: str) -> bool:
    """Whether the page's text is what was printed; ``...`` is any lines, or any part of one."""
    pieces = [
        r"(?:.*\n)*?"
        if line.strip() == "..."
        else ".*".join(map(re.escape, line.rstrip().split("..."))) + r"[ ]*\n"
        for line in said.splitlines()
    ]
    return re.fullmatch("".join(pieces), printed.rstrip("\n") + "\n") is not None


def from_scratch(name: str) -> None:
    """Run a page as one script in a fresh clone, install lines and all."""
    with tempfile.TemporaryDirectory() as folder:
        clone = Path(folder, "guitarnet")
        subprocess.run(["git", "clone", "-q", str(DOCS.parent), str(clone)], check=True)
        script = ["set -euo pipefail"]
        for number, block in enumerate(blocks(DOCS / f"{name}.md")):
            if block.kind == "sh":
                script.append(block.code)
            else:
                Path(clone, f"block-{number:03}.txt").write_text(block.code, encoding="utf-8")
        script.append("cat block-*.txt > page.py; python -W error page.py")
        subprocess.run(
            ["bash", "-c", "\n".join(script)],
            check=True,
            cwd=clone,
            env={**os.environ, "MPLBACKEND": "Agg"},
        )


# -- for the site -------------------------------------------------------------------------------


def fresh(name: str) -> bool:
    """Whether a page's folder was made from the page and the package as they stand."""
    stamp = MADE / name / ".stamp"
    return stamp.exists() and stamp.read_text(encoding="utf-8") == _stamp(name)


def make(name: str, *, update: bool = False) -> None:
    """Run a page into the site's folder, and note from what it was made."""
    run(name, MADE / name, update=update)
    (MADE / name / ".stamp").write_text(_stamp(name), encoding="utf-8")


def _stamp(name: str) -> str:
    seen = hashlib.sha256((DOCS / f"{name}.md").read_bytes())
    for path in [Path(__file__), *sorted((DOCS.parent / "guitarnet").rglob("*"))]:
        if path.suffix in (".py", ".js", ".css", ".html", ".mplstyle"):
            seen.update(path.read_bytes())
    return seen.hexdigest()


def main() -> int:
    """Run pages; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("pages", nargs="*", metavar="PAGE", help="pages, without .md (all)")
    parser.add_argument("--from-scratch", action="store_true", help="in a clone, installing it")
    parser.add_argument("--update", action="store_true", help="write what is printed into them")
    options = parser.parse_args()
    for name in options.pages or pages():
        try:
            if options.from_scratch:
                from_scratch(name)
            else:
                make(name, update=options.update)
        except (PageError, subprocess.CalledProcessError) as error:
            print(error, file=sys.stderr)
            return 1
        print(f"{name}: {'runs from scratch' if options.from_scratch else 'as it says'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
