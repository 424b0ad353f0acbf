"""Wild grain: the region round a knot, larger than the knot, where the grain leaves its course."""

import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.judge import JudgedSpot
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Singles, Surface, paint
from scanner.vision.grain import masked_blurs, turned_from

# Slope of 1 in 5: strength is about half (Wood Handbook, slope of grain) and the plane tears.
_WILD_RAD = float(np.arctan(1 / 5))
# Only knots that are worth it: round smaller ones the plane runs through.
_LEAST_KNOT_MM = 12.0
_LEAST_TIMES_KNOT = 1.5
# Round a doubtful knot a doubtful region would only be one more thing to strike.
_SURE_KNOT = 0.6
# Grain runs past a knot as a stream past a post: round a round one it slopes 1 in 5 no further out
# than 1.92 of its radii along and 1.71 across (reckoned from the potential flow past a
# cylinder; that grain runs so: the flow-grain analogy, Phillips, Bodig and Goodman 1981, cited from
# memory). Knots are seldom cut round. What seems turned beyond so many of a knot's own
# half lengths and half widths is figure, or the grain's direction blurred: on 24 flat rendered
# faces (seeds 5200-5222, every second) outlines without this limit lay up to 24 mm (95 %) outside
# of the true ones, 3 mm at the median; with it 4.9 and 0.3, and as far inside as before (4.6).
_MOST_ALONG, _MOST_ACROSS = 2.3, 1.75
# A knot's surroundings are cut out with so much room for what joins wild places.
_ROOM_PX = 12


def find_wild_grain(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return the regions of wild grain round the knots of a face."""
    knots = [
        spot
        for spot in spots
        if spot.kind is FlawKind.KNOT
        and spot.score > _SURE_KNOT
        and _size_mm(spot) > _LEAST_KNOT_MM
    ]
    if not knots:
        return ()
    wood = surface.wood.astype(np.float32)
    doubled = 2 * surface.grain.angle_rad
    # The board's own course: the grain over a wide neighbourhood, which a knot hardly moves.
    both = [turn(doubled) * surface.grain.coherence for turn in (np.sin, np.cos)]
    sine, cosine = masked_blurs(both, wood, 160.0, 60.0)
    course = 0.5 * np.arctan2(sine, cosine)
    found = []
    for knot in knots:
        shape = _region_round(surface, course.astype(np.float32), knot)
        if shape.area > _LEAST_TIMES_KNOT * knot.outline.area:
            found.append(
                Flaw(
                    id="",
                    kind=FlawKind.WILD_GRAIN,
                    outlines={1: shape},
                    score=round(0.8 * knot.score, 3),
                    reason="grain turned round a knot by more than 1 in 5",
                    u_mm=max(3.0, surface.u_mm),
                )
            )
    return tuple(found)


def _size_mm(spot: JudgedSpot) -> float:
    return float(2 * np.sqrt(spot.outline.area / np.pi))


def _region_round(surface: Surface, course: Singles, knot: JudgedSpot) -> Polygon:
    """Return the wild grain that touches a knot, the knot with it, as far as a knot turns grain.

    ``course``: (H, W) the direction of the grain round about, radians.
    """
    reach = affinity.scale(knot.outline, _MOST_ALONG, _MOST_ACROSS, origin="centroid")
    bounds = (np.asarray(reach.bounds).reshape(2, 2) - surface.origin_mm) / WORK_MM_PER_PX
    left, top = np.maximum(np.floor(bounds[0]).astype(int) - _ROOM_PX, 0).tolist()
    right, bottom = (np.ceil(bounds[1]).astype(int) + _ROOM_PX).tolist()
    box = np.s_[top:bottom, left:right]
    wood = surface.wood[box]
    off = left * WORK_MM_PER_PX, top * WORK_MM_PER_PX
    origin = surface.origin_mm[0] + off[0], surface.origin_mm[1] + off[1]
    near, core = (paint(one, origin, wood.shape) for one in (reach, knot.outline.buffer(1.0)))
    turned = turned_from(surface.grain.angle_rad[box], course[box])
    wild = (turned > _WILD_RAD) & (surface.grain.coherence[box] > 0.15) & wood
    joined = cv2.morphologyEx(
        ((wild & near) | core).astype(np.uint8),
        cv2.MORPH_CLOSE,
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9)),
    )
    _, labels = cv2.connectedComponents(joined, connectivity=4)
    touching = np.unique(labels[core])
    own = np.isin(labels, touching[touching > 0]) & wood
    shape = surface.outline_of(own, smooth_mm=2.0 * WORK_MM_PER_PX)
    return affinity.translate(shape, *off)
