import cv2
import numpy as np
import pytest

from scanner.geometry.card_codes import CARD_CODES, board_and_face, card_id, card_modules
from scanner.geometry.marker_codes import CODES, marker_modules


def test_the_table_is_opencvs_own_dictionary():
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    assert len(CODES) == len(codes.bytesList) == 250
    for marker in range(250):
        drawn = cv2.aruco.generateImageMarker(codes, marker, 6)
        assert np.array_equal(marker_modules(marker), drawn > 127)


def test_a_marker_that_does_not_exist_is_refused():
    with pytest.raises(ValueError, match="249"):
        marker_modules(250)


def test_the_cards_table_is_opencvs_own_dictionary():
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    assert len(CARD_CODES) == len(codes.bytesList) == 1000
    for marker in range(1000):
        drawn = cv2.aruco.generateImageMarker(codes, marker, 7)
        assert np.array_equal(card_modules(marker), drawn > 127)


def test_a_card_says_its_board_and_face():
    assert card_id(1, 1) == 2
    assert card_id(7, 2) == 15
    assert [board_and_face(card_id(b, f)) for b in (1, 499) for f in (1, 2)] == [
        (1, 1), (1, 2), (499, 1), (499, 2),
    ]  # fmt: skip
    assert board_and_face(0) is None
    with pytest.raises(ValueError, match="boards 1 to 499"):
        card_id(500, 1)


def test_the_first_and_the_last_marker_and_card_exist_and_none_beyond():
    for marker in (-1, 250):
        with pytest.raises(ValueError, match="0 to 249"):
            marker_modules(marker)
    assert board_and_face(1) is None
    assert board_and_face(1000) is None
    for board, face in ((0, 1), (1, 0), (1, 3), (500, 2)):
        with pytest.raises(ValueError, match="boards 1 to 499 and faces 1 and 2"):
            card_id(board, face)
