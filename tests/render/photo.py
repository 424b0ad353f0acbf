"""One photograph: look at the scene pixel by pixel, develop, write; with its truth."""

from collections.abc import Iterator
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

_MOST_TILES = 4
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


def _strips(busy: NDArray[np.bool_], width: int) -> Iterator[tuple[int, int, int, bool]]:
    """Yield top, left, right and whether it is busy of what is looked at in one go.

    Tiles of bare floor side by side are taken together: half of a small look is overhead.
    """
    for row, tiles in enumerate(busy):
        first = 0
        for k in range(1, len(tiles) + 1):
            is_end = k == len(tiles) or tiles[k] != tiles[first]
            if is_end or tiles[first] or k - first == _MOST_TILES:
                yield row * _TILE, first * _TILE, min(k * _TILE, width), bool(tiles[first])
                first = k


def _middle(looks: F32) -> F32:
    """Return the mean of the looks at each pixel: (h, n, w, n, 3) to (h, w, 3)."""
    n = looks.shape[1]
    # Slices are added: a mean over axes that do not lie beside each other is slow.
    rows = [sum(looks[:, i, :, j] for j in range(n)) for i in range(n)]
    return np.asarray(sum(rows) * np.float32(1 / n**2), dtype=np.float32)


def _most(owners: NDArray[np.int8]) -> NDArray[np.int8]:
    """Return the greatest at each pixel: (h, n, w, n) to (h, w)."""
    n = owners.shape[1]
    most = owners[:, 0, :, 0]
    for i in range(n):
        for j in range(n):
            most = np.maximum(most, owners[:, i, :, j])
    return most


def render_light(board: BoardSpec, photo: PhotoSpec) -> F32:
    """Return the light that falls on the sensor, linear RGB (H, W, 3)."""
    stage = Stage(board, photo)
    width, height = photo.camera.size
    picture = np.empty((height, width, 3), dtype=np.float32)
    owner = np.empty((height, width), dtype=np.int8)
    busy = _busy(stage, photo, height, width)
    for top, left, right, is_busy in _strips(busy, width):
        h, w = min(_TILE, height - top), right - left
        n = photo.supersample if is_busy else 1
        v, u = np.mgrid[0 : h * n, 0 : w * n].astype(np.float32)
        u, v = left + (u + 0.5) / n - 0.5, top + (v + 0.5) / n - 0.5
        seen, who = stage.look(u.ravel(), v.ravel(), 1 / n)
        strip = np.s_[top : top + h, left:right]
        picture[strip] = _middle(seen.reshape(h, n, w, n, 3))
        owner[strip] = _most(who.reshape(h, n, w, n))
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
    seen: PhotoTruth = photo_truth(shape, photo, Ruler(photo.rule, surface), frame)
    return Truth(frame, seen)


def save_photo(rendered: Rendered, path: Path | str) -> Path:
    """Write the photograph as a phone would: JPEG, pixels stored as the phone was held."""
    return write_jpeg(rendered.pixels, rendered.photo, Path(path))
