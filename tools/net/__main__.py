"""Run the net from the checkout: ``python -m tools.net --help``."""

import sys

from .run import main

if __name__ == "__main__":
    sys.exit(main())
