"""The board's arrises, ends and wane, traced in a flat picture."""
