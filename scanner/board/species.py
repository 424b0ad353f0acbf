"""When two names are one species: whatever their capitals, and the spaces round them."""

# A board's species where nobody said it.
UNNAMED = "unknown"


def species_key(name: str) -> str:
    """Return a species' name as it is compared."""
    return name.casefold().strip()
