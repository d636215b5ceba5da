"""What a meter reads: at the jack, between lugs, and whether it is what it should be."""
