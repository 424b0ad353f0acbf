"""Flattened rendered faces with labels by pixel, for the network that outlines are traced from.

``python -m tests.bench.learn_outlines FOLDER --seeds 3500-4273 --jobs 16`` writes one NAME.npz a
seed at 1 mm per pixel, the board along x: ``rgb``, ``lab`` (shares of face, wane and side, of 255),
``seen``, ``dist`` (quarter mm from the rule), ``foot`` and ``share`` (the camera's place). Of each
photograph only the board's surroundings are rendered. Development seeds only.
"""

import argparse
from dataclasses import replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import polygon_of
from scanner.vision.blades import without_blades
from scanner.vision.photos.picture import FacePicture
from tests.bench.many import workers
from tests.bench.near_board import photographed
from tests.bench.outlines import on_ground, rule_area
from tests.bench.seeing import View
from tests.render import photo as photos
from tests.render.camera import aim
from tests.render.draw_photos import draw_photo
from tests.render.scene import draw_board

_ALLOWED = range(3000, 5000)
_SURROUNDINGS_MM = 170.0
_STEEPEST_DEG = 55.0
_SIZES = {"full": 0.35, "large": 0.3, "middling": 0.25, "medium": 0.1}
_FINE = 4  # labels are painted this much finer, so an arris keeps its place inside a pixel


def drawn(seed: int):
    """Return a board and a photograph of it, tilted evenly from 0 to 55 degrees."""
    rng = np.random.default_rng((seed, 777))
    board = draw_board(seed)
    photo = draw_photo(
        seed,
        board,
        face=1 + int(rng.random() < 0.5),
        rule="strip" if rng.random() < 0.55 else "plain",
        rule_on="face" if rng.random() < 0.13 else "floor",
        size=str(rng.choice(list(_SIZES), p=list(_SIZES.values()))),  # type: ignore[arg-type]
    )
    return board, replace(photo, camera=_tilted(photo, board, rng)), rng


def _tilted(photo, board, rng):
    """Return the photo's camera, standing beside the board at another tilt, all still in sight."""
    camera = photo.camera
    portrait = camera.size[1] > camera.size[0]
    tilt = float(rng.uniform(0, _STEEPEST_DEG)) * (0.6 if portrait else 1.0)
    stand = float(rng.choice([0.0, 180.0] if portrait else [-90.0, 90.0]) + rng.normal(0, 8))
    a = np.radians(photo.board_deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    half = np.array([board.length_mm / 2 + 25, board.width_mm / 2 + 10])
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half @ turn
    corners += [photo.board_x, photo.board_y]
    long = photo.rule.length_mm
    corners = np.vstack([corners, [[x, y] for x in (-15, long + 15) for y in (-35, 35)]])
    corners = np.column_stack([corners, np.full(len(corners), board.thickness_mm)])
    middle = np.array([*corners[:, :2].mean(axis=0), 0.0])
    size, edge = np.array(camera.size), 0.02 * max(camera.size)
    roll, away = float(rng.normal(0, 3.2)), 1100.0
    while True:
        tried = aim(
            middle,
            away,
            tilt,
            stand,
            roll,
            focal=camera.focal,
            centre=(camera.cx, camera.cy),
            size=camera.size,
            lens=camera.lens,
        )
        seen = tried.project(corners)
        if ((seen > edge) & (seen < size - 1 - edge)).all():
            return tried
        away *= 1.02
        if away > 3600:  # a steep view of a long board: stand more upright over it
            tilt, away = tilt * 0.8, 1200.0


def surroundings(truth) -> Polygon:
    """Return what must be sharp in the photograph: the board and the floor round it, photo px."""
    near = on_ground(truth, truth.board.silhouette).buffer(_SURROUNDINGS_MM)
    ring = np.asarray(near.exterior.coords) * [1, -1]
    level = np.full(len(ring), truth.photo.face_height)
    return polygon_of(truth.photo.project(np.column_stack([ring, level])))


def _view(outline, rng) -> View:
    """Return a rectangle round the outline, a little askew, with margins drawn at random."""
    ends = np.asarray(outline.minimum_rotated_rectangle.exterior.coords)
    long = max(np.diff(ends, axis=0), key=lambda v: float(np.hypot(*v)))
    long = long if long[0] > 0 else -long
    angle = float(np.arctan2(long[1], long[0]) + np.radians(rng.normal(0, 0.3)))
    turned = View(0, 0, angle, 1, 1).from_ground(np.asarray(outline.exterior.coords))
    margins = rng.uniform([60, 45], [150, 110], (2, 2))
    first, last = turned.min(axis=0) - margins[0], turned.max(axis=0) + margins[1]
    corner = View(0, 0, angle, 1, 1).to_ground([first])[0]
    width, height = np.floor(last - first)
    return View(float(corner[0]), float(corner[1]), angle, float(width), float(height))


def _laid_flat(pixels, first, truth, view: View, rng):
    """Return colours and seen flags (H, W) at 1 mm per pixel, formed from 0.5 mm as a scan's.

    Half of those that lie in grass are freed of blades as a scan frees them.
    """
    columns, rows = int(view.width), int(view.height)
    gx, gy = np.meshgrid(np.arange(2 * columns) / 2, np.arange(2 * rows) / 2)
    ground = view.to_ground(np.column_stack([gx.ravel(), gy.ravel()])) * [1, -1]
    level = np.full(len(ground), truth.photo.face_height)
    at = truth.photo.project(np.column_stack([ground, level])).reshape(2 * rows, 2 * columns, 2)
    seen = ((at >= 0) & (at <= np.array(truth.photo.size) - 1)).all(axis=-1)
    how = cv2.INTER_CUBIC if rng.random() < 0.7 else cv2.INTER_LINEAR
    there = (at - first).astype(np.float32)
    rgb = cv2.remap(pixels, there[..., 0], there[..., 1], how)
    if rng.random() < 0.5:
        rgb = without_blades(FacePicture(rgb, 0.5, (0.0, 0.0), 0.0006, 0.5, seen)).pixels
    size = (columns, rows)
    seen = cv2.resize(seen.astype(np.uint8), size, interpolation=cv2.INTER_AREA) > 0
    return cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), seen


def _painted(rings, shape):
    """Return the share (of 255) of each pixel that rings (px) cover.

    What a ring touches counts, so shapes come out an eighth px too large on every side. Use knows
    (`face_map.LABEL_RIM_MM`): whoever paints otherwise must teach anew and change it there.
    """
    canvas = np.zeros((shape[0] * _FINE, shape[1] * _FINE), np.uint8)
    for ring in rings:
        fine = ((ring + 0.5) * _FINE - 0.5) * 16
        cv2.fillPoly(canvas, [np.round(fine).astype(np.int32)], 255, shift=4)
    return cv2.resize(canvas, shape[::-1], interpolation=cv2.INTER_AREA)


def _labels(truth, in_picture, foot, share: float, shape):
    """Return shares (3, H, W) of face, wane and side."""
    key = str(truth.photo.face)
    face = _painted([in_picture(on_ground(truth, truth.board.outline[key]))], shape)
    wanes = [
        in_picture(on_ground(truth, ring))
        for flaw in truth.board.flaws
        if flaw.kind == "wane"
        for ring in flaw.outlines.get(key, [])
        if len(ring) > 2
    ]
    wane = np.minimum(_painted(wanes, shape), 255 - face)
    upper = in_picture(on_ground(truth, truth.board.silhouette))
    lower = upper + share * (foot - upper)
    sides = np.zeros(shape, np.uint8)
    for quad in zip(upper[:-1], upper[1:], lower[1:], lower[:-1], strict=True):
        hull = cv2.convexHull(np.round(np.array(quad) * 16).astype(np.int32))
        cv2.fillConvexPoly(sides, hull, 255, shift=4)
    return np.stack([face, wane, np.minimum(sides, 255 - np.maximum(face, wane))])


def _from_rule(truth, in_picture, shape):
    """Return each pixel's distance from a rule on the floor, quarter mm, 255 at most."""
    if truth.photo.rule_on == "face":
        return np.full(shape, 255, np.uint8)
    pad = 80
    canvas = np.ones((shape[0] + 2 * pad, shape[1] + 2 * pad), np.uint8)
    ring = np.round((in_picture(rule_area(truth)) + pad) * 16).astype(np.int32)
    cv2.fillPoly(canvas, [ring], 0, shift=4)
    away = cv2.distanceTransform(canvas, cv2.DIST_L2, 3)[pad:-pad, pad:-pad]
    return np.minimum(away * 4, 255).astype(np.uint8)


def write_one(seed: int, folder: Path) -> None:
    """Render one seed's face and write it; one that the renderer fails at is left out."""
    if seed not in _ALLOWED:
        raise ValueError(f"seed {seed} is held out: take 3000-4999")
    cv2.setNumThreads(1)
    board, photo, rng = drawn(seed)
    truth = photos.truth_of(board, photo)
    try:
        pixels, first = photographed(board, photo, surroundings(truth))
    except ValueError as problem:
        print(f"{seed} left out: {problem}", flush=True)
        return
    view = _view(on_ground(truth, truth.board.outline[str(truth.photo.face)]), rng)
    rgb, seen = _laid_flat(pixels, first, truth, view, rng)

    def in_picture(shape):
        # The first pixel at 1 mm is formed from those at 0 and 0.5 mm.
        return view.from_ground(np.asarray(shape.exterior.coords)) - 0.25

    eye, share = truth.photo.eye, truth.photo.face_height / truth.photo.eye[2]
    foot = view.from_ground([[eye[0], -eye[1]]])[0] - 0.25
    labels = _labels(truth, in_picture, foot, share, rgb.shape[:2])
    rule = _from_rule(truth, in_picture, rgb.shape[:2])
    # Whole or not there: rendering may be stopped by the clock.
    draft = folder / f"{seed}.draft"
    with draft.open("wb") as file:
        np.savez(file, rgb=rgb, lab=labels, seen=seen, dist=rule, foot=foot, share=share)
    draft.replace(folder / f"{seed}.npz")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seeds", default="3500-4273", help="first-last")
    parser.add_argument("--waned", action="store_true", help="only boards that carry wane")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    chosen.folder.mkdir(parents=True, exist_ok=True)
    seeds = [s for s in range(first, last + 1) if not chosen.waned or draw_board(s).wane]
    with workers(chosen.jobs) as pool:
        list(pool.map(partial(write_one, folder=chosen.folder), seeds))


if __name__ == "__main__":
    main()
