"""The milling sheet: targets, days and boxes for each batch, and nothing over anything."""

from dataclasses import replace

import pytest

from scanner.lot.milling_plan import MillingChoice, MillingNotes, milling_plan
from scanner.placement.shop import Shop
from scanner.sheets.milling_sheet import milling_sheet
from tests.lot.milled import BOARD, PARTS, PLACED, layout_of
from tests.sheets.texts import overlapping_texts, texts_off_the_page, words_on

NOTES = MillingNotes(
    MillingChoice(rest_days=7), glue_up={"rail": "2027-03-08"}, done={"20.0/first": "2027-03-01"},
    measured={"rail/1/0": 22.4, "rail/2/0": 19.0},
)  # fmt: skip


def sheet(notes=NOTES, units="mm", paper="a4", placements=PLACED):
    plan = milling_plan(layout_of(placements), (BOARD,), PARTS, Shop(), notes)
    return milling_sheet(plan, notes, units, paper)


@pytest.mark.parametrize(("units", "paper"), [("mm", "a4"), ("inch", "letter")])
def test_nothing_lies_over_anything_or_off_the_paper(units, paper):
    for page in sheet(units=units, paper=paper):
        assert overlapping_texts(page) == []
        assert texts_off_the_page(page) == []


def test_each_batch_has_its_targets_days_and_setup_piece():
    said = words_on(sheet()[0])
    for words in (
        "1. 20 mm: 3 pieces", "First pass to 23 mm, due 2027-03-01, done 2027-03-01",
        "Final pass to 20 mm, due 2027-03-08, done on", "Glue-up: 2027-03-08",
        "the left-over 400 × 60 mm of P01", "a week", "on stickers", "22.4",
        "Too thin after the rest: rail 2.", "their manuals come first",
    ):  # fmt: skip
        assert words in said, words


def test_who_stacks_without_stickers_is_told_to_turn_the_pieces():
    notes = replace(NOTES, choice=MillingChoice(stickers=False))
    assert "turn the pieces over each day" in words_on(sheet(notes)[0])


def test_many_pieces_run_on_over_pages():
    many = tuple(replace(PLACED[0], copy=copy, x_mm=60.0 + copy) for copy in range(1, 70))
    pages = sheet(placements=many)
    assert len(pages) > 1
    assert all(texts_off_the_page(page) == [] for page in pages)
    said = "".join(words_on(page) for page in pages)
    assert "rail 69" in said and said.count("rail 35\n") == 1


def test_with_nothing_to_mill_it_says_so():
    assert "Nothing is left to mill." in words_on(sheet(placements=())[0])
