"""What two faces that lie over each other disagree in, as places that can be shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shapely.geometry import MultiPolygon, Polygon

from scanner.board.one_board import hear, told_slants
from scanner.board.partners import is_spot, is_sure_knot, partners

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from scanner.board.reading import FaceReading

# Thinner differences of the outlines are tracing, and edges sawn out of square.
_SHOWN_MM = 5.0


@dataclass(frozen=True, slots=True)
class Apart:
    """Where the faces disagree; all shapes in the first face's frame, mm.

    Attributes
    ----------
    wood_only_1, wood_only_2
        Where only the one face has wood.
    knots_1, knots_2
        Sure knots that have no partner on the other face.
    slants_deg
        By end, ``left`` and ``right``: how it slants on the first face and on the other, only
        where that tells of two boards.
    """

    wood_only_1: tuple[Polygon, ...]
    wood_only_2: tuple[Polygon, ...]
    knots_1: tuple[Polygon, ...]
    knots_2: tuple[Polygon, ...]
    slants_deg: dict[str, tuple[float, float]]


def apart(first: FaceReading, seen: FaceReading, thickness_mm: float) -> Apart:
    """Return where two faces disagree.

    Parameters
    ----------
    first, seen, thickness_mm
        As `one_board.hear` takes them.
    """
    spots = [tuple(flaw for flaw in face.flaws if is_spot(flaw)) for face in (first, seen)]
    pairs = partners(spots[0], spots[1], thickness_mm)
    paired = {i for i, _ in pairs}, {j for _, j in pairs}
    knots_1, knots_2 = (
        tuple(
            flaw.outlines[1]
            for at, flaw in enumerate(flaws)
            if at not in with_partner and is_sure_knot(flaw)
        )
        for flaws, with_partner in zip(spots, paired, strict=True)
    )
    return Apart(
        _only(first.wood, seen.wood),
        _only(seen.wood, first.wood),
        knots_1,
        knots_2,
        told_slants(hear(first, seen, thickness_mm)),
    )


def _only(own: Polygon, other: Polygon) -> tuple[Polygon, ...]:
    """Return where only the first shape is, slivers left out."""
    half = 0.5 * _SHOWN_MM
    thick = own.difference(other).buffer(-half).buffer(half)
    return _polygons(thick)


def _polygons(shape: BaseGeometry) -> tuple[Polygon, ...]:
    if isinstance(shape, Polygon):
        return () if shape.is_empty else (shape,)
    return tuple(shape.geoms) if isinstance(shape, MultiPolygon) else ()
