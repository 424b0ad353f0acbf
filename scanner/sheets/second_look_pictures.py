"""Pictures a person nods at: a piece under the place it is said to come from, rings on an end."""

import math

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from scanner.sheets.fonts import image_font

_WIDTH_PX = 1600
_INK = (220, 40, 30)
_GAP_PX = 10
# As much of an edge is shown at a place; the words below it.
_CLOSE_MM, _WORDS_PX, _LETTERS_PX = 70.0, 44, 30


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


def places_on_edge(
    edge: NDArray[np.uint8],
    mm_per_px: float,
    margin_mm: float,
    places: tuple[tuple[float, str], ...],
) -> Image.Image:
    """Return the edge close up at some places beside each other, each with its thickness below.

    ``places``: x from the left end in mm, and what is to be written. An edge as a whole is too long
    and thin to judge on a screen.
    """
    whole = Image.fromarray(edge)
    count = max(len(places), 1)
    wide = (_WIDTH_PX - _GAP_PX * (count - 1)) // count
    half = round(_CLOSE_MM / 2 / mm_per_px)
    high = max(1, round(whole.height * wide / (2 * half)))
    sheet = Image.new("RGB", (_WIDTH_PX, high + _WORDS_PX), (255, 255, 255))
    pen, font = ImageDraw.Draw(sheet), image_font(False, _LETTERS_PX)
    for number, (x_mm, words) in enumerate(places):
        middle = round((x_mm + margin_mm) / mm_per_px)
        middle = min(max(middle, half), max(whole.width - half, half))
        close = whole.crop((middle - half, 0, middle + half, whole.height))
        left = number * (wide + _GAP_PX)
        sheet.paste(close.resize((wide, high), Image.Resampling.BICUBIC), (left, 0))
        pen.text((left, high + 6), words, fill=(0, 0, 0), font=font)
    return sheet


def _scaled(picture: Image.Image) -> Image.Image:
    height = max(1, round(picture.height * _WIDTH_PX / picture.width))
    return picture.resize((_WIDTH_PX, height), Image.Resampling.BICUBIC)
