"""A photograph of which only the board's surroundings are sharp: quick pictures to learn from.

Litter and blades of grass are laid in as in a whole photograph (`tests.render.photo`).
"""

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
from shapely.geometry import Polygon, box

from tests.render.blades import overgrow
from tests.render.develop import develop
from tests.render.scatter import strew
from tests.render.specs import BoardSpec, PhotoSpec
from tests.render.stage import Stage

_TILE_PX = 96
_COARSE_PX = 8


def photographed(
    board: BoardSpec,
    photo: PhotoSpec,
    covered: Polygon,
    *,
    strewn: bool = True,
    stage_of: Callable[[BoardSpec, PhotoSpec], Stage] = Stage,
) -> tuple[np.ndarray, tuple[int, int]]:
    """Return the developed part of a photograph round a shape, and that part's first pixel.

    Parameters
    ----------
    covered
        What must be sharp, photo px; all else in its box is coarse.
    strewn
        Whether litter and blades lie there.
    stage_of
        What makes the scene: another one has another light.

    Returns
    -------
    tuple
        Pixels (H, W, 3) uint8 RGB after the phone and its JPEG; (x, y) of the first pixel.

    Raises
    ------
    ValueError
        The renderer gave light that is no number: such a picture would come out black.
    """
    width, height = photo.camera.size
    x0, y0, x1, y1 = covered.bounds
    left, top = max(0, int(x0)), max(0, int(y0))
    columns, rows = min(width, int(x1) + 1) - left, min(height, int(y1) + 1) - top
    camera = replace(photo.camera, cx=photo.camera.cx - left, cy=photo.camera.cy - top)
    part = replace(photo, camera=camera)
    stage, n = stage_of(board, part), photo.supersample
    v, u = np.mgrid[0:rows:_COARSE_PX, 0:columns:_COARSE_PX].astype(np.float32)
    coarse, whose = stage.look(u.ravel(), v.ravel(), 1.0)
    light, owner = (
        cv2.resize(seen, (columns, rows), interpolation=cv2.INTER_NEAREST)
        for seen in (coarse.reshape(*u.shape, 3), whose.reshape(u.shape))
    )
    for row in range(0, rows, _TILE_PX):
        for column in range(0, columns, _TILE_PX):
            h, w = min(_TILE_PX, rows - row), min(_TILE_PX, columns - column)
            if not covered.intersects(
                box(left + column, top + row, left + column + w, top + row + h)
            ):
                continue
            v, u = np.mgrid[0 : h * n, 0 : w * n].astype(np.float32)
            u, v = column + (u + 0.5) / n - 0.5, row + (v + 0.5) / n - 0.5
            seen, who = stage.look(u.ravel(), v.ravel(), 1 / n)
            tile = np.s_[row : row + h, column : column + w]
            light[tile] = seen.reshape(h, n, w, n, 3).mean(axis=(1, 3))
            owner[tile] = who.reshape(h, n, w, n).max(axis=(1, 3))
    if not np.isfinite(light).all():
        raise ValueError("the renderer gave light that is no number")
    if strewn:
        strew(stage, light, owner)
        overgrow(stage, light, owner)
    developed = develop(light, part)
    quality = [cv2.IMWRITE_JPEG_QUALITY, photo.jpeg_quality]
    packed = cv2.imencode(".jpg", developed[..., ::-1], quality)[1]
    pixels = np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR))[..., ::-1]
    return np.ascontiguousarray(pixels), (left, top)
