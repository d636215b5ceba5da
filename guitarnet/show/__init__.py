"""Figures and the live knob view."""
