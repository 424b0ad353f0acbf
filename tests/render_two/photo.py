"""A photograph of one face on a floor beside the coded strip, with its truth."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_two.flat import turned_of, view_from_board
from tests.render_two.flaw_truth import truth_of
from tests.render_two.lens import SIZE, Camera, draw_camera
from tests.render_two.light import developed, draw_light
from tests.render_two.plank import draw_plank
from tests.render_two.stage import Stage, set_stage
from tests.render_two.truth import BoardTruth

_TILE = 256


@dataclass(frozen=True, eq=False)
class PhotoTruth:
    """How board millimetres came into the photograph."""

    camera: Camera
    face: int
    turned: str
    face_height: float
    strip_true_mm: float
    batten_mm: float
    origin: tuple[float, float]
    angle: float
    plank: object
    rule_kind: str = "strip"

    @property
    def R(self):  # noqa: N802
        return self.camera.R

    @property
    def t(self):
        return self.camera.t

    @property
    def eye(self):
        return self.camera.eye

    @property
    def lens(self):
        return self.camera.lens

    def project(self, points):
        return self.camera.project(points)

    def reference_from_board(self, points):
        """Return reference mm (n, 3) of board mm on the photographed face."""
        seen = view_from_board(points, self.turned, self.plank)
        return on_floor(seen, self.origin, self.angle, self.face_height)


@dataclass(frozen=True, eq=False)
class Photo:
    """Pixels (rows, columns, 3) uint8 RGB and what is true of them."""

    pixels: np.ndarray
    board: BoardTruth
    photo: PhotoTruth


def on_floor(seen, origin, angle, height):
    """Return reference mm of places on the board as it lies: x right, y towards the viewer."""
    seen = np.asarray(seen, float)
    c, s = np.cos(angle), np.sin(angle)
    x = origin[0] + c * seen[:, 0] + s * seen[:, 1]
    y = origin[1] + s * seen[:, 0] - c * seen[:, 1]
    return np.column_stack([x, y, np.full(len(seen), height)])


def photo_of(seed: int, face: int, size: tuple[int, int] = SIZE) -> Photo:
    """Return the photograph of one face of a seed's board, ``size`` px wide and tall."""
    plank = draw_plank(seed)
    rng = np.random.default_rng((seed, 61, face))
    same = np.random.default_rng((seed, 62))  # one strip, one batten for both faces
    batten = float(plank.thickness + same.uniform(-4, 4))
    turned = turned_of(plank, face)
    gap = rng.uniform(25, 75)
    angle = float(rng.normal(0, 0.008))
    start = rng.uniform(10, 60)
    origin = (float(start), float(30 + gap + plank.width + 4))
    light = draw_light(rng)
    strip_mm = plank.length + 130
    box = (-30.0, -60.0, max(plank.length + start, strip_mm) + 60, origin[1] + 40)
    camera = draw_camera(rng, box, plank.thickness, size)
    stage = set_stage(rng, plank, face, turned, origin, angle, batten, strip_mm, light, camera)
    radiance = _look(stage, camera)
    pixels = developed(light, radiance, rng)
    truth = PhotoTruth(
        camera, face, turned, plank.thickness, stage.strip_true_mm, batten, origin, angle, plank
    )
    return Photo(pixels, truth_of(plank), truth)


def _look(stage: Stage, camera) -> np.ndarray:
    wide, tall = camera.size
    radiance = np.zeros((tall, wide, 3), np.float32)
    for top in range(0, tall, _TILE):
        for left in range(0, wide, _TILE):
            h, w = min(_TILE, tall - top), min(_TILE, wide - left)
            n = 2 if stage.is_near(camera, left, top, w, h) else 1
            v, u = np.mgrid[0 : h * n, 0 : w * n]
            u, v = left + (u + 0.5) / n - 0.5, top + (v + 0.5) / n - 0.5
            seen = stage.look(_ways(camera, u, v), camera.eye, n > 1)
            radiance[top : top + h, left : left + w] = seen.reshape(h, n, w, n, 3).mean((1, 3))
    return radiance


def _ways(camera, u, v):
    """Return viewing directions: few are solved, the rest laid between (the lens is smooth)."""
    rows = np.linspace(v[0, 0], v[-1, 0], 9)
    columns = np.linspace(u[0, 0], u[0, -1], 9)
    gu, gv = np.meshgrid(columns, rows)
    coarse = camera.ways(gu.ravel(), gv.ravel()).reshape(9, 9, 3).astype(np.float32)
    mx = (u - columns[0]) / (columns[-1] - columns[0]) * 8
    my = (v - rows[0]) / (rows[-1] - rows[0]) * 8
    found = cv2.remap(coarse, mx.astype(np.float32), my.astype(np.float32), cv2.INTER_LINEAR)
    return found.reshape(-1, 3)
