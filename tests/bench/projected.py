"""Scenes of projected, noisy marks put through the real fit: errors and U of every distance.

Nothing here looks at a picture, so hundreds of scenes are cheap; `tests.bench.scale` runs them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from scanner.vision.evidence.lens_evidence import LensEvidence
from scanner.vision.evidence.observations import FacePoint, LensPrior, PointView
from scanner.vision.fit.profile import evidence_of, taught
from scanner.vision.fit.refit import with_board_ends, with_face_points
from scanner.vision.fit.refit import with_taped_length as taped_refit
from scanner.vision.fit.scale_fit import ScaleFit
from scanner.vision.photos.picture import Photo
from scanner.vision.scale import fit_seen
from tests.bench.levels import KINDS, LEVELS, Kind, Level
from tests.bench.scenes import (
    EDGE_NOISE_PX,
    END_NOISE_PX,
    HEIGHT,
    KNOTS,
    TIE_NOISE_PX,
    WIDTH,
    WIDTH_MM,
    Scene,
    draw_lens,
    draw_scene,
    in_picture,
    project,
)

__all__ = ["KINDS", "LEVELS", "Outcome", "draw_scene", "drawn", "measure"]
_FIRST_KNOT = 12
# The most that a seam may be off.
SEAM_MM = 0.7
_NAMED = Photo(
    "lot.jpg", np.broadcast_to(np.uint8(0), (HEIGHT, WIDTH, 3)), "", 3000.0, "Maker Phone", True
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """Error and U of one distance, mm; of a seam the step and the most allowed."""

    error: float
    u: float


def _noise() -> np.ndarray:
    return np.array([END_NOISE_PX] * 2 + [EDGE_NOISE_PX] * 10 + [END_NOISE_PX] * KNOTS)


def _shot(scene: Scene, photo: int, xy: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Return face points as one photo shows them, NaN where it does not."""
    pixels = scene.smooth(project(scene.cameras[photo], scene.board.world(xy)))
    pixels = pixels + scene.random.normal(0, 1, pixels.shape) * noise[:, None]
    return np.where(in_picture(pixels)[:, None], pixels, np.nan)


def drawn(seed: int, kind: Kind, level: Level) -> Scene:
    """Return a scene from a seed; in a lot its phone is known from the boards scanned before."""
    if not kind.lot:
        return draw_scene(seed, kind, level)
    random = np.random.default_rng((seed, 1))
    lens, prior = draw_lens(random)

    def phone() -> tuple[np.ndarray, LensPrior]:
        own = lens.copy()
        own[0] *= 1 + random.normal(0, prior.sd_focus)
        own[1:3] += random.normal(0, prior.sd_stabiliser_px, 2)
        return own, taught(prior, known)

    known: LensEvidence | None = None
    for board in range(kind.lot):
        fit, _ = fitted(draw_scene((seed, 2 + board), kind, level, phone()))
        told = evidence_of(fit, (_NAMED,))
        if told is not None:
            known = told if known is None else known.and_(told)
    return draw_scene(seed, kind, level, phone())


def fitted(scene: Scene) -> tuple[ScaleFit, list[np.ndarray]]:
    """Return the fit of a scene, and where each photo shows the board's places."""
    fit = fit_seen(scene.seen, scene.setup, "strip" if scene.kind.reference == "strip" else "plain")
    photos = range(len(scene.cameras))
    pixels = [_shot(scene, photo, scene.board.places, _noise()) for photo in photos]
    ends = _off_the_picture(fit, pixels)[:2]
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
    return fit, pixels


def measure(scene: Scene) -> dict[str, list[Outcome]]:
    """Return errors and U of length, widths and knot distances as the fit gives them.

    Photos along the board also give the error at their seams, mm, against the most allowed.
    """
    fit, pixels = fitted(scene)
    seams = {"seam": _seams(scene, fit)} if scene.kind.overhead else {}
    if scene.kind.read == "photos":
        return _distances(scene, lambda i, j: fit.between_points(i, j)) | seams
    at = _off_the_picture(fit, pixels)
    noise = _noise()

    def between(i: int, j: int) -> tuple[float, float]:
        u = fit.u_between(at[i], at[j], sd_p_px=noise[i], sd_q_px=noise[j])
        return float(np.linalg.norm(at[i] - at[j])), u

    return _distances(scene, between) | seams


def _seams(scene: Scene, fit: ScaleFit) -> list[Outcome]:
    """Return how far apart two photos draw one true place where the flat picture joins them.

    The seam lies midway between the cameras' feet. What a photo shows has no reading noise: only
    the fit's own errors and the lens's smooth ones part the two.
    """
    order = np.argsort([camera.centre[0] for camera in scene.cameras])
    out = []
    for one, other in pairwise(int(photo) for photo in order):
        x = (scene.cameras[one].centre[0] + scene.cameras[other].centre[0]) / 2
        across = scene.board.middle[1] + np.linspace(-0.45, 0.45, 5) * WIDTH_MM
        places = scene.board.world(np.column_stack([np.full(5, x), across]))
        both = []
        for photo in (one, other):
            pixels = scene.smooth(project(scene.cameras[photo], places))
            both.append(fit.face_from_photo(photo, pixels))
        out += [Outcome(float(step), SEAM_MM) for step in np.linalg.norm(both[0] - both[1], axis=1)]
    return out


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
