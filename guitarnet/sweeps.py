"""Grids, long tables, and sweeps beyond memory."""

from .study.response.large import plan_sweep
from .study.response.large_plan import SweepPlan
from .study.response.sweep import frequency_grid
from .study.response.table import response_table

__all__ = ["SweepPlan", "frequency_grid", "plan_sweep", "response_table"]
