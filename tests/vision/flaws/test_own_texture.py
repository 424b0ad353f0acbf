import pytest
from shapely.geometry import Point

from scanner.vision.flaws.learned_odds import SMALL_MEASURES, small_odds
from scanner.vision.flaws.own_texture import own_texture
from tests.vision.flaws.surfaces import Wood


def measured(wood, x, y, size=3.0):
    return own_texture(wood.surface()).measure(Point(x, y).buffer(size / 2))


def test_a_hole_is_darker_than_the_lines_through_it_explain():
    wood = Wood()
    wood.speck(150, 30)
    lone, alike = measured(wood, 150, 30)
    assert lone > 0.8
    assert alike < 1.0


def test_where_a_saw_mark_crosses_a_pore_line_is_no_hole():
    wood = Wood()
    wood.saw_mark(150, 0.45)
    wood.pore_line(30, 0.45)
    crossing = measured(wood, 150, 30)[0]
    wood.speck(150, 30)
    assert crossing < 0.3
    assert measured(wood, 150, 30)[0] > crossing + 0.6


def test_one_of_many_alike_is_told_by_their_number():
    few, many = Wood(), Wood()
    few.speck(150, 30, share=0.5)
    for x in range(20, 290, 15):
        many.speck(x, 20 + x % 25, share=0.5)
    many.speck(150, 30, share=0.5)
    assert measured(many, 150, 30)[1] > measured(few, 150, 30)[1] + 1.5


@pytest.mark.parametrize("size", [2.0, 4.0, 7.0])
def test_it_holds_at_every_size_of_a_small_spot(size):
    wood = Wood()
    wood.speck(150, 30, size)
    assert measured(wood, 150, 30, size)[0] > 0.6


@pytest.mark.parametrize(("x", "y"), [(150, 3), (2, 30), (298, 57)])
def test_a_hole_beside_an_arris_or_an_end_is_held_against_the_wood_that_is_there(x, y):
    wood = Wood()
    wood.speck(x, y)
    assert measured(wood, x, y)[0] > 0.6


def test_what_stands_alone_is_believed_sooner_than_what_has_its_like():
    assert SMALL_MEASURES[2:] == ("lone", "alike")
    alone, crowded = small_odds([[0.5, 0.5, 1.2, 0.7], [0.5, 0.5, 0.2, 5.0]])
    assert alone > 0.8
    assert crowded < 0.5 * alone
