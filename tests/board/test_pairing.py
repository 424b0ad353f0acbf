"""Faces that nobody named find their other side by outline, or are left to the user."""

import pytest
from shapely.geometry import Polygon

from scanner.board.pairing import lies_over, pairs_by_outline
from tests.board.two_faces import FACE, OTHER, as_turned, reading

# Three boards of one length and nearly one width: only how they taper tells them apart.
THIRD = Polygon([(4, 10), (1806, 4), (1800, 196), (0, 190)])
THICKNESS_MM = 25.4


def both(outline):
    return [reading(outline), as_turned(outline, (), "sideways")]


@pytest.mark.slow
def test_every_face_finds_its_other_side_in_a_shuffled_heap():
    (a, b), (c, d), (e, f) = both(FACE), both(OTHER), both(THIRD)
    assert set(pairs_by_outline([a, c, e, d, b, f], THICKNESS_MM)) == {(0, 4), (1, 3), (2, 5)}


def test_a_face_with_two_partners_that_fit_alike_is_left_to_the_user():
    a, b = both(FACE)
    assert pairs_by_outline([a, b, b], THICKNESS_MM) == ()


def test_the_order_of_the_photos_decides_between_partners_that_fit_alike():
    a, b = both(FACE)
    found = pairs_by_outline([a, b, b], THICKNESS_MM, follow=lambda i, j: (i, j) == (0, 1))
    assert found == ((0, 1),)


def test_the_order_never_decides_against_a_partner_that_clearly_fits_better():
    (a, b), (c, _) = both(FACE), both(OTHER)
    found = pairs_by_outline([c, a, b], THICKNESS_MM, follow=lambda i, j: j == i + 1)
    assert found == ((1, 2),)


def test_a_face_without_its_other_side_stays_alone():
    long_one = reading(Polygon([(0, 0), (2400, 0), (2400, 180), (0, 180)]))
    assert pairs_by_outline([*both(FACE), long_one], THICKNESS_MM) == ((0, 1),)
    assert lies_over(reading(FACE), long_one, THICKNESS_MM) is None


def test_faces_that_their_cards_forbid_are_never_paired():
    assert pairs_by_outline(both(FACE), THICKNESS_MM, lambda i, j: False) == ()
