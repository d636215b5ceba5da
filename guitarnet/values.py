"""Values as people write them, as makers mark them and as they are sold."""

from .parts.humbucker import CONNECTIONS
from .parts.output import amp_inputs, triode_input_capacitance
from .preferred import marking, nearest_preferred, preferred_values, read_marking
from .study.bench.usual import usual_values
from .units import format_value, prefer_units, read_value

__all__ = [
    "CONNECTIONS",
    "amp_inputs",
    "format_value",
    "marking",
    "nearest_preferred",
    "prefer_units",
    "preferred_values",
    "read_marking",
    "read_value",
    "triode_input_capacitance",
    "usual_values",
]
