"""A long board in overlapping photos: where two join, both draw one place of the face alike."""

from dataclasses import dataclass, fields, replace

import numpy as np
import pytest

from scanner.board.form import Warp
from scanner.board.measured import Measured
from tests.bench.levels import KINDS, LEVELS
from tests.bench.projected import SEAM_MM, measure
from tests.bench.scenes import Board, draw_scene

pytestmark = pytest.mark.slow

ABOVE = KINDS["four photos from above"]


def steps(scene):
    return np.array([seam.error for seam in measure(scene)["seam"]])


@pytest.mark.parametrize(("photos", "feet"), [(2, 8.0), (4, 8.0), (6, 12.0)])
def test_photos_along_a_board_join_without_a_visible_step(photos, feet):
    scene = draw_scene(6010, replace(ABOVE, photos=photos, length_ft=feet), LEVELS["typical"])
    found = steps(scene)
    assert len(found) == 5 * (photos - 1)
    # Marks are 0.3 px off and the lens bends by what no model knows: nothing joins exactly.
    assert 1e-4 < np.median(found) < SEAM_MM
    assert np.percentile(found, 95) < 1.5 * SEAM_MM


@dataclass(frozen=True, eq=False)
class CuppedBoard(Board):
    """A board whose edges stand 3 mm over its middle, 100 mm away."""

    def world(self, xy):
        flat = super().world(xy)
        step = xy - self.middle
        across = np.cos(self.angle) * step[:, 1] - np.sin(self.angle) * step[:, 0]
        flat[:, 2] += 3.0 * (across / 100.0) ** 2
        return flat


def test_photos_along_a_cupped_board_join_as_well():
    scene = draw_scene(6012, replace(ABOVE, photos=2, length_ft=4.0), LEVELS["typical"])
    board = CuppedBoard(**{part.name: getattr(scene.board, part.name) for part in fields(Board)})
    found = steps(replace(scene, board=board))
    assert np.percentile(found, 95) < SEAM_MM


def test_the_seam_shows_a_thickness_typed_wrongly_where_no_grain_was_matched():
    def median_step(typed_off_mm):
        kind = replace(ABOVE, photos=3, read="picture")
        scene = draw_scene(6011, kind, LEVELS["good"])
        # Points that two photos share would find the true height by themselves.
        board = replace(scene.board, ties=np.zeros((0, 2)))
        thickness = Measured(board.form[0] + typed_off_mm, 0.1)
        setup = replace(scene.setup, thickness=thickness, warp=Warp())
        return np.median(steps(replace(scene, board=board, setup=setup)))

    # 12 mm of height between cameras about as far apart as they are high.
    assert median_step(12.0) > 5.0
    assert median_step(0.0) < 2.0
