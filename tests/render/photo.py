"""One photograph: look at the scene pixel by pixel, develop, write; with its truth."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.render.blades import overgrow
from tests.render.bodies import Laid
from tests.render.develop import develop, write_jpeg
from tests.render.noise import F32
from tests.render.rules import Ruler
from tests.render.scatter import strew
from tests.render.shape import Shape
from tests.render.specs import BoardSpec, PhotoSpec
from tests.render.stage import Stage
from tests.render.truth import BoardTruth, PhotoTruth, Truth, board_truth, photo_truth

_TILE = 96  # px; the smaller, the fewer are looked at twice as finely


@dataclass(frozen=True, eq=False)
class Rendered:
    """An upright picture (H, W, 3) uint8 RGB with all that is true of it."""

    pixels: NDArray[np.uint8]
    truth: Truth
    photo: PhotoSpec


def _busy(stage: Stage, photo: PhotoSpec, height: int, width: int) -> NDArray[np.bool_]:
    """Return which tiles may show board, rule or the border of a shadow."""
    board = stage.shape.board
    reach = 14 + 1.2 * board.thickness_mm * float(np.hypot(*stage.light.slope))
    half = np.array([board.length_mm / 2, board.width_mm / 2 + abs(board.crook)]) + reach
    top = board.thickness_mm + stage.laid.lie.highest
    points = []
    a = np.radians(photo.board_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    ramp = np.linspace(-1, 1, 41)
    cross = np.linspace(-1, 1, 9)
    grid = np.array([[i, j] for i in ramp for j in cross]) * half @ turn.T
    for z in (0.0, top):
        points.append(
            np.column_stack(
                [grid + np.array([photo.board_x, photo.board_y]), np.full(len(grid), z)]
            )
        )
    if stage.box is not None:
        x = np.linspace(stage.box.x0 - 12, stage.box.x1 + 12, 60)
        y = np.linspace(-stage.box.half - 12, stage.box.half + 12, 5)
        gx, gy = (g.ravel() for g in np.meshgrid(x, y))
        for z in (0.0, stage.box.top):
            points.append(np.column_stack([gx, gy, np.full(gx.size, z)]))
    if stage.backdrop.is_there:
        foot = stage.backdrop.foot(board.length_mm)
        points.append(foot[photo.camera.faces(foot)])
    seen = photo.camera.project(np.vstack(points))
    rows, columns = -(-height // _TILE), -(-width // _TILE)
    busy = np.zeros((rows, columns), dtype=bool)
    for du in (-0.35, 0, 0.35):
        for dv in (-0.35, 0, 0.35):
            c = np.floor(seen[:, 0] / _TILE + du * 0.4).astype(int)
            r = np.floor(seen[:, 1] / _TILE + dv * 0.4).astype(int)
            ok = (c >= 0) & (c < columns) & (r >= 0) & (r < rows)
            busy[r[ok], c[ok]] = True
    return busy


def render_light(board: BoardSpec, photo: PhotoSpec) -> F32:
    """Return the light that falls on the sensor, linear RGB (H, W, 3)."""
    stage = Stage(board, photo)
    width, height = photo.camera.size
    picture = np.empty((height, width, 3), dtype=np.float32)
    owner = np.empty((height, width), dtype=np.int8)
    busy = _busy(stage, photo, height, width)
    for top in range(0, height, _TILE):
        for left in range(0, width, _TILE):
            h, w = min(_TILE, height - top), min(_TILE, width - left)
            n = photo.supersample if busy[top // _TILE, left // _TILE] else 1
            v, u = np.mgrid[0 : h * n, 0 : w * n].astype(np.float32)
            u, v = left + (u + 0.5) / n - 0.5, top + (v + 0.5) / n - 0.5
            seen, who = stage.look(u.ravel(), v.ravel(), 1 / n)
            tile = np.s_[top : top + h, left : left + w]
            picture[tile] = (
                seen.reshape(h, n, w, n, 3).mean(axis=(1, 3)) if n > 1 else (seen.reshape(h, w, 3))
            )
            owner[tile] = who.reshape(h, n, w, n).max(axis=(1, 3))
    strew(stage, picture, owner)
    overgrow(stage, picture, owner)
    return picture


def render_photo(board: BoardSpec, photo: PhotoSpec) -> Rendered:
    """Return one photograph with its truth; the same recipes give the same pixels."""
    pixels = develop(render_light(board, photo), photo)
    return Rendered(pixels, truth_of(board, photo), photo)


def truth_of(board: BoardSpec, photo: PhotoSpec) -> Truth:
    """Return what is true of a photograph, without rendering it."""
    shape = Shape(board)
    frame: BoardTruth = board_truth(shape)
    surface = Laid(shape, photo).surface if photo.rule.on == "face" else None
    seen: PhotoTruth = photo_truth(shape, photo, Ruler(photo.rule, surface))
    return Truth(frame, seen)


def save_photo(rendered: Rendered, path: Path | str) -> Path:
    """Write the photograph as a phone would: JPEG, pixels stored as the phone was held."""
    return write_jpeg(rendered.pixels, rendered.photo, Path(path))
