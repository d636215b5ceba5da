"""Measured pickups: what they are, which is nearest, what is usual of a kind."""
