"""The browser's side of a group put together: pieces slid, swapped, flipped and turned."""
