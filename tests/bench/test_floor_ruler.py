"""The floor bench's own ruler, held against pictures of known shifts, and its second photo."""

import cv2
import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import box

from scanner.board.board import Board, Face, Station
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.measured import Measured
from tests.bench.arris_places import off_mm
from tests.bench.floor import false_ones, from_the_other_side, patch_in
from tests.bench.true_size import share_to_true_size
from tests.render.scene import draw_board, draw_phone, draw_photo


def grain(detail: float) -> np.ndarray:
    """Return grain that runs along x and bends slowly, and as much detail of single places."""
    rng = np.random.default_rng(4)
    x, y = np.meshgrid(np.arange(260), np.arange(180))
    lines = 30 * np.sin((y + 3 * ((x - 130) / 130) ** 2) / 3.0)
    spots = cv2.GaussianBlur(rng.normal(0, 1, x.shape), (0, 0), 1.5)
    return np.clip(128 + lines + detail * spots / spots.std(), 0, 255).astype(np.uint8)


def test_patch_does_not_slide_along_straight_grain():
    window = grain(3.0)
    # Flattened by another camera a patch lies turned a little: its lines run as they do further on.
    turn = cv2.getRotationMatrix2D((115.0, 105.0), 1.5, 1.0)
    patch = cv2.warpAffine(window, turn, (260, 180))[60:150, 70:160]
    _, alike, _, (slid, _) = cv2.minMaxLoc(cv2.matchTemplate(window, patch, cv2.TM_CCOEFF_NORMED))
    found = patch_in(window, patch, 0.5)
    assert alike > 0.8
    assert abs(slid - 70) > 4
    assert found is not None
    assert np.abs(found - [70, 60]).max() < 0.5


def test_patch_that_looks_alike_all_along_is_not_used():
    window = np.repeat(grain(0.0)[:, :1], 260, axis=1)
    assert patch_in(window, window[60:150, 70:160], 0.5) is None


def test_a_face_laid_elsewhere_is_not_off_and_a_wider_one_is():
    true = box(0.0, 0.0, 2000.0, 180.0)
    moved = affinity.rotate(affinity.translate(true, 0.0, 4.0), 0.1)
    assert np.abs(off_mm(moved, true)).max() < 0.2
    # A bump of 3 mm on the upper edge, 400 mm long, moves nothing else.
    off = off_mm(true.union(box(1200.0, -3.0, 1600.0, 90.0)), true)
    assert (np.abs(off) > 2.5).mean() == pytest.approx(0.1, abs=0.01)
    assert np.quantile(np.abs(off), 0.85) < 0.5
    assert np.median(off_mm(box(0.0, -2.0, 2000.0, 182.0), true)) == pytest.approx(2.0)


def test_a_second_photo_is_taken_from_the_other_side_of_the_board_as_it_lies():
    board, phone = draw_board(7264), draw_phone(7264)
    for face in (1, 2):
        first = draw_photo(7264, board, face=face, phone=phone)
        second = from_the_other_side(7264, board, first, phone)
        middle = np.array([first.board_x, first.board_y])
        stood = [photo.camera.centre[:2] - middle for photo in (first, second)]
        assert stood[0] @ stood[1] < 0
        lies = [(p.rule, p.board_x, p.board_y, p.board_deg, p.reversed) for p in (first, second)]
        assert lies[0] == lies[1]


def test_a_face_is_drawn_to_its_true_size_only_as_far_as_its_own_u_goes():
    true = box(0.0, 0.0, 2000.0, 200.0)

    def share(length_u_mm: float) -> tuple[float, float]:
        face = Face(box(0.0, 0.0, 1980.0, 204.0))
        widths = (Station(990.0, Measured(204.0, 2.0)),)
        board = Board(
            "B",
            "white ash",
            Measured(27.0, 1.0),
            Measured(1980.0, length_u_mm),
            widths,
            {1: face, 2: face},
        )
        return share_to_true_size(board, true, 1)

    # Told within 25 mm it is all explained; within 5 mm three quarters of it stay a fault. The
    # width, 4 mm off, is told within 2.
    assert share(25.0) == pytest.approx((2000 / 1980, 1 - 2 / 204))
    assert share(5.0)[0] == pytest.approx(1 + 5 / 1980)


def test_every_piece_of_wane_is_wane_and_what_lies_on_clear_wood_is_false():
    pieces = [box(0.0, 0.0, 300.0, 9.0), box(420.0, 0.0, 520.0, 2.0)]

    def told(kind: FlawKind, shape) -> Flaw:
        return Flaw(id="F1", kind=kind, outlines={2: shape})

    small = told(FlawKind.WANE, box(415.0, 0.0, 515.0, 2.5))
    between = told(FlawKind.WANE, box(330.0, 0.0, 400.0, 2.0))
    check = told(FlawKind.CHECK, box(100.0, 60.0, 160.0, 61.0))
    turned = told(FlawKind.WILD_GRAIN, box(100.0, 60.0, 160.0, 80.0))
    assert false_ones([small, between, check, turned], pieces, 2) == [between, check]
