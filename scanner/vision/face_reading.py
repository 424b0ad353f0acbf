"""What a traced face measures: length, widths, crook, wane, each with its U; how good they are."""

import math
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, Polygon

from scanner.board.board import Station
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.form import crook_mm
from scanner.board.measured import Measured
from scanner.board.reading import (
    STATION_SHARES,
    FaceReading,
    edge_points_mm,
    mid_line,
    quality_by_u,
    span_along_y_mm,
)
from scanner.errors import PhotoError
from scanner.vision.fit.lengths import SMALLEST_U_MM, rounded_u
from scanner.vision.fit.scale_fit import EDGE_SD_PX, ScaleFit
from scanner.vision.flaws import SeenWood
from scanner.vision.outline.trace import TracedOutline
from scanner.vision.photos.picture import FacePicture
from scanner.vision.rectify import FacePlace

# Beyond these no number is given.
_MOST_U_LENGTH = 0.03
_MOST_U_WIDTH = 0.10


def read_off(
    picture: FacePicture,
    fit: ScaleFit,
    place: FacePlace,
    traced: TracedOutline,
    wood: SeenWood,
) -> tuple[FaceReading, FacePicture]:
    """Return the measures, and the picture with its origin in the face's own frame."""
    low_x, low_y, _, _ = traced.outline.bounds

    def in_face(shape: Polygon) -> Polygon:
        return affinity.translate(shape, -low_x, -low_y)

    outline = traced.outline
    a, b = mid_line(outline)
    ends = place.rule_from_place(np.array([a, b]))
    length = length_between(fit, ends)
    stations = []
    for share in STATION_SHARES:
        x = a[0] + share * (b[0] - a[0])
        span = span_along_y_mm(outline, x)
        if span is None:
            continue
        u = _u_across_mm(fit, place, x, span)
        # Whatever makes an arris doubtful there, or lies over it, adds to what the fit knows.
        more = [*traced.doubt_u_mm(x), *(_thickness_mm(shape, x) for shape in traced.covered)]
        if any(more):
            u = math.ceil(10 * math.hypot(u, *more)) / 10
        stations.append(Station(x - low_x, Measured(span[1] - span[0], u)))
    edges = [edge_points_mm(outline, side) for side in ("upper", "lower")]
    outline_u_mm = _outline_u_mm(fit, place, traced)
    reading = FaceReading(
        outline=in_face(outline),
        flaws=tuple(
            replace(flaw, outlines={1: in_face(flaw.outlines[1])})
            for flaw in (*_as_flaws(traced, outline_u_mm), *wood.flaws)
        ),
        length=length,
        widths=tuple(stations),
        # The straighter edge tells the crook: the other may carry wane or a saw's wander.
        crook_mm=min(crook_mm(edge) for edge in edges),
        outline_u_mm=outline_u_mm,
        sapwood=tuple(in_face(shape) for shape in wood.sapwood),
    )
    origin = (picture.origin_mm[0] - low_x, picture.origin_mm[1] - low_y)
    return reading, replace(picture, origin_mm=origin)


def length_between(fit: ScaleFit, ends_mm: NDArray[np.float64]) -> Measured:
    """Return the board's length between two ends (2, 2), rule frame.

    Where the tape was tied to other ends than are read, U covers the difference.
    """
    u, off = fit.u_between(ends_mm[0], ends_mm[1]), fit.off_the_tape_mm(ends_mm[0], ends_mm[1])
    if abs(off) > SMALLEST_U_MM:
        u = rounded_u(math.hypot(u, off))
    return Measured(float(np.hypot(*(ends_mm[1] - ends_mm[0]))), u)


def off_the_tape(fit: ScaleFit, ends_mm: NDArray[np.float64]) -> tuple[str, ...]:
    """Return a doubt where two ends (2, 2), rule frame, lie further off a tape's than U allows."""
    off = fit.off_the_tape_mm(ends_mm[0], ends_mm[1])
    if abs(off) <= fit.u_between(ends_mm[0], ends_mm[1]):
        return ()
    return (
        f"the board's ends are seen {abs(off):.0f} mm {'further apart' if off > 0 else 'nearer'} "
        "than its taped length, which the length's ± now covers: see that nothing lies over an "
        "end, and take the photo again",
    )


def _u_across_mm(fit: ScaleFit, place: FacePlace, x: float, span: tuple[float, float]) -> float:
    """Return U of a width at a place along the board between two well seen edges, by the fit."""
    both = place.rule_from_place(np.array([(x, span[0]), (x, span[1])]))
    return fit.u_between(both[0], both[1], sd_p_px=EDGE_SD_PX, sd_q_px=EDGE_SD_PX)


def _outline_u_mm(fit: ScaleFit, place: FacePlace, traced: TracedOutline) -> float:
    """Return U of the outline: that of well seen edges by the fit, or of faint ones as traced.

    Rendered boards on floors of their own colour and on grass had arrises 2 to 5 mm off whose U
    said a millimetre, since only the fit's had been told.
    """
    a, b = mid_line(traced.outline)
    x = (a[0] + b[0]) / 2
    span = span_along_y_mm(traced.outline, x)
    if span is None:
        return traced.u_mm
    edges = place.rule_from_place(np.array([(x, span[0]), (x, span[1])]))
    return max(fit.u_of_edge(edges[0], edges[1]), traced.u_mm)


def _thickness_mm(shape: Polygon, x: float) -> float:
    """Return how far a shape reaches along y at a place along the board, 0 where it does not."""
    _, low, _, high = shape.bounds
    return float(shape.intersection(LineString([(x, low - 1), (x, high + 1)])).length)


def _as_flaws(traced: TracedOutline, outline_u_mm: float) -> tuple[Flaw, ...]:
    return tuple(
        Flaw(
            id=f"W{n}",
            kind=FlawKind.WANE,
            outlines={1: shape},
            score=0.9,
            reason="bark or a rounded edge outside the flat face",
            u_mm=outline_u_mm,
        )
        for n, shape in enumerate(traced.wane, start=1)
    )


def widest_u_mm(fit: ScaleFit, place: FacePlace, outline: Polygon) -> float:
    """Return the largest U of a width by the fit, whatever lies over an edge."""
    a, b = mid_line(outline)
    along = [a[0] + share * (b[0] - a[0]) for share in STATION_SHARES]
    spans = ((x, span_along_y_mm(outline, x)) for x in along)
    return max(_u_across_mm(fit, place, x, span) for x, span in spans if span)


def quality_of(
    reading: FaceReading, widest_by_fit_mm: float, name: str
) -> Literal["good", "rough"]:
    """Return how good a face's sizes are; refused is what the fit itself tells too little of.

    A width that something lies over is unsure in that place only, and makes the board rough.
    """
    length = reading.length
    widest = max(station.width.u_mm for station in reading.widths)
    narrowest = min(reading.widths, key=lambda station: station.width.value_mm).width
    mend = "take the photo again from higher up, or tape the board and give its length"
    if length.u_mm > _MOST_U_LENGTH * length.value_mm:
        raise PhotoError(f"{name} gives the board's length only as {length.text()}", mend)
    if widest_by_fit_mm > _MOST_U_WIDTH * narrowest.value_mm:
        told = Measured(narrowest.value_mm, widest_by_fit_mm)
        raise PhotoError(f"{name} gives the board's width only as {told.text()}", mend)
    return quality_by_u(length, widest)
