"""A face square on at true scale, with no camera: quick pictures for tuning flaw finders."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.render.develop import _tone
from tests.render.shape import F64, Shape
from tests.render.specs import BoardSpec
from tests.render.stage import surfaces_of
from tests.render.surface import FACE_1, FACE_2
from tests.render.truth import BoardTruth, board_truth

_BORDER_MM = 12.0


@dataclass(frozen=True, eq=False)
class FaceTruth:
    """The board's truth and the way from its frame to the flat picture's pixels."""

    board: BoardTruth
    face: int
    mm_per_px: float
    origin_mm: tuple[float, float]  # own view, mm, of the centre of the first pixel
    extent_y: float

    def picture_from_board(self, points_mm: NDArray[np.floating]) -> F64:
        """Return pixels (column, row) of board-frame points (N, 2)."""
        p = np.array(points_mm, dtype=float)
        if self.face == 2:  # turned over sideways: seen by a person, y runs the other way
            p[:, 1] = self.extent_y - p[:, 1]
        return (p - self.origin_mm) / self.mm_per_px


def render_face_truth(board: BoardSpec, face: int, mm_per_px: float) -> FaceTruth:
    """Return the truth of `render_face`'s picture."""
    truth = board_truth(Shape(board))
    extent = float(np.array(truth.outline["1"])[:, 1].max())
    return FaceTruth(truth, face, mm_per_px, (-_BORDER_MM, -_BORDER_MM), extent)


def render_face(
    board: BoardSpec, face: int, mm_per_px: float, *, supersample: int = 2, seed: int = 0
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Return the face (H, W, 3) as a person sees it, and which pixels are the flat face."""
    truth = render_face_truth(board, face, mm_per_px)
    shape = Shape(board)
    surfaces = surfaces_of(board)
    outline = np.array(truth.board.outline["1"] + truth.board.silhouette)
    width = int(np.ceil((outline[:, 0].max() + 2 * _BORDER_MM) / mm_per_px))
    height = int(np.ceil((truth.extent_y + 2 * _BORDER_MM) / mm_per_px))
    n = supersample
    z = np.float32(0.0 if face == 1 else board.thickness_mm)
    picture = np.empty((height, width, 3), dtype=np.float32)
    mask = np.empty((height, width), dtype=bool)
    rows = max(1, 200_000 // (width * n * n))
    for top in range(0, height, rows):
        h = min(rows, height - top)
        v, u = np.mgrid[0 : h * n, 0 : width * n].astype(np.float64)
        x = ((u + 0.5) / n - 0.5) * mm_per_px + truth.origin_mm[0]
        y = ((v + 0.5) / n - 0.5 + top) * mm_per_px + truth.origin_mm[1]
        if face == 2:
            y = truth.extent_y - y
        model = truth.board.model_from_board(np.column_stack([x.ravel(), y.ravel()]))
        mx, my = (np.ascontiguousarray(model[:, i], dtype=np.float32) for i in (0, 1))
        mz = np.full(mx.shape, z, dtype=np.float32)
        out, _ = shape.outside(mx, my, mz)
        at = np.nonzero(out <= 0)[0]
        colour = np.full((len(mx), 3), 0.02, dtype=np.float32)
        if len(at):
            side = FACE_1 if face == 1 else FACE_2
            albedo, hx, hy = surfaces.shade(mx[at], my[at], mz[at], side, mm_per_px / n)
            flip = 1.0 if face == 1 else -1.0
            colour[at] = albedo * (1.0 - 0.5 * hx - 0.5 * flip * hy)[:, None]
        picture[top : top + h] = colour.reshape(h, n, width, n, 3).mean(axis=(1, 3))
        mask[top : top + h] = (out <= 0).reshape(h, n, width, n).mean(axis=(1, 3)) >= 0.5
    rng = np.random.default_rng((board.seed, face, seed, 701))
    noise = rng.standard_normal((height, width, 1), dtype=np.float32)
    tone = _tone(np.clip(picture * 1.1, 0, 1.6)) + 0.008 * noise
    return np.clip(tone * 255 + 0.5, 0, 255).astype(np.uint8), mask
