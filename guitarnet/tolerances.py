"""What tolerances make of an answer: spreads, corners, bands, sensitivities."""

from .study.catalogue.bands import CAUSES, bands_by_cause
from .study.spread.bands import tolerance_band
from .study.spread.quantiles import quantile_table, quantiles
from .study.spread.sensitivity import sample_shares, sensitivity, sensitivity_ranking, sobol_shares
from .study.spread.tolerance import (
    corners,
    limits,
    spread,
    spread_tapers,
    tolerances_of,
)

__all__ = [
    "CAUSES",
    "bands_by_cause",
    "corners",
    "limits",
    "quantile_table",
    "quantiles",
    "sample_shares",
    "sensitivity",
    "sensitivity_ranking",
    "sobol_shares",
    "spread",
    "spread_tapers",
    "tolerance_band",
    "tolerances_of",
]
