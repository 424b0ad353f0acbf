"""The parts of each board to be ticked off in the shop."""
