"""What one can buy: parts with lugs, values in SI and a stamp."""
