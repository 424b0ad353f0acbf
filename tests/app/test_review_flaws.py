"""What the user says of a board goes into the lot, once, whatever the browser sends."""

import pytest

from scanner.app.nodding.review_flaws import confirm, look_over, strike
from scanner.app.nodding.sayings import read_outbox
from scanner.app.take_outbox import take_outbox
from scanner.board.flaw import FlawState
from scanner.errors import BoardError
from scanner.storage.journal import Stamp
from scanner.storage.lots import open_lot
from tests import common

_CLIENT = "window-one"


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), Stamp("start-up-1", 0, "test"))
    yield lot
    lot.close()


def op(lot, number, verb, client=_CLIENT, base=None, **about):
    return {
        "id": f"{client}-{number:04d}",
        "client": client,
        "base": lot.revision if base is None else base,
        "verb": verb,
        "board": "B01",
        **about,
    }


def flaw(lot, name="F1"):
    return next(flaw for flaw in lot.board("B01").flaws if flaw.id == name)


def test_confirming_a_knot_keeps_what_was_said_of_its_soundness():
    board = common.ash_board()
    assert confirm(board, "F1").flaws[0].state is FlawState.CONFIRMED
    assert confirm(board, "F1").flaws[0].sound is None
    assert confirm(board, "F1", sound=True).flaws[0].sound is True
    assert confirm(board, "F2", sound=True).flaws[1].sound is None  # a check is never sound


def test_a_flaw_drawn_by_the_user_stays_the_user_s():
    board = common.walnut_board()
    assert confirm(board, "F4").flaws[3].state is FlawState.ADDED


def test_only_the_face_that_was_looked_at_is_looked_over():
    board = look_over(common.ash_board(), 1)
    assert (board.faces[1].looked_over, board.faces[2].looked_over) == (True, False)
    assert not board.is_looked_over
    assert not look_over(board, 1, looked_over=False).faces[1].looked_over


def test_what_is_not_there_is_refused():
    with pytest.raises(BoardError, match="no flaw F9"):
        strike(common.ash_board(), "F9")
    with pytest.raises(BoardError, match="no face 3"):
        look_over(common.ash_board(), 3)


def test_an_outbox_is_carried_out_in_order(lot):
    ops = [
        op(lot, 1, "keep", flaw="F1", sound=True),
        op(lot, 2, "strike", flaw="F2"),
        op(lot, 3, "look_over", face=1.0),
        op(lot, 4, "undo"),
    ]
    answers = take_outbox(lot, {"n": 1, "ops": ops}, {})
    assert [answer.status for answer in answers] == ["done"] * 4
    assert flaw(lot).state is FlawState.CONFIRMED and flaw(lot).sound is True
    assert flaw(lot, "F2").state is FlawState.STRUCK
    assert not lot.board("B01").faces[1].looked_over
    assert lot.next_redo() == "B01: face 1 looked over"


def test_an_outbox_sent_again_changes_nothing(lot):
    outbox = {"ops": [op(lot, 1, "strike", flaw="F1"), op(lot, 2, "undo")]}
    answered = {}
    take_outbox(lot, outbox, answered)
    revision = lot.revision
    take_outbox(lot, outbox, answered)
    take_outbox(lot, outbox, {})  # as after a restart of the program
    assert lot.revision == revision
    assert flaw(lot).state is FlawState.POSSIBLE


def test_an_undo_that_found_nothing_does_not_come_alive_later(lot):
    lot.undo(Stamp("take-back-1", lot.revision, "test"))
    outbox = {"ops": [op(lot, 1, "undo")]}
    answered = {}
    assert take_outbox(lot, outbox, answered)[0].status == "nothing"
    lot.redo(Stamp("redo-again-1", lot.revision, _CLIENT))
    take_outbox(lot, outbox, answered)
    assert len(lot.boards()) == 1


def test_a_late_tap_of_another_window_is_answered_stale(lot):
    base = lot.revision
    take_outbox(lot, {"ops": [op(lot, 1, "strike", flaw="F1")]}, {})
    late = op(lot, 1, "keep", client="window-two", base=base, flaw="F1")
    assert take_outbox(lot, {"ops": [late]}, {})[0].status == "stale"
    assert flaw(lot).state is FlawState.STRUCK


def test_a_tap_on_a_board_that_is_gone_is_answered(lot):
    gone = op(lot, 1, "keep", flaw="F1") | {"board": "B07"}
    answer = take_outbox(lot, {"ops": [gone]}, {})[0]
    assert answer.status == "refused" and "no board B07" in answer.said


@pytest.mark.parametrize(
    "outbox",
    [
        None,
        [],
        "keep",
        {"ops": None},
        {"ops": ["keep"]},
        {"ops": [{"id": "x", "client": _CLIENT, "base": 1, "verb": "keep"}]},
        {"ops": [{"id": "a" * 12, "client": _CLIENT, "base": 1, "verb": "drop table"}]},
        {"ops": [{"id": "a" * 12, "client": _CLIENT, "base": "1", "verb": "keep"}]},
        {"ops": [{"id": "a" * 12, "client": _CLIENT, "base": 1, "verb": "keep", "face": "1"}]},
        {"ops": [{"id": "a" * 12, "client": _CLIENT, "base": 1, "verb": "keep", "sound": 1}]},
    ],
)
def test_what_no_page_would_send_is_left_out(outbox):
    assert read_outbox(outbox) == ()
