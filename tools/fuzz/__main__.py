"""Run the trials from the checkout: ``python tools/fuzz --help``."""

import sys
from pathlib import Path

if __name__ == "__main__":
    # The package itself, not the folder that its modules lie in.
    sys.path[0] = str(Path(__file__).resolve().parent.parent)
    from fuzz.run import main

    sys.exit(main())
