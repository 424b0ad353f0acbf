import numpy as np
import pytest
from shapely import affinity

from scanner.geometry.polygons import iou
from scanner.vision.outline.trace import trace_outline
from scanner.vision.outline.wane import lost_beside
from scanner.vision.photos.picture import FacePicture
from tests.vision.faces import BROWN, PALE, PLYWOOD, PaintedFace

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow

FACES = {
    "pale on concrete": {},
    "pale on plywood with a side face": {"floor": PLYWOOD, "side_mm": 12},
    "brown on plywood with shadow and side": {
        "wood": BROWN, "floor": PLYWOOD, "side_mm": 9, "shadow_mm": 8,
    },
    "crooked, slanting, shadow and side": {
        "side_mm": 12, "shadow_mm": 15, "slant_mm": 4, "crook_mm": 5,
    },
}  # fmt: skip


@pytest.mark.parametrize("name", FACES)
def test_outline_ends_at_the_arris(name):
    face = PaintedFace(**FACES[name])
    traced = trace_outline(face.picture(), "ash.jpg")
    assert iou(traced.outline, face.outline) > 0.985
    assert traced.outline.hausdorff_distance(face.outline) < 3.0


def test_slant_of_an_end_is_told_within_a_quarter_degree():
    face = PaintedFace(slant_mm=5.0)
    traced = trace_outline(face.picture(), "ash.jpg")
    for end, over_mm in ((traced.left, 0.0), (traced.right, -5.0)):
        x, y = end[1] - end[0]
        assert np.degrees(np.arctan2(x, y)) == pytest.approx(
            np.degrees(np.arctan(over_mm / 150)), abs=0.25
        )


def test_turning_the_picture_turns_the_outline():
    face = PaintedFace(side_mm=12, shadow_mm=15, crook_mm=4)
    picture = face.picture()
    turned = FacePicture(
        np.ascontiguousarray(picture.pixels[::-1, ::-1]),
        picture.mm_per_px,
        (0.0, 0.0),
        picture.u_scale,
        picture.u_point_mm,
        picture.seen,
    )
    h, w = picture.pixels.shape[:2]
    middle = ((w - 1) * picture.mm_per_px / 2, (h - 1) * picture.mm_per_px / 2)
    first = trace_outline(picture, "a").outline
    second = affinity.rotate(trace_outline(turned, "a").outline, 180, origin=middle)
    assert iou(first, second) > 0.995


def test_a_stated_error_covers_what_was_traced():
    face = PaintedFace(wood=PALE, shadow_mm=12)
    traced = trace_outline(face.picture(), "ash.jpg")
    inside = (traced.upper[:, 0] > 70) & (traced.upper[:, 0] < 750)
    off = np.abs(traced.upper[inside, 1] - face.margin_mm)
    assert (off <= traced.upper_u_mm[inside] + 0.3).mean() > 0.9


def edge_with(depth):
    x = np.arange(0.0, 1000.0, 2.0)
    y = 100.0 + 4 * ((x - 500) / 500) ** 2
    return np.column_stack([x, y + depth(x)])


def test_wane_is_what_lies_between_arris_and_sawn_line():
    edge = edge_with(lambda x: 20 * np.clip(1 - ((x - 300) / 120) ** 2, 0, None))
    (lost,) = lost_beside(edge, -1)
    wane = lost.seen
    assert wane.area == pytest.approx(20 * 240 * 2 / 3, rel=0.1)
    assert wane.bounds[0] == pytest.approx(180, abs=15)


def test_wane_that_nearly_ends_half_way_is_one():
    edge = edge_with(
        lambda x: 8 * np.exp(-(((x - 300) / 60) ** 2)) + 8 * np.exp(-(((x - 420) / 60) ** 2))
    )
    assert len(lost_beside(edge, -1)) == 1


def test_crook_is_not_wane():
    assert lost_beside(edge_with(lambda x: 0 * x), -1) == ()
    assert lost_beside(edge_with(lambda x: 0 * x), +1) == ()
