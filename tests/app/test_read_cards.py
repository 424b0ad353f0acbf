"""Board cards settle which photo shows which face, and the board's name."""

import pytest

from scanner.app.scanning.read_cards import faces_are_exchanged, name_on_card
from scanner.errors import PhotoError

BOTH = ("x.jpg", "y.jpg")


@pytest.mark.parametrize(
    ("cards", "exchanged"),
    [
        ({1: (7, 1), 2: (7, 2)}, False),
        ({1: (7, 2), 2: (7, 1)}, True),
        ({1: None, 2: (7, 1)}, True),
        ({1: (7, 2), 2: None}, True),
        ({1: (7, 1), 2: None}, False),
        ({1: None, 2: None}, False),
    ],
)
def test_photos_may_come_in_any_order(cards, exchanged):
    assert faces_are_exchanged(cards, BOTH) is exchanged


def test_a_lone_photo_is_what_the_person_said():
    assert not faces_are_exchanged({1: (7, 2)}, BOTH[:1])


def test_cards_of_two_boards_are_refused():
    told = r"x\.jpg shows the card of board 7 and y\.jpg that of board 8"
    with pytest.raises(PhotoError, match=told):
        faces_are_exchanged({1: (7, 1), 2: (8, 2)}, BOTH)


def test_two_photos_of_one_face_are_refused():
    with pytest.raises(PhotoError, match="both show the card of face 2"):
        faces_are_exchanged({1: (7, 2), 2: (7, 2)}, BOTH)


def test_a_card_names_the_board():
    assert name_on_card({1: None, 2: (7, 2)}) == "B07"
    assert name_on_card({1: None}) is None
