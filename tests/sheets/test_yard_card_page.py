"""The yard card on paper: what is not known is left out, a long list goes on on another sheet."""

from dataclasses import replace

from scanner.lot.yard_card import card_sections
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.sheets.yard_card_page import yard_card_pages
from tests.sheets.texts import overlapping_texts, texts_off_the_page, words_on

RAIL = Part("rail", 2, 1600.0, 80.0, 20.0, Faces.BOTH, species="white ash")


def pages(*parts, units="mm"):
    shop = Shop.inch() if units == "inch" else Shop()
    return yard_card_pages(card_sections(parts, shop), "letter", units)


def test_a_part_that_no_class_gives_has_no_bow_to_look_for():
    (page,) = pages(replace(RAIL, name="beam", thickness_mm=150.0, species=None))
    said = words_on(page)
    assert "any species: no class is thick enough, glue it up" in said
    assert "an edge may bend" in said and "a face may bend" not in said


def test_without_an_allowance_nothing_may_bend():
    (page,) = pages(replace(RAIL, width_allowance_mm=0.0))
    assert "an edge may bend hardly at all over 2.44 m" in " ".join(words_on(page).split())


def test_inch_shops_read_running_feet():
    (page,) = pages(RAIL, units="inch")
    # Two of 1600 mm and an inch each: 3250.8 mm = 10.7 ft.
    assert "Running length by width: 10.7 ft of" in " ".join(words_on(page).split())


def test_many_species_go_on_on_another_sheet():
    kinds = [replace(RAIL, name=f"rail {n}", species=f"wood {n}") for n in range(9)]
    first, *more = pages(*kinds)
    assert more and all("continued" in words_on(page) for page in more)
    said = "\n".join(words_on(page) for page in (first, *more))
    assert all(f"wood {n} 4/4" in said for n in range(9))
    for page in (first, *more):
        assert overlapping_texts(page) == [] and texts_off_the_page(page) == []


def test_what_the_parts_ask_of_their_faces_is_said_on_the_last_sheet():
    kinds = [replace(RAIL, name=f"rail {n}", species=f"wood {n}") for n in range(9)]
    *first, last = pages(*kinds, replace(RAIL, name="cleat", faces=Faces.HIDDEN))
    said = " ".join(words_on(last).split())
    assert "both: clear on both faces; hidden: as sound" in said
    # Nothing is said of what no part asks for.
    assert "show: " not in said and "sound: " not in said
    assert not any("clear on both faces" in words_on(page) for page in first)
    assert overlapping_texts(last) == [] and texts_off_the_page(last) == []


def test_what_is_to_come_from_one_board_stands_on_the_card():
    slats = replace(RAIL, name="slat", quantity=3, match="seat:in_order")
    (page,) = pages(slats, replace(RAIL, name="top", width_mm=300.0, staves="3"))
    said = " ".join(words_on(page).split())
    # Three of 1625 mm and two kerfs of 3.2 mm.
    assert "From one board: 3 × slat, one after the other in a row of 4881 mm." in said
    assert "From one board: 3 × top, stave, for each of the 2." in said
    assert overlapping_texts(page) == [] and texts_off_the_page(page) == []


def test_a_bookmatched_pair_says_how_thick_the_board_must_be():
    (page,) = pages(replace(RAIL, name="panel", thickness_mm=9.0, match="doors:bookmatch"))
    # Two slices of 9 mm, 3.2 mm each to flatten, and a kerf of 3.2 mm.
    said = " ".join(words_on(page).split())
    assert "From one board: 2 × panel, bookmatched if it is 27.6 mm thick" in said
