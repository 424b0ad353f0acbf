"""The lot file: the only SQL."""
