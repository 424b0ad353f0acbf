from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from scanner.errors import PhotoError
from scanner.geometry.polygons import iou
from scanner.vision.ground import locate
from scanner.vision.ground.locate import locate_board
from tests.vision.faces import BROWN, CONCRETE, PALE, PLYWOOD, PaintedGround

# Seconds each: pictures are drawn and searched.
pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    ("floor", "wood", "angle_deg"),
    [(CONCRETE, PALE, 3.0), (PLYWOOD, PALE, -2.0), ((60, 60, 60), BROWN, 0.0)],
)
def test_board_beside_the_rule_is_found(floor, wood, angle_deg):
    ground = PaintedGround(floor=floor)
    board = ground.board(500, 850, 2300, 170, angle_deg, wood)
    # What is plain is not asked of the map.
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg", lambda *_: 1 / 0)
    assert iou(place.outline, board) > 0.88
    assert np.degrees(place.angle_rad) == pytest.approx(angle_deg, abs=1.0)


def test_two_boards_are_refused():
    ground = PaintedGround()
    ground.board(500, 850, 2300, 170)
    ground.board(500, 300, 2300, 150)
    with pytest.raises(PhotoError, match=r"Two boards lie in ash\.jpg"):
        locate_board(ground.picture(), ground.rule_area, "ash.jpg")


def test_the_end_of_a_second_board_does_no_harm():
    ground = PaintedGround()
    board = ground.board(500, 850, 2300, 170)
    ground.board(2700, 300, 700, 150)
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg")
    assert iou(place.outline, board) > 0.88


@pytest.mark.parametrize(("x", "end"), [(-200, "left"), (1200, "right")])
def test_a_board_that_runs_out_of_the_picture_is_refused(x, end):
    ground = PaintedGround()
    ground.board(x, 850, 2300, 170)
    with pytest.raises(PhotoError, match=f"{end} end lies outside ash.jpg"):
        locate_board(ground.picture(), ground.rule_area, "ash.jpg")


def test_a_board_that_ends_a_hand_before_the_frame_is_not_cut_off():
    ground = PaintedGround()
    board = ground.board(70, 850, 2300, 170)
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg")
    assert iou(place.outline, board) > 0.88


def test_a_seam_in_the_floor_makes_no_second_board():
    ground = PaintedGround(floor=PLYWOOD)
    board = ground.board(500, 850, 2300, 170)
    for y in (200, 420):
        ground.board(0, y, 3200, 4, colour=(90, 75, 55))
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg")
    assert iou(place.outline, board) > 0.88


def test_a_shadow_along_the_rule_makes_no_second_board():
    ground = PaintedGround()
    board = ground.board(500, 850, 2300, 170)
    ground.board(600, 575, 2200, 60, colour=(82, 84, 90))
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg")
    assert iou(place.outline, board) > 0.88


def test_an_empty_floor_is_refused():
    ground = PaintedGround()
    with pytest.raises(PhotoError, match="No board found"):
        locate_board(ground.picture(), ground.rule_area, "ash.jpg")


def test_a_wall_behind_the_floor_is_no_second_board():
    ground = PaintedGround()
    board = ground.board(500, 850, 2300, 170)
    # It runs out of the picture: floor shows on one side of it only.
    ground.board(300, -20, 2600, 140, colour=(150, 85, 65))
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg")
    assert iou(place.outline, board) > 0.88


def test_a_board_is_found_though_a_wall_has_many_longer_lines():
    ground = PaintedGround(size_mm=(2850.0, 1500.0))
    board = ground.board(900, 850, 1100, 170)
    for course in range(1292, 1500, 32):
        ground.pixels[course // 4 : course // 4 + 6] *= (1.0, 0.57, 0.46)
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg")
    assert iou(place.outline, board) > 0.88


def test_a_board_like_its_floor_is_taken_where_the_map_shows_it():
    ground = PaintedGround(floor=PLYWOOD)
    # Lines such as its arrises, and nothing else to tell it by.
    for y in (760, 930):
        ground.board(500, y, 2300, 4, colour=(90, 75, 55))
    board = box(500, 765, 2800, 930)
    asked = []

    def on_map(rough, angle_rad):
        asked.append(iou(rough, board))
        return (board, 0.0)

    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg", on_map)
    assert (place.outline, place.length_mm, place.width_mm) == (board, 2300, 165)
    assert asked[0] > 0.5
    with pytest.raises(PhotoError, match="No board found"):
        locate_board(ground.picture(), ground.rule_area, "ash.jpg", lambda *_: None)


def shaded_board(
    first_mm: float, stop_mm: float, upper_mm: float, lower_mm: float
) -> tuple[PaintedGround, Polygon]:
    """Lay a board (y 850 to 1050 mm) and a hard shadow over its upper part and the floor beside.

    The shadow is a strip from one x to another, and from one y to another.
    """
    ground = PaintedGround(floor=PLYWOOD)
    board = ground.board(500, 850, 2300, 200)
    rows, columns = (
        slice(*(round(v / ground.mm_per_px) for v in span))
        for span in ((upper_mm, lower_mm), (first_mm, stop_mm))
    )
    ground.pixels[rows, columns] *= (0.25, 0.275, 0.325)
    return ground, board


def test_a_board_that_a_shadow_parts_is_one_board_where_the_map_shows_one():
    ground, board = shaded_board(200, 3100, 760, 940)
    picture = ground.picture()
    with pytest.raises(PhotoError, match="Two boards lie in"):
        locate_board(picture, ground.rule_area, "ash.jpg")
    place = locate_board(picture, ground.rule_area, "ash.jpg", lambda *_: (board, 0.0))
    assert (place.outline, place.doubtful_end) == (board, "")


def test_an_end_in_doubt_stays_so_where_the_map_shows_one_board_for_two(monkeypatch):
    ground, board = shaded_board(200, 3100, 760, 940)
    seen_ends = locate._with_seen_ends
    monkeypatch.setattr(
        locate, "_with_seen_ends", lambda *one: replace(seen_ends(*one), doubtful_end="right")
    )
    place = locate_board(ground.picture(), ground.rule_area, "ash.jpg", lambda *_: (board, 0.0))
    assert place.doubtful_end == "right"


def test_two_boards_stay_two_whichever_of_them_the_map_shows():
    ground = PaintedGround()
    boards = [ground.board(500, 850, 2300, 170), ground.board(500, 300, 2300, 150)]
    picture = ground.picture()
    for shown in boards:
        with pytest.raises(PhotoError, match="Two boards lie in"):
            locate_board(picture, ground.rule_area, "ash.jpg", lambda *_, one=shown: (one, 0.0))


def test_a_second_board_that_only_the_map_shows_is_refused():
    ground = PaintedGround(floor=PLYWOOD)
    for y in (760, 930, 400, 560):
        ground.board(500, y, 2300, 4, colour=(90, 75, 55))
    boards = box(500, 765, 2800, 930), box(500, 405, 2800, 560)

    def on_map(rough, angle_rad):
        near = max(boards, key=lambda board: iou(rough, board))
        return (near, 0.0) if iou(rough, near) > 0.5 else None

    with pytest.raises(PhotoError, match="Two boards lie in"):
        locate_board(ground.picture(), ground.rule_area, "ash.jpg", on_map)


def test_a_shaded_strip_that_runs_to_the_frame_cuts_no_board_off_that_the_map_shows_whole():
    ground, board = shaded_board(0, 3200, 800, 950)
    picture = ground.picture()
    with pytest.raises(PhotoError, match="end lies outside"):
        locate_board(picture, ground.rule_area, "ash.jpg")
    place = locate_board(picture, ground.rule_area, "ash.jpg", lambda *_: (board, 0.0))
    # The trace must see that end, too.
    assert place.outline == board
    assert place.doubtful_end in ("left", "right")


def test_a_board_cut_off_is_refused_though_the_map_shows_another():
    ground = PaintedGround()
    ground.board(1200, 850, 2300, 170)
    elsewhere = box(300, 250, 1900, 400)
    with pytest.raises(PhotoError, match=r"right end lies outside ash\.jpg"):
        locate_board(ground.picture(), ground.rule_area, "ash.jpg", lambda *_: (elsewhere, 0.0))
