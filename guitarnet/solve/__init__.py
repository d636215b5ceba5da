"""Netlist in, voltages out: numbers, symbols, SPICE text. Knows nothing of guitars."""
