"""Pictures of answers, beside the usual ``plot_response``."""

from .show.figures.bands import plot_bands, plot_ranking, plot_sensitivity
from .show.figures.catalogue import plot_bands_by_cause, plot_catalogue
from .show.figures.choices import plot_choices, plot_front, plot_match
from .show.figures.fits import plot_fit
from .show.figures.history import plot_history
from .show.figures.impedance import plot_impedance
from .show.figures.responses import (
    plot_builds,
    plot_difference,
    plot_map,
    plot_measured,
    plot_taper,
)
from .show.figures.string import plot_string_spectrum
from .show.figures.turned_down import plot_turned_down

__all__ = [
    "plot_bands",
    "plot_bands_by_cause",
    "plot_builds",
    "plot_catalogue",
    "plot_choices",
    "plot_difference",
    "plot_fit",
    "plot_front",
    "plot_history",
    "plot_impedance",
    "plot_map",
    "plot_match",
    "plot_measured",
    "plot_ranking",
    "plot_sensitivity",
    "plot_string_spectrum",
    "plot_taper",
    "plot_turned_down",
]
