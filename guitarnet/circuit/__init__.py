"""Parts joined at their lugs: netlist, harness, settings, ready layouts."""
