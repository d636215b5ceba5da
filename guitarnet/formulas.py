"""The circuit as branches between nodes, as formulas, and as text for other general programs."""

from .circuit.netlist import Branch, Netlist
from .solve.ac import node_impedance, node_voltage
from .study.formulas.handover import to_lcapy, to_spice
from .study.formulas.symbols import dc_gain, poles, symbol_of, symbols_of, transfer_function, zeros

__all__ = [
    "Branch",
    "Netlist",
    "dc_gain",
    "node_impedance",
    "node_voltage",
    "poles",
    "symbol_of",
    "symbols_of",
    "to_lcapy",
    "to_spice",
    "transfer_function",
    "zeros",
]
