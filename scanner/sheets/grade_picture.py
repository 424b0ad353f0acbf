"""The picture of a grade estimate: both faces with the cuttings that were counted."""

from collections.abc import Mapping

from PIL import Image
from shapely.geometry import Polygon, box

from scanner.board.board import Board
from scanner.lot.cuttings import Rectangle
from scanner.lot.grade import NO_INSPECTION, GradeEstimate
from scanner.lot.totals import NO_PROMISE, NOT_LOOKED_OVER
from scanner.sheets.drawing import INK, PAPER, Rgb, Sketch
from scanner.sheets.face_view import FaceView, board_bounds, draw_face, draw_flaws, view_of
from scanner.sheets.fonts import text_width
from scanner.sheets.png import page_image
from scanner.sheets.scale_bar import draw_scale_bar
from scanner.units import MM_PER_INCH

_WIDTH_PX = 2000
# Cuttings are the wood that counts: dark green, plain thick rings; flaws are hatched magenta.
_CUTTING: Rgb = (0, 92, 75)
_ACROSS = 1000.0
_TITLE = 44.0
_BETWEEN = 26.0


def draw_grade(
    board: Board,
    estimate: GradeEstimate,
    pictures: Mapping[int, Image.Image],
    units: str = "mm",
) -> Image.Image:
    """Return one picture of both faces, each seen from above, with its cuttings.

    Parameters
    ----------
    pictures
        Flat pictures by face, board frame; a face without one is drawn plain.
    """
    x0, y0, x1, y1 = board_bounds(board)
    scale = (_ACROSS - 16.0) / (x1 - x0)
    high = (y1 - y0) * scale
    sketch = Sketch(_ACROSS, _TITLE + 2 * (high + _BETWEEN) + 22.0)
    sketch.box(0.0, 0.0, _ACROSS, _TITLE + 2 * (high + _BETWEEN) + 22.0, PAPER)
    title = f"{board.id}: {estimate.grade}"
    sketch.text(8.0, 20.0, title, 15.0, bold=True)
    measure = f"surface measure {estimate.surface_measure}"
    sketch.text(22.0 + text_width(title, 15.0, bold=True), 20.0, measure, 11.0)
    state = "" if estimate.is_looked_over else f"{NOT_LOOKED_OVER}: every possible flaw counts. "
    sketch.text(8.0, 37.0, f"{state}{NO_INSPECTION} {NO_PROMISE}", 9.5)
    for row, face in enumerate(sorted(board.faces)):
        top = _TITLE + row * (high + _BETWEEN)
        view = view_of(board, face, 8.0, top, scale)
        draw_face(sketch, board, view, pictures.get(face))
        result = estimate.faces.get(face)
        words = f"face {face}, end A {'right' if view.mirror_x else 'left'}"
        plates: list[Polygon] = []
        if result is not None:
            plates = [
                _draw_cutting(sketch, board, view, cutting, number)
                for number, cutting in enumerate(result.plan.cuttings, 1)
            ]
            words += f": {result.text}"
        draw_flaws(sketch, board, view, size=9.0, blocked=plates)
        sketch.text(8.0, top + high + 14.0, words, 10.0)
    foot = _TITLE + 2 * (high + _BETWEEN) + 8.0
    draw_scale_bar(sketch, _ACROSS - 8.0, foot, scale, units)
    return page_image(sketch.page(), _WIDTH_PX)


def _draw_cutting(
    sketch: Sketch, board: Board, view: FaceView, cutting: Rectangle, number: int
) -> Polygon:
    """Draw one cutting with its number and units; return the place of its label."""
    x0, y0, _, _ = board.faces[view.face].outline.bounds
    left, top = x0 + cutting.x0_ft * 12 * MM_PER_INCH, y0 + cutting.y0_in * MM_PER_INCH
    length = (cutting.x1_ft - cutting.x0_ft) * 12 * MM_PER_INCH
    width = (cutting.y1_in - cutting.y0_in) * MM_PER_INCH
    corners = view.box(left, top, length, width)
    sketch.ring(corners, 1.6, _CUTTING, casing=0.8)
    middle = view.point(left + length / 2, top + width / 2)
    label = f"{number}: {cutting.units:.1f}"
    sketch.plate(middle[0], middle[1] + 4.0, label, 11.0, anchor="middle", color=INK, fill=PAPER)
    half = text_width(label, 11.0) / 2 + 4.0
    return box(middle[0] - half, middle[1] - 10.0, middle[0] + half, middle[1] + 8.0)
