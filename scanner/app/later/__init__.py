"""Photos taken after a cut: pieces, ends and edges."""
