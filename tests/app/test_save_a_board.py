"""Savings are looked for around what is cut, on wood that is still there."""

import json
from dataclasses import replace

import pytest

from scanner.app.lot.open_lot import new_stamp
from scanner.app.placing import save_a_board
from scanner.app.placing.save_a_board import (
    kept_savings,
    look_for_savings,
    saving_lines,
    savings_from_files,
    savings_json,
)
from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json
from scanner.lot.changes import Change
from scanner.lot.savings import Gain, Saving, Search
from scanner.placement.parts import Faces, Part
from scanner.storage.ticks import Ticks
from tests import common
from tests.app.placed_lot import PARTS, PLACED
from tests.lot.laid import layout_of

RAIL = Part("rail", 2, 400.0, 60.0, 19.0, Faces.BOTH)
BETTER = Gain(placed=0, boards=1, area_mm2=2e5, board_feet=2.2)
SHORTER = Saving(Change(RAIL, "rail: 3 mm shorter (length_min)", 3.0), BETTER, layout_of())


@pytest.fixture
def asked(monkeypatch):
    """Stand in for the search (it has tests of its own); return what it was asked."""
    asked = []

    def found(layout, boards, parts, shop, *, steps, trials, progress):
        asked.append((layout, boards))
        progress(1.0)
        return Search((SHORTER,), 7, True)

    monkeypatch.setattr(save_a_board, "find_savings", found)
    return asked


def test_what_is_cut_stays_and_what_was_spoiled_is_no_wood(placed_lot, asked):
    cut, spoiled = replace(PLACED[0], state="cut"), PLACED[4]
    placed_lot.tick(new_stamp(placed_lot), "cut", lambda *_: Ticks((cut,), (spoiled,)))
    look_for_savings(placed_lot, lambda step, share: None)
    ((layout, (board,)),) = asked
    assert layout.placements[0].state == "cut"
    (mark,) = [flaw for flaw in board.flaws if flaw.kind == "marked"]
    x0, y0 = spoiled.x_mm, spoiled.y_mm
    assert mark.outlines[1].bounds == (x0, y0, x0 + spoiled.length_mm, y0 + spoiled.width_mm)


def test_savings_are_kept_until_anything_else_is_done(placed_lot, asked):
    look_for_savings(placed_lot, lambda step, share: None)
    first, last = kept_savings(placed_lot)
    assert first == (
        "1. rail: 3 mm shorter (length_min): saves 1 board, 2.2 board feet less opened"
    )
    assert last.startswith("7 layouts were tried. Nothing is changed")
    placed_lot.tick(new_stamp(placed_lot), "cut", lambda *_: Ticks((PLACED[0],)))
    assert kept_savings(placed_lot) == ()


def test_savings_name_the_boards_that_nobody_looked_over(placed_lot, asked):
    look_for_savings(placed_lot, lambda step, share: None)
    assert not any("NOT LOOKED OVER" in line for line in kept_savings(placed_lot))
    unseen = common.plain_board(looked_over=False)
    placed_lot.save_board(unseen, new_stamp(placed_lot))
    look_for_savings(placed_lot, lambda step, share: None)
    assert kept_savings(placed_lot)[-1].startswith("NOT LOOKED OVER: P01. Possible flaws")


def test_it_is_said_where_nothing_helps_where_more_is_left_and_what_the_list_alone_would_save():
    said = saving_lines(Search((), 40, False, BETTER))
    assert said[0].startswith("Laying the parts out again, without any change, saves 1 board")
    assert said[1] == "No single change was found that saves a board or places a missing part."
    assert said[2].startswith("40 layouts were tried; there are changes that were not. Nothing is")
    assert b'"boards_saved": 1' in savings_json(Search((SHORTER,), 7, True))


def test_the_file_of_savings_lists_the_boards_that_nobody_looked_over(tmp_path, asked):
    (tmp_path / "board.json").write_text(board_json(common.plain_board(looked_over=False)))
    (tmp_path / "parts.csv").write_text(PARTS)
    (tmp_path / "layout.json").write_text(layout_json(layout_of(*PLACED)))
    given = (tmp_path / "layout.json", tmp_path / "parts.csv", (tmp_path / "board.json",))
    savings_from_files(*given, tmp_path / "out")
    record = json.loads((tmp_path / "out/savings.json").read_text())
    assert record["not_looked_over"] == ["P01"]
