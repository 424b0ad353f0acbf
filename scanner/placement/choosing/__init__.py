"""Which pattern each board gets: the problem, its patterns, master and search."""
