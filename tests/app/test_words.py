"""What is said, in words, of ends that go, and of what a window did to a board."""

import json
from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.app.cutting.lasting_ends import (
    exchange_words,
    exchanges_of,
    losses_json,
    survival_lines,
    trim_steps,
)
from scanner.app.cutting.lasting_ends import loss_lines as end_lines
from scanner.app.cutting.milling import plan_lines
from scanner.app.cutting.tick_parts import spoiled_words, tick
from scanner.app.lot.open_lot import new_stamp, parts_of, set_parts
from scanner.app.nodding.flaw_state import flaw_words
from scanner.app.nodding.review_flaws import say_of_board
from scanner.app.nodding.sayings import Saying
from scanner.app.showing.page_state import label_of
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.files.boards_list import boards_csv, boards_of_text
from scanner.lot.doubtful_ends import Exchange
from scanner.lot.lasting_ends import EndLoss, Moved
from scanner.lot.milling_plan import milling_plan
from scanner.lot.totals import KIND_WORDS, flaw_title, flaws_text
from scanner.placement.shop import Shop
from scanner.sheets.words import part_title
from tests.app.placed_lot import PARTS, PLACED
from tests.common import plain_board
from tests.lot import milled
from tests.lot.laid import layout_of

FRONT, OTHER = PLACED[0], PLACED[3]
THERE = replace(FRONT, x_mm=500.0, show_face=2)


def _named(placed):
    return f"{placed.part} {placed.copy}"


@pytest.mark.parametrize(
    ("move", "said"),
    [
        (Moved(FRONT, THERE), "front 1 moves to P01, 500 mm from end A, face 2 shows"),
        (Moved(FRONT, replace(THERE, show_face=None)), "front 1 moves to P01, 500 mm from end A"),
        (Moved(FRONT, None), "front 1 is lost; beside what stays there is no other place"),
        (Moved(FRONT, None, set_moves=True), "front 1 is lost, and its set or panel must be"),
    ],
)
def test_what_becomes_of_a_part_whose_end_goes_is_said(move, said):
    losses = (EndLoss("P01", "A", 12.0, (move,)), EndLoss("P01", "B", 12.0, ()))
    head, line, tail = end_lines(losses, layout_of(*PLACED), (plain_board(),), Shop(), _named)
    assert head.startswith("P01 end A (looked at)") and tail.startswith("P01 end B")
    assert line.startswith(f"  12 mm more: {said}")


def test_a_part_is_called_alike_on_its_map_on_the_page_at_its_end_and_at_the_planer(empty_lot):
    # A lone part has no number, as on the wood: here the leg.
    lot, layout = empty_lot, layout_of(*PLACED[:4])
    lot.save_board(plain_board(), new_stamp(lot))
    set_parts(lot, PARTS.replace("leg,2", "leg,1"), "parts.csv")
    lot.save_layout(layout, lot.revision)
    parts = parts_of(lot)
    rows = {part.name: part for part in parts}
    for placed in layout.placements:
        name = part_title(placed, rows)
        assert name == label_of(placed, layout.placements, rows[placed.part])
    on_maps = {part_title(placed, rows) for placed in layout.placements}
    assert on_maps == {"front 1", "front 2", "front 3", "leg"}
    plan = milling_plan(layout, lot.boards(), parts, lot.shop())
    assert {piece.title for batch in plan.batches for piece in batch.pieces} == on_maps
    assert "; leg moves to P01" in " ".join(survival_lines(lot, "P01"))
    tick(lot, new_stamp(lot), ("leg", 1), "P01", (60.0, 90.0), "spoiled")
    assert lot.next_undo().startswith("leg: ") and spoiled_words(lot) == ("leg on P01",)


def test_losses_that_come_to_the_same_are_said_once():
    away, gone = (Moved(FRONT, THERE),), (Moved(FRONT, None),)
    losses = tuple(
        EndLoss("P01", "A", loss, moves)
        for loss, moves in ((12.0, away), (50.0, away), (300.0, gone), (900.0, away))
    )
    _, *lines = end_lines(losses, layout_of(*PLACED), (plain_board(),), Shop(), _named)
    assert [line.partition(" more: ")[0] for line in lines] == [
        "  12 mm to 50 mm",
        "  300 mm",
        "  900 mm",
    ]


def test_the_file_of_ends_holds_losses_and_exchanges():
    losses = (EndLoss("P01", "A", 12.0, (Moved(FRONT, THERE), Moved(OTHER, None))),)
    free = (Exchange(FRONT, THERE, "A"), Exchange(FRONT, THERE, "A", OTHER, PLACED[4]))
    record = json.loads(losses_json(losses, free, ["P01"]))
    assert record["not_looked_over"] == ["P01"]
    (end,) = record["ends"]
    assert end["survives"] is False
    assert [move["to"] for move in end["moves"]] == [{"board": "P01", "x": 500.0, "y": 5.0}, None]
    assert [one["with"] for one in record["exchanges"]] == [None, {"part": "leg", "copy": 1}]
    alone, both = (exchange_words(one, Shop(), _named) for one in free)
    assert alone.endswith("500 mm from end A.") and "with leg 1 on P01" in both


def test_without_a_layout_no_end_counts(empty_lot):
    assert (
        survival_lines(empty_lot, "P01") == trim_steps(empty_lot) == exchanges_of(empty_lot) == ()
    )


@pytest.mark.parametrize(
    ("verb", "more", "said"),
    [
        ("keep", {"flaw": "F1", "sound": True}, "P01: F1 kept as a flaw"),
        ("strike", {"flaw": "F1"}, "P01: F1 is no flaw"),
        ("reopen", {"flaw": "F1"}, "P01: F1 left open"),
        ("rename", {"flaw": "F1", "kind": FlawKind.HOLE}, "P01: F1 is of another kind"),
        ("delete", {"flaw": "F1"}, "P01: F1 deleted"),
        ("look_again", {"face": 2}, "P01: face 2 to look over again"),
        ("end_unseen", {"to": "B"}, "P01: end B to look at again"),
    ],
)
def test_undo_says_what_it_takes_back(placed_lot, verb, more, said):
    lot = placed_lot
    before = lot.board("P01")
    answer = say_of_board(lot, Saying(new_stamp(lot), verb, board="P01", **more))
    assert answer.status == "done" and answer.said == lot.next_undo() == said
    lot.undo(new_stamp(lot))
    assert lot.board("P01") == before


@pytest.mark.parametrize("kind", FlawKind)
def test_every_kind_of_flaw_has_words_wherever_people_read_it(kind):
    """On sheets, on the page, in a typed list of boards; never the name that files have."""
    flaw = Flaw("F1", kind, {1: box(900, 60, 940, 90)}, state=FlawState.ADDED, is_through=False)
    one, several = KIND_WORDS[kind]
    told = [one, several, flaw_title(flaw), flaws_text({kind: 1}), flaws_text({kind: 2})]
    told.append(flaw_words()[kind.value])
    assert all(word.strip() and "_" not in word for word in told)
    assert one != several
    board = replace(plain_board(), flaws=(flaw,))
    (again,) = boards_of_text(boards_csv((board,)), "boards.csv", "mm")
    assert [found.kind for found in again.flaws] == [kind]


@pytest.mark.parametrize(("count", "said"), [(1, "1 piece to 23 mm"), (2, "2 pieces to 23 mm")])
def test_a_batch_of_one_piece_is_told_as_one(count, said):
    plan = milling_plan(
        milled.layout_of(milled.PLACED[:count]), (milled.BOARD,), milled.PARTS, Shop()
    )
    assert plan_lines(plan, "mm")[0].startswith(said)
