"""What a comparison shows, in sentences: quantity, setting and reference in each."""
