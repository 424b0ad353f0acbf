"""A board's wood is named after the scan; a note that both faces have is told once."""

from dataclasses import replace

import pytest

from scanner.app.lot.name_wood import name_wood
from scanner.app.lot.open_lot import new_stamp, open_lot
from scanner.app.showing.list_boards import board_lines
from scanner.app.showing.page_state import short_notes
from scanner.errors import ScannerError
from tests import common


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "ash.lot")
    lot.save_board(replace(common.plain_board(), species="unknown"), new_stamp(lot))
    yield lot
    lot.close()


def test_wood_that_nobody_named_can_be_named_and_undone(lot):
    (line,) = board_lines(lot)
    assert line.wood == "" and line.head.startswith("wood not named, ")
    name_wood(lot, line.id, "  white  ash ")
    (named,) = board_lines(lot)
    assert named.wood == "white ash" and named.head.startswith("white ash, ")
    lot.undo(new_stamp(lot))
    assert board_lines(lot) == (line,)


@pytest.mark.parametrize("typed", ["", "  ", "Unknown ", "ash " * 20])
def test_what_names_no_wood_is_refused(lot, typed):
    with pytest.raises(ScannerError, match="names no wood"):
        name_wood(lot, lot.boards()[0].id, typed)


def test_a_note_of_both_faces_stands_once():
    notes = ("face 1: tape the strip", "face 2: blurred", "face 2: tape the strip", "End B slants")
    board = replace(common.plain_board(), notes=notes)
    assert short_notes(board) == ("both faces: tape the strip", "face 2: blurred", "End B slants")
