"""Cameras, references and face in one least-squares fit, and the U of every length."""
