"""What one layout costs beyond another is said in boards, board feet and money."""

import shutil
from dataclasses import replace

import pytest

from scanner.app.lot.open_lot import open_lot, set_parts
from scanner.app.placing.compare_layouts import (
    difference_words,
    former,
    go_back,
    has_matches,
    plan_unmatched,
    present,
    side,
)
from scanner.app.placing.place_again import plan_lot
from scanner.errors import PlacementError
from scanner.placement.stop import Work
from scanner.storage.journal import Stamp
from tests import common

# Two doors' panels that are to match lie on one board; each board has room for one and a half.
_PARTS = """name,quantity,length,width,thickness,faces,match
panel,3,575,148,15,both,door
rail,2,575,48,15,both,
"""


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """The file of the lot, placed once; each test opens a copy of its own."""
    file = tmp_path_factory.mktemp("planned") / "bench.lot"
    lot = open_lot(file)
    set_parts(lot, _PARTS, "parts.csv")
    for number in (1, 2, 3):
        id = f"P0{number}"
        board = replace(common.plain_board(id, 2000.0, 200.0), price=30.0 + number)
        lot.save_board(board, Stamp(f"board-{id}-one", lot.revision, "test"))
    plan_lot(lot, Work(30))
    lot.close()
    return file


@pytest.fixture
def lot(planned, tmp_path):
    lot = open_lot(shutil.copy(planned, tmp_path / "bench.lot"))
    yield lot
    lot.close()


def _side(lot, title, placed=8, boards=2, feet=10.0):
    layout = lot.layout().layout
    total = replace(layout.summary, placed=placed, boards_opened=boards, board_feet=feet)
    return side(lot, title, replace(layout, summary=total))


def test_more_boards_and_board_feet_are_said(lot):
    one, two = _side(lot, "With", boards=3, feet=15.25), _side(lot, "Without")
    words = difference_words(lot, one, two, "The matched sets cost")
    assert words.startswith("The matched sets cost 1 more board, 5.2 board feet more")
    back = difference_words(lot, two, one, "The present layout takes")
    assert back.startswith("The present layout takes 1 fewer board, 5.2 board feet less")


def test_the_same_wood_and_another_job_are_said_as_such(lot):
    one = _side(lot, "With")
    assert difference_words(lot, one, _side(lot, "Without"), "x") == "Both open the same wood."
    fewer = _side(lot, "Without", placed=6)
    assert difference_words(lot, one, fewer, "x") == (
        '"With" places 2 more than "Without": not the same job.'
    )


def test_the_price_of_the_boards_opened_stands_beside_the_figures(lot):
    opened = {placed.board for placed in lot.layout().layout.placements}
    price = sum({"P01": 31.0, "P02": 32.0, "P03": 33.0}[id] for id in opened)
    assert f"{price:.2f}" in present(lot).figures


def test_the_layout_without_matches_is_made_beside_the_lot(lot):
    assert has_matches(lot)
    before = lot.layout()
    layout = plan_unmatched(lot, 0.3)
    assert layout.summary.placed >= before.layout.summary.placed
    assert lot.layout() == before


def test_a_former_layout_can_be_gone_back_to_while_it_holds(lot):
    first = lot.layout().layout
    last = replace(first.placements[-1], x_mm=-500.0)
    turned = replace(first, placements=(*first.placements[:-1], last), seed=7)
    lot.save_layout(turned, lot.revision)
    (before,) = former(lot)
    assert before.layout == first
    go_back(lot, before.layout)
    assert lot.layout().layout == first and lot.layout().revision == lot.revision
    with pytest.raises(PlacementError, match="does not hold any more"):
        go_back(lot, turned)
