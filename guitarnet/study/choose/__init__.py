"""Choosing parts before soldering: bleeds, tone networks, whatever reaches a goal."""
