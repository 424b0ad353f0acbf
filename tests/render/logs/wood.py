"""The solid of a log as its boards show it, and pictures of such boards."""

from functools import lru_cache
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from tests.render import flat, photo, stage
from tests.render.logs.log import LogBoard, SharedLog, turned
from tests.render.noise import F32, Waves
from tests.render.shape import Shape
from tests.render.specs import BoardSpec, PhotoSpec
from tests.render.surface import Surfaces
from tests.render.wood import Wood


class _InLog:
    """A slow field of the log, asked for at places of one of its boards."""

    def __init__(self, field: Waves, shape: Shape, board: LogBoard) -> None:
        self._field, self._shape, self._up = field, shape, np.float32(board.along_mm)
        self._turn = turned(board.turn_rad).astype(np.float32)

    def at(self, x: F32, y: F32, z: F32) -> F32:
        py, pz = self._shape.log.pith(x)
        (a, b), (c, d) = self._turn
        dy, dz = (y - py).astype(np.float32), (z - pz).astype(np.float32)
        return self._field.at(x + self._up, a * dy + b * dz, c * dy + d * dz)


class LogWood(Wood):
    """Rings, their tones and all that changes slowly are the log's; pores and fibre are drawn."""

    def __init__(self, shape: Shape, board: LogBoard) -> None:
        super().__init__(shape)
        log = board.own_log
        rng = np.random.default_rng((log.seed, 211))
        self._rings(rng)
        # What rises by the log's taper up to end A.
        self._below = np.float32(shape.log.taper * board.along_mm)
        fields = {
            "_swell": (1500.0, 130.0, 130.0),
            "_ripple": (420.0, 34.0, 34.0),
            "_sap_edge": (500.0, 60.0, 60.0),
            "_cloud": (420.0, 60.0, 60.0),
            "_tint": (900.0, 90.0, 90.0),
        }
        for name, lengths in fields.items():
            wave = Waves(int(rng.integers(1 << 30)), lengths)
            setattr(self, name, _InLog(wave, shape, board))
        gains = [log.lighter + log.redder, log.lighter, log.lighter - log.yellower]
        self._own = np.exp(np.float32(gains))

    def ring_field(self, x: F32, y: F32, z: F32) -> tuple[F32, F32, F32, F32]:
        radius, away, ys, wild = super().ring_field(x, y, z)
        return radius + self._below, away, ys, wild

    def albedo(self, x: F32, y: F32, z: F32) -> F32:
        return super().albedo(x, y, z) * self._own


@lru_cache(maxsize=4)
def surfaces_of(board: BoardSpec) -> Surfaces:
    """Return the surfaces of a board, one of a log or any other."""
    shape = Shape(board)
    if not isinstance(board, LogBoard):
        return Surfaces(shape)
    shape.log = SharedLog(board)
    surfaces = Surfaces(shape)
    surfaces.wood = LogWood(shape, board)
    return surfaces


def face_of(
    board: LogBoard, face: int, mm_per_px: float, *, supersample: int = 1
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Return a face square on, with no camera (see `flat.render_face`)."""
    with patch.object(flat, "surfaces_of", surfaces_of):
        return flat.render_face(board, face, mm_per_px, supersample=supersample)


def photo_of(board: LogBoard, recipe: PhotoSpec) -> photo.Rendered:
    """Return a photograph with its truth (see `photo.render_photo`)."""
    with patch.object(stage, "surfaces_of", surfaces_of):
        return photo.render_photo(board, recipe)
