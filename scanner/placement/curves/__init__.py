"""Parts with a shape: their outlines, and how copies nest."""
