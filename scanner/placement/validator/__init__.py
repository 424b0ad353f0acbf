"""The independent judge of a finished layout; shares no code with the search."""
