"""Finding what has a known size: coded strip and arms, plain rules by their graduations."""
