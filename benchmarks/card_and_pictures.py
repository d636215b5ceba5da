"""A job card as PDF, and the command `bleeds`: processor time against what they cannot do without.

The card against laying out and writing its finished page once; the command, in a process of its
own, against a process that only imports the libraries that draw and compute. Measured: the card
2.9, of a layout that takes a third of what it took with columns as wide as their words; the
command on a busy machine about 0.59 of the processor time before the rebuild.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from common import MISSED, best_of, of_process, report  # first: sets the number of threads

from weasyprint import HTML

import guitarnet as gn
from fault_finding import five_way

IMPORTS = "import matplotlib.pyplot, xarray"


def main() -> int:
    """Print both results beside their targets; returns the exit code."""
    guitar = five_way()
    met = []
    with tempfile.TemporaryDirectory() as folder:
        pdf, html = Path(folder, "card.pdf"), Path(folder, "card.html")
        page = gn.job_card(guitar, html).read_text(encoding="utf-8")
        once = best_of(lambda: HTML(string=page).write_pdf(), repeats=3)
        card = best_of(lambda: gn.job_card(guitar, pdf), repeats=3)
        met.append(report("card over one layout of it", card / once, "", 3.5, at_least=False))
        file = Path(folder, "guitar.toml")
        gn.save_harness(gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p")), file)
        command = ["-m", "guitarnet", "bleeds", str(file), "150k || 1n", "--out", folder]
        bare = min(of_process([sys.executable, "-c", IMPORTS]) for _ in range(3))
        whole = min(of_process([sys.executable, *command]) for _ in range(3))
        met.append(report("bleeds over its imports", whole / bare, "", 4.5, at_least=False))
    return 0 if all(met) else MISSED


if __name__ == "__main__":
    sys.exit(main())
