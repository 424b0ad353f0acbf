"""Faces of one board as a person sees them, with their flaws, made by hand."""

from dataclasses import replace

from shapely import affinity
from shapely.geometry import Point, Polygon

from scanner.board.board import Station
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.measured import Measured
from scanner.board.reading import FaceReading, length_mm, width_mm
from scanner.geometry.polygons import mirrored


def _zeroed(shape: Polygon, by: tuple[float, float]) -> Polygon:
    return affinity.translate(shape, -by[0], -by[1])


def reading(outline: Polygon, flaws: tuple[Flaw, ...] = ()) -> FaceReading:
    low_x, low_y, _, _ = outline.bounds
    moved = _zeroed(outline, (low_x, low_y))
    length = length_mm(moved)
    stations = tuple(
        Station(share * length, Measured(width_mm(moved, share * length), 1.0))
        for share in (0.04, 0.27, 0.5, 0.73, 0.96)
    )
    kept = tuple(
        replace(flaw, outlines={1: _zeroed(flaw.outlines[1], (low_x, low_y))}) for flaw in flaws
    )
    return FaceReading(moved, kept, Measured(length, 4.0), stations, 0.0, 1.0)


# A board that tapers, with ends that are not square: no mirror maps it onto itself.
FACE = Polygon([(0, 6), (1800, 0), (1812, 170), (8, 190)])


def knot(x: float, y: float, radius: float = 14) -> Flaw:
    return Flaw("K", FlawKind.KNOT, {1: Point(x, y).buffer(radius)}, score=0.9)


def as_turned(outline: Polygon, flaws: tuple[Flaw, ...], turned: str) -> FaceReading:
    """The other face of a board as a person sees it once the board is turned over."""
    _, _, length, width = outline.bounds

    def over(shape: Polygon) -> Polygon:
        return mirrored(shape, turned, length, width)

    return reading(
        over(outline), tuple(replace(f, outlines={1: over(f.outlines[1])}) for f in flaws)
    )


# Of its length and nearly its width: only how it tapers tells it apart.
OTHER = Polygon([(0, 0), (1800, 14), (1795, 178), (3, 188)])
