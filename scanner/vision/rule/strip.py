"""Find the coded strip: its markers, their corners to a tenth of a pixel, and none that is wood.

Markers by S. Garrido-Jurado and others, "Automatic generation and detection of highly reliable
fiducial markers under occlusion", Pattern Recognition 47 (2014), as OpenCV finds them; corners
where lines fitted to the four sides meet.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.geometry.strip_layout import REFERENCES, Piece, position_of
from scanner.vision.cv import Bytes, Floats, grey_of, markers_in, sampled, shrunk
from scanner.vision.fit.assemble import FEWEST_MARKERS, SeenMarkers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.picture import Photo

# Sides below this cannot be read, above it a smaller picture reads them as well and faster.
LARGEST_SIDE_PX = 80.0
SAMPLES_PER_SIDE = 24
PROFILE_STEPS = 33
# Edge width (10 to 90 % of an edge) above which corners get a larger sd, and above which none is
# believed: motion or focus.
SOFT_EDGE_PX = 4.0
LOST_EDGE_PX = 8.0


def _sides(corners: Floats) -> Floats:
    """Return the mean side of each marker, px."""
    return np.asarray(np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).mean(axis=1))


def _in_window(
    grey: Bytes, window: tuple[int, int, int, int], factor: int
) -> tuple[NDArray[np.int_], Floats]:
    """Return markers in a window (x0, y0, x1, y1) of the picture, read at a smaller size."""
    x0, y0, x1, y1 = window
    part = grey[y0:y1, x0:x1]
    if min(part.shape) < 40 * factor:
        return np.zeros(0, dtype=np.int_), np.zeros((0, 4, 2))
    small = shrunk(part, factor) if factor > 1 else np.ascontiguousarray(part)
    ids, corners = markers_in(small)
    # Area shrinking puts the centre of the first small pixel at (factor - 1) / 2.
    scale = np.array([part.shape[1] / small.shape[1], part.shape[0] / small.shape[0]])
    return ids, (corners + 0.5) * scale - 0.5 + np.array([x0, y0])


def _band(corners: Floats, shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    """Return the window in which the strip's whole line lies, two markers wide on each side."""
    centres = corners.mean(axis=1)
    middle = centres.mean(axis=0)
    direction = np.linalg.svd(centres - middle, full_matrices=False)[2][0]
    reach = math.hypot(shape[0], shape[1])
    ends = middle + np.outer([-reach, reach], direction)
    width, height = shape[1], shape[0]
    # Where the line leaves the picture, by clipping it step by step.
    points = np.linspace(ends[0], ends[1], 2000)
    inside = ((points >= 0) & (points < np.array([width, height]))).all(axis=1)
    points = np.concatenate([points[inside], corners.reshape(-1, 2)])
    margin = 2.5 * float(_sides(corners).max())
    low = np.maximum(points.min(axis=0) - margin, 0).astype(int)
    high = np.minimum(points.max(axis=0) + margin + 1, [width, height]).astype(int)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def read_markers(grey: Bytes) -> tuple[NDArray[np.int_], Floats]:
    """Return ids and rough corners of everything that reads as a marker, each id once.

    Half size first (it gives the band and the scale), then full size in that band; quarter size
    for markers that are too large at half size.
    """
    whole = (0, 0, grey.shape[1], grey.shape[0])
    found: list[tuple[NDArray[np.int_], Floats]] = [_in_window(grey, whole, 2)]
    ids, corners = found[0]
    of_strip = np.array([position_of(int(i)) is not None for i in ids], dtype=bool)
    if of_strip.sum() >= 4:
        side = float(np.median(_sides(corners[of_strip])))
        if side > LARGEST_SIDE_PX:
            found.append(_in_window(grey, whole, 4))
        if side < 2 * LARGEST_SIDE_PX:
            found.append(_in_window(grey, _band(corners[of_strip], grey.shape), 1))
    else:
        found.append(_in_window(grey, whole, 1))
        if of_strip.sum() == 0:
            found.append(_in_window(grey, whole, 4))
    # Corners from the largest size win; what is refined later starts nearer.
    all_ids = np.concatenate([one[0] for one in found[::-1]])
    all_corners = np.concatenate([one[1] for one in found[::-1]])
    return _once(all_ids, all_corners)


def _once(ids: NDArray[np.int_], corners: Floats) -> tuple[NDArray[np.int_], Floats]:
    """Return each marker once; an id seen at two places stays twice."""
    keep: list[int] = []
    sides = _sides(corners)
    centres = corners.mean(axis=1)
    for row in range(len(ids)):
        same = [
            other
            for other in keep
            if ids[other] == ids[row]
            and np.linalg.norm(centres[other] - centres[row]) < max(sides[other], sides[row]) / 2
        ]
        if not same:
            keep.append(row)
    return ids[keep], corners[keep]


def _line_model(numbers: Floats, centres: Floats) -> Floats:
    """Return (u0, u1, v0, v1, c) of centres = (u0 + u1 k, v0 + v1 k) / (1 + c k)."""
    count = len(numbers)
    A = np.zeros((2 * count, 5))
    A[:count, 0], A[:count, 1], A[:count, 4] = 1.0, numbers, -numbers * centres[:, 0]
    A[count:, 2], A[count:, 3], A[count:, 4] = 1.0, numbers, -numbers * centres[:, 1]
    b = np.concatenate([centres[:, 0], centres[:, 1]])
    return np.asarray(np.linalg.lstsq(A, b, rcond=None)[0])


def _on_line_model(model: Floats, numbers: Floats) -> Floats:
    scale = 1.0 + model[4] * numbers
    scale = np.where(np.abs(scale) > 1e-6, scale, np.nan)
    flat = np.column_stack([model[0] + model[1] * numbers, model[2] + model[3] * numbers])
    return np.asarray(flat / scale[:, None])


def in_order(numbers: NDArray[np.int_], corners: Floats, seed: int = 0) -> NDArray[np.bool_]:
    """Return which markers of one reference lie on a line in order, spaced as perspective asks.

    A marker read by chance out of wood grain lies anywhere. The spacing test is projective:
    a test for even spacing drops true markers at steep tilts.
    """
    centres, sides = corners.mean(axis=1), _sides(corners)
    count = len(numbers)
    tolerance = np.maximum(4.0, 0.35 * sides)
    best = np.zeros(count, dtype=bool)
    if count < 3:
        return np.ones(count, dtype=bool)
    random = np.random.default_rng(seed)
    values = numbers.astype(np.float64)
    for _ in range(300):
        chosen = random.choice(count, 3, replace=False)
        if len(np.unique(numbers[chosen])) < 3:
            continue
        model = _line_model(values[chosen], centres[chosen])
        there = _on_line_model(model, values)
        off = np.linalg.norm(there - centres, axis=1)
        agree = np.nan_to_num(off, nan=np.inf) < tolerance
        # A marker's own size must agree with the spacing too.
        step = np.linalg.norm(_on_line_model(model, values + 0.36) - there, axis=1)
        step += np.linalg.norm(_on_line_model(model, values - 0.36) - there, axis=1)
        along = there - _on_line_model(model, values - 0.1)
        along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-9)[:, None]
        reach = np.abs(np.einsum("nkj,nj->nk", corners - centres[:, None], along)).max(axis=1)
        agree &= np.abs(2 * reach / np.maximum(step, 1e-9) - 1) < 0.35
        if agree.sum() > best.sum():
            best = agree
        if best.sum() == count:
            break
    return best


def refine_corners(grey: Bytes, corners: Floats) -> tuple[Floats, Floats, Floats]:
    """Return sub-pixel corners (N, 4, 2), their sd (N,) and the edge width (N,), px.

    Each side: 24 profiles across it, the centre of the squared gradient in each, a robust line
    through the centres; neighbouring lines meet in the corner.
    """
    corners = corners.copy()
    sides = _sides(corners)
    window = np.clip(sides / 12, 1.5, 4.0)
    spread = np.zeros(len(corners))
    widths = np.zeros(len(corners))
    for _ in range(2):
        start, stop = corners, np.roll(corners, -1, axis=1)
        along = stop - start
        length = np.linalg.norm(along, axis=2, keepdims=True)
        along = along / np.maximum(length, 1e-9)
        # Corners run clockwise in the picture, so this points out of the black square.
        normal = np.stack([along[..., 1], -along[..., 0]], axis=-1)
        share = np.linspace(0.12, 0.88, SAMPLES_PER_SIDE)
        foot = start[:, :, None] + share[None, None, :, None] * (stop - start)[:, :, None]
        reach = np.linspace(-1, 1, PROFILE_STEPS)[None] * (window + 1.0)[:, None]
        points = foot[:, :, :, None] + reach[:, None, None, :, None] * normal[:, :, None, None, :]
        values = sampled(grey, points).astype(np.float64)
        step = (reach[:, 1] - reach[:, 0])[:, None, None, None]
        # Derivative over about a pixel: finer steps would only differentiate noise.
        lag = 2
        gradient = np.maximum(0.0, (values[..., 2 * lag :] - values[..., : -2 * lag]))
        middle = reach[:, None, None, lag:-lag]
        weight = (gradient / (2 * lag * step)) ** 2
        total = weight.sum(axis=3)
        centre = (weight * middle).sum(axis=3) / np.maximum(total, 1e-9)
        second = (weight * (middle - centre[..., None]) ** 2).sum(axis=3)
        width = 2.56 * np.sqrt(2.0 * second / np.maximum(total, 1e-9))
        offset, slope, scatter = _robust_offsets(centre, total, share)
        origin = start + offset[..., None] * normal
        direction = along + (slope / np.maximum(length[..., 0], 1e-9))[..., None] * normal
        corners = _meet(
            np.roll(origin, 1, axis=1), np.roll(direction, 1, axis=1), origin, direction
        )
        spread = scatter.mean(axis=1) / np.sqrt(SAMPLES_PER_SIDE / 4)
        widths = np.median(width.reshape(len(corners), -1), axis=1)
    sd = np.where(widths > SOFT_EDGE_PX, np.maximum(spread, 0.15 * widths), spread)
    return corners, sd, widths


def _robust_offsets(
    centre: Floats, strength: Floats, share: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return offset at the side's start, rise over the side and scatter, for each side (N, 4)."""
    weight = (strength > 0).astype(np.float64)
    offset = slope = scatter = np.zeros(centre.shape[:2])
    for _ in range(4):
        s0 = np.maximum(weight.sum(axis=2), 1e-9)
        s1, s2 = (weight * share).sum(axis=2), (weight * share**2).sum(axis=2)
        c0, c1 = (weight * centre).sum(axis=2), (weight * share * centre).sum(axis=2)
        det = np.maximum(s0 * s2 - s1**2, 1e-9)
        offset, slope = (c0 * s2 - c1 * s1) / det, (c1 * s0 - c0 * s1) / det
        off = centre - offset[..., None] - slope[..., None] * share
        scatter = np.maximum(0.05, 1.4826 * np.median(np.abs(off), axis=2))
        weight = np.clip(1 - (off / (4 * scatter[..., None])) ** 2, 0, None) ** 2 * (strength > 0)
    return offset, slope, scatter


def _meet(p: Floats, d: Floats, q: Floats, e: Floats) -> Floats:
    """Return where lines p + s d and q + r e meet, elementwise."""
    det = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
    det = np.where(np.abs(det) > 1e-9, det, np.nan)
    step = q - p
    s = (step[..., 0] * e[..., 1] - step[..., 1] * e[..., 0]) / det
    return np.asarray(p + s[..., None] * d)


def _refuse_doubled(name: str, ids: NDArray[np.int_], corners: Floats) -> None:
    centres, sides = corners.mean(axis=1), _sides(corners)
    doubled = []
    for marker in np.unique(ids):
        rows = np.flatnonzero(ids == marker)
        if len(rows) > 1 and position_of(int(marker)) is not None:
            apart = np.linalg.norm(centres[rows[0]] - centres[rows[1]])
            if apart > 3 * sides[rows].max():
                doubled.append(int(marker))
    if len(doubled) >= 4:
        raise PhotoError(
            f"{name} shows two strips with the same numbers (marker {doubled[0]} lies at two "
            "places)",
            "lay only one strip beside the board, or print the second one with --second",
        )


def find_strip(photo: Photo, grey: Bytes | None = None) -> SeenMarkers | None:
    """Return the markers of strip and arms in a photo, or None where there is no strip.

    Raises
    ------
    PhotoError
        Two strips with the same numbers, a mirrored picture, or a strip too blurred to measure.
    """
    picture = grey_of(photo.pixels) if grey is None else grey
    ids, corners = read_markers(picture)
    _refuse_doubled(photo.name, ids, corners)
    keep = np.zeros(len(ids), dtype=bool)
    where = [position_of(int(marker)) for marker in ids]
    for reference in REFERENCES:
        rows = np.array(
            [row for row, place in enumerate(where) if place and place.reference == reference],
            dtype=np.int_,
        )
        if len(rows) < _fewest(reference):
            continue
        numbers = np.array([place.number for row in rows if (place := where[row]) is not None])
        keep[rows[in_order(numbers, corners[rows])]] = True
    main = [
        bool(k) and place is not None and place.reference in ("A", "B")
        for k, place in zip(keep, where, strict=True)
    ]
    if sum(main) < FEWEST_MARKERS:
        _refuse_mirrored(photo.name, picture)
        return None
    refined, sd, widths = refine_corners(picture, corners[keep])
    kept_ids = ids[keep]
    moved = np.linalg.norm(refined - corners[keep], axis=2).max(axis=1)
    well = np.isfinite(refined).all(axis=(1, 2)) & (moved < np.maximum(3.0, 0.2 * _sides(refined)))
    if float(np.median(widths)) > LOST_EDGE_PX:
        raise PhotoError(
            f"{photo.name} is too blurred to measure (edges are {np.median(widths):.0f} px wide)",
            "hold the phone still, tap on the board to focus, and take the photo again",
        )
    return SeenMarkers(kept_ids[well], refined[well], sd[well])


def _fewest(reference: Piece) -> int:
    return 2 if reference in ("arm", "arm2") else FEWEST_MARKERS


def _refuse_mirrored(name: str, grey: Bytes) -> None:
    factor = 2 if max(grey.shape) > 2000 else 1
    small = shrunk(grey, factor) if factor > 1 else grey
    ids, corners = markers_in(np.ascontiguousarray(small[:, ::-1]))
    numbers = np.array([int(i) for i in ids if int(i) < 100])
    rows = np.array([row for row, i in enumerate(ids) if int(i) < 100], dtype=np.int_)
    if len(rows) >= FEWEST_MARKERS and in_order(numbers, corners[rows]).sum() >= FEWEST_MARKERS:
        raise PhotoError(
            f"{name} is mirrored", "switch mirroring off in the camera and take it again"
        )
