"""The drawn circuit of a guitar, true to its joints."""
