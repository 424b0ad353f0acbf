"""What the user draws and mends goes into the board frame, with its U, and can be undone."""

import math
from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from scanner.app.lot.open_lot import new_stamp, open_lot
from scanner.app.nodding.sayings import read_kind, read_ring
from scanner.app.nodding.shape_flaws import (
    delete_flaw,
    divide_flaw,
    draw_flaw,
    find_flaw,
    join_flaws,
    rename_kind,
    reshape_flaw,
)
from scanner.app.take_outbox import take_outbox
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.errors import BoardError
from tests import common

_SQUARE = ((800.0, 40.0), (840.0, 40.0), (840.0, 60.0), (800.0, 60.0))


@pytest.fixture
def board():
    return common.ash_board()


def _drawn(board, face=1, ring=_SQUARE, kind=FlawKind.KNOT, close=0.5):
    return draw_flaw(board, "F9", kind, face, ring, close)


def test_a_drawn_flaw_lies_where_it_was_drawn(board):
    flaw = find_flaw(_drawn(board), "F9")
    assert flaw.state is FlawState.ADDED and flaw.score is None and flaw.sound is None
    assert flaw.outlines[1].equals(box(800, 40, 840, 60))


def test_on_face_2_it_goes_where_a_person_saw_it(board):
    # Turned over sideways: what lies near the top in sight lies near the bottom in the board frame.
    width = board.faces[1].outline.bounds[3]
    flaw = find_flaw(_drawn(board, face=2), "F9")
    assert flaw.outlines[2].bounds == pytest.approx((800, width - 60, 840, width - 40))
    turned = common.walnut_board()
    length = turned.faces[1].outline.bounds[2]
    flaw = find_flaw(_drawn(turned, face=2), "F9")
    assert flaw.outlines[2].bounds == pytest.approx((length - 840, 40, length - 800, 60))


def test_the_outline_is_as_sure_as_the_board_and_the_hand(board):
    near = find_flaw(_drawn(board, close=0.2), "F9").u_mm
    far = find_flaw(_drawn(board, close=2.0), "F9").u_mm
    assert near == pytest.approx(math.hypot(board.outline_u_mm, 1.0), abs=0.01)
    assert far == pytest.approx(math.hypot(board.outline_u_mm, 10.0), abs=0.01)


def test_a_taken_name_gives_the_next_free_one(board):
    twice = _drawn(_drawn(board))
    assert [flaw.id for flaw in twice.flaws[-2:]] == ["F9", "F6"]


def test_a_crossed_outline_gives_its_larger_half(board):
    bow_tie = ((800.0, 40.0), (900.0, 80.0), (900.0, 40.0), (800.0, 60.0))
    shape = find_flaw(_drawn(board, ring=bow_tie), "F9").outlines[1]
    assert shape.is_valid and shape.area > 0


@pytest.mark.parametrize(
    ("ring", "says"),
    [
        (((800.0, 40.0), (840.0, 40.0)), "has no area"),
        (((800.0, 40.0), (840.0, 40.0), (880.0, 40.0)), "has no area"),
        (((800.0, 900.0), (840.0, 900.0), (840.0, 950.0)), "beside the board"),
    ],
)
def test_what_is_no_shape_on_the_wood_is_refused(board, ring, says):
    with pytest.raises(BoardError, match=says):
        _drawn(board, ring=ring)


def test_a_crack_drawn_from_the_end_has_its_reach(board):
    begin = board.faces[1].outline.bounds[0]
    ring = ((begin, 80.0), (begin + 130.0, 84.0), (begin, 88.0))
    assert find_flaw(_drawn(board, ring=ring, kind=FlawKind.SPLIT), "F9").reach_mm == 130.0
    assert find_flaw(_drawn(board, kind=FlawKind.CHECK), "F9").reach_mm is None
    assert find_flaw(_drawn(board, ring=ring, kind=FlawKind.STAIN), "F9").reach_mm is None


def test_a_reshaped_flaw_is_confirmed_and_keeps_its_other_face(board):
    through = next(flaw for flaw in board.flaws if len(flaw.outlines) == 2)
    after = find_flaw(reshape_flaw(board, through.id, 1, _SQUARE, 0.5), through.id)
    assert after.state is FlawState.CONFIRMED and after.kind is through.kind
    assert after.outlines[1].bounds == (800, 40, 840, 60)
    assert after.outlines[2].equals(through.outlines[2])


def test_another_kind_forgets_that_the_knot_was_sound(board):
    knot = next(flaw for flaw in board.flaws if flaw.kind is FlawKind.KNOT)
    sound = board.with_flaws(
        tuple(replace(flaw, sound=True) if flaw is knot else flaw for flaw in board.flaws)
    )
    hole = find_flaw(rename_kind(sound, knot.id, FlawKind.HOLE), knot.id)
    assert (hole.kind, hole.sound, hole.state) == (FlawKind.HOLE, None, FlawState.CONFIRMED)


def test_a_line_right_through_divides_a_flaw(board):
    two = divide_flaw(_drawn(board), "F9", 1, ((815.0, 30.0), (815.0, 70.0)))
    large, small = find_flaw(two, "F9"), find_flaw(two, "F6")
    assert (large.outlines[1].area, small.outlines[1].area) == pytest.approx((500, 300))
    assert small.kind is FlawKind.KNOT and small.state is FlawState.ADDED


def test_a_line_beside_a_flaw_divides_nothing(board):
    for line in (((700.0, 30.0), (700.0, 70.0)), ((815.0, 50.0), (815.0, 50.0))):
        with pytest.raises(BoardError, match="does not divide"):
            divide_flaw(_drawn(board), "F9", 1, line)


def test_joined_flaws_have_an_outline_round_both(board):
    with_two = board.with_flaws(
        (*board.flaws,
         Flaw("F8", FlawKind.CHECK, {1: box(500, 20, 600, 24)}, score=0.7, u_mm=1.0),
         Flaw("F9", FlawKind.KNOT, {1: box(610, 20, 700, 24), 2: box(610, 20, 640, 24)}, u_mm=3.0))
    )  # fmt: skip
    one = join_flaws(with_two, "F8", "F9")
    joined = find_flaw(one, "F8")
    assert len(one.flaws) == len(with_two.flaws) - 1
    assert joined.kind is FlawKind.CHECK and joined.u_mm == 3.0
    assert joined.outlines[1].bounds == (500, 20, 700, 24) and set(joined.outlines) == {1, 2}
    with pytest.raises(BoardError, match="itself"):
        join_flaws(one, "F8", "F8")


def test_only_what_was_drawn_is_deleted(board):
    assert _drawn(board).flaws != board.flaws
    assert delete_flaw(_drawn(board), "F9").flaws == board.flaws
    with pytest.raises(BoardError, match="found, not drawn"):
        delete_flaw(board, "F1")


@pytest.mark.parametrize(
    "given",
    [None, "ring", [[1, 2]], [[1, 2], [3]], [[1, 2], ["x", 3]], [[1, float("nan")], [2, 3]],
     [[0, 0]] * 401],
)  # fmt: skip
def test_what_is_no_ring_is_not_read(given):
    assert read_ring(given) is None


def test_kinds_are_known_by_their_word():
    assert read_kind("bark_pocket") is FlawKind.BARK_POCKET
    assert read_kind("unicorn") is None and read_kind(None) is None


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    lot.save_board(common.ash_board(), new_stamp(lot))
    yield lot
    lot.close()


def _send(lot, number, verb, **about):
    op = {"id": f"window-a-{number:03d}", "client": "window-a", "base": lot.revision, "verb": verb,
          "board": "B01", "face": 1, **about}  # fmt: skip
    (answer,) = take_outbox(lot, {"ops": [op]}, {})
    return answer


def test_every_mending_is_one_action_that_undo_takes_back(lot):
    first = lot.board("B01")
    ring = [list(corner) for corner in _SQUARE]
    line = [[815.0, 30.0], [815.0, 70.0]]
    steps = [
        ("draw", {"flaw": "F9", "kind": "knot", "ring": ring, "mm_per_px": 0.3}),
        ("reshape", {"flaw": "F9", "ring": [[790.0, 40.0], *ring[1:]], "mm_per_px": 0.3}),
        ("rename", {"flaw": "F9", "kind": "hole"}),
        ("divide", {"flaw": "F9", "ring": line}),
        ("join", {"flaw": "F9", "other": "F6"}),
        ("delete", {"flaw": "F9"}),
    ]
    states = []
    for number, (verb, about) in enumerate(steps):
        states.append(lot.board("B01"))
        assert _send(lot, number, verb, **about).status == "done", verb
    assert lot.board("B01") == first
    for before in reversed(states):
        assert lot.undo(new_stamp(lot)).status == "done"
        assert lot.board("B01") == before


def test_a_drawing_that_cannot_be_done_is_refused_in_words_and_changes_nothing(lot):
    revision = lot.revision
    for number, (verb, about) in enumerate(
        [("draw", {"flaw": "F9", "kind": "unicorn", "ring": [[0, 0]] * 3}),
         ("draw", {"flaw": "F9", "kind": "knot", "ring": "no ring"}),
         ("reshape", {"flaw": "F1", "ring": [[0, 0], [1, 1]]}),
         ("divide", {"flaw": "F1"}), ("join", {"flaw": "F1", "other": "F77"}),
         ("delete", {"flaw": "F1"})]
    ):  # fmt: skip
        answer = _send(lot, number, verb, **about)
        assert answer.status == "refused" and ": " in answer.said
    assert lot.revision == revision


def test_who_says_nothing_of_how_close_he_was_is_believed_least(lot):
    _send(lot, 1, "draw", flaw="F9", kind="knot", ring=[list(corner) for corner in _SQUARE])
    assert find_flaw(lot.board("B01"), "F9").u_mm > 50


def test_a_hole_in_a_drawn_shape_is_filled(board):
    assert Polygon(find_flaw(_drawn(board), "F9").outlines[1]).interiors[:] == []
