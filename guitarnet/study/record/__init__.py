"""A record that remembers: pickups and guitars, what was read, found and done, in one file."""
