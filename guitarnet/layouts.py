"""Usual wirings; each is a function that returns a harness."""

from .circuit.layouts import *  # noqa: F403
from .circuit.layouts import __all__ as __all__
