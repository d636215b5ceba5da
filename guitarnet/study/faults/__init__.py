"""What can be wrong with a wired guitar, how it shows, and how to find it."""
