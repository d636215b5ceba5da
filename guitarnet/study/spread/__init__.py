"""What tolerances, temperature and noise make of an answer."""
