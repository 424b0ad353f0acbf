"""Bark pockets: long black spots along the grain with a sharp rim."""

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.judge import JudgedSpot, flaw_of
from scanner.vision.flaws.surface import Surface


def find_bark_pockets(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return the possible bark pockets of a face."""
    return tuple(
        flaw_of(spot, FlawKind.BARK_POCKET, "black streak with a sharp rim", surface.u_mm)
        for spot in spots
        if spot.kind is FlawKind.BARK_POCKET
    )
