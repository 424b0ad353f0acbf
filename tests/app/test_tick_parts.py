"""Parts ticked off in the shop stay what they are, whatever the next layout does."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from scanner.app.cutting.tick_parts import boards_to_cut, spoiled_words, tick
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
from scanner.app.nodding.review_flaws import strike
from scanner.app.placing.spoiled_wood import without_spoiled
from scanner.app.take_outbox import take_outbox
from scanner.errors import LotError
from scanner.placement.stop import Work
from scanner.storage.lots import Action
from scanner.storage.ticks import Ticks, with_ticks
from tests import common
from tests.ui.made_results import write_results


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    fill_from_results(lot, write_results(tmp_path / "out"))
    yield lot
    lot.close()


def _placed(lot, part="rail", copy=1):
    placements = lot.layout().layout.placements
    return next(one for one in placements if (one.part, one.copy) == (part, copy))


def _tick(lot, to, part="rail", copy=1, at=None):
    placed = _placed(lot, part, copy)
    at = at or (placed.x_mm, placed.y_mm)
    return tick(lot, new_stamp(lot), (part, copy), placed.board, at, to)


def _is_current(lot):
    return lot.layout_revision() == lot.revision


def test_a_ticked_part_is_kept_in_the_lot_and_the_layout_stays_up_to_date(lot, tmp_path):
    for state in ("laid_out", "cut", "milled", "resting", "done"):
        assert _tick(lot, state).status == "done"
        assert _placed(lot).state == state and _is_current(lot)
    lot.close()
    again = open_lot(tmp_path / "bench.lot")
    assert _placed(again).state == "done"
    again.close()


def test_undo_takes_a_tick_back_and_the_layout_stays_up_to_date(lot):
    _tick(lot, "laid_out")
    _tick(lot, "cut")
    lot.undo(new_stamp(lot))
    assert _placed(lot).state == "laid_out" and _is_current(lot)
    lot.redo(new_stamp(lot))
    assert _placed(lot).state == "cut" and _is_current(lot)


def test_a_part_set_back_to_the_beginning_leaves_no_tick(lot):
    _tick(lot, "laid_out")
    _tick(lot, "planned")
    assert lot.ticks() == Ticks() and _placed(lot).state == "planned"


def test_a_spoiled_part_is_asked_for_again_and_its_wood_is_not_used(lot):
    gone = _placed(lot)
    _tick(lot, "spoiled")
    assert _placed(lot).state == "spoiled"
    assert not _is_current(lot)
    assert spoiled_words(lot) == (f"rail 1 on {gone.board}",)
    board = without_spoiled(lot.board("B01"), lot.ticks().spoiled)
    ground = box(gone.x_mm, gone.y_mm, gone.x_mm + gone.length_mm, gone.y_mm + gone.width_mm)
    assert all(board.flaws[-1].outlines[face].equals(ground) for face in (1, 2))
    # The same copy laid elsewhere is another piece of wood.
    saved = lot.layout().layout
    moved = replace(gone, x_mm=gone.x_mm + 900)
    elsewhere = with_ticks(replace(saved, placements=(moved,)), lot.ticks())
    assert elsewhere.placements[0].state == "planned"


def test_a_part_laid_out_elsewhere_is_to_be_laid_out_again_but_a_cut_one_stays(lot):
    _tick(lot, "laid_out")
    _tick(lot, "cut", copy=2)
    saved = lot.layout().layout
    moved = tuple(replace(one, x_mm=one.x_mm + 5, state="planned") for one in saved.placements)
    lot.save_layout(replace(saved, placements=moved), lot.revision)
    assert _placed(lot).state == "planned" and _placed(lot).x_mm == moved[0].x_mm
    assert _placed(lot, copy=2) == next(p for p in saved.placements if p.copy == 2)


def test_a_cut_seen_on_an_older_layout_still_counts(lot):
    seen = _placed(lot)
    saved = lot.layout().layout
    moved = tuple(replace(one, x_mm=one.x_mm + 5) for one in saved.placements)
    lot.save_layout(replace(saved, placements=moved), lot.revision)
    assert _tick(lot, "cut", at=(seen.x_mm, seen.y_mm)).status == "done"
    assert _placed(lot).x_mm == seen.x_mm


def test_a_part_that_never_lay_there_is_refused(lot):
    with pytest.raises(LotError, match="does not lie there"):
        _tick(lot, "cut", at=(1.0, 2.0))
    with pytest.raises(LotError, match="no state of a part"):
        _tick(lot, "eaten")


def test_another_action_makes_the_layout_old_as_ever(lot):
    _tick(lot, "cut")
    lot.record(Action(new_stamp(lot), "B01", "struck", lambda board: strike(board, "F5")))
    assert not _is_current(lot)
    _tick(lot, "milled")
    assert not _is_current(lot)


def test_a_locked_part_says_so_and_may_be_let_go(lot):
    _tick(lot, "lock")
    assert _placed(lot).locked and lot.ticks().staying == (_placed(lot),)
    _tick(lot, "unlock")
    assert lot.ticks() == Ticks()


def test_the_window_ticks_by_its_outbox(lot):
    rail = _placed(lot)
    at = [rail.x_mm, rail.y_mm]
    op = {
        "id": "window-a-001", "client": "window-a", "base": lot.revision, "verb": "tick",
        "board": rail.board, "part": "rail", "copy": 1.0, "ring": [at, at], "to": "cut",
    }  # fmt: skip
    (answer,) = take_outbox(lot, {"ops": [op]}, {})
    assert answer.status == "done" and lot.next_undo() == "rail 1: cut"
    (answer,) = take_outbox(lot, {"ops": [op | {"id": "window-a-002", "ring": None}]}, {})
    assert answer.status == "refused"


def test_parts_come_in_the_order_in_which_they_lie_from_end_a(lot):
    for board in boards_to_cut(lot):
        assert [part.x for part in board.parts] == sorted(part.x for part in board.parts)
    first = boards_to_cut(lot)[0].parts[0]
    assert first.label == "rail 1" and "from end A" in first.where


@pytest.mark.slow
def test_a_new_layout_keeps_what_is_cut_and_leaves_spoiled_wood_alone(lot):
    from scanner.app.placing.place_again import plan_lot

    plan_lot(lot, Work(60))
    _tick(lot, "cut", copy=1)
    cut = _placed(lot, copy=1)
    gone = _placed(lot, copy=2)
    _tick(lot, "spoiled", copy=2)
    plan_lot(lot, Work(60))
    assert _is_current(lot)
    assert _placed(lot, copy=1) == cut
    spoiled = box(gone.x_mm, gone.y_mm, gone.x_mm + gone.length_mm, gone.y_mm + gone.width_mm)
    for placed in lot.layout().layout.placements:
        ground = box(placed.x_mm, placed.y_mm,
                     placed.x_mm + placed.length_mm, placed.y_mm + placed.width_mm)  # fmt: skip
        assert placed.board != gone.board or ground.intersection(spoiled).area < 1.0


def test_boards_of_other_lots_are_not_marked():
    assert without_spoiled(common.walnut_board(), ()) == common.walnut_board()


def test_of_a_slice_the_sawn_face_shows_and_no_face_of_the_board(lot):
    saved = lot.layout().layout
    for layer, said in ((None, "face 1 shows"), (2, "the sawn face shows")):
        placed = replace(saved.placements[0], show_face=1, layer=layer)
        lot.save_layout(replace(saved, placements=(placed,)), lot.revision)
        (line,) = boards_to_cut(lot)[0].parts
        assert line.where.endswith(f" from end A, {said}")
