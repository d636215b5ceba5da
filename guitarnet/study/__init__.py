"""Questions put to a harness: response, measures, impedance, meter readings."""
