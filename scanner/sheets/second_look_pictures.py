"""Pictures a person nods at: a piece under the place it is said to come from, rings on an end."""

import math

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

_WIDTH_PX = 1600
_INK = (220, 40, 30)
_GAP_PX = 10


def piece_under_board(board_part: NDArray[np.uint8], piece: NDArray[np.uint8]) -> Image.Image:
    """Return the board's stretch above, the piece as it lay below, both equally wide."""
    rows = [_scaled(Image.fromarray(part)) for part in (board_part, piece)]
    height = sum(row.height for row in rows) + _GAP_PX
    sheet = Image.new("RGB", (_WIDTH_PX, height), (255, 255, 255))
    top = 0
    for row in rows:
        sheet.paste(row, (0, top))
        top += row.height + _GAP_PX
    return sheet


def rings_on_end(
    end: NDArray[np.uint8],
    mm_per_px: float,
    strokes_mm: tuple[tuple[float, float, float, float], ...],
) -> Image.Image:
    """Return the end with a short stroke along the rings at each place.

    ``strokes_mm``: x and y of the place in the picture, and the ring's direction there.
    """
    picture = _scaled(Image.fromarray(end))
    scale = picture.width / (end.shape[1] * mm_per_px)
    pen = ImageDraw.Draw(picture)
    for x, y, dx, dy in strokes_mm:
        size = 7.0 / max(math.hypot(dx, dy), 1e-9)
        ends = [(scale * (x + s * size * dx), scale * (y + s * size * dy)) for s in (-1, 1)]
        pen.line(ends, fill=(255, 255, 255), width=9)
        pen.line(ends, fill=_INK, width=5)
    return picture


def _scaled(picture: Image.Image) -> Image.Image:
    height = max(1, round(picture.height * _WIDTH_PX / picture.width))
    return picture.resize((_WIDTH_PX, height), Image.Resampling.BICUBIC)
