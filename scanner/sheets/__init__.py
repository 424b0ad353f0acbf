"""Everything that is printed: board maps, the coded strip."""
