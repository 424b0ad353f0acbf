"""What a board looks like, in its file and out of it."""

import json
from dataclasses import replace

import pytest

from scanner.board.looks import Looks
from scanner.board.ring_series import RingSeries
from scanner.errors import BoardError
from scanner.files.board_file import board_from_text, board_json
from tests.common import ash_board

RINGS = (RingSeries(1, 43.25, (-1.2, 0.0, 2.5, -2.5)), RingSeries(2, 70.0, (0.4, -0.3)))
LOOKS = Looks(
    (71.25, 3.5, -19.0), 2.5, (83.0, 0.1, 12.0), 2.75, 0.0712, "cathedral", 0.66, 2, RINGS
)


def test_looks_come_back_from_the_file_as_they_were():
    board = replace(ash_board(), looks=LOOKS)
    assert board_from_text(board_json(board), "B01").looks == LOOKS


def test_a_file_says_that_its_colour_is_of_the_rough_faces_and_the_heart_side_a_guess():
    block = json.loads(board_json(replace(ash_board(), looks=LOOKS)))["looks"]
    assert (block["of"], block["heart_face_guess"]) == ("rough faces", 2)


def test_a_file_from_before_rings_were_kept_in_order_still_opens():
    record = json.loads(board_json(replace(ash_board(), looks=LOOKS)))
    del record["looks"]["ring_series"]
    assert board_from_text(json.dumps(record), "B01").looks == replace(LOOKS, rings=())


def test_a_board_of_unknown_looks_has_no_block():
    assert "looks" not in json.loads(board_json(ash_board()))


def test_part_of_a_boards_looks_may_be_unknown():
    board = replace(ash_board(), looks=Looks(ring_mm=3.0))
    assert board_from_text(board_json(board), "B01").looks == Looks(ring_mm=3.0)


@pytest.mark.parametrize(
    "field, value",
    [
        ("ring", 0),
        ("lab", [1, 2]),
        ("figure", "curly"),
        ("heart_face_guess", 3),
        ("ring_series", [{"face": 3, "from_pith": 1, "light": [1, 2]}]),
    ],
)
def test_a_wrong_value_is_refused_by_its_name(field, value):
    record = json.loads(board_json(replace(ash_board(), looks=LOOKS)))
    record["looks"][field] = value
    with pytest.raises(BoardError, match=field):
        board_from_text(json.dumps(record), "B01/board.json")
