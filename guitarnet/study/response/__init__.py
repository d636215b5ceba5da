"""What comes out at the jack: responses, their measures, and sweeps of any size."""
