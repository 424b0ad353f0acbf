"""Scenes of projected, noisy marks put through the real fit: errors and U of every distance.

Nothing here looks at a picture, so hundreds of scenes are cheap; `tests.bench.scale` runs them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scanner.vision.evidence.observations import FacePoint, PointView
from scanner.vision.fit.refit import with_board_ends, with_face_points
from scanner.vision.fit.refit import with_taped_length as taped_refit
from scanner.vision.fit.scale_fit import ScaleFit
from scanner.vision.scale import fit_seen
from tests.bench.levels import KINDS, LEVELS
from tests.bench.scenes import (
    EDGE_NOISE_PX,
    END_NOISE_PX,
    KNOTS,
    TIE_NOISE_PX,
    Scene,
    draw_scene,
    in_picture,
    project,
)

__all__ = ["KINDS", "LEVELS", "Outcome", "draw_scene", "measure"]
_FIRST_KNOT = 12


@dataclass(frozen=True, slots=True)
class Outcome:
    """Error and U of one distance, mm."""

    error: float
    u: float


def _noise() -> np.ndarray:
    return np.array([END_NOISE_PX] * 2 + [EDGE_NOISE_PX] * 10 + [END_NOISE_PX] * KNOTS)


def _shot(scene: Scene, photo: int, xy: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Return face points as one photo shows them, NaN where it does not."""
    pixels = scene.smooth(project(scene.cameras[photo], scene.board.world(xy)))
    pixels = pixels + scene.random.normal(0, 1, pixels.shape) * noise[:, None]
    return np.where(in_picture(pixels)[:, None], pixels, np.nan)


def measure(scene: Scene) -> dict[str, list[Outcome]]:
    """Return errors and U of length, widths and knot distances as the fit gives them."""
    fit = fit_seen(scene.seen, scene.setup, "strip" if scene.kind.reference == "strip" else "plain")
    photos = range(len(scene.cameras))
    pixels = [_shot(scene, photo, scene.board.places, _noise()) for photo in photos]

    def ends_now(a_fit: ScaleFit) -> np.ndarray:
        return _off_the_picture(a_fit, pixels)[:2]

    ends = ends_now(fit)
    if scene.kind.board_taped:
        fit = taped_refit(fit, ends[0], ends[1], scene.taped)
    else:
        fit = with_board_ends(fit, ends[0], ends[1])
    if len(pixels) > 1:
        ties = np.full(len(scene.board.ties), TIE_NOISE_PX)
        grain = [_shot(scene, photo, scene.board.ties, ties) for photo in photos]
        points = _face_points(fit, grain, ties, fewest=2)
        if scene.kind.read == "photos":
            points = _face_points(fit, pixels, _noise(), fewest=1) + points
        fit = with_face_points(fit, points)
    if scene.kind.read == "photos":
        return _distances(scene, lambda i, j: fit.between_points(i, j))
    at = _off_the_picture(fit, pixels)
    noise = _noise()

    def between(i: int, j: int) -> tuple[float, float]:
        u = fit.u_between(at[i], at[j], sd_p_px=noise[i], sd_q_px=noise[j])
        return float(np.linalg.norm(at[i] - at[j])), u

    return _distances(scene, between)


def _off_the_picture(fit: ScaleFit, pixels: list[np.ndarray]) -> np.ndarray:
    """Return face points (N, 2) as the flat picture has them: from the nearest photo's foot."""
    there = np.array([fit.face_from_photo(photo, seen) for photo, seen in enumerate(pixels)])
    feet = np.array([fit.foot_mm(photo) for photo in range(len(pixels))])
    far = np.linalg.norm(there - feet[:, None], axis=2)
    nearest = np.where(np.isfinite(far), far, np.inf).argmin(axis=0)
    return np.asarray(there[nearest, np.arange(there.shape[1])])


def _face_points(
    fit: ScaleFit, pixels: list[np.ndarray], noise: np.ndarray, fewest: int
) -> tuple[FacePoint, ...]:
    start = _off_the_picture(fit, pixels) * np.array([1.0, -1.0])
    out = []
    for i, place in enumerate(start):
        seen = tuple(
            PointView(photo, float(some[i, 0]), float(some[i, 1]), float(noise[i]))
            for photo, some in enumerate(pixels)
            if np.isfinite(some[i]).all()
        )
        if len(seen) >= fewest:
            out.append(FacePoint(seen, (float(place[0]), float(place[1]))))
    return tuple(out)


def _distances(
    scene: Scene, between: Callable[[int, int], tuple[float, float]]
) -> dict[str, list[Outcome]]:
    places = scene.board.places

    def outcome(i: int, j: int) -> Outcome:
        value, u = between(i, j)
        return Outcome(float(value - np.linalg.norm(places[i] - places[j])), u)

    knots = range(_FIRST_KNOT, len(places))
    pairs = [(0, k) for k in knots] + [(12, 13), (14, 15), (16, 17)]
    return {
        "length": [outcome(0, 1)],
        "width": [outcome(2 + 2 * s, 3 + 2 * s) for s in range(5)],
        "knots": [outcome(i, j) for i, j in pairs],
    }
