"""How wide a crack is drawn: the network's region of one is wider than the crack itself."""

import numpy as np
from shapely.geometry import LineString, Polygon

from scanner.board.reading import spans_along_y_mm
from scanner.geometry.polygons import largest_polygon, union_of

# So much of the network's region lies beside the crack on either side: it was taught cracks a
# pixel wider than they are (`training/snap.py`). Of 39 cracks on 24 flat rendered faces
# (seeds 5200-5222, every second) regions were 3.0 mm wide on average, cracks 0.8 to 1.8; taken off
# this leaves 2.0 mm, and 99.1 instead of 99.3 % of the cracks' area lie within the usual U, 0.9 mm.
_BESIDE_MM = 0.6
# However fine a crack, so far to either side of its course is drawn: the course is known no better.
_LEAST_HALF_MM = 0.75
# The course is the region's middle, even over this far along the board.
_STEP_MM, _EVEN_STEPS = 0.5, 9
# Where some of the region lies so far from the narrowed outline, it has lost a piece: an arm that
# hung on by a neck. So it is with 2 of 114 cracks on 49 flat rendered faces (seeds 5200-5352).
_LOST_MM = 3.0


def narrowed(region: Polygon) -> Polygon:
    """Return a crack's outline from the network's region of it.

    Parameters
    ----------
    region
        Outline of the region, the grain along x, mm; what comes back is as long and has all arms.
    """
    x0, _, x1, _ = region.bounds
    x = np.arange(x0 + _STEP_MM / 2, x1, _STEP_MM)
    if len(x) < _EVEN_STEPS:
        return region
    middle = spans_along_y_mm(region, x).mean(axis=1)
    half = _EVEN_STEPS // 2
    even = np.convolve(
        np.pad(middle, half, mode="edge"), np.full(_EVEN_STEPS, 1 / _EVEN_STEPS), "valid"
    )
    course = LineString(np.column_stack([[x0, *x, x1], [even[0], *even, even[-1]]]))
    core = course.buffer(_LEAST_HALF_MM, cap_style="flat")
    shape = largest_polygon(union_of([region.buffer(-_BESIDE_MM), core]).intersection(region))
    # Where a region runs back on itself its middle lies outside of it, and nothing is taken off.
    return shape if shape.buffer(_LOST_MM).covers(region) else region
