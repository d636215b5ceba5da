"""From a plucked string to a sound file."""
