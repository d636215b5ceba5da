"""Measured pickups: a catalogue of ready parts, and what is usual of their kinds."""

from .study.catalogue.entries import CataloguePickup, entry, kinds, pickups
from .study.catalogue.kinds import compare_with_kind, draw_kind, kind_table, priors
from .study.catalogue.listing import CatalogueTable, loaded_peaks, table
from .study.catalogue.nearest import Nearest, NearestPickups, nearest_pickups

__all__ = [
    "CataloguePickup",
    "CatalogueTable",
    "Nearest",
    "NearestPickups",
    "compare_with_kind",
    "draw_kind",
    "entry",
    "kind_table",
    "kinds",
    "loaded_peaks",
    "nearest_pickups",
    "pickups",
    "priors",
    "table",
]
