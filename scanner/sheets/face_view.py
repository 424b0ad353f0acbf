"""A face on a sheet: from board mm to the page, its photograph, its outline, its flaws."""

from dataclasses import dataclass
from functools import partial

import numpy as np
from PIL import Image, ImageDraw
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.lot.off_board import flaws_on_wood
from scanner.lot.totals import flaw_title
from scanner.sheets.drawing import FINE, INK, PAPER, Photograph, Point, Rgb, Sketch, points_of_ring
from scanner.sheets.fonts import text_width

# Seen apart from any wood and by every kind of colour vision, as it lies off the yellow-brown
# line; the line's pattern says the same once more.
FLAW: Rgb = (178, 0, 98)
# A photograph printed at full strength swallows thin lines, and ink.
_LIGHTEN = 0.18
# How many rings of places round a flaw are tried for its label.
_RINGS = 9
_ONLY_SHOWS = frozenset({FlawKind.STAIN, FlawKind.PITCH})


@dataclass(frozen=True, slots=True)
class FaceView:
    """Where a face lies on a page.

    Attributes
    ----------
    x, y
        Page place of the view's top left corner.
    scale
        Page units per mm.
    bounds
        The part of the board frame shown, mm: x0, y0, x1, y1.
    mirror_x, mirror_y
        Face 2 as a person sees it after turning the board over.
    """

    face: int
    x: float
    y: float
    scale: float
    bounds: tuple[float, float, float, float]
    mirror_x: bool = False
    mirror_y: bool = False

    @property
    def width(self) -> float:
        """Width on the page."""
        return (self.bounds[2] - self.bounds[0]) * self.scale

    @property
    def height(self) -> float:
        """Height on the page."""
        return (self.bounds[3] - self.bounds[1]) * self.scale

    def point(self, x_mm: float, y_mm: float) -> Point:
        """Return the page place of a point of the board."""
        x0, y0, x1, y1 = self.bounds
        across = (x1 - x_mm) if self.mirror_x else (x_mm - x0)
        down = (y1 - y_mm) if self.mirror_y else (y_mm - y0)
        return (self.x + across * self.scale, self.y + down * self.scale)

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        """Return a shape of the board on the page."""
        a = -self.scale if self.mirror_x else self.scale
        e = -self.scale if self.mirror_y else self.scale
        x0, y0 = self.point(0.0, 0.0)
        return affinity.affine_transform(shape, [a, 0, 0, e, x0, y0])

    def ring(self, shape: Polygon) -> tuple[Point, ...]:
        """Return a polygon's outer ring on the page."""
        return points_of_ring(self.shape(shape))

    def box(self, x: float, y: float, length: float, width: float) -> tuple[Point, ...]:
        """Return a rectangle of the board (mm) on the page."""
        corners = ((x, y), (x + length, y), (x + length, y + width), (x, y + width))
        return tuple(self.point(*corner) for corner in corners)


def view_of(board: Board, face: int, x: float, y: float, scale: float) -> FaceView:
    """Return a view of a whole face: face 1 as in the board frame, face 2 turned over."""
    mirror_x = face == 2 and board.turned == "end_over_end"
    mirror_y = face == 2 and board.turned == "sideways"
    return FaceView(face, x, y, scale, board_bounds(board), mirror_x, mirror_y)


def board_bounds(board: Board) -> tuple[float, float, float, float]:
    """Return the bounds of the wood of both faces, mm."""
    every = np.array([board.wood(face).bounds for face in (1, 2)])
    x0, y0 = every[:, :2].min(axis=0)
    x1, y1 = every[:, 2:].max(axis=0)
    return (float(x0), float(y0), float(x1), float(y1))


def draw_face(sketch: Sketch, board: Board, view: FaceView, picture: Photograph | None) -> None:
    """Draw a face's wood: its photograph cut out along the wood, or plain; and its outline."""
    wood = board.wood(view.face)
    if picture is None or board.faces[view.face].mm_per_px is None:
        sketch.area(view.ring(wood), (244, 236, 222))
    else:
        # Made when the page is drawn: a lot's pictures together would fill a memory.
        cut_out = partial(_cut_out, board, view, picture, wood)
        sketch.picture(view.x, view.y, view.width, view.height, cut_out)
    outline = board.faces[view.face].outline
    if wood.area > 1.001 * outline.area:
        sketch.ring(view.ring(wood), 0.5, INK, (2.0, 2.0))
    sketch.ring(view.ring(outline), 0.8, INK)


def draw_flaws(
    sketch: Sketch,
    board: Board,
    view: FaceView,
    *,
    size: float,
    line: float = 1.0,
    blocked: list[Polygon] | None = None,
) -> list[Flaw]:
    """Draw the flaws of a face that count, each with its id and kind; return those without kind.

    A kind goes unsaid where there is no room for it.

    Parameters
    ----------
    size
        Type size of the labels.
    blocked
        Page places that labels must keep free; the labels' own are added.
    """
    taken = blocked if blocked is not None else []
    flaws = flaws_on_wood(board, view.face)
    for flaw in flaws:
        draw_flaw(sketch, flaw, view, line)
    own = flaw_shapes(board, view)
    return [flaw for flaw in flaws if not _label(sketch, flaw, view, size, taken, own)]


def flaw_shapes(board: Board, view: FaceView) -> list[BaseGeometry]:
    """Return the flaws of a face that count, on the page."""
    return [view.shape(f.outlines[view.face]) for f in flaws_on_wood(board, view.face)]


def draw_flaw(sketch: Sketch, flaw: Flaw, view: FaceView, line: float = 1.0) -> None:
    """Draw one flaw: what weakens is hatched, what only shows is dashed, wild grain dotted."""
    shape = view.shape(flaw.outlines[view.face])
    ring = points_of_ring(shape)
    if flaw.state is FlawState.STRUCK:
        sketch.ring(ring, 0.7 * line, INK, (1.0 * line, 3.0 * line), casing=0.4 * line)
        return
    if flaw.kind is FlawKind.WILD_GRAIN:
        sketch.ring(ring, line, FLAW, (1.0 * line, 2.0 * line), casing=0.5 * line)
    elif flaw.kind in _ONLY_SHOWS:
        sketch.ring(ring, line, FLAW, (4.0 * line, 2.5 * line), casing=0.5 * line)
    else:
        sketch.hatch(shape, 4.5 * line, -60.0, 0.7 * line, FLAW, casing=0.35 * line)
        sketch.ring(ring, line, FLAW, casing=0.6 * line)


def _label(
    sketch: Sketch,
    flaw: Flaw,
    view: FaceView,
    size: float,
    taken: list[Polygon],
    flaws: list[BaseGeometry],
) -> bool:
    """Write a flaw's title at the nearest free place round it, with a line to it if far off.

    Returns whether it is the whole title: where that finds no place the id alone is written, over
    flaws if need be, but over other words only where there is no place at all.
    """
    own = view.shape(flaw.outlines[view.face])
    x0, y0, x1, y1 = own.bounds
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    title = flaw_title(flaw)
    for text, kept_free in ((title, [*taken, *flaws]), (flaw.id, taken)):
        wide, high = text_width(text, size) + 0.5 * size, 1.3 * size
        wishes = _round(own.bounds, wide, high, size)
        if text != title:
            wishes.insert(0, (middle[0] - wide / 2, middle[1] - high / 2))
        spots = []
        for wish in wishes:
            spot = _spot(*_clamped(wish, wide, high, view), wide, high)
            spots.append(spot)
            if any(map(spot.intersects, kept_free)):
                continue
            left, top, right, _ = spot.bounds
            foot = (min(max(middle[0], left), right), top + high / 2)
            is_far = spot.distance(box(x0, y0, x1, y1)) > size
            if is_far and any(map(LineString([middle, foot]).intersects, taken)):
                continue
            if is_far:
                sketch.line([middle, foot], 0.7, FLAW, casing=0.4)
            _write(sketch, text, spot, size, taken)
            return text == title
    least = min(spots, key=lambda spot: sum(spot.intersection(one).area for one in taken))
    _write(sketch, flaw.id, least, size, taken)
    return False


def _write(sketch: Sketch, text: str, spot: Polygon, size: float, taken: list[Polygon]) -> None:
    left, top, _, _ = spot.bounds
    taken.append(spot)
    sketch.plate(left + 0.25 * size, top + size, text, size, color=FLAW, fill=PAPER)


def _round(
    bounds: tuple[float, float, float, float], wide: float, high: float, size: float
) -> list[Point]:
    """Return corners for a label round a flaw, the nearest first."""
    x0, y0, x1, y1 = bounds
    level, centred = (y0 + y1 - high) / 2, (x0 + x1 - wide) / 2
    found = []
    for step in range(_RINGS):
        gap = (0.35 + 0.7 * step) * size
        above, below = y0 - gap - high, y1 + gap
        right, left = x1 + gap, x0 - gap - wide
        found += [(right, level), (left, level), (centred, above), (centred, below)]
        found += [(right, above), (right, below), (left, above), (left, below)]
    return found


def _clamped(place: Point, wide: float, high: float, view: FaceView) -> Point:
    """Return a label's corner moved so far that the label stays over the face."""
    x = max(view.x, min(place[0], view.x + view.width - wide))
    y = max(view.y - 2.0, min(place[1], view.y + view.height + 2.0 - high))
    return (x, y)


def _spot(left: float, top: float, wide: float, high: float) -> Polygon:
    return Polygon([(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)])


def _cut_out(board: Board, view: FaceView, picture: Photograph, wood: Polygon) -> Image.Image:
    """Return the photograph of exactly the view's bounds, white beyond the wood, lightened.

    It is as fine as a sheet shows it, and no finer than the photograph.
    """
    face = board.faces[view.face]
    per_px = face.mm_per_px or 1.0
    finer = 1.0 / (view.scale * FINE * per_px)
    if not isinstance(picture, Image.Image):
        coarser = max(k for k in (1, 2, 4, 8) if k <= max(finer, 1.0))
        picture, per_px, finer = picture(coarser), per_px * coarser, finer / coarser
    # The first pixel's centre: coarser pixels begin at the same edge.
    edge = [place - (face.mm_per_px or 1.0) / 2 for place in face.picture_origin or (0.0, 0.0)]
    x0, y0, x1, y1 = view.bounds
    frame = np.array([x0 - edge[0], y0 - edge[1], x1 - edge[0], y1 - edge[1]]) / per_px
    left, top = (int(value) for value in np.floor(frame[:2]))
    right, low = (int(value) for value in np.ceil(frame[2:]))
    around = Image.new("RGB", (max(1, right - left), max(1, low - top)), PAPER)
    around.paste(picture, (-left, -top))
    wanted = (frame[2:] - frame[:2]) / max(finer, 1.0)
    size = (max(1, round(wanted[0])), max(1, round(wanted[1])))
    inside = (frame[0] - left, frame[1] - top, frame[2] - left, frame[3] - top)
    cropped = around.resize(size, Image.Resampling.LANCZOS, box=inside)
    paper = Image.new("RGB", size, PAPER)
    mask = Image.new("L", size, 0)
    across, down = size[0] / (x1 - x0), size[1] / (y1 - y0)
    ring = [((x - x0) * across, (y - y0) * down) for x, y in wood.exterior.coords]
    ImageDraw.Draw(mask).polygon(ring, fill=255)
    # Laid on so thinly it is lighter by as much.
    paper.paste(cropped, mask=mask.point(lambda level: round(level * (1 - _LIGHTEN))))
    if view.mirror_x:
        paper = paper.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    if view.mirror_y:
        paper = paper.transpose(Image.Transpose.FLIP_TOP_BOTTOM)
    return paper
