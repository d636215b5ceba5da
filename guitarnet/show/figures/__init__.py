"""Pictures of answers; every function returns Axes or a figure."""
