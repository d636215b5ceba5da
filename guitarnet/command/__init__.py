"""The command ``guitarnet``: the usual jobs for a person who writes no Python."""
