"""Pictures of the second renderer show what their truth says."""

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon
from shapely.ops import unary_union

from scanner.geometry.strip_layout import corners_mm
from tests.render_two.branches import Branch
from tests.render_two.flat import flat_view, view_from_board
from tests.render_two.flaw_truth import knot_ring, truth_of
from tests.render_two.photo import photo_of
from tests.render_two.plank import draw_plank

# Boards with a knot that comes through, turned over sideways and end over end.
_SIDEWAYS, _END_OVER_END = 3, 4


def inside_and_around(view, ring):
    """Return the mean grey inside a ring and in a belt round it."""
    grey = cv2.cvtColor(view.pixels, cv2.COLOR_RGB2GRAY)
    points = np.round(view.from_board(ring) / view.mm_per_px).astype(np.int32)
    inner = cv2.fillPoly(np.zeros(grey.shape, np.uint8), [points], 1)
    outer = cv2.dilate(inner, np.ones((31, 31), np.uint8))
    belt = (outer - cv2.dilate(inner, np.ones((9, 9), np.uint8))).astype(bool)
    return float(grey[inner.astype(bool)].mean()), float(grey[belt].mean())


def through_knots(seed):
    plank = draw_plank(seed)
    flaws = truth_of(plank).flaws
    return plank, [f for f in flaws if f.kind == "knot" and f.through]


@pytest.mark.parametrize("seed", [_SIDEWAYS, _END_OVER_END])
def test_a_knot_that_comes_through_lies_at_the_mirrored_place_on_the_other_face(seed):
    plank, knots = through_knots(seed)
    assert knots
    turned = "sideways" if seed % 4 else "end_over_end"
    for knot in knots:
        places = [np.mean(knot.outlines[face][0], axis=0) for face in "12"]
        branch = min(
            plank.solid.branches,
            key=lambda b: float(np.hypot(*(_at(b, 0.0) - places[0]))),
        )
        # Both faces cut the same axis: it leans by as much as the places lie apart.
        lean = _at(branch, plank.thickness) - _at(branch, 0.0)
        assert np.hypot(*(places[1] - places[0] - lean)) < 0.3 * np.hypot(*lean) + 8
        seen = view_from_board(places[1], turned, plank)
        if turned == "sideways":
            assert seen == pytest.approx([places[1][0], plank.width - places[1][1]])
        else:
            assert seen == pytest.approx([plank.length - places[1][0], places[1][1]])


def _at(branch, z):
    return (branch.base + (z - branch.base[2]) / branch.way[2] * branch.way)[:2]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [_SIDEWAYS, _END_OVER_END])
def test_the_other_face_shows_the_knot_where_the_truth_mirrors_it(seed):
    _, knots = through_knots(seed)
    for face in (1, 2):
        view = flat_view(seed, face)
        for knot in knots:
            inner, around = inside_and_around(view, knot.outlines[str(face)][0])
            assert inner < around - 20


@pytest.mark.slow
@pytest.mark.parametrize("seed", [4, 9])
def test_knots_holes_and_bark_are_darker_than_the_wood_about_them(seed):
    view = flat_view(seed, 1)
    rings = [
        flaw.outlines["1"][0]
        for flaw in view.truth.flaws
        if flaw.kind in ("knot", "hole", "bark_pocket") and "1" in flaw.outlines
    ]
    assert rings
    for ring in rings:
        inner, around = inside_and_around(view, ring)
        assert inner < around - 15


@pytest.mark.slow
def test_one_seed_gives_one_picture():
    assert (flat_view(2, 1).pixels == flat_view(2, 1).pixels).all()


@pytest.mark.parametrize("seed", range(4, 9))
def test_the_flat_face_and_its_wane_make_up_the_board(seed):
    plank = draw_plank(seed)
    for face in (1, 2):
        flat = Polygon(plank.form.outline(face))
        wane = [Polygon(ring).buffer(0) for ring in plank.form.wane_rings(face)]
        whole = unary_union([flat, *wane]).area
        assert whole == pytest.approx(Polygon(plank.form.silhouette()).area, rel=0.005)


@pytest.mark.slow
def test_the_strip_is_found_where_the_camera_put_it():
    photo = photo_of(4, 1, (2176, 1632))
    detector = cv2.aruco.ArucoDetector(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250), cv2.aruco.DetectorParameters()
    )
    corners, ids, _ = detector.detectMarkers(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY))
    assert ids is not None and len(ids) >= 15
    for found, number in zip(corners, ids.ravel(), strict=True):
        flat = corners_mm(int(number))
        space = np.column_stack([flat, np.full(4, photo.photo.batten_mm)])
        off = np.linalg.norm(photo.photo.project(space) - found[0], axis=1)
        assert np.median(off) < 1.5


def test_a_steep_branch_shows_on_the_face_beside_its_start():
    # Its axis leaves the face away from it, yet the cone is wide enough to come through.
    plank = draw_plank(2)
    way = np.array([0.3, 0.95, -0.087])
    start = np.array([700.0, 60.0, 12.0])
    way /= np.linalg.norm(way)
    branch = Branch(start, way, 0.7, 40.0, 60.0, "sound", 0.0, (), (), 1.0)
    ring = knot_ring(branch, plank.thickness, plank.form)
    assert ring is not None
    x, y = np.array(ring).T
    assert (y > 60).all() and np.ptp(x) > 5
