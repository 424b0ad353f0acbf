"""The outline of a face under the lines drawn on it: a line along an arris passes for the arris."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from shapely import affinity

from scanner.board.flaw import Flaw, FlawKind
from scanner.errors import PhotoError
from scanner.vision.cv import painted
from scanner.vision.outline.trace import trace_outline
from scanner.vision.second_look.drawn import drawn_on

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.reading import FaceReading
    from scanner.vision.photos.picture import FacePicture, FaceScan

# What was traced reaches the true arrises somewhere: its hull is all wood but for a rim.
_RIM_MM = 4.0
# Wood beside a stroke shows through from so far along the grain and across it.
_FROM_MM = (60.0, 12.0)


def unmarked(scan: FaceScan) -> tuple[FaceReading, tuple[float, float]]:
    """Return the face traced once more with its lines wiped out, and where its zero lies.

    Returns
    -------
    tuple
        The reading, in a frame of its own, and the place of that frame's zero in the scan's, mm.
        Where nothing can be traced then, the scan's own reading.
    """
    name = scan.photos[0]
    try:
        traced = trace_outline(wiped(scan.picture, scan.reading.wood.convex_hull), name)
    except PhotoError:
        return scan.reading, (0.0, 0.0)
    low_x, low_y, _, _ = traced.outline.bounds
    others = [flaw for flaw in scan.reading.flaws if flaw.kind is not FlawKind.WANE]
    wane = [Flaw(f"W{n}", FlawKind.WANE, {1: shape}) for n, shape in enumerate(traced.wane, 1)]
    flaws = tuple(
        replace(flaw, outlines={1: affinity.translate(flaw.outlines[1], -low_x, -low_y)})
        for flaw in (*others, *wane)
    )
    outline = affinity.translate(traced.outline, -low_x, -low_y)
    return replace(scan.reading, outline=outline, flaws=flaws), (low_x, low_y)


def wiped(picture: FacePicture, region: Polygon) -> FacePicture:
    """Return a face with the wood round each line drawn over it.

    Parameters
    ----------
    region
        Where the wood is for certain, face mm.
    """
    drawn = drawn_on(picture, region)
    height, width = picture.pixels.shape[:2]
    ratio = picture.mm_per_px / drawn.mm_per_px
    off = (np.array(picture.origin_mm) - drawn.origin_mm) / drawn.mm_per_px
    move = np.array([[ratio, 0, off[0]], [0, ratio, off[1]]])
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    stroke = cv2.warpAffine(drawn.drawn, move, (width, height), flags=flags) > 0.5
    inner = region.buffer(-_RIM_MM)
    stroke &= painted((inner,), picture.origin_mm, picture.mm_per_px, stroke.shape)
    pixels = picture.pixels.copy()
    pixels[stroke] = _beside(picture, stroke)[stroke]
    return replace(picture, pixels=pixels)


def _beside(picture: FacePicture, stroke: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return the mean (H, W, 3) of what lies beside the strokes, most of it along the grain."""
    sigma_x, sigma_y = (mm / picture.mm_per_px / 2 for mm in _FROM_MM)
    bare = (~stroke).astype(np.float32)
    light = picture.pixels.astype(np.float32) * bare[..., None]
    total = cv2.GaussianBlur(light, (0, 0), sigma_x, sigmaY=sigma_y)
    weight = cv2.GaussianBlur(bare, (0, 0), sigma_x, sigmaY=sigma_y)
    return np.asarray(np.clip(total / np.maximum(weight, 1e-3)[..., None], 0, 255), np.uint8)
