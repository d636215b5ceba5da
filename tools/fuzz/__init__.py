"""Seeded, bounded trials: random harnesses against two other solvers, and bad input of every kind.

Run it from the checkout::

    python tools/fuzz --harnesses 10000 --ngspice 1000 --bad 500 --seed 1

Same seed, same trials. The oracle and the random guitars are those of the tests.
"""

from __future__ import annotations

import sys
from pathlib import Path

_TESTS = str(Path(__file__).resolve().parent.parent.parent / "tests")
if _TESTS not in sys.path:
    sys.path.append(_TESTS)  # the oracle and the guitars are shared with the tests
