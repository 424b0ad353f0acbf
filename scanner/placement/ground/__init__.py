"""Where on a board a part may lie: clear ground, rooms, rows, ends."""
