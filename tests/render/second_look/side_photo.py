"""A photograph of an end or an edge with a card or strip in its plane, a little from one side."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from scanner.geometry.strip_layout import CARD_MARKER_MM, MARKER_MM, PITCH_MM
from tests.render.noise import F32, noise_2d
from tests.render.second_look.planed import developed

_MARGIN_MM = 45.0
_CARD_MM = 54.0
_CARD_ID = 14


def side_photo(
    light: F32,
    wood: NDArray[np.bool_],
    mm_per_px: float,
    seed: int,
    path: Path,
    *,
    with_strip: bool = False,
) -> NDArray[np.float64]:
    """Write the photo; return the surface's true corners in it, px, top left first, clockwise.

    ``light`` (H, W, 3) linear is the surface square on, ``wood`` where it is wood.
    """
    rng = np.random.default_rng((seed, 411))
    rows, columns = light.shape[:2]
    margin, card = round(_MARGIN_MM / mm_per_px), round(_CARD_MM / mm_per_px)
    height, width = rows + 2 * margin + card + margin // 2, columns + 2 * margin
    width = max(width, card + 2 * margin)
    height = max(height, round(width / 1.6))  # a phone's picture
    v, u = np.mgrid[0:height, 0:width].astype(np.float32)
    tone = np.float32(rng.uniform(0.05, 0.25))
    blots = noise_2d(seed, u.ravel() * mm_per_px, v.ravel() * mm_per_px, 30.0).reshape(v.shape)
    scene = (tone * np.exp(0.15 * blots))[..., None] * np.float32([1.0, 0.97, 0.93])
    at = np.s_[margin : margin + rows, margin : margin + columns]
    scene[at] = np.where(wood[..., None], light, scene[at])
    top = margin + rows + margin // 2
    if with_strip:
        left = margin
        for number in range(int(columns * mm_per_px // PITCH_MM)):
            lay(scene, cv2.aruco.DICT_4X4_250, number, MARKER_MM, (top, left), mm_per_px)
            left += round(PITCH_MM / mm_per_px)
    else:
        left = margin + int(rng.integers(0, width - card - 2 * margin + 1))
        lay(scene, cv2.aruco.DICT_5X5_1000, _CARD_ID, CARD_MARKER_MM, (top, left), mm_per_px)
    corners = np.array(
        [[margin, margin], [margin + columns, margin],
         [margin + columns, margin + rows], [margin, margin + rows]], dtype=np.float32,
    ) - np.float32(0.5)  # fmt: skip
    moved = _tilted(width, height, rng)
    size = (width, height)
    seen = cv2.warpPerspective(
        np.ascontiguousarray(scene, dtype=np.float32), moved, size, flags=cv2.INTER_AREA,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    pixels = developed(np.asarray(seen, dtype=np.float32), rng)
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(pixels).save(path, "JPEG", quality=90)
    there = cv2.perspectiveTransform(corners[None], moved)[0]
    return np.asarray(there, dtype=np.float64)


def lay(
    scene: F32, codes: int, number: int, side_mm: float, at: tuple[int, int], mm_per_px: float
) -> None:
    """Paint a white paper with a marker into the scene, in place; ``at`` is its row and column."""
    side, rim = round(side_mm / mm_per_px), round(7.0 / mm_per_px)
    top, left = at
    scene[top : top + side + 2 * rim, left : left + side + 2 * rim] = 0.75
    dictionary = cv2.aruco.getPredefinedDictionary(codes)
    marker = cv2.aruco.generateImageMarker(dictionary, number, side) > 127
    scene[top + rim : top + rim + side, left + rim : left + rim + side] = np.where(
        marker[..., None], 0.75, 0.03
    )


def _tilted(width: int, height: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return the homography of a phone that looks up to 15 degrees from aside and above."""
    tilt, pan, roll = np.radians(rng.uniform([-15, -15, -4], [15, 15, 4]))
    focal = 1.1 * max(width, height)
    cx, cy, sx, sy = np.cos(tilt), np.cos(pan), np.sin(tilt), np.sin(pan)
    turn_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    turn_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    c, s = np.cos(roll), np.sin(roll)
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ turn_x @ turn_y
    to_middle = np.array([[1, 0, -width / 2], [0, 1, -height / 2], [0, 0, 1]])
    # The plane z = 0 seen from 1.15 focal lengths away.
    plane = np.column_stack([turn[:, 0], turn[:, 1], [0, 0, 1.15 * focal]])
    lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    found = lens @ plane @ to_middle
    return np.asarray(found / found[2, 2])
