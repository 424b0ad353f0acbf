"""The picture of why two faces were refused: one above the other, with what disagrees marked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image
from shapely.geometry import LineString, Point

from scanner.board.one_board import END_NAMES
from scanner.sheets.drawing import GREY, INK, PAPER, Anchor, Sketch, points_of_ring
from scanner.sheets.face_view import FLAW, FaceView
from scanner.sheets.fonts import text_width, wrapped
from scanner.sheets.png import page_image

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.apart import Apart

_WIDTH_PX = 1800
_ACROSS, _SIDE, _LINE = 1000.0, 10.0, 15.0
_MARGIN_MM = 25.0
# A ring round a knot keeps clear of it, or it hides what it shows.
_CLEAR_MM, _SMALLEST_MM = 6.0, 14.0


@dataclass(frozen=True, slots=True, eq=False)
class ShownFace:
    """A flat face as it lies in the first face's frame.

    Attributes
    ----------
    pixels
        (H, W, 3) uint8 RGB.
    origin_mm
        Place of the centre of the first pixel, mm.
    """

    name: str
    pixels: NDArray[np.uint8]
    origin_mm: tuple[float, float]
    mm_per_px: float
    wood: Polygon


def draw_apart(faces: tuple[ShownFace, ShownFace], found: Apart, reason: str) -> Image.Image:
    """Return both faces at one scale, the second as seen through the board.

    Parameters
    ----------
    faces
        The first face and the other, laid under it.
    found
        Where they disagree.
    reason
        The sentence of the refusal.
    """
    bounds = np.array([face.wood.bounds for face in faces])
    x0, y0 = bounds[:, :2].min(axis=0) - _MARGIN_MM
    x1, y1 = bounds[:, 2:].max(axis=0) + _MARGIN_MM
    scale = (_ACROSS - 2 * _SIDE) / (x1 - x0)
    words = wrapped(reason, _ACROSS - 2 * _SIDE, 13.0, bold=True)
    top = _SIDE + _LINE * len(words)
    high = (y1 - y0) * scale
    sketch = Sketch(_ACROSS, top + 2 * (high + 1.6 * _LINE) + 2.2 * _LINE)
    for row, line in enumerate(words):
        sketch.text(_SIDE, _SIDE + _LINE * (row + 0.8), line, 13.0, bold=True)
    shown = (found.wood_only_1, found.wood_only_2), (found.knots_1, found.knots_2)
    for at, face in enumerate(faces):
        above = top + at * (high + 1.6 * _LINE)
        seen = "" if at == 0 else ", seen through the board and laid under the first"
        sketch.text(_SIDE, above + 1.1 * _LINE, f"{face.name}{seen}", 11.0)
        view = FaceView(1, _SIDE, above + 1.5 * _LINE, scale, (x0, y0, x1, y1))
        sketch.picture(view.x, view.y, view.width, view.height, _cut(face, view))
        sketch.ring(view.ring(faces[1 - at].wood), 1.2, PAPER, dash=(6.0, 4.0))
        sketch.ring(view.ring(face.wood), 1.2, INK, casing=0.6)
        for shape in shown[0][at]:
            sketch.area(view.ring(shape), FLAW, 0.45)
        for shape in shown[1][at]:
            _ring_round(sketch, view, shape, has_knot=True)
        for shape in shown[1][1 - at]:
            _ring_round(sketch, view, shape, has_knot=False)
        for end, slants in found.slants_deg.items():
            _draw_end(sketch, view, face.wood, end, slants[at])
    _draw_legend(sketch, sketch.height - 0.7 * _LINE)
    return page_image(sketch.page(), _WIDTH_PX)


def _ring_round(sketch: Sketch, view: FaceView, shape: Polygon, *, has_knot: bool) -> None:
    """Draw a ring round a knot without partner, or where it is looked for in vain."""
    x_0, y_0, x_1, y_1 = shape.bounds
    radius = max(0.5 * max(x_1 - x_0, y_1 - y_0) + _CLEAR_MM, _SMALLEST_MM)
    ring = view.ring(Point(shape.centroid.x, shape.centroid.y).buffer(radius, quad_segs=12))
    sketch.ring(ring, 2.0, FLAW, dash=None if has_knot else (4.0, 3.0), casing=0.8)


def _draw_end(sketch: Sketch, view: FaceView, wood: Polygon, end: str, slant_deg: float) -> None:
    """Draw an end's own line, and how it slants."""
    low_x, low, high_x, high = wood.bounds
    places = []
    for y in np.linspace(low + 0.08 * (high - low), high - 0.08 * (high - low), 25):
        cut = wood.intersection(LineString([(low_x - 1, y), (high_x + 1, y)]))
        if not cut.is_empty:
            places.append(view.point(float(cut.bounds[0 if end == "left" else 2]), float(y)))
    if not places:
        return
    sketch.line(places, 3.0, FLAW, casing=0.8)
    x, y = places[len(places) // 2]
    anchor: Anchor = "start" if end == "left" else "end"
    step = 8.0 if end == "left" else -8.0
    said = f"end {END_NAMES[end]} slants {slant_deg:.1f}°"
    sketch.plate(x + step, y + 4.0, said, 11.0, bold=True, anchor=anchor, color=FLAW)


def _draw_legend(sketch: Sketch, base: float) -> None:
    x = _SIDE
    for kind, words in (
        ("line", "this face's wood"),
        ("dashes", "the other's"),
        ("area", "wood on this face only"),
        ("knot", "knot without a partner"),
        ("none", "where the other face has that knot"),
    ):
        middle = base - 4.0
        if kind in ("line", "dashes"):
            sketch.box(x, middle - 5.0, 24.0, 10.0, GREY)
            color, dash = (INK, None) if kind == "line" else (PAPER, (6.0, 4.0))
            sketch.line([(x, middle), (x + 24.0, middle)], 1.6, color, dash)
        elif kind == "area":
            sketch.box(x, middle - 5.0, 24.0, 10.0, FLAW, 0.45)
        else:
            rim = points_of_ring(Point(x + 12.0, middle).buffer(6.0))
            sketch.ring(rim, 2.0, FLAW, dash=None if kind == "knot" else (4.0, 3.0))
        sketch.text(x + 30.0, base, words, 11.0)
        x += 48.0 + text_width(words, 11.0)


def _cut(face: ShownFace, view: FaceView) -> Image.Image:
    """Return the part of the picture that the view shows; grey where there is none."""
    x0, y0, x1, y1 = view.bounds
    per = face.mm_per_px
    left, top = (x0 - face.origin_mm[0]) / per, (y0 - face.origin_mm[1]) / per
    right, low = (x1 - face.origin_mm[0]) / per, (y1 - face.origin_mm[1]) / per
    canvas = Image.new("RGB", (max(1, round(right - left)), max(1, round(low - top))), GREY)
    canvas.paste(Image.fromarray(face.pixels), (round(-left), round(-top)))
    return canvas
