"""The rim of a board in a map: what differs from the whole only there is formed only there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Singles = NDArray[np.float32]
    Bools = NDArray[np.bool_]
    Box = tuple[slice, slice]

# Rows nearly as long as the longest run from end to end.
_WHOLE_ROW_SHARE = 0.97
# Where the inside is less than this of the map strips round it are no saving.
_LEAST_INSIDE = 0.4


def parts_round(
    there: Bools, room_px: tuple[int, int], near_px: tuple[int, int] = (0, 0)
) -> Iterator[tuple[Box, Box]]:
    """Yield parts of a map that hold every place where nothing is, and which of each is its own.

    Of a board these are four strips along its rim; of what has gaps inside it is the whole map.

    Parameters
    ----------
    there
        (H, W), where the board is.
    room_px
        How much further (columns, rows) each part reaches than what is its own: what a filter that
        is applied to it needs.
    near_px
        So far (columns, rows) from places where nothing is belongs to the rim too.
    """
    rows, columns = there.shape
    for own in _strips(there, near_px):
        part = tuple(
            slice(max(0, span.start - room), min(most, span.stop + room))
            for span, room, most in zip(own, room_px[::-1], (rows, columns), strict=True)
        )
        inner = tuple(
            slice(span.start - wide.start, span.stop - wide.start)
            for span, wide in zip(own, part, strict=True)
        )
        yield (part[0], part[1]), (inner[0], inner[1])


def _strips(there: Bools, near_px: tuple[int, int]) -> Iterator[Box]:
    rows, columns = there.shape
    inside = _inside(there)
    if inside is None:
        yield slice(0, rows), slice(0, columns)
        return
    top, bottom, left, right = inside
    near_x, near_y = near_px
    top, bottom, left, right = top + near_y, bottom - near_y, left + near_x, right - near_x
    if bottom <= top or right <= left:
        yield slice(0, rows), slice(0, columns)
        return
    across = slice(top, bottom)
    for strip in (
        (slice(0, top), slice(0, columns)),
        (slice(bottom, rows), slice(0, columns)),
        (across, slice(0, left)),
        (across, slice(right, columns)),
    ):
        if all(span.stop > span.start for span in strip):
            yield strip


def _inside(there: Bools) -> tuple[int, int, int, int] | None:
    """Return top, bottom, left, right of a rectangle without a gap; None where it is small."""
    counts = there.sum(axis=1)
    whole = np.flatnonzero(counts >= max(_WHOLE_ROW_SHARE * counts.max(), 1))
    if not len(whole):
        return None
    top, bottom = int(whole[0]), int(whole[-1]) + 1
    band = there[top:bottom]
    left = int(band.argmax(axis=1).max())
    right = there.shape[1] - int(band[:, ::-1].argmax(axis=1).max())
    # A bowed board's outer rows have their gap in the middle.
    gaps = np.flatnonzero(~band[:, left:right].all(axis=1)) + top
    middle = (top + bottom) // 2
    top = int(max(gaps[gaps <= middle], default=top - 1)) + 1
    bottom = int(min(gaps[gaps > middle], default=bottom))
    is_large = (bottom - top) * max(right - left, 0) >= _LEAST_INSIDE * there.size
    return (top, bottom, left, right) if is_large else None


def reach_px(sigma_px: float) -> int:
    """Return how far OpenCV's Gaussian of floats reaches, and one more."""
    return round(4 * sigma_px) + 1


def share_over(weight: Singles, sigma_px: tuple[float, float], least: float) -> Bools:
    """Return (H, W) where so much of a Gaussian (sigma by columns, rows) lies on a mask of 0 and 1.

    ``least``: under 1; everywhere inside there is more.
    """
    reach = reach_px(sigma_px[0]), reach_px(sigma_px[1])
    enough = np.ones(weight.shape, dtype=bool)
    for part, inner in parts_round(weight > 0, reach, reach):
        share = cv2.GaussianBlur(weight[part], (0, 0), sigma_px[0], sigmaY=sigma_px[1])
        enough[part][inner] = np.asarray(share)[inner] > least
    return enough
