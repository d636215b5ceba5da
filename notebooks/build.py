"""Make or check the executed notebooks beside their py:percent sources.

    python notebooks/build.py            # write NAME.ipynb for every NAME.py
    python notebooks/build.py NAME ...   # for these only; answers/NAME for worked answers
    python notebooks/build.py --check    # execute again and compare; exit 1 where they differ

The source is what is edited and reviewed; the notebook is generated. Cell ids follow from the
cell's number, and no timing is stored, so that an edit changes only the cells it touches.
"""

from __future__ import annotations

import argparse
import base64
import io
import os
import re
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import jupytext
import nbformat
from nbclient import NotebookClient
from PIL import Image

HERE = Path(__file__).resolve().parent
LARGEST = 400_000  # bytes
_SCRIPT = re.compile(r"&lt;script&gt;.*?&lt;/script&gt;", re.DOTALL)  # of a live view's frame


def sources(names: list[str]) -> list[Path]:
    """Sources of the named lessons and worked answers; of all where none is named."""
    found = [*HERE.glob("[0-9]*.py"), *(HERE / "answers").glob("[0-9]*.py")]
    there = {name_of(path): path for path in sorted(found)}
    unknown = set(names) - set(there)
    if unknown:
        raise SystemExit(f"there is no lesson {', '.join(sorted(unknown))}")
    return [path for name, path in there.items() if not names or name in names]


def name_of(source: Path) -> str:
    """Name as on the command line: "05_cable_length" or "answers/05_cable_length"."""
    return source.relative_to(HERE).with_suffix("").as_posix()


def executed(source: Path) -> Any:
    """The notebook of one source, executed."""
    book = jupytext.read(source, fmt="py:percent")
    book.metadata = {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
    for number, cell in enumerate(book.cells):
        cell["id"] = f"cell-{number:02d}"
        cell["metadata"] = {}
    folder = {"metadata": {"path": str(source.parent)}}
    NotebookClient(
        book,
        timeout=120,
        kernel_name="python3",
        coalesce_streams=True,  # else timing decides how prints are stored
        resources=folder,
        extra_arguments=["--IPKernelApp.log_level=ERROR"],  # its own notes are no output of a cell
    ).execute()
    for cell in book.cells:
        cell["metadata"] = {}
        for output in cell.get("outputs", []):
            if output.get("name") == "stderr":
                raise SystemExit(f"{name_of(source)} warns: {output['text']}")
            output.pop("transient", None)
            if "image/png" in output.get("data", {}):
                output["data"]["image/png"] = smaller(output["data"]["image/png"])
            output["metadata"] = {} if "metadata" in output else output.get("metadata")
            if output["metadata"] is None:
                del output["metadata"]
    nbformat.validate(book)
    return book


def smaller(png: str) -> str:
    """The same picture with a palette of 128 colours, a third of the size."""
    picture = Image.open(io.BytesIO(base64.b64decode(png))).convert("RGB")
    stream = io.BytesIO()
    # Few pixels of a colour must not lose it: a legend has few of each.
    method = Image.Quantize.MAXCOVERAGE
    small = picture.quantize(128, method=method, dither=Image.Dither.NONE)
    small.save(stream, "PNG", optimize=True)
    return base64.b64encode(stream.getvalue()).decode()


def compared(book: Any) -> list[Any]:
    """What two executions must share: sources, texts, kinds of output, scripts; no pixels."""
    cells = []
    for cell in book.cells:
        outputs = []
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            text = output.get("text") or data.get("text/plain") or output.get("evalue", "")
            # An object's address differs from run to run.
            text = re.sub(r"0x[0-9a-f]+", "", text)
            scripts = _SCRIPT.findall(data.get("text/html", ""))
            outputs.append((output["output_type"], sorted(data), text, scripts))
        cells.append((cell["cell_type"], cell["source"], outputs))
    return cells


def build(source: Path) -> str:
    """Write one notebook."""
    text = nbformat.writes(executed(source)) + "\n"
    if len(text) > LARGEST:
        raise SystemExit(f"{name_of(source)}: the notebook has {len(text)} bytes, over {LARGEST}")
    target = source.with_suffix(".ipynb")
    target.write_text(text, encoding="utf-8")
    return f"{name_of(source)}: {len(text) // 1000} kB"


def check(source: Path) -> str:
    """Compare one notebook with a fresh execution."""
    target = source.with_suffix(".ipynb")
    if not target.exists():
        return f"{name_of(source)}: missing"
    if target.stat().st_size > LARGEST:
        return f"{name_of(source)}: over {LARGEST} bytes"
    there, fresh = compared(nbformat.read(target, as_version=4)), compared(executed(source))
    if len(there) != len(fresh):
        return f"{name_of(source)}: has {len(there)} cells, the source {len(fresh)}"
    for number, (old, new) in enumerate(zip(there, fresh, strict=True)):
        if old != new:
            return f"{name_of(source)}: cell {number} differs\n  stored: {old}\n  fresh:  {new}"
    return ""


def main() -> int:
    """Run the chore; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAME", help="lessons, without .py")
    parser.add_argument("--check", action="store_true", help="compare, write nothing")
    options = parser.parse_args()
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    with ThreadPoolExecutor(2) as pool:
        said = list(pool.map(check if options.check else build, sources(options.names)))
    problems = [words for words in said if options.check and words]
    print("\n".join(problems or [w for w in said if w] or [f"{len(said)} notebooks as stored"]))
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
