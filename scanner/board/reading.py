"""`FaceReading`: what was read off one face, as a person saw that face; and its measures."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import get_coordinates, get_parts, get_rings
from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union

from scanner.board.board import Station
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.measured import Measured
from scanner.geometry.polygons import largest_polygon

# The five places of a board at which its width is taken, as shares of its length.
STATION_SHARES = (0.04, 0.27, 0.50, 0.73, 0.96)
# Above either of these U a board's sizes are rough.
ROUGH_LENGTH_SHARE, ROUGH_WIDTH_U_MM = 0.005, 5.0


@dataclass(frozen=True, slots=True)
class FaceReading:
    """Outline, flaws and measures of one face in its own view.

    The frame is the face's own: x from its left end along the line through the mid-widths of both
    ends, y down, zero at the smallest x and smallest y of the outline; mm. Flaw outlines are keyed
    1 whatever the face will be.
    """

    outline: Polygon
    flaws: tuple[Flaw, ...]
    length: Measured
    widths: tuple[Station, ...]
    crook_mm: float
    outline_u_mm: float
    sapwood: tuple[Polygon, ...] = ()

    @property
    def wood(self) -> Polygon:
        """Outline plus wane."""
        wane = [f.outlines[1].buffer(0.01) for f in self.flaws if f.kind is FlawKind.WANE]
        return Polygon(largest_polygon(unary_union([self.outline, *wane])).exterior)


def span_along_y_mm(outline: Polygon, x_mm: float) -> tuple[float, float] | None:
    """Return the smallest and largest y of the outline at one x, or None outside it."""
    low, high = spans_along_y_mm(outline, np.array([x_mm]))[0]
    return None if np.isnan(low) else (float(low), float(high))


def spans_along_y_mm(outline: Polygon, x_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the smallest and largest y of the outline at each x, (N, 2); NaN outside it."""
    points, ring = get_coordinates(get_rings(get_parts(outline)), return_index=True)
    is_side = ring[1:] == ring[:-1]
    start, end = points[:-1][is_side], points[1:][is_side]
    left, right = np.minimum(start[:, 0], end[:, 0]), np.maximum(start[:, 0], end[:, 0])
    at, side = np.nonzero((left <= x_mm[:, None]) & (x_mm[:, None] <= right))
    run = end[side] - start[side]
    # The ends of an upright side are its neighbours' too.
    share = (x_mm[at] - start[side, 0]) / np.where(run[:, 0] == 0, 1.0, run[:, 0])
    y = start[side, 1] + share * run[:, 1]
    spans = np.column_stack([np.full(len(x_mm), np.inf), np.full(len(x_mm), -np.inf)])
    np.minimum.at(spans[:, 0], at, y)
    np.maximum.at(spans[:, 1], at, y)
    return np.where(np.isfinite(spans), spans, np.nan)


def width_mm(outline: Polygon, x_mm: float) -> float:
    """Return the width measured along y at one x; 0 outside the outline."""
    span = span_along_y_mm(outline, x_mm)
    return span[1] - span[0] if span else 0.0


def mid_line(outline: Polygon) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the mid-width points of both ends, end at small x first.

    Each end's own, halfway between its corners: wane that runs out at an end changes the width
    within a hand's breadth, so that widths further in put the line askew.
    """
    points = np.asarray(outline.exterior.coords)
    low_x, _, high_x, _ = outline.bounds
    # A corner is what reaches furthest between along and across, however an end slants.
    across = points @ (1.0, 1.0), points @ (1.0, -1.0)
    at = (points[across[0].argmin()] + points[across[1].argmin()]) / 2
    far = (points[across[0].argmax()] + points[across[1].argmax()]) / 2
    slope = (far[1] - at[1]) / (far[0] - at[0])
    reach = LineString(
        [
            (low_x - 50, at[1] + slope * (low_x - 50 - at[0])),
            (high_x + 50, at[1] + slope * (high_x + 50 - at[0])),
        ]
    ).intersection(outline)
    x0, y0, x1, y1 = reach.bounds
    rising = slope >= 0
    return (float(x0), float(y0 if rising else y1)), (float(x1), float(y1 if rising else y0))


def length_mm(outline: Polygon) -> float:
    """Return the distance between the two ends along the mid-width line."""
    a, b = mid_line(outline)
    return float(np.hypot(b[0] - a[0], b[1] - a[1]))


def quality_by_u(length: Measured, widest_u_mm: float) -> Literal["good", "rough"]:
    """Return what sizes are good for by their own U; ``widest_u_mm``: the largest of a width."""
    is_rough = length.u_mm > ROUGH_LENGTH_SHARE * length.value_mm or widest_u_mm > ROUGH_WIDTH_U_MM
    return "rough" if is_rough else "good"


def edge_points_mm(outline: Polygon, side: str, step_mm: float = 20.0) -> np.ndarray:
    """Return points on the ``upper`` (small y) or ``lower`` edge, shape (N, 2), ends left out."""
    low_x, _, high_x, _ = outline.bounds
    margin = 0.03 * (high_x - low_x)
    count = max(3, int((high_x - low_x - 2 * margin) / step_mm))
    points = []
    for x in np.linspace(low_x + margin, high_x - margin, count):
        span = span_along_y_mm(outline, float(x))
        if span:
            points.append((x, span[0] if side == "upper" else span[1]))
    return np.array(points)
