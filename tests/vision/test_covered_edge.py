from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from scanner.errors import PhotoError
from scanner.vision.face_reading import quality_of, read_off
from scanner.vision.flaws import SeenWood
from scanner.vision.outline.trace import TracedOutline
from scanner.vision.picture import FacePicture
from scanner.vision.rectify import FacePlace


def test_a_width_under_something_that_lies_over_the_edge_carries_all_of_it():
    outline, under = box(0, 0, 1000, 150), Polygon([(400, 0), (600, 0), (500, 9)])
    side, end, u = np.zeros((2, 2)), np.zeros((2, 2)), np.ones(2)
    traced = TracedOutline(outline, (), side, side, end, end, u, u, 0.0, 0.0, (under,))
    pixels = np.zeros((15, 100, 3), np.uint8)
    face = FacePicture(pixels, 10.0, (0.0, 0.0), 1e-3, 0.5, np.ones((15, 100), bool))
    fit = SimpleNamespace(u_between=lambda p, q: 1.0)
    place = FacePlace((0.0, 0.0), 0.0, (1000.0, 150.0))
    reading, _ = read_off(face, fit, place, traced, SeenWood((), ()))
    us = [station.width.u_mm for station in reading.widths]
    assert us == pytest.approx([1.0, 1.0, np.hypot(1.0, 9.0), 1.0, 1.0], abs=0.11)
    # It is unsure in that place only: the photo is not refused for it.
    wide = replace(
        reading,
        widths=tuple(replace(one, width=replace(one.width, u_mm=40.0)) for one in reading.widths),
    )
    assert quality_of(wide, 1.0, "face.jpg") == "rough"
    with pytest.raises(PhotoError, match="width only as"):
        quality_of(wide, 40.0, "face.jpg")
