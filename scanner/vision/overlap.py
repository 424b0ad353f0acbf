"""Grain found again in another photo of the same face: places that fix height, bow and tilt.

Where the face bows or lies higher than was said, two flat pictures of it disagree by
``dz x (distance of the cameras' feet) / D``; a place matched in both tells.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import box

from scanner.vision.cv import grey_of
from scanner.vision.evidence.observations import FacePoint, PointView
from scanner.vision.rectify import FacePlace, view_of

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.vision.evidence.observations import Floats
    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import Photo

# A patch is as large as a narrow board lets it be, between these.
_PATCH_PX, _LEAST_PATCH_PX = 64, 32
# Nearer to the traced arris a patch may show the board's side or the floor, which lie lower: two
# rows of them, one past either end, look like a board whose ends hang.
_RIM_MM = 4.0
_SLOW_PX = 6.0
# Finer than this the flat pictures only repeat the photos' own pixels.
_FINEST_MM_PER_PX = 0.5
# Ends lifted by 12 mm, seen by cameras as far apart as they are high, shift by about this.
_SEARCH_MM = 14.0
_LEAST_LIKENESS = 0.75
# A second peak as good as the first, further off than this, means that the grain repeats.
_PEAK_PX = 5
_CLEARER_BY = 0.06
# What the lens model cannot say is shared by near patches, so that a match counts for no more
# than this, however sharp its peak.
_FLOOR_SD_PX = 0.4
_MOST_SD_PX = 1.0
# Grain is a ridge of likeness. On rendered photos the true place lay within 0.1 of the ridge's
# reach for 68 % of the patches and within 0.3 for 95 %, however long the ridge.
_RIDGE_SHARE = 0.15
_ALONG, _ACROSS = 20, 5
_Kind = TypeVar("_Kind", bound=np.generic)


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """One photo's flat picture of the face, grey (H, W), and which of its pixels it shows."""

    grey: NDArray[np.float32]
    inside: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """How far off its middle a photo has a patch, and the sd along the board and across, px."""

    photo: int
    shift: Floats
    sd_along: float
    sd_across: float


def matched_points(
    photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace, outline: Polygon
) -> tuple[FacePoint, ...]:
    """Return places of the face that are found in several photos, ready for a refit.

    Parameters
    ----------
    place
        A rectangle round the board, x along the board, rule frame.
    outline
        The face in it, mm from the place's first corner. Only patches wholly on it are matched.

    References
    ----------
    J. P. Lewis, "Fast normalized cross-correlation", Vision Interface (1995); the sd is the
    Cramer-Rao bound of a shift under white noise of the size that the likeness leaves.
    """
    middle = place.rule_from_place(np.array([place.size_mm]) / 2)[0]
    indices = range(len(photos))
    step = max(_FINEST_MM_PER_PX, *(fit.mm_per_px(index, middle) for index in indices))
    views = []
    for index in indices:
        pixels, inside = view_of(photos[index], fit, index, place, step)
        views.append(_View(_texture(grey_of(pixels)), inside))
    reach = math.ceil(_SEARCH_MM / step)
    out = []
    for centre, half in _grid(outline, step):
        seen = _seen(views, centre, half, reach)
        if len(seen) > 1:
            point = place.rule_from_place(np.array([centre]) * step)[0]
            rows = tuple(_point_view(fit, place, step, centre, found) for found in seen)
            out.append(FacePoint(rows, (float(point[0]), -float(point[1]))))
    return tuple(out)


def _point_view(
    fit: ScaleFit, place: FacePlace, step: float, centre: NDArray[np.int_], found: _Found
) -> PointView:
    """Return where a patch lies in its photo, with what is known along the board and across."""
    at = (centre + found.shift) * step
    both = place.rule_from_place(np.array([at, at + np.array([10.0, 0.0])]))
    here, ahead = fit.photo_from_face(found.photo, both)
    along = (ahead - here) / np.linalg.norm(ahead - here)
    per_px = step / fit.mm_per_px(found.photo, both[0])
    return PointView(
        found.photo,
        float(here[0]),
        float(here[1]),
        found.sd_across * per_px,
        (float(along[0]), float(along[1])),
        found.sd_along * per_px,
    )


def _texture(grey: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return a picture less its slow changes: shadows look alike wherever the patch lies."""
    sharp = grey.astype(np.float32)
    return np.asarray(sharp - cv2.GaussianBlur(sharp, (0, 0), _SLOW_PX), dtype=np.float32)


def _grid(outline: Polygon, step: float) -> list[tuple[NDArray[np.int_], int]]:
    """Return middles (x, y) of patches spread over the face, and half a patch's size, px."""
    inner = affinity.scale(outline.buffer(-_RIM_MM), 1 / step, 1 / step, origin=(0, 0))
    if inner.is_empty:
        return []
    x0, y0, x1, y1 = inner.bounds
    half = min(_PATCH_PX, math.floor(0.9 * (y1 - y0))) // 2
    if half < _LEAST_PATCH_PX // 2:
        return []
    # One px for the rounding of middles.
    low, high = x0 + half + 1, x1 - half - 1
    out = []
    for x in np.linspace(low, high, _ALONG) if high > low else ():
        # A crooked board is followed.
        _, top, _, bottom = inner.intersection(box(x - 1, y0, x + 1, y1)).bounds
        spread = np.linspace(top + half + 1, bottom - half - 1, _ACROSS)
        rows = spread if spread[0] < spread[-1] else [(top + bottom) / 2]
        for y in rows:
            if inner.covers(box(x - half, y - half, x + half, y + half)):
                out.append((np.array([round(x), round(y)]), half))
    return out


def _window(picture: NDArray[_Kind], centre: NDArray[np.int_], half: int) -> NDArray[_Kind]:
    x, y = int(centre[0]), int(centre[1])
    if min(x, y) < half:
        return picture[:0]
    return picture[y - half : y + half, x - half : x + half]


def _seen(views: list[_View], centre: NDArray[np.int_], half: int, reach: int) -> list[_Found]:
    """Return where each photo that shows a patch has it; the first one lends the patch."""
    template: NDArray[np.float32] | None = None
    out: list[_Found] = []
    for index, view in enumerate(views):
        inside = _window(view.inside, centre, half + reach)
        if inside.shape != (2 * (half + reach),) * 2 or not inside.all():
            continue
        if template is None:
            template = _window(view.grey, centre, half)
            out.append(_Found(index, np.zeros(2), _FLOOR_SD_PX, _FLOOR_SD_PX))
            continue
        found = _found(index, template, _window(view.grey, centre, half + reach), reach)
        out += [found] if found is not None else []
    return out


def _found(
    photo: int, template: NDArray[np.float32], window: NDArray[np.float32], reach: int
) -> _Found | None:
    """Return how far a patch lies off the middle of a window, where it is found for sure."""
    likeness = cv2.matchTemplate(window, template, cv2.TM_CCOEFF_NORMED)
    _, best, _, (x, y) = cv2.minMaxLoc(likeness)
    edge = likeness.shape[0] - 1
    if best < _LEAST_LIKENESS or min(x, y) < 1 or max(x, y) >= edge:
        return None
    others = likeness.copy()
    others[max(0, y - _PEAK_PX) : y + _PEAK_PX + 1] = -1
    if float(others.max()) > best - _CLEARER_BY:
        return None
    shift = np.array([x + _peak(likeness[y, x - 1 : x + 2]), y + _peak(likeness[y - 1 : y + 2, x])])
    noise = 2 * (1 - best) * float(template.var())
    smooth = cv2.GaussianBlur(template, (0, 0), 1.0)
    sds = []
    for dx, dy in ((1, 0), (0, 1)):
        slope = cv2.Sobel(smooth, cv2.CV_32F, dx, dy) / 8
        bound = math.sqrt(noise / max(float((slope**2).sum()), 1e-6))
        sds.append(math.hypot(_FLOOR_SD_PX, bound))
    # The place along the grain is known as far as the ridge is short.
    ridge = np.flatnonzero(likeness[y - 1 : y + 2].max(axis=0) > best - _CLEARER_BY)
    sds[0] = max(sds[0], _RIDGE_SHARE * float(np.abs(ridge - x).max()))
    return _Found(photo, shift - reach, sds[0], sds[1]) if sds[1] < _MOST_SD_PX else None


def _peak(three: NDArray[Any]) -> float:
    """Return where a parabola through three values has its top, from the middle one."""
    low, middle, high = (float(value) for value in three)
    bend = low - 2 * middle + high
    return 0.0 if bend >= 0 else float(np.clip((low - high) / (2 * bend), -0.5, 0.5))
