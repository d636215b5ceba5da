"""Impedance and transfer curves from recordings of a sound card."""
