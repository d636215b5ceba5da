"""From measurements on a pickup to the values of its parts."""
