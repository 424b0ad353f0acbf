"""Holes: small black spots that the grain does not turn round."""

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.judge import JudgedSpot, flaw_of
from scanner.vision.flaws.surface import Surface


def find_holes(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return the possible holes of a face (nails, worms, fallen-out pin knots)."""
    return tuple(
        flaw_of(spot, FlawKind.HOLE, "small black spot, grain runs straight past it", surface.u_mm)
        for spot in spots
        if spot.kind is FlawKind.HOLE
    )
