"""Face 2's picture goes where its outline goes."""

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Point

from scanner.geometry.polygons import mirrored
from scanner.vision.photos.picture import FacePicture
from scanner.vision.turn_over import seen_through

EXTENT = (400.0, 120.0)
MM = 0.5
ORIGIN = (-20.0, -10.0)


def spotted(x: float, y: float) -> FacePicture:
    """A grey face with one white spot at (x, y) mm."""
    rows, columns = np.mgrid[0:280, 0:880]
    far = np.hypot(columns * MM + ORIGIN[0] - x, rows * MM + ORIGIN[1] - y)
    grey = np.where(far < 4, 255, 40).astype(np.uint8)
    pixels = np.repeat(grey[..., None], 3, axis=2)
    return FacePicture(pixels, MM, ORIGIN, 0.001, 0.5, np.ones(grey.shape, dtype=bool))


@pytest.mark.parametrize("turned", ["sideways", "end_over_end"])
@pytest.mark.parametrize("turn", [0.0, 0.008, -0.006])
def test_a_spot_in_the_picture_moves_with_its_outline(turned, turn):
    spot, shift = (310.0, 30.0), (3.0, -2.0)
    pixels, origin = seen_through(spotted(*spot), EXTENT, turned, turn, shift)
    rows, columns = np.mgrid[0 : pixels.shape[0], 0 : pixels.shape[1]]
    weight = pixels[..., 0].astype(float) - 40
    centre = [float((axis * weight).sum() / weight.sum()) for axis in (columns, rows)]
    where = np.array(centre) * MM + np.array(origin)
    outline = mirrored(Point(spot).buffer(4), turned, *EXTENT)
    outline = affinity.rotate(outline, turn, origin=(0, 0), use_radians=True)
    expected = affinity.translate(outline, *shift).centroid
    assert where == pytest.approx((expected.x, expected.y), abs=0.15)
