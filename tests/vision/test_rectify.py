import cv2
import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.vision.cv import markers_in
from scanner.vision.rectify import FacePlace, flatten, ground_place
from scanner.vision.scale import fit_scale
from scanner.vision.setup import Setup
from tests.vision.drawn import camera, photo_of, shoot, strip_sheet

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow

SETUP = Setup(thickness=Measured(0.0, 0.1), strip_taped=Measured(1000.0, 1.0))


@pytest.fixture(scope="module")
def photos():
    views = (camera(), camera(tilt_deg=20.0, turn=np.pi - 0.2, aim=(450.0, -50.0)))
    return tuple(photo_of(shoot(view, *strip_sheet(), seed)) for seed, view in enumerate(views))


@pytest.fixture(scope="module")
def one(photos):
    return fit_scale(photos[:1], SETUP)


@pytest.fixture(scope="module")
def both(photos):
    return fit_scale(photos, SETUP)


PLACE = FacePlace((-20.0, -60.0), 0.0, (1040.0, 120.0))


def _markers_mm(picture, place, mm_per_px):
    ids, corners = markers_in(cv2.cvtColor(picture.pixels, cv2.COLOR_RGB2GRAY))
    centres = corners.mean(axis=1) * mm_per_px
    rule = place.rule_from_place(centres)
    return {int(i): point for i, point in zip(ids, rule, strict=True)}


@pytest.mark.parametrize("which", ["one", "both"])
def test_markers_lie_in_the_flat_picture_where_they_were_printed(which, photos, one, both):
    fit = one if which == "one" else both
    used = photos[: len(fit.sizes_px)]
    picture = flatten(used, fit, PLACE, 0.5)
    assert picture.pixels.shape == (241, 2081, 3)
    found = _markers_mm(picture, PLACE, 0.5)
    assert len(found) == 20
    for number, point in found.items():
        # The strip lies a tenth of a millimetre above this face.
        assert point == pytest.approx((50 * number + 25, 0.0), abs=1.0)


def test_a_turned_place_gives_the_same_points(photos, one):
    turned = FacePlace((-20.0, -120.0), 0.06, (1060.0, 240.0))
    found = _markers_mm(flatten(photos[:1], one, turned, 0.5), turned, 0.5)
    assert len(found) >= 18
    for number, point in found.items():
        assert point == pytest.approx((50 * number + 25, 0.0), abs=1.0)


def test_place_and_rule_frame_there_and_back():
    place = FacePlace((30.0, -400.0), 0.4, (2400.0, 200.0))
    points = np.array([[0.0, 0.0], [1200.0, 100.0], [5.0, 190.0]])
    assert place.place_from_rule(place.rule_from_place(points)) == pytest.approx(points, abs=1e-9)


def test_what_no_photo_shows_is_marked(photos, one):
    wide = FacePlace((-3000.0, -100.0), 0.0, (3500.0, 200.0))
    picture = flatten(photos[:1], one, wide, 2.0)
    assert not picture.seen[:, :600].any()
    assert picture.seen[:, -20:].all()
    assert picture.pixels[:, :600].max() == 0


def test_ground_behind_the_camera_is_not_folded_into_the_flat_picture():
    lens = np.array([1250.0, 802.0, 597.0, -0.06, 0.0, 0.0, 0.0, 0.0])
    view = camera(tilt_deg=55.0, turn=0.0, lens=lens)
    photo = photo_of(shoot(view, *strip_sheet()))
    fit = fit_scale((photo,), SETUP)
    foot = fit.foot_mm(0)
    behind = FacePlace((foot[0] - 3000.0, foot[1]), 0.0, (6000.0, 3000.0))
    # The model itself folds some of that ground into the picture's frame.
    grid = np.stack(np.meshgrid(np.arange(0, 6000.0, 20), np.arange(0, 3000.0, 20)), axis=-1)
    there = fit.photo_from_face(0, behind.rule_from_place(grid.reshape(-1, 2)))
    assert ((there > 0) & (there < fit.sizes_px[0])).all(axis=1).any()
    picture = flatten((photo,), fit, behind, 4.0)
    assert not picture.seen.any()
    assert picture.pixels.max() == 0


def test_the_ground_holds_the_whole_strip_and_stays_within_its_cap(photos, both):
    place = ground_place(both, photos)
    assert place.size_mm[0] <= 6000.0
    assert place.size_mm[1] <= 3000.0
    corners = place.place_from_rule(np.array([[0.0, -30.0], [1000.0, 30.0]]))
    assert (corners > 0).all()
    assert (corners < np.array(place.size_mm)).all()
    coarse = flatten(photos, both, place, 2.0)
    assert 0.2 < coarse.seen.mean() <= 1.0


def test_two_photos_meet_without_a_step(photos, both):
    picture = flatten(photos, both, PLACE, 0.5)
    single = flatten(photos[:1], fit_scale(photos[:1], SETUP), PLACE, 0.5)
    assert picture.seen.all()
    assert single.seen.all()
    found, alone = (_markers_mm(one, PLACE, 0.5) for one in (picture, single))
    shift = [np.linalg.norm(found[number] - alone[number]) for number in found]
    assert max(shift) < 1.2
