"""Grids, long tables, and sweeps beyond memory."""

from .study.response.plan import SweepPlan, plan_sweep
from .study.response.sweep import frequency_grid
from .study.response.table import response_table

__all__ = ["SweepPlan", "frequency_grid", "plan_sweep", "response_table"]
