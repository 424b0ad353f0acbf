"""The second renderer's truth in the frame of the files, and its photographs as files."""

from types import SimpleNamespace

import numpy as np
import pytest

from scanner.geometry.polygons import polygon_of
from scanner.vision.photos.photo import read_photo
from tests.bench.road_two import Framed, write_photo
from tests.render_two.flaw_truth import truth_of
from tests.render_two.plank import draw_plank


@pytest.mark.parametrize("seed", [4, 6])
def test_the_board_frame_begins_at_face_1s_corner_and_runs_along_its_middle(seed):
    plank = draw_plank(seed)
    truth = Framed(truth_of(plank))
    x, y = np.array(truth.outline["1"]).T
    assert (x.min(), y.min()) == pytest.approx((0.0, 0.0), abs=1e-6)
    assert truth.length == pytest.approx(plank.length, abs=1.0)
    middles = [
        np.mean([y[(x > a) & (x < b)].min(), y[(x > a) & (x < b)].max()])
        for a, b in ((6, 16), (x.max() - 16, x.max() - 6))
    ]
    assert middles[0] == pytest.approx(middles[1], abs=1.0)
    whole = polygon_of(truth.outline["1"])
    assert all(
        polygon_of(f.outlines["1"][0]).distance(whole) < 1 for f in truth.flaws if "1" in f.outlines
    )


def test_a_written_photograph_tells_its_focal_length(tmp_path):
    camera = SimpleNamespace(size=(800, 600), f=26.0 * 1000 / 43.27)
    pixels = np.random.default_rng(0).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    path = tmp_path / "face.jpg"
    write_photo(SimpleNamespace(pixels=pixels, photo=SimpleNamespace(camera=camera)), path)
    photo = read_photo(path)
    assert photo.pixels.shape == (600, 800, 3)
    assert photo.focal_px == pytest.approx(camera.f, rel=0.02)
