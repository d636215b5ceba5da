"""The bench picture: parts as they look from the side one solders on, wired by their joints."""
