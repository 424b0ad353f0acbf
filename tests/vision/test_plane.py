"""A surface tapped in a photo is laid square on by a rule in its plane, or refused."""

import numpy as np
import pytest

from scanner.errors import PhotoError
from scanner.files.typed import read_rule
from scanner.vision.photos.picture import Photo
from scanner.vision.second_look.plane import flat_side

# Two pixels a millimetre, seen square on: a rule 200 x 25 mm above an end 150 x 30 mm.
RULE = ((100.0, 50.0), (500.0, 50.0), (500.0, 100.0), (100.0, 100.0))
END = ((120.0, 200.0), (420.0, 200.0), (420.0, 260.0), (120.0, 260.0))


def photo():
    pixels = np.full((400, 640, 3), 120, np.uint8)
    pixels[200:260, 120:420] = (180, 150, 110)
    return Photo("end.jpg", pixels, "0" * 64, None, "", False)


def side(corners=END, rule="200mm x 25mm", rule_corners=RULE, **more):
    return flat_side(photo(), corners, rule=read_rule(rule), rule_corners=rule_corners, **more)


def test_a_rule_in_the_plane_gives_size_and_u():
    seen = side(mm_per_px=0.5)
    assert seen.kind == "rule" and seen.size_mm == pytest.approx((150.0, 30.0), abs=0.01)
    assert seen.pixels.shape[:2] == (60, 300) and (seen.pixels[30, 150] == (180, 150, 110)).all()
    # Taps a pixel or two off tell less by a narrow rule than by a wide one.
    wide = side(rule="200mm x 70mm", rule_corners=(*RULE[:2], (500.0, 190.0), (100.0, 190.0)))
    assert 0.005 < wide.u_scale < 0.5 * seen.u_scale < 0.2
    assert seen.distance_mm((0.0, 30.0), (200.0, 30.0)) == pytest.approx(100.0, abs=0.05)


def test_what_lies_round_it_is_shown_too_where_that_is_asked():
    seen = side(mm_per_px=0.5, margin_mm=10.0)
    assert seen.pixels.shape[:2] == (100, 340)
    assert (seen.pixels[5, 5] == 120).all() and (seen.pixels[50, 170] == (180, 150, 110)).all()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"rule": "200mm"}, "known by its length only"),
        ({"rule_corners": None}, "known by its length only"),
        ({"corners": (END[0], END[1], (300.0, 260.0), END[3])}, "where one rectangle has two"),
        ({"rule": "20m x 2500mm", "mm_per_px": 0.2}, "by 3000 mm apart"),
    ],
)
def test_corners_or_a_rule_that_cannot_be_are_refused(asked, said):
    with pytest.raises(PhotoError, match=said):
        side(**asked)
