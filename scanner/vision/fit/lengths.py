"""The U of any length on the face, from the covariance of the whole fit.

U is the half-width of a 95 % interval, 2 sd (JCGM 100:2008, 5.1.2 and 6.2.1): unknowns of the fit
with their correlations, pixel noise of both points, a smooth lens error that no lens model knows,
and the difference to each mirror twin that the photos cannot rule out.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg

from scanner.errors import PhotoError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.vision.evidence.observations import Floats
    from scanner.vision.fit.least_squares import Solution

SMALLEST_U_MM = 0.5
# What a five-term lens model leaves over a long line; near points share it (length.
# geometry of the fit: 0.7 px at 1000 px and more).
SMOOTH_LENS_PX = 0.7
SMOOTH_LENS_SPAN_PX = 1000.0

ADVICE = {
    "lens": "take the photo from further back, or a second photo from another side",
    "print": "tape the strip from its zero to its last joint line and type the length in",
    "height": "type in thickness and bow as measured, or take a second photo from another side",
    "pose": "lay a second reference on the other side of the board, or go nearer and straighter",
    "pixels": "go nearer to the board's ends",
}


def face_from_photo(solution: Solution, photo: int, pixels: Floats) -> Floats:
    """Return the face points (N, 2), reference frame (y up), of pixels (N, 2) of a photo."""
    model, state = solution.model, solution.state
    camera = model.camera(state, photo)
    rays, eye = camera.rays(pixels), camera.centre
    z = np.full(len(pixels), model.observations.face.thickness_mm)
    xy = np.zeros((len(pixels), 2))
    # The face is nearly level, so each step shrinks the error by its slope, under 1 %.
    for _ in range(6):
        reach = (z - eye[2]) / np.where(np.abs(rays[:, 2]) > 1e-9, rays[:, 2], np.nan)
        xy = eye[:2] + rays[:, :2] * reach[:, None]
        z = model.face_world(state, np.nan_to_num(xy))[:, 2]
    return np.where((reach > 0)[:, None], xy, np.nan)


def photo_from_face(solution: Solution, photo: int, points: Floats) -> Floats:
    """Return the pixels (N, 2) of a photo of face points (N, 2), reference frame (y up)."""
    model, state = solution.model, solution.state
    return model.camera(state, photo).project(model.face_world(state, points))


def _place_gradient(solution: Solution, photo: int, point: Floats) -> tuple[Floats, Floats]:
    """Return how a point read off a pixel moves with the unknowns (2, U) and its pixel (2, 2)."""
    model, state = solution.model, solution.state
    by_pixel = np.linalg.inv(model.place_slopes(state, photo, point[None])[0])
    return -by_pixel @ model.face_slopes(state, photo, point[None])[0], by_pixel


def length_gradient(
    solution: Solution, sources: tuple[int, int], ends: tuple[Floats, Floats]
) -> tuple[Floats, tuple[float, float]]:
    """Return the derivatives of a length by all unknowns, and mm per px along it at both ends."""
    step = ends[1] - ends[0]
    length = float(np.linalg.norm(step))
    along = step / length if length > 1e-9 else np.array([1.0, 0.0])
    gradients, scales = [], []
    for photo, point in zip(sources, ends, strict=True):
        by_unknown, by_pixel = _place_gradient(solution, photo, point)
        gradients.append(along @ by_unknown)
        scales.append(float(np.linalg.norm(along @ by_pixel)))
    return gradients[1] - gradients[0], (scales[0], scales[1])


def u_of_length(
    solution: Solution,
    twins: Sequence[Solution],
    sources: tuple[int, int],
    ends: tuple[Floats, Floats],
    sd_px: tuple[float, float],
) -> float:
    """Return U of the distance of two face points, each read off one photo, mm (not rounded)."""
    gradient, scales = length_gradient(solution, sources, ends)
    misfit = max(1.0, solution.chi2_per_dof)
    variance = misfit * float(gradient @ solution.covariance @ gradient)
    variance += (sd_px[0] * scales[0]) ** 2 + (sd_px[1] * scales[1]) ** 2
    length = float(np.linalg.norm(ends[1] - ends[0]))
    variance += smooth_lens_mm(length, sum(scales) / 2) ** 2
    return 2.0 * math.sqrt(variance) + _twin_difference(solution, twins, sources, ends)


def smooth_lens_mm(length_mm: float, mm_per_px: float) -> float:
    """Return the sd of a length that comes from what the lens model cannot say."""
    share = min(1.0, length_mm / mm_per_px / SMOOTH_LENS_SPAN_PX)
    return SMOOTH_LENS_PX * share * mm_per_px


def _twin_difference(
    solution: Solution,
    twins: Sequence[Solution],
    sources: tuple[int, int],
    ends: tuple[Floats, Floats],
) -> float:
    length = float(np.linalg.norm(ends[1] - ends[0]))
    worst = 0.0
    for other in twins:
        there = []
        for photo, point in zip(sources, ends, strict=True):
            pixel = photo_from_face(solution, photo, point[None])
            there.append(face_from_photo(other, photo, pixel)[0])
        change = abs(float(np.linalg.norm(there[1] - there[0])) - length)
        worst = max(worst, change if math.isfinite(change) else 0.0)
    return worst


def u_of_points(
    solution: Solution, twins: Sequence[Solution], first: int, second: int, mm_per_px: float
) -> tuple[float, float]:
    """Return the distance of two points that are unknowns of the fit, and its U, mm."""
    model = solution.model
    places = model.points_mm(solution.state)
    step = places[second] - places[first]
    length = float(np.linalg.norm(step))
    gradient = np.zeros(model.size)
    gradient[model.blocks[f"point {first}"].slice] = -step / length
    gradient[model.blocks[f"point {second}"].slice] = step / length
    variance = max(1.0, solution.chi2_per_dof) * float(gradient @ solution.covariance @ gradient)
    # Several photos average what the lens model cannot say.
    views = min(len(model.observations.points[i].seen) for i in (first, second))
    variance += smooth_lens_mm(length, mm_per_px) ** 2 / views
    worst = 0.0
    for other in twins:
        there = other.model.points_mm(other.state)
        worst = max(worst, abs(float(np.linalg.norm(there[second] - there[first])) - length))
    return length, 2.0 * math.sqrt(variance) + worst


def rounded_u(u_mm: float) -> float:
    """Return U rounded up to 0.1 mm; never below half a millimetre.

    Raises
    ------
    PhotoError
        It is no number: a point lies where no camera of the fit can look.
    """
    if not math.isfinite(u_mm):
        raise PhotoError(
            "No length can be told from this photo: the board runs on beyond what its camera sees",
            "take the photo from higher up, with board and rule whole in the picture",
        )
    return max(SMALLEST_U_MM, math.ceil(u_mm * 10 - 1e-9) / 10)


def budget(
    solution: Solution, sources: tuple[int, int], ends: tuple[Floats, Floats]
) -> dict[str, float]:
    """Return how much of a length's variance goes away where one group of unknowns were known."""
    gradient, scales = length_gradient(solution, sources, ends)
    normal = linalg.pinvh(solution.covariance)
    whole = float(gradient @ solution.covariance @ gradient)
    shares = {"pixels": 2 * (0.7 * sum(scales) / 2) ** 2}
    prior_groups = ("lens", "print", "height")
    for groups in (*((group,) for group in prior_groups), prior_groups):
        free = np.ones(len(gradient), dtype=bool)
        for block in solution.model.blocks.values():
            if block.group in groups:
                free[block.slice] = False
        left = float(gradient[free] @ linalg.pinvh(normal[np.ix_(free, free)]) @ gradient[free])
        if len(groups) == 1:
            shares[groups[0]] = max(0.0, whole - left)
        else:
            # What is left where all priors were known exactly comes from the marks' own noise.
            shares["pose"] = max(0.0, left)
    return shares
