"""From the layout to cut parts: by hand, ends, marks, sticks, saws, milling, left-overs."""
