import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.vision.fit.camera import (
    Camera,
    distort,
    planar_poses,
    rotation,
    slopes,
    twin,
    undistort,
)

IN = 25.4
LENS = np.array([3000.0, 2010.0, 1500.0, 0.02, -0.01, 0.005, 2e-4, -1e-4])


def _over(foot, height, aim, lens=LENS):
    """Return a camera over a point of the floor, looking at another one."""
    eye = np.array([*foot, height])
    ahead = np.array([*aim, 0.0]) - eye
    ahead /= np.linalg.norm(ahead)
    right = np.cross(ahead, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    R = np.array([right, np.cross(ahead, right), ahead])
    return Camera(lens, R, -R @ eye)


def _read_on_floor(camera, points, face_height, floor_height=0.0):
    """Return where a face's points seem to lie for one who takes them to be on the floor."""
    world = np.column_stack([points, np.full(len(points), face_height)])
    rays = camera.rays(camera.project(world))
    reach = (floor_height - camera.centre[2]) / rays[:, 2]
    return camera.centre[:2] + rays[:, :2] * reach[:, None]


# Parallax of a face above the scale's plane: values by similar triangles, M = H / (H - t); the
# cases P-1 to P-7 of the project's check values (computed, not published).
@pytest.mark.parametrize(
    ("height", "thickness", "true", "reads"),
    [
        (60 * IN, 1 * IN, (8 * IN, 96 * IN), (8.1356 * IN, 97.627 * IN)),
        (48 * IN, 1 * IN, (8 * IN,), (8.1702 * IN,)),
        (72 * IN, 2 * IN, (8 * IN,), (8.2286 * IN,)),
        (1500.0, 25.4, (203.2,), (206.700,)),
        (1200.0, 25.4, (203.2,), (207.594,)),
        (2000.0, 50.8, (203.2,), (208.496,)),
    ],
)
@pytest.mark.parametrize("aim", [(0.0, 1.0), (600.0, 400.0)])
def test_a_face_above_the_floor_reads_too_large_by_similar_triangles(
    height, thickness, true, reads, aim
):
    camera = _over((0.0, 0.0), height, aim)
    for length, seen in zip(true, reads, strict=True):
        ends = np.array([[-length / 2, 30.0], [length / 2, 30.0]])
        there = _read_on_floor(camera, ends, thickness)
        assert np.linalg.norm(there[1] - there[0]) == pytest.approx(seen, rel=1e-4)
        # On the plane at the face's own height the length is right.
        right = _read_on_floor(camera, ends, thickness, thickness)
        assert np.linalg.norm(right[1] - right[0]) == pytest.approx(length, abs=1e-6)


def test_an_oblique_photo_moves_the_near_corner_away_from_the_foot():
    # P-7: camera foot 40 in before the near end and 10 in aside, 60 in up, face 1 in up.
    camera = _over((-40 * IN, -10 * IN), 60 * IN, (24 * IN, 4 * IN))
    corners = np.array([[0.0, 0.0], [48.0, 0.0], [48.0, 8.0], [0.0, 8.0]]) * IN
    corners[:, 1] -= 4 * IN
    there = _read_on_floor(camera, corners, IN)
    assert np.linalg.norm(there[1] - there[0]) / IN == pytest.approx(48.8136, rel=1e-4)
    assert np.linalg.norm(there[2] - there[1]) / IN == pytest.approx(8.1356, rel=1e-4)
    near = (there[0] - corners[0]) / IN
    assert near == pytest.approx((0.678, 0.102), abs=6e-4)


def test_an_outline_that_takes_in_the_near_sides_of_the_board_is_too_large():
    # P-8: as P-7, the near end and the near long side of the board taken for its face.
    camera = _over((-40 * IN, -10 * IN), 60 * IN, (24 * IN, 4 * IN))
    far = _read_on_floor(camera, np.array([[48.0, 4.0]]) * IN, IN)[0] / IN
    below = _read_on_floor(camera, np.array([[0.0, -4.0]]) * IN, 0.0)[0] / IN
    assert far - below == pytest.approx((49.4915, 8.2373), rel=1e-4)


def _read_widths(*, with_parallax):
    """Return 500 readings of a width of 203.2 mm whose inputs are off as in case U-3."""
    random = np.random.default_rng(3)
    height, face = 1500.0, 25.4
    true = _over((0.0, 0.0), height, (0.0, 1.0), np.array([6000.0, *LENS[1:3], 0, 0, 0, 0, 0]))
    edges = true.project(np.array([[-101.6, 0.0, face], [101.6, 0.0, face]]))
    reference = true.project(np.array([[-150.0, 0.0, 0.0], [150.0, 0.0, 0.0]]))
    readings = []
    for _ in range(500):
        seen = edges + np.column_stack([random.uniform(-1, 1, 2), np.zeros(2)])
        ends = reference + np.column_stack([random.uniform(-1, 1, 2), np.zeros(2)])
        taken_height = height * (1 + random.uniform(-0.05, 0.05))
        taken_face = face + random.uniform(-2, 2)
        scale = np.linalg.norm(ends[1] - ends[0]) / (300.0 + random.uniform(-0.1, 0.1))
        lens = np.array([scale * taken_height, *LENS[1:3], 0, 0, 0, 0, 0])
        taken = _over((0.0, 0.0), taken_height, (0.0, 1.0), lens)
        rays = taken.rays(seen)
        reach = ((taken_face if with_parallax else 0.0) - taken.centre[2]) / rays[:, 2]
        there = taken.centre[:2] + rays[:, :2] * reach[:, None]
        readings.append(float(np.linalg.norm(there[1] - there[0])))
    return np.array(readings)


# Uncertainties propagated by Monte Carlo (JCGM 101:2008) through the camera's own code, against
# the first-order sums of the project's check values U-3 and U-4 (computed, not published).
def test_a_width_read_off_a_photo_is_as_sure_as_its_inputs_make_it():
    readings = _read_widths(with_parallax=True)
    assert readings.mean() == pytest.approx(203.2, abs=0.05)
    assert readings.std() == pytest.approx(0.313, rel=0.08)


def test_a_width_read_without_parallax_disagrees_with_the_tape():
    off = _read_widths(with_parallax=False).mean() - 203.2
    assert off == pytest.approx(3.50, abs=0.05)
    assert off > 5 * 0.63


@settings(max_examples=40, deadline=None)
@given(
    st.floats(-1500, 1500),
    st.floats(-900, 900),
    st.floats(-0.05, 0.1),
    st.floats(-0.02, 0.02),
)
def test_photo_and_floor_there_and_back(x, y, k1, k2):
    lens = LENS.copy()
    lens[3:5] = k1, k2
    camera = _over((100.0, -300.0), 1900.0, (0.0, 0.0), lens)
    point = np.array([[x, y, 0.0]])
    pixel = camera.project(point)
    ray = camera.rays(pixel)[0]
    back = camera.centre + ray * (-camera.centre[2] / ray[2])
    assert back == pytest.approx(point[0], abs=1e-6)


def test_undoing_the_lens_is_exact_in_the_corner():
    pixels = np.array([[0.0, 0.0], [4031.0, 0.0], [4031.0, 3023.0], [2000.0, 1500.0]])
    flat = undistort(LENS, pixels)
    xd, yd = distort(LENS, flat[:, 0], flat[:, 1])
    assert LENS[0] * xd + LENS[1] == pytest.approx(pixels[:, 0], abs=1e-8)
    assert LENS[0] * yd + LENS[2] == pytest.approx(pixels[:, 1], abs=1e-8)


def test_slopes_agree_with_small_steps():
    camera = _over((200.0, -500.0), 1800.0, (50.0, 0.0))
    points = np.array([[0.0, 0.0, 0.0], [900.0, 200.0, 30.0], [-1000.0, -300.0, 10.0]])
    exact = slopes(camera, points)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-3
        rough = (camera.project(points + step) - camera.project(points - step)) / 2e-3
        assert exact[:, :, axis] == pytest.approx(rough, abs=1e-6)


def test_a_twin_keeps_the_strip_and_turns_its_plane():
    camera = _over((0.0, -900.0), 1800.0, (0.0, 0.0))
    anchor = np.zeros(3)
    R, t = twin(camera.R, camera.t, anchor)
    assert np.allclose(R @ R.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(R) == pytest.approx(1.0)
    assert R @ anchor + t == pytest.approx(camera.R @ anchor + camera.t)
    assert R[:, 0] == pytest.approx(camera.R[:, 0])
    strip = np.array([[x, y, 0.0] for x in (-1000, 0, 1000) for y in (-18.0, 18.0)])
    off = Camera(camera.lens, R, t).project(strip) - camera.project(strip)
    # Twice 26 degrees of tilt change a narrow strip by little, a board beside it by much.
    assert np.abs(off).max() < 15.0
    board = strip + np.array([0.0, 300.0, 0.0])
    assert np.abs(Camera(camera.lens, R, t).project(board) - camera.project(board)).max() > 60.0


def test_a_pose_is_found_from_four_corners():
    camera = _over((300.0, -700.0), 1500.0, (400.0, 100.0))
    points = np.array([[0.0, 0.0], [900.0, 0.0], [900.0, 300.0], [0.0, 300.0]])
    pixels = camera.project(np.column_stack([points, np.zeros(4)]))
    R, t = planar_poses(camera.lens, points, pixels)[0]
    assert np.allclose(R, camera.R, atol=1e-5)
    assert t == pytest.approx(camera.t, abs=0.05)


def test_a_turn_of_nothing_is_no_turn():
    assert rotation(np.zeros(3)) == pytest.approx(np.eye(3))
    quarter = rotation(np.array([0.0, 0.0, np.pi / 2]))
    assert quarter @ [1.0, 0.0, 0.0] == pytest.approx((0.0, 1.0, 0.0))
