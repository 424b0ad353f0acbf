"""A picture that is already flat (flatbed scanner, line camera): which way up, and the outline."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from scanner.errors import PhotoError
from scanner.geometry.polygons import largest_polygon
from scanner.vision.photos.picture import FacePicture

Along = Literal["x", "y"]
Bytes = NDArray[np.uint8]
Doubles = NDArray[np.float64]

# What lies round the board is learned from this rim of the picture.
_RIM_MM = 1.5
# A rim nearer to the wood's colour than this (CIELAB) is taken for wood: the board fills the
# picture to that side. Dark conveyors and white lids lie 30 and more away.
_LEAST_DIFFERENCE = 14.0
_BLOCK_MM = 20.0
_FIRM_MM = 2.0
# Less wood than this is no face: the shortest piece that machines take is far longer.
_SMALLEST_MM = 20.0


@dataclass(frozen=True, slots=True, eq=False)
class FlatFace:
    """The picture laid along x, and its outline in face mm (zero at the first pixel).

    ``along`` is the axis of the user's picture that the board runs along.
    """

    picture: FacePicture
    outline: Polygon
    along: Along
    columns_px: int

    def picture_px(self, points_mm: Doubles) -> Doubles:
        """Return pixels of the user's own picture (N, 2) of face points."""
        at = np.asarray(points_mm, dtype=np.float64) / self.picture.mm_per_px
        if self.along == "x":
            return at
        return np.column_stack([self.columns_px - 1 - at[:, 1], at[:, 0]])


def read_flat(pixels: Bytes, mm_per_px: float, along: Along | None = None) -> FlatFace:
    """Return the face in a flat picture.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 RGB.
    mm_per_px
        Scale, the same both ways.
    along
        The board's way; None takes the picture's longer side.

    Raises
    ------
    PhotoError
        Nothing in the picture stands out as wood.
    """
    rows, columns = pixels.shape[:2]
    way: Along = along or ("y" if rows > columns else "x")
    laid = np.ascontiguousarray(np.rot90(pixels)) if way == "y" else pixels
    seen = np.ones(laid.shape[:2], dtype=bool)
    picture = FacePicture(laid, mm_per_px, (0.0, 0.0), 0.001, 0.5, seen)
    return FlatFace(picture, _outline(laid, mm_per_px), way, columns)


def _outline(laid: Bytes, mm_per_px: float) -> Polygon:
    """Return the board's outline, face mm: long sides block by block, then the ends."""
    lab = cv2.cvtColor(laid.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)
    return _outline_of(np.asarray(lab, dtype=np.float32), mm_per_px)


def _outline_of(lab: NDArray[np.float32], mm_per_px: float) -> Polygon:
    rows, columns = lab.shape[:2]
    upper = _side(lab, mm_per_px)
    lower = rows - 1 - _side(lab[::-1], mm_per_px)
    top, bottom = int(np.median(upper)), int(np.median(lower))
    if (bottom - top) * mm_per_px < _SMALLEST_MM:
        raise PhotoError(
            "the picture shows no board that stands out from what lies round it",
            "crop it to the board and a little of the ground",
        )
    ground = [lab[side].reshape(-1, 3) for side in (slice(0, 2), slice(-2, None))]
    beside = (top, rows - 1 - bottom)
    known = [np.median(g, axis=0) for g, px in zip(ground, beside, strict=True) if px > 2]
    # Across the ends the same reading, on the picture turned by a quarter.
    turned = np.ascontiguousarray(lab[top : bottom + 1].transpose(1, 0, 2))
    left = _side(turned, mm_per_px, known)
    right = columns - 1 - _side(turned[::-1], mm_per_px, known)
    along = _middles(len(upper), columns, mm_per_px)
    across = _middles(len(left), bottom - top + 1, mm_per_px) + top
    sides = Polygon(_band(along, upper, lower))
    # The ends' lines are read inside the sides' middles only: they are carried on past them.
    across[0], across[-1] = -1, rows
    ends = Polygon(_band(across, left, right)[:, ::-1])
    shape = sides.intersection(ends) if len(left) > 1 else sides
    return largest_polygon(affinity.scale(shape, mm_per_px, mm_per_px, origin=(0, 0)).buffer(0))


def _middles(blocks: int, extent_px: int, mm_per_px: float) -> Doubles:
    """Return where along a side its blocks lie, px; the first and last reach its ends."""
    at = (np.arange(blocks) + 0.5) * _block_px(mm_per_px, extent_px) - 0.5
    at = np.clip(at, 0, extent_px - 1)
    at[0], at[-1] = 0, extent_px - 1
    return np.asarray(at, dtype=np.float64)


def _band(at: Doubles, low: Doubles, high: Doubles) -> Doubles:
    """Return the ring between two sides."""
    return np.concatenate([np.column_stack([at, low]), np.column_stack([at, high])[::-1]])


def _block_px(mm_per_px: float, columns: int) -> int:
    return max(1, min(columns, round(_BLOCK_MM / mm_per_px)))


def _side(
    lab: NDArray[np.float32], mm_per_px: float, known: list[NDArray[np.float32]] | None = None
) -> Doubles:
    """Return for each block of columns the first row that is wood, counted from the top.

    Where ``known`` grounds are given, the rim must look like one of them: a board's light can
    change by a step along it, and that is no end.
    """
    rows, columns = lab.shape[:2]
    rim = np.median(lab[: max(1, round(_RIM_MM / mm_per_px))].reshape(-1, 3), axis=0)
    wood = np.median(lab[rows // 3 : -(-2 * rows // 3)].reshape(-1, 3), axis=0)
    block = _block_px(mm_per_px, columns)
    starts = list(range(0, columns, block))
    way = wood - rim
    apart = float(way @ way)
    nearest = min((float((g - rim) @ (g - rim)) for g in known or ()), default=0.0)
    if apart < _LEAST_DIFFERENCE**2 or nearest > apart / 4:
        return np.zeros(len(starts))
    share = (lab - rim) @ (way / apart)
    firm = max(1, round(_FIRM_MM / mm_per_px))
    first = np.full(len(starts), np.nan)
    for number, start in enumerate(starts):
        profile = np.median(share[:, start : start + block], axis=1)
        is_wood = np.convolve(profile > 0.5, np.ones(firm), "valid") >= 0.7 * firm
        found = np.flatnonzero(is_wood & (profile[: len(is_wood)] > 0.5))
        if len(found):
            first[number] = found[0]
    if np.isnan(first).all():
        return np.zeros(len(starts))
    first = np.where(np.isnan(first), np.nanmedian(first), first)
    # A dark knot at the arris moves one block, not its neighbours.
    around = np.pad(first, 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(around, 5)
    return np.asarray(np.median(windows, axis=1), dtype=np.float64)
