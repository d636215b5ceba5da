"""The net: everything that the product can do, with golden numbers, texts and pictures.

``python -m tools.net`` runs all and says what differs; the README beside this tells more.
"""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[2] / "notebooks"))  # for the exercises
