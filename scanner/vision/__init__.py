"""From photographs to a flat face at true scale, its outline and its possible flaws."""
