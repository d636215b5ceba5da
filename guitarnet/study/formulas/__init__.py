"""The circuit as formulas, and as text for other general programs."""
