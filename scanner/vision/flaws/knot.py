"""Knots: round spots, mostly darker than the wood further along, that the grain turns round."""

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.knot_model import knot_scores
from scanner.vision.flaws.spots import Spot, find_spots
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

# Below this a spot is not worth the user's look: on the tuning boards the missed knots and the
# false candidates balance here (tests/bench/fit_knots.py prints the table).
_LEAST_SCORE = 0.3
# Two outlines that share more than this of the smaller one are the same knot.
_SAME_SHARE = 0.25


def find_knots(surface: Surface) -> tuple[Flaw, ...]:
    """Return the possible knots of a face."""
    spots = find_spots(surface)
    if not spots:
        return ()
    scores = knot_scores(np.array([spot.measures for spot in spots]))
    kept: list[tuple[Spot, Polygon, float]] = []
    for index in np.argsort(-scores):
        score = float(scores[index])
        if score < _LEAST_SCORE:
            break
        spot = spots[index]
        outline = outline_of_spot(surface, spot)
        if outline.is_empty or any(_same(outline, other) for _, other, _ in kept):
            continue
        kept.append((spot, outline, score))
    return tuple(
        Flaw(
            id="",
            kind=FlawKind.KNOT,
            outlines={1: outline},
            sound=False if _looks_loose(spot) else None,
            score=round(score, 3),
            reason=_reason(spot),
            u_mm=surface.u_mm,
        )
        for spot, outline, score in kept
    )


def outline_of_spot(surface: Surface, spot: Spot) -> Polygon:
    """Return a spot's outline in face mm."""
    local = surface.outline_of(spot.region)
    if local.is_empty:
        return local
    return affinity.translate(local, spot.column * WORK_MM_PER_PX, spot.row * WORK_MM_PER_PX)


def _same(a: Polygon, b: Polygon) -> bool:
    if not a.intersects(b):
        return False
    return bool(a.intersection(b).area > _SAME_SHARE * min(a.area, b.area))


def _looks_loose(spot: Spot) -> bool:
    """Return whether the spot shows a hollow, a crack or a black ring: far darker than its own mean."""
    return spot.measure("darker_peak") - spot.measure("darker") > 6.0 and (
        spot.measure("darker_peak") > 14.0
    )


def _reason(spot: Spot) -> str:
    tone = "dark" if spot.measure("darker") > 4.0 else "darker"
    shape = "round spot" if spot.measure("roundness") > 0.6 else "spot"
    if spot.measure("swirl") > 0.08 or spot.measure("turn") > 0.25:
        return f"{tone} {shape}, grain turns round it"
    return f"{tone} {shape} that does not run on along the grain"
