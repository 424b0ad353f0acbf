"""Where in the flattened ground the board lies."""
