"""The page "Boards" without a browser: taping a board, taking one out."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.app.lot.open_lot import new_stamp
from scanner.app.lot.trust_test import PHONES
from scanner.board.measured import Measured
from scanner.files.camera_profiles import PhoneProfile, write_profiles
from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from tests import common
from tests.ui.page_runs import button_of, go_to, words_of
from ui import desks
from ui.place import sample_lot


@pytest.fixture
def scanned(sample):
    """The sample lot as if a phone had scanned three boards of it."""
    lot = desks.desk_of(sample_lot()).lot
    third = replace(common.ash_board(), id="B03", length=Measured(2440.0, 4.0))
    lot.save_board(third, new_stamp(lot))
    ids = tuple(board.id for board in lot.boards())
    lens = LensEvidence(Phone("Maker Phone 7", 26, (4032, 3024)), np.eye(4), np.zeros(4))
    lot.folder.mkdir(exist_ok=True)
    write_profiles(lot.folder / PHONES, [PhoneProfile(lens, ids)])
    return go_to(sample, "trust")


@pytest.mark.slow
def test_three_boards_are_held_against_the_tape_one_after_the_other(scanned):
    page, lot = scanned, desks.desk_of(sample_lot()).lot
    for count, board in enumerate(lot.boards()):
        assert f"{count} of 3 boards taped." in words_of(page)
        field = next(one for one in page.text_input if one.label == f"Length of {board.id} by tape")
        page = field.set_value(f"{board.length.value_mm:.0f} mm").run()
    assert [said.value for said in page.success] == [
        "U held on all 3 boards taped so far with Maker Phone 7."
    ]
    assert "U held on all 3 boards" in words_of(go_to(page, "boards"))


def test_a_board_that_does_not_stand_the_tape_is_named_on_both_pages(scanned):
    field = next(one for one in scanned.text_input if one.label == "Length of B01 by tape")
    page = field.set_value("2300 mm").run()
    assert ["U did not hold on B01" in said.value for said in page.error] == [True]
    assert ["U did not hold on B01" in said.value for said in go_to(page, "boards").error] == [True]


def test_a_board_is_taken_out_and_comes_back_by_undo(sample):
    page = go_to(sample, "boards")
    page = button_of(page, "Take B02 out").click().run()
    lot = desks.desk_of(sample_lot()).lot
    assert [board.id for board in lot.boards()] == ["B01"]
    page = button_of(page, "Undo: took out board B02").click().run()
    assert [board.id for board in lot.boards()] == ["B01", "B02"]
    assert not page.exception and not page.error


def test_a_taped_length_is_kept_at_its_board_and_the_field_is_empty_again(sample):
    page = go_to(sample, "boards")
    field = next(one for one in page.text_input if one.label == "Length of B01 by tape")
    page = field.set_value("2400 mm").run()
    assert "do not agree" in words_of(page)
    field = next(one for one in page.text_input if one.label == "Length of B01 by tape")
    assert field.value == ""
    page = field.set_value("rather long").run()
    assert len(page.error) == 1


def test_what_is_noted_of_a_board_is_counted_beside_it_and_read_on_asking(sample):
    lot = desks.desk_of(sample_lot()).lot
    said = ("face 1: Grass lies over the rim", "A knot does not come through to the other face")
    lot.save_board(replace(lot.board("B01"), notes=said), new_stamp(lot))
    page = go_to(sample, "boards")
    notes = [one for one in page.expander if one.label.endswith("on B01")]
    assert [one.label for one in notes] == ["2 notes on B01"]
    assert not notes[0].proto.expanded
    assert all(note in words_of(notes[0]) for note in said)
