"""Damaged files at every border: read, or refused in one sentence; never a crash or a hang."""
