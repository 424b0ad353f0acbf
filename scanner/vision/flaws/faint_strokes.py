"""Where a stroke that is plain in part runs on so thinly that none of its pixels is sure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.vision.cv import pieces_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Singles = NDArray[np.float32]
    Bools = NDArray[np.bool_]

# Pieces so near (px of a millimetre) are of one stroke; so long, and so high across the grain, it
# must be before it is followed, and so far round it is looked.
_NEAR_PX, _LEAST_PX, _MOST_PX, _UPRIGHT_PX, _AROUND_PX = 9, 22, 400, 6, 90
_SURE_PX = 15
# Strips that are laid over every place, on pixels of 2 mm: half as long, half as wide, and from
# where to where the wood beside them is looked at. Along the grain none is laid: grain is as thin.
_COARSE = 2
_HALF_LONG, _HALF_WIDE, _BESIDE = 8, 1.1, (2.2, 4.2)
_TURNS_DEG = tuple(range(20, 161, 10))
# How much more of the ink a strip shows than the wood on either side: its share, and in units of
# the spread over the neighbourhood.
_LEAST_SHARE, _LEAST_SPREADS = 0.10, 5.0
_SHARE_OF_STRIP = 0.4
# Black crayon leaves so little of the wood's lightness (darkest quarter of its sure pixels): of
# rendered strokes 0.35 to 0.38, dark figure in walnut 0.46.
_BLACK_LEAVES = 0.42
# As marks in dabs need it, so that nothing is followed that could not be told.
_LEAST_UNITS = 6.1
_CRUMB_PX = 4


def carried_on(
    off: Singles,
    units: Singles,
    beneath: Singles,
    metric: NDArray[np.float64],
    wood: Bools,
    pieces: Bools,
    sure: Bools,
    *,
    is_black: bool,
) -> Bools:
    """Return where strokes run on: pieces and what of the same ink lies in line with strips there.

    Parameters
    ----------
    off, units
        (H, W, 3) and (H, W), a millimetre a pixel: how far each colour is off the wood beneath,
        and the same in units of the board's own spread.
    beneath
        (H, W) lightness of the wood beneath.
    metric
        (3, 3), inverse covariance of the board's own colours.
    wood, pieces, sure
        (H, W) where wood is, the pieces of strokes found, and the sure pixels among them.
    is_black
        Whether black crayon is followed.
    """
    found = np.zeros_like(pieces)
    near = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_NEAR_PX, _NEAR_PX))
    joined = cv2.dilate(pieces.astype(np.uint8), near)
    labels, boxes = pieces_in(np.asarray(joined, np.uint8), connectivity=8)
    for index in range(1, len(boxes)):
        x, y, w, h, _ = (int(v) for v in boxes[index])
        if h < _UPRIGHT_PX + _NEAR_PX or not _LEAST_PX + _NEAR_PX <= np.hypot(w, h) <= _MOST_PX:
            continue
        box = np.s_[
            max(0, y - _AROUND_PX) : y + h + _AROUND_PX, max(0, x - _AROUND_PX) : x + w + _AROUND_PX
        ]
        own = sure[box] & pieces[box] & (labels[box] == index)
        if own.sum() < _SURE_PX or np.median(units[box][own]) < _LEAST_UNITS:
            continue
        here = off[box]
        if is_black:
            under = float(np.median(beneath[box][own]))
            left = under + float(np.percentile(here[..., 0][own], 25))
            if left > _BLACK_LEAVES * under:
                continue
        share = _share_of_ink(here, np.median(here[own], axis=0), metric)
        found[box] |= _in_strips(np.where(wood[box], share, np.float32(0)), wood[box])
    return _without_crumbs(found | pieces)


def _share_of_ink(off: Singles, ink: Singles, metric: NDArray[np.float64]) -> Singles:
    """Return how much of the ink each pixel shows: its part in the direction of the ink's colour.

    Directions are taken in the board's own units, so that what is common in its wood counts little.
    """
    weight = metric @ ink.astype(np.float64)
    share = off @ (weight / float(ink @ weight)).astype(np.float32)
    return np.asarray(np.clip(share, -0.3, 1.0), dtype=np.float32)


def _in_strips(share: Singles, wood: Bools) -> Bools:
    """Return the pixels that carry a strip with more ink than both its sides."""
    size = max(1, share.shape[1] // _COARSE), max(1, share.shape[0] // _COARSE)
    small = np.asarray(cv2.resize(share, size, interpolation=cv2.INTER_AREA), np.float32)
    inner = cv2.resize(wood.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    best = np.zeros_like(small)
    if not inner.any():
        return np.zeros_like(wood)
    for on, one_side, other_side in _STRIPS:
        sides = np.maximum(cv2.filter2D(small, -1, one_side), cv2.filter2D(small, -1, other_side))
        more = cv2.filter2D(small, -1, on) - sides
        calm = more[inner]
        spread = 1.4826 * float(np.median(np.abs(calm - np.median(calm))))
        more[more < max(_LEAST_SHARE, _LEAST_SPREADS * spread)] = 0
        best = np.maximum(best, more)
    wide = cv2.resize(best, share.shape[::-1], interpolation=cv2.INTER_LINEAR)
    carries = (wide > 0) & (cv2.blur(share, (3, 3)) > _SHARE_OF_STRIP * wide)
    return np.asarray(carries & wood)


def _without_crumbs(region: Bools) -> Bools:
    labels, boxes = pieces_in(region.astype(np.uint8), connectivity=8)
    large = boxes[:, 4] >= _CRUMB_PX
    large[0] = False
    return np.asarray(large[labels])


def _strips() -> tuple[tuple[Singles, Singles, Singles], ...]:
    """Return, for every turn, weights that average over a strip and over the wood on its sides."""
    reach = _HALF_LONG + 2
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(np.float64)
    made = []
    for turn in np.radians(_TURNS_DEG):
        along = np.abs(x * np.cos(turn) + y * np.sin(turn)) <= _HALF_LONG
        aside = y * np.cos(turn) - x * np.sin(turn)
        near, far = _BESIDE
        parts = (
            along & (np.abs(aside) <= _HALF_WIDE),
            along & (aside >= near) & (aside <= far),
            along & (-aside >= near) & (-aside <= far),
        )
        one, two, three = (np.asarray(part / part.sum(), np.float32) for part in parts)
        made.append((one, two, three))
    return tuple(made)


_STRIPS = _strips()
