"""The command where its script is not on the path: ``python -m guitarnet``."""

from .command.line import main

__all__: list[str] = []

if __name__ == "__main__":
    raise SystemExit(main())
