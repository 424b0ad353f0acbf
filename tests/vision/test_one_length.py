"""Both faces tell one length: a bow that nobody measured shows in how far they differ."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.board.measured import Measured
from scanner.board.reading import length_mm
from scanner.vision.evidence.told_length import ToldLength
from scanner.vision.fit.both_faces import length_of_both, scale_u_of_both, told_length
from scanner.vision.one_length import with_one_length
from scanner.vision.photos.picture import FacePicture, FaceScan
from tests.bench.levels import KINDS, LEVELS
from tests.bench.projected import fitted
from tests.bench.scenes import draw_lens, draw_scene
from tests.board.two_faces import FACE, knot, reading

# How a length goes with what rises in the middle and at the ends, mm per mm: the ends of a hollow
# face come nearer the camera.
BY_RISE = np.array([-0.5, 1.4])
SD_RISE = 1.6


def told(length, *, sd_own=1.0, sd_print=0.0):
    """A face whose marks say nothing of bow: only the prior does."""
    sds = np.array([SD_RISE, SD_RISE, max(sd_print, 1e-3)])
    slope = np.append(BY_RISE, -1.0 if sd_print else 0.0)
    prior = np.array([1.25, 1.25, 0.0])
    names = ("middle", "ends", "print")
    face = ToldLength(names, prior, sds, np.append(prior, length), np.zeros((4, 4)))
    before = face.prior_spread()
    covariance = np.zeros((4, 4))
    covariance[:3, :3] = before
    covariance[:3, 3] = covariance[3, :3] = before @ slope
    covariance[3, 3] = sd_own**2 + slope @ before @ slope
    return replace(face, covariance=covariance)


def test_two_faces_of_a_bowed_board_tell_a_length_between_them():
    length, apart, allowed = length_of_both(told(2404.0), told(2400.0))
    assert length.value_mm == pytest.approx(2402.0)
    assert apart == pytest.approx(4.0)
    # Face to face the bow counts twice: once each way.
    alone = 2 * np.sqrt(told(0.0).covariance[-1, -1])
    assert np.sqrt(2) * alone < allowed < 2 * alone + 2
    assert length.u_mm < alone / np.sqrt(2)


def test_a_board_bows_one_way_in_the_length_of_both_faces():
    random = np.random.default_rng(5)
    bows = random.uniform(-5.0, 5.0, 400)
    rises = np.column_stack([np.maximum(bows, 0.0), np.maximum(-bows, 0.0)])
    # Where the middle rises on one face the ends do on the other.
    read = [2400.0 - (rise - 1.25) @ BY_RISE for rise in (rises, rises[:, ::-1])]
    read += random.normal(0.0, 1.0, (2, 400))
    found = [length_of_both(told(one), told(two)) for one, two in read.T]
    inside = np.mean([abs(length.value_mm - 2400.0) <= length.u_mm for length, _, _ in found])
    agree = np.mean([abs(apart) <= allowed for _, apart, allowed in found])
    assert 0.92 < inside < 0.99
    assert agree > 0.97
    # With a rise in the middle and one at the ends that know nothing of each other it is 2.7 mm.
    assert found[0][0].u_mm < 2.5


def test_what_errs_alike_on_both_faces_does_not_average_out():
    length, _, _ = length_of_both(told(2402.0, sd_print=3.0), told(2402.0, sd_print=3.0))
    assert length.u_mm > 2 * 3.0


def fitted_face():
    """Return the fit of a made scene beside the strip, its board's ends and length."""
    scene = draw_scene((3, 2), KINDS["strip"], LEVELS["good"], draw_lens(np.random.default_rng(3)))
    fit, pixels = fitted(scene)
    ends = fit.face_from_photo(0, pixels[0])[:2]
    length = Measured(float(np.linalg.norm(ends[1] - ends[0])), 0.5)
    return fit, ends, length


@pytest.mark.slow
def test_a_fitted_face_tells_no_bow_that_rises_in_the_middle_and_at_the_ends():
    fit, ends, length = fitted_face()
    face = told_length(fit, ends[0], ends[1], length)
    middle, rise = face.names.index("middle"), face.names.index("ends")
    assert face.covariance[middle, rise] < 0
    # Alone its length is as well known as the fit has it.
    assert 2 * np.sqrt(face.covariance[-1, -1]) == pytest.approx(
        fit.u_between(ends[0], ends[1]), rel=0.15
    )


@pytest.mark.slow
def test_both_faces_of_a_worse_fit_know_a_length_less_well():
    fit, ends, length = fitted_face()
    u_mm = []
    for misfit in (1.0, 1.6, 2.2, 4.0, 8.0):
        worse = replace(fit, solution=replace(fit.solution, chi2_per_dof=misfit))
        face = told_length(worse, ends[0], ends[1], length)
        u_mm.append(length_of_both(face, face)[0].u_mm)
    assert u_mm == sorted(u_mm)
    # What is known beforehand of print and bow stays known.
    assert 1.2 * u_mm[0] < u_mm[-1] < np.sqrt(8.0) * u_mm[0]


def test_the_surer_face_counts_for_more():
    length, _, _ = length_of_both(told(2404.0, sd_own=20.0), told(2400.0))
    assert 2400.0 < length.value_mm < 2400.5


def test_how_ends_are_read_and_sawn_is_no_matter_of_scale():
    read_mm2, square_mm2 = 0.6, 0.7**2
    one = replace(told(2404.0, sd_print=3.0), reading_mm2=read_mm2)
    length, _, _ = length_of_both(one, one)
    scale_u_mm = 2404.0 * scale_u_of_both(one, one)
    # Each face has its own of both: the mean of two has half of that variance.
    left = length.u_mm**2 - 4 * (read_mm2 + square_mm2) / 2
    assert scale_u_mm == pytest.approx(np.sqrt(left), abs=0.1)
    # The strip's print is of it, and no second face tells more of that.
    assert scale_u_mm > 2 * 3.0


def scan(read, length_told):
    rows, columns = (round(side) + 40 for side in read.outline.bounds[:1:-1])
    pixels = np.zeros((rows, columns, 3), np.uint8)
    spot = read.flaws[0].outlines[1].centroid
    x, y = round(spot.x) + 20, round(spot.y) + 20
    pixels[y - 4 : y + 5, x - 4 : x + 5] = 255
    picture = FacePicture(pixels, 1.0, (-20.0, -20.0), 0.003, 0.5, np.ones((rows, columns), bool))
    return FaceScan(picture, read, "strip", ("a.jpg",), 0.003, "good", told=length_told)


def as_long(length):
    share = length / length_mm(FACE)
    ring = [(x * share, y) for x, y in FACE.exterior.coords]
    return reading(type(FACE)(ring), (knot(1500.0 * share, 60.0),))


def test_both_faces_are_drawn_to_one_length_and_their_pictures_with_them():
    one, two = as_long(1806.0), as_long(1802.0)
    first, second, doubts = with_one_length(scan(one, told(1806.0)), scan(two, told(1802.0)))
    assert not doubts
    for face in (first, second):
        assert face.u_scale == pytest.approx(scale_u_of_both(told(1806.0), told(1802.0)))
        assert face.u_scale < 0.003
        assert face.reading.length.value_mm == pytest.approx(1804.0)
        assert length_mm(face.reading.outline) == pytest.approx(1804.0, abs=0.01)
        # The knot still lies where its picture shows it.
        rows, columns = np.nonzero(face.picture.pixels[..., 0] > 127)
        x, y = face.picture.origin_mm
        spot = face.reading.flaws[0].outlines[1].centroid
        assert columns.mean() + x == pytest.approx(spot.x, abs=1.0)
        assert rows.mean() + y == pytest.approx(spot.y, abs=0.6)
    assert first.reading.widths[4].x_mm == pytest.approx(0.96 * 1804.0, abs=1.0)


def test_faces_that_disagree_are_told_and_covered():
    one, two = as_long(1806.0), as_long(1792.0)
    first, second, doubts = with_one_length(scan(one, told(1806.0)), scan(two, told(1792.0)))
    assert "14 mm apart" in doubts[0]
    for face in (first, second):
        length = face.reading.length
        assert abs(length.value_mm - 1806.0) <= length.u_mm + 1e-6
        assert abs(length.value_mm - 1792.0) <= length.u_mm + 1e-6
        assert face.u_scale >= length.u_mm / length.value_mm


def test_faces_that_disagree_by_far_are_left_as_they_are():
    one, two = as_long(1806.0), as_long(1786.0)
    before = scan(one, told(1806.0)), scan(two, told(1786.0))
    first, second, doubts = with_one_length(*before)
    assert "20 mm apart" in doubts[0]
    assert first.reading == replace(one, length=Measured(one.length.value_mm, 20.0))
    assert second is before[1]


def test_a_taped_length_is_left_as_it_is():
    one = scan(as_long(1806.0), None)
    assert with_one_length(one, scan(as_long(1802.0), told(1802.0)))[0] is one
