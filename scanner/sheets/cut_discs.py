"""Where on a face the numbers of rips and cuts to length stand, none over another."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from scanner.placement.layout import Cut
from scanner.sheets.drawing import INK, Sketch, disc_radius
from scanner.sheets.drawing import Point as Place
from scanner.sheets.face_view import FaceView

_SIZE = 6.0
# A number keeps so far from the start of its line, and steps aside along it by so much.
_INSET, _STEP = 3.0, 2.0
# Where a short line is crowded its number stands beside it, this many steps off at most.
_BESIDE = 12


@dataclass(frozen=True, slots=True)
class CutDisc:
    """A cut's number at its place on the page; ``foot``: on its line, where it stands off it."""

    text: str
    spot: Polygon
    foot: Place | None = None


def cut_discs(cuts: Sequence[Cut], view: FaceView, flaws: Sequence[BaseGeometry]) -> list[CutDisc]:
    """Return a place for the number of each rip and final cut, in sawing order.

    Each number stands on its own line near the start. Where lines lie close it steps aside along
    its line; where the line is too short for that it stands beside it, with a line to it.

    Parameters
    ----------
    cuts
        The cuts of one board; crosscuts are left out, as their numbers stand outside the face.
    flaws
        What the numbers should not hide, on the page.
    """
    chosen = [cut for cut in cuts if cut.kind != "crosscut"]
    lines = {cut.order: _line(cut, view) for cut in chosen}
    # Short lines have little choice, so they choose first.
    found: dict[int, CutDisc] = {}
    for cut in sorted(chosen, key=lambda c: (c.kind != "final", c.order)):
        placed = [disc.spot for disc in found.values()]
        line = lines[cut.order]
        shorts = [lines[c.order] for c in chosen if c.kind == "final" and c is not cut]
        found[cut.order] = _disc(str(cut.order), line, view, flaws, placed, shorts)
    return [found[order] for order in sorted(found)]


def draw_discs(sketch: Sketch, discs: Sequence[CutDisc]) -> None:
    """Draw the numbers, those that stand off their lines with a line to them."""
    for disc in discs:
        if disc.foot is not None:
            middle = disc.spot.centroid
            sketch.line([(middle.x, middle.y), disc.foot], 0.8, INK, casing=0.5)
    for disc in discs:
        sketch.disc(disc.spot.centroid.x, disc.spot.centroid.y, disc.text, _SIZE)


def _line(cut: Cut, view: FaceView) -> LineString:
    """Return a cut's line on the page, from its left or upper end."""
    return LineString(sorted((view.point(*cut.from_mm), view.point(*cut.to_mm))))


def _disc(
    text: str,
    line: LineString,
    view: FaceView,
    flaws: Sequence[BaseGeometry],
    placed: Sequence[Polygon],
    shorts: Sequence[LineString],
) -> CutDisc:
    """Return the first free place on the line, else beside it, else what hides least."""
    radius = disc_radius(text, _SIZE)
    blocked = [*flaws, *placed]
    on_it = []
    for place in _along(line, radius):
        spot = _spot(place, radius)
        on_it.append(spot)
        if not _touches(spot, blocked):
            return CutDisc(text, spot)
    paper = box(view.x, view.y, view.x + view.width, view.y + view.height)
    off_it = []
    for place, foot in _beside(line, radius):
        spot = _spot(place, radius)
        leader = LineString([place, foot])
        if not paper.covers(Point(place)) or any(map(leader.intersects, placed)):
            continue
        # On another short line it would pass for that one's number.
        if not _touches(spot, [*blocked, *shorts]):
            return CutDisc(text, spot, foot)
        off_it.append(CutDisc(text, spot, foot))
    # Numbers over each other cannot be read; a number over a flaw hides a little of it.
    every = [*(CutDisc(text, spot) for spot in on_it), *off_it]
    return min(every, key=lambda disc: (_hidden(disc.spot, placed), _hidden(disc.spot, flaws)))


def _touches(spot: Polygon, others: Sequence[BaseGeometry]) -> bool:
    return bool(shapely.intersects(spot, np.asarray(others, object)).any())


def _hidden(spot: Polygon, under: Sequence[BaseGeometry]) -> float:
    return float(shapely.area(shapely.intersection(spot, np.asarray(under, object))).sum())


def _along(line: LineString, radius: float) -> Iterator[Place]:
    """Yield places on a line from its start on; only its middle where it is short."""
    length = max(float(line.length), 1.0)
    steps = max(1, int((length - 2 * radius - 2 * _INSET) / _STEP))
    for step in range(steps):
        at = line.interpolate(length / 2 if steps == 1 else radius + _INSET + _STEP * step)
        yield (float(at.x), float(at.y))


def _beside(line: LineString, radius: float) -> Iterator[tuple[Place, Place]]:
    """Yield places beside a line with their feet on it, the nearest first."""
    (x0, y0), (x1, y1) = line.coords
    length = max(math.dist((x0, y0), (x1, y1)), 1e-6)
    across = ((y0 - y1) / length, (x1 - x0) / length)
    feet = [line.interpolate(share, normalized=True) for share in (0.5, 0.25, 0.75)]
    for step in range(_BESIDE):
        off = radius + 0.5 * _STEP + _STEP * step
        for foot in feet:
            for side in (1.0, -1.0):
                place = (foot.x + side * off * across[0], foot.y + side * off * across[1])
                yield place, (float(foot.x), float(foot.y))


def _spot(place: Place, radius: float) -> Polygon:
    x, y = place
    return box(x - radius, y - radius, x + radius, y + radius)
