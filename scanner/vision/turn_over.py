"""Face 2's flat picture as the files hold it: seen through the board, in the board frame."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.board.board import Turned
    from scanner.vision.photos.picture import FacePicture


def seen_through(
    picture: FacePicture,
    extent_mm: tuple[float, float],
    turned: Turned,
    turn_rad: float,
    shift_mm: tuple[float, float],
) -> tuple[NDArray[np.uint8], tuple[float, float]]:
    """Return the mirrored picture (H, W, 3) and the board mm of its first pixel's centre.

    Parameters
    ----------
    picture
        Face 2 in its own view.
    extent_mm
        Length and width of its outline; the mirror maps (x, y) to (x, width - y) or
        (length - x, y).
    turned, turn_rad, shift_mm
        As `board.join` found them: mirror, turn about the origin, shift.
    """
    length, width = extent_mm
    rows, columns = picture.pixels.shape[:2]
    x, y = picture.origin_mm
    if turned == "sideways":
        pixels = picture.pixels[::-1]
        origin = (x, width - (y + (rows - 1) * picture.mm_per_px))
    else:
        pixels = picture.pixels[:, ::-1]
        origin = (length - (x + (columns - 1) * picture.mm_per_px), y)
    pixels = np.ascontiguousarray(pixels)
    place = (origin[0] + shift_mm[0], origin[1] + shift_mm[1])
    # Under half a pixel over the whole length a second resampling would only blur.
    if abs(turn_rad) * length < 0.5 * picture.mm_per_px:
        return pixels, place
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    # The picture keeps its first pixel; what the turn moves that pixel by goes into the map.
    before = np.array(origin)
    after = np.array([c * before[0] - s * before[1], s * before[0] + c * before[1]])
    drift = (after - before) / picture.mm_per_px
    move = np.array([[c, -s, drift[0]], [s, c, drift[1]]])
    turned_picture = cv2.warpAffine(
        pixels, move, (columns, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(turned_picture, dtype=np.uint8), place
