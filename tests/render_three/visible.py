"""What of a crack can be seen in the photograph: it stands out from the wood beside it."""

import cv2
import numpy as np

# Columns of the finished picture over which an eye follows a line, 10 mm.
_OVER_PX = 21
_BESIDE_PX = (*range(-20, -5), *range(6, 21))
# Standing out by so many spreads of the wood beside, and by so much of its light.
_SPREADS, _LEAST = 3.0, 0.05


def stands_out(pixels: np.ndarray, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Return where a line differs from its like a few mm to either side, (N,) bool.

    ``pixels`` (H, W, 3) uint8; the line goes through (``along``, ``across``) px of it, about one
    point a pixel; for an upright line give the picture transposed.
    """
    grey = pixels.astype(np.float32).mean(axis=2)
    own = _contrast(grey, along, across)
    beside = np.stack([_contrast(grey, along, across + off) for off in _BESIDE_PX])
    # By middle values, so that another crack or the board's edge nearby hides nothing; where one
    # place in five is as dark, these are rings, and nobody tells a crack among them.
    usual = np.median(beside, axis=0)
    spread = 1.48 * np.median(np.abs(beside - usual), axis=0)
    rings = np.quantile(np.abs(beside - usual), 0.8, axis=0)
    return np.abs(own - usual) > np.maximum(np.maximum(_SPREADS * spread, rings), _LEAST)


def _contrast(grey: np.ndarray, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Return how much a line is darker than both its sides, as a share, smoothed along it."""

    def at(off: float) -> np.ndarray:
        x = along.astype(np.float32)[None, :]
        y = (across + off).astype(np.float32)[None, :]
        return cv2.remap(grey, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]

    middle = np.mean([at(-0.5), at(0), at(0.5)], axis=0)
    sides = np.mean([at(-4), at(-3), at(3), at(4)], axis=0)
    share = (sides - middle) / np.maximum(sides, 4)
    return cv2.blur(share[None, :], (min(_OVER_PX, len(share)), 1))[0]


def patch_stands_out(pixels: np.ndarray, ring: np.ndarray) -> bool:
    """Return whether a patch (outline (N, 2) px) differs in light or colour from what is round it.

    Light is told as a share of the wood's; 5 % is about what an eye takes for another colour
    beside wood's own streaks.
    """
    mask = np.zeros(pixels.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(ring * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    belt = cv2.dilate(mask, np.ones((21, 21), np.uint8)) - cv2.dilate(
        mask, np.ones((7, 7), np.uint8)
    )
    if not mask.any() or not belt.any():
        return True
    inner = pixels[mask > 0].astype(np.float64).mean(axis=0)
    outer = pixels[belt > 0].astype(np.float64).mean(axis=0)
    return bool(np.abs(inner / np.maximum(outer, 4) - 1).max() >= _LEAST)
