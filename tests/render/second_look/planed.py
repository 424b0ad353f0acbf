"""A planed piece of a rendered board: the same wood a little deeper, without saw marks and dirt."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.render.develop import _tone
from tests.render.noise import F32, noise_2d
from tests.render.shape import Shape
from tests.render.specs import BoardSpec
from tests.render.stage import surfaces_of
from tests.render.truth import board_truth

F64 = NDArray[np.float64]


@dataclass(frozen=True)
class PieceCut:
    """What is sawn out and planed: board frame, mm.

    ``deep_mm`` is what the planer took off the face that is seen; ``is_turned``: photographed with
    its end of larger x at the left.
    """

    face: int
    x: float
    y: float
    length: float
    width: float
    deep_mm: float
    is_turned: bool


def planed_colour(board: BoardSpec, x: F32, y: F32, face: int, deep_mm: float) -> F32:
    """Return linear RGB (N, 3) of points (model frame) of a planed face; dark where no wood is."""
    shape, surfaces = Shape(board), surfaces_of(board)
    z0 = deep_mm if face == 1 else board.thickness_mm - deep_mm
    z = np.full(x.shape, z0, dtype=np.float32)
    out, _ = shape.outside(x, y, z)
    colour = np.full((len(x), 3), 0.02, dtype=np.float32)
    at = np.nonzero(out <= 0)[0]
    if len(at):
        xs, ys, zs = x[at], y[at], z[at]
        wood = surfaces.wood.albedo(xs, ys, zs)
        wood = surfaces.marks.paint(wood, xs, ys, zs, 0.5)
        # Knife marks: shallow arcs two or three mm apart, far fainter than a saw's.
        knives = noise_2d(board.seed + 77, xs * 0.4, ys * 0.02, 1.0)
        colour[at] = np.clip(wood * np.exp(0.012 * knives)[:, None], 0.004, 0.95)
    return colour


def render_piece(
    board: BoardSpec, cut: PieceCut, mm_per_px: float, seed: int, border_mm: float = 0.0
) -> NDArray[np.uint8]:
    """Return the piece's planed face (H, W, 3) as a person sees it, square on, with a phone's wear.

    Lamp from one side, white balance, noise and softness are drawn from the seed; the face of a
    board turned over is seen mirrored in y.
    """
    rng = np.random.default_rng((board.seed, seed, 907))
    columns = round((cut.length + 2 * border_mm) / mm_per_px)
    rows = round((cut.width + 2 * border_mm) / mm_per_px)
    v, u = np.mgrid[0:rows, 0:columns].astype(np.float64)
    px = cut.x - border_mm + (u + 0.5) * mm_per_px
    py = cut.y - border_mm + (v + 0.5) * mm_per_px
    model = board_truth(Shape(board)).model_from_board(np.column_stack([px.ravel(), py.ravel()]))
    mx, my = (np.ascontiguousarray(model[:, i], dtype=np.float32) for i in (0, 1))
    light = planed_colour(board, mx, my, cut.face, cut.deep_mm).reshape(rows, columns, 3)
    inside = (px >= cut.x) & (px <= cut.x + cut.length)
    inside &= (py >= cut.y) & (py <= cut.y + cut.width)
    light[~inside] = 0.10
    if cut.face == 2:
        light = light[::-1]
    if cut.is_turned:
        light = light[::-1, ::-1]
    return developed(np.ascontiguousarray(light), rng)


def developed(light: F32, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Return what a phone makes of a flat scene: lamp, balance, softness, noise, tone."""
    import cv2

    rows, columns = light.shape[:2]
    v, u = np.mgrid[0:rows, 0:columns].astype(np.float32)
    slope = rng.normal(0, 0.12, 2)
    lamp = 1 + slope[0] * (u / columns - 0.5) + slope[1] * (v / rows - 0.5)
    balance = np.exp(rng.normal(0, 0.05, 3)).astype(np.float32)
    seen = light * lamp[..., None] * balance * np.float32(rng.uniform(0.85, 1.2))
    seen = cv2.GaussianBlur(seen, (0, 0), float(rng.uniform(0.5, 0.9)))
    tone = _tone(np.clip(seen, 0, 1.6)) + 0.012 * rng.standard_normal((rows, columns, 1))
    return np.asarray(np.clip(tone * 255 + 0.5, 0, 255), dtype=np.uint8)
