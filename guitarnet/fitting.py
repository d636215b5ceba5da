"""From measurements on pickups to their values."""

from .study.fit.curves import MeasuredCurve, read_curve
from .study.fit.draws import draw_pickup
from .study.fit.fit import fit_pickups
from .study.fit.loads import Load, Unknown
from .study.fit.measured import InductanceReading, Measurements, PeakReading, ReadingFit
from .study.fit.result import CurveFit, FittedValue, PickupFit

__all__ = [
    "CurveFit",
    "FittedValue",
    "InductanceReading",
    "Load",
    "MeasuredCurve",
    "Measurements",
    "PeakReading",
    "PickupFit",
    "ReadingFit",
    "Unknown",
    "draw_pickup",
    "fit_pickups",
    "read_curve",
]
