"""Which photos are proposed as one board's, and what a first look says of a photo."""

from pathlib import Path

import pytest
from shapely import affinity
from shapely.geometry import Polygon

from scanner.app.lot.propose_pairs import (
    ProposedPair,
    first_outline,
    look_at_photo,
    propose_pairs,
)
from scanner.board.board import Station
from scanner.board.measured import Measured
from scanner.board.reading import STATION_SHARES, FaceReading

_SAMPLES = Path(__file__).parents[2] / "sample_images"


def _face(length, width, taper, *, over=False):
    """A board with one side tapering, on face 2 as seen after turning it over sideways."""
    y = (0.0, width)
    outline = Polygon([(0, y[0]), (length, y[0]), (length, y[1] - taper), (0, y[1])])
    if over:
        outline = affinity.scale(outline, 1, -1, origin=(0, width / 2))
        outline = affinity.translate(outline, 0, -outline.bounds[1])
    stations = tuple(
        Station(share * length, Measured(width - taper * share, 1.0)) for share in STATION_SHARES
    )
    return FaceReading(outline, (), Measured(length, 3.0), stations, 1.0, 1.0)


_LONG, _SHORT = (2400.0, 180.0, 12.0), (1900.0, 230.0, 30.0)


def test_cards_pair_photos_in_any_order_and_say_which_face_is_which():
    cards = [(7, 2), (8, 1), (7, 1), (8, 2)]
    assert propose_pairs(cards, "in_turn") == (
        ProposedPair(2, 0, "cards"),
        ProposedPair(1, 3, "cards"),
    )


def test_without_cards_the_order_pairs():
    pairs = propose_pairs([None] * 4, "faces_1_first")
    assert [(pair.first, pair.second) for pair in pairs] == [(0, 2), (1, 3)]
    assert {pair.why for pair in pairs} == {"order"}


def test_one_card_of_two_settles_the_faces_of_a_pair_by_order():
    (pair,) = propose_pairs([None, (3, 1)], "in_turn")
    assert (pair.first, pair.second, pair.why) == (1, 0, "order")


def test_outlines_that_agree_are_said_to():
    faces = [_face(*_LONG), _face(*_LONG, over=True), _face(*_SHORT), _face(*_SHORT, over=True)]
    pairs = propose_pairs([None] * 4, "in_turn", faces)
    assert [(pair.first, pair.second) for pair in pairs] == [(0, 1), (2, 3)]
    assert {pair.why for pair in pairs} == {"order_and_outlines"}


def test_where_the_order_does_not_hold_the_outlines_pair():
    faces = [_face(*_LONG), _face(*_SHORT), _face(*_LONG, over=True), _face(*_SHORT, over=True)]
    pairs = propose_pairs([None] * 4, "in_turn", faces)
    assert [(pair.first, pair.second, pair.why) for pair in pairs] == [
        (0, 2, "outlines"),
        (1, 3, "outlines"),
    ]


def test_what_fits_nothing_keeps_its_order_and_says_so():
    other = _face(3000.0, 120.0, 0.0)
    (pair,) = propose_pairs([None, None], "in_turn", [_face(*_LONG), other])
    assert pair.why == "against_outlines" and not pair.is_sure


def test_a_photo_left_over_is_a_board_without_face_2():
    pairs = propose_pairs([None] * 3, "in_turn")
    assert pairs[1] == ProposedPair(2, None, "alone")


def test_a_file_that_is_no_photo_is_said_by_the_users_name_for_it():
    look = look_at_photo(b"no picture at all", "holiday.jpg")
    assert not look.will_do and "holiday.jpg is not a picture" in look.verdict


@pytest.mark.slow
def test_a_first_look_at_a_sample_finds_its_strip_and_its_outline():
    content = (_SAMPLES / "ash-01-face1.jpg").read_bytes()
    look = look_at_photo(content, "ash-01-face1.jpg")
    assert look.will_do and len(look.rule_px) == 4 and look.card is None
    outline = first_outline(content, "ash-01-face1.jpg")
    assert outline is not None and 1000 < outline.length.value_mm < 4000


def test_photos_with_one_card_show_one_face_and_stay_together():
    cards = [(2, 1), None, (2, 2), (2, 1)]
    pairs = propose_pairs(cards, "in_turn")
    assert pairs[0] == ProposedPair(0, 2, "cards", (3,))
    assert pairs[1] == ProposedPair(1, None, "alone")


def test_each_face_taken_twice_gives_two_photos_a_face():
    assert propose_pairs([None] * 8, "twice") == (
        ProposedPair(0, 2, "order", (1,), (3,)),
        ProposedPair(4, 6, "order", (5,), (7,)),
    )
    # One card says which face its two photos show.
    (pair,) = propose_pairs([None, (5, 2), None, None], "twice")
    assert pair == ProposedPair(2, 0, "order", (3,), (1,))
