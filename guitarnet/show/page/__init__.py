"""Pages with a script of their own: the live view and what it is made of."""
