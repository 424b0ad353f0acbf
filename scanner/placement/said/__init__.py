"""In words: why a part is not placed, and what would help."""
