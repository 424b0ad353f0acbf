"""Cutting problems that a person can solve by hand."""
