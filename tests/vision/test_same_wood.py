"""Wood keeps its place in the photo that shows it, however the fit changes."""

from types import SimpleNamespace

import numpy as np
import pytest

from scanner.errors import PhotoError
from scanner.vision.fit.lengths import rounded_u
from scanner.vision.place import same_wood


def camera(at_mm: float, scale: float) -> SimpleNamespace:
    """Return a fit of two photos of 1 m each; beyond its picture a photo tells nonsense."""

    def photo_from_face(photo: int, points: np.ndarray) -> np.ndarray:
        begin = photo * 1000.0
        inside = (points[:, :1] >= begin) & (points[:, :1] <= begin + 1000)
        return np.where(inside, (points - at_mm) / scale, 1e6)

    return SimpleNamespace(
        source=lambda point: int(point[0] > 1000),
        photo_from_face=photo_from_face,
        face_from_photo=lambda _, points: points * scale + at_mm,
    )


def test_each_point_is_moved_through_the_photo_that_shows_it():
    points = np.array([[10.0, 5.0], [990.0, 5.0], [1500.0, 7.0], [1990.0, 8.0]])
    moved = same_wood(camera(0, 1.0), camera(2, 1.01), points)
    np.testing.assert_allclose(moved, points * 1.01 + 2)


@pytest.mark.parametrize("u_mm", [float("nan"), float("inf")])
def test_an_uncertainty_that_is_no_number_is_refused_in_a_sentence(u_mm: float):
    with pytest.raises(PhotoError, match="No length can be told"):
        rounded_u(u_mm)
