from dataclasses import replace

from scanner.board.likest import likest_id
from scanner.board.looks import Looks
from scanner.lot.alike import beside_words, looks_words, sorted_by_likeness
from tests.common import ash_board, walnut_board


def ash(name, lightness=70.0, ring_mm=3.0, **known):
    looks = Looks(
        lab=(lightness, 4, 19), ring_mm=ring_mm, contrast=0.07, flat_share=0.6, figure="cathedral"
    )
    return replace(ash_board(), id=name, looks=replace(looks, **known))


CHOSEN = ash("B01")


def order(*boards):
    return [one.board.id for one in sorted_by_likeness(CHOSEN, boards)]


def test_the_likest_board_comes_first_and_the_chosen_one_is_left_out():
    assert order(CHOSEN, ash("far", 78), ash("near", 71), ash("between", 73)) == [
        "near",
        "between",
        "far",
    ]


def test_another_species_is_never_alike():
    assert order(replace(walnut_board(), looks=CHOSEN.looks), ash("B03")) == ["B03"]


def test_a_board_of_unknown_looks_comes_last_and_says_so():
    blank = replace(ash_board(), id="blank", looks=None)
    found = sorted_by_likeness(CHOSEN, [blank, ash("far", 90)])
    assert [one.word for one in found] == ["unlike", "looks not known"]


def test_the_likest_to_any_of_several_boards_is_named():
    boards = [ash("dark", 60), ash("pale", 80), CHOSEN]
    assert likest_id([CHOSEN, ash("B09", 79)], boards) == "pale"
    assert likest_id([CHOSEN], [replace(ash_board(), id="blank")]) is None


def test_what_two_boards_have_in_common_is_said_in_words():
    other = ash("B02", 74, ring_mm=4.2)
    assert beside_words(CHOSEN, other) == "lighter by 4, rings 4.2 against 3.0 mm, both cathedral"
    assert "colour of B03 not known" in beside_words(CHOSEN, ash("B03", lab=None))


def test_a_colour_is_told_in_a_woodworkers_words_with_its_figures():
    assert "colour: lightness 70 of 100, red 4, yellow 19" in looks_words(CHOSEN)
    assert "green 1, blue 2" in looks_words(ash("B02", lab=(50, -1, -2)))
    other = ash("B02", lab=(60, 6, 15))
    assert beside_words(CHOSEN, other).startswith("darker by 10, redder by 2, less yellow by 4,")
    assert "nearly the same colour" in beside_words(CHOSEN, ash("B02", lab=(71.4, 2.6, 19)))


def test_heart_against_sap_is_asked_and_not_called_unlike_wood():
    sap = ash("B02", 84, lab=(84, 0, 12))
    both = replace(CHOSEN, looks=replace(CHOSEN.looks, sap_lab=(84, 0, 12)))
    assert "mostly sapwood?" in beside_words(both, sap)


def test_the_heart_side_is_called_a_guess():
    assert "face 2 (a guess)" in looks_words(ash("B01", heart_face=2))
    assert looks_words(replace(ash_board(), looks=None)) == ""


def test_what_is_not_known_of_a_look_is_not_said():
    assert looks_words(replace(CHOSEN, looks=None)) == ""
    assert looks_words(replace(CHOSEN, looks=Looks())) == ""
    assert looks_words(replace(CHOSEN, looks=Looks(ring_mm=2.5))) == "rings about 2.5 mm apart"
    bare = replace(CHOSEN, id="B08", looks=Looks(figure="straight"))
    less = replace(CHOSEN, id="B09", looks=Looks(ring_mm=2.0))
    assert beside_words(CHOSEN, bare) == "colour of B08 not known, straight against cathedral"
    assert beside_words(bare, less) == "colour of B08 and B09 not known"
