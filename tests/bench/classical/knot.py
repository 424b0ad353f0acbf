"""Knots: round spots, mostly darker than the wood further along, that the grain turns round."""

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.judge import JudgedSpot, flaw_of
from scanner.vision.flaws.surface import Surface

# Said to be not sound only above this: on boards left out of the fit it was then right for 87 %
# of knots (real softwood and rendered hardwood alike).
_SURELY_NOT_SOUND = 0.7


def find_knots(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return the possible knots of a face."""
    return tuple(
        flaw_of(
            spot,
            FlawKind.KNOT,
            _reason(spot),
            surface.u_mm,
            sound=False if spot.not_sound > _SURELY_NOT_SOUND else None,
        )
        for spot in spots
        if spot.kind is FlawKind.KNOT
    )


def _reason(spot: JudgedSpot) -> str:
    tone = "dark" if spot.measure("darker") > 4.0 else "darker"
    shape = "round spot" if spot.measure("roundness") > 0.6 else "spot"
    if spot.measure("swirl") > 0.08 or spot.measure("turn") > 0.25:
        said = f"{tone} {shape}, grain turns round it"
    else:
        said = f"{tone} {shape} that does not run on along the grain"
    if spot.not_sound > _SURELY_NOT_SOUND:
        said += "; black ring, crack or hollow in it"
    return said
