from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from scanner.errors import PhotoError
from scanner.vision.face_reading import quality_of, read_off
from scanner.vision.fit.scale_fit import END_SD_PX
from scanner.vision.flaws import SeenWood
from scanner.vision.outline.trace import TracedOutline, _depths_mm, u_of_spread_mm
from scanner.vision.photos.picture import FacePicture
from scanner.vision.rectify import FacePlace

# U of a sharp arris, mm.
SHARP_MM = float(u_of_spread_mm(np.array([0.5]))[0])


def read(upper_u_mm, covered=()):
    """Return what a board of 1000 by 150 mm measures, U of its upper arris told at five places."""
    x = np.linspace(0.0, 1000.0, 5)
    upper, lower = np.column_stack([x, 0 * x]), np.column_stack([x, 0 * x + 150.0])
    left, right = (np.array([(at, 0.0), (at, 150.0)]) for at in (0.0, 1000.0))
    us = np.asarray(upper_u_mm), np.full(5, SHARP_MM)
    traced = TracedOutline(box(0, 0, 1000, 150), (), upper, lower, left, right, *us, covered)
    pixels = np.zeros((15, 100, 3), np.uint8)
    face = FacePicture(pixels, 10.0, (0.0, 0.0), 1e-3, 0.5, np.ones((15, 100), bool))
    # The fit knows a length to 1 mm, and what is read off the picture adds to it.
    fit = SimpleNamespace(
        u_between=lambda p, q, sd_p_px=END_SD_PX, sd_q_px=END_SD_PX: 0.6 + sd_p_px,
        u_of_edge=lambda p, q: 0.5,
        off_the_tape_mm=lambda p, q: 0.0,
    )
    place = FacePlace((0.0, 0.0), 0.0, (1000.0, 150.0))
    return read_off(face, fit, place, traced, SeenWood((), ()))[0]


def test_a_width_is_as_sure_as_its_two_edges_and_an_end_less_sure_than_an_edge():
    reading = read([SHARP_MM, SHARP_MM, 4.0, SHARP_MM, SHARP_MM])
    us = [station.width.u_mm for station in reading.widths]
    assert us[0] == us[4] < 0.5 * us[2]
    assert us[2] == pytest.approx(np.hypot(1.0, 4.0), abs=0.15)
    assert us[0] < reading.length.u_mm


def test_a_width_under_something_that_lies_over_the_edge_carries_all_of_it():
    reading = read([SHARP_MM] * 5, (Polygon([(400, 0), (600, 0), (500, 9)]),))
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


def test_an_arris_drawn_on_under_grass_is_no_surer_than_what_the_grass_covers():
    depths = _depths_mm(Polygon([(400, 0), (600, 0), (500, 9)]), np.array([0.0, 450.0, 500.0]))
    assert depths == pytest.approx([0.0, 4.5, 9.0])
