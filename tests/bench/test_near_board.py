"""Quick pictures round the board: what is in them and what is refused."""

import numpy as np
import pytest
from shapely.geometry import box

from tests.bench.near_board import photographed
from tests.render.scene import draw_board, draw_photo
from tests.render.stage import Stage

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def scene():
    board = draw_board(3004, length_mm=1250)
    return board, draw_photo(3004, board, rule="plain", size="small", floor="grass")


def rim_of(board, photo):
    """Return a piece of the board's rim, photo px."""
    stage = Stage(board, photo)
    x, y = stage.laid.on_floor(np.float64([600.0]), stage.shape.edge(np.float64([600.0]), 0.0, 1))[
        0
    ]
    (u, v), *_ = photo.camera.project(np.array([[x, y, board.thickness_mm]]))
    return box(u - 60, v - 60, u + 60, v + 60)


def test_litter_and_blades_lie_in_the_picture_only_where_asked(scene):
    board, photo = scene
    where = rim_of(board, photo)
    with_blades, first = photographed(board, photo, where)
    without, same = photographed(board, photo, where, strewn=False)
    assert first == same
    assert with_blades.shape == without.shape
    changed = np.abs(with_blades.astype(int) - without).max(axis=2) > 40
    assert 0.005 < changed.mean() < 0.6


def test_light_that_is_no_number_is_refused(scene, monkeypatch):
    board, photo = scene
    look = Stage.look

    def dark(self, u, v, pixel):
        light, who = look(self, u, v, pixel)
        light[0] = np.nan
        return light, who

    monkeypatch.setattr(Stage, "look", dark)
    with pytest.raises(ValueError, match="no number"):
        photographed(board, photo, rim_of(board, photo))
