"""The parts list as a table that is typed in, pasted into, and marked where it is wrong."""
