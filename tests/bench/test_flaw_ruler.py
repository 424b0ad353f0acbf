"""The ruler of flaws: a perfect outline must score as one."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from tests.bench.flaws import LABEL_RIM_MM
from tests.bench.seeing import recipe, seen_on_ground
from tests.render import photo as photos
from tests.render.flaw_truth import _contours, _grid

BOWED = 5201


@pytest.mark.parametrize(("kind", "step_mm"), [("knot", 0.5), ("hole", 0.25), ("bark_pocket", 1.0)])
def test_labels_end_within_the_rim_by_what_the_bench_gives_back(kind, step_mm):
    radius_mm, wide_mm = 2.0 + 4.0 * step_mm, []
    for off in np.arange(0.0, 1.0, 0.11) * step_mm:
        x, y = _grid(off, 0.3 * off, 8.0, 8.0, step_mm)
        (ring,) = _contours(np.hypot(x, y) / radius_mm, float(x[0, 0]), float(y[0, 0]), step_mm)
        told = Polygon(ring)
        wide_mm.append(
            [2 * np.sqrt(p.area / np.pi) for p in (told, told.buffer(LABEL_RIM_MM[kind]))]
        )
    bare, mended = np.mean(wide_mm, axis=0) - 2 * radius_mm
    assert bare == pytest.approx(-step_mm, abs=0.2 * step_mm)
    assert mended == pytest.approx(0.0, abs=0.2 * step_mm)


@pytest.mark.slow
def test_a_place_of_a_warped_face_lies_where_the_flat_picture_shows_it():
    board, photo = recipe(BOWED, 2)
    truth = photos.truth_of(board, photo)
    (hole,) = (flaw for flaw in truth.board.flaws if flaw.kind == "hole")
    ring = np.asarray(hole.outlines["2"][0])
    seen = seen_on_ground(truth, ring) * [1, -1]
    high = np.full((len(ring), 1), truth.photo.face_height)
    assert truth.photo.project(np.hstack([seen, high])) == pytest.approx(
        truth.photo_from_face(ring), abs=1e-6
    )
    straight_down = truth.photo.reference_from_board(ring)[:, :2]
    assert np.hypot(*(seen - straight_down).T).mean() > 2.0
