"""The board as a value, how its two faces become one, and what else is known of it."""
