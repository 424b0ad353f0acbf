"""Knots: round dark spots that the grain turns round."""

from scanner.board.flaw import Flaw
from scanner.vision.flaws.surface import Surface


def find_knots(surface: Surface) -> tuple[Flaw, ...]:
    """Return the possible knots of a face."""
    return ()
