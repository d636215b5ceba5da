"""Figures, drawings, job card and live pages; all of them draw with matplotlib."""

from ..errors import needs

needs("matplotlib", "figures")
