"""Choosing parts by a goal: what a goal is, and what may be chosen."""

from .study.choose.choose import Range, choose
from .study.choose.goals import Goal
from .study.choose.match import match_response
from .study.choose.score import BleedGoal
from .study.choose.wiring import wirings

__all__ = ["BleedGoal", "Goal", "Range", "choose", "match_response", "wirings"]
