"""From what was measured on a pickup to the values of its parts."""
