"""The straight line that a saw cut across the board, set on the picture's own step in tone."""

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.geometry.polygons import polygon_of
from scanner.vision.photos.picture import FacePicture

Doubles = NDArray[np.float64]

# The line is already known this well; a farther step is another thing: the foot of the end's own
# side, a saw mark, the border of a shadow.
_NEAR_MM = 1.2
# Tones are compared over this on both sides of the line.
TONE_MM = 1.5
# The end is read in so many pieces, each over its share of the width.
_PIECES = 12
# Steps that stray from their line by more than this (median) are none of a saw's cut.
_MOST_STRAY_MM = 0.3
# CIELAB: a fainter step in a piece tells nothing.
_LEAST_STEP = 3.0


def robust_line(s: Doubles, t: Doubles) -> tuple[float, float]:
    """Return slope and offset of t (N,) over s (N,), mm, single wild points left out.

    References
    ----------
    P. K. Sen 1968, "Estimates of the regression coefficient based on Kendall's tau".
    """
    take = np.linspace(0, len(s) - 1, min(len(s), 120)).astype(int)
    a, b = s[take], t[take]
    i, j = np.triu_indices(len(take), k=max(1, len(take) // 6))
    slope = float(np.median((b[j] - b[i]) / (a[j] - a[i]))) if len(i) else 0.0
    return slope, float(np.median(t - slope * s))


def on_the_step(face: FacePicture, line: Doubles, corner_mm: float) -> Doubles:
    """Return an end's line (2, 2), picture mm, y rising, moved onto the step in tone beside it.

    Where no clear and straight step lies within `_NEAR_MM` the line stays.
    """
    mm = face.mm_per_px
    (x0, y0), (x1, y1) = line
    y = np.arange(y0 + corner_mm, y1 - corner_mm, mm)
    if len(y) < 4 * _PIECES:
        return line
    away = np.arange(-_NEAR_MM - TONE_MM, _NEAR_MM + TONE_MM + mm / 4, mm / 2)
    lab = tones_beside(face, line, y, away)
    pieces = np.array_split(np.arange(len(y)), _PIECES)
    places = [_step_at(lab[rows].mean(axis=0), away) for rows in pieces]
    found = np.flatnonzero(np.isfinite(places))
    if len(found) < _PIECES // 2:
        return line
    s = np.array([y[rows].mean() for rows in pieces])[found]
    off = np.array(places)[found]
    slope, offset = robust_line(s, off)
    if np.median(np.abs(off - slope * s - offset)) > _MOST_STRAY_MM:
        return line
    return np.array([[x0 + slope * y0 + offset, y0], [x1 + slope * y1 + offset, y1]])


def tones_beside(
    face: FacePicture, line: Doubles, y: Doubles, away: Doubles
) -> NDArray[np.float32]:
    """Return CIELAB (Y, X, 3) at heights y (Y,), so far (X,) to the right of a line (2, 2), mm."""
    (x0, y0), (x1, y1) = line
    x = x0 + (x1 - x0) * (y - y0) / (y1 - y0)
    at_x = ((x[:, None] + away[None]) / face.mm_per_px).astype(np.float32)
    at_y = np.broadcast_to((y / face.mm_per_px)[:, None], at_x.shape).astype(np.float32)
    tones = cv2.remap(face.pixels, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.cvtColor(np.asarray(tones, np.float32) / 255.0, cv2.COLOR_RGB2LAB))


def steps(lab: NDArray[np.float32], step_mm: float) -> tuple[Doubles, float]:
    """Return how far tones (..., X, 3) step at each place, and where the first place lies.

    Places are counted in columns of the tones, ``step_mm`` apart; each lies between two of them.
    """
    width = round(TONE_MM / step_mm)
    sums = np.cumsum(lab, axis=-2, dtype=np.float64)
    sums = np.concatenate([np.zeros_like(sums[..., :1, :]), sums], axis=-2)
    means = (sums[..., width:, :] - sums[..., :-width, :]) / width
    step = np.linalg.norm(means[..., width:, :] - means[..., :-width, :], axis=-1)
    return np.asarray(step, dtype=np.float64), width - 0.5


def _step_at(lab: NDArray[np.float32], away: Doubles) -> float:
    """Return where the tones (N, 3) step most within `_NEAR_MM`, or not a number."""
    pace = float(away[1] - away[0])
    size, first = steps(lab, pace)
    best = int(size.argmax())
    if size[best] < _LEAST_STEP or best in (0, len(size) - 1):
        return float("nan")
    low, mid, high = size[best - 1 : best + 2]
    shift = 0.5 * (low - high) / min(low - 2 * mid + high, -1e-6)
    return float(away[0] + (first + best + shift) * pace)


def between_ends(left: Doubles, right: Doubles) -> Polygon:
    """Return the region between the two ends' lines (2, 2), drawn far past the sides."""

    def prolonged(line: Doubles) -> Doubles:
        along = line[1] - line[0]
        return np.array([line[0] - 2 * along, line[1] + 2 * along])

    near, far = prolonged(left), prolonged(right)
    return polygon_of(np.vstack([near, far[::-1]]))
