"""The renderer's own promises: one solid, true geometry, the same picture from the same seed."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from tests.render.cache import cached_photo
from tests.render.flat import render_face, render_face_truth
from tests.render.photo import render_photo, save_photo, truth_of
from tests.render.scene import KnotSpec, WaneSpec, draw_board, draw_photo
from tests.render.shape import Shape
from tests.render.truth import Truth, board_truth


@pytest.fixture(scope="module")
def board():
    return draw_board(901, species="white ash", length_mm=1250)


@pytest.fixture(scope="module")
def strip_photo(board):
    spec = draw_photo(
        901, board, rule="strip", size="small", floor="concrete", light="shade", orientation=1
    )
    return render_photo(board, spec)


@pytest.mark.slow
def test_the_same_seed_gives_the_same_picture(board, strip_photo):
    again = render_photo(draw_board(901, species="white ash", length_mm=1250), strip_photo.photo)
    assert np.array_equal(again.pixels, strip_photo.pixels)


def test_another_seed_gives_another_board():
    assert draw_board(1) != draw_board(2)


@pytest.mark.slow
def test_markers_decode_and_their_corners_lie_where_the_truth_says(strip_photo):
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.02
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.cornerRefinementWinSize = 2
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    grey = cv2.cvtColor(strip_photo.pixels, cv2.COLOR_RGB2GRAY)
    corners, ids, _ = cv2.aruco.ArucoDetector(book, parameters).detectMarkers(grey)
    truth = strip_photo.truth.photo.markers_px
    assert ids is not None and len(ids) >= 0.6 * len(truth)
    pairs = [
        (found.reshape(4, 2), np.array(truth[str(int(k))]))
        for found, k in zip(corners, ids.ravel(), strict=True)
        if str(int(k)) in truth
    ]
    # Blur in linear light, then the phone's tone curve: white grows by about 0.3 px a side, as in
    # real pictures. It shifts corners outwards alike, so a marker's middle stays.
    middles = np.array([(e_found - e_true).mean(axis=0) for e_found, e_true in pairs])
    assert np.abs(np.median(middles, axis=0)).max() < 0.15
    corners_off = np.concatenate([np.linalg.norm(f - t, axis=1) for f, t in pairs])
    assert np.percentile(corners_off, 80) < 1.2


@pytest.mark.slow
def test_the_outline_of_the_truth_fits_the_rendered_board():
    board = draw_board(902, species="hard maple", length_mm=1250, clean=True)
    board = replace(board, weather=0.0)
    spec = draw_photo(5, board, rule="none", size="small", floor="asphalt", light="shade")
    photo = render_photo(board, spec)
    outline = photo.truth.photo_from_face(np.array(photo.truth.board.outline["1"]))
    assert np.allclose(outline, photo.truth.photo.outline_px, atol=0.01)
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY).astype(float)
    middle = outline.mean(axis=0)
    for share, expect in ((0.985, True), (1.06, False)):
        ring = middle + (outline - middle) * share
        at = np.round(ring[::7]).astype(int)
        inside = (at > 0).all(axis=1) & (at < np.array(spec.camera.size) - 1).all(axis=1)
        values = grey[at[inside, 1], at[inside, 0]]
        is_wood = values > 140  # pale maple on dark asphalt
        assert (is_wood.mean() > 0.85) == expect


def test_a_through_knot_comes_out_where_its_branch_leads():
    clean = draw_board(903, species="white ash", length_mm=1250, clean=True)
    knot = KnotSpec(600.0, 10.0, 12.0, 0.3, float("inf"), "sound", 4)
    truth = board_truth(Shape(replace(clean, knots=(knot,))))
    found = next(f for f in truth.flaws if f.kind == "knot")
    assert found.through and set(found.outlines) == {"1", "2"}
    pith = np.array([600.0 - 0.3 * abs(clean.thickness_mm / 2 - clean.pith_z), clean.pith_y])
    on = {f: np.mean(found.outlines[f][0], axis=0) for f in ("1", "2")}
    lean = on["2"] - on["1"]
    towards = np.array([600.0, 10.0]) - pith
    towards *= np.sign(clean.thickness_mm / 2 - clean.pith_z)
    # Along the branch: the shift between the faces points the way the branch leans.
    assert np.dot(lean, towards) > 0


def test_a_knot_that_ends_inside_shows_on_one_face_only():
    clean = draw_board(903, species="walnut", length_mm=1250, clean=True)
    knot = KnotSpec(600.0, 10.0, 12.0, 0.1, clean.thickness_mm / 2, "loose", 4)
    truth = board_truth(Shape(replace(clean, knots=(knot,))))
    found = next(f for f in truth.flaws if f.kind == "knot")
    near_pith = "2" if clean.pith_z > clean.thickness_mm / 2 else "1"
    assert set(found.outlines) == {near_pith} and not found.through


def test_wane_is_wider_on_the_bark_side():
    clean = draw_board(904, species="walnut", length_mm=1250, clean=True)
    wane = WaneSpec(1, 25.0, 0.4, 0.5, 0.8, 5.0)
    shape = Shape(replace(clean, wane=wane))
    truth = board_truth(shape)
    bark_side = "1" if shape.bark_side_z == 0 else "2"
    other = "2" if bark_side == "1" else "1"
    width = {"1": truth.widths, "2": truth.widths_face2}
    assert width[bark_side][2][1] < width[other][2][1] - 3


def test_an_end_check_is_longer_on_one_face():
    board = next(b for b in map(draw_board, range(40)) if any(c.end for c in b.cracks))
    crack = next(c for c in board.cracks if c.end)
    assert crack.reach1 != crack.reach2
    flaw = next(f for f in board_truth(Shape(board)).flaws if f.look == "end")
    assert flaw.reach == pytest.approx(max(crack.reach1, crack.reach2))


def test_length_lies_between_the_mid_widths_of_the_ends():
    board = replace(draw_board(905, clean=True, length_mm=2000), end_a_deg=2.0, end_b_deg=-1.0)
    truth = board_truth(Shape(board))
    outline = np.array(truth.outline["1"])
    assert truth.length == pytest.approx(2000, abs=2.5)
    assert np.ptp(outline[:, 0]) > truth.length + 3  # the ends are not square
    assert np.allclose(outline.min(axis=0), 0, atol=0.02)


def test_a_turned_photo_reads_back_upright(board, tmp_path):
    for orientation in (6, 8, 3):
        spec = draw_photo(7, board, rule="none", size="small", orientation=orientation)
        light = np.zeros((*spec.camera.size[::-1], 3), dtype=np.uint8)
        light[:40, :80] = 255
        path = save_photo(type("R", (), {"pixels": light, "photo": spec})(), tmp_path / "a.jpg")
        with Image.open(path) as stored:
            assert stored.getexif()[0x0112] == orientation
            assert 0x8825 not in stored.getexif()
            upright = np.asarray(ImageOps.exif_transpose(stored))
        assert upright.shape == light.shape
        assert upright[10, 10].mean() > 200 and upright[-10, -10].mean() < 50


def test_truth_goes_to_json_and_back(board):
    spec = draw_photo(8, board, rule="plain", size="small", face=2)
    truth = truth_of(board, spec)
    assert Truth.from_json(truth.to_json()) == truth


def test_without_a_strip_end_a_is_left_or_low(board):
    for seed in range(3):
        spec = draw_photo(seed, board, rule="plain", size="small")
        assert truth_of(board, spec).photo.end_a_at in ("left", "bottom")


def test_with_a_strip_end_a_of_face_1_is_nearer_the_zero_mark(board):
    for seed in range(3):
        truth = truth_of(board, draw_photo(seed, board, rule="strip", size="small")).photo
        ends = truth.reference_from_board(np.array([[0.0, 50.0], [1250.0, 50.0]]))
        assert abs(ends[0, 0]) < abs(ends[1, 0])


@pytest.mark.slow
def test_a_flat_face_shows_its_knots_where_the_truth_says():
    clean = replace(draw_board(906, species="hard maple", length_mm=1200, clean=True), weather=0.0)
    knot = KnotSpec(600.0, 10.0, 13.0, 0.1, float("inf"), "loose", 4)
    board = replace(clean, knots=(knot,))
    for face in (1, 2):
        pixels, mask = render_face(board, face, 2.0, supersample=1)
        truth = render_face_truth(board, face, 2.0)
        found = next(f for f in truth.board.flaws if f.kind == "knot")
        at = truth.picture_from_board(np.array(found.outlines[str(face)][0])).mean(axis=0)
        c, r = (round(v) for v in at)
        inside = pixels[r - 2 : r + 3, c - 2 : c + 3].mean()
        assert inside < 0.75 * pixels[mask].mean()
        outline = truth.picture_from_board(np.array(truth.board.outline[str(face)]))
        drawn = np.zeros(mask.shape, np.uint8)
        cv2.fillPoly(drawn, [np.round(outline).astype(np.int32)], 1)
        assert (drawn.astype(bool) & mask).sum() / (drawn.astype(bool) | mask).sum() > 0.97


@pytest.mark.slow
def test_a_cached_photo_is_rendered_once(board, tmp_path, monkeypatch):
    monkeypatch.setattr("tests.render.cache.FOLDER", tmp_path)
    spec = draw_photo(9, board, rule="none", size="small", floor="asphalt", light="shade")
    spec = replace(spec, supersample=1)
    path, truth = cached_photo(board, spec)
    stamp = path.stat().st_mtime_ns
    again, truth_again = cached_photo(board, spec)
    assert again == path and path.stat().st_mtime_ns == stamp and truth_again == truth
