"""Parts of the mutation test; see tools/mutate.py."""
