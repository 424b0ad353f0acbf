"""The picture of what was found on one face: outline, possible flaws, scale bar."""

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from scanner.board.board import Board
from scanner.board.flaw import FlawState
from scanner.lot.totals import NO_PROMISE, NOT_LOOKED_OVER
from scanner.sheets.drawing import INK, PAPER, Sketch
from scanner.sheets.face_view import FaceView, draw_flaw, draw_flaws
from scanner.sheets.fonts import text_width
from scanner.sheets.png import page_image
from scanner.sheets.scale_bar import draw_scale_bar

_WIDTH_PX = 2000


def draw_found(
    board: Board, face: int, picture: Image.Image | NDArray[np.uint8], units: str = "mm"
) -> Image.Image:
    """Return the flat face with its outline and flaws, as the files have it (not turned over).

    Parameters
    ----------
    picture
        The face's flat picture (RGB; pixels have shape (H, W, 3)), board frame,
        ``board.faces[face].mm_per_px`` a pixel.
    """
    if not isinstance(picture, Image.Image):
        picture = Image.fromarray(picture)
    facts = board.faces[face]
    if facts.mm_per_px is None or facts.picture_origin is None:
        raise ValueError(f"face {face} of {board.id} has no picture")
    # Drawing happens in units in which the picture is always equally wide: lines and type keep
    # their size however fine the picture is.
    across = 1000.0
    scale = across / (picture.width * facts.mm_per_px)
    high = picture.height * facts.mm_per_px * scale
    band = 30.0
    x0 = facts.picture_origin[0] - facts.mm_per_px / 2
    y0 = facts.picture_origin[1] - facts.mm_per_px / 2
    bounds = (x0, y0, x0 + across / scale, y0 + high / scale)
    view = FaceView(face, 0.0, 0.0, scale, bounds)
    sketch = Sketch(across, high + band)
    sketch.picture(0.0, 0.0, across, high, picture)
    sketch.ring(view.ring(facts.outline), 1.4, INK, casing=0.8)
    for flaw in board.flaws_on(face):
        if flaw.state is FlawState.STRUCK:
            draw_flaw(sketch, flaw, view)
    draw_flaws(sketch, board, view, size=11.0, line=1.3)
    sketch.box(0.0, high, across, band, PAPER)
    left = f"{board.id} face {face}"
    seen = "End A left" if face == 1 else "End A left, seen through the board from face 1"
    sketch.text(8.0, high + 20.0, left, 13.0, bold=True)
    state = f"{seen}. {'' if facts.looked_over else f'{NOT_LOOKED_OVER}. '}{NO_PROMISE}"
    sketch.text(20.0 + text_width(left, 13.0, bold=True), high + 20.0, state, 10.0)
    draw_scale_bar(sketch, across - 8.0, high + 17.0, scale, units)
    return page_image(sketch.page(), min(_WIDTH_PX, max(1000, picture.width)))
