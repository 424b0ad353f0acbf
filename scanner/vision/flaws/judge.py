"""Which spots are flaws, and of what kind: each patch of wood is given to one finder only."""

from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.spot_measures import FEATURES
from scanner.vision.flaws.spot_model import BARK_POCKET, FLAW, HOLE, NOT_SOUND
from scanner.vision.flaws.spots import Spot, find_spots
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

# Below this a spot is not worth the user's look: on boards left out of the fit one false candidate
# in four faces is left here and 114 of 114 knots over 10 mm (tests/bench/fit_flaws.py).
_LEAST_SCORE = 0.3
# End paint, chipped corners and end stain crowd at the ends: a spot that touches one must look
# like a knot more surely.
_LEAST_SCORE_AT_END = 0.6
_AT_END_MM = 4.0
# Bark that still clings beside wane is not a flaw of its own.
_BESIDE_WANE_MM = 6.0
# A shadow's rim is soft and its wood no browner (log red / blue) than the wood beside it. Of 1965
# fitted knots, holes and bark pockets none is both, of what was wrongly taken for one a quarter.
_SHADE_BROWNER, _SHADE_SHARPNESS = 0.02, 0.09
# Two outlines that share more than this of the smaller one are the same spot.
_SAME_SHARE = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class JudgedSpot:
    """A spot that is likely a flaw.

    Attributes
    ----------
    outline
        Face mm.
    kind
        Knot, hole or bark pocket.
    score
        How likely it is a flaw at all, 0 to 1.
    not_sound
        How likely, if a knot, it is loose, hollow or cracked, 0 to 1.
    """

    spot: Spot
    outline: Polygon
    kind: FlawKind
    score: float
    not_sound: float

    def measure(self, name: str) -> float:
        """Return one measure of the spot by name."""
        return self.spot.measure(name)


def judge_spots(surface: Surface, wane: tuple[Polygon, ...] = ()) -> tuple[JudgedSpot, ...]:
    """Return the spots of a face that are likely flaws; their outlines do not overlap much."""
    spots = find_spots(surface)
    if not spots:
        return ()
    measures = np.array([spot.measures for spot in spots])
    scores = FLAW.odds(measures, FEATURES)
    holes, pockets, not_sound = (
        model.odds(measures, FEATURES) for model in (HOLE, BARK_POCKET, NOT_SOUND)
    )
    kept: list[JudgedSpot] = []
    for index in np.argsort(-scores, kind="stable"):
        if scores[index] < _LEAST_SCORE:
            break
        if _is_shade(spots[index]):
            continue
        outline = outline_of_spot(surface, spots[index])
        if outline.is_empty or any(_same(outline, other.outline) for other in kept):
            continue
        if scores[index] < _LEAST_SCORE_AT_END and _touches_end(surface, spots[index]):
            continue
        if any(outline.centroid.distance(bark) < _BESIDE_WANE_MM for bark in wane):
            continue
        kind = FlawKind.KNOT
        if max(holes[index], pockets[index]) > 0.5:
            is_hole = holes[index] >= pockets[index]
            kind = FlawKind.HOLE if is_hole else FlawKind.BARK_POCKET
        kept.append(
            JudgedSpot(spots[index], outline, kind, float(scores[index]), float(not_sound[index]))
        )
    return tuple(kept)


def flaw_of(
    spot: JudgedSpot, kind: FlawKind, reason: str, u_mm: float, sound: bool | None = None
) -> Flaw:
    """Return the possible flaw that a spot is."""
    return Flaw(
        id="",
        kind=kind,
        outlines={1: spot.outline},
        sound=sound,
        score=round(spot.score, 3),
        reason=f"{reason}, {_size_text(spot.outline)}",
        u_mm=u_mm,
    )


def _size_text(outline: Polygon) -> str:
    """Return a spot's length and width as the user would measure them."""
    sides = np.asarray(outline.minimum_rotated_rectangle.exterior.coords)
    lengths = np.hypot(*np.diff(sides[:3], axis=0).T)
    return f"{max(lengths):.0f} x {min(lengths):.0f} mm"


def outline_of_spot(surface: Surface, spot: Spot) -> Polygon:
    """Return a spot's outline in face mm."""
    local = surface.outline_of(spot.region)
    if local.is_empty:
        return local
    return affinity.translate(local, spot.column * WORK_MM_PER_PX, spot.row * WORK_MM_PER_PX)


def _touches_end(surface: Surface, spot: Spot) -> bool:
    """Return whether the spot reaches an end of the board."""
    row = min(spot.row + spot.region.shape[0] // 2, surface.wood.shape[0] - 1)
    there = np.flatnonzero(surface.wood[row])
    if not len(there):
        return True
    reach = round(_AT_END_MM / WORK_MM_PER_PX)
    right = spot.column + spot.region.shape[1]
    return bool(spot.column - there[0] < reach or there[-1] - right < reach)


def _is_shade(spot: Spot) -> bool:
    """Return whether the spot looks like a fleck of shade and like no flaw."""
    grey = spot.measure("browner") < _SHADE_BROWNER
    return grey and spot.measure("sharpness") < _SHADE_SHARPNESS


def _same(a: Polygon, b: Polygon) -> bool:
    if not a.intersects(b):
        return False
    return bool(a.intersection(b).area > _SAME_SHARE * min(a.area, b.area))
